"""How fast, against whom, and how true; run by hand, ratios from one run (README.md beside it gives the command).

What is measured ends as the rows of the table there. Times are processor time, medians of several rounds.

In the ordinary test run every case runs once, to show that it still runs; only the count of cell evaluations passes
or fails there, since it does not depend on the machine. What takes many minutes is marked "nightly".
"""

from __future__ import annotations

import itertools
import json
import platform
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median

import circuit_simulator
import growth
import many_places
import numpy as np
import pytest
import two_trees
from adapters import joined, with_our_blocking
from circuit_simulator import needs_ngspice, run_sweeps
from dense_reference import KINDS, Array, Cell, String, Substring, random_array, solve
from heavy_shade import ARRAYS, BYPASS, CELL, CURVES, TEMP_CELL, best_watts, by_loops, joined_arrays, light_of
from plain_loop import PlainLoop
from speed_table import tell
from two_trees import spent

from vanpower import Cable, Shade, Snapshot, compare, example
from vanpower.components.single_diode import fit_labels
from vanpower.engine import cells
from vanpower.engine.array import best_power
from vanpower.engine.constants import KELVIN, T_REFERENCE
from vanpower.engine.curves import voltage_at
from vanpower.rig import Request, Rig

DAY, YEAR = 288, 26_280
# moments of a day at 5 minutes, and daylight moments of a year at 10 minutes
FOUR = ("2s2p", "4s", "2s2p (P1+P3 | P2+P4)", "4p")
EVALUATIONS = 4_000
# cell evaluations a moment in heavy shade with four wirings; 3,676 were counted when this was written
ERROR = 1e-5
# share of the best power
FAULTS = 100
# pages fetched from the system on the middle one of days in heavy shade: 4; on a day that needs more memory than any
# before it some 400 to 600 more are fetched once, which is no fetching anew
ARRAYS_A_KIND = 223
# random arrays of each of the nine kinds in the nightly run: 2,007
HERE = Path(__file__).parent


def seconds(work, *arguments) -> float:
    """Processor time of one call, with the processes it starts; other work on the machine counts little in it."""
    start = spent()
    work(*arguments)
    return spent() - start


def typical(work, rounds: int = 15) -> float:
    """Processor time of a call, the median of so many rounds."""
    return median(seconds(work) for _ in range(rounds))


@pytest.mark.parametrize("levels", [1, 2, 4, 14])
def test_day_of_four_wirings(benchmark, levels):
    light = light_of(DAY, levels)
    tell("day", typical(lambda: best_watts(light), 9 if benchmark.enabled else 1))
    once(benchmark, best_watts, light_of(6, levels))


def once(benchmark, work, *arguments):
    """The benchmark's own round, where a row is measured in another way."""
    return benchmark.pedantic(work, arguments, rounds=1)


def test_year_of_four_wirings(benchmark):
    def year(moments: int, *fast: str) -> list[float]:
        run = subprocess.run([sys.executable, HERE / "year.py", str(moments), *fast], check=True, capture_output=True)
        return [float(number) for number in run.stdout.split()]

    if not benchmark.enabled:
        year(DAY)
    else:
        days = [year(DAY)[0] / DAY for _ in range(5)]
        whole, memory = year(YEAR)
        tell("daylight year", whole, (fast := year(YEAR, "fast"))[0])
        tell("memory", memory, fast[1])
        tell("year over day", whole / YEAR / median(days))
    once(benchmark, best_watts, light_of(6))


def test_ratio_to_a_plain_loop(benchmark):
    few, day = light_of(12 if benchmark.enabled else 2), light_of(DAY)
    rounds = 5 if benchmark.enabled else 1
    for row, loop, most in (("loop", PlainLoop(400, 400), 0.02), ("fine loop", PlainLoop(1000, 8000), 0.01)):
        loop.best_watts(few[:, :1])
        both_ways(day[:, :6])
        moments = few.shape[1]
        ratios = [(seconds(loop.best_watts, few) / moments) / (both_ways(day) / DAY) for _ in range(rounds)]
        errors = np.abs(loop.best_watts(few) / best_watts(few) - 1)
        tell(row, *np.median(ratios, axis=0))
        tell("loop error", float(np.median(errors)), float(errors.max()))
        # both are of the same arrays
        assert errors.max() < most
    once(benchmark, best_watts, few)


