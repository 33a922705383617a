"""Slips with newer keys and readers: loads, battery, cable, plugs and fuses, trial logs, shortlists, files of years.

Data for `test_bad_input.py`: what is typed, the files that lie there, and words that the answer must hold.
"""

from __future__ import annotations

from pathlib import Path

import pvlib

from vanpower.files.resources import data_folder

Said = tuple[str, ...]

# Rig files: a key, the value that is wrong, and what is said to it

VALUES: list[tuple[str, str, Said]] = [
    ("battery", "capacity_ah = 0", ("capacity_ah is 0 Ah",)),
    ("battery", "capacity_ah = 280000", ("capacity_ah", "Ah")),
    ("battery", 'capacity_ah = "big"', ("capacity_ah",)),
    ("battery", "soc_start_pct = 120", ("soc_start_pct is 120",)),
    ("battery", "usable_pct = 0.8", ("usable_pct is 0.8",)),
    ("battery", "v_float = 27.6", ("v_float",)),
    ("battery", "v_absorption = 28.4", ("v_absorption",)),
    ("battery", "r_internal = 5", ("r_internal is 5",)),
    ("battery", "i_accept_max = -20", ("i_accept_max is -20",)),
    ("battery", "i_tail = nan", ("i_tail is nan",)),
    ("battery", "absorption_h = 90", ("absorption_h is 90",)),
    ("battery", "coulombic_pct = 0.99", ("coulombic_pct is 0.99",)),
    ("battery", "compensation_mv_per_k = 24", ("compensation_mv_per_k is 24",)),
    ("battery", "temp_lockout = 32", ("temp_lockout is 32",)),
    ("battery", "temp_lockout = 0\ntemp_release = -5", ("temp_release",)),
    ("battery", "lag_h = 500", ("lag_h is 500",)),
    ("battery", 'chemistry = "nickel"', ("chemistry",)),
    ("battery", 'chemistry = "sealed"', ("chemistry is 'sealed'", "its label says which")),
    ("battery", "cells = 12", ("cells is 12", "has 4 in series")),
    ("battery", "temp_hottest = 120", ("temp_hottest is 120", "Fahrenheit")),
    ("loads", 'name = "fridge"', ("p_load is missing",)),
    ("loads", "p_load = 30", ("name",)),
    ("loads", 'name = "fridge"\np_load = -30', ("p_load is -30",)),
    ("loads", 'name = "fridge"\np_load = 900000', ("p_load is 900000",)),
    ("loads", 'name = "fridge"\np_load = 30\nfrom_h = 25', ("from_h is 25",)),
    ("loads", 'name = "fridge"\np_load = 30\nfrom_h = 8\nto_h = 8', ("to_h",)),
    ("loads", 'name = "fridge"\np_load = 30\nfrom_h = "08:00"', ("from_h",)),
    ("loads", 'name = "fridge"\np_hourly = [1, 2, 3]', ("p_hourly", "24")),
    ("loads", 'name = "fridge"\nwatts = 30', ("p_load takes the watts",)),
    ("roof", "length_m = 5.0", ("length_m is not a key here", "long_m takes the roof's length")),
    ("roof", "width_m = 1.8", ("width_m is not a key here", "wide_m takes the roof's width")),
    ("loads", 'name = "fridge"\np_load = 30\nper_day = 8', ("per_day",)),
    ("panels", "turn_deg = 45", ("turn_deg is 45", "only a tilted panel is turned")),
    ("panels", "tilt_deg = 40\nturn_deg = 120", ("turn_deg is 120",)),
    ("cable", "length_m = 5", ("section_mm2 is missing", "copper section of one core")),
    ("cable", 'laying = "roof"', ("laying is 'roof'",)),
    ("cable", "bundled = 0", ("bundled is 0",)),
    ("cable", "bundled = 2.5", ("bundled",)),
    ("cable", "temp_around = 140", ("temp_around is 140",)),
    ("cable", 'copper = "aluminium"', ("copper is 'aluminium'",)),
    ("cable", "awg = 10", ("awg", "section_mm2")),
    ("cable", "temp_conductor = 300", ("temp_conductor is 300",)),
    ("cable", 'insulation = "PVC"', ("insulation is 'PVC'", "PVC 70")),
    ("cable", 'insulation = "boat cable 105"', ("insulation is 'boat cable 105'", "nearest below")),
    ("cable", "insulation = 70", ("insulation",)),
    ("cable", "temp_terminals = 30", ("temp_terminals is 30", "60, 75 or 90")),
    ("circuits", "i_plug_max = 0", ("i_plug_max is 0",)),
    ("circuits", "i_plug_max = 30000", ("i_plug_max is 30000",)),
    ("circuits", "i_extension_max = -30", ("i_extension_max is -30",)),
    ("circuits", 'i_fuse_string = "15 A"', ("i_fuse_string",)),
    ("circuits", "i_fuse_string = 15000", ("i_fuse_string is 15000",)),
    ("circuits", "i_fuse_battery = 0", ("i_fuse_battery is 0",)),
    ("circuits", "i_fuse_array = -20", ("i_fuse_array is -20",)),
    ("circuits", "v_isolator_max = -100", ("v_isolator_max is -100",)),
    ("circuits", "i_isolator_max = inf", ("i_isolator_max is inf",)),
    ("circuits", "blocking_diodes = 2", ("blocking_diodes",)),
    ("controller", "v_start_margin = 0.5\nv_hold_margin = 2", ("v_hold_margin",)),
    ("controller", 'tracker = "magic"', ("tracker is 'magic'",)),
    ("controller", "cold_cutoff = 1", ("cold_cutoff",)),
    ("controller", 'feeds_back = "maybe"', ("feeds_back",)),
    ("controller", "cold_cutoff = true\ntemp_cold_cutoff = 41", ("temp_cold_cutoff is 41", "Fahrenheit")),
    ("controller", "temp_cold_cutoff = 2", ("temp_cold_cutoff is 2", "it needs cold_cutoff = true beside it")),
    ("controller", "cold_cutoff = true\ntemp_cold_release = 4", ("it needs temp_cold_cutoff beside it",)),
    (
        "controller",
        "cold_cutoff = true\ntemp_cold_cutoff = 4\ntemp_cold_release = 1",
        ("temp_cold_release is 1", "swapped"),
    ),
    ("controller", 'cold_feeds_loads = "no"', ("cold_feeds_loads",)),
    ("battery", "temp_heated = 41", ("temp_heated is 41", "Fahrenheit")),
    ("controller", "price = -9", ("price is -9",)),
    ("controller", "loss_fixed_pct = 97", ("loss_fixed_pct is 97",)),
    ("controller", "i_pv_sc_max = 0", ("i_pv_sc_max is 0",)),
    ("climate", 'places = [["coast"]]', ("places is not whole",)),
    ("climate", 'places = [["coast", -300]]', ("places", "-300")),
    ("climate", 'places = "coast"', ("places",)),
    ("climate", "temp_cell_hottest = 700", ("temp_cell_hottest is 700",)),
    ("", 'rule_book = "VDE"', ("rule_book is 'VDE'",)),
    ("", 'rule_book = ""', ("rule_book",)),
    ("", "loads = 30", ("loads",)),
]  # fmt: skip
HEADS = {
    "": "",
    "battery": '[battery]\nname = "box"\nv_nominal = 12\nv_now = 13.2\n',
    "loads": "[[loads]]\n",
    "cable": "[circuits.cable]\n",
    "circuits": "[[circuits]]\n",
    "controller": '[circuits.controller]\nname = "plain"\nv_pv_max = 90\ni_charge_max = 25\n',
    "climate": "[climate]\ntemp_coldest = -12\n",
    "roof": "[roof]\n",
}
PANELS = """[[panels]]
count = 2
name = "roof 120 W"
v_oc = 22.6
i_sc = 6.7
v_mp = 18.8
i_mp = 6.4
cells_in_series = 36
substrings = 2
"""
DEFAULTS = {"battery": "v_absorption = 14.2\n", "circuits": 'wiring = "2s"\n'}
# what a table needs besides, unless the slip says it


