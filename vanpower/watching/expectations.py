"""What a day would bring under each cause: watt-hours, highest watts and volts beside those of a sound clear day.

Days of the sky bank are sent through each cause's tables, month by month at one latitude. What comes out is how often a
day brings how much of the sound clear day's watt-hours and highest watts, as logarithms on a grid: for the whole day,
for at least so many watt-hours (a battery that filled up), for at least so much of both, and for the first quarter and
half of the daylight (a battery that filled up early).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, partial
from itertools import groupby, pairwise
from typing import Any

import numpy as np

from vanpower.model.cache import SizedCache
from vanpower.rig import Panel, Rig
from vanpower.watching.causes import HEATS, LIGHTS, LIT, Behaviour, Cause, causes_of
from vanpower.watching.skies import KINDS, STYLES, ClearDay, SkyBank, clear_days, facing_many_ways, sky_bank, spread_of
from vanpower.watching.waking import Awake, awake_of

Array = np.ndarray

STEP, LOWEST, POINTS = 0.05, -2.6, 62
# of the logarithms' grid
WIDTHS, HALF_WIDTHS, QUARTER_WIDTHS = (0.05, 0.05), (0.14, 0.08), (0.28, 0.11)
# of a day's own scatter about the model in watt-hours and highest watts: for the whole day, and for the first half and
# the first quarter of its light, whose watt-hours are told from loads and absorption; no source
GRID = LOWEST + STEP * np.arange(POINTS)
EVEN = np.full(POINTS, 1.0 / POINTS, np.float32)
# chances where no day is known
EXACT, MORE, BOTH = (False, False), (True, False), (True, True)
# whether watt-hours and highest watts are counted from above: so much or more
MADE_OF: dict[str, tuple[int, tuple[float, float], tuple[bool, bool]]] = {
    "exact": (0, WIDTHS, EXACT), "more": (0, WIDTHS, MORE), "both": (0, WIDTHS, BOTH),
    "half": (1, HALF_WIDTHS, EXACT), "quarter": (2, QUARTER_WIDTHS, EXACT),
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
TILTED, HEADINGS = 5.0, (0.0, 60.0, 120.0, 180.0, 240.0, 300.0)
# [degrees] tilt from which the heading counts, and headings that are told apart
FINER = 11
# parts of a bank's part, 3 to 5 minutes each, in which dawns and dusks are looked for
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
            table[:, :, cause] = packed(_by_sky(energy, high, self.of_kind, widths, bounds))
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
        self._sound: dict[Near, SoundDay] = {}
        self._densities: dict[tuple[float, int, tuple[float, ...]], Densities] = {}

    @property
    def panel(self) -> Panel:
        """The panel whose plane and mount stand for all."""
        return self.rig.panels[self.rig.circuits[self.circuits[0]].wiring.panels[0]]

    def sound(self, latitude: float, number: int, heading: float = 0.0, longitude: float = np.nan) -> SoundDay:
        """The sound array's clear day at a place, by the number of the day in the year."""
        return self.sounds([(latitude, number, heading, longitude)])[0]

    def sounds(self, where: Iterable[tuple[float, int, float, float]]) -> list[SoundDay]:
        """The same of many days, those of one place worked out together."""
        keys = [_near(*each) for each in where]
        missing = sorted({key for key in keys if key not in self._sound}, key=_place)
        for place, some in groupby(missing, key=_place):
            days = list(some)
            self._sound |= zip(days, self._clear(*place, days), strict=True)
        return [self._sound[key] for key in keys]

    def _clear(self, latitude: float, east: float, days: Sequence[Near]) -> list[SoundDay]:
        """Clear days at one place."""
        parts, longitude = self.bank.share.shape[1], east if np.isfinite(east) else None
        numbers, headings = [day[1] for day in days], [day[2] for day in days]
        skies = clear_days(latitude, numbers, self.panel, headings, parts, longitude)
        return [self._sound_day(sky) for sky in skies]

    def _sound_day(self, sky: ClearDay) -> SoundDay:
        """What the sound array brings on a clear day."""
        (p,) = InLight(sky, np.ones((1, len(sky.hour)))).read(self.causes[0], _read_watts)[0]
        so_far, high = np.cumsum(p) * sky.part_h, np.maximum.accumulate(p)
        return SoundDay(float(so_far[-1]), float(high[-1]), so_far, high, sky.daylight_h, sky.hour, p)

    def densities(self, latitude: float, month: int, heading: float = np.nan) -> Densities:
        """How likely days are under each cause in a month, counted from 1; NaN where nobody told the heading."""
        key = (LATITUDES * round(latitude / LATITUDES), month, self._headings(heading))
        if key not in self._densities:
            self._densities[key] = _densities(self.causes, self.bank, self.panel, *key)
        return self._densities[key]

    def _headings(self, heading: float) -> tuple[float, ...]:
        """For which headings days are made: a flat array needs one, and one that nobody told may be any."""
        if self.panel.tilt_deg < TILTED:
            return HEADINGS[:1]
        nearest = len(HEADINGS) * heading / 360.0
        return (HEADINGS[round(nearest) % len(HEADINGS)],) if np.isfinite(heading) else HEADINGS


