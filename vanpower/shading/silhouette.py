"""The outline of a solid's shadow, for many suns at once.

A face turned to the sun throws a part of the shadow, and no two parts overlap; so the outline runs along the edges
between a face turned to the sun and one turned away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from vanpower.shading.solids import Solid

Array = np.ndarray


@dataclass(frozen=True, eq=False)
class Silhouette:
    """Every edge of a solid with the two faces beside it.

    Parameters
    ----------
    start, end : ndarray (edge, 3)
        Its ends, in the direction in which the first face has it. [m]
    first, second : ndarray (edge,)
        Numbers of the faces beside it; an open side is a face that no sun sees.
    normals : ndarray (face, 3)
        Outward; the last one, of the open side, is zero.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> rims = rims_of(solid_of(box, Roof(wide_m=1.8, long_m=4.0)))
    >>> len(rims.start), rims.cast(np.array([[1.0, 0.0]]))[0].max(axis=1).round(2).tolist()
    (12, [[1.4, 1.0]])
    """

    start: Array
    end: Array
    first: Array
    second: Array
    normals: Array

    def cast(self, shifted: Array) -> tuple[Array, Array]:
        """Start and end of the outline's edges, anticlockwise but in no order, shape (sun, edge, 2) each. [m]

        Parameters
        ----------
        shifted : ndarray (sun, 2)
            How far a shadow moves for each metre of height.

        Notes
        -----
        Outlines with fewer edges than the longest are filled up with edges of no length.
        """
        towards = np.concatenate([-shifted, np.ones((len(shifted), 1))], axis=1)
        lit = (towards @ self.normals.T > 0).astype(np.int8)
        turn = lit[:, self.first] - lit[:, self.second]
        most = int(np.count_nonzero(turn, axis=1).max(initial=0))
        edge = np.argsort(turn == 0, axis=1, kind="stable")[:, :most]
        turn = np.take_along_axis(turn, edge, 1)[..., None]
        a, b = (ends[edge][..., :2] + ends[edge][..., 2:] * shifted[:, None] for ends in (self.start, self.end))
        return np.where(turn > 0, a, b), np.where(turn < 0, a, b)


@lru_cache(maxsize=512)
def rims_of(solid: Solid) -> Silhouette:
    """Edges of a solid; a cover is one face that looks up.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> rims = rims_of(solid_of(box, Roof(wide_m=1.8, long_m=4.0)))
    >>> len(rims.start), len(rims.normals)  # edges of a box; its faces and the open side
    (12, 6)
    """
    faces = solid.faces or (solid.points[outline(solid.points)],)
    normals = [np.cross(face[1] - face[0], face[2] - face[1]) for face in faces]
    number: dict[tuple[tuple[float, ...], tuple[float, ...]], int] = {}
    ends: list[tuple[Array, Array]] = []
    beside: list[list[int]] = []
    for k, face in enumerate(faces):
        names = [tuple(corner) for corner in face.round(9).tolist()]
        for a, b, from_, to in zip(face, np.roll(face, -1, axis=0), names, names[1:] + names[:1], strict=True):
            if (to, from_) in number:
                beside[number[to, from_]][1] = k
            else:
                number[from_, to] = len(ends)
                ends.append((a, b))
                beside.append([k, len(faces)])
    start, end = (np.array(side) for side in zip(*ends, strict=True))
    first, second = np.array(beside).T
    return Silhouette(start, end, first, second, np.array([*normals, np.zeros(3)]))


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
        x, y = points[k][:2]
        while len(kept) > 1:
            (ax, ay), (bx, by) = points[kept[-2]][:2], points[kept[-1]][:2]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                break
            kept.pop()
        kept.append(k)
    return kept[:-1]
