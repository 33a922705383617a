"""The wiring of a rig drawn with the symbols of circuit diagrams (IEC 60617): what goes where, with every rating.

Of many strings alike one is drawn, and of a long string its ends, with the number of the rest beside them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle

from vanpower.checks.common import cold_volts, counted_amps, rounded_up
from vanpower.checks.fuses import string_fuse_sizes
from vanpower.checks.parts import (
    ARRAY_FUSE,
    BATTERY_CABLE,
    BATTERY_FUSE,
    EXTENSION,
    ISOLATOR,
    PLUGS,
    ROOF_CABLE,
    STRING_FUSES,
    array_fuse_size,
    battery_fuse_size,
)
from vanpower.figures.style import INK, new_axes
from vanpower.rig import Circuit, Rig

PANEL_W, PANEL_H, ROW, COLUMN = 1.15, 0.62, 0.95, 1.75
# [drawing units] a panel, and how far apart panels of a string and strings stand
RIGHT, TO_BOX, LEAST_HIGH = 9.0, 4.6, 3.6
# [drawing units] from the last string to the battery's far side, and to the controller; least height of a circuit
Poles = tuple[tuple[float, float], tuple[float, float]]
LINE = 1.1
# [pt]
SMALL = 7.5
# [pt] words at symbols
LETTER_SHARE = 0.3
# letters are at most so high, in parts of a drawing unit: the words in a panel still lie apart
MOST_STRINGS, MOST_PANELS = 4, 4
# of a circuit and of a string, that are all drawn
FUSE_ROOM = 0.4
# [drawing units] so that two lines of words at a fuse stay clear of the rail
NARROW, LEGIBLE = 4.2, 9.0
# [inch] width of a folded drawing; [pt] its words, which a telephone shows at 9 pixels
FOLD, SIDES, BOX = 1.3, ((3.55, 3.2), (-0.1, -0.4)), 1.2
# [drawing units] height of the fold; where plus and minus of the cable run, from the last string and from the left end;
# where the controller stands
DISC = {"boxstyle": "circle,pad=0.22", "fc": INK, "ec": INK}
BESIDE = 0.6
# a number that ties a part to a list; [drawing units] two of them beside each other
COUNTED = 2.3
# [drawing units] what the number of strings takes beside the one that is drawn


@dataclass(frozen=True)
class Drawn:
    """What a diagram says, so that a reader without eyes, or a test, can ask; all strings, also those drawn as one.

    Parameters
    ----------
    panels : tuple of tuple of str
        Names of the panels of every string, plus end first.
    fuses : tuple of str
        Words at the fuse of each string; empty where there is none.
    cable_fuse : str
        Words at the fuse in the roof cable at the controller's end, which stops battery current; empty where none is.

    Examples
    --------
    >>> words = Drawn((("P1", "P2"), ("P3", "P4")), ("15 A", "15 A"), "150 V, 32 A DC", "30 A")
    >>> words.panels[1], words.fuses[1]
    (('P3', 'P4'), '15 A')
    """

    panels: tuple[tuple[str, ...], ...]
    fuses: tuple[str, ...]
    isolator: str
    battery_fuse: str
    cable_fuse: str = ""


@dataclass(frozen=True)
class Column:
    """A string as it is drawn, or several that are drawn as one.

    Parameters
    ----------
    names : tuple of str
        Names of panels, plus end first; where some are left out, an empty one stands for them.
    left_out : int
        Panels that the empty name stands for.
    fuse : str
        Words at its fuse; empty where there is none.
    told : str
        What is said of several; empty for one.
    """

    names: tuple[str, ...]
    left_out: int
    fuse: str
    told: str

    @property
    def width(self) -> float:
        """Drawing units from left to right."""
        return COLUMN + (COUNTED if self.told else 0.0)


def plot_wiring(
    rig: Rig, *, ax: Axes | None = None, font: float = SMALL, numbers: Sequence[Mapping[str, int]] = ()
) -> Axes:
    """Draw every circuit of a rig from panels to battery, one above the other.

    Parameters
    ----------
    numbers : sequence of mapping of str to int
        For every circuit the numbers that its parts have in a list, by their names there; drawn in discs at the parts.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import example
    >>> ax = plot_wiring(example("bookmobile"), ax=Figure().subplots())
    >>> [text.get_text() for text in ax.texts if text.get_text().endswith((" 4 mm²", "30 A"))]
    ['4.5 m, 4 mm²', '30 A']
    """
    whole = (6.6, 2.4 if len(rig.circuits) == 1 else 4.2)
    place = whole if ax is None else _size_of(ax)
    ax = new_axes(ax, whole)
    heights = [height_drawn(rig, circuit) for circuit in rig.circuits]
    left = max(sum(column.width for column in _columns(drawn(rig, circuit))) for circuit in rig.circuits)
    top = sum(heights)
    unit = 72 * min(place[0] / (left + RIGHT + 2.2), place[1] / (top + 0.2))
    font = min(font, LETTER_SHARE * unit)
    poles = []
    for circuit, height, listed in zip(rig.circuits, heights, numbers or [{}] * len(heights), strict=True):
        poles.append(_draw_circuit(ax, rig, circuit, (left, top, height), font))
        _draw_numbers(ax, drawn(rig, circuit), (left, top, height), listed, font)
        top -= height
    _draw_battery(ax, rig, left + RIGHT, poles, font)
    ax.set_xlim(-0.5, left + RIGHT + 1.7)
    ax.set_ylim(-0.1, sum(heights) + (0.4 if numbers else 0.1))
    ax.set_aspect("equal")
    ax.axis("off")
    return ax


def plot_folded(rig: Rig) -> Axes:
    """Draw a rig of one circuit for a narrow page: controller and battery stand below the panels.

    Raises
    ------
    ValueError
        Where the rig has several circuits, which `plot_wiring` draws.

    Examples
    --------
    >>> from vanpower import example
    >>> ax = plot_folded(example("bookmobile"))
    >>> float(ax.figure.get_figwidth()) < 5
    True
    """
    if len(rig.circuits) != 1:
        raise ValueError(f"{rig.name} has {len(rig.circuits)} circuits, and one can be folded; use plot_wiring")
    (circuit,) = rig.circuits
    height, below = height_drawn(rig, circuit), LEAST_HIGH
    left = sum(column.width for column in _columns(drawn(rig, circuit)))
    wide, high = max(left + SIDES[0][0], BOX + RIGHT - TO_BOX + 1.5) + 0.7, height + FOLD + below
    ax = new_axes(None, (NARROW, NARROW * high / wide))
    font = min(LEGIBLE, LETTER_SHARE * 72 * NARROW / wide)
    rails, end = _draw_roof(ax, circuit, drawn(rig, circuit), (left, high, height), font)
    lower = (below - 0.35, 0.35)
    _draw_fold(ax, end, rails, lower, circuit, font)
    _draw_cable_fuse(ax, (BOX - 0.65, lower[0]), drawn(rig, circuit).cable_fuse, font)
    _draw_converter(ax, BOX, lower, circuit, font)
    poles = _to_battery(ax, BOX + 1.2, lower, circuit, drawn(rig, circuit).battery_fuse, font)
    _draw_battery(ax, rig, BOX + RIGHT - TO_BOX, [poles], font)
    ax.set_xlim(-0.6, wide - 0.6)
    ax.set_ylim(-0.1, high + 0.1)
    ax.set_aspect("equal")
    ax.axis("off")
    return ax


def drawn(rig: Rig, circuit: Circuit) -> Drawn:
    """The words a diagram of one circuit carries.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> words = drawn(rig, rig.circuits[0])
    >>> words.panels, words.isolator, words.battery_fuse
    ((('P1',), ('P2',)), '100 V, 25 A DC', '30 A')
    """
    sizes = string_fuse_sizes(rig, circuit)
    fuses = tuple(_fuse_words(size) for size in sizes)
    named = circuit.v_isolator_max and circuit.i_isolator_max
    least = f"over {rounded_up(cold_volts(rig, circuit))} V\nand {rounded_up(counted_amps(rig, circuit))} A DC"
    have = f"{circuit.v_isolator_max:g} V, {circuit.i_isolator_max:g} A DC" if named else least
    names = tuple(tuple(f"P{p + 1}" for p in string) for string in circuit.wiring.strings)
    at_controller = array_fuse_size(rig, circuit)
    in_cable = f"{at_controller:g} A" if at_controller else ""
    if len(fuses) == 1:
        # a lone string wants a fuse for what the battery pushes, and it sits at the controller's end of the cable
        fuses, in_cable = ("",), in_cable or fuses[0]
    return Drawn(names, fuses, have, f"{battery_fuse_size(rig, circuit):g} A", in_cable)


def _fuse_words(size: float | None) -> str:
    """What stands at a string's fuse."""
    if size is None:
        return "none fits"
    return "fuse?" if math.isnan(size) else f"{size:g} A" if size else ""


