"""What is asked: a moment set by hand, a real day or a made sky, and shade noted on the roof."""

from __future__ import annotations

import re
from collections.abc import Mapping

from vanpower.rig.dates import meant_days
from vanpower.rig.fields import Description, listed, number, part, require, text, whole, word
from vanpower.rig.weather_rows import WeatherRows

SKIES = ("clear", "overcast", "broken", "half-sine")
# skies that can be made up
LOG_COLUMNS = ("time", "ghi", "dni", "dhi", "temp_air", "wind_speed", "temp_battery", "p_harvest", "harvest_wh")
# what a log may hold: light on the flat, straight from the sun, from the sky [W/m²], air [°C], wind [m/s], and the
# house battery as measured [°C], and what the controllers brought, in watts or in watt-hours of each row


SKY_SLIPS = {"cloud": 'Closed cloud is "overcast", gaps between clouds "broken".'}
CLOCK_SENSE = 'a name such as "Europe/Oslo" or "UTC" makes sense'
COMPASS_SLIP = "North is 0, east 90, south 180, west 270."


class Shade(Description):
    """A note of shade: the share of the light that still reaches a panel, or some of its cells.

    Examples
    --------
    >>> Shade(panel=0, substring=0, lit=0.2)  # a fifth of the light on the first group of cells of P1
    Shade(panel=0, lit=0.2, substring=0, cells=None, branch=None)
    """

    panel: int = whole(0, 200, "which panel, counted from 0")
    lit: float = number(
        0.0, 1.0, "share of the light that still arrives", said="(a share of the light)", above="Is this percent?"
    )
    substring: int | None = whole(
        0, 200, "which group under one bypass diode, counted from 0", default=None, more="None is the whole panel."
    )
    cells: int | None = whole(
        1, 200, "how many cells of each branch of the group", default=None, more="None is all of them."
    )
    branch: int | None = whole(
        0, 200, "which half of a half-cut panel, counted from 0", default=None, more="None is both."
    )

    @property
    def place(self) -> str:
        """The shaded cells as the command line has them, counted from 1: P2, its group P2.1, half P2/1, cells P2.1/1x3.

        Examples
        --------
        >>> Shade(panel=0, substring=1, branch=0, cells=3, lit=0.2).place
        'P1.2/1x3'
        """
        group = "" if self.substring is None else f".{self.substring + 1}"
        half = "" if self.branch is None else f"/{self.branch + 1}"
        return f"P{self.panel + 1}{group}{half}{'' if self.cells is None else f'x{self.cells}'}"


class Snapshot(Description):
    """One moment set by hand: irradiance [W/m²], cell temperature [°C] and shade notes.

    Examples
    --------
    >>> Snapshot(light=200.0, temp_cell=15.0).shade
    ()
    """

    light: float = number(
        0.0, 1800.0, "irradiance on every cell that is not shaded", unit="W/m²", above="Are these lux?"
    )
    temp_cell: float = number(-60.0, 110.0, "temperature of the cells", above="Is this Fahrenheit?")
    shade: tuple[Shade, ...] = part("notes taken on the roof", default=())


class Place(Description):
    """Where the van stands: latitude, longitude, altitude and time zone.

    Examples
    --------
    >>> Place(latitude_deg=59.9, longitude_deg=10.7, time_zone="Europe/Oslo").altitude_m
    0.0
    """

    latitude_deg: float = number(
        -90.0, 90.0, "latitude; north counts positive", slip="Are latitude and longitude swapped?"
    )
    longitude_deg: float = number(-180.0, 180.0, "longitude; east counts positive", slip="West is negative.")
    altitude_m: float = number(-450.0, 6000.0, "height above the sea", default=0.0, above="Are these feet?")
    time_zone: str = text('time zone by a name such as "Europe/Oslo", or "UTC"', default="UTC", sense=CLOCK_SENSE)

    def together(self) -> None:
        """Check that the time zone exists.

        Raises
        ------
        ValueError
            For a time zone that is not known.
        """
        from zoneinfo import ZoneInfo

        try:
            ZoneInfo(self.time_zone)
        except (ValueError, OSError, KeyError, TypeError):
            require(False, self, "time_zone", CLOCK_SENSE)


class MadeSky(Description):
    """A synthetic sky for one date: clear, overcast, broken, or a half-sine of light without a sun.

    Examples
    --------
    >>> MadeSky(kind="half-sine").peak
    1000.0
    """

    kind: str = word(
        SKIES,
        'kind of sky: "clear", "overcast", "broken" or "half-sine"',
        slips=SKY_SLIPS,
        more="Overcast is an even share of the clear sky, all of it diffuse; broken has clouds that come and go, with "
        "bright edges; half-sine is light alone, no sun: a flat panel only.",
    )
    place: Place | None = part("where the sky is", default=None, more='Only "half-sine" does without.')
    clearness: float = number(
        0.0, 1.0, "share of the clear sky's light that an overcast sky lets through", default=0.2,
        said="(a share of the clear sky)", above="Is this percent?",
    )  # fmt: skip
    seed: int = whole(
        0, 10**9, "which clouds a broken sky has", default=1, more="The same number gives the same clouds."
    )
    hours: float = number(1.0, 24.0, "length of a half-sine day", default=12.0, unit="h")
    peak: float = number(
        0.0, 1400.0, "noon light of a half-sine day", default=1000.0, unit="W/m²", above="Are these lux?"
    )
    temp_air: float = number(
        -60.0, 60.0, "air temperature, the same all day", default=15.0, above="Is this Fahrenheit?"
    )
    wind_speed: float = number(0.0, 100.0, "wind, the same all day", default=1.0, unit="m/s")
    turbidity: float | None = number(
        1.0, 10.0, "Linke turbidity of the clear sky: 2 is clean mountain air, 7 a hazy city", default=None,
        more="None takes a table's for month and place.",
    )  # fmt: skip
    step_min: float = number(0.5, 60.0, "length of a row; a broken sky wants 1", default=1.0, unit="minutes")

    def together(self) -> None:
        """Check that there is a place where one is needed, and that the step divides an hour.

        Raises
        ------
        ValueError
            Where it is not so.
        """
        whole_sky = self.place is not None or self.kind == "half-sine"
        require(whole_sky, self, "place", f"a {self.kind} sky needs to know where; give it a Place")
        even = (60.0 / self.step_min) % 1.0 < 1e-9
        require(even, self, "step_min", "an hour must divide evenly, by 1, 5, 10, 15 or 30 minutes")


