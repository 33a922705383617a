"""Where the van stood: a latitude for each day, and the days on which it moved; told, or worked out from the history.

Without places the latitude follows from the minutes awake, which last nearly from dawn to dusk; without moves it may
have moved on any day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import STAYS
from vanpower.files.tables import read_table
from vanpower.rig import printable
from vanpower.watching.histories import History

if TYPE_CHECKING:
    from typing import TypeAlias

    import pandas as pd

    Told: TypeAlias = str | Path | bytes | pd.DataFrame | Sequence[Sequence[object]] | None

Array = np.ndarray

USUAL_LATITUDE = 46.0
# [degrees] where nothing tells; no source
NORTH = np.arange(24.0, 63.0, 2.0)
CANDIDATES = np.concatenate([NORTH, -NORTH])
# [degrees] that a history without places may come from
LATE_H = 0.6
# [h] by which a controller is awake for less than the daylight, since it starts above a threshold; no source
LEAST_DAYS = 20
# with minutes awake, from which the latitude is worked out


@dataclass(frozen=True, eq=False)
class Stays:
    """Where the van stood on each day of a history, every array (day,).

    Parameters
    ----------
    latitude, longitude, heading : ndarray
        [degrees]; longitude and heading NaN where they are not known.
    moved : ndarray of bool
        Whether it moved before that day.
    number : ndarray of int
        Of the stay, counted from 0.
    places, moves : bool
        Whether places and moves were told.
    names : tuple of str
        Of the stays.
    stands : bool
        Whether one place was told for all days: no woods come to a van that stands there.
    """

    latitude: Array
    longitude: Array
    heading: Array
    moved: Array
    number: Array
    places: bool
    moves: bool
    names: tuple[str, ...] = ()
    stands: bool = False

    def only(self, index: slice) -> Stays:
        """Where it stood on some of the days."""
        days = {name: getattr(self, name)[index] for name in ("latitude", "longitude", "heading", "moved", "number")}
        return replace(self, **days)


def stays_of(told: Told, history: History) -> Stays:
    """Where the van stood on each day of a history.

    Parameters
    ----------
    told : path, text, DataFrame, sequence of (date, latitude, longitude[, heading]) or None
        A row for each move; one row alone is a van that stays. Latitudes left out are taken from the row before.
    history : History

    Raises
    ------
    ValueError
        For a list without a date or a place that cannot be.

    Examples
    --------
    >>> from vanpower.watching.histories import read_history
    >>> days = read_history("date,wh,max power\\n2026-05-01,610,140\\n2026-05-03,720,151")[0]
    >>> stays = stays_of([("2026-04-20", 47.1, 8.5), ("2026-05-02", 45.0, 7.7)], days)
    >>> stays.latitude.tolist(), stays.moved.tolist()
    ([47.1, 45.0], [False, True])
    """
    count = len(history)
    if told is None:
        latitude = np.full(count, _from_minutes(history))
        unknown = np.full(count, np.nan)
        return Stays(latitude, unknown, unknown, np.zeros(count, bool), np.zeros(count, int), False, False)
    starts, (latitude, longitude, heading), names = _rows(told)
    number = np.searchsorted(starts, history.dates, side="right") - 1
    number = np.maximum(number, 0)
    moved = np.concatenate([[False], number[1:] != number[:-1]])
    known = np.isfinite(latitude)
    if not known.any():
        latitude = np.full(len(starts), _from_minutes(history))
    else:
        last = np.maximum.accumulate(np.where(known, np.arange(len(latitude)), -1))
        latitude = np.where(last >= 0, latitude[np.maximum(last, 0)], latitude[known][0])
    places = bool(known.any())
    stands = len(starts) == 1
    return Stays(latitude[number], longitude[number], heading[number], moved, number, places, True, names, stands)


def _rows(told: Told) -> tuple[Array, list[Array], tuple[str, ...]]:
    """Dates, latitudes, longitudes and headings, and names of the stays in the order of their dates."""
    if isinstance(told, list | tuple):
        names: tuple[str, ...] = ("time", "latitude", "longitude", "heading")
        lines = [[*map(str, row), "", "", ""][: len(names)] for row in told]
        told = "".join(",".join(line) + "\n" for line in [names, *lines])
    table = read_table(told, STAYS)  # type: ignore[arg-type]
    if not len(table):
        raise ValueError(f"{table.file} has a line of names and no stays; a row is a date and a place.")
    local = table.times().local
    if local is None:
        raise ValueError(f"{table.file} has no dates; write 2026-05-31 in each row.")
    starts = local.astype("datetime64[D]")
    order = np.argsort(starts, kind="stable")
    where = [table[name][order] if name in table else np.full(len(table), np.nan) for name in
             ("latitude", "longitude", "heading")]  # fmt: skip
    names = tuple(printable(text) for text in table.texts("place")) if "place" in table else ()
    return starts[order], where, names


def _from_minutes(history: History) -> float:
    """The latitude whose daylight suits the minutes awake best; the usual one where there are too few."""
    awake = history.awake_min / 60.0
    good = np.isfinite(awake) & (awake > 3.0)
    if good.sum() < LEAST_DAYS:
        return USUAL_LATITUDE
    day = history.dates[good]
    number = (day - day.astype("datetime64[Y]")).astype(int) + 1
    off = [float(np.median(np.abs(_daylight(latitude, number) - LATE_H - awake[good]))) for latitude in CANDIDATES]
    return float(CANDIDATES[int(np.argmin(off))])


def _daylight(latitude: float, number: Array) -> Array:
    """Hours from dawn to dusk; Cooper (1969)."""
    tilt = np.radians(23.45) * np.sin(2 * np.pi * (284 + number) / 365)
    return 24.0 / np.pi * np.arccos(np.clip(-np.tan(np.radians(latitude)) * np.tan(tilt), -0.999, 0.999))
