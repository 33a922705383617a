"""Cables: what the roof cable costs and may carry, which section to buy, and the run to the battery with its fuse."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vanpower.checks.common import DULL, INPUT_FACTOR, LIGHT_TOP, array_in, counted_amps, joined, named
from vanpower.checks.fuses import FUSES
from vanpower.components.cables.ampacity import ampacity, section_carrying
from vanpower.components.cables.gauges import both
from vanpower.components.cables.heat import cost, section_for, temp_copper, warmed
from vanpower.components.cables.resistance import LEAST_SECTION, TO_BUY, resistance
from vanpower.engine.curves import Curves, current_at
from vanpower.results.numbers import known
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import SOLAR, XLPE, Cable, Circuit, Rig, Snapshot

DROP_TARGET, DROP_MOST = 0.03, 0.10
# share of the power a roof cable may cost, and from which the answer is no; common practice, no source (10 % is the
# most that ABYC E-11 allows for circuits that matter little)
BATTERY_DROP = 0.02
# share of the battery's nominal volts that the run to it may drop; common practice, no source
SHORT_RUN_M = 1.0
# [m] of a battery cable that is kept short; no source
US_CONTINUOUS = 1.25
# terminals, and a thin conductor's fuse, take so many times the counted amps; US code 690.8(B)(1), 690.9(B)
FUSE_OVER = 1.25
# a fuse that carries a steady current is rated so many times that; US code 690.9(B)(1), common practice elsewhere
FUSE_WITHIN = "at the battery, within 180 mm of cable"
# seven inches along the conductor where it cannot sit at the source itself: boats by US law, 33 CFR 183.455(b)(1); for
# vans common practice
TEMP_FOR_GOOD = 90.0
# [°C] copper that may stay so hot for good: solar cable stands 120 °C for 20 000 h (EN 50618) and 90 °C without an end
# (from memory), and few terminals stand more
CROSSING = 2001
# volts between battery and what a cable may drop at most, at which a plain switch's amps are looked for; the line
# between two of them errs by less than a milliwatt


def cable_loss(rig: Rig, circuit: Circuit) -> Verdict:
    """What share of the power the roof cable loses in full sun and in dull light, and which section keeps that small.

    With a plain switch ("direct") volts lost in the cable may be spare: there, what counts is the watts that the
    battery would gain if the cable had no resistance.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> cable_loss(rig, rig.circuits[0]).answer
    'yes'
    """
    tied = circuit.controller.tracker == "direct"
    share, said, basis = _switched_loss(rig, circuit) if tied else _tracked_loss(rig, circuit)
    over = share > DROP_TARGET
    return Verdict(
        question=f"Cable: what do {circuit.cable.length_m:g} m of {circuit.cable.section_mm2:g} mm² cost in "
        f"{named(rig, circuit)}?",
        answer="yes" if not over else "close" if share <= DROP_MOST else "no",
        margin=100 * (DROP_TARGET - share),
        unit="points",
        sentence=said + _thicker_words(rig, circuit) * over,
        basis=basis,
    )


def cable_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the roof cable carry the array's short-circuit current, given its insulation, laying, bundling and the air?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> cable_current(rig, rig.circuits[0]).answer
    'yes'
    """
    cable, counted, book = circuit.cable, counted_amps(rig, circuit), rig.rule_book
    may, fits, doubt = ampacity(cable, book), _carries(cable, counted, book), _doubt(cable, counted, book)
    answer: Answer = "yes" if fits and not doubt else "close" if fits or not may.uncorrected else "no"
    buy = section_carrying_counted(cable, counted, book)
    advice = f"Buy {both(buy)}." if buy else _hardier_words(cable, counted, book)
    other = "US" if book == "IEC" else "IEC"
    there = ampacity(cable, other)
    return Verdict(
        question=f"Cable current: may {cable.section_mm2:g} mm² carry {named(rig, circuit)}?",
        answer=answer,
        margin=min(may.amps - counted, may.ends - row_amps(counted, book)) if may.uncorrected else 0.0,
        unit="A",
        sentence=f"{counted:.1f} A are counted and the cable {_room(cable, counted, book)}."
        + doubt * fits
        + f" {advice}" * (answer != "yes"),
        basis=joined(
            f"{INPUT_FACTOR:g} times the label's short-circuit amps, {_RULE_NAMES[book]}",
            may.words + _assumed(cable, cable.on_roof),
            f"by {other} rules {there.guarded:.0f} A, {'enough' if _carries(cable, counted, other) else 'not enough'}",
        ),
        caution="A cable that carries too much can burn; fuse it or buy a thicker one." if answer != "yes" else "",
    )


