"""Panels drawn with their groups of cells and bypass diodes, and in one line the way the current takes through them.

The line is the model's: where a diode conducts it takes the diode, which is filled then. Any wiring of one circuit or
several; a string is a column, or, where there is one alone, a row. Left out: how large panels are, and blocking diodes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from vanpower.figures.handles import TAP, UP, Handle, Point
from vanpower.figures.power import PowerChart
from vanpower.figures.style import FONT, INK, SOFT, looks_of, title_line
from vanpower.model.current_way import NO_AMPS, PanelWay, panel_ways
from vanpower.results.verdict import Verdict
from vanpower.rig import Circuit, Panel, Rig, Shares, rows_of
from vanpower.studies.comparison import Comparison, Outcome

LIGHT, DARK = "#FFE45C", "#5D6772"
# lit cells, and cells in shade
PAGE, PHONE = 720.0, 330.0
# [pt] how wide the drawing is on a page and on a phone, which show it larger
EDGE, RAIL, DIODE, STUB, GAP, TERMINAL = 18.0, 18.0, 16.0, 9.0, 5.0, 22.0
# [pt] room at the edges, rail left of its cells, diode left of its rail, line above and below a panel, room between two
# groups, and between two panels that are joined
BETWEEN_ROWS, TOP, FOOT = 46.0, 36.0, 40.0
# [pt] between two rows of panels, above the first and below the last
HALF_GUTTER = 22.0
# [pt] half the room between the halves of a half-cut panel, in which its diodes are
BUS = 20.0
# [pt] line above panels in parallel, clear of their names
TALLEST_PANEL, CELL_HIGH = 132.0, {PAGE: 18.0, PHONE: 20.0}
# [pt] of a panel and of a row of cells, at most; a page is wide and seldom high
LETTER_WIDE = 7.4
# [pt] of a bold letter, rather too much than too little
ROOM_FOR_WORDS, ROOM_FOR_AMPS = 275.0, 96.0
# [pt] widths of a panel from which the words on it are whole, and short
POWER_HIGH = {False: 175.0, True: 215.0}
# [pt] of the curves below, on a page and on a phone
POWER_ROOM = {False: (38.0, 10.0), True: (44.0, 38.0)}
# [pt] below these and above; on a page the verdict stands over the panels, and they have no title
SHADED = 0.995
# a cell that gets less of the light than this is drawn in shade


@dataclass(frozen=True, eq=False)
class InShade:
    """Wirings compared in one shade, and the one of them whose current is drawn.

    Parameters
    ----------
    comparison : Comparison
        Over a Snapshot.
    wiring : str
        One of its names; the first of them where it is none.
    shares : Shares, optional
        How far the shadow comes over each group, where that is known; else each cell is drawn by its light.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> InShade(compare(example("bookmobile").wirings(), half), "2p").shown.rig.wiring_name
    '2p'
    """

    comparison: Comparison
    wiring: str = ""
    shares: Shares | None = None

    @property
    def verdict(self) -> Verdict:
        """What the comparison says."""
        return self.comparison.verdict

    @property
    def most(self) -> float:
        """What the best wiring puts into the battery. [W]"""
        return max(outcome.energy_wh for outcome in self.comparison.outcomes.values())

    @property
    def name(self) -> str:
        """Of the wiring whose current is drawn."""
        outcomes = self.comparison.outcomes
        return self.wiring if self.wiring in outcomes else next(iter(outcomes))

    @property
    def shown(self) -> Outcome:
        """The wiring whose current is drawn."""
        return self.comparison.outcomes[self.name]

    @property
    def colour(self) -> str:
        """Of its current: that of its curve."""
        return looks_of(self.comparison.outcomes)[self.name].colour


@dataclass(frozen=True)
class Box:
    """Where one panel is drawn: its upper left corner, its width, and how high one of its groups is. [pt]"""

    panel: int
    label: Panel
    x: float
    y: float
    wide: float
    group_high: float

    @property
    def high(self) -> float:
        """Of all its groups with the gaps between."""
        return self.label.substrings * (self.group_high + GAP) - GAP

    @property
    def halves(self) -> list[tuple[float, float]]:
        """Left and right end of its cells: of all, or of each half of a half-cut one."""
        if self.label.branches == 1:
            return [(self.x, self.x + self.wide)]
        middle = self.x + self.wide / 2
        return [(self.x, middle - HALF_GUTTER), (middle + HALF_GUTTER, self.x + self.wide)]

    @property
    def rail(self) -> float:
        """Where the current comes down, from group to group."""
        return self.x - RAIL if self.label.branches == 1 else self.x + self.wide / 2 + DIODE / 2

    def group(self, number: int) -> tuple[float, float]:
        """Upper and lower edge of a group."""
        top = self.y + number * (self.group_high + GAP)
        return top, top + self.group_high

    @property
    def outline(self) -> Path:
        """Every group of cells, in a half-cut panel both halves of each."""
        groups = [self.group(number) for number in range(self.label.substrings)]
        return _rectangles([(left, *group, right) for group in groups for left, right in self.halves])

    def depth_of(self, y: float) -> tuple[float, ...]:
        """Share of each group above a height: what a shadow that comes from above covers."""
        edges = [self.group(number) for number in range(self.label.substrings)]
        return tuple(min(max((y - top) / (bottom - top), 0.0), 1.0) for top, bottom in edges)

    def edge_of(self, shares: Sequence[float]) -> float:
        """Height of that shadow's edge: down to the first group that is not wholly covered."""
        for number, share in enumerate(shares):
            top, bottom = self.group(number)
            if share < 1.0:
                return top + share * (bottom - top) - (GAP / 2 if share == 0.0 and number else 0.0)
        return self.group(self.label.substrings - 1)[1]


