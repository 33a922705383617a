"""What labels and tape measures decide before anything is ordered: the cold ceiling, the hot floor, the start, cable.

Each check is a verdict with its margin. Volts on a cold morning are never rounded down. The label's coefficient
decides; where the US table is stricter the answer is at best "close". Left out: fuses, plugs and what current a cable
may carry.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from vanpower.arrays import Joined, conditions, join, roof_of
from vanpower.cables import cost, section_for
from vanpower.controllers import INSIDE_HILL, WINDOW, margins, sweep
from vanpower.curves import best, current_at, hills, open_circuit_voltage
from vanpower.labels import MODELLED, filled
from vanpower.rig import Circuit, Panel, Rig, Snapshot
from vanpower.silicon import TEMP_REFERENCE
from vanpower.verdicts import Answer, Verdict

COLD_FACTORS = (
    (25, 1.00), (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
# (coldest °C of the row, factor on open-circuit volts), crystalline silicon: US National Electrical Code 2017, 690.7(A)
TEMP_COLDEST_EVER = -90.0
# [°C] colder than any place on Earth; World Meteorological Organization, Vostok 1983: -89.2 °C
TEMP_WARM_DAWN = 5.0
# [°C] a coldest first light above this is asked about once more; no source
OVER_VOLTAGE = "Over-voltage destroys a controller at once; do not connect this."
DO_NOT_TOUCH = "Above 60 V DC do not touch; panels are live in daylight."
NO_FROST_CHARGE = "Lithium iron phosphate is not charged below 0 °C unless its maker allows it."
# cautions said in more than one place
VOLTS = ("beta_voc_pct_per_k",)
# what volts in the cold and heat rest on
V_ROUNDING = 1e-9
# [V] rounding of a sum of volts that just meets the ceiling
THIN = 0.05
# share of the ceiling below which what is left is called thin; common practice, no source
NO_FLOOR_LOSS, SOFT_FLOOR_LOSS = 0.01, 0.10
# share of the power lost at the hot floor up to which the answer is yes, and from which it is no; no source
INPUT_FACTOR = 1.25
# short-circuit amps are counted so many times; IEC 62548 and US National Electrical Code 690.8(A)(1)
TEMP_MILD = 15.0
# [°C] cells on a mild dull morning, for saying at what light a controller wakes; no source
LIGHT_USEFUL, WAKES_EARLY, LIGHT_TOP = 10.0, 30.0, 1000.0
# [W/m²] below this a controller's own draw takes most of the power; up to this a late start costs next to nothing; no
# source for these two; the light of the label
V_DO_NOT_TOUCH = 60.0
# [V] bare live parts accepted when dry, ripple-free DC; IEC 60364-4-41, also 30 V when wet
DROP_TARGET, DROP_MOST = 0.03, 0.10
# share of the power a roof cable may cost, and from which the answer is no; common practice, no source (10 % is the
# most that ABYC E-11 allows for circuits that matter little)
DULL = 0.15
# share of full sun on a dull day; no source


def cold_factor(temp: float) -> float:
    """Factor of the US table on open-circuit volts at an ambient temperature; between rows the colder one counts.

    Raises
    ------
    ValueError
        Below -40 °C, where the table is silent.

    Examples
    --------
    >>> cold_factor(-5), cold_factor(-5.1)
    (1.12, 1.14)
    """
    for coldest, factor in COLD_FACTORS:
        if temp >= coldest:
            return factor
    raise ValueError(f"temp is {temp:g} °C; the table of factors ends at -40 °C, use the panel's own coefficient.")


def cold_voltage(v_oc: float, beta_voc_pct_per_k: float, temp: float) -> float:
    """Open-circuit volts of one panel at a cell temperature, by the label's coefficient. [V]

    Examples
    --------
    >>> round(cold_voltage(49.5, -0.27, -10), 2)
    54.18
    """
    return v_oc * (1.0 + beta_voc_pct_per_k / 100.0 * (temp - TEMP_REFERENCE))


def most_in_series(v_cold: float, v_limit: float) -> int:
    """Most panels in one string whose cold volts stay at or under the limit."""
    return math.floor(v_limit / v_cold * (1.0 + 1e-12))


def check(rig: Rig) -> tuple[Verdict, ...]:
    """Every check of every circuit, in the order in which a mistake hurts."""
    made = []
    for circuit in rig.circuits:
        made += [cold_ceiling(rig, circuit), start(rig, circuit), hot_floor(rig, circuit)]
        made += [] if circuit.controller.i_pv_sc_max is None else [input_current(rig, circuit)]
        made += [] if circuit.cable.length_m == 0 else [cable_loss(rig, circuit)]
    return tuple(made)


def refusal(rig: Rig) -> Verdict | None:
    """The verdict that forbids a rig, if one does: what would damage a controller, whatever watts it brings."""
    for circuit in rig.circuits:
        limits = [cold_ceiling(rig, circuit)]
        limits += [] if circuit.controller.i_pv_sc_max is None else [input_current(rig, circuit)]
        for verdict in limits:
            if verdict.answer == "no":
                return verdict
    return None


def unasked(rig: Rig) -> tuple[str, ...]:
    """What `check` does not answer for a rig, a sentence each."""
    said = []
    if any(circuit.controller.i_pv_sc_max is None for circuit in rig.circuits):
        said.append("Input current: the file gives no i_pv_sc_max of the controller.")
    if any(circuit.cable.length_m == 0 for circuit in rig.circuits):
        said.append("Cable: the file gives no length_m.")
    strings = max(len(circuit.wiring.strings) for circuit in rig.circuits)
    fuses = " With three strings or more each usually needs one." if strings > 2 else ""
    said.append(f"Fuses, plugs, isolators, and what current a cable may carry.{fuses}")
    return tuple(said)


@lru_cache(maxsize=1024)
def cold_ceiling(rig: Rig, circuit: Circuit) -> Verdict:
    """Can a frosty morning push the array over the controller's ceiling?"""
    temp, limit = rig.climate.temp_coldest, circuit.controller.v_pv_max
    panels, notes = tallest_string(rig, circuit), _assumed(rig, circuit, VOLTS)
    cold = string_voltage(panels, temp)
    table, model = _table_volts(panels, temp), _model_volts(rig, circuit, temp)
    margin = limit - cold if abs(limit - cold) > V_ROUNDING else 0.0
    over_table = table is not None and table > limit
    answer: Answer = "no" if margin < 0 else "close" if margin < THIN * limit or over_table else "yes"
    others = f"US factor table {_or_silent(table)}, one-diode model {model:.1f} V"
    most = most_in_series(max(cold_voltage(p.v_oc, _beta(p), temp) for p in panels), limit)
    return Verdict(
        question=f"Cold ceiling: does {_named(rig, circuit)} stay under {limit:g} V at {temp:g} °C?",
        answer=answer,
        margin=margin,
        unit="V",
        sentence=_ceiling_sentence(panels, cold, circuit, margin, over_table, most),
        basis=_joined(
            f"label coefficient at the coldest first light ({temp:g} °C, {rig.climate.basis.rstrip('.')}), cells as "
            f"cold as the air and the sun already on them; for comparison: {others}",
            *notes,
        ),
        caution=_volts_caution(cold, margin, temp),
    )


