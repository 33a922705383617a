"""Sliders under a chart: labels, the verdict as a sentence, and a picture that follows the drag.

Knows ipywidgets and IPython, and no physics: it is given a function that answers and a chart that is told the answer.
Controls stand in a row that a narrow screen breaks into a column. Left out: any other layout.
"""

from __future__ import annotations

import base64
import html
import math
import os
import re
import textwrap
import time
import zlib
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Any, Protocol

import ipywidgets
import numpy as np
from IPython.display import display
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure

from vanpower.checks import Checks
from vanpower.results.verdict import Verdict

SLOW_S = 0.3
# [s] an answer that takes longer waits until the slider is let go; no source
DPI = 100
# [pixels per inch] of a live picture, as a still one has; 120 take 1.2 times as long from key to picture
BREAKS_PX = 620
# [pixel] where a page is narrower, two charts that stand side by side go one under the other
PACKED = 2
# how hard a live picture is packed, 1 to 9; more takes longer than it saves
PRINTED = 76
# characters of a printed line, as wide as a notebook shows without breaking it
CONTROL = {"max_width": "30em", "width": "auto", "margin": "0 1em 4px 0"}
NARROWEST_EM, LETTER_EM, BOX_EM = 15.0, 0.56, 7.0
# [em] least width of a control; of a letter of its label; of the box beside the label
SENTENCES = {"width": "100%", "max_width": "60em", "margin": "0"}
# how wide a control and the sentences get
LEAST_LETTER, NOTE_LETTER, LETTER_WIDE = 8.5, 12, 0.605
# [pixel] least size of a table's letters, size of those of the note below it; [em] width of a letter of equal widths
WHOLE_LINE, WIDEST_LINE = 56, 100
# characters of a line that a telephone held upright shows in the least letters, and that a desk shows
HANGS, FARTHEST = 4, 24
# characters by which the rest of a broken line is set in, and the farthest column that it is set under instead
BOX = "display:inline-block; vertical-align:top; box-sizing:border-box; width:100%"
# a line that may break; an end of line after it keeps it a line where styles are dropped, or text is copied
EQUAL_WIDTHS = "font-family:var(--jp-code-font-family, monospace)"
# letters of a table; a page for a class would take those of its words
BREAKS = "word-break:normal; overflow-wrap:anywhere"
# between words, and within one that is too long
BESIDE = "0 0 0 6px"
# room between the bar that marks a cell and the words, as code and text have it
PARAGRAPH = "margin:0.2em 0; line-height:1.35"


WORD = re.compile("[^ ]* +|[^ ]+")
# a word and the spaces behind it
MOST_WORDS = 2000
# words and sizes kept for a picture, some 2 kB each
MOST_FRAMES = 8
# backgrounds kept for a picture, some 2 MB each
MARGIN = 8
# [pixels] room for a letter that reaches out to the left
Stamp = tuple[int, int, np.ndarray]
# where pixels belong, from where a word begins to the right and upwards, and the pixels


class LiveChart(Protocol):
    """What `explore` needs of a chart; those of `figures` are such."""

    moving: list[Artist]
    frame: tuple[Any, ...]

    @property
    def figure(self) -> Figure:
        """What it draws on."""

    def update(self, result: Any) -> None:
        """Show another answer."""


class _Unechoed:
    """A control whose moves are not sent back to the page that made them: the picture is there some 6 ms sooner.

    Left out: a second page on the same kernel sees the picture move, and not the control.
    """

    def trait_metadata(self, traitname: str, key: str, default: Any = None) -> Any:
        """As the control has it, but for the echo."""
        return False if key == "echo_update" else super().trait_metadata(traitname, key, default)  # type: ignore[misc]


class WholeSlider(_Unechoed, ipywidgets.IntSlider):
    """A slider over whole numbers."""


class Slider(_Unechoed, ipywidgets.FloatSlider):
    """A slider over numbers."""


class WholeBox(_Unechoed, ipywidgets.BoundedIntText):
    """A box for a whole number, beside a slider."""


