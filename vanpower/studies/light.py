"""Panels worked out in their light once, kept for every wiring and the next slider move."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from vanpower.arrays import (
    Conditions,
    Joined,
    Parts,
    Roof,
    best_power,
    conditions,
    day_of,
    join,
    panel_curves,
    roof_of,
)
from vanpower.controllers import Operation, operate
from vanpower.rig import Circuit, Controller, Outlook, Panel, Request, Rig, RoofPlan, Snapshot, Wiring
from vanpower.sky import dated, stamp

if TYPE_CHECKING:
    pass


Array = np.ndarray

CHUNK = 288
# moments worked on at a time, so that tables stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Light:
    """Panels worked out in what was asked: conditions, roofs and substring curves chunk by chunk, panels alone.

    Parameters
    ----------
    chunks : tuple of (Roof, Parts)
        Consecutive moments, `CHUNK` at a time.
    p_alone : ndarray (moment, panel)
        Each panel at its own best point. [W]
    p_clear : ndarray (moment, panel)
        The same without shade. [W]
    """

    conditions: Conditions
    chunks: tuple[tuple[Roof, Parts], ...]
    p_alone: Array
    p_clear: Array


def worked_out(panels: tuple[Panel, ...], request: Request, roof: RoofPlan | None = None) -> Light:
    """Panels in their light, before any wiring; kept, so that another wiring or cable costs little."""
    under = None if isinstance(request, Snapshot) else roof
    return _worked_out(panels, request, under, stamp(request.weather) if isinstance(request, Outlook) else 0)


@lru_cache(maxsize=4)
def _worked_out(panels: tuple[Panel, ...], request: Request, plan: RoofPlan | None, _stamp: int) -> Light:
    """`worked_out`, kept while the weather file stays as it is."""
    known = in_light(panels, conditions(panels, request, plan))
    bare = None if plan is None else replace(plan, fixtures=())
    clear = (replace(request, shade=()), bare)
    return known if clear == (request, plan) else replace(known, p_clear=worked_out(panels, *clear).p_alone)


def in_light(panels: tuple[Panel, ...], asked: Conditions) -> Light:
    """Panels worked out in given conditions, which count as their clear light too."""
    chunks, alone = [], []
    for start in range(0, len(asked), CHUNK):
        roof = roof_of(panels, asked.moments(slice(start, start + CHUNK)))
        parts = panel_curves(roof, range(len(panels)))
        chunks.append((roof, parts))
        alone.append(_alone(roof, parts))
    p_alone = np.concatenate(alone)
    return Light(asked, tuple(chunks), p_alone, p_alone)


def array_of(rig: Rig, request: Request, circuit: int = 0) -> Joined:
    """The array of one circuit in the first moments asked for, up to a chunk: what a curve chart draws."""
    roof, parts = worked_out(rig.panels, request, rig.roof).chunks[0]
    return join(roof, rig.circuits[circuit], parts)


def title_of(request: Request) -> str:
    """The light in a few words."""
    if not isinstance(request, Snapshot):
        day = day_of(request)
        words = day.title if isinstance(request, Outlook) or request.hour is None else f"{day.place}, {dated(day)}"
        return f"{words}{', with shade' * bool(request.shade)}"
    return f"at {request.light:g} W/m² and cells at {request.temp_cell:g} °C{', with shade' * bool(request.shade)}"


def _alone(roof: Roof, parts: Parts) -> Array:
    """Best watts of every panel on its own, without cable (moment, panel); equal panels are worked out once."""
    nothing = Controller(name="none", v_pv_max=1500.0, i_charge_max=500.0)
    keys = [tuple(map(id, panel)) for panel in roof]
    watts = {}
    for panel, key in enumerate(keys):
        if key not in watts:
            circuit = Circuit(wiring=Wiring(strings=((panel,),)), controller=nothing)
            watts[key] = best_power(join(roof, circuit, parts))[1]
    return np.stack([watts[key] for key in keys], axis=1)


def run_circuit(light: Light, circuit: Circuit, v_battery: float) -> Operation:
    """One circuit through all moments, in order: the controller remembers whether it was awake."""
    operations: list[Operation] = []
    awake = False
    for roof, parts in light.chunks:
        array = join(roof, circuit, parts)
        now = operate(array.curves, circuit.controller, v_battery, parts=array, awake=awake)
        awake = bool(now.awake[-1])
        operations.append(now)
    fields = Operation.__dataclass_fields__
    return Operation(*(np.concatenate([getattr(o, name) for o in operations]) for name in fields))
