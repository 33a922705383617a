"""A day by name or date from a typical year, a measured day, a person's own file, or a synthetic sky."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import Days, MadeSky, Parked, Place, Weather, WeatherLog, WeatherRows, meant_days, month_of
from vanpower.weather.made_skies import made_day
from vanpower.weather.measured import MEASURED, measured_days
from vanpower.weather.parked import parked_day
from vanpower.weather.row_conversion import day_in, rows_of
from vanpower.weather.series import (
    MENDED_DAY_MIN,
    MENDED_MIN,
    MENDED_STEP_MIN,
    Mended,
    WeatherSeries,
    mended,
    regularised,
    with_gaps,
)
from vanpower.weather.sun_paths import held_against_sun, uncovered
from vanpower.weather.typical_years import TYPICAL_YEARS, typical_year, year_file
from vanpower.weather.upsample import finer

if TYPE_CHECKING:
    import datetime

    import pandas as pd

    Gaps = dict[datetime.date, str]
    Mends = dict[datetime.date, Mended]
    Months = tuple[int, ...] | None

DAY_SHARE = {"dullest": 0.0, "dull": 0.05, "median": 0.5, "bright": 0.95, "brightest": 1.0}
# share of the days with less light than the day picked
RANGE = re.compile(r"\A([a-z]+|\d\d?)\.\.([a-z]+|\d\d?)\Z")
# months from one to another
MONTH_WORD = re.compile(r"\A([a-z]{3,}|\d\d?)\Z")
SPAN = re.compile(r"\A(\d\d-\d\d)\.\.(\d\d-\d\d)\Z")
# days from one to another of the same year
DATED = re.compile(r"\A(?:(\d{4})-)?(\d\d-\d\d)\Z")
# a date, with or without its year
TOLD = 3
# days left out that a note names; the rest is counted


class SeveralDays(ValueError):
    """A weather of many days of which none was named.

    Examples
    --------
    >>> try:
    ...     find_day("graz", "only")
    ... except SeveralDays as many:
    ...     print(str(many)[:26])
    this weather holds 7 days;
    """


def find_day(weather: Weather, day: str) -> WeatherSeries:
    """The weather of one day or several, by name or date, from any weather that the kit can read or make.

    Parameters
    ----------
    weather : str, MadeSky, WeatherLog or WeatherRows
        "sand-point", "greensboro", "miami"; "graz" or one of its days, "graz-2017-07-01"; the path of a TMY2, TMY3,
        EPW, PVGIS or NSRDB file, or of a CSV log; a synthetic sky; a log whose columns have other names; or rows that
        `read_weather` gave.
    day : str
        As in `Days`.

    Returns
    -------
    WeatherSeries
        Irradiance, air temperature and wind, row by row.

    Raises
    ------
    ValueError
        For a name, file or day that is not there, with what would be; and for a day with gaps, which are not filled in.

    Examples
    --------
    >>> find_day("sand-point", "dull").title
    'Sand Point (typical year), 20 Dec, 303 Wh/m² on the flat'
    """
    return _find_day(weather, day, stamp(weather))


def read_weather(
    source: str | Path | bytes | pd.DataFrame,
    *,
    columns: Mapping[str, str] | None = None,
    place: Place | None = None,
    name: str = "My weather",
) -> WeatherRows:
    """Weather from a DataFrame, bytes, a text or a file, as rows that a request can hold and a chart can carry along.

    Parameters
    ----------
    source : DataFrame, bytes, str or path
        Columns time, ghi [W/m²], temp_air [°C] and others, as in a person's own CSV; a DataFrame's index of times
        counts as the column time.
    columns : mapping, optional
        Quantity to the name of its column, where that is not recognised: {"ghi": "Sun W/m2"}.
    place : Place, optional
        Where and in which time zone it was logged; without it panels must lie flat.
    name : str
        What titles call it.

    Returns
    -------
    WeatherRows
        For `Days(weather=...)`.

    Raises
    ------
    ValueError
        For the first impossible value: line, column, value, and what would make sense.

    Notes
    -----
    Days with gaps are left out, and a note says so, as with a file. A column of measured harvest is not kept.

    Examples
    --------
    >>> import pandas as pd
    >>> hours = pd.date_range("2026-06-21 08:00", periods=9, freq="h")
    >>> rows = read_weather(pd.DataFrame({"Sun": range(100, 1000, 100), "temp_air": 20.0}, index=hours),
    ...                   columns={"ghi": "Sun"}, name="My roof")
    >>> find_day(rows, "only").title
    'My roof, 21 Jun, 4500 Wh/m² on the flat'
    """
    # the door for files is loaded when a file is read: most requests name a day that is known
    from vanpower.files.columns import WEATHER
    from vanpower.files.tables import read_table
    from vanpower.weather.logs import own_day

    table = read_table(source, WEATHER, columns=columns, name=name if hasattr(source, "columns") else "")
    rows, gaps, mends = _looked_at(held_against_sun(regularised(own_day(table, place, name))))
    return rows_of(_with_mends(_picked(rows, gaps, "all"), mends))


def is_by_name(weather: str) -> bool:
    """Whether a weather comes with the kit, so that no file of a person is opened for it.

    Examples
    --------
    >>> is_by_name("graz-2017-07-01"), is_by_name("my-log.csv")
    (True, False)
    """
    return weather in TYPICAL_YEARS or _measured_name(weather) is not None


def is_day(text: str) -> bool:
    """Whether a text names days of a weather, whatever is in it.

    Examples
    --------
    >>> is_day("dullest december"), is_day("12-21"), is_day("tomorrow")
    (True, True, False)
    """
    word, _, month = text.partition(" ")
    named = word in (*DAY_SHARE, "all") and (not month or bool(MONTH_WORD.match(month.lower())))
    return named or text == "only" or bool(RANGE.match(text.lower()) or SPAN.match(text) or DATED.match(text))


def day_slip(text: str) -> str:
    """What was likely meant by a text that names no days, in a sentence; empty where nothing can be guessed.

    Examples
    --------
    >>> day_slip("12.21")
    "day '12.21': a day is written 12-21 or 2026-12-21; did you mean 12-21?"
    >>> day_slip("December")
    "day 'December' is a whole month; did you mean 'dullest december', 'median december' or 'all december'?"
    """
    days, month = " or ".join(meant_days(text)), text.lower()
    if days:
        return f"day {text!r}: a day is written 12-21 or 2026-12-21; did you mean {days}?"
    if text.isalpha() and month_of(month):
        return f"day {text!r} is a whole month; did you mean 'dullest {month}', 'median {month}' or 'all {month}'?"
    return ""


def day_of(request: Days | Parked) -> WeatherSeries:
    """The day that is asked for, found, made, or made finer where the request says so.

    Examples
    --------
    >>> hours = day_of(Days(weather="sand-point", day="dull"))
    >>> quarters = day_of(Days(weather="sand-point", day="dull", step_min=15))
    >>> [(len(day.table), round(day.energy_wh_m2)) for day in (hours, quarters)]
    [(24, 303), (96, 303)]
    """
    if isinstance(request, Parked):
        return parked_day(request)
    weather, day = request.weather, request.day
    if request.step_min is None:
        return find_day(weather, day)
    return _finer(weather, day, request.step_min / 60, stamp(weather))


def stamp(weather: Weather) -> int:
    """When a person's own file was last changed, so that what is kept of it can be told from what it says now.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     log = Path(folder) / "log.csv"
    ...     log.touch()
    ...     stamp("sand-point"), stamp(str(log)) == log.stat().st_mtime_ns
    (0, True)
    """
    if isinstance(weather, MadeSky | WeatherRows) or weather in TYPICAL_YEARS:
        return 0
    path = Path(weather.path if isinstance(weather, WeatherLog) else weather)
    return path.stat().st_mtime_ns if path.is_file() else 0


@lru_cache(maxsize=16)
def _find_day(weather: Weather, day: str, stamp_ns: int) -> WeatherSeries:
    """`find_day`, kept while the file stays as it is."""
    if isinstance(weather, MadeSky):
        return made_day(weather, day)
    if isinstance(weather, str) and (found := _measured_name(weather)):
        weather, day = found[0], found[1] or day
    if isinstance(weather, WeatherRows):
        return _picked(day_in(weather), {}, day)
    rows, gaps, mends = _rows(weather, stamp_ns)
    return _with_mends(_picked(rows, gaps, day), mends)


@lru_cache(maxsize=4)
def _finer(weather: Weather, day: str, step_h: float, stamp_ns: int) -> WeatherSeries:
    """A day made finer, kept while the file stays as it is."""
    return finer(_find_day(weather, day, stamp_ns), step_h)


@lru_cache(maxsize=4)
def _rows(weather: str | WeatherLog, _stamp: int) -> tuple[WeatherSeries, Gaps, Mends]:
    """All rows of a weather at even steps, the dates on which some are missing, and those led in lines."""
    return _looked_at(_read(weather))


def _looked_at(day: WeatherSeries) -> tuple[WeatherSeries, Gaps, Mends]:
    """Rows at even steps, the dates on which some are missing, and those led in lines."""
    rows, mends = mended(day)
    return rows, with_gaps(rows), mends


def _read(weather: str | WeatherLog) -> WeatherSeries:
    """Whatever a weather names, row by row at even steps; a person's own log is held against the sun."""
    from vanpower.weather.logs import own_file

    if isinstance(weather, WeatherLog):
        return held_against_sun(regularised(own_file(weather)))
    if weather in TYPICAL_YEARS:
        return regularised(typical_year(weather))
    if weather in MEASURED:
        return regularised(measured_days(weather))
    path = Path(weather)
    if path.suffix.lower() in (".csv", ".epw", ".json", ".tm2", ".txt") or path.exists():
        year = year_file(path)
        return held_against_sun(regularised(own_file(WeatherLog(path=weather)))) if year is None else regularised(year)
    names = [*TYPICAL_YEARS, *MEASURED]
    near = difflib.get_close_matches(weather, names, 1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(names)}, or the path of a weather file."
    raise ValueError(f"weather {weather!r} is not known; {hint}")


