"""What to change first: plain sums, the same numbers as comparison and checks, and never a forbidden rig."""

from __future__ import annotations

import pytest
from foreign_rigs import FOREIGN, foreign

from vanpower import Days, MadeSky, Place, compare, example
from vanpower.checks.glance import subject
from vanpower.checks.registry import check, shortfalls
from vanpower.checks.volts import cold_ceiling
from vanpower.cli import main
from vanpower.studies.next_changes import next_changes
from vanpower.studies.ranking import forbidden

DAY = Days(day="median")
VAN = example("bookmobile")


@pytest.fixture(scope="module")
def found():
    return next_changes(VAN, DAY, {"panel": 90.0, "cable": 30.0})


def test_a_third_equal_panel_brings_about_half_as_much_again(found):
    # two panels become three: plain arithmetic, but for own draw (1 W, twelve hours) and a longer current in the cable
    third = next(one for one in found.changes if one.key == "panel")
    assert third.wh_day == pytest.approx(0.5 * found.wh_now, rel=0.05)


def test_gains_are_those_of_a_comparison_and_volts_those_of_the_check(found):
    cable = next(one for one in found.changes if one.key == "cable")
    alone = compare({"now": VAN, "then": cable.rig}, DAY).outcomes
    assert cable.wh_day == pytest.approx(alone["then"].energy_wh - alone["now"].energy_wh, abs=1e-6)
    plugs = next(one for one in found.changes if one.key == "plugs")
    now, then = (cold_ceiling(one, one.circuits[0]).margin for one in (VAN, plugs.rig))
    assert plugs.v_left == pytest.approx(then - now)


def test_price_decides_what_comes_first_and_none_is_made_up(found):
    assert found.worth[0].key == "panel"
    assert found.worth[0].per_money("wh") == pytest.approx(found.worth[0].wh_day / 90.0)
    assert all(one.price is None for one in found.changes if one.key not in ("plugs", "panel", "cable"))
    assert "for want of a price" in found.verdict.sentence
    free = next_changes(VAN, DAY)
    assert [one.price for one in free.changes if one.key != "plugs"].count(None) == len(free.changes) - 1


@pytest.mark.parametrize("kind", [kind for kind in FOREIGN if kind != "twenty-four"])
def test_nothing_that_a_check_forbids_is_ever_advised(kind):
    rig = foreign(kind)
    found = next_changes(rig, DAY)
    assert all(forbidden(one.rig) is None for one in found.worth)
    if forbidden(rig) is not None:
        assert found.verdict.sentence.startswith("Do not leave it as it is")
        assert found.verdict.answer == "no"


def test_more_volts_of_headroom_come_from_plugs():
    found = next_changes(example("puppet-stage").wired("2s2p"), DAY, aim="volts")
    assert all(one.gain("volts") > 0 for one in found.worth)
    assert found.verdict.unit == "V below the ceiling"


def test_a_box_out_of_the_way_is_tried_where_there_is_one():
    names = [one.name for one in next_changes(example("goat-cheese-van"), DAY).changes if one.key == "move"]
    assert "trees in the east out of the way" not in names
    assert "roof box out of the way" in names


def test_panels_are_tilted_towards_the_noon_sun_of_the_place():
    # at 41.3 degrees south the noon sun of June stands 25 degrees high in the north: tilted south they had next to none
    sky = MadeSky(kind="clear", place=Place(latitude_deg=-41.3, longitude_deg=174.8))
    day = Days(weather=sky, day="06-21")
    found = next_changes(VAN, day)
    tilted = next(one for one in found.changes if one.key == "tilt")
    # a plane tilted by 20 degrees towards a sun 25.3 degrees high: sin(45.3) / sin(25.3) = 1.66 of the beam at noon
    assert 0.3 < tilted.wh_day / found.wh_now < 1.0
    assert tilted.name.endswith("to the north")
    astray = compare({"it": VAN.with_panels(tilt_deg=40.0)}, day)
    assert "faces south here" in astray.verdict.basis
    assert astray.outcomes["it"].energy_wh < 0.2 * compare({"it": VAN}, day).outcomes["it"].energy_wh


@pytest.mark.parametrize("kind", ["two circuits", "48 V"])
def test_what_comes_to_fall_short_is_ranked_last(kind):
    found = next_changes(foreign(kind), DAY)
    fell = [bool(shortfalls(one.rig)) and not shortfalls(found.rig) for one in found.worth]
    assert fell == sorted(fell) == [found.falls(one) for one in found.worth]


def test_command_says_what_first(capsys):
    assert main(["change", "bookmobile", "--price", "panel=90"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "CHECK Bookmobile" in said  # a third string wants its fuses first
    assert "One more panel, 3p first" in said
    assert "for 90" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [("--price panel", "write KEY=PRICE"), ("--price sail=9", "'sail'"), ("--wiring all", "name one wiring")],
)
def test_a_slip_gets_one_plain_sentence(capsys, words, said):
    assert main(["change", "bookmobile", *words.split()]) == 2
    assert said in capsys.readouterr().err


def test_what_a_change_brings_out_of_order_is_told_with_it(found):
    # a third string in parallel: the other two push 2 x 6.2 A into it, over its fuse of 12 A (IEC 62548)
    third = next(one for one in found.changes if one.key == "panel")
    now, then = (
        [subject(one, inside=True) for one in check(rig) if one.sign in ("no", "check")] for rig in (VAN, third.rig)
    )
    new = [about for about in then if about not in now]
    assert "string fuse" in new
    assert found.verdict.sentence.partition(" Then ")[0].endswith(f"; then to be put right: {', '.join(new)}.")
