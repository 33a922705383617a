"""What one output forbids no other calls in order: a wiring that never wakes, and one over its controller's ceiling."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from foreign_rigs import FOREIGN, foreign

from vanpower import (
    Days,
    FaultReadings,
    Rig,
    Snapshot,
    Source,
    Stop,
    check,
    commission,
    example,
    find_fault,
    rig_model,
    simulate,
    walk_trip,
)
from vanpower.checks.registry import failed, refusal, shortfalls
from vanpower.form.desk import Desk
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


DRIVEN = Stop(name="coast", weather="miami", from_day="07-04", to_day="07-05", drive_h=2.0, shore=True)
BARE = VANS["unlike"].changed(
    loads=(), sources=(Source(name="belt", kind="alternator", i_charge_max=20.0),)
)  # no loads, and a charger that a day knows no hours of
FILE_WORDS = re.compile(r"\[\[?[a-z.]+\]\]?|(?<!\()\b(?:from_h|to_h|i_charge_max|every_days|p_load)\b")
# tables of a rig file, and keys that are no word beside what a person calls them


@pytest.mark.parametrize("rig", [*ALL.values(), BARE], ids=[*ALL, "bare"])
def test_no_answer_asks_for_a_table_or_a_key_of_a_file_which_readers_of_the_form_have_not(rig):
    answers = [*check(rig), walk_trip(rig, (DRIVEN,), changes=False).verdict]
    if refusal(rig) is None:
        answers.append(simulate({"it": rig}, Days(weather="miami", day="07-04")).verdict)
    for verdict in answers:
        for said in (verdict.question, verdict.sentence, verdict.basis, verdict.caution):
            assert not FILE_WORDS.search(said), said


def test_a_charger_that_is_missing_is_called_as_the_form_calls_its_box(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = walk_trip(example("bookmobile"), (DRIVEN,), changes=False).verdict.sentence
    assert "no charger from the alternator is among its other chargers." in said
    assert "no charger for it is among its other chargers." in said
    (fold,) = (part["title"] for part in Desk().shape() if part.get("fold") == "sources")
    assert fold.startswith("Other chargers")
