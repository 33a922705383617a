"""Why does it charge so little? Ranked causes out of a few readings, and the one measurement to make next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial

import numpy as np
from scipy.special import logsumexp

from vanpower.checks.charging import USUAL
from vanpower.checks.common import NO_ARCS, OVER_VOLTAGE, cold_volts, touch_words
from vanpower.checks.glance import subject
from vanpower.checks.labels import odd_labels
from vanpower.checks.registry import refusal, shortfalls
from vanpower.components.batteries import held_float
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import OTHER_LITHIUM, Circuit, Rig
from vanpower.trials.faults.causes import CAUSES, FULL, NOTHING, OTHER, OVER
from vanpower.trials.faults.draws import first_points
from vanpower.trials.faults.expected import BATTERY_LEAST, Expected
from vanpower.trials.faults.meters import Meters, Shown
from vanpower.trials.faults.next_step import BY_NAME, YES_NO, NextStep, Side, next_step, spread
from vanpower.trials.faults.readings import STAGES_SHOWN, FaultReadings

Array = np.ndarray

SURE, MOST_SURE, TOLD = 0.80, 0.95, 0.02
# share from which one cause is called likely, above which no share is said, since the list and how often its causes
# come up are guesses, and below which a cause is left out; no source
BATTERY_NEAR = (0.005, 0.05)
# share and volts by which a held battery misses its setting: controller and meter
BATTERY_OVER = 0.02
# share above its setting at which a battery is told to be overcharged; meters err by 1 %
ANYWHERE = 1.3
# times a label's volts and amps up to which a cause that nobody thought of may show anything
BATTERY_GONE = 0.75
# share of its nominal volts below which a battery is flat or has shut itself off: 9 V of 12; no source
NEARLY, LEFT_OUT = 3.0, 0.003
# times the meters' error forgiven in the first look, and share of the likeliest cause from which one gets a second; no
# source
FIRST_READ = ("volts", "amps", "watts", "loaded", "restart", "light", "terminals")
# what costs nothing to keep of every cause
KEPT_CONDITIONS = 4
# lights, heats and battery volts of which what causes would show is kept, some 0.5 MB each
URGENT = 0.1
# chance from which charging is switched off before anything else; no source


@dataclass(frozen=True, repr=False)
class FaultFinding(Result):
    """Result of `find_fault`: causes with their odds, and the measurement that tells the first two apart.

    Parameters
    ----------
    rig : Rig
    circuit : int
        Which circuit, counted from 0.
    readings : FaultReadings
    shares : dict of str to float
        Chance of each cause, the likeliest first; they sum to 1.
    step : NextStep or None
        What to measure next; None where nothing is left to measure.

    Examples
    --------
    >>> from vanpower import example
    >>> found = find_fault(example("bookmobile"), FaultReadings(v_array=21.4, i_array=0.3, v_battery=14.4, light=800.0))
    >>> list(found.shares)[0], found.step.measurement.name
    ('battery full', 'loaded')
    """

    rig: Rig
    circuit: int
    readings: FaultReadings
    shares: dict[str, float]
    step: NextStep | None

    @property
    def first(self) -> str:
        """The likeliest cause."""
        return next(iter(self.shares))

    @property
    def second(self) -> str:
        """The next likely one on the list."""
        return next(name for name in self.shares if name not in (self.first, OTHER))

    @property
    def urgent(self) -> tuple[str, ...]:
        """Causes likely enough that charging stays off until they are ruled out."""
        return tuple(name for name, share in self.shares.items() if CAUSES[name].urgent and share >= URGENT)

    @property
    def sure(self) -> bool:
        """Whether the readings tell one cause from all others, with the guess of how often each comes; and without."""
        told = {name: share / (CAUSES[name].odds or CAUSES[NOTHING].odds) for name, share in self.shares.items()}
        alike = told[self.first] / sum(told.values())
        return min(self.shares[self.first], alike) >= SURE and self.first != OTHER

    def table(self, what: None = None) -> Table:
        """Causes, their chance, and what is then to be done."""
        columns = (
            Column(name="cause", left=True),
            Column(name="chance", width=12, say=_share),
            Column(name="then", left=True),
        )
        told = [(name, share, CAUSES[name].then) for name, share in self.shares.items() if share >= TOLD]
        return Table(columns, told)

    @property
    def verdict(self) -> Verdict:
        """What it most likely is, and what to measure next."""
        harmless = CAUSES[self.first].harmless and not self._checked
        answer: Answer = "close" if not self.sure else "yes" if harmless else "no"
        return Verdict(
            question=f"Is everything in order with {self.rig.name}, {self._named}?",
            answer=answer,
            margin=round(100 * self.shares[self.first], 0),
            unit="% chance of the first cause",
            sentence=" ".join(filter(None, (self._alarm, self._ranked, self._next, self._label, self._checked))),
            basis=self._basis,
            caution=self._caution,
        )

    @property
    def _circuit(self) -> Circuit:
        """The circuit in question."""
        return self.rig.circuits[self.circuit]

    @property
    def _named(self) -> str:
        """The circuit in a few words."""
        return f"{self._circuit.controller.name}, {self._circuit.wiring.name}"

    @property
    def _ranked(self) -> str:
        """The causes in a sentence."""
        first, second = CAUSES[self.first], CAUSES[self.second]
        if self.first == OTHER:
            return (
                f"No cause on the list fits these readings well; the nearest is {self.second}. Read again first: "
                "meter's range and leads, the decimal point, which circuit."
            )
        if self.sure:
            return f"Most likely {first.says} ({_share(self.shares[self.first])})."
        return (
            f"These readings cannot tell. First of {sum(s >= TOLD for s in self.shares.values())} causes: {first.says} "
            f"({_share(self.shares[self.first])}); next: {second.says} ({_share(self.shares[self.second])})."
        )

    @property
    def _next(self) -> str:
        """What to do where one cause is likely, and what to measure with what it would show."""
        if self.first == OTHER:
            return ""
        if self.sure and self.shares[self.second] < TOLD:
            return CAUSES[self.first].then
        done = f"{CAUSES[self.first].then} " * self.sure
        return f"{done}{self._measure}"

    @property
    def _measure(self) -> str:
        """What to measure, and what it would show."""
        if self.step is None:
            return "Nothing is left to measure from outside; let somebody look who does this for a living."
        a, b = self.step.shows
        one, other = self.step.between
        if not self.step.worth:
            return f"No measurement here tells {one} from {other}: do what is said for both, the safe one first."
        told = "To be surer" if self.sure else "Next"
        return f"{told}: {self.step.measurement.ask} {_cap(a)} would mean '{one}', {b} '{other}'."

    @property
    def _alarm(self) -> str:
        """What must be done before anything else, by the readings alone."""
        said, read, battery = [], self.readings, self.rig.battery
        ceiling = self._circuit.controller.v_pv_max
        if read.v_array is not None and read.v_array > ceiling:
            said.append(f"FIRST: {read.v_array:g} V is above the controller's {ceiling:g} V. {OVER_VOLTAGE} {NO_ARCS}")
        if read.v_array is not None and read.v_array < -1.0:
            said.append(f"FIRST: the panels' polarity is the wrong way round. {NO_ARCS}")
        if read.v_battery is not None and read.v_battery > (1 + BATTERY_OVER) * v_top(self.rig):
            said.append(
                f"FIRST: {read.v_battery:g} V is more than this {battery.chemistry} battery should see. Charging off "
                "by its setting, every charger; then find which one raises it."
            )
        if read.v_battery is not None and read.v_battery < BATTERY_GONE * battery.v_nominal:
            said.append(
                f"FIRST: {read.v_battery:g} V at the battery itself: it is flat or has shut itself off. Panels' "
                "isolator off, then the battery's own manual."
            )
        if self.urgent and not said:
            said.append(
                f"FIRST: charging off, since it may be {' or '.join(map(_a, self.urgent))}, which can burn or break."
            )
        return " ".join(said)

    @property
    def _checked(self) -> str:
        """What the checks say of the rig as it is described, whatever was read: no fault, and still wrong."""
        wrong = [*filter(None, [refusal(self.rig)]), *shortfalls(self.rig)]
        told = " ".join(f"{subject(verdict)}: {verdict.sentence}" for verdict in wrong)
        return f"Apart from any fault, the rig as described is wrong. {told}" if told else ""

    @property
    def _label(self) -> str:
        """What is odd about the labels of the circuit's panels, by which its readings are judged."""
        return odd_labels(self.rig.panels[panel] for panel in self._circuit.wiring.panels)

    @property
    def _basis(self) -> str:
        """What the ranking rests on."""
        read = self.readings
        light = (
            "nobody said how light it is"
            if read.light is None
            else f"light {read.light:.0f} W/m² within {read.light_within_pct:g} %"
        )
        heat = "cells as warm as the light makes them" if read.temp_cell is None else f"cells at {read.temp_cell:g} °C"
        return (
            f"the rig's model under each cause, {light}, {heat}, meters 1 % and a digit; how often each "
            "cause comes up is a guess without a source"
        )

    @property
    def _caution(self) -> str:
        """What can hurt here."""
        return " ".join(filter(None, (NO_ARCS, touch_words(cold_volts(self.rig, self._circuit)))))


