"""The commissioning card on paper, A4, or as wide as a telephone: boxes to fill in, the order of work, what to heed."""

from __future__ import annotations

import datetime

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from vanpower import __version__
from vanpower.figures.sheet import (
    A4,
    CAUTIONS,
    DPI,
    EDGE,
    HANGING_NUMBER,
    NEW_PAGE,
    SIZES,
    Column,
    Line,
    wide_of,
)
from vanpower.figures.style import INK
from vanpower.trials.commissioning import OUTSIDE, CommissionCard, Expectation

PHONE = 3.9
# [inch] width of a page for a telephone
PHONE_SIZE, PHONE_EDGE = 8.0, 0.2
# [pt, inch] its letters and its white
ROW, BOX = 2.2, 0.62
# height of a row in letters, width of a box to write in [inch]
FULL_WIDTH = 0.985
# share of a whole page's width that lines are broken at
SHARES = (0.0, 0.30, 0.52, 0.64, 0.88)
# of the width: where a row's name, volts, box, amps and box begin


class Rows(Column):
    """A column that also has rows with boxes to write in.

    Attributes
    ----------
    boxes : list of tuple of float
        Left and lower end, width and height. [inch]
    """

    def __init__(self, left: float, width: float, y: float, size: float) -> None:
        super().__init__(left, width, y, size)
        self.boxes: list[tuple[float, float, float, float]] = []

    def expected(self, one: Expectation) -> None:
        """A place with what is expected, and boxes."""
        high = self.size * ROW / 72
        cells = [one.at, f"{one.v:.1f} ± {one.v_within:.1f} V", "", "", ""]
        if one.i is not None:
            cells[3] = f"{one.i:.2f} ± {one.i_within:.2f} A"
        if self.size * wide_of(one.at, True) > 0.95 * SHARES[1] * self.width:
            self._put(one.at, 0.0, self.size, bold=True)
            cells[0] = ""
        for share, words in zip(SHARES, cells, strict=True):
            if words:
                top = self.y - 0.25 * (high - self.size / 72)
                self.lines.append(Line(words, self.left + share * self.width, top, self.size, share == 0.0))
        for share, there in ((SHARES[2], True), (SHARES[4], one.i is not None)):
            if there:
                wide = min(BOX, 0.11 * self.width)
                self.boxes.append((self.left + share * self.width, self.y - 0.8 * high, wide, 0.78 * high))
        self.y -= high

    def _wrapped(self, words: str, width: float, bold: bool, size: float | None = None) -> list[str]:
        """As in a narrow column; over a whole page's width, what letters differ by on paper adds up."""
        return super()._wrapped(words, FULL_WIDTH * width, bold, size)

    def put(self, fig: Figure, page: tuple[float, float]) -> None:
        """Everything onto a page of some size, counted from its upper edge."""
        w, h = page
        for line in self.lines:
            weight = "bold" if line.bold else "normal"
            fig.text(line.left / w, line.top / h, line.words, fontsize=line.size, weight=weight, va="top",
                     color=line.colour, parse_math=False)  # fmt: skip
        shapes = [((x, y), wide, high, 0.9) for x, y, wide, high in self.boxes]
        shapes += [((self.left, low), self.width, high, 1.6) for low, high in self.frames]
        shapes += [((self.left, y), self.width, 0.0, 0.6) for y in self.rules]
        for (x, y), wide, high, lw in shapes:
            fig.add_artist(Rectangle((x / w, y / h), wide / w, high / h, ec=INK, lw=lw, fc="none"))


def commission_page(card: CommissionCard, *, date: str | None = None, phone: bool = False) -> Figure:
    """The card to print and to fill in, or to read on a telephone.

    Parameters
    ----------
    card : CommissionCard
    date : str, optional
        As it shall stand there; None is today.
    phone : bool
        Whether it is as wide as a telephone, and as long as it takes.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.trials import commission
    >>> page = commission_page(commission(example("bookmobile"), light=620, temp_cell=41), date="2026-05-01")
    >>> [float(inches) for inches in page.get_size_inches()]
    [8.27, 11.69]
    """
    day = date or datetime.date.today().isoformat()
    if phone:
        column = _set(card, day, PHONE - 2 * PHONE_EDGE, PHONE_EDGE, 0.0, PHONE_SIZE)
        return _drawn(column, (PHONE, PHONE_EDGE - column.y), shift=PHONE_EDGE - column.y - PHONE_EDGE)
    for size in SIZES:
        column = _set(card, day, A4[0] - 2 * EDGE, EDGE, A4[1] - EDGE, size)
        if column.y >= EDGE:
            return _drawn(column, A4)
    raise ValueError(
        f"{card.rig.name}: {len(card.expected)} readings do not fit on one page; print it with phone=True."
    )


def _set(card: CommissionCard, day: str, width: float, left: float, y: float, size: float) -> Rows:
    """All words and boxes in letters of one size."""
    column = Rows(left, width, y, size)
    column.title(f"{card.rig.name}: commissioning")
    column.boxed(card.verdict.sentence)
    column.write(f"Made {day} with vanpower {__version__}. Date, place, who, meter: {'_' * 30}")
    column.write(f"Tolerances: {card.basis}.")
    for heading, rows in (
        ("Each panel alone: open volts, short-circuit amps", card.panels),
        ("Each string alone: open volts, never short-circuited", card.strings),
        ("After joining, battery not full: volts and amps", card.circuits),
    ):
        column.heading(heading)
        for one in rows:
            column.expected(one)
    column.heading("A reading outside means")
    column.write(OUTSIDE)
    column.heading("Order of work")
    if not card.steps:
        column.write(NEW_PAGE, mark="no")
    for number, step in enumerate(card.steps, 1):
        column.write(step, mark=f"{number}", hanging=HANGING_NUMBER, to_tick=True)
    column.heading("Cautions")
    for caution in (*filter(None, [" ".join(card.touch)]), *CAUTIONS):
        column.write(caution, mark="!")
    return column


def _drawn(column: Rows, page: tuple[float, float], shift: float = 0.0) -> Figure:
    """The page."""
    fig = Figure(figsize=page, dpi=DPI)
    if shift:
        column.lines = [Line(e.words, e.left, e.top + shift, e.size, e.bold, e.colour) for e in column.lines]
        column.boxes = [(x, y + shift, wide, high) for x, y, wide, high in column.boxes]
        column.frames = [(low + shift, high) for low, high in column.frames]
        column.rules = [y + shift for y in column.rules]
    column.put(fig, page)
    FigureCanvasAgg(fig)
    return fig