def both_ways(light: np.ndarray) -> np.ndarray:
    """Processor time of our best watts by numpy, and by compiled loops. [s]"""
    took = []
    for fast in (False, True):
        with by_loops(fast):
            took.append(seconds(best_watts, light))
    return np.array(took)


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
    both_ways(day[:, :6])
    ratios, whole = [], []
    for _ in range(rounds):
        one, six = (seconds(run_sweeps, array, [(0.0, volts, 400)] * n) for n in (1, 6))
        ratios.append((six - one) / 5 / (both_ways(day) / DAY / CURVES))
        whole.append(one / typical(lambda: curve_of(moment), 5))
    tell("further sweep", *np.median(ratios, axis=0))
    tell("whole process", median(whole))
    once(benchmark, curve_of, moment)


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
    tell("dense", worst_error(kind, 10 if benchmark.enabled else 1))
    once(benchmark, best_watts, light_of(1))


@pytest.mark.nightly
@pytest.mark.parametrize("kind", KINDS)
def test_error_against_a_dense_solver_over_two_thousand_arrays(kind):
    worst = worst_error(kind, ARRAYS_A_KIND)
    tell("dense", worst)
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
    tell("twice", worst)
    assert worst < ERROR


def test_import_time(benchmark):
    rounds = 15 if benchmark.enabled else 1
    lines = ("import numpy", "import vanpower", "import vanpower.model.arrays")
    times = [[seconds(fresh, line) for line in lines] for _ in range(rounds)]
    numpy, ours, engine = (median(column) for column in zip(*times, strict=True))
    tell("import", ours / numpy, engine / numpy)
    once(benchmark, fresh, "import vanpower")


def fresh(code: str) -> None:
    """Run code in a new process."""
    subprocess.run([sys.executable, "-c", code], check=True)


def changed(rig: Rig, request: Request, **change: object) -> None:
    """A rig compared after a change of its circuit."""
    [circuit] = rig.circuits
    compare({"it": replace(rig, circuits=(replace(circuit, **change),))}, request)


def test_slider_moves_one_moment(benchmark):
    rigs, rounds = many_places.rigs(), 25 if benchmark.enabled else 1
    shade = (Shade(panel=1, substring=0, cells=4, lit=0.3),)
    still = Snapshot(light=650.0, temp_cell=40.0, shade=shade)

    def in_new_light(names: Sequence[str]) -> None:
        compare({name: rigs[name] for name in names}, replace(still, light=300.0 + next(number)))

    number, rig = itertools.count(1), rigs["2s2p"]
    changed(rig, still)
    moves = (
        lambda: changed(rig, still, cable=Cable(length_m=next(number) / 10)),
        lambda: changed(rig, still, controller=replace(rig.circuits[0].controller, i_charge_max=10.0 + next(number))),
    )
    tell("moment", *(1000 * typical(lambda n=n: in_new_light(FOUR[:n]), rounds) for n in (1, 4)))
    tell("same moment", *(1000 * typical(move, rounds) for move in moves))
    once(benchmark, in_new_light, FOUR)