def _measured_name(weather: str) -> tuple[str, str] | None:
    """A name of measured days and the date behind it, "graz-2017-07-01"; None for other names."""
    for name in MEASURED:
        if weather == name or (weather.startswith(f"{name}-") and DATED.match(weather[len(name) + 1 :])):
            return name, weather[len(name) + 1 :]
    return None


def _picked(rows: WeatherSeries, gaps: Gaps, day: str) -> WeatherSeries:
    """The rows of the day asked for; among several days, those with gaps are left out, and a note says so."""
    light = _light_of_dates(rows)[1]
    if day == "only" and len(light) > 1:
        raise SeveralDays(
            f"this weather holds {len(light)} days; say which, {light.index[0]:%m-%d} to {light.index[-1]:%m-%d}, "
            "or dull, median, bright."
        )
    if found := SPAN.match(day):
        return _between(rows, gaps, light.index.tolist(), *found.groups())
    word, months = _words(day)
    if months is not None:
        light = light[[date.month in months for date in light.index]]
        if light.empty:
            raise ValueError(f"day {day!r}: {rows.place} has no row in that month.")
    whole = light[[date not in gaps for date in light.index]]
    out = [date for date in light.index if date in gaps]
    if word == "all":
        return _several(rows, whole, out, gaps, months)
    if word in DAY_SHARE:
        if whole.empty:
            raise ValueError(f"{rows.place} has no day without gaps ({_told(out, gaps)}); gaps are not filled in.")
        ranked = whole.sort_values(kind="stable")
        chosen = ranked.index[round(DAY_SHARE[word] * (len(ranked) - 1))]
        return _noted(_one(rows, chosen), out, gaps)
    chosen = light.index[0] if day == "only" else _dated(light.index.tolist(), day)
    if chosen in gaps:
        raise ValueError(
            f"{rows.place}, {chosen}: {gaps[chosen]}; gaps are not filled in (only single ones of up to "
            f"{MENDED_MIN:g} minutes are, {MENDED_DAY_MIN:g} minutes a day at most, where rows stand "
            f"{MENDED_STEP_MIN:g} minutes apart or less). Take another day or mend the log."
        )
    return _one(rows, chosen)


