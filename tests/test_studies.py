"""Rigs side by side: no watt goes missing, the ranking is safe, and the reason named is the one that rules."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.components.cables.resistance import resistance
from vanpower.components.controllers import CEILING, DARK, HELD
from vanpower.components.single_diode import fit_panel
from vanpower.engine.array import best_power
from vanpower.engine.curves import current_at, open_circuit_voltage
from vanpower.figures.names import finding
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.model.conditions import conditions_of
from vanpower.model.light import _worked_out, array_of
from vanpower.model.losses import LOSSES, WEAK
from vanpower.model.rig_in_light import rig_model
from vanpower.results.numbers import ALIKE, TOO_LITTLE, difference, known
from vanpower.rig import Battery, Cable, Climate, Controller, Days, Panel, Rig, Shade, Snapshot, Wiring
from vanpower.studies.comparison import Comparison, Outcome, compare, outcome

NOON = Snapshot(light=1000.0, temp_cell=25.0)
FREE = Controller(name="free", v_pv_max=200.0, i_charge_max=500.0, p_own=0.0, loss_fixed_pct=0.0, loss_ratio_pct=0.0)
FIRST_PUT_RIGHT = "close"
# answer of a winner on it: no cable to a battery carries 500 A, so its table says "parts" and no plain yes is due
NONE = Cable()
FULL = replace(PANEL, beta_voc_pct_per_k=-0.3, gamma_pmp_pct_per_k=-0.4, alpha_isc_pct_per_k=0.05)


def van(panels: int | tuple[Panel, ...], wiring: str, controller: Controller = FREE, cable: Cable = NONE) -> Rig:
    """Panels of one or several kinds on 12 V at 13 V; no cable and no losses unless given."""
    kinds = (FULL,) * panels if isinstance(panels, int) else panels
    rig = tiny_rig(kinds, tuple(range(len(kinds))))
    circuit = replace(rig.circuits[0], controller=controller, cable=cable)
    return replace(rig, circuits=(circuit,)).wired(wiring)


def with_volts(rig: Rig, nominal: float, now: float) -> Rig:
    """The rig on another battery."""
    return replace(rig, battery=Battery(name="other", v_nominal=nominal, v_now=now, v_absorption=1.15 * nominal))


def diodes_in(rig: Rig) -> Rig:
    """The rig with a blocking diode in each string."""
    return replace(rig, circuits=(replace(rig.circuits[0], blocking_diodes=True),))


def missing(found: Outcome) -> float:
    """Largest watts of a moment that are neither in the battery nor booked as lost, as a share of all panels' watts."""
    booked = found.p_battery + np.sum(list(found.lost.values()), axis=0)
    return float(np.abs(booked - found.p_panels).max() / found.p_panels.sum())


# No watt goes missing

SHADE = (Shade(panel=0, lit=0.2, substring=0),)


@pytest.mark.parametrize("name", examples())
@pytest.mark.parametrize("request_", [NOON, replace(NOON, light=60.0, shade=SHADE)], ids=["noon", "dull and shaded"])
def test_losses_and_battery_add_up_to_the_panels_in_every_wiring_of_a_moment(name, request_):
    for rig in example(name).wirings(apart=True).values():
        shade = request_.shade if rig.panels[0].substrings > 1 else ()
        found = outcome(rig, replace(request_, shade=shade))
        assert missing(found) < 1e-6
        assert found.p_battery.min() >= 0


@pytest.mark.parametrize("day", ["dull", "bright"])
@pytest.mark.parametrize("name", ["puppet-stage", "kiln-bus", "hay-cart", "cider-press"])
def test_losses_and_battery_add_up_to_the_panels_over_a_day(name, day):
    for rig in example(name).wirings().values():
        found = outcome(rig, Days(weather="greensboro", day=day))
        assert missing(found) < 1e-6
        assert found.energy_wh + sum(map(found.lost_wh, LOSSES)) == pytest.approx(found.p_panels.sum(), rel=1e-6)