class WeatherLog(Description):
    """A person's own weather log in a CSV file, with the names of its columns.

    Examples
    --------
    >>> WeatherLog(path="garden.csv", columns={"ghi": "Sun W/m2"}).columns
    (('ghi', 'Sun W/m2'),)
    """

    path: str = text("path of a CSV file")
    columns: tuple[tuple[str, str], ...] = listed(
        "what our names are called in the file, as pairs or a mapping", sense="it is a list of pairs", default=(),
        more="Ours are time, ghi, dni, dhi, temp_air and wind_speed; those left out bear ours.",
    )  # fmt: skip
    place: Place | None = part(
        "where and in which clock it was logged", default=None, more="Without it panels must lie flat."
    )

    def together(self) -> None:
        """Turn the columns into pairs, and check that each names a known quantity.

        Raises
        ------
        ValueError
            For a quantity that is not known.
        """
        pairs = self.columns.items() if isinstance(self.columns, Mapping) else self.columns
        object.__setattr__(self, "columns", tuple((str(ours), str(theirs)) for ours, theirs in pairs))
        unknown = [ours for ours, _ in self.columns if ours not in LOG_COLUMNS]
        require(not unknown, self, "columns", f"the names to the left are {', '.join(LOG_COLUMNS)}")


Weather = str | MadeSky | WeatherLog | WeatherRows


class Days(Description):
    """One day or several of some weather: which days, the van's heading, and shade that stays all day.

    Examples
    --------
    >>> Days(day="12-21").weather
    'sand-point'
    """

    weather: Weather = part(
        "a name the kit knows, the path of a file, a sky made up, a log with names, or rows of weather",
        default="sand-point",
        more='"sand-point", "greensboro" and "miami" are typical years, "graz" days measured minute by minute; files '
        "are typical years as TMY2, TMY3, EPW, PVGIS or NSRDB, or CSV logs.",
    )
    day: str = text(
        '"dull", "median" or "bright": 5, 50 and 95 of 100 days have less light',
        default="dull",
        more='Also "dullest" or "brightest"; each of a month too, "dullest december". Month-day "12-21", or with its '
        'year where the file has several, "2019-12-21". "only" for a file of a single day, "november..february" for '
        'whole months, "07-04..07-10" for some days, "all" for every row.',
    )
    shade: tuple[Shade, ...] = part("notes of shade that stays all day", default=())
    heading_deg: float = number(
        0.0, 360.0, "where the van's nose points, clockwise from north", default=0.0, slip=COMPASS_SLIP,
        more="It turns every panel's azimuth along. 0 leaves panels as they are described.",
    )  # fmt: skip
    step_min: float | None = number(
        0.5, 30.0, "length of a row to which an hourly file is made finer, along the clear sky", default=None,
        unit="minutes",
        more="None leaves the rows as they are.",
    )  # fmt: skip


class Parked(Description):
    """A van parked under a synthetic sky between overcast and clear: a whole day, or one hour of it.

    Examples
    --------
    >>> Parked(latitude_deg=47, day="06-21", hour=9.0).clearness
    1.0
    """

    latitude_deg: float = number(-90.0, 90.0, "latitude; north counts positive")
    day: str = text(
        'month and day, "06-21"', sense="month and day make sense, such as 06-21", slip="June is 06, not 6."
    )
    hour: float | None = number(
        0.0, 24.0, "hours of mean sun time (the sun is highest near 12)", default=None, unit="h",
        more="None is the whole day.",
    )  # fmt: skip
    step_min: float = number(1.0, 60.0, "time from one moment of a day to the next", default=5.0, unit="minutes")
    heading_deg: float = number(
        0.0, 360.0, "where the nose points, clockwise from north", default=0.0, slip=COMPASS_SLIP
    )
    clearness: float = number(
        0.0, 1.0, "how clear the sky is: 1 is clear, 0 overcast, and between them the two are mixed", default=1.0,
        said="(1 is clear, 0 overcast)", above="Is this percent?",
    )  # fmt: skip
    temp_air: float = number(
        -60.0, 60.0, "air temperature, the same all day", default=20.0, above="Is this Fahrenheit?"
    )
    shade: tuple[Shade, ...] = part("notes on top of what the roof's fixtures do", default=())

    def together(self) -> None:
        """Check that `day` is a month and a day of it.

        Raises
        ------
        ValueError
            For any other text.
        """
        dated = re.fullmatch(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", self.day)
        meant = " or ".join(meant_days(self.day))
        slip = f"Did you mean {meant}?" if meant else "June is 06, not 6."
        require(bool(dated), self, "day", "month and day make sense, such as 06-21", slip)


Request = Snapshot | Days | Parked