class Box(_Unechoed, ipywidgets.BoundedFloatText):
    """A box for a number, beside a slider."""


def slider(label: str, low: float, high: float, start: float, step: float = 1) -> ipywidgets.ValueWidget:
    """A slider over numbers; the label carries the unit. Whole numbers where all four are whole.

    Parameters
    ----------
    label : str
        What it sets, with its unit: "Light (W/m²)".
    low, high, start, step : float
        Both ends, where it stands at first, and the distance of two places, in that unit.

    Raises
    ------
    TraitError
        Where the low end lies above the high one.

    Examples
    --------
    >>> slider("Light (W/m²)", 10, 1000, start=200, step=10).value
    200
    >>> slider("Battery (V)", 12, 14.6, start=13.3, step=0.1).value
    13.3
    """
    whole = all(float(number).is_integer() for number in (low, high, start, step))
    kind, number = (WholeSlider, int) if whole else (Slider, float)
    return kind(description=label, min=number(low), max=number(high), value=number(start), step=number(step))


def choice(label: str, options: Mapping[str, Any] | Iterable[str], start: Any = None) -> ipywidgets.ValueWidget:
    """A list to choose from: words, or words and what each stands for.

    Parameters
    ----------
    label : str
        What it sets.
    options : iterable of str, or mapping of str to anything
        Words, or words and the values that the answer is given for them.
    start : object, optional
        One of the values; the first one where it is none of them.

    Examples
    --------
    >>> choice("Panel P1", {"sound": None, "leaks": 30.0}, start=30.0).label
    'leaks'
    """
    pairs = list(options.items()) if isinstance(options, Mapping) else [(word, word) for word in options]
    values = [value for _, value in pairs]
    index = values.index(start) if start in values else 0
    return ipywidgets.Dropdown(description=label, options=pairs, index=index)


def explore(answer: Callable[..., Any], chart: LiveChart, **controls: ipywidgets.ValueWidget) -> Explorer:
    """Show controls, the verdict in words and the chart, and answer anew at every move.

    Parameters
    ----------
    answer : callable
        Takes the controls' values by name. Gives a result with a `verdict`, or the result and its verdicts as a
        pair (result, verdict) or (result, (verdict, verdict)).
    chart : LiveChart
        Told every result by `update`.
    **controls
        Widgets with a value, such as `slider` and `choice` make.

    Returns
    -------
    Explorer
        With the latest `result` and `sentence`. What an answer raises is said in the page and stands in `failure`.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> from vanpower.figures import PowerChart
    >>> def answer(light):
    ...     return compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15))
    >>> live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))  # doctest: +ELLIPSIS
    VBox(...
    >>> live.controls["light"].value = 10
    >>> live.result.outcomes["2s"].energy_wh < 2
    True
    """
    explorer = Explorer(answer, chart, controls)
    explorer.show()
    return explorer


def say(*parts: Verdict | str) -> None:
    """Show verdicts and words as one paragraph that breaks between words, on paper, in a browser and on a phone.

    Examples
    --------
    >>> say("No difference.")  # doctest: +ELLIPSIS
    {'text/html': ..., 'text/plain': 'No difference.'}
    """
    plain = _glued(" ".join(part if isinstance(part, str) else _plain(part) for part in parts))
    words = " ".join(html.escape(part) if isinstance(part, str) else part.in_html() for part in parts)
    shown = f"<p style='{PARAGRAPH}; max-width:44em'>{_glued(words)}</p>"
    lines = textwrap.fill(plain, PRINTED, break_on_hyphens=False).replace("\N{NO-BREAK SPACE}", " ")
    display({"text/html": shown, "text/plain": lines}, raw=True)


