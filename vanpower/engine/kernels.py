"""The innermost loops, compiled by numba: what `curves`, `cells` and shadows work out in many passes of numpy, in one.

Each does the same steps in the same order as the numpy it stands for, which is the reference and needs no numba;
`engine.compiled` tells when these are worth their loading. Compiled once, they are kept on disk.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from vanpower.engine import cells as law
from vanpower.engine.curves import MOST_FOLDS, NARROWEST, SLOPE_BLOCKED, cubic
from vanpower.engine.maxima import CLOSE_BY, DOUBT, HILL_SAMPLES, HILL_STEPS, P_NONE, SHALLOW, V_CLOSE_BY
from vanpower.engine.operating_point import AGREED, ROUNDS
from vanpower.engine.quadratics import FLATTER

Array = np.ndarray
Cells = tuple[Array, Array, Array, Array, Array, Array]
# light current, shunt and number of cells (row, level), saturation current, folds and resistance of a chain (row, 1)
Group = tuple[Array, Array]
# of each member its group, and how often it is there (member, 1)
Joins = tuple[Group, Group, Group]
# of chains in parts, of parts in strings, of strings in arrays
Told = tuple[float, float, float]
# the avalanche: factor forward, share and breakdown volts; of exponent 3

OUTER = njit(cache=True, error_model="numpy")
INNER = njit(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)  # type: ignore[call-overload]
# what Python calls, and what only other loops call, which are kept on disk with these

ROOT_HALF = 0x3FE6A09E667F3BCD
# bits of the root of a half as a float (IEEE 754)
ABREAST = 512
# numbers worked on at a time, which stay in the nearest cache with all that is worked out of them
LN_2 = 0.6931471805599453
LN_2_HIGH, LN_2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
# the logarithm of two, and in two parts, the first short enough that it times a small integer is exact


@OUTER
def merged(x1: Array, y1: Array, m1: Array, x2: Array, y2: Array, m2: Array) -> tuple[Array, Array, Array]:
    """The points of two falling functions in order, and there the sum of both; as `curves._merged`.

    Examples
    --------
    >>> line = np.array([[0.0, 1.0]]), np.array([[5.0, 3.0]]), np.array([[-2.0, -2.0]])
    >>> merged(*line, *line)[1]
    array([[10., 10.,  6.,  6.]])
    """
    rows = len(x1)
    number = np.empty((2, rows), np.int64)
    for row in range(rows):
        number[0, row], number[1, row] = _used(x1[row]), _used(x2[row])
    most = (number[0] + number[1]).max()
    x, y, m = np.empty((rows, most)), np.empty((rows, most)), np.empty((rows, most))
    for row in range(rows):
        _merge_row(
            x1[row], y1[row], m1[row], number[0, row], x2[row], y2[row], m2[row], number[1, row], x[row], y[row], m[row]
        )
    return x, y, m


@INNER
def _used(x: Array) -> int:
    """How many points a row has without repetitions of its last."""
    used = len(x)
    while used > 1 and x[used - 2] == x[used - 1]:
        used -= 1
    return used


_cubic = INNER(cubic)


@INNER
def _piece(x: Array, y: Array, m: Array, left: int) -> tuple[float, float, float]:
    """Coefficients of the piece that begins at a point; of the last a straight line."""
    if left + 1 >= len(x):
        return m[left], 0.0, 0.0
    return _cubic(x[left], y[left], m[left], x[left + 1], y[left + 1], m[left + 1])


@INNER
def _merge_row(
    x1: Array, y1: Array, m1: Array, n1: int, x2: Array, y2: Array, m2: Array, n2: int, x: Array, y: Array, m: Array
) -> None:
    """One row of `merged`, in which each piece is worked out once."""
    a = b = 0
    a1, a2, a3 = m1[0], 0.0, 0.0
    b1, b2, b3 = m2[0], 0.0, 0.0
    for k in range(n1 + n2):
        if b >= n2 or (a < n1 and x1[a] <= x2[b]):
            at, left = x1[a], max(b - 1, 0)
            a1, a2, a3 = _piece(x1, y1, m1, a)
            t = at - x2[left]
            bend = b3 * t
            x[k], y[k] = at, y1[a] + t * (b1 + t * (b2 + bend)) + y2[left]
            m[k] = a1 + (b1 + t * (bend + (b2 + bend) + (b2 + bend)))
            a += 1
        else:
            at, left = x2[b], max(a - 1, 0)
            b1, b2, b3 = _piece(x2, y2, m2, b)
            t = at - x1[left]
            bend = a3 * t
            x[k], y[k] = at, y2[b] + t * (a1 + t * (a2 + bend)) + y1[left]
            m[k] = b1 + (a1 + t * (bend + (a2 + bend) + (a2 + bend)))
            b += 1
    for k in range(n1 + n2, len(x)):
        x[k], y[k], m[k] = x[k - 1], y[k - 1], m[k - 1]


@OUTER
def omega(z: Array) -> Array:
    """Wright omega of a flat array; as `cells.wright_omega`.

    Examples
    --------
    >>> omega(np.array([1.0])).round(6)
    array([1.])
    """
    w = np.empty_like(z)
    _omega(z, w, np.empty((2, len(z))), np.empty(len(z), np.int64))
    return w


@OUTER
def junctions(
    current: Array, i_light: Array, r_shunt: Array, i_0: Array, a: Array, avalanche: Told
) -> tuple[Array, Array]:
    """Junction volts of cells at given amps, and their slope; as `cells.junction_voltage`.

    Currents or cells may be one for a whole row. The avalanche, of exponent 3, is told by its factor forward, share and
    breakdown volts.

    Examples
    --------
    >>> one = (np.array([[a]]) for a in (5.0, 6.0, 10.0, 1e-10, 0.026))
    >>> junctions(*one, (1.0, 0.0, -18.0))[0].round(3)
    array([[0.597]])
    """
    rows, points = len(current), max(current.shape[1], i_light.shape[1])
    some = max(1, ABREAST // points)
    v, slope = np.empty((rows, points)), np.empty((rows, points))
    room, places = np.empty((10, some * points)), np.empty(some * points, np.int64)
    for first in range(0, rows, some):
        stop = min(first + some, rows)
        n = 0
        for row in range(first, stop):
            for k in range(points):
                level = k if i_light.shape[1] > 1 else 0
                room[0, n] = current[row, k if current.shape[1] > 1 else 0]
                room[1, n], room[2, n] = i_light[row, level], r_shunt[row, level]
                room[3, n], room[4, n] = i_0[row, 0], a[row, 0]
                n += 1
        _volts(room, places, avalanche, v[first:stop].ravel(), slope[first:stop].ravel())
    return v, slope


@INNER
def _volts(room: Array, places: Array, avalanche: Told, v: Array, slope: Array) -> None:
    """Junction volts and slope of cells; room begins with their amps, light and shunt, saturation current and folds."""
    forward, share, v_breakdown = avalanche
    current, i_light, r_shunt, i_0, a = room[0], room[1], room[2], room[3], room[4]
    offset, z, w = room[5], room[6], room[7]
    for k in range(len(v)):
        r = r_shunt[k] / forward / a[k]
        offset[k] = _log(i_0[k] * r)
        z[k] = ((i_light[k] + i_0[k]) - current[k]) * r + offset[k]
    _omega(z[: len(v)], w, room[8:], places)
    for k in range(len(v)):
        v[k] = (z[k] - w[k] - offset[k]) * a[k]
        slope[k] = -r_shunt[k] / forward / (w[k] + 1.0)
    if share > 0:
        for k in range(len(v)):
            if v[k] > 0 and max(i_light[k], law.I_COUNTS) * r_shunt[k] < law.V_LEAKY:
                surge = share / max(1.0 - v[k] / v_breakdown, 1e-9) ** 3
                v[k] += v[k] / r_shunt[k] * (1.0 + surge - forward) * slope[k]
        _reversed(room, places, avalanche, v, slope)


@INNER
def _reversed(room: Array, places: Array, avalanche: Told, v: Array, slope: Array) -> None:
    """Overwrite volts and slopes of cells that are driven into reverse; as `cells._reverse_biased`."""
    current, i_light, r_shunt, i_0, target, rest, steps = room[0], room[1], room[2], room[3], room[5], room[6], room[7]
    number = 0
    for k in range(len(v)):
        places[number] = k
        number += current[k] > i_light[k] + i_0[k]
    if number == 0:
        return
    _, share, v_breakdown = avalanche
    for n in range(number):
        k = places[n]
        target[n] = (current[k] - (i_light[k] + i_0[k])) * r_shunt[k] / -v_breakdown
    for n in range(number):
        ohmic = 1.0 - min(target[n], 1.0 - 1e-9)
        target[n] = _log(target[n])
        breaking = _exp((_log(share) - target[n]) / 3.0)
        rest[n] = min(max(ohmic, breaking) if breaking < 1.0 else ohmic, 1.0 - law.LEAST_USED)
    for _ in range(law.REVERSE_STEPS):
        for n in range(number):
            surge, used = share / (rest[n] * rest[n] * rest[n]), 1.0 - rest[n]
            factor = 1.0 + surge
            fall = 1.0 / used + 3.0 * surge / (factor * rest[n])
            steps[n] = (_log(used * factor) - target[n]) / fall
            rest[n] = min(max(rest[n] + steps[n], 0.3 * rest[n]), 1.0 - law.LEAST_USED)
        moving = 0
        for n in range(number):
            moving += abs(steps[n]) >= law.REVERSE_MET
        if moving == 0:
            break
    for n in range(number):
        k, surge = places[n], share / (rest[n] * rest[n] * rest[n])
        v[k] = (1.0 - rest[n]) * v_breakdown
        slope[k] = -r_shunt[k] / (1.0 + surge + (1.0 - rest[n]) * 3.0 * surge / rest[n])


@INNER
def _omega(z: Array, w: Array, room: Array, places: Array) -> None:
    """Wright omega: far out of all numbers without a branch, so that several are worked out at a time, then close by.

    Those close by are gathered first, to the same end.
    """
    number = 0
    for k in range(len(z)):
        x = _log(max(z[k], law.FAR)) / (z[k] + 1.0)
        series = x * x * (0.5 + x * (1 / 3 + x * (1 / 4 + x * (1 / 5 + x * (1 / 6)))))
        w[k] = z[k] * (1.0 - (x - series / (z[k] + 1.0 + x + 2.0 * series)))
    for k in range(len(z)):
        places[number] = k
        number += z[k] < law.FAR
    close, found = room[0], room[1]
    for n in range(number):
        close[n] = z[places[n]]
    for n in range(number):
        near = max(close[n], law.DEEPEST)
        tail = _exp(-abs(near))
        soft = max(near, 0.0) + (tail if near < law.SMALL else _log(1.0 + tail))
        about = soft * (1.0 - _log(1.0 + soft) / (2.0 + soft))
        rest = near - about - _log(about)
        one = 1.0 + about
        t = one * (one + rest * (2.0 / 3.0))
        found[n] = about * (1.0 + rest / one * (t - 0.5 * rest) / (t - rest))
    for n in range(number):
        w[places[n]] = found[n]


@OUTER
def expanded(cells: Cells, u: Array, avalanche: Told) -> Array:
    """Amps, volts, dV/dI and d²V/dI² of chains, and their dV/du, at their weakest cells' junction volts (row, point).

    As `cells.chain_quadratic`; shape (5, row, point).

    Examples
    --------
    >>> cells = tuple(np.array([[a]]) for a in (6.0, 10.0, 18.0, 1e-10, 0.026, 0.09))  # a chain of 18, 90 mOhm
    >>> expanded(cells, np.array([[0.55]]), (1.0, 0.0, -18.0))[:2, 0, 0].round(2)
    array([5.79, 9.38])
    """
    rows, points = u.shape
    further = cells[0].shape[1] - 1
    some = max(1, ABREAST // (max(1, further) * points))
    found, chain, at = np.empty((5, rows, points)), np.empty((5, some * points)), np.empty(some * points, np.int64)
    rooms = _rooms(further * some * points)
    for first in range(0, rows, some):
        stop = min(first + some, rows)
        n = (stop - first) * points
        for k in range(n):
            at[k] = first + k // points
        _expand(cells, at[:n], u[first:stop].ravel(), avalanche, rooms, chain)
        for which in range(5):
            for k in range(n):
                found[which, at[k], k % points] = chain[which, k]
    return found


@INNER
def _rooms(number: int) -> tuple[Array, Array, Array]:
    """Room for so many cells' volts to be worked out in."""
    return np.empty((10, number)), np.empty(number, np.int64), np.empty((2, number))


