"""A person's own log of weather: columns by name, clocks, decimal commas; nothing is filled in."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import timedelta, timezone
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from vanpower.files.clocks import WRITTEN, offset_min
from vanpower.rig import LOG_COLUMNS, Place, WeatherLog, printable
from vanpower.weather.series import WeatherSeries
from vanpower.weather.texts import parser_said, shown, weather_text

if TYPE_CHECKING:
    import pandas as pd

WIND = 1.0
# [m/s] where a file has no wind; common practice, no source
COLUMNS = ("time", "ghi", "temp_air")
# what a person's own CSV must have
LIMITS = {
    "ghi": (-20, 1800, "W/m²"),
    "dni": (-20, 1400, "W/m²"),
    "dhi": (-20, 1000, "W/m²"),
    "temp_air": (-60, 60, "°C"),
    "wind_speed": (0, 100, "m/s"),
    "temp_battery": (-40, 60, "°C"),
    "p_harvest": (-20, 20000, "W"),
    "harvest_wh": (-20, 50000, "Wh"),
}
# what weather can be; pyranometers read slightly below zero at night, which counts as none
TEMP_KELVIN = 200
# air that many degrees warm is told in kelvin
SAID = re.compile(r"\A#\s*+(\w++)\s*+[:=](.*)")
# a line at the top of a file that says something about it
FIXED = re.compile(r"(?:UTC|GMT)\s*([+-]\d{1,2}(?::?\d\d)?)", re.IGNORECASE)
# a clock that stays so far ahead of UTC, as people write it
FINE = 250
# rows from which an empty cell of a lone day is a gap of minutes, which may be mended, and not refused with its row
FAINT, KILO = 0.05, 1.5
# [W/m²] a log whose brightest light lies between these is in kW/m²: no daylight stays so faint; no source
LINES, COMMENTS = re.compile(r"[^\n]+"), re.compile(r"^#[^\n]*\n?", re.MULTILINE)
MOST_CELLS = 8_000_000
# of a log: a year of minutes with fifteen columns; no source
PLACE_WORDS = ("latitude_deg", "longitude_deg", "altitude_m", "time_zone")


@dataclass
class Head:
    """What the comment lines at the top of a log say: place, clock, what its columns are called."""

    place: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)


def own_file(log: WeatherLog) -> WeatherSeries:
    """A person's own CSV, checked; empty cells stay empty."""
    path = Path(log.path)
    text = weather_text(path)
    head = _head(text)
    table = _table(path, text, head.columns | dict(log.columns))
    place = log.place or _place(path, head)
    zone = log.place.time_zone if log.place else head.place.get("time_zone")
    times, notes = _times(path, table["time"], zone, place)
    table = _numbers(path, table.set_index(times).drop(columns="time"))
    if "wind_speed" not in table:
        table["wind_speed"] = WIND
    if "harvest_wh" in table:
        table = _in_watts(path, table)
    position = (place.latitude_deg, place.longitude_deg) if place else None
    return WeatherSeries(table, printable(path.stem), 0.0, position, place.altitude_m if place else 0.0, notes)


def _head(text: str) -> Head:
    """The lines at the top that say something: `# time_zone: Europe/Oslo`, `# ghi: Global W/m2`."""
    head = Head()
    for line in LINES.finditer(text):
        if not line[0].startswith("#"):
            break
        found = SAID.match(line[0])
        if found and (value := found[2].strip()):
            word = found[1]
            (head.place if word in PLACE_WORDS else head.columns if word in LOG_COLUMNS else {})[word] = value
    return head


def _place(path: Path, head: Head) -> Place | None:
    """The place the head of a file names."""
    if not {"latitude_deg", "longitude_deg"} & set(head.place):
        return None
    try:
        latitude, longitude = (float(head.place[name]) for name in PLACE_WORDS[:2])
        altitude = float(head.place.get("altitude_m", 0.0))
    except (KeyError, ValueError):
        raise ValueError(
            f"{path.name}: write both '# latitude_deg: 47.05' and '# longitude_deg: 15.4', as plain numbers."
        ) from None
    try:
        return Place(latitude_deg=latitude, longitude_deg=longitude, altitude_m=altitude)
    except ValueError as problem:
        raise ValueError(f"{path.name}: {problem}") from None


