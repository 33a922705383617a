"""This rig in these conditions, once: light on its cells, its panels in it, and where every watt goes."""

from __future__ import annotations

from vanpower.model.lit_panels import LitPanels, array_of, in_light, worked_out
from vanpower.model.losses import LOSSES

__all__ = ["LOSSES", "LitPanels", "array_of", "in_light", "worked_out"]