@INNER
def _weakest(cells: Cells, row: int, u: float, avalanche: Told) -> tuple[float, float, float]:
    """Amps of one of a chain's weakest cells at its junction volts, and their first and second derivative."""
    i_0, fold, r = cells[3][row, 0], cells[4][row, 0], cells[1][row, 0]
    _, share, v_breakdown = avalanche
    rest = np.maximum(1.0 - u / v_breakdown, 1e-9)
    surge = share / (rest * rest * rest)
    steeper = surge * (law.USUAL / v_breakdown) / rest
    more = steeper * (law.USUAL + 1.0) / (v_breakdown * rest)
    growth, ohmic = np.exp(np.minimum(u / fold, MOST_FOLDS)), u / r
    current = cells[0][row, 0] - i_0 * (growth - 1.0) - ohmic * (1.0 + surge)
    first = -i_0 * growth / fold - (1.0 + surge) / r - ohmic * steeper
    return current, first, -i_0 * growth / fold**2 - (2.0 * steeper + u * more) / r


@OUTER
def between(cells: Cells, amps: Array, low: Array, high: Array, avalanche: Told) -> Array:
    """Junction volts between two bounds at which chains carry given amps, all (row, 1); as in `junctions_at`.

    Examples
    --------
    >>> cells = tuple(np.array([[a]]) for a in (6.0, 10.0, 18.0, 1e-10, 0.026, 0.09))  # a chain of 18, 90 mOhm
    >>> between(cells, *(np.array([[a]]) for a in (5.7, 0.54, 0.58)), (1.0, 0.0, -18.0)).round(3)
    array([[0.562]])
    """
    u = 0.5 * (low + high)
    for row in range(len(u)):
        for _ in range(law.JUNCTION_STEPS):
            current, di_du, _ = _weakest(cells, row, u[row, 0], avalanche)
            step = (current - amps[row, 0]) / di_du
            u[row, 0] = np.minimum(np.maximum(u[row, 0] - step, low[row, 0]), high[row, 0])
    return u


