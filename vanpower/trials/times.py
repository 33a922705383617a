"""Times of a log as minutes since its first row, whichever of the usual forms they are written in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from vanpower.trials.units import unit_of

if TYPE_CHECKING:
    from vanpower.trials.text import Table

Array = np.ndarray

ORDERS = ("day first", "month first")
CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap]\.?m\.?)?"
OFFSET = r"(?:\s*(?:([+-])(\d{2}):?(\d{2})?|Z))?"
# of the clock from UTC, behind a time
DOTTED = re.compile(rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}|\d{{2}}),?\s+{CLOCK}{OFFSET}", re.IGNORECASE)
SLASHED = re.compile(rf"(\d{{1,2}})/(\d{{1,2}})/(\d{{4}}|\d{{2}}),?\s+{CLOCK}{OFFSET}", re.IGNORECASE)
BEHIND = re.compile(r"[T:]\d[\d:.,]*\s*(?:[+-]\d{2}(?::?\d{2})?|Z)$", re.IGNORECASE)
APART = re.compile(r"\s+(?=(?:[+-]\d{2}(?::?\d{2})?|Z)$)", re.IGNORECASE)
# blanks ahead of an offset
ALONE = re.compile(CLOCK, re.IGNORECASE)
PLAIN = re.compile(r"\d+(?:[.,]\d+)?")
SOME_DAY = datetime(2000, 1, 1)
# the date of times that have none
UNIX_DAY, UNIX_LEAST, UNIX_MOST = datetime(1970, 1, 1), 946_684_800.0, 4_102_444_800.0
# seconds since then, from the year 2000 to 2100; a thousand times as many are milliseconds
SHEET_DAY, SHEET_LEAST, SHEET_MOST = datetime(1899, 12, 30), 36_526.0, 73_051.0
# days since then as spreadsheets count them, from the year 2000 to 2100
SHEET_LASTS = 3.0
# [days] a log that a spreadsheet counts in days lasts no longer; one in minutes lasts longer than so many minutes
SHEET_MIN = 1440.0
_CLOCKS = (
    (1 / 60, UNIX_LEAST, UNIX_MOST, UNIX_DAY),
    (1 / 60_000, 1000 * UNIX_LEAST, 1000 * UNIX_MOST, UNIX_DAY),
    (SHEET_MIN, SHEET_LEAST, SHEET_MOST, SHEET_DAY),
)
# counts that are clocks: minutes each, least, most, and when they began
LONGEST, LONGEST_DAY, PAUSE, GAPS = 1e7, 1080.0, 360.0, 20.0
# [min] of a log; of plain minutes without a pause, since no daylight lasts so long; and of a pause, or so many usual
# steps; no source
SHORTEST = 1.0
# [min] no trial is over sooner; no source
LONGEST_NUMBER = 20
# characters


def minutes_of(table: Table, place: Mapping[str, int], dates: str) -> tuple[Array, datetime | None]:
    """Minutes since the first row, or plain minutes as they stand; and the first clock time; times must rise."""
    if dates and dates not in ORDERS:
        raise ValueError(f'dates is {dates!r}; it is "day first" or "month first".')
    cells = [row[place["time"]] for row in table.rows]
    if "date" in place:
        cells = [f"{row[place['date']]} {cell}" for row, cell in zip(table.rows, cells, strict=True)]
    column = place["time"]
    if PLAIN.fullmatch(cells[0]):
        return _counted(cells, table, column)
    _offsets_alike(cells, table, column)
    read = _reader(cells, table, column, dates)
    times = [_read(read, cell, table.spot(k, column)) for k, cell in enumerate(cells)]
    minutes = np.array([(time - times[0]).total_seconds() / 60.0 for time in times])
    _rising(minutes, cells, table, column, times[0])
    return minutes, times[0]


def _counted(cells: list[str], table: Table, column: int) -> tuple[Array, datetime | None]:
    """Minutes of a log that counts: minutes or what the column's name says, seconds since 1970, days of a sheet."""
    numbers = np.array([_read(_number, cell, table.spot(k, column)) for k, cell in enumerate(cells)])
    counts = unit_of(table.names[column], "time", table.file)
    first, last = float(numbers[0]), float(numbers[-1])
    for per, least, most, zero in _CLOCKS:
        if least <= first <= most and (per < SHEET_MIN or _by_sheet(numbers, cells)):
            minutes, start = (numbers - first) * per, zero + timedelta(minutes=first * per)
            _rising(minutes, cells, table, column, start)
            return minutes, start
    minutes = counts.usual(numbers)
    if abs(counts.usual(last)) > LONGEST:
        raise ValueError(
            f"{table.spot(len(cells) - 1, column)}: {cells[-1][:40]!r} is no count of {counts.name or 'minutes'}; "
            "write a date and time as 2026-05-31 10:05."
        )
    _rising(minutes, cells, table, column, SOME_DAY)
    if not counts.name and minutes[-1] - minutes[0] < SHORTEST:
        raise ValueError(
            f"{table.spot(len(cells) - 1, column)}: plain numbers are minutes, and these last "
            f"{minutes[-1] - minutes[0]:.2g} in all. Are they hours or parts of a day? Then call the column 'time (h)' "
            "or 'time (days)'; if they are minutes, 'minutes'."
        )
    if not counts.name and _like_seconds(minutes):
        raise ValueError(
            f"{table.spot(len(cells) - 1, column)}: plain numbers are minutes, and these go on for "
            f"{minutes[-1] - minutes[0]:.0f} without a night. Are they seconds? Then call the column 'time (s)'; if "
            "they are minutes, 'minutes'."
        )
    return minutes, None


