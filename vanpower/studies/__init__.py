"""Rigs side by side over a moment or a real day: watts or watt-hours, where they went, and which reason decides."""

from __future__ import annotations

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
from vanpower.studies.light import CHUNK, Light, array_of, run_circuit, title_of, worked_out
from vanpower.studies.losses import AVOIDABLE, HOT, LOSSES, MISSED, blamed, losses_of
from vanpower.studies.shortlist import NOW, Offer, Shortlist, shortlist, with_controller

__all__ = [
    "ALIKE",
    "AVOIDABLE",
    "BUY_FIRST",
    "CHUNK",
    "FORBID",
    "HOT",
    "LOSSES",
    "MISSED",
    "NEXT_TO_NOTHING",
    "NOW",
    "TOO_LITTLE",
    "UNKNOWNS",
    "WASTE",
    "WORST_FIRST",
    "Choice",
    "Choices",
    "Comparison",
    "Doubt",
    "Light",
    "Offer",
    "Outcome",
    "Shortlist",
    "Unknown",
    "array_of",
    "blamed",
    "choice_of",
    "choices",
    "clipped",
    "compare",
    "forbidden",
    "how_sure",
    "losses_of",
    "one_more",
    "outcome",
    "ranked",
    "run_circuit",
    "shortlist",
    "title_of",
    "with_controller",
    "with_one_more",
    "worked_out",
]
