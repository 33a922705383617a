"""Shadows of solids on the plane of the glass, and the share of every cell they leave lit.

Outlines are exact: a solid's shadow is the convex outline of its shifted corners, shadows are cut into pieces that do
not overlap, and the area of a piece inside a cell is a closed form. The sun's disc is taken as 1 to 49 points, each
with its share of the disc as a blur.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.shade.solids import Solid
from vanpower.shade.suns import blur, disc_points, shift

Array = np.ndarray

Outline = list[tuple[float, float]]

FAR = 4.0
# [m] an edge cast from farther has a soft rim over 37 mm wide
AROUND = 1.0
# [m] how far beyond the cells shadows are kept
FLAT = 1e-9
# [m] height differences of an edge below which it counts as level
SLIVER = 1e-10
# [m²] pieces smaller than this are dropped


@dataclass(frozen=True, eq=False)
class Piece:
    """A convex piece of shadow: outline (corner, 2) [m], share of light it takes, how far its edge is cast [m]."""

    corners: Array
    takes: float
    cast: float


class Throw:
    """A solid's shadow under one sun, and how far its edge is cast. [m]"""

    def __init__(self, solid: Solid, sun: Array) -> None:
        self.solid = solid
        self.cast = solid.top / max(float(sun[2]), 0.005)

    def at(self, shifted: Array) -> Array:
        """Its outline for a point of the sun (corner, 2). [m]"""
        points = _cast(self.solid, shifted)
        return points[outline(points)]


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
    Where shadows overlap, light must pass both. Where edges cast from nearer than `FAR` meet in one cell, their
    overlap is found exactly; a farther edge is so soft that its share of a cell is taken as even.
    """
    lit = np.ones((len(suns), len(edges)))
    order = sorted(solids, key=lambda solid: solid.lets_through)
    widths = np.array([blur(sun) for sun in suns]).reshape(len(suns), 2)
    touching = np.array([_touches(solid, edges, suns, widths) for solid in order]).reshape(len(order), len(suns))
    for moment in np.nonzero((suns[:, 2] > 0) & touching.any(axis=0))[0]:
        near = [solid for solid, touches in zip(order, touching[:, moment], strict=True) if touches]
        lit[moment] = _lit_now(edges, near, suns[moment])
    lit[suns[:, 2] <= 0] = 0.0
    return lit


def shadows(solids: Sequence[Solid], sun: Array) -> list[Array]:
    """Outlines of the shadows on the plane of the glass, shape (corner, 2) each. [m]"""
    return [points[outline(points)] for points in (_cast(solid, shift(sun)) for solid in solids)]


def _touches(solid: Solid, edges: Array, suns: Array, widths: Array) -> Array:
    """Whether a solid's shadow may reach a cell, by the boxes around them (moment,)."""
    width = widths * (solid.top / np.maximum(suns[:, 2], 0.005))[:, None]
    points = solid.points[None, :, :2] + solid.points[None, :, 2:] * shift(suns)[:, None, :]
    low, high = points.min(axis=1) - width, points.max(axis=1) + width
    first, last = edges[:, [0, 2]].min(axis=0), edges[:, [1, 3]].max(axis=0)
    return np.all((low < last) & (high > first), axis=1)


def _lit_now(edges: Array, solids: Sequence[Solid], sun: Array) -> Array:
    """Lit share of every cell at one moment (cell,); darker solids come first."""
    throws = [Throw(solid, sun) for solid in solids]
    lit, together, edge_met = np.ones(len(edges)), np.ones(len(edges)), np.zeros(len(edges), int)
    near = [throw for throw in throws if throw.cast <= FAR]
    for throw in throws:
        share = _shaded_by(edges, throw, sun)
        passes = 1 - share * (1 - throw.solid.lets_through)
        if throw.cast > FAR:
            lit *= passes
        else:
            together *= passes
            edge_met += (share > 1e-9) & (share < 1 - 1e-9)
    both = edge_met > 1
    if both.any():
        together[both] = 1 - _shaded_together(edges[both], near, sun)
    return np.clip(lit * together, 0.0, 1.0)


def _shaded_by(edges: Array, throw: Throw, sun: Array) -> Array:
    """Share of every cell in one solid's shadow, its soft edge included (cell,)."""
    margin = blur(sun) * throw.cast
    sharp = Piece(throw.at(shift(sun)), 1.0, throw.cast)
    share = _taken(edges + np.array([-1, 1, -1, 1]) * margin[[0, 0, 1, 1]], [sharp], None)
    unsure = (share > 1e-9) & (share < 1 - 1e-9)
    if unsure.any():
        points = disc_points(sun, throw.cast)
        soft = [Piece(throw.at(s), 1.0 / len(points), throw.cast) for s in shift(points)]
        share[unsure] = _taken(edges[unsure], soft, blur(sun) / np.sqrt(len(points)))
    return np.clip(share, 0.0, 1.0)


def _shaded_together(edges: Array, throws: Sequence[Throw], sun: Array) -> Array:
    """Share of the light that several shadows take together from cells in which their edges meet (cell,)."""
    points = disc_points(sun, max(throw.cast for throw in throws))
    pieces = [piece for s in shift(points) for piece in _pieces(throws, s, edges)]
    return _taken(edges, pieces, blur(sun) / np.sqrt(len(points))) / len(points)


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
    order = np.lexsort((points[:, 1], points[:, 0])).tolist()
    flat = points.tolist()
    return np.array(_chain(flat, order) + _chain(flat, order[::-1]))