Near = tuple[float, int, float, float]
# latitude, number of the day, heading and longitude, as near as counts; infinite where no longitude is known


def _near(latitude: float, number: int, heading: float, longitude: float) -> Near:
    """The day whose clear sky stands for one: within 0.1 and 1 degree, 5 days and 10 degrees."""
    east = round(longitude, 0) if np.isfinite(longitude) else np.inf
    return round(latitude, 1), 5 * round(number / 5), round(heading, -1), east


def _place(near: Near) -> tuple[float, float]:
    """Latitude and longitude."""
    return near[0], near[3]


@lru_cache(maxsize=4)
def expectation_of(rig: Rig, circuits: tuple[int, ...]) -> Expectation:
    """What the days of a rig would bring; one for all histories of it."""
    return Expectation(rig, circuits)


def cell_of(value: Array | float) -> Array:
    """Place of a logarithm on the grid, as a number with its fraction."""
    return np.minimum(np.maximum((np.asarray(value) - LOWEST) / STEP, 0.0), POINTS - 1.0)


def _densities(
    causes: Sequence[Cause], bank: SkyBank, panel: Panel, latitude: float, month: int, headings: Sequence[float]
) -> Densities:
    """Send every sky of the bank through every cause; of several headings, its days take turns."""
    parts = bank.share.shape[1]
    number = round(30.4 * month - 15)
    each = clear_days(latitude, [number] * len(headings), panel, headings, FINER * parts)
    fine = facing_many_ways(each, len(bank.share))
    sky = fine.coarser(FINER)
    means, peaks = InLight(sky, bank.share), InLight(sky, bank.peak, bank.share)
    (clear,) = InLight(sky, np.ones((1, parts))).read(causes[0], _read_watts)
    kind = _kinds(means, causes[0], clear)
    made = [_of_cause(cause, means, peaks, clear, kind) for cause in causes]
    energy, high = (np.stack([one[k] for one in made]).astype(np.float32) for k in (0, 1))
    v_oc, v_work = (np.stack([one[k] for one in made]) for k in (2, 3))
    noon = [_at_noon(cause, sky) for cause in causes]
    at_light = np.stack([p for p, _ in noon]), np.stack([volts for _, volts in noon])
    usual = clear.mean(axis=0)
    hour = np.where(usual > LEAST_CLEAR * usual.max(), sky.hour, np.nan)
    shares = partial(_shares, causes, bank, sky, clear)
    awake = awake_of(causes, bank, fine)
    energy, high = (np.moveaxis(each, 1, 0) for each in (energy, high))
    return Densities(energy, high, v_oc, v_work, awake, at_light, kind, hour, shares)


