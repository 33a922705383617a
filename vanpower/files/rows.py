"""Rows of cells out of a file's bytes, so many at once: delimiter, quotes, rows that end early."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

import numpy as np

from vanpower.files.columns import LONGEST_SHOWN, Form
from vanpower.rig import printable

BLOCK = 1 << 19
# [bytes] taken apart at once
DELIMITERS = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas"}
# tried in this order: a comma may also be a decimal sign
BLANKS = " "
NOTHING = " \t\v\f;|,\xa0"
# what a line without anything in it holds: spreadsheets save empty rows as delimiters alone
DATE_AND_CLOCK = re.compile(r"^(\d[\d./-]*)\s+(\d{1,2}:\d\S*)")
# at the start of a row that is parted by blanks


@dataclass(frozen=True, eq=False)
class Block:
    """Some rows: the line of each, and their cells one after the other.

    Examples
    --------
    >>> Block(np.array([2, 3]), ["a", "b", "c", "d"], 2).column(1)
    ['b', 'd']
    """

    lines: np.ndarray
    cells: list[str]
    width: int

    def column(self, number: int) -> list[str]:
        """The cells of one column."""
        return self.cells[number :: self.width]


@dataclass(frozen=True)
class Splitter:
    """What takes lines apart into as many cells as there are names."""

    file: str
    form: Form
    sign: str
    width: int

    def blocks(self, held: bytes, encoding: str, at: int, line: int) -> Iterator[Block]:
        """Rows of a file from a byte on, which begins a line of that number."""
        count = 0
        while at < len(held):
            end = held.rfind(b"\n", at, at + BLOCK) + 1 if len(held) - at > BLOCK else len(held)
            end = end or (held.find(b"\n", at) + 1 or len(held))
            lines = held[at:end].decode(encoding).removesuffix("\n").split("\n")
            block = self._at_once(lines, line) or self._one_by_one(lines, line)
            count += len(block.lines)
            if count > self.form.most_rows:
                more = f"has more than {self.form.most_rows} rows; more are not read."
                raise ValueError(f"{self.file} {more} {self.form.shorter}")
            if len(block.lines):
                yield block
            at, line = end, line + len(lines)

    def _at_once(self, lines: list[str], first: int) -> Block | None:
        """Lines of which each has as many cells as there are names, without quotes, remarks or empty rows."""
        text, signs = self.sign.join(lines), self.width - 1
        odd = self.sign == BLANKS or '"' in text or "#" in text or self.sign * signs in lines
        if odd or {line.count(self.sign) for line in lines} != {signs}:
            return None
        return Block(np.arange(first, first + len(lines)), text.split(self.sign), self.width)

    def _one_by_one(self, lines: list[str], first: int) -> Block:
        """Lines of any make."""
        rows = [(number, line.strip(BLANKS)) for number, line in enumerate(lines, first) if line.strip(NOTHING)]
        rows = [(number, line) for number, line in rows if not line.startswith("#")]
        cells = list(chain.from_iterable(self._row(line, number) for number, line in rows))
        return Block(np.array([number for number, _ in rows], dtype=int), cells, self.width)

    def _row(self, line: str, number: int) -> list[str]:
        """The cells of one line."""
        spot = f"{self.file}, line {number}"
        row = split(line, self.sign, spot)
        return row if len(row) == self.width else _evened(row, line, self.width, self.sign, self.form, spot)


def lines_of(held: bytes, encoding: str) -> Iterator[tuple[int, int, str]]:
    """Lines with anything in them: their number, the byte behind each, and the text."""
    at, number = 0, 0
    while at < len(held):
        behind = held.find(b"\n", at)
        behind = len(held) if behind < 0 else behind
        number += 1
        line = held[at:behind].decode(encoding).strip(BLANKS)
        if line.strip(NOTHING):
            yield number, behind + 1, line
        at = behind + 1


def delimiter_of(lines: list[str]) -> str:
    """What parts the cells: the first sign that stands equally often in every line; blanks where none does.

    Examples
    --------
    >>> delimiter_of(["a;b", "1,5;2"]), delimiter_of(["a,b", "1.5,2"]), delimiter_of(["a b", "1 2"])
    (';', ',', ' ')
    """
    lines = [line for line in lines if not line.startswith("#")]
    for sign in DELIMITERS:
        if sign not in lines[0]:
            continue
        counts = {len(next(csv.reader([line], delimiter=sign))) for line in lines}
        if len(counts) == 1 and counts != {1}:
            return sign
    often = max(DELIMITERS, key=lambda sign: lines[0].count(sign))
    return often if often in lines[0] else BLANKS


def split(line: str, sign: str, spot: str) -> list[str]:
    """The cells of a line."""
    if sign == BLANKS:
        return line.split()
    if '"' not in line:
        return line.split(sign)
    try:
        return next(csv.reader([line], delimiter=sign, skipinitialspace=True, strict=True))
    except csv.Error:
        raise ValueError(f"{spot}: {shown(line)!r}; a quote is opened and never closed.") from None


def _evened(row: list[str], line: str, needs: int, sign: str, form: Form, spot: str) -> list[str]:
    """A row of more or fewer cells than names, where nothing is lost by evening it; else it is refused."""
    while len(row) > needs and not row[-1].strip():
        row = row[:-1]
    if sign == BLANKS and len(row) == needs + 1 and DATE_AND_CLOCK.match(line):
        return [f"{row[0]} {row[1]}", *row[2:]]
    if form.filled and len(row) < needs:
        return row + [""] * (needs - len(row))
    if len(row) == needs:
        return row
    slip = "Is a value missing?" if len(row) < needs else "Is there one too many?"
    if sign == "," and len(row) > needs:
        slip = "Decimal commas need another delimiter, such as ;. Else write decimals with a point."
    if sign == BLANKS:
        slip = "Write a time without a blank, or part the cells by ;."
    raise ValueError(
        f"{spot}: {shown(line)!r} has {len(row)} cells and the line of names {needs}, parted by "
        f"{DELIMITERS.get(sign, 'blanks')}. {slip}"
    )


def shown(text: str) -> str:
    """A text cut to a line's length, without letters that steer a terminal."""
    plain = printable(text[: LONGEST_SHOWN + 1])
    return plain if len(plain) <= LONGEST_SHOWN else f"{plain[:LONGEST_SHOWN]}..."
