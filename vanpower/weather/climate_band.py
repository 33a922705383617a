"""Light of a latitude without a weather file: clear, mean, median and dull days, month by month, as a band and no more.

The clear day is that of clear-sky theory. How far the other days stay below it is the shape that daily clearness was
found to have wherever it was measured; it hangs on one number, the month's mean clearness, which differs from coast to
desert and is not known here. So every kind of day is told for a dull climate and for a sunny one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from vanpower.results.result import Shown
from vanpower.results.table import Column, Table
from vanpower.rig import MONTHS, Place
from vanpower.weather.sun import clear_sky, sin_elevation, sun_at

K_LEAST = 0.05
# clearness of the dullest day: Bendt, Collares-Pereira and Rabl 1981, Solar Energy 27, 1-5, as Duffie, Beckman and
# Blair 2020, p. 76, are quoted to have it; a record day may be darker still (De Bilt, 25 November 2005: 0.01)
K_MEANS = (0.25, 0.7)
# mean clearness of a month in a dull and in a sunny climate: the family of curves of Liu and Jordan 1960, Solar Energy
# 4, 1-19, from 27 places between 19 and 55 degrees of latitude, ends at 0.3 and 0.7; below it lie a mean December of
# Belgium, 0.27, and a mean January of Lund, 0.28 (tests/reference/monthly_light.csv)
K_CLOSE = 0.95
# most that a month's mean clearness may be of its clear day's: a mean July of Alice Springs has 0.93 of it (as above)
CLEAN_AIR = 2.0
# Linke turbidity of the clear day; see `sun.clear_sky`
DULL, MEDIAN = 0.05, 0.5
# share of the days with less light, as "dull" and "median" of a day
PARTS = 3
# of a month, of whose middle days a month's light is the mean: within 1 % of all its days up to 56 degrees of latitude,
# within 5 % at 65, where a month's middle day alone may lie 20 % beside
STEP_H = 0.25
# [h]
STEEPEST = 200.0
# of the exponential; beyond it a month's days are all alike
COLUMNS = """\
(kWh/m² a day on the flat; each pair is a dull climate and a sunny one, mean clearness 0.25 and 0.7 where the sky allows
it. A published mean of your own place and month tells where between the two you are.
A band for planning, no weather of a place: mountains, fog and coast make more difference than latitude.)"""
# what stands in the table
PAIRS = ("mean", "median", "dull")
# days of which a dull and a sunny climate are told


@dataclass(frozen=True, eq=False, repr=False)
class ClimateBand(Shown):
    """Clear, mean, median and dull days of a latitude.

    Parameters
    ----------
    latitude_deg : float
    clear, mean, median, dull : ndarray (month, 2)
        Light on the flat of such a day in a dull and in a sunny climate; the clear day is the same in both. [kWh/m²]

    Examples
    --------
    >>> band = climate_band(57.0)
    >>> band.clear[11].round(1).tolist(), band.dull[5].round(1).tolist()
    ([0.5, 0.5], [0.7, 6.8])
    """

    latitude_deg: float
    clear: np.ndarray
    mean: np.ndarray
    median: np.ndarray
    dull: np.ndarray

    def table(self, what: None = None) -> Table:
        """A line a month."""
        columns = (
            Column(name="month", head="kWh/m²", left=True, say=lambda name: name[:3]),
            Column(name="clear", unit="kWh/m²", head="clear", width=6, say="{:.1f}".format),
            *(Column(name="", parts=_parts(what), head=what, width=11, say=_pair) for what in PAIRS),
        )
        return Table(columns, [self._line(month) for month in range(len(MONTHS))], note=COLUMNS)

    def _line(self, month: int) -> tuple[Any, ...]:
        """What stands in the table of one month."""
        pairs = (dict(zip(_parts(what), map(float, getattr(self, what)[month]), strict=True)) for what in PAIRS)
        return MONTHS[month], float(self.clear[month, 0]), *pairs

    def brief(self) -> str:
        """The darkest month."""
        dark = int(self.clear[:, 0].argmin())
        low, high = self.median[dark]
        return f"at {self.latitude_deg:g} degrees a median day in {MONTHS[dark]} has {low:.1f} to {high:.1f} kWh/m²"


@lru_cache(maxsize=8)
def climate_band(latitude_deg: float) -> ClimateBand:
    """Light of a latitude month by month: clear, mean, median and dull days, in a dull and in a sunny climate.

    Parameters
    ----------
    latitude_deg : float
        North counts positive. [degrees]

    Returns
    -------
    ClimateBand

    Notes
    -----
    Clear day: Ineichen and Perez 2002 in clean air. Of the clearness K of the others, the density is taken to go as
    exp(g K) between `K_LEAST` and the clear day's, with g such that the mean comes out (Bendt, Collares-Pereira and
    Rabl 1981, after Liu and Jordan 1960, who found the same curves at all months and places of one mean). Measured
    days are often of two kinds, clear and grey (Ibáñez, Rosell and Beckman 2003), so a median day is the least sure.

    Examples
    --------
    >>> print(climate_band(57.0).text().splitlines()[12])
    Dec        0.5      0.3-0.5      0.2-0.5      0.1-0.5
    """
    Place(latitude_deg=latitude_deg, longitude_deg=0.0)
    months = [_month(latitude_deg, month) for month in range(1, len(MONTHS) + 1)]
    return ClimateBand(latitude_deg, *(np.array(days) for days in zip(*months, strict=True)))


def _month(latitude_deg: float, month: int) -> tuple[tuple[float, float], ...]:
    """Clear, mean, median and dull day of one month, each in both climates. [kWh/m²]"""
    above, clear = _day(latitude_deg, month)
    if clear <= 0.0:
        return ((0.0, 0.0),) * (1 + len(PAIRS))
    most = clear / above
    means = [min(mean, K_CLOSE * most) for mean in K_MEANS]
    days = [means, *([clearness_of(share, mean, most) for mean in means] for share in (MEDIAN, DULL))]
    return (clear, clear), *((above * low, above * high) for low, high in days)


def _day(latitude_deg: float, month: int) -> tuple[float, float]:
    """Light on the flat on a mean day of a month, above the air and under a clear sky. [kWh/m²]"""
    import pandas as pd
    from pvlib.irradiance import get_extra_radiation

    first = pd.Timestamp(f"2001-{month:02d}-01", tz="UTC")
    middles = (first + pd.Timedelta(days=first.days_in_month * (part + 0.5) / PARTS - 0.5) for part in range(PARTS))
    step = pd.Timedelta(hours=STEP_H)
    days = [pd.date_range(day, periods=round(24 / STEP_H), freq=step) for day in middles]
    times = days[0].append(days[1:])
    sun = sun_at(times, (latitude_deg, 0.0))
    above = get_extra_radiation(times.day_of_year.to_numpy()) * sin_elevation(sun)
    clear = clear_sky(times, (latitude_deg, 0.0), turbidity=CLEAN_AIR, sun=sun)["ghi"].to_numpy()
    return float(above.sum()) * STEP_H / 1000.0 / PARTS, float(clear.sum()) * STEP_H / 1000.0 / PARTS


def clearness_of(share: float, mean: float, most: float) -> float:
    """Clearness that a share of a month's days stays below, of which the mean is known and that of a clear day.

    Examples
    --------
    >>> [round(clearness_of(share, 0.5, 0.75), 2) for share in (0.05, 0.5, 0.95)]
    [0.14, 0.54, 0.73]
    """
    steep = _steepness(mean, most)
    if abs(steep) < 1e-6:
        return K_LEAST + share * (most - K_LEAST)
    span = most - K_LEAST
    # the least is taken out of the powers, so that none grows beyond what numbers hold
    return K_LEAST + float(np.log1p(share * np.expm1(steep * span)) / steep)


def _steepness(mean: float, most: float) -> float:
    """The g of exp(g K) by which days spread, so that their mean comes out; by halving."""
    low, high = -STEEPEST, STEEPEST
    for _ in range(80):
        middle = 0.5 * (low + high)
        if _mean(middle, most) < mean:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _mean(steep: float, most: float) -> float:
    """Mean clearness where the density goes as exp(g K)."""
    span = most - K_LEAST
    if abs(steep * span) < 1e-6:
        return K_LEAST + 0.5 * span
    return most - 1.0 / steep + span / np.expm1(steep * span)


def _parts(what: str) -> tuple[str, str]:
    """What a pair of days is called, one by one."""
    return f"{what}, dull climate", f"{what}, sunny climate"


def _pair(ends: dict[str, float]) -> str:
    """A dull and a sunny climate in one cell."""
    return "-".join(f"{light:.1f}" for light in ends.values())
