"""A rig read from a file and written to one."""

from __future__ import annotations

import json
import re
from collections.abc import Collection
from itertools import groupby
from numbers import Integral
from pathlib import Path

from vanpower.files.examples import data_folder, examples
from vanpower.files.messages import did_you_mean, nearest
from vanpower.files.rig_forms import known_keys
from vanpower.files.rig_tables import rig_of
from vanpower.files.texts import bytes_of, text_of
from vanpower.rig import Circuit, Panel, Placement, Rig, Roof, Wiring
from vanpower.rig.fields import Description, Field, table

COMMENT_COLUMN = 34
# where comments start in written files


def read_rig(path: str | Path) -> Rig:
    """The rig that a TOML file describes.

    Parameters
    ----------
    path : str or Path
        Such a file as `rig_to_toml` writes.

    Raises
    ------
    ValueError
        Where there is no such file, it is not TOML or describes no possible rig: up to three problems, one a line.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "mine.toml"
    ...     written = path.write_text(rig_to_toml(example("bookmobile")), encoding="utf-8")
    ...     read_rig(path) == example("bookmobile")
    True
    """
    path = Path(path)
    return rig_of(text_of(bytes_of(path), path.name), path.name)


def example(name: str) -> Rig:
    """One of the example rigs.

    Parameters
    ----------
    name : str
        One of `examples()`: the name of its file without .toml.

    Raises
    ------
    ValueError
        For a name that is not among them.

    Examples
    --------
    >>> example("bookmobile").circuits[0].wiring.name
    '2p'
    """
    known = examples()
    if name not in known:
        near = nearest(str(name).removesuffix(".toml"), known)
        file = " To open a file of yours, use read_rig." if re.search(r"[/\\.]", str(name)) else ""
        raise ValueError(f"{name!r} is not an example rig{did_you_mean(near)} There are {', '.join(known)}.{file}")
    return read_rig(data_folder() / "rigs" / f"{name}.toml")


def rig_to_toml(rig: Rig) -> str:
    """The rig as the text of a TOML file to edit, with meaning and unit of each field in comments.

    Parameters
    ----------
    rig : Rig

    Returns
    -------
    str
        `read_rig` reads an equal rig from it.

    Examples
    --------
    >>> print(rig_to_toml(example("bookmobile")).splitlines()[0])
    name = "Bookmobile, two small panels"
    """
    lines = _written(rig)
    first = 1
    for panel, run in groupby(rig.panels):
        count = len(list(run))
        last = first + count - 1
        lines += ["", "[[panels]]", f"# P{first}" + (f" to P{last}" if count > 1 else "")]
        lines += [_assigned(known_keys(Panel)["count"], count)] * (count > 1)
        lines += _written(panel)
        first = last + 1
    for inner in ("battery", "climate"):
        lines += ["", f"[{inner}]", *_written(getattr(rig, inner))]
    for load in rig.loads:
        lines += ["", "[[loads]]", *_written(load)]
    for source in rig.sources:
        lines += ["", "[[sources]]", *_written(source, without=_unsaid(source))]
    lines += [] if rig.inverter is None else ["", "[inverter]", *_written(rig.inverter)]
    for circuit in rig.circuits:
        lines += ["", "[[circuits]]", *_wiring_lines(circuit.wiring, len(rig.panels))]
        lines += _written(circuit)
        for inner in ("controller", "cable", "battery_cable"):
            part = getattr(circuit, inner)
            lines += [] if part is None else ["", f"[circuits.{inner}]", *_written(part)]
    lines += [] if rig.roof is None else _roof_lines(rig.roof)
    return "\n".join(lines) + "\n"


def _written(description: Description, *, without: Collection[str] = ()) -> list[str]:
    """A line for each field that is no table of its own."""
    plain = [field for name, field in table(type(description)).items() if not field.is_part and name not in without]
    return [_assigned(field, getattr(description, field.name)) for field in plain]


def _assigned(field: Field, value: object) -> str:
    """One line of a file; a value the label does not give stands as a comment to fill in."""
    text = f"# {field.name} =" if value is None else f"{field.name} = {_toml(value)}"
    return text if field.name in ("name", "source", "basis") else f"{text:<{COMMENT_COLUMN}} # {field.comment}"


def _toml(value: object) -> str:
    """A plain value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, float):
        return repr(float(value))
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _roof_lines(roof: Roof) -> list[str]:
    """The roof, then every panel's place and every fixture; what a fixture has not stays out."""
    lines = ["", "[roof]", *_written(roof)]
    for spot in roof.spots:
        number = _assigned(table(Placement)["panel"], spot.panel + 1)
        lines += ["", "[[roof.spots]]", number, *_written(spot, without=("panel",))]
    for fixture in roof.fixtures:
        lines += ["", "[[roof.fixtures]]", *_written(fixture, without=_unsaid(fixture))]
    return lines


def _unsaid(description: Description) -> list[str]:
    """Fields that say no more than their default."""
    fields = table(type(description))
    return [name for name in fields if getattr(description, name) == fields[name].default]


def _wiring_lines(wiring: Wiring, count: int) -> list[str]:
    """The wiring in its short form where that says it all, else panel by panel."""
    numbers = [panel + 1 for panel in wiring.panels]
    equal = len({len(string) for string in wiring.strings}) == 1
    if not equal or numbers != sorted(numbers):
        strings = [[panel + 1 for panel in string] for string in wiring.strings]
        return [f"wiring = {strings}"]
    lines = [_assigned(table(Circuit)["wiring"], wiring.name)]
    return lines if len(numbers) == count else [*lines, f"panels = {numbers}"]
