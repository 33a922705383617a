"""What one output forbids no other calls in order: a wiring that never wakes, and one over its controller's ceiling."""

from __future__ import annotations

from dataclasses import replace

import pytest
from foreign_rigs import FOREIGN, foreign

from vanpower import (
    Days,
    FaultReadings,
    Rig,
    Snapshot,
    Stop,
    check,
    commission,
    compare,
    example,
    find_fault,
    rank_wirings,
    rig_model,
    simulate,
    walk_trip,
)
from vanpower.checks.registry import failed, refusal, shortfalls
from vanpower.simulation.budget import weeks_said
from vanpower.studies.next_changes import next_changes

LIGHT, TEMP = 800.0, 40.0
# [W/m², °C]
NEVER_WAKES = example("puppet-stage").with_controller(i_pv_sc_max=60).wired("4p")
OVER = example("puppet-stage").wired("4s")
VANS = {kind: foreign(kind) for kind in FOREIGN}
ALL = VANS | {"never wakes": NEVER_WAKES, "over": OVER}


def as_it_stands(rig: Rig, circuit: int) -> FaultReadings:
    """What meters show at a circuit in which nothing is broken."""
    here = rig_model(rig, Snapshot(light=LIGHT, temp_cell=TEMP)).operations[circuit]
    volts, amps = (here.v_array, here.i_array) if here.p_array[0] else (here.v_oc, here.i_array * 0.0)
    return FaultReadings(
        v_array=float(volts[0]), i_array=float(amps[0]), v_battery=rig.battery.v_now, light=LIGHT, temp_cell=TEMP
    )


@pytest.mark.parametrize("rig", ALL.values(), ids=ALL)
def test_card_lets_nothing_be_joined_that_a_check_wants_mended(rig):
    # 4p of the puppet stage never wakes, and its card said "not known before it is measured"
    wrong = refusal(rig) is not None or failed(rig) != ()
    assert commission(rig, light=LIGHT, temp_cell=TEMP).verdict.answer == ("no" if wrong else "close")


def test_sleeping_controller_is_not_in_order_where_its_wiring_never_wakes():
    found = find_fault(NEVER_WAKES, FaultReadings(v_array=20.5, i_array=0.0, v_battery=27.0, light=LIGHT))
    assert found.first == "asleep"
    assert check(NEVER_WAKES)["start"].answer == "no"
    assert found.verdict.answer == "no"
    assert check(NEVER_WAKES)["start"].sentence in found.verdict.sentence


def test_finding_names_the_ceiling_that_the_rig_is_over():
    found = find_fault(OVER, FaultReadings(v_array=70.0, i_array=0.0, v_battery=27.0, light=LIGHT))
    assert found.verdict.answer != "yes"
    assert check(OVER)["cold ceiling"].sentence in found.verdict.sentence


@pytest.mark.parametrize("rig", VANS.values(), ids=VANS)
def test_fault_calls_nothing_in_order_that_the_checks_call_unfit(rig):
    unfit = refusal(rig) is not None or shortfalls(rig) != ()
    for circuit in range(len(rig.circuits)):
        found = find_fault(rig, as_it_stands(rig, circuit), circuit=circuit)
        assert not (unfit and found.verdict.answer == "yes")


def test_trip_says_that_a_wiring_never_wakes_as_a_day_does():
    stop = Stop(name="harbour", weather="sand-point", from_day="12-01", to_day="12-01")
    trip = walk_trip(NEVER_WAKES, (stop,), changes=False)
    said = "4p does not work for this battery: never wakes"
    assert said in trip.verdict.sentence
    assert said in simulate({"4p": NEVER_WAKES}, Days(day="dull")).verdict.sentence


def test_year_without_loads_claims_no_week_that_carries_them():
    run = simulate({"2p": replace(example("bookmobile"), loads=())}, Days(weather="sand-point", day="all"))
    assert "52" not in weeks_said(run.weeks("2p"))
    assert "yes" not in run.budget("2p").table().text()


def test_largest_panels_get_an_answer_though_none_larger_can_be_described():
    # three times 13.85 A is 41.6 A, and no panel has more than 40: the whole answer was refused
    rig = example("bookmobile").wired("2s").with_controller(i_pv_sc_max=80)
    large = replace(rig, panels=tuple(replace(one, i_sc=39.0, i_mp=37.0, p_label=None) for one in rig.panels))
    stop = Stop(name="harbour", weather="sand-point", from_day="12-01", to_day="12-02")
    assert "times the panels" in walk_trip(large.with_load("cool box", p_load=900), (stop,)).verdict.sentence
    assert "panels of a quarter more watts" not in next_changes(large, Days(day="dull")).table().text()


BARELY = example("bookmobile").wired("2s").with_controller(v_pv_max=50.0)
# stays under its ceiling at the coldest dawn of its file, -11 °C, and not in a harder frost
FROST = Days(weather="greensboro", day="02-05")
# dawn at -16.7 °C


def test_days_colder_than_the_plan_refuse_what_a_check_of_that_frost_refuses():
    # 2s was allowed and thin, "reaches 49.6 V in frost", in days whose dawn brings 50.4 V
    there = BARELY.with_climate(temp_coldest=-16.7)
    assert refusal(BARELY) is None
    assert (over := refusal(there)) is not None
    stop = Stop(name="yard", weather="greensboro", from_day="02-05", to_day="02-05")
    said = [
        simulate({"2s": BARELY}, FROST).verdict,
        walk_trip(BARELY, (stop,)).verdict,
        rank_wirings(BARELY, FROST).refused[0].refused,
        compare({"2s": BARELY}, FROST).outcomes["2s"].refused,
    ]
    assert all(over.sentence in verdict.sentence for verdict in said if verdict is not None)
    assert {verdict.answer for verdict in said if verdict is not None} == {"no"}
    assert None not in said


def test_moment_colder_than_the_plan_refuses_what_passes_the_ceiling_in_it():
    # its whole 211 W were told as lost to the ceiling, and the wiring as allowed
    found = compare({"2s": BARELY}, Snapshot(light=800, temp_cell=-30)).outcomes["2s"]
    assert float(found.lost["ceiling"][0]) > 200
    assert found.refused is not None


def test_days_milder_than_the_plan_leave_it_as_it_is():
    assert compare({"2s": BARELY}, Days(weather="greensboro", day="07-01")).outcomes["2s"].rig is BARELY
