"""The chart of a trip: its days walked anew from its stops."""

from __future__ import annotations

from vanpower.figures.kinds import KINDS
from vanpower.rig import Stop
from vanpower.sharing.drawn import Drawn, Numbers, check_options, rig_in
from vanpower.sharing.recipe import ChartRecipe
from vanpower.studies.trips import Trip, walk_trip

CHANGES = "changes"
# what recipes call whether changes that carry the trip were looked for


def of_trip(recipe: ChartRecipe) -> Drawn:
    """The picture of a trip that a recipe asks for, walked anew."""
    check_options(recipe, (CHANGES,))
    rig = rig_in(recipe)
    stops = [request for request in recipe.requests if isinstance(request, Stop)]
    if len(recipe.rigs) > 1 or not stops:
        raise ValueError("chart trip needs one rig and its stops.")
    return drawn_trip(recipe, walk_trip(rig, stops, changes=bool(recipe.options.get(CHANGES))))


def drawn_trip(recipe: ChartRecipe, trip: Trip) -> Drawn:
    """The picture of a trip that is there already."""
    return Drawn(KINDS[recipe.kind].figure(trip), _numbers(trip), f"{trip.title}\n\n{trip.verdict}\n\n{trip.text()}")


def _numbers(trip: Trip) -> Numbers:
    """What a trip prints: days that fall short, watt-hours and charge of each day, and the changes that carry it."""
    numbers = {"days short": f"{len(trip.short)} of {len(trip.days)}", "cut": f"{trip.cut_wh:.1f} Wh"}
    for number, day in enumerate(trip.days, 1):
        took = f"{day.used_wh:.1f} taken, {day.fed_wh:.1f} fed, {day.cut_wh:.1f} Wh cut, {day.charge_pct:.0f} % at end"
        numbers[f"day {number}, {day.said}"] = took
    return numbers | {f"change {k}": change.what for k, change in enumerate(trip.changes or (), 1)}
