"""Whose van a page speaks of: its example's, or one's own out of the file that form and command line share.

The file is looked at every second while a page is open. A van that changed is offered and never put in by itself, so
that nothing moves under a reader's hand. Of several controllers one is chosen, and told first.
Left out: more than one van of one's own.
"""

from __future__ import annotations

import asyncio
import html
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import anywidget
import ipywidgets
import traitlets

from vanpower.files.my_van import my_van_path, my_van_stamp, read_my_van
from vanpower.rig import Rig

LOOK_S = 1.0
# [s] between two looks at the file; no source
FORM = "my-van.ipynb"
# the page on which one's own van is typed
BY_HAND = ("lesson 03", '<a href="03-shade-by-hand.ipynb">lesson 03</a>')
# where the shade on any panels is set by hand, as a lack names it and as a page leads to it
MINE, LOOKS = "My van", "vanpower-chooser"
STYLE = (
    f"<style>.{LOOKS} .widget-toggle-button {{width:auto; min-height:44px; height:auto; padding:4px 14px; margin:0; "
    "background:#fff; color:#16202A; border:2px solid #16202A; font-size:var(--vp-u, 16px); box-shadow:none}"
    f".{LOOKS} .widget-toggle-button.mod-active {{background:#16202A; color:#fff; font-weight:bold}}"
    f".{LOOKS} .widget-inline-hbox {{width:auto}} .{LOOKS} .widget-html-content {{line-height:1.3}} "
    f".{LOOKS} a {{color:#16202A; text-decoration:underline}}</style>"
)
# ink on white, and white on ink for the one that is chosen; 44 pixels are wide enough for a finger
Needs = Callable[[Rig], str]


@dataclass(frozen=True)
class Chosen:
    """The van that a page is asked about.

    Parameters
    ----------
    rig : Rig
        What is answered for; the example where one's own van cannot be.
    lacks : str
        What one's own van needs before this page can answer for it, in a sentence; empty where nothing is.
    mine : bool
        Whether one's own was asked for.

    Examples
    --------
    >>> from vanpower import example
    >>> Chosen(example("bookmobile")).lacks
    ''
    """

    rig: Rig
    lacks: str = ""
    mine: bool = False


class Note(anywidget.AnyWidget):  # type: ignore[misc]
    """Words in HTML that a screen reader reads out when they change, once it has read what it is reading.

    The place for them is there before they are: words that come together with it are not read out everywhere
    (W3C, ARIA22). It is no status, which on a page is what was found.
    """

    _esm = """function render({ model, el }) {
      const show = () => { el.innerHTML = model.get("value"); };
      el.setAttribute("aria-live", "polite");
      el.setAttribute("aria-atomic", "true");
      model.on("change:value", show);
      show();
    }
    export default { render };"""
    value = traitlets.Unicode().tag(sync=True)