@settings(deadline=None, max_examples=40)
@given(
    light=st.floats(0.0, 1400.0), temp=st.floats(-30.0, 90.0), lit=st.floats(0.0, 1.0),
    tracker=st.sampled_from(["sweep", "climb", "direct"]), limit=st.floats(1.0, 60.0),
    wiring=st.sampled_from(["4s", "2s2p", "4p"]), v_max=st.floats(30.0, 200.0),
)  # fmt: skip
def test_losses_add_up_whatever_holds_the_controller(light, temp, lit, tracker, limit, wiring, v_max):
    controller = replace(FREE, tracker=tracker, i_charge_max=limit, p_own=2.0, loss_fixed_pct=3.0, v_pv_max=v_max)
    rig = van(4, wiring, controller, Cable(length_m=8.0, section_mm2=4.0))
    found = outcome(rig, Snapshot(light=light, temp_cell=temp, shade=(Shade(panel=1, lit=lit),)))
    booked = found.p_battery + np.sum(list(found.lost.values()), axis=0)
    assert booked == pytest.approx(found.p_panels, rel=1e-9, abs=1e-9)
    # a hill met to 1e-5 may leave a loss that far below zero
    assert min(float(lost[0]) for lost in found.lost.values()) > -2e-5 * float(found.p_panels[0]) - 1e-6


def test_day_is_the_same_in_small_chunks_and_in_one(monkeypatch):
    controller = replace(FREE, v_start_margin=6.0, p_own=1.0, i_charge_max=12.0)
    rig = van(4, "4p", controller, Cable(length_m=5.0, section_mm2=4.0))
    request = Days(weather="greensboro", day="median", shade=SHADE)
    found = []
    for chunk in (96, 7):
        monkeypatch.setattr("vanpower.model.light.CHUNK", chunk)
        _worked_out.cache_clear()
        found.append(outcome(rig, request))
    _worked_out.cache_clear()
    whole, parts = found
    # curves are tabulated up to the brightest moment of a chunk, so the last digits differ: 2e-6 when written
    assert parts.p_battery == pytest.approx(whole.p_battery, abs=1e-5 * whole.p_battery.max())
    assert parts.operations[0].held_by.tolist() == whole.operations[0].held_by.tolist()
    assert len(set(whole.operations[0].held_by.tolist())) > 2


def test_controller_that_woke_in_one_chunk_is_awake_in_the_next(monkeypatch):
    # 19.5 V wake it in the cool morning; the hot noon stays below that, and 14 V hold it until dark
    rig = van(1, "1s", replace(FREE, v_start_margin=6.5))
    monkeypatch.setattr("vanpower.model.light.CHUNK", 1)
    _worked_out.cache_clear()
    found = outcome(rig, Days(weather="greensboro", day="bright"))
    _worked_out.cache_clear()
    volts, awake = found.operations[0].v_oc, found.p_battery > 0
    first = int(np.argmax(volts >= 19.5))
    assert 0 < volts[first - 1] < 19.5
    assert volts[12] < 19.5
    assert awake.tolist() == [k >= first and volts[k] > 14.0 for k in range(24)]


# What decides


def decided(name: Rig, against: Rig, request: Snapshot | Days) -> str:
    """The reason for which the first rig delivers less than the second, which it must."""
    found = compare({"less": name, "more": against}, request)
    assert found.outcomes["less"].energy_wh < found.outcomes["more"].energy_wh
    reason = found.decides("less", "more")
    assert LOSSES[reason] in found.verdict.sentence
    return reason


A = Panel(name="A", v_oc=23.4, i_sc=9.55, v_mp=19.4, i_mp=9.02, cells_in_series=36, substrings=2)
B = replace(A, name="B", v_oc=21.8, i_sc=5.85, v_mp=18.2, i_mp=5.50)
# the beekeeper's two panels, story U2
LOW = replace(FULL, v_oc=20.0, v_mp=16.2)
LEAKY = replace(FULL, name="leaky", r_leak=30.0)
STEEP = replace(FREE, loss_ratio_pct=2.0)
EAGER = replace(FREE, v_start_margin=1.5)
LENIENT = replace(FREE, v_start_margin=0.5, v_hold_margin=0.0)
RULED = MappingProxyType({
    "start": (with_volts(van(4, "4p"), 24, 26.0), with_volts(van(4, "2s2p"), 24, 26.0), NOON),
    WEAK: (van(2, "2p"), van((replace(FULL, ideality=1.1, read_by="watts"),) * 2, "2p"), replace(NOON, light=100.0)),
    "blocking diodes": (diodes_in(van((LOW, LOW), "2p", LENIENT)), van((LOW, LOW), "2p", LENIENT),
                        replace(NOON, temp_cell=60.0)),
    "cable": (van(3, "3p", cable=Cable(length_m=15.0)), van(3, "3s", cable=Cable(length_m=15.0)), NOON),
    "shade": (van(2, "2p"), van(2, "2s"), replace(NOON, shade=SHADE)),
    "leak": (van((FULL, LEAKY), "2p"), van((FULL, LEAKY), "2s"), replace(NOON, light=60.0)),
    "mismatch": (van((A, B), "2s"), van((A, B), "2p"), NOON),
    "window": (with_volts(van((LOW, LOW), "2p", EAGER), 12, 15.5), with_volts(van((LOW, LOW), "2s"), 12, 15.5),
               replace(NOON, temp_cell=40.0)),
    "heat": (with_volts(van(2, "2p", EAGER), 12, 15.0), with_volts(van(2, "2s"), 12, 15.0),
             replace(NOON, temp_cell=75.0)),
    "tracker": (van(2, "2s", replace(FREE, tracker="climb")), van(2, "2s"),
                replace(NOON, shade=(Shade(panel=0, lit=0.1),))),
    "plain switch": (van(1, "1s", replace(FREE, tracker="direct")), van(1, "1s"), NOON),
    "converter": (van(3, "3s", STEEP), van(3, "3p", STEEP), NOON),
    "own draw": (van(3, "3p", replace(FREE, p_own=3.0)).wirings(apart=True)["apart"],
                 van(3, "3p", replace(FREE, p_own=3.0)), replace(NOON, light=60.0)),
    "clipping": (van(4, "4p", replace(FREE, i_charge_max=20.0)), van(4, "4p", replace(FREE, i_charge_max=30.0)), NOON),
})  # fmt: skip


