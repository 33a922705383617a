"""What to change first: more or bigger panels, other volts, cable, tilt, a box moved, a second controller, or plugs.

Each change is the whole rig once more, checked and compared over the same days. Prices are typed by whoever asks;
without one a change is ranked by what it brings and its price is told to be missing, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from vanpower.checks.coldest import planned_for
from vanpower.checks.glance import reason, subject
from vanpower.checks.plugs_and_isolator import touch_cautions
from vanpower.checks.registry import burning, check, shortfalls
from vanpower.checks.volts import cold_ceiling, start_volts
from vanpower.components.cables.resistance import TO_BUY
from vanpower.model.light import Progress
from vanpower.results.numbers import ALIKE, apart, known
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Days, Rig, possible
from vanpower.simulation.run import whole_day
from vanpower.studies.comparison import compare
from vanpower.studies.ranking import choice_of
from vanpower.weather.days import find_day
from vanpower.weather.planes import SOUTH, south_of_equator

AIMS = {"wh": "Wh a day", "volts": "V below the ceiling", "safety": "checks in order"}
# what the next step is wanted for, and what it is counted in
NOW = "as it is"
BIGGER = 1.25
# times the amps of a bigger panel of the same volts; no source
TILT = 20.0
# [°] to which flat panels are tilted, towards the noon sun; common practice, no source
MOST_FIXTURES = 6
# on the roof that are tried in turn
LEAST = {"wh": 0.5, "volts": 0.05, "safety": 0.5}
# of each aim, below which nothing is gained


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing that could be changed: its key for prices, its name, the rig then, and what it brings.

    Parameters
    ----------
    key, name : str
    rig : Rig
    refused : str
        Why it may not be connected; empty where it may.
    wh_day, v_left, ok : float
        What it delivers on an average day, what is left below the ceiling, and how many checks are in order, as a
        difference to the rig as it is. [Wh, V, -]
    price : float, optional
        As typed; None where nobody did, 0 for plugs alone.
    circuit : int, optional
        The controller whose panels or parts it changes, counted from 0; None for what all share.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> found = next_changes(example("puppet-stage"), Days(day="dull"))
    >>> [change.key for change in found.changes][:2]
    ['plugs', 'plugs']
    """

    key: str
    name: str
    rig: Rig
    refused: str
    wh_day: float
    v_left: float
    ok: float
    price: float | None
    circuit: int | None = None

    def gain(self, aim: str) -> float:
        """What it brings of an aim."""
        return {"wh": self.wh_day, "volts": self.v_left, "safety": self.ok}[aim]

    def per_money(self, aim: str) -> float | None:
        """What it brings for each unit of money; None without a price, endless where it is free."""
        if self.price is None:
            return None
        return self.gain(aim) / self.price if self.price else float("inf")


