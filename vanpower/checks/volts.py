"""Volts: the cold ceiling, the start and the hot floor.

Volts at a cold dawn are never rounded down. The label's coefficient decides; where the US table is stricter the
answer is at best "close".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from vanpower.checks.common import (
    LIGHT_TOP,
    LIGHT_USEFUL,
    OVER_VOLTAGE,
    THIN,
    WAKES_EARLY,
    array_in,
    assumed,
    assumed_steep,
    beta,
    cold_voltage,
    joined,
    named,
    percent,
    rounded_down,
    rounded_up,
    string_voltage,
    strings_of,
    tallest_string,
    touch_words,
    when_coldest,
)
from vanpower.components.cables.heat import warmed
from vanpower.components.cables.resistance import resistance
from vanpower.components.controllers import INSIDE_HILL, margins, sweep
from vanpower.components.single_diode import steep
from vanpower.engine.constants import TEMP_REFERENCE
from vanpower.engine.curves import current_at, open_circuit_voltage
from vanpower.engine.maxima import refine
from vanpower.model.conditions import even_light
from vanpower.model.rig_in_light import rig_model
from vanpower.results.verdict import WORST_FIRST, Answer, Verdict
from vanpower.rig import Cable, Circuit, Panel, Rig, Snapshot, Wiring

COLD_FACTORS = (
    (25, 1.00), (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
# (coldest °C of the row, factor on open-circuit volts), crystalline silicon: US National Electrical Code 2017, 690.7(A)
TEMP_COLDEST_EVER = -90.0
# [°C] colder than any place on Earth; World Meteorological Organization, Vostok 1983: -89.2 °C
TEMP_WARM_DAWN = 5.0
# [°C] a coldest first light above this is asked about once more; no source
V_ROUNDING = 1e-9
# [V] rounding of a sum of volts that just meets the ceiling
AMPS = ("alpha_isc_pct_per_k",)
# the coefficient of amps, which volts rest on a little
NO_FLOOR_LOSS, SOFT_FLOOR_LOSS = 0.01, 0.10
# share of the power lost at the hot floor up to which the answer is yes, and from which it is no; no source
AIR_FAIR, WIND_FAIR, HEATING = 30.0, 1.0, {"open": 29.0, "gap": 49.0, "glued": 58.0}
# [°C] and [m/s] air and wind of a hot summer's day, no source; [K] cells above that air by how a panel is mounted, at
# 1000 W/m²: King et al., SAND2004-3535, Table 1, by the sets that `weather.planes.MOUNTS` names
MOUNTED = {"open": "Panels with air all round", "gap": "Panels on brackets", "glued": "Panels glued flat"}
TEMP_MILD = 15.0
# [°C] cells on a mild dull morning, for saying at what light a controller wakes; no source


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


def most_in_series(v_cold: float, v_limit: float) -> int:
    """Most panels in one string whose cold volts stay at or under the limit.

    Examples
    --------
    >>> most_in_series(25.0, 100.0), most_in_series(25.1, 100.0)
    (4, 3)
    """
    return math.floor(v_limit / v_cold * (1.0 + 1e-12))


def cold_ceiling(rig: Rig, circuit: Circuit) -> Verdict:
    """Does the open-circuit voltage at the coldest dawn stay below the controller's maximum input voltage?

    Its margin is what is left below the maximum. [V]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage").wired("4s")
    >>> cold_ceiling(rig, rig.circuits[0]).answer
    'no'
    """
    return _cold_ceiling(rig if rig.roof is None else replace(rig, roof=None), circuit)


@lru_cache(maxsize=1024)
def _cold_ceiling(rig: Rig, circuit: Circuit) -> Verdict:
    """`cold_ceiling`, kept; what stands on the roof does not enter."""
    temp, limit = rig.climate.temp_coldest, circuit.controller.v_pv_max
    panels, notes = tallest_string(rig, circuit), assumed_steep(rig, circuit)
    cold = string_voltage(panels, temp)
    table, model = _table_volts(panels, temp), _model_volts(rig, circuit, temp)
    margin = limit - cold if abs(limit - cold) > V_ROUNDING else 0.0
    over_table = table is not None and table > limit
    answer: Answer = "no" if margin < 0 else "close" if margin < THIN * limit or over_table else "yes"
    others = f"US factor table {_or_silent(table)}, one-diode model {model:.1f} V"
    most = most_in_series(max(cold_voltage(p.v_oc, beta(p), temp) for p in panels), limit)
    return Verdict(
        question=f"Cold ceiling: does {named(rig, circuit)} stay under {limit:g} V at {temp:g} °C?",
        answer=answer,
        margin=margin,
        unit="V",
        sentence=_ceiling_sentence(panels, cold, circuit, margin, over_table, most, temp),
        basis=joined(
            f"label coefficient at the coldest dawn ({temp:g} °C, {_whose(rig)}), cells as "
            f"cold as the air and the sun already on them; for comparison: {others}",
            *notes,
        ),
        caution=_volts_caution(cold, margin, temp),
    )


def start_volts(rig: Rig, circuit: Circuit) -> Verdict:
    """Does the array reach the voltage at which the controller starts, and from how much light on?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage").wired("4p")
    >>> start_volts(rig, rig.circuits[0]).answer
    'no'
    """
    above = margins(circuit.controller)[0]
    needed = rig.battery.v_now + above
    coldest, hottest = rig.climate.temp_coldest, rig.climate.temp_cell_hottest
    panels = min(strings_of(rig, circuit), key=lambda string: string_voltage(string, hottest))
    cold, hot = (string_voltage(panels, temp) for temp in (coldest, hottest))
    wakes = _waking_light(rig, circuit, needed)
    margin = hot - needed
    answer: Answer = "no" if wakes > LIGHT_TOP else "close" if margin < 0 or wakes > WAKES_EARLY else "yes"
    return Verdict(
        question=f"Start: does {named(rig, circuit)} wake the controller ({needed:.1f} V)?",
        answer=answer,
        margin=margin,
        unit="V",
        sentence=_start_sentence(circuit, needed, cold, hot, wakes, rig),
        basis=joined(
            f"battery at {rig.battery.v_now:g} V plus a start margin of {above:g} V; "
            f"open-circuit volts by label coefficient at {hottest:g} °C cells",
            *assumed_steep(rig, circuit),
        ),
    )


def hot_floor(rig: Rig, circuit: Circuit) -> Verdict:
    """On a hot roof, is the array's best-power voltage still high enough to charge the battery in absorption?

    Its margin is what the array has above what is needed. [V]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> round(hot_floor(rig, rig.circuits[0]).margin, 1)
    2.6
    """
    temp = rig.climate.temp_cell_hottest
    hot = _hot_at(rig, circuit, temp)
    above = margins(circuit.controller)[1]
    return Verdict(
        question=f"Hot floor: do {temp:g} °C cells in {named(rig, circuit)} still reach {hot.needed:.1f} V?",
        answer=hot.answer,
        margin=hot.v_best - hot.needed,
        unit="V",
        sentence=f"{_floor_sentence(hot)}{_hot_cure(rig, circuit, hot)}",
        basis=joined(
            f"one-diode model at {LIGHT_TOP:g} W/m², absorption at {rig.battery.v_absorption:g} V plus a hold margin "
            f"of {above:g} V, copper of the cable at {hot.cable.temp_conductor:.0f} °C",
            *assumed_steep(rig, circuit),
            *assumed(rig, circuit, AMPS),
        ),
        caution=_hotter_words(rig, circuit, hot.answer),
    )


class _Hot(NamedTuple):
    """An array at one heat against the volts that its battery needs: all volts at the controller."""

    needed: float
    v_best: float
    v_oc: float
    drop: float
    lost: float
    inside: bool
    cable: Cable

    @property
    def answer(self) -> Answer:
        """By the share of the power that is lost."""
        return "yes" if self.lost < NO_FLOOR_LOSS else "close" if self.lost < SOFT_FLOOR_LOSS else "no"


def _hot_at(rig: Rig, circuit: Circuit, temp: float) -> _Hot:
    """Best-power volts in full sun at one cell temperature, and the power lost where they are too low."""
    needed = rig.battery.v_absorption + margins(circuit.controller)[1]
    cable = warmed(circuit.cable, sum(min(rig.panels[p].i_mp for p in string) for string in circuit.wiring.strings))
    careful = replace(rig, panels=tuple(steep(panel) for panel in rig.panels))
    array = array_in(careful, replace(circuit, cable=cable), Snapshot(light=LIGHT_TOP, temp_cell=temp))
    top, (v, _, p) = array.peaks
    volts, held = sweep(array, top, np.array([needed]))
    inside = bool(held[0] == INSIDE_HILL)
    if inside:
        # unlike panels may have a higher hill far below the floor, which no heat put there; the one inside counts
        v = refine(array, volts, np.array([True]))[0]
    v_best = float(v[0])
    i_best = float(current_at(array.curves, np.array([[v_best]]))[0][0, 0])
    there = needed * max(float(current_at(array.curves, np.array([[needed]]))[0][0, 0]), 0.0)
    return _Hot(
        needed=needed,
        v_best=v_best,
        v_oc=float(open_circuit_voltage(array.curves)[0]),
        drop=i_best * resistance(cable),
        lost=0.0 if v_best >= needed else 1.0 - there / float(p[0]),
        inside=inside,
        cable=cable,
    )


def _hotter_words(rig: Rig, circuit: Circuit, answer: Answer) -> str:
    """What the panels' own heat on a fair summer's day would make worse; empty where nothing is."""
    panels = [panel for string in strings_of(rig, circuit) for panel in string]
    mount = max((panel.mount for panel in panels), key=HEATING.__getitem__)
    heat = AIR_FAIR + HEATING[mount]
    if answer == "no" or heat <= rig.climate.temp_cell_hottest:
        return ""
    hot = _hot_at(rig, circuit, heat)
    if WORST_FIRST.index(hot.answer) >= WORST_FIRST.index(answer):
        return ""
    fair = f"in full sun at {AIR_FAIR:g} °C and {WIND_FAIR:g} m/s of wind (King et al. 2004)"
    return (
        f"{MOUNTED[mount]} reach some {heat:g} °C {fair}: then {_short_words(hot)}. "
        f"Are cells of {rig.climate.temp_cell_hottest:g} °C (temp_cell_hottest) hot enough for where you go?"
    )


def coldest_safe(panels: Sequence[Panel], limit: float) -> float:
    """Cell temperature at which a string's open-circuit volts just meet the limit. [°C]

    Examples
    --------
    >>> from vanpower import example
    >>> round(coldest_safe(example("puppet-stage").panels[:3], 80.0), 1)  # three in series under 80 V
    -28.2
    """
    label = sum(panel.v_oc for panel in panels)
    per_kelvin = sum(panel.v_oc * beta(panel) / 100.0 for panel in panels)
    return TEMP_REFERENCE + (limit - label) / per_kelvin


def _whose(rig: Rig) -> str:
    """Who says how cold it gets, and where, if a year's plan has several places."""
    climate = rig.climate
    coldest = min(climate.places, key=lambda place: place[1], default=None)
    where = f"{coldest[0]} is the coldest of {len(climate.places)} places, " if coldest else ""
    return f"{where}{climate.basis.rstrip('.')}"


