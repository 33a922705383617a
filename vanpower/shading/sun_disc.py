"""The sun in the roof's coordinates: its direction, and points of its disc."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

Array = np.ndarray

DISC_DEG = 0.26667
# [degrees] half of the sun's width; Reda and Andreas, NREL/TP-560-34302, definition of sunrise
LATTICES = {8: 5, 13: 5, 21: 13, 34: 21, 55: 21, 89: 55, 144: 89, 233: 89, 377: 233}
# points that stand for the disc: numbers of Fibonacci, each with another that spreads it evenly; the other is odd, so
# that the points lie alike on both sides of the middle
ENOUGH = (0.15, 0.3, 0.45, 0.6, 0.8, 1.4, 2.8, 5.0)
# half widths of the sun's soft rim, in cells, up to which so many points do: a straight edge in any place and direction
# is right within 0.3 % of a cell, by trying
HEIGHTS = 2001
# at which the share of the disc below a height is tabulated
LOWEST_DEG = 0.3
# [degrees] a sun between the plane of the roof and this is taken to stand at this; it gives next to no beam
LOWEST = float(np.sin(np.radians(LOWEST_DEG)))
# the same as the upward part of its direction


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


def points_for(suns: Array, cast: Array, cell: Array) -> Array:
    """How many points stand for the disc, for an edge that is cast so far (moment,).

    Parameters
    ----------
    suns : ndarray (moment, 3)
    cast : ndarray (moment,)
        Along the ray. [m]
    cell : ndarray (moment,)
        Root of a cell's area. [m]

    Examples
    --------
    >>> high, low = sun_vectors(np.array([45.0, 3.0]), np.array([180.0, 180.0]))
    >>> points_for(np.array([high, low]), np.array([1.0, 5.0]), np.array([0.156, 0.156])).tolist()
    [8, 55]
    """
    # the rim is wider along the sun's way than across; its mean counts
    rim = np.tan(np.radians(DISC_DEG)) * cast / np.sqrt(np.maximum(suns[:, 2], LOWEST))
    return np.array(list(LATTICES))[np.searchsorted(ENOUGH, rim / cell)]


def disc_points(suns: Array, number: int) -> Array:
    """Directions to points spread evenly over the sun's disc, shape (moment, point, 3).

    Parameters
    ----------
    suns : ndarray (moment, 3)
    number : int
        A key of `LATTICES`.

    Notes
    -----
    Hardly two points stand equally high, so that a long rim at low sun is met at as many places as there are points.
    The disc is taken as even; it is in truth a little darker towards its rim.

    Examples
    --------
    >>> points = disc_points(np.array([[0.0, 0.0, 1.0]]), 21)
    >>> points.shape, abs(points.mean(axis=1)).round(9).tolist()  # one moment; evenly about the middle
    ((1, 21, 3), [[0.0, 0.0, 1.0]])
    """
    x, y = np.tan(np.radians(DISC_DEG)) * _lattice(number)
    ahead = _ahead(suns)
    across = np.stack([ahead[:, 1], -ahead[:, 0], np.zeros(len(suns))], axis=1)
    up = np.cross(across, suns)
    return suns[:, None] + x[:, None] * across[:, None] + y[:, None] * up[:, None]


@lru_cache
def _lattice(number: int) -> Array:
    """Points of a disc of radius one, each with the same share of it: across and up (2, point).

    The strips between heights are equal, and last all points are drawn out a little so that they have the disc's
    moments of inertia.
    """
    k = np.arange(number) + 0.5
    high = np.sin(np.linspace(-np.pi / 2, np.pi / 2, HEIGHTS))
    below = 0.5 + (np.arcsin(high) + high * np.sqrt(1 - high**2)) / np.pi
    up = np.interp(k / number, below, high)
    points = np.stack([np.sqrt(1 - up**2) * (2 * (k * LATTICES[number] / number % 1) - 1), up])
    inertia, axes = np.linalg.eigh(points @ points.T / number)
    return axes / (2 * np.sqrt(inertia)) @ axes.T @ points


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
    low = np.maximum(sun[..., 2:], LOWEST)
    return -sun[..., :2] / low


def penumbra_width(suns: Array) -> Array:
    """Half width of the sun's soft rim for each metre along the ray, as right and forward, on its wider side (..., 2).

    Examples
    --------
    >>> penumbra_width(sun_vectors(np.array([30.0]), np.array([0.0]))).round(4).tolist()  # ahead
    [[0.0047, 0.0094]]
    """
    radius = np.tan(np.radians(DISC_DEG))
    lower = np.maximum(suns[..., 2:] - radius, LOWEST)
    high = np.maximum(suns[..., 2:], LOWEST)
    ahead = _ahead(suns)
    return radius * high / lower * np.sqrt(ahead[..., ::-1] ** 2 + (ahead / high) ** 2)
