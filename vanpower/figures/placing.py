"""Where names stand beside their curves: near what they name, on no other name, and clear of the curves.

Every place around a mark is weighed at once; what is left out is a search over all names together, which two or three
wirings do not need.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

GAP = 7.0
# [pt] from a mark to the name that hugs it
RINGS = (0.0, 14.0, 30.0, 50.0, 75.0, 105.0, 150.0)
# [pt] how far out names are tried, with a line that leads to the mark from the second on
WAYS = ((0, 1), (1, 1), (-1, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (0, -1), (1, 0.3), (-1, 0.3))
# right and up: above the mark first, then beside and below it, last beside and a little up for want of room above
OUTSIDE, ON_NAME, ON_MARK, ON_CURVE, ON_WALL, LEADS = 1e6, 1e5, 400.0, 25.0, 40.0, 8.0
# what it costs to leave the chart, to lie on a name, a mark, a point of a curve or an upright line, and to be led to

HUGS = np.array([[GAP - 3 * (right != 0 and up != 0)] for right, up in WAYS])
# [pt] from a mark to a name that hugs it, nearer at a corner
OUTWARDS = np.array(RINGS)[:, None, None] * np.array([np.array(way) / np.hypot(*way) for way in WAYS])
DISTANCE = np.array([0.5 * k + ring + LEADS * (ring > 0) for ring in RINGS for k in range(len(WAYS))])
# how far each place is from one that hugs its mark [pt], and what that costs


@dataclass(frozen=True, eq=False)
class Spot:
    """Where a name stands: its middle, and where its leader ends, or None where it hugs its mark; in points."""

    middle: tuple[float, float]
    leader: tuple[float, float] | None


def places(
    sizes: np.ndarray,
    marks: np.ndarray,
    curves: np.ndarray,
    *,
    room: tuple[float, float, float, float],
    walls: Sequence[float] = (),
    taken: Sequence[tuple[float, float, float, float]] = (),
) -> list[Spot]:
    """A place for every name, one after the other, in points from the lower left corner of the axes.

    Parameters
    ----------
    sizes : ndarray (name, 2)
        Width and height of each name. [pt]
    marks : ndarray (name, 2)
        What each of them names. [pt]
    curves : ndarray (point, 2)
        Points that names keep clear of. [pt]
    room : tuple of float
        Left, lower, right and upper end of where names may stand. [pt]
    walls : sequence of float
        Upright lines that names had better not cross. [pt]
    taken : sequence of tuple of float
        Left, lower, right and upper end of other words. [pt]

    Examples
    --------
    >>> twins, sizes = np.array([[100.0, 100.0], [110.0, 100.0]]), np.array([[60.0, 12.0]] * 2)
    >>> one, other = places(sizes, twins, np.empty((0, 2)), room=(0, 0, 300, 200))
    >>> bool(abs(one.middle[0] - other.middle[0]) >= 60 or abs(one.middle[1] - other.middle[1]) >= 12)
    True
    """
    taken = list(taken)
    found = []
    for size, mark in zip(sizes, marks, strict=True):
        others = marks[np.any(marks != mark, axis=1)]
        middles, cost = _tried(size, mark)
        half = size / 2
        low, high = middles - half, middles + half
        cost += OUTSIDE * ((low < room[:2]) | (high > room[2:])).any(axis=1)
        cost += ON_CURVE * _inside(curves, low - 2, high + 2) + ON_MARK * _inside(others, low - 7, high + 7)
        for wall in walls:
            cost += ON_WALL * ((low[:, 0] < wall) & (wall < high[:, 0]))
        for box in taken:
            apart = (high[:, 0] + 5 < box[0]) | (box[2] + 5 < low[:, 0]) | (high[:, 1] < box[1]) | (box[3] < low[:, 1])
            cost += ON_NAME * ~apart
        best = int(np.argmin(cost))
        taken.append((*low[best], *high[best]))
        found.append(Spot((middles[best][0], middles[best][1]), _leader(mark, low[best], high[best])))
    return found


def evenly(points: np.ndarray, apart: float) -> np.ndarray:
    """Points along a line through these, no farther apart than so far.

    Examples
    --------
    >>> evenly(np.array([[0.0, 0.0], [0.0, 3.0]]), 1.0).tolist()
    [[0.0, 0.0], [0.0, 1.0], [0.0, 2.0], [0.0, 3.0]]
    """
    if len(points) < 2:
        return points
    along = np.append(0.0, np.hypot(*np.diff(points, axis=0).T).cumsum())
    at = np.linspace(0.0, along[-1], 1 + int(np.ceil(along[-1] / apart)))
    return np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])


def _tried(size: np.ndarray, mark: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Middles of the places that are tried around a mark, and what their distance costs."""
    near = mark + np.array(WAYS) * (size / 2 + HUGS)
    return (near + OUTWARDS).reshape(-1, 2), DISTANCE.copy()


def _inside(points: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """How many points lie in each box (box,)."""
    if not len(points):
        return np.zeros(len(low))
    x, y = points[:, 0], points[:, 1]
    within = (low[:, :1] < x) & (x < high[:, :1]) & (low[:, 1:] < y) & (y < high[:, 1:])
    return within.sum(axis=1)


def _leader(mark: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[float, float] | None:
    """Where a leader meets the box of its name; None where the name hugs its mark."""
    end = np.clip(mark, low, high)
    return None if np.hypot(*(end - mark)) <= GAP + 4 else (float(end[0]), float(end[1]))