def test_slider_moves_a_moment_of_two_panels(benchmark):
    """What one move computes in the notebooks on dull light and on shade by hand."""
    rig, number, rounds = example("bookmobile"), itertools.count(1), 25 if benchmark.enabled else 1

    def moved(light: float, *shade: Shade) -> None:
        compare(rig.wirings(), Snapshot(light=light, temp_cell=30, shade=shade))

    moves = (
        lambda: moved(100.0 + next(number)),
        lambda: moved(700.0, Shade(panel=0, substring=0, lit=next(number) / 1000)),
        lambda: moved(100.0 + next(number), Shade(panel=0, substring=0, lit=0.2)),
    )
    for fast in (False, True):
        with by_loops(fast):
            for move in moves:
                move()
                tell("two panels", 1000 * typical(move, rounds))
    once(benchmark, moved, 700.0)


def test_slider_moves_a_day_in_the_same_light(benchmark, tmp_path):
    rigs, rounds = many_places.rigs(), 12 if benchmark.enabled else 1
    request = many_places.places(tmp_path, 1, step_min=5)["place 1"]
    number, names, rig = itertools.count(1), itertools.cycle(rigs), rigs["2s2p"]
    changed(rig, request)
    # a wiring that was looked at before is kept, but not behind another cable
    moves = (
        lambda: changed(rig, request, cable=Cable(length_m=next(number) / 10)),
        lambda: changed(rigs[next(names)], request, cable=Cable(length_m=next(number) / 10)),
        lambda: changed(rig, request, controller=replace(rig.circuits[0].controller, i_charge_max=10.0 + next(number))),
    )
    tell("same day", *(1000 * typical(move, rounds) for move in moves))
    once(benchmark, changed, rig, request)


def test_sweep_of_many_places(benchmark):
    places = 10 if benchmark.enabled else 1
    many_places.swept(1)
    before = spent()
    table, _ = many_places.swept(places)
    used = spent() - before
    assert len(table) == 72 * places
    assert (table["error"] == "").all()
    tell("sweep", 1000 * used / len(table))
    once(benchmark, many_places.swept, 1)


def test_curves_of_many_labels(benchmark):
    count = 2000 if benchmark.enabled else 20
    label = {"i_sc": 9.43, "i_mp": 8.71, "cells_in_series": 60.0, "alpha_isc": 0.005658, "beta_voc": -0.13788}
    volts = {"v_oc": np.linspace(37.5, 39.0, count), "v_mp": np.full(count, 31.0)}
    many = volts | {name: np.full(count, value) for name, value in label.items()}
    tell("labels", 1000 * typical(lambda: fit_labels(**many), 5) / count)
    once(benchmark, lambda: fit_labels(**many))


def test_a_tree_against_itself_gives_every_row():
    rows = list(two_trees.rows(two_trees.HERE, 2))
    assert len({row.split("|")[1] for row in rows}) == len(rows) == 5 + len(two_trees.PROCESSES)
    assert all(re.fullmatch(r"\| .+ \| \d+ \| \d+\.\d\d \| \d+\.\d\d to \d+\.\d\d \|", row) for row in rows)


def test_growth(benchmark, tmp_path):
    measured = growth.measured(quick=not benchmark.enabled)
    growth.draw(measured, HERE / "growth.png" if benchmark.enabled else tmp_path / "growth.png")
    once(benchmark, best_watts, light_of(1))


def test_cell_evaluations_a_moment(monkeypatch):
    counted, omega = [], cells.wright_omega

    def counting(z):
        counted.append(z.size)
        return omega(z)

    monkeypatch.setattr(cells, "wright_omega", counting)
    best_watts(light_of(DAY))
    tell("counted", sum(counted) / DAY)
    assert sum(counted) / DAY < EVALUATIONS


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="told of glibc's malloc, mallopt(3)")
def test_freed_memory_is_used_again_and_not_fetched_anew():
    code = (
        "from heavy_shade import best_watts, light_of; from resource import RUSAGE_SELF, getrusage; "
        "print([best_watts(light_of(288, seed=day)) is None or getrusage(RUSAGE_SELF).ru_minflt for day in range(9)])"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=HERE, check=True, capture_output=True, text=True)
    fetched = json.loads(run.stdout)
    assert np.median(np.diff(fetched)) < FAULTS
