"""Cells under one bypass diode, at every moment: known by a table, closely around some volts, or at one point.

Equal chains are worked out once. Left out: unlike cells within a chain.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vanpower.engine.cells import Avalanche, CellChains, chain_points, chain_voltage, junction_current, stacked
from vanpower.engine.curves import (
    Curves,
    Diode,
    Ends,
    blocks,
    bypassed,
    current_between,
    in_parallel,
    searchsorted_rows,
    together,
)

Array = np.ndarray

CLOSE_POINTS, MARGIN = 9, 0.5
# points of a chain when it is looked at closely, over one interval of its table and this share of its neighbours
JUNCTION_STEPS = 2
# Newton steps to the junction volts between two points of a table


@dataclass(frozen=True, eq=False)
class ChainTable:
    """One chain of cells at every moment: its cells, the junction volts of its points, and the table through them.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> branch = array.roof[0][0].branches[0]
    >>> branch.points_near(np.array([9.0])).shape
    (1, 9)
    """

    cells: CellChains
    points: Array
    table: Curves
    avalanche: Avalanche

    def points_near(self, voltage: Array) -> Array:
        """Junction volts of points closely around one voltage a moment, shape (moment,). [V]"""
        count = self.points.shape[1]
        right = np.clip(count - searchsorted_rows(self.table.voltage[:, ::-1], voltage[:, None]), 1, count - 1)
        place = np.clip(right + np.linspace(-1.0 - MARGIN, MARGIN, CLOSE_POINTS), 0, count - 1)
        left = np.clip(np.floor(place).astype(int), 0, count - 2)
        start, end = (np.take_along_axis(self.points, left + k, 1) for k in (0, 1))
        return start + (end - start) * (place - left)

    def piece_at(self, voltage: Array) -> tuple[Ends, Array, Array]:
        """Where its table has the given volts (moment, 1): ends of the piece, and the junction volts around. [V]"""
        left = self.table.left_of_volts(voltage)
        return self.table.ends(left), self.points.take(left + 1), self.points.take(left)

    def rows(self, index: Array) -> ChainTable:
        """The same chain at some of the moments."""
        return ChainTable(self.cells.rows(index), self.points[index], self.table.rows(index), self.avalanche)


@dataclass(frozen=True, eq=False)
class Substring:
    """The cells under one bypass diode: one branch, or the two of a half-cut panel side by side.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> part = array.roof[0][0]
    >>> len(part.branches), float(part.curves().voltage.max().round(1))  # volts where it is back-fed
    (1, 12.1)
    """

    branches: tuple[ChainTable, ...]
    diode: Diode | None

    def curves(self) -> Curves:
        """Its curve with the diode across it."""
        tables = [branch.table for branch in self.branches]
        joined = tables[0] if len(tables) == 1 else in_parallel(tables)
        return joined if self.diode is None else bypassed(joined, self.diode)

    def rows(self, index: Array) -> Substring:
        """The same substring at some of the moments."""
        return replace(self, branches=tuple(branch.rows(index) for branch in self.branches))


def refined_at(parts: Sequence[tuple[Substring, Array]]) -> list[Substring]:
    """Substrings known closely around one voltage a moment each, shape (moment,), all worked out together. [V]

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part] = refined_at([(array.roof[0][0], np.array([9.0]))])
    >>> part.branches[0].table.voltage.shape
    (1, 9)
    """
    branches = [(branch, volts) for part, volts in parts for branch in part.branches]
    cells = [branch.cells for branch, _ in branches]
    points = [branch.points_near(volts) for branch, volts in branches]
    avalanche = branches[0][0].avalanche
    table = _tables(stacked(cells), np.concatenate(points), avalanche)
    ends = np.cumsum([0, *map(len, points)])
    made = iter(
        ChainTable(c, u, table.rows(np.arange(start, stop)), avalanche)
        for c, u, start, stop in zip(cells, points, ends[:-1], ends[1:], strict=True)
    )
    return [replace(part, branches=tuple(next(made) for _ in part.branches)) for part, _ in parts]


def junctions_at(branches: Sequence[ChainTable], voltage: Array) -> Array:
    """Junction volts where each chain has the given volts (branch, moment), as its table has it. [V]

    Notes
    -----
    Between two points the amps tell them better than the volts, since they are explicit in them.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> junctions_at([array.roof[0][0].branches[0]], np.array([[9.0]])).round(3)  # of 18 cells
    array([[0.533]])
    """
    pieces = (branch.piece_at(volts[:, None]) for branch, volts in zip(branches, voltage, strict=True))
    ends, *around = zip(*pieces, strict=True)
    amps, (low, high) = current_between(together(ends), voltage.reshape(-1, 1)), map(np.concatenate, around)
    weakest, u = stacked([branch.cells.level(0) for branch in branches]), 0.5 * (low + high)
    for _ in range(JUNCTION_STEPS):
        current, di_du = junction_current(weakest, u, branches[0].avalanche)
        u = np.minimum(np.maximum(u - (current - amps) / di_du, low), high)
    return u.reshape(voltage.shape)


def tabulate(sets: Sequence[CellChains], i_top: float, diode: Diode | None, avalanche: Avalanche) -> list[ChainTable]:
    """Tables of many chains: equal rows are worked out once, and rows with few levels apart from those with many.

    Chains that are equal in every row share one object, by which later steps know them again.

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.full((1, 18), 500.0), np.array([25.0]))
    >>> first, again = tabulate([chain, chain], 6.3, None, FRONT_CONTACT)
    >>> first is again, float(first.table.voltage.max().round(1))  # volts where it is back-fed
    (True, 12.4)
    """
    rows = stacked(sets)
    v_end = None if diode is None else -float(diode.drop(np.array(i_top)))
    distinct, back = _distinct(rows)
    points = _points(distinct, i_top, v_end, avalanche)
    table = _tables(distinct, points, avalanche)
    ends = np.cumsum([0, *(len(one.count) for one in sets)])
    branches: dict[bytes, ChainTable] = {}
    keys = []
    for one, start, stop in zip(sets, ends[:-1], ends[1:], strict=True):
        index = back[start:stop]
        keys.append(index.tobytes())
        if keys[-1] not in branches:
            branches[keys[-1]] = ChainTable(one, points[index], table.rows(index), avalanche)
    return [branches[key] for key in keys]


def _distinct(rows: CellChains) -> tuple[CellChains, Array]:
    """The rows that differ, and for every row which of them it is."""
    key = np.concatenate([getattr(rows, name) for name in CellChains.__dataclass_fields__], axis=1)
    keys = [row.tobytes() for row in key]
    first: dict[bytes, int] = {}
    for place, one in enumerate(keys):
        first.setdefault(one, place)
    number = {one: number for number, one in enumerate(first)}
    return rows.rows(np.array(list(first.values()))), np.array([number[one] for one in keys])


def _by_levels(rows: CellChains) -> Iterator[tuple[Array, CellChains]]:
    """Rows in groups with equally many levels: which they are, and they."""
    each = rows.levels
    for levels in np.flatnonzero(np.bincount(each)):
        index = np.flatnonzero(each == levels)
        yield index, rows.rows(index).trimmed(int(levels))


def _points(rows: CellChains, i_top: float, v_end: float | None, avalanche: Avalanche) -> Array:
    """Junction volts of the points of every row, short rows with their last point repeated (row, point)."""
    groups = []
    for index, some in _by_levels(rows):
        for block in blocks(len(index), some.count.shape[1] * 2):
            groups.append((index[block], chain_points(some.rows(block), i_top, v_end, avalanche)))
    points = np.empty((len(rows.count), max(u.shape[1] for _, u in groups)))
    for index, u in groups:
        points[index, : u.shape[1]], points[index, u.shape[1] :] = u, u[:, -1:]
    return points


def _tables(rows: CellChains, points: Array, avalanche: Avalanche) -> Curves:
    """Curves of all rows through their points."""
    table = np.empty((3, *points.shape))
    needed = 1 + np.argmax(points == points[:, -1:], axis=1)
    for index, _ in _by_levels(rows):
        # rows that need few points stand together, so that a last point repeated is not worked out again
        index = index[np.argsort(needed[index], kind="stable")]
        levels = int(rows.levels[index[0]])
        for block in blocks(len(index), points.shape[1]):
            these = index[block]
            number = int(needed[these].max())
            found = np.stack(chain_voltage(rows.rows(these).trimmed(levels), points[these, :number], avalanche))
            table[:, these, :number] = found
            table[:, these, number:] = found[:, :, -1:]
    return Curves(*table)
