"""One A4 page to print and take to the van: rig, diagram, verdicts, parts, order of work, cautions, assumptions."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle

from vanpower import __version__
from vanpower.checks.charging import charge_settings
from vanpower.checks.common import THIN
from vanpower.checks.glance import in_hand, subject
from vanpower.checks.order import order_of_work
from vanpower.checks.parts import BREAKERS, Part, parts
from vanpower.checks.registry import check, refusal, unasked, unmended
from vanpower.checks.settings_card import settings_card
from vanpower.figures.diagram import height_drawn, plot_wiring
from vanpower.figures.style import INK
from vanpower.results.verdict import SIGN_COLOURS, SIGN_MARKS, SIGNS, Verdict, glued
from vanpower.rig import Panel, Rig

A4 = (8.27, 11.69)
# [inch]
EDGE, GUTTER = 0.42, 0.25
# [inch] white around the page, and between its two columns
SIZES = (9.6, 9.2, 8.8, 8.4, 8.0, 7.6, 7.2, 6.8, 6.4, 6.0)
# [pt] letters, the largest that fits
REFERENCE = 40.0
# [pt] letters in which words are measured
DPI = 150
# [pixels per inch] in which lines are measured, and written
SPARE = 0.97
# share of a column's width that lines are broken at, since letters in a PDF are a little wider
HANGING, HANGING_NUMBER = 0.17, 0.24
# [inch] words stand so far behind their mark, and behind a number of two digits
BOX_EDGE = 0.08
# [inch] white inside the frame around what is read first, and below it
UNSTATED = "not stated"
# the sign of what the file leaves open
TO_TICK, TICK_WIDE = "\N{WHITE SQUARE}", 0.24
# a box to tick with a pencil, and the room it takes [inch]
CELLS = (("", 0.3), ("how many", 0.62), ("what", 1.5), ("ask for", 3.3), ("because", 1.4))
# heading and width of the columns of the list to buy, before the boxes to tick [inch]
DISC = {"boxstyle": "circle,pad=0.18", "fc": INK, "ec": INK}
# around a number that ties a part in the list to its place in the diagram
LEADING = 1.18
# line spacing in letters
NEW_PAGE = (
    "Do not join or connect it so. What is joined already: charging off, isolator open, glass covered, amps read zero; "
    "only then unplug. Mend that first and print a new page."
)
# instead of the order of work, where no order makes it safe
CAUTIONS = (
    "Over-voltage can destroy a controller at once. Never add a panel in series without a new page like this one.",
    "DC arcs hold: never pull a plug or a fuse under load. DC-rated parts only.",
    "Above 60 V DC do not touch; above 30 V not with wet hands, and a roof counts as wet.",
    "Bad crimps, mixed plug makes and plugs in water can burn.",
    "A model is not a permit: local rules, makers' sheets and a licensed person win.",
)
SETTINGS_APART = "They need a page of their own: vanpower sheet, with --settings --out settings.pdf."
REASONS_APART = "vanpower check says what to look up, and what to buy where the file names nothing."
# where settings, and reasons of what is not stated, do not fit beside two controllers and all that is to say of them


@dataclass(frozen=True)
class Line:
    """One line of text where it goes: left end and top from the lower left corner [inch], letters [pt]; in a disc."""

    words: str
    left: float
    top: float
    size: float
    bold: bool
    colour: str = "black"
    disc: bool = False


class Column:
    """Text set line after line down one column of the page, wrapped to its width; drawn once all of it is set.

    Attributes
    ----------
    y : float
        Where the next line goes, counted from the foot of the page. [inch]
    lines : list of Line
    rules : list of float
        Heights of the rules below headings. [inch]
    hairs : list of float
        Heights of the thinner ones below rows of a table. [inch]
    frames : list of tuple of float
        Lower ends of frames and how high they are. [inch]
    """

    def __init__(self, left: float, width: float, y: float, size: float) -> None:
        self.left, self.width, self.y, self.size = left, width, y, size
        self.lines: list[Line] = []
        self.rules: list[float] = []
        self.hairs: list[float] = []
        self.frames: list[tuple[float, float]] = []

    def title(self, words: str) -> None:
        """The name of the page."""
        for line in self._wrapped(words, self.width, True, self.size + 6):
            self._put(line, 0.0, self.size + 6, bold=True)

    def heading(self, words: str) -> None:
        """A heading with a rule below it."""
        self.y -= 0.06
        for line in self._wrapped(words, self.width, True, self.size + 1.2):
            self._put(line, 0.0, self.size + 1.2, bold=True)
        self.rules.append(self.y + 0.035)
        self.y -= 0.03

    def boxed(self, words: str) -> None:
        """What is read first, bold in a frame as wide as the column."""
        top = self.y
        self.y -= BOX_EDGE
        for line in self._wrapped(words, SPARE * self.width - 2 * BOX_EDGE, True, self.size + 1.0):
            self._put(line, BOX_EDGE, self.size + 1.0, bold=True)
        self.y -= BOX_EDGE - 0.03
        self.frames.append((self.y, top - self.y))
        self.y -= BOX_EDGE

    def write(
        self, words: str, *, mark: str = "", bold: bool = False, hanging: float = HANGING, to_tick: bool = False
    ) -> None:
        """A paragraph, hung behind a mark if there is one; a sign's mark and bold words beside it have its colour."""
        indent = hanging if mark else 0.0
        colour = SIGN_COLOURS.get(mark, "black")
        if mark:
            self.lines.append(Line(SIGN_MARKS.get(mark, mark), self.left, self.y, self.size, True, colour))
        if to_tick:
            self.lines.append(Line(TO_TICK, self.left + self.width - TICK_WIDE, self.y, self.size, False))
        for line in self._wrapped(words, SPARE * self.width - indent - TICK_WIDE * to_tick, bold):
            self._put(line, indent, self.size, bold=bold, colour=colour if bold else "black")

    def row(self, cells: Sequence[str], *, number: int = 0, to_tick: bool = False) -> None:
        """A row of a table with a rule below it; its number stands in a disc."""
        if number:
            self.lines.append(Line(f"{number}", self.left + 0.06, self.y, self.size - 1.0, True, "white", disc=True))
        if to_tick:
            self.lines.append(Line(TO_TICK, self.left + self.width - TICK_WIDE, self.y, self.size, False))
        left, foot = self.left, self.y
        for words, (_, width) in zip(cells, CELLS, strict=True):
            cell = Column(left, width - 0.1, self.y, self.size)
            if words:
                cell.write(words)
            self.lines += cell.lines
            left, foot = left + width, min(foot, cell.y)
        self.y = foot - 0.035
        self.hairs.append(self.y + 0.02)

    def draw(self, fig: Figure) -> None:
        """Put everything onto the page."""
        w, h = A4
        for line in self.lines:
            weight = "bold" if line.bold else "normal"
            fig.text(line.left / w, line.top / h, line.words, fontsize=line.size, weight=weight, va="top",
                     color=line.colour, parse_math=False, bbox=DISC if line.disc else None)  # fmt: skip
        for low, high in self.frames:
            place = self.left / w, low / h
            fig.add_artist(Rectangle(place, self.width / w, high / h, ec=INK, lw=1.6, fc="none"))
        for y, thick in [*((y, 0.6) for y in self.rules), *((y, 0.25) for y in self.hairs)]:
            fig.add_artist(Rectangle((self.left / w, y / h), self.width / w, 0.0, ec="black", lw=thick, fc="none"))

    def _put(self, words: str, indent: float, size: float, *, bold: bool, colour: str = "black") -> None:
        self.lines.append(Line(words, self.left + indent, self.y, size, bold, colour))
        self.y -= size * LEADING / 72

    def _wrapped(self, words: str, width: float, bold: bool, size: float | None = None) -> list[str]:
        """The words in lines no wider than so many inches, a number kept together with its unit."""
        letters = self.size if size is None else size
        lines, wide, space = [""], 0.0, letters * wide_of(" ", bold)
        for word in glued(words).split(" "):
            own = letters * wide_of(word, bold)
            if lines[-1] and wide + space + own > width:
                lines.append(word)
                wide = own
            else:
                lines[-1] = f"{lines[-1]} {word}".strip()
                wide += own + space * (wide > 0)
        return lines


