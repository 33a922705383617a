"""Units behind a column's name, and the numbers in the units that are reckoned with.

A name may carry its unit in brackets or as its last word. One that is known is converted, one that measures something
else is refused; without any the usual unit is meant.
"""

from __future__ import annotations

import re
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


def _scaled(**names: float) -> dict[str, Unit]:
    """Units by all their names; what stands under one factor is written in one word, parted by _."""
    return {name: Unit(name, factor) for words, factor in names.items() for name in words.split("_")}


FAHRENHEIT, KELVIN = Unit("°F", 5.0 / 9.0, -32.0), Unit("K", 1.0, -273.15)
VOLTS, AMPS = _scaled(v_volt_volts=1.0, mv_millivolts=1e-3), _scaled(a_amp_amps=1.0, ma_milliamps=1e-3)
UNITS = {
    "time": _scaled(
        s_sec_secs_second_seconds=1 / 60, min_mins_minute_minutes=1.0, h_hr_hrs_hour_hours=60.0, ms_millis=1 / 60_000,
        d_day_days=1440.0,
    ),
    "power": _scaled(w_watt_watts=1.0, kw_kilowatt_kilowatts=1000.0, mw_milliwatts=1e-3),
    "light": {**_scaled(wm2_wqm=1.0, kwm2=1000.0, mwcm2=10.0), "w/m2": Unit("W/m²")},
    "temp": dict.fromkeys(("f", "°f", "degf", "fahrenheit"), FAHRENHEIT)
    | dict.fromkeys(("k", "kelvin"), KELVIN)
    | dict.fromkeys(("c", "°c", "degc", "celsius"), Unit("°C")),
    "v_battery": VOLTS,
    "i_battery": AMPS,
    "v_array": VOLTS,
    "i_spare": AMPS,
}  # fmt: skip
# of each field, by their names without case, blanks and signs; the usual one has the factor 1
USUAL = {
    "time": "minutes", "power": "W", "light": "W/m²", "temp": "°C", "v_battery": "V", "i_battery": "A", "v_array": "V",
    "i_spare": "A",
}  # fmt: skip
# what each field is reckoned in
MEGAWATTS = "MW"
# a name in capitals that is no thousandth
ELSE = {
    "wh": "energy", "kwh": "energy", "lux": "brightness to the eye", "lx": "brightness to the eye",
    "klux": "brightness to the eye", "klx": "brightness to the eye", "umolm2s": "light as plants take it",
    "µmolm2s": "light as plants take it", "ah": "charge", "mah": "charge", "va": "apparent power",
}  # fmt: skip
# units that no column of a log can be converted from, and what they measure
WORDS = frozenset(name for units in UNITS.values() for name in units) | set(ELSE)
# everything that is taken for a unit


def plain(text: str) -> str:
    """A unit's name without case, blanks and signs, and with a plain 2 for a raised one.

    Examples
    --------
    >>> plain("kW/m²"), plain(" °F "), plain("W m^-2")
    ('kwm2', '°f', 'wm2')
    """
    return re.sub(r"[\s/.*^·⋅-]", "", text.lower().replace("²", "2"))


def unit_of(name: str, field: str, file: str) -> Unit:
    """The unit that a column's name states for its field.

    Raises
    ------
    ValueError
        For a unit of something else.

    Examples
    --------
    >>> unit_of("Panel temp (°F)", "temp", "log.csv").name, unit_of("time (s)", "time", "log.csv").usual(90)
    ('°F', 1.5)
    """
    found = BRACKETS.search(name)
    said = found[1] if found else re.split(r"[\s_]+", name.strip())[-1]
    word, known = plain(said), UNITS.get(field, {})
    if said.strip() == MEGAWATTS:
        raise ValueError(f"{file}: column {name[:40]!r} is in megawatts, which no van has; milliwatts are written mW.")
    if word in known:
        return known[word]
    if word in ELSE or (found and word in WORDS):
        what = f" but of {ELSE[word]}" if word in ELSE else ""
        raise ValueError(
            f"{file}: column {name[:40]!r} is taken for {field}, and {said[:20]} is no unit of that{what}; it is read "
            f"in {USUAL[field]}."
        )
    return Unit("")