def _chain(points: Sequence[Sequence[float]], order: Sequence[int]) -> list[int]:
    """One side of a convex outline, from the first of the points to the last, which is left out."""
    kept: list[int] = []
    for k in order:
        x, y = points[k]
        while len(kept) > 1:
            (ax, ay), (bx, by) = points[kept[-2]], points[kept[-1]]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                break
            kept.pop()
        kept.append(k)
    return kept[:-1]


def _left_turn(a: Sequence[float], b: Sequence[float], c: Sequence[float]) -> float:
    """Twice the area of a triangle, positive where its corners go anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _pieces(throws: Sequence[Throw], shifted: Array, edges: Array) -> list[Piece]:
    """Shadows of one point of the sun near some cells, as convex pieces that do not overlap; darker ones go first."""
    left, back = edges[:, 0].min() - AROUND, edges[:, 2].min() - AROUND
    right, front = edges[:, 1].max() + AROUND, edges[:, 3].max() + AROUND
    window = [(left, back), (right, back), (right, front), (left, front)]
    pieces: list[Piece] = []
    done: list[Outline] = []
    for throw in throws:
        shadow = _common([tuple(corner) for corner in throw.at(shifted).tolist()], window)
        rest = [shadow] if len(shadow) >= 3 else []
        for other in done:
            rest = [part for whole in rest for part in (_without(whole, other) if _near(whole, other) else [whole])]
        pieces += [Piece(np.array(part), 1 - throw.solid.lets_through, throw.cast) for part in rest]
        done += [shadow] if len(shadow) >= 3 else []
    return pieces


def _near(one: Outline, other: Outline) -> bool:
    """Whether the boxes around two outlines overlap."""
    (a, b), (c, d) = zip(*one, strict=True), zip(*other, strict=True)
    return min(a) < max(c) and min(c) < max(a) and min(b) < max(d) and min(d) < max(b)


def _common(part: Outline, other: Outline) -> Outline:
    """What two convex outlines have in common."""
    for a, b in zip(other, other[1:] + other[:1], strict=True):
        part = _half(part, [_left_turn(a, b, corner) for corner in part])
    return part


def _without(part: Outline, other: Outline) -> list[Outline]:
    """What is left of a convex outline outside another one, in convex pieces."""
    outside = []
    for a, b in zip(other, other[1:] + other[:1], strict=True):
        depth = [_left_turn(a, b, corner) for corner in part]
        if min(depth) < 0:
            piece = _half(part, [-d for d in depth])
            outside += [piece] if _area(piece) > SLIVER else []
            part = _half(part, depth)
        if len(part) < 3:
            break
    return outside


def _half(part: Outline, depth: Sequence[float]) -> Outline:
    """The part of a convex outline where the depth of its corners is positive."""
    kept = []
    for k, (b, db) in enumerate(zip(part, depth, strict=True)):
        a, da = part[k - 1], depth[k - 1]
        if da * db < 0:
            share = da / (da - db)
            kept.append((a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share))
        if db >= 0:
            kept.append(b)
    return kept if len(kept) >= 3 else []


def _area(corners: Outline) -> float:
    """Area of an outline. [m²]"""
    after = corners[1:] + corners[:1]
    return abs(sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(corners, after, strict=True))) / 2


def _taken(edges: Array, pieces: Sequence[Piece], width: Array | None) -> Array:
    """Share of each cell that pieces take, added up (cell,); a width blurs their edges."""
    taken = np.zeros(len(edges))
    for cast in {piece.cast for piece in pieces}:
        alike = [piece for piece in pieces if piece.cast == cast]
        start = np.concatenate([piece.corners for piece in alike])
        end = np.concatenate([_after(piece.corners) for piece in alike])
        takes = np.repeat([piece.takes for piece in alike], [len(piece.corners) for piece in alike])
        cells = edges if width is None else _widened(edges, width * cast)
        size = (cells[:, 1] - cells[:, 0]) * (cells[:, 3] - cells[:, 2])
        taken += _below(cells, start, end) @ takes / size
    return taken


def _widened(cells: Array, width: Array) -> Array:
    """Cells widened so that a sharp edge counts as one blurred over a disc of this half width, shape (cell, 4). [m]

    Notes
    -----
    A uniform disc of half width w has the variance w²/4, a strip of width c has c²/12; c becomes the root of c² + 3 w².
    """
    size = cells[:, [1, 3]] - cells[:, [0, 2]]
    add = (np.sqrt(size**2 + 3 * width**2) - size) / 2
    return cells + np.stack([-add[:, 0], add[:, 0], -add[:, 1], add[:, 1]], axis=1)


def area_inside(edges: Array, corners: Array) -> Array:
    """Area of an anticlockwise outline inside every cell, shape (cell,). [m²]

    Examples
    --------
    >>> area_inside(np.array([[0.0, 1.0, 0.0, 1.0]]), np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]])).tolist()
    [1.0]
    """
    return _below(edges, corners, _after(corners)).sum(axis=1)


def _after(corners: Array) -> Array:
    """The corner that follows each one."""
    return np.concatenate([corners[1:], corners[:1]])


def _below(cells: Array, start: Array, end: Array) -> Array:
    """Area of each cell below each edge of an outline, negative where the edge runs to the right (cell, edge).

    Notes
    -----
    Green's theorem: the area inside an outline is the sum over its edges of the area below, and the height below an
    edge is cut off at the cell's back and front, of which the integral is a parabola.
    """
    left, right, back, front = (side[:, None] for side in cells.T)
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
