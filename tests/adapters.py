"""Carries test arrays, described cell by cell for the outside solvers, into the package's own types."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import dense_reference as reference
import numpy as np

from vanpower.components.cables.resistance import RESISTANCE_TINNED, resistance
from vanpower.components.panel_cells import BLOCKING, bypass_diode, cell_of
from vanpower.engine.array import PVArray, panel_tables
from vanpower.engine.cells import FRONT_CONTACT, LIGHT_FLOOR, NO_AVALANCHE, Avalanche, CellChains
from vanpower.engine.chain_tables import ChainTable, tabulate
from vanpower.engine.curves import Diode
from vanpower.model.arrays import join
from vanpower.model.conditions import lit_cells
from vanpower.rig import Cable, Circuit, Controller, Panel, Snapshot, Wiring

CONTROLLER = Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0)


def joined(array: reference.Array) -> PVArray:
    """The array in the package's types; every substring plays a panel."""
    chains: list[ChainTable] = []
    panels, diodes, strings = [], [], []
    i_top = 1.05 * max(_i_most(part) for string in array.strings for part in string.substrings)
    for string in array.strings:
        strings.append(tuple(range(len(panels), len(panels) + len(string.substrings))))
        for part in string.substrings:
            tables, which, diode = _substring(part, i_top)
            panels.append((tuple(len(chains) + number for number in which),))
            diodes.append(diode)
            chains += tables
    length = array.r_cable * 1000 / (2 * RESISTANCE_TINNED[6.0])
    circuit = Circuit(
        wiring=Wiring(strings=tuple(strings)),
        controller=CONTROLLER,
        cable=Cable(length_m=length, section_mm2=6.0),
        blocking_diodes=array.strings[0].blocking is not None,
    )
    return join(panel_tables(chains, panels, diodes), circuit)


def with_our_blocking(array: reference.Array) -> reference.Array:
    """The array with the package's blocking diode wherever it has one."""
    ours = (float(BLOCKING.i_0), BLOCKING.v_fold)
    strings = (string if string.blocking is None else replace(string, blocking=ours) for string in array.strings)
    return replace(array, strings=tuple(strings))


def _i_most(part: reference.Substring) -> float:
    return sum(max(cell.i_light for cell in branch) for branch in part.branches)


def _substring(part: reference.Substring, i_top: float) -> tuple[list[ChainTable], tuple[int, ...], Diode | None]:
    """Its different chains, which of them each branch is, and its diode."""
    diode = None if part.diode is None else Diode(*part.diode)
    form = part.branches[0][0].avalanche
    avalanche = NO_AVALANCHE if form is None else Avalanche(*form)
    sets = [_chains(branch) for branch in part.branches]
    return *tabulate(sets, i_top, diode, avalanche), diode


def _chains(branch: tuple[reference.Cell, ...]) -> CellChains:
    levels = sorted({(cell.i_light, cell.r_shunt) for cell in branch})
    count = [sum((cell.i_light, cell.r_shunt) == level for cell in branch) for level in levels]
    same = branch[0]
    one_row = [np.array([values], float) for values in ([i for i, _ in levels], [r for _, r in levels], count)]
    return CellChains(*one_row, *(np.array([[value]]) for value in (same.i_0, same.a, same.r_series)))


def cell_by_cell(panels: Sequence[Panel], circuit: Circuit, light: Snapshot) -> reference.Array:
    """A circuit of a rig in one light, described cell by cell for the outside solvers.

    Labels are fitted by the package; light and heat are moved here, after De Soto et al. 2006, eq. 8-13.
    """
    blocking = (float(BLOCKING.i_0), BLOCKING.v_fold) if circuit.blocking_diodes else None
    strings = (
        reference.String(tuple(part for p in string for part in _groups(panels[p], p, light)), blocking)
        for string in circuit.wiring.strings
    )
    return reference.Array(tuple(strings), resistance(circuit.cable))


def _groups(panel: Panel, number: int, light: Snapshot) -> list[reference.Substring]:
    """The substrings of a panel."""
    diode = bypass_diode(panel)
    bypass = None if diode is None else (float(diode.i_0), diode.v_fold)
    fields = light.light * lit_cells(panel, number, light.shade)
    return [
        reference.Substring(
            tuple(tuple(cell_at(panel, g, light.temp_cell) for g in branch) for branch in group), bypass
        )
        for group in fields
    ]


def cell_at(panel: Panel, light: float, temp_cell: float) -> reference.Cell:
    """One cell in its light [W/m²] and heat [°C]."""
    light = float(light)
    cell = cell_of(panel)
    kelvin, cold, boltzmann = temp_cell + 273.15, 298.15, 8.617333262e-5
    gap = cell.e_gap * (1 - 0.0002677 * (kelvin - cold))
    i_0 = cell.i_0 * (kelvin / cold) ** 3 * math.exp((cell.e_gap / cold - gap / kelvin) / boltzmann)
    siemens = max(light, LIGHT_FLOOR) / 1000 / cell.r_shunt + 1 / cell.r_leak
    form = (FRONT_CONTACT.share, FRONT_CONTACT.v_breakdown, FRONT_CONTACT.exponent)
    i_light = light / 1000 * (cell.i_light + cell.alpha * (kelvin - cold))
    return reference.Cell(i_light, i_0, cell.a * kelvin / cold, cell.r_series, 1 / siemens, form)