def with_line(table: str, lines: str) -> str:
    """A rig file that is good but for these lines in one of its tables."""
    parts = [f'name = "walker"\nsource = "a test"\n{lines if not table else ""}\n']
    parts.append(PANELS + (lines + "\n") * (table == "panels"))
    for head in (
        "battery",
        "climate",
        "circuits",
        "controller",
        "cable",
        *([table] if table in ("loads", "roof") else []),
    ):
        more = DEFAULTS.get(head, "")
        keep = "" if table == head and more.split(" =")[0] in lines else more
        parts.append(HEADS[head] + keep + (lines + "\n" if table == head else ""))
    return "\n".join(parts)


README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
INLINE = README.partition("```toml\n")[2].partition("```")[0]
# the rig that README begins with, its tables a line each
TYPED: list[tuple[str, str, str]] = [
    ("v_oc = 22.1", 'read_by = "both", v_oc = 22.1', "With watts among what was read it is"),
    ("v_oc = 22.1", "v_oc = 22,1", "'v_oc = 22,1' is no TOML. Write decimals with a point."),
    ("v_oc = 22.1", "v_oc = 221", "v_oc is 221 V; a value from 1 to 200 V makes sense. Is the point missing?"),
    ("count = 2", "count = two", "'count = two' is no TOML. Text goes in straight quotes."),
    ('name = "100 Ah"', "name = 100 Ah", "'name = 100 Ah' is no TOML. Text goes in straight quotes."),
    ("v_nominal = 12", "v_nominal = 12 V", "'v_nominal = 12 V' is no TOML. Write the number alone"),
    ("substrings = 2 }", "substrings = 2", "The closing } is missing."),
    ('wiring = "2s"', "wiring = 2s", "'wiring = 2s' is no TOML. Text goes in straight quotes."),
    ("section_mm2 = 4", "section_mm2 = 12 AWG", "section_mm2 takes the copper area; 12 AWG is 3.31 mm²"),
    ("section_mm2 = 4", 'section_mm2 = "12 AWG"', "AWG 12 is 3.31 mm²"),
    ("temp_coldest = -15", "temp_coldest = 5F", "Temperatures are in °C: take 32 off the °F, then divide by 1.8."),
    ("temp_coldest = -15", "temp_coldest = -4 °F", "Temperatures are in °C: take 32 off"),
    ("temp_coldest = -15", 'temp_coldest = "5 °F"', "Temperatures are in °C; 5 °F are -15."),
    ("temp_coldest = -15", 'temp_coldest = "-3,5F"', "Temperatures are in °C; -3.5 °F are -19.8."),
    ("length_m = 5", "length_m = 16 ft", "Lengths are in m: 0.305 a foot"),
    ("length_m = 5", 'length_m = "16 ft"', "Lengths are in m; that is 4.88."),
]
# what is typed into it instead, and what is said


