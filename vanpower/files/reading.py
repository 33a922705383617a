"""From a file, bytes, a text or a DataFrame to rows of cells: encoding, line ends, delimiter, quotes.

Bounds are held first, so that a file made to hang a reader is refused before it is taken apart. What is told from the
file is kept as a note.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vanpower.files.columns import Form
from vanpower.files.resources import or_the_kits
from vanpower.files.rows import DELIMITERS, Block, Splitter, delimiter_of, lines_of, split
from vanpower.rig import printable

if TYPE_CHECKING:
    import pandas as pd

OTHERS = {
    b"PK\x03\x04": "a spreadsheet or another archive; save the sheet as CSV",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet; save the sheet as CSV",
    b"\x1f\x8b": "packed by gzip; unpack it first",
    b"%PDF": "a PDF; copy its table into a CSV file",
    b"\x89PNG": "a picture and not a text file",
}
# how other files begin, and what to do with them
UTF_16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
BLOCK = 1 << 20
# [bytes] decoded at once
LOOKED_AT = 50
# rows by which the delimiter is told
MOST_SAID = 200
# lines at the top that say something
SAID = re.compile(r"#\s*+(\w++)\s*+[:=](.*)")
# such as "# time_zone: Europe/Oslo"
SPREADSHEET_SAYS = re.compile(r"sep=(.)\s*", re.IGNORECASE)
# the first line by which a spreadsheet names its delimiter
LONGEST_PATH = 200


@dataclass(frozen=True, eq=False)
class Cells:
    """Names of a table, its rows as they come, and what was told from the file.

    Parameters
    ----------
    file : str
        What messages call it.
    names : tuple of str
    blocks : iterator of Block
        Rows with the line each stands on; read once.
    said : dict of str to str
        What lines at the top say.
    notes : list of str
        Guesses: encoding, delimiter.
    counted : str
        What messages count: lines of a file, rows of a DataFrame.
    """

    file: str
    names: tuple[str, ...]
    blocks: Iterator[Block]
    said: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    counted: str = "line"
    parted: str = ""


def cells_of(source: str | Path | bytes | pd.DataFrame, form: Form, name: str = "") -> Cells:
    """Names and rows of whatever a person hands in.

    Parameters
    ----------
    source : path, bytes, str or DataFrame
        A str with a line break is the text itself, an empty one too; another is the path of a file.
    form : Form
    name : str
        What messages call it; else the name of the file.

    Examples
    --------
    >>> from vanpower.files.columns import TRIAL
    >>> cells = cells_of("minutes watts\\n0 100\\n5 110", TRIAL)
    >>> cells.names, [block.cells for block in cells.blocks]
    (('minutes', 'watts'), [['0', '100', '5', '110']])
    """
    if isinstance(source, str) and ("\n" in source or not source.strip()):
        return _from_bytes(source.encode(errors="replace"), form, name or "typed rows")
    if isinstance(source, str | Path):
        path = Path(source)
        return _from_bytes(_held(path, form), form, name or printable(path.name))
    if isinstance(source, bytes):
        return _from_bytes(source, form, name or "typed rows")
    return _from_frame(source, form, name or "DataFrame")


def _held(path: Path, form: Form) -> bytes:
    """The bytes of a file of a sensible size; each way it cannot be read is an error that says what to do."""
    most = f"{form.largest // 1_000_000} MB"
    try:
        path = or_the_kits(path)
        if path.is_dir():
            problem = "it is a folder; name a file in it"
        elif not path.exists():
            problem = "there is no such file; check the name and the folder"
        elif not path.is_file():
            problem = "it is not an ordinary file"
        elif path.stat().st_size > form.largest:
            problem = f"it is larger than {most}. {form.shorter}".rstrip(".")
        else:
            with path.open("rb") as file:
                return file.read(form.largest + 1)
    except PermissionError:
        problem = "it may not be read; its permissions keep you out"
    except (OSError, ValueError) as trouble:
        problem = f"{getattr(trouble, 'strerror', None) or trouble}"
    raise ValueError(f"{str(path)[:LONGEST_PATH]} cannot be read as a {form.what}: {problem}.")


# Text


def _from_bytes(held: bytes, form: Form, file: str) -> Cells:
    """Names and rows of a file's bytes."""
    if len(held) > form.largest:
        raise ValueError(f"{file} is larger than {form.largest // 1_000_000} MB. {form.shorter}")
    notes: list[str] = []
    held, encoding = _decodable(held, form, file, notes)
    check_lines(held, file, form.most_lines, form.longest_line, form.shorter)
    lines, said = lines_of(held, encoding), dict[str, str]()
    number, behind, first = _first_line(lines, said)
    if not first:
        raise ValueError(f"{file}: it is empty; it needs a line of names, then rows: {', '.join(_needed(form))}.")
    told = SPREADSHEET_SAYS.fullmatch(first)
    if told:
        number, behind, first = _first_line(lines, said)
    looked = [line for _, _, line in islice(lines, LOOKED_AT)]
    sign = told[1] if told and told[1] in DELIMITERS else delimiter_of([first, *looked])
    notes.append(f"parted by {DELIMITERS.get(sign, 'blanks')}")
    names = tuple(printable(name.strip()) for name in split(first, sign, f"{file}, line {number}"))
    _check_names(names, held, form, file)
    blocks = Splitter(file, form, sign, len(names)).blocks(held, encoding, behind, number + 1)
    return Cells(file, names, blocks, said, notes, parted=sign)


