"""What to measure next: the one measurement that tells the first two causes apart best, worked out and not looked up.

For each measurement that can still be made, the draws of both causes are spread by the meter's error, and the
information that its outcome is expected to bring about which of the two it is decides (Jensen-Shannon divergence, bits;
Lin, IEEE Transactions on Information Theory 37 (1991) 145-151). Of nearly equal ones the easier and safer comes first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from vanpower.checks.common import V_EXTRA_LOW, touch_words
from vanpower.components.controllers import BY_SWITCH
from vanpower.trials.faults.causes import APART, ON_ROOF, ROOF_APART
from vanpower.trials.faults.meters import Meters
from vanpower.trials.faults.readings import STAGES_SHOWN

Array = np.ndarray

METER, DIGIT = 0.01, {"V": 0.1, "A": 0.05, "W": 1.0, "W/m²": 2.0}
# share, and last digit, by which a meter errs; common practice, no source
MODEL_OFF, DULL_OFF, DULL_BELOW = {"V": 0.015, "A": 0.035, "W": 0.04, "W/m²": 0.05}, 0.07, 250.0
# share by which label and model miss a sound panel: volts and amps as the measured panels of tests/test_commission.py,
# a light meter 5 %; amps and watts more below so much light [W/m²], see `components.low_light`
DARK_OFF, DARK_BELOW = 0.15, 15.0
# share by which volts in so little light [W/m²] miss the model, where leaks too small for any label decide; no source
GRID = 160
# steps of a measurement between its least and most value
AS_GOOD = 0.85
# share of the best measurement's information from which an easier one is taken; no source
WORTH_BITS = 0.08
# [bit] information below which a measurement tells nothing worth the way; no source
LICENSED = "Above 120 V DC a licensed person measures this."
YES_NO = ("fuse", "shade", "cold", "plugs", "cable", "polarity", "diodes")
# measurements that are answered with yes or no


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One thing that can be measured, looked at or tried.

    Parameters
    ----------
    name : str
        As it is typed.
    ask : str
        What to do, safe steps first.
    unit : str
        Empty for yes or no.
    live : bool
        Whether bare parts at the panels' volts are touched with a meter.
    several : bool
        Whether it needs more than one string.
    running : bool
        Whether it needs charging on.

    Examples
    --------
    >>> MEASUREMENTS[0].name
    'stage'
    """

    name: str
    ask: str
    unit: str = ""
    live: bool = False
    several: bool = False
    running: bool = False


