"""Solar wiring studies for camper vans: what each wiring delivers, whether it is safe, and how sure that is.

Describe a rig (`Rig`, `Panel`, `Circuit`, ..., or `read_rig` and `example`), say in which conditions (`Snapshot`,
`Days`, `Parked`), and ask: `check`, `compare`, `simulate`, `analyse_trial` and others. Each answer has `verdict`,
`table()` and `plot()`.

What a lesson or a short program needs is imported from here; what only a deeper question needs, from the file that has
it, such as `vanpower.checks.fuses` or `vanpower.weather.days`. It is loaded when first used, so that
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
    "example": "files.rig_files",
    "examples": "files.examples",
    "read_rig": "files.rig_files",
    "read_my_van": "files.my_van",
    "rig_to_toml": "files.rig_files",
    "read_controllers": "files.controllers",
    "read_log": "trials.logs",
    "read_weather": "weather.days",
    "read_chart": "sharing.picture_reading",
    "panel_curve": "model.iv_curve",
    "fit_panel": "components.single_diode",
    "calibrate_panel": "components.low_light",
    "LowLightReading": "components.low_light",
    "check_used_panel": "trials.used_panel",
    "PanelReadings": "trials.used_panel",
    "rig_model": "model.rig_in_light",
    "check": "checks.registry",
    "sheet": "figures.sheet",
    "coldest_dawn": "checks.coldest",
    "compare": "studies.comparison",
    "compare_roofs": "studies.roof",
    "compare_headings": "studies.roof",
    "rank_wirings": "studies.ranking",
    "how_sure": "studies.uncertainty",
    "shortlist": "studies.shortlist",
    "sweep": "studies.sweeps",
    "fixture_costs": "studies.roof",
    "shade_map": "studies.roof",
    "clipping_over": "studies.ranking",
    "simulate": "simulation.run",
    "walk_trip": "studies.trips",
    "watch": "watching.telling",
    "read_history": "watching.histories",
    "analyse_trial": "trials.analysis",
    "compare_with_model": "trials.model_comparison",
    "plan_trial": "trials.planning",
    "stuck_tracker": "trials.stuck_trackers",
    "Reading": "trials.stuck_trackers",
    "commission": "trials.commissioning",
    "compare_cards": "trials.commissioning",
    "find_fault": "trials.faults.finding",
    "FaultReadings": "trials.faults.readings",
    "save_chart": "sharing.saving",
    "save_page": "sharing.saving",
    "remake": "sharing.saving",
    "forum_answer": "sharing.saving",
}
# names that are loaded with their module when they are first used
_IN_NOTEBOOKS = dict.fromkeys(("explore", "slider", "choice", "guess", "whose_van", "say", "rows"), "widgets")
# the same, but they need the extra "notebooks", so that `from vanpower import *` leaves them out
_MOVED = {
    "at_a_glance": "checks.glance",
    "cable_current": "checks.copper",
    "cable_loss": "checks.copper",
    "charge_settings": "checks.charging",
    "climate_over": "checks.coldest",
    "cold_ceiling": "checks.volts",
    "hot_floor": "checks.volts",
    "section_to_buy": "checks.copper",
    "start_volts": "checks.volts",
    "string_fuse": "checks.fuses",
    "touch_volts": "checks.plugs_and_isolator",
    "operate": "components.controllers",
    "dull_band": "components.low_light",
    "dull_middle": "components.low_light",
    "with_leak": "components.low_light",
    "maxima": "engine.maxima",
    "array_of": "model.light",
    "Conditions": "model.conditions",
    "conditions_of": "model.conditions",
    "even_light": "model.conditions",
    "WeatherLog": "rig",
    "equal_strings": "rig.wirings",
    "parse_wiring": "rig.wirings",
    "compare_trackers": "studies.roof",
    "restart_test": "studies.restarts",
    "string_mates": "studies.roof",
    "stuck_tracker_in": "trials.stuck_trackers",
    "find_day": "weather.days",
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
