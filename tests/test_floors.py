"""Reads the imports of every module and holds them against the floors: a module knows only the floors below it."""

from __future__ import annotations

import ast
import sys
from functools import cache
from pathlib import Path

import pytest

import vanpower
from vanpower.results.result import FIGURES

FLOORS = (
    ("engine", "results"),
    ("rig",),
    ("components", "files", "shading"),
    ("weather",),
    ("model",),
    ("checks",),
    ("trials",),
    ("simulation", "watching"),
    ("studies",),
    ("figures",),
    ("sharing",),
    ("widgets",),
    ("cli", "form", "pages"),
)
DOORS = ("__init__", "__main__")
# they hand everything out and stand outside the floors
FOLDER = Path(vanpower.__file__).parent
MODULES = sorted(path.stem for path in FOLDER.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists())
ONLY = {
    "anywidget": {"form", "pages", "widgets"},
    "ipywidgets": {"pages", "widgets"},
    "IPython": {"form", "pages", "widgets"},
    "numba": {"engine"},
    "matplotlib": {"figures", "pages", "results", "sharing", "widgets"},
    "pvlib": {"weather"},
    "scipy": {"studies", "trials"},
    "tqdm": {"cli"},
}
# who may know a package; scipy comes with pvlib, and the engine needs numpy alone: `studies` loads it to sample what is
# not known and to rank it, `trials` for the t distribution of an interval; `results` names the Axes of
# matplotlib
ASK_BY_NAME = {
    "__init__.py": "names that are handed out",
    "results/result.py": "the door from a result to its chart",
}
# files that import what they name at run time, and for what


def texts(module: str) -> list[str]:
    """The module's source, or that of every file in its folder."""
    files = [FOLDER / f"{module}.py", *(FOLDER / module).rglob("*.py")]
    return [path.read_text(encoding="utf-8") for path in files if path.exists()]


@cache
def imported(module: str) -> set[str]:
    """Full names of everything a module imports, wherever in its text."""
    names: set[str] = set()
    for node in [node for text in texts(module) for node in ast.walk(ast.parse(text))]:
        if isinstance(node, ast.Import):
            names |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            home = f"vanpower.{node.module or ''}".rstrip(".") if node.level else node.module
            names |= {f"{home}.{name.name}" for name in node.names}
    return names


def own(module: str) -> set[str]:
    """The package's own modules that a module imports."""
    parts = [name.split(".") for name in imported(module)]
    found = {rest[0] for first, *rest in parts if first == "vanpower" and rest and rest[0] in MODULES}
    return found - {module}


def floor(module: str) -> int:
    """The floor a module stands on."""
    return next(number for number, names in enumerate(FLOORS) if module in names)


def test_every_module_stands_on_one_floor():
    assert sorted([*(name for names in FLOORS for name in names), *DOORS]) == MODULES


@pytest.mark.parametrize("module", [name for names in FLOORS for name in names])
def test_module_imports_only_from_the_floors_below(module):
    assert [name for name in sorted(own(module)) if floor(name) >= floor(module)] == []


def test_engine_knows_numpy_and_no_word_of_rigs():
    names = {name.split(".")[0] for name in imported("engine")}
    assert own("engine") == set()
    assert names - set(sys.stdlib_module_names) == {"numpy", "vanpower", "numba"}


def test_compiled_loops_are_imported_by_nobody_but_their_door():
    # numba is an extra: whoever imports `engine.kernels` by name would need it, or pay for it
    sources = {path.relative_to(FOLDER).as_posix(): path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.py")}
    assert {name for name, text in sources.items() if "numba import" in text} == {"engine/kernels.py"}
    assert {name for name, text in sources.items() if "engine import kernels" in text} == {"engine/compiled.py"}


def test_reader_of_imports_sees_them():
    assert own("model") >= {"weather", "components", "shading", "engine", "rig"}
    assert own("cli") >= {"checks", "studies", "sharing", "files"}
    assert "pvlib.solarposition.get_solarposition" in imported("weather")
    assert own("components") == {"engine", "rig"}


@pytest.mark.parametrize("package", ONLY)
def test_package_is_known_only_where_it_belongs(package):
    knowing = {module for module in MODULES if any(name.split(".")[0] == package for name in imported(module))}
    assert knowing == ONLY[package]


def test_doors_that_lead_up_are_few_and_lead_to_figures():
    files = {path.relative_to(FOLDER).as_posix(): path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.py")}
    assert {name for name, text in files.items() if "import_module" in text} == set(ASK_BY_NAME)
    assert floor("results") < floor(FIGURES.partition(".")[0])


def test_results_know_matplotlib_by_the_name_of_a_type_alone():
    (text,) = [text for text in texts("results") if "matplotlib" in text]
    checked = next(node for node in ast.parse(text).body if isinstance(node, ast.If))
    assert ast.unparse(checked) == "if TYPE_CHECKING:\n    from matplotlib.axes import Axes"
    assert text.count("matplotlib") == 1