@OUTER
def ends_of_chains(cells: Cells, v_end: float, u: Array, low: Array, high: Array, avalanche: Told) -> Array:
    """Junction volts of the weakest level where chains have v_end volts, and dU/dV there; as in `cells._end_of_chain`.

    Begins at u (row, 1), which is overwritten as are the bounds.

    Examples
    --------
    >>> cells = tuple(np.array([[a]]) for a in (6.0, 10.0, 18.0, 1e-10, 0.026, 0.09))  # a chain of 18, 90 mOhm
    >>> u, low, high = (np.array([[a]]) for a in (0.0, -18.0, 0.6))
    >>> ends_of_chains(cells, 0.0, u, low, high, (1.0, 0.0, -18.0)).shape, u.round(2)
    ((1, 1), array([[0.03]]))
    """
    rooms, at, chain, du_dv = _rooms(cells[0].shape[1] - 1), np.empty(1, np.int64), np.empty((5, 1)), np.empty_like(u)
    for row in range(len(u)):
        for _ in range(law.END_STEPS):
            at[0], here = row, u[row, 0]
            _expand(cells, at, u[row], avalanche, rooms, chain)
            beyond = chain[1, 0] - v_end
            if beyond > 0.0:
                high[row, 0] = here
            else:
                low[row, 0] = here
            du_dv[row, 0] = 1.0 / chain[4, 0]
            newton = here - beyond * du_dv[row, 0]
            u[row, 0] = newton if low[row, 0] < newton < high[row, 0] else 0.5 * (low[row, 0] + high[row, 0])
            if abs(beyond) <= law.V_END_MET:
                break
    return du_dv


