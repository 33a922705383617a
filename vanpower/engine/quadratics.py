"""Second-order expansions of current-voltage curves, and their sums in series and parallel, without any table.

Around its point a curve is replaced by the parabola with the same slope and curvature. Parts expanded at the same
point, or close to it, add up in closed form; where their points differ the sum tells by how much, and the next
expansion is nearer. Many parts stand in one array, (part, row).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Array = np.ndarray
Lead = tuple[Array, Array, Array]
# amps, dI/dV and d²I/dV²

FLATTER = 0.1
# share of its steepness that a curve keeps at least beyond its point of expansion; no source


@dataclass(frozen=True, eq=False)
class Quadratic:
    """Second-order expansion of a curve: one point, with slope and curvature there.

    Parameters
    ----------
    current, voltage : ndarray (..., row)
        The point. [A, V]
    slope, bend : ndarray (..., row)
        dV/dI and d²V/dI² there. [V/A, V/A²]

    Examples
    --------
    >>> line = Quadratic(*(np.array([a]) for a in (2.0, 16.0, -2.0, 0.0)))  # 20 V behind 2 ohm, at 2 A
    >>> line.hilltop(), line.at_current(line.hilltop()).voltage, line.behind(0.5).voltage
    (array([5.]), array([10.]), array([15.]))
    """

    current: Array
    voltage: Array
    slope: Array
    bend: Array

    def shaped(self, shape: tuple[int, ...]) -> Quadratic:
        """The same in another shape, such as (part, row)."""
        return Quadratic(*(a.reshape(shape) for a in (self.current, self.voltage, self.slope, self.bend)))

    def at_current(self, current: Array) -> Quadratic:
        """The same parabola, told from its point at another current. [A]"""
        away = current - self.current
        slope = np.minimum(self.slope + self.bend * away, FLATTER * self.slope)
        return Quadratic(current, self.voltage + away * (self.slope + 0.5 * self.bend * away), slope, self.bend)

    def leads_at(self, voltage: Array) -> Lead:
        """Amps, dI/dV and d²I/dV² at other volts, by the parabola of amps over volts; parts in parallel add them."""
        lead = 1.0 / self.slope
        turn = -self.bend * (lead * lead * lead)
        away = voltage - self.voltage
        steeper = np.minimum(lead + turn * away, FLATTER * lead)
        return self.current + away * (lead + 0.5 * turn * away), steeper, turn

    def behind(self, resistance: Array | float) -> Quadratic:
        """The expansion behind a series resistance. [ohm]"""
        return Quadratic(self.current, self.voltage - resistance * self.current, self.slope - resistance, self.bend)

    def hilltop(self) -> Array:
        """Amps at which the parabola gives most power, by one Newton step from its own point. [A]"""
        rise = self.voltage + self.current * self.slope
        turn = 2.0 * self.slope + self.current * self.bend
        return self.current - rise / np.minimum(turn, FLATTER * self.slope)


def one_after_another(parts: Quadratic, often: Array, first: Array) -> Quadratic:
    """Expansion of every string (string, row) from those of its parts in series (part, row), taken at the same amps.

    Parameters
    ----------
    parts : Quadratic
    often : ndarray (part, 1)
        How often each part is there.
    first : ndarray of int (string,)
        Where each string's parts begin.

    Examples
    --------
    >>> parts = Quadratic(*(np.full((2, 1), a) for a in (2.0, 16.0, -2.0, 0.0)))
    >>> one_after_another(parts, np.array([[1.0], [3.0]]), np.array([0])).voltage
    array([[64.]])
    """
    sums = (added(often * a, first) for a in (parts.voltage, parts.slope, parts.bend))
    return Quadratic(parts.current[first], *sums)


def side_by_side(voltage: Array, current: Array, lead: Array, turn: Array) -> Quadratic:
    """Expansion of parts in parallel at the same volts, from the sums of their amps, dI/dV and d²I/dV².

    Examples
    --------
    >>> both = side_by_side(*(np.array([a]) for a in (16.0, 4.0, -1.0, 0.0)))  # twice 20 V behind 2 ohm
    >>> both.slope
    array([-1.])
    """
    slope = 1.0 / lead
    return Quadratic(current, voltage, slope, -turn * (slope * slope * slope))


def added(values: Array, first: Array) -> Array:
    """Sums of consecutive rows (part, row), a sum for each group that starts where `first` tells.

    Examples
    --------
    >>> added(np.array([[1.0], [2.0], [4.0]]), np.array([0, 1]))
    array([[1.],
           [6.]])
    """
    return values if len(first) == len(values) else np.add.reduceat(values, first, axis=0)