@lru_cache(maxsize=4096)
def wide_of(word: str, bold: bool) -> float:
    """How wide a word is for each point of its letters. [inch]"""
    letters = FontProperties(size=REFERENCE, weight="bold" if bold else "normal")
    renderer = FigureCanvasAgg(Figure(dpi=72)).get_renderer()
    return renderer.get_text_width_height_descent(word, letters, False)[0] / REFERENCE / 72


def sheet(rig: Rig, *, date: str | None = None, extra: Sequence[Verdict] = ()) -> Figure:
    """One A4 page about a rig, in the largest letters that let it fit.

    Parameters
    ----------
    date : str, optional
        As it shall stand on the page; None is today.
    extra : sequence of Verdict
        Further answers to print, such as which wiring or controller to take.

    Examples
    --------
    >>> from vanpower import example
    >>> page = sheet(example("bookmobile"), date="2026-05-01")
    >>> page.texts[0].get_text(), [float(inches) for inches in page.get_size_inches()]
    ('Bookmobile, two small panels', [8.27, 11.69])
    """
    day = date or datetime.date.today().isoformat()
    verdicts = (*check(rig), *extra)
    told = ((settings_card(rig).short, ""), (SETTINGS_APART, ""), (SETTINGS_APART, REASONS_APART))
    for (settings, apart), size in product(told, SIZES):
        columns = _set(rig, day, verdicts, settings, apart, size)
        if min(column.y for column in columns[1:]) >= EDGE:
            return _drawn(rig, columns)
    raise ValueError(f"{rig.name}: {len(rig.circuits)} controllers and what is to say of them do not fit on one page.")


