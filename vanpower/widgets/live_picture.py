"""A chart as a picture in a page that follows a drag and can be touched; a stored notebook keeps it as a file."""

from __future__ import annotations

import base64
import html
import os
import zlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

import anywidget
import numpy as np
import traitlets
from IPython.display import display
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from vanpower.figures.fragments import moving_svg, still_svg
from vanpower.figures.handles import Handle
from vanpower.figures.style import FONT
from vanpower.figures.touchable import touchable

LIVE_PAGE = "VANPOWER_LIVE_PAGE"
# environment of a page that nobody stores, so that no picture is drawn for its file
DPI = 100
# [pixels per inch] of the picture that is stored, as a still one has
BREAKS_PX = 620
# [pixel] where a page is narrower, two charts that stand side by side go one under the other
TALLEST_VH = 56
# [% of the window's height] that a picture takes at most, so that controls and verdict are seen with it; no source
NARROW_PX = 560
# [pixel] between the two widths that charts are made for: where a page is narrower, a chart takes its layout for
# phones, and is scrolled rather than made smaller than the page
PACKED = 2
# how hard a stored picture is packed, 1 to 9; more takes longer than it saves
MOST_FRAMES = 8
# still parts kept for a picture, some 40 kB each
ABOVE = 0.08
# [inch] left free above what is drawn where a title is left out
WIDGET = "application/vnd.jupyter.widget-view+json"
# what a page knows a live picture by
Touch = Callable[[str, tuple[float, float], bool], None]
# is told which handle was touched, where it is now in points of the picture, and whether it was let go


class LiveChart(Protocol):
    """What `explore` needs of a chart; those of `figures` are such. One with `handles` can be touched."""

    moving: list[Artist]
    frame: tuple[Any, ...]

    @property
    def figure(self) -> Figure:
        """What it draws on."""

    def update(self, result: Any) -> None:
        """Show another answer."""


class Picture(anywidget.AnyWidget):
    """A chart in the page: what stands still, what moves, and the handles over both."""

    _esm = Path(__file__).with_name("picture.js").read_text(encoding="utf-8")
    still = traitlets.Unicode().tag(sync=True)
    moving = traitlets.Unicode().tag(sync=True)
    handles: traitlets.List = traitlets.List().tag(sync=True)
    words = traitlets.Unicode().tag(sync=True)
    cut = traitlets.Float(0.0).tag(sync=True)
    top = traitlets.Float(0.0).tag(sync=True)
    breaks = traitlets.Int(BREAKS_PX).tag(sync=True)
    narrow = traitlets.Int(NARROW_PX).tag(sync=True)
    tallest = traitlets.Int(TALLEST_VH).tag(sync=True)
    letters = traitlets.Float(FONT).tag(sync=True)
    # [pt] of the chart's words, which those at its handles are as large as
    waits = traitlets.Bool(False).tag(sync=True)
    # told when the handle is let go, not on the way
    answered = traitlets.Int(0).tag(sync=True)
    # raised once a touch is answered, well or not; the page sends no other before
    touched = traitlets.Dict().tag(sync=True, echo_update=False)
    wide = traitlets.Int(0).tag(sync=True, echo_update=False)
    # [pixel] of the page; 0 before it has said


class Page:
    """The page that pictures of this kernel are for: its width, once it is known before they are drawn. [pixel]"""

    wide = 0


def suited(chart: LiveChart, wide: int) -> LiveChart:
    """The chart in the layout for a page of this width; itself where it has that, has but one, or no width is known.

    Examples
    --------
    >>> from vanpower.figures.kinds import live_chart
    >>> chart = live_chart("power")
    >>> suited(chart, 388) is chart, suited(chart, 1200).phone, suited(chart, 0) is chart
    (True, False, True)
    """
    phone = wide < NARROW_PX
    if not wide or getattr(chart, "phone", phone) == phone:
        return chart
    other: LiveChart = chart.laid_out(phone=phone)  # type: ignore[attr-defined]
    return other


