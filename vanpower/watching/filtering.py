"""A Bayesian filter over causes, one step a day.

The state is a cause, how the van is parked, a standing gain (label, haze, meter) and whether the tracker shows
open-circuit volts. A day's likelihood is read from the densities of `expectations`; a battery that filled up makes a
day's watt-hours a lower bound (Tobin 1958), and the minutes in bulk say how fast it filled. What the skies are and what
the volts lie off is learned by each cause for itself. Forward filter of hidden Markov chains: Rabiner (1989); when to
speak: Shiryaev (1963), both from memory; where the learning of a cause begins: Blom and Bar-Shalom (1988).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from vanpower.watching.causes import DIRT, GROUP, LEAK, LIGHTS, LIMIT, LIMITS, LOSS, PANEL, SHADOW, SOUND, TIED, Cause
from vanpower.watching.expectations import (
    LEAST_CLEAR,
    ROOT,
    SKIES,
    STEP,
    TILTED,
    TWO_HOURS,
    Densities,
    Expectation,
    SoundDay,
    cell_of,
)
from vanpower.watching.histories import History
from vanpower.watching.logs import BINS, LogDays
from vanpower.watching.parking import Ways, ways_of
from vanpower.watching.skies import AIR, STYLES, WARMEST
from vanpower.watching.stays import Stays

Array = np.ndarray

STAYS_ON, UNKNOWN_MOVE = 0.9995, 1.0 / 12.0
# a day: that parking stays as it is between moves, for no woods grow over a van that stands, and that a van whose moves
# nobody told has moved; no source
GAINS = np.arange(-0.20, 0.151, STEP)
# logarithms of the standing gain
GAIN_MIDDLE, GAIN_WIDTH, GAIN_STEP = -0.02, 0.07, 0.0003
# its prior, and the chance a day of a step to a neighbour: haze, season, heat, the label; 1 % in two months, since what
# wanders faster swallows a tenth that is lost from one day on
GAIN_PRIOR = np.exp(-((GAINS - GAIN_MIDDLE) ** 2) / (2 * GAIN_WIDTH**2))
GAIN_PRIOR /= GAIN_PRIOR.sum()
HAZARDS = {GROUP: 1 / 2200, PANEL: 1 / 2200, LEAK: 1 / 96000, LIMIT: 1 / 6000, SHADOW: 1 / 30000, TIED: 1 / 240000,
           LOSS: 1 / 20000}  # fmt: skip
# a day that a sound array begins to have each cause; no source: a leak takes dull watts, and so does a sky that no bank
# shows, so that it has to be seen for longer
DIRT_FIRST, DIRT_UP, DIRT_CLEAN, DIRT_HALF = 1 / 1600, 0.033, 0.012, 0.006
# a day: first step of dirt, one more, rain that washes it off, rain that takes half
MENDED = 1 / 400
# a day that any cause is put right
FLOOR, ALIKE_DAYS = 4.5, 0.8
# a day counts for no more than exp(-4.5) of its best cause, and to this power, since neighbouring days are alike
SKY_KEEPS, SKY_LEAST = 0.98, 0.04
# how much of yesterday's shares of skies stays, and the least share of each; no source
STYLE_POWER, STYLE_LEAST = 0.5, 0.1
# to which power a day counts for the style of highest watts, and the least chance of each; no source
HELD_MIN = 20.0
# [minutes] of absorption or float from which watt-hours are a lower bound
NOON_MIN = 60.0
# [minutes] past half the time awake that bulk has to last for the highest watts to be free
AWAKE_SHARE = 0.6
# of the daylight: awake for less, the controller was locked out or off, and nothing but bounds is known
AWAKE_SCALE, AWAKE_POWER, AWAKE_MOST = 10.0, 0.5, 3.0
# [min] of Student's t for the time awake, beside the scatter of dawns; to which power it counts, since neighbouring
# days are alike; logarithm of light that a day may be off at most; no source
AWAKE_LEARNS, AWAKE_DAYS = 0.01, 2.0
# a day, of how dark dawns are for each cause: hills, start margin and haze; on the first days, as if so many were known
WATCH_MIN, WATCH_ENERGY, WATCH_SHARE = 75.0, 0.35, 0.15
# bulk minutes, share of the day's Wh and of the clear day's from which the speed of filling is used
ABSORBS = 0.25
# of the highest watts that the battery takes in absorption, in the mean, and at most of the day's watt-hours; no source
LOAD_DAYS = 30
# over which the mean load is reckoned
FREEDOM = 4.0
# of every Student's t
VOLTS_SCALE, VOLTS_HELD_SCALE, VOLTS_POWER = 0.03, 0.035, 0.35
# of Student's t for the logarithm of volts: free and in float; and to which power it counts
VOLTS_SAME, DULL_SAME = 0.03, 0.045
# share below which the volts of a cause are those of the sound array: what is not known of heat and label is more, and
# would add up day by day; no source
OFFSET_LEARNS, OFFSET_MOST, OFF_MOST, OFFSET_DAYS = 0.04, 0.06, 0.08, 4.0
# a day, in all, and most that a day may say: heat and meter, learned from the volts, faster on the first days, of which
# so many count as one
HOURS_POWER, ROWS_POWER = 0.45, 0.5
# to which power two hours of a day count, since they are alike, and the volts of a log's rows
DULL_DAY, DULL_POWER = 0.5, 0.1
# share of the sound clear watts that a log's dull day never reaches, and to which power such a day's hours count: what
# dull skies let through differs from climate to climate and is no sign of the array; no source
BRIGHT_SCALE, DULL_SCALE = 0.03, 0.05
# of Student's t for the logarithm of panel volts at like watts, in bright and in dull light
AT_LIMIT, LIMIT_VOLTS = 0.06, (0.0, 0.16)
# share within which a day's highest watts lie at a lower limit, and how far its panel volts then lie above those of the
# best power, as logarithms: somewhere on the way to open circuit
REACHED = 0.985
# of the absorption volts: a battery that stayed below was never full that day
UNTOLD_HELD, UNTOLD_POWER = 0.5, 0.3
# chance that the battery held the array back on a day that does not tell, and to which power such a day counts; no
# source
STRIDE, KEPT_DAYS = 10, 60
# days from one state that is kept to the next, and how many of the last ones have each their own, 20 kB: in these
# causes are put in, for what is not seen in two months is called not seen, and a state that is written begins there
LEAST_SUN = 2.0
# [W] that the sound array brings on a clear day; less is a polar night
NOTHING_SHARE = 0.03
# of the clear day's watt-hours: less is no sun, snow, frost or a controller that was off
FROST_AIR = 9.0
# [°C] fair-day air below which a day without watt-hours may be frost or snow


TINY = np.float32(1e-12)
# chance of what no day of the bank shows
LEAST_BELIEVED = 1e-30
# of a cause, or of a state of it: what it has learned stands even where nothing leads to it yet
STEP_MASS = 1.0 / 400.0
# what a bound counts beside a density on the grid: both span some 20 cells each way
SURE_LOG, SURE_TURNED, SURE_UNTOLD = 0.95, 0.99, 0.65
# the same as `SURE` of a log, of a tilted array whose heading nobody told, and where nobody told the places, so that it
# is waited for anyhow
SURE, SURE_DAYS, FIRST_DAYS = 0.63, 3, 30
# probability of a fault that has to be passed, on how many days running, and not in the first days
SURE_OF = {LOSS: 0.9, TIED: 0.9}
# the same at least where the likeliest is what is left when nothing with a sign of its own fits; no source
TOLD_DAYS, UNTOLD_DAYS = 21, 14
# for how long where the place could be to blame: while a told move is waited for, and where nobody tells moves; no
# source
SETTLED, SETTLED_DAYS, OTHER = 0.9, 7, 0.9
# share of the fault that one kind of cause has to have before it is told, for how many days that is waited for, and how
# likely another kind has to be to be told behind it
AS_NAMED = {DIRT: 0.5, SHADOW: 0.5, LOSS: 0.5, TIED: 0.5, GROUP: 2.0, LEAK: 2.0}
# factor of the odds of a kind among faults once it is told of a van that moves: places and skies that no table knows
# look like one of the first four more often than like a group or a leak; tried on simulated van-years, no other source
ALONG = 3.0
# by how much, as a logarithm, days on either side of a move must suit a cause better than a sound array
ENOUGH = 0.5
# probability of a fault down to which an alarm holds, and from which a fault is suspected before there is one
OF_PLACES = frozenset((SHADOW, DIRT, LOSS))
# causes that a place may feign for as long as the van stands there
VOLTS_SIGN = 0.08
# share by which open-circuit volts must differ for a cause that no place can feign; woods take as much as a panel, and
# whatever has no such sign waits for a move or some weeks
FLOOR_COLD = 2.0
# the same where snow or frost may be to blame

FREE, HELD, HELD_EARLY, FILLED, UNTOLD, BLANK = range(6)
# what a day's watt-hours are: all there was, a bound, a bound like the highest watts, a speed of filling, not told
# whether a bound, and nothing


@dataclass(frozen=True, eq=False)
class Days:
    """What the filter reads of each day, arrays (day,).

    Parameters
    ----------
    kind : ndarray of int
        How watt-hours and highest watts are to be taken.
    energy, high : ndarray
        Logarithms of the shares of the sound clear day, or of that part of it.
    early : ndarray of bool
        Whether the battery filled up in the first quarter of the daylight.
    volts, held : ndarray
        Highest volts of the panels, NaN where not known, and whether the battery was held. [V]
    month : ndarray of int
    cold : ndarray of bool
        Whether snow or frost may be to blame for a poor day.
    share : ndarray
        Watt-hours over those of the sound clear day.
    top : ndarray
        Highest watts over those of the sound clear day.
    awake : ndarray
        Minutes awake, NaN where not known.
    hours : ndarray (day, two hours), optional
        Of a log: logarithm of the middle share of the sound clear watts in its free rows; NaN where there are none.
    rows : LogDays, optional
        Of a log: watts and volts of its free rows.
    """

    kind: Array
    energy: Array
    high: Array
    early: Array
    volts: Array
    held: Array
    month: Array
    cold: Array
    share: Array
    top: Array
    awake: Array
    hours: Array | None = None
    rows: LogDays | None = None

    def only(self, index: slice) -> Days:
        """Some of the days."""
        names = [name for name in self.__dataclass_fields__ if name not in ("hours", "rows")]
        hours = None if self.hours is None else self.hours[index]
        rows = None if self.rows is None else self.rows.only(index)
        return Days(**{name: getattr(self, name)[index] for name in names}, hours=hours, rows=rows)


@dataclass(eq=False)
class Filtered:
    """What the filter believes on each day.

    Parameters
    ----------
    causes : list of Cause
    believed : ndarray (day, cause)
        Probability of each cause after the day, as it is told: see `as_told`.
    likely : ndarray (day, cause)
        Logarithm of how likely the day was under each cause.
    gain : ndarray (day,)
        Mean standing gain, as a logarithm.
    gain_width : ndarray (day,)
        Its standard deviation.
    states : dict of int to FilterState
        Before a day, counted from 0: before one of ten, and before each of the last `KEPT_DAYS` and behind them.
    sure : float
        Probability of a fault that has to be passed before it is told.
    volts_known : bool
        Whether panel volts are among what is known.
    """

    causes: list[Cause]
    believed: Array
    likely: Array
    gain: Array
    gain_width: Array
    states: dict[int, FilterState]
    sure: float = SURE
    volts_known: bool = True

    @property
    def fault(self) -> Array:
        """Probability of any cause a person should be told (day,)."""
        wrong = np.array([cause.is_fault for cause in self.causes])
        return self.believed[:, wrong].sum(axis=1)


@dataclass(eq=False)
class FilterState:
    """All that the filter remembers from one day to the next.

    Parameters
    ----------
    belief : ndarray (cause, parking, gain, open volts)
        In single precision, since a history keeps some 80 of them.
    skies : ndarray (cause, sky)
        Shares of the kinds of sky, if it is this cause.
    offset : ndarray (cause,)
        Logarithm of what the panel volts then lie off.
    darker : ndarray (cause,)
        How much darker dawns then are than expected, as a logarithm.
    known : (int, int)
        On how many days volts told their offset, and time awake its own.
    """

    belief: Array
    skies: Array
    offset: Array
    darker: Array
    known: tuple[int, int] = (0, 0)


def first_state(causes: list[Cause], ways: Ways) -> FilterState:
    """What is believed before the first day."""
    cause = _start(causes)
    belief = cause[:, None, None, None] * ways.share[None, :, None, None] * GAIN_PRIOR[:, None] * np.full(2, 0.5)
    skies = SKIES * len(STYLES)
    return FilterState(belief, np.full((len(causes), skies), 1.0 / skies), *np.zeros((2, len(causes))))


def _start(causes: list[Cause]) -> Array:
    """A hundredth for faults that are there already, shared out as they come."""
    chance = np.array([_hazard(cause, causes) for cause in causes])
    chance *= 100.0
    chance[0] = 1.0
    return chance / chance.sum()


def _hazard(cause: Cause, causes: list[Cause]) -> float:
    """Chance a day that a sound array begins to have a cause; shared among the sizes of a kind."""
    if cause.kind == SOUND:
        return 0.0
    if cause.kind == DIRT:
        return DIRT_FIRST if cause is next(one for one in causes if one.kind == DIRT) else 0.0
    alike = sum(one.kind == cause.kind for one in causes)
    return sum(HAZARDS[kind] for kind in cause.kinds) / alike


def transitions(causes: list[Cause]) -> Array:
    """Chance a day of going from one cause to another, (from, to)."""
    count = len(causes)
    steps = np.zeros((count, count))
    dirt = [k for k, cause in enumerate(causes) if cause.kind == DIRT]
    for k, cause in enumerate(causes):
        if cause.kind == SOUND:
            steps[k] = [_hazard(other, causes) for other in causes]
        elif cause.kind == DIRT:
            _dirty(steps, dirt, dirt.index(k))
        else:
            steps[k, 0] = MENDED
        steps[k, k] = 1.0 - steps[k].sum() + steps[k, k]
    return steps


def _dirty(steps: Array, dirt: list[int], level: int) -> None:
    """From one step of dirt: up, half way back, or clean."""
    k = dirt[level]
    steps[k, 0] += DIRT_CLEAN
    steps[k, dirt[level // 2] if level else 0] += DIRT_HALF
    if level + 1 < len(dirt):
        steps[k, dirt[level + 1]] += DIRT_UP


def days_of(history: History, stays: Stays, expected: Expectation) -> Days:
    """What the filter reads of each day of a history."""
    count = len(history)
    number = (history.dates - history.dates.astype("datetime64[Y]")).astype(int) + 1
    heading = np.where(np.isfinite(stays.heading), stays.heading, 0.0)
    where = (stays.latitude, number, heading, stays.longitude)
    sound = expected.sounds(zip(*(each.tolist() for each in where), strict=True))
    # a day without sun says nothing
    clear, top = (np.array([getattr(day, name) for day in sound]) for name in ("energy_wh", "p_high"))
    clear, top = (np.where(top > LEAST_SUN, each, np.nan) for each in (clear, top))
    light = np.array([day.daylight_h for day in sound]) * 60.0
    share, high = history.energy_wh / clear, history.p_high / top
    kind = _kinds(history, share, light, number, stays.latitude, expected)
    energy, peak, early = _log(share), _log(high), np.zeros(count, bool)
    load = _loads(history)
    for day in np.flatnonzero((kind == HELD_EARLY) | (kind == HELD)):
        found = _filling(history, int(day), sound[day], load[day], float(light[day]))
        if found is not None:
            kind[day], (energy[day], peak[day], early[day]) = FILLED, found
    held = np.nan_to_num(history.held_min) >= HELD_MIN
    month = history.dates.astype("datetime64[M]").astype(int) % 12 + 1
    cold = _fair_air(stays.latitude, number) < FROST_AIR
    hours = None if history.rows is None else _hours(history.rows, sound)
    awake = _awake(history, light)
    return Days(kind, energy, peak, early, history.v_high, held, month, cold, share, high, awake, hours, history.rows)


def _awake(history: History, light: Array) -> Array:
    """Minutes awake of days that were neither locked out nor lack a stage, else NaN (day,).

    Of a log nothing: leaks are told by its volts, and minutes made no leak of 10 known sooner and one van falsely so.
    """
    if history.rows is not None:
        return np.full(len(history), np.nan)
    minutes = history.bulk_min + history.absorption_min + history.float_min
    return np.where(np.nan_to_num(minutes) >= AWAKE_SHARE * light, minutes, np.nan)


def _hours(rows: LogDays, sound: list[SoundDay]) -> Array:
    """Logarithm of the middle share of the sound clear watts in each two hours by the sun (day, two hours).

    Of the highest watts of each half hour the middle is taken, so that one at the edge of a shadow does not hide it.
    """
    solar = (np.arange(BINS) + 0.5) / 2.0 - rows.noon_h + 12.0
    clear = np.stack([np.interp(solar, day.hour, day.p, left=0.0, right=0.0) for day in sound])
    least = LEAST_CLEAR * np.array([day.p_high for day in sound])[:, None]
    share = np.where(clear > least, rows.highs / np.maximum(clear, 1e-9), np.nan)
    found = np.full((len(sound), len(TWO_HOURS)), np.nan)
    for place, (first, last) in enumerate(TWO_HOURS):
        some = share[:, (solar >= first) & (solar < last)]
        there = np.isfinite(some).any(axis=1)
        found[there, place] = np.nanmedian(some[there], axis=1)
    return np.log(np.maximum(found, 1e-3))


def _log(share: Array) -> Array:
    return np.log(np.maximum(share, 1e-3))


def _kinds(
    history: History, share: Array, light: Array, number: Array, latitude: Array, expected: Expectation
) -> Array:
    """How each day is to be taken."""
    awake, held = history.awake_min, history.held_min
    kind = np.where(np.isfinite(held), FREE, _by_volts(history, expected))
    kind = np.where(held >= HELD_MIN, HELD, kind)
    early = (held >= HELD_MIN) & (history.bulk_min < 0.5 * awake + NOON_MIN)
    locked = np.isfinite(awake) & (awake < AWAKE_SHARE * light)
    kind = np.where(early | locked, HELD_EARLY, kind)
    unread = ~np.isfinite(share) | (~np.isfinite(history.p_high) & (kind == HELD_EARLY))
    cold = _fair_air(latitude, number) < FROST_AIR
    nothing = (np.nan_to_num(share, nan=1.0) < NOTHING_SHARE) & (cold | locked)
    return np.where(unread | nothing, BLANK, kind)


def _by_volts(history: History, expected: Expectation) -> Array:
    """Free where the battery's highest volts stayed below absorption, else held back; not told without such volts."""
    below = history.v_battery_high < REACHED * expected.rig.battery.v_absorption
    return np.where(np.isfinite(history.v_battery_high), np.where(below, FREE, HELD_EARLY), UNTOLD)


