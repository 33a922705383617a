"""What is asked: a moment set by hand, a real day or a made sky, and shade noted on the roof."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from vanpower.rig.checking import Checked, require, require_count, require_one_of, require_range
from vanpower.rig.dates import meant_days
from vanpower.rig.weather_rows import WeatherRows

SKIES = ("clear", "overcast", "broken", "half-sine")
# skies that can be made up
LOG_COLUMNS = ("time", "ghi", "dni", "dhi", "temp_air", "wind_speed", "temp_battery", "p_harvest", "harvest_wh")
# what a log may hold: light on the flat, straight from the sun, from the sky [W/m²], air [°C], wind [m/s], and the
# house battery as measured [°C], and what the controllers brought, in watts or in watt-hours of each row


@dataclass(frozen=True, kw_only=True)
class Shade(Checked):
    """A note of shade taken on the roof: the lit share of some cells of one panel.

    Parameters
    ----------
    panel : int
        Which panel, counted from 0.
    substring : int, optional
        Which group under one bypass diode, counted from 0; None is the whole panel.
    cells : int, optional
        How many cells of each branch of the group; None is all of them.
    branch : int, optional
        Which half of a half-cut panel, counted from 0; None is both.
    lit : float
        Share of the light that still arrives, 0 to 1.

    Examples
    --------
    >>> Shade(panel=0, substring=0, lit=0.2)  # a fifth of the light on the first group of cells of P1
    Shade(panel=0, lit=0.2, substring=0, cells=None, branch=None)
    """

    panel: int
    lit: float
    substring: int | None = None
    cells: int | None = None
    branch: int | None = None

    def __post_init__(self) -> None:
        require_range(self, "lit", 0.0, 1.0, unit="(a share of the light)", above="Is this percent?")
        for field, first in (("panel", 0), ("substring", 0), ("cells", 1), ("branch", 0)):
            require_count(self, field, first, 200)

    @property
    def place(self) -> str:
        """Which cells, as the command line has them, counted from 1: P2, its group P2.1, its half P2/1, P2.1/1x3.

        Examples
        --------
        >>> Shade(panel=0, substring=1, branch=0, cells=3, lit=0.2).place
        'P1.2/1x3'
        """
        group = "" if self.substring is None else f".{self.substring + 1}"
        half = "" if self.branch is None else f"/{self.branch + 1}"
        return f"P{self.panel + 1}{group}{half}{'' if self.cells is None else f'x{self.cells}'}"


@dataclass(frozen=True, kw_only=True)
class Snapshot(Checked):
    """One moment set by hand: light [W/m²], cell temperature [°C] and shade.

    Examples
    --------
    >>> Snapshot(light=200.0, temp_cell=15.0).shade
    ()
    """

    light: float
    temp_cell: float
    shade: tuple[Shade, ...] = ()

    def __post_init__(self) -> None:
        require_range(self, "light", 0.0, 1800.0, unit="W/m²", above="Are these lux?")
        require_range(self, "temp_cell", -60.0, 110.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Place(Checked):
    """Where the van stands: degrees north and east, height over the sea, and the clock it keeps.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        North and east count positive.
    altitude_m : float
        Height over the sea.
    time_zone : str
        A name such as "Europe/Oslo", or "UTC".

    Examples
    --------
    >>> Place(latitude_deg=59.9, longitude_deg=10.7, time_zone="Europe/Oslo").altitude_m
    0.0
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    time_zone: str = "UTC"

    def __post_init__(self) -> None:
        require_range(self, "latitude_deg", -90.0, 90.0, slip="Are latitude and longitude swapped?")
        require_range(self, "longitude_deg", -180.0, 180.0, slip="West is negative.")
        require_range(self, "altitude_m", -450.0, 6000.0, above="Are these feet?")
        try:
            ZoneInfo(self.time_zone)
        except (ValueError, OSError, KeyError, TypeError):
            require(False, self, "time_zone", 'a name such as "Europe/Oslo" or "UTC" makes sense')


@dataclass(frozen=True, kw_only=True)
class MadeSky(Checked):
    """A sky made up for one date, where nothing was measured.

    Parameters
    ----------
    kind : str
        "clear", "overcast" (an even share of the clear sky, all of it diffuse), "broken" (clouds that come and go, with
        bright edges) or "half-sine" (light alone, no sun: a flat panel only).
    place : Place, optional
        Where; only "half-sine" does without.
    clearness : float
        Share of the clear sky's light that an overcast sky lets through.
    seed : int
        Which clouds a broken sky has; the same number gives the same clouds.
    hours, peak : float
        Length and noon light of a half-sine day. [h, W/m²]
    temp_air, wind_speed : float
        The same all day. [°C, m/s]
    turbidity : float, optional
        Linke's, of the clear sky: 2 is clean mountain air, 7 a hazy city. None takes a table's for month and place.
    step_min : float
        Minutes a row stands for; a broken sky wants 1.

    Examples
    --------
    >>> MadeSky(kind="half-sine").peak
    1000.0
    """

    kind: str
    place: Place | None = None
    clearness: float = 0.2
    seed: int = 1
    hours: float = 12.0
    peak: float = 1000.0
    temp_air: float = 15.0
    wind_speed: float = 1.0
    turbidity: float | None = None
    step_min: float = 1.0

    def __post_init__(self) -> None:
        require_one_of(self, "kind", SKIES, {"cloud": 'Closed cloud is "overcast", gaps between clouds "broken".'})
        whole = self.place is not None or self.kind == "half-sine"
        require(whole, self, "place", f"a {self.kind} sky needs to know where; give it a Place")
        require_range(self, "clearness", 0.0, 1.0, unit="(a share of the clear sky)", above="Is this percent?")
        require_count(self, "seed", 0, 10**9)
        require_range(self, "hours", 1.0, 24.0, unit="h")
        require_range(self, "peak", 0.0, 1400.0, unit="W/m²", above="Are these lux?")
        require_range(self, "temp_air", -60.0, 60.0, above="Is this Fahrenheit?")
        require_range(self, "wind_speed", 0.0, 100.0, unit="m/s")
        require_range(self, "turbidity", 1.0, 10.0)
        require_range(self, "step_min", 0.5, 60.0, unit="minutes")
        even = (60.0 / self.step_min) % 1.0 < 1e-9
        require(even, self, "step_min", "an hour must divide evenly, by 1, 5, 10, 15 or 30 minutes")


