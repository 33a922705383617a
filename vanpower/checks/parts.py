"""What to buy and to fit: cables, fuses, isolator and plugs of every circuit, with the rating that is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from vanpower.checks.backfeed import feeds_back, must_stay_apart
from vanpower.checks.common import cold_volts, counted_amps, rounded_up
from vanpower.checks.copper import (
    FUSE_OVER,
    FUSE_WITHIN,
    SHORT_RUN_M,
    battery_fuses,
    battery_section,
    cable_current,
    cable_loss,
    section_carrying_counted,
    section_to_buy,
)
from vanpower.checks.feeding import array_fuse_to_fit, least_array_fuse
from vanpower.checks.fuses import FUSES, fuse_to_fit, string_fuse_sizes
from vanpower.components.cables.ampacity import ampacity, section_carrying
from vanpower.components.cables.gauges import both, gauge_for
from vanpower.rig import LEAD_ACID, SOLAR, Battery, Cable, Circuit, Rig

I_PLUG_MADE = 50.0
# [A] more no branch plug of the trade carries; common practice, no source
SHORT_LITHIUM, SHORT_LEAD = 50.0, 40.0
# [A/Ah] what a battery gives into a short at most where its sheet is not at hand: 5000 and 4000 A for 100 Ah; boat and
# off-grid trade pages, secondary copies of weak sources
ROOF_CABLE, STRING_FUSES, PLUGS = "Roof cable, solar type", "String fuses", "Branch plugs, plus and minus"
EXTENSION, ISOLATOR, ARRAY_FUSE = "Extension plugs", "Isolator, both poles", "Fuse in the roof cable, at the controller"
BATTERY_CABLE, BATTERY_FUSE = "Battery cable", "Battery fuse"
# names of parts, by which a diagram knows where each of them is
KINDS = {"IEC": "gPV", "US": "listed for photovoltaics"}
# what is printed on a string's fuse; IEC 60269-6, UL 2579


@dataclass(frozen=True, kw_only=True)
class Part:
    """One line of the shopping list.

    Parameters
    ----------
    name, wanted : str
        What it is, and the rating to ask for.
    have : str
        What the file names; empty where it names none.
    replace : bool
        Whether a check refuses what the file names and another rating mends it.
    count : str
        How many of it, or how much; empty for words about others.
    why : str
        What goes through it or stands across it, for which the rating is wanted.
    holds : bool
        Whether what the file names is what is wanted, so that there is nothing to buy.

    Examples
    --------
    >>> print(Part(name="Battery fuse", wanted="25 A", have="30 A"))
    Battery fuse: 25 A (there: 30 A)
    >>> print(Part(name="String fuses", wanted="3 x 16 A", have="8 A", replace=True))
    String fuses: 3 x 16 A (there: 8 A, replace)
    """

    name: str
    wanted: str
    have: str = ""
    replace: bool = False
    count: str = ""
    why: str = ""
    holds: bool = False

    def __str__(self) -> str:
        there = f" (there: {self.have}{', replace' * self.replace})" if self.have else ""
        return f"{self.name}: {self.wanted}{there}"


def parts(rig: Rig, circuit: Circuit) -> tuple[Part, ...]:
    """Parts to buy for one circuit, from the roof to the battery; no check refuses what is listed.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(parts(rig, rig.circuits[0])[2])
    Isolator, both poles: DC, at least 24.8 V and 15.7 A, wired as its plus and minus say (there: 100 V, 25 A)
    """
    listed = [_roof_cable(rig, circuit), *_string_fuses(rig, circuit), *_plugs(rig, circuit)]
    listed += [_isolator(rig, circuit), *_array_fuse(rig, circuit), _battery_cable(rig, circuit)]
    return (*listed, _battery_fuse(rig, circuit), BREAKERS)


BREAKERS = Part(
    name="A breaker instead of a fuse",
    wanted="the same amps and volts, DC; next to a battery, and wherever amps can come from both sides, not polarised; "
    "elsewhere wired as its plus and minus say",
)
# a polarised one does not put out the arc of current that comes the other way; BS 7671 712.533.101 wants both ways


def with_parts(rig: Rig) -> Rig:
    """The rig once everything on its lists is bought and fitted.

    Examples
    --------
    >>> from vanpower import example
    >>> bought = with_parts(example("seed-swap")).circuits[0]
    >>> bought.i_fuse_string, bought.i_fuse_battery, bought.cable.section_mm2
    (8, 40, 10.0)
    """
    return replace(rig, circuits=tuple(_with_parts(rig, circuit) for circuit in rig.circuits))


def _with_parts(rig: Rig, circuit: Circuit) -> Circuit:
    """One circuit with everything on its list; what stays unknown or impossible stays as it is."""
    volts, amps = cold_volts(rig, circuit), counted_amps(rig, circuit)
    v_max, i_max = circuit.v_isolator_max or 0.0, circuit.i_isolator_max or 0.0
    isolated = v_max >= volts and i_max >= amps
    listed = _with_roof_cable(rig, circuit)
    fuse, section = battery_fuse_size(rig, circuit), battery_section(rig, circuit, battery_fuse_size(rig, circuit))
    # of one that the file does not name the least that the list asks for, so that checks see that and no larger one
    run = circuit.battery_cable or Cable(length_m=SHORT_RUN_M, section_mm2=section or Cable().section_mm2)
    return replace(
        listed,
        i_fuse_string=fuse_to_fit(rig, _least_guarded(rig, circuit)),
        i_fuse_array=array_fuse_size(rig, circuit),
        i_plug_max=max(circuit.i_plug_max or 0.0, _rounded(amps)),
        i_extension_max=circuit.i_extension_max and max(circuit.i_extension_max, _rounded(amps)),
        v_isolator_max=v_max if isolated else max(_rounded(volts), 10.0),
        i_isolator_max=i_max if isolated else _rounded(amps),
        i_fuse_battery=fuse if fuse in FUSES or fuse == circuit.i_fuse_battery else circuit.i_fuse_battery,
        battery_cable=replace(run, section_mm2=max(section, run.section_mm2)) if section else circuit.battery_cable,
    )


def _with_roof_cable(rig: Rig, circuit: Circuit) -> Circuit:
    """The circuit with the roof cable and the battery's fuse of its list, between which a fuse may still be wanted."""
    section = max(_roof_section(rig, circuit) or 0.0, circuit.cable.section_mm2)
    cable = replace(_roof_run(rig, circuit).cable, section_mm2=section)
    return replace(circuit, cable=cable, i_fuse_battery=battery_fuse_size(rig, circuit))


