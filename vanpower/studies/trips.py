"""A trip: the battery walked across its stops, which days fall short, and the least change that carries it.

Each stop has its own weather, and the battery goes on as the stop before left it. A typical year's days are put
together from many years: a real November may be duller, so the trip is also walked a week and two weeks earlier and
later. Left out: where the nose points while driving, what the engine's heat does, and drives longer than the charger
can bear.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial, reduce
from itertools import accumulate
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np

from vanpower.checks.caveats import caveats, dull_words, short_of
from vanpower.checks.coldest import planned_for
from vanpower.checks.glance import reason
from vanpower.checks.plugs_and_isolator import touch_cautions, wind_caution
from vanpower.checks.registry import lacking, refusal
from vanpower.files.stops import read_stops
from vanpower.model.light import Progress
from vanpower.results.numbers import known_in, watt_hours
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import (
    ALTERNATOR,
    LIT_IN_SHADE,
    MONTHS,
    SHORE,
    Days,
    Load,
    Rig,
    Shade,
    Source,
    Stop,
    dates_of,
    possible,
)
from vanpower.simulation.frost import COLD_STEPS, frost_caution, frost_said, marks
from vanpower.simulation.needs import Going
from vanpower.simulation.run import Leg, RigRun, Run, walked, whole_day
from vanpower.weather.days import find_day
from vanpower.weather.typical_years import TYPICAL_YEARS

SHORT_WH = 1.0
# [Wh] cut on a day from which it falls short; less is rounding
THIN = 0.1
# share of the usable charge below which the lowest point of a trip is close; no source
QUARTER = 90.0
# [degrees] by which a van that stands another way each day is turned
SHIFTS = (-14, -7, 7, 14)
# [days] by which a trip is moved to see whether other days of the same season carry it as well
I_BELT, I_SHORE = 30.0, 20.0
# [A] of a charger from the alternator and of one on shore, where the rig has none; common practice, no source
DRIVES_H = tuple(0.5 * k for k in range(1, 17))
# [h] of driving a day that are tried
SHORE_DAYS = (14, 10, 7, 6, 5, 4, 3, 2, 1)
# days after which shore is tried
MORE = tuple(0.1 * k for k in range(1, 21))
# share by which watts and amp-hours are tried to be raised
LESS = tuple(0.05 * k for k in range(1, 19))
# share by which loads are tried to be cut
WARMING = 0.05
# place of a warm battery among other changes, behind another wiring; no source
TILTS, TILTING = (15.0, 30.0, 45.0, 60.0), 0.1
# [degrees] by which flat panels are tried to be tilted at stops, and the place of it among other changes; no source
LACKING = 0.2
# by which a change that needs a charger, which the van has not, comes behind; no source
STEP_W, STEP_AH = 10.0, 10.0
# [W, Ah] to which what is added is rounded up
TOLD_DAYS = 4
# days that a sentence names; the rest is counted


@dataclass(frozen=True, kw_only=True)
class TripDay:
    """One day of a trip.

    Parameters
    ----------
    date, stop : str
        Month-day, and where the van stands.
    sun_wh, used_wh, fed_wh, load_wh, served_wh : float
        What the sun offered, what was taken of it, what other sources gave, what loads asked for and got. [Wh]
    charge_pct, lowest_pct : float
        Charge of the battery at the day's end, and its lowest. [%]

    Examples
    --------
    >>> dull = TripDay(date="11-10", stop="harbour", sun_wh=90.0, used_wh=90.0, fed_wh=0.0, load_wh=400.0,
    ...                served_wh=310.0, charge_pct=20.0, lowest_pct=20.0)
    >>> dull.cut_wh
    90.0
    """

    date: str
    stop: str
    sun_wh: float
    used_wh: float
    fed_wh: float
    load_wh: float
    served_wh: float
    charge_pct: float
    lowest_pct: float

    @property
    def cut_wh(self) -> float:
        """What the loads did not get. [Wh]"""
        return self.load_wh - self.served_wh

    @property
    def said(self) -> str:
        """The day as sentences call it, "10 Nov"."""
        return f"{int(self.date[3:])} {MONTHS[int(self.date[:2]) - 1][:3]}"


@dataclass(frozen=True, kw_only=True)
class TripChange:
    """One change that carries a trip by itself.

    Parameters
    ----------
    what : str
        In words, "drive 1.5 h a day".
    effort : float
        How large it is, as a share of what is there, for the order alone.

    Examples
    --------
    >>> changes = [TripChange(what="80 Ah more", effort=0.8), TripChange(what="wire it 2s", effort=0.0)]
    >>> min(changes, key=lambda change: change.effort).what
    'wire it 2s'
    """

    what: str
    effort: float


@dataclass(frozen=True, eq=False, repr=False)
class Trip(Result):
    """Result of `walk_trip`: one rig across the stops of a trip.

    Parameters
    ----------
    rig : Rig
    stops : tuple of Stop
    legs : tuple of (int, Run)
        The stop by its number, and the run of some of its days, in order.
    changes : tuple of TripChange, optional
        Each carries the trip by itself, the least first; empty where the trip is carried, or nothing tried does. None
        where nobody looked for any.
    moved : (int, int)
        On how many of so many other dates of the same season the trip is carried.

    Examples
    --------
    >>> from vanpower import example
    >>> stop = Stop(name="beach", weather="miami", from_day="07-04", to_day="07-05")
    >>> trip = walk_trip(example("bookmobile"), (stop,))
    >>> [(day.said, round(day.load_wh), day.cut_wh) for day in trip.days]
    [('4 Jul', 408, 0.0), ('5 Jul', 408, 0.0)]
    """

    rig: Rig
    stops: tuple[Stop, ...]
    legs: tuple[tuple[int, Run], ...]
    changes: tuple[TripChange, ...] | None = None
    moved: tuple[int, int] = (0, 0)

    @cached_property
    def days(self) -> list[TripDay]:
        """Every day of the trip in order."""
        return [day for number, run in self.legs for day in _days_of(run, self.stops[number].name)]

    @property
    def short(self) -> list[TripDay]:
        """The days on which loads are cut."""
        return [day for day in self.days if day.cut_wh > SHORT_WH]

    @property
    def cut_wh(self) -> float:
        """What the loads did not get. [Wh]"""
        return sum(day.cut_wh for day in self.days)

    @property
    def fed_wh(self) -> dict[str, float]:
        """Energy from each source besides the sun, by its name. [Wh]"""
        found: dict[str, float] = {}
        for _, run in self.legs:
            for source, wh in run.fed_wh(_name(run)).items():
                found[source] = found.get(source, 0.0) + wh
        return found

    @property
    def reserve_wh(self) -> float:
        """What loads could still take of the battery at its lowest point. [Wh]"""
        store = self._outcomes[0].store
        lowest = min(float(outcome.rows.soc.min()) for outcome in self._outcomes)
        return store.energy_wh(max(lowest, store.soc_flat)) - store.energy_wh(store.soc_flat)

    @property
    def _outcomes(self) -> list[RigRun]:
        """What happened to the rig, leg by leg."""
        return [run.outcomes[_name(run)] for _, run in self.legs]

    @property
    def title(self) -> str:
        """The trip in a few words."""
        first, last = self.days[0], self.days[-1]
        places = " to ".join(dict.fromkeys((self.stops[0].name, self.stops[-1].name)))
        return f"{len(self.days)} days, {first.said} to {last.said}, {places}"

    def table(self, what: None = None) -> Table:
        """A line a day: what was taken from the sun and fed, loads and what they did not get, charge."""
        columns = (
            Column(name="day", left=True, width=6),
            Column(name="stop", left=True, say=_short_name),
            Column(name="sun", unit="Wh", aside=True),
            Column(name="used", unit="Wh", head="used", gap=1, width=5),
            *(Column(name="others", unit="Wh", head="others", gap=1, width=6),) * bool(self.rig.sources),
            Column(name="loads", unit="Wh", head="loads", gap=1, width=5),
            Column(name="cut", unit="Wh", head="cut", gap=1, width=4),
            Column(name="lowest", unit="%", head="lowest", gap=1, width=6, digits=0),
            Column(name="at end", unit="%", head="end", gap=1, width=3, digits=0),
        )
        return Table(columns, [self._line(day) for day in self.days], note=COLUMNS)

    def _line(self, day: TripDay) -> tuple[Any, ...]:
        """What stands in the table of one day."""
        fed = [day.fed_wh] * bool(self.rig.sources)
        return (
            day.said, day.stop, day.sun_wh, day.used_wh, *fed, day.load_wh, day.cut_wh, day.lowest_pct, day.charge_pct
        )  # fmt: skip

    @property
    def verdict(self) -> Verdict:
        """Whether the trip is carried; if not, which days fall short, and the least change that carries it."""
        if out := refusal(self.rig):
            return self._refused(out)
        carried = not self.short
        said = [self._shortage(), self._remedies()] if not carried else [self._carried()]
        return Verdict(
            question=self._question,
            answer=self._answer(),
            margin=self.reserve_wh if carried else -self.cut_wh,
            unit="Wh",
            sentence=" ".join(
                filter(None, [*said, self._unfit(), self._fed_said(), self._moved_said(), self._unused()])
            ),
            basis="; ".join(self._basis()),
            caution=" ".join(filter(None, self._cautions())),
        )

    def _refused(self, out: Verdict) -> Verdict:
        """That the rig may not be used as it is wired, whatever the weather."""
        return replace(out, question=self._question, answer="no", sentence=f"Not as it is wired. {reason(out)}")

    @property
    def _question(self) -> str:
        """What is asked."""
        return f"Does {self.rig.name} carry this trip ({self.title})?"

    def _answer(self) -> Answer:
        """Yes, no, or close: carried with little left, or not on other days of the season."""
        if self.short:
            return "no"
        thin = self.reserve_wh < THIN * self._outcomes[0].store.usable_wh
        return "close" if thin or self.moved[0] < self.moved[1] or not self._asked_wh else "yes"

    @property
    def _asked_wh(self) -> float:
        """What all loads ask for. [Wh]"""
        return sum(day.load_wh for day in self.days)

    def _unfit(self) -> str:
        """That the wiring does not suit the battery, in the words of the other answers."""
        short = short_of(self.rig)
        return f"{self.rig.wiring_name} does not work for this van: {short}." if short else ""

    def _carried(self) -> str:
        """What is left at the lowest point."""
        if not self._asked_wh:
            said = "The loads draw 0 W" if self.rig.loads else "No loads are described"
            return f"{said}, so nothing can fall short."
        lowest = min(self.days, key=lambda day: day.lowest_pct)
        return (
            f"Nothing is cut. The battery is lowest on {lowest.said} at {lowest.stop}, {lowest.lowest_pct:.0f} %, with "
            f"{watt_hours(self.reserve_wh)} left for loads."
        )

    def _shortage(self) -> str:
        """Which days fall short, and by how much."""
        short, worst = self.short, max(self.short, key=lambda day: day.cut_wh)
        named = ", ".join(day.said for day in short[:TOLD_DAYS])
        more = f" and {len(short) - TOLD_DAYS} more" if len(short) > TOLD_DAYS else ""
        cut, asked = known_in(worst.cut_wh, "Wh"), known_in(worst.load_wh, "Wh")
        missed = f"all {asked}" if cut == asked else f"{cut} of {asked}"
        if len(short) == 1:
            return f"1 of {len(self.days)} days falls short, {worst.said} at {worst.stop} by {missed}."
        return (
            f"{len(short)} of {len(self.days)} days fall short, {watt_hours(self.cut_wh)} in all. They are "
            f"{named}{more}; most is cut on {worst.said} at {worst.stop}, {missed}."
        )

    def _remedies(self) -> str:
        """What would carry it, the least change first."""
        if self.changes is None:
            return ""
        if not self.changes:
            return (
                "No single change of those tried carries it: another wiring, tilted panels, "
                f"{DRIVES_H[-1]:g} h of driving a day, shore every day, up to {1 + MORE[-1]:g} times the panels or the "
                f"battery, {100 * LESS[-1]:.0f} % less use."
            )
        first, *others = [change.what for change in self.changes]
        also = f" Or, each by itself: {'; '.join(others)}." if others else ""
        return f"The least change that carries it: {first}.{also}"

    def _fed_said(self) -> str:
        """What other sources gave."""
        told = ", ".join(f"{name} {watt_hours(wh)}" for name, wh in self.fed_wh.items() if wh > SHORT_WH)
        return f"Besides the sun: {told}." if told else ""

    def _moved_said(self) -> str:
        """On how many other dates of the season it is carried."""
        carried, tried = self.moved
        known = tried and self._asked_wh
        return f"A week or two earlier or later it is carried on {carried} of {tried} dates." if known else ""

    def _unused(self) -> str:
        """What the stops offer and the van has no charger for."""
        kinds = {source.kind for source in self.rig.sources}
        said = []
        if self._drives_h and ALTERNATOR not in kinds:
            said.append(f"It drives {self._drives_h:g} h, and none of its chargers is fed by the alternator.")
        if any(stop.shore for stop in self.stops) and SHORE not in kinds:
            said.append("It is plugged in to shore, and no charger for it is among its other chargers.")
        return " ".join(said)

    @cached_property
    def _drives_h(self) -> float:
        """Hours driven on the whole trip. [h]"""
        days = zip(self.stops, dates_of(self.stops), strict=True)
        return sum(stop.drives_h(first=day == 0) for stop, dates in days for day in range(len(dates)))

    def _basis(self) -> list[str]:
        """What the answer rests on."""
        store = self._outcomes[0].store
        notes = [note for _, run in self.legs for note in caveats(run.outcomes[_name(run)].rig.panels, run.request)]
        typical = any(stop.weather in TYPICAL_YEARS for stop in self.stops)
        shaded = any(stop.shade_pct > 0 for stop in self.stops)
        return [
            f"charge at the start {100 * store.soc_start:.0f} %",
            *["a typical year's days, and a real year has duller ones"] * typical,
            *[f"in shade {100 * LIT_IN_SHADE:.0f} % of the light is left, which is common practice"] * shaded,
            *["fridges take more as the air outside warms, and the air in a van is warmer"] * self._has_fridge,
            *[
                f"{cable.name} is plugged in on the last of every {cable.every_days} days, whatever the stops say"
                for cable in self.rig.sources
                if cable.kind == SHORE and cable.every_days > 1
            ],
            *["shadows of what stands on the roof are left out where panels are tilted"] * self._without_shadows,
            *[f"panels beside the van count as set out also in the {self._drives_h:g} h that it drives"]
            * (self._drives_h > 0 and any(panel.turn_deg for panel in self.rig.panels)),
            *["weekdays are those of the weather file's year"] * any(load.days for load in self.rig.loads),
            *self._frost(),
            *store.notes,
            *dict.fromkeys(notes),
            *self._dull(),
        ]

    def _frost(self) -> list[str]:
        """How warm the battery is taken to be, and what frost leaves on the roof."""
        lost = sum(float(outcome.by_day[step].sum()) for outcome in self._outcomes for step in COLD_STEPS)
        first = self._outcomes[0]
        return frost_said(self.rig, first.store, lost, measured=first.measured)

    def _dull(self) -> list[str]:
        """What the panels' labels leave open of the trip's energy, where most of it comes in dull light."""
        if not any(outcome.dull for outcome in self._outcomes):
            return []
        low, high = (sum(ends) for ends in zip(*(run.band_wh(_name(run)) for _, run in self.legs), strict=True))
        return [dull_words(self.rig.wiring_name, self.rig, (low, high), "Wh")] if high > SHORT_WH else []

    @property
    def _without_shadows(self) -> bool:
        """Whether panels leave a roof's plan at a stop."""
        return self.rig.roof is not None and any(stop.tilt_deg is not None for stop in self.stops)

    @property
    def _has_fridge(self) -> bool:
        """Whether a load follows the air."""
        return any(load.temp_inside is not None for load in self.rig.loads)

    def _cautions(self) -> list[str]:
        """Frost, volts not to be touched, and panels that wind may take."""
        frozen = any(outcome.rows.temp_battery.min() < outcome.store.temp_lockout for outcome in self._outcomes)
        tilted = any(stop.tilt_deg for stop in self.stops)
        rigs = {_name(run): self.rig for _, run in self.legs[:1]}
        said = [wind_caution(_as_it_stands(self.rig, stop), tilted=tilted) for stop in self.stops]
        return [frost_caution(self.rig) * frozen, *touch_cautions(rigs), max(said, key=len)]


