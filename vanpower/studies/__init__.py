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
from vanpower.studies.light import CHUNK, Light, array_of, in_light, run_circuit, title_of, worked_out
from vanpower.studies.losses import AVOIDABLE, HOT, LOSSES, MISSED, blamed, losses_of
from vanpower.studies.roofs import (
    FixtureCosts,
    RoofAnswer,
    ShadeMap,
    best_roof,
    fixture_costs,
    headings,
    moved,
    plan_of,
    shade_map,
    string_mates,
    trackers,
    turned_panel,
)

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
    "FixtureCosts",
    "Light",
    "Outcome",
    "RoofAnswer",
    "ShadeMap",
    "array_of",
    "best_roof",
    "blamed",
    "compare",
    "fixture_costs",
    "headings",
    "in_light",
    "losses_of",
    "moved",
    "outcome",
    "plan_of",
    "run_circuit",
    "shade_map",
    "string_mates",
    "title_of",
    "trackers",
    "turned_panel",
    "worked_out",
]
