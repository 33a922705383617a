"""What labels alone decide, held against the US code's cold table, published examples and an independent diode."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pvlib
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given
from hypothesis import strategies as st
from outside import rows, worked_example
from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell
from scipy.optimize import brentq

from vanpower.checks.amps import input_current
from vanpower.checks.common import cold_voltage
from vanpower.checks.copper import cable_loss, section_to_buy
from vanpower.checks.glance import at_a_glance
from vanpower.checks.registry import check, refusal, unasked
from vanpower.checks.volts import (
    AIR_FAIR,
    COLD_FACTORS,
    HEATING,
    WIND_FAIR,
    cold_ceiling,
    cold_factor,
    coldest_safe,
    hot_floor,
    most_in_series,
    start_volts,
)
from vanpower.components.single_diode import fit_panel
from vanpower.engine.constants import LIGHT_REFERENCE
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.results.verdict import WORST_FIRST, Verdict
from vanpower.rig import Battery, Cable, Climate, Panel, Rig, Snapshot, Wiring
from vanpower.studies.comparison import compare
from vanpower.weather.planes import MOUNTS

TABLE = [row for row in rows("cold_voc_factors.csv") if row["quantity"].startswith("cold Voc multiplier")]
SLOPES = [row for row in rows("cold_voc_factors.csv") if row["quantity"].startswith("slope implied")]
# US National Electrical Code 2017, Table 690.7(A), crystalline silicon; slopes computed from its rows

JOINER = replace(PANEL, v_oc=22.4, v_mp=18.6, beta_voc_pct_per_k=-0.30)
SMITH = Panel(
    name="160 W", v_oc=22.8, i_sc=9.45, v_mp=18.9, i_mp=9.0, cells_in_series=36, substrings=2,
    beta_voc_pct_per_k=-0.30, i_max_fuse=15.0,
)  # fmt: skip
# panels of stories U1 and U4 of the users' list; their answers were worked out apart from this package


def with_circuit(rig: Rig, **changes: object) -> Rig:
    """The rig with something else in its only circuit."""
    return replace(rig, circuits=(replace(rig.circuits[0], **changes),))


def joiner(*strings: tuple[int, ...], coldest: float = -22.0) -> Rig:
    """Story U1: four panels of 22.4 V on a 24 V battery at 27 V, a 75 V controller, no cable."""
    rig = tiny_rig((JOINER,) * 4, *strings)
    controller = replace(rig.circuits[0].controller, v_pv_max=75.0)
    battery = Battery(name="24 V", v_nominal=24, v_now=27.0, v_absorption=28.4)
    rig = replace(rig, battery=battery, climate=Climate(temp_coldest=coldest))
    return with_circuit(rig, controller=controller, cable=Cable())


def trailer(*strings: tuple[int, ...]) -> Rig:
    """Story U4: three panels of 22.8 V, 7 m of 4 mm² at 20 °C."""
    return with_circuit(
        tiny_rig((SMITH,) * 3, *strings), cable=Cable(length_m=7.0, section_mm2=4.0, temp_conductor=20.0)
    )


def asked(question, rig: Rig) -> Verdict:
    """A check of the rig's only circuit."""
    return question(rig, rig.circuits[0])


def number(pattern: str, text: str) -> float:
    """The one number that a pattern finds in a sentence."""
    found = re.findall(pattern, text)
    assert len(found) == 1, text
    return float(found[0])


# The cold table


def test_whole_cold_table_is_here():
    assert len(TABLE) == 13
    assert (float(TABLE[0]["t_warm_C"]), float(TABLE[-1]["t_cold_C"])) == (24, -40)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["condition"])
def test_row_of_the_cold_table_holds_from_its_warm_to_its_cold_end(row):
    factor = float(row["value"])
    assert cold_factor(float(row["t_warm_C"])) == factor
    assert cold_factor(float(row["t_cold_C"])) == factor


@pytest.mark.parametrize(("warm", "cold"), list(pairwise(TABLE)), ids=lambda row: row["condition"])
def test_between_two_rows_the_colder_row_counts(warm, cold):
    # the table names whole degrees only; the stricter reading is ours
    assert cold_factor(float(warm["t_cold_C"]) - 0.01) == float(cold["value"])
    assert cold_factor(float(cold["t_warm_C"]) + 0.99) == float(cold["value"])


def test_warm_places_have_no_surcharge_and_below_minus_40_the_table_is_silent():
    assert cold_factor(25.0) == cold_factor(45.0) == 1.0
    assert cold_factor(24.99) == 1.02
    with pytest.raises(ValueError, match=r"-40\.1 °C.*own coefficient"):
        cold_factor(-40.1)


@pytest.mark.parametrize("row", SLOPES, ids=lambda row: row["condition"])
def test_cold_end_of_a_row_implies_the_slope_of_an_old_panel(row):
    # steeper than the 0.25-0.30 %/K of most panels now, so the table is the stricter one; three digits are given
    cold = float(row["t_cold_C"])
    assert 100 * (cold_factor(cold) - 1) / (25 - cold) == pytest.approx(float(row["value"]), abs=5.1e-4)


# Published examples (tests/reference/worked_examples.csv names where each was read)


