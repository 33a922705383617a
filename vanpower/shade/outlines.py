"""Shadows of solids on the plane of the glass, and the share of every cell they leave lit.

Outlines are exact: a solid's shadow is the convex outline of its shifted corners, shadows are cut into pieces that do
not overlap, and the area of a piece inside a cell is a closed form. The sun's disc is taken as 1 to 49 points, each
with its share of the disc as a blur.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.shade.rims import outline, rims_of
from vanpower.shade.solids import Solid
from vanpower.shade.suns import blur, disc_points, rings_of, shift

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
MOMENTS, BLOCK = 96, 16_000
# moments worked on at a time, which bounds the memory, and numbers, which stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Piece:
    """A convex piece of shadow: outline (corner, 2) [m], share of light it takes, how far its edge is cast [m].

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [0.3, 0.0], [0.0, 0.3]])
    >>> Piece(corners, takes=0.8, cast=2.5).takes  # from behind a tree that lets a fifth through
    0.8
    """

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
    Where shadows overlap, light must pass both. Where edges cast from nearer than `FAR` meet in one cell, their
    overlap is found exactly; a farther edge is so soft that its share of a cell is taken as even.

    Examples
    --------
    >>> from vanpower.rig import Fixture, RoofPlan
    >>> from vanpower.shade import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, RoofPlan(wide_m=1.8, long_m=4.0))
    >>> edges = np.array([[1.0, 1.2, 0.4, 0.6], [1.3, 1.5, 0.4, 0.6], [1.6, 1.8, 0.4, 0.6]])
    >>> sun = np.array([[-1.0, 0.0, 1.0]]) / np.sqrt(2.0)  # 45 degrees high at the left
    >>> lit_share(edges, [solid], sun).round(2).tolist()
    [[0.0, 0.5, 1.0]]
    """
    up = np.nonzero(suns[:, 2] > 0)[0]
    lit = np.zeros((len(suns), len(edges)))
    lit[up] = 1.0
    if not solids:
        return lit
    order = sorted(solids, key=lambda solid: solid.lets_through)
    for first in range(0, len(up), MOMENTS):
        block = up[first : first + MOMENTS]
        lit[block] = _lit_now(edges, order, suns[block])
    return lit


def shadows(solids: Sequence[Solid], sun: Array) -> list[Array]:
    """Outlines of the shadows on the plane of the glass, shape (corner, 2) each. [m]

    Examples
    --------
    >>> from vanpower.rig import Fixture, RoofPlan
    >>> from vanpower.shade import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, RoofPlan(wide_m=1.8, long_m=4.0))  # 0.4 m above the glass
    >>> (shadow,) = shadows([solid], np.array([-1.0, 0.0, 1.0]) / np.sqrt(2.0))  # sun 45 degrees high at the left
    >>> shadow.round(2).tolist()
    [[0.0, 0.0], [1.4, 0.0], [1.4, 1.0], [0.0, 1.0]]
    """
    cast = [solid.points[:, :2] + solid.points[:, 2:] * shift(sun) for solid in solids]
    return [points[outline(points)] for points in cast]


def _lit_now(edges: Array, solids: Sequence[Solid], suns: Array) -> Array:
    """Lit share of every cell at a few moments (moment, cell); darker solids come first."""
    lit, together = np.ones((2, len(suns), len(edges)))
    edge_met = np.zeros(lit.shape, int)
    casts = [_cast(solid, edges, suns) for solid in solids]
    shares = [_shaded_by(edges, solid, suns, cast) for solid, cast in zip(solids, casts, strict=True)]
    for solid, cast, share in zip(solids, casts, shares, strict=True):
        passes, far = 1 - share * (1 - solid.lets_through), (cast > FAR)[:, None]
        lit *= np.where(far, passes, 1.0)
        together *= np.where(far, 1.0, passes)
        edge_met += _partly(share) & ~far
    for moment in np.nonzero((edge_met > 1).any(axis=1))[0]:
        both = edge_met[moment] > 1
        near = [
            (solid, cast[moment])
            for solid, cast, share in zip(solids, casts, shares, strict=True)
            if cast[moment] <= FAR and share[moment, both].any()
        ]
        together[moment, both] = 1 - _shaded_together(edges[both], near, suns[moment])
    return np.clip(lit * together, 0.0, 1.0)


def _cast(solid: Solid, edges: Array, suns: Array) -> Array:
    """How far a solid's edge is cast at most: from its top, or from where it stands to the last cell (moment,). [m]"""
    x, y = solid.points[:, 0], solid.points[:, 1]
    wide = max(edges[:, 1].max() - x.min(), x.max() - edges[:, 0].min())
    long = max(edges[:, 3].max() - y.min(), y.max() - edges[:, 2].min())
    level = np.hypot(suns[:, 0], suns[:, 1])
    return np.minimum(solid.top / np.maximum(suns[:, 2], 0.005), np.hypot(wide, long) / np.maximum(level, 1e-9))