COLUMNS = """\
(Wh a day. used: taken from the sun by loads and battery; others: from other sources; cut: asked for by the loads and
not served; lowest, end: charge of the battery, %)"""
# what stands in the table


def walk_trip(
    rig: Rig, stops: Sequence[Stop] | str | Path, *, changes: bool = True, progress: Progress | None = None
) -> Trip:
    """Whether a rig carries a trip; if not, which days fall short and what would carry it.

    Parameters
    ----------
    rig : Rig
        Its battery needs a capacity; its sources are the alternator's charger and others.
    stops : sequence of Stop, str or path
        Every day of the trip is at one stop; or the file that has them, or "three-coasts", the example.
    changes : bool
        Whether to look for what would carry it, and at other dates; a dozen walks more.
    progress : callable, optional
        Wraps the list of kinds of changes, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Trip

    Raises
    ------
    ValueError
        For stops with a gap between them, and for weather that lacks one of the days.

    Examples
    --------
    >>> from vanpower import example
    >>> north = Stop(name="harbour", weather="sand-point", from_day="12-01", to_day="12-06")
    >>> trip = walk_trip(example("bookmobile"), (north,), changes=False)
    >>> trip.verdict.answer, len(trip.short)
    ('no', 5)
    """
    stops = read_stops(stops) if isinstance(stops, str | Path) else tuple(stops)
    if not stops:
        raise ValueError("a trip needs at least one stop; write [[stops]].")
    for stop in stops:
        _check_weather(stop)
    rig = _planned(rig, stops)
    trip = Trip(rig, stops, tuple(_walk(rig, stops)))
    if not changes:
        return trip
    found = tuple(_changes(trip, progress)) if trip.short and refusal(rig) is None else ()
    return replace(trip, changes=found, moved=_moved(rig, stops))