def rows(text: str) -> None:
    """Show a table or a file. Where the page is narrow its letters shrink, and from a least size on a long line breaks
    within its last column. What stands in brackets below a table breaks between words.

    Examples
    --------
    >>> rows("2s  43 W")  # doctest: +ELLIPSIS
    {'text/html': ..., 'text/plain': '2s  43 W'}
    """
    table, bracket, below = text.partition("\n(")
    if not below.rstrip().endswith(")"):
        table, bracket, below = text, "", ""
    lines = table.split("\n")
    wide = min(max(map(len, lines)), WIDEST_LINE)
    size = f"max({LEAST_LETTER}px, min(1em, {100 / (LETTER_WIDE * max(wide, 1)):.2f}cqw))"
    set_lines = "\n".join(map(_line, lines))
    shown = (
        f"<div style='container-type:inline-size'><pre style='margin:0; {EQUAL_WIDTHS}; white-space:pre-wrap; "
        f"{BREAKS}; font-size:{size}'>{set_lines}</pre></div>"
    )
    if below:
        note = html.escape(bracket.strip() + " ".join(below.split()))
        shown += f"<p style='{PARAGRAPH}; max-width:44em; font-size:{NOTE_LETTER}px'>{note}</p>"
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
        self.values = {name: control.value for name, control in self.controls.items()}
        started = time.perf_counter()
        self._answer()
        self.slow = time.perf_counter() - started > SLOW_S and self._took_long_again()
        for name, control in self.controls.items():
            control.observe(partial(self._moved, name), names="value")
            if self.slow and hasattr(control, "continuous_update"):
                control.continuous_update = False

    def show(self) -> None:
        """Display the controls and sentences, and the picture below them."""
        rows = [_labelled(control, partial(self._moved, name)) for name, control in self.controls.items()]
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

    def _moved(self, name: str, change: Mapping[str, Any]) -> None:
        """One move of one control. A slider and its box both tell of it, and the first to do so is answered."""
        if change["new"] == self.values[name]:
            return
        self.values[name] = change["new"]
        if self.slow:
            self.verdict_line.value = "<p role='status'>Working &hellip;</p>"
        self._answer()

    def _answer(self) -> None:
        """Work out the result, draw it and say it. Whatever fails is said, since nobody would see it otherwise."""
        try:
            self.result, verdicts = _split(self.answer(**self.values))
            self.chart.update(self.result)
            sentence = "\n".join(map(_plain, verdicts))
            shown = self.picture.shown(sentence) if self.picture is not None else {}
        except Exception as problem:
            self.failure = f"{type(problem).__name__}: {problem}"
            words = f"This setting gives no answer. {html.escape(str(problem) or type(problem).__name__)}"
            self.failure_line.value = f"<p role='alert' style='margin:0'><b>{words}</b></p>"
            self.verdict_line.value = self.details.value = ""
            return
        self.sentence, self.failure, self.failure_line.value = sentence, "", ""
        self._say(verdicts)
        if self.picture is not None:
            self.picture.refresh(shown)

    def _say(self, verdicts: tuple[Verdict, ...]) -> None:
        """The words, sent when the picture is ready: a page takes both in one go sooner than one after the other."""
        sentences = "".join(_paragraph(verdict.in_html()) for verdict in verdicts)
        several = len(verdicts) > 1
        self.verdict_line.value = _paragraph(" &middot; ".join(map(_head, verdicts))) if several else sentences
        self.details.value = sentences if several else ""


