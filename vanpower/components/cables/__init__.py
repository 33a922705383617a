"""Copper cables between roof, controller and battery: their losses, current ratings, and sizes in mm² and AWG."""

from __future__ import annotations

from vanpower.components.cables.ampacity import (
    APART,
    CLIPPED,
    ENCLOSED,
    PVC_CLIPPED,
    PVC_ENCLOSED,
    TOUCHING,
    US_COLUMNS,
    US_ENCLOSED,
    US_FREE,
    US_GROUPED,
    US_HEAT,
    Ampacity,
    ampacity,
    bundle_factor,
    heat_factor,
    section_carrying,
    table_of,
    us_heat_factor,
)
from vanpower.components.cables.gauges import AREA_MM2, both, gauge_for, gauge_within
from vanpower.components.cables.heat import cost, section_for, temp_copper, warmed
from vanpower.components.cables.resistance import LEAST_SECTION, RESISTANCE_TINNED, TO_BUY, resistance

__all__ = [
    "APART",
    "AREA_MM2",
    "CLIPPED",
    "ENCLOSED",
    "LEAST_SECTION",
    "PVC_CLIPPED",
    "PVC_ENCLOSED",
    "RESISTANCE_TINNED",
    "TOUCHING",
    "TO_BUY",
    "US_COLUMNS",
    "US_ENCLOSED",
    "US_FREE",
    "US_GROUPED",
    "US_HEAT",
    "Ampacity",
    "ampacity",
    "both",
    "bundle_factor",
    "cost",
    "gauge_for",
    "gauge_within",
    "heat_factor",
    "resistance",
    "section_carrying",
    "section_for",
    "table_of",
    "temp_copper",
    "us_heat_factor",
    "warmed",
]