def _check_weather(stop: Stop) -> None:
    """Refuse a stop whose weather is none, with its name."""
    try:
        find_day(stop.weather, "all")
    except ValueError as trouble:
        raise ValueError(f"{stop.name}: {trouble}") from None


def _walk(rig: Rig, stops: Sequence[Stop]) -> list[tuple[int, Run]]:
    """Every leg of a trip in order, by the number of its stop, the battery going on as the leg before left it."""
    dates = dates_of(stops)
    first = accumulate(map(len, dates), initial=0)
    legs = [(place, leg) for place, stop in enumerate(stops) for leg in _legs(rig, stop, dates[place], next(first))]
    return list(zip((place for place, _ in legs), walked([leg for _, leg in legs]), strict=True))


def _planned(rig: Rig, stops: Sequence[Stop]) -> Rig:
    """The rig with the coldest dawn of all stops, where its own plan is milder."""
    days = zip(stops, dates_of(stops), strict=True)
    asked = (_request(rig, stop, held, 0) for stop, dates in days for _, held in _spans(dates, apart=False))
    return reduce(planned_for, asked, rig)


def _legs(rig: Rig, stop: Stop, dates: Sequence[str], number: int) -> Iterator[Leg]:
    """The days of a stop as they are walked; `number` of its first day in the trip."""
    there = _as_it_stands(rig, stop)
    for first, held in _spans(dates, apart=stop.turns_daily and _minds_heading(there)):
        going = Going(
            drive_h=tuple(stop.drives_h(day == 0) for day in range(first, first + len(held))),
            drive_from_h=stop.drive_from_h, shore=stop.shore, day=number + first,
        )  # fmt: skip
        yield Leg({rig.wiring_name: there}, whole_day(_request(there, stop, held, number + first)), going)


