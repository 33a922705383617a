"""Shadows of solids on the plane of the panels' glass, and the share of every cell that stays lit.

Outlines are exact: a solid's shadow is the convex outline of its shifted corners, outlines are cut where they cross,
and the area beside an outline inside a cell is a closed form. The sun's disc is taken as 8 to 377 points, as many as
its soft rim asks for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from vanpower.engine.compiled import kernels
from vanpower.shading.overlaps import ShadowEdges, strokes
from vanpower.shading.silhouette import outline, rims_of
from vanpower.shading.solids import Solid
from vanpower.shading.sun_disc import LOWEST, disc_points, penumbra_width, points_for, shift

Array = np.ndarray

FLAT = 1e-9
# [m] height differences of an edge below which it counts as level
CERTAIN = 1e-9
# share of a cell that is nothing but rounding
MOMENTS, SUNS, BLOCK = 96, 600, 16_000
# moments and points of suns worked on at a time, which bounds the memory, and numbers, which stay in the processor's
# cache


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
    Where shadows overlap, light must pass both; overlaps are exact for each point of the disc. A cell's error stays
    under half a percent of its area, as the docstring of `shading` tells. Of the disc all parts count alike.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))
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
    for first in range(0, len(up), MOMENTS):
        block = up[first : first + MOMENTS]
        lit[block] = _lit_now(edges, solids, suns[block])
    return lit


def shadows(solids: Sequence[Solid], sun: Array) -> list[Array]:
    """Outlines of the shadows on the plane of the glass, shape (corner, 2) each. [m]

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))  # 0.4 m above the glass
    >>> (shadow,) = shadows([solid], np.array([-1.0, 0.0, 1.0]) / np.sqrt(2.0))  # sun 45 degrees high at the left
    >>> shadow.round(2).tolist()
    [[0.0, 0.0], [1.4, 0.0], [1.4, 1.0], [0.0, 1.0]]
    """
    cast = [solid.points[:, :2] + solid.points[:, 2:] * shift(sun) for solid in solids]
    return [points[outline(points)] for points in cast]


def _lit_now(edges: Array, solids: Sequence[Solid], suns: Array) -> Array:
    """Lit share of every cell at a few moments (moment, cell)."""
    lit = np.ones((len(suns), len(edges)))
    points = np.zeros(lit.shape, int)
    partly = np.zeros((len(solids), *lit.shape), bool)
    for solid, crossed in zip(solids, partly, strict=True):
        share, cast = _centred(edges, solid, suns)
        crossed[:] = (share > CERTAIN) & (share < 1 - CERTAIN)
        lit *= np.where(crossed, 1.0, 1 - np.round(share) * (1 - solid.lets_through))
        moment, cell = np.nonzero(crossed)
        needed = points_for(suns[moment], cast[crossed], np.sqrt(_size(edges[cell])))
        points[crossed] = np.maximum(points[crossed], needed)
    moment, cell = np.nonzero((points > 0) & (lit > 0))
    for these in _alike(points[moment, cell], partly[:, moment, cell]):
        m, c = moment[these], cell[these]
        met = [solid for solid, crossed in zip(solids, partly, strict=True) if crossed[m[0], c[0]]]
        lit[m, c] *= 1 - _softly(edges[c], met, suns, m, int(points[m[0], c[0]]))
    return np.clip(lit, 0.0, 1.0)


def _alike(points: Array, partly: Array) -> Iterator[Array]:
    """Numbers of the cells that need as many points and are crossed by the rims of the same solids (solid, cell)."""
    kind = points
    for crossed in partly:
        kind = np.unique(2 * kind + crossed, return_inverse=True)[1]
    order = np.argsort(kind, kind="stable")
    return iter(np.split(order, np.nonzero(np.diff(kind[order]))[0] + 1) if len(order) else ())


def _softly(cells: Array, solids: Sequence[Solid], suns: Array, moment: Array, points: int) -> Array:
    """Share of each cell's light that solids take at its moment, the disc as so many points (cell,)."""
    taken = np.empty(len(cells))
    moments, first = np.unique(moment, return_index=True)
    stop = [*first[1:].tolist(), len(cells)]
    step = max(1, SUNS // points)
    every = points * np.arange(step + 1)
    for begin in range(0, len(moments), step):
        some = moments[begin : begin + step]
        thrown = strokes(solids, shift(disc_points(suns[some], points)).reshape(-1, 2))
        each = [slice(first[begin + k], stop[begin + k]) for k in range(len(some))]
        if loops := kernels():
            whole, bounds = slice(each[0].start, each[-1].stop), np.searchsorted(thrown.sun, every[: len(some) + 1])
            number = np.searchsorted(some, moment[whole])
            area = loops.under_edges(cells[whole], number, bounds, thrown.start, thrown.end, thrown.takes, FLAT)
            taken[whole] = area / _size(cells[whole])
        else:
            for k, these in enumerate(each):
                taken[these] = _taken(cells[these], thrown.of(every[k], every[k + 1]))
    return taken / points


def _size(cells: Array) -> Array:
    """Area of each cell. [m²]"""
    return (cells[:, 1] - cells[:, 0]) * (cells[:, 3] - cells[:, 2])


def _cast(solid: Solid, edges: Array, suns: Array) -> Array:
    """How far a solid's edge is cast at most: from its top, or from its far side to the cell (moment, cell). [m]"""
    x, y = solid.points[:, 0], solid.points[:, 1]
    wide = np.maximum(edges[:, 1] - x.min(), x.max() - edges[:, 0])
    long = np.maximum(edges[:, 3] - y.min(), y.max() - edges[:, 2])
    level = np.maximum(np.hypot(suns[:, 0], suns[:, 1]), 1e-9)
    return np.minimum((solid.top / np.maximum(suns[:, 2], LOWEST))[:, None], np.hypot(wide, long) / level[:, None])


def _centred(edges: Array, solid: Solid, suns: Array) -> tuple[Array, Array]:
    """Share of every cell, widened by the soft rim, in the shadow of the middle of the sun, and how far it is cast.

    Notes
    -----
    Where the share is 0 or 1, so it is for every point of the sun without the widening; (moment, cell) each.
    """
    start, end = rims_of(solid).cast(shift(suns))
    low, high = start.min(axis=1)[:, :, None], start.max(axis=1)[:, :, None]
    cast = _cast(solid, edges, suns)
    across, along = (width[:, None] * cast for width in penumbra_width(suns).T)
    left, right, back, front = edges.T
    touches = (low[:, 0] - across < right) & (high[:, 0] + across > left)
    touches &= (low[:, 1] - along < front) & (high[:, 1] + along > back)
    share = np.zeros(touches.shape)
    moment, cell = np.nonzero(touches)
    wider = np.stack([-across[touches], across[touches], -along[touches], along[touches]], axis=1)
    share[touches] = _covered(edges[cell] + wider, start, end, moment)
    return share, cast


def _covered(cells: Array, start: Array, end: Array, moment: Array) -> Array:
    """Share of each cell inside the outlines of its moment, added up (cell,); outlines (moment, edge, 2)."""
    if loops := kernels():
        edges = start.shape[1]
        bounds = edges * np.arange(len(start) + 1)
        flat = (np.ascontiguousarray(side).reshape(-1, 2) for side in (start, end))
        return loops.under_edges(cells, moment, bounds, *flat, np.ones(len(start) * edges), FLAT) / _size(cells)
    area = np.empty(len(cells))
    step = max(1, BLOCK // max(start.shape[1], 1))
    for first in range(0, len(cells), step):
        some = slice(first, first + step)
        area[some] = _below(cells[some], start[moment[some]], end[moment[some]]).sum(axis=1)
    return area / _size(cells)


def _taken(cells: Array, parts: ShadowEdges) -> Array:
    """Share of each cell's light that is lost, added up over strokes (cell,)."""
    if len(cells) > 1 and len(cells) * len(parts.takes) > BLOCK:
        order = np.argsort(cells[:, 0], kind="stable")
        taken = np.empty(len(cells))
        for some in np.array_split(order, 2):
            taken[some] = _taken(cells[some], parts.under(cells[some]))
        return taken
    return _below(cells, parts.start, parts.end) @ parts.takes / _size(cells)


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
