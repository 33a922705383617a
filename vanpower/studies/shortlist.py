"""Which of several controllers is worth its price: which pass the checks, what each delivers, or keep the old."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vanpower.checks.caveats import dull_words
from vanpower.checks.coldest import planned_for
from vanpower.checks.glance import of_panels, reason, subject
from vanpower.checks.plugs_and_isolator import touch_cautions
from vanpower.checks.registry import before_joined
from vanpower.model.light import Progress
from vanpower.results.numbers import ALIKE, NEXT_TO_NOTHING, apart, known, share_of
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Controller, Days, Rig
from vanpower.simulation.run import whole_day
from vanpower.studies.comparison import Comparison, compare
from vanpower.studies.ranking import Ranked, choice_of
from vanpower.weather.days import find_day

YEAR_DAYS = 365.0
# [days]
HALF_A_YEAR = 182
# [days] fewer are one season
NOW, REPLUGGED = "what is there now", "the same, re-plugged"
# names of the controller that the rig has, as it is wired and in the best wiring that needs no new part
COLUMNS = (
    "(extra: Wh a day more than the best of what is there now, re-plugged or not; per Wh: the price of each of them)"
)
# what stands in the table


@dataclass(frozen=True, kw_only=True)
class Offer:
    """One controller of a shortlist on this rig.

    Parameters
    ----------
    controller : Controller
    choice : Ranked
        What the checks say of the rig with it, in the wiring named there.
    wh_day : float
        Energy into the battery on an average day of the weather. [Wh]
    extra_wh_day : float
        More than the best that the present controller can deliver without a new part. [Wh]

    Examples
    --------
    >>> from vanpower import example, read_controllers
    >>> first = shortlist(example("bookmobile"), read_controllers()[:1], Days(day="dull")).offers[0]
    >>> first.name, round(first.wh_day), first.passes
    ('small 60 V 10 A', 50, False)
    >>> first.choice.refused.sentence.partition(". ")[0]
    '1.25 x 12.5 A = 15.6 A against 12 A at the input'
    """

    name: str
    controller: Controller
    choice: Ranked
    wh_day: float
    extra_wh_day: float

    @property
    def passes(self) -> bool:
        """Whether it may be connected."""
        return self.choice.refused is None

    @property
    def price_per_wh_day(self) -> float | None:
        """Price for each extra Wh a day; None without a price or a gain."""
        price = self.controller.price
        return price / self.extra_wh_day if price is not None and self.extra_wh_day > 0.5 else None


@dataclass(frozen=True, eq=False, repr=False)
class Shortlist(Result):
    """Result of `shortlist`: several controllers on one rig in one weather, the present one first.

    Parameters
    ----------
    now, free : Offer
        The present controller as it is wired, and in the best allowed wiring that needs no new part; mostly the same.

    Examples
    --------
    >>> from vanpower import example, read_controllers
    >>> found = shortlist(example("bookmobile"), read_controllers()[:3], Days(day="dull"))
    >>> round(found.now.wh_day), [offer.name for offer in found.passing], found.worth_it
    (49, ['middle 80 V 20 A', 'middle 100 V 30 A'], [])
    """

    rig: Rig
    title: str
    now: Offer
    offers: tuple[Offer, ...]
    free: Offer
    days: int = 1
    notes: tuple[str, ...] = ()

    @property
    def mine(self) -> tuple[Offer, ...]:
        """What is there now, and re-plugged where that differs."""
        return (self.now,) if self.free is self.now else (self.now, self.free)

    @property
    def passing(self) -> list[Offer]:
        """Offers that pass, by what they deliver."""
        return sorted((offer for offer in self.offers if offer.passes), key=lambda offer: -offer.wh_day)

    @property
    def worth_it(self) -> list[Offer]:
        """Offers that pass and deliver more than the three percent that nobody notices, the cheapest gain first.

        Those that do not work for the van come last.
        """
        more = [offer for offer in self.passing if offer.extra_wh_day > ALIKE * self.free.wh_day]
        return sorted(more, key=lambda offer: (offer.choice.short != "", offer.price_per_wh_day or 0.0))

    def table(self, what: None = None) -> Table:
        """One line a controller: who passes, by energy, then who fails and why."""
        passing = [offer for offer in self.mine if offer.passes] + self.passing
        failing = [offer for offer in (*self.mine, *self.offers) if not offer.passes]
        extra = (*(("" if offer is self.free else self._extra(offer)) for offer in passing), *[""] * len(failing))
        columns = (
            Column(name="controller", left=True),
            Column(name="wiring", width=6, left=True),
            Column(name="Wh a day", width=8),
            Column(name="extra Wh a day", head="extra", width=5, said=extra),
            Column(name="price", gap=1, width=5, say=lambda price: "-" if price is None else f"{price:g}"),
            Column(name="price per extra Wh a day", head="per Wh", width=6, digits=1),
            Column(name="mind", head="", width=0, left=True, say=lambda said: f"({said})" if said else ""),
            Column(name="kWh a year", digits=1, aside=True),
            Column(name="passes", left=True, aside=True),
            Column(name="why not", left=True, alone=True),
        )
        rows = [self._line(offer) for offer in (*passing, *failing)]
        return Table(columns, rows, remarks=tuple(_parts_first(passing)), note=COLUMNS)

    def _line(self, offer: Offer) -> tuple[Any, ...]:
        """What stands in the table of one controller."""
        refused, choice = offer.choice.refused, offer.choice
        why = f"fails: {subject(refused, inside=True)}, {refused.sentence}" if refused else ""
        per = None if offer in self.mine else offer.price_per_wh_day
        mind, year = "; ".join(filter(None, (choice.short, choice.thin))), offer.wh_day * YEAR_DAYS / 1000
        return (
            offer.name, choice.name, offer.wh_day, offer.extra_wh_day, offer.controller.price, per, mind, year,
            offer.passes, why,
        )  # fmt: skip

    @property
    def verdict(self) -> Verdict:
        """Keep what you have, or what to buy."""
        answer, margin, sentence = self._answer()
        return Verdict(
            question="Controller: is a new one worth its price?",
            answer=answer,
            margin=margin,
            unit="Wh a day",
            sentence=sentence,
            basis=f"{self.title}{self._short_of_a_year()}; the battery takes all of it, at "
            f"{self.rig.battery.v_now:g} V; margins and losses as listed, {NOW} uses {self.now.controller.p_own:g} W "
            f"itself and loses {self.now.controller.loss_fixed_pct:g} %; gains under {100 * ALIKE:g} % count as none "
            f"(common practice, no source){''.join(f'; {note}' for note in self.notes)}",
            caution=" ".join(filter(None, self._cautions())),
        )

    def _cautions(self) -> list[str]:
        """What can hurt in what is there now, or in what the sentence advises where its volts hurt more."""
        if self.now.choice.refused is not None:
            return [self.now.choice.refused.caution]
        told = [self.free, *self.worth_it[:1], *([fit] if (fit := self._fit) else [])]
        return touch_cautions({offer.choice.name: offer.choice.rig for offer in told})

    def _short_of_a_year(self) -> str:
        """A warning where one kind of day decides."""
        return "" if self.days > HALF_A_YEAR else " alone, and other days may say otherwise"

    def _extra(self, offer: Offer) -> str:
        """What an offer delivers more than the best of what is there now, with its sign."""
        more, less = max(offer.wh_day, self.free.wh_day), min(offer.wh_day, self.free.wh_day)
        amount = apart(more, less)
        sign = "" if not float(amount) else "+" if offer.wh_day > self.free.wh_day else "-"
        return f"{sign}{amount}"

    def _answer(self) -> tuple[Answer, float, str]:
        """Answer, margin and sentence."""
        if not self.free.passes:
            return self._must_go()
        if not self.worth_it:
            best = self.passing[0] if self.passing else None
            gain = f"{self._extra(best).lstrip('+')} Wh a day more" if best and best.extra_wh_day >= 0.5 else "no more"
            more = f"; the best on the list, {best.name}, delivers {gain}" if best else "; nothing on the list passes"
            return "no", best.extra_wh_day if best else 0.0, f"{self._keep()}{more}{self._better_fit()}."
        first = self.worth_it[0]
        per = f", {first.price_per_wh_day:.1f} for each Wh a day" if first.price_per_wh_day is not None else ""
        sleeps = self.free.wh_day < NEXT_TO_NOTHING * first.wh_day
        share = "" if sleeps else f" ({share_of(first.extra_wh_day, self.free.wh_day)})"
        than = "than now" if self.free is self.now else f"than re-plugging to {self.free.choice.name}, which is free"
        short = f"; but it does not work for this van: {first.choice.short}" if first.choice.short else ""
        gain = f"{_told(first)} delivers {self._extra(first).lstrip('+')} Wh a day more {than}{share}{per}{short}"
        return self._bought(first, first.extra_wh_day, f"{gain}; {self._brought()}.")

    def _bought(self, offer: Offer, margin: float, sentence: str) -> tuple[Answer, float, str]:
        """An offer advised, with what must be put right before it is joined."""
        before = before_joined(offer.choice.rig, offer.choice.name)
        return "close" if before else "yes", margin, f"{sentence} {before}".rstrip()

    def _brought(self) -> str:
        """What comes now, and what would come of re-plugging."""
        now = f"{NOW} delivers {known(self.now.wh_day)}" if self.now.passes else "as it is wired it must not stay"
        free = f", re-plugged to {self.free.choice.name} {known(self.free.wh_day)}"
        return now + free * (self.free is not self.now)

    @property
    def _fit(self) -> Offer | None:
        """The offer that delivers most of those that suit the battery, where what would stay does not."""
        if not self.free.choice.short:
            return None
        return next((offer for offer in self.passing if not offer.choice.short), None)

    def _better_fit(self) -> str:
        """Which offer suits the battery where what would stay does not."""
        if not self.free.choice.short:
            return ""
        fit = self._fit
        return (
            f"; {_told(fit)} works for it, {known(fit.wh_day)} Wh a day"
            if fit
            else "; nothing listed here works for it"
        )

    def _keep(self) -> str:
        """That nothing need be bought, and whether plugs should be changed."""
        if self.free is self.now:
            brings = f"it delivers {known(self.now.wh_day)} Wh a day"
            if short := self.now.choice.short:
                return f"What is there now does not work for this van ({short}), though {brings}"
            return f"Keep what you have: {brings}"
        way, brings = self.free.choice.name, known(self.free.wh_day)
        if refused := self.now.choice.refused:
            must = f"As it is wired it must not stay: {reason(refused)}"
            return f"{must} Re-plug the panels to {way}, which is free and delivers {brings} Wh a day"
        return f"Keep the controller and re-plug the panels to {way}, which is free: {self._brought()} Wh a day"

    def _must_go(self) -> tuple[Answer, float, str]:
        """What replaces a controller that may not stay."""
        refused = self.now.choice.refused
        assert refused is not None
        priced = sorted(self.passing, key=lambda offer: (offer.controller.price is None, offer.controller.price or 0.0))
        if not priced:
            said = f"Neither what is there now nor any on the list passes. {reason(refused)}"
            other = of_panels(refused) not in ("", self.rig.circuits[0].wiring.grouping)
            return "no", 0.0, said + " That is another controller's: mend it first." * other
        first, most = priced[0], self.passing[0]
        cheap = f"The cheapest that passes is {_told(first)}, {known(first.wh_day)} Wh a day"
        rest = "" if most is first else f"; most comes from {most.name}, {known(most.wh_day)}"
        return self._bought(first, first.wh_day, f"What is there now must go: {reason(refused)} {cheap}{rest}.")


def shortlist(
    rig: Rig,
    candidates: Sequence[Controller],
    request: Days,
    *,
    rewire: bool = False,
    circuit: int = 0,
    progress: Progress | None = None,
) -> Shortlist:
    """Which of several controllers is worth its price in the place of one of a rig's, over some days.

    Parameters
    ----------
    rig : Rig
    candidates : sequence of Controller
        For example `read_controllers("my-list.csv")`.
    request : Days
        `Days(weather="sand-point", day="all")` for a year.
    rewire : bool
        Try every wiring with each controller and take the best that is allowed, instead of the present one.
    circuit : int
        Which of the rig's controllers may be replaced, counted from 0.
    progress : callable, optional
        Wraps the list of what is tried, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Shortlist

    Raises
    ------
    ValueError
        Without any controller.

    Examples
    --------
    >>> from vanpower import Days, example, read_controllers
    >>> rig = example("bookmobile")
    >>> shortlist(rig, read_controllers(), Days(day="dull")).verdict.answer
    'no'
    """
    if not candidates:
        raise ValueError("the shortlist is empty; list at least one controller.")
    rig = planned_for(rig.circuit_first(circuit), request)
    rigs = {NOW: rig} | {one.name: rig.with_controller(one, circuit=0) for one in candidates}
    ways = {name: _ways(one, rewire or name == NOW) for name, one in rigs.items()}
    named = {f"{name}: {way}": other for name in ways for way, other in ways[name].items()}
    comparison = compare(named, whole_day(request), progress=progress)
    outcomes, found = comparison.outcomes, find_day(request.weather, request.day)
    made = {
        name: [choice_of(way, one, outcomes[f"{name}: {way}"].energy_wh / found.days) for way, one in each.items()]
        for name, each in ways.items()
    }
    mine, *others = ((name, made[name]) for name in made)
    replugged = _replugged(mine[1])
    base = replugged.energy

    def offer(name: str, choice: Ranked) -> Offer:
        controller = choice.rig.circuits[0].controller
        return Offer(
            name=name, controller=controller, choice=choice, wh_day=choice.energy, extra_wh_day=choice.energy - base
        )

    now = offer(NOW, mine[1][0])
    free = now if replugged is mine[1][0] else offer(REPLUGGED, replugged)
    offers = tuple(offer(name, min(choices, key=_rank)) for name, choices in others)
    notes = (*comparison.notes, *_dull(comparison, named, found.days))
    return Shortlist(rig, found.title, now, offers, free, found.days, notes)


def _dull(comparison: Comparison, named: Mapping[str, Rig], days: int) -> list[str]:
    """What labels leave open of what is there now, where most energy comes in dull light."""
    name = next(iter(named))
    low, high = comparison.outcomes[name].band_wh
    band = low / days, high / days
    return [dull_words(NOW, named[name], band, "Wh a day")] if comparison.dull and round(high / days, 1) else []


def _rank(choice: Ranked) -> tuple[bool, bool, float]:
    """Allowed before refused, what suits the battery before what does not, then by what it delivers."""
    return choice.refused is not None, choice.short != "", -choice.energy


def _replugged(ways: Sequence[Ranked]) -> Ranked:
    """The best of what is there now as it is wired, first in the list, and the wirings that need no new part."""
    first, *others = ways
    parts = {verdict.question.partition(":")[0] for verdict in first.buy_first}
    free = [one for one in others if {v.question.partition(":")[0] for v in one.buy_first} <= parts]
    best = min((first, *free), key=_rank)
    alike = _rank(best)[:2] == _rank(first)[:2] and first.energy >= (1 - ALIKE) * best.energy
    return first if alike else best


def _ways(rig: Rig, rewire: bool) -> dict[str, Rig]:
    """The rig as it is wired, and where asked for in every wiring."""
    name = rig.circuits[0].wiring.name
    others = rig.wirings() if rewire else {}
    return {name: rig} | {way: one for way, one in others.items() if way != name}


def _told(offer: Offer) -> str:
    """An offer with its wiring and price."""
    price = "" if offer.controller.price is None else f" for {offer.controller.price:g}"
    return f"{offer.name} as {offer.choice.name}{price}"


def _parts_first(offers: Sequence[Offer]) -> list[str]:
    """What has to be bought besides the controllers, a line for those that want the same; mostly none."""
    asking: dict[str, list[str]] = {}
    for offer in offers:
        checks = dict.fromkeys(verdict.question.partition(":")[0].lower() for verdict in offer.choice.buy_first)
        asking.setdefault(", ".join(checks), []).append(f"{offer.name} as {offer.choice.name}")
    told = {checks: ", ".join(names) for checks, names in asking.items() if checks}
    return [f"(parts first: {checks}, for {names})" for checks, names in told.items()]
