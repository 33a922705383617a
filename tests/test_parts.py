"""The shopping list against the checks: nothing on it is refused, and what a check refuses is to be replaced."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given
from hypothesis import strategies as st
from outside import rows

from vanpower.checks.backfeed import must_stay_apart
from vanpower.checks.copper import battery_side, cable_current, cable_loss
from vanpower.checks.feeding import array_fuses, battery_feed
from vanpower.checks.fuses import fuse_to_fit, legal_fuses, reverse_current, string_fuse, string_fuse_sizes
from vanpower.checks.parts import Part, parts, short_circuit_of, with_parts
from vanpower.checks.plugs_and_isolator import extension, isolator, plugs
from vanpower.components.cables.ampacity import ampacity
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.results.verdict import Verdict
from vanpower.rig import Cable, Rig

RULES = {row["quantity"]: row for row in rows("iec_string_rules.csv")}
LABEL = replace(PANEL, v_oc=22.6, i_sc=10.4, v_mp=18.8, i_mp=9.8, beta_voc_pct_per_k=-0.30, i_max_fuse=20.0)
ASKED = (string_fuse, reverse_current, battery_feed, plugs, extension, isolator, cable_current, battery_side)


def van(*strings: int, panel=LABEL, book: str = "IEC", controller: dict | None = None, **circuit: object) -> Rig:
    """Strings of so many equal panels, with something else in circuit and controller."""
    ends = [sum(strings[:k]) for k in range(len(strings) + 1)]
    numbers = tuple(tuple(range(a, b)) for a, b in pairwise(ends))
    rig = tiny_rig((panel,) * sum(strings), *numbers)
    first = replace(rig.circuits[0], **circuit)
    first = replace(first, controller=replace(first.controller, **(controller or {})))
    return replace(rig, rule_book=book, circuits=(first,))


def listed(rig: Rig, name: str) -> Part:
    """A line of the list of the rig's only circuit."""
    (found,) = [part for part in parts(rig, rig.circuits[0]) if part.name.startswith(name)]
    return found


def refused(rig: Rig) -> list[Verdict]:
    """What a check says no to in parts: of wirings that no part mends only what parts can do is asked."""
    found = []
    for circuit in rig.circuits:
        impossible = must_stay_apart(rig, circuit) or None in string_fuse_sizes(rig, circuit)
        for ask in ASKED:
            if ask is extension and circuit.i_extension_max is None:
                continue
            if not (impossible and ask in (string_fuse, reverse_current)):
                found.append(ask(rig, circuit))
    return [verdict for verdict in found if verdict.answer == "no"]


def numbers(text: str) -> list[float]:
    """All numbers of a text."""
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


def test_fuse_that_a_check_refuses_is_not_on_the_list_and_is_to_be_replaced():
    # three strings of 10.4 A want over 15.6 A (IEC 62548: strictly above 1.5 times): 8 A is none
    rig = van(1, 1, 1, i_fuse_string=8.0)
    assert "8 A lies outside 15.6 to 20.0 A; fit 16 A in each string" in string_fuse(rig, rig.circuits[0]).sentence
    found = listed(rig, "String fuses")
    assert found.wanted.startswith("3 x 16 A, photovoltaic (gPV), DC, at least 25.0 V")
    assert str(found).endswith("(there: 8 A, replace)")
    right = van(1, 1, 1, i_fuse_string=20.0)
    assert not listed(right, "String fuses").replace
    assert listed(right, "String fuses").wanted.startswith("3 x 20 A")


def test_too_small_a_fuse_where_none_is_needed_is_replaced_as_well():
    # two strings need none; 10 A opens in bright light all the same
    rig = van(1, 1, i_fuse_string=10.0)
    assert string_fuse(rig, rig.circuits[0]).answer == "no"
    assert str(listed(rig, "String fuses")).startswith("String fuses: 2 x 16 A")
    assert listed(rig, "String fuses").replace


