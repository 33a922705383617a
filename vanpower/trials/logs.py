"""A field log as arrays: what was measured in each row and which wiring it belongs to.

Reads CSV files of loggers and phones, and rows typed by hand. Nothing is filled in: what a row does not say is NaN, and
a value that cannot be is refused with its line. Left out: joining several files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np

from vanpower.rig import printable
from vanpower.trials.blocks import spans_of
from vanpower.trials.columns import FIELDS, MEASURED, named_columns, number_of
from vanpower.trials.text import Table, cells_of, log_text
from vanpower.trials.times import minutes_of
from vanpower.trials.units import unit_of

Array = np.ndarray

MOST_ROWS = 200_000
# rows of a log that are read: more than a day of seconds; no source
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

    Examples
    --------
    >>> from vanpower.files import data_folder
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
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    blocks: str = "",
    dates: str = "",
    before: str = "",
    pilot: bool = False,
) -> Log:
    """The log in a CSV file, whatever its delimiter, its decimal sign and the form of its times.

    Parameters
    ----------
    columns : mapping, optional
        What the columns are called in this file where the names are not recognised: {"power": "Panel output"}.
    blocks : str
        When each wiring was in use, where no column says so: "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20".
    dates : str
        "day first" or "month first" where dates are written with slashes.
    before : str
        The wiring that was there first; else that of the first row.
    pilot : bool
        For planning: rows of one wiring will do, and no column has to name it.

    Raises
    ------
    ValueError
        File, line, column, value, what would make sense, and the likely slip.

    Examples
    --------
    >>> from vanpower.files import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> log.before, log.after
    ('2p', '2s')
    """
    path = Path(path)
    return _log(log_text(path), printable(path.name), columns or {}, blocks, dates, before, pilot)


def typed_log(
    text: str,
    *,
    columns: Mapping[str, str] | None = None,
    blocks: str = "",
    dates: str = "",
    before: str = "",
    pilot: bool = False,
) -> Log:
    """A log typed by hand: a line of names, then a line for each row, parted by blanks or as in a file.

    Examples
    --------
    >>> log = typed_log('''minutes wiring watts light
    ...     0  2p 100 500
    ...     5  2p 104 520
    ...     20 2s 111 540
    ...     25 2s 114 560
    ...     40 2p 116 580
    ...     45 2p 120 600''')
    >>> log.order, log.after
    ('A-B-A', '2s')
    """
    return _log(text, "typed rows", columns or {}, blocks, dates, before, pilot)


def _log(text: str, name: str, columns: Mapping[str, str], blocks: str, dates: str, before: str, pilot: bool) -> Log:
    """Rows of text as arrays."""
    table = cells_of(text, name, MOST_ROWS)
    place = named_columns(table.names, name, columns)
    minutes, start = minutes_of(table, place, dates)
    values = {field: _numbers(table, place, field) for field in MEASURED}
    if not np.isfinite(values["power"]).any():
        raise ValueError(f"{name} has no watts in any row; the column {table.names[place['power']]!r} is empty.")
    words = {field: _words(table, place, field) for field in ("wiring", "stage")}
    if blocks:
        words["wiring"] = spans_of(blocks, minutes, start)
    elif pilot and "wiring" not in place:
        words["wiring"] = np.full(len(minutes), AS_IT_IS)
    elif "wiring" not in place:
        raise ValueError(
            f"{name} has no column that says which wiring a row belongs to; it has {', '.join(table.names)}. Name it, "
            'or give the times of the blocks, such as "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20".'
        )
    inside = words["wiring"] != ""
    if inside.sum() < FEWEST_ROWS:
        raise ValueError(f"{name} has {inside.sum()} rows inside blocks; a trial needs at least {FEWEST_ROWS}.")
    found = {key: array[inside] for key, array in {"minutes": minutes, **values, **words}.items()}
    unread = tuple(named for k, named in enumerate(table.names) if k not in place.values())
    return Log(name=name, **found, before=_before(found["wiring"], before, name, pilot), start=start, unread=unread)


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


def _numbers(table: Table, place: Mapping[str, int], field: str) -> Array:
    """One measured column; NaN where the file has none or the cell is empty."""
    if field not in place:
        return np.full(len(table.rows), np.nan)
    column = place[field]
    counts = unit_of(table.names[column], field, table.file)
    return np.array([number_of(row[column], field, table.spot(k, column), counts) for k, row in enumerate(table.rows)])


def _words(table: Table, place: Mapping[str, int], field: str) -> Array:
    """One column of words; empty where the file has none."""
    if field not in place:
        return np.full(len(table.rows), "", dtype="U1")
    return np.array([row[place[field]] for row in table.rows])


__all__ = ["FEWEST_ROWS", "FIELDS", "MOST_ROWS", "Log", "read_log", "typed_log"]
