"""Names at curves: words in a wiring's colour, and a leader where they do not hug what they name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.text import Text

from vanpower.figures.placing import places
from vanpower.figures.style import FONT, width_of

ROW = 15.0
# [pt] height of a name
BEHIND = {"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.75}
# behind words that may lie on lines
LEADER = "_leader"
# what a leader is called, which no legend shows: where it runs hangs on fonts
SIDES = {-1.0: "left", 0.0: "center", 1.0: "right"}
# how a name stands at its place
EDGE = 3.0
# [pt] names keep this far inside the axes


@dataclass(frozen=True, eq=False)
class Named:
    """A name at a curve and its leader."""

    words: Text
    leader: Line2D

    @property
    def parts(self) -> tuple[Artist, Artist]:
        """Both, to be moved or taken away."""
        return self.words, self.leader

    def get_text(self) -> str:
        """What it says."""
        return self.words.get_text()


def named_at(ax: Axes, said: str, colour: str) -> Named:
    """A name on some axes, still to be put in its place.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> named_at(Figure().subplots(), "2s 43 W", "#0072B2").get_text()
    '2s 43 W'
    """
    words = ax.text(0, 0, said, fontsize=FONT, weight="bold", color=colour, va="center_baseline", zorder=8, bbox=BEHIND)
    words.set_in_layout(False)
    return Named(words, ax.plot([], [], color=colour, lw=0.9, zorder=7.5, label=LEADER)[0])


def settle(
    ax: Axes, names: Sequence[Named], marks: np.ndarray, curves: np.ndarray, *, floor: float | None = None
) -> None:
    """Put names where there is room on their axes as these stand now.

    Parameters
    ----------
    ax : Axes
        With axes that are even.
    names : sequence of Named
    marks, curves : ndarray (name, 2), ndarray (point, 2)
        What each names, and points to keep clear of, as the axes count them.
    floor : float, optional
        The lowest that names may stand, as the axes count; the lower end of the axes where it is not given.
    """
    if not names:
        return
    figure = ax.get_figure(root=True)
    assert figure is not None
    place = ax.get_axes_locator()
    # axes within others are put in their place by the next drawing
    box = ax.get_position() if place is None else place(ax, None)  # type: ignore[arg-type]
    wide, high = box.size * figure.get_size_inches() * 72
    (left, right), (low, top) = ax.get_xlim(), ax.get_ylim()
    corner, scale = np.array([left, low]), np.array([wide / (right - left), high / (top - low)])
    lowest = 0.0 if floor is None else (floor - low) * scale[1]
    sizes = np.array([(72 * width_of(name.get_text(), bold=True), ROW) for name in names])
    room = (EDGE, lowest + EDGE, wide - EDGE, high - 1.0)
    found = places(sizes, (marks - corner) * scale, (curves - corner) * scale, room=room)
    for name, mark, size, spot in zip(names, marks, sizes, found, strict=True):
        middle, off = np.array(spot.middle), (mark[0] - left) * scale[0] - spot.middle[0]
        side = float(np.sign(off)) if abs(off) >= size[0] / 2 else 0.0
        # a name beside its mark begins or ends there, however wide the axes become
        anchor = middle + np.array([side * size[0] / 2, 0.0])
        name.words.set(position=anchor / scale + corner, ha=SIDES[side])
        ends = [] if spot.leader is None else [mark, np.array(spot.leader) / scale + corner]
        name.leader.set_data([end[0] for end in ends], [end[1] for end in ends])
        name.leader.set_visible(bool(ends))
