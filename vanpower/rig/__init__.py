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
from vanpower.rig.circuits import (
    COPPERS,
    LAYING_SLIPS,
    LAYINGS,
    TEMP_AROUND,
    TRACKER_SLIPS,
    V_HOLD_MARGIN,
    V_START_MARGIN,
    Cable,
    Circuit,
    Controller,
    Wiring,
)
from vanpower.rig.house import CHEMISTRY_SLIPS, Battery, Climate, Load
from vanpower.rig.panels import BETA_RANGE, GAMMA_RANGE, MOUNT_SLIPS, V_BYPASS, V_CELL, Panel
from vanpower.rig.requests import (
    LOG_COLUMNS,
    SKIES,
    MadeSky,
    Outlook,
    Parked,
    Place,
    Request,
    Shade,
    Snapshot,
    Weather,
    WeatherLog,
)
from vanpower.rig.rigs import RULE_BOOKS, RULE_SLIPS, Rig
from vanpower.rig.roof import EDGES, ON_GROUND, ON_ROOF, Fixture, RoofPlan, Spot, overlap, turned

__all__ = [
    "BETA_RANGE",
    "CHEMISTRY_SLIPS",
    "COPPERS",
    "EDGES",
    "GAMMA_RANGE",
    "LAYINGS",
    "LAYING_SLIPS",
    "LOG_COLUMNS",
    "LONGEST_QUOTE",
    "MOUNT_SLIPS",
    "ON_GROUND",
    "ON_ROOF",
    "RULE_BOOKS",
    "RULE_SLIPS",
    "SKIES",
    "TEMP_AROUND",
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
    "Load",
    "MadeSky",
    "Outlook",
    "Panel",
    "Parked",
    "Place",
    "Request",
    "Rig",
    "RoofPlan",
    "Shade",
    "Snapshot",
    "Spot",
    "Weather",
    "WeatherLog",
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