@pytest.mark.parametrize("reason", RULED)
def test_reason_named_is_the_mechanism_that_rules(reason):
    assert decided(*RULED[reason]) == reason


def test_every_loss_has_a_rig_in_which_it_rules():
    assert set(RULED) | {"ceiling"} == set(LOSSES)


def test_light_in_which_the_array_passes_the_ceiling_is_blamed_on_the_ceiling():
    rigs = {name: van(4, name, replace(FREE, v_pv_max=80.0)) for name in ("4s", "4p")}
    found = compare(rigs, replace(NOON, temp_cell=0.0))
    assert found.decides("4s", "4p") == "ceiling"
    assert found.outcomes["4s"].energy_wh == 0.0


def test_start_threshold_decides_a_dull_day_but_not_a_bright_one():
    # 14.4 V and 7 V of start margin: one panel's 22 V reach 21.4 V only in good light
    rigs = {name: with_volts(van(2, name, replace(FREE, v_start_margin=7.0)), 12, 14.4) for name in ("2s", "2p")}
    dull, bright = (compare(rigs, Days(weather="sand-point", day=day)) for day in ("dull", "bright"))
    assert dull.decides("2p", "2s") == "start"
    assert dull.share("2p") == 0.0
    assert bright.verdict.answer == "no"
    assert bright.share("2p") > 0.97


def test_shade_that_moves_the_best_point_below_the_window_is_not_blamed_on_heat():
    # the lit panel alone has its best point at 14.5 V, the controller needs 15 V of battery and 1 V
    rig = with_volts(van(2, "2s"), 12, 15.0)
    found = outcome(rig, Snapshot(light=1000.0, temp_cell=75.0, shade=(Shade(panel=0, lit=0.1),)))
    assert found.lost_wh("heat") == 0.0
    assert found.lost_wh("window") > 10


@pytest.mark.parametrize(("tracker", "reason"), [("climb", "tracker"), ("direct", "plain switch")])
def test_lower_hill_stays_the_reason_when_the_limit_clips_what_is_left(tracker, reason):
    controller = replace(FREE, tracker=tracker, i_charge_max=3.0)
    found = outcome(van(4, "4s", controller), replace(NOON, shade=(Shade(panel=0, lit=0.2),)))
    assert found.lost_wh("clipping") > 5
    assert found.lost_wh(reason) > 50
    assert found.lost_wh("window") == pytest.approx(0.0, abs=1e-3)


# Ranking and verdict


@settings(deadline=None, max_examples=40)
@given(
    v_max=st.floats(20.0, 120.0),
    coldest=st.floats(-40.0, 20.0),
    light=st.floats(1.0, 1200.0),
    temp=st.floats(0.0, 80.0),
)
def test_wiring_over_the_ceiling_is_never_ranked_before_an_allowed_one(v_max, coldest, light, temp):
    rig = van(4, "4s", replace(FREE, v_pv_max=v_max))
    rig = replace(rig, climate=Climate(temp_coldest=coldest, temp_cell_hottest=85.0))
    found = compare(rig.wirings(), Snapshot(light=light, temp_cell=temp))
    out = [found.outcomes[name].ceiling.answer == "no" for name in found.ranking]
    assert out == sorted(out)
    kept = [found.outcomes[name].energy_wh for name, is_out in zip(found.ranking, out, strict=True) if not is_out]
    assert kept == sorted(kept, reverse=True)


