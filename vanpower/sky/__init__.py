"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.sky.days import DAY_SHARE, Day, find_day, stamp
from vanpower.sky.files import COLUMNS, TYPICAL_YEARS, WIND, own_file, typical_year
from vanpower.sky.planes import MOUNTS, cell_temperature, plane_light
from vanpower.sky.rows import MOST_ROWS, WeatherRows, keep, kept, rows_of

__all__ = [
    "COLUMNS",
    "DAY_SHARE",
    "MOST_ROWS",
    "MOUNTS",
    "TYPICAL_YEARS",
    "WIND",
    "Day",
    "WeatherRows",
    "cell_temperature",
    "find_day",
    "keep",
    "kept",
    "own_file",
    "plane_light",
    "rows_of",
    "stamp",
    "typical_year",
]