def _by_sheet(numbers: Array, cells: list[str]) -> bool:
    """Whether numbers as large as a spreadsheet's days are days: they have fractions, and all lie within three."""
    return bool(numbers[-1] - numbers[0] < SHEET_LASTS and sum(not cell.isdigit() for cell in cells) > len(cells) / 2)


def _like_seconds(minutes: Array) -> bool:
    """Whether rows go on for longer than any daylight without a pause."""
    steps = np.diff(minutes)
    ends = np.concatenate([[0], np.nonzero(steps > max(PAUSE, GAPS * float(np.median(steps))))[0] + 1, [len(minutes)]])
    return bool(max(minutes[end - 1] - minutes[begin] for begin, end in pairwise(ends)) > LONGEST_DAY)


def _rising(minutes: Array, cells: list[str], table: Table, column: int, first: datetime) -> None:
    """Refuse times that do not rise."""
    falls = np.nonzero(np.diff(minutes) <= 0)[0]
    if len(falls):
        spot = table.spot(falls[0] + 1, column)
        raise ValueError(_falling(spot, cells[falls[0]], cells[falls[0] + 1], minutes, first))


Reader = Callable[[str], datetime]
Read = TypeVar("Read")


def _reader(cells: list[str], table: Table, column: int, dates: str) -> Reader:
    """The form that fits the first time, and with it all of them."""
    first = cells[0]
    if ALONE.fullmatch(first):
        return _alone
    if DOTTED.fullmatch(first):
        return lambda cell: _dated(DOTTED, cell, day_first=True)
    if SLASHED.fullmatch(first):
        day_first = _day_first(cells, table.spot(0, column), dates)
        return lambda cell: _dated(SLASHED, cell, day_first=day_first)
    return _iso


def _offsets_alike(cells: list[str], table: Table, column: int) -> None:
    """Refuse a log in which some times have an offset and others have none: they would lie hours apart."""
    has = [bool(BEHIND.search(cell)) for cell in cells]
    if any(has) and not all(has):
        odd = has.index(not has[0])
        raise ValueError(
            f"{table.spot(odd, column)}: {cells[odd][:40]!r}; an offset from UTC stands on some rows and not on "
            "others. Write it behind every time or none."
        )


def _read(read: Callable[[str], Read], cell: str, spot: str) -> Read:
    """A time, or what is wrong with it."""
    try:
        return read(cell)
    except (ValueError, OverflowError):
        raise ValueError(
            f"{spot}: {cell[:40]!r} is no time in the form of the first row; 2026-05-31 10:05, 31.05.2026 10:05, 10:05 "
            "or plain minutes make sense, the same in every row."
        ) from None


def _number(cell: str) -> float:
    """A plain number."""
    if not PLAIN.fullmatch(cell) or len(cell) > LONGEST_NUMBER:
        raise ValueError
    return float(cell.replace(",", "."))


def _alone(cell: str) -> datetime:
    """A clock time without a date."""
    return SOME_DAY + _clock(ALONE.fullmatch(cell), 1)


def _dated(form: re.Pattern[str], cell: str, *, day_first: bool) -> datetime:
    """A date with dots or slashes, and a clock time; one with an offset is taken to UTC."""
    found = form.fullmatch(cell)
    if not found:
        raise ValueError
    one, two, year = int(found[1]), int(found[2]), int(found[3])
    day, month = (one, two) if day_first else (two, one)
    ahead = timedelta(hours=int(found[9] or 0), minutes=int(found[10] or 0)) * (-1 if found[8] == "-" else 1)
    return datetime(year if year > 99 else 2000 + year, month, day) + _clock(found, 4) - ahead


def _clock(found: re.Match[str] | None, first: int) -> timedelta:
    """Hours, minutes and seconds; am and pm where they stand."""
    if not found:
        raise ValueError
    hour, minute, second = (int(found[first + k] or 0) for k in range(3))
    half = (found[first + 3] or "").lower().replace(".", "")
    if hour > (12 if half else 23) or minute > 59 or second > 59:
        raise ValueError
    hour = hour % 12 + 12 * (half == "pm") if half else hour
    return timedelta(hours=hour, minutes=minute, seconds=second)


def _iso(cell: str) -> datetime:
    """A time in the order of ISO 8601; one with an offset is taken to UTC."""
    time = datetime.fromisoformat(APART.sub("", cell))
    return time if time.tzinfo is None else time.astimezone(UTC).replace(tzinfo=None)


def _day_first(cells: list[str], spot: str, dates: str) -> bool:
    """Whether dates with slashes begin with the day: as stated, or as a number above 12 shows."""
    if dates:
        return dates == ORDERS[0]
    found = [match for cell in cells if (match := SLASHED.fullmatch(cell))]
    if any(int(match[1]) > 12 for match in found):
        return True
    if any(int(match[2]) > 12 for match in found):
        return False
    raise ValueError(
        f'{spot}: {cells[0][:40]!r} may begin with the day or the month. Say dates="day first" or dates="month first".'
    )


def _falling(spot: str, before: str, now: str, minutes: Array, first: datetime) -> str:
    """What to say of times that do not rise."""
    if (np.diff(minutes) >= 0).all():
        slip = "Is a row there twice?"
    elif first.date() == SOME_DAY.date():
        slip = "Sort the rows; past midnight a date is needed."
    else:
        slip = "Sort the rows; if the clock was set back, write the offset behind each time, 2026-10-25T02:30+01:00."
    return f"{spot}: {now[:40]!r} does not come after {before[:40]!r}; times must rise. {slip}"