def _size_of(ax: Axes) -> tuple[float, float]:
    """Width and height that given axes have. [inch]"""
    box = ax.get_window_extent()
    dots = ax.figure.dpi
    return box.width / dots, box.height / dots


def height_drawn(rig: Rig, circuit: Circuit) -> float:
    """Height of a circuit: its longest string as it is drawn, its fuses, and two rails. [drawing units]"""
    words = drawn(rig, circuit)
    longest = max(len(column.names) for column in _columns(words))
    return max(longest * ROW + 1.7 + (FUSE_ROOM if any(words.fuses) else 0.0), LEAST_HIGH)


def _columns(words: Drawn) -> list[Column]:
    """The strings from left to right; where they are many, those of one length and one fuse as one."""
    alike: dict[tuple[int, str, int], list[tuple[str, ...]]] = {}
    many = len(words.panels) > MOST_STRINGS
    for k, (names, fuse) in enumerate(zip(words.panels, words.fuses, strict=True)):
        alike.setdefault((len(names), fuse, 0 if many else k), []).append(names)
    return [_column(strings, fuse) for (_, fuse, _), strings in alike.items()]


def _column(strings: list[tuple[str, ...]], fuse: str) -> Column:
    """Strings of one length as one column."""
    first, count = strings[0], len(strings)
    long = len(first) > MOST_PANELS
    told = f"{count} strings\nof {len(first)},\none drawn" if count > 1 else ""
    names = (first[0], "", first[-1]) if long else first
    return Column(names, len(first) - 2 if long else 0, fuse, told)


