"""An array with something wrong, for many draws: a line open, a panel the wrong way round or leaky, a bad joint."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vanpower.components.cables.resistance import resistance
from vanpower.components.panel_cells import BLOCKING
from vanpower.engine.array import PanelTables
from vanpower.engine.curves import (
    Curves,
    in_parallel,
    in_series,
    open_circuit_voltage,
    with_blocking,
    with_resistance,
)
from vanpower.model.arrays import roof_of
from vanpower.model.conditions import Conditions
from vanpower.rig import Circuit, Panel

Array = np.ndarray
Strings = Sequence[Sequence[int]]

PUSHED = 1.6
# times all short-circuit amps of the other strings that may be pushed through a panel the wrong way round: what an
# edge of a cloud adds, and room; no source


@dataclass(frozen=True, eq=False)
class FaultyArray:
    """Panels of one circuit with something wrong, many draws at once, and how they are joined.

    Parameters
    ----------
    panels : tuple of Panel
    light : Conditions
    circuit : Circuit
    strings : tuple of tuple of int
        Those whose line is closed.
    r_roof, r_string : ndarray (draw,) or float
        Ohms too many in the roof cable, and in the first string. [ohm]
    turned, leaky : int, optional
        The panel that is the wrong way round, and the one that leaks.
    r_leak : ndarray (draw,), optional
        Ohms across the leaky one, beyond what its label has. [ohm]
    rows : ndarray, optional
        The draws that it is made for; all where it is not given.
    """

    panels: tuple[Panel, ...]
    light: Conditions
    circuit: Circuit
    strings: Strings
    r_roof: Array | float = 0.0
    r_string: Array | float = 0.0
    turned: int | None = None
    leaky: int | None = None
    r_leak: Array | float = np.inf
    rows: Array | None = None

    def of(self, drawn: Array) -> Array:
        """What was drawn, of its own draws."""
        return drawn if self.rows is None else drawn[self.rows]

    @cached_property
    def tables(self) -> PanelTables:
        """Curves of the panels."""
        back = 0.0 if self.turned is None else PUSHED * sum(max(self.panels[p].i_sc for p in s) for s in self.strings)
        return roof_of(self.panels, self.light, i_back=back)

    @cached_property
    def each_string(self) -> list[Curves]:
        """Curves of the strings, of equal ones one."""
        return [curve for curve, _ in self._kinds]

    @cached_property
    def _kinds(self) -> list[tuple[Curves, int]]:
        """Each kind of string, and how many there are of it."""
        joint = bool(np.any(np.asarray(self.r_string) > 0))
        keys = [(joint and number == 0, self._kind(string)) for number, string in enumerate(self.strings)]
        return [(self._string(dict(kind), with_joint=first), many) for (first, kind), many in Counter(keys).items()]

    def _kind(self, string: Sequence[int]) -> tuple[tuple[int, int], ...]:
        """What a string is made of: one panel of each kind, and how many of it."""
        return tuple(sorted(Counter(self._alike[panel] for panel in string).items()))

    @cached_property
    def _alike(self) -> list[int]:
        """For each panel the first that is like it."""
        kinds = [(self.tables.which[p], p == self.turned, p == self.leaky) for p in range(len(self.panels))]
        return [kinds.index(kind) for kind in kinds]

    def _string(self, kinds: Mapping[int, int], *, with_joint: bool) -> Curves:
        """Curve of a string of so many panels of each kind."""
        curve = in_series([_times(self._panel(panel), many) for panel, many in kinds.items()])
        curve = with_blocking(curve, BLOCKING) if self.circuit.blocking_diodes else curve
        return with_resistance(curve, _column(self.r_string)) if with_joint else curve

    @cached_property
    def r_line(self) -> Array:
        """Ohms from where the strings meet to the controller (draw, 1). [ohm]"""
        return resistance(self.circuit.cable) + _column(self.r_roof)

    @cached_property
    def curves(self) -> Curves:
        """Curves at the controller."""
        return with_resistance(in_parallel([_abreast(curve, many) for curve, many in self._kinds]), self.r_line)

    def alone(self, panel: int) -> Curves:
        """A panel by itself, with its leak."""
        curve = self.tables.curve(panel)
        if panel != self.leaky:
            return curve
        leaks = 1.0 / _column(self.r_leak)
        return Curves(curve.current - curve.voltage * leaks, curve.voltage, 1.0 / (1.0 / curve.slope - leaks))

    def _panel(self, panel: int) -> Curves:
        """One panel, the right way round or not."""
        curve = self.alone(panel)
        if panel != self.turned:
            return curve
        return Curves(-curve.current[..., ::-1], -curve.voltage[..., ::-1], curve.slope[..., ::-1])

    def faded(self, light: float, temp_cell: float) -> FaultyArray:
        """The same where the brightest cell has so much light [W/m²], and all are so warm [°C]."""
        fade = light / np.maximum(self.light.brightest, 1e-6)
        dull = tuple(panel * fade[:, None, None, None] for panel in self.light.light)
        return replace(self, light=Conditions(dull, np.full_like(self.light.temp_cell, temp_cell)))

    def worst_panel(self) -> Array:
        """Open-circuit volts of the panel that is farthest below its label, each alone (draw,). [V]"""
        panels = dict.fromkeys(panel for string in self.strings for panel, _ in self._kind(string))
        volts = np.stack([open_circuit_voltage(self.alone(p)) for p in panels])
        label = np.array([[self.panels[p].v_oc] for p in panels])
        return np.take_along_axis(volts, (volts / label).argmin(axis=0)[None], axis=0)[0]


def _times(curve: Curves, many: int) -> Curves:
    """So many of a curve in series."""
    return curve if many == 1 else Curves(curve.current, many * curve.voltage, many * curve.slope)


def _abreast(curve: Curves, many: int) -> Curves:
    """So many of a curve in parallel."""
    return curve if many == 1 else Curves(many * curve.current, curve.voltage, curve.slope / many)


def _column(ohms: Array | float) -> Array:
    """Ohms as they are added to curves."""
    return np.reshape(np.asarray(ohms, float), (-1, 1))
