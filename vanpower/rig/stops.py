"""Where a trip stops: place or weather, from which day to which, how the van stands there, and what is driven."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence

from vanpower.rig.dates import LEAP_YEAR, meant_days
from vanpower.rig.fields import Description, number, require, text, yes_or_no
from vanpower.rig.requests import COMPASS_SLIP
from vanpower.rig.sources import CLOCK_SLIP

LIT_IN_SHADE = 0.15
# share of the light that is left under trees or beside a wall; common practice, no source
DRIVE_FROM_H = 10.0
# hour at which a day's driving begins where nothing is said; no source
YEAR = datetime.date(LEAP_YEAR - 1, 1, 1)
# a year of 365 days, as typical years have
DAY_SENSE = "month and day make sense, such as 07-04"
NO_LEAP_DAY = "A trip's year has no leap day: write 02-28 or 03-01."
MOST_DAYS = 366
# of a trip


class Stop(Description):
    """Some days of a trip in one place: its weather, how the van stands, and what is driven.

    Examples
    --------
    >>> stop = Stop(name="lake", weather="sand-point", from_day="07-04", to_day="07-06", drive_h=2.5)
    >>> len(dates_of((stop,))[0])
    3
    """

    name: str = text("what answers call it")
    weather: str = text("a weather the kit knows, or the path of a file")
    from_day: str = text('month and day of its first day, "07-04"', sense=DAY_SENSE)
    to_day: str = text("month and day of its last day", sense=DAY_SENSE)
    heading_deg: float = number(
        0.0, 360.0, "where the nose points, clockwise from north", default=0.0, slip=COMPASS_SLIP
    )
    turns_daily: bool = yes_or_no("true where it stands another way each day, by quarter turns", default=False)
    shade_pct: float = number(
        0.0, 100.0, "share of the daylight that it is parked in shade", default=0.0,
        slip="Is it a share from 0 to 1? A third is 33.",
    )  # fmt: skip
    drive_h: float = number(
        0.0, 24.0, "hours driven on its first day, to get there", default=0.0, above="Are these minutes?"
    )
    drive_daily_h: float = number(
        0.0, 24.0, "hours driven on each day after the first", default=0.0, above="Are these minutes?"
    )
    drive_from_h: float = number(0.0, 24.0, "hour at which driving begins", default=DRIVE_FROM_H, slip=CLOCK_SLIP)
    shore: bool = yes_or_no("true where a cable to shore is plugged in", default=False)
    tilt_deg: float | None = number(
        0.0, 90.0, "how steep the panels are tilted by hand there", default=None,
        more="None leaves them as the rig has them.",
    )  # fmt: skip
    faces_deg: float | None = number(
        0.0, 360.0, "which way tilted panels face there", default=None, slip=COMPASS_SLIP,
        more="None is towards the noon sun.",
    )  # fmt: skip
    turn_deg: float = number(
        0.0, 90.0, "tilted panels turned by hand after the sun: so far east until noon, and west after it", default=0.0,
        slip="Half the sun's way of a morning is 45.",
    )  # fmt: skip

    def together(self) -> None:
        """Check that its days are some.

        Raises
        ------
        ValueError
            For a text that is no month and day, and for a direction without a tilt.
        """
        for field in ("from_day", "to_day"):
            told = getattr(self, field)
            meant = " or ".join(day for day in meant_days(told) if day != told)
            slip = NO_LEAP_DAY if told == "02-29" else f"Did you mean {meant}?" * bool(meant)
            require(_date(told) is not None, self, field, DAY_SENSE, slip)
        require(self.faces_deg is None or self.tilt_deg is not None, self, "faces_deg", "it needs tilt_deg beside it")
        require(self.turn_deg == 0 or bool(self.tilt_deg), self, "turn_deg", "it needs tilt_deg beside it")

    def later(self, days: int) -> Stop:
        """The same stop so many days later, or earlier where it is negative.

        Examples
        --------
        >>> Stop(name="lake", weather="miami", from_day="12-30", to_day="12-31").later(2).from_day
        '01-01'
        """
        begin, end = ((_date(day) or YEAR).timetuple().tm_yday - 1 for day in (self.from_day, self.to_day))
        moved = (_counted(YEAR, (day + days) % 365) for day in (begin, end))
        return self.changed(**dict(zip(("from_day", "to_day"), moved, strict=True)))

    def drives_h(self, first: bool) -> float:
        """Hours driven on a day of it. [h]

        Examples
        --------
        >>> stop = Stop(name="lake", weather="miami", from_day="07-04", to_day="07-06", drive_h=2.5)
        >>> stop.drives_h(first=True), stop.drives_h(first=False)
        (2.5, 0.0)
        """
        return self.drive_h if first else self.drive_daily_h


def dates_of(stops: Sequence[Stop]) -> list[list[str]]:
    """Every day of every stop as month-day, in order; a trip may run over New Year.

    Raises
    ------
    ValueError
        Where a day between two stops is missing or is there twice, or the trip is longer than a year.

    Examples
    --------
    >>> coast = Stop(name="coast", weather="miami", from_day="12-30", to_day="01-02")
    >>> dates_of((coast,))
    [['12-30', '12-31', '01-01', '01-02']]
    """
    dates = [_days(stop.from_day, stop.to_day) for stop in stops]
    for (one, held), (other, following) in zip(
        zip(stops, dates, strict=True), zip(stops[1:], dates[1:], strict=True), strict=False
    ):
        wanted = _counted(_date(held[-1]) or YEAR, 1)
        if following[0] != wanted:
            raise ValueError(
                f"{one.name} ends on {held[-1]}, and {other.name} begins on {following[0]}; every day of a trip is "
                f"at one stop. Begin it on {wanted}."
            )
    if sum(map(len, dates)) > MOST_DAYS:
        raise ValueError(f"these stops hold {sum(map(len, dates))} days; a trip takes up to {MOST_DAYS}.")
    return dates


def _date(day: str) -> datetime.date | None:
    """A month-day as a date of a year without a leap day; None for other texts."""
    found = re.fullmatch(r"(\d\d)-(\d\d)", day)
    try:
        return YEAR.replace(month=int(found[1]), day=int(found[2])) if found else None
    except ValueError:
        return None


def _days(first: str, last: str) -> list[str]:
    """All month-days from one to another, over New Year where the last comes before the first."""
    begin, end = _date(first), _date(last)
    assert begin is not None
    assert end is not None
    return [_counted(begin, days) for days in range((end - begin).days % 365 + 1)]


def _counted(begin: datetime.date, days: int) -> str:
    """The month-day so many days behind a date."""
    return f"{begin + datetime.timedelta(days=days):%m-%d}"
