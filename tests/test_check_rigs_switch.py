"""A plain switch with its panels in series: everything `check` says of it, and what each output makes of it.

Two panels of 18.5 V x 5.92 A and 6.25 A at short circuit, two in series on a 12 V battery held at 13.3 V. A plain
switch ties them to the battery, so by hand they give their short-circuit amps there: 6.25 A x 13.3 V = 83 W of
2 x 18.5 V x 5.92 A = 219 W, and in parallel 2 x 6.25 A x 13.3 V = 166 W.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pvlib
import pytest
from conftest import PANEL, tiny_rig
from scipy.optimize import brentq
from test_checks import pvlib_curve

from vanpower.checks.glance import subject
from vanpower.checks.registry import check, failed, refusal
from vanpower.checks.switch import plain_switch
from vanpower.files.controllers import read_controllers
from vanpower.files.rig_files import example
from vanpower.rig import Battery, Cable, Controller, Days, Panel, Rig, Snapshot
from vanpower.studies.comparison import compare
from vanpower.studies.ranking import rank_wirings
from vanpower.studies.shortlist import shortlist

TO_THE_BATTERY = 0.98
# share of the short-circuit amps that a string of twice the battery's volts still gives, less its shunt's; arithmetic
NOON = Snapshot(light=1000.0, temp_cell=25.0)
SERIES = {
    "Cold ceiling": "yes", "Input current": "yes", "String fuse": "close", "Reverse current": "no",
    "Battery feed": "yes", "Plugs": "yes", "Cable current": "yes", "Battery side": "yes", "Isolator": "yes",
    "Touch": "close", "Cold charging": "yes", "Charge current": "yes", "Charge settings": "yes", "Start": "yes",
    "Hot floor": "yes", "Plain switch": "no", "Cable": "yes", "Clipping": "yes", "Labels": "yes", "Missing": "yes",
}  # fmt: skip
# what every check has to say of two in series: the battery feeds back through a switch, and its 30 A fuse opens for
# sure from 1.45 x 30 A = 43.5 A only (IEC 60269-6), over the 12 A that the label stands; 2 x 22.3 V are 49.6 V at
# -11 °C, over the 30 V of a wet place (IEC 60364-4-41 414.4.5)


def van(wiring: str = "2s") -> Rig:
    """The bookmobile with a plain switch that stands 100 V."""
    rig = example("bookmobile").wired(wiring)
    switch = replace(rig.circuits[0].controller, name="plain switch", tracker="direct", v_pv_max=100.0)
    return replace(rig, circuits=(replace(rig.circuits[0], controller=switch),))


def test_every_check_of_two_in_series_on_a_plain_switch():
    assert {subject(verdict): verdict.answer for verdict in check(van())} == SERIES


def test_side_by_side_their_volts_suit_it_and_are_those_of_one_panel():
    told = {subject(verdict): verdict.answer for verdict in check(van("2p"))}
    assert told == SERIES | {"Plain switch": "yes", "Touch": "yes", "Circulating current": "yes"}


def test_watts_of_a_plain_switch_are_amps_at_the_batterys_volts():
    said = plain_switch(van(), van().circuits[0]).sentence
    watts = float(said.split(" give ")[1].split()[0])
    assert TO_THE_BATTERY * 6.25 * 13.3 < watts <= 6.25 * 13.3
    assert "Re-plugged as 2p the same panels give 165 W." in said


def test_usual_panels_of_36_cells_are_fine_and_60_cells_on_12_v_only_a_tracker_saves():
    panel = replace(PANEL, v_oc=38.0, v_mp=31.0, cells_in_series=60, substrings=3)
    switch = Controller(name="plain switch", v_pv_max=60.0, i_charge_max=30.0, tracker="direct")
    answers = {}
    for cells, one in ((36, PANEL), (60, panel)):
        rig = tiny_rig((one,), (0,))
        rig = replace(rig, circuits=(replace(rig.circuits[0], controller=switch),))
        answers[cells] = plain_switch(rig, rig.circuits[0])
    assert [answers[cells].answer for cells in (36, 60)] == ["yes", "no"]
    # by hand 1 - 6 A x 13 V / (31 V x 5.6 A) = 55 % are lost
    assert "(54 %)" in answers[60].sentence or "(55 %)" in answers[60].sentence
    assert answers[60].sentence.endswith("Only a controller that tracks takes the rest.")


def test_panels_too_low_for_the_battery_give_nothing_and_are_told_what_would():
    rig = van("2p")
    tall = replace(rig, battery=Battery(name="24 V", v_nominal=24, v_now=26.6, v_absorption=28.4))
    verdict = plain_switch(tall, tall.circuits[0])
    assert verdict.answer == "no"
    assert "give 0 of " in verdict.sentence
    assert "Re-plugged as 2s" in verdict.sentence


def switched(panel: Panel, wiring: tuple[tuple[int, ...], ...], volts: float) -> Rig:
    """Such panels on a plain switch and a battery of so many volts, without a cable."""
    rig = tiny_rig((panel,) * sum(map(len, wiring)), *wiring)
    box = replace(rig.circuits[0].controller, tracker="direct")
    battery = replace(rig.battery, v_nominal=12 if volts < 20 else 24, v_now=volts, v_absorption=1.1 * volts)
    return replace(rig, battery=battery, circuits=(replace(rig.circuits[0], cable=Cable(), controller=box),))


def solved(panel: Panel, wanted: Callable[[Callable[[float], float], float], float], low: float, high: float) -> float:
    """Volts between two at which something wanted of pvlib's amps over volts is nothing."""
    now = pvlib_curve(panel, 1000.0, 25.0)["now"]
    return brentq(lambda v: wanted(lambda each: float(pvlib.pvsystem.i_from_v(each, *now)), v), low, high)


