"""Power that the circuits of a rig can give, moment by moment and at any battery voltage, with every loss by name.

The operating point depends on the battery and the battery on the operating point. So each circuit is computed at a few
battery voltages before the simulation steps through time, and the simulation interpolates between them: every loss is
interpolated with the same weights, which keeps the sum of a moment exact.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vanpower.components.controllers import CEILING, margins
from vanpower.engine.constants import LIGHT_REFERENCE, TEMP_REFERENCE
from vanpower.model.conditions import Conditions, conditions_of, even_light
from vanpower.model.light import LitPanels, unshaded
from vanpower.model.losses import LOSSES, WEAK, booked, share_of_label, weakness
from vanpower.model.rig_in_light import RigModel
from vanpower.rig import Circuit, Days, Panel, Roof

Array = np.ndarray

LEVELS = 6
# battery volts at which circuits are worked out; 48 instead change a hot day of glued panels in parallel by 0.06 %
GRID = np.geomspace(0.5, 1600.0, 121)
# [W/m²] light at which a panel is worked out at 25 °C; between them the error is under 5e-5 of its power, for a leaky
# panel under 8e-4 around the light whose amps its leak takes


@dataclass(frozen=True, eq=False)
class CircuitTable:
    """Power and losses of one circuit at several battery voltages, over some moments.

    Parameters
    ----------
    v_oc : ndarray (moment,)
        Open-circuit voltage at the controller's terminals. [V]
    v_levels : ndarray (level,)
        Battery voltages, evenly spaced. [V]
    offered : ndarray (level, moment)
        Into the battery, if it took all, with the controller awake. [W]
    by_label : ndarray (level, lit moment)
        The same if panels did as their labels' curve says, at the moments with light alone. [W]
    lost : dict of str to ndarray (level, lit moment)
        By the names in `LOSSES` where there is some; with `offered` they add up to `p_clear`. [W]
    asleep : dict of str to ndarray (lit moment,)
        The same with the controller asleep. [W]
    start, hold : float
        Volts above the battery at which it starts, and at which it stays awake. [V]
    """

    v_oc: Array
    v_levels: Array
    offered: Array
    by_label: Array
    lost: dict[str, Array]
    asleep: dict[str, Array]
    start: float
    hold: float


@dataclass(frozen=True, eq=False)
class Sun:
    """Panels in their light over some moments, before any wiring.

    Parameters
    ----------
    light : LitPanels
        Of the moments with light, a chunk of its own.
    lit : ndarray of bool (moment,)
        Which moments of the chunk have light.
    p_label, p_cool : ndarray (moment, panel)
        Label watts in this light, and watts at 25 °C, of the moments with light. [W]
    """

    light: LitPanels
    lit: Array
    p_label: Array
    p_cool: Array


def asked_of(panels: tuple[Panel, ...], request: Days, roof: Roof | None) -> tuple[Conditions, Conditions]:
    """What was asked, and the same without shade."""
    bare = unshaded(request, roof)
    asked = conditions_of(panels, request, roof)
    return asked, asked if bare == (request, roof) else conditions_of(panels, *bare)


def sun_over(panels: tuple[Panel, ...], asked: Conditions, clear: Conditions, cool: Array, rows: slice) -> Sun:
    """The panels in their light over some of the moments.

    Parameters
    ----------
    panels : tuple of Panel
    asked, clear : Conditions
        Of all moments, as asked and without shade.
    cool : ndarray (grid, panel)
        What `cool_watts` gave. [W]
    rows : slice
        The moments wanted.
    """
    some, unshaded = asked.moments(rows), clear.moments(rows)
    plane = np.stack([light[:, 0, 0, 0] for light in unshaded.light], axis=1)
    lit = plane.max(axis=1) > 0
    index = np.nonzero(lit)[0]
    bright = _moments(some, index)
    light = _lit(panels, bright, None if asked is clear else _lit(panels, _moments(unshaded, index)))
    label = np.array([panel.v_mp * panel.i_mp for panel in panels])
    g = plane[lit]
    per_light = np.stack([np.interp(g[:, p], GRID, cool[:, p] / GRID) for p in range(len(panels))], axis=1)
    return Sun(light, lit, g / LIGHT_REFERENCE * label, g * per_light)


def cool_watts(panels: tuple[Panel, ...]) -> Array:
    """Maximum power of each panel by itself with cells at 25 °C, over the irradiances in `GRID` (grid, panel). [W]"""
    return _lit(panels, even_light(panels, GRID, TEMP_REFERENCE)).p_alone


def _moments(these: Conditions, index: Array) -> Conditions:
    """Some moments by their numbers."""
    return replace(these.moments(index), time=None)


def _lit(panels: tuple[Panel, ...], these: Conditions, clear: LitPanels | None = None) -> LitPanels:
    """Panels in all these moments as one chunk."""
    return LitPanels(panels, these, clear, max(len(these), 1))


def source_of(model: RigModel, lit: Array, circuit: Circuit, v_range: tuple[float, float]) -> CircuitTable:
    """The table of one circuit at `LEVELS` battery voltages over the moments with light; the others stay zero."""
    levels = np.linspace(*v_range, LEVELS)
    start, hold = margins(circuit.controller)
    if not lit.any():
        dark = np.zeros((LEVELS, len(lit)))
        return CircuitTable(dark[0], levels, dark, dark[:, :0], {}, {}, start, hold)
    # awake wherever it may stay awake; whether it has started, the simulation through time decides
    keen = replace(circuit.controller, v_start_margin=circuit.controller.v_hold_margin)
    light, shaded = model.light, model.shaded(circuit)
    share = share_of_label(circuit, light)
    offered, by_label, lost = [], [], []
    for now, operation in model.at_volts(replace(circuit, controller=keen), levels.tolist()):
        offered.append(now.p_battery)
        by_label.append(operation.p_battery)
        lost.append(booked(now, operation, share, circuit, light, shaded))
    alone, clear = (share * watts for watts in light.together(circuit.wiring.panels))
    over = operation.held_by == CEILING
    asleep = {"shade": clear - alone, "ceiling": np.where(over, alone, 0.0), "start": np.where(over, 0.0, alone)}
    asleep |= {WEAK: weakness(share, circuit, light)}
    each = {name: [at[name] for at in lost] for name in LOSSES}
    return CircuitTable(
        v_oc=_spread(operation.v_oc, lit),
        v_levels=levels,
        offered=_spread(np.stack(offered), lit),
        by_label=np.stack(by_label),
        lost={name: np.stack(watts) for name, watts in each.items() if any(at.any() for at in watts)},
        asleep={name: watts for name, watts in asleep.items() if watts.any()},
        start=start,
        hold=hold,
    )


def _spread(values: Array, lit: Array) -> Array:
    """Values of the lit moments among all, zero in the dark."""
    wide = np.zeros((*values.shape[:-1], len(lit)))
    wide[..., lit] = values
    return wide


class Reading:
    """Linear interpolation in tables (level, moment) at one battery voltage for each moment.

    Parameters
    ----------
    v_levels : ndarray (level,)
        Evenly spaced. [V]
    volts : ndarray (moment,)
        [V]

    Examples
    --------
    >>> Reading(np.array([12.0, 13.0, 14.0]), np.array([12.5])).of(np.array([[10.0], [20.0], [40.0]]))
    array([15.])
    """

    def __init__(self, v_levels: Array, volts: Array) -> None:
        place = np.clip((volts - v_levels[0]) / (v_levels[1] - v_levels[0]), 0.0, len(v_levels) - 1.0)
        left = np.minimum(place.astype(int), len(v_levels) - 2)
        self.share, self.count = place - left, len(volts)
        self.low = left * self.count + np.arange(self.count)

    def of(self, table: Array) -> Array:
        """The values at those volts (moment,)."""
        return table.take(self.low) * (1.0 - self.share) + table.take(self.low + self.count) * self.share