def _minds_heading(rig: Rig) -> bool:
    """Whether it matters which way the van stands: to shadows on its roof, and to tilted panels that stay on it."""
    return rig.roof is not None or any(panel.tilt_deg and not panel.turn_deg for panel in rig.panels)


def _spans(dates: Sequence[str], *, apart: bool) -> Iterator[tuple[int, Sequence[str]]]:
    """The days of a stop in runs of one year, or each apart, with the number of the first of each."""
    begins = [k for k in range(len(dates)) if k == 0 or apart or dates[k] < dates[k - 1]]
    for begin, end in zip(begins, [*begins[1:], len(dates)], strict=True):
        yield begin, dates[begin:end]


def _request(rig: Rig, stop: Stop, dates: Sequence[str], number: int) -> Days:
    """What is asked of some days of a stop."""
    lit = 1.0 - stop.shade_pct / 100.0 * (1.0 - LIT_IN_SHADE)
    shade = tuple(Shade(panel=panel, lit=lit) for panel in range(len(rig.panels))) if lit < 1 else ()
    turned = (stop.heading_deg + QUARTER * number * stop.turns_daily) % 360.0
    return Days(weather=stop.weather, day=f"{dates[0]}..{dates[-1]}", shade=shade, heading_deg=turned)


def _as_it_stands(rig: Rig, stop: Stop) -> Rig:
    """The rig with its panels tilted as they are at a stop; without the shadows of its roof then.

    Panels that the rig itself has turned by hand stand beside the van, and keep their own tilt and way.
    """
    roof = [number for number, panel in enumerate(rig.panels) if not panel.turn_deg]
    if stop.tilt_deg is None or not roof:
        return rig
    faces = _noon(stop) if stop.faces_deg is None else stop.faces_deg
    azimuth = faces if stop.turn_deg else (faces - stop.heading_deg) % 360.0
    mount = "open" if stop.tilt_deg > 0 else "gap"
    return rig.changed(roof=None).with_panels(
        only=roof, tilt_deg=stop.tilt_deg, azimuth_deg=azimuth, turn_deg=stop.turn_deg, mount=mount
    )


