"""Skies of other places, from dawn to dusk, and the sun and air of a clear day at a latitude.

A bank of days says how dull, mixed and clear days come about, hour by hour; a watched van is never held against the sky
of one place alone. What a typical year cannot show, the brightest moment between clouds, is put on top three times:
from rows that are means to moments. Left out: the shading of the ground around, and snow.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from vanpower.files.resources import data_folder
from vanpower.rig import Panel
from vanpower.weather.planes import cell_temperature
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import clear_sky, haze_of, sun_at

Array = np.ndarray

BANK = "sky_bank.csv"
# made by tests/benchmarks/sky_bank.py
EDGE, EDGE_MOST, CLOUD = 1.10, 1.30, 0.25
# share of the clear sky between clouds, the most of a moment (1.2 to 1.7, Emck and Richter 2008), and under a cloud
STYLES = (0.0, 0.2, 0.45, 1.0)
# how much of the way from the mean to the brightest moment a highest value goes: none, of hours, of quarter hours, of
# minutes; measured at a fixed array (serf_east, data of pvanalytics) 0.2 and 0.4 to 0.5, and at Graz 0.95 and above
SPLIT = ((0.0, 0.35, 0.6, 0.85, 1.0, 1.3), (0.98, 0.95, 0.7, 0.35, 0.15, 0.12))
# share of the clear sky, and how much of that light does not come straight from the sun; shaped as Erbs, Klein and
# Duffie (1982) have it
KINDS = (0.3, 0.6, 0.85)
# of a clear day's light, by which days are dull, mixed, fair and clear; no source
AIR = (30.0, 0.0075, 0.0055, 14.0)
# [°C] air of a fair day in the yearly mean at the equator, its fall with the square of the latitude, the yearly swing,
# and the most of it; from memory, good to some 6 K
WARMEST, DAY_SWING = 200, 4.0
# day of the year, and [K] from noon to dawn and to the afternoon; no source
ALBEDO = 0.2
# of the ground; common practice


@dataclass(frozen=True, eq=False)
class SkyBank:
    """Days of other places, in equal parts of the daylight.

    Parameters
    ----------
    share : ndarray (day, part)
        Of the clear sky's light.
    peak : ndarray (style, day, part)
        Its brightest moment, from rows that are means to rows that are moments.

    Examples
    --------
    >>> sky_bank().share.shape[1], sky_bank().peak.shape[0]
    (16, 4)
    >>> len(sky_bank("miami").share) < len(sky_bank().share)
    True
    """

    share: Array
    peak: Array


@lru_cache(maxsize=8)
def sky_bank(without: str = "") -> SkyBank:
    """The bank; without the days of one place, for who is tested there."""
    with (data_folder() / BANK).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    share = np.array([[float(row[name]) for name in row if name[0] == "s" and name[1:].isdigit()]
                      for row in rows if row["place"] != without])  # fmt: skip
    return SkyBank(share, np.stack([_brightest(share, style) for style in STYLES]))


def _brightest(share: Array, style: float) -> Array:
    """Brightest moment of each part of a day: the more clouds come and go in it, the farther above its mean."""
    sunny = np.clip((share - CLOUD) / (EDGE - CLOUD), 0.0, 1.0)
    top = np.where(sunny > 0.03, EDGE + (EDGE_MOST - EDGE) * 4.0 * sunny * (1.0 - sunny), 1.2 * share)
    top = np.where(share > 0.97, np.maximum(share, 1.03), top)
    return share + style * np.maximum(top - share, 0.0)


@dataclass(frozen=True, eq=False)
class ClearDay:
    """Sun and air of a clear day, in equal parts of the daylight; arrays (part,), a beam of many headings (day, part).

    Parameters
    ----------
    hour : ndarray
        By the sun, noon is 12. [h]
    part_h : float
        Length of a part. [h]
    light : ndarray
        On the flat. [W/m²]
    beam, sky, ground : ndarray
        What a panel's plane gets of the sun's own light, of the sky's and of the ground's, as shares of it on the flat.
    temp_air : ndarray
        [°C]
    rise : float
        Of cells over the air in 1000 W/m². [K]

    Notes
    -----
    The sky is taken as even on a tilted plane: Liu and Jordan (1960).
    """

    hour: Array
    part_h: float
    light: Array
    beam: Array
    sky: float
    ground: float
    temp_air: Array
    rise: float

    @property
    def daylight_h(self) -> float:
        """From dawn to dusk. [h]"""
        return self.part_h * len(self.hour)

    def coarser(self, count: int) -> ClearDay:
        """The same in longer parts, each of so many, an odd number: what is true in their middles."""
        middle = slice(count // 2, None, count)
        hour, light, beam, air = (each[..., middle] for each in (self.hour, self.light, self.beam, self.temp_air))
        return ClearDay(hour, count * self.part_h, light, beam, self.sky, self.ground, air, self.rise)

    def on_plane(self, share: Array) -> Array:
        """Light on the plane for shares of the clear sky's light, (..., part). [W/m²]"""
        flat, spread = self.light * share, spread_of(share)
        return flat * ((1.0 - spread) * self.beam + spread * self.sky + self.ground)


def spread_of(share: Array) -> Array:
    """How much of the light comes from all of the sky, by the share of the clear sky's light."""
    return np.interp(share, *SPLIT)


