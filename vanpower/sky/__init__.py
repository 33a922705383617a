"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.sky.beams import Beams, beams_of
from vanpower.sky.days import DAY_SHARE, day_of, find_day, is_by_name, is_day, stamp
from vanpower.sky.finer import finer
from vanpower.sky.logs import COLUMNS, WIND, own_file
from vanpower.sky.made import made_day
from vanpower.sky.measured import MEASURED, measured_days
from vanpower.sky.parked import parked_day
from vanpower.sky.planes import MOUNTS, cell_temperature, plane_light, plane_notes
from vanpower.sky.rows import MOST_ROWS, WeatherRows, keep, kept, rows_of
from vanpower.sky.sun import clear_sky, sun_at
from vanpower.sky.weather import Day
from vanpower.sky.years import TYPICAL_YEARS, typical_year, year_file

__all__ = [
    "COLUMNS",
    "DAY_SHARE",
    "MEASURED",
    "MOST_ROWS",
    "MOUNTS",
    "TYPICAL_YEARS",
    "WIND",
    "Beams",
    "Day",
    "WeatherRows",
    "beams_of",
    "cell_temperature",
    "clear_sky",
    "day_of",
    "find_day",
    "finer",
    "is_by_name",
    "is_day",
    "keep",
    "kept",
    "made_day",
    "measured_days",
    "own_file",
    "parked_day",
    "plane_light",
    "plane_notes",
    "rows_of",
    "stamp",
    "sun_at",
    "typical_year",
    "year_file",
]
