"""`vanpower check`: is this rig safe and fit, before ordering."""

from __future__ import annotations

import argparse

from vanpower.cli.words import ALL_YES, FORM, NO_OR_CLOSE, RIG_HELP, rig_from, wired

CHECK_MORE = """\
Tells for each controller whether a frosty morning can push the array over its ceiling, whether the array wakes it,
whether a hot roof still reaches the battery, and what the cable costs. A model is not a permit: local rules, makers'
sheets and a competent person win.

exit code: 0 all yes, 1 any no or close, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower check`."""
    about = "is this rig safe and fit, before ordering"
    check = commands.add_parser("check", help=about, description=CHECK_MORE, formatter_class=FORM)
    check.usage = "vanpower check RIG.toml [--wiring 3s]"
    check.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    check.add_argument("--wiring", help="check this wiring instead, such as 3s or 2s2p; 'all' for every one")
    check.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print every verdict of a rig."""
    from vanpower.checks import check, unasked

    answers = []
    for name, rig in wired(rig_from(asked.rig), [asked.wiring] if asked.wiring else []).items():
        print(f"{rig.name}: {name}\n")
        for verdict in check(rig):
            print(f"{verdict}\n")
            answers.append(verdict.answer)
        print("Not checked here:\n" + "".join(f"      {said}\n" for said in unasked(rig)))
    return ALL_YES if set(answers) == {"yes"} else NO_OR_CLOSE
