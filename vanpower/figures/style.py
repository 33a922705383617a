"""One look for every chart: a colour, a line style and a marker for each role, and a picture written whole."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import cycle
from typing import Any, NamedTuple, Protocol, Self

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Patch
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.ticker import MaxNLocator

from vanpower import __version__
from vanpower.components.controllers import ASLEEP
from vanpower.results.verdict import glued
from vanpower.rig import Rig, printable
from vanpower.studies.comparison import Outcome

INK, SOFT, PAPER = "#16202A", "#4A5560", "#F1F3F4"
# words and frames; figures of axes; a ground to tell a stretch from the rest
GRID, HATCHED = "#DDE1E4", "#C5CBD1"
# lines across a chart, and the strokes of a hatched stretch
Margins = tuple[float, float, float, float]
ROLES = {
    "limit": "#D55E00",
    "window": "#E6F1F8",
    "battery": "#0072B2",
    "start": INK,
    "light": "#FFE45C",
    "shade": "#5D6772",
    "loads": "#9E1B45",
    "other": "#6F7780",
    "cable": "#C9B98F",
    "converter": "#B9D3E4",
    "own draw": "#999999",
    "mismatch": "#C9A3BD",
    "start loss": "#4A5560",
    "window loss": "#8FBFB0",
    "clipping": "#E9E1F2",
    "ceiling": "#D55E00",
}
# a colour for each role; that of the limit means the controller's ceiling and nothing else, and no loss has the colour
# of a wiring. Words need a contrast of 4.5 (WCAG 2.1, 1.4.3) and lines of 3 (1.4.11)
PAIR = (11.6, 4.4)
# [inch] width and height of two charts side by side
MADE_BY = f"vanpower {__version__}"
# stands in the metadata of every picture written
MADE_BY_AT_END = re.compile(rf"\s*vanpower\s{re.escape(__version__)}\Z")
# the same at the end of what is wrapped to a width


class Look(NamedTuple):
    """How a wiring is drawn in every chart: colour, dash and marker of its line, hatch of its bars."""

    colour: str
    dash: Any
    marker: str
    hatch: str

    @property
    def words(self) -> str:
        """Colour of its words: its own, or a darker one where that is too pale to read."""
        return DARKER if self.colour == PALE else self.colour


PALE, DARKER = "#C2649A", "#8E3A6B"
# a line's colour that is too pale for words, and that of its words
SERIES = Look("#0072B2", "-", "o", "")
PARALLEL = Look("#000000", (0, (4.0, 2.2)), "s", "||")
MIXED = Look("#007A5A", (0, (6.0, 1.6, 1.3, 1.6)), "^", "////")
FURTHER = (
    Look("#7A2BD6", (0, (1.2, 1.2)), "D", "...."),
    Look("#7A4A10", (0, (7.0, 1.8)), "v", "xxxx"),
    Look("#6A1B1B", (0, (3.0, 1.2, 1.0, 1.2, 1.0, 1.2)), "P", "++++"),
    Look(PALE, "-", "X", "----"),
    Look("#1B2A7A", (0, (5.0, 1.4, 2.0, 1.4)), "*", "oooo"),
)
# all panels in series, all in parallel, the first wiring that is both, and what more there is
WIRING_STYLES = (SERIES, PARALLEL, MIXED, *FURTHER)
LOSS_STYLES = {
    "weaker than label": ("other", "OO"),
    "cable": ("cable", "//"),
    "blocking diodes": ("cable", "**"),
    "converter": ("converter", ""),
    "own draw": ("own draw", "\\\\"),
    "shade": ("shade", "////"),
    "mismatch": ("mismatch", "xx"),
    "leak": ("mismatch", ".."),
    "start": ("start loss", ".."),
    "window": ("window loss", "--"),
    "heat": ("window loss", "++"),
    "tracker": ("mismatch", "||"),
    "plain switch": ("mismatch", "oo"),
    "clipping": ("clipping", "||"),
    "ceiling": ("ceiling", "**"),
}
# role and hatch of each loss
LOSS_WORDS = {"start": "start: asleep", "window": "window: low volts", "heat": "heat: low volts"}
# what a legend says of losses whose names need an explanation; the printed table has the same names
SIZE, PAGE = (5.5, 3.8), (9.0, 4.1)
# [inch] a chart for phones, shown some 390 pixels wide, and one for pages, shown from 640 to 1200 pixels wide: letters
# of 11 points are then 11 pixels, and 11 to 20
FONT, TITLE_FONT, PAGE_TITLE = 11, 11.5, 13.0
# [pt] words, and the finding above a chart for phones and for pages
FIGURE_SPACE = "\N{FIGURE SPACE}"
# as wide as a digit
TITLE_WIDTH = 58
# characters of a title's line
WIDEST_TITLE = 4.55
SMALLER = (0.0, 1.0, 2.0, 3.0)
# [pt] by which letters of a finding are smaller where it would take a third line
WIDEST_ON_PAGE = 8.0
# [inch] of a title's line in the size of the other words, on a phone and on a page: names of wide letters take more
# than their share
POINTS = 300
# points of a drawn curve between its hilltops
RED_WORDS = "#9C3F00"
# the limit's colour, dark enough to read
SPAN_COLD = (-40.0, 30.0)
# [°C] what the ceiling chart shows; the table of factors ends at the first
BAND_SHADE = 0.22
# how dense the band is that dull light leaves open: a line over it stays clear, also without colour
SMALL_LOSS = 0.004
# share of the panels' power below which a loss is not put into words


class Chart:
    """An Axes, what moves on it, and a key of what stands still; a live picture keeps the latter as background.

    Parameters
    ----------
    ax : Axes, optional
        Where to draw; None makes a figure that pyplot does not know, which is what a slider wants.
    phone : bool
        Which of two layouts: narrow, with letters for a phone, or as wide as a page.

    Attributes
    ----------
    moving : list of Artist
        What may change at every update.
    frame : tuple
        Tells all that stands still behind the moving artists (limits, ticks, legend, lines): where two are equal, so
        are the pictures without what moves, and a picture kept of one is shown for the other.

    Examples
    --------
    >>> open_before = plt.get_fignums()
    >>> chart = Chart()
    >>> plt.get_fignums() == open_before, [float(inches) for inches in chart.figure.get_size_inches()]
    (True, [5.5, 3.8])
    """

    size, page = SIZE, PAGE
    widest = WIDEST_TITLE
    # [inch] of a title's line

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        size = self.size if phone else self.page
        self.ax = Figure(figsize=size, layout="constrained").subplots() if ax is None else ax
        self.phone = phone
        self.options: dict[str, Any] = {}
        if not phone:
            self.widest = WIDEST_ON_PAGE
        self.moving: list[Artist] = []
        self.frame: tuple[Any, ...] = ()
        self._still: list[Artist] = []
        self.title_look: dict[str, Any] = {"loc": "left", "fontsize": TITLE_FONT, "color": INK}
        if not phone:
            self.title_look |= {"family": "serif", "weight": "bold", "fontsize": PAGE_TITLE}
        self.ax.set_title(" \n ", **self.title_look)
        self.ax.tick_params(labelsize=FONT, labelcolor=SOFT, color=INK)
        self.ax.spines[["top", "right"]].set_visible(False)

    def laid_out(self, *, phone: bool) -> Self:
        """Another chart of this kind, told the same by its maker, in the other layout; it is still to be updated.

        Examples
        --------
        >>> page = Chart().laid_out(phone=False)
        >>> [float(inches) for inches in page.figure.get_size_inches()]
        [9.0, 4.1]
        """
        return type(self)(phone=phone, **self.options)

    def settle(self) -> None:
        """Put names where there is room, once a figure was laid out; charts without names have nothing to put."""

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

    @property
    def repeated(self) -> list[Artist]:
        """What says again what a verdict says that stands beside the chart: the title, where it is of that verdict.

        Examples
        --------
        >>> chart = Chart()
        >>> chart.repeated == [title_line(chart.ax)]
        True
        """
        return [title_line(self.ax)]

    def _say(self, finding: str) -> None:
        """Write the finding above the axes, on two lines if it is long, in smaller letters if two are not enough."""
        whole = self.title_look["fontsize"]
        for smaller in SMALLER:
            lines = self._in_lines(finding, whole - smaller)
            if len(lines) <= 2:
                break
        self.ax.set_title("\n".join(lines), **self.title_look | {"fontsize": whole - smaller})

    def _in_lines(self, finding: str, size: float) -> list[str]:
        """The finding in lines no wider than there is room for, in letters of a size; numbers stay with their units."""
        bold = not self.phone
        widest = self.widest * (FONT if bold else TITLE_FONT) / size
        letters = round(TITLE_WIDTH * widest / WIDEST_TITLE)
        whole = glued(finding)
        lines = textwrap.wrap(whole, letters)
        while letters > 1 and max((width_of(line, bold=bold) for line in lines), default=0.0) > widest:
            letters -= 4
            lines = textwrap.wrap(whole, letters)
        return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]

    def _keep_room(self, characters: int) -> None:
        """Give numbers on the y axis one width, so that a live picture need not move when they grow longer."""
        self.ax.yaxis.set_major_formatter(lambda value, _: f"{value:g}".rjust(characters, FIGURE_SPACE))

    def _labels(self, x: str, y: str) -> None:
        self.ax.set_xlabel(x, fontsize=FONT, color=SOFT)
        self.ax.set_ylabel(y, fontsize=FONT, color=SOFT)

    def _redraw_behind(self) -> None:
        """Take away what stands still, before it is drawn anew."""
        for artist in self._still:
            artist.remove()
        self._still = []

    def _behind(self, *artists: Artist) -> None:
        self._still += artists


@cache
def _letter_width(letter: str, weight: str) -> float:
    """Width of one letter in a chart's usual size. [inch]"""
    font = FontProperties(size=FONT, weight=weight)
    return text_to_path.get_text_width_height_descent(letter, font, ismath=False)[0] / 72


