"""Shadows and views of the sky: closed forms, a ray test of another make, limits and laws."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from outside import facts
from scipy.stats import qmc

from vanpower.rig import Fixture, Panel, Placement, Roof
from vanpower.shading.layout import cells_of
from vanpower.shading.outlines import lit_share, shadows
from vanpower.shading.roofs import LIT_STEP, roof_shade, sky_views
from vanpower.shading.solids import Solid, solid_of
from vanpower.shading.sun_disc import DISC_DEG, sun_vectors
from vanpower.shading.views import hidden_directions, seen_share

TABLES = facts("view_factors_shadows.json")
WALL, FACE, BOX, PLATE, CYLINDER = (case["examples"] for case in TABLES["sky_view_horizontal_point"])
BARE = Roof(wide_m=4.0, long_m=8.0, glass_m=0.0, above_ground_m=0.0)
ORIGIN = np.zeros((1, 2))
PANEL = Panel(name="100 W", v_oc=22.0, i_sc=6.0, v_mp=18.0, i_mp=5.6, cells_in_series=36, substrings=2)


def solid(kind: str, plan: Roof = BARE, **sizes: float):
    made = solid_of(Fixture(name="it", kind=kind, **sizes), plan)
    assert made is not None
    return made


def box(x: tuple[float, float], y: tuple[float, float], high: float, **more: float):
    return solid("box", left_m=x[0], back_m=y[0], wide_m=x[1] - x[0], long_m=y[1] - y[0], high_m=high, **more)


def sun(elevation: float, azimuth: float, **how: float) -> np.ndarray:
    return sun_vectors(np.array([elevation]), np.array([azimuth]), **how)


# Views of the sky: standard configuration factors, each checked by quadrature in the table read here


@pytest.mark.parametrize("case", WALL)
def test_long_wall_hides_what_the_closed_form_says(case):
    wall = solid("wall", east_m=case["d"] - 2.0 + 0.1, north_m=-4.0, wide_m=0.2, long_m=500.0, high_m=case["h"])
    assert seen_share(ORIGIN, [wall])[0] == pytest.approx(case["svf"], abs=1e-6)


@pytest.mark.parametrize("case", FACE)
def test_upright_face_hides_what_the_closed_form_says(case):
    start, end = case["y"]
    # a plate hinged at its right edge and lifted upright stands there; its width is the height
    face = solid("plate", left_m=case["d"] - case["h"], back_m=start, wide_m=case["h"], long_m=end - start,
                 tilt_deg=90.0, lifts="left")  # fmt: skip
    assert seen_share(ORIGIN, [face])[0] == pytest.approx(case["svf"], abs=1e-6)


@pytest.mark.parametrize("case", BOX)
def test_box_beside_a_point_hides_what_the_table_says(case):
    assert seen_share(ORIGIN, [box(case["box_x"], case["box_y"], case["h"])])[0] == pytest.approx(case["svf"], abs=1e-6)


@pytest.mark.parametrize("case", PLATE)
def test_plate_above_a_point_hides_what_the_closed_form_says(case):
    above = solid("plate", wide_m=case["a"], long_m=case["b"], under_m=case["c"])
    assert 1 - seen_share(ORIGIN, [above])[0] == pytest.approx(case["lost"], abs=1e-6)


@pytest.mark.parametrize("case", CYLINDER)
def test_cylinder_of_flat_sides_is_near_the_round_one(case):
    # 24 flat sides instead of a circle: 1.2e-4 of the sky here
    upright = solid("cylinder", left_m=case["D"] - case["r"], back_m=-case["r"], wide_m=2 * case["r"], high_m=case["h"])
    assert seen_share(ORIGIN, [upright])[0] == pytest.approx(case["svf"], abs=2e-4)


def test_view_does_not_depend_on_where_the_roof_begins_nor_on_other_points():
    here, move = np.array([[0.0, 0.0], [0.9, -0.5], [1.6, 0.4]]), np.array([1.3, -2.1])
    near, far = ((0.4, 0.6), (-0.7, 0.2), 0.5), ((1.1, 1.2), (-1.5, 1.5), 0.8)

    def seen(points: np.ndarray, by: np.ndarray) -> np.ndarray:
        moved = [[tuple(np.add(ends, d)) for ends, d in zip((x, y), by, strict=True)] for x, y, _ in (near, far)]
        return seen_share(points, [box(x, y, high) for (x, y), (_, _, high) in zip(moved, (near, far), strict=True)])

    together = seen(here, 0 * move)
    assert seen(here + move, move) == pytest.approx(together, abs=1e-9)
    assert [seen(point[None], 0 * move)[0] for point in here] == pytest.approx(together.tolist(), abs=1e-12)
    assert together.min() < 0.8 < together.max()


@pytest.mark.parametrize("point", [(0.05, 0.1), (0.9, -0.5), (-0.3, 1.2), (0.3, -0.1), (0.5, -0.1)])
def test_sampled_directions_hide_what_the_closed_form_says(point):
    # rings of equal weight, so the share of hidden directions is the lost view; three points are under the table, one
    # of them under the box as well
    at = np.array([point])
    for one in (box((0.4, 0.6), (-0.7, 0.2), 0.5), box((0.0, 1.0), (-1.0, 1.0), 0.6, under_m=0.55)):
        assert hidden_directions(at, one).mean() == pytest.approx(1 - seen_share(at, [one])[0], abs=0.02)


@pytest.mark.parametrize("point", [(0.0, 0.1), (1.0, 0.1), (0.3, -1.0), (0.5, 1.0), (0.0, -1.0), (1.0, 1.0)])
def test_point_exactly_beneath_an_edge_or_corner_sees_what_its_neighbours_see(point):
    above = box((0.0, 1.0), (-1.0, 1.0), 0.6, under_m=0.55)
    at = np.array([point])
    assert hidden_directions(at, above).mean() == pytest.approx(1 - seen_share(at, [above])[0], abs=0.02)


@pytest.mark.parametrize("under", [0.0, 0.05, 0.06])
def test_cells_on_which_a_box_stands_see_no_sky_however_high_its_floor_is(under):
    # a box that reaches 20 cm over the panel on every side and stands on it, or a finger's breadth above the glass
    it = Fixture(name="it", kind="box", left_m=0.5, back_m=0.5, wide_m=1.2, long_m=2.0, under_m=under, high_m=0.5)
    spot = Placement(panel=0, left_m=0.7, back_m=0.7, wide_m=0.67, long_m=1.48)
    plan = Roof(wide_m=2.0, long_m=4.0, glass_m=0.05, spots=(spot,), fixtures=(it,))
    assert sky_views(plan, (PANEL,)) == pytest.approx(0.0, abs=0.02)
    bare = replace(plan, fixtures=(replace(it, lets_through=0.4),))
    assert sky_views(bare, (PANEL,)) == pytest.approx(0.4, abs=0.02)


def test_wall_behind_a_wall_hides_little_more():
    # what both hide is sampled in 36 bearings and 16 rings; a lower wall right behind is hidden by the first
    near, far = box((0.2, 0.3), (-2.0, 2.0), 0.5), box((0.4, 0.5), (-2.0, 2.0), 0.5)
    alone, both = (seen_share(ORIGIN, these)[0] for these in ([near], [near, far]))
    assert alone - 0.02 < both < alone + 0.01
    assert seen_share(ORIGIN, [far])[0] < 1 - 5 * abs(alone - both)


def sky_by_rays(point: np.ndarray, bodies: list[Solid], seed: int) -> float:
    """Share of an even sky's light that rays bring to a point: even over the level disc, so weighted as on the flat."""
    at = qmc.Sobol(2, rng=seed).random(RAYS)
    reach, bearing = np.sqrt(at[:, 0]), 2 * np.pi * at[:, 1]
    rays = np.column_stack([reach * np.cos(bearing), reach * np.sin(bearing), np.sqrt(1 - at[:, 0])])
    return float(passing(np.tile([*point, 0.0], (RAYS, 1)), rays, bodies).mean())


