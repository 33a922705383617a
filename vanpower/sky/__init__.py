"""Real days: light on each panel's plane and the heat of its cells, hour by hour or minute by minute."""

from __future__ import annotations

from vanpower.sky.beams import Beams, beams_of
from vanpower.sky.days import SeveralDays, day_of, day_slip, find_day, is_by_name, is_day, stamp
from vanpower.sky.finer import finer
from vanpower.sky.measured import MEASURED, measured_days
from vanpower.sky.parked import parked_day
from vanpower.sky.paths import uncovered
from vanpower.sky.planes import cell_temperature, plane_light, plane_notes, slowed
from vanpower.sky.rows import WeatherRows, keep, kept, rows_of
from vanpower.sky.sun import clear_sky, sun_at
from vanpower.sky.weather import Day
from vanpower.sky.years import TYPICAL_YEARS, typical_year

__all__ = [
    "MEASURED",
    "TYPICAL_YEARS",
    "Beams",
    "Day",
    "SeveralDays",
    "WeatherRows",
    "beams_of",
    "cell_temperature",
    "clear_sky",
    "day_of",
    "day_slip",
    "find_day",
    "finer",
    "is_by_name",
    "is_day",
    "keep",
    "kept",
    "measured_days",
    "parked_day",
    "plane_light",
    "plane_notes",
    "rows_of",
    "slowed",
    "stamp",
    "sun_at",
    "typical_year",
    "uncovered",
]
