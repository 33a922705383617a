"""One step of battery and controllers for many moments at once, as `time_stepping` does it for one in plain floats.

The rules are those of `components.batteries.BatteryState` and of `time_stepping.Stepper`, which say why they are so;
a test holds both to each other. Temperature and frost do not depend on the charge, so they come in with the moments.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from vanpower.components.batteries import ABSORPTION, BULK, FLOAT, SOC_BACK, BatteryModel
from vanpower.components.controllers import V_DARK

Array = np.ndarray
Ways = tuple[tuple[Array, Array], tuple[Array, Array, Array]]
# amps and volts of a battery that draws; amps, volts and watts taken of one that charges


@dataclass(frozen=True, eq=False)
class States:
    """Where batteries and controllers stand at the start of a moment, each (lane,) but for `awake` (circuit, lane).

    The terminal volts `v` are kept where other sources charge, which look at them.
    """

    soc: Array
    rest: Array
    v: Array
    held_h: Array
    stage: Array
    cut: Array
    awake: Array

    def lanes(self, index: Array | slice) -> States:
        """Some of the lanes."""
        return States(*(getattr(self, name)[..., index] for name in self.__dataclass_fields__))

    def with_lanes(self, index: Array, found: States) -> States:
        """The same with some lanes as they are found elsewhere."""
        whole = {name: getattr(self, name).copy() for name in self.__dataclass_fields__}
        for name, values in whole.items():
            values[..., index] = getattr(found, name)
        return States(**whole)

    def steps(self, index: int | slice) -> States:
        """Some of the steps of states that have them (.., step, lane)."""
        return States(*(getattr(self, name)[..., index, :] for name in self.__dataclass_fields__))

    @staticmethod
    def joined(parts: Sequence[States]) -> States:
        """Several of them one after another, as one more axis in front of the lanes' (.., step, lane)."""
        return States(*(np.stack([getattr(part, name) for part in parts], axis=-2) for name in _STATE))


_STATE = tuple(States.__dataclass_fields__)


@dataclass(frozen=True, eq=False)
class Given:
    """What comes from outside at a moment, whatever the charge.

    Parameters
    ----------
    p_load : ndarray (lane,)
        What the loads ask for. [W]
    v_absorption, v_float : ndarray (lane,)
        Settings at the battery's temperature. [V]
    locked : ndarray of bool (lane,)
        Whether frost keeps the battery from charging.
    v_oc : ndarray (circuit, lane)
        Open-circuit volts, minus infinity in the dark. [V]
    offered : ndarray (circuit, level, lane)
        Power at each of the battery voltages of a `CircuitTable`. [W]
    start, hold : ndarray (circuit, lane)
        Margins above the battery. [V]
    stopped : ndarray of bool (circuit, lane)
        Whether frost has stopped the controller.
    feeds_loads : ndarray of bool (circuit, lane)
        Whether it then still feeds the loads.
    watts, amps : ndarray (feed, lane)
        Most that each other source gives. [W, A]
    plugged : ndarray of bool (lane,)
        Whether one of them begins to give, which sets the charge back to bulk.
    parts : ndarray of int (lane,)
        Steps of the battery in the moment.
    """

    p_load: Array
    v_absorption: Array
    v_float: Array
    locked: Array
    v_oc: Array
    offered: Array
    start: Array
    hold: Array
    stopped: Array
    feeds_loads: Array
    watts: Array
    amps: Array
    plugged: Array
    parts: Array

    def lanes(self, index: Array | slice) -> Given:
        """Some of the lanes."""
        return Given(*(getattr(self, name)[..., index] for name in self.__dataclass_fields__))

    @property
    def is_dark(self) -> bool:
        """Whether neither the sun nor another source gives anything in any lane."""
        return not (self.v_oc > 0.0).any() and not (self.watts > 0.0).any()


