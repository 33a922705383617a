"""From a rig and what is asked to light on cells, then to curves of panels, strings and whole arrays.

Panel curves do not know the wiring: they are computed once and every wiring is tried on them. An array can be looked
at again more closely around any voltage, which is how a working point is found to many digits. Left out: unlike cells
within a panel.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from vanpower.components.cables import resistance
from vanpower.components.panel_cells import BLOCKING, bypass_diode, cell_of
from vanpower.engine.cells import FRONT_CONTACT, Avalanche, Cell, CellChains, chains
from vanpower.engine.chain_tables import ChainTable, Substring, refined_at, tabulate
from vanpower.engine.curves import (
    Curves,
    Diode,
    current_at,
    current_of_each,
    in_parallel,
    in_series,
    voltage_at,
    voltage_of_each,
    with_blocking,
    with_resistance,
)
from vanpower.engine.maxima import Maxima, best, global_maximum, maxima, refine
from vanpower.engine.operating_point import Bundle, Part, Strand, solve
from vanpower.model.conditions import Conditions
from vanpower.rig import Circuit, Controller, Panel

Array = np.ndarray


V_SAME_HILL = 0.01
# [V] two hilltops closer than this are one


RoofPanels = tuple[tuple[Substring, ...], ...]


@dataclass(frozen=True, eq=False)
class PanelCurves:
    """One panel at every moment: the curves of its substrings, and of all of them in series.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> len(array.parts[0].substrings), float(array.parts[0].whole.voltage.max().round(1))  # volts where it is back-fed
    (2, 24.2)
    """

    substrings: tuple[Curves, ...]
    whole: Curves


Parts = Mapping[int, PanelCurves]
Peaks = tuple[Maxima, tuple[Array, Array, Array]]


@dataclass(frozen=True, eq=False)
class PVArray:
    """An array in its wiring, with its parts at hand for a closer look.

    Parameters
    ----------
    roof : tuple of tuple of Substring
        Every panel of the rig, substring by substring.
    circuit : Circuit
        Wiring, blocking diodes and cable.
    curves : Curves (moment, point)
        At the controller's terminals.
    strings : tuple of Curves
        Each string's curve before the strings meet.
    parts : mapping
        Curves by panel.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in array.peaks[1]]  # volts, amps, watts
    [array([18.]), array([11.8]), array([212.6])]
    """

    roof: RoofPanels
    circuit: Circuit
    curves: Curves
    strings: tuple[Curves, ...]
    parts: Parts
    _peaks: list[Peaks] = field(default_factory=list)

    @property
    def peaks(self) -> Peaks:
        """Every hill as the table shows it, and volts, amps and watts of the highest, met exactly."""
        seek_peaks([self])
        return self._peaks[0]

    def on(self, controller: Controller) -> PVArray:
        """The same array on another controller, which changes nothing up to its terminals."""
        if controller == self.circuit.controller:
            return self
        return replace(self, circuit=replace(self.circuit, controller=controller))

    def near(self, voltage: Array) -> PVArray:
        """The same array known closely around one terminal voltage a moment, shape (moment,). [V]"""
        at = voltage[:, None]
        across = at + current_at(self.curves, at)[0] * resistance(self.circuit.cable)
        keys: dict[tuple[int, int], tuple[int, int]] = {}
        different: dict[tuple[int, int], tuple[Substring, Array]] = {}
        for string, curve in zip(self.circuit.wiring.strings, self.strings, strict=True):
            current = current_at(curve, across)[0]
            for panel, number in ((p, s) for p in string for s in range(len(self.roof[p]))):
                part = self.roof[panel][number]
                keys[panel, number] = key = (id(curve), id(part))
                if key not in different:
                    different[key] = (part, voltage_at(self.parts[panel].substrings[number], current)[0][:, 0])
        seen = dict(zip(different, refined_at(list(different.values())), strict=True))
        return join(self._with(lambda panel, number: seen[keys[panel, number]]), self.circuit)

    def met(self, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array, Array]:
        """Volts, amps and watts of the hilltop next to the terminal volts (moment,), or just there, and whether met."""
        found = solve([self.bundle(voltage)], self._blocking, voltage[None], on_hill[None])
        v, i, p, sure = (a[0] for a in found)
        return v, i, p, sure

    def bundle(self, voltage: Array) -> Bundle:
        """Its strings and their parts about where they work at the terminal volts, shape (moment,)."""
        cable = resistance(self.circuit.cable)
        across = voltage + current_at(self.curves, voltage[:, None])[0][:, 0] * cable
        pairs = zip(self.strings, self.circuit.wiring.strings, strict=True)
        first = {id(curve): (curve, string) for curve, string in pairs}
        often = Counter(map(id, self.strings))
        amps = current_of_each([curve for curve, _ in first.values()], np.repeat(across[None], len(first), axis=0))
        different = [self._different(string) for _, string in first.values()]
        curves = [self.parts[p].substrings[s] for parts in different for p, s in parts]
        volts = iter(voltage_of_each(curves, np.repeat(amps, [len(parts) for parts in different], axis=0)))
        strands = (
            Strand(often[key], current, tuple(Part(self.roof[p][s], n, next(volts)) for (p, s), n in parts.items()))
            for key, current, parts in zip(first, amps, different, strict=True)
        )
        return Bundle(tuple(strands), cable)

    @property
    def _blocking(self) -> Diode | None:
        """The diode in front of every string."""
        return BLOCKING if self.circuit.blocking_diodes else None

    def _different(self, string: tuple[int, ...]) -> dict[tuple[int, int], int]:
        """The first of all equal substrings of a string, by panel and number, and how often each is there."""
        numbered = [(panel, number) for panel in string for number in range(len(self.roof[panel]))]
        often = Counter(id(self.roof[panel][number]) for panel, number in numbered)
        return {place: often.pop(key) for place in numbered if (key := id(self.roof[place[0]][place[1]])) in often}

    def rows(self, index: Array) -> PVArray:
        """Some of the moments."""
        parts = {id(part): part for panel in self.circuit.wiring.panels for part in self.roof[panel]}
        curves = [
            self.curves,
            *self.strings,
            *(c for panel in self.parts.values() for c in (*panel.substrings, panel.whole)),
        ]
        some_parts = {key: part.rows(index) for key, part in parts.items()}
        some = {id(curve): curve.rows(index) for curve in curves}
        known = {
            p: PanelCurves(tuple(some[id(c)] for c in panel.substrings), some[id(panel.whole)])
            for p, panel in self.parts.items()
        }
        roof = self._with(lambda panel, number: some_parts[id(self.roof[panel][number])])
        strings = tuple(some[id(curve)] for curve in self.strings)
        return PVArray(roof, self.circuit, some[id(self.curves)], strings, known)

    def _with(self, substring: Callable[[int, int], Substring]) -> RoofPanels:
        """The roof with new substrings on this circuit's panels, by (panel, substring)."""
        used = set(self.circuit.wiring.panels)
        return tuple(
            tuple(substring(p, s) for s in range(len(panel))) if p in used else panel
            for p, panel in enumerate(self.roof)
        )