@pytest.mark.parametrize("name", ["V1", "V3"])
def test_string_length_by_coefficient_is_the_published_one(name):
    case = worked_example(name)
    cold = cold_voltage(case["Voc_stc"], case["beta_voc"], case["t_low"])
    printed = 0.005 if name == "V1" else 0.05
    assert cold == pytest.approx(case["Voc_cold"], abs=printed)
    assert most_in_series(cold, case["voltage_limit"]) == case["modules_max"]


def test_voltage_rise_and_string_voltage_are_the_published_ones():
    case = worked_example("V1")
    cold = cold_voltage(case["Voc_stc"], case["beta_voc"], case["t_low"])
    assert 100 * (cold / case["Voc_stc"] - 1) == pytest.approx(case["voltage_rise"], abs=1e-9)
    assert case["modules_max"] * cold == pytest.approx(case["string_voltage"], abs=0.5)


def test_string_length_by_table_is_the_published_one():
    case = worked_example("V2")
    assert cold_factor(case["t_low"]) == case["table_factor"]
    cold = cold_factor(case["t_low"]) * case["Voc_stc"]
    assert cold == pytest.approx(case["Voc_cold"], abs=0.005)
    assert most_in_series(cold, case["voltage_limit"]) == case["modules_max"]


def test_published_slip_of_the_wrong_row_is_not_repeated():
    case = worked_example("V4")
    wrong_row = [cold for cold, factor in COLD_FACTORS if factor == case["factor_used"]]
    assert wrong_row == [0]
    assert case["factor_used"] * case["string_Voc_stc"] == pytest.approx(case["string_voltage_published"])
    volts = cold_factor(case["t_low"]) * case["string_Voc_stc"]
    assert volts == pytest.approx(case["string_voltage_correct"])
    assert volts > case["string_voltage_published"] + 9


def test_input_current_counts_amps_as_the_published_manual_does(one_panel):
    case = worked_example("I3")
    panel = replace(PANEL, i_sc=case["Isc"], i_mp=8.6)
    controller = replace(one_panel.circuits[0].controller, i_pv_sc_max=11.5)
    rig = with_circuit(replace(one_panel, panels=(panel,)), controller=controller)
    found = asked(input_current, rig)
    assert found.answer == "yes"
    assert 11.5 - found.margin == pytest.approx(case["I_max"])
    tight = with_circuit(rig, controller=replace(controller, i_pv_sc_max=11.4))
    assert asked(input_current, tight).answer == "no"


# The cold ceiling


@pytest.mark.parametrize(
    ("strings", "answer", "cold"),
    [
        (((0,), (1,), (2,), (3,)), "yes", 25.6),
        (((0, 1), (2, 3)), "yes", 51.1),
        (((0, 1, 2),), "no", 76.7),
        (((0, 1, 2, 3),), "no", 102.2),
    ],
)
def test_joiner_has_the_cold_volts_of_the_story(strings, answer, cold):
    found = asked(cold_ceiling, joiner(*strings))
    assert found.answer == answer
    assert 75.0 - found.margin == pytest.approx(cold, abs=0.05)


def test_label_sum_below_the_ceiling_is_called_a_trap():
    found = asked(cold_ceiling, joiner((0, 1, 2)))
    assert re.match(r"3 in series reach 76.7 V at \S+ °C, 1.7 V over the ceiling\.", found.sentence)
    assert "The label sum looks fine and is not: 67.2 V, " in found.sentence
    assert "looks fine" not in asked(cold_ceiling, joiner((0, 1, 2, 3))).sentence
    assert "can destroy a controller" in found.caution


def test_coldest_safe_temperature_is_that_of_the_story():
    assert coldest_safe((JOINER,) * 3, 75.0) == pytest.approx(-13.7, abs=0.05)


labels = st.builds(
    lambda v_oc, beta: replace(PANEL, v_oc=v_oc, v_mp=0.8 * v_oc, beta_voc_pct_per_k=beta),
    st.floats(18.0, 30.0),
    st.floats(-0.6, -0.2),
)


@given(labels, st.integers(1, 6), st.floats(20.0, 250.0))
def test_coldest_safe_temperature_inverts_the_coefficient(panel, count, limit):
    temp = coldest_safe((panel,) * count, limit)
    volts = count * cold_voltage(panel.v_oc, panel.beta_voc_pct_per_k, temp)
    assert volts == pytest.approx(limit, rel=1e-12)


@given(labels, st.integers(1, 4), st.floats(-40.0, 20.0))
def test_ceiling_sentence_never_rounds_to_the_dangerous_side(panel, count, coldest):
    rig = replace(tiny_rig((panel,) * count, tuple(range(count))), climate=Climate(temp_coldest=coldest))
    found = asked(cold_ceiling, rig)
    cold = count * cold_voltage(panel.v_oc, panel.beta_voc_pct_per_k, coldest)
    assert number(r"reach(?:es)? ([\d.]+) V", found.sentence) >= cold - 1e-6
    if found.margin >= 0:
        assert number(r"([\d.]+) V under the ceiling", found.sentence) <= 100.0 - cold + 1e-6
    else:
        assert number(r"([\d.]+) V over the ceiling", found.sentence) >= cold - 100.0 - 1e-6
    if "down to" in found.sentence:
        assert number(r"down to (-?[\d.]+) °C", found.sentence) >= coldest_safe((panel,) * count, 100.0) - 1e-6


