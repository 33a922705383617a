"""A trip day by day: what sun and other sources gave, what the loads asked for and did not get, and the charge."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.patheffects import withStroke

from vanpower.checks.registry import refusal
from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.names import barred
from vanpower.figures.style import (
    FONT,
    HATCHED,
    INK,
    ROLES,
    SERIES,
    SOFT,
    Chart,
    even_ticks,
    fitted_top,
    new_axes,
    title_line,
    width_of,
)
from vanpower.results.numbers import watt_hours
from vanpower.studies.trips import Trip

Array = np.ndarray

WIDE = 0.74
# of a day's bar, as a share of the day
TICKS = {True: 5, False: 9}
# dates below the axis, on a phone and on a page
SUN, OTHERS, CUT, LOADS = "from the sun", "other sources", "cut", "loads"
# what bars and their line are called
COLOURS = {OTHERS: SERIES.words, CUT: ROLES["loads"], LOADS: ROLES["loads"]}
# of words; those of the sun are ink, since yellow ones cannot be read
ABOVE, LINE = 1.07, 0.07
# times the highest bar where the axis ends without names of stops above, and what each line of them takes more


class TripChart(Chart):
    """Bars of what each day took from sun and other sources, the loads, and the battery's charge over a trip.

    Examples
    --------
    >>> from vanpower import Stop, example, walk_trip
    >>> stop = Stop(name="beach", weather="miami", from_day="07-04", to_day="07-05")
    >>> chart = TripChart()
    >>> chart.update(walk_trip(example("bookmobile"), (stop,), changes=False))
    >>> print(chart.title)
    Carried: the charge is lowest on 4 Jul, 65 %
    """

    size = (5.5, 4.2)

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self._keep_room(4)
        self.right = self.ax.twinx()
        self.right.set_ylabel("Solid line: charge (%)", fontsize=FONT, color=SOFT)
        self.right.tick_params(labelsize=FONT, labelcolor=SOFT)
        self.right.spines[["top", "left"]].set_visible(False)
        # nothing stands above the axes that a title would have to be looked for a place above, at every drawing
        self.title_look["y"] = 1.0
        self.right.set_title("", y=1.0)
        self.moving = [title_line(self.ax)]

    def update(self, trip: Trip) -> None:
        """Show a trip."""
        self._redraw_behind()
        days = trip.days
        used, fed, load, lacks = (
            np.array([getattr(day, what) for day in days]) for what in ("used_wh", "fed_wh", "load_wh", "cut_wh")
        )
        top = fitted_top(max(float((used + fed).max()), float(load.max()), 1.0))
        self._bars(0.0 * used, used, fc=ROLES["light"], ec=ROLES["shade"], hatch="////")
        if trip.rig.sources:
            self._bars(used, used + fed, fc=SERIES.colour, lw=0.0)
        self._bars(load - lacks, load, fc="none", ec=ROLES["loads"], hatch="xx", label=CUT)
        halo = [withStroke(linewidth=3.6, foreground="white")]
        drawn = self.ax.stairs(
            load, np.arange(len(days) + 1), baseline=None, color=ROLES["loads"], ls="--", lw=1.8,
            path_effects=halo,
        )  # fmt: skip
        self._behind(drawn, self._charge(trip))
        stops = self._named_stops(trip)
        above = ABOVE + LINE * max(name.count("\n") + 1 for name, _ in stops)
        frame = top, above, len(days)
        if frame != self.frame:
            self._axes(top, above, len(days))
            self.frame = frame
        self._dates(trip)
        self._stops(stops, 0.99 * above * top)
        self._name({SUN: (0.0 * used, used), OTHERS: (used, used + fed), CUT: (load - lacks, load)}, load, above * top)
        self.moving = [title_line(self.ax), self.ax.xaxis, *self._still]
        self._say(trip_finding(trip))

    def _bars(self, bottom: Array, top: Array, **style: Any) -> None:
        """A bar a day from one height to another, all as one patch, which is drawn three times as fast as one each."""
        left = np.arange(len(top)) + 0.5 * (1.0 - WIDE)
        right = left + WIDE
        corners = [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
        codes = (Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY)
        path = Path(np.array(corners).transpose(2, 0, 1).reshape(-1, 2), codes * len(top))
        self._behind(self.ax.add_patch(PathPatch(path, **style)))

    def _charge(self, trip: Trip) -> Axes:
        """The battery's charge, moment by moment, along the days."""
        at, soc = [0.0], [100.0 * trip.legs[0][1].outcomes[trip.rig.wiring_name].store.soc_start]
        before = 0
        for _, run in trip.legs:
            rows = run.outcomes[trip.rig.wiring_name].rows
            hours = (run.time - run.dates[0]) / np.timedelta64(1, "h") + run.step_h
            at += (before + hours / 24.0).tolist()
            soc += (100.0 * rows.soc).tolist()
            before += len(run.dates)
        (line,) = self.right.plot(at, soc, color="black", lw=2.0)
        line.set_path_effects([withStroke(linewidth=4.0, foreground="white")])
        return line  # type: ignore[return-value]

    def _axes(self, top: float, above: float, days: int) -> None:
        """Limits and ticks."""
        self.ax.set_xlim(0, days)
        self.ax.set_ylim(0, above * top)
        self.ax.set_yticks(even_ticks(top))
        self.right.set_ylim(0, 104 * above)
        self.right.set_yticks(even_ticks(100.0))
        self._labels("", "Watt-hours a day (Wh)")

    def _name(self, what: Mapping[str, tuple[Array, Array]], load: Array, high: float) -> None:
        """Names of bars at the largest of each kind that is there, and of the loads at their line."""
        days = np.arange(len(load)) + 0.5
        told = {LOADS: (days[0], load[0])}
        for said, (bottom, top) in what.items():
            day = int(np.argmax(top - bottom))
            if top[day] > bottom[day]:
                told[said] = (days[day], (bottom[day] + top[day]) / 2)
        names = [named_at(self.ax, said, COLOURS.get(said, INK)) for said in told]
        self._behind(*(part for name in names for part in name.parts))
        (line,) = self.right.lines
        at, soc = np.asarray(line.get_xydata()).T
        charge = np.column_stack([at, soc * high / self.right.get_ylim()[1]])
        along = np.linspace(0.0, len(load), 6 * len(load))
        loads = np.column_stack([along, load[np.minimum(along.astype(int), len(load) - 1)]])
        settle(self.ax, names, np.array(list(told.values())), np.concatenate([charge, loads]))

    def _dates(self, trip: Trip) -> None:
        """Days below the axis, as many as have room."""
        days = trip.days
        every = -(-len(days) // TICKS[self.phone])
        self.ax.set_xticks([k + 0.5 for k in range(0, len(days), every)], [day.said for day in days[::every]])

    def _named_stops(self, trip: Trip) -> list[tuple[str, int]]:
        """Each stop's name as its days have room for, on two lines where one is too short; and how many these are."""
        inch = 0.92 * 0.72 * (self.size if self.phone else self.page)[0] / len(trip.days)
        held = [(name, len(list(days))) for name, days in groupby(trip.days, key=lambda day: day.stop)]
        return [(_fitted(name, inch * count), count) for name, count in held]

    def _stops(self, stops: list[tuple[str, int]], top: float) -> None:
        """A line where one stop ends, and each name above its days."""
        begin = 0
        for name, count in stops:
            if begin:
                self._behind(self.ax.axvline(begin, color=HATCHED, lw=1.2, zorder=0))
            middle = begin + count / 2
            self._behind(self.ax.text(middle, top, name, ha="center", va="top", fontsize=FONT, color=SOFT))
            begin += count


def _fitted(name: str, room: float) -> str:
    """A name in one line of so many inches, or in two; a point stands for what has no room even then.

    Examples
    --------
    >>> _fitted("hills on the way", 2.0), _fitted("hills on the way", 0.8), _fitted("hills", 0.3)
    ('hills on the way', 'hills on\\nthe way', 'hill.')
    """
    words = name.split()
    ways = [name, *(f"{' '.join(words[:k])}\n{' '.join(words[k:])}" for k in range(1, len(words)))]
    letters = [f"{name[:count].rstrip()}." for count in range(len(name) - 1, 0, -1)]
    wide = {way: max(map(width_of, way.split("\n"))) for way in [*ways, *letters]}
    whole = [way for way in ways[:1] if wide[way] <= room] or sorted(
        (way for way in ways[1:] if wide[way] <= room), key=lambda way: wide[way]
    )
    return next(iter([*whole, *(way for way in letters if wide[way] <= room)]), "")


def trip_finding(trip: Trip) -> str:
    """A trip in a line."""
    if refusal(trip.rig) is not None:
        return barred(trip.rig.wiring_name)
    if not trip.short:
        lowest = min(trip.days, key=lambda day: day.lowest_pct)
        carried = "Carried" if any(day.load_wh for day in trip.days) else "No loads"
        return f"{carried}: the charge is lowest on {lowest.said}, {lowest.lowest_pct:.0f} %"
    first = f"; least change: {trip.changes[0].what}" if trip.changes else ""
    days = "day" if len(trip.short) == 1 else "days"
    return f"{len(trip.short)} of {len(trip.days)} {days} short, {watt_hours(trip.cut_wh)} cut{first}"


def plot_trip(trip: Trip, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """The days of a trip; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Stop, example, walk_trip
    >>> stop = Stop(name="beach", weather="miami", from_day="07-04", to_day="07-05")
    >>> trip = walk_trip(example("bookmobile"), (stop,), changes=False)
    >>> plot_trip(trip, ax=Figure().subplots()).get_ylabel()
    'Watt-hours a day (Wh)'
    """
    chart = TripChart(new_axes(ax, TripChart.size if phone else TripChart.page), phone=phone)
    chart.update(trip)
    return chart.ax
