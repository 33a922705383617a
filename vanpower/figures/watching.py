"""A watched van in one picture: what each day brought of a sound clear day, the stays, and how likely each cause is."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.lines import Line2D

from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.style import FONT, HATCHED, INK, PAPER, ROLES, SOFT, Chart, new_axes, title_line
from vanpower.watching.filtering import FILLED, FREE
from vanpower.watching.telling import Watch, Watched, verdict_of

CAUSE_LOOKS = {
    "dirt": ("#C9B98F", ""),
    "group": ("#9E1B45", ""),
    "panel": ("#6A1B1B", "xx"),
    "leak": ("#C9A3BD", ".."),
    "limit": ("#8FBFB0", "||"),
    "shadow": ("#5D6772", "////"),
    "tied": ("#E9E1F2", "oo"),
    "loss": ("#B9D3E4", "--"),
}
# colour and hatch of each cause; none is a wiring's or the ceiling's
SHORT = {
    "dirt": "dirt", "group": "group bypassed", "panel": "panel without output", "leak": "leak",
    "limit": "current limit", "shadow": "new shadow", "tied": "stuck tracker", "loss": "loss",
}  # fmt: skip
# what the chart calls them
SHOWN = 0.15
# probability that a cause has to reach on some day to be named
TOP = 150.0
# [%] where the upper scale ends
DOT: dict[str, Any] = {"ls": "none", "color": INK, "ms": 3.0, "marker": "o"}
FILLS, EDGES = (INK, "white"), (None, 0.8)
# a day that was free, and one that a full battery held back
FIRST_SURE = "first sure"
# what the line is called on which an alarm stands
LINED = 40
# points of a line that names keep clear of


class WatchChart(Chart):
    """Highest watts and watt-hours of each day over those of a sound clear day, stays, and causes beneath.

    Examples
    --------
    >>> from vanpower import example, watch
    >>> rows = "".join(f"2026-05-{day:02},{900 + day},{150 + day}\\n" for day in range(1, 11))
    >>> chart = WatchChart()
    >>> chart.update(watch("date,wh,max power\\n" + rows, example("bookmobile")))
    >>> print(chart.title)
    Too early to say: 10 days are here, and it takes 30
    """

    size, page = (5.5, 6.4), (10.2, 4.9)

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.ax.set_axis_off()
        self.high = self.ax.inset_axes((0.0, 0.69, 1.0, 0.24))
        self.energy = self.ax.inset_axes((0.0, 0.38, 1.0, 0.23))
        self.stays = self.ax.inset_axes((0.0, 0.29, 1.0, 0.035))
        self.causes = self.ax.inset_axes((0.0, 0.0, 1.0, 0.23))
        self.all = (self.high, self.energy, self.stays, self.causes)
        self.moving = [title_line(self.ax)]

    def update(self, found: Watch) -> None:
        """Show the circuit that matters most."""
        part = found.first
        shares = [(self.high, 100.0 * part.days.top), (self.energy, 100.0 * part.days.share)]
        tops = [TOP if np.nanmax(np.minimum(share, TOP), initial=0.0) > 118 else 120.0 for _, share in shares]
        dates, stays = part.history.dates, part.stays
        frame = (str(dates[0]), len(dates), str(dates[-1]), stays.moved.tobytes(), stays.moves, *tops)
        title, *old = self.moving
        for artist in old:
            artist.remove()
        if frame != self.frame:
            self._stand(part, tops)
            self.frame = frame
        self.moving = [title, self._band(part), *self._since(part), *self._beliefs(part)]
        for ax, share in shares:
            self.moving += self._days(ax, part, np.minimum(share, TOP))
        self.moving += self._first_sure(part)
        self._say(watch_finding(found))

    def _stand(self, part: Watched, tops: list[float]) -> None:
        """Axes, what they are called, stays, and what the marks mean."""
        dates = part.history.dates
        for ax in self.all:
            if self.frame:
                ax.clear()
            ax.spines[["top", "right"]].set_visible(False)
            ax.tick_params(labelsize=FONT, labelcolor=SOFT)
        self._ribbon(part)
        said = ("highest W, % of clear day", "watt-hours, % of a clear day", "how likely each cause is, %")
        for ax, words, top in zip((self.high, self.energy, self.causes), said, (*tops, 100.0), strict=True):
            ax.set_ylim(0.0, top)
            ax.set_yticks([0, 50, 100])
            ax.set_title(words, loc="left", fontsize=FONT, color=SOFT, pad=3)
        marks = [Line2D([], [], mfc=fill, **DOT) for fill in FILLS]
        where: dict[str, Any] = {"loc": "lower right", "bbox_to_anchor": (1.0, 0.98)}
        held = "held back" if self.phone else "held back by a full battery: at least this"
        where |= {"ncols": 2, "handletextpad": 0.0, "columnspacing": 0.6, "borderaxespad": 0.0}
        self.high.legend(marks, ["free", held], fontsize=FONT, frameon=False, **where)
        for ax in self.all:
            ax.set_xlim(dates[0] - np.timedelta64(1, "D"), dates[-1] + np.timedelta64(1, "D"))
        _ticked(self.causes, dates, 6 if self.phone else 12)
        for ax in (self.high, self.energy, self.stays):
            ax.set_xticks(self.causes.get_xticks(), [])

    def _days(self, ax: Axes, part: Watched, share: np.ndarray) -> list[Line2D]:
        """One value a day: filled where the day was free, hollow where a full battery held it back."""
        free = np.isin(part.days.kind, (FREE,)) | ((part.days.kind == FILLED) & (ax is self.high))
        dates = part.history.dates
        return [
            line
            for some, fill, edge in zip((free, ~free), FILLS, EDGES, strict=True)
            for line in ax.plot(dates[some], share[some], mfc=fill, mew=edge, **DOT)
        ]

    def _band(self, part: Watched) -> Artist:
        """What a sound array brings under a clear sky."""
        low, high = part.shares
        return self.high.fill_between(
            part.history.dates, 100.0 * low, 100.0 * high, fc=ROLES["window"], ec="none", zorder=0
        )

    def _since(self, part: Watched) -> list[Line2D]:
        """Since when something is wrong, and when it was first sure."""
        looks: tuple[dict[str, Any], ...] = ({"color": ROLES["loads"], "ls": ":", "lw": 1.6}, {"color": INK, "lw": 1.2})
        return [
            ax.axvline(day, **look)
            for ax in (self.high, self.energy, self.causes)
            for day, look in zip(_alarmed(part), looks, strict=False)
        ]

    def _ribbon(self, part: Watched) -> None:
        """Stays side by side; one without where nobody told them."""
        ax, dates = self.stays, part.history.dates
        edges = [0, *np.flatnonzero(part.stays.moved).tolist(), len(dates)]
        for place, (first, last) in enumerate(pairwise(edges)):
            wide = (dates[last - 1] - dates[first]).astype(int) + 1
            ax.barh(0, np.timedelta64(int(wide), "D"), 1.0, left=dates[first], ec=SOFT, lw=0.6,
                    fc=PAPER if place % 2 else "white")  # fmt: skip
        ax.set_yticks([])
        ax.spines[["left", "bottom"]].set_visible(False)
        told = "stays" if part.stays.moves else "stays: not told"
        ax.set_title(told, loc="left", fontsize=FONT, color=SOFT, pad=2)

    def _beliefs(self, part: Watched) -> list[Artist]:
        """How likely each cause is, one upon the other, and what they are called."""
        ax, dates, filtered = self.causes, part.history.dates, part.filtered
        base, areas, marks, words = np.zeros(len(dates)), list[Artist](), list[np.ndarray](), list[str]()
        for kind, (colour, hatch) in CAUSE_LOOKS.items():
            own = [k for k, cause in enumerate(filtered.causes) if cause.kind == kind and cause.is_fault]
            chance = 100.0 * filtered.believed[:, own].sum(axis=1)
            if chance.max(initial=0.0) < 100.0 * SHOWN:
                continue
            areas.append(ax.fill_between(dates, base, base + chance, fc=colour, ec=HATCHED if hatch else "none",
                                         hatch=hatch, lw=0.3))  # fmt: skip
            (high,) = np.nonzero(chance >= 0.9 * chance.max())
            day = high[len(high) // 2]
            marks.append(np.array([date2num(dates[day]), base[day] + chance[day] / 2]))
            words.append(SHORT[kind])
            base = base + chance
        names = [named_at(ax, said, INK) for said in words]
        settle(ax, names, np.array(marks), _upright(ax, _alarmed(part)))
        return [*areas, *(part for name in names for part in name.parts)]

    def _first_sure(self, part: Watched) -> tuple[Artist, ...]:
        """What the line is called on which the alarm stands, clear of days and lines."""
        ax, alarmed = self.energy, _alarmed(part)
        if not alarmed:
            return ()
        days = np.column_stack([date2num(part.history.dates), np.minimum(100.0 * part.days.share, TOP)])
        name = named_at(ax, FIRST_SURE, INK)
        mark = np.array([[alarmed[-1], 0.85 * ax.get_ylim()[1]]])
        settle(ax, [name], mark, np.concatenate([days, _upright(ax, alarmed)]))
        return name.parts


def _alarmed(part: Watched) -> tuple[float, ...]:
    """Since when something is wrong, and when it was first sure, as axes count days; nothing where nothing is."""
    told = part.told
    return () if told is None else tuple(float(date2num(max(day, part.history.dates[0]))) for day in reversed(told))


def _upright(ax: Axes, days: tuple[float, ...]) -> np.ndarray:
    """Points of upright lines on some axes (point, 2)."""
    high = np.linspace(*ax.get_ylim(), LINED)
    return np.column_stack([np.repeat(days, LINED), np.tile(high, len(days))])


def _ticked(ax: Axes, dates: np.ndarray, most: int) -> None:
    """Ticks at the first of months, or at some days of a short history."""
    months = np.unique(dates.astype("datetime64[M]")).astype("datetime64[D]")
    inside = months[(months >= dates[0]) & (months <= dates[-1])]
    if len(inside) < 2:
        shown = dates[:: max(1, len(dates) // 4)]
        ax.set_xticks(shown, [f"{day.astype(object).day} {day.astype(object):%b}" for day in shown])
        return
    step = -(-len(inside) // most)
    ax.set_xticks(inside[::step], [f"{day.astype(object):%b}" for day in inside[::step]])


def watch_finding(found: Watch) -> str:
    """The first sentence of what is said of the circuit that is drawn."""
    name = next(name for name, part in found.parts.items() if part is found.first)
    said = verdict_of(name, found.first, len(found.parts) > 1)
    return said.sentence.partition(". ")[0]


def plot_watch(found: Watch, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """A watched van, for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import example, watch
    >>> rows = "".join(f"2026-05-{day:02},{900 + day},{150 + day}\\n" for day in range(1, 11))
    >>> found = watch("date,wh,max power\\n" + rows, example("bookmobile"))
    >>> [inset.get_title(loc="left") for inset in plot_watch(found, ax=Figure().subplots()).child_axes][2:]
    ['stays: not told', 'how likely each cause is, %']
    """
    chart = WatchChart(new_axes(ax, WatchChart.size if phone else WatchChart.page), phone=phone)
    chart.update(found)
    return chart.ax
