"""Amps: what short-circuit current the array may send into the controller's input."""

from __future__ import annotations

import math

from vanpower.checks.words import named
from vanpower.rig import Circuit, Rig
from vanpower.verdicts import Verdict

INPUT_FACTOR = 1.25
# short-circuit amps are counted so many times; IEC 62548 and US National Electrical Code 690.8(A)(1)


def input_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the array's short-circuit current reach the controller's input?"""
    limit = circuit.controller.i_pv_sc_max or math.inf
    amps = sum(max(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings)
    counted = INPUT_FACTOR * amps
    return Verdict(
        question=f"Input current: is the short-circuit current of {named(rig, circuit)} allowed?",
        answer="yes" if counted <= limit else "no",
        margin=limit - counted,
        unit="A",
        sentence=f"{INPUT_FACTOR:g} x {amps:.1f} A = {counted:.1f} A against {limit:g} A at the input.",
        basis="factor 1.25 on the label's short-circuit amps (IEC 62548, US code 690.8); bright cloud edges exceed it "
        "for seconds",
        caution="Too much short-circuit current can destroy the input; do not connect this." if counted > limit else "",
    )
