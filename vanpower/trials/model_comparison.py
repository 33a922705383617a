"""The gain that the model expects of a trial's rigs at the same moments, and what would explain a difference.

Each suspect is one possible difference from the rig file; the model is computed again with it. Left out: two
suspects at once, and whatever the model does not know, such as a plug that is half in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from vanpower.model.conditions import even_light
from vanpower.model.rig_in_light import rig_model
from vanpower.results.numbers import gained
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Rig, Shade
from vanpower.trials.analysis import HEAT_OF_LIGHT, Trial

Array = np.ndarray

MOMENTS = 16
# rows of the trial the model is asked about, spread evenly; no source
TEMP_AIR = 20.0
# [°C] where no temperature was read; no source
LABEL, LENGTH, LIGHT_SCALE, TEMP_OFF, V_OFF, R_OLD = 0.03, 1.5, 0.05, 5.0, 0.3, 200.0
# what the band is made of: one panel's amps off its label, cable longer, light, K, battery V, ohm across one old panel;
# common practice, no source
R_LEAK, R_JOINT, CEILING, V_HIGH = (100.0, 50.0, 30.0, 15.0), (2.0, 4.0, 8.0), (0.95, 0.85, 0.7), (0.7, 1.4)
LIT = (0.8, 0.5, 0.2)
# strengths of the suspects: ohm across one panel, cable resistance times, share of the amps, V more at the battery,
# light on one group of cells; no source
SURE = 1.96
# widths of a normal distribution that hold 95 %
COLUMNS = "(off by: in widths of measured and expected together; under 2 it fits)"
# what stands in the table


@dataclass(frozen=True)
class Hypothesis:
    """One possible difference between the van and its rig file, and the gain the model expects with it.

    Parameters
    ----------
    name : str
    gain : float
        What the model expects with it, a share.
    off : float
        How far that is from what was measured, in standard deviations of both together.
    measure : str
        The next measurement that would confirm it or rule it out.

    Examples
    --------
    >>> leak = Hypothesis("a leaky panel (30 ohm)", gain=0.04, off=0.3, measure="open-circuit volts in dull light")
    >>> joint = Hypothesis("a joint that warms up", gain=0.01, off=1.7, measure="volts at both ends of the cable")
    >>> min((joint, leak), key=lambda suspect: suspect.off).measure
    'open-circuit volts in dull light'
    """

    name: str
    gain: float
    off: float
    measure: str


@dataclass(frozen=True, eq=False, repr=False)
class ModelComparison(Result):
    """Result of `compare_with_model`: the expected gain with its band, beside the measured one.

    Parameters
    ----------
    trial : Trial
    gain, low, high : float
        Expected, and the ends of its band, as shares.
    suspects : tuple of Hypothesis
        The one that fits best first.

    Examples
    --------
    >>> from vanpower import analyse_trial, read_log
    >>> from vanpower.files.resources import data_folder
    >>> trial = analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv"))
    >>> found = ModelComparison(trial, gain=0.0, low=-0.01, high=0.01, suspects=())
    >>> round(100 * trial.gain, 1), round(found.off, 1), found.agrees
    (2.5, 4.0, False)
    """

    trial: Trial
    gain: float
    low: float
    high: float
    suspects: tuple[Hypothesis, ...]

    @property
    def off(self) -> float:
        """Distance of measured and expected gain, in standard deviations of both together; 2 is much."""
        return _off(self.trial, self.gain, self.low, self.high)

    @property
    def agrees(self) -> bool:
        """Whether measured and expected lie within what both may be off by."""
        return self.off <= SURE

    @property
    def fitting(self) -> tuple[Hypothesis, ...]:
        """Suspects that would explain what was measured, and better than none."""
        return tuple(one for one in self.suspects if one.off <= SURE and one.off < self.off - 0.5)

    def table(self, what: None = None) -> Table:
        """What the model expects with each suspect, the one that fits best first."""
        columns = (
            Column(name="expected", unit="%", width=10, digits=1),
            Column(name="off by", width=6, digits=1),
            Column(name="if", left=True),
        )
        rows = [(100 * self.gain, self.off, "as in the rig file")]
        return Table(columns, rows + [(100 * s.gain, s.off, s.name) for s in self.suspects], note=COLUMNS, key=0)

    @property
    def verdict(self) -> Verdict:
        """Whether the model expects what was measured, and else what to measure next."""
        measured = self.trial.gain
        band = f"from {gained(self.low)} to {gained(self.high)}"
        both = f"Measured {gained(measured)}, expected {gained(self.gain)} ({band})"
        if self.agrees:
            answer: Answer = "yes"
            said = f"{both}: they agree."
        elif self.fitting:
            answer = "close"
            named = "; ".join(f"{one.name} (then {gained(one.gain)}): {one.measure}" for one in self.fitting[:3])
            said = f"{both}: they do not agree. It would fit with {named}"
        else:
            answer = "no"
            said = (
                f"{both}: they do not agree, and nothing the model knows explains it. Look for a plug half in, a "
                "panel that is not the one of the label, shade that came with a block, and read the wirings again."
            )
        return Verdict(
            question="Does the model expect this gain?",
            answer=answer,
            margin=round(SURE - self.off, 2),
            unit="widths",
            sentence=said,
            basis=f"labels within {100 * LABEL:.0f} %, cable, light, heat and battery volts a little off, "
            "watts read on either side of the controller",
            caution="Open-circuit volts can exceed 60 V in a string, and panels are live in daylight."
            if self.fitting
            else "",
        )


Change = Callable[[Rig], Rig]
Guess = tuple[str, Change, tuple[Shade, ...]]


def compare_with_model(trial: Trial, before: Rig, after: Rig) -> ModelComparison:
    """Whether the gain measured in a trial is what the model expects of the two rigs, and what could explain the rest.

    Parameters
    ----------
    trial : Trial
        From `analyse_trial`.
    before, after : Rig
        The rig in the first wiring and in the new one.

    Returns
    -------
    ModelComparison
        Expected gain and its band, as shares, and the explanations that fit best.

    Raises
    ------
    ValueError
        Where the trial has no light or no answer.

    Examples
    --------
    >>> from vanpower import analyse_trial, example, read_log
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> rig = example("bookmobile")
    >>> compare_with_model(analyse_trial(log), rig.wired("2p"), rig.wired("2s")).verdict.answer
    'close'
    """
    if trial.belief is None or not trial.log.has("light"):
        raise ValueError(
            f"{trial.log.name}: without light and a measured gain there is nothing to hold against the model."
        )
    light, temp = moments_of(trial)

    def gain(change: Change = _same, *, light: Array = light, temp: Array = temp, **how: Any) -> float:
        old, new = (watts(change(rig), light, temp, **how).sum() for rig in (before, after))
        return float(new / old - 1.0) if old > 0 else float("nan")

    usual = gain()
    bands = [
        gain(_with_amps(1 + LABEL)),
        gain(_with_amps(1 - LABEL)),
        gain(lambda rig: rig.with_panels(only=[0], r_leak=lambda panel: panel.r_leak or R_OLD)),
        gain(_with_cable(LENGTH)),
        gain(_with_cable(1 / LENGTH)),
        gain(light=light * (1 + LIGHT_SCALE)),
        gain(temp=temp + TEMP_OFF),
        gain(_with_battery(V_OFF)),
        gain(at_panels=True),
    ]
    moved = np.array(bands) - usual
    low, high = (usual + side * float(np.sqrt(np.sum(np.maximum(side * moved, 0.0) ** 2))) for side in (-1, 1))
    ranked = [
        Hypothesis(name, one, _off(trial, one, low - usual + one, high - usual + one), measure)
        for family, measure in _suspects(before, light, temp)
        for name, one in [
            min(((n, gain(c, shade=s)) for n, c, s in family), key=lambda pair: abs(pair[1] - trial.gain))
        ]
    ]
    return ModelComparison(trial, usual, low, high, tuple(sorted(ranked, key=lambda suspect: suspect.off)))


def moments_of(trial: Trial) -> tuple[Array, Array]:
    """Light and cell temperature of some of the trial's rows, spread evenly (moment,). [W/m², °C]"""
    used = trial.used
    some = np.unique(np.linspace(0, len(used) - 1, MOMENTS).round().astype(int))
    light = np.clip(used.light[some], 1.0, 1800.0)
    return light, used.temp[some] if used.has("temp") else TEMP_AIR + HEAT_OF_LIGHT * light / 1000.0


