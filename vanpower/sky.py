"""Real days of light: irradiance on each panel's plane, air temperature and wind, out of a weather file.

Reads typical years through pvlib, and a person's own CSV. Left out: shade, and the heat of the panels' own cells
beyond the published mounting models.
"""

from __future__ import annotations

import difflib
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import Panel

if TYPE_CHECKING:
    import pandas as pd

TYPICAL_YEARS = {"sand-point": "703165TY.csv", "greensboro": "723170TYA.CSV"}
# typical meteorological years inside pvlib: Sand Point, Alaska (55.3 N), and Greensboro, North Carolina (36.1 N)
DAY_SHARE = {"dull": 0.05, "median": 0.5, "bright": 0.95}
# share of the year's days with less light than the day picked
MOUNTS = {
    "open": "open_rack_glass_polymer",
    "gap": "close_mount_glass_glass",
    "glued": "insulated_back_glass_polymer",
}
# mounting models of King et al., SAND2004-3535, Table 1, by pvlib's names
WIND = 1.0
# [m/s] where a file has no wind; common practice, no source
COLUMNS = ("time", "ghi", "temp_air")
# what a person's own CSV must have


class Day:
    """One day of weather: a table with ghi, dni, dhi, temp_air, wind_speed by local time, and the place."""

    def __init__(self, table: pd.DataFrame, place: str, step_h: float, position: tuple[float, float] | None) -> None:
        self.table, self.place, self.step_h, self.position = table, place, step_h, position

    @property
    def energy_wh_m2(self) -> float:
        """Light on the flat over the day. [Wh/m²]"""
        return float(self.table["ghi"].sum() * self.step_h)

    @property
    def title(self) -> str:
        """Place, date and light in a few words."""
        date = self.table.index[len(self.table) // 2].strftime("%d %b").lstrip("0")
        return f"{self.place}, {date}, {self.energy_wh_m2:.0f} Wh/m² on the flat"


def find_day(weather: str, day: str) -> Day:
    """A day by name or date out of a known typical year or a person's own file.

    Parameters
    ----------
    weather : str
        "sand-point", "greensboro", or the path of a CSV with the columns time, ghi, temp_air.
    day : str
        "dull", "median", "bright" (5, 50 and 95 of 100 days bring less light), month-day such as "12-21", or "only"
        for a file of a single day.

    Raises
    ------
    ValueError
        For a name, file or day that is not there, with what would be.
    """
    return _find_day(weather, day, stamp(weather))


def stamp(weather: str) -> int:
    """When a person's own file was last changed, so that what is kept of it can be told from what it says now."""
    path = Path(weather)
    return 0 if weather in TYPICAL_YEARS or not path.is_file() else path.stat().st_mtime_ns


@lru_cache(maxsize=16)
def _find_day(weather: str, day: str, _stamp: int) -> Day:
    """`find_day`, kept while the file stays as it is."""
    position: tuple[float, float] | None
    if weather in TYPICAL_YEARS:
        table, place, position = _typical_year(weather)
    elif Path(weather).suffix.lower() == ".csv" or Path(weather).exists():
        table, place, position = _own_file(Path(weather))
    else:
        near = difflib.get_close_matches(weather, TYPICAL_YEARS, 1)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(TYPICAL_YEARS)}, or a path ending in .csv."
        raise ValueError(f"weather {weather!r} is not known; {hint}")
    step_h = _step_h(table, place)
    return Day(_picked(table, day, step_h), place, step_h, position)


def plane_light(day: Day, panel: Panel) -> np.ndarray:
    """Light on a panel's plane, shape (moment,). [W/m²]

    Notes
    -----
    A flat panel takes the measured horizontal light as it is. Others: isotropic sky by pvlib, with the sun taken in
    the middle of each step; ground reflection 0.25 (pvlib's default).
    """
    if panel.tilt_deg == 0:
        return day.table["ghi"].to_numpy(float)
    if day.position is None or not {"dni", "dhi"} <= set(day.table.columns):
        raise ValueError(
            f"{panel.name} is tilted by {panel.tilt_deg:g} degrees, and {day.place} has no dni, dhi and place to "
            "tilt the light with; lay it flat (tilt_deg = 0) or use a typical year."
        )
    return _tilted(day, panel)


def cell_temperature(day: Day, panel: Panel, light: np.ndarray) -> np.ndarray:
    """Cell temperature by the mounting model of King et al., shape (moment,). [°C]"""
    from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell

    model = TEMPERATURE_MODEL_PARAMETERS["sapm"][MOUNTS[panel.mount]]
    table = day.table
    return np.asarray(sapm_cell(light, table["temp_air"].to_numpy(float), table["wind_speed"].to_numpy(float), **model))


