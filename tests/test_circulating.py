"""What unlike strings drive through each other with nothing drawn, against a circuit simulator and the standards."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest
from adapters import cell_by_cell
from circuit_simulator import needs_ngspice, run_sweeps, sweep
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import rows

from vanpower.checks.backfeed import (
    LIGHT_EDGE,
    NOT_OPENING,
    OPENING,
    TESTED,
    Circulation,
    circulation,
    must_stay_apart,
    opens,
)
from vanpower.checks.circulating import circulating
from vanpower.checks.fuses import legal_fuses, reverse_current, string_fuse
from vanpower.checks.registry import DESTROYS, check, refusal
from vanpower.files.rig_files import example
from vanpower.results.verdict import Verdict
from vanpower.rig import Cable, Climate, Panel, Rig, Shade, Snapshot
from vanpower.studies.comparison import compare
from vanpower.studies.ranking import forbidden, rank_wirings

RULES = {row["quantity"]: row for row in rows("iec_string_rules.csv")}
SMALL = replace(
    PANEL, name="small", v_oc=21.6, v_mp=17.5, i_sc=6.2, i_mp=5.7, beta_voc_pct_per_k=-0.30, i_max_fuse=10.0
)
TALL = Panel(
    name="tall", v_oc=37.3, i_sc=13.9, v_mp=30.8, i_mp=13.0, cells_in_series=54, substrings=3,
    beta_voc_pct_per_k=-0.27, i_max_fuse=25.0,
)  # fmt: skip
HALVES = replace(TALL, name="halves", v_oc=40.8, v_mp=34.0, cells_in_series=60, branches=2)
NEAR = replace(SMALL, name="near", v_oc=22.1, v_mp=18.0)


def van(*strings: tuple[Panel, ...], **circuit: object) -> Rig:
    """Strings of panels in parallel, without a cable and with something else in the circuit."""
    panels = tuple(panel for string in strings for panel in string)
    numbers = iter(range(len(panels)))
    rig = tiny_rig(panels, *(tuple(next(numbers) for _ in string) for string in strings))
    return replace(rig, circuits=(replace(rig.circuits[0], **{"cable": Cable()} | circuit),))


def asked(question, rig: Rig) -> Verdict:
    """A check of the rig's only circuit."""
    return question(rig, rig.circuits[0])


PAIR = van((SMALL,), (TALL,))


def simulated(rig: Rig, string: int, light: Snapshot) -> tuple[float, float]:
    """Amps back into one string, and its volts, where all strings together give nothing: by ngspice, cell by cell."""
    array = cell_by_cell(rig.panels, rig.circuits[0], light)
    v, i = sweep(array)
    k = int(np.argmax(i <= 0.0)) - 1
    fine, none = run_sweeps(array, [(float(v[k]), float(v[k + 1]), 80)])[0]
    v_open = float(np.interp(0.0, -none, fine))
    alone = replace(array, strings=(array.strings[string],))
    volts, amps = run_sweeps(alone, [(v_open - 1e-3, v_open + 1e-3, 2)])[0]
    return -float(np.interp(v_open, volts, amps)), v_open


@needs_ngspice
@pytest.mark.parametrize(
    "strings",
    [
        ((SMALL,), (TALL,)),
        ((SMALL,), (SMALL, SMALL)),
        ((SMALL,), (HALVES,)),
        ((HALVES,), (TALL, TALL)),
        ((SMALL,), (TALL,), (TALL,)),
        ((SMALL,), (SMALL,), (NEAR,)),
        ((SMALL, TALL), (TALL, TALL)),
    ],
    ids=[
        "pair",
        "one beside two",
        "half cells",
        "back into half cells",
        "two into one",
        "slight",
        "unlike in a string",
    ],
)
def test_circulating_amps_and_watts_are_those_of_a_circuit_simulator(strings):
    """To 1e-3: the table of a curve is read between its points, the simulator's between two volts of a sweep."""
    rig = van(*strings)
    found = circulation(rig, rig.circuits[0])
    cold, hot = rig.climate.temp_coldest, rig.climate.temp_cell_hottest
    sun = [simulated(rig, 0, Snapshot(light=1000.0, temp_cell=temp)) for temp in (cold, hot)]
    edge = [simulated(rig, 0, Snapshot(light=LIGHT_EDGE, temp_cell=temp))[0] for temp in (cold, hot)]
    assert found.string == 0
    assert found.amps == pytest.approx(max(amps for amps, _ in sun), rel=1e-3)
    assert found.amps_edge == pytest.approx(max(edge), rel=1e-3)
    if len(strings[0]) == 1:
        assert found.watts == pytest.approx(max(amps * volts for amps, volts in sun), rel=1e-3)


