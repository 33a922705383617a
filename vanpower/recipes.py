"""Rigs to and from TOML files a person edits, and the examples that come with the kit.

Answers where a file is wrong: every problem is told with its line, the place as a person would say it, the value,
what would make sense and the likely slip. A path inside a file is never opened. Left out: stamping charts.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from functools import cache
from itertools import groupby
from numbers import Integral
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from vanpower.rig import LONGEST_QUOTE, Battery, Cable, Circuit, Climate, Controller, Panel, Rig, Wiring, unit_of
from vanpower.wirings import parse_wiring

AWG_ZERO_MM2, AWG_STEP = 53.475, 92 ** (1 / 19.5)
# [mm²] area of AWG 0, and how much less each number more has; ASTM B258
LARGEST_FILE = 1_000_000
# [bytes] a rig of 24 unlike panels takes 20 000; more is another kind of file
MOST_PANELS = 24
# more than a van roof holds; common practice, no source
MOST_TOLD = 3
# problems told at once; the rest is counted
MOST_WEIGHED = 100
# problems of one table put into words; a file with more is another kind of file
COMMENT_COLUMN = 34
# where comments start in written files

MEANINGS = {
    "name": "what charts call it",
    "source": "where the numbers come from",
    "count": "how many equal ones",
    "panels": "the panels on the roof",
    "battery": "the house battery",
    "climate": "the coldest and hottest it meets",
    "circuits": "what hangs on each controller",
    "controller": "the charge controller",
    "cable": "the run from roof to controller",
    "wiring": 'as the trade writes it, "2s2p", or panel by panel, [[1, 2], [3, 4]]',
    "blocking_diodes": "true with a diode in each string",
    "v_oc": "open circuit",
    "i_sc": "short circuit",
    "v_mp": "at best power",
    "i_mp": "at best power",
    "cells_in_series": "between plus and minus; of half-cut cells count one half",
    "substrings": "groups of cells, each under its bypass diode",
    "branches": "1 is full cells, 2 is half-cut",
    "bypass_diodes": "false for a panel without any",
    "beta_voc_pct_per_k": "change of v_oc with heat",
    "gamma_pmp_pct_per_k": "change of power with heat",
    "alpha_isc_pct_per_k": "change of i_sc with heat",
    "i_max_fuse": "largest series fuse",
    "v_bypass": "drop of a bypass diode that conducts",
    "r_leak": "leak of an old or damaged panel",
    "tilt_deg": "0 is flat",
    "azimuth_deg": "faces 90 east, 180 south",
    "mount": '"open" air all round, "gap" on brackets, "glued"',
    "length_m": "one way",
    "section_mm2": "copper of one core",
    "temp_conductor": "of the copper",
    "v_pv_max": "above it the controller breaks",
    "i_charge_max": "into the battery",
    "i_pv_sc_max": "largest short-circuit current at the input",
    "v_start_margin": "above the battery, to wake",
    "v_hold_margin": "above the battery, to stay awake",
    "tracker": '"sweep" sees the whole curve, "climb" keeps the first hill, "direct" is a plain switch',
    "p_own": "used by the controller while awake",
    "loss_fixed_pct": "lost in any case",
    "loss_ratio_pct": "lost per unit of step-down above 1",
    "v_nominal": "12, 24, 36 or 48",
    "v_now": "at its terminals, for this study",
    "v_absorption": "full charge",
    "chemistry": '"lithium iron phosphate" or "lead-acid"',
    "capacity_ah": "as on its label",
    "temp_coldest": "coldest first light of the year's plan",
    "temp_cell_hottest": "hottest cells of the year's plan",
    "basis": "who says so",
}

NOT_KEYS = {
    "awg": "section_mm2 takes the copper area; 10 AWG is 5.26 mm², 8 AWG 8.37, 6 AWG 13.3.",
    "watts": "Watts follow from v_mp and i_mp; leave it out.",
    "power": "Watts follow from v_mp and i_mp; leave it out.",
    "pmp": "Watts follow from v_mp and i_mp; leave it out.",
    "pmax": "Watts follow from v_mp and i_mp; leave it out.",
    "wp": "Watts follow from v_mp and i_mp; leave it out.",
}
# keys people write that have no near one here; AWG areas: ASTM B258

SYNTAX_SLIPS = (
    (r"[“”„‘’«»]", "Use straight quotes."),
    (r"[−–]\s*\d", "Write the minus sign of the keyboard, -."),
    (r"^\s*[{<]", "A rig is written in TOML: one key = value a line."),
    (r"=\s*[-+]?\d+,\d", "Write decimals with a point."),
    (r"^\s*[\w-]+\s*:", "Between key and value stands =, not a colon."),
    (r"=\s*[-+]?\.\d", "Write the 0 before the point."),
    (r"=\s*[-+]?0\d", "A number does not begin with 0."),
    (r"=\s*[-+]?\d[\d.]*\s*[a-zA-Z°%Ωµ]", "Write the number alone; the unit belongs to the key."),
    (r"=\s*(?:True|False|TRUE|FALSE|yes|no)\b", "It is true or false, in small letters."),
    (r"=\s*(?:#.*)?$", "The value is missing."),
    (r"=\s*[^\W\d]", "Text goes in straight quotes."),
    (r"^\s*\[[^\]]*$", "The closing ] is missing."),
    (r"=\s*\"[^\"]*\\", "In double quotes a backslash begins a code; write / or single quotes."),
    (r"=\s*(?:\"[^\"]*|'[^']*)$", "The closing quote is missing."),
    (r"^\s*[\w-]+\s*(?:#.*)?$", "A key needs = and a value."),
)
# what a line that is no TOML looks like, and the likely slip; the first that fits is told

Place = tuple[str | int, ...]
T = TypeVar("T")


@dataclass(kw_only=True)
class _FileForm:
    """Keys at the top of a rig file; what is inside its tables is checked table by table."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012
    name: str
    source: str
    panels: list[Any]
    battery: dict[str, Any]
    climate: dict[str, Any]
    circuits: list[Any]