def clear_day(
    latitude: float, number: int, panel: Panel, heading: float, parts: int, longitude: float | None = None
) -> ClearDay:
    """A clear day at a place, by the number of the day in the year.

    Parameters
    ----------
    latitude : float
        [degrees]
    number : int
        Of the day, 1 to 365.
    panel : Panel
        Whose plane and mount count.
    heading : float
        Where the van's nose points. [degrees]
    parts : int
        Of the daylight.
    longitude : float, optional
        For the haze of the place. [degrees]

    Examples
    --------
    >>> from vanpower import example
    >>> june = clear_day(47.0, 172, example("bookmobile").panels[0], 0.0, 16)
    >>> round(june.daylight_h, 1), round(float(june.light.max()), -1)
    (15.9, 900.0)
    """
    return clear_days(latitude, [number], panel, [heading], parts, longitude)[0]


def clear_days(
    latitude: float, numbers: Sequence[int], panel: Panel, headings: Sequence[float], parts: int,
    longitude: float | None = None,
) -> list[ClearDay]:  # fmt: skip
    """Clear days at one place, as `clear_day` gives each; the sun of many takes hardly longer than that of one."""
    import pandas as pd

    number = np.array(numbers)[:, None]
    hour, part_h = _daylight(latitude, number, parts)
    midnight = pd.Timestamp("2025-01-01") + pd.to_timedelta(np.repeat(number - 1, parts), unit="D")
    # by the sun at the place: noon there is 12 by universal time on the meridian of Greenwich, but for a quarter hour
    times = pd.DatetimeIndex(midnight + pd.to_timedelta(hour.ravel(), unit="h")).round("s")
    sun = sun_at(times, (latitude, 0.0))
    haze = np.interp(number, 30.4 * np.arange(1, 13) - 15.0, haze_of(round(latitude), longitude), period=365.0)
    ghi = clear_sky(times, (latitude, 0.0), turbidity=np.repeat(haze, parts), sun=sun)["ghi"].to_numpy()
    high, azimuth = (np.radians(sun[name].to_numpy()).reshape(hour.shape) for name in ("elevation", "azimuth"))
    tilt = np.radians(panel.tilt_deg)
    facing = azimuth - np.radians(panel.azimuth_deg + np.array(headings)[:, None])
    met = np.cos(tilt) * np.sin(high) + np.sin(tilt) * np.cos(high) * np.cos(facing)
    beam = np.clip(met / np.maximum(np.sin(high), 0.05), 0.0, 6.0)
    plane = float(0.5 + 0.5 * np.cos(tilt)), float(ALBEDO * (0.5 - 0.5 * np.cos(tilt)))
    air, rise = _air(latitude, number, parts), rise_of(panel)
    each = zip(hour, part_h[:, 0].tolist(), ghi.reshape(hour.shape), beam, air, strict=True)
    return [ClearDay(at, long, light, of_sun, *plane, of_air, rise) for at, long, light, of_sun, of_air in each]


def facing_many_ways(each: Sequence[ClearDay], count: int) -> ClearDay:
    """Clear days that differ by the heading alone as one, whose beam is that of so many days, heading after heading."""
    first, *more = each
    beams = np.stack([day.beam for day in each])
    return replace(first, beam=beams[np.arange(count) % len(each)]) if more else first


def _daylight(latitude: float, number: Array, parts: int) -> tuple[Array, Array]:
    """Middles of the parts of the daylight by the sun (day, part), and their length (day, 1). [h]

    Notes
    -----
    Cooper (1969) for the sun's height over the equator; the sun down to 0.8 degrees below the horizon is up.
    """
    tilt = np.radians(23.45) * np.sin(2 * np.pi * (284 + number) / 365)
    at = np.radians(latitude)
    cosine = (np.sin(np.radians(-0.8)) - np.sin(at) * np.sin(tilt)) / np.maximum(np.cos(at) * np.cos(tilt), 1e-9)
    half = 12.0 / np.pi * np.arccos(np.clip(cosine, -0.999, 0.985))
    return 12.0 - half + (np.arange(parts) + 0.5) / parts * 2.0 * half, 2.0 * half / parts


def _air(latitude: float, number: Array, parts: int) -> Array:
    """Air of a fair day from dawn to dusk, in either hemisphere (day, part). [°C]"""
    base, fall, swing, most = AIR
    north = 1.0 if latitude >= 0 else -1.0
    year = np.cos(2 * np.pi * (number - WARMEST) / 365)
    mean = base - fall * latitude**2 + north * min(swing * latitude**2, most) * year
    return mean + DAY_SWING * np.sin(np.pi / 2 * ((np.arange(parts) + 0.5) / parts * 2.0 - 1.0))


@lru_cache(maxsize=64)
def rise_of(panel: Panel) -> float:
    """Cells over the air in 1000 W/m² and a light wind. [K]"""
    import pandas as pd

    table = pd.DataFrame({"ghi": [1000.0], "temp_air": 0.0, "wind_speed": 1.0}, index=pd.DatetimeIndex(["2025-06-21"]))
    return float(cell_temperature(WeatherSeries(table, "", 1.0, None), panel, np.array([1000.0]))[0])