def _hardier_words(cable: Cable, counted: float, book: str) -> str:
    """What to buy where no section of this insulation carries so many amps in such heat."""
    hardier = replace(cable, insulation=SOLAR)
    buy = section_carrying_counted(hardier, counted, book)
    if not buy or cable.on_roof.insulation == SOLAR:
        return "No single cable in the table does."
    return f"No {cable.on_roof.insulation} cable does in such heat: buy solar cable of {both(buy)}."


def section_to_buy(rig: Rig, circuit: Circuit) -> float | None:
    """Smallest standard section that keeps the roof cable's loss small and may carry its current. [mm²]

    Parameters
    ----------
    rig : Rig
    circuit : Circuit
        One of its circuits.

    Returns
    -------
    float or None
        None where no standard section does both. [mm²]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> section_to_buy(rig, rig.circuits[0])
    10.0
    """
    by_loss = _section_losing(rig, circuit)
    by_amps = section_carrying_counted(circuit.cable, counted_amps(rig, circuit), rig.rule_book)
    return max(by_loss, by_amps) if by_loss and by_amps else None


def battery_side(rig: Rig, circuit: Circuit) -> Verdict:
    """Is the cable from controller to battery thick enough, and fused at the battery?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(battery_side(rig, rig.circuits[0]).sentence)
    20 A drop 0.07 V (0.6 %); the cable (PVC 70 at 45 °C) may carry 51 A, and 30 A guards it.
    """
    amps, cable = circuit.controller.i_charge_max, circuit.battery_cable
    answer, margin, unit, sentence = (
        _battery_advice(rig, circuit) if cable is None else _battery_cable(rig, circuit, cable.at_battery)
    )
    which = f" of {circuit.wiring.grouping}" if len(rig.circuits) > 1 else ""
    words = [ampacity(cable.at_battery, rig.rule_book).words + _assumed(cable, cable.at_battery)] if cable else []
    return Verdict(
        question=f"Battery side: are cable and fuse{which} from {circuit.controller.name} to the battery right?",
        answer=answer,
        margin=margin,
        unit=unit,
        sentence=sentence,
        basis=joined(
            f"the controller's {amps:g} A all day (US code 706.23(C)), fuse at least {FUSE_OVER:g} times that and not "
            f"above what the cable may carry, drop under {100 * BATTERY_DROP:g} % (common practice, no source)",
            *words,
        ),
        caution=f"Without a fuse {FUSE_WITHIN}, a short can start a fire." if circuit.i_fuse_battery is None else "",
        stated=cable is not None and circuit.i_fuse_battery is not None,
    )


def battery_fuses(amps: float, carries: float) -> tuple[float, ...]:
    """Fuse sizes that hold a steady current and still guard a cable that may carry so much. [A]

    Examples
    --------
    >>> battery_fuses(20.0, 41.0)
    (25, 30, 32, 35, 40)
    """
    return tuple(size for size in FUSES if FUSE_OVER * amps <= size <= carries)


def battery_section(rig: Rig, circuit: Circuit, i_fuse: float) -> float | None:
    """Smallest standard section to the battery that a fuse guards and that drops few volts, or None. [mm²]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> battery_section(rig, rig.circuits[0], 30.0), battery_section(rig, rig.circuits[0], 60.0)
    (6.0, 16.0)
    """
    run, amps = (circuit.battery_cable or Cable(length_m=SHORT_RUN_M)).at_battery, circuit.controller.i_charge_max
    by_fuse = section_carrying(run, i_fuse, rig.rule_book)
    by_drop = section_for(run, amps, BATTERY_DROP * rig.battery.v_nominal)
    return max(by_fuse, by_drop) if by_fuse and by_drop else None


