"""Every chart that can be made again, by the name that its recipe carries."""

from __future__ import annotations

from collections.abc import Callable

from vanpower.figures import DayChart, PowerChart
from vanpower.sharing.drawn import Drawn
from vanpower.sharing.of_comparisons import ROOF, answer, bars, of_one, roof
from vanpower.sharing.of_rigs import ceiling, diagram, page
from vanpower.sharing.of_runs import RUN_CHARTS, of_run
from vanpower.sharing.of_trials import of_trial
from vanpower.sharing.page import PAGE, page_of
from vanpower.sharing.recipe import ChartRecipe

CHARTS: dict[str, Callable[[ChartRecipe], Drawn]] = {
    "answer": answer,
    "power": of_one(PowerChart, "p_top", "v_top"),
    "comparison": bars,
    "day": of_one(DayChart),
    "ceiling": ceiling,
    "diagram": diagram,
    "sheet": page,
    **dict.fromkeys(RUN_CHARTS, of_run),
    "trial": of_trial,
    ROOF: roof,
    PAGE: page_of,
}
