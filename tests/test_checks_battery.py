"""Charge settings by chemistry and cells, held against charging pages, cell guides and the ventilation standard."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from conftest import PANEL, tiny_rig
from outside import rows

from vanpower.checks.battery import cold_charging
from vanpower.checks.charging import CM2_PER_M3, COMPENSATION, USUAL, VENT_MA_PER_AH, air_for, charge_settings
from vanpower.files.examples import example_batteries
from vanpower.files.rig_files import rig_to_toml
from vanpower.files.rig_tables import rig_of
from vanpower.results.verdict import Verdict
from vanpower.rig import BATTERY_KINDS, LEAD_ACID, Battery, Climate, Rig

QUOTED = {(row["quantity"], row["chemistry"]): row for row in rows("battery_charging.csv")}
LEAD = {"v_absorption": 14.4, "v_float": 13.65}


def van(coldest: float = -10.0, **battery: object) -> Rig:
    """One panel and some battery."""
    rig = tiny_rig((PANEL,), (0,))
    return replace(rig, battery=replace(rig.battery, **battery), climate=Climate(temp_coldest=coldest))


def asked(**battery: object) -> Verdict:
    """What is said of its charge settings."""
    return charge_settings(van(**battery))


def between(quantity: str, chemistry: str) -> tuple[float, float]:
    """The two ends of a quoted range."""
    low, _, high = QUOTED[quantity, chemistry]["value"].partition(" to ")
    return float(low), float(high or low)


def test_gel_at_the_volts_of_a_flooded_battery_is_a_no():
    """14.8 V are 2.467 V a cell; a maker's rules end at 2.42 V a cell for gel and at 2.465 V for AGM."""
    most = 6 * between("gel charge voltage", "gel")[1]
    found = asked(chemistry="gel", v_absorption=14.8, v_float=13.65)
    assert (found.answer, found.margin) == ("no", pytest.approx(most - 14.8))
    assert "Absorption 14.8 V is above the usual 14.0 to 14.5 V" in found.sentence
    assert "hydrogen explodes. Never equalise this battery unless" in found.caution


@pytest.mark.parametrize(
    ("kind", "row"),
    [("gel", "gel charge voltage"), ("AGM", "AGM charge voltage"), ("AGM", "Lead-acid cyclic charge voltage")],
)
def test_usual_absorption_holds_what_was_quoted(kind, row):
    low, high = between(row, kind if (row, kind) in QUOTED else "lead-acid")
    assert USUAL[kind].absorption[0] <= low < high <= USUAL[kind].absorption[1] + 1e-9
    assert USUAL[kind].v_most == pytest.approx(high, abs=0.025)


@pytest.mark.parametrize("kind", ["flooded lead-acid", "AGM", "gel"])
def test_usual_float_holds_what_was_quoted(kind):
    low, high = between("Lead-acid float voltage", "lead-acid")
    assert USUAL[kind].float_[0] <= low < high <= USUAL[kind].float_[1]


@pytest.mark.parametrize(
    ("per_kelvin", "answer", "volts"),
    [(-24.0, "no", "14.8 V at 0 °C"), (-5.0, "close", "14.3 V at 0 °C"), (0.0, "yes", "")],
)
def test_lithium_takes_no_compensation(per_kelvin, answer, volts):
    """14.2 V + 25 K x 24 mV/K = 14.8 V at 0 °C, above 4 x 3.65 V = 14.6 V (BPX open example, cell handling guide)."""
    assert 4 * float(QUOTED["LFP upper cell voltage", "LFP"]["value"]) == pytest.approx(14.6)
    found = asked(v_absorption=14.2, compensation_mv_per_k=per_kelvin)
    assert found.answer == answer
    assert volts in found.sentence
    assert ("takes no compensation" in found.sentence) == (answer != "yes")
    assert found.margin == pytest.approx(min(0.1, 14.6 - 14.2 + 0.025 * per_kelvin))