def _draw_circuit(ax: Axes, rig: Rig, circuit: Circuit, place: tuple[float, float, float], font: float) -> Poles:
    """Strings, rails, isolator, cable, controller and battery fuse; gives where plus and minus leave to the battery."""
    words = drawn(rig, circuit)
    rails, end = _draw_roof(ax, circuit, words, place, font)
    box = place[0] + TO_BOX
    for y in rails:
        _line(ax, (end, y), (box + 0.6, y))
    ax.text((end + box) / 2 + 0.2, rails[0] + 0.08, _cable_words(circuit), fontsize=font, ha="center", va="bottom")
    _draw_cable_fuse(ax, (box - 0.45, rails[0]), words.cable_fuse, font)
    _draw_converter(ax, box, rails, circuit, font)
    return _to_battery(ax, box + 1.2, rails, circuit, words.battery_fuse, font)


def _draw_numbers(
    ax: Axes, words: Drawn, place: tuple[float, float, float], listed: Mapping[str, int], font: float
) -> None:
    """The numbers that parts have in a list, at the parts; two that share a fuse beside each other."""
    left, top, height = place
    plus, minus, box = top - 0.35, top - height + 0.35, left + TO_BOX
    fuse, above = _first_fuse(words, left, (plus, minus)), plus + 0.4
    in_cable = (box - 0.45, plus - 0.85)
    where = {
        STRING_FUSES: fuse or (in_cable[0] - BESIDE * (ARRAY_FUSE in listed), in_cable[1]),
        PLUGS: (left - 0.25, above), ROOF_CABLE: (left + 1.5, above), EXTENSION: (left + 1.9, minus + 0.4),
        ISOLATOR: (left + 0.3, (plus + minus) / 2), ARRAY_FUSE: in_cable,
        BATTERY_FUSE: (box + 2.65, plus - 0.5), BATTERY_CABLE: (box + 2.6, minus + 1.2),
    }  # fmt: skip
    for name, number in listed.items():
        ax.text(*where[name], f"{number}", fontsize=font, color="white", weight="bold", ha="center", va="center",
                bbox=DISC, zorder=8)  # fmt: skip


