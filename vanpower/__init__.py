"""Solar wiring studies for camper vans: what each wiring brings, whether it is safe, and how sure that is.

Describe a rig (`Rig`, `Panel`, `Circuit`, ..., or `read_rig` and `example`), say in which conditions (`Snapshot`,
`Days`, `Parked`), and ask: `check`, `compare`, `simulate`, `analyse_trial` and others. Each answer has `verdict`,
`table()` and `plot()`.

Everything a notebook uses can be imported from here. A module is loaded when one of its names is first used, so
that `import vanpower` is quick.
"""

from __future__ import annotations

import importlib

from vanpower.results.verdict import Verdict
from vanpower.rig import (
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Days,
    Fixture,
    Load,
    MadeSky,
    Panel,
    Parked,
    Place,
    Placement,
    Rig,
    Roof,
    Shade,
    Snapshot,
    WeatherLog,
    Wiring,
    shade,
)
from vanpower.rig.wirings import equal_strings, parse_wiring

__version__ = "0.1.0"

_LATER = {
    "examples": "files",
    "example": "files",
    "read_rig": "files",
    "rig_to_toml": "files",
    "read_chart": "sharing.pictures",
    "save_chart": "sharing.saving",
    "save_page": "sharing.saving",
    "remake": "sharing.saving",
    "forum_answer": "sharing.saving",
    "check": "checks",
    "cold_ceiling": "checks",
    "hot_floor": "checks",
    "start_volts": "checks",
    "cable_loss": "checks",
    "charge_settings": "checks",
    "compare": "studies",
    "sweep": "studies",
    "simulate": "simulation",
    "array_of": "model",
    "rank_wirings": "studies",
    "clipping_over": "studies",
    "shortlist": "studies",
    "how_sure": "studies",
    "read_controllers": "files",
    "at_a_glance": "checks",
    "climate_over": "checks",
    "coldest_dawn": "checks",
    "cable_current": "checks",
    "section_to_buy": "checks",
    "string_fuse": "checks",
    "touch_volts": "checks",
    "compare_roofs": "studies",
    "fixture_costs": "studies",
    "compare_headings": "studies",
    "shade_map": "studies",
    "string_mates": "studies",
    "restart_test": "studies",
    "compare_trackers": "studies",
    "Conditions": "model",
    "conditions_of": "model",
    "even_light": "model",
    "rig_model": "model.rig_in_light",
    "panel_curve": "model",
    "maxima": "engine.maxima",
    "operate": "components.controllers",
    "fit_panel": "components.single_diode",
    "LowLightReading": "components.low_light",
    "calibrate_panel": "components.low_light",
    "dull_band": "components.low_light",
    "dull_middle": "components.low_light",
    "with_leak": "components.low_light",
    "find_day": "weather",
    "weather_in": "weather",
    "read_log": "trials",
    "typed_log": "trials",
    "analyse_trial": "trials",
    "compare_with_model": "trials",
    "plan_trial": "trials",
    "check_used_panel": "trials",
    "PanelReadings": "trials",
    "stuck_tracker": "trials",
    "stuck_tracker_in": "trials",
    "Reading": "trials",
}
# names that are loaded with their module when they are first used
_NOW = {
    "alternatives": "rig.wirings()",
    "best_roof": "compare_roofs",
    "calibrated": "calibrate_panel",
    "choices": "rank_wirings",
    "clipped": "clipping_over",
    "coldest_from": "coldest_dawn",
    "DullReading": "LowLightReading",
    "example_rigs": "examples",
    "explain": "compare_with_model",
    "headings": "compare_headings",
    "hills": "maxima",
    "judge": "analyse_trial",
    "load_rig": "example",
    "moved": "rig.with_fixture()",
    "one_more": "rig.with_one_more_panel()",
    "Outlook": "Days",
    "plan": "plan_trial",
    "read_candidates": "read_controllers",
    "rewired": "rig.wired()",
    "RoofPlan": "Roof",
    "run_day": "simulate",
    "run_year": "simulate",
    "shifted_panel": "rig.with_placement()",
    "Spot": "Placement",
    "start": "start_volts",
    "touch": "touch_volts",
    "trackers": "compare_trackers",
    "turned_panel": "rig.with_placement()",
    "used_panel": "check_used_panel",
    "wrong_hill": "stuck_tracker",
    "wrong_hill_in": "stuck_tracker_in",
}
# what a name of an earlier kit is called, for who follows an old note

__all__ = [
    "Battery",
    "Cable",
    "Circuit",
    "Climate",
    "Controller",
    "MadeSky",
    "Load",
    "Days",
    "Panel",
    "Place",
    "Fixture",
    "Parked",
    "Rig",
    "Roof",
    "Shade",
    "Snapshot",
    "Placement",
    "Verdict",
    "WeatherLog",
    "Wiring",
    "equal_strings",
    "parse_wiring",
    "shade",
    *_LATER,
]


def __getattr__(name: str) -> object:
    if name in _LATER:
        return getattr(importlib.import_module(f"vanpower.{_LATER[name]}"), name)
    now = f"; {name} is {_NOW[name]} now" if name in _NOW else ""
    raise AttributeError(f"module 'vanpower' has no attribute {name!r}{now}")


def __dir__() -> list[str]:
    return sorted(__all__)