@dataclass(frozen=True, kw_only=True)
class WeatherLog(Checked):
    """A person's own log of weather, whatever its columns are called.

    Parameters
    ----------
    path : str
        A CSV file.
    columns : mapping of str to str, or tuple of pairs
        What our names (time, ghi, dni, dhi, temp_air, wind_speed) are called in the file; those left out bear ours.
    place : Place, optional
        Where and in which clock it was logged; without it panels must lie flat.

    Examples
    --------
    >>> WeatherLog(path="garden.csv", columns={"ghi": "Sun W/m2"}).columns
    (('ghi', 'Sun W/m2'),)
    """

    path: str
    columns: tuple[tuple[str, str], ...] = ()
    place: Place | None = None

    def __post_init__(self) -> None:
        pairs = self.columns.items() if isinstance(self.columns, Mapping) else self.columns
        object.__setattr__(self, "columns", tuple((str(ours), str(theirs)) for ours, theirs in pairs))
        unknown = [ours for ours, _ in self.columns if ours not in LOG_COLUMNS]
        require(not unknown, self, "columns", f"the names to the left are {', '.join(LOG_COLUMNS)}")


Weather = str | MadeSky | WeatherLog | WeatherRows


@dataclass(frozen=True, kw_only=True)
class Days(Checked):
    """A real day: which weather, which day of it, how the van stands, and shade that stays all day.

    Parameters
    ----------
    weather : str, MadeSky, WeatherLog or WeatherRows
        A name the kit knows ("sand-point", "greensboro", "miami", or "graz" for days measured minute by minute), the
        path of a file (typical years as TMY2, TMY3, EPW or PVGIS, or a CSV log), a sky made up, a log with names, or
        rows that a chart carried.
    day : str
        "dull", "median" or "bright": 5, 50 and 95 of 100 days bring less light; "dullest" or "brightest"; each also of
        a month, "dullest december". Month-day "12-21", or with its year where the file has several, "2019-12-21".
        "only" for a file of a single day, "november..february" for whole months, "all" for every row.
    heading_deg : float
        Where the van's nose points, clockwise from north: it turns every panel's azimuth along. 0 leaves panels as
        they are described.
    step_min : float, optional
        Minutes to make an hourly file finer by, along the clear sky; None leaves the rows as they are.

    Examples
    --------
    >>> Days(day="12-21").weather
    'sand-point'
    """

    weather: Weather = "sand-point"
    day: str = "dull"
    shade: tuple[Shade, ...] = ()
    heading_deg: float = 0.0
    step_min: float | None = None

    def __post_init__(self) -> None:
        require_range(self, "heading_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")
        require_range(self, "step_min", 0.5, 30.0, unit="minutes")


@dataclass(frozen=True, kw_only=True)
class Parked(Checked):
    """A van parked under a made sky: a whole day, or one hour of it.

    Parameters
    ----------
    latitude_deg : float
        North is positive. [degrees]
    day : str
        Month and day, "06-21".
    hour : float, optional
        Hours of mean sun time (the sun is highest near 12); None is the whole day. [h]
    step_min : float
        Minutes between two moments of a day.
    heading_deg : float
        Where the nose points, clockwise from north. [degrees]
    clearness : float
        1 is a clear sky, 0 an overcast one; between them the two are mixed.
    temp_air : float
        [°C]
    shade : tuple of Shade
        Notes on top of what the roof's fixtures do.

    Examples
    --------
    >>> Parked(latitude_deg=47, day="06-21", hour=9.0).clearness
    1.0
    """

    latitude_deg: float
    day: str
    hour: float | None = None
    step_min: float = 5.0
    heading_deg: float = 0.0
    clearness: float = 1.0
    temp_air: float = 20.0
    shade: tuple[Shade, ...] = ()

    def __post_init__(self) -> None:
        require_range(self, "latitude_deg", -90.0, 90.0)
        dated = isinstance(self.day, str) and re.fullmatch(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", self.day)
        meant = " or ".join(meant_days(str(self.day)))
        slip = f"Did you mean {meant}?" if meant else "June is 06, not 6."
        require(bool(dated), self, "day", "month and day make sense, such as 06-21", slip)
        require_range(self, "hour", 0.0, 24.0, unit="h")
        require_range(self, "step_min", 1.0, 60.0, unit="minutes")
        require_range(self, "heading_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")
        require_range(self, "clearness", 0.0, 1.0, unit="(1 is clear, 0 overcast)", above="Is this percent?")
        require_range(self, "temp_air", -60.0, 60.0, above="Is this Fahrenheit?")


Request = Snapshot | Days | Parked