@given(st.floats(5.0, 60.0), st.floats(20.0, 250.0))
def test_most_in_series_is_the_last_that_fits(v_cold, limit):
    most = most_in_series(v_cold, limit)
    assert most * v_cold <= limit * (1 + 1e-9)
    assert (most + 1) * v_cold > limit


def test_tall_string_is_compared_with_its_own_model_and_not_with_what_a_low_one_pulls_it_down_to():
    tall = replace(PANEL, name="tall", v_oc=37.3, v_mp=31.0, cells_in_series=60, substrings=3, beta_voc_pct_per_k=-0.27)
    pair = replace(tiny_rig((PANEL, tall), (0,), (1,)), climate=Climate(temp_coldest=-15.0))
    alone = replace(tiny_rig((tall,), (0,)), climate=Climate(temp_coldest=-15.0))
    model = [
        re.search(r"one-diode model ([\d.]+) V", cold_ceiling(rig, rig.circuits[0]).basis)[1] for rig in (pair, alone)
    ]
    assert model[0] == model[1]
    # by the label's coefficient 37.3 V x (1 + 0.0027 x 40)
    assert float(model[0]) == pytest.approx(41.3, abs=0.5)


def test_string_that_just_meets_the_ceiling_is_counted_in():
    assert most_in_series(0.1, 0.3) == 3
    assert most_in_series(21.8, 65.4) == 3
    assert most_in_series(21.8, 65.3999) == 2


def test_under_five_percent_left_is_thin():
    coast = asked(cold_ceiling, joiner((0, 1, 2), coldest=-3.0))
    assert (coast.answer, coast.margin) == ("close", pytest.approx(75.0 - 72.8448))
    assert "2.9 % left (thin)" in coast.sentence


@pytest.mark.parametrize(("left", "answer"), [(0.0499, "close"), (0.0501, "yes")])
def test_thin_ends_at_five_percent_of_the_ceiling(left, answer):
    # at 25 °C label, table and model agree, so only the margin decides
    rig = replace(joiner((0, 1, 2)), climate=Climate(temp_coldest=25.0))
    controller = replace(rig.circuits[0].controller, v_pv_max=3 * 22.4 / (1 - left))
    found = asked(cold_ceiling, with_circuit(rig, controller=controller))
    assert found.answer == answer
    assert ("thin" in found.sentence) == (answer == "close")


def test_table_above_the_ceiling_makes_a_yes_close_and_says_so():
    # 67.2 V by label: 76.7 V by coefficient at -22 °C, 80.6 V by the table's 1.20
    rig = joiner((0, 1, 2))
    rig = with_circuit(rig, controller=replace(rig.circuits[0].controller, v_pv_max=80.6))
    found = asked(cold_ceiling, rig)
    assert found.margin > 0
    assert found.answer == "close"
    assert "table puts it over the ceiling" in found.sentence
    assert "factor table 80.6 V" in found.basis


def test_ceiling_shows_three_ways_to_the_cold_volts():
    found = asked(cold_ceiling, joiner((0, 1), (2, 3)))
    assert number(r"factor table ([\d.]+) V", found.basis) == pytest.approx(1.20 * 44.8, abs=0.05)
    # the fit meets the coefficient near 25 °C; a diode's volts bend a little below the straight line in frost
    assert number(r"diode model ([\d.]+) V", found.basis) == pytest.approx(51.1, rel=0.005)
    frost = asked(cold_ceiling, joiner((0, 1), (2, 3), coldest=-41.0))
    assert "silent below -40 °C" in frost.basis


def test_string_of_two_kinds_adds_its_volts():
    other = replace(PANEL, v_oc=30.0, v_mp=24.0, cells_in_series=48, beta_voc_pct_per_k=-0.25)
    rig = replace(tiny_rig((JOINER, other), (0, 1)), climate=Climate(temp_coldest=-10.0))
    found = asked(cold_ceiling, rig)
    by_hand = 22.4 * (1 + 0.0030 * 35) + 30.0 * (1 + 0.0025 * 35)
    assert 100.0 - found.margin == pytest.approx(by_hand)
    assert "unlike panels" in found.sentence


def test_longest_string_in_volts_decides_the_ceiling_and_the_weakest_the_start():
    low = replace(JOINER, v_oc=20.0, v_mp=16.0)
    rig = tiny_rig((low, JOINER), (0,), (1,))
    assert asked(cold_ceiling, rig).margin == pytest.approx(100.0 - 22.4 * (1 + 0.0030 * 35))
    assert asked(start_volts, rig).margin == pytest.approx(20.0 * (1 - 0.0030 * 45) - 18.0)