def seek_peaks(arrays: Sequence[PVArray]) -> None:
    """Find the `peaks` of several arrays over the same moments, where they are not known yet, all at once.

    Notes
    -----
    At few moments a round for all arrays costs about as much as one for each.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> seek_peaks([array])
    >>> array.peaks[0].power.round()
    array([[213.]])
    """
    unknown = {id(array._peaks): array for array in arrays if not array._peaks}
    for diode in (None, BLOCKING):
        some = [array for array in unknown.values() if array._blocking is diode]
        if some:
            found = [maxima(array.curves) for array in some]
            volts = np.stack([best(each)[0] for each in found])
            bundles = [array.bundle(v) for array, v in zip(some, volts, strict=True)]
            closely = solve(bundles, diode, volts, np.full(volts.shape, True))
            for array, each, *spot in zip(some, found, *closely, strict=True):
                array._peaks.append((each, global_maximum(array.curves, each, array, tuple(spot))))


def best_power(array: PVArray) -> tuple[Array, Array]:
    """Volts and watts of the highest hill at every moment, seen closely (moment,).

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in best_power(array)]
    [array([18.]), array([212.6])]
    """
    volts, _, watts = array.peaks[1]
    return volts, watts


def hilltops(array: PVArray) -> Maxima:
    """Every local maximum of power, each seen closely, shape (moment, hill).

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, array_of, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> hilltops(array_of(example("bookmobile").wired("2s"), half)).power.round()
    array([[ 34., 110.]])
    """
    rough = maxima(array.curves)
    columns: list[list[Array]] = []
    for number in range(rough.voltage.shape[1]):
        there = ~np.isnan(rough.voltage[:, number])
        volts = np.where(there, rough.voltage[:, number], 0.0)
        seen = refine(array.curves, volts, there, array)
        again = [np.abs(seen[0] - other[0]) < V_SAME_HILL for other in columns]
        new = there & ~np.any(again, axis=0) if again else there
        columns.append([np.where(new, values, np.nan) for values in seen])
    voltage, current, power = (np.stack(values, axis=1) for values in zip(*columns, strict=True))
    return Maxima(voltage, current, power)


def join(roof: RoofPanels, circuit: Circuit, parts: Parts | None = None) -> PVArray:
    """Panels in one circuit's wiring, behind its cable.

    Parameters
    ----------
    parts : mapping, optional
        Curves by panel, where another wiring has them already.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> again = join(array.roof, array.circuit, array.parts)
    >>> len(again.strings), again.peaks[1][2].round()
    (2, array([213.]))
    """
    known = panel_curves(roof, circuit.wiring.panels) if parts is None else parts
    made: dict[tuple[int, ...], Curves] = {}
    strings = []
    for string in circuit.wiring.strings:
        curves = [known[panel].whole for panel in string]
        key = tuple(map(id, curves))
        if key not in made:
            curve = in_series(curves)
            made[key] = with_blocking(curve, BLOCKING) if circuit.blocking_diodes else curve
        strings.append(made[key])
    behind = with_resistance(in_parallel(strings), resistance(circuit.cable))
    return PVArray(roof, circuit, behind, tuple(strings), known)