def _fair_air(latitude: Array, number: Array) -> Array:
    """Air of a fair day, roughly. [°C]"""
    base, fall, swing, most = AIR
    year = np.cos(2 * np.pi * (number - WARMEST) / 365) * np.sign(latitude)
    return base - fall * latitude**2 + np.minimum(swing * latitude**2, most) * year


def _loads(history: History) -> Array:
    """Mean watts that are drawn, from the watt-hours of the last weeks (day,). [W]"""
    energy = np.nan_to_num(history.energy_wh)
    sums = np.cumsum(np.concatenate([[0.0], energy]))
    last = np.arange(1, len(energy) + 1)
    first = np.maximum(last - LOAD_DAYS, 0)
    return (sums[last] - sums[first]) / (last - first) / 24.0


def _filling(
    history: History, day: int, sound: SoundDay, load: float, light: float
) -> tuple[float, float, bool] | None:
    """How fast the battery filled: shares of the clear day up to the end of bulk; None where that does not tell."""
    bulk, energy, high = (float(getattr(history, name)[day]) for name in ("bulk_min", "energy_wh", "p_high"))
    parts, late = len(sound.so_far), max(light - float(history.awake_min[day]), 0.0) / 2.0
    # it wakes some time after dawn, and falls asleep as long before dusk
    place = (bulk + late) / light * parts
    if not (np.isfinite(bulk) and np.isfinite(high)) or bulk < WATCH_MIN or place > 0.65 * parts:
        return None
    absorbed = ABSORBS * high * float(np.nan_to_num(history.absorption_min[day])) / 60.0
    in_bulk = energy - load * float(np.nan_to_num(history.held_min[day])) / 60.0 - min(absorbed, ABSORBS * energy)
    clear = float(np.interp(place, np.arange(parts + 1), np.concatenate([[0.0], sound.so_far])))
    if in_bulk < WATCH_ENERGY * energy or clear < WATCH_SHARE * sound.energy_wh:
        return None
    highest = float(np.interp(place, np.arange(parts) + 0.5, sound.high_so_far))
    return np.log(max(in_bulk / clear, 1e-3)), np.log(max(high / highest, 1e-3)), place < 0.375 * parts