@OUTER
def hills(current: Array, voltage: Array, slope: Array) -> Array:
    """Amps and volts of the local maxima of power of each row (2, row, hill), NaN where it has fewer; as `maxima`.

    Examples
    --------
    >>> source = np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0)  # 20 V behind 2 ohm
    >>> hills(*source).round(9).tolist()
    [[[5.0]], [[10.0]]]
    """
    rows, points = current.shape
    number, piece, n = np.zeros(rows, np.int64), np.empty(current.size, np.int64), 0
    for row in range(rows):
        i, v, m = current[row], voltage[row], slope[row]
        after, end = v[0] * i[0], v[0] + i[0] * m[0] > 0.0
        for k in range(1, points):
            before, start = after, end
            after, end = v[k] * i[k], v[k] + i[k] * m[k] > 0.0
            if start != end:
                holds = start and i[k] > i[k - 1]
            else:
                holds = (after > before) != start and abs(after - before) > SHALLOW * abs(before)
            if holds:
                piece[n] = k - 1
                n += 1
                number[row] += 1
    found, n = np.full((2, rows, max(1, number.max())), np.nan), 0
    for row in range(rows):
        for k in range(number[row]):
            found[0, row, k], found[1, row, k] = _hilltop(current[row], voltage[row], slope[row], piece[n])
            n += 1
    return found


