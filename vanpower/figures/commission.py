"""The commissioning and the settings card on paper, A4, or as wide as a telephone.

Boxes to fill in, the order of work, what to heed; and what to type into controller, load output and alarm.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from functools import partial

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from vanpower import __version__
from vanpower.checks.settings_card import SettingsCard
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
from vanpower.trials.commissioning import ORDER_FROM, OUTSIDE, CardComparison, CommissionCard, Expectation

PHONE = 3.9
# [inch] width of a page for a telephone
PHONE_SIZE, PHONE_EDGE = 8.0, 0.2
# [pt, inch] its letters and its white
ROW, BOX = 2.2, 0.62
# height of a row in letters, width of a box to write in [inch]
ROOM = 0.45
# between two settings, in letters
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
    >>> from vanpower.trials.commissioning import commission
    >>> page = commission_page(commission(example("bookmobile"), light=620, temp_cell=41), date="2026-05-01")
    >>> [float(inches) for inches in page.get_size_inches()]
    [8.27, 11.69]
    """
    day = date or datetime.date.today().isoformat()
    return _page(partial(_set, card, day), phone, f"{card.rig.name}: {len(card.expected)} readings")


def settings_page(card: SettingsCard, *, date: str | None = None, phone: bool = False) -> Figure:
    """The settings card to print, or to read on a telephone: every setting to tick off, with its reason.

    Parameters
    ----------
    card : SettingsCard
    date : str, optional
        As it shall stand there; None is today.
    phone : bool
        Whether it is as wide as a telephone, and as long as it takes.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks.settings_card import settings_card
    >>> page = settings_page(settings_card(example("kiln-bus")), date="2026-05-01")
    >>> [text.get_text() for text in page.texts if text.get_text().startswith("absorption")][0].split(": ")[0]
    'absorption'
    """
    day = date or datetime.date.today().isoformat()
    return _page(partial(_settings, card, day), phone, f"{card.rig.name}: {len(card.settings)} settings")


def judged_page(found: CardComparison, *, date: str | None = None, phone: bool = False) -> Figure:
    """A filled card judged, or two compared, to print or to read on a telephone.

    Parameters
    ----------
    found : CardComparison
    date : str, optional
        As it shall stand there; None is today.
    phone : bool
        Whether it is as wide as a telephone, and as long as it takes.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.trials.commissioning import Filled, compare_cards
    >>> old, new = ([Filled(at=f"P{k}", light=620, temp_cell=41, v=20.8, i=i) for k in (1, 2)] for i in (3.9, 3.8))
    >>> page = judged_page(compare_cards(example("bookmobile"), old, new), date="2026-05-01")
    >>> [text.get_text() for text in page.texts if text.get_text().startswith("P1")]
    ['P1: as new']
    """
    day = date or datetime.date.today().isoformat()
    return _page(partial(_judged, found, day), phone, f"{found.rig.name}: {len(found.changes)} panels")


def _judged(found: CardComparison, day: str, width: float, left: float, y: float, size: float) -> Rows:
    """All panels in letters of one size."""
    column = Rows(left, width, y, size)
    column.title(f"{found.rig.name}: {'against its labels' if found.by_label else 'against the first card'}")
    column.boxed(f"{found.verdict.word}: {found.verdict.sentence}")
    column.write(f"Made {day} with vanpower {__version__}. Rests on: {found.verdict.basis}.")
    column.heading("Each panel against the others")
    for one in found.changes:
        column.write(f"{one.at}: {one.word}", bold=True)
        told = [f"{what} {100 * x:+.1f} %" for what, x in (("volts", one.v), ("amps", one.i)) if x is not None]
        column.write(", ".join(told) or "not read")
        column.y -= ROOM * size / 72
    column.heading("Cautions")
    for caution in (found.verdict.caution, *CAUTIONS):
        column.write(caution, mark="!")
    return column


def _page(made: Callable[[float, float, float, float], Rows], phone: bool, what: str) -> Figure:
    """A page in the largest letters that fit."""
    if phone:
        column = made(PHONE - 2 * PHONE_EDGE, PHONE_EDGE, 0.0, PHONE_SIZE)
        return _drawn(column, (PHONE, 2 * PHONE_EDGE - column.y), shift=PHONE_EDGE - column.y)
    for size in SIZES:
        column = made(A4[0] - 2 * EDGE, EDGE, A4[1] - EDGE, size)
        if column.y >= EDGE:
            return _drawn(column, A4)
    raise ValueError(f"{what} do not fit on one page; print it with phone=True.")


def _settings(card: SettingsCard, day: str, width: float, left: float, y: float, size: float) -> Rows:
    """All settings in letters of one size."""
    column = Rows(left, width, y, size)
    column.title(f"{card.rig.name}: settings")
    column.boxed(f"{card.verdict.word}: {card.verdict.sentence}")
    column.write(f"Made {day} with vanpower {__version__}. The battery maker's sheet wins over every line.")
    column.write(f"Set by: {'_' * 24}")
    for number, circuit in enumerate(card.rig.circuits, 1):
        held = f"{circuit.controller.name}, {circuit.wiring.name}"
        column.write(f"Controller {number}: {held}, charge amps up to {circuit.controller.i_charge_max:g} A.")
    column.heading("To set, tick when done")
    for one in card.settings:
        column.write(f"{one.name}: {one.value}", bold=True, to_tick=True)
        column.write(one.why)
        column.y -= ROOM * size / 72
    column.heading("Cautions")
    for caution in (card.verdict.caution, *CAUTIONS):
        column.write(caution, mark="!")
    return column


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
    column.write(ORDER_FROM)
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
