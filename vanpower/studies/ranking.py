"""Every wiring of a rig: those allowed ranked, those refused with the reason; also with one more panel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from vanpower.checks.caveats import caveats, short_of
from vanpower.checks.common import when_coldest
from vanpower.checks.fuses import can_be_fused, string_fuse
from vanpower.checks.glance import reason, subject
from vanpower.checks.plugs_and_isolator import touch_cautions
from vanpower.checks.registry import DESTROYS, mended_by_parts, refusal
from vanpower.checks.volts import start_volts as wakes
from vanpower.model.light import Progress, title_of
from vanpower.results.numbers import ALIKE, known, known_in, watt_hours
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Days, Request, Rig
from vanpower.studies.comparison import Comparison, compare, outcome
from vanpower.weather.days import find_day

FORBID = (string_fuse, wakes)
# besides what can destroy the controller or a panel: a wiring without a legal fuse, and one that never wakes
RULE = "equal strings only; out is what can destroy a controller or a panel, has no legal fuse or never wakes"
# how wirings are picked


@dataclass(frozen=True, kw_only=True)
class Ranked:
    """One wiring of a ranking, with what the checks say of it.

    Parameters
    ----------
    name : str
        The wiring as the trade writes it.
    rig : Rig
        The rig in this wiring.
    energy : float
        What it delivers, in the unit of the comparison. [W or Wh]
    refused : Verdict, optional
        Why it is refused; None where it is allowed.
    thin : str
        What it is close to, in a few words; empty where nothing is.
    short : str
        What it falls short of at other battery voltages or on a hot roof, in a few words; empty where it suits.
    buy_first : tuple of Verdict
        Parts that have to be bought or changed before it may be connected.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> out = rank_wirings(example("puppet-stage"), Snapshot(light=800, temp_cell=25)).refused[0]
    >>> out.name, out.refused.question, out.refused.answer
    ('4s', 'Cold ceiling: does 4s stay under 80 V at -17 °C?', 'no')
    """

    name: str
    rig: Rig
    energy: float
    refused: Verdict | None
    thin: str
    short: str
    buy_first: tuple[Verdict, ...]

    @property
    def notes(self) -> list[str]:
        """What is to be said beside its watts: short of something, close to something, parts to buy."""
        return [*filter(None, (self.short, self.thin)), *(_short(verdict) for verdict in self.buy_first)]


@dataclass(frozen=True, eq=False, repr=False)
class Ranking(Result):
    """Result of `rank_wirings`: wirings ranked, refused ones apart; `comparison` holds their power and losses.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> found = rank_wirings(example("bookmobile"), Snapshot(light=800, temp_cell=25))
    >>> print(found.text())
    2s      169 W   100 %  allowed
    2p      167 W    99 %  allowed
    """

    comparison: Comparison
    ranked: tuple[Ranked, ...]
    refused: tuple[Ranked, ...]

    def table(self, what: None = None) -> Table:
        """A line a wiring, best first; then those that are out, with the reason in a sentence."""
        unit, best = self.comparison.unit, self.ranked[0].energy if self.ranked else 0.0
        columns = (
            Column(name="wiring", left=True),
            Column(name="brings", unit=unit, width=7 + 1 + len(unit), say=lambda amount: f"{known(amount)} {unit}"),
            Column(name="share", unit="%", width=6, say=lambda share: "-" if share is None else f"{share:.0f} %"),
            Column(name="mind", left=True, say=lambda said: said or "allowed"),
            Column(name="out", left=True, alone=True),
        )
        whole = bool(round(best, 1))
        rows = [
            (one.name, one.energy, 100 * one.energy / best if whole else None, "; ".join(one.notes), "")
            for one in self.ranked
        ]
        rows += [(one.name, one.energy, None, "", f"out: {_short(one.refused)}") for one in self.refused if one.refused]
        return Table(columns, rows, headed=False)

    @property
    def verdict(self) -> Verdict:
        """Which wiring to take."""
        count, all_of = len(self.refused), len(self.ranked) + len(self.refused)
        out = f" {count} of {all_of} {'is' if count == 1 else 'are'} out." if count else ""
        if not self.ranked:
            worst = self.refused[0].refused
            assert worst is not None
            return replace(worst, question="Wirings: is any allowed?", answer="no", sentence=f"None. {reason(worst)}")
        best = self.ranked[0]
        return Verdict(
            question=f"Wirings: which one, {self.comparison.title}?",
            answer=self._answer(best),
            margin=self._lead(best),
            unit="%",
            sentence=f"{self._brings(best)}{''.join(f' First: {_short(v)}.' for v in best.buy_first)}{out}",
            basis="; ".join((RULE, *self.comparison.rests(best.name))),
            caution=" ".join(touch_cautions({best.name: best.rig})),
        )

    def _answer(self, best: Ranked) -> Answer:
        """Yes for a best that delivers something and lacks nothing."""
        return "no" if not round(best.energy, 1) else "close" if best.notes else "yes"

    def _lead(self, best: Ranked) -> float:
        """How far the best is ahead of the next that is as fit. [%]"""
        second = max((one.energy for one in self.ranked[1:] if bool(one.short) == bool(best.short)), default=0.0)
        return 100 * (1 - second / best.energy) if round(best.energy, 1) else 0.0

    def _brings(self, best: Ranked) -> str:
        """What the best delivers and falls short of, who is alike, and who delivers more and is not fit."""
        unit, others = self.comparison.unit, self.ranked[1:]
        if not round(best.energy, 1):
            return f"Nothing arrives from any of them in this light; {best.name} is the first that is allowed."
        fit = f", but does not work for this van: {best.short}" if best.short else ""
        said = f"{best.name} delivers most{self._among(best)}, {self.comparison.told(best.name)}{fit}."
        alike = [other for other in others if (1 - ALIKE) * best.energy <= other.energy and not (other.short or fit)]
        said += f" Alike within {100 * ALIKE:g} %: {', '.join(one.name for one in alike)}." if alike else ""
        ahead = [other for other in others if other.energy > best.energy]
        return said + "".join(f" {one.name} delivers {known_in(one.energy, unit)}, but {one.short}." for one in ahead)

    def _among(self, best: Ranked) -> str:
        """Of which wirings it delivers most, where some are not fit."""
        return " of those that work for this van" if any(one.short for one in self.ranked) and not best.short else ""


def rank_wirings(rig: Rig, request: Request, *, apart: bool = False) -> Ranking:
    """All equal-string wirings of a rig's first circuit: allowed ones ranked by what they deliver, refused ones apart.

    Parameters
    ----------
    rig : Rig
    request : Snapshot, Days or Parked
    apart : bool
        Also the wiring with a controller of its own for every panel.

    Returns
    -------
    Ranking
        Its `ranked` and `refused` hold the wirings; each refused one names the check that forbids it.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> found = rank_wirings(example("puppet-stage"), Snapshot(light=800, temp_cell=25))
    >>> [one.name for one in found.ranked], [one.name for one in found.refused]
    (['2s2p'], ['4s', '4p'])
    """
    return ranked(rig.wirings(apart=apart, shade=request.shade), request)


def ranked(rigs: Mapping[str, Rig], request: Request) -> Ranking:
    """Ranking of named rigs: allowed ones by what they deliver, then those that fall short elsewhere; refused apart."""
    comparison = compare(rigs, request)
    made = [choice_of(name, outcome.rig, outcome.energy_wh) for name, outcome in comparison.outcomes.items()]
    allowed = sorted((one for one in made if one.refused is None), key=lambda one: (one.short != "", -one.energy))
    return Ranking(comparison, tuple(allowed), tuple(one for one in made if one.refused is not None))


def choice_of(name: str, rig: Rig, energy: float) -> Ranked:
    """One rig with what the checks say of it."""
    ceilings = [DESTROYS[0](rig, circuit) for circuit in rig.circuits]
    close = any(verdict.answer == "close" for verdict in ceilings)
    thin = f"close to the ceiling {when_coldest(rig)}" if close else ""
    fuses = [fuse for circuit in rig.circuits if (fuse := string_fuse(rig, circuit)).answer != "yes"]
    return Ranked(
        name=name,
        rig=rig,
        energy=energy,
        refused=forbidden(rig),
        thin=thin,
        short=short_of(rig),
        buy_first=(*fuses, *mended_by_parts(rig)),
    )


def forbidden(rig: Rig) -> Verdict | None:
    """The verdict that forbids a rig, whatever it delivers; None where it is allowed.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> forbidden(rig), forbidden(rig.wired("4s")).question
    (None, 'Cold ceiling: does 4s stay under 80 V at -17 °C?')
    """
    found = refusal(rig)
    for circuit in rig.circuits:
        for ask in FORBID:
            verdict = ask(rig, circuit)
            mended = ask is string_fuse and can_be_fused(rig, circuit)
            if found is None and verdict.answer == "no" and not mended:
                found = verdict
    return found


def clipping_over(rig: Rig, request: Days, *, progress: Progress | None = None) -> Verdict:
    """How much energy is lost over some days because the controllers limit the charge current.

    Clipping is no danger, so the answer is never "no".

    Parameters
    ----------
    rig : Rig
    request : Days
    progress : callable, optional
        Wraps the groups of moments as they are worked through, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Verdict

    Examples
    --------
    >>> from vanpower import Days, example
    >>> rig = example("bookmobile")
    >>> clipping_over(rig, Days(day="dull")).answer
    'yes'
    """
    found = outcome(rig, request, progress=progress)
    lost, got = found.lost_wh("clipping"), found.energy_wh
    days = find_day(request.weather, request.day).days
    share = lost / (lost + got) if lost + got > 0 else 0.0
    amps = sum(circuit.controller.i_charge_max for circuit in rig.circuits)
    span = f"{days} days" if days > 1 else "the day"
    return Verdict(
        question=f"Clipped: what do {amps:g} A leave on the roof, {title_of(request)}?",
        answer="yes" if share <= ALIKE else "close",
        margin=100 * (ALIKE - share),
        unit="% of the energy",
        sentence=(
            f"{watt_hours(lost)} over {span}, {100 * share:.1f} % of what could have come; {watt_hours(got)} arrive."
        ),
        basis="; ".join(
            (
                f"battery held at {rig.battery.v_now:g} V, and it takes all of it; nothing is harmed",
                *caveats(rig.panels, request),
            )
        ),
    )


def _short(verdict: Verdict) -> str:
    """What a verdict is about and its numbers."""
    return f"{subject(verdict, inside=True)}: {verdict.sentence.rstrip('.')}"
