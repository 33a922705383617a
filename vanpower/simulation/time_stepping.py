"""The simulation of a rig in steps of time: controllers awake or asleep, the battery's charge and stage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy, deepcopy
from dataclasses import dataclass, replace

import numpy as np

from vanpower.components.batteries import (
    ABSORPTION,
    COLD,
    FLOAT,
    STAGES,
    STEP_H,
    BatteryState,
    filled_battery,
)
from vanpower.components.controllers import V_DARK, cold_marks
from vanpower.model.losses import LOSSES
from vanpower.rig import Controller, Rig
from vanpower.simulation.circuit_tables import CircuitTable, Reading, Sun
from vanpower.simulation.needs import Feed

Array = np.ndarray

STEP_SHARE, SHORTEST_STEP_H = 0.05, 1.0 / 60.0
# share of its charge that a step may move at the most, as far as steps of a minute allow it [h]; with 10 minutes, 5 Ah
# under 123 W left 1 % of a day's watt-hours unexplained
GAINS = {
    "cold cells": "cells below 25 °C give more than the label",
    "kind light": "in middling light a panel loses less inside than on its label",
}
# what the sun gives beyond the label's share
PANEL_LOSSES = {
    "warm cells": "cells above 25 °C give less than the label",
    "dull light": "in dull light a panel gives less than its share of the label",
}
# what is lost inside the panels, before any wiring
REFUSALS = {
    "battery full": "the battery is full, or held at its volts",
    "battery cold": "too cold to charge; only the loads are fed",
    "controller cold": "in frost the controller shuts down, and not even the loads are fed",
    "battery limit": "the battery takes no more amps",
}
# what the battery does not take
STEPS = {**PANEL_LOSSES, **LOSSES, **REFUSALS}
# every loss of the ladder, from the roof down to the battery


@dataclass(eq=False)
class TimeSeries:
    """What a simulation recorded, a row for each moment.

    Parameters
    ----------
    p_offered, p_used : ndarray (moment,)
        From the controllers if all were taken, and what was taken by loads and battery. [W]
    p_load, p_served : ndarray (moment,)
        What the loads asked for and got. [W]
    p_lost : ndarray (moment,)
        Lost inside the battery. [W]
    p_fed : ndarray (moment,)
        Taken by loads and battery from other sources than the sun. [W]
    soc, v_battery, temp_battery : ndarray (moment,)
        State of charge, volts and temperature at the end of each moment. [-, V, °C]
    stage : ndarray of int (moment,)
        Index into `STAGES`.
    full, flat : ndarray of bool (moment,)
        Whether the battery was full, and whether loads were cut.

    Examples
    --------
    >>> rows = TimeSeries.empty(2)
    >>> rows.write(1, [(100.0, 80.0, 20.0, 20.0, 2.0, 0.0, 0.9, 13.4, 18.0, 0, False, False)])
    >>> (rows.p_offered - rows.p_used).tolist()
    [0.0, 20.0]
    """

    p_offered: Array
    p_used: Array
    p_load: Array
    p_served: Array
    p_lost: Array
    p_fed: Array
    soc: Array
    v_battery: Array
    temp_battery: Array
    stage: Array
    full: Array
    flat: Array

    @classmethod
    def empty(cls, count: int) -> TimeSeries:
        """A record of so many moments with nothing in it yet."""
        return cls(*(np.zeros(count) for _ in range(9)), *(np.zeros(count, kind) for kind in (int, bool, bool)))

    def write(self, first: int, log: Sequence[tuple[float, ...]]) -> None:
        """Record moments from row `first` on, in the order of the fields."""
        for name, column in zip(self.__dataclass_fields__, zip(*log, strict=True), strict=True):
            getattr(self, name)[first : first + len(log)] = column

    def only(self, index: slice | Array) -> TimeSeries:
        """Some of the moments."""
        return TimeSeries(*(getattr(self, name)[index] for name in self.__dataclass_fields__))


def lit_at(sources: Sequence[CircuitTable]) -> Array:
    """Whether any circuit has volts at some moments (moment,)."""
    return np.asarray(np.any([source.v_oc > V_DARK for source in sources], axis=0))


class Guard:
    """A controller's cold cut-off: whether it has stopped charging, and whether it then still feeds the loads."""

    def __init__(self, controller: Controller, temp: float) -> None:
        self.cutoff, self.release = cold_marks(controller)
        self.feeds_loads, self.stopped = controller.cold_feeds_loads, False
        self.feel(temp)

    def feel(self, temp: float) -> None:
        """Stop or go on by the battery's temperature. [°C]"""
        if temp < self.cutoff:
            self.stopped = True
        elif temp >= self.release:
            self.stopped = False


