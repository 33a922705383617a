"""Charts: results in, Axes out. Power against voltage, wirings side by side, the cold ceiling, a day.

Each chart is a class that is built once and told new results with `update`, which is what a slider needs; the still
picture, `plot_...`, is the same chart told once. Left out: saving and showing, which the caller does.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator

from vanpower import __version__
from vanpower.checks import (
    COLD_FACTORS,
    THIN,
    cold_ceiling,
    cold_factor,
    coldest_safe,
    rounded_down,
    rounded_up,
    string_voltage,
    tallest_string,
)
from vanpower.controllers import ASLEEP, BEST, LOWER_HILL, margins
from vanpower.curves import Curves, current_at, hills, open_circuit_voltage
from vanpower.rig import Outlook, Panel, Rig
from vanpower.sky import find_day
from vanpower.studies import ALIKE, LOSSES, Comparison, Outcome, array_of

ROLES = {
    "limit": "#D55E00",
    "window": "#E8F1F7",
    "start": "#4D4D4D",
    "battery": "#0072B2",
    "light": "#F0E442",
    "other": "#7F7F7F",
    "cable": "#E69F00",
    "converter": "#56B4E9",
    "own draw": "#999999",
    "shade": "#000000",
    "mismatch": "#CC79A7",
    "start loss": "#4D4D4D",
    "window loss": "#009E73",
    "clipping": "#F0E442",
    "ceiling": "#D55E00",
}
# a colour for each role: Okabe and Ito 2008 (matplotlib's okabe_ito sequence), two greys and a tint of its blue
PAIR = (11.6, 4.4)
# [inch] width and height of two charts side by side
PICTURES = (".png", ".svg", ".pdf")
MADE_BY = f"vanpower {__version__}"
# stands in the metadata of every picture written
OURS = re.compile(rb"vanpower \d+\.\d+")
# what tells a picture of this kit, whatever its version, from those of others
WIRING_STYLES = (
    ("#0072B2", "-", "o"),
    ("#000000", "--", "s"),
    ("#CC79A7", "-.", "^"),
    ("#E69F00", ":", "D"),
    ("#009E73", (0, (5, 1, 1, 1, 1, 1)), "v"),
    ("#56B4E9", (0, (1, 1)), "P"),
)
# colour, dash and marker of the first, second, ... wiring, so that a chart without colour still tells them apart
LOSS_STYLES = {
    "cable": ("cable", "//"),
    "blocking diodes": ("cable", "xx"),
    "converter": ("converter", ""),
    "own draw": ("own draw", "\\\\"),
    "shade": ("shade", ""),
    "mismatch": ("mismatch", "xx"),
    "leak": ("mismatch", "\\\\"),
    "start": ("start loss", ".."),
    "window": ("window loss", "--"),
    "heat": ("window loss", "++"),
    "tracker": ("mismatch", "||"),
    "plain switch": ("mismatch", "oo"),
    "clipping": ("clipping", "||"),
    "ceiling": ("ceiling", "xx"),
}
# role and hatch of each loss
LOSS_WORDS = {"start": "start: asleep", "window": "window: low volts", "heat": "heat: low volts"}
# what a legend says of losses whose names need an explanation; the printed table has the same names
SIZE = (5.5, 3.8)
# [inch] a chart that stays readable on a phone
FONT, TITLE_FONT = 11, 11.5
# [pt]
FIGURE_SPACE = "\N{FIGURE SPACE}"
# as wide as a digit
TITLE_WIDTH = 58
# characters of a title's line
POINTS = 300
# points of a drawn curve between its hilltops
STRIP, HEADROOM = 1.1, 1.52
# heights in the power chart over its highest hill: of window and ceiling, and with their words and the legend
LETTER = 0.018
# share of the power chart's width that a letter takes, rather too much than too little
RED_WORDS = "#9C3F00"
# the limit's colour, dark enough to read
FAR_CEILING = 2.2
# a ceiling beyond so many times the open-circuit volts is named at the edge, not drawn
SPAN_COLD = (-40.0, 30.0)
# [°C] what the ceiling chart shows; the table of factors ends at the first
SMALL_LOSS = 0.004
# share of the panels' power below which a loss is not put into words


class Chart:
    """An Axes, what moves on it, and a key of what stands still; a live picture keeps the latter as background.

    Parameters
    ----------
    ax : Axes, optional
        Where to draw; None makes a figure that pyplot does not know, which is what a slider wants.

    Attributes
    ----------
    moving : list of Artist
        What may change at every update.
    frame : tuple
        Changes when something behind the moving artists has changed (limits, ticks, lines that stand still).
    """

    size = SIZE

    def __init__(self, ax: Axes | None = None) -> None:
        self.ax = Figure(figsize=self.size, layout="constrained").subplots() if ax is None else ax
        self.moving: list[Artist] = []
        self.frame: tuple[Any, ...] = ()
        self._still: list[Artist] = []
        self.ax.set_title(" \n ", loc="left", fontsize=TITLE_FONT)
        self.ax.tick_params(labelsize=FONT)
        self.ax.spines[["top", "right"]].set_visible(False)

    @property
    def figure(self) -> Figure:
        """The figure the chart is on."""
        figure = self.ax.get_figure(root=True)
        assert isinstance(figure, Figure)
        return figure

    @property
    def title(self) -> str:
        """The finding."""
        return self.ax.get_title(loc="left")

    def _say(self, finding: str) -> None:
        """Write the finding above the axes, on two lines if it is long."""
        lines = textwrap.wrap(finding, TITLE_WIDTH)
        self.ax.set_title("\n".join(lines), loc="left", fontsize=TITLE_FONT)

    def _keep_room(self, characters: int) -> None:
        """Give numbers on the y axis one width, so that a live picture need not move when they grow longer."""
        self.ax.yaxis.set_major_formatter(lambda value, _: f"{value:g}".rjust(characters, FIGURE_SPACE))

    def _labels(self, x: str, y: str) -> None:
        self.ax.set_xlabel(x, fontsize=FONT)
        self.ax.set_ylabel(y, fontsize=FONT)

    def _redraw_behind(self) -> None:
        """Take away what stands still, before it is drawn anew."""
        for artist in self._still:
            artist.remove()
        self._still = []

    def _behind(self, *artists: Artist) -> None:
        self._still += artists


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
    """

    def __init__(self, ax: Axes | None = None, *, p_top: float | None = None, v_top: float | None = None) -> None:
        super().__init__(ax)
        self.p_top, self.v_top = p_top, v_top
        self._labels("Array voltage (V)", "Power (W)")
        self._keep_room(4)
        self.lines: dict[str, Line2D] = {}
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
        curves = {name: array_of(o.rig, comparison.request).curves for name, o in outcomes.items()}
        self._set_frame(outcomes, curves)
        for name, curve in curves.items():
            volts, watts = power_points(curve)
            found = hills(curve)
            self.lines[name].set_data(volts, watts)
            self.tops[name].set_data(found.voltage[0], found.power[0])
            self._sit(name, outcomes[name])
        self._say(finding(comparison))

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

    def _set_frame(self, outcomes: Mapping[str, Outcome], curves: Mapping[str, Curves]) -> None:
        """Limits, ceiling and legend, drawn anew only when they change; and the window."""
        first = next(iter(outcomes.values())).rig
        controller, v_battery = first.circuits[0].controller, first.battery.v_now
        wakes, floor = (v_battery + margin for margin in margins(controller))
        v_top = max(float(o.operations[0].v_oc[0]) for o in outcomes.values())
        p_top = max(float(power_points(curve)[1].max()) for curve in curves.values())
        ceiling = controller.v_pv_max
        v_shown = max(ceiling if ceiling <= FAR_CEILING * v_top else 0.0, v_top, 1.3 * wakes)
        v_end, p_end = _rounded_up(1.08 * v_shown, 10.0), _rung(1.02 * p_top)
        if self.v_top is not None:
            v_end = self.v_top if v_top <= self.v_top else _rounded_up(1.08 * v_top, 10.0)
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
        left, middle = _side_by_side(floor / v_end, min(ceiling / v_end, 1.0), *widths)
        self.window_words.set_position((left * v_end, 1.015 * top))
        self.ceiling_words.set_position((middle * v_end, 1.015 * top))

    def _draw_frame(self, names: tuple[str, ...], ceiling: float, v_end: float, p_end: float) -> None:
        """Everything that stands still: ceiling and limits; and the artists that will move."""
        ax = self.ax
        self._redraw_behind()
        ax.set_xlim(0, v_end)
        ax.set_ylim(0, HEADROOM * p_end)
        ax.set_yticks(_ticks(p_end))
        if ceiling <= v_end:
            line = ax.plot([ceiling, ceiling], [0, STRIP * p_end], color=ROLES["limit"], lw=2.8, zorder=1)[0]
            self._behind(line)
        if tuple(self.lines) != names:
            self._make_lines(names)

    def _make_lines(self, names: tuple[str, ...]) -> None:
        """A curve, hilltops and a seat for each wiring, and the legend."""
        for group in (self.lines, self.tops, self.spots):
            for artist in group.values():
                artist.remove()
            group.clear()
        for name, (colour, dash, marker) in zip(names, _styles(len(names)), strict=True):
            self.lines[name] = self.ax.plot([], [], color=colour, ls=dash, lw=2.2, zorder=3)[0]
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
        self.moving = [*window, *self.lines.values(), *self.tops.values(), *self.spots.values(), _title(self.ax)]

    def _make_legend(self, names: tuple[str, ...]) -> None:
        """Wirings, then what the markers mean."""
        curves = [
            Line2D([], [], color=c, ls=d, lw=2.2, marker=m, mfc="white", mew=1.8) for c, d, m in _styles(len(names))
        ]
        grey: dict[str, Any] = {"color": ROLES["other"], "marker": "o", "ls": "none"}
        marks = [Line2D([], [], mfc="white", ms=9, mew=1.8, **grey), Line2D([], [], ms=5, **grey)]
        self.ax.legend(
            [*curves, *marks], [*names, "hilltop", "controller sits here"], loc="upper left", fontsize=FONT,
            ncols=math.ceil((len(names) + 2) / 2), frameon=False, borderaxespad=0.1, handlelength=2.6,
            columnspacing=1.2, labelspacing=0.3,
        )  # fmt: skip