@pytest.mark.parametrize("seed", range(8))
def test_views_past_bodies_seen_through_agree_with_rays(seed):
    # five bodies on one roof, each of its own density; the largest error in 45 such scenes is 0.012 of the sky
    rng = np.random.default_rng(seed)
    bodies = [replace(one, lets_through=through) for one, through in zip(
        fixtures(rng, 5, 1.2, 1.2, 0.6), rng.uniform(0.0, 0.8, 5), strict=True)]  # fmt: skip
    points = rng.uniform(0.0, 1.2, (4, 2))
    rays = np.array([[sky_by_rays(point, bodies, way) for way in (0, 1)] for point in points])
    assert np.ptp(rays, axis=1).max() < 0.002
    assert seen_share(points, bodies) == pytest.approx(rays.mean(axis=1), abs=0.015)
    assert seen_share(points, bodies[::-1]) == pytest.approx(seen_share(points, bodies), abs=1e-6)


def test_sky_passes_two_roofs_of_mesh_as_the_beam_does():
    # nets that reach 4 m and more to every side: of nearly the whole sky 0.6 passes one, and 0.3 of that the other
    nets = [Fixture(name=f"net {k}", kind="plate", left_m=-4.0, back_m=-4.0, wide_m=10.0, long_m=10.0,
                    under_m=0.06 + 0.01 * k, lets_through=through) for k, through in enumerate((0.6, 0.3))]  # fmt: skip
    for these in (nets, nets[::-1]):
        assert lit(roof(*these), 80.0, 180.0) == pytest.approx(0.18, abs=LIT_STEP)
        assert sky_views(roof(*these), (PANEL,)) == pytest.approx(0.18, abs=0.001)


