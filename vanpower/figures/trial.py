"""A field trial in one picture: watts as read, and below them what is left of the difference without sun and heat."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from vanpower.figures.at_curves import Named, named_at, settle
from vanpower.figures.names import short_names
from vanpower.figures.style import (
    FONT,
    PAPER,
    ROLES,
    SOFT,
    Chart,
    looks,
    new_axes,
    rounded_up_to,
    rung,
    signed,
    title_line,
)
from vanpower.trials.analysis import SAID_LEVEL, Trial
from vanpower.trials.stages import BULK

WHITE = {"fc": "white", "ec": "none", "pad": 1.0, "alpha": 0.85}
# behind words that may lie on points
WIRING_WIDTH = 0.9
# [inch] of a wiring's name: it stands among its rows
SPAN_LEAST = 6.0
# [%] the lower scale never shows less, so that small noise looks small
NOT_BULK = "not bulk"
# what rows are called that do not count
LINED = 60
# points of a line that names keep clear of


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
        """Axes, blocks and names, and whatever will move."""
        end = _end(trial)
        for ax, scale in ((self.raw, watts), (self.ratio, percents)):
            _empty(ax)
            ax.set_xlim(-0.02 * end - 0.5, 1.05 * end)
            ax.set_ylim(*scale)
        self.blocks = [self.raw.axvspan(*span, color=PAPER, zorder=0) for span in _spans(trial)]
        self.raw.set_ylabel("As read (W)", fontsize=FONT, color=SOFT)
        self.raw.tick_params(labelbottom=False)
        self.ratio.set_xlabel("Minutes since the first row", fontsize=FONT, color=SOFT)
        self.ratio.set_ylabel("For light and heat (%)", fontsize=FONT, color=SOFT)
        self.moving = [*self.blocks, *self._make_raw(trial), *self._make_ratio(trial), title_line(self.ax)]

    def _make_raw(self, trial: Trial) -> list[Artist]:
        """Rows of both wirings and crosses for those that do not count, each with its name."""
        ax, called = self.raw, _called(trial)
        self.rows = {after: self._points(ax, after) for after in (False, True)}
        self.crosses = ax.plot([], [], "x", color=ROLES["other"], ms=5)[0]
        self.called = [named_at(ax, called[after], self.looks[after].words) for after in (False, True)]
        self.called.append(named_at(ax, NOT_BULK, SOFT))
        return [*self.rows.values(), self.crosses, *_parts(self.called)]

    def _make_ratio(self, trial: Trial) -> list[Artist]:
        """The first wiring as 100 %, the new one and its interval as a band, and their rows; or that there are none."""
        ax, called, looks_of = self.ratio, _called(trial), self.looks
        if not len(trial.used):
            return [ax.text(0.5, 0.5, "no bulk rows", transform=ax.transAxes, ha="center", fontsize=FONT)]
        self.levels = {
            after: ax.plot([], [], ls=look.dash, color=look.colour, lw=1.8, zorder=2)[0]
            for after, look in looks_of.items()
        }
        colour = looks_of[True].colour
        self.band = Rectangle((0, 0), 0, 0, fc="none", ec=colour, hatch="////", alpha=0.45, lw=0.0, zorder=1)
        ax.add_patch(self.band)
        self.ends = [named_at(ax, f"{called[False]} = 100", looks_of[False].words)]
        if trial.bounded:
            self.ends.append(named_at(ax, f"{called[True]}, {SAID_LEVEL} hatched", looks_of[True].words))
        self.weighed = {after: self._points(ax, after, alpha=0.85) for after in (False, True)}
        self.outside = ax.text(0.01, 0.02, "", transform=ax.transAxes, fontsize=FONT - 1, bbox=WHITE, zorder=6)
        return [self.band, *self.levels.values(), *self.weighed.values(), self.outside, *_parts(self.ends)]

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
        self._name_rows()
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
        self._name_levels()

    def _name_rows(self) -> None:
        """Put each name at the middle one of its rows; none where there are none."""
        drawn = [np.asarray(rows.get_xydata()) for rows in (*self.rows.values(), self.crosses)]
        drawn = [rows[np.isfinite(rows).all(axis=1)] for rows in drawn]
        there = [(name, rows) for name, rows in zip(self.called, drawn, strict=True) if len(rows)]
        for name in self.called:
            name.words.set_visible(any(name is one for one, _ in there))
        marks = np.array([rows[len(rows) // 2] for _, rows in there])
        settle(self.raw, [name for name, _ in there], marks, np.concatenate(drawn))

    def _name_levels(self) -> None:
        """Put the names of both wirings where their lines end."""
        lines = [np.asarray(line.get_xydata()) for line in self.levels.values()][: len(self.ends)]
        low, high = self.band.get_y(), self.band.get_y() + self.band.get_height()
        across = [np.column_stack([line[:, 0], [y, y]]) for line in lines[1:] for y in (low, high)]
        dense = [np.linspace(line[0], line[-1], LINED) for line in (*lines, *across)]
        rows = [np.asarray(points.get_xydata()) for points in self.weighed.values()]
        settle(self.ratio, self.ends, np.array([line[-1] for line in lines]), np.concatenate([*dense, *rows]))

    def _watts(self, trial: Trial) -> tuple[float, float]:
        """From what to what the upper scale goes: all rows, and room for names. [W]"""
        low, high = float(np.nanmin(trial.log.power)), float(np.nanmax(trial.log.power))
        return _outwards(low - 0.1 * (high - low) - 1, high + 0.2 * (high - low) + 1)

    def _percents(self, trial: Trial, values: np.ndarray) -> tuple[float, float]:
        """From what to what the lower scale goes: nearly all rows, the interval, and room for names. [%]"""
        ends = [100.0, *(np.percentile(values, (4, 96)) if len(values) else ())]
        if trial.bounded:
            ends += [100 * (1 + float(np.clip(end, -0.5, 0.5))) for end in (trial.low, trial.high)]
        low, high = min(ends), max(ends)
        spare = max(SPAN_LEAST - (high - low), 0.0) / 2 + 0.15 * (high - low)
        return _outwards(low - spare, high + spare + 0.2 * (high - low + 2 * spare))


def _parts(names: list[Named]) -> list[Artist]:
    """Words and leaders of names."""
    return [part for name in names for part in name.parts]


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
    for artist in [*ax.lines, *ax.patches, *ax.collections, *ax.texts]:
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
