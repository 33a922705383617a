"""What is kept from one month to the next, in one small file: what was believed, and the last days.

Next month's history is joined to the last days kept, so that what would have been seen by now can still be told, and
the months before need not be read again. Nothing else is stored, and a state is only read for the rig it was made for.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from vanpower.files.atomic import written
from vanpower.files.rig_files import rig_to_toml
from vanpower.rig import Rig
from vanpower.watching.expectations import SKIES
from vanpower.watching.filtering import KEPT_DAYS, LOAD_DAYS, Dates, Filtered, FilterState
from vanpower.watching.histories import FIELDS, History
from vanpower.watching.logs import MIDDLES, LogDays
from vanpower.watching.skies import STYLES
from vanpower.watching.stays import Stays

Array = np.ndarray

FORM, LARGEST = 1, 4_000_000
# of the file, and bytes that it may have
DIGITS = 9
# of a probability


@dataclass(frozen=True, eq=False)
class Kept:
    """What is kept of one history.

    Parameters
    ----------
    believed : FilterState
        Before the first of the days kept.
    history : History
        The last days.
    latitude, longitude, heading, number : ndarray (day,)
        Where the van stood on them.
    told : (bool, bool, bool)
        Whether places and moves were told, and whether one place was told for all days.
    alarm : (date, date), optional
        On which day the alarm that still holds was first sure, and since when something is wrong.
    days : int
        How many there were in all.
    lead : int
        Days of the history from which loads alone are reckoned, before those that are run through anew.
    """

    believed: FilterState
    history: History
    latitude: Array
    longitude: Array
    heading: Array
    number: Array
    told: tuple[bool, bool, bool]
    alarm: Dates | None
    days: int
    lead: int = 0


def kept_of(history: History, stays: Stays, filtered: Filtered, alarm: Dates | None, before: Kept | None) -> Kept:
    """What is to be kept after a run over a history, which may itself begin with days that were kept."""
    first = max(len(history) - KEPT_DAYS, 0)
    # before the days that are run through anew stand as many as a mean load is reckoned from
    begin = max(first - LOAD_DAYS, 0)
    late = slice(begin, None)
    days = len(history) + (0 if before is None else before.days - len(before.history) + before.lead)
    shown = replace(history.only(late), notes=())
    last = stays.only(late)
    return Kept(filtered.states[first], shown, last.latitude, last.longitude, last.heading, last.number,
                (stays.places, stays.moves, stays.stands), alarm, days, first - begin)  # fmt: skip


def write_state(path: Path, rig: Rig, kept: Mapping[str, Kept]) -> None:
    """Write what is kept, whole or not at all.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "state.json"
    ...     write_state(path, example("bookmobile"), {})
    ...     read_state(path, example("bookmobile"))
    {}
    """
    held = {"vanpower": "watch", "form": FORM, "rig": _print(rig), "circuits": {k: _plain(v) for k, v in kept.items()}}
    with written(path) as file:
        file.write(json.dumps(held).encode())


def read_state(path: Path, rig: Rig) -> dict[str, Kept]:
    """What was kept of a rig; nothing where there is no file yet.

    Raises
    ------
    ValueError
        For a file that is no state, or one of another rig.
    """
    if not path.exists():
        return {}
    begin_anew = "name another file, or remove it and give the whole history once more"
    try:
        if path.stat().st_size > LARGEST:
            raise ValueError
        held = json.loads(path.read_bytes())
        if held["vanpower"] != "watch" or held["form"] != FORM:
            raise ValueError
        whose = held["rig"]
        found = {str(name): _kept(value) for name, value in held["circuits"].items()}
    except (ValueError, KeyError, TypeError, IndexError, RecursionError, AttributeError):
        raise ValueError(f"{path.name} is no state that watch has written; {begin_anew}.") from None
    if whose != _print(rig):
        raise ValueError(f"{path.name} was kept for another rig, or {rig.name} has changed since; {begin_anew}.")
    return found


def _print(rig: Rig) -> str:
    """A word that changes when the rig does."""
    return hashlib.sha256(rig_to_toml(rig).encode()).hexdigest()[:16]


def _plain(kept: Kept) -> dict[str, Any]:
    """What is kept as plain data; what is not known is null."""
    believed, history = kept.believed, kept.history
    return {
        "belief": [float(f"{value:.{DIGITS}g}") for value in believed.belief.ravel()],
        "shape": list(believed.belief.shape),
        "skies": [[float(f"{value:.{DIGITS}g}") for value in row] for row in believed.skies],
        "offset": believed.offset.tolist(),
        "darker": believed.darker.tolist(),
        "known": [int(count) for count in believed.known],
        "name": history.name,
        "circuit": history.circuit,
        "dates": [str(day) for day in history.dates],
        **{name: _nulls(getattr(history, name)) for name in FIELDS},
        "rows": None if history.rows is None else _plain_rows(history.rows),
        "latitude": kept.latitude.tolist(),
        "longitude": _nulls(kept.longitude),
        "heading": _nulls(kept.heading),
        "number": kept.number.tolist(),
        "told": list(kept.told),
        "alarms": [] if kept.alarm is None else [[str(day) for day in kept.alarm]],
        "days": kept.days,
        "lead": kept.lead,
    }


def _plain_rows(rows: LogDays) -> dict[str, Any]:
    """What a log said of the days kept, as plain data."""
    middles = {name: _nulls(getattr(rows, name)) for name in MIDDLES}
    return {"highs": [_nulls(day) for day in rows.highs], "noon_h": rows.noon_h, **middles}


def _rows(plain: Mapping[str, Any]) -> LogDays:
    """The same from plain data."""
    highs = np.stack([_numbers(day) for day in plain["highs"]])
    return LogDays(highs, float(plain["noon_h"]), *(_numbers(plain[name]) for name in MIDDLES))


def _nulls(values: Array) -> list[float | None]:
    return [float(value) if np.isfinite(value) else None for value in values]


def _numbers(values: list[float | None]) -> Array:
    return np.array([np.nan if value is None else float(value) for value in values])


def _kept(plain: Mapping[str, Any]) -> Kept:
    """What is kept, from plain data."""
    belief = np.array(plain["belief"], dtype=float).reshape(plain["shape"])
    if not np.isfinite(belief).all() or belief.min() < 0 or belief.sum() <= 0:
        raise ValueError
    # where one row was learned for all causes, each begins with it
    skies, offset = (np.array(plain[name], dtype=float) for name in ("skies", "offset"))
    skies = np.broadcast_to(skies, (len(belief), SKIES * len(STYLES)))
    offset = np.broadcast_to(offset, len(belief))
    # a state that was written before time awake was read knows nothing of it
    darker = np.array(plain.get("darker", [0.0] * len(belief)), dtype=float)
    volts, awake = plain["known"] if "darker" in plain else (plain["known"], 0)
    believed = FilterState(belief / belief.sum(), skies, offset, darker, (int(volts), int(awake)))
    dates = np.array(plain["dates"], dtype="datetime64[D]")
    values: dict[str, Any] = {name: _numbers(plain[name]) for name in FIELDS}
    rows = None if plain["rows"] is None else _rows(plain["rows"])
    history = History(str(plain["name"]), dates, **values, circuit=str(plain["circuit"]), rows=rows)
    # a state that was written before it was kept does not know whether the van stands
    places, moves, stands = [*plain["told"], False][:3]
    alarm = next(((np.datetime64(sure, "D"), np.datetime64(since, "D")) for sure, since, *_ in plain["alarms"]), None)
    latitude, number = np.array(plain["latitude"], dtype=float), np.array(plain["number"], dtype=int)
    heading, told = _numbers(plain["heading"]), (bool(places), bool(moves), bool(stands))
    longitude = _numbers(plain.get("longitude", [None] * len(latitude)))
    return Kept(believed, history, latitude, longitude, heading, number, told, alarm, int(plain["days"]),
                int(plain["lead"]))  # fmt: skip