def _noon(stop: Stop) -> float:
    """Where the noon sun stands at a stop. [degrees]"""
    position = find_day(stop.weather, f"{stop.from_day}..{stop.from_day}").position
    return 0.0 if position is not None and position[0] < 0 else 180.0


def _name(run: Run) -> str:
    """The one wiring that a leg was walked with."""
    return next(iter(run.outcomes))


def _days_of(run: Run, stop: str) -> Iterator[TripDay]:
    """The days of one leg."""
    outcome = run.outcomes[_name(run)]
    rows, day = outcome.rows, np.searchsorted(run.dates, run.time.astype("datetime64[D]"))
    for number, date in enumerate(np.datetime_as_string(run.dates, unit="D")):
        here = day == number
        sums = {
            what: float(watts[here].sum()) * run.step_h
            for what, watts in (
                ("sun_wh", rows.p_offered), ("used_wh", rows.p_used), ("fed_wh", rows.p_fed), ("load_wh", rows.p_load),
                ("served_wh", rows.p_served),
            )
        }  # fmt: skip
        charge = 100.0 * rows.soc[here]
        yield TripDay(
            date=date[5:], stop=stop, charge_pct=float(charge[-1]), lowest_pct=float(charge.min()), **sums
        )  # fmt: skip


def _carries(rig: Rig, stops: Sequence[Stop]) -> bool:
    """Whether nothing is cut."""
    return not Trip(rig, tuple(stops), tuple(_walk(rig, stops))).short


