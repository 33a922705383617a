"""The line of links over a page: it takes clicks on links to pages, and the browser's Back, reload and addresses."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets

HERE = Path(__file__).parent


class Bar(anywidget.AnyWidget):  # type: ignore[misc]
    """What a page and its kernel tell each other.

    Attributes
    ----------
    shown : dict
        Told by the kernel: name and title of the notebook that is open, the number of the click that it answers, and
        whether the whole of it is shown.
    settings : dict
        Told by the kernel: name of the notebook and where its controls stand.
    lab : bool
        Whether the same notebooks may be opened in JupyterLab.
    big : bool
        Larger letters, for a projector.
    """

    _esm = (HERE / "bar.js").read_text(encoding="utf-8")
    shown: Any = traitlets.Dict().tag(sync=True)
    settings: Any = traitlets.Dict().tag(sync=True)
    lab = traitlets.Bool(False).tag(sync=True)
    big = traitlets.Bool(False).tag(sync=True)
