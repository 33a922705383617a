"""What is drawn on a figure, in one line that does not hang on fonts, pixels or the last digits of a machine.

Numbers of a kind are weighed into one sum, so that any of them that moves moves it, while one that differs in its last
digit does not; colours are told by a digest, and words as they are. Left out: where words stand and what leads to
them, which fonts decide.
"""

from __future__ import annotations

import datetime
import hashlib
import math
from collections.abc import Iterable, Iterator

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import Collection
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text

from vanpower.figures.at_curves import LEADER

ALIKE = 1e-7
# share by which a sum may differ: powers are sought to some 1e-12 of themselves, samples between them are rougher, and
# no eye sees a ten-thousandth of a line
GOLDEN = (math.sqrt(5) - 1) / 2
# its multiples spread evenly over the unit, so that no two weights near each other are alike
BELOW_ZERO = 1.25
# times which a negative number counts, so that a sum never cancels and yet a sign is seen

BETWEEN, BETWEEN_WORDS = " | ", " / "
# parts of a line, and words of the last of them

Part = tuple[str, int, float | str]
# a name, how many, and the weighed sum, the digest or the words


def ink(figure: Figure) -> str:
    """What is drawn, in a line: each kind with how many there are and their sum or digest."""
    figure.set_dpi(100)
    figure.draw_without_rendering()
    return BETWEEN.join(f"{name} {count}: {_shown(told)}" for name, count, told in _parts(figure))


def unlike(frozen: str, now: str) -> list[str]:
    """Which parts of a line are not alike, as frozen and as they are now; of words only those that changed."""
    pairs = zip(frozen.split(BETWEEN), now.split(BETWEEN), strict=True)
    return [difference for old, new in pairs if (difference := _difference(old, new))]


def _difference(old: str, new: str) -> str:
    """How two parts differ in name, number and digest or words, or in their sums by more than `ALIKE`."""
    (head, then), (other_head, now) = (part.split(": ", 1) for part in (old, new))
    if head.startswith("words"):
        gone, come = ([word for word in one if word not in other] for one, other in _both(then, now))
        return "" if then == now else f"{head}: {gone}, now {other_head}: {come}"
    exact = then == now if head.startswith("colours") else _close(then, now)
    return "" if exact and head == other_head else f"{old}, now {new}"


def _close(then: str, now: str) -> bool:
    return math.isclose(float(then), float(now), rel_tol=ALIKE, abs_tol=ALIKE)


def _both(then: str, now: str) -> list[tuple[list[str], list[str]]]:
    """The words of two parts, either way round."""
    one, other = then.split(BETWEEN_WORDS), now.split(BETWEEN_WORDS)
    return [(one, other), (other, one)]


def _shown(told: float | str) -> str:
    return told if isinstance(told, str) else f"{told:.10g}"


def _parts(figure: Figure) -> Iterator[Part]:
    """Every kind of thing on a figure, apart from spines, ticks and grids."""
    axes = figure.axes
    lines = [line for ax in axes for line in ax.lines if line.get_label() != LEADER]
    patches = [*figure.patches, *(patch for ax in axes for patch in ax.patches)]
    collections = [some for ax in axes for some in ax.collections]
    images = [image for ax in axes for image in ax.images]
    yield "size", 2, weighed([figure.get_size_inches()])
    yield "axes", len(axes), weighed(_limits(ax) for ax in axes)
    yield "lines", len(lines), weighed(line.get_xydata() for line in lines)
    yield "patches", len(patches), weighed(_outline(patch) for patch in patches)
    yield "collections", len(collections), weighed(part for some in collections for part in _collected(some))
    yield "images", len(images), weighed(image.get_array() for image in images)
    colours = [*map(_look_of_line, lines), *map(_look_of_patch, patches), *map(_look_of_many, collections)]
    yield "colours", len(colours), digest(colours)
    words = _words(figure)
    yield "words", len(words), BETWEEN_WORDS.join(words)


def weighed(arrays: Iterable[object]) -> float:
    """All numbers of some arrays in one sum, each times a weight of its own from a half to one and a half."""
    rows = [np.ma.filled(np.ma.asarray(array, dtype=float), np.nan).ravel() for array in arrays]
    values = np.concatenate([*rows, np.zeros(0)])
    weights = 0.5 + np.arange(1, len(values) + 1) * GOLDEN % 1.0
    sized = np.where(np.isfinite(values), np.abs(values) * np.where(values < 0, BELOW_ZERO, 1.0), 1.0)
    return float((weights * sized).sum())


def digest(words: Iterable[str]) -> str:
    """A short name of a list of words that changes when any of them does."""
    return hashlib.sha256("\n".join(words).encode()).hexdigest()[:12]


def _limits(ax: Axes) -> list[float]:
    return [*ax.get_xlim(), *ax.get_ylim()]


def _outline(patch: Patch) -> object:
    return patch.get_path().transformed(patch.get_patch_transform()).vertices


def _collected(some: Collection) -> Iterator[object]:
    """Where its members stand, their outlines, and the numbers behind their colours."""
    yield some.get_offsets()
    for path in some.get_paths():
        yield path.vertices
    if some.get_array() is not None:
        yield some.get_array()


def _words(figure: Figure) -> list[str]:
    """Every text with a letter in it, as one line, without the day on which it is drawn; bare numbers are of axes."""
    texts = [text for text in figure.findobj(Text) if text.get_visible()]
    today = datetime.date.today().isoformat()
    said = [" ".join(text.get_text().replace(today, "today").split()) for text in texts]
    return [text.replace("|", "/") for text in said if any(letter.isalpha() for letter in text)]


def _look_of_line(line: Line2D) -> str:
    return f"{to_hex(line.get_color())} {line.get_linestyle()} {line.get_linewidth():g} {line.get_marker()}"


def _look_of_patch(patch: Patch) -> str:
    face, edge = (to_hex(colour, keep_alpha=True) for colour in (patch.get_facecolor(), patch.get_edgecolor()))
    return f"{face} {edge} {patch.get_hatch()}"


def _look_of_many(some: Collection) -> str:
    return " ".join(to_hex(colour, keep_alpha=True) for colour in (*some.get_facecolor(), *some.get_edgecolor()))
