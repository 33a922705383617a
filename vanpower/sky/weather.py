"""Weather row by row: what every reader hands over, and whether its rows are whole and even."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import datetime

    import pandas as pd

NICE_STEPS_S = np.array([1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 10800])
# [s] steps that uneven rows are averaged to: the next one at or above their usual distance
JITTER, JITTER_S = 1.5, 30.0
# a row later than this multiple of the usual step, and by more than so many seconds, leaves a gap; no source
LONGEST_STEP_H = 12.0
# [h] rows further apart make no day; no source
PARTIAL = 0.8
# share of the next day's rows below which the first or last date of a log counts as begun or broken off; no source


@dataclass(frozen=True, eq=False)
class Day:
    """Weather row by row: one day, several, or a year.

    Parameters
    ----------
    table : DataFrame
        ghi, temp_air, wind_speed and perhaps dni and dhi by local time; a row's time is the start of its step.
    place : str
        What titles call it.
    step_h : float
        Hours between rows; 0 before they were looked at.
    position : (float, float), optional
        Degrees north and east.
    altitude_m : float
    notes : tuple of str
        What was left out, averaged or estimated.
    sun : DataFrame, optional
        Where the sun stands in the middle of each step, where that is known already; as `sun_at` gives it.

    Examples
    --------
    >>> import pandas as pd
    >>> hours = pd.DatetimeIndex(["2026-06-21 11:00", "2026-06-21 12:00"])
    >>> day = Day(pd.DataFrame({"ghi": [600.0, 800.0], "temp_air": 20.0}, index=hours), "My roof", 1.0, None)
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
        return len(set(self.table.index.date))

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

    def noted(self, *notes: str) -> Day:
        """The same with further notes."""
        return replace(self, notes=(*self.notes, *notes))


def evened(day: Day) -> Day:
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


def with_gaps(day: Day) -> dict[datetime.date, str]:
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


def _averaged(day: Day, usual: float) -> Day:
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