RIGS = {
    f"{lines.splitlines()[-1]} in {table or 'the head'}": (with_line(table, lines), said)
    for table, lines, said in VALUES
}
RIGS |= {f"{new} in a line of README's rig": (INLINE.replace(old, new), (said,)) for old, new, said in TYPED}

# Files of years, cut or spoilt in the middle

YEARS = Path(pvlib.__file__).parent / "data"
EPW = "\n".join(
    [
        "LOCATION,Moor,X,NOR,made,012345,60.40,5.30,1.0,50.0",
        *("DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"),
        *("HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,made", "COMMENTS 2,made"),
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
        *(f"1999,1,1,{hour},60,?9," + ",".join(["5"] * 29) for hour in range(1, 9)),
        "1999,1,1,9,60,?9,5,5",
    ]
)
PVGIS = """Latitude (decimal degrees): 60.400
Longitude (decimal degrees): 5.300
Elevation (m): 50
month,year
time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP
20070101:0000,1.1,80,0,0,0,280,3.1,200,100000
20070101:0100,1.0,8"""


def start(name: str, size: int) -> bytes:
    """The beginning of a typical year that comes with pvlib."""
    return (YEARS / name).read_bytes()[:size]


Files = dict[str, bytes | int | str]
YEAR = "compare bookmobile --wiring 2s --weather year.{0} --day dull --chart out.png"
READERS: dict[str, tuple[str, Files, Said]] = {
    "EPW cut in a row": (YEAR.format("epw"), {"year.epw": EPW.encode()}, ("no day without gaps", "no ghi at 08:00")),
    "EPW, its head alone": (YEAR.format("epw"), {"year.epw": EPW.encode()[:60]}, ("year has 0 rows",)),
    "EPW, no letters": (YEAR.format("epw"), {"year.epw": EPW.encode()[:60] + bytes(range(256))}, ("cut off or was",)),
    "TMY3 cut between rows": (YEAR.format("csv"), {"year.csv": start("723170TYA.CSV", 9000)}, ("of 8760 hours",)),
    "TMY3, its head alone": (YEAR.format("csv"), {"year.csv": start("723170TYA.CSV", 300)}, ("year.csv",)),
    "TMY2 cut in a row": (YEAR.format("tm2"), {"year.tm2": start("12839.tm2", 1000)}, ("year.tm2",)),
    "PVGIS cut in a row": (YEAR.format("csv"), {"year.csv": PVGIS.encode()}, ("year.csv",)),
    "PVGIS JSON cut": (
        YEAR.format("json"), {"year.json": b'{"inputs": {"location": {"latitude": 60.4, "lon'}, ("cut off",)),
}  # fmt: skip

# Trial logs

TRIAL = "minutes,wiring,power,light\n" + "".join(
    f"{5 * k},{'2s' if 3 <= k < 6 else '2p'},{100 + k},{500 + 5 * k}\n" for k in range(9)
)
RUN_TRIAL = "trial log.csv --chart out.png"


def trial(old: str, new: str, *said: str) -> tuple[str, Files, Said]:
    """A trial's log with something changed."""
    assert old in TRIAL
    return RUN_TRIAL, {"log.csv": TRIAL.replace(old, new).encode()}, said