def _moved(rig: Rig, stops: Sequence[Stop]) -> tuple[int, int]:
    """On how many of so many other dates it is carried; none are tried where a weather is no whole year."""
    if any(stop.weather not in TYPICAL_YEARS for stop in stops):
        return 0, 0
    carried = [_carries(rig, [stop.later(days) for stop in stops]) for days in SHIFTS]
    return sum(carried), len(carried)


# What would carry it


def _changes(trip: Trip, progress: Progress | None) -> list[TripChange]:
    """Every kind of change that carries the trip by itself, by its least amount."""
    kinds = (_rewired, _warmed, _tilted, _driven, _plugged_in, _more_watts, _more_amp_hours, _less_use)
    found = [change for kind in (kinds if progress is None else progress(kinds)) for change in kind(trip)]
    return sorted(found, key=lambda change: change.effort)


def _least(values: Sequence[float], carries: Callable[[float], bool]) -> float | None:
    """The first of some values, each more than the one before, that carries; None where the last does not."""
    if not values or not carries(values[-1]):
        return None
    return values[bisect_left(values[:-1], True, key=carries)]


def _rewired(trip: Trip) -> Iterator[TripChange]:
    """Another wiring of the same panels, where nothing forbids it."""
    for name, rig in trip.rig.wirings().items():
        if rig.wiring_name == trip.rig.wiring_name or refusal(rig) is not None or short_of(rig):
            continue
        if _carries(rig, trip.stops):
            first = f" (first put right: {', '.join(lacks)})" if (lacks := lacking(rig)) else ""
            yield TripChange(what=f"wire it {name} instead of {trip.rig.circuits[0].wiring.name}{first}", effort=0.0)
            return


