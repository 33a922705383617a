"""Whether a log's light agrees with the sun's path at its place and time zone, and the likely mistake where not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import sin_elevation, sun_at

if TYPE_CHECKING:
    import pandas as pd

TWILIGHT = 10.0
# [W/m²] more than that with the sun down is light; typical years and measured minutes, 1102 days, never have it
MOST_DARK = 0.003
# share of a log's light that may come with the sun down; none does on those days, and 3 to 17 % where the sign of the
# longitude is wrong
SHIFT_H, SHIFT_ONE_H = 0.4, 1.5
# [h] by which the middle of the light may lie off the sun's over many days, and what a single day may add, by one over
# the root of their number; largest on those days: 1.74 h of one, 0.56 of seven, 0.29 of thirty, 0.08 of a year
MOST_LOOKED = 60
# days that are looked at, evenly spread; no source
WITHIN = 6
# how often the sun is looked at within a step longer than that many minutes
COVERED = 0.02
# share of the sun's rise over a day that a log may leave out and still be one of the whole day; no source
ROUND_THE_CLOCK_H = 23.99
# [h] of rows of one date that leave none of its daylight out; a day less what a step loses in rounding
AT_ENDS = 0.1
# share of its brightest light that a log without a place may have at its first or last row and still hold the whole
# day; no source
ALIKE_H = 0.25
# [h] two slips that leave the light no farther off each other than that cannot be told apart by it; no source
SOLAR_CONSTANT = 1361.0
# [W/m²] above the air: Kopp and Lean, Geophysical Research Letters 38 (2011) L01706
MOST_LIGHT = 1.034
# share of that on the flat over a day, when the earth is nearest the sun in January (1 / 0.9833², Allen's Astrophysical
# Quantities); typical years and measured days reach 0.78
LEAST_SUN = 500.0
# [Wh/m²] above the air over a day below which twilight may be most of the light; no source
SLIPS_H = {"the clock is 12 hours off, am for pm": 12.0, "the clock is 12 hours off, pm for am": -12.0}
CLOCK_H = {
    "the clock is an hour ahead, as with daylight saving, or rows bear the end of their hour": -1.0,
    "the clock is an hour behind, as without daylight saving": 1.0,
}
# what may be wrong with a clock, and what has to be added to it [h]


@dataclass(frozen=True)
class Path:
    """How a log's light goes with the sun: share with the sun down, and hours by which its middle is late."""

    dark: float
    late_h: float
    days: int

    @property
    def fits(self) -> bool:
        """Whether it is light of that place and clock."""
        return self.dark <= MOST_DARK and not self.shifted

    @property
    def shifted(self) -> bool:
        """Whether its middle lies farther off than that of any real light."""
        return self.days > 0 and abs(self.late_h) > SHIFT_H + SHIFT_ONE_H / self.days**0.5


def held_against_sun(day: WeatherSeries) -> WeatherSeries:
    """The day as it is, with a note where its light comes too early or late for the sun of its place.

    Raises
    ------
    ValueError
        Where light comes with the sun down, with what was likely mistaken; or where there is more than the sun sends.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower.weather.days import find_day
    >>> day = find_day("graz", "06-19")
    >>> held_against_sun(day) is day
    True
    >>> north, east = day.position
    >>> held_against_sun(replace(day, position=(north, -east)))
    Traceback (most recent call last):
    ValueError: Graz (measured): 2 % of its light comes with the sun down. Likely: the sign of the longitude; west is \
negative.
    """
    if day.position is None:
        return day
    looked = _some_days(day)
    _check_amount(looked)
    path = path_of(looked)
    if path.fits:
        return day
    likely = f"Likely: {slip}." if (slip := likely_slip(looked)) else "Check place, clock and time_zone."
    if path.dark > MOST_DARK:
        share = f"{100 * path.dark:.1f}" if path.dark < 0.01 else f"{100 * path.dark:.0f}"
        raise ValueError(f"{day.place}: {share} % of its light comes with the sun down. {likely}")
    way = "late" if path.late_h > 0 else "early"
    return day.noted(f"MIND: the light comes {abs(path.late_h):.1f} h {way} for the sun of this place. {likely}")


def path_of(day: WeatherSeries) -> Path:
    """How the light of a day with a place goes with the sun; only days that the log holds whole have a middle."""
    import pandas as pd

    up = risen(day)
    light, dates = day.table["ghi"].fillna(0.0).to_numpy(), day.table.index.date
    hour = hours_of(day.table.index) + day.step_h / 2
    parts = {"light": light, "up": up, "light_h": light * hour, "up_h": up * hour}
    sums = pd.DataFrame(parts).groupby(dates).sum()
    whole = sums[(sums["light"] > 0) & (left_out(day) < COVERED).reindex(sums.index).to_numpy()]
    late = whole["light_h"] / whole["light"] - whole["up_h"] / whole["up"]
    dark = float(light[(up <= 0) & (light > TWILIGHT)].sum())
    return Path(dark / max(float(light.sum()), 1.0), float(late.mean()) if len(late) else 0.0, len(late))