@INNER
def _hilltop(i: Array, v: Array, m: Array, left: int) -> tuple[float, float]:
    """Amps and volts of the hilltop inside a piece; as `maxima._hilltops`."""
    start, y = i[left], v[left]
    width = max(i[left + 1] - start, NARROWEST)
    c1, c2, c3 = _cubic(start, y, m[left], i[left + 1], v[left + 1], m[left + 1])
    step, most, t = width / (len(HILL_SAMPLES) - 1), -np.inf, 0.0
    for share in HILL_SAMPLES:
        s = share * width
        power = (start + s) * (y + s * (c1 + s * (c2 + s * c3)))
        if power > most:
            most, t = power, s
    low, high = max(t - step, 0.0), min(t + step, width)
    for _ in range(HILL_STEPS):
        fall = c1 + t * (2.0 * c2 + 3.0 * t * c3)
        rise = y + t * (c1 + t * (c2 + t * c3)) + (start + t) * fall
        low, high = (t, high) if rise > 0 else (low, t)
        bend = 2.0 * fall + (start + t) * (2.0 * c2 + 6.0 * t * c3)
        newton = t - rise / (-1.0 if bend == 0 else bend)
        t = newton if low <= newton <= high else 0.5 * (low + high)
    return start + t, y + t * (c1 + t * (c2 + t * c3))


@OUTER
def rounds(
    cells: Cells, first: tuple[Array, Array, Array, Array], voltage: Array, on_hill: Array, joins: Joins,
    bypass: tuple[Array, Array], blocking: tuple[float, float], resistance: Array, avalanche: Told,
) -> tuple[Array, Array]:  # fmt: skip
    """Volts, amps and watts (3, array, row) where the parts of arrays meet, and whether; as `operating_point._rounds`.

    Parameters
    ----------
    cells : tuple of ndarray
        Of every branch at every moment, (branch x row, level).
    first : tuple of ndarray
        The first guess: junction volts (branch, row), volts of parts, amps of strings, volts where these meet.
    voltage, on_hill : ndarray (array, row)
    joins : tuple
    bypass, blocking : tuple
        Saturation current and volts per e-fold, of each part (part, 1) and of all strings; no diode has no current.
    resistance : ndarray (array, 1)
    avalanche : tuple of float

    Examples
    --------
    >>> cells = tuple(np.array([[a]]) for a in (6.0, 10.0, 18.0, 1e-10, 0.026, 0.09))  # a chain of 18
    >>> first = tuple(np.array([[a]]) for a in (0.5, 9.5, 5.7, 9.5))
    >>> alone, one = (np.zeros(1, int), np.ones((1, 1))), np.ones((1, 1))
    >>> asked = first[3], np.array([[True]]), (alone, alone, alone), (0.0 * one, one), (0.0, 1.0), 0.0 * one
    >>> rounds(cells, first, *asked, (1.0, 0.0, -18.0))[0][2].round(1)
    array([[54.8]])
    """
    arrays, rows = voltage.shape
    found, met = np.empty((3, arrays, rows)), np.zeros((arrays, rows), np.bool_)
    branches, parts, strings = len(first[0]), len(first[1]), len(first[2])
    chain, part, front, whole = (
        np.empty((6, branches)),
        np.empty((4, parts)),
        np.empty((4, strings)),
        np.empty((6, arrays)),
    )
    rooms, at = _rooms(branches * (cells[0].shape[1] - 1)), np.arange(branches) * rows
    for row in range(rows):
        junction, volts = first[0][:, row].copy(), first[1][:, row].copy()
        current, across = first[2][:, row].copy(), first[3][:, row].copy()
        wanted, hill = voltage[:, row], on_hill[:, row]
        found[2, :, row] = np.inf
        for _ in range(ROUNDS):
            _expand(cells, at + row, junction, avalanche, rooms, chain)
            _touch_parts(chain, joins[0], bypass, volts, part)
            _touch_strings(part, joins[1], blocking, current, front)
            _meet(front, joins[2], resistance, across, wanted, hill, whole)
            _amiss(chain, part, front, joins, volts, current, across, whole)
            all_met = True
            for k in range(arrays):
                power = whole[0, k] * whole[1, k]
                met[k, row] = (
                    (whole[2, k] != 0.0 or not hill[k])
                    and whole[4, k] <= AGREED * abs(power) + P_NONE
                    and abs(power - found[2, k, row]) <= DOUBT * abs(power) + P_NONE
                )
                all_met = all_met and met[k, row]
                found[0, k, row], found[1, k, row], found[2, k, row] = whole[1, k], whole[0, k], power
            if all_met:
                break
            _nearer(chain, part, front, joins, whole, junction, volts, current, across)
        for k in range(arrays):
            met[k, row] = met[k, row] and _near(found[0, k, row], wanted[k])
    return found, met


