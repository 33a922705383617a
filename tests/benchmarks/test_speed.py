"""How fast, against whom, and how true; run by hand, ratios from one run (DEVELOPERS.md gives the command).

In the ordinary test run every case runs once, to show that it still runs; only the count of cell evaluations passes
or fails there, since it does not depend on the machine. What takes many minutes is marked "nightly".
"""

from __future__ import annotations

import resource
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from statistics import median

import circuit_simulator
import growth
import many_places
import numpy as np
import plain_loop
import pytest
from adapters import joined, with_our_blocking
from circuit_simulator import needs_ngspice, run_sweeps
from dense_reference import KINDS, Array, Cell, String, Substring, random_array, solve
from heavy_shade import ARRAYS, BYPASS, CELL, CURVES, TEMP_CELL, best_watts, joined_arrays, light_of

from vanpower import Cable, Shade, Snapshot, cells, compare
from vanpower.arrays import best_power
from vanpower.curves import voltage_at
from vanpower.silicon import KELVIN, T_REFERENCE

DAY, YEAR = 288, 26_280
# moments of a day at 5 minutes, and daylight moments of a year at 10 minutes
EVALUATIONS = 4_000
# cell evaluations a moment in heavy shade with four wirings; 3,676 were counted when this was written
ERROR = 1e-5
# share of the best power
ARRAYS_A_KIND = 223
# random arrays of each of the nine kinds in the nightly run: 2,007
HERE = Path(__file__).parent


def told(benchmark, **figures: float) -> None:
    """Keep figures with the benchmark and print them, so that `-s` shows them."""
    benchmark.extra_info.update(figures)
    print("  " + ", ".join(f"{name.replace('_', ' ')} {value:.3g}" for name, value in figures.items()))


def seconds(work, *arguments) -> float:
    """Processor time of one call, with the processes it starts; other work on the machine counts little in it."""
    start = spent()
    work(*arguments)
    return spent() - start


def spent() -> float:
    """Processor time so far of this process and those it started. [s]"""
    both = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(used.ru_utime + used.ru_stime for used in both)


@pytest.mark.parametrize("levels", [1, 2, 4, 14])
def test_day_of_four_wirings(benchmark, levels):
    light = light_of(DAY, levels)
    benchmark(best_watts, light)


def test_year_of_four_wirings(benchmark):
    def year(moments: int) -> list[float]:
        run = subprocess.run([sys.executable, HERE / "year.py", str(moments)], check=True, capture_output=True)
        return [float(number) for number in run.stdout.split()]

    if not benchmark.enabled:
        year(DAY)
    else:
        days = [year(DAY)[0] / DAY for _ in range(5)]
        whole, memory = year(YEAR)
        told(benchmark, year_s=whole, memory_mib=memory, cost_a_moment_year_over_day=whole / YEAR / median(days))
    benchmark(best_watts, light_of(6))


def test_ratio_to_a_plain_loop(benchmark):
    few, day = light_of(3), light_of(DAY)
    rounds = 7 if benchmark.enabled else 1
    ratios = [
        (seconds(plain_loop.best_watts, few) / few.shape[1]) / (seconds(best_watts, day) / DAY) for _ in range(rounds)
    ]
    told(benchmark, plain_loop_over_ours=median(ratios))
    np.testing.assert_allclose(plain_loop.best_watts(few), best_watts(few), rtol=0.05)
    benchmark(best_watts, few)


def curve_of(light: np.ndarray) -> None:
    """A whole warm curve of one moment in series, from cells to 400 points and the best of them all."""
    [whole] = joined_arrays(light, ARRAYS[:1])
    best_power(whole)
    voltage_at(whole.curves, np.linspace(0.0, float(whole.curves.current.max()), 400)[None, :])


@needs_ngspice
def test_ratio_to_a_circuit_simulator(benchmark):
    moment, day = light_of(1), light_of(DAY)
    array = as_array(moment[:, 0, :, 0, :])
    volts = circuit_simulator.voltage_bound(array)
    rounds = 9 if benchmark.enabled else 1
    ratios, whole = [], []
    for _ in range(rounds):
        one, six = (seconds(run_sweeps, array, [(0.0, volts, 400)] * n) for n in (1, 6))
        ours = seconds(best_watts, day) / DAY / CURVES
        ratios.append((six - one) / 5 / ours)
        whole.append(one / min(seconds(curve_of, moment) for _ in range(5)))
    told(benchmark, further_sweep_over_ours=median(ratios), whole_process_over_one_warm_curve=median(whole))
    benchmark(curve_of, moment)


def as_array(light: np.ndarray) -> Array:
    """Heavy shade of one moment in series, as the simulator's types; light (panel, substring, cell)."""
    diode = (float(BYPASS.i_0), BYPASS.v_fold)
    groups = (tuple(cell_in(float(one)) for one in group) for panel in light for group in panel)
    return Array((String(tuple(Substring((group,), diode) for group in groups)),))


