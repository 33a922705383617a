"""`vanpower check`: is this rig safe and fit, before ordering."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from dataclasses import replace
from math import floor
from pathlib import Path
from textwrap import fill

from vanpower.cli.compare import sureness
from vanpower.cli.options import (
    ALL_YES,
    DASHES,
    FORM,
    NO_OR_CLOSE,
    RIG_HELP,
    as_typed,
    circuit_first,
    circuit_word,
    number,
    outlook,
    rig_from,
    wired,
)
from vanpower.results.verdict import LINE, SIGNS, hung
from vanpower.rig import LONGEST_QUOTE, RULE_BOOKS, Climate, Request, Rig, Snapshot

CHECK_MORE = """\
Asks everything that a mistake would make dear, the worst first: volts in frost, input current, what unlike strings
drive through each other with nothing drawn, string fuses and what flows backwards into a fault, from strings or the
battery, plugs, cables by current and by loss, battery cable and fuse, isolator, touch, charging in frost, charge amps,
start, hot floor, plain switches, clipping, and labels that contradict themselves. The list comes first, then the
reasons: NO, CHECK, NOT STATED, and OK last.
The same on one page, to print or to send: vanpower sheet RIG.toml --out page.pdf
A model is not a permit: local rules, makers' sheets and a competent person win.

exit code: 0 all ok, 1 anything no, to check or not stated, 2 bad input
"""
HOTTEST_HELP = "hottest cells instead of the file's, or the name or CSV file of a year's weather to take them from"
LIST_LIGHT = Snapshot(light=800.0, temp_cell=45.0)
# moment that the list of wirings is ranked for: a bright mild noon; no source
TEMP = re.compile(rf"\s*[-+{''.join(DASHES)}]?(\d+([.,]\d+)?|\.\d+)\s*")
# a temperature
DEGREES = re.compile(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*°?\s*([CcFf])\s*")
# a temperature with its unit
DECIMAL_COMMA = re.compile(rf"\s*[-+{''.join(DASHES)}]?\d*,\d+\s*([°CcFf]*)\s*")
# one temperature, as some countries write it


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower check`."""
    about = "is this rig safe and fit, before ordering"
    check = commands.add_parser("check", help=about, description=CHECK_MORE, formatter_class=FORM)
    check.usage = "vanpower check RIG.toml [--wiring 3s] [--coldest -15] [--rules US] [--list [--day dull]]"
    check.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    check.add_argument("--wiring", help="check this wiring instead, such as 3s or 2s2p; 'all' for every one")
    check.add_argument("--coldest", metavar="°C", help="coldest dawn instead of the file's; the name or CSV "
                       "file of a weather to take it from; or places: coast=-3,pass=-22")  # fmt: skip
    check.add_argument("--hottest", metavar="°C", help=HOTTEST_HELP)
    check.add_argument("--rules", choices=RULE_BOOKS, help="whose wiring rules decide, instead of the file's")
    check.add_argument("--list", action="store_true", help="every wiring instead: the allowed ranked and how sure, "
                       "the others with their reason, and the same with one more panel")  # fmt: skip
    circuit_word(check)
    check.add_argument("--day", help="rank the list over these days instead of one bright moment: dull, median, "
                       "bright, month-day such as 12-21, or all")  # fmt: skip
    check.add_argument("--weather", metavar="NAME", help="where the days are taken from (sand-point)")
    check.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print every verdict of a rig, or its list of wirings."""
    rig = circuit_first(changed(rig_from(asked.rig), asked), asked.circuit)
    if asked.weather and not asked.day:
        raise ValueError("--weather says where days are taken from; add --list --day dull, or leave it out.")
    if asked.list:
        if asked.wiring:
            raise ValueError("--list goes through every wiring; leave out --wiring.")
        return _list(rig, outlook(asked.day, asked.weather, ()) if asked.day else LIST_LIGHT)
    if asked.day:
        raise ValueError("--day is what --list ranks by; add --list, or leave it out.")
    answers = []
    for name, one in wired(rig, [asked.wiring] if asked.wiring else []).items():
        answers += _answered(name, one)
    return ALL_YES if set(answers) == {"yes"} else NO_OR_CLOSE


def changed(rig: Rig, asked: argparse.Namespace) -> Rig:
    """The rig with another coldest dawn, hottest cells or rule book, where the words name one."""
    if asked.rules:
        rig = rig.changed(rule_book=asked.rules)
    if asked.hottest is not None:
        rig = _hottest(rig, asked.hottest)
    if asked.coldest is None:
        return rig
    coldest = asked.coldest
    words = [coldest] if Path(coldest).exists() else [word.strip() for word in coldest.split(",")]
    if "=" in coldest or (len(words) > 1 and not DECIMAL_COMMA.fullmatch(coldest)):
        return rig.with_climate(_over(words, rig))
    return _coldest(rig, coldest)


def _coldest(rig: Rig, coldest: str) -> Rig:
    """The rig with one coldest dawn, as a number or out of a weather."""
    temp = _typed("--coldest", coldest)
    if temp is not None:
        with as_typed({"Climate.temp_coldest": "--coldest"}):
            return rig.with_climate(temp_coldest=temp, basis="as typed", places=())
    from vanpower.checks.coldest import coldest_dawn

    return rig.with_climate(coldest_dawn(coldest), temp_cell_hottest=rig.climate.temp_cell_hottest)


def _hottest(rig: Rig, hottest: str) -> Rig:
    """The rig with other hottest cells, as a number or as its panels get in a year's weather."""
    temp = _typed("--hottest", hottest)
    if temp is None:
        from vanpower.checks.coldest import hottest_cells

        temp = hottest_cells(rig.panels, hottest)
    with as_typed({"Climate.temp_cell_hottest": "--hottest"}):
        return rig.with_climate(temp_cell_hottest=temp)