def watts(rig: Rig, light: Array, temp: Array, *, shade: tuple[Shade, ...] = (), at_panels: bool = False) -> Array:
    """Power of a rig by its labels at many moments, into the battery or at the panels' side (moment,). [W]"""
    sits = rig_model(rig, even_light(rig.panels, light, temp, shade)).by_label
    return np.sum([now.v_array * now.i_array if at_panels else now.p_battery for now in sits], axis=0)


def _off(trial: Trial, gain: float, low: float, high: float) -> float:
    """Distance of measured and expected, in widths of both together."""
    apart = trial.gain - gain
    band = max(high - gain if apart > 0 else gain - low, 1e-4)
    mine = 0.5 * (trial.high - trial.low)
    return float(abs(apart) / (np.hypot(band, mine) / SURE))


def _same(rig: Rig) -> Rig:
    """The rig as it is in its file."""
    return rig


def _with_amps(times: float) -> Change:
    """A first panel of so many times the amps of its label."""
    return lambda rig: rig.with_panels(only=[0], i_sc=lambda p: p.i_sc * times, i_mp=lambda p: p.i_mp * times)


def _with_cable(times: float) -> Change:
    """A cable of so many times the length."""
    return lambda rig: rig.with_cable(length_m=lambda cable: min(max(cable.length_m, 0.5) * times, 100.0))


