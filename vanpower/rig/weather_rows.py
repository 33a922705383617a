"""Weather as plain rows that a request holds itself, so that a chart can carry a day of somebody's own file along.

Frozen, hashable, and whole in itself: no path is involved, and nothing has to be looked up.
"""

from __future__ import annotations

from dataclasses import asdict, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING

from vanpower.rig.fields import Description

if TYPE_CHECKING:
    import pandas as pd

MOST_ROWS = 530_000
# rows a request may hold: a year of minutes
FINGERPRINT = 16
# hexadecimal digits of a day's name
LONGEST_DAY_S = 400 * 86_400
# [s] from the first row to the last: a year of rows and some; no source
LONGEST_PLACE, LONGEST_NOTE, MOST_NOTES = 200, 1000, 12
# characters of a place and of a note, and notes
HIGHEST_M = 9000.0
# [m] no roof stands higher
WEATHER_RANGES = {
    "ghi": (0.0, 1800.0, "W/m²"),
    "temp_air": (-60.0, 60.0, "°C"),
    "wind_speed": (0.0, 100.0, "m/s"),
    "dni": (0.0, 1410.0, "W/m²"),
    "dhi": (0.0, 1390.0, "W/m²"),
    "temp_battery": (-40.0, 60.0, "°C"),
}
# what weather can be, wherever it comes from. Straight from the sun no more can come than the sun sends to the top of
# the air when the earth is nearest it: 1361 / 0.9833² = 1408 W/m² (Kopp and Lean 2011; Allen's Astrophysical
# Quantities), the bound of BSRN Global Network recommended QC tests V2.0 (Long and Dutton), "physically possible"; from
# the sky 0.95 of that and 50, in the same table. On the flat, bright edges of clouds add to the sun; no source for the
# rest


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
    >>> list(rows.table()["ghi"]), {rows: "a key"}[rows]
    ([600.0, 800.0], 'a key')
    """

    place: str
    start: str
    seconds: tuple[int, ...] = field(repr=False)
    step_h: float
    ghi: tuple[float, ...] = field(repr=False)
    temp_air: tuple[float, ...] = field(repr=False)
    wind_speed: tuple[float, ...] = field(repr=False)
    dni: tuple[float, ...] | None = field(default=None, repr=False)
    dhi: tuple[float, ...] | None = field(default=None, repr=False)
    temp_battery: tuple[float, ...] | None = field(default=None, repr=False)
    position: tuple[float, float] | None = None
    altitude_m: float = 0.0
    time_zone: str = ""
    notes: tuple[str, ...] = ()

    def together(self) -> None:
        """Refuse columns that cannot be."""
        rows = len(self.seconds)
        if not 2 <= rows <= MOST_ROWS:
            raise ValueError(f"weather has {rows} rows; from 2 to {MOST_ROWS} make sense.")
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

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Reckoned once: a request is looked up with every move of a slider, and a day of minutes has 9000 numbers."""
        return hash((self.place, self.start, self.seconds, self.ghi, self.temp_air))

    def _check_columns(self, rows: int) -> None:
        for name, (low, high, unit) in WEATHER_RANGES.items():
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
        """What a recipe calls these rows."""
        import hashlib
        import json

        told = asdict(self)
        if self.temp_battery is None:
            # older pictures know their rows by a name that had no such column
            del told["temp_battery"]
        text = json.dumps(told, sort_keys=True)
        return f"rows:{hashlib.sha256(text.encode()).hexdigest()[:FINGERPRINT]}"

    def table(self) -> pd.DataFrame:
        """The rows by time."""
        from zoneinfo import ZoneInfo

        import pandas as pd

        try:
            datetime.fromisoformat(self.start)
            first = pd.Timestamp(self.start)
            index = first + pd.to_timedelta(list(self.seconds), unit="s")
            index = index.tz_convert(ZoneInfo(self.time_zone)) if self.time_zone else index
        except (ValueError, OverflowError, TypeError, KeyError, OSError):
            raise ValueError(
                f"a day begins at {self.start[:40]!r}, which is not a time, or its clock is not known."
            ) from None
        columns = {name: getattr(self, name) for name in WEATHER_RANGES if getattr(self, name) is not None}
        return pd.DataFrame({name: list(values) for name, values in columns.items()}, index=index, dtype=float)
