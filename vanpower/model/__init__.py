"""One rig in given conditions: light on its cells, the curves of its panels and arrays, and every lost watt by name."""

from __future__ import annotations

from vanpower.model.conditions import Conditions, conditions_of, even_light
from vanpower.model.current_way import PanelWay, panel_ways
from vanpower.model.iv_curve import IVCurve, panel_curve
from vanpower.model.light import LitPanels, array_of
from vanpower.model.losses import LOSSES
from vanpower.model.rig_in_light import RigModel

__all__ = [
    "LOSSES",
    "Conditions",
    "IVCurve",
    "LitPanels",
    "PanelWay",
    "RigModel",
    "array_of",
    "conditions_of",
    "even_light",
    "panel_curve",
    "panel_ways",
]
