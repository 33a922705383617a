"""Every notebook's cells in this process: they run, each slider goes to both ends, named results hold."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

nbformat = pytest.importorskip("nbformat", reason="notebooks need the extra 'notebooks'")
ipywidgets = pytest.importorskip("ipywidgets", reason="notebooks need the extra 'notebooks'")

import matplotlib.pyplot as plt  # noqa: E402

from vanpower import widgets  # noqa: E402

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
TAGS = ("setup", "parameters", "explore", "check", "recipe")


class Page:
    """Stands for the page that shows pictures: takes what is displayed and counts updates."""

    def __init__(self) -> None:
        self.bundles: list[dict[str, str]] = []

    def display(self, thing: Any, **options: Any) -> Page | None:
        if not options.get("raw"):
            return None
        self.bundles.append(thing)
        return self

    def update(self, bundle: dict[str, str], **options: Any) -> None:
        self.bundles.append(bundle)


def cells(path: Path, kind: str) -> list[Any]:
    return [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == kind]


@pytest.fixture(scope="module")
def ran() -> dict[str, tuple[dict[str, Any], Page]]:
    """What each notebook's names hold after a run, and its page; run when first asked for."""
    return {}


@pytest.fixture
def run(ran: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> Any:
    def run(path: Path) -> tuple[dict[str, Any], Page]:
        if path.stem not in ran:
            page, names = Page(), {"__name__": path.stem}
            monkeypatch.setattr(widgets, "display", page.display)
            monkeypatch.chdir(FOLDER)
            for cell in cells(path, "code"):
                exec(compile(cell.source, f"{path.stem}, cell {cell.id}", "exec"), names)
            plt.close("all")
            ran[path.stem] = names, page
        return ran[path.stem]

    return run


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_cells_run_and_the_answer_at_the_top_is_the_one_computed(path: Path, run: Any) -> None:
    names, _ = run(path)
    assert names["answer_line"] in cells(path, "markdown")[0].source.replace("\n", " ")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_control_goes_to_both_ends_without_a_failure(path: Path, run: Any) -> None:
    names, page = run(path)
    live = names["live"]
    assert live.failure == ""
    for name, control in live.controls.items():
        start = control.value
        for end in ends(control):
            shown = len(page.bundles)
            control.value = end
            assert live.failure == "", f"{name} at {end}"
            assert live.sentence
            assert len(page.bundles) > shown or end == start, f"{name} at {end}: no new picture"
        control.value = start


def ends(control: Any) -> list[Any]:
    """The extreme values of a slider, or every value of a list."""
    if hasattr(control, "options"):
        return [value for _, value in control.options if value != control.value]
    return [control.min, control.max]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_pages_are_built_alike(path: Path) -> None:
    first, last = cells(path, "markdown")[0].source, cells(path, "markdown")[-1].source
    assert re.match(r"# .*\?\n", first), "the title is a question"
    assert "What this leaves out" in last
    code = cells(path, "code")
    tags = [tag for cell in code for tag in cell.metadata.get("tags", [])]
    assert [tag for tag in tags if tag in TAGS] == list(TAGS)
    words = sum(len(cell.source.split()) for cell in cells(path, "markdown"))
    assert words >= sum(len(cell.source.split()) for cell in code)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_stored_with_pictures_and_without_dead_widgets(path: Path) -> None:
    outputs = [output for cell in cells(path, "code") for output in cell.outputs]
    kinds = [kind for output in outputs for kind in output.get("data", {})]
    assert "image/png" in kinds
    assert not [kind for kind in kinds if "widget" in kind]
    assert f"{Path.home()}/" not in path.read_text(encoding="utf-8")


def notebook(number: str) -> Path:
    return next(path for path in NOTEBOOKS if path.stem.startswith(number))


def test_dull_light_page_finds_no_difference_and_the_two_reasons_for_series(run: Any) -> None:
    names, _ = run(notebook("01"))
    assert names["day"].share("2s") > 0.97
    assert names["late"].ranking[0] == names["dull_leak"].ranking[0] == "2s"
    assert names["late"].decides("2p", "2s") == "start"
    assert names["bright_leak"].ranking[0] == "2p"


def test_rating_page_says_no_before_ordering(run: Any) -> None:
    names, _ = run(notebook("02"))
    assert names["ceiling"].answer == "no"
    assert names["ceiling"].margin == pytest.approx(95 - 4 * 23.1 * (1 + 0.0029 * 42), abs=0.01)


def test_trial_page_takes_most_of_the_gain_away_and_names_the_cable(run: Any) -> None:
    names, _ = run(notebook("08"))
    assert names["trial"].naive > 5 * names["trial"].gain > 0
    assert names["expected"].fitting[0].name.startswith("cable")
    assert names["plans"][0.01].chosen.minutes > names["plans"][0.03].chosen.minutes


def test_shade_page_has_opposite_verdicts(run: Any) -> None:
    names, _ = run(notebook("03"))
    assert [names[shape].ranking[0] for shape in ("part", "whole", "both")] == ["2s", "2p", "2s"]
    assert names["veil"].share("2p") > 0.97
