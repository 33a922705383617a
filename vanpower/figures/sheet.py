"""One A4 page to print and take to the van: rig, diagram, verdicts, parts, order of work, cautions, assumptions."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Sequence

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle

from vanpower import __version__
from vanpower.checks import THIN, check, parts, rounded_down, unasked
from vanpower.figures.diagram import plot_wiring
from vanpower.rig import Panel, Rig
from vanpower.verdicts import Verdict

A4 = (8.27, 11.69)
# [inch]
EDGE, GUTTER = 0.45, 0.25
# [inch] white around the page, and between its two columns
SIZES = (9.6, 9.2, 8.8, 8.4, 8.0, 7.6, 7.2, 6.8, 6.4, 6.0)
# [pt] letters, the largest that fits
DPI = 150
# [pixels per inch] in which lines are measured, and written
SPARE = 0.98
# share of a column's width that lines are broken at, since letters in a PDF are a little wider
LEADING = 1.22
# line spacing in letters
MARKS = {"yes": "\N{CHECK MARK}", "close": "~", "no": "\N{BALLOT X}"}
# told apart without colour, with the word beside it
ORDER_OF_WORK = (
    "Dry, no wind, somebody holds the ladder. Cover the glass; panels are live in daylight.",
    "Glue and screw the panels, an air gap below, glands and drip loops; strain relief on every cable.",
    "Measure each panel alone: open-circuit volts and polarity, one at a time.",
    "Controller: fix it, set battery volts, chemistry and charge stages, cold cut-off on.",
    "Battery side first: cable, then the fuse at the battery last. The controller wakes and shows battery volts.",
    "Isolator open, string fuses out: connect roof cable to isolator, isolator to controller.",
    "Join the strings; at the isolator measure polarity and open-circuit volts: about the labels' sum, more when cold.",
    "String fuses in, isolator closed, glass uncovered last. Read amps; feel plugs and cable after ten minutes.",
    "To take apart: controller off, isolator open, glass covered, amps read zero; panels off, battery last.",
)
# in what order it is safe; common practice, no source
CAUTIONS = (
    "Over-voltage kills a controller at once. Never add a panel in series without a new page like this one.",
    "DC arcs hold: never pull a plug or a fuse under load. DC-rated parts only.",
    "Above 60 V DC do not touch; above 30 V not with wet hands.",
    "Bad crimps, mixed plug makes and plugs in water burn.",
    "Lithium iron phosphate is not charged below 0 °C unless its maker allows it.",
    "A model is not a permit: local rules, makers' sheets and a licensed person win.",
)


class Column:
    """Text set line after line down one column of the page, wrapped to its width.

    Attributes
    ----------
    y : float
        Where the next line goes, counted from the foot of the page. [inch]
    """

    def __init__(self, fig: Figure, left: float, width: float, y: float, size: float) -> None:
        self.fig, self.left, self.width, self.y, self.size = fig, left, width, y, size
        self.renderer = FigureCanvasAgg(fig).get_renderer()

    def heading(self, words: str) -> None:
        """A heading with a line below it."""
        self.y -= 0.06
        self._put(words, self.left, self.size + 1.2, bold=True)
        self.y -= (self.size + 1.2) * LEADING / 72
        w, h = self.fig.get_size_inches()
        self.fig.add_artist(
            Rectangle((self.left / w, (self.y + 0.035) / h), self.width / w, 0.0, ec="black", lw=0.6, fc="none")
        )
        self.y -= 0.03

    def write(self, words: str, *, mark: str = "", bold: bool = False) -> None:
        """A paragraph, hung behind a mark if there is one."""
        indent = 0.17 if mark else 0.0
        if mark:
            self._put(mark, self.left, self.size, bold=True)
        for line in self._wrapped(words, SPARE * self.width - indent, bold):
            self._put(line, self.left + indent, self.size, bold=bold)
            self.y -= self.size * LEADING / 72

    def _wrapped(self, words: str, width: float, bold: bool) -> list[str]:
        """The words in lines no wider than so many inches."""
        lines = [""]
        glued = re.sub(r"(\d) (?=[°%\w])", "\\1\N{NO-BREAK SPACE}", words)
        for word in glued.split(" "):
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self._wide(longer, bold) > width:
                lines.append(word)
            else:
                lines[-1] = longer
        return lines

    def _wide(self, words: str, bold: bool) -> float:
        """How wide a line is. [inch]"""
        letters = FontProperties(size=self.size, weight="bold" if bold else "normal")
        return self.renderer.get_text_width_height_descent(words, letters, False)[0] / self.fig.dpi

    def _put(self, words: str, left: float, size: float, *, bold: bool) -> None:
        w, h = self.fig.get_size_inches()
        weight = "bold" if bold else "normal"
        self.fig.text(left / w, self.y / h, words, fontsize=size, weight=weight, ha="left", va="top", parse_math=False)


def sheet(rig: Rig, *, date: str | None = None, extra: Sequence[Verdict] = ()) -> Figure:
    """One A4 page about a rig, in the largest letters that let it fit.

    Parameters
    ----------
    date : str, optional
        As it shall stand on the page; None is today.
    extra : sequence of Verdict
        Further answers to print, such as which wiring or controller to take.
    """
    day = date or datetime.date.today().isoformat()
    for size in SIZES:
        fig, over = _page(rig, day, tuple(extra), size)
        if over <= 0.0:
            return fig
    raise ValueError(f"{rig.name}: {len(rig.circuits)} controllers and what is to say of them do not fit on one page.")


def _page(rig: Rig, day: str, extra: tuple[Verdict, ...], size: float) -> tuple[Figure, float]:
    """The page in letters of one size, and by how much it is too long. [inch]"""
    fig = Figure(figsize=A4, dpi=DPI)
    whole, half = A4[0] - 2 * EDGE, (A4[0] - 2 * EDGE - GUTTER) / 2
    verdicts = (*check(rig), *extra)
    head = Column(fig, EDGE, whole, A4[1] - EDGE, size)
    _head(head, rig, day, verdicts)
    below = _diagram(fig, rig, head.y, size)
    left = Column(fig, EDGE, half, below, size)
    right = Column(fig, EDGE + half + GUTTER, half, below, size)
    _verdicts(left, verdicts)
    _parts(right, rig)
    _order(right)
    for section in (_cautions, _assumptions):
        section(left if left.y >= right.y else right, rig)
    return fig, EDGE - min(left.y, right.y)


def _head(column: Column, rig: Rig, day: str, verdicts: Sequence[Verdict]) -> None:
    """Name of the rig, what the page says in a line, date and version; then what the rig is made of."""
    column._put(rig.name, column.left, column.size + 6, bold=True)
    column.y -= (column.size + 6) * 1.3 / 72
    column.write(f"Before you order and connect. {_summary(verdicts)} Made {day} with vanpower {__version__}.")
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
    """How many answers are no, close and yes."""
    count = {word: sum(verdict.answer == word for verdict in verdicts) for word in ("no", "close", "yes")}
    if count["no"]:
        return f"DO NOT CONNECT YET: {count['no']} no, {count['close']} close, {count['yes']} yes."
    if count["close"]:
        return f"{count['close']} things to settle first, {count['yes']} yes."
    return f"All {count['yes']} answers are yes."


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


def _diagram(fig: Figure, rig: Rig, top: float, size: float) -> float:
    """The wiring diagram across the page; gives where it ends. [inch]"""
    rows = sum(max(max(map(len, circuit.wiring.strings)) + 1.8, 3.8) for circuit in rig.circuits)
    height = min(0.30 * rows, 3.6) + 0.2
    ax = fig.add_axes((EDGE / A4[0], (top - height) / A4[1], 1 - 2 * EDGE / A4[0], (height - 0.1) / A4[1]))
    plot_wiring(rig, ax=ax, font=min(max(size - 1.2, 5.5), 7.0))
    return top - height


def _verdicts(column: Column, verdicts: Sequence[Verdict]) -> None:
    """What is no or close with its reason, then every yes with what is left."""
    open_ones = [verdict for word in ("no", "close") for verdict in verdicts if verdict.answer == word]
    if open_ones:
        column.heading("To settle before anything is connected")
    for verdict in open_ones:
        column.write(f"{verdict.answer.upper()}  {_subject(verdict)}", mark=MARKS[verdict.answer], bold=True)
        column.write(verdict.sentence, mark=" ")
    column.heading("Answered with yes")
    for verdict in verdicts:
        if verdict.answer == "yes":
            column.write(f"{_subject(verdict)}{_left(verdict)}", mark=MARKS["yes"])


def _subject(verdict: Verdict) -> str:
    """What a verdict is about, with its panels where there are several circuits."""
    which = re.search(r" of (P\d+(?:[+| ]+P\d+)*)", verdict.question)
    return verdict.question.partition(":")[0] + (f", {which[1]}" if which else "")


def _left(verdict: Verdict) -> str:
    """What is left before the answer turns, where that means something."""
    if verdict.unit not in ("V", "A", "points") or not 0 < verdict.margin < math.inf:
        return ""
    unit = "% points" if verdict.unit == "points" else verdict.unit
    return f": {rounded_down(verdict.margin)} {unit} left"


def _parts(column: Column, rig: Rig) -> None:
    """The shopping list of every circuit."""
    column.heading("Cable, fuses, isolator: what to ask for")
    for circuit in rig.circuits:
        if len(rig.circuits) > 1:
            column.write(f"{circuit.controller.name}, {circuit.wiring.grouping}", bold=True)
        for part in parts(rig, circuit):
            column.write(str(part), mark="\N{WHITE SQUARE}")


def _order(column: Column) -> None:
    """In what order it is safe."""
    column.heading("Safe order of work")
    for number, step in enumerate(ORDER_OF_WORK, 1):
        column.write(step, mark=f"{number}")


def _cautions(column: Column, rig: Rig) -> None:
    """What can hurt."""
    column.heading("Cautions")
    for caution in CAUTIONS:
        if "Lithium" not in caution or "lithium" in rig.battery.chemistry:
            column.write(caution, mark="!")


def _assumptions(column: Column, rig: Rig) -> None:
    """What the answers rest on, and what nobody asked."""
    climate, sun = rig.climate, "label values at 1000 W/m² and 25 °C"
    column.heading("Assumptions")
    column.write(
        f"Coldest first light {climate.temp_coldest:g} °C, hottest cells {climate.temp_cell_hottest:g} °C "
        f"({climate.basis.rstrip('.')}). {rig.rule_book} rules decide; factor 1.25 on short-circuit amps; {sun}. "
        f"Under {100 * THIN:g} % below the ceiling is thin. Battery at {rig.battery.v_now:g} V. Source of the labels: "
        f"{rig.source.rstrip('.')}."
    )
    column.write(f"Not on this page: {' '.join(unasked(rig))}")
