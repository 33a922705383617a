"""How fast, against whom, and how true; run by hand, ratios from one run (DEVELOPERS.md gives the command).

In the ordinary test run every case runs once, to show that it still runs; only the count of cell evaluations passes
or fails there, since it does not depend on the machine.
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from statistics import median

import circuit_simulator
import numpy as np
import plain_loop
import pytest
from adapters import joined
from circuit_simulator import needs_ngspice, run_sweeps
from dense_reference import KINDS, Array, Cell, String, Substring, random_array, solve
from heavy_shade import BYPASS, CELL, CURVES, TEMP_CELL, best_watts, light_of

from vanpower import cells
from vanpower.arrays import best_power
from vanpower.silicon import KELVIN, T_REFERENCE

DAY, YEAR = 288, 26_280
# moments of a day at 5 minutes, and daylight moments of a year at 10 minutes
EVALUATIONS = 7_500
# cell evaluations a moment in heavy shade with four wirings; 6,632 were counted when this was written


def told(benchmark, **figures: float) -> None:
    """Keep figures with the benchmark and print them, so that `-s` shows them."""
    benchmark.extra_info.update(figures)
    print("  " + ", ".join(f"{name.replace('_', ' ')} {value:.3g}" for name, value in figures.items()))


def seconds(work, *arguments) -> float:
    """Wall time of one call."""
    start = time.perf_counter()
    work(*arguments)
    return time.perf_counter() - start


@pytest.mark.parametrize("levels", [1, 2, 4, 14])
def test_day_of_four_wirings(benchmark, levels):
    light = light_of(DAY, levels)
    benchmark(best_watts, light)


def test_year_of_four_wirings(benchmark):
    light = light_of(YEAR if benchmark.enabled else DAY)
    tracemalloc.start()
    best_watts(light[:, :DAY])
    told(benchmark, peak_memory_of_a_chunk_mib=tracemalloc.get_traced_memory()[1] / 2**20)
    tracemalloc.stop()
    benchmark.pedantic(best_watts, (light,), rounds=1)


def test_ratio_to_a_plain_loop(benchmark):
    few, day = light_of(6), light_of(DAY)
    rounds = 5 if benchmark.enabled else 1
    ratios = [
        (seconds(plain_loop.best_watts, few) / few.shape[1]) / (seconds(best_watts, day) / DAY) for _ in range(rounds)
    ]
    told(benchmark, plain_loop_over_ours=median(ratios))
    np.testing.assert_allclose(plain_loop.best_watts(few), best_watts(few), rtol=0.05)
    benchmark(best_watts, few)


@needs_ngspice
def test_ratio_to_a_circuit_simulator(benchmark):
    array, day = as_array(light_of(1)[:, 0, :, 0, :]), light_of(DAY)
    volts = circuit_simulator.voltage_bound(array)
    rounds = 5 if benchmark.enabled else 1
    ratios, whole = [], []
    for _ in range(rounds):
        one, six = (seconds(run_sweeps, array, [(0.0, volts, 400)] * n) for n in (1, 6))
        ours = seconds(best_watts, day) / DAY / CURVES
        ratios.append((six - one) / 5 / ours)
        whole.append(one / median(seconds(best_power, joined(array)) for _ in range(5)))
    told(benchmark, further_sweep_over_ours=median(ratios), whole_process_over_one_warm_peak=median(whole))
    benchmark(best_power, joined(array))


def as_array(light: np.ndarray) -> Array:
    """Heavy shade of one moment in series, as the simulator's types; light (panel, substring, cell)."""
    diode = (float(BYPASS.i_0), BYPASS.v_fold)
    groups = (tuple(cell_in(float(one)) for one in group) for panel in light for group in panel)
    return Array((String(tuple(Substring((group,), diode) for group in groups)),))


def cell_in(light: float) -> Cell:
    """The benchmark's cell in some light, without the avalanche term that slows the simulator down tenfold."""
    hot = (TEMP_CELL + KELVIN) / T_REFERENCE
    return Cell(CELL.i_light * light / 1000, CELL.i_0, CELL.a * hot, CELL.r_series, CELL.r_shunt * 1000 / light)


def test_error_against_a_dense_solver(benchmark):
    number = 40 if benchmark.enabled else 1
    worst = {kind: max(errors(kind, number)) for kind in KINDS if kind != "blocking"}
    told(benchmark, **worst)
    assert max(worst.values()) < 1e-4
    benchmark(best_watts, light_of(6))


def errors(kind: str, number: int) -> list[float]:
    """Relative errors of the best power over so many random arrays."""
    rng = np.random.default_rng([KINDS.index(kind), 11])
    arrays = [random_array(rng, kind) for _ in range(number)]
    return [abs(best_power(joined(array))[1][0] / solve(array).best.p - 1) for array in arrays]


def test_import_time(benchmark):
    rounds = 9 if benchmark.enabled else 1
    ours, numpy = ([seconds(fresh, f"import {name}") for _ in range(rounds)] for name in ("vanpower", "numpy"))
    told(benchmark, import_vanpower_over_import_numpy=median(ours) / median(numpy))
    benchmark.pedantic(fresh, ("import vanpower",), rounds=rounds)


def fresh(code: str) -> None:
    """Run code in a new process."""
    subprocess.run([sys.executable, "-c", code], check=True)


def test_cell_evaluations_a_moment(monkeypatch):
    counted, omega = [], cells.wright_omega

    def counting(z):
        counted.append(z.size)
        return omega(z)

    monkeypatch.setattr(cells, "wright_omega", counting)
    best_watts(light_of(DAY))
    assert sum(counted) / DAY < EVALUATIONS
