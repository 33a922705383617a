"""The loss ladder: from the label's watt-hours down to loads and battery, a rung a loss, wirings side by side."""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from vanpower.figures.names import legend_columns, short_names
from vanpower.figures.style import FONT, Chart, looks_of, new_axes, title_line
from vanpower.simulation.run import Run
from vanpower.simulation.time_stepping import GAINS, STEPS

SMALL_RUNG = 0.5
# [%] of the label's watt-hours below which rungs of all wirings are put together
RUNG, HEAD, LEGEND = 0.27, 1.75, 0.5
# [inch] height of a rung, of what stands above and below them, and from the last one down to the legend
TITLE_FROM, TITLE_FROM_PAGE = -0.3, -0.17
# where the title begins, in widths of the axes: above the words beside the bars, lest it runs out on the right
ENDS = {"label": "label in this light", "used": "to loads, battery"}
# what the first and the last rung are called


class LadderChart(Chart):
    """Rungs from the label's watt-hours down to what was taken, in percent of the label, a bar for each wiring.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> chart = LadderChart()
    >>> chart.update(run)
    >>> print(chart.title)
    2p: 74 % of the label's watt-hours arrive; largest loss:
    weaker than label, 19 %
    """

    size = (5.5, 4.6)

    def __init__(self, ax: Axes | None = None, *, phone: bool = True) -> None:
        super().__init__(ax, phone=phone)
        self.ax.spines["left"].set_visible(False)
        self.ax.tick_params(axis="y", length=0)
        self._labels("Share of the label's watt-hours (%)", "")
        title = title_line(self.ax)
        title.set(x=TITLE_FROM if phone else TITLE_FROM_PAGE)
        self.moving = [title]

    @property
    def repeated(self) -> list[Artist]:
        """Nothing: no verdict says which loss is largest."""
        return []

    def update(self, run: Run) -> None:
        """Show where the watt-hours of a run went; everything is drawn anew."""
        self.frame = (run,)
        self._redraw_behind()
        rungs = rungs_of(run)
        names = shown(run)
        self.ax.set_xlim(0, 1.02 * max(start + width for name in names for start, width in _bars(rungs, name)))
        self.ax.set_ylim(len(rungs) - 0.4, -0.6)
        self.ax.set_yticks(range(len(rungs)), [words for words, _, _ in rungs], fontsize=FONT)
        high = 0.82 / len(names)
        styles = looks_of({name: run.outcomes[name] for name in names})
        for k, (name, style) in enumerate(styles.items()):
            look: dict[str, Any] = {"fc": style.colour, "ec": "white", "lw": 0.4, "hatch": style.hatch}
            for row, (start, width) in enumerate(_bars(rungs, name)):
                bar = Rectangle((start, row - 0.41 + k * high), width, 0.92 * high, label=name, zorder=3, **look)
                self._behind(self.ax.add_patch(bar))
        self._number(rungs, names)
        if len(names) > 1:
            handles = [bar for bar in self._still if isinstance(bar, Rectangle)][:: len(rungs)]
            labels = [short_names(run.outcomes)[name] for name in names]
            legend = self.ax.legend(
                handles, labels, loc="upper left", bbox_to_anchor=(-0.24, -LEGEND / (RUNG * len(rungs))),
                ncols=legend_columns(labels, 4, line=2.8, gap=2.0), fontsize=FONT, frameon=False,
            )  # fmt: skip
            self._behind(legend)
        self._say(ladder_finding(run))

    def _number(self, rungs: list[tuple[str, dict[str, float], int]], names: list[str]) -> None:
        """Percent of every rung: one number where the wirings agree, else the least and the most of them."""
        right = 1.01
        for row, (_, shares, sign) in enumerate(rungs):
            low, high = (f"{share:.1f}" for share in (min(shares.values()), max(shares.values())))
            mark = "\N{MINUS SIGN}" if sign < 0 else "+" if sign > 0 else ""
            span = high if low == high else f"{low} to {high}" if float(low) else f"0 to {high}"
            words = f"{mark if low == high or float(low) else ''}{span}"
            place: dict[str, Any] = {"transform": self.ax.get_yaxis_transform(), "va": "center", "fontsize": FONT}
            self._behind(self.ax.text(right, row, words, **place))