@dataclass(frozen=True, eq=False, repr=False)
class NextChanges(Result):
    """Result of `next_changes`: what could be changed, the best first.

    Parameters
    ----------
    rig : Rig
    aim, title : str
    wh_now : float
        What it delivers as it is. [Wh a day]
    changes : tuple of Change
    refused : str
        Why it may not stay as it is; empty where it may.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> next_changes(example("bookmobile"), Days(day="dull"), {"panel": 90}).table().rows[0][0]
    'one more panel, 3p'
    """

    rig: Rig
    aim: str
    title: str
    wh_now: float
    changes: tuple[Change, ...]
    refused: str = ""

    @property
    def worth(self) -> list[Change]:
        """Changes that may be connected and bring something, the best for its money first, those without price last.

        Where the rig may not stay as it is, all that make it one that may. What then falls short comes last of all.
        """
        least = max(LEAST[self.aim], ALIKE * self.wh_now if self.aim == "wh" else 0.0)
        good = [one for one in self.changes if not one.refused and (self.refused or one.gain(self.aim) > least)]
        per = {one.name: one.per_money(self.aim) or one.gain(self.aim) for one in good}
        return sorted(good, key=lambda one: (self.falls(one), one.price is None, -per[one.name]))

    def falls(self, one: Change) -> bool:
        """Whether the rig falls short of something after a change that it does not fall short of as it is.

        Examples
        --------
        >>> from vanpower import Days, example
        >>> found = next_changes(example("bookmobile"), Days(day="dull"))
        >>> [found.falls(one) for one in found.worth]
        [False, False, False]
        """
        now, then = ({verdict.question.partition(":")[0] for verdict in shortfalls(rig)} for rig in (self.rig, one.rig))
        return not then <= now

    def table(self, what: None = None) -> Table:
        """One line a change."""
        told = [*self.worth, *(one for one in self.changes if one not in self.worth)]
        columns = (
            Column(name="change", left=True),
            Column(name="Wh a day", digits=1, said=tuple(self._more(one) for one in told)),
            Column(name="V left", digits=1),
            Column(name="checks", digits=0),
            Column(name="price"),
            Column(name="per 100", digits=1),
            Column(name="why not", left=True, alone=True),
        )
        rows = [
            (one.name, one.wh_day, one.v_left, one.ok, one.price, _hundred(one.per_money(self.aim)),
             f"may not be connected: {one.refused}" if one.refused else "")
            for one in told
        ]  # fmt: skip
        note = "(differences to the rig as it is; per 100: what 100 of your money brings of what is wanted)"
        remarks = (f"({self.rig.circuits_told})",) if len(self.rig.circuits) > 1 else ()
        return Table(columns, rows, remarks=remarks, note=note)

    @property
    def verdict(self) -> Verdict:
        """What to change first."""
        worth = self.worth
        ready: Answer = "close" if worth and (burning(worth[0].rig) or self.falls(worth[0])) else "yes"
        answer = ready if worth and not self.refused else "no"
        return Verdict(
            question=f"{self.rig.name}: what to change first for more {AIMS[self.aim]}?",
            answer=answer,
            margin=worth[0].gain(self.aim) if worth else 0.0,
            unit=AIMS[self.aim],
            sentence=self._sentence(worth),
            basis=f"{self.title}; the battery takes all of it; each change checked as a whole rig; gains under "
            f"{100 * ALIKE:g} % of energy count as none; prices as typed, none is known here",
            caution=" ".join(touch_cautions({_cap(worth[0].name): worth[0].rig})) if worth else "",
        )

    def _sentence(self, worth: list[Change]) -> str:
        """The first step, the next, and what has no price."""
        if self.refused:
            ways = ", ".join(one.name for one in worth[:3])
            mends = f"Of what was tried, this mends it: {ways}." if ways else "Nothing of what was tried mends it."
            return f"Do not leave it as it is: {self.refused} {mends}"
        if not worth:
            return f"Nothing of what was tried brings more {AIMS[self.aim]} than counts; leave it as it is."
        first, *others = worth
        said = f"{_cap(first.name)} first: {self._brings(first)}."
        said += f" Then {others[0].name}: {self._brings(others[0])}." if others else ""
        unpriced = {one.key: f"{one.name} ({one.key})" for one in reversed(worth) if one.price is None}
        alone = ", ".join(reversed(unpriced.values()))
        return said + f" Ranked by gain alone, for want of a price: {alone}." * bool(unpriced)

    def _more(self, one: Change) -> str:
        """What a change delivers more, with its sign."""
        more, less = sorted((self.wh_now + one.wh_day, self.wh_now), reverse=True)
        amount = apart(more, less)
        return f"{'' if not float(amount) else '+' if one.wh_day > 0 else '-'}{amount}"

    def _brings(self, one: Change) -> str:
        """What a change brings, and for how much."""
        if self.aim == "wh":
            gain = f"{apart(self.wh_now + one.wh_day, self.wh_now)} Wh a day more than the {known(self.wh_now)} of now"
        else:
            volts = self.aim == "volts"
            gain = f"{one.v_left:.1f} {AIMS[self.aim]} more" if volts else f"{one.ok:.0f} more of the checks in order"
        cost = "" if one.price is None else ", for nothing" if not one.price else f", for {one.price:g}"
        less = one.v_left < -0.05 and self.aim == "wh"
        refusing = f"; {-one.v_left:.1f} V less to spare below the ceiling" if less else ""
        amiss = _amiss(one.rig)
        new = [amiss[about] for about in amiss if about not in _amiss(self.rig)]
        return f"{gain}{cost}{refusing}" + (f"; then to be put right: {', '.join(new)}" if new else "")


