"""Typical years, and files of TMY2, TMY3, EPW, PVGIS and NSRDB, recognised by what they hold; read through pvlib."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import WEATHER_RANGES, printable
from vanpower.weather.series import WeatherSeries

if TYPE_CHECKING:
    import pandas as pd

TYPICAL_YEARS = {"sand-point": "703165TY.csv", "greensboro": "723170TYA.CSV", "miami": "12839.tm2"}
# typical meteorological years inside pvlib: Sand Point, Alaska (55.3 N), Greensboro, North Carolina (36.1 N), and
# Miami, Florida (25.8 N)
ONE_YEAR = 2001
# months of a typical year come from many years; all are dated in this one, which has no leap day
HOURS = 8760
# of a year without a leap day
NEEDED = ("ghi", "dni", "dhi", "temp_air", "wind_speed")
# what is taken from such a file
PVGIS_EPW = "ECMWF/ERA"
# source of the weather in the first line of an EPW file by PVGIS; its hours 1 to 24 are those of UTC although the line
# names the zone of the place: the same hours stand in its CSV, see tests/reference/README.md
LOOKED_AT = 4000
# characters at the start of a file that tell what it is
MOST_ROWS, TYPICAL_ROWS, LONGEST_ROW = 200_000, 8_900, 20_000
# of a series: hours of sixteen years are 140,000; of a typical year, 8,760 and a head; and letters of a line, of which
# the head of an EPW has long ones
MOST_SIGNS = {b",": 2_000_000, b"{": 400_000, b"[": 100_000, b":": 2_400_000}
# of one in JSON: hours of sixteen years with eight values each have 1.3 million commas
SLOPE = re.compile(r'[Ss]lope["\s:{a-z,]{0,80}?(-?\d+(?:\.\d+)?)')
# the plane that an hourly series of PVGIS is for
FIXED = "fixed"
# what PVGIS calls a plane that does not follow the sun


class Unfit(ValueError):
    """A file that is whole and of no use here, with the reason."""


@lru_cache(maxsize=4)
def typical_year(name: str) -> WeatherSeries:
    """A typical year of pvlib's; times mark the start of each hour.

    Examples
    --------
    >>> year = typical_year("sand-point")
    >>> year.title.split(",")[0], year.days, len(year.table)
    ('Sand Point (typical year)', 365, 8760)
    """
    import pvlib

    day = year_file(Path(pvlib.__file__).parent / "data" / TYPICAL_YEARS[name])
    assert day is not None
    return WeatherSeries(
        day.table, f"{name.replace('-', ' ').title()} (typical year)", 0.0, day.position, day.altitude_m
    )


def year_file(path: Path) -> WeatherSeries | None:
    """A file of one of the known forms; None where it is something else."""
    from vanpower.files.columns import WEATHER

    start = _start(path)
    reader = next((read for mark, read in FORMS if mark.search(start)), None)
    if reader is None:
        return None
    if path.stat().st_size > WEATHER.largest:
        raise ValueError(f"{path.name} is larger than {WEATHER.largest // 1_000_000} MB; a year takes a few.")
    _check_shape(path, start, reader)
    try:
        return reader(path)
    except (KeyError, IndexError, TypeError, AttributeError, ValueError, OSError, RecursionError) as problem:
        why = problem if isinstance(problem, Unfit) else "it is cut off or was edited; fetch it once more"
        raise ValueError(f"{path.name} looks like {FORM_NAMES[reader]} but cannot be read as one: {why}.") from None


def _check_shape(path: Path, start: str, reader: Callable[[Path], WeatherSeries]) -> None:
    """Refuse what no year is, before it is taken apart: lines without an end, or more values than years have."""
    from vanpower.files.reading import check_lines

    held = path.read_bytes()
    if not start.lstrip().startswith("{"):
        check_lines(held, path.name, MOST_ROWS if reader in SERIES else TYPICAL_ROWS, LONGEST_ROW)
    elif any(held.count(sign) > most for sign, most in MOST_SIGNS.items()):
        raise ValueError(f"{path.name} holds more values than the hours of sixteen years; is it another kind of file?")


def _start(path: Path) -> str:
    """The first letters of a file; none where it cannot be read."""
    try:
        if not path.is_file():
            return ""
        with path.open("rb") as file:
            return file.read(LOOKED_AT).decode("latin-1").lstrip("\ufeffï»¿")
    except (OSError, ValueError):
        return ""


def _tmy3(path: Path) -> WeatherSeries:
    """TMY3: rows are dated at the end of their hour."""
    import pandas as pd
    import pvlib

    table, about = pvlib.iotools.read_tmy3(path, coerce_year=ONE_YEAR, map_variables=True)
    _check_whole(table)
    table.index = table.index - pd.Timedelta(hours=1)
    return _year(table, path, about["latitude"], about["longitude"], about["altitude"])


def _tmy2(path: Path) -> WeatherSeries:
    """TMY2: temperature and wind in tenths; each month of its own year."""
    import pvlib

    table, about = pvlib.iotools.read_tmy2(path)
    _check_whole(table)
    table = table.rename(
        columns={"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
    )
    table = table.assign(temp_air=table["temp_air"] / 10.0, wind_speed=table["wind_speed"] / 10.0)
    return _year(_in_one_year(table), path, about["latitude"], about["longitude"], about["altitude"])


def _check_whole(table: pd.DataFrame) -> None:
    """Refuse a typical year without its end: its dullest day would be that of a few weeks."""
    if len(table) < HOURS:
        raise Unfit(f"it holds {len(table)} of {HOURS} hours; was it cut off? Fetch it once more")


def _epw(path: Path) -> WeatherSeries:
    """EPW: rows are dated at the start of their hour by pvlib; those of PVGIS count their hours in UTC."""
    import pandas as pd
    import pvlib

    table, about = pvlib.iotools.read_epw(path, coerce_year=ONE_YEAR)
    in_utc = about["data_type"] == PVGIS_EPW
    if in_utc:
        table.index = table.index + pd.Timedelta(hours=about["TZ"])
        table = _in_one_year(table)
    day = _year(table, path, about["latitude"], about["longitude"], about["altitude"])
    return day.noted("hours of the file were taken as UTC, as in the other forms of PVGIS") if in_utc else day


def _pvgis(path: Path) -> WeatherSeries:
    """PVGIS, typical year or hourly series, CSV or JSON: UTC, turned to the zone time of the place."""
    import pvlib

    text = path.read_text(encoding="utf-8-sig")
    form = "json" if text.lstrip().startswith("{") else "csv"
    typical = "tmy_hourly" in text if form == "json" else "time(UTC)" in text
    read = pvlib.iotools.read_pvgis_tmy if typical else pvlib.iotools.read_pvgis_hourly
    with warnings.catch_warnings():
        # a typical year is read as 8760 rows, and those that a shorter file lacks come back without a time
        warnings.filterwarnings("ignore", message=".*mismatched lengths")
        table, about = read(path, pvgis_format=form)
    table = table[table.index.notna()]
    where = about["inputs"]
    where = where.get("location", where)
    latitude, longitude = float(where["latitude"]), float(where["longitude"])
    # the light is that of a minute somewhere in its hour; it is taken for the whole of it
    table.index = table.index.floor("h")
    if "ghi" not in table:
        _check_flat(about["inputs"], text)
        table = _from_plane(table, latitude, longitude)
    hours = round(longitude / 15)
    table.index = table.index.tz_convert(f"Etc/GMT{-hours:+d}" if hours else "UTC")
    table = _in_one_year(table) if typical else table
    day = _year(table, path, latitude, longitude, float(where.get("elevation", 0.0)))
    return day.noted(f"times are UTC{hours:+d}, by longitude")


def _nsrdb(path: Path) -> WeatherSeries:
    """NSRDB, typical year or series, in the zone time of its head; rows of full hours are dated at their middle."""
    import pvlib

    table, about = pvlib.iotools.read_nsrdb_psm4(path)
    if len(table) < 2:
        raise Unfit("it holds no two rows; was it cut off? Fetch it once more")
    table.index = table.index.floor(table.index[1] - table.index[0])
    table = table if table.index.is_monotonic_increasing else _in_one_year(table)
    return _year(table, path, about["latitude"], about["longitude"], about["altitude"])


def _check_flat(inputs: Mapping[str, object], text: str) -> None:
    """Refuse a series for a plane that does not lie flat, or of which nothing is said."""
    slope, mounting = SLOPE.search(text), inputs.get("mounting_system")
    if isinstance(mounting, dict) and FIXED not in mounting:
        raise Unfit("its light is that of a plane that follows the sun; fetch it again fixed with slope 0, or as TMY")
    if slope is None or float(slope[1]) != 0:
        plane = f"that of a plane of {slope[1]} degrees" if slope else "of a plane that it does not name"
        raise Unfit(f"its light is {plane}; fetch it again with slope 0, or as TMY")


def _from_plane(table: pd.DataFrame, latitude: float, longitude: float) -> pd.DataFrame:
    """Light on the flat from an hourly series for a plane that lies flat."""
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    parts = {"beam": "poa_direct", "sky": "poa_sky_diffuse"}
    if set(parts.values()) <= set(table.columns):
        beam, sky = (table[name].astype(float) for name in parts.values())
        zenith = get_solarposition(table.index + pd.Timedelta(minutes=30), latitude, longitude)["zenith"].to_numpy()
        up = np.maximum(np.cos(np.radians(zenith)), 0.05)
        return table.assign(ghi=beam + sky, dhi=sky, dni=np.minimum(beam / up, 1400.0))
    return table.assign(ghi=table["poa_global"].astype(float))


def _in_one_year(table: pd.DataFrame) -> pd.DataFrame:
    """Rows of many years dated in one, in order; a leap day is left out."""
    index = table.index
    table = table[~((index.month == 2) & (index.day == 29))]
    table.index = table.index.map(lambda moment: moment.replace(year=ONE_YEAR))
    return table.sort_index()


def _year(table: pd.DataFrame, path: Path, latitude: float, longitude: float, altitude: float) -> WeatherSeries:
    """The columns that count, with what was not measured left empty: such files write 9999, 999 or 99.9 there."""
    table = table[[name for name in NEEDED if name in table]].astype(float)
    for name in table:
        low, high, _ = WEATHER_RANGES[name]
        table[name] = table[name].where(table[name].between(low, high))
    return WeatherSeries(table, printable(path.stem), 0.0, (float(latitude), float(longitude)), float(altitude))


FORMS: tuple[tuple[re.Pattern[str], Callable[[Path], WeatherSeries]], ...] = (
    (re.compile(r"\ALOCATION,"), _epw),
    (re.compile(r"\A\s*\{[\s\S]*\"(inputs|outputs|meta)\""), _pvgis),
    (re.compile(r"\ALatitude \(decimal degrees\)"), _pvgis),
    (re.compile(r"\ASource,Location ID,"), _nsrdb),
    (re.compile(r"\A[^\n]*\n\"?Date \(MM/DD/YYYY\)"), _tmy3),
    (re.compile(r"\A\s?\d{5} [A-Z .'-]+ [A-Z]{2}\s+-?\d+ [NS] "), _tmy2),
)
# how the known forms begin
FORM_NAMES: dict[Callable[[Path], WeatherSeries], str] = {
    _epw: "an EPW file",
    _pvgis: "a PVGIS file",
    _nsrdb: "an NSRDB file",
    _tmy3: "a TMY3 file",
    _tmy2: "a TMY2 file",
}
SERIES = (_pvgis, _nsrdb)
# forms that hold series of years as well