class LivePicture:
    """A chart as a picture in the page; what moves is redrawn over a background that is kept as long as `frame` tells.

    Notes
    -----
    The picture goes out as a display that is updated, so that a stored notebook keeps it. Voila ignores updates of a
    display; there, and where the environment variable VANPOWER_IMAGE_WIDGET is set, a widget carries it. A chart whose
    `parts` are two stands in a page as two pictures, one under the other where they would be narrower than `BREAKS_PX`.
    """

    def __init__(self, chart: LiveChart) -> None:
        self.chart, self.figure = chart, chart.figure
        self.figure.set_dpi(DPI)
        self.canvas = WordsKept(self.figure)
        self._lay_out()
        self.cut = _gap(self.figure) if getattr(chart, "parts", 1) > 1 else None
        self.handle: Any = None
        self.widget: ipywidgets.Image | ipywidgets.HTML | None = None
        self.backgrounds: dict[tuple[Any, ...], Any] = {}

    def png(self) -> bytes:
        """The chart as it is now."""
        return png_of(self._drawn())

    def shown(self, words: str) -> dict[str, Any]:
        """The chart as it is now, as a page shows it: one picture or its parts, and `words` that stand for it."""
        pixels = self._drawn()
        if self.cut is None:
            return {"image/png": png_of(pixels), "text/plain": words}
        return {"text/html": _in_parts(pixels, self.cut, words), "text/plain": words}

    def show(self, words: str) -> None:
        """Put the picture into the page; `words` stand for it where pictures are not shown."""
        shown = self.shown(words)
        if "VOILA_KERNEL_ID" not in os.environ and "VANPOWER_IMAGE_WIDGET" not in os.environ:
            # a stored page keeps the whole of two parts as well, for readers that show pictures only
            whole = {} if self.cut is None else {"image/png": self.png()}
            self.handle = display(_sent(whole | shown), raw=True, display_id=True)
            return
        if self.cut is None:
            layout = {"width": "700px", "max_width": "100%", "height": "auto", "margin": "0"}
            self.widget = ipywidgets.Image(format="png", value=shown["image/png"], layout=layout)
        else:
            self.widget = ipywidgets.HTML(_as_wide_as_its_page(shown), layout={"width": "100%", "margin": "0"})
        display(self.widget)

    def refresh(self, shown: dict[str, Any]) -> None:
        """Put another picture and other words in their place."""
        if self.widget is not None:
            self.widget.value = shown["image/png"] if self.cut is None else _as_wide_as_its_page(shown)
        elif self.handle is not None:
            self.handle.update(_sent(shown), raw=True)

    def _drawn(self) -> np.ndarray:
        """Pixels of the chart as it is now (row, column, 4)."""
        self.canvas.restore_region(self._background())  # type: ignore[attr-defined]
        for artist in sorted(self.chart.moving, key=lambda artist: artist.get_zorder()):
            self.figure.draw_artist(artist)
        return np.asarray(self.canvas.buffer_rgba())

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

    def _background(self) -> Any:
        """What stands still, drawn where it is new and kept for when the chart comes back to it."""
        frame = self.chart.frame
        if frame not in self.backgrounds:
            if len(self.backgrounds) >= MOST_FRAMES:
                del self.backgrounds[next(iter(self.backgrounds))]
            for artist in self.chart.moving:
                artist.set_animated(True)
            self.canvas.draw()
            self.backgrounds[frame] = self.canvas.copy_from_bbox(self.figure.bbox)  # type: ignore[attr-defined]
        return self.backgrounds[frame]


class WordsKept(FigureCanvasAgg):
    """What a live picture is drawn on: it keeps the words it has drawn."""

    def get_renderer(self) -> WordsRenderer:
        """The one renderer for as long as the figure keeps its size."""
        size = (*self.get_width_height(physical=True), self.figure.dpi)
        if getattr(self, "renderer", None) is None or self.renderer.size != size:
            self.renderer = WordsRenderer(*size)
        return self.renderer


