"""Weather files read and checked; nothing is filled in."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.sky.texts import weather_text

if TYPE_CHECKING:
    import pandas as pd


TYPICAL_YEARS = {"sand-point": "703165TY.csv", "greensboro": "723170TYA.CSV"}
# typical meteorological years inside pvlib: Sand Point, Alaska (55.3 N), and Greensboro, North Carolina (36.1 N)
WIND = 1.0
# [m/s] where a file has no wind; common practice, no source
TEMP_KELVIN = 200
# air that many degrees warm is told in kelvin
LONGEST_NAMES = 120
# characters of a file's text that a message repeats
COLUMNS = ("time", "ghi", "temp_air")
# what a person's own CSV must have


@lru_cache(maxsize=4)
def typical_year(name: str) -> tuple[pd.DataFrame, str, tuple[float, float]]:
    """A typical year of pvlib's, its place and position; times mark the start of each hour."""
    import pandas as pd
    import pvlib

    path = Path(pvlib.__file__).parent / "data" / TYPICAL_YEARS[name]
    table, about = pvlib.iotools.read_tmy3(path, coerce_year=2001, map_variables=True)
    table = table[["ghi", "dni", "dhi", "temp_air", "wind_speed"]].astype(float)
    table.index = table.index - pd.Timedelta(hours=1)
    return table, f"{name.replace('-', ' ').title()} (typical year)", (about["latitude"], about["longitude"])


def own_file(path: Path) -> tuple[pd.DataFrame, str, None]:
    """A person's own CSV, checked."""
    import pandas as pd

    try:
        text = io.StringIO(weather_text(path))
        table = pd.read_csv(text, comment="#", skipinitialspace=True, dtype={"time": str})
    except pd.errors.ParserError as problem:
        raise ValueError(f"{path.name} {_told(str(problem))}") from None
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        has = ", ".join(map(str, table.columns))
        hint = " Separate the columns with commas." if ";" in has or "\t" in has else ""
        hint = hint or " Write them in small letters." * ({*map(str.lower, table.columns)} >= {*COLUMNS})
        raise ValueError(
            f"{path.name} has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)} (W/m², °C) and has "
            f"{_printable(has)}.{hint}"
        )
    if not isinstance(table.index, pd.RangeIndex):
        raise ValueError(
            f"{path.name} has more values in a row than names in the first line; write decimals with a point, and no "
            "comma at the end of a line."
        )
    twice = [name.removesuffix(".1") for name in table.columns if name.endswith(".1")]
    if {*twice} & {*COLUMNS, "wind_speed"}:
        raise ValueError(f"{path.name} has the column {twice[0]} twice; leave one out.")
    table = table.set_index(_times(path, table["time"])).drop(columns="time")
    table = _numbers(path, table)
    if "wind_speed" not in table:
        table["wind_speed"] = WIND
    return table, path.stem, None


def _times(path: Path, column: pd.Series) -> pd.DatetimeIndex:
    """The time column, rising and even."""
    import pandas as pd

    read = pd.to_datetime(column, format="ISO8601", errors="coerce", utc=True)
    if read.isna().any():
        line = int(np.argmax(read.isna().to_numpy()))
        shown = _shown(column.iloc[line])
        raise ValueError(f"{path.name}, row {line + 1}, time: {shown} is not a time like 2026-11-25 08:30.")
    try:
        times = pd.DatetimeIndex(pd.to_datetime(column, format="ISO8601"))
    except (ValueError, TypeError):
        raise ValueError(f"{path.name}, column time: the offset from UTC changes; write local time alone.") from None
    if not times.is_monotonic_increasing or times.has_duplicates:
        at = int(np.nonzero(np.diff(times.asi8) <= 0)[0][0]) + 1
        told = f"{path.name}, row {at + 1}, time: {_shown(column.iloc[at])} does not come after the row above"
        hour = " Is it the hour that daylight saving repeats? Write times without it." * bool(times.has_duplicates)
        raise ValueError(f"{told}; times must rise, each once; sort the file.{hour}")
    return times


def _numbers(path: Path, table: pd.DataFrame) -> pd.DataFrame:
    """Columns the kit uses as numbers inside what weather can be; nothing is filled in."""
    import pandas as pd

    limits = {"ghi": (-20, 1800, "W/m²"), "temp_air": (-60, 60, "°C"), "wind_speed": (0, 100, "m/s")}
    for name, (low, high, unit) in limits.items():
        if name not in table:
            continue
        values = pd.to_numeric(table[name], errors="coerce")
        bad = ~values.between(low, high)
        if bad.any():
            line = int(np.argmax(bad.to_numpy()))
            raise ValueError(
                f"{path.name}, row {line + 1}, {name}: {_shown(table[name].iloc[line])} is no value from {low} to "
                f"{high} {unit}; gaps are not filled in.{_unit_slip(name, values.iloc[line])}"
            )
        table[name] = values.clip(lower=0) if name == "ghi" else values
    return table


def _unit_slip(name: str, value: float) -> str:
    """What a number far outside may have been meant in."""
    if name == "temp_air" and value > TEMP_KELVIN:
        return " Is this kelvin?"
    if name == "temp_air" and value > 0:
        return " Is this Fahrenheit?"
    return " Is this lux, or milliwatts?" if name == "ghi" and value > 0 and np.isfinite(value) else ""


def _told(problem: str) -> str:
    """What a parser says of a text that is no table, in plain words."""
    found = re.search(r"Expected (\d+) fields in line (\d+), saw (\d+)", problem)
    if found:
        return f"has {found[3]} values in line {found[2]}, and {found[1]} names in the first line."
    return (
        "is no table: a quote is opened and never closed." if "EOF" in problem else "is no table of values and commas."
    )


def _printable(text: str) -> str:
    """A text cut to a line's length, without letters that steer a terminal."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in text)
    return shown if len(shown) <= LONGEST_NAMES else f"{shown[:LONGEST_NAMES]}..."


def _shown(value: object) -> str:
    """A refused value as a message repeats it, with a word on decimal commas."""
    if not isinstance(value, str):
        return "nothing" if value != value else f"{value}"
    return f"{_printable(value)!r}{', with a comma for a point,' if ',' in value else ''}"
