"""Which column is which, and the numbers in them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from vanpower.trials.units import WORDS, Unit, plain

MEASURED = ("power", "light", "temp", "v_battery", "i_battery", "v_array", "i_spare")
# columns of numbers
FIELDS = {
    "time": "clock time, date and time, or plain minutes",
    "date": "the date, where it stands apart from the time",
    "wiring": "which wiring a row belongs to",
    "power": "W from the panels or into the battery",
    "light": "W/m² on the panels' plane",
    "temp": "°C at the back of a panel",
    "stage": "charge stage",
    "v_battery": "V at the battery",
    "i_battery": "A into the battery",
    "v_array": "V at the controller's panel input",
    "i_spare": "short-circuit A of a spare panel",
}
# what a log may say
KNOWN = {
    "time": "time clock minutes minute min seconds second sec hours elapsed unixtime epoch timestamp datetime zeit "
    "uhrzeit zeitpunkt heure hora ora tijd",
    "date": "date datum fecha data",
    "wiring": "wiring block label setup ab verschaltung schaltung verdrahtung cablage cableado",
    "power": "power watts watt w p pvpower pvw solarw solarpower leistung puissance potencia potenza vermogen",
    "light": "light irradiance sun g wm2 einstrahlung licht rayonnement irradiancia irraggiamento instraling",
    "temp": "temp temperature celsius c paneltemp celltemp temppanel tempcell tmod modul module temperatur temperatura",
    "stage": "stage chargestage state ladestufe ladephase phase etape",
    "v_battery": "vbattery batteryvolts batteryvoltage vbat vbatt batt battery batterie batteriespannung",
    "i_battery": "ibattery batteryamps batterycurrent ibat ibatt chargecurrent chargeamps ladestrom",
    "v_array": "varray pvvolts pvvoltage panelvolts vpv pvv arrayvolts modulspannung",
    "i_spare": "ispare spareamps spareisc sparepanel isc",
}
# names that are recognised, without case, blanks, signs and units
LIMITS = {
    "power": (-50.0, 50_000.0, "W", "Are these milliwatts?"),
    "light": (-20.0, 1_800.0, "W/m²", "Are these lux?"),
    "temp": (-60.0, 110.0, "°C", "Is this Fahrenheit?"),
    "v_battery": (0.0, 120.0, "V", "Are these millivolts?"),
    "i_battery": (-500.0, 500.0, "A", "Are these milliamps?"),
    "v_array": (0.0, 1_500.0, "V", "Are these millivolts?"),
    "i_spare": (0.0, 40.0, "A", "Are these milliamps?"),
}
# what a log can mean: least, most, unit, likely slip; no source
AS_USUAL = Unit("")
NUMBER = re.compile(r"([-+−]?\d*[.,]?\d+|[-+−]?\d+[.,])\s*(W/m²|W/m2|Watt|W|V|A|°C|C)?")


def named_columns(names: Sequence[str], file: str, given: Mapping[str, str]) -> dict[str, int]:
    """Which column holds which field: as the user named it, or by a name that is recognised."""
    place = {field: _given(field, wanted, names, file) for field, wanted in given.items()}
    for field, words in KNOWN.items():
        found = [k for k, name in enumerate(names) if bare(name) & set(words.split()) and k not in place.values()]
        if field not in place and len(found) > 1:
            two = " and ".join(repr(names[k]) for k in found[:2])
            raise ValueError(
                f'{file}: {two} could both be {field} ({FIELDS[field]}). Say which: {field}="{names[found[0]]}".'
            )
        if field not in place and found:
            place[field] = found[0]
    for field in ("time", "power"):
        if field not in place:
            free = [name for k, name in enumerate(names) if k not in place.values()] or names
            raise ValueError(
                f"{file} has no column recognised as {field} ({FIELDS[field]}); it has {', '.join(names)}. "
                f'Name it once, such as {field}="{free[0]}".'
            )
    return place


def bare(name: str) -> set[str]:
    """A column's name without case, blanks, signs and what stands in brackets; with its unit and without it.

    Examples
    --------
    >>> sorted(bare("PV power [W]")), sorted(bare("pv_w")), sorted(bare("Temp °F"))
    (['pvpower'], ['pv', 'pvw'], ['temp', 'tempf'])
    """
    words = re.split(r"[\s_]+", re.sub(r"[\[(].*", "", name.lower()).replace("²", "2").strip())
    kept = words[:-1] if len(words) > 1 and plain(words[-1]) in WORDS else words
    return {re.sub(r"[^a-zäöüß0-9]", "", "".join(some)) or name.lower() for some in (words, kept)}


def _given(field: str, wanted: str, names: Sequence[str], file: str) -> int:
    """The column the user named for a field."""
    if field not in FIELDS:
        near = get_close_matches(field, FIELDS, 1)
        hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(FIELDS)}."
        raise ValueError(f"{field!r} is nothing a log is asked for; {hint}")
    if wanted not in names:
        near = get_close_matches(wanted, names, 1)
        hint = f"Is {near[0]!r} meant?" if near else f"It has {', '.join(names)}."
        raise ValueError(f"{file} has no column {wanted!r} for {field}. {hint}")
    return list(names).index(wanted)


def number_of(cell: str, field: str, spot: str, counts: Unit = AS_USUAL) -> float:
    """A cell as a number in the usual unit, decimal comma or point, its unit behind it or not; NaN where it is empty.

    Examples
    --------
    >>> number_of("21,5 °C", "temp", "log.csv, line 3"), number_of("0.12", "power", "line 4", Unit("kW", 1000.0))
    (21.5, 120.0)
    """
    if not cell or cell in ("-", "--"):
        return float("nan")
    low, high, unit, slip = LIMITS[field]
    found = NUMBER.fullmatch(cell)
    if not found:
        more = " Leave out the sign between thousands." if re.search(r"\d[.,]\d{3}[.,]", cell) else ""
        raise ValueError(
            f"{spot}: {cell[:40]!r} is no number in {unit}; leave the cell empty where nothing was read.{more}"
        )
    if found[2] and counts.usual(1.0) != 1.0:
        raise ValueError(f"{spot}: {cell[:40]!r} has a unit of its own, and the column's name says {counts.name}.")
    value = counts.usual(float(found[1].replace(",", ".").replace("−", "-")))
    if not low <= value <= high:
        likely = f" {slip}" if value > high else ""
        raise ValueError(f"{spot}: {cell[:40]!r}; from {low:g} to {high:g} {unit} makes sense.{likely}")
    return value
