"""The command line: a module for each command, which adds its words and runs it.

Prints answers and returns an exit code; all thinking is done elsewhere.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from vanpower import __version__
from vanpower.cli import (
    answer,
    change,
    check,
    classroom,
    compare,
    day,
    fault,
    hill,
    notebooks,
    remake,
    rig,
    roof,
    sheet,
    shortlist,
    sweep,
    trial,
    trip,
    used,
    watch,
    weather,
    year,
)
from vanpower.cli.options import ALL_YES, BAD_INPUT, FORM, INTERRUPTED, Parser
from vanpower.cli.screen import draw_quietly, write_plainly

COMMANDS = (
    rig, check, compare, day, year, trip, weather, sweep, roof, sheet, shortlist, change, trial, used, fault, hill,
    watch, answer, remake, classroom, notebooks,
)  # fmt: skip
# in the order in which help lists them

ABOUT = """\
Series, parallel or both? Solar wiring studies for camper vans.

Without a command, opens the pages in your browser.
"""
MORE = """\
try:
  vanpower rig bookmobile --out my-van.toml
  vanpower check data/rigs/bookmobile.toml
  vanpower compare data/rigs/bookmobile.toml --light 80 --temp 12
  vanpower compare data/rigs/bookmobile.toml --day dull bright --chart answer.png
  vanpower day data/rigs/bookmobile.toml --day dull --load 20
  vanpower year data/rigs/bookmobile.toml --wiring all --csv days.csv
  vanpower trip three-coasts --rig data/rigs/bookmobile.toml
  vanpower sheet data/rigs/bookmobile.toml --out page.pdf
  vanpower shortlist data/rigs/bookmobile.toml data/shortlist.csv --weather greensboro
  vanpower change data/rigs/bookmobile.toml --price panel=90 cable=25
  vanpower trial data/logs/apple-barn.csv
  vanpower used data/rigs/bookmobile.toml --light 900 --temp 40 --isc 5.6 --voc 21.3
  vanpower fault data/rigs/bookmobile.toml --volts 18 --amps 0 --battery 13.1 --light grey
  vanpower hill data/rigs/bookmobile.toml --wiring 2s --before 39 35 --after 27 107
  vanpower roof data/rigs/goat-cheese-van.toml --date 06-21 --chart roof.png
  vanpower answer data/rigs/bookmobile.toml --light 150 --chart answer.png
  vanpower remake answer.png
"""


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    write_plainly()
    draw_quietly()
    parser = _parser()
    parser.look_at(sys.argv[1:] if words is None else words)
    asked, unknown = parser.parse_known_args(words)
    if unknown:
        parser.commands.get(asked.command, parser).unknown(unknown)
    try:
        return asked.run(asked)
    except ValueError as trouble:
        print(f"vanpower: {trouble}", file=sys.stderr)
        return BAD_INPUT
    except OSError as trouble:
        if isinstance(trouble, BrokenPipeError):
            # whoever read the answer has seen enough; leave nothing to be flushed into the closed pipe
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return ALL_YES
        print(f"vanpower: {trouble.filename or 'a file'}: {trouble.strerror or trouble}.", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED


def _parser() -> Parser:
    """The words of the command line."""
    parser = Parser("vanpower", description=ABOUT, epilog=MORE, formatter_class=FORM)
    parser.add_argument("--no-browser", action="store_true", help="only print the pages' address")
    parser.add_argument("--version", action="version", version=f"vanpower {__version__}")
    parser.set_defaults(run=notebooks.open_pages)
    commands = parser.add_subparsers(title="commands", metavar="", dest="command")
    for command in COMMANDS:
        command.add(commands)
    parser.commands = commands.choices
    return parser