def _set(rig: Rig, day: str, verdicts: Sequence[Verdict], settings: str, apart: str, size: float) -> tuple[Column, ...]:
    """Head, the list to buy and two columns in letters of one size."""
    half = (A4[0] - 2 * EDGE - GUTTER) / 2
    head = Column(EDGE, A4[0] - 2 * EDGE, A4[1] - EDGE, size)
    _head(head, rig, day, verdicts)
    bought = Column(EDGE, A4[0] - 2 * EDGE, head.y - _diagram_height(rig), size)
    _parts(bought, rig)
    left, right = (Column(x, half, bought.y, size) for x in (EDGE, EDGE + half + GUTTER))
    _verdicts(left, verdicts, apart)
    _order(right, rig)
    _settings(_freer(left, right), settings)
    for section in (_cautions, _assumptions):
        section(_freer(left, right), rig)
    return head, bought, left, right


def _freer(left: Column, right: Column) -> Column:
    """The column with more room."""
    return left if left.y >= right.y else right


def _drawn(rig: Rig, columns: Sequence[Column]) -> Figure:
    """The page with its diagram."""
    fig = Figure(figsize=A4, dpi=DPI)
    for column in columns:
        column.draw(fig)
    head, height = columns[0], _diagram_height(rig)
    place = (EDGE / A4[0], (head.y - height) / A4[1], 1 - 2 * EDGE / A4[0], (height - 0.1) / A4[1])
    plot_wiring(rig, ax=fig.add_axes(place), font=min(max(head.size - 1.2, 5.5), 7.0), numbers=_numbers(rig))
    FigureCanvasAgg(fig)
    return fig


def _diagram_height(rig: Rig) -> float:
    """How much of the page the diagram takes. [inch]"""
    rows = sum(height_drawn(rig, circuit) + 0.2 for circuit in rig.circuits)
    return min((0.27 if len(rig.circuits) == 1 else 0.24) * rows, 2.9) + 0.2


def _head(column: Column, rig: Rig, day: str, verdicts: Sequence[Verdict]) -> None:
    """Name of the rig, what the page says in a line, date and version; then what the rig is made of."""
    column.title(rig.name)
    column.boxed(_summary(verdicts))
    column.write(f"Before you order and connect. Made {day} with vanpower {__version__}.")
    column.y -= 0.04
    column.write(f"Panels: {'; '.join(_panels(rig))}.")
    battery, capacity = rig.battery, f", {rig.battery.capacity_ah:g} Ah" if rig.battery.capacity_ah else ""
    stores = f"{battery.name}, {battery.v_nominal:g} V {battery.chemistry}{capacity}"
    controllers = [
        f"{c.controller.name}, {c.controller.v_pv_max:g} V, {c.controller.i_charge_max:g} A, for {c.wiring.name}"
        f" ({c.wiring.grouping})"
        for c in rig.circuits
    ]
    column.write(f"Battery: {stores}, absorption {battery.v_absorption:g} V. Controller: {'; '.join(controllers)}.")


def _summary(verdicts: Sequence[Verdict]) -> str:
    """What must change, and how many checks are of each sign."""
    told = {sign: [subject(verdict) for verdict in verdicts if verdict.sign == sign] for sign in SIGNS}
    counts = ", ".join(f"{len(told[sign])} {sign}" for sign in SIGNS[1:] if told[sign])
    if told["no"]:
        return f"Do not connect yet. To change: {', '.join(told['no'])}. {counts.capitalize()}."
    if len(told["ok"]) < len(verdicts):
        return f"Settle first: {counts}."
    return f"All {len(verdicts)} checks are ok."


def _panels(rig: Rig) -> list[str]:
    """Each kind of panel with its numbers on the roof and its label."""
    kinds: dict[Panel, list[str]] = {}
    for k, panel in enumerate(rig.panels):
        kinds.setdefault(panel, []).append(f"P{k + 1}")
    said = []
    for panel, names in kinds.items():
        which = ", ".join(names) if len(names) < 3 else f"{names[0]} to {names[-1]}"
        fuse = f", fuse up to {panel.i_max_fuse:g} A" if panel.i_max_fuse else ""
        label = f"{panel.v_oc:g} V / {panel.i_sc:g} A open / short, {panel.v_mp:g} V x {panel.i_mp:g} A"
        said.append(f"{which} {panel.name}, {label}{fuse}")
    return said


