"""`vanpower sheet`: one page to print and take to the van."""

from __future__ import annotations

import argparse
from pathlib import Path

from vanpower.cli.check import changed
from vanpower.cli.options import ALL_YES, FORM, NO_OR_CLOSE, RIG_HELP, bar, rig_from, wired
from vanpower.rig import RULE_BOOKS, Days

SHEET_MORE = """\
Draws the rig, its wiring diagram, what to buy, every verdict, the safe order of work, cautions and assumptions onto one
A4 page, PDF or PNG, legible in black and white.

With --settings it prints what to type into controller, load output and alarm instead.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower sheet`."""
    about = "one page to print: diagram, verdicts, what to buy, order of work"
    sheet = commands.add_parser("sheet", help=about, description=SHEET_MORE, formatter_class=FORM)
    sheet.usage = "vanpower sheet RIG.toml --out page.pdf [--wiring 3s] [--weather NAME]"
    sheet.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    sheet.add_argument("--out", type=Path, metavar="PAGE.pdf", help="where to; .pdf, .png or .svg")
    sheet.add_argument("--settings", action="store_true", help="print charge, load and alarm settings instead")
    sheet.add_argument("--wiring", help="this wiring instead, such as 3s or 2s2p")
    sheet.add_argument("--coldest", metavar="°C", help="coldest dawn instead of the file's, a weather, or "
                       "places: coast=-3,pass=-22")  # fmt: skip
    sheet.add_argument(
        "--weather", metavar="NAME", help="also what the controller clips in this typical year or CSV file"
    )
    sheet.add_argument("--rules", choices=RULE_BOOKS, help="whose wiring rules decide, instead of the file's")
    sheet.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Write the page, or print one of its cards."""
    if asked.settings:
        return _settings(asked)
    if asked.out is None:
        raise ValueError("--out is missing; say where the page goes, such as --out page.pdf, or add --settings.")
    return _page(asked)


def _settings(asked: argparse.Namespace) -> int:
    """Print the settings card."""
    from vanpower.checks import settings_card

    if asked.out is not None:
        raise ValueError("--settings prints; leave out --out, or leave out --settings for the page.")
    card = settings_card(rig_from(asked.rig))
    print(f"{card.rig.name}: settings\n\n{card.text(100)}\n\n{card.verdict}")
    return ALL_YES if card.verdict.answer == "yes" else NO_OR_CLOSE


def _page(asked: argparse.Namespace) -> int:
    """Write the page."""
    from vanpower.figures import sheet
    from vanpower.sharing.picture_files import check_picture
    from vanpower.sharing.saving import save_with_words
    from vanpower.studies import clipping_over

    if asked.wiring == "all":
        raise ValueError("a page shows one wiring; name it, such as --wiring 2s2p.")
    check_picture(asked.out)
    rig = changed(rig_from(asked.rig), asked.coldest, asked.rules)
    (one,) = wired(rig, [asked.wiring] if asked.wiring else []).values()
    days = [Days(weather=asked.weather, day="all")] if asked.weather else []
    # the long part, which the page finds kept
    extra = [clipping_over(one, each, progress=bar("days")) for each in days]
    said = save_with_words(asked.out, "sheet", one, *days, plainly=lambda: sheet(one, extra=extra))
    print(f"Page {said}")
    return ALL_YES
