"""`python -m vanpower.pages lab|class FOLDER PAGE [options]`: start the server of pages, with JupyterLab or without.

The kernels' imports begin before those of the server, so that both are done at about the same time.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

from vanpower.pages import settings
from vanpower.pages.warm import GRAMMAR

TOLD_TWICE = "Overriding existing pre_save_hook"
# what is warned of below the address where two parts of the server are told of one hook; whatever else is stays


def main(words: list[str]) -> None:
    """Serve until interrupted."""
    kind, folder, first, *options = words
    sys.modules[GRAMMAR] = None  # type: ignore[assignment]
    warnings.filterwarnings("ignore", TOLD_TWICE)
    serve = settings.serve_lab if kind == "lab" else settings.serve_class
    serve(Path(folder), first, options)


if __name__ == "__main__":
    main(sys.argv[1:])
