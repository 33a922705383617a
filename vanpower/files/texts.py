"""From a path to TOML text to tables; each way that fails is told in plain words.

Apart from `reading`, since a rig file is UTF-8 and TOML or refused, where a table's encoding and delimiter are guessed
and the guess is told.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from vanpower.files.examples import data_folder, examples
from vanpower.files.messages import did_you_mean, nearest, short
from vanpower.files.rig_forms import LARGEST_FILE, NOT_KEYS

SYNTAX_SLIPS = (
    (r"[“”„‘’«»]", "Use straight quotes."),
    (r"[−–]\s*\d", "Write the minus sign of the keyboard, -."),
    (r"^\s*(?:<|\{\s*(?:\"|$))", "A rig is written in TOML: one key = value a line."),
    (r"=\s*[-+]?\d+,\d", "Write decimals with a point."),
    (r"^\s*[\w-]+\s*:", "Between key and value stands =, not a colon."),
    (r"=\s*[-+]?\.\d", "Write the 0 before the point."),
    (r"=\s*[-+]?0\d", "A number does not begin with 0."),
    (r"\b(?:name|source|chemistry|tracker|mount)\s*=\s*[^\s\"']", "Text goes in straight quotes."),
    (r"=\s*(?:\d+s(?:\d+p)?|\d+p)\b", "Text goes in straight quotes."),
    (r"(?i)=\s*(?:[\d/]+\s*awg|awg)", NOT_KEYS["awg"]),
    (r"=\s*[-+]?\d[\d.]*\s*°?\s*F\b", "Temperatures are in °C: take 32 off the °F, then divide by 1.8."),
    (r"=\s*\d[\d.]*\s*(?:ft|feet|foot|in|inch|inches|['\"])(?!\w)", "Lengths are in m: 0.305 a foot, 0.0254 an inch."),
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

MOST_SIGNS = 20_000
# lines of a rig file, and commas in it: a roof of 24 unlike panels has some hundreds; no source
LONGEST_JUDGED = 300
# letters of a line in which the likely slip is looked for
CHAINED = re.compile(r"(?<![\w\"'.-])(?:[\w\"'-]++[ \t]*+\.[ \t]*+){20}")
# a key of more parts than any rig's, which takes its reader the square of their number
KEY_BEGINS = re.compile(r"(?<![\w-])[\w-]++\s*+=(?!\s*[{\[])")
KEY_ENDS = re.compile(r",\s*+[\w-]++\s*+=|\}")
HEADER = re.compile(r"\s*+(\[\[?)([^\]]*+)\]")
NAMED = re.compile(r"[\w.\s-]+")
KEY = re.compile(r"\s*+[\"']?([\w-]++)[\"']?\s*+=")
# what is looked for in texts of strangers never goes back over what it has taken, so a line of any length is read once

Place = tuple[str | int, ...]


def bytes_of(path: Path) -> bytes:
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
            problem = f"{path.name} is larger than 1 MB; a rig or a list takes a few kB. Is it another kind of file?"
    except PermissionError:
        problem = f"{path} may not be read; its permissions keep you out."
    except (OSError, ValueError) as trouble:
        problem = f"{str(path)[:200]!r} cannot be read: {getattr(trouble, 'strerror', None) or trouble}."
    raise ValueError(problem)


def _no_such_file(path: Path) -> str:
    """What to say of a path that leads nowhere, with names near it."""
    if path.stem in examples():
        return f"There is no file {path}; the example of that name is called {path.stem}, without .toml."
    if not path.parent.is_dir():
        return f"There is no file {path}, and no folder {path.parent} either."
    near = nearest(path.name, [other.name for other in path.parent.glob("*.toml")])
    return f"There is no file {path}{did_you_mean(near)}"


def text_of(held: bytes, file: str) -> str:
    """Bytes as UTF-8 text, with or without a byte-order mark, whatever ends its lines."""
    if held.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ValueError(f"{file} is saved as UTF-16; save it as UTF-8.")
    try:
        return held.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as trouble:
        line = held.count(b"\n", 0, trouble.start) + 1
        shown = held.splitlines()[line - 1].decode("latin-1").strip()
        raise ValueError(
            f"{file}, line {line}: {short(shown)!r} is not UTF-8. Is it Latin-1? Save the file as UTF-8."
        ) from None


def parsed(text: str, file: str, like: str = "") -> dict[str, Any]:
    """Tables and keys of the text; `like` is an example of such a file, in the folder of data."""
    # here, since its patterns take longer to compile than all the package's modules to load
    import tomllib

    if not text.strip():
        start = data_folder() / (like or f"rigs/{examples()[0]}.toml")
        raise ValueError(f"{file} is empty; start from a copy of {start}.")
    if max(text.count("\n"), text.count(",")) > MOST_SIGNS:
        raise ValueError(f"{file} has more than {MOST_SIGNS} lines or commas; is it another kind of file?")
    if chained := CHAINED.search(text):
        line = text.count("\n", 0, chained.start()) + 1
        raise ValueError(f"{file}, line {line}: {short(chained[0])!r} nests its keys too deep; a rig needs two levels.")
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
    at = re.search(r"at line (\d+), column (\d+)", trouble)
    line = int(at[1]) if at else max(n for n, content in enumerate(lines, 1) if content.strip())
    shown = (_piece(lines[line - 1], int(at[2])) if at else lines[line - 1].strip())[:LONGEST_JUDGED]
    words = re.sub(r"\s*\(at [^()]*\)$", "", trouble)
    if re.search(r"overwrite|twice|redefine|mutate", words):
        slip = "A key or table above has the same name; further panels and circuits take [[ ]]."
    elif lines[line - 1].count("{") > lines[line - 1].count("}"):
        slip = "The closing } is missing."
    else:
        slip = next((told for pattern, told in SYNTAX_SLIPS if re.search(pattern, shown)), f"{words}.")
    return f"{file}, line {line}: {short(shown)!r} is no TOML. {slip}"


def _piece(line: str, column: int) -> str:
    """The line, or of a line with tables in it the key and value that a place belongs to."""
    keys = [key.start() for key in KEY_BEGINS.finditer(line[:column])]
    if "{" not in line or not keys:
        return line.strip()
    return KEY_ENDS.split(line[keys[-1] :], maxsplit=1)[0].strip()


def key_lines(text: str) -> dict[Place, int]:
    """Line of each table and key, such as ("panels", 0, "v_mp"); an inline table has the line of its key."""
    table: Place = ()
    lines: dict[Place, int] = {}
    counts: dict[str, int] = {}
    inside = False
    for number, line in enumerate(text.split("\n"), 1):
        head, key = HEADER.match(line), KEY.match(line)
        if head and not inside and NAMED.fullmatch(head[2]):
            table = _table_place(head[2].strip(), head[1] == "[[", counts)
            lines.setdefault(table[:1], number)
            lines.setdefault(table, number)
        elif key and not inside:
            lines.setdefault((*table, key[1]), number)
        inside ^= (line.count('"""') + line.count("'''")) % 2 == 1
    return lines


def _table_place(name: str, is_next: bool, counts: dict[str, int]) -> Place:
    """Where a table header leads: the next of its kind, or inside the newest of the kind above it."""
    first, *inner = (part.strip() for part in name.split("."))
    if is_next:
        counts[name] = counts.get(name, 0) + 1
    if first in counts:
        return (first, counts[first] - 1, *inner)
    return (first, *inner, counts[name] - 1) if name in counts else (first, *inner)