class Chooser(ipywidgets.VBox, ipywidgets.ValueWidget):
    """Two buttons, the example's van and one's own, and a line on what the file of one's own holds.

    Parameters
    ----------
    rig : Rig
        The van of the example.
    name : str
        What the example is called, such as "library van".
    needs : callable, optional
        Gives what a rig lacks for this page, as the end of "This page needs ..."; empty where nothing is.

    Attributes
    ----------
    value : Chosen
    """

    value = traitlets.Any()
    was_mine = False
    # whether one's own van was chosen last, on whatever page of this process

    def __init__(self, rig: Rig, name: str, needs: Needs | None = None) -> None:
        self.example, self.name, self.needs = Chosen(rig), name, needs or (lambda van: "")
        self.stamp, self.mine = my_van_stamp(), self._mine()
        self.buttons = ipywidgets.ToggleButtons(options=[f"Example: {name}", MINE], index=0, tooltips=["", ""])
        self.note = Note()
        self.which = self._which(())
        self.use = ipywidgets.Button(description="Use it", layout={"display": "none", "width": "auto"})
        self.task: asyncio.Task[None] | None = None
        self.line = ipywidgets.HBox(
            [self.which, self.note, self.use], layout={"flex_flow": "row wrap", "align_items": "center"}
        )
        super().__init__([ipywidgets.HTML(STYLE), self.buttons, self.line], layout={"width": "100%"})
        self.add_class(LOOKS)
        self.value = self.example
        self.observe(self._show, names="value")
        self.buttons.observe(self._pressed, names="index")
        self.use.on_click(self._taken)
        if Chooser.was_mine and self.stamp:
            self.value = self.mine

    @property
    def options(self) -> list[tuple[str, Chosen]]:
        """Both vans by what their buttons say."""
        return [(self.buttons.options[0], self.example), (MINE, self.mine)]

    def look(self) -> None:
        """Read the file where it changed: an own van that is shown is offered anew, unless it is as it was again."""
        stamp = my_van_stamp()
        if stamp == self.stamp:
            return
        self.stamp, self.mine = stamp, self._mine()
        changed = self.value.mine and self.value != self.mine
        self.use.layout.display = "" if changed else "none"
        self.note.value = "The file of your van has changed." if changed else self._said(self.value)

    def watch(self) -> None:
        """Look at the file from now on, where something runs that can."""
        with suppress(RuntimeError):
            self.task = asyncio.get_running_loop().create_task(self._watching())

    def close(self) -> None:
        """Take it out of the page, and look no more."""
        if self.task is not None:
            self.task.cancel()
        super().close()

    async def _watching(self) -> None:
        while True:
            await asyncio.sleep(LOOK_S)
            self.look()

    def _mine(self) -> Chosen:
        """One's own van, or the example with what is lacking."""
        try:
            rig = read_my_van()
        except ValueError as trouble:
            return Chosen(self.example.rig, f"The file of your van cannot be read: {trouble}", mine=True)
        if rig is None:
            return Chosen(self.example.rig, "There is no van of yours yet.", mine=True)
        lacks = self.needs(rig)
        return Chosen(self.example.rig if lacks else rig, f"This page needs {lacks}." if lacks else "", mine=True)

    def _pressed(self, change: Any) -> None:
        self.mine = self._mine() if change["new"] else self.mine
        self.value = self.mine if change["new"] else self.example

    def _taken(self, _: Any) -> None:
        self.value = self.mine

    def _another(self, change: Any) -> None:
        """Tell another controller first."""
        if self.value.mine and change["new"] is not None:
            self.value = replace(self.mine, rig=self.mine.rig.circuit_first(change["new"]))

    def _list(self, chosen: Chosen) -> None:
        """List the controllers of one's own van, where there are several to choose from; a new list for another van."""
        several = chosen.mine and not chosen.lacks and len(chosen.rig.circuits) > 1
        names = tuple(f"{one.controller.name}, {one.wiring.name}" for one in self.mine.rig.circuits) * several
        if names != self.which.options:
            self.which = self._which(names)
            self.line.children = (self.which, self.note, self.use)

    def _which(self, names: tuple[str, ...]) -> ipywidgets.Dropdown:
        """A list of controllers, the first one chosen; not shown where it is empty."""
        layout = {"width": "auto", "margin": "4px 1em 4px 0", "display": None if names else "none"}
        made = ipywidgets.Dropdown(
            options=names, description="Controller", style={"description_width": "initial"}, layout=layout
        )
        made.observe(self._another, names="index")
        return made

    def _show(self, change: Any) -> None:
        """Let buttons and line say what is chosen now."""
        chosen: Chosen = change["new"]
        Chooser.was_mine = chosen.mine
        self.use.layout.display = "none"
        self.buttons.index = int(chosen.mine)
        self._list(chosen)
        self.note.value = self._said(chosen)

    def _said(self, chosen: Chosen) -> str:
        """Whose van it is, and where it is typed."""
        if not chosen.mine:
            return ""
        way = f'<a href="{FORM}">type it here</a>'
        if chosen.lacks:
            return f"Your van: {way}."
        several = " Charts of volts are of this controller, sentences of all." * (len(chosen.rig.circuits) > 1)
        return f"{html.escape(chosen.rig.name)}, from {html.escape(my_van_path().name)}; {way}.{several}"

    def lack(self, chosen: Chosen) -> str:
        """The sentence for a van that this page cannot answer for, with the way to mend it, as HTML."""
        still = f"The chart still shows the {self.name}."
        lacks = html.escape(chosen.lacks).replace(*BY_HAND)
        return f'{lacks} <a href="{FORM}">Your van is typed here.</a> {html.escape(still)}'


def whose_van(rig: Rig, name: str, needs: Needs | None = None) -> Chooser:
    """A choice between the example's van and one's own, for `explore`: the answer is given the rig.

    Parameters
    ----------
    rig : Rig
        The van of the example.
    name : str
        What it is called, such as "library van".
    needs : callable, optional
        Gives what a rig lacks for this page, as the end of "This page needs ..."; empty where nothing is.

    Examples
    --------
    >>> from vanpower import example
    >>> whose = whose_van(example("bookmobile"), "library van")
    >>> whose.value.rig.name, [label for label, _ in whose.options]
    ('Bookmobile, two small panels', ['Example: library van', 'My van'])
    """
    return Chooser(rig, name, needs)