def cell_in(light: float) -> Cell:
    """The benchmark's cell in some light, without the avalanche term that slows the simulator down tenfold."""
    hot = (TEMP_CELL + KELVIN) / T_REFERENCE
    return Cell(CELL.i_light * light / 1000, CELL.i_0, CELL.a * hot, CELL.r_series, CELL.r_shunt * 1000 / light)


@pytest.mark.parametrize("kind", KINDS)
def test_error_against_a_dense_solver(benchmark, kind):
    told(benchmark, worst=worst_error(kind, 10 if benchmark.enabled else 1))
    benchmark(best_watts, light_of(1))


@pytest.mark.nightly
@pytest.mark.parametrize("kind", KINDS)
def test_error_against_a_dense_solver_over_two_thousand_arrays(kind):
    worst = worst_error(kind, ARRAYS_A_KIND)
    print(f"  {kind}: worst error of the best power {worst:.1e}")
    assert worst < ERROR


def worst_error(kind: str, number: int) -> float:
    """Largest relative error of the best power over so many random arrays."""
    rng = np.random.default_rng([KINDS.index(kind), 11])
    arrays = [with_our_blocking(random_array(rng, kind)) for _ in range(number)]
    return max(abs(best_power(joined(array))[1][0] / solve(array).best.p - 1) for array in arrays)


@pytest.mark.nightly
@pytest.mark.parametrize("levels", [1, 2, 4, 14])
def test_no_moment_of_a_year_changes_on_tables_of_twice_the_points(levels, monkeypatch):
    moments = YEAR if levels == 14 else YEAR // 3
    fine = {"FORWARD_POINTS": 2, "KNEE_POINTS": 2}
    worst = 0.0
    for first in range(0, moments, DAY):
        light = light_of(DAY, levels, seed=first)
        found = best_watts(light)
        with monkeypatch.context() as finer:
            for name, times in fine.items():
                finer.setattr(cells, name, times * getattr(cells, name))
            for name in ("REVERSE_SHARES", "TAIL_SHARES"):
                shares = np.concatenate([[0.0], getattr(cells, name)])
                finer.setattr(cells, name, np.sort(np.concatenate([shares[1:], 0.5 * (shares[1:] + shares[:-1])])))
            worst = max(worst, float(np.max(np.abs(found / best_watts(light) - 1))))
    print(f"  {levels} levels, {moments} moments: largest change of the best power {worst:.1e}")
    assert worst < ERROR


def test_import_time(benchmark):
    rounds = 9 if benchmark.enabled else 1
    ours, numpy = ([seconds(fresh, f"import {name}") for _ in range(rounds)] for name in ("vanpower", "numpy"))
    told(benchmark, import_vanpower_over_import_numpy=median(ours) / median(numpy))
    benchmark.pedantic(fresh, ("import vanpower",), rounds=rounds)


def fresh(code: str) -> None:
    """Run code in a new process."""
    subprocess.run([sys.executable, "-c", code], check=True)


def test_slider_moves_the_light_of_one_moment(benchmark):
    rig, light = many_places.rigs()["2s2p"], iter(np.linspace(300.0, 900.0, 100_000))
    shade = (Shade(panel=1, substring=0, cells=4, lit=0.3),)
    benchmark(lambda: compare({"it": rig}, Snapshot(light=float(next(light)), temp_cell=40.0, shade=shade)))


def test_slider_moves_the_cable_of_a_day(benchmark, tmp_path):
    rig, request = many_places.rigs()["2s2p"], many_places.places(tmp_path, 1, step_min=5)["place 1"]
    [circuit], lengths = rig.circuits, iter(np.linspace(1.0, 99.0, 100_000))
    compare({"it": rig}, request)

    def move() -> None:
        longer = replace(circuit, cable=Cable(length_m=float(next(lengths))))
        compare({"it": replace(rig, circuits=(longer,))}, request)

    benchmark(move)


def test_sweep_of_many_places(benchmark):
    places = 10 if benchmark.enabled else 1
    many_places.swept(1)
    before = spent()
    table, _ = many_places.swept(places)
    used = spent() - before
    assert len(table) == 72 * places
    assert (table["error"] == "").all()
    told(benchmark, cells=len(table), ms_a_cell=1000 * used / len(table))
    benchmark.pedantic(many_places.swept, (1,), rounds=1)


def test_growth(benchmark, tmp_path):
    measured = growth.measured(quick=not benchmark.enabled)
    growth.draw(measured, HERE / "growth.png" if benchmark.enabled else tmp_path / "growth.png")
    benchmark(best_watts, light_of(1))


def test_cell_evaluations_a_moment(monkeypatch):
    counted, omega = [], cells.wright_omega

    def counting(z):
        counted.append(z.size)
        return omega(z)

    monkeypatch.setattr(cells, "wright_omega", counting)
    best_watts(light_of(DAY))
    assert sum(counted) / DAY < EVALUATIONS
