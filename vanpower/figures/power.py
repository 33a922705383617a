"""Power against voltage: every hill of every wiring, what volts are of use, and where the controller sits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator

from vanpower.components.controllers import ASLEEP, BEST, LOWER_HILL, margins
from vanpower.components.low_light import dull_band, dull_middle
from vanpower.engine.array import PVArray
from vanpower.engine.curves import current_at, open_circuit_voltage
from vanpower.figures.at_curves import LEADER
from vanpower.figures.names import finding, short_names
from vanpower.figures.placing import evenly, places
from vanpower.figures.style import (
    BAND_SHADE,
    FIGURE_SPACE,
    FONT,
    GRID,
    HATCHED,
    INK,
    PAPER,
    POINTS,
    RED_WORDS,
    ROLES,
    SOFT,
    Chart,
    Look,
    even_ticks,
    fitted_top,
    kind_of,
    looks_of,
    new_axes,
    placed,
    rounded_up_to,
    title_line,
    width_of,
)
from vanpower.results.numbers import known, known_in
from vanpower.studies.comparison import Comparison, Outcome

MARGINS = (0.62, 0.56, 0.16, 0.52)
# [inch] left, below, right and above the axes on a figure of their own: two lines of a finding fit above
LINTEL = 0.095
# height of the strip over the curves that says what each stretch of volts is good for, as a share of the axes
NEAR = 0.8
# share of the ceiling from which on a curve is so near that nothing between the two is folded away; no source
PLAIN, FOLD, POST = 1.04, 0.085, 0.06
# the volts axis over the highest curve; what the fold adds to it, and where the ceiling's post then stands
BEYOND = 1.06
# the volts axis over a ceiling that stands where it is
WAKING = 1.25
# times the volts that wake the controller which the axis shows at least, so that there is room for the words
V_STEP = 2.0
# [V] the axis ends at a multiple of it, so that it seldom changes under a slider
ROW = 16.0
# [pt] height of a name
NAME_FONT, LINTEL_FONT = FONT + 0.5, FONT - 1.0
NAME_WIDTH = 1.25
# [inch] of a wiring's name at its curve
MOST_TICKS = 8
# figures along the axis of watts
UNDER = 14.0
# [pt] below the top of the axes, where the word "watts" stands, at which a figure is clear of it
APART = 12.0
# [pt] how far apart the points of a curve are that names keep clear of, as even where it is steep
KINDS = {"series": " in series", "parallel": " in parallel"}
# what a page says behind the name of a wiring that is all one or the other
FOLD_GAP = Path([(-0.75, -1), (-0.05, 1), (0.75, 1), (0.05, -1), (-0.75, -1)])
FOLD_STROKES = Path([(-0.75, -1), (-0.05, 1), (0.05, -1), (0.75, 1)], [Path.MOVETO, Path.LINETO] * 2)
AXIS_WORDS = {
    True: "volts at the array; the names: watts into the battery",
    False: "volts at the array; the names give watts into the battery",
}
# on a phone and on a page
BEHIND = {"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.75}
# behind words that may lie on lines


class Volts(NamedTuple):
    """What stands still: looks, stretches of volts, where the axis ends and folds, and whether a curve is over it."""

    looks: tuple[tuple[str, Look], ...]
    floor: float
    wakes: float
    ceiling: float
    plain: float
    end: float
    post: float
    over: bool

    @property
    def folded(self) -> bool:
        """Whether volts that nobody uses are left out below the ceiling."""
        return self.post != self.ceiling


class PowerChart(Chart):
    """Power against array voltage for named wirings: hilltops, the volts that are of use, and where it sits.

    The axis of watts ends 10 to 20 % above the highest hill of the light that is shown; volts between the curves and
    a far ceiling are folded away.

    Parameters
    ----------
    ax : Axes, optional
    p_top : float, optional
        Holds the power axis still under a slider: it is made for so many watts, and grows only for a curve that
        needs more. None fits it to each result. [W]
    v_top : float, optional
        Holds the voltage axis still in the same way. [V]
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> chart = PowerChart()
    >>> chart.update(found)
    >>> [round(float(line.get_xdata().max()), 1) for line in chart.lines.values()]
    [44.2, 22.1]
    >>> [name.get_text() for name in chart.names.values()]
    ['2s 169 W', '2p 167 W']
    """

    size = (5.2, 4.0)
    widest = 4.05

    def __init__(
        self, ax: Axes | None = None, *, p_top: float | None = None, v_top: float | None = None, phone: bool = True
    ) -> None:
        super().__init__(placed(self.size if phone else self.page, MARGINS) if ax is None else ax, phone=phone)
        self.options = {"p_top": p_top, "v_top": v_top}
        self.p_top, self.v_top = p_top, v_top
        self._p_end = 0.0
        self.ax.set_xlabel(AXIS_WORDS[phone], fontsize=FONT, color=SOFT)
        self.ax.tick_params(axis="y", labelleft=False, length=0)
        self.grid = self.ax.plot([], [], color=GRID, lw=0.8, zorder=0.5, transform=self.ax.get_yaxis_transform())[0]
        figures: dict[str, Any] = {"fontsize": FONT, "ha": "right", "va": "center_baseline", "color": SOFT}
        outside = self.ax.get_yaxis_transform()
        self.watts = [self.ax.text(-0.012, 0, "", transform=outside, **figures) for _ in range(MOST_TICKS)]
        self.lines: dict[str, Line2D] = {}
        self.bands: dict[str, Polygon] = {}
        self.tops: dict[str, Line2D] = {}
        self.spots: dict[str, Line2D] = {}
        self.names: dict[str, Text] = {}
        self.kinds: dict[str, Text] = {}
        self.leaders: dict[str, Line2D] = {}

    def update(self, comparison: Comparison) -> None:
        """Show the first moment of a comparison; wirings split over several controllers have no one curve."""
        outcomes = {name: o for name, o in comparison.outcomes.items() if len(o.rig.circuits) == 1}
        if not outcomes:
            raise ValueError("PowerChart needs a wiring on one controller; plot_comparison shows split ones.")
        arrays = {name: o.model.array() for name, o in outcomes.items()}
        drawn = {name: power_points(array) for name, array in arrays.items()}
        shares = {name: _shares(o) for name, o in outcomes.items()}
        self._set_frame(outcomes, max(float(volts[-1]) for volts, _ in drawn.values()))
        highest = 2 if comparison.dull else 1
        self._set_watts(max(float(watts.max()) * shares[name][highest] for name, (_, watts) in drawn.items()))
        self._draw_grid()
        for name, (volts, watts) in drawn.items():
            found, (low, typical, high) = arrays[name].peaks[0], shares[name]
            self.lines[name].set_data(volts, typical * watts)
            self._shade(name, volts, low * watts, high * watts, comparison.dull)
            self.tops[name].set_data(found.voltage[0], typical * found.power[0])
            self._sit(name, outcomes[name])
        self._say(finding(comparison))
        called = short_names(outcomes, NAME_WIDTH)
        said = {name: _watts_said(outcome, comparison.dull) for name, outcome in outcomes.items()}
        self._told = {name: f"{called[name]} {words}" if words else "" for name, words in said.items()}
        self.settle()

    def settle(self) -> None:
        """Put the names where there is room on the axes as they stand; once more after a figure was laid out."""
        wide, high = self.ax.get_position().size * self.figure.get_size_inches() * 72
        size = np.array([self.ax.get_xlim()[1], self.ax.get_ylim()[1]])
        to_points = np.array([wide, high]) / size
        names = list(self.lines)
        kinds = {name: self._kind(name) for name in names}
        widths = [self._wide(self._told[name], kinds[name]) for name in names]
        drawn = [np.asarray(line.get_xydata()) for line in self.lines.values()]
        if not self.phone:
            # a phone has no room to leave the bands free of names
            drawn += [np.asarray(band.get_xy()) for band in self.bands.values()]
        curves = np.concatenate([evenly(points * to_points, APART) for points in drawn])
        marks = np.array([np.asarray(spot.get_xydata())[0] for spot in self.spots.values()])
        found = places(
            np.array([(width, ROW) for width in widths]),
            marks * to_points,
            curves,
            room=(2.0, 2.0, self._frame.plain * to_points[0] - 2.0, high * (1 - LINTEL) - 1.0),
            walls=[volts * to_points[0] for volts in (self._frame.floor, self._frame.wakes)],
            taken=[self._ceiling_box(to_points[0])],
        )
        for name, width, mark, spot in zip(names, widths, marks, found, strict=True):
            left, middle = (spot.middle[0] - width / 2) / to_points[0], spot.middle[1] / to_points[1]
            self.names[name].set(text=self._told[name], position=(left, middle))
            behind = left + self._wide(f"{self._told[name]} ", "") / to_points[0]
            self.kinds[name].set(text=kinds[name].lstrip(), position=(behind, middle))
            ends = [] if spot.leader is None else [mark, np.array(spot.leader) / to_points]
            self.leaders[name].set_data([end[0] for end in ends], [end[1] for end in ends])
            self.leaders[name].set_visible(bool(ends))

    def _ceiling_box(self, to_points: float) -> tuple[float, float, float, float]:
        """Where the ceiling's words stand. [pt]"""
        post, tall = self._frame.post * to_points, 72 * width_of(self.ceiling_words.get_text(), bold=True) + 12
        left = post - 20 if self.ceiling_words.get_horizontalalignment() == "right" else post
        return left, 0.0, left + 20, tall

    def _kind(self, name: str) -> str:
        """What a page says behind a name that is a wiring's own."""
        told = self._told[name].endswith(" W") and not self.phone and len(self.lines) <= 3
        return KINDS.get(kind_of(name), "") if told else ""

    def _wide(self, name: str, kind: str) -> float:
        """Width of a name and of what stands behind it. [pt]"""
        room = 72 * width_of(f"{name}{' ' * bool(kind)}", bold=True) * NAME_FONT / FONT
        return room + 72 * width_of(kind.lstrip()) * LINTEL_FONT / FONT

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

    def _set_frame(self, outcomes: Mapping[str, Outcome], v_top: float) -> None:
        """All that stands still, drawn anew only when it changes."""
        first = next(iter(outcomes.values())).rig
        controller, v_battery = first.circuits[0].controller, first.battery.v_now
        wakes, floor = (v_battery + margin for margin in margins(controller))
        styles = looks_of(outcomes)
        v_held = self.v_top if self.v_top is not None and v_top <= self.v_top else None
        ends = _ends(v_top, wakes, controller.v_pv_max, v_held)
        over = v_top > controller.v_pv_max
        frame = Volts(tuple(styles.items()), floor, wakes, controller.v_pv_max, *ends, over)
        if (frame, self.p_top) != self.frame:
            self._frame = frame
            self._redraw_behind()
            self._draw_volts(frame)
            self._draw_lintel(frame)
            self._draw_ceiling(frame)
            if tuple(self.lines) != tuple(styles):
                self._make_lines(styles)
            self.frame = (frame, self.p_top)

    def _set_watts(self, p_top: float) -> None:
        """Fit the axis of watts to the highest hill, unless it is held for more."""
        held = self.p_top is not None and p_top <= self.p_top
        end = self.p_top if held and self.p_top is not None else fitted_top(p_top)
        if end == self._p_end:
            return
        self._p_end = end
        self.ax.set_ylim(0, end / (1 - LINTEL))
        ticks = even_ticks(end)
        self.ax.set_yticks(ticks)
        high = self.ax.get_position().height * self.figure.get_figheight() * 72
        told = [tick for tick in ticks if high * (1 - tick / end * (1 - LINTEL)) >= UNDER]
        for k, figure in enumerate(self.watts):
            figure.set_text(f"{told[k]:g}".rjust(4, FIGURE_SPACE) if k < len(told) else "")
            figure.set_y(told[k] if k < len(told) else 0.0)

    def _draw_grid(self) -> None:
        """Lines across the chart, up to the fold or the ceiling: what moves would be drawn over the ceiling's words."""
        frame, ticks = self._frame, self.ax.get_yticks()
        across = (frame.plain if frame.folded else frame.post) / frame.end
        self.grid.set_data(np.tile([0.0, across, np.nan], len(ticks)), np.repeat(ticks, 3))

    def _draw_volts(self, frame: Volts) -> None:
        """The axis of volts, with the ceiling's own figure in its colour."""
        steps = MaxNLocator(nbins=6 if self.phone else 9).tick_values(0.0, frame.plain)
        apart = (0.11 if self.phone else 0.06) * frame.end
        ticks = [tick for tick in steps if 0 <= tick <= frame.plain and abs(tick - frame.post) > apart]
        self.ax.set_xlim(0, frame.end)
        self.ax.set_xticks([*ticks, frame.post], [f"{tick:g}" for tick in (*ticks, frame.ceiling)])
        for label in self.ax.get_xticklabels():
            label.set(color=SOFT, weight="normal")
        self.ax.get_xticklabels()[-1].set(color=RED_WORDS, weight="bold")

    def _draw_lintel(self, frame: Volts) -> None:
        """The strip that says what each stretch of volts is good for: hatched what is too low, plain what charges."""
        ax, x_axis = self.ax, self.ax.get_xaxis_transform()
        charges = max(min(frame.post, frame.end) - frame.floor, 0.0)
        hatched: dict[str, Any] = {"fc": PAPER, "ec": HATCHED, "hatch": "////", "lw": 0.0, "zorder": 0.2}
        low = Rectangle((0, 0), min(frame.floor, frame.end), 1.0, transform=x_axis, **hatched)
        clear = Rectangle((frame.floor, 1 - LINTEL), charges, LINTEL, fc=ROLES["window"], ec="none", transform=x_axis)
        clear.set_zorder(0.2)
        self._behind(ax.add_patch(low), ax.add_patch(clear))
        floor = ax.plot([frame.floor] * 2, [0, 1], color=INK, lw=1.4, zorder=1, transform=x_axis)[0]
        wakes = ax.plot([frame.wakes] * 2, [0, 1 - LINTEL], color=INK, lw=1.2, ls=":", zorder=1, transform=x_axis)[0]
        self._behind(floor, wakes, *self._lintel_words(frame))

    def _lintel_words(self, frame: Volts) -> list[Artist]:
        """What stands in the strip, as far as there is room for it."""
        inch = self.ax.get_position().width * self.figure.get_figwidth() / frame.end
        middle, x_axis = 1 - LINTEL / 2, self.ax.get_xaxis_transform()
        words: dict[str, Any] = {"fontsize": LINTEL_FONT, "va": "center_baseline", "transform": x_axis, "color": INK}
        corner = words | {"color": SOFT, "va": "top", "ha": "right"}
        told: list[Artist] = [self.ax.text(-0.012 * frame.end, 1.0, "watts", **corner)]
        if width_of("too low ") < frame.floor * inch:
            place = frame.floor - 0.06 / inch, middle
            told.append(self.ax.text(*place, "too low", ha="right", weight="bold", bbox=BEHIND, **words))
        room = (min(frame.plain, frame.post) - frame.floor) * inch - 0.1
        said = [f"charges from {frame.floor:.1f} V"]
        if frame.wakes > frame.floor:
            said.insert(0, f"{said[0]}, wakes at {frame.wakes:.1f} V")
        fits = next((line for line in said if width_of(line) * LINTEL_FONT / FONT < room), f"from {frame.floor:.1f} V")
        told.append(self.ax.text(frame.floor + 0.06 / inch, middle, fits, ha="left", **words))
        return told

    def _draw_ceiling(self, frame: Volts) -> None:
        """The ceiling as an upright post with upright words, and the fold before it."""
        ax, x_axis = self.ax, self.ax.get_xaxis_transform()
        post = ax.plot([frame.post] * 2, [0, 1], color=ROLES["limit"], lw=3.6, zorder=1.5, transform=x_axis)[0]
        post.set(solid_capstyle="butt", clip_on=False)
        side, shift = ("right", -0.008) if frame.folded or frame.over else ("left", 0.008)
        self.ceiling_words = ax.text(
            frame.post + shift * frame.end, 0.03, f"ceiling {frame.ceiling:g} V", rotation=90, ha=side, va="bottom",
            fontsize=FONT, weight="bold", color=RED_WORDS, transform=x_axis, bbox=BEHIND, zorder=1.6,
        )  # fmt: skip
        self._behind(post, self.ceiling_words)
        if not frame.folded:
            return
        place = [frame.plain + 0.3 * (frame.post - frame.plain)]
        shapes: dict[str, Any] = {"ls": "none", "clip_on": False, "transform": x_axis}
        for height, size in ((0.0, 11), (1 - LINTEL / 2, 22)):
            gap = ax.plot(place, [height], marker=FOLD_GAP, ms=size, mfc="white", mec="none", zorder=5, **shapes)[0]
            strokes = ax.plot(place, [height], marker=FOLD_STROKES, ms=size, mfc="none", mec=INK, mew=1.1, **shapes)[0]
            strokes.set_zorder(5.1)
            self._behind(gap, strokes)

    def _make_lines(self, styles: Mapping[str, Look]) -> None:
        """A curve, hilltops, a seat and a name for each wiring."""
        for group in (self.lines, self.bands, self.tops, self.spots, self.names, self.kinds, self.leaders):
            for artist in group.values():  # type: ignore[attr-defined]
                artist.remove()
            group.clear()
        under: list[AbstractPathEffect] = [withStroke(linewidth=4.2, foreground="white")]
        for name, look in styles.items():
            line = self.ax.plot([], [], color=look.colour, ls=look.dash, lw=2.4, zorder=3)[0]
            if look.dash != "-":
                line.set_path_effects(under)
            self.lines[name] = line
            self.bands[name] = self.ax.fill([0.0], [0.0], fc=look.colour, ec="none", alpha=BAND_SHADE, zorder=2)[0]
            mark: dict[str, Any] = {"color": look.colour, "marker": look.marker, "mfc": "white", "ls": "none"}
            self.tops[name] = self.ax.plot([], [], zorder=4, ms=6, mew=1.3, **mark)[0]
            self.spots[name] = self.ax.plot([], [], zorder=5, ms=9.5, mew=2.2, **mark)[0]
            said: dict[str, Any] = {
                "parse_math": False,
                "va": "center_baseline",
                "color": look.words,
                "zorder": 6,
                "bbox": BEHIND,
            }
            self.names[name] = self.ax.text(0, 0, "", fontsize=NAME_FONT, weight="bold", **said)
            self.kinds[name] = self.ax.text(0, 0, "", fontsize=LINTEL_FONT, **said)
            self.leaders[name] = self.ax.plot([], [], color=look.words, lw=0.9, zorder=3.5, label=LEADER)[0]
        curves = [*self.bands.values(), *self.lines.values(), *self.tops.values(), *self.spots.values()]
        words = [*self.leaders.values(), *self.names.values(), *self.kinds.values()]
        self.moving = [self.grid, *self.watts, *curves, *words, title_line(self.ax)]


