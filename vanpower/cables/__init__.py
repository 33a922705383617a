"""Copper between roof, controller and battery: what it costs, what it may carry, and its sizes in both worlds."""

from __future__ import annotations

from vanpower.cables.ampacity import (
    APART,
    CLIPPED,
    ENCLOSED,
    HOT_90,
    HOT_120,
    TOUCHING,
    TOUCHING_SURE,
    US_ENCLOSED,
    US_FREE,
    US_GROUPED,
    Ampacity,
    ampacity,
    bundle_factor,
    heat_factor,
    section_carrying,
)
from vanpower.cables.copper import RESISTANCE_TINNED, cost, resistance, section_for
from vanpower.cables.gauges import AREA_MM2, both, gauge_for, gauge_within

__all__ = [
    "APART",
    "AREA_MM2",
    "CLIPPED",
    "ENCLOSED",
    "HOT_90",
    "HOT_120",
    "RESISTANCE_TINNED",
    "TOUCHING",
    "TOUCHING_SURE",
    "US_ENCLOSED",
    "US_FREE",
    "US_GROUPED",
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
]
