"""Local maxima of power ("hills") of current-voltage curves, and the global one solved for exactly.

A maximum is solved for, never taken from the largest point; where two are nearly equal both are solved for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import Protocol

import numpy as np

from vanpower.engine.compiled import kernels
from vanpower.engine.curves import NARROWEST, Curves, Ends, coefficients, current_at, together

Array = np.ndarray
Met = tuple[Array, Array, Array, Array]
# volts, amps and watts of a point, and whether the iteration converged

REFINEMENTS, DOUBT, P_NONE = 5, 2e-6, 1e-6
# closer tables of a row at most; share of the power [-] by which one may change it before another follows, and watts
# that do not count
HILL_SAMPLES, HILL_STEPS = np.linspace(0.0, 1.0, 9), 5
# where a piece is looked at before its hilltop is solved for, and Newton steps from the highest of these places
SHALLOW = 1e-3
# share of the power by which it must have changed against what both ends of a piece say; less may be the table's error
TIE = 2e-3
# share of the power by which two hills may differ in a table that a closer look could turn round
CLOSE_BY, V_CLOSE_BY = 0.02, 0.05
# share of the volts, and volts, within which a hill seen closely is the same; those of one string lie further apart


class Refinable(Protocol):
    """What `global_maximum` needs of an array: its curves, and ways to look closer around a voltage."""

    @property
    def curves(self) -> Curves:
        """The curve of every row."""

    @property
    def peaks(self) -> tuple[Maxima, tuple[Array, Array, Array]]:
        """All local maxima of power as tabulated, and volts, amps and watts of the global one, solved for exactly."""

    def refined_at(self, voltage: Array) -> Refinable:
        """The same array with points closer together around one voltage for each row, shape (row,). [V]"""

    def solve(self, voltage: Array, on_hill: Array) -> Met:
        """Volts, amps, watts of the local maximum next to the volts (row,), or at these; whether converged."""

    def rows(self, index: Array) -> Refinable:
        """Some of the rows."""


@dataclass(frozen=True, eq=False)
class Maxima:
    """Local maxima of power of each row, by rising current; rows with fewer are filled with NaN.

    Parameters
    ----------
    voltage, current, power : ndarray (..., hill)
        Of each maximum. [V, A, W]

    Examples
    --------
    >>> one = Maxima(np.array([[18.0]]), np.array([[5.0]]), np.array([[90.0]]))
    >>> one.power.shape  # a moment with one hill
    (1, 1)
    """

    voltage: Array
    current: Array
    power: Array


def maxima(curves: Curves) -> Maxima:
    """All local maxima of power of current-voltage curves.

    Parameters
    ----------
    curves : Curves (..., point)

    Returns
    -------
    Maxima
        Volts, amps and watts (..., hill), by rising current; NaN where a curve has fewer maxima than others.

    Notes
    -----
    A maximum is solved for on the interpolating cubic, not taken from the largest point: dP/dI = V + I dV/dI falls
    through zero between two points. A minimum and a maximum may lie between the same two points: then dP/dI at both
    says that power falls, and yet it has risen, or the reverse.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> maxima(array_of(example("bookmobile").wired("2s"), half).curves).voltage[0].round()
    array([40., 27.])
    """
    return maxima_of_each([curves])[0]


def maxima_of_each(curves: Sequence[Curves]) -> list[Maxima]:
    """`maxima` of several sets of curves, whose hilltops are solved for together.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> [float(found.power[0, 0].round(9)) for found in maxima_of_each([source, source])]
    [50.0, 50.0]
    """
    if loops := kernels():
        return [_compiled_maxima(loops, each) for each in curves]
    places = [_pieces_with_hills(each) for each in curves]
    tops = _hilltops(together([each.ends(left) for each, (_, left) in zip(curves, places, strict=True)]))
    parts = np.cumsum([len(row) for row, _ in places])[:-1]
    each_top = zip(*(np.split(values, parts) for values in tops), strict=True)
    return [
        _gathered(row, each.current.shape[:-1], top)
        for each, (row, _), top in zip(curves, places, each_top, strict=True)
    ]


def _compiled_maxima(loops: ModuleType, curves: Curves) -> Maxima:
    """`maxima` by compiled loops."""
    own = (curves.current, curves.voltage, curves.slope)
    leading, points = own[0].shape[:-1], own[0].shape[-1]
    found = loops.hills(*(np.ascontiguousarray(each).reshape(-1, points) for each in own))
    current, voltage = (each.reshape(*leading, -1) for each in found)
    return Maxima(voltage, current, voltage * current)


def _pieces_with_hills(curves: Curves) -> tuple[Array, Array]:
    """Row and left end, as a flat index, of every piece of a table that may hold a hilltop."""
    power, up = curves.voltage * curves.current, curves.voltage + curves.current * curves.slope > 0
    start, end = up[..., :-1], up[..., 1:]
    rises = power[..., 1:] > power[..., :-1]
    tops = (start > end) & (curves.current[..., 1:] > curves.current[..., :-1])
    row, piece = np.divmod(np.flatnonzero(tops | (start == end) & (rises != start)), up.shape[-1] - 1)
    left = row * up.shape[-1] + piece
    before, after = power.take(left), power.take(left + 1)
    counts = (up.take(left) > up.take(left + 1)) | (np.abs(after - before) > SHALLOW * np.abs(before))
    return row[counts], left[counts]


def best(found: Maxima) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of the global maximum of each row; zeros where there is none. [V, A, W]

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> [float(part[0].round(9)) for part in best(maxima(source))]  # half the volts
    [10.0, 5.0, 50.0]
    """
    power = np.fmax(found.power, -1.0)
    top = power.argmax(axis=-1)
    some = take_rows(power, top) > 0
    v, i, p = (np.where(some, take_rows(a, top), 0.0) for a in (found.voltage, found.current, found.power))
    return v, i, p