def _first_fuse(words: Drawn, left: float, rails: tuple[float, float]) -> tuple[float, float] | None:
    """Beside the first fuse that stands in a string."""
    columns = _columns(words)
    x = left - sum(column.width for column in columns)
    for column in columns:
        x += column.width
        if column.fuse:
            return x - COLUMN / 2 - 0.42, (rails[0] + rails[1] + 0.35 + len(column.names) * ROW) / 2
    return None


def _draw_roof(
    ax: Axes, circuit: Circuit, words: Drawn, place: tuple[float, float, float], font: float
) -> tuple[tuple[float, float], float]:
    """Strings, rails and isolator; gives how high plus and minus run, and where they leave."""
    left, top, height = place
    plus, minus = top - 0.35, top - height + 0.35
    columns = _columns(words)
    x = edge = left - sum(column.width for column in columns)
    for k, column in enumerate(columns):
        x += column.width
        _draw_string(ax, x - COLUMN / 2, (plus, minus), column, circuit.blocking_diodes, font)
        for y in (plus, minus) if k > 0 or column.told else ():
            _dot(ax, x - COLUMN / 2, y)
    rail_from, rail_to = edge + columns[0].width - COLUMN / 2, left + 0.35
    for y in (plus, minus):
        _line(ax, (rail_from, y), (rail_to, y))
        if columns[0].told:
            ax.plot([rail_from - 0.7, rail_from], [y, y], color="black", lw=LINE, ls=(0, (1, 2)), zorder=3)
    _draw_isolator(ax, rail_to, (plus, minus), words.isolator, font)
    return (plus, minus), rail_to + 0.9


def _draw_fold(
    ax: Axes, end: float, upper: tuple[float, float], lower: tuple[float, float], circuit: Circuit, font: float
) -> None:
    """The cable from the end of the rails down and back to the left, into the controller; the minus runs inside."""
    left = end - 1.25
    for k, (y, below) in enumerate(zip(upper, lower, strict=True)):
        out, back = left + SIDES[0][k], SIDES[1][k]
        level = upper[1] - 0.7 - (0.3 if k == 0 else 0.0)
        corners = [(end, y), (out, y), (out, level), (back, level), (back, below), (BOX + 0.6, below)]
        for start, stop in pairwise(corners):
            _line(ax, start, stop)
    middle = (left + SIDES[0][1]) / 2
    ax.text(middle, upper[1] - 0.62, _cable_words(circuit), fontsize=font, ha="center", va="bottom")


def _cable_words(circuit: Circuit) -> str:
    """What stands at the cable from the roof."""
    cable = circuit.cable
    return f"{cable.length_m:g} m, {cable.section_mm2:g} mm²" if cable.length_m else "roof cable"


def _draw_string(ax: Axes, x: float, rails: tuple[float, float], column: Column, diode: bool, font: float) -> None:
    """Panels in series, the plus end at the top, with the string's fuse and blocking diode."""
    plus, minus = rails
    bottom = minus + 0.35
    _line(ax, (x, minus), (x, bottom))
    for k, name in enumerate(reversed(column.names)):
        y = bottom + k * ROW
        if name:
            _draw_panel(ax, x, y, name, font)
            _line(ax, (x, y + PANEL_H), (x, y + ROW))
        else:
            ax.plot([x, x], [y, y + ROW], color="black", lw=LINE, ls=(0, (1, 2)), zorder=3)
            ax.text(x + 0.15, y + ROW / 2 - 0.15, f"{column.left_out} more", fontsize=font, ha="left", va="center")
    end = bottom + len(column.names) * ROW
    if column.told:
        ax.text(x - PANEL_W / 2 - 0.5, (bottom + end) / 2, column.told, fontsize=font, ha="right", va="center")
    if diode:
        _draw_diode(ax, x, end - 0.25)
    _line(ax, (x, end), (x, plus))
    if column.fuse:
        _draw_fuse(ax, (x, (end + plus) / 2), upright=True)
        words = column.fuse.replace("none ", "none\n")
        ax.text(x + 0.2, (end + plus) / 2, words, fontsize=font, ha="left", va="center")


