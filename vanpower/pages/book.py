"""A page that shows one notebook after the other: its cells run in this kernel, a click on a link opens the next.

What a notebook made is closed and forgotten before the next one opens, so that names of two never meet and a kernel
does not grow. Controls stand before charts that nobody can move. Left out: two notebooks at once; another tab is
another kernel.
"""

from __future__ import annotations

import asyncio
import ctypes
import gc
import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import ipywidgets
from IPython import get_ipython
from IPython.core.interactiveshell import InteractiveShell
from IPython.display import display

from vanpower.figures.kinds import Shown
from vanpower.files.my_van import WHERE, my_van_path, my_van_stamp
from vanpower.model.cache import KEPT
from vanpower.pages import cells
from vanpower.pages.bar import Bar
from vanpower.pages.hooks import LIKELY_PX, is_page, title_of
from vanpower.simulation.run import SUNS
from vanpower.watching.expectations import TABLES
from vanpower.widgets.live_picture import LIVE_PAGE, NARROW_PX, Page

FIRST, LIVE = "00-start.ipynb", "explore"
# what opens where nothing else is asked for; tag of the cell that brings the controls
BREATH_S, SETTLED_S, STILL_S = 0.02, 0.3, 1.0
# [s] in which moves are answered between two cells; after the last move its value is kept by the page, and what takes
# seconds is begun: beside it a move waits four times as long; no source
NO_PAGE = f"# No such page\n\nThere is no page of this name. [All pages]({FIRST})"
# what is shown in its place
ACROSS_BYTES = 16 * 2**20
# [B] of tables worked out for one page that the next one may find; a page's own slider keeps more; no source
AT_REST_BYTES, TABLES_BYTES = 4 * 2**20, 21 * 2**20
# [B] of what a page's cells had worked out that it keeps once it is whole, enough for where its controls stand; and of
# tables of a watched van: what the days of a practice history read in which a fault can begin
SWITCH_S = 0.0005
# [s] after which a thread lets another go on: the one that sends a picture waits for the one that works; no source
VANS, LAB, BIG = "VANPOWER_VANS", "VANPOWER_LAB", "VANPOWER_BIG"
# environment: folder where every page has a van of its own; JupyterLab is served as well; larger letters


