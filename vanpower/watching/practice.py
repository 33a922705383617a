"""Practice: a sound history made up for any rig, and a fault put into it on a day, to see how long it hides.

The days come from the sky bank and this rig's own tables, so they say how a watch works and nothing of how good it is.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from vanpower.results.table import Column, Table
from vanpower.rig import Rig
from vanpower.watching.causes import NAMES, Cause
from vanpower.watching.expectations import Expectation, expectation_of
from vanpower.watching.filtering import FIRST_DAYS, alarms_of, days_of, run_again, run_filter
from vanpower.watching.hiding import with_cause
from vanpower.watching.histories import FIELDS, History
from vanpower.watching.telling import Watch, Watched, watch

DAYS, FIRST = 180, np.datetime64("2026-03-01")
# of a practice history, and its first date
LATITUDE, LONGITUDE, STAY_DAYS = 47.0, 8.0, 12
# [degrees] where it is, and days from one move to the next
MOMENT = 0.6
# how far a moment lies above the mean of its part of the day


@lru_cache(maxsize=16)
def practice(rig: Rig, full: float = 0.4, seed: int = 1) -> Watch:
    """A sound history of a rig, made up from skies of other places.

    Parameters
    ----------
    rig : Rig
    full : float
        Share of the days on which the battery fills up and holds the array back.
    seed : int

    Examples
    --------
    >>> from vanpower import example
    >>> len(practice(example("bookmobile")).first.history)
    180
    """
    rng = np.random.default_rng([seed, 5])
    circuits = tuple(range(len(rig.circuits)))
    expected = expectation_of(rig, circuits)
    dates = FIRST + np.arange(DAYS)
    number = (dates - dates.astype("datetime64[Y]")).astype(int) + 1
    sound = expected.sounds((LATITUDE, day, 0.0, LONGITUDE) for day in number.tolist())
    pick = rng.integers(len(expected.bank.share), size=DAYS)
    watts = np.stack([day.p for day in sound])
    share = (expected.bank.share[pick] * watts).sum(axis=1) / watts.sum(axis=1)
    seen = expected.bank.share[pick] + MOMENT * (expected.bank.peak[1] - expected.bank.share)[pick]
    energy = np.array([day.energy_wh for day in sound]) * share * rng.lognormal(0.0, 0.03, DAYS)
    high = (seen * watts).max(axis=1) * rng.lognormal(0.0, 0.03, DAYS)
    month = dates.astype("datetime64[M]").astype(int) % 12 + 1
    awake = _awake(expected, month, seed)
    held = (rng.random(DAYS) < full) & (share > 0.4)
    bulk = np.where(held, rng.uniform(0.7, 0.85, DAYS) * awake, awake)
    blank = np.full(DAYS, np.nan)
    history = History("practice", dates, np.where(held, 0.8 * energy, energy), high, blank, blank, blank, bulk,
                      np.where(held, 60.0, 0.0), np.where(held, np.maximum(awake - bulk - 60.0, 0.0), 0.0))  # fmt: skip
    volts = [_volts(expected, int(day)) for day in month]
    history = replace(history, v_high=np.array(volts) * rng.lognormal(0.0, 0.01, DAYS))
    moves = [(str(day), LATITUDE, LONGITUDE) for day in dates[::STAY_DAYS]]
    return watch(history, rig, stays=moves)


def _awake(expected: Expectation, month: np.ndarray, seed: int) -> np.ndarray:
    """Minutes awake, as dawns and dusks differ (day,)."""
    each = [expected.densities(LATITUDE, int(one)).awake for one in month]
    mean, scatter = np.array([(one.minutes, one.scatter) for one in each]).T
    return mean + scatter * np.random.default_rng([seed, 7]).normal(size=len(mean))


def _volts(expected: Expectation, month: int) -> float:
    """Highest open-circuit volts of a fair day. [V]"""
    return float(expected.densities(LATITUDE, month).v_oc[0, 2])


COLUMNS = {
    "Wh": ("energy_wh",),
    "+ highest W": ("energy_wh", "p_high"),
    "+ minutes": ("energy_wh", "p_high", "bulk_min", "absorption_min", "float_min"),
    "+ panel V": ("energy_wh", "p_high", "bulk_min", "absorption_min", "float_min", "v_high"),
}
# of a daily history, each with those before it
BEGINS, LATEST = 75, 60
# day on which each fault is put into the practice history, and days within which it has to be told


def what_columns_tell(rig: Rig) -> Table:
    """Which columns of a daily history tell which cause of this rig, and under which name.

    Parameters
    ----------
    rig : Rig

    Returns
    -------
    Table
        A row for each cause: after how many days a practice history with more and more columns tells it, and as what.

    Examples
    --------
    >>> from vanpower import example
    >>> table = what_columns_tell(example("bookmobile"))
    >>> [column.name for column in table.columns][1:]
    ['Wh', '+ highest W', '+ minutes', '+ panel V']
    """
    whole = practice(rig).first
    kinds = list(dict.fromkeys(cause.kinds for cause in whole.expected.causes if cause.is_fault))
    rows = [(" or ".join(NAMES[kind] for kind in kinds_), *(_told_by(whole, kinds_[0], names) for names in
                                                            COLUMNS.values())) for kinds_ in kinds]  # fmt: skip
    columns = (Column(name="cause", left=True), *(Column(name=name, left=True) for name in COLUMNS))
    note = f"(a made-up history of {DAYS} days, battery full on 4 of 10; not told within {LATEST} days: no)"
    return Table(columns, rows, note=note)


def _told_by(whole: Watched, kind: str, names: tuple[str, ...]) -> str:
    """After how many days a fault is told from some columns, and as what."""
    blank: dict[str, Any] = {name: np.full(DAYS, np.nan) for name in FIELDS if name not in names}
    history = replace(whole.history, **blank)
    days = days_of(history, whole.stays, whole.expected)
    changed = with_cause(days, whole.expected, whole.stays, _middle_one(whole, kind), BEGINS)
    filtered = run_filter(changed, whole.stays, whole.expected)
    told = [alarm for alarm in alarms_of(filtered, whole.stays) if BEGINS <= alarm.day <= BEGINS + LATEST]
    if not told:
        return "no"
    named = " or ".join(filtered.causes[told[0].cause].kinds)
    return f"{told[0].day - BEGINS} d" if kind in filtered.causes[told[0].cause].kinds else f"as {named}"


def _middle_one(part: Watched, kind: str) -> Cause:
    """Of the causes of a kind the first, or the middle one of several sizes."""
    alike = [cause for cause in part.expected.causes if kind in cause.kinds and cause.is_fault]
    return alike[len(alike) // 2 if len(alike) > 2 else 0]


def kinds_of(found: Watch) -> dict[str, str]:
    """The kinds of cause that can be put into a watched rig's first circuit, by what they are called.

    Examples
    --------
    >>> from vanpower import example
    >>> list(kinds_of(practice(example("bookmobile"))).values())[:3]
    ['dirt', 'loss', 'panel']
    """
    faults = [cause.kind for cause in found.first.filtered.causes if cause.is_fault]
    return {NAMES[kind]: kind for kind in dict.fromkeys(faults)}


def with_fault(found: Watch, kind: str, day: int) -> Watch:
    """A watched van with a fault that begins on a day, counted from 0, and the filter run again.

    Parameters
    ----------
    found : Watch
        Of a van that is as it should be.
    kind : str
        Such as "group", "panel" or "limit".
    day : int

    Raises
    ------
    ValueError
        For a kind that this rig cannot have.

    Examples
    --------
    >>> from vanpower import example
    >>> hurt = with_fault(practice(example("bookmobile")), "panel", 90)
    >>> hurt.verdict.answer, hurt.first.alarms[0].day > 90
    ('no', True)
    """
    name, part = next((name, part) for name, part in found.parts.items() if part is found.first)
    if kind not in kinds_of(found).values():
        raise ValueError(f"this rig cannot have {kind!r}; there are {', '.join(kinds_of(found).values())}.")
    days = with_cause(part.days, part.expected, part.stays, _middle_one(part, kind), day)
    filtered = run_again(part.filtered, days, part.stays, part.expected, day)
    history = replace(part.history, v_high=days.volts)
    hurt = Watched(history, part.stays, part.expected, days, filtered, alarms_of(filtered, part.stays, FIRST_DAYS))
    return Watch(found.rig, dict(found.parts) | {name: hurt})
