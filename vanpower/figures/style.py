"""One look for every chart: a colour, a line style and a marker for each role, and a picture written whole."""

from __future__ import annotations

import math
import re
import textwrap
from functools import cache
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path
from matplotlib.ticker import MaxNLocator

from vanpower import __version__
from vanpower.components.controllers import ASLEEP
from vanpower.rig import printable
from vanpower.studies import Outcome

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
MADE_BY = f"vanpower {__version__}"
# stands in the metadata of every picture written
MADE_BY_AT_END = re.compile(rf"\s*vanpower\s{re.escape(__version__)}\Z")
# the same at the end of what is wrapped to a width
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
    "weaker than label": ("other", "OO"),
    "cable": ("cable", "//"),
    "blocking diodes": ("cable", "**"),
    "converter": ("converter", ""),
    "own draw": ("own draw", "\\\\"),
    "shade": ("shade", ""),
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
SIZE = (5.5, 3.8)
# [inch] a chart that stays readable on a phone
FONT, TITLE_FONT = 11, 11.5
# [pt]
FIGURE_SPACE = "\N{FIGURE SPACE}"
# as wide as a digit
TITLE_WIDTH = 58
# characters of a title's line
WIDEST_TITLE = 4.55
# [inch] of a title's line in the size of the other words: names of wide letters take more than their share
POINTS = 300
# points of a drawn curve between its hilltops
STRIP, HEADROOM = 1.1, 1.52
# heights in the power chart over its highest hill: of window and ceiling, and with their words and the legend
LEGEND_ROW = 0.2
# height of a third and further row of the power chart's legend, over its highest hill
LETTER = 0.018
# share of the power chart's width that a letter takes, rather too much than too little
RED_WORDS = "#9C3F00"
# the limit's colour, dark enough to read
FAR_CEILING = 2.2
# a ceiling beyond so many times the open-circuit volts is named at the edge, not drawn
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

    size = SIZE
    widest = WIDEST_TITLE
    # [inch] of a title's line

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
        letters = TITLE_WIDTH
        lines = textwrap.wrap(finding, letters)
        while letters > 1 and max(map(width_of, lines), default=0.0) > self.widest:
            letters -= 4
            lines = textwrap.wrap(finding, letters)
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


@cache
def _letter_width(letter: str) -> float:
    """Width of one letter in a chart's usual size. [inch]"""
    return text_to_path.get_text_width_height_descent(letter, FontProperties(size=FONT), ismath=False)[0] / 72


def width_of(words: str) -> float:
    """Width of words in a chart's usual size, letter by letter; one that steers a terminal is drawn as a "?". [inch]

    Examples
    --------
    >>> width_of("wide") > width_of("thin")
    True
    """
    return sum(map(_letter_width, printable(words)))


def new_axes(ax: Axes | None, size: tuple[float, float]) -> Axes:
    """The given axes, or new ones that a notebook shows."""
    return plt.subplots(figsize=size, layout="constrained")[1] if ax is None else ax


def side_by_side(left: float, middle: float, first: float, second: float) -> tuple[float, float]:
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


def title_line(ax: Axes) -> Artist:
    """The artist of the left title."""
    return ax._left_title  # type: ignore[attr-defined]


def wiring_styles(number: int) -> list[tuple]:
    """Colour, dash and marker for so many wirings."""
    return [WIRING_STYLES[k % len(WIRING_STYLES)] for k in range(number)]


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
