"""From tables to descriptions, with every problem noted at its line."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from vanpower.files.examples import shelf_tables
from vanpower.files.messages import did_you_mean, missing_words, near_keys, nearest, plain, quoted, sentence_of
from vanpower.files.rig_forms import (
    HOMES,
    LARGEST_FILE,
    MOST_FIXTURES,
    MOST_PANELS,
    MOST_STOPS,
    MOST_TOLD,
    MOST_WEIGHED,
)
from vanpower.files.texts import key_lines, parsed
from vanpower.files.typed import MISSING_KEY, UNKNOWN_KEY, Misfit, learn, read, read_keys
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
    Stop,
    Wiring,
)
from vanpower.rig.fields import Description, table
from vanpower.rig.wirings import parse_wiring

Place = tuple[str | int, ...]
T = TypeVar("T", bound=Description)
BY_NAME: dict[type[Description], dict[str, Any]] = {Circuit: {"wiring": Any, "panels": list[int]}}
# keys with a way of their own
DEEPEST = 8
# brackets inside brackets; a rig needs five, for a wiring panel by panel
learn(*HOMES.values(), Stop)


class Problems:
    """What is wrong with one file, gathered so that a person mends it in one go."""

    def __init__(self, file: str, text: str) -> None:
        self.file, self.lines = file, key_lines(text)
        self.panel_words: list[str] = []
        self.found: list[tuple[int, str]] = []

    def add(self, place: Place, sentence: str) -> None:
        """Note one problem at a place such as ("panels", 0, "v_mp")."""
        known = [place[:n] for n in range(len(place), 0, -1) if place[:n] in self.lines]
        line = self.lines[known[0]] if known else 0
        where = [self.file, f"line {line}" if line else "", self._said(place)]
        self.found.append((line, f"{', '.join(part for part in where if part)}: {sentence}"))

    def _said(self, place: Place) -> str:
        """The table a place lies in, as a person says it; its last key stands in the sentence."""
        if place[:1] == ("panels",) and len(place) > 1:
            return self.panel_words[int(place[1])]
        if place[:1] == ("circuits",) and len(place) > 1:
            inner = [str(key) for key in place[2:3] if key in ("controller", "cable", "battery_cable")]
            return ", ".join([f"circuit {int(place[1]) + 1}", *inner])
        if place[:1] in (("loads",), ("sources",), ("stops",)) and len(place) > 1:
            return f"{str(place[0]).removesuffix('s')} {int(place[1]) + 1}"
        if place[:1] == ("roof",) and len(place) > 2:
            return f"roof, {str(place[1]).removesuffix('s')} {int(place[2]) + 1}"
        return str(place[0]) if len(place) > 1 and place[0] in ("battery", "climate", "inverter", "roof") else ""

    def error(self) -> ValueError:
        """One error that tells the first few problems in the order of the file."""
        told = [sentence for _, sentence in sorted(self.found, key=lambda problem: problem[0] or LARGEST_FILE)]
        rest = len(told) - MOST_TOLD
        return ValueError("\n".join(told[:MOST_TOLD] + [f"and {rest} more."] * (rest > 0)))


def rig_of(text: str, file: str) -> Rig:
    """The rig in the text of a file.

    Examples
    --------
    >>> from vanpower import example, rig_to_toml
    >>> text = rig_to_toml(example("bookmobile"))
    >>> rig_of(text, "van.toml") == example("bookmobile")
    True
    >>> rig_of(text.replace("v_oc = 22.3", "v_oc = 12.3"), "van.toml")
    Traceback (most recent call last):
    ValueError: van.toml, line 11, panels 1 and 2: v_mp is 18.5 V; it must lie below v_oc, 12.3 V. Are the two swapped?
    """
    document = parsed(text, file)
    problems = Problems(file, text)
    head = _keys(Rig, document, (), problems)
    panels = _panels(document, problems)
    house = _taken(document.get("battery"), "batteries", ("battery",), problems)
    battery = _described(Battery, house, ("battery",), problems)
    climate = _described(Climate, document.get("climate"), ("climate",), problems)
    circuits = _circuits(document, len(panels), problems)
    loads, sources = _all_of(Load, "loads", document, problems), _all_of(Source, "sources", document, problems)
    inverter = _described(Inverter, document.get("inverter"), ("inverter",), problems)
    roof = _roof(document["roof"], len(panels), problems) if "roof" in document else None
    if problems.found or not (head and battery and climate):
        raise problems.error()
    try:
        return Rig(
            **_plain(Rig, head),
            panels=tuple(panel for panel in panels if panel),
            battery=battery,
            climate=climate,
            circuits=circuits,
            loads=loads,
            roof=roof,
            sources=sources,
            inverter=inverter,
        )
    except ValueError as trouble:
        told = plain(trouble)
        place = ("roof",) if str(trouble).startswith("Roof.") else (told.split(" ", 1)[0],)
        problems.add(place, told)
        raise problems.error() from None


def stops_in(text: str, file: str) -> tuple[Stop, ...]:
    """The stops of a trip in the text of a file.

    Examples
    --------
    >>> stop = '[[stops]]\\nname = "lake"\\nweather = "miami"\\nfrom_day = "07-04"\\nto_day = "07-06"\\n'
    >>> stops_in(stop, "trip.toml")[0].name
    'lake'
    >>> stops_in(stop.replace("07-06", "June"), "trip.toml")
    Traceback (most recent call last):
    ValueError: trip.toml, line 5, stop 1: to_day is 'June'; month and day make sense, such as 07-04.
    """
    document = parsed(text, file, "trips/three-coasts.toml")
    problems = Problems(file, text)
    for key in document.keys() - {"stops"}:
        problems.add((key,), f"{key} is not a key here; a trip has [[stops]] alone.")
    if not isinstance(document.get("stops"), list):
        problems.add((), "it has no stops; write [[stops]] above the keys of each one.")
    stops = _all_of(Stop, "stops", document, problems)
    if problems.found:
        raise problems.error()
    return stops


def _described(kind: type[T], block: object, place: Place, problems: Problems) -> T | None:
    """The description in one table, or None with its problems noted; an absent table is its parent's problem."""
    if not isinstance(block, dict) or not _shallow(block, place, problems):
        return None
    made, misfits = read(kind, block)
    _note(kind, misfits, place, problems)
    return made


