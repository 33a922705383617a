"""Where power is lost between panels and battery, by name, and which cause a loss is put down to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vanpower.components.cables.resistance import resistance
from vanpower.components.controllers import ASLEEP, CEILING, HELD, INSIDE_HILL, LOWER_HILL, TIED, WINDOW, Operation
from vanpower.components.panel_cells import BLOCKING
from vanpower.model.light import LitPanels
from vanpower.rig import Circuit, Panel, nameless

Array = np.ndarray

HOT = 45.0
# [°C] cells from which a window that bites is put down to heat; no source

WEAK = "weaker than label"
# the loss of panels that are known by their label alone, in dull and middling light
LOSSES = {
    WEAK: "in dull light measured panels give less than their labels' curve, and these were not read",
    "mismatch": "panels or parts of them pull each other off their best points",
    "shade": "shaded cells hold back the others",
    "leak": "a leaky panel drags the others down",
    "blocking diodes": "the blocking diodes take their drop from every string",
    "cable": "the cable warms up instead of the battery",
    "start": "open-circuit volts do not reach the controller's start threshold",
    "window": "the best point lies below what the controller needs above the battery",
    "heat": "hot panels fall below what the controller needs above the battery",
    "tracker": "the tracker may stay on a lower hill",
    "plain switch": "a plain switch ties the panels to the battery's volts",
    "converter": "stepping the voltage down costs a share of the power",
    "own draw": "the controller's own draw",
    "clipping": "the charge current limit leaves power on the roof",
    "ceiling": "the array is over the controller's voltage ceiling",
}
# where power goes between panels and battery, and what is said of it
AVOIDABLE = ("clipping", "window", "heat", "tracker", "plain switch", "cable", "start")
# losses of the best wiring that are told when they are large
MISSED = {
    ASLEEP: "start",
    WINDOW: "window",
    INSIDE_HILL: "window",
    LOWER_HILL: "tracker",
    TIED: "plain switch",
    CEILING: "ceiling",
}
# what is blamed for power the controller does not take, by what holds it


def share_of_label(circuit: Circuit, light: LitPanels) -> Array:
    """What a circuit's panels typically give in this light, as a share of their labels' curve (moment,)."""
    return light.typical(circuit.wiring.panels)


def booked(
    now: Operation, by_label: Operation, share: Array, circuit: Circuit, light: LitPanels, shaded: bool
) -> dict[str, Array]:
    """Power of a circuit lost on the way to the battery, by the names in `LOSSES`, each (moment,). [W]

    Parameters
    ----------
    now, by_label : Operation
        Operating points with typical panels, and with panels that do as their labels' curve says.
    share : ndarray (moment,)
        What `share_of_label` gave.
    circuit : Circuit
    light : LitPanels
        The panels in their light.
    shaded : bool
        Whether mismatch between panels is put down to shade.

    Notes
    -----
    The panels' shortfall comes first, and losses behind them shrink in proportion; own draw and current limit do not.
    """
    lost = losses_of(by_label, circuit, light, shaded)
    behind = {name: share * watts for name, watts in lost.items()}
    return behind | {"own draw": now.p_own, "clipping": now.p_clipped, WEAK: weakness(share, circuit, light)}


def weakness(share: Array, circuit: Circuit, light: LitPanels) -> Array:
    """Power by which a circuit's panels typically stay below their labels' curve (moment,). [W]"""
    return (1.0 - share) * light.together(circuit.wiring.panels)[1]


def losses_of(operation: Operation, circuit: Circuit, light: LitPanels, shaded: bool) -> dict[str, Array]:
    """Watts lost on the way from panels to battery by the labels' curve, by the names in `LOSSES`, each (moment,)."""
    lost = dict.fromkeys(LOSSES, np.zeros_like(operation.p_battery))
    panels = list(circuit.wiring.panels)
    alone, clear = light.together(panels)
    idle = (operation.held_by == ASLEEP) | (operation.held_by == CEILING)
    lost["shade"] = clear - alone
    lost["cable"] = np.where(idle, 0.0, operation.i_best**2 * resistance(circuit.cable))
    if circuit.blocking_diodes:
        # shared out evenly; strings that carry unlike amps lose a little more, which stays with the mismatch
        drop = BLOCKING.drop(operation.i_best / len(circuit.wiring.strings))
        lost["blocking diodes"] = np.where(idle, 0.0, operation.i_best * drop)
    together = np.where(idle, 0.0, alone - operation.p_best - lost["cable"] - lost["blocking diodes"])
    blame = blamed([light.panels[p] for p in panels], shaded)
    lost[blame] = lost[blame] + together
    missed = np.where(idle, alone, operation.p_best - operation.p_array)
    placed = np.bincount(operation.placed_by, minlength=len(HELD))
    for code, name in MISSED.items():
        if placed[code]:
            lost[name] = lost[name] + np.where(operation.placed_by == code, missed, 0.0)
    lost["window"] = lost["window"] + missed - sum(lost[name] for name in dict.fromkeys(MISSED.values()))
    hot = (light.conditions.temp_cell[:, panels].max(axis=1) >= HOT) & (not shaded)
    lost["heat"], lost["window"] = np.where(hot, lost["window"], 0.0), np.where(hot, 0.0, lost["window"])
    lost["converter"], lost["own draw"] = operation.p_converter, operation.p_own
    lost["clipping"] = operation.p_clipped
    return lost


def blamed(panels: Sequence[Panel], shaded: bool) -> str:
    """The cause that a loss is put down to where panels together give less than each alone; cable loss is apart."""
    if shaded:
        return "shade"
    if len({panel.r_leak for panel in panels}) > 1:
        return "leak"
    alike = {nameless(panel) for panel in panels}
    # equal panels in equal light lose nothing to each other: it is the cable that moved the best point
    return "cable" if len(alike) == 1 else "mismatch"
