"""Charts of rigs through days: charge, months, the ladder of losses, and all of it in one picture."""

from __future__ import annotations

from vanpower.figures.kinds import KINDS
from vanpower.rig import printable
from vanpower.sharing.drawn import Drawn, Numbers, check_options, days_in, rig_in
from vanpower.sharing.recipe import ChartRecipe
from vanpower.simulation.run import Run, simulate
from vanpower.weather.days import find_day

PRINTED = {
    "Wh refused": ("left Wh", 1),
    "Wh cut": ("cut Wh", 1),
    "lowest %": ("lowest %", 0),
    "charge at end %": ("at end %", 0),
}
# what recipes call a column of a run's table, and its digits


def of_run(recipe: ChartRecipe) -> Drawn:
    """The picture of a run that a recipe asks for, walked anew."""
    check_options(recipe, KINDS[recipe.kind].options)
    rig_in(recipe)
    days = days_in(recipe)
    if days is None or len(recipe.requests) > 1:
        raise ValueError(f"chart {recipe.kind} needs one request, a day or days.")
    return drawn_run(recipe, simulate(recipe.rigs, days))


def drawn_run(recipe: ChartRecipe, run: Run) -> Drawn:
    """The picture of a run that is there already."""
    wiring = recipe.options.get("wiring")
    if wiring is not None and wiring not in run.outcomes:
        known = ", ".join(map(printable, run.outcomes))
        raise ValueError(f"chart {recipe.kind} has no wiring {printable(str(wiring))[:40]!r}; there are {known}.")
    figure = KINDS[recipe.kind].figure(run, **({} if wiring is None else {"wiring": str(wiring)}))
    return Drawn(figure, _numbers(run), f"{run.title}\n\n{run.verdict}\n\n{run.text()}\n\n{run.ladder().text()}")


def whole(run: Run) -> Run:
    """The run, if walking its request again gives all of it.

    Raises
    ------
    ValueError
        For a run that was stopped, or a part of one.
    """
    if run.interrupted:
        raise ValueError("it was stopped by hand, and a recipe stands for whole runs.")
    if len(run.time) != len(find_day(run.request.weather, run.request.day).table):
        raise ValueError("it shows a part of a run, and a recipe stands for whole runs.")
    return run


def _numbers(run: Run) -> Numbers:
    """What a run prints: watt-hours, charge, every step of the ladder, and each month."""
    numbers: Numbers = {}
    ladder, table = run.ladder(), run.table().to_pandas()
    for name in run.ranking:
        numbers[name] = f"{run.used_wh(name):.1f} Wh"
        for said, (column, digits) in PRINTED.items():
            numbers[f"{name}, {said}"] = f"{table.loc[name, column]:.{digits}f}"
        for step in ("label", *ladder.lossy):
            numbers[f"{name}, {step}"] = f"{ladder.steps[name][step]:.1f}"
        months = run.budget(name).months
        for month in months if len(months) > 1 else ():
            numbers[f"{name}, {month.name}"] = f"{month.could_wh:.0f} could, {month.used_wh:.0f} taken a day"
    return numbers
