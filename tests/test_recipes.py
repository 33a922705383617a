"""Rig files: the examples, the round trip, and what a wrong file is told."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.components.single_diode import fit_panel
from vanpower.files import resources, rig_tables
from vanpower.files.examples import example_batteries, example_controllers, examples
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example, read_rig, rig_to_toml
from vanpower.files.rig_forms import MOST_TOLD
from vanpower.rig import (
    COPPERS,
    INSULATIONS,
    LAYINGS,
    RULE_BOOKS,
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Fixture,
    Panel,
    Placement,
    Rig,
    Roof,
    Wiring,
)
from vanpower.rig.fields import JOINERS

GOOD = """\
name = "Stilt walkers' van"
source = "invented for a test"

[[panels]]
count = 3
name = "roof 120 W"
v_oc = 22.6
i_sc = 6.7
v_mp = 18.8
i_mp = 6.4
cells_in_series = 36
substrings = 2
beta_voc_pct_per_k = -0.3

[[panels]]
name = "gable 90 W"
v_oc = 21.7
i_sc = 5.4
v_mp = 17.6
i_mp = 5.1
cells_in_series = 36
substrings = 2

[battery]
use = "lithium-24v-150ah"
v_now = 26.5

[climate]
temp_coldest = -12

[[circuits]]
wiring = "2s2p"

[circuits.controller]
name = "plain 90 V"
v_pv_max = 90
i_charge_max = 25