@dataclass(kw_only=True)
class _CircuitForm:
    """Keys of one circuit in a rig file."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012
    wiring: Any
    controller: dict[str, Any]
    cable: dict[str, Any] = field(default_factory=dict)
    panels: list[int] = field(default_factory=list)
    blocking_diodes: bool = False


HOMES = {
    "at the top of the file, above the first table": _FileForm,
    "in [[panels]]": Panel,
    "in [battery]": Battery,
    "in [climate]": Climate,
    "in [[circuits]]": _CircuitForm,
    "in [circuits.controller]": Controller,
    "in [circuits.cable]": Cable,
}
# where each kind of key lives
ADAPTERS: dict[Any, TypeAdapter[Any]] = {kind: TypeAdapter(kind) for kind in HOMES.values()}
# what reads each kind of table


class _Problems:
    """What is wrong with one file, gathered so that a person mends it in one go."""

    def __init__(self, file: str, text: str) -> None:
        self.file, self.lines = file, _key_lines(text)
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
            inner = [str(key) for key in place[2:3] if key in ("controller", "cable")]
            return ", ".join([f"circuit {int(place[1]) + 1}", *inner])
        return str(place[0]) if len(place) > 1 and place[0] in ("battery", "climate") else ""

    def error(self) -> ValueError:
        """One error that tells the first few problems in the order of the file."""
        told = [sentence for _, sentence in sorted(self.found, key=lambda problem: problem[0] or LARGEST_FILE)]
        rest = len(told) - MOST_TOLD
        return ValueError("\n".join(told[:MOST_TOLD] + [f"and {rest} more."] * (rest > 0)))


def read_rig(path: str | Path) -> Rig:
    """The rig a TOML file describes.

    Raises
    ------
    ValueError
        Where there is no such file, it is no TOML or describes no possible rig: up to three problems, one a line.
    """
    path = Path(path)
    return _rig_of(_text_of(_bytes_of(path), path.name), path.name)


def load_rig(name: str) -> Rig:
    """One of the example rigs, by the name of its file without .toml.

    Examples
    --------
    >>> load_rig("bookmobile").circuits[0].wiring.name
    '2p'
    """
    known = example_rigs()
    if name not in known:
        near = _nearest(str(name).removesuffix(".toml"), known)
        file = " To open a file of yours, use read_rig." if re.search(r"[/\\.]", str(name)) else ""
        raise ValueError(f"{name!r} is not an example rig{_did_you_mean(near)} There are {', '.join(known)}.{file}")
    return read_rig(data_folder() / "rigs" / f"{name}.toml")


def example_rigs() -> tuple[str, ...]:
    """Names of the rigs that come with the kit."""
    return tuple(sorted(path.stem for path in (data_folder() / "rigs").glob("*.toml")))


def example_controllers() -> dict[str, Controller]:
    """Invented controllers by generic rating, which a rig file takes over with `use`."""
    return _shelf("controllers", Controller)


def example_batteries() -> dict[str, Battery]:
    """Invented batteries by generic rating, which a rig file takes over with `use`."""
    return _shelf("batteries", Battery)


def data_folder() -> Path:
    """Where the examples lie: inside an installed package, beside it in the repository."""
    inside = Path(__file__).parent / "data"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "data"


def rig_to_toml(rig: Rig) -> str:
    """The rig as a file to edit, units in comments; reading it gives an equal rig."""
    lines = [*_written(rig, ("name", "source"))]
    first = 1
    for panel, run in groupby(rig.panels):
        count = len(list(run))
        last = first + count - 1
        lines += ["", "[[panels]]", f"# P{first}" + (f" to P{last}" if count > 1 else "")]
        lines += [_assigned("count", count)] * (count > 1)
        lines += _written(panel)
        first = last + 1
    for table in ("battery", "climate"):
        lines += ["", f"[{table}]", *_written(getattr(rig, table))]
    for circuit in rig.circuits:
        lines += ["", "[[circuits]]", *_wiring_lines(circuit.wiring, len(rig.panels))]
        lines += _written(circuit, ("blocking_diodes",))
        for table in ("controller", "cable"):
            lines += ["", f"[circuits.{table}]", *_written(getattr(circuit, table))]
    return "\n".join(lines) + "\n"


# From a path to text


def _bytes_of(path: Path) -> bytes:
    """What the file holds; each way it cannot be read is an error that says what to do."""
    try:
        if not path.exists():
            problem = _no_such_file(path)
        elif path.is_dir():
            problem = f"{path} is a folder; name the .toml file in it."
        elif not path.is_file():
            problem = f"{path} is not an ordinary file."
        else:
            with path.open("rb") as file:
                held = file.read(LARGEST_FILE + 1)
            if len(held) <= LARGEST_FILE:
                return held
            problem = f"{path.name} is larger than 1 MB; a rig takes a few kB. Is it another kind of file?"
    except PermissionError:
        problem = f"{path} may not be read; its permissions keep you out."
    except (OSError, ValueError) as trouble:
        problem = f"{str(path)[:200]!r} cannot be read: {getattr(trouble, 'strerror', None) or trouble}."
    raise ValueError(problem)


def _no_such_file(path: Path) -> str:
    """What to say of a path that leads nowhere, with names near it."""
    if path.stem in example_rigs():
        return f"There is no file {path}; the example of that name is called {path.stem}, without .toml."
    if not path.parent.is_dir():
        return f"There is no file {path}, and no folder {path.parent} either."
    near = _nearest(path.name, [other.name for other in path.parent.glob("*.toml")])
    return f"There is no file {path}{_did_you_mean(near)}"


def _text_of(held: bytes, file: str) -> str:
    """Bytes as UTF-8 text, with or without a byte-order mark, whatever ends its lines."""
    if held.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ValueError(f"{file} is saved as UTF-16; save it as UTF-8.")
    try:
        return held.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as trouble:
        line = held.count(b"\n", 0, trouble.start) + 1
        shown = held.splitlines()[line - 1].decode("latin-1").strip()
        raise ValueError(
            f"{file}, line {line}: {_short(shown)!r} is not UTF-8. Is it Latin-1? Save the file as UTF-8."
        ) from None


def _parsed(text: str, file: str) -> dict[str, Any]:
    """Tables and keys of the text."""
    if not text.strip():
        start = data_folder() / "rigs" / f"{example_rigs()[0]}.toml"
        raise ValueError(f"{file} is empty; start from a copy of {start}.")
    try:
        document = tomllib.loads(text)
        json.dumps(document, default=str)
        return document
    except RecursionError:
        raise ValueError(f"{file} nests its brackets or keys too deep; a rig needs two levels.") from None
    except tomllib.TOMLDecodeError as trouble:
        raise ValueError(_syntax_problem(text, file, str(trouble))) from None
    except ValueError:
        raise ValueError(f"{file} holds a whole number of thousands of digits.") from None


def _syntax_problem(text: str, file: str, trouble: str) -> str:
    """The line that is no TOML, and the likely slip."""
    lines = text.split("\n")
    at = re.search(r"at line (\d+)", trouble)
    line = int(at[1]) if at else max(n for n, content in enumerate(lines, 1) if content.strip())
    shown = lines[line - 1].strip()
    words = re.sub(r"\s*\(at [^()]*\)$", "", trouble)
    if re.search(r"overwrite|twice|redefine|mutate", words):
        slip = "A key or table above has the same name; further panels and circuits take [[ ]]."
    else:
        slip = next((told for pattern, told in SYNTAX_SLIPS if re.search(pattern, shown)), f"{words}.")
    return f"{file}, line {line}: {_short(shown)!r} is no TOML. {slip}"


def _key_lines(text: str) -> dict[Place, int]:
    """Line of each table and key, such as ("panels", 0, "v_mp"); an inline table has the line of its key."""
    table: Place = ()
    lines: dict[Place, int] = {}
    counts: dict[str, int] = {}
    inside = False
    for number, line in enumerate(text.split("\n"), 1):
        head = re.match(r"\s*(\[\[?)\s*([\w.\s-]+?)\s*\]", line)
        key = re.match(r"\s*[\"']?([\w-]+)[\"']?\s*=", line)
        if head and not inside:
            table = _table_place(head[2], head[1] == "[[", counts)
            lines.setdefault(table[:1], number)
            lines.setdefault(table, number)
        elif key and not inside:
            lines.setdefault((*table, key[1]), number)
        inside ^= (line.count('"""') + line.count("'''")) % 2 == 1
    return lines


