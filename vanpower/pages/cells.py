"""What a cell of a notebook shows: words as HTML, pictures as wide as their page, controls as they are, slips in words.

A cell is run by IPython, as a notebook runs it. Charts that a cell leaves are handed back undrawn, so that controls
need not wait for them. Left out: whatever a cell shows by any other kind of output.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import ipywidgets
import matplotlib.pyplot as plt
from IPython.core.interactiveshell import InteractiveShell
from IPython.utils.capture import capture_output
from matplotlib.figure import Figure
from nbconvert.filters.markdown_mistune import markdown2html_mistune

from vanpower.figures.fragments import still_svg
from vanpower.pages.hooks import VIEW

WORDS, PICTURE, SLIP, LIVE = "vp-words", "vp-picture", "vp-slip", "vp-live"
WIDE, PHONE_IN = "vp-wide", 6.0
# classes of what stands in a page; [inch] a chart for a phone is at most 5.5 wide, one for a page 9
FOLDED = {"recipe": "Show the recipe", "recipe-line": "Show the lines of the recipe"}
# tags of cells that a page shows folded, and what stands over them
ANSWERS, UNTIL = "answers", "vp-until"
# tag of the cell from which on a page keeps back what answers its question, and class of the line that stands there
WAITS = "<p>The rest of this page, with the answers, comes once guesses are down: press the button at the top.</p>"
ASIDE = "aside"
# tag of a cell that takes seconds and shows nothing; a page works it out beside moves
NEEDS_ANOTHER = "This step needs one above it that gave no answer."


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What a cell shows, in its order, and the charts that are still to be drawn.

    Attributes
    ----------
    children : list of Widget
        Words, pictures and controls.
    charts : list of (HTML, Figure)
        Where each chart goes, and the chart.
    """

    children: list[ipywidgets.Widget] = field(default_factory=list)
    charts: list[tuple[ipywidgets.HTML, Figure]] = field(default_factory=list)


