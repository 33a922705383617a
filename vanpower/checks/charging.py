"""Charge settings: do absorption, float and compensation suit the battery's chemistry and number of cells?

Where the file leaves the kind or the number of cells open, every one that it may be is asked, and the answer is sure
only where they agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from vanpower.checks.common import no_frost_charge
from vanpower.components.batteries import CHEMISTRIES, TEMP_SETTINGS, V_OTHER_CELL, held_float
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import AGM, FLOODED, GEL, IRON_PHOSPHATE, LEAD_ACID, OTHER_LITHIUM, SOME_LEAD, Battery, Climate, Rig

ROUNDING = 1e-9
# [V] of a sum of cells that just meets an edge
TEMP_WARM_BOX = 40.0
# [°C] of a battery in a closed van in summer, where the file gives no temp_hottest; no source
COMPENSATION = (-5.0, -3.0)
# [mV/K] of a lead-acid cell: the weaker one BU-403, the stronger one a flooded battery's data sheet
VENT_MA_PER_AH, AIR_PER_MA, CM2_PER_M3 = 20.0, 0.05e-3, 28.0
V_VENTED = 2.40
# [mA/Ah, V] gassing of a vented lead-acid cell held at these volts and up to about 40 °C, more above them (60 without a
# limit, EN 50272-3); [m³/h per mA and cell] of air; [cm²/(m³/h)] of each opening: EN 50272-2 (now IEC 62485-2),
# Q = 0.05 n I C / 1000 and A = 28 Q; public pages that quote it, secondary copies
TOO_MANY_LITHIUM = "Too many volts harm the cells, and some kinds of lithium can burn."
TOO_MANY_LEAD = "Too many volts make the cells gas and dry out; hydrogen explodes."
SEALED = (
    "Never equalise this battery unless its maker's sheet says so. "
    "Overcharged it gives off hydrogen too: no airtight box."
)
NEVER_EQUALISE = "Leave equalisation off."
BY_SHEET_ALONE = "kinds of lithium differ, so only its maker's sheet knows"
BY_ITS_SHEET = "Equalise only by the battery maker's sheet, and stay with it."


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Usual charge settings of a chemistry, per cell. [V]

    Parameters
    ----------
    absorption, float_ : tuple of (low, high)
        What is usual.
    v_most : float
        What no cell should see.
    basis : str

    Examples
    --------
    >>> [round(6 * volts, 1) for volts in USUAL["gel"].absorption]  # of a battery of six cells
    [14.0, 14.5]
    """

    absorption: tuple[float, float]
    float_: tuple[float, float]
    v_most: float
    basis: str


USUAL = {
    IRON_PHOSPHATE: Settings(
        absorption=(3.45, 3.65),
        float_=(3.30, 3.40),
        v_most=3.65,
        basis="3.45 to 3.65 V a cell and 3.30 to 3.40 V held (common practice, no source; about 28 V and 27 V for a "
        "24 V block); 3.65 V a cell is the usual upper limit; no compensation",
    ),
    FLOODED: Settings(
        absorption=(2.35, 2.47),
        float_=(2.23, 2.32),
        v_most=2.50,
        basis="flooded 2.40 to 2.45 V a cell and 2.25 to 2.30 V held at 25 °C (makers' charging pages), 0.02 to 0.05 V "
        "allowed around them",
    ),
    AGM: Settings(
        absorption=(2.35, 2.47),
        float_=(2.23, 2.32),
        v_most=2.47,
        basis="AGM 2.40 to 2.465 V a cell and 2.25 to 2.30 V held at 25 °C (makers' charging pages), 0.02 to 0.05 V "
        "allowed below",
    ),
    GEL: Settings(
        absorption=(2.33, 2.42),
        float_=(2.23, 2.32),
        v_most=2.42,
        basis="gel 2.35 to 2.42 V a cell and 2.23 to 2.30 V held at 25 °C (a maker's rules for gel and AGM as quoted "
        "on a page, secondary copy; another's sheet ends at 2.40 V)",
    ),
}
# usual settings and where they come from