def width_of(words: str, *, bold: bool = False) -> float:
    """Width of words in a chart's usual size, letter by letter; one that steers a terminal is drawn as a "?". [inch]

    Examples
    --------
    >>> width_of("wide") > width_of("thin"), width_of("2p 43 W", bold=True) > width_of("2p 43 W")
    (True, True)
    """
    weight = "bold" if bold else "normal"
    return sum(_letter_width(letter, weight) for letter in printable(words))


def new_axes(ax: Axes | None, size: tuple[float, float], margins: Margins | None = None) -> Axes:
    """The given axes, or new ones that a notebook shows; placed by their margins where there are any. [inch]"""
    if ax is not None:
        return ax
    if margins is None:
        return plt.subplots(figsize=size, layout="constrained")[1]
    return plt.figure(figsize=size).add_axes(_box(size, margins))


def fitted_top(value: float) -> float:
    """Where an axis ends for so high a hill: at a round number 12 to 20 % above it, which leaves room for a name.

    Examples
    --------
    >>> [round(fitted_top(watts), 9) for watts in (1.0, 8.5, 43.1, 107.0, 430.0)]
    [1.15, 10.0, 50.0, 120.0, 500.0]
    """
    if value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(0.08 * value))
    step = max(step * power for step in (1.0, 2.0, 5.0) if step * power <= 0.08 * value * (1 + 1e-9))
    return rounded_up_to(1.12 * value, step)