def run_filter(days: Days, stays: Stays, expected: Expectation, state: FilterState | None = None) -> Filtered:
    """The filter over all days, one after the other.

    Parameters
    ----------
    days : Days
    stays : Stays
    expected : Expectation
    state : FilterState, optional
        What was believed after the day before the first.
    """
    causes = expected.causes
    turned = np.isfinite(stays.heading)
    ways = [
        ways_of(expected, float(stays.latitude[day]), int(days.month[day]), turned=bool(turned[day]))
        for day in range(len(days.kind))
    ]
    now = first_state(causes, ways[0]) if state is None else state
    belief, skies, learned, known = now.belief.astype(float), now.skies, (now.offset, now.darker), now.known
    steps = transitions(causes).T
    # how fast a battery filled tells amounts and not hours, for low sun, haze and a late start look like a morning's
    # shadow; and of a log, a leak is told by volts alone, for dull watts and a dark sky are one
    kinds = {SHADOW} if days.hours is None else {LEAK}
    placed = np.flatnonzero([cause.kind in kinds for cause in causes])
    limits = limits_of(causes)
    count, factors = len(days.kind), _factors(causes, stays.stands)
    believed, likely = np.zeros((count, len(causes))), np.zeros((count, len(causes)))
    gain, width = np.zeros(count), np.zeros(count)
    states = {0: now}
    elsewhere = 0.0 if stays.stands else 1.0 - STAYS_ON if stays.moves else UNKNOWN_MOVE
    for day in range(count):
        flow = came_from(_of_causes(belief), steps)
        skies, learned = flow @ skies, (flow @ learned[0], flow @ learned[1])
        belief = _moved(belief, steps, ways[day].share, 1.0 if stays.moved[day] else elsewhere)
        if days.kind[day] != BLANK or np.isfinite(days.volts[day]) or days.hours is not None:
            place = float(stays.latitude[day]), int(days.month[day]), float(stays.heading[day])
            density = expected.densities(*place)
            like, of_sky, *off = _likelihood(days, day, density, skies, learned, belief, placed, ways[day], limits)
            likely[day] = _by_cause(like, belief)
            belief = belief * np.exp(ALIKE_DAYS * np.log(like))
            belief /= belief.sum()
            skies = skies_after(skies, of_sky)
            learned, known = _learned(learned, known, off)
        believed[day] = as_told(_of_causes(belief), factors)
        of_gain = belief.reshape(-1, 2 * len(GAINS)).sum(axis=0).reshape(-1, 2).sum(axis=1)
        gain[day] = of_gain @ GAINS
        width[day] = np.sqrt(max(of_gain @ (GAINS - gain[day]) ** 2, 0.0))
        if (after := day + 1) % STRIDE == 0 or after >= count - KEPT_DAYS:
            states[after] = FilterState(belief.astype(np.float32), skies, learned[0], learned[1], known)
            # what begins there ends where this does
            belief = states[after].belief.astype(float)
    told = bool(turned.all()) or expected.panel.tilt_deg < TILTED
    of_days = SURE if stays.places else SURE_UNTOLD
    sure = SURE_TURNED if not told else of_days if days.hours is None else SURE_LOG
    volts_known = bool(np.isfinite(days.volts).any())
    return Filtered(causes, believed, likely, gain, width, states, sure, volts_known)