def _table_place(name: str, is_next: bool, counts: dict[str, int]) -> Place:
    """Where a table header leads: the next of its kind, or inside the newest of the kind above it."""
    first, *inner = (part.strip() for part in name.split("."))
    if is_next and not inner:
        counts[first] = counts.get(first, 0) + 1
    return (first, counts[first] - 1, *inner) if first in counts else (first, *inner)


# From tables to descriptions


def _rig_of(text: str, file: str) -> Rig:
    """The rig in the text of a file."""
    document = _parsed(text, file)
    problems = _Problems(file, text)
    form = _described(_FileForm, document, (), problems)
    panels = _panels(document, problems)
    house = _taken(document.get("battery"), "batteries", ("battery",), problems)
    battery = _described(Battery, house, ("battery",), problems)
    climate = _described(Climate, document.get("climate"), ("climate",), problems)
    circuits = _circuits(document, len(panels), problems)
    if problems.found or not (form and battery and climate):
        raise problems.error()
    try:
        return Rig(
            name=form.name,
            source=form.source,
            panels=tuple(panel for panel in panels if panel),
            battery=battery,
            climate=climate,
            circuits=circuits,
        )
    except ValueError as trouble:
        problems.add(("circuits",), _plain(trouble))
        raise problems.error() from None


def _described(kind: type[T], block: object, place: Place, problems: _Problems) -> T | None:
    """The description in one table, or None with its problems noted; an absent table is its parent's problem."""
    if not isinstance(block, dict):
        return None
    try:
        read: T = ADAPTERS[kind].validate_json(json.dumps(block, default=str), strict=True)
        return read
    except ValidationError as trouble:
        errors = trouble.errors(include_url=False)[:MOST_WEIGHED]
    unknown = [str(error["loc"][0]) for error in errors if error["type"] == "unexpected_keyword_argument"]
    meant = [guess for key in unknown for guess in _near_keys(kind, key)[:1]]
    for error in errors:
        sentence, key = _sentence(kind, error)
        if not (error["type"] == "missing" and key in meant):
            problems.add((*place, key), sentence)
    return None


