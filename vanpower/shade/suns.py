"""The sun as the roof sees it: its direction, and points of its disc."""

from __future__ import annotations

import numpy as np

Array = np.ndarray

DISC_DEG = 0.26667
# [degrees] half of the sun's width; Reda and Andreas, NREL/TP-560-34302, definition of sunrise
RINGS = (0.5, 4.0, 15.0)
# [m] an edge cast from no farther than so takes 0, 1, 2 rings of points for the disc, and 3 beyond; each point has its
# share of the disc as blur
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


def rings_of(cast: Array) -> Array:
    """How many rings of points stand for the disc where an edge is cast from so far; more from farther. [m]

    Examples
    --------
    >>> rings_of(np.array([0.2, 1.0, 10.0, 30.0])).tolist()
    [0, 1, 2, 3]
    """
    return np.searchsorted(RINGS, cast)


def disc_points(suns: Array, rings: int) -> Array:
    """Directions to points spread evenly over the sun's disc, shape (moment, point, 3).

    Parameters
    ----------
    suns : ndarray (moment, 3)
    rings : int
        Rings of 8, 16, 24 points around the middle.

    Examples
    --------
    >>> disc_points(np.array([[0.0, 0.0, 1.0]]), 3).shape  # one moment, 1 + 8 + 16 + 24 points
    (1, 49, 3)
    """
    number = np.concatenate([np.zeros(1), *(np.full(8 * ring, ring) for ring in range(1, rings + 1))])
    place = np.concatenate([np.zeros(1), *((np.arange(8 * ring) + 0.5) / (8 * ring) for ring in range(1, rings + 1))])
    # a middle and rings of 8, 16, 24 share the disc out evenly; each ring at its mean square radius, drawn in a little
    # since a point stands for a patch with a width of its own
    radius = np.where(number > 0, np.sqrt(4 * number**2 + 1), 0.0) / (2 * rings + 1)
    radius *= np.tan(np.radians(DISC_DEG)) * np.sqrt(1 - 1 / len(number))
    angle = 2 * np.pi * place
    ahead = _ahead(suns)
    across = np.stack([ahead[:, 1], -ahead[:, 0], np.zeros(len(suns))], axis=1)
    up = np.cross(across, suns)
    around = np.cos(angle)[:, None] * across[:, None] + np.sin(angle)[:, None] * up[:, None]
    return suns[:, None] + radius[:, None] * around


def _ahead(suns: Array) -> Array:
    """Direction to the sun on the flat, of length one; forward for one overhead, shape (..., 2)."""
    length = np.hypot(suns[..., 0], suns[..., 1])[..., None]
    overhead = length < 1e-9
    return np.where(overhead, [0.0, 1.0], suns[..., :2] / np.where(overhead, 1.0, length))


def shift(sun: Array) -> Array:
    """How far a shadow moves for each metre of height: right and forward, shape (..., 2).

    Examples
    --------
    >>> shift(sun_vectors(np.array([45.0]), np.array([270.0]))).round(3).tolist()  # sun at the left
    [[1.0, 0.0]]
    """
    low = np.maximum(sun[..., 2:], np.sin(np.radians(LOWEST_DEG)))
    return -sun[..., :2] / low


def blur(suns: Array) -> Array:
    """Half width of the disc's light across and along, for each metre along the ray, as right and forward (..., 2).

    Examples
    --------
    >>> blur(sun_vectors(np.array([30.0]), np.array([0.0]))).round(4).tolist()  # sun ahead: wider along than across
    [[0.0047, 0.0093]]
    """
    low = np.maximum(suns[..., 2:], np.sin(np.radians(LOWEST_DEG)))
    ahead = _ahead(suns)
    return np.tan(np.radians(DISC_DEG)) * np.sqrt(ahead[..., ::-1] ** 2 + (ahead / low) ** 2)