@pytest.mark.parametrize(
    ("field", "value", "name", "bad"),
    [
        ("i_plug_max", 30.0, "Branch plugs", True),
        ("i_plug_max", 40.0, "Branch plugs", False),
        ("i_extension_max", 30.0, "Extension", True),
        ("i_fuse_battery", 30.0, "Battery fuse", True),
        ("i_fuse_battery", 40.0, "Battery fuse", False),
    ],
)
def test_what_is_there_and_refused_is_to_be_replaced(field, value, name, bad):
    """1.25 x 3 x 10.4 A = 39 A through plugs; 1.25 x 30 A = 37.5 A through the battery's fuse."""
    rig = van(1, 1, 1, **{field: value})
    found = listed(rig, name)
    assert found.replace == bad
    assert str(found).endswith(f"(there: {value:g} A{', replace' * bad})")


def test_isolator_is_replaced_for_volts_or_amps():
    for volts, amps, bad in ((30.0, 40.0, False), (20.0, 40.0, True), (30.0, 35.0, True)):
        rig = van(1, 1, 1, v_isolator_max=volts, i_isolator_max=amps)
        assert listed(rig, "Isolator").replace == bad == (isolator(rig, rig.circuits[0]).answer == "no")


def test_every_guard_carries_direct_current_volts_amps_and_kind():
    rig = van(1, 1, 1, i_extension_max=30.0)
    for name in ("String fuses", "Branch plugs", "Extension", "Isolator", "Battery fuse"):
        wanted = listed(rig, name).wanted
        assert "DC" in wanted
        assert re.search(r"\d V", wanted)
        assert re.search(r"\d A", wanted)
    assert "gPV" in listed(rig, "String fuses").wanted
    assert "listed for photovoltaics" in listed(replace(rig, rule_book="US"), "String fuses").wanted
    breakers = listed(rig, "A breaker").wanted
    assert "next to a battery" in breakers
    assert "not polarised" in breakers
    # BS 7671 712.533.101: protective devices of an array open in both directions
    assert RULES["direct-current protective devices of an array"]["value"] == "bidirectional"


def test_isolator_behind_a_controller_that_feeds_back_is_not_polarised():
    assert "wired as its plus and minus say" in listed(van(1), "Isolator").wanted
    assert "not polarised" in listed(van(1, controller={"tracker": "direct"}), "Isolator").wanted


def test_breaking_capacity_is_volts_over_resistance_or_what_is_usual():
    # 14.0 V / 2 mohm = 7 kA
    rig = van(1)
    known = replace(rig, battery=replace(rig.battery, r_internal=0.002))
    assert short_circuit_of(known.battery) == (pytest.approx(7000.0), "14 V / 2 mohm")
    assert "breaks 7 kA or more (14 V / 2 mohm)" in listed(known, "Battery fuse").wanted
    sized = replace(rig, battery=replace(rig.battery, capacity_ah=230.0))
    assert "breaks 11.5 kA or more (some 50 A per Ah; its sheet decides)" in listed(sized, "Battery fuse").wanted
    assert math.isinf(short_circuit_of(rig.battery)[0])
    assert "thousands, ask its maker" in listed(rig, "Battery fuse").wanted


def test_short_circuit_amps_of_a_battery_are_those_told():
    told = {row["quantity"]: row for row in rows("trade_rules.csv")}
    for kind, name in (("lithium iron phosphate", "lithium iron phosphate"), ("lead-acid", "lead-acid")):
        row = told[f"short-circuit amps of a {name} battery at most"]
        assert "100 Ah" in row["condition"]
        battery = replace(van(1).battery, chemistry=kind, capacity_ah=100.0)
        assert short_circuit_of(battery)[0] == float(row["value"])


def test_no_plug_of_the_trade_is_asked_for_what_none_carries():
    assert "a box with rails" in listed(van(*(1,) * 8), "Branch plugs").wanted
    assert "one make throughout" in listed(van(1, 1, 1), "Branch plugs").wanted


def test_strings_of_unlike_windows_get_their_own_fuse_each():
    weak = replace(PANEL, i_sc=5.0, i_mp=4.7, i_max_fuse=10.0)
    strong = replace(PANEL, i_sc=9.45, i_mp=9.0, i_max_fuse=15.0)
    rig = tiny_rig((weak, weak, strong, strong), (0,), (1,), (2,), (3,))
    sizes = string_fuse_sizes(rig, rig.circuits[0])
    for size, panel in zip(sizes, rig.panels, strict=True):
        assert size in legal_fuses(panel.i_sc, panel.i_max_fuse)
    assert "2 x 8 A and 2 x 15 A" in listed(rig, "String fuses").wanted
    assert fuse_to_fit(rig, rig.circuits[0]) is None