def _panels(document: Mapping[str, Any], problems: _Problems) -> list[Panel | None]:
    """Every panel in order, equal ones one by one; None where its table has a problem."""
    panels: list[Panel | None] = []
    for k, block in enumerate(_tables(document, "panels", problems)):
        count = block.pop("count", 1)
        whole = isinstance(count, int) and not isinstance(count, bool) and 1 <= count <= MOST_PANELS
        equal = count if whole else 1
        problems.panel_words.append(_panel_words(len(panels) + 1, len(panels) + equal))
        if not whole:
            sense = f"a whole number from 1 to {MOST_PANELS} makes sense."
            problems.add(("panels", k, "count"), f"count is {_quoted(count)}; {sense}")
        panels += [_described(Panel, block, ("panels", k), problems)] * equal
    if len(panels) > MOST_PANELS:
        problems.add(("panels", 0), f"there are {len(panels)} panels; up to {MOST_PANELS} make sense.")
    return panels


def _panel_words(first: int, last: int) -> str:
    """The panels one table stands for, counted as sentences count them."""
    if first == last:
        return f"panel {first}"
    return f"panels {first} {'and' if last == first + 1 else 'to'} {last}"


def _tables(document: Mapping[str, Any], key: str, problems: _Problems) -> list[dict[str, Any]]:
    """The tables of an array of tables, free to be changed; what is none of them is noted."""
    blocks = document.get(key)
    if not isinstance(blocks, list):
        return []
    if not blocks or not all(isinstance(block, dict) for block in blocks):
        problems.add((key,), f"{key} is {_quoted(blocks)}; write [[{key}]] above the keys of each one.")
        return []
    if len(blocks) > MOST_PANELS:
        problems.add((key,), f"there are {len(blocks)} {key}; up to {MOST_PANELS} make sense.")
        return []
    return [dict(block) for block in blocks]


