"""The roof in a ring of the sun's hours, its day and its hills: box, flue, panels and sun can be dragged.

The ring is the hour's slider and the compass in one: the sun stands on it where it stands in the sky, north is where
north is. Left out: how high the sun stands, which its shadows tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from vanpower.figures.handles import FREE, Handle, Point, in_picture, on_axes
from vanpower.figures.names import short_names
from vanpower.figures.panels_drawing import LIGHT, holding
from vanpower.figures.power import PowerChart
from vanpower.figures.roof import RoofChart, clock, loose_on
from vanpower.figures.style import FONT, INK, SOFT, even_ticks, looks_of, rung
from vanpower.figures.touchable import Line
from vanpower.results.numbers import known, watt_hours
from vanpower.results.verdict import Verdict
from vanpower.rig import Parked, Rig, Roof
from vanpower.rig.moved import Moved, put, things_on
from vanpower.studies.comparison import Comparison, Outcome, compare
from vanpower.studies.roof import FixtureCosts, costs_one_by_one
from vanpower.weather.beams import beams_of
from vanpower.weather.parked import parked_day

AROUND = 1.12
# radius of the ring in halves of the roof's diagonal
ROOM = 1.34
# half the drawing's width in radii of the ring: hours and names stand outside it
RING_HOURS = 0.1
# [h] between two points of the ring
ARROW_M = 0.05
# [m] by which an arrow key moves a thing; no source
LABELLED = 3
# [h] between two hours that are written
SIZES = {True: (4.6, 11.0), False: (10.0, 4.55)}
# [inch] on a phone and on a page
LABEL_HIGH, LABEL_OUT = 0.21, 0.06
# room for a name and its cost one above the other, and how far they stand off the roof, in radii of the ring
BESIDE_RING = 1.06
# right end of what stands at the plan's upper corner on a page, in shares of the plan's width: clear of its ring
LETTER_IN = 0.09
# [inch] of a bold letter of the day's words, and two of them between two wirings
BY_NAME = 2
# wirings of which each has its cost at a thing; of more the one that delivers most
FOLLOWS = "What each thing costs follows once nothing moves."
# stands where the costs stand, before they are known
MOST_DAYS = 8
# days kept while only the hour moves; no source
_DAYS: dict[tuple[tuple[tuple[str, Rig], ...], Parked], Comparison] = {}
HOUR = Line("hour", "Hour, in sun time", "h", "drag the hour")


@dataclass(frozen=True, eq=False)
class OnRoof:
    """One moment of a parked day and the whole of it, for wirings with things on their roof.

    Parameters
    ----------
    moment : Comparison
        At one hour.
    day : Comparison, optional
        The whole day; None where it is not worked out yet, while something is dragged.
    said : Verdict, optional
        What the moment says where that counts more than what is drawn of it: of several controllers all.

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> nine = Parked(latitude_deg=47, day="06-21", hour=9)
    >>> OnRoof(compare({"3s": example("goat-cheese-van")}, nine), None).verdict.sentence
    'What each thing costs follows once nothing moves. At 9:00: 3s delivers 255 W.'
    """

    moment: Comparison
    day: Comparison | None
    said: Verdict | None = None

    @property
    def verdict(self) -> Verdict:
        """What costs most on the roof, then what the moment says; that alone where no wiring is allowed."""
        now, costs = self.said or self.moment.verdict, self.costs
        assert isinstance(self.moment.request, Parked)
        then = f"At {clock(self.moment.request.hour or 0.0)}: {now.sentence}"
        if costs is not None and len(costs.out) == len(costs.full):
            return now
        if costs is None:
            return replace(now, sentence=f"{FOLLOWS} {then}")
        told = costs.verdict
        basis = dict.fromkeys((*told.basis.split("; "), *now.basis.split("; ")))
        return replace(told, sentence=f"{told.sentence} {then}", basis="; ".join(basis), caution=now.caution)

    @property
    def most(self) -> float:
        """What the best wiring puts into the battery at that moment. [W]"""
        return max(outcome.energy_wh for outcome in self.moment.outcomes.values())

    @property
    def costs(self) -> FixtureCosts | None:
        """What each thing on the roof takes from the day alone; None where that is not worked out yet."""
        return next(iter(self._kept()), None)

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left to work out, or to be told."""
        return self.costs is not None

    def rest(self) -> Iterator[None]:
        """Work the costs out, step by step, where the day is known and they are not."""
        if self.day is None or self.costs is not None:
            return
        rigs = {name: outcome.rig for name, outcome in self.day.outcomes.items()}
        assert isinstance(self.day.request, Parked)
        for found in costs_one_by_one(rigs, self.day.request):
            if found is not None:
                self._kept().append(found)
            yield

    def _kept(self) -> list[FixtureCosts]:
        """Where the costs of this day are kept once they are known."""
        if self.day is None:
            return []
        assert isinstance(self.day.request, Parked)
        return _costs_of(tuple((name, outcome.rig) for name, outcome in self.day.outcomes.items()), self.day.request)


