"""Rigs side by side: which delivers more, which is allowed, what is worth buying, and how sure that is.

comparison   Rigs side by side over a moment or real days: what each delivers, and which loss makes the difference.
next_changes What to change first, each change as a whole rig, per unit of money.
ranking      Every wiring of a rig: those allowed ranked, those refused with the reason; also with one more panel.
restarts     Wirings of a comparison with two local maxima of power, and the volts that tell on which one a tracker
             sits.
roof         What fixtures on the roof cost, wiring by wiring, and what moving, turning or rewiring would regain.
shortlist    Which of several controllers is worth its price: which pass the checks, what each delivers, whether to keep
             the old.
sweeps       Many rigs, controllers, places and days in one table, on one processor or on many machines.
trips        A trip: the battery walked across its stops, which days fall short, and the least change that carries it.
uncertainty  How sure a comparison is: what is not known is varied within its usual bounds, and the wirings are
             compared again.
"""

from __future__ import annotations

from vanpower.studies.comparison import Comparison, Outcome, compare, outcome
from vanpower.studies.next_changes import Change, NextChanges, next_changes
from vanpower.studies.ranking import Ranked, Ranking, clipping_over, forbidden, rank_wirings
from vanpower.studies.restarts import TwoHills, restart_test, two_hills
from vanpower.studies.roof import (
    FixtureCosts,
    RoofAnswer,
    ShadeMap,
    compare_headings,
    compare_roofs,
    compare_trackers,
    costs_one_by_one,
    fixture_costs,
    shade_map,
    string_mates,
)
from vanpower.studies.shortlist import Offer, Shortlist, shortlist
from vanpower.studies.sweeps import sweep
from vanpower.studies.trips import Trip, TripChange, TripDay, walk_trip
from vanpower.studies.uncertainty import UNKNOWNS, LeadUncertainty, Unknown, how_sure

__all__ = [
    "UNKNOWNS",
    "Change",
    "Comparison",
    "FixtureCosts",
    "LeadUncertainty",
    "NextChanges",
    "Offer",
    "Outcome",
    "Ranked",
    "Ranking",
    "RoofAnswer",
    "ShadeMap",
    "Shortlist",
    "Trip",
    "TripChange",
    "TripDay",
    "TwoHills",
    "Unknown",
    "clipping_over",
    "compare",
    "compare_headings",
    "compare_roofs",
    "compare_trackers",
    "costs_one_by_one",
    "fixture_costs",
    "forbidden",
    "how_sure",
    "next_changes",
    "outcome",
    "rank_wirings",
    "restart_test",
    "shade_map",
    "shortlist",
    "string_mates",
    "sweep",
    "two_hills",
    "walk_trip",
]
