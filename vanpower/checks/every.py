"""All checks of a rig in the order in which a mistake hurts, what forbids it, and what nobody asked."""

from __future__ import annotations

from vanpower.checks.amps import input_current
from vanpower.checks.copper import cable_loss
from vanpower.checks.volts import cold_ceiling, hot_floor, start
from vanpower.rig import Rig
from vanpower.verdicts import Verdict


def check(rig: Rig) -> tuple[Verdict, ...]:
    """Every check of every circuit, in the order in which a mistake hurts."""
    made = []
    for circuit in rig.circuits:
        made += [cold_ceiling(rig, circuit), start(rig, circuit), hot_floor(rig, circuit)]
        made += [] if circuit.controller.i_pv_sc_max is None else [input_current(rig, circuit)]
        made += [] if circuit.cable.length_m == 0 else [cable_loss(rig, circuit)]
    return tuple(made)


def refusal(rig: Rig) -> Verdict | None:
    """The verdict that forbids a rig, if one does: what would damage a controller, whatever watts it brings."""
    for circuit in rig.circuits:
        limits = [cold_ceiling(rig, circuit)]
        limits += [] if circuit.controller.i_pv_sc_max is None else [input_current(rig, circuit)]
        for verdict in limits:
            if verdict.answer == "no":
                return verdict
    return None


def unasked(rig: Rig) -> tuple[str, ...]:
    """What `check` does not answer for a rig, a sentence each."""
    said = []
    if any(circuit.controller.i_pv_sc_max is None for circuit in rig.circuits):
        said.append("Input current: the file gives no i_pv_sc_max of the controller.")
    if any(circuit.cable.length_m == 0 for circuit in rig.circuits):
        said.append("Cable: the file gives no length_m.")
    strings = max(len(circuit.wiring.strings) for circuit in rig.circuits)
    fuses = " With three strings or more each usually needs one." if strings > 2 else ""
    said.append(f"Fuses, plugs, isolators, and what current a cable may carry.{fuses}")
    return tuple(said)
