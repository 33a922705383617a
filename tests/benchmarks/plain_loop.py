"""The straightforward way with pvlib: every array by itself, every cell a curve, np.interp for everything.

Kept as the rival in benchmarks. It does what a person does who writes one function from light to a power curve and
calls it for every wiring: nothing is shared between the wirings of a moment, not even equal substrings. A bypass
diode is a clamp at half a volt and the best point the largest of the grid. How many points one takes is one's own
choice, so the benchmark runs it with few and with many and tells the error beside the time.
"""

from __future__ import annotations

import numpy as np
from heavy_shade import ARRAYS, CELL, TEMP_CELL
from pvlib.pvsystem import calcparams_desoto
from pvlib.singlediode import bishop88

from vanpower.components.panel_cells import BLOCKING
from vanpower.rig import Circuit

AMPS, VOLTS, V_REVERSE, V_FORWARD, V_BYPASS = 9.5, 24.0, -15.0, 0.75, 0.5
# [A, V] ends of the grids: more than the array gives, and what a cell meets before its bypass diode takes over there


class PlainLoop:
    """The loop with so many points a cell and so many a curve."""

    def __init__(self, cell_points: int, points: int):
        quarter = cell_points // 4
        reverse = np.linspace(V_REVERSE, 0.0, quarter, endpoint=False)
        self.junction = np.concatenate([reverse, np.linspace(0.0, V_FORWARD, cell_points - quarter)])
        self.amps, self.volts = np.linspace(0.0, AMPS, points), np.linspace(0.0, VOLTS, points)

    def best_watts(self, light: np.ndarray) -> np.ndarray:
        """Best watts of the five arrays, shape (array, moment); light as `heavy_shade.light_of`."""
        moments = [light[:, m, :, 0, :] for m in range(light.shape[1])]
        return np.array([[self._best(circuit, moment) for moment in moments] for circuit in ARRAYS])

    def _best(self, circuit: Circuit, light: np.ndarray) -> float:
        """Best watts of one array; light (panel, substring, cell)."""
        strings = [sum(self._panel(light[panel]) for panel in string) for string in circuit.wiring.strings]
        if circuit.blocking_diodes:
            strings = [string - BLOCKING.drop(self.amps) for string in strings]
        if len(strings) == 1:
            return float((self.amps * strings[0]).max())
        amps = sum(np.interp(self.volts, string[::-1], self.amps[::-1]) for string in strings)
        return float((self.volts * amps).max())

    def _panel(self, light: np.ndarray) -> np.ndarray:
        """Volts of a panel's substrings at `amps`, each behind a bypass diode; light (substring, cell)."""
        return sum(np.maximum(sum(self._cell(float(one)) for one in group), -V_BYPASS) for group in light)

    def _cell(self, light: float) -> np.ndarray:
        """Volts of one cell at `amps`."""
        il, i_0, rs, rsh, a = calcparams_desoto(
            light, TEMP_CELL, CELL.alpha, CELL.a, CELL.i_light, CELL.i_0, CELL.r_shunt, CELL.r_series
        )
        i, v, _ = bishop88(self.junction, il, i_0, rs, rsh, a, 0, np.inf, 0.002, -18.0, 3.0)
        return np.interp(self.amps, i[::-1], v[::-1])
