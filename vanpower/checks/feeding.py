"""The battery as a source of fault current in the roof cable, where the controller can conduct backwards."""

from __future__ import annotations

import math

from vanpower.checks.backfeed import battery_push, feeds_back
from vanpower.checks.common import named, rounded_up, short_circuit_amps
from vanpower.checks.fuses import FUSE_LEAST, FUSES, US_FUSE_LEAST
from vanpower.components.cables.ampacity import ampacity, section_carrying
from vanpower.components.cables.gauges import both
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig


def battery_feed(rig: Rig, circuit: Circuit) -> Verdict:
    """Does a fuse open before current from the battery, flowing back through the controller, burns the roof cable?

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> circuit = rig.circuits[0]  # its battery fuse has 30 A
    >>> plain = replace(circuit, controller=replace(circuit.controller, tracker="direct"))
    >>> battery_feed(rig, plain).answer, battery_feed(rig, replace(plain, i_fuse_battery=None)).answer
    ('yes', 'close')
    """
    answer, margin, sentence = _judged(rig, circuit)
    controller = circuit.controller
    sheet = (
        " while it is closed, as is taken for granted; its sheet decides (feeds_back)"
        if controller.feeds_back is None
        else ", as its sheet says"
    )
    carries = f"; {ampacity(circuit.cable, rig.rule_book).words}" if circuit.cable.length_m else ""
    back = f"{controller.name} lets battery current back{sheet}" if feeds_back(controller) else "its sheet decides"
    return Verdict(
        question=f"Battery feed: does a fuse open before the battery burns the roof cable of {named(rig, circuit)}?",
        answer=answer,
        margin=margin,
        unit="A",
        sentence=sentence,
        basis=f"{back}; a shorted roof cable is then fed by the battery, which its fuse alone limits (US code 690.9(A) "
        f"counts batteries as sources){carries}",
        caution="A battery gives thousands of amps into a short: a cable without a fuse can burn at once."
        if answer != "yes"
        else "",
        stated=answer != "close",
    )


def array_fuses(rig: Rig, circuit: Circuit) -> tuple[float, ...]:
    """Sizes for a fuse in the roof cable at the controller: they carry bright sun and still guard the cable. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> array_fuses(rig, rig.circuits[0])  # over 1.5 x 12.5 A
    (20, 25, 30, 32, 35, 40)
    """
    least, may = _least(rig, circuit), ampacity(circuit.cable, rig.rule_book).guarded
    return tuple(size for size in FUSES if _holds(size, least, rig.rule_book) and size <= may)


def array_fuse_to_fit(rig: Rig, circuit: Circuit) -> float | None:
    """The fuse to put into the roof cable at the controller; None where none is needed or none fits. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> array_fuse_to_fit(rig, rig.circuits[0]) is None  # a converter
    True
    """
    fitted, least = circuit.i_fuse_array, _least(rig, circuit)
    may = ampacity(circuit.cable, rig.rule_book).guarded
    if fitted and _holds(fitted, least, rig.rule_book) and fitted <= may:
        return fitted
    guarded = not feeds_back(circuit.controller) or (circuit.i_fuse_battery or math.inf) <= may
    fits = array_fuses(rig, circuit)
    return None if (guarded and not fitted) or not fits else fits[0]


def least_array_fuse(rig: Rig, circuit: Circuit) -> float:
    """The smallest fuse in the roof cable that carries the whole array in bright sun; infinity above those made. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> least_array_fuse(rig, rig.circuits[0])  # over 1.5 x 12.5 A
    20
    """
    least = _least(rig, circuit)
    return next((size for size in FUSES if _holds(size, least, rig.rule_book)), math.inf)


def _least(rig: Rig, circuit: Circuit) -> float:
    """What a fuse that carries the whole array has to hold. [A]"""
    return (US_FUSE_LEAST if rig.rule_book == "US" else FUSE_LEAST) * short_circuit_amps(rig, circuit)


def _holds(size: float, least: float, rule_book: str) -> bool:
    """Whether a fuse carries the array in bright sun; strictly over the bound by IEC rules, from it up by US rules."""
    return size >= least if rule_book == "US" else size > least


def _judged(rig: Rig, circuit: Circuit) -> tuple[Answer, float, str]:
    """Answer, margin and sentence."""
    fitted, least = circuit.i_fuse_array, _least(rig, circuit)
    may, guard, fits = ampacity(circuit.cable, rig.rule_book).guarded, battery_push(circuit), array_fuses(rig, circuit)
    fit = f"fit {fits[0]:g} A in the roof cable, at its controller's end" if fits else _thicker(rig, circuit)
    if fitted and not _holds(fitted, least, rig.rule_book):
        bound = f"{'at least' if rig.rule_book == 'US' else 'over'} {rounded_up(least)} A"
        return "no", fitted - least, f"{fitted:g} A in the roof cable opens in bright light: it must be {bound}; {fit}."
    if not feeds_back(circuit.controller):
        return "yes", may - (fitted or 0.0), "No battery current comes back; the fuse there does no harm."
    if math.isinf(guard):
        none = "Battery current can flow back through the controller, and the file names no fuse on its way"
        other = f", or a battery fuse up to {may:.0f} A" if circuit.cable.length_m else f"; {_NO_CABLE}"
        return "close", 0.0, f"{none}: {fit}{other}."
    if circuit.cable.length_m == 0:
        return (
            "close",
            0.0,
            f"{guard:g} A lets battery current back; {_NO_CABLE}.",
        )
    if guard > may:
        return (
            "no",
            may - guard,
            f"{guard:g} A guards nothing above {may:.0f} A, which the roof cable may carry: {fit}.",
        )
    return "yes", may - guard, f"{guard:g} A opens before the roof cable, which may carry {may:.0f} A."


_NO_CABLE = "the file gives no roof cable, which must carry that"


def _thicker(rig: Rig, circuit: Circuit) -> str:
    """What to buy where no fuse both holds the sun and guards the cable."""
    size = least_array_fuse(rig, circuit)
    section = section_carrying(circuit.cable, size, rig.rule_book)
    return (
        f"buy a roof cable of {both(section)} with {size:g} A" if section else "no single cable does; use fewer strings"
    )