def test_small_panel_beside_a_tall_one_is_burned_every_sunny_day_and_refused_everywhere():
    # at its own 21.6 V the small panel gives nothing and the tall one nearly all of its 13.9 A
    found = circulation(PAIR, PAIR.circuits[0])
    assert 13.3 < found.amps < 13.9
    assert 340 < found.watts < 400
    verdict = asked(circulating, PAIR)
    assert verdict.answer == "no"
    assert "P2 drives 13.8 A, 381 W, into P1, a panel of 99.8 W, every sunny hour" in verdict.sentence
    assert "a controller for each" in verdict.sentence
    assert verdict.margin < 0
    assert refusal(PAIR) == forbidden(PAIR) == verdict
    light = Snapshot(light=800.0, temp_cell=25.0)
    comparison = compare({"2p": PAIR}, light)
    assert comparison.outcomes["2p"].refused == verdict
    assert comparison.table().to_pandas()["allowed"].tolist() == ["no"]
    assert "2p" in [choice.name for choice in rank_wirings(PAIR, light).refused]


def test_advised_fuse_turns_no_answer_into_a_yes_where_it_does_not_open():
    # 13.8 A are 1.38 times 10 A: between 1.13 and 1.45 times a fuse may carry on for ever (IEC 60269-6)
    fused = van((SMALL,), (TALL,), i_fuse_string=10.0)
    assert asked(circulating, fused).answer == "no"
    assert (
        "A 10 A fuse is sure to open only from 14.5 A, so it does not stop this" in asked(circulating, fused).sentence
    )
    assert asked(string_fuse, fused).answer == "no"
    assert refusal(fused) is not None
    blown = van((SMALL,), (TALL,), i_fuse_string=5.0)
    assert "it takes the string out on the first sunny day" in asked(circulating, blown).sentence
    assert refusal(blown) is not None


def test_fuse_counts_as_opened_only_from_its_conventional_fusing_current():
    assert float(RULES["gPV conventional non-fusing current"]["value"]) == NOT_OPENING
    assert float(RULES["gPV conventional fusing current"]["value"]) == OPENING
    assert all(RULES[name]["status"].startswith("verified") for name in RULES if name.endswith("fusing current"))
    assert [opens(amps, 10.0) for amps in (11.3, 14.4, 14.5)] == [False, False, True]
    assert float(RULES["module reverse current overload test"]["value"]) == TESTED


@given(st.floats(1.0, 15.0), st.floats(2.0, 40.0), st.sampled_from(["IEC", "US"]))
def test_no_legal_fuse_keeps_a_panel_below_its_own_watts(i_sc, limit, book):
    """It opens for sure from 1.45 x 1.5 = 2.2 times the short-circuit amps; a panel has its own watts at under 1."""
    for size in legal_fuses(i_sc, limit, book):
        assert OPENING * size > 2.1 * i_sc


def test_brightest_light_is_the_one_measured():
    seen = [
        float(row["value"]) for row in rows("cloud_enhancement.csv") if row["source"].startswith("Yordanov, Saetre")
    ]
    assert LIGHT_EDGE in seen