def test_string_with_most_volts_in_frost_decides_the_ceiling_and_the_one_with_least_in_heat_the_start():
    # by label the first string is the taller; at -20 °C 44.0 V become 49.1 V, and 43.8 V become 50.9 V
    mild, steep = replace(JOINER, v_oc=22.0, beta_voc_pct_per_k=-0.26), replace(JOINER, v_oc=21.9)
    steep = replace(steep, beta_voc_pct_per_k=-0.36)
    rig = replace(tiny_rig((mild, mild, steep, steep), (0, 1), (2, 3)), climate=Climate(temp_coldest=-20.0))
    rig = with_circuit(rig, controller=replace(rig.circuits[0].controller, v_pv_max=50.0))
    found = asked(cold_ceiling, rig)
    assert found.answer == "no"
    assert 50.0 - found.margin == pytest.approx(2 * 21.9 * (1 + 0.0036 * 45))
    level = replace(rig, panels=(mild, mild, replace(steep, v_oc=22.1), replace(steep, v_oc=22.1)))
    assert asked(start_volts, level).margin == pytest.approx(2 * 22.1 * (1 - 0.0036 * 45) - 18.0)


@pytest.mark.parametrize("rounding", [0.0, 1e-12, 5e-11])
def test_volts_that_just_meet_the_ceiling_are_not_over_it_in_any_word(rounding):
    rig = joiner((0, 1, 2))
    cold = 3 * cold_voltage(22.4, -0.30, -22.0)
    rig = with_circuit(rig, controller=replace(rig.circuits[0].controller, v_pv_max=cold - rounding))
    found = asked(cold_ceiling, rig)
    assert (found.answer, found.margin) == ("close", 0.0)
    assert "0.0 V under the ceiling" in found.sentence
    assert "destroy" not in found.caution


def test_place_that_never_cools_below_the_safe_temperature_is_not_told_never():
    rig = replace(tiny_rig((JOINER,), (0,)), climate=Climate(temp_coldest=35.0))
    rig = with_circuit(rig, controller=replace(rig.circuits[0].controller, v_pv_max=22.2))
    found = asked(cold_ceiling, rig)
    assert found.margin > 0
    assert "only above 28 °C; at most" in found.sentence


def test_panels_that_differ_in_name_and_tilt_alone_are_these_in_series():
    rig = tiny_rig((replace(JOINER, name="left"), replace(JOINER, name="right", tilt_deg=20.0)), (0, 1))
    assert "at most 4 of these in series" in asked(cold_ceiling, rig).sentence


def test_plain_switch_needs_no_margin_above_the_battery(one_panel):
    # at 70 °C 22 V become 18.3 V, by the steep coefficient where a label gives none: above the battery's 13 V, under
    # 13 V and a start margin of 9 V
    controller = replace(one_panel.circuits[0].controller, tracker="direct", v_start_margin=9.0)
    rig = with_circuit(one_panel, controller=controller)
    found = asked(start_volts, rig)
    assert found.answer == "yes"
    assert found.margin == pytest.approx(22.0 * (1 - 0.00375 * 45) - 13.0)
    assert "reach 14.0 V" in asked(hot_floor, rig).question
    assert compare({"it": rig}, Snapshot(light=100.0, temp_cell=70.0)).outcomes["it"].energy_wh > 0


def test_higher_hill_of_an_unlike_panel_below_the_floor_is_not_blamed_on_heat():
    # the weak panel bypassed gives most watts at 14 V in any heat; both together have a hill at 32 V
    strong, weak = replace(JOINER, i_sc=9.0, i_mp=8.4), replace(JOINER, i_sc=3.0, i_mp=2.8)
    rig = with_circuit(tiny_rig((strong, weak), (0, 1)), cable=Cable())
    rig = replace(rig, battery=Battery(name="24 V", v_nominal=24, v_now=24.0, v_absorption=24.5))
    found = asked(hot_floor, rig)
    sits = compare({"it": rig}, Snapshot(light=1000.0, temp_cell=70.0)).outcomes["it"].operations[0]
    assert found.answer == "yes"
    assert 25.5 + found.margin == pytest.approx(sits.v_array[0], rel=0.01)
    assert ". Best power within reach is at " in found.sentence


@pytest.mark.parametrize("question", [cold_ceiling, start_volts, hot_floor])
def test_coefficient_missing_on_any_panel_of_the_circuit_is_named_in_the_basis(question):
    gap = replace(JOINER, name="gap", v_oc=22.0, v_mp=18.5, beta_voc_pct_per_k=None)
    other = replace(gap, name="other gap", v_oc=22.6, v_mp=19.0)
    basis = asked(question, tiny_rig((gap, other), (0,), (1,))).basis
    assert "not on the labels of gap, other gap, steeper than 19 of 20" in basis


@pytest.mark.parametrize("question", [cold_ceiling, start_volts, hot_floor])
def test_coefficient_missing_on_the_label_is_named_in_the_basis(question, one_panel):
    # -0.375 %/K: p05 of small 36-cell panels in tests/reference/cec_percentiles.csv, the careful side of both ends
    basis = asked(question, one_panel).basis
    assert "Voc with heat -0.375" in basis
    assert "not on the label of 100 W" in basis
    complete = replace(PANEL, beta_voc_pct_per_k=-0.3)
    assert "beta_voc" not in asked(question, replace(one_panel, panels=(complete,))).basis


def test_taken_coefficient_is_the_one_computed_with(one_panel):
    assert asked(cold_ceiling, one_panel).margin == pytest.approx(100.0 - 22.0 * (1 + 0.00375 * 35))


