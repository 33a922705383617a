"""The error of a trial whose light sensor lies in another plane than the panels.

While the sun goes on, such a sensor and the panels do not see the same course of light; little at noon, much in the
morning and evening. Where place and hour are unknown the course of the light itself says about how high the sun stands
and how fast it climbs, and these give its path nearly enough. Left out: walls and trees, a sensor's own cosine error.
"""

from __future__ import annotations

import numpy as np

from vanpower.trials.posterior import Posterior

Array = np.ndarray

OFF_PLANE = ((0.7, 0.85), (4.0, 0.12), (20.0, 0.03))
# [degrees, share] how far a light sensor lies off the panels' plane to either side, one width, and how often; no source
OFF_LOW, LOW = ((4.0, 0.85), (20.0, 0.15)), 0.42
# [degrees, share; sine] the same while the sun stands below 25 degrees, or its light says so: there a tip that nobody
# mentioned costs most, so none is taken for granted; no source
TURN = 2.0 * np.pi / 1440.0
# [1/min] of the earth
COS_LATITUDE, SIN_DECLINATION, COS_PRODUCT = 0.7, 0.25, 0.65
# [-] 45 degrees of latitude, 15 of declination, and their cosines multiplied: the middle of what vans meet; no source
CLEAR, CLEAR_BEND = 1098.0, 0.059
# [W/m², -] light of a clear sky on the flat for the sine of the sun's height, 1098 sin h exp(-0.059 / sin h):
# Haurwitz, Journal of Meteorology 2 (1945) 154, as pvlib has it
UP_LEAST, UP_MOST = 0.12, 0.97
# [-] sine of the sun's height within which its path is reckoned; no source
DULL, BRIGHT = 0.30, 0.90
# [-] light against the brightest at which none of it and all of it comes straight from the sun; no source
BRIGHTEST = 90.0
# [%] of rows below the light that counts as the brightest; no source
FAR = 0.5
# belief in a sensor that lies 20 degrees off, from which it is taken to lie so; no source


def tipped(minutes: Array, light: Array) -> Array:
    """What a sensor tilted by one radian to the east and to the north adds to the rows, as a logarithm (row, 2).

    Examples
    --------
    >>> minutes = np.arange(0.0, 61.0, 20.0)
    >>> low, high = (tipped(minutes, np.linspace(*ends, 4)) for ends in ((200.0, 330.0), (900.0, 920.0)))
    >>> bool(np.ptp(low[:, 0]) > 2 * np.ptp(high[:, 0]))
    True
    """
    east, north, up = _path(minutes, light)
    beam = _straight(light, up)
    return np.column_stack([beam * east / up, beam * north / up])


def _path(minutes: Array, light: Array) -> tuple[Array, Array, Array]:
    """The way to the sun, east, north and up, as the light's course has it (row,)."""
    sines = np.linspace(UP_LEAST, UP_MOST, 100)
    seen = np.interp(light, _clear(sines), sines)
    time = minutes - minutes.mean()
    kept = np.ones(len(time), bool)
    for _ in range(2):
        rise, level = np.polyfit(time[kept], seen[kept], 1)
        kept = seen >= level + rise * time - 1e-9
        if kept.sum() < 3 or np.ptp(time[kept]) < 0.5 * np.ptp(time):
            break
    across = np.clip(rise / TURN, -0.98 * COS_PRODUCT, 0.98 * COS_PRODUCT)
    along = np.sqrt(COS_PRODUCT**2 - across**2)
    turned = TURN * time
    up = np.clip(level + along * (np.cos(turned) - 1) + across * np.sin(turned), UP_LEAST, UP_MOST)
    east = (across * np.cos(turned) - along * np.sin(turned)) / COS_LATITUDE
    north = (SIN_DECLINATION - np.sqrt(1 - COS_LATITUDE**2) * up) / COS_LATITUDE
    return east, north, up


def _clear(up: Array) -> Array:
    """Light of a clear sky on the flat for the sine of the sun's height (row,). [W/m²]"""
    return CLEAR * up * np.exp(-CLEAR_BEND / up)


def _straight(light: Array, up: Array) -> Array:
    """Which share of the light comes straight from the sun, as the light against the brightest has it (row,)."""
    share = light / _clear(up)
    return np.clip((share / np.percentile(share, BRIGHTEST) - DULL) / (BRIGHT - DULL), 0.0, 1.0)


def with_planes(unsure: Array, minutes: Array, light: Array, off_deg: float | None = None) -> tuple[Array, Array]:
    """Causes of doubt with those of the sensor's plane before them, and how wide each may be.

    Parameters
    ----------
    unsure : ndarray (row, cause)
    off_deg : float, optional
        How far the sensor lies off the panels' plane, to a side that is not known. [degrees]

    Examples
    --------
    >>> causes, scales = with_planes(np.zeros((4, 1)), np.arange(4.0), np.full(4, 500.0), off_deg=2.0)
    >>> causes.shape, scales.round(3).tolist()
    ((4, 3), [[0.025, 0.025, 1.0, 1.0]])
    """
    usual = OFF_LOW if float(np.median(_path(minutes, light)[2])) < LOW else OFF_PLANE
    off = np.array(usual if off_deg is None else [(off_deg / np.sqrt(2.0), 1.0)])
    scales = np.ones((len(off), unsure.shape[1] + 3))
    scales[:, :2] = np.radians(off[:, :1])
    scales[:, -1] = off[:, 1]
    return np.column_stack([tipped(minutes, light), unsure]), scales


def lies_apart(belief: Posterior, scales: Array) -> bool:
    """Whether the rows say that the sensor lies in another plane, by watts that move with the sun's share of the light.

    Examples
    --------
    >>> from vanpower.trials.posterior import weighed
    >>> minutes = np.arange(0.0, 60.0, 2.0)
    >>> light = np.where(minutes % 12 < 6, 300.0, 800.0)
    >>> causes, scales = with_planes(np.zeros((30, 0)), minutes, light)
    >>> terms = np.column_stack([minutes > 30, np.ones(30)])
    >>> rows = 0.3 * causes[:, 0] + 0.001 * np.cos(minutes**2)
    >>> lies_apart(weighed(rows, terms, minutes, np.zeros(30), causes, scales=scales), scales)
    True
    """
    far = np.argmax(scales[:, 0])
    return len(scales) > 1 and bool(belief.weight[belief.guess == far].sum() > FAR)
