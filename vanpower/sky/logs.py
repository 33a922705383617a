"""A person's own log of weather: columns by name, clocks, decimal commas; nothing is filled in."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import LOG_COLUMNS, Place, WeatherLog
from vanpower.sky.weather import Day

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
}
# what weather can be; pyranometers read slightly below zero at night, which counts as none
SAID = re.compile(r"\A#\s*(\w+)\s*[:=]\s*(.+?)\s*\Z")
# a line at the top of a file that says something about it
PLACE_WORDS = ("latitude_deg", "longitude_deg", "altitude_m", "time_zone")


@dataclass
class Head:
    """What the comment lines at the top of a log say: place, clock, what its columns are called."""

    place: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)


def own_file(log: WeatherLog) -> Day:
    """A person's own CSV, checked; empty cells stay empty."""
    path = Path(log.path)
    text = _text(path)
    head = _head(text)
    table = _table(path, text, head.columns | dict(log.columns))
    place = log.place or _place(path, head)
    zone = log.place.time_zone if log.place else head.place.get("time_zone")
    times, notes = _times(path, table["time"], zone, place)
    table = _numbers(path, table.set_index(times).drop(columns="time"))
    if "wind_speed" not in table:
        table["wind_speed"] = WIND
    position = (place.latitude_deg, place.longitude_deg) if place else None
    return Day(table, path.stem, 0.0, position, place.altitude_m if place else 0.0, notes)


def _text(path: Path) -> str:
    """What is in the file."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as problem:
        raise ValueError(f"{path.name} cannot be read as a CSV file: {problem}") from None
    if "\0" in text or not text.strip():
        raise ValueError(f"{path.name} cannot be read as a CSV file: {'no text' if text else 'it is empty'}.")
    return text


def _head(text: str) -> Head:
    """The lines at the top that say something: `# time_zone: Europe/Oslo`, `# ghi: Global W/m2`."""
    head = Head()
    for line in text.splitlines():
        if not line.startswith("#"):
            break
        if found := SAID.match(line):
            word, value = found.groups()
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

    first = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    sep = ";" if ";" in first else "\t" if "\t" in first else ","
    lines = "".join(line for line in text.splitlines(keepends=True) if not line.startswith("#"))
    try:
        table = pd.read_csv(StringIO(lines), sep=sep, skipinitialspace=True, dtype=str, keep_default_na=False)
    except (OSError, ValueError) as problem:
        raise ValueError(f"{path.name} cannot be read as a CSV file: {problem}") from None
    absent = [theirs for theirs in columns.values() if theirs not in table.columns]
    has = ", ".join(map(str, table.columns))
    if absent:
        raise ValueError(f"{path.name} has no column {absent[0]!r}; it has {has}.")
    if not isinstance(table.index, pd.RangeIndex):
        raise ValueError(
            f"{path.name} has more values in a row than names in the first line; write decimals with a point, or "
            "separate the columns with semicolons, and put none at the end of a line."
        )
    table = table.rename(columns={theirs: ours for ours, theirs in columns.items()})
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        raise ValueError(
            f"{path.name} has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)} (W/m², °C) and has {has}. "
            f"A line such as '# {missing[0]}: what yours is called' at the top of the file names it."
        )
    table = table[[name for name in LOG_COLUMNS if name in table.columns]]
    return table if sep == "," else table.apply(lambda column: column.str.replace(",", ".", regex=False))


def _times(
    path: Path, column: pd.Series, zone: str | None, place: Place | None
) -> tuple[pd.DatetimeIndex, tuple[str, ...]]:
    """The time column, rising, and what was done to its clock."""
    import pandas as pd

    column = column.str.strip()
    read = pd.to_datetime(column, format="ISO8601", errors="coerce", utc=True)
    if read.isna().any():
        line = int(np.argmax(read.isna().to_numpy()))
        shown = repr(column.iloc[line]) if column.iloc[line] else "nothing"
        raise ValueError(f"{path.name}, row {line + 1}, time: {shown} is not a time like 2026-11-25 08:30.")
    offset = column.str.extract(r"T?\d\d:\d\d[\d:.]*\s?(Z|[+-]\d\d:?\d\d)\Z", expand=False)
    notes: tuple[str, ...] = ()
    if offset.notna().any():
        times = pd.DatetimeIndex(read)
        first = offset.dropna().iloc[0]
        first = first if ":" in first or first == "Z" else f"{first[:3]}:{first[3:]}"
        times = times.tz_convert("UTC" if first == "Z" else f"UTC{first}")
        if offset.nunique() > 1:
            notes = (f"the clock changes in {path.stem}; its times are kept at UTC{first}, as in its first row",)
    elif zone is not None:
        times = _local(path, pd.DatetimeIndex(read.dt.tz_localize(None)), zone)
    elif place is not None:
        raise ValueError(f"{path.name} has local times and a place; say which clock, as '# time_zone: Europe/Oslo'.")
    else:
        times = pd.DatetimeIndex(read.dt.tz_localize(None))
    if not times.is_monotonic_increasing or times.has_duplicates:
        back = int(np.argmax(np.diff(times.to_numpy()) <= np.timedelta64(0))) + 2
        raise ValueError(
            f"{path.name}, row {back}, column time: times must rise, each once; sort the file. Where clocks went back, "
            "name the clock in a line at the top: '# time_zone: Europe/Oslo'."
        )
    return times, notes


def _local(path: Path, times: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """Times of a clock that is put forward and back."""
    try:
        return times.tz_localize(zone, ambiguous="infer", nonexistent="raise")
    except ValueError as problem:
        raise ValueError(
            f"{path.name}, column time: the clock of {zone} does not show these times ({problem}); log in UTC, or "
            "write the offset behind each time, 2026-10-25T02:30+01:00."
        ) from None
    except (KeyError, OSError):
        raise ValueError(f"{path.name}: time_zone {zone!r} is not known; write one like Europe/Oslo or UTC.") from None


def _numbers(path: Path, table: pd.DataFrame) -> pd.DataFrame:
    """Columns as numbers inside what weather can be; an empty cell is a gap and stays one."""
    import pandas as pd

    lone = len(set(table.index.date)) == 1
    for name, (low, high, unit) in LIMITS.items():
        if name not in table:
            continue
        empty = table[name].str.strip().str.lower().isin(["", "nan", "na", "-"])
        values = pd.to_numeric(table[name], errors="coerce")
        bad = ~values.between(low, high) & (lone | ~empty)
        if bad.any():
            line = int(np.argmax(bad.to_numpy()))
            shown = "nothing" if empty.iloc[line] else _shown(table[name].iloc[line])
            raise ValueError(
                f"{path.name}, row {line + 1}, {name}: {shown} is no value from {low} to {high} {unit}; gaps are not "
                "filled in."
            )
        table[name] = values.clip(lower=0) if unit == "W/m²" else values
    return table.astype(float)


def _shown(value: str) -> str:
    """A refused value as a message repeats it, with a word on decimal commas."""
    try:
        return f"{float(value):g}"
    except ValueError:
        pass
    comma = ", with a comma for a point," if "," in value else ""
    return f"{value!r}{comma}" if value.strip() else "nothing"