@lru_cache(maxsize=8)
def _costs_of(rigs: tuple[tuple[str, Rig], ...], day: Parked) -> list[FixtureCosts]:
    """An empty place for the costs of a day, the same one whenever it is asked for."""
    return []


def roof_day(rigs: Mapping[str, Rig], moment: Parked) -> Comparison:
    """Wirings compared over the whole day of a moment; kept, so that another hour costs nothing.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> day = roof_day({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9))
    >>> round(day.outcomes["3s"].energy_wh)
    2910
    """
    found = known_day(rigs, moment) or compare(rigs, moment.changed(hour=None))
    _DAYS[_key(rigs, moment)] = found
    while len(_DAYS) > MOST_DAYS:
        del _DAYS[next(iter(_DAYS))]
    return found


def known_day(rigs: Mapping[str, Rig], moment: Parked) -> Comparison | None:
    """The day of a moment where it was worked out for another hour; None where it was not.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> rigs, nine = {"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-22", hour=9)
    >>> known_day(rigs, nine) is None, roof_day(rigs, nine) is known_day(rigs, nine.changed(hour=10))
    (True, True)
    """
    return _DAYS.get(_key(rigs, moment))


def _key(rigs: Mapping[str, Rig], moment: Parked) -> tuple[tuple[tuple[str, Rig], ...], Parked]:
    """What a day depends on: not on the hour."""
    return tuple(rigs.items()), moment.changed(hour=None)


