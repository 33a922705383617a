"""What is printed on labels and what is not, and what stands in for it: the table of panels and plain arithmetic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from outside import rows

from vanpower.checks.common import strings_of
from vanpower.checks.labels import labels, missing, power_in_heat
from vanpower.checks.volts import cold_ceiling, coldest_safe, hot_floor
from vanpower.components.single_diode import TYPICAL
from vanpower.engine.array import PVArray
from vanpower.model.light import array_of
from vanpower.rig import Snapshot


def test_missing_coefficient_of_volts_is_steep_at_either_end_and_every_answer_says_so():
    # p05 and p50 of 36 cells, tests/reference/cec_percentiles.csv
    percent = {row["quantity"]: row for row in rows("cec_percentiles.csv") if row["group"] == "36 cells, <250 W"}
    beta = percent["beta_voc_pct_per_K"]
    rig = tiny_rig((replace(PANEL, beta_voc_pct_per_k=None),) * 3, (0, 1, 2))
    [circuit] = rig.circuits
    ceiling, floor, gap = cold_ceiling(rig, circuit), hot_floor(rig, circuit), missing(rig)
    cold = 3 * PANEL.v_oc * (1 + float(beta["p05"]) / 100 * (rig.climate.temp_coldest - 25))
    assert f"reach {np.ceil(10 * cold) / 10:.1f} V" in ceiling.sentence
    median, careful = f"Voc with heat {float(beta['p50']):g} %/K", f"Voc with heat {float(beta['p05']):g} %/K"
    assert all(careful in said and median not in said for said in (ceiling.basis, floor.basis))
    assert f"Voc with heat {float(beta['p50']):g}, power with heat" in gap.sentence
    assert f"{careful} not on the label" in gap.sentence
    assert "for cold ceiling, start and hot floor" in gap.sentence
    steeper = replace(rig, panels=tuple(replace(p, beta_voc_pct_per_k=float(beta["p05"])) for p in rig.panels))
    assert (ceiling.margin, floor.margin) == (cold_ceiling(steeper, circuit).margin, hot_floor(steeper, circuit).margin)
    typical = replace(rig, panels=tuple(replace(p, beta_voc_pct_per_k=float(beta["p50"])) for p in rig.panels))
    assert floor.margin < hot_floor(typical, circuit).margin
    safe = coldest_safe(strings_of(rig, circuit)[0], circuit.controller.v_pv_max)
    assert safe == coldest_safe(steeper.panels, circuit.controller.v_pv_max)


def test_steep_coefficients_are_those_of_the_table():
    table = {row["group"]: row["p05"] for row in rows("cec_percentiles.csv") if row["quantity"] == "beta_voc_pct_per_K"}
    assert {group.group: group.beta_voc_steep_pct_per_k for group in TYPICAL} == {
        name: float(value) for name, value in table.items()
    }


def test_power_coefficient_of_a_label_is_told_beside_the_one_that_decides():
    # 100 W that lose 0.5 % of themselves for each of 35 K are 82 W
    panel = replace(PANEL, gamma_pmp_pct_per_k=-0.5, beta_voc_pct_per_k=-0.3)
    own, by_curve, by_label = power_in_heat(panel)
    assert by_label == pytest.approx(PANEL.p_mp * (1 - 0.5 / 100 * 35))
    array = array_of(tiny_rig((panel,), (0,)), Snapshot(light=1000, temp_cell=60))
    assert by_curve == pytest.approx(float(array.peaks[1][2][0] + cost_of(array)), rel=2e-4)
    verdict = labels(tiny_rig((panel,), (0,)))
    assert verdict.answer == "close"
    assert f"0.50 %/K by the label and {-own:.2f} by the curve" in verdict.sentence
    assert f"{by_curve:.0f} W instead of {by_label:.0f} W at 60 °C" in verdict.sentence
    alike = labels(tiny_rig((replace(panel, gamma_pmp_pct_per_k=round(own, 2)),), (0,)))
    assert alike.answer == "yes"
    assert "which decides" in alike.basis


def cost_of(array: PVArray) -> float:
    """Watts that the cable takes at the best point."""
    return float(array.peaks[1][1][0] ** 2 * array.resistance)


@pytest.mark.parametrize(("temp", "asked"), [(20.0, True), (3.0, False), (-10.0, False)])
def test_a_warm_coldest_morning_is_asked_about_and_what_it_may_have_meant_is_said(temp, asked):
    # 20 °F are (20 - 32) / 1.8 = -6.7 °C
    panel = replace(PANEL, beta_voc_pct_per_k=-0.3)
    rig = tiny_rig((panel,), (0,))
    rig = replace(rig, climate=replace(rig.climate, temp_coldest=temp))
    said = missing(rig).sentence
    assert ("is it Fahrenheit" in said) == asked
    if asked:
        volts = panel.v_oc * (1 - 0.3 / 100 * ((20 - 32) / 1.8 - 25))
        assert f"20 °F are -7 °C, and the string then has {np.ceil(10 * volts) / 10:.1f} V" in said
        assert missing(rig).answer == "close"
