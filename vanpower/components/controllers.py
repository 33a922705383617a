"""Where a charge controller operates on an array's curve, what it puts into the battery, and what limits it.

Left out: the seconds in which a tracker searches, and charge stages.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from vanpower.engine.array import PVArray
from vanpower.engine.even_array import EvenArray
from vanpower.engine.maxima import Maxima, same_hill, take_rows
from vanpower.rig import Controller

Array = np.ndarray
Place = tuple[Array, Array]
AnyArray = PVArray | EvenArray
Tracker = Callable[[AnyArray, Maxima, Array], Place]

DARK, ASLEEP, BEST, WINDOW, LOWER_HILL, TIED, OWN_DRAW, CLIPPED, CEILING, INSIDE_HILL = range(10)
HELD = (
    "dark: no power to be had",
    "asleep: open-circuit volts have not reached battery volts plus the start margin",
    "at the best point of the array",
    "held at the lower edge of its window: the best point lies below battery volts plus the hold margin",
    "on a lower hill: a higher one lies further down in voltage, and this tracker does not look for it",
    "tied to the battery's volts by a plain switch",
    "awake for nothing: its own draw takes all the array gives",
    "clipped: the charge current limit leaves the rest on the roof",
    "over the ceiling: open-circuit volts are above what the input survives",
    "on the best hill inside its window: a higher one lies below battery volts plus the hold margin",
)
# what holds a controller where it is, in words
RESTART = (
    "The restart test, in steady light: note panel volts and watts, switch the controller off and on by its own switch "
    "or setting, wait a minute, note them again."
)
BY_SWITCH = (
    "Restart by the controller's own switch, never by pulling a plug under load: DC arcs hold. "
    "Battery first, panel last."
)
# how a tracker is made to look for its hill anew
V_DARK = 0.1
# [V] open-circuit volts under which there is no light at all; a table of long strings errs by some mV there, no source

TEMP_COLD_CUTOFF, COLD_GAP = 0.0, 3.0
# [°C, K] battery temperature below which a cold cut-off stops the charge: makers of lithium iron phosphate (a cell
# handling guide, secondary copy); how much warmer it must be to charge again: no source


@dataclass(frozen=True, eq=False)
class Operation:
    """Operating point of a controller at every moment, and where the power goes; all fields (moment,).

    Parameters
    ----------
    v_array, i_array : ndarray
        At the controller's terminals. [V, A]
    v_oc : ndarray
        Open-circuit volts of the array. [V]
    p_best : ndarray
        Global maximum of the array's power at its terminals, whether it can be used or not. [W]
    i_best : ndarray
        Amps at that maximum. [A]
    p_array : ndarray
        What the tracker would take there if the battery side took it all. [W]
    p_converter, p_own, p_clipped : ndarray
        Lost in conversion, used by the controller itself, and left on the roof by the current limit. [W]
    p_battery : ndarray
        Into the battery. [W]
    held_by : ndarray of int
        Index into `HELD`.
    placed_by : ndarray of int
        The same, before the current limit or the own draw has its say: why p_array is not p_best.
    awake : ndarray of bool
        Whether it charges or would, which it remembers from one moment to the next.
    """

    v_array: Array
    i_array: Array
    v_oc: Array
    p_best: Array
    i_best: Array
    p_array: Array
    p_converter: Array
    p_own: Array
    p_clipped: Array
    p_battery: Array
    held_by: Array
    placed_by: Array
    awake: Array

    @property
    def words(self) -> list[str]:
        """What limited the controller, a phrase for each moment."""
        return [HELD[code] for code in self.held_by]


def operate(array: AnyArray, controller: Controller, v_battery: float | Array, *, awake: bool = False) -> Operation:
    """Where a charge controller operates on an array's curve at each moment, and what it puts into the battery.

    Parameters
    ----------
    array : PVArray or EvenArray
        Up to the controller's terminals; for a bare curve, `PVArray.of_curve(curve)`.
    controller : Controller
    v_battery : float or ndarray (moment,)
        Battery voltage. [V]
    awake : bool
        Whether the controller was charging before the first moment.

    Returns
    -------
    Operation
        Volts, amps, watts and losses (moment,), and what limited the controller.

    Notes
    -----
    Power into the battery is P (1 - fixed - ratio (V/V_battery - 1)) - own, limited to the charge current.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> rig = example("bookmobile")
    >>> array = array_of(rig, Snapshot(light=1000, temp_cell=25))
    >>> bool(operate(array, rig.circuits[0].controller, 13.3).p_battery[0] > 200)
    True
    """
    top, (v_best, i_best, p_best) = array.peaks
    v_batt, v_oc = np.broadcast_to(np.asarray(v_battery, float), v_best.shape), array.v_oc
    floor = v_batt + margins(controller)[1]
    volts, held = TRACKERS[controller.tracker](array, top, floor)
    on, over = _awake(v_oc, v_batt, controller, awake), v_oc > controller.v_pv_max
    works = on & ~over
    # a near tie that turns round on a closer look is another hill: a sweep follows it while it lies inside the window
    other_hill = ~same_hill(v_best, volts)
    elsewhere = works & ((held != BEST) | (other_hill & ((v_best < floor) | (controller.tracker != "sweep"))))
    v, i, p = v_best.copy(), i_best.copy(), p_best.copy()
    if elsewhere.any():
        on_hill = np.isin(held, (BEST, LOWER_HILL, INSIDE_HILL))[elsewhere]
        v[elsewhere], i[elsewhere], p[elsewhere] = array.rows(elsewhere).point(volts[elsewhere], on_hill)
    p_best = np.maximum(p_best, p)
    held = np.where(on, held, np.where(v_oc > V_DARK, ASLEEP, DARK))
    held = np.where(over, CEILING, held)
    return _booked(controller, v_batt, v_oc, (v, i, np.where(works, p, 0.0)), (i_best, p_best), held, on, array)


def weakened(operation: Operation, share: Array) -> Operation:
    """The same with panels that give a share of their watts: own draw and current limit stay, the volts as well.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.model.light import array_of
    >>> rig = example("bookmobile")
    >>> full = operate(array_of(rig, Snapshot(light=100, temp_cell=25)), rig.circuits[0].controller, 13.3)
    >>> less = weakened(full, np.array([0.9]))
    >>> round(float((less.p_battery + less.p_own)[0] / (full.p_battery + full.p_own)[0]), 6)
    0.9
    """
    into = operation.p_own + operation.p_battery
    arrives = share * (into + operation.p_clipped)
    p_own = np.minimum(operation.p_own, arrives)
    p_battery = np.where(operation.p_clipped > 0, np.minimum(arrives - p_own, operation.p_battery), arrives - p_own)
    p_clipped = arrives - p_own - p_battery
    held = np.where((operation.held_by == CLIPPED) & (p_clipped <= 0), operation.placed_by, operation.held_by)
    held = np.where((operation.p_battery > 0) & (p_battery <= 0), OWN_DRAW, held)
    return replace(
        operation, i_array=operation.i_array * np.where(into > 0, (p_own + p_battery) / np.maximum(into, 1e-12), share),
        p_best=share * operation.p_best, i_best=share * operation.i_best, p_array=share * operation.p_array,
        p_converter=share * operation.p_converter, p_own=p_own, p_clipped=p_clipped, p_battery=p_battery, held_by=held,
    )  # fmt: skip


def margins(controller: Controller) -> tuple[float, float]:
    """Volts above the battery at which it wakes, and down to which it runs; a plain switch needs none. [V]"""
    return (0.0, 0.0) if controller.tracker == "direct" else (controller.v_start_margin, controller.v_hold_margin)


def cold_marks(controller: Controller) -> tuple[float, float]:
    """Battery temperatures below which it stops and from which it charges again; minus infinity without. [°C]

    Examples
    --------
    >>> cold_marks(Controller(name="80 V 20 A", v_pv_max=80.0, i_charge_max=20.0, cold_cutoff=True))
    (0.0, 3.0)
    """
    if not controller.cold_cutoff:
        return -np.inf, -np.inf
    cutoff = TEMP_COLD_CUTOFF if controller.temp_cold_cutoff is None else controller.temp_cold_cutoff
    return cutoff, cutoff + COLD_GAP if controller.temp_cold_release is None else controller.temp_cold_release


def sweep(array: AnyArray, top: Maxima, floor: Array) -> Place:
    """The best volts inside the window, edge included, as a tracker finds them that looks everywhere."""
    power = np.fmax(top.power, -1.0)
    inside = np.where(top.voltage >= floor[:, None], power, -1.0)
    pick = inside.argmax(axis=1)
    p_hill, best = take_rows(inside, pick), pick == power.argmax(axis=1)
    at_hill = p_hill > 0
    # at the edge the array gives no more than at its highest hill
    doubtful = ~(at_hill & best)
    if doubtful.any():
        at_hill &= best | (p_hill >= floor * array.amps_at(floor))
    held = np.where(best, BEST, INSIDE_HILL)
    return np.where(at_hill, take_rows(top.voltage, pick), floor), np.where(at_hill, held, WINDOW)


def climb(array: AnyArray, top: Maxima, floor: Array) -> Place:
    """The first hill from the open-circuit side, where a tracker stays that only climbs."""
    first = np.nan_to_num(top.voltage[:, 0])
    stuck = np.nan_to_num(top.power[:, 0]) < (1 - 1e-6) * np.nan_to_num(top.power).max(axis=1)
    inside = first >= floor
    return np.where(inside, first, floor), np.where(inside, np.where(stuck, LOWER_HILL, BEST), WINDOW)


def direct(array: AnyArray, top: Maxima, floor: Array) -> Place:
    """The battery's own volts."""
    return floor, np.full(floor.shape, TIED)


