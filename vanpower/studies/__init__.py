"""Rigs side by side over a moment or a real day: watts or watt-hours, where they went, and which reason decides."""

from __future__ import annotations

from vanpower.studies.budget import Budget, Month, autonomy_days, budget_of, rough_day_wh
from vanpower.studies.choices import (
    BUY_FIRST,
    FORBID,
    Choice,
    Choices,
    choice_of,
    choices,
    clipped,
    forbidden,
    one_more,
    ranked,
    with_one_more,
)
from vanpower.studies.comparisons import (
    ALIKE,
    NEXT_TO_NOTHING,
    TOO_LITTLE,
    WASTE,
    WORST_FIRST,
    Comparison,
    Outcome,
    compare,
    outcome,
)
from vanpower.studies.doubt import UNKNOWNS, Doubt, Unknown, how_sure
from vanpower.studies.ladder import Ladder, explained
from vanpower.studies.light import CHUNK, Light, array_of, run_circuit, title_of, worked_out
from vanpower.studies.losses import AVOIDABLE, HOT, LOSSES, MISSED, blamed, losses_of
from vanpower.studies.runs import CHUNK_ROWS, Journal, Run, run_day, run_year
from vanpower.studies.shortlist import NOW, Offer, Shortlist, shortlist, with_controller
from vanpower.studies.sweeps import sweep
from vanpower.studies.walks import GAINS, PANEL_LOSSES, REFUSALS, STEPS, Rows

__all__ = [
    "ALIKE",
    "AVOIDABLE",
    "BUY_FIRST",
    "CHUNK",
    "CHUNK_ROWS",
    "FORBID",
    "GAINS",
    "HOT",
    "LOSSES",
    "MISSED",
    "NEXT_TO_NOTHING",
    "NOW",
    "PANEL_LOSSES",
    "REFUSALS",
    "STEPS",
    "TOO_LITTLE",
    "UNKNOWNS",
    "WASTE",
    "WORST_FIRST",
    "Budget",
    "Choice",
    "Choices",
    "Comparison",
    "Doubt",
    "Journal",
    "Ladder",
    "Light",
    "Month",
    "Offer",
    "Outcome",
    "Rows",
    "Run",
    "Shortlist",
    "Unknown",
    "array_of",
    "autonomy_days",
    "blamed",
    "budget_of",
    "choice_of",
    "choices",
    "clipped",
    "compare",
    "explained",
    "forbidden",
    "how_sure",
    "losses_of",
    "one_more",
    "outcome",
    "ranked",
    "rough_day_wh",
    "run_circuit",
    "run_day",
    "run_year",
    "shortlist",
    "sweep",
    "title_of",
    "with_controller",
    "with_one_more",
    "worked_out",
]