def _least_guarded(rig: Rig, circuit: Circuit) -> Circuit:
    """The circuit with the larger fuse of those fitted towards the battery and those of its list, which guards less.

    A fuse that goes is bought larger or not at all, and then lets more of the battery's current back into the strings.
    """
    battery, array = circuit.i_fuse_battery, circuit.i_fuse_array
    listed = array_fuse_size(rig, circuit)
    return replace(
        circuit,
        i_fuse_battery=battery and max(battery, battery_fuse_size(rig, circuit)),
        i_fuse_array=array and listed and max(array, listed),
    )


def _rounded(value: float) -> float:
    """A rating as the list says it."""
    return float(rounded_up(value))


def battery_fuse_size(rig: Rig, circuit: Circuit) -> float:
    """The fuse at the battery: the one fitted where it holds and guards, or the smallest that does. [A]

    Where the cable named is too thin for any fuse, the smallest that holds the controller's amps, for a thicker cable.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> battery_fuse_size(rig, rig.circuits[0])  # the file names none; the controller gives 30 A
    40
    """
    amps, cable, fitted = circuit.controller.i_charge_max, circuit.battery_cable, circuit.i_fuse_battery
    may = ampacity(cable.at_battery, rig.rule_book).guarded if cable else math.inf
    may = may if battery_fuses(amps, may) else math.inf
    if fitted and FUSE_OVER * amps <= fitted <= may:
        return fitted
    fits = battery_fuses(amps, may)
    return fits[0] if fits else FUSE_OVER * amps


def short_circuit_of(battery: Battery) -> tuple[float, str]:
    """Amps that a battery can give into a short, and what they rest on; infinity where nothing tells. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> short_circuit_of(example("seed-swap").battery)
    (14000.0, 'some 50 A per Ah; its sheet decides')
    """
    if battery.r_internal:
        amps = battery.v_absorption / battery.r_internal
        return amps, f"{battery.v_absorption:g} V / {1000 * battery.r_internal:.3g} mohm"
    if battery.capacity_ah:
        per_ah = SHORT_LEAD if battery.chemistry in LEAD_ACID else SHORT_LITHIUM
        return per_ah * battery.capacity_ah, f"some {per_ah:g} A per Ah; its sheet decides"
    return math.inf, ""


def cable_words(cable: Cable) -> str:
    """Length and section of a run.

    Examples
    --------
    >>> cable_words(Cable(length_m=4.5, section_mm2=4.0))
    '4.5 m of 4 mm² (AWG 10)'
    """
    gauge = gauge_for(cable.section_mm2)
    return f"{cable.length_m:g} m of {cable.section_mm2:g} mm²" + (f" (AWG {gauge})" if gauge else "")