@pytest.mark.parametrize(
    "hot",
    [
        lambda: Climate(temp_coldest=50.0),
        lambda: Climate(temp_coldest=-10.0, temp_cell_hottest=158.0),
        lambda: Cable(temp_conductor=140.0),
        lambda: Snapshot(light=800.0, temp_cell=113.0),
    ],
    ids=["50 °F dawn", "158 °F cells", "140 °F cable", "113 °F cells"],
)
def test_temperature_that_only_fahrenheit_explains_is_refused(hot):
    with pytest.raises(ValueError, match="Is this Fahrenheit"):
        hot()


# The start


def test_cold_yes_alone_does_not_pass_a_wiring_that_never_wakes():
    rig = joiner((0,), (1,), (2,), (3,))
    answers = {found.question.split(":")[0]: found.answer for found in check(rig)}
    assert refusal(rig) is None
    assert answers["Cold ceiling"] == "yes"
    assert answers["Start"] == "no"


def test_only_two_by_two_suits_the_joiner():
    suits = {
        "4p": joiner((0,), (1,), (2,), (3,)),
        "2s2p": joiner((0, 1), (2, 3)),
        "4s": joiner((0, 1, 2, 3)),
    }
    decides = (cold_ceiling, start_volts, hot_floor)
    assert [name for name, rig in suits.items() if all(asked(d, rig).answer == "yes" for d in decides)] == ["2s2p"]


def test_start_says_how_far_the_volts_are_from_waking():
    found = asked(start_volts, joiner((0,), (1,), (2,), (3,)))
    assert found.margin == pytest.approx(22.4 * (1 - 0.0030 * 45) - 32.0)
    assert "not even in frost" in found.sentence
    frosty = replace(joiner((0,)), battery=Battery(name="12 V", v_nominal=12, v_now=15.4, v_absorption=15.4))
    frosty = with_circuit(frosty, controller=replace(frosty.circuits[0].controller, v_start_margin=8.0))
    assert "only in the cold" in asked(start_volts, frosty).sentence


def test_light_that_wakes_the_controller_is_the_one_of_an_independent_diode():
    low = replace(PANEL, v_oc=21.0, v_mp=17.2, beta_voc_pct_per_k=-0.3)
    rig = tiny_rig((low,), (0,))
    found = asked(start_volts, replace(rig, battery=replace(rig.battery, v_now=14.0)))
    light = number(r"wake it at about (\d+) W/m²", found.sentence)
    assert found.answer == "close"
    # volts rise by about one volt an e-fold of light; the light is printed to 1 W/m²
    assert pvlib_curve(low, light, 15.0)["v_oc"] == pytest.approx(19.0, abs=1.0 / light + 0.01)


@pytest.mark.parametrize(
    ("light", "answer", "words"),
    [
        (9, "yes", "wake it in any light worth having."),
        (11, "yes", "wake it at about 11 W/m²."),
        (29, "yes", "wake it at about 29 W/m²."),
        (
            31,
            "close",
            "Dull mornings start late: more in series, where the ceiling allows it, start earlier.",
        ),
    ],
)
def test_light_below_30_is_an_early_start_and_below_10_is_not_told_to_the_watt(light, answer, words):
    # the battery's volts are such that pvlib's diode reaches them, and the start margin of 5 V, in just this light
    panel = replace(PANEL, beta_voc_pct_per_k=-0.20)
    rig = tiny_rig((panel,), (0,))
    there = float(pvlib_curve(panel, light, 15.0)["v_oc"]) - 5.0
    mild = Climate(temp_coldest=-10.0, temp_cell_hottest=45.0)
    found = asked(start_volts, replace(rig, battery=replace(rig.battery, v_now=there), climate=mild))
    assert found.margin > 0
    assert found.answer == answer
    assert words in found.sentence


def test_hot_cells_short_of_the_start_make_it_close():
    rig = tiny_rig((replace(PANEL, beta_voc_pct_per_k=-0.3),), (0,))
    rig = replace(rig, battery=replace(rig.battery, v_now=14.5))
    found = asked(start_volts, rig)
    assert (found.answer, found.margin) == ("close", pytest.approx(22.0 * (1 - 0.0030 * 45) - 19.5))
    assert "asleep at noon it stays asleep" in found.sentence


# The hot floor


def pvlib_curve(panel: Panel, light: float, temp: float, r_more: float = 0.0) -> dict[str, np.ndarray]:
    """Open circuit, best point and more of a panel by pvlib's own solver, from the same five parameters."""
    fit = fit_panel(panel)
    alpha = (fit.panel.alpha_isc_pct_per_k or 0.0) / 100 * panel.i_sc
    five = (fit.i_light, fit.i_0, fit.r_shunt, fit.r_series + r_more)
    now = pvlib.pvsystem.calcparams_desoto(light, temp, alpha, fit.a, *five, EgRef=fit.e_gap)
    return pvlib.pvsystem.singlediode(*now) | {"now": now}


def amps_at(panel: Panel, volts: float, r_more: float) -> float:
    """Amps of a panel in full sun at 70 °C behind a resistance, by pvlib's own solver."""
    now = pvlib_curve(panel, 1000.0, 70.0, r_more)["now"]
    return float(pvlib.pvsystem.i_from_v(volts, *now))