def row_amps(counted: float, rule_book: str) -> float:
    """What the terminals, and by US rules a thin conductor's fuse, have to take. [A]

    Examples
    --------
    >>> row_amps(14.0, "US"), row_amps(14.0, "IEC")
    (17.5, 14.0)
    """
    return counted * (US_CONTINUOUS if rule_book == "US" else 1.0)


def section_carrying_counted(cable: Cable, counted: float, rule_book: str) -> float | None:
    """Smallest standard section that carries counted amps by all that a rule book asks. [mm²]

    Examples
    --------
    >>> hot = Cable(section_mm2=4.0, temp_around=60.0)
    >>> section_carrying_counted(hot, 30.0, "IEC"), section_carrying_counted(hot, 30.0, "US")
    (4.0, 10.0)
    """
    runs = ((section, replace(cable, section_mm2=section)) for section in TO_BUY)
    fit = (s for s, run in runs if _carries(run, counted, rule_book) and not _doubt(run, counted, rule_book))
    return next(fit, None)


_RULE_NAMES = {
    "IEC": "IEC 60364-7-712 (SS 638)",
    "US": "US code 690.8(B): the corrected row carries them, the terminals take 1.25 times them",
}


_NO_FUSE = "No fuse we know holds {:g} A all day; split the panels between controllers."


def _tracked_loss(rig: Rig, circuit: Circuit) -> tuple[float, str, str]:
    """Share, sentence and basis of what a cable costs before a tracker."""
    amps, watts = _best_point(rig, circuit)
    drop, lost = cost(circuit.cable, amps)
    dull = DULL * amps * resistance(circuit.cable)
    share = lost / watts
    said = (
        f"{amps:.1f} A drop {drop:.2f} V and cost {known(lost)} W, {100 * share:.1f} %, in full sun; in dull light "
        f"({100 * DULL:g} %) {dull:.2f} V, {known(DULL * amps * dull)} W, {100 * dull * amps / watts:.1f} %."
    )
    return share, said, f"{_copper_words(circuit.cable, amps)}, out and back, label amps"


def _switched_loss(rig: Rig, circuit: Circuit) -> tuple[float, str, str]:
    """Share, sentence and basis of what a cable costs before a plain switch: the amps it keeps from the battery."""
    v_batt, curves = rig.battery.v_absorption, _bare_curves(rig, circuit)
    amps, most = (_tied_amps(curves, v_batt, cable) for cable in (circuit.cable, replace(circuit.cable, length_m=0.0)))
    share = 1.0 - amps / most if most > 0 else 0.0
    said = (
        f"{amps:.1f} A drop {cost(circuit.cable, amps)[0]:.2f} V. A plain switch holds the panels at the battery's "
        f"volts: no cable at all would deliver {known(v_batt * (most - amps))} W more, "
        f"{100 * share:.1f} %, on a hot roof in full sun."
    )
    basis = (
        f"one-diode model at {LIGHT_TOP:g} W/m², {rig.climate.temp_cell_hottest:g} °C cells, battery at {v_batt:g} V; "
        f"{_copper_words(circuit.cable, amps)}, out and back"
    )
    return share, said, basis


def _bare_curves(rig: Rig, circuit: Circuit) -> Curves:
    """The array's curve before its cable, on a hot roof in full sun."""
    bare = replace(circuit, cable=replace(circuit.cable, length_m=0.0))
    return array_in(rig, bare, Snapshot(light=LIGHT_TOP, temp_cell=rig.climate.temp_cell_hottest)).curves


def _tied_amps(curves: Curves, v_batt: float, cable: Cable) -> float:
    """What an array sends through a cable into a battery that holds its volts. [A]"""
    most = max(float(current_at(curves, np.array([[v_batt]]))[0][0, 0]), 0.0)
    ohms = resistance(warmed(cable, most))
    volts = v_batt + np.linspace(0.0, ohms * most, CROSSING)
    amps = current_at(curves, volts[None])[0][0]
    return float(np.interp(0.0, volts - v_batt - ohms * amps, amps)) if ohms * most else most


