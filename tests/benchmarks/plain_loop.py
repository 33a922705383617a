"""The straightforward way with pvlib: every array by itself, every cell a curve, np.interp for everything.

Kept as the rival in benchmarks. It does what a person does who writes one function from light to a power curve and
calls it for every wiring: nothing is shared between the wirings of a moment, not even equal substrings.
"""

from __future__ import annotations

import numpy as np
from heavy_shade import APART, BYPASS, CELL, TEMP_CELL, WIRINGS
from pvlib.pvsystem import calcparams_desoto
from pvlib.singlediode import bishop88

from vanpower.rig import Circuit

POINTS = 400
AMPS = np.linspace(0.0, 9.5, POINTS)
JUNCTION = np.concatenate([np.linspace(-15.0, 0.0, POINTS // 4), np.linspace(0.0, 0.75, 3 * POINTS // 4)])


def best_watts(light: np.ndarray) -> np.ndarray:
    """Best watts of the five arrays, shape (array, moment); light as `heavy_shade.light_of`."""
    moments = [light[:, m, :, 0, :] for m in range(light.shape[1])]
    return np.array([[_best(circuit, moment) for moment in moments] for circuit in (*WIRINGS.values(), APART)])


def _best(circuit: Circuit, light: np.ndarray) -> float:
    """Best watts of one array; light (panel, substring, cell)."""
    strings = [sum(_panel(light[panel]) for panel in string) for string in circuit.wiring.strings]
    if circuit.blocking_diodes:
        strings = [string - BYPASS.drop(AMPS) for string in strings]
    if len(strings) == 1:
        return float((AMPS * strings[0]).max())
    volts = np.linspace(0.0, 24.0, POINTS)
    amps = sum(np.interp(volts, string[::-1], AMPS[::-1]) for string in strings)
    return float((volts * amps).max())


def _panel(light: np.ndarray) -> np.ndarray:
    """Volts of a panel's substrings, each behind a bypass diode, at `AMPS`."""
    return sum(np.maximum(sum(_cell(float(one)) for one in group), -0.5) for group in light)


def _cell(light: float) -> np.ndarray:
    """Volts of one cell at `AMPS`."""
    il, i_0, rs, rsh, a = calcparams_desoto(
        light, TEMP_CELL, CELL.alpha, CELL.a, CELL.i_light, CELL.i_0, CELL.r_shunt, CELL.r_series
    )
    i, v, _ = bishop88(JUNCTION, il, i_0, rs, rsh, a, 0, np.inf, 0.002, -18.0, 3.0)
    return np.interp(AMPS, i[::-1], v[::-1])
