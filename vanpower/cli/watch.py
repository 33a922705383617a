"""`vanpower watch`: is the array still doing what it should, out of months of a controller's history."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vanpower.cli.options import ALL_YES, FORM, NO_OR_CLOSE, RIG_HELP, rig_from

if TYPE_CHECKING:
    from vanpower.rig import Rig
    from vanpower.watching.telling import Watch

MORE = """\
A history has a row a day: date, watt-hours, and if it has them highest watts, highest panel volts, battery volts, and
minutes in bulk, absorption and float. Columns are recognised by common names; name others once:
  vanpower watch days.csv --rig my-van --columns energy_wh="Sum" p_high="Top"
Several files are joined by date; where they overlap they must agree. Of several controllers give one file each in the
order of the rig's circuits, or one with a column circuit. A log of watts (a row a minute or quarter hour) will do too.

Stays are rows of date and place, one for each move; one row for a van that stays where it is:
  from,latitude,longitude
  2026-04-20,47.1,8.5
Without them the latitude is worked out from the minutes awake, and it takes weeks longer to tell a shadow from a place.

Without a history: which columns of one would tell which cause of this rig.

exit code: 0 as it should be, 1 something is wrong, suspected or cannot be told, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower watch`."""
    about = "is it still doing what it should, out of months of a controller's history"
    watch = commands.add_parser("watch", help=about, description=MORE, formatter_class=FORM)
    watch.usage = "vanpower watch HISTORY.csv... --rig RIG.toml [--stays STAYS.csv]"
    watch.add_argument(
        "history",
        nargs="*",
        metavar="HISTORY.csv",
        help="daily histories or logs; without any, what columns would tell",
    )
    watch.add_argument("--rig", required=True, metavar="RIG.toml", help=RIG_HELP)
    watch.add_argument("--stays", metavar="STAYS.csv", help="where the van stood from which date on")
    watch.add_argument(
        "--columns", nargs="+", default=[], metavar="FIELD=NAME", help="what columns are called in the history"
    )
    watch.add_argument("--dates", default="", choices=("day-first", "month-first"), help="how dates with slashes begin")
    watch.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    watch.add_argument("--state", type=Path, metavar="FILE", help="keep what is believed in this small file: next "
                       "month's history alone is enough then")  # fmt: skip
    watch.add_argument("--days", action="store_true", help="print every day")
    watch.add_argument("--json", action="store_true", help="print the answer for a program")
    watch.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the verdict and every cause."""
    from vanpower.watching.telling import watch

    rig = rig_from(asked.rig)
    if not asked.history:
        return _columns(rig)
    for name in (*asked.history, *([asked.stays] if asked.stays else [])):
        if Path(name).suffix.lower() == ".toml":
            raise ValueError(f"{name} is a rig file; name a history, and the rig behind --rig.")
    columns = {}
    for pair in asked.columns:
        field, equals, name = pair.partition("=")
        if not equals or not name:
            raise ValueError(f'--columns {pair!r} names no column; write energy_wh="Sum of the day".')
        columns[field] = name
    found = watch([Path(name) for name in asked.history], rig, stays=Path(asked.stays) if asked.stays else None,
                  columns=columns, dates=asked.dates.replace("-", " "), state=asked.state)  # fmt: skip
    if asked.chart:
        _draw(found, asked.chart)
    if asked.json:
        print(json.dumps(_plain(found), indent=1, ensure_ascii=False))
    else:
        print(f"{found.verdict}\n\n{found.table()}")
        if asked.days:
            print(f"\n{found.table('days')}")
    return ALL_YES if found.verdict.answer == "yes" else NO_OR_CLOSE


def _columns(rig: Rig) -> int:
    """Print which columns would tell which cause of a rig."""
    from vanpower.watching.practice import what_columns_tell

    print(f"{rig.name}: what a daily history tells, the more columns it has\n\n{what_columns_tell(rig)}")
    return ALL_YES


def _draw(found: Watch, path: Path) -> None:
    """Draw the answer into a picture, written whole or not at all."""
    from vanpower.figures.kinds import KINDS
    from vanpower.sharing.picture_writing import write_picture

    write_picture(KINDS["watch"].figure(found), path)


def _plain(found: Watch) -> dict[str, Any]:
    """The answer as plain data."""
    verdict = found.verdict
    return {
        "answer": verdict.answer,
        "sentence": verdict.sentence,
        "basis": verdict.basis,
        "caution": verdict.caution,
        "circuits": {
            name: {
                "days": len(part.history),
                "probability": part.by_kind(),
                "fault": float(part.filtered.fault[-1]),
                "since": None if part.told is None else str(part.told[1]),
                "first_sure": None if part.told is None else str(part.told[0]),
                "share": part.share(),
                "smallest_loss_seen": part.least,
                "seen_after_days": {one.name: one.day for one in part.hidden},
                "alarms": [
                    {"date": str(part.history.dates[alarm.day]), "since": str(part.history.dates[alarm.since]),
                     "cause": part.filtered.causes[alarm.cause].kind}
                    for alarm in part.alarms
                ],
            }
            for name, part in found.parts.items()
        },
    }  # fmt: skip