@dataclass(frozen=True, eq=False)
class Offers:
    """Power that controllers offer, from those that charge (lane,); where frost stops some, from those also. [W]

    Parameters
    ----------
    free : ndarray (lane,)
        From those that charge.
    idle, shut : ndarray (lane,), optional
        From those that feed loads only, and from those shut down.
    others : ndarray (feed, lane), optional
        From each source besides the sun.
    """

    free: Array
    idle: Array | None = None
    shut: Array | None = None
    others: Array | None = None

    @property
    def charging(self) -> Array:
        """From all that charges the battery (lane,). [W]"""
        return self.free if self.others is None else self.free + self.others.sum(axis=0)

    @property
    def share(self) -> Array:
        """Share of it that other sources give (lane,)."""
        if self.others is None:
            return np.zeros_like(self.free)
        fed = self.others.sum(axis=0)
        return np.divide(fed, self.free + fed, out=np.zeros_like(fed), where=fed > 0)

    def feeding(self, p_load: Array) -> Array:
        """What arrives at the battery's side beside some load (lane,). [W]"""
        return self.charging if self.idle is None else self.charging + np.minimum(self.idle, p_load)

    def lanes(self, index: Array | slice) -> Offers:
        """Some of the lanes."""
        known = {name: each for name in self.__dataclass_fields__ if (each := getattr(self, name)) is not None}
        return Offers(**{name: each[..., index] for name, each in known.items()})


@dataclass(frozen=True, eq=False)
class Move:
    """One step of the battery, each (lane,).

    Parameters
    ----------
    v : ndarray
        Terminal volts. [V]
    taken, served, left : ndarray
        Watts that were taken, of the loads that were served, and offered to charge and not taken. [W]
    lost_wh : ndarray
        Turned into heat inside, and amp-hours that do not come out again. [Wh]
    """

    v: Array
    taken: Array
    served: Array
    left: Array
    lost_wh: Array