@dataclass(frozen=True)
class Case:
    """One kind of battery that the file may mean, and how the settings work for it.

    Parameters
    ----------
    name : str
        As a sentence calls it.
    battery : Battery
        With chemistry and cells filled in.
    answer : str
    margin : float
        [V]
    faults : tuple of str
        What is wrong, a clause each.
    """

    name: str
    battery: Battery
    answer: Answer
    margin: float
    faults: tuple[str, ...]


def charge_settings(rig: Rig) -> Verdict:
    """Do absorption voltage, float voltage and temperature compensation suit the battery's chemistry and cells?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> charge_settings(rig).answer
    'yes'
    """
    if rig.battery.chemistry == OTHER_LITHIUM:
        return _by_its_maker(rig)
    cases = [_judged(name, battery, rig.climate) for name, battery in _possible(rig.battery)]
    answers = {case.answer for case in cases}
    answer: Answer = cases[0].answer if len(answers) == 1 else "close"
    held = held_float(rig.battery)
    told = "as set" if rig.battery.v_float is not None else "the chemistry's usual, since none is given"
    bases = dict.fromkeys(USUAL[case.battery.chemistry].basis for case in cases)
    return Verdict(
        question=f"Charge settings: do {rig.battery.v_absorption:g} V and {held:g} V work for a {_kind(rig.battery)}?",
        answer=answer,
        margin=min(case.margin for case in cases),
        unit="V",
        sentence=" ".join(filter(None, (_sentence(cases), _others(rig)))),
        basis=f"{'; '.join(bases)}; the battery maker's sheet wins; float is {told}{_compensated(rig.battery)}",
        caution=_caution(rig.battery, over="no" in answers),
        # which of several batteries it is, nobody says, and one of them is well served
        stated=len(answers) == 1 or "yes" not in answers,
    )


def air_for(battery: Battery) -> tuple[float, float] | None:
    """Air that a flooded battery's box needs while it charges, and each of its two openings; None without a capacity.

    Returns
    -------
    tuple of (m³/h, cm²)

    Examples
    --------
    >>> from vanpower.rig import Battery
    >>> tractor = Battery(v_nominal=12, v_now=12.7, v_absorption=14.4, chemistry="flooded lead-acid", capacity_ah=70)
    >>> [round(part, 2) for part in air_for(tractor)]  # 0.05 x 6 cells x 20 mA/Ah x 70 Ah / 1000, and 28 times it
    [0.42, 11.76]
    """
    if battery.capacity_ah is None:
        return None
    air = AIR_PER_MA * max(battery.cells_possible) * VENT_MA_PER_AH * battery.capacity_ah
    return air, CM2_PER_M3 * air


def _possible(battery: Battery) -> list[tuple[str, Battery]]:
    """Every battery that the file may mean, by a name that tells them apart."""
    if battery.chemistry == SOME_LEAD:
        return [(kind, replace(battery, chemistry=kind)) for kind in (FLOODED, AGM, GEL)]
    cells = battery.cells_possible if battery.cells is None else (battery.cells,)
    return [(f"{count} cells", replace(battery, cells=count)) for count in cells]


def _judged(name: str, battery: Battery, climate: Climate) -> Case:
    """The settings against what is usual for one battery that it may be."""
    usual, cells = USUAL[battery.chemistry], battery.cells or max(battery.cells_possible)
    bands = {"absorption": usual.absorption, "float": usual.float_}
    volts = {"absorption": battery.v_absorption, "float": held_float(battery)}
    margins = [
        margin
        for what, (low, high) in bands.items()
        for margin in (volts[what] - cells * low, cells * high - volts[what])
    ]
    faults = [said for what in bands if (said := _outside(what, volts[what], cells, bands[what]))]
    v_worst, heat = _with_heat(battery, cells, climate)
    over = max(battery.v_absorption, v_worst) > cells * usual.v_most + ROUNDING
    answer: Answer = "no" if over else "close" if faults or heat else "yes"
    return Case(name, battery, answer, min([*margins, cells * usual.absorption[1] - v_worst]), (*faults, *heat))


def _with_heat(battery: Battery, cells: int, climate: Climate) -> tuple[float, tuple[str, ...]]:
    """Most absorption volts that compensation makes of a lithium battery's setting, and what is wrong with it. [V]"""
    per_kelvin = battery.compensation_mv_per_k
    if per_kelvin is None:
        return battery.v_absorption, ()
    if battery.is_lithium:
        return _lithium_heat(battery, per_kelvin, climate) if per_kelvin else (battery.v_absorption, ())
    return battery.v_absorption, _lead_heat(battery, per_kelvin, cells)


