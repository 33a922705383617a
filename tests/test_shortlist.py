"""Controllers on offer: who passes, what each delivers, what a Wh costs, when to keep the old one; the list's file."""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.checks.registry import before_joined
from vanpower.files.controllers import read_controllers
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example
from vanpower.rig import Controller, Days, Rig
from vanpower.studies.comparison import compare
from vanpower.studies.shortlist import shortlist

HEAD = "name,v_pv_max,i_charge_max,i_pv_sc_max,tracker,cold_cutoff,price\n"
DAY = Days(weather="greensboro", day="bright")
LABEL = replace(PANEL, beta_voc_pct_per_k=-0.30, i_max_fuse=15.0)
SMALL = Controller(name="small", v_pv_max=60.0, i_charge_max=8.0, price=40.0)
GOOD = Controller(name="good", v_pv_max=100.0, i_charge_max=30.0, price=160.0)
DEAR = Controller(name="dear", v_pv_max=100.0, i_charge_max=60.0, price=400.0)
LOW = Controller(name="low", v_pv_max=40.0, i_charge_max=60.0, price=10.0)


def van(now: Controller = SMALL) -> Rig:
    """Two panels in series on a controller; 12 V."""
    return tiny_rig((LABEL, LABEL), (0, 1)).with_controller(now)


def test_gain_is_worth_the_cheapest_price_of_a_watt_hour():
    found = shortlist(van(), (GOOD, DEAR, LOW), DAY)
    verdict = found.verdict
    assert verdict.answer == "yes"
    assert verdict.sentence.startswith("good as 2s for 160 delivers")
    good = next(offer for offer in found.offers if offer.name == "good")
    assert verdict.margin == pytest.approx(good.extra_wh_day)
    assert good.price_per_wh_day == pytest.approx(160.0 / good.extra_wh_day)


def test_wh_a_day_are_those_of_a_comparison():
    found = shortlist(van(), (GOOD,), DAY)
    alone = compare({"it": van().with_controller(GOOD)}, DAY).outcomes["it"].energy_wh
    assert found.offers[0].wh_day == pytest.approx(alone)
    assert found.offers[0].extra_wh_day == pytest.approx(alone - found.now.wh_day)


def test_ceiling_in_frost_fails_and_says_why():
    # 44 V by label, 48.6 V at -10 °C, 40 V allowed
    found = shortlist(van(), (LOW,), DAY)
    assert not found.offers[0].passes
    assert "low                fails: cold ceiling" in found.text()
    assert "Keep what you have" in found.verdict.sentence


def test_verdict_says_what_the_old_controller_is_taken_to_lose_and_that_one_day_is_one_day():
    basis = shortlist(van(replace(SMALL, p_own=1.2)), (GOOD,), DAY).verdict.basis
    assert "what is there now uses 1.2 W itself and loses 2 %" in basis
    assert "other days may say otherwise" in basis


def test_nothing_is_bought_for_less_than_three_percent():
    found = shortlist(van(GOOD), (DEAR,), DAY)
    assert found.verdict.answer == "no"
    assert found.verdict.sentence.startswith("Keep what you have")


def test_controller_that_breaks_in_frost_must_go_for_the_cheapest_that_passes():
    # 24.3 V each at -10 °C: no wiring stays under 20 V
    found = shortlist(van(replace(LOW, v_pv_max=20.0)), (DEAR, GOOD), DAY)
    verdict = found.verdict
    assert verdict.sentence.startswith("What is there now must go")
    assert "The cheapest that passes is good as 2s for 160" in verdict.sentence
    assert "can destroy" in verdict.caution


def test_controller_whose_input_takes_fewer_amps_must_go_with_the_caution_of_those_amps():
    # 1.25 x 6 A = 7.5 A; in frost nothing is wrong with it
    verdict = shortlist(van(replace(GOOD, i_pv_sc_max=7.0)), (DEAR,), DAY).verdict
    assert "7.5 A against 7 A at the input" in verdict.sentence
    assert verdict.caution == "Too much short-circuit current can destroy the input; do not connect this."


def test_another_wiring_may_pass_where_this_one_fails():
    found = shortlist(van(), (replace(LOW, i_pv_sc_max=20.0),), DAY, rewire=True)
    assert found.offers[0].passes
    assert found.offers[0].choice.name == "2p"


def test_table_has_a_line_for_each_and_the_reason():
    table = shortlist(van(), (GOOD, LOW), DAY).table().to_pandas()
    assert list(table.index) == ["what is there now", "good", "low"]
    assert table.loc["low", "why not"].startswith("fails: cold ceiling, 2 in series reach 48.7 V at")


@settings(max_examples=12, deadline=None)
@given(st.lists(st.floats(25.0, 120.0), min_size=1, max_size=4, unique=True))
def test_controller_under_the_cold_volts_never_passes_and_is_never_advised(ceilings):
    # 2 x 22 V x (1 + 0.0030 x 35) = 48.62 V
    offers = [Controller(name=f"c{k}", v_pv_max=v, i_charge_max=60.0, price=1.0) for k, v in enumerate(ceilings)]
    found = shortlist(van(), offers, DAY)
    for offer in found.offers:
        assert offer.passes == (offer.controller.v_pv_max >= 48.62)
    assert all(offer.passes for offer in found.worth_it)


# The list as a file


