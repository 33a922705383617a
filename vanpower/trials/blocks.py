"""Blocks of a trial given by their times, for logs without a column for the wiring."""

from __future__ import annotations

import re
from datetime import datetime

import numpy as np

Array = np.ndarray

SPAN = re.compile(r"\s*(\S+)\s+([\d:.]+)\s*(?:-|–|to)\s*([\d:.]+)\s*")


def spans_of(text: str, minutes: Array, start: datetime | None) -> Array:
    """The wiring of every row by the times of the blocks; rows between blocks have none (row,).

    Parameters
    ----------
    text : str
        "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20", or plain minutes of the log where it has no clock.
    """
    wiring = np.full(len(minutes), "", dtype="U40")
    end = -np.inf
    for part in re.split(r"[,;]", text):
        found = SPAN.fullmatch(part)
        if not found:
            raise ValueError(f'blocks: {part.strip()[:40]!r} is no block; write "2p 9:00-9:20", wiring, from, to.')
        if (":" in found[2]) != (":" in found[3]):
            raise ValueError(
                f"blocks: {part.strip()[:40]!r} mixes a clock time and plain minutes; write both alike, 9:00-9:20."
            )
        low, high = (_minute(found[k], start, part) for k in (2, 3))
        if low < end or high <= low:
            raise ValueError(
                f"blocks: {part.strip()[:40]!r} ends before it begins or before the block ahead of it ends."
            )
        inside = (minutes >= low - 1e-9) & (minutes <= high + 1e-9)
        if not inside.any():
            raise ValueError(
                f"blocks: no row of the log lies in {part.strip()[:40]!r}; the log lasts {minutes[-1]:.0f} min."
            )
        wiring[inside], end = found[1][:40], high
    return wiring


def _minute(text: str, start: datetime | None, part: str) -> float:
    """Minutes since the first row of a time as typed."""
    clock = re.fullmatch(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", text)
    try:
        if clock and start is not None:
            seconds = sum(int(number or 0) * unit for number, unit in zip(clock.groups(), (3600, 60, 1), strict=True))
            first = start.hour * 3600 + start.minute * 60 + start.second
            return (seconds - first) / 60.0
        if not clock:
            return float(text)
    except ValueError:
        pass
    raise ValueError(f"blocks: {text!r} in {part.strip()[:40]!r} is no time of this log; it counts plain minutes.")