def _table(path: Path, text: str, columns: dict[str, str]) -> pd.DataFrame:
    """Rows as they stand, with our names for the columns."""
    import pandas as pd

    text = COMMENTS.sub("", text)
    first = next((line[0] for line in LINES.finditer(text) if line[0].strip()), "")
    sep = ";" if ";" in first else "\t" if "\t" in first else ","
    cells = (first.count(sep) + 1) * text.count("\n")
    if cells > MOST_CELLS:
        raise ValueError(f"{path.name} has {cells / 1e6:.0f} million cells; up to {MOST_CELLS / 1e6:.0f} are read.")
    held = BytesIO(text.encode())
    try:
        table = pd.read_csv(held, sep=sep, skipinitialspace=True, dtype=str, keep_default_na=False)
    except ValueError as problem:
        raise ValueError(f"{path.name} {parser_said(str(problem))}") from None
    absent = [theirs for theirs in columns.values() if theirs not in table.columns]
    has = shown(", ".join(map(str, table.columns)))
    if absent:
        raise ValueError(f"{path.name} has no column {shown(absent[0])!r}; it has {has}.")
    if not isinstance(table.index, pd.RangeIndex):
        raise ValueError(
            f"{path.name} has more values in a row than names in the first line; write decimals with a point, or "
            "separate the columns with semicolons, and put none at the end of a line."
        )
    table = table.rename(columns={theirs: ours for ours, theirs in columns.items()})
    _check_names(path, table, has)
    table = table[[name for name in LOG_COLUMNS if name in table.columns]]
    return table if sep == "," else table.apply(lambda column: column.str.replace(",", ".", regex=False))


def _check_names(path: Path, table: pd.DataFrame, has: str) -> None:
    """Refuse a table without the columns that are needed, or with one of ours twice."""
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        small = set(map(str.lower, table.columns)) >= {*COLUMNS}
        hint = f"A line such as '# {missing[0]}: what yours is called' at the top of the file names it."
        raise ValueError(
            f"{path.name} has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)} (W/m², °C) and has {has}. "
            f"{'Write the names in small letters.' if small else hint}"
        )
    twice = [name for name in LOG_COLUMNS if f"{name}.1" in table.columns or list(table.columns).count(name) > 1]
    if twice:
        raise ValueError(f"{path.name} has the column {twice[0]} twice; leave one out.")


def _times(
    path: Path, column: pd.Series, zone: str | None, place: Place | None
) -> tuple[pd.DatetimeIndex, tuple[str, ...]]:
    """The time column, rising, and what was done to its clock."""
    import pandas as pd

    column = column.str.strip()
    parts = [found.groups() if (found := WRITTEN.fullmatch(text)) else (None,) * 3 for text in column.to_list()]
    offset = pd.Series([ahead for *_, ahead in parts], dtype=object)
    written = [f"{day}T{clock.replace(',', '.')}" if clock else day for day, clock, _ in parts]
    read = pd.to_datetime(pd.Series(written, dtype=object), format="ISO8601", errors="coerce")
    if read.isna().any():
        line = int(np.argmax(read.isna().to_numpy()))
        raise ValueError(
            f"{path.name}, row {line + 1}, time: {_quoted(column.iloc[line])} is not a time like 2026-11-25 08:30, "
            "perhaps with an offset from UTC behind it, +01:00."
        )
    notes: tuple[str, ...] = ()
    if offset.notna().any():
        _check_offsets(path, column, offset)
        times, notes = _shifted(path, pd.DatetimeIndex(read), offset)
    elif zone is not None:
        times = _local(path, pd.DatetimeIndex(read), zone)
    elif place is not None:
        raise ValueError(f"{path.name} has local times and a place; say which clock, as '# time_zone: Europe/Oslo'.")
    else:
        times = pd.DatetimeIndex(read)
    if not times.is_monotonic_increasing or times.has_duplicates:
        back = int(np.argmax(np.diff(times.asi8) <= 0)) + 2
        raise ValueError(
            f"{path.name}, row {back}, time: {_quoted(column.iloc[back - 1])} does not come after the row above; times "
            "must rise, each once; sort the file. Where clocks went back, name the clock in a line at the top: "
            "'# time_zone: Europe/Oslo'."
        )
    return times, notes


def _shifted(path: Path, times: pd.DatetimeIndex, offset: pd.Series) -> tuple[pd.DatetimeIndex, tuple[str, ...]]:
    """Times with their offsets from UTC, all on the clock of the first row, and what is to be said of that."""
    import pandas as pd

    ahead: dict[str, int] = {}
    for text in offset.unique():
        try:
            ahead[text] = offset_min(text)
        except ValueError as trouble:
            row = int(np.argmax((offset == text).to_numpy())) + 1
            raise ValueError(f"{path.name}, row {row}, time: {trouble}") from None
    shift = pd.to_timedelta(offset.map(ahead).to_numpy(), unit="min")
    first = timezone(timedelta(minutes=ahead[offset.iloc[0]]))
    times = (times - shift).tz_localize("UTC").tz_convert(first)
    changes = f"the clock changes in {printable(path.stem)}; its times are kept at {first}, as in its first row"
    return times, (changes,) if len(set(ahead.values())) > 1 else ()


