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
    Outlook,
    Panel,
    Rig,
    Shade,
    Snapshot,
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
    "compare": "studies",
    "array_of": "studies",
    "conditions": "arrays",
    "hills": "curves",
    "operate": "controllers",
    "fit_panel": "labels",
    "find_day": "sky",
}
# names that are loaded with their module when they are first used

__all__ = [
    "Battery",
    "Cable",
    "Circuit",
    "Climate",
    "Controller",
    "Outlook",
    "Panel",
    "Rig",
    "Shade",
    "Snapshot",
    "Verdict",
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
