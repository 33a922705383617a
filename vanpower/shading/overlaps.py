"""Overlapping shadow outlines cut into segments ("strokes"), with the light that is lost across each.

The light on the glass is even between outlines, so what a cell gets follows from its outlines alone. A stroke is a
part of an outline that lies in the same other shadows from end to end; across it the light falls by what its solid
takes of what those others leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vanpower.shading.silhouette import rims_of
from vanpower.shading.solids import Solid

Array = np.ndarray

TIE = 1e-9
# [m] of two edges on one line, that of the later solid is taken to lie outside by so much
SHORT = 1e-12
# [m, or share of an edge] what is shorter has no length


@dataclass(frozen=True, eq=False)
class ShadowEdges:
    """Parts of the outlines of all shadows, anticlockwise round each shadow.

    Parameters
    ----------
    sun : ndarray (stroke,)
        Number of the sun that throws it.
    start, end : ndarray (stroke, 2)
        Its ends on the glass. [m]
    takes : ndarray (stroke,)
        Share of the beam that is lost across it, from outside to inside.

    Examples
    --------
    >>> ShadowEdges(np.array([0]), np.zeros((1, 2)), np.array([[1.0, 0.0]]), np.array([0.8])).of(0).takes
    array([0.8])
    """

    sun: Array
    start: Array
    end: Array
    takes: Array

    def of(self, first: int, stop: int | None = None) -> ShadowEdges:
        """Those of one sun, or of the suns before another; they come in the order of their suns."""
        stop = first + 1 if stop is None else stop
        some = slice(*np.searchsorted(self.sun, (first, stop)))
        return ShadowEdges(self.sun[some], self.start[some], self.end[some], self.takes[some])

    def under(self, cells: Array) -> ShadowEdges:
        """Those that lie above a part of some cells (cell, 4), along the second axis; others take nothing there."""
        left, right, back = cells[:, 0].min(), cells[:, 1].max(), cells[:, 2].min()
        low, high = np.minimum(self.start[:, 0], self.end[:, 0]), np.maximum(self.start, self.end)
        some = (low < right) & (high[:, 0] > left) & (high[:, 1] > back)
        return ShadowEdges(self.sun[some], self.start[some], self.end[some], self.takes[some])


def strokes(solids: Sequence[Solid], shifted: Array) -> ShadowEdges:
    """Outlines of the shadows of all solids, cut where they cross, for many suns at once.

    Parameters
    ----------
    shifted : ndarray (sun, 2)
        How far a shadow moves for each metre of height.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))
    >>> len(strokes([solid], np.array([[1.0, 0.0]])).takes), len(strokes([solid, solid], np.array([[1.0, 0.0]])).takes)
    (6, 6)
    """
    sides = [_Sides.of(solid, shifted) for solid in solids]
    cut = [_cut(k, sides, [1 - solid.lets_through for solid in solids]) for k in range(len(solids))]
    sun, start, end, takes = (np.concatenate(parts) for parts in zip(*cut, strict=True))
    order = np.argsort(sun, kind="stable")
    return ShadowEdges(sun[order], start[order], end[order], takes[order])


@dataclass(frozen=True, eq=False)
class _Sides:
    """Edges of one solid's shadow (sun, edge, 2), their unit vectors to the left, and whether they have a length."""

    start: Array
    end: Array
    inward: Array
    real: Array

    @classmethod
    def of(cls, solid: Solid, shifted: Array) -> _Sides:
        """The sides of a solid's shadows, moved so far for each metre of height (sun, 2)."""
        start, end = rims_of(solid).cast(shifted)
        along = end - start
        length = np.hypot(along[..., 0], along[..., 1])
        real = length > SHORT
        inward = np.stack([-along[..., 1], along[..., 0]], axis=-1) / np.where(real, length, np.inf)[..., None]
        return cls(start, end, inward, real)

    def few(self, suns: Array) -> _Sides:
        """The same for some of the suns."""
        return _Sides(self.start[suns], self.end[suns], self.inward[suns], self.real[suns])

    def meets(self, other: _Sides) -> Array:
        """The suns whose two shadows have boxes that overlap."""
        (low, high), (from_, to) = self._box, other._box
        return np.nonzero(np.all((low < to) & (from_ < high), axis=0))[0]

    @cached_property
    def _box(self) -> tuple[Array, Array]:
        """Lowest and highest corner of the shadow (2, sun) each."""
        corners = np.ascontiguousarray(self.start.transpose(1, 2, 0))
        return corners.min(axis=0), corners.max(axis=0)


def _cut(k: int, sides: Sequence[_Sides], takes: Sequence[float]) -> tuple[Array, Array, Array, Array]:
    """Strokes of one solid: sun, start, end and what is lost across."""
    mine = sides[k]
    enter: list[Array] = []
    leave: list[Array] = []
    others: list[float] = []
    for j, other in enumerate(sides):
        if j != k:
            suns = mine.meets(other)
            if len(suns):
                for kept, found in zip((enter, leave), _inside(mine.few(suns), other.few(suns), k, j), strict=True):
                    kept.append(np.zeros(mine.start.shape[:2]))
                    kept[-1][suns] = found
                others.append(takes[j])
    if not others:
        sun, edge = np.nonzero(mine.real)
        return sun, mine.start[sun, edge], mine.end[sun, edge], np.full(len(sun), takes[k])
    ends = np.zeros(mine.start.shape[:2])
    cuts = np.sort(np.stack([ends, *enter, *leave, ends + 1], axis=-1), axis=-1)
    middle = (cuts[..., 1:] + cuts[..., :-1]) / 2
    lost = np.full(middle.shape, takes[k])
    for a, b, share in zip(enter, leave, others, strict=True):
        lost *= np.where((a[..., None] < middle) & (middle < b[..., None]), 1 - share, 1.0)
    sun, edge, part = np.nonzero((lost > 0) & (np.diff(cuts, axis=-1) > SHORT) & mine.real[..., None])
    start, along = mine.start[sun, edge], (mine.end - mine.start)[sun, edge]
    first, last = (cuts[sun, edge, part + n][:, None] for n in (0, 1))
    return sun, start + first * along, start + last * along, lost[sun, edge, part]


def _inside(mine: _Sides, other: _Sides, k: int, j: int) -> tuple[Array, Array]:
    """Where along each edge it enters another solid's shadow and leaves it, as shares of the edge (sun, edge) each.

    Notes
    -----
    A shadow is convex, so every edge is cut off by its half planes one by one (Cyrus and Beck, 1978). Equal outlines
    would lie in or out by chance; the later solid's shadow is wider by `TIE`.
    """
    x, y = (other.inward[..., axis].T[:, :, None] for axis in (0, 1))
    offset = x * other.start[..., 0].T[:, :, None] + y * other.start[..., 1].T[:, :, None]
    alike = np.sign(x * mine.inward[..., 0] + y * mine.inward[..., 1])
    outside = offset - TIE * (j + 1 - (k + 1) * alike)
    a, b = (x * end[..., 0] + y * end[..., 1] - outside for end in (mine.start, mine.end))
    starts, ends = a >= 0, b >= 0
    at = np.divide(a, a - b, out=np.where(starts, 1.0, 2.0), where=starts != ends)
    enter = np.where(starts, 0.0, at).max(axis=0)
    leave = np.where(ends, 1.0, at).min(axis=0)
    met = enter < leave
    return np.where(met, enter, 0.0), np.where(met, leave, 0.0)
