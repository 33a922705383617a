"""The operating point of a whole array, solved for exactly: Newton's method on second-order expansions.

A table shows about where the point is. Every chain of cells is expanded there to second order (volts, slope and
curvature), the expansions are combined as the wiring says, and the result tells at which point to expand every chain
next. Each iteration multiplies the correct digits by two to three, so two mostly do; what the second changes tells how
far the first was off. All chains, all parts and all strings of all arrays asked for stand in one array each, in this
order, so that an iteration is few calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from vanpower.engine.cells import Avalanche, CellChains, chain_quadratic, loops_for, stacked
from vanpower.engine.chain_tables import ChainTable, junctions_at
from vanpower.engine.curves import SLOPE_BLOCKED, Diode
from vanpower.engine.maxima import P_NONE, Met, same_hill, same_power
from vanpower.engine.quadratics import Quadratic, added, one_after_another, side_by_side
from vanpower.engine.topology import Groups, Topology, apart

Array = np.ndarray
Levels = tuple[Array, Array, Array, Array]
# about where everything works at every moment: junction volts of each chain's weakest cells (branch, row), volts across
# each part (part, row), amps of each string (string, row), and volts where the strings of an array meet (array, row)

ROUNDS = 6
# at most; one that leaves the power the same is the last, where the parts agree
AGREED = 1e-3
# share of the power by which volts and amps of parts may disagree at the last points of expansion; the parabolas leave
# far less. In random rigs 99 of 100 sound points had at most 4e-4, and those that had run away mostly more than 1.
NO_DIODE = Diode(0.0, 1.0)
# lets nothing through


@dataclass(frozen=True, eq=False)
class Net:
    """The connections of several arrays, whatever the moment: a row for every branch, part, string and array.

    A branch is a chain of cells, a part a substring with its bypass diode.

    Parameters
    ----------
    branches, parts, strings : Groups
        Chains of each part, substrings of each string, and strings of each array; every one a row of its own.
    bypass : Diode
        Across each part, shape (part, 1); one that conducts nothing where there is none.
    blocking : Diode, optional
        In series with every string.
    resistance : ndarray (array, 1)
        Of the cable between the parallel connection of the strings and the terminals. [ohm]
    avalanche : Avalanche
        Of all cells.

    Examples
    --------
    >>> from vanpower.engine.cells import FRONT_CONTACT
    >>> from vanpower.engine.topology import counted, wired
    >>> one = wired(counted(((0,),)), counted(((0, 0),)), ((0,), (0, 0)))[0]  # a panel, beside two in series
    >>> net_of([one], [None, None], None, [0.05], FRONT_CONTACT).parts.times.ravel()
    array([2., 4.])
    """

    branches: Groups
    parts: Groups
    strings: Groups
    bypass: Diode
    blocking: Diode | None
    resistance: Array
    avalanche: Avalanche

    def first(
        self, tables: Sequence[ChainTable], cells: CellChains, current: Array, volts: Array, voltage: Array
    ) -> Levels:
        """A first guess from the tables: amps of every string, volts across every part, volts at the terminals."""
        junction = junctions_at(tables, cells, volts[self.branches.group])
        across = voltage + self.resistance * _sum(current, self.strings)
        return junction, volts, current, across

    def round(
        self, cells: CellChains, levels: Levels, voltage: Array, on_hill: Array
    ) -> tuple[Levels, Quadratic, Array, Array]:
        """One iteration: the next guess, the point at the terminals, whether as wanted, and the watts amiss."""
        junction, _, _, across = levels
        array_of, string_of, part_of = self.strings.group, self.parts.group, self.branches.group
        touch, rate = chain_quadratic(cells, junction.ravel(), self.avalanche)
        chains, rate = touch.shaped(junction.shape), rate.reshape(junction.shape)
        parts = self.part_quadratics(chains, levels[1])
        fronts = self.string_quadratics(parts, levels[2])
        leads = (_sum(lead, self.strings) for lead in fronts.leads_at(across[array_of]))
        goal, wanted = _goal(side_by_side(across, *leads).behind(self.resistance), voltage, on_hill)
        meeting = goal.voltage + self.resistance * goal.current
        current = fronts.leads_at(meeting[array_of])[0]
        volts = parts.at_current(current[string_of]).voltage
        nearer = junction + (volts[part_of] - chains.voltage) / rate
        return (nearer, volts, current, meeting), goal, wanted, self.amiss(levels, chains, parts, fronts, goal)

    def amiss(self, levels: Levels, chains: Quadratic, parts: Quadratic, fronts: Quadratic, goal: Quadratic) -> Array:
        """Error in Kirchhoff's laws at the points of expansion, in watts at the terminals (array, row). [W]

        Volts of a string whose blocking diode blocks do not count, since it gives no amps.
        """
        _, voltage, current, across = levels
        volts = _sum(np.abs(voltage[self.branches.group] - chains.voltage), self.branches)
        amps = added(np.abs(parts.current - current[self.parts.group]), self.parts.first)
        gaps = np.abs((fronts.voltage - across[self.strings.group]) * fronts.current)
        volts, amps, gaps = (added(a, self.strings.first) for a in (added(volts, self.parts.first), amps, gaps))
        return volts * np.abs(goal.current) + amps * np.abs(goal.voltage) + gaps

    def part_quadratics(self, chains: Quadratic, voltage: Array) -> Quadratic:
        """Second-order expansion of every part at its volts, from expansions of its branches nearby."""
        current, lead, turn = (_sum(a, self.branches) for a in chains.leads_at(voltage[self.branches.group]))
        through = self.bypass.current(-voltage)
        steep = (through + self.bypass.i_0) / self.bypass.v_fold
        return side_by_side(voltage, current + through, lead - steep, turn + steep / self.bypass.v_fold)

    def string_quadratics(self, parts: Quadratic, current: Array) -> Quadratic:
        """Second-order expansion of every string at its amps, from parts expanded nearby; blocking diode included."""
        at_amps = parts.at_current(current[self.parts.group])
        whole = one_after_another(at_amps, self.parts.times, self.parts.first)
        if self.blocking is None:
            return whole
        forward = current > 0
        let_through = np.where(forward, current, 0.0)
        steep = self.blocking.v_fold / (self.blocking.i_0 + let_through)
        return Quadratic(
            let_through,
            whole.voltage - self.blocking.drop(let_through),
            np.where(forward, whole.slope - steep, SLOPE_BLOCKED),
            np.where(forward, whole.bend + steep / (self.blocking.i_0 + let_through), 0.0),
        )


def net_of(
    arrays: Sequence[Topology],
    bypass: Sequence[Diode | None],
    blocking: Diode | None,
    resistance: Sequence[float],
    avalanche: Avalanche,
) -> Net:
    """The connections of arrays with these topologies.

    Parameters
    ----------
    arrays : sequence of Topology
    bypass : sequence of Diode or None
        Across each part of the first array, then of the second.
    blocking : Diode, optional
        In series with every string.
    resistance : sequence of float
        Of each array's cable. [ohm]
    avalanche : Avalanche

    Examples
    --------
    >>> from vanpower.engine.cells import FRONT_CONTACT
    >>> from vanpower.engine.topology import counted, wired
    >>> one = wired(counted(((0,),)), counted(((0, 0),)), ((0,), (0,)))[0]  # two equal panels in parallel
    >>> net = net_of([one], [None], None, [0.05], FRONT_CONTACT)
    >>> net.parts.times, net.strings.times  # two equal groups of cells in a panel, two equal strings
    (array([[2.]]), array([[2.]]))
    """
    diodes = [diode or NO_DIODE for diode in bypass]
    return Net(
        branches=apart(*(array.branches for array in arrays)),
        parts=apart(*(array.parts for array in arrays)),
        strings=apart(*(array.array for array in arrays)),
        bypass=Diode(_column([d.i_0 for d in diodes]), _column([d.v_fold for d in diodes])),
        blocking=blocking,
        resistance=_column(resistance),
        avalanche=avalanche,
    )


def solve(net: Net, tables: Sequence[ChainTable], current: Array, volts: Array, voltage: Array, on_hill: Array) -> Met:
    """Volts, amps and watts of the local maximum next to the terminal volts, or at these, and whether it converged.

    Parameters
    ----------
    net : Net
    tables : sequence of ChainTable
        Every branch of the net.
    current, volts : ndarray (string, row), (part, row)
        About the amps through each string and the volts across each part. [A, V]
    voltage : ndarray (array, row)
        At the terminals. [V]
    on_hill : ndarray of bool (array, row)
        Whether the local maximum is meant, or the volts themselves.

    Examples
    --------
    >>> from vanpower.engine.cells import Cell, FRONT_CONTACT, chains
    >>> from vanpower.engine.chain_tables import tabulate
    >>> from vanpower.engine.topology import counted, wired
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> tables, _ = tabulate([chains(one, np.full((1, 18), 1000.0), np.array([25.0]))], 6.3, None, FRONT_CONTACT)
    >>> net = net_of([wired(counted(((0,),)), counted(((0,),)), ((0,),))[0]], [None], None, [0.0], FRONT_CONTACT)
    >>> v, i, p, sure = solve(net, tables, *(np.array([[a]]) for a in (5.7, 9.7, 9.7, True)))
    >>> p.round(1), sure
    (array([[54.8]]), array([[ True]]))
    """
    with np.errstate(all="ignore"):
        # rows that diverge end as not converged
        cells = stacked([table.cells for table in tables])
        levels = net.first(tables, cells, current, volts, voltage)
        if loops := loops_for(net.avalanche):
            return _compiled_rounds(loops, net, cells, levels, voltage, on_hill)
        return _rounds(net, cells, levels, voltage, on_hill)


def _compiled_rounds(
    loops: ModuleType, net: Net, cells: CellChains, levels: Levels, voltage: Array, on_hill: Array
) -> Met:
    """`_rounds` by compiled loops."""
    joins = tuple((groups.group, groups.times) for groups in (net.branches, net.parts, net.strings))
    bypass, blocking = (net.bypass.i_0, net.bypass.v_fold), net.blocking or NO_DIODE
    first, asked = tuple(map(np.ascontiguousarray, levels)), map(np.ascontiguousarray, (voltage, on_hill))
    diodes = bypass, (float(blocking.i_0), float(blocking.v_fold))
    found, met = loops.rounds(cells.told, first, *asked, joins, *diodes, net.resistance, net.avalanche.told)
    return (*found, met)


def _rounds(net: Net, cells: CellChains, levels: Levels, voltage: Array, on_hill: Array) -> Met:
    """`solve` iteration by iteration; rows that have converged in all arrays drop out."""
    found = np.stack([voltage, np.zeros_like(voltage), np.full_like(voltage, np.inf)])
    met_at = np.zeros(voltage.shape, bool)
    rows = np.arange(voltage.shape[1])
    for _ in range(ROUNDS):
        levels, goal, wanted, amiss = net.round(cells, levels, voltage[:, rows], on_hill[:, rows])
        power = goal.current * goal.voltage
        agreed = amiss <= AGREED * np.abs(power) + P_NONE
        met_at[:, rows] = wanted & agreed & same_power(power, found[2][:, rows])
        found[:, :, rows] = goal.voltage, goal.current, power
        left = np.nonzero(~met_at[:, rows].all(axis=0))[0]
        if not left.size:
            break
        if left.size < rows.size:
            cells = cells.rows((np.arange(len(levels[0]))[:, None] * rows.size + left).ravel())
            levels, rows = _rows(levels, left), rows[left]
    return found[0], found[1], found[2], met_at & same_hill(found[0], voltage)


def _rows(levels: Levels, index: Array) -> Levels:
    """Some of the moments."""
    junction, volts, current, across = (a[:, index] for a in levels)
    return junction, volts, current, across


def _sum(values: Array, groups: Groups) -> Array:
    """Members of each group added up, each as often as it is there (group, row)."""
    return added(groups.times * values, groups.first)


def _column(values: Sequence[Array | float]) -> Array:
    """Numbers one below the other."""
    return np.array(values, float)[:, None]


def _goal(whole: Quadratic, voltage: Array, on_hill: Array) -> tuple[Quadratic, Array]:
    """The terminals on the hilltop of their parabola, or at the wanted volts, and whether as wanted."""
    there = whole.leads_at(voltage)[0]
    top = whole.hilltop()
    # a hilltop far off is the parabola's, not the curve's; the parts are better known next round
    follow = on_hill & same_hill(whole.at_current(top).voltage, voltage)
    return whole.at_current(np.where(follow, top, there)), follow | ~on_hill
