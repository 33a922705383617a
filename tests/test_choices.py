"""Every wiring, allowed and refused, with reasons; one more panel; and that no watts buy a way past the ceiling."""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.checks.fuses import can_be_fused
from vanpower.checks.registry import refusal
from vanpower.checks.volts import cold_ceiling
from vanpower.rig import Battery, Climate, Controller, Days, Rig, Snapshot, Wiring
from vanpower.studies.comparison import compare
from vanpower.studies.ranking import clipping_over, forbidden, rank_wirings

NOON = Snapshot(light=800.0, temp_cell=45.0)
JOINER = replace(PANEL, v_oc=22.4, v_mp=18.6, i_sc=9.5, i_mp=9.0, beta_voc_pct_per_k=-0.30, i_max_fuse=15.0)


def joiner(count: int = 4, coldest: float = -22.0, **controller: object) -> Rig:
    """Story U1: panels of 22.4 V on a 24 V battery at 27 V, a 75 V controller."""
    rig = tiny_rig((JOINER,) * count, tuple(range(count)))
    changes = {"v_pv_max": 75.0, "i_charge_max": 60.0} | controller
    circuit = replace(rig.circuits[0], controller=replace(rig.circuits[0].controller, **changes))
    battery = Battery(name="24 V", v_nominal=24, v_now=27.0, v_absorption=28.4)
    return replace(rig, battery=battery, climate=Climate(temp_coldest=coldest), circuits=(circuit,))


def test_u1_only_two_strings_of_two_are_left_and_the_others_have_their_reason():
    found = rank_wirings(joiner(), NOON)
    assert [choice.name for choice in found.ranked] == ["2s2p"]
    reasons = {choice.name: choice.refused.question.split(":")[0] for choice in found.refused}
    assert reasons == {"4s": "Cold ceiling", "4p": "Start"}
    assert found.verdict.sentence.startswith("2s2p delivers most")


def test_u1_at_the_coast_three_are_legal_but_thin():
    found = rank_wirings(joiner(3, coldest=-3.0), NOON)
    (three,) = found.ranked
    assert (three.name, three.thin) == ("3s", "close to the ceiling in frost")
    assert found.verdict.answer == "close"
    # where it does not freeze, nothing is said of frost: 3 x 22.4 V become 69.2 V at 15 °C, of 72 V
    (mild,) = rank_wirings(joiner(3, v_pv_max=72.0, coldest=15.0), NOON).ranked
    assert (mild.name, mild.thin) == ("3s", "close to the ceiling at the coldest dawn")


def test_wiring_that_misses_the_battery_in_heat_says_so_in_its_line():
    rig = joiner()
    low = replace(
        rig,
        battery=replace(rig.battery, v_absorption=29.0),
        climate=Climate(temp_coldest=-22.0, temp_cell_hottest=80.0),
    )
    (best,) = rank_wirings(replace(low, panels=(replace(JOINER, v_mp=17.0),) * 4), NOON).ranked
    assert best.short.endswith("V short on a hot roof")


def test_text_has_a_line_for_each_wiring_with_its_reason():
    lines = rank_wirings(joiner(), NOON).text().splitlines()
    assert lines[0].startswith("2s2p")
    assert any(line.startswith("4s    out: cold ceiling: 4 in series reach 102.3 V") for line in lines)


def test_part_that_is_too_weak_is_bought_first_and_forbids_nothing():
    rig = joiner()
    rig = replace(rig, circuits=(replace(rig.circuits[0], i_plug_max=15.0, v_isolator_max=40.0, i_isolator_max=30.0),))
    (best,) = rank_wirings(rig, NOON).ranked
    assert [verdict.question.split(":")[0] for verdict in best.buy_first] == ["Plugs", "Isolator"]
    assert "First: plugs" in rank_wirings(rig, NOON).verdict.sentence


def test_string_fuses_that_are_needed_are_told_beside_the_wiring():
    three = tiny_rig((JOINER,) * 3, (0,), (1,), (2,))
    side_by_side = next(choice for choice in rank_wirings(three, NOON).ranked if choice.name == "3p")
    assert [verdict.question.split(":")[0] for verdict in side_by_side.buy_first][:1] == ["String fuse"]
    assert "string fuse: Needed" in rank_wirings(three, NOON).text()


def test_fuse_of_the_wrong_size_is_mended_and_forbids_nothing():
    three = tiny_rig((JOINER,) * 3, (0,), (1,), (2,))
    assert forbidden(three) is None
    fitted = replace(three, circuits=(replace(three.circuits[0], i_fuse_string=30.0),))
    assert forbidden(fitted) is None
    tight = replace(three, panels=(replace(JOINER, i_max_fuse=14.0),) * 3)
    assert "no legal fuse" in forbidden(tight).sentence
    # another fuse than 30 A would not mend this one either
    both = replace(tight, circuits=fitted.circuits)
    assert "no legal fuse" in forbidden(both).sentence
    assert [can_be_fused(rig, rig.circuits[0]) for rig in (three, fitted, tight, both)] == [True, True, False, False]