@INNER
def _near(found: float, voltage: float) -> bool:
    """As `maxima.same_hill`."""
    return abs(found - voltage) < CLOSE_BY * abs(voltage) + V_CLOSE_BY


@INNER
def _lead(one: Array, k: int, voltage: float) -> tuple[float, float, float]:
    """Amps, dI/dV and d²I/dV² of one expansion (current, voltage, slope, bend) at other volts."""
    lead = 1.0 / one[2, k]
    turn = -one[3, k] * (lead * lead * lead)
    away = voltage - one[1, k]
    steeper = np.minimum(lead + turn * away, FLATTER * lead)
    return one[0, k] + away * (lead + 0.5 * turn * away), steeper, turn


@INNER
def _volts_at(one: Array, k: int, current: float) -> tuple[float, float]:
    """Volts and slope of one expansion at another current."""
    away = current - one[0, k]
    slope = np.minimum(one[2, k] + one[3, k] * away, FLATTER * one[2, k])
    return one[1, k] + away * (one[2, k] + 0.5 * one[3, k] * away), slope


@INNER
def _expand(
    cells: Cells, at: Array, u: Array, avalanche: Told, rooms: tuple[Array, Array, Array], chain: Array
) -> None:
    """Put in amps, volts, dV/dI, d²V/dI² and dV/du of the chains that stand at some rows, at junction volts u."""
    i_light, r_shunt, count, i_0, a, resistance = cells
    room, places, each = rooms
    levels, n = i_light.shape[1], 0
    for k in range(len(u)):
        row = at[k]
        current, di_du, curvature = _weakest(cells, row, u[k], avalanche)
        slope, often = 1.0 / di_du, count[row, 0]
        chain[0, k], chain[1, k], chain[2, k], chain[4, k] = current, often * u[k], often * slope, di_du
        chain[3, k] = -often * curvature * (slope * slope * slope)
        for level in range(1, levels):
            room[0, n], room[1, n], room[2, n] = current, i_light[row, level], r_shunt[row, level]
            room[3, n], room[4, n] = i_0[row, 0], a[row, 0]
            n += 1
    _volts(room, places, avalanche, each[0, :n], each[1, :n])
    n = 0
    for k in range(len(u)):
        row = at[k]
        for level in range(1, levels):
            v, slope, often, conductance = each[0, n], each[1, n], count[row, level], avalanche[0] / r_shunt[row, level]
            chain[1, k] += often * v
            chain[2, k] += often * slope
            chain[3, k] -= often * (slope * slope / a[row, 0] * np.maximum(1.0 + slope * conductance, 0.0))
            n += 1
        chain[1, k] -= chain[0, k] * resistance[row, 0]
        chain[2, k] -= resistance[row, 0]
        chain[4, k] *= chain[2, k]


