"""A written time taken apart: date and clock on one side, how far that clock is ahead of UTC on the other.

Knows the forms of ISO 8601 that loggers write. What is left out is refused: a time is never read with half of its text.
"""

from __future__ import annotations

import re

OFFSET = r"Z|[+\-−]\d\d(?::?\d\d)?"
# of a clock from UTC: Z, +02, +0200 or +02:00; ISO 8601-1:2019, time shift, which also has the true minus sign
DATE, SPLIT_S = r"\d{4}-\d\d-\d\d|\d{8}", r"(?:[.,]\d+)?"
CLOCK = rf"\d\d(?::\d\d(?::\d\d{SPLIT_S})?|\d\d(?:\d\d{SPLIT_S})?)?"
WRITTEN = re.compile(rf"({DATE})(?:(?:T|\s+)({CLOCK})(?:\s*({OFFSET}))?)?", re.IGNORECASE)
# a date; perhaps a clock time, and behind that an offset
FARTHEST_MIN = 14 * 60
# [min] no clock on earth is farther from UTC: +14:00 on the Line Islands; tz database, Pacific/Kiritimati
LONGEST_SHOWN = 20
# characters that a message repeats


def offset_min(text: str) -> int:
    """Minutes that a clock is ahead of UTC, from its offset as written.

    Raises
    ------
    ValueError
        Where it is none, or farther from UTC than any clock.

    Examples
    --------
    >>> [offset_min(text) for text in ("Z", "+02", "+0530", "-03:30")]
    [0, 120, 330, -210]
    """
    if not re.fullmatch(OFFSET, text, re.IGNORECASE):
        raise ValueError(f"{text[:LONGEST_SHOWN]!r} is no offset from UTC; write Z, +02, +0200 or +02:00.")
    if text.upper() == "Z":
        return 0
    digits = text[1:].replace(":", "").ljust(4, "0")
    minutes = 60 * int(digits[:2]) + int(digits[2:])
    if int(digits[2:]) > 59 or minutes > FARTHEST_MIN:
        raise ValueError(f"{text!r} is no offset from UTC; clocks lie up to 14 hours from it.")
    return minutes if text[0] == "+" else -minutes
