"""Rigs side by side over a moment or real days: what each delivers, and which loss makes the difference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from vanpower.checks.caveats import caveats, dull_range, dull_told, dull_words, short_of, short_word, to_mend
from vanpower.checks.coldest import planned_for
from vanpower.checks.common import DO_NOT_TOUCH, NOT_WET
from vanpower.checks.glance import reason, subject
from vanpower.checks.plugs_and_isolator import touch_cautions
from vanpower.checks.registry import before_joined, refusal
from vanpower.checks.volts import cold_ceiling
from vanpower.components.controllers import ASLEEP, DARK, HELD, Operation, margins, weakened
from vanpower.components.low_light import dull_band, is_dull, is_read
from vanpower.model.light import Progress, lit_panels, title_of
from vanpower.model.losses import AVOIDABLE, LOSSES
from vanpower.model.rig_in_light import RigModel
from vanpower.results.numbers import (
    ALIKE,
    NEXT_TO_NOTHING,
    TOO_LITTLE,
    amounts_in,
    difference,
    joined,
    known,
    known_in,
    span_in,
)
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import WORST_FIRST, Answer, Verdict
from vanpower.rig import Circuit, Panel, Parked, Request, Rig, Snapshot
from vanpower.simulation.frost import frost_uncounted

Array = np.ndarray

WASTE, SHOWN = 0.05, 0.05
# share of the panels' power from which a loss is told; [W or Wh] above which a loss stands in a table; no source
MOST_OUT_TOLD, MOST_ALIKE_TOLD = 2, 3
# wirings out for one reason, and alike, that each tell their numbers; no source
DOES_NOT = " does not work for this van"
# said of a wiring that is allowed and falls short of something
POORER = "its panels give less in this light and heat"
# said where rigs differ before anything is lost on the way


@dataclass(frozen=True, eq=False)
class Outcome:
    """What one rig of a comparison delivered.

    Parameters
    ----------
    model : RigModel
        The rig in its light, computed.
    ceiling : Verdict
        The cold ceiling of the worst circuit.
    refused : Verdict, optional
        What forbids the rig: maximum input voltage passed at the coldest dawn, or too much short-circuit current.
    p_awake : float
        Into the battery at a single moment in which controllers sleep, had they been awake before it; else 0. [W]

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> sunny = outcome(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> round(sunny.energy_wh, 1), round(sunny.lost_wh("cable"), 1), sunny.held
    (207.5, 6.4, 'at the best point of the array')
    """

    model: RigModel
    ceiling: Verdict
    refused: Verdict | None
    p_awake: float = 0.0

    @property
    def rig(self) -> Rig:
        """The rig."""
        return self.model.rig

    @property
    def operations(self) -> tuple[Operation, ...]:
        """Operating points of each circuit's controller, with panels as the middle of measured ones."""
        return self.model.operations

    @property
    def by_label(self) -> tuple[Operation, ...]:
        """Operating points of each circuit's controller, with panels as their labels alone say."""
        return self.model.by_label

    @property
    def p_panels(self) -> Array:
        """Maximum power of each panel by itself, without shade, summed (moment,). [W]"""
        return self.model.p_panels

    @property
    def lost(self) -> Mapping[str, Array]:
        """Power lost, by the names in `LOSSES`, each (moment,); with `p_battery` they add up to `p_panels`. [W]"""
        return self.model.lost

    @property
    def step_h(self) -> float:
        """Length of each moment. [h]"""
        return self.model.step_h

    @property
    def brightest(self) -> Array:
        """Irradiance on the best lit cell (moment,). [W/m²]"""
        return self.model.brightest

    @property
    def p_battery(self) -> Array:
        """Power into the battery, all circuits (moment,). [W]"""
        return self.model.p_battery

    @property
    def energy_wh(self) -> float:
        """Energy into the battery over all moments; for a snapshot, as if it lasted an hour. [Wh]"""
        return float(self.p_battery.sum() * self.step_h)

    @property
    def dull(self) -> bool:
        """Whether most of the energy comes in light so dull that labels leave much open."""
        return is_dull(self.brightest)

    def band(self) -> tuple[Array, Array]:
        """Least and most power into the battery, as far as the panels' labels leave it open, each (moment,). [W]"""
        ends = [dull_band(_wired(self.rig, circuit), self.brightest) for circuit in self.rig.circuits]
        low, high = (
            np.sum([weakened(o, end[side]).p_battery for o, end in zip(self.by_label, ends, strict=True)], axis=0)
            for side in range(2)
        )
        return low, high

    @property
    def label_wh(self) -> float:
        """Energy that labels alone promise; the same as `energy_wh` in full sun and for calibrated panels. [Wh]"""
        return float(sum(operation.p_battery.sum() for operation in self.by_label) * self.step_h)

    @property
    def band_wh(self) -> tuple[float, float]:
        """Least and most energy into the battery over all moments, as far as labels leave it open. [Wh]"""
        low, high = self.band()
        return float(low.sum() * self.step_h), float(high.sum() * self.step_h)

    def lost_wh(self, name: str) -> float:
        """Energy lost over all moments by one name of `LOSSES`. [Wh]"""
        return float(np.sum(self.lost.get(name, 0.0)) * self.step_h)

    @property
    def held(self) -> str:
        """What limited the controller for most of the energy, or of the time where there is none; in words."""
        codes = np.concatenate([o.held_by for o in self.operations])
        weight = np.concatenate([o.p_battery + o.p_best for o in self.operations]) + 1e-9
        return HELD[int(np.argmax(np.bincount(codes, weight, minlength=len(HELD))))]


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Result):
    """Result of `compare`: several rigs in the same light.

    Parameters
    ----------
    outcomes : dict of str to Outcome
        In the order they were given.
    request : Snapshot, Days or Parked
    title : str
        The light in a few words.
    notes : tuple of str
        Assumptions the answer rests on, such as coefficients that were not on the label.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> hot = compare(example("bookmobile").wirings(), Snapshot(light=900, temp_cell=74))
    >>> hot.ranking, round(100 * hot.share("2p")), hot.decides("2p", against="2s")
    (['2s', '2p'], 98, 'cable')
    """

    outcomes: Mapping[str, Outcome]
    request: Request
    title: str
    notes: tuple[str, ...]

    @property
    def dull(self) -> bool:
        """Whether most of the energy comes in light so dull that labels leave much open."""
        return any(outcome.dull for outcome in self.outcomes.values())

    @property
    def unit(self) -> str:
        """Unit of what the rigs deliver: "W" for a moment, "Wh" for days."""
        moment = isinstance(self.request, Snapshot) or (
            isinstance(self.request, Parked) and self.request.hour is not None
        )
        return "W" if moment else "Wh"

    @property
    def ranking(self) -> list[str]:
        """Names, best first; a rig that would damage a controller or a panel comes last, whatever it delivers."""
        return sorted(self.outcomes, key=lambda name: (not self._allowed(name), -self.outcomes[name].energy_wh))

    def share(self, name: str) -> float:
        """What a rig delivers, as a share of the best one that is allowed."""
        best = self.outcomes[self.ranking[0]].energy_wh
        return self.outcomes[name].energy_wh / best if best > 0 else 1.0

    def decides(self, name: str, against: str) -> str:
        """The name in `LOSSES` of the loss by which one rig exceeds another most."""
        more = {loss: self.outcomes[name].lost_wh(loss) - self.outcomes[against].lost_wh(loss) for loss in LOSSES}
        return max(more, key=lambda loss: more[loss])

    def table(self, what: None = None) -> Table:
        """One line for each rig, best first: what it delivers, its share, losses, what limited it, its cold ceiling."""
        some = self.outcomes[self.ranking[0]].energy_wh > 0
        columns = (
            Column(name="wiring", left=True),
            Column(name="", unit=self.unit, width=7),
            # a digit more than its head has room for
            Column(name="share", unit="%", head="share", width=5, say=_share_words),
            Column(name="allowed", left=True),
            Column(
                name="lost", parts=tuple(self.lossy), head=f"lost on the way ({self.unit})", left=True, say=_lost_words
            ),
            Column(name="cold ceiling", left=True, aside=True),
            Column(name="controller", left=True, aside=True),
        )
        return Table(columns, [self._line(name, some) for name in self.ranking])

    def _line(self, name: str, some: bool) -> tuple[Any, ...]:
        """What stands in the table of one rig."""
        outcome = self.outcomes[name]
        lost = {loss: outcome.lost_wh(loss) for loss in self.lossy}
        share = 100 * self.share(name) if some else None
        allowed, ceiling = _allowed_words(outcome), outcome.ceiling.answer
        return name, outcome.energy_wh, share, allowed, lost, ceiling, outcome.held

    @property
    def lossy(self) -> list[str]:
        """Losses that show in at least one rig."""
        return [loss for loss in LOSSES if any(o.lost_wh(loss) > SHOWN for o in self.outcomes.values())]

    @property
    def verdict(self) -> Verdict:
        """Who wins, by how much and why; or that it makes no difference."""
        best, *others = [name for name in self.ranking if self._allowed(name)] or [""]
        out = [name for name in self.ranking if not self._allowed(name)]
        alike = [name for name in others if self.share(name) >= 1 - ALIKE]
        behind = [name for name in others if name not in alike]
        parts = [self._opening(best, alike, _no_difference(behind, out))]
        parts += self._doubt(best, alike, behind) if best else []
        parts += [self._behind(name) for name in behind]
        parts += self._unfit(best, others, begun=DOES_NOT in parts[0])
        parts += [f"{name} is close to the ceiling: {reason(self.outcomes[name].ceiling)}" for name in self._thin]
        parts += self._out(out)
        margin, unit = self._lead(others, behind, alone=not out)
        if not best and (refused := self.outcomes[out[0]].refused):
            margin, unit = refused.margin, refused.unit
        return Verdict(
            question=f"{self._question(best)}, {self.title}?",
            answer=self._answer(best, alike),
            margin=margin,
            unit=unit,
            sentence=" ".join(parts),
            basis="; ".join(self.rests(best)),
            caution=self._caution(),
        )

    def to_mend(self) -> list[str]:
        """What burns, lacks a fuse or falls short in those rigs that are allowed and deliver something."""
        rigs = {name: self.outcomes[name].rig for name in self.ranking if self._allowed(name)}
        return [said for name, rig in rigs.items() if self.outcomes[name].energy_wh > 0 for said in to_mend(name, rig)]

    def rests(self, best: str) -> tuple[str, ...]:
        """What the comparison rests on, with what labels leave open of one wiring in dull light."""
        return (f"battery held at {self._v_battery} V", *self.notes, *self._open(best))

    def _open(self, best: str) -> list[str]:
        """What the labels leave open in dull light, for the best wiring."""
        if not best or not self.dull or self.outcomes[best].energy_wh < TOO_LITTLE:
            return []
        outcome = self.outcomes[best]
        return [dull_words(best, outcome.rig, outcome.band_wh, self.unit)]

    def _answer(self, best: str, alike: list[str]) -> Answer:
        """No where all wirings are alike, or none is allowed; yes where any is behind or out and the best is fit."""
        alone = len(self.outcomes) == 1
        if not best or (self.outcomes[best].energy_wh <= 0 if alone else len(alike) + 1 == len(self.outcomes)):
            return "no"
        return "close" if short_word(self.outcomes[best].rig) else "yes"

    def _lead(self, others: list[str], behind: list[str], *, alone: bool) -> tuple[float, str]:
        """What the best is ahead of the next that is not alike by; of nothing where it stands alone."""
        rivals = behind or others
        return 100 * (1 - max((self.share(name) for name in rivals), default=1.0 if alone else 0.0)), "%"

    def _question(self, best: str) -> str:
        """What is asked of these rigs."""
        if not best:
            return "Is any wiring allowed"
        return "Does the wiring matter" if len(self.outcomes) > 1 else f"What does {best} deliver"

    def _opening(self, best: str, alike: list[str], same: str) -> str:
        """The opening of the verdict: a winner, or wirings that make no difference."""
        if not best:
            return "No wiring here is allowed."
        if self.outcomes[best].energy_wh <= 0:
            return f"Nothing arrives. {best}: {self.outcomes[best].held}{self._once_awake(best)}."
        if self.outcomes[best].energy_wh < TOO_LITTLE:
            little = self.outcomes[best].energy_wh
            amount = self._amount(little) if round(little, 1) else f"under 0.1 {self.unit}"
            return f"Too dark to tell: {amount} arrives."
        about = "about " if self._open_by_label(best) else ""
        if alike:
            return f"{same} within {100 * ALIKE:.0f} %: {about}{self._each([best, *alike])}."
        but = f", but{DOES_NOT}" if short_of(self.outcomes[best].rig) else ""
        return f"{best} delivers {about}{self._amount(self.outcomes[best].energy_wh)}{but}."

    def _each(self, alike: list[str]) -> str:
        """What wirings that are alike deliver, those of one amount together; of many the best few."""
        unfit = {name: " (does not work)" if short_of(self.outcomes[name].rig) else "" for name in alike}
        told = alike[:MOST_ALIKE_TOLD]
        said = amounts_in({f"{name}{unfit[name]}": self._amount(self.outcomes[name].energy_wh) for name in told})
        more = len(alike) - MOST_ALIKE_TOLD
        return f"{said}; {more} more alike" if more > 0 else said

    def _doubt(self, best: str, alike: list[str], behind: list[str]) -> list[str]:
        """What the opening leaves open: its range, what is lost, how to choose, what to put right first."""
        said = [before_joined(self.outcomes[best].rig, best)]
        if self.outcomes[best].energy_wh >= TOO_LITTLE:
            said = [self._range(best), self._waste(best), *self._choice(best, alike, behind), *said]
        return [one for one in said if one]

    def _choice(self, best: str, alike: list[str], behind: list[str]) -> list[str]:
        """What to choose wirings by that are alike, and which of them the opening had no room for."""
        more = alike[MOST_ALIKE_TOLD - 1 :]
        return [
            f"As much in {joined(more)}." if more else "",
            "A controller for each panel is not worth it." if alike and best == "apart" else "",
            f"{'Of the best, choose' if behind else 'Choose'} by fuses, plugs and cable." if alike else "",
        ]

    def _range(self, best: str) -> str:
        """What dull light leaves open of what a rig delivers; empty where that is nothing."""
        outcome = self.outcomes[best]
        if self._open_by_label(best):
            return dull_range(best, self._amount(outcome.label_wh), outcome.band_wh)
        if not self.dull or self._guessed(best):
            return ""
        return f"The readings leave it open: {span_in(*outcome.band_wh, self.unit)}."

    def _open_by_label(self, best: str) -> bool:
        """Whether what a rig delivers is the middle of measured panels, and its labels alone say something else."""
        outcome = self.outcomes[best]
        return self._guessed(best) and self._amount(outcome.energy_wh) != self._amount(outcome.label_wh)

    def _unfit(self, best: str, others: list[str], *, begun: bool) -> list[str]:
        """What allowed wirings fall short of, though this light need not show it; of the best the opening began it."""
        short = {name: said for name in filter(None, (best, *others)) if (said := short_of(self.outcomes[name].rig))}
        does_not = {name: "" if begun and name == best else DOES_NOT for name in short}
        return [f"{name}{does_not[name]}: {said}." for name, said in short.items()]

    def told(self, best: str) -> str:
        """What a rig delivers; in dull light the middle of measured panels, their range, and what labels alone say."""
        outcome = self.outcomes[best]
        brings = self._amount(outcome.energy_wh)
        if not self.dull:
            return brings
        if not self._guessed(best):
            low, high = (known(end) for end in outcome.band_wh)
            return f"{brings} ({low} to {high} as the readings leave it)"
        return dull_told(self._amount(outcome.label_wh), brings, outcome.band_wh)

    def _guessed(self, best: str) -> bool:
        """Whether the watts of the best come in dull light, of panels known by their labels alone."""
        return self.dull and not all(map(is_read, self.outcomes[best].rig.panels))

    def _waste(self, name: str) -> str:
        """The largest loss of a rig that a reader could do something about, where it is large."""
        outcome = self.outcomes[name]
        loss = max(AVOIDABLE, key=outcome.lost_wh)
        if outcome.lost_wh(loss) < WASTE * outcome.p_panels.sum() * outcome.step_h:
            return ""
        return f"It leaves {self._amount(outcome.lost_wh(loss))} behind: {LOSSES[loss]}."

    def _behind(self, name: str) -> str:
        """What a rig is behind by, and why."""
        best = self.ranking[0]
        reason = self.decides(name, best)
        why = self._why(name, best, reason)
        behind = difference(self.outcomes[best].energy_wh, self.outcomes[name].energy_wh, self.unit)
        if self.share(name) < NEXT_TO_NOTHING:
            return f"{name} delivers next to nothing: {why}{self._once_awake(name)}."
        return f"{name} delivers {behind} less ({100 * self.share(name):.0f} %): {why}."

    def _once_awake(self, name: str) -> str:
        """What a controller would deliver that woke before, where it sleeps at a single moment."""
        p_awake = self.outcomes[name].p_awake
        if p_awake < TOO_LITTLE:
            return ""
        brings = known_in(p_awake, "W")
        return f"; one that woke before, in cooler cells or brighter light, stays awake and delivers {brings}"

    def _why(self, name: str, best: str, reason: str) -> str:
        """What decides, in words: a loss on the way, or panels that already give less."""
        here, there = self.outcomes[name], self.outcomes[best]
        poorer = float((there.p_panels.sum() - here.p_panels.sum()) * here.step_h)
        if poorer > here.lost_wh(reason) - there.lost_wh(reason):
            return POORER
        return LOSSES[reason] + (self._diode(name) if reason == "shade" else "")

    def _diode(self, name: str) -> str:
        """Why bypass diodes cannot help strings in parallel: without one group of cells they lie below the battery."""
        rig = self.outcomes[name].rig
        for circuit in rig.circuits:
            needed = rig.battery.v_now + margins(circuit.controller)[1]
            for string in circuit.wiring.strings if len(circuit.wiring.strings) > 1 else ():
                panels = [rig.panels[panel] for panel in string]
                groups = [panel.v_mp / panel.substrings for panel in panels if panel.bypass_diodes]
                left = sum(panel.v_mp for panel in panels) - min(groups, default=0.0)
                if groups and left < needed:
                    what = "panel" if len(string) == 1 else "string"
                    return (
                        f", and the bypass diodes cannot help, since a {what} with one group of cells bypassed gives "
                        f"{left:.0f} V where {needed:.1f} V are needed"
                    )
        return ""

    def _out(self, out: Sequence[str]) -> list[str]:
        """Why wirings are out; of many out for one reason the nearest to being allowed tells it, the others by name."""
        groups: dict[str, dict[str, Verdict]] = {}
        for name in out:
            if refused := self.outcomes[name].refused:
                groups.setdefault(subject(refused).partition(",")[0], {})[name] = refused
        said = []
        for group in groups.values():
            near = sorted(group, key=lambda name: -group[name].margin)
            told, rest = (near[:1], near[1:]) if len(group) > MOST_OUT_TOLD else (list(group), [])
            said += [f"{name} is out: {reason(group[name])}" for name in told]
            said += [f"Out likewise: {', '.join(rest)}."] if rest else []
        return said

    def _amount(self, energy: float) -> str:
        """Watts or watt-hours in a sentence."""
        return known_in(energy, self.unit)

    def _allowed(self, name: str) -> bool:
        return self.outcomes[name].refused is None

    @property
    def _thin(self) -> list[str]:
        """Allowed rigs that are close to their ceiling at the coldest dawn."""
        return [n for n in self.ranking if self._allowed(n) and self.outcomes[n].ceiling.answer == "close"]

    @property
    def _v_battery(self) -> str:
        return " or ".join(f"{volts:g}" for volts in sorted({o.rig.battery.v_now for o in self.outcomes.values()}))

    def _caution(self) -> str:
        """What can hurt in these rigs, each thing once."""
        rigs = {name: outcome.rig for name, outcome in self.outcomes.items()}
        volts = touch_cautions(rigs)
        said = [o.refused.caution for o in self.outcomes.values() if o.refused]
        said = [text.replace(DO_NOT_TOUCH, "").replace(NOT_WET, "").strip() for text in said] + volts
        if self.request.shade and any(not panel.bypass_diodes for rig in rigs.values() for panel in rig.panels):
            said.append("Shaded cells without a bypass diode are driven backwards and can burn.")
        if any(o.p_clipped.any() for o in self._switches):
            said.append("A plain switch cannot hold amps back: its rating must cover all the panels' amps.")
        return " ".join(dict.fromkeys(text for text in said if text))

    @property
    def _switches(self) -> list[Operation]:
        """Operations of plain switches."""
        pairs = [pair for o in self.outcomes.values() for pair in zip(o.operations, o.rig.circuits, strict=True)]
        return [operation for operation, circuit in pairs if circuit.controller.tracker == "direct"]


