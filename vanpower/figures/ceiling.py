"""Open-circuit volts against the cold, string length by string length, with the controller's ceiling."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from vanpower.checks.common import THIN, rounded_down, rounded_up, string_voltage, tallest_string
from vanpower.checks.glance import Checks
from vanpower.checks.volts import COLD_FACTORS, cold_ceiling, cold_factor, coldest_safe
from vanpower.figures.style import (
    FONT,
    HATCHED,
    INK,
    PAPER,
    RED_WORDS,
    ROLES,
    SERIES,
    SPAN_COLD,
    Chart,
    new_axes,
    rounded_up_to,
    signed,
    title_line,
)
from vanpower.rig import Panel, Rig

TOP, V_STEP = 1.12, 5.0
# the axis of volts over what is highest on it, and what it ends at a multiple of; so it ends 10 to 20 % above that
MOST_LINES, HIGHEST, LETTERS = 8, 0.92, 0.09
# panels in series that thin lines are drawn for; shares of the axis: up to which there is room for a line's number,
# and how high this stands


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
        ax = self.ax
        red, blue = ROLES["limit"], SERIES.colour
        self.thin = Rectangle((0, 0), 1, 1, fc="none", ec=red, hatch="///", lw=0, alpha=0.45, zorder=1)
        self.over = Rectangle((0, 0), 1, 1, fc=PAPER, ec=HATCHED, hatch="////", lw=0, zorder=0.2)
        ax.add_patch(self.over)
        ax.add_patch(self.thin)
        self.ceiling = ax.plot([], [], color=red, lw=3.6, zorder=3)[0]
        self.coldest = ax.plot([], [], color=ROLES["start"], lw=1.4, ls=":", zorder=2)[0]
        self.string = ax.plot([], [], color=blue, lw=2.8, zorder=4)[0]
        self.table = ax.plot([], [], color="black", lw=1.4, ls=(0, (4, 1.5)), drawstyle="steps-pre", zorder=3)[0]
        self.spot = ax.plot([], [], color=blue, marker="o", ms=9, mec="black", ls="none", zorder=6)[0]
        self.safe = ax.plot([], [], color="white", marker="X", ms=9, mec=INK, mew=1.4, ls="none", zorder=6)[0]
        words: dict[str, Any] = {
            "fontsize": FONT,
            "zorder": 7,
            "bbox": {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85},
        }
        self.ceiling_words = ax.text(
            0, 0, "ceiling\n000 V", ha="left", va="center", fontsize=FONT, weight="bold", color=RED_WORDS, clip_on=False
        )
        self.spot_words = ax.text(0, 0, "coldest dawn", ha="left", va="center", **words)
        lines = [self.over, self.thin, self.coldest, self.ceiling, self.table, self.string, self.spot, self.safe]
        self.moving = [*lines, self.ceiling_words, self.spot_words, title_line(ax)]

    def update(self, subject: Rig | Checks) -> None:
        """Show the longest string of the first circuit of a rig, or of one that was checked, against its controller."""
        rig = subject.rig if isinstance(subject, Checks) else subject
        circuit = rig.circuits[0]
        verdict = cold_ceiling(rig, circuit)
        panels = tallest_string(rig, circuit)
        limit, coldest = circuit.controller.v_pv_max, rig.climate.temp_coldest
        cold = limit - verdict.margin
        left = min(SPAN_COLD[0], coldest - 2)
        highest = max(string_voltage(panels, left), max(factor for _, factor in COLD_FACTORS) * _label_volts(panels))
        v_end = rounded_up_to(max(TOP * max(limit, cold), highest), V_STEP)
        frame = (panels, v_end, left, left < coldest_safe(panels, limit) < SPAN_COLD[1], _struck(panels, limit, v_end))
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        self._draw_limit(limit, left)
        self._draw_string(panels, coldest, cold, limit)
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
        self.spot_words.set_position((coldest + 1.5, cold + (0.1 if cold > limit else -0.075) * v_end))

    def _draw_frame(self, panels: tuple[Panel, ...], v_end: float, left: float, safe: bool, struck: int) -> None:
        """Limits, the lines of other numbers in series, and a legend of what is there."""
        ax, number = self.ax, len(panels)
        self._redraw_behind()
        ax.set_xlim(left, SPAN_COLD[1])
        ax.set_ylim(0, v_end)
        place = (SPAN_COLD[1] - 0.5, string_voltage(panels, SPAN_COLD[1]) - 0.03 * v_end)
        words = f"{number} in series" if number > 1 else "one panel"
        self._behind(ax.text(*place, words, fontsize=FONT, ha="right", va="top", zorder=2))
        if len({(panel.v_oc, panel.beta_voc_pct_per_k) for panel in panels}) == 1:
            self._draw_others(panels[0], v_end, left, number, struck)
        there = {"by label": self.string, "US factor table": self.table, f"under {100 * THIN:g} % left": self.thin}
        there |= {"just safe": self.safe} if safe else {}
        legend = ax.legend(
            list(there.values()), list(there), loc="upper left", ncols=2 if self.phone else 4, fontsize=FONT,
            bbox_to_anchor=(-0.1, -0.19) if self.phone else (-0.04, -0.17), frameon=False, handlelength=1.6,
            handletextpad=0.5, columnspacing=1.1, labelspacing=0.25, borderaxespad=0.0,
        )  # fmt: skip
        self._behind(legend)

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
                self._behind(
                    self.ax.text(
                        *place, f"{count}", fontsize=FONT, ha="right", va="top" if below else "bottom", zorder=2
                    ),
                    self.ax.plot(temps, volts, color=ROLES["other"], lw=1.2, zorder=1)[0],
                )


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