def _keys(kind: type[Description], block: object, place: Place, problems: Problems) -> dict[str, Any] | None:
    """The keys of a table whose parts are read one by one, or None with its problems noted."""
    if not isinstance(block, dict) or not _shallow(block, place, problems):
        return None
    values, misfits = read_keys(kind, block, BY_NAME.get(kind, {}))
    _note(kind, misfits, place, problems)
    return None if misfits else values


def _plain(kind: type[Description], values: Mapping[str, Any]) -> dict[str, Any]:
    """Of the keys of a table those that are no parts."""
    return {name: values[name] for name, field in table(kind).items() if name in values and not field.is_part}


def _shallow(block: object, place: Place, problems: Problems) -> bool:
    """Whether the brackets of a table nest no deeper than a rig's."""
    level = [block]
    for _ in range(DEEPEST):
        held = [part.values() if isinstance(part, dict) else part for part in level if isinstance(part, (dict, list))]
        level = [one for parts in held for one in parts]
    if level:
        problems.add((*place, ""), "brackets nest too deep here.")
    return not level


def _note(kind: type[Description], misfits: Sequence[Misfit], place: Place, problems: Problems) -> None:
    """Note what does not fit in a table."""
    weighed = misfits[:MOST_WEIGHED]
    unknown = [str(misfit.at[0]) for misfit in weighed if misfit.wanted == UNKNOWN_KEY]
    meant = [guess for key in unknown for guess in near_keys(kind, key)[:1]]
    absent = [misfit for misfit in weighed if misfit.wanted == MISSING_KEY and len(misfit.at) == 1]
    keys = [str(misfit.at[0]) for misfit in absent if str(misfit.at[0]) not in meant]
    if keys:
        # told in one line, so that a person sees all that a table lacks
        problems.add((*place, keys[0]), missing_words(kind, keys))
    for misfit in weighed:
        sentence, key = sentence_of(kind, misfit)
        if misfit not in absent and not (misfit.wanted == MISSING_KEY and key in meant):
            problems.add((*place, key), sentence)