@pytest.mark.parametrize(("lost", "answer"), [(29.0, "yes"), (31.0, "close"), (39.0, "close"), (41.0, "no")])
def test_three_tenths_lost_to_a_plain_switch_are_usual_and_four_are_a_no(lost, answer):
    # 40 cells: 20 V x 5.6 A; the shares are common practice, no source
    panel = replace(PANEL, v_oc=24.4, v_mp=20.0, cells_in_series=40)
    volts = solved(panel, lambda amps, v: 100 * (1 - v * amps(v) / panel.p_mp) - lost, 8.0, 18.0)
    rig = switched(panel, ((0,),), volts)
    verdict = plain_switch(rig, rig.circuits[0])
    assert verdict.answer == answer
    assert f"({lost:.0f} %)" in verdict.sentence


@pytest.mark.parametrize(("times", "told"), [(1.08, False), (1.12, True)])
def test_another_wiring_is_told_from_a_tenth_more_watts(times, told):
    # volts at which two in parallel send so many times the amps of two in series, which have half of them each
    panel = replace(PANEL, v_oc=26.8, v_mp=21.9, cells_in_series=44)
    volts = solved(panel, lambda amps, v: 2 * amps(v) / amps(v / 2) - times, 22.0, 26.5)
    rig = switched(panel, ((0, 1),), volts)
    assert ("Re-plugged as 2p" in plain_switch(rig, rig.circuits[0]).sentence) == told


def test_a_tracking_controller_is_not_asked():
    assert "Plain switch" not in {subject(verdict) for verdict in check(example("bookmobile"))}


def test_answers_that_were_asked_of_watts_alone_say_it_as_well():
    assert "Plain switch" in {subject(verdict) for verdict in failed(van())}
    told = compare(van().wirings(), NOON)
    assert told.ranking == ["2p", "2s"]
    # both lack a fuse against the battery's current
    assert [line.split()[4:6] for line in told.text().splitlines()[1:]] == [["parts", "cable"], ["parts,", "wastes"]]
    assert "2s does not work for this van: its plain switch throws much away" in told.verdict.sentence
    listed = rank_wirings(van(), NOON)
    assert [(one.name, one.short) for one in listed.ranked] == [("2p", ""), ("2s", "its plain switch throws much away")]


def test_an_overloaded_switch_is_out_wherever_wirings_are_ranked():
    # 1.25 x 2 x 6.25 A = 15.6 A through a switch for 12 A, which cannot hold them back
    rig = van("2p")
    small = replace(rig.circuits[0].controller, i_charge_max=12.0, i_pv_sc_max=None)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=small),))
    assert "15.6 A" in refusal(rig).sentence
    assert [one.name for one in rank_wirings(rig, NOON).refused] == ["2p"]
    assert compare(rig.wirings(), NOON).outcomes["2p"].refused is not None


def test_a_controller_is_credited_with_what_re_plugging_does_not_bring():
    found = shortlist(van(), read_controllers(), Days(day="bright"))
    as_wired, free = found.mine
    assert (as_wired.choice.name, free.choice.name) == ("2s", "2p")
    # by the watts above, in parallel brings about twice as much
    assert free.wh_day == pytest.approx(2 * as_wired.wh_day, rel=0.08)
    for offer in found.offers:
        assert offer.extra_wh_day == pytest.approx(offer.wh_day - free.wh_day)
    lines = found.text().splitlines()
    assert [line[:20] for line in lines[1:3]] == ["what is there now   ", "the same, re-plugged"]
    assert [" 2s " in lines[1], " 2p " in lines[2]] == [True, True]
    assert "than re-plugging to 2p, which is free" in found.verdict.sentence


def test_where_re_plugging_alone_mends_it_nothing_is_bought():
    dear = Controller(name="the same again", v_pv_max=100.0, i_charge_max=20.0, tracker="direct", price=90.0)
    verdict = shortlist(van(), (dear,), Days(day="bright")).verdict
    assert verdict.answer == "no"
    assert verdict.sentence.startswith("Keep the controller and re-plug the panels to 2p, which is free")


def test_what_may_not_stay_as_it_is_wired_may_stay_re_plugged():
    # two in series reach 49.5 V at -11 °C, one 24.8 V, under a ceiling of 30 V
    rig = example("bookmobile")
    low = replace(rig.circuits[0].controller, v_pv_max=30.0)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=low),)).wired("2s")
    found = shortlist(rig, read_controllers(), Days(day="dull"))
    assert (found.now.passes, found.free.passes, found.free.choice.name) == (False, True, "2p")
    assert found.verdict.sentence.startswith("As it is wired it must not stay: ")


def test_no_plain_switch_is_re_plugged_into_what_another_check_refuses():
    # 21.6 V beside 37.3 V burn each other (tests/test_circulating.py): 2s is not told to become 2p
    tall = Panel(name="tall", v_oc=37.3, i_sc=6.2, v_mp=30.8, i_mp=5.8, cells_in_series=60, substrings=3, i_max_fuse=15)
    low = Panel(name="low", v_oc=21.6, i_sc=6.2, v_mp=17.5, i_mp=5.7, cells_in_series=36, substrings=2, i_max_fuse=10)
    rig = replace(van("2s"), panels=(low, tall))
    said = plain_switch(rig, rig.circuits[0]).sentence
    assert "2p" not in said
    assert "Only a controller that tracks" in said
