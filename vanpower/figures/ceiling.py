"""Open-circuit volts against the cold, string length by string length, with the controller's ceiling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from vanpower.checks.common import THIN, rounded_down, rounded_up, string_voltage, tallest_string
from vanpower.checks.glance import FEW, Checks
from vanpower.checks.volts import COLD_FACTORS, cold_ceiling, cold_factor, coldest_safe
from vanpower.figures.at_curves import ROW, Named, named_at, settle
from vanpower.figures.style import (
    FONT,
    HATCHED,
    INK,
    PAPER,
    RED_WORDS,
    ROLES,
    SOFT,
    SPAN_COLD,
    Chart,
    Look,
    looks_of,
    new_axes,
    rounded_up_to,
    signed,
    title_line,
    width_of,
)
from vanpower.rig import Panel, Rig

TOP, V_STEP = 1.12, 5.0
# the axis of volts over what is highest on it, and what it ends at a multiple of; so it ends 10 to 20 % above that
DAWN, SAFE, TABLE, NEARLY = "coldest dawn", "just safe", "US factor table", f"under {100 * THIN:g} % left"
# what marks, lines and the band below the ceiling are called
NEARLY_AT = (0.62, 0.2)
# where along the axis the band below the ceiling may be named, as shares; farther from the coldest dawn is better
CLEAR, AXES_WIDE = 60, 0.84
# points of a line that names keep clear of; of a figure's width what its axes take, about
MOST_LINES, HIGHEST, LETTERS = 8, 0.92, 0.09
# panels in series that thin lines are drawn for; shares of the axis: up to which there is room for a line's number,
# and how high this stands


@dataclass(frozen=True)
class OfRig:
    """What is drawn as the wiring of this rig."""

    rig: Rig


class CeilingChart(Chart):
    """Open-circuit volts against temperature for one panel, two in series and so on, under the controller's ceiling.

    Of unlike panels only their own string is drawn: so many of one kind would be another rig.

    Examples
    --------
    >>> from vanpower import example
    >>> chart = CeilingChart()
    >>> chart.update(example("bookmobile"))
    >>> chart.title
    'One panel: 24.8 V at −11 °C, 55.2 V left'
    """

    size = (5.5, 4.1)

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self._labels("Cell temperature at dawn (°C)", "Open-circuit voltage (V)")
        self._keep_room(3)
        self._of_many = False
        ax = self.ax
        red = ROLES["limit"]
        self.thin = Rectangle((0, 0), 1, 1, fc="none", ec=ROLES["other"], hatch="\\\\\\", lw=0, alpha=0.6, zorder=1)
        self.over = Rectangle((0, 0), 1, 1, fc=PAPER, ec=HATCHED, hatch="////", lw=0, zorder=0.2)
        ax.add_patch(self.over)
        ax.add_patch(self.thin)
        self.ceiling = ax.plot([], [], color=red, lw=3.6, zorder=3)[0]
        self.coldest = ax.plot([], [], color=ROLES["start"], lw=1.4, ls=":", zorder=2)[0]
        self.string = ax.plot([], [], lw=2.8, zorder=4)[0]
        self.table = ax.plot([], [], color=SOFT, lw=1.4, drawstyle="steps-pre", zorder=3)[0]
        self.spot = ax.plot([], [], ms=9, mec="white", ls="none", zorder=6)[0]
        self.safe = ax.plot([], [], color="white", marker="X", ms=9, mec=INK, mew=1.4, ls="none", zorder=6)[0]
        self.ceiling_words = ax.text(
            0, 0, "ceiling\n000 V", ha="left", va="center", fontsize=FONT, weight="bold", color=RED_WORDS, clip_on=False
        )
        colours = {DAWN: INK, SAFE: INK, TABLE: SOFT, NEARLY: SOFT}
        self.names = {said: named_at(ax, said, colour) for said, colour in colours.items()}
        self.spot_words = self.names[DAWN].words
        lines = [self.over, self.thin, self.coldest, self.ceiling, self.table, self.string, self.spot, self.safe]
        named = [part for name in self.names.values() for part in name.parts]
        self.moving = [*lines, self.ceiling_words, *named, title_line(ax)]

    @property
    def repeated(self) -> list[Artist]:
        """The finding, which verdicts beside the picture say; of many checks only what is no yes is said there."""
        return [] if self._of_many else [title_line(self.ax)]

    def update(self, subject: Rig | Checks) -> None:
        """Show the longest string of the first circuit of a rig, or of one that was checked, against its controller."""
        self._of_many = isinstance(subject, Checks) and len(subject) > FEW
        rig = subject.rig if isinstance(subject, Checks) else subject
        circuit = rig.circuits[0]
        verdict = cold_ceiling(rig, circuit)
        panels = tallest_string(rig, circuit)
        limit, coldest = circuit.controller.v_pv_max, rig.climate.temp_coldest
        cold = limit - verdict.margin
        left = min(SPAN_COLD[0], coldest - 2)
        highest = max(string_voltage(panels, left), max(factor for _, factor in COLD_FACTORS) * _label_volts(panels))
        v_end = rounded_up_to(max(TOP * max(limit, cold), highest), V_STEP)
        (look,) = looks_of({rig.wiring_name: OfRig(rig)}).values()
        frame = (panels, v_end, left, look, _struck(panels, limit, v_end))
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        self._draw_limit(limit, left)
        self._draw_string(panels, coldest, cold, limit)
        self._name(limit)
        self._say(_ceiling_finding(len(panels), verdict.margin, limit, coldest))

    def _draw_limit(self, limit: float, left: float) -> None:
        """The ceiling, and the band below it in which what is left is thin."""
        self.ceiling.set_data([left, SPAN_COLD[1]], [limit, limit])
        self.thin.set_bounds(left, (1 - THIN) * limit, SPAN_COLD[1] - left, THIN * limit)
        self.over.set_bounds(left, limit, SPAN_COLD[1] - left, max(self.frame[1] - limit, 0.0))
        self.ceiling_words.set_text(f"ceiling\n{limit:g} V")
        self.ceiling_words.set_position((SPAN_COLD[1] + 0.8, limit))

    def _draw_string(self, panels: tuple[Panel, ...], coldest: float, cold: float, limit: float) -> None:
        """The string meant, the table's second opinion, and where the coldest dawn puts it."""
        left, v_end = self.frame[2], self.frame[1]
        temps = np.array([left, SPAN_COLD[1]])
        self.string.set_data(temps, [string_voltage(panels, t) for t in temps])
        steps = np.array([t for t, _ in reversed(COLD_FACTORS)], float)
        self.table.set_data(steps, [cold_factor(t) * _label_volts(panels) for t in steps])
        self.coldest.set_data([coldest, coldest], [0, v_end])
        self.spot.set_data([coldest], [cold])
        safe = coldest_safe(panels, limit)
        inside = left < safe < SPAN_COLD[1]
        self.safe.set_data([safe] if inside else [], [limit] if inside else [])

    def _name(self, limit: float) -> None:
        """Names of what is there, where there is room for them."""
        ax, (left, right), v_end = self.ax, self.ax.get_xlim(), self.frame[1]
        at: dict[str, tuple[float, float]] = {DAWN: _first(self.spot), SAFE: _first(self.safe)}
        temps, volts = (np.asarray(side, float) for side in self.table.get_data())
        shown = np.flatnonzero((temps >= left) & (volts < v_end))
        at |= {TABLE: (float(temps[shown[0]]), float(volts[shown[0]]))} if len(shown) else {}
        for said, name in self.names.items():
            for part in name.parts:
                part.set_visible(said == NEARLY or bool(said in at and np.isfinite(at[said]).all()))
        clear = self._kept_clear(np.column_stack([temps, volts]))
        nearly, *others = (self.names[said] for said in (NEARLY, DAWN, SAFE, TABLE))
        dawn = (at[DAWN][0] - left) / (right - left)
        share = max(NEARLY_AT, key=lambda share: abs(share - dawn))
        low = (1 - THIN) * limit - 0.6 * ROW / 72 / self.figure.get_figheight() * v_end
        # the band is below its ceiling, and so is its name
        nearly.words.set(position=(left + share * (right - left), low), ha="center")
        taken = _filled(nearly, right - left, v_end, self.figure)
        there = [name for name in others if name.words.get_visible()]
        settle(ax, there, np.array([at[name.get_text()] for name in there]), np.concatenate([clear, taken]))

    def _kept_clear(self, stairs: np.ndarray) -> np.ndarray:
        """Points of lines, and of the numbers at their right ends, that names keep clear of."""
        (left, right), v_end = self.ax.get_xlim(), self.frame[1]
        lines = [np.column_stack(line.get_data()) for line in (self.ceiling, self.string, *self.others)]
        along = np.linspace(left, right, CLEAR)
        flat = [np.column_stack([along, np.interp(along, *line.T)]) for line in lines]
        dawn = np.column_stack([np.full(CLEAR, _first(self.spot)[0]), np.linspace(0.0, v_end, CLEAR)])
        numbers = [line[-1] - [back, side * v_end] for line in lines[1:] for back in range(9) for side in (-0.03, 0.03)]
        return np.concatenate([*flat, dawn, stairs, np.array(numbers)])

    def _draw_frame(self, panels: tuple[Panel, ...], v_end: float, left: float, look: Look, struck: int) -> None:
        """Limits, the colour of the wiring, and the lines of other numbers in series."""
        ax, number = self.ax, len(panels)
        self._redraw_behind()
        self.string.set(color=look.colour, ls=look.dash)
        self.spot.set(color=look.colour, marker=look.marker)
        ax.set_xlim(left, SPAN_COLD[1])
        ax.set_ylim(0, v_end)
        place = (SPAN_COLD[1] - 0.5, string_voltage(panels, SPAN_COLD[1]) - 0.03 * v_end)
        words = f"{number} in series" if number > 1 else "one panel"
        self._behind(ax.text(*place, words, fontsize=FONT, ha="right", va="top", color=look.words, zorder=2))
        self.others: list[Line2D] = []
        if len({(panel.v_oc, panel.beta_voc_pct_per_k) for panel in panels}) == 1:
            self._draw_others(panels[0], v_end, left, number, struck)

    def _draw_others(self, panel: Panel, v_end: float, left: float, number: int, struck: int) -> None:
        """A thin line for one panel, two in series and so on, but for the number that is drawn already.

        The number at a line stands above it, and below where the ceiling would strike it out.
        """
        temps = np.array([left, SPAN_COLD[1]])
        one = np.array([string_voltage((panel,), temp) for temp in temps])
        for count in range(1, MOST_LINES + 1):
            volts = count * one
            if volts[1] > HIGHEST * v_end:
                break
            if count != number:
                below = count == struck
                place = (SPAN_COLD[1] - 0.5, volts[1] + (-0.02 if below else 0.012) * v_end)
                self.others += self.ax.plot(temps, volts, color=ROLES["other"], lw=1.2, zorder=1)
                self._behind(
                    self.others[-1],
                    self.ax.text(
                        *place, f"{count}", fontsize=FONT, ha="right", va="top" if below else "bottom", zorder=2
                    ),
                )


