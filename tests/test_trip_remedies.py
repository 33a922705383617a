"""Every kind of change that may carry a trip, on a van for which it is the least; and that van, so changed, carries it.

Each change is read out of its own sentence and made anew here, by the rig's public methods.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from test_trips import BELT, COAST, NORTH, van

from vanpower import Load, Rig, Source, Stop, walk_trip
from vanpower.checks.plugs_and_isolator import WIND
from vanpower.rig import Inverter

WARM = van(temp_heated=15.0)
AUTUMN = replace(NORTH, from_day="10-01", to_day="10-12")
DARK = replace(NORTH, from_day="12-01", to_day="12-14", shade_pct=100.0)
HALF_SHADE = replace(COAST, from_day="06-01", to_day="06-20", shade_pct=60.0)
CABLE = Source(name="campsite", kind="shore", i_charge_max=40.0)
FOUR = WARM.with_one_more_panel().with_one_more_panel().wired("4p")


def asking(rig: Rig, watts: float) -> Rig:
    return rig.changed(loads=(Load(name="all", p_load=watts),))


def with_watts(rig: Rig, times: float) -> Rig:
    """Panels of so many times the amps, on a controller that bears them."""
    strong = rig.with_controller(i_charge_max=60.0, i_pv_sc_max=80.0)
    panel = rig.panels[0]
    return strong.with_panels(i_sc=panel.i_sc * times, i_mp=panel.i_mp * times, p_label=None, i_max_fuse=None)


SHORT: dict[str, tuple[Rig, Stop]] = {
    # panels of 18 V in parallel never reach a battery of 24 V, two in a row do
    "wire it": (
        asking(WARM.with_battery(v_nominal=24.0, v_now=26.6, v_absorption=28.4), 8.0),
        replace(COAST, to_day="11-12"),
    ),
    # lithium that stands in frost
    "keep the battery": (asking(with_watts(van(), 2.0), 12.0), replace(NORTH, from_day="02-10", to_day="02-20")),
    # a low sun over flat panels
    "tilt": (asking(WARM, 16.0), AUTUMN),
    # a charger that is there and hours that are not
    "drive": (asking(WARM.with_source(BELT), 17.0), replace(AUTUMN, tilt_deg=60.0)),
    # no sun, no driving, a cable on board
    "plug in": (asking(WARM.with_source(CABLE), 3.4), DARK),
    # sun enough for a little more of it, and an inverter that draws whatever is used
    "W more": (
        asking(with_watts(FOUR, 400.0 / 438.08).changed(inverter=Inverter(p_own=20.0, efficiency_pct=90.0)), 17.0),
        HALF_SHADE,
    ),
    # two dark weeks out of a large battery
    "Ah more": (asking(van(temp_heated=15.0, capacity_ah=400.0), 8.65), DARK),
    # two dark weeks, and a little too much
    "use": (asking(WARM, 2.3), DARK),
}  # fmt: skip


def amount(said: str, pattern: str) -> float:
    found = re.search(pattern, said)
    assert found, said
    return float(found[1])


def remedied(kind: str, said: str, rig: Rig, stop: Stop) -> tuple[Rig, Stop]:
    """The van and the stop with what a sentence says."""
    if kind == "wire it":
        return rig.wired(said.split()[2]), stop
    if kind == "keep the battery":
        return rig.with_battery(temp_heated=amount(said, r"at (-?[\d.]+) °C")), stop
    if kind == "tilt":
        return rig, replace(stop, tilt_deg=amount(said, r"by ([\d.]+) degrees"))
    if kind == "drive":
        hours = amount(said, r"drive ([\d.]+) h a day")
        return rig, replace(stop, drive_h=hours, drive_daily_h=hours)
    if kind == "plug in":
        return rig.with_source(replace(CABLE, name="now", every_days=int(amount(said, r"one day in (\d+)")))), stop
    if kind == "W more":
        return with_watts(rig, 1.0 + amount(said, r"(\d+) W more") / amount(said, r"\(it has (\d+) W")), stop
    if kind == "Ah more":
        return rig.with_battery(capacity_ah=rig.battery.capacity_ah + amount(said, r"(\d+) Ah more")), stop
    return asking(rig, rig.loads[0].p_load * (1.0 - amount(said, r"use (\d+) % less") / 100.0)), stop


@pytest.mark.parametrize("kind", SHORT)
def test_the_least_change_is_of_each_kind_once_and_the_van_so_changed_carries_the_trip(kind):
    rig, stop = SHORT[kind]
    trip = walk_trip(rig, (stop,))
    assert trip.verdict.answer == "no"
    assert trip.short
    least = trip.changes[0].what
    assert kind in least
    assert f"The least change that carries it: {least}." in trip.verdict.sentence
    assert not walk_trip(*_in_one(remedied(kind, least, rig, stop)), changes=False).short


def _in_one(rig_and_stop: tuple[Rig, Stop]) -> tuple[Rig, tuple[Stop]]:
    rig, stop = rig_and_stop
    return rig, (stop,)


def test_tilting_is_said_with_what_wind_does_and_not_of_panels_that_stand_in_shade_or_are_tilted():
    rig, stop = SHORT["tilt"]
    (said,) = (one.what for one in walk_trip(rig, (stop,)).changes if "tilt" in one.what)
    assert "lay them flat before wind and before driving off" in said
    assert "before driving off and before wind" in WIND
    for other in (replace(stop, shade_pct=30.0), replace(stop, tilt_deg=5.0)):
        assert not any("tilt" in change.what for change in walk_trip(rig, (other,)).changes)


def test_a_change_that_needs_a_charger_comes_behind_one_that_needs_no_part():
    rig, stop = SHORT["tilt"]
    said = [change.what for change in walk_trip(rig, (stop,)).changes]
    bought = [number for number, what in enumerate(said) if "which it does not have" in what]
    # driving with a charger that is not there yet had come first
    assert said[0].startswith("tilt")
    assert bought
    assert min(bought) > said.index("use 10 % less")


def test_another_wiring_is_advised_with_what_must_be_put_right_before_it_is_joined():
    # six panels of 18 V reach 24 V by twos; the other two strings push 2 x 6.2 A into a third, over 12 A (IEC 62548)
    six = FOUR.with_one_more_panel().with_one_more_panel().with_controller(v_pv_max=52.0, i_pv_sc_max=80.0)
    rig = asking(six.wired("6p").with_battery(v_nominal=24.0, v_now=26.6, v_absorption=28.4), 8.0)
    least = walk_trip(rig, (replace(COAST, to_day="11-12"),)).changes[0].what
    assert least.startswith("wire it 2s3p instead of 6p (first put right: ")
    assert "string fuse" in least