class WordsRenderer(RendererAgg):
    """Puts words down as pixels, each word drawn once and kept.

    Laying words out and drawing them is most of the work of a picture, and few of them change at a move: of a
    sentence the numbers. Letters stand at whole pixels from where their word begins, kerning apart, so a word looks the
    same wherever it begins at the same fraction of a pixel. Words that are turned or hold formulas are not kept.

    Parameters
    ----------
    wide, high : float
        Size of the picture. [pixel]
    dpi : float
        Pixels per inch.
    """

    def __init__(self, wide: float, high: float, dpi: float) -> None:
        super().__init__(wide, high, dpi)
        self.size = (wide, high, dpi)
        self.empty = RendererAgg(wide, high, dpi)
        self.nothing = self._colours()[0, 0]
        self.kept: dict[tuple[Any, ...], Any] = {}

    def draw_text(
        self, gc: Any, x: float, y: float, s: str, prop: Any, angle: float, ismath: Any = False, mtext: Any = None
    ) -> None:
        """Put a line down, word by word."""
        if angle or ismath:
            super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
            return
        for word in WORD.findall(s):
            self._put(gc, x, y, word, prop)
            x += self._measured(word, prop)[0]

    def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> tuple[float, float, float]:
        """Size of a line from the sizes of its words."""
        if ismath or not s:
            return super().get_text_width_height_descent(s, prop, ismath)
        widths, heights, descents = zip(*(self._measured(word, prop) for word in WORD.findall(s)), strict=True)
        descent = max(descents)
        return sum(widths), max(h - d for h, d in zip(heights, descents, strict=True)) + descent, descent

    def _measured(self, word: str, prop: Any) -> tuple[float, float, float]:
        """Width, height and descent of a word with the space behind it. [pixel]"""
        measure = super().get_text_width_height_descent
        return self._keep((word, prop), lambda: measure(word, prop, False))

    def _put(self, gc: Any, x: float, y: float, word: str, prop: Any) -> None:
        """Put a word down where its first letter belongs."""
        left, low = math.floor(x), math.floor(y)
        look = (word, prop, x - left, y - low, gc.get_rgb())
        right, up, pixels = self._keep(look, lambda: self._drawn(gc, x - left, y - low, word, prop))
        self.draw_image(self.new_gc(), left + right, self.height - low + up, pixels)

    def _keep(self, key: tuple[Any, ...], made: Callable[[], Any]) -> Any:
        """What was made for this key, made now where it is not there."""
        if key not in self.kept:
            if len(self.kept) >= MOST_WORDS:
                self.kept.clear()
            self.kept[key] = made()
        return self.kept[key]

    def _drawn(self, gc: Any, x: float, y: float, word: str, prop: Any) -> Stamp:
        """A word on an empty picture, of which only its own box is kept."""
        self.empty.clear()
        middle = self.height // 2
        self.empty.draw_text(gc, MARGIN + x, middle + y, word, prop, 0)
        drawn = self._colours() != self.nothing
        rows = np.flatnonzero(drawn.any(axis=1))
        if not rows.size:
            return 0, 0, np.zeros((0, 0, 4), np.uint8)
        columns = np.flatnonzero(drawn[rows].any(axis=0))
        top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
        # a renderer counts from the lowest row and takes the lowest row first
        pixels = np.asarray(self.empty.buffer_rgba())[top:bottom, left:right][::-1].copy()
        return left - MARGIN, middle - bottom, pixels

    def _colours(self) -> np.ndarray:
        """The empty picture, a number a pixel (row, column)."""
        return np.asarray(self.empty.buffer_rgba()).view(np.uint32)[..., 0]


def _sent(shown: dict[str, Any]) -> dict[str, str]:
    """What a page shows as a display carries it, bytes as letters."""
    return {
        kind: base64.b64encode(each).decode("ascii") if isinstance(each, bytes) else each
        for kind, each in shown.items()
    }


def _in_parts(pixels: np.ndarray, cut: int, words: str) -> str:
    """A picture in two parts, which a narrow page puts one under the other."""
    wide = pixels.shape[1]
    parts = []
    for part, alt in ((pixels[:, :cut], words), (pixels[:, cut:], "")):
        share = part.shape[1] / wide
        source = base64.b64encode(png_of(part)).decode("ascii")
        style = f"flex:{share:.4f} 1 {share * BREAKS_PX:.0f}px; min-width:0; margin:0"
        parts.append(f'<img style="{style}" alt="{html.escape(alt)}" src="data:image/png;base64,{source}">')
    box = f"display:flex; flex-wrap:wrap; align-items:flex-start; max-width:{wide}px"
    return f'<div style="{box}">{"".join(parts)}</div>'


