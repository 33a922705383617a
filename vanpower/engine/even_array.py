"""Arrays of equal panels in equal light, without any table: everything is explicit in the junction volts of one cell.

Where all cells of an array carry the same light at the same heat, its strings are equal and none of its bypass diodes
takes over at positive volts, so one chain of cells tells the whole. A point is sought by Newton's method on the
second-order expansion of that chain, as `operating_point` does for chains that differ; both meet the same points.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vanpower.engine.cells import Avalanche, CellChains, chain_quadratic, junction_current, wright_omega
from vanpower.engine.curves import SLOPE_BLOCKED, Diode
from vanpower.engine.maxima import Maxima
from vanpower.engine.quadratics import Quadratic, side_by_side

Array = np.ndarray

MET, STEPS = 1e-6, 30
# share of the volts by which the last step may move a point, whose error is then the third power of it; steps at most:
# sound cells take 3 to 5, leaky ones 6
MET_CELL = 1e-9
# share of a cell's open-circuit volts by which the last step to given volts or watts may move
LEAST_FALL = 1e-6
# share of the power by which it falls with a cell's volts at least [1/V], so that a step has an end at the maximum


@dataclass(frozen=True, eq=False)
class EvenArray:
    """Equal strings of equal panels in the same light, in parallel behind a cable, at every moment.

    Parameters
    ----------
    cells : CellChains
        The chain of cells of one branch, all of one level, a row for each moment.
    branches : int
        Chains beside each other under one bypass diode.
    series, strings : int
        Groups under a bypass diode in a string, and strings.
    bypass, blocking : Diode, optional
        Across each group, and in series with every string.
    resistance : float
        Of the cable. [ohm]
    avalanche : Avalanche

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.full((1, 18), 1000.0), np.array([25.0]))
    >>> pair = EvenArray(chain, 1, 4, 1, None, None, 0.0, FRONT_CONTACT)  # two panels of two groups in series
    >>> [part.round(1) for part in pair.peaks[1]], pair.v_oc.round(1)
    ([array([38.7]), array([5.7]), array([219.1])], array([46.4]))
    """

    cells: CellChains
    branches: int
    series: int
    strings: int
    bypass: Diode | None
    blocking: Diode | None
    resistance: float
    avalanche: Avalanche

    def rows(self, index: Array) -> EvenArray:
        """The array at some of the moments."""
        return EvenArray(
            self.cells.rows(index), self.branches, self.series, self.strings, self.bypass, self.blocking,
            self.resistance, self.avalanche,
        )  # fmt: skip

    @cached_property
    def v_oc(self) -> Array:
        """Open-circuit volts (moment,). [V]

        Notes
        -----
        Amps fall ever faster with a cell's volts, so Newton's method never passes zero from above open circuit.
        """
        cells, u = self.cells, np.minimum(self._u_open, self._u_leak)[:, None]
        for _ in range(STEPS):
            current, lead = junction_current(cells, u, self.avalanche)
            if self.bypass is not None:
                through = self.bypass.current(-cells.count * u) / self.branches
                current = current + through
                lead = lead - cells.count * (through + self.bypass.i_0 / self.branches) / self.bypass.v_fold
            step = current / lead
            u = np.maximum(u - step, 0.0)
            if (np.abs(step) <= MET * u).all():
                break
        return self.series * (cells.count * u)[:, 0]

    @cached_property
    def peaks(self) -> tuple[Maxima, tuple[Array, Array, Array]]:
        """The one local maximum of power, as all of them, and its volts, amps and watts (moment,)."""
        folds = np.log1p(self.cells.i_light / self.cells.i_0)
        # as `max_power` begins
        start = np.minimum(self.cells.a * (wright_omega(1.0 + folds) - 1.0), 0.5 * self._u_leak[:, None])
        top = self._sought(start[:, 0], Quadratic.hilltop)
        v, i = top.voltage, top.current
        return Maxima(v[:, None], i[:, None], (v * i)[:, None]), (v, i, v * i)

    def amps_at(self, voltage: Array) -> Array:
        """Amps at terminal volts (moment,); none above open circuit. [A]"""
        current, below = np.zeros_like(voltage), voltage < self.v_oc
        if below.all():
            return self._at_volts(voltage)
        if below.any():
            current[below] = self.rows(below)._at_volts(voltage[below])
        return current

    def point(self, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array]:
        """Volts, amps, watts at terminal volts (moment,), or at the maximum where that is meant."""
        v, i, p = (each.copy() for each in self.peaks[1])
        there = ~on_hill
        if there.any():
            v[there], i[there] = voltage[there], self.rows(there).amps_at(voltage[there])
            p[there] = v[there] * i[there]
        return v, i, p

    def backed_off(self, volts: Array, v_oc: Array, power: Array) -> tuple[Array, Array]:
        """Volts and amps between the volts of the maximum and open circuit where it gives just the watts wanted."""

        def short(whole: Quadratic, di_du: Array) -> tuple[Array, Array]:
            # power falls ever faster towards open circuit, so no step from there passes the place
            fall = (whole.voltage + whole.current * whole.slope) * di_du
            return power - whole.current * whole.voltage, np.minimum(fall, -LEAST_FALL * power)

        found = self._newton(self._u_oc, short)
        v = found.voltage
        return v, power / v

    @property
    def _u_open(self) -> Array:
        """Junction volts of a cell without shunt in open circuit (moment,). [V]"""
        cells = self.cells
        return (cells.a * np.log1p(cells.i_light / cells.i_0))[:, 0]

    @property
    def _u_leak(self) -> Array:
        """Junction volts at which a cell's shunt takes all its light current (moment,). [V]"""
        return (self.cells.i_light * self.cells.r_shunt)[:, 0]

    @property
    def _u_oc(self) -> Array:
        """Junction volts of a cell in open circuit (moment,). [V]"""
        return self.v_oc / (self.series * self.cells.count[:, 0])

    def _at_volts(self, voltage: Array) -> Array:
        """Amps at terminal volts below open circuit."""

        def short(whole: Quadratic, di_du: Array) -> tuple[Array, Array]:
            # volts rise ever faster with those of a cell: a step from below may pass the place, the others do not
            return voltage - whole.voltage, whole.slope * di_du

        return self._newton(voltage / (self.series * self.cells.count[:, 0]), short).leads_at(voltage)[0]

    def _newton(self, u: Array, short: Callable[[Quadratic, Array], tuple[Array, Array]]) -> Quadratic:
        """The expansion where what is short by an expansion and its amps' dI/du, told with its rate, is nothing."""
        top = self._u_oc
        for _ in range(STEPS):
            whole, part, rate = self._expanded(u)
            lacking, per_u = short(whole, self.strings * rate / part.slope)
            step = lacking / per_u
            u = np.minimum(np.maximum(u + step, 0.0), top)
            if (np.abs(step) <= MET_CELL * top).all():
                break
        return whole

    def _sought(self, u: Array, wanted: Callable[[Quadratic], Array]) -> Quadratic:
        """From junction volts on to the point whose amps `wanted` tells from an expansion nearby."""
        top = self._u_open
        for _ in range(STEPS):
            whole, part, rate = self._expanded(u)
            current = wanted(whole)
            moved = part.at_current(current / self.strings).voltage - part.voltage
            u = np.minimum(np.maximum(u + moved / rate, 0.0), top)
            if (np.abs(moved) <= MET * np.abs(part.voltage)).all():
                break
        return whole.at_current(current)

    def _expanded(self, u: Array) -> tuple[Quadratic, Quadratic, Array]:
        """Expansions at junction volts (moment,): of the array, and of a group under a bypass diode, with its dV/du."""
        chain, rate = chain_quadratic(self.cells, u, self.avalanche)
        part = self._part(chain)
        v, slope, bend = (self.series * each for each in (part.voltage, part.slope, part.bend))
        if self.blocking is not None:
            i = np.maximum(part.current, 0.0)
            steep = self.blocking.v_fold / (self.blocking.i_0 + i)
            forward = part.current > 0
            v = v - self.blocking.drop(i)
            slope = np.where(forward, slope - steep, SLOPE_BLOCKED)
            bend = np.where(forward, bend + steep / (self.blocking.i_0 + i), 0.0)
        n = self.strings
        return Quadratic(n * part.current, v, slope / n, bend / n**2).behind(self.resistance), part, rate

    def _part(self, chain: Quadratic) -> Quadratic:
        """A group under a bypass diode: its branches beside each other, and what the diode lets through."""
        if self.branches == 1 and self.bypass is None:
            return chain
        current, lead, turn = (self.branches * each for each in chain.leads_at(chain.voltage))
        if self.bypass is not None:
            through = self.bypass.current(-chain.voltage)
            steep = (through + self.bypass.i_0) / self.bypass.v_fold
            current, lead, turn = current + through, lead - steep, turn + steep / self.bypass.v_fold
        return side_by_side(chain.voltage, current, lead, turn)
