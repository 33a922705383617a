"""Current-voltage curves and their algebra: series, parallel, bypass diode, resistance, blocking diode, hills.

A curve is a table of points that lie on it exactly, each with its slope; between two points runs the cubic that meets
both slopes (Hermite), held monotone. Every row (a moment, a substring) has its own currents, since rows have their
knees at different places and a shared axis would cut them off. Nothing here knows panels, light or controllers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

Array = np.ndarray

V_PER_AMP_BLOCKED = 1000.0
# [V/A] how steeply a blocking diode in reverse is drawn; it only has to be steep, no source
CLOSE_BY = 0.02
# share of the volts within which a hill seen closely is the same hill; hills of one string lie much further apart
FLATTEST = -1e-12
# [A/V] least fall of current with voltage, where a table of points has none
TINY = 1e-300
# guards divisions between two equal points


@dataclass(frozen=True, eq=False)
class Curves:
    """Voltage as a function of current, one curve a row.

    Parameters
    ----------
    current : ndarray (..., point)
        Ascending; negative is back-feed. [A]
    voltage : ndarray (..., point)
        Descending. [V]
    slope : ndarray (..., point)
        dV/dI at the points, negative. [V/A]
    """

    current: Array
    voltage: Array
    slope: Array

    def rows(self, index: Array) -> Curves:
        """The chosen rows, by an index or a mask on the leading axes."""
        return Curves(self.current[index], self.voltage[index], self.slope[index])


@dataclass(frozen=True)
class Diode:
    """An ideal-law diode: saturation current [A] and the volts of one e-fold of current. [V]"""

    i_0: float
    v_fold: float

    def current(self, v_forward: Array) -> Array:
        """Amps at a forward voltage."""
        return self.i_0 * np.expm1(np.minimum(v_forward / self.v_fold, 700.0))

    def drop(self, current: Array) -> Array:
        """Forward volts while it carries a current."""
        return self.v_fold * np.log1p(current / self.i_0)


@dataclass(frozen=True, eq=False)
class Hills:
    """Every local maximum of power, by rising current; rows with fewer are filled with NaN.

    Parameters
    ----------
    voltage, current, power : ndarray (..., hill)
        Where each hilltop is. [V, A, W]
    """

    voltage: Array
    current: Array
    power: Array


def voltage_at(curves: Curves, current: Array) -> tuple[Array, Array]:
    """Volts and slope dV/dI at given amps, shape (..., k); beyond the ends the last slope goes on."""
    return _interpolated(curves.current, curves.voltage, curves.slope, current)


def current_at(curves: Curves, voltage: Array) -> tuple[Array, Array]:
    """Amps and slope dI/dV at given volts, shape (..., k); beyond the ends the last slope goes on."""
    x, y, m = (a[..., ::-1] for a in (curves.voltage, curves.current, 1.0 / curves.slope))
    return _interpolated(x, y, m, voltage)


def in_series(curves: Sequence[Curves]) -> Curves:
    """One current through all of them: volts add.

    Notes
    -----
    The points of all curves are kept, so the knee of each stays where it is.
    """
    current = np.sort(np.concatenate([c.current for c in curves], axis=-1), axis=-1)
    return Curves(current, *_summed(voltage_at, curves, current))


def in_parallel(curves: Sequence[Curves]) -> Curves:
    """One voltage across all of them: amps add."""
    voltage = np.sort(np.concatenate([c.voltage for c in curves], axis=-1), axis=-1)[..., ::-1]
    current, slope = _summed(current_at, curves, voltage)
    return Curves(current, voltage, 1.0 / np.minimum(slope, FLATTEST))


def multiplied(curves: Curves, number: int) -> Curves:
    """So many equal ones in parallel."""
    return Curves(curves.current * number, curves.voltage, curves.slope / number)


def bypassed(curves: Curves, diode: Diode) -> Curves:
    """Curve of a substring with a bypass diode across it.

    Notes
    -----
    The diode adds its current at every voltage; below zero volts it takes over. Leaves out its heating.
    """
    current = curves.current + diode.current(-curves.voltage)
    diode_slope = (diode.current(-curves.voltage) + diode.i_0) / diode.v_fold
    return Curves(current, curves.voltage, 1.0 / (1.0 / curves.slope - diode_slope))


def with_resistance(curves: Curves, resistance: Array | float) -> Curves:
    """Curve behind a series resistance, such as the cable; `resistance` broadcasts to (..., 1). [ohm]"""
    return Curves(curves.current, curves.voltage - curves.current * resistance, curves.slope - resistance)


def with_blocking(curves: Curves, diode: Diode) -> Curves:
    """Curve of a string behind a diode that lets no current back into it."""
    dense = _with_points(curves, np.geomspace(1e-9, 0.3, 24))
    forward = dense.current > 0
    i = np.where(forward, dense.current, 0.0)
    back = np.where(forward, 0.0, dense.current)
    return Curves(
        np.where(forward, i, back * 1e-9),
        dense.voltage - diode.drop(i) - back * V_PER_AMP_BLOCKED,
        np.where(forward, dense.slope - diode.v_fold / (diode.i_0 + i), -V_PER_AMP_BLOCKED * 1e9),
    )


def hills(curves: Curves) -> Hills:
    """Every local maximum of power, solved for on the curve and never read off the largest sample.

    Notes
    -----
    dP/dI = V + I dV/dI falls through zero between two points; the zero is found there by bisection and secant.
    """
    rise = curves.voltage + curves.current * curves.slope
    here = (rise[..., :-1] > 0) & (rise[..., 1:] <= 0) & (np.diff(curves.current, axis=-1) > 0)
    where = np.nonzero(here)
    return _gathered(here, where, _hilltops(curves, where))


def best(found: Hills) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of the highest hill of each row; zeros where there is none."""
    power = np.nan_to_num(found.power, nan=-1.0)
    top = np.argmax(power, axis=-1)[..., None]
    none = np.take_along_axis(power, top, -1) <= 0
    picked = (np.take_along_axis(a, top, -1) for a in (found.voltage, found.current, found.power))
    v, i, p = (np.where(none, 0.0, a)[..., 0] for a in picked)
    return v, i, p


