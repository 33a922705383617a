"""How a van may be parked, and what each way takes of a day: low sun hidden, trees, woods, and which way it faces.

A flat array gets the same light whichever way the van faces; a tilted or portable one does not, and where nobody told
the heading it may face any way after each move.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vanpower.watching.expectations import HEADINGS, TILTED, TWO_HOURS, Expectation, SoundDay

Array = np.ndarray

PARKED = ((0.0, 0.0), (-0.10, 0.0), (-0.25, 0.0), (-0.35, -0.25), (-0.6, -0.5), (-0.85, -0.75), (-1.15, -1.05))
# logarithms of what places take of watt-hours and of highest watts: open, low sun hidden, trees, woods
WOODS = 4
# the last of them, which take a quarter of the watt-hours and more
PARKED_HOURS = ((0,) * 6, (-1.2, -1.2, 0, 0, 0, 0), (0, 0, 0, 0, -1.2, -1.2), (-1.2, -0.4, 0, 0, -0.4, -1.2),
                (-0.3,) * 6, (-0.55,) * 6, (-0.85,) * 6)  # fmt: skip
# the same for a log, in each two hours from 6 to 18 by the sun
PARKED_SHARES = (0.60, 0.16, 0.06, 0.05, 0.04, 0.05, 0.04)
# of stays; no source


@dataclass(frozen=True, eq=False)
class Ways:
    """The ways a van may be parked.

    Parameters
    ----------
    share : ndarray (way,)
        Chance of each after a move.
    energy, high : ndarray (way,)
        Logarithms of what it takes of watt-hours and of highest watts.
    dawn : ndarray (way,)
        The same of the light at dawn and dusk, which comes from all of the sky, whichever way a panel faces.
    hours : ndarray (way, two hours)
        The same in each two hours.

    Examples
    --------
    >>> from vanpower import example
    >>> ways = ways_of(Expectation(example("bookmobile"), (0,)), 47.0, 6, turned=False)
    >>> len(ways.share), round(float(ways.share.sum()), 9)
    (7, 1.0)
    """

    share: Array
    energy: Array
    high: Array
    dawn: Array
    hours: Array


def ways_of(expected: Expectation, latitude: float, month: int, *, turned: bool) -> Ways:
    """The ways to be parked in a month; of a tilted array whose heading is not told, every heading in the open."""
    share, hours = np.array(PARKED_SHARES), np.array(PARKED_HOURS, dtype=float)
    energy, high = (np.array([each[k] for each in PARKED]) for k in (0, 1))
    if turned or expected.panel.tilt_deg < TILTED:
        return Ways(share, energy, high, high, hours)
    number = round(30.4 * month - 15)
    north, *_ = each = [expected.sound(latitude, number, heading) for heading in HEADINGS]
    open_share = share[0] + share[1]
    return Ways(
        np.concatenate([np.full(len(HEADINGS), open_share / len(HEADINGS)), share[2:]]),
        np.concatenate([np.log([day.energy_wh / north.energy_wh for day in each]), energy[2:]]),
        np.concatenate([np.log([day.p_high / north.p_high for day in each]), high[2:]]),
        np.concatenate([np.zeros(len(HEADINGS)), high[2:]]),
        np.concatenate([np.stack([_hours_beside(day, north) for day in each]), hours[2:]]),
    )


def _hours_beside(day: SoundDay, north: SoundDay) -> Array:
    """Logarithm of a heading's watts over those of the van that faces north, in each two hours."""
    found = np.zeros(len(TWO_HOURS))
    for place, (first, last) in enumerate(TWO_HOURS):
        inside = (north.hour >= first) & (north.hour < last)
        if inside.any() and north.p[inside].sum() > 0:
            found[place] = np.log(max(float(day.p[inside].sum() / north.p[inside].sum()), 0.05))
    return found
