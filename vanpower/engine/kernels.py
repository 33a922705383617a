"""The engine's innermost loops, compiled by numba: what `curves` and `cells` work out in many passes of numpy, in one.

Each does the same steps in the same order as the numpy it stands for, which is the reference and needs no numba;
`engine.compiled` tells when these are worth their loading. Compiled once, they are kept on disk.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from vanpower.engine.cells import DEEPEST, FAR, SMALL
from vanpower.engine.curves import cubic

Array = np.ndarray


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def _used(x: Array) -> int:
    """How many points a row has without repetitions of its last."""
    used = len(x)
    while used > 1 and x[used - 2] == x[used - 1]:
        used -= 1
    return used


_cubic = njit(cache=True, error_model="numpy")(cubic)


@njit(cache=True, error_model="numpy")
def _piece(x: Array, y: Array, m: Array, left: int) -> tuple[float, float, float]:
    """Coefficients of the piece that begins at a point; of the last a straight line."""
    if left + 1 >= len(x):
        return m[left], 0.0, 0.0
    return _cubic(x[left], y[left], m[left], x[left + 1], y[left + 1], m[left + 1])


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def omega(z: Array, log_z: Array) -> Array:
    """Wright omega of a flat array, whose logarithm is given from `FAR` on; as `cells.wright_omega`.

    Examples
    --------
    >>> omega(np.array([1.0]), np.array([0.0])).round(6)
    array([1.])
    """
    w = np.empty_like(z)
    for k in range(len(z)):
        # no branches, so that several are worked out at a time
        x = log_z[k] / (z[k] + 1.0)
        series = x * x * (0.5 + x * (1 / 3 + x * (1 / 4 + x * (1 / 5 + x * (1 / 6)))))
        w[k] = z[k] * (1.0 - (x - series / (z[k] + 1.0 + x + 2.0 * series)))
    for k in range(len(z)):
        if z[k] < FAR:
            w[k] = _omega_close(z[k])
    return w


@njit(cache=True, error_model="numpy")
def _omega_close(z: float) -> float:
    """`cells._omega_close` of one number."""
    z = max(z, DEEPEST)
    tail = math.exp(-abs(z))
    soft = max(z, 0.0) + (tail if z < SMALL else math.log(1.0 + tail))
    w = soft * (1.0 - math.log(1.0 + soft) / (2.0 + soft))
    rest = z - w - math.log(w)
    one = 1.0 + w
    t = one * (one + rest * (2.0 / 3.0))
    return w * (1.0 + rest / one * (t - 0.5 * rest) / (t - rest))
