"""Charts of a rig alone: cold volts, the wiring diagram, the page to print."""

from __future__ import annotations

from vanpower.checks.common import rounded_up
from vanpower.checks.registry import check
from vanpower.checks.volts import cold_ceiling
from vanpower.figures.diagram import drawn
from vanpower.figures.kinds import KINDS
from vanpower.results.verdict import Verdict
from vanpower.sharing.drawn import Drawn, Numbers, axis_ends, days_in, rig_in
from vanpower.sharing.recipe import ChartRecipe
from vanpower.studies.ranking import clipping_over


def ceiling(recipe: ChartRecipe) -> Drawn:
    """Cold volts under the controller's ceiling."""
    axis_ends(recipe)
    rig = rig_in(recipe)
    verdicts = [cold_ceiling(rig, circuit) for circuit in rig.circuits]
    numbers: Numbers = {}
    for k, (circuit, verdict) in enumerate(zip(rig.circuits, verdicts, strict=True), 1):
        numbers[f"circuit {k}, cold volts"] = f"{rounded_up(circuit.controller.v_pv_max - verdict.margin)} V"
        numbers[f"circuit {k}, left"] = f"{verdict.margin:.2f} V"
    return Drawn(KINDS[recipe.kind].figure(rig), numbers, "\n\n".join(map(str, verdicts)))


def diagram(recipe: ChartRecipe) -> Drawn:
    """What goes where, with every rating."""
    axis_ends(recipe)
    rig = rig_in(recipe)
    numbers: Numbers = {}
    for k, circuit in enumerate(rig.circuits, 1):
        words = drawn(rig, circuit)
        numbers[f"circuit {k}, string fuses"] = ", ".join(filter(None, words.fuses)) or "none"
        numbers[f"circuit {k}, isolator"] = words.isolator.replace("\n", " ")
        numbers[f"circuit {k}, battery fuse"] = words.battery_fuse
    said = "\n".join(f"{name}: {value}" for name, value in numbers.items())
    return Drawn(KINDS[recipe.kind].figure(rig), numbers, said)


def page(recipe: ChartRecipe) -> Drawn:
    """The page to print, with what is clipped over days where the recipe asks for some."""
    axis_ends(recipe)
    rig, days = rig_in(recipe), days_in(recipe)
    extra = [clipping_over(rig, days)] if days else []
    verdicts = [*check(rig), *extra]
    numbers = {f"{k}. {verdict.question}": _told(verdict) for k, verdict in enumerate(verdicts, 1)}
    return Drawn(KINDS[recipe.kind].figure(rig, extra=extra), numbers, "\n\n".join(map(str, verdicts)))


def _told(verdict: Verdict) -> str:
    """An answer and its margin."""
    return f"{verdict.answer}, {verdict.margin:.2f} {verdict.unit}".strip()
