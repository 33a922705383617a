"""Sliders under a chart: labels, the verdict as a sentence, and a picture that follows the drag.

Knows ipywidgets and IPython, and no physics: it is given a function that answers and a chart that is told the answer.
Controls stand in a row that a narrow screen breaks into a column. Left out: any other layout.
"""

from __future__ import annotations

import base64
import html
import io
import os
import re
import textwrap
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

import ipywidgets
import PIL.Image
from IPython.display import display
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from vanpower.verdicts import Verdict

SLOW_S = 0.3
# [s] an answer that takes longer waits until the slider is let go; no source
DPI = 120
# [pixels per inch] of a live picture: sharp enough, and drawn in about 12 ms
PRINTED = 76
# characters of a printed line, as wide as a notebook shows without breaking it
CONTROL = {"flex": "1 1 15em", "min_width": "15em", "max_width": "30em", "width": "auto", "margin": "0 1em 4px 0"}
SENTENCES = {"width": "100%", "max_width": "60em", "margin": "0"}
# how wide a control and the sentences get
BESIDE = "0 0 0 6px"
# room between the bar that marks a cell and the words, as code and text have it
PARAGRAPH = "margin:0.2em 0; line-height:1.35"


class LiveChart(Protocol):
    """What `explore` needs of a chart; those of `figures` are such."""

    moving: list[Artist]
    frame: tuple[Any, ...]

    @property
    def figure(self) -> Figure:
        """What it draws on."""

    def update(self, result: Any) -> None:
        """Show another answer."""


def slider(label: str, low: float, high: float, start: float, step: float = 1) -> ipywidgets.ValueWidget:
    """A slider over numbers; the label carries the unit, "Light (W/m²)". Whole numbers where all four are whole."""
    whole = all(float(number).is_integer() for number in (low, high, start, step))
    kind, number = (ipywidgets.IntSlider, int) if whole else (ipywidgets.FloatSlider, float)
    return kind(description=label, min=number(low), max=number(high), value=number(start), step=number(step))


def choice(label: str, options: Mapping[str, Any] | Iterable[str], start: Any = None) -> ipywidgets.ValueWidget:
    """A list to choose from: words, or words and what each stands for; `start` is one of the values."""
    pairs = list(options.items()) if isinstance(options, Mapping) else [(word, word) for word in options]
    values = [value for _, value in pairs]
    index = values.index(start) if start in values else 0
    return ipywidgets.Dropdown(description=label, options=pairs, index=index)


def explore(answer: Callable[..., Any], chart: LiveChart, **controls: ipywidgets.ValueWidget) -> Explorer:
    """Show controls, the verdict in words and the chart, and answer anew at every move.

    Parameters
    ----------
    answer : callable
        Takes the controls' values by name. Gives a result with a `verdict()`, or the result and its verdicts as a
        pair (result, verdict) or (result, (verdict, verdict)).
    chart : LiveChart
        Told every result by `update`.
    **controls
        Widgets with a value, such as `slider` and `choice` make.
    """
    explorer = Explorer(answer, chart, controls)
    explorer.show()
    return explorer


def say(*parts: Verdict | str) -> None:
    """Show verdicts and words as one paragraph that breaks between words, on paper, in a browser and on a phone.

    Examples
    --------
    >>> say("Dull day:", compare(rigs, dull).verdict())  # doctest: +SKIP
    """
    plain = _glued(" ".join(part if isinstance(part, str) else _plain(part) for part in parts))
    words = " ".join(html.escape(part) if isinstance(part, str) else _words(part) for part in parts)
    shown = f"<p style='{PARAGRAPH}; max-width:44em'>{_glued(words)}</p>"
    lines = textwrap.fill(plain, PRINTED, break_on_hyphens=False).replace("\N{NO-BREAK SPACE}", " ")
    display({"text/html": shown, "text/plain": lines}, raw=True)


def rows(text: str) -> None:
    """Show a table or a file whose lines must not break; where the page is narrow it scrolls sideways in its own box.

    Examples
    --------
    >>> rows("wiring   W\\n2s      43")  # doctest: +SKIP
    """
    shown = f"<pre style='margin:0; overflow-x:auto; white-space:pre'>{html.escape(text)}</pre>"
    display({"text/html": shown, "text/plain": text}, raw=True)


