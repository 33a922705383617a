"""The roof from above with its shadows, beside the curves; a day in strips; and light against shaded share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import LinearSegmentedColormap, ListedColormap
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.patches import Patch, PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.transforms import ScaledTranslation

from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.day import LIGHT_SHADE, dense
from vanpower.figures.names import finding, legend_columns, short_names
from vanpower.figures.power import PowerChart
from vanpower.figures.style import (
    FONT,
    INK,
    ROLES,
    TITLE_FONT,
    Chart,
    even_ticks,
    fitted_top,
    lay_out,
    looks,
    looks_of,
    new_axes,
    title_line,
)
from vanpower.model.light import lit_panels
from vanpower.results.numbers import ALIKE, watt_hours
from vanpower.rig import Days, Fixture, Panel, Parked, Placement, Request, Rig, Roof, Snapshot
from vanpower.shading.layout import cells_of
from vanpower.shading.outlines import shadows
from vanpower.shading.roofs import solids_of
from vanpower.shading.silhouette import outline
from vanpower.shading.sun_disc import sun_vectors
from vanpower.studies.comparison import Comparison, compare
from vanpower.studies.roof import ShadeMap
from vanpower.weather.beams import beams_of
from vanpower.weather.parked import parked_day

LIGHT_COLOURS = LinearSegmentedColormap.from_list("shade to light", [INK, ROLES["shade"], "#C9B85A", ROLES["light"]])
# from no light to all of it, even in grey
SMALL_M = 0.3
# [m] a fixture smaller than this has its name below it
WIDEST_BESIDE = 3.7
# [inch] of a title over curves that stand beside a roof
LETTER_WIDE, LINE_HIGH = 0.021, 0.05
# size of the letters, as shares of a roof's length
ROOM = 0.12
# share of the roof left free around it for what hangs over
NOTHING = Path(np.empty((0, 2)))


class RoofChart(Chart):
    """The roof from above, to scale: cells by their light, substrings, fixtures, shadows, north and the sun.

    Parameters
    ----------
    ax : Axes, optional

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> found = compare({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9))
    >>> chart = RoofChart()
    >>> chart.update(found)
    >>> chart.title
    '3 % less light on the cells at 9:00'
    """

    size = (4.2, 5.4)
    named_outside = False
    # whether fixtures have their names beside the roof, which is then somebody else's to do

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        ax = self.ax
        ax.set_aspect("equal", adjustable="box")
        self._labels("Across the roof (m)", "Towards the nose (m)")
        edge = ROLES["start"]
        self.cells = PolyCollection([], ec="white", lw=0.5, zorder=2)
        self.groups = PolyCollection([], fc="none", ec="black", lw=1.8, zorder=4)
        # one path, since every shadow of its own would have its strokes drawn again
        self.shadows = PathPatch(NOTHING, fc="none", ec="black", hatch="////", lw=0.0, zorder=3, alpha=0.8)
        self.fixtures = PolyCollection([], fc="#C8C8C8", ec=edge, lw=1.3, zorder=5)
        for collection in (self.cells, self.groups, self.fixtures):
            ax.add_collection(collection, autolim=False)
        ax.add_artist(self.shadows)
        behind: dict[str, Any] = {"fc": "white", "ec": "none", "alpha": 0.75, "pad": 0.8}
        middle: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": FONT - 1, "zorder": 7, "bbox": behind}
        self.words = [ax.text(0, 0, "", **middle) for _ in range(16)]
        arrow = {"arrowstyle": "-|>", "lw": 2.0, "color": "black", "shrinkA": 0, "shrinkB": 0}
        self.north = ax.annotate("", (0, 0), (0, 0), arrowprops=arrow, zorder=8, annotation_clip=False)
        self.sun = ax.annotate("", (0, 0), (0, 0), arrowprops=arrow | {"color": ROLES["loads"], "ls": "-"}, zorder=8,
                               annotation_clip=False)  # fmt: skip
        self.north_word = ax.text(0, 0, "N", fontsize=FONT, ha="center", va="center", zorder=8, fontweight="bold")
        self.sun_word = ax.text(0, 0, "sun", fontsize=FONT, ha="center", va="center", zorder=8, color=ROLES["loads"])
        # what is drawn on the roof already
        self._panels: tuple[tuple[Panel, ...], tuple[Placement, ...]] = ((), ())
        self._plan: Roof | None = None
        drawn: list[Artist] = [self.cells, self.groups, self.shadows, self.fixtures, *self.words]
        self.moving = [*drawn, self.north, self.north_word, self.sun, self.sun_word, title_line(ax)]

    def update(self, comparison: Comparison) -> None:
        """Show the roof of the first wiring in the moment of a comparison."""
        rig = next(iter(comparison.outcomes.values())).rig
        plan, request = rig.need_roof(), comparison.request
        frame = (plan.wide_m, plan.long_m)
        if frame != self.frame:
            self._draw_frame(plan)
            self.frame = frame
        sun = sun_on_roof(plan, request)
        solids = solids_of(plan, _heading(request))
        share = self._light(rig, plan, request)
        if (panels := (rig.panels, plan.spots)) != self._panels:
            self._panels = panels
            self._draw_panels(*panels)
        self.cells.set_facecolor(LIGHT_COLOURS(np.clip(share, 0, 1)))  # type: ignore[arg-type]
        cast = shadows([solid for solid in solids if solid.faces], sun) if sun[2] > 0.02 else []
        self.shadows.set_path(_together(cast))
        if plan != self._plan:
            self._plan = plan
            covers = [outline_of(solid.points[:, :2]) for solid in solids if not _on_ground(plan, solid.name)]
            self.fixtures.set_verts(covers)
            self._draw_words(plan)
        self._draw_arrows(plan, _heading(request), sun)
        less = 1 - float(np.mean(share))
        hour = f" at {clock(request.hour)}" if isinstance(request, Parked) and request.hour is not None else ""
        self._say(f"{100 * less:.0f} % less light on the cells{hour}" if sun[2] > 0 else f"No sun on the roof{hour}")

    def _light(self, rig: Rig, plan: Roof, request: Request) -> np.ndarray:
        """Light on every cell over that of a free one, as worked out for the curves already (cell,)."""
        asked = lit_panels(rig.panels, request, plan).conditions
        free = lit_panels(rig.panels, request, replace(plan, fixtures=())).conditions
        brightest = max(float(free.light[spot.panel].max()) for spot in plan.spots)
        cells = np.concatenate([asked.light[spot.panel][0].reshape(-1) for spot in plan.spots])
        return cells / brightest if brightest > 0 else np.zeros(len(cells))

    def _draw_panels(self, panels: tuple[Panel, ...], spots: tuple[Placement, ...]) -> None:
        """Every cell, and the outline of every substring."""
        edges, groups = [], []
        for spot in spots:
            grid = cells_of(panels[spot.panel], spot)
            edges.append(grid.edges)
            for s in range(grid.shape[0]):
                part = [side[s] for side in (grid.left, grid.right, grid.back, grid.front)]
                groups.append(_box(part[0].min(), part[1].max(), part[2].min(), part[3].max()))
        self.cells.set_verts([_box(*cell) for cell in np.concatenate(edges)])
        self.groups.set_verts(groups)

    def _draw_words(self, plan: Roof) -> None:
        """Names of panels and of fixtures on the roof, as far as there is room for words."""
        said = [(f"P{s.panel + 1}", (s.left_m + s.wide_m / 2, s.back_m + s.long_m / 2)) for s in plan.spots]
        on_it = [] if self.named_outside else loose_on(plan)
        said += [(fixture.name, _beside(fixture, plan)) for fixture in on_it]
        # of two names in one place the later, upper one is written
        said = [(name, place) for place, name in {place: name for name, place in said}.items()]
        written: list[tuple[float, float, float]] = []
        for k, word in enumerate(self.words):
            text, (x, y) = said[k] if k < len(said) else ("", (0.0, 0.0))
            word.set_text(text)
            # a name too long for its roof is written inside it, and one that would run into another below that
            room = LETTER_WIDE * len(text) * plan.long_m / 2
            x = min(max(x, room), plan.wide_m - room) if room < plan.wide_m / 2 else x
            line, gap = LINE_HIGH * plan.long_m, LETTER_WIDE * plan.long_m
            while text and any(abs(x - a) < room + r + gap and abs(y - b) < line for a, b, r in written):
                y -= line
            written.append((x, y, room))
            word.set_position((x, y))

    def _draw_arrows(self, plan: Roof, heading: float, sun: np.ndarray) -> None:
        """North, and where the sun is, right of the roof."""
        length = 0.09 * plan.long_m
        x, y = plan.wide_m * (1 + 2 * ROOM) + length, plan.long_m - 1.2 * length
        turn = np.radians(-heading)
        _point(self.north, self.north_word, (x, y), (np.sin(turn), np.cos(turn)), length)
        flat = float(np.hypot(sun[0], sun[1]))
        shown = sun[2] > 0 and flat > 0.02
        self.sun.set_visible(shown)
        self.sun_word.set_visible(shown)
        if shown:
            _point(self.sun, self.sun_word, (x, y - 4.4 * length), (sun[0] / flat, sun[1] / flat), length)

    def _draw_frame(self, plan: Roof) -> None:
        """The roof's edge and which end is the nose."""
        self._redraw_behind()
        ax, room = self.ax, ROOM * plan.wide_m
        ax.set_xlim(-room, plan.wide_m * (1 + 2 * ROOM) + 0.26 * plan.long_m)
        ax.set_ylim(-room, plan.long_m + 2 * room)
        roof = Rectangle((0, 0), plan.wide_m, plan.long_m, fc="#F4F4F4", ec="black", lw=1.2, zorder=1)
        nose = ax.text(plan.wide_m / 2, plan.long_m + 0.1 * room, "nose", fontsize=FONT, ha="center", va="bottom")
        self._behind(ax.add_patch(roof), nose)
        self.shadows.set_clip_path(roof)