def _needed(form: Form) -> list[str]:
    return [column.name for column in form.columns if column.needed]


def _decodable(held: bytes, form: Form, file: str, notes: list[str]) -> tuple[bytes, str]:
    """Bytes of which each line can be decoded by itself, with plain line ends, and how."""
    kind = next((kind for beginning, kind in OTHERS.items() if held.startswith(beginning)), "")
    if not kind and (order := UTF_16.get(held[:2])):
        notes.append("saved as UTF-16")
        held = _from_utf_16(held[2:], order)
    if not kind and b"\0" in held:
        kind = "not a text file; save the table as CSV"
    if kind:
        raise ValueError(f"{file} cannot be read as a {form.what}: it is {kind}.")
    held = held.removeprefix(codecs.BOM_UTF8)
    if b"\r" in held:
        held = held.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if _is_utf_8(held):
        return held, "utf-8"
    notes.append("read as Latin-1, since it is not UTF-8")
    return held, "latin-1"


def _from_utf_16(held: bytes, order: str) -> bytes:
    """UTF-16 as UTF-8, block by block."""
    decoder, found = codecs.getincrementaldecoder(order)(errors="replace"), bytearray()
    for at in range(0, len(held), BLOCK):
        found += decoder.decode(held[at : at + BLOCK]).encode(errors="replace")
    return bytes(found)


def _is_utf_8(held: bytes) -> bool:
    """Whether bytes are UTF-8, found out block by block."""
    if held.isascii():
        return True
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for at in range(0, len(held), BLOCK):
            decoder.decode(held[at : at + BLOCK])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def check_lines(held: bytes, file: str, most: int, longest: int, shorter: str = "") -> None:
    """Refuse a file of more lines, or of a longer one, than such a file has, before it is taken apart.

    Examples
    --------
    >>> check_lines(b"a,b\\n1,2\\n", "log.csv", most=1, longest=80)
    Traceback (most recent call last):
    ValueError: log.csv has 2 lines; up to 1 are read.
    """
    count = held.count(b"\n")
    if count > most:
        raise ValueError(f"{file} has {count} lines; up to {most} are read. {shorter}".rstrip())
    at, line = 0, 1
    while at < len(held):
        behind = held.find(b"\n", at)
        behind = len(held) if behind < 0 else behind
        if behind - at > longest:
            raise ValueError(
                f"{file}, line {line} has {behind - at} letters; up to {longest} are read. Is it another kind of file?"
            )
        at, line = behind + 1, line + 1


def _first_line(lines: Iterator[tuple[int, int, str]], said: dict[str, str]) -> tuple[int, int, str]:
    """The next line that is no remark, empty where there is none; and what the remarks before it say."""
    for number, behind, line in lines:
        if not line.startswith("#"):
            return number, behind, line
        found = SAID.match(line)
        if found and found[2].strip() and len(said) < MOST_SAID:
            said[found[1]] = found[2].strip()
    return 0, 0, ""


def _check_names(names: tuple[str, ...], held: bytes, form: Form, file: str) -> None:
    """Refuse more columns or cells than such a file has."""
    if len(names) > form.most_columns:
        raise ValueError(f"{file} has {len(names)} columns; up to {form.most_columns} are read.")
    cells = len(names) * (held.count(b"\n") + 1)
    if cells > form.most_cells:
        raise ValueError(f"{file} has {cells} cells; up to {form.most_cells} are read. Leave columns out.")


# DataFrames


def _from_frame(frame: Any, form: Form, file: str) -> Cells:
    """Names and rows of a DataFrame; an index of times or with a name is its first column."""
    if not hasattr(frame, "columns") or not hasattr(frame, "index"):
        raise ValueError(
            f"a {form.what} is a path, bytes, a text or a pandas DataFrame; {type(frame).__name__} is none."
        )
    if frame.index.dtype.kind == "M" or frame.index.name is not None:
        index = "time" if frame.index.name is None else frame.index.name
        frame = frame if index in frame.columns else frame.reset_index(names=[index])
    names = tuple(printable(str(name)) for name in frame.columns)
    cells = len(names) * len(frame)
    if cells > form.most_cells or len(frame) > form.most_rows or len(names) > form.most_columns:
        raise ValueError(
            f"{file} has {len(frame)} rows of {len(names)} columns; up to {form.most_rows} rows, {form.most_columns} "
            f"columns and {form.most_cells} cells are read. {form.shorter}"
        )
    columns = [_texts(frame.iloc[:, k]) for k in range(len(names))]
    rows = list(chain.from_iterable(zip(*columns, strict=True)))
    block = Block(np.arange(1, len(frame) + 1), rows, len(names))
    return Cells(file, names, iter([block] if len(frame) else []), counted="row")


def _texts(column: Any) -> list[str]:
    """A column's values as a file would have them; what is missing is empty."""
    missing = column.isna().to_numpy()
    values = column.astype(object).to_numpy()
    texts = [repr(float(value)) if isinstance(value, float) else str(value) for value in values]
    return ["" if gap else text for gap, text in zip(missing, texts, strict=True)]
