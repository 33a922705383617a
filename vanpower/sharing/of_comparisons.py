"""Charts of comparisons: rigs side by side in one light or over days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from matplotlib.figure import Figure

from vanpower.figures import Chart, comparison_figure, plot_comparison, roof_figure
from vanpower.rig import Parked
from vanpower.sharing.drawn import Drawn, Numbers, axis_ends, figure_of, rig_in
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.trial_rows import TrialRows
from vanpower.studies import Comparison, compare

ROOF = "roof"
# the one chart of a parked van


def _comparisons(recipe: ChartRecipe) -> list[Comparison]:
    """The rigs over everything that was asked."""
    if not recipe.requests:
        raise ValueError(f"chart {recipe.kind} needs a light or a day, and the recipe has none.")
    rig_in(recipe)
    asked = [request for request in recipe.requests if not isinstance(request, TrialRows)]
    if len(asked) < len(recipe.requests):
        raise ValueError(f"chart {recipe.kind} shows a light or a day, and the recipe holds a trial.")
    if any(isinstance(request, Parked) != (recipe.kind == ROOF) for request in asked):
        raise ValueError(f"a parked van goes with chart {ROOF}, and a light or a day with the others.")
    return [compare(recipe.rigs, request) for request in asked]


def numbers_of(comparisons: Sequence[Comparison]) -> Numbers:
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
    return "\n\n".join(f"{c.title}\n\n{c.text()}\n\n{c.verdict}" for c in comparisons)


def of_one(make: Callable[..., Chart], *known: str) -> Callable[[ChartRecipe], Drawn]:
    """What draws a chart of one comparison, with options by the names it knows."""

    def draw_one(recipe: ChartRecipe) -> Drawn:
        options = axis_ends(recipe, known)
        comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
        figure = Figure(figsize=Chart.page, layout="constrained")
        chart = make(figure.subplots(), phone=False, **options)
        chart.update(comparison)  # type: ignore[attr-defined]
        figure.draw_without_rendering()
        chart.settle()
        return Drawn(chart.figure, numbers_of([comparison]), _words([comparison]))

    return draw_one


def bars(recipe: ChartRecipe) -> Drawn:
    """Bars of one comparison, high enough for every wiring."""
    axis_ends(recipe)
    comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
    return Drawn(figure_of(plot_comparison(comparison, phone=False)), numbers_of([comparison]), _words([comparison]))


def answer(recipe: ChartRecipe) -> Drawn:
    """Everything asked, a row each."""
    axis_ends(recipe)
    comparisons = _comparisons(recipe)
    return Drawn(comparison_figure(comparisons), numbers_of(comparisons), _words(comparisons))


def roof(recipe: ChartRecipe) -> Drawn:
    """The roof from above with its shadows, the curves, and the day of a parked van."""
    axis_ends(recipe)
    rig_in(recipe).need_roof()
    comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
    assert isinstance(comparison.request, Parked)
    return Drawn(roof_figure(recipe.rigs, comparison.request), numbers_of([comparison]), _words([comparison]))