[circuits.cable]
length_m = 6
section_mm2 = 6
"""


@pytest.fixture
def read(tmp_path):
    """Write a text (or bytes) as van.toml and read it as a rig."""

    def read_text(text: str | bytes) -> Rig:
        path = tmp_path / "van.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_rig(path)

    return read_text


def told(read, text: str | bytes) -> str:
    """What a wrong file is told."""
    with pytest.raises(ValueError, match=r"van\.toml") as error:
        read(text)
    return str(error.value)


def changed(old: str, new: str, text: str = GOOD) -> str:
    """The good file with one text replaced, the first time it stands there."""
    assert old in text
    return text.replace(old, new, 1)


# The examples


@pytest.mark.parametrize("name", examples())
def test_every_example_is_read_and_says_that_it_is_invented(name):
    rig = example(name)
    assert rig.source.startswith("Invented for the demo")
    assert rig.climate.basis.startswith("Invented")
    assert all(circuit.cable.length_m > 0 for circuit in rig.circuits)


@pytest.mark.parametrize("name", examples())
def test_every_example_has_labels_such_as_panels_carry(name):
    for panel in example(name).panels:
        assert 0.77 <= panel.v_mp / panel.v_oc <= 0.85
        assert 0.92 <= panel.i_mp / panel.i_sc <= 0.96
        assert panel.cells_in_series != 36 or 21.0 <= panel.v_oc <= 24.5
        assert fit_panel(panel).misfit < 0.001


@pytest.mark.parametrize("name", examples())
def test_every_example_stays_below_its_ceiling_in_its_own_frost(name):
    rig = example(name)
    for circuit in rig.circuits:
        for string in circuit.wiring.strings:
            cold = sum(rig.panels[p].v_oc * (1 + 0.0035 * (25 - rig.climate.temp_coldest)) for p in string)
            assert cold < circuit.controller.v_pv_max


@pytest.mark.parametrize("name", examples())
def test_every_example_stays_below_the_short_circuit_limit_of_its_input(name):
    rig = example(name)
    for circuit in rig.circuits:
        amps = sum(min(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings)
        assert amps <= (circuit.controller.i_pv_sc_max or circuit.controller.i_charge_max)


def test_examples_cover_the_situations_the_folder_promises():
    rigs = {name: example(name) for name in examples()}
    panels = [panel for rig in rigs.values() for panel in rig.panels]
    assert {rig.battery.v_nominal for rig in rigs.values()} == {12, 24, 48}
    assert {len(rig.panels) for rig in rigs.values()} == {1, 2, 3, 4}
    assert any(len(rig.circuits) == 2 for rig in rigs.values())
    assert any(panel.branches == 2 for panel in panels)
    assert any(panel.r_leak for panel in panels)
    assert any(not panel.bypass_diodes for panel in panels)


def test_readme_of_the_examples_lists_every_file():
    listed = set(re.findall(r"`([\w/-]+\.toml)`", (data_folder() / "README.md").read_text(encoding="utf-8")))
    lying = {path.relative_to(data_folder()).as_posix() for path in data_folder().rglob("*.toml")}
    assert listed == lying


def test_generic_parts_are_read_and_carry_their_rating_in_their_name():
    for name, controller in example_controllers().items():
        assert controller.name == name
        assert f"{controller.i_charge_max:.0f}a" in name
    for name, battery in example_batteries().items():
        assert f"{battery.v_nominal:.0f}v-{battery.capacity_ah:.0f}ah" in name


def test_keys_beside_use_win_over_the_generic_part(read):
    battery = read(GOOD).battery
    assert (battery.v_now, battery.v_absorption, battery.name) == (26.5, 28.4, "lithium-24v-150ah")


def test_unknown_example_is_told_the_near_ones_and_the_list():
    with pytest.raises(ValueError, match="did you mean puppet-stage") as error:
        example("pupet-stage")
    assert all(name in str(error.value) for name in examples())


def test_load_rig_opens_no_path():
    inside = data_folder() / "rigs" / "hay-cart"
    with pytest.raises(ValueError, match="use read_rig"):
        example(str(inside))
    with pytest.raises(ValueError, match="use read_rig"):
        example("../rigs/hay-cart")


def test_reading_a_rig_loads_nothing_heavy():
    heavy = "print(sorted({'pandas', 'pvlib', 'scipy', 'matplotlib'} & set(sys.modules)))"
    code = f"import sys, vanpower; vanpower.example('bookmobile'); {heavy}"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.split() == ["[]"]


def test_data_lies_inside_an_installed_package(tmp_path, monkeypatch):
    monkeypatch.setattr(resources, "__file__", str(tmp_path / "vanpower" / "files" / "resources.py"))
    assert data_folder() == tmp_path / "data"
    (tmp_path / "vanpower" / "data").mkdir(parents=True)
    assert data_folder() == tmp_path / "vanpower" / "data"


# The form of a file


def test_equal_panels_are_written_once(read):
    rig = read(GOOD)
    assert [panel.name for panel in rig.panels] == ["roof 120 W"] * 3 + ["gable 90 W"]


@pytest.mark.parametrize(
    ("wiring", "strings"),
    [
        ('"2s2p"', ((0, 1), (2, 3))),
        ('"4s"', ((0, 1, 2, 3),)),
        ('"4p"', ((0,), (1,), (2,), (3,))),
        ("[[1, 4], [2, 3]]", ((0, 3), (1, 2))),
        ("[[1, 2, 3], [4]]", ((0, 1, 2), (3,))),
        ('"2s"\npanels = [4, 1]', ((3, 0),)),
    ],
)
def test_wiring_is_read_short_or_panel_by_panel(read, wiring, strings):
    assert read(changed('"2s2p"', wiring)).circuits[0].wiring.strings == strings


@pytest.mark.parametrize(
    "odd",
    [
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("\n", "\r"),
        b"\xef\xbb\xbf" + GOOD.encode(),
        GOOD.rstrip("\n"),
        GOOD.replace("\n", "   # 20 °C\n"),
    ],
    ids=["CRLF", "CR", "byte-order mark", "no last newline", "comments"],
)
def test_harmless_differences_of_editors_are_read(read, odd):
    assert read(odd) == read(GOOD)


def test_battery_needs_no_name(read):
    assert read(changed("v_now = 26.5", 'v_now = 26.5\nname = "house battery"')) == read(
        changed('use = "lithium-24v-150ah"', "v_nominal = 24\nv_absorption = 28.4\ncapacity_ah = 150")
    )


def test_whole_numbers_serve_as_volts(read):
    assert read(changed("v_oc = 22.6", "v_oc = 22")).panels[0].v_oc == 22.0


# What a wrong file is told: the text, and words that must be in the message

CONTROLLER = '[circuits.controller]\nname = "plain 90 V"\nv_pv_max = 90\ni_charge_max = 25\n'
BAD = {
    # not TOML
    "bare decimal comma": (changed("22.6", "22,6"), ["line 7", "v_oc = 22,6", "point"]),
    "unit behind the number": (changed("22.6", "22.6 V"), ["line 7", "22.6 V", "unit belongs to the key"]),
    "text without quotes": (changed('"roof 120 W"', "roof 120 W"), ["line 6", "straight quotes"]),
    "typographic quotes": (changed('"roof 120 W"', "“roof”"), ["line 6", "straight quotes"]),
    "colon": (changed("v_oc = ", "v_oc: "), ["line 7", "=, not a colon"]),
    "no value": (changed("22.6", ""), ["line 7", "value is missing"]),
    "battery without the volts it is held at": (
        changed('use = "lithium-24v-150ah"\nv_now = 26.5', "v_nominal = 24\nv_absorption = 28.4"),
        ["battery: v_now is missing", "about 13.4 while a 12 V lithium block is charged, 26.8 at 24 V"],
    ),
    "no closing bracket": (changed("[battery]", "[battery"), ["line 24", "closing ]"]),
    "no closing quote": (changed('"roof 120 W"', '"roof'), ["line 6", "closing quote"]),
    "leading point": (changed("-0.3", "-.3"), ["line 13", "0 before the point"]),
    "leading zero": (changed("22.6", "022.6"), ["line 7", "does not begin with 0"]),
    "typographic minus": (changed("-0.3", "−0.3"), ["line 13", "minus sign of the keyboard"]),
    "True": (changed("count = 3", "bypass_diodes = True"), ["line 5", "small letters"]),
    "key twice": (changed("i_sc = 6.7", "v_oc = 6.7"), ["line 8", "same name"]),
    "table twice": (GOOD + "[climate]\n", ["line 42", "same name"]),
    "backslash": (changed('"roof 120 W"', '"C:\\van"'), ["line 6", "backslash"]),
    "JSON": ('{"name": "van"}', ["line 1", "TOML"]),
    "endless brackets": ("a = " + "[" * 5000, ["nests"]),
    "endless keys": (".".join("a" * 3000) + " = 1", ["nest", "too deep"]),
    "brackets in a value": (changed("22.6", "[" * 300 + "]" * 300), ["line 4", "panels 1 to 3", "too deep"]),
    "endless number": ("a = " + "1" * 5000, ["thousands of digits"]),
    # not a text file
    "Latin-1": (changed("gable", "Süd").encode("latin-1"), ["line 16", "Süd 90 W", "Latin-1", "UTF-8"]),
    "UTF-16": (GOOD.encode("utf-16"), ["UTF-16", "UTF-8"]),
    "NUL": (changed("22.6", "\x00"), ["line 7"]),
    "empty": ("", ["empty", ".toml"]),
    "blank": (b"\xef\xbb\xbf \n\n", ["empty"]),
    "too large": ("# x\n" * 300_000, ["1 MB", "another kind of file"]),
    # keys
    "only comments": ("# to do\n", ["missing are name", "source", "[[panels]] is missing", "[[circuits]] is missing"]),
    "mistyped key": (changed("v_mp", "v_mmp"), ["line 9", "panels 1 to 3", "v_mmp", "did you mean v_mp"]),
    "label's spelling": (changed("v_oc", "Voc"), ["line 7", "Voc", "did you mean v_oc"]),
    "shortened key": (changed("beta_voc_pct_per_k", "beta"), ["line 13", "did you mean beta_voc_pct_per_k"]),
    "hopeless key": (changed("count = 3", "xyzzy = 3"), ["line 5", "xyzzy", "there are", "cells_in_series", "count"]),
    "missing key": (changed("v_mp = 18.8\n", ""), ["line 4", "panels 1 to 3", "v_mp is missing", "best power"]),
    "missing in a later panel": (changed("v_mp = 17.6\n", ""), ["line 15", "panel 4", "v_mp is missing"]),
    "missing table": (changed("[climate]\ntemp_coldest = -12\n", ""), ["[climate] is missing"]),
    "missing controller": (changed(CONTROLLER, ""), ["line 31", "circuit 1", "[circuits.controller] is missing"]),
    "missing wiring": (changed('wiring = "2s2p"', ""), ["line 31", "circuit 1", "wiring is missing", "2s2p"]),
    "mistyped table": (changed("[circuits.cable]", "[circuit.cable]"), ["line 39", "circuit", "circuits"]),
    "key below the wrong table": (
        changed("v_now = 26.5", "v_now = 26.5\nlength_m = 3"),
        ["line 27", "battery", "length_m", "[circuits.cable]"],
    ),
    "top key below a table": (
        changed('source = "invented for a test"\n', "") + 'source = "late"\n',
        ["circuit 1, cable", "source", "top of the file"],
    ),
    "watts": (changed("count = 3", "p_max = 120"), ["line 5", "p_label takes the watts that the label prints"]),
    # was "Watts follow from v_mp and i_mp" for a controller too, whose leaflet may have watts and no amps
    "watts of a controller": (changed("i_charge_max = 25", "p_pv_max = 440"), ["array's watts", "absorption volts"]),
    "microinverter": (changed("plain 90 V", "micro-inverter"), ["feeds the mains", "licensed person"]),
    "microinverter as a key": (changed("[circuits.controller]", "[circuits.microinverter]"), ["feeds the mains"]),
    "wire gauge as a value": (changed("section_mm2 = 6", 'section_mm2 = "10 AWG"'), ["section_mm2", "5.26 mm²"]),
    "wire gauge": (changed("section_mm2 = 6", "AWG = 10"), ["line 41", "section_mm2", "5.26"]),
    "one bracket": (GOOD.replace("[[circuits]]", "[circuits]"), ["line 31", "[[circuits]]"]),
    "two brackets": (GOOD.replace("[battery]", "[[battery]]"), ["line 24", "[battery]"]),
    "panels as numbers": ("panels = [1, 2]\n", ["panels is [1, 2]", "[[panels]]"]),
    # values of the wrong kind
    "decimal comma in quotes": (changed("22.6", '"22,6"'), ["line 7", '"22,6"', "in V", "Write 22.6", "point"]),
    "unit in quotes": (changed("22.6", '"22.6 V"'), ["line 7", '"22.6 V"', "Write 22.6", "without the unit"]),
    "number in quotes": (changed("= 36", '= "36"'), ["line 11", '"36"', "whole number", "Write 36"]),
    "text for a number": (changed("22.6", '"about twenty"'), ["line 7", '"about twenty"', "a number in V"]),
    "date for a number": (changed("22.6", "2031-05-01"), ["line 7", "2031-05-01", "a number in V"]),
    "true for a number": (changed("22.6", "true"), ["line 7", "true", "a number in V"]),
    "list for a number": (changed("22.6", "[22.6]"), ["line 7", "[22.6]", "a number in V"]),
    "whole number with a point": (changed("= 36", "= 36.0"), ["line 11", "36.0", "Write 36,"]),
    "yes": (changed("count = 3", 'bypass_diodes = "yes"'), ["line 5", '"yes"', "true or false"]),
    "number for text": (changed('"roof 120 W"', "120"), ["line 6", "name is 120", "quotes"]),
    "no panels": (changed("count = 3", "count = 0"), ["line 5", "count is 0", "from 1 to 24"]),
    "a field of panels": (changed("count = 3", "count = 1000000000"), ["line 5", "1000000000", "24"]),
    "panels beyond a roof": (changed("count = 3", "count = 24"), ["line 4", "25 panels"]),
    "text for a count": (changed("count = 3", 'count = "three"'), ["line 5", 'count is "three"', "whole number"]),
    # values no label carries
    "millivolts": (changed("22.6", "22600"), ["line 7", "v_oc is 22600 V", "200 V", "millivolts"]),
    "millivolts at best power": (changed("18.8", "18800"), ["line 9", "v_mp is 18800 V", "millivolts"]),
    "milliamps": (changed("6.7", "6700"), ["line 8", "i_sc is 6700 A", "40 A", "milliamps"]),
    "infinite": (changed("22.6", "inf"), ["line 7", "v_oc is inf V"]),
    "not a number": (changed("22.6", "nan"), ["line 7", "v_oc is nan V"]),
    "volts swapped": (
        changed("22.6", "18.8", changed("v_mp = 18.8", "v_mp = 22.6")),
        ["line 9", "v_mp is 22.6 V", "below v_oc, 18.8 V", "swapped"],
    ),
    "amps swapped": (
        changed("6.7", "6.4", changed("i_mp = 6.4", "i_mp = 6.7")),
        ["line 10", "i_mp is 6.7 A", "below i_sc, 6.4 A", "swapped"],
    ),
    "missing minus": (changed("-0.3", "0.3"), ["line 13", "0.3 %/K", "-0.6 to -0.2", "minus"]),
    "volts per kelvin": (changed("-0.3", "-0.068"), ["line 13", "-0.068 V/K", "-0.30 %/K"]),
    "uneven cells": (
        changed("substrings = 2", "substrings = 5"),
        ["line 12", "substrings is 5", "36 cells", "1, 2, 3, 4 or 6"],
    ),
    "half cells all counted": (
        changed("= 36", "= 72"),
        ["line 11", "cells_in_series is 72", "0.31 V a cell", "36 in series", "branches = 2"],
    ),
    "too few cells": (changed("= 36", "= 10"), ["line 11", "cells_in_series is 10", "About 36"]),
    "mount": (changed("count = 3", 'mount = "tilted"'), ["line 5", "'tilted'", '"gap"', '"open"']),
    "12 V on 24 V": (changed("26.5", "13.2"), ["line 26", "battery", "v_now is 13.2 V", "v_nominal is 24 V"]),
    "Fahrenheit": (changed("-12", "50"), ["line 29", "climate", "temp_coldest is 50 °C", "Fahrenheit"]),
    "centimetres": (changed("length_m = 6", "length_m = 600"), ["line 40", "cable", "600 m", "centimetres"]),
    "start volts, not margin": (
        changed("i_charge_max = 25", "i_charge_max = 25\nv_start_margin = 32"),
        ["line 38", "circuit 1, controller", "v_start_margin is 32 V", "above the battery"],
    ),
    "tracker's trade name": (
        changed("i_charge_max = 25", 'i_charge_max = 25\ntracker = "PWM"'),
        ["line 38", "'PWM'", '"sweep"', '"direct"'],
    ),
    # references
    "unknown battery": (changed("lithium-24v", "lithum-24v"), ["line 25", "use", "did you mean lithium-24v-150ah"]),
    "path for a battery": (changed("lithium-24v-150ah", "../b.toml"), ["line 25", "../b.toml", "batteries.toml"]),
    "list for a battery": (changed('"lithium-24v-150ah"', "[1]"), ["line 25", "use is [1]"]),
    # wiring
    "too many for the roof": (changed("2s2p", "3s2p"), ["line 32", "circuit 1", "3s2p needs 6 panels", "there are 4"]),
    "too few for the roof": (changed("2s2p", "3s"), ["line 32", "3s needs 3 panels", "there are 4"]),
    "wiring in words": (changed("2s2p", "in series"), ["line 32", "in series", "3s", "3p"]),
    "wiring without end": (changed("2s2p", "9" * 5000 + "s"), ["line 32", "wiring is", "2s2p"]),
    "wiring as a number": (changed('"2s2p"', "4"), ["line 32", "wiring is 4", '"2s2p"']),
    "flat list": (changed('"2s2p"', "[1, 2]"), ["line 32", "[[1, 2]] for one string", "[[1], [2]] in parallel"]),
    "panel 0": (changed('"2s2p"', "[[0, 1], [2, 3]]"), ["line 32", "panel 0", "from 1"]),
    "panel 5": (changed('"2s2p"', "[[1, 2], [3, 5]]"), ["line 32", "panel 5", "there are 4"]),
    "panel twice": (changed('"2s2p"', "[[1, 2], [2, 3]]"), ["line 32", "panel 2", "twice"]),
    "empty string": (changed('"2s2p"', "[[1, 2], []]"), ["line 32", "each string is a list of panels"]),
    "panels said twice": (changed('"2s2p"', "[[1, 2]]\npanels = [1, 2]"), ["line 32", "leave out", "panels"]),
    "panels as text": (changed('"2s2p"', '"1s"\npanels = ["1"]'), ["line 33", "panels is", "[1, 2]", "Write 1"]),
    "circuits that share": (
        GOOD + '[[circuits]]\nwiring = "4s"\n' + CONTROLLER,
        ["circuits use P1, P2, P3, P4 twice", "one circuit"],
    ),
    "circuits that do not say which": (
        changed("2s2p", "2s") + '[[circuits]]\nwiring = "2s"\n' + CONTROLLER,
        ["circuit 1", "circuit 2", "line 43", "panels = [1, 2]"],
    ),
}


@pytest.mark.parametrize("slip", BAD)
def test_wrong_file_is_told_line_place_value_and_slip(read, slip):
    text, words = BAD[slip]
    message = told(read, text)
    assert [word for word in words if word not in message] == []


@pytest.mark.parametrize("slip", BAD)
def test_messages_are_a_few_plain_lines(read, slip):
    message = told(read, BAD[slip][0])
    lines = message.split("\n")
    assert len(lines) <= MOST_TOLD + 1
    assert all(len(line) < 300 and line.isprintable() for line in lines)
    assert not re.search(r"Traceback|_type|input_value|\bNone\b|Input should", message)


def test_good_file_behind_the_wrong_ones_is_good(read):
    assert read(GOOD).circuits[0].wiring.name == "2s2p"


def test_problems_are_told_together_in_the_order_of_the_file(read):
    text = changed("22.6", '"22,6"', changed("temp_coldest = -12", "temp_coldest = 99"))
    lines = told(read, changed("length_m = 6", "length_m = true", text)).split("\n")
    assert [re.search(r"line (\d+)", line)[1] for line in lines] == ["7", "29", "40"]


def test_problems_beyond_three_are_counted(read):
    message = told(read, GOOD.replace("v_", "u_"))
    assert message.count("did you mean") == 3
    assert message.endswith("and 3 more.")


def test_mistyped_key_is_not_also_called_missing(read):
    assert "missing" not in told(read, changed("v_mp", "v_mmp"))


def test_keys_inside_long_text_do_not_shift_the_lines(read):
    long = changed('"invented for a test"', '"""\n[[panels]]\nv_oc = 3\n"""')
    assert "line 10, panels 1 to 3: v_oc" in told(read, changed("v_oc = 22.6", "v_oc = 1000", long))


def test_large_nonsense_is_refused_quickly(read):
    start = time.perf_counter()
    many_panels = "[[panels]]\n" * 15_000
    many_keys = "".join(f"k{n} = 1\n" for n in range(10_000))
    assert "15000 panels" in told(read, 'name = "x"\nsource = "y"\n' + many_panels)
    assert "No key k0" in told(read, many_keys)
    assert time.perf_counter() - start < 10


ROOF = """
[roof]
wide_m = 1.9
long_m = 4

