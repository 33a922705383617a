"""Shadows of solids on the plane of the glass, and the share of every cell they leave lit.

Outlines are exact: a solid's shadow is the convex outline of its shifted corners, shadows are cut into pieces that do
not overlap, and the area of a piece inside a cell is a closed form. The sun's disc is taken as `suns.POINTS` points,
each with its share of the disc as a blur.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.shade.solids import Solid
from vanpower.shade.suns import POINTS, blur, disc_points, shift

Array = np.ndarray

FLAT = 1e-9
# [m] height differences of an edge below which it counts as level
SLIVER = 1e-10
# [m²] pieces smaller than this are dropped


@dataclass(frozen=True, eq=False)
class Piece:
    """A convex piece of shadow: its outline (corner, 2) [m], the share of light it takes, how far its edge is cast [m]."""

    corners: Array
    takes: float
    cast: float


def lit_share(edges: Array, solids: Sequence[Solid], suns: Array) -> Array:
    """Share of every cell that the beam reaches, shape (moment, cell); 0 where the sun is behind the roof's plane.

    Parameters
    ----------
    edges : ndarray (cell, 4)
        Left, right, back, front of every cell. [m]
    solids : sequence of Solid
    suns : ndarray (moment, 3)
        As `sun_vectors` gives them.

    Notes
    -----
    The darker of two shadows counts where they overlap, as if nothing passed both.
    """
    lit = np.ones((len(suns), len(edges)))
    order = sorted(solids, key=lambda solid: solid.lets_through)
    touching = np.array([_touches(solid, edges, suns) for solid in order]).reshape(len(order), len(suns))
    for moment in np.nonzero((suns[:, 2] > 0) & touching.any(axis=0))[0]:
        near = [solid for solid, touches in zip(order, touching[:, moment], strict=True) if touches]
        lit[moment] = _lit_now(edges, near, suns[moment])
    lit[suns[:, 2] <= 0] = 0.0
    return lit


def shadows(solids: Sequence[Solid], sun: Array) -> list[Array]:
    """Outlines of the shadows on the plane of the glass, shape (corner, 2) each. [m]"""
    return [points[outline(points)] for points in (_cast(solid, shift(sun)) for solid in solids)]


def _touches(solid: Solid, edges: Array, suns: Array) -> Array:
    """Whether a solid's shadow may reach a cell, by the boxes around them (moment,)."""
    width = np.array([blur(sun) for sun in suns]) * (solid.top / np.maximum(suns[:, 2], 0.005))[:, None]
    points = solid.points[None, :, :2] + solid.points[None, :, 2:] * shift(suns)[:, None, :]
    low, high = points.min(axis=1) - width, points.max(axis=1) + width
    first, last = edges[:, [0, 2]].min(axis=0), edges[:, [1, 3]].max(axis=0)
    return np.all((low < last) & (high > first), axis=1)


def _lit_now(edges: Array, solids: Sequence[Solid], sun: Array) -> Array:
    """Lit share of every cell at one moment (cell,)."""
    width = blur(sun)
    outlines = [outline(_cast(solid, shift(sun))) for solid in solids]
    casts = [solid.top / max(float(sun[2]), 0.005) for solid in solids]
    sharp = _pieces(solids, outlines, casts, shift(sun))
    margin = width * max(casts)
    taken = _taken(edges + np.array([-1, 1, -1, 1]) * margin[[0, 0, 1, 1]], sharp, None)
    unsure = (taken > 1e-9) & (taken < 1 - 1e-9)
    if unsure.any():
        soft = [piece for s in shift(disc_points(sun)) for piece in _pieces(solids, outlines, casts, s)]
        taken[unsure] = _taken(edges[unsure], soft, width) / POINTS
    return np.clip(1 - taken, 0.0, 1.0)


def _cast(solid: Solid, shifted: Array) -> Array:
    """A solid's corners where their shadows fall (corner, 2)."""
    return solid.points[:, :2] + solid.points[:, 2:] * shifted


def outline(points: Array) -> Array:
    """Which of the points make the convex outline, anticlockwise.

    Examples
    --------
    >>> outline(np.array([[0, 0], [1, 0], [0.5, 0.2], [1, 1], [0, 1]])).tolist()
    [0, 1, 3, 4]
    """
    order = sorted(range(len(points)), key=lambda k: (points[k, 0], points[k, 1]))
    flat = points.tolist()

    def half(numbers: list[int]) -> list[int]:
        """One side of the outline, from the first of the points to the last."""
        kept: list[int] = []
        for k in numbers:
            while len(kept) > 1 and _left_turn(flat[kept[-2]], flat[kept[-1]], flat[k]) <= 0:
                kept.pop()
            kept.append(k)
        return kept[:-1]

    return np.array(half(order) + half(order[::-1]))