def _table_volts(panels: Sequence[Panel], temp: float) -> float | None:
    """Cold volts by the US table; None where it is silent."""
    return None if temp < COLD_FACTORS[-1][0] else cold_factor(temp) * sum(panel.v_oc for panel in panels)


def _or_silent(volts: float | None) -> str:
    return "silent below -40 °C" if volts is None else f"{volts:.1f} V"


def _model_volts(rig: Rig, circuit: Circuit, temp: float) -> float:
    """Cold volts of the tallest string alone, by the one-diode model in full light; lower ones beside it may fail."""
    labels = zip(strings_of(rig, circuit), circuit.wiring.strings, strict=True)
    _, tallest = max(labels, key=lambda string: string_voltage(string[0], temp))
    alone = replace(circuit, wiring=Wiring(strings=(tallest,)))
    array = array_in(rig, alone, Snapshot(light=LIGHT_TOP, temp_cell=temp))
    return float(open_circuit_voltage(array.curves)[0])


def _waking_light(rig: Rig, circuit: Circuit, needed: float) -> float:
    """Light at which mild cells first reach the volts; infinite where no light does. [W/m²]"""
    lights = np.geomspace(0.5, LIGHT_TOP, 61)
    volts = _open_volts(rig, circuit, lights)
    if volts[-1] < needed:
        return math.inf
    return float(np.exp(np.interp(needed, volts, np.log(lights))))