class RoofPairChart:
    """The roof from above and the power-voltage curves beside it, told the same comparison; for sliders.

    Parameters
    ----------
    p_top, v_top : float, optional
        Axes of the curves, as in `PowerChart`. [W, V]

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> found = compare({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9))
    >>> pair = RoofPairChart()
    >>> pair.update(found)
    >>> pair.roof.title, pair.power.title
    ('3 % less light on the cells at 9:00', '3s 255 W into the battery')
    """

    parts = 2
    # charts side by side, which a narrow page may put one under the other

    def __init__(self, *, p_top: float | None = None, v_top: float | None = None, figure: Figure | None = None) -> None:
        self.figure = Figure(figsize=(8.6, 4.7), layout="constrained") if figure is None else figure
        left, right = self.figure.subplots(1, 2, width_ratios=(1.0, 1.35))
        self.roof, self.power = RoofChart(left), PowerChart(right, p_top=p_top, v_top=v_top)
        self.power.widest = WIDEST_BESIDE

    @property
    def moving(self) -> list[Artist]:
        """What may change at every update."""
        return [*self.roof.moving, *self.power.moving]

    @property
    def repeated(self) -> list[Artist]:
        """The finding of the hills, which the verdict beside the picture says."""
        return self.power.repeated

    @property
    def frame(self) -> tuple[Any, ...]:
        """What stands still."""
        return (self.roof.frame, self.power.frame)

    def update(self, comparison: Comparison) -> None:
        """Show the roof and the curves of one moment."""
        self.roof.update(comparison)
        self.power.update(comparison)
        if isinstance(self.figure.get_layout_engine(), ConstrainedLayoutEngine):
            # names stand at curves by the size of their axes, which the first drawing decides
            lay_out(self.figure)
            self.power.settle()


