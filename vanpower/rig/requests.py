"""What is asked: a moment set by hand, a real day or a made sky, and shade noted on the roof."""

from __future__ import annotations

import re
from dataclasses import dataclass

from vanpower.rig.checking import Checked, require, require_count, require_range


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
    lit : float
        Share of the light that still arrives, 0 to 1.
    """

    panel: int
    lit: float
    substring: int | None = None
    cells: int | None = None

    def __post_init__(self) -> None:
        require_range(self, "lit", 0.0, 1.0, unit="(a share of the light)", above="Is this percent?")
        for field, first in (("panel", 0), ("substring", 0), ("cells", 1)):
            require_count(self, field, first, 200)


@dataclass(frozen=True, kw_only=True)
class Snapshot(Checked):
    """One moment set by hand: light [W/m²], cell temperature [°C] and shade."""

    light: float
    temp_cell: float
    shade: tuple[Shade, ...] = ()

    def __post_init__(self) -> None:
        require_range(self, "light", 0.0, 1800.0, unit="W/m²", above="Are these lux?")
        require_range(self, "temp_cell", -60.0, 110.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Outlook(Checked):
    """A real day: which weather, which day of it, and shade that stays all day.

    Parameters
    ----------
    weather : str
        A name the kit knows ("sand-point"), or the path of a CSV file with columns time, ghi and temp_air.
    day : str
        "dull", "median" or "bright" (5, 50 and 95 of 100 days bring less light), month-day such as "12-21", "only"
        for a file of a single day, or "all" for every row of it.
    heading_deg : float
        Where the nose points, clockwise from north; turns the roof with what stands on it.
    """

    weather: str = "sand-point"
    day: str = "dull"
    shade: tuple[Shade, ...] = ()
    heading_deg: float = 0.0

    def __post_init__(self) -> None:
        require_range(self, "heading_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")


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
        require(bool(dated), self, "day", "month and day make sense, such as 06-21", "June is 06, not 6.")
        require_range(self, "hour", 0.0, 24.0, unit="h")
        require_range(self, "step_min", 1.0, 60.0, unit="minutes")
        require_range(self, "heading_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")
        require_range(self, "clearness", 0.0, 1.0, unit="(1 is clear, 0 overcast)", above="Is this percent?")
        require_range(self, "temp_air", -60.0, 60.0, above="Is this Fahrenheit?")


Request = Snapshot | Outlook | Parked
