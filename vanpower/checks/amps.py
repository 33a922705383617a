"""Current into the controller: the most its input may see, and the energy it clips at its charge current limit."""

from __future__ import annotations

import math
from dataclasses import replace

from vanpower.checks.battery import accept_limit
from vanpower.checks.common import INPUT_FACTOR, counted_amps, named, rounded_up, short_circuit_amps
from vanpower.results.numbers import apart, known
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig

ARRIVES = 0.9
# share of the label's watts that reaches the battery on a clear noon: heat, cable, converter; no source
CLEAR_DAY_H = 12.0
# [h] length of the half-sine day that clipping is told for; no source
LITTLE_CLIPPED = 0.03
# share of a clear day's energy that may stay on the roof without a word; common practice, no source


def input_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the array's short-circuit current reach the controller's input?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(input_current(rig, rig.circuits[0]).sentence)
    1.25 x 12.5 A = 15.6 A against 25 A at the input.
    """
    limit = circuit.controller.i_pv_sc_max or math.inf
    amps, counted = short_circuit_amps(rig, circuit), counted_amps(rig, circuit)
    return Verdict(
        question=f"Input current: is the short-circuit current of {named(rig, circuit)} allowed?",
        answer="yes" if counted <= limit else "no",
        margin=limit - counted,
        unit="A",
        sentence=f"{INPUT_FACTOR:g} x {amps:.1f} A = {counted:.1f} A against {limit:g} A at the input."
        + _fewer_strings(rig, circuit, limit) * (counted > limit),
        basis="factor 1.25 on the label's short-circuit amps (IEC 62548, US code 690.8); bright cloud edges exceed it "
        "for seconds to minutes, and a panel lit from behind as well gives more (IEC 62548-1:2023, its summary read)",
        caution="Too much short-circuit current can destroy the input; do not connect this." if counted > limit else "",
    )


def _fewer_strings(rig: Rig, circuit: Circuit, limit: float) -> str:
    """How many strings a limit of amps takes, the strongest first, and which limit takes them all."""
    wiring, most = circuit.wiring, 0
    while most < len(wiring.strings):
        some = replace(circuit, wiring=replace(wiring, strings=_strongest(rig, circuit)[: most + 1]))
        if counted_amps(rig, some) > limit:
            break
        most += 1
    wants = f"a controller for at least {rounded_up(counted_amps(rig, circuit))} A"
    return f" It takes {most} of the strings in parallel; all of them want {wants}." if most else f" Take {wants}."


def _strongest(rig: Rig, circuit: Circuit) -> tuple[tuple[int, ...], ...]:
    """The strings of a circuit, that of most amps first."""
    return tuple(sorted(circuit.wiring.strings, key=lambda string: -max(rig.panels[p].i_sc for p in string)))


def half_sine(p_peak: float, p_most: float, hours: float = CLEAR_DAY_H) -> tuple[float, float, float]:
    """Energy of a clear half-sine day without and with a power limit, and hours at the limit.

    Parameters
    ----------
    p_peak, p_most : float
        Watts at noon, and the most that is taken. [W]
    hours : float
        From sunrise to sunset. [h]

    Returns
    -------
    wanted, taken, clipped : float
        [Wh, Wh, h]

    Examples
    --------
    >>> [round(part, 1) for part in half_sine(540, 408)]
    [4125.3, 3649.3, 5.5]
    """
    wanted = 2.0 / math.pi * hours * p_peak
    if p_most >= p_peak:
        return wanted, wanted, 0.0
    start = math.asin(p_most / p_peak)
    clipped = hours * (1.0 - 2.0 * start / math.pi)
    below = wanted * (1.0 - math.cos(start))
    return wanted, below + p_most * clipped, clipped


def clipping(rig: Rig, circuit: Circuit) -> Verdict:
    """Energy clipped on a clear day by the controller's charge current limit; no danger, so never a no.

    A plain switch cannot hold amps back, so there the answer can be no.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(clipping(rig, rig.circuits[0]).sentence)
    219 W of panels, 90 % arriving, and 20 A at 13.3 V take 266 W: nothing is held back, even on a clear day.
    """
    controller, volts = circuit.controller, rig.battery.v_now
    if controller.tracker == "direct":
        return _switch(rig, circuit)
    watts = sum(rig.panels[p].p_mp for p in circuit.wiring.panels)
    wanted, taken, hours = half_sine(ARRIVES * watts, controller.i_charge_max * volts)
    share = 1.0 - taken / wanted
    most = f"{controller.i_charge_max:g} A at {volts:g} V take {known(controller.i_charge_max * volts)} W"
    lost = f"{apart(wanted, taken)} of {known(wanted)} Wh ({100 * share:.1f} %) over {hours:.1f} h"
    tail = f"a clear {CLEAR_DAY_H:g} h day leaves {lost} on the roof; dull days lose nothing."
    tail += _larger_limit(rig, circuit, math.ceil(ARRIVES * watts / volts)) * (share > LITTLE_CLIPPED)
    if share <= 0:
        tail = "nothing is held back, even on a clear day."
    return Verdict(
        question=f"Clipping: do {controller.i_charge_max:g} A take what {named(rig, circuit)} delivers?",
        answer="yes" if share <= LITTLE_CLIPPED else "close",
        margin=controller.i_charge_max - ARRIVES * watts / volts,
        unit="A",
        sentence=f"{known(watts)} W of panels, {100 * ARRIVES:.0f} % arriving, and {most}: {tail}",
        basis=f"half-sine day peaking at 1000 W/m², {100 * ARRIVES:.0f} % of the label arriving (no source); "
        "nothing is harmed, the surplus stays on the roof",
    )


def _larger_limit(rig: Rig, circuit: Circuit, amps: int) -> str:
    """The limit that clips nothing, unless the battery takes less."""
    others = sum(one.controller.i_charge_max for one in rig.circuits) - circuit.controller.i_charge_max
    takes, whose = accept_limit(rig.battery)
    if takes is not None and amps + others > takes:
        return f" Leave it so: the battery takes {takes:g} A ({whose})."
    return f" A limit of {amps} A takes all of it."


def _switch(rig: Rig, circuit: Circuit) -> Verdict:
    """Whether a plain switch may carry the array's amps, which it cannot hold back."""
    counted, most = counted_amps(rig, circuit), circuit.controller.i_charge_max
    answer: Answer = "yes" if counted <= most else "no"
    return Verdict(
        question=f"Clipping: does the plain switch carry {named(rig, circuit)}?",
        answer=answer,
        margin=most - counted,
        unit="A",
        sentence=f"It cannot hold amps back: {counted:.1f} A with the factor {INPUT_FACTOR:g}, against {most:g} A."
        + _fewer_strings(rig, circuit, most) * (answer != "yes"),
        basis="factor 1.25 on the label's short-circuit amps (IEC 62548, US code 690.8)",
        caution="" if answer == "yes" else "An overloaded switch can burn; do not connect this.",
    )
