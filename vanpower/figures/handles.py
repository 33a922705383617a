"""What of a chart can be touched: where its handles are, in points of the picture, and where a touch is on the axes.

A picture's points count from its upper left corner to the right and down, as SVG does; so a page need not know axes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

from matplotlib.axes import Axes
from matplotlib.figure import Figure

POINTS = 72
# [per inch] what SVG measures in
TAP, ALONG, UP, FREE = "tap", "along", "up", "free"
# how a handle is used: tapped, or dragged along the picture, up and down it, or freely

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Handle:
    """Something in a picture that a finger, a mouse or a key can move.

    Parameters
    ----------
    key : str
        What it moves, as the chart's `touched` is told.
    label, now : str
        What a screen reader calls it, and how it stands.
    use : str
        One of `TAP`, `ALONG`, `UP` and `FREE`.
    x, y, wide, high : float
        Its middle and the size of what may be touched, in points of the picture; a page makes it a finger wide at
        least.
    step : float
        How far an arrow key moves it, in points.
    verb : str
        What stands beside it until it has been used; empty for nothing.
    verb_at : tuple of float, optional
        Where these words end, in points; None is beside it.
    mark : str
        "disc" for a handle that is drawn, "level" for one with a line across, "" where the picture shows what is meant.
    aside : tuple of float
        Where its mark is drawn, from its middle to the right and down, in points.
    reach : float
        How far to the right that line goes, in points.
    on : bool
        Whether what is tapped is on.
    """

    key: str
    label: str
    now: str = ""
    use: str = TAP
    x: float
    y: float
    wide: float = 0.0
    high: float = 0.0
    step: float = 6.0
    verb: str = ""
    verb_at: Point | None = None
    mark: str = ""
    aside: Point = (0.0, 0.0)
    reach: float = 0.0
    on: bool = False

    def as_sent(self) -> dict[str, Any]:
        """As a page takes it."""
        return asdict(self)


class Touchable(Protocol):
    """A chart that can be touched."""

    def handles(self, values: Mapping[str, Any]) -> Sequence[Handle]:
        """Its handles now, for the controls that there are, by their names and values."""

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> Mapping[str, Any]:
        """New values of controls after a touch of a handle, of which `at` is the new place in the picture."""


def in_picture(ax: Axes, x: float, y: float) -> Point:
    """Where a point of the axes is in the picture, in points from its upper left corner.

    Examples
    --------
    >>> ax = Figure(figsize=(4, 2)).add_axes((0, 0, 1, 1))
    >>> [float(one) for one in in_picture(ax, 0.5, 0.75)]
    [144.0, 36.0]
    """
    figure = _figure(ax)
    right, up = ax.transData.transform((x, y)) / figure.dpi * POINTS
    return float(right), float(figure.get_size_inches()[1] * POINTS - up)


def on_axes(ax: Axes, at: Point) -> Point:
    """Which point of the axes a place in the picture is.

    Examples
    --------
    >>> ax = Figure(figsize=(4, 2)).add_axes((0, 0, 1, 1))
    >>> [float(one) for one in on_axes(ax, (144.0, 36.0))]
    [0.5, 0.75]
    """
    figure = _figure(ax)
    up = figure.get_size_inches()[1] * POINTS - at[1]
    x, y = ax.transData.inverted().transform((at[0] * figure.dpi / POINTS, up * figure.dpi / POINTS))
    return float(x), float(y)


def _figure(ax: Axes) -> Figure:
    """The whole figure of some axes."""
    figure = ax.get_figure(root=True)
    assert isinstance(figure, Figure)
    return figure
