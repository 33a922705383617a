"""`vanpower day`: a day with battery and loads, and where every watt-hour went."""

from __future__ import annotations

import argparse

from vanpower.cli.options import HEADING, as_typed, outlook, turned
from vanpower.cli.runs import add_words, finish, rigs_of
from vanpower.rig import shade as shade_notes


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower day`."""
    about = "a day with battery and loads, and where every watt-hour went"
    command = add_words(commands, "day", about, "[--day dull] [options]")
    command.add_argument("--day", default="median", metavar="DAY", help="dull, median, bright, month-day (12-21), or a "
                         "CSV file with the columns time, ghi, temp_air (median)")  # fmt: skip
    command.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the verdict, the wirings and the ladder of a day."""
    from vanpower.simulation.run import simulate

    shade = shade_notes(*asked.shade)
    with as_typed(HEADING):
        request = outlook(asked.day, asked.weather, shade, **turned(asked.heading))
    answer = simulate(rigs_of(asked), request)
    return finish(asked, answer, [answer.text(), answer.ladder().text()], "moments")
