"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.weather.beams import Beams, beams_of
from vanpower.weather.days import SeveralDays, day_of, day_slip, find_day, is_by_name, is_day, stamp, weather_in
from vanpower.weather.measured import MEASURED, measured_days
from vanpower.weather.parked import parked_day
from vanpower.weather.planes import cell_temperature, lagged, plane_light, plane_notes
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import clear_sky, sun_at
from vanpower.weather.sun_paths import uncovered
from vanpower.weather.typical_years import TYPICAL_YEARS, typical_year
from vanpower.weather.upsample import finer
from vanpower.weather.weather_rows import day_in, rows_of

__all__ = [
    "MEASURED",
    "TYPICAL_YEARS",
    "Beams",
    "SeveralDays",
    "WeatherSeries",
    "beams_of",
    "cell_temperature",
    "clear_sky",
    "day_in",
    "day_of",
    "day_slip",
    "find_day",
    "finer",
    "is_by_name",
    "is_day",
    "lagged",
    "measured_days",
    "parked_day",
    "plane_light",
    "plane_notes",
    "rows_of",
    "stamp",
    "sun_at",
    "typical_year",
    "uncovered",
    "weather_in",
]