def plot_roof(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """The roof from above in one moment under a sky.

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> found = compare({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=18))
    >>> plot_roof(found, ax=Figure().subplots()).get_title(loc="left")
    '7 % less light on the cells at 18:00'
    """
    chart = RoofChart(new_axes(ax, RoofChart.size))
    chart.update(comparison)
    return chart.ax


def plot_roof_day(comparison: Comparison, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Watts into the battery through a parked day: one line a wiring, and what the panels could give without shade.

    Examples
    --------
    >>> from vanpower import Parked, compare, example
    >>> day = Parked(latitude_deg=47, day="06-21", step_min=60)
    >>> found = compare({"3s": example("goat-cheese-van")}, day)
    >>> plot_roof_day(found, ax=Figure().subplots()).get_title(loc="left")
    '3s 2933 Wh into the battery'
    """
    outcomes = comparison.outcomes
    if not isinstance(comparison.request, Parked) or comparison.request.hour is not None:
        raise ValueError("plot_roof_day needs a comparison over a parked day; leave hour out.")
    chart = Chart(new_axes(ax, Chart.size if phone else Chart.page), phone=phone)
    ax, first = chart.ax, next(iter(outcomes.values()))
    index = parked_day(comparison.request).table.index
    hours = (index.hour + index.minute / 60 + first.step_h / 2).to_numpy(float)
    ax.fill_between(hours, first.p_panels, color=ROLES["light"], alpha=LIGHT_SHADE, lw=0)
    short, curves, marks, names = short_names(outcomes), [], [], []
    for name, look in looks_of(outcomes).items():
        watts = outcomes[name].p_battery
        ax.plot(hours, watts, color=look.colour, ls=look.dash, lw=2.2)
        place = int(np.argmax(watts))
        curves.append(dense(hours, watts))
        marks.append((hours[place], watts[place]))
        names.append(named_at(ax, f"{short[name]} {watt_hours(outcomes[name].energy_wh)}", look.words))
    ax.set_xlim(hours.min(), hours.max())
    top = fitted_top(float(first.p_panels.max()))
    ax.set_ylim(0, top)
    ax.set_yticks(even_ticks(top))
    sun = float(first.p_panels.sum() * first.step_h)
    chart._labels(f"Sun time (h); yellow: panels without shade, {watt_hours(sun)}", "Into the battery (W)")
    chart._say(finding(comparison))
    settle(ax, names, np.array(marks), np.concatenate(curves))
    return ax


def plot_shade_map(found: ShadeMap, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Light against shaded share, coloured by the winning wiring; the line where the best two are equal.

    Examples
    --------
    >>> from vanpower import example, shade_map
    >>> found = shade_map(example("goat-cheese-van").wirings())
    >>> ax = plot_shade_map(found, ax=Figure().subplots())
    >>> print(ax.get_title(loc="left"))
    3s wins on 32 %, 3p wins on 24 % of the map;
    on the black line 3s equals the best other
    """
    ax = new_axes(ax, (5.5, 4.2) if phone else (9.0, 4.4))
    names = list(found.watts)
    short = list(short_names(names).values())
    styles = list(looks(names).values())
    colours = ["#F4F4F4", *(look.colour for look in styles)]
    hatches = ["", *(look.hatch or "\\\\" for look in styles)]
    share, light = 100 * found.share, found.light
    winner = found.winner
    ax.pcolormesh(share, light, winner, cmap=ListedColormap(colours), vmin=-1.5, vmax=len(names) - 0.5, alpha=0.45,
                  shading="nearest", zorder=1)  # fmt: skip
    for number in range(len(names)):
        if (winner == number).any() and not (winner == number).all():
            ax.contourf(share, light, winner == number, levels=(0.5, 1.5), colors="none", hatches=[hatches[number + 1]])
    lead = found.watts[names[0]] - np.max([found.watts[name] for name in names[1:] or names], axis=0)
    crosses = lead.min() < 0 < lead.max()
    if crosses:
        ax.contour(share, light, lead, levels=[0.0], colors="black", linewidths=2.0, zorder=3)
    ax.set_yscale("log")
    ax.set_xlim(share.min(), share.max())
    ax.set_ylim(light.min(), light.max())
    ticks = [60, 100, 200, 400, 700, 1000]
    ax.set_yticks(ticks, [str(tick) for tick in ticks])
    ax.minorticks_off()
    ax.set_xlabel(f"Cells in a shadow from the {found.edge} (%)", fontsize=FONT)
    ax.set_ylabel("Light (W/m²)", fontsize=FONT)
    ax.tick_params(labelsize=FONT)
    present = [n for n in range(-1, len(names)) if (winner == n).any()]
    words = [f"alike within {100 * ALIKE:g} %", *(f"{name} wins" for name in short)]
    patches = [Patch(fc=colours[n + 1], alpha=0.45, hatch=hatches[n + 1], ec="black", lw=0.3, label=words[n + 1])
               for n in present]  # fmt: skip
    # below the words of the axis, however low long names leave the map
    below = ax.transAxes + ScaledTranslation(0.0, -0.5, ax.figure.dpi_scale_trans)
    ax.legend(handles=patches, fontsize=FONT, frameon=False, loc="upper left", bbox_to_anchor=(-0.1, 0.0),
              bbox_transform=below,
              ncols=legend_columns([words[n + 1] for n in present], 3, line=2.4),
              handlelength=1.6, columnspacing=1.1, borderaxespad=0.0)  # fmt: skip
    shares = {n: 100 * float(np.mean(winner == n)) for n in present if n >= 0}
    ranked = sorted(shares, key=lambda n: -shares[n])
    parts = [f"{short[n]} wins on {shares[n]:.0f} %" for n in ranked]
    title = f"{', '.join(parts)} of the map" if parts else "No difference anywhere"
    line = f";\non the black line {short[0]} equals the best other" if crosses else ""
    ax.set_title(f"{title}{line}", loc="left", fontsize=TITLE_FONT, wrap=True)
    return ax


def roof_figure(rigs: Mapping[str, Rig], parked: Parked) -> Figure:
    """Roof and curves at one hour (noon where a day is asked for), and the day beside them.

    Examples
    --------
    >>> import matplotlib.pyplot as plt
    >>> from vanpower import Parked, example
    >>> figure = roof_figure({"3s": example("goat-cheese-van")}, Parked(latitude_deg=47, day="06-21", hour=9))
    >>> [ax.get_xlabel() for ax in figure.axes]
    ['Across the roof (m)', 'volts at the array, at 9:00 sun time']
    >>> plt.close(figure)
    """
    import matplotlib.pyplot as plt

    day = parked.hour is None
    moment = replace(parked, hour=12.0) if day else parked
    fig = plt.figure(figsize=(14.6 if day else 9.8, 5.4), layout="constrained")
    axes = fig.subplots(1, 3 if day else 2, width_ratios=(1.0, 1.3, 1.3)[: 3 if day else 2])
    now = compare(rigs, moment)
    RoofChart(axes[0]).update(now)
    PowerChart(axes[1]).update(now)
    axes[1].set_xlabel(f"volts at the array, at {clock(moment.hour or 0.0)} sun time", fontsize=FONT)
    if day:
        plot_roof_day(compare(rigs, parked), ax=axes[2])
    return fig


def sun_on_roof(plan: Roof, request: Request) -> np.ndarray:
    """Direction to the sun in the roof's axes at the hour asked for (3,)."""
    if isinstance(request, Snapshot | Days) or request.hour is None:
        raise ValueError("a roof is drawn at one hour; ask for Parked(..., hour=12).")
    beams = beams_of(parked_day(request))
    slope = {"slope_deg": plan.slope_deg, "downhill_deg": plan.downhill_deg}
    return sun_vectors(beams.elevation, beams.azimuth, heading_deg=request.heading_deg, **slope)[0]


def outline_of(points: np.ndarray) -> np.ndarray:
    """The outline of points seen from above (corner, 2)."""
    return points[outline(points)]


def _heading(request: Request) -> float:
    """Where the nose points; 0 for a moment set by hand."""
    return 0.0 if isinstance(request, Snapshot) else request.heading_deg


def _on_ground(plan: Roof, name: str) -> bool:
    """Whether a fixture stands on the ground."""
    return any(fixture.on_ground for fixture in plan.fixtures if fixture.name == name)


def loose_on(plan: Roof) -> list[Fixture]:
    """What stands on a roof and has a name there: neither on the ground nor laid over the glass."""
    return [fixture for fixture in plan.fixtures if not fixture.on_ground and fixture.kind != "cover"]


def _beside(fixture: Fixture, plan: Roof) -> tuple[float, float]:
    """Where a fixture's name goes: on it, or below one that the name would hide."""
    x, y = fixture.middle
    return (x, y) if min(fixture.wide_m, fixture.long_m) > SMALL_M else (x, y - 0.04 * plan.long_m)


def _box(left: float, right: float, back: float, front: float) -> np.ndarray:
    """Corners of a rectangle."""
    return np.array([(left, back), (right, back), (right, front), (left, front)])


def _together(shadows: Sequence[np.ndarray]) -> Path:
    """Outlines as one path."""
    closed = [Path(np.vstack([corners, corners[:1]]), closed=True) for corners in shadows]
    return Path.make_compound_path(*closed) if closed else NOTHING


def _point(arrow: Any, word: Any, at: tuple[float, float], way: tuple[float, float], length: float) -> None:
    """Put an arrow through a place, and its word ahead of it."""
    arrow.set_position((at[0] - way[0] * length * 0.7, at[1] - way[1] * length * 0.7))
    arrow.xy = (at[0] + way[0] * length * 0.7, at[1] + way[1] * length * 0.7)
    word.set_position((at[0] + way[0] * length * 1.25, at[1] + way[1] * length * 1.25))


def clock(hour: float) -> str:
    """An hour as a clock shows it."""
    minutes = round(hour * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"