def _warmth(trip: Trip) -> float | None:
    """Where the battery takes charge again, where frost stopped it; None where it did not. [°C]"""
    lost = [float(outcome.by_day[step].sum()) for outcome in trip._outcomes for step in COLD_STEPS]
    return marks(trip.rig, trip._outcomes[0].store)[1] if max(lost) > SHORT_WH else None


def _warmed(trip: Trip) -> Iterator[TripChange]:
    """The battery kept from where it takes charge again, where frost stopped it."""
    temp = _warmth(trip)
    if temp is not None and _carries(trip.rig.with_battery(temp_heated=temp), trip.stops):
        yield TripChange(
            what=f"keep the battery at {temp:g} °C or above (what warms it is not counted)", effort=WARMING
        )


def _tilted(trip: Trip) -> Iterator[TripChange]:
    """Flat panels tilted towards the noon sun wherever the van stands in the sun and it is known where that is."""
    flat = all(panel.tilt_deg == 0 for panel in trip.rig.panels) and all(stop.tilt_deg is None for stop in trip.stops)
    sunny = [not stop.shade_pct and find_day(stop.weather, "all").position is not None for stop in trip.stops]
    for tilt in TILTS * (flat and any(sunny)):
        stops = [replace(stop, tilt_deg=tilt) if sun else stop for stop, sun in zip(trip.stops, sunny, strict=True)]
        if _carries(trip.rig, stops):
            yield TripChange(
                what=f"tilt the panels by hand at every stop in the sun, by {tilt:g} degrees towards noon, and lay "
                "them flat before wind and before driving off",
                effort=TILTING,
            )
            return


def _driven(trip: Trip) -> Iterator[TripChange]:
    """So many hours of driving on every day; with the battery kept from frost, where nothing else lets it charge."""
    belts = [source for source in trip.rig.sources if source.kind == ALTERNATOR]
    lacking = Source(name="alternator", kind=ALTERNATOR, i_charge_max=I_BELT)
    rig = trip.rig if belts else trip.rig.with_source(lacking)

    def least(of: Rig) -> float | None:
        return _least(DRIVES_H, lambda hours: _carries(of, [_driving(stop, hours) for stop in trip.stops]))

    with_it = "" if belts else f" with a charger of {I_BELT:g} A from the alternator, which it does not have,"
    lacks, temp = LACKING * (not belts), _warmth(trip)
    if hours := least(rig):
        yield TripChange(what=f"drive {hours:g} h a day{with_it}".rstrip(","), effort=lacks + hours / DRIVES_H[-1])
    elif temp is not None and (hours := least(rig.with_battery(temp_heated=temp))):
        warm = f" and keep the battery at {temp:g} °C or above"
        effort = lacks + hours / DRIVES_H[-1] + WARMING
        yield TripChange(what=f"drive {hours:g} h a day{with_it}{warm}", effort=effort)


def _driving(stop: Stop, hours: float) -> Stop:
    """A stop with at least so many hours driven on each day."""
    return replace(stop, drive_h=max(stop.drive_h, hours), drive_daily_h=max(stop.drive_daily_h, hours))