def _open_volts(rig: Rig, circuit: Circuit, lights: np.ndarray) -> np.ndarray:
    """Open-circuit volts of the array with mild cells in several lights, shape (light,)."""
    return rig_model(rig, even_light(rig.panels, lights, TEMP_MILD)).v_oc(circuit)


def _ceiling_sentence(
    panels: Sequence[Panel], cold: float, circuit: Circuit, margin: float, over_table: bool, most: int, temp: float
) -> str:
    """The numbers of the cold ceiling."""
    limit, label = circuit.controller.v_pv_max, sum(panel.v_oc for panel in panels)
    safe = _safe_words(coldest_safe(panels, limit), over=margin < 0)
    share = 100 * margin / limit
    reach = f"{_in_series(len(panels))} {rounded_up(cold)} V at {temp:g} °C"
    alike = len({(panel.v_oc, panel.beta_voc_pct_per_k) for panel in panels}) == 1
    few = f"at most {most} of these in series" if most else "not even one of these"
    room = few if alike else "unlike panels, add their volts"
    if margin < 0 and not (alike and most):
        room += f": it wants {'' if alike else 'fewer in a string, or '}a controller for {rounded_up(cold)} V"
    if margin < 0:
        trap = "The label sum looks fine and is not:" if label <= limit else "By label"
        much = f"{label:.1f} V, at that dawn {-share:.1f} % too much"
        return f"{reach}, {rounded_up(-margin)} V over the ceiling. {trap} {much}. Safe {safe}; {room}."
    thin = " (thin)" if share < 100 * THIN else ""
    table = " The US factor table puts it over the ceiling." if over_table else ""
    left = f"By label {label:.1f} V; {share:.1f} % left{thin}"
    return f"{reach}, {rounded_down(margin)} V under the ceiling. {left}. Safe {safe}; {room}.{table}"


