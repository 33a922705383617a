"""`vanpower trip`: whether the battery carries a trip over several places, and if not, what would."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path

from vanpower.cli.options import (
    ALL_YES,
    FORM,
    NO_OR_CLOSE,
    RIG_HELP,
    bar,
    circuit_first,
    circuit_word,
    number,
    rig_from,
    to_put_right,
)
from vanpower.cli.runs import check_table, write_table
from vanpower.rig import Load

MORE = """\
A trip is a file with a table for each stop; every day is at one of them:
  [[stops]]
  name = "lake"
  weather = "greensboro"     # a typical year, or a weather file beside this one
  from_day = "07-04"         # month-day
  to_day = "07-10"
  drive_h = 2.5              # hours driven on the first day; drive_daily_h on the others
more keys: heading_deg, turns_daily, shade_pct, drive_from_h, shore; of panels that you tilt there, and turn to the
sun in the morning and at noon: tilt_deg, faces_deg, turn_deg = 45
What the alternator charges stands in the rig's file: [[sources]], kind = "alternator", i_charge_max = 30

exit code: 0 the trip is carried, 1 it is not or barely, 2 bad input, 130 stopped by hand
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower trip`."""
    about = "will the battery carry a trip over several places, and if not, what would?"
    command: argparse.ArgumentParser = commands.add_parser("trip", help=about, epilog=MORE, formatter_class=FORM)
    command.usage = "vanpower trip STOPS.toml --rig RIG.toml [options]"
    command.description = f"{about[0].upper()}{about[1:]}"
    command.add_argument("stops", metavar="STOPS.toml", help="a file of stops, or three-coasts, the example")
    command.add_argument("--rig", required=True, metavar="RIG.toml", help=RIG_HELP)
    command.add_argument("--wiring", metavar="3s", help="in this wiring (as it stands)")
    circuit_word(command)
    command.add_argument(
        "--load", type=number, metavar="W", help="draw these watts all day, instead of the rig's loads"
    )
    command.add_argument("--charge", type=number, metavar="%", help="charge at the start, instead of the rig's")
    command.add_argument("--quick", action="store_true", help="only which days fall short, not what would carry it")
    command.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    command.add_argument("--csv", type=Path, metavar="OUT.csv", help="write the days into this file")
    command.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the verdict and the days of a trip."""
    from vanpower.checks.caveats import to_mend
    from vanpower.cli.options import as_typed
    from vanpower.studies.trips import walk_trip

    if asked.csv:
        check_table(asked.csv)
    if asked.chart:
        from vanpower.sharing.picture_writing import check_picture

        check_picture(asked.chart)
    rig = circuit_first(rig_from(asked.rig), asked.circuit)
    with as_typed({"Load.p_load": "--load", "Battery.soc_start_pct": "--charge"}):
        if asked.load is not None:
            rig = rig.changed(loads=(Load(name="as asked", p_load=asked.load),))
        if asked.charge is not None:
            rig = rig.with_battery(soc_start_pct=asked.charge)
    rig = rig.wired(asked.wiring) if asked.wiring else rig
    trip = walk_trip(rig, asked.stops, changes=not asked.quick, progress=bar("changes"))
    mends = to_mend(rig.wiring_name, rig)
    print(f"{rig.name}, {trip.title}\n\n{trip.verdict}\n")
    print("\n\n".join([trip.text(), *to_put_right(mends)]) + "\n")
    if asked.csv:
        write_table(trip.table().to_pandas(rounded=True), asked.csv, f"{rig.name}, {trip.title}")
    if asked.chart:
        from vanpower.figures.kinds import KINDS
        from vanpower.sharing.saving import save_with_words

        plainly = partial(KINDS["trip"].figure, trip)
        print(f"Chart {save_with_words(asked.chart, 'trip', trip, plainly=plainly)}")
    return ALL_YES if trip.verdict.answer == "yes" else NO_OR_CLOSE