def lay_out(figure: Figure) -> None:
    """Lay a figure out once and for all, with room for findings of two lines however short the first ones are.

    Examples
    --------
    >>> figure = Chart().figure
    >>> lay_out(figure)
    >>> type(figure.get_layout_engine()).__name__
    'PlaceHolderLayoutEngine'
    """
    engine = figure.get_layout_engine()
    if engine is None:
        return
    titles = [title_line(ax) for ax in figure.axes]
    said = [title.get_text() for title in titles]
    for title, words in zip(titles, said, strict=True):
        title.set_text(words if "\n" in words or not words else f" \n{words}")
    engine.execute(figure)
    figure.set_layout_engine("none")
    for title, words in zip(titles, said, strict=True):
        title.set_text(words)


def placed(size: tuple[float, float], margins: Margins) -> Axes:
    """Axes on a figure of their own that stand where they are put, whatever is written around them.

    Parameters
    ----------
    size : tuple of float
        Width and height of the figure. [inch]
    margins : tuple of float
        Left, below, right and above the axes. [inch]

    Examples
    --------
    >>> ax = placed((5.0, 4.0), (0.5, 0.5, 0.5, 1.0))
    >>> [round(float(share), 3) for share in ax.get_position().bounds]
    [0.1, 0.125, 0.8, 0.625]
    """
    return Figure(figsize=size).add_axes(_box(size, margins))


def _box(size: tuple[float, float], margins: Margins) -> Margins:
    """Left and lower end, width and height of axes with margins, in shares of their figure."""
    (wide, high), (left, below, right, above) = size, margins
    return left / wide, below / high, 1 - (left + right) / wide, 1 - (below + above) / high


