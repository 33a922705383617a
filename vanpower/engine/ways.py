"""Which way the current takes through an array: amps of every string, and in each of its parts cells against diode.

It asks the array at the volts at its terminals, tabulated closely there. Left out: how the two halves of a half-cut
panel share what their cells carry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vanpower.engine.array import PVArray
from vanpower.engine.curves import Diode
from vanpower.engine.topology import Groups

Array = np.ndarray


@dataclass(frozen=True, eq=False)
class StringWay:
    """The current through one string at every moment.

    Parameters
    ----------
    current : ndarray (moment,)
        Through the string; below zero where others feed it. [A]
    volts, diodes : ndarray (part, moment)
        Across each group of cells in the string's order, and amps through the bypass diode across it. [V, A]
    """

    current: Array
    volts: Array
    diodes: Array


def ways(array: PVArray, voltage: Array) -> tuple[StringWay, ...]:
    """How the current passes every string of an array at some volts at its terminals.

    Parameters
    ----------
    array : PVArray
        Made of chains of cells, not of a bare curve.
    voltage : ndarray (moment,)
        At the terminals, behind the cable. [V]

    Returns
    -------
    tuple of StringWay
        A string each, in the wiring's order.

    Notes
    -----
    Cells carry what the diode does not: the amps of the string less those through the diode.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> array = array_of(example("bookmobile").wired("2s"), half)
    >>> [way] = ways(array, array.peaks[1][0])
    >>> way.current.round(2), way.diodes[:, 0].round(2)  # the shaded group's diode carries most of it
    (array([4.15]), array([3.27, 0.  , 0.  , 0.  ]))
    """
    # tabulated closely its different parts come in the order of the array's own, but each string's list does not
    amps, volts = array.refined_at(voltage).working(voltage)
    parts = array.topology.parts
    through = np.stack([_through(array.diodes[k], across) for k, across in zip(parts.member, volts, strict=True)])
    rows = [_rows(parts, string) for string in range(len(parts.lists))]
    return tuple(StringWay(amps[k], volts[rows[k]], through[rows[k]]) for k in array.topology.array.lists[0])


def _through(diode: Diode | None, volts: Array) -> Array:
    """Amps through a bypass diode at the volts across its group; none flow where there is none."""
    return np.zeros_like(volts) if diode is None else np.maximum(diode.current(-volts), 0.0)


def _rows(parts: Groups, string: int) -> list[int]:
    """For each part of a string in its order the place of its like among the different parts of all strings."""
    first = int(parts.first[string])
    place = {part: first + number for number, (part, _) in enumerate(parts.counts[string])}
    return [place[part] for part in parts.lists[string]]
