"""A chart as SVG in two parts: what stands still, and what moves as a fragment that is laid over it.

A fragment is small and quick to draw, sharp at every size, and the same on a live page and in a file that is sent.
Both parts use the same numbers for letters and clip paths, so either may be replaced alone.
Left out: letters as outlines; they come from the reader's fonts, which may be a tenth wider than matplotlib's.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.artist import Artist
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure

POINTS = 72
# [per inch] what SVG measures in
SAME: dict[Any, Any] = {"svg.fonttype": "none", "svg.hashsalt": "vanpower"}
# letters stay letters; clip paths of both parts have the same names
NUMBER = re.compile(r"-?\d+\.\d+")
TAG = re.compile(r"<[^<>]+>")
# coordinates stand in tags and are said to a tenth of a point; words between tags keep their digits


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
    shown = [artist.get_visible() for artist in moving]
    for artist in moving:
        artist.set_visible(False)
    try:
        with mpl.rc_context(SAME):
            out = io.StringIO()
            FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None})
    finally:
        for artist, visible in zip(moving, shown, strict=True):
            artist.set_visible(visible)
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
    try:
        with mpl.rc_context(SAME):
            width, height = figure.get_size_inches() * POINTS
            renderer = RendererSVG(width, height, out, image_dpi=POINTS)
            for artist in sorted(moving, key=lambda artist: artist.get_zorder()):
                artist.draw(renderer)
            renderer.finalize()
    finally:
        figure.dpi = dpi
    return _rounded(out.getvalue().split("<svg", 1)[1].split(">", 1)[1].replace("</svg>", ""))


def _rounded(text: str) -> str:
    return TAG.sub(lambda tag: NUMBER.sub(lambda found: f"{float(found[0]):.1f}", tag[0]), text)