def plot_power(
    comparison: Comparison,
    *,
    ax: Axes | None = None,
    p_top: float | None = None,
    v_top: float | None = None,
    phone: bool = True,
) -> Axes:
    """Power against array voltage in one light, with every hilltop and where the controller sits.

    Parameters
    ----------
    comparison : Comparison
        Over a Snapshot; of a day the first moment is drawn.
    ax : Axes, optional
    p_top, v_top : float, optional
        Least ends of the axes, as in `PowerChart`. [W, V]
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> ax = plot_power(found, ax=Figure().subplots())
    >>> [text.get_text() for text in ax.texts if text.get_text()][-3:]
    ['ceiling 80 V', '2s 169 W', '2p 167 W']
    """
    made = new_axes(ax, PowerChart.size if phone else PowerChart.page, MARGINS)
    chart = PowerChart(made, p_top=p_top, v_top=v_top, phone=phone)
    chart.update(comparison)
    return chart.ax


def _ends(v_top: float, wakes: float, ceiling: float, held: float | None) -> tuple[float, float, float]:
    """Up to which volts the axis is plain, where it ends, and where the ceiling's post stands on it. [V]"""
    needed = max(PLAIN * v_top, WAKING * wakes)
    plain = rounded_up_to(needed, V_STEP) if held is None else held
    if held is not None and ceiling <= held:
        return held, held, ceiling
    if held is None and (v_top >= NEAR * ceiling or plain >= NEAR * ceiling):
        end = max(BEYOND * ceiling, rounded_up_to(needed, V_STEP))
        return end, end, ceiling
    return plain, (1 + FOLD) * plain, (1 + POST) * plain


def _watts_said(outcome: Outcome, dull: bool) -> str:
    """What a wiring brings in the first moment: watts, the range that labels leave open, or why nothing."""
    if outcome.refused is not None:
        return "not allowed"
    if not outcome.p_panels[0]:
        return ""
    watts = float(outcome.p_battery[0])
    if watts <= 0:
        return "asleep" if (outcome.operations[0].held_by[0] == ASLEEP) else known_in(watts, "W")
    low, high = (known(float(end[0])) for end in outcome.band()) if dull else ("", "")
    return known_in(watts, "W") if low == high else f"{low} to {high} W"


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