GOOD_LOG = {"log.csv": TRIAL.encode()}
READERS |= {
    "trial without a file": ("trial gone.csv", {}, ("gone.csv",)),
    "trial, empty": (RUN_TRIAL, {"log.csv": b""}, ("log.csv",)),
    "trial, a picture": (RUN_TRIAL, {"log.csv": b"\x89PNG\r\n\x1a\n" + bytes(90)}, ("log.csv",)),
    "trial without watts": trial("power", "colour", "power"),
    "trial, no watts in any row": (
        RUN_TRIAL, {"log.csv": "".join(line.replace(f",{100 + k - 1},", ",,") for k, line in
                                       enumerate(TRIAL.splitlines(True))).encode()}, ("no watts in any row",)),
    "trial without wiring": trial("wiring", "colour", "which wiring"),
    "trial without time": trial("minutes", "colour", "time"),
    "trial of one wiring": trial("2s", "2p", "the wirings are 2p"),
    "trial of three wirings": trial("10,2p", "10,4p", "the wirings are"),
    "trial, milliwatts": trial("2p,100,", "2p,100000,", "line 2", "milliwatts"),
    "trial, lux": trial(",500\n", ",50000\n", "line 2", "lux"),
    "trial, watts in words": trial("2p,100,", "2p,plenty,", "line 2", "'plenty'"),
    "trial, times that fall": trial("10,2p", "1,2p", "line 4"),
    "trial, a time in words": trial("10,2p", "noon,2p", "line 4"),
    "trial, a row too long": trial(",500\n", ",500,1\n", "line 2"),
    "trial, watts with a sign between thousands": (
        RUN_TRIAL,
        {"log.csv": "".join(f"{line.replace(',', ';')[:-1]};13,2\n" if k else "minutes;wiring;power;light;vbat\n"
                            for k, line in enumerate(TRIAL.replace("2p,100,", "2p,1.050,").splitlines(True))).encode()},
        ("line 2, column 'power': '1.050' may be thousands or decimals",)),
    "trial, two forms of time": trial("10,2p", "10:00,2p", "line 4", "otherwise than the first row, '0'"),
    "trial, a unit of something else behind a number": trial("2p,100,", "2p,100 V,", "line 2", "'100 V' is no number"),
    "trial, a gap told by a number": trial(",500\n", ",9999\n", "line 2", "Does it mark a gap? Leave the cell empty."),
    "trial, a quote that is never closed": trial("10,2p", '10,"2p', "line 4", "a quote is opened and never closed"),
    "trial, an old spreadsheet": (RUN_TRIAL, {"log.csv": b"\xd0\xcf\x11\xe0" + bytes(90)}, ("an old spreadsheet",)),
    "trial, a file that is packed": (RUN_TRIAL, {"log.csv": b"\x1f\x8b\x08" + bytes(90)}, ("packed by gzip",)),
    "trial, UTF-16 without its letters": (RUN_TRIAL, {"log.csv": b"\xff\xfe" + b"\x00\xd8" * 90}, ("log.csv",)),
    "trial, few rows": (RUN_TRIAL, {"log.csv": "".join(TRIAL.splitlines(True)[:4]).encode()}, ("rows",)),
    "trial, cut in a row": (RUN_TRIAL, {"log.csv": TRIAL.encode()[:-10]}, ("line 10",)),
    "trial, unknown field": (f"{RUN_TRIAL} --columns watts=power", GOOD_LOG, ("watts",)),
    "trial, column that is not there": (f"{RUN_TRIAL} --columns power=P1", GOOD_LOG, ("P1",)),
    "trial, column without a name": (f"{RUN_TRIAL} --columns power", GOOD_LOG, ("--columns",)),
    "trial, blocks in words": (f"{RUN_TRIAL} --blocks morning", GOOD_LOG, ("morning",)),
    "trial, unknown first wiring": (f"{RUN_TRIAL} --before 7s", GOOD_LOG, ("7s",)),
    "trial, gamma without its sign": (f"{RUN_TRIAL} --gamma 0.4", GOOD_LOG, ("--gamma is 0.4", "Is the sign missing?")),
    "trial, least gain of nothing": (f"{RUN_TRIAL} --matters 0", GOOD_LOG, ("--matters is 0 %",)),
    "trial, spare panel without amps": (f"{RUN_TRIAL} --spare-isc 6", GOOD_LOG, ("spare",)),
    "trial, clear sky without dates": (f"{RUN_TRIAL} --clear-sky 60 5 2", GOOD_LOG, ("dates",)),
    "trial, clear sky of two numbers": (f"{RUN_TRIAL} --clear-sky 60 5", GOOD_LOG, ("--clear-sky",)),
    "trial, unknown rig": (f"{RUN_TRIAL} --rig xyzzy", GOOD_LOG, ("There are bookmobile",)),
    "trial, chart onto a photo": (RUN_TRIAL, {**GOOD_LOG, "out.png": b"sea"}, ("no picture of this kit",)),
}  # fmt: skip

