"""Current-voltage curve of one panel alone: volts, amps and every local maximum of its power."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from vanpower.components.low_light import dull_middle
from vanpower.engine.array import PVArray, hilltops
from vanpower.engine.curves import current_at, open_circuit_voltage, short_circuit_current
from vanpower.engine.maxima import Maxima
from vanpower.model.conditions import conditions_of
from vanpower.model.light import LitPanels, lit_panels, title_of
from vanpower.results.numbers import known_in
from vanpower.results.result import Plotted
from vanpower.rig import Panel, Shade, Snapshot

if TYPE_CHECKING:
    from collections.abc import Iterable

Array = np.ndarray


@dataclass(frozen=True, eq=False, repr=False)
class IVCurve(Plotted):
    """Current-voltage curve of one panel in one light, by its label.

    Parameters
    ----------
    panel : Panel
    request : Snapshot
        Irradiance, cell temperature and shade.
    lit : LitPanels
        The panel in that light.

    Notes
    -----
    In dull light measured panels give less than their labels' curve; `p_middle` is what the middle of them gives, as
    comparisons tell it. A panel calibrated by a reading, see `calibrate_panel`, is taken at its own curve.

    Examples
    --------
    >>> from vanpower import example
    >>> panel_curve(example("bookmobile").panels[0], light=1000)
    thin 110 W, at 1000 W/m² and cells at 25 °C: 110 W at 18.5 V; 22.3 V open, 6.25 A short
    """

    panel: Panel
    request: Snapshot
    lit: LitPanels

    def __repr__(self) -> str:
        alone, middle = known_in(self.p_mp, "W"), known_in(self.p_middle, "W")
        watts = alone if alone == middle else f"about {middle} ({alone} by the label alone)"
        ends = f"{abs(self.v_oc):.1f} V open, {self.i_sc:.2f} A short"
        return f"{self.panel.name}, {title_of(self.request)}: {watts} at {abs(self.v_mp):.1f} V; {ends}"

    @cached_property
    def array(self) -> PVArray:
        """The panel by itself, without cable."""
        return PVArray.of_panels(self.lit.part(0), ((0,),))

    @property
    def v_oc(self) -> float:
        """Open-circuit volts. [V]"""
        return float(open_circuit_voltage(self.array.curves)[0])

    @property
    def i_sc(self) -> float:
        """Short-circuit amps. [A]"""
        return float(short_circuit_current(self.array.curves)[0])

    @property
    def v_mp(self) -> float:
        """Volts at the best point. [V]"""
        return float(self.array.peaks[1][0][0])

    @property
    def i_mp(self) -> float:
        """Amps at the best point, by label. [A]"""
        return float(self.array.peaks[1][1][0])

    @property
    def p_mp(self) -> float:
        """Watts at the best point, by label. [W]"""
        return float(self.array.peaks[1][2][0])

    @property
    def p_middle(self) -> float:
        """Watts at the best point in the middle of measured panels with such a label. [W]"""
        return self.p_mp * float(dull_middle([self.panel], self.lit.conditions.brightest)[0])

    @property
    def maxima(self) -> Maxima:
        """All local maxima of power by label, from open circuit down, each (hill,). [V, A, W]"""
        found = hilltops(self.array)
        there = np.isfinite(found.voltage[0])
        return Maxima(found.voltage[0][there], found.current[0][there], found.power[0][there])

    def amps(self, volts: Array | float) -> Array:
        """Amps by label at some volts, in the shape of these; negative beyond open circuit. [A]"""
        at = np.asarray(volts, float)
        return current_at(self.array.curves, at.reshape(1, -1))[0].reshape(at.shape)


def panel_curve(panel: Panel, light: float, temp_cell: float = 25.0, shade: Iterable[Shade] = ()) -> IVCurve:
    """Current-voltage curve of a single panel, from its label, at some irradiance and cell temperature.

    Parameters
    ----------
    panel : Panel
    light, temp_cell : float
        Irradiance on the panel, and temperature of its cells. [W/m², °C]
    shade : iterable of Shade
        Notes for panel 0, which is the only one.

    Returns
    -------
    IVCurve
        Open-circuit volts, short-circuit amps, best point, all local maxima of power, and a plot.

    Examples
    --------
    >>> from vanpower import Shade, example
    >>> panel = example("bookmobile").panels[0]
    >>> dull = panel_curve(panel, light=100, temp_cell=15)
    >>> dull  # doctest: +NORMALIZE_WHITESPACE
    thin 110 W, at 100 W/m² and cells at 15 °C: about 9.7 W (10.9 W by the label alone) at 18.4 V; 21.1 V open,
    0.62 A short
    >>> half = panel_curve(panel, light=800, temp_cell=40, shade=[Shade(panel=0, substring=0, lit=0.2)])
    >>> half.maxima.power.round(1).tolist(), half.amps([0.0, 15.0]).round(2).tolist()
    ([18.0, 39.2], [5.04, 1.0])
    """
    request = Snapshot(light=light, temp_cell=temp_cell, shade=tuple(shade))
    return IVCurve(panel, request, lit_panels((panel,), conditions_of((panel,), request)))