def v_top(rig: Rig) -> float:
    """Most volts that the battery should see, by its setting or its chemistry's upper limit. [V]"""
    battery = rig.battery
    if battery.chemistry == OTHER_LITHIUM or battery.chemistry not in USUAL:
        return battery.v_absorption
    cells = battery.cells or max(battery.cells_possible)
    return max(battery.v_absorption, cells * USUAL[battery.chemistry].v_most)


def find_fault(rig: Rig, readings: FaultReadings, *, circuit: int = 0) -> FaultFinding:
    """Why a circuit charges less than somebody expects: causes with their odds, and what to measure next.

    Parameters
    ----------
    rig : Rig
    readings : FaultReadings
        What was read; two or three readings suffice for a first answer.
    circuit : int
        Which circuit, counted from 0.

    Returns
    -------
    FaultFinding

    Raises
    ------
    ValueError
        Without any reading, and for a circuit that is not there.

    Notes
    -----
    Bayes' rule over draws from the rig's own model (`Expected`): each cause's readings are drawn over light, heat,
    place and size of the fault, and weighed by how well they meet what was read, meters erring by 1 % and a digit. A
    cause that is not on the list may show anything, so that odds stay modest where nothing fits.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> find_fault(rig, FaultReadings(v_array=18.0, i_array=0.0, v_battery=13.1, light=5.0)).first
    'no sun'
    >>> half = FaultReadings(v_array=18.2, i_array=4.9, light=850.0, measured=(("string-volts", 0.0), ("fuse", 0.0)))
    >>> find_fault(rig, half).first
    'open line'
    """
    if not 0 <= circuit < len(rig.circuits):
        raise ValueError(f"there is no circuit {circuit}; circuits count from 0 to {len(rig.circuits) - 1} here.")
    if not readings.known - {"light"}:
        raise ValueError("FaultReadings has no reading; give at least volts, amps, watts or the stage shown.")
    expected = Expected(rig, circuit, readings)
    every, logs = _met(expected)
    total = _by_cause(every, logs, expected)
    shares = dict(sorted(total.items(), key=lambda pair: -pair[1]))
    found = FaultFinding(rig, circuit, readings, shares, None)
    first, second = (_side(name, every, logs) for name in [name for name in shares if name != OTHER][:2])
    step = next_step(
        first, second, readings.known, strings=len(expected.strings), v_highest=cold_volts(rig, rig.circuits[circuit]),
        stopped=bool(found.urgent),
    )  # fmt: skip
    return FaultFinding(rig, circuit, readings, shares, step)