def _lead_heat(battery: Battery, per_kelvin: float, cells: int) -> tuple[str, ...]:
    """What is wrong with the compensation of a lead-acid battery, which needs some."""
    low, high = (cells * each for each in COMPENSATION)
    if per_kelvin < low - ROUNDING:
        return (f"compensation {per_kelvin:g} mV/K is more than the usual {low:g} to {high:g} mV/K",)
    hot = TEMP_WARM_BOX if battery.temp_hottest is None else battery.temp_hottest
    warmer = max(hot - TEMP_SETTINGS, 0.0) / 1000.0
    v_hot, v_most = battery.v_absorption + per_kelvin * warmer, cells * USUAL[battery.chemistry].v_most + high * warmer
    if per_kelvin <= high + ROUNDING or v_hot <= v_most + ROUNDING:
        return ()
    gets = f"at {hot:g} °C it still gets {v_hot:.1f} V and should get {v_most:.1f} V at most"
    return (f"{gets}: set the compensation to {high:g} mV/K",)


def _lithium_heat(battery: Battery, per_kelvin: float, climate: Climate) -> tuple[float, tuple[str, ...]]:
    """Absorption volts at the coldest at which lithium is charged, and that it takes no compensation. [V]"""
    usual = CHEMISTRIES[battery.chemistry].temp_lockout
    lockout = usual if battery.temp_lockout is None else battery.temp_lockout
    coldest = min(max(climate.temp_coldest + battery.temp_offset, lockout or 0.0), TEMP_SETTINGS)
    volts = battery.v_absorption + per_kelvin * (coldest - TEMP_SETTINGS) / 1000.0
    makes = f"{per_kelvin:g} mV/K makes it {volts:.1f} V at {coldest:g} °C"
    return volts, (f"lithium takes no compensation, and {makes}: set it to 0",)


def _outside(name: str, volts: float, cells: int, band: tuple[float, float]) -> str:
    """One setting against what is usual, where it lies outside."""
    low, high = (cells * edge for edge in band)
    if low - ROUNDING <= volts <= high + ROUNDING:
        return ""
    return f"{name} {volts:g} V is {'below' if volts < low else 'above'} the usual {_span(low, high, volts)} V"


def _sentence(cases: Sequence[Case]) -> str:
    """Each setting against what is usual; where it depends on what the battery is, against each of them."""
    if len({case.answer for case in cases}) == 1:
        strictest = min(cases, key=lambda case: case.margin)
        within = [_within(what, cases) for what in ("absorption", "float")]
        return " ".join(f"{said[0].upper()}{said[1:]}." for said in (*filter(None, within), *strictest.faults))
    good = [case.name for case in cases if case.answer == "yes"]
    fits = [f"{' and '.join(good)}: fits."] * bool(good)
    wrong = [f"{case.name}: {', '.join(case.faults)}." for case in cases if case.faults]
    return " ".join([*fits, *wrong, _find_out(cases[0].battery)])


def _within(what: str, cases: Sequence[Case]) -> str:
    """A setting that is usual for all that the battery may be, against the narrowest; empty where it is not."""
    edges, volts = [], []
    for case in cases:
        usual, cells = USUAL[case.battery.chemistry], case.battery.cells or max(case.battery.cells_possible)
        edges.append([cells * edge for edge in (usual.absorption if what == "absorption" else usual.float_)])
        volts.append(case.battery.v_absorption if what == "absorption" else held_float(case.battery))
    low, high = max(low for low, _ in edges), min(high for _, high in edges)
    inside = all(low - ROUNDING <= each <= high + ROUNDING for each in volts)
    return f"{what} {volts[0]:g} V is within the usual {_span(low, high, volts[0])} V" if inside else ""


def _span(low: float, high: float, volts: float) -> str:
    """What is usual in tenths; in hundredths where tenths would put the volts on the other side of an end."""
    inside, digits = low - ROUNDING <= volts <= high + ROUNDING, 1
    if inside != (round(low, digits) - ROUNDING <= volts <= round(high, digits) + ROUNDING):
        digits = 2
    return f"{low:.{digits}f} to {high:.{digits}f}"