def next_changes(
    rig: Rig, request: Days, prices: Mapping[str, float] | None = None, *, aim: str = "wh",
    progress: Progress | None = None,
) -> NextChanges:  # fmt: skip
    """What to change first on a rig: each change as a whole rig over the same days, per unit of money.

    Parameters
    ----------
    rig : Rig
    request : Days
    prices : mapping of str to float, optional
        In your own money by the keys of the changes: panel, bigger, cable, near, tilt, battery, second, move, tracker.
    aim : str
        "wh", "volts" (left below the ceiling) or "safety" (checks in order).
    progress : callable, optional
        Wraps the list of what is tried, as `tqdm.auto.tqdm` does.

    Returns
    -------
    NextChanges

    Raises
    ------
    ValueError
        For an aim or a price's key that is not there.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> next_changes(example("bookmobile"), Days(day="dull"), {"panel": 90}).verdict.sentence[:30]
    'One more panel, 3p first: 26.0'
    """
    if aim not in AIMS:
        raise ValueError(f"aim is {aim!r}; {', '.join(AIMS)} make sense.")
    known_keys = tuple(_MADE)
    strange = [key for key in prices or {} if key not in known_keys]
    if strange:
        raise ValueError(f"there is no change {strange[0]!r} to price; {', '.join(known_keys)} are tried.")
    rig = planned_for(rig, request)
    days = find_day(request.weather, request.day)
    tried = list(_tried(rig, southern=south_of_equator(days)))
    rigs = {NOW: rig} | {name: one for _, _, name, one in tried}
    comparison = compare(rigs, whole_day(request), progress=progress)
    energy = {name: comparison.outcomes[name].energy_wh / days.days for name in rigs}
    v_now, ok_now = _headroom(rig), _in_order(rig)
    costs = {"plugs": 0.0} | dict(prices or {})
    changes = []
    for key, circuit, name, one in tried:
        refused = choice_of(name, one, energy[name]).refused
        changes.append(
            Change(
                key=key,
                name=name,
                rig=one,
                refused=reason(refused) if refused else "",
                wh_day=energy[name] - energy[NOW],
                v_left=_headroom(one) - v_now,
                ok=_in_order(one) - ok_now,
                price=costs.get(key),
                circuit=circuit,
            )
        )
    stays = choice_of(NOW, rig, energy[NOW]).refused
    best = tuple(_best_of_each(changes, aim))
    return NextChanges(rig, aim, days.title, energy[NOW], best, reason(stays) if stays else "")


def _tried(rig: Rig, *, southern: bool) -> Iterator[tuple[str, int | None, str, Rig]]:
    """Every change with its key, its controller and its name; whatever hangs on one controller is tried at each."""
    for key, made in (_MADE | {"tilt": partial(_tilt, southern=southern)}).items():
        if key in SHARED or len(rig.circuits) == 1:
            yield from ((key, None, name, one) for name, one in made(rig).items())
            continue
        for circuit, _ in enumerate(rig.circuits):
            for name, one in made(rig.circuit_first(circuit)).items():
                yield key, circuit, f"{name}, at controller {circuit + 1}", one


def _best_of_each(changes: list[Change], aim: str) -> list[Change]:
    """All re-plugged wirings, and of other changes the wiring that brings most among those allowed."""
    found: list[Change] = [one for one in changes if one.key in ("plugs", "move")]
    for kind in dict.fromkeys((one.key, one.circuit) for one in changes if one.key not in ("plugs", "move")):
        own = [one for one in changes if (one.key, one.circuit) == kind]
        found.append(max(own, key=lambda one: (not one.refused, one.gain(aim))))
    return found


def _headroom(rig: Rig) -> float:
    """Least volts left below the ceiling of any circuit. [V]"""
    return min(cold_ceiling(rig, circuit).margin for circuit in rig.circuits)


def _in_order(rig: Rig) -> int:
    """How many checks are in order, less those that are a no; so that a rig with more of them is no safer for it."""
    return -sum(verdict.sign in ("no", "check") for verdict in check(rig))


def _amiss(rig: Rig) -> dict[tuple[str, ...], str]:
    """Checks that are a no or to be checked, in words, by what they are about and of which panels, however joined."""
    said = [subject(verdict, inside=True) for verdict in check(rig) if verdict.sign in ("no", "check")]
    return {(one.partition(",")[0], *sorted(re.findall(r"P\d+", one))): one for one in said}


def _plugs(rig: Rig) -> dict[str, Rig]:
    """The same parts in another wiring."""
    here = rig.circuits[0].wiring.name
    return {f"re-plugged to {way}": one for way, one in rig.wirings().items() if way != here}


def _panel(rig: Rig) -> dict[str, Rig]:
    """One more panel like the last."""
    return {f"one more panel, {way}": one for way, one in rig.with_one_more_panel().wirings().items()}