def warm_roof(beta: float, v_absorption: float) -> Rig:
    """One panel with 17.9 V at best power, no cable, 70 °C cells."""
    label = replace(SMITH, v_oc=22.2, v_mp=17.9, beta_voc_pct_per_k=beta)
    rig = with_circuit(tiny_rig((label,), (0,)), cable=Cable())
    return replace(rig, battery=replace(rig.battery, v_absorption=v_absorption))


@pytest.mark.parametrize(("v_absorption", "lost"), [(14.4, 4.0), (14.9, 10.0)])
def test_hot_panel_loses_what_the_users_list_says(v_absorption, lost):
    # The list (4.3, an independent one-diode model) gives 4 and 10 % at 15.4 and 15.9 V and leaves open which panel.
    # Its numbers come out at -0.35 %/K, where a diode of ideality 1 and 1.121 eV ends up; at -0.30 they are 1 and 5 %.
    # They are rounded to a point, and 0.3 V of v_oc more or less is worth as much again: one point.
    found = asked(hot_floor, warm_roof(-0.35, v_absorption))
    assert number(r"(\d+) % of the power is lost", found.sentence) == pytest.approx(lost, abs=1.0)


@pytest.mark.parametrize("beta", [-0.30, -0.35])
def test_hot_floor_loses_what_an_independent_diode_loses(beta):
    rig = warm_roof(beta, 14.9)
    curve = pvlib_curve(rig.panels[0], 1000.0, 70.0)
    there = 15.9 * pvlib.pvsystem.i_from_v(15.9, *curve["now"])
    found = asked(hot_floor, rig)
    assert found.margin == pytest.approx(curve["v_mp"] - 15.9, abs=0.02)
    lost = 100 * (1 - there / curve["p_mp"])
    assert number(r"(\d+) % of the power is lost", found.sentence) == pytest.approx(lost, abs=0.55)


@pytest.mark.parametrize(("lost", "answer"), [(0.8, "yes"), (1.2, "close"), (9.5, "close"), (10.5, "no")])
def test_hot_floor_forgives_a_hundredth_and_refuses_a_tenth(lost, answer):
    # battery volts at which pvlib's diode has lost so much of its best power; the shares are common practice, no source
    curve = pvlib_curve(warm_roof(-0.35, 14.4).panels[0], 1000.0, 70.0)
    missing = lambda v: 100 * (1 - v * pvlib.pvsystem.i_from_v(v, *curve["now"]) / curve["p_mp"]) - lost  # noqa: E731
    floor = brentq(missing, float(curve["v_mp"]), float(curve["v_oc"]))
    assert asked(hot_floor, warm_roof(-0.35, floor - 1.0)).answer == answer


@pytest.mark.parametrize("mount", HEATING)
def test_heat_of_a_mount_on_a_hot_summer_day_is_that_of_king_at_al(mount):
    # King, Boyson and Kratochvil 2004, SAND2004-3535, Table 1, as pvlib has it
    model = TEMPERATURE_MODEL_PARAMETERS["sapm"][MOUNTS[mount]]
    heated = sapm_cell(LIGHT_REFERENCE, AIR_FAIR, WIND_FAIR, **model) - AIR_FAIR
    assert HEATING[mount] == pytest.approx(heated, abs=0.5)


@pytest.mark.parametrize("name", examples())
def test_hot_floor_warns_where_the_panels_own_heat_on_a_hot_day_makes_it_worse_and_only_there(name):
    for rig in example(name).wirings().values():
        for circuit in rig.circuits:
            told = hot_floor(rig, circuit)
            mounts = [rig.panels[panel].mount for string in circuit.wiring.strings for panel in string]
            heat = AIR_FAIR + max(HEATING[mount] for mount in mounts)
            hotter = hot_floor(rig.with_climate(temp_cell_hottest=heat), circuit)
            worse = WORST_FIRST.index(hotter.answer) < WORST_FIRST.index(told.answer)
            assert bool(told.caution) == (worse and heat > rig.climate.temp_cell_hottest)
            assert f"reach some {heat:g} °C" in told.caution or not told.caution


@pytest.mark.parametrize(("strings", "answer"), [(((0, 1), (2, 3)), "yes"), (((0,), (1,), (2,), (3,)), "no")])
def test_hot_floor_at_24_volts_needs_two_in_series(strings, answer):
    # "24 V battery needs two in series": common practice, no source
    found = asked(hot_floor, joiner(*strings))
    assert found.answer == answer
    assert ("nothing flows" in found.sentence) == (answer == "no")


def test_cable_drop_brings_the_hot_floor_nearer():
    # three panels on one cable: to each it is a series resistance three times as large; 5.09 mohm/m, IEC 60228
    rig = trailer((0,), (1,), (2,))
    bare, cabled = (pvlib_curve(SMITH, 1000.0, 70.0, r_more)["v_mp"] for r_more in (0.0, 3 * 2 * 7.0 * 5.09e-3))
    assert asked(hot_floor, with_circuit(rig, cable=Cable())).margin == pytest.approx(bare - 15.0, abs=0.02)
    assert asked(hot_floor, rig).margin == pytest.approx(cabled - 15.0, abs=0.02)


