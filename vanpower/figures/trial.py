"""A field trial in one picture: watts as read, and below them what is left of the difference without sun and heat."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from vanpower.figures.names import short_names
from vanpower.figures.style import FONT, ROLES, Chart, new_axes, signed, title_line
from vanpower.trials import Trial
from vanpower.trials.stages import BULK

BEFORE_STYLE = (ROLES["battery"], "o", "-")
AFTER_STYLE = (ROLES["limit"], "s", "--")
# colour, marker and dash of the two wirings
WHITE = {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85}
# behind words that may lie on points
WIDEST_LINE = 4.55
# [inch] of the title, in the size of the other words
WIRING_WIDTH = 0.9
# [inch] of a wiring's name: two of them and what is said beside them stand in one legend
SPAN_LEAST = 6.0
# [%] the lower scale never shows less, so that small noise looks small


class TrialChart(Chart):
    """Watts block by block above; below them watts for the light at 25 °C, against the drift of the first wiring.

    Examples
    --------
    >>> from vanpower import judge, read_log
    >>> from vanpower.recipes import data_folder
    >>> trial = judge(read_log(data_folder() / "logs" / "apple-barn.csv"))
    >>> chart = TrialChart()
    >>> chart.update(trial)
    >>> print(chart.title)
    Real: 2s against 2p +2.5 % (+2.0 to +3.1 %), not +15.4 %
    """

    size = (5.5, 5.4)
    widest = WIDEST_LINE

    def __init__(self, ax: Axes | None = None) -> None:
        super().__init__(ax)
        self.ax.set_axis_off()
        self.raw = self.ax.inset_axes((0.0, 0.58, 1.0, 0.40))
        self.ratio = self.ax.inset_axes((0.0, 0.0, 1.0, 0.46))
        for ax in (self.raw, self.ratio):
            ax.tick_params(labelsize=FONT)
            ax.spines[["top", "right"]].set_visible(False)
        self.moving = [title_line(self.ax)]

    def update(self, trial: Trial) -> None:
        """Show a trial; everything but the axes is drawn anew."""
        self.frame = (id(trial),)
        for ax in (self.raw, self.ratio):
            _empty(ax)
        start = trial.log.minutes[0]
        end = trial.log.minutes[-1] - start
        for ax in (self.raw, self.ratio):
            ax.set_xlim(-0.02 * end - 0.5, 1.02 * end + 0.5)
        self._draw_raw(trial, start)
        self._draw_ratio(trial, start)
        self._say(trial_finding(trial))

    def _draw_raw(self, trial: Trial, start: float) -> None:
        """Watts as read; rows that do not count are crosses."""
        log, ax = trial.log, self.raw
        counts = trial.stage == BULK
        for after, (colour, marker, _) in ((False, BEFORE_STYLE), (True, AFTER_STYLE)):
            rows = (log.is_after == after) & counts
            ax.plot(
                log.minutes[rows] - start,
                log.power[rows],
                marker,
                color=colour,
                ms=4.5,
                mec="white",
                mew=0.4,
                label=_called(trial)[after],
            )
        if (~counts).any():
            ax.plot(log.minutes[~counts] - start, log.power[~counts], "x", color=ROLES["other"], ms=5, label="not bulk")
        for number in np.unique(log.block):
            rows = log.block == number
            ax.axvspan(log.minutes[rows][0] - start, log.minutes[rows][-1] - start, color=ROLES["window"], zorder=0)
        low, high = float(np.nanmin(log.power)), float(np.nanmax(log.power))
        ax.set_ylim(low - 0.1 * (high - low) - 1, high + 0.35 * (high - low) + 1)
        ax.set_ylabel("As read (W)", fontsize=FONT)
        ax.tick_params(labelbottom=False)
        ax.legend(
            loc="upper left",
            ncols=3,
            fontsize=FONT,
            frameon=False,
            handletextpad=0.2,
            columnspacing=1.0,
            borderaxespad=0.1,
        )

    def _draw_ratio(self, trial: Trial, start: float) -> None:
        """Watts for the light and heat, less the drift, in percent of the first wiring; mean and interval."""
        ax, used = self.ratio, trial.used
        ax.set_xlabel("Minutes since the first row", fontsize=FONT)
        ax.set_ylabel("For light and heat (%)", fontsize=FONT)
        if not len(used):
            ax.set_ylim(0, 1)
            ax.text(0.5, 0.5, "no bulk rows", transform=ax.transAxes, ha="center", fontsize=FONT)
            return
        values = 100 * np.exp(trial.corrected - trial.drift)
        self._draw_means(trial, start, values)
        for after, (colour, marker, _) in ((False, BEFORE_STYLE), (True, AFTER_STYLE)):
            rows = used.is_after == after
            ax.plot(
                used.minutes[rows] - start, values[rows], marker, color=colour, ms=4.5, mec="white", mew=0.4, alpha=0.85
            )
        low, high = self._scale(trial, values)
        ax.set_ylim(low, high)
        out = int(((values < low) | (values > high)).sum())
        if out:
            ax.text(
                0.01, 0.02, f"{out} outside the scale", transform=ax.transAxes, fontsize=FONT - 1, bbox=WHITE, zorder=6
            )

    def _scale(self, trial: Trial, values: np.ndarray) -> tuple[float, float]:
        """From what to what the lower scale goes: nearly all rows, the interval, and room for the legend. [%]"""
        ends = [100.0, *np.percentile(values, (4, 96))]
        if trial.belief is not None:
            ends += [100 * (1 + float(np.clip(end, -0.5, 0.5))) for end in (trial.low, trial.high)]
        low, high = min(ends), max(ends)
        spare = max(SPAN_LEAST - (high - low), 0.0) / 2 + 0.15 * (high - low)
        return low - spare, high + spare + 0.2 * (high - low + 2 * spare)

    def _draw_means(self, trial: Trial, start: float, values: np.ndarray) -> None:
        """The first wiring as 100 %, the new one as a band from the low to the high end of the interval."""
        ax, used = self.ratio, trial.used
        ends = (used.minutes[0] - start, used.minutes[-1] - start)
        ax.plot(
            ends,
            (100, 100),
            BEFORE_STYLE[2],
            color=BEFORE_STYLE[0],
            lw=1.8,
            zorder=2,
            label=f"{_called(trial)[False]} = 100",
        )
        if trial.belief is None:
            return
        band: dict[str, Any] = {
            "fc": "none",
            "ec": AFTER_STYLE[0],
            "hatch": "////",
            "alpha": 0.45,
            "lw": 0.0,
            "zorder": 1,
        }
        ax.fill_between(ends, 100 * (1 + trial.low), 100 * (1 + trial.high), **band)
        level = 100 * (1 + trial.gain)
        ax.plot(
            ends,
            (level, level),
            AFTER_STYLE[2],
            color=AFTER_STYLE[0],
            lw=1.8,
            zorder=2,
            label=f"{_called(trial)[True]}, 95 % hatched",
        )
        ax.legend(loc="upper left", ncols=2, fontsize=FONT, frameon=False, handlelength=2.0, borderaxespad=0.1)


def trial_finding(trial: Trial) -> str:
    """A trial in a line: the gain, how sure, and what a naive look would have said."""
    if trial.belief is None:
        return f"Cannot tell: too few bulk rows; naive {signed(100 * trial.naive, '+.0f')} %"
    gain, low, high, naive = (signed(100 * share, "+.1f") for share in (trial.gain, trial.low, trial.high, trial.naive))
    word = trial.word[0].upper() + trial.word[1:]
    called = _called(trial)
    return f"{word}: {called[True]} against {called[False]} {gain} % ({low} to {high} %), not {naive} %"


def _empty(ax: Axes) -> None:
    """Take away all but axes and ticks, which take longest to make."""
    for artist in [*ax.lines, *ax.patches, *ax.collections, *ax.texts, *filter(None, [ax.get_legend()])]:
        artist.remove()


def _called(trial: Trial) -> dict[bool, str]:
    """What the chart calls the first wiring and the new one; the text has their names in full."""
    log = trial.log
    short = short_names((log.before, log.after), WIRING_WIDTH)
    return {False: short[log.before], True: short[log.after]}


def plot_trial(trial: Trial, *, ax: Axes | None = None) -> Axes:
    """Watts of a trial block by block, and what the wiring has to do with them.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import judge, read_log
    >>> from vanpower.recipes import data_folder
    >>> trial = judge(read_log(data_folder() / "logs" / "apple-barn.csv"))
    >>> ax = plot_trial(trial, ax=Figure().subplots())
    >>> [inset.get_ylabel() for inset in ax.child_axes]
    ['As read (W)', 'For light and heat (%)']
    """
    chart = TrialChart(new_axes(ax, TrialChart.size))
    chart.update(trial)
    return chart.ax