@pytest.mark.parametrize(
    ("strings", "answer"),
    [
        (((SMALL,), (replace(SMALL, name="again", tilt_deg=30.0, mount="glued"),)), "yes"),
        (((SMALL, NEAR), (NEAR, SMALL)), "yes"),
        (((SMALL,), (NEAR,)), "yes"),
        (((SMALL,), (replace(SMALL, v_oc=23.6, v_mp=19.5),)), "close"),
        (((replace(SMALL, i_max_fuse=None),), (NEAR,)), "close"),
        (((replace(SMALL, i_max_fuse=None),), (replace(SMALL, i_max_fuse=None),)), "yes"),
        (((replace(SMALL, i_max_fuse=None),), (TALL,)), "no"),
        (((SMALL,), (SMALL, SMALL)), "no"),
        (((SMALL,), (HALVES,)), "no"),
    ],
)
def test_circulating_is_judged_by_label_and_watts_and_unknown_is_no_yes(strings, answer):
    assert asked(circulating, van(*strings)).answer == answer


@pytest.mark.parametrize(
    ("share", "answer", "words"),
    [(0.049, "yes", "Next to nothing"), (0.051, "yes", "drives"), (0.249, "yes", "drives"),
     (0.251, "close", "It lives warmer for it"), (0.999, "close", "It lives warmer"), (1.001, "no", "its own watts")],
)  # fmt: skip
def test_watts_into_a_panel_count_from_a_twentieth_a_quarter_and_all_of_its_own(share, answer, words, monkeypatch):
    # no source for the shares; amps stay far below the label's 10 A, at a cloud's edge too
    found = Circulation(string=0, panel=0, amps=2.0, watts=100 * share, share=share, amps_edge=3.0, fed_by=(1,))
    module = import_module("vanpower.checks.circulating")
    monkeypatch.setattr(module, "circulation", lambda rig, circuit: found)
    verdict = asked(circulating, PAIR)
    assert (verdict.answer, words in verdict.sentence) == (answer, True)


def test_label_that_allows_much_does_not_excuse_the_heat():
    # 6 A are well below 30 A, and 140 W into a panel of 100 W all day
    rig = van((replace(SMALL, i_max_fuse=30.0),), (SMALL, SMALL))
    found = circulation(rig, rig.circuits[0])
    assert found.amps < 30.0
    assert found.share > 1.0
    assert asked(circulating, rig).answer == "no"
    # margin: how many amps more than those at which it takes its own watts
    assert asked(circulating, rig).margin == pytest.approx(found.amps / found.share - found.amps)


def test_diode_in_each_string_stops_it_and_says_what_it_holds_back():
    rig = van((SMALL,), (TALL,), blocking_diodes=True)
    verdict = asked(circulating, rig)
    assert verdict.answer == "close"
    assert verdict.sentence.startswith("A diode in each string stops it; one that fails may fail shorted, which")
    assert refusal(rig) is None
    assert not must_stay_apart(rig, rig.circuits[0])
    slight = van((SMALL,), (NEAR,), blocking_diodes=True)
    assert asked(circulating, slight).answer == "yes"
    # a diode stands for no fuse: BS 7671 712.432.102
    assert RULES["blocking diodes as overcurrent protection"]["value"] == "not accepted"
    three = van((SMALL,), (SMALL,), (SMALL,), (SMALL,), blocking_diodes=True)
    found = asked(reverse_current, three)
    assert (found.answer, asked(string_fuse, three).answer) == ("close", "close")
    assert "stands for no fuse" in found.sentence


@needs_ngspice
@pytest.mark.parametrize("count", [2, 3, 8])
def test_shaded_string_of_alike_panels_takes_less_than_its_own_amps(count):
    """A dark string would carry its own amps above its own open-circuit volts only, and the lit ones stay below those.

    So shade alone needs no check: no sun heats the panel that is fed.
    """
    rig = van(*((SMALL,),) * count)
    dark = Snapshot(light=1000.0, temp_cell=25.0, shade=(Shade(panel=0, lit=0.0),))
    amps, volts = simulated(rig, 0, dark)
    assert 0.2 * SMALL.i_sc < amps < 0.5 * SMALL.i_sc < SMALL.i_max_fuse
    assert volts < SMALL.v_oc
    assert amps * volts < SMALL.p_mp


def test_every_string_side_by_side_is_asked_and_a_single_one_is_not():
    assert DESTROYS[-1] is circulating
    assert "Circulating current" in [verdict.question.partition(":")[0] for verdict in check(example("bookmobile"))]
    assert not any(v.question.startswith("Circulating") for v in check(example("kiln-bus")))