def _as_wide_as_its_page(shown: dict[str, Any]) -> str:
    """Parts in a box of the page's width; a widget alone would be as wide as both side by side."""
    return f'<div style="width:0; min-width:100%">{shown["text/html"]}</div>'


def png_of(pixels: np.ndarray) -> bytes:
    """Pixels as a picture file, quickly: charts are large even areas, which need no filter before they are packed.

    Parameters
    ----------
    pixels : ndarray (row, column, 4)
        Red, green, blue and opacity, whole numbers up to 255.

    Notes
    -----
    ISO/IEC 15948 (PNG): a header, the rows, each after a byte for its filter (0, none), and an end.
    """
    high, wide, depth = pixels.shape
    rows = np.zeros((high, wide * depth + 1), np.uint8)
    rows[:, 1:] = pixels.reshape(high, -1)
    header = wide.to_bytes(4) + high.to_bytes(4) + bytes([8, 6, 0, 0, 0])
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(rows.data, PACKED)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, data) for name, data in parts)


def _chunk(name: bytes, data: bytes) -> bytes:
    """A part of a picture file: its length, name, content and check sum."""
    return len(data).to_bytes(4) + name + data + zlib.crc32(name + data).to_bytes(4)


def _gap(figure: Figure) -> int:
    """The column of pixels midway between two charts that stand side by side."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    left, right = (ax.get_tightbbox(renderer) for ax in figure.axes[:2])
    assert left is not None
    assert right is not None
    return round((left.x1 + right.x0) / 2)


def _line(line: str) -> str:
    """A line in HTML; a long one is a box of its own, whose rest stands under its last column or a little set in."""
    if len(line) <= WHOLE_LINE:
        return html.escape(line)
    columns = [gap.end() for gap in re.finditer(r"(?<=\S) {2,}", line)]
    hang = columns[-1] if columns and columns[-1] <= FARTHEST else HANGS
    style = f"{BOX}; padding-left:{hang}ch; text-indent:-{hang}ch"
    return f"<span style='{style}'>{html.escape(line)}</span>"


def _split(given: Any) -> tuple[Any, tuple[Verdict, ...]]:
    """The result and its verdicts."""
    several = given if isinstance(given, Checks) else None
    result, verdicts = given if isinstance(given, tuple) else (given, several or given.verdict)
    return result, (verdicts,) if isinstance(verdicts, Verdict) else tuple(verdicts)


def _plain(verdict: Verdict) -> str:
    """A verdict in a line of plain text."""
    parts = (verdict.question, f"{verdict.answer.upper()}.", verdict.sentence, verdict.caution)
    return " ".join(part for part in parts if part)


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


def _labelled(control: ipywidgets.ValueWidget, moved: Callable[[Any], None]) -> ipywidgets.Widget:
    """A control below its label; a slider gets a box that takes the number typed and has a label of its own.

    The page moves slider and box together and tells of the box first.
    """
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        control.style.description_width = "initial"
        control.layout = _wide_enough(control.description)
        return control
    layout = _wide_enough(control.description) | {"overflow": "hidden"}
    kind = WholeBox if isinstance(control, ipywidgets.IntSlider) else Box
    box = kind(
        description=control.description, min=control.min, max=control.max, step=control.step, value=control.value,
        style={"description_width": "initial"}, layout={"width": "100%", "margin": "0"},
    )  # fmt: skip
    control.description, control.readout, control.layout = "", False, {"width": "100%", "margin": "0"}
    ipywidgets.jslink((control, "value"), (box, "value"))
    box.observe(moved, names="value")
    return ipywidgets.VBox([box, control], layout=layout)


def _wide_enough(label: str) -> dict[str, str]:
    """How wide a control gets: its label is never cut, and a row holds as many as fit."""
    width = f"{max(NARROWEST_EM, LETTER_EM * len(label) + BOX_EM):.1f}em"
    return CONTROL | {"flex": f"1 1 {width}", "min_width": f"min({width}, 100%)"}
