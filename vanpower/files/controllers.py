"""A list of controllers somebody may buy, as a table they fill in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import NUMBERS, TEXTS, Column, Form
from vanpower.files.examples import data_folder
from vanpower.files.messages import plain
from vanpower.files.resources import or_the_kits
from vanpower.files.tables import Table, read_table
from vanpower.files.units import AMPS, VOLTS, WATTS
from vanpower.rig import Controller, unit_of
from vanpower.rig.fields import Text, Word, YesOrNo, table

if TYPE_CHECKING:
    import pandas as pd

FIELDS = table(Controller)
WORDS = {"true": True, "yes": True, "false": False, "no": False}
# what a column of yes and no takes
OURS = "shortlist.csv"
# the invented controllers of the kit
MOST_CANDIDATES = 100
# more than a person weighs; no source
CONTROLLERS = Form(
    what="list of controllers",
    columns=tuple(
        Column(
            name=name,
            holds=TEXTS if isinstance(field, Text | Word | YesOrNo) else NUMBERS,
            unit=unit_of(name),
            units={"V": VOLTS, "A": AMPS, "W": WATTS}.get(unit_of(name), {}),
            needed=field.needed,
        )
        for name, field in FIELDS.items()
    ),
    largest=1_000_000,
    most_lines=20_000,
    most_rows=MOST_CANDIDATES,
    longest_line=2000,
    most_cells=1_000_000,
    most_columns=200,
    shorter="A list takes a few kB.",
    closed=True,
)
# what a sheet may say of each; ranges are those of `Controller` itself


def read_controllers(
    source: str | Path | bytes | pd.DataFrame | None = None, *, columns: Mapping[str, str] | None = None
) -> tuple[Controller, ...]:
    """Controllers from a CSV file or a DataFrame; without one, the invented ones that come with the kit.

    The first line names the columns: name, v_pv_max and i_charge_max, and any other field of `Controller`, of which
    price is in your own money. An empty field takes the usual value; lines that begin with # are left out.

    Parameters
    ----------
    source : path, bytes, str or DataFrame, optional
    columns : mapping, optional
        Field of `Controller` to the name of its column, where the file uses other names:
        {"v_pv_max": "Most panel volts"}.

    Returns
    -------
    tuple of Controller

    Raises
    ------
    ValueError
        For the first impossible value: file, line, column, value, and what would make sense.

    Examples
    --------
    >>> [(one.name, one.v_pv_max, one.cold_cutoff) for one in read_controllers()[:2]]
    [('small 60 V 10 A', 60.0, False), ('middle 80 V 20 A', 80.0, True)]
    """
    if source is None:
        source = data_folder() / OURS
    elif isinstance(source, str | Path) and Path(source).name == OURS and not or_the_kits(Path(source)).exists():
        raise ValueError(f"There is no file {source}; name no list, and the kit's own is taken.")
    table = read_table(source, CONTROLLERS, columns=columns)
    if not len(table):
        raise ValueError(f"{table.file} lists no controller; write a line of names, then a line for each.")
    found = tuple(_controller(table, row) for row in range(len(table)))
    names = [one.name for one in found]
    twice = [name for k, name in enumerate(names) if name in names[:k]]
    if twice:
        raise ValueError(f"{table.file} names {twice[0]!r} twice; give each controller its own name.")
    return found


def _controller(table: Table, row: int) -> Controller:
    """One row as a controller."""
    given = {name: value for name in table.place if (value := _value(table, name, row)) is not None}
    where = f"{table.file}, {table.counted} {table.lines[row]}"
    missing = [name for name, field in FIELDS.items() if field.needed and name not in given]
    if missing:
        raise ValueError(f"{where}: {missing[0]} is empty.")
    try:
        return Controller(**given)  # type: ignore[arg-type]
    except ValueError as trouble:
        raise ValueError(f"{where}: {plain(trouble)}") from None


def _value(table: Table, name: str, row: int) -> object:
    """One field as what its column takes; None where the sheet is silent."""
    if CONTROLLERS.column(name).holds == NUMBERS:
        number = float(table[name][row])
        return None if np.isnan(number) else number
    cell = table.texts(name)[row]
    if not isinstance(FIELDS[name], YesOrNo):
        return cell or None
    if cell and cell.lower() not in WORDS:
        raise ValueError(
            f"{table.spot(row, name)}: {name} is {cell[:40]!r}; write yes, no, or nothing where the sheet is silent."
        )
    return WORDS[cell.lower()] if cell else None