# Shadows


@pytest.mark.parametrize("case", TABLES["shadow"]["examples"])
def test_shadow_of_a_tip_lies_where_the_identities_say(case):
    mast = solid("cylinder", wide_m=0.001, left_m=-0.0005, back_m=-0.0005, high_m=case["h"])
    (outline,) = shadows([mast], sun(case["elevation"], case["azimuth"])[0])
    tip = outline[np.argmax(np.hypot(*outline.T))]
    assert np.hypot(*tip) == pytest.approx(case["length"], abs=6e-4)
    assert tip == pytest.approx([case["east"], case["north"]], abs=6e-4)


@pytest.mark.parametrize("case", TABLES["shadow"]["examples"])
def test_shadow_of_a_level_plate_is_moved_by_exactly_the_identity(case):
    plate = solid("plate", wide_m=0.4, long_m=0.3, under_m=case["h"])
    (outline,) = shadows([plate], sun(case["elevation"], case["azimuth"])[0])
    assert outline.min(axis=0) == pytest.approx([case["east"], case["north"]], abs=1e-6)


@pytest.mark.parametrize("high", [0.4, 2.0, 4.0, 20.0, 60.0])
def test_soft_rim_of_a_far_edge_is_that_of_the_sun_disc(high):
    # sun overhead: the rim is 0.00931 times the height wide, and a cell sees the mean of the disc's part over it
    width = 2 * np.tan(np.radians(DISC_DEG)) * high
    assert width == pytest.approx(0.00931 * high, rel=1e-3)
    left = np.linspace(-1.0, 1.0, 401) * (width / 2 + 0.2) - 0.075
    cells = np.column_stack([left, left + 0.15, np.zeros(401), np.full(401, 0.15)])
    flat = np.array([(0.0, -50.0, high), (99.0, -50.0, high), (99.0, 50.0, high), (0.0, 50.0, high)])
    lit = lit_share(cells, [Solid("roof of a barn", flat, (flat, flat[::-1]), 0.0)], sun(90.0, 180.0))[0]
    inside = np.linspace(0, 1, 2001)[None] * 0.15 + left[:, None]
    x = np.clip(-inside / (width / 2), -1, 1)
    disc = ((np.arcsin(x) + x * np.sqrt(1 - x**2)) / np.pi + 0.5).mean(axis=1)
    assert np.abs(lit - disc).max() < 0.005


def fixtures(rng: np.random.Generator, number: int, wide: float, long: float, high: float) -> list[Solid]:
    """Fixtures of every kind on a roof of this size, some of them over one another, some seen through."""
    made = []
    for kind in rng.choice(["box", "cylinder", "bar", "plate"], size=number):
        x, y, w, d, top = rng.uniform([0, 0, 0.02, 0.02, 0.05], [wide, long, 0.5, 0.8, high])
        more = {"box": {"high_m": top}, "cylinder": {"high_m": top}, "bar": {"under_m": top / 2, "high_m": top},
                "plate": {"under_m": top / 2, "tilt_deg": 60 * rng.random(), "lifts": "left"}}[str(kind)]  # fmt: skip
        turn, through = rng.choice([0.0, rng.uniform(0, 90)]), rng.choice([0.0, 0.0, 0.0, 0.4])
        made.append(
            solid(str(kind), left_m=x, back_m=y, wide_m=w, long_m=d, turn_deg=turn, lets_through=through, **more)
        )
    return made