def _filled(name: Named, wide: float, high: float, figure: Figure) -> np.ndarray:
    """Points within a name that is centred on axes so wide and high, for others to keep clear of."""
    (x, y), (across, up) = name.words.get_position(), figure.get_size_inches()
    half = 0.5 * width_of(name.get_text(), bold=True) / (AXES_WIDE * across) * wide
    tall = 0.5 * ROW / 72 / up * high
    at = np.linspace(x - half, x + half, CLEAR)
    return np.column_stack([np.tile(at, 3), np.repeat([y - tall, y, y + tall], CLEAR)])


def _first(line: Line2D) -> tuple[float, float]:
    """The first point of a line; none where it has none."""
    points = np.asarray(line.get_xydata(), float)
    return (float(points[0, 0]), float(points[0, 1])) if len(points) else (np.nan, np.nan)


def _label_volts(panels: tuple[Panel, ...]) -> float:
    """What the labels of a string add up to. [V]"""
    return float(sum(panel.v_oc for panel in panels))


def _struck(panels: tuple[Panel, ...], limit: float, v_end: float) -> int:
    """Which number of panels in series would have its figure, above the end of its line, struck out by the ceiling."""
    return next(
        (
            n
            for n in range(1, MOST_LINES + 1)
            if -0.02 < (limit - n * string_voltage(panels[:1], SPAN_COLD[1])) / v_end < LETTERS
        ),
        0,
    )


def plot_ceiling(subject: Rig | Checks, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Cold open-circuit volts of the first circuit's longest string against the ceiling; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import example
    >>> ax = plot_ceiling(example("puppet-stage").wired("4s"), ax=Figure().subplots())
    >>> ax.get_title(loc="left")
    '4 in series: 103.7 V at −17 °C, 23.7 V over the ceiling'
    """
    chart = CeilingChart(new_axes(ax, CeilingChart.size if phone else CeilingChart.page), phone=phone)
    chart.update(subject)
    return chart.ax


def _ceiling_finding(number: int, margin: float, limit: float, coldest: float) -> str:
    """The ceiling chart in a line."""
    volts = f"{rounded_up(limit - margin)} V at {signed(coldest)} °C"
    string = "One panel" if number == 1 else f"{number} in series"
    if margin < 0:
        return f"{string}: {volts}, {rounded_up(-margin)} V over the ceiling"
    thin = ", which is thin" if margin < THIN * limit else ""
    return f"{string}: {volts}, {rounded_down(margin)} V left{thin}"
