"""Controllers that are plain switches ("direct"): how well the panels' voltage suits the battery they are tied to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vanpower.checks.backfeed import must_stay_apart
from vanpower.checks.common import LIGHT_TOP, array_in, joined, named
from vanpower.checks.fuses import can_be_fused
from vanpower.checks.volts import cold_ceiling
from vanpower.engine.constants import TEMP_REFERENCE
from vanpower.engine.curves import current_at
from vanpower.results.numbers import difference, known
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig, Snapshot
from vanpower.rig.wirings import parse_wiring

TIED_MUCH, TIED_MOST = 0.30, 0.40
# share of the best power that being tied to the battery may cost, and from which the answer is no: the usual 36 cells
# on 12 V, 18 V at best, lose about a quarter, two of them in series six tenths; common practice, no source
BETTER = 1.1
# times the watts from which another wiring is told; no source


def plain_switch(rig: Rig, circuit: Circuit) -> Verdict:
    """How much of the panels' power a plain switch wastes by holding them at the battery's voltage.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> direct = replace(rig.circuits[0].controller, tracker="direct")
    >>> print(plain_switch(rig, replace(rig.circuits[0], controller=direct)).answer)
    yes
    """
    volts = rig.battery.v_now
    taken, best = tied_watts(rig, circuit)
    lost = 1.0 - taken / best
    thrown = f"{difference(best, taken, 'W')} ({100 * lost:.0f} %) are thrown away."
    answer: Answer = "yes" if lost < TIED_MUCH else "close" if lost < TIED_MOST else "no"
    return Verdict(
        question=f"Plain switch: do the volts of {named(rig, circuit)} work for a battery at {volts:g} V?",
        answer=answer,
        margin=100 * (TIED_MOST - lost),
        unit="% of the power",
        sentence=f"Tied to {volts:g} V the panels give {known(taken)} of {known(best)} W: "
        f"{thrown}{_instead(rig, circuit, taken) * (answer != 'yes')}",
        basis=joined(
            f"one-diode model at {LIGHT_TOP:g} W/m² and {TEMP_REFERENCE:g} °C cells",
            f"up to {100 * TIED_MUCH:g} % lost is usual, from {100 * TIED_MOST:g} % it is a no (common practice, no "
            "source)",
        ),
    )


def tied_watts(rig: Rig, circuit: Circuit) -> tuple[float, float]:
    """Power at the battery's voltage and at the best one, in full sun with cells at 25 °C. [W]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> [round(watts) for watts in tied_watts(rig, rig.circuits[0])]  # 2 x 6.25 A x 13.3 V are 166 W
    [165, 213]
    """
    array = array_in(rig, circuit, Snapshot(light=LIGHT_TOP, temp_cell=TEMP_REFERENCE))
    volts = rig.battery.v_now
    amps = float(current_at(array.curves, np.array([[volts]]))[0][0, 0])
    return volts * max(amps, 0.0), float(array.peaks[1][2][0])


def _may_be(rig: Rig, circuit: Circuit) -> bool:
    """Whether nothing forbids the panels joined so: the cold ceiling, unlike strings, a fuse that does not exist."""
    if cold_ceiling(rig, circuit).answer == "no" or must_stay_apart(rig, circuit):
        return False
    return can_be_fused(rig, circuit)


def _instead(rig: Rig, circuit: Circuit, taken: float) -> str:
    """What delivers more: the panels joined otherwise, or a controller that tracks."""
    panels = sorted(circuit.wiring.panels)
    count = len(panels)
    ways = [parse_wiring(f"{n}s{count // n}p", panels) for n in range(1, count + 1) if count % n == 0]
    joined_so = [replace(circuit, wiring=way) for way in ways]
    watts = {so.wiring.name: tied_watts(rig, so)[0] for so in joined_so if _may_be(rig, so)}
    best = max(watts, key=lambda name: watts[name], default="")
    if best and watts[best] >= BETTER * taken and watts[best] > 0:
        return f" Re-plugged as {best} the same panels give {known(watts[best])} W."
    return " Only a controller that tracks takes the rest."