def take_rows(values: Array, which: Array) -> Array:
    """One of the values of every row (..., k), the one at the given place (...,).

    Examples
    --------
    >>> take_rows(np.array([[5, 6], [7, 8]]), np.array([1, 0]))
    array([6, 7])
    """
    count = values.shape[-1]
    if which.size == 1:
        return values.take(which)
    return values.take(which + np.arange(0, values.size, count).reshape(which.shape))


def global_maximum(array: Refinable, found: Maxima, met: Met | None = None) -> tuple[Array, Array, Array]:
    """Volts, amps and watts of each row's global power maximum, solved for exactly. [V, A, W]

    Every other local maximum that the table puts near it is solved for as well, since the table may rank them wrongly.

    Parameters
    ----------
    array : Refinable
    found : Maxima
        All maxima as the table shows them.
    met : tuple, optional
        What `Refinable.solve` gives at the highest of them, where it is known.

    Examples
    --------
    >>> from vanpower.engine.array import PVArray
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> [float(part[0].round(9)) for part in global_maximum(PVArray.of_curve(source), maxima(source))]
    [10.0, 5.0, 50.0]
    """
    if met is not None and met[3].all():
        v, i, p, _ = met
    else:
        v, i, p = refine(array, best(found)[0], np.full(len(found.power), True), met)
    if found.power.shape[1] == 1:
        return v, i, p
    power = np.fmax(found.power, -1.0)
    seen = power >= power.max(axis=1, keepdims=True)
    for _ in range(power.shape[1] - 1):
        rivals = np.where(seen, -1.0, power)
        next_best = rivals.argmax(axis=1)
        close = np.nonzero(take_rows(rivals, next_best) > (1.0 - TIE) * p)[0]
        if not close.size:
            break
        seen[close, next_best[close]] = True
        other = refine(array.rows(close), found.voltage[close, next_best[close]], np.full(close.size, True))
        better = other[2] > p[close]
        for mine, theirs in zip((v, i, p), other, strict=True):
            mine[close[better]] = theirs[better]
    return v, i, p


def refine(array: Refinable, volts: Array, on_hill: Array, met: Met | None = None) -> tuple[Array, Array, Array]:
    """Volts, amps and watts near the given volts (row,), solved for exactly: at a local maximum, or at these volts.

    Parameters
    ----------
    array : Refinable
    volts : ndarray (row,)
        Terminal voltage. [V]
    on_hill : ndarray of bool (row,)
        Whether the local maximum nearest to the volts is meant.
    met : tuple, optional
        What `Refinable.solve` gives there, where it is known.

    Notes
    -----
    Rows that do not converge are tabulated with points ever closer around the place. Each time divides the error by
    some hundred, so the change it makes tells what is left; rows that changed by more than `DOUBT` are tabulated again.

    Examples
    --------
    >>> from vanpower.engine.array import PVArray
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> refine(PVArray.of_curve(source), np.array([15.0]), np.array([False]))[1:]  # just there
    (array([2.5]), array([37.5]))
    """
    v, i, p, sure = array.solve(volts, on_hill) if met is None else met
    if not sure.all():
        rest = ~sure
        v[rest], i[rest], p[rest] = _refined(array.rows(rest), volts[rest], on_hill[rest])
    return v, i, p


