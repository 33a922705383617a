"""What `vanpower day` and `vanpower year` share: words, the answer printed, a table and a chart written."""

from __future__ import annotations

import argparse
import re
from collections.abc import Hashable, Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from vanpower import __version__
from vanpower.cli.options import (
    ALL_YES,
    FORM,
    INTERRUPTED,
    RIG_HELP,
    SHADE_MORE,
    as_typed,
    circuit_first,
    circuit_word,
    number,
    rig_from,
    to_put_right,
    wired,
)
from vanpower.files.atomic import check_place, defused, sealed, written
from vanpower.rig import Load, Rig
from vanpower.rig import shade as shade_notes

if TYPE_CHECKING:
    import pandas as pd

    from vanpower.simulation.run import Run, What

WIDE = 100
# letters of a printed line
RUN_MORE = f"""\
{SHADE_MORE}
The battery needs capacity_ah in the rig file; loads stand there in [[loads]], or give one with --load.
exit code: 0 answered, 2 bad input, 130 stopped by hand
"""


def add_words(commands: argparse._SubParsersAction, name: str, about: str, usage: str) -> argparse.ArgumentParser:
    """A command with the words that both understand."""
    command: argparse.ArgumentParser = commands.add_parser(name, help=about, epilog=RUN_MORE, formatter_class=FORM)
    command.usage, command.description = f"vanpower {name} RIG.toml {usage}", f"{about[0].upper()}{about[1:]}."
    command.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    command.add_argument("--weather", metavar="NAME", help="typical year, CSV file, or a sky made up, as "
                         "for compare (sand-point)")  # fmt: skip
    command.add_argument("--wiring", nargs="+", metavar="3s", help="only these wirings, or all (as it stands)")
    circuit_word(command)
    command.add_argument(
        "--load", type=number, metavar="W", help="draw these watts all day, instead of the rig's loads"
    )
    command.add_argument("--charge", type=number, metavar="%", help="charge at the start, instead of the rig's")
    command.add_argument("--warm-locker", type=number, metavar="°C", help="what it would deliver more with the battery "
                         "never colder (where frost cost something, from where it charges again)")  # fmt: skip
    command.add_argument("--heading", type=number, metavar="DEG", help="which way the nose points, 90 is east (0)")
    command.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see below")
    command.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    command.add_argument("--csv", type=Path, metavar="OUT.csv", help="write the numbers into this file")
    return command


def rigs_of(asked: argparse.Namespace) -> dict[str, Rig]:
    """The rig in the wirings asked for, with the load and charge asked for; names of files are checked first."""
    if asked.csv:
        check_table(asked.csv)
    if asked.chart:
        from vanpower.sharing.picture_writing import check_picture

        check_picture(asked.chart)
    rig = circuit_first(rig_from(asked.rig), asked.circuit)
    names = {"Load.p_load": "--load", "Battery.soc_start_pct": "--charge", "Battery.temp_heated": "--warm-locker"}
    with as_typed(names):
        if asked.warm_locker is not None:
            # refused before any work if it makes no sense; the rig itself stays as cold as it is
            rig.with_battery(temp_heated=asked.warm_locker)
        if asked.load is not None:
            rig = rig.changed(loads=(Load(name="as asked", p_load=asked.load),))
        if asked.charge is not None:
            rig = rig.with_battery(soc_start_pct=asked.charge)
    return wired(rig, asked.wiring or [], shade_notes(*asked.shade))


def finish(asked: argparse.Namespace, run: Run, printed: Sequence[str], what: What) -> int:
    """Print the answer, verdict first, and write what was asked for; the table of every wiring into a file."""
    rig = next(iter(run.outcomes.values())).rig
    print(f"{rig.name}, {run.title}\n\n{run.verdict}\n")
    print("\n\n".join([*printed, *to_put_right(run.to_mend()), *_measured(run), *_warmed(asked, run)]) + "\n")
    if asked.csv:
        import pandas as pd

        tables = {name: run.table(what, name).to_pandas(rounded=True) for name in run.ranking}
        write_table(pd.concat(tables, names=["wiring"]), asked.csv, f"{rig.name}, {run.title}")
    if asked.chart:
        from vanpower.figures.run import run_figure
        from vanpower.sharing.saving import save_with_words

        print(f"Chart {save_with_words(asked.chart, 'run', run, plainly=lambda: run_figure(run))}")
    return INTERRUPTED if run.interrupted else ALL_YES


def _measured(run: Run) -> list[str]:
    """The best beside a harvest that the weather file holds."""
    from vanpower.simulation.harvests import harvest_said

    said = harvest_said(run, run.ranking[0])
    return [fill(said, WIDE)] if said else []


def _warmed(asked: argparse.Namespace, run: Run) -> list[str]:
    """What the best would deliver with a warm battery, where frost cost something or it is asked for."""
    from vanpower.simulation.frost import warm_locker

    best = run.ranking[0]
    if run.interrupted or not run.allowed(best):
        return []
    found = warm_locker(run, best, asked.warm_locker)
    return [fill(found.sentence, WIDE)] if found else []


def check_table(path: Path) -> None:
    """Refuse, before any work, an ending other than .csv, a folder that is not there, and other people's files.

    Raises
    ------
    ValueError
        With what would make sense.
    """
    check_place(path, "table", (".csv",))


def write_table(table: pd.DataFrame, path: Path, about: str) -> None:
    """Write a table whole or not at all, with its seal, and with no text that a spreadsheet would run."""
    check_table(path)
    said = "".join(map(defused, re.split(r"([,;])", f"vanpower {__version__}: {about}")))
    texts = table.select_dtypes(exclude=["number", "bool", "datetime", "datetimetz"])
    table = table.assign(**{name: texts[name].map(_cell) for name in texts}).rename(index=_cell, columns=_cell)
    with written(path) as file:
        file.write(sealed(f"# {said}\n{table.to_csv(lineterminator=chr(10))}".encode()))
    print(f"Table written to {path}")


def _cell(value: Hashable) -> Hashable:
    """What stands in a cell, a text defused."""
    return defused(value) if isinstance(value, str) else value