def _at_noon(cause: Cause, sky: ClearDay) -> tuple[Array, Array]:
    """Watts and volts at work over all lights in the air of noon (light,)."""
    heat = float(sky.temp_air[len(sky.temp_air) // 2]) + sky.rise * LIGHTS / 1000.0
    p, _, v_work = _read_all(cause.tables[-1], _spot(LIGHTS, heat))
    return p, v_work


def _kinds(means: InLight, sound: Cause, clear: Array) -> Array:
    """Which kind of sky each day of the bank is, by its watt-hours (day,)."""
    (p,) = means.read(sound, _read_watts)
    return np.searchsorted(KINDS, p.sum(axis=1) / np.maximum(clear.sum(axis=1), 1e-9))


def _of_cause(cause: Cause, means: InLight, peaks: InLight, clear: Array, kind: Array) -> tuple[Array, ...]:
    """Logarithms of watt-hours (part of the day, day), of highest watts (part of the day, style, day), and volts."""
    p, v_oc, v_work = means.read(cause, _read_all)
    (tops,) = peaks.read(cause, _read_watts)
    ends = [p.shape[1] // share for share in (1, 2, 4)]
    energy = [_log(p[:, :last].sum(axis=1) / np.maximum(clear[:, :last].sum(axis=1), 1e-9)) for last in ends]
    high = [_log(tops[:, :, :last].max(axis=2) / np.maximum(clear[:, :last].max(axis=1), 1e-9)) for last in ends]
    return np.stack(energy), np.stack(high), _means(v_oc.max(axis=1), kind), _means(v_work.max(axis=1), kind)


def _shares(causes: Sequence[Cause], bank: SkyBank, sky: ClearDay, clear: Array) -> Array:
    """Highest watts of every cause over the sound clear day's, (cause, style, day, part)."""
    peaks = InLight(sky, bank.peak, bank.share)
    return np.stack([(peaks.read(cause, _read_watts)[0] / np.maximum(clear, 1e-9)).astype(np.float32)
                     for cause in causes])  # fmt: skip


def _by_sky(energy: Array, high: Array, kind: Array, widths: tuple[float, float], bounds: tuple[bool, bool]) -> Array:
    """Chances of one cause by the kinds of sky, style after style, (sky, watt-hours, highest watts)."""
    order = np.argsort(kind, kind="stable")
    of_energy = _smeared(energy[order], widths[0])
    of_high = _smeared(high[:, order], np.maximum(HIGH_WIDTHS, widths[1])[kind[order]])
    of_energy, of_high = (
        _from_above(each) if bound else each for each, bound in zip((of_energy, of_high), bounds, strict=True)
    )
    even = [_from_above(EVEN) if bound else EVEN for bound in bounds]
    ends = np.searchsorted(kind[order], np.arange(SKIES + 1))
    found = [_spread(of_energy[first:last], of_high[:, first:last], even) for first, last in pairwise(ends)]
    return np.stack(found, axis=1).reshape(-1, POINTS, POINTS)


def _from_above(chance: Array) -> Array:
    """Chance of so much or more (..., cell)."""
    return chance @ np.tri(POINTS, dtype=np.float32)


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


def _smeared(value: Array, width: Array | float) -> Array:
    """Chance of each cell of the grid for every value, with a normal scatter of its own or one for all (..., cell)."""
    per = (np.sqrt(0.5) / np.broadcast_to(width, np.shape(value)))[..., None].astype(np.float32)
    mass = GRID.astype(np.float32) - np.clip(value, GRID[0], GRID[-1])[..., None].astype(np.float32)
    mass *= per
    mass *= -mass
    np.exp(np.maximum(mass, SMALLEST, out=mass), out=mass)
    mass /= mass.sum(axis=-1, keepdims=True)
    return mass


def _spread(energy: Array, high: Array, even: Sequence[Array]) -> Array:
    """Chance of each cell of the grid, from days, (style, watt-hours, highest watts); even where there are none."""
    if not len(energy):
        return np.broadcast_to(np.outer(*even), (len(high), POINTS, POINTS))
    return energy.T @ high / np.float32(len(energy))


Spot = tuple[Array, Array, Array]
# where light and heat lie in a cause's tables, see `_spot`
Reader = Callable[[Behaviour, Spot], tuple[Array, ...]]


def _spot(light: Array, heat: Array) -> Spot:
    """Place in the tables: the point before it, light after light, and how far behind it light and heat lie."""
    left = np.clip(np.searchsorted(LIGHTS, light) - 1, 0, len(LIGHTS) - 2)
    along = np.clip((light - LIGHTS[left]) / np.diff(LIGHTS)[left], 0.0, 1.0)
    step = HEATS[1] - HEATS[0]
    at = np.clip((heat - HEATS[0]) / step, 0.0, len(HEATS) - 1.001)
    below = at.astype(int)
    return left * len(HEATS) + below, along, at - below


def _read_watts(table: Behaviour, spot: Spot) -> tuple[Array]:
    """Watts alone."""
    return (_read(table.p, spot),)


def _read_all(table: Behaviour, spot: Spot) -> tuple[Array, Array, Array]:
    """Watts, open-circuit volts and volts at work."""
    p = _read(table.p, spot)
    return p, _read(table.v_oc, spot), np.where(p > 0, _read(table.v_work, spot), 0.0)


def _read(table: Array, spot: Spot) -> Array:
    """Straight lines between the points of a table (light, heat)."""
    point, along, up = spot
    low, high = (table.take(point + row) * (1.0 - up) + table.take(point + row + 1) * up for row in (0, len(HEATS)))
    return low * (1.0 - along) + high * along


class InLight:
    """Days in the light of a sky, and what every cause makes of them: how much light it leaves is reckoned once.

    Parameters
    ----------
    sky : ClearDay
    share : ndarray (..., day, part)
        Of the clear sky's light.
    mean : ndarray (day, part), optional
        The same in the mean of each part, which heat follows; if not told, `share`.
    """

    def __init__(self, sky: ClearDay, share: Array, mean: Array | None = None) -> None:
        self.sky, self.share, self.light = sky, share, sky.on_plane(share)
        self.warm = self.light if mean is None else sky.on_plane(mean)
        self._spots: dict[float, Spot] = {}
        self._shaded: tuple[Any, list[tuple[Array, ...]]] = (None, [])

    def read(self, cause: Cause, read: Reader) -> tuple[Array, ...]:
        """What is read of the tables of a cause, (..., day, part) each."""
        spot = self._spot(cause.dim)
        if cause.window is None:
            return read(cause.tables[0], spot)
        # windows of one shadow follow each other
        asked = cause.tables, read
        if self._shaded[0] != asked:
            self._shaded = asked, list(zip(*(read(table, spot) for table in cause.tables), strict=True))
        return self._in_shadow(cause.window, self._shaded[1])

    def _spot(self, dim: float) -> Spot:
        """Where the days lie in tables, where a share of the light is taken."""
        if dim not in self._spots:
            lit = 1.0 - dim
            heat = self.sky.temp_air + self.sky.rise * (lit * self.warm) / 1000.0
            self._spots[dim] = _spot(lit * self.light, heat)
        return self._spots[dim]

    def _in_shadow(self, window: tuple[float, float], quantities: list[tuple[Array, ...]]) -> tuple[Array, ...]:
        """Between the tables of a shaded panel, by what the sky lets into the shadow while it falls."""
        inside = (self.sky.hour >= window[0]) & (self.sky.hour < window[1])
        lit = np.where(inside, spread_of(self.share), 1.0)
        knots = (*LIT, 1.0)
        place = np.clip(np.searchsorted(knots, lit) - 1, 0, len(knots) - 2)
        weight = np.clip((lit - np.array(knots)[place]) / np.diff(knots)[place], 0.0, 1.0)
        low, high = ([np.choose(place + up, each) for each in quantities] for up in (0, 1))
        return tuple(a * (1.0 - weight) + b * weight for a, b in zip(low, high, strict=True))
