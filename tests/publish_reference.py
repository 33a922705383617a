"""Write notebooks/reference.ipynb out of the docstrings of what `vanpower` hands out.

python tests/publish_reference.py runs every example first, so that what stands below its code is what comes out. Each
name stands in one of the groups below. One call is a cell, whose chart a live page draws; all else is words.
"""

from __future__ import annotations

import ast
import builtins
import doctest
import inspect
import re
import sys
import textwrap
from functools import cached_property
from pathlib import Path
from typing import Any

import nbformat

import vanpower

REFERENCE = Path(__file__).resolve().parent.parent / "notebooks" / "reference.ipynb"
GROUPS = {
    "The van": "Rig Panel Wiring Cable Controller Circuit Battery Load Source Climate Roof Placement Fixture",
    "What is asked": "Snapshot Shade shade Days Parked MadeSky Place Stop",
    "Open": "example examples read_rig read_my_van rig_to_toml read_controllers read_log read_weather read_chart",
    "One panel": "panel_curve fit_panel LowLightReading calibrate_panel PanelReadings check_used_panel",
    "One rig": "check sheet rig_model coldest_dawn commission compare_cards",
    "Compared": "compare rank_wirings how_sure shortlist sweep clipping_over",
    "What stands on the roof": "fixture_costs compare_roofs compare_headings shade_map",
    "Through time": "simulate walk_trip",
    "Measured": "analyse_trial plan_trial compare_with_model Reading stuck_tracker FaultReadings find_fault watch "
    "read_history",
    "Share": "save_chart save_page remake forum_answer",
    "In a notebook": "explore slider choice guess whose_van say rows",
    "What an answer says": "Verdict",
}
BAR = "\\|"
# a bar that parts no columns
INNER = ("together",)
# methods that nobody calls by name
LONGEST_DEFAULT = 40
# characters of a default that is written out
WIDTH = 88
# characters of a line of a signature
HEAD = """# What can I call?

Every name that `from vanpower import ...` hands out, with what it takes, what comes back and an example that ran.
Results stand below their line as comments, so that an example can be copied whole. A lesson shows when to ask which;
[all pages](00-start.ipynb) are a click away.

A square bracket behind a meaning has the unit and, for what describes a van, the least and the most that make sense.
Panels are counted from 0 in code; answers call the first one P1.

A van out of the examples, what is asked of it, an answer, and its chart:"""
DRAWN = """from vanpower import Snapshot, compare, example

found = compare(example("bookmobile").wirings(), Snapshot(light=200, temp_cell=15))
found.plot("power");"""
# the call whose chart stands at the head of the page


def pages_cells() -> list[str]:
    """The page, a text a cell: its head, then each group with its names."""
    cells = [HEAD]
    for group, names in GROUPS.items():
        rows = "\n".join(
            f"| [{name}](#{name}) | {_first_line(getattr(vanpower, name)).replace('|', BAR)} |"
            for name in names.split()
        )
        cells.append(f"## {group}\n\n| name | what it is |\n| --- | --- |\n{rows}")
        cells += [entry(name) for name in names.split()]
    return cells


def entry(name: str) -> str:
    """One name: signature, docstring, methods of a class, and its example with what came out."""
    one = getattr(vanpower, name)
    sections = _sections(inspect.getdoc(one) or "")
    parts = [f"### {name}", f"```python\n{signature(name, one)}\n```", _prose(sections.pop("", ""))]
    code = _example(name, one)
    sections.pop("Examples", "")
    for title, body in sections.items():
        told = _prose(body) if title == "Notes" else _listed(body)
        parts.append(f"**{title}**\n\n{told}")
    if inspect.isclass(one):
        parts += _methods(one)
    return "\n\n".join([*filter(None, parts), f"```python\n{code}\n```"])


def signature(name: str, one: Any) -> str:
    """How it is called, in lines of a readable width; types stand among the parameters."""
    told = []
    for given in inspect.signature(one).parameters.values():
        plain = given.replace(annotation=inspect.Parameter.empty, default=_short(given.default, one))
        told.append(str(plain))
        if given.kind is inspect.Parameter.KEYWORD_ONLY and not any(word.startswith("*") for word in told[:-1]):
            told.insert(-1, "*")
    lines = [f"{name}("]
    for word in (f"{one}," for one in told):
        if len(lines[-1]) + len(word) > WIDTH:
            lines.append(" " * 4)
        lines[-1] += word if lines[-1].endswith(("(", " " * 4)) else f" {word}"
    return "\n".join(lines).removesuffix(",") + ")"


class _Called(str):
    """A constant by its name."""

    __repr__ = str.__str__


def _short(default: Any, one: Any) -> Any:
    """A default as it is written, by its name where that is shorter."""
    if len(repr(default)) <= LONGEST_DEFAULT or not inspect.isfunction(one):
        return default
    names = [name for name, value in one.__globals__.items() if value is default]
    return _Called((names or ["..."])[0])


def _first_line(one: Any) -> str:
    """The first sentence of a docstring, fit for a table."""
    return _prose((inspect.getdoc(one) or "").partition("\n\n")[0])