def _typed(option: str, word: str) -> float | None:
    """A temperature as typed; None for the name or file of a weather."""
    if TEMP.fullmatch(word):
        return _degrees(option, word)
    if not Path(word).exists() and (with_unit := DEGREES.fullmatch(word)):
        raise ValueError(_without_unit(option, *with_unit.groups()))
    return None


def _over(words: Sequence[str], rig: Rig) -> Climate:
    """The climate over several places, each by its coldest dawn or by the weather it has."""
    from vanpower.checks.coldest import climate_over, coldest_dawn
    from vanpower.weather.days import is_by_name

    places: dict[str, float] = {}
    for word in words:
        found = None if Path(word).exists() else re.fullmatch(r"([^=]+)=(.+)", word)
        if not found and not is_by_name(word) and not Path(word).exists():
            raise ValueError(f"--coldest {word[:LONGEST_QUOTE]!r} names no place; write several as coast=-3,pass=-22.")
        name = found[1].strip() if found else word
        if name in places:
            raise ValueError(f"--coldest names {name[:LONGEST_QUOTE]} twice; each place once.")
        places[name] = _degrees("--coldest", found[2]) if found else coldest_dawn(word).temp_coldest
    with as_typed({"Climate.places": "--coldest", "Climate.temp_coldest": "--coldest"}):
        return climate_over(places, temp_cell_hottest=rig.climate.temp_cell_hottest, basis="as typed")


def _answered(name: str, rig: Rig) -> list[str]:
    """Print one rig's list and reasons, and give its answers."""
    from vanpower.checks.glance import at_a_glance, subject
    from vanpower.checks.registry import check, unasked

    verdicts = check(rig)
    print(f"{rig.name}: {name}\n\n{at_a_glance(verdicts)}\n\nBy {rig.rule_book} rules; the reasons, OK last:\n")
    told: dict[str, str] = {}
    for verdict in sorted(verdicts, key=lambda one: SIGNS.index(one.sign)):
        first = told.setdefault(verdict.basis, subject(verdict))
        once = verdict if first == subject(verdict) else replace(verdict, basis=f"the same as {first}")
        print(f"{once}\n")
    print("Not checked here:\n" + "".join(f"{hung('      ', said, LINE)}\n" for said in unasked(rig)))
    return [verdict.answer for verdict in verdicts]


def _list(rig: Rig, light: Request) -> int:
    """Print every wiring of a rig as it is and with one more panel."""
    from vanpower.studies.ranking import rank_wirings

    now = rank_wirings(rig, light)
    which = f" of {rig.circuits[0].controller.name}, the others as they are" if len(rig.circuits) > 1 else ""
    print(f"{rig.name}: every wiring{which}, {now.comparison.title}\n\n{now.text(LINE)}\n\n{now.verdict}\n")
    # sureness is weighed among those that are as fit as the first
    allowed = {one.name: one.rig for one in now.ranked if bool(one.short) == bool(now.ranked[0].short)}
    if len(allowed) > 1 and any(one.energy > 0 for one in now.ranked):
        print(f"{sureness(allowed, light)}\n")
    more = rig.with_one_more_panel()
    later = rank_wirings(more, light)
    print(f"With one more {rig.panels[rig.circuits[0].wiring.panels[-1]].name} later\n\n{later.text(LINE)}\n")
    if not later.ranked:
        two = rank_wirings(more.with_one_more_panel(), light).ranked
        or_two = f", or add two and wire all {two[0].name}" if two and not two[0].short else ""
        own = "None of these is allowed: give the new panel a controller of its own, rated for it"
        print(f"{fill(f'{own}{or_two}.', LINE)}\n")
    verdict = now.verdict
    return ALL_YES if verdict.answer == "yes" else NO_OR_CLOSE


def _without_unit(option: str, number: str, unit: str) -> str:
    """What to write instead of a temperature with its unit."""
    temp = float(number.replace(",", "."))
    celsius, slip = (temp, "") if unit.upper() == "C" else (floor((temp - 32) / 1.8), f", which is {number} °F")
    return f"{option} is {number} {unit}; write °C and no unit: {option} {celsius:g}{slip}."


def _degrees(option: str, text: str) -> float:
    """A temperature, with a word on decimal commas."""
    try:
        return number(text)
    except argparse.ArgumentTypeError as trouble:
        raise ValueError(f"{option}: {trouble}.") from None
