"""`vanpower compare`: what every wiring delivers in the same light, and what decides."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from vanpower.cli.options import (
    ALL_YES,
    DRAWS,
    FORM,
    MADE_MORE,
    RIG_HELP,
    SHADE_MORE,
    bar,
    circuit_first,
    circuit_word,
    number,
    requests_of,
    rig_from,
    to_put_right,
    wired,
)
from vanpower.rig import Request, Rig

if TYPE_CHECKING:
    from vanpower.results.verdict import Verdict
    from vanpower.studies.comparison import Comparison

QUESTION_MORE = f"""\
days:
  dull, median, bright       5, 50 and 95 of 100 days have less light
  dullest, brightest         the ends; each word also of a month: "dullest december"
  12-21, 2019-12-21          a date, with its year where the weather has several
  november..february, all    many days at once

weather:
  sand-point, greensboro, miami   typical years of hours: dull coast, mild, sunny
  graz                            seven days measured minute by minute, such as --day 07-01 (broken) and 11-06 (grey)
  a file                          TMY2, TMY3, EPW, PVGIS or NSRDB, told by what is in it; or a log with the columns
                                  time, ghi, temp_air (W/m², °C), perhaps dni, dhi, wind_speed

  Lines at the top of a log name its place, clock and columns; a tilted panel needs the place:
    # latitude_deg: 60.4
    # longitude_deg: 5.3
    # time_zone: Europe/Oslo
    # ghi: Global light

{MADE_MORE}
{SHADE_MORE}"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower compare`."""
    about = "what every wiring delivers in the same light, and what decides"
    compare = commands.add_parser("compare", help=about, epilog=QUESTION_MORE, formatter_class=FORM)
    compare.usage, compare.description = "vanpower compare RIG.toml [options]", f"{about[0].upper()}{about[1:]}."
    question_words(compare)
    compare.add_argument("--sure", action="store_true", help="also how sure it is that the best is ahead of the next, "
                         "while label, heat, light and cable are varied")  # fmt: skip
    compare.add_argument("--mates", action="store_true", help="also which panels should share a string: every way to "
                         "share them out, equal ones told apart by their places")  # fmt: skip
    compare.set_defaults(run=run)


def question_words(parser: argparse.ArgumentParser) -> None:
    """The words of a question: a rig, a light or days, shade, wirings, a chart."""
    parser.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    parser.add_argument("--light", type=number, metavar="W/m²", help="one moment: the light on the panels (800)")
    parser.add_argument("--temp", type=number, metavar="°C", help="one moment: how warm the cells are (25)")
    parser.add_argument(
        "--day", nargs="+", metavar="DAY", help="whole days out of the weather, see below, or a log of one day"
    )
    parser.add_argument("--weather", metavar="NAME", help="where the days are taken from, see below (sand-point)")
    parser.add_argument("--heading", type=number, metavar="DEG", help="which way the van's nose points, 90 is east (0)")
    parser.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see below")
    parser.add_argument("--wiring", nargs="+", metavar="3s", help="only these wirings")
    circuit_word(parser)
    parser.add_argument("--apart", action="store_true", help="also a controller of its own for every panel")
    parser.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file (.png, .svg "
                        "with its recipe; .pdf without)")  # fmt: skip


def run(asked: argparse.Namespace) -> int:
    """Print the table and the verdict for every light asked for, and draw them."""
    from vanpower.results.verdict import LINE
    from vanpower.studies.restarts import restart_test
    from vanpower.studies.roof import string_mates

    comparisons = comparisons_of(asked)
    doubts = [f"{_sureness(comparison)}\n" for comparison in comparisons] if asked.sure else [""] * len(comparisons)
    if asked.chart:
        print(f"{save(comparisons, asked.chart)}\n")
    for comparison, sure in zip(comparisons, doubts, strict=True):
        rig = next(iter(comparison.outcomes.values())).rig
        print(f"{rig.name}, {comparison.title}\n\n{comparison.text()}\n\n{comparison.verdict}\n")
        print("".join(f"{said}\n\n" for said in to_put_right(comparison.to_mend())), end="")
        if restart := restart_test(comparison):
            print(f"{fill(restart, LINE)}\n")
        if asked.mates:
            mates = string_mates(rig, comparison.request)
            print(f"Which panels should share a string?\n\n{mates.text()}\n\n{mates.verdict}\n")
        print(sure, end="\n" * bool(sure))
    return ALL_YES


def sureness(rigs: Mapping[str, Rig], request: Request) -> Verdict:
    """How sure it is that the best of some allowed wirings is ahead of the next."""
    from vanpower.studies.uncertainty import how_sure

    return how_sure(rigs, request, samples=DRAWS, progress=bar("draws")).verdict


def _sureness(comparison: Comparison) -> Verdict:
    """The same of a comparison, where it leaves two wirings to weigh."""
    allowed = {name: outcome.rig for name, outcome in comparison.outcomes.items() if outcome.refused is None}
    if len(allowed) < 2:
        raise ValueError(f"--sure weighs two allowed wirings, and here is {len(allowed)}; leave it out.")
    return sureness(allowed, comparison.request)


def comparisons_of(asked: argparse.Namespace) -> list[Comparison]:
    """Every wiring asked for, in every light asked for."""
    from vanpower.studies.comparison import compare

    rig = circuit_first(rig_from(asked.rig), asked.circuit)
    requests = requests_of(asked)
    rigs = wired(rig, asked.wiring or ["all"], requests[0].shade)
    if asked.apart:
        rigs |= {name: split for name, split in rig.wirings(apart=True).items() if name == "apart"}
    return [compare(rigs, request, progress=bar("wirings")) for request in requests]


def save(comparisons: Sequence[Comparison], path: Path) -> str:
    """Draw all comparisons into one picture, written whole or not at all; says where it is and what it carries."""
    from vanpower.sharing.saving import save_answer

    return f"Chart {save_answer(path, comparisons)}"
