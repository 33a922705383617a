"""Cables: what the roof cable costs and may carry, which section to buy, and the run to the battery with its fuse."""

from __future__ import annotations

from dataclasses import replace

from vanpower.cables import ampacity, both, cost, section_carrying, section_for
from vanpower.checks.fuses import FUSES
from vanpower.checks.words import DULL, INPUT_FACTOR, counted_amps, joined, named
from vanpower.rig import Cable, Circuit, Rig
from vanpower.verdicts import Answer, Verdict

DROP_TARGET, DROP_MOST = 0.03, 0.10
# share of the power a roof cable may cost, and from which the answer is no; common practice, no source (10 % is the
# most that ABYC E-11 allows for circuits that matter little)
BATTERY_DROP = 0.02
# share of the battery's nominal volts that the run to it may drop; common practice, no source
US_CONTINUOUS = 1.25
# a row of the US tables before its corrections carries so many times the counted amps; US code 690.8(B)(1)
TEMP_ROW = 30.0
# [°C] air for which no row is corrected; US code Table 310.15(B)(16), and no table here is for less
FUSE_OVER = 1.25
# a fuse that carries a steady current is rated so many times that; US code 690.9(B)(1), common practice elsewhere
FUSE_WITHIN = "within 180 to 300 mm of the battery"
# common practice, no source


def cable_loss(rig: Rig, circuit: Circuit) -> Verdict:
    """What the roof cable costs in full sun and in dull light, and which section keeps it small.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("puppet-stage")
    >>> cable_loss(rig, rig.circuits[0]).answer
    'yes'
    """
    amps, watts = _best_point(rig, circuit)
    drop, lost = cost(circuit.cable, amps)
    share = lost / watts
    needed = section_for(circuit.cable, DROP_TARGET * watts / amps**2)
    buy = f" {both(needed)} keeps it under {100 * DROP_TARGET:g} %." if needed else " No cable does; shorten the run."
    return Verdict(
        question=f"Cable: what do {circuit.cable.length_m:g} m of {circuit.cable.section_mm2:g} mm² cost in "
        f"{named(rig, circuit)}?",
        answer="yes" if share <= DROP_TARGET else "close" if share <= DROP_MOST else "no",
        margin=100 * (DROP_TARGET - share),
        unit="points",
        sentence=f"{amps:.1f} A drop {drop:.2f} V and cost {lost:.0f} W, {100 * share:.1f} %, in full sun; in dull "
        f"light ({100 * DULL:g} %) {DULL * drop:.2f} V, {DULL**2 * lost:.1f} W, {100 * DULL * share:.1f} %."
        f"{buy * (share > DROP_TARGET)}",
        basis=f"IEC 60228 {circuit.cable.copper} copper at {circuit.cable.temp_conductor:g} °C, out and back, label "
        "amps",
    )


def cable_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the roof cable carry the array's short-circuit current, as hot and as bundled as it lies?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> cable_current(rig, rig.circuits[0]).answer
    'yes'
    """
    cable, counted, book = circuit.cable, counted_amps(rig, circuit), rig.rule_book
    may, asked = ampacity(cable, book), row_amps(counted, book)
    answer: Answer = "yes" if _carries(cable, counted, book) else "no"
    if answer == "no" and (not may.amps or (book == "IEC" and may.remembered >= counted)):
        answer = "close"
    buy = section_carrying_counted(cable, counted, book)
    room = f"may carry {may.amps:.0f} A" if may.amps else "stands in no table we have"
    advice = f"Buy {both(buy)}." if buy else "No single cable in the table does."
    other = "US" if book == "IEC" else "IEC"
    there = ampacity(cable, other)
    return Verdict(
        question=f"Cable current: may {cable.section_mm2:g} mm² carry {named(rig, circuit)}?",
        answer=answer,
        margin=min(may.amps - counted, may.uncorrected - asked) if may.amps else 0.0,
        unit="A",
        sentence=f"{counted:.1f} A are counted and the cable {room}{_hot(cable)}.{f' {advice}' * (answer != 'yes')}",
        basis=joined(
            f"{INPUT_FACTOR:g} times the label's short-circuit amps, {_RULE_NAMES[book]}",
            may.words,
            f"by {other} rules {there.amps:.0f} A, {'enough' if _carries(cable, counted, other) else 'not enough'}",
        ),
        caution="A cable that carries too much burns; fuse it or buy a thicker one." if answer != "yes" else "",
    )


def section_to_buy(rig: Rig, circuit: Circuit) -> float | None:
    """Smallest standard section that keeps the roof cable's loss small and may carry its current. [mm²]

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> section_to_buy(rig, rig.circuits[0])
    10.0
    """
    amps, watts = _best_point(rig, circuit)
    by_loss = section_for(circuit.cable, DROP_TARGET * watts / amps**2)
    by_amps = section_carrying_counted(circuit.cable, counted_amps(rig, circuit), rig.rule_book)
    return max(by_loss, by_amps) if by_loss and by_amps else None


def battery_side(rig: Rig, circuit: Circuit) -> Verdict:
    """Is the run from controller to battery thick enough, and fused at the battery?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("bookmobile")
    >>> print(battery_side(rig, rig.circuits[0]).sentence)
    20 A drop 0.06 V (0.5 %); the cable may carry 70 A, and 30 A guards it.
    """
    amps, cable = circuit.controller.i_charge_max, circuit.battery_cable
    answer, margin, unit, sentence = (
        _battery_advice(rig, circuit) if cable is None else _battery_cable(rig, circuit, cable, amps)
    )
    which = f" of {circuit.wiring.grouping}" if len(rig.circuits) > 1 else ""
    return Verdict(
        question=f"Battery side: are cable and fuse{which} from {circuit.controller.name} to the battery right?",
        answer=answer,
        margin=margin,
        unit=unit,
        sentence=sentence,
        basis=joined(
            f"the controller's {amps:g} A all day (US code 706.23(C)), fuse at least {FUSE_OVER:g} times that and not "
            f"above what the cable may carry, drop under {100 * BATTERY_DROP:g} % (common practice, no source)",
            *([ampacity(cable, rig.rule_book).words] if cable else []),
        ),
        caution=f"A battery without a fuse {FUSE_WITHIN} starts fires." if circuit.i_fuse_battery is None else "",
    )


def battery_fuses(amps: float, carries: float) -> tuple[float, ...]:
    """Fuse sizes that hold a steady current and still guard a cable that may carry so much. [A]

    Examples
    --------
    >>> battery_fuses(20.0, 41.0)
    (25, 30, 32, 35, 40)
    """
    return tuple(size for size in FUSES if FUSE_OVER * amps <= size <= carries)


def row_amps(counted: float, rule_book: str) -> float:
    """What the table's row has to carry before corrections. [A]

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
    fits = section_carrying(cable, counted, rule_book)
    rows = section_carrying(replace(cable, temp_around=TEMP_ROW, bundled=1), row_amps(counted, rule_book), rule_book)
    return max(fits, rows) if fits and rows else None


