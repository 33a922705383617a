"""Coldest dawn and hottest cells of a place: from weather data, a year's plan of several places, or both."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from vanpower.model.conditions import conditions_of
from vanpower.rig import Climate, Days, Panel, Request, Rig, Snapshot
from vanpower.weather.days import day_of, find_day
from vanpower.weather.planes import lagged
from vanpower.weather.series import WeatherSeries

if TYPE_CHECKING:
    import pandas as pd

RARE_COLD = (5.0, 11.0)
# [K] a 20-year low lies so much below the minimum of a typical year; header lines of published weather files
LIGHT_FIRST = 1.0
# [W/m²] from which a row counts as light
ROOM = 5.0
# [K] what the hottest cells of a typical year may be passed by in another one; no source


def first_light(table: pd.DataFrame) -> pd.Series:
    """Air temperature around the dawn of every day: the first lit row and the dark one before it. [°C]

    Examples
    --------
    >>> import pandas as pd
    >>> hours = pd.date_range("2019-12-21 06:00", periods=4, freq="h")
    >>> first_light(pd.DataFrame({"ghi": [0, 0, 40, 200], "temp_air": [-6.0, -7.0, -5.0, 1.0]}, index=hours)).tolist()
    [-7.0, -5.0]
    """
    light = table["ghi"].to_numpy() >= LIGHT_FIRST
    dawn = light & ~np.concatenate([[True], light[:-1]])
    around = dawn | np.concatenate([dawn[1:], [False]])
    return table["temp_air"][around] if around.any() else table["temp_air"]


def coldest_dawn(weather: str) -> Climate:
    """The climate for the cold ceiling of one place, out of a typical year or a person's own file.

    A typical year contains no record low, so the larger of the published differences to a 20-year low is subtracted.
    Where a record low is known, put that into `Climate` instead.

    Parameters
    ----------
    weather : str
        A typical year by name, or the path of a weather file of at least a year.

    Returns
    -------
    Climate
        Its temp_coldest is the air temperature around the coldest dawn, less that difference. [°C]

    Raises
    ------
    ValueError
        For a file that holds less than a year, whose coldest dawn may be missing.

    Examples
    --------
    >>> coldest_dawn("greensboro").temp_coldest
    -27.7
    """
    day = _need_a_year(weather, "coldest", "temp_coldest")
    dawn = float(first_light(day.table).min())
    least, most = RARE_COLD
    rare = f"less {most:g} K for a 20-year low ({least:g} to {most:g} K are published)"
    basis = f"{day.place}: {dawn:.1f} °C at dawn, {rare}"
    return Climate(temp_coldest=float(np.floor(10 * (dawn - most)) / 10), basis=basis)


def planned_for(rig: Rig, request: Request) -> Rig:
    """The rig with the coldest light that is asked for as its coldest dawn, where its own plan is milder.

    What would pass a controller's ceiling in these very days is so refused, whatever frost the rig was planned for.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rig = example("bookmobile")
    >>> cold = planned_for(rig, Days(weather="greensboro", day="all"))
    >>> rig.climate.temp_coldest, cold.climate.temp_coldest, cold.climate.basis
    (-11.0, -16.7, 'coldest dawn of Greensboro (typical year)')
    >>> planned_for(rig, Snapshot(light=800, temp_cell=20)) is rig
    True
    """
    if isinstance(request, Snapshot):
        temp, basis = request.temp_cell, "cells as cold as asked for"
    else:
        day = day_of(request)
        temp, basis = float(first_light(day.table).min()), f"coldest dawn of {day.place}"
    if temp >= rig.climate.temp_coldest:
        return rig
    return rig.with_climate(temp_coldest=float(np.floor(10 * temp) / 10), basis=basis, places=())


def hottest_cells(panels: tuple[Panel, ...], weather: str) -> float:
    """The hottest cells of these panels in a year's weather, with room for a hotter year. [°C]

    Minutes of bursting light do not count as such: a panel takes its time to warm up (`weather.planes.lagged`).

    Parameters
    ----------
    panels : tuple of Panel
    weather : str
        A typical year by name, or the path of a weather file of at least a year.

    Raises
    ------
    ValueError
        For a file that holds less than a year, whose hottest noon may be missing.

    Examples
    --------
    >>> from vanpower import example
    >>> hottest_cells(example("puppet-stage").panels, "sand-point")  # on brackets, an island off Alaska
    63.0
    """
    _need_a_year(weather, "hottest", "temp_cell_hottest")
    return float(np.ceil(hottest_over(panels, Days(weather=weather, day="all")) + ROOM))


def hottest_over(panels: tuple[Panel, ...], request: Days) -> float:
    """The hottest cells of these panels in some days. [°C]

    Examples
    --------
    >>> from vanpower import example
    >>> round(hottest_over(example("puppet-stage").panels, Days(weather="graz", day="all")))
    78
    """
    day, cells = day_of(request), conditions_of(panels, request).temp_cell
    return max(float(lagged(day, of_panel).max()) for of_panel in cells.T)


def _need_a_year(weather: str, what: str, field: str) -> WeatherSeries:
    """The whole of a weather, refused where its extreme may be missing."""
    day = find_day(weather, "all")
    if day.lacks:
        raise ValueError(f"{day.place} holds {day.lacks}; the {what} of a year may be missing. Enter {field}.")
    return day


def climate_over(
    places: Mapping[str, float], *, temp_cell_hottest: float = 70.0, basis: str = "record lows"
) -> Climate:
    """The climate of a year's plan with several places: the coldest of them counts.

    Parameters
    ----------
    places : mapping of str to float
        Coldest dawn of each place. [°C]
    temp_cell_hottest : float
        Hottest cells of the plan. [°C]
    basis : str
        Where the temperatures come from.

    Returns
    -------
    Climate
        For `Rig.with_climate`.

    Raises
    ------
    ValueError
        Without any place.

    Examples
    --------
    >>> climate_over({"coast": -3.0, "pass": -22.0}).temp_coldest
    -22.0
    """
    if not places:
        raise ValueError("places is empty; name at least one place and its coldest dawn.")
    return Climate(
        temp_coldest=min(places.values()),
        temp_cell_hottest=temp_cell_hottest,
        basis=basis,
        places=tuple((name, float(temp)) for name, temp in places.items()),
    )
