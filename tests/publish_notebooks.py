"""Run every notebook and store it with the outputs a reader without a kernel should see.

Use it before committing a notebook: python tests/publish_notebooks.py [names]. A second run changes no byte: widget
views, widget state and times are dropped, pictures and sentences stay.
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
TIMEOUT_S = 600
# for a whole cell on a slow machine; no source


def published(path: Path) -> Any:
    """The notebook, run in its own folder, with the outputs that are kept."""
    from nbclient import NotebookClient

    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
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
            cell.outputs = [output for output in cell.outputs if WIDGET not in output.get("data", {})]
            for output in cell.outputs:
                output.pop("transient", None)
    notebook.metadata.pop("widgets", None)
    notebook.metadata["language_info"] = {"name": "python"}
    nbformat.validate(notebook)
    return notebook


def main(names: list[str]) -> None:
    """Publish the named notebooks, or all."""
    for path in sorted(FOLDER.glob("*.ipynb")):
        if not names or path.stem in names or path.name in names:
            nbformat.write(published(path), path)
            print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    main(sys.argv[1:])