@dataclass
class Offered:
    """Power that the controllers offer at a moment. [W]

    Parameters
    ----------
    free : float
        From controllers that charge. [W]
    idle : float
        From controllers that have stopped charging and feed loads. [W]
    shut : float
        What controllers that have shut down would offer. [W]
    others : tuple of float
        From each source besides the sun. [W]
    """

    free: float = 0.0
    idle: float = 0.0
    shut: float = 0.0
    others: tuple[float, ...] = ()

    @property
    def total(self) -> float:
        """All of the sun's. [W]"""
        return self.free + self.idle + self.shut

    @property
    def charging(self) -> float:
        """From all that charges the battery, the sun and other sources. [W]"""
        return self.free + sum(self.others)

    def feeding(self, p_load: float) -> float:
        """What arrives at the battery's side beside some load. [W]"""
        return self.charging + min(self.idle, p_load)


class CircuitLookup:
    """A circuit as the simulation reads it, in plain numbers, and whether its controller is awake."""

    def __init__(self, source: CircuitTable, guard: Guard, awake: bool) -> None:
        self.guard, self.awake, self.start, self.hold = guard, awake, source.start, source.hold
        self.v_oc, self.table = source.v_oc.tolist(), source.offered.tolist()
        self.v_low = float(source.v_levels[0])
        self.per_volt = 1.0 / float(source.v_levels[1] - source.v_levels[0])
        self.last = len(source.v_levels) - 1

    def wake(self, m: int, volts: float) -> bool:
        """Whether it is awake at these battery volts; it starts at a higher array voltage than it falls asleep."""
        v_oc = self.v_oc[m]
        self.awake = v_oc > V_DARK and v_oc >= volts + (self.hold if self.awake else self.start)
        return self.awake

    def stay(self, m: int, volts: float) -> None:
        """Fall asleep where the battery's volts have risen too near."""
        self.awake = self.awake and self.v_oc[m] >= volts + self.hold

    def watts(self, m: int, volts: float) -> float:
        """Power it offers, interpolated in battery volts; as `circuit_tables.read`, for one moment. [W]"""
        if not self.awake:
            return 0.0
        place = min(max((volts - self.v_low) * self.per_volt, 0.0), self.last)
        left = min(int(place), self.last - 1)
        share = place - left
        low: float = self.table[left][m]
        return low * (1.0 - share) + self.table[left + 1][m] * share