def test_list_of_the_kit_is_read_and_has_prices():
    found = read_controllers()
    assert len(found) >= 5
    assert all(one.price for one in found)
    assert {one.tracker for one in found} == {"sweep", "climb", "direct"}
    assert (data_folder() / "shortlist.csv").read_text(encoding="utf-8").startswith("# Controllers to weigh")


def test_empty_field_takes_the_usual_value(tmp_path):
    path = tmp_path / "offers.csv"
    path.write_text("# mine\n" + HEAD + "a, 100, 30, , , yes, 99.5\nb,60,10,12,climb,,\n", encoding="utf-8")
    first, second = read_controllers(path)
    assert (first.tracker, first.i_pv_sc_max, first.cold_cutoff, first.price) == ("sweep", None, True, 99.5)
    assert (second.tracker, second.cold_cutoff, second.price) == ("climb", None, None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "it is empty; it needs a line of names, then rows: name, v_pv_max, i_charge_max"),
        (HEAD, "lists no controller"),
        ("name;v_pv_max;i_charge_max\na;1;2\n", "line 2: v_pv_max is 1 V; a value from 10 to 1500 V"),
        ("name,v_pv_maxx,i_charge_max\na,100,30\n", "'v_pv_maxx' is no column; did you mean v_pv_max"),
        ("name,v_pv_max\na,100\n", "no column recognised as i_charge_max"),
        (HEAD + "a,100 W,30,,,,\n", "line 2, column 'v_pv_max': '100 W' is no number in V"),
        (
            HEAD + "a,100,30,,,,9,5\n",
            "has 8 cells and the line of names 7, parted by commas. Decimal commas need another",
        ),
        (HEAD + "a,100,30,,mppt,,\n", "tracker is 'mppt'; it is \"sweep\""),
        (HEAD + "a,100,30,,,maybe,\n", "write yes, no, or nothing"),
        (HEAD + "a,,30,,,,\n", "line 2: v_pv_max is empty"),
        (HEAD + "a,100,30,,,,\na,90,20,,,,\n", "names 'a' twice"),
        (HEAD + "a,100000,30,,,,\n", "Are these millivolts?"),
    ],
)
def test_wrong_list_is_told_line_value_and_what_would_make_sense(tmp_path, text, words):
    path = tmp_path / "offers.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=r"offers\.csv") as told:
        read_controllers(path)
    assert words in str(told.value)


def test_shortlist_without_an_offer_is_refused():
    with pytest.raises(ValueError, match="list at least one controller"):
        shortlist(van(), (), DAY)


def test_what_leaves_the_battery_short_on_a_hot_roof_is_not_told_to_be_kept():
    """2s of 60 cells, 62 V at 25 °C: at 75 °C, 50 K x 0.38 % or more lower, 50 V, and absorption wants 57.6 V + 1 V."""
    tall = replace(LABEL, v_oc=37.3, v_mp=31.0, i_sc=6.9, i_mp=6.5, cells_in_series=60, substrings=3)
    rig = tiny_rig((tall,) * 4, (0, 1), (2, 3))
    battery = replace(rig.battery, v_nominal=48, v_now=52.0, v_absorption=57.6)
    rig = replace(rig, battery=battery, climate=replace(rig.climate, temp_cell_hottest=75.0))
    taller, tallest = (replace(GOOD, name=f"{volts:g} V", v_pv_max=volts) for volts in (150.0, 250.0))
    found = shortlist(rig.with_controller(taller), (tallest,), DAY)
    sentence = found.verdict.sentence
    assert found.now.choice.short.endswith("short on a hot roof")
    assert sentence.startswith("What is there now does not work for this van")
    assert "nothing listed here works for it" in sentence
    assert "Above 60 V DC do not touch" in found.verdict.caution
    rewired = shortlist(rig.with_controller(taller), (tallest,), DAY, rewire=True).verdict
    assert "250 V as 4s for 160 works for it" in rewired.sentence
    assert "Above 120 V DC" in rewired.caution


def test_controller_is_not_told_to_pass_without_the_parts_that_its_wiring_burns_without():
    # IEC 62548: 13.8 A can be pushed into a label of 10 A, so 3p wants two fuses whatever controller is bought
    rig = example("seed-swap")
    found = shortlist(rig, read_controllers(), Days(day="dull"))
    (line,) = [line for line in found.text().splitlines() if "parts first: string fuse, reverse current" in line]
    for offer in found.passing:
        if offer.choice.name == "3p" and offer.controller.tracker != "direct":
            assert f"{offer.name} as 3p" in line
    assert any(offer.choice.name == "3p" for offer in found.passing)


def test_what_an_offer_needs_before_it_is_joined_stands_beside_the_advice():
    # a plain switch lets the battery feed the panels, more than any string's fuse of the label: fuses come first
    tight = example("bookmobile").with_controller(replace(example("bookmobile").circuits[0].controller, v_pv_max=20.0))
    verdict = shortlist(tight, read_controllers(), DAY).verdict
    assert verdict.answer == "close"
    assert "The cheapest that passes is plain switch 30 A" in verdict.sentence
    rig = tight.with_controller(next(one for one in read_controllers() if one.name == "plain switch 30 A"))
    assert verdict.sentence.endswith(before_joined(rig, "2p"))
    assert "string fuse" in verdict.sentence