def _circuits(document: Mapping[str, Any], panels: int, problems: _Problems) -> tuple[Circuit, ...]:
    """Every circuit without a problem."""
    blocks = _tables(document, "circuits", problems)
    circuits = []
    for k, block in enumerate(blocks):
        place: Place = ("circuits", k)
        form = _described(_CircuitForm, block, place, problems)
        given = _taken(block.get("controller"), "controllers", (*place, "controller"), problems)
        controller = _described(Controller, given, (*place, "controller"), problems)
        cable = _described(Cable, block.get("cable", {}), (*place, "cable"), problems)
        wiring = _wiring(block, panels, place, problems, shared=len(blocks) > 1)
        if form and controller and cable and wiring:
            diodes = form.blocking_diodes
            circuits.append(Circuit(wiring=wiring, controller=controller, cable=cable, blocking_diodes=diodes))
    return tuple(circuits)


def _wiring(block: Mapping[str, Any], count: int, place: Place, problems: _Problems, *, shared: bool) -> Wiring | None:
    """The wiring of one circuit, or None with its problem noted."""
    if "wiring" not in block or not count:
        return None
    try:
        return _wired(block["wiring"], block.get("panels"), count)
    except ValueError as trouble:
        hint = " Where circuits share the roof, each says which are its own: panels = [1, 2]."
        told = f"{_plain(trouble)}{hint if shared and 'panels' not in block else ''}"
        problems.add((*place, "wiring"), told)
        return None


def _wired(wiring: object, panels: object, count: int) -> Wiring | None:
    """The wiring in either form, out of `count` panels on the roof."""
    if isinstance(wiring, str) and len(wiring) < LONGEST_QUOTE:
        numbers = list(range(1, count + 1)) if panels is None else panels
        return parse_wiring(wiring, _from_zero(numbers, count)) if _all_whole(numbers) else None
    if not isinstance(wiring, list) or not wiring:
        raise ValueError(f'wiring is {_quoted(wiring)}; write "2s2p" or [[1, 2], [3, 4]].')
    if _all_whole(wiring):
        side_by_side = ", ".join(f"[{panel}]" for panel in wiring)
        raise ValueError(f"wiring is {wiring}; write [{wiring}] for one string, [{side_by_side}] side by side.")
    if not all(_all_whole(string) and string for string in wiring):
        raise ValueError(f"wiring is {_quoted(wiring)}; each string is a list of panels, as in [[1, 2], [3, 4]].")
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


