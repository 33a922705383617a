"""What a day would bring under each cause: watt-hours, highest watts and volts beside those of a sound clear day.

Days of the sky bank are sent through each cause's tables, month by month at one latitude. What comes out is how often a
day brings how much of the sound clear day's watt-hours and highest watts, as logarithms on a grid: for the whole day,
for at least so many watt-hours (a battery that filled up), for at least so much of both, and for the first quarter and
half of the daylight (a battery that filled up early).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, partial

import numpy as np

from vanpower.model.cache import SizedCache
from vanpower.rig import Panel, Rig
from vanpower.watching.causes import HEATS, LIGHTS, LIT, SHADOW, Behaviour, Cause, causes_of
from vanpower.watching.skies import KINDS, STYLES, ClearDay, SkyBank, clear_day, sky_bank, spread_of
from vanpower.watching.waking import Awake, awake_of

Array = np.ndarray

STEP, LOWEST, POINTS = 0.05, -2.6, 62
# of the logarithms' grid
WIDTHS, HALF_WIDTHS, QUARTER_WIDTHS = (0.05, 0.05), (0.14, 0.08), (0.28, 0.11)
# of a day's own scatter about the model in watt-hours and highest watts: for the whole day, and for the first half and
# the first quarter of its light, whose watt-hours are told from loads and absorption; no source
GRID = LOWEST + STEP * np.arange(POINTS)
MADE_OF: dict[str, tuple[int, tuple[float, float], tuple[int, ...]]] = {
    "exact": (0, WIDTHS, ()), "more": (0, WIDTHS, (1,)), "both": (0, WIDTHS, (1, 2)),
    "half": (1, HALF_WIDTHS, ()), "quarter": (2, QUARTER_WIDTHS, ()),
}  # fmt: skip
# tables: of just so much, of at least so many watt-hours, of at least so much of both, and of just so much by noon and
# by the first quarter; the part of the day, its scatter, and the axes along which they count from above
TABLES = SizedCache(128 * 2**20)
# tables of all months and rigs, 2 MB each; those longest unused are made anew from the days, in a hundredth of a second
TWO_HOURS = tuple((first, first + 2.0) for first in (6.0, 8.0, 10.0, 12.0, 14.0, 16.0))
# [h] by the sun, in which a log is held against the clear sky
HOURS_WIDTH, LEAST_CLEAR = 0.07, 0.08
# scatter of the logarithm of those shares, and share of the day's clear watts below which no hour counts; no source
LATITUDES = 4.0
# [degrees] apart of the latitudes that densities are made for; the clear day itself is worked out at each
LEAST_CHANCE = 1e-4
# of a cell of the grid of two hours
SMALLEST = np.float32(-28.0)
# logarithm of the least that a scatter gives any cell; products of less are numbers that a processor takes ten times as
# long to multiply
LEAST_SHARE = 1e-3
# a day never brings less of a clear one, for the logarithm
SKIES = len(KINDS) + 1
# dull, mixed, fair, clear; each once for every style of highest values
HIGH_WIDTHS = (0.12, 0.10, 0.07, 0.05)
# least scatter of highest watts by the kind of sky, as cloudy days differ by more than hours of a typical year show: at
# system_15 (quarter hours, data of pvanalytics) nine tenths of the logarithms of highest watts over watt-hours span
# 0.97 on dull days, 0.69, 0.37, 0.23 and 0.20 on the clearest


@dataclass(frozen=True, eq=False)
class SoundDay:
    """What the sound array brings on a clear day.

    Parameters
    ----------
    energy_wh, p_high : float
        [Wh, W]
    so_far, high_so_far : ndarray (part,)
        Watt-hours and highest watts from dawn to the end of each part of the daylight. [Wh, W]
    daylight_h : float
        [h]
    hour, p : ndarray (part,)
        Middle of each part by the sun, and watts then. [h, W]
    """

    energy_wh: float
    p_high: float
    so_far: Array
    high_so_far: Array
    daylight_h: float
    hour: Array
    p: Array


@dataclass(frozen=True, eq=False)
class Densities:
    """How likely days are under each cause, in one month; its tables are made when they are first asked for.

    Parameters
    ----------
    energy : ndarray (part of the day, cause, day)
        Logarithms of what each day of the bank brings of the sound clear day: of all of it, its half and its quarter.
    high : ndarray (part of the day, cause, style, day)
        The same of highest watts.
    v_oc, v_work : ndarray (cause, sky)
        Highest volts of the day without load and at work. [V]
    awake : Awake
        How long a controller is awake.
    at_light : tuple of ndarray (cause, light)
        Watts and volts at work over the light around noon. [W, V]
    of_kind : ndarray (day,)
        Which kind of sky it is.
    hour : ndarray (part,)
        By the sun; NaN where the clear day has hardly any watts. [h]
    shares : callable
        Gives an array (cause, style, day, part): highest watts of each day of the bank over those of the sound clear
        day; logs alone ask for it.
    """

    energy: Array
    high: Array
    v_oc: Array
    v_work: Array
    awake: Awake
    at_light: tuple[Array, Array]
    of_kind: Array
    hour: Array
    shares: Callable[[], Array]

    def table(self, name: str) -> Array:
        """One of `MADE_OF` (watt-hours, highest watts, cause, sky), see `packed`; kept while there is room."""
        return TABLES.get((self, name), lambda: self._made(name))

    def _made(self, name: str) -> Array:
        """A table, cause by cause, so that little stands beside it."""
        part, widths, bounds = MADE_OF[name]
        table = np.empty((POINTS, POINTS, *self.v_oc.shape), np.uint16)
        for cause, (energy, high) in enumerate(zip(self.energy[part], self.high[part], strict=True)):
            chance = _by_sky(energy, high, self.of_kind, widths)
            for axis in bounds:
                chance = _from_above(chance, axis)
            table[:, :, cause] = packed(chance)
        return table

    @cached_property
    def middles(self) -> tuple[Array, Array]:
        """Mean logarithms of watt-hours and of highest watts, each (cause, sky)."""
        whole = unpacked(self.table("exact"))
        each = (whole.sum(axis=1), whole.sum(axis=0))
        energy, high = (np.tensordot(GRID, one, 1) / np.maximum(one.sum(axis=0), 1e-12) for one in each)
        return energy, high

    @cached_property
    def hours(self) -> Array:
        """How likely is which middle share of the sound clear watts in each two hours, as logarithms of chances.

        An array (two hours, share, cause, sky); logs alone ask for it.
        """
        found = [np.concatenate([_by_hours(top, self.hour, self.of_kind) for top in of_cause])
                 for of_cause in self.shares()]  # fmt: skip
        chance = np.moveaxis(np.stack(found), (0, 1), (2, 3))
        return np.ascontiguousarray(np.log(chance + LEAST_CHANCE), dtype=np.float32)

    def energy_alone(self, name: str) -> Array:
        """A table where highest watts are not known (watt-hours, cause, sky)."""
        return TABLES.get((self, name, "watt-hours"), lambda: unpacked(self.table(name)).sum(axis=1))


ROOT = np.float32(65535.0)
# what the root of a chance of one is kept as


def packed(chance: Array) -> Array:
    """Chances (sky, watt-hours, highest watts) as roots in two bytes, skies last: read together."""
    return np.moveaxis(np.rint(ROOT * np.sqrt(chance)), 0, -1).astype(np.uint16)


def unpacked(table: Array) -> Array:
    """The chances again, good to 2 parts in a hundred down to one in a million.

    Examples
    --------
    >>> f"{unpacked(packed(np.full((1, 1, 1), 1e-6))).item():.2e}"
    '1.01e-06'
    """
    return (table.astype(np.float32) / ROOT) ** 2


@dataclass(eq=False)
class Expectation:
    """What the days of one rig's circuits would bring, worked out when it is first asked for.

    Parameters
    ----------
    rig : Rig
    circuits : tuple of int
        Whose watts are counted together.
    bank : SkyBank
    """

    rig: Rig
    circuits: tuple[int, ...]
    bank: SkyBank = field(default_factory=sky_bank)

    def __post_init__(self) -> None:
        self.causes: list[Cause] = causes_of(self.rig, self.circuits)
        self._sound: dict[tuple[float, int, float, float | None], SoundDay] = {}
        self._densities: dict[tuple[float, int], Densities] = {}

    @property
    def panel(self) -> Panel:
        """The panel whose plane and mount stand for all."""
        return self.rig.panels[self.rig.circuits[self.circuits[0]].wiring.panels[0]]

    def sound(self, latitude: float, number: int, heading: float = 0.0, longitude: float = np.nan) -> SoundDay:
        """The sound array's clear day at a place, by the number of the day in the year."""
        east = round(longitude, 0) if np.isfinite(longitude) else None
        key = (round(latitude, 1), 5 * round(number / 5), round(heading, -1), east)
        if key not in self._sound:
            self._sound[key] = self._clear(*key)
        return self._sound[key]

    def _clear(self, latitude: float, number: int, heading: float, longitude: float | None) -> SoundDay:
        sky = clear_day(latitude, number, self.panel, heading, self.bank.share.shape[1], longitude)
        ones = np.ones((1, self.bank.share.shape[1]))
        p, _, _ = _watts(self.causes[0], sky, ones)
        so_far, high = np.cumsum(p[0]) * sky.part_h, np.maximum.accumulate(p[0])
        return SoundDay(float(so_far[-1]), float(high[-1]), so_far, high, sky.daylight_h, sky.hour, p[0])

    def densities(self, latitude: float, month: int) -> Densities:
        """How likely days are under each cause in a month, counted from 1."""
        key = (LATITUDES * round(latitude / LATITUDES), month)
        if key not in self._densities:
            self._densities[key] = _densities(self.causes, self.bank, self.panel, *key)
        return self._densities[key]


