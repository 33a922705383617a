"""Charts: results in, one Axes drawn and returned.

They compute only what the pen needs, and leave showing and saving to the caller.
"""

from __future__ import annotations

from vanpower.figures.ceiling import CeilingChart, plot_ceiling
from vanpower.figures.commission import commission_page, judged_page, settings_page
from vanpower.figures.comparison import ComparisonChart, comparison_figure, plot_comparison
from vanpower.figures.day import DayChart, plot_day
from vanpower.figures.diagram import Drawn, drawn, plot_folded, plot_wiring
from vanpower.figures.kinds import KINDS, Kind, kind_called, live_chart, must_show, plot
from vanpower.figures.ladder import LadderChart, plot_ladder, rungs_of
from vanpower.figures.months import MonthsChart, plot_months
from vanpower.figures.names import finding
from vanpower.figures.panel import plot_panel
from vanpower.figures.panels_drawing import InShade, ShadeChart
from vanpower.figures.power import PowerChart, plot_power
from vanpower.figures.roof import RoofChart, RoofPairChart, plot_roof, plot_roof_day, plot_shade_map, roof_figure
from vanpower.figures.roof_plan import OnRoof, RoofDayChart
from vanpower.figures.run import RunChart, plot_run, run_figure
from vanpower.figures.sheet import A4, CAUTIONS, sheet
from vanpower.figures.style import LOSS_STYLES, MADE_BY, Chart
from vanpower.figures.trial import TrialChart, plot_trial
from vanpower.figures.watching import WatchChart, plot_watch

__all__ = [
    "A4",
    "CAUTIONS",
    "KINDS",
    "LOSS_STYLES",
    "MADE_BY",
    "CeilingChart",
    "Chart",
    "ComparisonChart",
    "DayChart",
    "Drawn",
    "InShade",
    "Kind",
    "LadderChart",
    "MonthsChart",
    "OnRoof",
    "PowerChart",
    "RoofChart",
    "RoofDayChart",
    "RoofPairChart",
    "RunChart",
    "ShadeChart",
    "TrialChart",
    "WatchChart",
    "commission_page",
    "comparison_figure",
    "drawn",
    "finding",
    "judged_page",
    "kind_called",
    "live_chart",
    "must_show",
    "plot",
    "plot_ceiling",
    "plot_comparison",
    "plot_day",
    "plot_folded",
    "plot_ladder",
    "plot_months",
    "plot_panel",
    "plot_power",
    "plot_roof",
    "plot_roof_day",
    "plot_run",
    "plot_shade_map",
    "plot_trial",
    "plot_watch",
    "plot_wiring",
    "roof_figure",
    "run_figure",
    "rungs_of",
    "settings_page",
    "sheet",
]
