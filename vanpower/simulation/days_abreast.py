"""A long simulation with all its days stepped on abreast, in arrays, until every day begins where the last one ended.

A battery's charge at midnight is known once the days before it are. So each day begins with a guess; after all days
have been stepped through side by side, the end of each says where the next begins. What a day's end owes to its start
is known from the step before (a day that fills the battery owes it nothing), so a handful of rounds do, and only days
whose start has moved are stepped through again. At the end no start differs from the end before it by more than `MET`
of the capacity; the last few days that do not are stepped through one moment after another. So are short runs
(`time_stepping`), which takes five to ten times as long.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy, deepcopy
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

import numpy as np

from vanpower.components.batteries import ABSORPTION, BULK, COLD, FLOAT, SOC_FULL
from vanpower.simulation.battery_arrays import Bank, Given, Move, Offers, States, lit_volts
from vanpower.simulation.circuit_tables import CircuitTable, Sun
from vanpower.simulation.needs import Feed
from vanpower.simulation.time_stepping import REFUSALS, CircuitLookup, Stepper, lit_at

Array = np.ndarray

LEAST_DAYS = 20
# days from which stepping them abreast is quicker than one after another, measured
ROUNDS, FEW = 20, 5
# at most, a year takes three to eight; and days that are left to be stepped through plainly, which is quicker then
MET, GUESS = 1e-12, 1e-3
# share of the capacity by which the start of a day may differ from the end of the day before, and in a first guess
COARSE = 24
# steps of a day in which a first guess is made
MEANS = ("p_load", "offered", "watts", "amps")
# what longer steps have the mean of
SAME_START = 1e-10
# share of the capacity by which a start must have moved to tell what the end owes to it


@dataclass(frozen=True, eq=False)
class Warmth:
    """How warm a battery is and what frost stops, moment by moment; it does not depend on the charge.

    Parameters
    ----------
    temp : ndarray (moment,)
        Of the battery. [°C]
    locked : ndarray of bool (moment,)
        Whether it takes no charge.
    stopped : ndarray of bool (circuit, moment)
        Whether each controller has stopped.
    """

    temp: Array
    locked: Array
    stopped: Array


def warmth_of(stepper: Stepper, temp_air: Array) -> Warmth:
    """The battery's temperature from that of the air, or as measured, and what frost stops."""
    store, charge = stepper.store, stepper.charge
    places = np.maximum(temp_air + store.temp_offset, store.temp_heated)
    share = 1.0 - np.exp(-stepper.step_h / store.lag_h) if store.lag_h > 0 else 1.0
    course = accumulate(places.tolist(), lambda temp, place: temp + (place - temp) * share, initial=charge.temp)
    temp = np.array(list(course)[1:])
    locked = _latched(charge.locked, temp < store.temp_lockout, temp >= store.temp_release)
    stopped = [_latched(g.stopped, temp < g.cutoff, temp >= g.release) for g in stepper.guards]
    return Warmth(temp, locked, np.array(stopped, bool).reshape(-1, len(temp)))


def _latched(before: bool, sets: Array, clears: Array) -> Array:
    """What is set, stays so, and is cleared; where both hold it is set."""
    last = np.maximum.accumulate(np.where(sets | clears, np.arange(len(sets)), -1))
    return np.where(last < 0, before, sets[np.maximum(last, 0)])