class Bank:
    """A kind of battery behind circuits, stepped on at many moments at once.

    Parameters
    ----------
    store : BatteryModel
    v_levels : ndarray (level,)
        Battery voltages of the circuits' tables, evenly spaced. [V]
    step_h : float
        Length of a moment. [h]
    """

    def __init__(self, store: BatteryModel, v_levels: Array, step_h: float) -> None:
        self.store, self.v_levels, self.step_h = store, v_levels, step_h
        self.hours: float | Array = step_h
        self.v_low, self.last = float(v_levels[0]), len(v_levels) - 1
        self.per_volt = 1.0 / float(v_levels[1] - v_levels[0])
        self.soc_back = min(store.soc_flat + SOC_BACK, 1.0)
        self.points, self.volts_at = np.array(store.soc), np.array(store.rest)
        self.inner, self.rises, self.widths = self.points[1:-1], np.diff(self.volts_at), np.diff(self.points)

    def paces(self, parts: Array) -> Iterator[tuple[Bank, int, Array | slice]]:
        """The same battery moved on in as many steps as some moments want, how many, and which moments these are."""
        counts = np.unique(parts).tolist()
        for count in counts:
            yield self.in_parts(count), count, np.flatnonzero(parts == count) if len(counts) > 1 else slice(None)

    def in_parts(self, parts: int | Array) -> Bank:
        """The same battery moved on in so many steps, which may differ from lane to lane."""
        paced = copy(self)
        paced.hours = self.step_h / parts
        return paced

    def v_rest(self, soc: Array) -> Array:
        """Rest volts at shares of the charge. [V]"""
        k = np.searchsorted(self.inner, soc, side="right")
        return self.volts_at.take(k) + (soc - self.points.take(k)) * self.rises.take(k) / self.widths.take(k)

    def offers(self, state: States, now: Given) -> tuple[States, Offers, Array]:
        """What the controllers offer, the battery volts they meet, and the states once they are awake or asleep."""
        drawn = np.where(state.cut, 0.0, now.p_load)
        others = np.minimum(now.watts, now.amps * state.v) if len(now.watts) else None
        at_rest = self._at_rest(state, now, drawn, others)
        awake = now.v_oc >= at_rest + np.where(state.awake, now.hold, now.start)
        some = awake.any(axis=0)
        new = some & ~state.awake.any(axis=0) | now.plugged
        stage, held_h = np.where(new, BULK, state.stage), np.where(new, 0.0, state.held_h)
        if not some.any():
            held = States(state.soc, state.rest, state.v, held_h, stage, state.cut, awake)
            return held, Offers(np.zeros_like(at_rest), others=others), at_rest
        net = self._sorted(at_rest, awake, now, others).feeding(drawn) - drawn
        setting = np.where(stage == FLOAT, now.v_float, now.v_absorption)
        volts = np.where(some, self._volts(state.rest, net, np.maximum(setting, state.rest)), at_rest)
        awake &= now.v_oc >= volts + now.hold
        held = States(state.soc, state.rest, state.v, held_h, stage, state.cut, awake)
        return held, self._sorted(volts, awake, now, others), volts

    def _at_rest(self, state: States, now: Given, drawn: Array, others: Array | None) -> Array:
        """Battery volts before the sun charges, with what other sources give. [V]"""
        if others is None:
            return self._free(state.rest, -drawn)
        setting = np.where(state.stage == FLOAT, now.v_float, now.v_absorption)
        return self._volts(state.rest, others.sum(axis=0) - drawn, np.maximum(setting, state.rest))

    def moved(self, state: States, now: Given, offers: Offers) -> tuple[States, Move]:
        """One step of the battery: the states after it, and what was moved."""
        after, asked, surplus, ways = self._after(state, now, offers)
        (drawn, v_drawn), (into, v, stored) = ways
        draws, came = surplus < 0.0, surplus + asked
        amps, v = np.where(draws, -drawn, into), np.where(draws, v_drawn, v)
        kept = np.where(amps > 0, self.store.coulombic * amps, amps)
        return after, Move(
            v=v,
            taken=np.where(draws, came, asked + stored),
            served=np.where(draws, np.minimum(came + drawn * v_drawn, asked), asked),
            left=np.where(draws, 0.0, surplus - stored),
            lost_wh=(v * amps - state.rest * kept) * self.hours,
        )

    def _after(self, state: States, now: Given, offers: Offers) -> tuple[States, Array, Array, Ways]:
        """The states after one step, what the loads get, the surplus, and what a battery that draws or charges does."""
        cut = state.cut & (state.soc < self.soc_back)
        asked = np.where(cut, 0.0, now.p_load)
        surplus = offers.feeding(asked) - asked
        draws = surplus < 0.0
        drawn = into = stored = np.zeros_like(surplus)
        v = v_drawn = state.v
        held_h, stage, flat = state.held_h, state.stage, draws
        if draws.any():
            drawn, v_drawn, flat = self._discharged(state.soc, state.rest, surplus)
        if not draws.all():
            into, v, stored, held_h, stage = self._charged(state, now, surplus)
        # of amps drawn and amps taken one is nothing
        ah = (self.store.coulombic * into - drawn) * self.hours
        soc = np.minimum(np.maximum(state.soc + ah / self.store.capacity_ah, 0.0), 1.0)
        volts = state.v if offers.others is None else np.where(draws, v_drawn, v)
        after = States(soc, self.v_rest(soc), volts, held_h, stage, cut | flat, state.awake)
        return after, asked, surplus, ((drawn, v_drawn), (into, v, stored))

    def stepped(self, state: States, now: Given) -> States:
        """The states after one moment."""
        least, most = int(now.parts.min()), int(now.parts.max())
        pace = self.in_parts(least if least == most else now.parts)
        if least == most and now.is_dark:
            return pace._in_the_dark(state, now, least)
        state, offers, _ = self.offers(state, now)
        for _ in range(least):
            state = pace._after(state, now, offers)[0]
        for done in range(least, most):
            here = np.flatnonzero(now.parts > done)
            pace = self.in_parts(now.parts[here])
            some = pace._after(state.lanes(here), now.lanes(here), offers.lanes(here))[0]
            state = state.with_lanes(here, some)
        return state

    def _in_the_dark(self, state: States, now: Given, parts: int) -> States:
        """The states after one moment without any light, in which the battery feeds the loads alone."""
        soc, rest, v, cut = state.soc, state.rest, state.v, state.cut
        for _ in range(parts):
            cut = cut & (soc < self.soc_back)
            amps, v, flat = self._discharged(soc, rest, np.where(cut, 0.0, -now.p_load))
            cut = cut | flat
            soc = np.maximum(soc - amps * (self.hours / self.store.capacity_ah), 0.0)
            rest = self.v_rest(soc)
        return States(soc, rest, v, state.held_h, state.stage, cut, np.zeros_like(state.awake))

    def _free(self, rest: Array, p_net: Array) -> Array:
        """Terminal volts with some watts going in, or out where negative, whatever the setting. [V]"""
        return 0.5 * (rest + np.sqrt(np.maximum(rest * rest + 4.0 * self.store.r_internal * p_net, 0.0)))

    def _volts(self, rest: Array, p_net: Array, held: Array) -> Array:
        """Terminal volts; where watts go in, at most what the controller lets it reach. [V]"""
        free = self._free(rest, p_net)
        return np.where(p_net > 0, np.minimum(free, held), free)

    def _watts(self, volts: Array, awake: Array, now: Given) -> Array:
        """Power of each circuit, interpolated in battery volts (circuit, lane). [W]"""
        place = np.minimum(np.maximum((volts - self.v_low) * self.per_volt, 0.0), self.last)
        left = np.minimum(place.astype(np.intp), self.last - 1)
        share, lanes = place - left, len(volts)
        here = left * lanes + _numbered(lanes)
        flat = now.offered.reshape(len(now.offered), -1)
        low, high = flat.take(here, axis=1), flat.take(here + lanes, axis=1)
        return (low * (1.0 - share) + high * share) * awake

    def _sorted(self, volts: Array, awake: Array, now: Given, others: Array | None) -> Offers:
        """What controllers offer at some battery volts, by what their cold cut-offs leave of it."""
        watts = self._watts(volts, awake, now)
        if not now.stopped.any():
            return Offers(watts[0] if len(watts) == 1 else watts.sum(axis=0), others=others)
        idle = now.stopped & now.feeds_loads
        split = (~now.stopped, idle, now.stopped & ~idle)
        free, fed, shut = (np.where(which, watts, 0.0).sum(axis=0) for which in split)
        return Offers(free, fed, shut, others)

    def _discharged(self, soc: Array, rest: Array, surplus: Array) -> tuple[Array, Array, Array]:
        """Amps drawn and terminal volts where the surplus is below zero, and whether that cuts the loads."""
        draws = np.minimum(surplus, 0.0)
        v = self._free(rest, draws)
        amps = -draws / v
        most = np.maximum(soc - self.store.soc_flat, 0.0) * self.store.capacity_ah / self.hours
        return np.minimum(amps, most), v, amps > most

    def _charged(self, state: States, now: Given, surplus: Array) -> tuple[Array, Array, Array, Array, Array]:
        """Amps, terminal volts, watts taken of a surplus, hours held and stage after it; nothing where it draws."""
        store, rest = self.store, state.rest
        setting = np.where(state.stage == FLOAT, now.v_float, now.v_absorption)
        held = np.maximum(setting, rest)
        most = np.where(now.locked, 0.0, self._accepted(state.soc, rest, held))
        extra = np.maximum(surplus, 0.0)
        v = self._volts(rest, extra, held)
        amps = extra / v
        limited = amps > most
        if not limited.any():
            return amps, v, extra, state.held_h, state.stage
        limit = np.where(most < store.i_most, held, np.minimum(held, rest + most * store.r_internal))
        limit = np.where((most <= 0.0) & (state.stage == FLOAT), setting, limit)
        limit = np.where(now.locked, rest, limit)
        pulled = limited & (most * limit > extra)
        v = np.where(limited, np.where(pulled, extra / np.where(pulled, most, 1.0), limit), v)
        at_setting = limited & ~pulled & ~now.locked & (most < store.i_most)
        held_h, stage = self._next_stage(state, most, at_setting)
        amps = np.where(limited, most, amps)
        return amps, v, np.where(limited & ~pulled, amps * v, extra), held_h, stage

    def _accepted(self, soc: Array, rest: Array, held: Array) -> Array:
        """Most amps it takes at the volts held: by resistance, by the missing charge, by its limit, until full."""
        store = self.store
        missing = np.maximum(1.0 - soc, 0.0) * store.capacity_ah
        above = held - rest
        drive = np.minimum(above / np.maximum(store.v_absorption - rest, 1e-9), 1.0)
        until_full = np.minimum(missing / store.taper_h * drive, missing / (store.coulombic * self.hours))
        return np.minimum(np.minimum(above / store.r_internal, store.i_most), until_full)

    def _next_stage(self, state: States, amps: Array, held: Array) -> tuple[Array, Array]:
        """Hours held and stage where volts are held: bulk ends, and absorption by tail current or time."""
        held_h = np.where(held & (state.stage == BULK), 0.0, state.held_h)
        absorbs = held & (state.stage != FLOAT)
        held_h = np.where(absorbs, held_h + self.hours, held_h)
        done = absorbs & ((amps <= self.store.i_tail) | (held_h >= self.store.absorption_h))
        stage = np.where(absorbs, ABSORPTION, state.stage)
        return held_h, np.where(done, FLOAT, stage)


@lru_cache(maxsize=4)
def _numbered(count: int) -> Array:
    """So many numbers from 0 on."""
    numbers = np.arange(count)
    numbers.setflags(write=False)
    return numbers


def lit_volts(v_oc: Array) -> Array:
    """Open-circuit volts, minus infinity in the dark, where no controller wakes. [V]"""
    return np.where(v_oc > V_DARK, v_oc, -np.inf)