@pytest.mark.parametrize("name", examples())
def test_no_part_of_an_example_s_list_is_refused(name):
    assert refused(with_parts(example(name))) == []


AMPS = st.none() | st.floats(1.0, 120.0)


def test_string_alone_without_a_legal_fuse_is_told_to_take_another_controller():
    # one string of 9 A and a label of 10 A: 1.5 x 9 = 13.5 A would be the least (IEC 62548), so no fuse is legal
    rig = van(1, panel=replace(LABEL, i_sc=9.0, i_mp=8.5, i_max_fuse=10.0), controller={"tracker": "direct"})
    found = reverse_current(rig, rig.circuits[0])
    assert found.answer == "no"
    assert "take a controller that lets no battery current back" in found.sentence


def test_charge_amps_that_no_usual_fuse_holds_are_sent_to_the_maker():
    # 1.25 x 350 A are 437.5 A, above the largest of the usual sizes, 400 A
    rig = van(1, controller={"i_charge_max": 350.0})
    found = next(part for part in parts(rig, rig.circuits[0]) if part.name == "Battery fuse")
    assert found.wanted == "none of the usual sizes holds 350 A; ask the controller's maker"


@pytest.mark.parametrize("fuse", ["i_fuse_battery", "i_fuse_array"])
def test_string_fuse_is_listed_where_the_larger_fuse_of_the_list_guards_no_more(fuse):
    # a label of 5 A is tested with 1.35 x 5 = 6.75 A (IEC 61730-2 MST 26); a fuse opens for sure from 1.45 times that
    # (IEC 60269-6): 1 A towards the battery guards a string, 8 A, which 5 A of charge want, open from 11.6 A only
    panel = replace(LABEL, i_sc=2.0, i_mp=1.88, i_max_fuse=5.0)
    rig = van(1, 1, panel=panel, controller={"tracker": "direct", "i_charge_max": 5.0}, **{fuse: 1.0})
    assert reverse_current(rig, rig.circuits[0]).answer == "yes"
    assert "String fuses" in [part.name for part in parts(rig, rig.circuits[0])]
    assert with_parts(rig).circuits[0].i_fuse_string == 4
    assert refused(with_parts(rig)) == []


@given(
    strings=st.sampled_from([(1,), (2,), (1, 1), (1, 1, 1), (2, 2, 2, 2), (1,) * 8, (1, 2), (3, 2)]),
    i_sc=st.floats(2.0, 15.0), limit=st.none() | st.floats(5.0, 30.0), book=st.sampled_from(["IEC", "US"]),
    tracker=st.sampled_from(["sweep", "direct"]), charge=st.floats(5.0, 60.0), length=st.sampled_from([0.0, 0.5, 5.0]),
    fuses=st.tuples(AMPS, AMPS, AMPS), plug=AMPS, lead=AMPS, isolated=st.tuples(AMPS, AMPS),
    cable=st.none() | st.sampled_from([2.5, 6.0, 16.0]),
)  # fmt: skip
def test_no_part_of_any_list_is_refused(
    strings, i_sc, limit, book, tracker, charge, length, fuses, plug, lead, isolated, cable
):
    panel = replace(LABEL, i_sc=i_sc, i_mp=0.94 * i_sc, i_max_fuse=limit)
    rig = van(
        *strings, panel=panel, book=book, controller={"tracker": tracker, "i_charge_max": charge},
        cable=Cable(length_m=length, section_mm2=4.0), i_fuse_string=fuses[0], i_fuse_array=fuses[1],
        i_fuse_battery=fuses[2], i_plug_max=plug, i_extension_max=lead, i_isolator_max=isolated[1],
        v_isolator_max=isolated[0] and isolated[0] + 10.0,
        battery_cable=cable and Cable(length_m=1.0, section_mm2=cable),
    )  # fmt: skip
    bought = with_parts(rig)
    impossible = ("no single cable", "none holds", "none of the usual sizes")
    cannot = [part for part in parts(rig, rig.circuits[0]) if any(words in part.wanted for words in impossible)]
    if not cannot:
        assert refused(bought) == []
        # and once they are fitted, nothing is to be replaced any more
        assert [part for part in parts(bought, bought.circuits[0]) if part.replace and "mends" not in part.wanted
                and "wire it another way" not in part.wanted] == []  # fmt: skip


