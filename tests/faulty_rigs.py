"""Readings of rigs with a known fault, made by another route than the package's: cell by cell, another solver, and a
controller written here in plain steps. For tests and benchmarks only.

Cells of a label are the package's; light, heat, strings, the fault, the operating point and the meters are not. Meters
err by 1 % and a digit (half of each at random, never beyond); light by eye is off by up to 20 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import dense_reference as reference
import numpy as np
from adapters import cell_by_cell

from vanpower.components.cables.resistance import resistance
from vanpower.rig import Panel, Rig, Shade, Snapshot
from vanpower.trials.faults.readings import FaultReadings

POINTS = 1500
# volts looked at between nothing and open circuit


@dataclass(frozen=True)
class Fault:
    """What is wrong: name, light [W/m²], heat [°C], shade notes, and where and how bad it is."""

    name: str
    light: float = 800.0
    temp_cell: float = 40.0
    shade: tuple[Shade, ...] = ()
    panel: int = 0
    ohms: float = 0.0
    v_battery: float | None = None
    takes: float = 1.0
    climbs: bool = False
    stage: str | None = None


def panels_of(rig: Rig, fault: Fault) -> tuple[Panel, ...]:
    """The panels, the faulty one changed where its cells or diodes are."""
    panels = list(rig.panels)
    if fault.name == "leaky panel":
        panels[fault.panel] = replace(panels[fault.panel], r_leak=fault.ohms)
    if fault.name == "dead diode":
        panels[fault.panel] = replace(panels[fault.panel], bypass_diodes=False)
    return tuple(panels)


def curve_of(rig: Rig, fault: Fault, v_top: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Volts from below nothing to open circuit, or to `v_top` where that is more, and amps, at the controller."""
    circuit, panels = rig.circuits[0], panels_of(rig, fault)
    array = cell_by_cell(panels, circuit, Snapshot(light=fault.light, temp_cell=fault.temp_cell, shade=fault.shade))
    wiring = circuit.wiring.strings
    i_top = 1.3 * sum(max(panels[p].i_sc for p in string) for string in wiring) * max(fault.light / 1000, 0.01)
    amps = np.unique(np.concatenate([np.linspace(-i_top, i_top, 400), i_top * np.geomspace(1e-5, 1, 150)]))
    known: dict[tuple[reference.Substring, bool], np.ndarray] = {}
    each = []
    for string, described in zip(wiring, array.strings, strict=True):
        if fault.name in ("open line", "blown fuse") and fault.panel in string:
            continue
        volts = np.zeros_like(amps)
        groups = iter(described.substrings)
        for p in string:
            turned = fault.name == "reversed panel" and p == fault.panel
            for _ in range(panels[p].substrings):
                group = next(groups)
                if (group, turned) not in known:
                    known[group, turned] = -_volts(group, -amps[::-1])[::-1] if turned else _volts(group, amps)
                volts += known[group, turned]
        ohms = fault.ohms if fault.name == "bad plug" and len(wiring) > 1 and fault.panel in string else 0.0
        each.append(volts - ohms * amps)
    if not each:
        return np.linspace(0.0, 0.01, POINTS), np.zeros(POINTS)
    low = max(v[-1] for v in each)
    high = max(np.interp(0.0, amps, v) for v in each)
    v = np.linspace(min(low, -1.0), max(high, v_top, 0.01), POINTS)
    i = sum(np.interp(-v, -one, amps) for one in each)
    ohms = fault.ohms if fault.name == "bad plug" and len(wiring) == 1 else 0.0
    return v - i * (resistance(circuit.cable) + ohms), i


def _volts(group: reference.Substring, amps: np.ndarray) -> np.ndarray:
    """Volts of a group at rising amps; where rounding keeps the solver from its last digit, amps move a little."""
    for shift in range(8):
        try:
            moved = amps * (1 + 1e-4 * shift)
            return reference.substring_curve(group, 1.01 * float(np.abs(amps).max())).voltage(moved)[0]
        except ArithmeticError:
            continue
    raise ArithmeticError("no curve of a group")


def works_at(rig: Rig, fault: Fault) -> tuple[float, float, float]:
    """Volts and amps where the controller sits, and open-circuit volts."""
    v, i = curve_of(rig, fault)
    controller = rig.circuits[0].controller
    order = np.argsort(i)
    v_oc = float(np.interp(0.0, i[order], v[order]))
    battery = rig.battery.v_now if fault.v_battery is None else fault.v_battery
    idle = fault.name in ("cold lock-out", "controller dead", "battery line")
    direct = controller.tracker == "direct"
    if idle or v_oc < battery + (0.0 if direct else controller.v_start_margin) or v_oc > controller.v_pv_max:
        return v_oc, 0.0, v_oc
    if direct:
        amps = float(np.interp(battery, v, i)) * fault.takes
        return (battery if fault.takes == 1 else v_oc - fault.takes * (v_oc - battery)), max(amps, 0.0), v_oc
    inside = (v >= battery + controller.v_hold_margin) & (i >= 0)
    power = np.where(inside, v * i, 0.0)
    at = int(power.argmax())
    if fault.climbs or controller.tracker == "climb":
        hills = [
            k for k in range(1, len(v) - 1) if power[k] > power[k - 1] and power[k] >= power[k + 1] and power[k] > 0
        ]
        at = hills[-1] if hills else at
    # own draw, current limit, or what a full battery takes
    loss = controller.loss_fixed_pct / 100 + controller.loss_ratio_pct / 100 * max(v[at] / battery - 1, 0.0)
    most = controller.i_charge_max * battery
    offered = power[at] * (1 - loss) - controller.p_own
    if offered <= 0:
        return float(v[at]), float(i[at]), v_oc
    wanted = min(most, offered * fault.takes)
    if wanted < offered:
        goal = power[at] * (wanted + controller.p_own) / (offered + controller.p_own)
        beyond = np.arange(at, len(v))
        falls = v[beyond] * i[beyond]
        at = int(beyond[np.argmin(np.abs(falls - goal))])
    return float(v[at]), max(float(i[at]), 0.0), v_oc


