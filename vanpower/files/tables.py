"""One reader for every table a person hands in: numbers, texts and times by the kit's names for their columns.

What is told from the file (encoding, delimiter, decimal sign, form of time) is a note. A value that cannot be is
refused with file, line, column, value, what would make sense and the likely slip; nothing is filled in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import NUMBERS, TEXTS, Column, Form, places_of
from vanpower.files.reading import Cells, cells_of
from vanpower.files.rows import Block, shown
from vanpower.files.times import Times, times_of
from vanpower.files.units import AS_USUAL, Unit, plain, unit_of

if TYPE_CHECKING:
    import pandas as pd

Array = np.ndarray

EMPTY = frozenset(("", "-", "--", "nan", "na", "n/a", "none", "null", "nat"))
# what a cell says where nothing was read, in small letters
PLAIN = re.compile(r"[0-9.,+\- ]*")
# what numbers hold as programs write them
NUMBER = re.compile(r"([-+−]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][-+−]?[0-9]{1,3})?)\s*([^\s0-9].*)?")
# a number as people write it, perhaps with its unit behind it
GROUPED = re.compile(r"[-+−]?[1-9][0-9]{0,2}([.,])[0-9]{3}(?:\s.*)?")
# a number whose sign may stand between thousands
SEPARATED = re.compile(r"[0-9][.,'][0-9]{3}[.,']")
# one in which a sign does
LOOKED_AT = 2000
# rows by which the decimal sign is told
LONGEST_CELL = 200
# letters of a text or a time; no source


@dataclass(frozen=True, eq=False)
class Table:
    """A table by the kit's names for its columns.

    Parameters
    ----------
    file : str
        What messages call it.
    form : Form
    names : tuple of str
        Of its columns, as the file has them.
    place : dict of str to int
        Which of them holds what.
    lines : ndarray of int
        On which line each row stands (row,).
    columns : dict of str to ndarray or tuple of str
        Numbers with NaN for gaps, texts as they stand.
    said : dict of str to str
        What lines at the top say: "# time_zone: Europe/Oslo".
    unread : tuple of str
        Columns of the file that nothing was read from.
    notes : tuple of str
        What was told from the file: encoding, delimiter, decimal sign.

    Examples
    --------
    >>> from vanpower.files.columns import WEATHER
    >>> rows = "time;ghi (kW/m²);temp_air;mood\\n31.05.2026 10:00;0,5;20;fine\\n31.05.2026 11:00;;21;"
    >>> table = read_table(rows, WEATHER)
    >>> table["ghi"], table.unread, table.notes
    (array([500.,  nan]), ('mood',), ('parted by semicolons', 'decimals with a comma'))
    >>> str(table.times().local[1])
    '2026-05-31T11:00:00.000000'
    """

    file: str
    form: Form
    names: tuple[str, ...]
    place: Mapping[str, int]
    lines: Array
    columns: Mapping[str, Array | tuple[str, ...]]
    said: Mapping[str, str]
    unread: tuple[str, ...]
    notes: tuple[str, ...]
    counted: str = "line"

    def __len__(self) -> int:
        return len(self.lines)

    def __contains__(self, name: str) -> bool:
        return name in self.place

    def __getitem__(self, name: str) -> Array:
        """Numbers of a column, NaN for gaps (row,)."""
        values = self.columns[name]
        assert isinstance(values, np.ndarray)
        return values

    def texts(self, name: str) -> tuple[str, ...]:
        """Texts of a column (row,)."""
        values = self.columns[name]
        assert isinstance(values, tuple)
        return values

    def times(self, dates: str = "") -> Times:
        """Times of the rows, whichever of the usual forms they are written in.

        Parameters
        ----------
        dates : str
            "day first" or "month first" where dates are written with slashes; else the file tells, or its line
            "# dates: day first".
        """
        return times_of(self, dates)

    def spot(self, row: int, name: str) -> str:
        """Where a cell stands, as messages say it."""
        return f"{self.file}, {self.counted} {self.lines[row]}, column {self.names[self.place[name]]!r}"


def read_table(
    source: str | Path | bytes | pd.DataFrame,
    form: Form,
    *,
    columns: Mapping[str, str] | None = None,
    name: str = "",
) -> Table:
    """A table of some form, out of a path, bytes, a text with line breaks, or a pandas DataFrame.

    Parameters
    ----------
    source : path, bytes, str or DataFrame
    form : Form
        Which columns it may hold, and how large it may be.
    columns : mapping, optional
        What columns are called where the names are not recognised: {"power": "Panel output"}.
    name : str
        What messages call it; else the name of the file.

    Raises
    ------
    ValueError
        File, line, column, value, what would make sense, and the likely slip.

    Examples
    --------
    >>> from vanpower.files.columns import TRIAL
    >>> table = read_table("Zeit|Leistung (kW)\\n10:00|0.1\\n10:05|0.12", TRIAL)
    >>> table["power"], table.times().minutes
    (array([100., 120.]), array([0., 5.]))
    """
    cells = cells_of(source, form, name)
    place = places_of(cells.names, form, cells.file, _named(cells, form) | dict(columns or {}))
    taken = {name: form.column(name) for name in place}
    return _Reader(cells, form, place, taken).table()


def _named(cells: Cells, form: Form) -> dict[str, str]:
    """What lines at the top say that columns are called."""
    known = {column.name for column in form.columns if column.holds != TEXTS} if form.heads else set()
    return {word: value for word, value in cells.said.items() if word in known}


@dataclass(eq=False)
class _Reader:
    """Rows made columns, so many at once: texts are kept, and numbers are numbers at once, which takes less room."""

    cells: Cells
    form: Form
    place: Mapping[str, int]
    taken: Mapping[str, Column]

    def table(self) -> Table:
        numbers = [column for column in self.taken.values() if column.holds == NUMBERS]
        texts = [column for column in self.taken.values() if column.holds != NUMBERS]
        units = {one.name: self._unit(one) for one in numbers}
        found: dict[str, list[Array]] = {one.name: [] for one in numbers}
        kept: dict[str, list[str]] = {one.name: [] for one in texts}
        once: dict[str, str] = {}
        lines: list[Array] = []
        decimal = ""
        for block in self.cells.blocks:
            decimal = decimal or self._decimal(block, numbers)
            for column in texts:
                cells = [cell.strip() for cell in block.column(self.place[column.name])]
                self._check_texts(cells, column, block.lines)
                kept[column.name] += [once.setdefault(cell, cell) for cell in cells] if column.holds == TEXTS else cells
            for column in numbers:
                cells = block.column(self.place[column.name])
                found[column.name].append(self._numbers(cells, column, units[column.name], decimal, block.lines))
            lines.append(block.lines)
        if decimal == ",":
            self.cells.notes.append("decimals with a comma")
        return Table(
            self.cells.file,
            self.form,
            self.cells.names,
            self.place,
            np.concatenate(lines) if lines else np.array([], dtype=int),
            {name: np.concatenate(parts) if parts else np.array([]) for name, parts in found.items()}
            | {name: tuple(cells) for name, cells in kept.items()},
            self.cells.said,
            tuple(named for k, named in enumerate(self.cells.names) if k not in self.place.values()),
            tuple(self.cells.notes),
            self.cells.counted,
        )

    def _spot(self, line: int, column: Column) -> str:
        return f"{self.cells.file}, {self.cells.counted} {line}, column {self._named(column)!r}"

    def _named(self, column: Column) -> str:
        return self.cells.names[self.place[column.name]]

    def _unit(self, column: Column) -> Unit:
        """What the numbers of a column count, by its name in the file."""
        named = self._named(column)
        if named == column.name or not column.units:
            return AS_USUAL
        return unit_of(named, column.name, column.unit, column.units, self.cells.file)

    def _check_texts(self, cells: list[str], column: Column, lines: Array) -> None:
        """Refuse a text without an end."""
        longest = max(map(len, cells))
        if longest > LONGEST_CELL:
            line = int(lines[list(map(len, cells)).index(longest)])
            raise ValueError(f"{self._spot(line, column)} has {longest} letters; up to {LONGEST_CELL} make sense.")

    def _decimal(self, block: Block, numbers: list[Column]) -> str:
        """The sign before decimals: that of most numbers of which it cannot stand between thousands."""
        signs = {".": 0, ",": 0}
        for column in numbers:
            for cell in map(str.strip, block.column(self.place[column.name])[:LOOKED_AT]):
                sign = "," if "," in cell else "."
                if sign in cell and NUMBER.fullmatch(cell) and not GROUPED.fullmatch(cell):
                    signs[sign] += 1
        return max(signs, key=lambda sign: signs[sign]) if any(signs.values()) else ""

    def _numbers(self, cells: list[str], column: Column, unit: Unit, decimal: str, lines: Array) -> Array:
        """Cells as numbers in the usual unit; NaN where they are empty."""
        values = _at_once(cells, decimal)
        if values is None:
            pairs = zip(cells, lines, strict=True)
            values = np.array([self._number(cell.strip(), column, unit, decimal, line) for cell, line in pairs])
        values = unit.usual(values)
        bad = np.flatnonzero(~((values >= column.least) & (values <= column.most)) & ~np.isnan(values))
        if len(bad):
            line, value = int(lines[bad[0]]), float(values[bad[0]])
            said = shown(cells[bad[0]].strip())
            raise ValueError(f"{self._spot(line, column)}: {said!r}; {column.sense} makes sense.{column.slip(value)}")
        return values

    def _number(self, cell: str, column: Column, unit: Unit, decimal: str, line: int) -> float:
        """One cell as a number in the unit of its column, decimal comma or point, its unit behind it or not."""
        if cell.lower() in EMPTY:
            return float("nan")
        found = NUMBER.fullmatch(cell)
        own = column.units.get(plain(found[2])) if found and found[2] else AS_USUAL
        if not found or own is None:
            raise ValueError(f"{self._spot(line, column)}: {_no_number(cell, column)}")
        if not unit.is_usual and own is not AS_USUAL:
            raise ValueError(
                f"{self._spot(line, column)}: {shown(cell)!r} has a unit of its own, and the column's name says "
                f"{unit.name}."
            )
        grouped = GROUPED.fullmatch(cell)
        if grouped and (decimal not in ("", grouped[1]) or grouped[1] == self.cells.parted):
            raise ValueError(
                f"{self._spot(line, column)}: {shown(cell)!r} may be thousands or decimals. Leave out the sign between "
                "thousands, and write decimals alike in every row."
            )
        return own.usual(float(found[1].replace(",", ".").replace("−", "-")))


def _at_once(cells: list[str], decimal: str) -> Array | None:
    """Cells as numbers where all are written as programs write them, with one sign before decimals; else None."""
    text = "".join(cells)
    other = "." if decimal == "," else ","
    if other in text or not PLAIN.fullmatch(text):
        return None
    cells = [cell.replace(",", ".") for cell in cells] if decimal == "," else cells
    try:
        return np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        return None


def _no_number(cell: str, column: Column) -> str:
    """What to say of a cell that is no number."""
    more = " Leave out the sign between thousands." if SEPARATED.search(cell) else ""
    unit = f" in {column.unit}" if column.unit else ""
    how = "leave the cell empty where nothing was read" if column.unit else "write it plainly, without what it counts"
    return f"{shown(cell)!r} is no number{unit}; {how}.{more}"
