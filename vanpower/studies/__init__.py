"""Rigs side by side: which brings more, which is allowed, what is worth buying, and how sure one may be."""

from __future__ import annotations

from vanpower.studies.comparison import Comparison, Outcome, compare, outcome
from vanpower.studies.ranking import Ranked, Ranking, clipping_over, forbidden, one_more, rank_wirings, with_one_more
from vanpower.studies.restarts import TwoHills, restart_test, two_hills
from vanpower.studies.roof import (
    FixtureCosts,
    RoofAnswer,
    ShadeMap,
    best_roof,
    compare_headings,
    fixture_costs,
    moved,
    plan_of,
    shade_map,
    shifted_panel,
    string_mates,
    trackers,
    turned_panel,
)
from vanpower.studies.shortlist import Offer, Shortlist, shortlist, with_controller
from vanpower.studies.sweep import sweep
from vanpower.studies.uncertainty import UNKNOWNS, LeadUncertainty, Unknown, how_sure

__all__ = [
    "UNKNOWNS",
    "Comparison",
    "FixtureCosts",
    "LeadUncertainty",
    "Offer",
    "Outcome",
    "Ranked",
    "Ranking",
    "RoofAnswer",
    "ShadeMap",
    "Shortlist",
    "TwoHills",
    "Unknown",
    "best_roof",
    "clipping_over",
    "compare",
    "compare_headings",
    "fixture_costs",
    "forbidden",
    "how_sure",
    "moved",
    "one_more",
    "outcome",
    "plan_of",
    "rank_wirings",
    "restart_test",
    "shade_map",
    "shifted_panel",
    "shortlist",
    "string_mates",
    "sweep",
    "trackers",
    "turned_panel",
    "two_hills",
    "with_controller",
    "with_one_more",
]
