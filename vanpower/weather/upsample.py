"""Hourly weather interpolated to shorter steps along the clear sky, with the energy of each hour kept."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import clear_sky, sin_elevation, sun_at

if TYPE_CHECKING:
    import pandas as pd

Array = np.ndarray

SUBSTEPS = 4
# how often the clear sky is looked at within a step of the result, for its mean
LEAST_CLEAR = 5.0
# [W/m²] mean of a row below which the clear sky is no guide and the row is spread evenly over the time the sun is up
HIDES = "an hourly file hides cloud edges; finer steps follow the clear sky and do not bring them back"


def finer(day: WeatherSeries, step_h: float) -> WeatherSeries:
    """The same weather at finer steps: every row keeps its energy and the light follows the clear sky within it.

    Parameters
    ----------
    day : WeatherSeries
        With its position.
    step_h : float
        Hours; the old step must hold a whole number of them.

    Notes
    -----
    Each row's share of the clear sky is led in lines from row to row, times the clear sky of Ineichen, then scaled so
    that the row's mean stays what it was, for ghi and dni; dhi is what is left on the flat. Heat and wind are led in
    lines between the middles of rows.

    Examples
    --------
    >>> from vanpower.weather.days import find_day
    >>> hours = find_day("sand-point", "dull")
    >>> quarters = finer(hours, 0.25)
    >>> quarters.step_h, round(hours.energy_wh_m2), round(quarters.energy_wh_m2)
    (0.25, 303, 303)
    """
    import pandas as pd

    count = round(day.step_h / step_h)
    if count < 2 or abs(count * step_h - day.step_h) > 1e-6:
        raise ValueError(
            f"steps of {60 * step_h:g} minutes are asked for, and {day.place} has {60 * day.step_h:g}; a whole "
            "number of the finer must fit into the coarser."
        )
    if day.position is None:
        raise ValueError(f"{day.place} has no place, and without it there is no clear sky to follow; give it one.")
    table = day.table
    index = pd.DatetimeIndex(np.repeat(table.index, count)) + pd.to_timedelta(
        np.tile(np.arange(count), len(table)) * step_h, unit="h"
    )
    clear = _clear_means(index, step_h, day)
    made = {
        name: _followed(table[name].to_numpy(float), clear[name], count) for name in ("ghi", "dni") if name in table
    }
    if "dhi" in table and "dni" in made:
        made["dhi"] = np.clip(made["ghi"] - made["dni"] * clear["up"], 0.0, made["ghi"])
    elif "dhi" in table:
        made["dhi"] = _followed(table["dhi"].to_numpy(float), clear["ghi"], count)
    for name in ("temp_air", "wind_speed", *(["temp_battery"] if "temp_battery" in table else [])):
        made[name] = _led(table[name].to_numpy(float), count)
    return replace(day, table=pd.DataFrame(made, index=index), step_h=step_h).noted(HIDES)


def _clear_means(index: pd.DatetimeIndex, step_h: float, day: WeatherSeries) -> dict[str, Array]:
    """Mean clear sky of every fine step, and the sine of the sun's height in its middle."""
    import pandas as pd

    assert day.position is not None
    offsets = (np.arange(SUBSTEPS) + 0.5) / SUBSTEPS * step_h
    total = {name: np.zeros(len(index)) for name in ("ghi", "dni")}
    for offset in offsets:
        clear = clear_sky(index + pd.Timedelta(hours=float(offset)), day.position, day.altitude_m)
        for name in total:
            total[name] += clear[name].to_numpy() / SUBSTEPS
    sun = sun_at(index + pd.Timedelta(hours=step_h / 2), day.position, day.altitude_m)
    return total | {"up": sin_elevation(sun)}


def _followed(values: Array, clear: Array, count: int) -> Array:
    """Values (row,) at finer steps along a clear sky (fine step,), the mean of every row kept."""
    blocks = clear.reshape(-1, count)
    mean = blocks.mean(axis=1)
    share = np.where(mean > LEAST_CLEAR, values / np.maximum(mean, LEAST_CLEAR), 1.0)
    shape = _led(share, count).reshape(-1, count) * blocks
    got = shape.mean(axis=1)
    flat = np.where(got > 0, values / np.where(got > 0, got, 1.0), 0.0)[:, None]
    return np.where(got[:, None] > 0, shape * flat, values[:, None]).reshape(-1)


def _led(values: Array, count: int) -> Array:
    """Values (row,) led in lines between the middles of their rows."""
    middle = np.arange(len(values)) + 0.5
    return np.interp((np.arange(len(values) * count) + 0.5) / count, middle, values)