def _no_difference(behind: Sequence[str], out: Sequence[str]) -> str:
    """That wirings make no difference, and which where these are not all."""
    return "Best, alike" if behind else "Allowed, alike" if out else "No difference"


def _share_words(share: float | None) -> str:
    """A share of the best in whole percent."""
    return "     -" if share is None else f"{share:4.0f} %"


def _lost_words(lost: Mapping[str, float]) -> str:
    """What is worth a word of what is lost on the way, each kept with its number."""
    said = [f"{loss} {known(amount)}" for loss, amount in lost.items() if amount >= TOO_LITTLE]
    return ", ".join(one.replace(" ", "\N{NO-BREAK SPACE}") for one in said) or "next to nothing"


def _allowed_words(outcome: Outcome) -> str:
    """Whether a rig is allowed, in a word; one that slept through is not told a plain yes."""
    slept = all(np.isin(operation.held_by, (ASLEEP, DARK)).all() for operation in outcome.operations)
    if outcome.refused:
        return "no"
    return "asleep" if slept else short_word(outcome.rig) or ("thin" if outcome.ceiling.answer == "close" else "yes")


def compare(rigs: Mapping[str, Rig], request: Request, *, progress: Progress | None = None) -> Comparison:
    """What each of several rigs delivers in the same light, best first, and why the others deliver less.

    Parameters
    ----------
    rigs : mapping of str to Rig
        By name, for example `rig.wirings()`.
    request : Snapshot, Days or Parked
        A moment set by hand, real days, or a parked van under a synthetic sky.
    progress : callable, optional
        Wraps the list of rigs, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Comparison
        Power of a moment [W] or energy of the days [Wh], the losses by name, and the verdict.

    Raises
    ------
    ValueError
        Without rigs, or for shade notes and days that do not exist.

    Notes
    -----
    The battery stays at its present voltage and takes all it is given; `simulate` lets it fill up and empty.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=200, temp_cell=15))
    >>> {name: round(outcome.energy_wh) for name, outcome in found.outcomes.items()}
    {'2s': 40, '2p': 40}
    >>> found.verdict.answer
    'no'
    """
    if not rigs:
        raise ValueError("compare needs at least one rig; give it rig.wirings().")
    rigs = {name: planned_for(rig, request) for name, rig in rigs.items()}
    each = list(rigs.items())
    _seek_peaks(list(rigs.values()), request)
    outcomes = {name: outcome(rig, request) for name, rig in (progress(each) if progress else each)}
    panels = [panel for rig in rigs.values() for panel in rig.panels]
    frost = dict.fromkeys(said for rig in rigs.values() for said in frost_uncounted(rig, request))
    return Comparison(outcomes, request, title_of(request), (*frost, *caveats(panels, request)))


