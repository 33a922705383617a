"""What somebody read, as a mark on the chart of what should be there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist

from vanpower.figures.at_curves import LEADER
from vanpower.figures.power import BEHIND, LINTEL_FONT, NAME_FONT, PowerChart
from vanpower.figures.style import INK, Look
from vanpower.results.numbers import known
from vanpower.studies.comparison import Comparison

READ = "read"
# the name that the mark goes by among the curves
TALLER = 1.6
# times the highest hill up to which the axis of watts grows for a reading; above it the mark stands at the edge
EDGE = 0.985
# share of an axis at which a mark stands that lies beyond it


@dataclass(frozen=True, eq=False)
class AsRead:
    """A comparison, and the volts and amps that somebody read.

    Parameters
    ----------
    comparison : Comparison
        Over a Snapshot of the light that it was read in.
    v, i : float
        At the controller. [V, A]

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> sound = compare({"2p": example("bookmobile")}, Snapshot(light=620, temp_cell=41))
    >>> chart = AsReadChart()
    >>> chart.update(AsRead(sound, 17.0, 3.5))
    >>> chart.spots["read"].get_xydata().tolist(), chart.names["read"].get_text()
    ([[17.0, 59.5]], 'read: 17 V, 3.5 A')
    """

    comparison: Comparison
    v: float
    i: float


class AsReadChart(PowerChart):
    """`PowerChart` with a cross where volts and amps were read.

    A reading beyond the axes stands at their edge, as an arrow.
    """

    @property
    def repeated(self) -> list[Artist]:
        """Nothing: the verdict says what is wrong, the title what was read."""
        return []

    def update(self, read: AsRead) -> None:  # type: ignore[override]
        """Show the curves of the comparison, and the reading among them."""
        self._read = read
        super().update(read.comparison)
        hills = [np.asarray(top.get_xydata())[:, 1].max() for name, top in self.tops.items() if name != READ]
        self._say(read_finding(read, float(max(hills))))

    def settle(self) -> None:
        """Put the mark and all names where there is room."""
        v_end, p_end = EDGE * self._frame.plain, EDGE * self._p_end
        v, p = self._read.v, self._read.v * self._read.i
        marker = ">" if v > v_end else "^" if p > p_end else "X"
        self.spots[READ].set_data([float(np.clip(v, 0.0, v_end))], [float(np.clip(p, 0.0, p_end))])
        self.spots[READ].set_marker(marker)
        self._told[READ] = f"read: {v:g} V, {self._read.i:g} A"
        super().settle()

    def _set_watts(self, p_top: float) -> None:
        """Fit the axis of watts to the highest hill, and to the reading where that is not far above it."""
        super()._set_watts(max(p_top, min(self._read.v * self._read.i, TALLER * p_top)))

    def _make_lines(self, styles: Mapping[str, Look]) -> None:
        """The curves, and the mark with its name and its leader."""
        super()._make_lines(styles)
        self.lines[READ] = self.ax.plot([], [], zorder=3)[0]
        self.bands[READ] = self.ax.fill([0.0], [0.0], ec="none", fc="none")[0]
        self.tops[READ] = self.ax.plot([], [], zorder=4)[0]
        cross: dict[str, Any] = {"mfc": INK, "mec": "white", "ls": "none", "ms": 11, "mew": 1.2, "zorder": 7}
        self.spots[READ] = self.ax.plot([], [], marker="X", clip_on=False, **cross)[0]
        said: dict[str, Any] = {"va": "center_baseline", "color": INK, "zorder": 6, "bbox": BEHIND}
        self.names[READ] = self.ax.text(0, 0, "", fontsize=NAME_FONT, weight="bold", **said)
        self.kinds[READ] = self.ax.text(0, 0, "", fontsize=LINTEL_FONT, **said)
        self.leaders[READ] = self.ax.plot([], [], color=INK, lw=0.9, zorder=3.5, label=LEADER)[0]
        more = (self.lines, self.bands, self.tops, self.spots, self.leaders, self.names, self.kinds)
        self.moving = [*self.moving, *(group[READ] for group in more)]  # type: ignore[index]


def read_finding(read: AsRead, p_sound: float) -> str:
    """What was read beside the most that a sound array gives in this light, in a line; both at the array. [W]

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> sound = compare({"2p": example("bookmobile")}, Snapshot(light=620, temp_cell=41))
    >>> read_finding(AsRead(sound, 17.0, 3.5), 124.3)
    '59.5 W read where a sound array gives up to 124 W'
    """
    about = "about" if read.comparison.dull else "up to"
    return f"{known(read.v * read.i)} W read where a sound array gives {about} {known(p_sound)} W"
