"""Rigs side by side: which brings more, which is allowed, what is worth buying, and how sure that is."""

from __future__ import annotations

from vanpower.studies.comparison import Comparison, Outcome, compare, outcome
from vanpower.studies.ranking import Ranked, Ranking, clipping_over, forbidden, rank_wirings
from vanpower.studies.restarts import TwoHills, restart_test, two_hills
from vanpower.studies.roof import (
    FixtureCosts,
    RoofAnswer,
    ShadeMap,
    compare_headings,
    compare_roofs,
    compare_trackers,
    fixture_costs,
    shade_map,
    string_mates,
)
from vanpower.studies.shortlist import Offer, Shortlist, shortlist
from vanpower.studies.sweeps import sweep
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
    "clipping_over",
    "compare",
    "compare_headings",
    "compare_roofs",
    "compare_trackers",
    "fixture_costs",
    "forbidden",
    "how_sure",
    "outcome",
    "rank_wirings",
    "restart_test",
    "shade_map",
    "shortlist",
    "string_mates",
    "sweep",
    "two_hills",
]
