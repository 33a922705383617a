"""What to say when a file is wrong: what would make sense, and the likely slip."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from math import floor

from vanpower.files.rig_forms import HEADERS, HOMES, NOT_KEYS, ROOF_SIZES, known_keys
from vanpower.files.typed import MISSING_KEY, REFUSED, UNKNOWN_KEY, Misfit
from vanpower.rig import LONGEST_QUOTE, Controller, Load, Panel, Roof, printable, unit_of
from vanpower.rig.circuits import FEEDS_MAINS, MAINS_APART
from vanpower.rig.fields import Description, Field, Listed

AWG_ZERO_MM2, AWG_STEP = 53.475, 92 ** (1 / 19.5)
# [mm²] area of AWG 0, and how much less each number more has; ASTM B258
METRES = {"ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "in": 0.0254, "inch": 0.0254, "inches": 0.0254}
# [m] in lengths that people write with their unit
SUCH_AS = {
    "v_now": "; about 13.4 while a 12 V lithium block is charged, 26.8 at 24 V, 53.6 at 48 V",
    "substrings": "; mostly 2 with 36 cells, 3 with 60 or 72",
    "v_oc": "; unreadable: v_mp / 0.77, the careful side of 19 in 20 panels",
    "i_sc": "; unreadable: i_mp / 0.87, the careful side of 19 in 20 panels",
    "i_mp": "; the printed watts / v_mp",
    "section_mm2": "; it is printed on the sheath",
    "i_charge_max": "; where a leaflet has the array's watts alone, those / the battery's absorption volts",
}
# what to write for a value that stands on no label; common practice, no source, but for v_oc and i_sc: 5th percentiles
# 0.771 and 0.870 of panels of 36 cells, CEC table of 2019


def sentence_of(kind: type[Description], misfit: Misfit) -> tuple[str, str]:
    """One problem in plain words, and the key it is about."""
    if misfit.wanted == REFUSED:
        named = re.match(r"\w+\.(\w+) ", misfit.said)
        return plain(misfit.said), named[1] if named else ""
    key = str(misfit.at[0])
    if misfit.wanted == UNKNOWN_KEY:
        return _unknown(kind, key), key
    known = known_keys(kind)[key]
    if misfit.wanted == MISSING_KEY and len(misfit.at) > 1:
        return f"{key} is not whole; it is {known.comment}.", key
    if misfit.wanted == MISSING_KEY:
        return missing_words(kind, [key]), key
    slip = _type_slip(misfit.wanted, misfit.value)
    return f"{key} is {quoted(misfit.value)}; {_wanted(known, misfit.wanted)}.{slip}", key


def plain(trouble: object) -> str:
    """A description's error without the name of its class, which a file does not show."""
    return re.sub(r"^[A-Z]\w*\.", "", str(trouble))


def missing_words(kind: type[Description], keys: Sequence[str]) -> str:
    """What a table lacks, and what each key means."""
    known = known_keys(kind)
    tables = [f"{HEADERS[key]} is missing ({known[key].meaning})" for key in keys if key in HEADERS]
    others = [(key, f"({known[key].comment}{SUCH_AS.get(key, '')})") for key in keys if key not in HEADERS]
    if len(others) == 1:
        tables.insert(0, " is missing ".join(others[0]))
    elif others:
        tables.insert(0, f"missing are {', '.join(' '.join(other) for other in others)}")
    return f"{'; '.join(tables)}."


SELDOM = ("v_bypass", "r_leak", "ideality", "read_by")
# keys of a panel that a reading writes, or nobody; a line that lists keys leaves them out


WATTS = re.compile(r"(max|rated|pv)?(p|w|wp|watts?|power)((max|mp|pv|array|solar|in|rated)+)?$")
# keys of watts, bare
OF_WATTS = {
    Panel: "p_label takes the watts that the label prints",
    Controller: "i_charge_max takes amps: the array's watts of a leaflet / the battery's absorption volts",
    Load: "p_load takes the watts",
}
# where watts go; those of a controller are its amps times volts of a battery, and more watts on it are clipped


