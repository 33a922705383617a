"""Charge settings: do absorption and float suit the battery's chemistry and nominal volts?"""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.batteries import cells_in_series, usual_float
from vanpower.checks.words import NO_FROST_CHARGE
from vanpower.rig import Battery, Rig
from vanpower.verdicts import Answer, Verdict


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What settings are usual for a chemistry, per cell. [V]

    Parameters
    ----------
    absorption, float_ : tuple of (low, high)
        What is usual.
    v_most : float
        What no cell should see.
    basis : str

    Examples
    --------
    >>> gel = Settings(absorption=(2.30, 2.35), float_=(2.23, 2.28), v_most=2.40, basis="its sheet")
    >>> [round(6 * volts, 1) for volts in gel.absorption]  # of a battery of six cells
    [13.8, 14.1]
    """

    absorption: tuple[float, float]
    float_: tuple[float, float]
    v_most: float
    basis: str


USUAL = {
    "lithium iron phosphate": Settings(
        absorption=(3.45, 3.65),
        float_=(3.30, 3.40),
        v_most=3.65,
        basis="3.45 to 3.65 V a cell and 3.30 to 3.40 V held (common practice, no source; about 28 V and 27 V for a "
        "24 V block); 3.65 V a cell is the usual upper limit; the battery maker's sheet wins",
    ),
    "lead-acid": Settings(
        absorption=(2.35, 2.47),
        float_=(2.23, 2.32),
        v_most=2.50,
        basis="2.40 to 2.45 V a cell and 2.25 to 2.30 V held at 25 °C (makers' charging pages), 0.02 to 0.05 V allowed "
        "around them; the battery maker's sheet wins",
    ),
}
# usual settings and where they come from


def charge_settings(rig: Rig) -> Verdict:
    """Do the rig's absorption and float volts suit its battery?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("bookmobile")
    >>> charge_settings(rig).answer
    'yes'
    """
    battery = rig.battery
    usual = USUAL[battery.chemistry]
    cells = cells_in_series(battery)
    bands = {"absorption": usual.absorption, "float": usual.float_}
    volts = {"absorption": battery.v_absorption, "float": _float(battery)}
    left = {name: min(volts[name] - cells * low, cells * high - volts[name]) for name, (low, high) in bands.items()}
    worst = min(left, key=lambda name: left[name])
    over = battery.v_absorption > cells * usual.v_most + 1e-9
    answer: Answer = "no" if over else "close" if left[worst] < -1e-9 else "yes"
    said = [_said(name, volts[name], cells, bands[name]) for name in bands]
    told = "as set" if battery.v_float is not None else "the chemistry's usual, since none is given"
    lithium = battery.chemistry == "lithium iron phosphate"
    return Verdict(
        question=f"Charge settings: do {battery.v_absorption:g} V and {volts['float']:g} V suit a "
        f"{battery.v_nominal:g} V {battery.chemistry} battery?",
        answer=answer,
        margin=min(left.values()),
        unit="V",
        sentence=" ".join([*said, _others(battery)]).strip(),
        basis=f"{usual.basis}; float is {told}",
        caution=_caution(over, lithium),
    )


def _float(battery: Battery) -> float:
    """Float volts as set, or as usual. [V]"""
    return round(usual_float(battery), 2) if battery.v_float is None else battery.v_float


def _said(name: str, volts: float, cells: int, band: tuple[float, float]) -> str:
    """One setting against what is usual."""
    low, high = (cells * edge for edge in band)
    where = "below" if volts < low - 1e-9 else "above" if volts > high + 1e-9 else "within"
    return f"{name[0].upper()}{name[1:]} {volts:g} V is {where} the usual {low:.1f} to {high:.1f} V."


def _others(battery: Battery) -> str:
    """A word on other chargers."""
    if not battery.other_chargers:
        return ""
    return f"Set the other chargers alike ({battery.other_chargers})."


def _caution(over: bool, lithium: bool) -> str:
    """What too many volts do, and frost."""
    said = ["Too many volts harm the cells and make a lead-acid battery gas."] * over
    return " ".join(said + [NO_FROST_CHARGE] * lithium)
