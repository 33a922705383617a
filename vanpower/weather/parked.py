"""The day of a parked van: mean sun time at a latitude and date, under a sky between clear and overcast."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import Parked
from vanpower.weather.series import LIGHT_WIND, WeatherSeries
from vanpower.weather.sun import clear_sky, sun_at

if TYPE_CHECKING:
    import pandas as pd

YEAR = 2001
# a year that is no leap year; the sun stands within 0.2 degrees of it in any other
TURBIDITY = 3.0
# Linke turbidity of a clear sky in the country; common practice, no source
LOWEST_SUN = 89.5
# [degrees] from the zenith; a lower sun counts as none
OVERCAST = 0.25
# light under a closed cloud cover over that of a clear sky: 1 - 0.75, Kasten and Czeplak, Solar Energy 24 (1980) 177,
# as public programs quote it


def parked_day(parked: Parked) -> WeatherSeries:
    """The light and air of a parked van's day, in mean sun time; its daylight, or the one hour asked for.

    Examples
    --------
    >>> for share in (1.0, 0.0):
    ...     day = parked_day(Parked(latitude_deg=47, day="12-21", clearness=share))
    ...     print(day.place, round(day.energy_wh_m2, -1))
    47° N, clear sky 1410.0
    47° N, overcast 350.0
    """
    return _made(parked.latitude_deg, parked.day, parked.hour, parked.step_min, parked.clearness, parked.temp_air)


@lru_cache(maxsize=64)
def _made(
    latitude: float, date: str, hour: float | None, step_min: float, clearness: float, temp_air: float
) -> WeatherSeries:
    """`parked_day`, kept."""
    import pandas as pd

    clear, sun = _clear(latitude, date, hour, step_min)
    ghi, dni, dhi = (clear[name].to_numpy() for name in ("ghi", "dni", "dhi"))
    dni = clearness * dni
    dhi = clearness * dhi + (1 - clearness) * OVERCAST * ghi
    flat = dni * np.maximum(np.cos(np.radians(sun["apparent_zenith"].to_numpy())), 0.0) + dhi
    columns = {"ghi": flat, "dni": dni, "dhi": dhi, "temp_air": temp_air, "wind_speed": LIGHT_WIND}
    table, step_h = pd.DataFrame(columns, index=clear.index), step_min / 60 if hour is None else 1.0
    return WeatherSeries(table, _place(latitude, clearness, hour), step_h, (latitude, 0.0), sun=sun)


@lru_cache(maxsize=64)
def _clear(latitude: float, date: str, hour: float | None, step_min: float) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Light of the clear sky by the start of each step of daylight, and the sun in its middle; kept for any cloud."""
    import pandas as pd

    try:
        midnight = pd.Timestamp(f"{YEAR}-{date}")
    except ValueError:
        raise ValueError(f"day {date!r} is not in the calendar of a year without a leap day.") from None
    hours = np.arange(0.0, 24.0, step_min / 60) if hour is None else np.array([hour])
    index = midnight + pd.to_timedelta(hours, unit="h").round("s")
    middle = index + pd.Timedelta(hours=step_min / 120 if hour is None else 0.0)
    # on the meridian of Greenwich universal time is mean sun time
    sun = sun_at(middle, (latitude, 0.0))
    up = sun["apparent_zenith"].to_numpy() < LOWEST_SUN
    kept = up if up.any() else np.arange(len(up)) == len(up) // 2
    sun = sun[kept]
    clear = clear_sky(middle[kept], (latitude, 0.0), turbidity=TURBIDITY, sun=sun)
    return clear.mul(up[kept], axis=0).set_index(index[kept]), sun


def _place(latitude: float, clearness: float, hour: float | None) -> str:
    """Where and under which sky, in a few words."""
    sky = (
        "clear sky"
        if clearness >= 0.995
        else "overcast"
        if clearness <= 0.005
        else f"sky {100 * clearness:.0f} % clear"
    )
    at = "" if hour is None else f", {int(hour)}:{round(hour % 1 * 60):02d} sun time"
    return f"{abs(latitude):g}° {'N' if latitude >= 0 else 'S'}, {sky}{at}"
