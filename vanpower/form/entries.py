"""From a rig to what stands in the boxes, and from what is typed back to a rig.

What a person did not touch stays as the rig has it, to the last digit, whether the form shows it or not; so a file of
an expert comes back as it was. A panel keeps its place on the roof and in its string when others come or go.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from vanpower.files.rig_forms import MOST_PANELS
from vanpower.form.boxes import FIELDS, field_of, holds, unit_beside
from vanpower.form.slips import Slip, cures, not_a_number, said_by
from vanpower.form.typical import SPECIAL, Offer, offered
from vanpower.rig import (
    LONGEST_QUOTE,
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Fixture,
    Inverter,
    Load,
    Panel,
    Placement,
    Rig,
    Roof,
    Source,
    Wiring,
    printable,
)
from vanpower.rig.fields import MISSING, Description, refused_in, table
from vanpower.rig.wirings import parse_wiring

TYPED_HERE = "typed from labels into the form"
# where the numbers of a new van come from
AS_TYPED = "as typed"
# who says how cold it gets, where the dawn was typed and nobody named
NUMBER = re.compile(r"([-+]?)(\d+(?:[.,]\d*)?|[.,]\d+)")
MINUS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{NO-BREAK SPACE}": " "})
PanelId = tuple[int, int]
# which kind of panel, and the how manieth of it, both as they were when first seen


@dataclass(frozen=True)
class Entry:
    """One description with boxes: what its keys begin with, its kind, and what it was in the rig, if it was there."""

    prefix: str
    kind: type[Description]
    base: Description | None

    def key(self, name: str) -> str:
        """The key of one of its boxes."""
        return f"{self.prefix}{name}"


@dataclass
class Read:
    """What came of reading all boxes.

    Parameters
    ----------
    rig : Rig, optional
        None while something is missing or wrong.
    slips : dict of str to Slip
        What is wrong, by the key of the box it stands beside.
    missing : list of str
        Keys of boxes that must be filled in.
    """

    rig: Rig | None = None
    slips: dict[str, Slip] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)


class Entries:
    """What stands in the boxes of one rig, and what was typed since.

    Parameters
    ----------
    base : Rig, optional
        What is described so far; None for a van of which nothing is known yet.

    Examples
    --------
    >>> from vanpower import example
    >>> entries = Entries(example("bookmobile"))
    >>> entries.read().rig == example("bookmobile")
    True
    >>> entries.type({"panel.0.v_oc": "22,5"})
    >>> entries.read().rig.panels[1].v_oc
    22.5
    >>> entries.type({"panel.0.v_mp": "23"})
    >>> print(entries.read().slips["panel.0.v_mp"].said)
    Vmp must be below Voc, and 23 V is not. Are the two swapped?
    """

    def __init__(self, base: Rig | None = None) -> None:
        self.base = base
        self.texts: dict[str, str] = {}
        self.kinds: dict[int, Panel | None] = {0: None}
        self.counts: dict[int, int] = {0: 0}
        self.circuits: dict[int, Circuit | None] = {0: None}
        self.loads: dict[int, Load | None] = {}
        self.sources: dict[int, Source | None] = {}
        self.inverters: dict[int, Inverter | None] = {}
        self.spots: dict[PanelId, Placement | None] = {}
        self.fixtures: dict[int, Fixture | None] = {}
        self.has_roof = False
        self.anchors: dict[int, tuple[tuple[PanelId, ...], ...]] = {0: ()}
        self.aside: tuple[PanelId, ...] = ()
        self.last, self.trying = "", False
        if base is not None:
            self._take(base)

    def _take(self, base: Rig) -> None:
        """Lay out the parts of a rig that is there."""
        runs = [(panel, len(list(run))) for panel, run in groupby(base.panels)]
        self.kinds = {k: panel for k, (panel, _) in enumerate(runs)}
        self.counts = {k: count for k, (_, count) in enumerate(runs)}
        ids = [(k, j) for k, (_, count) in enumerate(runs) for j in range(count)]
        self.circuits = dict(enumerate(base.circuits))
        self.loads = dict(enumerate(base.loads))
        self.sources = dict(enumerate(base.sources))
        self.inverters = {0: base.inverter} if base.inverter else {}
        strings = {k: circuit.wiring.strings for k, circuit in enumerate(base.circuits)}
        self.anchors = {k: tuple(tuple(ids[p] for p in string) for string in held) for k, held in strings.items()}
        used = {one for held in self.anchors.values() for string in held for one in string}
        self.aside = tuple(one for one in ids if one not in used)
        if base.roof is not None:
            self.has_roof = True
            self.spots = {ids[spot.panel]: spot for spot in base.roof.spots}
            self.fixtures = dict(enumerate(base.roof.fixtures))

    # What is typed and chosen

    def type(self, texts: Mapping[str, str], last: str = "") -> None:
        """Put texts into boxes; `last` is the box that a person is at."""
        for key, text in texts.items():
            if key.endswith(".wiring"):
                self._choose(int(key.split(".")[1]), text)
            else:
                self.texts[key] = text
        self.last = last or next(iter(texts), self.last)

    def _choose(self, circuit: int, text: str) -> None:
        """Take a wiring as typed; one that is none stays in its box until it is mended."""
        key = f"circuit.{circuit}.wiring"
        self.texts.pop(key, None)
        ids = self.ids()
        try:
            strings = self._parsed(text, circuit, ids)
        except ValueError:
            self.texts[key] = text
            return
        self.anchors[circuit] = tuple(tuple(ids[panel] for panel in string) for string in strings)
        taken = {one for string in self.anchors[circuit] for one in string}
        self.aside = tuple(one for one in self.aside if one not in taken)

    def _parsed(self, text: str, circuit: int, ids: Sequence[PanelId]) -> tuple[tuple[int, ...], ...]:
        """The strings that a text names, of panels counted from 0."""
        own = [ids.index(one) for string in self.strings(circuit) for one in string]
        named = [int(number) - 1 for number in re.findall(r"\d+", text)] if re.search(r"[pP]\d", text) else []
        within = sorted({panel for panel in named if 0 <= panel < len(ids)})
        whole = len(self.circuits) == 1 and not self.aside
        panels = range(len(ids)) if whole or not named else within
        return parse_wiring(text, panels if named else sorted(own)).strings

    def add(self, what: str, arg: str = "") -> None:
        """One more panel kind, controller, load, other charger, thing on the roof; or inverter, roof, place on it."""
        if what == "panel":
            new = max(self.kinds) + 1
            self.kinds[new], self.counts[new] = None, 1
            self.texts[f"panel.{new}.count"] = "1"
        elif what == "circuit":
            self.circuits[new := max(self.circuits) + 1] = None
            self.anchors[new] = ()
        elif what == "load":
            self.loads[max(self.loads, default=-1) + 1] = None
        elif what == "source":
            self.sources[max(self.sources, default=-1) + 1] = None
        elif what == "inverter":
            self.inverters[0] = None
        elif what == "fixture":
            self.fixtures[max(self.fixtures, default=-1) + 1] = None
        elif what == "roof":
            self.has_roof = True
        elif what == "spot":
            self.spots[self.ids()[int(arg)]] = None

    def remove(self, what: str, arg: str) -> None:
        """One kind of panel, controller, load, other charger, thing on the roof, or the inverter less."""
        held: dict[str, dict[int, Any]] = {
            "panel": self.kinds, "circuit": self.circuits, "load": self.loads,
            "source": self.sources, "inverter": self.inverters, "fixture": self.fixtures,
        }  # fmt: skip
        held[what].pop(int(arg), None)
        if what == "circuit":
            self.anchors.pop(int(arg), None)

    # Panels, strings

    def count(self, kind: int) -> int:
        """How many of a kind there are; as last known while the box holds no such number."""
        text = self.texts.get(f"panel.{kind}.count")
        if text is None:
            return self.counts[kind]
        found = re.fullmatch(r"\s*(\d{1,2})\s*", text)
        return int(found[1]) if found and 1 <= int(found[1]) <= MOST_PANELS else self.counts[kind]

    def ids(self) -> list[PanelId]:
        """Every panel in order."""
        return [(kind, j) for kind in self.kinds for j in range(self.count(kind))]

    def strings(self, circuit: int) -> tuple[tuple[PanelId, ...], ...]:
        """The strings of a circuit, with the panels that are there now."""
        ids, held = self.ids(), self.anchors[circuit]
        own = [one for one in ids if self._circuit_of(one) == circuit]
        before = [one for string in held for one in string]
        if sorted(before) == sorted(own):
            return held
        return _refitted(held, own)

    def _circuit_of(self, panel: PanelId) -> int | None:
        """The circuit that a panel hangs on; a new one hangs with the last of its kind, or on the first."""
        if panel in self.aside:
            return None
        held = {one: circuit for circuit, strings in self.anchors.items() for string in strings for one in string}
        if panel in held:
            return held[panel]
        kin = [one for one in held if one[0] == panel[0]]
        return held[max(kin)] if kin else next(iter(self.circuits), None)

    def wiring_name(self, circuit: int) -> str:
        """What stands in the box of a wiring."""
        if text := self.texts.get(f"circuit.{circuit}.wiring"):
            return text
        wiring = self._wiring(circuit)
        if wiring is None:
            return ""
        whole = sorted(wiring.panels) == list(range(len(self.ids())))
        return wiring.name if whole else wiring.grouping

    def _wiring(self, circuit: int) -> Wiring | None:
        """A circuit's wiring; None where no panel is left for it."""
        ids = self.ids()
        strings = self.strings(circuit)
        return Wiring(strings=tuple(tuple(ids.index(one) for one in string) for string in strings)) if strings else None

    # Boxes

    def entries(self) -> list[Entry]:
        """Every description that has boxes, in the order of the page."""
        base = self.base
        house = [("battery.", Battery, base and base.battery), ("climate.", Climate, base and base.climate)]
        made = [Entry("", Rig, base)]
        made += [Entry(f"panel.{k}.", Panel, panel) for k, panel in self.kinds.items()]
        made += [Entry(prefix, kind, held) for prefix, kind, held in house]
        for k, circuit in self.circuits.items():
            made += [Entry(f"circuit.{k}.", Circuit, circuit)]
            made += [Entry(f"circuit.{k}.controller.", Controller, circuit and circuit.controller)]
            made += [Entry(f"circuit.{k}.cable.", Cable, circuit and circuit.cable)]
            made += [Entry(f"circuit.{k}.battery_cable.", Cable, circuit and circuit.battery_cable)]
        made += [Entry(f"load.{k}.", Load, load) for k, load in self.loads.items()]
        made += [Entry(f"inverter.{k}.", Inverter, inverter) for k, inverter in self.inverters.items()]
        made += [Entry(f"source.{k}.", Source, source) for k, source in self.sources.items()]
        if self.has_roof:
            made += [Entry("roof.", Roof, base and base.roof)]
            placed = [one for one in self.ids() if one in self.spots]
            made += [Entry(f"spot.{k}.{j}.", Placement, self.spots[k, j]) for k, j in placed]
            made += [Entry(f"fixture.{k}.", Fixture, fixture) for k, fixture in self.fixtures.items()]
        return made

    def shown(self, entry: Entry, name: str, offer: Offer | None) -> str:
        """What stands in a box before anybody types; nothing where it is what would be offered."""
        if name == "count":
            return str(self.counts[_number_in(entry)]) if entry.base is not None else ""
        if name == "wiring":
            return self.wiring_name(_number_in(entry))
        value = None if entry.base is None else getattr(entry.base, name)
        return "" if value is None or _is_offer(entry.kind, name, value, offer) else text_of_value(value)

    def text(self, entry: Entry, name: str, values: Mapping[str, Any]) -> str:
        """What stands in a box now."""
        if name == "wiring":
            return self.wiring_name(_number_in(entry))
        typed, offer = self.texts.get(entry.key(name)), offered(entry.kind, name, values)
        text = self.shown(entry, name, offer) if typed is None else typed
        if not text and FIELDS[entry.kind][name].choices and offer is not None:
            return text_of_value(offer.value)
        return text

    def values(self, entry: Entry, read: Read) -> dict[str, Any]:
        """What the boxes of a description say, by field; what is wrong or missing is noted."""
        known: dict[str, Any] = {}
        for name in _dependent_last(entry.kind):
            if name in ("wiring", "count"):
                continue
            known[name] = self._value(entry, name, known, read)
        return known

    def _value(self, entry: Entry, name: str, known: Mapping[str, Any], read: Read) -> Any:
        """What one box says."""
        offer, typed = offered(entry.kind, name, known), self.texts.get(entry.key(name))
        before = None if entry.base is None else getattr(entry.base, name)
        shown = self.shown(entry, name, offered(entry.kind, name, _held(entry.base)))
        if (typed is None or typed == shown) and entry.base is not None and shown:
            return before
        text = shown if typed is None else typed
        if not text.strip():
            return self._empty(entry, name, offer, before if typed is None or typed == shown else None, read)
        try:
            return value_of_text(entry.kind, name, text)
        except ValueError as trouble:
            read.slips[entry.key(name)] = not_a_number(entry.kind, name, text, str(trouble)).keyed(entry.prefix)
            return before

    def _empty(self, entry: Entry, name: str, offer: Offer | None, before: Any, read: Read) -> Any:
        """What an empty box stands for: nothing said, or what is typical."""
        field = field_of(entry.kind, name)
        assert field is not None
        if is_wanted(entry.kind, name) and getattr(entry.base, "p_hourly", None) is None:
            watts = self.texts.get(entry.key("p_charge_max"), getattr(entry.base, "p_charge_max", None))
            read.missing += [] if watts else [entry.key(name)]
        if field.default is None:
            return None
        if offer is not None:
            return offer.value
        if before is not None:
            return before
        if field.default is MISSING:
            # what would be offered beside a figure that is not there yet is not asked for besides
            waits = (entry.kind, name) in SPECIAL and any(
                k.startswith(entry.prefix) for k in (*read.missing, *read.slips)
            )
            read.missing += [] if waits else [entry.key(name)]
            return None
        return field.default

    # Back to a rig

    def read(self) -> Read:
        """The rig that all boxes describe, or what is missing or wrong."""
        read = Read()
        made = {entry.prefix: self._made(entry, read) for entry in self.entries() if entry.kind is not Rig}
        self._check_counts(read)
        circuits = [self._circuit(k, made, read) for k in self.circuits]
        if read.slips or read.missing or None in circuits:
            return read
        panels = tuple(made[f"panel.{kind}."] for kind, _ in self.ids())
        head = {**self.values(Entry("", Rig, self.base), read)}
        parts = {
            "panels": panels, "battery": made["battery."], "climate": made["climate."], "circuits": tuple(circuits),
            "loads": tuple(made[f"load.{k}."] for k in self.loads),
            "sources": tuple(made[f"source.{k}."] for k in self.sources), "roof": self._roof(made, read),
            "inverter": made.get("inverter.0."),
        }  # fmt: skip
        try:
            if not read.slips and not read.missing:
                read.rig = self._whole(head | parts)
        except ValueError as trouble:
            refused = refused_in(trouble)
            slip, name = said_by(Rig, trouble, head, self.last)
            if str(trouble).startswith("Rig.loads: "):
                name, slip = self._mains_home(), Slip(said=str(trouble).removeprefix("Rig.loads: "))
            elif not refused or refused.field not in FIELDS[Rig]:
                name = _home_of(str(trouble))
            read.slips[name] = slip
        return read

    def _mains_home(self) -> str:
        """The key beside which a word about loads on mains volts stands: the load changed last, or the first."""
        keys = [f"load.{k}.mains" for k in self.loads]
        return self.last if self.last in keys else next((key for key in keys if self.texts.get(key) == "true"), keys[0])

    def _whole(self, parts: Mapping[str, Any]) -> Rig:
        """The rig of these parts."""
        if self.base is not None:
            return self.base.changed(**parts)
        return Rig(source=TYPED_HERE, **parts)

    def _made(self, entry: Entry, read: Read) -> Any:
        """One description; None with its slip noted where it cannot be."""
        before = len(read.slips) + len(read.missing)
        values = self.values(entry, read)
        if len(read.slips) + len(read.missing) > before or (entry.kind in (Circuit, Roof)):
            return values if entry.kind in (Circuit, Roof) else None
        if entry.prefix.endswith("battery_cable.") and not self._has_cable(entry):
            return None
        if entry.kind is Climate and entry.key("temp_coldest") in self.texts and entry.base is not None:
            values = _with_basis(values, entry.base, entry.key("basis") in self.texts)
        return self._tried(entry, values, read)

    def _tried(self, entry: Entry, values: dict[str, Any], read: Read) -> Any:
        """The description of these values; None with its slip noted where it cannot be."""
        more = {"panel": self._index(entry)} if entry.kind is Placement else {}
        try:
            return entry.base.changed(**values, **more) if entry.base is not None else entry.kind(**values, **more)
        except ValueError as trouble:
            slip, name = said_by(entry.kind, trouble, values, self._last_of(entry))
            read.slips[entry.key(name)] = self._with_cure(slip, entry, trouble, values)
            return None

    def _with_cure(self, slip: Slip, entry: Entry, trouble: ValueError, values: Mapping[str, Any]) -> Slip:
        """The slip with the first cure after which nothing is wrong in its description any more."""
        if self.trying:
            return slip
        for words, sets in cures(entry.kind, trouble, values):
            other = copy(self)
            other.trying, other.texts = True, self.texts | {entry.key(name): text for name, text in sets.items()}
            if not any(key.startswith(entry.prefix) for key in other.read().slips):
                return replace(slip, cure=words, sets=sets).keyed(entry.prefix)
        return slip

    def _last_of(self, entry: Entry) -> str:
        """The field that a person is at, if it is one of this description."""
        rest = self.last.removeprefix(entry.prefix) if self.last.startswith(entry.prefix) else ""
        return rest if rest in FIELDS[entry.kind] else ""

    def _index(self, entry: Entry) -> int:
        """Which panel a place on the roof belongs to, counted from 0."""
        _, kind, j, _ = entry.prefix.split(".")
        return self.ids().index((int(kind), int(j)))

    def _has_cable(self, entry: Entry) -> bool:
        """Whether a cable beside the battery is spoken of: it was there and was not emptied, or is there now."""
        typed = [self.texts.get(entry.key(name)) for name in ("length_m", "section_mm2")]
        if entry.base is not None:
            return any(text is None or text.strip() for text in typed)
        return any(text and text.strip() for text in typed)

    def _check_counts(self, read: Read) -> None:
        """Note a count that is none, and panels that are too many."""
        for kind, panel in self.kinds.items():
            key, text = f"panel.{kind}.count", self.texts.get(f"panel.{kind}.count")
            if not (text or "").strip() and (text is not None or panel is None):
                read.missing.append(key)
            elif text is not None and str(self.count(kind)) != text.strip():
                quoted = repr(printable(text.strip()[:LONGEST_QUOTE]))
                read.slips[key] = Slip(said=f"{quoted} panels; a whole number from 1 to {MOST_PANELS} makes sense.")
        if len(self.ids()) > MOST_PANELS:
            read.slips[f"panel.{max(self.kinds)}.count"] = Slip(
                said=f"That makes {len(self.ids())} panels; up to {MOST_PANELS} make sense."
            )

    def _circuit(self, number: int, made: Mapping[str, Any], read: Read) -> Circuit | None:
        """One circuit; None with its slip noted where it cannot be."""
        entry = Entry(f"circuit.{number}.", Circuit, self.circuits[number])
        key, typed = entry.key("wiring"), self.texts.get(entry.key("wiring"))
        wiring = self._wiring(number)
        if typed is not None:
            try:
                self._parsed(typed, number, self.ids())
            except ValueError as trouble:
                read.slips[key] = Slip(said=str(trouble).removeprefix("wiring ").capitalize())
            return None
        if wiring is None:
            if self.ids():
                said = "No panel hangs on this controller. Name its panels, such as P3."
                read.slips.setdefault(key, Slip(said=said))
            return None
        parts = {name: made[f"{entry.prefix}{name}."] for name in ("controller", "cable", "battery_cable")}
        if parts["controller"] is None or parts["cable"] is None:
            return None
        return self._tried(entry, {**made[entry.prefix], **parts, "wiring": wiring}, read)

    def _roof(self, made: Mapping[str, Any], read: Read) -> Roof | None:
        """The roof; None where there is none, or with its slip noted where it cannot be."""
        if not self.has_roof:
            return None
        places = [made[f"spot.{k}.{j}."] for k, j in self.ids() if (k, j) in self.spots]
        ordered = self.base is not None and self.base.roof is not None and _in_order(self.base.roof, places)
        fixtures = tuple(made[f"fixture.{k}."] for k in self.fixtures)
        entry = Entry("roof.", Roof, self.base and self.base.roof)
        return self._tried(entry, {**made["roof."], "spots": tuple(ordered or places), "fixtures": fixtures}, read)


