"""`vanpower roof`: what shade from the roof's fixtures costs on a day or at an hour, wiring by wiring."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from vanpower.cli.options import (
    ALL_YES,
    FORM,
    RIG_HELP,
    as_typed,
    bar,
    circuit_first,
    circuit_word,
    number,
    rig_from,
    wired,
)
from vanpower.rig import LONGEST_QUOTE, Parked, Rig, Roof

if TYPE_CHECKING:
    from vanpower.studies.comparison import Comparison

LIE = "way panels lie"
WORDS = {"latitude_deg": "--latitude", "day": "--date", "hour": "--hour", "heading_deg": "--heading",
         "clearness": "--clearness", "temp_air": "--temp"}  # fmt: skip
# fields of a request, and the words that are typed for them
LATITUDE, DAY_STEP = 50.0, 15.0
# [degrees] where a van stands of which nothing is said; no source. [minutes] between two moments of a day
ROOF_MORE = """\
The rig's file needs [roof], [[roof.spots]] and [[roof.fixtures]]; data/rigs/goat-cheese-van.toml has all of them.
Hours are mean sun time: the sun is highest near 12, whatever the clock says.

try:
  vanpower roof goat-cheese-van --date 06-21 --chart roof.png
  vanpower roof goat-cheese-van --date 10-15 --hour 9.5 --heading 90
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower roof`."""
    about = "what shade from the roof's fixtures costs, wiring by wiring"
    roof = commands.add_parser("roof", help=about, epilog=ROOF_MORE, formatter_class=FORM)
    roof.usage, roof.description = "vanpower roof RIG.toml --date 06-21 [options]", f"{about[0].upper()}{about[1:]}."
    roof.add_argument("rig", metavar="RIG.toml", help=RIG_HELP.replace("bookmobile", "goat-cheese-van"))
    roof.add_argument("--date", default="06-21", metavar="MM-DD", help="month and day (06-21)")
    roof.add_argument("--hour", type=number, metavar="H", help="one hour of it in sun time, 9.5 for half past nine")
    roof.add_argument("--latitude", type=number, default=LATITUDE, metavar="°", help="where the van stands (50)")
    roof.add_argument("--heading", type=number, default=0.0, metavar="°", help="where the nose points, from north (0)")
    roof.add_argument("--clearness", type=number, default=1.0, metavar="0..1", help="1 clear sky (1), 0 overcast")
    roof.add_argument("--temp", type=number, default=20.0, metavar="°C", help="air temperature (20)")
    roof.add_argument("--wiring", nargs="+", metavar="3s", help="only these wirings")
    circuit_word(roof)
    roof.add_argument("--mates", action="store_true", help="also which panels should share a string under this shade")
    roof.add_argument("--headings", action="store_true", help="also eight ways to park")
    roof.add_argument("--turn", nargs="+", default=[], metavar="P3", help="also with these panels turned by a quarter "
                      "about their back left corner: along against across")  # fmt: skip
    roof.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    roof.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print what the wirings deliver and what each fixture costs, and draw the roof."""
    from vanpower.results.verdict import LINE
    from vanpower.studies.comparison import compare
    from vanpower.studies.restarts import restart_test
    from vanpower.studies.roof import compare_headings, compare_roofs, fixture_costs, string_mates

    rig = circuit_first(rig_from(asked.rig), asked.circuit)
    plan, turned = rig.need_roof(), turned_roof(rig, asked.turn)
    parked = parked_from(asked)
    rigs = wired(rig, asked.wiring or ["all"])
    comparison = compare(rigs, parked, progress=bar("wirings"))
    if asked.chart:
        print(f"Chart {_saved(comparison, rigs, parked, asked.chart)}\n")
    costs = fixture_costs(rigs, parked)
    print(f"{rig.name}, {comparison.title}\n\n{comparison.text()}\n\n{comparison.verdict}\n")
    print(f"What each costs standing alone, all together, and what is left\n\n{costs.text()}\n\n{costs.verdict}\n")
    if restart := restart_test(comparison):
        print(f"{fill(restart, LINE)}\n")
    if asked.mates:
        mates = string_mates(rig, parked)
        print(f"Which panels should share a string?\n\n{mates.text()}\n\n{mates.verdict}\n")
    if asked.headings:
        parking = compare_headings(rigs, parked)
        print(f"{parking.text()}\n\n{parking.verdict}\n")
    if asked.turn:
        lying = compare_roofs(rigs, {"as it is": plan, f"{' and '.join(asked.turn)} turned": turned}, parked, what=LIE)
        print(f"{lying.text()}\n\n{lying.verdict}\n")
    return ALL_YES


def turned_roof(rig: Rig, panels: Sequence[str]) -> Roof:
    """The rig's roof with panels turned by a quarter, named as typed; refused where there is no room for them."""

    plan = rig.need_roof()
    for typed in panels:
        found = re.fullmatch(r"P([1-9]\d{0,2})", typed, re.IGNORECASE)
        if not found:
            raise ValueError(f"--turn is {typed[:LONGEST_QUOTE]!r}; write P1 for the first panel, P1 P2 for two.")
        number = int(found[1]) - 1
        there = plan.spot(number)
        plan = plan.with_placement(number, across=there is not None and there.along)
    try:
        return rig.changed(roof=plan).need_roof()
    except ValueError as trouble:
        told = str(trouble).removeprefix("Roof.spots: ").removeprefix("Roof.fixtures: ")
        raise ValueError(f"{' and '.join(panels)} turned: {told}") from None


def parked_from(asked: argparse.Namespace) -> Parked:
    """Where and when the van stands, as asked; errors speak of the words typed."""
    with as_typed({f"Parked.{field}": word for field, word in WORDS.items()}):
        return Parked(
            latitude_deg=asked.latitude, day=asked.date, hour=asked.hour, step_min=DAY_STEP,
            heading_deg=asked.heading, clearness=asked.clearness, temp_air=asked.temp,
        )  # fmt: skip


def _saved(comparison: Comparison, rigs: dict[str, Rig], parked: Parked, path: Path) -> str:
    """Draw the roof, the curves and the day into one picture, and say where it is and what it carries."""
    from vanpower.figures.roof import roof_figure
    from vanpower.sharing.saving import save_with_words

    return save_with_words(path, "roof", comparison, plainly=lambda: roof_figure(rigs, parked))