class Book:
    """The line of links, and below it the page that is open.

    Parameters
    ----------
    root : Path
        Folder of the notebooks.
    shell : InteractiveShell
        Runs their cells.

    Attributes
    ----------
    name : str
        The notebook that is open, from the folder.
    body : VBox
        What it shows.

    Notes
    -----
    A page is opened at once as far as its controls. The rest follows piece by piece, so that moves are answered, and
    not before the browser has all that is there: what is told while it is still asking would be lost.
    """

    def __init__(self, root: Path, shell: InteractiveShell) -> None:
        self.root, self.shell, self.name = root, shell, ""
        self.names = set(shell.user_ns)
        self.bar = Bar(lab=LAB in os.environ, big=BIG in os.environ)
        self.body = ipywidgets.VBox()
        self.body.add_class("vp-page")
        self.remembered: list[Any] = []
        self.there = False
        self.pieces: Iterator[Callable[[], None] | None] = iter(())
        self.rest: asyncio.Task[None] | None = None
        self.telling: asyncio.TimerHandle | None = None
        self.still_from = 0.0
        self.bar.on_msg(self._asked)
        shell.set_custom_exc((Exception,), lambda *_, **__: None)  # a slip is said in the page
        self.maker = cells.Maker(shell)

    def open(self, name: str, remembered: list[Any] | None = None, turn: int = 0) -> None:
        """Show a notebook in place of the one that is open.

        Parameters
        ----------
        name : str
            Its path from the folder.
        remembered : list, optional
            Where its controls stood when it was last seen.
        turn : int
            Number of the click that asked for it, so that the page knows the answer to the last one.
        """
        self._forget()
        Shown.phone = Page.wide < NARROW_PX
        self.name, self.remembered = name, remembered or []
        all_cells, title = self._read()
        self.bar.shown = {"name": name, "title": title, "turn": turn, "whole": False}
        self.pieces = self._shown(all_cells)
        next(self.pieces)
        if self.there:
            self.go_on()

    def go_on(self) -> None:
        """Show what is below the controls, and the charts; moves are answered in between."""
        self.wait()
        self._note_a_move()
        self.rest = asyncio.ensure_future(self._show_the_rest())

    def wait(self) -> None:
        """Show no more for now."""
        if self.rest is not None:
            self.rest.cancel()

    async def _show_the_rest(self) -> None:
        """The pieces that are left."""
        for work in self.pieces:
            if work is None:
                await asyncio.sleep(BREATH_S)
            else:
                await self._till_nobody_moves()
                await asyncio.to_thread(work)
        self.bar.shown = self.bar.shown | {"whole": True}
        for cache in (KEPT, SUNS):
            cache.shrink(AT_REST_BYTES)
        _give_back()  # what the page before has left; nobody waits for it now

    async def _till_nobody_moves(self) -> None:
        """Until controls have stood still for a while, or have been there for as long."""
        while (left := self.still_from + STILL_S - time.monotonic()) > 0.0:
            await asyncio.sleep(left)

    def _note_a_move(self) -> None:
        self.still_from = time.monotonic()

    def _asked(self, _: Any, told: dict[str, Any], __: Any) -> None:
        """The browser asks for a notebook, or says that it is there and where controls stood when it last was."""
        self.there = True
        Page.wide = told["wide"]
        name = told["name"] or FIRST
        if told["what"] == "arrived" and name == self.name:
            self.remembered = told["settings"]
            self._set_controls()
            self.go_on()
        else:
            self.open(name, told["settings"], told["turn"])

    def _read(self) -> tuple[list[dict[str, Any]], str]:
        """Cells and title of the notebook; where there is none, a cell that says so."""
        try:
            if not is_page(self.name):
                raise OSError
            notebook = json.loads((self.root / self.name).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return [{"cell_type": "markdown", "metadata": {}, "source": NO_PAGE}], "No such page"
        os.chdir((self.root / self.name).parent)
        return notebook["cells"], title_of(notebook)

    def _shown(self, all_cells: list[dict[str, Any]]) -> Iterator[Callable[[], None] | None]:
        """Run the cells and draw their charts; first as far as the controls, then piece by piece.

        Gives what is to be worked out beside moves before it goes on, where a piece has such a thing.
        """
        children: list[ipywidgets.Widget] = []
        charts = []
        live = next((number for number, cell in enumerate(all_cells) if LIVE in cells.tags(cell)), 0)
        for number, cell in enumerate(all_cells):
            if number > live and cells.ASIDE in cells.tags(cell):
                yield partial(self.maker.work_out, cell)
                if self.maker.worked_out is cell:
                    continue
            if cells.ANSWERS in cells.tags(cell):
                children.append(self.maker.words(cells.WAITS, cells.UNTIL))
            part = self.maker.shown(cell)
            children += part.children
            charts += part.charts
            if number in (0, live) or number > live:
                self.body.children = children
            if number == live:
                self._set_controls()
                self._watch_controls()
            if number >= live:
                yield None
        self._watch_controls()
        for place, figure in charts:
            place.value = cells.drawn(figure)
            yield None

    def _forget(self) -> None:
        """Close what the open notebook made, and drop its names."""
        self.wait()
        self.body.children = []
        for widget in self.maker.made:
            widget.close()
        self.maker.made.clear()
        for name in set(self.shell.user_ns) - self.names:
            del self.shell.user_ns[name]
        for cache in (KEPT, SUNS, TABLES):
            cache.shrink(ACROSS_BYTES)

    def _controls(self) -> list[ipywidgets.ValueWidget]:
        """Controls of the open notebook in the order in which they were made."""
        kinds = (ipywidgets.HTML, ipywidgets.Image)
        return [
            one for one in self.maker.made if isinstance(one, ipywidgets.ValueWidget) and not isinstance(one, kinds)
        ]

    def _watch_controls(self) -> None:
        """Tell the page a little after a move where the controls stand, so that it can set them again."""
        for control in self._controls():
            control.observe(self._moved, names="value")

    def _moved(self, _: Any) -> None:
        self._note_a_move()
        if self.telling is not None:
            self.telling.cancel()
        self.telling = asyncio.get_running_loop().call_later(SETTLED_S, self._tell)

    def _tell(self) -> None:
        self.bar.settings = {"name": self.name, "values": [_place_of(control) for control in self._controls()]}

    def _set_controls(self) -> None:
        """Set the controls to the values remembered, if they are still of the same kinds."""
        controls = self._controls()
        for control, (kind, value) in zip(controls, self.remembered, strict=False):
            if [kind, value] != _place_of(control) and kind == type(control).__name__ and value is not None:
                setattr(control, "index" if control.has_trait("index") else "value", value)


def _place_of(control: ipywidgets.ValueWidget) -> list[Any]:
    """Kind of a control and where it stands, as JSON can say it: of a list the place, else the value."""
    value = control.index if control.has_trait("index") else control.value
    return [type(control).__name__, value if isinstance(value, int | float | str | bool) else None]


def _give_back() -> None:
    """Collect what nobody holds, and hand memory that is free to the system, where its library can do that."""
    gc.collect()
    if sys.platform == "linux":
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)


class Ready:
    """A book that was opened before anybody asked for it, and what it was opened on."""

    book: Book | None = None
    stamps: tuple[Any, ...] = ()


def prepare(root: str, name: str) -> None:
    """Open a page before anybody asks for it, in a kernel that waits."""
    if VANS in os.environ:
        os.environ[WHERE] = own_van(Path(os.environ[VANS]), my_van_path())
    os.environ[LIVE_PAGE] = "1"
    TABLES.most_bytes = TABLES_BYTES
    sys.setswitchinterval(SWITCH_S)
    # who serves pages for a machine of one's own sits at it; to a class come telephones
    Page.wide = Page.wide or LIKELY_PX[LAB not in os.environ]
    book = Book(Path(root), get_ipython())
    book.open(name)
    book.go_on()
    Ready.book, Ready.stamps = book, stamps(root, name)


def open_book(root: str, name: str, wide: int) -> None:
    """Show the pages of a folder in this notebook, at first this one, for a browser that is likely so wide. [pixel]"""
    Page.wide = wide
    if Ready.book is None:
        prepare(root, name)
    book = Ready.book
    assert book is not None
    if Ready.stamps != stamps(root, name):
        book.open(name)
    book.wait()
    display(book.bar, book.body)


def stamps(root: str, name: str) -> tuple[Any, ...]:
    """What changes when another page is asked for, or its file or the reader's van has been changed.

    Examples
    --------
    >>> stamps("nowhere", "03.ipynb")[:3]
    ('nowhere', '03.ipynb', None)
    """
    page = Path(root) / name
    return root, name, page.stat().st_mtime_ns if page.exists() else None, my_van_stamp()


def own_van(folder: Path, original: Path) -> str:
    """Path of a van of one's own in a folder of vans: a copy of another, where there is one.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     Path(own_van(Path(folder), Path("no-van.toml"))).name
    'my-van.toml'
    """
    own = Path(tempfile.mkdtemp(dir=folder)) / "my-van.toml"
    if original.is_file():
        shutil.copyfile(original, own)
    return str(own)