def is_wanted(kind: type[Description], name: str) -> bool:
    """Whether a description needs this number or another in its place, which files alone have.

    Examples
    --------
    >>> is_wanted(Load, "p_load"), is_wanted(Source, "i_charge_max"), is_wanted(Load, "from_h")
    (True, True, False)
    """
    return (kind, name) in ((Load, "p_load"), (Source, "i_charge_max"))


def text_of_value(value: Any) -> str:
    """A value as it stands in a box.

    Examples
    --------
    >>> text_of_value(22.0), text_of_value(-0.33), text_of_value(True), text_of_value("gel")
    ('22', '-0.33', 'true', 'gel')
    """
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def value_of_text(kind: type[Description], name: str, text: str) -> Any:
    """What a box says; a comma does for a point, and the unit may stand behind.

    Raises
    ------
    ValueError
        With what is wrong, for a text that is no such value.

    Examples
    --------
    >>> value_of_text(Panel, "v_oc", "24,3 V"), value_of_text(Panel, "cells_in_series", "36")
    (24.3, 36)
    >>> value_of_text(Controller, "cold_cutoff", "false")
    False
    """
    held = holds(kind, name)
    if held == "text":
        return text.strip()
    if held == "word":
        return {"true": True, "false": False}.get(text, text)
    plain = text.translate(MINUS).strip().removesuffix(unit_beside(kind, name)).strip()
    found = NUMBER.fullmatch(plain.replace(" ", ""))
    if not found:
        raise ValueError("write a plain number")
    number = float(f"{found[1]}{found[2].replace(',', '.')}")
    if held == "whole":
        if not number.is_integer():
            raise ValueError("write a whole number")
        return int(number)
    return number


