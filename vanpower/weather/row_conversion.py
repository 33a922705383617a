"""Conversion between weather of a day and the plain rows that a request or a chart's recipe carries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vanpower.rig import WEATHER_RANGES, WeatherRows
from vanpower.weather.series import WeatherSeries

if TYPE_CHECKING:
    import pandas as pd


def day_in(rows: WeatherRows) -> WeatherSeries:
    """Plain rows as any other weather.

    Examples
    --------
    >>> rows = WeatherRows(place="My roof", start="2026-06-21T11:00", seconds=(0, 3600), step_h=1.0,
    ...                    ghi=(600.0, 800.0), temp_air=(19.0, 21.0), wind_speed=(1.0, 1.0))
    >>> day_in(rows).title
    'My roof, 21 Jun, 1400 Wh/m² on the flat'
    """
    return WeatherSeries(rows.table(), rows.place, rows.step_h, rows.position, rows.altitude_m, rows.notes)


def rows_of(day: WeatherSeries) -> WeatherRows:
    """A day as plain rows.

    Examples
    --------
    >>> from vanpower import MadeSky
    >>> from vanpower.weather.days import find_day
    >>> rows = rows_of(find_day(MadeSky(kind="half-sine", step_min=60), "only"))
    >>> rows.start, rows.seconds[:2], round(rows.ghi[12])
    ('2025-06-21T00:00:00', (0, 3600), 989)
    """
    table = day.table
    times = table.index
    columns = {
        name: tuple(map(float, table[name])) for name in WEATHER_RANGES if name in table and table[name].notna().all()
    }
    return WeatherRows(
        place=day.place,
        start=times[0].isoformat(),
        seconds=tuple(round(passed) for passed in (times - times[0]).total_seconds()),
        step_h=day.step_h,
        position=day.position,
        altitude_m=day.altitude_m,
        time_zone=_zone(times),
        notes=day.notes,
        **columns,  # type: ignore[arg-type]
    )


def _zone(times: pd.DatetimeIndex) -> str:
    """The clock by its name, where it has one that puts it forward and back."""
    name = str(times.tz)
    return name if "/" in name else ""