def _unknown(kind: type[Description], key: str) -> str:
    """What a key that is not known may have been meant to be."""
    wrong = f"{short(key)} is not a key here"
    if kind is Roof and _bare(key) in ROOF_SIZES:
        return f"{wrong}; {ROOF_SIZES[_bare(key)]}."
    if FEEDS_MAINS.search(key):
        return f"{wrong}. {MAINS_APART}"
    if WATTS.match(_bare(key)) and kind in OF_WATTS:
        return f"{wrong}; {OF_WATTS[kind]}."
    if _bare(key) in NOT_KEYS:
        return f"{wrong}. {NOT_KEYS[_bare(key)]}"
    homes = [home for home, other in HOMES.items() if key in known_keys(other)]
    if homes:
        return f"{wrong}; it belongs {' or '.join(homes)}."
    near = near_keys(kind, key)
    if near:
        return f"{wrong}{did_you_mean(near)}"
    usual = [known for known in known_keys(kind) if known not in SELDOM]
    more = len(known_keys(kind)) - len(usual)
    return f"No key {short(key)}; there are {', '.join(usual)}{f', and {more} seldom typed' * bool(more)}."


def near_keys(kind: type[Description], key: str) -> list[str]:
    """Up to two known keys that a mistyped or shortened one may mean, the nearest first."""
    known = {_bare(name): name for name in known_keys(kind)}
    bare = _bare(key)
    near = get_close_matches(bare, known, n=2, cutoff=0.6)
    within = [name for name in known if len(bare) > 2 and bare in name]
    return [known[name] for name in (near or within)[:2]]


def _bare(key: str) -> str:
    """A key without what people write differently: case, underscores, dashes, blanks."""
    return re.sub(r"[_\s-]", "", key.lower())


def _wanted(known: Field, wanted: str) -> str:
    """What would make sense where a value is of the wrong type."""
    unit = unit_of(known.name)
    if isinstance(known, Listed) and (wanted == "tuple" or not unit):
        return known.sense
    if wanted in ("dict", "list"):
        return f"write {HEADERS[known.name]} on a line of its own and its keys below"
    if wanted == "int":
        return "a whole number makes sense"
    if wanted == "float":
        return f"a number in {unit} makes sense" if unit else "a number makes sense"
    return "it is true or false, without quotes" if wanted == "bool" else "it is text in straight quotes"


def _type_slip(wanted: str, value: object) -> str:
    """The likely slip behind a value of the wrong type."""
    if wanted == "int" and isinstance(value, float) and value.is_integer():
        return f" Write {value:.0f}, without a point."
    if not isinstance(value, str) or len(value) > LONGEST_QUOTE or wanted not in ("int", "float"):
        return ""
    found = re.fullmatch(r"\s*([-+−–]?)\s*(\d+)(?:[.,](\d+))?\s*([^\d\s][^\d]*)?", value)
    if not found:
        return ""
    sign, before, behind, unit = found.groups()
    if unit and "awg" in unit.lower():
        return f" AWG is no mm²: AWG {before} is {AWG_ZERO_MM2 * AWG_STEP ** -int(before):.3g} mm²."
    typed = float(f"{'-' if sign in ('-', '−', '–') else ''}{before}.{behind or 0}")
    if unit and unit.strip("° ").upper() == "F":
        return f" Temperatures are in °C; {typed:g} °F are {floor((typed - 32) / 0.18) / 10:g}."
    if unit and unit.strip() in METRES:
        return f" Lengths are in m; that is {typed * METRES[unit.strip()]:.2f}."
    number = f"{'-' if sign in ('-', '−', '–') else ''}{before}{f'.{behind}' if behind else ''}"
    why = "with a point, without quotes" if "," in value else "without quotes"
    return f" Write {number}, {why}{' and without the unit' if unit else ''}."


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Up to two names near this one.

    Examples
    --------
    >>> nearest("lenght_m", ["length_m", "section_mm2", "laying"])
    ['length_m']
    """
    return get_close_matches(name, list(known), n=2, cutoff=0.5)


def did_you_mean(near: Sequence[str]) -> str:
    """The end of a sentence about an unknown name.

    Examples
    --------
    >>> did_you_mean(["2s", "2p"]), did_you_mean([])
    ('; did you mean 2s or 2p?', '.')
    """
    return f"; did you mean {' or '.join(near)}?" if near else "."


def quoted(value: object) -> str:
    """A value much as the file has it."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list) and any(isinstance(part, dict) for part in value):
        return "a list of tables"
    return short(json.dumps(value, ensure_ascii=False, default=str))


def short(text: str) -> str:
    """Text fit for one line of a message."""
    shown = printable(text[: LONGEST_QUOTE + 1])
    return shown if len(shown) <= LONGEST_QUOTE else f"{shown[:LONGEST_QUOTE]}..."