@dataclass(frozen=True)
class Plan:
    """Where the panels of one circuit are drawn: columns in rows; `linked` where all are one string."""

    rows: tuple[tuple[tuple[Box, ...], ...], ...]
    linked: bool

    @property
    def boxes(self) -> list[Box]:
        """All of them, in the order of the wiring."""
        return [box for row in self.rows for column in row for box in column]


def planned(rig: Rig, wide: float) -> tuple[list[Plan], float]:
    """Where every panel of a rig is drawn, circuit by circuit, and how high all of it is. [pt]

    Examples
    --------
    >>> from vanpower import example
    >>> plans, high = planned(example("bookmobile").wired("2s"), PAGE)
    >>> [box.x for box in plans[0].boxes], plans[0].linked, high
    ([52.0, 394.0], True, 153.0)
    """
    plans, y = [], 0.0
    for circuit in rig.circuits:
        plan, y = _circuit_plan(rig, circuit, wide, y + TOP)
        plans.append(plan)
        y += FOOT
    return plans, y


def _circuit_plan(rig: Rig, circuit: Circuit, wide: float, y: float) -> tuple[Plan, float]:
    """Rows of columns of panels, from a height on; and the height at which they end."""
    strings = circuit.wiring.strings
    linked = len(strings) == 1
    columns = [(panel,) for panel in strings[0]] if linked else list(strings)
    in_row = _in_row(len(columns), linked, wide)
    number = -(-len(columns) // in_row) * max(map(len, columns))
    rows = []
    for first in range(0, len(columns), in_row):
        row = [
            _column(rig, column, k, in_row, wide, y, number) for k, column in enumerate(columns[first : first + in_row])
        ]
        rows.append(tuple(row))
        y = max(column[-1].y + column[-1].high for column in row) + BETWEEN_ROWS
    return Plan(tuple(rows), linked), y - BETWEEN_ROWS


def _in_row(columns: int, linked: bool, wide: float) -> int:
    """How many columns stand beside each other."""
    if wide == PHONE:
        most = (1 if columns <= 4 else 2 if columns <= 12 else 3) if linked else 2 if columns <= 6 else 3
    else:
        most = (4 if columns <= 12 else 6) if linked else 6
    return min(columns, most) if columns <= most else -(-columns // -(-columns // most))


def _column(
    rig: Rig, panels: Sequence[int], place: int, in_row: int, wide: float, y: float, number: int
) -> tuple[Box, ...]:
    """The panels of one column below each other."""
    room = (wide - 2 * EDGE) / in_row
    boxes = []
    for panel in panels:
        label = rig.panels[panel]
        left, right = (RAIL + DIODE, 1.4 * EDGE) if label.branches == 1 else (EDGE, 1.4 * EDGE)
        most = min(TALLEST_PANEL, 420.0 / number) / label.substrings - GAP
        high = max(min(2 * CELL_HIGH[wide], most), 5.0)
        box = Box(panel, label, EDGE + place * room + left, y, min(room - left - right, 0.6 * PAGE), high)
        boxes.append(box)
        y += box.high + TERMINAL
    return tuple(boxes)


class PanelsChart:
    """Panels with their groups of cells and diodes in one shade, and the current's way through them.

    Parameters
    ----------
    ax : Axes, optional
        Which must be as many points wide and high as the drawing; None makes a figure of that size.
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> chart = PanelsChart()
    >>> chart.update(InShade(compare(example("bookmobile").wirings(), half), "2s"))
    >>> [word.get_text() for word in chart.words if word.get_text()]
    ['diode 3.3 A', '+ to the controller, 4.1 A']
    """

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        self.phone, self.wide, self.high = phone, PHONE if phone else PAGE, 0.0
        self.ax = Figure(figsize=(self.wide / 72, 1)).add_axes((0, 0, 1, 1)) if ax is None else ax
        self.ax.set_axis_off()
        self.plans: list[Plan] = []
        self.frame: tuple[Any, ...] = ()
        self.rig: Rig | None = None
        self._still: list[Artist] = []
        self.shade = PathPatch(_NOTHING, fc=DARK, ec="none", zorder=3)
        self.hatch = PathPatch(_NOTHING, fc="none", ec="#39424B", hatch="\\\\\\\\\\", lw=0.0, zorder=3.5)
        self.edges = PathPatch(_NOTHING, fc="none", ec=INK, lw=1.5, ls=(0, (4, 3)), zorder=4)
        self.dead = PathPatch(_NOTHING, fc="none", ec="white", lw=1.5, ls=(0, (1, 2.2)), zorder=5)
        self.way = PathPatch(_NOTHING, fc="none", ec=INK, lw=3.6, zorder=6, joinstyle="miter", capstyle="butt")
        self.arrows = PathPatch(_NOTHING, fc=INK, ec="none", zorder=7)
        self.taken = PathPatch(_NOTHING, fc=INK, ec=INK, lw=1.6, zorder=7)
        self.words: list[Any] = []
        for artist in (self.shade, self.hatch, self.edges, self.dead, self.way, self.arrows, self.taken):
            self.ax.add_artist(artist)

    @property
    def figure(self) -> Figure:
        """The figure the drawing is on."""
        figure = self.ax.get_figure(root=True)
        assert isinstance(figure, Figure)
        return figure

    @property
    def moving(self) -> list[Artist]:
        """What may change at every update."""
        drawn = [self.shade, self.hatch, self.edges, self.dead, self.way, self.arrows, self.taken]
        return [*drawn, *self.words]

    def update(self, found: InShade) -> None:
        """Show the shade and the current of another answer, in its first moment."""
        outcome = found.shown
        self.rig = outcome.rig
        self._lay_out(outcome.rig)
        self._draw_shade(outcome, found.shares)
        ways = panel_ways(outcome.model)
        self._draw_way(ways, found.colour)
        self._say(outcome, ways)

    def handles(self, values: Mapping[str, Any]) -> list[Handle]:
        """Groups to tap and the edge of a shadow on each panel, where a control has `Shares` for its value."""
        name = holding(Shares, values)
        if name is None:
            return []
        boxes = [box for plan in self.plans for box in plan.boxes]
        shares = values[name]
        groups = [_group_handle(box, number, shares.of(box.panel, box.label)) for box in boxes
                  for number in range(box.label.substrings)]  # fmt: skip
        verb = "drag the edge or tap a group"
        edges = [_edge_handle(box, shares.of(box.panel, box.label), verb * (box is boxes[0])) for box in boxes]
        return [*groups, *edges]

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> dict[str, Any]:
        """The shares of groups in shade after a tap on a group, or with a shadow's edge at another height."""
        kind, _, place = key.partition(" ")
        panel, _, group = place.partition(".")
        box = next(box for plan in self.plans for box in plan.boxes if box.panel == int(panel))
        name = holding(Shares, values)
        assert name is not None
        before: Shares = values[name]
        own = list(before.of(box.panel, box.label))
        if kind == "edge":
            own = list(box.depth_of(at[1]))
        else:
            own[int(group)] = 0.0 if own[int(group)] > 0.0 else 1.0
        return {name: before.changed(box.panel, own)}

    def _lay_out(self, rig: Rig) -> None:
        """Everything that stands still, drawn anew where it changes."""
        plans, high = planned(rig, self.wide)
        frame = (tuple(rig.panels), tuple(circuit.wiring.strings for circuit in rig.circuits))
        if frame == self.frame:
            return
        self.frame, self.plans, self.high = frame, plans, high
        for artist in self._still:
            artist.remove()
        self._still = []
        figure = self.figure
        if figure.axes == [self.ax]:
            figure.set_size_inches(self.wide / 72, high / 72)
        self.ax.set_xlim(0, self.wide)
        self.ax.set_ylim(high, 0)
        for number, plan in enumerate(plans):
            self._draw_plan(plan, number if len(plans) > 1 else None)

    def _draw_plan(self, plan: Plan, number: int | None) -> None:
        """The panels of one circuit, unlit and without current."""
        boxes = plan.boxes
        for box in boxes:
            self._keep(box.outline, fc=LIGHT, ec="none", zorder=1)
            self._keep(_grid(box), fc="none", ec="white", lw=0.9, zorder=2)
            self._keep(box.outline, fc="none", ec=INK, lw=1.9, zorder=2.5)
            if box.label.bypass_diodes:
                self._keep(_diodes(box, range(box.label.substrings)), fc="white", ec=INK, lw=1.2, zorder=2)
            self._write(box.x, box.y - 4, f"P{box.panel + 1}", ha="left", weight="bold")
        first = boxes[0]
        end = "\N{MINUS SIGN}" if number is None else f"\N{MINUS SIGN}  controller {number + 1}"
        above = first.y - (STUB if plan.linked else BUS) - 1
        self._write(first.rail - 5, above, end, ha="left", weight="bold")

    def _keep(self, path: Path, **look: Any) -> None:
        self._still.append(self.ax.add_artist(PathPatch(path, **look)))

    def _write(self, x: float, y: float, words: str, **look: Any) -> None:
        self._still.append(self.ax.text(x, y, words, fontsize=FONT, color=INK, va="bottom", parse_math=False, **look))

    def _draw_shade(self, outcome: Outcome, shares: Shares | None) -> None:
        """What lies in shade: down to the shadow's edge, or every cell that gets less light than the brightest."""
        lit = outcome.model.light.conditions
        brightest = max(float(lit.brightest[0]), 1e-9)
        dark: list[tuple[float, float, float, float]] = []
        for box in (box for plan in self.plans for box in plan.boxes):
            if shares is None:
                dark += _dark_cells(box, lit.light[box.panel][0] / brightest)
            else:
                dark += _covered(box, shares.of(box.panel, box.label))
        path = _rectangles(dark)
        self.shade.set_path(path)
        self.hatch.set_path(path)
        self.edges.set_path(_polylines([] if shares is None else self._edge_lines(shares)))

    def _edge_lines(self, shares: Shares) -> list[list[Point]]:
        """A line across each panel at the edge of its shadow."""
        boxes = [box for plan in self.plans for box in plan.boxes]
        heights = [box.edge_of(shares.of(box.panel, box.label)) for box in boxes]
        each = [(y, half) for box, y in zip(boxes, heights, strict=True) for half in box.halves]
        return [[(left - 3, y), (right + 3, y)] for y, (left, right) in each]

    def _draw_way(self, ways: Sequence[Sequence[PanelWay]], colour: str) -> None:
        """The one line from minus to plus, its arrows, and the diodes it takes."""
        lines: list[list[Point]] = []
        dead: list[list[Point]] = []
        taken: list[Path] = []
        flows = any(abs(way.i_panel) > NO_AMPS for circuit in ways for way in circuit)
        for plan, circuit in zip(self.plans, ways, strict=True):
            through = {way.panel: way for way in circuit}
            for box in plan.boxes:
                conducting = through[box.panel].conducting
                lines += _through(box, conducting)
                dead += [loop for g, on in enumerate(conducting) if on for loop in _loops(box, g)]
                if any(conducting):
                    taken.append(_diodes(box, [g for g, on in enumerate(conducting) if on]))
            lines += _joints(plan, self.wide)
        colour = colour if flows else SOFT
        self.way.set(path=_polylines(lines), edgecolor=colour, linewidth=3.6 if flows else 1.2)
        self.dead.set_path(_polylines(dead))
        self.arrows.set(path=self._arrows(ways) if flows else _NOTHING, facecolor=colour)
        self.taken.set(path=Path.make_compound_path(*taken) if taken else _NOTHING, facecolor=colour, edgecolor=colour)

    def _arrows(self, ways: Sequence[Sequence[PanelWay]]) -> Path:
        """A tip on each line through cells, the other way round where a string is fed backwards; and one at plus."""
        tips = []
        for plan, circuit in zip(self.plans, ways, strict=True):
            through = {way.panel: way for way in circuit}
            for box in plan.boxes:
                way = through[box.panel]
                turn = -1.0 if way.i_panel < 0 else 1.0
                for number, on in enumerate(way.conducting):
                    if not on and abs(way.i_panel) > NO_AMPS and box.group_high > 12:
                        tips += [_tip(*tip, turn) for tip in _tips(box, number)]
            x, y = _plus(plan, self.wide)
            tips.append(_down(x, y))
        return Path.make_compound_path(*tips)

    def _say(self, outcome: Outcome, ways: Sequence[Sequence[PanelWay]]) -> None:
        """Amps at every diode that conducts, at each string of several, and at plus."""
        said: list[tuple[float, float, str, dict[str, Any]]] = []
        for number, (plan, circuit) in enumerate(zip(self.plans, ways, strict=True)):
            through = {way.panel: way for way in circuit}
            for box in plan.boxes:
                said += _diode_words(box, through[box.panel])
            if not plan.linked:
                said += [_string_words(column, through[column[-1].panel]) for row in plan.rows for column in row]
            x, y = _plus(plan, self.wide)
            name = f"controller {number + 1}" if len(self.plans) > 1 else "the controller"
            said.append(_plus_words(x, y, name, float(outcome.operations[number].i_array[0]), self.wide))
        while len(self.words) < len(said):
            self.words.append(self.ax.text(0, 0, "", fontsize=FONT, zorder=8, parse_math=False))
        blank: list[tuple[float, float, str, dict[str, Any]]] = [(0.0, 0.0, "", {})] * (len(self.words) - len(said))
        for word, (x, y, words, look) in zip(self.words, [*said, *blank], strict=True):
            word.set(x=x, y=y, text=words, color=INK, ha="left", va="center", weight="bold", fontsize=FONT, bbox=None)
            word.set(**look)


class ShadeChart:
    """Panels that can be shaded with a finger, the current's way through them, and the hills of every wiring below.

    Parameters
    ----------
    p_top, v_top : float, optional
        Axes of the curves, as in `PowerChart`. [W, V]
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> chart = ShadeChart()
    >>> chart.update(InShade(compare(example("bookmobile").wirings(), half), "2s"))
    >>> [handle.label for handle in chart.handles({"shares": Shares()})][-1]
    'Edge of a shadow on P2'
    """

    def __init__(self, *, p_top: float | None = None, v_top: float | None = None, phone: bool = True) -> None:
        self.phone, self.p_top, self.v_top = phone, p_top, v_top
        self.figure = Figure(figsize=((PHONE if phone else PAGE) / 72, 1))
        upper, lower = self.figure.add_axes((0, 0.5, 1, 0.5)), self.figure.add_axes((0.1, 0.1, 0.86, 0.3))
        self.panels, self.power = (
            PanelsChart(upper, phone=phone),
            PowerChart(lower, p_top=p_top, v_top=v_top, phone=phone),
        )
        title_line(lower).set_visible(phone)

    @property
    def moving(self) -> list[Artist]:
        """What may change at every update."""
        return [*self.panels.moving, *(self.power.moving if self.power.ax.get_visible() else [])]

    @property
    def repeated(self) -> list[Artist]:
        """The finding of the hills, which the verdict beside the picture says."""
        return self.power.repeated

    @property
    def frame(self) -> tuple[Any, ...]:
        """What stands still."""
        return (self.panels.frame, self.power.frame, self.power.ax.get_visible())

    def update(self, found: InShade) -> None:
        """Show another shade."""
        self.panels.update(found)
        curves = any(len(each.rig.circuits) == 1 for each in found.comparison.outcomes.values())
        self.power.ax.set_visible(curves)
        # names stand at curves by the size of their axes, so these are placed first
        self._place(self.panels.high, POWER_HIGH[self.phone] if curves else 0.0)
        if curves:
            self.power.update(found.comparison)

    def laid_out(self, *, phone: bool) -> ShadeChart:
        """The same chart in the other layout, not yet told anything."""
        return ShadeChart(p_top=self.p_top, v_top=self.v_top, phone=phone)

    def _place(self, panels: float, curves: float) -> None:
        """Drawing above, curves below, with room for their words."""
        high, wide = panels + curves, self.panels.wide
        self.figure.set_size_inches(wide / 72, high / 72)
        self.panels.ax.set_position((0, curves / high, 1, panels / high))
        below, above = POWER_ROOM[self.phone]
        if curves:
            self.power.ax.set_position((58 / wide, below / high, 1 - 72 / wide, (curves - below - above) / high))

    def handles(self, values: Mapping[str, Any]) -> list[Handle]:
        """What of the panels can be touched."""
        return self.panels.handles(values)

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> dict[str, Any]:
        """The shares of groups in shade after a touch."""
        return self.panels.touched(key, at, values)


def holding(kind: type, values: Mapping[str, Any]) -> str | None:
    """The name of the control whose value is of a kind, if there is one.

    Examples
    --------
    >>> holding(Shares, {"light": 700, "shape": Shares()})
    'shape'
    """
    return next((name for name, value in values.items() if isinstance(value, kind)), None)


_NOTHING = Path(np.empty((0, 2)))


def _polylines(lines: Sequence[Sequence[Point]]) -> Path:
    """Lines through points, as one path."""
    if not lines:
        return _NOTHING
    codes = [code for line in lines for code in (Path.MOVETO, *[Path.LINETO] * (len(line) - 1))]
    return Path(np.array([point for line in lines for point in line], float), codes)


def _rectangles(boxes: Sequence[tuple[float, float, float, float]]) -> Path:
    """Rectangles by left, top, bottom and right, as one path."""
    if not boxes:
        return _NOTHING
    corners = [[(x, t), (r, t), (r, b), (x, b), (x, t)] for x, t, b, r in boxes]
    codes = [Path.MOVETO, *[Path.LINETO] * 3, Path.CLOSEPOLY] * len(corners)
    return Path(np.array(corners, float).reshape(-1, 2), codes)


def _cells(box: Box) -> tuple[int, int]:
    """Rows and columns in which the cells of one branch of a group are drawn."""
    rows = rows_of(box.label)
    return rows, box.label.cells_in_series // box.label.substrings // rows


def _grid(box: Box) -> Path:
    """Lines between the cells."""
    rows, columns = _cells(box)
    lines: list[list[Point]] = []
    for number in range(box.label.substrings):
        top, bottom = box.group(number)
        for left, right in box.halves:
            lines += [[(x, top), (x, bottom)] for x in np.linspace(left, right, columns + 1)[1:-1]]
            lines += [[(left, (top + bottom) / 2), (right, (top + bottom) / 2)]] if rows == 2 else []
    return _polylines(lines) if lines else _NOTHING


def _dark_cells(box: Box, share: np.ndarray) -> list[tuple[float, float, float, float]]:
    """Stretches of shaded cells (substring, branch, cell), each row as deep as it is dark: left, top, bottom, right."""
    rows, columns = _cells(box)
    found = []
    for number, group in enumerate(share):
        top, bottom = box.group(number)
        for (left, right), branch in zip(box.halves, group, strict=True):
            for row, cells in enumerate(branch.reshape(rows, columns)):
                high, low = (top + (bottom - top) * part / rows for part in (row, row + 1))
                wide = (right - left) / columns
                found += [(left + a * wide, high, low, left + b * wide) for a, b in _stretches(cells < SHADED)]
    return found


def _covered(box: Box, shares: Sequence[float]) -> list[tuple[float, float, float, float]]:
    """What a shadow covers of each group: left, top, bottom, right."""
    tops = [box.group(number) for number in range(len(shares))]
    return [
        (left, top, top + share * (bottom - top), right)
        for share, (top, bottom) in zip(shares, tops, strict=True) for left, right in box.halves if share > 0.0
    ]  # fmt: skip


def _stretches(marked: np.ndarray) -> list[tuple[int, int]]:
    """First and one past the last of each run of marked cells."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], marked.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _levels(box: Box, number: int) -> Point:
    """Heights at which the current goes into a group and comes back."""
    top, bottom = box.group(number)
    return top + 0.25 * (bottom - top), top + 0.75 * (bottom - top)


def _loops(box: Box, number: int) -> list[list[Point]]:
    """The way through the cells of a group: to the far end and back, in a half-cut panel to both sides."""
    enters, leaves = _levels(box, number)
    x = box.rail
    ends = [box.x + box.wide - 12] if box.label.branches == 1 else [box.x + 10, box.x + box.wide - 12]
    return [[(x, enters), (end, enters), (end, leaves), (x, leaves)] for end in ends]


def _through(box: Box, conducting: Sequence[bool]) -> list[list[Point]]:
    """The current through one panel: in every group the cells, or the diode where that conducts."""
    x, lines = box.rail, [[(box.rail, box.y - STUB), (box.rail, _levels(box, 0)[0])]]
    for number, on in enumerate(conducting):
        enters, leaves = _levels(box, number)
        way = [[(x, enters), (x - DIODE, enters), (x - DIODE, leaves), (x, leaves)]]
        lines += way if on else _loops(box, number)
        below = _levels(box, number + 1)[0] if number + 1 < len(conducting) else box.y + box.high + STUB
        lines.append([(x, leaves), (x, below)])
    return lines


def _diodes(box: Box, groups: Sequence[int]) -> Path:
    """Bypass diodes of some groups: a lead from the rail, a triangle that points down, a bar, and a lead back."""
    parts = []
    for number in groups:
        enters, leaves = _levels(box, number)
        x, rail, middle = box.rail - DIODE, box.rail, (enters + leaves) / 2
        half = min(6.5, (leaves - enters) / 2 - 0.5)
        parts += [
            _polylines([[(rail, enters), (x, enters), (x, middle - half)]]),
            _polylines([[(x, middle + half), (x, leaves), (rail, leaves)]]),
            Path([(x - half, middle - half), (x + half, middle - half), (x, middle + half), (x - half, middle - half)],
                 [Path.MOVETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY]),
            _polylines([[(x - half, middle + half), (x + half, middle + half)]]),
        ]  # fmt: skip
    return Path.make_compound_path(*parts)


def _joints(plan: Plan, wide: float) -> list[list[Point]]:
    """Lines between the panels, from minus and to plus."""
    inside = [_link(a, b) for row in plan.rows for column in row for a, b in pairwise(column)]
    if plan.linked:
        return [*inside, *(_link(a, b) for a, b in pairwise(plan.boxes)), _to_plus(plan, wide)]
    return [*inside, *_buses(plan, wide)]


def _link(one: Box, other: Box) -> list[Point]:
    """From below one panel to above the next: below it, or beside it."""
    start, end = (one.rail, one.y + one.high + STUB), (other.rail, other.y - STUB)
    if end[1] > start[1]:
        between = (start[1] + end[1]) / 2
        return [start, (start[0], between), (end[0], between), end]
    x = other.x - (RAIL + DIODE + 8 if other.label.branches == 1 else 8)
    low, high = start[1] + 5, end[1] - 5
    return [start, (start[0], low), (x, low), (x, high), (end[0], high), end]


def _buses(plan: Plan, wide: float) -> list[list[Point]]:
    """Where strings in parallel come together: minus above each row and plus below, and rows joined at the sides."""
    lines, left, right = [], EDGE / 2, wide - EDGE / 2
    above, below = [], []
    for row in plan.rows:
        top = row[0][0].y - BUS
        bottom = max(column[-1].y + column[-1].high for column in row) + STUB + 9
        above.append(top)
        below.append(bottom)
        heads, feet = [column[0] for column in row], [column[-1] for column in row]
        lines.append([(left if len(plan.rows) > 1 else heads[0].rail, top), (heads[-1].rail, top)])
        lines.append([(feet[0].rail, bottom), (right if len(plan.rows) > 1 else feet[-1].rail, bottom)])
        lines += [[(box.rail, top), (box.rail, box.y - STUB)] for box in heads]
        lines += [[(box.rail, box.y + box.high + STUB), (box.rail, bottom)] for box in feet]
    if len(plan.rows) > 1:
        lines += [[(left, above[0]), (left, above[-1])], [(right, below[0]), (right, below[-1])]]
    return [*lines, _to_plus(plan, wide)]


def _to_plus(plan: Plan, wide: float) -> list[Point]:
    """The last piece of the line, down to plus."""
    x, y = _plus(plan, wide)
    last = plan.boxes[-1]
    start = last.y + last.high + STUB if plan.linked else y - 12
    return [(x, start), (x, y)]


def _plus(plan: Plan, wide: float) -> Point:
    """Where the line leaves for the controller."""
    foot = max(box.y + box.high for box in plan.boxes)
    if plan.linked:
        return plan.boxes[-1].rail, foot + STUB + 8
    x = plan.rows[-1][0][-1].rail if len(plan.rows) == 1 else wide - EDGE / 2
    return x, foot + STUB + 19


def _tips(box: Box, number: int) -> Iterator[tuple[float, float, float]]:
    """Place and direction of the arrows of one group."""
    enters, leaves = _levels(box, number)
    for (left, right), side in zip(box.halves, (1.0,) if box.label.branches == 1 else (-1.0, 1.0), strict=True):
        yield (left + right) / 2, enters, side
        yield (left + right) / 2, leaves, -side


def _tip(x: float, y: float, side: float, turn: float) -> Path:
    """An arrow to the right, or left."""
    way = 6.0 * side * turn
    return Path([(x - way, y - 5), (x + way, y), (x - way, y + 5), (x - way, y - 5)], _TRIANGLE)


def _down(x: float, y: float) -> Path:
    """The arrow at plus."""
    return Path([(x - 5, y - 2), (x + 5, y - 2), (x, y + 9), (x - 5, y - 2)], _TRIANGLE)


_TRIANGLE = [Path.MOVETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY]
_ON_SHADE: dict[str, Any] = {"ha": "center", "bbox": {"fc": "white", "ec": "none", "pad": 1.6}}


def _diode_words(box: Box, way: PanelWay) -> list[tuple[float, float, str, dict[str, Any]]]:
    """What the diodes of a panel carry that conduct, on their groups as far as there is room."""
    said = []
    for number, on in enumerate(way.conducting):
        if not on or box.wide < ROOM_FOR_AMPS or box.group_high < 13:
            continue
        top, bottom = box.group(number)
        diode, cells = way.i_diodes[number], max(way.i_panel - way.i_diodes[number], 0.0)
        left, right = max(box.halves, key=lambda half: half[1] - half[0])
        whole = f"{diode:.1f} A take the diode, {cells:.1f} A the cells"
        words = whole if right - left >= ROOM_FOR_WORDS else f"diode {diode:.1f} A"
        size = FONT if box.group_high > 22 else FONT - 2
        said.append(((left + right) / 2, (top + bottom) / 2, words, _ON_SHADE | {"fontsize": size}))
    return said


def _string_words(column: Sequence[Box], way: PanelWay) -> tuple[float, float, str, dict[str, Any]]:
    """Amps of one string of several, below it."""
    foot = column[-1]
    amps = f"{abs(way.i_panel):.1f} A" + " fed backwards" * (way.i_panel < -NO_AMPS)
    return foot.rail + 5, foot.y + foot.high + STUB + 1, amps, {"weight": "normal"}


def _plus_words(x: float, y: float, name: str, amps: float, wide: float) -> tuple[float, float, str, dict[str, Any]]:
    """What goes to the controller."""
    words = f"+ to {name}, {amps:.1f} A" if amps > NO_AMPS else f"+ to {name}, no current"
    left = x + 10 + LETTER_WIDE * len(words) > wide
    return (x - 10 if left else x + 10), y + 2, words, {"ha": "right" if left else "left"}


def _group_handle(box: Box, number: int, shares: Sequence[float]) -> Handle:
    """One group of cells, to be tapped."""
    top, bottom = box.group(number)
    dark = shares[number]
    return Handle(
        key=f"group {box.panel}.{number}", label=f"Shade on P{box.panel + 1}, group {number + 1}", use=TAP,
        on=dark > 0.0, now=f"{100 * dark:.0f} % in shade", x=box.x + box.wide / 2, y=(top + bottom) / 2, wide=box.wide,
        high=bottom - top,
    )  # fmt: skip


def _edge_handle(box: Box, shares: Sequence[float], verb: str) -> Handle:
    """The edge of a shadow that comes over a panel from above, to be dragged."""
    return Handle(
        key=f"edge {box.panel}", use=UP, label=f"Edge of a shadow on P{box.panel + 1}", mark="disc",
        now=f"{100 * sum(shares) / len(shares):.0f} % of the panel in shade", x=box.x + box.wide, y=box.edge_of(shares),
        step=box.group_high / 4, verb=verb, verb_at=(box.x + box.wide, box.y - 6),
    )  # fmt: skip
