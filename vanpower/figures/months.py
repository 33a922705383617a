"""Month by month: what the sun offers a day, what is taken of it, and what the loads ask for."""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from vanpower.figures.names import barred, cut
from vanpower.figures.style import FONT, ROLES, Chart, Look, even_ticks, fitted_top, looks_of, new_axes, title_line
from vanpower.results.numbers import known_in, watt_hours
from vanpower.simulation.run import Run

TICKED = 3
# letters of a month's name that are shown


class MonthsChart(Chart):
    """Bars of a month's mean day with the spread of its days, against the loads, for one wiring.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> chart = MonthsChart(wiring="2p")
    >>> chart.update(run)
    >>> print(chart.title)
    2p: the sun brings least in December, 49.3 Wh a day
    """

    size = (5.5, 4.2)

    def __init__(self, ax: Axes | None = None, *, wiring: str | None = None, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.wiring, self.options = wiring, {"wiring": wiring}
        self._keep_room(4)
        self._labels("", "Watt-hours a day (Wh)")
        self.moving = [title_line(self.ax)]

    @property
    def repeated(self) -> list[Artist]:
        """Nothing: the verdict says which months carry the loads, the title in which the sun brings least."""
        return []

    def update(self, run: Run) -> None:
        """Show one wiring's months, the best unless one was named."""
        name = self.wiring if self.wiring in run.outcomes else run.ranking[0]
        assert name is not None
        months = run.budget(name).months
        could, used, load, dull, bright = (
            np.array([getattr(month, field) for month in months])
            for field in ("could_wh", "used_wh", "load_wh", "dull_wh", "bright_wh")
        )
        top = fitted_top(max(bright.max(), load.max(), could.max(), 1.0))
        frame = (tuple(month.name for month in months), top, looks_of(run.outcomes)[name])
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        for bars, heights in ((self.could, could), (self.taken, used)):
            for bar, height in zip(bars, heights, strict=True):
                bar.set_height(height)
        least, most = np.minimum(dull, could), np.maximum(bright, could)
        place = np.arange(len(months))
        self.spread.set_segments([[(x, low), (x, high)] for x, low, high in zip(place, least, most, strict=True)])
        for ends, each in zip(self.ends, (least, most), strict=True):
            ends.set_data(place, each)
        self.load.set_data(place, load)
        self._say(months_finding(run, name))

    def _draw_frame(self, names: tuple[str, ...], top: float, look: Look) -> None:
        """Axes and legend, and a bar, a spread and a load for every month."""
        self._redraw_behind()
        for container in list(self.ax.containers):
            container.remove()
        ax, place, nothing = self.ax, np.arange(len(names)), np.zeros(len(names))
        ax.set_ylim(0, top)
        ax.set_yticks(even_ticks(top))
        ax.set_xlim(-0.6, len(names) - 0.4)
        letters = TICKED if len(names) < 9 or not self.phone else 1
        ax.set_xticks(place, [name[:letters] for name in names], fontsize=FONT)
        self.could = ax.bar(
            place, nothing, 0.72, fc=ROLES["light"], ec=ROLES["shade"], hatch="////", label="sun could deliver"
        )
        self.taken = ax.bar(place, nothing, 0.72, fc=look.colour, label="taken")
        spread = ax.errorbar(
            place, nothing, nothing, fmt="none", ecolor=ROLES["start"], capsize=3, lw=1.6, label="8 of 10 days"
        )
        _, self.ends, (self.spread,) = spread.lines
        for part in (self.spread, *self.ends):
            part.set_path_effects([withStroke(linewidth=3.2, foreground="white")])
        # no wider than it takes to stand out in grey: a bar that just reaches the loads is seen to do so
        halo = [withStroke(linewidth=3.4, foreground="white")]
        (self.load,) = ax.plot(place, nothing, color=ROLES["loads"], ls="--", lw=1.8, label="loads", path_effects=halo)
        self._behind(self.load)
        ax.legend(
            loc="upper left",
            bbox_to_anchor=(-0.12, -0.09) if self.phone else (-0.04, -0.08),
            ncols=2 if self.phone else 4,
            fontsize=FONT,
            frameon=False,
            handlelength=1.6,
        )
        self.moving = [*self.could, *self.taken, self.spread, *self.ends, self.load, title_line(ax)]


def months_finding(run: Run, name: str) -> str:
    """One wiring's months in a line."""
    if not run.allowed(name):
        return barred(name)
    budget = run.budget(name)
    if budget.months[0].load_wh <= 0:
        return f"{cut(name)}: {watt_hours(run.used_wh(name))} taken; no loads are described"
    least = min(budget.months, key=lambda month: month.could_wh)
    return f"{cut(name)}: the sun brings least in {least.name}, {known_in(least.could_wh, 'Wh')} a day"


def plot_months(run: Run, *, wiring: str | None = None, ax: Axes | None = None, phone: bool = True) -> Axes:
    """The months of a run, for the best wiring or the one named; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> ax = plot_months(run, ax=Figure().subplots())
    >>> ax.get_ylabel(), [tick.get_text() for tick in ax.get_xticklabels()]
    ('Watt-hours a day (Wh)', ['Dec'])
    """
    chart = MonthsChart(new_axes(ax, MonthsChart.size if phone else MonthsChart.page), wiring=wiring, phone=phone)
    chart.update(run)
    return chart.ax
