"""Sliders under a chart: labels, the verdict as a sentence, and a picture that follows the drag.

Knows ipywidgets and IPython, and no physics: it is given a function that answers and a chart that is told the answer.
Left out: layout beyond one column, which a phone shows as well as a desk.
"""

from __future__ import annotations

import base64
import html
import io
import os
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

import ipywidgets
import numpy as np
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
COLUMN = "min(100%, 30em)"
# widest that controls and sentences get


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


class Explorer:
    """Controls, a verdict line, a line for what went wrong, and a live picture.

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
        self.verdict_line = ipywidgets.HTML(layout={"width": "100%", "max_width": "44em"})
        self.failure_line = ipywidgets.HTML(layout={"width": "100%", "max_width": "44em"})
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
        box = ipywidgets.VBox(rows, layout={"width": COLUMN})
        lines = [self.verdict_line, self.failure_line]
        display(ipywidgets.VBox([box, *lines], layout={"width": "100%", "overflow": "hidden"}))
        self.picture = LivePicture(self.chart)
        self.picture.show(self.sentence)

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
            self.verdict_line.value = ""
            return
        self.failure, self.failure_line.value = "", ""
        self.sentence = "\n".join(_plain(verdict) for verdict in verdicts)
        self.verdict_line.value = "".join(_marked_up(verdict) for verdict in verdicts)


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
        self.canvas.draw()
        self.figure.set_layout_engine("none")
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
        pixels = np.asarray(self.canvas.buffer_rgba())[..., :3]
        out = io.BytesIO()
        PIL.Image.fromarray(pixels).save(out, "PNG", compress_level=1)
        return out.getvalue()

    def show(self, words: str) -> None:
        """Put the picture into the page; `words` stand for it where pictures are not shown."""
        if "VOILA_KERNEL_ID" in os.environ or "VANPOWER_IMAGE_WIDGET" in os.environ:
            layout = {"width": "700px", "max_width": "100%", "height": "auto"}
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


def _marked_up(verdict: Verdict) -> str:
    """A verdict as a paragraph: the answer, the numbers, what can hurt."""
    caution = f" <b>{html.escape(verdict.caution)}</b>" if verdict.caution else ""
    question, sentence = html.escape(verdict.question), html.escape(verdict.sentence)
    words = f"{question} <b>{verdict.answer.upper()}.</b> {sentence}{caution}"
    return f"<p role='status' style='margin:0.2em 0; line-height:1.35'>{words}</p>"


def _labelled(control: ipywidgets.ValueWidget) -> ipywidgets.Widget:
    """A control below its label; a slider gets a box that takes the number typed and has a label of its own."""
    wide = {"width": "100%", "margin": "0"}
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        control.style.description_width = "initial"
        control.layout = wide
        return control
    kind = ipywidgets.BoundedIntText if isinstance(control, ipywidgets.IntSlider) else ipywidgets.BoundedFloatText
    box = kind(
        description=control.description, min=control.min, max=control.max, step=control.step, value=control.value,
        style={"description_width": "initial"}, layout={"width": "100%", "margin": "0"},
    )  # fmt: skip
    control.description, control.readout, control.layout = "", False, wide
    ipywidgets.jslink((control, "value"), (box, "value"))
    return ipywidgets.VBox([box, control], layout={"width": "100%", "overflow": "hidden"})