@lru_cache(maxsize=KEPT_CONDITIONS)
def _every_cause(rig: Rig, circuit: int, around: FaultReadings) -> list[Shown]:
    """What each cause would show in these conditions; kept, since one measurement follows the other in them."""
    return [_thin(shown, rig, circuit, around) for shown in Expected(rig, circuit, around).all()]


def _thin(shown: Shown, rig: Rig, circuit: int, around: FaultReadings) -> Shown:
    """What is shown without the curves behind it, which are 18 MB of two panels and 66 MB of 24."""
    again = partial(_values_of, rig, circuit, around, shown.family)
    return replace(shown, values=shown.values.kept(FIRST_READ, again))


def _values_of(rig: Rig, circuit: int, around: FaultReadings, family: str) -> Meters:
    """All that one cause would show, worked out anew."""
    return Expected(rig, circuit, around).shown(family).values


def _met(expected: Expected) -> tuple[list[Shown], list[Array]]:
    """What each cause would show, the likely ones drawn anew near what was read, and how well each draw meets it."""
    points = first_points(expected.readings)
    every = list(_every_cause(expected.rig, expected.number, expected.readings.around))
    near = [_fit(shown, expected, shown.kept, widen=NEARLY) for shown in every]
    most = max(float(logsumexp(log)) for log in near)
    logs = []
    for k, (shown, log) in enumerate(zip(every, near, strict=True)):
        if logsumexp(log) > most + np.log(LEFT_OUT):
            anew = replace(expected, points=points.of(shown.rows).anew(log))
            every[k] = anew.shown(shown.family)
        logs.append(_fit(every[k], expected, shown.kept))
    return every, logs