[[roof.spots]]
panel = 1
left_m = 0.1
back_m = 0.1
wide_m = 0.7
long_m = 1.5

[[roof.fixtures]]
name = "hatch"
kind = "box"
left_m = 1.0
back_m = 2.0
wide_m = 0.4
long_m = 0.4
high_m = 0.1
"""
LINES = (GOOD + ROOF).splitlines()
VALUES = ["-1", "0", "1e400", "nan", '""', '"2s"', "[]", "[[]]", "[[1]]", "[{}]", "{}", "true", "09:30:00", "9" * 400]


def outcome(lines: list[str]) -> str:
    """What reading the lines comes to: "a rig", or the error."""
    try:
        return f"a rig, {rig_tables.rig_of(chr(10).join(lines), 'van.toml').name}"
    except ValueError as error:
        return str(error)


@settings(max_examples=300, deadline=None)
@given(at=st.integers(0, len(LINES) - 1), value=st.sampled_from(VALUES) | st.text(max_size=12))
def test_any_changed_line_gives_a_rig_or_one_plain_error(at, value):
    line = re.sub("= .*", lambda _: f"= {value}", LINES[at]) if "=" in LINES[at] else value
    assert outcome([*LINES[:at], line, *LINES[at + 1 :]]).startswith(("a rig", "van.toml"))


@settings(max_examples=100, deadline=None)
@given(first=st.integers(0, len(LINES)), last=st.integers(0, len(LINES)))
def test_any_missing_lines_give_a_rig_or_one_plain_error(first, last):
    assert outcome(LINES[:first] + LINES[last:]).startswith(("a rig", "van.toml"))


# Paths


def test_missing_file_is_told_the_near_ones(tmp_path):
    (tmp_path / "mollys-van.toml").write_text(GOOD)
    with pytest.raises(ValueError, match=r"no file .*molys-van\.toml; did you mean mollys-van\.toml"):
        read_rig(tmp_path / "molys-van.toml")


def test_missing_folder_is_told(tmp_path):
    with pytest.raises(ValueError, match=r"no folder .*attic"):
        read_rig(tmp_path / "attic" / "van.toml")


def test_path_of_an_example_points_to_its_name(tmp_path):
    with pytest.raises(ValueError, match="is called hay-cart, without"):
        read_rig(tmp_path / "hay-cart.toml")


def test_folder_is_told(tmp_path):
    with pytest.raises(ValueError, match=r"is a folder; name the \.toml file"):
        read_rig(tmp_path)


def test_file_that_may_not_be_read_is_told(tmp_path, monkeypatch):
    def locked(self, *args):
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "van.toml"
    path.write_text(GOOD)
    monkeypatch.setattr(Path, "open", locked)
    with pytest.raises(ValueError, match=r"van\.toml may not be read; its permissions"):
        read_rig(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_pipe_is_refused_without_waiting_for_it(tmp_path):
    os.mkfifo(tmp_path / "van.toml")
    with pytest.raises(ValueError, match="not an ordinary file"):
        read_rig(tmp_path / "van.toml")


@pytest.mark.parametrize("odd", ["x" * 5000 + ".toml", "van\x00.toml"])
def test_impossible_path_is_one_plain_error(tmp_path, odd):
    with pytest.raises(ValueError, match=r"cannot be read|no file") as error:
        read_rig(str(tmp_path / odd))
    assert len(str(error.value)) < 400


# The round trip


@pytest.mark.parametrize("name", examples())
def test_example_survives_the_round_trip(read, name):
    assert read(rig_to_toml(example(name))) == example(name)


def test_tiny_rigs_survive_the_round_trip(read, one_panel, four_panels):
    assert read(rig_to_toml(one_panel)) == one_panel
    assert read(rig_to_toml(four_panels)) == four_panels


def test_written_file_counts_equal_panels_and_says_units(four_panels):
    text = rig_to_toml(four_panels)
    assert text.count("[[panels]]") == 1
    assert re.search(r"count = 4 ", text)
    assert re.search(r'wiring = "2s2p" ', text)
    assert re.search(r"v_oc = 22\.0 +# V, open-circuit voltage", text)
    assert re.search(r"# i_max_fuse = +# A, largest series fuse", text)


def test_every_key_of_a_written_file_has_a_meaning(four_panels):
    lines = [line for line in rig_to_toml(four_panels).splitlines() if "=" in line]
    plain = ("name", "source", "basis")
    assert [line for line in lines if not line.startswith(plain) and not re.search(r"= .*# \S|=  +# \S", line)] == []


def amounts(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def lines(most: int) -> st.SearchStrategy[str]:
    """Texts as descriptions may hold: any letter that does nothing but stand there."""
    return st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]) | st.sampled_from(JOINERS), max_size=most)


PANELS = st.builds(
    Panel,
    name=lines(20),
    v_oc=amounts(21.0, 25.0),
    i_sc=amounts(6.0, 12.0),
    v_mp=amounts(16.0, 20.5),
    i_mp=amounts(4.0, 5.9),
    cells_in_series=st.just(36),
    substrings=st.sampled_from([1, 2, 3]),
    branches=st.sampled_from([1, 2]),
    bypass_diodes=st.booleans(),
    beta_voc_pct_per_k=st.none() | amounts(-0.6, -0.2),
    r_leak=st.none() | amounts(0.1, 1e6),
    ideality=st.none() | amounts(0.5, 2.2),
    mount=st.sampled_from(["open", "gap", "glued"]),
    p_label=st.none() | amounts(50.0, 200.0),
)
CABLES = st.builds(
    Cable,
    length_m=amounts(0, 99),
    copper=st.sampled_from(COPPERS),
    laying=st.sampled_from(LAYINGS),
    bundled=st.integers(1, 20),
    temp_around=st.none() | amounts(-40, 120),
    temp_conductor=st.none() | amounts(-40, 120),
    temp_terminals=st.none() | amounts(60, 90),
    insulation=st.none() | st.sampled_from(INSULATIONS),
)
GUARDS = st.fixed_dictionaries(
    {
        name: st.none() | amounts(1, 500)
        for name in ("i_plug_max", "i_fuse_string", "i_fuse_array", "i_fuse_battery", "i_isolator_max")
    }
    | {"battery_cable": st.none() | CABLES, "v_isolator_max": st.none() | amounts(10, 2000)}
)


PLACES = st.lists(st.tuples(lines(9), amounts(20, 40)), max_size=3).map(tuple)


@st.composite
def roofs(draw: st.DrawFn, panels: int) -> Roof:
    """Some panels one behind the other, and things beside, above and on them."""
    placed = draw(st.sets(st.integers(0, panels - 1)))
    spots = tuple(
        Placement(panel=p, left_m=draw(amounts(0, 2)), back_m=1.7 * p, wide_m=draw(amounts(0.3, 1.2)), long_m=1.5)
        for p in sorted(placed)
    )
    kinds = draw(st.lists(st.sampled_from(["wall", "mast", "plate", "cover", "box"]), max_size=4))
    things = []
    for number, kind in enumerate(kinds):
        more = {"box": {"left_m": 3.4, "high_m": 0.4}, "plate": {"under_m": 0.5, "tilt_deg": draw(amounts(0, 90))},
                "wall": {"east_m": draw(amounts(-9, 9)), "high_m": 3.0}, "mast": {"high_m": 9.0}}  # fmt: skip
        sizes = {"wide_m": draw(amounts(0.01, 0.5)), "long_m": draw(amounts(0.01, 1)), **more.get(kind, {})}
        things.append(Fixture(name=f"{number} {draw(lines(9))}", kind=kind, **sizes))
    return Roof(wide_m=4.0, long_m=20.0, spots=spots, fixtures=tuple(things), slope_deg=draw(amounts(0, 20)))


@st.composite
def rigs(draw: st.DrawFn) -> Rig:
    panels = draw(st.lists(PANELS, min_size=1, max_size=3))
    panels = draw(st.lists(st.sampled_from(panels), min_size=1, max_size=6))
    order = draw(st.permutations(range(len(panels))))
    used = order[: draw(st.integers(1, len(order)))]
    cuts = sorted(draw(st.sets(st.integers(1, len(used)), max_size=4)) | {len(used)})
    strings = [tuple(used[a:b]) for a, b in zip([0, *cuts], cuts, strict=False)]
    split = draw(st.integers(1, len(strings)))
    cutoff, price = draw(st.sampled_from([None, True, False])), draw(st.none() | amounts(0, 1e6))
    sold = {"cold_cutoff": cutoff, "feeds_back": cutoff, "price": price, "cold_feeds_loads": draw(st.booleans())}
    sold |= {"temp_cold_cutoff": draw(st.none() | amounts(-40, 30))} if cutoff else {}
    controller = Controller(name=draw(lines(9)), v_pv_max=draw(amounts(10, 1500)), i_charge_max=20, **sold)
    circuits = tuple(
        Circuit(wiring=Wiring(strings=tuple(part)), controller=controller, cable=draw(CABLES), **draw(GUARDS))
        for part in (strings[:split], strings[split:])
        if part
    )
    return Rig(
        name=draw(lines(40)),
        source=draw(lines(40)),
        panels=tuple(panels),
        battery=Battery(name="b", v_nominal=12, v_now=draw(amounts(10, 15)), v_absorption=14.2),
        climate=Climate(temp_coldest=draw(amounts(-60, 20)), basis=draw(lines(40)), places=draw(PLACES)),
        circuits=circuits,
        rule_book=draw(st.sampled_from(RULE_BOOKS)),
        roof=draw(st.none() | roofs(len(panels))),
    )


@settings(max_examples=150, deadline=None)
@given(rig=rigs())
def test_any_rig_survives_the_round_trip(rig):
    assert rig_tables.rig_of(rig_to_toml(rig), "van.toml") == rig


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("section_mm2 = 6", 'section_mm2 = 6\nlaying = "pipe"', ["line 42", 'In a pipe it is "conduit"']),
        ("section_mm2 = 6", "section_mm2 = 6\nbundled = 0", ["line 42", "a value from 1 to 20 makes sense"]),
        ('wiring = "2s2p"', 'wiring = "2s2p"\ni_plug_max = 30000', ["line 33", "Are these milliamps?"]),
        ('wiring = "2s2p"', 'wiring = "2s2p"\nv_isolator_max = "100 V"', ["line 33", "Write 100, without quotes"]),
        (
            "temp_coldest = -12",
            'temp_coldest = -3\nplaces = [["pass", -22]]',
            ["line 29", "pass", "the coldest counts"],
        ),
        ("temp_coldest = -12", 'temp_coldest = -3\nplaces = "coast"', ["line 30", '["coast", -3]']),
        ('source = "invented for a test"', 'source = "s"\nrule_book = "NEC"', ["line 3", '"US"']),
    ],
)
def test_wrong_guard_is_told_at_its_line(read, old, new, words):
    message = told(read, changed(old, new))
    assert all(word in message for word in words), message


def test_round_trip_notices_a_change(read, four_panels):
    other = replace(four_panels, climate=replace(four_panels.climate, temp_coldest=-10.5))
    assert read(rig_to_toml(other)) != four_panels
