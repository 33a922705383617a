"""`vanpower rig`: a rig file with every field explained, to start one's own from."""

from __future__ import annotations

import argparse
from pathlib import Path

from vanpower.cli.options import ALL_YES, FORM, RIG_HELP, rig_from
from vanpower.files.atomic import check_place, written

RIG_MORE = """\
Prints a rig as a file with every field of its tables, unit and meaning beside it; what the label does not give stands
as a comment to fill in. Fixtures of a roof show only what they have. With --out it is written, never over a file that
is there.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower rig`."""
    about = "a rig file with every field explained, to start your own from"
    rig = commands.add_parser("rig", help=about, description=RIG_MORE, formatter_class=FORM)
    rig.usage = "vanpower rig RIG.toml [--out my-van.toml]"
    rig.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    rig.add_argument("--out", type=Path, metavar="MY-VAN.toml", help="write it into this file instead")
    rig.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print or write the file."""
    from vanpower.files.rig_files import rig_to_toml

    if asked.out is not None:
        check_place(asked.out, "rig file", (".toml",), again=False)
    text = rig_to_toml(rig_from(asked.rig))
    if asked.out is None:
        print(text, end="")
        return ALL_YES
    with written(asked.out) as file:
        file.write(text.encode())
    print(f"Rig written to {asked.out}; change its numbers to those of your labels.")
    return ALL_YES
