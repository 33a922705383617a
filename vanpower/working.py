"""The working point of a whole circuit, met exactly: Newton's method on parabolas.

A table shows about where the point is. Every chain of cells is touched there by a parabola, the parabolas are added up
as the wiring says, and the sum tells every chain where it has to be touched next. Each round multiplies the correct
digits by two to three, so two rounds mostly do; what the second changes tells how far the first was off.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vanpower.cells import stacked
from vanpower.curves import CLOSE_BY, DOUBT, P_NONE, V_CLOSE_BY, Diode
from vanpower.substrings import Substring, touched
from vanpower.touches import Touch, one_after_another, side_by_side

Array = np.ndarray

ROUNDS = 6
# at most; a second one that changes the power by less than `DOUBT` is the last
LEAD_BLOCKED = 1e-12
# [A/V] what a string behind a diode in reverse lets through


@dataclass(frozen=True, eq=False)
class Part:
    """A substring of a string: how often it is there, and about the volts across it at every moment."""

    substring: Substring
    times: int
    voltage: Array

    def touched(self, branches: Iterator[Touch]) -> Touch:
        """It touched at its volts, given its branches touched nearby."""
        return self.substring.touch(self.voltage, [next(branches) for _ in self.substring.branches])


@dataclass(frozen=True, eq=False)
class Strand:
    """A string: how often it is there, about the amps through it at every moment, and its different parts."""

    times: int
    current: Array
    parts: tuple[Part, ...]

    def touched(self, parts: Sequence[Touch], blocking: Diode | None) -> Touch:
        """It touched at its amps, given its parts touched nearby; a blocking diode lets none back."""
        counted = [(touch.at_current(self.current), part.times) for touch, part in zip(parts, self.parts, strict=True)]
        whole = one_after_another(counted)
        if blocking is None:
            return whole
        forward = self.current > 0
        current = np.where(forward, self.current, 0.0)
        steep = blocking.v_fold / (blocking.i_0 + current)
        return Touch(
            current,
            whole.voltage - blocking.drop(current),
            np.where(forward, whole.slope - steep, -1.0 / LEAD_BLOCKED),
            np.where(forward, whole.bend + steep / (blocking.i_0 + current), 0.0),
        )

    def rows(self, index: Array) -> Strand:
        """Some of the moments; its substrings are only asked for their diodes any more."""
        parts = tuple(replace(part, voltage=part.voltage[index]) for part in self.parts)
        return replace(self, current=self.current[index], parts=parts)

    def moved(self, whole: Touch, parts: Sequence[Touch], voltage: Array) -> Strand:
        """The same at other volts, as its parabola and those of its parts have it."""
        current = whole.at_voltage(voltage).current
        volts = [touch.at_current(current).voltage for touch in parts]
        moved = [replace(part, voltage=v) for part, v in zip(self.parts, volts, strict=True)]
        return replace(self, current=current, parts=tuple(moved))


def met(
    strands: Sequence[Strand], blocking: Diode | None, resistance: float, voltage: Array, on_hill: Array
) -> tuple[Array, Array, Array, Array]:
    """Volts, amps and watts of the hilltop next to the volts (row,) at the terminals, or just there, and whether met.

    Parameters
    ----------
    strands : sequence of Strand
        The circuit's different strings, with amps and volts as its tables give them.
    blocking : Diode, optional
        In front of every string.
    resistance : float
        Between the strings' meeting point and the terminals. [ohm]
    on_hill : ndarray of bool (row,)
        Whether the hilltop is meant, or the volts themselves.
    """
    with np.errstate(all="ignore"):
        # rows that run away end as not met
        return _met(strands, blocking, resistance, voltage, on_hill)


def _met(
    strands: Sequence[Strand], blocking: Diode | None, resistance: float, voltage: Array, on_hill: Array
) -> tuple[Array, Array, Array, Array]:
    branches = [branch for strand in strands for part in strand.parts for branch in part.substring.branches]
    cells, avalanche = stacked([branch.cells for branch in branches]), branches[0].avalanche
    junctions = [branch.junction_at(v) for branch, v in zip(branches, _volts(strands), strict=True)]
    across = voltage + resistance * sum(strand.times * strand.current for strand in strands)
    found = np.stack([voltage, np.zeros_like(voltage), np.full_like(voltage, np.inf)])
    met_at = np.zeros(voltage.shape, bool)
    rows = np.arange(len(voltage))
    for _ in range(ROUNDS):
        touches, rates = touched(cells, junctions, avalanche)
        each = iter(touches)
        inner = [[part.touched(each) for part in strand.parts] for strand in strands]
        fronts = [strand.touched(parts, blocking) for strand, parts in zip(strands, inner, strict=True)]
        goal, wanted = _goal(strands, fronts, across, resistance, voltage[rows], on_hill[rows])
        power = goal.current * goal.voltage
        met_at[rows] = wanted & (np.abs(power - found[2, rows]) <= DOUBT * np.abs(power) + P_NONE)
        found[:, rows] = goal.voltage, goal.current, power
        left = np.nonzero(~met_at[rows])[0]
        if not left.size:
            break
        across = goal.voltage + resistance * goal.current
        pairs = zip(strands, fronts, inner, strict=True)
        strands = [strand.moved(front, parts, across) for strand, front, parts in pairs]
        moves = zip(junctions, _volts(strands), touches, rates, strict=True)
        junctions = [u + (v - touch.voltage) / rate for u, v, touch, rate in moves]
        if left.size < rows.size:
            cells = cells.rows((np.arange(len(branches))[:, None] * rows.size + left).ravel())
            junctions, across = [u[left] for u in junctions], across[left]
            strands, rows = [strand.rows(left) for strand in strands], rows[left]
    return found[0], found[1], found[2], met_at & _beside(found[0], voltage)


def _goal(
    strands: Sequence[Strand], fronts: Sequence[Touch], across: Array, resistance: float, voltage: Array, on_hill: Array
) -> tuple[Touch, Array]:
    """The terminals where the strings' parabolas have their hilltop, or at the wanted volts, and whether as wanted."""
    leads = [front.at_voltage(across).leads for front in fronts]
    together = [
        (s.times * i, s.times * lead, s.times * turn) for s, (i, lead, turn) in zip(strands, leads, strict=True)
    ]
    whole = side_by_side(across, together).behind(resistance)
    there = whole.at_voltage(voltage).current
    top = whole.hilltop()
    # a hilltop far off is the parabola's, not the curve's; the parts are better known next round
    follow = on_hill & _beside(whole.at_current(top).voltage, voltage)
    return whole.at_current(np.where(follow, top, there)), follow | ~on_hill


def _beside(found: Array, voltage: Array) -> Array:
    """Whether the volts found are those of the same hill."""
    return np.abs(found - voltage) < CLOSE_BY * np.abs(voltage) + V_CLOSE_BY


def _volts(strands: Sequence[Strand]) -> list[Array]:
    """The volts of every branch, in the order of strings, parts and branches."""
    return [part.voltage for strand in strands for part in strand.parts for _ in part.substring.branches]