def _factors(causes: list[Cause], stands: bool) -> Array:
    """Factors of the causes' odds once they are told (cause,); 0 of what is no fault."""
    of_kind = {} if stands else AS_NAMED
    return np.array([cause.is_fault * max(of_kind.get(kind, 1.0) for kind in cause.kinds) for cause in causes])


def as_told(believed: Array, factors: Array) -> Array:
    """What is believed of each cause once faults are weighed against each other; their sum stays as it is.

    Parameters
    ----------
    believed : ndarray (cause,)
        Probability of each cause.
    factors : ndarray (cause,)
        Of the odds of each fault; 0 of a cause that is none.

    Examples
    --------
    >>> as_told(np.array([0.4, 0.4, 0.2]), np.array([0.0, 0.5, 2.0])).round(12).tolist()
    [0.4, 0.2, 0.4]
    """
    wrong, weighed = factors > 0.0, believed * factors
    return np.where(wrong, weighed * (believed[wrong].sum() / max(weighed.sum(), LEAST_BELIEVED)), believed)


def _learned(
    before: tuple[Array, Array], known: tuple[int, int], off: Sequence[Array]
) -> tuple[tuple[Array, Array], tuple[int, int]]:
    """How far volts and time awake lie off, after a day that was so far off; and on how many days each was told."""
    volts, awake = (count + bool(one.any()) for count, one in zip(known, off, strict=True))
    offset = before[0] + max(OFFSET_LEARNS, 1.0 / (volts + OFFSET_DAYS)) * off[0]
    darker = before[1] + max(AWAKE_LEARNS, 1.0 / (awake + AWAKE_DAYS)) * off[1]
    return (np.minimum(np.maximum(offset, -OFFSET_MOST), OFFSET_MOST), darker), (volts, awake)


