"""Parts that are touched or switched: branch plugs, extension lead, isolator, and the voltage on bare ends."""

from __future__ import annotations

from collections.abc import Mapping

from vanpower.checks.backfeed import must_stay_apart
from vanpower.checks.common import (
    DO_NOT_TOUCH,
    INPUT_FACTOR,
    NO_ARCS,
    NOT_WET,
    V_DO_NOT_TOUCH,
    V_EXTRA_LOW,
    V_WET,
    cold_volts,
    counted_amps,
    named,
    rounded_down,
    rounded_up,
    touch_words,
    when_coldest,
)
from vanpower.checks.fuses import can_be_fused
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig

LICENSED = f"Above {V_EXTRA_LOW:g} V DC, the ceiling of extra-low voltage, a licensed person fits it."
I_PLUG = 30.0
# [A] what many branch plugs carry; common practice, no source, so that it never carries a yes
BURNING_PLUGS = "Overloaded, mixed or wet plugs can burn."
ONE_MAKE = "plugs of two makers need not fit each other (IEC TR 63225, its scope read)"
# why one make throughout is asked for
WIND = (
    "Lay tilted panels flat before driving off and before wind: a gust lifts a tilted panel like a sail. Fix them at "
    "both edges, and do not climb on the roof in wind."
)
# said wherever panels are tilted by hand
TURNING = (
    " Weigh a panel down that stands beside the van, and lead its cable where nobody trips; one that you turn is live "
    "in daylight: touch its frame alone."
)
# said of panels that are turned after the sun


def plugs(rig: Rig, circuit: Circuit) -> Verdict:
    """Are the branch plugs rated for the current of all strings together?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(plugs(rig, rig.circuits[0]).sentence)
    1.25 x 12.5 A = 15.6 A go through one plug, against 30 A.
    """
    counted, rating = counted_amps(rig, circuit), circuit.i_plug_max or I_PLUG
    question = f"Plugs: do the branch plugs of {named(rig, circuit)} carry its strings?"
    if len(circuit.wiring.strings) == 1:
        return Verdict(
            question=question,
            answer="yes",
            margin=rating - counted,
            unit="A",
            sentence=f"One string: there are no branch plugs, and the panels' own carry {counted:.1f} A.",
            basis=f"a panel's plugs are rated for the panel; {ONE_MAKE}",
        )
    known = circuit.i_plug_max is not None
    fits = counted <= rating
    answer: Answer = "no" if not fits else "yes" if known else "close"
    told = f"{rating:g} A" if known else f"{rating:g} A, as many carry; the file names no rating"
    return Verdict(
        question=question,
        answer=answer,
        margin=rating - counted,
        unit="A",
        sentence=f"{INPUT_FACTOR:g} x {counted / INPUT_FACTOR:.1f} A = {counted:.1f} A go through one plug, against "
        f"{told}." + f" {_fewer_amps(rig, circuit)}" * (not fits),
        basis=f"{INPUT_FACTOR:g} times the label's short-circuit amps (IEC 62548, US code 690.8)"
        + "; 30 A is common practice, no source" * (not known)
        + f"; {ONE_MAKE}",
        caution=BURNING_PLUGS if answer != "yes" else "",
        stated=known,
    )


def _fewer_amps(rig: Rig, circuit: Circuit) -> str:
    """What to do about plugs that carry too little, never at odds with what the fuses say."""
    if must_stay_apart(rig, circuit) or not can_be_fused(rig, circuit):
        return "Wired as the string fuses say, with fewer strings in parallel, they may carry it."
    return "Gather the strings in a box with rails instead, or put more panels in series as far as the ceiling allows."


def extension(rig: Rig, circuit: Circuit) -> Verdict:
    """Are the plugs of an extension lead rated for the current of the whole array?

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(extension(rig, replace(rig.circuits[0], i_extension_max=15.0)).sentence)
    The whole array goes through it: 15.6 A counted, against 15 A. Take plugs for at least 15.7 A.
    """
    counted, rating = counted_amps(rig, circuit), circuit.i_extension_max or I_PLUG
    return Verdict(
        question=f"Extension: do its plugs carry {named(rig, circuit)}?",
        answer="yes" if counted <= rating else "no",
        margin=rating - counted,
        unit="A",
        sentence=f"The whole array goes through it: {counted:.1f} A counted, against {rating:g} A."
        + f" Take plugs for at least {rounded_up(counted)} A." * (counted > rating),
        basis=f"{INPUT_FACTOR:g} times the label's short-circuit amps (IEC 62548, US code 690.8); {ONE_MAKE}",
        caution=f"{BURNING_PLUGS} {NO_ARCS}" if counted > rating else "",
    )


