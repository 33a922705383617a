"""A day's watts, wiring by wiring."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from vanpower.figures.at_curves import Named, named_at, settle
from vanpower.figures.names import finding, short_names
from vanpower.figures.style import (
    BAND_SHADE,
    FONT,
    ROLES,
    SOFT,
    Chart,
    even_ticks,
    fitted_top,
    looks_of,
    new_axes,
    sleeps,
    title_line,
)
from vanpower.results.numbers import known, watt_hours
from vanpower.rig import Days
from vanpower.studies.comparison import Comparison, Outcome
from vanpower.weather.days import day_of

LIGHT_SHADE, DENSE = 0.7, 60
# how dense the yellow is under lines; points of a quarter of a curve that names keep clear of


class DayChart(Chart):
    """Light and watts into the battery over a day, wiring by wiring, and when each controller sleeps.

    Examples
    --------
    >>> from vanpower import Days, compare, example
    >>> chart = DayChart()
    >>> chart.update(compare(example("bookmobile").wirings(), Days(day="dull")))
    >>> [name.get_text() for name in chart.names.values()]
    ['2s 38.5 to 60.9 Wh', '2p 38.7 to 61.3 Wh']
    """

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self._labels("Time of the weather file (h)", "Into the battery (W)")
        self.right = self.ax.twinx()
        self.right.set_zorder(self.ax.get_zorder() - 1)
        self.ax.patch.set_visible(False)
        self.right.set_ylabel("Yellow: light on the flat (W/m²)", fontsize=FONT, color=SOFT)
        self.right.tick_params(labelsize=FONT, labelcolor=SOFT)
        self.right.spines[["top", "left"]].set_visible(False)
        self.moving = [title_line(self.ax)]
        self.names: dict[str, Named] = {}

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
        if comparison.dull:
            p_top = max(p_top, *(float(o.band()[1].max()) for o in outcomes.values() if o.refused is None), 0.0)
        self._limits(hours[light > 0], day.step_h, p_top, light, len(outcomes))
        edges, short = np.append(hours, hours[-1] + day.step_h), short_names(outcomes)
        self._behind(self.right.stairs(light, edges, fill=True, color=ROLES["light"], alpha=LIGHT_SHADE, zorder=1))
        for row, (name, style) in enumerate(zip(outcomes, looks_of(outcomes).values(), strict=True)):
            self._draw_wiring(short[name], row, style, edges, outcomes[name], comparison.dull)
        self._name(short, outcomes, edges, comparison.dull)
        self._say(finding(comparison))

    def _limits(self, daylight: np.ndarray, step_h: float, p_top: float, light: np.ndarray, rows: int) -> None:
        """Daylight and an hour on each side; room below zero for one strip a wiring."""
        first, last = (daylight.min(), daylight.max() + step_h) if daylight.size else (0.0, 24.0)
        self.ax.set_xlim(max(first - 1.0, 0.0), min(last + 1.0, 24.0))
        below = 0.105 * rows + 0.03
        for ax, highest in ((self.ax, p_top), (self.right, float(light.max()))):
            top = fitted_top(highest)
            ax.set_ylim(-below * top, top)
            ax.set_yticks(even_ticks(top))
        self._strip = 0.105 * self.ax.get_ylim()[1]
        self._behind(self.ax.axhline(0, color="black", lw=0.8))

    def _draw_wiring(self, name: str, row: int, style: tuple, edges: np.ndarray, outcome: Outcome, dull: bool) -> None:
        """One wiring's watts, and its strip with the hours asleep hatched, or that it is not allowed."""
        colour, dash, *_ = style
        watts, out = outcome.p_battery, outcome.refused is not None
        asleep = sleeps(outcome) & (not out)
        self._behind(
            self.ax.stairs(watts, edges, color=colour, ls=dash, lw=2.2, zorder=4 + row, label=name, baseline=None)
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
        hours = float(np.sum(np.diff(edges)[asleep]))
        slept = f"{hours:.2g} h" if hours >= 1 else f"{60 * hours:.0f} min"
        words = f"{name}: asleep {slept} of daylight" if hours else f"{name}: awake all day"
        words = words if outcome.p_panels.any() else f"{name}: dark all day"
        words = f"{name}: not allowed" if out else words
        right = self.ax.get_xlim()[1] - 0.1
        place: dict[str, Any] = {"ha": "right", "va": "center", "fontsize": FONT, "zorder": 5}
        behind = {"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.9}
        self._behind(self.ax.text(right, top - 0.4 * self._strip, words, bbox=behind, **place))

    def _name(self, short: Mapping[str, str], outcomes: Mapping[str, Outcome], edges: np.ndarray, dull: bool) -> None:
        """The names of wirings that may be connected and see light, with their watt-hours, at their highest hour."""
        self.names.clear()
        self._told: dict[str, tuple[str, str, np.ndarray]] = {}
        middle = (edges[:-1] + edges[1:]) / 2
        for name, look in looks_of(outcomes).items():
            outcome = outcomes[name]
            if outcome.refused is not None or not outcome.p_panels.any():
                continue
            low, high = (known(end) for end in outcome.band_wh) if dull else ("", "")
            said = watt_hours(outcome.energy_wh) if low == high else f"{low} to {high} Wh"
            place = int(np.argmax(outcome.p_battery))
            self._told[name] = f"{short[name]} {said}", look.words, np.array([middle[place], outcome.p_battery[place]])
        self._steps = np.concatenate([dense(middle, outcome.p_battery) for outcome in outcomes.values()])
        for name, (said, colour, _) in self._told.items():
            self.names[name] = named_at(self.ax, said, colour)
            self._behind(*self.names[name].parts)
        self.settle()

    def settle(self) -> None:
        """Put the names where there is room on the axes as they stand."""
        marks = np.array([mark for _, _, mark in self._told.values()]).reshape(-1, 2)
        settle(self.ax, list(self.names.values()), marks, self._steps, floor=0.0)


def dense(hours: np.ndarray, watts: np.ndarray) -> np.ndarray:
    """Points along a curve, close enough that no name slips between two of them (point, 2).

    Examples
    --------
    >>> dense(np.array([6.0, 18.0]), np.array([0.0, 120.0]))[:2].round(1).tolist()
    [[6.0, 0.0], [6.1, 0.5]]
    """
    many = np.linspace(hours[0], hours[-1], 4 * DENSE)
    return np.column_stack([many, np.interp(many, hours, watts)])


def plot_day(comparison: Comparison, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Light and watts over a day for each wiring, with the hours each controller sleeps; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Days, compare, example
    >>> found = compare(example("bookmobile").wirings(), Days(day="dull"))
    >>> ax = plot_day(found, ax=Figure().subplots())
    >>> [text.get_text() for text in ax.texts]
    ['2s: awake all day', '2p: awake all day', '2s 38.5 to 60.9 Wh', '2p 38.7 to 61.3 Wh']
    """
    chart = DayChart(new_axes(ax, DayChart.size if phone else DayChart.page), phone=phone)
    chart.update(comparison)
    return chart.ax
