"""Charts drawn from their recipes: whatever is saved was drawn from what is saved with it, so it can be made again.

To make another chart one that can be made again, add a line to `CHARTS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import matplotlib.pyplot as plt
from matplotlib.figure import Figure
from matplotlib.text import Text

from vanpower.checks import cold_ceiling, rounded_up
from vanpower.figures import (
    MADE_BY,
    CeilingChart,
    Chart,
    DayChart,
    PowerChart,
    comparison_figure,
    write_picture,
)
from vanpower.figures.comparison import plot_comparison
from vanpower.recipes import (
    Block,
    ChartRecipe,
    chart_recipe,
    did_you_mean,
    forum_block,
    nearest,
    printable,
    recipe_line,
)
from vanpower.recipes.charts import Option
from vanpower.rig import Rig
from vanpower.studies import Comparison, compare

LARGEST_AXIS = 1e6
# [W or V] far beyond what a van's chart can show
Numbers = dict[str, str]
Subject = Comparison | Sequence[Comparison] | Rig


@dataclass(frozen=True, eq=False)
class Drawn:
    """A chart, the numbers it shows as printed, and the answer in words."""

    figure: Figure
    numbers: Numbers
    words: str


@dataclass(frozen=True, eq=False)
class Remade(Drawn):
    """A chart made again.

    Parameters
    ----------
    recipe : ChartRecipe
        As it was found.
    differences : tuple of str
        Numbers that are not as printed then, a sentence each.
    """

    recipe: ChartRecipe
    differences: tuple[str, ...]

    def verdict(self) -> str:
        """Whether this is the chart it was, in a sentence or a few."""
        made = printable(self.recipe.versions.get("vanpower", "of unknown version"))[:40]
        then = f"Made by vanpower {made}, made again by {MADE_BY}"
        others = ", ".join(other_versions(self.recipe))
        then += f" ({others})." if others else ", on the same versions."
        if not self.recipe.numbers:
            return f"{then} The recipe holds no numbers to compare with."
        if not self.differences:
            return f"{then} All {len(self.numbers)} numbers are the same to the last printed digit."
        edited = "The recipe was edited, or another machine rounds otherwise."
        why = "The versions above may be why." if others else edited
        return f"{then} WARNING: {len(self.differences)} of {len(self.numbers)} numbers differ. {why}"


def save_chart(path: str | Path, kind: str, subject: Subject, **options: Option) -> ChartRecipe:
    """Draw a chart and save it with its recipe inside, and a short line at its foot.

    Parameters
    ----------
    path : str or Path
        Ends in .png or .svg.
    kind : str
        A name in `CHARTS`.
    subject : Comparison, sequence of Comparison, or Rig
        What the chart shows; several comparisons are of the same rigs.
    **options
        What else the chart is told, such as p_top and v_top of "power".

    Returns
    -------
    ChartRecipe
        What went into the picture.
    """
    recipe, chart = drawn_from(recipe_for(kind, subject, **options))
    write_chart(path, recipe, chart.figure)
    return recipe


def save_answer(path: str | Path, comparisons: Sequence[Comparison]) -> tuple[ChartRecipe | None, str]:
    """Save the picture of an answer; where it cannot carry its recipe, say why and save it without."""
    path = Path(path)
    try:
        if path.suffix.lower() == ".pdf":
            raise ValueError("it is a PDF; PNG and SVG carry one.")
        recipe = recipe_for("answer", comparisons)
    except ValueError as trouble:
        figure = comparison_figure(comparisons)
        plt.close(figure)
        write_picture(figure, path)
        return None, str(trouble)
    recipe, chart = drawn_from(recipe)
    write_chart(path, recipe, chart.figure)
    return recipe, ""


def forum_answer(
    subject: Comparison | Sequence[Comparison], *, kind: str = "answer", markdown: bool = False, **options: Option
) -> str:
    """A text to paste into a forum: verdict, table, assumptions, cautions and the recipe as one line.

    Parameters
    ----------
    subject : Comparison or sequence of Comparison
        Of the same rigs.
    kind : str
        The chart that goes with it, by its name in `CHARTS`; all but "answer" show the first comparison.
    markdown : bool
        For boards that read Markdown; else plain text.
    **options
        What else the chart is told.
    """
    comparisons = [subject] if isinstance(subject, Comparison) else list(subject)
    shown = comparisons if kind == "answer" else comparisons[:1]
    recipe = replace(recipe_for(kind, shown, **options), numbers=_numbers(shown))
    blocks = [Block(title=c.title, verdict=c.verdict(), table=c.text()) for c in comparisons]
    return forum_block(recipe, blocks, markdown=markdown)


def recipe_for(kind: str, subject: Subject, **options: Option) -> ChartRecipe:
    """The recipe of a chart of this subject, still without its numbers."""
    if isinstance(subject, Rig):
        return chart_recipe(kind, {"rig": subject}, **options)
    comparisons = [subject] if isinstance(subject, Comparison) else list(subject)
    rigs = {name: outcome.rig for name, outcome in comparisons[0].outcomes.items()}
    if any({name: o.rig for name, o in other.outcomes.items()} != rigs for other in comparisons):
        raise ValueError("comparisons of unlike rigs cannot share a picture; save one each.")
    return chart_recipe(kind, rigs, *(comparison.request for comparison in comparisons), **options)


def drawn_from(recipe: ChartRecipe) -> tuple[ChartRecipe, Drawn]:
    """The chart of a recipe, and the recipe with the numbers it shows."""
    chart = draw(recipe)
    return replace(recipe, numbers=chart.numbers), chart


def write_chart(path: str | Path, recipe: ChartRecipe, figure: Figure) -> None:
    """Write a picture with its recipe inside and at its foot."""
    foot = f"{MADE_BY}, recipe {recipe.id}: vanpower remake draws it again"
    write_picture(figure, Path(path), recipe=recipe_line(recipe), foot=foot)


def remake(recipe: ChartRecipe) -> Remade:
    """The chart of a recipe found in a picture or a text, and what is not as it was."""
    chart = draw(recipe)
    return Remade(chart.figure, chart.numbers, chart.words, recipe, tuple(_differences(recipe.numbers, chart.numbers)))


def draw(recipe: ChartRecipe) -> Drawn:
    """The chart of a recipe."""
    if recipe.kind not in CHARTS:
        near = did_you_mean(nearest(recipe.kind, CHARTS))
        raise ValueError(f"chart {printable(recipe.kind)[:40]!r} is not known{near} There are {', '.join(CHARTS)}.")
    chart = CHARTS[recipe.kind](recipe)
    plt.close(chart.figure)
    for text in chart.figure.findobj(Text):
        # names of strangers are letters to be shown, never formulas
        text.set_parse_math(False)  # type: ignore[attr-defined]
        text.set_text("\n".join(map(printable, text.get_text().split("\n"))))
    return chart


def other_versions(recipe: ChartRecipe) -> list[str]:
    """Packages whose version is not the one of the recipe, with both."""
    now = ChartRecipe(kind="", rigs={}).versions
    pairs = [(name, recipe.versions.get(name, "unknown"), version) for name, version in now.items()]
    return [f"{name} {printable(then)[:20]} then, {version} now" for name, then, version in pairs if then != version]


def _differences(then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Numbers that are not the same, a sentence each."""
    names = dict.fromkeys([*then, *now]) if then else {}
    pairs = [(name, then.get(name, "not there"), now.get(name, "not there")) for name in names]
    return [printable(f"{name}: {old} then, {new} now") for name, old, new in pairs if old != new]


