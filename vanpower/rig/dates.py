"""Dates as people type them: which month a word is, and which days a slip may have meant."""

from __future__ import annotations

import datetime
import re

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip
LEAP_YEAR = 2024
# in which every day of any year is one


def month_of(word: str) -> int | None:
    """The month that a number, a name or three first letters of one mean; None for other words.

    Examples
    --------
    >>> month_of("Dec"), month_of("12"), month_of("13"), month_of("de")
    (12, 12, None, None)
    """
    if re.fullmatch(r"\d\d?", word):
        return int(word) if 1 <= int(word) <= len(MONTHS) else None
    named = (k for k, name in enumerate(MONTHS, 1) if len(word) >= 3 and name.lower().startswith(word.lower()))
    return next(named, None)


def meant_days(text: str) -> tuple[str, ...]:
    """Month-days that a date in another form may mean; a year beside them is left out.

    Examples
    --------
    >>> meant_days("12/21"), meant_days("21.12.2026"), meant_days("21 dec"), meant_days("3/4"), meant_days("log 1")
    (('12-21',), ('12-21',), ('12-21',), ('03-04', '04-03'), ())
    """
    parts = [part for part in re.findall(r"\d+|[^\W\d_]+", text) if not re.fullmatch(r"\d{4}", part)]
    if len(parts) != 2:
        return ()
    return tuple(dict.fromkeys(filter(None, (_month_day(*parts), _month_day(*parts[::-1])))))


def _month_day(month: str, day: str) -> str:
    """Month-day of two words, or nothing where there is no such day."""
    number = month_of(month)
    if number is None or not re.fullmatch(r"\d\d?", day):
        return ""
    try:
        return f"{datetime.date(LEAP_YEAR, number, int(day)):%m-%d}"
    except ValueError:
        return ""
