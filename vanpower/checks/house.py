"""What the battery stands: amps from all controllers together, and charging in frost."""

from __future__ import annotations

from vanpower.checks.words import NO_FROST_CHARGE
from vanpower.rig import Rig
from vanpower.verdicts import Answer, Verdict

CHARGE_RATE = {"lithium iron phosphate": 0.5, "lead-acid": 0.3}
# [1/h] most charge amps per Ah where the battery's sheet is not at hand: a telecom battery's manual (25 to 50 °C), and
# a maker's charging tips for sealed lead-acid; secondary copies
COOL_RATE, TEMP_COOL = 0.2, 10.0
# [1/h, °C] the same for lithium iron phosphate below this; a cell handling guide, secondary copy


def charge_current(rig: Rig) -> Verdict:
    """Does the battery stand the amps of all controllers together?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("bookmobile")
    >>> print(charge_current(rig).sentence)
    Up to 20 A against 50 A (0.5 x Ah, typical).
    """
    battery = rig.battery
    amps = sum(circuit.controller.i_charge_max for circuit in rig.circuits)
    by_rate = battery.capacity_ah and CHARGE_RATE[battery.chemistry] * battery.capacity_ah
    limit = battery.i_accept_max or by_rate
    whose = "its sheet" if battery.i_accept_max else f"{CHARGE_RATE[battery.chemistry]:g} x Ah, typical"
    question = f"Charge current: does {battery.name} stand what the controllers push?"
    if not limit:
        sentence = f"Up to {amps:g} A; the file gives neither i_accept_max nor capacity_ah of the battery."
        return Verdict(
            question=question, answer="close", margin=0.0, unit="A", sentence=sentence, basis="nothing known"
        )
    cool = battery.chemistry == "lithium iron phosphate" and battery.capacity_ah
    mild = COOL_RATE * battery.capacity_ah if cool and battery.capacity_ah else limit
    chilly = f" Below {TEMP_COOL:g} °C cells want {mild:g} A or less." if mild < amps <= limit else ""
    answer: Answer = "yes" if amps <= limit else "no"
    return Verdict(
        question=question,
        answer=answer,
        margin=limit - amps,
        unit="A",
        sentence=f"Up to {amps:g} A against {limit:g} A ({whose}).{chilly}"
        + " Set the controllers' limits lower." * (answer == "no"),
        basis="0.5 x Ah for warm lithium iron phosphate (a battery manual), 0.3 x Ah for lead-acid (a maker's tips); "
        "the battery's own sheet wins; other chargers on board add to it",
        caution="Too much current overheats cells and cables." if answer == "no" else "",
    )


def cold_charging(rig: Rig) -> Verdict:
    """Is the battery kept from being charged in frost?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("bookmobile")
    >>> print(cold_charging(rig).sentence)
    -11 °C at first light, and every controller stops charging in frost; test it.
    """
    lithium, coldest = rig.battery.chemistry == "lithium iron phosphate", rig.climate.temp_coldest
    cuts = [circuit.controller.cold_cutoff for circuit in rig.circuits]
    answer: Answer = "yes"
    if not lithium:
        said = "Lead-acid may be charged in frost, more slowly and with more volts; a flat one freezes."
    elif coldest >= 0:
        said = f"The coldest first light, {coldest:g} °C, is above 0 °C."
    elif rig.battery.temp_lockout is not None and rig.battery.temp_lockout >= 0:
        said = (
            f"{coldest:g} °C at first light; the battery itself takes no charge below {rig.battery.temp_lockout:g} °C."
        )
    elif all(cuts):
        said = f"{coldest:g} °C at first light, and every controller stops charging in frost; test it."
    else:
        answer = "no" if False in cuts else "close"
        word = "does not stop" if False in cuts else "is not known to stop"
        said = f"{coldest:g} °C at first light, and a controller {word} charging in frost (cold_cutoff)."
    return Verdict(
        question="Cold charging: is the battery kept from being charged in frost?",
        answer=answer,
        margin=coldest if lithium else 0.0,
        unit="K",
        sentence=said,
        basis="lithium iron phosphate is not charged below 0 °C (cell handling guide, a battery manual); cells lag "
        "the air, so they may be colder than it at noon",
        caution=NO_FROST_CHARGE if answer != "yes" else "",
    )
