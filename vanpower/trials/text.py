"""From a file to rows of cells: encoding, delimiter, quotes; each way that fails is told in plain words."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from vanpower.rig import printable

LARGEST_LOG = 20_000_000
# [bytes] more than a day of seconds with ten columns; no source
MOST_COLUMNS, LONGEST_CELL = 80, 200
# columns of a log, and characters in a cell; no source
LONGEST_LINE = MOST_COLUMNS * LONGEST_CELL
# [characters]
MOST_CELLS = 2_000_000
# of a log: a day of seconds with twenty columns; no source
BREAKS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"
# what ends a line
DELIMITERS = (";", "\t", "|", ",")
# tried in this order: a comma may also be a decimal sign


@dataclass(frozen=True)
class Table:
    """Names and rows of a log, with the line each row stands on."""

    file: str
    names: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]

    def spot(self, row: int, column: int) -> str:
        """Where a cell stands, as messages say it."""
        return f"{self.file}, line {self.lines[row]}, column {self.names[column]!r}"


def log_text(path: Path) -> str:
    """The text of a log; each way it cannot be read is an error that says what to do."""
    if not path.is_file():
        what = "is a folder; name the file in it" if path.is_dir() else "is not there; check the name and the folder"
        raise ValueError(f"log {str(path)[:200]!r} {what}.")
    try:
        with path.open("rb") as file:
            held = file.read(LARGEST_LOG + 1)
    except PermissionError:
        raise ValueError(f"log {path.name} may not be read; its permissions keep you out.") from None
    except OSError as trouble:
        raise ValueError(f"log {path.name} cannot be read: {trouble.strerror}.") from None
    if len(held) > LARGEST_LOG:
        raise ValueError(f"{path.name} is larger than {LARGEST_LOG // 1_000_000} MB; cut out the hours of the trial.")
    if held.startswith((b"\xff\xfe", b"\xfe\xff")):
        return held.decode("utf-16", errors="replace")
    if b"\0" in held:
        raise ValueError(f"{path.name} is not a text file; save the log as CSV.")
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError:
        return held.decode("latin-1")


def cells_of(text: str, file: str, most_rows: int) -> Table:
    """Names and rows of the text; lines that are empty or begin with # are passed over."""
    breaks = sum(map(text.count, BREAKS))
    if breaks > 3 * most_rows:
        # carriage returns count as well, and empty lines; what has more is not taken apart
        raise ValueError(f"{file} has {breaks} lines; at most {most_rows} rows are read. Cut out the trial's hours.")
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1)]
    lines = [(number, line) for number, line in lines if line and not line.startswith("#")]
    if len(lines) < 2:
        raise ValueError(f"{file} has {len(lines)} lines with anything in them; it needs a line of names, then rows.")
    if len(lines) > most_rows + 1:
        raise ValueError(f"{file} has {len(lines) - 1} rows; at most {most_rows} are read. Cut out the trial's hours.")
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise ValueError(
                f"{file}, line {number} has {len(line)} characters; at most {LONGEST_LINE} make sense in a log."
            )
    delimiter = delimiter_of([line for _, line in lines[:50]])
    names = tuple(_split(lines[0][1], delimiter, f"{file}, line {lines[0][0]}"))
    if len(names) > MOST_COLUMNS:
        raise ValueError(f"{file} has {len(names)} columns; at most {MOST_COLUMNS} are read.")
    if len(names) * len(lines) > MOST_CELLS:
        raise ValueError(
            f"{file} has {len(names) * len(lines)} cells; at most {MOST_CELLS} are read. Leave columns out."
        )
    rows = [names, *(tuple(_split(line, delimiter, f"{file}, line {number}")) for number, line in lines[1:])]
    for (number, line), row in zip(lines[1:], rows[1:], strict=True):
        if len(row) != len(names):
            raise ValueError(_uneven(f"{file}, line {number}", line, len(row), len(names), delimiter))
    return Table(file, names, tuple(rows[1:]), tuple(number for number, _ in lines[1:]))


def delimiter_of(lines: list[str]) -> str:
    """What parts the cells: the first sign that stands equally often in every line; blanks where none does."""
    for sign in DELIMITERS:
        counts = {len(next(csv.reader([line], delimiter=sign))) for line in lines}
        if len(counts) == 1 and counts != {1}:
            return sign
    often = max(DELIMITERS, key=lambda sign: lines[0].count(sign))
    return often if often in lines[0] else " "


def _split(line: str, delimiter: str, spot: str) -> list[str]:
    """The cells of a line."""
    if delimiter == " ":
        cells = [printable(cell) for cell in line.split()]
    else:
        cells = [printable(cell.strip()) for cell in next(csv.reader(io.StringIO(line), delimiter=delimiter))]
    longest = max(map(len, cells))
    if longest > LONGEST_CELL:
        raise ValueError(f"{spot}: a cell has {longest} characters; at most {LONGEST_CELL} make sense in a log.")
    return cells


def _uneven(spot: str, line: str, has: int, needs: int, delimiter: str) -> str:
    """What to say of a row with more or fewer cells than names."""
    sign = {" ": "blanks", "\t": "tabs"}.get(delimiter, repr(delimiter))
    slip = "Is a value missing?" if has < needs else "Is there one too many?"
    if delimiter == "," and has > needs:
        slip = "Decimal commas need another delimiter, such as ;."
    if delimiter == " ":
        slip = "Write a time without a blank, or part the cells by ;."
    return f"{spot}: {line[:60]!r} has {has} cells and the line of names {needs}, parted by {sign}. {slip}"