# What each chart shows


def _comparisons(recipe: ChartRecipe) -> list[Comparison]:
    """The rigs over everything that was asked."""
    if not recipe.requests:
        raise ValueError(f"chart {recipe.kind} needs a light or a day, and the recipe has none.")
    return [compare(recipe.rigs, request) for request in recipe.requests]


def _numbers(comparisons: Sequence[Comparison]) -> Numbers:
    """What a comparison prints, by names that say where it stands."""
    numbers: Numbers = {}
    for k, comparison in enumerate(comparisons, 1):
        light = f"{k}. " if len(comparisons) > 1 else ""
        for name in comparison.ranking:
            outcome = comparison.outcomes[name]
            numbers[f"{light}{name}"] = f"{outcome.energy_wh:.1f} {comparison.unit}"
            for loss in comparison.lossy:
                numbers[f"{light}{name}, {loss}"] = f"{outcome.lost_wh(loss):.1f}"
            numbers[f"{light}{name}, ceiling"] = f"{outcome.ceiling.margin:.1f} V"
    return numbers


def _words(comparisons: Sequence[Comparison]) -> str:
    """Tables and verdicts in plain lines."""
    return "\n\n".join(f"{c.title}\n\n{c.text()}\n\n{c.verdict()}" for c in comparisons)


