"""How long a controller is awake in a day under each cause.

It is awake while the array gives two watts. A leak takes most of what dull light brings, so that panels in parallel
wake later and fall asleep earlier, in every weather, and days that a full battery held back tell it as well. Left out:
the start margin, which moves the mornings of all causes alike, and hills before the sun.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vanpower.watching.causes import HEATS, LIGHTS, Cause
from vanpower.watching.logs import AWAKE_W
from vanpower.watching.skies import ClearDay, SkyBank

Array = np.ndarray

DARKEST = 0.02
# share of the clear sky's light at dawn, at least
DARKER = 0.5
# logarithm of less light, by which it is told how many minutes that takes
SMALL = 0.1
# of all that an array can give, at most what makes its controller wake; no source
MOST_LIGHT = 6.0
# logarithm of more light that any cause needs
LEAST_MIN = 10.0
# minutes that less light by a factor of e takes, at least
SAME_LIGHT = 0.45
# logarithm of light within which a cause wakes with the sound array: what is not known of dawn is as much, and would
# add up day by day; one of two panels in parallel gone is just beyond; no source


@dataclass(frozen=True, eq=False)
class Awake:
    """How long a controller is awake, whatever the sky: dawns of dull and clear days differ by less than their scatter.

    Parameters
    ----------
    minutes, scatter : float
        Of the sound array, mean and standard deviation over the days of the bank.
    by_light : float
        How many minutes less where the light is lower by a factor of e.
    needs : ndarray (cause,)
        How much more light each cause needs, as a logarithm.
    """

    minutes: float
    scatter: float
    by_light: float
    needs: Array

    def darker(self, minutes: float, learned: Array, dimmed: Array) -> Array:
        """How much darker a day's dawn and dusk were than each cause would have them (cause, way), a logarithm.

        Parameters
        ----------
        minutes : float
            For which the controller was awake.
        learned : ndarray (cause,)
            How much darker they have been so far.
        dimmed : ndarray (way,)
            Logarithm of what a place takes of the light, below 0.
        """
        return (self.minutes - minutes) / self.by_light - (self.needs + learned)[:, None] + dimmed

    def shortened(self, more: float) -> float:
        """How many minutes a day is shorter where so much more light is `counted`; NaN where none is enough."""
        return more * self.by_light if more < MOST_LIGHT else np.nan


def awake_of(causes: Sequence[Cause], bank: SkyBank, sky: ClearDay) -> Awake:
    """How long a controller is awake under each cause on a day whose clear sky is told in parts of a few minutes."""
    watts = min(AWAKE_W, SMALL * float(causes[0].tables[-1].p.max()))
    needs = np.log([_least_light(cause, float(sky.temp_air[0]), watts) for cause in causes])
    each, darker = (_minutes(sky, bank, needs[0] + less) for less in (0.0, DARKER))
    by_light = max(float((each - darker).mean()) / DARKER, LEAST_MIN)
    return Awake(float(each.mean()), float(each.std()), by_light, counted(needs - needs[0]))


def counted(more: Array) -> Array:
    """How much more light is needed, as far as it counts: nothing below `SAME_LIGHT`, and at most `MOST_LIGHT`.

    Examples
    --------
    >>> counted(np.array([0.4, 0.7, np.inf])).tolist()
    [0.0, 0.7, 6.0]
    """
    return np.where(np.abs(more) < SAME_LIGHT, 0.0, np.minimum(more, MOST_LIGHT))


def _minutes(sky: ClearDay, bank: SkyBank, wanted: float) -> Array:
    """Minutes with so much light or more, a logarithm, of each day of the bank (day,)."""
    parts = len(sky.light)
    half = parts // 2
    ends = ((sky.light[:half], bank.share[:, 0]), (sky.light[::-1][:half], bank.share[:, -1]))
    dark = [_reached(light, wanted - np.log(np.maximum(share, DARKEST))) for light, share in ends]
    return (parts - dark[0] - dark[1]) * 60.0 * sky.part_h


def _least_light(cause: Cause, temp: float, watts: float) -> float:
    """The least light in which a cause gives so many watts, cells as warm as the air; inf where none does. [W/m²]"""
    p = np.array([np.interp(temp, HEATS, row) for row in cause.tables[-1].p])
    if p.max() < watts:
        return np.inf
    first = int(np.argmax(p >= watts))
    return float(np.interp(watts, p[first - 1 : first + 1], LIGHTS[first - 1 : first + 1])) / (1.0 - cause.dim)


def _reached(light: Array, wanted: Array) -> Array:
    """After how many parts of a half day its rising light reaches what is wanted, both as logarithms."""
    rising = np.maximum.accumulate(np.maximum(light, 1e-3))
    return np.interp(wanted, np.log(rising), np.arange(len(light)) + 0.5)
