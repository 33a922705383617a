"""`vanpower sheet`: one page to print and take to the van."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from vanpower.cli.check import HOTTEST_HELP, changed
from vanpower.cli.options import (
    ALL_YES,
    FORM,
    NO_OR_CLOSE,
    RIG_HELP,
    as_typed,
    bar,
    number,
    rig_from,
    sky_there,
    wired,
)
from vanpower.results.verdict import LINE, hung
from vanpower.rig import RULE_BOOKS, Days, Rig

SHEET_MORE = """\
Draws the rig, its wiring diagram, what to buy, every verdict, the safe order of work, cautions and assumptions onto one
A4 page, PDF or PNG, legible in black and white.

With --settings it prints what to type into controller, load output and alarm instead; --out card.pdf writes it as a
page to tick off.

With --commission it prints what a meter should show on each panel, string and controller in the light and heat of now,
with tolerances, and the order of work; --out card.csv writes the table to fill in, card.pdf the page (--phone as wide
as a telephone). Fill in volts and amps, then --filled card.csv judges them, and a year later --compare old.csv new.csv
tells dirt from a diode; with --out page.pdf as a page.

try:
  vanpower sheet kiln-bus --settings --out settings.pdf
  vanpower sheet bookmobile --commission --light 620 --temp 41 --out card.csv
  vanpower sheet bookmobile --commission --clock 47 06-21 13 --sky bright-cloud
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
    sheet.add_argument("--hottest", metavar="°C", help=HOTTEST_HELP)
    sheet.add_argument(
        "--weather", metavar="NAME", help="also what the controller clips in this typical year or CSV file"
    )
    sheet.add_argument("--rules", choices=RULE_BOOKS, help="whose wiring rules decide, instead of the file's")
    sheet.add_argument("--commission", action="store_true", help="print what a meter should show now instead")
    sheet.add_argument("--light", type=number, metavar="W/m²", help="for --commission: light on the panels now")
    sheet.add_argument("--light-within", type=number, metavar="%", help="by how much it may be off (20; a meter 5)")
    sheet.add_argument("--temp", type=number, metavar="°C", help="for --commission: heat at the panels' back")
    sheet.add_argument("--clock", nargs=3, metavar=("LATITUDE", "DATE", "HOUR"),
                       help="instead of light and heat: a clear sky there, such as 47 06-21 13")  # fmt: skip
    sheet.add_argument("--sky", metavar="WORD", help="with --clock: clear, broken, bright-cloud or overcast (clear)")
    sheet.add_argument("--phone", action="store_true", help="the page as wide as a telephone")
    sheet.add_argument("--filled", type=Path, metavar="CARD.csv", help="judge a filled card")
    sheet.add_argument("--compare", nargs=2, type=Path, metavar=("OLD.csv", "NEW.csv"), help="two filled cards")
    sheet.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Write the page, or print one of its cards."""
    if asked.settings:
        return _settings(asked)
    if asked.compare or asked.filled:
        return _filled(asked)
    if asked.commission:
        return _commission(asked)
    if asked.out is None:
        raise ValueError("--out is missing; say where the page goes, such as --out page.pdf, or add --settings.")
    return _page(asked)


def _settings(asked: argparse.Namespace) -> int:
    """Print the settings card."""
    from vanpower.checks.settings_card import settings_card

    card = settings_card(rig_from(asked.rig))
    if asked.out is not None:
        from vanpower.figures.commission import settings_page

        return _written(asked, settings_page(card, phone=asked.phone))
    print(f"{card.rig.name}: settings\n\n{card.text(100)}\n\n{card.verdict}")
    return ALL_YES if card.verdict.answer == "yes" else NO_OR_CLOSE


def _filled(asked: argparse.Namespace) -> int:
    """Judge a filled card, or two."""
    from vanpower.trials.cards import read_card
    from vanpower.trials.commissioning import compare_cards, judge_card

    (rig,) = wired(rig_from(asked.rig), [asked.wiring] if asked.wiring else []).values()
    if asked.compare:
        found = compare_cards(rig, *map(read_card, asked.compare))
    else:
        within = 20.0 if asked.light_within is None else asked.light_within
        found = judge_card(rig, read_card(asked.filled), light_within_pct=within)
    if asked.out is not None:
        from vanpower.figures.commission import judged_page

        return _written(asked, judged_page(found, phone=asked.phone))
    print(f"{rig.name}\n\n{found.text()}\n\n{found.verdict}")
    return ALL_YES if found.verdict.answer == "yes" else NO_OR_CLOSE


def _commission(asked: argparse.Namespace) -> int:
    """Print the commissioning card, or write it."""
    from vanpower.trials.cards import write_card
    from vanpower.trials.commissioning import ORDER_FROM, OUTSIDE, commission

    (rig,) = wired(rig_from(asked.rig), [asked.wiring] if asked.wiring else []).values()
    light, temp, within = _now(asked, rig)
    with as_typed({"Snapshot.light": "--light", "Snapshot.temp_cell": "--temp"}):
        card = commission(rig, light, temp, light_within_pct=within)
    if asked.out is not None and asked.out.suffix.lower() == ".csv":
        write_card(card, asked.out)
        print(f"Card written to {asked.out}.")
        return ALL_YES
    if asked.out is not None:
        from vanpower.figures.commission import commission_page

        return _written(asked, commission_page(card, phone=asked.phone))
    steps = [hung(f"{k:2}  [ ] ", step, LINE) for k, step in enumerate(card.steps, 1)]
    print(f"{rig.name}: commissioning\n\n{card.text()}\n\n{hung('', OUTSIDE, LINE)}\n\n{hung('', ORDER_FROM, LINE)}\n")
    print("\n".join([*steps, "", str(card.verdict)]))
    return NO_OR_CLOSE


def _written(asked: argparse.Namespace, page: Any) -> int:
    """Write a card as a page."""
    from vanpower.sharing.picture_writing import check_picture, write_picture

    check_picture(asked.out)
    write_picture(page, asked.out)
    print(f"Card written to {asked.out}.")
    return ALL_YES


def _now(asked: argparse.Namespace, rig: Rig) -> tuple[float, float, float]:
    """Light, heat, and by how much the light may be off in percent."""
    if asked.sky is not None and not asked.clock:
        raise ValueError("--sky says how the sky over --clock looks; add --clock LATITUDE DATE HOUR.")
    if asked.clock:
        light, temp, within = sky_there(asked.clock, rig, sky=asked.sky)
        light, temp = round(light), round(temp)
    elif asked.light is None or asked.temp is None:
        raise ValueError("--commission needs --light and --temp of now, or --clock LATITUDE DATE HOUR.")
    else:
        light, temp, within = asked.light, asked.temp, 20.0
    within = within if asked.light_within is None else asked.light_within
    if not 1.0 <= within <= 90.0:
        raise ValueError(f"--light-within is {within:g} %; from 1 to 90 % makes sense.")
    return light, asked.temp if asked.temp is not None else temp, within


def _page(asked: argparse.Namespace) -> int:
    """Write the page."""
    from vanpower.figures.sheet import sheet
    from vanpower.sharing.picture_writing import check_picture
    from vanpower.sharing.saving import save_with_words
    from vanpower.studies.ranking import clipping_over

    if asked.wiring == "all":
        raise ValueError("a page shows one wiring; name it, such as --wiring 2s2p.")
    check_picture(asked.out)
    rig = changed(rig_from(asked.rig), asked)
    (one,) = wired(rig, [asked.wiring] if asked.wiring else []).values()
    days = [Days(weather=asked.weather, day="all")] if asked.weather else []
    # the long part, which the page finds kept
    extra = [clipping_over(one, each, progress=bar("days")) for each in days]
    said = save_with_words(asked.out, "sheet", one, *days, plainly=lambda: sheet(one, extra=extra))
    print(f"Page {said}")
    return ALL_YES
