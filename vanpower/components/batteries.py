"""What the house battery accepts now, and its state one step later.

Rest volts against charge, an internal resistance, three charge stages, a cold lock-out with a release of its own and
loads that are cut when it is flat. In float the sun feeds the loads at once, also where rest volts still lie above the
setting. Left out: ageing, self-discharge, cells that differ, the slow creep of volts after a load is gone, and other
chargers.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt
from typing import TypeVar

import numpy as np

from vanpower.rig import AGM, FLOODED, GEL, IRON_PHOSPHATE, OTHER_LITHIUM, SOME_LEAD, Battery, Load

Array = np.ndarray
Number = TypeVar("Number", float, Array)

BULK, ABSORPTION, FLOAT, COLD = range(4)
STAGES = ("bulk", "absorption", "float", "cold")
# what the controller does: all the sun gives, absorption volts held, float volts held, no charge in frost
TEMP_SETTINGS = 25.0
# [°C] battery temperature for which charge settings are stated; common practice, no source
SOC_BACK = 0.05
# share of the capacity above flat from which loads are switched on again; common practice, no source
SOC_FULL = 0.995
# share of the charge from which a battery counts as full; no source
STEP_H = 1.0 / 6.0
# [h] longest step of the battery's state; a quarter of it changes a day's charge by less than 0.2 %
SAG = 0.95
# share of a flat battery's rest volts down to which a run is worked out; lower ones are taken as these, no source
MINUTES = 1440
# of a day
USUAL_WORDS = {
    "v_float": "float volts",
    "usable_pct": "usable share",
    "r_internal": "resistance",
    "i_accept_max": "amps accepted",
    "i_tail": "tail amps",
    "absorption_h": "absorption hours",
    "coulombic_pct": "charge that comes back",
    "compensation_mv_per_k": "heat compensation",
}
# what a note calls the values that stand in
ANY_LITHIUM = (
    "rest volts of other lithium are not known here, and a straight line below its absorption volts stands in: "
    "watt-hours are rough, volts and stages are a guess"
)


@dataclass(frozen=True, kw_only=True)
class Chemistry:
    """What is usual for a kind of battery, each per cell where volts or ohms are meant.

    Parameters
    ----------
    rest : tuple of (share of the charge, volts)
        Rest volts at 20 to 25 °C. [V]
    ohm_ah : float
        Internal resistance times capacity. [ohm Ah]
    v_float : float
        [V]
    mv_per_k : float
        Temperature coefficient of the charge settings. [mV/K]
    c_accept, c_tail : float
        Most amps accepted, and amps that end absorption, per amp-hour of capacity. [1/h]
    taper_h : float
        At absorption volts it takes at most the missing amp-hours over so many hours. [h]
    absorption_h : float
        Absorption ends after it at the latest. [h]
    coulombic : float
        Share of the amp-hours put in that come out again.
    usable : float
        Share of the capacity that loads may take.
    temp_lockout, temp_release : float, optional
        No charge below the first, until above the second. [°C]
    """

    rest: tuple[tuple[float, float], ...]
    ohm_ah: float
    v_float: float
    mv_per_k: float
    c_accept: float
    c_tail: float
    taper_h: float
    absorption_h: float
    coulombic: float
    usable: float
    temp_lockout: float | None = None
    temp_release: float | None = None


LEAD = Chemistry(
    rest=((0.0, 11.9 / 6), (0.25, 12.0 / 6), (0.5, 12.2 / 6), (0.75, 12.4 / 6), (1.0, 12.7 / 6)),
    ohm_ah=0.25, v_float=2.275, mv_per_k=-3.0, c_accept=0.3, c_tail=0.02, taper_h=1.0, absorption_h=4.0,
    coulombic=0.85, usable=0.5,
)  # fmt: skip
# Rest volts as quoted in a forum (weak, +-0.05 V for 12 V); float, -3 mV/K and 0.3 C: makers' charging pages and
# BU-403; coulombic share: a PV education text. All else: common practice, no source. Flooded, AGM and gel are taken to
# behave alike between their settings, no source.
CHEMISTRIES = {
    IRON_PHOSPHATE: Chemistry(
        rest=(
            (0.0, 2.55), (0.01, 2.7252), (0.02, 2.8536), (0.05, 3.0373), (0.10, 3.1834), (0.15, 3.2186),
            (0.20, 3.2450), (0.25, 3.2641), (0.30, 3.2798), (0.40, 3.3016), (0.50, 3.3081), (0.60, 3.3168),
            (0.70, 3.3303), (0.80, 3.3453), (0.90, 3.3518), (0.95, 3.3658), (0.98, 3.4182), (0.99, 3.4722),
            (1.0, 3.50),
        ),
        ohm_ah=0.25, v_float=3.375, mv_per_k=0.0, c_accept=0.5, c_tail=0.05, taper_h=0.1, absorption_h=2.0,
        coulombic=0.9962, usable=0.8, temp_lockout=0.0, temp_release=3.0,
    ),
    OTHER_LITHIUM: Chemistry(
        rest=((0.0, 3.3), (1.0, 4.15)),
        ohm_ah=0.25, v_float=4.05, mv_per_k=0.0, c_accept=0.5, c_tail=0.05, taper_h=0.1, absorption_h=2.0,
        coulombic=0.99, usable=0.8, temp_lockout=0.0, temp_release=3.0,
    ),
    **dict.fromkeys((FLOODED, AGM, GEL, SOME_LEAD), LEAD),
}  # fmt: skip
# Lithium iron phosphate: rest volts are the mean of a slow charge and a slow discharge of a 2 Ah cell, University of
# Colorado ESC toolbox test data, batterysim/esctoolbox-python, and so is the coulombic share; its two ends are drawn on
# by eye. No charge below 0 °C: makers' sheets; half the capacity in amps: a telecom block's sheet, 25 to 50 °C;
# released at 3 °C: no source.
# Other lithium: a straight line of rest volts, scaled to the absorption volts as if those were 4.2 V a cell; from
# memory, no source, and every run says so.
V_OTHER_CELL = 4.2
# [V] of a nickel manganese cobalt cell at the end of its charge; a textbook page on lithium cells, secondary copy


@dataclass(frozen=True, kw_only=True)
class BatteryModel:
    """A battery with usual values for all that was not given, for the whole block of cells.

    Parameters
    ----------
    soc, rest : tuple of float
        Points of rest volts against the share of the charge. [-, V]
    i_most, i_tail : float
        Most amps accepted; amps that end absorption. [A]
    """

    soc: tuple[float, ...]
    rest: tuple[float, ...]
    capacity_ah: float
    r_internal: float
    v_absorption: float
    v_float: float
    v_per_k: float
    i_most: float
    i_tail: float
    taper_h: float
    absorption_h: float
    coulombic: float
    soc_flat: float
    soc_start: float
    temp_lockout: float
    temp_release: float
    temp_offset: float
    temp_heated: float
    lag_h: float
    notes: tuple[str, ...] = ()

    def v_rest(self, soc: float) -> float:
        """Rest volts at a share of the charge. [V]"""
        k = min(max(bisect_right(self.soc, soc), 1), len(self.soc) - 1)
        s0, v0 = self.soc[k - 1], self.rest[k - 1]
        return v0 + (soc - s0) * (self.rest[k] - v0) / (self.soc[k] - s0)

    def energy_wh(self, soc: float) -> float:
        """What is stored below a share of the charge, at rest volts. [Wh]"""
        points = np.array([*(s for s in self.soc if s < soc), soc])
        return float(np.trapezoid([self.v_rest(s) for s in points], points) * self.capacity_ah)

    @property
    def usable_wh(self) -> float:
        """What loads may take of a full battery. [Wh]"""
        return self.energy_wh(1.0) - self.energy_wh(self.soc_flat)

    def v_compensation(self, temp: Number) -> Number:
        """Volts added to absorption and float at a temperature of the battery. [V]"""
        return self.v_per_k * (temp - TEMP_SETTINGS)

    @property
    def v_range(self) -> tuple[float, float]:
        """Least and most volts at its terminals that a run may meet. [V]"""
        frost = max(self.v_compensation(-30.0), 0.0)
        return SAG * self.v_rest(self.soc_flat), max(self.v_absorption + frost, self.rest[-1])


def filled_battery(battery: Battery) -> BatteryModel:
    """The battery with its gaps filled by what is usual for its chemistry, and notes that say so.

    Raises
    ------
    ValueError
        Without a capacity, since then nothing can be stored.
    """
    if battery.capacity_ah is None:
        raise ValueError(f"Battery.capacity_ah of {battery.name} is not given; a run through time needs it, in Ah.")
    kind = CHEMISTRIES[battery.chemistry]
    cells = cells_in_series(battery)
    usual = _usual(battery, battery.capacity_ah)
    has = {field: getattr(battery, field) for field in usual}
    known = {field: usual[field] if value is None else value for field, value in has.items()}
    lockout, release = _lockout(battery, kind)
    assumed = [field for field, value in has.items() if value is None]
    note = f"{', '.join(USUAL_WORDS[field] for field in assumed)} as usual for {battery.chemistry}"
    unlike = battery.chemistry == OTHER_LITHIUM
    return BatteryModel(
        soc=tuple(share for share, _ in kind.rest),
        rest=tuple(cells * volts for _, volts in kind.rest),
        capacity_ah=battery.capacity_ah,
        r_internal=known["r_internal"],
        v_absorption=battery.v_absorption,
        v_float=known["v_float"],
        v_per_k=known["compensation_mv_per_k"] / 1000.0,
        i_most=known["i_accept_max"],
        i_tail=known["i_tail"],
        taper_h=kind.taper_h,
        absorption_h=known["absorption_h"],
        coulombic=known["coulombic_pct"] / 100.0,
        soc_flat=1.0 - known["usable_pct"] / 100.0,
        soc_start=max(battery.soc_start_pct / 100.0, 1.0 - known["usable_pct"] / 100.0),
        temp_lockout=lockout,
        temp_release=release,
        temp_offset=battery.temp_offset,
        temp_heated=-np.inf if battery.temp_heated is None else battery.temp_heated,
        lag_h=battery.lag_h,
        notes=(*[note] * bool(assumed), *[ANY_LITHIUM] * unlike),
    )


def _usual(battery: Battery, capacity_ah: float) -> dict[str, float]:
    """What is usual for the chemistry, in the fields and units of a `Battery`."""
    kind = CHEMISTRIES[battery.chemistry]
    cells = cells_in_series(battery)
    return {
        "v_float": usual_float(battery),
        "usable_pct": 100.0 * kind.usable,
        "r_internal": cells * kind.ohm_ah / capacity_ah,
        "i_accept_max": kind.c_accept * capacity_ah,
        "i_tail": kind.c_tail * capacity_ah,
        "absorption_h": kind.absorption_h,
        "coulombic_pct": 100.0 * kind.coulombic,
        "compensation_mv_per_k": cells * kind.mv_per_k,
    }


def cells_in_series(battery: Battery) -> float:
    """Cells in series of the whole block, as given or as usual; of other lithium, absorption volts over 4.2 V."""
    if battery.chemistry == OTHER_LITHIUM:
        return battery.v_absorption / V_OTHER_CELL
    return battery.cells or max(battery.cells_possible)


def usual_float(battery: Battery) -> float:
    """Float volts as usual for the chemistry, not above the absorption volts. [V]"""
    return min(cells_in_series(battery) * CHEMISTRIES[battery.chemistry].v_float, battery.v_absorption)


def held_float(battery: Battery) -> float:
    """Float volts as set, or as usual to a hundredth. [V]

    Examples
    --------
    >>> held_float(Battery(v_nominal=12, v_now=13.2, v_absorption=14.4))
    13.5
    """
    return round(usual_float(battery), 2) if battery.v_float is None else battery.v_float


def usual_of(battery: Battery) -> dict[str, float]:
    """What is usual for the battery's chemistry, in the fields and units of a `Battery`, as far as its capacity tells.

    Examples
    --------
    >>> sorted(usual_of(Battery(v_nominal=12, v_now=13.2, v_absorption=14.4)))[:3]
    ['absorption_h', 'compensation_mv_per_k', 'coulombic_pct']
    """
    known = _usual(battery, battery.capacity_ah or 1.0)
    by_size = () if battery.capacity_ah else ("r_internal", "i_accept_max", "i_tail")
    return {field: value for field, value in known.items() if field not in by_size}


def usable_share(battery: Battery) -> float:
    """Share of the capacity that loads may take."""
    return CHEMISTRIES[battery.chemistry].usable if battery.usable_pct is None else battery.usable_pct / 100.0


def rest_at(battery: Battery, soc: float) -> float:
    """Rest volts at a share of the charge, for the whole battery. [V]

    Examples
    --------
    >>> round(rest_at(Battery(v_nominal=12, v_now=12.6, v_absorption=14.4, chemistry="AGM"), 0.5), 1)
    12.2
    """
    shares, volts = zip(*CHEMISTRIES[battery.chemistry].rest, strict=True)
    return cells_in_series(battery) * float(np.interp(soc, shares, volts))


def v_empty(battery: Battery) -> float:
    """Rest volts down to which loads are served, where most amps of a given power go in. [V]"""
    return rest_at(battery, 1.0 - usable_share(battery))


def _lockout(battery: Battery, kind: Chemistry) -> tuple[float, float]:
    """Below the first no charge, until above the second; minus infinity where there is no lock-out. [°C]"""
    lockout = kind.temp_lockout if battery.temp_lockout is None else battery.temp_lockout
    if lockout is None:
        return -np.inf, -np.inf
    gap = 0.0 if kind.temp_lockout is None or kind.temp_release is None else kind.temp_release - kind.temp_lockout
    return lockout, lockout + gap if battery.temp_release is None else battery.temp_release


class BatteryState:
    """State of a battery in a simulation, updated step by step.

    Parameters
    ----------
    store : BatteryModel
    temp : float
        Its temperature at the start. [°C]

    Attributes
    ----------
    soc, rest, v, temp : float
        State of charge, rest volts, terminal volts of the last step, temperature. [-, V, V, °C]
    stage : int
        Index into `STAGES`.
    locked, cut : bool
        Whether frost keeps it from charging, and whether the loads are off since it is flat.
    lost_wh : float
        Turned into heat inside, and amp-hours that do not come out again, so far. [Wh]
    """

    def __init__(self, store: BatteryModel, temp: float) -> None:
        self.store, self.soc, self.temp = store, store.soc_start, temp
        self.stage, self.held_h, self.locked, self.cut = BULK, 0.0, False, False
        self.rest = self.v = store.v_rest(self.soc)
        self.lost_wh = 0.0
        self.warm(temp, 0.0)

    def warm(self, temp_place: float, hours: float) -> None:
        """Follow the temperature of its place, and lock or release the charge."""
        store = self.store
        share = 1.0 - exp(-hours / store.lag_h) if store.lag_h > 0 else 1.0
        self.temp += (temp_place - self.temp) * share
        if self.temp < store.temp_lockout:
            self.locked = True
        elif self.temp >= store.temp_release:
            self.locked = False

    @property
    def state(self) -> tuple[float, float, int, float, bool]:
        """What the next step depends on, but for temperature and frost."""
        return self.soc, self.rest, self.stage, self.held_h, self.cut

    def morning(self) -> None:
        """A controller that wakes begins with bulk."""
        self.stage, self.held_h = BULK, 0.0

    def v_held(self) -> float:
        """Volts the controller lets it reach in this stage. [V]"""
        store = self.store
        setting = store.v_float if self.stage == FLOAT else store.v_absorption
        return setting + store.v_compensation(self.temp)

    def volts(self, p_net: float) -> float:
        """Terminal volts with some watts going in, or out where negative. [V]"""
        rest = self.rest
        free = 0.5 * (rest + sqrt(max(rest * rest + 4.0 * self.store.r_internal * p_net, 0.0)))
        return min(free, max(self.v_held(), rest)) if p_net > 0 else free

    def step(self, p_solar: float, p_load: float, hours: float, p_idle: float = 0.0) -> tuple[float, float]:
        """Move on by some hours; watts of the sun that were taken, and watts of the loads that were served.

        Loads draw first from controllers that do not charge; of those, `min(p_idle, served)` is taken.

        Parameters
        ----------
        p_solar : float
            What the controllers offer, after their losses. [W]
        p_load : float
            What the loads ask for. [W]
        p_idle : float
            What controllers offer that feed loads and do not charge. [W]
        """
        store = self.store
        if self.cut and self.soc >= min(store.soc_flat + SOC_BACK, 1.0):
            self.cut = False
        served = 0.0 if self.cut else p_load
        idle = min(p_idle, served)
        surplus = p_solar + idle - served
        if surplus < 0.0:
            return self._discharge(p_solar + idle, served, hours)
        amps, taken = self._charge(surplus, hours)
        self._move(amps, hours)
        return served + taken, served

    def _charge(self, surplus: float, hours: float) -> tuple[float, float]:
        """Amps and watts it takes of a surplus; the stage goes on where volts are held."""
        rest = self.rest
        held = max(self.v_held(), rest)
        most = 0.0 if self.locked else self._accepted(rest, held, hours)
        self.v = self.volts(surplus)
        amps = surplus / self.v
        if amps <= most:
            return amps, surplus
        v_limit = self._limit(most, rest, held)
        if most * v_limit > surplus:
            # the amps it takes pull its volts up, and the sun gives out before they reach the setting
            self.v = surplus / most
            return most, surplus
        self.v = v_limit
        self._next_stage(most, hours)
        return most, most * self.v

    def _limit(self, amps: float, rest: float, held: float) -> float:
        """Terminal volts where it takes no more than some amps. [V]"""
        if self.locked:
            return rest
        if amps <= 0.0 and self.stage == FLOAT:
            # what rest volts stand above the setting is a surface charge, which goes by itself
            return self.v_held()
        return held if amps < self.store.i_most else min(held, rest + amps * self.store.r_internal)

    def _accepted(self, rest: float, held: float, hours: float) -> float:
        """Most amps it takes at the volts held: by resistance, by the missing charge, by its limit, until full."""
        store = self.store
        missing = max(1.0 - self.soc, 0.0) * store.capacity_ah
        drive = min((held - rest) / max(store.v_absorption - rest, 1e-9), 1.0)
        taper = missing / store.taper_h * drive
        return min((held - rest) / store.r_internal, taper, store.i_most, missing / (store.coulombic * hours))

    def _next_stage(self, amps: float, hours: float) -> None:
        """Bulk ends where volts are held; absorption ends by tail current or time."""
        store = self.store
        if self.locked or amps >= store.i_most:
            return
        if self.stage == BULK:
            self.stage, self.held_h = ABSORPTION, 0.0
        if self.stage == ABSORPTION:
            self.held_h += hours
            if amps <= store.i_tail or self.held_h >= store.absorption_h:
                self.stage = FLOAT

    def _discharge(self, p_solar: float, p_load: float, hours: float) -> tuple[float, float]:
        """Discharge by what the sun does not supply, until flat; then the loads are cut."""
        store = self.store
        self.v = self.volts(p_solar - p_load)
        amps = (p_load - p_solar) / self.v
        most = max(self.soc - store.soc_flat, 0.0) * store.capacity_ah / hours
        if amps > most:
            amps, self.cut = most, True
        self._move(-amps, hours)
        return p_solar, min(p_solar + amps * self.v, p_load)

    def _move(self, amps: float, hours: float) -> None:
        """Book amp-hours, and what is lost inside: at the resistance, and charge that does not come out again."""
        store = self.store
        kept = store.coulombic * amps if amps > 0 else amps
        self.lost_wh += (self.v * amps - self.rest * kept) * hours
        self.soc = min(max(self.soc + kept * hours / store.capacity_ah, 0.0), 1.0)
        self.rest = store.v_rest(self.soc)

    @property
    def full(self) -> bool:
        """Whether it is full, by its charge or because the controller has gone to float."""
        return self.soc >= SOC_FULL or self.stage == FLOAT

    @property
    def shown_stage(self) -> int:
        """The stage as a person sees it: frost goes before the rest."""
        return COLD if self.locked else self.stage


def daily_watts(loads: Sequence[Load]) -> Array:
    """Power of the loads, minute by minute from midnight, shape (1440,). [W]"""
    hours = (np.arange(MINUTES) + 0.5) / 60.0
    total = np.zeros(MINUTES)
    for load in loads:
        if load.p_hourly is not None:
            total += np.repeat(np.asarray(load.p_hourly, float), 60)
        elif load.from_h < load.to_h:
            total += np.where((hours >= load.from_h) & (hours < load.to_h), load.p_load or 0.0, 0.0)
        else:
            total += np.where((hours >= load.from_h) | (hours < load.to_h), load.p_load or 0.0, 0.0)
    return total


def load_watts(loads: Sequence[Load], hour: Array, step_h: float) -> Array:
    """Mean watts of the loads over steps that begin at these hours of the day, shape (moment,). [W]"""
    through = np.concatenate([[0.0], np.cumsum(np.tile(daily_watts(loads), 2))])
    minutes = np.arange(len(through))
    start = np.asarray(hour, float) * 60.0
    ends = [np.interp(at, minutes, through) for at in (start, start + 60.0 * step_h)]
    return (ends[1] - ends[0]) / (60.0 * step_h)
