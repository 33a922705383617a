"""Compiled loops against the numpy that they stand for, which is the reference; skipped where numba is not."""

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from adapters import joined, with_our_blocking
from dense_reference import KINDS, random_array
from heavy_shade import best_watts, light_of
from test_roof_day import full_roof

from vanpower import Parked
from vanpower.engine import compiled
from vanpower.engine.array import PVArray, best_power, hilltops
from vanpower.engine.cells import DEEPEST, FAR, wright_omega
from vanpower.engine.curves import Curves, in_parallel, in_series
from vanpower.model import light

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
    """Volts and watts of the best point, and watts of every hill."""
    return (*best_power(array), hilltops(array).power)


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


def test_long_days_under_a_roof_load_them_and_a_moment_does_not(both, monkeypatch):
    both(lambda: None)
    asked = []
    monkeypatch.setattr(light.compiled, "load", lambda: asked.append(1))
    rig = next(iter(full_roof().values()))
    day = light.lit_panels(rig.panels, Parked(latitude_deg=50.0, day="06-21", step_min=60.0), rig.roof)
    day.part(0)
    assert not asked
    monkeypatch.setattr(light, "WORTH_COMPILING", 4)
    replace(day, chunk=light.CHUNK).part(0)
    assert not asked
    replace(day).part(0)
    assert asked


def test_what_a_person_runs_once_never_imports_numba():
    code = (
        "import sys; from vanpower import Parked, compare, example; from vanpower.checks.registry import check; "
        "rig = example('bookmobile'); check(rig); compare(rig.wirings(), Parked(latitude_deg=50, day='06-21')); "
        "print('numba' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