def _seek_peaks(rigs: Sequence[Rig], request: Request) -> None:
    """Find the best points of all circuits together, where the rigs differ in nothing that changes their light."""
    first, *others = rigs
    if all(rig.panels == first.panels and rig.roof == first.roof for rig in others):
        circuits = [circuit for rig in rigs for circuit in rig.circuits]
        lit_panels(first.panels, request, first.roof).seek_peaks(circuits)


def outcome(rig: Rig, request: Request, *, progress: Progress | None = None) -> Outcome:
    """What one rig delivers over a moment or days, with every loss by name.

    Parameters
    ----------
    rig : Rig
    request : Snapshot, Days or Parked
    progress : callable, optional
        Wraps what each circuit is worked through in, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Outcome

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> sunny = outcome(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> round(float(sunny.p_panels[0])), round(float(sunny.p_battery[0] + sum(sunny.lost.values())[0]))
    (219, 219)
    """
    model = RigModel(rig, request, progress=progress).complete()
    return Outcome(model, *_judged(rig), p_awake=_woken(model))


@lru_cache(maxsize=256)
def _judged(rig: Rig) -> tuple[Verdict, Verdict | None]:
    """The cold ceiling of a rig's worst circuit, and what forbids it, whatever the light."""
    ceilings = [cold_ceiling(rig, circuit) for circuit in rig.circuits]
    worst = min(ceilings, key=lambda verdict: (WORST_FIRST.index(verdict.answer), verdict.margin))
    return worst, refusal(rig)


def _wired(rig: Rig, circuit: Circuit) -> list[Panel]:
    """The panels of one circuit."""
    return [rig.panels[panel] for panel in circuit.wiring.panels]


def _woken(model: RigModel) -> float:
    """Watts into the battery at a single moment in which controllers sleep, had these been awake before it."""
    pairs = zip(model.operations, model.rig.circuits, strict=True)
    slept = [circuit for now, circuit in pairs if now.held_by.tolist() == [ASLEEP]]
    return sum(float(model.operation(circuit, awake=True).p_battery[0]) for circuit in slept)
