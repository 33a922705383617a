"""What every rig delivers and where the rest went, as bars; several lights in one picture."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterable, Sequence
from typing import Any

import matplotlib.pyplot as plt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import withStroke

from vanpower.checks.common import rounded_up, when_coldest
from vanpower.checks.registry import harmed
from vanpower.figures.day import DayChart
from vanpower.figures.names import finding, short_names
from vanpower.figures.power import PowerChart
from vanpower.figures.style import (
    FONT,
    INK,
    LOSS_STYLES,
    LOSS_WORDS,
    MADE_BY,
    PAGE,
    PAIR,
    ROLES,
    SIZE,
    SMALL_LOSS,
    SOFT,
    TITLE_FONT,
    Chart,
    Look,
    fill_with,
    fitted_top,
    looks_of,
    new_axes,
    title_line,
    width_of,
)
from vanpower.model.losses import LOSSES
from vanpower.results.numbers import known, known_in
from vanpower.results.verdict import SIGN_COLOURS
from vanpower.rig import Days, Snapshot
from vanpower.studies.comparison import Comparison, Outcome
from vanpower.weather.days import day_of

ENDS, ROW, NAME_ROW = 1.75, 0.92, 0.22
# [inch] height of what stands above and below the bars, of a bar with its words, and of a name above it
LEGEND_DROP = 0.41
# [inch] from the axis down to the legend
BESIDE, ABOVE = 0.75, 4.4
# [inch] width of a name that still stands beside its bar, and of one above it
DARK_LOSSES = ("shade", "start loss", "other")
# roles of losses whose hatch is white
MOST_TOLD, LOSSES_WIDE = 4, 52
# losses in the words below a bar, and letters for which there is room


def _that_fit(said: list[str]) -> str:
    """The largest losses, as many as a line below a bar has room for."""
    fit = [", ".join(said[:number]) for number in range(1, MOST_TOLD + 1)]
    return next((line for line in reversed(fit) if len(line) <= LOSSES_WIDE), said[0] if said else "")


class ComparisonChart(Chart):
    """Bars of watts or watt-hours for each wiring, what is lost on the way stacked behind and said in words.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> chart = ComparisonChart()
    >>> chart.update(found)
    >>> print(chart.words["2p"].get_text())
    167 W into the battery
    lost: cable 4.1, converter 3.7
    """

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.ax.spines["left"].set_visible(False)
        self.ax.tick_params(axis="y", length=0)
        self.bars: dict[tuple[str, str], Rectangle] = {}
        self.bands: dict[str, Line2D] = {}
        self.rows: dict[str, float] = {}
        self.words: dict[str, Any] = {}

    def update(self, comparison: Comparison) -> None:
        """Show one comparison."""
        outcomes = comparison.outcomes
        top = max(float(o.p_panels.sum() * o.step_h) for o in outcomes.values())
        allowed = [outcome for outcome in outcomes.values() if outcome.refused is None]
        shown = [loss for loss in LOSSES if any(o.lost_wh(loss) > SMALL_LOSS * top for o in allowed)]
        frame = (tuple(looks_of(outcomes).items()), _axis_words(comparison), fitted_top(top), tuple(shown))
        if frame != self.frame:
            self._draw_frame(*frame)
            self.frame = frame
        for name, outcome in outcomes.items():
            self._stack(name, outcome, comparison)
        self._say(finding(comparison))

    def _stack(self, name: str, outcome: Outcome, comparison: Comparison) -> None:
        """One wiring's bar, and its words."""
        over = outcome.refused is not None
        start = 0.0
        for part in ("battery", *LOSSES):
            amount = outcome.energy_wh if part == "battery" else 0.0 if over else max(outcome.lost_wh(part), 0.0)
            bar = self.bars[name, part]
            bar.set_x(start)
            bar.set_width(amount)
            start += amount
        first = self.bars[name, "battery"]
        if over:
            first.set_facecolor("white")
            first.set_edgecolor(SIGN_COLOURS["no"])
            first.set_hatch("xx")
        else:
            fill_with(first, self.looks[name])
        shown = comparison.dull and not over
        low, high = outcome.band_wh if shown else (0.0, 0.0)
        self.bands[name].set_data([low, high] if shown else [], [self.rows[name]] * (2 if shown else 0))
        self.words[name].set_text("\n".join(self._lines(outcome, comparison.unit, dull=comparison.dull)))

    def _lines(self, outcome: Outcome, unit: str, *, dull: bool) -> list[str]:
        """What a bar says: into the battery, in dull light as a range, then the losses from the largest."""
        refused = outcome.refused
        if refused is not None:
            harm = harmed([refused])
            limit = "what a panel takes backwards" if harm == "a panel" else "the input's amps"
            limit = f"its ceiling {when_coldest(outcome.rig)}" if refused.unit == "V" else limit
            over = f"{rounded_up(-refused.margin)} {refused.unit} over {limit}:"
            return [f"NOT ALLOWED, {over}", f"would damage {harm.replace('a controller', 'the controller')}"]
        total = float(outcome.p_panels.sum() * outcome.step_h)
        lost = sorted(((outcome.lost_wh(name), name) for name in LOSSES), reverse=True)
        said = [f"{name} {known(amount)}" for amount, name in lost if amount > SMALL_LOSS * total]
        low, high = (known(end) for end in outcome.band_wh) if dull else ("", "")
        span = f" ({low} to {high})" * (low != high)
        return [
            f"{known_in(outcome.energy_wh, unit)} into the battery{span}",
            f"lost: {_that_fit(said) or 'next to nothing'}",
        ]

    def _draw_frame(self, styles: tuple[tuple[str, Look], ...], axis: str, top: float, lossy: tuple[str, ...]) -> None:
        """Limits, ticks, legend and an empty bar for every wiring and loss."""
        ax, self.looks = self.ax, dict(styles)
        names = tuple(self.looks)
        self._redraw_behind()
        for artist in [*self.bars.values(), *self.bands.values(), *self.words.values()]:
            artist.remove()
        self.bars, self.bands, self.words = {}, {}, {}
        above = _stand_above(names)
        ax.set_xlim(0, top)
        ax.set_ylim(len(names) - 0.25, -0.55 if above else -0.35)
        ax.set_yticks(
            range(len(names)), [""] * len(names) if above else list(short_names(names).values()), fontsize=TITLE_FONT
        )
        self._labels(axis, "")
        headings = short_names(names, ABOVE)
        for row, name in enumerate(names):
            for part in ("battery", *LOSSES):
                bar = Rectangle((0, row - 0.22), 0, 0.36, lw=0.6, zorder=2, **_of_loss(part))
                ax.add_patch(bar)
                self.bars[name, part] = bar
            self.rows[name] = row - 0.04
            self.bands[name] = ax.plot([], [], color="black", lw=1.6, marker="|", ms=12, mew=1.6, zorder=4)[0]
            self.bands[name].set_path_effects([withStroke(linewidth=5.0, foreground="white")])
            if above:
                heading = ax.text(0.005 * top, row - 0.25, headings[name], fontsize=FONT, va="bottom", weight="bold")
                self._behind(heading)
            self.words[name] = ax.text(0.005 * top, row + 0.17, "", fontsize=FONT, va="top", linespacing=1.15)
        high = max(SIZE[1], _bars_height(names)) - ENDS
        self._make_legend(lossy, (0.0 if above else -0.12, -LEGEND_DROP / high))
        self.moving = [*self.bars.values(), *self.bands.values(), *self.words.values(), title_line(ax)]

    def _make_legend(self, lossy: Sequence[str], corner: tuple[float, float]) -> None:
        """What is lost, by colour and hatch, below the axes; its upper left corner in shares of them."""
        patches = [Patch(label=LOSS_WORDS.get(loss, loss), **_of_loss(loss)) for loss in lossy]
        columns = 3 if self.phone else 5
        self.ax.legend(
            handles=patches, loc="upper left", bbox_to_anchor=corner, ncols=columns, fontsize=FONT, frameon=False,
            handlelength=1.3, columnspacing=1.0, labelspacing=0.25, borderaxespad=0.0,
        )  # fmt: skip


