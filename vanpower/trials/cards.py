"""The filled commissioning card as a file: a small table that a meter's reader fills in and keeps for the next year."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.atomic import check_place, sealed, written
from vanpower.files.columns import TEXTS, Column, Form
from vanpower.files.tables import read_table
from vanpower.files.units import AMPS, CELSIUS, LIGHT, VOLTS
from vanpower.trials.commissioning import CommissionCard, Filled

if TYPE_CHECKING:
    import pandas as pd

MOST_LINES = 400
# of a card: a line for every panel, string and controller of the largest rig; no source
CARD = Form(
    what="commissioning card",
    columns=(
        Column(name="at", about="which panel, string or controller", holds=TEXTS, needed=True),
        Column(name="light", about="W/m² on the panels then", unit="W/m²", units=LIGHT, least=20.0, most=1500.0,
               slips=((1500.0, "Are these lux?"),), needed=True),
        Column(name="temp_cell", about="°C at the panels' back then", unit="°C", units=CELSIUS, least=-60.0, most=110.0,
               slips=((110.0, "Is this Fahrenheit?"),), needed=True),
        Column(name="volts", about="what the meter showed, open", unit="V", units=VOLTS, least=-1500.0, most=1500.0,
               slips=((1500.0, "Are these millivolts?"),), needed=True),
        Column(name="amps", about="what the meter showed, short-circuited, one panel alone", unit="A", units=AMPS,
               least=-50.0, most=500.0, slips=((500.0, "Are these milliamps?"),)),
    ),
    largest=200_000,
    most_lines=2000,
    most_rows=MOST_LINES,
    longest_line=1000,
    most_cells=20_000,
    most_columns=40,
    shorter="A card has a line a panel.",
    filled=True,
)  # fmt: skip
HEAD = "at,light,temp_cell,volts,amps,expected_volts,volts_within,expected_amps,amps_within"


def read_card(source: str | Path | bytes | pd.DataFrame) -> tuple[Filled, ...]:
    """The lines of a filled card; a cell left empty was not read.

    Parameters
    ----------
    source : path, bytes, str or DataFrame

    Returns
    -------
    tuple of Filled

    Raises
    ------
    ValueError
        For the first impossible value, with its line, and for a card on which nothing is filled in.

    Examples
    --------
    >>> read_card("at,light,temp_cell,volts,amps\\nP1,620,41,20.9,3.9\\n")[0].i
    3.9
    """
    table = read_table(source, CARD)
    if not len(table):
        raise ValueError(f"{table.file} has no line below its names; write one a panel.")
    amps = table["amps"] if "amps" in table.place else np.full(len(table), np.nan)
    found = tuple(
        Filled(at=at.strip(), light=float(light), temp_cell=float(temp), v=_read(v), i=_read(i))
        for at, light, temp, v, i in zip(
            table.texts("at"), table["light"], table["temp_cell"], table["volts"], amps, strict=True
        )
    )  # fmt: skip
    for row, line in enumerate(found):
        if np.isnan(line.light) or np.isnan(line.temp_cell):
            where = f"{table.file}, {table.counted} {table.lines[row]}"
            raise ValueError(f"{where}: {line.at or 'a line'} needs light and temp_cell beside its readings.")
    if all(line.v is None and line.i is None for line in found):
        raise ValueError(f"{table.file} is not filled in yet; write what the meter showed under volts and amps.")
    return found


def _read(value: float) -> float | None:
    """A reading; None for an empty cell."""
    return None if np.isnan(value) else float(value)


def write_card(card: CommissionCard, path: Path) -> None:
    """An empty card to fill in: light, heat and expectations are there, volts and amps are not.

    Once somebody wrote into it, it is never written over.

    Raises
    ------
    ValueError
        For another ending than .csv, and where something lies that is not to be lost.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> from vanpower.trials.commissioning import commission
    >>> with TemporaryDirectory() as folder:
    ...     write_card(commission(example("bookmobile"), light=620, temp_cell=41), Path(folder) / "card.csv")
    ...     print((Path(folder) / "card.csv").read_text().splitlines()[2][:12])
    P1,620,41,,,
    """
    check_place(path, "card", (".csv",))
    from vanpower import __version__

    lines = [f"# vanpower {__version__}: commissioning card", HEAD]
    for one in card.expected:
        amps = ("", "") if one.i is None else (f"{one.i:.2f}", f"{one.i_within:.2f}")
        cells = (one.at, f"{card.light:g}", f"{card.temp_cell:g}", "", "", f"{one.v:.1f}", f"{one.v_within:.1f}", *amps)
        lines.append(",".join(cells))
    with written(path) as file:
        file.write(sealed(("\n".join(lines) + "\n").encode()))