def _options(recipe: ChartRecipe, known: Sequence[str] = ()) -> dict[str, float]:
    """What the chart is told besides, by names it knows, each an axis's end."""
    for name, value in recipe.options.items():
        if name not in known:
            can = f"it knows {', '.join(known)}" if known else "it knows none"
            raise ValueError(f"chart {recipe.kind} has no option {printable(name)[:40]!r}; {can}.")
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= LARGEST_AXIS:
            raise ValueError(f"{name} of chart {recipe.kind} is a number above 0, up to {LARGEST_AXIS:g}.")
    return {name: float(value) for name, value in recipe.options.items() if isinstance(value, int | float)}


def _of_one(make: Callable[..., Chart], *known: str) -> Callable[[ChartRecipe], Drawn]:
    """What draws a chart of one comparison, with options by the names it knows."""

    def draw_one(recipe: ChartRecipe) -> Drawn:
        options = _options(recipe, known)
        comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
        chart = make(**options)
        chart.update(comparison)  # type: ignore[attr-defined]
        return Drawn(chart.figure, _numbers([comparison]), _words([comparison]))

    return draw_one


def _bars(recipe: ChartRecipe) -> Drawn:
    """Bars of one comparison, high enough for every wiring."""
    _options(recipe)
    comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
    figure = plot_comparison(comparison).get_figure(root=True)
    assert isinstance(figure, Figure)
    return Drawn(figure, _numbers([comparison]), _words([comparison]))


def _answer(recipe: ChartRecipe) -> Drawn:
    """Everything asked, a row each."""
    _options(recipe)
    comparisons = _comparisons(recipe)
    return Drawn(comparison_figure(comparisons), _numbers(comparisons), _words(comparisons))


def _ceiling(recipe: ChartRecipe) -> Drawn:
    """Cold volts under the controller's ceiling."""
    _options(recipe)
    rig = next(iter(recipe.rigs.values()))
    chart = CeilingChart()
    chart.update(rig)
    verdicts = [cold_ceiling(rig, circuit) for circuit in rig.circuits]
    numbers = {}
    for k, (circuit, verdict) in enumerate(zip(rig.circuits, verdicts, strict=True), 1):
        numbers[f"circuit {k}, cold volts"] = f"{rounded_up(circuit.controller.v_pv_max - verdict.margin)} V"
        numbers[f"circuit {k}, left"] = f"{verdict.margin:.2f} V"
    return Drawn(chart.figure, numbers, "\n\n".join(map(str, verdicts)))


CHARTS: dict[str, Callable[[ChartRecipe], Drawn]] = {
    "answer": _answer,
    "power": _of_one(PowerChart, "p_top", "v_top"),
    "comparison": _bars,
    "day": _of_one(DayChart),
    "ceiling": _ceiling,
}
# every chart that can be made again, by the name that its recipe carries
