"""What the server asks before it gives a page out or writes a file: small functions, named in `settings`.

Left out: who may come in, which the server's own token decides.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

VIEW = "application/vnd.jupyter.widget-view+json"
# kind of an output that needs a kernel
NEWS = "@jupyterlab/apputils-extension:announcements"
# the part of JupyterLab that asks for news and newer versions
OPENING = "from vanpower.pages.book import open_book\n\nopen_book({root!r}, {name!r}, {wide})"
# the one cell of every page
WIDTH = "vanpower_wide"
# cookie by which a browser tells how wide its last page was
TELEPHONE = "Mobi"
# stands in what a browser of a telephone calls itself; common practice, no source
LIKELY_PX = {True: 388, False: 1200}
# [pixel] that a page leaves a picture on a telephone of 420, and on a screen of 1280
WIDEST_PX = 20_000
# [pixel] above which a cookie was not written by a page; no source


def one_live_page(handler: Any, notebook: Any, cwd: str, *, root: str) -> Any:
    """The notebook asked for as a page: its first words, and one cell that opens it in a book.

    Reading the token of the form sets the cookie without which a page's goodbye is refused, and its kernel would stay.
    """
    handler.xsrf_token  # noqa: B018
    name = handler.path_args[0].strip("/")
    cell: dict[str, Any] = {
        "cell_type": "code", "id": "book", "metadata": {}, "execution_count": None, "outputs": [],
        "source": OPENING.format(root=root, name=name, wide=likely_width(handler)),
    }  # fmt: skip
    notebook.metadata["first"] = first_words(notebook)
    notebook.cells = [type(notebook)(cell)]
    return notebook


def likely_width(handler: Any) -> int:
    """How wide a browser's page is: as its last one was, else as telephones or desks are. [pixel]

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> def asking(cookie, name):
    ...     request = SimpleNamespace(headers={"User-Agent": name})
    ...     return SimpleNamespace(get_cookie=lambda name, default: cookie or default, request=request)
    >>> [likely_width(asking(*one)) for one in [("731", ""), ("", "a (Mobile)"), ("none", "b (X11)"), ("9e9", "")]]
    [731, 388, 1200, 1200]
    """
    told = handler.get_cookie(WIDTH, "")
    if told.isdecimal() and 0 < int(told) < WIDEST_PX:
        return int(told)
    return LIKELY_PX[TELEPHONE in handler.request.headers.get("User-Agent", "")]


def title_of(notebook: Any) -> str:
    """The first heading of a notebook; empty where it has none.

    Examples
    --------
    >>> title_of({"cells": [{"cell_type": "markdown", "source": "# Did it help?\\n\\nThe sun moves."}]})
    'Did it help?'
    """
    for cell in notebook["cells"]:
        lines = "".join(cell["source"]).splitlines() if cell["cell_type"] == "markdown" else []
        for line in lines:
            if line.startswith("# "):
                return line[2:].strip()
    return ""


def first_words(notebook: Any) -> str:
    """The first cell of a notebook as HTML, to be read until the page is live.

    Examples
    --------
    >>> first_words({"cells": [{"cell_type": "markdown", "source": "The sun *moves*."}]})
    '<p>The sun <em>moves</em>.</p>\\n'
    """
    from nbconvert.filters.markdown_mistune import markdown2html_mistune

    first = notebook["cells"][0] if notebook["cells"] else {"cell_type": "raw"}
    return markdown2html_mistune("".join(first["source"])) if first["cell_type"] == "markdown" else ""


def nothing_from_outside(page_config: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Settings of a page without an address outside: formulas are set by the typesetter that comes with the pages.

    Examples
    --------
    >>> nothing_from_outside({"fullMathjaxUrl": "https://somewhere/mathjax.js", "baseUrl": "/"})
    {'fullMathjaxUrl': None, 'baseUrl': '/', 'mathjaxConfig': None}
    """
    page_config.update(fullMathjaxUrl=None, mathjaxConfig=None)
    return page_config


def without_news(_: Any, page_config: dict[str, Any]) -> dict[str, Any]:
    """Settings of JupyterLab without its question whether it may fetch news, since it fetches none whatever one says.

    Examples
    --------
    >>> without_news(None, {"disabledExtensions": ["other"]})
    {'disabledExtensions': ['other', '@jupyterlab/apputils-extension:announcements']}
    """
    page_config["disabledExtensions"] = [*page_config.get("disabledExtensions", ()), NEWS]
    return page_config


def pictures_stay(model: dict[str, Any], **_: Any) -> None:
    """Before a notebook is saved: drop views that need a kernel, so that whoever opens the file sees its pictures.

    Examples
    --------
    >>> shown = [{"data": {VIEW: {"model_id": "1"}, "image/png": "iVBO"}}, {"data": {VIEW: {"model_id": "2"}}}]
    >>> cell = {"cell_type": "code", "outputs": shown}
    >>> pictures_stay({"type": "notebook", "content": {"cells": [cell], "metadata": {"widgets": {}}}})
    >>> cell["outputs"]
    [{'data': {'image/png': 'iVBO'}}]
    """
    if model["type"] != "notebook" or not model.get("content"):
        return
    model["content"]["metadata"].pop("widgets", None)
    for cell in model["content"]["cells"]:
        if cell["cell_type"] == "code":
            cell["outputs"] = [kept for kept in map(_without_view, cell["outputs"]) if kept is not None]


def _without_view(output: dict[str, Any]) -> dict[str, Any] | None:
    """An output without its view; nothing where no picture and no page is left of it."""
    data = output.get("data", {})
    if VIEW not in data:
        return output
    del data[VIEW]
    return output if any(kind.startswith("image/") or kind == "text/html" for kind in data) else None


def is_page(path: str) -> bool:
    """Whether a path names a notebook that may be shown.

    Examples
    --------
    >>> is_page("teach/03-shade-by-hand.ipynb"), is_page("../03.ipynb"), is_page("/etc/03.ipynb"), is_page("03.txt")
    (True, False, False, False)
    """
    parts = PurePosixPath(path).parts
    return path.endswith(".ipynb") and not path.startswith("/") and not any(part.startswith(".") for part in parts)
