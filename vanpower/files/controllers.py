"""A list of controllers somebody may buy, as a CSV file they fill in."""

from __future__ import annotations

import csv
from pathlib import Path

from vanpower.files.examples import data_folder
from vanpower.files.messages import did_you_mean, nearest, plain
from vanpower.files.texts import bytes_of, text_of
from vanpower.rig import Controller
from vanpower.rig.fields import Text, Word, YesOrNo, table

COLUMNS = table(Controller)
NEEDED = tuple(name for name, field in COLUMNS.items() if field.needed)
WORDS = {"true": True, "yes": True, "false": False, "no": False}
# what a column of yes and no takes
OURS = "shortlist.csv"
# the invented controllers of the kit
LONGEST_ROW = 2000
# letters of a line; the kit's own has a hundred
MOST_CANDIDATES = 100
# more than a person weighs; no source


def read_controllers(path: str | Path | None = None) -> tuple[Controller, ...]:
    """Controllers out of a CSV file; without a path, the invented ones that come with the kit.

    The first line names the columns: name, v_pv_max and i_charge_max, and any other field of `Controller`, of which
    price is in your own money. An empty field takes the usual value; lines that begin with # are left out.

    Raises
    ------
    ValueError
        For the first value that makes no sense, with file, line, column and what would.

    Examples
    --------
    >>> [(one.name, one.v_pv_max, one.cold_cutoff) for one in read_controllers()[:2]]
    [('small 60 V 10 A', 60.0, False), ('middle 80 V 20 A', 80.0, True)]
    """
    path = data_folder() / OURS if path is None else Path(path)
    if path.name == OURS and not path.exists():
        raise ValueError(f"There is no file {path}; name no list, and the kit's own is taken.")
    held = bytes_of(path)
    if b"\x00" in held or held.startswith(b"PK\x03\x04"):
        raise ValueError(f"{path.name} is no text; save the sheet as CSV.")
    lines = text_of(held, path.name).split("\n")
    kept = [(number, line) for number, line in enumerate(lines, 1) if line.strip() and not line.startswith("#")]
    if len(kept) < 2:
        raise ValueError(f"{path.name} lists no controller; write a line of names, then a line for each.")
    long = next((number for number, line in kept if len(line) > LONGEST_ROW), None)
    if long is not None:
        raise ValueError(f"{path.name}, line {long} has more than {LONGEST_ROW} letters; a controller takes a hundred.")
    names = [name.strip() for name in next(csv.reader([kept[0][1]], skipinitialspace=True))]
    _check_names(names, path.name, kept[0])
    if len(kept) - 1 > MOST_CANDIDATES:
        raise ValueError(f"{path.name} lists {len(kept) - 1} controllers; up to {MOST_CANDIDATES} make sense.")
    found = [_controller(names, line, f"{path.name}, line {number}") for number, line in kept[1:]]
    twice = [one.name for k, one in enumerate(found) if one.name in [other.name for other in found[:k]]]
    if twice:
        raise ValueError(f"{path.name} names {twice[0]!r} twice; give each controller its own name.")
    return tuple(found)


def _check_names(names: list[str], file: str, head: tuple[int, str]) -> None:
    """Refuse a first line that lacks a column or has one nobody knows."""
    where = f"{file}, line {head[0]}"
    if ";" in head[1] and "," not in head[1]:
        raise ValueError(f"{where}: separate the columns with commas, not semicolons.")
    for name in names:
        if name not in COLUMNS:
            raise ValueError(f"{where}: {name!r} is no column{did_you_mean(nearest(name, COLUMNS))}")
    twice = [name for k, name in enumerate(names) if name in names[:k]]
    if twice:
        raise ValueError(f"{where}: the column {twice[0]} is there twice; leave one out.")
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise ValueError(f"{where}: the column {missing[0]} is missing.")


def _controller(names: list[str], line: str, where: str) -> Controller:
    """One line as a controller."""
    cells = [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True))]
    if len(cells) != len(names):
        hint = " Write decimals with a point." if len(cells) > len(names) else ""
        raise ValueError(f"{where} has {len(cells)} values, and the first line names {len(names)}.{hint}")
    given = {name: _value(name, cell, where) for name, cell in zip(names, cells, strict=True) if cell}
    missing = [name for name in NEEDED if name not in given]
    if missing:
        raise ValueError(f"{where}: {missing[0]} is empty.")
    try:
        return Controller(**given)  # type: ignore[arg-type]
    except ValueError as trouble:
        raise ValueError(f"{where}: {plain(trouble)}") from None


def _value(name: str, cell: str, where: str) -> object:
    """One field as what its column takes."""
    if isinstance(COLUMNS[name], (Text, Word)):
        return cell
    if isinstance(COLUMNS[name], YesOrNo):
        if cell.lower() not in WORDS:
            raise ValueError(f"{where}: {name} is {cell!r}; write yes, no, or nothing where the sheet is silent.")
        return WORDS[cell.lower()]
    try:
        return float(cell)
    except ValueError:
        raise ValueError(f"{where}: {name} is {cell!r}; write a plain number, without its unit.") from None