class RoofPlan(RoofChart):
    """The roof from above within a ring of the sun's hours.

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> plan = RoofPlan()
    >>> plan.update(compare({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9)))
    >>> [handle.key for handle in plan.handles({"hour": 9.0})]
    ['sun']
    """

    size = (4.6, 5.0)
    named_outside = True

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self.ax.set_axis_off()
        self._labels("", "")
        self.arc = self.ax.plot([], [], color=LIGHT, lw=7, solid_capstyle="butt", zorder=2)[0]
        self.ticks = self.ax.plot([], [], color=INK, lw=1.1, zorder=3)[0]
        self.ray = self.ax.plot([], [], color=INK, lw=1.3, ls=(0, (3, 3)), zorder=6)[0]
        self.disc = self.ax.plot([], [], marker="o", ms=21, mfc=LIGHT, mec=INK, mew=1.9, ls="none", zorder=9)[0]
        self.hours = [self.ax.text(0, 0, "", fontsize=FONT - 1, color=SOFT, ha="center", va="center") for _ in range(9)]
        self.north.set_visible(False)
        self.sun.set_visible(False)
        self.moving = [*self.moving, self.arc, self.ticks, self.ray, self.disc, *self.hours]
        small: dict[str, Any] = {"fontsize": FONT - 1, "zorder": 8}
        self.labels = [self.ax.text(0, 0, "", va="center", bbox=_PAPER, **small) for _ in range(12)]
        self.leaders = self.ax.plot([], [], color=INK, lw=0.8, zorder=7)[0]
        self.caption = self.ax.text(
            1.0, 1.0, "", color=SOFT, ha="right", va="top", transform=self.ax.transAxes, **small
        )
        self.moving = [*self.moving, *self.labels, self.leaders, self.caption]
        self._labelled: tuple[FixtureCosts | None, Roof | None] = (None, None)
        self._request: Parked | None = None
        self._ring = np.empty((0, 3))

    @property
    def middle(self) -> Point:
        """Of the roof. [m]"""
        plan = self.plan
        return plan.wide_m / 2, plan.long_m / 2

    @property
    def radius(self) -> float:
        """Of the ring. [m]"""
        return AROUND * float(np.hypot(*self.middle))

    def update(self, comparison: Comparison) -> None:
        """Show the roof of the first wiring in the moment of a comparison."""
        rig = next(iter(comparison.outcomes.values())).rig
        self.plan = rig.need_roof()
        assert isinstance(comparison.request, Parked)
        self._request = comparison.request
        super().update(comparison)

    def show_costs(self, costs: FixtureCosts | None) -> None:
        """Write at each thing what it takes from the day alone, and below what does not stand on the roof."""
        if (costs, self.plan) == self._labelled:
            return
        self._labelled = (costs, self.plan)
        # of two things in one place the later, upper one is named
        things = {fixture.middle: fixture.name for fixture in loose_on(self.plan)}
        self._put_labels([(name, place, _told(costs, name)) for place, name in things.items()])
        others = [] if costs is None else [name for name in costs.alone if name not in things.values()]
        lines = [f"{name} {_told(costs, name)}" for name in others]
        head = [] if costs is None else ["each alone takes,", f"Wh of the day, {' / '.join(_named(costs).values())}"]
        self.caption.set_text("\n".join([*head, *lines]))

    def _put_labels(self, said: Sequence[tuple[str, Point, str]]) -> None:
        """Names and costs beside the roof, on the side on which a thing stands, with a line to it."""
        (middle, _), ends = self.middle, np.empty((0, 2))
        step, out = LABEL_HIGH * self.radius, LABEL_OUT * self.radius
        free = {side: self.plan.long_m for side in (-1, 1)}
        nothing: tuple[str, Point, str] = ("", (0.0, 0.0), "")
        highest_first = sorted(said, key=lambda one: -one[1][1]) + [nothing] * len(self.labels)
        for label, (name, (x, y), told) in zip(self.labels, highest_first, strict=False):
            side = 1 if x > middle else -1
            edge = self.plan.wide_m + out if side > 0 else -out
            at = min(y, free[side])
            label.set(text=f"{name}\n{told}".strip(), position=(edge, at), ha="left" if side > 0 else "right")
            if name:
                free[side] = at - step
                ends = np.vstack([ends, [(x, y), (edge - side * 0.3 * out, at), (np.nan, np.nan)]])
        self.leaders.set_data(ends[:, 0], ends[:, 1])

    def handles(self, values: Mapping[str, Any]) -> list[Handle]:
        """The sun, where a control `hour` follows it; all on the roof, where one has `Moved` for its value."""
        found = (
            []
            if holding(Moved, values) is None
            else [self._thing(name, box) for name, box in things_on(self.plan).items()]
        )
        return [*found, self._sun_handle(values["hour"])] if "hour" in values and len(self._ring) else found

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> dict[str, Any]:
        """The hour after the sun was moved there, or the places after a thing was."""
        x, y = on_axes(self.ax, at)
        if key == "sun":
            return {"hour": self._hour_at(x, y)}
        _, _, wide, long = things_on(self.plan)[key]
        placed = things_on(put(self.plan, key, x - wide / 2, y - long / 2))[key]
        name = holding(Moved, values)
        assert name is not None
        before: Moved = values[name]
        return {name: before.to(key, placed[0], placed[1])}

    def _thing(self, name: str, box: tuple[float, float, float, float]) -> Handle:
        """Something on the roof, to be dragged; the largest that is no panel says so."""
        left, back, wide, long = box
        (x0, y1), (x1, y0) = in_picture(self.ax, left, back), in_picture(self.ax, left + wide, back + long)
        loose = {
            one: (w * long, one) for one, (_, _, w, long) in things_on(self.plan).items() if not self._is_panel(one)
        }
        largest = name in loose and loose[name] == max(loose.values())
        return Handle(
            key=name, label=f"{name} on the roof", now=f"{left:.2f} m from the left, {back:.2f} m from the back",
            use=FREE, x=(x0 + x1) / 2, y=(y0 + y1) / 2, wide=x1 - x0, high=y1 - y0, mark="disc" if largest else "",
            aside=((x1 - x0) / 2, (y0 - y1) / 2), verb=f"drag the {name}" if largest else "",
            step=ARROW_M * (x1 - x0) / wide,
        )  # fmt: skip

    def _is_panel(self, name: str) -> bool:
        return any(name == f"P{spot.panel + 1}" for spot in self.plan.spots)

    def _sun_handle(self, hour: float) -> Handle:
        """The sun on its ring."""
        x, y = in_picture(self.ax, *self._on_ring(hour))
        return Handle(key="sun", label="The sun", now=f"{hour:g} h", use=FREE, x=x, y=y, verb="drag the sun")

    def _on_ring(self, hour: float) -> Point:
        """Where the sun stands on the ring at an hour; before it has risen where it will."""
        way = [float(np.interp(hour, self._ring[:, 0], self._ring[:, axis])) for axis in (1, 2)]
        length = self.radius / max(float(np.hypot(way[0], way[1])), 1e-9)
        return self.middle[0] + length * way[0], self.middle[1] + length * way[1]

    def _hour_at(self, x: float, y: float) -> float:
        """The hour at which the sun stands in the direction of a place."""
        way = np.array([x - self.middle[0], y - self.middle[1]])
        return float(self._ring[np.argmax(self._ring[:, 1:] @ way), 0])

    def _draw_frame(self, plan: Roof) -> None:
        """The roof's edge, which end is the nose, and the ring around it."""
        super()._draw_frame(plan)
        (x, y), radius = self.middle, self.radius
        self.ax.set_xlim(x - ROOM * radius, x + ROOM * radius)
        self.ax.set_ylim(y - ROOM * radius, y + ROOM * radius)
        turn = np.linspace(0, 2 * np.pi, 181)
        self._behind(
            self.ax.plot(x + radius * np.sin(turn), y + radius * np.cos(turn), color="#C5CBD1", lw=1.0, zorder=0)[0]
        )

    def _draw_arrows(self, plan: Roof, heading: float, sun: np.ndarray) -> None:
        """The hours of daylight on the ring, north, and the sun with its ray to the roof's middle."""
        self._ring = _sun_ways(self._request, plan) if self._request is not None else self._ring
        (x, y), radius = self.middle, self.radius
        north = np.radians(-heading)
        self.north_word.set_position((x + 1.09 * radius * np.sin(north), y + 1.09 * radius * np.cos(north)))
        self.north_word.set_text("N")
        hours = self._ring[:, 0]
        lit = np.array([self._on_ring(hour) for hour in hours]) if len(hours) else np.empty((0, 2))
        self.arc.set_data(lit[:, 0], lit[:, 1])
        whole = range(int(np.ceil(hours.min())), int(hours.max()) + 1) if len(hours) else range(0)
        self.ticks.set_data(*self._strokes(whole))
        named = [hour for hour in whole if hour % LABELLED == 0]
        for word, hour in zip(self.hours, [*named, *[None] * (len(self.hours) - len(named))], strict=True):
            word.set_text("" if hour is None else f"{hour:.0f} h")
            if hour is not None:
                a, b = self._on_ring(hour)
                word.set_position((x + 1.14 * (a - x), y + 1.14 * (b - y)))
        now = self._request.hour if self._request is not None else None
        shown = now is not None and len(hours) > 0 and sun[2] > 0
        spot = self._on_ring(now) if shown and now is not None else (np.nan, np.nan)
        self.disc.set_data([spot[0]], [spot[1]])
        self.ray.set_data([spot[0], x], [spot[1], y])
        self.sun_word.set_visible(shown)
        self.sun_word.set(position=spot if shown else (x, y), fontsize=FONT - 1, color=INK, weight="bold", zorder=10)

    def _strokes(self, hours: Sequence[float]) -> tuple[list[float], list[float]]:
        """A short line across the ring for every hour."""
        x, y = self.middle
        xs: list[float] = []
        ys: list[float] = []
        for hour in hours:
            a, b = self._on_ring(hour)
            for share in (0.965, 1.035):
                xs.append(x + share * (a - x))
                ys.append(y + share * (b - y))
            xs.append(np.nan)
            ys.append(np.nan)
        return xs, ys


