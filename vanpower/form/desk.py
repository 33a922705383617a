"""What the form knows: the boxes, the last rig that was whole, and the file; without a page, so that tests can use it.

Whatever is whole is saved at once. A file that another page or an editor changed is not written over: the form says so
and waits for a choice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from vanpower.files.my_van import (
    my_van_path,
    my_van_stamp,
    my_van_steps,
    read_my_van,
    redo_my_van,
    save_my_van,
    undo_my_van,
)
from vanpower.form.boxes import FIELDS, field_of, holds, unit_beside
from vanpower.form.entries import Entries, Entry, Read, is_wanted, text_of_value
from vanpower.form.typical import offered
from vanpower.rig import Cable, Circuit, Rig

CABLES = {"cable": "Roof cable", "battery_cable": "Battery cable"}
# what stands before the labels of a cable
WIRING = ("wiring",)
# what of a circuit stands with its controller; the rest stands with its cables


class Desk:
    """The form without its page.

    Examples
    --------
    >>> import os
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> with TemporaryDirectory() as folder:
    ...     os.environ["VANPOWER_VAN"] = f"{folder}/van.toml"
    ...     save_my_van(example("bookmobile"))
    ...     desk = Desk()
    ...     desk.type({"panel.0.v_mp": "24"})
    ...     wrong = desk.state()["boxes"]["panel.0.v_mp"]["slip"]
    ...     desk.type({"panel.0.v_mp": "18,4"})
    ...     saved = read_my_van().panels[0].v_mp
    ...     del os.environ["VANPOWER_VAN"]
    >>> wrong, saved
    ('Vmp must be below Voc, and 24 V is not. Are the two swapped?', 18.4)
    """

    def __init__(self) -> None:
        self.good: Rig | None = None
        self.trouble = self.unsaved = self.saved_key = ""
        self.elsewhere = False
        self.load()

    def load(self) -> None:
        """Take what the file holds now."""
        self.trouble, self.elsewhere, self.unsaved, self.saved_key = "", False, "", ""
        self.stamp = my_van_stamp()
        try:
            self.good = read_my_van()
        except ValueError as trouble:
            self.good, self.trouble = None, str(trouble)
        self._lay_out(Entries(self.good))

    def _lay_out(self, entries: Entries) -> None:
        """Take other boxes."""
        self.entries = entries
        self.read: Read = entries.read()
        self.whole_texts = self._texts()

    # What a person does

    def type(self, texts: Mapping[str, str], key: str = "") -> None:
        """Take texts of boxes, and save what is whole."""
        self.entries.type(texts, key)
        self._settle(key or next(iter(texts), ""))

    def do(self, what: str, part: str = "", arg: str = "") -> None:
        """Take a press of a button.

        Parameters
        ----------
        what : {"undo", "redo", "use", "keep", "anew", "add", "remove"}
            "use" takes the file as it is now; "keep" writes what stands here over it, "anew" over one that is wrong.
        part, arg : str
            Of what to add one or take one away, and which.
        """
        if what in ("undo", "redo"):
            self._step(undo_my_van if what == "undo" else redo_my_van)
        elif what == "use":
            self.load()
        elif what in ("keep", "anew"):
            self.trouble, self.elsewhere, self.stamp = "", False, my_van_stamp()
            self._settle("")
        elif what == "add":
            self.entries.add(part, arg)
            self._settle("")
        elif what == "remove":
            self.entries.remove(part, arg)
            self._settle("")

    def _step(self, move: Any) -> None:
        """One step back or forth, and what the file holds then."""
        try:
            move()
        except ValueError as trouble:
            self.load()
            self.unsaved = "" if self.trouble else str(trouble)
            return
        self.load()

    def look(self) -> bool:
        """Whether another page or an editor changed the file since it was read or written here."""
        if my_van_stamp() != self.stamp:
            self.elsewhere = True
        return self.elsewhere

    def _settle(self, key: str) -> None:
        """Read all boxes, and save the rig if it is whole."""
        self.read = self.entries.read()
        if self.read.rig is None:
            return
        self.good, self.whole_texts = self.read.rig, self._texts()
        if self.trouble or self.look():
            return
        try:
            save_my_van(self.read.rig, same_step=bool(key) and key == self.saved_key)
        except ValueError as trouble:
            self.unsaved = str(trouble)
            return
        self.unsaved, self.saved_key, self.stamp = "", key, my_van_stamp()

    # What the page shows

    def state(self) -> dict[str, Any]:
        """What stands in each box and beside it, and what is said of the file; plain texts."""
        back, forth = my_van_steps()
        return {
            "boxes": {entry.key(name): self._box(entry, name, values) for entry, name, values in self._all()},
            "stale": self.stale(),
            "saved": self.saved(),
            "file": str(my_van_path()),
            "elsewhere": self._elsewhere(),
            "trouble": self.trouble,
            "back": back > 0,
            "forth": forth > 0,
            "general": [slip.said for key, slip in self.read.slips.items() if key not in self._keys()],
        }

    def _all(self) -> list[tuple[Entry, str, dict[str, Any]]]:
        """Every box with its description's values."""
        found = []
        for entry in self.entries.entries():
            values = self.entries.values(entry, Read())
            found += [(entry, name, values) for name in FIELDS[entry.kind]]
        return found

    def _keys(self) -> set[str]:
        return {entry.key(name) for entry in self.entries.entries() for name in FIELDS[entry.kind]}

    def _texts(self) -> dict[str, str]:
        """What stands in every box, or what is offered there."""
        texts = {}
        for entry, name, values in self._all():
            offer = offered(entry.kind, name, values)
            text = self.entries.text(entry, name, values) or (text_of_value(offer.value) if offer else "")
            texts[entry.key(name)] = text
        return texts

    def _box(self, entry: Entry, name: str, values: Mapping[str, Any]) -> dict[str, Any]:
        """One box: its text, what is offered and by whom, what is wrong, and what mends it."""
        offer, slip = offered(entry.kind, name, values), self.read.slips.get(entry.key(name))
        text = self.entries.text(entry, name, values)
        unset = not (text or offer or FIELDS[entry.kind][name].choices or self._needed(entry, name))
        return {
            "text": text,
            "offer": text_of_value(offer.value) if offer else "",
            "note": offer.note if offer else "",
            "open": unset and holds(entry.kind, name) != "text",
            "slip": slip.said if slip else "",
            "cure": slip.cure if slip else "",
            "sets": dict(slip.sets or {}) if slip else {},
        }

    def _needed(self, entry: Entry, name: str) -> bool:
        """Whether a rig cannot be without a value here."""
        field = field_of(entry.kind, name)
        return name == "count" or (field is not None and field.needed) or is_wanted(entry.kind, name)

    def stale(self) -> str:
        """What keeps the picture from being of what stands in the boxes; empty where nothing does.

        Examples
        --------
        >>> Desk.stale.__name__
        'stale'
        """
        keys = self._unsettled()
        if not keys or self.good is None:
            return ""
        count = "One figure" if len(keys) == 1 else f"{len(keys)} figures"
        last = ", ".join(filter(None, (self._last(key) for key in keys)))
        shown = f"What you see is for the last whole rig{f': {last}' if last else ''}."
        return f"{count} to settle ({', '.join(map(self._called, keys))}). {shown}"

    def saved(self) -> str:
        """What is said of the file."""
        name, keys = my_van_path().name, self._unsettled()
        if self.unsaved:
            return self.unsaved
        if self.trouble or self.elsewhere:
            return f"Not saved in {name} until you choose above."
        if keys and self.good is None:
            return f"Saved in {name} as soon as these are there: {', '.join(map(self._called, keys))}."
        if keys:
            told = f"{', '.join(map(self._called, keys))} {'is' if len(keys) == 1 else 'are'} settled"
            return f"Saved in {name} once {told}."
        return f"Saved in {name}." if self.stamp else f"Nothing is saved in {name} yet."

    def _elsewhere(self) -> str:
        """What to say of a file that changed outside."""
        return f"{my_van_path().name} was changed in another page or by hand." if self.elsewhere else ""

    def _unsettled(self) -> list[str]:
        """Keys of boxes that are wrong or empty and must not be."""
        return list(dict.fromkeys([*self.read.slips, *self.read.missing]))

    def _last(self, key: str) -> str:
        """What stood in a box when all was whole."""
        entry, name = self._home(key)
        text = self.whole_texts.get(key, "")
        unit = unit_beside(entry.kind, name) if entry else ""
        return f"{self._called(key)} {text}\N{NO-BREAK SPACE}{unit}".strip() if text else ""

    def _home(self, key: str) -> tuple[Entry | None, str]:
        """The description and the field of a key."""
        for entry in self.entries.entries():
            name = key.removeprefix(entry.prefix)
            if key.startswith(entry.prefix) and name in FIELDS[entry.kind]:
                return entry, name
        return None, ""

    def _called(self, key: str) -> str:
        """What a sentence calls a box."""
        entry, name = self._home(key)
        if entry is None:
            return "the roof" if key.startswith("roof") else "the circuits" if key.startswith("circuit") else "the rig"
        return _label(entry, name, short=True)

    def shape(self) -> list[dict[str, Any]]:
        """The parts of the page in order: groups of boxes, and buttons that add one."""
        parts: list[dict[str, Any]] = []
        entries = {entry.prefix: entry for entry in self.entries.entries()}
        several = len(self.entries.kinds) > 1
        for n, k in enumerate(self.entries.kinds, 1):
            title = f"Panels, kind {n}" if several else "Panels"
            less = _less("panel", k, "remove this kind") if several else None
            more = "More of the label, and how it lies"
            parts.append(_group(f"panel.{k}", title, _all_of(entries[f"panel.{k}."]), more, less))
        parts.append(_adds("panel", "another kind of panel"))
        parts.append(_group("battery", "Battery", _all_of(entries["battery."]), "More of the battery"))
        for n, k in enumerate(self.entries.circuits, 1):
            parts += self._circuit(k, f" {n}" if len(self.entries.circuits) > 1 else "", entries)
        parts.append(_adds("circuit", "another controller"))
        parts.append(_group("climate", "Frost", _all_of(entries["climate."]), "Heat, and who says so"))
        charger = "a charger from alternator, shore, generator or wind"
        sources = [
            *self._listed("source", "Charger", self.entries.sources, "When it runs", entries),
            _adds("source", charger),
        ]
        parts += [_fold("loads", "Loads", len(self.entries.loads), self._loads(entries))]
        parts += [_fold("sources", "Other chargers", len(self.entries.sources), sources), *self._roof(entries)]
        parts.append(_group("rig", "Name and rules", _all_of(entries[""])))
        return parts

    def _circuit(self, k: int, which: str, entries: Mapping[str, Entry]) -> list[dict[str, Any]]:
        """The groups of one circuit."""
        own = entries[f"circuit.{k}."]
        less = _less("circuit", k, "remove this controller") if which else None
        controller = [*_all_of(entries[f"circuit.{k}.controller."]), *((own, name) for name in WIRING)]
        cables = [*_all_of(entries[f"circuit.{k}.cable."]), *_all_of(entries[f"circuit.{k}.battery_cable."])]
        cables += [(own, name) for name in FIELDS[Circuit] if name not in WIRING]
        return [
            _group(f"circuit.{k}.controller", f"Controller{which}", controller, "More of the controller", less),
            _group(f"circuit.{k}", f"Cables and fuses{which}", cables, "More of cables and fuses"),
        ]

    def _listed(
        self, kind: str, called: str, which: Iterable[int], more: str, entries: Mapping[str, Entry]
    ) -> list[dict[str, Any]]:
        """A group for each of several descriptions of a kind, counted, with a button that takes it away."""
        less = f"remove this {called.lower()}"
        return [
            _group(f"{kind}.{k}", f"{called} {n}", _all_of(entries[f"{kind}.{k}."]), more, _less(kind, k, less))
            for n, k in enumerate(which, 1)
        ]

    def _loads(self, entries: Mapping[str, Entry]) -> list[dict[str, Any]]:
        """What draws from the battery, and the inverter that feeds some of it."""
        inner = [*self._listed("load", "Load", self.entries.loads, "When it runs, and a fridge", entries)]
        inner.append(_adds("load", "a load"))
        for k in self.entries.inverters:
            less = _less("inverter", k, "remove the inverter")
            inner.append(_group(f"inverter.{k}", "Inverter", _all_of(entries[f"inverter.{k}."]), "Its name", less))
        if not self.entries.inverters:
            inner.append(_adds("inverter", "an inverter, for what runs on mains volts"))
        return inner

    def _roof(self, entries: Mapping[str, Entry]) -> list[dict[str, Any]]:
        """The roof from above, folded."""
        if not self.entries.has_roof:
            return [{"fold": "roof", "title": "Roof plan: none yet", "parts": [_adds("roof", "a roof plan")]}]
        inner = [_group("roof", "Roof", _all_of(entries["roof."]))]
        for n, (kind, j) in enumerate(self.entries.ids()):
            entry = entries.get(f"spot.{kind}.{j}.")
            placed = entry and _group(f"spot.{kind}.{j}", f"P{n + 1} on the roof", _all_of(entry))
            inner.append(placed or _adds("spot", f"the place of P{n + 1}", str(n)))
        for n, k in enumerate(self.entries.fixtures, 1):
            less = _less("fixture", k, "remove it")
            inner.append(_group(f"fixture.{k}", f"Throws shade, {n}", _all_of(entries[f"fixture.{k}."]), less=less))
        inner.append(_adds("fixture", "a box, flue, aerial or wall"))
        return [
            {"fold": "roof", "title": f"Roof plan: {len(self.entries.fixtures)} things throw shade", "parts": inner}
        ]