@lru_cache(maxsize=4)
def expectation_of(rig: Rig, circuits: tuple[int, ...]) -> Expectation:
    """What the days of a rig would bring; one for all histories of it."""
    return Expectation(rig, circuits)


def cell_of(value: Array | float) -> Array:
    """Place of a logarithm on the grid, as a number with its fraction."""
    return np.minimum(np.maximum((np.asarray(value) - LOWEST) / STEP, 0.0), POINTS - 1.0)


def _densities(causes: Sequence[Cause], bank: SkyBank, panel: Panel, latitude: float, month: int) -> Densities:
    """Send every sky of the bank through every cause."""
    parts = bank.share.shape[1]
    number = round(30.4 * month - 15)
    sky = clear_day(latitude, number, panel, 0.0, parts)
    clear = _watts(causes[0], sky, np.ones((1, parts)))[0][0]
    kind = _kinds(bank, causes[0], sky, clear)
    made = [_of_cause(cause, bank, sky, clear, kind) for cause in causes]
    energy, high = (np.stack([one[k] for one in made]).astype(np.float32) for k in (0, 1))
    v_oc, v_work = (np.stack([one[k] for one in made]) for k in (2, 3))
    noon = [_at_noon(cause, sky) for cause in causes]
    at_light = np.stack([p for p, _ in noon]), np.stack([volts for _, volts in noon])
    hour = np.where(clear > LEAST_CLEAR * clear.max(), sky.hour, np.nan)
    shares = partial(_shares, causes, bank, sky, clear)
    awake = awake_of(causes, bank, panel, latitude, number)
    energy, high = (np.moveaxis(each, 1, 0) for each in (energy, high))
    return Densities(energy, high, v_oc, v_work, awake, at_light, kind, hour, shares)


