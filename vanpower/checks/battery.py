"""What the battery can take: current from all controllers together, and charging below freezing and in heat."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from vanpower.checks.common import INPUT_FACTOR, LIGHT_TOP, array_in, no_frost_charge, rounded_up
from vanpower.components.batteries import v_empty
from vanpower.components.controllers import TEMP_COLD_CUTOFF, cold_marks, operate
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import (
    ALTERNATOR,
    IRON_PHOSPHATE,
    LEAD_ACID,
    OTHER_LITHIUM,
    WIND,
    Battery,
    Circuit,
    Controller,
    Rig,
    Snapshot,
    Source,
)

CHARGE_RATE = {IRON_PHOSPHATE: 0.5, **dict.fromkeys(LEAD_ACID, 0.3)}
# [1/h] most charge amps per Ah where the battery's sheet is not at hand: a telecom battery's manual (25 to 50 °C), and
# a maker's charging tips for sealed lead-acid, taken for flooded ones too; secondary copies
COLD_RATE, COOL_RATE, TEMP_COOL = 0.1, 0.2, 10.0
# [1/h, 1/h, °C] the same for lithium iron phosphate from 0 °C up to this: a telecom battery's manual and a cell
# handling guide, secondary copies
TEMP_HOT, TEMP_HOTTEST, HOT_RATE = 45.0, 60.0, 0.1
# [°C, °C, 1/h] above the first lithium iron phosphate takes no charge by a cell handling guide; a telecom battery's
# manual allows this rate from 50 °C to the second, and none above; secondary copies
V_NEVER_OVER = 1500.0
# [V] a ceiling that nothing passes: what a dead controller would bring is told by the cold ceiling
COLD_CURE = "Fit a cold cut-off, or stop the charge by hand and warm the battery."
FULLY = 0.05
# [A] from what the controllers pass, within which they pass all they can; no source
QUESTION = "Charge current: does {} take what the panels deliver?"
RATES = {
    IRON_PHOSPHATE: "0.5 x Ah for warm lithium iron phosphate, 0.1 to 0.2 x Ah from 0 to 10 °C (a battery "
    "manual, a cell handling guide), none above 45 °C by a cell handling guide, above 60 °C by a battery manual; ",
    OTHER_LITHIUM: "",
    **dict.fromkeys(LEAD_ACID, "0.3 x Ah for lead-acid (a maker's tips for sealed ones); "),
}
# what a battery takes where its sheet is not at hand, and who says so


def charge_current(rig: Rig) -> Verdict:
    """May the battery be charged with the current that all panels together deliver in cold bright light?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(charge_current(rig).sentence.partition(". ")[0])  # two panels of 110 W
    Cold full sun delivers 18.2 A, a cloud's edge 20 A for seconds to minutes, against 50 A (0.5 x Ah, typical)
    """
    battery = rig.battery
    sun = [sum(amps_in(rig, circuit, light) for circuit in rig.circuits) for light in _lights()]
    limit, whose = accept_limit(battery)
    names, more = other_amps(rig)
    brings = _brings(rig, *sun)
    brings += f", {' and '.join(names)} up to {_amps(more)} A more at the same time" if names else ""
    steady, burst = (amps + more for amps in sun)
    heat, worst = _heat(rig, steady)
    if limit is None:
        return _unknown(brings, battery, heat)
    trips = battery.is_lithium and steady <= limit < burst
    answer: Answer = "no" if steady > limit or worst == "no" else "close" if trips or worst == "close" else "yes"
    said = [f"{brings}, against {limit:g} A ({whose})."]
    lower = _lower(rig, others=bool(names))
    said += [f"{lower[0].upper()}{lower[1:]}."] * (steady > limit)
    said += [f"Its guard may switch it off in such a burst: {lower}."] * trips
    return Verdict(
        question=QUESTION.format(battery.name),
        answer=answer,
        margin=limit - (burst if battery.is_lithium else steady),
        unit="A",
        sentence=" ".join([*said, *heat]),
        basis=_basis(rig),
        caution="Too much current overheats cells and cables." if answer == "no" else "",
    )


def _lower(rig: Rig, *, others: bool) -> str:
    """What brings less current: limits that can be set, or fewer panels, since a plain switch has none."""
    switches = [circuit.controller.tracker == "direct" for circuit in rig.circuits]
    limits = "the limits of controllers and other chargers" if others else "the controllers' limits"
    fewer = "a plain switch holds nothing back, so put fewer panels on it or take a controller that can be set"
    if not any(switches):
        return f"set {limits} lower"
    return fewer if all(switches) and not others else f"set {limits} lower; {fewer}"


def amps_in(rig: Rig, circuit: Circuit, light: float = LIGHT_TOP) -> float:
    """Largest current that a circuit puts into a battery that is low, with cold cells in some light. [A]

    Parameters
    ----------
    rig : Rig
    circuit : Circuit
        One of its circuits.
    light : float
        Irradiance on every panel. [W/m²]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("hay-cart")  # a plain switch passes the panel's own amps
    >>> round(amps_in(rig, rig.circuits[0]), 1), rig.panels[0].i_sc
    (3.6, 3.7)
    """
    return _amps_in(rig if rig.roof is None else replace(rig, roof=None), circuit, light)


def other_amps(rig: Rig) -> tuple[list[str], float]:
    """Other chargers that may run together, and their amps into a battery that is low. [A]

    Notes
    -----
    The alternator charges while the van drives, shore and generator while it stands; wind may add to either.

    Examples
    --------
    >>> from vanpower import Source, example
    >>> belt, shore = Source(name="belt", kind="alternator", i_charge_max=40.0), Source(
    ...     name="campsite", kind="shore", i_charge_max=20.0)
    >>> other_amps(example("bookmobile").changed(sources=(belt, shore)))
    (['belt'], 40.0)
    """
    driving = [source for source in rig.sources if source.kind in (ALTERNATOR, WIND)]
    standing = [source for source in rig.sources if source.kind != ALTERNATOR]
    most = max((driving, standing), key=lambda sources: sum(_most_amps(rig, source) for source in sources))
    return [source.name for source in most], sum(_most_amps(rig, source) for source in most)


def _most_amps(rig: Rig, source: Source) -> float:
    """Most that a source puts into a battery that is low. [A]"""
    volts = v_empty(rig.battery)
    by_watts = [] if source.p_charge_max is None else [source.p_charge_max / volts]
    by_hour = [] if source.p_hourly is None else [max(source.p_hourly) / volts]
    by_amps = [] if source.i_charge_max is None else [source.i_charge_max]
    return min([*by_watts, *by_hour, *by_amps])


@lru_cache(maxsize=1024)
def _amps_in(rig: Rig, circuit: Circuit, light: float) -> float:
    """`amps_in`, kept; what stands on the roof does not enter."""
    controller, volts = circuit.controller, v_empty(rig.battery)
    awake = replace(controller, v_pv_max=V_NEVER_OVER, v_start_margin=controller.v_hold_margin)
    array = array_in(rig, circuit, Snapshot(light=light, temp_cell=rig.climate.temp_coldest))
    there = operate(array, awake, volts)
    return float(there.i_array[0] if controller.tracker == "direct" else there.p_battery[0] / volts)


def _lights() -> tuple[float, float]:
    """Full sun, and the light beside a cloud. [W/m²]"""
    return LIGHT_TOP, INPUT_FACTOR * LIGHT_TOP


def _basis(rig: Rig) -> str:
    """What the amps and the limit rest on."""
    driving = "of other chargers those count that may run together, driving or standing"
    others = driving if rig.sources else "other chargers on board add to it"
    return (
        f"best power at {LIGHT_TOP:g} W/m² and {rig.climate.temp_coldest:g} °C cells into the battery when it is low "
        f"({v_empty(rig.battery):.1f} V), {INPUT_FACTOR:g} times that light at a cloud's edge, {_passed(rig)}, for "
        f"which battery cable and fuse are sized, as a later panel may bring it; {RATES[rig.battery.chemistry]}the "
        f"battery's own sheet wins; {others}"
    )


def _brings(rig: Rig, steady: float, burst: float) -> str:
    """What the panels deliver while the sun is steady, and at a cloud's edge."""
    if steady >= sum(circuit.controller.i_charge_max for circuit in rig.circuits) - FULLY:
        return f"Cold full sun delivers {_amps(steady)} A, all that the controllers pass"
    if burst <= 0:
        return f"The panels deliver nothing: they do not reach the battery's {v_empty(rig.battery):.1f} V"
    return f"Cold full sun delivers {_amps(steady)} A, a cloud's edge {_amps(burst)} A for seconds to minutes"


