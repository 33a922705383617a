"""The sun as the roof sees it: its direction, and points of its disc."""

from __future__ import annotations

import numpy as np

Array = np.ndarray

DISC_DEG = 0.26667
# [degrees] half of the sun's width; Reda and Andreas, NREL/TP-560-34302, definition of sunrise
RINGS = ((0.5, 0), (4.0, 1), (15.0, 2), (np.inf, 3))
# [m] rings of points that stand for the disc where an edge is cast from no farther than so; each point has its share of
# the disc as blur
LOWEST_DEG = 0.3
# [degrees] a sun between the plane of the roof and this is taken to stand at this; it gives next to no beam


def sun_vectors(
    elevation: Array, azimuth: Array, *, heading_deg: float = 0.0, slope_deg: float = 0.0, downhill_deg: float = 180.0
) -> Array:
    """Direction to the sun in the roof's own axes: right, forward, up from the roof; shape (moment, 3).

    Parameters
    ----------
    elevation, azimuth : ndarray (moment,)
        Above the horizon, and clockwise from north. [degrees]
    heading_deg : float
        Where the nose points, clockwise from north.
    slope_deg, downhill_deg : float
        Slope of the pitch and the direction that is downhill, clockwise from north.

    Examples
    --------
    >>> sun_vectors(np.array([30.0]), np.array([90.0]), heading_deg=90.0).round(3).tolist()
    [[0.0, 0.866, 0.5]]
    """
    high, turn = np.radians(elevation), np.radians(np.asarray(azimuth) - heading_deg)
    sun = np.stack([np.cos(high) * np.sin(turn), np.cos(high) * np.cos(turn), np.sin(high)], axis=-1)
    slope, down = np.radians(slope_deg), np.radians(downhill_deg - heading_deg)
    ahead = np.array([np.sin(down), np.cos(down), 0.0])
    along, up = sun @ ahead, sun[..., 2]
    tilted = along * np.cos(slope) - up * np.sin(slope), along * np.sin(slope) + up * np.cos(slope)
    return sun + (tilted[0] - along)[..., None] * ahead + (tilted[1] - up)[..., None] * np.array([0.0, 0.0, 1.0])


def disc_points(sun: Array, cast: float) -> Array:
    """Directions to points spread evenly over the sun's disc, shape (point, 3); more for an edge cast from far. [m]"""
    rings = next(rings for most, rings in RINGS if cast <= most)
    number = np.concatenate([np.zeros(1), *(np.full(8 * ring, ring) for ring in range(1, rings + 1))])
    place = np.concatenate([np.zeros(1), *((np.arange(8 * ring) + 0.5) / (8 * ring) for ring in range(1, rings + 1))])
    # a middle and rings of 8, 16, 24 share the disc out evenly; each ring at its mean square radius, drawn in a little
    # since a point stands for a patch with a width of its own
    radius = np.where(number > 0, np.sqrt(4 * number**2 + 1), 0.0) / (2 * rings + 1)
    radius *= np.tan(np.radians(DISC_DEG)) * np.sqrt(1 - 1 / len(number))
    angle = 2 * np.pi * place
    across = np.array([sun[1], -sun[0], 0.0])
    length = np.hypot(sun[0], sun[1])
    across = across / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    up = np.cross(across, sun)
    return sun + radius[:, None] * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * up)


def shift(sun: Array) -> Array:
    """How far a shadow moves for each metre of height: right and forward, shape (..., 2)."""
    low = np.maximum(sun[..., 2:], np.sin(np.radians(LOWEST_DEG)))
    return -sun[..., :2] / low


def blur(sun: Array) -> Array:
    """Half width of the disc's light across and along, for each metre along the ray, as right and forward (2,)."""
    low = max(float(sun[2]), np.sin(np.radians(LOWEST_DEG)))
    length = np.hypot(sun[0], sun[1])
    ahead = sun[:2] / length if length > 1e-9 else np.array([0.0, 1.0])
    across = np.array([ahead[1], -ahead[0]])
    return np.tan(np.radians(DISC_DEG)) * np.sqrt(across**2 + (ahead / low) ** 2)