def test_heat_and_frost_are_both_looked_at():
    cold = replace(PAIR, climate=Climate(temp_coldest=-40.0, temp_cell_hottest=25.0))
    hot = replace(PAIR, climate=Climate(temp_coldest=24.0, temp_cell_hottest=85.0))
    both = replace(PAIR, climate=Climate(temp_coldest=-40.0, temp_cell_hottest=85.0))
    each = [circulation(rig, rig.circuits[0]) for rig in (cold, hot, both)]
    assert each[2].amps == pytest.approx(max(each[0].amps, each[1].amps))
    assert each[2].watts == pytest.approx(max(each[0].watts, each[1].watts))


def test_charts_and_runs_say_that_a_panel_burns_and_not_the_controller():
    from vanpower.checks.registry import harmed
    from vanpower.checks.volts import cold_ceiling
    from vanpower.figures.comparison import ComparisonChart

    light = Snapshot(light=800.0, temp_cell=25.0)
    chart = ComparisonChart()
    chart.update(compare({"2p": PAIR}, light))
    words = chart.words["2p"].get_text()
    assert "A over what a panel takes backwards" in words
    assert "would damage a panel" in words
    tall = example("puppet-stage").wired("4s")
    both = [asked(circulating, PAIR), cold_ceiling(tall, tall.circuits[0])]
    assert [harmed(both), harmed(both[:1]), harmed(both[1:])] == ["a controller or a panel", "a panel", "a controller"]


def test_strings_of_equal_volts_and_unlike_amps_drive_nothing_into_each_other():
    # equal open-circuit volts: the point where their amps add up to none is that where each gives none
    label = replace(SMALL, cells_in_series=4, substrings=2, v_oc=2.5, v_mp=2.025, bypass_diodes=False)
    weak, strong = (replace(label, i_sc=amps, i_mp=0.93 * amps) for amps in (0.5, 0.6640625))
    rig = van((weak,), (strong,))
    found = circulation(rig, rig.circuits[0])
    assert found.amps == 0.0
    assert found.fed_by == ()


@settings(max_examples=40)
@given(
    st.lists(
        st.lists(
            st.builds(
                lambda cells, per_cell, i_sc, branches, diodes: replace(
                    SMALL, cells_in_series=cells, substrings=2, v_oc=per_cell * cells, v_mp=0.81 * per_cell * cells,
                    i_sc=i_sc, i_mp=0.93 * i_sc, branches=branches, bypass_diodes=diodes,
                ),
                st.sampled_from([4, 36, 60, 72, 144]), st.floats(0.58, 0.72), st.floats(0.3, 18.0),
                st.sampled_from([1, 2]), st.booleans(),
            ),
            min_size=1, max_size=3,
        ),
        min_size=2, max_size=6,
    )
)  # fmt: skip
def test_law_no_string_takes_more_than_the_others_give(strings):
    rig = van(*map(tuple, strings))
    found = circulation(rig, rig.circuits[0])
    if found is not None:
        assert np.isfinite([found.amps, found.watts, found.share, found.amps_edge]).all()
        others = sum(max(p.i_sc for p in string) for k, string in enumerate(strings) if k != found.string)
        # 70 °C cells give up to 3 % more than the label
        assert 0 <= found.amps <= 1.04 * others + 1e-6
        assert 0 <= found.amps_edge <= 1.6 * 1.04 * others + 1e-6
        assert found.string not in found.fed_by or found.amps == 0
    assert asked(circulating, rig).answer in ("yes", "close", "no")
    for question in (string_fuse, reverse_current):
        assert asked(question, rig).sentence


def test_twenty_four_unlike_panels_are_worked_out_at_once():
    rig = van(*((replace(SMALL, v_oc=21.6 + 0.05 * k, v_mp=17.5 + 0.05 * k),) for k in range(24)))
    found = circulation(rig, rig.circuits[0])
    assert found.panel == 0
    assert set(found.fed_by) <= set(range(5, 24))
