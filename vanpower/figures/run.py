"""One wiring through its days: what the sun offers, what is taken, what the loads draw, how full the battery is."""

from __future__ import annotations

import textwrap

import matplotlib.dates
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.ladder import HEAD, RUNG, plot_ladder, rungs_of
from vanpower.figures.months import plot_months
from vanpower.figures.names import barred, cut
from vanpower.figures.style import (
    FONT,
    INK,
    MADE_BY,
    PAIR,
    ROLES,
    SOFT,
    Chart,
    even_ticks,
    fitted_top,
    looks_of,
    new_axes,
    title_line,
)
from vanpower.results.numbers import watt_hours
from vanpower.simulation.run import Run

TAKEN, REFUSED, FED = "taken", "offered and refused", "loads fed"
NAMED = {TAKEN: INK, REFUSED: INK, FED: ROLES["loads"]}
# what areas and their line are called, and in which colour; what is taken has that of its wiring
SMALL, FED_AT, CLEAR = 0.04, 0.12, 120
# share of the axis from which on an area is named; where along the days loads are; points that names keep clear of


class RunChart(Chart):
    """Watts offered, taken and drawn over the days of a run, and the battery's charge, for one wiring.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> chart = RunChart(wiring="2p")
    >>> chart.update(run)
    >>> print(chart.title)
    2p: 49.3 Wh typically, 61.3 Wh by label; charge 70 to 43 %
    """

    size = (5.5, 4.2)

    def __init__(self, ax: Axes | None = None, *, wiring: str | None = None, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.wiring, self.options = wiring, {"wiring": wiring}
        self._keep_room(4)
        self.right = self.ax.twinx()
        self.right.set_ylabel("Solid line: charge (%)", fontsize=FONT, color=SOFT)
        self.right.tick_params(labelsize=FONT, labelcolor=SOFT)
        self.right.spines[["top", "left"]].set_visible(False)
        self.offered = self.ax.stairs(
            [0.0], fill=True, fc=ROLES["light"], ec=ROLES["shade"], hatch="////", lw=0.0, zorder=1
        )
        self.taken = self.ax.stairs([0.0], fill=True, zorder=2)
        self.drawn = self.ax.stairs(
            [0.0], color=ROLES["loads"], ls="--", lw=1.8, zorder=3, baseline=None, label=FED,
            path_effects=[withStroke(linewidth=3.6, foreground="white")],
        )  # fmt: skip
        self.charge = self.right.plot([], [], color="black", lw=2.0, zorder=4)[0]
        self.charge.set_path_effects([withStroke(linewidth=4.0, foreground="white")])
        # on the axes in front, whose line would go over them
        self.names = {said: named_at(self.right, said, colour) for said, colour in NAMED.items()}
        named = [part for name in self.names.values() for part in name.parts]
        self.moving = [self.offered, self.taken, self.drawn, self.charge, *named, title_line(self.ax)]

    def update(self, run: Run) -> None:
        """Show one wiring of a run, the best unless one was named."""
        name = self.wiring if self.wiring in run.outcomes else run.ranking[0]
        assert name is not None
        rows = run.outcomes[name].rows
        step = np.timedelta64(round(run.step_h * 3600), "s")
        edges = matplotlib.dates.date2num(np.append(run.time, run.time[-1] + step))
        top = fitted_top(max(float(rows.p_offered.max()), float(rows.p_load.max()), 1.0))
        look = looks_of(run.outcomes)[name]
        frame = (float(edges[0]), float(edges[-1]), len(run.dates), top, look)
        if frame != self.frame:
            self._axes(edges, len(run.dates), top)
            self.taken.set_color(look.colour)
            self.names[TAKEN].words.set_color(look.words)
            self.frame = frame
        for stairs, watts in ((self.offered, rows.p_offered), (self.taken, rows.p_used), (self.drawn, rows.p_served)):
            stairs.set_data(watts, edges)
        ends = np.append(run.outcomes[name].store.soc_start, rows.soc)
        self.charge.set_data(edges, 100 * ends)
        self._name(edges, top, rows.p_offered, rows.p_used, rows.p_served)
        self._say(run_finding(run, name))

    def _name(self, edges: np.ndarray, top: float, offered: np.ndarray, taken: np.ndarray, fed: np.ndarray) -> None:
        """Names of what is there: areas where they are highest, the loads at their line."""
        percent = self.right.get_ylim()[1] / top
        middles = (edges[:-1] + edges[1:]) / 2
        at: dict[str, tuple[int, float]] = {}
        for said, low, high in ((TAKEN, 0.0 * taken, taken), (REFUSED, taken, offered)):
            k = int(np.argmax(high - low))
            at |= {said: (k, float(low[k] + high[k]) / 2)} if high[k] - low[k] > SMALL * top else {}
        # the loads where neither area reaches them
        k = int(np.argmin(np.abs(np.arange(len(fed)) / len(fed) - FED_AT) + (offered > SMALL * top)))
        at |= {FED: (k, float(fed[k]))} if fed.max() > 0.0 else {}
        for said, name in self.names.items():
            for part in name.parts:
                part.set_visible(said in at)
        line = np.asarray(self.charge.get_xydata(), float)
        across = np.linspace(edges[0], edges[-1], CLEAR)
        charge = np.column_stack([across, np.interp(across, *line.T)])
        loads = np.column_stack([across, percent * fed[np.searchsorted(edges[1:-1], across)]])
        marks = np.array([(middles[k], percent * watts) for k, watts in at.values()]).reshape(-1, 2)
        settle(self.right, [self.names[said] for said in at], marks, np.concatenate([charge, loads]))

    def _axes(self, edges: np.ndarray, days: int, top: float) -> None:
        """Limits and ticks: hours of a day, or dates."""
        self.ax.set_xlim(edges[0], edges[-1])
        for ax, high in ((self.ax, top), (self.right, 100.0)):
            ax.set_ylim(0, high if ax is self.ax else 1.04 * high)
            ax.set_yticks(even_ticks(high))
        one = days == 1
        self._labels("Time of the weather file (h)" if one else "Date", "Watts into loads and battery (W)")
        locator = matplotlib.dates.HourLocator(interval=4) if one else matplotlib.dates.AutoDateLocator(maxticks=6)
        self.ax.xaxis.set_major_locator(locator)
        self.ax.xaxis.set_major_formatter(matplotlib.dates.DateFormatter("%H" if one else "%d %b"))


def run_finding(run: Run, name: str) -> str:
    """One wiring's days in a line."""
    if not run.allowed(name):
        return barred(name)
    outcome = run.outcomes[name]
    rows = outcome.rows
    used = run.used_wh(name)
    refused = float((rows.p_offered - rows.p_used).sum()) * run.step_h
    missed = float((rows.p_load - rows.p_served).sum()) * run.step_h
    first, last = (f"{100 * soc:.0f}" for soc in (outcome.store.soc_start, rows.soc[-1]))
    charge = f"charge {first} to {last} %" if first != last else f"charge {first} % before and after"
    left = f", {watt_hours(refused)} refused" if round(refused, 1) > 0.01 * used else ""
    short = f", loads short of {watt_hours(missed)}" if round(missed, 1) > 0.01 * used else ""
    said, by_label = watt_hours(used), watt_hours(run.label_wh(name))
    typically = f" typically, {by_label} by label" if run.dull and by_label != said else " taken"
    return f"{cut(name)}: {said}{typically}{left}{short}; {charge}"


def plot_run(run: Run, *, wiring: str | None = None, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Watts and charge over the days of a run, for the best wiring or the one named; for a phone or a page.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> ax = plot_run(run, wiring="2s", ax=Figure().subplots())
    >>> ax.get_title(loc="left")
    '2s: 49.0 Wh typically, 60.9 Wh by label; charge 70 to 43 %'
    """
    chart = RunChart(new_axes(ax, RunChart.size if phone else RunChart.page), wiring=wiring, phone=phone)
    chart.update(run)
    return chart.ax


def run_figure(run: Run) -> Figure:
    """A run as one picture: its days, or its months where it has several, and the loss ladder.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> figure = run_figure(run)
    >>> [ax.get_xlabel() for ax in figure.axes if ax.get_xlabel()]
    ['Time of the weather file (h)', "Share of the label's watt-hours (%)"]
    >>> plt.close(figure)
    """
    high = max(PAIR[1], HEAD + RUNG * len(rungs_of(run)) + 0.4)
    fig, (left, right) = plt.subplots(1, 2, figsize=(PAIR[0] + 1.2, high), layout="constrained")
    (plot_months if len(run.budget(run.ranking[0]).months) > 1 else plot_run)(run, ax=left)
    plot_ladder(run, ax=right)
    basis = run.verdict.basis
    basis = f"{run.title}. {basis[0].upper()}{basis[1:]}. A model, not a permit. {MADE_BY}"
    fig.supxlabel("\n".join(textwrap.wrap(basis, 150)), fontsize="small", color=SOFT)
    return fig