def test_compensation_of_lithium_is_weighed_at_the_coldest_it_is_charged_at():
    # -24 mV/K at 15 °C make 14.2 V to 14.44 V, within 14.6 V; where its maker lets it charge at -10 °C, 15.04 V
    assert charge_settings(van(15.0, v_absorption=14.2, compensation_mv_per_k=-24.0)).answer == "close"
    frosty = van(-20.0, v_absorption=14.2, compensation_mv_per_k=-24.0, temp_lockout=-10.0)
    assert "15.0 V at -10 °C" in charge_settings(frosty).sentence


@pytest.mark.parametrize(
    ("cells", "answer", "words"),
    [
        (15, "no", "Absorption 56.8 V is above the usual 51.8 to 54.8 V"),  # 15 x 3.65 V = 54.75 V
        (16, "yes", "Absorption 56.8 V is within the usual 55.2 to 58.4 V"),  # 16 x 3.65 V = 58.4 V
        (None, "close", "16 cells: fits. 15 cells: absorption 56.8 V is above the usual 51.8 to 54.8 V."),
    ],
)
def test_block_called_48_volts_may_have_15_cells(cells, answer, words):
    found = asked(v_nominal=48, v_now=53.0, v_absorption=56.8, cells=cells)
    assert (found.answer, words in found.sentence) == (answer, True)
    assert ("48 V is 15 cells, 51.2 V is 16" in found.sentence) == (cells is None)


def test_float_of_fifteen_cells_is_that_of_fifteen_cells():
    # 3.375 V a cell: 50.62 V, not the 54 V of sixteen, which would be 3.6 V a cell
    assert "and 50.62 V work" in asked(v_nominal=48, v_now=50.0, v_absorption=54.0, cells=15).question


@pytest.mark.parametrize(
    ("absorption", "answer"),
    [(14.4, "yes"), (14.6, "close"), (14.9, "close"), (15.1, "no"), (13.9, "close")],
)
def test_lead_acid_of_unknown_kind_is_sure_only_where_all_kinds_agree(absorption, answer):
    """Gel ends at 14.52 V, AGM at 14.82 V, flooded at 15 V."""
    kinds = {kind: asked(chemistry=kind, v_absorption=absorption, v_float=13.65) for kind in LEAD_ACID}
    unknown = kinds.pop("lead-acid")
    answers = {found.answer for found in kinds.values()}
    assert unknown.answer == answer == (answers.pop() if len(answers) == 1 else "close")
    assert unknown.margin == min(found.margin for found in kinds.values())
    assert ("Its label says which it is" in unknown.sentence) == (len({f.answer for f in kinds.values()}) > 1)


def test_old_file_that_says_lead_acid_is_still_read_and_written():
    rig = van(chemistry="lead-acid", capacity_ah=90.0)
    assert rig_of(rig_to_toml(rig), "old.toml") == rig
    assert rig.battery.cells is None


def test_gel_without_compensation_gets_too_much_in_a_hot_van():
    """3 mV/K a cell (BU-403): at 40 °C gel should get 6 x (2.42 - 15 x 0.003) = 14.25 V at the most."""
    assert COMPENSATION[1] == float(QUOTED["Lead-acid compensation", "lead-acid"]["value"])
    hot = asked(chemistry="gel", **LEAD, compensation_mv_per_k=0.0)
    assert hot.answer == "close"
    assert "at 40 °C it still gets 14.4 V and should get 14.2 V at most" in hot.sentence.replace("At 40", "at 40")
    assert asked(chemistry="gel", **LEAD, compensation_mv_per_k=0.0, temp_hottest=25.0).answer == "yes"
    assert asked(chemistry="gel", **LEAD, compensation_mv_per_k=-18.0).answer == "yes"
    assert asked(chemistry="gel", **LEAD, compensation_mv_per_k=-60.0).answer == "close"
    assert "taken to be -18 mV/K" in asked(chemistry="gel", **LEAD).basis


def test_other_lithium_is_never_a_yes_by_what_is_usual():
    assert between("NMC charge voltage", "NMC") == (4.2, 4.2)
    for cells, absorption in ((None, 12.6), (3, 12.6), (3, 12.3), (5, 13.9)):
        found = asked(chemistry="other lithium", v_absorption=absorption, cells=cells)
        assert (found.answer, "only its maker's sheet knows" in found.sentence) == ("close", True)
        assert "A lithium battery is not charged below 0 °C" in found.caution
    over = asked(chemistry="other lithium", v_absorption=12.9, cells=3)
    assert (over.answer, over.margin) == ("no", pytest.approx(3 * 4.2 - 12.9))
    warm = asked(chemistry="other lithium", v_absorption=12.6, compensation_mv_per_k=-10.0)
    assert "Lithium takes no compensation: set it to 0." in warm.sentence


