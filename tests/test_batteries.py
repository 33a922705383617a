"""The house battery: rest volts, charge stages, frost, and watt-hours that add up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import rows, worked_example

from vanpower.components.batteries import (
    ABSORPTION,
    BULK,
    CHEMISTRIES,
    FLOAT,
    BatteryState,
    daily_watts,
    filled_battery,
    load_watts,
)
from vanpower.files.rig_files import rig_to_toml
from vanpower.files.rig_tables import rig_of
from vanpower.rig import BATTERY_KINDS, Battery, Load

LITHIUM = Battery(name="12 V", v_nominal=12, v_now=13.2, v_absorption=14.2, capacity_ah=100.0)
LEAD = replace(LITHIUM, chemistry="lead-acid", v_absorption=14.4, capacity_ah=90.0)
EVERY = [
    replace(LITHIUM if kind in ("lithium iron phosphate", "other lithium") else LEAD, chemistry=kind)
    for kind in BATTERY_KINDS
]
MEASURED = [row for row in rows("lfp_ocv_soc.csv") if row["quantity"].startswith("mean of the two branches")]


def charge(battery: Battery, soc_pct: float, temp: float = 20.0) -> BatteryState:
    return BatteryState(filled_battery(replace(battery, soc_start_pct=soc_pct)), temp)


@pytest.mark.parametrize("row", MEASURED, ids=lambda row: row["soc_percent"])
def test_rest_volts_of_lithium_iron_phosphate_are_those_measured(row):
    """University of Colorado ESC toolbox test data, mean of slow charge and discharge."""
    store = filled_battery(LITHIUM)
    assert store.v_rest(float(row["soc_percent"]) / 100) == pytest.approx(4 * float(row["value"]), abs=2e-4)


def test_rest_volts_lie_between_the_measured_charge_and_discharge_branches():
    store = filled_battery(LITHIUM)
    for row in rows("lfp_ocv_soc.csv"):
        above = store.v_rest(float(row["soc_percent"]) / 100) / 4 - float(row["value"])
        assert "branches" in row["quantity"] or (above < 0) == ("slow charge" in row["quantity"])


@pytest.mark.parametrize(("volts", "open_by"), [(3.28, 15), (3.29, 20), (3.30, 30), (3.31, 30), (3.32, 30), (3.34, 20)])
def test_volts_of_the_measured_cell_leave_its_charge_open_by_many_points(volts, open_by):
    # why no charge is ever told from volts: a slow charge and a slow discharge reach the same volts so far apart
    rest, slow = rows("lfp_ocv_soc.csv"), {}
    for way in ("slow charge", "slow discharge"):
        points = [(float(row["value"]), float(row["soc_percent"])) for row in rest if way in row["quantity"]]
        slow[way] = float(np.interp(volts, *np.transpose(points)))
    assert slow["slow discharge"] - slow["slow charge"] > open_by


def test_mean_volts_over_the_whole_charge_are_between_those_of_slow_charge_and_discharge():
    """The mean volts stand in another row of the same test; they were integrated from the raw file."""
    mean = {
        row["quantity"]: float(row["value"])
        for row in rows("battery_charging.csv")
        if "mean voltage" in row["quantity"]
    }
    store = filled_battery(LITHIUM)
    ours = store.energy_wh(1.0) / store.capacity_ah / 4
    assert mean["LFP mean voltage, slow discharge"] < ours < mean["LFP mean voltage, slow charge"]


def test_rest_volts_of_lead_acid_and_its_usual_values_are_the_quoted_ones():
    quoted = {(row["quantity"], row["condition"]): row["value"] for row in rows("battery_charging.csv")}
    store = filled_battery(LEAD)
    for share in (0, 25, 50, 75, 100):
        volts = float(quoted["flooded 12 V rest voltage", f"{share} % SoC, 20 degC, +-0.05 V"])
        assert store.v_rest(share / 100) == pytest.approx(volts, abs=1e-6)
    kind = CHEMISTRIES["lead-acid"]
    assert kind.coulombic == float(quoted["Lead-acid coulombic efficiency", "typical"])
    assert kind.c_accept == float(quoted["VRLA maximum initial charge current", ""])


def test_float_volts_of_lead_acid_follow_the_heat_as_published():
    """Example B1: 2.30 V a cell at 25 °C is 2.27 V at 35 and 2.33 V at 15 °C, BU-403."""
    example = worked_example("B1")
    battery = replace(LEAD, v_float=6 * example["float_25C"])
    assert filled_battery(battery).v_per_k == pytest.approx(6 * example["slope"] / 1000)
    for temp in (35, 15):
        held = charge(battery, 100, temp)
        held.stage = FLOAT
        assert held.v_held() / 6 == pytest.approx(example[f"float_{temp}C"], abs=1e-6)


def test_lithium_charge_settings_do_not_follow_the_heat():
    assert charge(LITHIUM, 50, 5.0).v_held() == charge(LITHIUM, 50, 40.0).v_held() == 14.2


def test_bulk_takes_all_there_is():
    house = charge(LITHIUM, 50)
    assert house.step(300.0, 0.0, 1 / 6) == (300.0, 0.0)
    assert house.stage == BULK


def test_terminal_volts_are_rest_plus_amps_times_resistance():
    house = charge(LITHIUM, 50)
    rest = house.rest
    house.step(300.0, 0.0, 1 / 6)
    assert house.v == pytest.approx(rest + 300.0 / house.v * 0.010)


def charged(house: BatteryState, p_solar: float, hours: float) -> list[tuple[int, float, float]]:
    """Stage, volts and watts taken, step by step."""
    taken = []
    for _ in range(round(hours * 6)):
        used, _ = house.step(p_solar, 0.0, 1 / 6)
        taken.append((house.stage, house.v, used))
    return taken


@pytest.mark.parametrize("battery", [LITHIUM, LEAD], ids=["lithium", "lead"])
def test_stages_follow_each_other_and_volts_stay_at_their_settings(battery):
    house = charge(battery, 60, 25.0)
    log = charged(house, 200.0, 20)
    stages = [stage for stage, _, _ in log]
    assert stages == sorted(stages)
    assert {BULK, FLOAT} <= set(stages)
    assert max(volts for _, volts, _ in log) <= battery.v_absorption + 1e-9
    # where rest volts lie above the float setting, the battery shows those
    assert log[-1][1] <= max(house.store.v_float, house.rest) + 1e-9


def test_absorption_of_lead_acid_tapers_and_ends_by_tail_amps_or_by_time():
    by_time, by_tail = (charge(replace(LEAD, absorption_h=h, i_tail=i), 90, 25.0) for h, i in ((1.0, 0.1), (9.0, 6.0)))
    logs = [charged(house, 200.0, 9) for house in (by_time, by_tail)]
    held = [[watts / volts for stage, volts, watts in log if stage == ABSORPTION] for log in logs]
    assert held[0] == sorted(held[0], reverse=True)
    assert len(held[0]) in (5, 6)
    assert held[0][-1] > 0.1
    assert held[1][-1] > 6.0
    assert len(held[1]) < 9 * 6


def test_battery_that_takes_its_most_amps_stands_at_rest_plus_amps_times_resistance():
    house = charge(replace(LITHIUM, i_accept_max=20.0), 50)
    rest = house.rest
    used, _ = house.step(1000.0, 0.0, 1 / 6)
    assert house.v == pytest.approx(rest + 20.0 * 0.010)
    assert used == pytest.approx(20.0 * house.v)
    assert house.stage == BULK


def test_trickle_pays_for_its_charge_like_any_other():
    house = charge(LEAD, 60, 25.0)
    used, _ = house.step(9.0, 0.0, 1.0)
    assert 0 < used / house.v < 1
    assert house.soc - 0.6 == pytest.approx(0.85 * used / house.v / 90.0)


def test_controller_that_wakes_holds_absorption_as_long_as_on_any_other_day():
    fresh, again = (charge(replace(LEAD, absorption_h=1.0, i_tail=0.1), 90, 25.0) for _ in range(2))
    charged(again, 200.0, 9)
    assert again.stage == FLOAT
    again.morning()
    assert again.stage == BULK
    again.soc, again.rest = fresh.soc, fresh.rest
    assert charged(again, 200.0, 9) == charged(fresh, 200.0, 9)


def test_full_battery_feeds_the_loads_and_takes_nothing():
    """Why only 20 W at noon: the battery is full."""
    house = charge(LITHIUM, 100)
    house.step(300.0, 20.0, 1 / 6)
    used, served = house.step(300.0, 20.0, 1 / 6)
    assert (used, served) == pytest.approx((20.0, 20.0), abs=0.5)


def test_frost_locks_the_charge_and_warmth_releases_it_only_above_its_own_mark():
    house = charge(replace(LITHIUM, temp_lockout=0.0, temp_release=4.0, lag_h=0.0), 50, 10.0)
    locked = []
    for temp in (1.0, -0.5, 1.0, 3.9, 4.0, 1.0):
        house.warm(temp, 1.0)
        locked.append(house.locked)
    assert locked == [False, True, True, True, False, False]


def test_lithium_is_locked_below_zero_and_free_from_three_degrees_up():
    for temp, locked in ((0.0, False), (-0.01, True)):
        assert charge(LITHIUM, 50, temp).locked == locked
    house = charge(LITHIUM, 50, -1.0)
    for temp, locked in ((2.99, True), (3.0, False)):
        house.warm(temp, 1e9)
        assert house.locked == locked


def test_locked_battery_takes_no_amps_but_the_sun_still_feeds_the_loads():
    house = charge(LITHIUM, 50, -5.0)
    assert house.step(300.0, 20.0, 1 / 6) == (20.0, 20.0)
    assert house.soc == 0.5


def test_lead_acid_is_charged_in_frost():
    assert charge(LEAD, 50, -10.0).step(100.0, 0.0, 1 / 6)[0] == 100.0


def test_controller_that_does_not_charge_feeds_the_loads_before_the_others_do():
    house = charge(LITHIUM, 50)
    assert house.step(100.0, 30.0, 1 / 6, p_idle=50.0) == (130.0, 30.0)
    assert house.step(0.0, 30.0, 1 / 6, p_idle=50.0) == (30.0, 30.0)
    used, served = house.step(0.0, 80.0, 1 / 6, p_idle=50.0)
    assert (used, served) == (50.0, 80.0)


def test_kinds_of_lead_acid_behave_alike_and_fifteen_cells_are_fifteen():
    stores = [
        filled_battery(replace(LEAD, chemistry=kind)) for kind in ("flooded lead-acid", "AGM", "gel", "lead-acid")
    ]
    assert len({store.rest for store in stores}) == 1
    block = replace(LITHIUM, v_nominal=48, v_now=50.0, v_absorption=54.0, cells=15)
    assert filled_battery(block).v_rest(0.5) == pytest.approx(15 * 3.3081)
    assert filled_battery(replace(block, cells=None)).v_rest(0.5) == pytest.approx(16 * 3.3081)


def test_run_of_other_lithium_says_that_its_volts_are_a_guess():
    store = filled_battery(replace(LITHIUM, chemistry="other lithium", v_absorption=12.6))
    assert any("rest volts of other lithium are not known here" in note for note in store.notes)
    assert store.v_rest(1.0) < 12.6
    assert store.temp_lockout == 0.0


def test_lithium_is_locked_at_the_temperature_makers_state():
    quoted = [row for row in rows("battery_charging.csv") if row["quantity"] == "LFP charge below 0 degC"]
    assert quoted[0]["value"] == "0"
    assert CHEMISTRIES["lithium iron phosphate"].temp_lockout == 0.0


def test_battery_follows_the_air_with_its_lag():
    house = charge(replace(LITHIUM, lag_h=6.0), 50, 20.0)
    house.warm(0.0, 6.0)
    assert house.temp == pytest.approx(20.0 / np.e)


def test_loads_are_cut_when_flat_and_return_only_after_some_charge():
    house = charge(replace(LITHIUM, usable_pct=80.0), 20)
    assert house.step(0.0, 50.0, 1 / 6)[1] == pytest.approx(0.0, abs=1e-9)
    assert house.cut
    house.step(200.0, 50.0, 1 / 6)
    assert house.cut
    while house.cut:
        house.step(200.0, 50.0, 1 / 6)
    assert house.soc == pytest.approx(0.25, abs=0.05)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(EVERY), st.floats(0, 100), st.floats(-20, 40),
    st.lists(st.tuples(st.floats(0, 900), st.floats(0, 400), st.floats(0, 300)), min_size=1, max_size=40),
)  # fmt: skip
def test_watt_hours_in_are_watt_hours_stored_served_and_lost(battery, soc, temp, steps):
    house = charge(battery, soc, temp)
    before = house.store.energy_wh(house.soc)
    inside = 0.0
    for p_solar, p_load, p_idle in steps:
        lost = house.lost_wh
        used, served = house.step(p_solar, p_load, 1 / 60, p_idle)
        assert 0 <= served <= p_load + 1e-9
        fed = min(p_idle, served)
        assert min(served, p_solar + fed) - 1e-9 <= used <= p_solar + fed + 1e-9
        inside += (used - served) / 60
        assert house.lost_wh >= lost - 1e-9
    stored = house.store.energy_wh(house.soc) - before
    # rest volts are taken at the start of a step; what that leaves shrinks with the step
    assert inside == pytest.approx(stored + house.lost_wh, abs=0.02 * len(steps))


def test_usable_share_counts_from_full():
    store = filled_battery(replace(LITHIUM, usable_pct=80.0))
    assert store.usable_wh == pytest.approx(80 * 4 * 3.32, rel=0.01)


def test_missing_capacity_is_refused_with_what_to_write():
    with pytest.raises(ValueError, match="capacity_ah of 12 V is not given; a run through time needs it, in Ah"):
        filled_battery(replace(LITHIUM, capacity_ah=None))


def test_loads_add_up_by_periods_hours_and_over_midnight():
    loads = (
        Load(name="fridge", p_load=20.0),
        Load(name="night light", p_load=6.0, from_h=22.0, to_h=2.0),
        Load(name="cooking", p_hourly=(0.0,) * 12 + (600.0,) + (0.0,) * 11),
    )
    assert daily_watts(loads).sum() / 60 == pytest.approx(20 * 24 + 6 * 4 + 600)
    hours = load_watts(loads, np.arange(24.0), 1.0)
    assert list(hours[[0, 3, 12, 21, 23]]) == pytest.approx([26, 20, 620, 20, 26])


@pytest.mark.parametrize("step_h", [1 / 60, 1 / 6, 0.25, 1.0, 3.0])
def test_a_days_load_is_the_same_at_any_step(step_h):
    loads = (Load(name="pump", p_load=90.0, from_h=7.4, to_h=8.1),)
    watts = load_watts(loads, np.arange(round(24 / step_h)) * step_h, step_h)
    assert watts.sum() * step_h == pytest.approx(90 * 0.7)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("v_float", 14.9, "it lies at or below v_absorption"),
        ("usable_pct", 0.8, "Is it a share from 0 to 1"),
        ("r_internal", 8.0, "Are these milliohms?"),
        ("temp_release", 3.0, "needs temp_lockout"),
        ("compensation_mv_per_k", 18.0, "negative or 0"),
    ],
)
def test_impossible_battery_is_refused_with_the_likely_slip(field, value, words):
    with pytest.raises(ValueError, match=words):
        replace(LITHIUM, **{field: value})


def test_battery_settings_and_loads_come_back_from_a_file_as_they_were():
    rig = tiny_rig((PANEL,), (0,))
    battery = replace(LITHIUM, v_float=13.4, temp_lockout=2.0, temp_release=5.0, other_chargers="alternator")
    loads = (Load(name="fridge", p_load=20.0, from_h=22.0, to_h=6.5), Load(name="all", p_hourly=(1.5,) * 24))
    rig = replace(rig, battery=battery, loads=loads)
    assert rig_of(rig_to_toml(rig), "rig.toml") == rig


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ('p_hourly = "24 W"', 'line 36, load 1: p_hourly is "24 W"; it is a list of 24 numbers'),
        ("p_hourly = [1, 2]", "load 1: p_hourly is (1.0, 2.0); it is a list of 24 watts"),
        ("watt = 3", "watt is not a key here; p_load takes the watts"),
        ("p_load = -3", "a value from 0 to 20000 W makes sense"),
    ],
)
def test_wrong_load_in_a_file_is_told_at_its_line(wrong, told):
    text = rig_to_toml(tiny_rig((PANEL,), (0,)))
    at = text.index("[[circuits]]")
    text = f'{text[:at]}[[loads]]\nname = "lamp"\n{wrong}\n\n{text[at:]}'
    line = 1 + text[: text.index(wrong)].count("\n")
    with pytest.raises(ValueError, match="load 1") as caught:
        rig_of(text, "rig.toml")
    assert told.replace("line 36", f"line {line}") in str(caught.value)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({}, "either p_load or 24 values"),
        ({"p_load": 5.0, "p_hourly": (1.0,) * 24}, "either p_load or 24 values"),
        ({"p_hourly": (1.0,) * 23}, "a list of 24 watts"),
        ({"p_load": 5.0, "from_h": 7.0, "to_h": 7.0}, "All day is 0 to 24"),
    ],
)
def test_impossible_load_is_refused(words, told):
    with pytest.raises(ValueError, match=told):
        Load(name="x", **words)
