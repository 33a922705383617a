"""What one output forbids no other calls in order: a wiring that never wakes, and one over its controller's ceiling."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from foreign_rigs import BIG, FOREIGN, SMALL, foreign, written
from random_vans import random_van
from test_sheet import BURN, UNFIT

from vanpower import (
    Days,
    FaultReadings,
    Load,
    Rig,
    Snapshot,
    Source,
    Stop,
    Wiring,
    check,
    commission,
    compare,
    example,
    find_fault,
    rank_wirings,
    rig_model,
    shortlist,
    simulate,
    walk_trip,
)
from vanpower.checks.caveats import short_word
from vanpower.checks.glance import subject
from vanpower.checks.labels import contradictions
from vanpower.checks.registry import burning, failed, refusal, shortfalls, unmended
from vanpower.checks.settings_card import settings_card
from vanpower.cli import main
from vanpower.figures.sheet import sheet
from vanpower.files.rig_tables import rig_of
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
    # 4p of the puppet stage never wakes, and its card said "not known before it is measured"; and a plain switch whose
    # panels name no fuse, which the check calls NOT STATED, was not to be joined, with nothing to mend
    stated = [verdict for verdict in failed(rig) if verdict.stated or verdict.margin < 0]
    card = commission(rig, light=LIGHT, temp_cell=TEMP).verdict
    assert card.answer == ("no" if refusal(rig) is not None or stated else "close")
    assert card.answer == "no" or all(subject(verdict) in card.sentence for verdict in failed(rig))


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
    said = "4p does not work for this van: never wakes"
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


def test_a_new_controller_is_weighed_at_the_frost_of_the_days_asked_for():
    found = shortlist(BARELY, (BARELY.circuits[0].controller,), FROST, rewire=False)
    assert not found.now.passes
    assert not found.offers[0].passes
    assert next_changes(BARELY, FROST).refused.startswith("2 in series reach ")


def test_moment_colder_than_the_plan_refuses_what_passes_the_ceiling_in_it():
    # its whole 211 W were told as lost to the ceiling, and the wiring as allowed
    found = compare({"2s": BARELY}, Snapshot(light=800, temp_cell=-30)).outcomes["2s"]
    assert float(found.lost["ceiling"][0]) > 200
    assert found.refused is not None


def test_days_milder_than_the_plan_leave_it_as_it_is():
    assert compare({"2s": BARELY}, Days(weather="greensboro", day="07-01")).outcomes["2s"].rig is BARELY


COACH = written(
    "Coach, eight at 48 V",
    f'{{ count = 8, name = "small", {SMALL} }}',
    f"battery = {BIG}",
    'wiring = "4s"\npanels = [1, 2, 3, 4]\ncontroller = { name = "150 V 20 A", v_pv_max = 150, i_charge_max = 20 }',
    'wiring = "2s2p"\npanels = [5, 6, 7, 8]\ncontroller = { name = "100 V 20 A", v_pv_max = 100, i_charge_max = 20 }',
)
# the second controller never wakes: two in series have 44.6 V open, and its battery of 52.8 V asks for 57.8 V


@pytest.fixture
def coach(tmp_path, monkeypatch) -> str:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "coach.toml").write_text(COACH)
    return "coach.toml"


@pytest.mark.parametrize(
    "words", ["check coach.toml --list", "answer coach.toml --light 800", "compare coach.toml --light 60"]
)
def test_whatever_is_wrong_names_the_circuit_in_which_it_is(words, coach, capsys):
    # 4s of the first four was called out for volts of the other four
    main(words.split())
    assert "P5+P6 | P7+P8" in " ".join(capsys.readouterr().out.split())


def test_page_of_two_controllers_is_one_page(coach):
    # "2 controllers and what is to say of them do not fit on one page"
    page = sheet(rig_of(COACH, coach))
    assert min(text.get_fontsize() for text in page.texts) >= 6.0
    assert any("NOT STATED" in text.get_text() for text in page.texts)


def test_nothing_is_to_buy_for_a_wiring_that_never_wakes():
    # the page called for an isolator and plugs of a wiring that its own head said to change
    assert [verdict.question.partition(":")[0] for verdict in unmended(NEVER_WAKES)] == ["Start", "Hot floor"]
    texts = [text.get_text() for text in sheet(NEVER_WAKES).texts]
    assert "To buy: nothing yet" in texts


def test_number_in_series_is_not_advised_over_the_ceiling():
    # 24 V asks for 31.8 V to wake: two of 23.1 V, 51.8 V at -17 °C, which pass a ceiling of 50 V
    low = NEVER_WAKES.with_controller(v_pv_max=50.0)
    assert "At least 2 of these in series reach it." in check(NEVER_WAKES)["start"].sentence
    for name in ("start", "hot floor"):
        assert "they pass the ceiling: it wants a controller with a higher ceiling" in check(low)[name].sentence


def test_plain_switch_is_not_told_to_double_volts_that_it_throws_away():
    rig = VANS["plain switch"]
    hot = check(rig.with_battery(v_absorption=15.5, chemistry="flooded lead-acid", v_now=12.9))["hot floor"]
    assert hot.margin < 0
    assert "in series" not in hot.sentence


def test_settings_say_whose_amps_pull_the_volts_down():
    # 5 W at 12.2 V were "0 A of load", and 20 A that no file has were "20 A of load"
    small = settings_card(VANS["plain switch"].with_load(Load(name="lamp", p_load=5.0))).text()
    assert "less what 0.4 A of load pull" in " ".join(small.split())
    none = " ".join(settings_card(VANS["plain switch"]).text().split())
    assert "less what 20.0 A, 0.2 x Ah since no load is in the file" in none


def fitted_with(**parts: float) -> Rig:
    """The plain switch with one panel whose label names no fuse, and with parts fitted."""
    rig = VANS["plain switch"]
    return replace(
        rig, panels=rig.panels[:1], circuits=(replace(rig.circuits[0], wiring=Wiring(strings=((0,),)), **parts),)
    )


def test_battery_that_comes_back_into_a_panel_is_told_wherever_its_watts_are():
    # the list said "usually needs one", and the comparison "allowed"
    assert short_word(fitted_with()) == "parts"
    assert short_word(fitted_with(i_fuse_string=10.0)) == ""
    assert short_word(fitted_with(i_fuse_array=10.0)) == ""


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
    assert "none of its chargers is fed by the alternator." in said
    assert "no charger for it is among its other chargers." in said
    (fold,) = (part["title"] for part in Desk().shape() if part.get("fold") == "sources")
    assert fold.startswith("Other chargers")


def test_of_many_wirings_that_are_out_one_tells_the_numbers():
    # six of the lorry's eight were out, each with 150 letters of its own volts up to 24 in series
    found = compare(VANS["twenty-four"].wirings(), Snapshot(light=LIGHT, temp_cell=TEMP)).verdict.sentence
    assert len(re.findall(r"[\d.]+ V over the ceiling", found)) == 1
    assert "Out likewise: " in found
    assert "24s" in found


@pytest.mark.parametrize("words", ["fault coach.toml --volts 49 --amps 0", "hill coach.toml --before 39 35"])
def test_readings_of_one_of_two_controllers_say_which(words, coach, capsys):
    # 49 V of the second controller's two in series were a reversed panel among the first one's four, over 95 %
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert "1 is 150 V 20 A with P1+P2+P3+P4, 2 is 100 V 20 A with P5+P6 | P7+P8" in said
    main([*words.split(), "--circuit", "2"])
    assert "reversed panel" not in capsys.readouterr().out


NO_NUMBER = re.compile(r"\bnan\b|\binf\b|\bNone\b(?! needed| yet|\.)|(?<![\w.])-0(?:\.0+)?(?![\d.])")
SAFE = (*BURN, *UNFIT)
RANDOM = (2, 3, 7, 9, 32, 48)
# one panel; two controllers, of which one is a plain switch; 12 V; 48 V; one panel a controller; 24 panels on two


@pytest.mark.parametrize("seed", RANDOM)
def test_outputs_of_a_random_van_agree(seed):
    rig, light = rig_of(random_van(seed), "van.toml"), Snapshot(light=LIGHT, temp_cell=TEMP)
    found = check(rig)
    wrong = {subject(one) for one in found if one.answer == "no" and one.question.startswith(SAFE)}
    assert commission(rig, light=LIGHT, temp_cell=TEMP).verdict.answer == "no" or not wrong
    page = sheet(rig)
    assert ("To buy: nothing yet" in [text.get_text() for text in page.texts]) == bool(unmended(rig))
    ranking = rank_wirings(rig, light)
    for one in ranking.ranked:
        burns = (v for v in check(one.rig) if v.answer == "no" and v.question.startswith(BURN))
        assert all(subject(verdict, inside=True) in "; ".join(one.notes) for verdict in burns)
        assert bool(shortfalls(one.rig)) == bool(one.short)
    told = [str(found.table()), *map(str, found), ranking.text(), str(ranking.verdict), settings_card(rig).text()]
    assert not NO_NUMBER.search("\n".join([*told, *(text.get_text() for text in page.texts)]))


def test_label_that_contradicts_itself_is_told_wherever_watts_rest_on_it():
    # volts and amps of 114 W under a printed 155 W: the check said no, and watts were told as if nothing were wrong
    rig = VANS["one panel"]
    odd = replace(rig, panels=(rig.panels[0].changed(p_label=155.0),))
    said = contradictions(odd.panels[0])[0]
    assert check(odd)["labels"].answer == "no"
    for found in (compare({"1s": odd}, Snapshot(light=LIGHT, temp_cell=TEMP)), simulate({"1s": odd}, Days(day="dull"))):
        assert said in found.verdict.basis
    # meters were held against it as if it were sound
    for held in (commission(odd, light=LIGHT, temp_cell=TEMP), find_fault(odd, as_it_stands(odd, 0))):
        assert said in held.verdict.sentence
    assert "label" not in commission(rig, light=LIGHT, temp_cell=TEMP).verdict.sentence


@pytest.mark.parametrize("rig", ALL.values(), ids=ALL)
def test_comparison_calls_no_plain_yes_what_its_table_marks(rig):
    # "YES, 3p delivers 198 W", and the table beside it: parts, hot: no
    found = compare({"it": rig}, Snapshot(light=LIGHT, temp_cell=TEMP))
    assert not (short_word(rig) and found.verdict.answer == "yes")
    if found.outcomes["it"].refused is None:
        assert all(subject(verdict, inside=True) in found.verdict.sentence for verdict in burning(rig))


def test_second_controller_is_weighed_as_the_first_is():
    # whatever was wrong at the second, nothing was found that mends it, since the first alone was varied
    rig = VANS["two circuits"]
    first, second = (shortlist(rig, (rig.circuits[0].controller,), Days(day="dull"), circuit=k) for k in (0, 1))
    assert first.offers[0].choice.rig.circuits[1].controller == rig.circuits[1].controller
    assert second.offers[0].choice.rig.circuits[1].controller == rig.circuits[0].controller
    found = next_changes(rig, Days(day="dull"))
    for circuit in (0, 1):
        assert {"panel", "near", "cable"} <= {one.key for one in found.changes if one.circuit == circuit}