def _partly(share: Array) -> Array:
    """Whether an edge of the shadow lies in a cell."""
    return (share > 1e-9) & (share < 1 - 1e-9)


def _shaded_by(edges: Array, solid: Solid, suns: Array, cast: Array) -> Array:
    """Share of every cell in one solid's shadow, its soft edge included (moment, cell)."""
    rims, margin = rims_of(solid), blur(suns) * cast[:, None]
    start, end = rims.cast(shift(suns))
    low, high = start.min(axis=1) - margin, start.max(axis=1) + margin
    left, right, back, front = edges.T
    touches = (low[:, :1] < right) & (high[:, :1] > left) & (low[:, 1:] < front) & (high[:, 1:] > back)
    share = np.zeros(touches.shape)
    moment, cell = np.nonzero(touches)
    around = edges[cell] + margin[moment][:, [0, 0, 1, 1]] * np.array([-1, 1, -1, 1])
    found = _covered(around, start, end, moment)
    share[moment, cell] = found
    moment, cell = (index[_partly(found)] for index in (moment, cell))
    rings = rings_of(cast)
    for number in np.unique(rings[moment]):
        these = rings[moment] == number
        points = disc_points(suns, int(number))
        m, c = moment[these], cell[these]
        needed, back_to = np.unique(m, return_inverse=True)
        some = shift(points[needed]).reshape(-1, 2)
        soft = [side.reshape(len(needed), -1, 2) for side in rims.cast(some)]
        width = margin[m] / np.sqrt(points.shape[1])
        share[m, c] = _covered(_widened(edges[c], width), soft[0], soft[1], back_to) / points.shape[1]
    return np.clip(share, 0.0, 1.0)


def _covered(cells: Array, start: Array, end: Array, moment: Array) -> Array:
    """Share of each cell inside the outlines of its moment, added up (cell,); outlines (moment, edge, 2)."""
    area = np.empty(len(cells))
    step = max(1, BLOCK // max(start.shape[1], 1))
    for first in range(0, len(cells), step):
        some = slice(first, first + step)
        area[some] = _below(cells[some], start[moment[some]], end[moment[some]]).sum(axis=1)
    return area / ((cells[:, 1] - cells[:, 0]) * (cells[:, 3] - cells[:, 2]))


def _shaded_together(edges: Array, near: Sequence[tuple[Solid, float]], sun: Array) -> Array:
    """Share of the light that several shadows take together from cells in which their edges meet (cell,)."""
    most = max(cast for _, cast in near)
    points = disc_points(sun[None], int(rings_of(np.array(most))))[0]
    outlines = [(solid, cast, rims_of(solid).outlines(shift(points)).tolist()) for solid, cast in near]
    pieces = [piece for k in range(len(points)) for piece in _pieces([(s, c, o[k]) for s, c, o in outlines], edges)]
    return _taken(edges, pieces, blur(sun) / np.sqrt(len(points))) / len(points)


def _left_turn(a: Sequence[float], b: Sequence[float], c: Sequence[float]) -> float:
    """Twice the area of a triangle, positive where its corners go anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _pieces(throws: Sequence[tuple[Solid, float, list[list[float]]]], edges: Array) -> list[Piece]:
    """Shadows of one point of the sun near some cells, as convex pieces that do not overlap; darker ones go first."""
    left, back = edges[:, 0].min() - AROUND, edges[:, 2].min() - AROUND
    right, front = edges[:, 1].max() + AROUND, edges[:, 3].max() + AROUND
    window = [(left, back), (right, back), (right, front), (left, front)]
    pieces: list[Piece] = []
    done: list[Outline] = []
    for solid, cast, corners in throws:
        shadow = _common([(x, y) for x, y in corners], window)
        rest = [shadow] if len(shadow) >= 3 else []
        for other in done:
            rest = [part for whole in rest for part in (_without(whole, other) if _near(whole, other) else [whole])]
        pieces += [Piece(np.array(part), 1 - solid.lets_through, cast) for part in rest]
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
    run = end[..., 0] - start[..., 0]
    slope = np.divide(end[..., 1] - start[..., 1], run, out=np.zeros_like(run), where=run != 0)
    x0, x1 = (np.minimum(np.maximum(x, left), right) for x in (start[..., 0], end[..., 0]))
    foot = start[..., 1] - slope * start[..., 0] - back
    y0, y1 = slope * x0 + foot, slope * x1 + foot
    high = front - back
    in0, in1 = (np.minimum(np.maximum(y, 0.0), high) for y in (y0, y1))
    rise = y1 - y0
    # the integral from below of a height that is cut off at zero and at `high` is in (y - in / 2)
    mean = np.divide(in1 * (y1 - 0.5 * in1) - in0 * (y0 - 0.5 * in0), rise, out=in0, where=np.abs(rise) >= FLAT)
    return (x0 - x1) * mean
