"""The share of the diffuse sky that a point of the glass sees past solids (sky view factor).

Faces count by the closed form for a flat polygon (Lambert's; in this form Baum, Rushmeier and Winget 1989, from
memory). Where solids stand in front of each other, light must pass them all, as the beam must; what the closed forms
take of it more than once is found by sampling directions.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vanpower.engine.curves import blocks
from vanpower.shading.silhouette import rims_of
from vanpower.shading.solids import Solid

Array = np.ndarray

BEARINGS, RINGS = 36, 16
# directions for what two solids hide together: bearings, and rings of equal weight
BESIDE = np.array([1.3e-7, 0.7e-7])
# [m] directions are looked at from this far beside a point: exactly beneath an edge, no bearing would cross it
IN_PLANE = 1e-9
# [m] a point nearer than this to a face's plane does not see it


def lost_view(points: Array, solid: Solid) -> Array:
    """Share of the sky's light that a solid takes from every point of the glass, shape (point,).

    Parameters
    ----------
    points : ndarray (point, 2)
        From the roof's back left corner. [m]
    solid : Solid

    Notes
    -----
    Each face turned to the point takes the sum over its edges of the angle the edge is seen under, times the upward
    part of the unit normal of the plane through point and edge, divided by 2 pi. A point that a body stands on sees
    none of its faces from outside, and nothing of the sky.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))
    >>> lost_view(np.array([[0.5, 0.5], [1.05, 0.5], [2.0, 0.5]]), solid).round(3).tolist()  # under, beside, far
    [1.0, 0.433, 0.019]
    """
    at = np.column_stack([points, np.zeros(len(points))])
    lost, under = np.zeros(len(points)), np.full(len(points), len(solid.faces) > 2)
    for face in solid.faces:
        outward = np.cross(face[1] - face[0], face[2] - face[1])
        seen = (at - face[0]) @ (outward / np.linalg.norm(outward)) > IN_PLANE
        under &= ~seen
        if seen.any():
            lost[seen] += _factor(at[seen], face)
    return (1 - solid.lets_through) * np.where(under, 1.0, lost)


def _factor(at: Array, face: Array) -> Array:
    """Configuration factor from level points to a flat face above them (point,)."""
    to = face[None] - at[:, None]
    after = np.roll(to, -1, axis=1)
    normal = np.cross(to, after)
    length = np.linalg.norm(normal, axis=-1)
    angle = np.arctan2(length, np.sum(to * after, axis=-1))
    up = np.divide(normal[..., 2], length, out=np.zeros_like(length), where=length > 0)
    return np.abs(np.sum(angle * up, axis=1)) / (2 * np.pi)


def seen_share(points: Array, solids: Sequence[Solid]) -> Array:
    """Share of the sky's light that reaches every point of the glass past all solids, shape (point,).

    Parameters
    ----------
    points : ndarray (point, 2)
        From the roof's back left corner. [m]
    solids : sequence of Solid
        Covers are left out; they lie on the points and not between them and the sky.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))
    >>> seen_share(np.array([[1.05, 0.5]]), [solid]).round(3).tolist(), seen_share(np.array([[1.05, 0.5]]), []).tolist()
    ([0.567], [1.0])
    """
    standing = [solid for solid in solids if solid.faces]
    lost = sum((lost_view(points, solid) for solid in standing), np.zeros(len(points)))
    hidden = [hidden_directions(points, solid) for solid in standing]
    return 1 - lost + counted_twice(standing, hidden)


def counted_twice(solids: Sequence[Solid], hidden: Sequence[Array]) -> Array:
    """Share of the sky's light that solids take in sum and that others of them have taken already (point,).

    Parameters
    ----------
    hidden : sequence of ndarray (point, bearing, ring)
        Directions that each solid hides.

    Notes
    -----
    What passes along a direction is the product of what the solids across it let through, in whatever order.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid, at = solid_of(box, Roof(wide_m=1.8, long_m=4.0)), np.array([[1.05, 0.5]])
    >>> hidden = hidden_directions(at, solid)
    >>> counted_twice([solid, solid], [hidden, hidden]).round(2).tolist()  # the same box twice
    [0.43]
    """
    taken = np.zeros(hidden[0].shape if hidden else (0, 0), np.float32)
    twice = np.zeros(taken.shape[:-2])
    for solid, hides in zip(solids, hidden, strict=True):
        again, takes = taken * hides, 1 - solid.lets_through
        twice += takes * np.mean(again, axis=(-2, -1))
        taken += takes * (hides - again)
    return twice


def hidden_directions(points: Array, solid: Solid) -> Array:
    """Which directions of the sky a solid hides from every point, shape (point, bearing, ring).

    Notes
    -----
    Along one bearing a convex solid hides what lies between its lowest and its highest crossing; everything up to the
    zenith where it stands over the point. Rings have equal weight: sin² of the elevation in even steps.

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> from vanpower.shading.solids import solid_of
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> solid = solid_of(box, Roof(wide_m=1.8, long_m=4.0))
    >>> hidden = hidden_directions(np.array([[1.05, 0.5]]), solid)
    >>> hidden.shape, round(float(hidden.mean()), 2)  # `lost_view` has 0.433
    ((1, 36, 16), 0.43)
    """
    parts = [_crossings(points[some], solid) for some in blocks(len(points), BEARINGS * len(rims_of(solid).start))]
    low, high = (np.concatenate([np.empty((0, BEARINGS)), *side]) for side in zip(*parts, strict=True))
    rings = (np.arange(RINGS) + 0.5) / RINGS
    return (rings >= low[..., None]) & (rings <= high[..., None])


def _crossings(points: Array, solid: Solid) -> tuple[Array, Array]:
    """sin² of the lowest and highest elevation of a solid along every bearing (point, bearing); 2 and -1 where none."""
    rims = rims_of(solid)
    start, end = rims.start, rims.end
    bearing = 2 * np.pi * (np.arange(BEARINGS) + 0.5) / BEARINGS
    across, ahead = np.array([-np.sin(bearing), np.cos(bearing)]), np.array([np.cos(bearing), np.sin(bearing)])
    from_start, from_end = (side[None, :, :2] - (points + BESIDE)[:, None] for side in (start, end))
    a, b = from_start @ across, from_end @ across
    crosses = (a > 0) != (b > 0)
    share = np.divide(a, a - b, out=np.zeros_like(a), where=crosses)
    reach = (1 - share) * (from_start @ ahead) + share * (from_end @ ahead)
    height = start[:, 2, None] + share * (end - start)[:, 2, None]
    square = np.divide(height**2, height**2 + reach**2, out=np.zeros_like(reach), where=crosses & (reach != 0))
    crosses &= reach > 0
    low = np.where(crosses, square, 2.0).min(axis=1)
    high = np.where(crosses, square, -1.0).max(axis=1)
    around = np.any(crosses, axis=1).all(axis=1)
    return low, np.where(around[:, None], 1.0, high)
