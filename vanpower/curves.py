"""Current-voltage curves and their algebra: series, parallel, bypass diode, resistance, blocking diode, hills.

A curve is a table of points that lie on it exactly, each with its slope; between two points runs the cubic that meets
both slopes (Hermite), held monotone. Every row (a moment, a substring) has its own currents, since rows have their
knees at different places and a shared axis would cut them off. Nothing here knows panels, light or controllers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

Array = np.ndarray

BLOCK = 16_000
# numbers worked on at a time, measured: longer arrays leave the processor's nearest caches and take twice as long
V_PER_AMP_BLOCKED = 1000.0
# [V/A] how steeply a blocking diode in reverse is drawn; it only has to be steep, no source
BLOCKED_POINTS = np.concatenate([[0.0], np.geomspace(1e-7, 0.3, 10)])
# [A] where a blocking diode bends a string's curve
LOOKS, DOUBT, P_NONE = 5, 2e-6, 1e-6
# closer looks at most; share of the power [-] by which a look may change it before another follows, and watts that
# do not count
HILL_LOOKS, HILL_STEPS = np.linspace(0.0, 1.0, 9), 5
# where a piece is looked at before its hilltop is solved for, and Newton steps from the highest of these places
SHALLOW = 1e-3
# share of the power by which it must have changed against what both ends of a piece say; less may be the table's error
TIE = 2e-3
# share of the power by which two hills may differ in a table that a closer look could turn round
CLOSE_BY, V_CLOSE_BY = 0.02, 0.05
# share of the volts, and volts, within which a hill seen closely is the same; those of one string lie further apart
FLATTEST = -1e-12
# [A/V] least fall of current with voltage, where a table of points has none
NARROWEST = 1e-9
# [A or V] least width of a piece; points that should be equal differ by less, and in either order


def blocks(rows: int, numbers: int) -> Iterator[slice]:
    """Rows of so many numbers each in groups that the processor's nearest caches hold."""
    step = max(1, BLOCK // numbers)
    return (slice(first, first + step) for first in range(0, rows, step))


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

    @cached_property
    def volts(self) -> Cubics:
        """Voltage as cubics of the current."""
        return Cubics(self.current, self.voltage, self.slope)

    @cached_property
    def amps(self) -> Cubics:
        """Current as cubics of the voltage, by rising voltage."""
        return Cubics(*(a[..., ::-1] for a in (self.voltage, self.current, 1.0 / self.slope)))


@dataclass(frozen=True, eq=False)
class Cubics:
    """A falling function of x through points with slopes: monotone cubics between them, straight lines beyond.

    Parameters
    ----------
    x, y, slope : ndarray (..., point)
        x ascending.
    """

    x: Array
    y: Array
    slope: Array

    def rows(self, index: slice) -> Cubics:
        """Some of the rows."""
        return Cubics(self.x[index], self.y[index], self.slope[index])

    def at(self, where: Array, before: Array) -> tuple[Array, Array]:
        """Value and slope at places (..., k), given how many points lie at or before each."""
        points = self.x.shape[-1]
        row = np.arange(self.x.size // points).reshape((*self.x.shape[:-1], 1))
        if 2 * where.shape[-1] < points:
            return self._at_few(where, np.minimum(np.maximum(before - 1, 0), points - 2) + row * points)
        piece = before + row * (points + 1)
        start, per_width, y, c1, c2, c3 = (np.take(a, piece) for a in self._pieces())
        t = (where - start) * per_width
        return y + t * (c1 + t * (c2 + t * c3)), (c1 + t * (2.0 * c2 + 3.0 * t * c3)) * per_width

    def _pieces(self) -> tuple[Array, ...]:
        """Start, one over width, value there, and the coefficients of every piece, the outer two included, flat."""
        width, c1, c2, c3 = coefficients(np.diff(self.x), np.diff(self.y), self.slope[..., :-1], self.slope[..., 1:])
        c1 = _between(self.slope[..., :1], c1, self.slope[..., -1:])
        per_width, c2, c3 = _between(1.0, 1.0 / width, 1.0), _between(0.0, c2, 0.0), _between(0.0, c3, 0.0)
        start, value = (np.concatenate([a[..., :1], a], axis=-1).ravel() for a in (self.x, self.y))
        return start, per_width, value, c1, c2, c3

    def _at_few(self, where: Array, left: Array) -> tuple[Array, Array]:
        """Value and slope at a few places, given the flat index of the point left of each."""
        right = left + 1
        (x0, x1), (y0, y1), (m0, m1) = ((a.take(left), a.take(right)) for a in (self.x, self.y, self.slope))
        width, c1, c2, c3 = coefficients(x1 - x0, y1 - y0, m0, m1)
        t = (where - x0) / width
        s = np.minimum(np.maximum(t, 0.0), 1.0)
        beyond, outer = (t - s) * width, np.where(t > 1.0, m1, m0)
        inner = (c1 + s * (2.0 * c2 + 3.0 * s * c3)) / width
        return y0 + s * (c1 + s * (c2 + s * c3)) + outer * beyond, np.where(beyond == 0.0, inner, outer)


def coefficients(width: Array, height: Array, m0: Array, m1: Array) -> tuple[Array, Array, Array, Array]:
    """Width and the coefficients of t, t², t³ of falling cubics; slopes are limited to three secants.

    Notes
    -----
    The limit keeps a cubic monotone: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246.
    """
    narrow = width < NARROWEST
    width = np.where(narrow, NARROWEST, width)
    steepest = np.where(narrow, -np.inf, 3.0 * height)
    c1, end = np.maximum(m0 * width, steepest), np.maximum(m1 * width, steepest)
    return width, c1, 3.0 * height - 2.0 * c1 - end, c1 + end - 2.0 * height


def _between(first: Array | float, inner: Array, last: Array | float) -> Array:
    """Inner values with one more at either end, flat."""
    edge = inner[..., :1]
    return np.concatenate([edge * 0.0 + first, inner, edge * 0.0 + last], axis=-1).ravel()


@dataclass(frozen=True)
class Diode:
    """An ideal-law diode: saturation current [A] and the volts of one e-fold of current [V]; many of them as arrays."""

    i_0: Array | float
    v_fold: Array | float

    def current(self, v_forward: Array) -> Array:
        """Amps at a forward voltage."""
        return self.i_0 * np.expm1(np.minimum(v_forward / self.v_fold, 700.0))

    def drop(self, current: Array) -> Array:
        """Forward volts while it carries a current."""
        return self.v_fold * np.log1p(current / self.i_0)


class Closer(Protocol):
    """What a curve is made of, so that it can be looked at again with points closely around some volts."""

    @property
    def curves(self) -> Curves:
        """The curve of every row."""

    @property
    def peaks(self) -> tuple[Hills, tuple[Array, Array, Array]]:
        """Every hill as the table shows it, and volts, amps and watts of the highest, met exactly."""

    def near(self, voltage: Array) -> Closer:
        """The same, known closely around one voltage a row, shape (row,)."""

    def met(self, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array, Array]:
        """Volts, amps, watts of the hilltop next to the volts (row,), or just there, and whether they were met."""

    def rows(self, index: Array) -> Closer:
        """Some of the rows."""


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
    return curves.volts.at(current, passed(curves.current, current))


def current_at(curves: Curves, voltage: Array) -> tuple[Array, Array]:
    """Amps and slope dI/dV at given volts, shape (..., k); beyond the ends the last slope goes on."""
    return curves.amps.at(voltage, passed(curves.amps.x, voltage))


def in_series(curves: Sequence[Curves]) -> Curves:
    """One current through all of them: volts add.

    Notes
    -----
    The points of all curves are kept, so the knee of each stays where it is. A curve given twice counts twice.
    """
    counted = _counted(curves)
    if len(counted) == 1:
        [(curve, times)] = counted
        return curve if times == 1 else Curves(curve.current, curve.voltage * times, curve.slope * times)
    return Curves(*_summed([(curve.volts, times) for curve, times in counted]))


def in_parallel(curves: Sequence[Curves]) -> Curves:
    """One voltage across all of them: amps add."""
    counted = _counted(curves)
    if len(counted) == 1:
        [(curve, times)] = counted
        return curve if times == 1 else Curves(curve.current * times, curve.voltage, curve.slope / times)
    voltage, current, slope = (a[..., ::-1] for a in _summed([(curve.amps, times) for curve, times in counted]))
    return Curves(current, voltage, 1.0 / np.minimum(slope, FLATTEST))


def bypassed(curves: Curves, diode: Diode) -> Curves:
    """Curve of a substring with a bypass diode across it.

    Notes
    -----
    The diode adds its current at every voltage; below zero volts it takes over. Leaves out its heating.
    """
    through = diode.current(-curves.voltage)
    diode_slope = (through + diode.i_0) / diode.v_fold
    return Curves(curves.current + through, curves.voltage, 1.0 / (1.0 / curves.slope - diode_slope))


def with_resistance(curves: Curves, resistance: Array | float) -> Curves:
    """Curve behind a series resistance, such as the cable; `resistance` broadcasts to (..., 1). [ohm]"""
    return Curves(curves.current, curves.voltage - curves.current * resistance, curves.slope - resistance)


def with_blocking(curves: Curves, diode: Diode) -> Curves:
    """Curve of a string behind a diode that lets no current back into it."""
    dense = _with_points(curves, BLOCKED_POINTS)
    forward = dense.current >= 0
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
    dP/dI = V + I dV/dI falls through zero between two points; the zero is found there on the cubic. A valley and a hill
    may lie between the same two points: then dP/dI at both says that power falls, and yet it has risen, or the reverse.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, array_of, load_rig, rewired
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> hills(array_of(rewired(load_rig("bookmobile"), "2s"), half).curves).voltage[0].round()
    array([40., 27.])
    """
    up = curves.voltage + curves.current * curves.slope > 0
    start, end = up[..., :-1], up[..., 1:]
    power = curves.voltage * curves.current
    against = np.where(start, -1.0, 1.0) * np.diff(power) > SHALLOW * np.abs(power[..., :-1])
    here = np.where(start == end, against, start & (np.diff(curves.current, axis=-1) > 0))
    where = np.nonzero(here)
    return _gathered(here, where, _hilltops(curves, where))


def best(found: Hills) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of the highest hill of each row; zeros where there is none."""
    power = np.fmax(found.power, -1.0)
    top = power.argmax(axis=-1)
    some = one_each(power, top) > 0
    v, i, p = (np.where(some, one_each(a, top), 0.0) for a in (found.voltage, found.current, found.power))
    return v, i, p


def one_each(values: Array, which: Array) -> Array:
    """One of the values of every row (..., k), the one at the given place (...,).

    Examples
    --------
    >>> one_each(np.array([[5, 6], [7, 8]]), np.array([1, 0]))
    array([6, 7])
    """
    count = values.shape[-1]
    return values.take(which + np.arange(0, values.size, count).reshape(which.shape))


def highest(
    curves: Curves, found: Hills, parts: Closer | None, met: tuple[Array, ...] | None = None
) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of each row's highest hill, met closely; so is every hill that may be higher.

    Parameters
    ----------
    met : tuple, optional
        What `Closer.met` gives at the highest hills, where it is known.
    """
    v, i, p = settled(curves, best(found)[0], np.full(len(found.power), True), parts, met)
    power = np.fmax(found.power, -1.0)
    seen = power >= power.max(axis=1, keepdims=True)
    for _ in range(power.shape[1] - 1):
        rivals = np.where(seen, -1.0, power)
        next_best = rivals.argmax(axis=1)
        close = np.nonzero(one_each(rivals, next_best) > (1.0 - TIE) * p)[0]
        if not close.size:
            break
        seen[close, next_best[close]] = True
        volts = found.voltage[close, next_best[close]]
        some = None if parts is None else parts.rows(close)
        other = settled(curves.rows(close), volts, np.full(close.size, True), some)
        better = other[2] > p[close]
        for mine, theirs in zip((v, i, p), other, strict=True):
            mine[close[better]] = theirs[better]
    return v, i, p


def settled(
    curves: Curves, volts: Array, on_hill: Array, parts: Closer | None, met: tuple[Array, ...] | None = None
) -> tuple[Array, Array, Array]:
    """Volts, amps and watts near the given volts (row,): on the hill there or just there, as closely as needed.

    Parameters
    ----------
    on_hill : ndarray of bool (row,)
        Whether the hilltop nearest to the volts is meant.
    parts : Closer, optional
        What the curves are made of, for a closer look.
    met : tuple, optional
        What `Closer.met` gives there, where it is known.

    Notes
    -----
    Rows that cannot be met are looked at closer and closer. A look divides the error by some hundred, so the change
    it makes tells what is left; rows that changed by more than `DOUBT` are looked at again.
    """
    if parts is None:
        return _spot(curves, volts, on_hill)
    v, i, p, sure = parts.met(volts, on_hill) if met is None else met
    if not sure.all():
        rest = ~sure
        v[rest], i[rest], p[rest] = _looked_at(curves.rows(rest), volts[rest], on_hill[rest], parts.rows(rest))
    return v, i, p


def _looked_at(curves: Curves, volts: Array, on_hill: Array, parts: Closer) -> tuple[Array, Array, Array]:
    """`settled` by looking closer and closer, for rows that could not be met at once."""
    v, i, p = _spot(curves, volts, on_hill)
    rows = np.arange(len(volts))
    for _ in range(LOOKS):
        parts = parts.near(v[rows])
        before = p[rows]
        v[rows], i[rows], p[rows] = _spot(parts.curves, v[rows], on_hill[rows])
        doubtful = np.abs(p[rows] - before) > DOUBT * np.abs(before) + P_NONE
        if not doubtful.any():
            break
        rows, parts = rows[doubtful], parts.rows(doubtful)
    return v, i, p


def _spot(curves: Curves, volts: Array, on_hill: Array) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of the hilltop next to the volts where one is meant, else just there."""
    tops = np.nan_to_num(hills(curves).voltage, nan=np.inf)
    nearest = one_each(tops, np.abs(tops - volts[:, None]).argmin(axis=1))
    near_hill = on_hill & (np.abs(nearest - volts) < CLOSE_BY * np.abs(volts) + V_CLOSE_BY)
    v = np.where(near_hill, nearest, volts)
    i = np.maximum(current_at(curves, v[:, None])[0][:, 0], 0.0)
    return v, i, v * i


def open_circuit_voltage(curves: Curves) -> Array:
    """Volts at zero amps, one a row."""
    return voltage_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def short_circuit_current(curves: Curves) -> Array:
    """Amps at zero volts, one a row."""
    return current_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def _summed(functions: Sequence[tuple[Cubics, int]]) -> Array:
    """The points of all functions in order, and there the sum of all values and slopes, each so many times."""
    points = sum(function.x.shape[-1] for function, _ in functions)
    rows = functions[0][0].x.shape[:-1]
    found = np.empty((3, int(np.prod(rows)), points))
    flat = [(Cubics(*(a.reshape(-1, a.shape[-1]) for a in (f.x, f.y, f.slope))), times) for f, times in functions]
    for block in blocks(found.shape[1], points):
        found[:, block] = _summed_at_once([(function.rows(block), times) for function, times in flat])
    return found.reshape((3, *rows, points))


def _summed_at_once(functions: Sequence[tuple[Cubics, int]]) -> tuple[Array, Array, Array]:
    """`_summed` for few numbers."""
    joined = np.concatenate([function.x for function, _ in functions], axis=-1)
    # two runs in order are merged quickest by a stable sort, more of them by any
    order = np.argsort(joined, axis=-1, kind="stable" if len(functions) == 2 else None)
    where = np.take_along_axis(joined, order, axis=-1)
    total, slope = np.zeros_like(where), np.zeros_like(where)
    first = 0
    for function, times in functions:
        own = (order >= first) & (order < first + function.x.shape[-1])
        first += function.x.shape[-1]
        value, more = function.at(where, np.cumsum(own, axis=-1, dtype=np.int16))
        total, slope = total + times * value, slope + times * more
    return where, total, slope


def _counted(curves: Sequence[Curves]) -> list[tuple[Curves, int]]:
    """Each different object among the curves, and how often it is there."""
    times = Counter(map(id, curves))
    return [(curve, times.pop(id(curve))) for curve in curves if id(curve) in times]


def passed(nodes: Array, where: Array) -> Array:
    """How many ascending points (..., point) lie at or before each place (..., k), row by row."""
    if where.shape[-1] == 1:
        return np.count_nonzero(nodes <= where, axis=-1)[..., None]
    # rows laid end to end on one axis, so that one binary search serves all
    flat, asked = nodes.reshape(-1, nodes.shape[-1]), where.reshape(-1, where.shape[-1])
    low = flat[:, :1]
    span = np.max(flat[:, -1:] - low) + 1.0
    start = np.arange(len(flat))[:, None] * 2.0 * span
    inside = np.clip(asked - low, -0.5, span) + start
    found = np.searchsorted((flat - low + start).ravel(), inside.ravel(), side="right").reshape(asked.shape)
    return (found - np.arange(len(flat))[:, None] * flat.shape[1]).reshape(where.shape)


def _with_points(curves: Curves, currents: Array) -> Curves:
    """The same curves with more points, at the same amps in every row."""
    more = np.broadcast_to(currents, (*curves.current.shape[:-1], len(currents)))
    columns = zip((curves.current, curves.voltage, curves.slope), (more, *voltage_at(curves, more)), strict=True)
    current, voltage, slope = (np.concatenate(column, axis=-1) for column in columns)
    order = np.argsort(current, axis=-1)
    return Curves(*(np.take_along_axis(a, order, axis=-1) for a in (current, voltage, slope)))


def _hilltops(curves: Curves, where: tuple[Array, ...]) -> tuple[Array, Array]:
    """Amps and volts of the hilltop inside each found interval: Newton on dP/dI, kept beside the highest place."""
    right = (*where[:-1], where[-1] + 1)
    (start, end), (y, y1), (m0, m1) = ((a[where], a[right]) for a in (curves.current, curves.voltage, curves.slope))
    width, c1, c2, c3 = coefficients(end - start, y1 - y, m0, m1)
    i0 = start / width
    # with t = (I - I0) / width and I0 in widths: d(I V)/dt = V + (I0 + t) dV/dt
    looks = HILL_LOOKS[:, None]
    powers = (i0 + looks) * (y + looks * (c1 + looks * (c2 + looks * c3)))
    t = HILL_LOOKS[np.argmax(powers, axis=0)]
    low, high = np.maximum(t - HILL_LOOKS[1], 0.0), np.minimum(t + HILL_LOOKS[1], 1.0)
    for _ in range(HILL_STEPS):
        volts, fall = y + t * (c1 + t * (c2 + t * c3)), c1 + t * (2.0 * c2 + 3.0 * t * c3)
        rise = volts + (i0 + t) * fall
        low, high = np.where(rise > 0, t, low), np.where(rise > 0, high, t)
        bend = 2.0 * fall + (i0 + t) * (2.0 * c2 + 6.0 * t * c3)
        newton = t - rise / np.where(bend == 0, -1.0, bend)
        t = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
    return start + t * width, y + t * (c1 + t * (c2 + t * c3))


def _gathered(here: Array, where: tuple[Array, ...], tops: tuple[Array, Array]) -> Hills:
    """Hilltops from a flat list to (..., hill), NaN where a row has fewer."""
    rank = (np.cumsum(here, axis=-1) - 1)[where]
    shape = (*here.shape[:-1], int(rank.max(initial=-1)) + 1 or 1)
    current, voltage = np.full(shape, np.nan), np.full(shape, np.nan)
    current[(*where[:-1], rank)], voltage[(*where[:-1], rank)] = tops
    return Hills(voltage, current, voltage * current)
