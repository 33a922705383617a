"""A day by name or date out of a typical year or a person's own file."""

from __future__ import annotations

import difflib
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.sky.files import TYPICAL_YEARS, own_file, typical_year
from vanpower.sky.rows import kept

if TYPE_CHECKING:
    import pandas as pd


DAY_SHARE = {"dull": 0.05, "median": 0.5, "bright": 0.95}
# share of the year's days with less light than the day picked


class Day:
    """One day of weather: a table with ghi, dni, dhi, temp_air, wind_speed by local time, and the place."""

    def __init__(self, table: pd.DataFrame, place: str, step_h: float, position: tuple[float, float] | None) -> None:
        self.table, self.place, self.step_h, self.position = table, place, step_h, position

    @property
    def energy_wh_m2(self) -> float:
        """Light on the flat over the day. [Wh/m²]"""
        return float(self.table["ghi"].sum() * self.step_h)

    @property
    def days(self) -> int:
        """How many dates it holds."""
        return len(set(self.table.index.date))

    @property
    def title(self) -> str:
        """Place, date and light in a few words."""
        if self.days > 1:
            return (
                f"{self.place}, {self.days} days, {self.energy_wh_m2 / 1000 / self.days:.1f} kWh/m² a day on the flat"
            )
        date = self.table.index[len(self.table) // 2].strftime("%d %b").lstrip("0")
        return f"{self.place}, {date}, {self.energy_wh_m2:.0f} Wh/m² on the flat"


def find_day(weather: str, day: str) -> Day:
    """A day by name or date out of a known typical year or a person's own file.

    Parameters
    ----------
    weather : str
        "sand-point", "greensboro", or the path of a CSV with the columns time, ghi, temp_air.
    day : str
        "dull", "median", "bright" (5, 50 and 95 of 100 days bring less light), month-day such as "12-21", "only"
        for a file of a single day, or "all" for every row of it.

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
    if rows := kept(weather):
        return Day(_picked(rows.table(), day, rows.step_h), rows.place, rows.step_h, rows.position)
    if weather in TYPICAL_YEARS:
        table, place, position = typical_year(weather)
    elif Path(weather).suffix.lower() == ".csv" or Path(weather).exists():
        table, place, position = own_file(Path(weather))
    else:
        near = difflib.get_close_matches(weather, TYPICAL_YEARS, 1)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(TYPICAL_YEARS)}, or a path ending in .csv."
        raise ValueError(f"weather {weather!r} is not known; {hint}")
    step_h = _step_h(table, place)
    return Day(_picked(table, day, step_h), place, step_h, position)


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
            f"{place}: the time step changes from {by_day.min():.3g} to {by_day.max():.3g} h; it must be even. "
            f"{_first_uneven(hours, by_day[0])}."
        )
    return float(by_day[0])


def _first_uneven(hours: np.ndarray, step: float) -> str:
    """Between which rows the first step of another length lies; nights are none."""
    row = int(np.argmax((hours < 12) & ~np.isclose(hours, step, rtol=0.01))) + 1
    return f"The first other step follows row {row}"


def _picked(table: pd.DataFrame, day: str, step_h: float) -> pd.DataFrame:
    """The rows of the day asked for."""
    dates = table.index.date
    light = table["ghi"].groupby(dates).sum()
    if day == "only" and len(light) > 1:
        raise ValueError(
            f"this weather holds {len(light)} days; say which, {light.index[0]:%m-%d} to {light.index[-1]:%m-%d}, "
            "or dull, median, bright."
        )
    if day == "all":
        return table
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