def _panels(document: Mapping[str, Any], problems: Problems) -> list[Panel | None]:
    """Every panel in order, equal ones one by one; None where its table has a problem."""
    panels: list[Panel | None] = []
    for k, block in enumerate(_tables(document, "panels", problems)):
        count = block.pop("count", 1)
        whole = isinstance(count, int) and not isinstance(count, bool) and 1 <= count <= MOST_PANELS
        equal = count if whole else 1
        problems.panel_words.append(_panel_words(len(panels) + 1, len(panels) + equal))
        if not whole:
            sense = f"a whole number from 1 to {MOST_PANELS} makes sense."
            problems.add(("panels", k, "count"), f"count is {quoted(count)}; {sense}")
        panels += [_described(Panel, block, ("panels", k), problems)] * equal
    if len(panels) > MOST_PANELS:
        problems.add(("panels", 0), f"there are {len(panels)} panels; up to {MOST_PANELS} make sense.")
    return panels


def _panel_words(first: int, last: int) -> str:
    """The panels one table stands for, counted as sentences count them."""
    if first == last:
        return f"panel {first}"
    return f"panels {first} {'and' if last == first + 1 else 'to'} {last}"


def _tables(document: Mapping[str, Any], key: str, problems: Problems) -> list[dict[str, Any]]:
    """The tables of an array of tables, free to be changed; what is none of them is noted."""
    blocks = document.get(key)
    if not isinstance(blocks, list):
        return []
    if not blocks or not all(isinstance(block, dict) for block in blocks):
        problems.add((key,), f"{key} is {quoted(blocks)}; write [[{key}]] above the keys of each one.")
        return []
    most = MOST_STOPS if key == "stops" else MOST_PANELS
    if len(blocks) > most:
        problems.add((key,), f"there are {len(blocks)} {key}; up to {most} make sense.")
        return []
    return [dict(block) for block in blocks]


def _all_of(kind: type[T], key: str, document: Mapping[str, Any], problems: Problems) -> tuple[T, ...]:
    """What the tables of loads or of other sources describe; a rig need not have any."""
    blocks = _tables(document, key, problems) if document.get(key) != [] else []
    made = [_described(kind, block, (key, k), problems) for k, block in enumerate(blocks)]
    return tuple(one for one in made if one is not None)


def _circuits(document: Mapping[str, Any], panels: int, problems: Problems) -> tuple[Circuit, ...]:
    """Every circuit without a problem."""
    blocks = _tables(document, "circuits", problems)
    circuits = []
    for k, block in enumerate(blocks):
        place: Place = ("circuits", k)
        keys = _keys(Circuit, block, place, problems)
        given = _taken(block.get("controller"), "controllers", (*place, "controller"), problems)
        controller = _described(Controller, given, (*place, "controller"), problems)
        cable = _cable(block.get("cable", {}), (*place, "cable"), problems)
        wiring = _wiring(block, panels, place, problems, shared=len(blocks) > 1)
        inner = _cable(block.get("battery_cable"), (*place, "battery_cable"), problems)
        if keys and controller and cable and wiring:
            parts = {"wiring": wiring, "controller": controller, "cable": cable, "battery_cable": inner}
            circuits += _made(parts | _plain(Circuit, keys), place, problems)
    return tuple(circuits)


def _cable(block: object, place: Place, problems: Problems) -> Cable | None:
    """A cable, or None with its problems noted; copper that nobody names is not judged as if it were there."""
    cable = _described(Cable, block, place, problems)
    if cable and cable.length_m and isinstance(block, dict) and "section_mm2" not in block:
        problems.add((*place, "section_mm2"), missing_words(Cable, ["section_mm2"]))
        return None
    return cable


def _made(parts: Mapping[str, Any], place: Place, problems: Problems) -> list[Circuit]:
    """The circuit of these parts, or nothing with its problem noted."""
    try:
        return [Circuit(**parts)]
    except ValueError as trouble:
        told = plain(trouble)
        problems.add((*place, told.split(" ", 1)[0]), told)
        return []


def _roof(block: object, panels: int, problems: Problems) -> Roof | None:
    """The roof with what lies and stands on it, or None with its problems noted."""
    keys = _keys(Roof, block, ("roof",), problems)
    if keys is None:
        return None
    spots, fixtures = (_parts(keys.get(key, []), ("roof", key), problems) for key in ("spots", "fixtures"))
    placed = [_spot(part, panels, ("roof", "spots", k), problems) for k, part in enumerate(spots)]
    standing = [_described(Fixture, part, ("roof", "fixtures", k), problems) for k, part in enumerate(fixtures)]
    try:
        return Roof(
            **_plain(Roof, keys),
            spots=tuple(spot for spot in placed if spot),
            fixtures=tuple(fixture for fixture in standing if fixture),
        )
    except ValueError as trouble:
        key = re.match(r"\w+\.(\w+) ", str(trouble))
        problems.add(("roof", key[1]) if key else ("roof",), plain(trouble))
        return None


