"""A year at 10 minutes with battery, ladder and window for four wirings: time and memory; run by hand.

In the ordinary test run two weeks of hours stand in for it, to show that it still runs.
"""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from conftest import PANEL, tiny_rig
from speed_table import tell

from vanpower import Days, Load, Rig, simulate
from vanpower.engine.even_array import EvenArray
from vanpower.model.light import lit_panels
from vanpower.rig import Shade
from vanpower.weather.days import find_day

WIRINGS = ("4s", "2s2p", "4p", "2s2p crosswise")
# the last is the same shape with other partners
LEAST_W = 0.01
# best power from which a moment counts, of 400 W


def finer(path: Path, step: str, days: int) -> str:
    """A typical year with rows at a finer step, straight lines between the hours."""
    hours = find_day("sand-point", "all").table[["ghi", "temp_air", "wind_speed"]].tz_localize(None)
    index = pd.date_range(hours.index[0], hours.index[-1], freq=step)
    fine = hours.reindex(hours.index.union(index)).interpolate("time").reindex(index).round(2)
    fine[fine.index < fine.index[0] + pd.Timedelta(days=days)].to_csv(path, index_label="time")
    return str(path)


def four_wirings() -> dict[str, Rig]:
    """Four panels in parallel on a 12 V battery with a fridge, so that the window is met."""
    rig = tiny_rig((PANEL,) * 4, (0, 1), (2, 3))
    battery = replace(rig.battery, capacity_ah=160.0)
    rig = replace(rig, battery=battery, loads=(Load(name="fridge", p_load=25.0),))
    rigs = {name: rig.wired(name) for name in WIRINGS[:3]}
    circuit = rig.circuits[0]
    crossed = replace(circuit, wiring=replace(circuit.wiring, strings=((0, 2), (1, 3))))
    return rigs | {WIRINGS[3]: replace(rig, circuits=(crossed,))}


@pytest.mark.parametrize("shade", [(), (Shade(panel=0, substring=0, lit=0.3),)], ids=["clear", "shaded"])
def test_year_of_four_wirings_with_battery(benchmark, tmp_path, shade):
    long = benchmark.enabled
    file = finer(tmp_path / "fine.csv", "10min" if long else "1h", 365 if long else 14)
    request, rigs = Days(weather=file, day="all", shade=shade), four_wirings()
    find_day(file, "all")
    run = benchmark.pedantic(simulate, (rigs, request), rounds=1)
    tracemalloc.start()
    again = simulate(dict(list(rigs.items())[:1]), request)
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    lit = int((find_day(file, "all").table["ghi"] > 0).sum())
    benchmark.extra_info.update(daylight_moments=lit, peak_memory_of_one_wiring_mib=peak)
    if long:
        tell("year", benchmark.stats.stats.median)
    print(f"  {lit} daylight moments, peak memory of one wiring {peak:.0f} MiB over imports")
    assert again.used_wh("4s") == pytest.approx(run.used_wh("4s"))
    assert abs(run.ladder().slack("4s")) < 1e-9 * run.ladder().steps["4s"]["label"]


@pytest.mark.nightly
def test_no_moment_of_a_year_without_shade_differs_from_the_tables(tmp_path):
    """Every moment in daylight of a year at 10 minutes, best power and open-circuit volts, four wirings."""
    rigs = four_wirings()
    request = Days(weather=finer(tmp_path / "fine.csv", "10min", 365), day="all")
    lit = lit_panels(next(iter(rigs.values())).panels, request)
    worst = {"W": 0.0, "V": 0.0}
    for rig in rigs.values():
        for number in range(len(lit)):
            even, tables = lit.source(number, rig.circuits[0]), lit.array(number, rig.circuits[0])
            assert isinstance(even, EvenArray)
            some = even.peaks[1][2] > LEAST_W
            for unit, one, other in (("W", even.peaks[1][2], tables.peaks[1][2]), ("V", even.v_oc, tables.v_oc)):
                worst[unit] = max(worst[unit], float(np.abs(one[some] / other[some] - 1.0).max(initial=0.0)))
    print(f"  largest share: best power {worst['W']:.1e}, open-circuit volts {worst['V']:.1e}")
    tell("year without tables", *worst.values())
    assert worst["W"] < 1e-5
