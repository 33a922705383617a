"""Times of a table's rows, whichever of the usual forms they are written in."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.clocks import WRITTEN, offset_min
from vanpower.files.rows import shown
from vanpower.files.units import MINUTES, Unit, unit_of

if TYPE_CHECKING:
    from vanpower.files.tables import Table

Array = np.ndarray

ORDERS = ("day first", "month first")
CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap]\.?m\.?)?"
OFFSET = r"(?:\s*(Z|[+-]\d{2}(?::?\d{2})?))?"
# of the clock from UTC, behind a time
DOTTED = re.compile(rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}|\d{{2}})(?:,?\s+{CLOCK}{OFFSET})?", re.IGNORECASE)
SLASHED = re.compile(rf"(\d{{1,2}})/(\d{{1,2}})/(\d{{4}}|\d{{2}})(?:,?\s+{CLOCK}{OFFSET})?", re.IGNORECASE)
YEAR_FIRST = re.compile(rf"(\d{{4}})/(\d{{1,2}})/(\d{{1,2}})(?:,?\s+{CLOCK}{OFFSET})?", re.IGNORECASE)
BEHIND = re.compile(r"[T:]\d[\d:.,]*\s*(?:[+\-−]\d{2}(?::?\d{2})?|Z)$", re.IGNORECASE)
PROGRAMS = re.compile(r"(?:[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2})?\n?)++")
ALONE = re.compile(CLOCK, re.IGNORECASE)
PLAIN = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
SOME_DAY = datetime(2000, 1, 1)
# the date of times that have none
UNIX_DAY, UNIX_LEAST, UNIX_MOST = datetime(1970, 1, 1), 946_684_800.0, 4_102_444_800.0
# seconds since then, from the year 2000 to 2100; a thousand times as many are milliseconds
SHEET_DAY, SHEET_LEAST, SHEET_MOST = datetime(1899, 12, 30), 36_526.0, 73_051.0
# days since then as spreadsheets count them, from the year 2000 to 2100
SHEET_LASTS = 3.0
# [days] a log that a spreadsheet counts in days lasts no longer; one in minutes lasts longer than so many minutes
SHEET_MIN = 1440.0
# [min] a day; times of a spreadsheet are taken to the second, which is the fifth decimal of it
_CLOCKS = (
    (1 / 60, UNIX_LEAST, UNIX_MOST, UNIX_DAY, "seconds since 1970, by UTC"),
    (1 / 60_000, 1000 * UNIX_LEAST, 1000 * UNIX_MOST, UNIX_DAY, "milliseconds since 1970, by UTC"),
    (SHEET_MIN, SHEET_LEAST, SHEET_MOST, SHEET_DAY, "days of a spreadsheet"),
)
# counts that are clocks: minutes each, least, most, when they began, and what they are
LONGEST, LONGEST_DAY, PAUSE, GAPS = 1e7, 1080.0, 360.0, 20.0
# [min] of a log; of plain minutes without a pause, since no daylight lasts so long; and of a pause, or so many usual
# steps; no source
SHORTEST = 1.0
# [min] no trial is over sooner; no source
LONGEST_NUMBER = 20
# characters
MICRO = 1e6
YEARS = range(1900, 2200)
# in which a table was written; others are slips


@dataclass(frozen=True, eq=False)
class Times:
    """Times of rows, each array (row,).

    Parameters
    ----------
    minutes : ndarray
        Since the first row; where the table counts plain minutes, these.
    local : ndarray of datetime64, optional
        As the clock shows; None where plain minutes are counted.
    ahead : ndarray, optional
        Minutes by which that clock is ahead of UTC, where the table says so.
    dated : bool
        Whether there is a date, and not a clock time alone.
    notes : tuple of str
        What was told from the table.

    Examples
    --------
    >>> local = np.array(["2026-05-31T10:00", "2026-05-31T10:05"], "M8[m]")
    >>> clock = Times(np.array([0.0, 5.0]), local, np.full(2, 120))
    >>> clock.start  # by UTC
    datetime.datetime(2026, 5, 31, 8, 0)
    """

    minutes: Array
    local: Array | None = None
    ahead: Array | None = None
    dated: bool = False
    notes: tuple[str, ...] = ()

    @property
    def utc(self) -> Array:
        """By UTC where the table says how far its clock is from that, else as the clock shows."""
        assert self.local is not None
        return self.local if self.ahead is None else self.local - _minutes(self.ahead)

    @property
    def start(self) -> datetime | None:
        """Time of the first row."""
        return None if self.local is None else self.utc[0].astype(datetime)


def times_of(table: Table, dates: str = "") -> Times:
    """Times of a table as `Table.times` gives them."""
    dates = dates or table.said.get("dates", "")
    if dates and dates not in ORDERS:
        raise ValueError(f'dates is {dates[:40]!r}; it is "day first" or "month first".')
    cells: Sequence[str] = table.texts("time")
    if not cells:
        return Times(np.array([]), np.array([], dtype="datetime64[us]"), dated=True)
    if ALONE.fullmatch(cells[0]):
        cells = _with_date(cells, table)
    if PLAIN.fullmatch(cells[0]) and not WRITTEN.fullmatch(cells[0]):
        return _counted(cells, table)
    local = _at_once(cells, table)
    if local is not None:
        return Times(_since_first(local), local, None, True)
    _offsets_alike(cells, table)
    read, dated, notes = _reader(cells, table, dates)
    local, offset = _read(read, cells, table)
    ahead = None if offset[0] is None else _ahead(offset, table)
    times = Times(np.array([]), local, ahead, dated, notes)
    return Times(_since_first(times.utc), local, ahead, dated, notes)


def check_rising(table: Table, values: Array, cells: Sequence[str] | None = None, dated: bool = True) -> None:
    """Refuse times that do not rise.

    Examples
    --------
    >>> from vanpower.files.columns import TRIAL
    >>> from vanpower.files.tables import read_table
    >>> check_rising(read_table(b"time,power,wiring\\n3,10,A\\n5,11,A\\n", TRIAL), np.array([3.0, 5.0]))
    """
    steps = np.diff(values)
    falls = np.flatnonzero(steps <= steps.dtype.type(0))
    if not len(falls):
        return
    cells, row = cells or table.texts("time"), int(falls[0]) + 1
    named = ", or name the clock in a line at the top: '# time_zone: Europe/Oslo'" if table.form.heads else ""
    back = f"if the clock was set back, write the offset behind each time, 2026-10-25T02:30+01:00{named}."
    if (steps >= steps.dtype.type(0)).all():
        slip = f"Is a row there twice?{f' Or, {back}' if dated else ''}"
    else:
        slip = f"Sort the rows; {back if dated else 'past midnight a date is needed.'}"
    raise ValueError(
        f"{table.spot(row, 'time')}: {shown(cells[row])!r} does not come after {shown(cells[row - 1])!r}; times must "
        f"rise, each once. {slip}"
    )


def _with_date(cells: Sequence[str], table: Table) -> Sequence[str]:
    """Clock times behind their dates, where a column or a line at the top has these."""
    if "date" in table:
        return [f"{date} {cell}" for date, cell in zip(table.texts("date"), cells, strict=True)]
    if date := table.said.get("date", ""):
        return [f"{date} {cell}" for cell in cells]
    return cells


def _minutes(count: Array) -> Array:
    return np.round(count * 60 * MICRO).astype("timedelta64[us]")


def _since_first(times: Array) -> Array:
    """Minutes since the first."""
    return (times - times[0]).astype(np.int64) / MICRO / 60.0


# Counts


def _counted(cells: Sequence[str], table: Table) -> Times:
    """Times of a table that counts: minutes or what the column's name says, seconds since 1970, days of a sheet."""
    numbers = np.array([_number(cell, table, row) for row, cell in enumerate(cells)])
    counted = bool(table.form.column("time").units)
    first, last = float(numbers[0]), float(numbers[-1])
    for per, least, most, zero, what in _CLOCKS:
        if least <= first <= most and (per < SHEET_MIN or _by_sheet(numbers, cells, counted)):
            check_rising(table, numbers, cells)
            if last > most:
                raise ValueError(_no_time(cells[-1], table, len(cells) - 1))
            minutes = (numbers - first) * per
            passed = first * per + minutes
            passed = np.round(60 * passed) / 60 if zero is SHEET_DAY else passed
            local = np.datetime64(zero, "us") + _minutes(passed)
            ahead = np.zeros(len(cells)) if zero is UNIX_DAY else None
            return Times(minutes, local, ahead, True, (f"times are {what}",))
    if not counted:
        raise ValueError(_no_time(cells[0], table, 0))
    counts = unit_of(table.names[table.place["time"]], "time", "minutes", MINUTES, table.file)
    minutes = counts.usual(numbers)
    _check_count(minutes, last, counts, cells, table)
    return Times(minutes)