def accept_limit(battery: Battery) -> tuple[float | None, str]:
    """Most amps it takes while it is warm, and who says so; None where nobody does. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> accept_limit(example("bookmobile").battery)
    (50.0, '0.5 x Ah, typical')
    """
    if battery.i_accept_max:
        return battery.i_accept_max, "its sheet"
    rate = CHARGE_RATE.get(battery.chemistry)
    if rate is None or battery.capacity_ah is None:
        return None, ""
    return rate * battery.capacity_ah, f"{rate:g} x Ah, typical"


def _unknown(brings: str, battery: Battery, heat: list[str]) -> Verdict:
    """The answer where nobody says what the battery takes."""
    amps, hours = "which charge amps the battery accepts (i_accept_max)", "how many amp-hours it has (capacity_ah)"
    lacks = amps if battery.chemistry == OTHER_LITHIUM else f"{amps}, nor {hours}"
    said = f"{brings}; the file does not say {lacks}."
    return Verdict(
        question=QUESTION.format(battery.name),
        answer="close",
        margin=0.0,
        unit="A",
        sentence=" ".join([said, *heat]),
        basis="only the maker of other lithium says what it takes" * (battery.chemistry == OTHER_LITHIUM)
        or "nothing known",
        stated=False,
    )


def _heat(rig: Rig, amps: float) -> tuple[list[str], Answer]:
    """What lithium iron phosphate takes in the cool and in the heat, and what that makes of the answer."""
    battery = rig.battery
    if battery.chemistry != IRON_PHOSPHATE:
        return [], "yes"
    said, answers = [], ["yes"]
    if battery.capacity_ah and rig.climate.temp_coldest + battery.temp_offset < TEMP_COOL:
        low, high = (rate * battery.capacity_ah for rate in (COLD_RATE, COOL_RATE))
        if amps > low:
            want = f"Between 0 and {TEMP_COOL:g} °C its cells want {low:g} to {high:g} A at the most ({COLD_RATE:g} to "
            want += f"{COOL_RATE:g} x Ah)"
            switches = all(circuit.controller.tracker == "direct" for circuit in rig.circuits)
            less = "leave panels unplugged" if switches else "set the limits so"
            said.append(f"{want}: warm it, or {less} in winter." if amps > high else f"{want}.")
            answers += ["close"] * (amps > high)
    if battery.temp_hottest is not None and battery.temp_hottest > TEMP_HOT:
        over = battery.temp_hottest > TEMP_HOTTEST
        said.append(
            f"It gets {battery.temp_hottest:g} °C where it lies: above {TEMP_HOT:g} °C its cells want no charge, or "
            f"{HOT_RATE:g} x Ah up to {TEMP_HOTTEST:g} °C if its sheet allows it. Give it shade and air."
        )
        answers.append("no" if over else "close")
    return said, "no" if "no" in answers else "close" if "close" in answers else "yes"


