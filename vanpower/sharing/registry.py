"""Every chart that can be made again, by the name that its recipe carries; `figures.KINDS` draws them."""

from __future__ import annotations

from collections.abc import Callable

from vanpower.sharing.drawn import Drawn
from vanpower.sharing.of_comparisons import ROOF, answer, of_one
from vanpower.sharing.of_rigs import ceiling, diagram, page
from vanpower.sharing.of_runs import of_run
from vanpower.sharing.of_trials import of_trial
from vanpower.sharing.of_trips import of_trip
from vanpower.sharing.page import PAGE, page_of
from vanpower.sharing.recipe import TRIP, ChartRecipe

CHARTS: dict[str, Callable[[ChartRecipe], Drawn]] = {
    "answer": answer,
    **dict.fromkeys(("power", "comparison", "day"), of_one),
    "ceiling": ceiling,
    "diagram": diagram,
    "sheet": page,
    **dict.fromkeys(("run", "charge", "months", "ladder"), of_run),
    "trial": of_trial,
    TRIP: of_trip,
    ROOF: of_one,
    PAGE: page_of,
}
