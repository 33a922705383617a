"""What to buy and to fit: cables, fuses, isolator and plugs of every circuit, with the rating that is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass

from vanpower.cables import ampacity, both, gauge_for
from vanpower.checks.copper import (
    FUSE_OVER,
    FUSE_WITHIN,
    battery_fuses,
    battery_section,
    section_carrying_counted,
    section_to_buy,
)
from vanpower.checks.fuses import FUSES, back_current, fuse_needed, fused_strings, legal_fuses
from vanpower.checks.words import cold_volts, counted_amps, rounded_up
from vanpower.rig import Cable, Circuit, Rig


@dataclass(frozen=True, kw_only=True)
class Part:
    """One line of the shopping list.

    Parameters
    ----------
    name, wanted : str
        What it is, and the rating to ask for.
    have : str
        What the file names; empty where it names none.

    Examples
    --------
    >>> print(Part(name="Battery fuse, DC", wanted="25 A", have="30 A"))
    Battery fuse, DC: 25 A (there: 30 A)
    """

    name: str
    wanted: str
    have: str = ""

    def __str__(self) -> str:
        return f"{self.name}: {self.wanted}" + (f" (there: {self.have})" if self.have else "")


def parts(rig: Rig, circuit: Circuit) -> tuple[Part, ...]:
    """The shopping list of one circuit, from the roof to the battery.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("bookmobile")
    >>> print(parts(rig, rig.circuits[0])[-1])
    Battery fuse, DC: 30 A, within 180 to 300 mm of the battery (there: 30 A)
    """
    listed = [_roof_cable(rig, circuit), *_string_fuses(rig, circuit), *_plugs(rig, circuit), _isolator(rig, circuit)]
    return (*listed, _battery_cable(rig, circuit), _battery_fuse(rig, circuit))


def string_fuse_sizes(rig: Rig, circuit: Circuit) -> tuple[float | None, ...]:
    """Fuse of each string: fitted, or the smallest legal one. [A]

    Zero where none is needed, None where none is legal, not a number where a label without its largest fuse leaves it
    open.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> string_fuse_sizes(rig, rig.circuits[0])
    (8, 8, 0.0)
    """
    return tuple(_string_fuse_size(rig, circuit, k) for k in range(len(circuit.wiring.strings)))


def _string_fuse_size(rig: Rig, circuit: Circuit, k: int) -> float | None:
    """Fuse of one string."""
    if circuit.i_fuse_string and k in fused_strings(rig, circuit):
        return circuit.i_fuse_string
    if len(circuit.wiring.strings) == 1:
        return 0.0
    panels = [rig.panels[p] for p in circuit.wiring.strings[k]]
    limits = [panel.i_max_fuse for panel in panels if panel.i_max_fuse is not None]
    if len(limits) < len(panels):
        return math.nan
    if not fuse_needed(back_current(rig, circuit, k), min(limits), rig.rule_book):
        return 0.0
    legal = legal_fuses(max(panel.i_sc for panel in panels), min(limits), rig.rule_book)
    return legal[0] if legal else None


def battery_fuse_size(rig: Rig, circuit: Circuit) -> float:
    """The fuse at the battery: the one fitted, or the smallest that holds the controller's amps. [A]

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> battery_fuse_size(rig, rig.circuits[0])  # the file names none; the controller gives 30 A
    40
    """
    amps, cable = circuit.controller.i_charge_max, circuit.battery_cable
    fits = battery_fuses(amps, ampacity(cable.at_battery, rig.rule_book).guarded) if cable else ()
    smallest = fits[0] if fits else next(size for size in FUSES if size >= FUSE_OVER * amps)
    return circuit.i_fuse_battery or smallest


def cable_words(cable: Cable) -> str:
    """Length and section of a run.

    Examples
    --------
    >>> cable_words(Cable(length_m=4.5, section_mm2=4.0))
    '4.5 m of 4 mm² (AWG 10)'
    """
    gauge = gauge_for(cable.section_mm2)
    return f"{cable.length_m:g} m of {cable.section_mm2:g} mm²" + (f" (AWG {gauge})" if gauge else "")


def _roof_cable(rig: Rig, circuit: Circuit) -> Part:
    """Section of the roof cable: by loss and current where its length is known, by current alone otherwise."""
    cable = circuit.cable
    if cable.length_m:
        section, why = section_to_buy(rig, circuit), "keeps loss and heat small"
    else:
        section, why = (
            section_carrying_counted(cable, counted_amps(rig, circuit), rig.rule_book),
            "by current; length unknown",
        )
    wanted = f"at least {both(section)}, {why}" if section else "no single cable does; shorten the run"
    return Part(name="Roof cable, solar type", wanted=wanted, have=cable_words(cable) if cable.length_m else "")


def _string_fuses(rig: Rig, circuit: Circuit) -> list[Part]:
    """Fuses in the strings, where any is needed or fitted."""
    sizes = string_fuse_sizes(rig, circuit)
    volts = rounded_up(cold_volts(rig, circuit))
    if None in sizes:
        return [Part(name="String fuses", wanted="needed, and no legal size exists; wire it another way")]
    if any(size is not None and math.isnan(size) for size in sizes):
        return [Part(name="String fuses", wanted="ask the panels' maker: a label gives no largest series fuse")]
    used = [size for size in sizes if size]
    if not used:
        return []
    wanted = (
        f"{len(used)} x {' and '.join(dict.fromkeys(f'{size:g} A' for size in used))}, DC, over {volts} V, with holders"
    )
    return [
        Part(name="String fuses", wanted=wanted, have=f"{circuit.i_fuse_string:g} A" if circuit.i_fuse_string else "")
    ]


def _plugs(rig: Rig, circuit: Circuit) -> list[Part]:
    """Branch plugs and extension, where there are any."""
    amps = f"over {rounded_up(counted_amps(rig, circuit))} A, one make throughout"
    listed = []
    if len(circuit.wiring.strings) > 1:
        have = f"{circuit.i_plug_max:g} A" if circuit.i_plug_max else ""
        listed.append(Part(name="Branch plugs, plus and minus", wanted=amps, have=have))
    if circuit.i_extension_max:
        listed.append(Part(name="Extension plugs", wanted=amps, have=f"{circuit.i_extension_max:g} A"))
    return listed


def _isolator(rig: Rig, circuit: Circuit) -> Part:
    """Isolator for both poles."""
    named = circuit.v_isolator_max and circuit.i_isolator_max
    return Part(
        name="Isolator, both poles, DC",
        wanted=f"over {rounded_up(cold_volts(rig, circuit))} V and {rounded_up(counted_amps(rig, circuit))} A",
        have=f"{circuit.v_isolator_max:g} V, {circuit.i_isolator_max:g} A" if named else "",
    )


def _battery_cable(rig: Rig, circuit: Circuit) -> Part:
    """Cable that the battery's fuse guards."""
    cable = circuit.battery_cable
    section = battery_section(rig, circuit, battery_fuse_size(rig, circuit))
    wanted = (
        f"at least {both(section)}, {(cable or Cable()).at_battery.insulation} or better, short"
        if section
        else "no single cable does"
    )
    return Part(name="Battery cable", wanted=wanted, have=cable_words(cable) if cable else "")


def _battery_fuse(rig: Rig, circuit: Circuit) -> Part:
    """Fuse at the battery."""
    have = f"{circuit.i_fuse_battery:g} A" if circuit.i_fuse_battery else ""
    return Part(name="Battery fuse, DC", wanted=f"{battery_fuse_size(rig, circuit):g} A, {FUSE_WITHIN}", have=have)
