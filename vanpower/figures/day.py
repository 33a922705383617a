"""A day's watts, wiring by wiring."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from vanpower.figures.names import finding, legend_columns, short_names
from vanpower.figures.style import (
    BAND_SHADE,
    FONT,
    ROLES,
    Chart,
    even_ticks,
    looks_of,
    new_axes,
    rung,
    sleeps,
    title_line,
)
from vanpower.results.numbers import watt_hours
from vanpower.rig import Days
from vanpower.studies import Comparison, Outcome
from vanpower.weather import day_of


class DayChart(Chart):
    """Light and watts into the battery over a day, wiring by wiring, and when each controller sleeps.

    Examples
    --------
    >>> from vanpower import Days, compare, example
    >>> chart = DayChart()
    >>> chart.update(compare(example("bookmobile").wirings(), Days(day="dull")))
    >>> [text.get_text() for text in chart.ax.get_legend().get_texts()]
    ['2s: 49.0 Wh', '2p: 49.3 Wh']
    """

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self._labels("Time of the weather file (h)", "Into the battery (W)")
        self.right = self.ax.twinx()
        self.right.set_zorder(self.ax.get_zorder() - 1)
        self.ax.patch.set_visible(False)
        self.right.set_ylabel("Yellow: light on the flat (W/m²)", fontsize=FONT)
        self.right.tick_params(labelsize=FONT)
        self.right.spines[["top", "left"]].set_visible(False)
        self.moving = [title_line(self.ax)]

    def update(self, comparison: Comparison) -> None:
        """Show a comparison over Days; everything is drawn anew."""
        if not isinstance(comparison.request, Days):
            raise ValueError("DayChart needs a comparison over a day; for a snapshot use plot_power.")
        day = day_of(comparison.request)
        if day.days > 1:
            raise ValueError(f"DayChart shows one day and this outlook holds {day.days}; use plot_comparison.")
        self.frame = (comparison,)
        self._redraw_behind()
        light = day.table["ghi"].to_numpy(float)
        index = day.table.index
        hours = (index.hour + index.minute / 60.0 + index.second / 3600.0).to_numpy(float)
        outcomes = comparison.outcomes
        p_top = max(float(outcome.p_battery.max()) for outcome in outcomes.values())
        labels = {
            name: f"{said}: {watt_hours(outcomes[name].energy_wh)}" for name, said in short_names(outcomes).items()
        }
        columns = legend_columns(list(labels.values()), 2, line=3.2)
        self._limits(hours[light > 0], day.step_h, p_top, light, len(outcomes), math.ceil(len(outcomes) / columns))
        edges = np.append(hours, hours[-1] + day.step_h)
        self._behind(self.right.stairs(light, edges, fill=True, color=ROLES["light"], alpha=0.5, zorder=1))
        for row, (name, style) in enumerate(zip(outcomes, looks_of(outcomes).values(), strict=True)):
            self._draw_wiring(labels[name], row, style, edges, outcomes[name], comparison.dull)
        self.ax.legend(
            loc="upper left", ncols=columns, fontsize=FONT, frameon=False, handlelength=2.4, borderaxespad=0.1
        )
        self._say(finding(comparison))

    def _limits(
        self, daylight: np.ndarray, step_h: float, p_top: float, light: np.ndarray, rows: int, legend_rows: int
    ) -> None:
        """Daylight and an hour on each side; room below zero for one strip a wiring, above for the legend."""
        first, last = (daylight.min(), daylight.max() + step_h) if daylight.size else (0.0, 24.0)
        self.ax.set_xlim(max(first - 1.0, 0.0), min(last + 1.0, 24.0))
        below = 0.105 * rows + 0.03
        above = 1.3 + 0.25 * max(legend_rows - 2, 0)
        for ax, top in ((self.ax, rung(1.02 * p_top)), (self.right, rung(1.02 * float(light.max())))):
            ax.set_ylim(-below * top * above, above * top)
            ax.set_yticks(even_ticks(top))
        self._strip = 0.105 * self.ax.get_ylim()[1]
        self._behind(self.ax.axhline(0, color="black", lw=0.8))

    def _draw_wiring(self, label: str, row: int, style: tuple, edges: np.ndarray, outcome: Outcome, dull: bool) -> None:
        """One wiring's watts, and its strip with the hours asleep hatched, or that it is not allowed."""
        colour, dash, *_ = style
        watts, out = outcome.p_battery, outcome.refused is not None
        asleep = sleeps(outcome) & (not out)
        self._behind(
            self.ax.stairs(watts, edges, color=colour, ls=dash, lw=2.2, zorder=4 + row, label=label, baseline=None)
        )
        if dull and not out:
            low, high = outcome.band()
            self._behind(self.ax.stairs(high, edges, baseline=low, fill=True, color=colour, alpha=BAND_SHADE, zorder=3))
        top = -(row + 0.15) * self._strip
        for k in np.nonzero(asleep)[0]:
            box = Rectangle(
                (edges[k], top - 0.75 * self._strip), edges[k + 1] - edges[k], 0.75 * self._strip,
                fc="white", ec=colour, hatch="////", lw=0.0, zorder=3,
            )  # fmt: skip
            self._behind(self.ax.add_patch(box))
        name = label.rpartition(":")[0]
        hours = float(np.sum(np.diff(edges)[asleep]))
        slept = f"{hours:.2g} h" if hours >= 1 else f"{60 * hours:.0f} min"
        words = f"{name}: asleep {slept} of daylight" if hours else f"{name}: awake all day"
        words = words if outcome.p_panels.any() else f"{name}: dark all day"
        words = f"{name}: not allowed" if out else words
        right = self.ax.get_xlim()[1] - 0.1
        place: dict[str, Any] = {"ha": "right", "va": "center", "fontsize": FONT, "zorder": 5}
        behind = {"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.9}
        self._behind(self.ax.text(right, top - 0.4 * self._strip, words, bbox=behind, **place))


def plot_day(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Light and watts over a day for each wiring, with the hours each controller sleeps.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Days, compare, example
    >>> found = compare(example("bookmobile").wirings(), Days(day="dull"))
    >>> ax = plot_day(found, ax=Figure().subplots())
    >>> [text.get_text() for text in ax.texts]
    ['2s: awake all day', '2p: awake all day']
    """
    chart = DayChart(new_axes(ax, DayChart.size))
    chart.update(comparison)
    return chart.ax