def _bigger(rig: Rig) -> dict[str, Rig]:
    """Panels of a quarter more amps at the same volts, where there can be such."""

    def bigger() -> Rig:
        made = [replace(one, i_sc=BIGGER * one.i_sc, i_mp=BIGGER * one.i_mp, p_label=None) for one in rig.panels]
        return rig.with_panels(*made)

    made = possible(bigger)
    return {"panels of a quarter more watts": made} if made else {}


def _cable(rig: Rig) -> dict[str, Rig]:
    """The next section of roof cable."""
    cable = rig.circuits[0].cable
    wider = [section for section in TO_BUY if section > cable.section_mm2]
    if not cable.length_m or not wider:
        return {}
    return {f"roof cable of {wider[0]:g} mm²": rig.with_cable(section_mm2=wider[0], circuit=0)}


def _near(rig: Rig) -> dict[str, Rig]:
    """The controller moved, so that half the roof cable is left."""
    length = rig.circuits[0].cable.length_m
    return {"half the roof cable": rig.with_cable(length_m=0.5 * length, circuit=0)} if length else {}


def _tilt(rig: Rig, *, southern: bool = False) -> dict[str, Rig]:
    """Flat panels tilted towards the noon sun; panels with a place on a roof lie flat on it."""
    if rig.roof is not None or any(panel.tilt_deg for panel in rig.panels):
        return {}
    towards, azimuth = ("north", 0.0) if southern else ("south", SOUTH)
    return {f"tilted by {TILT:g}° to the {towards}": rig.with_panels(tilt_deg=TILT, azimuth_deg=azimuth, mount="open")}


def _battery(rig: Rig) -> dict[str, Rig]:
    """The same watt-hours at twice the volts."""
    battery = rig.battery
    if battery.v_nominal > 24:
        return {}
    twice = battery.changed(
        v_nominal=2 * battery.v_nominal, v_now=2 * battery.v_now, v_absorption=2 * battery.v_absorption,
        v_float=None if battery.v_float is None else 2 * battery.v_float,
        cells=None if battery.cells is None else 2 * battery.cells,
        capacity_ah=None if battery.capacity_ah is None else max(0.5 * battery.capacity_ah, 1.0),
    )  # fmt: skip
    changed = rig.with_battery(twice)
    for circuit, _ in enumerate(rig.circuits[1:], 1):
        ways = changed.wirings(circuit=circuit).values()
        changed = next((one for one in ways if _fits(one, one.circuits[circuit])), changed)
    return {f"{twice.v_nominal:g} V battery, {one.wiring_name}": one for one in changed.wirings().values()}


def _fits(rig: Rig, circuit: Circuit) -> bool:
    """Whether a circuit stays under its ceiling and wakes."""
    return all(ask(rig, circuit).answer != "no" for ask in (cold_ceiling, start_volts))


def _second(rig: Rig) -> dict[str, Rig]:
    """A controller like the first for each panel of its circuit."""
    apart_ = rig.wirings(apart=True).get("apart")
    return {"a controller for each panel": apart_} if apart_ is not None else {}


def _move(rig: Rig) -> dict[str, Rig]:
    """Each of the highest things on the roof out of the way."""
    if rig.roof is None:
        return {}
    high = sorted((one for one in rig.roof.fixtures if not one.on_ground), key=lambda one: -one.high_m)[:MOST_FIXTURES]
    return {
        f"{one.name} out of the way": rig.changed(
            roof=rig.roof.changed(fixtures=tuple(other for other in rig.roof.fixtures if other is not one))
        )
        for one in high
    }


def _tracker(rig: Rig) -> dict[str, Rig]:
    """A tracker that looks over the whole curve."""
    if rig.circuits[0].controller.tracker == "sweep":
        return {}
    return {"a tracker that sweeps": rig.with_controller(tracker="sweep", circuit=0)}


_MADE: dict[str, Callable[[Rig], dict[str, Rig]]] = {
    "plugs": _plugs, "panel": _panel, "bigger": _bigger, "cable": _cable, "near": _near, "tilt": _tilt,
    "battery": _battery, "second": _second, "move": _move, "tracker": _tracker,
}  # fmt: skip
# what is tried, by its key
SHARED = ("bigger", "tilt", "battery", "move")
# keys of what is changed once for all controllers


def _hundred(per: float | None) -> float | None:
    """What 100 of money brings; none where it is free or has no price."""
    return None if per is None or per == float("inf") else 100.0 * per


def _cap(words: str) -> str:
    """With a capital."""
    return words[:1].upper() + words[1:]