@INNER
def _touch_parts(chain: Array, join: Group, bypass: tuple[Array, Array], volts: Array, part: Array) -> None:
    """Expansion of every part at its volts; as `Net.part_quadratics`."""
    part[:] = 0.0
    for k in range(chain.shape[1]):
        p, often = join[0][k], join[1][k, 0]
        current, lead, turn = _lead(chain, k, volts[p])
        part[0, p] += often * current
        part[2, p] += often * lead
        part[3, p] += often * turn
    for p in range(len(volts)):
        i_0, fold = bypass[0][p, 0], bypass[1][p, 0]
        through = i_0 * np.expm1(np.minimum(-volts[p] / fold, MOST_FOLDS))
        steep = (through + i_0) / fold
        _beside(part, p, part[0, p] + through, volts[p], part[2, p] - steep, part[3, p] + steep / fold)


@INNER
def _beside(one: Array, k: int, current: float, voltage: float, lead: float, turn: float) -> None:
    """Put in an expansion from amps, dI/dV and d²I/dV²; as `quadratics.side_by_side`."""
    slope = 1.0 / lead
    one[0, k], one[1, k], one[2, k], one[3, k] = current, voltage, slope, -turn * (slope * slope * slope)


@INNER
def _touch_strings(part: Array, join: Group, blocking: tuple[float, float], current: Array, front: Array) -> None:
    """Expansion of every string at its amps; as `Net.string_quadratics`."""
    front[:] = 0.0
    front[0] = current
    for k in range(part.shape[1]):
        s, often = join[0][k], join[1][k, 0]
        voltage, slope = _volts_at(part, k, current[s])
        front[1, s] += often * voltage
        front[2, s] += often * slope
        front[3, s] += often * part[3, k]
    i_0, fold = blocking
    if i_0 > 0.0:
        for s in range(len(current)):
            front[0, s] = np.maximum(current[s], 0.0)
            front[1, s] -= fold * np.log1p(front[0, s] / i_0)
            steep = fold / (i_0 + front[0, s])
            front[2, s] = front[2, s] - steep if current[s] > 0.0 else SLOPE_BLOCKED
            front[3, s] = front[3, s] + steep / (i_0 + front[0, s]) if current[s] > 0.0 else 0.0


@INNER
def _meet(
    front: Array, join: Group, resistance: Array, across: Array, voltage: Array, on_hill: Array, whole: Array
) -> None:
    """Amps and volts wanted at the terminals, whether on the hilltop, and volts where strings meet; as `_goal`."""
    whole[:] = 0.0
    for s in range(front.shape[1]):
        k, often = join[0][s], join[1][s, 0]
        current, lead, turn = _lead(front, s, across[k])
        whole[0, k] += often * current
        whole[2, k] += often * lead
        whole[3, k] += often * turn
    for k in range(len(voltage)):
        r = resistance[k, 0]
        _beside(whole, k, whole[0, k], across[k], whole[2, k], whole[3, k])
        whole[1, k] -= r * whole[0, k]
        whole[2, k] -= r
        rise = whole[1, k] + whole[0, k] * whole[2, k]
        turn = 2.0 * whole[2, k] + whole[0, k] * whole[3, k]
        top = whole[0, k] - rise / np.minimum(turn, FLATTER * whole[2, k])
        follow = on_hill[k] and _near(_volts_at(whole, k, top)[0], voltage[k])
        current = top if follow else _lead(whole, k, voltage[k])[0]
        volts = _volts_at(whole, k, current)[0]
        whole[0, k], whole[1, k], whole[2, k], whole[3, k] = current, volts, 1.0 if follow else 0.0, volts + r * current


@INNER
def _amiss(
    chain: Array, part: Array, front: Array, joins: Joins, volts: Array, current: Array, across: Array, whole: Array
) -> None:  # fmt: skip
    """Put in the watts amiss at the points of expansion; as `Net.amiss`."""
    whole[4] = 0.0
    for k in range(chain.shape[1]):
        p = joins[0][0][k]
        array = joins[2][0][joins[1][0][p]]
        whole[4, array] += joins[0][1][k, 0] * abs(volts[p] - chain[1, k]) * abs(whole[0, array])
    for p in range(part.shape[1]):
        s = joins[1][0][p]
        array = joins[2][0][s]
        whole[4, array] += abs(part[0, p] - current[s]) * abs(whole[1, array])
    for s in range(front.shape[1]):
        array = joins[2][0][s]
        whole[4, array] += abs((front[1, s] - across[array]) * front[0, s])


