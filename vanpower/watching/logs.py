"""A log of watts summed up by days: watt-hours, highest watts and volts, and minutes in which the battery took all.

Where no stage is written, a battery whose volts have stood at their highest is full until dusk. Left out: what happened
between two rows, and panel volts that stand above those of the best power while a battery holds the array back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import TRIAL, bare, bared
from vanpower.files.tables import read_table

if TYPE_CHECKING:
    from typing import TypeAlias

    import pandas as pd

    Source: TypeAlias = str | Path | bytes | pd.DataFrame

Array = np.ndarray

AWAKE_W = 2.0
# [W] above which a controller counts as awake; its own draw is 1 to 2 W; from memory
LONGEST_H = 2.0
# [h] a row stands for no longer, whatever the gap behind it; no source
HELD_VOLTS = 0.004
# share within which battery volts count as held at their setting; a meter's last digits, no source
HELD_MIN = 5.0
# [minutes] for which they stand there before the battery counts as full; no source
BULK_WORDS = ("bulk", "main", "charging", "mpp", "haupt", "tracking")
FLOAT_WORDS = ("float", "erhalt", "storage")
HELD_WORDS = ("absor", "boost", "nachlad", "topping", "equal", *FLOAT_WORDS)
# parts of the trade's words for the stages
BINS = 48
# half hours of a day
BRIGHT, DULL, TOP = 0.35, (0.02, 0.12), 0.96
# share of the log's high watts above which rows count as bright, between which as dull, and of a day's highest bulk
# watts above which rows are its top; no source
FEWEST = 2
# rows of a kind from which a day's middle is taken


@dataclass(frozen=True, eq=False)
class LogDays:
    """What a log says of each day beyond what a controller remembers; rows in which the battery took all alone.

    Parameters
    ----------
    highs : ndarray (day, half hour)
        Highest watts by the clock; NaN where no row was free. [W]
    noon_h : float
        Clock time of the sun's noon, as first and last watts show it. [h]
    p_bright, v_bright, p_dull, v_dull, p_top, v_top : ndarray (day,)
        Middle watts and panel volts of bright rows, of dull ones, and of the brightest. [W, V]
    """

    highs: Array
    noon_h: float
    p_bright: Array
    v_bright: Array
    p_dull: Array
    v_dull: Array
    p_top: Array
    v_top: Array

    def only(self, index: Array | slice) -> LogDays:
        """Some of the days."""
        return LogDays(self.highs[index], self.noon_h, *(getattr(self, name)[index] for name in MIDDLES))


MIDDLES = ("p_bright", "v_bright", "p_dull", "v_dull", "p_top", "v_top")


def log_days(parts: Sequence[LogDays]) -> LogDays:
    """Several logs, one after the other."""
    noon = float(np.mean([part.noon_h for part in parts]))
    each = (np.concatenate([getattr(part, name) for part in parts]) for name in MIDDLES)
    return LogDays(np.concatenate([part.highs for part in parts]), noon, *each)


def is_log(names: Sequence[str], columns: Mapping[str, str]) -> bool:
    """Whether a file with these columns is a log of watts, and no history of days.

    Examples
    --------
    >>> is_log(["time", "PV power (W)", "battery V"], {}), is_log(["date", "yield Wh", "max power"], {})
    (True, False)
    """
    if "power" in columns:
        return True
    power = TRIAL.column("power")
    known = {bared(power.name), *power.words.split()}
    clock = {bared("time"), *TRIAL.column("time").words.split()}
    return any(bare(name) & known for name in names) and any(bare(name) & clock for name in names)


def daily_rows(
    source: Source, columns: Mapping[str, str], dates: str
) -> tuple[str, Array, dict[str, Array], LogDays | None, tuple[str, ...]]:
    """A log by days: its name, the dates, what is known of each, what its free rows say, and notes."""
    table = read_table(source, TRIAL, columns=columns)
    if not len(table):
        raise ValueError(f"{table.file} has a line of names and no rows; it needs both.")
    times = table.times(dates)
    if times.local is None or not times.dated:
        raise ValueError(f"{table.file} has no dates; a log that is watched over months writes a date in each row.")
    order = np.argsort(times.local, kind="stable")
    local = times.local[order]
    get = {name: table[name][order] if name in table else np.full(len(table), np.nan) for name in
           ("power", "v_array", "v_battery")}  # fmt: skip
    words = [table.texts("stage")[k].lower() for k in order] if "stage" in table else []
    step_h = _steps(local)
    days, of_day = np.unique(local.astype("datetime64[D]"), return_inverse=True)
    awake = np.nan_to_num(get["power"]) > AWAKE_W
    held, floats = _held(get["v_battery"], words, awake, of_day, step_h)
    values = _summed(get, step_h, of_day, len(days), (awake, held, floats), bool(words))
    hour = (local - local.astype("datetime64[D]")).astype("timedelta64[s]").astype(float) / 3600.0
    free = awake & ~held & ~floats
    # the row in which bulk ends is free for a part of it alone
    free[:-1] &= ~(held | floats)[1:] | (of_day[1:] != of_day[:-1])
    rows = _free_rows(get, hour + 0.5 * float(np.median(step_h)), free, awake, of_day, len(days))
    # where nothing says when the battery was full, no row is known to be free
    told = bool(words) or bool(np.isfinite(get["v_battery"]).any())
    return table.file, days, values, rows if told else None, times.notes


def _steps(local: Array) -> Array:
    """Hours each row stands for: until the next one, and no longer than twice the usual step."""
    gaps = np.diff(local).astype("timedelta64[s]").astype(float) / 3600.0
    usual = float(np.median(gaps)) if len(gaps) else 0.0
    return np.minimum(np.append(gaps, usual), min(2.0 * usual, LONGEST_H))


def _free_rows(get: Mapping[str, Array], hour: Array, free: Array, awake: Array, of_day: Array, count: int) -> LogDays:
    """What the free rows of each day say."""
    power, volts = np.nan_to_num(get["power"]), get["v_array"]
    flat = of_day[free] * BINS + np.minimum((2.0 * hour[free]).astype(int), BINS - 1)
    found = np.full(count * BINS, -np.inf)
    np.maximum.at(found, flat, power[free])
    highs = np.where(np.isfinite(found), found, np.nan).reshape(count, BINS)
    high = float(np.percentile(power[awake], 98)) if awake.any() else 1.0
    top = _highest(np.where(free, power, np.nan), of_day, count)[of_day]
    kinds = (power > BRIGHT * high, (power > DULL[0] * high) & (power < DULL[1] * high), power > TOP * top)
    middles = [_middles(value, free & kind & np.isfinite(volts), of_day, count) for kind in kinds
               for value in (power, volts)]  # fmt: skip
    return LogDays(highs, _noon(hour, awake, of_day), *middles)


def _middles(value: Array, rows: Array, of_day: Array, count: int) -> Array:
    """Median of some rows of each day; NaN where there are too few."""
    found = np.full(count, np.nan)
    for day in np.unique(of_day[rows]):
        of = _rows_of(of_day, day)
        some = value[of][rows[of]]
        if len(some) >= FEWEST:
            found[day] = np.median(some)
    return found


def _rows_of(of_day: Array, day: int) -> slice:
    """The rows of a day, which stand together."""
    return slice(int(np.searchsorted(of_day, day)), int(np.searchsorted(of_day, day, side="right")))


def _noon(hour: Array, awake: Array, of_day: Array) -> float:
    """Clock time in the middle between the first and the last watts of a day. [h]"""
    rows = np.flatnonzero(awake)
    if not len(rows):
        return 12.0
    first = np.unique(of_day[rows], return_index=True)[1]
    last = np.append(first[1:], len(rows)) - 1
    return float(np.median((hour[rows[first]] + hour[rows[last]]) / 2.0))


def _summed(
    get: Mapping[str, Array], step_h: Array, of_day: Array, count: int, rows: tuple[Array, Array, Array], told: bool
) -> dict[str, Array]:
    """Sums and highest values of each day."""
    power = np.maximum(np.nan_to_num(get["power"]), 0.0)
    awake, held, floats = rows
    minutes = 60.0 * step_h
    values = {
        "energy_wh": np.bincount(of_day, power * step_h, count),
        "p_high": _highest(power, of_day, count),
        "v_high": _highest(get["v_array"], of_day, count),
        "v_battery_high": _highest(get["v_battery"], of_day, count),
    }
    if told or np.isfinite(get["v_battery"]).any():
        values["bulk_min"] = np.bincount(of_day, minutes * (awake & ~held & ~floats), count)
        values["absorption_min"] = np.bincount(of_day, minutes * (awake & held & ~floats), count)
        values["float_min"] = np.bincount(of_day, minutes * (awake & floats), count)
    return values


def _held(v_battery: Array, words: Sequence[str], awake: Array, of_day: Array, step_h: Array) -> tuple[Array, Array]:
    """Rows in which the battery holds the array back, and those of them in float (row,)."""
    nothing = np.zeros(len(awake), bool)
    if words:
        told = np.array([any(part in word for part in HELD_WORDS) for word in words])
        return told, np.array([any(part in word for part in FLOAT_WORDS) for word in words])
    if not np.isfinite(v_battery).any():
        return nothing, nothing
    top = float(np.nanpercentile(v_battery, 99.5))
    at_top = awake & (v_battery >= top * (1.0 - HELD_VOLTS))
    # behind the first rows at the top of a day the battery is full, until dusk
    held = nothing.copy()
    for day in np.unique(of_day[at_top]):
        rows = np.flatnonzero(of_day == day)
        there = rows[at_top[rows]]
        if 60.0 * step_h[there].sum() >= HELD_MIN:
            held[rows[rows >= there[0]]] = True
    return held & awake, nothing


def _highest(value: Array, of_day: Array, count: int) -> Array:
    """Highest value of each day; NaN where it has none."""
    found = np.full(count, -np.inf)
    np.maximum.at(found, of_day, np.where(np.isfinite(value), value, -np.inf))
    return np.where(np.isfinite(found), found, np.nan)
