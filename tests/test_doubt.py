"""How sure an answer is: unknowns varied within bounds, held against what the bounds alone would give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.model.conditions import Conditions, conditions_of
from vanpower.model.light import title_of
from vanpower.rig import Cable, Days, Rig, Shade, Snapshot
from vanpower.studies import uncertainty as doubt
from vanpower.studies.comparison import compare
from vanpower.studies.uncertainty import UNKNOWNS, how_sure, standing_in

NOON = Snapshot(light=900.0, temp_cell=45.0)
LABEL = replace(PANEL, beta_voc_pct_per_k=-0.30, alpha_isc_pct_per_k=0.05)


def pair(length_m: float = 5.0, **panel: object) -> dict[str, Rig]:
    """Two panels, 2s and 2p."""
    rig = tiny_rig((replace(LABEL, **panel),) * 2, (0, 1))
    cable = Cable(length_m=length_m, section_mm2=4.0)
    return replace(rig, circuits=(replace(rig.circuits[0], cable=cable),)).wirings()


def only(*names: str) -> tuple:
    """Some of the unknowns."""
    return tuple(unknown for unknown in UNKNOWNS if unknown.name in names)


def test_same_seed_gives_the_same_answer_and_the_first_is_the_best():
    one, two = (how_sure(pair(), NOON, samples=4) for _ in range(2))
    assert np.array_equal(one.leads, two.leads)
    assert one.first == compare(pair(), NOON).ranking[0]


def test_wirings_that_differ_by_nothing_much_are_told_to_be_no_difference():
    found = how_sure(pair(length_m=1.0), NOON, samples=16)
    assert found.verdict.answer == "no"
    assert found.verdict.sentence.startswith("No difference")


def test_long_cable_makes_series_sure_and_says_in_how_many_cases():
    found = how_sure(pair(length_m=20.0), NOON, samples=16)
    assert (found.first, found.verdict.answer) == ("2s", "yes")
    assert "in 100 of 100 cases" in found.verdict.sentence


def test_lead_of_an_unknown_alone_lies_between_its_two_ends():
    # cable alone: watts lost go with the length, so the ends of its bounds are the ends of the lead
    bounds = only("cable length")
    found = how_sure(pair(length_m=20.0), NOON, samples=8, unknowns=bounds)
    ends = []
    for factor in (bounds[0].low, bounds[0].high):
        first, second = (o.energy_wh for o in compare(pair(length_m=20.0 * factor), NOON).outcomes.values())
        ends.append(1 - min(first, second) / max(first, second))
    assert min(ends) - 1e-6 <= found.leads.min() <= found.leads.max() <= max(ends) + 1e-6
    assert found.blame["cable length"] == pytest.approx(1.0)


def test_blamed_unknown_comes_with_what_to_measure():
    found = how_sure(pair(length_m=20.0), NOON, samples=8, unknowns=only("cable length", "cell temperature"))
    assert found.worst == "cable length"
    assert "measure the run with a tape" in found.verdict.sentence


def test_leaky_panels_unsettle_dull_light():
    # mechanism 5 of leaky panels: in dull light a parallel set may sleep, so that the lead is all or nothing
    dull = Snapshot(light=40.0, temp_cell=10.0)
    sound = how_sure(pair(), dull, samples=8, unknowns=only("cell temperature"))
    leaky = how_sure(pair(), dull, samples=8, unknowns=only("leaky panels"))
    assert np.ptp(leaky.leads) > 5 * np.ptp(sound.leads)


def test_wiring_that_is_not_allowed_is_no_rival():
    rig = tiny_rig((LABEL,) * 2, (0, 1))
    low = replace(rig.circuits[0].controller, v_pv_max=40.0)
    rigs = replace(rig, circuits=(replace(rig.circuits[0], controller=low),)).wirings()
    with pytest.raises(ValueError, match="needs two rigs that are allowed; here is 1"):
        how_sure(rigs, NOON, samples=4)


@pytest.mark.parametrize("unknown", UNKNOWNS, ids=lambda unknown: unknown.name)
def test_every_unknown_has_bounds_a_source_and_a_measurement(unknown):
    assert unknown.low < unknown.high
    assert "no source" in unknown.source or "from memory" in unknown.source
    rig = pair()["2s"]
    ends = [unknown.change(rig, conditions_of(rig.panels, NOON), value) for value in (unknown.low, unknown.high)]
    told = [(rig, *(light.tolist() for light in asked.light), asked.temp_cell.tolist()) for rig, asked in ends]
    assert told[0] != told[1]


# Days


DAY, YEAR = Days(weather="graz", day="07-01"), Days(weather="greensboro", day="all")
SHADED = Days(weather="graz", day="07-01", shade=(Shade(panel=0, lit=0.3, substring=0),))


@pytest.mark.parametrize("days", [DAY, YEAR, SHADED], ids=["broken day", "year", "shaded day"])
def test_where_nothing_is_unknown_the_lead_over_days_is_that_of_the_comparison(days):
    still = replace(only("cable length")[0], low=1.0, high=1.0 + 1e-9)
    found = how_sure(pair(length_m=20.0), days, samples=1, unknowns=(still,))
    plain = compare(pair(length_m=20.0), days)
    first, second = (plain.outcomes[name].energy_wh for name in plain.ranking)
    assert found.first == plain.ranking[0]
    assert found.leads[0] == pytest.approx(1 - second / first, abs=1e-6)


@pytest.mark.parametrize("days", [DAY, SHADED], ids=["broken day", "shaded day"])
def test_few_moments_give_the_draws_of_all_moments(days, monkeypatch):
    few = how_sure(pair(length_m=20.0), days, samples=8)
    monkeypatch.setattr(doubt, "MOMENTS", 10**6)
    whole = how_sure(pair(length_m=20.0), days, samples=8)
    assert (few.moments, whole.moments > 500) == (48, True)
    assert np.ptp(whole.leads) > 0.02
    assert few.leads == pytest.approx(whole.leads, abs=0.003)


def test_day_is_told_in_the_same_sentence_with_its_name_and_what_stands_for_it():
    found = how_sure(pair(length_m=20.0), DAY, samples=4).verdict
    assert found.question == f"How sure: is 2s ahead of 2p, {title_of(DAY)}?"
    assert found.sentence.startswith("2s is ahead by ")
    assert "in 100 of 100 cases" in found.sentence
    assert "48 moments from dull to bright stand for the draws" in found.basis


def test_every_moment_stands_behind_the_night_before_it_and_in_order():
    asked = conditions_of(pair()["2s"].panels, YEAR)
    few = standing_in(asked)
    dark = few.brightest < doubt.LIGHT_LEAST
    days = few.time.astype("datetime64[D]")
    assert (np.diff(few.time) > np.timedelta64(0)).all()
    neighbours = ~dark[1:] & ~dark[:-1]
    assert (days[1:][neighbours] == days[:-1][neighbours]).all()
    assert 40 < dark.sum() <= 48
    assert np.quantile(few.brightest[~dark], 0.5) == pytest.approx(
        np.quantile(asked.brightest[asked.brightest >= doubt.LIGHT_LEAST], 0.5), rel=0.05
    )


@settings(deadline=None, max_examples=30)
@given(st.lists(st.floats(0.0, 1200.0), min_size=1, max_size=300))
def test_few_moments_are_never_more_than_asked_and_keep_a_lit_one(lights):
    light = np.array(lights)[:, None, None, None]
    few = standing_in(Conditions((light,), np.full((len(lights), 1), 20.0)))
    lit = (few.brightest >= doubt.LIGHT_LEAST).sum()
    assert lit == min(doubt.MOMENTS, (light >= doubt.LIGHT_LEAST).sum())
    assert len(few) <= max(2 * lit, 1)