def _of_loss(loss: str) -> dict[str, Any]:
    """Colours and hatch of a loss; what reaches the battery is drawn as its wiring is."""
    role, hatch = LOSS_STYLES.get(loss, ("window", ""))
    strokes = "white" if role in DARK_LOSSES else ROLES["shade"]
    return {"fc": ROLES[role], "ec": strokes, "hatch": hatch}


def _axis_words(comparison: Comparison) -> str:
    """What the bars measure."""
    if isinstance(comparison.request, Snapshot):
        return "Power (W)"
    days = day_of(comparison.request).days
    return "Energy of the day (Wh)" if days == 1 else f"Energy of {days} days (Wh)"


def plot_comparison(comparison: Comparison, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Bars of watts or watt-hours for each wiring, losses stacked behind and said in words; for a phone or a page.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> shaded = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> found = compare(example("bookmobile").wirings(), shaded)
    >>> plot_comparison(found, ax=Figure().subplots()).get_title(loc="left")
    '2s is ahead: 2s 107 W, 2p 87.3 W'
    """
    wide, high = SIZE if phone else PAGE
    chart = ComparisonChart(new_axes(ax, (wide, max(high, _bars_height(comparison.outcomes)))), phone=phone)
    chart.update(comparison)
    return chart.ax


def comparison_figure(comparisons: Sequence[Comparison]) -> Figure:
    """Comparisons as one picture, a row each: curves or the day on the left, wirings side by side on the right.

    Where no wiring is on a single controller, a moment has no one curve, and the bars have the row to themselves.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> figure = comparison_figure([found])
    >>> [ax.get_xlabel().partition(";")[0] for ax in figure.axes]
    ['volts at the array', 'Power (W)']
    >>> plt.close(figure)
    """
    wide, high = PAIR
    heights = [max(high, _bars_height(comparison.outcomes)) for comparison in comparisons]
    fig = plt.figure(figsize=(wide, sum(heights)), layout="constrained")
    grid = fig.add_gridspec(len(comparisons), 2, height_ratios=heights)
    curves: list[PowerChart | DayChart] = []
    # names of strangers are letters and no formula
    heading: dict[str, Any] = {"loc": "left", "color": INK, "parse_math": False}
    for row, comparison in enumerate(comparisons):
        day = isinstance(comparison.request, Days) and day_of(comparison.request).days == 1
        light = textwrap.fill(comparison.title[0].upper() + comparison.title[1:], 56)
        if day or (
            isinstance(comparison.request, Snapshot)
            and any(len(outcome.rig.circuits) == 1 for outcome in comparison.outcomes.values())
        ):
            curves.append((DayChart if day else PowerChart)(fig.add_subplot(grid[row, 0])))
            curves[-1].update(comparison)
            plot_comparison(comparison, ax=fig.add_subplot(grid[row, 1])).set_title(light, **heading)
        else:
            plot_comparison(comparison, ax=fig.add_subplot(grid[row, :])).set_title(light, **heading | {"loc": "right"})
    fig.supxlabel(_foot(comparisons), fontsize="small", color=SOFT, parse_math=False)
    fig.draw_without_rendering()
    for chart in curves:
        chart.settle()
    return fig


def _foot(comparisons: Sequence[Comparison]) -> str:
    """What a picture rests on, in a line at its foot."""
    rig = next(iter(comparisons[0].outcomes.values())).rig
    basis = _rests(comparisons)
    return "\n".join(textwrap.wrap(f"{rig.name}. {basis[0].upper()}{basis[1:]}. A model, not a permit. {MADE_BY}", 150))


def _rests(comparisons: Sequence[Comparison]) -> str:
    """What all of them rest on, and then behind its light what only one does."""
    each = {comparison.title: comparison.verdict.basis.split("; ") for comparison in comparisons}
    first, *others = each.values()
    shared = [part for part in first if all(part in parts for parts in others)]
    own = {title: "; ".join(part for part in parts if part not in shared) for title, parts in each.items()}
    return ". ".join(["; ".join(shared), *(f"{title}: {said}" for title, said in own.items() if said)])


def _stand_above(names: Iterable[str]) -> bool:
    """Whether names are so long that they stand above their bars."""
    return max(map(width_of, names)) > BESIDE


def _bars_height(names: Collection[str]) -> float:
    """Height that leaves room for the words below every bar, and for names above them. [inch]"""
    return ENDS + (ROW + NAME_ROW * _stand_above(names)) * len(names)
