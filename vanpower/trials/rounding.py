"""What a coarse last digit does to a trial: readings that stand still share one error, and many of them make it no smaller.

The step is told by the readings themselves. While watts hardly move all of them are rounded to the same side; where they
run through several steps the errors cancel like any noise, and the noise of the rows holds them already.
"""

from __future__ import annotations

import numpy as np

Array = np.ndarray

DIGITS = tuple(base * 10.0**power for power in (2, 1, 0, -1, -2) for base in (5.0, 2.0, 1.0))
# steps that a meter's last digit makes, the coarsest first
NEAR = 1e-6
# of a step, within which a reading lies on it
FINE = 1e-3
# a step that is a smaller share of the readings moves nothing; no source
SHARED = 0.3
# of a step: rows that are expected to lie nearer share their error; no source
FEWEST, MOST = 1.5, 12
# rows' worth of error that a cause is shared by at least, and causes at most; no source


def last_digit(readings: Array) -> float:
    """The step in which readings were written down; nothing where they follow none.

    Examples
    --------
    >>> last_digit(np.array([12.0, 15.0, 13.0])), last_digit(np.array([0.5, 1.5, 1.0])), last_digit(np.array([np.pi]))
    (1.0, 0.5, 0.0)
    """
    read = readings[np.isfinite(readings)]
    fits = (step for step in DIGITS if len(read) and np.all(np.abs(read / step - np.round(read / step)) < NEAR / step))
    return next(fits, 0.0)


def rounded(step: float, expected: Array, after: Array) -> Array:
    """What one width of each shared error of rounding adds to the rows, as a logarithm (row, cause).

    Parameters
    ----------
    step : float
        Of the readings.
    expected : ndarray (row,)
        What they would be without rounding, as nearly as it is known.
    after : ndarray of bool (row,)
        Rows of the two wirings share nothing.

    Examples
    --------
    >>> still, moving = (rounded(1.0, np.linspace(10.0, end, 20), np.zeros(20, bool)) for end in (10.0, 40.0))
    >>> still.shape[1], round(float(still[0, 0]), 4), moving.shape[1]
    (1, 0.0289, 0)
    """
    if step < FINE * float(np.median(expected)):
        return np.empty((len(expected), 0))
    apart = (expected[:, None] - expected) / step
    alike = np.exp(-((apart / SHARED) ** 2)) * (after[:, None] == after)
    size, way = np.linalg.eigh(alike)
    kept = np.argsort(size)[::-1][:MOST]
    kept = kept[size[kept] > FEWEST]
    # a rounded number lies evenly within its step: width step / √12
    columns: Array = way[:, kept] * np.sqrt(size[kept]) * (step / np.sqrt(12.0) / expected)[:, None]
    return columns * np.sign(columns.sum(axis=0) + NEAR)