# Names of strangers, and files made to hang a reader; `test_strangers.py` and `test_bounds.py` hold many more

RIGS |= {
    "name with a line break": (with_line("", "").replace("walker", r"van\nYES  Cold ceiling"),
                               ("line 1: name is 'van?YES  Cold ceiling'", "letter 4 is a line break")),
    "name that turns the reading": (with_line("", "").replace("walker", r"van\u202E"), ("U+202E", "Leave it out")),
    "name of a panel that steers a screen": (
        with_line("", "").replace("roof 120 W", r"\u001B[2Jroof"), ("panels 1 and 2: name is", "U+001B")),
    "note without an end": (with_line("", "").replace("a test", "w" * 1001), ("source has 1001 letters", "1000")),
    "25,000 lines": (with_line("", "#\n" * 25_000), ("more than 20000 lines or commas",)),
}  # fmt: skip
READERS |= {
    "weather, 3 million commas in the first line": (
        YEAR.format("csv"), {"year.csv": b"," * 3_000_000}, ("line 1 has 3000000 letters",)),
    "weather, lines of a letter": (YEAR.format("csv"), {"year.csv": b"a\n" * 2_000_000}, ("has 2000000 lines",)),
    "shortlist, a cell of 131,073 letters": (
        "shortlist bookmobile list.csv --day dull",
        {"list.csv": b"name\n" + b"x" * 131_073}, ("line 2 has 131073 letters", "up to 2000")),
    "chart onto a link that leads nowhere": (
        "compare bookmobile --chart a.png", {"a.png": "gone.png"}, ("is a link that leads nowhere",)),
    "times that fall, with an offset": (
        "compare bookmobile --day log.csv",
        {"log.csv": b"time,ghi,temp_air\n2026-06-01T11:00Z,5,5\n2026-06-01T10:00Z,5,5\n"},
        ("line 3, column 'time'", "must rise")),
}  # fmt: skip

# Files of stops

TRIP = "trip stops.toml --rig bookmobile --quick"
LAKE = '[[stops]]\nname = "lake"\nweather = "miami"\nfrom_day = "07-01"\nto_day = "07-03"\n'
HILL = '[[stops]]\nname = "hill"\nweather = "greensboro"\nfrom_day = "07-04"\nto_day = "07-05"\n'


def stops(*changes: tuple[str, str], more: str = "") -> dict[str, bytes]:
    """Two stops, good but for these changes."""
    text = LAKE + more + HILL
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return {"stops.toml": text.encode()}


TWO_HOURS = b"time,ghi,temp_air\n2026-06-01 10:00,5,5\n2026-06-01 11:00,5,5\n"
READERS |= {
    "trip, a place that is no weather": (TRIP, stops(('"miami"', '"Tampere"')), ("lake: weather 'Tampere'",)),
    "trip, days twice": (TRIP, stops(('"07-04"', '"07-03"')), ("ends on 07-03, and hill begins on 07-03",)),
    "trip, a day left out": (TRIP, stops(('"07-04"', '"07-05"')), ("Begin it on 07-04",)),
    "trip, back in time": (TRIP, stops(('"07-04"', '"06-04"')), ("every day of a trip is at one stop",)),
    "trip, more than a year": (TRIP, stops(('"07-05"', '"07-02"')), ("a trip takes up to 366",)),
    "trip, 30 February": (TRIP, stops(('"07-01"', '"02-30"')), ("from_day is '02-30'", "07-04")),
    "trip, a day with its year": (TRIP, stops(('"07-01"', '"2026-07-01"')), ("from_day is '2026-07-01'",)),
    "trip, day before month": (TRIP, stops(('"07-01"', '"31-12"')), ("from_day is '31-12'", "12-31")),
    "trip, a leap day": (TRIP, stops(('"07-01"', '"02-29"')), ("from_day is '02-29'", "write 02-28 or 03-01")),
    "trip, turned and not tilted": (TRIP, stops(more="turn_deg = 45\n"), ("turn_deg", "it needs tilt_deg")),
    "trip, tilt past upright": (TRIP, stops(more="tilt_deg = 100\n"), ("tilt_deg is 100",)),
    "trip, drives more than the day": (TRIP, stops(more="drive_daily_h = 25\n"), ("drive_daily_h is 25",)),
    "trip, minutes driven": (TRIP, stops(more="drive_h = 90\n"), ("Are these minutes?",)),
    "trip, a compass word": (TRIP, stops(more='heading_deg = "SW"\n'), ("heading_deg is", "a number in degrees")),
    "trip, shade as a share of one": (TRIP, stops(more="shade_pct = 130\n"), ("shade_pct is 130",)),
    "trip, a file of a rig": (TRIP, {"stops.toml": LAKE.replace("[[stops]]", "[[loads]]").encode()}, ("[[stops]]",)),
    "trip, nothing in it": (TRIP, {"stops.toml": b""}, ("is empty; start from a copy of", "three-coasts.toml")),
    "trip, a file that is not there": (TRIP, {}, ("stops.toml",)),
    "trip, a log without the days": (
        TRIP,
        {**stops(('"miami"', '"log.csv"')), "log.csv": TWO_HOURS},
        ("07-01",),
    ),
}  # fmt: skip