def _with_battery(more: float) -> Change:
    """Other battery volts, as for 12 V."""
    return lambda rig: rig.with_battery(v_now=lambda b: min(b.v_now + more * b.v_nominal / 12.0, 1.3 * b.v_nominal))


def _suspects(rig: Rig, light: Array, temp: Array) -> list[tuple[list[Guess], str]]:
    """Every suspect in several strengths: name, changed rig, shade; and the measurement that tells."""
    volts, scale = rig.battery.v_now, rig.battery.v_nominal / 12.0
    most = float(watts(rig, light, temp).max()) / volts / len(rig.circuits)
    groups = [(share, (Shade(panel=0, substring=0, lit=share),)) for share in LIT]
    return [
        (
            [(f"a leaky panel ({r:g} ohm)", _leaking(r), ()) for r in R_LEAK],
            "measure each panel's open-circuit volts in dull light; the leaky one reads lower.",
        ),
        (
            [(f"cable and joints with {times:g} times the resistance", _with_cable(times), ()) for times in R_JOINT],
            "in full sun measure volts at the panels and at the controller; a joint that eats watts is warm.",
        ),
        (
            [(f"a ceiling at {share * most:.1f} A", _capped(share * most), ()) for share in CEILING],
            "watch the charge amps in full sun: do they stop while the light still rises?",
        ),
        (
            [(f"a battery at {volts + v * scale:.1f} V, so the window bites", _with_battery(v), ()) for v in V_HIGH],
            "note panel volts and battery volts together on a hot noon; are they within a volt or two?",
        ),
        (
            [(f"a group of cells in {100 * share:.0f} % light", _same, shade) for share, shade in groups],
            "measure each panel's short-circuit amps alone, one after the other in steady sun.",
        ),
        (
            [
                (f"that, {100 * share:.0f} %, and a tracker on the wrong hill", _climbing, shade)
                for share, shade in groups
            ],
            "note volts and watts, let the controller start anew, and read them again after a minute.",
        ),
    ]


def _leaking(r: float) -> Change:
    """So many ohms across the first panel."""
    return lambda rig: rig.with_panels(only=[0], r_leak=r)


def _capped(amps: float) -> Change:
    """A limit to the charge amps."""
    return lambda rig: rig.with_controller(i_charge_max=max(amps, 0.5))


def _climbing(rig: Rig) -> Rig:
    """The rig with trackers that stay on the first local maximum they find."""
    return rig.with_controller(tracker="climb")