def _fold(name: str, title: str, count: int, parts: list[dict[str, Any]]) -> dict[str, Any]:
    """Parts out of sight until asked for, with how many there are."""
    return {"fold": name, "title": f"{title}: {count or 'none yet'}", "parts": parts}


def _all_of(entry: Entry) -> list[tuple[Entry, str]]:
    """Every box of a description."""
    return [(entry, name) for name in FIELDS[entry.kind]]


def _group(
    name: str, title: str, boxes: list[tuple[Entry, str]], more: str = "", less: dict[str, str] | None = None
) -> dict[str, Any]:
    """A group of boxes, those that are seldom needed folded."""
    shown = [_described(entry, field) for entry, field in boxes if not FIELDS[entry.kind][field].folded]
    folded = [_described(entry, field) for entry, field in boxes if FIELDS[entry.kind][field].folded]
    return {"group": name, "title": title, "boxes": shown, "more": more, "folded": folded, "less": less}


def _described(entry: Entry, name: str) -> dict[str, Any]:
    """What does not change of a box."""
    box, held = FIELDS[entry.kind][name], holds(entry.kind, name)
    return {
        "key": entry.key(name),
        "label": _label(entry, name),
        "unit": unit_beside(entry.kind, name) if not box.choices else "",
        "help": box.help,
        "choices": [list(choice) for choice in box.choices],
        "mode": {"number": "decimal", "whole": "numeric"}.get(held, "text"),
    }


def _label(entry: Entry, name: str, *, short: bool = False) -> str:
    """What a box is called; a cable's with which cable it is."""
    box = FIELDS[entry.kind][name]
    label = box.said if short else box.label
    before = CABLES[entry.prefix.split(".")[-2]] if entry.kind is Cable else ""
    if before:
        label = f"{before}, {label[:1].lower()}{label[1:]}"
        return label[:1].lower() + label[1:] if short else label
    return label


def _adds(part: str, words: str, arg: str = "") -> dict[str, str]:
    """A button that adds something."""
    return {"add": part, "arg": arg, "label": f"+ {words}"}


def _less(part: str, which: int, words: str) -> dict[str, str]:
    """A button that takes something away."""
    return {"part": part, "arg": str(which), "label": words}