def test_forbidden_wiring_is_last_although_it_brings_most():
    controller = replace(FREE, v_pv_max=88.0)
    rigs = {name: van(4, name, controller, Cable(length_m=20.0)) for name in ("2s2p", "4s")}
    found = compare(rigs, replace(NOON, temp_cell=60.0))
    assert found.outcomes["4s"].energy_wh > found.outcomes["2s2p"].energy_wh
    assert found.ranking == ["2s2p", "4s"]
    assert found.share("2s2p") == 1.0
    verdict = found.verdict
    assert (verdict.answer, verdict.margin) == (FIRST_PUT_RIGHT, 100.0)
    assert "4s is out: 4 in series reach " in verdict.sentence
    assert "The label sum looks fine and is not: 88.0 V" in verdict.sentence


def test_no_allowed_wiring_is_said_plainly():
    found = compare({"4s": van(4, "4s", replace(FREE, v_pv_max=60.0))}, NOON)
    assert found.verdict.sentence.startswith("No wiring here is allowed.")
    assert found.verdict.question.startswith("Is any wiring allowed")
    assert (found.verdict.answer, found.verdict.unit) == ("no", "V")
    assert found.verdict.margin == found.outcomes["4s"].ceiling.margin < 0


def apart_by(share: float) -> Comparison:
    """Two rigs, the second of which delivers so much less."""
    return compare({"a": van(2, "2s"), "b": van(2, "2s", replace(FREE, loss_fixed_pct=100 * share))}, NOON)


def test_wirings_within_three_percent_are_alike_and_beyond_they_are_not():
    within, beyond = apart_by(ALIKE - 0.001), apart_by(ALIKE + 0.001)
    assert within.verdict.answer == "no"
    watts = {name: f"{known(outcome.energy_wh)} W" for name, outcome in within.outcomes.items()}
    assert within.verdict.sentence.startswith(f"No difference within 3 %: {watts['a']} in a, {watts['b']} in b. ")
    assert "Choose by fuses, plugs and cable." in within.verdict.sentence
    assert beyond.verdict.answer == FIRST_PUT_RIGHT
    assert beyond.verdict.sentence.startswith(f"a delivers {watts['a']}. ")
    assert beyond.verdict.margin == pytest.approx(3.1)


def test_some_alike_and_some_behind_names_both():
    rigs = {name: van(2, "2s", replace(FREE, loss_fixed_pct=lost)) for name, lost in (("a", 0), ("b", 1), ("c", 9))}
    verdict = compare(rigs, NOON).verdict
    assert (verdict.answer, verdict.margin) == (FIRST_PUT_RIGHT, pytest.approx(9.0))
    assert verdict.sentence.startswith("Best, alike within 3 %: 202 W in a, 200 W in b. Of the best, choose by fuses")
    assert "c delivers 19 W less (91 %): stepping the voltage down" in verdict.sentence


def test_wiring_that_slept_through_is_told_asleep_and_not_allowed():
    # 22 V panels in parallel under a 24 V battery: no light wakes the controller
    found = compare({name: with_volts(van(2, name), 24, 26.5) for name in ("2s", "2p")}, NOON)
    assert found.outcomes["2p"].energy_wh == 0
    assert found.table().to_pandas().loc["2p", "allowed"] == "asleep"
    # its controller of 500 A wants a battery fuse that nobody makes, and says so
    assert found.table().to_pandas().loc["2s", "allowed"] == "parts"
    told = {line.split()[0]: line.split()[1:5] for line in found.text().splitlines()}
    assert told["2p"] == ["0", "0", "%", "asleep"]


@pytest.mark.parametrize(("series", "licensed"), [(4, False), (5, True)])
def test_extra_low_voltage_passed_in_frost_asks_for_a_licensed_person(series, licensed):
    # 22 V at -20 °C by -0.30 %/K: four reach 99.9 V, five 124.9 V
    rig = replace(van(series, f"{series}s"), climate=Climate(temp_coldest=-20.0))
    found = compare({"s": rig}, NOON).verdict
    assert f"s reaches {'124.9' if licensed else '99.9'} V in frost. Above 60 V DC do not touch" in found.caution
    assert ("licensed person" in found.caution) == licensed


