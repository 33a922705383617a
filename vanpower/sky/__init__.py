"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.sky.clear import clear_sky
from vanpower.sky.days import DAY_SHARE, Day, find_day, stamp
from vanpower.sky.files import COLUMNS, TYPICAL_YEARS, WIND, own_file, typical_year
from vanpower.sky.planes import MOUNTS, cell_temperature, plane_light

__all__ = [
    "COLUMNS",
    "DAY_SHARE",
    "MOUNTS",
    "TYPICAL_YEARS",
    "WIND",
    "Day",
    "cell_temperature",
    "clear_sky",
    "find_day",
    "own_file",
    "plane_light",
    "stamp",
    "typical_year",
]