def _amps(size: float | None) -> str:
    """A rating that the file names, or nothing."""
    return f"{size:g} A" if size else ""


def _roof_cable(rig: Rig, circuit: Circuit) -> Part:
    """Section of the roof cable: by loss and current where its length is known, by current alone otherwise."""
    cable, section = circuit.cable, _roof_section(rig, circuit)
    why = "keeps loss and heat small" if cable.length_m else "by current; length unknown"
    wanted = f"at least {both(section)}, {why}" if section else "no single cable does; shorten the run"
    refused = bool(cable.length_m) and "no" in (cable_current(rig, circuit).answer, cable_loss(rig, circuit).answer)
    have = cable_words(cable) if cable.length_m else ""
    return Part(
        name=ROOF_CABLE, wanted=wanted, have=have, replace=refused, why=f"{_counted(rig, circuit)} out and back",
        count=f"2 x {cable.length_m:g} m" if cable.length_m else "2 runs",
        holds=bool(cable.length_m and section) and not refused and cable.section_mm2 >= (section or 0.0),
    )  # fmt: skip


def _counted(rig: Rig, circuit: Circuit) -> str:
    """The amps that a part of the roof's side has to carry."""
    return f"{rounded_up(counted_amps(rig, circuit))} A"


def _roof_run(rig: Rig, circuit: Circuit) -> Circuit:
    """The circuit, with solar cable on the roof where no section of what the file names carries its amps."""
    if _section_of(rig, circuit):
        return circuit
    return replace(circuit, cable=replace(circuit.cable, insulation=SOLAR))


def _roof_section(rig: Rig, circuit: Circuit) -> float | None:
    """Section of the roof cable to ask for, of solar cable where nothing else does. [mm²]"""
    return _section_of(rig, _roof_run(rig, circuit))


def _section_of(rig: Rig, circuit: Circuit) -> float | None:
    """Section of the roof cable to ask for; behind battery current one that some fuse can guard. [mm²]"""
    cable, counted = circuit.cable, counted_amps(rig, circuit)
    sun = section_to_buy(rig, circuit) if cable.length_m else section_carrying_counted(cable, counted, rig.rule_book)
    if not feeds_back(circuit.controller) or not sun:
        return sun
    guarded = section_carrying(
        cable, min(least_array_fuse(rig, circuit), battery_fuse_size(rig, circuit)), rig.rule_book
    )
    return max(sun, guarded) if guarded else None


def _string_fuses(rig: Rig, circuit: Circuit) -> list[Part]:
    """Fuses in the strings, where any is needed or fitted."""
    circuit = _least_guarded(rig, circuit)
    sizes, name, fitted = string_fuse_sizes(rig, circuit), STRING_FUSES, circuit.i_fuse_string
    have = _amps(fitted)
    if must_stay_apart(rig, circuit):
        return [Part(name=name, wanted="none mends strings so unlike; do not join them", have=have)]
    if None in sizes:
        wanted = "needed, and no legal size exists; wire it another way"
        return [Part(name=name, wanted=wanted, have=have)]
    if any(size is not None and math.isnan(size) for size in sizes):
        wanted = "ask the panels' maker: a label gives no largest series fuse"
        return [Part(name=name, wanted=wanted, have=have, replace=bool(fitted) and fitted not in sizes)]
    used = [size for size in sizes if size]
    if not used:
        return []
    counts = [f"{used.count(size)} x {size:g} A" for size in dict.fromkeys(used)]
    volts = rounded_up(cold_volts(rig, circuit))
    kind = f"photovoltaic ({KINDS[rig.rule_book]}), DC, at least {volts} V, holders out of the sun"
    return [
        Part(
            name=name,
            wanted=f"{' and '.join(counts)}, {kind}",
            have=have,
            replace=bool(fitted) and fitted not in used,
            count=f"{len(used)}",
            why="amps pushed back",
            holds=bool(fitted) and set(used) == {fitted},
        )
    ]


def _plugs(rig: Rig, circuit: Circuit) -> list[Part]:
    """Branch plugs and extension, where there are any."""
    counted, volts = counted_amps(rig, circuit), rounded_up(cold_volts(rig, circuit))
    amps = f"DC, at least {rounded_up(counted)} A and {volts} V, one make throughout"
    if counted > I_PLUG_MADE:
        amps = f"no plug carries {rounded_up(counted)} A: a box with rails, DC, at least that and {volts} V"
    listed = []
    for name, have, there in (
        (PLUGS, circuit.i_plug_max, len(circuit.wiring.strings) > 1),
        (EXTENSION, circuit.i_extension_max, bool(circuit.i_extension_max)),
    ):
        if there:
            small = have is not None and have < counted
            why = f"{_counted(rig, circuit)} in one plug"
            listed.append(Part(name=name, wanted=amps, have=_amps(have), replace=small, count="1 set", why=why,
                               holds=have is not None and not small))  # fmt: skip
    return listed