def came_from(believed: Array, steps: Array) -> Array:
    """From which causes of the day before each cause has come (to, from): by these what was learned is mixed.

    Parameters
    ----------
    believed : ndarray (cause,)
        Probability of each cause before.
    steps : ndarray (to, from)
        Chance a day of going from one cause to another.

    Notes
    -----
    Interacting multiple models: Blom and Bar-Shalom (1988).

    Examples
    --------
    Sound for sure, and each day one in a hundred goes bad: a fault begins with what the sound array has learned. Where
    both are as likely, the fault has 1.00 of its own for 0.01 of the other.

    >>> steps = np.array([[0.99, 0.0], [0.01, 1.0]])
    >>> came_from(np.array([1.0, 0.0]), steps)[1].round(3).tolist()
    [1.0, 0.0]
    >>> came_from(np.array([0.5, 0.5]), steps)[1].round(3).tolist()
    [0.01, 0.99]
    """
    flow = steps * np.maximum(believed, LEAST_BELIEVED)
    return flow / flow.sum(axis=1, keepdims=True)


def skies_after(skies: Array, of_day: Array) -> Array:
    """Shares of the skies (cause, style and kind) after a day that was so much of each, if it is that cause.

    Kinds of sky come and go with the weather; the style of highest watts is the logger's own and stays.

    Examples
    --------
    >>> def day(style, kind):
    ...     return np.outer(style, np.eye(SKIES)[kind]).reshape(1, -1)
    >>> skies = np.full((1, SKIES * len(STYLES)), 1 / (SKIES * len(STYLES)))
    >>> for fair in range(30):
    ...     skies = skies_after(skies, day((0.02, 0.94, 0.02, 0.02), 2))
    >>> for dull in range(60):
    ...     skies = skies_after(skies, day(skies.reshape(-1, SKIES).sum(axis=1), 0))
    >>> style, kind = (skies.reshape(-1, SKIES).sum(axis=along) for along in (1, 0))
    >>> int(style.argmax()), round(float(style[1]), 1), int(kind.argmax())
    (1, 0.7, 0)
    """
    before, day = (each.reshape(-1, len(STYLES), SKIES) for each in (skies, of_day))
    style = before.sum(axis=2) ** (1.0 - STYLE_POWER) * day.sum(axis=2) ** STYLE_POWER
    style = np.maximum(style / style.sum(axis=1, keepdims=True), STYLE_LEAST)
    kind = np.maximum(SKY_KEEPS * before.sum(axis=1) + (1.0 - SKY_KEEPS) * day.sum(axis=1), SKY_LEAST)
    style, kind = (each / each.sum(axis=1, keepdims=True) for each in (style, kind))
    return (style[:, :, None] * kind[:, None, :]).reshape(skies.shape)


