"""A field trial in one picture: watts as read, and below them what is left of the difference without sun and heat."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from vanpower.figures.names import short_names
from vanpower.figures.style import FONT, ROLES, SOFT, Chart, looks, new_axes, rounded_up_to, rung, signed, title_line
from vanpower.trials.analysis import SAID_LEVEL, Trial
from vanpower.trials.stages import BULK

WHITE = {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85}
# behind words that may lie on points
WIRING_WIDTH = 0.9
# [inch] of a wiring's name: two of them and what is said beside them stand in one legend
SPAN_LEAST = 6.0
# [%] the lower scale never shows less, so that small noise looks small
BAND_UP = 0.0, 0.8
# how far up the upper axes the bands of blocks reach; above them stands the legend, which they would lie over


class TrialChart(Chart):
    """Watts block by block above; below them watts for the light at 25 °C, against the drift of the first wiring.

    Examples
    --------
    >>> from vanpower import analyse_trial, read_log
    >>> from vanpower.files.resources import data_folder
    >>> trial = analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv"))
    >>> chart = TrialChart()
    >>> chart.update(trial)
    >>> print(chart.title)
    Real: 2s against 2p +2.5 % (+1.8 to +3.3 %), not +15.4 %
    """

    size, page = (5.5, 5.4), (10.2, 4.7)

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.ax.set_axis_off()
        self.raw = self.ax.inset_axes((0.0, 0.58, 1.0, 0.40))
        self.ratio = self.ax.inset_axes((0.0, 0.0, 1.0, 0.46))
        for ax in (self.raw, self.ratio):
            ax.tick_params(labelsize=FONT, labelcolor=SOFT)
            ax.spines[["top", "right"]].set_visible(False)
        # whole percents: a live picture keeps its first layout, which tenths beside the axis would make narrower
        self.ratio.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=6))
        self.moving = [title_line(self.ax)]

    def update(self, trial: Trial) -> None:
        """Show a trial."""
        values = 100 * np.exp(trial.corrected - trial.drift)
        scales = self._watts(trial), self._percents(trial, values)
        frame = (*_called(trial).values(), len(_spans(trial)), _end(trial), bool((trial.stage != BULK).any()), *scales)
        frame += (len(values) > 0, trial.bounded)
        log = trial.log
        both = looks([log.before, log.after] if log.before != log.after else [log.before, f"{log.after} "])
        self.looks = dict(zip((False, True), both.values(), strict=True))
        frame += tuple(both.values())
        if frame != self.frame:
            self._draw_frame(trial, *scales)
            self.frame = frame
        self._move(trial, values, scales[1])
        self._say(trial_finding(trial))

    def _draw_frame(self, trial: Trial, watts: tuple[float, float], percents: tuple[float, float]) -> None:
        """Axes, blocks and legends, and whatever will move."""
        end = _end(trial)
        for ax, scale in ((self.raw, watts), (self.ratio, percents)):
            _empty(ax)
            ax.set_xlim(-0.02 * end - 0.5, 1.05 * end)
            ax.set_ylim(*scale)
        self.blocks = [self.raw.axvspan(*span, *BAND_UP, color=ROLES["window"], zorder=0) for span in _spans(trial)]
        self.raw.set_ylabel("As read (W)", fontsize=FONT, color=SOFT)
        self.raw.tick_params(labelbottom=False)
        self.ratio.set_xlabel("Minutes since the first row", fontsize=FONT, color=SOFT)
        self.ratio.set_ylabel("For light and heat (%)", fontsize=FONT, color=SOFT)
        self.moving = [*self.blocks, *self._make_raw(trial), *self._make_ratio(trial), title_line(self.ax)]

    def _make_raw(self, trial: Trial) -> list[Artist]:
        """Rows of both wirings and crosses for those that do not count, and the legend."""
        called = _called(trial)
        self.rows = {after: self._points(self.raw, after, label=called[after]) for after in (False, True)}
        self.crosses = self.raw.plot([], [], "x", color=ROLES["other"], ms=5)[0]
        if (trial.stage != BULK).any():
            self.crosses.set_label("not bulk")
        tight: dict[str, Any] = {"handletextpad": 0.2, "columnspacing": 1.0, "borderaxespad": 0.1}
        self.raw.legend(loc="upper left", ncols=3, fontsize=FONT, frameon=False, **tight)
        return [*self.rows.values(), self.crosses]

    def _make_ratio(self, trial: Trial) -> list[Artist]:
        """The first wiring as 100 %, the new one and its interval as a band, and their rows; or that there are none."""
        ax, called = self.ratio, _called(trial)
        if not len(trial.used):
            return [ax.text(0.5, 0.5, "no bulk rows", transform=ax.transAxes, ha="center", fontsize=FONT)]
        lines = {}
        for after, look in self.looks.items():
            lines[after] = ax.plot([], [], ls=look.dash, color=look.colour, lw=1.8, zorder=2)[0]
        lines[False].set_label(f"{called[False]} = 100")
        self.levels = lines
        colour = self.looks[True].colour
        self.band = Rectangle((0, 0), 0, 0, fc="none", ec=colour, hatch="////", alpha=0.45, lw=0.0, zorder=1)
        ax.add_patch(self.band)
        if trial.bounded:
            lines[True].set_label(f"{called[True]}, {SAID_LEVEL} hatched")
            ax.legend(loc="upper left", ncols=2, fontsize=FONT, frameon=False, handlelength=2.0, borderaxespad=0.1)
        self.weighed = {after: self._points(ax, after, alpha=0.85) for after in (False, True)}
        self.outside = ax.text(0.01, 0.02, "", transform=ax.transAxes, fontsize=FONT - 1, bbox=WHITE, zorder=6)
        return [self.band, *lines.values(), *self.weighed.values(), self.outside]

    def _points(self, ax: Axes, after: bool, **look: Any) -> Line2D:
        """Rows of one wiring, none of them yet."""
        own = self.looks[after]
        return ax.plot([], [], own.marker, color=own.colour, ms=4.5, mec="white", mew=0.4, **look)[0]

    def _move(self, trial: Trial, values: np.ndarray, scale: tuple[float, float]) -> None:
        """Put rows, means and interval in their places."""
        log, used, start = trial.log, trial.used, trial.log.minutes[0]
        counts = trial.stage == BULK
        for block, (first, last) in zip(self.blocks, _spans(trial), strict=True):
            block.set_x(first)
            block.set_width(last - first)
        for after, points in self.rows.items():
            rows = (log.is_after == after) & counts
            points.set_data(log.minutes[rows] - start, log.power[rows])
        self.crosses.set_data(log.minutes[~counts] - start, log.power[~counts])
        if not len(used):
            return
        for after, points in self.weighed.items():
            rows = used.is_after == after
            points.set_data(used.minutes[rows] - start, values[rows])
        ends = (used.minutes[0] - start, used.minutes[-1] - start)
        self.levels[False].set_data(ends, (100, 100))
        if trial.bounded:
            low, level, high = (100 * (1 + share) for share in (trial.low, trial.gain, trial.high))
            self.levels[True].set_data(ends, (level, level))
            self.band.set_bounds(ends[0], low, ends[1] - ends[0], high - low)
        out = int(((values < scale[0]) | (values > scale[1])).sum())
        self.outside.set_text(f"{out} outside the scale" if out else "")

    def _watts(self, trial: Trial) -> tuple[float, float]:
        """From what to what the upper scale goes: all rows, and room for the legend. [W]"""
        low, high = float(np.nanmin(trial.log.power)), float(np.nanmax(trial.log.power))
        return _outwards(low - 0.1 * (high - low) - 1, high + 0.35 * (high - low) + 1)

    def _percents(self, trial: Trial, values: np.ndarray) -> tuple[float, float]:
        """From what to what the lower scale goes: nearly all rows, the interval, and room for the legend. [%]"""
        ends = [100.0, *(np.percentile(values, (4, 96)) if len(values) else ())]
        if trial.bounded:
            ends += [100 * (1 + float(np.clip(end, -0.5, 0.5))) for end in (trial.low, trial.high)]
        low, high = min(ends), max(ends)
        spare = max(SPAN_LEAST - (high - low), 0.0) / 2 + 0.15 * (high - low)
        return _outwards(low - spare, high + spare + 0.2 * (high - low + 2 * spare))


def trial_finding(trial: Trial) -> str:
    """A trial in a line: the gain, how sure, and what a naive look would have said."""
    if trial.belief is None:
        return f"Cannot tell: too few bulk rows; naive {signed(100 * trial.naive, '+.0f')} %"
    if not trial.bounded:
        gain, naive = (signed(100 * share, "+.1f") for share in (trial.gain, trial.naive))
        why = "no light read" if not trial.log.has("light") else "drift or a full battery"
        return f"Cannot tell: {why}; the rows would say {gain} %, the first two blocks {naive} %"
    gain, low, high, naive = (signed(100 * share, "+.1f") for share in (trial.gain, trial.low, trial.high, trial.naive))
    word = trial.word[0].upper() + trial.word[1:]
    called = _called(trial)
    return f"{word}: {called[True]} against {called[False]} {gain} % ({low} to {high} %), not {naive} %"


def _spans(trial: Trial) -> tuple[tuple[float, float], ...]:
    """First and last minute of every block."""
    log = trial.log
    each = [log.minutes[log.block == number] - log.minutes[0] for number in np.unique(log.block)]
    return tuple((float(minutes[0]), float(minutes[-1])) for minutes in each)


def _end(trial: Trial) -> float:
    """Where the scale of time ends: at or a little above the last minute, so that it seldom changes under a slider."""
    last = _spans(trial)[-1][1]
    return rounded_up_to(last, rung(last / 5))


def _outwards(low: float, high: float) -> tuple[float, float]:
    """A scale a little wider, so that it seldom changes under a slider."""
    step = rung((high - low) / 10)
    return -rounded_up_to(-low, step), rounded_up_to(high, step)


def _empty(ax: Axes) -> None:
    """Take away all but axes and ticks, which take longest to make."""
    for artist in [*ax.lines, *ax.patches, *ax.collections, *ax.texts, *filter(None, [ax.get_legend()])]:
        artist.remove()


def _called(trial: Trial) -> dict[bool, str]:
    """What the chart calls the first wiring and the new one; the text has their names in full."""
    log = trial.log
    short = short_names((log.before, log.after), WIRING_WIDTH)
    return {False: short[log.before], True: short[log.after]}


def plot_trial(trial: Trial, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Watts of a trial block by block, and what the wiring has to do with them; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import analyse_trial, read_log
    >>> from vanpower.files.resources import data_folder
    >>> trial = analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv"))
    >>> ax = plot_trial(trial, ax=Figure().subplots())
    >>> [inset.get_ylabel() for inset in ax.child_axes]
    ['As read (W)', 'For light and heat (%)']
    """
    chart = TrialChart(new_axes(ax, TrialChart.size if phone else TrialChart.page), phone=phone)
    chart.update(trial)
    return chart.ax