def test_one_more_panel_is_the_same_one_and_all_wirings_are_tried_again():
    rig = joiner(3, coldest=-3.0)
    more = rig.with_one_more_panel()
    assert len(more.panels) == 4
    assert more.panels[3] == rig.panels[2]
    found = rank_wirings(rig.with_one_more_panel(), NOON)
    assert [choice.name for choice in found.ranked] == ["2s2p"]
    assert {choice.name for choice in found.refused} == {"4s", "4p"}


def test_where_nothing_is_allowed_the_verdict_says_no_with_the_danger():
    found = rank_wirings(joiner(v_pv_max=20.0), NOON)
    assert found.ranked == ()
    verdict = found.verdict
    assert (verdict.answer, verdict.sentence[:5]) == ("no", "None.")
    assert "can destroy" in verdict.caution


def test_volts_of_the_second_controller_are_cautioned_of_as_well():
    # two panels in parallel on the first, 25.6 V in frost; three in series on the second, 76.7 V
    rig = joiner(5, v_pv_max=150.0)
    first = replace(rig.circuits[0], wiring=Wiring(strings=((0,), (1,))))
    second = replace(rig.circuits[0], wiring=Wiring(strings=((2, 3, 4),)))
    found = rank_wirings(replace(rig, circuits=(first, second)), NOON).verdict
    assert "reaches 76.7 V in frost. Above 60 V DC do not touch" in found.caution


def any_rig(v_oc: float, beta: float, count: int, limit: float, coldest: float) -> Rig:
    """Equal panels in one string under a ceiling that may be too low."""
    panel = replace(PANEL, v_oc=v_oc, v_mp=0.82 * v_oc, beta_voc_pct_per_k=beta, i_max_fuse=15.0)
    rig = replace(tiny_rig((panel,) * count, tuple(range(count))), climate=Climate(temp_coldest=coldest))
    controller = Controller(name="any", v_pv_max=limit, i_charge_max=40.0)
    return replace(rig, circuits=(replace(rig.circuits[0], controller=controller),))


rigs = st.builds(
    any_rig,
    st.sampled_from([19.5, 22.0, 24.0]),
    st.sampled_from([-0.33, -0.27]),
    st.integers(1, 4),
    st.floats(18.0, 150.0),
    st.floats(-40.0, 15.0),
)
# few labels, since each has to be fitted


@settings(max_examples=25, deadline=None)
@given(rigs, st.floats(20.0, 1000.0))
def test_wiring_over_the_ceiling_is_never_first_whatever_it_brings(rig, light):
    request = Snapshot(light=light, temp_cell=25.0)
    found = rank_wirings(rig, request)
    for choice in found.ranked:
        assert cold_ceiling(choice.rig, choice.rig.circuits[0]).answer != "no"
    comparison = compare(rig.wirings(), request)
    allowed = [name for name in comparison.ranking if refusal(comparison.outcomes[name].rig) is None]
    assert comparison.ranking[: len(allowed)] == allowed
    assert len(found.ranked) + len(found.refused) == len(comparison.outcomes)


def test_clipping_over_a_weather_is_what_the_comparison_books_and_is_never_a_no():
    rig = tiny_rig((JOINER,) * 2, (0, 1))
    small = replace(
        rig, circuits=(replace(rig.circuits[0], controller=replace(rig.circuits[0].controller, i_charge_max=5)),)
    )
    day = Days(weather="greensboro", day="bright")
    found = clipping_over(small, day)
    booked = compare({"it": small}, day).outcomes["it"].lost_wh("clipping")
    assert found.answer == "close"
    assert found.sentence.startswith(f"{booked:.0f} Wh over the day")
    assert clipping_over(rig, day).answer == "yes"


def test_wiring_over_the_ceiling_would_have_brought_most():
    # at noon 4s has 84 V and runs under 86 V, in frost 102 V and would break it
    free = compare(joiner(v_pv_max=150.0).wirings(), NOON)
    capped = compare(joiner(v_pv_max=86.0).wirings(), NOON)
    assert free.ranking[0] == "4s"
    assert capped.outcomes["4s"].energy_wh == pytest.approx(free.outcomes["4s"].energy_wh)
    assert capped.ranking[0] == rank_wirings(joiner(v_pv_max=86.0), NOON).ranked[0].name == "2s2p"
