"""A long simulation steps all its days abreast; the plain one, moment after moment, is what it is held to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from conftest import PANEL, tiny_rig
from foreign_rigs import FOREIGN, foreign
from test_sources import ALL, lively

from vanpower import Days, Load, Rig, Shade, Stop, example, simulate, walk_trip
from vanpower.simulation import days_abreast, run
from vanpower.weather.days import find_day

WATTS = ("p_offered", "p_used", "p_load", "p_served", "p_lost", "p_fed")
SAME_W, SAME_WH = 1e-6, 1e-7
# [W, Wh a day] by which both may differ: 1e-8 of a panel of 100 W and less; days meet to 1e-12 of the charge


def winter(tmp_path, days: int = 40, step: str = "1h", first: str = "11-20") -> str:
    """Part of a typical year, frost included, in a file of its own."""
    hours = find_day("sand-point", "all").table[["ghi", "temp_air", "wind_speed"]].tz_localize(None)
    start = pd.Timestamp(f"{hours.index[0].year}-{first}")
    index = pd.date_range(start, start + pd.Timedelta(days=days), freq=step, inclusive="left")
    fine = hours.reindex(hours.index.union(index)).interpolate("time").reindex(index).round(2)
    fine.to_csv(tmp_path / "part.csv", index_label="time")
    return str(tmp_path / "part.csv")


def both(rigs, request, monkeypatch):
    """The run abreast, and moment after moment."""
    abreast = simulate(rigs, request)
    monkeypatch.setattr(run, "LEAST_DAYS", 10**9)
    return abreast, simulate(rigs, request)


def hold_alike(abreast, plain) -> None:
    """Every moment and every day's watt-hours."""
    for name, here in abreast.outcomes.items():
        there = plain.outcomes[name]
        for what in WATTS:
            assert np.abs(getattr(here.rows, what) - getattr(there.rows, what)).max() < SAME_W, (name, what)
        for what in ("soc", "v_battery", "temp_battery"):
            assert getattr(here.rows, what) == pytest.approx(getattr(there.rows, what), abs=1e-8)
        for what in ("stage", "full", "flat"):
            assert (getattr(here.rows, what) == getattr(there.rows, what)).all(), (name, what)
        assert here.p_by_label == pytest.approx(there.p_by_label, abs=SAME_W)
        assert here.p_each == pytest.approx(there.p_each, abs=SAME_W)
        for step, watt_hours in here.by_day.items():
            assert np.abs(watt_hours - there.by_day[step]).max() < SAME_WH, (name, step)


@pytest.mark.parametrize("name", FOREIGN)
def test_any_rig_is_stepped_abreast_as_one_moment_after_another(name, tmp_path, monkeypatch):
    rig = foreign(name)
    loads = rig.loads or (Load(name="pump and light", p_load=30.0, from_h=17.0, to_h=23.0),)
    # the made file has no place to find the sun by, so tilted panels are laid flat
    flat = tuple(replace(panel, tilt_deg=0.0) for panel in rig.panels)
    rig = replace(rig, loads=loads, panels=flat)
    hold_alike(*both({"as it is": rig}, Days(weather=winter(tmp_path), day="all"), monkeypatch))


@pytest.mark.parametrize("name", ["one panel", "two circuits", "48 V", "plain switch"])
def test_other_sources_and_living_loads_are_stepped_abreast_as_one_moment_after_another(name, tmp_path, monkeypatch):
    rig = lively(foreign(name))
    rig = replace(rig, panels=tuple(replace(panel, tilt_deg=0.0) for panel in rig.panels))
    abreast, plain = both({"as it is": rig}, Days(weather=winter(tmp_path), day="all"), monkeypatch)
    hold_alike(abreast, plain)
    assert min(abreast.fed_wh("as it is").values()) > 0
    fed, there = (run.fed_wh("as it is") for run in (abreast, plain))
    assert fed == pytest.approx(there, rel=1e-9)


@pytest.mark.parametrize("source", ALL, ids=lambda source: source.kind)
@pytest.mark.parametrize("battery", [{"capacity_ah": 8.0}, {"temp_offset": -6.0}, {"soc_start_pct": 0.0}])
def test_each_source_alone_is_stepped_abreast_into_any_battery(source, battery, tmp_path, monkeypatch):
    rig = house_of_two()
    rig = replace(rig, battery=replace(rig.battery, **battery), sources=(source,))
    hold_alike(*both({"2s": rig}, Days(weather=winter(tmp_path, 25), day="all"), monkeypatch))


BATTERIES = {
    "frozen lithium": {"temp_offset": -6.0},
    "frozen, a controller that stops": {"temp_offset": -6.0},
    "frozen, and the loads are not fed": {"temp_offset": -6.0},
    "lead-acid with its heat compensation": {"chemistry": "flooded lead-acid", "v_absorption": 14.6},
    "few amp-hours in steps of a minute": {"capacity_ah": 8.0},
    "few amps accepted": {"i_accept_max": 1.5},
    "heated": {"temp_heated": 5.0, "temp_offset": -10.0},
    "full at the start": {"soc_start_pct": 100.0},
    "flat at the start": {"soc_start_pct": 0.0},
}