# The battery as a source


@pytest.mark.parametrize(
    ("controller", "fuses", "answers"),
    [
        ({}, {}, ("yes", "yes", None)),
        ({"feeds_back": True}, {}, ("close", "no", "close")),
        ({"tracker": "direct"}, {}, ("close", "no", "close")),
        ({"tracker": "direct", "feeds_back": False}, {}, ("yes", "yes", None)),
        ({"tracker": "direct"}, {"i_fuse_battery": 60.0}, ("close", "no", "no")),
        ({"tracker": "direct"}, {"i_fuse_battery": 20.0}, ("yes", "yes", "yes")),
        ({"tracker": "direct"}, {"i_fuse_battery": 30.0, "i_fuse_string": 20.0}, ("yes", "yes", "yes")),
        ({"tracker": "direct"}, {"i_fuse_battery": 60.0, "i_fuse_array": 20.0}, ("yes", "yes", "yes")),
        ({"tracker": "direct"}, {"i_fuse_battery": 60.0, "i_fuse_array": 12.0}, ("yes", "yes", "no")),
    ],
)
@pytest.mark.parametrize("book", ["IEC", "US"])
def test_one_string_needs_no_fuse_only_where_the_battery_cannot_feed_it(controller, fuses, answers, book):
    """US code 690.9(A): no fuse without other sources, parallel strings, batteries or backfeed, or below the label.

    A label of 20 A, 10.4 A, and a roof cable that may carry 30 to 60 A.
    """
    us = {row["condition"]: row["quantity"] for row in rows("us_current_rules.csv")}
    assert us["690.9(A) exception (1)"] == us["690.9(A) exception (2)"] == "no overcurrent device needed when"
    cable = Cable(length_m=5.0, section_mm2=4.0) if book == "IEC" else Cable(length_m=5.0, section_mm2=10.0)
    rig = van(1, book=book, controller=controller, cable=cable, **fuses)
    circuit = rig.circuits[0]
    asked = [string_fuse(rig, circuit).answer, reverse_current(rig, circuit).answer, battery_feed(rig, circuit).answer]
    may = ampacity(cable, book).amps
    assert 30.0 <= may < 60.0
    expected = [answers[0], answers[1], answers[2] or "yes"]
    assert asked == expected


def test_battery_fuse_larger_than_the_roof_cable_carries_is_told_with_its_cure():
    rig = van(1, 1, controller={"tracker": "direct"}, i_fuse_battery=80.0)
    found = battery_feed(rig, rig.circuits[0])
    assert found.answer == "no"
    # two strings of 10.4 A: over 31.2 A, and not over what the cable may carry
    assert "fit 32 A in the roof cable, at its controller's end" in found.sentence
    may = ampacity(rig.circuits[0].cable, "IEC").amps
    assert array_fuses(rig, rig.circuits[0])[0] == 32
    assert array_fuses(rig, rig.circuits[0])[-1] <= may
    assert found.margin == pytest.approx(may - 80.0)


def test_assumption_about_a_converter_is_said_and_the_sheet_decides():
    silent, told = van(1), van(1, controller={"feeds_back": False})
    assert "feeds_back; its sheet decides" in string_fuse(silent, silent.circuits[0]).sentence
    assert "its sheet decides" not in string_fuse(told, told.circuits[0]).sentence


def test_one_fault_has_one_cure_on_a_page():
    # eight strings of 10.4 A behind labels of 15 A: no legal fuse, and nobody is told to gather them in a box
    rig = van(*(1,) * 8, panel=replace(LABEL, i_max_fuse=15.0))
    said = [ask(rig, rig.circuits[0]).sentence for ask in (string_fuse, reverse_current, plugs)]
    assert all("fewer strings in parallel" in text for text in said)
    assert not any(
        "box with rails" in text or "stops it." in text.replace("No legal fuse stops it", "") for text in said
    )
    fusible = van(1, 1, 1, 1, panel=replace(LABEL, i_max_fuse=20.0))
    assert "Gather the strings" in plugs(fusible, fusible.circuits[0]).sentence
    assert "in each string" in string_fuse(fusible, fusible.circuits[0]).sentence
    assert "A fuse in each string stops it" in reverse_current(fusible, fusible.circuits[0]).sentence