def _verdicts(column: Column, verdicts: Sequence[Verdict], apart: str) -> None:
    """What is not ok with its reason, the most urgent first, then in one paragraph all that is, with what is left.

    What the file does not state goes into one paragraph as well where its reasons stand apart.
    """
    open_ones = [verdict for sign in SIGNS[:-1] for verdict in verdicts if verdict.sign == sign]
    if open_ones:
        column.heading("To settle before anything is connected")
    for verdict in open_ones:
        if not (apart and verdict.sign == UNSTATED):
            column.write(f"{verdict.sign.upper()} {subject(verdict)}", mark=verdict.sign, bold=True)
            column.write(verdict.sentence, mark=" ")
    for sign, more in ((UNSTATED, f" {apart}"), ("ok", "")):
        said = [
            f"{subject(verdict)} ({in_hand(verdict)})" if in_hand(verdict) else subject(verdict)
            for verdict in verdicts
            if verdict.sign == sign and (apart or sign == "ok")
        ]
        if said:
            column.write(sign.upper(), mark=sign, bold=True)
            column.write(f"{'; '.join(said)}.{more}", mark=" ")


def _numbers(rig: Rig) -> tuple[dict[str, int], ...]:
    """Numbers of the parts of every circuit by their names, for list and diagram; none where nothing is to buy."""
    if unmended(rig):
        return tuple({} for _ in rig.circuits)
    made: list[dict[str, int]] = []
    for circuit in rig.circuits:
        before = sum(map(len, made))
        names = [part.name for part in parts(rig, circuit) if part is not BREAKERS]
        made.append({name: before + k for k, name in enumerate(names, 1)})
    return tuple(made)


def _parts(column: Column, rig: Rig) -> None:
    """What to buy for every circuit; nothing where a check would refuse what is bought."""
    column.heading("To buy" if not unmended(rig) else "To buy: nothing yet")
    if left := unmended(rig):
        column.write(f"{glued(', '.join(map(subject, left)))}: no cable, fuse or isolator mends that. Change it first.",
                     mark="no")  # fmt: skip
        return
    column.row([heading for heading, _ in CELLS])
    for circuit, numbers in zip(rig.circuits, _numbers(rig), strict=True):
        if len(rig.circuits) > 1:
            column.write(f"{circuit.controller.name}, {circuit.wiring.grouping}", bold=True)
            column.y -= 0.03
        _rows(column, parts(rig, circuit), numbers)
    column.write(str(BREAKERS))


def _rows(column: Column, listed: Sequence[Part], numbers: Mapping[str, int]) -> None:
    """The parts of one circuit; what is there and holds has no box to tick."""
    for part in listed:
        if part.name in numbers:
            asked = str(part).removeprefix(f"{part.name}: ")
            why = f"{part.why}; yours will do" if part.holds else part.why
            column.row(["", part.count, part.name, asked, why], number=numbers[part.name], to_tick=not part.holds)


def _order(column: Column, rig: Rig) -> None:
    """In what order it is safe."""
    column.heading("Safe order of work")
    if refused := refusal(rig):
        column.write(f"None yet: {subject(refused)} is a no. {NEW_PAGE}", mark="no")
        return
    for number, step in enumerate(order_of_work(rig), 1):
        column.write(step.words, mark=f"{number}", hanging=HANGING_NUMBER, to_tick=True)


def _settings(column: Column, settings: str) -> None:
    """What to type into controller, load output and alarm."""
    column.heading("Settings; the battery's sheet wins")
    column.write(settings)


def _cautions(column: Column, rig: Rig) -> None:
    """What can hurt."""
    column.heading("Cautions")
    for caution in (*CAUTIONS[:-1], charge_settings(rig).caution, CAUTIONS[-1]):
        column.write(caution, mark="!")


def _assumptions(column: Column, rig: Rig) -> None:
    """What the answers rest on, and what nobody asked."""
    climate, sun = rig.climate, "label values at 1000 W/m² and 25 °C"
    column.heading("Assumptions")
    column.write(
        f"Coldest dawn {climate.temp_coldest:g} °C, hottest cells {climate.temp_cell_hottest:g} °C "
        f"({climate.basis.rstrip('.')}). {rig.rule_book} rules decide; factor 1.25 on short-circuit amps; {sun}. "
        f"Under {100 * THIN:g} % below the ceiling is thin. Battery at {rig.battery.v_now:g} V. Source of the labels: "
        f"{rig.source.rstrip('.')}."
    )
    column.write(f"Not on this page: {' '.join(unasked(rig))}")