def _check_count(minutes: Array, last: float, counts: Unit, cells: Sequence[str], table: Table) -> None:
    """Refuse a count of minutes that is likely one of something else."""
    spot, lasts = table.spot(len(cells) - 1, "time"), minutes[-1] - minutes[0]
    if abs(counts.usual(last)) > LONGEST:
        raise ValueError(
            f"{spot}: {shown(cells[-1])!r} is no count of {counts.name or 'minutes'}; write a date and time as "
            "2026-05-31 10:05."
        )
    check_rising(table, minutes, cells, dated=False)
    if not counts.name and lasts < SHORTEST:
        raise ValueError(
            f"{spot}: plain numbers are minutes, and these last {lasts:.2g} in all. Are they hours or parts of a day? "
            "Then call the column 'time (h)' or 'time (days)'; if they are minutes, 'minutes'."
        )
    if not counts.name and _like_seconds(minutes):
        raise ValueError(
            f"{spot}: plain numbers are minutes, and these go on for {lasts:.0f} without a night. Are they seconds? "
            "Then call the column 'time (s)'; if they are minutes, 'minutes'."
        )


def _number(cell: str, table: Table, row: int) -> float:
    """A plain number."""
    if not PLAIN.fullmatch(cell) or len(cell) > LONGEST_NUMBER:
        raise ValueError(_no_time(cell, table, row))
    return float(cell.replace(",", "."))