def neighbours(rng: np.random.Generator) -> list[Solid]:
    """Walls and masts up to 35 m beside the van, and up to 12 m high."""
    plan = Roof(wide_m=2.0, long_m=5.0, glass_m=0.0, above_ground_m=2.5)
    made = []
    for kind in ("wall", "mast"):
        east, north = rng.uniform(3, 25, 2) * rng.choice([-1, 1], 2)
        more = {"long_m": rng.uniform(1, 30)} if kind == "wall" else {}
        sizes = {"wide_m": rng.uniform(0.1, 4), "high_m": rng.uniform(2.6, 12), **more}
        made.append(solid(kind, plan, east_m=east, north_m=north, **sizes))
    return made


def side_by_side(columns: int, rows: int, wide: float, long: float) -> np.ndarray:
    """Edges of cells side by side (cell, 4)."""
    x, y = (side.reshape(-1) for side in np.meshgrid(wide * np.arange(columns), long * np.arange(rows)))
    return np.column_stack([x, x + wide, y, y + long])


# cells, and what throws shade: full cells on a short roof; half cells on one of 5 m; the same with walls and masts
ROOFS = {
    "short": (side_by_side(9, 9, 0.15, 0.15), lambda rng: fixtures(rng, 4, 1.2, 1.2, 0.6)),
    "long": (side_by_side(11, 62, 0.16, 0.08), lambda rng: fixtures(rng, 6, 1.6, 4.5, 1.0)),
    "beside": (side_by_side(11, 62, 0.16, 0.08), lambda rng: fixtures(rng, 3, 1.6, 4.5, 1.0) + neighbours(rng)),
}
HEIGHTS = {"lowest": (2, 5), "lower": (5, 10), "low": (10, 20), "high": (20, 80)}
RAYS = 2**15


def hit(points: np.ndarray, rays: np.ndarray, body) -> np.ndarray:
    """Whether rays meet a convex body: each is cut off by the half spaces of its faces (Cyrus and Beck)."""
    near, far = np.zeros(len(points)), np.full(len(points), np.inf)
    for face in body.faces:
        normal = np.cross(face[1] - face[0], face[2] - face[1])
        speed, gap = rays @ normal, (face[0] - points) @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            at = gap / speed
        near = np.where(speed < 0, np.maximum(near, at), near)
        far = np.where(speed > 0, np.minimum(far, at), far)
        far = np.where((speed == 0) & (gap < 0), -1.0, far)
    return near <= far + 1e-12


def hit_plate(points: np.ndarray, rays: np.ndarray, body) -> np.ndarray:
    """Whether rays meet a flat plate: where they cross its plane, all corners go round them the same way."""
    face = body.faces[0]
    normal = np.cross(face[1] - face[0], face[2] - face[1])
    at = ((face[0] - points) @ normal) / (rays @ normal)
    where = points + at[:, None] * rays
    around = [np.cross(b - a, where - a) @ normal for a, b in zip(face, np.roll(face, -1, axis=0), strict=True)]
    return (at > 0) & np.all(np.array(around) >= 0, axis=0)


def passing(points: np.ndarray, rays: np.ndarray, bodies: list[Solid]) -> np.ndarray:
    """Share of each ray's light that passes all bodies (ray,)."""
    met = [(hit if len(body.faces) > 2 else hit_plate)(points, rays, body) for body in bodies]
    return np.prod([np.where(meets, body.lets_through, 1.0) for meets, body in zip(met, bodies, strict=True)], axis=0)


def rays_that_pass(cell: np.ndarray, bodies: list[Solid], towards: np.ndarray, seed: int) -> float:
    """Share of the light that rays deliver from all over the sun's disc to all over a cell."""
    at = qmc.Sobol(4, rng=seed).random(RAYS)
    left, right, back, front = cell
    points = np.column_stack([left + at[:, 0] * (right - left), back + at[:, 1] * (front - back), np.zeros(RAYS)])
    radius, angle = np.tan(np.radians(DISC_DEG)) * np.sqrt(at[:, 2]), 2 * np.pi * at[:, 3]
    across = np.cross(towards, [0.3, 0.4, 0.5])
    across /= np.linalg.norm(across)
    up = np.cross(across, towards)
    rays = towards + radius[:, None] * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * up)
    return float(passing(points, rays, bodies).mean())


