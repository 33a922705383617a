"""What a controller remembers of each day, from files in any usual words, joined by date.

Daily histories and logs of minutes or quarter hours are read; a log is summed up by days. Nothing is filled in: a day
that is not there stays a gap, a value that is not there is NaN. What cannot be one van's days is refused with what to
do: a date twice with other values, a counter that never starts anew at midnight, watt-hours that no watts explain.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.files.columns import HISTORY
from vanpower.files.reading import cells_of
from vanpower.files.tables import Table, read_table
from vanpower.rig import printable
from vanpower.watching.logs import LogDays, daily_rows, is_log, log_days

if TYPE_CHECKING:
    from typing import TypeAlias

    import pandas as pd

    Source: TypeAlias = str | Path | bytes | pd.DataFrame

Array = np.ndarray

FIELDS = ("energy_wh", "p_high", "v_high", "v_battery_low", "v_battery_high", "bulk_min", "absorption_min", "float_min")
# what may be known of a day, as numbers
SAME = 0.02
# share by which a day may differ in two files that overlap, since a day still running was saved; no source
RISING_DAYS = 25
# days in a row whose watt-hours rise; a year's weather never does so (longest run seen: 9); a counter does, no source
FEW, LEAST_HOURS, MANY = 5, 0.02, 10.0
# days of a file from which its units are judged; hours at the highest watts that a day always has, and
# by how much those of another file are more; no source
DAY_H = 24.0
WORDS = (
    ("circuit", r"(circuit|controller|charger|tracker|regler|device)(?!.*(volt|watt|power|temp|volt))", ""),
    ("bulk_min", r"bulk|haupt", r"volt|watt|curr|amp"),
    ("absorption_min", r"absor|boost|nachlad", r"volt|watt|curr|amp"),
    ("float_min", r"float|erhalt|schweb", r"volt|watt|curr|amp"),
    ("v_battery_low", r"(min|low|tief).*(bat|akku)|(bat|akku).*(min|low|tief)", r"temp|curr|amp|soc|charge$"),
    ("v_battery_high", r"(max|high|top|peak|höchst|hochst).*(bat|akku)|(bat|akku).*(max|high|top|peak|höchst)",
     r"temp|curr|amp|soc|charge$|power|watt"),
    ("p_high", r"(max|peak|high|top|höchst|hochst|spitz).*(power|watt|leist|puiss|poten|\bw\b)|"
     r"(power|watts?|leistung|puissance)\W*(max|peak|high|top)|spitzenleistung|pmax|wmax|w_max", r"bat|load|temp|volt"),
    ("v_high", r"(max|peak|high|top|höchst|hochst).*(volt|spann|tens|\bv\b|voc)|(volt|voltage|volts|spannung|v)\W*"
     r"(max|peak|high|top)|vmax|v_max", r"bat|akku|load|power|watt|temp"),
    ("energy_wh", r"yield|energ|ertrag|harvest|produc|generat|\bk?wh\b|watt.?hour|_wh|_kwh",
     r"load|consum|used|verbrauch|total|lifetime|grid|cumul|sum\b|discharg|lost"),
    ("time", r"^(date|day|datum|tag|jour|fecha|data|giorno|dato)\b", r"length|light|number|hour"),
)  # fmt: skip
# how a column is known by parts of its name, and what it must not hold; the first that fits. Words of the trade


@dataclass(frozen=True, eq=False)
class History:
    """Days of one controller in the order of their dates, every array (day,); NaN where something is not known.

    Parameters
    ----------
    name : str
        Where the days come from.
    dates : ndarray of datetime64[D]
    energy_wh : ndarray
        [Wh]
    p_high : ndarray
        Highest watts of the day: of a moment, or of a row of a log. [W]
    v_high : ndarray
        Highest volts of the panels. [V]
    v_battery_low, v_battery_high : ndarray
        [V]
    bulk_min, absorption_min, float_min : ndarray
        Minutes in each stage.
    circuit : str
        What the history calls the controller; empty where it does not say.
    notes : tuple of str
        What was told from the files.
    rows : LogDays, optional
        What the rows of a log say beyond that.

    Examples
    --------
    >>> history = read_history("date,yield (kWh),max power\\n2026-05-01,0.61,140\\n2026-05-03,0.72,151")[0]
    >>> len(history), history.energy_wh.tolist(), history.has("v_high")
    (2, [610.0, 720.0], False)
    """

    name: str
    dates: Array
    energy_wh: Array
    p_high: Array
    v_high: Array
    v_battery_low: Array
    v_battery_high: Array
    bulk_min: Array
    absorption_min: Array
    float_min: Array
    circuit: str = ""
    notes: tuple[str, ...] = ()
    rows: LogDays | None = None

    def __len__(self) -> int:
        return len(self.dates)

    def has(self, field: str) -> bool:
        """Whether any day says something in this field."""
        return bool(np.isfinite(getattr(self, field)).any())

    def only(self, index: Array | slice) -> History:
        """Some of the days."""
        rows = None if self.rows is None else self.rows.only(index)
        kept = {name: getattr(self, name)[index] for name in FIELDS}
        return replace(self, dates=self.dates[index], rows=rows, **kept)

    @property
    def awake_min(self) -> Array:
        """Minutes awake: bulk, absorption and float together; NaN where none is known (day,)."""
        stages = np.stack([self.bulk_min, self.absorption_min, self.float_min])
        return np.where(np.isfinite(stages).any(axis=0), np.nansum(stages, axis=0), np.nan)

    @property
    def held_min(self) -> Array:
        """Minutes in which the battery held the array back; NaN where not known (day,)."""
        stages = np.stack([self.absorption_min, self.float_min])
        return np.where(np.isfinite(stages).any(axis=0), np.nansum(stages, axis=0), np.nan)


def read_history(
    *sources: Source | History, columns: Mapping[str, str] | None = None, dates: str = ""
) -> list[History]:
    """Histories from files, typed rows or DataFrames, one for each controller, joined by date.

    Parameters
    ----------
    *sources : path, bytes, str, DataFrame or History
        Daily histories, or logs of watts. A str with line breaks is the history itself.
    columns : mapping, optional
        Quantity to the name of its column, where that is not recognised: {"energy_wh": "Sum"}.
    dates : str
        "day first" or "month first" where dates are written with slashes.

    Returns
    -------
    list of History
        One, or one for each controller where a column tells them apart.

    Raises
    ------
    ValueError
        For what cannot be the days of one controller, with file, date, and what to do.

    Examples
    --------
    >>> may = "Date;Yield Wh;Max PV power\\n30.05.2026;610;140\\n31.05.2026;720;151"
    >>> june = "Date;Yield Wh;Max PV power\\n31.05.2026;720;151\\n01.06.2026;655;149"
    >>> [len(history) for history in read_history(may, june)]
    [3]
    """
    if not sources:
        raise ValueError("no history was given; name a file of days, or a log.")
    parts = [part for source in sources for part in _parts(source, columns or {}, dates)]
    names = list(dict.fromkeys(part.circuit for part in parts))
    return [_checked(_joined([part for part in parts if part.circuit == name])) for name in names]


def _parts(source: Source | History, columns: Mapping[str, str], dates: str) -> list[History]:
    """The histories of one source, by controller."""
    if isinstance(source, History):
        return [source]
    names = cells_of(source, HISTORY).names
    if is_log(names, columns):
        return [_of_rows(source, columns, dates)]
    several = _numbered(names) if "energy_wh" not in columns else {}
    if several:
        return [part for number, own in several.items() for part in _one_part(source, own, columns, dates, number)]
    return _one_part(source, names, columns, dates, "")


def _one_part(
    source: Source, names: Sequence[str], columns: Mapping[str, str], dates: str, number: str
) -> list[History]:
    """The histories of a daily table, from some of its columns; `number` is that of their controller."""
    table = read_table(source, HISTORY, columns={**_guessed(names, columns), **columns})
    if not len(table):
        raise ValueError(f"{table.file} has a line of names and no days; it needs both.")
    if not any(field in table for field in ("energy_wh", "p_high", "v_high")):
        raise ValueError(
            f"{table.file} has no column recognised as watt-hours of the day, highest watts or highest panel volts; it "
            f'has {", ".join(names)[:120]}. Name one: energy_wh="{names[-1][:40]}".'
        )
    parts = _by_circuit(table, table.times(dates).local)
    return [replace(part, circuit=number) for part in parts] if number else parts


def _numbered(names: Sequence[str]) -> dict[str, list[str]]:
    """Columns by the number of their controller, "yield 1" and "yield 2", with those that have none.

    Examples
    --------
    >>> _numbered(["date", "yield 1 Wh", "yield 2 Wh"])
    {'1': ['date', 'yield 1 Wh'], '2': ['date', 'yield 2 Wh']}
    """
    energy = [name for name in names if "energy_wh" in _guessed([name], {})]
    found = {name: re.findall(r"(?<![\d.])([1-9])(?![\d.])", name) for name in names}
    numbers = [found[name][-1] for name in energy if found[name]]
    if len(energy) < 2 or len(set(numbers)) != len(energy):
        if len(energy) > 1:
            two = " and ".join(repr(name[:40]) for name in energy[:2])
            raise ValueError(f'{two} could both be the watt-hours of the day. Say which: energy_wh="{energy[0][:40]}".')
        return {}
    return {number: [name for name in names if not found[name] or found[name][-1] == number] for number in numbers}


def _guessed(names: Sequence[str], given: Mapping[str, str]) -> dict[str, str]:
    """Which column holds what, by parts of its name; the first of several that could."""
    found: dict[str, str] = {}
    for name in names:
        plain = re.sub(r"[_\s.\-/\[\](),:]+", " ", name.lower()).strip()
        for field, wanted, never in WORDS:
            fits = re.search(wanted, plain) or re.search(wanted, name.lower())
            if fits and not (never and re.search(never, plain)):
                if field not in found and field not in given and name not in given.values():
                    found[field] = name
                break
    return found


def _by_circuit(table: Table, local: Array | None) -> list[History]:
    """The rows of a table, parted by their controller."""
    if local is None:
        raise ValueError(f"{table.file} counts its days without a date; write dates such as 2026-05-31.")
    days = local.astype("datetime64[D]")
    words = [printable(word) for word in table.texts("circuit")] if "circuit" in table else [""] * len(table)
    values = {name: table[name] if name in table else np.full(len(table), np.nan) for name in FIELDS}
    parts = []
    for word in dict.fromkeys(words):
        rows = np.array([other == word for other in words])
        parts.append(History(table.file, days[rows], **{k: v[rows] for k, v in values.items()}, circuit=word,
                             notes=table.notes))  # fmt: skip
    return parts


def _of_rows(source: Source, columns: Mapping[str, str], dates: str) -> History:
    """A log, summed up by days."""
    name, days, values, rows, notes = daily_rows(source, columns, dates)
    blank = {field: np.full(len(days), np.nan) for field in FIELDS}
    return History(name, days, **(blank | values), notes=notes, rows=rows)


def _joined(parts: Sequence[History]) -> History:
    """Several parts by date; a date that is there twice must say the same."""
    _check_units(parts)
    dates = np.concatenate([part.dates for part in parts])
    whose = np.concatenate([np.full(len(part), k) for k, part in enumerate(parts)])
    values = {name: np.concatenate([getattr(part, name) for part in parts]) for name in FIELDS}
    order = np.argsort(dates, kind="stable")
    kept: list[int] = []
    for row in order:
        if kept and dates[kept[-1]] == dates[row]:
            _check_same(parts, whose, values, kept[-1], int(row), str(dates[row]))
            kept[-1] = _fuller(values, kept[-1], int(row))
        else:
            kept.append(int(row))
    names = ", ".join(dict.fromkeys(part.name for part in parts))
    notes = tuple(dict.fromkeys(note for part in parts for note in part.notes))
    every = [part.rows for part in parts if part.rows is not None]
    rows = log_days(every).only(np.array(kept)) if len(every) == len(parts) else None
    kept_values = {name: value[kept] for name, value in values.items()}
    return History(names, dates[kept], **kept_values, circuit=parts[0].circuit, notes=notes, rows=rows)


def _check_units(parts: Sequence[History]) -> None:
    """Refuse parts of which one has watt-hours in thousands beside highest watts in ones, and another has not."""
    hours = []
    for part in parts:
        good = (part.energy_wh > 0.0) & (part.p_high > 0.0)
        hours.append(float(np.median(part.energy_wh[good] / part.p_high[good])) if good.sum() >= FEW else np.nan)
    if np.isnan(hours).all() or not np.nanmin(hours) < LEAST_HOURS < MANY * LEAST_HOURS < np.nanmax(hours):
        return
    least, most = (int(find(hours)) for find in (np.nanargmin, np.nanargmax))
    raise ValueError(
        f"the days of {parts[least].name} bring {hours[least]:.2g} hours of their highest watts, those of "
        f"{parts[most].name} {hours[most]:.2g}. Are the first in kWh? Then write the unit into the name of their "
        "column, such as energy (kWh)."
    )


def _fuller(values: Mapping[str, Array], one: int, other: int) -> int:
    """Of two rows of a date the one that says more, or brought more: the day was still running in the other."""
    said = [sum(bool(np.isfinite(value[row])) for value in values.values()) for row in (one, other)]
    if said[0] != said[1]:
        return one if said[0] > said[1] else other
    energy = np.nan_to_num(values["energy_wh"])
    return other if energy[other] >= energy[one] else one


def _check_same(
    parts: Sequence[History], whose: Array, values: Mapping[str, Array], one: int, other: int, date: str
) -> None:
    """Refuse a date that is there twice and says something else."""
    first, second = parts[int(whose[one])], parts[int(whose[other])]
    edge = {str(part.dates.max()) for part in (first, second)} if first is not second else set()
    for field in ("energy_wh", "p_high", "v_high"):
        a, b = float(values[field][one]), float(values[field][other])
        if not (np.isfinite(a) and np.isfinite(b)) or abs(a - b) <= SAME * max(abs(a), abs(b)) + 1e-9:
            continue
        if date in edge and b >= a * (1 - SAME):
            continue
        where = f"{first.name} and {second.name}" if first is not second else first.name
        cure = (
            "Two vans, or two controllers? Watch each alone, or tell controllers apart by a column circuit"
            if first is not second
            else "Is a row there twice, or are these two controllers? Leave one out, or add a column circuit"
        )
        raise ValueError(f"{where}: {date} is there twice, with {field} {a:g} and {b:g}; a day is what it is. {cure}.")


def _checked(history: History) -> History:
    """Refuse days that no controller can have had."""
    energy, high = history.energy_wh, history.p_high
    both = np.isfinite(energy) & np.isfinite(high) & (high > 0)
    if both.sum() >= 5:
        hours = energy[both] / high[both]
        middle = float(np.median(hours[hours > 0])) if (hours > 0).any() else 1.0
        if middle < 0.05:
            raise ValueError(
                f"{history.name}: a usual day has {float(np.median(energy[both])):.3g} Wh and "
                f"{float(np.median(high[both])):.3g} W at its highest, no day but {60 * middle:.1g} minutes of "
                "those watts. Are the watt-hours kWh? Call the column 'energy (kWh)'."
            )
        if float(np.median(hours)) > DAY_H:
            raise ValueError(
                f"{history.name}: a usual day has {float(np.median(energy[both])):.0f} Wh, more than the most watts, "
                f"{float(np.median(high[both])):.4g} W, give in 24 hours. Is it a counter that runs on, or the highest "
                "in kW? Take what the counter gained each day, or call the column 'max power (kW)'."
            )
    _check_counter(history)
    awake = history.awake_min
    if np.isfinite(awake).any() and float(np.nanmax(awake)) > 24.2 * 60:
        row = int(np.nanargmax(awake))
        raise ValueError(
            f"{history.name}, {history.dates[row]}: bulk, absorption and float make {awake[row]:.0f} minutes, a day "
            "has 1440. Are they seconds, or two days in one row? Call the columns 'bulk (s)' or part the days."
        )
    return history


def _check_counter(history: History) -> None:
    """Refuse a counter that runs on over days, or starts again in between."""
    energy = history.energy_wh[np.isfinite(history.energy_wh)]
    if len(energy) < RISING_DAYS:
        return
    run = longest = 0
    for step in np.diff(energy):
        run = run + 1 if step > 0 else 0
        longest = max(longest, run)
    if longest >= RISING_DAYS:
        raise ValueError(
            f"{history.name}: watt-hours rise on {longest} days in a row, as a counter does that runs on (or was "
            "restarted); take what it gained from one day to the next."
        )
