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
    DRIVING,
    FLOODED,
    GEL,
    IRON_PHOSPHATE,
    LEAD_ACID,
    OTHER_LITHIUM,
    PARKED,
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
from vanpower.rig.rigs import RULE_BOOKS, Rig, possible
from vanpower.rig.roof import Fixture, Placement, Roof, turned
from vanpower.rig.shade_notes import Shares, rows_of, shade
from vanpower.rig.sources import ALTERNATOR, SHORE, WIND, Inverter, Source
from vanpower.rig.stops import LIT_IN_SHADE, Stop, dates_of
from vanpower.rig.weather_rows import WEATHER_RANGES, WeatherRows
from vanpower.rig.when import months_in, weekdays_in

__all__ = [
    "AGM",
    "ALTERNATOR",
    "BATTERY_KINDS",
    "COPPERS",
    "DRIVING",
    "FLOODED",
    "GEL",
    "INSULATIONS",
    "IRON_PHOSPHATE",
    "LAYINGS",
    "LEAD_ACID",
    "LIT_IN_SHADE",
    "LOG_COLUMNS",
    "LONGEST_QUOTE",
    "MONTHS",
    "OTHER_LITHIUM",
    "PARKED",
    "PVC",
    "RULE_BOOKS",
    "SHORE",
    "SKIES",
    "SOLAR",
    "SOME_LEAD",
    "V_CELL",
    "WEATHER_RANGES",
    "WIND",
    "XLPE",
    "Battery",
    "Cable",
    "Circuit",
    "Climate",
    "Controller",
    "Days",
    "Description",
    "Fixture",
    "Inverter",
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
    "Source",
    "Stop",
    "Weather",
    "WeatherLog",
    "WeatherRows",
    "Wiring",
    "dates_of",
    "meant_days",
    "month_of",
    "months_in",
    "nameless",
    "possible",
    "printable",
    "require",
    "rows_of",
    "schema",
    "shade",
    "table",
    "turned",
    "unit_of",
    "weekdays_in",
]