class Maker:
    """Runs cells and makes what stands in a page for them.

    Parameters
    ----------
    shell : InteractiveShell
        Runs the code.

    Attributes
    ----------
    made : list of Widget
        Everything that was made, by cells as well, in its order.
    """

    def __init__(self, shell: InteractiveShell) -> None:
        self.shell = shell
        self.made: list[ipywidgets.Widget] = []
        self.worked_out: dict[str, Any] | None = None
        # all words share one look: each of their own would be two more messages to the page
        self.look = {"layout": ipywidgets.Layout(), "style": ipywidgets.HTML.style.klass()}
        assert shell.display_formatter is not None
        shell.display_formatter.formatters["image/svg+xml"].for_type(Figure, still_svg)
        ipywidgets.Widget.on_widget_constructed(self.made.append)

    def shown(self, cell: dict[str, Any]) -> Shown:
        """What a cell shows; code is run for it."""
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            return Shown(children=[self.words(markdown2html_mistune(source))])
        if cell["cell_type"] != "code":
            return Shown()
        found = self._run(source)
        headings = [FOLDED[tag] for tag in tags(cell) if tag in FOLDED]
        return self._folded(found, headings[0]) if headings and found.children else found

    def work_out(self, cell: dict[str, Any]) -> None:
        """Run a cell for the names that it makes, in any thread; one that fails is left, to be run and to say why."""
        with suppress(Exception):
            exec("".join(cell["source"]), self.shell.user_ns)
            self.worked_out = cell

    def words(self, content: str, kind: str = WORDS) -> ipywidgets.HTML:
        """HTML in a page."""
        box = ipywidgets.HTML(content, **self.look)
        box.add_class(kind)
        return box

    def _run(self, source: str) -> Shown:
        """Run a cell, and gather what it shows; a slip is said, and what was shown before it stays."""
        silent = f"{source}\nNone" if source.rstrip().endswith(";") else source
        # within IPython's own trap, which would take what the last line gives past the one that gathers
        with self.shell.display_trap, capture_output() as captured:
            done = self.shell.run_cell(silent, store_history=False)
        children = [] if not captured.stdout.strip() else [self.words(f"<pre>{html.escape(captured.stdout)}</pre>")]
        children += self._together([child for output in captured.outputs for child in self._of_output(output.data)])
        charts = [(self._place_for(figure), figure) for figure in _left_figures()]
        children += [place for place, _ in charts]
        problem = done.error_before_exec or done.error_in_exec
        if problem is not None:
            children.append(self.words(f"<p role='alert'>{html.escape(in_words(problem))}</p>", SLIP))
        return Shown(children=children, charts=charts)

    def _folded(self, found: Shown, heading: str) -> Shown:
        """Words behind a line that opens them."""
        inside = "".join(child.value for child in found.children if isinstance(child, ipywidgets.HTML))
        return Shown(children=[self.words(f"<details><summary>{heading}</summary>{inside}</details>")])

    def _together(self, children: list[ipywidgets.Widget]) -> list[ipywidgets.Widget]:
        """What belongs to controls in one box with them; words and pictures alone as they are."""
        if all(isinstance(child, ipywidgets.HTML) for child in children):
            return children
        box = ipywidgets.VBox(children)
        box.add_class(LIVE)
        return [box]

    def _of_output(self, data: dict[str, Any]) -> Iterator[ipywidgets.Widget]:
        """What stands in a page for an output: the best of its kinds."""
        if VIEW in data:
            yield next(widget for widget in reversed(self.made) if widget.model_id == data[VIEW]["model_id"])
        elif "text/html" in data:
            yield self.words(data["text/html"])
        elif "image/svg+xml" in data:
            yield self.words(data["image/svg+xml"], PICTURE)
        elif "image/png" in data:
            yield self.words(_png(data["image/png"], data.get("text/plain", "")), PICTURE)
        elif "text/plain" in data:
            yield self.words(f"<pre>{html.escape(data['text/plain'])}</pre>")

    def _place_for(self, figure: Figure) -> ipywidgets.HTML:
        """Room for a chart of this shape."""
        wide, high = figure.get_size_inches()
        place = self.words(f'<div style="aspect-ratio:{wide:.2f}/{high:.2f}"></div>', PICTURE)
        if wide > PHONE_IN:
            place.add_class(WIDE)
        return place


def tags(cell: dict[str, Any]) -> list[str]:
    """The tags of a cell.

    Examples
    --------
    >>> tags({"metadata": {"tags": ["explore"]}})
    ['explore']
    """
    return list(cell["metadata"].get("tags", []))


def drawn(figure: Figure) -> str:
    """A chart as a picture that is as wide as its page; a screen reader is told its titles, else the words in it."""
    said = " ".join(filter(None, (ax.get_title(loc="left") or ax.get_title() for ax in figure.axes)))
    said = said or " ".join(text.get_text() for ax in figure.axes for text in ax.texts)
    return f'<div role="img" aria-label="{html.escape(said)}">{still_svg(figure)}</div>'


def in_words(problem: BaseException) -> str:
    """What a reader is told of a cell that fails.

    Examples
    --------
    >>> in_words(ValueError("light is -5; it must be above 0."))
    'This step gives no answer: light is -5; it must be above 0. The rest of the page goes on.'
    >>> in_words(NameError("name 'whole' is not defined"))
    'This step needs one above it that gave no answer. The rest of the page goes on.'
    """
    if isinstance(problem, NameError):
        return f"{NEEDS_ANOTHER} The rest of the page goes on."
    what = str(problem).strip() or type(problem).__name__
    return f"This step gives no answer: {what.rstrip('.')}. The rest of the page goes on."


def _png(picture: bytes | str, said: str) -> str:
    """A picture of pixels."""
    source = base64.b64encode(picture).decode("ascii") if isinstance(picture, bytes) else picture
    return f'<img alt="{html.escape(said)}" src="data:image/png;base64,{source}">'


def _left_figures() -> list[Figure]:
    """Charts that a cell has left; nobody else shows them."""
    figures = [plt.figure(number) for number in plt.get_fignums()]
    plt.close("all")
    return figures