def run_again(before: Filtered, days: Days, stays: Stays, expected: Expectation, first: int) -> Filtered:
    """The filter over days that have changed from one on, counted from 0: what was believed before stays."""
    first = max(day for day in before.states if day <= first)
    late = slice(first, None)
    again = run_filter(days.only(late), stays.only(late), expected, before.states[first])
    joined: dict[str, Any] = {name: np.concatenate([getattr(before, name)[:first], getattr(again, name)])
                              for name in ("believed", "likely", "gain", "gain_width")}  # fmt: skip
    states = {day: state for day, state in before.states.items() if day < first}
    return replace(before, **joined, states=states | {first + day: state for day, state in again.states.items()})


def _of_causes(belief: Array) -> Array:
    """What is believed of each cause, whatever parking, gain and volts (cause,)."""
    return belief.reshape(len(belief), -1).sum(axis=1)


def _moved(belief: Array, steps: Array, prior: Array, elsewhere: float) -> Array:
    """One day on: causes come and go, the gain wanders, and it may stand elsewhere, with that chance."""
    shape = belief.shape
    belief = (steps @ belief.reshape(shape[0], -1)).reshape(shape)
    belief = (1.0 - elsewhere) * belief + elsewhere * belief.sum(axis=1, keepdims=True) * prior[None, :, None, None]
    return (belief.reshape(shape[0] * shape[1], -1) @ wandering()).reshape(shape)


@lru_cache(maxsize=1)
def wandering() -> Array:
    """Chance a day of going from one gain and open volts to another (from, to).

    Gains go to a neighbour, and slowly back to what is likely; whether open volts show stays as it is.

    Examples
    --------
    >>> wandering().sum(axis=1).round(12).tolist() == [1.0] * 2 * len(GAINS)
    True
    """
    count = len(GAINS)
    steps = GAIN_STEP * (np.eye(count, k=1) + np.eye(count, k=-1))
    steps += np.diag(1.0 - steps.sum(axis=1))
    pull = GAIN_STEP / 4.0
    return np.kron((1.0 - pull) * steps + pull * GAIN_PRIOR, np.eye(2))


def _by_cause(like: Array, belief: Array) -> Array:
    """Logarithm of how likely a day was under each cause, whatever parking, gain and volts (cause,)."""
    weight = belief.reshape(len(belief), -1).sum(axis=0)
    return np.log(np.maximum(like.reshape(len(like), -1) @ (weight / weight.sum()), 1e-30))


def _likelihood(
    days: Days, day: int, density: Densities, skies: Array, learned: tuple[Array, Array], belief: Array, placed: Array,
    ways: Ways, limits: Limits,
) -> tuple[Array, Array, Array, Array]:  # fmt: skip
    """How likely a day is in each state (cause, parking, gain, open volts).

    And, cause by cause, its skies (cause, sky), how far volts lie off (cause,), and how much darker its dawn was.
    """
    mixed = _energies(days, day, density, ways, limits) * skies.astype(np.float32)
    if days.kind[day] == FILLED or days.hours is not None:
        mixed[:, :, placed] = mixed[:, :, :1]
    volts, off = _volts(days, day, density, learned[0])
    parked, gains, causes, kinds = mixed.shape
    # over skies, cause by cause: (parking and gain, sky) by (sky, open volts)
    flat = mixed.reshape(parked * gains, causes, kinds).transpose(1, 0, 2)
    like = (flat @ volts.astype(np.float32)).reshape(belief.shape).astype(float)
    fits, darker = _dawns(days, day, density, learned[1], belief, ways)
    like *= fits
    least = like.max() * np.exp(-(FLOOR_COLD if days.cold[day] else FLOOR))
    states = belief.reshape(causes, parked * gains, 2) + LEAST_BELIEVED
    states /= _of_causes(states)[:, None, None]
    of_state = (flat.transpose(0, 2, 1) @ states.astype(np.float32)) * volts
    # a day that a cause cannot explain teaches it nothing
    explained = _of_causes(of_state)
    whole = (explained + least)[:, None, None]
    of_state /= whole
    off = np.zeros_like(of_state) if off is None else np.minimum(np.maximum(off, -OFF_MOST), OFF_MOST)
    of_sky = of_state[:, :, 0] + of_state[:, :, 1] + least / whole[:, 0] * skies
    return np.maximum(like, least), of_sky, _of_causes(of_state * off), darker * explained / whole[:, 0, 0]


def _dawns(
    days: Days, day: int, density: Densities, learned: Array, belief: Array, ways: Ways
) -> tuple[Array | float, Array]:
    """How likely the time awake is (cause, parking, 1, 1), and how much darker dawn and dusk were (cause,)."""
    awake, minutes = density.awake, float(days.awake[day])
    if not np.isfinite(minutes):
        return 1.0, np.zeros(len(learned))
    darker = np.minimum(np.maximum(awake.darker(minutes, learned, ways.dawn), -AWAKE_MOST), AWAKE_MOST)
    fits = _student(darker, math.hypot(AWAKE_SCALE, awake.scatter) / awake.by_light, AWAKE_POWER)
    # woods may leave dawn and dusk open, and a day that is longer than expected speaks against none
    fits = np.where(darker[:, :1] < 0.0, fits[:, :1], 0.5 * (fits + fits[:, :1]))
    return fits[:, :, None, None], darker @ belief.reshape(*fits.shape, -1).sum(axis=2).sum(axis=0)


def _student(off: Array, scale: Array | float, power: float) -> Array:
    """Student's t of so much off, beside that of nothing, to a power."""
    return (1.0 + (off / scale) ** 2 / FREEDOM) ** (-power * (FREEDOM + 1.0) / 2.0)