@dataclass(frozen=True, eq=False)
class Walk:
    """A rig's whole run as it comes from outside: stepper, circuits' tables, loads, other sources, warmth (moment,)."""

    stepper: Stepper
    sources: Sequence[CircuitTable]
    p_load: Array
    feeds: Sequence[Feed]
    warmth: Warmth

    @property
    def bank(self) -> Bank:
        """The battery."""
        stepper = self.stepper
        return Bank(stepper.store, self.sources[0].v_levels, stepper.step_h)

    @property
    def kind(self) -> tuple[object, ...]:
        """What walks must share to be stepped on together."""
        return self.stepper.store, self.stepper.step_h, len(self.sources), len(self.feeds)

    def given(self) -> Given:
        """All moments as they come from outside."""
        store, warmth, count = self.stepper.store, self.warmth, len(self.p_load)
        warmer = store.v_compensation(warmth.temp)
        wide = (len(self.sources), count)
        margins = np.array([(source.start, source.hold) for source in self.sources])
        start, hold = (np.broadcast_to(each[:, None], wide) for each in margins.T)
        fed = np.array([guard.feeds_loads for guard in self.stepper.guards], bool)
        return Given(
            self.p_load, store.v_absorption + warmer, store.v_float + warmer, warmth.locked,
            lit_volts(np.array([source.v_oc for source in self.sources])),
            np.array([source.offered for source in self.sources]),
            start, hold, warmth.stopped, np.broadcast_to(fed[:, None], wide), self._most("watts"), self._most("amps"),
            self.gives & ~np.append(self.stepper.plugged, self.gives[:-1]), 
            self.stepper.parts(self.p_load, self.feeds, lit_at(self.sources)),
        )  # fmt: skip

    @cached_property
    def gives(self) -> Array:
        """Whether another source gives anything (moment,)."""
        return np.asarray(((self._most("watts") > 0) & (self._most("amps") > 0)).any(axis=0))

    def _most(self, what: str) -> Array:
        """Most that each other source gives (feed, moment). [W, A]"""
        return np.array([getattr(feed, what) for feed in self.feeds]).reshape(len(self.feeds), len(self.p_load))

    def first(self) -> States:
        """Where battery and controllers stand at the start (1,)."""
        charge = self.stepper.charge
        one = (charge.soc, charge.rest, charge.v, charge.held_h, charge.stage, charge.cut)
        soc, rest, v, held_h, stage, cut = (np.array([each]) for each in one)
        return States(soc, rest, v, held_h, stage, cut, np.array(self.stepper.awake)[:, None])

    def leave(self, end: States) -> None:
        """Let the stepper stand where the run ends, for days that go on from it (1,)."""
        stepper, charge, warmth = self.stepper, self.stepper.charge, self.warmth
        charge.soc, charge.rest, charge.v, charge.held_h = (
            float(each[0]) for each in (end.soc, end.rest, end.v, end.held_h)
        )
        charge.stage, charge.cut = int(end.stage[0]), bool(end.cut[0])
        charge.temp, charge.locked = float(warmth.temp[-1]), bool(warmth.locked[-1])
        for guard, stopped in zip(stepper.guards, warmth.stopped[:, -1].tolist(), strict=True):
            guard.stopped = stopped
        stepper.awake, stepper.plugged = end.awake[:, 0].tolist(), bool(self.gives[-1])


