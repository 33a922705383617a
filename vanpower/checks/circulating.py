"""Circulating current between parallel strings of unlike voltage while no power is drawn."""

from __future__ import annotations

import math

from vanpower.checks.backfeed import (
    CIRCULATES_HOT,
    CIRCULATES_LITTLE,
    CIRCULATES_WARM,
    LIGHT_EDGE,
    OPENING,
    TESTED,
    Circulation,
    circulation,
    label_limits,
    opens,
    too_much,
)
from vanpower.checks.common import named, rounded_up
from vanpower.results.numbers import known
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig

APART = "Do not join them: a controller for each, or strings of like volts."
WARMER = " It lives warmer for it, which a controller for each, or strings of like volts, would spare it."
# the cure for unlike strings that must not be joined, and for those that may
WHEN_IDLE = "battery full, controller asleep, or isolator open"
# when nothing is drawn, and the strings stay joined on the roof


def circulating(rig: Rig, circuit: Circuit) -> Verdict:
    """Can the strings of a circuit withstand the current that circulates between them while no power is drawn?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> circulating(rig, rig.circuits[0]).answer  # 2.7 A of 24.2 V panels into those of 21.5 V
    'close'
    >>> twins = example("bookmobile")
    >>> print(circulating(twins, twins.circuits[0]).sentence)
    The strings are alike: none drives current through another.
    """
    found = circulation(rig, circuit)
    answer, margin, sentence = _alike() if found is None else _judged(rig, circuit, found)
    return Verdict(
        question=f"Circulating current: do the strings of {named(rig, circuit)} stand each other with nothing drawn?",
        answer=answer,
        margin=margin,
        unit="A",
        sentence=sentence,
        basis=f"one-diode model, all strings in full sun, cells at {rig.climate.temp_coldest:g} and "
        f"{rig.climate.temp_cell_hottest:g} °C, the worse; {LIGHT_EDGE:g} W/m² at a cloud's edge. All "
        f"day no more than the label's largest fuse and the panel's own watts (no source); {TESTED:g} times that fuse "
        f"is for two hours (IEC 61730-2 MST 26); a fuse is sure to open from {OPENING:g} times its amps (IEC 60269-6)",
        caution="A panel fed all day by a taller string can overheat and burn, with nobody there. Cover the glass "
        "before you part the strings; never pull plugs under load."
        if answer == "no"
        else "",
        stated=found is None or not _unlabelled(rig, circuit, found),
    )


def _alike() -> tuple[Answer, float, str]:
    """Said where every string is the same."""
    return "yes", 0.0, "The strings are alike: none drives current through another."


def _judged(rig: Rig, circuit: Circuit, found: Circulation) -> tuple[Answer, float, str]:
    """Answer, margin and sentence for unlike strings."""
    limit = label_limits(rig, circuit)[found.string]
    own = CIRCULATES_HOT * found.amps / max(found.share, 1e-9)
    stands = min(math.inf if math.isnan(limit) else limit, own)
    margin, bad = stands - found.amps, too_much(found, limit)
    if found.share <= CIRCULATES_LITTLE:
        return "yes", margin, "Next to nothing flows between the strings, though they are not alike."
    flows = _flows(rig, circuit, found, limit)
    if circuit.blocking_diodes:
        fails = "; one that fails may fail shorted, which nothing shows, so test them every year" * bad
        return (
            ("close" if bad else "yes"),
            margin,
            f"A diode in each string stops it{fails}. Without it, and with {flows}",
        )
    if bad:
        hot = found.share > CIRCULATES_HOT
        burns = f" No test says that a panel takes more than its own watts all day, {own:.1f} A here." * hot
        return "no", margin, f"With {flows}{burns}{_fuse_words(found, circuit.i_fuse_string)} {APART}"
    warm = found.share > CIRCULATES_WARM or not found.amps_edge <= limit
    return ("close" if warm else "yes"), margin, f"With {flows}{WARMER * warm}"


def _unlabelled(rig: Rig, circuit: Circuit, found: Circulation) -> bool:
    """Whether only a label that names no largest fuse keeps the answer from a yes."""
    return found.share <= CIRCULATES_WARM and math.isnan(label_limits(rig, circuit)[found.string])


def _flows(rig: Rig, circuit: Circuit, found: Circulation, limit: float) -> str:
    """Who drives how much into whom, and what that panel stands."""
    strings = circuit.wiring.strings
    by = " and ".join("+".join(f"P{p + 1}" for p in strings[k]) for k in found.fed_by)
    drive = "drive" if len(found.fed_by) > 1 else "drives"
    panel = rig.panels[found.panel]
    label = "its label names no largest fuse" if math.isnan(limit) else f"it is rated for {limit:g} A"
    return (
        f"nothing drawn ({WHEN_IDLE}) {by} {drive} {rounded_up(found.amps)} A, {known(found.watts)} W, into "
        f"P{found.panel + 1}, a panel of {known(panel.p_mp)} W, every sunny hour, {rounded_up(found.amps_edge)} A at a "
        f"cloud's edge; {label}."
    )


def _fuse_words(found: Circulation, fuse: float | None) -> str:
    """Why the string's fuse does not mend it."""
    if fuse is None:
        return ""
    sure = f"A {fuse:g} A fuse is sure to open only from {OPENING * fuse:.1f} A"
    if opens(found.amps, fuse):
        return f" {sure}; it takes the string out on the first sunny day, and lets less pass on others."
    return f" {sure}, so it does not stop this."
