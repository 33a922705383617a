"""Tables of chains of cells under one bypass diode, at every moment; also with points closer together around a voltage.

Equal chains are computed once. Left out: unlike cells within a chain.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from vanpower.engine.cells import (
    JUNCTION_STEPS,
    Avalanche,
    CellChains,
    chain_points,
    chain_voltage,
    junction_current,
    loops_for,
    stacked,
)
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
from vanpower.engine.topology import unique

Array = np.ndarray

CLOSE_POINTS, MARGIN = 9, 0.5
# points of a chain when it is looked at closely, over one interval of its table and this share of its neighbours


@dataclass(frozen=True, eq=False)
class ChainTable:
    """One chain of cells at every moment: its cells, the junction volts of its points, and its curve through them.

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> [chain], _ = tabulate([chains(one, np.full((1, 18), 500.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> chain.points_near(np.array([9.0])).shape
    (1, 9)
    """

    cells: CellChains
    points: Array
    table: Curves
    avalanche: Avalanche

    def points_near(self, voltage: Array) -> Array:
        """Junction volts of points close together around one voltage for each moment, shape (moment,). [V]"""
        count = self.points.shape[1]
        right = np.clip(count - searchsorted_rows(self.table.voltage[:, ::-1], voltage[:, None]), 1, count - 1)
        place = np.clip(right + np.linspace(-1.0 - MARGIN, MARGIN, CLOSE_POINTS), 0, count - 1)
        left = np.clip(np.floor(place).astype(int), 0, count - 2)
        start, end = (np.take_along_axis(self.points, left + k, 1) for k in (0, 1))
        return start + (end - start) * (place - left)

    def piece_at(self, voltage: Array) -> tuple[Ends, Array, Array]:
        """The interval of the table around the given volts (moment, 1): its ends, and the junction volts there. [V]"""
        left = self.table.left_of_volts(voltage)
        return self.table.ends(left), self.points.take(left + 1), self.points.take(left)

    def around(self, voltage: float) -> tuple[float, float, float]:
        """Amps at given volts of a single moment, and the junction volts of the points on either side. [A, V, V]"""
        left = self.table.piece_at(voltage)
        return self.table.read_amps(voltage), self.points.item(left + 1), self.points.item(left)

    def rows(self, index: Array) -> ChainTable:
        """The same chain at some of the moments."""
        return ChainTable(self.cells.rows(index), self.points[index], self.table.rows(index), self.avalanche)


def refined_at(tables: Sequence[ChainTable], voltage: Array) -> list[ChainTable]:
    """Chains tabulated closely around one voltage for each moment (chain, moment), all computed together. [V]

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> tables, _ = tabulate([chains(one, np.full((1, 18), 500.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> [closely] = refined_at(tables, np.array([[9.0]]))
    >>> closely.table.voltage.shape
    (1, 9)
    """
    cells, avalanche = [table.cells for table in tables], tables[0].avalanche
    points = [table.points_near(volts) for table, volts in zip(tables, voltage, strict=True)]
    whole = _tables(stacked(cells), np.concatenate(points), avalanche)
    ends = np.cumsum([0, *map(len, points)])
    return [
        ChainTable(c, u, whole.rows(np.arange(start, stop)), avalanche)
        for c, u, start, stop in zip(cells, points, ends[:-1], ends[1:], strict=True)
    ]


def substring_curve(tables: Sequence[ChainTable], times: Sequence[int], diode: Diode | None) -> Curves:
    """Curve of a substring: its chains in parallel, each as often as `times` says, and its bypass diode across them.

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> tables, _ = tabulate([chains(one, np.full((1, 18), 500.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> both = substring_curve(tables, [2], None)  # the two halves of a half-cut panel
    >>> float((both.current[0, -1] / tables[0].table.current[0, -1]).round(9))
    2.0
    """
    joined = in_parallel([table.table for table in tables], times)
    return joined if diode is None else bypassed(joined, diode)


def junctions_at(branches: Sequence[ChainTable], cells: CellChains, voltage: Array) -> Array:
    """Junction volts at which each chain has the given volts (branch, moment), by interpolation in its table. [V]

    `cells` are those of all branches, `stacked`.

    Notes
    -----
    Between two points they are found from the amps, which are explicit in them, rather than from the volts.

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> tables, _ = tabulate([chains(one, np.full((1, 18), 500.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> junctions_at(tables, tables[0].cells, np.array([[9.0]])).round(3)  # of 18 cells
    array([[0.515]])
    """
    if voltage.shape[1] == 1:
        each = [branch.around(volts) for branch, [volts] in zip(branches, voltage.tolist(), strict=True)]
        amps, low, high = (np.array(values)[:, None] for values in zip(*each, strict=True))
    else:
        pieces = (branch.piece_at(volts[:, None]) for branch, volts in zip(branches, voltage, strict=True))
        ends, *around = zip(*pieces, strict=True)
        amps, (low, high) = current_between(together(ends), voltage.reshape(-1, 1)), map(np.concatenate, around)
    if loops := loops_for(branches[0].avalanche):
        return loops.between(cells.told, amps, low, high, branches[0].avalanche.told).reshape(voltage.shape)
    weakest, u = cells.level(0), 0.5 * (low + high)
    for _ in range(JUNCTION_STEPS):
        current, di_du = junction_current(weakest, u, branches[0].avalanche)
        u = np.minimum(np.maximum(u - (current - amps) / di_du, low), high)
    return u.reshape(voltage.shape)


def tabulate(
    sets: Sequence[CellChains], i_top: float, diode: Diode | None, avalanche: Avalanche
) -> tuple[list[ChainTable], tuple[int, ...]]:
    """Tables of all different chains, and for each chain which of the tables is its own.

    Chains are equal if they are so in every row. Equal rows are computed once, and rows with few levels apart
    from those with many.

    Parameters
    ----------
    sets : sequence of CellChains
    i_top : float
        Current up to which the tables reach. [A]
    diode : Diode, optional
        The bypass diode across each, which decides how far into reverse bias they reach.
    avalanche : Avalanche

    Returns
    -------
    tables : list of ChainTable
    which : tuple of int

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.full((1, 18), 500.0), np.array([25.0]))
    >>> [different], which = tabulate([chain, chain], 6.3, None, FRONT_CONTACT)
    >>> which, float(different.table.voltage.max().round(1))  # volts where it is back-fed
    ((0, 0), 12.4)
    """
    keys, number = unique(map(_key, sets))
    first = [number.index(k) for k in range(len(keys))]
    tables, which = _tabulated([sets[k] for k in first], i_top, diode, avalanche)
    return tables, tuple(which[k] for k in number)


def _key(one: CellChains) -> bytes:
    """All numbers of a set of chains."""
    return b"".join(getattr(one, name).tobytes() for name in CellChains.__dataclass_fields__)


def _tabulated(
    sets: Sequence[CellChains], i_top: float, diode: Diode | None, avalanche: Avalanche
) -> tuple[list[ChainTable], tuple[int, ...]]:
    """`tabulate` for sets of chains that differ somewhere."""
    rows = stacked(sets)
    v_end = None if diode is None else -float(diode.drop(np.array(i_top)))
    distinct, back = _distinct(rows)
    points = _points(distinct, i_top, v_end, avalanche)
    table = _tables(distinct, points, avalanche)
    ends = np.cumsum([0, *(len(one.count) for one in sets)])
    places = [back[start:stop] for start, stop in pairwise(ends)]
    _, which = unique(index.tobytes() for index in places)
    made = {number: (one, index) for number, one, index in zip(which, sets, places, strict=True)}
    tables = [ChainTable(one, points[index], table.rows(index), avalanche) for one, index in made.values()]
    return tables, which


def _distinct(rows: CellChains) -> tuple[CellChains, Array]:
    """The rows that differ, and for every row which of them it is."""
    key = np.concatenate([getattr(rows, name) for name in CellChains.__dataclass_fields__], axis=1)
    if len(key) == 1:
        return rows, np.zeros(1, int)
    # equal rows have equal sums; where others have too, their numbers tell
    _, first, which = np.unique((key * _weights(key.shape[1])).sum(axis=1), return_index=True, return_inverse=True)
    if len(first) < len(key) and (key != key[first[which]]).any():
        _, first, which = np.unique(key, axis=0, return_index=True, return_inverse=True)
    # in the order in which they came, so that rows of one moment stay neighbours in memory
    order = np.argsort(first)
    return rows.rows(first[order]), np.argsort(order)[which]


@lru_cache(maxsize=64)
def _weights(number: int) -> Array:
    """So many weights of which hardly two sums are alike."""
    weights = np.sqrt(np.arange(2.0, number + 2.0))
    weights.flags.writeable = False
    return weights


def _by_levels(rows: CellChains) -> Iterator[tuple[Array, CellChains]]:
    """Rows in groups with equally many levels: which they are, and they."""
    each = rows.levels
    if (each == rows.count.shape[1]).all():
        yield np.arange(len(each)), rows
        return
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
            found = chain_voltage(rows.rows(these).trimmed(levels), points[these, :number], avalanche)
            for whole, part in zip(table, found, strict=True):
                whole[these, :number], whole[these, number:] = part, part[:, -1:]
    return Curves(*table)
