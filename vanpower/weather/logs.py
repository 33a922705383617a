"""A person's own weather: what its columns mean together, by which clock; nothing is filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from vanpower.files.clocks import offset_min
from vanpower.files.columns import NUMBERS, WEATHER
from vanpower.files.tables import Table, read_table
from vanpower.files.times import Times, check_rising
from vanpower.rig import Place, WeatherLog, printable
from vanpower.weather.series import LIGHT_WIND, WeatherSeries

if TYPE_CHECKING:
    import pandas as pd

FIXED = re.compile(r"(?:UTC|GMT)\s*([+-]\d{1,2}(?::?\d\d)?)", re.IGNORECASE)
# a clock that stays so far ahead of UTC, as people write it
FINE = 250
# rows from which an empty cell of a lone day is a gap of minutes, which may be mended, and not refused with its row
FAINT, KILO = 0.05, 1.5
# [W/m²] a log whose brightest light lies between these is in kW/m²: no daylight stays so faint; no source
PLACE_WORDS = ("latitude_deg", "longitude_deg", "altitude_m")
LIGHTS = tuple(column.name for column in WEATHER.columns if column.unit == "W/m²")


def own_file(log: WeatherLog) -> WeatherSeries:
    """A person's own CSV, checked; empty cells stay empty."""
    path = Path(log.path)
    return own_day(read_table(path, WEATHER, columns=dict(log.columns)), log.place, printable(path.stem))


def own_day(table: Table, place: Place | None, name: str) -> WeatherSeries:
    """A table of weather as a day, checked; empty cells stay empty.

    Examples
    --------
    >>> rows = "time|ghi|temp_air\\n31.05.2026 11:00|600|20\\n31.05.2026 12:00|700|21"
    >>> own_day(read_table(rows, WEATHER), None, "My roof").table["ghi"].tolist()
    [600.0, 700.0]
    """
    import pandas as pd

    zone = place.time_zone if place else table.said.get("time_zone")
    place = place or _place(table)
    times = table.times()
    _check_dated(table, times)
    index, notes = _index(table, times, zone, place)
    columns = {column.name: table[column.name] for column in WEATHER.columns if _is_held(table, column.name)}
    _check_whole(table, columns, index)
    columns |= {light: np.maximum(columns[light], 0.0) for light in LIGHTS if light in columns}
    if "harvest_wh" in columns:
        columns["p_harvest"] = _in_watts(table, columns.pop("harvest_wh"), index)
    frame = pd.DataFrame({"ghi": columns["ghi"], **columns}, index=index, dtype=float)
    frame = frame if "wind_speed" in frame else frame.assign(wind_speed=LIGHT_WIND)
    position = (place.latitude_deg, place.longitude_deg) if place else None
    return WeatherSeries(frame, name, 0.0, position, place.altitude_m if place else 0.0, (*times.notes, *notes))


def _is_held(table: Table, name: str) -> bool:
    return name in table and WEATHER.column(name).holds == NUMBERS


def _place(table: Table) -> Place | None:
    """The place the head of a file names."""
    said = table.said
    if not {"latitude_deg", "longitude_deg"} & set(said):
        return None
    try:
        latitude, longitude = (float(said[name]) for name in PLACE_WORDS[:2])
        altitude = float(said.get("altitude_m", 0.0))
    except (KeyError, ValueError):
        raise ValueError(
            f"{table.file}: write both '# latitude_deg: 47.05' and '# longitude_deg: 15.4', as plain numbers."
        ) from None
    try:
        return Place(latitude_deg=latitude, longitude_deg=longitude, altitude_m=altitude)
    except ValueError as problem:
        raise ValueError(f"{table.file}: {problem}") from None


# Clocks


def _check_dated(table: Table, times: Times) -> None:
    """Refuse clock times of which nobody says the day."""
    if not times.dated:
        raise ValueError(
            f"{table.spot(0, 'time')}: {table.texts('time')[0]!r} is a clock time without its day; write the date in "
            "front of it, in a column date, or in a line at the top: '# date: 2026-05-31'."
        )


