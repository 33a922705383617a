"""Carries test arrays, described cell by cell for the outside solvers, into the package's own types."""

from __future__ import annotations

from dataclasses import replace

import dense_reference as reference
import numpy as np

from vanpower.arrays import BLOCKING, Joined, Substring, join, tabulated
from vanpower.cables import RESISTANCE_TINNED
from vanpower.cells import NO_AVALANCHE, Avalanche, Chains
from vanpower.curves import Diode
from vanpower.rig import Cable, Circuit, Controller, Wiring

CONTROLLER = Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0)


def joined(array: reference.Array) -> Joined:
    """The array in the package's types; every substring plays a panel."""
    roof, strings = [], []
    i_top = 1.05 * max(_i_most(part) for string in array.strings for part in string.substrings)
    for string in array.strings:
        strings.append(tuple(range(len(roof), len(roof) + len(string.substrings))))
        roof += [(_substring(part, i_top),) for part in string.substrings]
    length = array.r_cable * 1000 / (2 * RESISTANCE_TINNED[6.0])
    circuit = Circuit(
        wiring=Wiring(strings=tuple(strings)),
        controller=CONTROLLER,
        cable=Cable(length_m=length, section_mm2=6.0),
        blocking_diodes=array.strings[0].blocking is not None,
    )
    return join(tuple(roof), circuit)


def with_our_blocking(array: reference.Array) -> reference.Array:
    """The array with the package's blocking diode wherever it has one."""
    ours = (float(BLOCKING.i_0), BLOCKING.v_fold)
    strings = (string if string.blocking is None else replace(string, blocking=ours) for string in array.strings)
    return replace(array, strings=tuple(strings))


def _i_most(part: reference.Substring) -> float:
    return sum(max(cell.i_light for cell in branch) for branch in part.branches)


def _substring(part: reference.Substring, i_top: float) -> Substring:
    diode = None if part.diode is None else Diode(*part.diode)
    form = part.branches[0][0].avalanche
    avalanche = NO_AVALANCHE if form is None else Avalanche(*form)
    sets = [_chains(branch) for branch in part.branches]
    return Substring(tuple(tabulated(sets, i_top, diode, avalanche)), diode)


def _chains(branch: tuple[reference.Cell, ...]) -> Chains:
    levels = sorted({(cell.i_light, cell.r_shunt) for cell in branch})
    count = [sum((cell.i_light, cell.r_shunt) == level for cell in branch) for level in levels]
    same = branch[0]
    one_row = [np.array([values], float) for values in ([i for i, _ in levels], [r for _, r in levels], count)]
    return Chains(*one_row, *(np.array([[value]]) for value in (same.i_0, same.a, same.r_series)))
