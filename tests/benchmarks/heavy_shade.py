"""The array all speeds are told for: 3 panels of 36 cells, 14 random light levels a substring, four wirings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from vanpower.engine import compiled
from vanpower.engine.array import PVArray, best_power
from vanpower.engine.cells import Cell
from vanpower.engine.curves import Diode
from vanpower.model.arrays import join, roof_of_cells
from vanpower.model.conditions import Conditions
from vanpower.rig import Circuit, Controller, Wiring

CELL = Cell(i_light=9.05, i_0=2e-10, a=0.0263, r_series=0.005, r_shunt=8.0, alpha=0.004)
BYPASS = Diode(10 / np.expm1(0.5 / 0.0283), 0.0283)
TEMP_CELL = 45.0
LEVELS, CELLS, SUBSTRINGS, PANELS = 14, 18, 2, 3
CHUNK = 288
ANY = Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0)


def wired(*strings: tuple[int, ...], blocking: bool = False) -> Circuit:
    """A circuit without cable."""
    return Circuit(wiring=Wiring(strings=strings), controller=ANY, blocking_diodes=blocking)


WIRINGS = {
    "3s": wired((0, 1, 2)),
    "3p": wired((0,), (1,), (2,)),
    "3p, blocking diodes": wired((0,), (1,), (2,), blocking=True),
    "2s, the third apart": wired((0, 1)),
}
APART = wired((2,))
ARRAYS = (*WIRINGS.values(), APART)
CURVES = len(ARRAYS)


def light_of(moments: int, levels: int = LEVELS, seed: int = 1, panels: int = PANELS) -> np.ndarray:
    """Light on every cell, new at every moment, shape (panel, moment, substring, branch, cell). [W/m²]"""
    rng = np.random.default_rng(seed)
    distinct = rng.uniform(120.0, 1000.0, (panels, moments, SUBSTRINGS, 1, levels))
    repeated = np.concatenate([np.arange(levels), rng.integers(0, levels, CELLS - levels)])
    return distinct[..., repeated]


def best_watts(light: np.ndarray, arrays: Sequence[Circuit] = ARRAYS) -> np.ndarray:
    """Best watts of all arrays, shape (array, moment)."""
    chunks = [light[:, first : first + CHUNK] for first in range(0, light.shape[1], CHUNK)]
    return np.concatenate([_best_watts(chunk, arrays) for chunk in chunks], axis=1)


def _best_watts(light: np.ndarray, arrays: Sequence[Circuit]) -> np.ndarray:
    return np.stack([best_power(array)[1] for array in joined_arrays(light, arrays)])


def joined_arrays(light: np.ndarray, arrays: Sequence[Circuit]) -> Iterator[PVArray]:
    """The arrays one after another, on panels worked out once."""
    panels, moments = light.shape[:2]
    conditions = Conditions(tuple(light), np.full((moments, panels), TEMP_CELL))
    roof = roof_of_cells([CELL] * panels, [BYPASS] * panels, conditions)
    return (join(roof, circuit) for circuit in arrays)


@contextmanager
def by_loops(fast: bool) -> Iterator[None]:
    """Work by compiled loops, or by numpy alone, whatever was loaded before."""
    before = compiled._loaded.copy()
    if fast:
        compiled.load()
    else:
        compiled._loaded.clear()
    try:
        yield
    finally:
        compiled._loaded[:] = before
