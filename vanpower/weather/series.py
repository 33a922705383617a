"""Weather row by row: the form in which every reader returns it, gaps in it, and uneven steps."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import datetime

    import pandas as pd

LIGHT_WIND = 1.0
# [m/s] where no wind is known; common practice, no source
NICE_STEPS_S = np.array([1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 10800])
# [s] steps that uneven rows are averaged to: the next one at or above their usual distance
JITTER, JITTER_S = 1.5, 30.0
# a row later than this multiple of the usual step, and by more than so many seconds, leaves a gap; no source
LONGEST_STEP_H = 12.0
# [h] rows further apart make no day; no source
DAYS_A_YEAR, DAYS_A_MONTH = 330, 24
# [days] fewer are no year, fewer are no month of it, and its coldest or darkest may be missing; no source
MENDED_STEP_MIN, MENDED_MIN, MENDED_DAY_MIN = 5.0, 5.0, 15.0
# [min] longest step of a log in which what is missing is led in lines, longest gap, and most of a day; no source
AROUND_MIN = 30.0
# [min] before and behind a gap, whose lowest and highest light bound what it may have held: of all 19,250 gaps of one
# and of five minutes in seven measured days (Graz, 2017) one held more or less, and none of 700 days with three such
PARTIAL = 0.8
# share of the next day's rows below which the first or last date of a log counts as begun or broken off; no source


@dataclass(frozen=True, eq=False)
class WeatherSeries:
    """Weather row by row: one day, several, or a year.

    Parameters
    ----------
    table : DataFrame
        Columns ghi [W/m²], temp_air [°C], wind_speed [m/s] and perhaps dni and dhi [W/m²], indexed by local time; a
        row's time is the start of its step.
    place : str
        What titles call it.
    step_h : float
        Time between rows; 0 before it was determined. [h]
    position : (float, float), optional
        Latitude and longitude, north and east positive. [degrees]
    altitude_m : float
    notes : tuple of str
        What was left out, averaged or estimated.
    sun : DataFrame, optional
        Where the sun stands in the middle of each step, where that is known already; as `sun_at` gives it.

    Examples
    --------
    >>> import pandas as pd
    >>> hours = pd.DatetimeIndex(["2026-06-21 11:00", "2026-06-21 12:00"])
    >>> day = WeatherSeries(pd.DataFrame({"ghi": [600.0, 800.0], "temp_air": 20.0}, index=hours), "My roof", 1.0, None)
    >>> day.title
    'My roof, 21 Jun, 1400 Wh/m² on the flat'
    """

    table: pd.DataFrame
    place: str
    step_h: float
    position: tuple[float, float] | None
    altitude_m: float = 0.0
    notes: tuple[str, ...] = field(default=())
    sun: pd.DataFrame | None = None

    @property
    def energy_wh_m2(self) -> float:
        """Light on the flat over the day. [Wh/m²]"""
        return float(self.table["ghi"].sum() * self.step_h)

    @property
    def days(self) -> int:
        """How many dates it holds."""
        return int(self.table.index.normalize().nunique())

    @property
    def date(self) -> str:
        """The date of a single day, as in 21 Jun."""
        return str(self.table.index[len(self.table) // 2].strftime("%d %b").lstrip("0"))

    @property
    def title(self) -> str:
        """Place, date and light in a few words."""
        if self.days > 1:
            daily = self.energy_wh_m2 / 1000 / self.days
            return f"{self.place}, {self.days} days, {daily:.1f} kWh/m² a day on the flat"
        return f"{self.place}, {self.date}, {self.energy_wh_m2:.0f} Wh/m² on the flat"

    @property
    def lacks(self) -> str:
        """What keeps it from being a year, in words; empty where every month has nearly all of its days."""
        dates = np.unique(self.table.index.date)
        months = {month: sum(date.month == month for date in dates) for month in range(1, 13)}
        short = [month for month, days in months.items() if days < DAYS_A_MONTH]
        if not short and len(dates) >= DAYS_A_YEAR:
            return ""
        seen = sum(days > 0 for days in months.values())
        return f"{len(dates)} day{'s' * (len(dates) > 1)} in {seen} of 12 months"

    def noted(self, *notes: str) -> WeatherSeries:
        """The same with further notes."""
        return replace(self, notes=(*self.notes, *notes))


def regularised(day: WeatherSeries) -> WeatherSeries:
    """Rows at even steps: those whose distance wavers are averaged to a round step, and a note says so."""
    if len(day.table) < 2:
        raise ValueError(f"{day.place} has {len(day.table)} rows; a day needs at least two.")
    steps = _steps_s(day.table)
    within = steps[steps < 3600 * LONGEST_STEP_H]
    if not within.size:
        far = steps.min() / 3600
        raise ValueError(f"{day.place}: rows are {far:g} h apart; a day needs steps under {LONGEST_STEP_H:g} h.")
    usual = float(np.sort(within)[len(within) // 4])
    close = within[within <= _gap_s(usual)]
    if np.allclose(close, usual, rtol=0.01):
        return replace(day, step_h=usual / 3600)
    return _averaged(day, usual)


def with_gaps(day: WeatherSeries) -> dict[datetime.date, str]:
    """Dates on which rows or values are missing, and where."""
    index = day.table.index
    found: dict[datetime.date, str] = {}
    steps = _steps_s(day.table)
    for k in np.flatnonzero((steps > _gap_s(3600 * day.step_h)) & (index.date[1:] == index.date[:-1])):
        found.setdefault(index[k].date(), f"no rows from {index[k]:%H:%M} to {index[k + 1]:%H:%M}")
    for k in np.flatnonzero(day.table.isna().any(axis=1).to_numpy()):
        name = day.table.columns[int(np.argmax(day.table.iloc[k].isna().to_numpy()))]
        found.setdefault(index[k].date(), f"no {name} at {index[k]:%H:%M}")
    return found | _broken_off(index)


@dataclass(frozen=True)
class Mended:
    """What was led in lines on one date: minutes, and the light that it may be off by. [min, Wh/m²]"""

    minutes: float
    bound_wh_m2: float


def mended(day: WeatherSeries) -> tuple[WeatherSeries, dict[datetime.date, Mended]]:
    """Rows with a few missing minutes led in lines between their neighbours, and what that may cost on each date.

    Notes
    -----
    Up to 5 minutes in a row and 15 a day, where steps are 5 minutes or less; on a date with more nothing is touched.
    The light of a gap is taken to lie between the lowest and the highest within half an hour around it.

    Examples
    --------
    >>> import pandas as pd
    >>> minutes = pd.date_range("2026-06-21 11:00", periods=60, freq="min")
    >>> rows = pd.DataFrame({"ghi": range(500, 560), "temp_air": 20.0}, index=minutes)
    >>> whole = WeatherSeries(rows, "My roof", 1 / 60, None)
    >>> day, told = mended(replace(whole, table=whole.table.drop(minutes[30])))
    >>> float(day.table["ghi"].iloc[30]), [(one.minutes, round(one.bound_wh_m2, 1)) for one in told.values()]
    (530.0, [(1.0, 0.5)])
    """
    step_s = 3600 * day.step_h
    if not 0 < step_s <= 60 * MENDED_STEP_MIN:
        return day, {}
    table = _with_lacking(day.table, step_s)
    lacks = table.isna().any(axis=1).to_numpy()
    told = {
        date: found for date in np.unique(table.index.date[lacks]) if (found := _mend(table, lacks, date, step_s / 60))
    }
    kept = table.index.isin(day.table.index) | np.isin(table.index.date, list(told))
    return replace(day, table=table[kept]), told


def _with_lacking(table: pd.DataFrame, step_s: float) -> pd.DataFrame:
    """The rows with empty ones where some are missing between two of the same date."""
    import pandas as pd

    index = table.index
    count = np.round(_steps_s(table) / step_s).astype(int)
    short = (count > 1) & (count * step_s <= 60 * MENDED_MIN + 1.5 * step_s) & (index.date[1:] == index.date[:-1])
    more = [index[k] + pd.to_timedelta(np.arange(1, count[k]) * step_s, unit="s") for k in np.flatnonzero(short)]
    return table.reindex(index.append(more).sort_values()) if more else table


def _mend(table: pd.DataFrame, lacks: np.ndarray, date: datetime.date, step_min: float) -> Mended | None:
    """Lead the gaps of one date in lines, in place, where they are few and short."""
    rows = np.flatnonzero(table.index.date == date)
    runs = np.split(rows[lacks[rows]], np.flatnonzero(np.diff(rows[lacks[rows]]) > 1) + 1)
    longest = max(len(run) for run in runs) * step_min
    total = sum(len(run) for run in runs) * step_min
    at_an_end = lacks[rows[0]] or lacks[rows[-1]]
    if longest > MENDED_MIN or total > MENDED_DAY_MIN or at_an_end:
        return None
    known = rows[~lacks[rows]]
    columns = {name: table[name].to_numpy(float).copy() for name in table}
    for name, values in columns.items():
        values[rows] = np.interp(rows, known, values[known])
        table[name] = values
    light, around = columns["ghi"], round(AROUND_MIN / step_min)
    bound = 0.0
    for run in runs:
        near = known[(known >= run[0] - around) & (known <= run[-1] + around)]
        off = np.maximum(light[near].max() - light[run], light[run] - light[near].min())
        bound += float(off.sum()) * step_min / 60
    return Mended(total, bound)


def _broken_off(index: pd.DatetimeIndex) -> dict[datetime.date, str]:
    """The first and last date of a log of several days, where they have far fewer rows than their neighbour."""
    dates, counts = np.unique(index.date, return_counts=True)
    if len(dates) < 3:
        return {}
    ends = ((0, 1, "begins late"), (-1, -2, "breaks off"))
    return {dates[at]: f"the log {word} on it" for at, near, word in ends if counts[at] < PARTIAL * counts[near]}


def _steps_s(table: pd.DataFrame) -> np.ndarray:
    """Seconds between rows."""
    return np.diff(table.index.as_unit("ns").asi8) / 1e9


def _gap_s(usual: float) -> float:
    """Seconds between two rows from which something is missing."""
    return max(JITTER * usual, usual + min(JITTER_S, 10.0 * usual))


def _averaged(day: WeatherSeries, usual: float) -> WeatherSeries:
    """Wavering rows averaged to a round step; where a step holds no time at all of the log, it stays a gap.

    Each row holds until the next; a step's value is the mean over its time.
    """
    import pandas as pd

    step = int(NICE_STEPS_S[np.searchsorted(NICE_STEPS_S, min(usual, NICE_STEPS_S[-1]))])
    table = day.table
    steps = np.append(_steps_s(table), usual)
    held = np.where(steps <= _gap_s(usual), steps, usual)
    start = (table.index - table.index[0].floor(f"{step}s")).total_seconds().to_numpy()
    edges = np.arange(0.0, start[-1] + held[-1] + step, step)
    # time covered and value times time, summed up to each moment, read off at the edges of the steps
    knots = np.column_stack([start, start + held]).ravel()
    covered = _read(edges, knots, np.cumsum(np.column_stack([0 * held, held]).ravel()))
    there = np.diff(covered) > 0.5 * step
    means = {}
    for name in table.columns:
        amounts = table[name].to_numpy(float) * held
        total = _read(edges, knots, np.cumsum(np.column_stack([0 * held, amounts]).ravel()))
        means[name] = (np.diff(total) / np.maximum(np.diff(covered), 1e-9))[there]
    index = (table.index[0].floor(f"{step}s") + pd.to_timedelta(edges[:-1], unit="s"))[there]
    least = steps[:-1].min(initial=usual)
    told = f"rows {least:.3g} to {held.max():.3g} s apart were averaged to {step} s"
    return replace(day, table=pd.DataFrame(means, index=index), step_h=step / 3600).noted(told)


def _read(at: np.ndarray, knots: np.ndarray, sums: np.ndarray) -> np.ndarray:
    """A running sum between its knots; rows that overlap are taken in their order."""
    return np.interp(at, np.maximum.accumulate(knots), sums)
