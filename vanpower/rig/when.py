"""When something runs: weekdays and months as people write them."""

from __future__ import annotations

import re
from collections.abc import Callable

from vanpower.rig.dates import MONTHS, month_of
from vanpower.rig.fields import Description, require

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
SPAN = re.compile(r"\.\.| to |-")
# between the first and the last of a span
DAYS_SENSE = 'weekdays make sense, such as "sat, sun" or "mon..fri"'
MONTHS_SENSE = 'months make sense, such as "november..march" or "july, august"'


def weekdays_in(text: str) -> frozenset[int] | None:
    """Weekdays that a text names, Monday being 0; all seven of an empty one, None where it names anything else.

    Examples
    --------
    >>> sorted(weekdays_in("sat, sun")), sorted(weekdays_in("fri..mon")), weekdays_in("noon")
    ([5, 6], [0, 4, 5, 6], None)
    """
    return _named(text, len(WEEKDAYS), _weekday)


def months_in(text: str) -> frozenset[int] | None:
    """Months that a text names, January being 0; all twelve of an empty one, None where it names anything else.

    Examples
    --------
    >>> sorted(months_in("november..february")), sorted(months_in("july")), months_in("winter")
    ([0, 1, 10, 11], [6], None)
    """
    return _named(text, len(MONTHS), _month)


def check_when(owner: Description, days: str, months: str) -> None:
    """Refuse weekdays and months that are none; `days` and `months` are the texts of those fields.

    Raises
    ------
    ValueError
        With the field, the value, and what would make sense.

    Examples
    --------
    >>> from vanpower.rig import Load
    >>> Load(name="oven", p_load=900.0, days="weekend")
    Traceback (most recent call last):
    ValueError: Load.days is 'weekend'; weekdays make sense, such as "sat, sun" or "mon..fri".
    """
    require(weekdays_in(days) is not None, owner, "days", DAYS_SENSE)
    require(months_in(months) is not None, owner, "months", MONTHS_SENSE)


def _named(text: str, count: int, number: Callable[[str], int | None]) -> frozenset[int] | None:
    """All that a text names, one by one or in spans that may run past the end."""
    if not text.strip():
        return frozenset(range(count))
    found: set[int] = set()
    for piece in re.split(r"[,;]| and ", text):
        ends = [place for word in SPAN.split(piece.strip()) if (place := number(word)) is not None]
        if len(ends) != len(SPAN.split(piece.strip())) or len(ends) > 2:
            return None
        found |= {(ends[0] + k) % count for k in range((ends[-1] - ends[0]) % count + 1)}
    return frozenset(found)


def _weekday(word: str) -> int | None:
    """The weekday that a name, or three first letters of it, mean."""
    named = (k for k, name in enumerate(WEEKDAYS) if len(word) >= 3 and name.startswith(word.lower()))
    return next(named, None)


def _month(word: str) -> int | None:
    """The month that a word means, January being 0."""
    month = month_of(word)
    return None if month is None else month - 1