def shown(run: Run) -> list[str]:
    """Wirings in the order they were given, without those that are not allowed unless all are."""
    return [name for name in run.outcomes if run.allowed(name)] or list(run.outcomes)


def rungs_of(run: Run) -> list[tuple[str, dict[str, float], int]]:
    """Rungs from the top: words, percent of the label for each rig, and whether it adds (1), takes (-1) or stands.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> [(words, round(shares["2p"], 1)) for words, shares, _ in rungs_of(run)][-3:]
    [('own draw', 4.8), ('small ones together', 0.2), ('to loads, battery', 74.2)]
    """
    ladder = run.ladder().steps

    def shares(*steps: str) -> dict[str, float]:
        each = {name: ladder[name] for name in shown(run)}
        return {name: 100 * sum(s[k] for k in steps) / s["label"] if s["label"] else 0.0 for name, s in each.items()}

    small = [loss for loss in STEPS if max(shares(loss).values()) < SMALL_RUNG]
    rungs = [(ENDS["label"], shares("label"), 0)]
    rungs += [(gain, shares(gain), 1) for gain in GAINS if max(shares(gain).values()) >= SMALL_RUNG / 10]
    rungs += [(loss, shares(loss), -1) for loss in STEPS if loss not in small]
    if small and max(shares(*small).values()) >= 0.05:
        rungs.append(("small ones together", shares(*small), -1))
    return [*rungs, (ENDS["used"], shares("used"), 0)]


def _bars(rungs: list[tuple[str, dict[str, float], int]], name: str) -> list[tuple[float, float]]:
    """Where the bar of every rung begins and how wide it is, for one rig. [%]"""
    level, bars = 0.0, []
    for _, shares, sign in rungs:
        share = shares[name]
        if sign == 0:
            level = share
            bars.append((0.0, share))
        else:
            bars.append((level if sign > 0 else level - share, share))
            level += sign * share
    return bars


def ladder_finding(run: Run) -> str:
    """A ladder in a line: what arrives of the best, and what took most."""
    ladder = run.ladder()
    best = run.ranking[0]
    steps = ladder.steps[best]
    if not steps["label"]:
        return "No light on these days: there is nothing to lose"
    worst = max(STEPS, key=lambda loss: steps[loss])
    label = steps["label"]
    short = short_names(run.outcomes)
    arrives = f"{short[best]}: {100 * steps['used'] / label:.0f} % of the label's watt-hours arrive"
    out = [name for name in run.ranking if name not in shown(run)]
    said = f"{arrives}; largest loss: {worst}, {100 * steps[worst] / label:.0f} %"
    return f"{said} ({', '.join(short[name] for name in out)} not allowed)" if out else said


def plot_ladder(run: Run, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """The loss ladder of every wiring of a run; for a phone or a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Days, example, simulate
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> ax = plot_ladder(run, ax=Figure().subplots())
    >>> ax.get_xlabel(), [tick.get_text() for tick in ax.get_yticklabels()][:3]
    ("Share of the label's watt-hours (%)", ['label in this light', 'cold cells', 'dull light'])
    """
    wide = (LadderChart.size if phone else LadderChart.page)[0]
    chart = LadderChart(new_axes(ax, (wide, HEAD + RUNG * len(rungs_of(run)))), phone=phone)
    chart.update(run)
    if ax is None:
        _lay_out(chart.ax)
    return chart.ax


def _lay_out(ax: Axes) -> None:
    """Lay a figure of its own out once: words beside the bars would move the axes again at every drawing."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    for _ in range(2):
        figure.canvas.draw()
    figure.set_layout_engine("none")