def _at_noon(cause: Cause, sky: ClearDay) -> tuple[Array, Array]:
    """Watts and volts at work over all lights in the air of noon (light,)."""
    heat = float(sky.temp_air[len(sky.temp_air) // 2]) + sky.rise * LIGHTS / 1000.0
    p, _, v_work = _read_all(cause.tables[-1], _spot(LIGHTS, heat))
    return p, v_work


def _from_above(density: Array, axis: int) -> Array:
    """Chance of so much or more along one axis."""
    return np.flip(np.cumsum(np.flip(density, axis), axis), axis)


def _kinds(bank: SkyBank, sound: Cause, sky: ClearDay, clear: Array) -> Array:
    """Which kind of sky each day of the bank is, by its watt-hours (day,)."""
    p, _, _ = _watts(sound, sky, bank.share)
    return np.searchsorted(KINDS, p.sum(axis=1) / max(float(clear.sum()), 1e-9))


def _of_cause(cause: Cause, bank: SkyBank, sky: ClearDay, clear: Array, kind: Array) -> tuple[Array, ...]:
    """Logarithms of watt-hours (part of the day, day), of highest watts (part of the day, style, day), and volts."""
    p, v_oc, v_work = _watts(cause, sky, bank.share)
    tops = _tops(cause, bank, sky)
    ends = [p.shape[1] // share for share in (1, 2, 4)]
    energy = [_log(p[:, :last].sum(axis=1) / max(float(clear[:last].sum()), 1e-9)) for last in ends]
    high = [_log(tops[:, :, :last].max(axis=2) / max(float(clear[:last].max()), 1e-9)) for last in ends]
    return np.stack(energy), np.stack(high), _means(v_oc.max(axis=1), kind), _means(v_work.max(axis=1), kind)


def _tops(cause: Cause, bank: SkyBank, sky: ClearDay) -> Array:
    """Highest watts of each part of the bank's days, in every style (style, day, part). [W]"""
    return np.stack([_watts(cause, sky, peak, bank.share, _read_watts)[0] for peak in bank.peak])


def _shares(causes: Sequence[Cause], bank: SkyBank, sky: ClearDay, clear: Array) -> Array:
    """Those of every cause over the sound clear day's, (cause, style, day, part)."""
    return np.stack([(_tops(cause, bank, sky) / np.maximum(clear, 1e-9)).astype(np.float32) for cause in causes])


def _by_sky(energy: Array, high: Array, kind: Array, widths: tuple[float, float]) -> Array:
    """Chances of one cause by the kinds of sky, style after style, (sky, watt-hours, highest watts)."""
    found, of_energy = [], _smeared(energy, widths[0])
    for style in high:
        for k, least in enumerate(HIGH_WIDTHS):
            some = kind == k
            found.append(_spread(of_energy[some], _smeared(style[some], max(least, widths[1]))))
    return np.stack(found)


def _by_hours(top: Array, hour: Array, kind: Array) -> Array:
    """Density of the middle share of the clear watts in each two hours, (sky, two hours, share)."""
    found = np.full((SKIES, len(TWO_HOURS), POINTS), 1.0 / POINTS)
    for place, (first, last) in enumerate(TWO_HOURS):
        inside = (hour >= first) & (hour < last)
        if not inside.any():
            continue
        share = _log(np.median(top[:, inside], axis=1))
        for k in range(SKIES):
            if (kind == k).any():
                found[k, place] = _smeared(share[kind == k], HOURS_WIDTH).mean(axis=0)
    return found


def _means(value: Array, kind: Array) -> Array:
    """Mean of each kind of sky, for every style; the mean of all where a kind has none."""
    each = [value[kind == k].mean() if (kind == k).any() else value.mean() for k in range(SKIES)]
    return np.array(each * len(STYLES))


def _log(share: Array) -> Array:
    return np.log(np.maximum(share, LEAST_SHARE))


def _smeared(value: Array, width: float) -> Array:
    """Chance of each cell of the grid for every value, with a normal scatter (value, cell)."""
    off = (GRID - np.clip(value, GRID[0], GRID[-1])[:, None]).astype(np.float32) / np.float32(width)
    mass = np.exp(np.maximum(-0.5 * off**2, SMALLEST))
    return mass / mass.sum(axis=1, keepdims=True)


def _spread(energy: Array, high: Array) -> Array:
    """Chance of each cell of the grid in watt-hours and highest watts, from days; even where there are none."""
    if not len(energy):
        return np.full((POINTS, POINTS), 1.0 / POINTS**2, np.float32)
    return energy.T @ high / np.float32(len(energy))


Spot = tuple[Array, Array, Array, Array]
# where light and heat lie in a cause's tables, see `_spot`
Reader = Callable[[Behaviour, Spot], tuple[Array, ...]]


def _spot(light: Array, heat: Array) -> Spot:
    """Place in the tables: left light and its weight, left heat and its weight."""
    left = np.clip(np.searchsorted(LIGHTS, light) - 1, 0, len(LIGHTS) - 2)
    along = np.clip((light - LIGHTS[left]) / (LIGHTS[left + 1] - LIGHTS[left]), 0.0, 1.0)
    step = HEATS[1] - HEATS[0]
    at = np.clip((heat - HEATS[0]) / step, 0.0, len(HEATS) - 1.001)
    return left, along, at.astype(int), at - at.astype(int)


def _read_watts(table: Behaviour, spot: Spot) -> tuple[Array]:
    """Watts alone."""
    return (_read(table.p, spot),)


def _read_all(table: Behaviour, spot: Spot) -> tuple[Array, Array, Array]:
    """Watts, open-circuit volts and volts at work."""
    p = _read(table.p, spot)
    return p, _read(table.v_oc, spot), np.where(p > 0, _read(table.v_work, spot), 0.0)


def _read(table: Array, spot: Spot) -> Array:
    """Straight lines between the points of a table (light, heat)."""
    i, a, j, b = spot
    low = table[i, j] * (1.0 - b) + table[i, j + 1] * b
    high = table[i + 1, j] * (1.0 - b) + table[i + 1, j + 1] * b
    return low * (1.0 - a) + high * a


def _watts(
    cause: Cause, sky: ClearDay, share: Array, mean: Array | None = None, read: Reader = _read_all
) -> tuple[Array, ...]:
    """What is read of the tables of a cause, (day, part) each, if not told else watts, open-circuit volts and volts at
    work; heat follows the mean of the part."""
    light = (1.0 - cause.dim) * sky.on_plane(share)
    warm = light if mean is None else (1.0 - cause.dim) * sky.on_plane(mean)
    heat = sky.temp_air + sky.rise * warm / 1000.0
    spot = _spot(light, heat)
    if cause.kind != SHADOW or cause.window is None:
        return read(cause.tables[0], spot)
    inside = (sky.hour >= cause.window[0]) & (sky.hour < cause.window[1])
    lit = np.where(inside, spread_of(share), 1.0)
    knots = (*LIT, 1.0)
    place = np.clip(np.searchsorted(knots, lit) - 1, 0, len(knots) - 2)
    weight = np.clip((lit - np.array(knots)[place]) / np.diff(knots)[place], 0.0, 1.0)
    quantities = list(zip(*(read(table, spot) for table in cause.tables), strict=True))
    low, high = ([np.choose(place + up, each) for each in quantities] for up in (0, 1))
    return tuple(a * (1.0 - weight) + b * weight for a, b in zip(low, high, strict=True))