def _named(costs: FixtureCosts) -> dict[str, str]:
    """The wirings whose costs are written, by what they are called in short."""
    names = short_names(costs.clear)
    return names if len(names) <= BY_NAME else {costs.best: names[costs.best]}


def _told(costs: FixtureCosts | None, name: str) -> str:
    """What a thing takes from the day, wiring by wiring; empty before that is known. [Wh]"""
    return "" if costs is None else " / ".join(known(costs.alone[name][wiring]) for wiring in _named(costs))


@lru_cache(maxsize=16)
def _sun_ways(request: Parked, plan: Roof) -> np.ndarray:
    """Hours of daylight and the sun's direction in the roof's axes, seen from above (hour, 3)."""
    return _ways(request.changed(hour=None, step_min=60 * RING_HOURS), plan)


@lru_cache(maxsize=16)
def _ways(day: Parked, plan: Roof) -> np.ndarray:
    """`_sun_ways` of a day, kept while the hour moves."""
    made = parked_day(day)
    beams, index = beams_of(made), made.table.index
    hours = (index.hour + index.minute / 60 + made.step_h / 2).to_numpy(float)
    turn = np.radians(np.asarray(beams.azimuth, float) - day.heading_deg)
    up = np.asarray(beams.elevation, float) > 0
    return np.column_stack([hours, np.sin(turn), np.cos(turn)])[up]