def settled(
    curves: Curves, volts: Array, on_hill: bool | Array, closer: Callable[[Array], Curves] | None
) -> tuple[Array, Array, Array]:
    """Volts, amps and watts near the given volts (row,): on the hill there or just there, seen closely.

    Parameters
    ----------
    on_hill : bool or ndarray (row,)
        Whether the hilltop nearest to the volts is meant.
    closer : callable, optional
        Gives the same curves with points closely around given volts.
    """
    fine = curves if closer is None else closer(volts)
    tops = np.nan_to_num(hills(fine).voltage, nan=np.inf)
    nearest = np.take_along_axis(tops, np.argmin(np.abs(tops - volts[:, None]), axis=1)[:, None], 1)[:, 0]
    near_hill = np.asarray(on_hill) & (np.abs(nearest - volts) < CLOSE_BY * np.abs(volts) + 0.05)
    v = np.where(near_hill, nearest, volts)
    i = np.maximum(current_at(fine, v[:, None])[0][:, 0], 0.0)
    return v, i, v * i


def open_circuit_voltage(curves: Curves) -> Array:
    """Volts at zero amps, one a row."""
    return voltage_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def short_circuit_current(curves: Curves) -> Array:
    """Amps at zero volts, one a row."""
    return current_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def _summed(
    at: Callable[[Curves, Array], tuple[Array, Array]], curves: Sequence[Curves], where: Array
) -> tuple[Array, Array]:
    """Values and slopes of all curves at the same places, added up."""
    total, slope = at(curves[0], where)
    for other in curves[1:]:
        value, more = at(other, where)
        total, slope = total + value, slope + more
    return total, slope


def interval(nodes: Array, where: Array) -> Array:
    """Index of the point left of each place (..., k) among ascending ones (..., point), row by row.

    Rows are laid end to end on one axis, so that one binary search serves all.
    """
    flat, asked = nodes.reshape(-1, nodes.shape[-1]), where.reshape(-1, where.shape[-1])
    low = flat[:, :1]
    span = np.max(flat[:, -1:] - low) + 1.0
    start = np.arange(len(flat))[:, None] * 2.0 * span
    line = (flat - low + start).ravel()
    inside = np.clip(asked - low, -0.5, span) + start
    found = np.searchsorted(line, inside.ravel(), side="right").reshape(asked.shape)
    found -= np.arange(len(flat))[:, None] * flat.shape[1] + 1
    return np.clip(found, 0, flat.shape[1] - 2).reshape(where.shape)


