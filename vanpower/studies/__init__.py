"""Rigs side by side over a moment, a day or a year: what each brings, where the rest went, and which reason decides."""

from __future__ import annotations

from vanpower.studies.budget import Budget, Month, autonomy_days, rough_day_wh
from vanpower.studies.choices import Choice, Choices, choices, clipped, forbidden, one_more, with_one_more
from vanpower.studies.comparisons import ALIKE, Comparison, Outcome, compare, outcome
from vanpower.studies.doubt import UNKNOWNS, Doubt, Unknown, how_sure
from vanpower.studies.frost import WarmLocker, warm_locker
from vanpower.studies.harvests import harvest_said, measured_harvest
from vanpower.studies.ladder import Ladder
from vanpower.studies.light import Light, array_of, in_light, worked_out
from vanpower.studies.losses import LOSSES
from vanpower.studies.restarts import BY_SWITCH, RESTART, TwoHills, restart_test, two_hills
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
    shifted_panel,
    string_mates,
    trackers,
    turned_panel,
)
from vanpower.studies.runs import Journal, Run, run_day, run_year
from vanpower.studies.shortlist import Offer, Shortlist, shortlist, with_controller
from vanpower.studies.sweeps import sweep
from vanpower.studies.walks import GAINS, REFUSALS, STEPS, Rows

__all__ = [
    "ALIKE",
    "BY_SWITCH",
    "GAINS",
    "LOSSES",
    "REFUSALS",
    "RESTART",
    "STEPS",
    "UNKNOWNS",
    "Budget",
    "Choice",
    "Choices",
    "Comparison",
    "Doubt",
    "FixtureCosts",
    "Journal",
    "Ladder",
    "Light",
    "Month",
    "Offer",
    "Outcome",
    "RoofAnswer",
    "Rows",
    "Run",
    "ShadeMap",
    "Shortlist",
    "TwoHills",
    "Unknown",
    "WarmLocker",
    "array_of",
    "autonomy_days",
    "best_roof",
    "choices",
    "clipped",
    "compare",
    "fixture_costs",
    "forbidden",
    "harvest_said",
    "headings",
    "how_sure",
    "in_light",
    "measured_harvest",
    "moved",
    "one_more",
    "outcome",
    "plan_of",
    "restart_test",
    "rough_day_wh",
    "run_day",
    "run_year",
    "shade_map",
    "shifted_panel",
    "shortlist",
    "string_mates",
    "sweep",
    "trackers",
    "turned_panel",
    "two_hills",
    "warm_locker",
    "with_controller",
    "with_one_more",
    "worked_out",
]