@dataclass(frozen=True, eq=False)
class Limits:
    """The causes that are lower current limits; the less light there is, the less a limit cuts off.

    Parameters
    ----------
    rows : ndarray of int (limit,)
        Which causes they are.
    amps : ndarray (limit,)
        Logarithm of what each lets through.
    stand_ins : ndarray of int (stand-in,)
        Which causes may stand for them in less light: no limit at all, and every limit.
    others : ndarray (limit, stand-in)
        Logarithms of what these let through; inf for those of another circuit.
    """

    rows: Array
    amps: Array
    stand_ins: Array
    others: Array

    def in_less_light(self, found: Array, shift: Array) -> Array:
        """A table (parking, gain, cause, sky) whose limits cut off what they would of the light that is left.

        `shift` is the logarithm of what parking and gain take (parking, gain): amps stay, and the share they are rises.
        """
        if not len(self.rows):
            return found
        wanted = self.amps[:, None, None, None] - shift
        like = self.stand_ins[np.abs(self.others[:, :, None, None] - wanted).argmin(axis=1)]
        way, gain = (np.arange(size) for size in found.shape[:2])
        found[:, :, self.rows] = found[way[:, None, None], gain[:, None], like.transpose(1, 2, 0)]
        return found


def limits_of(causes: list[Cause]) -> Limits:
    """The lower current limits among the causes."""
    rows = np.array([k for k, cause in enumerate(causes) if cause.kind == LIMIT], dtype=int)
    amps = np.log([causes[row].size for row in rows])
    circuit = np.array([causes[row].circuit for row in rows])
    own = np.where(circuit[:, None] == circuit, amps, np.inf)
    none = np.array([amps[circuit == one].max() for one in circuit]) - np.log(LIMITS[0])
    return Limits(rows, amps, np.append(0, rows), np.column_stack([none, own]))


def _energies(days: Days, day: int, density: Densities, ways: Ways, limits: Limits) -> Array:
    """Density of a day's watt-hours and highest watts, (parking, gain, cause, sky)."""
    kind = int(days.kind[day])
    if days.hours is not None and np.isfinite(days.hours[day]).any():
        return _two_hours(days.hours[day], density, ways, limits)
    table = {FREE: "exact", HELD: "more", HELD_EARLY: "both", UNTOLD: "exact"}.get(kind)
    if kind == FILLED:
        table = "quarter" if days.early[day] else "half"
    if table is None:
        return np.ones((len(ways.share), len(GAINS), *density.v_oc.shape), np.float32)
    spot = float(days.energy[day]), float(days.high[day])
    found = _looked_up(density, table, *spot, ways)
    if kind == UNTOLD:
        found = (1.0 - UNTOLD_HELD) * found + UNTOLD_HELD * STEP_MASS * _looked_up(density, "both", *spot, ways)
        found = found**UNTOLD_POWER
    return limits.in_less_light(found, ways.high[:, None] + GAINS)


def _two_hours(hours: Array, density: Densities, ways: Ways, limits: Limits) -> Array:
    """Density of a log's two hours, (parking, gain, cause, sky)."""
    total = np.zeros((len(ways.share), len(GAINS), *density.hours.shape[2:]), np.float32)
    for place in np.flatnonzero(np.isfinite(hours)):
        shift = ways.hours[:, place][:, None] + GAINS[None, :]
        of_hours = _line(density.hours[place], cell_of(float(hours[place]) - shift))
        total += limits.in_less_light(of_hours, shift)
    brightest = float(np.exp(np.nanmax(hours)))
    return np.exp((HOURS_POWER if brightest > DULL_DAY else DULL_POWER) * total)


def _looked_up(density: Densities, name: str, energy: float, high: float, ways: Ways) -> Array:
    """Read a table (watt-hours, watts, cause, sky) at every parking and gain, between its points."""
    x = cell_of(energy - ways.energy[:, None] - GAINS[None, :])
    if not np.isfinite(high):
        return _line(density.energy_alone(name), x) + TINY
    table = density.table(name)
    y = cell_of(high - ways.high[:, None] - GAINS[None, :])
    (i, a), (j, b) = _between(x, len(table)), _between(y, table.shape[1])
    corners = (i * table.shape[1] + j).reshape(-1, 1) + np.array([0, 1, table.shape[1], table.shape[1] + 1])
    weight = np.stack([(1 - a) * (1 - b), (1 - a) * b, a * (1 - b), a * b], axis=-1).reshape(-1, 1, 4) / ROOT
    each = table.reshape(-1, table[0, 0].size)[corners].astype(np.float32)
    return (weight @ each).reshape(*x.shape, *table.shape[2:]) ** 2 + TINY


def _line(table: Array, x: Array) -> Array:
    """The same of one quantity alone, (share, cause, sky)."""
    i, a = _between(x, len(table))
    a = a[..., None, None]
    return table[i] * (1 - a) + table[i + 1] * a


def _between(place: Array, count: int) -> tuple[Array, Array]:
    """The point before a place on the grid, and how far behind it the place lies."""
    left = np.minimum(place.astype(int), count - 2)
    return left, (place - left).astype(np.float32)


def _volts(days: Days, day: int, density: Densities, offset: Array) -> tuple[Array, Array | None]:
    """Likelihood of the day's highest volts, (cause, sky, open volts), and how far they lie off each."""
    causes, skies = density.v_oc.shape
    if days.rows is not None:
        return _rows_volts(days, day, density, offset)
    seen = float(days.volts[day])
    if not np.isfinite(seen) or seen <= 0.5:
        return np.ones((causes, skies, 2)), None
    held = bool(days.held[day])
    working = density.v_oc if held else density.v_work
    expected = told_apart(np.maximum(np.stack([working, density.v_oc], axis=2), 0.5))
    off = np.log(seen / expected) - offset[:, None, None]
    scale = VOLTS_HELD_SCALE if held else VOLTS_SCALE
    return _student(off, scale, VOLTS_POWER), off


def told_apart(volts: Array, same: float = VOLTS_SAME) -> Array:
    """Volts of each cause, or those of the sound array, the first, where they are too near to be told from them."""
    return np.where(np.abs(np.log(volts / volts[:1])) < same, volts[:1], volts)


