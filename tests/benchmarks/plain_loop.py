"""The straightforward way with pvlib: every cell a curve, np.interp for everything. Kept as the rival in benchmarks."""

from __future__ import annotations

import numpy as np
from heavy_shade import BYPASS, CELL, PANELS, TEMP_CELL
from pvlib.pvsystem import calcparams_desoto
from pvlib.singlediode import bishop88

POINTS = 400


def best_watts(light: np.ndarray) -> np.ndarray:
    """Best watts of the five arrays, shape (array, moment); light as `heavy_shade.light_of`."""
    return np.stack([_moment(light[:, m, :, 0, :]) for m in range(light.shape[1])], axis=1)


def _moment(light: np.ndarray) -> np.ndarray:
    """One moment: light (panel, substring, cell)."""
    amps = np.linspace(0.0, 9.5, POINTS)
    panels = [sum(_substring(group, amps) for group in panel) for panel in light]
    volts = np.linspace(0.0, 24.0, POINTS)
    parallel = [np.interp(volts, panel[::-1], amps[::-1]) for panel in panels]
    drop = BYPASS.drop(amps)
    blocked = [np.interp(volts, (panel - drop)[::-1], amps[::-1], right=0.0) for panel in panels]
    powers = [amps * sum(panels), volts * sum(parallel), volts * sum(blocked), amps * (panels[0] + panels[1])]
    return np.array([power.max() for power in (*powers, amps * panels[PANELS - 1])])


def _substring(light: np.ndarray, amps: np.ndarray) -> np.ndarray:
    """Volts of 18 cells behind a bypass diode at the given amps."""
    volts = np.zeros_like(amps)
    for one in light:
        il, i_0, rs, rsh, a = calcparams_desoto(
            one, TEMP_CELL, CELL.alpha, CELL.a, CELL.i_light, CELL.i_0, CELL.r_shunt, CELL.r_series
        )
        junction = np.concatenate([np.linspace(-15.0, 0.0, POINTS // 4), np.linspace(0.0, 0.75, 3 * POINTS // 4)])
        i, v, _ = bishop88(junction, il, i_0, rs, rsh, a, 0, np.inf, 0.002, -18.0, 3.0)
        volts += np.interp(amps, i[::-1], v[::-1])
    return np.maximum(volts, -0.5)