AMPS_ALONE = (
    "One spare panel alone, never a string: meter range above its amps, leads on while its glass is covered, off only "
    "when it is covered again."
)
SHROUDED = "Meter on DC volts, leads in its volts sockets, probes shrouded, one terminal at a time."
# a meter left on amps is a dead short across a battery; common practice, no source
MEASUREMENTS = (
    Measurement(name="stage", ask="Read what the controller shows: off, asleep, bulk, absorption, float, cold, fault."),
    Measurement(
        name="shade",
        ask=f"{ON_ROOF} Look along the sun's way: is anything on the glass, shade or dirt?",
    ),
    Measurement(name="volts", ask="Read the panels' volts on the controller, or in its app.", unit="V", running=True),
    Measurement(name="watts", ask="Read the panels' watts on the controller, or in its app.", unit="W", running=True),
    Measurement(
        name="amps",
        ask="Read the panels' amps: on the controller, or with a DC clamp around one core.",
        unit="A",
        running=True,
    ),
    Measurement(name="battery", ask=f"{SHROUDED} Read volts at the battery's own terminals.", unit="V"),
    Measurement(
        name="loaded",
        ask="Switch on a large load for a minute, and read the panels' amps then.",
        unit="A",
        running=True,
    ),
    Measurement(name="cold", ask="Read the battery's temperature: is it below its cold cut-off?"),
    Measurement(
        name="light",
        ask=f"Measure the light in the panels' plane with a light meter. Or: {AMPS_ALONE} Its short-circuit amps over "
        "its label's, times 1000.",
        unit="W/m²",
    ),
    Measurement(
        name="restart",
        ask=f"Restart the controller and read the panels' volts a minute later. {BY_SWITCH}",
        unit="V",
        running=True,
    ),
    Measurement(
        name="terminals",
        ask=f"{SHROUDED} Read volts at the controller's battery terminals, nothing unplugged.",
        unit="V",
    ),
    Measurement(
        name="string-amps",
        ask="With a DC clamp around one core of each string, nothing unplugged: the weakest string's amps.",
        unit="A",
        several=True,
        running=True,
    ),
    Measurement(
        name="open",
        ask="Charging off by its setting, isolator off, amps read zero: volts at the isolator's roof side.",
        unit="V",
        live=True,
    ),
    Measurement(
        name="dusk",
        ask="In even dull light, some 50 W/m²: charging off, isolator off, amps read zero, volts at the isolator's "
        "roof side.",
        unit="V",
        live=True,
    ),
    Measurement(
        name="plugs",
        ask=f"{ROOF_APART} Then look into both halves of every plug and joint: is one browned, melted, loose or wet?",
    ),
    Measurement(
        name="cable",
        ask=f"{ROOF_APART} Then the roof cable with both ends free: ohms from plus to minus, are they next to none?",
    ),
    Measurement(
        name="fuse",
        ask=f"{APART} Then each fuse of the panels' line out, and its ohms: is one open?",
    ),
    Measurement(
        name="polarity",
        ask=f"{ROOF_APART} Then uncover, and read each panel alone, red probe on the lead that went towards plus: "
        "is one below zero?",
        live=True,
    ),
    Measurement(
        name="diodes",
        ask=f"{ROOF_APART} The glass stays covered, no light on it. Each panel alone, meter on its diode range, red on "
        "the panel's minus and black on its plus: does one show no conduction?",
    ),
    Measurement(
        name="string-volts",
        ask=f"{ROOF_APART} Then uncover, and read each string alone at its ends: the lowest, with its sign.",
        unit="V",
        live=True,
        several=True,
    ),
    Measurement(
        name="panel-volts",
        ask=f"{ROOF_APART} Then uncover, and read each panel alone: the one farthest below its label.",
        unit="V",
        live=True,
    ),
)
# from the easiest to the one that takes most apart
BY_NAME = {one.name: one for one in MEASUREMENTS}


@dataclass(frozen=True, eq=False)
class Side:
    """One of two causes: its draws that the readings left over.

    Parameters
    ----------
    says : str
        Its name.
    values : Meters
    stages : ndarray (draw, stage)
    weight : ndarray (draw,)
        Sum 1.
    """

    says: str
    values: Meters
    stages: Array
    weight: Array

    def usual(self, name: str) -> float:
        """The weighted median of a measurement."""
        values = self.values[name]
        order = np.argsort(values)
        return float(values[order][np.searchsorted(np.cumsum(self.weight[order]), 0.5).clip(0, len(order) - 1)])


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """The next measurement, what it would show under either cause, and how much it is expected to tell.

    Parameters
    ----------
    measurement : Measurement
    bits : float
        Of the one bit that it takes to tell two causes of even odds apart.
    shows, between : tuple of str
        What it shows under the first and the second cause, and their names.

    Examples
    --------
    >>> two = ("shade", "lost group")
    >>> step = NextStep(measurement=BY_NAME["open"], bits=0.9, shows=("about 42 V", "about 21 V"), between=two)
    >>> step.worth
    True
    """

    measurement: Measurement
    bits: float
    shows: tuple[str, str]
    between: tuple[str, str]

    @property
    def worth(self) -> bool:
        """Whether it tells enough for the way."""
        return self.bits >= WORTH_BITS and self.shows[0] != self.shows[1]


def spread(values: Array, name: str, light: Array) -> Array:
    """Standard error of a reading of such a value: meter, last digit, label and model (draw,).

    Examples
    --------
    >>> bright = np.array([900.0])
    >>> float(spread(np.array([20.0]), "volts", bright)[0].round(2)), float(spread(np.array([0.0]), "amps", bright)[0])
    (0.37, 0.05)
    """
    unit = BY_NAME[name].unit
    dull = np.where(light < DULL_BELOW, DULL_OFF, 0.0) * (unit in ("A", "W"))
    dull = dull + np.where(light < DARK_BELOW, DARK_OFF, 0.0) * (unit == "V")
    shares = METER**2 + MODEL_OFF[unit] ** 2 + dull**2
    return np.sqrt(shares * values**2 + DIGIT[unit] ** 2)


