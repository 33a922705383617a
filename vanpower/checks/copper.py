"""The roof cable: what it costs in bright and in dull light, and which section to buy."""

from __future__ import annotations

from vanpower.cables import cost, section_for
from vanpower.checks.words import DULL, named
from vanpower.rig import Circuit, Rig
from vanpower.verdicts import Verdict

DROP_TARGET, DROP_MOST = 0.03, 0.10
# share of the power a roof cable may cost, and from which the answer is no; common practice, no source (10 % is the
# most that ABYC E-11 allows for circuits that matter little)


def cable_loss(rig: Rig, circuit: Circuit) -> Verdict:
    """What the roof cable costs in full sun and in dull light, and which section keeps it small."""
    strings = circuit.wiring.strings
    amps = sum(min(rig.panels[p].i_mp for p in string) for string in strings)
    watts = sum(rig.panels[p].p_mp for p in circuit.wiring.panels)
    drop, lost = cost(circuit.cable, amps)
    share = lost / watts
    needed = section_for(circuit.cable, DROP_TARGET * watts / amps**2)
    buy = f" {needed:g} mm² keeps it under {100 * DROP_TARGET:g} %." if needed else " No cable does; shorten the run."
    return Verdict(
        question=f"Cable: what do {circuit.cable.length_m:g} m of {circuit.cable.section_mm2:g} mm² cost in "
        f"{named(rig, circuit)}?",
        answer="yes" if share <= DROP_TARGET else "close" if share <= DROP_MOST else "no",
        margin=100 * (DROP_TARGET - share),
        unit="points",
        sentence=f"{amps:.1f} A drop {drop:.2f} V and cost {lost:.0f} W, {100 * share:.1f} %, in full sun; in dull "
        f"light ({100 * DULL:g} %) {DULL**2 * lost:.1f} W, {100 * DULL * share:.1f} %.{buy * (share > DROP_TARGET)}",
        basis=f"IEC 60228 class 5 tinned copper at {circuit.cable.temp_conductor:g} °C, out and back, label amps; what "
        "current the cable may carry is not checked",
        caution=f"{amps:.0f} A in {circuit.cable.section_mm2:g} mm²: a thin cable, bad crimps and overloaded plugs "
        "burn; ask a competent person what current they may carry."
        if share > DROP_TARGET
        else "",
    )
