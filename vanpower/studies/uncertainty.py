"""How sure a comparison is: what is not known is varied within its usual bounds, and the wirings are compared again.

A moment is taken as it is; some fifty moments from dull to bright stand for days, and the lead is corrected for what
they miss. Left out: the weather to come, and dirt and snow, which are a shade.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vanpower.model.conditions import Conditions
from vanpower.model.light import Progress, lit_panels, title_of
from vanpower.model.rig_in_light import rig_model
from vanpower.results.numbers import ALIKE
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Request, Rig
from vanpower.studies.comparison import compare

SAMPLES = 64
# how often the unknowns are drawn; a power of two, as Sobol's sequence wants
MIDDLE = (10.0, 90.0)
# percentiles that a range is told between
OFTEN = 0.8
# share of the cases from which a lead is called one; no source
VOLTS_STEP = 0.015
# [-] steps of the label volts
LIGHT_MOST, LIGHT_LEAST = 1800.0, 1.0
# [W/m²] as bright as a request may be, and from which a moment counts as lit
MOMENTS = 48
# lit moments that stand for many
WEAK = 0.2
# rank correlation below which no unknown is blamed; no source


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """A quantity that nobody measured: its bounds, its effect on a rig, and how to measure it.

    Parameters
    ----------
    name : str
    low, high : float
        Bounds; every value between is as likely. Unit and source are in `source`.
    source : str
        Unit, and where the bounds come from.
    settle : str
        What to measure.
    change : callable
        (rig, conditions, value) to (rig, conditions).

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.conditions import conditions_of
    >>> rig = example("bookmobile")
    >>> length = next(unknown for unknown in UNKNOWNS if unknown.name == "cable length")
    >>> longer, _ = length.change(rig, conditions_of(rig.panels, Snapshot(light=800, temp_cell=25)), length.high)
    >>> round(longer.circuits[0].cable.length_m, 2), length.settle
    (5.85, 'the run with a tape')
    """

    name: str
    low: float
    high: float
    source: str
    settle: str
    change: Callable[[Rig, Conditions, float], tuple[Rig, Conditions]]


def _lit(asked: Conditions, shares: np.ndarray) -> Conditions:
    """The same with each panel's light times its share."""
    pairs = zip(shares, asked.light, strict=True)
    return replace(asked, light=tuple(np.minimum(share * light, LIGHT_MOST) for share, light in pairs))


def _volts(rig: Rig, asked: Conditions, factor: float) -> tuple[Rig, Conditions]:
    """Label volts in steps, so that few labels have to be fitted."""
    step = round(factor / VOLTS_STEP) * VOLTS_STEP
    return rig.with_panels(v_oc=lambda p: p.v_oc * step, v_mp=lambda p: p.v_mp * step), asked


def _unlike(rig: Rig, asked: Conditions, spread: float) -> tuple[Rig, Conditions]:
    """Amps from half the spread below to half above, panel by panel, as if each had its own light."""
    steps = np.linspace(-0.5, 0.5, len(rig.panels)) if len(rig.panels) > 1 else np.zeros(1)
    return rig, _lit(asked, 1.0 + spread * steps)


def _heat(rig: Rig, asked: Conditions, more: float) -> tuple[Rig, Conditions]:
    return rig, replace(asked, temp_cell=np.clip(asked.temp_cell + more, -60.0, 110.0))


def _light(rig: Rig, asked: Conditions, factor: float) -> tuple[Rig, Conditions]:
    return rig, _lit(asked, np.full(len(rig.panels), factor))


def _diode(rig: Rig, asked: Conditions, volts: float) -> tuple[Rig, Conditions]:
    return rig.with_panels(v_bypass=volts), asked


def _leak(rig: Rig, asked: Conditions, siemens: float) -> tuple[Rig, Conditions]:
    """Every panel leaks; what the file says is kept."""
    leak = 1.0 / max(siemens, 1e-5)
    return rig.with_panels(r_leak=lambda p: p.r_leak or leak), asked


def _length(rig: Rig, asked: Conditions, factor: float) -> tuple[Rig, Conditions]:
    return rig.with_cable(length_m=lambda cable: min(cable.length_m * factor, 100.0)), asked


def _converter(rig: Rig, asked: Conditions, pct: float) -> tuple[Rig, Conditions]:
    """Loss for each unit of step-down, the same for every controller."""
    return rig.with_controller(loss_ratio_pct=pct), asked