def isolator(rig: Rig, circuit: Circuit) -> Verdict:
    """Is the panel-side isolator rated for the open-circuit voltage in cold and the current in bright sun?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(isolator(rig, rig.circuits[0]).sentence)
    Rated 100 V and 25 A, against 24.8 V and 15.7 A, both for DC.
    """
    volts, amps = cold_volts(rig, circuit), counted_amps(rig, circuit)
    v_max, i_max = circuit.v_isolator_max, circuit.i_isolator_max
    asked = f"{rounded_up(volts)} V and {rounded_up(amps)} A, both for DC"
    if v_max is None or i_max is None:
        answer: Answer = "close"
        margin, unit, said = 0.0, "V", f"The file names none. Buy one for at least {asked}."
    else:
        answer = "yes" if v_max >= volts and i_max >= amps else "no"
        margin, unit = (v_max - volts, "V") if v_max < volts or i_max >= amps else (i_max - amps, "A")
        said = f"Rated {v_max:g} V and {i_max:g} A, against {asked}.{' Buy one for these.' * (answer == 'no')}"
    return Verdict(
        question=f"Isolator: does it switch off {named(rig, circuit)}?",
        answer=answer,
        margin=margin,
        unit=unit,
        sentence=said,
        basis=f"open-circuit volts at {rig.climate.temp_coldest:g} °C and {INPUT_FACTOR:g} times the label's amps; a "
        "rating for alternating current does not count",
        caution="" if answer == "yes" else NO_ARCS,
        stated=answer != "close",
    )


def touch_volts(rig: Rig, circuit: Circuit) -> Verdict:
    """Is the voltage on bare ends low enough not to hurt, on a roof where everything may be wet?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> touch_volts(rig, rig.circuits[0]).answer
    'yes'
    """
    volts = cold_volts(rig, circuit)
    limit = V_WET if volts <= V_WET else V_DO_NOT_TOUCH if volts <= V_DO_NOT_TOUCH else V_EXTRA_LOW
    answer: Answer = "yes" if volts <= V_WET else "close" if volts <= V_EXTRA_LOW else "no"
    return Verdict(
        question=f"Touch: are the bare ends of {named(rig, circuit)} below what hurts?",
        answer=answer,
        margin=limit - volts,
        unit="V",
        sentence=f"{rounded_up(volts)} V {when_coldest(rig)} {_touch_said(volts)}",
        basis=f"ripple-free direct current: {V_DO_NOT_TOUCH:g} V in a dry place, {V_WET:g} V in any other (IEC "
        f"60364-4-41 414.4.5 as BS 7671 prints it, for circuits safely parted from mains; so for lamps IEC 60598-1 "
        f"8.2.3, US code 411.1), {V_EXTRA_LOW:g} V ceiling (IEC 61558-1); "
        "open-circuit volts in the coldest dawn",
        caution=touch_words(volts),
    )


def _touch_said(volts: float) -> str:
    """Where volts are accepted on bare parts, and where not."""
    if volts > V_EXTRA_LOW:
        return f"is above {V_EXTRA_LOW:g} V, the ceiling of extra-low voltage: a licensed person fits this."
    if volts > V_DO_NOT_TOUCH:
        room = f"{rounded_down(V_EXTRA_LOW - volts)} V below the ceiling of extra-low voltage"
        return f"is above {V_DO_NOT_TOUCH:g} V, too much anywhere: cover every bare part; {room}."
    if volts > V_WET:
        return (
            f"is under {V_DO_NOT_TOUCH:g} V, accepted in a dry cupboard, and above {V_WET:g} V: on a roof, which may "
            "be wet, cover every bare part."
        )
    return f"is under {V_WET:g} V, accepted even on a wet roof."


def wind_caution(rig: Rig, *, tilted: bool = False) -> str:
    """What wind does to panels that are tilted or turned by hand; empty where none are.

    Parameters
    ----------
    tilted : bool
        Whether they are tilted by hand where the van stands.

    Examples
    --------
    >>> from vanpower import example
    >>> van = example("bookmobile")
    >>> wind_caution(van), wind_caution(van.with_panels(tilt_deg=40.0, turn_deg=45.0))[:38]
    ('', 'Lay tilted panels flat before driving ')
    """
    turned = any(panel.turn_deg for panel in rig.panels)
    return f"{WIND}{TURNING * turned}" * (tilted or turned)


def touch_cautions(rigs: Mapping[str, Rig]) -> list[str]:
    """What to be careful of where the volts of some named rigs hurt at the coldest dawn; empty where none does.

    Examples
    --------
    >>> from vanpower import example
    >>> touch_cautions({"3p": example("seed-swap")})
    []
    """
    cold = {name: max(cold_volts(rig, circuit) for circuit in rig.circuits) for name, rig in rigs.items()}
    said = []
    for words in (DO_NOT_TOUCH, NOT_WET):
        high = [
            f"{n} reaches {rounded_up(v)} V {when_coldest(rigs[n])}" for n, v in cold.items() if touch_words(v) == words
        ]
        said += [f"{', '.join(high)}.", words] if high else []
    return said + [LICENSED] * (max(cold.values(), default=0.0) > V_EXTRA_LOW)