def _is_offer(kind: type[Description], name: str, value: Any, offer: Offer | None) -> bool:
    """Whether a value is what an empty box stands for; not where an empty box leaves the field open."""
    field = field_of(kind, name)
    fills_in = field is not None and field.default is not None and not FIELDS[kind][name].choices
    return fills_in and offer is not None and value == offer.value


def _number_in(entry: Entry) -> int:
    """The number in a key such as panel.0."""
    return int(entry.prefix.split(".")[1])


def _held(base: Description | None) -> dict[str, Any]:
    """The values of a description by field."""
    return {} if base is None else {name: getattr(base, name) for name in table(type(base))}


def _dependent_last(kind: type[Description]) -> Iterator[str]:
    """Fields with boxes, those first on which what is typical of others hangs."""
    first = [name for name in ("v_oc", "i_sc", "v_mp", "i_mp", "v_nominal", "chemistry", "v_pv_max", "i_charge_max")]
    first += ["cells_in_series", "substrings", "branches", "v_absorption", "v_now", "capacity_ah", "kind"]
    yield from (name for name in first if name in FIELDS[kind])
    yield from (name for name in FIELDS[kind] if name not in first)


def _refitted(held: Sequence[Sequence[PanelId]], own: Sequence[PanelId]) -> tuple[tuple[PanelId, ...], ...]:
    """Strings of the same kind with other panels: all in series, all in parallel, or of the same length.

    Where they do not divide into such strings, they are in parallel, which no controller's ceiling minds.
    """
    lengths = {len(string) for string in held}
    if not own:
        return ()
    if len(lengths) > 1:
        kept = [tuple(one for one in string if one in own) for string in held]
        there = [one for string in kept for one in string]
        return (*(string for string in kept if string), *((one,) for one in own if one not in there))
    length = lengths.pop() if lengths else 1
    length = len(own) if len(held) == 1 and length > 1 else length
    length = length if len(own) % length == 0 else 1
    return tuple(tuple(own[k : k + length]) for k in range(0, len(own), length))


def _with_basis(values: dict[str, Any], base: Description, named: bool) -> dict[str, Any]:
    """The climate's values with who says so; nobody else, once the dawn was typed."""
    changed = isinstance(base, Climate) and values.get("temp_coldest") != base.temp_coldest
    return values | {"basis": AS_TYPED} if changed and not named else values


def _home_of(trouble: str) -> str:
    """The key beside which a word about the whole rig stands."""
    return "roof." if trouble.startswith("Roof") else "circuit." if "circuits" in trouble else ""


def _in_order(roof: Roof, places: Sequence[Placement | None]) -> list[Placement | None]:
    """Places in the order of the file they come from, where they are the same panels."""
    order = [spot.panel for spot in roof.spots]
    by_panel = {place.panel: place for place in places if place is not None}
    return [by_panel[panel] for panel in order] if sorted(order) == sorted(by_panel) else []
