"""What stands on the roof and under the bed, in the words of labels and tape measures.

Frozen descriptions: they are compared, hashed, replaced and written to files, and hold no physics. An
impossible description is refused here, with the field, the value, what would make sense and the likely slip.
"""

from __future__ import annotations

from vanpower.rig.checking import (
    LONGEST_QUOTE,
    UNITS_BEFORE,
    UNITS_BEHIND,
    Checked,
    require,
    require_count,
    require_one_of,
    require_range,
    shown,
    twice_used,
    unit_of,
)
from vanpower.rig.circuits import TRACKER_SLIPS, V_HOLD_MARGIN, V_START_MARGIN, Cable, Circuit, Controller, Wiring
from vanpower.rig.house import CHEMISTRY_SLIPS, Battery, Climate
from vanpower.rig.panels import BETA_RANGE, GAMMA_RANGE, MOUNT_SLIPS, V_BYPASS, V_CELL, Panel
from vanpower.rig.requests import Outlook, Parked, Request, Shade, Snapshot
from vanpower.rig.rigs import Rig
from vanpower.rig.roof import EDGES, ON_GROUND, ON_ROOF, Fixture, RoofPlan, Spot, overlap, turned

__all__ = [
    "BETA_RANGE",
    "CHEMISTRY_SLIPS",
    "EDGES",
    "GAMMA_RANGE",
    "LONGEST_QUOTE",
    "MOUNT_SLIPS",
    "ON_GROUND",
    "ON_ROOF",
    "TRACKER_SLIPS",
    "UNITS_BEFORE",
    "UNITS_BEHIND",
    "V_BYPASS",
    "V_CELL",
    "V_HOLD_MARGIN",
    "V_START_MARGIN",
    "Battery",
    "Cable",
    "Checked",
    "Circuit",
    "Climate",
    "Controller",
    "Fixture",
    "Outlook",
    "Panel",
    "Parked",
    "Request",
    "Rig",
    "RoofPlan",
    "Shade",
    "Snapshot",
    "Spot",
    "Wiring",
    "overlap",
    "require",
    "require_count",
    "require_one_of",
    "require_range",
    "shown",
    "turned",
    "twice_used",
    "unit_of",
]
