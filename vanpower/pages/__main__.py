"""`python -m vanpower.pages lab|class FOLDER PAGE [options]`: start the server of pages, with JupyterLab or without.

The kernels' imports begin before those of the server, so that both are done at about the same time.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

from vanpower.pages import settings

OF_ITS_OWN = ("Overriding existing pre_save_hook", "ServerApp.token config is deprecated")
# what the server's parts say of one another below the address: of a hook that two are told of, and of an old name that
# one looks up though nobody set it; whatever else is warned of stays


def main(words: list[str]) -> None:
    """Serve until interrupted."""
    kind, folder, first, *options = words
    # a grammar that takes 1.7 s to build; what checks settings files by it does without it as well
    sys.modules["rfc3987_syntax"] = None  # type: ignore[assignment]
    for one in OF_ITS_OWN:
        warnings.filterwarnings("ignore", one)
    serve = settings.serve_lab if kind == "lab" else settings.serve_class
    serve(Path(folder), first, options)


if __name__ == "__main__":
    main(sys.argv[1:])