def _between(rows: WeatherSeries, gaps: Gaps, dates: list[datetime.date], first: str, last: str) -> WeatherSeries:
    """All days from one to another, each of which must be there and whole."""
    if first > last:
        raise ValueError(f"day '{first}..{last}' runs over New Year; ask for {first}..12-31 and 01-01..{last}.")
    begin, end = _dated(dates, first), _dated(dates, last)
    chosen = [date for date in dates if begin <= date <= end]
    missing = [date for date in chosen if date in gaps]
    if missing or len(chosen) != (end - begin).days + 1:
        lacks = _told(missing, gaps) if missing else f"{len(chosen)} of {(end - begin).days + 1} days are there"
        raise ValueError(f"{rows.place}, {first} to {last}: {lacks}; gaps are not filled in.")
    moments = _light_of_dates(rows)[0]
    return replace(rows, table=rows.table[(begin <= moments) & (moments <= end)])


@lru_cache(maxsize=4)
def _light_of_dates(rows: WeatherSeries) -> tuple[np.ndarray, pd.Series]:
    """The date of every row, and the light of each date, by date; kept, since a trip asks one file for many days."""
    moments = rows.table.index.date
    return moments, rows.table["ghi"].groupby(moments).sum()


def _with_mends(day: WeatherSeries, mends: Mends) -> WeatherSeries:
    """With a note on the minutes that were led in lines, and what that may cost."""
    found = [mends[date] for date in np.unique(day.table.index.date) if date in mends]
    if not found:
        return day
    minutes, bound = sum(one.minutes for one in found), sum(one.bound_wh_m2 for one in found)
    days = "" if len(found) == 1 else f" on {len(found)} days"
    share = 100 * bound / max(day.energy_wh_m2, 1.0)
    return day.noted(
        f"{minutes:g} missing minute{'s' * (minutes != 1)}{days} led in lines between their neighbours: at most "
        f"{bound:.1f} Wh/m² or {share:.2g} % of the light off"
    )


