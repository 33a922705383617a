"""Energy lost because of frost: what stops the charge, when it charges again, and what a heated battery gains."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from vanpower.components.batteries import BatteryModel, filled_battery
from vanpower.components.controllers import cold_marks
from vanpower.results.numbers import SHOWN_WH, watt_hours
from vanpower.rig import Battery, Request, Rig, Snapshot
from vanpower.weather.days import day_of

if TYPE_CHECKING:
    from vanpower.simulation.run import Run

COLD_STEPS = ("battery cold", "controller cold")
# steps of the ladder that a warmer battery would not have
TEMP_BATTERY = "temp_battery"
# column of an own file: the battery's temperature as measured, which stands in for that of the air
ANY_AH = 100.0
# [Ah] where a file has no capacity: the marks of frost do not depend on it
LOCKED = "The battery is locked out by frost; do not defeat the cut-off, warm the battery."
UNGUARDED = (
    "Nothing in the file keeps the battery from being charged in frost, which destroys lithium cells: fit a cold "
    "cut-off, or stop the charge by hand and warm the battery."
)
UNCOUNTED = "What warms the locker is not counted: the cabin's heat costs nothing, a mat draws from the same battery."


@dataclass(frozen=True, kw_only=True)
class WarmLocker:
    """The energy of the same days with the battery kept warm.

    Parameters
    ----------
    name : str
        Of the rig in its run.
    temp : float
        The battery is never colder. [°C]
    wh_used, wh_warm : float
        What loads and battery take as it is, and with the battery warm. [Wh]

    Examples
    --------
    >>> print(WarmLocker(name="2s", temp=3.0, wh_used=160.0, wh_warm=700.0).sentence.partition(". ")[0])
    The same with the battery kept at 3 °C or above: 2s delivers 540 Wh more to battery and loads than its 160 Wh
    """

    name: str
    temp: float
    wh_used: float
    wh_warm: float

    @property
    def sentence(self) -> str:
        """What it delivers, in words."""
        more = self.wh_warm - self.wh_used
        if more < SHOWN_WH:
            return f"The same with the battery kept at {self.temp:g} °C or above: {self.name} delivers no more."
        gain = f"{watt_hours(more)} more to battery and loads than its {watt_hours(self.wh_used)}"
        return f"The same with the battery kept at {self.temp:g} °C or above: {self.name} delivers {gain}. {UNCOUNTED}"


def warm_locker(run: Run, name: str, temp: float | None = None) -> WarmLocker | None:
    """The run of one rig with its battery kept warm; None where frost cost nothing and no temperature is asked for.

    Parameters
    ----------
    run : Run
        A whole one.
    name : str
        Of the rig.
    temp : float, optional
        The battery is never colder; None is where charging begins again. [°C]

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate({"2p": example("bookmobile")}, Days(weather="sand-point", day="01-28"))
    >>> warmed = warm_locker(run, "2p")
    >>> warmed.temp, warmed.wh_warm > warmed.wh_used
    (3.0, True)
    """
    from vanpower.simulation.run import simulate

    steps = run.ladder().steps[name]
    if temp is None and sum(steps[step] for step in COLD_STEPS) < SHOWN_WH:
        return None
    outcome = run.outcomes[name]
    kept = marks(outcome.rig, outcome.store)[1] if temp is None else temp
    again = simulate({name: outcome.rig.with_battery(temp_heated=kept)}, run.request)
    return WarmLocker(name=name, temp=kept, wh_used=run.used_wh(name), wh_warm=again.used_wh(name))


def marks(rig: Rig, store: BatteryModel) -> tuple[float, float]:
    """Battery temperatures below which battery or a controller stops the charge, and from which none does. [°C]

    Minus infinity where nothing ever stops it.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.components.batteries import filled_battery
    >>> rig = example("bookmobile")
    >>> marks(rig, filled_battery(rig.battery))
    (0.0, 3.0)
    """
    both = [(store.temp_lockout, store.temp_release), *(cold_marks(circuit.controller) for circuit in rig.circuits)]
    return max(cut for cut, _ in both), max(release for _, release in both)


def frost_said(rig: Rig, store: BatteryModel, lost_wh: float, *, measured: bool = False) -> list[str]:
    """A sentence: how cold the battery is assumed to be, what stops its charge, and the energy that this costs.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.components.batteries import filled_battery
    >>> rig = example("bookmobile")
    >>> frost_said(rig, filled_battery(rig.battery), 0.0)
    []
    """
    if lost_wh < SHOWN_WH:
        return []
    return [f"{_takes_nothing(rig, store, measured)}, which leaves {watt_hours(lost_wh)} on the roof", _who(rig)]


def frost_uncounted(rig: Rig, request: Request) -> list[str]:
    """A warning for comparisons, whose battery always charges, on a day that is too cold for that; empty else.

    A moment has no air and says nothing, unless its cells are as cold.

    Examples
    --------
    >>> from vanpower import Days, Snapshot, example
    >>> rig = example("bookmobile")
    >>> said, who = frost_uncounted(rig, Days(weather="sand-point", day="01-28"))
    >>> said.rpartition('; ')[2], who[:20]
    ('vanpower day and vanpower year count it', 'the cold cut-off of ')
    >>> frost_uncounted(rig, Snapshot(light=800, temp_cell=45))
    []
    """
    store, measured = _of_any_size(rig.battery), False
    if isinstance(request, Snapshot):
        air, what = request.temp_cell, "its cells are"
    else:
        table = day_of(request).table
        measured = TEMP_BATTERY in table
        air = float(table[TEMP_BATTERY if measured else "temp_air"].min())
        what = f"the {'battery' if measured else 'air'} falls to"
    place = air if measured else max(air + store.temp_offset, store.temp_heated)
    if place >= marks(rig, store)[0]:
        return []
    counted = f"which is not counted here though {what} {air:.0f} °C; vanpower day and vanpower year count it"
    return [f"{_takes_nothing(rig, store, measured)}, {counted}", _who(rig)]


@lru_cache(maxsize=64)
def _of_any_size(battery: Battery) -> BatteryModel:
    """The battery's model, of some size where the file names none, since its temperatures do not depend on it."""
    return filled_battery(battery.changed(capacity_ah=battery.capacity_ah or ANY_AH))