def _check_offsets(path: Path, column: pd.Series, offset: pd.Series) -> None:
    """Refuse times of which only some say how far they are from UTC."""
    if offset.isna().any():
        row = int(np.argmax(offset.isna().to_numpy() != offset.isna().iloc[0]))
        raise ValueError(
            f"{path.name}, row {row + 1}, time: {_quoted(column.iloc[row])}; an offset from UTC stands on some rows "
            "and not on others. Write it behind every time or none."
        )


def _local(path: Path, times: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """Times of a clock that is put forward and back, or of one that stays so far ahead of UTC."""
    if fixed := FIXED.fullmatch(zone.strip()):
        hours = re.sub(r"^([+-])(\d)(?!\d)", r"\g<1>0\2", fixed[1])
        try:
            return times.tz_localize(timezone(timedelta(minutes=offset_min(hours))))
        except ValueError as trouble:
            raise ValueError(f"{path.name}: time_zone {zone!r}: {trouble}") from None
    _check_zone(path, zone)
    try:
        return times.tz_localize(zone, ambiguous="infer", nonexistent="raise")
    except ValueError:
        raise ValueError(
            f"{path.name}, column time: the clock of {zone} does not show all of these times, or one of them twice; "
            "log in UTC, or write the offset behind each time, 2026-10-25T02:30+01:00."
        ) from None


def _check_zone(path: Path, zone: str) -> None:
    """Refuse a clock that nobody knows."""
    try:
        ZoneInfo(zone)
    except (ValueError, OSError, KeyError):
        raise ValueError(
            f"{path.name}: time_zone {zone!r} is not known; write one like Europe/Oslo, UTC, or UTC+01:00 for a clock "
            "that is never put forward."
        ) from None


def _numbers(path: Path, table: pd.DataFrame) -> pd.DataFrame:
    """Columns as numbers inside what weather can be; an empty cell is a gap and stays one."""
    import pandas as pd

    lone = len(set(table.index.date)) == 1 and len(table) < FINE
    for name, (low, high, unit) in LIMITS.items():
        if name not in table:
            continue
        empty = table[name].str.strip().str.lower().isin(["", "nan", "na", "-"])
        values = pd.to_numeric(table[name], errors="coerce")
        bad = ~values.between(low, high) & (lone | ~empty)
        if bad.any():
            line = int(np.argmax(bad.to_numpy()))
            refused = "nothing" if empty.iloc[line] else _told(table[name].iloc[line])
            raise ValueError(
                f"{path.name}, row {line + 1}, {name}: {refused} is no value from {low} to {high} {unit}; gaps are not "
                f"filled in.{_unit_slip(name, values.iloc[line])}"
            )
        table[name] = values.clip(lower=0) if unit == "W/m²" else values
    most = float(table["ghi"].max())
    if FAINT < most <= KILO:
        raise ValueError(
            f"{path.name}, ghi: the brightest light is {most:g} W/m². Are these kW/m²? Multiply the column by 1000."
        )
    return table.astype(float)


def _in_watts(path: Path, table: pd.DataFrame) -> pd.DataFrame:
    """A measured harvest in watt-hours of each row as watts; a row lasts until the next, the last as long as usual."""
    if "p_harvest" in table:
        raise ValueError(f"{path.name} has p_harvest and harvest_wh; leave one out, since they say the same.")
    hours = np.diff(table.index.as_unit("ns").asi8) / 3.6e12
    lasts = np.append(hours, np.median(hours)) if len(hours) else np.ones(1)
    sums = table["harvest_wh"].to_numpy(float)
    if len(sums) > 2 and sums.max() > 0 and (np.diff(sums) >= 0).all():
        raise ValueError(
            f"{path.name}, harvest_wh: it only rises, as a counter does; write what came within each row, or watts as "
            "p_harvest."
        )
    return table.assign(p_harvest=sums / lasts).drop(columns="harvest_wh")


def _unit_slip(name: str, value: float) -> str:
    """What a number far outside may have been meant in."""
    if name in ("temp_air", "temp_battery") and value > 0:
        return " Is this kelvin?" if value > TEMP_KELVIN else " Is this Fahrenheit?"
    return " Is this lux, or milliwatts?" if name == "ghi" and 0 < value < np.inf else ""


def _told(value: str) -> str:
    """A refused value as a message repeats it, with a word on decimal commas."""
    try:
        return f"{float(value):g}"
    except ValueError:
        pass
    return f"{_quoted(value)}{', with a comma for a point,' if ',' in value else ''}"


def _quoted(value: str) -> str:
    """A text as a message repeats it."""
    return repr(shown(value)) if value.strip() else "nothing"