def _taken(block: object, shelf: str, place: Place, problems: _Problems) -> object:
    """The table with what `use` stands for filled in; keys beside `use` win."""
    if not isinstance(block, dict) or "use" not in block:
        return block
    own = {key: value for key, value in block.items() if key != "use"}
    known, wanted = _shelf_tables(shelf), block["use"]
    if isinstance(wanted, str) and wanted in known:
        return {"name": wanted, **known[wanted], **own}
    near = _did_you_mean(_nearest(str(wanted), known))
    sentence = f"use is {_quoted(wanted)}, which {shelf}.toml does not list{near} There are {', '.join(known)}."
    problems.add((*place, "use"), sentence)
    return None


@cache
def _shelf_tables(shelf: str) -> dict[str, dict[str, Any]]:
    """The tables of a file of generic parts, by name."""
    document = tomllib.loads((data_folder() / f"{shelf}.toml").read_text(encoding="utf-8"))
    return {name: table for name, table in document.items() if isinstance(table, dict)}


def _shelf(shelf: str, kind: type[T]) -> dict[str, T]:
    """The generic parts of one kind, by name."""
    tables = _shelf_tables(shelf).items()
    return {name: ADAPTERS[kind].validate_python({"name": name, **table}) for name, table in tables}


# What to say


def _sentence(kind: type[Any], error: Mapping[str, Any]) -> tuple[str, str]:
    """One problem in plain words, and the key it is about."""
    if error["type"] == "value_error":
        told = str(error["ctx"]["error"])
        named = re.match(r"\w+\.(\w+) ", told)
        return _plain(told), named[1] if named else ""
    if not error["loc"]:
        return "brackets nest too deep here.", ""
    key = str(error["loc"][0])
    if error["type"] == "missing":
        return _missing(key), key
    if error["type"] == "unexpected_keyword_argument":
        return _unknown(kind, key), key
    value = error["input"]
    wanted, slip = _wanted(kind, key, error["type"]), _type_slip(error["type"], value)
    return f"{key} is {_quoted(value)}; {wanted}.{slip}", key


def _plain(trouble: object) -> str:
    """A description's error without the name of its class, which a file does not show."""
    return re.sub(r"^[A-Z]\w*\.", "", str(trouble))


HEADERS = {
    "panels": "[[panels]]",
    "circuits": "[[circuits]]",
    "battery": "[battery]",
    "climate": "[climate]",
    "controller": "[circuits.controller]",
    "cable": "[circuits.cable]",
}
# how a file writes the tables


def _missing(key: str) -> str:
    """What is missing and what it means."""
    if key in HEADERS:
        return f"{HEADERS[key]} is missing ({MEANINGS[key]})."
    return f"{key} is missing ({_meaning(key)})."


def _meaning(key: str) -> str:
    """Unit and meaning of a key."""
    return ", ".join(part for part in (unit_of(key), MEANINGS[key]) if part)


def _unknown(kind: type[Any], key: str) -> str:
    """What a key that is not known may have been meant to be."""
    wrong = f"{_short(key)} is not a key here"
    if _bare(key) in NOT_KEYS:
        return f"{wrong}. {NOT_KEYS[_bare(key)]}"
    homes = [home for home, other in HOMES.items() if key in _keys(other)]
    if homes:
        return f"{wrong}; it belongs {' or '.join(homes)}."
    near = _near_keys(kind, key)
    return f"{wrong}{_did_you_mean(near)}" if near else f"{wrong}; there are {', '.join(_keys(kind))}."


def _keys(kind: type[Any]) -> list[str]:
    """Keys a table of this kind takes in a file."""
    more = {Panel: ["count"], Battery: ["use"], Controller: ["use"]}
    return [each.name for each in fields(kind)] + more.get(kind, [])


