"""`vanpower sweep`: many rigs, wirings, controllers, lights and days in one table."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vanpower.cli.options import (
    ALL_YES,
    FORM,
    MADE_MORE,
    NO_OR_CLOSE,
    SHADE_MORE,
    bar,
    moment,
    number,
    outlook,
    rig_from,
    wired,
)
from vanpower.rig import shade as shade_notes

if TYPE_CHECKING:
    from vanpower.rig import Controller, Request, Rig

MOST_CELLS = 100_000
# of a table; more takes a program of one's own, with a cluster behind it; no source
MOMENT = " W/m2"
# how the names of moments end
MORE = f"""\
Every rig in every wiring, on every controller, in every light or day: a row each in a CSV file, with Wh (of one moment,
as if it lasted an hour), what was lost where, whether the rig is allowed, and what forbids it, what it lacks or falls
short of. Rows are written as they come; the same command goes on where it was stopped. A file knows rigs and lights by
their names only: take a new one for changed rigs.

{SHADE_MORE}
{MADE_MORE}
try:
  vanpower sweep bookmobile puppet-stage --wiring all --day dull bright --weather sand-point miami --out sweep.csv
  vanpower sweep bookmobile --wiring all --light 80 400 800 --controllers data/shortlist.csv --out sweep.csv

exit code: 0 every row was worked out, 1 some were not and say why, 2 bad input, 130 stopped by hand
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower sweep`."""
    about = "many rigs, wirings, controllers, lights and days in one table"
    sweep = commands.add_parser("sweep", help=about, description=MORE, formatter_class=FORM)
    sweep.usage = "vanpower sweep RIG.toml [RIG.toml ...] --out sweep.csv [options]"
    sweep.add_argument("rigs", nargs="+", metavar="RIG.toml", help="rig files, or names of examples")
    sweep.add_argument("--out", type=Path, required=True, metavar="OUT.csv", help="where the table goes, or goes on")
    sweep.add_argument("--wiring", nargs="+", metavar="3s", help="these wirings, or all (each as it stands)")
    sweep.add_argument("--light", type=number, nargs="+", metavar="W/m²", help="moments with these lights")
    sweep.add_argument("--temp", type=number, default=25.0, metavar="°C", help="how warm cells are in a moment (25)")
    sweep.add_argument("--day", nargs="+", metavar="DAY", help="whole days, as for compare")
    sweep.add_argument("--weather", nargs="+", metavar="NAME", help="where days are taken from (sand-point)")
    sweep.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see above")
    sweep.add_argument("--controllers", nargs="?", const="", metavar="LIST.csv", help="these instead of the rigs' own; "
                       "without a file the kit's invented list")  # fmt: skip
    sweep.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Write the table and print the best of every light."""
    from vanpower.studies.sweeps import sweep

    if asked.out.suffix.lower() != ".csv":
        raise ValueError(f"table {asked.out.name!r} ends in {asked.out.suffix or 'nothing'}; write .csv.")
    if not asked.out.parent.is_dir():
        raise ValueError(f"folder {str(asked.out.parent)!r} is not there; make it first.")
    rigs, requests, controllers = _rigs(asked), _requests(asked), _controllers(asked)
    cells = len(rigs) * len(requests) * len(controllers or [None])
    if cells > MOST_CELLS:
        raise ValueError(f"this is a table of {cells} rows; up to {MOST_CELLS} make sense here.")
    found = sweep(rigs, requests, controllers=controllers, path=asked.out, progress=_watched)
    table = found.table().to_pandas()
    best = (f"{one}: {found.best_of(one, 'W' if one.endswith(MOMENT) else 'Wh')}" for one in requests)
    print("\n".join(best) + f"\n\n{len(table)} rows in {asked.out}")
    failed = table[table["error"] != ""]
    if failed.empty:
        return ALL_YES
    print(f"{len(failed)} were not worked out; the first: {failed['error'].iloc[0]}")
    return NO_OR_CLOSE


def _rigs(asked: argparse.Namespace) -> dict[str, Rig]:
    """Every rig in every wiring, by both names."""
    shade = shade_notes(*asked.shade)
    twice = [name for name in asked.rigs if asked.rigs.count(name) > 1]
    if twice:
        raise ValueError(f"rig {twice[0]} is named twice; once is enough.")
    return {
        f"{Path(name).stem} {wiring}": rig
        for name in asked.rigs
        for wiring, rig in wired(rig_from(name), asked.wiring or [], shade).items()
    }


def _requests(asked: argparse.Namespace) -> dict[str, Request]:
    """Every light and every day of every weather, by what was typed."""
    shade = shade_notes(*asked.shade)
    if asked.weather and not asked.day:
        raise ValueError("--weather says where days are taken from; add --day dull, or leave it out.")
    if not asked.light and not asked.day:
        raise ValueError("nothing to work out; add --light 80 800 for moments, or --day dull bright for days.")
    found: dict[str, Request] = {f"{light:g}{MOMENT}": moment(light, asked.temp, shade) for light in asked.light or ()}
    for weather in asked.weather or ["sand-point"]:
        found |= {f"{weather} {day}": outlook(day, weather, shade) for day in asked.day or ()}
    return found


def _controllers(asked: argparse.Namespace) -> dict[str, Controller] | None:
    """The controllers of a list by name; None leaves each rig its own."""
    if asked.controllers is None:
        return None
    from vanpower.files.controllers import read_controllers

    listed = read_controllers(asked.controllers or None)
    names = [one.name for one in listed]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"the list has two controllers called {twice!r}; a row of the table must tell them apart.")
    return {one.name: one for one in listed}


def _watched(rows: Iterable[Any], *, total: int, desc: str) -> Iterable[Any]:
    """The rows with a bar that shows how far they are."""
    return bar(desc, total)(rows)