def compared_with_rays(roof: str, heights: str, seed: int, cells: int) -> tuple[np.ndarray, np.ndarray]:
    """Our error in some cells of a random scene in which a soft edge lies, and how far two sets of rays differ."""
    edges, scene = ROOFS[roof]
    rng = np.random.default_rng([seed, *HEIGHTS[heights]])
    bodies, towards = scene(rng), sun(rng.uniform(*HEIGHTS[heights]), rng.uniform(0, 360))
    ours = lit_share(edges, bodies, towards)[0]
    partly = rng.permutation(np.nonzero((ours > 1e-6) & (ours < 1 - 1e-6))[0])[:cells]
    chosen = np.concatenate([partly, rng.choice(len(edges), 2)])
    rays = np.array([[rays_that_pass(edges[cell], bodies, towards[0], way) for way in (0, 1)] for cell in chosen])
    return ours[chosen] - rays.mean(axis=1), np.ptp(rays, axis=1)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("heights", HEIGHTS)
@pytest.mark.parametrize("roof", ROOFS)
def test_lit_shares_agree_with_rays_within_half_a_percent_of_a_cell(roof, heights, seed):
    error, spread = compared_with_rays(roof, heights, seed, cells=6)
    assert spread.max() < 0.002  # twice the error of a set of rays, which leaves that of their mean under 0.1 %
    assert np.abs(error).max() < 0.005


@pytest.mark.nightly
@pytest.mark.parametrize("heights", HEIGHTS)
@pytest.mark.parametrize("roof", ROOFS)
def test_lit_shares_agree_with_rays_in_many_scenes(roof, heights):
    found = [compared_with_rays(roof, heights, seed, cells=12) for seed in range(100, 140)]
    error, spread = (np.concatenate(parts) for parts in zip(*found, strict=True))
    print(f"\n{roof}, sun {heights}: {len(error)} cells, largest error {np.abs(error).max():.4f}, "
          f"mean {np.abs(error).mean():.5f}; rays differ by {spread.max():.4f} at most")  # fmt: skip
    assert np.abs(error).max() < 0.005


def test_equal_and_touching_shadows_are_counted_once():
    # two equal boxes, a box cut in two, and one that ends on the other's edge: the same shadow
    edges, low = side_by_side(9, 9, 0.15, 0.15), sun(20.0, 250.0)
    whole, left, right = (box(x, (0.4, 0.7), 0.3) for x in ((0.2, 0.8), (0.2, 0.5), (0.5, 0.8)))
    alone = lit_share(edges, [whole], low)
    assert 0.1 < alone.mean() < 0.9
    for same in ([whole, whole], [left, right], [right, left], [whole, left], [right, whole, left]):
        assert lit_share(edges, same, low) == pytest.approx(alone, abs=1e-6)


def test_light_must_pass_both_of_two_trees():
    edges, low = side_by_side(3, 3, 0.15, 0.15), sun(20.0, 250.0)
    front, behind = (box((x, x + 0.3), (-0.4, 0.7), 0.3, lets_through=0.4) for x in (-0.4, -0.8))
    alone, both = lit_share(edges, [front], low), lit_share(edges, [front, behind], low)
    assert alone.min() == pytest.approx(0.4)
    assert both.min() == pytest.approx(0.16)


# Symmetry and limits


def roof(*fixtures: Fixture, **more: float) -> Roof:
    spot = Placement(panel=0, left_m=0.5, back_m=0.5, wide_m=0.67, long_m=1.48)
    return Roof(wide_m=2.0, long_m=3.0, spots=(spot,), fixtures=fixtures, **more)


def lit(plan: Roof, elevation: float, azimuth: float, **how: float) -> np.ndarray:
    return roof_shade(plan, (PANEL,), np.array([elevation]), np.array([azimuth]), **how).lit[0][0]


VENT = Fixture(name="vent", kind="box", left_m=1.3, back_m=1.0, wide_m=0.4, long_m=0.4, high_m=0.3)
OVER = Fixture(name="rack", kind="bar", left_m=0.0, back_m=1.1, wide_m=2.0, long_m=0.05, under_m=0.2, high_m=0.22)


def test_sun_overhead_shades_only_what_is_under_something():
    assert np.all(lit(roof(VENT), 90.0, 180.0) == 1)
    assert lit(roof(OVER), 90.0, 180.0).min() < 0.8


def test_sun_below_the_horizon_lights_nothing():
    assert np.all(lit(roof(VENT), -1.0, 90.0) == 0)


def test_fixture_without_height_does_nothing():
    flat = replace(VENT, high_m=0.0)
    assert np.all(lit(roof(flat), 20.0, 90.0) == 1)
    assert np.all(sky_views(roof(flat), (PANEL,)) == 1)


