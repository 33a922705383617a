"""What stands on the roof and under the bed, in the words of labels and tape measures.

Frozen descriptions: they are compared, hashed, replaced and written to files, and hold no physics. An
impossible description is refused here, with the field, the value, what would make sense and the likely slip.
"""

from __future__ import annotations

from vanpower.rig.circuits import COPPERS, INSULATIONS, LAYINGS, PVC, SOLAR, XLPE, Cable, Circuit, Controller, Wiring
from vanpower.rig.dates import MONTHS, meant_days, month_of
from vanpower.rig.fields import LONGEST_QUOTE, Description, printable, require, schema, table, unit_of
from vanpower.rig.house import (
    AGM,
    BATTERY_KINDS,
    FLOODED,
    GEL,
    IRON_PHOSPHATE,
    LEAD_ACID,
    OTHER_LITHIUM,
    SOME_LEAD,
    Battery,
    Climate,
    Load,
)
from vanpower.rig.panels import V_CELL, Panel, nameless
from vanpower.rig.requests import (
    LOG_COLUMNS,
    SKIES,
    Days,
    MadeSky,
    Parked,
    Place,
    Request,
    Shade,
    Snapshot,
    Weather,
    WeatherLog,
)
from vanpower.rig.rigs import RULE_BOOKS, Rig
from vanpower.rig.roof import Fixture, Placement, Roof, turned
from vanpower.rig.shade_notes import Shares, rows_of, shade
from vanpower.rig.weather_rows import WEATHER_RANGES, WeatherRows

__all__ = [
    "AGM",
    "BATTERY_KINDS",
    "COPPERS",
    "FLOODED",
    "GEL",
    "INSULATIONS",
    "IRON_PHOSPHATE",
    "LAYINGS",
    "LEAD_ACID",
    "LOG_COLUMNS",
    "LONGEST_QUOTE",
    "MONTHS",
    "OTHER_LITHIUM",
    "PVC",
    "RULE_BOOKS",
    "SKIES",
    "SOLAR",
    "SOME_LEAD",
    "V_CELL",
    "WEATHER_RANGES",
    "XLPE",
    "Battery",
    "Cable",
    "Circuit",
    "Climate",
    "Controller",
    "Days",
    "Description",
    "Fixture",
    "Load",
    "MadeSky",
    "Panel",
    "Parked",
    "Place",
    "Placement",
    "Request",
    "Rig",
    "Roof",
    "Shade",
    "Shares",
    "Snapshot",
    "Weather",
    "WeatherLog",
    "WeatherRows",
    "Wiring",
    "meant_days",
    "month_of",
    "nameless",
    "printable",
    "require",
    "rows_of",
    "schema",
    "shade",
    "table",
    "turned",
    "unit_of",
]
