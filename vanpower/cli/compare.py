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
days:
  dull, median, bright       5, 50 and 95 of 100 days bring less light
  dullest, brightest         the ends; each word also of a month: "dullest december"
  12-21, 2019-12-21          a date, with its year where the weather has several
  november..february, all    many days at once

weather:
  sand-point, greensboro, miami   typical years of hours: dull coast, mild, sunny
  graz                            seven days measured minute by minute, such as --day 07-01 (broken) and 11-06 (grey)
  a file                          TMY2, TMY3, EPW or PVGIS, told by what is in it; or a log with the columns
                                  time, ghi, temp_air (W/m², °C), perhaps dni, dhi, wind_speed

  Lines at the top of a log name its place, clock and columns; a tilted panel needs the place:
    # latitude_deg: 60.4
    # longitude_deg: 5.3
    # time_zone: Europe/Oslo
    # ghi: Global light

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
    compare.add_argument(
        "--day", nargs="+", metavar="DAY", help="whole days out of the weather, see below, or a log of one day"
    )
    compare.add_argument("--weather", metavar="NAME", help="where the days are taken from, see below (sand-point)")
    compare.add_argument(
        "--heading", type=number, metavar="DEG", help="which way the van's nose points, 90 is east (0)"
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