TRACKERS: dict[str, Tracker] = {"sweep": sweep, "climb": climb, "direct": direct}


def _awake(v_oc: Array, v_battery: Array, controller: Controller, awake: bool) -> Array:
    """Whether it charges: it wakes above the start margin and sleeps below the hold margin, in the order of time."""
    wakes, holds = (v_oc >= v_battery + margin for margin in margins(controller))
    decided = wakes | ~holds
    last = np.maximum.accumulate(np.where(decided, np.arange(len(v_oc)), -1))
    return np.where(last < 0, awake, wakes[np.maximum(last, 0)])


def _booked(
    controller: Controller, v_battery: Array, v_oc: Array, spot: tuple[Array, Array, Array],
    highest: tuple[Array, Array], held: Array, on: Array, array: AnyArray,
) -> Operation:  # fmt: skip
    """The operation with every watt booked: converter, own draw, limit, battery."""
    v, i, p = spot
    p_converter = p * _conversion_loss(controller, v, v_battery)
    p_own = np.minimum(np.where(p > 0, controller.p_own, 0.0), p - p_converter)
    offered = p - p_converter - p_own
    p_battery = np.minimum(offered, controller.i_charge_max * v_battery)
    clipped = p_battery < offered
    placed = held
    held = np.where(clipped, CLIPPED, np.where((p > 0) & (offered <= 0), OWN_DRAW, held))
    if clipped.any() and controller.tracker != "direct":
        taken = p[clipped] * (p_battery + p_own)[clipped] / (p - p_converter)[clipped]
        v[clipped], i[clipped] = array.rows(clipped).backed_off(v[clipped], v_oc[clipped], taken)
    v, i = np.where(p > 0, v, v_oc), np.where(p > 0, i, 0.0)
    booked = (p, p_converter, p_own, offered - p_battery, p_battery)
    return Operation(v, i, v_oc, highest[1], highest[0], *booked, held, placed, on)


def _conversion_loss(controller: Controller, v: Array, v_battery: Array) -> Array:
    """Share of the power lost in conversion; a plain switch converts nothing."""
    if controller.tracker == "direct":
        return np.zeros_like(v)
    ratio = np.maximum(v / v_battery - 1.0, 0.0)
    return np.minimum((controller.loss_fixed_pct + controller.loss_ratio_pct * ratio) / 100.0, 1.0)