class DayLines:
    """Watts of every wiring through a day over what bare panels would deliver, and the hour that is looked at.

    Parameters
    ----------
    ax : Axes
    """

    def __init__(self, ax: Axes) -> None:
        self.ax = ax
        ax.spines[["top", "right"]].set_visible(False)
        ax.tick_params(labelsize=FONT - 1, labelcolor=SOFT)
        ax.set_ylabel("into the battery (W)", fontsize=FONT - 1, color=SOFT)
        self.bare = ax.fill_between([0, 1], [0, 0], color=LIGHT, alpha=0.8, lw=0, zorder=1)
        self.lines: dict[str, Line2D] = {}
        self.now = ax.plot([], [], color=INK, lw=1.3, ls=(0, (2, 2)), zorder=5)[0]
        self.words = [
            ax.text(0, 0, "", fontsize=FONT - 1, transform=ax.transAxes, va="top", zorder=7, bbox=_PAPER)
            for _ in range(6)
        ]
        self.marks: dict[str, Line2D] = {}
        self.frame: tuple[Any, ...] = ()
        self.day: Comparison | None = None

    @property
    def moving(self) -> list[Artist]:
        """What may change at every update."""
        return [self.bare, *self.lines.values(), self.now, *self.marks.values(), *self.words]

    def update(self, found: OnRoof) -> None:
        """Show another day, or while that is not there the one before, paler; and another hour."""
        fresh = found.day is not None
        if found.day is not None and found.day is not self.day:
            self.day = found.day
            self._draw(found.day)
        assert isinstance(found.moment.request, Parked)
        hour = found.moment.request.hour or 0.0
        low, high = self.ax.get_ylim()
        self.now.set_data([hour, hour], [low, high])
        for name, line in self.lines.items():
            line.set_alpha(1.0 if fresh else 0.3)
            hours, watts_then = np.asarray(line.get_xydata(), float).T
            watts = float(np.interp(hour, hours, watts_then, left=np.nan, right=np.nan))
            self.marks[name].set_data([hour], [watts if fresh else np.nan])
        self._say(fresh)

    def _draw(self, day: Comparison) -> None:
        """The lines of a day."""
        for artist in (self.bare, *self.lines.values(), *self.marks.values()):
            artist.remove()
        outcomes = day.outcomes
        first = next(iter(outcomes.values()))
        hours = _hours(day, first)
        self.bare = self.ax.fill_between(hours, first.p_panels, color=LIGHT, alpha=0.8, lw=0, zorder=1)
        self.lines, self.marks = {}, {}
        for name, look in looks_of(outcomes).items():
            watts, colour = outcomes[name].p_battery, look.colour
            self.lines[name] = self.ax.plot(hours, watts, color=colour, ls=look.dash, lw=2.4, zorder=3)[0]
            self.marks[name] = self.ax.plot([], [], color=colour, marker=look.marker, ms=7, ls="none", zorder=6)[0]
        top = rung(1.02 * max(float(first.p_panels.max()), 1.0))
        frame = (float(hours.min()), float(hours.max()), top)
        if frame != self.frame:
            self.frame = frame
            self.ax.set_xlim(*frame[:2])
            self.ax.set_ylim(0, 1.3 * top)
            self.ax.set_yticks(even_ticks(top))
            ticks = [hour for hour in range(0, 25, LABELLED) if frame[0] <= hour <= frame[1]]
            self.ax.set_xticks(ticks, [f"{hour} h" for hour in ticks])

    def _say(self, fresh: bool) -> None:
        """What each wiring delivers on the day, in its colour."""
        assert self.day is not None
        said = [(f"{short} {watt_hours(self.day.outcomes[name].energy_wh)}", self.lines[name].get_color())
                for name, short in short_names(self.day.outcomes).items()]  # fmt: skip
        said = said[: len(self.words)] if fresh else [("the day follows when you let go", SOFT)]
        x, letter = 0.01, LETTER_IN * self.ax.figure.dpi / self.ax.get_window_extent().width
        for word, (text, colour) in zip(self.words, [*said, *[("", INK)] * (len(self.words) - len(said))], strict=True):
            word.set(text=text, color=colour, position=(x, 1.0), weight="bold")
            x += letter * (len(text) + 2)