@pytest.mark.parametrize(
    ("coldest", "said"),
    [
        (-20.0, "reaches 66.4 V in frost. Above 60 V DC"),
        (5.0, "62.1 V at the coldest dawn. Above 60"),
        (22.0, "59.1 V at the coldest dawn. Above 30 V DC not with wet hands"),
    ],
)
def test_volts_that_hurt_in_the_cold_alone_are_cautioned_of_on_a_mild_day(coldest, said):
    # three of 19.5 V are 58.5 V by label, 66.4 V at -20 °C by -0.30 %/K
    rig = replace(van(3, "3s"), climate=Climate(temp_coldest=coldest))
    mild = replace(rig, panels=tuple(replace(panel, v_oc=19.5, v_mp=16.5) for panel in rig.panels))
    caution = compare({"s": mild}, NOON).verdict.caution
    assert said in caution


def test_one_rig_alone_wins_nothing():
    verdict = compare({"2s": van(2, "2s")}, NOON).verdict
    assert (verdict.answer, verdict.margin) == (FIRST_PUT_RIGHT, 0.0)
    assert "Before 2s is joined, put right: battery side." in verdict.sentence


def test_controllers_apart_that_gain_next_to_nothing_are_called_not_worth_it():
    found = compare(van((A, B), "2p").wirings(apart=True), NOON)
    assert found.ranking == ["apart", "2p", "2s"]
    assert "A controller for each panel is not worth it." in found.verdict.sentence


def test_night_ranks_everything_alike():
    found = compare(van(4, "4s").wirings(), replace(NOON, light=0.0))
    assert {found.share(name) for name in found.ranking} == {1.0}
    assert all(outcome_.energy_wh == 0.0 for outcome_ in found.outcomes.values())


# What is handed out


def test_comparison_without_rigs_is_told_where_to_get_some():
    with pytest.raises(ValueError, match=r"rig\.wirings\(\)"):
        compare({}, NOON)


def test_missing_coefficients_are_named_once_in_the_basis():
    found = compare(tiny_rig((PANEL,) * 4, (0, 1, 2, 3)).wirings(), NOON)
    assert found.verdict.basis.count("Voc with heat") == 1
    assert compare({"full": van(4, "4s")}, NOON).notes == ()


def test_table_has_a_line_for_each_rig_with_its_losses():
    found = compare(dict(zip(("3p", "3s"), RULED["cable"][:2], strict=True)), NOON)
    table = found.table().to_pandas()
    assert table.index.tolist() == found.ranking == ["3s", "3p"]
    assert table["share %"].tolist()[0] == 100.0
    assert table.loc["3p", "lost: cable"] == pytest.approx(found.outcomes["3p"].lost_wh("cable"))
    assert set(table["controller"]) <= set(HELD)
    assert "lost: start" not in table


def test_text_fits_a_telephone_and_names_the_losses():
    lines = compare(dict(zip(("3p", "3s"), RULED["cable"][:2], strict=True)), NOON).text().splitlines()
    assert len(lines) == 3
    assert max(map(len, lines)) <= 80
    assert "cable" in lines[2]


def test_snapshot_counts_watts_and_a_day_watt_hours():
    rig = van(1, "1s")
    assert compare({"1s": rig}, NOON).unit == "W"
    day = compare({"1s": rig}, Days(weather="greensboro", day="bright", shade=SHADE))
    assert day.unit == "Wh"
    assert day.title.startswith("Greensboro (typical year), ")
    assert day.title.endswith("on the flat, with shade")


def test_half_hour_steps_count_half(tmp_path):
    rows = "\n".join(f"2026-06-01 {hour}:{minute},800,20" for hour in (10, 11) for minute in ("00", "30"))
    path = tmp_path / "half_hours.csv"
    path.write_text(f"time,ghi,temp_air\n{rows}\n", encoding="utf-8")
    found = outcome(van(1, "1s"), Days(weather=str(path), day="only"))
    assert found.step_h == 0.5
    assert found.energy_wh == pytest.approx(2 * found.p_battery[0], rel=1e-9)


def test_two_circuits_add_their_watts_and_the_worst_ceiling_counts():
    kiln = example("kiln-bus")
    whole = outcome(kiln, NOON)
    halves = [outcome(replace(kiln, circuits=(circuit,)), NOON) for circuit in kiln.circuits]
    assert whole.energy_wh == pytest.approx(sum(half.energy_wh for half in halves), rel=1e-9)
    assert whole.ceiling.margin == min(half.ceiling.margin for half in halves)


def test_no_or_close_of_one_circuit_is_not_hidden_by_a_smaller_margin_of_another():
    # eight in series keep 6.7 V of 203 V, which is thin; one alone keeps 2.5 V of 27 V, which is not
    rig = van(9, "9s")
    circuits = [
        replace(rig.circuits[0], wiring=Wiring(strings=(string,)), controller=replace(FREE, v_pv_max=v_max))
        for string, v_max in ((tuple(range(8)), 201.0), ((8,), 27.0))
    ]
    both = outcome(replace(rig, circuits=tuple(circuits)), NOON)
    alone = [outcome(replace(rig, circuits=(circuit,)), NOON).ceiling for circuit in circuits]
    assert [verdict.answer for verdict in alone] == ["close", "yes"]
    assert alone[1].margin < alone[0].margin
    assert (both.ceiling.answer, both.ceiling.margin) == ("close", alone[0].margin)