def _amps(amps: float) -> str:
    """Amps to a tenth, never rounded down, and whole ones without it."""
    return rounded_up(amps).removesuffix(".0")


def _passed(rig: Rig) -> str:
    """What the controllers pass at the most, one after the other."""
    plates = " + ".join(f"{circuit.controller.i_charge_max:g}" for circuit in rig.circuits)
    if any(circuit.controller.tracker == "direct" for circuit in rig.circuits):
        return f"a plain switch holds none of it back, whatever its limit ({plates} A)"
    return f"never more than the controller's limit ({plates} A)"


def _stops(controller: Controller) -> bool | None:
    """Whether it keeps frost from lithium: None where its sheet does not say, false where it stops too late."""
    return controller.cold_cutoff and cold_marks(controller)[0] >= TEMP_COLD_CUTOFF


def _shut(rig: Rig) -> str:
    """A word on controllers that leave the loads alone in frost."""
    names = [c.controller.name for c in rig.circuits if c.controller.cold_cutoff and not c.controller.cold_feeds_loads]
    return f" {' and '.join(dict.fromkeys(names))} then feeds no loads either." if names else ""


def _marks_said(rig: Rig) -> str:
    """Where controllers stop and where they begin again."""
    marks = {cold_marks(c.controller): c.controller.temp_cold_cutoff for c in rig.circuits if c.controller.cold_cutoff}
    said = [f"stop below {cut:g} °C and to charge again from {release:g} °C on" for cut, release in marks]
    usual = ", as usual" if None in marks.values() else ""
    return f"; a cold cut-off is taken to {' or to '.join(said)}{usual}"


def cold_charging(rig: Rig) -> Verdict:
    """Is the battery kept from being charged in frost?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(cold_charging(rig).sentence)
    -11 °C at dawn, and every controller stops charging in frost; test it.
    """
    lithium, coldest = rig.battery.is_lithium, rig.climate.temp_coldest
    cuts = [_stops(circuit.controller) for circuit in rig.circuits]
    answer: Answer = "yes"
    if not lithium:
        said = "Lead-acid may be charged in frost, more slowly and with more volts. A flat one freezes: never charge a "
        said += "frozen one, it can burst."
    elif coldest >= 0:
        said = f"The coldest dawn, {coldest:g} °C, is above 0 °C."
    elif rig.battery.temp_lockout is not None and rig.battery.temp_lockout >= 0:
        said = f"{coldest:g} °C at dawn; the battery itself takes no charge below {rig.battery.temp_lockout:g} °C."
    elif all(cuts):
        said = f"{coldest:g} °C at dawn, and every controller stops charging in frost; test it.{_shut(rig)}"
    else:
        answer = "no" if False in cuts else "close"
        word = "does not stop" if False in cuts else "is not known to stop"
        said = f"{coldest:g} °C at dawn, and a controller {word} charging in frost (cold_cutoff). {COLD_CURE}"
    return Verdict(
        question="Cold charging: is the battery kept from being charged in frost?",
        answer=answer,
        margin=coldest if lithium else 0.0,
        unit="K",
        sentence=said,
        basis=f"{_frost_rule(rig.battery)}; cells lag the air, so they may be colder than it at noon"
        f"{_marks_said(rig) if lithium and any(cuts) else ''}",
        caution=no_frost_charge(rig.battery) if answer != "yes" else "",
        stated=answer != "close",
    )


def _frost_rule(battery: Battery) -> str:
    """What is known of charging such a battery in frost."""
    if not battery.is_lithium:
        return (
            "lead-acid takes charge in frost, its acid freezes once it is flat; never charged frozen (charging pages)"
        )
    kind = "lithium" if battery.chemistry == OTHER_LITHIUM else "lithium iron phosphate"
    return f"{kind} is not charged below 0 °C (cell handling guide, a battery manual)"
