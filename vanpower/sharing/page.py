"""A page to send: every state worked out, drawn and put into words, so that its reader needs nothing but a browser.

A state says what the command line says of the same question. States come and go one by one; what they share, such as
the part of a chart that stands still, or a caution, is held once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import matplotlib.pyplot as plt
from matplotlib.figure import Figure

from vanpower.figures.comparison import ComparisonChart, comparison_figure
from vanpower.figures.day import DayChart
from vanpower.figures.fragments import moving_svg, still_svg
from vanpower.figures.kinds import KINDS
from vanpower.figures.lighter import hatches_apart, lighter
from vanpower.figures.power import PowerChart
from vanpower.figures.style import Chart, lettered, title_line
from vanpower.results.verdict import glued
from vanpower.rig import Days, Request, Snapshot, printable
from vanpower.sharing.drawn import Drawn, rig_in
from vanpower.sharing.forum import told
from vanpower.sharing.of_comparisons import block_of, numbers_of, words_of
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.states import Control, Page, State, controls, counts_for, questions, usual_words
from vanpower.studies.comparison import Comparison, compare
from vanpower.weather.days import day_of

PAGE = "page"
# what its recipe calls it
Progress = Callable[..., Iterable[Any]]


def page_of(recipe: ChartRecipe, progress: Progress | None = None) -> Drawn:
    """The page of a recipe; its chart as a picture is the one of the state that was asked for.

    Parameters
    ----------
    recipe : ChartRecipe
        Its options say how many values each control has; the usual ones where it has none.
    progress : callable, optional
        Wraps the list of states, as `tqdm.auto.tqdm` does.

    Raises
    ------
    ValueError
        For controls that the question does not have, or more states than a page holds.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> rigs, moment = example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15)
    >>> drawn = page_of(chart_recipe("page", rigs, moment, light=5))
    >>> len(drawn.page.states), drawn.numbers["150 W/m²"]
    (5, '2s 29.1 W, 2p 29.2 W')
    """
    rig, requests = rig_in(recipe), _requests(recipe)
    counts = dict(recipe.options) or counts_for(usual_words(requests), recipe.rigs, requests)
    moved = controls(recipe.rigs, requests, counts)
    asked = questions(recipe.rigs, requests, moved)
    page, numbers, first = Gathered(rig.name, moved), {}, None
    for number, (rigs, request) in enumerate(progress(asked) if progress else asked):
        comparison = compare(rigs, request)
        page.add(comparison)
        numbers[_place_words(moved, number)] = _told_numbers(comparison)
        first = comparison if number == page.start else first
    assert first is not None
    return Drawn(comparison_figure([first]), {**numbers_of([first]), **numbers}, words_of([first]), page=page.done())


def _requests(recipe: ChartRecipe) -> list[Request]:
    """What was asked: one moment, or days."""
    moments = [request for request in recipe.requests if isinstance(request, Snapshot)]
    days = [request for request in recipe.requests if isinstance(request, Days)]
    if len(days) + len(moments) < len(recipe.requests) or not (len(moments) == 1 or days) or (moments and days):
        raise ValueError(f"chart {PAGE} shows one moment, or days, and the recipe asks for something else.")
    return [*moments, *days]


def _place_words(moved: Sequence[Control], number: int) -> str:
    """Where the controls stand at a state, in words."""
    said: list[str] = []
    for control in reversed(moved):
        number, value = divmod(number, len(control.labels))
        said.insert(0, control.labels[value])
    return ", ".join(said)


def _told_numbers(comparison: Comparison) -> str:
    """What every wiring delivers, in the order in which they were asked about, and which are out."""
    said = []
    for name, outcome in comparison.outcomes.items():
        out = "" if outcome.refused is None else " (not allowed)"
        said.append(f"{name} {outcome.energy_wh:.1f} {comparison.unit}{out}")
    return ", ".join(said)


class Gathered:
    """A page while its states are added: drawings and words are kept once, whatever states share them.

    Examples
    --------
    >>> from vanpower import example
    >>> page = Gathered("van", ())
    >>> page.add(compare(example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15)))
    >>> page.done().words[page.done().states[0].title]
    'At 150 W/m² and cells at 15 °C'
    """

    def __init__(self, name: str, moved: Sequence[Control]) -> None:
        self.page = Page(name=name, controls=tuple(moved), heads=(), states=(), stills=(), movings=(), words=())
        self.states: list[State] = []
        self.heads: tuple[str, ...] = ()
        self.stills: dict[str, int] = {}
        self.movings: dict[str, int] = {}
        self.hatches: dict[str, str] = {}
        self.words: dict[str, int] = {}
        self.charts: dict[type[Chart], Chart] = {}
        self.shown: tuple[Any, ...] = ()
        self.still = 0

    @property
    def start(self) -> int:
        """Which state was asked for."""
        return self.page.start

    def add(self, comparison: Comparison) -> None:
        """Draw one state and put it into words."""
        chart, moving = self._draw(comparison)
        heads, rows = comparison.table().printed()
        self.heads = self.heads or tuple(map(printable, heads))
        rig = next(iter(comparison.outcomes.values())).rig
        block = block_of(comparison)
        said = told(rig, [comparison.request], [block], comparison.to_mend())
        self.states.append(
            State(
                still=self.still,
                moving=moving,
                finding=self._word(glued(" ".join(chart.title.split()))),
                title=self._word(block.title[:1].upper() + block.title[1:]),
                verdict=self._word(said.verdicts[0]),
                rows=tuple(tuple(map(self._word, row)) for row in rows),
                assumed=tuple(map(self._word, said.assumed)),
                cautions=tuple(map(self._word, said.cautions)),
            )
        )

    def done(self) -> Page:
        """The page with all that was added."""
        return replace(
            self.page,
            heads=self.heads,
            states=tuple(self.states),
            stills=tuple(self.stills),
            movings=tuple(self.movings),
            hatches=tuple(self.hatches.values()),
            words=tuple(self.words),
        )

    def _draw(self, comparison: Comparison) -> tuple[Chart, int]:
        """A state's chart and the number of its moving part; what stands still is drawn when it changes.

        Its title is left to the page, which sets it larger.
        """
        kind = _kind(comparison)
        if kind not in self.charts:
            self.charts[kind] = _bars(comparison) if kind is ComparisonChart else kind()
        chart = self.charts[kind]
        chart.update(comparison)  # type: ignore[attr-defined]
        lettered(chart.figure)
        title = title_line(chart.ax)
        title.set_visible(False)
        moving = [artist for artist in chart.moving if artist is not title]
        if self.shown != (kind, chart.frame):
            still = self._light(still_svg(chart.figure, moving))
            self.still = self.stills.setdefault(still, len(self.stills))
            self.shown = (kind, chart.frame)
        drawn = self._light(moving_svg(chart.figure, moving))
        return chart, self.movings.setdefault(drawn, len(self.movings))

    def _light(self, svg: str) -> str:
        """A drawing in few letters, its hatches laid aside for all states."""
        bare, hatches = hatches_apart(svg)
        self.hatches |= {name: lighter(tile) for name, tile in hatches.items() if name not in self.hatches}
        return lighter(bare)

    def _word(self, text: str) -> int:
        """The number of a text among those that the page holds."""
        return self.words.setdefault(printable(text), len(self.words))


def _kind(comparison: Comparison) -> type[Chart]:
    """The chart of a state: curves of a moment, the course of a day, or bars where there is neither."""
    if isinstance(comparison.request, Days):
        return DayChart if day_of(comparison.request).days == 1 else ComparisonChart
    single = any(len(outcome.rig.circuits) == 1 for outcome in comparison.outcomes.values())
    return PowerChart if single else ComparisonChart


def _bars(comparison: Comparison) -> ComparisonChart:
    """An empty chart of bars, high enough for every wiring."""
    figure = KINDS["comparison"].figure(comparison)
    plt.close(figure)
    wide, high = figure.get_size_inches()
    return ComparisonChart(Figure(figsize=(wide, high), layout="constrained").subplots())
