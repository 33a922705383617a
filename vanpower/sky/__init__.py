"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.sky.beams import Beams, beams_of
from vanpower.sky.days import DAY_SHARE, Day, dated, find_day, stamp
from vanpower.sky.files import COLUMNS, TYPICAL_YEARS, WIND, own_file, typical_year
from vanpower.sky.made import parked_day
from vanpower.sky.planes import MOUNTS, cell_temperature, plane_light

__all__ = [
    "COLUMNS",
    "DAY_SHARE",
    "MOUNTS",
    "TYPICAL_YEARS",
    "WIND",
    "Beams",
    "Day",
    "beams_of",
    "cell_temperature",
    "dated",
    "find_day",
    "own_file",
    "parked_day",
    "plane_light",
    "stamp",
    "typical_year",
]