def panel_curves(roof: RoofPanels, wanted: Sequence[int]) -> Parts:
    """Curves of the wanted panels; no wiring enters. Equal panels, and equal substrings, share one object.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> curves = panel_curves(array.roof, (0, 1))
    >>> curves[0].whole is curves[1].whole  # equal panels
    True
    """
    different = {id(part): part for panel in wanted for part in roof[panel]}
    curves = {key: part.curves() for key, part in different.items()}
    keys = {panel: tuple(map(id, roof[panel])) for panel in wanted}
    made = {}
    for key in keys.values():
        if key not in made:
            substrings = tuple(curves[part] for part in key)
            made[key] = PanelCurves(substrings, in_series(substrings))
    return {panel: made[keys[panel]] for panel in wanted}


def roof_of(panels: Sequence[Panel], conditions: Conditions, *, i_back: float = 0.0) -> RoofPanels:
    """Every panel's substrings in their light and heat; equal chains are worked out once.

    Parameters
    ----------
    panels : sequence of Panel
    conditions : Conditions
        Light (moment, substring, branch, cell) for each panel.
    i_back : float
        Amps up to which they may be fed backwards, where that is more than the brightest panel gives. [A]

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.conditions import conditions_of
    >>> panels = example("bookmobile").panels
    >>> roof = roof_of(panels, conditions_of(panels, Snapshot(light=700, temp_cell=30)))
    >>> [len(panel) for panel in roof], roof[0][0] is roof[1][1]  # equal substrings are one object
    ([2, 2], True)
    """
    return roof_of_cells([cell_of(p) for p in panels], [bypass_diode(p) for p in panels], conditions, i_back=i_back)


def roof_of_cells(
    cells: Sequence[Cell],
    diodes: Sequence[Diode | None],
    conditions: Conditions,
    avalanche: Avalanche = FRONT_CONTACT,
    *,
    i_back: float = 0.0,
) -> RoofPanels:
    """As `roof_of`, for cells and diodes given by their parameters.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> even = Conditions((np.full((1, 2, 1, 18), 500.0),), np.full((1, 1), 25.0))
    >>> float(roof_of_cells([one], [None], even)[0][0].curves().voltage.max().round(1))  # volts where it is back-fed
    11.9
    """
    i_top = max(i_back, 1.05 * max(_brightest(c, light) for c, light in zip(cells, conditions.light, strict=True)))
    roof = {}
    for diode in dict.fromkeys(diodes):
        these = [p for p, own in enumerate(diodes) if own == diode]
        sets = _chains_of(cells, conditions, these)
        tables = iter(tabulate([chain for p in these for chain in sets[p]], i_top, diode, avalanche))
        shared: dict[tuple[int, ...], Substring] = {}
        for p in these:
            roof[p] = _panel_of(conditions.light[p].shape[1:3], tables, diode, shared)
    return tuple(roof[p] for p in range(len(cells)))


def _brightest(cell: Cell, light: Array) -> float:
    """Most amps a panel of such cells can give in this light, whatever its branches."""
    return float(light.max(initial=1.0)) / 1000.0 * cell.i_light * light.shape[2]


def _chains_of(cells: Sequence[Cell], conditions: Conditions, these: Sequence[int]) -> dict[int, list[CellChains]]:
    """Chains of some panels, substring by substring and branch by branch, a row a moment; equal panels at once."""
    alike: dict[tuple[Cell, tuple[int, ...]], list[int]] = {}
    for p in these:
        alike.setdefault((cells[p], conditions.light[p].shape[1:]), []).append(p)
    found: dict[int, list[CellChains]] = {}
    for (cell, (substrings, branches, number)), panels in alike.items():
        light = np.stack([conditions.light[p] for p in panels]).transpose(0, 2, 3, 1, 4).reshape(-1, number)
        own = substrings * branches
        every = chains(cell, light, np.repeat(conditions.temp_cell.T[panels], own, axis=0).ravel())
        step = len(conditions)
        each = [every.rows(slice(first, first + step)) for first in range(0, len(light), step)]
        found |= {p: each[k * own : (k + 1) * own] for k, p in enumerate(panels)}
    return found


def _panel_of(
    shape: tuple[int, ...], tables: Iterator[ChainTable], diode: Diode | None, shared: dict[tuple[int, ...], Substring]
) -> tuple[Substring, ...]:
    """The next tables, put together as one panel of (substring, branch); equal substrings are one object."""
    made = []
    for _ in range(shape[0]):
        branches = tuple(next(tables) for _ in range(shape[1]))
        made.append(shared.setdefault(tuple(map(id, branches)), Substring(branches, diode)))
    return tuple(made)
