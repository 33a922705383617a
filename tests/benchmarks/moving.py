"""A year that moves, lives and is fed from elsewhere, against one of the sun alone: `python moving.py [ROUNDS]`.

One rig, a year of hours; medians of processor time, all taking turns in one process. What is kept of the sun between
walks is kept here too, as it is while a slider moves.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from statistics import median
from unittest.mock import patch

from vanpower import Days, Load, Rig, Source, Stop, example, simulate
from vanpower.rig import Inverter
from vanpower.simulation import run
from vanpower.simulation.run import SUNS
from vanpower.studies.trips import walk_trip

BELT = Source(name="belt", kind="alternator", i_charge_max=20.0, from_h=9.0, to_h=10.5)
OTHERS = (
    BELT,
    Source(name="hook-up", kind="shore", i_charge_max=15.0, from_h=18.0, to_h=22.0, days="sat,sun"),
    Source(name="petrol", kind="generator", p_charge_max=300.0, from_h=17.0, to_h=18.0, months="nov..feb"),
    Source(name="rotor", kind="wind", p_hourly=(12.0,) * 24),
)
LIVING = (
    Load(name="fridge", p_load=18.0, temp_inside=4.0),
    Load(name="heater fan", p_load=15.0, months="oct..apr", from_h=18.0, to_h=23.0),
    Load(name="desk", p_load=40.0, days="mon..fri", from_h=9.0, to_h=12.0),
    Load(name="radio", p_load=6.0, runs="driving"),
    Load(name="lamp", p_load=8.0, runs="parked", from_h=19.0, to_h=22.0),
)
STOPS = tuple(
    Stop(name=name, weather=weather, from_day=first, to_day=last, drive_h=3.0, drive_daily_h=0.5)
    for name, weather, first, last in (
        ("north", "sand-point", "01-01", "04-30"),
        ("middle", "greensboro", "05-01", "08-31"),
        ("south", "miami", "09-01", "12-31"),
    )
)


def sides() -> dict[str, Callable[[], object]]:
    """What is held against what."""
    plain = example("bookmobile")
    belt, full = plain.changed(sources=(BELT,)), living(plain)
    year = Days(weather="sand-point", day="all")
    return {
        "the sun alone, moment after moment": lambda: stepped_plainly(plain, year),
        "the sun alone, days abreast": lambda: simulate({"it": plain}, year),
        "an alternator's charger": lambda: simulate({"it": belt}, year),
        "a trip over three stops with it": lambda: walk_trip(belt, STOPS, changes=False),
        "four sources and five living loads": lambda: simulate({"it": full}, year),
        "these over three stops": lambda: walk_trip(full, STOPS, changes=False),
    }


def living(rig: Rig) -> Rig:
    """A rig with four other sources, an inverter and five loads that live."""
    return rig.changed(sources=OTHERS, loads=LIVING, inverter=Inverter(name="small", p_own=6.0, efficiency_pct=90.0))


def stepped_plainly(rig: Rig, year: Days) -> object:
    """A year as it was stepped before its days went abreast."""
    with patch.object(run, "LEAST_DAYS", 10**9):
        return simulate({"it": rig}, year)


def taken(call: Callable[[], object], *, kept: bool) -> float:
    """Processor time of a call, with or without what is kept of the sun. [s]"""
    if not kept:
        SUNS.clear()
    start = time.process_time()
    call()
    return time.process_time() - start


def told(rounds: int, *, kept: bool) -> None:
    """Print medians, and each as a share of the first two."""
    each: dict[str, list[float]] = {name: [] for name in sides()}
    for _ in range(rounds):
        for name, call in sides().items():
            each[name].append(taken(call, kept=kept))
    plain, abreast, *_ = (median(times) for times in each.values())
    print(f"sun {'kept' if kept else 'worked out anew'}, {rounds} rounds: s / of the first / of the second")
    for name, times in each.items():
        found = median(times)
        print(f"  {name}: {found:.3f} / {found / plain:.2f} / {found / abreast:.2f}")


if __name__ == "__main__":
    for call in sides().values():
        call()
    for kept in (True, False):
        told(int(sys.argv[1]) if len(sys.argv) > 1 else 9, kept=kept)
