"""Measured days that come with the kit, minute by minute; their origin and licence stand in their file."""

from __future__ import annotations

from functools import lru_cache

from vanpower.files.resources import data_folder
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import sin_elevation, sun_at

MEASURED = {"graz": "graz_1min_days.csv"}
# files of measured days by name
GRAZ = (47.0472, 15.4364)
# degrees north and east; from the file's origin
GRAZ_M = 344.0
# [m] height over the sea
TILTED = "gti_30s"
# column of the light on a plane tilted 30 degrees to the south, which serves the tests


@lru_cache(maxsize=1)
def measured_days(name: str) -> WeatherSeries:
    """All measured days of one name, by UTC; diffuse light is what the sun's own leaves of the total.

    Examples
    --------
    >>> minutes = measured_days("graz")
    >>> minutes.days, minutes.position, minutes.notes[0][:24]
    (7, (47.0472, 15.4364), 'measured at Graz in 2017')
    """
    import pandas as pd

    table = pd.read_csv(data_folder() / MEASURED[name], comment="#", parse_dates=["time_utc"]).set_index("time_utc")
    table.index = table.index.tz_localize("UTC")
    table[["ghi", "dni", TILTED]] = table[["ghi", "dni", TILTED]].clip(lower=0.0)
    sun = sun_at(table.index + pd.Timedelta(seconds=30), GRAZ, GRAZ_M)
    table["dhi"] = (table["ghi"] - table["dni"] * sin_elevation(sun)).clip(lower=0.0)
    note = "measured at Graz in 2017 by SOLID Solar Energy Systems GmbH, CC BY-SA 4.0; times are UTC"
    return WeatherSeries(table, "Graz (measured)", 0.0, GRAZ, GRAZ_M, (note,))