def _by_sheet(numbers: Array, cells: Sequence[str], counted: bool) -> bool:
    """Whether numbers as large as a spreadsheet's days are days: they have fractions, and could not be minutes."""
    lasts = not counted or numbers[-1] - numbers[0] < SHEET_LASTS
    return bool(lasts and sum(not cell.isdigit() for cell in cells) > len(cells) / 2)


def _like_seconds(minutes: Array) -> bool:
    """Whether rows go on for longer than any daylight without a pause."""
    steps = np.diff(minutes)
    ends = np.concatenate([[0], np.nonzero(steps > max(PAUSE, GAPS * float(np.median(steps))))[0] + 1, [len(minutes)]])
    return bool(max(minutes[end - 1] - minutes[begin] for begin, end in pairwise(ends)) > LONGEST_DAY)


# Dates and clocks

Reader = Callable[[str], tuple[datetime, str | None]]


def _reader(cells: Sequence[str], table: Table, dates: str) -> tuple[Reader, bool, tuple[str, ...]]:
    """The form that fits the first time, and with it all of them; whether it has a date; what was told."""
    first = cells[0]
    if ALONE.fullmatch(first):
        return _alone, False, ()
    if DOTTED.fullmatch(first):
        return lambda cell: _dated(DOTTED, cell, (3, 2, 1)), True, ()
    if YEAR_FIRST.fullmatch(first):
        return lambda cell: _dated(YEAR_FIRST, cell, (1, 2, 3)), True, ()
    if SLASHED.fullmatch(first):
        day_first, note = _day_first(cells, table, dates)
        order = (3, 2, 1) if day_first else (3, 1, 2)
        return lambda cell: _dated(SLASHED, cell, order), True, note
    return _iso, True, ()


def _offsets_alike(cells: Sequence[str], table: Table) -> None:
    """Refuse a table in which some times have an offset and others have none: they would lie hours apart."""
    has = [bool(BEHIND.search(cell)) for cell in cells]
    if any(has) and not all(has):
        odd = has.index(not has[0])
        raise ValueError(
            f"{table.spot(odd, 'time')}: {shown(cells[odd])!r}; an offset from UTC stands on some rows and not on "
            "others. Write it behind every time or none."
        )