_RULE_NAMES = {
    "IEC": "IEC 60364-7-712 (SS 638)",
    "US": "US code 690.8(B): the row carries 1.25 times them, the corrected row carries them",
}


def _best_point(rig: Rig, circuit: Circuit) -> tuple[float, float]:
    """Label amps and watts of a circuit at best power."""
    amps = sum(min(rig.panels[p].i_mp for p in string) for string in circuit.wiring.strings)
    return amps, sum(rig.panels[p].p_mp for p in circuit.wiring.panels)


def _carries(cable: Cable, counted: float, rule_book: str) -> bool:
    """Whether a cable may carry counted amps by a rule book, remembered rows left out."""
    may = ampacity(cable, rule_book)
    return may.amps >= counted and (rule_book == "IEC" or may.uncorrected >= row_amps(counted, rule_book))


def _hot(cable: Cable) -> str:
    """Where the cable lies."""
    bundle = f", {cable.bundled} circuits in a bundle" if cable.bundled > 1 else ""
    lies = {"apart": "in free air", "surface": "on a surface", "conduit": "in conduit"}[cable.laying]
    return f" {lies} at {cable.temp_around:g} °C{bundle}"


def _battery_advice(rig: Rig, circuit: Circuit) -> tuple[Answer, float, str, str]:
    """What to buy where the file names no battery cable, and perhaps a fuse."""
    amps, fitted = circuit.controller.i_charge_max, circuit.i_fuse_battery
    size = next(size for size in FUSES if size >= FUSE_OVER * amps)
    if fitted and fitted < FUSE_OVER * amps:
        short = f"A {fitted:g} A fuse will open on a bright day, fit {size:g} A; and the file names no cable."
        return "no", fitted - FUSE_OVER * amps, "A", short
    section = section_carrying(Cable(), fitted or size, rig.rule_book)
    buy = both(section) if section else "a cable that a maker rates for it"
    if fitted:
        return "close", 0.0, "A", f"The file names no cable. For the {fitted:g} A fuse: at least {buy}, kept short."
    sentence = f"The file names none. For {amps:g} A: a {size:g} A fuse at the battery and at least {buy}, kept short."
    return "close", 0.0, "A", sentence


def _battery_cable(rig: Rig, circuit: Circuit, cable: Cable, amps: float) -> tuple[Answer, float, str, str]:
    """Answer, margin, unit and sentence for a battery cable that is named."""
    may = ampacity(cable, rig.rule_book).amps
    sizes, fuse = battery_fuses(amps, may), circuit.i_fuse_battery
    drop = cost(cable, amps)[0]
    share = drop / rig.battery.v_nominal
    said = f"{amps:g} A drop {drop:.2f} V ({100 * share:.1f} %); the cable may carry {may:.0f} A"
    if not sizes:
        size = next(size for size in FUSES if size >= FUSE_OVER * amps)
        thick = section_carrying(cable, size, rig.rule_book)
        buy = f"buy {both(thick)} with a {size:g} A fuse" if thick else "no single cable does"
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
        thick = section_for(cable, BATTERY_DROP * rig.battery.v_nominal / amps)
        buy = f" {both(thick)} keeps it under {100 * BATTERY_DROP:g} %." if thick else " Shorten the run."
        return "close", 100 * (BATTERY_DROP - share), "points", f"{said}, and {fuse:g} A guards it.{buy}"
    return "yes", may - fuse, "A", f"{said}, and {fuse:g} A guards it."
