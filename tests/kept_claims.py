"""Whether a loss is seen of which a watch says that it would have been: put into the sun that a simulated van gets.

A sound van-year up to a day, of either make; the smallest loss that "would most likely have been seen by now"; and the
same year with a loss, 60 days before, so that battery, stages and minutes follow from it as they may.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from van_years import NO_LOSS, Loss, van_year
from van_years_two import other_year

from vanpower import watch
from vanpower.rig import Rig
from vanpower.watching.hiding import LOSSES
from vanpower.watching.histories import History
from vanpower.watching.telling import Watched

WITHIN = 60
# days
ENDS = (150, 240, 290)
# days of a year after which it is looked at

Year = tuple[History, list[tuple[str, float, float]] | None, Rig]
Make = Callable[[int, Loss], Year]


@dataclass(frozen=True)
class Claim:
    """What one watch claimed, and what became of it.

    Parameters
    ----------
    least : float
        The smallest loss that would have been seen.
    kept : bool
        Whether a loss of that size was told.
    larger : tuple of bool
        Whether each larger one was.
    """

    least: float
    kept: bool
    larger: tuple[bool, ...]


def of_kit(seed: int, loss: Loss) -> Year:
    """A van-year of `van_years`, places told."""
    year = van_year(50_000 + seed, loss=loss)
    return year.history, year.stays, year.rig


def untold(seed: int, loss: Loss) -> Year:
    """The same without places and moves."""
    history, _, rig = of_kit(seed, loss)
    return history, None, rig


def of_other(seed: int, loss: Loss) -> Year:
    """A van-year of `van_years_two`, of one in four without places."""
    year = other_year(seed, told=seed % 4 != 0, loss=loss)
    return year.history, year.stays, year.rig


def claims(make: Make, seeds: range, ends: tuple[int, ...] = ENDS) -> Iterator[Claim | None]:
    """What watches of sound years claim after so many days; None where they claim nothing."""
    for seed in seeds:
        for end in ends:
            found = seen(make(seed, NO_LOSS), end)
            if found.now is not None or found.least is None:
                yield None
                continue
            told = [_told(make, seed, end, loss) for loss in LOSSES if loss >= found.least]
            yield Claim(found.least, told[0], tuple(told[1:]))


def seen(year: Year, end: int) -> Watched:
    """A year watched as far as a day, some of which may be missing."""
    history, stays, rig = year
    count = int(np.searchsorted((history.dates - history.dates[0]).astype(int), end))
    part = history.only(slice(0, count))
    some = None if stays is None else [stay for stay in stays if np.datetime64(stay[0]) <= part.dates[-1]]
    return watch(part, rig, stays=some).first


def _told(make: Make, seed: int, end: int, loss: float) -> bool:
    """Whether a loss is told that begins so many days before the end."""
    found = seen(make(seed, (loss, end - WITHIN)), end)
    first = found.history.dates[0] + (end - WITHIN)
    return any(found.history.dates[alarm.day] >= first for alarm in found.alarms)
