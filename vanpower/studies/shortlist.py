"""Which controller on offer is worth its price: who passes, what each brings, and whether to keep the old one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from vanpower.rig import Controller, Outlook, Rig
from vanpower.sky import find_day
from vanpower.studies.choices import Choice, choice_of
from vanpower.studies.comparisons import ALIKE, compare
from vanpower.studies.light import Progress
from vanpower.verdicts import Answer, Verdict
from vanpower.wirings import alternatives

if TYPE_CHECKING:
    import pandas as pd

YEAR_DAYS = 365.0
# [days]
HALF_A_YEAR = 182
# [days] fewer are one season
NOW = "what is there now"
# name of the controller that the rig has
COLUMNS = f"(extra: Wh a day more than {NOW}; per Wh: the price of each of them)"
# what stands in the table


@dataclass(frozen=True, kw_only=True)
class Offer:
    """One controller on this rig.

    Parameters
    ----------
    choice : Choice
        What the checks say of the rig with it, in the wiring named there.
    wh_day : float
        Into the battery on an average day of the weather. [Wh]
    extra_wh_day : float
        More than with the controller there is now. [Wh]

    Examples
    --------
    >>> from vanpower import load_rig, read_candidates
    >>> first = shortlist(load_rig("bookmobile"), read_candidates()[:1], Outlook(day="dull")).offers[0]
    >>> first.name, round(first.wh_day), first.passes
    ('small 60 V 10 A', 62, False)
    >>> first.choice.refused.sentence
    '1.25 x 12.5 A = 15.6 A against 12 A at the input.'
    """

    name: str
    controller: Controller
    choice: Choice
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


@dataclass(frozen=True, eq=False)
class Shortlist:
    """Controllers on one rig and in one weather, what is there now first.

    Examples
    --------
    >>> from vanpower import load_rig, read_candidates
    >>> found = shortlist(load_rig("bookmobile"), read_candidates()[:3], Outlook(day="dull"))
    >>> round(found.now.wh_day), [offer.name for offer in found.passing], found.worth_it
    (61, ['middle 80 V 20 A', 'middle 100 V 30 A'], [])
    """

    rig: Rig
    title: str
    now: Offer
    offers: tuple[Offer, ...]
    days: int = 1

    @property
    def passing(self) -> list[Offer]:
        """Offers that pass, by what they bring."""
        return sorted((offer for offer in self.offers if offer.passes), key=lambda offer: -offer.wh_day)

    @property
    def worth_it(self) -> list[Offer]:
        """Offers that pass and bring more than the three percent that nobody notices, the cheapest gain first."""
        more = [offer for offer in self.passing if offer.extra_wh_day > ALIKE * self.now.wh_day]
        return sorted(more, key=lambda offer: offer.price_per_wh_day or 0.0)

    def table(self) -> pd.DataFrame:
        """One line a controller."""
        import pandas as pd

        lines = [
            {
                "controller": offer.name,
                "passes": offer.passes,
                "wiring": offer.choice.name,
                "kWh a year": round(offer.wh_day * YEAR_DAYS / 1000, 1),
                "Wh a day": round(offer.wh_day),
                "extra Wh a day": round(offer.extra_wh_day),
                "price": offer.controller.price,
                "price per extra Wh a day": offer.price_per_wh_day and round(offer.price_per_wh_day, 2),
                "why not": offer.choice.refused.sentence if offer.choice.refused else "",
            }
            for offer in (self.now, *self.offers)
        ]
        return pd.DataFrame(lines).set_index("controller")

    def text(self) -> str:
        """The table in plain lines: who passes, by energy, then who fails and why."""
        width = max(len(offer.name) for offer in (self.now, *self.offers))
        lines = [f"{'controller':{width}}  wiring  Wh a day  extra price  per Wh"]
        passing = [self.now] * self.now.passes + self.passing
        for offer in passing:
            price = "-" if offer.controller.price is None else f"{offer.controller.price:g}"
            per = "-" if offer.price_per_wh_day is None or offer is self.now else f"{offer.price_per_wh_day:.1f}"
            extra = "" if offer is self.now else f"{offer.extra_wh_day:+.0f}"
            note = f"  ({offer.choice.thin})" if offer.choice.thin else ""
            lines.append(
                f"{offer.name:{width}}  {offer.choice.name:6}  {offer.wh_day:8.0f}  {extra:>5} {price:>5}"
                f"  {per:>6}{note}"
            )
        for offer in (self.now, *self.offers):
            if refused := offer.choice.refused:
                lines.append(
                    f"{offer.name:{width}}  fails: {refused.question.partition(':')[0].lower()}, {refused.sentence}"
                )
        return "\n".join([*lines, COLUMNS])

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
            "(common practice, no source)",
            caution="" if self.now.choice.refused is None else self.now.choice.refused.caution,
        )

    def _short_of_a_year(self) -> str:
        """A warning where one kind of day decides."""
        return "" if self.days > HALF_A_YEAR else " alone, and other days may say otherwise"

    def _answer(self) -> tuple[Answer, float, str]:
        """Answer, margin and sentence."""
        if not self.now.passes:
            return self._must_go()
        if not self.worth_it:
            best = self.passing[0] if self.passing else None
            gain = f"{best.extra_wh_day:.0f} Wh a day more" if best and best.extra_wh_day >= 0.5 else "no more"
            more = f"; the best on the list, {best.name}, brings {gain}" if best else "; nothing on the list passes"
            sentence = f"Keep what you have: it brings {self.now.wh_day:.0f} Wh a day{more}."
            return "no", best.extra_wh_day if best else 0.0, sentence
        first = self.worth_it[0]
        per = f", {first.price_per_wh_day:.1f} for each Wh a day" if first.price_per_wh_day is not None else ""
        share = f" ({100 * first.extra_wh_day / self.now.wh_day:.0f} %)" if self.now.wh_day > 0 else ""
        gain = f"{_told(first)} brings {first.extra_wh_day:.0f} Wh a day more than now{share}{per}"
        return "yes", first.extra_wh_day, f"{gain}; what is there now brings {self.now.wh_day:.0f}."

    def _must_go(self) -> tuple[Answer, float, str]:
        """What replaces a controller that may not stay."""
        refused = self.now.choice.refused
        assert refused is not None
        priced = sorted(self.passing, key=lambda offer: (offer.controller.price is None, offer.controller.price or 0.0))
        if not priced:
            return "no", 0.0, f"Neither what is there now nor any on the list passes. {refused.sentence}"
        first, most = priced[0], self.passing[0]
        cheap = f"The cheapest that passes is {_told(first)}, {first.wh_day:.0f} Wh a day"
        rest = "" if most is first else f"; most comes from {most.name}, {most.wh_day:.0f}"
        return "yes", first.wh_day, f"What is there now must go: {refused.sentence} {cheap}{rest}."


def shortlist(
    rig: Rig,
    candidates: Sequence[Controller],
    request: Outlook,
    *,
    rewire: bool = False,
    progress: Progress | None = None,
) -> Shortlist:
    """Controllers on offer on the first circuit of a rig, over the days of a weather.

    Parameters
    ----------
    candidates : sequence of Controller
        For example `recipes.read_candidates("my-list.csv")`.
    request : Outlook
        `Outlook(weather="sand-point", day="all")` for a year.
    rewire : bool
        Try every wiring on each controller and take the best that is allowed, instead of the one there is.
    progress : callable, optional
        Wraps the list of what is tried, as `tqdm.auto.tqdm` does.

    Examples
    --------
    >>> from vanpower import Outlook, load_rig, read_candidates
    >>> rig = load_rig("bookmobile")
    >>> shortlist(rig, read_candidates(), Outlook(day="dull")).verdict().answer
    'no'
    """
    if not candidates:
        raise ValueError("the shortlist is empty; list at least one controller.")
    rigs = {NOW: rig} | {one.name: with_controller(rig, one) for one in candidates}
    tried = {(name, way): other for name, one in rigs.items() for way, other in _ways(one, rewire).items()}
    named = {f"{name}: {way}": other for (name, way), other in tried.items()}
    outcomes = compare(named, request, progress=progress).outcomes
    days = find_day(request.weather, request.day).days
    best = {}
    for name, one in rigs.items():
        ways = [
            choice_of(way, tried[name, way], outcomes[f"{name}: {way}"].energy_wh / days) for way in _ways(one, rewire)
        ]
        best[name] = min(ways, key=lambda choice: (choice.refused is not None, -choice.energy))
    now = best[NOW].energy
    made = [
        Offer(name=name, controller=one.circuits[0].controller, choice=best[name], wh_day=best[name].energy,
              extra_wh_day=best[name].energy - now)
        for name, one in rigs.items()
    ]  # fmt: skip
    title = find_day(request.weather, request.day).title
    return Shortlist(rig, title, made[0], tuple(made[1:]), days)


def with_controller(rig: Rig, controller: Controller) -> Rig:
    """The rig with another controller on its first circuit.

    Examples
    --------
    >>> from vanpower import Snapshot, load_rig
    >>> small = Controller(name="10 A", v_pv_max=80.0, i_charge_max=10.0)
    >>> found = compare({"small": with_controller(load_rig("bookmobile"), small)}, Snapshot(light=1000, temp_cell=25))
    >>> round(found.outcomes["small"].energy_wh)
    133
    """
    first, *others = rig.circuits
    return replace(rig, circuits=(replace(first, controller=controller), *others))


def _ways(rig: Rig, rewire: bool) -> dict[str, Rig]:
    """The rig as it is wired, and where asked for in every wiring."""
    name = rig.circuits[0].wiring.name
    return {name: rig} | (alternatives(rig) if rewire else {})


def _told(offer: Offer) -> str:
    """An offer with its wiring and price."""
    price = "" if offer.controller.price is None else f" for {offer.controller.price:g}"
    return f"{offer.name} as {offer.choice.name}{price}"
