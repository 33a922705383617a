"""What nobody knows, drawn evenly (Halton's sequence), and drawn anew where the readings were met.

A cause that meets the readings only in a small part of all it may be (a joint of just these ohms, in just this light)
would rest on a handful of even draws, and a chance out of a handful is not one to be sure by. So likely causes are
drawn a second time, around the draws that met the readings best, each weighed by how much oftener it was so drawn
(population Monte Carlo: Cappé, Guillin, Marin and Robert, J. Computational and Graphical Statistics 13 (2004) 907-929).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from vanpower.trials.faults.readings import BY_METER_PCT, FaultReadings

Array = np.ndarray

DRAWS, DRAWS_BLIND, DRAWS_ANEW = 360, 600, 360
# of light, heat, place and size for each cause; more where nobody said how light it is; and the second time
SECOND = 1001
# number of the even point from which the second draws are taken
PRIMES = (2, 3, 5, 7, 11, 13, 17)
LIGHT_ANY = (1.0, 1100.0)
# [W/m²] where nobody said how light it is
WIDE_TAIL, WIDE_PCT = 0.1, 60.0
# share of people whose guess of the light is off by so much more [%]; no source
LIGHT_DIM, DIM_PCT = 20.0, 80.0
# [W/m², %] light so dim that no eye tells it better; no source
AIR, PER_LIGHT, HEAT_OFF, HEAT_READ = 17.0, 0.033, 12.0, 3.0
# [°C, K per W/m², K, K] cells of a van whose heat nobody read: air, what the sun adds, how far that is off; and how far
# a thermometer at the back is off; no source
EVENLY, AROUND, NEAR_LEAST = 0.2, 60, 0.05
# share of the second draws that are even again, draws that the others lie around, and how wide at least; set by known
# integrals (three Gaussians of 0.01 to 0.5 in seven shares): one in ten was a quarter off, and is a sixth


@dataclass(frozen=True, eq=False)
class Points:
    """Seven shares of 0 to 1 for each draw, and how much each counts.

    Parameters
    ----------
    u : ndarray (share, draw)
    weight : ndarray (draw,)
        1 where they are even.
    """

    u: Array
    weight: Array

    @classmethod
    def even(cls, count: int) -> Points:
        """So many, even."""
        return cls(_halton(count), np.ones(count))

    def of(self, rows: Array) -> Points:
        """Some of them."""
        return Points(self.u[:, rows], self.weight[rows])

    def anew(self, log: Array, count: int = DRAWS_ANEW) -> Points:
        """Others, most of them around the likeliest of these.

        Parameters
        ----------
        log : ndarray (draw,)
            Log of how likely each is.
        count : int

        Examples
        --------
        >>> even = Points.even(360)
        >>> near = even.anew(-0.5 * ((even.u[0] - 0.3) / 0.02) ** 2)
        >>> float(np.average(near.u[1], weights=near.weight).round(1)), float(np.median(near.u[0]).round(1))
        (0.5, 0.3)
        """
        best = np.argsort(-log)[:AROUND]
        chance = np.exp(log[best] - log[best[0]])
        chance = chance / chance.sum()
        middle = self.u[:, best]
        mean = middle @ chance
        wide = np.sqrt((middle - mean[:, None]) ** 2 @ chance)
        near = np.maximum(wide, NEAR_LEAST)
        u = _halton(count, first=SECOND)
        shift = (np.arange(count) + 0.5) / count
        evenly = shift < EVENLY
        whose = np.searchsorted(np.cumsum(chance), (shift - EVENLY) / (1.0 - EVENLY)).clip(0, len(best) - 1)
        at = middle[:, whose]
        low, high = ndtr(-at / near[:, None]), ndtr((1.0 - at) / near[:, None])
        moved = at + near[:, None] * ndtri(low + u * (high - low))
        found = np.where(evenly, u, np.clip(moved, 1e-6, 1.0 - 1e-6))
        return Points(found, 1.0 / _density(found, middle, near, chance))


def _density(u: Array, middle: Array, near: Array, chance: Array) -> Array:
    """How densely the second draws lie (draw,), against even ones."""
    off = (u[:, :, None] - middle[:, None, :]) / near[:, None, None]
    inside = ndtr((1.0 - middle) / near[:, None]) - ndtr(-middle / near[:, None])
    logs = (-0.5 * off**2 - np.log(np.sqrt(2 * np.pi) * (near[:, None] * inside))[:, None, :]).sum(axis=0)
    return EVENLY + (1.0 - EVENLY) * (np.exp(logs) @ chance)


@dataclass(frozen=True, eq=False)
class Draws:
    """What nobody knows (draw,): light [W/m²], heat of the cells [°C], four shares 0 to 1, and what each counts."""

    light: Array
    temp_cell: Array
    size: Array
    depth: Array
    place: Array
    other: Array
    weight: Array

    def __len__(self) -> int:
        return len(self.light)


def drawn(readings: FaultReadings, points: Points) -> Draws:
    """Light, heat and the rest as far as the readings leave them open.

    Examples
    --------
    >>> known = drawn(FaultReadings(v_array=18.0, light=500.0, temp_cell=30.0), Points.even(360))
    >>> float(np.median(known.light).round(-1)), float(np.median(known.temp_cell).round())
    (500.0, 30.0)
    """
    u = points.u
    if readings.light is None:
        light = np.exp(np.interp(u[0], [0, 1], np.log(LIGHT_ANY)))
    else:
        off = np.where(u[5] < WIDE_TAIL, max(WIDE_PCT, readings.light_within_pct), readings.light_within_pct)
        exact = readings.light_within_pct <= BY_METER_PCT
        off = np.maximum(off, DIM_PCT) if readings.light < LIGHT_DIM else off
        spread = readings.light_within_pct if exact else off
        light = np.clip(readings.light * np.exp(ndtri(u[0]) * spread / 100.0), 0.02, 1500.0)
    usual = AIR + PER_LIGHT * light
    middle, spread = (usual, HEAT_OFF) if readings.temp_cell is None else (readings.temp_cell, HEAT_READ)
    temp_cell = np.clip(middle + spread * ndtri(u[1]), -55.0, 105.0)
    return Draws(light, temp_cell, u[2], u[3], u[4], u[6], points.weight)


def first_points(readings: FaultReadings) -> Points:
    """Even ones, as many as the readings need."""
    return Points.even(DRAWS_BLIND if readings.light is None else DRAWS)


def _halton(count: int, first: int = 1) -> Array:
    """Even points of several shares, open at both ends (share, draw)."""
    found = np.zeros((len(PRIMES), count))
    for row, base in zip(found, PRIMES, strict=True):
        left, part = np.arange(first, first + count), 1.0 / base
        while left.any():
            left, digit = np.divmod(left, base)
            row += digit * part
            part /= base
    return found
