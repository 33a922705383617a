"""Synthetic skies for one date: clear, half-sine, overcast, and broken clouds that a seed reproduces."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import MadeSky, Place
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import clear_sky, sin_elevation, sun_at

if TYPE_CHECKING:
    import pandas as pd

TICK_S = 10
# [s] step at which clouds are drawn before they are averaged to rows
SHORT_MIN, LONG_MIN, SHORT_SHARE = 1.6, 20.0, 0.72
# [min] mean lengths of short and long spells of sun or cloud, and how many are short; measured days have medians of 2
# to 3 minutes and tails of a quarter of an hour, which no single exponential gives
SUN_OVER_CLOUD = 1.15
# how much longer spells of sun last than spells of cloud
CLOUD_PASSES = (0.14, 0.46)
# share of the clear sky that reaches the ground under a cloud: 5th and 95th percentile on measured broken days
BRIGHT_EDGE, EDGE_MIN = (0.02, 0.34), 6.0
# share by which a cloud's edge brightens the clear sky, and over how many minutes it fades; set so that ramps and
# bursts come out as measured on 1 July 2017 at Graz
SUNNY = (0.95, 1.12)
# share of the clear sky between clouds: thin cloud dims it, white cloud around brightens it; set likewise
SOFT_S = 80
# [s] over which the edge of a cloud passes; set likewise
BURST_MOST = 1.7
# [x clear sky] no burst goes beyond; measured 1.2 to 1.7, Emck and Richter (2008)
SUN_THROUGH = 0.75
# share of the clear sky from which the sun itself shines through
LEAP_YEAR, PLAIN_YEAR = 2024, 2025
# in which month-day is taken


def made_day(sky: MadeSky, day: str) -> WeatherSeries:
    """The rows of a sky made up, for a date such as "06-21" or "2026-06-21"."""
    date = _date_of(day, sky.kind)
    if sky.kind == "half-sine":
        return _half_sine(sky, date)
    assert sky.place is not None
    times = _times(sky.place, date, sky.step_min)
    middle = times + (times[1] - times[0]) / 2
    position = (sky.place.latitude_deg, sky.place.longitude_deg)
    clear = clear_sky(middle, position, sky.place.altitude_m, sky.turbidity)
    index = {"clear": _clear_index, "overcast": _closed_index, "broken": _broken_index}[sky.kind](sky, times)
    up = sin_elevation(sun_at(middle, position, sky.place.altitude_m))
    ghi = clear["ghi"].to_numpy() * index
    through = np.ones_like(ghi) if sky.kind == "clear" else np.clip((index - 0.3) / (SUN_THROUGH - 0.3), 0.0, 1.0)
    dni = np.minimum(clear["dni"].to_numpy() * through, np.divide(ghi, up, out=np.zeros_like(ghi), where=up > 0))
    dhi = np.maximum(ghi - dni * up, 0.0)
    notes = {"overcast": (f"an even {100 * sky.clearness:.0f} % of the clear sky",), "broken": (BROKEN_NOTE,)}
    return _day(sky, times, {"ghi": ghi, "dni": dni, "dhi": dhi}, notes.get(sky.kind, ()))


BROKEN_NOTE = "clouds drawn by lot, like measured broken days in how fast and how high the light jumps"


def _day(sky: MadeSky, times: pd.DatetimeIndex, light: dict[str, np.ndarray], notes: tuple[str, ...]) -> WeatherSeries:
    """The rows with their air and place."""
    import pandas as pd

    table = pd.DataFrame(light | {"temp_air": sky.temp_air, "wind_speed": sky.wind_speed}, index=times)
    position = None if sky.place is None else (sky.place.latitude_deg, sky.place.longitude_deg)
    name = f"Made {sky.kind} day" + (f" {sky.seed}" if sky.kind == "broken" else "")
    altitude = 0.0 if sky.place is None else sky.place.altitude_m
    return WeatherSeries(
        table, name, sky.step_min / 60, position, altitude, (*notes, f"air at {sky.temp_air:g} °C all day")
    )


def _date_of(day: str, kind: str) -> datetime.date:
    """The date a made sky is for."""
    if kind == "half-sine" and day in ("only", "dull"):
        return datetime.date(PLAIN_YEAR, 6, 21)
    dated = day if len(day) > 5 else f"{LEAP_YEAR if day == '02-29' else PLAIN_YEAR}-{day}"
    try:
        return datetime.date.fromisoformat(dated)
    except ValueError:
        raise ValueError(f"day {day!r} is no date; a made sky needs one such as 12-21 or 2026-12-21.") from None


def _times(place: Place, date: datetime.date, step_min: float) -> pd.DatetimeIndex:
    """Starts of all steps of a date by the clock of the place; 23 or 25 hours where it changes."""
    import pandas as pd

    start, end = (pd.Timestamp(date + datetime.timedelta(days=k), tz=place.time_zone) for k in (0, 1))
    return pd.date_range(start, end, freq=pd.Timedelta(minutes=step_min), inclusive="left")


def _half_sine(sky: MadeSky, date: datetime.date) -> WeatherSeries:
    """Light that rises and falls as half a sine around noon; each row is the mean of its step."""
    import pandas as pd

    count = round(24 * 60 / sky.step_min)
    edges = np.clip((np.linspace(0.0, 24.0, count + 1) - 12.0 + sky.hours / 2) / sky.hours, 0.0, 1.0)
    energy = sky.peak * sky.hours / np.pi * -np.diff(np.cos(np.pi * edges))
    times = pd.date_range(pd.Timestamp(date), periods=count, freq=pd.Timedelta(minutes=sky.step_min))
    return _day(sky, times, {"ghi": energy / (sky.step_min / 60)}, ())


def _clear_index(sky: MadeSky, times: pd.DatetimeIndex) -> np.ndarray:
    """All of the clear sky."""
    return np.ones(len(times))


def _closed_index(sky: MadeSky, times: pd.DatetimeIndex) -> np.ndarray:
    """An even share of the clear sky."""
    return np.full(len(times), sky.clearness)


def _broken_index(sky: MadeSky, times: pd.DatetimeIndex) -> np.ndarray:
    """Share of the clear sky under clouds that come and go, a value a row.

    Notes
    -----
    A telegraph process: spells of sun and of cloud take turns, their lengths drawn from two exponentials. Two states
    for a sky: Morf, Solar Energy 62 (1998) 101-112 (from memory). A cloud lets an even share through; next to a
    cloud the sky is brighter than clear by a share drawn for each edge, which fades over minutes. Left out: any drift
    of cloudiness over the day.
    """
    rng = np.random.default_rng(sky.seed)
    per_row = round(sky.step_min * 60 / TICK_S)
    ticks = len(times) * per_row
    index = np.empty(ticks)
    start, sunny = 0, bool(rng.random() < 0.5)
    before = rng.uniform(*BRIGHT_EDGE)
    while start < ticks:
        mean = SHORT_MIN if rng.random() < SHORT_SHARE else LONG_MIN
        length = 1 + int(rng.exponential(mean) * (SUN_OVER_CLOUD if sunny else 1.0) * 60 / TICK_S)
        after = rng.uniform(*BRIGHT_EDGE)
        spell = (
            _sun(length, before, after, rng.uniform(*SUNNY)) if sunny else np.full(length, rng.uniform(*CLOUD_PASSES))
        )
        index[start : start + length] = spell[: ticks - start]
        start, sunny, before = start + length, not sunny, after
    soft = np.convolve(
        np.pad(index, SOFT_S // TICK_S, mode="edge"), np.ones(SOFT_S // TICK_S) * TICK_S / SOFT_S, "same"
    )
    soft = soft[SOFT_S // TICK_S : -(SOFT_S // TICK_S)]
    return np.minimum(soft, BURST_MOST).reshape(len(times), per_row).mean(axis=1)


def _sun(length: int, before: float, after: float, level: float) -> np.ndarray:
    """A spell of sun between two clouds, brighter towards either."""
    minutes = (np.arange(length) + 0.5) * TICK_S / 60
    return level + np.maximum(before * np.exp(-minutes / EDGE_MIN), after * np.exp(-minutes[::-1] / EDGE_MIN))