def _draw_panel(ax: Axes, x: float, y: float, name: str, font: float) -> None:
    """A photovoltaic panel: a box with the triangle of a generator of light, its name, plus at the top."""
    ax.add_patch(Rectangle((x - PANEL_W / 2, y), PANEL_W, PANEL_H, fc="white", ec="black", lw=LINE, zorder=3))
    tip = [(x - 0.16, y + PANEL_H), (x, y + PANEL_H - 0.2), (x + 0.16, y + PANEL_H)]
    ax.add_patch(Polygon(tip, closed=False, fill=False, ec="black", lw=LINE, zorder=4))
    beside = 0.14 if len(name) > 2 else 0.0
    ax.text(x - beside, y + 0.2, name, fontsize=font + 1, ha="center", va="center", zorder=5)
    ax.text(x + PANEL_W / 2 - 0.08, y + PANEL_H - 0.13, "+", fontsize=font, ha="right", va="center", zorder=5)
    ax.text(x + PANEL_W / 2 - 0.08, y + 0.13, "\N{MINUS SIGN}", fontsize=font, ha="right", va="center", zorder=5)
    for shift in (0.0, 0.2):
        start = (x - PANEL_W / 2 - 0.36, y + PANEL_H - 0.02 - shift)
        ax.annotate(
            "",
            (start[0] + 0.3, start[1] - 0.2),
            start,
            arrowprops={"arrowstyle": "->", "lw": 0.7, "shrinkA": 0, "shrinkB": 0},
        )


def _draw_cable_fuse(ax: Axes, middle: tuple[float, float], words: str, font: float) -> None:
    """The fuse at the controller's end of the roof cable, where battery current can come back."""
    if words:
        _draw_fuse(ax, middle, upright=False)
        ax.text(middle[0], middle[1] - 0.16, words, fontsize=font, ha="center", va="top")


def _draw_fuse(ax: Axes, middle: tuple[float, float], *, upright: bool) -> None:
    """A fuse: a narrow box that the line runs through."""
    wide, high = (0.2, 0.42) if upright else (0.42, 0.2)
    x, y = middle
    ax.add_patch(Rectangle((x - wide / 2, y - high / 2), wide, high, fc="none", ec="black", lw=LINE, zorder=4))


def _draw_diode(ax: Axes, x: float, y: float) -> None:
    """A blocking diode that lets current up, out of the string."""
    ax.add_patch(Polygon([(x - 0.14, y), (x + 0.14, y), (x, y + 0.2)], fc="white", ec="black", lw=LINE, zorder=5))
    ax.plot([x - 0.14, x + 0.14], [y + 0.2, y + 0.2], color="black", lw=LINE, zorder=5)


def _draw_isolator(ax: Axes, x: float, rails: tuple[float, float], words: str, font: float) -> None:
    """A switch in both poles, moved together."""
    for y in rails:
        ax.plot([x, x + 0.78], [y, y + 0.28], color="black", lw=LINE, zorder=3)
        ax.plot([x, x + 0.9], [y, y], "o", ms=3, mfc="white", mec="black", zorder=4)
    ax.plot([x + 0.45] * 2, [rails[0] + 0.16, rails[1] + 0.16], color="black", lw=0.8, ls=(0, (3, 2)), zorder=2)
    ax.text(x + 0.56, sum(rails) / 2, f"isolator\n{words}", fontsize=font, ha="left", va="center")