def _left_turn(a: Sequence[float], b: Sequence[float], c: Sequence[float]) -> float:
    """Twice the area of a triangle, positive where its corners go anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _pieces(
    solids: Sequence[Solid], outlines: Sequence[Array], casts: Sequence[float], shifted: Array
) -> list[Piece]:
    """Shadows of one point of the sun as convex pieces that do not overlap; earlier solids go first."""
    pieces: list[Piece] = []
    done: list[Array] = []
    for solid, corners, cast in zip(solids, outlines, casts, strict=True):
        shadow = _cast(solid, shifted)[corners]
        left = [shadow]
        for other in done:
            if np.all(shadow.min(axis=0) < other.max(axis=0)) and np.all(shadow.max(axis=0) > other.min(axis=0)):
                left = [rest for part in left for rest in _without(part, other)]
        pieces += [Piece(part, 1 - solid.lets_through, cast) for part in left]
        done.append(shadow)
    return pieces


def _without(part: Array, other: Array) -> list[Array]:
    """What is left of a convex outline outside another one, in convex pieces."""
    outside = []
    for a, b in zip(other, np.roll(other, -1, axis=0), strict=True):
        across = np.array([a[1] - b[1], b[0] - a[0]])
        depth = (part - a) @ across
        piece = _half(part, -depth)
        if len(piece) >= 3 and _area(piece) > SLIVER:
            outside.append(piece)
        part = _half(part, depth)
        if len(part) < 3:
            break
    return outside


def _half(part: Array, depth: Array) -> Array:
    """The part of a convex outline where the depth of its corners is positive."""
    if depth.min() >= 0:
        return part
    kept = []
    for k in range(len(part)):
        a, b, da, db = part[k - 1], part[k], depth[k - 1], depth[k]
        if da * db < 0:
            kept.append(a + (b - a) * (da / (da - db)))
        if db >= 0:
            kept.append(b)
    return np.array(kept).reshape(-1, 2)


def _area(corners: Array) -> float:
    """Area of an outline. [m²]"""
    x, y = corners.T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)


def _taken(edges: Array, pieces: Sequence[Piece], width: Array | None) -> Array:
    """Share of each cell that pieces take, added up (cell,); a width blurs their edges."""
    if not pieces:
        return np.zeros(len(edges))
    start = np.concatenate([piece.corners for piece in pieces])
    end = np.concatenate([np.roll(piece.corners, -1, axis=0) for piece in pieces])
    counts = [len(piece.corners) for piece in pieces]
    takes = np.repeat([piece.takes for piece in pieces], counts)
    cells = np.broadcast_to(edges[:, None, :], (len(edges), len(start), 4))
    if width is not None:
        cells = _widened(cells, np.repeat([piece.cast for piece in pieces], counts), width)
    size = (cells[..., 1] - cells[..., 0]) * (cells[..., 3] - cells[..., 2])
    return np.sum(takes * _below(cells, start, end) / size, axis=1)


def _widened(cells: Array, cast: Array, width: Array) -> Array:
    """Cells widened so that a sharp edge counts as one blurred by a point's share of the disc.

    Notes
    -----
    A uniform disc of half width w has the variance w²/4; a point's share of it the POINTS-th part. A strip of width c
    has c²/12, so c becomes the root of c² + 12 w²/4/POINTS.
    """
    more = 3 * (width[None, :] * cast[:, None]) ** 2 / POINTS
    wide, long = cells[..., 1] - cells[..., 0], cells[..., 3] - cells[..., 2]
    add = [(np.sqrt(size**2 + extra) - size) / 2 for size, extra in ((wide, more[:, 0]), (long, more[:, 1]))]
    return cells + np.stack([-add[0], add[0], -add[1], add[1]], axis=-1)


def area_inside(edges: Array, corners: Array) -> Array:
    """Area of an anticlockwise outline inside every cell, shape (cell,). [m²]

    Examples
    --------
    >>> area_inside(np.array([[0.0, 1.0, 0.0, 1.0]]), np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]])).tolist()
    [1.0]
    """
    cells = np.broadcast_to(edges[:, None, :], (len(edges), len(corners), 4))
    return _below(cells, corners, np.roll(corners, -1, axis=0)).sum(axis=1)


def _below(cells: Array, start: Array, end: Array) -> Array:
    """Area of each cell below each edge of an outline, negative where the edge runs to the right (cell, edge).

    Notes
    -----
    Green's theorem: the area inside an outline is the sum over its edges of the area below, and the height below an
    edge is cut off at the cell's back and front, of which the integral is a parabola.
    """
    left, right, back, front = np.moveaxis(cells, -1, 0)
    run = end[:, 0] - start[:, 0]
    slope = np.divide(end[:, 1] - start[:, 1], run, out=np.zeros(len(run)), where=run != 0)
    x0, x1 = (np.clip(x, left, right) for x in (start[:, 0], end[:, 0]))
    y0, y1 = (start[:, 1] + slope * (x - start[:, 0]) - back for x in (x0, x1))
    high = front - back
    rise = y1 - y0
    level = np.abs(rise) < FLAT
    mean = np.divide(_parabola(y1, high) - _parabola(y0, high), rise, out=np.clip(y0, 0, high), where=~level)
    return -(x1 - x0) * mean


def _parabola(y: Array, high: Array) -> Array:
    """Integral from below of a height that is cut off at zero and at `high`."""
    inside = np.clip(y, 0, high)
    return inside**2 / 2 + high * np.maximum(y - high, 0)
