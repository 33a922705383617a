"""Current-voltage curves and their algebra: series, parallel, bypass diode, resistance, blocking diode.

A curve is a table of points that lie on it exactly, each with its slope; between two points runs the cubic that has
both slopes (Hermite), held monotone. Every row (a moment, a substring) has its own currents, since rows have their
knees at different places and a shared axis would cut them off. Nothing here knows panels, light or controllers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.engine.compiled import kernels

Array = np.ndarray
Ends = tuple[Array, Array, Array, Array, Array, Array]
# x, y and slope where pieces begin, then where they end

BLOCK = 16_000
# numbers worked on at a time, measured: longer arrays leave the processor's nearest caches and take twice as long
AT_HAND = 2**20
np.empty(AT_HAND)
# numbers, 8 MB, taken and given back untouched: glibc then keeps up to twice as much freed memory for the next arrays
# instead of fetching each page of theirs from the system anew (mallopt(3), dynamic mmap threshold); elsewhere no change
LET_BACK, V_PER_AMP_BACK = 1e-9, 1000.0
# share of what would flow back that a blocking diode lets through, and the volts it holds for each such ampere; only to
# draw it steeply, no source
SLOPE_BLOCKED = -V_PER_AMP_BACK / LET_BACK
# [V/A] how steep it is then
MOST_FOLDS = 700.0
# e-folds up to which an exponential is a float
BLOCKED_POINTS = np.concatenate([[0.0], np.geomspace(1e-7, 0.3, 10)])
# [A] where a blocking diode bends a string's curve
FLATTEST = -1e-12
# [A/V] least fall of current with voltage, where a table of points has none
NARROWEST = 1e-9
# [A or V] least width of a piece; points that should be equal differ by less, and in either order


def blocks(rows: int, numbers: int) -> Iterator[slice]:
    """Rows of so many numbers each in groups that the processor's nearest caches hold.

    Examples
    --------
    >>> [(some.start, some.stop) for some in blocks(3, 8_000)]
    [(0, 2), (2, 4)]
    """
    step = max(1, BLOCK // numbers)
    return (slice(first, first + step) for first in range(0, rows, step))


@dataclass(frozen=True, eq=False)
class Curves:
    """Current-voltage curves, one for each row: voltage as a falling function of current.

    Parameters
    ----------
    current : ndarray (..., point)
        Ascending; negative is reverse current through the array, above open circuit. [A]
    voltage : ndarray (..., point)
        Descending. [V]
    slope : ndarray (..., point)
        dV/dI at the points, negative. [V/A]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> source.ends(source.left_of_amps(np.array([[5.0]])))[1].tolist()  # volts where its piece begins
    [[20.0]]
    """

    current: Array
    voltage: Array
    slope: Array

    def rows(self, index: Array) -> Curves:
        """The chosen rows, by an index or a mask on the leading axes."""
        return Curves(self.current[index], self.voltage[index], self.slope[index])

    def read_volts(self, current: float) -> float:
        """Volts at given amps, of a single row. [V]"""
        i, v, m = self.current[0], self.voltage[0], self.slope[0]
        left = min(max(int(i.searchsorted(current, "right")) - 1, 0), len(i) - 2)
        (i0, i1), (v0, v1), (m0, m1) = (a[left : left + 2].tolist() for a in (i, v, m))
        return read_piece(i0, v0, m0, i1, v1, m1, current)

    def read_amps(self, voltage: float) -> float:
        """Amps at given volts, of a single row. [A]"""
        left = self.piece_at(voltage)
        (i0, i1), (v0, v1), (m0, m1) = (
            a[0, left : left + 2].tolist() for a in (self.current, self.voltage, self.slope)
        )
        return read_piece(v1, i1, 1.0 / m1, v0, i0, 1.0 / m0, voltage)

    def piece_at(self, voltage: float) -> int:
        """The point at which the piece with given volts begins, of a single row."""
        v = self.voltage[0]
        return min(max(len(v) - 1 - int(v[::-1].searchsorted(voltage, "right")), 0), len(v) - 2)

    def left_of_amps(self, current: Array) -> Array:
        """Of the pieces in which given amps lie, shape (..., k), the points where they begin, as flat indices."""
        return self._left(searchsorted_rows(self.current, current) - 1)

    def left_of_volts(self, voltage: Array) -> Array:
        """Of the pieces in which given volts lie, shape (..., k), the points where they begin, as flat indices."""
        return self._left(self.voltage.shape[-1] - 1 - searchsorted_rows(self.voltage[..., ::-1], voltage))

    def _left(self, number: Array) -> Array:
        """Flat indices of points by their number, the nearest that begin a piece."""
        points = self.current.shape[-1]
        row = np.arange(0, self.current.size, points).reshape((*self.current.shape[:-1], 1))
        return np.minimum(np.maximum(number, 0), points - 2) + row

    def ends(self, left: Array) -> Ends:
        """Amps, volts and slope where pieces begin, then where they end."""
        right = left + 1
        i, v, m = self.current, self.voltage, self.slope
        return i.take(left), v.take(left), m.take(left), i.take(right), v.take(right), m.take(right)


@dataclass(frozen=True, eq=False)
class Points:
    """Points of functions that fall, with slopes: x ascending, y and slope, all of shape (row, point).

    Between them run monotone cubics, beyond them straight lines. A row's last point may be repeated.

    Examples
    --------
    >>> line = Points(np.array([[0.0, 1.0]]), np.array([[5.0, 3.0]]), np.array([[-2.0, -2.0]]))
    >>> line.rows(slice(0, 1)).y.tolist()
    [[5.0, 3.0]]
    """

    x: Array
    y: Array
    slope: Array

    def rows(self, index: slice) -> Points:
        """Some of the rows."""
        return Points(self.x[index], self.y[index], self.slope[index])


def coefficients(width: Array, height: Array, m0: Array, m1: Array) -> tuple[Array, Array, Array]:
    """Coefficients of t, t² and t³ of falling cubics, t from 0 to the width; slopes are limited to three secants.

    A piece of no width is a straight line, so that what lies beyond a last point repeated goes on straight.

    Notes
    -----
    The limit keeps a cubic monotone: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246.

    Examples
    --------
    >>> one, two = np.ones(1), np.full(1, -2.0)
    >>> coefficients(one, -one, two, two)  # 1 wide and 1 deep, both slopes -2
    (array([-2.]), array([3.]), array([-2.]))
    """
    narrow = width < NARROWEST
    width = np.maximum(width, NARROWEST)
    secant = height / width
    steepest = 3.0 * secant
    np.copyto(steepest, -np.inf, where=narrow)
    c1 = np.maximum(m0, steepest)
    first, c3 = c1 - secant, np.maximum(m1, steepest)
    c3 -= secant
    c3 += first
    first += c3
    first /= width
    width *= width
    c3 /= width
    np.copyto(first, 0.0, where=narrow)
    np.copyto(c3, 0.0, where=narrow)
    return c1, -first, c3


def cubic(x0: float, y0: float, m0: float, x1: float, y1: float, m1: float) -> tuple[float, float, float]:
    """`coefficients` of one piece, given its ends.

    Examples
    --------
    >>> cubic(0.0, 1.0, -2.0, 1.0, 0.0, -2.0)  # 1 wide and 1 deep, both slopes -2
    (-2.0, 3.0, -2.0)
    """
    width = x1 - x0
    if width < NARROWEST:
        return m0, 0.0, 0.0
    secant = (y1 - y0) / width
    c1 = max(m0, 3.0 * secant)
    first, c3 = c1 - secant, max(m1, 3.0 * secant) - secant + (c1 - secant)
    return c1, -((first + c3) / width), c3 / (width * width)


def read_piece(x0: float, y0: float, m0: float, x1: float, y1: float, m1: float, where: float) -> float:
    """The value at one place of a falling function, given x, y and slope at both ends of the piece there.

    Examples
    --------
    >>> read_piece(0.0, 1.0, -1.0, 1.0, 0.0, -1.0, 0.25), read_piece(0.0, 1.0, -1.0, 1.0, 0.0, -1.0, 3.0)
    (0.75, -2.0)
    """
    c1, c2, c3 = cubic(x0, y0, m0, x1, y1, m1)
    s = min(max(where - x0, 0.0), x1 - x0)
    if (beyond := where - x0 - s) == 0.0:
        return y0 + s * (c1 + s * (c2 + s * c3))
    return y0 + s * (c1 + s * (c2 + s * c3)) + (m1 if beyond > 0.0 else m0) * beyond


def _read(ends: Ends, where: Array) -> tuple[Array, Array]:
    """Value and slope at places of falling functions of x, given x, y and slope at both ends of the pieces there."""
    x0, y0, m0, x1, y1, m1 = ends
    width = x1 - x0
    c1, c2, c3 = coefficients(width, y1 - y0, m0, m1)
    t = where - x0
    s = np.minimum(np.maximum(t, 0.0), width)
    beyond = t - s
    slope = np.where(beyond == 0.0, c1 + s * (2.0 * c2 + 3.0 * s * c3), np.where(beyond > 0.0, m1, m0))
    return y0 + s * (c1 + s * (c2 + s * c3)) + slope * beyond, slope


@dataclass(frozen=True)
class Diode:
    """An exponential diode: saturation current [A] and volts per e-fold of current [V]; arrays for several diodes.

    Examples
    --------
    >>> diode = Diode(2e-7, 0.0283)
    >>> round(float(diode.drop(10.0)), 2), round(float(diode.current(0.5)), 1)
    (0.5, 9.4)
    """

    i_0: Array | float
    v_fold: Array | float

    def current(self, v_forward: Array) -> Array:
        """Amps at a forward voltage."""
        return self.i_0 * np.expm1(np.minimum(v_forward / self.v_fold, MOST_FOLDS))

    def drop(self, current: Array) -> Array:
        """Forward volts while it carries a current."""
        return self.v_fold * np.log1p(current / self.i_0)


def voltage_at(curves: Curves, current: Array) -> tuple[Array, Array]:
    """Volts and dV/dI at given amps, shape (..., k); beyond the ends the curve goes on straight. [V, V/A]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> [part.tolist() for part in voltage_at(source, np.array([[2.0, 12.0]]))]
    [[[16.0, -4.0]], [[-2.0, -2.0]]]
    """
    return _read(curves.ends(curves.left_of_amps(current)), current)


def current_at(curves: Curves, voltage: Array) -> tuple[Array, Array]:
    """Amps and dI/dV at given volts, shape (..., k); beyond the ends the curve goes on straight. [A, A/V]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> [part.tolist() for part in current_at(source, np.array([[8.0, 22.0]]))]
    [[[6.0, -1.0]], [[-0.5, -0.5]]]
    """
    return _read(_turned(curves.ends(curves.left_of_volts(voltage))), voltage)


def voltage_of_each(curves: Sequence[Curves], current: Array) -> Array:
    """Volts of several curves at one current for each row, shape (curve, row). [V]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> voltage_of_each([source, source], np.array([[2.0], [3.0]])).tolist()
    [[16.0], [14.0]]
    """
    if current.shape[1:] == (1,):
        return np.array([[c.read_volts(i)] for c, [i] in zip(curves, current.tolist(), strict=True)])
    ends = [c.ends(c.left_of_amps(i)) for c, i in zip(curves, current[..., None], strict=True)]
    return _read(together(ends), current.reshape(-1, 1))[0].reshape(current.shape)


def current_of_each(curves: Sequence[Curves], voltage: Array) -> Array:
    """Amps of several curves at one voltage for each row, shape (curve, row). [A]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> current_of_each([source, source], np.array([[16.0], [14.0]])).tolist()
    [[2.0], [3.0]]
    """
    if voltage.shape[1:] == (1,):
        return np.array([[c.read_amps(v)] for c, [v] in zip(curves, voltage.tolist(), strict=True)])
    ends = [c.ends(c.left_of_volts(v)) for c, v in zip(curves, voltage[..., None], strict=True)]
    return current_between(together(ends), voltage.reshape(-1, 1)).reshape(voltage.shape)


def current_between(ends: Ends, voltage: Array) -> Array:
    """Amps at given volts on pieces with these ends.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> current_between(source.ends(np.array([[0]])), np.array([[14.0]])).tolist()
    [[3.0]]
    """
    return _read(_turned(ends), voltage)[0]


def together(ends: Sequence[Ends]) -> Ends:
    """Ends of several sets of pieces one below the other.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> ends = source.ends(np.array([[0]]))
    >>> together([ends, ends])[1].tolist()  # volts where the pieces begin
    [[20.0], [20.0]]
    """
    i0, v0, m0, i1, v1, m1 = map(np.concatenate, zip(*ends, strict=True))
    return i0, v0, m0, i1, v1, m1


def _turned(ends: Ends) -> Ends:
    """Ends of pieces of volts over amps as ends of pieces of amps over volts."""
    i0, v0, m0, i1, v1, m1 = ends
    return v1, i1, 1.0 / m1, v0, i0, 1.0 / m0


def in_series(curves: Sequence[Curves], times: Sequence[int] = ()) -> Curves:
    """Curve of several elements in series: one current, volts add.

    Parameters
    ----------
    curves : sequence of Curves
    times : sequence of int, optional
        How often each curve is there; once each where it is left out.

    Notes
    -----
    The points of all curves are kept, so the knee of each stays where it is.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> in_series([source], [2]).voltage.tolist()
    [[40.0, 0.0]]
    """
    often = times or [1] * len(curves)
    if len(curves) == 1:
        [curve], [n] = curves, often
        return curve if n == 1 else Curves(curve.current, curve.voltage * n, curve.slope * n)
    pairs = zip(curves, often, strict=True)
    whole = _summed([Points(curve.current, curve.voltage * n, curve.slope * n) for curve, n in pairs])
    return Curves(whole.x, whole.y, whole.slope)


def in_parallel(curves: Sequence[Curves], times: Sequence[int] = ()) -> Curves:
    """Curve of several elements in parallel: one voltage, amps add.

    Parameters
    ----------
    curves : sequence of Curves
    times : sequence of int, optional
        How often each curve is there; once each where it is left out.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> in_parallel([source], [2]).current.tolist()
    [[0.0, 20.0]]
    """
    often = times or [1] * len(curves)
    if len(curves) == 1:
        [curve], [n] = curves, often
        return curve if n == 1 else Curves(curve.current * n, curve.voltage, curve.slope / n)
    # over falling volts amps rise: with both turned round they fall, as points ask
    pairs = zip(curves, often, strict=True)
    whole = _summed([Points(-curve.voltage, curve.current * -n, n / curve.slope) for curve, n in pairs])
    return Curves(-whole.y, -whole.x, 1.0 / np.minimum(whole.slope, FLATTEST))


def bypassed(curves: Curves, diode: Diode) -> Curves:
    """Curve of a substring with a bypass diode across it.

    Notes
    -----
    The diode adds its current at every voltage; below zero volts it takes over. Leaves out its heating.

    Examples
    --------
    >>> weak = Curves(np.array([[2.0, 2.1]]), np.array([[10.0, -0.5]]), np.full((1, 2), -105.0))
    >>> bypassed(weak, Diode(2e-7, 0.0283)).current.round(1).tolist()  # the diode carries the rest
    [[2.0, 11.5]]
    """
    through = diode.current(-curves.voltage)
    diode_slope = (through + diode.i_0) / diode.v_fold
    return Curves(curves.current + through, curves.voltage, 1.0 / (1.0 / curves.slope - diode_slope))


def with_resistance(curves: Curves, resistance: Array | float) -> Curves:
    """Curve behind a series resistance, such as the cable; `resistance` broadcasts to (..., 1). [ohm]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> with_resistance(source, 0.5).voltage.tolist()
    [[20.0, -5.0]]
    """
    return Curves(curves.current, curves.voltage - curves.current * resistance, curves.slope - resistance)


def with_blocking(curves: Curves, diode: Diode) -> Curves:
    """Curve of a string in series with a blocking diode, which lets no reverse current into it.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> behind = with_blocking(source, Diode(1e-6, 0.028))
    >>> round(float(short_circuit_current(behind)[0]), 2)  # about 0.45 V less behind 2 ohm
    9.77
    """
    dense = in_series([curves, _without_volts(curves)])
    forward = dense.current >= 0
    i = np.where(forward, dense.current, 0.0)
    back = np.where(forward, 0.0, dense.current)
    return Curves(
        np.where(forward, i, back * LET_BACK),
        dense.voltage - diode.drop(i) - back * V_PER_AMP_BACK,
        np.where(forward, dense.slope - diode.v_fold / (diode.i_0 + i), SLOPE_BLOCKED),
    )


def _without_volts(like: Curves) -> Curves:
    """What needs no volts at any amps, with points where a blocking diode bends a curve."""
    shape = (*like.current.shape[:-1], len(BLOCKED_POINTS))
    return Curves(BLOCKED_POINTS + np.zeros(shape), np.zeros(shape), np.zeros(shape))


def open_circuit_voltage(curves: Curves) -> Array:
    """Volts at zero amps, one for each row. [V]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> open_circuit_voltage(source)
    array([20.])
    """
    if curves.current.shape[:-1] == (1,):
        return np.array([curves.read_volts(0.0)])
    return voltage_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def short_circuit_current(curves: Curves) -> Array:
    """Amps at zero volts, one for each row. [A]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> short_circuit_current(source)
    array([10.])
    """
    return current_at(curves, np.zeros((*curves.current.shape[:-1], 1)))[0][..., 0]


def _summed(functions: Sequence[Points]) -> Points:
    """The points of all functions in order, and there the sum of all values and slopes."""
    leading = functions[0].x.shape[:-1]
    flat = [Points(*(a.reshape(-1, a.shape[-1]) for a in (f.x, f.y, f.slope))) for f in functions]
    rows, most = len(flat[0].x), sum(function.x.shape[-1] for function in flat)
    if kernels() or rows * most <= BLOCK:
        parts = [_summed_at_once(flat)]
    else:
        parts = [_summed_at_once([f.rows(block) for f in flat]) for block in blocks(rows, most)]
    points = max(part.x.shape[-1] for part in parts)
    if len(parts) == 1:
        return Points(*(a.reshape(*leading, points) for a in (parts[0].x, parts[0].y, parts[0].slope)))
    found = np.empty((3, rows, points))
    for part, block in zip(parts, blocks(rows, most), strict=True):
        own = part.x.shape[-1]
        for whole, values in zip(found, (part.x, part.y, part.slope), strict=True):
            whole[block, :own], whole[block, own:] = values, values[:, -1:]
    return Points(*found.reshape(3, *leading, points))


def _summed_at_once(functions: list[Points]) -> Points:
    """`_summed` for few numbers: two and two, and so on."""
    while len(functions) > 1:
        pairs = [_merged(*pair) for pair in zip(functions[::2], functions[1::2], strict=False)]
        functions = pairs + functions[2 * len(pairs) :]
    return functions[0]


def _merged(one: Points, other: Points) -> Points:
    """The points of two functions in order, and there the sum of both."""
    if compiled := kernels():
        return Points(*compiled.merged(one.x, one.y, one.slope, other.x, other.y, other.slope))
    table = _pieces(one, other)
    own, foreign = _interleaved(table[0], one.x.shape[1] + 1)
    x, y, slope = (a.take(own) for a in table[:3])
    t, value, c1, c2, c3 = (a.take(foreign) for a in table)
    # the foreign c1 + t (2 c2 + t 3 c3) and value + t (c1 + t (c2 + t c3)), with no new array at every step
    np.subtract(x, t, out=t)
    c3 *= t
    c2 += c3
    c3 += c2
    c3 += c2
    c3 *= t
    c3 += c1
    slope += c3
    c2 *= t
    c2 += c1
    c2 *= t
    y += c2
    y += value
    return Points(x, y, slope)


def _pieces(one: Points, other: Points) -> Array:
    """Start, value and coefficients of t, t², t³ of all pieces of one function and then the other, (5, row, piece).

    A function's first piece is the straight line before its first point, its last the one beyond its last.
    """
    end = one.x.shape[1] + 1
    table = np.empty((5, len(one.x), end + other.x.shape[1] + 1))
    for whole, a, b in zip(table, (one.x, one.y, one.slope), (other.x, other.y, other.slope), strict=False):
        whole[:, 1:end], whole[:, end + 1 :] = a, b
        whole[:, 0], whole[:, end] = a[:, 0], b[:, 0]
    # all rows end to end on one axis, as if their pieces were neighbours: from one function to the next leads a piece
    # of no width, so that the last slope of one is not limited by the first point of the next
    x, y, slope, c2, c3 = table.reshape(5, -1)
    width, length = x[1:] - x[:-1], table.shape[2]
    width[end - 1 :: length] = width[length - 1 :: length] = 0.0
    slope[:-1], c2[:-1], c3[:-1] = coefficients(width, y[1:] - y[:-1], slope[:-1], slope[1:])
    for straight in (0, end - 1, end, -1):
        table[3:, :, straight] = 0.0
    return table


def _interleaved(x: Array, end: int) -> tuple[Array, Array]:
    """The points of two functions in order, as flat indices of pieces: the one that starts there, and the other's.

    Parameters
    ----------
    x : ndarray (row, piece)
        Starts of pieces as `_pieces` has them.
    end : int
        Where those of the second function begin.
    """
    rows, length = x.shape
    keys = x.copy()
    keys[:, 0] = keys[:, end] = -np.inf
    spare = [_spare(keys[:, 1:end]), _spare(keys[:, end + 1 :])]
    number = length - 2 - sum(spare)
    least, most = number.min(), number.max()
    order = np.argsort(keys, axis=1, kind="stable")[:, 2 : 2 + most]
    first = order < end
    row = np.arange(0, x.size, length)[:, None]
    before = np.cumsum(first, axis=1) + row
    own, foreign = order + row, np.where(first, np.arange(end + 1, end + 1 + most) + 2 * row - before, before)
    if least < most:
        last = np.minimum(np.arange(least, most), number[:, None] - 1) + np.arange(0, rows * most, most)[:, None]
        own[:, least:], foreign[:, least:] = own.take(last), foreign.take(last)
    return own, foreign


def _spare(x: Array) -> Array:
    """How often each row's last point is repeated; repetitions are put out of the way, behind all points."""
    last = x == x[:, -1:]
    spare = last[:, 1:] & last[:, :-1]
    np.copyto(x[:, 1:], np.inf, where=spare)
    return spare.sum(axis=1)


def searchsorted_rows(nodes: Array, where: Array) -> Array:
    """How many ascending points (..., point) lie at or before each place (..., k), row by row.

    Examples
    --------
    >>> searchsorted_rows(np.array([[0.0, 1.0, 2.0]]), np.array([[0.5, 2.0, -1.0]])).tolist()
    [[1, 3, 0]]
    """
    if where.shape[-1] == 1:
        return (nodes <= where).sum(axis=-1, keepdims=True)
    # rows laid end to end on one axis, so that one binary search serves all
    flat, asked = nodes.reshape(-1, nodes.shape[-1]), where.reshape(-1, where.shape[-1])
    low = flat[:, :1]
    span = np.max(flat[:, -1:] - low) + 1.0
    start = np.arange(len(flat))[:, None] * 2.0 * span
    inside = np.clip(asked - low, -0.5, span) + start
    found = np.searchsorted((flat - low + start).ravel(), inside.ravel(), side="right").reshape(asked.shape)
    return (found - np.arange(len(flat))[:, None] * flat.shape[1]).reshape(where.shape)