def _fit(shown: Shown, expected: Expected, kept: float, *, widen: float = 1.0) -> Array:
    """How well each draw meets what was read: the log of its likelihood, odds beforehand included (draw,).

    `kept` is the part of all even draws in which the cause can be; `widen` times the meters' error is forgiven.
    """
    read = expected.readings
    log = np.log(CAUSES[shown.family].odds * shown.share / kept)
    light = shown.values["light"]
    for name in BY_NAME:
        value = read.of(name)
        if value is None or name == "battery":
            continue
        values = shown.values[name]
        if name in YES_NO:
            log = log + np.log(values if value >= 0.5 else 1.0 - values)
        else:
            error = widen * spread(values, name, light)
            log = log - 0.5 * ((value - values) / error) ** 2 - np.log(error * np.sqrt(2 * np.pi))
    if read.stage is not None:
        log = log + np.log(shown.stages[:, STAGES_SHOWN.index(read.stage)])
    return log + np.log(_battery(shown, expected))


def _battery(shown: Shown, expected: Expected) -> Array:
    """Chance of the battery's volts: near a setting where it is full, else anything from flat to absorption (draw,)."""
    volts, battery = expected.readings.v_battery, expected.rig.battery
    if volts is None:
        return np.ones(len(shown.share))
    low = BATTERY_LEAST * battery.v_nominal
    anything = 1.0 / (battery.v_absorption - low)
    if shown.family != FULL:
        return np.full(len(shown.share), anything)
    error = np.hypot(BATTERY_NEAR[0] * volts, BATTERY_NEAR[1])
    held = [battery.v_absorption, held_float(battery)]
    near = [np.exp(-0.5 * ((volts - v) / error) ** 2) / (error * np.sqrt(2 * np.pi)) for v in held]
    return np.full(len(shown.share), 0.98 * 0.5 * sum(near) + 0.02 * anything)


def _by_cause(every: Sequence[Shown], logs: Sequence[Array], expected: Expected) -> dict[str, float]:
    """Chance of each cause."""
    sums: dict[str, list[float]] = {OTHER: [_anything(expected)]}
    for shown, log in zip(every, logs, strict=True):
        for cause in dict.fromkeys(shown.causes):
            sums.setdefault(cause, []).append(float(logsumexp(log[shown.causes == cause])))
    whole = logsumexp([each for parts in sums.values() for each in parts])
    return {cause: float(np.exp(logsumexp(parts) - whole)) for cause, parts in sums.items()}


def _anything(expected: Expected) -> float:
    """Likelihood of a cause that may show anything."""
    read = expected.readings
    volts = ANYWHERE * max(sum(expected.panels[p].v_oc for p in string) for string in expected.strings)
    amps = ANYWHERE * sum(max(expected.panels[p].i_sc for p in string) for string in expected.strings)
    wide = {"V": volts, "A": amps, "W": volts * amps / 2, "W/m²": 1100.0}
    log = float(np.log(CAUSES[OTHER].odds))
    for name, one in BY_NAME.items():
        if read.of(name) is not None and name != "battery":
            log -= float(np.log(2.0 if name in YES_NO else wide[one.unit]))
    log -= float(np.log(len(STAGES_SHOWN))) * (read.stage is not None)
    battery = expected.rig.battery
    return log - float(np.log(battery.v_absorption - BATTERY_LEAST * battery.v_nominal)) * (read.v_battery is not None)


def _side(name: str, every: Sequence[Shown], logs: Sequence[Array]) -> Side:
    """The draws of one cause, weighed by what was read."""
    parts = [(s, log, s.causes == name) for s, log in zip(every, logs, strict=True) if (s.causes == name).any()]
    log = np.concatenate([log[rows] for _, log, rows in parts])
    values = Meters({key: partial(_together, key, parts) for key in parts[0][0].values})
    stages = np.concatenate([s.stages[rows] for s, _, rows in parts])
    return Side(name, values, stages, np.exp(log - logsumexp(log)))


def _together(key: str, parts: Sequence[tuple[Shown, Array, Array]]) -> Array:
    """A reading out of all draws of one cause."""
    return np.concatenate([shown.values[key][rows] for shown, _, rows in parts])


def _share(share: float) -> str:
    """A chance in words, never surer than the guesses behind it."""
    return (
        f"over {100 * MOST_SURE:.0f} %"
        if share > MOST_SURE
        else f"{100 * share:.0f} %"
        if share >= 0.01
        else "under 1 %"
    )


def _a(cause: str) -> str:
    """A cause with its article."""
    return "volts over the ceiling" if cause == OVER else f"a {cause}"


def _cap(words: str) -> str:
    """With a capital."""
    return words[:1].upper() + words[1:]
