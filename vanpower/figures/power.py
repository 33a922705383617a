"""Power against voltage: every hill of every wiring, the window, and where the controller sits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle

from vanpower.components.controllers import BEST, LOWER_HILL, margins
from vanpower.components.low_light import dull_band, dull_middle
from vanpower.engine.array import PVArray
from vanpower.engine.curves import current_at, open_circuit_voltage
from vanpower.figures.names import finding, legend_columns, short_names
from vanpower.figures.style import (
    BAND_SHADE,
    FAR_CEILING,
    FONT,
    HEADROOM,
    LEGEND_ROW,
    LETTER,
    POINTS,
    RED_WORDS,
    ROLES,
    STRIP,
    Chart,
    even_ticks,
    new_axes,
    rounded_up_to,
    rung,
    side_by_side,
    title_line,
    wiring_styles,
)
from vanpower.studies import Comparison, Outcome

MARKS = ("hilltop", "controller sits here")
# what the legend says of the markers


class PowerChart(Chart):
    """Power against array voltage for named wirings: hilltops, the controller's window, and where it sits.

    Parameters
    ----------
    ax : Axes, optional
    p_top : float, optional
        Holds the power axis still under a slider: it is made for so many watts, and grows only for a curve that
        needs more. None fits it to each result. [W]
    v_top : float, optional
        Holds the voltage axis still in the same way. [V]

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> chart = PowerChart()
    >>> chart.update(found)
    >>> [round(float(line.get_xdata().max()), 1) for line in chart.lines.values()]
    [44.2, 22.1]
    """

    def __init__(self, ax: Axes | None = None, *, p_top: float | None = None, v_top: float | None = None) -> None:
        super().__init__(ax)
        self.p_top, self.v_top = p_top, v_top
        self._labels("Array voltage (V)", "Power (W)")
        self._keep_room(4)
        self.lines: dict[str, Line2D] = {}
        self.bands: dict[str, Polygon] = {}
        self.tops: dict[str, Line2D] = {}
        self.spots: dict[str, Line2D] = {}
        grey = ROLES["start"]
        self.band = Rectangle((0, 0), 0, 0, fc=ROLES["window"], ec="none", zorder=0)
        self.ax.add_patch(self.band)
        self.floor = self.ax.plot([], [], color=grey, lw=1.0, zorder=1)[0]
        self.wakes = self.ax.plot([], [], color=grey, lw=1.6, ls=":", zorder=1)[0]
        self.window_words = self.ax.text(0, 0, "", fontsize=FONT, va="bottom", zorder=1)
        self.ceiling_words = self.ax.text(0, 0, "", fontsize=FONT, va="bottom", ha="center", color=RED_WORDS, zorder=1)

    def update(self, comparison: Comparison) -> None:
        """Show the first moment of a comparison; wirings split over several controllers have no one curve."""
        outcomes = {name: o for name, o in comparison.outcomes.items() if len(o.rig.circuits) == 1}
        if not outcomes:
            raise ValueError("PowerChart needs a wiring on one controller; plot_comparison shows split ones.")
        arrays = {name: o.model.array() for name, o in outcomes.items()}
        drawn = {name: power_points(array) for name, array in arrays.items()}
        shares = {name: _shares(o) for name, o in outcomes.items()}
        self._set_frame(outcomes, max(float(watts.max()) * shares[name][1] for name, (_, watts) in drawn.items()))
        for name, (volts, watts) in drawn.items():
            found, (low, typical, high) = arrays[name].peaks[0], shares[name]
            self.lines[name].set_data(volts, typical * watts)
            self._shade(name, volts, low * watts, high * watts, comparison.dull)
            self.tops[name].set_data(found.voltage[0], typical * found.power[0])
            self._sit(name, outcomes[name])
        self._say(finding(comparison))

    def _shade(self, name: str, volts: np.ndarray, low: np.ndarray, high: np.ndarray, dull: bool) -> None:
        """The band that labels leave open in dull light; nothing where it is bright."""
        edge = np.column_stack([np.append(volts, volts[::-1]), np.append(low, high[::-1])])
        self.bands[name].set_xy(edge if dull else np.zeros((1, 2)))

    def _sit(self, name: str, outcome: Outcome) -> None:
        """Put the filled marker where the controller sits."""
        operation = outcome.operations[0]
        v, i = float(operation.v_array[0]), float(operation.i_array[0])
        tops = np.asarray(self.tops[name].get_xydata())
        if operation.held_by[0] in (BEST, LOWER_HILL):
            v, p = tops[np.nanargmin(np.abs(tops[:, 0] - v))]
        else:
            p = v * i
        self.spots[name].set_data([v], [p])

    def _set_frame(self, outcomes: Mapping[str, Outcome], p_top: float) -> None:
        """Limits, ceiling and legend, drawn anew only when they change; and the window."""
        first = next(iter(outcomes.values())).rig
        controller, v_battery = first.circuits[0].controller, first.battery.v_now
        wakes, floor = (v_battery + margin for margin in margins(controller))
        v_top = max(float(o.operations[0].v_oc[0]) for o in outcomes.values())
        ceiling = controller.v_pv_max
        v_shown = max(ceiling if ceiling <= FAR_CEILING * v_top else 0.0, v_top, 1.3 * wakes)
        v_end, p_end = rounded_up_to(1.08 * v_shown, 10.0), rung(1.02 * p_top)
        if self.v_top is not None:
            v_end = self.v_top if v_top <= self.v_top else rounded_up_to(1.08 * v_top, 10.0)
        if self.p_top is not None:
            p_end = self.p_top if p_top <= self.p_top else p_end
        frame = (tuple(outcomes), ceiling, v_end, p_end)
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        self._set_window(floor, wakes, *frame[1:])

    def _set_window(self, floor: float, wakes: float, ceiling: float, v_end: float, p_end: float) -> None:
        """The volts in which the controller runs, and those at which it wakes."""
        top = STRIP * p_end
        self.band.set_bounds(floor, 0, max(min(ceiling - 0.004 * v_end, v_end) - floor, 0.0), top)
        self.floor.set_data([floor, floor], [0, top])
        self.wakes.set_data([wakes, wakes], [0, top])
        same = f"battery {floor:.1f} V"
        self.window_words.set_text(f"from {floor:.1f} V, wakes at {wakes:.1f} V" if wakes > floor else same)
        near = ceiling <= v_end
        self.ceiling_words.set_text(f"ceiling {ceiling:g} V" + " \N{RIGHTWARDS ARROW}" * (not near))
        widths = [LETTER * len(words.get_text()) for words in (self.window_words, self.ceiling_words)]
        left, middle = side_by_side(floor / v_end, min(ceiling / v_end, 1.0), *widths)
        self.window_words.set_position((left * v_end, 1.015 * top))
        self.ceiling_words.set_position((middle * v_end, 1.015 * top))

    def _draw_frame(self, names: tuple[str, ...], ceiling: float, v_end: float, p_end: float) -> None:
        """Everything that stands still: ceiling and limits; and the artists that will move."""
        ax = self.ax
        self._redraw_behind()
        ax.set_xlim(0, v_end)
        rows = math.ceil((len(names) + len(MARKS)) / self._legend_columns(names))
        ax.set_ylim(0, (HEADROOM + LEGEND_ROW * max(rows - 2, 0)) * p_end)
        ax.set_yticks(even_ticks(p_end))
        if ceiling <= v_end:
            line = ax.plot([ceiling, ceiling], [0, STRIP * p_end], color=ROLES["limit"], lw=2.8, zorder=1)[0]
            self._behind(line)
        if tuple(self.lines) != names:
            self._make_lines(names)

    def _make_lines(self, names: tuple[str, ...]) -> None:
        """A curve, hilltops and a seat for each wiring, and the legend."""
        for group in (self.lines, self.bands, self.tops, self.spots):
            for artist in group.values():  # type: ignore[attr-defined]
                artist.remove()
            group.clear()
        for name, (colour, dash, marker) in zip(names, wiring_styles(len(names)), strict=True):
            self.lines[name] = self.ax.plot([], [], color=colour, ls=dash, lw=2.2, zorder=3)[0]
            self.bands[name] = self.ax.fill([0.0], [0.0], fc=colour, ec="none", alpha=BAND_SHADE, zorder=2)[0]
            hollow: dict[str, Any] = {
                "color": colour,
                "marker": marker,
                "mfc": "white",
                "ms": 9,
                "mew": 1.8,
                "ls": "none",
            }
            self.tops[name] = self.ax.plot([], [], zorder=4, **hollow)[0]
            self.spots[name] = self.ax.plot([], [], zorder=5, **hollow | {"marker": "o", "mfc": colour, "ms": 5})[0]
        self._make_legend(names)
        window = [self.band, self.floor, self.wakes, self.window_words, self.ceiling_words]
        self.moving = [
            *window,
            *self.bands.values(),
            *self.lines.values(),
            *self.tops.values(),
            *self.spots.values(),
            title_line(self.ax),
        ]

    def _legend_columns(self, names: tuple[str, ...]) -> int:
        """Columns of the legend: two rows of them, or more rows where the names are long."""
        labels = [*short_names(names).values(), *MARKS]
        return legend_columns(labels, math.ceil(len(labels) / 2), line=3.4)

    def _make_legend(self, names: tuple[str, ...]) -> None:
        """Wirings, then what the markers mean."""
        curves = [
            Line2D([], [], color=c, ls=d, lw=2.2, marker=m, mfc="white", mew=1.8)
            for c, d, m in wiring_styles(len(names))
        ]
        grey: dict[str, Any] = {"color": ROLES["other"], "marker": "o", "ls": "none"}
        marks = [Line2D([], [], mfc="white", ms=9, mew=1.8, **grey), Line2D([], [], ms=5, **grey)]
        self.ax.legend(
            [*curves, *marks], [*short_names(names).values(), *MARKS], loc="upper left", fontsize=FONT,
            ncols=self._legend_columns(names), frameon=False, borderaxespad=0.1, handlelength=2.6,
            columnspacing=1.2, labelspacing=0.3,
        )  # fmt: skip


def plot_power(
    comparison: Comparison, *, ax: Axes | None = None, p_top: float | None = None, v_top: float | None = None
) -> Axes:
    """Power against array voltage in one light, with every hilltop and where the controller sits.

    Parameters
    ----------
    comparison : Comparison
        Over a Snapshot; of a day the first moment is drawn.
    ax : Axes, optional
    p_top, v_top : float, optional
        Least ends of the axes, as in `PowerChart`. [W, V]

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> ax = plot_power(found, ax=Figure().subplots())
    >>> [text.get_text() for text in ax.texts]
    ['from 14.3 V, wakes at 18.3 V', 'ceiling 80 V']
    """
    chart = PowerChart(new_axes(ax, PowerChart.size), p_top=p_top, v_top=v_top)
    chart.update(comparison)
    return chart.ax


def _shares(outcome: Outcome) -> tuple[float, float, float]:
    """Least, middle and most of what a rig's panels give in the first moment, as shares of their labels' curve."""
    panels = [outcome.rig.panels[panel] for panel in outcome.rig.circuits[0].wiring.panels]
    light = outcome.brightest[:1]
    (low,), (high,) = dull_band(panels, light)
    return float(low), float(dull_middle(panels, light)[0]), float(high)


def power_points(array: PVArray) -> tuple[np.ndarray, np.ndarray]:
    """Volts and watts of the first row's curve from zero to open circuit, through every hilltop (point,)."""
    v_oc = float(open_circuit_voltage(array.curves)[0])
    tops = array.peaks[0].voltage[0]
    volts = np.union1d(np.linspace(0.0, max(v_oc, 1e-6), POINTS), tops[np.isfinite(tops)])
    amps = current_at(array.curves.rows(np.array([0])), volts[None, :])[0][0]
    return volts, np.maximum(volts * amps, 0.0)