@INNER
def _nearer(
    chain: Array, part: Array, front: Array, joins: Joins, whole: Array, junction: Array, volts: Array, current: Array,
    across: Array,
) -> None:  # fmt: skip
    """Overwrite where everything works with where it does for the point at the terminals, by the expansions."""
    across[:] = whole[3]
    for s in range(len(current)):
        current[s] = _lead(front, s, across[joins[2][0][s]])[0]
    for p in range(len(volts)):
        volts[p] = _volts_at(part, p, current[joins[1][0][p]])[0]
    for k in range(len(junction)):
        junction[k] += (volts[joins[0][0][k]] - chain[1, k]) / chain[4, k]


@OUTER
def _log(x: float) -> float:
    """Logarithm of a positive number, to 1e-15, in steps that a processor does for several numbers at a time.

    The number is a power of two times m, from the root of a half to that of two; ln m = 2 artanh((m - 1) / (m + 1)).
    """
    bits = np.float64(x).view(np.int64)
    power = (bits - ROOT_HALF) >> 52
    m = np.int64(bits - (power << 52)).view(np.float64)
    s = (m - 1.0) / (m + 1.0)
    q = s * s
    more = 1 / 3 + q * (1 / 5 + q * (1 / 7 + q * (1 / 9 + q * (1 / 11 + q * (1 / 13 + q * (1 / 15 + q * (1 / 17)))))))
    return power * LN_2 + 2.0 * (s + s * q * more)


@OUTER
def _exp(x: float) -> float:
    """Exponential from -700 to 700, to 1e-15, likewise: a power of two times Taylor's series of what is left."""
    x = min(max(x, -MOST_FOLDS), MOST_FOLDS)
    power = np.floor(x / LN_2 + 0.5)
    r = x - power * LN_2_HIGH - power * LN_2_LOW
    tail = 1 / 5040 + r * (1 / 40320 + r * (1 / 362880 + r * (1 / 3628800 + r * (1 / 39916800 + r * (1 / 479001600)))))
    series = 1.0 + r * (1.0 + r * (1 / 2 + r * (1 / 6 + r * (1 / 24 + r * (1 / 120 + r * (1 / 720 + r * tail))))))
    return series * np.int64((np.int64(power) + 1023) << 52).view(np.float64)


@njit(cache=True, error_model="numpy", fastmath={"reassoc", "nsz"})
def under_edges(
    cells: Array, moment: Array, bounds: Array, start: Array, end: Array, takes: Array, flat: float
) -> Array:
    """Area of each cell below the edges of its moment, each edge times what it takes; as `shading.outlines._below`.

    The edges of moment k are those from bounds[k] on, before bounds[k + 1]; those that rise by less than `flat` are
    level.

    Examples
    --------
    >>> cells, edges = np.array([[0.0, 1.0, 0.0, 1.0]]), np.array([[2.0, 0.5], [0.0, 0.5]])
    >>> under_edges(cells, np.array([0]), np.array([0, 1]), edges[:1], edges[1:], np.ones(1), 1e-9)
    array([0.5])
    """
    area, slope, foot = np.zeros(len(cells)), np.empty(len(takes)), np.empty(len(takes))
    x_start, x_end = start[:, 0].copy(), end[:, 0].copy()
    for k in range(len(takes)):
        run = x_end[k] - x_start[k]
        slope[k] = (end[k, 1] - start[k, 1]) / run if run != 0.0 else 0.0
        foot[k] = start[k, 1] - slope[k] * x_start[k]
    for n in range(len(cells)):
        left, right, back, high = cells[n, 0], cells[n, 1], cells[n, 2], cells[n, 3] - cells[n, 2]
        whole = 0.0
        for k in range(bounds[moment[n]], bounds[moment[n] + 1]):
            x0, x1 = min(max(x_start[k], left), right), min(max(x_end[k], left), right)
            y0, y1 = slope[k] * x0 + (foot[k] - back), slope[k] * x1 + (foot[k] - back)
            in0, in1 = min(max(y0, 0.0), high), min(max(y1, 0.0), high)
            level = abs(y1 - y0) < flat
            mean = (in1 * (y1 - 0.5 * in1) - in0 * (y0 - 0.5 * in0)) / (1.0 if level else y1 - y0)
            whole += takes[k] * ((x0 - x1) * (in0 if level else mean))
        area[n] = whole
    return area