def same_power(now: Array, before: Array) -> Array:
    """Whether refining has changed the watts so little that another time would change nothing.

    Examples
    --------
    >>> same_power(np.array([100.0, 100.0]), np.array([100.0001, 100.01])).tolist()
    [True, False]
    """
    return np.abs(now - before) <= DOUBT * np.abs(now) + P_NONE


def same_hill(found: Array, voltage: Array) -> Array:
    """Whether a hilltop found closely is the one that was seen at about these volts.

    Examples
    --------
    >>> same_hill(np.array([18.2, 19.5]), np.array([18.0, 18.0])).tolist()
    [True, False]
    """
    return np.abs(found - voltage) < CLOSE_BY * np.abs(voltage) + V_CLOSE_BY


def point_near(curves: Curves, volts: Array, on_hill: Array) -> tuple[Array, Array, Array]:
    """Volts, amps and watts that a table has on the hilltop next to the volts where one is meant, else just there.

    Examples
    --------
    >>> source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))  # 20 V behind 2 ohm
    >>> point_near(source, np.array([15.0]), np.array([False]))
    (array([15.]), array([2.5]), array([37.5]))
    """
    tops = np.nan_to_num(maxima(curves).voltage, nan=np.inf)
    nearest = take_rows(tops, np.abs(tops - volts[:, None]).argmin(axis=1))
    near_hill = on_hill & same_hill(nearest, volts)
    v = np.where(near_hill, nearest, volts)
    i = np.maximum(current_at(curves, v[:, None])[0][:, 0], 0.0)
    return v, i, v * i


def _refined(array: Refinable, volts: Array, on_hill: Array) -> tuple[Array, Array, Array]:
    """`refine` by closer and closer tables, for rows that did not converge; most do after the first."""
    v, i, p = point_near(array.curves, volts, on_hill)
    rows = np.arange(len(volts))
    for _ in range(REFINEMENTS):
        array = array.refined_at(v[rows])
        before = p[rows]
        v[rows], i[rows], p[rows] = point_near(array.curves, v[rows], on_hill[rows])
        *point, sure = array.solve(v[rows], on_hill[rows])
        for mine, met in zip((v, i, p), point, strict=True):
            mine[rows[sure]] = met[sure]
        doubtful = ~sure & ~same_power(p[rows], before)
        if not doubtful.any():
            break
        rows, array = rows[doubtful], array.rows(doubtful)
    return v, i, p


def _hilltops(ends: Ends) -> tuple[Array, Array]:
    """Amps and volts of the hilltop inside each piece: Newton on dP/dI, kept beside the highest place."""
    start, y, m0, end, y1, m1 = ends
    width = np.maximum(end - start, NARROWEST)
    c1, c2, c3 = coefficients(end - start, y1 - y, m0, m1)
    samples = HILL_SAMPLES[:, None] * width
    powers = (start + samples) * (y + samples * (c1 + samples * (c2 + samples * c3)))
    t = HILL_SAMPLES[np.argmax(powers, axis=0)] * width
    step = HILL_SAMPLES[1] * width
    low, high = np.maximum(t - step, 0.0), np.minimum(t + step, width)
    for _ in range(HILL_STEPS):
        volts, fall = y + t * (c1 + t * (c2 + t * c3)), c1 + t * (2.0 * c2 + 3.0 * t * c3)
        rise = volts + (start + t) * fall
        low, high = np.where(rise > 0, t, low), np.where(rise > 0, high, t)
        bend = 2.0 * fall + (start + t) * (2.0 * c2 + 6.0 * t * c3)
        newton = t - rise / np.where(bend == 0, -1.0, bend)
        t = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
    return start + t, y + t * (c1 + t * (c2 + t * c3))


def _gathered(row: Array, rows: tuple[int, ...], tops: tuple[Array, Array]) -> Maxima:
    """Hilltops from a flat list, row by row, to (..., hill), NaN where a row has fewer."""
    current, voltage = tops
    if rows == (1,) and len(row):
        return Maxima(voltage[None], current[None], (voltage * current)[None])
    number = np.bincount(row, minlength=int(np.prod(rows)))
    rank = np.arange(len(row)) - np.repeat(np.cumsum(number) - number, number)
    found = np.full((2, len(number), max(1, int(number.max(initial=0)))), np.nan)
    found[:, row, rank] = tops
    current, voltage = found.reshape(2, *rows, -1)
    return Maxima(voltage, current, voltage * current)
