"""Touch, battery, labels and climate, held against standards, the CEC table and a published typical year."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given
from hypothesis import strategies as st
from outside import REFERENCE, rows
from test_checks import pvlib_curve

from vanpower.checks.battery import amps_in, charge_current, cold_charging
from vanpower.checks.coldest import RARE_COLD, climate_over, coldest_dawn, hottest_cells, hottest_over
from vanpower.checks.common import DO_NOT_TOUCH, NOT_WET, V_DO_NOT_TOUCH, V_EXTRA_LOW, V_WET, counted_amps
from vanpower.checks.glance import subject
from vanpower.checks.labels import (
    GAMMA_BELOW_BETA,
    IMP_OVER_ISC,
    V_PER_CELL,
    VMP_OVER_VOC,
    contradictions,
    labels,
    missing,
)
from vanpower.checks.plugs_and_isolator import LICENSED, touch_cautions, touch_volts
from vanpower.checks.registry import check
from vanpower.checks.volts import cold_ceiling
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.rig import Battery, Cable, Climate, Days, Rig

FULL = replace(
    PANEL, i_max_fuse=15.0, beta_voc_pct_per_k=-0.30, gamma_pmp_pct_per_k=-0.38, alpha_isc_pct_per_k=0.05, p_label=101.0
)


def rig_of(*panels, coldest: float = -10.0, **battery: object) -> Rig:
    """One string of these panels."""
    rig = tiny_rig(panels, tuple(range(len(panels))))
    return replace(rig, battery=replace(rig.battery, **battery), climate=Climate(temp_coldest=coldest))


# Touch


def test_limits_of_touch_are_those_of_the_standards():
    limits = {row["quantity"]: row["value"] for row in rows("touch_voltage_limits.csv")}
    assert float(limits["unguarded live parts accepted, dry"]) == V_DO_NOT_TOUCH
    assert float(limits["unguarded live parts accepted, wet or outdoor"]) == V_WET
    assert float(limits["basic protection unnecessary, normal dry conditions"]) == V_DO_NOT_TOUCH
    assert float(limits["basic protection unnecessary, all other cases"]) == V_WET
    assert float(limits["SELV upper limit, dc"]) == V_EXTRA_LOW
    assert float(limits["US low-voltage lighting limit, wet contact likely"]) == V_WET


@pytest.mark.parametrize(
    ("series", "answer", "words"),
    [(1, "yes", "even on a wet roof"), (2, "close", "on a roof, which may be wet"), (3, "close", "too much anywhere"),
     (5, "no", "licensed")],
)  # fmt: skip
def test_touch_goes_by_cold_volts(series, answer, words):
    # 22 V at -10 °C by -0.30 %/K: 24.3, 48.6, 72.9, 121.6 V; three 36-cell panels in series pass 60 V
    found = touch_volts(rig := rig_of(*(FULL,) * series), rig.circuits[0])
    assert found.answer == answer
    assert words in found.sentence
    assert found.caution == ("" if series == 1 else NOT_WET if series == 2 else DO_NOT_TOUCH)
    # the installation standard stands before the one for lamps
    assert found.basis.index("60364-4-41 414.4.5") < found.basis.index("60598-1")


def test_two_panels_of_60_cells_pass_60_volts_in_the_cold_though_not_at_best_power():
    house = replace(FULL, v_oc=37.5, v_mp=29.5, cells_in_series=60, substrings=3, p_label=None)
    rig = rig_of(house, house, coldest=-10.0)
    assert 2 * house.v_mp < V_DO_NOT_TOUCH < 2 * house.v_oc
    assert touch_volts(rig, rig.circuits[0]).answer == "close"


@pytest.mark.parametrize(("series", "words"), [(1, ""), (2, NOT_WET), (3, DO_NOT_TOUCH)])
def test_check_ceiling_and_caution_of_named_rigs_say_the_same_of_bare_ends(series, words):
    rig = rig_of(*(FULL,) * series)
    assert touch_volts(rig, rig.circuits[0]).caution == words
    assert cold_ceiling(rig, rig.circuits[0]).caution == words
    assert touch_cautions({"so": rig})[1:] == [words] * bool(words)


def test_named_rigs_are_told_each_by_what_its_own_volts_do():
    # 48.6, 72.9 and 121.6 V
    said = touch_cautions({f"{n}s": rig_of(*(FULL,) * n) for n in (1, 2, 3, 5)})
    assert said[0].startswith("3s reaches 73")
    assert "5s" in said[0]
    assert "2s" not in said[0]
    assert said[1:] == [DO_NOT_TOUCH, "2s reaches 48.7 V in frost.", NOT_WET, LICENSED]


# Battery


def bright(panels: int, **battery: object) -> Rig:
    """So many panels of 100 W in parallel at 25 °C, where 1000 W/m² deliver what the label says."""
    rig = tiny_rig((FULL,) * panels, *((k,) for k in range(panels)))
    bare = replace(rig.circuits[0], cable=Cable(), controller=replace(rig.circuits[0].controller, **LOSSLESS))
    told = replace(rig.battery, **battery)
    return replace(rig, battery=told, climate=Climate(temp_coldest=25.0), circuits=(bare,))


LOSSLESS = {"p_own": 0.0, "loss_fixed_pct": 0.0, "loss_ratio_pct": 0.0, "i_charge_max": 60.0}


@pytest.mark.parametrize(
    ("chemistry", "v_low"), [("lithium iron phosphate", 4 * 3.2450), ("flooded lead-acid", 12.2), ("gel", 12.2)]
)
def test_charge_current_is_what_the_panels_bring_and_not_what_stands_on_the_plate(chemistry, v_low):
    """Label watts over rest volts at a fifth, or half, of the charge (lfp_ocv_soc.csv, battery_charging.csv)."""
    rig = bright(4, capacity_ah=100.0, chemistry=chemistry, v_absorption=14.2)
    steady = 4 * FULL.p_mp / v_low
    assert amps_in(rig, rig.circuits[0]) == pytest.approx(steady, rel=1e-4)
    # amps rise with the light; what series resistance takes rises with their square
    assert 1.2 < amps_in(rig, rig.circuits[0], 1250.0) / steady < 1.25
    assert f"Cold full sun delivers {np.ceil(10 * steady) / 10:g} A, a cloud's edge" in charge_current(rig).sentence
    assert "limit (60 A), for which battery cable and fuse are sized" in charge_current(rig).basis


def test_charge_rates_are_those_that_were_read():
    # 0.5 of warm lithium iron phosphate: a battery manual; 0.3 of sealed lead-acid: a maker's tips; 0.2 below 10 °C: a
    # cell handling guide
    quoted = {(row["quantity"], row["condition"]): row["value"] for row in rows("battery_charging.csv")}
    assert float(quoted["LFP standard charge rate by cell temperature", "25 to 50 degC"]) == 0.5
    assert float(quoted["LFP standard charge rate by cell temperature", "0 to 5 degC"]) == 0.1
    assert float(quoted["LFP charge below 10 degC", ""]) == 0.2
    assert float(quoted["VRLA maximum initial charge current", ""]) == 0.3
    rate = {"lithium iron phosphate": 0.5} | dict.fromkeys(("flooded lead-acid", "AGM", "gel", "lead-acid"), 0.3)
    for chemistry, most in rate.items():
        found = charge_current(bright(4, capacity_ah=100.0, chemistry=chemistry))
        assert f"against {100 * most:g} A ({most:g} x Ah, typical)" in found.sentence


def test_sheet_of_the_battery_wins_over_the_typical_rate():
    assert charge_current(bright(4, capacity_ah=100.0, i_accept_max=20.0)).answer == "no"
    assert charge_current(bright(4, i_accept_max=50.0)).answer == "yes"
    assert charge_current(bright(4)).answer == "close"


def test_burst_of_seconds_trips_a_lithium_guard_and_does_not_heat_lead():
    # 31.1 A steady and 39 A for seconds against 35 A of lithium; 33.0 and 41.5 A against 35 A of lead-acid
    lithium = charge_current(bright(4, capacity_ah=100.0, i_accept_max=35.0))
    lead = charge_current(bright(4, capacity_ah=100.0, i_accept_max=35.0, chemistry="AGM"))
    assert (lithium.answer, lead.answer) == ("close", "yes")
    assert lithium.margin < 0 < lead.margin
    assert "may switch it off in such a burst" in lithium.sentence


def test_bundled_rig_of_284_watts_does_not_push_what_stands_on_its_controller():
    """284 W at 12.2 V are 23.3 A; the plate says 30 A and the battery takes 0.3 x 90 Ah = 27 A."""
    rig = example("cider-press")
    watts = sum(rig.panels[p].p_mp for circuit in rig.circuits for p in circuit.wiring.panels)
    assert watts == pytest.approx(284, abs=1)
    found = charge_current(rig)
    assert found.answer == "yes"
    assert watts / 12.2 < 27.0 - found.margin < 27.0


@pytest.mark.parametrize("name", examples())
def test_charge_current_and_clipping_speak_of_the_same_panels(name):
    rig = example(name)
    for circuit in rig.circuits:
        amps, plate = amps_in(rig, circuit), circuit.controller.i_charge_max
        if circuit.controller.tracker == "direct":
            assert amps <= counted_amps(rig, circuit)
            continue
        assert amps <= plate + 1e-9
        # nine tenths of the label arrive on a clear day; cold full sun into a battery that is lower brings no less
        watts = sum(rig.panels[p].p_mp for p in circuit.wiring.panels)
        assert amps >= min(0.9 * watts / rig.battery.v_now, plate) - 1e-9


@pytest.mark.parametrize(("room", "full"), [(0.04, True), (0.06, False)])
def test_panels_that_fill_the_plate_to_its_printed_tenth_bring_all_that_it_passes(room, full):
    rig = bright(4, capacity_ah=100.0)
    steady = amps_in(rig, rig.circuits[0])
    box = replace(rig.circuits[0].controller, i_charge_max=steady + room)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=box),))
    assert ("all that the controllers pass" in charge_current(rig).sentence) == full


def test_all_controllers_together_count():
    rig = bright(2, capacity_ah=100.0)
    first = replace(rig.circuits[0], wiring=replace(rig.circuits[0].wiring, strings=((0,),)))
    second = replace(first, wiring=replace(first.wiring, strings=((1,),)))
    both = replace(rig, circuits=(first, second))
    assert charge_current(both).margin == pytest.approx(50 - 2 * amps_in(both, first, 1250.0))
    assert "limit (60 + 60 A)" in charge_current(both).basis


def test_plain_switch_passes_more_than_stands_on_its_plate():
    rig = bright(4, capacity_ah=50.0)
    switch = replace(rig.circuits[0].controller, tracker="direct", i_charge_max=10.0)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=switch),))
    assert 4 * FULL.i_mp < amps_in(rig, rig.circuits[0]) <= 4 * FULL.i_sc


def test_panels_that_never_reach_the_battery_bring_nothing():
    # one of 22 V open circuit on 24 cells of 2 V
    found = charge_current(bright(1, v_nominal=48, v_now=50.0, v_absorption=57.6, chemistry="gel", capacity_ah=100.0))
    assert found.answer == "yes"
    assert found.sentence.startswith("The panels deliver nothing: they do not reach the battery's 48.8 V, against 30 A")


@pytest.mark.parametrize(
    ("coldest", "offset", "panels", "answer", "said"),
    [(25, 0, 4, "yes", False), (9, 0, 4, "close", True), (-10, 0, 1, "yes", False), (-10, 0, 2, "yes", True),
     (-10, 21, 4, "yes", False)],
)  # fmt: skip
def test_cells_just_above_frost_want_a_low_rate(coldest, offset, panels, answer, said):
    """0.1 x Ah from 0 to 10 °C by a manual, 0.2 x Ah by a guide: of 100 Ah 10 to 20 A; a panel delivers 8 to 9 A."""
    rig = replace(bright(panels, capacity_ah=100.0, temp_offset=offset), climate=Climate(temp_coldest=coldest))
    found = charge_current(rig)
    assert found.answer == answer
    assert ("Between 0 and 10 °C its cells want 10 to 20 A at the most" in found.sentence) == said


@pytest.mark.parametrize(("hottest", "answer"), [(None, "yes"), (45.0, "yes"), (46.0, "close"), (61.0, "no")])
def test_hot_cells_want_no_charge(hottest, answer):
    """A cell handling guide ends at 45 °C, a battery manual at 60 °C."""
    quoted = {(row["quantity"], row["condition"]): row["value"] for row in rows("battery_charging.csv")}
    assert quoted["LFP charge temperature window", "cell temperature"] == "0 to 45"
    assert quoted["LFP standard charge rate by cell temperature", "below 0 degC and above 60 degC"] == "0"
    found = charge_current(bright(1, capacity_ah=100.0, temp_hottest=hottest))
    assert found.answer == answer
    assert ("above 45 °C its cells want no charge" in found.sentence) == (answer != "yes")
    assert charge_current(bright(1, capacity_ah=100.0, temp_hottest=hottest, chemistry="AGM")).answer == "yes"


def test_other_lithium_has_no_usual_rate():
    found = charge_current(bright(1, capacity_ah=100.0, chemistry="other lithium"))
    assert (found.answer, "(i_accept_max)" in found.sentence) == ("close", True)
    assert charge_current(bright(1, chemistry="other lithium", i_accept_max=20.0)).answer == "yes"


@pytest.mark.parametrize(
    ("coldest", "cutoff", "chemistry", "answer"),
    [
        (-10, None, "lithium iron phosphate", "close"),
        (-10, False, "lithium iron phosphate", "no"),
        (-10, True, "lithium iron phosphate", "yes"),
        (1, False, "lithium iron phosphate", "yes"),
        (-10, None, "other lithium", "close"),
        (-10, None, "lead-acid", "yes"),
        (-10, None, "AGM", "yes"),
    ],
)
def test_lithium_in_frost_wants_a_controller_that_stops(coldest, cutoff, chemistry, answer):
    rig = rig_of(FULL, coldest=coldest, chemistry=chemistry)
    controller = replace(rig.circuits[0].controller, cold_cutoff=cutoff)
    found = cold_charging(replace(rig, circuits=(replace(rig.circuits[0], controller=controller),)))
    assert found.answer == answer
    assert ("below 0 °C" in found.caution) == (answer != "yes")


def test_no_check_tells_a_charge_from_volts():
    # lithium rest volts hardly change (tests/reference/lfp_ocv_soc.csv): they say when a controller wakes and what its
    # amps bring, and nothing else
    rig = rig_of(FULL, FULL, coldest=-10, v_now=12.9, capacity_ah=100.0)
    batteries = [replace(rig.battery, v_now=volts) for volts in (12.9, 13.9)]
    told = [{subject(v): str(v) for v in check(replace(rig, battery=battery))} for battery in batteries]
    assert {name for name in told[0] if told[0][name] != told[1][name]} == {"Start", "Clipping"}
    assert not re.search(r"state of charge|% charged|% full|charge is", " ".join(told[0].values()))


def test_frost_bars_charging_as_the_guide_says():
    # LFP cell handling guide and a battery manual; the bar is one of rate, so the caution leaves a maker's word open
    (row,) = [r for r in rows("battery_charging.csv") if r["quantity"] == "LFP charge below 0 degC"]
    assert row["status"].startswith("verified")
    assert float(row["value"]) == 0.0
    rig = rig_of(FULL, coldest=-10, capacity_ah=100.0)
    controller = replace(rig.circuits[0].controller, cold_cutoff=False)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=controller),))
    assert cold_charging(rig).answer == "no"
    assert "not charged below 0 °C unless its maker allows it" in cold_charging(rig).caution


# Labels


def test_bounds_of_a_label_hold_98_of_100_panels_of_the_table():
    whole = [row for row in rows("cec_percentiles.csv") if "half-cut" not in row["group"]]
    for quantity, (low, high) in (("vmp_over_voc", VMP_OVER_VOC), ("imp_over_isc", IMP_OVER_ISC)):
        found = [row for row in rows("cec_percentiles.csv") if row["quantity"] == quantity]
        assert min(float(row["p01"]) for row in found) == pytest.approx(low, abs=0.01)
        assert max(float(row["p99"]) for row in found) == pytest.approx(high, abs=0.01)
    cells = {row["group"]: row for row in whole if row["quantity"] == "voc_per_cell_V"}
    # rounded outwards; among those of 72 cells some are listed with more than they have in series, 0.45 and 0.51 V
    told = [float(row["p01"]) for group, row in cells.items() if not group.startswith("72 cells")]
    assert len(told) == 3
    assert np.floor(100 * min(told)) / 100 == V_PER_CELL[0]
    assert max(float(row["p99"]) for row in cells.values()) < V_PER_CELL[1]


def test_power_falls_faster_than_volts_in_98_of_100_panels_of_the_cec_table():
    # the module table dated 2019-03-05 that comes with pvlib
    import pvlib

    table = pvlib.pvsystem.retrieve_sam("CECMod").T
    table = table[table["Technology"].isin(["Mono-c-Si", "Multi-c-Si"])]
    beta = 100 * (table["beta_oc"] / table["V_oc_ref"]).astype(float)
    ahead = (beta - table["gamma_r"].astype(float)).to_numpy()
    assert len(ahead) == 20946
    low, high = GAMMA_BELOW_BETA
    assert 0.005 < (ahead < low).mean() < 0.015
    assert 0.0005 < (ahead > high).mean() < 0.005


def test_sound_label_is_silent():
    assert contradictions(FULL) == []
    assert labels(rig_of(FULL)).answer == "yes"


@pytest.mark.parametrize(
    ("change", "answer", "words"),
    [
        ({"p_label": 120.0}, "no", "prints 120 W, and 18 V x 5.6 A = 101 W."),
        # 800 W/m² and cells at 45 °C: 0.8 x (1 - 0.0038 x 20) = 0.74 of 136 W
        ({"p_label": 136.0}, "no", "= 101 W; are volts and amps those at NMOT or NOCT?"),
        ({"v_mp": 14.0, "p_label": None}, "close", "Vmp / Voc is 0.64"),
        ({"i_mp": 4.5, "p_label": None}, "close", "Imp / Isc is 0.75"),
        ({"cells_in_series": 40}, "close", "Voc a cell is 0.55"),
        ({"beta_voc_pct_per_k": -0.38, "gamma_pmp_pct_per_k": -0.30}, "close", "Are the two swapped?"),
    ],
)
def test_label_that_contradicts_itself_is_told_how(change, answer, words):
    found = labels(rig_of(replace(FULL, **change)))
    assert found.answer == answer
    assert words in found.sentence
    assert "Measure a panel" in found.caution


@pytest.mark.parametrize(("apart", "answer"), [(0.981, "yes"), (0.979, "close"), (1.019, "yes"), (1.021, "close")])
def test_label_and_curve_may_lie_two_percent_apart_on_a_hot_roof(apart, answer):
    # a label's coefficient such that its watts at 60 °C are so much of those of pvlib's diode there
    panel = replace(FULL, gamma_pmp_pct_per_k=None)
    hot, label = (float(pvlib_curve(panel, 1000.0, temp)["p_mp"]) for temp in (60.0, 25.0))
    found = labels(rig_of(replace(panel, gamma_pmp_pct_per_k=100 * (hot / apart / label - 1) / 35)))
    assert found.answer == answer
    assert ("%/K by the label" in found.sentence) == (answer == "close")


@pytest.mark.parametrize(("coldest", "asked"), [(5.0, False), (5.1, True)])
def test_first_light_above_five_degrees_is_asked_about(coldest, asked):
    # 5.1 °F are -15 °C: no source for the 5 °C
    rig = rig_of(FULL, coldest=coldest, capacity_ah=100.0)
    assert ("is it Fahrenheit or a noon?" in missing(rig).sentence) == asked
    assert ("5.1 °F are -15 °C" in missing(rig).sentence) == asked
    assert ("is it Fahrenheit, or a noon?" in cold_ceiling(rig, rig.circuits[0]).caution) == asked


def test_printed_watts_may_be_rounded():
    assert labels(rig_of(replace(FULL, p_label=100.0))).answer == "yes"


def test_missing_values_are_listed_with_what_stands_in():
    found = missing(rig_of(PANEL, PANEL))
    assert found.answer == "close"
    assert "power with heat -0.466" in found.sentence
    assert "series fuse" not in found.sentence
    side_by_side = replace(tiny_rig((PANEL,) * 2, (0,), (1,)))
    assert "largest series fuse not on the label" in missing(side_by_side).sentence
    assert missing(rig_of(FULL, capacity_ah=100.0)).answer == "yes"


# Coldest and hottest


def test_coldest_is_dawn_less_the_published_difference_to_a_rare_low():
    # Sand Point TMY3: coldest hour of the typical year -15.0 °C; 20-year lows lie 5 to 11 K below
    import pandas as pd
    import pvlib

    path = f"{pvlib.__path__[0]}/data/703165TY.csv"
    air = pd.read_csv(path, skiprows=1)["Dry-bulb (C)"]
    found = coldest_dawn("sand-point")
    assert RARE_COLD == (5.0, 11.0)
    assert air.min() - 11.0 <= found.temp_coldest <= air.min() + 5.0 - 11.0
    assert "20-year low" in found.basis
    assert "at dawn" in found.basis


def test_a_warm_noon_does_not_hide_a_cold_dawn(tmp_path):
    path = tmp_path / "year.csv"
    lines = ["time,ghi,temp_air"]
    for day in np.arange("2025-01-01", "2026-01-01", dtype="datetime64[D]"):
        for hour, (light, temp) in enumerate(
            [(0, -20.0)] * 6 + [(0, -6.0), (50, -4.0)] + [(600, 12.0)] * 8 + [(0, 0.0)] * 8
        ):
            lines.append(f"{day} {hour:02}:00,{light},{temp}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert coldest_dawn(str(path)).temp_coldest == pytest.approx(-6.0 - 11.0)


def test_file_of_a_few_days_gives_no_record_low(tmp_path):
    path = tmp_path / "week.csv"
    path.write_text("time,ghi,temp_air\n2026-06-01 10:00,100,5\n2026-06-01 11:00,200,6\n", encoding="utf-8")
    with pytest.raises(ValueError, match="holds 1 day in 1 of 12 months; the coldest of a year may be missing"):
        coldest_dawn(str(path))


def test_glued_panels_get_hotter_than_open_ones():
    glued, free = (hottest_cells((replace(FULL, mount=mount),), "greensboro") for mount in ("glued", "open"))
    assert 55 < free < glued < 95


def test_burst_of_light_of_a_minute_does_not_make_the_hottest_cells(tmp_path):
    # 700 W/m² for half an hour, but for one minute of 1400 at a cloud's edge
    light = [1400 if minute == 20 else 700 for minute in range(40)]
    rows = "".join(f"2026-06-21 12:{minute:02d},{g},25,0.5\n" for minute, g in enumerate(light))
    path = tmp_path / "minutes.csv"
    path.write_text("time,ghi,temp_air,wind_speed\n" + rows, encoding="utf-8")
    steady = tmp_path / "steady.csv"
    steady.write_text(path.read_text(encoding="utf-8").replace("1400", "700"), encoding="utf-8")
    burst, calm = (hottest_over((FULL,), Days(weather=str(file), day="all")) for file in (path, steady))
    assert calm < burst <= calm + 5


@given(st.dictionaries(st.text("abc", min_size=1, max_size=3), st.floats(-50, 20), min_size=1, max_size=5))
def test_coldest_place_of_the_plan_counts(places):
    climate = climate_over(places)
    assert climate.temp_coldest == min(places.values())
    assert len(climate.places) == len(places)


def test_plan_without_a_place_is_refused():
    with pytest.raises(ValueError, match="name at least one place"):
        climate_over({})


def test_plan_colder_than_the_temperature_that_counts_is_refused_and_named():
    with pytest.raises(ValueError, match="pass of the year's plan has -22 °C, and the coldest counts"):
        Climate(temp_coldest=-3.0, places=(("coast", -3.0), ("pass", -22.0)))
    rig = replace(rig_of(FULL), climate=climate_over({"coast": -3.0, "pass": -22.0}))
    assert "pass is the coldest of 2 places" in cold_ceiling(rig, rig.circuits[0]).basis


def test_limit_of_a_battery_in_milliamps_is_refused():
    with pytest.raises(ValueError, match="Are these milliamps"):
        Battery(name="b", v_nominal=12, v_now=13, v_absorption=14, i_accept_max=50000)


def test_every_trap_of_the_outside_numbers_names_a_test_that_is_there():
    named = re.findall(r"`(test_\w+)`", (REFERENCE / "README.md").read_text(encoding="utf-8"))
    there = "".join(path.read_text(encoding="utf-8") for path in REFERENCE.parent.glob("test_*.py"))
    assert len(named) > 20
    assert [name for name in named if f"def {name}(" not in there] == []
