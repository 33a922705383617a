"""Fixtures as solids: the part above the plane of the glass, as points and flat faces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from vanpower.rig import Fixture, Roof, turned

Array = np.ndarray

SIDES = 24
# flat faces that stand for the round side of a cylinder; its mean width is right, a single one within 0.3 %
LIFTED = {"front": (0.0, 1.0), "back": (0.0, -1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


@dataclass(frozen=True, eq=False)
class Solid:
    """A convex body above the glass, in metres from the roof's back left corner and up from the glass.

    Parameters
    ----------
    name : str
    points : ndarray (point, 3)
        Its corners; flat on the glass for a cover. [m]
    faces : tuple of ndarray (corner, 3)
        Its flat faces, anticlockwise seen from outside; none for a cover. [m]
    lets_through : float
        Share of the light that passes it.

    Examples
    --------
    >>> leaf = np.array([[0.0, 0.0, 0.0], [0.1, 0.0, 0.0], [0.1, 0.1, 0.0]])
    >>> Solid("leaf", leaf, (), lets_through=0.1).top  # lies flat on the glass
    0.0
    """

    name: str
    points: Array
    faces: tuple[Array, ...]
    lets_through: float

    @property
    def top(self) -> float:
        """How high it reaches above the glass. [m]"""
        return float(self.points[:, 2].max())


@lru_cache(maxsize=512)
def solid_of(fixture: Fixture, plan: Roof, heading_deg: float = 0.0) -> Solid | None:
    """The part of a fixture above the plane of the glass, or None where nothing is.

    Parameters
    ----------
    heading_deg : float
        Where the nose points; it moves what stands on the ground. [degrees]

    Examples
    --------
    >>> from vanpower.rig import Fixture, Roof
    >>> box = Fixture(name="box", kind="box", wide_m=1.0, long_m=1.0, high_m=0.45)
    >>> round(solid_of(box, Roof(wide_m=1.8, long_m=4.0)).top, 2)  # glass lies 0.05 m above the skin
    0.4
    >>> solid_of(box, Roof(wide_m=1.8, long_m=4.0, glass_m=0.5)) is None
    True
    """
    if fixture.kind == "cover":
        return Solid(fixture.name, _at(fixture.corners, 0.0), (), float(fixture.lets_through))
    faces = _plate(fixture) if fixture.kind == "plate" else _prism(fixture)
    lift = plan.glass_m + (plan.above_ground_m if fixture.on_ground else 0.0)
    faces = [_moved(face, plan, heading_deg) if fixture.on_ground else face for face in faces]
    kept = [_above(face - np.array([0.0, 0.0, lift])) for face in faces]
    kept = [face for face in kept if len(face) >= 3]
    if not kept:
        return None
    corners = np.unique(np.concatenate(kept).round(9), axis=0)
    return Solid(fixture.name, corners, tuple(kept), float(fixture.lets_through))


def _prism(fixture: Fixture) -> list[Array]:
    """Faces of an upright body: top, bottom and sides."""
    base = _circle(fixture) if fixture.round else fixture.corners
    low, high = _at(base, fixture.under_m), _at(base, fixture.high_m)
    after = np.roll(np.arange(len(base)), -1)
    sides = [np.array([low[k], low[n], high[n], high[k]]) for k, n in enumerate(after)]
    return [high, low[::-1], *sides]


def _plate(fixture: Fixture) -> list[Array]:
    """Both faces of a thin plate that is lifted at one edge about the opposite one."""
    x, y = fixture.middle
    flat = np.array([(a - x, b - y) for a, b in _unturned(fixture)])
    away = np.array(LIFTED[fixture.lifts])
    reach = flat @ away + np.abs(away) @ np.array([fixture.wide_m, fixture.long_m]) / 2
    tilt = np.radians(fixture.tilt_deg)
    flat = flat + ((np.cos(tilt) - 1) * reach)[:, None] * away
    base = [turned((x + a, y + b), (x, y), fixture.turn_deg) for a, b in flat]
    face = np.column_stack([np.array(base), fixture.under_m + np.sin(tilt) * reach])
    return [face, face[::-1]]


def _unturned(fixture: Fixture) -> tuple[tuple[float, float], ...]:
    """Corners of a plate before it is turned."""
    back = [turned(corner, fixture.middle, -fixture.turn_deg) for corner in fixture.corners]
    return tuple(back)


def _circle(fixture: Fixture) -> list[tuple[float, float]]:
    """A circle as a polygon of the same mean width."""
    x, y = fixture.middle
    radius = fixture.wide_m / 2 * np.pi / (SIDES * np.sin(np.pi / SIDES))
    angle = 2 * np.pi * (np.arange(SIDES) + 0.5) / SIDES
    return [(x + radius * np.cos(a), y + radius * np.sin(a)) for a in angle]


def _at(base: list[tuple[float, float]] | tuple[tuple[float, float], ...], height: float) -> Array:
    """An outline at one height."""
    return np.column_stack([np.array(base), np.full(len(base), height)])


def _moved(face: Array, plan: Roof, heading_deg: float) -> Array:
    """From east, north and up from the roof's middle to the roof's own axes."""
    c, s = np.cos(np.radians(heading_deg)), np.sin(np.radians(heading_deg))
    east, north, up = face.T
    return np.column_stack([c * east - s * north + plan.wide_m / 2, s * east + c * north + plan.long_m / 2, up])


def _above(face: Array) -> Array:
    """The part of a flat face above the plane of the glass."""
    kept = []
    for a, b in zip(face, np.roll(face, -1, axis=0), strict=True):
        if a[2] >= 0:
            kept.append(a)
        if (a[2] > 0) != (b[2] > 0) and a[2] * b[2] < 0:
            kept.append(a + (b - a) * a[2] / (a[2] - b[2]))
    part = np.array(kept).reshape(-1, 3)
    return part if len(part) >= 3 and part[:, 2].max() > 0 else np.empty((0, 3))