# Histories of a watched van: forty days of some 600 Wh, highest 130 W, as two panels of 100 W bring them

SHARES = [55 + (37 * k) % 40 for k in range(40)]
# per cent of a clear day
DAYS = [f"2026-{4 + k // 30:02}-{1 + k % 30:02}" for k in range(40)]
RUN_WATCH = "watch days.csv --rig bookmobile --chart out.png"


def history(*rows: str, head: str = "date,wh,max power") -> Files:
    """A file of days."""
    return {"days.csv": "\n".join([head, *rows, ""]).encode()}


def of_days(wh: float = 10.0, watts: float = 1.8) -> list[str]:
    """Days of so many watt-hours and watts for each per cent."""
    return [f"{day},{wh * share:.2f},{watts * share:.0f}" for day, share in zip(DAYS, SHARES, strict=True)]


COUNTED = [f"{day},{12_000 + 600 * k},140" for k, day in enumerate(DAYS)]
READERS |= {
    "history that is not there": ("watch gone.csv --rig bookmobile", {}, ("gone.csv",)),
    "history of names alone": (RUN_WATCH, history(), ("no days",)),
    "history, a counter that runs on": (RUN_WATCH, history(*COUNTED), ("counter", "gained each day")),
    "history, a counter that was restarted": (
        RUN_WATCH, history(*COUNTED[:28], *(f"{day},{600 * k},140" for k, day in enumerate(DAYS[28:]))),
        ("counter", "gained each day")),
    "history, kWh for Wh": (RUN_WATCH, history(*of_days(wh=0.01)), ("Are the watt-hours kWh?", "energy (kWh)")),
    "history, Wh in mWh": (
        RUN_WATCH, history(*of_days(wh=10_000.0)), ("line 2, column 'wh'", "to 400000 Wh makes sense")),
    "history, a day twice": (
        RUN_WATCH, history(*of_days(), f"{DAYS[-1]},120,60"), ("2026-05-10 is there twice", "Leave one out")),
    "history, another van's": (RUN_WATCH, history(*of_days(60.0, 10.8)), ("another van's history",)),
    "histories of two vans joined": (
        "watch days.csv other.csv --rig bookmobile --chart out.png",
        {**history(*of_days()), "other.csv": history(*of_days(17.0, 3.0))["days.csv"]},
        ("2026-04-01 is there twice", "Two vans, or two controllers?")),
    "history, seconds for minutes": (
        RUN_WATCH, history(*(f"{row},20000" for row in of_days()), head="date,wh,max power,bulk"),
        ("bulk", "1440", "seconds")),
    "history without dates": (RUN_WATCH, history(*(row.split(",", 1)[1] for row in of_days()), head="wh,max power"),
                              ("time",)),
    "history without watts": (RUN_WATCH, history(*of_days(), head="date,mood,colour"), ("no column recognised",)),
    "history, watt-hours in two columns": (
        RUN_WATCH, history(*(f"{row},300" for row in of_days()), head="date,yield Wh,max power,harvest Wh"),
        ("could both be the watt-hours of the day", "Say which")),
    "history, watts in words": (
        RUN_WATCH, history(*of_days()[:5], f"{DAYS[5]},plenty,140"), ("line 7", "'plenty'")),
}  # fmt: skip

# Shortlists of controllers

LIST = (data_folder() / "shortlist.csv").read_text(encoding="utf-8")
ROW = next(line for line in LIST.splitlines() if line.startswith("small 60 V"))
RUN_LIST = "shortlist bookmobile list.csv --day dull"


def shortlist(old: str, new: str, *said: str) -> tuple[str, Files, Said]:
    """The kit's list with something changed."""
    assert old in LIST
    return RUN_LIST, {"list.csv": LIST.replace(old, new, 1).encode()}, said


