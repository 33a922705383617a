"""Every chart that can be made again, by the name that its recipe carries."""

from __future__ import annotations

from collections.abc import Callable

from vanpower.figures import DayChart, PowerChart
from vanpower.recipes import ChartRecipe
from vanpower.remakes.comparisons import ROOF, answer, bars, of_one, roof
from vanpower.remakes.drawn import Drawn
from vanpower.remakes.rigs import ceiling, diagram, page
from vanpower.remakes.runs import RUN_CHARTS, of_run
from vanpower.remakes.trials import of_trial

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
}
