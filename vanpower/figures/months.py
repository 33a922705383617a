"""Month by month: what the sun offers a day, what is taken of it, and what the loads ask for."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from vanpower.figures.names import cut
from vanpower.figures.style import FONT, ROLES, Chart, even_ticks, new_axes, rung, title_line
from vanpower.studies import Run
from vanpower.studies.budget import months_said

TICKED = 3
# letters of a month's name that are shown


class MonthsChart(Chart):
    """Bars of a month's mean day with the spread of its days, against the loads, for one wiring.

    Examples
    --------
    >>> from vanpower import Outlook, alternatives, load_rig, run_day
    >>> run = run_day(alternatives(load_rig("bookmobile")), Outlook(day="dull"))
    >>> chart = MonthsChart(wiring="2p")
    >>> chart.update(run)
    >>> print(chart.title)
    2p: no month carries the load of 408 Wh a day
    """

    size = (5.5, 4.2)

    def __init__(self, ax: Axes | None = None, *, wiring: str | None = None) -> None:
        super().__init__(ax)
        self.wiring = wiring
        self._keep_room(4)
        self._labels("", "Watt-hours a day (Wh)")
        self.moving = [title_line(self.ax)]

    def update(self, run: Run) -> None:
        """Show one wiring's months, the best unless one was named; everything is drawn anew."""
        self.frame = (id(run),)
        self._redraw_behind()
        for drawn_before in list(self.ax.containers):
            drawn_before.remove()
        name = self.wiring if self.wiring in run.journals else run.ranking[0]
        assert name is not None
        months = run.budget(name).months
        place = np.arange(len(months))
        could, used, load = (
            np.array([getattr(m, field) for m in months]) for field in ("could_wh", "used_wh", "load_wh")
        )
        spread = np.array([[m.could_wh - m.dull_wh, m.bright_wh - m.could_wh] for m in months]).T
        top = rung(1.02 * max(max(m.bright_wh for m in months), load.max(), 1.0))
        self.ax.set_ylim(0, top)
        self.ax.set_yticks(even_ticks(top))
        self.ax.set_xlim(-0.6, len(months) - 0.4)
        letters = TICKED if len(months) < 9 else 1
        self.ax.set_xticks(place, [month.name[:letters] for month in months], fontsize=FONT)
        self.ax.bar(place, could, 0.72, fc="white", ec=ROLES["start"], hatch="////", label="sun could bring")
        self.ax.bar(place, used, 0.72, fc=ROLES["battery"], label="taken")
        self.ax.errorbar(
            place, could, np.maximum(spread, 0.0), fmt="none", ecolor="black", capsize=3, lw=1.2,
            label="8 of 10 days",
        )  # fmt: skip
        drawn = self.ax.plot(place, load, color=ROLES["limit"], ls="--", lw=1.8, label="loads")
        # no wider than it takes to stand out in grey: a bar that just reaches the loads is seen to do so
        drawn[0].set_path_effects([withStroke(linewidth=2.8, foreground="white")])
        self._behind(*drawn)
        self.ax.legend(
            loc="upper left", bbox_to_anchor=(-0.12, -0.09), ncols=2, fontsize=FONT, frameon=False, handlelength=1.6
        )
        self._say(months_finding(run, name))


def months_finding(run: Run, name: str) -> str:
    """One wiring's months in a line."""
    budget = run.budget(name)
    if budget.months[0].load_wh <= 0:
        return f"{cut(name)}: {run.used_wh(name) / 1000:.0f} kWh taken; no loads are described"
    said = months_said(budget).removesuffix(".")
    return f"{cut(name)}: {said[0].lower()}{said[1:]}"


def plot_months(run: Run, *, wiring: str | None = None, ax: Axes | None = None) -> Axes:
    """The months of a run, for the best wiring or the one named.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Outlook, alternatives, load_rig, run_day
    >>> run = run_day(alternatives(load_rig("bookmobile")), Outlook(day="dull"))
    >>> ax = plot_months(run, ax=Figure().subplots())
    >>> ax.get_ylabel(), [tick.get_text() for tick in ax.get_xticklabels()]
    ('Watt-hours a day (Wh)', ['Dec'])
    """
    chart = MonthsChart(new_axes(ax, MonthsChart.size), wiring=wiring)
    chart.update(run)
    return chart.ax