READERS |= {
    "shortlist without a file": ("shortlist bookmobile gone.csv", {}, ("gone.csv",)),
    "shortlist of 500 MB": (RUN_LIST, {"list.csv": 500_000_000}, ("larger than 1 MB",)),
    "trial of 500 MB": (RUN_TRIAL, {"log.csv": 500_000_000}, ("larger than 20 MB",)),
    "shortlist, empty": (RUN_LIST, {"list.csv": b""}, ("list.csv",)),
    "shortlist, no candidates": (RUN_LIST, {"list.csv": LIST.split("small 60")[0].encode()}, ("list.csv",)),
    "shortlist without a column": shortlist("v_pv_max, ", "volts, ", "'volts' is no column"),
    "shortlist, a column twice": shortlist("i_pv_sc_max", "v_pv_max", "v_pv_max is there twice"),
    "shortlist, a row too short": shortlist(ROW, ROW.rsplit(",", 3)[0], "list.csv"),
    "shortlist, a row too long": shortlist(ROW, ROW + ", 1, 2", "list.csv"),
    "shortlist, volts in words": shortlist(ROW, ROW.replace(" 60,", " high,", 1), "v_pv_max"),
    "shortlist, no volts": shortlist(ROW, ROW.replace(" 60,", " ,", 1), "v_pv_max"),
    "shortlist, volts of a grid": shortlist(ROW, ROW.replace(" 60,", " 60000,", 1), "v_pv_max is 60000"),
    "shortlist, unknown tracker": shortlist("climb", "magic", "tracker"),
    "shortlist, perhaps a cut-off": shortlist(" no,", " maybe,", "cold_cutoff"),
    "shortlist, price with its coin": shortlist(ROW, ROW.rsplit(",", 1)[0] + ", 55 EUR", "price"),
    "shortlist, a name twice": shortlist(ROW, f"{ROW}\n{ROW}", "small 60 V 10 A"),
    "shortlist, semicolons and decimal commas, and a slip": (
        RUN_LIST, {"list.csv": "name;v_pv_max;i_charge_max\nsmall;6,5;10\n".encode("utf-16")},
        ("line 2: v_pv_max is 6.5 V",)),
    "shortlist, amps for volts": shortlist(ROW, ROW.replace(" 60,", " 60 A,", 1), "'60 A' is no number in V"),
    "shortlist, a spreadsheet": (RUN_LIST, {"list.csv": b"PK\x03\x04" + bytes(90)}, ("save the sheet as CSV",)),
    "shortlist, all wirings": ("shortlist bookmobile --wiring all", {}, ("--rewire",)),
    "shortlist, unknown day": ("shortlist bookmobile --day gloomy", {}, ("'gloomy'",)),
}  # fmt: skip

# Words of the newer commands