def _tilted(day: Day, panel: Panel) -> np.ndarray:
    """Transposed light; isotropic sky."""
    import pandas as pd
    from pvlib.irradiance import get_total_irradiance
    from pvlib.solarposition import get_solarposition

    assert day.position is not None
    sun = get_solarposition(day.table.index + pd.Timedelta(hours=day.step_h / 2), *day.position)
    parts = [day.table[name].to_numpy(float) for name in ("dni", "ghi", "dhi")]
    angles = [sun[name].to_numpy() for name in ("apparent_zenith", "azimuth")]
    plane = get_total_irradiance(panel.tilt_deg, panel.azimuth_deg, *angles, *parts)
    return np.nan_to_num(np.asarray(plane["poa_global"]))


@lru_cache(maxsize=4)
def _typical_year(name: str) -> tuple[pd.DataFrame, str, tuple[float, float]]:
    """A typical year of pvlib's, its place and position; times mark the start of each hour."""
    import pandas as pd
    import pvlib

    path = Path(pvlib.__file__).parent / "data" / TYPICAL_YEARS[name]
    table, about = pvlib.iotools.read_tmy3(path, coerce_year=2001, map_variables=True)
    table = table[["ghi", "dni", "dhi", "temp_air", "wind_speed"]].astype(float)
    table.index = table.index - pd.Timedelta(hours=1)
    return table, f"{name.replace('-', ' ').title()} (typical year)", (about["latitude"], about["longitude"])


def _own_file(path: Path) -> tuple[pd.DataFrame, str, None]:
    """A person's own CSV, checked."""
    import pandas as pd

    try:
        table = pd.read_csv(path, comment="#", skipinitialspace=True, dtype={"time": str})
    except (OSError, ValueError) as problem:
        raise ValueError(f"{path.name} cannot be read as a CSV file: {problem}") from None
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        has = ", ".join(map(str, table.columns))
        hint = " Separate the columns with commas." if ";" in has else ""
        raise ValueError(
            f"{path.name} has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)} (W/m², °C) and has "
            f"{has}.{hint}"
        )
    if not isinstance(table.index, pd.RangeIndex):
        raise ValueError(
            f"{path.name} has more values in a row than names in the first line; write decimals with a point, and no "
            "comma at the end of a line."
        )
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
        raise ValueError(f"{path.name}, column time: times must rise, each once; sort the file.")
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
                f"{high} {unit}; gaps are not filled in."
            )
        table[name] = values.clip(lower=0) if name == "ghi" else values
    return table


def _shown(value: object) -> str:
    """A refused value as a message repeats it, with a word on decimal commas."""
    if not isinstance(value, str):
        return "nothing" if value != value else f"{value}"
    return f"{value!r}{', with a comma for a point,' if ',' in value else ''}"


def _step_h(table: pd.DataFrame, place: str) -> float:
    """Hours between two rows; they must be even, or the Wh would be wrong."""
    if len(table) < 2:
        raise ValueError(f"{place} has {len(table)} rows; a day needs at least two.")
    hours = np.diff(table.index.to_numpy()).astype("timedelta64[s]").astype(float) / 3600
    by_day = hours[hours < 12]
    if len(by_day) == 0:
        raise ValueError(f"{place}: rows are {hours.min():g} h apart; a day needs steps under 12 h.")
    if not np.allclose(by_day, by_day[0], rtol=0.01):
        raise ValueError(
            f"{place}: the time step changes from {by_day.min():g} to {by_day.max():g} h; it must be even."
        )
    return float(by_day[0])


def _picked(table: pd.DataFrame, day: str, step_h: float) -> pd.DataFrame:
    """The rows of the day asked for."""
    dates = table.index.date
    light = table["ghi"].groupby(dates).sum()
    if day == "only" and len(light) > 1:
        raise ValueError(
            f"this weather holds {len(light)} days; say which, {light.index[0]:%m-%d} to {light.index[-1]:%m-%d}, "
            "or dull, median, bright."
        )
    if day in DAY_SHARE or day == "only":
        ranked = light.sort_values(kind="stable")
        chosen = ranked.index[round(DAY_SHARE.get(day, 0.0) * (len(ranked) - 1))]
    else:
        chosen = _dated(light.index.tolist(), day)
    return table[dates == chosen]


def _dated(dates: list, day: str) -> object:
    """The date that month-day names."""
    for date in dates:
        if date.strftime("%m-%d") == day:
            return date
    raise ValueError(
        f"day {day!r} is not in this weather; write dull, median, bright or month-day, "
        f"{dates[0].strftime('%m-%d')} to {dates[-1].strftime('%m-%d')}."
    )