def _isolator(rig: Rig, circuit: Circuit) -> Part:
    """Isolator for both poles."""
    volts, amps = cold_volts(rig, circuit), counted_amps(rig, circuit)
    v_max, i_max = circuit.v_isolator_max, circuit.i_isolator_max
    named = v_max is not None and i_max is not None
    poles = "not polarised" if feeds_back(circuit.controller) else "wired as its plus and minus say"
    small = (named and (v_max or 0.0) < volts) or (named and (i_max or 0.0) < amps)
    return Part(
        name=ISOLATOR,
        wanted=f"DC, at least {rounded_up(volts)} V and {rounded_up(amps)} A, {poles}",
        have=f"{v_max:g} V, {i_max:g} A" if named else "",
        replace=small, count="1", why="volts in frost, cable amps",
        holds=named and not small,
    )  # fmt: skip


def _array_fuse(rig: Rig, circuit: Circuit) -> list[Part]:
    """A fuse in the roof cable at the controller, where battery current can come back and nothing else guards it."""
    size, fitted = array_fuse_size(rig, circuit), circuit.i_fuse_array
    if size is None and not fitted:
        return []
    volts = max(cold_volts(rig, circuit), rig.battery.v_absorption)
    breaking = _breaking(rig.battery)
    wanted = f"{size:g} A, DC, at least {rounded_up(volts)} V, {breaking}" if size else "none holds; see Battery feed"
    return [
        Part(
            name=ARRAY_FUSE,
            wanted=wanted,
            have=_amps(fitted),
            replace=bool(fitted) and size != fitted,
            count="1",
            why="battery amps come back",
            holds=bool(fitted) and size == fitted,
        )
    ]


def array_fuse_size(rig: Rig, circuit: Circuit) -> float | None:
    """The fuse in the roof cable: what guards the cable that is there, as Battery feed says, or the one on the list.

    None where none is needed or none fits. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> array_fuse_size(rig, rig.circuits[0]) is None  # a converter
    True
    """
    there = replace(circuit, i_fuse_battery=battery_fuse_size(rig, circuit))
    guards = array_fuse_to_fit(rig, there) if circuit.cable.length_m else None
    return guards or array_fuse_to_fit(rig, _with_roof_cable(rig, circuit))


def _breaking(battery: Battery) -> str:
    """The breaking capacity to ask for next to a battery."""
    amps, why = short_circuit_of(battery)
    if math.isinf(amps):
        return "breaking capacity of the battery's short-circuit amps: thousands, ask its maker"
    return f"breaks {math.ceil(amps / 100) / 10:g} kA or more ({why})"


def _battery_cable(rig: Rig, circuit: Circuit) -> Part:
    """Cable that the battery's fuse guards."""
    cable, size = circuit.battery_cable, battery_fuse_size(rig, circuit)
    section = battery_section(rig, circuit, size)
    kind = (cable or Cable()).at_battery.insulation
    wanted = f"at least {both(section)}, {kind} or better, short" if section else "no single cable does"
    thin = cable is not None and ampacity(cable.at_battery, rig.rule_book).guarded < size
    return Part(
        name=BATTERY_CABLE, wanted=wanted, have=cable_words(cable) if cable else "", replace=thin, count="2 runs",
        why=f"guarded by {size:g} A", holds=cable is not None and not thin,
    )  # fmt: skip


def _battery_fuse(rig: Rig, circuit: Circuit) -> Part:
    """Fuse at the battery."""
    size, fitted = battery_fuse_size(rig, circuit), circuit.i_fuse_battery
    volts = rounded_up(rig.battery.v_absorption)
    wanted = f"{size:g} A, DC, at least {volts} V, {_breaking(rig.battery)}, {FUSE_WITHIN}"
    if size not in FUSES and size != fitted:
        wanted = f"none of the usual sizes holds {circuit.controller.i_charge_max:g} A; ask the controller's maker"
    most = circuit.controller.i_charge_max
    return Part(
        name=BATTERY_FUSE, wanted=wanted, have=_amps(fitted), replace=bool(fitted) and size != fitted, count="1",
        why=f"{FUSE_OVER:g} x {most:g} A to hold", holds=bool(fitted) and size == fitted,
    )  # fmt: skip