def test_shade_on_one_circuit_is_not_blamed_for_the_mismatch_of_another():
    rig = van((A, B, A), "3s")
    apart = [replace(rig.circuits[0], wiring=Wiring(strings=(string,))) for string in ((0, 1), (2,))]
    clear, shaded = (
        outcome(replace(rig, circuits=tuple(apart)), replace(NOON, shade=(Shade(panel=2, lit=lit),) * (lit < 1)))
        for lit in (1.0, 0.5)
    )
    assert clear.lost_wh("mismatch") > 20
    assert shaded.lost_wh("mismatch") == pytest.approx(clear.lost_wh("mismatch"), rel=1e-3)


def test_array_that_is_dark_in_series_without_diodes_is_not_called_asleep():
    bare, dark = replace(FULL, bypass_diodes=False), Snapshot(light=0.0, temp_cell=-30.0)
    for number in (1, 2, 6):
        assert outcome(van((bare,) * number, f"{number}s"), dark).held == HELD[DARK]


def test_ceiling_passed_while_asleep_does_not_wake_the_controller_in_the_next_chunk(monkeypatch):
    # the cool morning passes 19.6 V and stays under the 23 V that wake it; the hot noon lies between hold and start
    rig = van(1, "1s", replace(FREE, v_pv_max=19.6, v_start_margin=10.0))
    found = []
    for chunk in (96, 1):
        monkeypatch.setattr("vanpower.model.light.CHUNK", chunk)
        _worked_out.cache_clear()
        found.append(outcome(rig, Days(weather="greensboro", day="bright")).operations[0])
    _worked_out.cache_clear()
    whole, single = found
    assert CEILING in whole.held_by.tolist()
    assert not whole.awake.any()
    assert single.held_by.tolist() == whole.held_by.tolist()


def test_basis_names_every_battery_compared():
    rig = van(2, "2s")
    found = compare({"12 V": rig, "24 V": with_volts(rig, 24, 26.0)}, NOON)
    assert "battery held at 13 or 26 V" in found.verdict.basis


def test_array_of_a_circuit_is_the_one_the_study_ran_on():
    rig = van(4, "2s2p", cable=Cable(length_m=5.0))
    joined = array_of(rig, NOON)
    assert joined.resistance == resistance(rig.circuits[0].cable)
    assert joined.topology.array.lists == ((0, 0),), "two equal strings"
    # a table's volts are read between its points, those of equal panels in even light are solved for
    assert outcome(rig, NOON).operations[0].v_oc == pytest.approx(open_circuit_voltage(joined.curves), rel=1e-6)
    shaded = replace(NOON, shade=(Shade(panel=0, substring=0, lit=0.5),))
    tabled = array_of(rig, shaded)
    assert outcome(rig, shaded).operations[0].v_oc == pytest.approx(open_circuit_voltage(tabled.curves), rel=1e-12)


def test_strings_above_sixty_volts_are_a_caution():
    assert "Above 60 V DC" in compare({"4s": van(4, "4s")}, NOON).verdict.caution
    assert "Above 30 V DC not with wet hands" in compare({"2s2p": van(4, "2s2p")}, NOON).verdict.caution
    assert compare({"4p": van(4, "4p")}, NOON).verdict.caution == ""


def test_nothing_at_all_is_said_and_not_called_alike(four_panels):
    verdict = compare(four_panels.wirings(), Snapshot(light=0, temp_cell=20)).verdict
    assert verdict.sentence.startswith("Nothing arrives.")
    assert "alike" not in verdict.sentence


def test_single_rig_is_asked_what_it_brings(one_panel):
    verdict = compare({"1s": one_panel}, Snapshot(light=500, temp_cell=20)).verdict
    assert verdict.question.startswith("What does 1s deliver")
    assert verdict.answer == "yes"


def test_too_much_short_circuit_current_is_not_allowed_whatever_it_brings(four_panels):
    rig = replace(four_panels, circuits=(replace(four_panels.circuits[0], controller=SMALL_INPUT),))
    answer = compare(rig.wirings(), Snapshot(light=800, temp_cell=25))
    assert answer.ranking[-1] == "4p"
    assert "4p is out: 1.25 x" in answer.verdict.sentence
    assert "do not connect" in answer.verdict.caution


