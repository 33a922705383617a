"""Charts of comparisons: rigs side by side in one light or over days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from vanpower.figures.kinds import KINDS
from vanpower.rig import Parked, Request
from vanpower.sharing.drawn import Drawn, Numbers, axis_ends, rig_in
from vanpower.sharing.forum import WIDTH, Block
from vanpower.sharing.recipe import ChartRecipe
from vanpower.studies.comparison import Comparison, compare
from vanpower.studies.restarts import restart_test

ROOF = "roof"
# the one chart of a parked van


def _comparisons(recipe: ChartRecipe) -> list[Comparison]:
    """The rigs over everything that was asked."""
    if not recipe.requests:
        raise ValueError(f"chart {recipe.kind} needs a light or a day, and the recipe has none.")
    rig_in(recipe)
    asked = [request for request in recipe.requests if isinstance(request, Request)]
    if len(asked) < len(recipe.requests):
        raise ValueError(f"chart {recipe.kind} shows a light or a day, and the recipe holds a trial or stops.")
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


def block_of(comparison: Comparison) -> Block:
    """One light of an answer in words.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30))
    >>> block_of(found).title
    'at 700 W/m² and cells at 30 °C'
    """
    return Block(
        title=comparison.title,
        verdict=comparison.verdict,
        table=comparison.text(WIDTH),
        more=restart_test(comparison),
    )


def words_of(comparisons: Sequence[Comparison]) -> str:
    """Tables and verdicts in plain lines.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30))
    >>> words_of([found]).splitlines()[0]
    'at 700 W/m² and cells at 30 °C'
    """
    return "\n\n".join(f"{c.title}\n\n{c.text()}\n\n{c.verdict}" for c in comparisons)


def of_one(recipe: ChartRecipe) -> Drawn:
    """A chart of one comparison: the first light or day that the recipe asks for."""
    kind = KINDS[recipe.kind]
    options = axis_ends(recipe, kind.options)
    if recipe.kind == ROOF:
        rig_in(recipe).need_roof()
    comparison = _comparisons(replace(recipe, requests=recipe.requests[:1]))[0]
    return Drawn(kind.figure(comparison, **options), numbers_of([comparison]), words_of([comparison]))


def answer(recipe: ChartRecipe) -> Drawn:
    """Everything asked, a row each."""
    axis_ends(recipe)
    comparisons = _comparisons(recipe)
    return Drawn(KINDS[recipe.kind].figure(comparisons), numbers_of(comparisons), words_of(comparisons))