def _section_losing(rig: Rig, circuit: Circuit) -> float | None:
    """Smallest standard section that keeps the roof cable's loss under the target. [mm²]"""
    amps, watts = _best_point(rig, circuit)
    if circuit.controller.tracker != "direct":
        return section_for(circuit.cable, amps, DROP_TARGET * watts / amps)
    v_batt, curves = rig.battery.v_absorption, _bare_curves(rig, circuit)
    most = _tied_amps(curves, v_batt, replace(circuit.cable, length_m=0.0))
    runs = ((s, replace(circuit.cable, section_mm2=s)) for s in TO_BUY)
    return next((s for s, run in runs if _tied_amps(curves, v_batt, run) >= (1 - DROP_TARGET) * most), None)


def _thicker_words(rig: Rig, circuit: Circuit) -> str:
    """Which section keeps the loss small, and the watts that it delivers."""
    section = section_to_buy(rig, circuit)
    if section is None and _section_losing(rig, circuit):
        return f" {_hardier_words(circuit.cable, counted_amps(rig, circuit), rig.rule_book)}"
    if section is None:
        return " No cable does; shorten the run."
    thick = replace(circuit.cable, section_mm2=section)
    if circuit.controller.tracker == "direct":
        curves, v_batt = _bare_curves(rig, circuit), rig.battery.v_absorption
        more = v_batt * (_tied_amps(curves, v_batt, thick) - _tied_amps(curves, v_batt, circuit.cable))
    else:
        amps = _best_point(rig, circuit)[0]
        more = cost(circuit.cable, amps)[1] - cost(thick, amps)[1]
    return f" {both(section)} keeps it under {100 * DROP_TARGET:g} % and delivers {known(more)} W more then."


def _copper_words(cable: Cable, amps: float) -> str:
    """Kind of copper, its temperature, and where that comes from."""
    kind = f"IEC 60228 {cable.copper} copper"
    if cable.temp_conductor is not None:
        return f"{kind} at {cable.temp_conductor:g} °C, as the file says"
    around = cable.on_roof.temp_around
    return f"{kind} at {temp_copper(cable, amps):.0f} °C, as {amps:.1f} A warm it in air of {around:g} °C"


def _best_point(rig: Rig, circuit: Circuit) -> tuple[float, float]:
    """Label amps and watts of a circuit at best power."""
    amps = sum(min(rig.panels[p].i_mp for p in string) for string in circuit.wiring.strings)
    return amps, sum(rig.panels[p].p_mp for p in circuit.wiring.panels)


def _carries(cable: Cable, counted: float, rule_book: str) -> bool:
    """Whether a cable and its ends may carry counted amps by a rule book."""
    may = ampacity(cable, rule_book)
    return may.amps >= counted and may.ends >= row_amps(counted, rule_book)


def _doubt(cable: Cable, counted: float, rule_book: str) -> str:
    """What speaks against a cable that carries counted amps by its table; empty where nothing does."""
    if cable.section_mm2 < 0.999 * LEAST_SECTION:
        return f" It is thinner than the {LEAST_SECTION:g} mm² with which solar cable begins."
    hot = temp_copper(replace(cable, temp_conductor=None), counted)
    if rule_book == "US" or hot <= TEMP_FOR_GOOD:
        return ""
    return f" Its copper gets up to {hot:.0f} °C, and more than {TEMP_FOR_GOOD:g} °C is not for good nor for terminals."


def _room(cable: Cable, counted: float, rule_book: str) -> str:
    """What a cable may carry, and where it lies; its ends where they decide."""
    may = ampacity(cable, rule_book)
    if not may.uncorrected:
        return f"stands in no table we have{_lies(cable.on_roof)}"
    said = f"may carry {may.amps:.0f} A{_lies(cable.on_roof)}"
    asked = row_amps(counted, rule_book)
    return said if may.ends >= asked else f"{said}, and its ends {may.ends:.0f} A where {asked:.1f} A are asked"


def _lies(cable: Cable) -> str:
    """Where the cable lies."""
    bundle = f", {cable.bundled} circuits in a bundle" if cable.bundled > 1 else ""
    lies = {"apart": "in free air", "surface": "on a surface", "conduit": "in conduit"}[cable.laying]
    return f" {lies} at {cable.temp_around:g} °C{bundle}"


