"""`vanpower hill`: is the tracker stuck on a lower hill of power, out of one or two readings or a log."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vanpower.cli.options import (
    ALL_YES,
    FORM,
    NO_OR_CLOSE,
    RIG_HELP,
    SHADE_MORE,
    as_typed,
    meant_first,
    number,
    rig_from,
    wired,
)
from vanpower.rig import shade as shade_notes

if TYPE_CHECKING:
    from vanpower.results.verdict import Verdict
    from vanpower.rig import Rig

WORDS = {"Reading.v_array": "panel volts", "Reading.p_array": "panel watts", "Reading.light": "--light"}
# fields of a reading, and what is typed for them
MORE = f"""\
A shaded string has several hills of power, and some trackers keep the first they meet.
Read panel volts and watts, restart the controller by its own switch or setting, never by pulling a plug, wait a minute
and read again, all in steady light: that tells. One reading says little without its light and the shade on the roof. A
log with a column of panel-side volts tells by its jumps.

{SHADE_MORE}
try:
  vanpower hill bookmobile --wiring 2s --before 39 35 --after 27 107
  vanpower hill bookmobile --wiring 2s --before 39 35 --light 700 --shade P1.1=0.2
  vanpower hill bookmobile --wiring 2s --log van.csv

exit code: 0 it is not, 1 it is, or it cannot be told, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower hill`."""
    about = "is the tracker stuck on a lower hill: the restart test"
    hill = commands.add_parser("hill", help=about, description=MORE, formatter_class=FORM)
    hill.usage = "vanpower hill RIG.toml --before VOLTS WATTS [--after VOLTS WATTS] [options]"
    hill.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    hill.add_argument("--before", type=number, nargs=2, metavar=("V", "W"), help="panel volts and watts as it is now")
    hill.add_argument("--after", type=number, nargs=2, metavar=("V", "W"), help="the same after a restart")
    hill.add_argument("--light", type=number, nargs="+", default=[], metavar="W/m²", help="light then, and after it")
    hill.add_argument("--log", metavar="LOG.csv", help="instead of readings: a log with panel-side volts")
    hill.add_argument("--wiring", metavar="2s", help="this wiring instead of the file's")
    hill.add_argument("--temp", type=number, default=40.0, metavar="°C", help="how warm the cells are (40)")
    hill.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see above")
    hill.add_argument("--circuit", type=int, metavar="N", help="which controller was measured, from 1")
    hill.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print whether the tracker is stuck."""
    rig = meant_first(rig_from(asked.rig), asked.circuit)
    if asked.wiring == "all":
        raise ValueError("a tracker has one wiring; name it, such as --wiring 2s.")
    (rig,) = wired(rig, [asked.wiring] if asked.wiring else []).values()
    if (asked.log is None) == (asked.before is None):
        raise ValueError("give --before with panel volts and watts, or --log with a log of them; one of the two.")
    verdict = _of_log(asked, rig) if asked.log else _of_readings(asked, rig)
    print(f"{rig.name}: {rig.circuits[0].wiring.name}\n\n{verdict}")
    return ALL_YES if verdict.answer == "no" else NO_OR_CLOSE


def _of_log(asked: argparse.Namespace, rig: Rig) -> Verdict:
    """What the jumps of a log say."""
    from vanpower.trials.logs import read_log
    from vanpower.trials.stuck_trackers import stuck_tracker_in

    if asked.after or asked.light or asked.shade:
        raise ValueError("--log brings its own volts, watts and light; leave out --after, --light and --shade.")
    return stuck_tracker_in(read_log(asked.log, pilot=True), rig)


def _of_readings(asked: argparse.Namespace, rig: Rig) -> Verdict:
    """What one or two readings say."""
    from vanpower.trials.stuck_trackers import Reading, stuck_tracker

    typed = [pair for pair in (asked.before, asked.after) if pair is not None]
    if len(asked.light) > len(typed):
        raise ValueError(f"--light has {len(asked.light)} values for {len(typed)} readings; one each.")
    if asked.after and len(asked.light) == 1:
        raise ValueError("--light has one value for two readings; give both, or leave it out if the light held still.")
    lights = [*asked.light, None, None]
    shade = shade_notes(*asked.shade)
    with as_typed(WORDS):
        readings = [Reading(v_array=v, p_array=p, light=light) for (v, p), light in zip(typed, lights, strict=False)]
    with as_typed({"Snapshot.temp_cell": "--temp"}):
        return stuck_tracker(*readings, rig=rig, temp_cell=asked.temp, shade=shade)