def starts(walks: Sequence[Walk], steps: int) -> list[tuple[States, States]]:
    """Where battery and controllers stand at the start of every moment, and at the end, for walks of one kind.

    Parameters
    ----------
    walks : sequence of Walk
        All of one `kind`.
    steps : int
        Moments of a day.

    Returns
    -------
    list of (States, States), (moment,) and (1,) at the end of the last whole day, for each walk
    """
    count = len(walks[0].p_load)
    days = -(-count // steps)
    given, first = _abreast([walk.given() for walk in walks], steps, days), [walk.first() for walk in walks]
    bank, few = walks[0].bank, COARSE if steps % COARSE == 0 else steps
    wanted = _Days(bank, given, first, days)
    if few < steps or given.parts.max() > 1:
        wanted.begin_as(_Days(Bank(bank.store, bank.v_levels, 24 / few), _coarser(given, few), first, days, GUESS))
    wanted.follow(wanted.settle(), walks)
    lanes = [slice(k * days, (k + 1) * days) for k in range(len(walks))]
    return [(_in_time(wanted.course, own, count), wanted.end.lanes(slice(own.stop - 1, own.stop))) for own in lanes]


def _abreast(walks: Sequence[Given], steps: int, days: int) -> Given:
    """Days of all walks side by side: (step, ..., walk x day); a last day that is not whole is filled with dark."""
    fill = {"v_oc": -np.inf, "parts": walks[0].parts.min()}
    columns = []
    for name in Given.__dataclass_fields__:
        each = [_days_of(getattr(walk, name), steps, days, fill.get(name, 0)) for walk in walks]
        columns.append(np.concatenate(each, axis=-1))
    return Given(*columns)


def _coarser(given: Given, steps: int) -> Given:
    """The same days in fewer, longer steps: means, and what holds in the last moment of each."""
    few = {}
    for name in Given.__dataclass_fields__:
        each = getattr(given, name)
        parts = each.reshape(steps, len(each) // steps, *each.shape[1:])
        few[name] = parts.mean(axis=1) if name in MEANS else parts[:, -1]
    few["v_oc"] = given.v_oc.reshape(steps, -1, *given.v_oc.shape[1:]).max(axis=1)
    few["plugged"] = given.plugged.reshape(steps, -1, given.plugged.shape[-1]).any(axis=1)
    few["parts"] = np.ones_like(few["parts"])
    return Given(**few)


def _days_of(values: Array, steps: int, days: int, fill: float) -> Array:
    """Values (..., moment) as (step, ..., day)."""
    lacking = steps * days - values.shape[-1]
    if lacking:
        values = np.concatenate([values, np.full((*values.shape[:-1], lacking), fill, values.dtype)], axis=-1)
    return np.moveaxis(values.reshape(*values.shape[:-1], days, steps), -1, 0)


def _in_time(found: States, lanes: slice, count: int) -> States:
    """States (..., step, lane) of one walk's days, end to end (..., moment)."""
    return States(
        *(
            np.swapaxes(each[..., lanes], -1, -2).reshape(*each.shape[:-2], -1)[..., :count]
            for each in (getattr(found, name) for name in States.__dataclass_fields__)
        )
    )


class _Days:
    """Days abreast, each a lane that begins with a guess, and their rounds until all follow from each other."""

    def __init__(self, bank: Bank, given: Given, first: Sequence[States], days: int, met: float = MET) -> None:
        self.bank, self.given, self.days, self.met = bank, given, days, met
        self.first = States(*(np.concatenate(each, axis=-1) for each in zip(*map(_fields, first), strict=True)))
        self.used = States(*(np.repeat(each, days, axis=-1) for each in _fields(self.first)))
        self.end = self.course = self.used
        self.gain = np.ones(len(self.used.soc))

    def begin_as(self, coarse: _Days) -> None:
        """Begin each day as it begins in longer steps, which are soon stepped through."""
        coarse.settle()
        self.used, self.gain = coarse._begin(), coarse.gain

    def settle(self) -> Array:
        """Step through all days until no more than `FEW` do not follow from those before; which these are (lane,)."""
        self.course, self.end = self._stepped(np.arange(len(self.used.soc)), self.used)
        spent = (self.end.stage == FLOAT) | (self.end.soc >= SOC_FULL) | self.end.cut
        self.gain = np.where(spent, 0.0, self.gain)
        for number in range(ROUNDS + 1):
            begin = self._begin()
            moved = np.flatnonzero(_unlike(begin, self.used, self.met))
            if moved.size <= FEW or number == ROUNDS:
                break
            self._again(moved, begin.lanes(moved))
        return moved

    def follow(self, lanes: Array, walks: Sequence[Walk]) -> None:
        """Step plainly through these days, and those after each until one begins as it did."""
        plain: dict[int, PlainDays] = {}
        for lane in lanes.tolist():
            number = lane // self.days
            walk = plain[number] = plain.get(number) or PlainDays(walks[number])
            for other in range(lane, (number + 1) * self.days):
                begin, here = self._after(other), np.array([other])
                if not _unlike(begin, self.used.lanes(here), self.met)[0] and other > lane:
                    break
                course, end = walk.day(begin, other % self.days, len(self.given.p_load))
                self._write(here, begin, end, course)

    def _after(self, lane: int) -> States:
        """Where a day begins as the one before it ends (1,)."""
        if lane % self.days == 0:
            return self.first.lanes(np.array([lane // self.days]))
        return self.end.lanes(np.array([lane - 1]))

    def _begin(self) -> States:
        """Where each day begins by the ends of the days before."""
        each = [np.roll(values, 1, axis=-1) for values in _fields(self.end)]
        for values, first in zip(each, _fields(self.first), strict=True):
            values[..., :: self.days] = first
        soc = self._chained()
        return replace(States(*each), soc=soc, rest=self.bank.v_rest(soc))

    def _chained(self) -> Array:
        """The charge at the start of every day: each day's end, moved by what it owes to its own start."""
        found, flat = [], self.bank.store.soc_flat
        lanes = (each.reshape(-1, self.days).tolist() for each in (self.used.soc, self.end.soc, self.gain))
        for first, *walk in zip(self.first.soc.tolist(), *lanes, strict=True):
            charge = first
            for used, end, gain in zip(*walk, strict=True):
                found.append(charge)
                charge = min(max(end + gain * (charge - used), flat), 1.0)
        return np.array(found)

    def _again(self, lanes: Array, begin: States) -> None:
        """Step through some of the days again from other starts."""
        course, end = self._stepped(lanes, begin)
        away = begin.soc - self.used.soc[lanes]
        told = np.abs(away) > SAME_START
        owed = (end.soc - self.end.soc[lanes]) / np.where(told, away, 1.0)
        self.gain[lanes] = np.where(told, np.clip(owed, 0.0, 2.0), self.gain[lanes])
        self._write(lanes, begin, end, course)

    def _write(self, lanes: Array, begin: States, end: States, course: States) -> None:
        """Keep how some days went."""
        for whole, some in ((self.used, begin), (self.end, end), (self.course, course)):
            for mine, theirs in zip(_fields(whole), _fields(some), strict=True):
                mine[..., lanes] = theirs

    def _stepped(self, lanes: Array, begin: States) -> tuple[States, States]:
        """States at the start of every step of some days, and at their ends."""
        given = self.given if len(lanes) == len(self.used.soc) else self.given.lanes(lanes)
        course, state = [], begin
        for now in _moments(given):
            course.append(state)
            state = self.bank.stepped(state, now)
        return States.joined(course), States(*(each.copy() for each in _fields(state)))


class PlainDays:
    """Days of a walk stepped through one moment after another, as `time_stepping` does."""

    def __init__(self, walk: Walk) -> None:
        self.walk, self.probe = walk, copy(walk.stepper)
        self.probe.charge, self.probe.guards = copy(walk.stepper.charge), deepcopy(walk.stepper.guards)

    def day(self, begin: States, number: int, steps: int) -> tuple[States, States]:
        """States at the start of every step of a day (.., step, 1), and at its end (.., 1)."""
        rows = slice(number * steps, (number + 1) * steps)
        asked, charge = self.walk.p_load[rows].tolist(), self.probe.charge
        refused = {name: [0.0] * steps for name in REFUSALS}
        offers, feeds = self._standing(begin, rows), [feed.over(rows) for feed in self.walk.feeds]
        parts = self.probe.parts(self.walk.p_load[rows], feeds, lit_at(self.walk.sources)[rows]).tolist()
        course = []
        for m in range(steps):
            course.append((*charge.state, charge.v, [offer.awake for offer in offers]))
            if m < len(asked):
                self._feel(rows.start + m)
                self.probe.step(m, asked[m], offers, feeds, refused, parts[m])
        course.append((*charge.state, charge.v, [offer.awake for offer in offers]))
        *columns, awake = zip(*course, strict=True)
        soc, rest, stage, held_h, cut, v = (np.array(each)[:, None] for each in columns)
        whole = States(soc, rest, v, held_h, stage, cut, np.array(awake).T[:, :, None])
        return whole.steps(slice(0, steps)), whole.steps(steps)

    def _standing(self, begin: States, rows: slice) -> list[CircuitLookup]:
        """The day's circuits, with battery and controllers where it begins."""
        charge = self.probe.charge
        charge.soc, charge.rest, charge.v, charge.held_h = (
            float(each[0]) for each in (begin.soc, begin.rest, begin.v, begin.held_h)
        )
        charge.stage, charge.cut = int(begin.stage[0]), bool(begin.cut[0])
        self.probe.plugged = bool(self.walk.gives[rows.start - 1]) if rows.start else self.walk.stepper.plugged
        today = [
            replace(source, v_oc=source.v_oc[rows], offered=source.offered[:, rows]) for source in self.walk.sources
        ]
        each = zip(today, self.probe.guards, begin.awake[:, 0].tolist(), strict=True)
        return [CircuitLookup(*one) for one in each]

    def _feel(self, m: int) -> None:
        """How warm it is at a moment of the walk, and what frost stops."""
        warmth, charge = self.walk.warmth, self.probe.charge
        charge.temp, charge.locked = float(warmth.temp[m]), bool(warmth.locked[m])
        for guard, stopped in zip(self.probe.guards, warmth.stopped[:, m].tolist(), strict=True):
            guard.stopped = stopped


def _fields(states: States) -> list[Array]:
    """The arrays of states."""
    return [getattr(states, name) for name in States.__dataclass_fields__]


def _moments(given: Given) -> list[Given]:
    """Each step by itself."""
    return [Given(*each) for each in zip(*(getattr(given, name) for name in Given.__dataclass_fields__), strict=True)]


def _unlike(one: States, other: States, met: float) -> Array:
    """Lanes whose states differ (lane,)."""
    alike = (one.stage == other.stage) & (one.cut == other.cut) & (one.awake == other.awake).all(axis=0)
    return ~alike | (np.abs(one.soc - other.soc) > met) | (np.abs(one.held_h - other.held_h) > met)


@dataclass(frozen=True, eq=False)
class Record:
    """What happened over a whole run, as the plain simulation writes it down moment by moment.

    Parameters
    ----------
    awake : ndarray of bool (circuit, moment)
        Which controllers charge.
    volts : ndarray (moment,)
        Battery volts that the controllers met. [V]
    refused : dict of str to ndarray (moment,)
        Power not taken, by the names in `REFUSALS`. [W]
    """

    awake: Array
    volts: Array
    refused: dict[str, Array]


def recorded(walk: Walk, begin: States) -> Record:
    """Every moment worked out from its start, and written into the stepper's rows."""
    bank, given, warmth = walk.bank, walk.given(), walk.warmth
    rows = walk.stepper.rows.only(slice(len(walk.p_load)))
    state, offers, volts = bank.offers(begin, given)
    refused = {name: np.zeros_like(walk.p_load) for name in REFUSALS}
    rows.p_offered[:], rows.p_load[:] = offers.free + _or_zero(offers.idle) + _or_zero(offers.shut), walk.p_load
    for pace, parts, here in bank.paces(given.parts):
        for name, values in _sums(pace, parts, state.lanes(here), given.lanes(here), offers.lanes(here)).items():
            (refused[name] if name in refused else getattr(rows, name))[here] = values
    rows.full[:], rows.temp_battery[:] = (rows.soc >= SOC_FULL) | (rows.stage == FLOAT), warmth.temp
    rows.stage[warmth.stopped.all(axis=0) | warmth.locked] = COLD
    if offers.others is not None:
        walk.stepper.share_out(0, offers.others)
    return Record(state.awake, volts, refused)


def _sums(bank: Bank, parts: int, state: States, given: Given, offers: Offers) -> dict[str, Array]:
    """Means over some moments that take as many steps, and how they end, by the names of rows and refusals."""
    total: dict[str, Array] = {}
    for _ in range(parts):
        state, move = bank.moved(state, given, offers)
        by_others = _by_others(offers, move)
        each = {
            "p_used": move.taken - by_others, "p_served": move.served, "p_fed": by_others,
            "p_lost": move.lost_wh / bank.hours, **_refused(offers, move, state.stage, given.locked),
        }  # fmt: skip
        total = {name: total[name] + watts if total else watts for name, watts in each.items()}
    ends = {"soc": state.soc, "v_battery": move.v, "stage": state.stage, "flat": state.cut}
    return {name: watts / parts for name, watts in total.items()} | ends


def _by_others(offers: Offers, move: Move) -> Array:
    """What other sources gave of the watts that were taken: their share of all that charges. [W]"""
    if offers.others is None:
        return np.zeros_like(move.taken)
    return offers.share * (move.taken - np.minimum(_or_zero(offers.idle), move.served))


def _or_zero(watts: Array | None) -> Array | float:
    """Watts, none where there are none. [W]"""
    return 0.0 if watts is None else watts


def _refused(offers: Offers, move: Move, stage: Array, locked: Array) -> dict[str, Array]:
    """Power that was not taken, by its reason."""
    idle, left = _or_zero(offers.idle), move.left
    if offers.others is not None:
        left = left * (1.0 - offers.share)
    full = ~locked & ((stage == ABSORPTION) | (stage == FLOAT))
    return {
        "battery full": np.where(full, left, 0.0),
        "battery cold": idle - np.minimum(idle, move.served) + np.where(locked, left, 0.0),
        "controller cold": _or_zero(offers.shut) + np.zeros_like(left),
        "battery limit": np.where(~locked & (stage == BULK), left, 0.0),
    }


@dataclass(frozen=True, eq=False)
class Stretch:
    """Some moments of a run: which, its sun and circuits' tables, loads, air, the day of each, and other sources."""

    rows: slice
    sun: Sun
    sources: Sequence[CircuitTable]
    p_load: Array
    temp: Array
    day: Array
    feeds: Sequence[Feed] = ()


Runs = Sequence[tuple[Stepper, Sequence[Stretch]]]


def walk_plainly(runs: Runs) -> None:
    """Step rigs through their stretches, one moment after another."""
    for stepper, stretches in runs:
        for each in stretches:
            stepper.over(each.rows.start, each.sun, each.sources, each.p_load, each.temp, each.day, each.feeds)


def walk_abreast(runs: Runs) -> None:
    """Step rigs through their stretches, all days abreast; rigs with the same battery together."""
    known: dict[tuple[object, ...], Warmth] = {}
    walks = [(_walk_of(stepper, made, known), made) for stepper, made in runs]
    for kind in dict.fromkeys(walk.kind for walk, _ in walks):
        alike = [(walk, made) for walk, made in walks if walk.kind == kind]
        steps = max(round(24 / alike[0][0].stepper.step_h), 1)
        found = starts([walk for walk, _ in alike], steps)
        for (walk, made), (begin, end) in zip(alike, found, strict=True):
            _write(walk, recorded(walk, begin), made)
            walk.leave(end)


def _walk_of(stepper: Stepper, stretches: Sequence[Stretch], known: dict[tuple[object, ...], Warmth]) -> Walk:
    """The whole run of a rig; the warmth of one with the same battery and controllers is known already."""
    p_load, temp = (np.concatenate([getattr(each, name) for each in stretches]) for name in ("p_load", "temp"))
    tables = zip(*(each.sources for each in stretches), strict=True)
    sources = [
        replace(
            own[0],
            v_oc=np.concatenate([table.v_oc for table in own]),
            offered=np.concatenate([table.offered for table in own], axis=1),
        )
        for own in tables
    ]
    feeds = [
        Feed(own[0].name, *(np.concatenate([getattr(each, what) for each in own]) for what in ("watts", "amps")))
        for own in zip(*(each.feeds for each in stretches), strict=True)
    ]
    charge, guards = stepper.charge, [(g.cutoff, g.release, g.stopped) for g in stepper.guards]
    key = (stepper.store, charge.temp, charge.locked, *guards)
    if key not in known:
        known[key] = warmth_of(stepper, temp)
    return Walk(stepper, sources, p_load, feeds, known[key])


def _write(walk: Walk, happened: Record, stretches: Sequence[Stretch]) -> None:
    """Book what happened, stretch by stretch."""
    for each in stretches:
        here = each.rows
        refused = {name: watts[here] for name, watts in happened.refused.items()}
        walk.stepper.book(
            here.start, each.sun, each.sources, happened.awake[:, here], happened.volts[here], refused, each.day
        )
