"""Everything people get wrong, over every door of the command line: one plain message, exit 2, nothing half done.

The page `bad_input.md` shows each slip and what is said to it; write it anew with `python tests/test_bad_input.py`.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import slips
import test_charts
import test_pictures
import test_recipes

from vanpower.cli import main
from vanpower.files.resources import data_folder

PAGE = Path(__file__).parent / "bad_input.md"
PAGE_HEAD = """\
# What goes wrong, and what you are told

Each row is a slip that people make, or a file that somebody sends you, and the answer of the command line. All end with
exit code 2, print no answer and leave no file behind. Written by `python tests/test_bad_input.py`, held by the tests.
"""
LONGEST_CELL = 420
# characters of a message the page shows
MOST_LINES = 4
# of a message: three problems of a file and how many more there are
HUGE = 500_000_000
# [bytes] a sparse file, which takes no room on the disk


@dataclass(frozen=True)
class Slip:
    """What somebody types, the files that lie there, and words the answer must hold.

    Parameters
    ----------
    words : str
        The command, split at blanks.
    said : tuple of str
        Words of the answer.
    files : dict of str to bytes, int, str or None
        By name; a number makes a file of so many zeros, a text a link to that name, None a folder.
    """

    words: str
    said: tuple[str, ...]
    files: dict[str, bytes | int | str | None] = field(default_factory=dict)


def rig_file(text: str | bytes, *said: str) -> Slip:
    """A rig file with something wrong."""
    return Slip("check van.toml", said, {"van.toml": text if isinstance(text, bytes) else text.encode()})


def weather(text: str | bytes | int | None, *said: str) -> Slip:
    """A weather file with something wrong."""
    held = text.encode() if isinstance(text, str) else text
    return Slip("compare bookmobile --wiring 2s --day log.csv --chart out.png", said, {"log.csv": held})


def picture(held: bytes, *said: str, name: str = "chart.png") -> Slip:
    """A picture or text with something wrong."""
    return Slip(f"remake {name} --out new.png", said, {name: held})


def typed(words: str, *said: str) -> Slip:
    """Words with something wrong."""
    return Slip(words, said)


# Rig files: what the tests of recipes know, and every key left out, negative, zero, NaN or a thousand times too large

GOOD_LINES = test_recipes.GOOD.splitlines()
KEYS = [n for n, line in enumerate(GOOD_LINES) if re.match(r"\w+ =", line)]
FREE = ("count", "use", "beta_voc_pct_per_k", "v_now", "length_m")
# keys that may be left out
NUMBERS = [n for n in KEYS if re.search(r"= -?[\d.]+$", GOOD_LINES[n])]
SIGNED = ("temp_coldest", "beta_voc_pct_per_k")
ZERO_IS_FINE = ("length_m", "temp_coldest")


def key_of(n: int) -> str:
    return GOOD_LINES[n].split(" =")[0]


def with_value(n: int, value: str) -> str:
    """The good rig file with another value in one line."""
    return "\n".join([*GOOD_LINES[:n], f"{key_of(n)} = {value}", *GOOD_LINES[n + 1 :]])


def without(n: int) -> str:
    return "\n".join([*GOOD_LINES[:n], *GOOD_LINES[n + 1 :]])


def number(n: int) -> float:
    return float(GOOD_LINES[n].split("= ")[1])


RIGS = {name: rig_file(text, *said) for name, (text, said) in test_recipes.BAD.items() if name != "too large"}
RIGS |= {f"{key_of(n)} (line {n + 1}) left out": rig_file(without(n), key_of(n)) for n in KEYS if key_of(n) not in FREE}
RIGS |= {
    f"{key_of(n)} (line {n + 1}) not a number": rig_file(with_value(n, "nan"), f"line {n + 1}", key_of(n))
    for n in NUMBERS
}
RIGS |= {
    f"{key_of(n)} (line {n + 1}) of the other sign": rig_file(
        with_value(n, f"{-number(n):g}"), f"line {n + 1}", key_of(n)
    )
    for n in NUMBERS
    if key_of(n) not in SIGNED
}
RIGS |= {
    f"{key_of(n)} (line {n + 1}) zero": rig_file(with_value(n, "0"), f"line {n + 1}", key_of(n))
    for n in NUMBERS
    if key_of(n) not in ZERO_IS_FINE
}
RIGS |= {
    f"{key_of(n)} (line {n + 1}) a thousand times too large": rig_file(
        with_value(n, f"{1000 * number(n):g}"), f"line {n + 1}", key_of(n)
    )
    for n in NUMBERS
}
RIGS |= {
    "folder": Slip("check van.toml", ("is a folder",), {"van.toml": None}),
    "500 MB": Slip("check van.toml", ("larger than 1 MB",), {"van.toml": HUGE}),
    "not there": typed("check vam.toml", "There is no file vam.toml"),
    "a picture": Slip("check van.toml", ("van.toml",), {"van.toml": test_pictures.png()}),
}  # fmt: skip

# Weather files

LOG = "time,ghi,temp_air\n" + "".join(f"2026-06-01 {hour:02}:00,{100 * hour - 500},20\n" for hour in range(10, 15))


def changed(old: str, new: str) -> str:
    assert old in LOG
    return LOG.replace(old, new)


PLACED = "# latitude_deg: 60\n# longitude_deg: 5\n"


def zoned(clock: str) -> str:
    """The log at a place, in a clock."""
    return f"{PLACED}# time_zone: {clock}\n{LOG}"


WEATHER = {
    "empty": weather("", "it is empty"),
    "blank": weather("\n\n\n", "it is empty"),
    "folder": weather(None, "it is a folder"),
    "500 MB": weather(HUGE, "it is larger than 40 MB"),
    "a picture": weather(test_pictures.png(), "log.csv", "it is a picture"),
    "zeros": weather(b"\x00" * 500, "log.csv"),
    "a page of the web": weather("<!DOCTYPE html>\n<html><body>sign in</body></html>\n", "no column recognised"),
    "a spreadsheet": weather(b"PK\x03\x04\x14\x00\x06\x00" + bytes(range(200)), "log.csv", "spreadsheet"),
    "names alone": weather("time,ghi,temp_air\n", "log has 0 rows"),
    "no names": weather(LOG.split("\n", 1)[1], "Its first line holds values"),
    "no time": weather(changed("time,", "when,"), "no column recognised as time", "has when"),
    "no light": weather(changed(",ghi,", ",light,"), "no column recognised as ghi (W/m² on the flat)"),
    "no temperature": weather(changed("temp_air", "temp"), "no column recognised as temp_air (°C of the air)"),
    "a name twice": weather(changed("temp_air", "temp_air,ghi").replace(",20\n", ",20,5\n"), "ghi", "twice"),
    "decimal comma": weather(changed("500,20\n", "500,5,20,1\n"), "decimals with a point"),
    "thousands in quotes": weather(
        changed("500,20\n", '"1,050",20.5\n'), "line 2, column 'ghi': '1,050'", "sign between thousands"),
    "text for light": weather(changed(",600,", ",bright,"), "line 3, column 'ghi': 'bright'", "is no number in W/m²"),
    "unit behind the light": weather(changed(",600,", ",600 W,"), "line 3, column 'ghi': '600 W'"),
    "no light in a row": weather(changed(",600,", ",,"), "line 3, column 'ghi': nothing", "gaps are not filled in"),
    "NaN": weather(changed(",600,", ",nan,"), "line 3, column 'ghi': nothing"),
    "a dash for a gap": weather(changed(",600,", ",-,"), "line 3, column 'ghi': nothing"),
    "-999 for a gap": weather(changed(",600,", ",-999,"), "line 3, column 'ghi': '-999'"),
    "infinite light": weather(changed(",600,", ",inf,"), "line 3, column 'ghi': 'inf'"),
    "negative light": weather(changed(",600,", ",-600,"), "line 3, column 'ghi': '-600'"),
    "light in milliwatts": weather(changed(",600,", ",600000,"), "line 3, column 'ghi': '600000'"),
    "light in lux": weather(changed(",600,", ",65000,"), "line 3, column 'ghi': '65000'", "lux"),
    "Fahrenheit": weather(changed(",20\n", ",68\n"), "line 2, column 'temp_air': '68'", "Fahrenheit"),
    "kelvin": weather(changed(",20\n", ",293\n"), "line 2, column 'temp_air': '293'", "kelvin"),
    "no temperature in a row": weather(changed("600,20", "600,"), "line 3, column 'temp_air': nothing"),
    "negative wind": weather(changed("temp_air", "temp_air,wind_speed").replace(",20\n", ",20,-3\n"), "'-3'; from 0"),
    "wind in words": weather(changed("temp_air", "temp_air,wind_speed").replace(",20\n", ",20,calm\n"), "wind_speed"),
    "cut in the middle of a row": weather(LOG[:-4], "line 6, column 'temp_air': nothing"),
    "cut in the middle of a time": weather(LOG[:-14], "line 6"),
    "times that fall": weather("\n".join(LOG.split("\n")[:1] + LOG.split("\n")[5:0:-1]), "times must rise"),
    "a time twice": weather(changed("11:00", "10:00"), "times must rise, each once"),
    "hour of daylight saving twice": weather(LOG.replace("11:00", "10:00"), "name the clock in a line at the top"),
    "offset on some rows": weather(changed("11:00,", "11:00Z,"), "line 3, column 'time'", "every time or none"),
    "a gap": weather(changed("2026-06-01 12:00,700,20\n", ""), "no rows from 11:00 to 13:00", "Take another day"),
    "one row": weather("\n".join(LOG.split("\n")[:2]), "log has 1 rows; a day needs at least two"),
    "light in kilowatts": weather(re.sub(r",(\d)00,", r",0.\1,", LOG), "0.9 W/m²", "kW/m²"),
    "an offset of two letters": weather(LOG.replace(":00,", ":00+2,"), "line 2, column 'time'", "is not a time like"),
    "an offset beyond the earth": weather(LOG.replace(":00,", ":00+25:00,"), "clocks lie up to 14 hours from it"),
    "a row a day": weather("time,ghi,temp_air\n2026-06-01,100,9\n2026-06-02,90,9\n", "24 h apart", "under 12 h"),
    "day or month first": weather(LOG.replace("2026-06-01", "01/06/2026"), "'01/06/2026 10:00' may begin", "# dates:"),
    "a clock without its day": weather(LOG.replace("2026-06-01 ", ""), "a clock time without its day", "# date: 2026"),
    "two forms of time": weather(changed("2026-06-01 11:00", "01.06.2026 11:00"), "line 3", "otherwise than the first"),
    "minutes without a day": weather(re.sub(r"2026-06-01 (\d\d):00", r"\g<1>0", LOG), "line 2, column 'time': '100'"),
    "watt-hours for light": weather(changed("ghi", "ghi (Wh)"), "column 'ghi (Wh)' is taken for ghi", "energy"),
    "wind in Ah": weather(changed("temp_air", "temp_air,wind_speed (Ah)").replace(",20\n", ",20,3\n"), "charge"),
    "month in words": weather(LOG.replace("2026-06-01", "1 June 2026"), "line 2, column 'time'", "is not a time like"),
    "a count in the first row": weather(changed("2026-06-01 10:00", "1780308000"), "line 3", "otherwise than"),
    "month 13": weather(LOG.replace("2026-06", "2026-13"), "is not a time"),
    "leap day of a common year": weather(LOG.replace("2026-06-01", "2026-02-29"), "'2026-02-29 10:00' is not a time"),
    "hour 24": weather(changed("14:00", "24:00"), "'2026-06-01 24:00' is not a time"),
    "no time in a row": weather(changed("2026-06-01 11:00", ""), "line 3, column 'time': nothing is not a time"),
    "several days": weather(LOG + LOG.split("\n", 1)[1].replace("06-01", "06-02"), "holds 2 days; say which"),
    "quote without end": weather(LOG + '"2026', "log.csv"),
    "rows of unlike length": weather(LOG + "2026-06-01 15:00,9,9,9,9,9\n", "6 cells"),
    "clock of another planet": weather(zoned("Mars/Olympus"), "time_zone 'Mars/Olympus' is not known", "Europe/Oslo"),
    "clock by its letters": weather(zoned("CEST"), "time_zone 'CEST' is not known", "Europe/Oslo"),
    "place without its clock": weather(PLACED + LOG, "say which clock", "# time_zone: Europe/Oslo"),
    "hour that the clock leaves out in spring": weather(
        zoned("Europe/Oslo").replace("06-01 1", "03-29 0"), "does not show all of these times", "log in UTC"),
    "latitude beyond the pole": weather(zoned("UTC").replace("60", "160", 1), "latitude_deg is 160", "swapped"),
    "another kind of file": Slip("compare bookmobile --day log.txt", ("log.txt",), {"log.txt": b"a shopping list\n"}),
}  # fmt: skip

# Words on the command line

WORDS = {
    "unknown command": typed("chekc bookmobile", "'chekc' is no command, did you mean check?", "compare"),
    "unknown option": typed("compare bookmobile --lite 80", "--lite"),
    "no rig": typed("compare", "RIG.toml is missing"),
    "two rigs": typed("check bookmobile hay-cart", "hay-cart"),
    "mistyped example": typed("check bookmobil", "did you mean bookmobile"),
    "unknown example": typed("check xyzzy", "There are bookmobile"),
    "example with its ending": typed("check bookmobile.toml", "is called bookmobile, without .toml"),
    "folder that is not there": typed("check attic/van.toml", "no folder attic"),
    "wiring in words": typed("check bookmobile --wiring series", "write 3s"),
    "wiring of too many": typed("check bookmobile --wiring 3s", "3s needs 3 panels; there are 2"),
    "wiring of none": typed("check bookmobile --wiring 0s", "0s"),
    "wiring of a million": typed("compare bookmobile --wiring 1000000s", "needs 1000000 panels"),
    "empty wiring": typed("compare bookmobile --wiring", "--wiring"),
    "light with a comma": typed("compare bookmobile --light 80,5", "write it with a point"),
    "light below zero with a comma": typed("compare bookmobile --light -80,5", "write it with a point"),
    "Fahrenheit with its unit": typed("compare bookmobile --temp 59F", "59 °F are 15.0 °C"),
    "frost in Fahrenheit": typed("check bookmobile --coldest -4°F", "--coldest -20, which is -4 °F"),
    "load with its unit": typed("day bookmobile --load 20W", "write the number alone"),
    "file in place of a command": typed("bookmobile.toml", "is a file and no command", "such as check"),
    "picture in place of a command": typed("answer.png", "is a file and no command", "such as remake"),
    "unknown option of no command": typed("--lite", "'--lite' is not known here; vanpower --help"),
    "year of one day": typed("year bookmobile --day dull", "vanpower year --help"),
    "mistyped ending": Slip("check van.tml", ("did you mean van.toml?",), {"van.toml": b""}),
    "rig without its ending": Slip("check van", ("There is no file van; did you mean van.toml?",), {"van.toml": b""}),
    "log for a rig": Slip("check log.csv", ("log.csv is a table", "vanpower trial log.csv"), {"log.csv": b"a,b\n"}),
    "rig for a log": Slip("trial van.toml", ("is a rig file", "--rig"), {"van.toml": b""}),
    "wiring that leaves one over": typed("check puppet-stage --wiring 3s", "panels = [1, 2, 3]"),
    "heading beyond the compass": typed("day bookmobile --heading 400", "--heading is 400", "east 90"),
    "light in words": typed("compare bookmobile --light dull", "'dull' is not a number"),
    "light with its unit": typed("compare bookmobile --light 80W", "'80W' is not a number"),
    "light in lux": typed("compare bookmobile --light 99999", "--light is 99999", "Are these lux?"),
    "negative light": typed("compare bookmobile --light -5", "from 0 to 1800 W/m²"),
    "light that is no number": typed("compare bookmobile --light nan", "from 0 to 1800 W/m²"),
    "infinite light": typed("compare bookmobile --light inf", "from 0 to 1800 W/m²"),
    "Fahrenheit": typed("compare bookmobile --temp 140", "--temp is 140 °C", "Is this Fahrenheit?"),
    "no number behind": typed("compare bookmobile --light", "--light"),
    "day and light": typed("compare bookmobile --day dull --light 500", "leave out --light and --temp"),
    "weather without a day": typed("compare bookmobile --weather greensboro", "add --day dull"),
    "unknown weather": typed("compare bookmobile --day dull --weather sandpoint", "did you mean 'sand-point'"),
    "weather of the web": typed("compare bookmobile --day dull --weather https://x.y/z", "is not known"),
    "day in words": typed("compare bookmobile --day gloomy", "write dull, median, bright, month-day"),
    "month 13": typed("compare bookmobile --day 13-45", "write dull, median, bright or month-day"),
    "leap day": typed("compare bookmobile --day 02-29", "'02-29' is not in this weather"),
    "file of a day that is gone": typed("compare bookmobile --day gone.csv", "gone.csv cannot be read", "no such file"),
    "file of weather that is gone": typed("compare bookmobile --day dull --weather gone.csv", "no such file"),
    "shade without a share": typed("compare bookmobile --shade P2", "write P2=0.2"),
    "shade in percent": typed("compare bookmobile --shade P2=20", "shade note 'P2=20': lit is 20", "Is this percent?"),
    "shade with a comma": typed("compare bookmobile --shade P2=0,2", "write P2=0.2"),
    "shade on half of a full-cell panel": typed("compare bookmobile --shade P2/1=0.2", "is not half-cut"),
    "shade on a third half": typed("compare dentist-bus --shade P2/3=0.2", "P2/3", "has halves 1 to 2"),
    "shade on panel 0": typed("compare bookmobile --shade P0=0.2", "count from 1"),
    "shade on panel 3 of 2": typed("compare bookmobile --shade P3=0.2", "P3: there are 2 panels"),
    "shade on a group too far": typed("compare bookmobile --shade P2.3=0.2", "has groups 1 to 2"),
    "shade on too many cells": typed("compare bookmobile --shade P2.1x19=0.2", "has 1 to 18"),
    "shade beyond counting": typed("compare bookmobile --shade P999=0.2", "P999 is beyond any roof"),
    "shade in two points": typed("compare bookmobile --shade P1=0.1.1", "'0.1.1' is not a number"),
    "used panel without a reading": typed("used bookmobile --light 900 --temp 40", "no reading was given"),
    "used panel in dull sun": typed("used bookmobile --light 90 --temp 40 --voc 20", "The sun test needs sun."),
    "used panel, milliamps": typed("used bookmobile --light 900 --temp 40 --isc 5600", "Are these milliamps?"),
    "used panel that is not there": typed("used bookmobile --light 900 --temp 40 --voc 20 --panel P9", "P1 to P2"),
    "fault without readings": typed("fault bookmobile --light grey", "no reading was given"),
    "fault with amps into the battery": typed("fault bookmobile --volts 40 --amps 9 --watts 120", "into the battery?"),
    "fault in words of another light": typed("fault bookmobile --volts 18 --light greyish", "did you mean grey?"),
    "fault with an unknown measurement": typed("fault bookmobile --volts 18 --then opened=3", "--then"),
    "price of a panel that nobody buys": typed(
        "used bookmobile --light 900 --temp 40 --voc 21 --price 9", "--buy"
    ),
    "change with a price of nothing": typed("change bookmobile --price ninety", "write KEY=PRICE"),
    "change that nobody tries": typed("change bookmobile --price wind=90", "there is no change 'wind'"),
    "card without light": typed("sheet bookmobile --commission", "needs --light and --temp"),
    "card in dull light": typed("sheet bookmobile --commission --light 80 --temp 12", "Wait for sun"),
    "card that nobody filled in": Slip(
        "sheet bookmobile --filled card.csv",
        ("not filled in yet",),
        {"card.csv": b"at,light,temp_cell,volts\nP1,700,40,\n"},
    ),
    "card in millivolts": Slip(
        "sheet bookmobile --filled card.csv",
        ("millivolts",),
        {"card.csv": b"at,light,temp_cell,volts\nP1,700,40,21600\n"},
    ),
    "card without its light": Slip(
        "sheet bookmobile --filled card.csv", ("light",), {"card.csv": b"at,temp_cell,volts\nP1,40,21.6\n"}
    ),
    "hill without readings": typed("hill bookmobile", "give --before with panel volts and watts"),
    "hill in millivolts": typed("hill bookmobile --before 39000 35", "Are these millivolts?"),
    "hill of every wiring": typed("hill bookmobile --before 39 35 --wiring all", "a tracker has one wiring"),
    "hill, a log that is gone": typed("hill bookmobile --log gone.csv", "gone.csv"),
    "sweep of nothing": typed("sweep bookmobile --out s.csv", "add --light 80 800"),
    "sweep into a photo": Slip("sweep hay-cart --light 80 --out a.csv", ("not a table of",), {"a.csv": b"sea"}),
    "sweep without a table": typed("sweep bookmobile --light 80", "--out is missing"),
    "made sky without a place": typed("compare bookmobile --day 06-21 --weather broken", "needs to know where"),
    "made sky of an unknown word": typed("day bookmobile --weather clear:lat=47 --day 06-21", "did you mean latitude?"),
    "made sky of a dull day": typed("day bookmobile --weather half-sine --day dullest", "'dullest' is no date"),
    "places without a name": typed("check bookmobile --coldest coast=-3,-22", "'-22' names no place"),
    "a place twice": typed("check bookmobile --coldest coast=-3,coast=-5", "coast twice"),
    "wiring without a panel": typed("compare puppet-stage --wiring P1+P2", "leaves out P3 and P4"),
    "wiring with a panel twice": typed("compare puppet-stage --wiring [[1,2],[2,4]]", "P2 twice"),
    "wiring with a panel too many": typed("compare bookmobile --wiring P1+P3", "names P3; here are P1, P2"),
    "year of scattered days": typed("year bookmobile --weather graz", "scattered over 300 days", "no year"),
    "chart of an unknown kind": typed("compare bookmobile --chart a.jpg", "write .png or .svg"),
    "chart without a kind": typed("compare bookmobile --chart a", "ends in nothing"),
    "chart in no folder": typed("compare bookmobile --chart attic/a.png", "make it first"),
    "chart onto a folder": Slip("compare bookmobile --chart a.png", ("choose another name",), {"a.png": None}),
    "chart onto a photo": Slip("compare bookmobile --chart a.png", ("no picture of this kit",), {"a.png": b"sea"}),
    "chart of a name too long": typed(f"compare bookmobile --chart {'x' * 300}.png", "could not be written"),
    "answer without a rig": typed("answer", "RIG.toml"),
    "answer of an unknown rig": typed("answer xyzzy --markdown", "There are bookmobile"),
    "answer onto a photo": Slip("answer hay-cart --chart a.svg", ("no picture of this kit",), {"a.svg": b"sea"}),
    "remake of nothing": typed("remake", "CHART.png"),
    "remake of a file that is gone": typed("remake gone.png", "There is no file gone.png"),
    "remake of a rig": Slip("remake van.toml", ("holds no recipe",), {"van.toml": test_recipes.GOOD.encode()}),
}  # fmt: skip

# Pictures, texts and recipes of strangers

PICTURES = {name: picture(held, said) for name, (held, said) in test_pictures.HOSTILE.items()}
PICTURES |= {"folder": Slip("remake chart.png", ("is a folder",), {"chart.png": None})}
PICTURES |= {"500 MB": Slip("remake chart.png", ("is larger than 30 MB",), {"chart.png": HUGE})}
RECIPES = {}
for _name, (_data, _said) in test_charts.HOSTILE.items():
    _text = _data if isinstance(_data, str) else json.dumps(_data)
    if len(_text) < test_charts.home.LARGEST_RECIPE:
        RECIPES[_name] = picture(test_pictures.line_of(_text).encode(), _said, name="post.txt")


def made(**changes: Any) -> bytes:
    """A post with a recipe that is well formed and asks for what cannot be drawn."""
    return test_pictures.line_of(json.dumps(test_charts.document() | changes)).encode()


RECIPES |= {
    "chart of an unknown kind": picture(made(kind="pie"), "chart 'pie' is not known", name="post.txt"),
    "option of an unknown name": picture(made(options={"exec": 1}), "no option 'exec'", name="post.txt"),
    "option in words": picture(made(options={"p_top": "high"}), "number above 0", name="post.txt"),
    "no light": picture(made(requests=[]), "needs a light or a day", name="post.txt"),
    "shade on a panel that is not there": picture(
        made(requests=[{"moment": {"light": 5, "temp_cell": 9, "shade": [{"panel": 9, "lit": 0.5}]}}]),
        "P10: there are 2 panels", name="post.txt"),
    "day that is not in the year": picture(made(requests=[{"day": {"day": "02-30"}}]), "'02-30'", name="post.txt"),
}  # fmt: skip

RIGS |= {name: rig_file(text, *said) for name, (text, said) in slips.RIGS.items()}
READERS = {name: Slip(words, said, dict(files)) for name, (words, files, said) in slips.READERS.items()}
TABLE = {"Rig files": RIGS, "Weather files": WEATHER, "Words on the command line": WORDS,
         "Years, logs, shortlists and words of newer commands": READERS,
         "Pictures of strangers": PICTURES, "Recipes of strangers": RECIPES}  # fmt: skip
TOLD: dict[tuple[str, str], str] = {}
# messages that tests have seen, so that the page need not ask again
CASES = [(where, name) for where, slips in TABLE.items() for name in slips]


def answer(slip: Slip, folder: Path) -> tuple[int, str, str]:
    """Exit code, answer and message of a slip made in an empty folder; nothing may be left there."""
    for name, held in slip.files.items():
        _put(folder / name, held)
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = main(slip.words.split())
        except SystemExit as stop:
            code = int(stop.code or 0)
    left = sorted(path.name for path in folder.iterdir() if path.name not in slip.files)
    assert left == [], "something was left behind"
    return code, out.getvalue(), err.getvalue().rstrip("\n")


def _put(path: Path, held: bytes | int | str | None) -> None:
    if held is None:
        path.mkdir()
    elif isinstance(held, str):
        path.symlink_to(held)
    elif isinstance(held, int):
        path.touch()
        os.truncate(path, held)
    else:
        path.write_bytes(held)


@pytest.mark.parametrize(("where", "name"), CASES, ids=[f"{where}: {name}" for where, name in CASES])
def test_slip_is_told_in_one_plain_message_with_exit_2_and_nothing_left(where, name, tmp_path):
    slip = TABLE[where][name]
    code, out, message = answer(slip, tmp_path)
    TOLD[where, name] = message
    assert (code, out) == (2, "")
    assert [word for word in slip.said if word not in message] == [], message
    assert message.startswith("vanpower: ")
    lines = message.split("\n")
    assert len(lines) <= MOST_LINES
    assert all(line.isprintable() and len(line) < 500 for line in lines)
    assert not re.search(r"Traceback|pandas|Errno|\bNone\b|0x[0-9a-f]{6}|tokenizing|codec", message)


def test_there_are_at_least_120_kinds():
    assert len(CASES) >= 120


LEGAL = {
    "byte-order mark": b"\xef\xbb\xbf" + LOG.encode(),
    "CRLF": LOG.replace("\n", "\r\n").encode(),
    "spaces": LOG.replace(",", ", ").encode(),
    "comment": b"# by hand\n" + LOG.encode(),
    "more columns": LOG.replace("temp_air", "temp_air,note").replace(",20\n", ",20,ok\n").encode(),
    "leap day": LOG.replace("2026-06-01", "2028-02-29").encode(),
    "night only": re.sub(r",\d+,20", ",0,20", LOG).encode(),
    "polar day": ("time,ghi,temp_air\n" + "".join(f"2026-06-21 {h:02}:00,{90 + h},4\n" for h in range(24))).encode(),
    "semicolons": LOG.replace(",", ";").encode(),
    "tabs": LOG.replace(",", "\t").encode(),
    "UTF-16": LOG.encode("utf-16"),
    "Latin-1": ("# Süd\n" + LOG).encode("latin-1"),
    "names in capitals": changed("time,ghi,temp_air", "Time,GHI,Temp_Air").encode(),
    "decimal commas in quotes": changed("500,20\n", '"500,5",20\n').encode(),
    "bars": LOG.replace(",", "|").encode(),
    "blanks": LOG.replace(",", " ").encode(),
    "dots": LOG.replace("2026-06-01", "01.06.2026").encode(),
    "slashes that tell": LOG.replace("2026-06-01", "06/21/2026").encode(),
    "slashes as said": ("# dates: day first\n" + LOG.replace("2026-06-01", "01/06/2026")).encode(),
    "a clock, and its day above": ("# date: 2026-06-01\n" + LOG.replace("2026-06-01 ", "")).encode(),
    "date and clock apart": LOG.replace("2026-06-01 ", "2026-06-01,").replace("time,", "date,time,").encode(),
    "a line of a spreadsheet": ("sep=,\n" + LOG).encode(),
    "semicolons and decimal commas": LOG.replace(",", ";").replace(";20", ";20,5").encode(),
    "uneven steps": LOG.replace("12:00", "12:10").encode(),
    "offset throughout": LOG.replace(":00,", ":00+02:00,").encode(),
}


@pytest.mark.parametrize("name", LEGAL)
def test_odd_but_legal_weather_is_answered(name, tmp_path, capsys):
    (tmp_path / "log ü.csv").write_bytes(LEGAL[name])
    assert main(["compare", "bookmobile", "--wiring", "2s", "--day", str(tmp_path / "log ü.csv")]) == 0
    assert "What does 2s deliver" in capsys.readouterr().out or name == "night only"


def test_rows_of_a_night_make_a_chart_that_can_be_made_again(tmp_path, capsys):
    log, chart = tmp_path / "log ü.csv", tmp_path / "out ü.png"
    log.write_bytes(LEGAL["night only"])
    assert main(["compare", "bookmobile", "--wiring", "2s", "--day", str(log), "--chart", str(chart)]) == 0
    assert "carries recipe" in capsys.readouterr().out
    assert main(["remake", str(chart), "--out", str(tmp_path / "again.png")]) == 0


# The page


def cells() -> Iterator[tuple[str, str, str]]:
    """Where, slip and message of every row of the page."""
    for where, name in CASES:
        if (where, name) not in TOLD:
            with tempfile.TemporaryDirectory() as folder:
                TOLD[where, name] = answer(TABLE[where][name], Path(folder))[2]
        yield where, name, TOLD[where, name]


def page() -> str:
    """The table as a page."""
    parts, last = [PAGE_HEAD], ""
    for where, name, message in cells():
        if where != last:
            parts.append(f"\n## {where}\n\n| what is wrong | what you are told |\n|---|---|\n")
            last = where
        told = message.removeprefix("vanpower: ").replace(str(data_folder()), "data")
        told = told if len(told) <= LONGEST_CELL else f"{told[:LONGEST_CELL]}..."
        told = re.sub(r"([|<>*_`\\])", r"\\\1", told).replace("\n", "<br>")
        parts.append(f"| {name.replace('|', ' ')} | {told} |\n")
    return "".join(parts)


def test_page_is_the_one_that_people_read():
    assert PAGE.read_text(encoding="utf-8") == page()


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE.name}: {len(CASES)} kinds", file=sys.stderr)
