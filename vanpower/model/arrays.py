"""From a rig and its conditions to the engine: the tables of its panels in their light, and a circuit as an array.

Left out: unlike cells within a panel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vanpower.components.cables.resistance import resistance
from vanpower.components.panel_cells import BLOCKING, bypass_diode, cell_of
from vanpower.engine.array import PanelTables, PVArray, panel_tables
from vanpower.engine.cells import FRONT_CONTACT, Avalanche, Cell, CellChains, chains
from vanpower.engine.chain_tables import ChainTable, tabulate
from vanpower.engine.curves import Diode
from vanpower.engine.even_array import EvenArray
from vanpower.engine.topology import Lists
from vanpower.model.conditions import Conditions
from vanpower.rig import Circuit, Panel

Array = np.ndarray


def join(tables: PanelTables, circuit: Circuit) -> PVArray:
    """The array of one circuit: its panels in the circuit's wiring, behind its cable.

    The controller plays no part: the curve ends at its terminals.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.conditions import conditions_of
    >>> rig = example("bookmobile")
    >>> noon = conditions_of(rig.panels, Snapshot(light=1000, temp_cell=25))
    >>> array = join(roof_of(rig.panels, noon), rig.circuits[0])
    >>> len(array.each_string), array.peaks[1][2].round()
    (2, array([213.]))
    """
    blocking = BLOCKING if circuit.blocking_diodes else None
    return PVArray.of_panels(tables, circuit.wiring.strings, resistance(circuit.cable), blocking)


def even_array(
    panels: Sequence[Panel], circuit: Circuit, light: Array, temp_cell: Array, avalanche: Avalanche = FRONT_CONTACT
) -> EvenArray:
    """The array of one circuit whose panels are alike and all have the same light and heat (moment,).

    Parameters
    ----------
    panels : sequence of Panel
        All panels of the rig.
    circuit : Circuit
        Of strings of the same length.
    light, temp_cell : ndarray (moment,)
        Irradiance and cell temperature of each of its panels. [W/m², °C]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> noon = even_array(rig.panels, rig.circuits[0], np.array([1000.0]), np.array([25.0]))
    >>> [part.round(1) for part in noon.peaks[1]]  # volts, amps, watts
    [array([18.]), array([11.8]), array([212.6])]
    """
    strings = circuit.wiring.strings
    panel = panels[strings[0][0]]
    one = chains(cell_of(panel), light[:, None], temp_cell)
    cells = panel.cells_in_series // panel.substrings
    return EvenArray(
        cells=replace(one, count=cells * one.count),
        branches=panel.branches,
        series=len(strings[0]) * panel.substrings,
        strings=len(strings),
        bypass=bypass_diode(panel),
        blocking=BLOCKING if circuit.blocking_diodes else None,
        resistance=resistance(circuit.cable),
        avalanche=avalanche,
    )


def roof_of(panels: Sequence[Panel], conditions: Conditions, *, i_back: float = 0.0) -> PanelTables:
    """Tables of all panels of a rig in their light and at their temperatures, before any wiring.

    Equal chains of cells are computed once.

    Parameters
    ----------
    panels : sequence of Panel
    conditions : Conditions
        Light (moment, substring, branch, cell) for each panel.
    i_back : float
        Reverse current up to which the tables have to reach, where that is more than the brightest panel gives. [A]

    Returns
    -------
    PanelTables

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.conditions import conditions_of
    >>> panels = example("bookmobile").panels
    >>> roof = roof_of(panels, conditions_of(panels, Snapshot(light=700, temp_cell=30)))
    >>> len(roof.chains), roof.panels.lists, roof.which  # two equal panels of two equal substrings
    (1, ((0, 0),), (0, 0))
    """
    return roof_of_cells([cell_of(p) for p in panels], [bypass_diode(p) for p in panels], conditions, i_back=i_back)


def roof_of_cells(
    cells: Sequence[Cell],
    diodes: Sequence[Diode | None],
    conditions: Conditions,
    avalanche: Avalanche = FRONT_CONTACT,
    *,
    i_back: float = 0.0,
) -> PanelTables:
    """As `roof_of`, for cells and bypass diodes given by their parameters.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> even = Conditions((np.full((1, 2, 1, 18), 500.0),), np.full((1, 1), 25.0))
    >>> float(roof_of_cells([one], [None], even).curve(0).voltage.max().round(1))  # volts where it is back-fed
    23.8
    """
    i_top = max(i_back, 1.05 * max(_brightest(c, light) for c, light in zip(cells, conditions.light, strict=True)))
    every: list[ChainTable] = []
    roof: dict[int, Lists] = {}
    for diode in dict.fromkeys(diodes):
        these = [p for p, own in enumerate(diodes) if own == diode]
        sets = _chains_of(cells, conditions, these)
        tables, which = tabulate([chain for p in these for chain in sets[p]], i_top, diode, avalanche)
        start, numbers = len(every), iter(which)
        every += tables
        for p in these:
            _, substrings, branches, _ = conditions.light[p].shape
            roof[p] = tuple(tuple(start + next(numbers) for _ in range(branches)) for _ in range(substrings))
    return panel_tables(every, [roof[p] for p in range(len(cells))], diodes)


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
