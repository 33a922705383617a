"""What is wrong with what was typed, in the form's own labels, and the cure where there is one.

The field and what it is held against come from `rig.fields`; only the words are made here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from vanpower.form.boxes import FIELDS, unit_beside
from vanpower.rig import LONGEST_QUOTE, printable
from vanpower.rig.fields import Description, Refused, refused_in

ORDERED = re.compile(r"it (?:must lie|lies)(?: from 0 V)? (?P<how>below|above|at or below|at or above|to) \w+, .*")
# how a description says that one value must lie on one side of another
TURNED = {"below": "above", "above": "below", "at or below": "at or above", "at or above": "at or below"}
SIDES = {"to": "at or below"}
# what the hold margin is called against the start margin
HALVES = "Half-cut?"
# begins the slip of who counted the cells of both halves
REWORDED = {"with branches = 2": "and the panel is half-cut"}
# what a file writes, as the form has it
KEYS = re.compile(r"(?<![\w.])[a-z]+(?:_[a-z0-9]+)+(?![\w=])")
# names of fields in a sentence
FAHRENHEIT = re.compile(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*°?\s*[Ff]\s*")


@dataclass(frozen=True, kw_only=True)
class Slip:
    """What stands beside a box.

    Parameters
    ----------
    said : str
        What is wrong, and the likely slip.
    cure : str
        What a button says that mends it; empty where there is none.
    sets : dict of str to str
        What the button puts into boxes.

    Examples
    --------
    >>> Slip(said="Are the two swapped?", cure="Swap them", sets={"v_mp": "18"}).keyed("panel.0.").sets
    {'panel.0.v_mp': '18'}
    """

    said: str
    cure: str = ""
    sets: Mapping[str, str] | None = None

    def keyed(self, prefix: str) -> Slip:
        """The same with fields as keys of boxes."""
        return replace(self, sets={f"{prefix}{name}": text for name, text in (self.sets or {}).items()})


def not_a_number(kind: type[Description], name: str, text: str, wanted: str) -> Slip:
    """A text where a number belongs.

    Examples
    --------
    >>> from vanpower.rig import Climate, Panel
    >>> not_a_number(Panel, "v_oc", "24 volts", "write a plain number").said
    "Voc is '24 volts'; write a plain number."
    >>> not_a_number(Climate, "temp_coldest", "5 F", "write a plain number").cure
    'Take -15 °C'
    """
    said = f"{_capital(FIELDS[kind][name].said)} is {printable(text.strip())[:LONGEST_QUOTE]!r}; {wanted}."
    found = FAHRENHEIT.fullmatch(text)
    if found and unit_beside(kind, name) == "°C":
        celsius = _short((float(found[1].replace(",", ".")) - 32) / 1.8)
        return Slip(said=f"{said} Is this Fahrenheit?", cure=f"Take {celsius} °C", sets={name: celsius})
    return Slip(said=said)


def said_by(kind: type[Description], trouble: ValueError, values: Mapping[str, Any], last: str) -> tuple[Slip, str]:
    """What a description refuses, in the form's labels, and the field it stands beside.

    Of two values that cannot be together it stands beside the one that a person is at.

    Examples
    --------
    >>> from vanpower.rig import Panel
    >>> label = dict(name="100 W", v_oc=22.2, i_sc=5.4, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> try:
    ...     Panel(**label)
    ... except ValueError as trouble:
    ...     slip, name = said_by(Panel, trouble, label, "i_sc")
    >>> name, slip.said
    ('i_sc', 'Isc must be above Imp, and 5.4 A is not. Are the two swapped?')
    """
    refused = refused_in(trouble)
    if refused is None or refused.field not in FIELDS[kind]:
        return Slip(said=in_labels(kind, str(trouble))), last or next(iter(FIELDS[kind]))
    name = refused.field
    if refused.other and last == refused.other:
        name = last
    return Slip(said=_said(kind, refused, name, values)), name


def _said(kind: type[Description], refused: Refused, name: str, values: Mapping[str, Any]) -> str:
    """The sentence, with the field it stands beside as its subject."""
    label = _capital(FIELDS[kind][name].said)
    ordered = ORDERED.fullmatch(refused.sense)
    slip = f" {in_labels(kind, refused.slip)}" if refused.slip else ""
    if not refused.other or not ordered:
        return f"{label} is {refused.value}; {in_labels(kind, refused.sense)}.{slip}"
    how = SIDES.get(ordered["how"], ordered["how"])
    if name == refused.field:
        return f"{label} must be {how} {_label(kind, refused.other)}, and {refused.value} is not.{slip}"
    value = f"{_short(values[name])} {unit_beside(kind, name)}"
    return f"{label} must be {TURNED[how]} {_label(kind, refused.field)}, and {value} is not.{slip}"


def in_labels(kind: type[Description], sentence: str) -> str:
    """A sentence of a description with its fields called as the form calls them.

    Examples
    --------
    >>> from vanpower.rig import Panel
    >>> in_labels(Panel, "it must lie below v_oc, 22 V")
    'it must lie below Voc, 22 V'
    """
    plain = re.sub(r"^[A-Z]\w*\.(?=[a-z])", "", sentence)
    for written, said in REWORDED.items():
        plain = plain.replace(written, said)
    return KEYS.sub(lambda found: _label(kind, found[0]), plain)


def _label(kind: type[Description], name: str) -> str:
    """What a sentence calls a field, of this description or of any."""
    homes = (kind, *FIELDS)
    return next((FIELDS[home][name].said for home in homes if name in FIELDS[home]), name)


def cures(
    kind: type[Description], trouble: ValueError, values: Mapping[str, Any]
) -> Iterator[tuple[str, dict[str, str]]]:
    """Buttons that may mend it, the likeliest first: what each says, and what it puts into boxes by field.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> try:
    ...     Cable(length_m=450.0)
    ... except ValueError as trouble:
    ...     print(list(cures(Cable, trouble, {"length_m": 450.0})))
    [('Take 4.5 m', {'length_m': '4.5'})]
    """
    refused = refused_in(trouble)
    if refused is None or refused.field not in FIELDS[kind]:
        return
    for name, other in _swaps(kind, refused):
        if values.get(name) is not None and values.get(other) is not None:
            yield "Swap them", {name: _short(values[other]), other: _short(values[name])}
    value, unit = values.get(refused.field), unit_beside(kind, refused.field)
    if not isinstance(value, int | float) or isinstance(value, bool):
        return
    if HALVES in refused.slip:
        yield f"Take {value // 2}, half-cut", {"cells_in_series": str(value // 2), "branches": "2"}
    for words, mends in MENDS.items():
        for mend in mends if words in refused.slip else ():
            text = _short(mend(value))
            yield f"Take {text} {unit}".strip(), {refused.field: text}


def _swaps(kind: type[Description], refused: Refused) -> Iterator[tuple[str, str]]:
    """Pairs of fields that may have been mistaken for each other."""
    if "swapped" not in refused.slip:
        return
    if refused.other:
        yield refused.field, refused.other
    named = [name for name in KEYS.findall(refused.slip) if name in FIELDS[kind]]
    if len(named) == 2:
        yield named[0], named[1]


MENDS: Mapping[str, tuple[Callable[[float], float], ...]] = {
    "point missing": (lambda v: v / 10, lambda v: v / 100, lambda v: v / 1000),
    "millivolts": (lambda v: v / 1000,),
    "milliamps": (lambda v: v / 1000,),
    "milliwatts": (lambda v: v / 1000,),
    "milliohms": (lambda v: v / 1000,),
    "minus sign": (lambda v: -v,),
    "Fahrenheit": (lambda v: (v - 32) / 1.8,),
    "centimetres": (lambda v: v / 100,),
    "minutes": (lambda v: v / 60,),
    "a share from 0 to 1": (lambda v: v * 100,),
}
# what a likely slip asks, and the values that would be meant; tried in this order


def _short(value: Any) -> str:
    """A number as a person writes it: as many digits as matter, in a box."""
    if isinstance(value, float):
        return f"{round(value, 3):.6g}" if abs(value) < 1000 else f"{value:.0f}"
    return str(value)


def _capital(words: str) -> str:
    """The words with a capital letter in front."""
    return words[:1].upper() + words[1:]