def _at_once(cells: Sequence[str], table: Table) -> Array | None:
    """Times that all are written as programs write them; None where some are not, or cannot be."""
    text = "\n".join(cells)
    found = PROGRAMS.match(text)
    if not found:
        return None
    if found.end() < len(text):
        row = text.count("\n", 0, found.end())
        if not WRITTEN.fullmatch(cells[row]):
            raise ValueError(_no_time(cells[row], table, row))
        return None
    try:
        local = np.array(cells, dtype="datetime64[us]")
    except ValueError:
        return None
    years = local.astype("datetime64[Y]").astype(int) + 1970
    return local if years.min() >= YEARS.start and years.max() < YEARS.stop else None


def _read(read: Reader, cells: Sequence[str], table: Table) -> tuple[Array, list[str | None]]:
    """Times by their clock, and the offsets behind them."""
    local: list[datetime] = []
    offsets: list[str | None] = []
    for row, cell in enumerate(cells):
        try:
            time, offset = read(cell)
            if time.year not in YEARS:
                raise ValueError
        except (ValueError, OverflowError):
            raise ValueError(_no_time(cell, table, row)) from None
        local.append(time)
        offsets.append(offset)
    return np.array(local, dtype="datetime64[us]"), offsets


def _no_time(cell: str, table: Table, row: int) -> str:
    """What to say of a cell that is no time."""
    said, first = repr(shown(cell)) if cell.strip() else "nothing", table.texts("time")[0]
    if _form(cell) and _form(cell) != _form(first):
        return (
            f"{table.spot(row, 'time')}: {said} is written otherwise than the first row, {shown(first)!r}; write times "
            "alike in every row."
        )
    return (
        f"{table.spot(row, 'time')}: {said} is not a time like 2026-05-31 10:05, 31.05.2026 10:05 or 10:05, in the "
        "same form in every row, perhaps with an offset from UTC behind it, +01:00."
    )


def _form(cell: str) -> str:
    """The form a time is written in, by its pattern; empty where it has none."""
    forms = (ALONE, DOTTED, SLASHED, YEAR_FIRST, WRITTEN, PLAIN)
    return next((form.pattern for form in forms if form.fullmatch(cell)), "")


def _ahead(offsets: Sequence[str | None], table: Table) -> Array:
    """Minutes by which the clock of each row is ahead of UTC."""
    known: dict[str | None, int] = {}
    for text in dict.fromkeys(offsets):
        try:
            known[text] = offset_min(text or "")
        except ValueError as trouble:
            raise ValueError(f"{table.spot(list(offsets).index(text), 'time')}: {trouble}") from None
    return np.array([known[text] for text in offsets], dtype=float)


def _alone(cell: str) -> tuple[datetime, None]:
    """A clock time without a date."""
    return SOME_DAY + _clock(ALONE.fullmatch(cell), 1), None


def _dated(form: re.Pattern[str], cell: str, order: tuple[int, int, int]) -> tuple[datetime, str | None]:
    """A date with dots or slashes, and a clock time; where year, month and day stand."""
    found = form.fullmatch(cell)
    if not found:
        raise ValueError
    year, month, day = (int(found[k]) for k in order)
    clock = _clock(found, 4) if found[4] else timedelta(0)
    return datetime(year if year > 99 else 2000 + year, month, day) + clock, found[8]


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


def _iso(cell: str) -> tuple[datetime, str | None]:
    """A time in the order of ISO 8601, and the offset behind it."""
    found = WRITTEN.fullmatch(cell)
    if not found:
        raise ValueError
    day, clock, offset = found.groups()
    return datetime.fromisoformat(f"{day}T{clock}" if clock else day), offset


def _day_first(cells: Sequence[str], table: Table, dates: str) -> tuple[bool, tuple[str, ...]]:
    """Whether dates with slashes begin with the day: as stated, or as a number above 12 shows."""
    if dates:
        return dates == ORDERS[0], ()
    found = [match for cell in cells if (match := SLASHED.fullmatch(cell))]
    for group, word in ((1, ORDERS[0]), (2, ORDERS[1])):
        if any(int(match[group]) > 12 for match in found):
            return word == ORDERS[0], (f"dates with slashes were read {word}, as a number above 12 shows",)
    how = f'Say dates="{ORDERS[0]}" or dates="{ORDERS[1]}".'
    how = f"Say which in a line at the top: '# dates: {ORDERS[0]}', or {ORDERS[1]}." if table.form.heads else how
    raise ValueError(f"{table.spot(0, 'time')}: {shown(cells[0])!r} may begin with the day or the month. {how}")