def start(rig: Rig, circuit: Circuit) -> Verdict:
    """Does the array reach the volts at which the controller wakes, and in how much light?"""
    above = margins(circuit.controller)[0]
    needed = rig.battery.v_now + above
    coldest, hottest = rig.climate.temp_coldest, rig.climate.temp_cell_hottest
    panels = min(_strings(rig, circuit), key=lambda string: string_voltage(string, hottest))
    cold, hot = (string_voltage(panels, temp) for temp in (coldest, hottest))
    wakes = _waking_light(rig, circuit, needed)
    margin = hot - needed
    answer: Answer = "no" if wakes > LIGHT_TOP else "close" if margin < 0 or wakes > WAKES_EARLY else "yes"
    return Verdict(
        question=f"Start: does {_named(rig, circuit)} wake the controller ({needed:.1f} V)?",
        answer=answer,
        margin=margin,
        unit="V",
        sentence=_start_sentence(circuit, needed, cold, hot, wakes, rig),
        basis=_joined(
            f"battery at {rig.battery.v_now:g} V plus a start margin of {above:g} V; "
            f"open-circuit volts by label coefficient at {hottest:g} °C cells",
            *_assumed(rig, circuit, VOLTS),
        ),
        caution=NO_FROST_CHARGE if "lithium" in rig.battery.chemistry and rig.climate.temp_coldest < 0 else "",
    )