class Explorer:
    """Controls, a verdict line, a line for what went wrong, a live picture, and below it what several verdicts say.

    Attributes
    ----------
    result : object
        The latest answer.
    sentence : str
        The latest verdict in plain text.
    failure : str
        What went wrong at the last move; empty when nothing did.
    """

    def __init__(
        self, answer: Callable[..., Any], chart: LiveChart, controls: Mapping[str, ipywidgets.ValueWidget]
    ) -> None:
        self.answer, self.chart, self.controls = answer, chart, dict(controls)
        self.result: Any = None
        self.sentence = self.failure = ""
        self.verdict_line, self.failure_line, self.details = (ipywidgets.HTML(layout=SENTENCES) for _ in range(3))
        self.picture: LivePicture | None = None
        started = time.perf_counter()
        self._answer()
        self.slow = time.perf_counter() - started > SLOW_S and self._took_long_again()
        for control in self.controls.values():
            control.observe(self._moved, names="value")
            if self.slow and hasattr(control, "continuous_update"):
                control.continuous_update = False

    def show(self) -> None:
        """Display the controls and sentences, and the picture below them."""
        rows = [_labelled(control) for control in self.controls.values()]
        box = ipywidgets.Box(rows, layout={"display": "flex", "flex_flow": "row wrap", "width": "100%"})
        lines = [self.verdict_line, self.failure_line]
        display(ipywidgets.VBox([box, *lines], layout={"width": "100%", "overflow": "hidden", "padding": BESIDE}))
        self.picture = LivePicture(self.chart)
        self.picture.show(self.sentence)
        if self.details.value:
            display(ipywidgets.Box([self.details], layout={"padding": BESIDE}))

    def _took_long_again(self) -> bool:
        """Whether a second answer is slow too: the first may only have loaded modules and worked panels out."""
        started = time.perf_counter()
        self._answer()
        return time.perf_counter() - started > SLOW_S

    def _moved(self, change: object) -> None:
        """One move of one control: answer, say, draw. Whatever fails is said, since nobody would see it otherwise."""
        if self.slow:
            self.verdict_line.value = "<p role='status'>Working &hellip;</p>"
        self._answer()
        if self.picture is not None and not self.failure:
            self.picture.refresh(self.sentence)

    def _answer(self) -> None:
        """Work out the result and tell the chart and the two lines."""
        try:
            given = self.answer(**{name: control.value for name, control in self.controls.items()})
            self.result, verdicts = _split(given)
            self.chart.update(self.result)
        except Exception as problem:
            self.failure = f"{type(problem).__name__}: {problem}"
            words = f"This setting gives no answer. {html.escape(str(problem) or type(problem).__name__)}"
            self.failure_line.value = f"<p role='alert' style='margin:0'><b>{words}</b></p>"
            self.verdict_line.value = self.details.value = ""
            return
        self.failure, self.failure_line.value = "", ""
        self.sentence = "\n".join(_plain(verdict) for verdict in verdicts)
        sentences = "".join(_paragraph(_words(verdict)) for verdict in verdicts)
        several = len(verdicts) > 1
        self.verdict_line.value = _paragraph(" &middot; ".join(map(_head, verdicts))) if several else sentences
        self.details.value = sentences if several else ""


