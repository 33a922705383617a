"""Whole arrays: panels in their light, connected in strings, and the maximum power point of the whole.

Panel curves do not know the wiring: they are computed once and every wiring is tried on them. An array can be tabulated
again with points closer together around any voltage; so an operating point is found to many digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from vanpower.engine.chain_tables import ChainTable, refined_at, substring_curve
from vanpower.engine.curves import (
    Curves,
    Diode,
    current_at,
    current_of_each,
    in_parallel,
    in_series,
    open_circuit_voltage,
    voltage_of_each,
    with_blocking,
    with_resistance,
)
from vanpower.engine.maxima import Maxima, Met, best, global_maximum, maxima, maxima_of_each, point_near, refine
from vanpower.engine.operating_point import net_of, solve
from vanpower.engine.topology import Groups, Lists, Topology, apart, counted, unique, wired

Array = np.ndarray
Peaks = tuple[Maxima, tuple[Array, Array, Array]]

V_SAME_HILL = 0.01
# [V] two hilltops closer than this are one
CLIP_STEPS, V_CLIP_MET, LEAST_FALL = 50, 1e-6, -1e-6
# Newton steps at most to the clipped point; the last one's length at most [V]; and how much power must fall with volts
# for a step [W/V], where the range is halved instead


def backed_off(curves: Curves, low: Array, high: Array, power: Array) -> tuple[Array, Array]:
    """Volts and amps between hill and open circuit where curves give just the watts wanted, all (moment,).

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> volts, amps = backed_off(source, np.array([10.0]), np.array([20.0]), np.array([32.0]))
    >>> volts.round(2), amps.round(2)
    (array([16.]), array([2.]))
    """
    v = high
    for _ in range(CLIP_STEPS):
        i, lead = (a[:, 0] for a in current_at(curves, v[:, None]))
        spare = v * i - power
        low, high = np.where(spare > 0, v, low), np.where(spare > 0, high, v)
        newton = v - spare / np.minimum(i + v * lead, LEAST_FALL)
        before, v = v, np.where((newton > low) & (newton < high), newton, 0.5 * (low + high))
        if np.abs(v - before).max() <= V_CLIP_MET:
            break
    return v, power / v


@dataclass(frozen=True, eq=False)
class PanelTables:
    """Curves of panels in their light, before any wiring; each different chain, substring and panel is there once.

    Parameters
    ----------
    chains : tuple of ChainTable
    diodes : tuple of Diode or None
        Bypass diode across each substring.
    substrings, panels : Groups
        Chains of each substring, and substrings of each different panel.
    which : tuple of int
        Which of the different panels each panel is.
    substring_curves, panel_curves : tuple of Curves
        Of each substring with its diode, and of each different panel.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.arrays import roof_of
    >>> from vanpower.model.conditions import conditions_of
    >>> panels = example("bookmobile").panels
    >>> tables = roof_of(panels, conditions_of(panels, Snapshot(light=1000, temp_cell=25)))
    >>> tables.panels.lists, tables.which  # two equal panels of two equal substrings
    (((0, 0),), (0, 0))
    >>> float(tables.curve(1).voltage.max().round(1))  # volts where it is back-fed
    24.2
    """

    chains: tuple[ChainTable, ...]
    diodes: tuple[Diode | None, ...]
    substrings: Groups
    panels: Groups
    which: tuple[int, ...]
    substring_curves: tuple[Curves, ...]
    panel_curves: tuple[Curves, ...]

    def curve(self, panel: int) -> Curves:
        """The curve of a panel by itself."""
        return self.panel_curves[self.which[panel]]


def panel_tables(chains: Sequence[ChainTable], panels: Sequence[Lists], diodes: Sequence[Diode | None]) -> PanelTables:
    """Curves of panels that are made of chains of cells.

    Parameters
    ----------
    chains : sequence of ChainTable
    panels : sequence of tuple of tuple of int
        For each panel the chains of its substrings, one of them or the two of a half-cut panel.
    diodes : sequence of Diode or None
        Bypass diode across each substring of each panel.

    Returns
    -------
    PanelTables

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> from vanpower.engine.chain_tables import tabulate
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> tables, _ = tabulate([chains(one, np.full((1, 18), 500.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> panel_tables(tables, [((0,), (0,)), ((0,),)], [None, None]).panels.lists
    ((0, 0), (0,))
    """
    parts, number = unique((one, diode) for panel, diode in zip(panels, diodes, strict=True) for one in panel)
    ends = np.cumsum([0, *map(len, panels)])
    different, which = unique(number[a:b] for a, b in pairwise(ends))
    substrings = counted(tuple(one for one, _ in parts))
    return _tables(tuple(chains), tuple(diode for _, diode in parts), substrings, counted(different), which)


def _tables(
    chains: tuple[ChainTable, ...],
    diodes: tuple[Diode | None, ...],
    substrings: Groups,
    panels: Groups,
    which: tuple[int, ...],
) -> PanelTables:
    """The tables with their curves."""
    curves = tuple(
        substring_curve([chains[k] for k, _ in one], [n for _, n in one], diode)
        for one, diode in zip(substrings.counts, diodes, strict=True)
    )
    return PanelTables(chains, diodes, substrings, panels, which, curves, _in_series(curves, panels))


def _in_series(curves: Sequence[Curves], groups: Groups) -> tuple[Curves, ...]:
    """The members of each group in series."""
    return tuple(in_series([curves[k] for k, _ in one], [n for _, n in one]) for one in groups.counts)


@dataclass(frozen=True, eq=False)
class PVArray:
    """An array: strings of panels in parallel behind a cable, at every moment; each different part is there once.

    Parameters
    ----------
    topology : Topology
        Which parts make which, by their places in the lists below.
    chains : tuple of ChainTable
    diodes : tuple of Diode or None
        Bypass diode across each substring.
    substrings, strings : tuple of Curves
        Curves of each substring with its diode, and of each string before they are connected in parallel.
    curves : Curves (moment, point)
        At the terminals, behind the cable.
    resistance : float
        Of the cable. [ohm]
    blocking : Diode, optional
        Blocking diode in series with every string.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in array.peaks[1]]  # volts, amps, watts
    [array([18.]), array([11.8]), array([212.6])]
    """

    topology: Topology
    chains: tuple[ChainTable, ...]
    diodes: tuple[Diode | None, ...]
    substrings: tuple[Curves, ...]
    strings: tuple[Curves, ...]
    curves: Curves
    resistance: float = 0.0
    blocking: Diode | None = None
    _peaks: list[Peaks] = field(default_factory=list)

    @classmethod
    def of_panels(
        cls, tables: PanelTables, strings: Lists, resistance: float = 0.0, blocking: Diode | None = None
    ) -> PVArray:
        """The panels of each string in series, the strings in parallel, and a cable behind them."""
        numbers = tuple(tuple(tables.which[panel] for panel in string) for string in strings)
        topology, (chains, substrings, panels) = wired(tables.substrings, tables.panels, numbers)
        in_front = _in_series([tables.panel_curves[k] for k in panels], topology.strings)
        if blocking is not None:
            in_front = tuple(with_blocking(curve, blocking) for curve in in_front)
        often = [n for _, n in topology.array.counts[0]]
        return cls(
            topology=topology,
            chains=tuple(tables.chains[k] for k in chains),
            diodes=tuple(tables.diodes[k] for k in substrings),
            substrings=tuple(tables.substring_curves[k] for k in substrings),
            strings=in_front,
            curves=with_resistance(in_parallel(in_front, often), resistance),
            resistance=resistance,
            blocking=blocking,
        )

    @classmethod
    def of_curve(cls, curves: Curves) -> PVArray:
        """An array of which only the curve is known; its table is all there is and cannot be refined.

        Examples
        --------
        >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V, 2 ohm
        >>> best_power(PVArray.of_curve(source))
        (array([10.]), array([50.]))
        """
        return cls(_NO_PARTS, (), (), (), (), curves)

    @property
    def each_string(self) -> list[Curves]:
        """The curve of every string, in the order of the wiring."""
        return [self.strings[k] for k in self.topology.array.lists[0]]

    @property
    def peaks(self) -> Peaks:
        """All local maxima of power as tabulated, and volts, amps and watts of the global one, solved for exactly."""
        seek_peaks([self])
        return self._peaks[0]

    @cached_property
    def v_oc(self) -> Array:
        """Open-circuit volts (moment,). [V]"""
        return open_circuit_voltage(self.curves)

    def amps_at(self, voltage: Array) -> Array:
        """Amps at terminal volts (moment,), as tabulated. [A]"""
        return current_of_each([self.curves], voltage[None])[0]

    def backed_off(self, volts: Array, v_oc: Array, power: Array) -> tuple[Array, Array]:
        """Volts and amps between the volts of a hill and open circuit where it gives just the watts wanted."""
        return backed_off(self.curves, volts, v_oc, power)

    @property
    def maxima(self) -> Maxima:
        """All local maxima of power, each solved for exactly, (moment, hill) by rising current. [V, A, W]

        Examples
        --------
        >>> from vanpower import Shade, Snapshot, example, rig_model
        >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
        >>> rig_model(example("bookmobile").wired("2s"), half).array().maxima.power.round()
        array([[ 34., 110.]])
        """
        return hilltops(self)

    def refined_at(self, voltage: Array) -> PVArray:
        """The same array with points closer together around one terminal voltage for each moment (moment,). [V]"""
        _, volts = self.working(voltage)
        branches, parts = self.topology.branches, self.topology.parts
        chains = refined_at([self.chains[k] for k in branches.member], volts[branches.group])
        strings, alone = apart(parts), counted(tuple((k,) for k in range(len(parts.member))))
        diodes = tuple(self.diodes[k] for k in parts.member)
        closely = _tables(tuple(chains), diodes, apart(branches), alone, tuple(range(len(diodes))))
        wiring = tuple(strings.lists[k] for k in self.topology.array.lists[0])
        return PVArray.of_panels(closely, wiring, self.resistance, self.blocking)

    def solve(self, voltage: Array, on_hill: Array) -> Met:
        """Volts, amps, watts of the local maximum next to terminal volts (moment,), or at these; whether converged."""
        if not self.chains:
            return (*point_near(self.curves, voltage, on_hill), np.full(len(voltage), True))
        v, i, p, sure = (a[0] for a in _solved([self], voltage[None], on_hill[None]))
        return v, i, p, sure

    def point(self, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array]:
        """Volts, amps, watts of the local maximum next to terminal volts (moment,), or at these, solved for exactly."""
        return refine(self, voltage, on_hill)

    def working(self, voltage: Array) -> tuple[Array, Array]:
        """Approximate amps of each string and volts of each part (..., moment) at the terminal volts (moment,). [A, V]

        Examples
        --------
        >>> from vanpower import Snapshot, example
        >>> from vanpower.model.light import array_of
        >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
        >>> [about.round(1) for about in array.working(np.array([18.0]))]  # two equal strings of two equal parts
        [array([[5.9]]), array([[9.3]])]
        """
        across = voltage + self.amps_at(voltage) * self.resistance
        amps = current_of_each(self.strings, np.repeat(across[None], len(self.strings), axis=0))
        parts = self.topology.parts
        return amps, voltage_of_each([self.substrings[k] for k in parts.member], amps[parts.group])

    def rows(self, index: Array) -> PVArray:
        """The array at some of the moments."""
        chains = tuple(chain.rows(index) for chain in self.chains)
        substrings, strings = (tuple(c.rows(index) for c in curves) for curves in (self.substrings, self.strings))
        curves = self.curves.rows(index)
        return PVArray(self.topology, chains, self.diodes, substrings, strings, curves, self.resistance, self.blocking)


_NO_PARTS = wired(counted(()), counted(()), ())[0]


def _solved(arrays: Sequence[PVArray], voltage: Array, on_hill: Array) -> Met:
    """`solve` for arrays with one blocking diode, all at once (array, moment)."""
    bypass = [array.diodes[k] for array in arrays for k in array.topology.parts.member]
    tables = [array.chains[k] for array in arrays for k in array.topology.branches.member]
    resistance = [array.resistance for array in arrays]
    net = net_of([a.topology for a in arrays], bypass, arrays[0].blocking, resistance, tables[0].avalanche)
    about = (array.working(volts) for array, volts in zip(arrays, voltage, strict=True))
    current, volts = map(np.concatenate, zip(*about, strict=True))
    return solve(net, tables, current, volts, voltage, on_hill)


def seek_peaks(arrays: Sequence[PVArray]) -> None:
    """Find the `peaks` of several arrays over the same moments at once, where they are not known yet.

    Notes
    -----
    At few moments an iteration for all arrays costs about as much as one for each.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> seek_peaks([array])
    >>> array.peaks[0].power.round()
    array([[213.]])
    """
    unknown = [array for array in dict.fromkeys(arrays) if not array._peaks]
    for bare in (array for array in unknown if not array.chains):
        found = maxima(bare.curves)
        bare._peaks.append((found, global_maximum(bare, found)))
    made = [array for array in unknown if array.chains]
    for blocking in dict.fromkeys(array.blocking for array in made):
        _seek_together([array for array in made if array.blocking == blocking])


def _seek_together(arrays: Sequence[PVArray]) -> None:
    """`seek_peaks` for arrays with one blocking diode."""
    found = maxima_of_each([array.curves for array in arrays])
    volts = np.stack([best(each)[0] for each in found])
    closely = _solved(arrays, volts, np.full(volts.shape, True))
    for array, each, v, i, p, sure in zip(arrays, found, *closely, strict=True):
        array._peaks.append((each, global_maximum(array, each, (v, i, p, sure))))


def best_power(array: PVArray) -> tuple[Array, Array]:
    """Volts and watts of the global maximum power point at every moment (moment,). [V, W]

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in best_power(array)]
    [array([18.]), array([212.6])]
    """
    volts, _, watts = array.peaks[1]
    return volts, watts


def hilltops(array: PVArray) -> Maxima:
    """All local maxima of power, each solved for exactly, shape (moment, hill). [V, A, W]

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> hilltops(array_of(example("bookmobile").wired("2s"), half)).power.round()
    array([[ 34., 110.]])
    """
    rough = maxima(array.curves)
    columns: list[list[Array]] = []
    for number in range(rough.voltage.shape[1]):
        there = ~np.isnan(rough.voltage[:, number])
        seen = refine(array, np.where(there, rough.voltage[:, number], 0.0), there)
        again = [np.abs(seen[0] - other[0]) < V_SAME_HILL for other in columns]
        new = there & ~np.any(again, axis=0) if again else there
        columns.append([np.where(new, values, np.nan) for values in seen])
    voltage, current, power = (np.stack(values, axis=1) for values in zip(*columns, strict=True))
    return Maxima(voltage, current, power)
