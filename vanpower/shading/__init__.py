"""Shadows of fixtures on cells: the lit share of every cell's beam, and how much of the sky every cell sees.

Takes sun angles as arrays, so a sun you made up serves as well as a real one. All panels lie in one plane, that of
their glass; what reaches above it throws shade. Left out: light thrown back by fixtures, and by the ground.
"""

from __future__ import annotations

from vanpower.shading.layout import BORDER_M, Cells, cells_of, columns_of
from vanpower.shading.outlines import lit_share, shadows
from vanpower.shading.roofs import LIT_STEP, VIEW_STEP, RoofShade, roof_shade, sky_views, solids_of
from vanpower.shading.silhouette import outline
from vanpower.shading.solids import Solid, solid_of
from vanpower.shading.sun_disc import DISC_DEG, sun_vectors
from vanpower.shading.views import lost_view, seen_share

__all__ = [
    "BORDER_M",
    "DISC_DEG",
    "LIT_STEP",
    "VIEW_STEP",
    "Cells",
    "RoofShade",
    "Solid",
    "cells_of",
    "columns_of",
    "lit_share",
    "lost_view",
    "outline",
    "roof_shade",
    "seen_share",
    "shadows",
    "sky_views",
    "solid_of",
    "solids_of",
    "sun_vectors",
]