def _in_series(number: int) -> str:
    """How many panels reach together."""
    return f"{number} in series reach" if number > 1 else "One panel reaches"


def _safe_words(temp: float, *, over: bool) -> str:
    """How cold it may get."""
    if temp > TEMP_REFERENCE:
        return f"only above {temp:.0f} °C{', so never' if over else ''}"
    return f"down to {rounded_up(temp)} °C" if temp > TEMP_COLDEST_EVER else "in any frost"


def _start_sentence(circuit: Circuit, needed: float, cold: float, hot: float, wakes: float, rig: Rig) -> str:
    """The numbers of the start."""
    coldest, hottest = rig.climate.temp_coldest, rig.climate.temp_cell_hottest
    volts = f"Open-circuit volts run from {hot:.1f} V ({hottest:g} °C) to {cold:.1f} V ({coldest:g} °C)."
    if wakes > LIGHT_TOP:
        mild = min(string_voltage(string, TEMP_MILD) for string in strings_of(rig, circuit))
        never = f"It never wakes, for {needed:.1f} V is not reached, not even {when_coldest(rig)}"
        ever = never if cold < needed else f"It wakes only in the cold, where {needed:.1f} V is reached"
        return f"{ever}. {volts}{_least_words(rig, circuit, needed, mild, dry=True)}"
    late = f"cells at {TEMP_MILD:g} °C wake it {_light(wakes)}"
    if hot < needed:
        least = _least_words(rig, circuit, needed, hot, dry=True)
        short = f"Hot cells fall {rounded_up(needed - hot)} V short, and once asleep at noon it stays asleep"
        return f"{short}. {volts[:-1]}; {late}.{least}"
    more = (
        "panels of more volts"
        if circuit.controller.tracker == "direct"
        else "more in series, where the ceiling allows it,"
    )
    dull = f" Dull mornings start late: {more} start earlier." if wakes > WAKES_EARLY else ""
    return f"{late[0].upper()}{late[1:]}. {volts}{dull}"