def metered(value: float, digit: float, rng: np.random.Generator) -> float:
    """A reading, off by up to 1 % and a digit, rounded to it."""
    off = value * (1 + 0.01 * rng.uniform(-1, 1)) + digit * rng.uniform(-1, 1)
    return round(round(off / digit) * digit, 3)


def readings_of(rig: Rig, fault: Fault, rng: np.random.Generator, *, words: Sequence[str] = ()) -> FaultReadings:
    """Panel volts and amps, battery volts, light by eye; the stage too where `words` says so."""
    v, i, _ = works_at(rig, fault)
    battery = rig.battery.v_now if fault.v_battery is None else fault.v_battery
    amps = max(metered(i, 0.05, rng), 0.0) if i > 0.01 else 0.0
    return FaultReadings(
        v_array=metered(v, 0.1, rng), i_array=amps, v_battery=metered(battery, 0.05, rng),
        light=float(np.clip(fault.light * (1 + 0.2 * rng.uniform(-1, 1)), 0.1, 1700)),
        stage=fault.stage if "stage" in words else None,
    )  # fmt: skip


STAGES = {
    "battery full": "absorption", "cold lock-out": "cold", "controller dead": "off", "battery line": "off",
    "no sun": "asleep", "asleep": "asleep",
}  # fmt: skip
# what a usual controller shows; the others charge, or wait where there are no volts
IDLE = ("cold lock-out", "controller dead", "battery line")


def measured(rig: Rig, fault: Fault, name: str, rng: np.random.Generator) -> float | str:
    """What somebody finds who makes one of the measurements that are asked for."""
    v, i, v_open = works_at(rig, fault)
    battery = rig.battery.v_now if fault.v_battery is None else fault.v_battery
    if name == "stage":
        return STAGES.get(fault.name, "bulk" if i > 0.01 else "asleep")
    yes = {
        "shade": bool(fault.shade) and fault.name != "lost group", "fuse": fault.name == "blown fuse",
        "cold": fault.name == "cold lock-out", "plugs": fault.name == "bad plug",
        "cable": False, "polarity": fault.name == "reversed panel",
        "diodes": fault.name == "dead diode",
    }  # fmt: skip
    if name in yes:
        return float(yes[name])
    free = works_at(rig, replace(fault, takes=1.0, climbs=False))
    values = {
        "volts": (v, 0.1), "amps": (i, 0.05), "watts": (v * i, 1.0), "battery": (battery, 0.05), "open": (v_open, 0.1),
        "loaded": (free[1] if fault.takes < 1 else i, 0.05), "restart": (free[0] if fault.climbs else v, 0.1),
        "light": (fault.light, 2.0), "terminals": (0.0 if fault.name == "battery line" else battery, 0.05),
    }  # fmt: skip
    if name == "dusk":
        values["dusk"] = (works_at(rig, replace(fault, light=50.0, temp_cell=15.0))[2], 0.1)
    if name.startswith("string"):
        volts, amps = _strings(rig, fault, v, i)
        values |= {"string-volts": (min(volts), 0.1), "string-amps": (min(amps), 0.05)}
    if name == "panel-volts":
        values[name] = (min(_alone(rig, fault)), 0.1)
    value, digit = values[name]
    return metered(value, digit, rng)


def _strings(rig: Rig, fault: Fault, v: float, i: float) -> tuple[list[float], list[float]]:
    """Open volts of each string alone, and amps of each with the controller at work."""
    circuit = rig.circuits[0]
    strings, volts, amps = circuit.wiring.strings, [], []
    for string in strings:
        alone = rig.with_circuit(wiring=circuit.wiring.changed(strings=(string,)))
        if fault.panel in string and fault.name in ("open line", "blown fuse"):
            volts.append(0.0)
            amps.append(0.0)
            continue
        own = replace(fault, panel=fault.panel if fault.panel in string else -1)
        meets = v + i * resistance(circuit.cable)
        at, out = curve_of(alone.with_cable(length_m=0.0), own, 1.05 * meets)
        order = np.argsort(out)
        volts.append(float(np.interp(0.0, out[order], at[order])))
        rising = np.argsort(at)
        amps.append(float(np.interp(meets, at[rising], out[rising])) if fault.name not in IDLE else 0.0)
    return volts, amps


def _alone(rig: Rig, fault: Fault) -> list[float]:
    """Open volts of each panel alone, right way round."""
    found = []
    for panel in rig.circuits[0].wiring.panels:
        one = rig.with_circuit(wiring=rig.circuits[0].wiring.changed(strings=((panel,),)))
        own = replace(fault, name=fault.name if fault.panel == panel and fault.name == "leaky panel" else "sound")
        at, out = curve_of(one.with_cable(length_m=0.0), own)
        order = np.argsort(out)
        found.append(float(np.interp(0.0, out[order], at[order])))
    return found