def hot_floor(rig: Rig, circuit: Circuit) -> Verdict:
    """Does a hot roof still reach what the battery needs in absorption?"""
    above = margins(circuit.controller)[1]
    needed = rig.battery.v_absorption + above
    temp = rig.climate.temp_cell_hottest
    array = _array(rig, circuit, Snapshot(light=LIGHT_TOP, temp_cell=temp))
    top = hills(array.curves)
    v_best, _, p_best = (float(a[0]) for a in best(top))
    volts, held = sweep(array.curves, top, np.array([needed]))
    # unlike panels may have a higher hill far below the floor, which no heat put there; the one inside counts
    v_best = v_best if held[0] == WINDOW else float(volts[0])
    i_best = float(current_at(array.curves, np.array([[v_best]]))[0][0, 0])
    v_oc = float(open_circuit_voltage(array.curves)[0])
    drop = cost(circuit.cable, i_best)[0]
    there = needed * max(float(current_at(array.curves, np.array([[needed]]))[0][0, 0]), 0.0)
    lost = 0.0 if v_best >= needed else 1.0 - there / p_best
    place = "Best power within reach" if held[0] == INSIDE_HILL else "Best power"
    answer: Answer = "yes" if lost < NO_FLOOR_LOSS else "close" if lost < SOFT_FLOOR_LOSS else "no"
    return Verdict(
        question=f"Hot floor: do {temp:g} °C cells in {_named(rig, circuit)} still reach {needed:.1f} V?",
        answer=answer,
        margin=v_best - needed,
        unit="V",
        sentence=f"{place} {_floor_sentence(v_best, v_oc, needed, drop, lost)}",
        basis=_joined(
            f"one-diode model at {LIGHT_TOP:g} W/m², absorption at {rig.battery.v_absorption:g} V plus a hold margin "
            f"of {above:g} V",
            *_assumed(rig, circuit, MODELLED),
        ),
    )


def input_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the array's short-circuit current reach the controller's input?"""
    limit = circuit.controller.i_pv_sc_max or math.inf
    amps = sum(max(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings)
    counted = INPUT_FACTOR * amps
    return Verdict(
        question=f"Input current: is the short-circuit current of {_named(rig, circuit)} allowed?",
        answer="yes" if counted <= limit else "no",
        margin=limit - counted,
        unit="A",
        sentence=f"{INPUT_FACTOR:g} x {amps:.1f} A = {counted:.1f} A against {limit:g} A at the input.",
        basis="factor 1.25 on the label's short-circuit amps (IEC 62548, US code 690.8); bright cloud edges exceed it "
        "for seconds",
        caution="Too much short-circuit current can destroy the input; do not connect this." if counted > limit else "",
    )


def cable_loss(rig: Rig, circuit: Circuit) -> Verdict:
    """What the roof cable costs in full sun and in dull light, and which section keeps it small."""
    strings = circuit.wiring.strings
    amps = sum(min(rig.panels[p].i_mp for p in string) for string in strings)
    watts = sum(rig.panels[p].p_mp for p in circuit.wiring.panels)
    drop, lost = cost(circuit.cable, amps)
    share = lost / watts
    needed = section_for(circuit.cable, DROP_TARGET * watts / amps**2)
    buy = f" {needed:g} mm² keeps it under {100 * DROP_TARGET:g} %." if needed else " No cable does; shorten the run."
    return Verdict(
        question=f"Cable: what do {circuit.cable.length_m:g} m of {circuit.cable.section_mm2:g} mm² cost in "
        f"{_named(rig, circuit)}?",
        answer="yes" if share <= DROP_TARGET else "close" if share <= DROP_MOST else "no",
        margin=100 * (DROP_TARGET - share),
        unit="points",
        sentence=f"{amps:.1f} A drop {drop:.2f} V and cost {lost:.0f} W, {100 * share:.1f} %, in full sun; in dull "
        f"light ({100 * DULL:g} %) {DULL**2 * lost:.1f} W, {100 * DULL * share:.1f} %.{buy * (share > DROP_TARGET)}",
        basis=f"IEC 60228 class 5 tinned copper at {circuit.cable.temp_conductor:g} °C, out and back, label amps; what "
        "current the cable may carry is not checked",
        caution=f"{amps:.0f} A in {circuit.cable.section_mm2:g} mm²: a thin cable, bad crimps and overloaded plugs "
        "burn; ask a competent person what current they may carry."
        if share > DROP_TARGET
        else "",
    )


def _named(rig: Rig, circuit: Circuit) -> str:
    """A circuit's wiring, with its panels where the rig has more than one circuit."""
    wiring = circuit.wiring
    return (
        wiring.name
        if len(rig.circuits) == 1 or wiring.grouping in wiring.name
        else f"{wiring.name} of {wiring.grouping}"
    )


