"""The text of a person's own weather file; each way that it cannot be read is told in plain words."""

from __future__ import annotations

import re
from pathlib import Path

from vanpower.rig import printable

LARGEST_WEATHER = 40_000_000
# [bytes] a year of minutes with six columns takes 30 million
MOST_LINES, LONGEST_LINE = 530_000, 4000
# of a log: a year of minutes has 527,040 with its leap day; and letters of a line, where one with six columns has
# sixty; no source
OTHERS = {
    b"PK\x03\x04": "a spreadsheet or another archive; save the sheet as CSV",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet; save the sheet as CSV",
    b"\x1f\x8b": "packed by gzip; unpack it first",
    b"%PDF": "a PDF; copy its table into a CSV file",
    b"\x89PNG": "a picture, not text saved as UTF-8",
    b"\xff\xfe": "saved as UTF-16; save it as UTF-8",
    b"\xfe\xff": "saved as UTF-16; save it as UTF-8",
}
# how other files begin, and what to do with them
LONGEST_SHOWN, LONGEST_PATH, LONGEST_NAMES = 40, 200, 120
# characters of a line, of a path, and of a file's text that a message repeats


def weather_text(path: Path) -> str:
    """What a weather file holds, as text.

    Raises
    ------
    ValueError
        Where there is no such file, it is another kind, empty, too large, or not saved as UTF-8.
    """
    held = _held(path)
    check_lines(held, path.name, MOST_LINES, LONGEST_LINE)
    kind = next((kind for beginning, kind in OTHERS.items() if held.startswith(beginning)), "")
    if not kind and not held.strip():
        kind = "empty; it needs the columns time, ghi, temp_air"
    if kind or b"\x00" in held:
        raise ValueError(f"{path.name} cannot be read as a CSV file: it is {kind or 'no text'}.")
    try:
        return held.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as trouble:
        line = held.count(b"\n", 0, trouble.start) + 1
        shown = held.splitlines()[line - 1].decode("latin-1").strip()[:LONGEST_SHOWN]
        raise ValueError(
            f"{path.name}, line {line}: {shown!r} is not UTF-8. Is it Latin-1? Save the file as UTF-8."
        ) from None


def _held(path: Path) -> bytes:
    """The bytes of a file of a sensible size."""
    try:
        if path.is_dir():
            problem = "it is a folder; name a file in it"
        elif not path.exists():
            problem = "there is no such file"
        elif not path.is_file():
            problem = "it is not an ordinary file"
        elif path.stat().st_size > LARGEST_WEATHER:
            problem = f"it is larger than {LARGEST_WEATHER // 1_000_000} MB; a year of minutes takes 30"
        else:
            return path.read_bytes()
    except PermissionError:
        problem = "its permissions keep you out"
    except (OSError, ValueError) as trouble:
        problem = f"{getattr(trouble, 'strerror', None) or trouble}"
    raise ValueError(f"{str(path)[:LONGEST_PATH]} cannot be read as a CSV file: {problem}.")


def check_lines(held: bytes, name: str, most: int, longest: int) -> None:
    """Refuse a file of more lines, or of a longer one, than such a file has, before it is taken apart.

    Examples
    --------
    >>> check_lines(b"a,b\\n1,2\\n", "log.csv", most=1, longest=80)
    Traceback (most recent call last):
    ValueError: log.csv has 2 lines; up to 1 are read.
    """
    end = b"\n" if b"\n" in held else b"\r"
    count = held.count(end)
    if count > most:
        raise ValueError(f"{name} has {count} lines; up to {most} are read.")
    at, line = 0, 1
    while at < len(held):
        behind = held.find(end, at)
        behind = len(held) if behind < 0 else behind
        if behind - at > longest:
            raise ValueError(f"{name}, line {line} has more than {longest} letters; is it another kind of file?")
        at, line = behind + 1, line + 1


def parser_said(problem: str) -> str:
    """What a parser says of a text that is no table, in plain words."""
    found = re.search(r"Expected (\d+) fields in line (\d+), saw (\d+)", problem)
    if found:
        return f"has {found[3]} values in row {int(found[2]) - 1}, and {found[1]} names in the first line."
    return (
        "is no table: a quote is opened and never closed." if "EOF" in problem else "is no table of values and commas."
    )


def shown(text: str) -> str:
    """A text cut to a line's length, without letters that steer a terminal."""
    plain = printable(text)
    return plain if len(plain) <= LONGEST_NAMES else f"{plain[:LONGEST_NAMES]}..."