SMALL_INPUT = Controller(name="small input", v_pv_max=300.0, i_charge_max=60.0, i_pv_sc_max=20.0)
# one string of 6 A counts as 7.5 A, four as 30 A


def test_loss_to_shade_is_what_panels_would_give_in_the_open(four_panels):
    notes = (Shade(panel=0, substring=0, lit=0.2),)
    rigs = four_panels.wirings()
    clear, shaded = (compare(rigs, Snapshot(light=800, temp_cell=25, shade=s)) for s in ((), notes))
    for name in rigs:
        assert shaded.outcomes[name].p_panels == pytest.approx(clear.outcomes[name].p_panels)
    assert shaded.outcomes["4s"].lost_wh("shade") > 0.1 * clear.outcomes["4s"].energy_wh


def test_equal_panels_in_equal_light_lose_nothing_to_each_other(four_panels):
    thin = replace(four_panels.circuits[0], cable=Cable(length_m=20.0, section_mm2=1.5))
    answer = compare(replace(four_panels, circuits=(thin,)).wirings(), Snapshot(light=900, temp_cell=25))
    assert all(outcome.lost_wh("mismatch") == 0 for outcome in answer.outcomes.values())


def test_dark_cells_without_a_diode_are_a_caution(four_panels):
    bare = replace(four_panels, panels=tuple(replace(p, bypass_diodes=False) for p in four_panels.panels))
    request = Snapshot(light=800, temp_cell=25, shade=(Shade(panel=0, substring=0, cells=1, lit=0.0),))
    assert "can burn" in compare(bare.wirings(), request).verdict.caution


def test_clipped_power_of_the_winner_is_told(four_panels):
    tight = replace(four_panels.circuits[0], controller=replace(four_panels.circuits[0].controller, i_charge_max=8.0))
    answer = compare({"2s2p": replace(four_panels, circuits=(tight,))}, Snapshot(light=1000, temp_cell=25))
    assert "leaves power on the roof" in answer.verdict.sentence


def test_plain_switch_over_its_amps_is_a_caution(one_panel):
    switch = Controller(
        name="switch", v_pv_max=40.0, i_charge_max=2.0, tracker="direct", v_start_margin=0.5, v_hold_margin=0.0
    )
    rig = replace(one_panel, circuits=(replace(one_panel.circuits[0], controller=switch),))
    assert "cannot hold amps back" in compare({"1s": rig}, Snapshot(light=1000, temp_cell=25)).verdict.caution


def test_many_watt_hours_are_told_no_finer_than_they_are_known():
    rig, bright = van(2, "2s"), Days(day="bright")
    found = compare({"2s": rig}, bright)
    longer = rig_model(rig, replace(conditions_of(rig.panels, bright), step_h=300.0))
    year = replace(found, outcomes={"2s": replace(found.outcomes["2s"], model=longer)})
    energy = year.outcomes["2s"].energy_wh
    assert energy > 100_000
    assert f"2s delivers {energy / 1000:.0f} kWh" in year.verdict.sentence
    assert f"{float(f'{energy:.4g}'):.0f} " in year.text()


def test_panels_that_run_hotter_are_behind_by_their_heat_and_not_by_the_cable():
    rigs = {mount: van((replace(A, mount=mount),) * 2, "2s") for mount in ("open", "glued")}
    verdict = compare(rigs, Days(weather="greensboro", day="bright")).verdict
    assert "glued delivers" in verdict.sentence
    assert "its panels give less in this light and heat" in verdict.sentence
    assert "cable" not in verdict.sentence


# A half-cut panel is two halves side by side

HALF_CUT = replace(FULL, branches=2)


@pytest.mark.parametrize("panel", [FULL, HALF_CUT], ids=["full cells", "half-cut"])
def test_cells_of_a_panel_put_together_again_give_its_label(panel):
    array = array_of(van((panel,), "1s"), NOON)
    label = fit_panel(panel).panel
    amps = float(current_at(array.curves, np.zeros((1, 1)))[0][0, 0])
    assert (amps, float(open_circuit_voltage(array.curves)[0])) == pytest.approx((label.i_sc, label.v_oc), rel=1e-4)
    assert float(best_power(array)[1][0]) == pytest.approx(label.v_mp * label.i_mp, rel=1e-4)


def test_a_half_cut_panel_with_one_half_dark_gives_half_of_its_watts():
    dark = (Shade(panel=0, lit=0.0, branch=0),)
    whole, half = (compare({"it": van((HALF_CUT,), "1s")}, replace(NOON, shade=shade)) for shade in ((), dark))
    assert half.outcomes["it"].energy_wh == pytest.approx(0.5 * whole.outcomes["it"].energy_wh, rel=0.02)


