"""vanpower: solar wiring studies for camper vans.

A rig is described, conditions are given, curves are combined, an answer is drawn. Everything a notebook uses can be
imported from here; a module is loaded when one of its names is first asked for, so that `import vanpower` is quick.
"""

from __future__ import annotations

import importlib

from vanpower.rig import (
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Fixture,
    Load,
    MadeSky,
    Outlook,
    Panel,
    Parked,
    Place,
    Rig,
    RoofPlan,
    Shade,
    Snapshot,
    Spot,
    WeatherLog,
    Wiring,
)
from vanpower.verdicts import Verdict
from vanpower.wirings import alternatives, equal_strings, parse_wiring, rewired

__version__ = "0.1.0"

_LATER = {
    "example_rigs": "recipes",
    "load_rig": "recipes",
    "read_rig": "recipes",
    "rig_to_toml": "recipes",
    "read_chart": "recipes",
    "check": "checks",
    "cold_ceiling": "checks",
    "hot_floor": "checks",
    "start": "checks",
    "cable_loss": "checks",
    "charge_settings": "checks",
    "compare": "studies",
    "sweep": "studies",
    "run_day": "studies",
    "run_year": "studies",
    "array_of": "studies",
    "choices": "studies",
    "clipped": "studies",
    "one_more": "studies",
    "shortlist": "studies",
    "how_sure": "studies",
    "read_candidates": "recipes",
    "at_a_glance": "checks",
    "climate_over": "checks",
    "coldest_from": "checks",
    "cable_current": "checks",
    "section_to_buy": "checks",
    "string_fuse": "checks",
    "touch": "checks",
    "best_roof": "studies",
    "fixture_costs": "studies",
    "headings": "studies",
    "moved": "studies",
    "shade_map": "studies",
    "string_mates": "studies",
    "restart_test": "studies",
    "trackers": "studies",
    "shifted_panel": "studies",
    "turned_panel": "studies",
    "conditions": "arrays",
    "hills": "curves",
    "operate": "controllers",
    "fit_panel": "labels",
    "DullReading": "dull",
    "calibrated": "dull",
    "dull_band": "dull",
    "dull_middle": "dull",
    "with_leak": "dull",
    "find_day": "sky",
    "read_log": "trials",
    "typed_log": "trials",
    "judge": "trials",
    "explain": "trials",
    "plan": "trials",
    "used_panel": "trials",
    "PanelReadings": "trials",
    "wrong_hill": "trials",
    "wrong_hill_in": "trials",
    "Reading": "trials",
}
# names that are loaded with their module when they are first used

__all__ = [
    "Battery",
    "Cable",
    "Circuit",
    "Climate",
    "Controller",
    "MadeSky",
    "Load",
    "Outlook",
    "Panel",
    "Place",
    "Fixture",
    "Parked",
    "Rig",
    "RoofPlan",
    "Shade",
    "Snapshot",
    "Spot",
    "Verdict",
    "WeatherLog",
    "Wiring",
    "alternatives",
    "equal_strings",
    "parse_wiring",
    "rewired",
    *_LATER,
]


def __getattr__(name: str) -> object:
    if name in _LATER:
        return getattr(importlib.import_module(f"vanpower.{_LATER[name]}"), name)
    raise AttributeError(f"module 'vanpower' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
