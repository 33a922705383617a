"""`vanpower compare`: what every wiring brings in the same light, and what decides."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from vanpower.cli.words import ALL_YES, FORM, number, requests_of, rig_from, wired

if TYPE_CHECKING:
    from vanpower.studies import Comparison

COMPARE_MORE = """\
shade notes:
  P2=0.2      panel 2 gets 20 % of the light
  P2.1=0.2    only its first group of cells under one bypass diode
  P2.1x3=0.2  only three cells of that group
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower compare`."""
    about = "what every wiring brings in the same light, and what decides"
    compare = commands.add_parser("compare", help=about, epilog=COMPARE_MORE, formatter_class=FORM)
    compare.usage, compare.description = "vanpower compare RIG.toml [options]", f"{about[0].upper()}{about[1:]}."
    compare.add_argument("rig", metavar="RIG.toml", help="a rig file, or the name of an example")
    compare.add_argument("--light", type=number, metavar="W/m²", help="one moment: the light on the panels (800)")
    compare.add_argument("--temp", type=number, metavar="°C", help="one moment: how warm the cells are (25)")
    compare.add_argument("--day", nargs="+", metavar="DAY", help="whole days: dull, median, bright, month-day (12-21), "
                         "or a CSV file with the columns time, ghi, temp_air")  # fmt: skip
    compare.add_argument(
        "--weather", metavar="NAME", help="typical year or CSV file the days are taken from (sand-point)"
    )
    compare.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see below")
    compare.add_argument("--wiring", nargs="+", metavar="3s", help="only these wirings")
    compare.add_argument("--apart", action="store_true", help="also a controller of its own for every panel")
    compare.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    compare.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the table and the verdict for every light asked for, and draw them."""
    from vanpower.studies import compare
    from vanpower.wirings import alternatives

    rig = rig_from(asked.rig)
    requests = requests_of(asked)
    rigs = wired(rig, asked.wiring or ["all"], requests[0].shade)
    if asked.apart:
        rigs |= {name: split for name, split in alternatives(rig, apart=True).items() if name == "apart"}
    comparisons = [compare(rigs, request) for request in requests]
    if asked.chart:
        _draw(comparisons, asked.chart)
    for comparison in comparisons:
        print(f"{rig.name}, {comparison.title}\n\n{comparison.text()}\n\n{comparison.verdict()}\n")
    return ALL_YES


def _draw(comparisons: Sequence[Comparison], path: Path) -> None:
    """Draw all comparisons into one picture, written whole or not at all."""
    from vanpower.figures import comparison_figure, write_picture

    write_picture(comparison_figure(comparisons), path)
    print(f"Chart written to {path}\n")
