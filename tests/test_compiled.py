"""Compiled loops against the numpy that they stand for, which is the reference; skipped where numba is not."""

import os
import subprocess
import sys
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from adapters import joined, with_our_blocking
from dense_reference import KINDS, random_array
from heavy_shade import best_watts, light_of
from test_roof_day import full_roof

from vanpower import Parked, example
from vanpower.engine import compiled
from vanpower.engine.array import PVArray, best_power, hilltops
from vanpower.engine.cells import (
    DEEPEST,
    FAR,
    FRONT_CONTACT,
    NO_AVALANCHE,
    Avalanche,
    Cell,
    chains,
    junction_voltage,
    wright_omega,
)
from vanpower.engine.curves import Curves, in_parallel, in_series
from vanpower.model import light
from vanpower.shading.layout import cells_of
from vanpower.shading.outlines import lit_share
from vanpower.shading.roofs import solids_of
from vanpower.shading.sun_disc import sun_vectors

SAME = 1e-9
# share by which numpy and compiled loops may differ
ARRAYS = 23
# random arrays of each of nine kinds: 207


@pytest.fixture
def both(monkeypatch):
    """What a call gives by numpy, then by compiled loops."""
    monkeypatch.setattr(compiled, "_loaded", [])
    if not compiled.load():
        if os.environ.get("VANPOWER_REQUIRE_TOOLS"):
            pytest.fail("numba is missing: pip install vanpower[fast]")
        pytest.skip("needs numba; install vanpower[fast]")
    loops = compiled.kernels()

    def twice(call):
        found = []
        for loaded in ([], [loops]):
            monkeypatch.setattr(compiled, "_loaded", loaded)
            found.append(call())
        return found

    return twice


@pytest.mark.parametrize("kind", KINDS)
def test_random_arrays_have_the_same_hills(both, kind):
    rng = np.random.default_rng([KINDS.index(kind), 23])
    for array in [with_our_blocking(random_array(rng, kind)) for _ in range(ARRAYS)]:
        plain, fast = both(lambda array=array: hills_of(joined(array)))
        for one, other in zip(plain, fast, strict=True):
            np.testing.assert_allclose(one, other, rtol=SAME)


def hills_of(array: PVArray) -> tuple[np.ndarray, ...]:
    """Volts and watts of the best point, watts a tenth of its volts below, and watts of every hill."""
    volts, watts = best_power(array)
    below = array.point(0.9 * volts, np.full(len(volts), False))[2]
    return volts, watts, below, hilltops(array).power


def test_many_moments_in_heavy_shade_give_the_same_watts(both):
    light = light_of(96, seed=5)
    np.testing.assert_allclose(*both(lambda: best_watts(light)), rtol=SAME)


def test_joined_curves_are_the_same_to_the_last_digit(both):
    # points that coincide, repeated last points, one curve that begins where the other ends
    one = Curves(
        np.array([[0.0, 1.0, 2.0, 2.0]]), np.array([[9.0, 8.0, 1.0, 1.0]]), np.array([[-1.0, -2.0, -9.0, -9.0]])
    )
    other = Curves(np.array([[2.0, 3.0, 3.0]]), np.array([[5.0, 1.0, 1.0]]), np.array([[-2.0, -8.0, -8.0]]))
    for join in (in_series, in_parallel):
        for parts in ([one, other], [other, one], [one, one], [one, other, one]):
            plain, fast = both(lambda join=join, parts=parts: join(parts))
            for name in ("current", "voltage", "slope"):
                np.testing.assert_array_equal(getattr(plain, name), getattr(fast, name))


def test_omega_is_the_same_near_and_far(both):
    z = np.concatenate([np.linspace(DEEPEST - 9.0, FAR + 9.0, 4001), np.geomspace(FAR, 1e12, 999)])
    np.testing.assert_allclose(*both(lambda: wright_omega(z)), rtol=1e-8)


def test_shadows_on_a_full_roof_are_the_same(both):
    # every half cell at eleven suns, soft rims and shadows that overlap among them
    suns = sun_vectors(np.linspace(2.0, 62.0, 11), np.linspace(60.0, 290.0, 11), heading_deg=30.0)
    plan, panels = next((rig.roof, rig.panels) for rig in full_roof().values())
    edges = np.concatenate([cells_of(panels[spot.panel], spot).edges for spot in plan.spots])
    plain, fast = both(lambda: lit_share(edges, solids_of(plan, 30.0), suns))
    np.testing.assert_allclose(plain, fast, rtol=0, atol=SAME)
    assert 0.1 < np.mean((plain > 0.01) & (plain < 0.79)) < 0.9


def test_logarithm_and_exponential_are_those_of_the_library(both):
    both(lambda: None)
    x, z = np.geomspace(1e-300, 1e300, 999), np.linspace(-700.0, 700.0, 999)
    loops = compiled.kernels()
    np.testing.assert_allclose([loops._log(one) for one in x], np.log(x), rtol=1e-15, atol=1e-15)
    np.testing.assert_allclose([loops._exp(one) for one in z], np.exp(z), rtol=1e-13)


def test_cells_in_any_light_have_the_same_volts_and_those_of_no_avalanche(both):
    # lit, dark and leaky cells from deep reverse to back-feed, also of an avalanche that the loops do not know
    lit = np.array([[0.0, 5.0, 200.0, 1000.0]] * 2)
    current = np.tile(np.concatenate([-np.geomspace(9.0, 1e-9, 40), np.geomspace(1e-9, 30.0, 60)]), (2, 1))
    for r_leak, avalanche in product((np.inf, 0.8), (FRONT_CONTACT, NO_AVALANCHE, Avalanche(exponent=4.2))):
        cell = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0, r_leak=r_leak)
        chain = chains(cell, lit, np.array([20.0, 60.0]))
        for level in range(4):
            one = chain.level(level)
            plain, fast = both(lambda one=one, avalanche=avalanche: junction_voltage(one, current, avalanche))
            np.testing.assert_allclose(plain[0], fast[0], rtol=SAME, atol=SAME)
            np.testing.assert_allclose(plain[1], fast[1], rtol=1e-8)


def test_long_days_under_a_roof_load_them_before_their_shadows_and_a_moment_does_not(both, monkeypatch):
    both(lambda: None)
    asked, worked_out = [], light.conditions_of
    monkeypatch.setattr(light.compiled, "load", lambda: asked.append("loops"))
    monkeypatch.setattr(light, "conditions_of", lambda *of: asked.append("light") or worked_out(*of))
    rig, day = example("goat-cheese-van"), Parked(latitude_deg=50.0, day="06-21", step_min=60.0)
    bare = replace(rig.roof, fixtures=())

    def told(plan):
        asked.clear()
        light._worked_out.cache_clear()
        light.lit_panels(rig.panels, day, plan)
        return asked

    assert told(rig.roof) == ["light", "light"]
    monkeypatch.setattr(light, "WORTH_COMPILING", 4)
    assert told(bare) == ["light"]
    assert told(rig.roof) == ["light", "loops", "light"]


def test_what_a_person_runs_once_never_imports_numba():
    code = (
        "import sys; from vanpower import Parked, compare, example; from vanpower.checks.registry import check; "
        "rig = example('bookmobile'); check(rig); compare(rig.wirings(), Parked(latitude_deg=50, day='06-21')); "
        "print('numba' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
