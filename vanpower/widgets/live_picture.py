"""A chart as a picture in a page that follows a drag: what stands still is kept, and so are words once drawn."""

from __future__ import annotations

import base64
import html
import math
import os
import re
import zlib
from collections.abc import Callable
from typing import Any, Protocol

import ipywidgets
import numpy as np
from IPython.display import display
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure

DPI = 100
# [pixels per inch] of a live picture, as a still one has; 120 take 1.2 times as long from key to picture
BREAKS_PX = 620
# [pixel] where a page is narrower, two charts that stand side by side go one under the other
PACKED = 2
# how hard a live picture is packed, 1 to 9; more takes longer than it saves
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
