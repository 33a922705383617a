"""`vanpower shortlist`: which controller on offer is worth its price."""

from __future__ import annotations

import argparse

from vanpower.cli.options import ALL_YES, FORM, RIG_HELP, bar, meant_first, rig_from, weather_of, wired

SHORTLIST_MORE = """\
Puts every controller of a CSV file in the place of one of the rig's: which pass, which fail and why, what each delivers
over the days of a weather, and what each extra Wh a day costs beyond what re-plugging the panels delivers for nothing.
Without a file it takes the invented list of the kit,
data/shortlist.csv; copy that and fill in what is on offer, with your prices.

exit code: 0 something is worth it or may stay, 1 what is there must go, 2 bad input
"""
NO_STAY = 1


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower shortlist`."""
    about = "which controller on offer is worth its price"
    words = commands.add_parser("shortlist", help=about, description=SHORTLIST_MORE, formatter_class=FORM)
    words.usage = "vanpower shortlist RIG.toml [CANDIDATES.csv] [--weather NAME] [--day all] [--rewire] [--circuit N]"
    words.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    words.add_argument("candidates", nargs="?", metavar="CANDIDATES.csv", help="controllers on offer")
    words.add_argument("--weather", default="sand-point", metavar="NAME", help="typical year or CSV file (sand-point)")
    words.add_argument("--day", default="all", help="all (default), dull, median, bright, or month-day such as 12-21")
    words.add_argument("--wiring", help="this wiring instead, such as 3s or 2s2p")
    words.add_argument("--circuit", type=int, metavar="N", help="which of several controllers, from 1")
    words.add_argument("--rewire", action="store_true", help="the best allowed wiring on each controller")
    words.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the list and what to do."""
    from vanpower.files.controllers import read_controllers
    from vanpower.results.verdict import LINE
    from vanpower.rig import Days
    from vanpower.studies.shortlist import shortlist

    if asked.wiring == "all":
        raise ValueError("--rewire tries every wiring; --wiring names one, such as 2s2p.")
    candidates = read_controllers(asked.candidates)
    there = meant_first(rig_from(asked.rig), asked.circuit, "may be replaced")
    (rig,) = wired(there, [asked.wiring] if asked.wiring else []).values()
    request = Days(weather=weather_of(asked.weather), day=asked.day)
    found = shortlist(rig, candidates, request, rewire=asked.rewire, progress=bar("controllers"))
    print(f"{rig.name}, {found.title}\n\n{found.verdict}\n\n{found.text(LINE)}")
    return ALL_YES if found.free.passes else NO_STAY