class LivePicture:
    """A chart as a picture in the page; what moves is drawn anew over a still part kept as long as `frame` tells.

    Parameters
    ----------
    chart : LiveChart
    touch : callable, optional
        Told which handle was touched, and where it is now in points of the picture.
    wide : callable, optional
        Told how wide the page is, when that changes. [pixel]

    Notes
    -----
    A page shows SVG, sharp and as wide as itself; what it shows goes out with a picture file beside it, which a stored
    notebook keeps. A chart whose `parts` are two stands in a page as two pictures, one under the other where they would
    be narrower than `BREAKS_PX`.
    """

    def __init__(self, chart: LiveChart, touch: Touch | None = None, wide: Callable[[int], None] | None = None) -> None:
        self.touch, self.wide = touch, wide
        self.more: Callable[[], Sequence[Handle]] = tuple
        self.widget: Picture | None = None
        self.change(chart)

    def change(self, chart: LiveChart) -> None:
        """Show another chart from now on, which has been told what to show."""
        self.chart, self.figure = chart, chart.figure
        self.figure.set_dpi(DPI)
        self.canvas = FigureCanvasAgg(self.figure)
        self._lay_out()
        self.cut = _gap(self.figure) if getattr(chart, "parts", 1) > 1 else None
        # on a page the verdict stands above the picture; a stored one is shown without it, and says its finding itself
        self.repeated: list[Artist] = getattr(chart, "repeated", []) if LIVE_PAGE in os.environ else []
        self.top = _free_above(self.figure, self.repeated)
        self.stills: dict[tuple[Any, ...], str] = {}

    def png(self) -> bytes:
        """The chart as it is now, as a picture file."""
        return png_of(self._pixels())

    def shown(self, words: str, values: Mapping[str, Any]) -> dict[str, Any]:
        """The chart as it is now, as a page shows it; `words` stand for it, `values` are those of its controls."""
        return {
            "cut": 0.0 if self.cut is None else self.cut / (self.figure.get_size_inches()[0] * DPI),
            "top": self.top,
            "still": self._still(),
            "moving": moving_svg(self.figure, [one for one in self.chart.moving if one not in self.repeated]),
            "handles": self._handles(values),
            "words": words,
        }

    def show(self, words: str, values: Mapping[str, Any], *, waits: bool = False) -> None:
        """Put the picture into the page; `words` stand for it where pictures are not shown."""
        self.widget = Picture(**self.shown(words, values), waits=waits, wide=Page.wide)
        self.widget.observe(self._told, names="touched")
        if self.wide is not None:
            self.widget.observe(lambda change: self.wide(change["new"]), names="wide")
        view = (self.widget._repr_mimebundle_() or [{}])[0].get(WIDGET, {})
        display({WIDGET: view} | ({} if LIVE_PAGE in os.environ else self.stored(words)), raw=True)

    def stored(self, words: str) -> dict[str, str]:
        """The chart as it is now, as a stored page keeps it: one picture, or its parts as well."""
        pixels = self._pixels()
        bundle = {"image/png": base64.b64encode(png_of(pixels)).decode("ascii"), "text/plain": words}
        return bundle if self.cut is None else bundle | {"text/html": _in_parts(pixels, self.cut, words)}

    def refresh(self, shown: Mapping[str, Any]) -> None:
        """Put another picture and other words in their place."""
        if self.widget is not None:
            with self.widget.hold_sync():
                for name, value in shown.items():
                    setattr(self.widget, name, value)

    def _handles(self, values: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Its handles and those of guesses, where it has some and somebody is told of them."""
        if self.touch is None:
            return []
        asked = touchable(self.chart)
        own = [] if asked is None else asked.handles(values)
        return [handle.as_sent() for handle in (*own, *self.more())]

    def _told(self, change: Mapping[str, Any]) -> None:
        """A touch, answered or not: the page may send the next."""
        said = change["new"]
        assert self.widget is not None
        assert self.touch is not None
        with self.widget.hold_sync():
            try:
                self.touch(str(said["key"]), (float(said["x"]), float(said["y"])), bool(said["done"]))
            finally:
                self.widget.answered += 1

    def _still(self) -> str:
        """What stands still, drawn where it is new and kept for when the chart comes back to it."""
        frame = self.chart.frame
        if frame not in self.stills:
            if len(self.stills) >= MOST_FRAMES:
                del self.stills[next(iter(self.stills))]
            self.stills[frame] = still_svg(self.figure, self.chart.moving)
        return self.stills[frame]

    def _pixels(self) -> np.ndarray:
        """Pixels of the chart as it is now (row, column, 4)."""
        canvas = FigureCanvasAgg(self.figure)
        canvas.draw()
        return np.asarray(canvas.buffer_rgba())

    def _lay_out(self) -> None:
        """Lay the figure out once and for all, with room for titles of two lines however short the first ones are."""
        titles = [ax._left_title for ax in self.figure.axes]  # type: ignore[attr-defined]
        said = [title.get_text() for title in titles]
        for title, words in zip(titles, said, strict=True):
            title.set_text(words if "\n" in words or not words else f" \n{words}")
        if (engine := self.figure.get_layout_engine()) is not None:
            engine.execute(self.figure)
        self.figure.set_layout_engine("none")
        for title, words in zip(titles, said, strict=True):
            title.set_text(words)


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


def _free_above(figure: Figure, repeated: Sequence[Artist]) -> float:
    """The share of a figure's height that is free above it without titles that a page does not repeat."""
    titles = [one for one in repeated if isinstance(one, Text)]
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    with_titles, said = figure.get_tightbbox(renderer).y1, [title.get_text() for title in titles]
    for title in titles:
        title.set_text("")
    without = figure.get_tightbbox(renderer).y1
    for title, words in zip(titles, said, strict=True):
        title.set_text(words)
    high = float(figure.get_size_inches()[1])
    return max(0.0, (high - without - ABOVE) / high) if without < with_titles else 0.0


def _gap(figure: Figure) -> int:
    """The column of pixels midway between two charts that stand side by side."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    left, right = (ax.get_tightbbox(renderer) for ax in figure.axes[:2])
    assert left is not None
    assert right is not None
    return round((left.x1 + right.x0) / 2)