def _index(
    table: Table, times: Times, zone: str | None, place: Place | None
) -> tuple[pd.DatetimeIndex, tuple[str, ...]]:
    """The times of the rows, rising, and what was done to their clock."""
    import pandas as pd

    notes: tuple[str, ...] = ()
    index = pd.DatetimeIndex(times.local)
    if times.ahead is not None:
        index, notes = _shifted(table, times, zone)
    elif zone is not None:
        index = _local(table, index, zone)
    elif place is not None:
        raise ValueError(f"{table.file} has local times and a place; say which clock, as '# time_zone: Europe/Oslo'.")
    check_rising(table, index.as_unit("ns").asi8)
    return index, notes


def _shifted(table: Table, times: Times, zone: str | None) -> tuple[pd.DatetimeIndex, tuple[str, ...]]:
    """Times that say how far they are from UTC, all on the clock of the first row, or counts of UTC on a named one."""
    import pandas as pd

    assert times.ahead is not None
    index = pd.DatetimeIndex(times.utc).tz_localize("UTC")
    if times.notes and zone is not None:
        _check_zone(table, zone)
        return index.tz_convert(zone), ()
    first = timezone(timedelta(minutes=float(times.ahead[0])))
    told = (
        f"the clock changes in {printable(Path(table.file).stem)}; its times are kept at {first}, as in its first row"
    )
    return index.tz_convert(first), (told,) if len(np.unique(times.ahead)) > 1 else ()


def _local(table: Table, index: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """Times of a clock that is put forward and back, or of one that stays so far ahead of UTC."""
    if fixed := FIXED.fullmatch(zone.strip()):
        hours = re.sub(r"^([+-])(\d)(?!\d)", r"\g<1>0\2", fixed[1])
        try:
            return index.tz_localize(timezone(timedelta(minutes=offset_min(hours))))
        except ValueError as trouble:
            raise ValueError(f"{table.file}: time_zone {zone[:40]!r}: {trouble}") from None
    _check_zone(table, zone)
    try:
        return index.tz_localize(zone, ambiguous="infer", nonexistent="raise")
    except ValueError:
        raise ValueError(
            f"{table.file}, column {table.names[table.place['time']]!r}: the clock of {zone} does not show all of "
            "these times, or one of them twice; log in UTC, or write the offset behind each time, "
            "2026-10-25T02:30+01:00."
        ) from None


def _check_zone(table: Table, zone: str) -> None:
    """Refuse a clock that nobody knows."""
    try:
        ZoneInfo(zone)
    except (ValueError, OSError, KeyError):
        raise ValueError(
            f"{table.file}: time_zone {printable(zone[:40])!r} is not known; write one like Europe/Oslo, UTC, or "
            "UTC+01:00 for a clock that is never put forward."
        ) from None


# Values


def _check_whole(table: Table, columns: Mapping[str, np.ndarray], index: pd.DatetimeIndex) -> None:
    """Refuse gaps in a lone day of few rows, light in another unit, and a harvest told twice."""
    if len(table) < FINE and len(set(index.date)) == 1:
        for name, values in columns.items():
            if np.isnan(values).any():
                row = int(np.argmax(np.isnan(values)))
                raise ValueError(
                    f"{table.spot(row, name)}: nothing; {WEATHER.column(name).sense} makes sense, and gaps are not "
                    "filled in."
                )
    most = float(np.nanmax(columns["ghi"], initial=0.0))
    if FAINT < most <= KILO:
        raise ValueError(
            f"{table.file}, column {table.names[table.place['ghi']]!r}: the brightest light is {most:g} W/m². Are "
            "these kW/m²? Multiply the column by 1000, or call it 'ghi (kW/m²)'."
        )
    if {"p_harvest", "harvest_wh"} <= set(columns):
        raise ValueError(f"{table.file} has p_harvest and harvest_wh; leave one out, since they say the same.")


def _in_watts(table: Table, sums: np.ndarray, index: pd.DatetimeIndex) -> np.ndarray:
    """A measured harvest in watt-hours of each row as watts; a row lasts until the next, the last as long as usual."""
    hours = np.diff(index.as_unit("ns").asi8) / 3.6e12
    lasts = np.append(hours, np.median(hours)) if len(hours) else np.ones(1)
    if len(sums) > 2 and sums.max() > 0 and (np.diff(sums) >= 0).all():
        raise ValueError(
            f"{table.file}, column {table.names[table.place['harvest_wh']]!r}: it only rises, as a counter does; write "
            "what came within each row, or watts as p_harvest."
        )
    return sums / lasts