def test_bonding_and_common_positive_are_said_not_to_be_asked():
    from vanpower.checks.registry import unasked

    assert any("common positive" in text and "chassis" in text for text in unasked(van(1)))


def test_sizes_on_the_list_are_numbers_a_shop_sells():
    assert numbers(listed(van(1, 1, 1), "String fuses").wanted)[:2] == [3.0, 16.0]


@pytest.mark.parametrize("i_sc", [2.0000000000000004, 5.6000000000000005, 9.450000000000001])
def test_last_digits_of_a_sum_refuse_no_part_that_the_list_asks_for(i_sc):
    """1.25 x 2.0000000000000004 A = 2.5 A: a shop knows no 2.5000000000000004 A."""
    rig = van(1, panel=replace(LABEL, i_sc=i_sc, i_mp=0.94 * i_sc))
    bought = with_parts(rig)
    assert bought.circuits[0].i_isolator_max == pytest.approx(math.ceil(12.5 * i_sc - 1e-6) / 10)
    assert refused(bought) == []
    assert not [verdict for verdict in (isolator(bought, bought.circuits[0]),) if verdict.margin < 0]


def test_fuse_that_no_other_mends_is_not_to_be_replaced():
    # 37.3 V beside 21.6 V: no fuse mends it, so "replace" beside "none mends" would send somebody to a shop
    small = replace(PANEL, v_oc=21.6, v_mp=17.8, i_max_fuse=10.0)
    tall = replace(PANEL, v_oc=37.3, v_mp=30.2, cells_in_series=60, substrings=3, i_max_fuse=15.0)
    rig = tiny_rig((small, tall), (0,), (1,))
    fused = replace(rig, circuits=(replace(rig.circuits[0], i_fuse_string=10.0),))
    assert str(listed(fused, "String fuses")) == (
        "String fuses: none mends strings so unlike; do not join them (there: 10 A)"
    )
    nine = van(*(1,) * 8, panel=replace(LABEL, i_max_fuse=15.0), i_fuse_string=15.0)
    assert "replace" not in str(listed(nine, "String fuses"))


def test_fuse_that_battery_feed_asks_for_is_on_the_list():
    # 60 A behind 2.5 mm² (EN 50618: 32 A on a hot surface): the check says 20 A (over 1.5 x 12.4 A), so does the list
    weak = replace(LABEL, i_sc=6.2, i_mp=5.7, i_max_fuse=10.0)
    rig = van(
        1, 1, panel=weak, controller={"feeds_back": True, "i_charge_max": 15.0}, i_fuse_battery=60.0,
        cable=Cable(length_m=7.0, section_mm2=2.5),
    )  # fmt: skip
    assert "fit 20 A in the roof cable" in battery_feed(rig, rig.circuits[0]).sentence
    assert listed(rig, "Fuse in the roof cable").wanted.startswith("20 A, DC")
    assert with_parts(rig).circuits[0].i_fuse_array == 20
    assert refused(with_parts(rig)) == []


def test_hot_pvc_is_told_to_become_solar_cable_by_check_and_list_alike():
    # PVC of 70 °C carries nothing in air of 75 °C; solar cable of 120 °C does (EN 50618, BS 7671 4D1A)
    rig = van(1, 1, cable=Cable(length_m=4.0, section_mm2=4.0, insulation="PVC 70", temp_around=75.0))
    circuit = rig.circuits[0]
    assert "No PVC 70 cable does in such heat: buy solar cable of" in cable_current(rig, circuit).sentence
    assert "shorten the run" not in cable_loss(rig, circuit).sentence
    assert listed(rig, "Roof cable").wanted.startswith("at least ")
    bought = with_parts(rig)
    assert bought.circuits[0].cable.insulation == "solar 120"
    assert refused(bought) == []