def _interpolated(x: Array, y: Array, slope: Array, where: Array) -> tuple[Array, Array]:
    """Monotone cubic through the points, and its slope; a straight line beyond the ends."""
    left = interval(x, where)
    flat = left + np.arange(x.size // x.shape[-1]).reshape((*x.shape[:-1], 1)) * x.shape[-1]
    x0, x1, y0, y1 = (np.take(a, i) for a in (x, y) for i in (flat, flat + 1))
    m0, m1 = np.take(slope, flat), np.take(slope, flat + 1)
    return _cubic(x0, x1 - x0, y0, y1 - y0, m0, m1, where)


def _cubic(
    x0: Array, width: Array, y0: Array, height: Array, m0: Array, m1: Array, where: Array
) -> tuple[Array, Array]:
    """Value and slope of the cubic of one interval; slopes are limited to three secants (Fritsch and Carlson 1980)."""
    width = np.maximum(width, TINY)
    steepest = 3.0 * height
    d0, d1 = np.maximum(m0 * width, steepest), np.maximum(m1 * width, steepest)
    t = (where - x0) / width
    s = np.minimum(np.maximum(t, 0.0), 1.0)
    c2, c3 = 3.0 * height - 2.0 * d0 - d1, d0 + d1 - 2.0 * height
    value = y0 + s * (d0 + s * (c2 + s * c3))
    slope = (d0 + s * (2.0 * c2 + s * 3.0 * c3)) / width
    beyond = np.where(t > 1.0, m1, m0) * (t - s) * width
    outside = t != s
    return np.where(outside, value + beyond, value), np.where(outside, np.where(t > 1.0, m1, m0), slope)


def _with_points(curves: Curves, currents: Array) -> Curves:
    """The same curves with more points, at the same amps in every row."""
    more = np.broadcast_to(currents, (*curves.current.shape[:-1], len(currents)))
    joined = np.concatenate([curves.current, more], axis=-1)
    current = np.sort(joined, axis=-1)
    return Curves(current, *voltage_at(curves, current))


def _hilltops(curves: Curves, where: tuple[Array, ...]) -> tuple[Array, Array]:
    """Amps and volts of the hilltop inside each found interval, by safeguarded secant."""
    right = (*where[:-1], where[-1] + 1)
    i0, i1, v0, v1 = (a[w] for a in (curves.current, curves.voltage) for w in (where, right))
    m0, m1 = curves.slope[where], curves.slope[right]
    low, high = i0, i1
    f_low, f_high = v0 + i0 * m0, v1 + i1 * m1
    middle = low
    for step in range(24):
        secant = low + (high - low) * f_low / np.maximum(f_low - f_high, TINY)
        middle = 0.5 * (low + high) if step % 3 == 2 else secant
        v, m = _cubic(i0, i1 - i0, v0, v1 - v0, m0, m1, middle)
        f = v + middle * m
        low, f_low = np.where(f > 0, middle, low), np.where(f > 0, f, f_low)
        high, f_high = np.where(f > 0, high, middle), np.where(f > 0, f_high, f)
    return middle, _cubic(i0, i1 - i0, v0, v1 - v0, m0, m1, middle)[0]


def _gathered(here: Array, where: tuple[Array, ...], tops: tuple[Array, Array]) -> Hills:
    """Hilltops from a flat list to (..., hill), NaN where a row has fewer."""
    rank = (np.cumsum(here, axis=-1) - 1)[where]
    shape = (*here.shape[:-1], int(rank.max(initial=-1)) + 1 or 1)
    current, voltage = np.full(shape, np.nan), np.full(shape, np.nan)
    current[(*where[:-1], rank)], voltage[(*where[:-1], rank)] = tops
    return Hills(voltage, current, voltage * current)