def _takes_nothing(rig: Rig, store: BatteryModel, measured: bool) -> str:
    """How cold the battery is taken to be, and below what it is not charged."""
    warmer = f"{store.temp_offset:g} K warmer than" if store.temp_offset else "as cold as"
    place = "is as cold as was measured (temp_battery)" if measured else f"lies {warmer} the air (temp_offset)"
    cut, release = marks(rig, store)
    return f"the battery {place} and takes nothing below {cut:g} °C until it is at {release:g} °C again"


def frost_caution(rig: Rig) -> str:
    """What to be careful of where frost stops a charge; empty for lead-acid, which frost does not harm so.

    Examples
    --------
    >>> from vanpower import example
    >>> frost_caution(example("bookmobile")) == LOCKED
    True
    """
    if not rig.battery.is_lithium:
        return ""
    stopped = rig.battery.temp_lockout is not None or all(circuit.controller.cold_cutoff for circuit in rig.circuits)
    return LOCKED if stopped else UNGUARDED


def _who(rig: Rig) -> str:
    """What stops the charge in frost, by what the file says."""
    battery, cuts = rig.battery, [circuit.controller.cold_cutoff for circuit in rig.circuits]
    shut = _those(circuit.controller.name for circuit in rig.circuits if not circuit.controller.cold_feeds_loads)
    down = f"; {shut} shuts down altogether then, loads and all" if shut and any(cuts) else ""
    if battery.temp_lockout is not None:
        return f"the battery stops it by itself (temp_lockout){down}"
    if all(cuts):
        needless = "" if battery.is_lithium else ", which lead-acid does not need"
        return f"the cold cut-off of {_controllers(rig)} stops it{needless}{down}"
    if not battery.is_lithium:
        return f"the cold cut-off of a controller stops it, which lead-acid does not need{down}"
    word = "nothing in the file stops it (cold_cutoff = false)" if False in cuts else "what stops it is not in the file"
    return f"{word}: a charge that would harm the battery is not counted{down}"


def _controllers(rig: Rig) -> str:
    """The controllers by name."""
    return _those(circuit.controller.name for circuit in rig.circuits)


def _those(names: Iterable[str]) -> str:
    """Names, each once."""
    return ", ".join(dict.fromkeys(names))
