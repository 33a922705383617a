"""The roof as a person describes it, and what its shadows do to wirings: real geometry, known winners, laws."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from conftest import tiny_rig
from outside import facts

from vanpower import example, rig_to_toml
from vanpower.cli import main
from vanpower.engine.array import best_power
from vanpower.figures.roof import RoofPairChart, plot_shade_map
from vanpower.figures.style import title_line
from vanpower.files.rig_tables import rig_of
from vanpower.model.conditions import Conditions, conditions_of
from vanpower.model.light import lit_panels, run_circuit
from vanpower.rig import Circuit, Controller, Days, Fixture, Panel, Parked, Placement, Rig, Roof, Wiring
from vanpower.shading.layout import cells_of
from vanpower.shading.roofs import roof_shade
from vanpower.studies.comparison import compare
from vanpower.studies.roof import (
    SHARES,
    _growing,
    compare_headings,
    compare_roofs,
    compare_trackers,
    fixture_costs,
    shade_map,
    string_mates,
)

RULES = facts("bypass_rules.json")
FULL = Panel(name="full 72", v_oc=44.5, i_sc=9.0, v_mp=36.0, i_mp=8.5, cells_in_series=72, substrings=3)
HALF = replace(FULL, name="half-cut 144", branches=2)
TRIO = Panel(name="trio", v_oc=22.8, i_sc=9.45, v_mp=18.9, i_mp=9.0, cells_in_series=36, substrings=2,
             beta_voc_pct_per_k=-0.30)  # fmt: skip
LOSSLESS = Controller(name="lossless", v_pv_max=200.0, i_charge_max=200.0, p_own=0.0, loss_fixed_pct=0.0,
                      loss_ratio_pct=0.0)  # fmt: skip
HIGH = 0.3
# [m] a level plate above the glass; from a sun 45 degrees high its shadow lies so far to the side


def plate(name: str, x: tuple[float, float], y: tuple[float, float]) -> Fixture:
    """A level plate whose shadow from the east, 45 degrees high, is this rectangle."""
    return Fixture(name=name, kind="plate", left_m=x[0] + HIGH, back_m=y[0], wide_m=x[1] - x[0], long_m=y[1] - y[0],
                   under_m=0.05 + HIGH)  # fmt: skip


def side_by_side(panels: int, size: tuple[float, float], *fixtures: Fixture) -> Roof:
    """Panels along the van, one beside the other."""
    spots = tuple(Placement(panel=p, left_m=0.1 + 1.1 * size[0] * p, back_m=0.2, wide_m=size[0], long_m=size[1])
                  for p in range(panels))  # fmt: skip
    return Roof(wide_m=4.0, long_m=3.0, spots=spots, fixtures=fixtures)


def lights(panels: tuple[Panel, ...], plan: Roof, beam: float, sky: float) -> Conditions:
    """Beam and sky on every cell with the sun in the east, 45 degrees high."""
    lit = roof_shade(plan, panels, np.array([45.0]), np.array([90.0])).lit
    return Conditions(tuple(beam * share + sky for share in lit), np.full((1, len(panels)), 45.0))


def alone(panel: Panel, plan: Roof, beam: float, sky: float) -> float:
    """Best watts of one panel."""
    return float(lit_panels((panel,), lights((panel,), plan, beam, sky)).p_alone[0, 0])


# Known winners, reached through real shadows

STRIP, CORNER, WHOLE = (0.0, 0.335), (0.0, 0.18), (-0.02, 0.69)
# how far a shadow reaches across a panel, from its left edge [m]; that of the corner ends after two cells along
SHAPES = {
    "part of one": ([(0, STRIP)], 82, 74),
    "all of one": ([(0, WHOLE)], 65, 73),
    "part of two": ([(0, STRIP), (1, STRIP)], 65, 47),
    "corner of one": ([(0, CORNER)], 82, 74),
    "part of three": ([(0, STRIP), (1, STRIP), (2, STRIP)], 47, 22),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_shapes_of_shadow_give_opposite_verdicts(shape):
    # computed by another one-diode model, all but the corner, which does what its whole group would;
    # 800 W/m² with 160 in the shadow, cells at 45 °C, from 14.4 V on
    parts, series, parallel = SHAPES[shape]
    size, y = (0.67, 1.48), (0.1, 0.2 + 0.34 if shape == "corner of one" else 1.8)
    shadows = [plate(f"plate {p}", (0.1 + 0.737 * p + a, 0.1 + 0.737 * p + b), y) for p, (a, b) in parts]
    for strings, share in ((((0, 1, 2),), series), (((0,), (1,), (2,)), parallel)):
        circuit = Circuit(wiring=Wiring(strings=strings), controller=LOSSLESS)
        watts = [
            run_circuit(lit_panels((TRIO,) * 3, lights((TRIO,) * 3, plan, 640.0, 160.0)), circuit, 13.4).p_array[0]
            for plan in (side_by_side(3, size, *shadows), side_by_side(3, size))
        ]
        assert 100 * watts[0] / watts[1] == pytest.approx(share, abs=1.5)


def test_one_dark_cell_of_72_costs_its_third_and_a_diode():
    cell = plate("leaf", (0.1, 0.1 + 0.17), (0.2, 0.2 + 0.175))
    shaded, clear = (alone(FULL, side_by_side(1, (1.0, 2.0), *these), 900.0, 100.0) for these in ((cell,), ()))
    assert shaded / clear == pytest.approx(RULES["full_model"]["ratio"], abs=0.004)


def test_row_across_the_short_edge_takes_full_cells_and_half_of_half_cut_ones():
    # bypass_rules.json, statement on PS4: 76 to 80 % lost at 20 % diffuse light
    row = plate("rim", (0.0, 1.2), (0.1, 0.215 + 1.97 / 12))
    shares = []
    for panel in (FULL, HALF):
        shaded, clear = (alone(panel, side_by_side(1, (1.0, 2.0), *these), 800.0, 200.0) for these in ((row,), ()))
        shares.append(shaded / clear)
    assert 0.20 <= shares[0] <= 0.26
    assert 0.50 <= shares[1] <= 0.62


def test_column_along_the_long_edge_takes_the_same_third_of_both():
    column = plate("rail", (0.1, 0.1 + 0.17), (0.1, 2.4))
    for panel in (FULL, HALF):
        shaded, clear = (alone(panel, side_by_side(1, (1.0, 2.0), *these), 800.0, 200.0) for these in ((column,), ()))
        assert shaded / clear == pytest.approx(RULES["examples"][0]["ratio"], abs=0.02)


def test_thin_strap_costs_the_part_of_a_cell_it_covers_not_its_area():
    strap = plate("strap", (-0.2, 3.0), (1.03, 1.06))
    plans = (side_by_side(3, (0.67, 1.48), strap), side_by_side(3, (0.67, 1.48)))
    found = [lit_panels((TRIO,) * 3, lights((TRIO,) * 3, plan, 800.0, 100.0)).p_alone.sum() for plan in plans]
    lost = 1 - found[0] / found[1]
    area, of_a_cell = 0.03 / 1.48, 0.03 / (1.45 / 9) * 800 / 900
    # amps are held to the light left on the row; less the room between best-power and short-circuit amps
    at_least = of_a_cell - (1 - TRIO.i_mp / TRIO.i_sc)
    assert lost > 3 * area
    assert at_least - 0.04 < lost < of_a_cell


# Laws and limits


def van(plan: Roof, panels: int = 3) -> Rig:
    return replace(tiny_rig((TRIO,) * panels, tuple(range(panels))), roof=plan)


def thing(rng: np.random.Generator, number: int) -> Fixture:
    """Something in the space ahead of the panels or above them."""
    kind = str(rng.choice(["box", "cylinder", "plate"]))
    sizes = {"wide_m": rng.uniform(0.05, 0.6), "long_m": rng.uniform(0.05, 0.6), "left_m": rng.uniform(0, 3)}
    more = {"under_m": 0.2, "tilt_deg": 30.0} if kind == "plate" else {"high_m": rng.uniform(0.1, 0.8)}
    back = rng.uniform(0, 2) if kind == "plate" else 1.7
    return Fixture(name=f"thing {number}", kind=kind, back_m=back, **sizes, **more)


@pytest.mark.parametrize("seed", range(2))
def test_energy_never_rises_when_a_fixture_is_added(seed):
    rng = np.random.default_rng(seed)
    panels, asked = (TRIO,) * 3, Parked(latitude_deg=45.0, day="04-20", step_min=60, heading_deg=200.0)
    things = [thing(rng, k) for k in range(4)]
    before = lit_panels(panels, asked, side_by_side(3, (0.67, 1.48))).p_alone
    for count in range(1, 5):
        now = lit_panels(panels, asked, side_by_side(3, (0.67, 1.48), *things[:count])).p_alone
        assert now.sum() <= before.sum() * (1 + 1e-9)
        before = now


def test_overcast_sky_casts_no_shadow_and_only_the_view_counts():
    plan = side_by_side(1, (0.67, 1.48), Fixture(name="box", kind="box", left_m=1.0, back_m=0.3, wide_m=0.5,
                                                 long_m=1.0, high_m=0.5))  # fmt: skip
    grey = Parked(latitude_deg=45.0, day="04-20", hour=9.0, clearness=0.0)
    found, bare = (conditions_of((TRIO,), grey, p).light[0] for p in (plan, replace(plan, fixtures=())))
    view = roof_shade(plan, (TRIO,), np.array([30.0]), np.array([90.0])).view[0]
    assert found / bare == pytest.approx(view[None], abs=0.002)
    assert 0.7 < view.min() < view.max() <= 1.0


def test_roof_without_fixtures_changes_nothing_over_a_typical_day():
    asked = Days(day="06-21")
    plain, roofed = (conditions_of((TRIO,), asked, plan).light[0] for plan in (None, side_by_side(1, (0.67, 1.48))))
    assert roofed == pytest.approx(plain, abs=0.06)


def test_clear_day_made_here_is_as_bright_as_a_simple_clear_sky():
    # Haurwitz 1945 as in pvlib: GHI = 1098 cos z exp(-0.059 / cos z); Ineichen's with turbidity 3 within 6 % of it
    from vanpower.weather.parked import parked_day

    day = parked_day(Parked(latitude_deg=45.0, day="06-21", hour=12.0))
    high = np.cos(np.radians(45.0 - 23.4))
    assert day.table["ghi"].iloc[0] == pytest.approx(1098 * high * np.exp(-0.059 / high), rel=0.06)


# Answers


@pytest.fixture(scope="module")
def market() -> dict[str, Rig]:
    return example("goat-cheese-van").wirings()


COARSE = Parked(latitude_deg=50.0, day="03-21", step_min=60.0)


def test_costs_name_the_dearest_fixture_and_add_up_in_the_table(market):
    costs = fixture_costs(market, COARSE)
    assert costs.dearest() == "flue"
    assert re.search(r"Most is lost to the flue: \d+ Wh of the day in 3p, \d+ Wh in 3s\.", costs.verdict.sentence)
    assert all(value > -1.0 for lost in costs.alone.values() for value in lost.values())
    for wiring in market:
        assert costs.full[wiring] < costs.clear[wiring]
        assert costs.clear[wiring] - costs.full[wiring] >= max(lost[wiring] for lost in costs.alone.values()) - 1
    assert all(name in costs.text() for name in ("flue", "vent lid", "all of them"))


def test_best_place_of_a_flue_is_away_from_the_panels(market):
    plan = next(iter(market.values())).roof
    places = {"between panels": plan, "at the nose": plan.with_fixture("flue", back_m=3.95, left_m=1.65)}
    answer = compare_roofs(market, places, COARSE)
    assert answer.best()[0] == "at the nose"
    assert answer.verdict.answer == "yes"
    with pytest.raises(ValueError, match="no fixture 'chimney' on this roof; there are vent"):
        plan.with_fixture("chimney", back_m=1.0)


def test_van_stands_better_with_its_panels_away_from_a_wall_in_the_south():
    wall = Fixture(name="barn", kind="wall", north_m=-5.0, wide_m=40.0, long_m=1.0, high_m=6.0)
    rigs = {"3s": van(side_by_side(3, (0.67, 1.48), wall))}
    answer = compare_headings(rigs, COARSE, angles=(0, 180))
    assert answer.best() == ("nose south", "3s")
    assert answer.of("nose south", "3s") > 2 * answer.of("nose north", "3s")


def test_strings_that_share_a_shadow_are_told_apart():
    four = side_by_side(4, (0.67, 1.48), plate("a", (0.0, 0.8), (0.1, 1.8)), plate("b", (2.25, 3.1), (0.1, 1.8)))
    rig = replace(tiny_rig((TRIO,) * 4, (0, 1), (2, 3)), roof=replace(four, wide_m=4.0))
    answer = string_mates(rig, Parked(latitude_deg=0.0, day="03-21", hour=9.0))
    assert {"P1+P2 | P3+P4", "P1+P3 | P2+P4", "P1+P4 | P2+P3"} < set(answer.outcomes)
    pairs = {name: answer.outcomes[name].energy_wh for name in answer.outcomes if name.count("+") == 2}
    assert max(pairs, key=lambda name: pairs[name]) == "P1+P4 | P2+P3"


def test_climbing_tracker_never_beats_a_sweeping_one(market):
    answer = compare_trackers(market, COARSE)
    for wiring in market:
        assert answer.of("climb", wiring) <= answer.of("sweep", wiring) + 1e-6
    assert answer.of("climb", "3s") < 0.95 * answer.of("sweep", "3s")
    assert answer.of("climb", "3p") > 0.99 * answer.of("sweep", "3p")


def test_best_place_of_a_panel_is_out_of_the_shadow_of_a_box():
    box = Fixture(name="box", kind="box", left_m=1.0, back_m=0.2, wide_m=0.6, long_m=1.5, high_m=0.6)
    plan = side_by_side(1, (0.67, 1.48), box)
    places = {"beside it": plan, "away": plan.with_placement(0, left_m=3.0)}
    answer = compare_roofs({"1s": van(plan, 1)}, places, replace(EAST, hour=8.0), what="place of P1")
    assert answer.best() == ("away", "1s")
    assert answer.verdict.answer == "yes"
    with pytest.raises(ValueError, match=r"P2 has no place on this roof; P1 has"):
        plan.with_placement(1, left_m=0.0)


def test_turned_panel_lies_across(market):
    plan = side_by_side(1, (0.67, 1.48)).with_placement(0, across=True)
    assert not plan.spots[0].along
    assert plan.spots[0].junction == "left"


LYING = {"along": side_by_side(2, (0.67, 1.48)), "across": side_by_side(2, (1.48, 0.67))}
EAST = Parked(latitude_deg=0.0, day="03-21", hour=9.0)
# the sun stands in the east, 45 degrees high
PAIR = {name: replace(tiny_rig((TRIO,) * 2, *strings), roof=LYING["along"])
        for name, strings in {"2s": ((0, 1),), "2p": ((0,), (1,))}.items()}  # fmt: skip


def under(strap: Fixture) -> dict[str, Roof]:
    """Two panels along the van and across it, the same strap over both."""
    return {way: replace(plan, fixtures=(strap,)) for way, plan in LYING.items()}


def test_strap_over_whole_cells_wants_panels_whose_groups_run_with_it():
    # along the van the strap darkens a row of every group; across it, one group of each panel and leaves the other
    answer = compare_roofs(PAIR, under(plate("rail", (-0.2, 3.9), (0.37, 0.54))), EAST, what="way panels lie")
    bare = compare_roofs(PAIR, LYING, EAST)
    left = {way: answer.of(way, "2s") / bare.of(way, "2s") for way in LYING}
    assert answer.best() == ("across", "2s")
    assert answer.verdict.answer == "yes"
    assert left["along"] < 0.3
    # half the groups, each panel a diode's drop poorer
    assert left["across"] == pytest.approx(0.5 - 0.5 / TRIO.v_mp, abs=0.04)
    # in parallel one group left of two lies below the battery's volts: then no way to lie helps
    assert answer.of("across", "2p") < 0.4 * bare.of("across", "2p")


@pytest.mark.parametrize("wide", [0.03, 0.06, 0.08])
def test_strap_no_wider_than_half_a_cell_hardly_cares_which_way_panels_lie(wide):
    strap = plate("strap", (-0.2, 3.9), (0.455 - wide / 2, 0.455 + wide / 2))
    answer = compare_roofs(PAIR, under(strap), EAST, what="way panels lie")
    assert answer.of("across", "2s") == pytest.approx(answer.of("along", "2s"), rel=0.05)


def test_rail_along_the_van_wants_panels_that_lie_along_it():
    answer = compare_roofs(PAIR, under(plate("rail", (0.45, 0.6), (0.1, 1.9))), EAST, what="way panels lie")
    assert answer.best() == ("along", "2s")


def test_map_has_both_winners_and_no_shade_means_no_difference(market):
    found = shade_map(market)
    assert set(np.unique(found.winner)) == {-1, 0, 1}
    assert np.all(found.winner[:, 0] == -1)
    for watts in found.watts.values():
        assert np.all(np.diff(watts, axis=1) <= 1e-3 * watts.max())


def test_map_of_one_wiring_has_no_rival_and_draws_no_line(market):
    one = shade_map({"3s": next(iter(market.values()))})
    assert np.all(one.winner == 0)
    assert plot_shade_map(one).get_title(loc="left") == "3s wins on 100 % of the map"


@pytest.mark.parametrize(
    ("edge", "side", "rises"), [("left", 0, True), ("right", 1, False), ("back", 2, True), ("front", 3, False)]
)
def test_shadow_of_a_map_grows_from_its_edge_over_all_cells(market, edge, side, rises):
    rig = next(iter(market.values()))
    cells = np.concatenate([cells_of(rig.panels[spot.panel], spot).edges for spot in rig.roof.spots])
    covered = np.concatenate([part.reshape(len(SHARES), -1) for part in _growing(rig, edge)], axis=1)
    assert covered.mean(axis=1) == pytest.approx(SHARES, abs=1e-9)
    assert np.all(np.diff(covered, axis=0) >= 0)
    # the nearer a cell lies to the edge, the more of it is covered
    order = np.argsort(cells[:, side] if rises else -cells[:, side], kind="stable")
    assert np.all(np.diff(covered[:, order], axis=1) <= 1e-9)


def test_map_needs_the_place_of_every_panel(market):
    rig = next(iter(market.values()))
    bare = replace(rig, roof=replace(rig.roof, spots=rig.roof.spots[:1]))
    with pytest.raises(ValueError, match="P2, P3 have no place on the roof; a map needs every panel's"):
        shade_map({"it": bare})


# Descriptions and files

ROOF = {
    "panels overlap": ("back_m = 2.15", "back_m = 1.5", r"P1 \(roof 175 W\) and P3 \(roof 175 W\) overlap by 0\.08 m"),
    "fixture in a panel": ("back_m = 1.66", "back_m = 1.5", r"vent stands 0\.07 m inside P1 \(roof 175 W\)"),
    "panel beyond the roof": ("left_m = 1.03", "left_m = 1.2", r"P2 \(roof 175 W\) reaches 0\.07 m beyond the right"),
    "larger than the roof": ("wide_m = 1.48", "wide_m = 1.9", r"P3 \(roof 175 W\) is 1\.9 m and the roof 1\.8 m"),
    "junction on a long edge": ('junction = "left"', 'junction = "front"', "short edge, left or right"),
    "trade name": ('kind = "cylinder"', 'kind = "antenna"', 'line 99, roof, fixture 4: .*beside the van a "mast"'),
    "panel not there": ("panel = 3", "panel = 4", "line 61, roof, spot 3: panel 4 is named, and there are 3"),
    "panel 0": ("panel = 1", "panel = 0", "counts panels from 1"),
    "placed twice": ("panel = 2", "panel = 1", "spots place P1 twice"),
    "same name": ('name = "aerial"', 'name = "flue"', "two called 'flue'"),
    "centimetres": ("[roof]\nwide_m = 1.80", "[roof]\nwide_m = 180", "line 42, roof: wide_m is 180 m.*centimetres"),
    "percent": ("lets_through = 0.2", "lets_through = 20", "lets_through is 20; .*percent"),
    "mistyped": ("high_m = 0.45", "hihg_m = 0.45", "line 103, roof, fixture 4: .*did you mean high_m"),
    "tilted panel": ("i_max_fuse = 15", "i_max_fuse = 15\ntilt_deg = 20", "tilted by 20 degrees.*lies flat"),
}


@pytest.mark.parametrize("slip", ROOF)
def test_impossible_roof_is_refused_with_the_names(slip):
    old, new, words = ROOF[slip]
    text = market_text().replace(old, new, 1)
    assert old in market_text()
    with pytest.raises(ValueError, match=re.compile(words, re.DOTALL)):
        rig_of(text, "van.toml")


def market_text() -> str:
    from vanpower.files.resources import data_folder

    return (data_folder() / "rigs" / "goat-cheese-van.toml").read_text(encoding="utf-8")


def test_roof_survives_the_round_trip():
    rig = example("goat-cheese-van")
    assert rig_of(rig_to_toml(rig), "van.toml") == rig
    assert "[[roof.fixtures]]" in rig_to_toml(rig)


@pytest.mark.parametrize(("field", "value"), [("day", "6-21"), ("hour", 25.0), ("clearness", 50), ("latitude_deg", 99)])
def test_impossible_stand_is_refused(field, value):
    with pytest.raises(ValueError, match=f"Parked.{field} is"):
        Parked(**{"latitude_deg": 45.0, "day": "06-21", field: value})


# The command line and the pictures


def test_command_tells_costs_and_draws(capsys, tmp_path):
    picture = tmp_path / "roof.png"
    assert main(["roof", "goat-cheese-van", "--date", "03-21", "--hour", "9.5", "--chart", str(picture)]) == 0
    told = capsys.readouterr().out
    assert all(word in told for word in ("9:30 sun time", "flue", "what is left", "Rests on"))
    assert picture.stat().st_size > 20_000


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["bookmobile"], "has no roof; add [roof]"),
        (["goat-cheese-van", "--date", "June"], "--date is 'June'; month and day"),
        (["goat-cheese-van", "--date", "02-30"], "not in the calendar"),
        (["goat-cheese-van", "--heading", "500"], "--heading is 500"),
    ],
)
def test_wrong_words_are_one_plain_line(words, told, capsys):
    assert main(["roof", *words]) == 2
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1


def test_command_answers_along_or_across(capsys):
    asked = ["roof", "goat-cheese-van", "--date", "03-21", "--hour", "9.5", "--wiring", "3s"]
    assert main([*asked, "--turn", "P2"]) == 2
    assert "P2 turned: P2 (roof 175 W) reaches" in capsys.readouterr().err
    assert main([*asked, "--turn", "P4"]) == 2
    assert "P4 has no place on this roof; P1, P2, P3 have" in capsys.readouterr().err
    assert main([*asked, "--turn", "second"]) == 2
    assert "--turn is 'second'; write P1 for the first panel" in capsys.readouterr().err


def test_command_tells_what_a_turned_panel_brings(capsys, tmp_path):
    roomy = tmp_path / "roomy.toml"
    roomy.write_text(market_text().replace("back_m = 2.95", "back_m = 3.64"), encoding="utf-8")
    assert main(["roof", str(roomy), "--date", "03-21", "--hour", "9.5", "--turn", "P3"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"as it is +\d+ +\d+\nP3 turned +\d+ +\d+\n", told)
    assert "Does the way panels lie matter" in told


@pytest.mark.parametrize("command", ["day", "year"])
def test_heading_turns_the_van_of_a_run(command, capsys):
    assert main([command, "goat-cheese-van", "--heading", "500"]) == 2
    assert "--heading is 500 degrees; a value from 0 to 360" in capsys.readouterr().err


def test_day_of_a_shaded_roof_knows_how_the_van_stands(capsys):
    told = []
    for heading in ("0", "180"):
        assert main(["day", "goat-cheese-van", "--day", "bright", "--wiring", "3s", "--heading", heading]) == 0
        told.append(capsys.readouterr().out)
    assert told[0] != told[1]


def test_pair_chart_follows_the_hour(market):
    chart = RoofPairChart()
    chart.update(compare(market, replace(COARSE, hour=9.0)))
    morning = chart.roof.title, chart.power.title
    chart.update(compare(market, replace(COARSE, hour=15.0)))
    assert (chart.roof.title, chart.power.title) != morning
    assert "15:00" in chart.roof.title


@pytest.mark.parametrize("hour", [6.5, 7.0, 8.5, 12.0, 17.5])
def test_titles_of_the_pair_stand_within_the_picture_and_beside_each_other(market, hour):
    chart = RoofPairChart(p_top=500, v_top=110)
    chart.update(compare(market, replace(COARSE, hour=hour)))
    for _ in range(2):
        chart.figure.canvas.draw()
    roof, curves = (title_line(part.ax).get_window_extent() for part in (chart.roof, chart.power))
    assert roof.x1 < curves.x0
    assert curves.x1 <= chart.figure.bbox.x1
    assert max(roof.y1, curves.y1) <= chart.figure.bbox.y1


def test_whole_array_of_a_shaded_roof_is_joined_as_any_other(market):
    known = lit_panels(next(iter(market.values())).panels, replace(COARSE, hour=10.0), next(iter(market.values())).roof)
    watts = [best_power(known.array(0, rig.circuits[0]))[1][0] for rig in market.values()]
    assert max(watts) <= known.p_alone.sum() * (1 + 1e-6)