def test_flooded_battery_is_told_how_much_air_it_needs():
    """EN 50272-2: Q = 0.05 n I C / 1000 with 20 mA/Ah at 2.40 V a cell, openings of 28 Q cm² each."""
    assert float(QUOTED["vented lead-acid gassing current", "lead-acid"]["value"]) == VENT_MA_PER_AH
    assert float(QUOTED["ventilation opening", "lead-acid"]["value"]) == CM2_PER_M3
    battery = van(chemistry="flooded lead-acid", capacity_ah=200.0, v_nominal=24, v_now=25, v_absorption=28.8).battery
    air, opening = air_for(battery)
    assert (air, opening) == (pytest.approx(0.05 * 12 * 20 * 200 / 1000), pytest.approx(28 * 2.4))
    said = charge_settings(van(chemistry="flooded lead-acid", capacity_ah=200.0, **LEAD)).caution
    assert "vent the battery's box to the outside, 1.2 m³ of air an hour, 34 cm² in below and out above" in said
    assert air_for(replace(battery, capacity_ah=None)) is None


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("lithium iron phosphate", "Leave equalisation off."),
        ("other lithium", "Leave equalisation off."),
        ("AGM", "Never equalise this battery unless its maker's sheet says so."),
        ("gel", "Never equalise this battery unless its maker's sheet says so."),
        ("flooded lead-acid", "only by the battery maker's sheet"),
        ("lead-acid", "Never equalise AGM or gel unless its maker's sheet says so."),
    ],
)
def test_equalising_is_for_flooded_cells_alone(kind, words):
    assert words in asked(chemistry=kind, v_absorption=14.4).caution
    assert set(BATTERY_KINDS) == {kind for kind in BATTERY_KINDS if asked(chemistry=kind).caution}


@pytest.mark.parametrize("name", example_batteries())
def test_batteries_of_the_kit_have_settings_that_suit_them(name):
    battery = example_batteries()[name]
    assert charge_settings(replace(van(), battery=battery)).answer == "yes"


@pytest.mark.parametrize(
    ("kind", "v_nominal", "cells"),
    [("lithium iron phosphate", 12, (4,)), ("lithium iron phosphate", 24, (8,)), ("lithium iron phosphate", 36, (12,)),
     ("lithium iron phosphate", 48, (15, 16)), ("gel", 12, (6,)), ("lead-acid", 48, (24,)), ("other lithium", 12, ())],
)  # fmt: skip
def test_blocks_have_the_cells_that_their_names_allow(kind, v_nominal, cells):
    """3.2 V a cell, 15 of them 48.0 V and 16 of them 51.2 V; 2 V of lead-acid."""
    volts = {"v_now": 1.05 * v_nominal, "v_absorption": 1.15 * v_nominal}
    assert Battery(v_nominal=v_nominal, chemistry=kind, **volts).cells_possible == cells


@pytest.mark.parametrize(("absorption", "within"), [(54.75, True), (54.8, False), (51.75, True), (51.7, False)])
def test_range_that_is_printed_holds_the_volts_exactly_where_the_answer_does(absorption, within):
    # 15 x 3.45 V = 51.75 V to 15 x 3.65 V = 54.75 V: "54.8 V is above the usual 51.8 to 54.8 V" says nothing
    found = asked(v_nominal=48, v_now=50.0, v_absorption=absorption, v_float=50.2, cells=15)
    pattern = rf"Absorption {absorption:g} V is \w+ the usual ([\d.]+) to ([\d.]+) V"
    low, high = map(float, re.search(pattern, found.sentence).groups())
    assert (low <= absorption <= high) == within


def test_frost_is_judged_by_what_is_known_of_that_battery():
    assert "lithium" not in cold_charging(van(chemistry="AGM", v_now=12.7, **LEAD)).basis
    assert "lithium iron phosphate" in cold_charging(van()).basis
