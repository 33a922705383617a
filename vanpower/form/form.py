"""The form "my van" as a widget: a page of its own or a cell of a notebook.

It knows the page, and no rig: `desk` holds the boxes and the file, `answers` what a rig is worth. Texts go out plain,
and the script sets them as text; what goes out as HTML was escaped where it was made.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import anywidget
import traitlets
from IPython.display import display

from vanpower.figures.power import PowerChart
from vanpower.form.answers import Answer, Pictures, answer_of
from vanpower.form.desk import Desk
from vanpower.rig import Rig
from vanpower.widgets.chooser import Chooser

LOOK_S = 0.5
# [s] between two looks at the file; a look reads a few kB
PAGE_PX = 540
# [pixel] from which on a chart is drawn in the layout for a page; no source
SHOWN = tuple(part.name for part in fields(Answer))
FIRST = "Type the figures of your labels; what they come to appears here."
# said where nothing is known yet


def my_van() -> MyVan:
    """Show the form, and hand it back.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> form = my_van()  # doctest: +ELLIPSIS
    <...MyVan object at ...>
    >>> form.answer["finding"] == FIRST
    True
    >>> del os.environ["VANPOWER_VAN"]
    """
    form = MyVan()
    display(form)
    return form


class MyVan(anywidget.AnyWidget):
    """The form and its answers.

    Examples
    --------
    >>> import os
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> from vanpower.files.my_van import save_my_van
    >>> with TemporaryDirectory() as folder:
    ...     os.environ["VANPOWER_VAN"] = f"{folder}/van.toml"
    ...     save_my_van(example("bookmobile"))
    ...     form = MyVan()
    ...     form.hear({"texts": {"panel.0.v_mp": "18,4"}})
    ...     del os.environ["VANPOWER_VAN"]
    >>> form.state["saved"], form.answer["finding"]
    ('Saved in van.toml.', 'Wired 2p, no check says no; two want a look.')
    """

    _esm = Path(__file__).with_name("form.js").read_text(encoding="utf-8")
    _css = Path(__file__).with_name("form.css").read_text(encoding="utf-8")
    shape: traitlets.List[dict[str, Any]] = traitlets.List().tag(sync=True)
    state = traitlets.Dict().tag(sync=True)
    answer = traitlets.Dict().tag(sync=True)

    def __init__(self) -> None:
        super().__init__()
        self.desk, self.pictures = Desk(), Pictures()
        self._of: Rig | None = None
        self._found: dict[str, Any] = {}
        self._count = 0
        self._show(moved=True)
        self.on_msg(lambda _, content, buffers: self.hear(content))
        with suppress(RuntimeError):
            self._watching = asyncio.get_running_loop().create_task(self._watch())

    def hear(self, content: dict[str, Any]) -> None:
        """Take what the page says: texts of boxes, or a press of a button; and answer.

        Parameters
        ----------
        content : dict
            How "wide" the chart is in pixels; "texts" by key and the "key" of the box a person is at; or what to
            "do", with "part" and "arg".
        """
        try:
            if "wide" in content:
                self._lay_out(float(content["wide"]))
            elif "do" in content:
                self.desk.do(str(content["do"]), str(content.get("part", "")), str(content.get("arg", "")))
            else:
                texts = {str(key): str(text) for key, text in content.get("texts", {}).items()}
                self.desk.type(texts, str(content.get("key", "")))
        except Exception as trouble:  # whatever fails is said, since nobody would see it otherwise
            self.desk.unsaved = f"That did not work, and nothing was saved: {trouble}"
        Chooser.was_mine = Chooser.was_mine or bool(self.desk.saved_key)  # whoever types a van came to ask about it
        self._show(moved=bool(content.get("set")) or "do" in content)

    def _show(self, *, moved: bool) -> None:
        """Send what stands in the boxes, then what it comes to; `moved` where boxes change that a person is at."""
        shape = self.desk.shape()
        if shape != self.shape:
            self.shape = shape
        self._count += 1
        self.state = {**self.desk.state(), "moved": moved, "count": self._count}
        self.answer = {**self._answer(), "count": self._count}

    def _lay_out(self, wide: float) -> None:
        """Take the layout of the chart that suits so many pixels."""
        phone = wide < PAGE_PX
        if phone != self.pictures.power.phone:
            self.pictures, self._of = Pictures(power=PowerChart(phone=phone)), None

    def _answer(self) -> dict[str, Any]:
        """What the last whole rig comes to; kept while it is the same."""
        rig = self.desk.good
        if rig is None:
            return {**dict.fromkeys(SHOWN, ""), "finding": FIRST, "doubt": self.desk.saved()}
        if rig != self._of:
            try:
                self._found, self._of = asdict(answer_of(rig, self.pictures)), rig
            except ValueError as trouble:
                return {**dict.fromkeys(SHOWN, ""), "finding": str(trouble)}
        return self._found

    async def _watch(self) -> None:
        """Say so when another page or an editor changed the file; ends with the widget."""
        told = False
        while self.comm is not None:
            await asyncio.sleep(LOOK_S)
            if self.desk.look() and not told:
                self._show(moved=False)
            told = self.desk.elsewhere