READERS |= {
    "heading beyond a turn": (
        "compare bookmobile --day dull --heading 400", {}, ("--heading is 400", "North is 0, east 90")),
    "heading in words": ("compare bookmobile --day dull --heading east", {}, ("'east' is not a number",)),
    "heading without a day": ("compare bookmobile --heading 90", {}, ("--heading", "--day")),
    "heading of a run beyond a turn": ("day bookmobile --heading 400", {}, ("--heading is 400", "North is 0, east 90")),
    "panel turned that has no place": (
        "roof goat-cheese-van --turn P4", {}, ("P4 has no place on this roof; P1, P2, P3 have",)),
    "panel turned where there is no room": (
        "roof goat-cheese-van --turn P3", {}, ("P3 turned", "roof box stands 0.63 m inside P3")),
    "panel turned by a word": ("roof goat-cheese-van --turn second", {}, ("--turn is 'second'; write P1",)),
    "day of no month": ("compare bookmobile --day dullest_smarch", {}, ("dullest",)),
    "range of no month": ("compare bookmobile --day smarch..april", {}, ("smarch",)),
    "measured day that is not there": ("compare bookmobile --day graz-2017-12-24", {}, ("12-24",)),
    "mistyped measured weather": ("compare bookmobile --day dull --weather gratz", {}, ("did you mean 'graz'",)),
    "run without a capacity": ("day van.toml", {"van.toml": with_line("", "").encode()}, ("capacity_ah",)),
    "charge over the brim": ("day bookmobile --charge 130", {}, ("--charge is 130 %",)),
    "load that delivers watts": ("day bookmobile --load -5", {}, ("--load is -5 W",)),
    "load in words": ("year bookmobile --load fridge", {}, ("'fridge' is not a number",)),
    "table of another kind": ("day bookmobile --csv out.txt", {}, ("write .csv",)),
    "table in no folder": ("day bookmobile --csv attic/out.csv", {}, ("make it first",)),
    "table onto a letter": ("day bookmobile --csv out.csv", {"out.csv": b"Dear aunt"}, ("no table of this kit",)),
    "day of an unknown weather": ("day bookmobile --weather xyzzy", {}, ("is not known",)),
    "chart of a day onto a photo": ("day bookmobile --chart a.png", {"a.png": b"sea"}, ("no picture of this kit",)),
    "chart of a day of a kind": ("day bookmobile --chart a.jpg", {}, ("write .png or .svg",)),
    "page of nothing": ("sheet bookmobile", {}, ("--out",)),
    "page of all wirings": ("sheet bookmobile --out a.pdf --wiring all", {}, ("--wiring 2s2p",)),
    "page onto a photo": ("sheet bookmobile --out a.png", {"a.png": b"sea"}, ("no picture of this kit",)),
    "page of a kind": ("sheet bookmobile --out a.doc", {}, ("write .png or .svg",)),
    "rules of nowhere": ("check bookmobile --rules VDE", {}, ("--rules is 'VDE'; there are IEC, US;",)),
    "coldest in Fahrenheit": ("check bookmobile --coldest 20F", {}, ("write °C", "--coldest -7, which is 20 °F")),
    "coldest with its unit": ("check bookmobile --coldest=-15°C", {}, ("no unit: --coldest -15.",)),
    "rig file onto a rig file": ("rig bookmobile --out a.toml", {"a.toml": b"name = 1"}, ("is there already",)),
    "rig file of a kind": ("rig bookmobile --out a.txt", {}, ("write .toml",)),
    "rig file in no folder": ("rig bookmobile --out attic/a.toml", {}, ("make it first",)),
    "page in no folder": ("sheet bookmobile --out attic/page.pdf", {}, ("folder 'attic' is not there; make it first",)),
    "hottest in Fahrenheit": ("check bookmobile --hottest 160F", {}, ("write °C", "--hottest 71, which is 160 °F")),
    "hottest of a few days": ("check bookmobile --hottest graz", {}, ("the hottest of a year may be missing",)),
    "hottest as of an oven": ("check bookmobile --hottest 200", {}, ("--hottest is 200 °C", "Is this Fahrenheit?")),
    "coldest in words": ("check bookmobile --coldest arctic", {}, ("arctic",)),
    "coldest of a unit alone": ("check bookmobile --coldest -F", {}, ("--coldest needs its value (°C)", "'-F'")),
    "coldest with nothing behind": ("check bookmobile --coldest", {}, ("--coldest needs its value (°C);",)),
    "coldest with a dash for a minus": ("check bookmobile --coldest −15", {}, ("the minus sign of the keyboard",)),
    "light with nothing behind": ("compare bookmobile --light --temp 5", {}, ("--light needs its value (W/m²)",)),
    "temperature with a dash": ("compare bookmobile --temp –5", {}, ("the minus sign of the keyboard",)),
    "clear sky of one place short": ("trial log.csv --clear-sky 60 5", {}, ("needs its value (LAT LON HOURS)",)),
    "rules with nothing behind": ("check bookmobile --rules", {}, ("--rules needs its value (IEC or US)",)),
    "port in words": ("class --port high", {}, ("--port is 'high'; a whole number makes sense",)),
    "option that is mistyped": ("check bookmobile --wirring 2s", {}, ("did you mean --wiring?",)),
    "file whose name has a blank": ("check my van.toml", {}, ("a name with blanks goes in quotes",)),
    "hour of a clock": ("roof goat-cheese-van --hour 9:30", {}, ("hours are written with a point, 9.5",)),
    "day before its month": ("compare bookmobile --day 21-12", {}, ("Is it 12-21?",)),
    "day with a point": ("compare bookmobile --day 12.21", {}, ("12-21 or 2026-12-21; did you mean 12-21?",)),
    "day with a stroke": ("day bookmobile --day 12/21", {}, ("did you mean 12-21?",)),
    "day first, with its year": ("compare bookmobile --day 21.12.2026", {}, ("did you mean 12-21?",)),
    "day that may be two": ("compare bookmobile --day 3/4", {}, ("did you mean 03-04 or 04-03?",)),
    "day of one digit": ("compare bookmobile --day 6-21", {}, ("did you mean 06-21?",)),
    "day with its month's name": ("compare bookmobile --day dec-21", {}, ("did you mean 12-21?",)),
    "day that is a month": ("compare bookmobile --day december", {}, ("whole month", "'dullest december'")),
    "list of a day with a stroke": ("check bookmobile --list --day 12/21", {}, ("did you mean 12-21?",)),
    "shortlist of a month": ("shortlist bookmobile --day december", {}, ("whole month", "'all december'")),
    "date with a stroke": ("roof goat-cheese-van --date 12/21", {}, ("--date is '12/21'", "Did you mean 12-21?")),
    "least gain as a share": (f"{RUN_TRIAL} --matters 0.03", GOOD_LOG, ("Is it a share? 0.03 is 3 %",)),
    "trial of a rig with other wirings": (
        f"{RUN_TRIAL} --rig puppet-stage", GOOD_LOG, ("2p needs 2 panels; there are 4. The log calls them 2p and 2s",)),
    "list of the kit from elsewhere": (
        "shortlist bookmobile shortlist.csv", {}, ("name no list, and the kit's own is taken",)),
    "coldest below zero kelvin": ("check bookmobile --coldest -400", {}, ("--coldest is -400",)),
    "list of one wiring": ("check bookmobile --list --wiring 2s", {}, ("leave out --wiring",)),
}  # fmt: skip