_NO_SOURCE = "common practice, no source"
UNKNOWNS = (
    Unknown(
        name="label volts", low=0.97, high=1.03, change=_volts, source=f"share of the label; {_NO_SOURCE}",
        settle="open-circuit volts of each panel in the sun",
    ),
    Unknown(
        name="unlike panels", low=-0.05, high=0.05, change=_unlike, source=f"share, first to last panel; {_NO_SOURCE}",
        settle="short-circuit amps of each panel, one after the other in steady sun",
    ),
    Unknown(
        name="cell temperature", low=-8.0, high=8.0, change=_heat, source="K; models differ by so much, no source",
        settle="the back of a panel with a thermometer",
    ),
    Unknown(
        name="light", low=0.85, high=1.15, change=_light, source="share of the light; no source",
        settle="the light, with a reference cell or one panel's short-circuit amps",
    ),
    Unknown(
        name="bypass diodes", low=0.3, high=0.6, change=_diode, source="V, Schottky from hot to cold; from memory",
        settle="the volts across a shaded panel that carries current",
    ),
    Unknown(
        name="leaky panels", low=0.0, high=0.02, change=_leak, source="S, down to 50 ohm in each panel; no source",
        settle="open-circuit volts in dull light, panel by panel",
    ),
    Unknown(
        name="cable length", low=0.8, high=1.3, change=_length, source="share of the length; no source",
        settle="the run with a tape",
    ),
    Unknown(
        name="converter", low=0.2, high=1.0, change=_converter, source="% for each unit of step-down; from memory",
        settle="amps into the battery with both wirings, by turns, on the same day",
    ),
)  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class LeadUncertainty(Result):
    """Result of `how_sure`: the lead of one rig over another in many draws of what is not known.

    Parameters
    ----------
    leads : ndarray (sample,)
        Lead of the first, as a share of the better; negative where it is behind.
    moments : int
        Number of lit moments that stand for the request.
    blame : dict of str to float
        Rank correlation of each unknown with the lead.

    Examples
    --------
    >>> from vanpower import Snapshot
    >>> leads = np.array([-0.01, 0.05, 0.06, 0.08])
    >>> shares = {"light": 0.9, "converter": 0.1}
    >>> doubt = LeadUncertainty("2s", "2p", Snapshot(light=200, temp_cell=15), leads, 1, shares)
    >>> doubt.often, doubt.worst, doubt.verdict.answer
    (0.75, 'light', 'close')
    """

    first: str
    second: str
    request: Request
    leads: np.ndarray
    moments: int
    blame: Mapping[str, float]

    @property
    def range(self) -> tuple[float, float]:
        """The middle 80 of 100 leads. [%]"""
        low, high = np.percentile(100 * self.leads, MIDDLE)
        return float(low), float(high)

    @property
    def often(self) -> float:
        """In which share of the cases the first is ahead by anything at all."""
        return float((self.leads > 0).mean())

    @property
    def worst(self) -> str:
        """The unknown that moves the lead most; empty where none does."""
        name = max(self.blame, key=lambda each: abs(self.blame[each]))
        return name if abs(self.blame[name]) >= WEAK else ""

    def table(self, what: None = None) -> Table:
        """What is not known, the one that moves the lead most first."""
        columns = (
            Column(name="not known", left=True),
            Column(name="moves the lead", unit="(rank correlation)", digits=2),
        )
        return Table(columns, sorted(self.blame.items(), key=lambda item: -abs(item[1])))

    @property
    def verdict(self) -> Verdict:
        """Whether the lead is sure, and what to measure to settle it."""
        low, high = self.range
        cases = f"in {100 * self.often:.0f} of 100 cases"
        small = max(abs(low), abs(high)) < 100 * ALIKE
        if not self.leads.any():
            answer: Answer = "no"
            said = f"No difference: {self.first} and {self.second} deliver the same in every draw, or nothing in any."
        elif small:
            answer = "no"
            said = (
                f"No difference: {self.first} against {self.second} lies between {_signed(low)} and {_signed(high)} %."
            )
        elif self.often >= OFTEN:
            answer = "yes"
            said = f"{self.first} is ahead by {_span(low, high)}, {cases}."
        else:
            answer = "close"
            said = f"{self.first} is ahead only {cases}, from {_signed(low)} to {_signed(high)} %: not settled."
        return Verdict(
            question=f"How sure: is {self.first} ahead of {self.second}, {title_of(self.request)}?",
            answer=answer,
            margin=low,
            unit="%",
            sentence=said + self._settle(small),
            basis=f"{len(self.leads)} draws of {', '.join(self.blame)}, each within its usual bounds; 80 of 100 draws "
            f"lie in the range told{self._stand_in()}",
        )

    def _stand_in(self) -> str:
        """How many moments stand for days."""
        return f"; {self.moments} moments from dull to bright stand for the draws" if self.moments > 1 else ""

    def _settle(self, small: bool) -> str:
        """What matters most and how to find out."""
        if small or not self.worst:
            return ""
        settle = next(unknown.settle for unknown in UNKNOWNS if unknown.name == self.worst)
        return f" What moves it most is {self.worst}; to know better, measure {settle}."


