"""One table for terminal, telephone, notebook, forum and pandas: columns that know their unit and digits, and rows of
unrounded numbers. It rounds only what it prints.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from numbers import Real
from typing import TYPE_CHECKING, Any

from vanpower.results.numbers import known
from vanpower.results.verdict import hung, shortened

if TYPE_CHECKING:
    import pandas as pd

MOST_SHOWN = 60
# rows that a page shows; the others are counted below them; no source
NOTHING = "-"
# stands where there is no number
MARKS = re.compile(r"([\\`*_\[\]<>#|~])")
# what Markdown takes for marks
CELL, HEAD = "padding:0.15em 0.6em; vertical-align:top", "border-bottom:1px solid"
# how a cell of a page looks, and what a heading has more


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: what it is called, its unit, and how its numbers are said.

    Parameters
    ----------
    name, unit : str
        Together they stand over it; either may be empty.
    digits : int, optional
        Behind the point; as many as are known where it is not given, see `known`.
    parts : tuple of str
        Names in a mapping that is its value: one cell of words in print, a column each in HTML and pandas.
    head : str, optional
        What stands over it in print instead.
    width, gap : int
        Letters of a printed cell, at least, and blanks before it; as wide as what is in it where `width` is not given.
    left : bool
        Whether it begins at its left edge, as words do.
    say : callable, optional
        A value in words, for all that is shown.
    said : tuple of str
        The printed cells, row by row, where a value alone does not tell them; None for a row that is too small to show.
    aside : bool
        Whether it stands in HTML and pandas alone.
    alone : bool
        Whether its words, where it has any, take the place of all printed cells but the first.
    colours, marks : mapping of str to str
        A colour and a mark for each of its values, on a page; none where they are not given.

    Examples
    --------
    >>> Column(name="used", unit="Wh").label, Column(name="used", unit="Wh").words(387.46)
    ('used Wh', '387')
    >>> Column(name="cell", unit="°C", digits=1).words(float("nan"))
    '-'
    """

    name: str
    unit: str = ""
    digits: int | None = None
    parts: tuple[str, ...] = ()
    head: str | None = None
    width: int | None = None
    gap: int = 2
    left: bool = False
    say: Callable[[Any], str] | None = None
    said: tuple[str | None, ...] = ()
    aside: bool = False
    alone: bool = False
    colours: Mapping[str, str] = field(default_factory=dict)
    marks: Mapping[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """Name and unit."""
        return f"{self.name} {self.unit}".strip()

    @property
    def title(self) -> str:
        """What stands over it in print."""
        return self.label if self.head is None else self.head

    def words(self, value: Any) -> str:
        """A value as it is shown."""
        if self.say is not None:
            return self.say(value)
        return _number(value, self.digits)

    def each(self, value: Any) -> list[tuple[str, Any]]:
        """Labels and values of its parts, or its own."""
        if not self.parts:
            return [(self.label, value)]
        return [(f"{self.name}: {part}" if self.name else part, value.get(part)) for part in self.parts]

    def labels(self) -> list[str]:
        """What stands over it in pandas, and over its parts."""
        return [label for label, _ in self.each({})]


@dataclass(frozen=True, eq=False, repr=False)
class Table:
    """Rows of raw numbers under columns, and what has to be said of them.

    Parameters
    ----------
    columns : tuple of Column
        The first names the rows.
    rows : sequence of tuple
        A value for each column.
    note, remarks : str, tuple of str
        What stands below as it is, and before it what may break between words.
    above : str
        What stands above.
    headed : bool
        Whether the columns' names stand over a printed table.
    key : int
        How many columns name a row in pandas.

    Examples
    --------
    >>> columns = Column(name="wiring", left=True), Column(name="used", unit="Wh"), Column(name="full", digits=1)
    >>> table = Table(columns, [("2s", 1386.21, 0.3), ("2p", 49.96, None)], note="(a day)")
    >>> print(table)
    wiring  used Wh  full
    2s         1386   0.3
    2p         50.0     -
    (a day)
    >>> print(table.markdown())
    | wiring | used Wh | full |
    | :-- | --: | --: |
    | 2s | 1386 | 0.3 |
    | 2p | 50.0 | - |
    <BLANKLINE>
    (a day)
    >>> table.to_pandas()["used Wh"].tolist()
    [1386.21, 49.96]
    """

    columns: tuple[Column, ...]
    rows: Sequence[tuple[Any, ...]]
    note: str = ""
    above: str = ""
    headed: bool = True
    remarks: tuple[str, ...] = ()
    key: int = field(default=1, kw_only=True)

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        heads = ", ".join(column.label for column in self.columns)
        return shortened(f"Table: {counted(len(self.rows))} of {heads}")

    def text(self, width: int | None = None) -> str:
        """The table in plain lines, narrow enough for a telephone turned sideways.

        Parameters
        ----------
        width : int, optional
            Where lines break, each going on under its last column; they do not break where it is not given.
        """
        shown = [k for k, column in enumerate(self.columns) if not (column.aside or column.alone)]
        cells = [[self._printed(row, k) for k in shown] for row in self._shown]
        columns = [self.columns[k] for k in shown]
        widths = [
            max([len(column.title) * self.headed, *(len(line[k]) for line in cells)])
            if column.width is None
            else column.width
            for k, column in enumerate(columns)
        ]
        lines = [_laid_out(columns, widths, [column.title for column in columns], None)] if self.headed else []
        instead = [k for k, column in enumerate(self.columns) if column.alone]
        for row, line in zip(self._shown, cells, strict=True):
            why = "".join(self._printed(row, k) for k in instead)
            head = _padded(columns[0], widths[0], line[0]) + "  "
            lines.append(_broken(head, why, width) if why else _laid_out(columns, widths, line, width))
        lines += [_broken(said[:1], said[1:], width) for said in self.remarks]
        return "\n".join([*filter(None, [self.above]), *lines, *filter(None, [self.note])])

    def printed(self) -> tuple[list[str], list[list[str]]]:
        """What stands over its printed columns, and the printed cells of every row, for a page that lays them out.

        Examples
        --------
        >>> Table((Column(name="wiring", left=True), Column(name="", unit="W", width=7)), [("2s", 43.2)]).printed()
        (['wiring', 'W'], [['2s', '43.2']])
        """
        shown = [k for k, column in enumerate(self.columns) if not (column.aside or column.alone)]
        heads = [self.columns[k].title.strip() for k in shown]
        rows = [
            [self._printed(row, k).replace("\N{NO-BREAK SPACE}", " ").strip() for k in shown] for row in self._shown
        ]
        return heads, rows

    def _printed(self, row: int, k: int) -> str:
        """One printed cell."""
        column = self.columns[k]
        said = column.said[row] if column.said else None
        return column.words(self.rows[row][k]) if said is None else said

    @property
    def _shown(self) -> list[int]:
        """Rows that are shown."""
        return [row for row in range(len(self.rows)) if not any(c.said and c.said[row] is None for c in self.columns)]

    def _looks(self, row: int) -> list[tuple[str, str]]:
        """Style and mark of the cells of one row in a page."""
        found: list[tuple[str, str]] = []
        for k, column in enumerate(self.columns):
            value = self.rows[row][k]
            style = f"; color:{column.colours[value]}; font-weight:bold; white-space:nowrap" if column.colours else ""
            mark = f"{column.marks[value]}\N{NO-BREAK SPACE}" if column.marks else ""
            found += [(style, mark)] * len(column.labels())
        return found

    def _cells(self, row: int) -> list[str]:
        """The cells of one row in a page: every part of its own, in words."""
        found = []
        for k, column in enumerate(self.columns):
            parts = column.each(self.rows[row][k]) if column.parts else []
            found += [_number(value, column.digits) for _, value in parts] or [self._printed(row, k).strip()]
        return found

    @property
    def _labels(self) -> list[str]:
        """What stands over the columns of a page."""
        return [label for column in self.columns for label in column.labels()]

    @property
    def _left(self) -> list[bool]:
        """Which columns of a page begin at their left edge."""
        return [column.left and not column.parts for column in self.columns for _ in column.labels()]

    def _repr_html_(self) -> str:
        from html import escape

        rows, more = self._shown[:MOST_SHOWN], len(self._shown) - MOST_SHOWN
        aligned = [f"text-align:{'left' if left else 'right'}" for left in self._left]
        head = "".join(
            f"<th scope='col' style='{CELL}; {HEAD}; {side}'>{escape(label)}</th>"
            for label, side in zip(self._labels, aligned, strict=True)
        )
        body = "".join(
            "<tr>{}</tr>".format(
                "".join(
                    f"<td style='{CELL}; {side}{style}'>{mark}{escape(cell)}</td>"
                    for cell, side, (style, mark) in zip(self._cells(row), aligned, self._looks(row), strict=True)
                )
            )
            for row in rows
        )
        above = f"<p>{escape(self.above)}</p>" if self.above else ""
        notes = (f"{more} more rows" if more > 0 else "", *self.remarks, self.note)
        below = "".join(f"<p>{escape(' '.join(said.split()))}</p>" for said in notes if said)
        table = f"<table style='border-collapse:collapse'><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        return f"{above}<div style='overflow-x:auto'>{table}</div>{below}"

    def markdown(self) -> str:
        """The table for a board that reads Markdown; names cannot bring marks of their own."""
        lines = [self._labels, [":--" if left else "--:" for left in self._left]]
        told = [f"| {' | '.join(map(unmarked, lines[0]))} |", f"| {' | '.join(lines[1])} |"]
        told += [f"| {' | '.join(map(unmarked, self._cells(row)))} |" for row in self._shown]
        parts = (unmarked(self.above), "\n".join(told), *map(unmarked, self.remarks), unmarked(self.note))
        return "\n\n".join(filter(None, parts))

    def to_pandas(self, *, rounded: bool = False) -> pd.DataFrame:
        """The table as a DataFrame of raw numbers.

        Parameters
        ----------
        rounded : bool
            To the digits of the columns that have any, as files are written.
        """
        import pandas as pd

        rows = [
            [part for c, value in zip(self.columns, row, strict=True) for _, part in c.each(value)] for row in self.rows
        ]
        frame = pd.DataFrame({k: [row[k] for row in rows] for k in range(len(self._labels))})
        if rounded:
            digits = [column.digits for column in self.columns for _ in column.labels()]
            frame = frame.round({k: places for k, places in enumerate(digits) if places is not None})
        frame.columns = pd.Index(self._labels)
        names = self._labels[: self.key]
        return frame.set_index(names[0] if len(names) == 1 else names) if names else frame


def counted(rows: int) -> str:
    """How many rows there are, in words.

    Examples
    --------
    >>> counted(1), counted(12)
    ('1 row', '12 rows')
    """
    return "1 row" if rows == 1 else f"{rows} rows"


def unmarked(text: str) -> str:
    r"""Text in which Markdown finds no marks and no line breaks.

    Examples
    --------
    >>> print(unmarked("2p | *loud*"))
    2p \| \*loud\*
    """
    return MARKS.sub(r"\\\1", " ".join(text.split()))


def _number(value: Any, digits: int | None) -> str:
    """A number with its digits, a text as it stands, a dash for nothing."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or (isinstance(value, Real) and math.isnan(value)):
        return NOTHING
    if isinstance(value, Real):
        return known(float(value)) if digits is None else f"{value:.{digits}f}"
    return str(value)


def _padded(column: Column, width: int, cell: str) -> str:
    return f"{cell:{width}}" if column.left else f"{cell:>{width}}"


def _laid_out(columns: Sequence[Column], widths: Sequence[int], cells: Sequence[str], width: int | None) -> str:
    """One printed line; words in its last column break, and go on under it."""
    *before, last = [_padded(*of) for of in zip(columns, widths, cells, strict=True)]
    head = "".join(cell + " " * after.gap for cell, after in zip(before, columns[1:], strict=True))
    return _broken(head, last, width if columns[-1].left else None)


def _broken(head: str, said: str, width: int | None) -> str:
    """A line that breaks where it is too wide."""
    return hung(head, said.rstrip(), width).replace("\N{NO-BREAK SPACE}", " ").rstrip()
