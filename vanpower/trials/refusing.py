"""Logs that cannot tell in spite of a return to the first wiring, since no drift explains what their blocks show.

Two things pass for a gain there and leave their mark in the blocks: a light sensor in another plane than the panels,
or something else that moves watts for the light by more than meters and dirt do; and a battery that fills up unseen.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from vanpower.trials.logs import Log
from vanpower.trials.posterior import design, haste, weighed

Array = np.ndarray

MOST_DRIFT = 0.04
# [share an hour] more than meters, dirt and cells that warm up do to watts for the light; no source
FALL = 0.015
# a fall of watts for the light from which an unseen full battery is a suspect; no source
SURE = 0.025
# chance left on either side for a drift to be smaller after all


def falls(log: Log, level: Array) -> float:
    """Largest fall of power per light between two blocks of one wiring, as a logarithm.

    Examples
    --------
    >>> from vanpower import read_log
    >>> log = read_log('''minutes wiring watts
    ...     0  2p 100
    ...     5  2p 100
    ...     20 2s 102
    ...     25 2s 102
    ...     40 2p  95
    ...     45 2p  95''')
    >>> round(falls(log, np.log(log.power)), 3)
    0.051
    """
    blocks = [(bool(log.is_after[log.block == k][0]), level[log.block == k]) for k in np.unique(log.block)]
    means = [(after, float(one.mean())) for after, one in blocks]
    return max((one - two for (a, one), (b, two) in combinations(means, 2) if a == b), default=0.0)


def too_steep(log: Log, level: Array) -> float:
    """The drift of watts for the light where it is surely steeper than any that meters and dirt make, else nothing.

    Examples
    --------
    >>> from vanpower import read_log
    >>> rows = "".join(f"{m} {'2s' if 20 <= m < 40 else '2p'} {100 + m} 500\\n" for m in range(0, 60, 2))
    >>> log = read_log("minutes wiring watts light\\n" + rows)
    >>> round(too_steep(log, np.log(log.power)), 1)
    0.5
    """
    terms = design(log.minutes, log.is_after, 1)
    slope = float(np.linalg.lstsq(terms, level, rcond=None)[0][2])
    lasts = max(float(np.ptp(log.minutes)) / 60.0, 1e-9)
    if abs(slope) < MOST_DRIFT * lasts:
        return 0.0
    moving = haste(log.minutes, log.light)
    belief = weighed(level, terms[:, [2, 0, 1]], log.minutes, moving, np.empty((len(log), 0)))
    low, high = belief.quantile(SURE), belief.quantile(1 - SURE)
    surely = max(low, -high) > MOST_DRIFT * lasts
    return slope / lasts if surely else 0.0


def refused(log: Log, level: Array, low: float, high: float, *, battery_seen: bool, sensor_apart: bool) -> str:
    """Why a log with light and a return cannot tell, or nothing.

    Parameters
    ----------
    log : Log
        The rows that are weighed.
    level : ndarray (row,)
        Logarithm of watts for the light, at 25 °C.
    low, high : float
        Ends of the gain's interval, as logarithms.
    battery_seen : bool
        Whether volts or the charge stage were read.
    sensor_apart : bool
        Whether the rows say that the light sensor lies in another plane than the panels.

    Notes
    -----
    A fall within half the interval may be chance, and an interval that holds nothing and more says so. But a battery
    that fills up widens the interval, too, and so hides its own fall: what leaves zero out is held against FALL alone.
    """
    if sensor_apart:
        return (
            "watts for the light move with the sun's share in it: the light sensor seems to lie in another plane than "
            "the panels"
        )
    if drift := too_steep(log, level):
        return (
            f"the blocks of one wiring lie apart: watts for the light {'rise' if drift > 0 else 'fall'} by "
            f"{100 * abs(drift):.0f} % an hour, more than a meter, dirt or warm cells make; the light sensor may lie "
            "in another plane than the panels, or a shadow moved"
        )
    fall = falls(log, level)
    chance = 0.5 * (high - low) if low <= 0.0 <= high else 0.0
    if not battery_seen and fall > max(FALL, chance):
        return (
            f"watts for the light fell by {100 * fall:.1f} % from one block to a later one of the same wiring, and "
            "neither battery volts nor charge stage were read: a battery that fills up would look the same"
        )
    return ""