def _near_keys(kind: type[Any], key: str) -> list[str]:
    """Up to two known keys that a mistyped or shortened one may mean, the nearest first."""
    known = {_bare(name): name for name in _keys(kind)}
    bare = _bare(key)
    near = get_close_matches(bare, known, n=2, cutoff=0.6)
    within = [name for name in known if len(bare) > 2 and bare in name]
    return [known[name] for name in (near or within)[:2]]


def _bare(key: str) -> str:
    """A key without what people write differently: case, underscores, dashes, blanks."""
    return re.sub(r"[_\s-]", "", key.lower())


def _wanted(kind: type[Any], key: str, problem: str) -> str:
    """What would make sense where a value is of the wrong type."""
    if kind is _CircuitForm and key == "panels":
        return "it is a list of whole numbers such as [1, 2]"
    if problem.startswith(("dict", "list")):
        return f"write {HEADERS[key]} on a line of its own and its keys below"
    if problem.startswith("int"):
        return "a whole number makes sense"
    if problem.startswith("float"):
        return f"a number in {unit_of(key)} makes sense" if unit_of(key) else "a number makes sense"
    return "it is true or false, without quotes" if problem.startswith("bool") else "it is text in straight quotes"


def _type_slip(problem: str, value: object) -> str:
    """The likely slip behind a value of the wrong type."""
    whole = problem.startswith("int")
    if whole and isinstance(value, float) and value.is_integer():
        return f" Write {value:.0f}, without a point."
    if not isinstance(value, str) or not problem.startswith(("int", "float")):
        return ""
    found = re.fullmatch(r"\s*([-+−–]?)\s*(\d+)(?:[.,](\d+))?\s*([^\d\s][^\d]*)?", value)
    if not found:
        return ""
    sign, before, behind, unit = found.groups()
    if unit and "awg" in unit.lower():
        return f" AWG is no mm²: AWG {before} is {AWG_ZERO_MM2 * AWG_STEP ** -int(before):.3g} mm²."
    number = f"{'-' if sign in ('-', '−', '–') else ''}{before}{f'.{behind}' if behind else ''}"
    why = "with a point, without quotes" if "," in value else "without quotes"
    return f" Write {number}, {why}{' and without the unit' if unit else ''}."


def _nearest(name: str, known: Iterable[str]) -> list[str]:
    """Up to two names near this one."""
    return get_close_matches(name, list(known), n=2, cutoff=0.5)


def _did_you_mean(near: Sequence[str]) -> str:
    """The end of a sentence about an unknown name."""
    return f"; did you mean {' or '.join(near)}?" if near else "."


def _quoted(value: object) -> str:
    """A value much as the file has it."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list) and any(isinstance(part, dict) for part in value):
        return "a list of tables"
    return _short(json.dumps(value, ensure_ascii=False, default=str))


def _short(text: str) -> str:
    """Text fit for one line of a message."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in text)
    return shown if len(shown) <= LONGEST_QUOTE else f"{shown[:LONGEST_QUOTE]}..."


# From descriptions to text


def _written(description: object, keys: Sequence[str] = ()) -> list[str]:
    """A line for each plain field, or for the ones named."""
    names = keys or [each.name for each in fields(description)]  # type: ignore[arg-type]
    return [_assigned(name, getattr(description, name)) for name in names]


def _assigned(key: str, value: object) -> str:
    """One line of a file; a value the label does not give stands as a comment to fill in."""
    text = f"# {key} =" if value is None else f"{key} = {_toml(value)}"
    return text if key in ("name", "source", "basis") else f"{text:<{COMMENT_COLUMN}} # {_meaning(key)}"


def _toml(value: object) -> str:
    """A plain value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, float):
        return repr(float(value))
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _wiring_lines(wiring: Wiring, count: int) -> list[str]:
    """The wiring in its short form where that says it all, else panel by panel."""
    numbers = [panel + 1 for panel in wiring.panels]
    equal = len({len(string) for string in wiring.strings}) == 1
    if not equal or numbers != sorted(numbers):
        strings = [[panel + 1 for panel in string] for string in wiring.strings]
        return [f"wiring = {strings}"]
    lines = [_assigned("wiring", wiring.name)]
    return lines if len(numbers) == count else [*lines, f"panels = {numbers}"]
