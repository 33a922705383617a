"""Weather kept as plain rows, so that a chart can carry a day of somebody's own file along.

A day is named by what it holds, "rows:" and a fingerprint; `find_day` knows every day that was kept. No path is
involved: what a stranger's recipe carries is looked up in memory, never on the disk.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from vanpower.files.clocks import WRITTEN
from vanpower.rig.fields import Description
from vanpower.weather.series import WeatherSeries

if TYPE_CHECKING:
    import pandas as pd

MOST_ROWS = 1500
# rows a chart may carry: a day of minutes and an hour to spare; no source
MOST_KEPT = 64
# days kept in memory; the oldest goes first
FINGERPRINT = 16
# hexadecimal digits of a day's name
LONGEST_DAY_S = 400 * 86_400
# [s] from the first row to the last: a year of rows and some; no source
LONGEST_PLACE, LONGEST_NOTE, MOST_NOTES = 200, 1000, 12
# characters of a place and of a note, and notes
HIGHEST_M = 9000.0
# [m] no roof stands higher
LIMITS = {
    "ghi": (0.0, 1800.0, "W/m²"),
    "temp_air": (-60.0, 60.0, "°C"),
    "wind_speed": (0.0, 100.0, "m/s"),
    "dni": (0.0, 1800.0, "W/m²"),
    "dhi": (0.0, 1800.0, "W/m²"),
    "temp_battery": (-40.0, 60.0, "°C"),
}
# what weather can be; a person's own file is held to closer bounds when it is read

_KEPT: dict[str, WeatherRows] = {}


class WeatherRows(Description):
    """Rows of weather as plain numbers.

    Parameters
    ----------
    place : str
        What titles call it.
    start : str
        Time of the first row, as 2026-06-01T10:00, with an offset from UTC where the file has one.
    seconds : tuple of int
        Time of each row after the first. [s]
    step_h : float
        What each row stands for. [h]
    ghi, temp_air, wind_speed : tuple of float
        Light on the flat, air and wind, row by row. [W/m², °C, m/s]
    dni, dhi : tuple of float, optional
        Direct light towards the sun, and light of the sky on the flat. [W/m²]
    temp_battery : tuple of float, optional
        The house battery as measured. [°C]
    position : tuple of float, optional
        Latitude and longitude. [degrees]
    altitude_m : float
    time_zone : str
        Clock of the place, such as Europe/Oslo, where offsets alone would not tell when it changes.
    notes : tuple of str
        What was left out, averaged or estimated.

    Examples
    --------
    >>> rows = WeatherRows(place="My roof", start="2026-06-21T11:00", seconds=(0, 3600), step_h=1.0,
    ...                    ghi=(600.0, 800.0), temp_air=(19.0, 21.0), wind_speed=(1.0, 1.0))
    >>> rows.day().title
    'My roof, 21 Jun, 1400 Wh/m² on the flat'
    """

    place: str
    start: str
    seconds: tuple[int, ...]
    step_h: float
    ghi: tuple[float, ...]
    temp_air: tuple[float, ...]
    wind_speed: tuple[float, ...]
    dni: tuple[float, ...] | None = None
    dhi: tuple[float, ...] | None = None
    temp_battery: tuple[float, ...] | None = None
    position: tuple[float, float] | None = None
    altitude_m: float = 0.0
    time_zone: str = ""
    notes: tuple[str, ...] = ()

    def together(self) -> None:
        """Refuse columns that cannot be."""
        rows = len(self.seconds)
        if not 2 <= rows <= MOST_ROWS:
            raise ValueError(f"a day has {rows} rows; from 2 to {MOST_ROWS} can go with a chart.")
        rising = all(a < b for a, b in zip(self.seconds, self.seconds[1:], strict=False))
        if self.seconds[0] != 0 or not rising or self.seconds[-1] > LONGEST_DAY_S:
            raise ValueError("times of a day's rows must begin at 0 and rise within a year.")
        if not 0 < self.step_h <= 12:
            raise ValueError(f"a day's rows stand for {self.step_h:g} h each; up to 12 h make sense.")
        if len(self.place) > LONGEST_PLACE:
            raise ValueError(f"a day's place has {len(self.place)} letters; up to {LONGEST_PLACE} make sense.")
        self._check_columns(rows)
        if self.position and not (abs(self.position[0]) <= 90 and abs(self.position[1]) <= 180):
            raise ValueError(f"a day's place lies at {self.position}; latitudes end at 90, longitudes at 180.")
        if not abs(self.altitude_m) <= HIGHEST_M:
            raise ValueError(f"a day's place lies at {self.altitude_m:g} m; up to {HIGHEST_M:g} m make sense.")
        if len(self.notes) > MOST_NOTES or any(len(note) > LONGEST_NOTE for note in self.notes):
            raise ValueError(f"a day has up to {MOST_NOTES} notes of up to {LONGEST_NOTE} letters.")
        self.table()

    def _check_columns(self, rows: int) -> None:
        for name, (low, high, unit) in LIMITS.items():
            values = getattr(self, name)
            if values is None:
                continue
            if len(values) != rows:
                raise ValueError(f"a day has {rows} times and {len(values)} values of {name}.")
            bad = [value for value in values if not low <= value <= high]
            if bad:
                raise ValueError(f"{name} is {bad[0]:g}; a value from {low:g} to {high:g} {unit} makes sense.")

    @property
    def name(self) -> str:
        """What a request calls these rows."""
        told = asdict(self)
        if self.temp_battery is None:
            # older pictures know their rows by a name that had no such column
            del told["temp_battery"]
        text = json.dumps(told, sort_keys=True)
        return f"rows:{hashlib.sha256(text.encode()).hexdigest()[:FINGERPRINT]}"

    def table(self) -> pd.DataFrame:
        """The rows by time."""
        import pandas as pd

        try:
            if not WRITTEN.fullmatch(self.start):
                raise ValueError
            first = pd.Timestamp(self.start)
            index = first + pd.to_timedelta(list(self.seconds), unit="s")
            index = index.tz_convert(ZoneInfo(self.time_zone)) if self.time_zone else index
        except (ValueError, OverflowError, TypeError, KeyError, OSError):
            raise ValueError(
                f"a day begins at {self.start[:40]!r}, which is not a time, or its clock is not known."
            ) from None
        columns = {name: getattr(self, name) for name in LIMITS if getattr(self, name) is not None}
        return pd.DataFrame({name: list(values) for name, values in columns.items()}, index=index, dtype=float)

    def day(self) -> WeatherSeries:
        """The rows as any other weather."""
        return WeatherSeries(self.table(), self.place, self.step_h, self.position, self.altitude_m, self.notes)


def rows_of(day: WeatherSeries) -> WeatherRows:
    """A day as plain rows.

    Examples
    --------
    >>> from vanpower import MadeSky, find_day
    >>> rows = rows_of(find_day(MadeSky(kind="half-sine", step_min=60), "only"))
    >>> rows.start, rows.seconds[:2], round(rows.ghi[12])
    ('2025-06-21T00:00:00', (0, 3600), 989)
    """
    table = day.table
    times = table.index
    columns = {name: tuple(map(float, table[name])) for name in LIMITS if name in table and table[name].notna().all()}
    return WeatherRows(
        place=day.place,
        start=times[0].isoformat(),
        seconds=tuple(round(passed) for passed in (times - times[0]).total_seconds()),
        step_h=day.step_h,
        position=day.position,
        altitude_m=day.altitude_m,
        time_zone=_zone(times),
        notes=day.notes,
        **columns,  # type: ignore[arg-type]
    )


def _zone(times: pd.DatetimeIndex) -> str:
    """The clock by its name, where it has one that puts it forward and back."""
    name = str(times.tz)
    return name if "/" in name else ""


def keep(rows: WeatherRows) -> str:
    """Keep rows for `find_day`, and give the name by which it knows them.

    Examples
    --------
    >>> from vanpower import MadeSky, find_day
    >>> name = keep(rows_of(find_day(MadeSky(kind="half-sine", peak=500.0, step_min=60), "only")))
    >>> find_day(name, "only").title
    'Made half-sine day, 21 Jun, 3820 Wh/m² on the flat'
    """
    name = rows.name
    _KEPT[name] = rows
    while len(_KEPT) > MOST_KEPT:
        _KEPT.pop(next(iter(_KEPT)))
    return name


def kept(name: str) -> WeatherRows | None:
    """The rows of that name, if they were kept.

    Examples
    --------
    >>> from vanpower import MadeSky, find_day
    >>> rows = rows_of(find_day(MadeSky(kind="half-sine", step_min=60), "only"))
    >>> kept(keep(rows)) == rows, kept("rows:of another session")
    (True, None)
    """
    return _KEPT.get(name)