def tallest_string(rig: Rig, circuit: Circuit) -> tuple[Panel, ...]:
    """Panels of the string with the most open-circuit volts on the coldest morning, gaps in their labels filled."""
    return max(_strings(rig, circuit), key=lambda string: string_voltage(string, rig.climate.temp_coldest))


def _strings(rig: Rig, circuit: Circuit) -> list[tuple[Panel, ...]]:
    """The panels of every string, a missing coefficient of volts filled in."""
    return [tuple(filled(rig.panels[p], VOLTS)[0] for p in string) for string in circuit.wiring.strings]


def _assumed(rig: Rig, circuit: Circuit, fields: Sequence[str]) -> tuple[str, ...]:
    """What stands in for coefficients missing on the labels of the circuit's panels."""
    notes = [note for panel in circuit.wiring.panels for note in filled(rig.panels[panel], fields)[1]]
    return tuple(dict.fromkeys(notes))


def _beta(panel: Panel) -> float:
    """Voltage coefficient of a panel whose gaps are filled. [%/K]"""
    assert panel.beta_voc_pct_per_k is not None
    return panel.beta_voc_pct_per_k


def string_voltage(panels: Sequence[Panel], temp: float) -> float:
    """Open-circuit volts of a string at a cell temperature, by the coefficients of panels whose gaps are filled. [V]"""
    return sum(cold_voltage(panel.v_oc, _beta(panel), temp) for panel in panels)


def coldest_safe(panels: Sequence[Panel], limit: float) -> float:
    """Cell temperature at which a string's open-circuit volts just meet the limit. [°C]"""
    label = sum(panel.v_oc for panel in panels)
    per_kelvin = sum(panel.v_oc * _beta(panel) / 100.0 for panel in panels)
    return TEMP_REFERENCE + (limit - label) / per_kelvin


def _table_volts(panels: Sequence[Panel], temp: float) -> float | None:
    """Cold volts by the US table; None where it is silent."""
    return None if temp < COLD_FACTORS[-1][0] else cold_factor(temp) * sum(panel.v_oc for panel in panels)


def _or_silent(volts: float | None) -> str:
    return "silent below -40 °C" if volts is None else f"{volts:.1f} V"


def _model_volts(rig: Rig, circuit: Circuit, temp: float) -> float:
    """Cold volts by the one-diode model in full light."""
    array = _array(rig, circuit, Snapshot(light=LIGHT_TOP, temp_cell=temp))
    return float(open_circuit_voltage(array.curves)[0])


def _array(rig: Rig, circuit: Circuit, request: Snapshot) -> Joined:
    """The circuit's array in one light."""
    return join(roof_of(rig.panels, conditions(rig.panels, request)), circuit)


def _waking_light(rig: Rig, circuit: Circuit, needed: float) -> float:
    """Light at which mild cells first reach the volts; infinite where no light does. [W/m²]"""
    lights = np.geomspace(0.5, LIGHT_TOP, 61)
    volts = _open_volts(rig, circuit, lights)
    if volts[-1] < needed:
        return math.inf
    return float(np.exp(np.interp(needed, volts, np.log(lights))))


def _open_volts(rig: Rig, circuit: Circuit, lights: np.ndarray) -> np.ndarray:
    """Open-circuit volts of the array with mild cells in several lights, shape (light,)."""
    one = conditions(rig.panels, Snapshot(light=1.0, temp_cell=TEMP_MILD))
    many = type(one)(
        tuple(lights[:, None, None, None] * panel for panel in one.light),
        np.repeat(one.temp_cell, len(lights), 0),
    )
    return open_circuit_voltage(join(roof_of(rig.panels, many), circuit).curves)