def _parts(blocks: list[Any], place: Place, problems: Problems) -> list[dict[str, Any]]:
    """The tables of an array inside the roof; what is none of them is noted."""
    header = f"[[{'.'.join(map(str, place))}]]"
    if not all(isinstance(block, dict) for block in blocks):
        problems.add(place, f"{place[-1]} is {quoted(blocks)}; write {header} above the keys of each one.")
        return []
    if len(blocks) > MOST_FIXTURES:
        problems.add(place, f"there are {len(blocks)} {place[-1]}; up to {MOST_FIXTURES} make sense.")
        return []
    return [dict(block) for block in blocks]


def _spot(block: dict[str, Any], panels: int, place: Place, problems: Problems) -> Placement | None:
    """A panel's place, which counts panels from 1."""
    number = block.get("panel")
    if type(number) is int:
        try:
            (block["panel"],) = _from_zero([number], max(panels, 1))
        except ValueError as trouble:
            problems.add((*place, "panel"), str(trouble))
            return None
    return _described(Placement, block, place, problems)


def _wiring(block: Mapping[str, Any], count: int, place: Place, problems: Problems, *, shared: bool) -> Wiring | None:
    """The wiring of one circuit, or None with its problem noted."""
    if "wiring" not in block or not count:
        return None
    try:
        return _wired(block["wiring"], block.get("panels"), count)
    except ValueError as trouble:
        hint = " Where circuits share the roof, each says which are its own: panels = [1, 2]."
        told = f"{plain(trouble)}{hint if shared and 'panels' not in block else ''}"
        problems.add((*place, "wiring"), told)
        return None


def _wired(wiring: object, panels: object, count: int) -> Wiring | None:
    """The wiring in either form, out of `count` panels on the roof."""
    if isinstance(wiring, str) and len(wiring) < LONGEST_QUOTE:
        numbers = list(range(1, count + 1)) if panels is None else panels
        return parse_wiring(wiring, _from_zero(numbers, count)) if _all_whole(numbers) else None
    if not isinstance(wiring, list) or not wiring:
        raise ValueError(f'wiring is {quoted(wiring)}; write "2s2p" or [[1, 2], [3, 4]].')
    if _all_whole(wiring):
        side_by_side = ", ".join(f"[{panel}]" for panel in wiring)
        raise ValueError(f"wiring is {wiring}; write [{wiring}] for one string, [{side_by_side}] in parallel.")
    if not all(_all_whole(string) and string for string in wiring):
        raise ValueError(f"wiring is {quoted(wiring)}; each string is a list of panels, as in [[1, 2], [3, 4]].")
    if panels is not None:
        raise ValueError("wiring names its panels itself; leave out the line panels = [...].")
    flat = iter(_from_zero([panel for string in wiring for panel in string], count))
    return Wiring(strings=tuple(tuple(next(flat) for _ in string) for string in wiring))


def _all_whole(numbers: object) -> bool:
    """Whether this is a list of whole numbers."""
    return isinstance(numbers, list) and all(type(number) is int for number in numbers)


def _from_zero(numbers: object, count: int) -> list[int]:
    """Panels counted from 1 in a file as panels counted from 0 in code."""
    assert isinstance(numbers, list)
    for number in numbers:
        if number < 1:
            raise ValueError(f"panel {number} is named; a file counts panels from 1, as in P1.")
        if number > count:
            there = "there is 1 panel" if count == 1 else f"there are {count} panels"
            raise ValueError(f"panel {number} is named, and {there}.")
        if numbers.count(number) > 1:
            raise ValueError(f"panel {number} is named twice; it can be in one string only.")
    return [number - 1 for number in numbers]


def _taken(block: object, shelf: str, place: Place, problems: Problems) -> object:
    """The table with what `use` stands for filled in; keys beside `use` win."""
    if not isinstance(block, dict) or "use" not in block:
        return block
    own = {key: value for key, value in block.items() if key != "use"}
    known, wanted = shelf_tables(shelf), block["use"]
    if isinstance(wanted, str) and wanted in known:
        return {"name": wanted, **known[wanted], **own}
    near = did_you_mean(nearest(str(wanted), known))
    sentence = f"use is {quoted(wanted)}, which {shelf}.toml does not list{near} There are {', '.join(known)}."
    problems.add((*place, "use"), sentence)
    return None
