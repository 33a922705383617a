"""Rigs side by side over a moment or a real day: watts or watt-hours, where they went, and which reason decides."""

from __future__ import annotations

from vanpower.studies.budget import Budget, Month, autonomy_days, budget_of, rough_day_wh
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
from vanpower.studies.ladder import Ladder, explained
from vanpower.studies.light import CHUNK, Light, array_of, run_circuit, title_of, worked_out
from vanpower.studies.losses import AVOIDABLE, HOT, LOSSES, MISSED, blamed, losses_of
from vanpower.studies.runs import CHUNK_ROWS, Journal, Run, run_day, run_year
from vanpower.studies.sweeps import sweep
from vanpower.studies.walks import GAINS, PANEL_LOSSES, REFUSALS, STEPS, Rows

__all__ = [
    "ALIKE",
    "AVOIDABLE",
    "CHUNK",
    "CHUNK_ROWS",
    "GAINS",
    "HOT",
    "LOSSES",
    "MISSED",
    "NEXT_TO_NOTHING",
    "PANEL_LOSSES",
    "REFUSALS",
    "STEPS",
    "TOO_LITTLE",
    "WASTE",
    "WORST_FIRST",
    "Budget",
    "Comparison",
    "Journal",
    "Ladder",
    "Light",
    "Month",
    "Outcome",
    "Rows",
    "Run",
    "array_of",
    "autonomy_days",
    "blamed",
    "budget_of",
    "compare",
    "explained",
    "losses_of",
    "outcome",
    "rough_day_wh",
    "run_circuit",
    "run_day",
    "run_year",
    "sweep",
    "title_of",
    "worked_out",
]
