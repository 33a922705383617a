"""What these very days would have shown: causes and losses put into them, and the filter run again.

Days that a full battery held back keep what they say, since it would have been full all the same or later; that makes
the answer cautious.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from vanpower.watching.causes import GROUP, NAMES, PANEL, SOUND, Cause
from vanpower.watching.expectations import SKIES, Densities, Expectation
from vanpower.watching.filtering import (
    BLANK,
    FILLED,
    FIRST_DAYS,
    FREE,
    HELD,
    KEPT_DAYS,
    UNTOLD,
    Days,
    Filtered,
    alarms_of,
    run_filter,
)
from vanpower.watching.logs import LogDays
from vanpower.watching.stays import Stays
from vanpower.watching.waking import counted

Array = np.ndarray

LOSSES = (0.08, 0.1, 0.12, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.65, 0.8, 0.95)
# shares of the watts that are tried


@dataclass(frozen=True)
class Hidden:
    """Whether a cause would have been seen.

    Parameters
    ----------
    name : str
        What tables call it.
    kind : str
    day : int, optional
        After how many days it would have been told; None where it would not.
    as_kind : str
        What it would have been called then; empty where it would not have been told.
    """

    name: str
    kind: str
    day: int | None
    as_kind: str


def first_hidden(count: int) -> int:
    """The day from which causes are put in."""
    return max(min(FIRST_DAYS, count - 1), count - KEPT_DAYS)


def hidden_in(days: Days, stays: Stays, expected: Expectation, filtered: Filtered) -> list[Hidden]:
    """Every kind of cause, put in as one panel or group, or as the larger of its smaller sizes."""
    found = []
    for cause in _one_of_each(expected.causes):
        changed = with_cause(days, expected, stays, cause, first_hidden(len(days.kind)))
        day, kind = _told(changed, stays, expected, filtered)
        found.append(Hidden(" or ".join(NAMES[each] for each in cause.kinds), cause.kind, day, kind))
    return found


def smallest_loss(days: Days, stays: Stays, expected: Expectation, filtered: Filtered) -> float | None:
    """The smallest of `LOSSES` that would have been told by now, as all larger ones; None where the largest would not.

    A middle loss may hide where a smaller one shows: half of the watts is what trees take, a tenth is not.
    """
    least = None
    for loss in reversed(LOSSES):
        day, _ = _told(_with_loss(days, expected, stays, loss), stays, expected, filtered)
        if day is None:
            break
        least = loss
    return least


def _one_of_each(causes: list[Cause]) -> list[Cause]:
    """One cause of each kind that is a fault, see `usual`; an array that brings nothing at all hides from nobody."""
    by_kind: dict[tuple[str, ...], list[Cause]] = {}
    for cause in causes:
        if cause.kind != SOUND and cause.is_fault and cause.tables[0].p.any():
            by_kind.setdefault(cause.kinds, []).append(cause)
    return [usual(some) for some in by_kind.values()]


def usual(causes: list[Cause]) -> Cause:
    """Of causes of one kind one panel or one group, of others neither the mildest nor the worst."""
    return causes[0] if {PANEL, GROUP} & set(causes[0].kinds) else causes[len(causes) // 2]


def _with_loss(days: Days, expected: Expectation, stays: Stays, share: float) -> Days:
    """The days with some of the watts taken away from the first on in which causes are put."""
    first, down = first_hidden(len(days.kind)), np.full(len(days.kind), np.log(1.0 - share))
    # as much more light brings what wakes the controller
    more = float(counted(-np.log(1.0 - share)))
    shorter = [density.awake.shortened(more) for density in _densities(days, expected, stays, first)]
    return _lowered(days, down, down, np.zeros(len(days.kind)), np.array(shorter), first)


def _densities(days: Days, expected: Expectation, stays: Stays, first: int) -> Iterator[Densities]:
    """Those of each day from one on."""
    for day in range(first, len(days.kind)):
        yield expected.densities(float(stays.latitude[day]), int(days.month[day]), float(stays.heading[day]))


def with_cause(days: Days, expected: Expectation, stays: Stays, cause: Cause, first: int) -> Days:
    """The days as a cause would have made them from a day on."""
    if not cause.tables[0].p.any():
        return _asleep(days, first)
    number = expected.causes.index(cause)
    energy, high, volts = (np.zeros(len(days.kind)) for _ in range(3))
    shorter = []
    for day, table in enumerate(_densities(days, expected, stays, first), start=first):
        of_energy, of_high = table.middles
        # the kind of sky that suits a sound day of so many watt-hours best
        sky = int(np.argmin(np.abs(of_energy[0, :SKIES] - days.energy[day])))
        energy[day], high[day] = (each[number, sky] - each[0, sky] for each in (of_energy, of_high))
        shown = table.v_oc if days.held[day] else table.v_work
        if shown[number, sky] > 0:
            volts[day] = np.log(shown[number, sky] / max(float(shown[0, sky]), 0.5))
        shorter.append(table.awake.shortened(float(table.awake.needs[number])))
    return _lowered(days, energy, high, volts, np.array(shorter), first)


def _asleep(days: Days, first: int) -> Days:
    """The days as an array that brings nothing leaves them from a day on: no watts, and a controller that sleeps."""
    late = np.arange(len(days.kind)) >= first
    return replace(
        days,
        kind=np.where(late, BLANK, days.kind),
        held=days.held & ~late,
        share=np.where(late, 0.0, days.share),
        top=np.where(late, 0.0, days.top),
        volts=np.where(late, np.nan, days.volts),
        awake=np.where(late, np.nan, days.awake),
        hours=None if days.hours is None else np.where(late[:, None], np.nan, days.hours),
    )


def _lowered(days: Days, energy: Array, high: Array, volts: Array, shorter: Array, first: int) -> Days:
    """The days with logarithms changed from a day on, as far as a day is free to show it, and by so much shorter."""
    late = np.arange(len(days.kind)) >= first
    free = late & np.isin(days.kind, (FREE, FILLED))
    shows_high = late & np.isin(days.kind, (FREE, FILLED, HELD, UNTOLD))
    return replace(
        days,
        energy=days.energy + np.where(free, energy, 0.0),
        high=days.high + np.where(shows_high, high, 0.0),
        share=days.share * np.exp(np.where(free, energy, 0.0)),
        top=days.top * np.exp(np.where(shows_high, high, 0.0)),
        volts=days.volts * np.exp(np.where(late, volts, 0.0)),
        awake=days.awake - np.concatenate([np.zeros(len(days.kind) - len(shorter)), shorter]),
        hours=None if days.hours is None else days.hours + np.where(late, high, 0.0)[:, None],
        rows=None
        if days.rows is None
        else _lowered_rows(days.rows, np.where(late, high, 0.0), np.where(late, volts, 0.0)),
    )


def _lowered_rows(rows: LogDays, high: Array, volts: Array) -> LogDays:
    """Watts and volts of a log's rows likewise; in dull light a leak takes more, and that is left out."""
    watts = {name: getattr(rows, name) * np.exp(high) for name in ("p_bright", "p_dull", "p_top")}
    shown = {name: getattr(rows, name) * np.exp(volts) for name in ("v_bright", "v_dull", "v_top")}
    return replace(rows, **watts, **shown)


def _told(days: Days, stays: Stays, expected: Expectation, filtered: Filtered) -> tuple[int | None, str]:
    """After how many days changed days would have been told, and as what."""
    first = first_hidden(len(days.kind))
    late = slice(first, None)
    some = days.only(late)
    there = stays.only(late)
    again = run_filter(some, there, expected, filtered.states[first])
    alarms = alarms_of(again, there, first=0)
    if not alarms:
        return None, ""
    return alarms[0].day + 1, again.causes[alarms[0].cause].kind
