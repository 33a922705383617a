"""A day of shadows on a full roof, cold: 5 minutes a step, 4 panels of 144 half cells, 6 fixtures, 4 wirings.

Run by hand as README.md beside it tells; in the ordinary test run once at a coarse step, to show that it still
"""

from __future__ import annotations

import time
from dataclasses import replace
from statistics import median

from conftest import tiny_rig
from heavy_shade import by_loops
from speed_table import tell

from vanpower.model.light import _worked_out
from vanpower.rig import Circuit, Controller, Fixture, Panel, Parked, Placement, Rig, Roof, Wiring
from vanpower.shading import layout, roofs, solids
from vanpower.shading import silhouette as rims
from vanpower.shading.roofs import roof_shade
from vanpower.studies.comparison import compare
from vanpower.weather import beams, parked
from vanpower.weather.days import day_of

PANEL = Panel(name="half-cut 144", v_oc=45.6, i_sc=6.0, v_mp=37.6, i_mp=5.6, cells_in_series=72, substrings=3,
              branches=2)  # fmt: skip
FIXTURES = (
    Fixture(name="box", kind="box", left_m=0.2, back_m=4.0, wide_m=1.2, long_m=0.6, high_m=0.35),
    Fixture(name="vent", kind="box", left_m=0.7, back_m=1.92, wide_m=0.4, long_m=0.25, high_m=0.15),
    Fixture(name="lid", kind="plate", left_m=0.7, back_m=1.92, wide_m=0.4, long_m=0.25, under_m=0.15, tilt_deg=50.0),
    Fixture(name="aerial", kind="cylinder", left_m=1.78, back_m=3.2, wide_m=0.012, high_m=1.0),
    Fixture(name="strap", kind="bar", back_m=1.0, wide_m=1.8, long_m=0.03, under_m=0.2, high_m=0.22),
    Fixture(name="trees", kind="wall", east_m=12.0, wide_m=4.0, long_m=30.0, high_m=8.0, lets_through=0.2),
)
WIRINGS = (((0, 1, 2, 3),), ((0, 1), (2, 3)), ((0, 2), (1, 3)), ((0,), (1,), (2,), (3,)))
CONTROLLER = Controller(name="wide", v_pv_max=250.0, i_charge_max=70.0)


def full_roof() -> dict[str, Rig]:
    spots = tuple(Placement(panel=k, left_m=0.05 + k % 2 * 0.9, back_m=0.3 + k // 2 * 1.9, wide_m=0.8, long_m=1.6)
                  for k in range(4))  # fmt: skip
    plan = Roof(wide_m=1.85, long_m=5.2, spots=spots, fixtures=FIXTURES)
    rig = replace(tiny_rig((PANEL,) * 4, (0, 1, 2, 3)), roof=plan)
    circuits = [Circuit(wiring=Wiring(strings=strings), controller=CONTROLLER) for strings in WIRINGS]
    return {circuit.wiring.grouping: replace(rig, circuits=(circuit,)) for circuit in circuits}


def forget() -> None:
    """Empty what is kept between two calls, so that every round starts cold."""
    shades = (solids.solid_of, rims.rims_of, roofs._lost, roofs._hidden, roofs._edges)
    for kept in (_worked_out, parked._made, parked._clear, beams._beams, layout.cells_of, *shades):
        kept.cache_clear()


def shadows_alone(asked: Parked) -> float:
    """Processor time of that day's shadows. [s]"""
    forget()
    sun = beams.beams_of(day_of(asked))
    start = time.process_time()
    roof_shade(next(iter(full_roof().values())).roof, (PANEL,) * 4, sun.elevation, sun.azimuth, heading_deg=30.0)
    return time.process_time() - start


def cold_day(asked: Parked) -> float:
    """Processor time of all of that day. [s]"""
    forget()
    start = time.process_time()
    compare(full_roof(), asked)
    return time.process_time() - start


def test_day_of_shadows_on_a_full_roof(benchmark):
    asked = Parked(latitude_deg=50.0, day="06-21", heading_deg=30.0, step_min=5.0 if benchmark.enabled else 60.0)
    found = benchmark.pedantic(compare, (full_roof(), asked), setup=forget, rounds=3 if benchmark.enabled else 1)
    best = found.outcomes[found.ranking[0]]
    if benchmark.enabled:
        with by_loops(True):
            fast = median(cold_day(asked) for _ in range(3))
        tell("full roof", benchmark.stats.stats.median, fast, median(shadows_alone(asked) for _ in range(3)))
    assert 0 < best.lost_wh("shade") < best.energy_wh
