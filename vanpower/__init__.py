"""Solar wiring studies for camper vans: what each wiring delivers, whether it is safe, and how sure that is.

Describe a rig (`Rig`, `Panel`, `Circuit`, ..., or `read_rig` and `example`), say in which conditions (`Snapshot`,
`Days`, `Parked`), and ask: `check`, `compare`, `simulate`, `analyse_trial` and others. Each answer has `verdict`,
`table()` and `plot()`.

What a lesson or a short program needs is imported from here; what only a deeper question needs, from the folder that
has it, such as `vanpower.checks` or `vanpower.weather`. A module is loaded when one of its names is first used, so that
`import vanpower` is quick. Every name with an example: notebooks/reference.ipynb.
"""

from __future__ import annotations

import importlib
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vanpower.results.verdict import Verdict  # noqa: F401
    from vanpower.rig import *  # noqa: F403

__version__ = "0.1.0"

_LATER = {
    "Battery": "rig",
    "Cable": "rig",
    "Circuit": "rig",
    "Climate": "rig",
    "Controller": "rig",
    "Days": "rig",
    "Fixture": "rig",
    "Load": "rig",
    "MadeSky": "rig",
    "Panel": "rig",
    "Parked": "rig",
    "Place": "rig",
    "Placement": "rig",
    "Rig": "rig",
    "Roof": "rig",
    "Shade": "rig",
    "Snapshot": "rig",
    "Source": "rig",
    "Stop": "rig",
    "Wiring": "rig",
    "shade": "rig",
    "Verdict": "results.verdict",
    "example": "files",
    "examples": "files",
    "read_rig": "files",
    "read_my_van": "files",
    "rig_to_toml": "files",
    "read_controllers": "files",
    "read_log": "trials",
    "read_weather": "weather",
    "read_chart": "sharing.pictures",
    "panel_curve": "model",
    "fit_panel": "components.single_diode",
    "calibrate_panel": "components.low_light",
    "LowLightReading": "components.low_light",
    "check_used_panel": "trials",
    "PanelReadings": "trials",
    "rig_model": "model.rig_in_light",
    "check": "checks",
    "sheet": "figures",
    "coldest_dawn": "checks",
    "compare": "studies",
    "compare_roofs": "studies",
    "compare_headings": "studies",
    "rank_wirings": "studies",
    "how_sure": "studies",
    "shortlist": "studies",
    "sweep": "studies",
    "fixture_costs": "studies",
    "shade_map": "studies",
    "clipping_over": "studies",
    "simulate": "simulation",
    "walk_trip": "studies",
    "watch": "watching.telling",
    "read_history": "watching.histories",
    "analyse_trial": "trials",
    "compare_with_model": "trials",
    "plan_trial": "trials",
    "stuck_tracker": "trials",
    "Reading": "trials",
    "commission": "trials",
    "compare_cards": "trials",
    "find_fault": "trials.faults",
    "FaultReadings": "trials.faults",
    "save_chart": "sharing.saving",
    "save_page": "sharing.saving",
    "remake": "sharing.saving",
    "forum_answer": "sharing.saving",
}
# names that are loaded with their module when they are first used
_IN_NOTEBOOKS = dict.fromkeys(("explore", "slider", "choice", "guess", "whose_van", "say", "rows"), "widgets")
# the same, but they need the extra "notebooks", so that `from vanpower import *` leaves them out
_MOVED = {
    "at_a_glance": "checks",
    "cable_current": "checks",
    "cable_loss": "checks",
    "charge_settings": "checks",
    "climate_over": "checks",
    "cold_ceiling": "checks",
    "hot_floor": "checks",
    "section_to_buy": "checks",
    "start_volts": "checks",
    "string_fuse": "checks",
    "touch_volts": "checks",
    "operate": "components.controllers",
    "dull_band": "components.low_light",
    "dull_middle": "components.low_light",
    "with_leak": "components.low_light",
    "maxima": "engine.maxima",
    "array_of": "model",
    "Conditions": "model",
    "conditions_of": "model",
    "even_light": "model",
    "WeatherLog": "rig",
    "equal_strings": "rig.wirings",
    "parse_wiring": "rig.wirings",
    "compare_trackers": "studies",
    "restart_test": "studies",
    "string_mates": "studies",
    "stuck_tracker_in": "trials",
    "find_day": "weather",
}
# names that only a deeper question needs, and the module that has them
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
    "hills": "array.maxima",
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
    "start": "check(rig)['start']",
    "touch": "check(rig)['touch']",
    "trackers": "compare_trackers in vanpower.studies",
    "typed_log": "read_log",
    "turned_panel": "rig.with_placement()",
    "used_panel": "check_used_panel",
    "weather_in": "read_weather",
    "wrong_hill": "stuck_tracker",
    "wrong_hill_in": "stuck_tracker_in in vanpower.trials",
}
# what a name of an earlier kit is called, for who follows an old note

__all__ = [*_LATER]


def __getattr__(name: str) -> object:
    home = _LATER.get(name) or _IN_NOTEBOOKS.get(name)
    if home:
        return getattr(importlib.import_module(f"vanpower.{home}"), name)
    trouble = f"module 'vanpower' has no attribute {name!r}; {_where(name)}".removesuffix("; ")
    if sys._getframe(1).f_code.co_name == "_handle_fromlist" and not _is_folder(name):
        # of an AttributeError, `from vanpower import ...` would tell nothing but that the name is not there
        raise ImportError(trouble)
    raise AttributeError(trouble)


def _is_folder(name: str) -> bool:
    """Whether there is a folder or file of that name."""
    from importlib.util import find_spec

    return find_spec(f"vanpower.{name}") is not None


def _where(name: str) -> str:
    """Where a name is that is not here."""
    from difflib import get_close_matches

    if name in _NOW:
        return f"{name} is {_NOW[name]} now"
    if name in _MOVED:
        return f"import it from vanpower.{_MOVED[name]}"
    near = get_close_matches(name, __dir__(), 1)
    return f"did you mean {near[0]}?" if near else ""


def __dir__() -> list[str]:
    return sorted([*__all__, *_IN_NOTEBOOKS])