def _hours(day: Comparison, outcome: Outcome) -> np.ndarray:
    """Middle of each of the day's steps. [h]"""
    assert isinstance(day.request, Parked)
    index = parked_day(day.request).table.index
    return (index.hour + index.minute / 60 + outcome.step_h / 2).to_numpy(float)


class RoofDayChart:
    """Plan in its ring, day and hills together, told a moment and its day; everything in it can be dragged.

    Parameters
    ----------
    p_top, v_top : float, optional
        Axes of the hills, as in `PowerChart`. [W, V]
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> chart = RoofDayChart()
    >>> rigs, nine = {"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9)
    >>> chart.update(OnRoof(compare(rigs, nine), roof_day(rigs, nine)))
    >>> [handle.key for handle in chart.handles({"hour": 9.0, "places": Moved()})][-3:]
    ['aerial', 'sun', 'hour']
    """

    def __init__(self, *, p_top: float | None = None, v_top: float | None = None, phone: bool = True) -> None:
        self.phone, self.p_top, self.v_top = phone, p_top, v_top
        self.figure = Figure(figsize=SIZES[phone])
        plan, day, hills = (self.figure.add_axes(place) for place in _PLACES[phone])
        self.roof, self.day = RoofPlan(plan), DayLines(day)
        self.power = PowerChart(hills, p_top=p_top, v_top=v_top, phone=phone)
        if not phone:
            self.roof.caption.set_x(BESIDE_RING)

    @property
    def moving(self) -> list[Artist]:
        """What may change at every update."""
        return [*self.roof.moving, *self.day.moving, *self.power.moving]

    @property
    def repeated(self) -> list[Artist]:
        """The finding of the hills, which the verdict beside the picture says."""
        return self.power.repeated

    @property
    def frame(self) -> tuple[Any, ...]:
        """What stands still."""
        return (self.roof.frame, self.day.frame, self.power.frame)

    def update(self, found: OnRoof) -> None:
        """Show another moment, and its day where that is known."""
        self.roof.update(found.moment)
        self.roof.show_costs(found.costs)
        self.power.update(found.moment)
        self.day.update(found)

    def laid_out(self, *, phone: bool) -> RoofDayChart:
        """The same chart in the other layout, not yet told anything."""
        return RoofDayChart(p_top=self.p_top, v_top=self.v_top, phone=phone)

    def handles(self, values: Mapping[str, Any]) -> list[Handle]:
        """Things on the roof, the sun, and the hour on the day."""
        hour = [HOUR.handle(self.day.ax, values["hour"])] if "hour" in values else []
        return [*self.roof.handles(values), *hour]

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> dict[str, Any]:
        """New hour or places."""
        return {"hour": HOUR.value(self.day.ax, at)} if key == HOUR.name else self.roof.touched(key, at, values)


_PAPER = {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85}
_PLACES = {
    False: ((0.005, 0.0, 0.47, 0.94), (0.545, 0.6, 0.44, 0.34), (0.545, 0.11, 0.44, 0.37)),
    True: ((0.01, 0.56, 0.98, 0.415), (0.17, 0.35, 0.8, 0.185), (0.17, 0.05, 0.8, 0.225)),
}
# left, lower, width and height of plan, day and hills, as shares of the picture, on a page and on a phone