def test_heat_costs_a_panel_what_the_published_example_says():
    # T1: 66.25 °C by NOCT, -0.35 %/K of power, 14 % lost, printed to one point. The fit is told the coefficient of
    # volts alone; a label with -0.28 %/K of volts goes with -0.35 %/K of power.
    case = worked_example("T1")
    temp = case["t_air"] + (case["NOCT"] - 20) / 800 * case["G"]
    assert temp == pytest.approx(case["t_cell"], abs=0.5)
    panel = replace(SMITH, beta_voc_pct_per_k=-0.28, gamma_pmp_pct_per_k=case["gamma"])
    hot, label = (pvlib_curve(panel, case["G"], t)["p_mp"] for t in (temp, 25.0))
    assert 100 * (1 - hot / label) == pytest.approx(case["power_loss"], abs=1.0)


# Cable and input


def test_trailer_loses_in_its_cable_what_the_story_says():
    side_by_side, in_series = (asked(cable_loss, trailer(*strings)) for strings in (((0,), (1,), (2,)), ((0, 1, 2),)))
    assert "27.0 A drop 1.92 V and cost 51.9 W, 10.2 %, in full sun" in side_by_side.sentence
    assert "dull light (15 %) 0.29 V, 1.2 W, 1.5 %. 16 mm² (AWG 4) keeps it under 3 %" in side_by_side.sentence
    assert "9.0 A" in in_series.sentence
    assert "cost 5.8 W, 1.1 %" in in_series.sentence
    assert (side_by_side.answer, in_series.answer) == ("no", "yes")


def test_cable_of_a_tracker_says_the_watts_of_a_thicker_one_too():
    # 27 A: 7 m of 4 mm² 51.9 W, of 16 mm² (1.24 mohm/m) 12.7 W
    said = asked(cable_loss, trailer((0,), (1,), (2,))).sentence
    assert "delivers 39.3 W more then" in said


def switched(*strings: tuple[int, ...], length: float, section: float = 4.0, v_full: float = 14.4) -> Rig:
    """The trailer's panels on a plain switch and a 12 V battery, with 20 °C copper."""
    rig = trailer(*strings)
    box = replace(rig.circuits[0].controller, tracker="direct")
    rig = replace(rig, battery=replace(rig.battery, v_absorption=v_full))
    return with_circuit(rig, controller=box, cable=Cable(length_m=length, section_mm2=section, temp_conductor=20.0))


def test_plain_switch_loses_little_in_a_cable_that_would_cost_a_tracker_dear():
    # 36 cells at 70 °C in full sun: at 14.4 V the panel stands before its knee, so 10 m of 4 mm² (0.102 ohm, 0.9 V)
    # keep back what pvlib's one-diode curve loses up to 15.3 V; a tracker would lose 9 A x 9 A x 0.102 ohm, 5 %
    rig = switched((0,), length=10.0)
    bare, cabled = (amps_at(SMITH, 14.4, ohms) for ohms in (0.0, 2 * 10 * 5.09e-3))
    found = asked(cable_loss, rig)
    watts = number(r"deliver ([\d.]+) W more", found.sentence)
    assert watts == pytest.approx(14.4 * (bare - cabled), abs=0.1)
    assert found.margin == pytest.approx(3.0 - 100 * (1 - cabled / bare), abs=0.05)
    tracked = with_circuit(rig, controller=replace(rig.circuits[0].controller, tracker="sweep"))
    assert asked(cable_loss, tracked).answer == "close"


def test_plain_switch_near_its_knee_is_told_of_a_thicker_cable_that_then_is_enough():
    rig = switched((0,), (1,), (2,), length=10.0)
    found = asked(cable_loss, rig)
    assert found.answer == "no"
    thick = section_to_buy(rig, rig.circuits[0])
    assert f" {thick:g} mm²" in found.sentence
    assert asked(cable_loss, with_circuit(rig, cable=replace(rig.circuits[0].cable, section_mm2=thick))).answer == "yes"


def test_plain_switch_whose_panels_have_volts_to_spare_may_have_any_cable():
    # two in series on 12 V: 20 V to spare, so half a volt of drop costs nothing that the meter shows
    found = asked(cable_loss, switched((0, 1), length=10.0, section=2.5))
    assert found.answer == "yes"
    assert number(r"deliver ([\d.]+) W more", found.sentence) <= 0.2


def test_run_that_no_cable_saves_is_told_to_be_shorter():
    rig = with_circuit(trailer((0,), (1,), (2,)), cable=Cable(length_m=100.0, section_mm2=70.0))
    assert "No cable does; shorten the run." in asked(cable_loss, rig).sentence


def test_unlike_amps_in_series_count_the_weakest_for_cable_and_the_strongest_for_short_circuit():
    weak = replace(PANEL, i_sc=3.0, i_mp=2.8)
    rig = tiny_rig((PANEL, weak), (0, 1))
    rig = with_circuit(rig, controller=replace(rig.circuits[0].controller, i_pv_sc_max=10.0))
    assert "2.8 A drop" in asked(cable_loss, rig).sentence
    assert asked(input_current, rig).margin == pytest.approx(10.0 - 1.25 * 6.0)