@pytest.mark.parametrize("what", BATTERIES)
def test_any_battery_is_stepped_abreast_as_one_moment_after_another(what, tmp_path, monkeypatch):
    rig = tiny_rig((PANEL,) * 2, (0, 1))
    loads = (Load(name="fridge", p_load=12.0), Load(name="lamps", p_load=30.0, from_h=17.0, to_h=22.0))
    battery = replace(rig.battery, **{"capacity_ah": 60.0, **BATTERIES[what]})
    stops = {"cold_cutoff": "controller" in what or "not fed" in what, "cold_feeds_loads": "not fed" not in what}
    [one] = rig.circuits
    one = replace(one, controller=replace(one.controller, **stops))
    rig = replace(rig, battery=battery, loads=loads, circuits=(one,))
    rigs = {"2s": rig, "2p": rig.wired("2p")}
    abreast, plain = both(rigs, Days(weather=winter(tmp_path, 30), day="all"), monkeypatch)
    hold_alike(abreast, plain)
    assert energy_missing(abreast.outcomes["2s"], abreast.step_h) < 5e-3


def energy_missing(outcome, step_h: float) -> float:
    """What came in less what went out, was stored or lost, as a share; a step moves rest volts, which leaves 0.2 %."""
    rows = outcome.rows
    came, went, lost = (float(each.sum()) * step_h for each in (rows.p_used, rows.p_served, rows.p_lost))
    stored = outcome.store.energy_wh(float(rows.soc[-1])) - outcome.store.energy_wh(outcome.store.soc_start)
    return abs(came - went - lost - stored) / max(came, went)


def test_days_that_do_not_settle_are_stepped_through_one_after_another(tmp_path, monkeypatch):
    rig = house_of_two()
    abreast, plain = both({"2s": rig}, Days(weather=winter(tmp_path, 25), day="all"), monkeypatch)
    monkeypatch.undo()
    monkeypatch.setattr(days_abreast, "ROUNDS", 0)
    given_up = simulate({"2s": rig}, abreast.request)
    assert given_up.outcomes["2s"].rows.soc == pytest.approx(plain.outcomes["2s"].rows.soc, abs=1e-11)


def house_of_two() -> Rig:
    rig = tiny_rig((PANEL,) * 2, (0, 1))
    return replace(rig, battery=replace(rig.battery, capacity_ah=100.0), loads=(Load(name="fridge", p_load=20.0),))


def test_a_last_day_that_is_not_whole_and_shade_are_stepped_abreast(tmp_path, monkeypatch):
    path = winter(tmp_path, 24, "30min")
    lines = (tmp_path / "part.csv").read_text().splitlines()
    (tmp_path / "part.csv").write_text("\n".join(lines[: -2 * 5]) + "\n")
    request = Days(weather=path, day="all", shade=(Shade(panel=0, substring=0, lit=0.2),))
    hold_alike(*both(house_of_two().wirings(), request, monkeypatch))


def test_a_run_that_is_stopped_keeps_the_days_whose_tables_were_made(tmp_path, monkeypatch):
    monkeypatch.setattr(run, "CHUNK_EVEN", 480)
    request, rig = Days(weather=winter(tmp_path, 60), day="all"), house_of_two()

    def stopped(groups):
        for number, group in enumerate(groups):
            if number == 1:
                raise KeyboardInterrupt
            yield group

    part, whole = simulate({"2s": rig}, request, progress=stopped), simulate({"2s": rig}, request)
    assert part.interrupted
    assert 0 < len(part.dates) < len(whole.dates)
    assert part.outcomes["2s"].rows.soc == pytest.approx(whole.outcomes["2s"].rows.soc[: len(part.time)], abs=1e-9)


def test_stops_of_a_trip_settle_as_one_and_as_one_moment_after_another(monkeypatch):
    stops = tuple(
        Stop(name=weather, weather=weather, from_day=first, to_day=last, **more)
        for weather, first, last, more in (
            ("greensboro", "12-20", "01-02", {"drive_h": 3.0, "drive_daily_h": 0.5}),
            ("miami", "01-03", "01-07", {"turns_daily": True, "shore": True}),
            ("sand-point", "01-08", "01-20", {"tilt_deg": 60.0}),
        )
    )
    rig = lively(example("bookmobile"))
    walks = []
    monkeypatch.setattr(run, "walk_abreast", lambda runs: walks.append(len(runs)) or days_abreast.walk_abreast(runs))
    abreast = walk_trip(rig, stops, changes=False)
    # two legs over New Year, five ways to stand, one leg in the north: they settle together
    assert (len(abreast.legs), walks) == (8, [1])
    monkeypatch.setattr(run, "LEAST_DAYS", 10**9)
    plain = walk_trip(rig, stops, changes=False)
    for (place, here), (other, there) in zip(abreast.legs, plain.legs, strict=True):
        assert place == other
        hold_alike(here, there)
        starts = [one.outcomes[rig.wiring_name].store.soc_start for one in (here, there)]
        assert starts[0] == pytest.approx(starts[1], abs=1e-8)


def test_stops_of_unlike_steps_are_walked_one_after_the_other(tmp_path):
    # an hour a row and ten minutes: the battery goes on, and is where it was left
    rig = lively(example("bookmobile"))
    fine = Stop(name="own log", weather=winter(tmp_path, 5, "10min", "12-01"), from_day="12-01", to_day="12-05")
    hours = Stop(name="coast", weather="miami", from_day="12-06", to_day="12-09")
    trip = walk_trip(rig, (fine, hours), changes=False)
    (_, first), (_, last) = trip.legs
    assert (round(first.step_h * 60), last.step_h) == (10, 1.0)
    left, found = (one.outcomes[rig.wiring_name] for one in (first, last))
    assert found.store.soc_start == left.rows.soc[-1]