def _rows_volts(days: Days, day: int, density: Densities, offset: Array) -> tuple[Array, Array | None]:
    """Likelihood of a log's panel volts at like watts, as `_volts` gives it."""
    assert days.rows is not None
    causes, skies = density.v_oc.shape
    like, seen_off = np.ones(causes), None
    limits = np.array([float(p.max()) for p in density.at_light[0]])
    for name, scale in (("bright", BRIGHT_SCALE), ("dull", DULL_SCALE), ("top", BRIGHT_SCALE)):
        watts, volts = (float(getattr(days.rows, f"{what}_{name}")[day]) for what in ("p", "v"))
        if not (np.isfinite(watts) and np.isfinite(volts)) or volts <= 0.5:
            continue
        same = DULL_SAME if name == "dull" else VOLTS_SAME
        off = np.log(volts / told_apart(np.maximum(_volts_at(watts, density), 0.5), same)) - offset
        if name == "top":
            # held at a limit the panel volts stand above those of the best power
            at_limit = np.abs(watts / np.maximum(limits, 1e-9) - 1.0) < AT_LIMIT
            above = np.clip(off, *LIMIT_VOLTS)
            held = at_limit & (limits < 0.95 * limits[0])
            off = np.where(held, off - above, off)
            like *= np.where(held, (2.0 * scale / (LIMIT_VOLTS[1] - LIMIT_VOLTS[0])) ** ROWS_POWER, 1.0)
        like *= _student(off, scale, ROWS_POWER)
        seen_off = off if name == "bright" else seen_off
    wide = np.broadcast_to(like[:, None, None], (causes, skies, 2))
    return wide, None if seen_off is None else np.broadcast_to(seen_off[:, None, None], wide.shape)


def _volts_at(watts: float, density: Densities) -> Array:
    """Panel volts at work at so many watts, around noon (cause,)."""
    p, volts = density.at_light
    found = np.empty(len(p))
    for k in range(len(p)):
        top = int(np.argmax(p[k] >= 0.999 * p[k].max())) + 1
        found[k] = np.interp(watts, p[k, :top], volts[k, :top])
    return found


Dates = tuple[np.datetime64, np.datetime64]
# on which an alarm was first sure, and since when something is wrong


@dataclass(frozen=True)
class Alarm:
    """That the filter spoke.

    Parameters
    ----------
    day : int
        On which it was sure for the third time.
    cause : int
        The likeliest then.
    since : int
        Day from which the days suit the cause best.
    """

    day: int
    cause: int
    since: int


def alarms_of(filtered: Filtered, stays: Stays, first: int = FIRST_DAYS, sure: float | None = None) -> list[Alarm]:
    """When the filter speaks: each time it becomes sure, and again when it becomes sure of another kind of cause."""
    fault, found = filtered.fault, list[Alarm]()
    sure = filtered.sure if sure is None else sure
    wrong = np.array([cause.is_fault for cause in filtered.causes])
    run, other, told = 0, 0, tuple[str, ...]()
    for day, chance in enumerate(fault):
        best = int(np.argmax(np.where(wrong, filtered.believed[day], 0.0)))
        kinds, of_kind = filtered.causes[best].kinds, _of_kind(filtered, day, best)
        run = run + 1 if chance > sure_of(filtered.causes[best], sure) else 0
        told = told if chance >= ENOUGH else ()
        other = other + 1 if kinds != told and of_kind > OTHER else 0
        settled = other >= SURE_DAYS if told else run >= SETTLED_DAYS or of_kind >= SETTLED * chance
        if run < SURE_DAYS or day < first or not settled:
            continue
        since = since_when(filtered, day, best)
        if _by_place(filtered, stays, day, best, since, run):
            continue
        found.append(Alarm(day, best, since))
        told, other = kinds, 0
    return found


def sure_of(cause: Cause, sure: float) -> float:
    """Probability of a fault that has to be passed where this cause is the likeliest."""
    return max(sure, SURE_OF.get(cause.kind, 0.0))


def _of_kind(filtered: Filtered, day: int, cause: int) -> float:
    """Probability of a kind of cause, whatever its size."""
    alike = [one.kinds == filtered.causes[cause].kinds for one in filtered.causes]
    return float(filtered.believed[day, alike].sum())


def _by_place(filtered: Filtered, stays: Stays, day: int, cause: int, since: int, run: int) -> bool:
    """Whether the place could still be to blame, so that it is too early to speak."""
    kind = filtered.causes[cause].kind
    if _shows_in_volts(filtered, cause) or (stays.stands and kind in (GROUP, PANEL, LOSS)):
        return False
    if (run >= UNTOLD_DAYS and not stays.moves) or (run >= TOLD_DAYS and kind not in OF_PLACES):
        return False
    moves = np.flatnonzero(stays.moved[: day + 1])
    better = np.cumsum(np.append(0.0, filtered.likely[: day + 1, cause] - filtered.likely[: day + 1, 0]))
    return not any(
        since < move and better[move] - better[since] > ALONG and better[-1] - better[move] > ALONG for move in moves
    )


def _shows_in_volts(filtered: Filtered, cause: int) -> bool:
    """Whether a cause changes open-circuit volts in bright light, which no place does."""
    bright = int(np.argmax(LIGHTS > 500.0))
    sound, other = (float(filtered.causes[k].tables[-1].v_oc[bright].mean()) for k in (0, cause))
    return filtered.volts_known and abs(other / max(sound, 1e-9) - 1.0) > VOLTS_SIGN


def since_when(filtered: Filtered, day: int, cause: int) -> int:
    """The day from which the days up to now suit a cause better than a sound array."""
    better = filtered.likely[: day + 1, cause] - filtered.likely[: day + 1, 0]
    return int(np.argmax(np.cumsum(better[::-1])[::-1]))