def _light(light: float) -> str:
    """At what light it wakes; the model's panels are too good in the dullest light to name that to the watt."""
    return "in any light worth having" if light < LIGHT_USEFUL else f"at about {light:.0f} W/m²"


def _hot_cure(rig: Rig, circuit: Circuit, hot: _Hot) -> str:
    """How many in series reach the volts on a hot roof; empty where nothing is lost."""
    dry = hot.v_oc < hot.needed
    if hot.answer == "yes":
        return ""
    if circuit.controller.tracker == "direct" and not dry:
        # a plain switch throws away what volts it is given above the battery's
        return " Panels of more cells reach it."
    return _least_words(rig, circuit, hot.needed + hot.drop, hot.v_best + hot.drop, dry=dry)


def _least_words(rig: Rig, circuit: Circuit, needed: float, best: float, *, dry: bool) -> str:
    """How many equal panels in series reach the volts; where they pass the ceiling, what they want."""
    strings = strings_of(rig, circuit)
    if len(set(strings)) > 1 or len(set(strings[0])) > 1:
        return f" Put more panels in series{', as far as the ceiling allows' * (not dry)}."
    least = math.ceil(needed * len(strings[0]) / best - 1e-9)
    cold = cold_voltage(strings[0][0].v_oc, beta(strings[0][0]), rig.climate.temp_coldest)
    if cold * least <= circuit.controller.v_pv_max:
        return f" At least {least} of these in series reach it."
    passes = f"but {when_coldest(rig)} they pass the ceiling: it wants a controller with a higher ceiling"
    return f" At least {least} of these in series reach it, {passes}."


def _floor_sentence(hot: _Hot) -> str:
    """The numbers of the hot floor, said of the best point."""
    place = "Best power within reach" if hot.inside else "Best power"
    # volts that nothing flows at are never printed as those of the open circuit
    open_at = f"{hot.v_oc:.1f}" if hot.v_oc >= hot.needed else rounded_down(hot.v_oc)
    volts = f"is at {rounded_down(hot.v_best)} V after {hot.drop:.1f} V of cable drop, open circuit at {open_at} V"
    if hot.v_best >= hot.needed:
        spare = hot.v_best - hot.needed
        return f"On a hot roof {rounded_down(spare)} V to spare ({100 * spare / hot.needed:.0f} %). {place} {volts}."
    return f"On a hot roof {_short_words(hot)}. {place} {volts}."


def _short_words(hot: _Hot) -> str:
    """What volts that are too low do."""
    if hot.v_oc < hot.needed:
        return f"nothing flows at {hot.needed:.1f} V"
    return f"{rounded_up(hot.needed - hot.v_best)} V short, and {percent(hot.lost)} of the power is lost"


def _volts_caution(cold: float, margin: float, temp: float) -> str:
    """What the volts can do to the controller and to people."""
    said = []
    if margin < 0:
        said.append(OVER_VOLTAGE)
    said += filter(None, [touch_words(cold)])
    if temp > TEMP_WARM_DAWN:
        said.append(f"{temp:g} °C is a warm dawn: is it Fahrenheit, or a noon?")
    return " ".join(said)
