"""Times of a log as minutes since its first row, whichever of the usual forms they are written in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from vanpower.trials.text import Table

Array = np.ndarray

ORDERS = ("day first", "month first")
CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap]\.?m\.?)?"
OFFSET = r"(?:\s*([+-])(\d{2}):(\d{2}))?"
# of the clock from UTC, behind a time
DOTTED = re.compile(rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}|\d{{2}}),?\s+{CLOCK}{OFFSET}", re.IGNORECASE)
SLASHED = re.compile(rf"(\d{{1,2}})/(\d{{1,2}})/(\d{{4}}|\d{{2}}),?\s+{CLOCK}{OFFSET}", re.IGNORECASE)
BEHIND = re.compile(r":\d\d\s*(?:[+-]\d{2}:?\d{2}|Z)$")
ALONE = re.compile(CLOCK, re.IGNORECASE)
PLAIN = re.compile(r"\d+(?:[.,]\d+)?")
SOME_DAY = datetime(2000, 1, 1)
# the date of times that have none


def minutes_of(table: Table, place: Mapping[str, int], dates: str) -> tuple[Array, datetime | None]:
    """Minutes since the first row, or plain minutes as they stand; and the first clock time; times must rise."""
    if dates and dates not in ORDERS:
        raise ValueError(f'dates is {dates!r}; it is "day first" or "month first".')
    cells = [row[place["time"]] for row in table.rows]
    if "date" in place:
        cells = [f"{row[place['date']]} {cell}" for row, cell in zip(table.rows, cells, strict=True)]
    _offsets_alike(cells, table, place["time"])
    read = _reader(cells, table, place["time"], dates)
    times = [_read(read, cell, table.spot(k, place["time"])) for k, cell in enumerate(cells)]
    first = SOME_DAY if read is _plain else times[0]
    minutes = np.array([(time - first).total_seconds() / 60.0 for time in times])
    falls = np.nonzero(np.diff(minutes) <= 0)[0]
    if len(falls):
        raise ValueError(
            _falling(table.spot(falls[0] + 1, place["time"]), cells[falls[0]], cells[falls[0] + 1], minutes, first)
        )
    return minutes, None if read is _plain else times[0]


Reader = Callable[[str], datetime]


def _reader(cells: list[str], table: Table, column: int, dates: str) -> Reader:
    """The form that fits the first time, and with it all of them."""
    first = cells[0]
    if PLAIN.fullmatch(first):
        return _plain
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


def _read(read: Reader, cell: str, spot: str) -> datetime:
    """A time, or what is wrong with it."""
    try:
        return read(cell)
    except ValueError:
        raise ValueError(
            f"{spot}: {cell[:40]!r} is no time in the form of the first row; 2026-05-31 10:05, 31.05.2026 10:05, 10:05 "
            "or plain minutes make sense, the same in every row."
        ) from None


def _plain(cell: str) -> datetime:
    """Plain minutes."""
    if not PLAIN.fullmatch(cell) or len(cell) > 12:
        raise ValueError
    return SOME_DAY + timedelta(minutes=float(cell.replace(",", ".")))


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
    time = datetime.fromisoformat(cell)
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