def test_turning_the_van_and_the_sun_together_changes_nothing():
    assert np.array_equal(lit(roof(VENT), 20.0, 90.0), lit(roof(VENT), 20.0, 215.0, heading_deg=125.0))


def test_what_stands_on_the_ground_stays_where_the_van_turns():
    wall = Fixture(name="barn", kind="wall", east_m=3.0, north_m=0.0, wide_m=1.0, long_m=30.0, high_m=8.0)
    for heading in (0.0, 77.0, 180.0):
        assert lit(roof(wall), 20.0, 90.0, heading_deg=heading).max() < 0.01
        assert lit(roof(wall), 20.0, 270.0, heading_deg=heading).min() == 1


def test_mirrored_roof_in_a_mirrored_sun_has_mirrored_shadows():
    mirrored = replace(VENT, left_m=2 * (0.5 + 0.67 / 2) - VENT.left_m - VENT.wide_m)
    east, west = lit(roof(VENT), 20.0, 80.0), lit(roof(mirrored), 20.0, 280.0)
    grid = cells_of(PANEL, roof().spots[0])
    x, y = grid.left.round(6), grid.back.round(6)
    swapped = {(round(2 * 0.835 - r, 6), b): v for r, b, v in zip(
        grid.right.reshape(-1), y.reshape(-1), west.reshape(-1), strict=True)}  # fmt: skip
    for place, value in zip(zip(x.reshape(-1), y.reshape(-1), strict=True), east.reshape(-1), strict=True):
        assert min(abs(value - v) for p, v in swapped.items() if np.allclose(p, place, atol=1e-5)) < 1.5 * LIT_STEP


def test_slope_towards_the_sun_shortens_shadows():
    low = [lit(roof(VENT, slope_deg=slope, downhill_deg=90.0), 15.0, 90.0).sum() for slope in (0.0, 8.0, 16.0)]
    assert low[0] < low[1] < low[2]


def test_cover_takes_beam_and_sky_alike():
    cover = Fixture(name="snow", kind="cover", left_m=0.5, back_m=0.5, wide_m=0.67, long_m=0.74)
    dark, view = lit(roof(cover), 50.0, 200.0), sky_views(roof(cover), (PANEL,))
    assert dark.mean() == pytest.approx(0.5, abs=0.01)
    assert np.sort(view) == pytest.approx(np.sort(dark.reshape(-1)), abs=2 * LIT_STEP)


def test_bare_tree_lets_its_share_through():
    tree = Fixture(name="tree", kind="wall", east_m=6.0, north_m=0, wide_m=2, long_m=50, high_m=20, lets_through=0.3)
    assert lit(roof(tree), 30.0, 90.0) == pytest.approx(0.3, abs=LIT_STEP)


# Cells


@pytest.mark.parametrize(
    ("cells", "groups", "branches", "size", "columns", "rows"),
    [
        (36, 2, 1, (0.67, 1.48), 4, 9),
        (60, 3, 1, (1.0, 1.65), 6, 10),
        (72, 3, 1, (1.0, 1.97), 6, 12),
        (60, 3, 2, (1.0, 1.70), 6, 20),
        (72, 3, 2, (1.05, 2.1), 6, 24),
    ],
)
def test_usual_panels_have_the_usual_grid(cells, groups, branches, size, columns, rows):
    panel = Panel(name="p", v_oc=0.62 * cells, i_sc=9.0, v_mp=0.5 * cells, i_mp=8.5, cells_in_series=cells,
                  substrings=groups, branches=branches)  # fmt: skip
    grid = cells_of(panel, Placement(panel=0, left_m=0, back_m=0, wide_m=size[0], long_m=size[1]))
    assert (grid.columns, grid.rows) == (columns, rows)
    assert len(np.unique(grid.edges.round(6), axis=0)) == cells * branches
    strips = [(grid.left[s].min(), grid.right[s].max()) for s in range(groups)]
    assert all(a[1] == pytest.approx(b[0]) for a, b in pairwise(strips))
    if branches == 2:
        assert grid.front[:, 0].max() == pytest.approx(grid.back[:, 1].min())


def test_turned_panel_keeps_its_groups_with_its_junction_end():
    ways = {"back": "left", "front": "right"}
    for junction, edge in ways.items():
        grid = cells_of(PANEL, Placement(panel=0, left_m=0, back_m=0, wide_m=0.67, long_m=1.48, junction=junction))
        first, second = grid.left[0].min(), grid.left[1].min()
        assert (first < second) == (edge == "left")
