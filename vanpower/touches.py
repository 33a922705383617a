"""A curve known at one point a row, with its slope and its bend: enough to add parts there without any table.

Around the point runs the parabola that touches the curve. Parts known at the same point, or close to it, add up in
closed form; where they were not quite at the same point the sum tells by how much, and the next look is nearer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

Array = np.ndarray
Lead = tuple[Array, Array, Array]

FLATTER = 0.1
# share of its steepness that a curve keeps at least beyond the point where it was touched; no source


@dataclass(frozen=True, eq=False)
class Touch:
    """One point of a curve and the parabola through it.

    Parameters
    ----------
    current, voltage : ndarray (row,)
        The point. [A, V]
    slope, bend : ndarray (row,)
        dV/dI and d²V/dI² there. [V/A, V/A²]
    """

    current: Array
    voltage: Array
    slope: Array
    bend: Array

    @property
    def leads(self) -> Lead:
        """Amps, dI/dV and d²I/dV², as parts side by side add them."""
        lead = 1.0 / self.slope
        return self.current, lead, -self.bend * lead**3

    def at_current(self, current: Array) -> Touch:
        """The same parabola at other amps."""
        away = current - self.current
        slope = np.minimum(self.slope + self.bend * away, FLATTER * self.slope)
        return Touch(current, self.voltage + away * (self.slope + 0.5 * self.bend * away), slope, self.bend)

    def at_voltage(self, voltage: Array) -> Touch:
        """The parabola of amps over volts, at other volts."""
        current, lead, turn = self.leads
        away = voltage - self.voltage
        steeper = np.minimum(lead + turn * away, FLATTER * lead)
        return side_by_side(voltage, [(current + away * (lead + 0.5 * turn * away), steeper, turn)])

    def behind(self, resistance: float) -> Touch:
        """The same behind a series resistance. [ohm]"""
        return Touch(self.current, self.voltage - resistance * self.current, self.slope - resistance, self.bend)

    def hilltop(self) -> Array:
        """Amps at which the parabola gives most power, by one step from its own point."""
        rise = self.voltage + self.current * self.slope
        turn = 2.0 * self.slope + self.current * self.bend
        return self.current - rise / np.minimum(turn, FLATTER * self.slope)


def one_after_another(touches: Iterable[tuple[Touch, int]]) -> Touch:
    """Parts in series, each so many times, all touched at the same amps."""
    (first, number), *others = touches
    voltage, slope, bend = (number * a for a in (first.voltage, first.slope, first.bend))
    for touch, times in others:
        voltage, slope, bend = voltage + times * touch.voltage, slope + times * touch.slope, bend + times * touch.bend
    return Touch(first.current, voltage, slope, bend)


def side_by_side(voltage: Array, leads: Iterable[Lead]) -> Touch:
    """Parts in parallel, all at the same volts, given by their amps, dI/dV and d²I/dV²."""
    (current, lead, turn), *others = leads
    for more, steeper, sharper in others:
        current, lead, turn = current + more, lead + steeper, turn + sharper
    slope = 1.0 / lead
    return Touch(current, voltage, slope, -turn * slope**3)