def likely_slip(day: WeatherSeries) -> str:
    """The change of place or clock under which the light goes with the sun best, or the two; empty where none does."""
    assert day.position is not None
    (latitude, longitude), zone_h = day.position, _zone_h(day)
    places = {
        "the sign of the longitude; west is negative": (latitude, -longitude),
        "the sign of the latitude; south is negative": (-latitude, longitude),
    }
    if abs(longitude) <= 90:
        places["latitude and longitude are swapped"] = (longitude, latitude)
    changed = {slip: replace(day, position=position) for slip, position in places.items()}
    sun_h = round(longitude / 15)
    clocks = SLIPS_H | CLOCK_H
    if zone_h == 0 and abs(sun_h) > 1:
        clocks = {"times are local ones, and the file takes them for UTC": float(-sun_h)} | clocks
    elif abs(zone_h) > 1:
        clocks = {"times are UTC, and the file takes them for local ones": zone_h} | clocks
    changed |= {slip: _later(day, hours) for slip, hours in clocks.items()}
    paths = {slip: path_of(other) for slip, other in changed.items()}
    fitting = sorted(
        (slip for slip, path in paths.items() if path.fits),
        key=lambda slip: (not paths[slip].days, abs(paths[slip].late_h)),
    )
    off = [abs(paths[slip].late_h) for slip in fitting]
    alike = [slip for slip, late in zip(fitting, off, strict=True) if late - off[0] <= ALIKE_H]
    # a clock 12 hours off is so either way
    return "; or ".join(alike[: 1 if set(alike[:2]) <= set(SLIPS_H) else 2])


def _check_amount(day: WeatherSeries) -> None:
    """Refuse a day with more light than the sun sends to the top of the air."""
    import pandas as pd

    parts = {"light": day.table["ghi"].fillna(0.0).to_numpy(), "above": SOLAR_CONSTANT * risen(day)}
    sums = pd.DataFrame(parts).groupby(day.table.index.date).sum() * day.step_h
    over = sums[(sums["above"] > LEAST_SUN) & (sums["light"] > MOST_LIGHT * sums["above"])]
    if over.empty:
        return
    light, above = over.iloc[0]
    raise ValueError(
        f"{day.place}, {over.index[0]}: {light:.0f} Wh/m² of light, and the sun sends {above:.0f} Wh/m² to the top of "
        "the air there. Was it read in a tilted plane, in another unit, or by a sensor that reads too much?"
    )


def uncovered(day: WeatherSeries) -> str:
    """What a log of one date leaves out of its daylight, in words; empty where it holds all of it.

    Notes
    -----
    With a place the sun tells; without one, light at the ends of the log does.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower.weather.days import find_day
    >>> day = find_day("graz", "06-19")
    >>> uncovered(day)
    ''
    >>> uncovered(replace(day, table=day.table.between_time("10:00", "14:59")))
    'the log runs from 10:00 to 15:00 only; 53 % of the daylight is left out'
    """
    import pandas as pd

    if day.days != 1 or len(day.table) * day.step_h >= ROUND_THE_CLOCK_H:
        return ""
    index, light = day.table.index, day.table["ghi"].to_numpy()
    span = f"the log runs from {index[0]:%H:%M} to {index[-1] + pd.Timedelta(hours=day.step_h):%H:%M} only"
    if day.position is not None:
        share = float(left_out(day).iloc[0])
        return f"{span}; {100 * share:.0f} % of the daylight is left out" if share > COVERED else ""
    ends = max(float(light[0]), float(light[-1]))
    round_the_clock = len(light) * day.step_h > 24 - 1.5 * day.step_h
    if round_the_clock or ends <= AT_ENDS * float(light.max()):
        return ""
    return f"{span}, with {ends:.0f} W/m² at an end, so daylight is left out"


def risen(day: WeatherSeries) -> np.ndarray:
    """Sine of the sun's height, its mean over each step."""
    import pandas as pd

    assert day.position is not None
    count = WITHIN if day.step_h * 60 > WITHIN else 1
    first, *others = (day.table.index + pd.Timedelta(hours=day.step_h * (k + 0.5) / count) for k in range(count))
    # all in one question: to ask takes longer than to answer
    heights = sin_elevation(sun_at(first.append(others), day.position, day.altitude_m))
    return heights.reshape(count, -1).mean(axis=0)


def left_out(day: WeatherSeries) -> pd.Series:
    """Share of the sun's rise over each date that no row of a log with a place covers, by date."""
    import pandas as pd

    index = day.table.index
    there = pd.Series(risen(day) * day.step_h, index=index).groupby(index.date).sum()
    first, last = index[0].normalize(), index[-1].normalize() + pd.Timedelta(days=1)
    full = pd.date_range(first, last, freq="10min", inclusive="left")
    assert day.position is not None
    whole = pd.Series(
        sin_elevation(sun_at(full + pd.Timedelta(minutes=5), day.position, day.altitude_m)) / 6, index=full
    )
    whole = whole.groupby(full.date).sum().reindex(there.index)
    return (1 - there / whole.where(whole > 0)).fillna(0.0)


def hours_of(index: pd.DatetimeIndex) -> np.ndarray:
    """Hours since midnight by the clock of the rows. [h]"""
    return index.hour.to_numpy() + index.minute.to_numpy() / 60 + index.second.to_numpy() / 3600


def _later(day: WeatherSeries, hours: float) -> WeatherSeries:
    """The same rows, later by so many hours."""
    import pandas as pd

    return replace(day, table=day.table.set_axis(day.table.index + pd.Timedelta(hours=hours)))


def _zone_h(day: WeatherSeries) -> float:
    """How far the clock of the first row is ahead of UTC. [h]"""
    offset = day.table.index[0].utcoffset()
    return 0.0 if offset is None else float(offset.total_seconds() / 3600)


def _some_days(day: WeatherSeries) -> WeatherSeries:
    """As many days as are looked at, evenly spread."""
    dates = np.unique(day.table.index.date)
    if len(dates) <= MOST_LOOKED:
        return day
    chosen = dates[np.linspace(0, len(dates) - 1, MOST_LOOKED).round().astype(int)]
    return replace(day, table=day.table[np.isin(day.table.index.date, chosen)])
