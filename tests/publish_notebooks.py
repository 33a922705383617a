"""Run every notebook and store it with the outputs a reader without a kernel should see.

Use it before committing a notebook: python tests/publish_notebooks.py [names]. A second run changes no byte: widget
views, widget state and times are dropped, pictures and sentences stay. A cell that says words alone gets the tag by
which the test run holds its stored words against new ones, and a long recipe is rolled up.
"""

from __future__ import annotations

import os
import sys
import warnings
from pathlib import Path
from typing import Any

import nbformat

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "notebooks"
WIDGET = "application/vnd.jupyter.widget-view+json"
COMPARED, NOT_COMPARED = "nbval-check-output", "nbval-ignore-output"
# tags by which nbval compares a stored output word by word, or leaves it alone
REFERENCE = "reference.ipynb"
# words alone, which publish_reference writes
ROLLED_UP = 25
# lines from which a printed output is shown in a box that scrolls
TIMEOUT_S = 600
# for a whole cell on a slow machine; no source


def published(path: Path) -> Any:
    """The notebook, run in its own folder, with the outputs that are kept."""
    from nbclient import NotebookClient

    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    os.environ.pop("MPLBACKEND", None)  # a backend for tests would leave the charts out
    notebook = nbformat.read(path, as_version=4)
    resources = {"metadata": {"path": str(path.parent)}}
    NotebookClient(
        notebook, timeout=TIMEOUT_S, kernel_name="python3", resources=resources, store_widget_state=False
    ).execute()
    return cleaned(notebook)


def cleaned(notebook: Any) -> Any:
    """Without what dies with the kernel and what changes from run to run."""
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = [output for output in cell.outputs if kept(output)]
            for output in cell.outputs:
                output.get("data", {}).pop(WIDGET, None)
                output.pop("transient", None)
            mark(cell)
    notebook.metadata.pop("widgets", None)
    notebook.metadata["language_info"] = {"name": "python"}
    nbformat.validate(notebook)
    return notebook


def kept(output: Any) -> bool:
    """Whether an output says something without its kernel: controls do not, a live picture carries its file."""
    data = output.get("data", {})
    return WIDGET not in data or "image/png" in data


def mark(cell: Any) -> None:
    """Tag a cell that only says words, so that a stale output fails; roll up what is long."""
    tags = cell.metadata.get("tags", [])
    if says_words_alone(cell) and not {COMPARED, NOT_COMPARED} & set(tags):
        cell.metadata["tags"] = [*tags, COMPARED]
    said = [output.get("text", "") or output.get("data", {}).get("text/plain", "") for output in cell.outputs]
    if max((text.count("\n") for text in said), default=0) > ROLLED_UP:
        cell.metadata["scrolled"] = True


def says_words_alone(cell: Any) -> bool:
    """Whether a code cell has outputs, and none of them is a picture."""
    return bool(cell.outputs) and not [output for output in cell.outputs if "image/png" in output.get("data", {})]


def main(names: list[str]) -> None:
    """Publish the notebooks whose name begins with one of these words, such as 03 or teach/03, or all."""
    for path in sorted(FOLDER.rglob("*.ipynb")):
        name = path.relative_to(FOLDER).as_posix()
        if (
            ".ipynb_checkpoints" not in path.parts
            and name != REFERENCE
            and (not names or name.startswith(tuple(names)))
        ):
            nbformat.write(published(path), path)
            print(f"{name}: {path.stat().st_size / 1000:.0f} kB", flush=True)


if __name__ == "__main__":
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    main(sys.argv[1:])