class LivePicture:
    """A chart as a picture in the page; what moves is redrawn over a kept background.

    Notes
    -----
    The picture goes out as a display that is updated, so that a stored notebook keeps it. Voila ignores updates of a
    display; there, and where the environment variable VANPOWER_IMAGE_WIDGET is set, an image widget carries it.
    """

    def __init__(self, chart: LiveChart) -> None:
        self.chart, self.figure = chart, chart.figure
        self.figure.set_dpi(DPI)
        self.canvas = FigureCanvasAgg(self.figure)
        self._lay_out()
        self.handle: Any = None
        self.widget: ipywidgets.Image | None = None
        self._keep_background()

    def png(self) -> bytes:
        """The chart as it is now."""
        if self.chart.frame != self.frame:
            self._keep_background()
        self.canvas.restore_region(self.background)  # type: ignore[attr-defined]
        for artist in sorted(self.chart.moving, key=lambda artist: artist.get_zorder()):
            self.figure.draw_artist(artist)
        size, pixels = self.canvas.get_width_height(), self.canvas.buffer_rgba()
        out = io.BytesIO()
        picture = PIL.Image.frombuffer("RGBA", size, pixels, "raw", "RGBA", 0, 1).convert("RGB")
        picture.save(out, "PNG", compress_level=1)
        return out.getvalue()

    def show(self, words: str) -> None:
        """Put the picture into the page; `words` stand for it where pictures are not shown."""
        if "VOILA_KERNEL_ID" in os.environ or "VANPOWER_IMAGE_WIDGET" in os.environ:
            layout = {"width": "700px", "max_width": "100%", "height": "auto", "margin": "0"}
            self.widget = ipywidgets.Image(format="png", value=self.png(), layout=layout)
            display(self.widget)
        else:
            self.handle = display(_bundle(self.png(), words), raw=True, display_id=True)

    def refresh(self, words: str) -> None:
        """Show the chart as it is now."""
        if self.widget is not None:
            self.widget.value = self.png()
        elif self.handle is not None:
            self.handle.update(_bundle(self.png(), words), raw=True)

    def _lay_out(self) -> None:
        """Lay the figure out once and for all, with room for titles of two lines however short the first ones are."""
        titles = [ax._left_title for ax in self.figure.axes]  # type: ignore[attr-defined]
        said = [title.get_text() for title in titles]
        for title, words in zip(titles, said, strict=True):
            title.set_text(words if "\n" in words or not words else f" \n{words}")
        self.canvas.draw()
        self.figure.set_layout_engine("none")
        for title, words in zip(titles, said, strict=True):
            title.set_text(words)

    def _keep_background(self) -> None:
        """Draw what stands still and keep it."""
        for artist in self.chart.moving:
            artist.set_animated(True)
        self.canvas.draw()
        self.background = self.canvas.copy_from_bbox(self.figure.bbox)  # type: ignore[attr-defined]
        self.frame = self.chart.frame


def _bundle(png: bytes, words: str) -> dict[str, str]:
    """A picture and the words that stand for it."""
    return {"image/png": base64.b64encode(png).decode("ascii"), "text/plain": words}


def _split(given: Any) -> tuple[Any, tuple[Verdict, ...]]:
    """The result and its verdicts."""
    result, verdicts = given if isinstance(given, tuple) else (given, given.verdict())
    return result, (verdicts,) if isinstance(verdicts, Verdict) else tuple(verdicts)


def _plain(verdict: Verdict) -> str:
    """A verdict in a line of plain text."""
    parts = (verdict.question, f"{verdict.answer.upper()}.", verdict.sentence, verdict.caution)
    return " ".join(part for part in parts if part)


def _words(verdict: Verdict) -> str:
    """A verdict in HTML: the question, the answer, the numbers, what can hurt."""
    caution = f" <b>{html.escape(verdict.caution)}</b>" if verdict.caution else ""
    question, sentence = html.escape(verdict.question), html.escape(verdict.sentence)
    return f"{question} <b>{verdict.answer.upper()}.</b> {sentence}{caution}"


def _glued(words: str) -> str:
    """With every number kept on one line with its unit."""
    return re.sub(r"(?<=\d) (?=[°%]|k?Wh?\b|[VAm]\b)", "\N{NO-BREAK SPACE}", words)


def _head(verdict: Verdict) -> str:
    """What a verdict is about and its answer, in a few words of HTML."""
    subject = verdict.question.partition(":")[0].rstrip("?")
    return f"{html.escape(subject)} <b>{verdict.answer.upper()}</b>"


def _paragraph(words: str) -> str:
    """A paragraph that is read out when it changes."""
    return f"<p role='status' style='{PARAGRAPH}'>{_glued(words)}</p>"


def _labelled(control: ipywidgets.ValueWidget) -> ipywidgets.Widget:
    """A control below its label; a slider gets a box that takes the number typed and has a label of its own."""
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        control.style.description_width = "initial"
        control.layout = CONTROL
        return control
    kind = ipywidgets.BoundedIntText if isinstance(control, ipywidgets.IntSlider) else ipywidgets.BoundedFloatText
    box = kind(
        description=control.description, min=control.min, max=control.max, step=control.step, value=control.value,
        style={"description_width": "initial"}, layout={"width": "100%", "margin": "0"},
    )  # fmt: skip
    control.description, control.readout, control.layout = "", False, {"width": "100%", "margin": "0"}
    ipywidgets.jslink((control, "value"), (box, "value"))
    return ipywidgets.VBox([box, control], layout=CONTROL | {"overflow": "hidden"})
