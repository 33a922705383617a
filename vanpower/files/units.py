"""Units behind a column's name or a number, and the numbers in the units that are reckoned with.

A name may carry its unit in brackets or as its last word. One that is known is converted, one that measures something
else is refused; without any the usual unit is meant.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

Number = TypeVar("Number", float, np.ndarray)

BRACKETS = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")


@dataclass(frozen=True)
class Unit:
    """What a number counts: so many of the usual unit each, after adding some.

    Examples
    --------
    >>> round(Unit("°F", 5 / 9, -32.0).usual(77.0), 9)
    25.0
    """

    name: str
    factor: float = 1.0
    before: float = 0.0

    def usual(self, number: Number) -> Number:
        """A number, or many, in the usual unit."""
        return (number + self.before) * self.factor

    @property
    def is_usual(self) -> bool:
        """Whether numbers stay as they are."""
        return self.factor == 1.0 and self.before == 0.0


Units = Mapping[str, Unit]


def _scaled(**names: float) -> dict[str, Unit]:
    """Units by all their names; what stands under one factor is written in one word, parted by _."""
    return {name: Unit(name, factor) for words, factor in names.items() for name in words.split("_")}


AS_USUAL = Unit("")
FAHRENHEIT, KELVIN = Unit("°F", 5.0 / 9.0, -32.0), Unit("K", 1.0, -273.15)
MINUTES: Units = _scaled(
    s_sec_secs_second_seconds=1 / 60, min_mins_minute_minutes=1.0, h_hr_hrs_hour_hours=60.0, ms_millis=1 / 60_000,
    d_day_days=1440.0,
)  # fmt: skip
WATTS: Units = _scaled(w_watt_watts=1.0, kw_kilowatt_kilowatts=1000.0, mw_milliwatts=1e-3)
WATT_HOURS: Units = _scaled(wh=1.0, kwh=1000.0)
LIGHT: Units = {**_scaled(wm2_wqm=1.0, kwm2=1000.0, mwcm2=10.0), "w/m2": Unit("W/m²")}
CELSIUS: Units = (
    dict.fromkeys(("f", "°f", "degf", "fahrenheit"), FAHRENHEIT)
    | dict.fromkeys(("k", "kelvin"), KELVIN)
    | dict.fromkeys(("c", "°c", "degc", "celsius"), Unit("°C"))
)
VOLTS: Units = _scaled(v_volt_volts=1.0, mv_millivolts=1e-3)
AMPS: Units = _scaled(a_amp_amps=1.0, ma_milliamps=1e-3)
SPEED: Units = _scaled(ms_mps=1.0, kmh_kph=1 / 3.6, mph=0.44704, kn_kt_knots=1852 / 3600)
# each family by the names of its units without case, blanks and signs; the usual one has the factor 1. A mile is
# 1609.344 m and a nautical one 1852 m (NIST SP 811, B.8), a degree Fahrenheit 5/9 K from 32 (the same)
MEGAWATTS = "MW"
# a name in capitals that is no thousandth
ELSE = {
    "wh": "energy", "kwh": "energy", "lux": "brightness to the eye", "lx": "brightness to the eye",
    "klux": "brightness to the eye", "klx": "brightness to the eye", "umolm2s": "light as plants take it",
    "µmolm2s": "light as plants take it", "ah": "charge", "mah": "charge", "va": "apparent power",
}  # fmt: skip
# units that columns are seldom converted from, and what they measure
FAMILIES = (MINUTES, WATTS, WATT_HOURS, LIGHT, CELSIUS, VOLTS, AMPS, SPEED)
WORDS = frozenset(name for units in FAMILIES for name in units) | set(ELSE)
# everything that is taken for a unit


def plain(text: str) -> str:
    """A unit's name without case, blanks and signs, and with a plain 2 for a raised one.

    Examples
    --------
    >>> plain("kW/m²"), plain(" °F "), plain("W m^-2")
    ('kwm2', '°f', 'wm2')
    """
    return re.sub(r"[\s/.*^·⋅-]", "", text.lower().replace("²", "2"))


def unit_of(name: str, field: str, usual: str, units: Units, file: str) -> Unit:
    """The unit that a column's name states for its field.

    Parameters
    ----------
    name : str
        Of the column, as the file has it.
    field : str
        What it is taken for.
    usual : str
        What that is read in where the name says nothing.
    units : mapping of str to Unit
        What it may be given in.

    Raises
    ------
    ValueError
        For a unit of something else.

    Examples
    --------
    >>> unit_of("Panel temp (°F)", "temp", "°C", CELSIUS, "log.csv").name
    '°F'
    >>> unit_of("time (s)", "time", "minutes", MINUTES, "log.csv").usual(90)
    1.5
    """
    found = BRACKETS.search(name)
    said = found[1] if found else re.split(r"[\s_]+", name.strip())[-1]
    word = plain(said)
    if said.strip() == MEGAWATTS and WATTS.items() <= units.items():
        raise ValueError(f"{file}: column {name[:40]!r} is in megawatts, which no van has; milliwatts are written mW.")
    if word in units:
        return units[word]
    if word in ELSE or (found and word in WORDS):
        what = f" but of {ELSE[word]}" if word in ELSE else ""
        raise ValueError(
            f"{file}: column {name[:40]!r} is taken for {field}, and {said[:20]} is no unit of that{what}; it is read "
            f"in {usual}."
        )
    return AS_USUAL
