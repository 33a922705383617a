"""Three vans of other countries, all their sources on: the sum closes, and no sentence says what another denies."""

from __future__ import annotations

import pytest
from test_trips import log_of, van

from vanpower import Load, Rig, Source, Stop, check, walk_trip
from vanpower.rig import Inverter
from vanpower.sharing.forum import facts
from vanpower.studies.trips import Trip

EVERY = (
    Source(name="belt", kind="alternator", i_charge_max=20.0),
    Source(name="campsite", kind="shore", i_charge_max=15.0, every_days=3),
    Source(name="petrol", kind="generator", p_charge_max=200.0, from_h=17.0, to_h=18.0),
    Source(name="mast", kind="wind", p_hourly=(10.0,) * 24),
)


def austral() -> Rig:
    """24 V, two panels in a row, in the south of Chile in June."""
    night = Load(name="heater fan", p_load=30.0, from_h=18.0, to_h=8.0)
    return (
        van(temp_heated=8.0)
        .wired("2s")
        .with_battery(v_nominal=24.0, v_now=26.4, v_absorption=28.4)
        .changed(name="Austral van", loads=(Load(name="fridge", p_load=15.0, temp_inside=5.0), night))
    )


def fjord() -> Rig:
    """12 V, one panel on the roof and one beside it, over a Norwegian summer."""
    return van().with_panels(only=[1], tilt_deg=35.0, turn_deg=45.0, mount="open").changed(name="Fjord van")


def workshop() -> Rig:
    """48 V, four in a row, an inverter, and shore every third day."""
    laptop = Load(name="laptop", p_load=120.0, from_h=9.0, to_h=17.0, mains=True)
    return (
        van(temp_heated=8.0)
        .with_one_more_panel()
        .with_one_more_panel()
        .wired("4s")
        .with_battery(v_nominal=48.0, v_now=52.8, v_absorption=56.8)
        .with_controller(v_pv_max=150.0)
        .changed(name="Workshop van", loads=(laptop,), inverter=Inverter(p_own=12.0, efficiency_pct=92.0))
    )


VANS = {
    "austral": (austral(), -53.0, "06-05"),
    "fjord": (fjord(), 68.0, "07-05"),
    "workshop": (workshop(), 45.0, "12-05"),
}


def walk(tmp_path, name: str, *, sources: tuple[Source, ...] = EVERY) -> Trip:
    """Twenty-one days in one place under a clear sky, half an hour driven a day."""
    rig, latitude, first = VANS[name]
    weather = log_of(tmp_path / "sky.csv", f"2026-{first}", 21, latitude)
    stop = Stop(
        name="place", weather=weather, from_day=first, to_day=f"{first[:2]}-25", drive_daily_h=0.5, shade_pct=60.0
    )
    return walk_trip(rig.changed(sources=sources), (stop,), changes=False)


@pytest.mark.parametrize("name", VANS)
def test_all_sources_of_a_van_abroad_close_to_half_a_percent(name, tmp_path):
    trip = walk(tmp_path, name)
    (outcome,) = (leg.outcomes[trip.rig.wiring_name] for _, leg in trip.legs)
    assert min(trip.fed_wh.values()) > 0
    taken = sum(day.used_wh + day.fed_wh for day in trip.days)
    stored = outcome.store.energy_wh(float(outcome.rows.soc[-1])) - outcome.store.energy_wh(outcome.store.soc_start)
    left = taken - sum(day.served_wh for day in trip.days) - float(outcome.rows.p_lost.sum())
    assert left == pytest.approx(stored, abs=0.005 * taken)
    assert sum(trip.fed_wh.values()) == pytest.approx(sum(day.fed_wh for day in trip.days))


def test_a_cable_of_every_third_day_is_said_to_be_plugged_in_whatever_the_stops_say(tmp_path):
    # the stop has no shore, and yet the cable fed 18 kWh in three weeks
    trip = walk(tmp_path, "workshop")
    assert "campsite is plugged in on the last of every 3 days, whatever the stops say" in trip.verdict.basis
    assert "whatever the stops say" not in walk(tmp_path, "workshop", sources=EVERY[:1]).verdict.basis


def test_what_stands_beside_the_van_is_told_apart_from_its_like_on_the_roof():
    said = check(fjord())["portable"].sentence
    assert said.startswith("P2 is turned by hand, in parallel with P1")
    # the text for a forum had the same line for both
    roof, beside = facts(fjord())[1:3]
    assert (roof.endswith("groups."), beside.endswith("beside the van and turned by hand.")) == (True, True)