def _draw_converter(ax: Axes, x: float, rails: tuple[float, float], circuit: Circuit, font: float) -> None:
    """The charge controller: a box with a diagonal, direct current on both sides; its ratings stand in it."""
    plus, minus = rails
    low, high = minus - 0.2, plus + 0.2
    ax.add_patch(Rectangle((x, low), 1.9, high - low, fc="white", ec="black", lw=LINE, zorder=5))
    middle = (low + high) / 2
    square = Rectangle((x + 0.65, middle + 0.25), 0.6, 0.6, fc="none", ec="black", lw=0.8, zorder=6)
    ax.add_patch(square)
    ax.plot([x + 0.65, x + 1.25], [middle + 0.25, middle + 0.85], color="black", lw=0.8, zorder=6)
    for dx, dy in ((0.8, 0.72), (1.1, 0.4)):
        for rise, style in ((0.03, "-"), (-0.03, (0, (1.5, 1)))):
            ax.plot([x + dx - 0.09, x + dx + 0.09], [middle + dy + rise] * 2, color="black", lw=0.8, ls=style, zorder=6)
    c = circuit.controller
    told = f"controller\n{c.v_pv_max:g} V max\n{c.i_charge_max:g} A"
    ax.text(x + 0.95, middle - 0.28, told, fontsize=font, ha="center", va="center", zorder=6, linespacing=1.05)


def _to_battery(ax: Axes, x: float, rails: tuple[float, float], circuit: Circuit, fuse: str, font: float) -> Poles:
    """The two lines from controller to battery, the fuse in the plus one."""
    plus, minus = rails
    end = x + 2.1
    for y in rails:
        _line(ax, (x + 0.7, y), (end, y))
    _draw_fuse(ax, (x + 1.45, plus), upright=False)
    ax.text(x + 1.45, plus + 0.16, fuse, fontsize=font, ha="center", va="bottom")
    cable = circuit.battery_cable
    told = f"{cable.length_m:g} m\n{cable.section_mm2:g} mm²" if cable else "battery\ncable"
    ax.text(x + 1.4, minus + 0.1, told, fontsize=font, ha="center", va="bottom", linespacing=1.0)
    return (end, plus), (end, minus)


def _draw_battery(ax: Axes, rig: Rig, x: float, poles: list[Poles], font: float) -> None:
    """The battery between the topmost plus and the lowest minus; several circuits meet on two bars before it."""
    top, low = max(plus[1] for plus, _ in poles), min(minus[1] for _, minus in poles)
    plus_bar, minus_bar = x - 1.0, x - 0.6
    for (x_plus, y_plus), (x_minus, y_minus) in poles:
        _line(ax, (x_plus, y_plus), (x if y_plus == top else plus_bar, y_plus))
        hop = plus_bar if len(poles) > 1 and y_minus > min(plus[1] for plus, _ in poles) else None
        _hopping(ax, x_minus, x if y_minus == low else minus_bar, y_minus, hop)
        if len(poles) > 1:
            _dot(ax, plus_bar, y_plus)
            _dot(ax, minus_bar, y_minus)
    if len(poles) > 1:
        _line(ax, (plus_bar, top), (plus_bar, min(plus[1] for plus, _ in poles)))
        _line(ax, (minus_bar, max(minus[1] for _, minus in poles)), (minus_bar, low))
    middle = (top + low) / 2
    _line(ax, (x, top), (x, middle + 0.24))
    _line(ax, (x, middle - 0.24), (x, low))
    for k, (half, width) in enumerate(((0.36, 1.0), (0.18, 2.4), (0.36, 1.0), (0.18, 2.4))):
        y = middle + 0.24 - 0.16 * k
        ax.plot([x - half, x + half], [y, y], color="black", lw=width, zorder=4, solid_capstyle="butt")
    ax.text(x + 0.12, middle + 0.42, "+", fontsize=font + 1, ha="left", va="center")
    capacity = f"\n{rig.battery.capacity_ah:g} Ah" if rig.battery.capacity_ah else ""
    told = f"battery\n{rig.battery.v_nominal:g} V{capacity}"
    ax.text(x + 0.45, middle, told, fontsize=font, ha="left", va="center")


def _hopping(ax: Axes, start: float, end: float, y: float, over: float | None) -> None:
    """A line that leaves a gap where it crosses another one."""
    if over is None:
        _line(ax, (start, y), (end, y))
    else:
        _line(ax, (start, y), (over - 0.1, y))
        _line(ax, (over + 0.1, y), (end, y))


def _line(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A wire."""
    ax.plot([start[0], end[0]], [start[1], end[1]], color="black", lw=LINE, zorder=2, solid_capstyle="round")


def _dot(ax: Axes, x: float, y: float) -> None:
    """A joint."""
    ax.plot([x], [y], "o", color="black", ms=3.5, zorder=4)