class ComparisonChart(Chart):
    """Bars of watts or watt-hours for each wiring, what is lost on the way stacked behind and said in words."""

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self.ax.spines["left"].set_visible(False)
        self.ax.tick_params(axis="y", length=0)
        self.bars: dict[tuple[str, str], Rectangle] = {}
        self.words: dict[str, Any] = {}

    def update(self, comparison: Comparison) -> None:
        """Show one comparison."""
        outcomes = comparison.outcomes
        top = max(float(o.p_panels.sum() * o.step_h) for o in outcomes.values())
        allowed = [outcome for outcome in outcomes.values() if outcome.refused is None]
        shown = [loss for loss in LOSSES if any(o.lost_wh(loss) > SMALL_LOSS * top for o in allowed)]
        frame = (tuple(outcomes), comparison.unit, _rung(top), tuple(shown))
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        for name, outcome in outcomes.items():
            self._stack(name, outcome, comparison)
        self._say(finding(comparison))

    def _stack(self, name: str, outcome: Outcome, comparison: Comparison) -> None:
        """One wiring's bar, and its words."""
        over = outcome.refused is not None
        start = 0.0
        for part in ("battery", *LOSSES):
            amount = outcome.energy_wh if part == "battery" else 0.0 if over else max(outcome.lost_wh(part), 0.0)
            bar = self.bars[name, part]
            bar.set_x(start)
            bar.set_width(amount)
            start += amount
        first = self.bars[name, "battery"]
        first.set_facecolor("white" if over else ROLES["battery"])
        first.set_edgecolor(ROLES["limit"] if over else "white")
        first.set_hatch("xx" if over else "")
        self.words[name].set_text("\n".join(self._lines(outcome, comparison.unit)))

    def _lines(self, outcome: Outcome, unit: str) -> list[str]:
        """What a bar says: into the battery, then the losses from the largest."""
        refused = outcome.refused
        if refused is not None:
            limit = "its ceiling in frost" if refused.unit == "V" else "the input's amps"
            over = f"{-refused.margin:.1f} {refused.unit} over {limit}:"
            return [f"NOT ALLOWED, {over}", "would damage the controller"]
        total = max(float(outcome.p_panels.sum() * outcome.step_h), 1e-9)
        lost = sorted(((outcome.lost_wh(name), name) for name in LOSSES), reverse=True)
        said = [f"{name} {amount:.0f}" for amount, name in lost if amount > SMALL_LOSS * total]
        return [f"{outcome.energy_wh:.0f} {unit} into the battery", f"lost: {', '.join(said[:4]) or 'next to nothing'}"]

    def _draw_frame(self, names: tuple[str, ...], unit: str, top: float, lossy: tuple[str, ...]) -> None:
        """Limits, ticks, legend and an empty bar for every wiring and loss."""
        ax = self.ax
        for artist in [*self.bars.values(), *self.words.values()]:
            artist.remove()
        self.bars, self.words = {}, {}
        ax.set_xlim(0, top)
        ax.set_ylim(len(names) - 0.25, -0.35)
        ax.set_yticks(range(len(names)), names, fontsize=TITLE_FONT)
        self._labels("Energy of the day (Wh)" if unit == "Wh" else "Power (W)", "")
        for row, name in enumerate(names):
            for part in ("battery", *LOSSES):
                role, hatch = ("battery", "") if part == "battery" else LOSS_STYLES[part]
                bar = Rectangle((0, row - 0.22), 0, 0.36, fc=ROLES[role], ec="white", lw=0.6, hatch=hatch, zorder=2)
                ax.add_patch(bar)
                self.bars[name, part] = bar
            self.words[name] = ax.text(0.005 * top, row + 0.17, "", fontsize=FONT, va="top", linespacing=1.15)
        self._make_legend(lossy)
        self.moving = [*self.bars.values(), *self.words.values(), _title(ax)]

    def _make_legend(self, lossy: Sequence[str]) -> None:
        """What the colours and hatches of the bars mean, below the axes."""
        shown = [("into the battery", "battery", "")]
        shown += [(LOSS_WORDS.get(loss, loss), *LOSS_STYLES[loss]) for loss in lossy]
        patches = [Patch(fc=ROLES[role], ec="white", hatch=hatch, label=words) for words, role, hatch in shown]
        self.ax.legend(
            handles=patches, loc="upper left", bbox_to_anchor=(-0.12, -0.2), ncols=3, fontsize=FONT, frameon=False,
            handlelength=1.3, columnspacing=1.0, labelspacing=0.25, borderaxespad=0.0,
        )  # fmt: skip