def _ceiling_sentence(
    panels: Sequence[Panel], cold: float, circuit: Circuit, margin: float, over_table: bool, most: int
) -> str:
    """The numbers of the cold ceiling."""
    limit, label = circuit.controller.v_pv_max, sum(panel.v_oc for panel in panels)
    safe = _safe_words(coldest_safe(panels, limit), over=margin < 0)
    share = 100 * margin / limit
    named = f"{label:.1f} V by label becomes {rounded_up(cold)} V"
    alike = len({(panel.v_oc, panel.beta_voc_pct_per_k) for panel in panels}) == 1
    few = f"at most {most} of these in series" if most else "not even one of these"
    room = few if alike else "unlike panels, add their volts"
    if margin < 0:
        trap = "The label sum looks fine and is not: " if label <= limit else ""
        return f"{trap}{named}, over by {rounded_up(-margin)} V ({-share:.1f} %). Safe {safe}; {room}."
    thin = " (thin)" if share < 100 * THIN else ""
    table = " The US factor table puts it over the ceiling." if over_table else ""
    return f"{named}: {rounded_down(margin)} V left, {share:.1f} %{thin}. Safe {safe}; {room}.{table}"


def _safe_words(temp: float, *, over: bool) -> str:
    """How cold it may get."""
    if temp > TEMP_REFERENCE:
        return f"only above {temp:.0f} °C{', so never' if over else ''}"
    return f"down to {rounded_up(temp)} °C" if temp > TEMP_COLDEST_EVER else "in any frost"


def rounded_up(value: float) -> str:
    """Cold volts and the coldest safe temperature to a tenth, never rounded down."""
    return f"{math.ceil(value * 10 - 1e-9) / 10:.1f}"


def rounded_down(volts: float) -> str:
    """Volts left to a tenth, never rounded up."""
    return f"{math.floor(volts * 10 + 1e-9) / 10:.1f}"


def _start_sentence(circuit: Circuit, needed: float, cold: float, hot: float, wakes: float, rig: Rig) -> str:
    """The numbers of the start."""
    coldest, hottest = rig.climate.temp_coldest, rig.climate.temp_cell_hottest
    volts = f"Open-circuit volts run from {hot:.1f} V ({hottest:g} °C) to {cold:.1f} V ({coldest:g} °C)"
    if wakes > LIGHT_TOP:
        ever = "not even in frost" if cold < needed else "only in the cold"
        return f"{volts}: {needed:.1f} V is reached {ever}. Put more panels in series."
    late = f"{volts}; cells at {TEMP_MILD:g} °C wake it {_light(wakes)}"
    if hot < needed:
        return f"{late}, but hot cells fall {needed - hot:.1f} V short: once asleep at noon it stays asleep."
    return f"{late}{', so dull mornings start late' if wakes > WAKES_EARLY else ''}."


def _light(light: float) -> str:
    """At what light it wakes; the model's panels are too good in the dullest light to name that to the watt."""
    return "in any light worth having" if light < LIGHT_USEFUL else f"at about {light:.0f} W/m²"


def _floor_sentence(v_best: float, v_oc: float, needed: float, drop: float, lost: float) -> str:
    """The numbers of the hot floor, said of the best point."""
    volts = f"is at {v_best:.1f} V after {drop:.1f} V of cable drop, open circuit at {v_oc:.1f} V"
    if v_best >= needed:
        return f"{volts}: {v_best - needed:.1f} V to spare ({100 * (v_best / needed - 1):.0f} %)."
    if v_oc < needed:
        return f"{volts}: nothing flows at {needed:.1f} V. Put more panels in series."
    return f"{volts}: {needed - v_best:.1f} V short, so a hot roof loses {_percent(lost)} of its power."


def _percent(share: float) -> str:
    """A share in percent, where a small one is not called none."""
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"


def _volts_caution(cold: float, margin: float, temp: float) -> str:
    """What the volts can do to the controller and to people."""
    said = []
    if margin < 0:
        said.append(OVER_VOLTAGE)
    if cold > V_DO_NOT_TOUCH:
        said.append(DO_NOT_TOUCH)
    if temp > TEMP_WARM_DAWN:
        said.append(f"{temp:g} °C is a warm first light: is it Fahrenheit, or a noon?")
    return " ".join(said)


def _joined(*parts: str) -> str:
    return "; ".join(parts)
