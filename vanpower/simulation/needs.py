"""What loads ask for and what other sources can give, moment by moment: by the clock, date, air, and driving.

A fridge's power is taken to rise with the difference between the air and its inside, as the energy label does; in
heat its compressor also works less well, and the air in a van is warmer than outside, so a hot day may ask for more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vanpower.components.batteries import load_watts
from vanpower.rig import ALTERNATOR, DRIVING, PARKED, SHORE, Inverter, Load, Rig, Source, months_in, weekdays_in

Array = np.ndarray

THURSDAY = 3
# weekday of 1 January 1970, from which dates are counted


@dataclass(frozen=True, eq=False)
class Clock:
    """Some moments as loads and sources see them, all (moment,).

    Parameters
    ----------
    hour : ndarray
        Hour of the day at which each begins. [h]
    date : ndarray
        datetime64[D].
    temp_air : ndarray
        [°C]
    step_h : float
        Length of each. [h]
    driving : ndarray, optional
        Share of each in which the van drives, as the stops of a trip say; by the hours of its alternator without.
    shore : bool, optional
        Whether a cable to shore is plugged in; by the hours of the shore charger where it is not given, and by its own
        days where it has some.
    first : datetime64, optional
        The first day, from which days are counted; that of these moments where it is not given.

    Examples
    --------
    >>> from vanpower.rig import Load
    >>> day = Clock.of(np.arange("2026-06-20T00", "2026-06-21T00", dtype="datetime64[h]"), np.full(24, 20.0), 1.0)
    >>> float(asked_for((Load(name="oven", p_load=100.0, days="sat"),), None, day)[0])  # a Saturday
    100.0
    """

    hour: Array
    date: Array
    temp_air: Array
    step_h: float
    driving: Array | None = None
    shore: bool | None = None
    first: np.datetime64 | None = None

    @classmethod
    def of(cls, time: Array, temp_air: Array, step_h: float, **more: object) -> Clock:
        """The clock of moments that begin at these local times, datetime64."""
        date = time.astype("datetime64[D]")
        return cls((time - date) / np.timedelta64(1, "h"), date, temp_air, step_h, **more)  # type: ignore[arg-type]

    def during(self, from_h: float, to_h: float) -> Array:
        """Share of each moment that lies between two hours of the day, which may run past midnight."""
        till = to_h if to_h > from_h else to_h + 24.0
        ends = self.hour + self.step_h
        hours = sum(
            np.clip(np.minimum(ends, till + day) - np.maximum(self.hour, from_h + day), 0.0, None)
            for day in (-24.0, 0.0, 24.0)
        )
        return np.asarray(hours) / self.step_h

    def on(self, days: str, months: str) -> Array:
        """Whether each lies on these weekdays and in these months."""
        on = np.ones(len(self.date), bool)
        if days:
            on &= np.isin((self.date.astype(int) + THURSDAY) % 7, list(weekdays_in(days) or ()))
        if months:
            on &= np.isin(self.date.astype("datetime64[M]").astype(int) % 12, list(months_in(months) or ()))
        return on

    def counted(self, every_days: int) -> Array:
        """Whether each lies on the last of every so many days, counted from the first."""
        first = self.date[0] if self.first is None else self.first
        return ((self.date - first).astype(int) + 1) % every_days == 0

    def drives(self, sources: Sequence[Source]) -> Array:
        """Share of each moment in which the van drives."""
        if self.driving is not None:
            return self.driving
        belts = [one for one in sources if one.kind == ALTERNATOR and one.from_h is not None]
        return np.max([self._hours(one) for one in belts], axis=0) if belts else np.zeros(len(self.hour))

    def runs(self, source: Source) -> Array:
        """Share of each moment in which a source runs."""
        if source.kind == ALTERNATOR and self.driving is not None:
            return self.driving * self.on(source.days, source.months)
        if source.kind == ALTERNATOR and source.from_h is None:
            return np.zeros(len(self.hour))
        unplugged = source.kind == SHORE and source.every_days == 1 and self.shore is False
        return self._hours(source) * (not unplugged)

    def _hours(self, source: Source) -> Array:
        """Share of each moment in which a source runs by its own hours, days and months."""
        by_hour = self.during(
            0.0 if source.from_h is None else source.from_h, 24.0 if source.to_h is None else source.to_h
        )
        return by_hour * self.on(source.days, source.months) * self.counted(source.every_days)


@dataclass(frozen=True, kw_only=True)
class Going:
    """What a stop of a trip says of some days: when the van drives, and whether it is plugged in.

    Parameters
    ----------
    drive_h : tuple of float
        Hours driven on each day. [h]
    drive_from_h : float
        Hour at which driving begins. [h]
    shore : bool
    day : int
        Number of the first of these days in the trip.

    Examples
    --------
    >>> day = Clock.of(np.arange("2026-06-20T09", "2026-06-20T13", dtype="datetime64[h]"), np.full(4, 20.0), 1.0)
    >>> Going(drive_h=(1.5,), drive_from_h=10.0, shore=False, day=0).told(day, day.date[0]).driving.tolist()
    [0.0, 1.0, 0.5, 0.0]
    """

    drive_h: tuple[float, ...]
    drive_from_h: float
    shore: bool
    day: int

    def told(self, clock: Clock, first: np.datetime64) -> Clock:
        """The clock of some of these days, of which `first` is the first."""
        number = (clock.date - first).astype(int)
        hours = np.asarray(self.drive_h, float)[number]
        # whoever would drive past midnight begins earlier
        begin = np.minimum(self.drive_from_h, 24.0 - hours)
        ends = np.minimum(clock.hour + clock.step_h, begin + hours)
        driving = np.maximum(ends - np.maximum(clock.hour, begin), 0.0) / clock.step_h
        return replace(clock, driving=driving, shore=self.shore, first=first - np.timedelta64(self.day, "D"))


@dataclass(frozen=True, eq=False)
class Feed:
    """What one other source can give over some moments.

    Parameters
    ----------
    name : str
    watts, amps : ndarray (moment,)
        Most of either at each moment; whichever is reached first counts. [W, A]

    Examples
    --------
    >>> Feed("belt", np.array([np.inf]), np.array([20.0])).at(0, 13.0)
    260.0
    """

    name: str
    watts: Array
    amps: Array

    @cached_property
    def _plain(self) -> tuple[list[float], list[float]]:
        """Both in plain numbers, for one moment after another."""
        return self.watts.tolist(), self.amps.tolist()

    def at(self, m: int, volts: float) -> float:
        """What it offers at a moment into a battery of these volts. [W]"""
        watts, amps = self._plain
        return min(watts[m], amps[m] * volts)

    def over(self, rows: slice) -> Feed:
        """The same over some of the moments."""
        return Feed(self.name, self.watts[rows], self.amps[rows])


def asked_for(loads: Sequence[Load], inverter: Inverter | None, clock: Clock, sources: Sequence[Source] = ()) -> Array:
    """Mean watts that loads ask the battery for, an inverter's own draw and loss among them (moment,). [W]

    Examples
    --------
    >>> from vanpower.rig import Inverter, Load
    >>> noon = Clock.of(np.array(["2026-06-20T12"], "datetime64[h]"), np.array([35.0]), 1.0)
    >>> fridge = Load(name="fridge", p_load=20.0, temp_inside=5.0)  # 30 K instead of 20 K warmer than inside
    >>> kettle = Load(name="kettle", p_load=900.0, mains=True)
    >>> unit = Inverter(name="small", p_own=8.0, efficiency_pct=90.0)
    >>> asked_for((fridge,), None, noon).tolist(), asked_for((kettle,), unit, noon).tolist()
    ([30.0], [1008.0])
    """
    plain = [load for load in loads if not load.lives]
    total = load_watts(plain, clock.hour, clock.step_h)
    mains = np.zeros(len(total))
    for load in loads:
        if load.lives:
            watts = _living(load, clock, sources)
            if load.mains:
                mains += watts
            else:
                total = total + watts
    return total if inverter is None else total + _drawn(inverter, mains)


def feeds_of(rig: Rig, clock: Clock) -> list[Feed]:
    """What every other source of a rig can give over some moments.

    Examples
    --------
    >>> from vanpower import Source, example
    >>> rig = example("bookmobile").with_source(
    ...     Source(name="belt", kind="alternator", i_charge_max=20.0, from_h=8.0, to_h=9.5))
    >>> day = Clock.of(np.arange("2026-06-20T07", "2026-06-20T11", dtype="datetime64[h]"), np.full(4, 20.0), 1.0)
    >>> feeds_of(rig, day)[0].amps.tolist()
    [0.0, 20.0, 10.0, 0.0]
    """
    return [_feed(source, clock) for source in rig.sources]


def _feed(source: Source, clock: Clock) -> Feed:
    """What one source can give."""
    share = clock.runs(source)
    on = share > 0
    watts = np.where(on, np.inf if source.p_charge_max is None else source.p_charge_max * share, 0.0)
    if source.p_hourly is not None:
        there = load_watts((Load(name=source.name, p_hourly=source.p_hourly),), clock.hour, clock.step_h)
        watts = np.minimum(watts, there * share)
    amps = np.where(on, np.inf if source.i_charge_max is None else source.i_charge_max * share, 0.0)
    return Feed(source.name, watts, amps)


def _living(load: Load, clock: Clock, sources: Sequence[Source]) -> Array:
    """Mean watts of a load that changes with the date, the air or the driving (moment,)."""
    watts = load_watts((load,), clock.hour, clock.step_h) * clock.on(load.days, load.months)
    if load.runs == DRIVING:
        watts = watts * clock.drives(sources)
    elif load.runs == PARKED:
        watts = watts * (1.0 - clock.drives(sources))
    if load.temp_inside is None:
        return watts
    return watts * fridge_share(clock.temp_air, load.temp_inside, load.temp_rated)


def fridge_share(temp_air: Array, temp_inside: float, temp_rated: float) -> Array:
    """What a fridge takes in some air, as a share of what it takes in the air it is rated in.

    Notes
    -----
    Heat comes in by the difference between the air and its inside, (T_air - T_in) / (T_rated - T_in): the law of the
    thermodynamic parameter in Commission Delegated Regulation (EU) 2019/2016, table 4. That a compressor also works
    less well in heat (Harrington, Aye and Fuller 2018, Applied Energy 211) is left out.

    Examples
    --------
    >>> fridge_share(np.array([4.0, 14.5, 25.0, 35.5]), 4.0, 25.0).tolist()
    [0.0, 0.5, 1.0, 1.5]
    """
    return np.maximum(temp_air - temp_inside, 0.0) / (temp_rated - temp_inside)


def _drawn(inverter: Inverter, mains: Array) -> Array:
    """What an inverter draws of the battery for some mains watts (moment,)."""
    own = inverter.p_own if inverter.always_on else np.where(mains > 0, inverter.p_own, 0.0)
    return mains / (inverter.efficiency_pct / 100.0) + own
