"""`vanpower change`: what to change first, for each unit of money."""

from __future__ import annotations

import argparse

from vanpower.cli.options import ALL_YES, FORM, NO_OR_CLOSE, RIG_HELP, bar, outlook, rig_from, wired
from vanpower.rig import LONGEST_QUOTE

MORE = """\
Tries one change after the other, at each controller, each as a whole rig with all checks: re-plugging, one more panel,
bigger panels, a thicker roof cable, the controller nearer, panels tilted, a battery of twice the volts, a controller
for each panel, things on the roof out of the way, a tracker that sweeps. Prices are yours to type; none is known here.

keys for --price: panel, bigger, cable, near, tilt, battery, second, move, tracker

try:
  vanpower change bookmobile --price panel=90 cable=25 second=110
  vanpower change goat-cheese-van --day dull --for volts

exit code: 0 something is worth it, 1 nothing is, or the rig may not stay as it is, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower change`."""
    about = "what to change first: panels, volts, cable, tilt, a box, a second controller"
    words = commands.add_parser("change", help=about, description=MORE, formatter_class=FORM)
    words.usage = "vanpower change RIG.toml [--for wh|volts|safety] [--price panel=90 ...] [--day median]"
    words.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    words.add_argument("--for", dest="aim", choices=("wh", "volts", "safety"), default="wh", help="what it is for (wh)")
    words.add_argument("--price", nargs="+", default=[], metavar="KEY=PRICE", help="prices in your own money")
    words.add_argument("--weather", metavar="NAME", help="typical year or CSV file (sand-point)")
    words.add_argument("--day", default="median", help="dull, median (default), bright, a date, or all")
    words.add_argument("--wiring", help="start from this wiring instead, such as 3s or 2s2p")
    words.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print what each change brings, and what to do first."""
    from vanpower.results.verdict import LINE
    from vanpower.rig import Days
    from vanpower.studies.next_changes import next_changes

    if asked.wiring == "all":
        raise ValueError("name one wiring to start from, such as --wiring 2s; others are tried from there.")
    (rig,) = wired(rig_from(asked.rig), [asked.wiring] if asked.wiring else []).values()
    every = asked.day == "all"
    days = Days(weather=asked.weather or "sand-point", day="all") if every else outlook(asked.day, asked.weather, ())
    prices = dict(_price(pair) for pair in asked.price)
    found = next_changes(rig, days, prices, aim=asked.aim, progress=bar("changes"))
    print(f"{rig.name}: {rig.wiring_name}\n\n{found.text(LINE)}\n\n{found.verdict}")
    return NO_OR_CLOSE if found.verdict.answer == "no" else ALL_YES


def _price(pair: str) -> tuple[str, float]:
    """A price as typed."""
    key, equals, value = pair.partition("=")
    try:
        price = float(value)
    except ValueError:
        price = -1.0
    if not equals or not 0 <= price <= 1e6:
        raise ValueError(f"--price {pair[:LONGEST_QUOTE]!r}: write KEY=PRICE in your money, such as panel=90.")
    return key.strip(), price