class CeilingChart(Chart):
    """Open-circuit volts against temperature for one panel, two in series and so on, under the controller's ceiling."""

    size = (5.5, 4.1)

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self._labels("Cell temperature at first light (°C)", "Open-circuit voltage (V)")
        self._keep_room(3)
        ax = self.ax
        red, blue = ROLES["limit"], ROLES["battery"]
        self.thin = Rectangle((0, 0), 1, 1, fc="none", ec=red, hatch="///", lw=0, alpha=0.45, zorder=1)
        ax.add_patch(self.thin)
        self.ceiling = ax.plot([], [], color=red, lw=2.8, zorder=3)[0]
        self.coldest = ax.plot([], [], color=ROLES["start"], lw=1.4, ls=":", zorder=2)[0]
        self.string = ax.plot([], [], color=blue, lw=2.8, zorder=4)[0]
        self.table = ax.plot([], [], color="black", lw=1.4, ls=(0, (4, 1.5)), drawstyle="steps-pre", zorder=3)[0]
        self.spot = ax.plot([], [], color=blue, marker="o", ms=9, mec="black", ls="none", zorder=6)[0]
        self.safe = ax.plot([], [], color=red, marker="X", ms=9, mec="black", ls="none", zorder=6)[0]
        words: dict[str, Any] = {
            "fontsize": FONT,
            "zorder": 7,
            "bbox": {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85},
        }
        self.ceiling_words = ax.text(0, 0, "ceiling\n000 V", ha="left", va="center", fontsize=FONT, clip_on=False)
        self.spot_words = ax.text(0, 0, "", ha="left", va="center", **words)
        ax.legend(
            [self.string, self.table, self.coldest, self.safe, self.thin],
            ["by label", "US factor table", "coldest first light", "just safe", f"under {100 * THIN:g} % left"],
            loc="upper left", bbox_to_anchor=(-0.1, -0.19), ncols=3, fontsize=FONT, frameon=False,
            handlelength=1.6, handletextpad=0.5, columnspacing=1.1, labelspacing=0.25, borderaxespad=0.0,
        )  # fmt: skip
        lines = [self.thin, self.coldest, self.ceiling, self.table, self.string, self.spot, self.safe]
        self.moving = [*lines, self.ceiling_words, self.spot_words, _title(ax)]

    def update(self, rig: Rig) -> None:
        """Show the longest string of the rig's first circuit against its controller."""
        circuit = rig.circuits[0]
        verdict = cold_ceiling(rig, circuit)
        panels = tallest_string(rig, circuit)
        limit, coldest = circuit.controller.v_pv_max, rig.climate.temp_coldest
        cold = limit - verdict.margin
        frame = (panels, _rounded_up(1.22 * max(limit, cold), 20.0), min(SPAN_COLD[0], coldest - 2), len(panels))
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        self._draw_limit(limit, frame[2])
        self._draw_string(panels, coldest, cold, limit)
        self._say(_ceiling_finding(len(panels), verdict.margin, limit, coldest))

    def _draw_limit(self, limit: float, left: float) -> None:
        """The ceiling, and the band below it in which what is left is thin."""
        self.ceiling.set_data([left, SPAN_COLD[1]], [limit, limit])
        self.thin.set_bounds(left, (1 - THIN) * limit, SPAN_COLD[1] - left, THIN * limit)
        self.ceiling_words.set_text(f"ceiling\n{limit:g} V")
        self.ceiling_words.set_position((SPAN_COLD[1] + 0.8, limit))

    def _draw_string(self, panels: tuple[Panel, ...], coldest: float, cold: float, limit: float) -> None:
        """The string meant, the table's second opinion, and where the coldest morning puts it."""
        left, v_end = self.frame[2], self.frame[1]
        temps = np.array([left, SPAN_COLD[1]])
        self.string.set_data(temps, [string_voltage(panels, t) for t in temps])
        steps = np.array([t for t, _ in reversed(COLD_FACTORS)], float)
        label = sum(panel.v_oc for panel in panels)
        self.table.set_data(steps, [cold_factor(t) * label for t in steps])
        self.coldest.set_data([coldest, coldest], [0, v_end])
        self.spot.set_data([coldest], [cold])
        safe = coldest_safe(panels, limit)
        inside = left < safe < SPAN_COLD[1]
        self.safe.set_data([safe] if inside else [], [limit] if inside else [])
        self.spot_words.set_text(f"{rounded_up(cold)} V at {_signed(coldest)} °C")
        self.spot_words.set_position((coldest + 1.5, cold + (0.1 if cold > limit else -0.075) * v_end))

    def _draw_frame(self, panels: tuple[Panel, ...], v_end: float, left: float, number: int) -> None:
        """Limits, and the lines of other numbers in series."""
        ax = self.ax
        self._redraw_behind()
        ax.set_xlim(left, SPAN_COLD[1])
        ax.set_ylim(0, v_end)
        right = SPAN_COLD[1] - 0.5
        place = (right, string_voltage(panels, SPAN_COLD[1]) - 0.03 * v_end)
        words = f"{number} in series" if number > 1 else "one panel"
        self._behind(ax.text(*place, words, fontsize=FONT, ha="right", va="top", zorder=2))
        tallest = max(panels, key=lambda panel: panel.v_oc)
        temps = np.array([left, SPAN_COLD[1]])
        for count in range(1, 9):
            volts = np.array([count * string_voltage((tallest,), t) for t in temps])
            if volts[1] > 0.96 * v_end:
                break
            if count != number:
                self._behind(
                    ax.text(
                        right, volts[1] + 0.012 * v_end, f"{count}", fontsize=FONT, ha="right", va="bottom", zorder=2
                    ),
                    ax.plot(temps, volts, color=ROLES["other"], lw=1.2, zorder=1)[0],
                )