def test_shade_on_both_halves_by_number_is_shade_on_the_whole():
    both = tuple(Shade(panel=0, lit=0.2, substring=0, branch=half) for half in (0, 1))
    by_halves, whole = (compare({"it": van((HALF_CUT,), "1s")}, replace(NOON, shade=shade)) for shade in (both, SHADE))
    assert by_halves.outcomes["it"].energy_wh == pytest.approx(whole.outcomes["it"].energy_wh)


@pytest.mark.parametrize(("panel", "half", "says"), [(FULL, 0, "is not half-cut"), (HALF_CUT, 2, "has halves 1 to 2")])
def test_shade_on_a_half_that_is_not_there_is_refused(panel, half, says):
    with pytest.raises(ValueError, match=f"shade note P1/{half + 1}: .* {says}"):
        compare({"it": van((panel,), "1s")}, replace(NOON, shade=(Shade(panel=0, lit=0.2, branch=half),)))


def test_controller_asleep_in_one_hot_moment_is_told_what_it_brings_once_awake():
    # open-circuit volts at 85 °C lie under the 18 V that wake it and over the 14 V down to which it runs
    rig, hot = van(2, "2p"), Snapshot(light=1000.0, temp_cell=85.0)
    answer = compare({"2p": rig, "2s": rig.wired("2s")}, hot)
    asleep = answer.outcomes["2p"]
    assert asleep.energy_wh == 0.0
    keen = replace(rig.circuits[0], controller=replace(FREE, v_start_margin=FREE.v_hold_margin))
    assert asleep.p_awake > 50.0
    assert asleep.p_awake == pytest.approx(outcome(replace(rig, circuits=(keen,)), hot).energy_wh)
    assert f"stays awake and delivers {asleep.p_awake:.0f} W" in answer.verdict.sentence
    assert answer.outcomes["2s"].p_awake == 0.0


def test_dull_watts_by_the_label_are_told_as_the_upper_end_of_what_labels_leave_open():
    dull, bright = (compare({"2s": van(2, "2s")}, Snapshot(light=light, temp_cell=15.0)) for light in (100.0, 900.0))
    assert dull.outcomes["2s"].band_wh[1] == pytest.approx(dull.outcomes["2s"].label_wh, rel=0.02)
    assert bright.outcomes["2s"].label_wh == bright.outcomes["2s"].energy_wh
    assert "W in 2s, the upper end by the label alone." in dull.verdict.sentence
    assert "by the label" not in bright.verdict.sentence


def test_watts_a_wiring_is_behind_by_in_dull_light_are_those_between_the_two_numbers_told():
    leaky = (FULL, replace(FULL, r_leak=30.0))
    answer = compare({name: van(leaky, name) for name in ("2s", "2p")}, Snapshot(light=100.0, temp_cell=5.0))
    best, other = (answer.outcomes[name] for name in answer.ranking)
    behind = difference(best.energy_wh, other.energy_wh, "W")
    said = answer.verdict.sentence
    assert f"about {known(best.energy_wh)} W. Measured panels differ in dull light: " in said
    assert f"delivers {behind} less ({100 * other.energy_wh / best.energy_wh:.0f} %): " in said


def test_panels_that_were_all_read_are_told_with_what_the_reading_leaves_open_and_never_by_label():
    read = van((replace(FULL, r_leak=200.0, ideality=1.2, read_by="watts"),) * 2, "2s")
    answer = compare({"2s": read}, Snapshot(light=100.0, temp_cell=5.0))
    low, high = answer.outcomes["2s"].band_wh
    told = f"The readings leave it open: {low:.1f} to {high:.1f} W."
    assert told in answer.verdict.sentence
    assert "label" not in answer.verdict.sentence
    assert f"as read {low:.1f} to {high:.1f}" in finding(answer)
    assert "by label" not in finding(answer)


def test_a_few_watts_are_told_in_tenths():
    answer = compare({name: van(2, name) for name in ("2s", "2p")}, Snapshot(light=40.0, temp_cell=15.0))
    best = answer.outcomes[answer.ranking[0]].energy_wh
    assert TOO_LITTLE < best < 9.95
    by_label = answer.outcomes[answer.ranking[0]].label_wh
    assert f"%: about {best:.1f} W in " in answer.verdict.sentence
    assert f" to {by_label:.1f} W in {answer.ranking[0]}, the upper end by the label alone" in answer.verdict.sentence