def _assumed(cable: Cable, laid: Cable) -> str:
    """What of a cable the file leaves open, and what was taken."""
    taken = [f"{laid.insulation} insulation"] * (cable.insulation is None)
    taken += [f"{laid.temp_around:g} °C of air"] * (cable.temp_around is None)
    return f" ({' and '.join(taken)} taken, since the file names none)" if taken else ""


def _fuse_holding(amps: float) -> float | None:
    """The smallest fuse that holds a steady current, or None. [A]"""
    return next((size for size in FUSES if size >= FUSE_OVER * amps), None)


def _battery_advice(rig: Rig, circuit: Circuit) -> tuple[Answer, float, str, str]:
    """What to buy where the file names no battery cable, and perhaps a fuse."""
    amps, fitted = circuit.controller.i_charge_max, circuit.i_fuse_battery
    size = _fuse_holding(amps)
    if size is None:
        return "no", FUSES[-1] - FUSE_OVER * amps, "A", _NO_FUSE.format(amps)
    if fitted and fitted < FUSE_OVER * amps:
        short = f"A {fitted:g} A fuse will open on a bright day, fit {size:g} A; and the file names no cable."
        return "no", fitted - FUSE_OVER * amps, "A", short
    section, run = battery_section(rig, circuit, fitted or size), Cable().at_battery
    buy = f"{both(section)} if {run.insulation} at {run.temp_around:g} °C" if section else "what a maker rates for it"
    if fitted:
        return "close", 0.0, "A", f"The file names no cable. For the {fitted:g} A fuse: at least {buy}, kept short."
    sentence = f"The file names none. For {amps:g} A: a {size:g} A fuse at the battery and at least {buy}, kept short."
    return "close", 0.0, "A", sentence


def _battery_cable(rig: Rig, circuit: Circuit, cable: Cable) -> tuple[Answer, float, str, str]:
    """Answer, margin, unit and sentence for a battery cable that is named."""
    may, amps = ampacity(cable, rig.rule_book).guarded, circuit.controller.i_charge_max
    sizes, fuse = battery_fuses(amps, may), circuit.i_fuse_battery
    drop = cost(cable, amps)[0]
    share = drop / rig.battery.v_nominal
    which = f"{cable.insulation} at {cable.temp_around:g} °C"
    said = f"{amps:g} A drop {drop:.2f} V ({100 * share:.1f} %); the cable ({which}) may carry {may:.0f} A"
    if not sizes:
        size = _fuse_holding(amps)
        if size is None:
            return "no", FUSES[-1] - FUSE_OVER * amps, "A", _NO_FUSE.format(amps)
        thick = battery_section(rig, circuit, size)
        buy = f"buy {both(thick)} with a {size:g} A fuse" if thick else f"no single cable of {cable.insulation} does"
        buy += _better_insulated(rig, circuit, size, thick)
        return "no", may - FUSE_OVER * amps, "A", f"{said}, and no fuse both holds and guards it; {buy}."
    if fuse is None:
        return "close", 0.0, "A", f"{said}. The file names no fuse: fit {sizes[0]:g} A at the battery."
    if not FUSE_OVER * amps <= fuse <= may:
        over = f"guards nothing above {may:.0f} A" if fuse > may else "will open on a bright day"
        return (
            "no",
            min(may - fuse, fuse - FUSE_OVER * amps),
            "A",
            f"{said}; a {fuse:g} A fuse {over}, fit {sizes[0]:g} A.",
        )
    if share > BATTERY_DROP:
        thick = battery_section(rig, circuit, fuse)
        buy = f" {both(thick)} keeps it under {100 * BATTERY_DROP:g} %." if thick else " Shorten the run."
        return "close", 100 * (BATTERY_DROP - share), "points", f"{said}, and {fuse:g} A guards it.{buy}"
    return "yes", may - fuse, "A", f"{said}, and {fuse:g} A guards it."


def _better_insulated(rig: Rig, circuit: Circuit, i_fuse: float, thick: float | None) -> str:
    """The thinner section that a better insulation asks for, where there is one."""
    better = replace(circuit, battery_cable=replace(circuit.battery_cable or Cable(), insulation=XLPE))
    thinner = battery_section(rig, better, i_fuse)
    return f", or {both(thinner)} of {XLPE}" if thinner and (thick is None or thinner < thick) else ""
