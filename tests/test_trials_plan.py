"""Plans for a trial against what simulated trials on the same measured days then reach."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from trial_simulator import DAYS, PAUSE, Noise, simulated, trial_log

from vanpower.trials import planning
from vanpower.trials.logs import Log, read_log
from vanpower.trials.planning import plan_trial


def pilot(date: str = "2017-06-19", seed: int = 1, **noise: float) -> Log:
    """An hour and a half of rows of one wiring."""
    return trial_log(np.random.default_rng(seed), 0.0, order="AAAA", date=date, noise=Noise(**noise))


def test_planned_chance_is_about_the_one_reached():
    # 5 points are promised, and tests/benchmarks holds 1,200 trials of each of seven plans to them; 120 add chance
    planned = plan_trial(days=DAYS, day="2017-06-19", gain=0.01, pause_min=PAUSE, orders=("ABBA",)).designs[0].chance
    many = simulated(120, 7, gains=(0.01,), orders=("ABBA",), date="2017-06-19", step=2)
    reached = np.mean((many["low"] > 0) | (many["high"] < 0))
    chance = np.sqrt(planned * (1 - planned) * (1 / 120 + 1 / planning.MOST_DRAWS))
    assert planned == pytest.approx(reached, abs=0.05 + stats.norm.ppf(0.995) * chance)
    assert 0.5 < planned < 0.98


def test_plan_from_pilot_rows_knows_a_restless_meter(monkeypatch):
    monkeypatch.setattr(planning, "DRAWS", 25)
    calm, restless = (
        plan_trial(pilot(wander=w, memory=2.0), gain=0.01, orders=("ABBA",)).designs[0] for w in (0.002, 0.02)
    )
    assert restless.half_width > 2 * calm.half_width
    assert restless.chance < calm.chance


def test_longer_trials_see_more(monkeypatch):
    monkeypatch.setattr(planning, "DRAWS", 25)
    # a gain that none of them sees, so that all are tried
    found = plan_trial(pilot(), gain=0.002, orders=("ABA", "ABBA", "ABBAABBA"))
    widths = [one.half_width for one in found.designs]
    assert len(widths) == 3
    assert widths == sorted(widths, reverse=True)
    assert found.table().to_pandas()["swaps"].tolist() == [2, 2, 4]


@pytest.mark.parametrize(
    ("chances", "tried", "chosen"),
    [((0.5, 0.79, 0.80, 0.99), 3, "ABBAAB"), ((0.81, 0.99, 0.99, 0.99), 1, "ABA"), ((0.5, 0.6, 0.7, 0.799), 4, None)],
)
def test_shortest_design_that_sees_it_four_times_in_five_is_chosen(chances, tried, chosen, monkeypatch):
    # a power of 80 %: Cohen, Statistical Power Analysis for the Behavioral Sciences (1988)
    reached = iter(chances)
    monkeypatch.setattr(planning, "_drawn", lambda *asked: (0.01, next(reached)))
    found = plan_trial(pilot(), gain=0.01, orders=("ABA", "ABBA", "ABBAAB", "ABBAABBA"))
    assert [one.chance for one in found.designs] == list(chances[:tried])
    assert (found.chosen.order if found.chosen else None) == chosen
    assert (found.verdict.answer == "yes") == (chosen is not None)


@pytest.mark.parametrize(("dull", "left_out"), [(99.0, True), (101.0, False)])
def test_trial_on_a_measured_day_lies_where_nine_tenths_of_its_minutes_have_a_hundred_watts(tmp_path, dull, left_out):
    # 120 minutes of 900 W/m² within ten hours of some 100: a trial of an hour begins with at most six dim ones
    light = np.full(600, dull)
    light[200:320] = 900.0
    lines = [f"2026-06-21T{m // 60:02}:{m % 60:02}:00,{g}" for m, g in enumerate(light)]
    path = tmp_path / "day.csv"
    path.write_text("\n".join(["time_utc,gti_30s", *lines]), encoding="utf-8")
    course = planning._measured(path, "2026-06-21")[0]
    minutes, rng = np.arange(0.0, 60.0, 2.0), np.random.default_rng(1)
    dim = [int((course(rng, minutes)[0] < 500).sum()) for _ in range(300)]
    # of the 30 readings at most a tenth and the one on the edge, and in some trials as many; else any hour will do
    assert (2 <= max(dim) <= 4) if left_out else max(dim) == 30
    assert min(dim) == 0


def test_day_that_cannot_show_it_is_said_to(monkeypatch):
    monkeypatch.setattr(planning, "DRAWS", 15)
    said = plan_trial(days=DAYS, day="2017-10-24", gain=0.005, orders=("ABA",)).verdict
    assert said.answer == "no"
    assert "Wait for steadier light" in said.sentence


def test_trial_lasts_its_blocks_and_the_pauses_between_them(monkeypatch):
    monkeypatch.setattr(planning, "DRAWS", 2)
    for pause, minutes in ((3.0, 66.0), (0.0, 60.0)):
        planned = plan_trial(pilot(), gain=0.03, block_min=20.0, pause_min=pause, orders=("ABA",))
        assert planned.designs[0].minutes == minutes


def rows_of_a_pilot(number: int, lasts: float) -> Log:
    """So many rows over so many minutes."""
    lines = [f"{m:.3f} {0.25 * (500 + m):.1f} {500 + m:.1f}" for m in np.linspace(0, lasts, number)]
    return read_log("\n".join(["minutes watts light", *lines]), pilot=True)


@pytest.mark.parametrize(
    ("number", "lasts", "enough"), [(12, 24, True), (12, 20, True), (11, 40, False), (30, 19, False)]
)
def test_pilot_needs_both_its_rows_and_its_minutes(number, lasts, enough, monkeypatch):
    monkeypatch.setattr(planning, "DRAWS", 2)
    if enough:
        assert plan_trial(rows_of_a_pilot(number, lasts), gain=0.05, orders=("ABA",)).designs
    else:
        with pytest.raises(ValueError, match=f"{number} bulk rows over {lasts} min; a pilot needs 12 over 20 min"):
            plan_trial(rows_of_a_pilot(number, lasts), gain=0.05, orders=("ABA",))


def test_pilot_needs_no_wiring_column():
    lines = [f"{m} {0.25 * (500 + m):.1f} {500 + m}" for m in range(0, 40, 2)]
    log = read_log("\n".join(["minutes watts light", *lines]), pilot=True)
    assert plan_trial(log, gain=0.05, orders=("ABA",)).designs[0].chance > 0.5


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"gain": 3.0}, "Is it percent"),
        ({"block_min": 1.0}, "blocks of 4 to 240 minutes"),
        ({"days": DAYS, "day": "2017-06-20"}, "it has 2017-01-11"),
        ({}, "plan needs pilot rows"),
    ],
)
def test_slips_in_a_plan_are_named(words, says):
    with pytest.raises(ValueError, match=says):
        plan_trial(**words)


def test_pilot_that_is_too_short_or_blind_is_refused():
    whole = pilot()
    with pytest.raises(ValueError, match="needs 12 over 20 min"):
        plan_trial(whole.rows(np.arange(len(whole)) < 8))
    with pytest.raises(ValueError, match="the sun passes for noise"):
        plan_trial(read_log("\n".join(["minutes watts", *(f"{m} 100" for m in range(40))]), pilot=True))
