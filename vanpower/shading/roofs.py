"""Shading of a whole roof: the share of direct beam and of diffuse sky that every cell of every panel gets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from vanpower.rig import Fixture, Panel, Roof
from vanpower.shading.layout import Cells, cells_of
from vanpower.shading.outlines import lit_share
from vanpower.shading.solids import Solid, solid_of
from vanpower.shading.sun_disc import sun_vectors
from vanpower.shading.views import counted_twice, hidden_directions, lost_view

Array = np.ndarray
Panels = tuple[Panel, ...]

LIT_STEP, VIEW_STEP = 1e-3, 1e-2
# steps to which lit shares and views are rounded, so that many cells are equal: half a step is the error
GAUSS = (0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5)
# where a cell's view of the sky is taken, across and along: two-point rule of Gauss


@dataclass(frozen=True, eq=False)
class RoofShade:
    """What fixtures leave to the panels of a roof.

    Parameters
    ----------
    lit : tuple of ndarray (moment, substring, branch, cell)
        Share of the beam, one array a panel. None for a panel without a place on the roof.
    view : tuple of ndarray (substring, branch, cell)
        Share of an even sky's light, likewise.
    suns : ndarray (moment, 3)
        Direction to the sun in the roof's axes.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> shade = roof_shade(rig.roof, rig.panels, np.array([30.0, 60.0]), np.array([180.0, 180.0]))
    >>> shade.lit[2].shape, shade.view[2].shape  # of P3
    ((2, 2, 1, 18), (2, 1, 18))
    """

    lit: tuple[Array | None, ...]
    view: tuple[Array | None, ...]
    suns: Array


def roof_shade(
    plan: Roof, panels: Sequence[Panel], elevation: Array, azimuth: Array, *, heading_deg: float = 0.0
) -> RoofShade:
    """Lit share and view of the sky of every cell, for suns at these angles.

    Parameters
    ----------
    elevation, azimuth : ndarray (moment,)
        Above the horizon, and clockwise from north. [degrees]
    heading_deg : float
        Where the nose points.

    Notes
    -----
    Rounded to `LIT_STEP` and `VIEW_STEP`.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> shade = roof_shade(rig.roof, rig.panels, np.array([30.0]), np.array([0.0]))  # sun over the nose
    >>> [round(float(lit.mean()), 2) for lit in shade.lit]  # share of the beam on P1, P2, P3
    [0.97, 0.97, 0.3]
    """
    slope = {"slope_deg": plan.slope_deg, "downhill_deg": plan.downhill_deg}
    suns = sun_vectors(elevation, azimuth, heading_deg=heading_deg, **slope)
    grids = {spot.panel: cells_of(panels[spot.panel], spot) for spot in plan.spots}
    edges = np.concatenate([grid.edges for grid in grids.values()]) if grids else np.empty((0, 4))
    lit = _rounded(lit_share(edges, solids_of(plan, heading_deg), suns), LIT_STEP)
    view = _rounded(sky_views(plan, tuple(panels), heading_deg), VIEW_STEP)
    return RoofShade(_shared(lit, grids, len(panels)), _shared(view, grids, len(panels)), suns)


def solids_of(plan: Roof, heading_deg: float = 0.0) -> list[Solid]:
    """Every fixture's solid, as far as it reaches above the plane of the glass.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> [(solid.name, round(solid.top, 2)) for solid in solids_of(rig.roof)][:3]  # metres above the glass
    [('vent', 0.09), ('vent lid', 0.37), ('roof box', 0.35)]
    """
    empty = _empty(plan)
    return [solid for fixture in plan.fixtures if (solid := _solid(fixture, empty, heading_deg))]


def sky_views(plan: Roof, panels: Panels, heading_deg: float = 0.0) -> Array:
    """Share of an even sky's light that reaches each cell of all panels with a place, shape (cell,).

    Notes
    -----
    The mean over four points a cell for each fixture alone, and from the middle of the cell for where light must pass
    several of them. What is worked out for one fixture is kept, so that moving another costs only its own share.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> views = sky_views(rig.roof, rig.panels).reshape(3, -1)
    >>> views.min(axis=1).round(2).tolist()  # the worst cell of P1, P2, P3
    [0.88, 0.87, 0.73]
    """
    if not plan.fixtures:
        return np.ones(sum(panels[s.panel].cells_in_series * panels[s.panel].branches for s in plan.spots))
    bare, empty = replace(plan, fixtures=()), _empty(plan)
    pairs = [(f, _solid(f, empty, heading_deg)) for f in plan.fixtures]
    standing = [(f, solid) for f, solid in pairs if solid is not None and solid.faces]
    turned = {f: heading_deg if f.on_ground else 0.0 for f, _ in standing}
    lost = sum((_lost(f, bare, panels, turned[f]) for f, _ in standing), np.zeros(len(_edges(bare, panels))))
    if len(standing) > 1:
        hidden = [_hidden(f, bare, panels, turned[f]) for f, _ in standing]
        lost = lost - counted_twice([solid for _, solid in standing], hidden)
    covers = [solid for _, solid in pairs if solid is not None and not solid.faces]
    open_share = lit_share(_edges(bare, panels), covers, np.array([[0.0, 0.0, 1.0]]))[0]
    return np.clip(1 - lost, 0.0, 1.0) * open_share


def _empty(plan: Roof) -> Roof:
    """The roof without anything on it, so that what is kept of a fixture is found again whatever stands beside it."""
    return replace(plan, fixtures=(), spots=())


def _solid(fixture: Fixture, empty: Roof, heading_deg: float) -> Solid | None:
    """A fixture's solid; only what stands on the ground knows how the van is turned."""
    return solid_of(fixture, empty, heading_deg if fixture.on_ground else 0.0)


@lru_cache(maxsize=256)
def _lost(fixture: Fixture, bare: Roof, panels: Panels, heading_deg: float) -> Array:
    """Share of the sky's light that one fixture takes from every cell (cell,)."""
    solid = _solid(fixture, _empty(bare), heading_deg)
    assert solid is not None
    left, right, back, front = _edges(bare, panels).T
    points = [np.column_stack([left + a * (right - left), back + b * (front - back)]) for a in GAUSS for b in GAUSS]
    return lost_view(np.concatenate(points), solid).reshape(len(points), -1).mean(axis=0)


@lru_cache(maxsize=64)
def _hidden(fixture: Fixture, bare: Roof, panels: Panels, heading_deg: float) -> Array:
    """Directions that one fixture hides from the middle of every cell (cell, bearing, ring)."""
    solid = _solid(fixture, _empty(bare), heading_deg)
    assert solid is not None
    left, right, back, front = _edges(bare, panels).T
    return hidden_directions(np.column_stack([left + right, back + front]) / 2, solid)


@lru_cache(maxsize=32)
def _edges(bare: Roof, panels: Panels) -> Array:
    """Edges of the cells of all panels with a place (cell, 4)."""
    grids = [cells_of(panels[spot.panel], spot).edges for spot in bare.spots]
    return np.concatenate(grids) if grids else np.empty((0, 4))


def _rounded(values: Array, step: float) -> Array:
    """Values to the nearest step."""
    return np.round(values / step) * step


def _shared(values: Array, grids: dict[int, Cells], panels: int) -> tuple[Array | None, ...]:
    """Values of all cells, the cell last, as one array a panel."""
    shared: list[Array | None] = [None] * panels
    start = 0
    for panel, grid in grids.items():
        stop = start + len(grid.edges)
        shared[panel] = values[..., start:stop].reshape(*values.shape[:-1], *grid.shape)
        start = stop
    return tuple(shared)
