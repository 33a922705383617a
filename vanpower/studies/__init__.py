"""Rigs side by side over a moment or a real day: watts or watt-hours, where they went, and which reason decides."""

from __future__ import annotations

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
from vanpower.studies.light import CHUNK, Light, array_of, run_circuit, title_of, worked_out
from vanpower.studies.losses import AVOIDABLE, HOT, LOSSES, MISSED, blamed, losses_of
from vanpower.studies.sweeps import sweep

__all__ = [
    "ALIKE",
    "AVOIDABLE",
    "CHUNK",
    "HOT",
    "LOSSES",
    "MISSED",
    "NEXT_TO_NOTHING",
    "TOO_LITTLE",
    "WASTE",
    "WORST_FIRST",
    "Comparison",
    "Light",
    "Outcome",
    "array_of",
    "blamed",
    "compare",
    "losses_of",
    "outcome",
    "run_circuit",
    "sweep",
    "title_of",
    "worked_out",
]
