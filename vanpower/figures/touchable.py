"""Which charts can be touched, and where: those with handles of their own, and lines that a control moves.

Left out: charts on which nothing stands for a control.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from vanpower.figures.ceiling import CeilingChart
from vanpower.figures.handles import ALONG, UP, Handle, Point, Touchable, in_picture, on_axes


@dataclass(frozen=True)
class Line:
    """A line across some axes that stands where a control does.

    Parameters
    ----------
    name : str
        Of the control.
    label, unit : str
        What a screen reader says.
    verb : str
        What stands beside its handle.
    upright : bool
        Whether it is dragged along the x axis; else it lies and is dragged up and down.
    """

    name: str
    label: str
    unit: str
    verb: str
    upright: bool = True

    def handle(self, ax: Axes, value: float) -> Handle:
        """The handle of a line at this value: on the lower part of an upright line, or at the left of one that lies."""
        left, right, low, high = *ax.get_xlim(), *ax.get_ylim()
        at = _free_height(ax, value) if self.upright else AT
        here = (value, low + at * (high - low)) if self.upright else (left + at * (right - left), value)
        x, y = in_picture(ax, *here)
        (x0, y1), (x1, y0) = in_picture(ax, left, low), in_picture(ax, right, high)
        step = STEP * ((x1 - x0) if self.upright else (y1 - y0))
        return Handle(
            key=self.name, label=self.label, now=f"{value:g} {self.unit}", use=ALONG if self.upright else UP,
            mark="disc", x=min(max(x, x0), x1), y=min(max(y, y0), y1), step=step, verb=self.verb,
        )  # fmt: skip

    def value(self, ax: Axes, at: Point) -> float:
        """What the control becomes with the handle there."""
        return on_axes(ax, at)[0 if self.upright else 1]


AT, STEP = 0.12, 0.02
# shares of the axes at which a handle sits on its line, and by which an arrow key moves it
HEIGHTS, NEAR_HIGH, NEAR_WIDE = (AT, 0.26, 0.4, 0.54, 0.68), 0.15, 0.3
# shares of the axes at which a handle may sit, and how far words beside its line have to be from its own
NEAR_LINE, VERB_WIDE = 0.06, (0.1, 0.5)
# shares of the axes: how far its words keep from curves, and between where they run beside it


def _free_height(ax: Axes, value: float) -> float:
    """The lowest place on an upright line beside which are no words and no curve; else no words; else the lowest."""
    shares = ax.transAxes.inverted()
    line = float(shares.transform(ax.transData.transform((value, 0.0)))[0])
    words = [text for text in ax.texts if text.get_visible() and text.get_text()]
    places = [shares.transform(text.get_transform().transform(text.get_unitless_position())) for text in words]
    beside = [float(y) for x, y in places if -NEAR_WIDE / 6 < x - line < NEAR_WIDE]
    clear = [at for at in HEIGHTS if all(abs(y - at) > NEAR_HIGH for y in beside)]
    curves = [shares.transform(ax.transData.transform(curve.get_xydata())) for curve in ax.lines]
    flat = [curve for curve in curves if len(curve) > 1 and np.ptp(curve[:, 0]) > 0]
    passed = [y for curve in flat for y in np.interp(line + np.array(VERB_WIDE), *curve.T)]
    free = [at for at in clear if all(abs(y - at) > NEAR_LINE for y in passed)]
    return (free or clear or [AT])[0]


class Lines:
    """Lines of one chart that controls move."""

    def __init__(self, ax: Axes, lines: Sequence[Line]) -> None:
        self.ax, self.lines = ax, lines

    def handles(self, values: Mapping[str, Any]) -> list[Handle]:
        """A handle for each of the lines that has a control."""
        return [line.handle(self.ax, values[line.name]) for line in self.lines if line.name in values]

    def touched(self, key: str, at: Point, values: Mapping[str, Any]) -> dict[str, Any]:
        """The value of the line's control."""
        return {line.name: line.value(self.ax, at) for line in self.lines if line.name == key}


COLDEST = Line("temp_coldest", "Coldest dawn", "°C", "drag the coldest dawn")
CEILING = Line("v_pv_max", "Ceiling of the controller", "V", "drag the ceiling", upright=False)
TOUCHABLE: Mapping[type, Callable[[Any], Touchable]] = {
    CeilingChart: lambda chart: Lines(chart.ax, (COLDEST, CEILING)),
}
# charts that are touched by lines, by their kind


def touchable(chart: Any) -> Touchable | None:
    """What of a chart can be touched, if anything can.

    Examples
    --------
    >>> from vanpower import example
    >>> chart = CeilingChart()
    >>> chart.update(example("puppet-stage").wired("4s"))
    >>> [handle.label for handle in touchable(chart).handles({"temp_coldest": -17.0})]
    ['Coldest dawn']
    """
    if hasattr(chart, "handles"):
        own: Touchable = chart
        return own
    made = TOUCHABLE.get(type(chart))
    return None if made is None else made(chart)
