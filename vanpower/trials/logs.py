"""A field log as arrays: what was measured in each row and which wiring it belongs to.

Reads CSV files of loggers and phones, rows typed by hand, and DataFrames. Nothing is filled in: what a row does not say
is NaN, and a value that cannot be is refused with its line. Left out: joining several files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import NUMBERS, TRIAL, listed
from vanpower.files.tables import Table, read_table
from vanpower.files.times import Times, check_rising
from vanpower.rig import printable
from vanpower.trials.blocks import spans_of

if TYPE_CHECKING:
    import pandas as pd

Array = np.ndarray

MEASURED = tuple(column.name for column in TRIAL.columns if column.holds == NUMBERS)
# what is measured in a row, as numbers
AS_IT_IS = "as it is"
# the wiring of pilot rows that name none
FEWEST_ROWS = 6
# rows below which there is nothing to weigh; no source


@dataclass(frozen=True, eq=False)
class Log:
    """Rows of a field trial in the order of time, every array (row,); NaN where something was not measured.

    Parameters
    ----------
    name : str
        Where the rows come from.
    minutes : ndarray
        Since the first row; where the log counts plain minutes, these.
    wiring : ndarray of str
        What was wired in each row, in the words of the log.
    power : ndarray
        [W]
    light : ndarray
        On the panels' plane; only its ratios count. [W/m²]
    temp : ndarray
        Back of a panel. [°C]
    v_battery, i_battery, v_array : ndarray
        [V, A, V]
    i_spare : ndarray
        Short-circuit amps of a spare panel lying beside the others. [A]
    stage : ndarray of str
        Charge stage as the log says it, empty where it does not.
    before : str
        The wiring that was there first.
    start : datetime, optional
        Clock time of the first row.
    light_from : str
        Where the light comes from.
    unread : tuple of str
        Columns of the file that nothing was read from.
    notes : tuple of str
        What was told from the file about its times.

    Examples
    --------
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> len(log), log.order, log.has("light"), log.has("v_array")
    (40, 'A-B-A', True, False)
    """

    name: str
    minutes: Array
    wiring: Array
    power: Array
    light: Array
    temp: Array
    v_battery: Array
    i_battery: Array
    v_array: Array
    i_spare: Array
    stage: Array
    before: str
    start: datetime | None = None
    light_from: str = "a light sensor"
    unread: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.minutes)

    def has(self, field: str) -> bool:
        """Whether any row says something in this field."""
        values = getattr(self, field)
        return bool((values != "").any() if values.dtype.kind == "U" else np.isfinite(values).any())

    def rows(self, index: Array) -> Log:
        """Some of the rows."""
        kept = {name: getattr(self, name)[index] for name in ("minutes", "wiring", "stage", *MEASURED)}
        return replace(self, **kept)

    @property
    def after(self) -> str:
        """The wiring that was tried."""
        return str(next(word for word in self.wiring if word != self.before))

    @property
    def is_after(self) -> Array:
        """Whether a row has the new wiring (row,)."""
        return self.wiring != self.before

    @property
    def block(self) -> Array:
        """Number of the block a row belongs to, counted from 0; a block ends where the wiring changes (row,)."""
        return np.concatenate([[0], np.cumsum(self.wiring[1:] != self.wiring[:-1])])[: len(self)]

    @property
    def order(self) -> str:
        """The blocks in their order, such as A-B-A: A is the wiring that was there first."""
        _, first = np.unique(self.block, return_index=True)
        return "-".join("B" if self.is_after[row] else "A" for row in first)


def read_log(
    source: str | Path | bytes | pd.DataFrame,
    *,
    columns: Mapping[str, str] | None = None,
    blocks: str = "",
    dates: str = "",
    before: str = "",
    pilot: bool = False,
) -> Log:
    """The log of a field trial from a file, typed rows or a DataFrame, with any usual delimiter and form of time.

    Parameters
    ----------
    source : path, bytes, str or DataFrame
        A str with line breaks is the log itself, as one types it: a line of column names, then a line for each row,
        values parted by blanks or as in a file. A str without is the path of a file. A DataFrame's index of times
        counts as its column time.
    columns : mapping, optional
        Quantity to the name of its column, where that is not recognised: {"power": "Panel output"}.
    blocks : str
        When each wiring was in use, where no column says so: "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20".
    dates : str
        "day first" or "month first" where dates are written with slashes.
    before : str
        The wiring that was there first; else that of the first row.
    pilot : bool
        For `plan_trial` and `stuck_tracker_in`: rows of one wiring will do, and no column has to name it.

    Returns
    -------
    Log

    Raises
    ------
    ValueError
        File, line, column, value, what would make sense, and the likely slip.

    Examples
    --------
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> log.before, log.after
    ('2p', '2s')
    >>> log = read_log('''minutes wiring watts light
    ...     0  2p 100 500
    ...     5  2p 104 520
    ...     20 2s 111 540
    ...     25 2s 114 560
    ...     40 2p 116 580
    ...     45 2p 120 600''')
    >>> log.order, log.after
    ('A-B-A', '2s')
    """
    table = read_table(source, TRIAL, columns=columns)
    return _log(table, blocks, dates, before, pilot)


def _log(table: Table, blocks: str, dates: str, before: str, pilot: bool) -> Log:
    """Rows of a table as arrays."""
    name = table.file
    if not len(table):
        raise ValueError(f"{name} has a line of names and no rows; it needs both.")
    times = _times(table, dates)
    values = {field: table[field] if field in table else np.full(len(table), np.nan) for field in MEASURED}
    if not np.isfinite(values["power"]).any():
        raise ValueError(f"{name} has no watts in any row; the column {table.names[table.place['power']]!r} is empty.")
    words = {field: _words(table, field) for field in ("wiring", "stage")}
    if blocks:
        words["wiring"] = spans_of(blocks, times.minutes, times.start)
    elif pilot and "wiring" not in table:
        words["wiring"] = np.full(len(table), AS_IT_IS)
    elif "wiring" not in table:
        raise ValueError(
            f"{name} has no column that says which wiring a row belongs to; it has {listed(table.names)}. Name it, "
            'or give the times of the blocks, such as "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20".'
        )
    inside = words["wiring"] != ""
    if inside.sum() < FEWEST_ROWS:
        raise ValueError(f"{name} has {inside.sum()} rows inside blocks; a trial needs at least {FEWEST_ROWS}.")
    found = {key: array[inside] for key, array in {"minutes": times.minutes, **values, **words}.items()}
    return Log(
        name=name,
        **found,
        before=_before(found["wiring"], before, name, pilot),
        start=times.start,
        unread=table.unread,
        notes=times.notes,
    )


def _before(wiring: Array, before: str, name: str, pilot: bool) -> str:
    """The wiring that was there first; there must be two in all."""
    known = list(dict.fromkeys(map(str, wiring)))
    if len(known) != 2 and not (pilot and len(known) == 1):
        hint = " A trial compares two; cut the log." if len(known) > 2 else " Without a second one nothing is compared."
        shown = ", ".join(known[:6])
        raise ValueError(f"{name}: the wirings are {shown}; a trial has two of them, written alike in every row.{hint}")
    if before and before not in known:
        raise ValueError(f"{name}: {before!r} is no wiring of this log; it has {' and '.join(known)}.")
    return before or known[0]


def _times(table: Table, dates: str) -> Times:
    """Times of the rows, which must rise."""
    times = table.times(dates)
    check_rising(table, times.minutes, dated=times.dated)
    return times


def _words(table: Table, field: str) -> Array:
    """One column of words; empty where the file has none."""
    if field not in table:
        return np.full(len(table), "", dtype="U1")
    return np.array([printable(text) for text in table.texts(field)])


__all__ = ["FEWEST_ROWS", "MEASURED", "Log", "read_log"]
