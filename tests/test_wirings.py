"""Names of wirings as the trade writes them, and every equal-string wiring once."""

from __future__ import annotations

from dataclasses import replace
from math import factorial

import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given
from hypothesis import strategies as st

from vanpower.files.rig_files import example
from vanpower.rig import Wiring
from vanpower.rig.wirings import equal_strings, parse_wiring

OTHER = replace(PANEL, name="old 80 W", i_sc=5.0, i_mp=4.6)


@pytest.mark.parametrize(
    ("text", "strings"),
    [
        ("4s", ((0, 1, 2, 3),)),
        ("4p", ((0,), (1,), (2,), (3,))),
        ("2s2p", ((0, 1), (2, 3))),
        (" 2S 2P ", ((0, 1), (2, 3))),
        ("1s4p", ((0,), (1,), (2,), (3,))),
        ("4s1p", ((0, 1, 2, 3),)),
    ],
)
def test_wiring_is_read_as_the_trade_writes_it(text, strings):
    assert parse_wiring(text, range(4)).strings == strings


def test_wiring_takes_the_panels_it_is_given():
    assert parse_wiring("2p", (3, 5)).strings == ((3,), (5,))


@pytest.mark.parametrize("text", ["", "s", "2", "2p2s", "series", "2s2p2s", "-2s", "2,0s", "0x2p"])
def test_text_that_is_no_wiring_is_told_what_one_is(text):
    with pytest.raises(ValueError, match="is not one; write 3s"):
        parse_wiring(text, range(4))


@pytest.mark.parametrize(
    ("text", "panels", "told"),
    [("3s", 2, "3s needs 3 panels; there are 2"), ("1s", 2, "1s needs 1 panel; there are 2"),
     ("2p", 1, "2p needs 2 panels; there is 1"), ("0s", 1, "0s needs 0 panels; there is 1")],
)  # fmt: skip
def test_wiring_for_another_number_of_panels_is_told_both_numbers(text, panels, told):
    with pytest.raises(ValueError, match=told):
        parse_wiring(text, range(panels))


@given(st.integers(1, 6), st.integers(1, 6))
def test_name_of_a_wiring_is_read_back_as_the_same_wiring(series, parallel):
    panels = range(series * parallel)
    wiring = parse_wiring(f"{series}s{parallel}p", panels)
    assert parse_wiring(wiring.name, panels) == wiring


def ways(panels: int, length: int) -> int:
    """How many ways there are to share unlike panels out into strings of one length, by counting."""
    strings = panels // length
    return factorial(panels) // (factorial(length) ** strings * factorial(strings))


@pytest.mark.parametrize("panels", range(1, 9))
def test_unlike_panels_have_as_many_wirings_as_counting_gives(panels):
    found = equal_strings(range(panels), list("ABCDEFGH"))
    expected = sum(ways(panels, n) for n in range(1, panels + 1) if panels % n == 0)
    assert len(found) == len(set(found)) == expected


@given(st.lists(st.sampled_from("ABC"), min_size=1, max_size=8))
def test_every_wiring_uses_every_panel_once_in_equal_strings(kinds):
    found = equal_strings(range(len(kinds)), kinds)
    for wiring in found:
        assert sorted(wiring.panels) == list(range(len(kinds)))
        assert len({len(string) for string in wiring.strings}) == 1
    shared = [sorted(sorted(kinds[p] for p in string) for string in wiring.strings) for wiring in found]
    assert all(one not in shared[:k] for k, one in enumerate(shared))


@pytest.mark.parametrize(("panels", "number"), [(1, 1), (2, 2), (3, 2), (4, 3), (12, 6), (24, 8)])
def test_equal_panels_have_one_wiring_for_every_divisor(panels, number):
    found = equal_strings(range(panels), ["same"] * panels)
    assert len(found) == number
    assert [len(w.strings[0]) for w in found] == sorted((len(w.strings[0]) for w in found), reverse=True)


def test_two_old_and_two_new_panels_can_share_a_string_or_not():
    found = [w.grouping for w in equal_strings(range(4), "AABB")]
    assert found == ["P1+P2+P3+P4", "P1+P2 | P3+P4", "P1+P3 | P2+P4", "P1 | P2 | P3 | P4"]


def test_alternatives_of_four_equal_panels_are_the_usual_three(four_panels):
    found = four_panels.wirings()
    assert list(found) == ["4s", "2s2p", "4p"]
    assert {name: rig.circuits[0].wiring.name for name, rig in found.items()} == {name: name for name in found}


def test_alternatives_change_nothing_but_the_wiring(four_panels):
    for rig in four_panels.wirings().values():
        assert replace(rig.circuits[0], wiring=four_panels.circuits[0].wiring) == four_panels.circuits[0]
        assert replace(rig, circuits=four_panels.circuits) == four_panels


def test_panels_that_differ_in_name_only_are_equal():
    rig = tiny_rig((PANEL, replace(PANEL, name="the one by the vent")) * 2, (0, 1, 2, 3))
    assert list(rig.wirings()) == ["4s", "2s2p", "4p"]


def test_alternatives_of_unlike_panels_have_names_of_their_own():
    rig = tiny_rig((PANEL, PANEL, OTHER, OTHER), (0, 1, 2, 3))
    assert list(rig.wirings()) == ["4s", "2s2p", "2s2p (P1+P3 | P2+P4)", "4p"]


def test_apart_gives_every_panel_a_controller_like_the_one_there(four_panels):
    apart = four_panels.wirings(apart=True)["apart"]
    assert [circuit.wiring.strings for circuit in apart.circuits] == [((0,),), ((1,),), ((2,),), ((3,),)]
    assert {circuit.controller for circuit in apart.circuits} == {four_panels.circuits[0].controller}


def test_apart_is_left_out_for_one_panel_and_unless_asked_for(one_panel, four_panels):
    assert list(one_panel.wirings(apart=True)) == ["1s"]
    assert "apart" not in four_panels.wirings()


def test_second_controller_keeps_its_panels():
    kiln = example("kiln-bus")
    found = kiln.wirings(apart=True)
    assert list(found) == ["2s", "2p", "apart"]
    assert all(rig.circuits[-1] == kiln.circuits[1] for rig in found.values())
    assert kiln.wired("2p").circuits[1] == kiln.circuits[1]


def test_rewired_takes_text_or_a_wiring(four_panels):
    wiring = Wiring(strings=((3, 0), (2, 1)))
    assert four_panels.wired(wiring).circuits[0].wiring == wiring
    assert four_panels.wired(wiring).wired("2s2p").circuits[0].wiring.strings == ((0, 1), (2, 3))


def test_more_ways_than_anybody_reads_are_refused_and_a_way_out_is_told():
    assert len(equal_strings(range(6), range(6))) == 27
    with pytest.raises(ValueError, match="name the wirings to compare"):
        equal_strings(range(12), range(12))


def test_wirings_asked_for_again_are_the_same_rigs_in_a_mapping_of_ones_own():
    rig = tiny_rig((PANEL,) * 2, (0, 1))
    first = rig.wirings()
    first.pop("2p")
    again = rig.wirings()
    assert list(again) == ["2s", "2p"]
    assert again["2s"] is first["2s"]
    assert rig.wirings(apart=True).keys() > again.keys()
    # what a rig keeps is no part of what it is
    assert rig == tiny_rig((PANEL,) * 2, (0, 1))
    assert repr(rig) == repr(tiny_rig((PANEL,) * 2, (0, 1)))
