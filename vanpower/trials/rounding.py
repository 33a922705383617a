"""Rounding error of a trial's readings: readings that stand still share one error, however many there are.

The step is told by the readings themselves. While watts hardly move all are rounded to the same side; where they
run through several steps the errors cancel like any noise, and the noise of the rows holds them already.
"""

from __future__ import annotations

import numpy as np

Array = np.ndarray

DIGITS = tuple(base * 10.0**power for power in (2, 1, 0, -1, -2) for base in (5.0, 2.0, 1.0))
# steps that a meter's last digit makes, the coarsest first
NEAR = 1e-6
# [unit of the readings] within which one lies on a step
FINE = 1e-3
# a step that is a smaller share of the readings moves nothing; no source
LIKELY = (5.0, 95.0)
# [%] of the expected readings, between which they are said to move; no source


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
    """What one standard deviation of each wiring's common rounding error adds to its rows, as a logarithm (row, 2).

    Parameters
    ----------
    step : float
        Of the readings.
    expected : ndarray (row,)
        What they would be without rounding, as nearly as it is known.
    after : ndarray of bool (row,)

    Notes
    -----
    A rounded number lies evenly within its step, a width of step / √12 around it. While the watts stand still all rows
    are off by the same; where they run evenly through so many steps their mean is off by that share of it at most.

    Examples
    --------
    >>> half = np.arange(20) >= 10
    >>> still, moving = (rounded(1.0, np.linspace(10.0, end, 20), half) for end in (10.0, 40.0))
    >>> still[[0, -1]].round(4).tolist(), bool(moving.max() < 0.3 * still.max())
    ([[0.0289, 0.0], [0.0, 0.0289]], True)
    """
    if step < FINE * float(np.median(expected)):
        return np.empty((len(expected), 0))
    columns = []
    for rows in (~after, after):
        low, high = np.percentile(expected[rows], LIKELY)
        columns.append(np.where(rows, step / np.sqrt(12.0) / expected / max(1.0, (high - low) / step), 0.0))
    return np.column_stack(columns)
