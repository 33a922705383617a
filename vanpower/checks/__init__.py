"""What labels and tape measures decide before anything is ordered; each check is a verdict with its margin."""

from __future__ import annotations

from vanpower.checks.amps import clipping, half_sine, input_current
from vanpower.checks.charging import Settings, charge_settings
from vanpower.checks.coldest import RARE_COLD, climate_over, coldest_from, hottest_from
from vanpower.checks.copper import battery_fuses, battery_side, cable_current, cable_loss, row_amps, section_to_buy
from vanpower.checks.every import DESTROYS, check, refusal, unasked
from vanpower.checks.fuses import (
    FUSES,
    fuse_needed,
    fuse_window,
    fused_strings,
    legal_fuses,
    reverse_current,
    string_fuse,
)
from vanpower.checks.glance import at_a_glance, subject
from vanpower.checks.guards import extension, isolator, plugs, touch
from vanpower.checks.house import charge_current, cold_charging
from vanpower.checks.parts import Part, battery_fuse_size, parts, string_fuse_sizes
from vanpower.checks.printed import (
    GAMMA_BELOW_BETA,
    IMP_OVER_ISC,
    V_PER_CELL,
    VMP_OVER_VOC,
    contradictions,
    labels,
    missing,
)
from vanpower.checks.volts import (
    COLD_FACTORS,
    cold_ceiling,
    cold_factor,
    coldest_safe,
    hot_floor,
    most_in_series,
    start,
)
from vanpower.checks.words import (
    DO_NOT_TOUCH,
    INPUT_FACTOR,
    THIN,
    V_DO_NOT_TOUCH,
    V_EXTRA_LOW,
    V_WET,
    cold_voltage,
    cold_volts,
    counted_amps,
    rounded_down,
    rounded_up,
    string_voltage,
    tallest_string,
)

__all__ = [
    "COLD_FACTORS",
    "DESTROYS",
    "DO_NOT_TOUCH",
    "FUSES",
    "GAMMA_BELOW_BETA",
    "IMP_OVER_ISC",
    "INPUT_FACTOR",
    "RARE_COLD",
    "THIN",
    "VMP_OVER_VOC",
    "V_DO_NOT_TOUCH",
    "V_EXTRA_LOW",
    "V_PER_CELL",
    "V_WET",
    "Part",
    "Settings",
    "at_a_glance",
    "battery_fuse_size",
    "battery_fuses",
    "battery_side",
    "cable_current",
    "cable_loss",
    "charge_current",
    "charge_settings",
    "check",
    "climate_over",
    "clipping",
    "cold_ceiling",
    "cold_charging",
    "cold_factor",
    "cold_voltage",
    "cold_volts",
    "coldest_from",
    "coldest_safe",
    "contradictions",
    "counted_amps",
    "extension",
    "fuse_needed",
    "fuse_window",
    "fused_strings",
    "half_sine",
    "hot_floor",
    "hottest_from",
    "input_current",
    "isolator",
    "labels",
    "legal_fuses",
    "missing",
    "most_in_series",
    "parts",
    "plugs",
    "refusal",
    "reverse_current",
    "rounded_down",
    "rounded_up",
    "row_amps",
    "section_to_buy",
    "start",
    "string_fuse",
    "string_fuse_sizes",
    "string_voltage",
    "subject",
    "tallest_string",
    "touch",
    "unasked",
]