def fill_with(bar: Patch, look: Look) -> None:
    """Draw a bar as its wiring is drawn: its colour, and white strokes that tell it in grey."""
    bar.set_facecolor(look.colour)
    bar.set_edgecolor("white")
    bar.set_hatch(look.hatch)


class HasRig(Protocol):
    """What an outcome of a comparison and a journal of a run have alike."""

    @property
    def rig(self) -> Rig:
        """The rig it is of."""


def looks_of(found: Mapping[str, HasRig]) -> dict[str, Look]:
    """How each wiring of a comparison or of a run is drawn.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> {name: look.marker for name, look in looks_of(found.outcomes).items()}
    {'2s': 'o', '2p': 's'}
    """
    return looks(found, {name: one.rig for name, one in found.items()})


def lettered(figure: Figure) -> None:
    """Take all texts of a figure as they stand: names of strangers are letters to be shown, never formulas.

    Examples
    --------
    >>> figure = Figure()
    >>> _ = figure.text(0.5, 0.5, r"2 x 5 \\$")
    >>> lettered(figure)
    >>> figure.texts[0].get_text(), figure.texts[0].get_parse_math()
    ('2 x 5 $', False)
    """
    for text in figure.findobj(Text):
        # a dollar sign that was told to be one is one now
        text.set_parse_math(False)  # type: ignore[attr-defined]
        text.set_text("\n".join(map(printable, text.get_text().replace(r"\$", "$").split("\n"))))


def title_line(ax: Axes) -> Text:
    """The artist of the left title."""
    return ax._left_title  # type: ignore[attr-defined]


def kind_of(name: str, rig: Rig | None = None) -> str:
    """Whether a wiring is all in series, all in parallel, mixed, or something else; by its rig, or else by its name.

    Examples
    --------
    >>> kind_of("3s"), kind_of("3p"), kind_of("2s2p (P1+P3 | P2+P4)"), kind_of("before")
    ('series', 'parallel', 'mixed', 'other')
    >>> from vanpower import example
    >>> kind_of("as it is", example("bookmobile"))
    'parallel'
    """
    if rig is None:
        named = re.match(r"(\d+s)?(\d+p)?(?= |$)", name)
        both = named.groups() if named and named[0] else (None, None)
        return {(True, False): "series", (False, True): "parallel", (True, True): "mixed"}.get(
            (both[0] is not None, both[1] is not None), "other"
        )
    if len(rig.circuits) > 1 and all(len(circuit.wiring.panels) == 1 for circuit in rig.circuits):
        return "other"
    # of several controllers the first is wired one way or the other, and names say its wiring
    strings = rig.circuits[0].wiring.strings
    if len(strings) == 1:
        return "series"
    return "parallel" if all(len(string) == 1 for string in strings) else "mixed"


def looks(names: Iterable[str], rigs: Mapping[str, Rig] | None = None) -> dict[str, Look]:
    """How each wiring is drawn: one in series, in parallel and mixed always alike, others in an order of their own.

    Examples
    --------
    >>> found = looks(["4p", "2s2p", "4s", "2s2p (P1+P3 | P2+P4)"])
    >>> [look.colour for look in found.values()]
    ['#000000', '#007A5A', '#0072B2', '#7A2BD6']
    """
    free = {"series": SERIES, "parallel": PARALLEL, "mixed": MIXED}
    others = cycle(FURTHER)
    kinds = {name: kind_of(name, rigs[name] if rigs else None) for name in names}
    return {name: free.pop(kind) if kind in free else next(others) for name, kind in kinds.items()}


def rung(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten, so that an axis seldom changes under a slider."""
    if value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if step * power >= value)


def even_ticks(top: float) -> list[float]:
    """Round values from zero to the top of what is drawn; above it stand words."""
    return [tick for tick in MaxNLocator(nbins=6).tick_values(0.0, top) if 0 <= tick <= 1.0001 * top]


def rounded_up_to(value: float, step: float) -> float:
    """The next whole number of steps at or above a value."""
    return step * math.ceil(value / step - 1e-9)


def signed(value: float, form: str = "g") -> str:
    """A number with a minus sign as the axes write it."""
    return f"{value:{form}}".replace("-", "\N{MINUS SIGN}")


def sleeps(outcome: Outcome) -> np.ndarray:
    """Moments in which there is light and no controller of the outcome is awake (moment,)."""
    asleep = np.all([operation.held_by == ASLEEP for operation in outcome.operations], axis=0)
    return asleep & (outcome.p_panels > 0)
