"""The working point of a whole circuit, met exactly: Newton's method on parabolas.

A table shows about where the point is. Every chain of cells is touched there by a parabola, the parabolas are added up
as the wiring says, and the sum tells every chain where it has to be touched next. Each round multiplies the correct
digits by two to three, so two rounds mostly do; what the second changes tells how far the first was off. All chains,
all parts and all strings of all circuits asked for stand in one array each, in this order, so that a round is few
calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.engine.cells import Avalanche, CellChains, chain_quadratic, stacked
from vanpower.engine.chain_tables import Substring, junctions_at
from vanpower.engine.curves import SLOPE_BLOCKED, Diode
from vanpower.engine.maxima import P_NONE, same_hill, same_power
from vanpower.engine.quadratics import Quadratic, added, one_after_another, side_by_side

Array = np.ndarray

ROUNDS = 6
# at most; one that leaves the power the same is the last, where the parts agree
AGREED = 1e-3
# share of the power by which volts and amps of parts may disagree where they were touched last; the parabolas leave far
# less. In random rigs 99 of 100 sound points had at most 4e-4, and those that had run away mostly more than 1.


@dataclass(frozen=True, eq=False)
class Part:
    """A substring of a string: how often it is there, and about the volts across it at every moment.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part] = array.bundle(np.array([18.0])).strands[0].parts
    >>> part.times, part.voltage.round(1)
    (2, array([9.3]))
    """

    substring: Substring
    times: int
    voltage: Array


@dataclass(frozen=True, eq=False)
class Strand:
    """A string: how often it is there, about the amps through it at every moment, and its different parts.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [strand] = array.bundle(np.array([18.0])).strands
    >>> strand.times, strand.current.round(1)
    (2, array([5.9]))
    """

    times: int
    current: Array
    parts: tuple[Part, ...]


@dataclass(frozen=True, eq=False)
class Bundle:
    """A circuit's different strings, and the ohms between their meeting point and the terminals.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> round(array.bundle(np.array([18.0])).resistance, 3)
    0.046
    """

    strands: tuple[Strand, ...]
    resistance: float


@dataclass(frozen=True, eq=False)
class Spot:
    """About where everything works at every moment.

    Parameters
    ----------
    junction : ndarray (branch, row)
        Junction volts of each chain's weakest cells. [V]
    voltage : ndarray (part, row)
        Across each part. [V]
    current : ndarray (strand, row)
        Through each string. [A]
    across : ndarray (bundle, row)
        Where the strings meet. [V]

    Examples
    --------
    >>> spot = Spot(*(np.ones((count, 3)) for count in (4, 2, 1, 1)))  # of three moments
    >>> spot.rows(np.array([0])).junction.shape
    (4, 1)
    """

    junction: Array
    voltage: Array
    current: Array
    across: Array

    def rows(self, index: Array) -> Spot:
        """Some of the moments."""
        return Spot(*(a[..., index] for a in (self.junction, self.voltage, self.current, self.across)))


@dataclass(frozen=True, eq=False)
class Net:
    """How circuits hang together, whatever the moment.

    Parameters
    ----------
    branches, parts, strands : ndarray of int
        Where each part's branches, each string's parts, and each circuit's strings begin.
    part_of, strand_of, bundle_of : ndarray of int
        The part of each branch, the string of each part, and the circuit of each string.
    often, times : ndarray (part, 1), (strand, 1)
        How often each part is in its string, and each string in the circuit.
    bypass : Diode
        Across each part, shape (part, 1); one that lets nothing through where there is none.
    blocking : Diode, optional
        In front of every string.
    resistance : ndarray (bundle, 1)
        Between the strings' meeting point and the terminals. [ohm]
    avalanche : Avalanche
        Of all cells.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> net_of([array.bundle(np.array([18.0]))], None).strand_of  # one kind of string, one kind of part
    array([0])
    """

    branches: Array
    parts: Array
    strands: Array
    part_of: Array
    strand_of: Array
    bundle_of: Array
    often: Array
    times: Array
    bypass: Diode
    blocking: Diode | None
    resistance: Array
    avalanche: Avalanche

    def round(
        self, cells: CellChains, spot: Spot, voltage: Array, on_hill: Array
    ) -> tuple[Spot, Quadratic, Array, Array]:
        """The next spot, the terminals where they should be, whether that is the hilltop meant, and the watts amiss."""
        touch, rate = chain_quadratic(cells, spot.junction.ravel(), self.avalanche)
        chains, rate = touch.shaped(spot.junction.shape), rate.reshape(spot.junction.shape)
        parts = self.parts_touched(chains, spot.voltage)
        fronts = self.strands_touched(parts, spot.current)
        leads = (added(self.times * lead, self.strands) for lead in fronts.leads_at(spot.across[self.bundle_of]))
        goal, wanted = _goal(side_by_side(spot.across, *leads).behind(self.resistance), voltage, on_hill)
        across = goal.voltage + self.resistance * goal.current
        current = fronts.leads_at(across[self.bundle_of])[0]
        volts = parts.at_current(current[self.strand_of]).voltage
        junction = spot.junction + (volts[self.part_of] - chains.voltage) / rate
        return Spot(junction, volts, current, across), goal, wanted, self.amiss(spot, chains, parts, fronts, goal)

    def amiss(self, spot: Spot, chains: Quadratic, parts: Quadratic, fronts: Quadratic, goal: Quadratic) -> Array:
        """By how much Kirchhoff's laws do not hold at the points touched, in watts at the terminals (bundle, row).

        Volts of a string that its diode blocks do not count, since it gives no amps.
        """
        volts = added(np.abs(spot.voltage[self.part_of] - chains.voltage), self.branches)
        amps = added(np.abs(parts.current - spot.current[self.strand_of]), self.parts)
        gaps = np.abs((fronts.voltage - spot.across[self.bundle_of]) * fronts.current)
        volts, amps, gaps = (added(a, self.strands) for a in (added(volts, self.parts), amps, gaps))
        return volts * np.abs(goal.current) + amps * np.abs(goal.voltage) + gaps

    def parts_touched(self, chains: Quadratic, voltage: Array) -> Quadratic:
        """Every part touched at its volts, where its branches were touched nearby."""
        current, lead, turn = (added(a, self.branches) for a in chains.leads_at(voltage[self.part_of]))
        through = self.bypass.current(-voltage)
        steep = (through + self.bypass.i_0) / self.bypass.v_fold
        return side_by_side(voltage, current + through, lead - steep, turn + steep / self.bypass.v_fold)

    def strands_touched(self, parts: Quadratic, current: Array) -> Quadratic:
        """Every string touched at its amps, where its parts were touched nearby; a blocking diode lets none back."""
        whole = one_after_another(parts.at_current(current[self.strand_of]), self.often, self.parts)
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


def solve(
    bundles: Sequence[Bundle], blocking: Diode | None, voltage: Array, on_hill: Array
) -> tuple[Array, Array, Array, Array]:
    """Volts, amps and watts of the hilltop next to the volts at the terminals, or just there, and whether met.

    Parameters
    ----------
    bundles : sequence of Bundle
        A circuit each, with amps and volts as its tables give them.
    blocking : Diode, optional
        In front of every string.
    voltage : ndarray (bundle, row)
        At the terminals. [V]
    on_hill : ndarray of bool (bundle, row)
        Whether the hilltop is meant, or the volts themselves.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> at = np.array([[18.0]])
    >>> v, i, p, sure = solve([array.bundle(at[0])], None, at, np.array([[True]]))
    >>> p.round(1), sure
    (array([[212.6]]), array([[ True]]))
    """
    with np.errstate(all="ignore"):
        # rows that run away end as not met
        return _met(bundles, net_of(bundles, blocking), voltage, on_hill)


def _met(bundles: Sequence[Bundle], net: Net, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array, Array]:
    """`solve` round by round; rows that are met in all circuits drop out."""
    parts = [part for bundle in bundles for strand in bundle.strands for part in strand.parts]
    cells = stacked([branch.cells for part in parts for branch in part.substring.branches])
    spot = _first(bundles, parts, net, voltage)
    found = np.stack([voltage, np.zeros_like(voltage), np.full_like(voltage, np.inf)])
    met_at = np.zeros(voltage.shape, bool)
    rows = np.arange(voltage.shape[1])
    for _ in range(ROUNDS):
        spot, goal, wanted, amiss = net.round(cells, spot, voltage[:, rows], on_hill[:, rows])
        power = goal.current * goal.voltage
        agreed = amiss <= AGREED * np.abs(power) + P_NONE
        met_at[:, rows] = wanted & agreed & same_power(power, found[2][:, rows])
        found[:, :, rows] = goal.voltage, goal.current, power
        left = np.nonzero(~met_at[:, rows].all(axis=0))[0]
        if not left.size:
            break
        if left.size < rows.size:
            cells = cells.rows((np.arange(len(net.part_of))[:, None] * rows.size + left).ravel())
            spot, rows = spot.rows(left), rows[left]
    return found[0], found[1], found[2], met_at & same_hill(found[0], voltage)


def net_of(bundles: Sequence[Bundle], blocking: Diode | None) -> Net:
    """How the circuits hang together.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, example
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> net = net_of([array.bundle(np.array([18.0]))], None)
    >>> net.often, net.times  # two equal groups of cells in a panel, two equal strings
    (array([[2.]]), array([[2.]]))
    """
    strands = [strand for bundle in bundles for strand in bundle.strands]
    parts = [part for strand in strands for part in strand.parts]
    branches, part_of = _grouped([len(part.substring.branches) for part in parts])
    first_parts, strand_of = _grouped([len(strand.parts) for strand in strands])
    first_strands, bundle_of = _grouped([len(bundle.strands) for bundle in bundles])
    none = Diode(0.0, 1.0)
    diodes = [part.substring.diode or none for part in parts]
    return Net(
        branches=branches,
        parts=first_parts,
        strands=first_strands,
        part_of=part_of,
        strand_of=strand_of,
        bundle_of=bundle_of,
        often=_column([part.times for part in parts]),
        times=_column([strand.times for strand in strands]),
        bypass=Diode(_column([d.i_0 for d in diodes]), _column([d.v_fold for d in diodes])),
        blocking=blocking,
        resistance=_column([bundle.resistance for bundle in bundles]),
        avalanche=parts[0].substring.branches[0].avalanche,
    )


def _grouped(lengths: Sequence[int]) -> tuple[Array, Array]:
    """Where each group of consecutive things begins, and the group of each thing."""
    return np.cumsum([0, *lengths[:-1]]), np.repeat(np.arange(len(lengths)), lengths)


def _column(values: Sequence[Array | float]) -> Array:
    """Numbers one below the other."""
    return np.array(values, float)[:, None]


def _first(bundles: Sequence[Bundle], parts: Sequence[Part], net: Net, voltage: Array) -> Spot:
    """The spot that the tables show."""
    volts = np.stack([part.voltage for part in parts])
    current = np.stack([strand.current for bundle in bundles for strand in bundle.strands])
    junction = junctions_at([branch for part in parts for branch in part.substring.branches], volts[net.part_of])
    across = voltage + net.resistance * added(net.times * current, net.strands)
    return Spot(junction, volts, current, across)


def _goal(whole: Quadratic, voltage: Array, on_hill: Array) -> tuple[Quadratic, Array]:
    """The terminals on the hilltop of their parabola, or at the wanted volts, and whether as wanted."""
    there = whole.leads_at(voltage)[0]
    top = whole.hilltop()
    # a hilltop far off is the parabola's, not the curve's; the parts are better known next round
    follow = on_hill & same_hill(whole.at_current(top).voltage, voltage)
    return whole.at_current(np.where(follow, top, there)), follow | ~on_hill