class Stepper:
    """One rig's state in the simulation, stepped on moment by moment.

    Parameters
    ----------
    rig : Rig
    count : int
        Number of all moments.
    days : int
        Number of all days.
    step_h : float
        Length of a moment. [h]
    temp_first : float
        Temperature where the battery lies on the first day, from which it starts. [°C]
    measured : bool
        Whether the battery's own temperature was measured, so that nothing lags behind.
    """

    def __init__(
        self, rig: Rig, count: int, days: int, step_h: float, temp_first: float, *, measured: bool = False
    ) -> None:
        self.rig, self.step_h, self.measured = rig, step_h, measured
        store = filled_battery(rig.battery)
        self.store = replace(store, lag_h=0.0, temp_offset=0.0) if measured else store
        self.charge = BatteryState(self.store, self.place(temp_first))
        self.awake, self.plugged = [False] * len(rig.circuits), False
        self.guards = [Guard(circuit.controller, self.charge.temp) for circuit in rig.circuits]
        self.rows, self.p_by_label = TimeSeries.empty(count), np.zeros(count)
        self.p_each = np.zeros((len(rig.sources), count))
        self.wh_step, self.p_sun = STEP_SHARE * self.store.energy_wh(1.0), _sun_watts(rig)
        self.used_panels = [panel for circuit in rig.circuits for panel in circuit.wiring.panels]
        self.by_day = {name: np.zeros(days) for name in ("label", *GAINS, *STEPS, "used")}

    def parts(self, p_load: Array, feeds: Sequence[Feed] = (), lit: Array | bool = True) -> Array:
        """In how many steps the battery is moved on at each of some moments, by the most that may go in or out there.

        A small battery is moved on more often, since its volts move along. Where other sources give, the sun counts in
        its own light alone.
        """
        most = [np.minimum(feed.watts, np.multiply(feed.amps, self.store.v_absorption)) for feed in feeds]
        others = sum(most, np.zeros(len(p_load)))
        p_sun = np.where((others > 0) & ~np.asarray(lit), 0.0, self.p_sun)
        longest = self.wh_step / (np.maximum(p_load, p_sun) + others)
        return np.ceil(self.step_h / np.minimum(STEP_H, np.maximum(longest, SHORTEST_STEP_H)) - 1e-9).astype(int)

    def go_on(self, before: Stepper) -> None:
        """Begin as the days before left battery and controllers, in a like rig."""
        charge, self.charge = self.charge, copy(before.charge)
        self.charge.store = self.store
        self.store = replace(self.store, soc_start=self.charge.soc)
        self.charge.temp = charge.temp if self.measured else self.charge.temp
        self.awake, self.plugged, self.guards = list(before.awake), before.plugged, deepcopy(before.guards)

    def place(self, temp: float) -> float:
        """Temperature where the battery lies, from that of the air or as measured. [°C]"""
        return max(temp + self.store.temp_offset, self.store.temp_heated)

    def over(
        self, first: int, sun: Sun, sources: Sequence[CircuitTable], p_load: Array, temp: Array, day: Array,
        feeds: Sequence[Feed] = (),
    ) -> None:  # fmt: skip
        """Step over some moments that begin at row `first`, and add every watt-hour to its day."""
        count = len(p_load)
        met: list[list[bool]] = []
        v_met: list[float] = []
        refused = {name: [0.0] * count for name in REFUSALS}
        offers = [CircuitLookup(*each) for each in zip(sources, self.guards, self.awake, strict=True)]
        places = [self.place(each) for each in temp.tolist()]
        log: list[tuple[float, ...]] = []
        fed: list[tuple[float, ...]] = []
        parts = self.parts(p_load, feeds, lit_at(sources)).tolist()
        for m, asked in enumerate(p_load.tolist()):
            self.charge.warm(places[m], self.step_h)
            for guard in self.guards:
                guard.feel(self.charge.temp)
            written, volts, others = self.step(m, asked, offers, feeds, refused, parts[m])
            met.append([offer.awake for offer in offers])
            v_met.append(volts)
            log.append(written)
            fed.append(others)
        self.rows.write(first, log)
        if feeds:
            self.share_out(first, np.array(fed).T)
        self.awake = [offer.awake for offer in offers]
        self.book(first, sun, sources, np.array(met).T, np.array(v_met), refused, day)

    def step(
        self, m: int, p_load: float, offers: Sequence[CircuitLookup], feeds: Sequence[Feed],
        refused: dict[str, list[float]], parts: int,
    ) -> tuple[tuple[float, ...], float, tuple[float, ...]]:  # fmt: skip
        """Move on by one moment in so many parts, once it is known how warm the battery is.

        Returns
        -------
        written : tuple of float
            What is written down of it, in the order of `TimeSeries`.
        volts : float
            Battery volts that the chargers meet. [V]
        others : tuple of float
            What each other source offers. [W]
        """
        offered, volts = self._offered(m, p_load, offers, feeds)
        return self._moved(m, offered, p_load, refused, parts), volts, offered.others

    def book(
        self, first: int, sun: Sun, sources: Sequence[CircuitTable], awake: Array, volts: Array,
        refused: Mapping[str, Sequence[float] | Array], day: Array,
    ) -> None:  # fmt: skip
        """Add every watt-hour of some moments, whose rows are written, to its day."""
        rows = np.arange(first, first + len(volts))[sun.lit]
        lost = {name: np.zeros(len(rows)) for name in LOSSES}
        for on, source in zip(awake[:, sun.lit], sources, strict=True):
            at = Reading(source.v_levels, volts[sun.lit])
            self.p_by_label[rows] += np.where(on, at.of(source.by_label), 0.0)
            for name in source.lost.keys() | source.asleep.keys():
                held = at.of(source.lost[name]) if name in source.lost else 0.0
                lost[name] += np.where(on, held, source.asleep.get(name, 0.0))
        lost = {name: np.maximum(watts, 0.0) for name, watts in lost.items()}
        left = {name: np.array(watts)[sun.lit] for name, watts in refused.items()}
        self._booked(sun, lost | left, self.rows.p_used[rows], day[sun.lit])

    def _offered(
        self, m: int, p_load: float, offers: Sequence[CircuitLookup], feeds: Sequence[Feed]
    ) -> tuple[Offered, float]:
        """What all chargers offer and the battery volts they meet; controllers wake, or go to sleep."""
        charge = self.charge
        drawn = 0.0 if charge.cut else p_load
        others = tuple([feed.at(m, charge.v) for feed in feeds])
        at_rest = charge.volts(sum(others) - drawn)
        before, plugged = any([offer.awake for offer in offers]), self.plugged
        awake, self.plugged = any([offer.wake(m, at_rest) for offer in offers]), any(others)
        if (awake and not before) or (self.plugged and not plugged):
            charge.morning()
        if not awake:
            return Offered(others=others), at_rest
        volts = charge.volts(_sorted(m, at_rest, offers, others).feeding(drawn) - drawn)
        for offer in offers:
            offer.stay(m, volts)
        return _sorted(m, volts, offers, others), volts

    def _moved(
        self, m: int, offered: Offered, p_load: float, refused: dict[str, list[float]], parts: int
    ) -> tuple[float, ...]:
        """Move the battery on over one moment; what is written down of it, in the order of `TimeSeries`."""
        charge, p_others = self.charge, sum(offered.others)
        used = served = fed = 0.0
        lost = charge.lost_wh
        charging, by_others = offered.charging, 0.0
        others = p_others / charging if p_others else 0.0
        done = 0
        while done < parts:
            state, heat = charge.state, charge.lost_wh
            taken, got = charge.step(charging, p_load, self.step_h / parts, offered.idle)
            if others:
                by_others = others * (taken - min(offered.idle, got))
                taken -= by_others
            # a step that changes nothing is like all that follow
            alike = parts - done if charge.state == state else 1
            charge.lost_wh += (charge.lost_wh - heat) * (alike - 1)
            used, served = used + taken * alike / parts, served + got * alike / parts
            fed += by_others * alike / parts
            self._refuse(m, offered, taken, got, refused, alike / parts)
            done += alike
        p_lost = (charge.lost_wh - lost) / self.step_h
        stage = COLD if all([guard.stopped for guard in self.guards]) else charge.shown_stage
        battery = (charge.soc, charge.v, charge.temp, stage, charge.full, charge.cut)
        return (offered.total, used, p_load, served, p_lost, fed, *battery)

    def share_out(self, first: int, others: Array) -> None:
        """Write down what each source gave, by what each offered."""
        rows = slice(first, first + others.shape[1])
        offered = others.sum(axis=0)
        share = np.divide(self.rows.p_fed[rows], offered, out=np.zeros_like(offered), where=offered > 0)
        self.p_each[:, rows] = others * share

    def _refuse(
        self, m: int, offered: Offered, taken: float, served: float, refused: dict[str, list[float]], share: float
    ) -> None:
        """Book what was not taken over a share of a moment, by its reason."""
        fed = min(offered.idle, served)
        refused["controller cold"][m] += offered.shut * share
        refused["battery cold"][m] += (offered.idle - fed) * share
        if taken - fed < offered.free:
            refused[self._reason()][m] += (offered.free - (taken - fed)) * share

    def _reason(self) -> str:
        """Why the battery left something on the roof."""
        stage = self.charge.shown_stage
        if stage == COLD:
            return "battery cold"
        return "battery full" if stage in (ABSORPTION, FLOAT) else "battery limit"

    def _booked(
        self, sun: Sun, lost: dict[str, Array], used: Array, day: Array,
    ) -> None:  # fmt: skip
        """Every watt of the moments with light by its name, summed over each day; in the dark there is none.

        Notes
        -----
        What is left between the label's watts and all that is named is the panels' own doing in this light. A loss
        below zero, which only rounding makes, is held at zero; that too ends up there.
        """
        label, heat = self._in_panels(sun)
        light = label - np.sum(list(lost.values()), axis=0) - used - heat
        lost |= {"warm cells": np.maximum(heat, 0.0), "cold cells": np.maximum(-heat, 0.0)}
        lost |= {"dull light": np.maximum(light, 0.0), "kind light": np.maximum(-light, 0.0), "label": label}
        for name, watts in (lost | {"used": used}).items():
            self.by_day[name] += np.bincount(day, watts, minlength=len(self.by_day[name])) * self.step_h

    def _in_panels(self, sun: Sun) -> tuple[Array, Array]:
        """Label watts in this light, and what heat takes of them, negative in the cold (lit moment,). [W]"""
        heat = sun.p_cool - sun.light.p_clear
        return sun.p_label[:, self.used_panels].sum(axis=1), heat[:, self.used_panels].sum(axis=1)


def _sun_watts(rig: Rig) -> float:
    """Most that the sun may give, and one watt where it gives none. [W]"""
    return max(sum(rig.panels[panel].p_mp for circuit in rig.circuits for panel in circuit.wiring.panels), 1.0)


def _sorted(m: int, volts: float, offers: Sequence[CircuitLookup], others: tuple[float, ...]) -> Offered:
    """What chargers offer at some battery volts, by what the cold cut-offs of controllers leave of it."""
    offered = Offered(others=others)
    for offer in offers:
        watts, guard = offer.watts(m, volts), offer.guard
        if not guard.stopped:
            offered.free += watts
        elif guard.feeds_loads:
            offered.idle += watts
        else:
            offered.shut += watts
    return offered


def stage_names(stages: Array) -> list[str]:
    """Stages in words."""
    return [STAGES[code] for code in stages]