def test_check_asks_in_the_order_in_which_a_mistake_hurts(four_panels):
    rig = with_circuit(four_panels, controller=replace(four_panels.circuits[0].controller, i_pv_sc_max=20.0))
    asked_for = [verdict.question.split(":")[0] for verdict in check(rig)]
    dies = ["Cold ceiling", "Input current", "Circulating current"]
    burns = ["String fuse", "Reverse current", "Plugs", "Cable current"]
    burns += ["Battery side", "Isolator"]
    ages, wastes = ["Cold charging", "Charge current", "Charge settings"], ["Start", "Hot floor", "Cable", "Clipping"]
    assert asked_for == [*dies, *burns, "Touch", *ages, *wastes, "Labels", "Missing"]


def test_check_leaves_out_what_the_rig_does_not_say(four_panels):
    told = {v.question.split(":")[0] for v in check(four_panels)}
    rig = with_circuit(four_panels, cable=Cable())
    assert told - {v.question.split(":")[0] for v in check(rig)} == {"Cable", "Cable current"}
    assert not {"Input current", "Extension"} & told
    assert [said.split(":")[0] for said in unasked(rig)][:2] == ["Input current", "Roof cable"]
    known = with_circuit(four_panels, i_extension_max=30.0)
    assert {v.question.split(":")[0] for v in check(known)} - told == {"Extension"}


def test_one_circuit_over_its_ceiling_is_enough_for_a_no():
    rig = tiny_rig((PANEL,) * 4, (0,))
    circuit = rig.circuits[0]
    low = replace(circuit, wiring=Wiring(strings=((1, 2, 3),)), controller=replace(circuit.controller, v_pv_max=60.0))
    assert refusal(rig) is None
    assert refusal(replace(rig, circuits=(circuit, low))).answer == "no"
    of_the_rig = {"Cold charging", "Charge current", "Charge settings", "Labels", "Missing"}
    asked_for = [v.question.split(":")[0] for v in check(replace(rig, circuits=(circuit, low)))]
    assert all(asked_for.count(name) == (1 if name in of_the_rig else 2) for name in asked_for)


@pytest.mark.parametrize(("coldest", "warned"), [(25.0, False), (-22.0, True)])
def test_sixty_volts_are_a_caution_by_cold_volts(coldest, warned):
    # 60 V: IEC 60364-4-41, bare parts when dry (tests/reference/touch_voltage_limits.csv)
    panel = replace(JOINER, v_oc=19.0, v_mp=15.5)
    rig = replace(tiny_rig((panel,) * 3, (0, 1, 2)), climate=Climate(temp_coldest=coldest))
    assert ("60 V DC" in asked(cold_ceiling, rig).caution) == warned


@pytest.mark.parametrize("v_absorption", [14.11, 14.47, 14.92, 15.03, 15.41])
def test_list_and_sentence_of_a_hot_floor_say_the_same_volts(v_absorption):
    found = asked(hot_floor, warm_roof(-0.35, v_absorption))
    left = re.search(r"([\d.]+) V (?:short|left)", at_a_glance([found]))[1]
    assert left == re.search(r"([\d.]+) V (?:short|to spare)", found.sentence)[1]


def test_tenth_that_is_left_is_not_lost_to_binary_numbers():
    left = replace(asked(cold_ceiling, joiner((0, 1), (2, 3))), margin=54.4 - 54.0)
    assert at_a_glance([left]).endswith("0.4 V left")


@pytest.mark.parametrize("v_absorption", [14.4, 28.8, 57.6])
def test_least_in_series_that_a_hot_roof_needs_is_the_first_that_reaches(v_absorption):
    battery = Battery(name="b", v_nominal=v_absorption / 1.2, v_now=v_absorption / 1.1, v_absorption=v_absorption)
    low = replace(JOINER, v_mp=16.8)

    def floor(count: int) -> Verdict:
        rig = replace(tiny_rig((low,) * count, tuple(range(count))), battery=battery)
        return asked(hot_floor, replace(rig, climate=Climate(temp_coldest=-10, temp_cell_hottest=75)))

    least = int(number(r"At least (\d+) of these", floor(1).sentence))
    assert floor(least).margin >= 0 > floor(least - 1).margin


def test_series_that_heat_needs_and_frost_forbids_is_said():
    battery = Battery(name="48 V", v_nominal=48, v_now=53, v_absorption=57.6)
    assert (
        "but in frost they pass the ceiling"
        in asked(hot_floor, replace(joiner((0, 1), (2, 3)), battery=battery)).sentence
    )


def test_frost_is_said_only_where_it_freezes():
    for coldest, when in ((-5.0, "in frost"), (5.0, "at the coldest dawn")):
        climate = Climate(temp_coldest=coldest)
        asleep = asked(start_volts, replace(joiner((0,), (1,), (2,), (3,)), climate=climate))
        assert f"not even {when}." in asleep.sentence
        battery = Battery(name="48 V", v_nominal=48, v_now=53, v_absorption=57.6)
        high = asked(hot_floor, replace(joiner((0, 1), (2, 3)), battery=battery, climate=climate))
        assert f"but {when} they pass the ceiling" in high.sentence


def test_panel_without_bypass_diodes_carries_a_caution_before_it_is_ordered():
    rig = tiny_rig((replace(PANEL, bypass_diodes=False),) * 2, (0, 1))
    said = {verdict.question.split(":")[0]: verdict.caution for verdict in check(rig)}
    assert "driven backwards" in said["Labels"]