def _plugged_in(trip: Trip) -> Iterator[TripChange]:
    """A day on shore after so many days."""
    there = [source for source in trip.rig.sources if source.kind == SHORE]
    amps = (there[0].i_charge_max if there else None) or I_SHORE

    def carries(days: float) -> bool:
        cable = Source(name="shore now and then", kind=SHORE, i_charge_max=amps, every_days=int(days))
        # a cable of every day is plugged in where a stop says so
        stops = [replace(stop, shore=True) for stop in trip.stops] if days == 1 else trip.stops
        return _carries(trip.rig.with_source(cable), stops)

    tried = [days for days in SHORE_DAYS if days <= len(trip.days)]
    if days := _least(tried, carries):
        every = "every day" if days == 1 else f"one day in {days:g}"
        with_it = "" if there else f" with a charger of {I_SHORE:g} A, which it does not have"
        yield TripChange(what=f"plug in to shore {every}{with_it}", effort=LACKING * (not there) + 1.0 / days)


def _more_watts(trip: Trip) -> Iterator[TripChange]:
    """More watts on the roof, in panels alike, on the same controllers."""
    rig = trip.rig
    used = [panel for circuit in rig.circuits for panel in circuit.wiring.panels]
    there = sum(rig.panels[panel].p_mp for panel in used)
    steps = [STEP_W * ceil(share * there / STEP_W) for share in MORE]
    # a panel of more amps than any has cannot be described, and is not tried
    tried = [more for more in steps if possible(partial(_larger, rig, 1.0 + more / there))]
    if watts := _least(tried, lambda more: _carries(_larger(rig, 1.0 + more / there), trip.stops)):
        larger = _larger(rig, 1.0 + watts / there)
        other = ", on a controller rated for them" if refusal(larger) is not None else ""
        where = "in panels" if any(panel.turn_deg for panel in rig.panels) else "on the roof"
        yield TripChange(what=f"{watts:.0f} W more {where} (it has {there:.0f} W){other}", effort=watts / there)


def _larger(rig: Rig, times: float) -> Rig:
    """The rig with panels of so many times the amps, as so much more area in parallel has."""
    panels = [
        replace(panel, i_sc=panel.i_sc * times, i_mp=panel.i_mp * times, p_label=None, i_max_fuse=None)
        for panel in rig.panels
    ]
    return rig.with_panels(*panels)


def _more_amp_hours(trip: Trip) -> Iterator[TripChange]:
    """A larger battery of the same kind, as full at the start."""
    battery = trip.rig.battery
    assert battery.capacity_ah is not None
    there = battery.capacity_ah
    steps = [STEP_AH * ceil(share * there / STEP_AH) for share in MORE]

    def larger(more: float) -> Rig:
        times = 1.0 + more / there
        scaled = {"i_accept_max": times, "i_tail": times, "r_internal": 1.0 / times}
        known = {field: by * value for field, by in scaled.items() if (value := getattr(battery, field)) is not None}
        return trip.rig.with_battery(capacity_ah=there + more, **known)

    tried = [more for more in steps if possible(partial(larger, more))]
    if more := _least(tried, lambda more: _carries(larger(more), trip.stops)):
        yield TripChange(what=f"{more:.0f} Ah more (it has {there:g} Ah), as full at the start", effort=more / there)


def _less_use(trip: Trip) -> Iterator[TripChange]:
    """Every load cut by a share."""

    def carries(share: float) -> bool:
        loads = tuple(scaled_load(load, 1.0 - share) for load in trip.rig.loads)
        return _carries(trip.rig.changed(loads=loads), trip.stops)

    if share := _least(LESS, carries):
        yield TripChange(what=f"use {100 * share:.0f} % less", effort=share)


def scaled_load(load: Load, times: float) -> Load:
    """A load that takes so many times its power.

    Examples
    --------
    >>> from vanpower import Load
    >>> scaled_load(Load(name="lamp", p_load=10.0), 0.5).p_load
    5.0
    """
    if load.p_hourly is not None:
        return replace(load, p_hourly=tuple(times * watts for watts in load.p_hourly))
    return replace(load, p_load=times * (load.p_load or 0.0))


def _short_name(name: str) -> str:
    """The name of a stop as a table has it."""
    return name if len(name) <= LONGEST else f"{name[: LONGEST - 3].rstrip()}..."


LONGEST = 13
# letters of a stop's name in a table