def _find_out(battery: Battery) -> str:
    """How to tell what the battery is."""
    if battery.chemistry in LEAD_ACID:
        return 'Its label says which it is: write that as chemistry, "flooded lead-acid", "AGM" or "gel".'
    return "Its label says which: 48 V is 15 cells, 51.2 V is 16. Write that as cells."


def _kind(battery: Battery) -> str:
    """The battery in a few words."""
    cells = f" of {battery.cells} cells" if battery.cells else ""
    return f"{battery.v_nominal:g} V {battery.chemistry} battery{cells}"


def _compensated(battery: Battery) -> str:
    """What temperature does to the settings, where the file does not say."""
    if battery.is_lithium or battery.compensation_mv_per_k is not None:
        return ""
    per_kelvin = COMPENSATION[1] * max(battery.cells_possible)
    return f"; compensation is taken to be {per_kelvin:g} mV/K, since none is given"


def named_others(rig: Rig) -> str:
    """Other chargers, where the file names any: in the battery's note, or else as sources of their own.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile").with_battery(other_chargers="none")
    >>> named_others(rig)
    ''
    >>> from vanpower import Source
    >>> named_others(rig.with_source(Source(name="belt charger", kind="alternator", i_charge_max=30.0)))
    'belt charger'
    """
    told = rig.battery.other_chargers.strip()
    return ", ".join(source.name for source in rig.sources) if told.lower() in ("", "none", "no", "-") else told


def _others(rig: Rig) -> str:
    """A word on other chargers."""
    told = named_others(rig)
    return f"Set the other chargers alike ({told})." if told else ""


def _by_its_maker(rig: Rig) -> Verdict:
    """Other lithium: no settings are usual, so the answer is never yes."""
    battery = rig.battery
    most = None if battery.cells is None else battery.cells * V_OTHER_CELL
    over = most is not None and battery.v_absorption > most + ROUNDING
    a_cell = f", {battery.v_absorption / battery.cells:.2f} V a cell," if battery.cells else ""
    said = [f"{BY_SHEET_ALONE[0].upper()}{BY_SHEET_ALONE[1:]}:"]
    said += [f"hold {battery.v_absorption:g} V{a_cell} and the float against it."]
    said += [f"That is above {V_OTHER_CELL:.2f} V a cell, where most kinds end."] * over
    said += ["Lithium takes no compensation: set it to 0."] * bool(battery.compensation_mv_per_k)
    said += ["Write the number of cells (cells)."] * (battery.cells is None)
    return Verdict(
        question=f"Charge settings: does {battery.v_absorption:g} V work for a {_kind(battery)}?",
        answer="no" if over else "close",
        margin=0.0 if most is None else min(most - battery.v_absorption, 0.0),
        unit="V",
        sentence=" ".join(filter(None, [*said, _others(rig)])),
        basis=f"{V_OTHER_CELL:.2f} V a cell of nickel manganese cobalt (a textbook page, secondary copy); titanate "
        "ends far below; many makers want no float at all",
        caution=_caution(battery, over=over),
    )


def _caution(battery: Battery, *, over: bool) -> str:
    """What too many volts do, gas, equalising, and frost."""
    if battery.is_lithium:
        return " ".join([TOO_MANY_LITHIUM] * over + [no_frost_charge(battery), NEVER_EQUALISE])
    said = [TOO_MANY_LEAD] * over
    if battery.chemistry in (AGM, GEL):
        return " ".join([*said, SEALED])
    gas = f"Flooded cells give off hydrogen while they charge: {_vent(battery)}, no flame, no spark."
    rule = (
        "Never equalise AGM or gel unless its maker's sheet says so."
        if battery.chemistry == SOME_LEAD
        else BY_ITS_SHEET
    )
    return " ".join([*said, gas, rule])


def _vent(battery: Battery) -> str:
    """How its box is vented."""
    if (needs := air_for(battery)) is None:
        return "vent the battery's box to the outside"
    air, opening = needs
    more = battery.v_absorption > V_VENTED * max(battery.cells_possible) + ROUNDING
    return (
        f"vent the battery's box to the outside, {'at the least ' * more}{air:.1f} m³ of air an hour, "
        f"{opening:.0f} cm² in below and out above"
    )
