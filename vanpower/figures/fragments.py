"""A chart as SVG in two parts: what stands still, and what moves as a fragment that is laid over it.

A fragment is small and quick to draw, sharp at every size, and the same on a live page and in a file that is sent.
Both parts use the same numbers for letters and clip paths, so either may be replaced alone.
Left out: letters as outlines; they come from the reader's fonts, which may be a tenth wider than matplotlib's.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from vanpower.figures.style import lay_out

POINTS = 72
# [per inch] what SVG measures in
SAME: dict[Any, Any] = {"svg.fonttype": "none", "svg.hashsalt": "vanpower"}
# letters stay letters; clip paths of both parts have the same names
METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
LOOK = re.compile(r"\s*<defs>\s*<style.*?</style>\s*</defs>", re.DOTALL)
# of all strokes of a page; once, in the still part: a browser that is given it anew looks at every element of the page
NUMBER = re.compile(r'>[^<]+<|style="[^"]*"|(-?\d+\.\d+)')
# coordinates, said to a tenth of a point; words and styles keep their numbers


class Fragment(RendererSVG):
    """Draws what moves; sizes of words are kept from one fragment to the next."""

    def get_text_width_height_descent(self, s: str, prop: FontProperties, ismath: Any) -> tuple[float, float, float]:
        """Size of words. [pt]"""
        return _measured(s, prop) if not ismath else super().get_text_width_height_descent(s, prop, ismath)

    def _get_font_height_metrics(self, prop: FontProperties) -> tuple[float, float, float]:
        """How far a font reaches over and under its line, and the gap between lines; read once. [pt]"""
        ascent, descent, gap = _reach(prop)
        return ascent * prop.get_size_in_points(), descent * prop.get_size_in_points(), gap * prop.get_size_in_points()

    def draw_markers(
        self, gc: Any, marker_path: Path, marker_trans: Any, path: Path, trans: Any, rgbFace: Any = None,
    ) -> None:  # fmt: skip
        """Draw marks at the corners of one line: a third of the letters of a year of days, and one thing to lay out."""
        outline = self._convert_path(marker_path, marker_trans + Affine2D().scale(1.0, -1.0), simplify=False)
        name = self._make_id("m", outline + (look := self._get_style(gc, rgbFace)))
        self.writer.start("marker", id=name, markerUnits="userSpaceOnUse", style="overflow: visible")
        self.writer.element("path", d=outline, style=look)
        self.writer.end("marker")
        at = self._make_flip_transform(trans).transform(path.vertices)
        places = " ".join(f"{x:.1f},{y:.1f}" for x, y in at[np.isfinite(at).all(axis=1)])
        line = {"points": places, "style": f"fill: none; stroke: none; marker: url(#{name})"}
        self.writer.element("polyline", **line, **self._get_clip_attrs(gc))

    def draw_path_collection(
        self, gc: Any, master_transform: Any, paths: Any, all_transforms: Any, offsets: Any, offset_trans: Any,
        facecolors: Any, *looks: Any, **more: Any,
    ) -> None:  # fmt: skip
        """Draw shapes, and those that follow one another in one colour as one, as cells of a roof do."""
        apart = len(all_transforms) or len(offsets) > 1 or any(len(look) > 1 for look in looks[:3])
        if len(facecolors) == len(paths) > 1 and not apart:
            runs = _runs(np.asarray(facecolors))
            paths = [Path.make_compound_path(*(paths[k] for k in run)) for run in runs]
            facecolors = facecolors[[run[0] for run in runs]]
        super().draw_path_collection(gc, master_transform, paths, all_transforms, offsets, offset_trans, facecolors,
                                     *looks, **more)  # fmt: skip


def _runs(rows: np.ndarray) -> list[np.ndarray]:
    """Places of rows that follow one another and are alike.

    Examples
    --------
    >>> [run.tolist() for run in _runs(np.array([[1, 0], [1, 0], [0, 0]]))]
    [[0, 1], [2]]
    """
    return np.split(np.arange(len(rows)), np.flatnonzero((rows[1:] != rows[:-1]).any(axis=1)) + 1)


@lru_cache(maxsize=64)
def _reach(prop: FontProperties) -> tuple[float, float, float]:
    """What a font's own table says of lines: reach over and under, and the gap, in sizes of its letters."""
    font = get_font(findfont(prop))
    table, head = font.get_sfnt_table("OS/2"), font.get_sfnt_table("head")
    assert table is not None
    assert head is not None
    reach = table["sTypoAscender"], -table["sTypoDescender"], table["sTypoLineGap"]
    ascent, descent, gap = (part / head["unitsPerEm"] for part in reach)
    return ascent, descent, gap


@lru_cache(maxsize=2048)
def _measured(words: str, prop: FontProperties) -> tuple[float, float, float]:
    """Width, height and descent of words. [pt]"""
    return text_to_path.get_text_width_height_descent(words, prop, ismath=False)


def still_svg(figure: Figure, moving: Sequence[Artist] = ()) -> str:
    """The figure without its moving artists, as an SVG element.

    Parameters
    ----------
    figure : Figure
        What is drawn.
    moving : sequence of Artist
        What `moving_svg` draws instead.

    Returns
    -------
    str
        An `<svg>` element with a viewBox in points, to be shown at any size.
    """
    lay_out(figure)
    animated, dpi, canvas = [artist.get_animated() for artist in moving], figure.dpi, figure.canvas
    for artist in moving:
        # left out of the drawing, and not hidden: a title that is hidden is moved away
        artist.set_animated(True)
    try:
        with mpl.rc_context(SAME):
            out = io.StringIO()
            FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None})
    finally:
        for artist, before in zip(moving, animated, strict=True):
            artist.set_animated(before)
        # to draw SVG leaves a figure with its own canvas and dots
        figure.dpi = dpi
        figure.set_canvas(canvas)
    return _rounded("<svg" + out.getvalue().split("<svg", 1)[1])


def moving_svg(figure: Figure, moving: Sequence[Artist]) -> str:
    """The moving artists alone, as the inside of an SVG element of the figure's size.

    Parameters
    ----------
    figure : Figure
        What they belong to; it must have been laid out, as `still_svg` does.
    moving : sequence of Artist
        What is drawn.

    Returns
    -------
    str
        SVG elements to be put into `<g>` over the still part.
    """
    dpi, out = figure.dpi, io.StringIO()
    figure.dpi = POINTS
    # two settings alone: a context of matplotlib's keeps a copy of them all, which takes as long as ten lines
    before = {name: mpl.rcParams[name] for name in SAME}
    mpl.rcParams.update(SAME)
    try:
        width, height = figure.get_size_inches() * POINTS
        renderer = Fragment(width, height, out, image_dpi=POINTS)
        for artist in sorted(moving, key=lambda artist: artist.get_zorder()):
            artist.draw(renderer)
        renderer.finalize()
    finally:
        mpl.rcParams.update(before)
        figure.dpi = dpi
    inside = out.getvalue().split("<svg", 1)[1].split(">", 1)[1].replace("</svg>", "")
    return _rounded(LOOK.sub("", inside, count=1))


def _rounded(text: str) -> str:
    """With coordinates to a tenth of a point, and without what only tells when it was made."""
    text = METADATA.sub("", text)
    return NUMBER.sub(lambda found: f"{float(found[1]):.1f}" if found[1] else found[0], text)