def next_step(
    first: Side, second: Side, known: frozenset[str], *, strings: int, v_highest: float, stopped: bool = False
) -> NextStep | None:
    """The measurement that tells two causes apart best, of those not made yet; None where all are made.

    Parameters
    ----------
    first, second : Side
    known : frozenset of str
        Names of what was read.
    strings : int
        Strings of the circuit.
    v_highest : float
        Most volts of a string. [V]
    stopped : bool
        Whether charging has to stay off.
    """
    there = [
        one for one in MEASUREMENTS
        if one.name not in known and (strings > 1 or not one.several) and not (stopped and one.running)
    ]  # fmt: skip
    told = [(one, _bits(one, first, second)) for one in there if one.name == "stage" or one.name in first.values]
    if not told:
        return None
    most = max(bits for _, bits in told)
    best, bits = next(pair for pair in told if pair[1] >= AS_GOOD * most)
    shows = _shows(best, first), _shows(best, second)
    return NextStep(measurement=careful(best, v_highest), bits=bits, shows=shows, between=(first.says, second.says))


def careful(one: Measurement, v_highest: float) -> Measurement:
    """The same, with what so many volts ask for before it where bare parts are touched.

    Examples
    --------
    >>> careful(BY_NAME["open"], 25.0).ask.split(".")[0]
    'Meter on DC volts and made for more than 25 V DC, leads in its volts sockets'
    """
    if not one.live:
        return one
    meter = f"Meter on DC volts and made for more than {np.ceil(v_highest):.0f} V DC, leads in its volts sockets."
    licensed = LICENSED if v_highest > V_EXTRA_LOW else ""
    return replace(one, ask=" ".join(filter(None, (touch_words(v_highest), licensed, meter, one.ask))))


def _bits(one: Measurement, first: Side, second: Side) -> float:
    """Information about which of the two it is. [bit]"""
    p, q = _chances(one, first, second)
    middle = 0.5 * (p + q)
    return 0.5 * (_surprise(p, middle) + _surprise(q, middle))


def _surprise(p: Array, middle: Array) -> float:
    """Relative entropy. [bit]"""
    there = (p > 0) & (middle > 0)
    return float((p[there] * np.log2(p[there] / middle[there])).sum())


def _chances(one: Measurement, first: Side, second: Side) -> tuple[Array, Array]:
    """Chances of each outcome under both."""
    if one.name == "stage":
        return first.weight @ first.stages, second.weight @ second.stages
    if one.name in YES_NO:
        chances = [float(side.weight @ side.values[one.name]) for side in (first, second)]
        return np.array([chances[0], 1 - chances[0]]), np.array([chances[1], 1 - chances[1]])
    every = np.concatenate([side.values[one.name] for side in (first, second)])
    edges = np.linspace(every.min() - 1.0, every.max() + 1.0, GRID + 1)
    return _spread_over(edges, one, first), _spread_over(edges, one, second)


def _spread_over(edges: Array, one: Measurement, side: Side) -> Array:
    """Chances of a reading between each two edges."""
    values = side.values[one.name]
    error = np.maximum(spread(values, one.name, side.values["light"]), 0.5 * (edges[1] - edges[0]))
    reach = ndtr((edges[None] - values[:, None]) / error[:, None])
    return side.weight @ np.diff(reach, axis=1)


def _shows(one: Measurement, side: Side) -> str:
    """What it shows under one cause, in words."""
    if one.name == "stage":
        return STAGES_SHOWN[int((side.weight @ side.stages).argmax())]
    usual = side.usual(one.name)
    if one.name in YES_NO:
        return "yes" if usual >= 0.5 else "no"
    digits = {"V": 1, "A": 1}.get(one.unit, 0)
    said = round(usual, digits) + 0.0
    backwards = " backwards" * (one.unit == "A" and said < 0)
    return f"{'about ' * bool(said)}{abs(said) if backwards else said:.{digits}f} {one.unit}{backwards}"
