"""The two outside solvers against each other and against published cases, so that they may judge the package.

One is dense_reference, which brackets and solves the circuit's equations; the other is ngspice. They share no code
beyond the description of the array and the search for maxima in a list of samples.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from circuit_simulator import needs_ngspice, peaks_of_sweep, run_sweeps, sweep
from dense_reference import (
    AVALANCHE,
    BYPASS,
    KELVIN_STC,
    KINDS,
    PANELS,
    VOLTS_PER_KELVIN,
    Array,
    Cell,
    Chain,
    String,
    Substring,
    cell_in_light,
    half_cell,
    random_array,
    solve,
    substring_curve,
)
from outside import case, facts, rows
from scipy.optimize import brentq
from scipy.special import wrightomega

CASES = {one["id"]: one for one in facts("partial_shading.json")["cases"]}
P_AGREE = 1e-6
# Largest difference of power between the two solvers; over some 350 random arrays it stayed below 4e-8.
V_AGREE = 2e-3
# Largest difference of a peak's voltage, flat as a peak is; over the same arrays below 2e-4. [V]


def branch(cells: int, *lights: float) -> tuple[Cell, ...]:
    """Cells of a substring of a panel type, the first ones in the lights given, the others in full sun."""
    n_substrings, cell = PANELS[cells]
    n = cells // n_substrings
    return tuple(cell_in_light(cell, light) for light in (*lights, *[1000.0] * (n - len(lights))))


def panel(cells: int, *shades: tuple[float, ...], diode: tuple[float, float] | None = BYPASS) -> tuple[Substring, ...]:
    """Substrings of a panel, the first ones shaded."""
    n_substrings = PANELS[cells][0]
    every = (*shades, *[()] * (n_substrings - len(shades)))
    return tuple(Substring((branch(cells, *shade),), diode) for shade in every)


def with_avalanche(substrings: tuple[Substring, ...]) -> tuple[Substring, ...]:
    """The same cells with an avalanche term."""
    return tuple(
        replace(s, branches=tuple(tuple(replace(c, avalanche=AVALANCHE) for c in b) for b in s.branches))
        for s in substrings
    )


def half_cut_panel() -> tuple[Substring, ...]:
    """Three substrings of two branches; the first has one branch shaded in two cells, the other in five."""
    even = tuple(half_cell(cell) for cell in branch(60))
    two = tuple(half_cell(cell) for cell in branch(60, 200.0, 450.0))
    five = tuple(half_cell(cell) for cell in branch(60, *[300.0] * 5))
    return Substring((two, five), BYPASS), Substring((even, two), BYPASS), Substring((even, even), BYPASS)


ARRAYS = {
    "uniform": Array((String(panel(36)),)),
    "two levels": Array((String(panel(36, (300.0,)) + panel(36)),)),
    "heavy shade": Array((String(panel(72, tuple(np.linspace(50.0, 900.0, 20)), (120.0,) * 9, (700.0, 20.0))),)),
    "a dark cell": Array((String(panel(60, (0.0,))),)),
    "half-cut, unequal branches": Array((String(half_cut_panel()),)),
    "avalanche, no bypass": Array((String(with_avalanche(panel(36, (100.0,), diode=None)) * 2),)),
    "unlike panels in series": Array((String(panel(36) + panel(60, (400.0,)) + panel(72)),)),
    "unlike panels in parallel": Array((String(panel(72, (250.0,))), String(panel(60))), r_cable=0.05),
    "parallel, blocking": Array(
        (String(panel(36) * 2, BYPASS), String(panel(36, (150.0,)), BYPASS), String(panel(36) * 2, BYPASS))
    ),
    "long thin cable": Array((String(panel(36, (600.0,)) * 2), String(panel(36) * 2)), r_cable=0.4),
}


def assert_agree(array: Array) -> None:
    """The best peak, both ends and every peak the simulator saw."""
    dense = solve(array)
    v, i = sweep(array)
    peaks = peaks_of_sweep(array, v, i)
    best = max(peaks, key=lambda peak: peak.p)
    assert best.p == pytest.approx(dense.best.p, rel=P_AGREE)
    assert best.v == pytest.approx(dense.best.v, abs=V_AGREE)
    assert i[0] == pytest.approx(dense.i_sc, rel=P_AGREE)
    ends = run_sweeps(array, [(dense.v_oc - V_AGREE, dense.v_oc + V_AGREE, 1)])[0][1]
    assert ends[0] > 0 > ends[1]
    for peak in peaks:
        assert min(abs(peak.p / other.p - 1) for other in dense.peaks) < P_AGREE


@needs_ngspice
@pytest.mark.parametrize("name", ARRAYS)
def test_both_solvers_agree(name):
    assert_agree(ARRAYS[name])


@needs_ngspice
@pytest.mark.parametrize("kind", KINDS)
def test_both_solvers_agree_on_random_arrays(kind):
    assert_agree(random_array(np.random.default_rng(20), kind))


@needs_ngspice
def test_simulator_failure_shows_what_it_said():
    broken = Array((String((Substring(((replace(PANELS[36][1], r_shunt=math.nan),),)),)),))
    with pytest.raises(RuntimeError, match=r"its last lines:\n(.*\n)*.*Error"):
        run_sweeps(broken, [(0.0, 1.0, 10)])


def test_simulator_search_needs_the_program(monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(RuntimeError, match="not installed"):
        run_sweeps(ARRAYS["uniform"], [(0.0, 1.0, 10)])


# dense_reference against published numbers


def precise_points() -> list[dict[str, float]]:
    """Single-diode curves solved to 40 digits."""
    return [{key: float(value) for key, value in row.items()} for row in rows("precise_sdm_points.csv")]


def test_uniform_string_meets_the_forty_digit_solutions():
    for row in precise_points():
        n = int(row["cells_in_series"])
        a = row["n"] * VOLTS_PER_KELVIN * row["T_K"]
        series, shunt = row["resistance_series"] / n, row["resistance_shunt"] / n
        cell = Cell(row["photocurrent"], row["saturation_current"], a, series, shunt)
        found = solve(Array((String((Substring(((cell,) * n,)),)),)))
        assert found.best.p == pytest.approx(row["p_mp"], rel=1e-12)
        assert found.best.v == pytest.approx(row["v_mp"], rel=1e-6)
        assert (found.v_oc, found.i_sc) == pytest.approx((row["v_oc"], row["i_sc"]), rel=1e-9)


def ps1_cell(light: float) -> Cell:
    """A cell of the 72-cell module of PS1 at 25 °C."""
    return cell_in_light(PANELS[72][1], light)


def ps1_module(*lights: float) -> Array:
    """The module of PS1, one light a substring."""
    return Array((String(tuple(Substring(((ps1_cell(light),) * 24,), BYPASS) for light in lights)),))


def test_cell_of_72_is_the_one_of_the_file():
    module = CASES["PS1"]["inputs"]["module"]
    cell = ps1_cell(1000.0)
    assert (cell.i_light, cell.i_0) == (module["I_L_ref"], module["I_o_ref"])
    whole = (72 * cell.a, 72 * cell.r_series, 72 * cell.r_shunt)
    assert whole == pytest.approx((module["a_ref"], module["R_s"], module["R_sh_ref"]), rel=1e-12)


def test_three_lights_give_the_peaks_of_ps1():
    case = CASES["PS1"]
    found = solve(ps1_module(*case["inputs"]["irradiance"]))
    assert [peak.v for peak in found.peaks] == pytest.approx(case["published"]["peaks_V"], abs=0.05)
    powers = [row[2] for row in case["recomputed"]["peaks_V_I_P"]]
    assert [peak.p for peak in found.peaks] == pytest.approx(powers, rel=1e-3)
    assert found.best.p == pytest.approx(case["published"]["P_at_25.06V"], rel=1e-3)
    assert found.peaks[-1].p == pytest.approx(case["published"]["P_rightmost"], rel=1e-3)


def test_full_sun_gives_ps2():
    published = CASES["PS2"]["published"]
    found = solve(ps1_module(1000.0, 1000.0, 1000.0))
    assert found.best.p == pytest.approx(published["Pmp"], rel=1e-4)
    assert found.best.v == pytest.approx(published["Vmp"], abs=0.05)


def test_forced_substring_is_held_at_the_clamp_of_ps2():
    dim = substring_curve(Substring(((ps1_cell(200.0),) * 24,), BYPASS), 10.0)
    assert dim.voltage(np.array([9.08]))[0][0] == pytest.approx(CASES["PS2"]["published"]["clamp_V_at_9.08A"], abs=2e-3)


def rb2_cell(light: float) -> Cell:
    """The cell of set RB2 of reverse_bias.json."""
    rb2 = case("RB2", "reverse_bias.json", "parameter_sets")
    cell, a = rb2["cell"], rb2["cell"]["n"] * VOLTS_PER_KELVIN * KELVIN_STC
    avalanche = (rb2["a"], rb2["Vbr_V"], rb2["m"])
    full = Cell(cell["I_L_ref"], cell["I_o_ref"], a, cell["R_s"], cell["R_sh_ref"], avalanche)
    return cell_in_light(full, light)


def test_cell_driven_backwards_follows_reverse_bias_points():
    points = facts("reverse_bias.json")["cell_points_RB2"]["rows"]
    for light, current, volts in points:
        found = Chain([rb2_cell(light)], 20.0).voltage(np.array([current]))[0][0]
        assert found == pytest.approx(volts, abs=2e-3 if volts > -1 else 2e-2)


def ps4_module(diffuse: float, shaded: float) -> Array:
    """Shade that has climbed over a share of the twelve rows of all three substrings, two columns each."""
    dark = math.floor(round(shaded * 12, 9))
    border = 1 - (shaded * 12 - dark)
    rows = [1000 * diffuse] * dark
    if dark < 12:
        rows += [1000 * (diffuse + border * (1 - diffuse))] + [1000.0] * (11 - dark)
    substring = Substring((tuple(rb2_cell(light) for light in rows * 2),), BYPASS)
    return Array((String((substring,) * 3),))


def test_shade_across_all_substrings_gives_ps4():
    case = CASES["PS4"]["recomputed"]
    full = solve(ps4_module(0.2, 0.0)).best
    assert (full.p, full.i) == pytest.approx((case["P_full"], case["Imp_full"]), rel=1.5e-3)
    assert full.v == pytest.approx(case["Vmp_full"], abs=0.05)
    shaded = solve(ps4_module(0.2, 0.1)).best
    assert shaded.p == pytest.approx(case["P_fs0.1"], rel=1.5e-3)
    assert shaded.v == pytest.approx(case["Vmp_fs0.1"], abs=0.05)


def test_climbing_shade_gives_the_whole_grid_of_ps4():
    full = solve(ps4_module(0.2, 0.0)).best.p
    for diffuse, shaded, _, expected in CASES["PS4"]["grid"]["rows"]:
        assert solve(ps4_module(diffuse, shaded)).best.p / full == pytest.approx(expected, rel=1.5e-3)


def test_weak_cell_without_bypass_halves_the_current():
    case = CASES["PS9"]
    i_sc = case["inputs"]["Isc"]
    a = 0.0257
    good = Cell(i_sc, i_sc / math.expm1(case["inputs"]["Voc_cell"] / a), a, 0.0, 1e9)
    weak = replace(good, i_light=case["inputs"]["weak_cell_A"])
    lit = solve(Array((String((Substring(((good,) * 54,)),)),)))
    shaded = solve(Array((String((Substring(((weak,) + (good,) * 53,)),)),)))
    assert (lit.v_oc, lit.i_sc) == pytest.approx((case["published"]["Voc"], case["published"]["Isc"]), rel=1e-6)
    assert shaded.i_sc == pytest.approx(case["published"]["Isc_shaded"], rel=1e-6)


# dense_reference against a second method: closed form for the cell, one nested scalar root for the rest


def closed_form_voltage(cell: Cell, current: float) -> float:
    """Voltage of a cell without avalanche by the Wright omega function."""
    x = (cell.i_light + cell.i_0 - current) * cell.r_shunt
    w = wrightomega(x / cell.a + math.log(cell.i_0 * cell.r_shunt / cell.a))
    return float(x - cell.a * w.real) - current * cell.r_series


def string_voltage(string: String, current: float) -> float:
    """Voltage of bypassed substrings of one branch, by a scalar root for the current of each branch."""
    total = 0.0
    for substring in string.substrings:
        cells, (i_0, a) = substring.branches[0], substring.diode

        def v_chain(i: float, cells: tuple[Cell, ...] = cells) -> float:
            return sum(closed_form_voltage(cell, i) for cell in cells)

        def excess(i: float, i_0: float = i_0, a: float = a, v_chain=v_chain) -> float:
            return i + i_0 * math.expm1(min(-v_chain(i) / a, 500.0)) - current

        total += v_chain(brentq(excess, min(-1.0, current - 1.0), current + 1.0, xtol=1e-14, rtol=1e-14))
    return total


@pytest.mark.parametrize("name", ["two levels", "heavy shade", "unlike panels in series"])
def test_peaks_lie_on_the_curve_of_a_second_method(name):
    (string,) = ARRAYS[name].strings
    for peak in solve(ARRAYS[name]).peaks:
        assert string_voltage(string, peak.i) == pytest.approx(peak.v, rel=1e-9)
        for share in (0.999, 1.001):
            assert string_voltage(string, peak.i * share) * peak.i * share < peak.p


def test_parallel_peaks_lie_on_the_curve_of_a_second_method():
    array = ARRAYS["unlike panels in parallel"]
    for peak in solve(array).peaks:
        junction = peak.v + array.r_cable * peak.i
        currents = [
            brentq(lambda i, s=string, v=junction: string_voltage(s, i) - v, -20.0, 20.0, xtol=1e-13)
            for string in array.strings
        ]
        assert sum(currents) == pytest.approx(peak.i, rel=1e-9)


def test_random_arrays_reject_an_unknown_kind():
    with pytest.raises(ValueError, match="choose one of uniform"):
        random_array(np.random.default_rng(1), "unifrom")


@pytest.mark.parametrize("kind", KINDS)
def test_random_arrays_repeat_with_the_seed(kind):
    assert random_array(np.random.default_rng(4), kind) == random_array(np.random.default_rng(4), kind)
