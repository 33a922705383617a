"""The table of watched van-years: faults found, how soon, by which name, and false alarms, from seeds by one command.

    .venv/bin/python tests/benchmarks/watched_years.py [--each 14] [--sound 28] [--first 100] [--kinds log] [--plain]
    .venv/bin/python tests/benchmarks/watched_years.py --other 8 --first 16    # of the other make, eight of each

Van-years of `tests/van_years.py`; the sky bank leaves out the place a van is at. "found" is the first alarm on or after
the fault's first day, right or not; an alarm before it, or in a van-year without a fault, is false.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from van_years import FAULTS, Year, log_of, van_year
from van_years_two import KINDS as OTHER_FAULTS
from van_years_two import other_year

from vanpower import watch
from vanpower.rig import Rig
from vanpower.watching.expectations import TABLES, Expectation
from vanpower.watching.filtering import alarms_of, days_of, run_filter
from vanpower.watching.histories import read_history
from vanpower.watching.skies import sky_bank
from vanpower.watching.stays import stays_of

WITHIN = 60
# days
KINDS = ("daily", "log", "unknown")
# daily history, a log in quarter hours, and a daily history without places and moves
DIRTY = {"dirt": ("dirt", "loss")}
# other names that are right


@dataclass
class Score:
    """What one van-year came to."""

    fault: str
    delay: int | None
    right: bool
    later: bool
    false: int
    years: float
    full: float
    seconds: float


@lru_cache(maxsize=8)
def expectation(rig: Rig, place: str) -> Expectation:
    """A rig's expectations, without the skies of its own place."""
    return Expectation(rig, (0,), sky_bank(place))


def scored(year: Year, kind: str) -> Score:
    """One van-year through the filter."""
    history = read_history(log_of(year))[0] if kind == "log" else year.history
    expected = expectation(year.rig, year.place)
    stays = stays_of(None if kind == "unknown" else year.stays, history)
    days = days_of(history, stays, expected)
    run_filter(days, stays, expected)
    start = time.process_time()
    filtered = run_filter(days, stays, expected)
    alarms = alarms_of(filtered, stays)
    spent = time.process_time() - start
    first = len(history) if year.first is None else year.first
    late = [alarm for alarm in alarms if alarm.day >= first]
    names = DIRTY.get(year.fault, (year.fault,))
    right = bool(late) and bool(set(names) & set(filtered.causes[late[0].cause].kinds))
    settled = min(late[0].day + 14, len(history) - 1) if late else 0
    after = filtered.causes[int(np.argmax(filtered.believed[settled, 1:])) + 1].kinds if late else ()
    return Score(year.fault, late[0].day - first if late else None, right, bool(set(names) & set(after)),
                 sum(alarm.day < first for alarm in alarms), first / 365, year.full, spent)  # fmt: skip


def years(each: int, sound: int, first: int, plain: bool) -> Iterator[Year]:
    """So many van-years of each fault, and without one."""
    for number, fault in enumerate(FAULTS):
        for seed in range(first, first + each):
            yield van_year(1000 * (number + 1) + seed, fault, plain=plain)
    for seed in range(first, first + sound):
        yield van_year(50_000 + seed, plain=plain)


def told(scores: list[Score], kind: str) -> None:
    """Print the table of one kind of history."""
    print(f"\n{kind}\n| fault | found | within {WITHIN} days | median delay | right name | right two weeks later |")
    print("|---|---|---|---|---|---|")
    faults = [one for one in scores if one.fault]
    for fault in (*FAULTS, ""):
        some = [one for one in faults if one.fault == fault or not fault]
        found = [one for one in some if one.delay is not None]
        delays = [one.delay for one in found if one.delay is not None]
        middle = f"{np.median(delays):.0f} d" if delays else "-"
        soon = sum(delay <= WITHIN for delay in delays)
        right, later = sum(one.right for one in found), sum(one.later for one in found)
        print(f"| {fault or 'all'} | {len(found)} of {len(some)} | {soon} | {middle} | {right} | {later} |")
    healthy, false = sum(one.years for one in scores), sum(one.false for one in scores)
    print(f"false alarms: {false} in {healthy:.1f} healthy years, {false / healthy:.2f} a year; "
          f"{np.median([one.seconds for one in scores]):.2f} s a van-year once tables exist")  # fmt: skip
    for low, high in ((0.0, 0.4), (0.4, 0.7), (0.7, 1.01)):
        some = [one for one in faults if low <= one.full < high]
        soon = sum(one.delay is not None and one.delay <= WITHIN for one in some)
        print(f"battery full on {100 * low:.0f} to {100 * min(high, 1):.0f} % of days: {soon} of {len(some)} so soon")


def told_of_others(each: int, first: int) -> None:
    """Print what becomes of van-years of the other make."""
    false = soon = faults = 0
    healthy = 0.0
    for number, fault in enumerate(("", *OTHER_FAULTS)):
        for seed in range(first, first + each):
            year = other_year(100 * number + seed, fault, told=seed % 4 != 0)
            found = watch(year.history, year.rig, stays=year.stays).first
            begins = len(year.history) if year.first is None else year.first
            early = [alarm for alarm in found.alarms if alarm.day < begins]
            late = [alarm.day - begins for alarm in found.alarms if alarm.day >= begins]
            false, healthy = false + len(early), healthy + begins / 365
            faults += bool(fault)
            soon += bool(fault) and bool(late) and late[0] <= WITHIN
            names = [found.filtered.causes[alarm.cause].kind for alarm in found.alarms]
            print(
                f"{fault or 'sound'}, {year.name}, seed {seed}: {len(early)} false, told after {late[:1]}, as {names}"
            )
    print(f"{false} false alarms in {healthy:.1f} healthy years; {soon} of {faults} within {WITHIN} days")


def main() -> None:
    """Fill the table."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--each", type=int, default=14)
    words.add_argument("--sound", type=int, default=28)
    words.add_argument("--first", type=int, default=100)
    words.add_argument("--kinds", nargs="+", default=list(KINDS), choices=KINDS)
    words.add_argument("--other", type=int, default=0)
    words.add_argument("--plain", action="store_true")
    asked = words.parse_args()
    # every table of a rig stays, so that the time of a van-year is the filter's
    TABLES.most_bytes = 2**31
    if asked.other:
        told_of_others(asked.other, asked.first)
        return
    found: dict[str, list[Score]] = {kind: [] for kind in asked.kinds}
    for year in years(asked.each, asked.sound, asked.first, asked.plain):
        for kind in asked.kinds:
            found[kind].append(scored(year, kind))
    for kind, scores in found.items():
        told(scores, kind)


if __name__ == "__main__":
    main()