def how_sure(
    rigs: Mapping[str, Rig],
    request: Request,
    *,
    samples: int = SAMPLES,
    seed: int = 1,
    unknowns: tuple[Unknown, ...] = UNKNOWNS,
    progress: Progress | None = None,
) -> LeadUncertainty:
    """How sure it is that the best of some rigs is ahead of the second, given what is not known exactly.

    Label values, temperature, light, cable length and the like are varied within their usual bounds, all together, and
    the rigs are compared again for each draw.

    Parameters
    ----------
    rigs : mapping of str to Rig
        By name, for example `rig.wirings()`; those that are not allowed are left out.
    request : Snapshot, Days or Parked
        A moment, a day, or many days.
    samples : int
        Number of draws, from Sobol's sequence; a power of two.
    seed : int
        The same seed gives the same draws.
    unknowns : tuple of Unknown
        What is varied, and within which bounds.
    progress : callable, optional
        Wraps the draws, as `tqdm.auto.tqdm` does.

    Returns
    -------
    LeadUncertainty
        The lead of the best over the second in each draw, as a share, and which unknown moves it most.

    Raises
    ------
    ValueError
        With fewer than two rigs that are allowed.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rig = example("bookmobile")
    >>> how_sure(rig.wirings(), Snapshot(light=200, temp_cell=15), samples=8).verdict.answer
    'no'
    """
    from scipy.stats import qmc

    plain = compare(rigs, request)
    allowed = [name for name in plain.ranking if plain.outcomes[name].refused is None]
    if len(allowed) < 2:
        raise ValueError(f"how_sure needs two rigs that are allowed; here is {len(allowed)}.")
    first, second = allowed[:2]
    pair = _in_few_moments([rigs[name] for name in (first, second)], request)
    low, high = [u.low for u in unknowns], [u.high for u in unknowns]
    drawn = qmc.scale(qmc.Sobol(len(unknowns), seed=seed).random(samples), low, high)
    draws = drawn if progress is None else progress(drawn)
    missed = _ahead(*(plain.outcomes[name].energy_wh for name in (first, second))) - _lead(pair, (), ())
    leads = np.array([_lead(pair, unknowns, values) for values in draws]) + missed
    lit = int((pair[0][1].brightest >= LIGHT_LEAST).sum())
    return LeadUncertainty(first, second, request, leads, lit, _blame(unknowns, drawn, leads))


def standing_in(asked: Conditions) -> Conditions:
    """A bounded number of lit moments evenly from dull to bright, in order, each behind the night before it.

    A controller wakes anew after a night, which takes more volts than staying awake.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> from vanpower.model.conditions import conditions_of
    >>> asked = conditions_of(example("bookmobile").panels, Days(weather="greensboro", day="all"))
    >>> few = standing_in(asked)
    >>> len(asked), int((few.brightest >= LIGHT_LEAST).sum())
    (8760, 48)
    """
    bright = asked.brightest
    lit = np.flatnonzero(bright >= LIGHT_LEAST)
    if not len(lit):
        return asked.moments(slice(0, 1))
    ranked = lit[np.argsort(bright[lit], kind="stable")]
    few = min(MOMENTS, len(lit))
    chosen = ranked[((np.arange(few) + 0.5) * len(lit) / few).astype(int)]
    night = np.maximum.accumulate(np.where(bright < LIGHT_LEAST, np.arange(len(bright)), -1))[chosen]
    return asked.moments(np.union1d(chosen, night[night >= 0]))


def _in_few_moments(rigs: Sequence[Rig], request: Request) -> list[tuple[Rig, Conditions]]:
    """Each rig with its light and heat, which rigs with the same roof share; the light `compare` worked out is kept."""
    return [(rig, standing_in(lit_panels(rig.panels, request, rig.roof).conditions)) for rig in rigs]


def _lead(pair: Sequence[tuple[Rig, Conditions]], unknowns: Sequence[Unknown], values: Sequence[float]) -> float:
    """How far the first is ahead in one draw, as a share of the better."""
    each = []
    for rig, asked in pair:
        for unknown, value in zip(unknowns, values, strict=True):
            rig, asked = unknown.change(rig, asked, float(value))
        each.append(float(rig_model(rig, asked).p_battery.sum()))
    return _ahead(*each)


def _ahead(first: float, second: float) -> float:
    """How far the first is ahead, as a share of the better."""
    best = max(first, second)
    return (first - second) / best if best > 0 else 0.0


def _blame(unknowns: tuple[Unknown, ...], drawn: np.ndarray, leads: np.ndarray) -> dict[str, float]:
    """Rank correlation of every unknown with the lead; none where the lead never moves."""
    from scipy.stats import spearmanr

    if np.ptp(leads) < 1e-9:
        return {unknown.name: 0.0 for unknown in unknowns}
    return {unknown.name: float(spearmanr(drawn[:, k], leads).statistic) for k, unknown in enumerate(unknowns)}


def _signed(value: float) -> str:
    """A share with its sign, to a tenth below three percent."""
    return f"{value:+.1f}" if abs(value) < 3 else f"{value:+.0f}"


def _span(low: float, high: float) -> str:
    """A range of leads in whole percent, told once where both ends round alike."""
    return f"{low:.0f} to {high:.0f} %" if round(low) != round(high) else f"about {high:.0f} %"