def _one(rows: WeatherSeries, date: datetime.date) -> WeatherSeries:
    """The rows of one date, with a note where they leave out some of its daylight."""
    day = replace(rows, table=rows.table[rows.table.index.date == date])
    lacking = uncovered(day)
    return day.noted(lacking) if lacking else day


def _words(day: str) -> tuple[str, Months]:
    """Which day of which months: ("dullest", (12,)), ("all", (11, 12, 1, 2)), or the word alone."""
    if found := RANGE.match(day.lower()):
        first, last = (_month(word, day) for word in found.groups())
        return "all", tuple((first + k - 1) % 12 + 1 for k in range((last - first) % 12 + 1))
    word, _, month = day.partition(" ")
    if month and word in (*DAY_SHARE, "all"):
        return word, (_month(month.strip().lower(), day),)
    return day, None


def _month(word: str, day: str) -> int:
    """A month by its number, its name or the first letters of it."""
    month = month_of(word)
    if month is None:
        raise ValueError(f"day {day!r}: {word!r} is no month; write one such as december, dec or 12.")
    return month


def _several(
    rows: WeatherSeries, whole: pd.Series, out: list[datetime.date], gaps: Gaps, months: Months
) -> WeatherSeries:
    """All whole days, of some months or of all; months over New Year stand in the order in which they come."""
    import pandas as pd

    if whole.empty:
        raise ValueError(f"{rows.place} has no day without gaps ({_told(out, gaps)}); gaps are not filled in.")
    table = rows.table[np.isin(rows.table.index.date, whole.index.to_numpy())]
    years = {date.year for date in whole.index}
    if months is not None and months[0] > months[-1] and len(years) == 1:
        late = table.index.month < months[0]
        index = table.index.where(~late, table.index + pd.DateOffset(years=1))
        table = table.set_axis(pd.DatetimeIndex(index)).sort_index()
    return _noted(replace(rows, table=table), out, gaps)


def _noted(day: WeatherSeries, out: list[datetime.date], gaps: Gaps) -> WeatherSeries:
    """With a note on the days left out."""
    return day.noted(f"left out for gaps: {_told(out, gaps)}") if out else day


def _told(out: list[datetime.date], gaps: Gaps) -> str:
    """The first few days left out and why; the rest is counted."""
    said = "; ".join(f"{date}, {gaps[date]}" for date in out[:TOLD])
    return f"{said}{f' and {len(out) - TOLD} more days' if len(out) > TOLD else ''}"


def _dated(dates: list[datetime.date], day: str) -> datetime.date:
    """The date that month-day or year-month-day names."""
    found = DATED.match(day)
    year, wanted = found.groups() if found else (None, "")
    month, number = (int(wanted[:2]), int(wanted[3:])) if found else (0, 0)
    named = [
        date
        for date in dates
        if date.month == month and date.day == number and str(date.year) == (year or str(date.year))
    ]
    if len(named) > 1:
        years = ", ".join(str(date.year) for date in named[:4]) + ", ..." * (len(named) > 4)
        raise ValueError(f"day {day!r} is in this weather {len(named)} times; say which year, {named[0]} ({years}).")
    if named:
        return named[0]
    if not found and (slip := day_slip(day)):
        raise ValueError(slip)
    turned = f"{day[3:]}-{day[:2]}"
    swapped = f" Is it {turned}?" if found and any(f"{date:%m-%d}" == turned for date in dates) else ""
    several = len({date.year for date in dates}) > 1
    first, last = (date.isoformat() if several else f"{date:%m-%d}" for date in (dates[0], dates[-1]))
    listed = f"one of {', '.join(f'{date:%m-%d}' for date in dates)}" if len(dates) <= 10 else f"{first} to {last}"
    raise ValueError(
        f"day {day!r} is not in this weather; write dull, median, bright or month-day, {listed}. Also dullest or "
        f"brightest, each also of a month: 'dullest december'.{swapped}"
    )