class DayChart(Chart):
    """Light and watts into the battery over a day, wiring by wiring, and when each controller sleeps."""

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self._labels("Time of the weather file (h)", "Into the battery (W)")
        self.right = self.ax.twinx()
        self.right.set_zorder(self.ax.get_zorder() - 1)
        self.ax.patch.set_visible(False)
        self.right.set_ylabel("Yellow: light on the flat (W/m²)", fontsize=FONT)
        self.right.tick_params(labelsize=FONT)
        self.right.spines[["top", "left"]].set_visible(False)
        self.moving = [_title(self.ax)]

    def update(self, comparison: Comparison) -> None:
        """Show a comparison over an Outlook; everything is drawn anew."""
        if not isinstance(comparison.request, Outlook):
            raise ValueError("DayChart needs a comparison over a day; for a snapshot use plot_power.")
        self.frame = (id(comparison),)
        self._redraw_behind()
        day = find_day(comparison.request.weather, comparison.request.day)
        light = day.table["ghi"].to_numpy(float)
        index = day.table.index
        hours = (index.hour + index.minute / 60.0 + index.second / 3600.0).to_numpy(float)
        outcomes = comparison.outcomes
        p_top = max(float(outcome.p_battery.max()) for outcome in outcomes.values())
        self._limits(hours[light > 0], day.step_h, p_top, light, len(outcomes))
        edges = np.append(hours, hours[-1] + day.step_h)
        self._behind(self.right.stairs(light, edges, fill=True, color=ROLES["light"], alpha=0.5, zorder=1))
        for row, (name, style) in enumerate(zip(outcomes, _styles(len(outcomes)), strict=True)):
            self._draw_wiring(name, row, style, edges, outcomes[name])
        self._say(finding(comparison))

    def _limits(self, daylight: np.ndarray, step_h: float, p_top: float, light: np.ndarray, rows: int) -> None:
        """Daylight and an hour on each side; room below zero for one strip a wiring."""
        first, last = (daylight.min(), daylight.max() + step_h) if daylight.size else (0.0, 24.0)
        self.ax.set_xlim(max(first - 1.0, 0.0), min(last + 1.0, 24.0))
        below = 0.105 * rows + 0.03
        for ax, top in ((self.ax, _rung(1.02 * p_top)), (self.right, _rung(1.02 * float(light.max())))):
            ax.set_ylim(-below * top * 1.3, 1.3 * top)
            ax.set_yticks(_ticks(top))
        self._strip = 0.105 * self.ax.get_ylim()[1]
        self._behind(self.ax.axhline(0, color="black", lw=0.8))

    def _draw_wiring(self, name: str, row: int, style: tuple, edges: np.ndarray, outcome: Outcome) -> None:
        """One wiring's watts, and its strip with the hours asleep hatched, or that it is not allowed."""
        colour, dash, _ = style
        watts, out = outcome.p_battery, outcome.refused is not None
        asleep = _sleeps(outcome) & (not out)
        label = f"{name}: {outcome.energy_wh:.0f} Wh"
        self._behind(
            self.ax.stairs(watts, edges, color=colour, ls=dash, lw=2.2, zorder=4 + row, label=label, baseline=None)
        )
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
        words = f"{name}: not allowed" if out else words
        right = self.ax.get_xlim()[1] - 0.1
        place: dict[str, Any] = {"ha": "right", "va": "center", "fontsize": FONT, "zorder": 5}
        behind = {"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.9}
        self._behind(self.ax.text(right, top - 0.4 * self._strip, words, bbox=behind, **place))
        self.ax.legend(loc="upper left", ncols=2, fontsize=FONT, frameon=False, handlelength=2.4, borderaxespad=0.1)


def plot_power(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Power against array voltage in one light, with every hilltop and where the controller sits.

    Parameters
    ----------
    comparison : Comparison
        Over a Snapshot; of a day the first moment is drawn.
    ax : Axes, optional
    """
    chart = PowerChart(_axes(ax, PowerChart.size))
    chart.update(comparison)
    return chart.ax


def plot_comparison(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Bars of watts or watt-hours for each wiring, losses stacked behind and said in words."""
    chart = ComparisonChart(_axes(ax, (SIZE[0], max(SIZE[1], _bars_height(comparison)))))
    chart.update(comparison)
    return chart.ax


def plot_ceiling(rig: Rig, *, ax: Axes | None = None) -> Axes:
    """Cold open-circuit volts of the first circuit's longest string against the controller's ceiling."""
    chart = CeilingChart(_axes(ax, CeilingChart.size))
    chart.update(rig)
    return chart.ax


def plot_day(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Light and watts over a day for each wiring, with the hours each controller sleeps."""
    chart = DayChart(_axes(ax, DayChart.size))
    chart.update(comparison)
    return chart.ax


def comparison_figure(comparisons: Sequence[Comparison]) -> Figure:
    """Comparisons as one picture, a row each: curves or the day on the left, wirings side by side on the right.

    Where no wiring is on a single controller, a moment has no one curve, and the bars have the row to themselves.
    """
    wide, high = PAIR
    heights = [max(high, _bars_height(comparison)) for comparison in comparisons]
    fig = plt.figure(figsize=(wide, sum(heights)), layout="constrained")
    grid = fig.add_gridspec(len(comparisons), 2, height_ratios=heights)
    for row, comparison in enumerate(comparisons):
        day = isinstance(comparison.request, Outlook)
        light = textwrap.fill(comparison.title[0].upper() + comparison.title[1:], 56)
        if day or any(len(outcome.rig.circuits) == 1 for outcome in comparison.outcomes.values()):
            (plot_day if day else plot_power)(comparison, ax=fig.add_subplot(grid[row, 0]))
            plot_comparison(comparison, ax=fig.add_subplot(grid[row, 1])).set_title(light, loc="left")
        else:
            plot_comparison(comparison, ax=fig.add_subplot(grid[row, :])).set_title(light, loc="right")
    fig.supxlabel(_foot(comparisons), fontsize="small", color="#4D4D4D")
    return fig


def write_picture(fig: Figure, path: Path) -> None:
    """Write a figure whole or not at all, and never over a file that is not a chart of this kit.

    Raises
    ------
    ValueError
        For an ending that is no picture, a folder that is not there, or a file of somebody else's.
    """
    if path.suffix.lower() not in PICTURES:
        raise ValueError(f"chart {path.name!r} ends in {path.suffix or 'nothing'}; write {' or '.join(PICTURES)}.")
    if not path.parent.is_dir():
        raise ValueError(f"chart folder {str(path.parent)!r} is not there; make it first.")
    if path.is_dir() or (path.exists() and not OURS.search(path.read_bytes())):
        raise ValueError(f"{path.name} is there already and is no chart of this kit; choose another name.")
    half_done = path.with_name(f".{path.name}.part{path.suffix}")
    key = "Software" if path.suffix.lower() == ".png" else "Creator"
    try:
        fig.savefig(half_done, dpi=150, metadata={key: MADE_BY})
        half_done.replace(path)
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}.") from None
    finally:
        half_done.unlink(missing_ok=True)


def power_points(curves: Curves) -> tuple[np.ndarray, np.ndarray]:
    """Volts and watts of the first row's curve from zero to open circuit, through every hilltop (point,)."""
    v_oc = float(open_circuit_voltage(curves)[0])
    tops = hills(curves).voltage[0]
    volts = np.union1d(np.linspace(0.0, max(v_oc, 1e-6), POINTS), tops[np.isfinite(tops)])
    amps = current_at(curves.rows(np.array([0])), volts[None, :])[0][0]
    return volts, np.maximum(volts * amps, 0.0)


def finding(comparison: Comparison) -> str:
    """A comparison in a line: who is ahead by how much, or that it makes no difference."""
    allowed = [name for name in comparison.ranking if comparison.outcomes[name].refused is None]
    out = [name for name in comparison.ranking if name not in allowed]
    if not allowed:
        return "Not allowed: every wiring here would damage its controller"
    best, *others = allowed
    amounts = {name: _amount(name, comparison) for name in allowed}
    alike = [name for name in allowed if comparison.share(name) >= 1 - ALIKE]
    behind = [amounts[name] for name in allowed if name not in alike]
    if comparison.outcomes[best].energy_wh <= 0:
        line = f"Nothing arrives: {', '.join(amounts.values())}"
    elif not others:
        line = f"{amounts[best]} into the battery"
    elif len(alike) > 1:
        line = "; ".join([f"No difference: {', '.join(amounts[name] for name in alike)}", *behind])
    else:
        line = f"{best} is ahead: {', '.join(amounts.values())}"
    return f"{line} ({', '.join(out)} not allowed)" if out else line


def _foot(comparisons: Sequence[Comparison]) -> str:
    """What a picture rests on, in a line at its foot."""
    rig = next(iter(comparisons[0].outcomes.values())).rig
    basis = comparisons[0].verdict().basis
    return "\n".join(textwrap.wrap(f"{rig.name}. {basis[0].upper()}{basis[1:]}. A model, not a permit. {MADE_BY}", 150))


def _amount(name: str, comparison: Comparison) -> str:
    """A wiring and what it brings; asleep is said, since 0 W could be mistaken for a lack of light."""
    outcome = comparison.outcomes[name]
    if outcome.energy_wh <= 0 and all((o.held_by == ASLEEP).any() for o in outcome.operations):
        return f"{name} asleep"
    return f"{name} {outcome.energy_wh:.0f} {comparison.unit}"


def _axes(ax: Axes | None, size: tuple[float, float]) -> Axes:
    """The given axes, or new ones that a notebook shows."""
    return plt.subplots(figsize=size, layout="constrained")[1] if ax is None else ax


def _bars_height(comparison: Comparison) -> float:
    """Height that leaves room for the words below every bar. [inch]"""
    return 1.75 + 0.92 * len(comparison.outcomes)


def _side_by_side(left: float, middle: float, first: float, second: float) -> tuple[float, float]:
    """Left end of a first text and middle of a second, near where they are wanted, in shares of the width.

    Parameters
    ----------
    left, middle : float
        Where the first would begin and the second would have its middle.
    first, second : float
        How wide they are.
    """
    half, gap = second / 2, LETTER
    middle = min(max(middle, half), 1.0 - half)
    before = min(left, middle - half - gap - first)
    if before >= 0.0:
        return before, middle
    after = max(left, middle + half + gap)
    if after + first <= 1.0:
        return after, middle
    return 0.0, min(max(middle, first + gap + half), 1.0 - half)


def _title(ax: Axes) -> Artist:
    """The artist of the left title."""
    return ax._left_title  # type: ignore[attr-defined]


def _styles(number: int) -> list[tuple]:
    """Colour, dash and marker for so many wirings."""
    return [WIRING_STYLES[k % len(WIRING_STYLES)] for k in range(number)]


def _rung(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten, so that an axis seldom changes under a slider."""
    if value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if step * power >= value)


def _ticks(top: float) -> list[float]:
    """Round values from zero to the top of what is drawn; above it stand words."""
    return [tick for tick in MaxNLocator(nbins=6).tick_values(0.0, top) if 0 <= tick <= 1.0001 * top]


def _rounded_up(value: float, step: float) -> float:
    return step * math.ceil(value / step - 1e-9)


def _ceiling_finding(number: int, margin: float, limit: float, coldest: float) -> str:
    """The ceiling chart in a line."""
    volts = f"{rounded_up(limit - margin)} V at {_signed(coldest)} °C"
    string = "One panel" if number == 1 else f"{number} in series"
    if margin < 0:
        return f"{string}: {volts}, {-margin:.1f} V over the ceiling"
    thin = ", which is thin" if margin < THIN * limit else ""
    return f"{string}: {volts}, {rounded_down(margin)} V left{thin}"


def _signed(value: float, form: str = "g") -> str:
    """A number with a minus sign as the axes write it."""
    return f"{value:{form}}".replace("-", "\N{MINUS SIGN}")


def _sleeps(outcome: Outcome) -> np.ndarray:
    """Moments in which there is light and no controller of the outcome is awake (moment,)."""
    asleep = np.all([operation.held_by == ASLEEP for operation in outcome.operations], axis=0)
    return asleep & (outcome.p_panels > 0)