def _sections(doc: str) -> dict[str, str]:
    """A docstring's parts by their headings; what stands before them has none."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}\n", doc, flags=re.MULTILINE)
    return {"": parts[0]} | dict(zip(parts[1::2], parts[2::2], strict=True))


def _prose(text: str) -> str:
    """Paragraphs as Markdown, each on a line; a dollar sign begins no formula."""
    paragraphs = re.split(r"\n\s*\n", text.strip("\n"))
    return "\n\n".join(" ".join(part.split()) for part in paragraphs).replace("``", "`").replace("$", r"\$")


def _listed(body: str) -> str:
    """Parameters, returns or errors as a list: name, type, meaning."""
    rows = re.findall(r"^(\S.*)\n((?:[ ]+.*\n?|\n)*)", body.strip("\n") + "\n", flags=re.MULTILINE)
    return "\n".join(
        f"- {_named(head)}{': ' * bool(told.strip())}{_prose(textwrap.dedent(told))}" for head, told in rows
    )


def _named(head: str) -> str:
    """A parameter's name and type, or a type alone."""
    names, colon, kind = head.partition(" : ")
    return f"`{names}`, {kind}" if colon else f"`{head}`"


def _methods(one: type) -> list[str]:
    """What an object of a class can be asked, a line each."""
    found = [
        (name, member)
        for name, member in inspect.getmembers(one)
        if name not in INNER
        and not name.startswith("_")
        and (inspect.isfunction(member) or isinstance(member, (property, cached_property)))
        and member.__doc__
    ]
    rows = []
    for name, member in found:
        called = re.sub(r"\(self(?:, )?", "(", signature(name, member)) if inspect.isfunction(member) else name
        rows.append(f"- `{' '.join(called.split())}`: {_first_line(member)}")
    return ["**Properties and methods**", "\n".join(rows)] if rows else []


# Examples


def example_of(name: str, one: Any) -> doctest.DocTest:
    """The example of a name, with what its module knows."""
    module = sys.modules[one.__module__]
    (test,) = doctest.DocTestFinder(recurse=False).find(one, name, module=module, globs=vars(module).copy())
    return test


def _example(name: str, one: Any) -> str:
    """An example as a program: what it imports, its lines, and what came out as comments below them."""
    test = example_of(name, one)
    source = "".join(example.source for example in test.examples)
    lines: list[str] = []
    for example in test.examples:
        lines += re.sub(r"\s*# doctest: .*", "", example.source).rstrip("\n").split("\n")
        want = example.exc_msg or example.want
        lines += [f"# {line}".rstrip() for line in want.rstrip("\n").split("\n") if want]
    asked, rest = _parted(lines)
    return "\n".join([*_imports(source, vars(sys.modules[one.__module__]), asked), *rest])


def _parted(lines: list[str]) -> tuple[set[str], list[str]]:
    """What lines ask of `vanpower` itself, which one line can import, and the others."""
    asked = [line for line in lines if line.startswith("from vanpower import ")]
    names = {name.strip() for line in asked for name in line.removeprefix("from vanpower import ").split(",")}
    return names, [line for line in lines if line not in asked]


def _imports(source: str, known: dict[str, Any], asked: set[str]) -> list[str]:
    """What a program must import of the names that its module has anyway."""
    tree = ast.parse(source)
    bound = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)}
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    bound |= {alias.asname or alias.name for node in imports for alias in node.names}
    bound |= {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    bound |= {node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)}
    used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)} - bound - set(dir(builtins))
    public = sorted(asked | used & set(dir(vanpower)), key=lambda name: (not name[0].isupper(), name))
    lines = [f"from vanpower import {', '.join(public)}"] if public else []
    return [*(_import(name, known[name]) for name in sorted(used - set(public))), *lines]


def _import(name: str, one: Any) -> str:
    """The line that imports one thing from where it is made."""
    if inspect.ismodule(one):
        return f"import {one.__name__}" if one.__name__ == name else f"import {one.__name__} as {name}"
    return f"from {one.__module__} import {name}"


# The file


def reference() -> Any:
    """The page as a notebook; ids are the names of what stands in a cell."""
    cells = []
    for number, text in enumerate(pages_cells()):
        heading = re.match(r"#+ (.*)", text)
        assert heading is not None
        cells.append(nbformat.v4.new_markdown_cell(text, id=re.sub(r"\W+", "-", f"{number}-{heading[1]}").strip("-")))
    cells.insert(1, nbformat.v4.new_code_cell(DRAWN, id="drawn"))
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": kernel, "language_info": {"name": "python"}})


def run_examples() -> None:
    """Run every example; one that gives something else is an error."""
    runner = doctest.DocTestRunner(verbose=False)
    for names in GROUPS.values():
        for name in names.split():
            if runner.run(example_of(name, getattr(vanpower, name))).failed:
                raise SystemExit(f"the example of {name} gives something else than it says.")


if __name__ == "__main__":
    run_examples()
    nbformat.write(reference(), REFERENCE)
    print(f"{REFERENCE.name}: {REFERENCE.stat().st_size / 1000:.0f} kB")
