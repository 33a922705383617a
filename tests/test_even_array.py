"""Arrays of equal panels in equal light, worked out without tables: against a library, tables and bisection."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from pvlib import pvsystem

from vanpower import Shade, Snapshot
from vanpower.components.cables.resistance import resistance
from vanpower.engine.array import PVArray
from vanpower.engine.cells import NO_AVALANCHE
from vanpower.engine.even_array import EvenArray
from vanpower.engine.maxima import refine
from vanpower.model.arrays import even_array, join, roof_of
from vanpower.model.conditions import Conditions, even_light
from vanpower.model.light import lit_panels
from vanpower.rig import Wiring

RNG = np.random.default_rng(21)
LIGHT, HEAT = RNG.uniform(0.5, 1300.0, 400), RNG.uniform(-30.0, 85.0, 400)
WIRINGS = ("4s", "2s2p", "4p")
SOUND, LEAKY = PANEL, replace(PANEL, r_leak=30.0)


def four(panel, wiring):
    return tiny_rig((panel,) * 4, (0, 1), (2, 3)).wired(wiring)


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("panel", [SOUND, LEAKY], ids=["sound", "leaky"])
def test_best_power_and_open_volts_are_those_of_the_library(panel, wiring):
    """pvlib 0.16, `max_power_point` and `v_from_i` (newton): N cells in a row and P rows are one cell, scaled."""
    rig = four(replace(panel, bypass_diodes=False), wiring)
    ours = even_array(rig.panels, rig.circuits[0], LIGHT, HEAT, NO_AVALANCHE)
    cells, rows = 4 // ours.strings * panel.cells_in_series, ours.strings
    chain = ours.cells
    scaled = {
        "photocurrent": rows * chain.i_light[:, 0],
        "saturation_current": rows * chain.i_0[:, 0],
        "resistance_series": cells / rows * chain.r_series[:, 0] + resistance(rig.circuits[0].cable),
        "resistance_shunt": cells / rows * chain.r_shunt[:, 0],
        "nNsVth": cells * chain.a[:, 0],
    }
    top = pvsystem.max_power_point(**scaled, method="newton")
    v, i, p = ours.peaks[1]
    assert p == pytest.approx(top["p_mp"], rel=1e-9)
    assert v == pytest.approx(top["v_mp"], rel=1e-6)
    assert i * v == pytest.approx(p, rel=1e-15)
    assert ours.v_oc == pytest.approx(pvsystem.v_from_i(0.0, **scaled, method="newton"), rel=1e-9)


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("blocking", [False, True])
@pytest.mark.parametrize("panel", [SOUND, LEAKY, replace(SOUND, branches=2)], ids=["sound", "leaky", "half-cut"])
def test_points_are_those_of_the_general_way(panel, blocking, wiring):
    rig = four(panel, wiring)
    circuit = replace(rig.circuits[0], blocking_diodes=blocking)
    ours = even_array(rig.panels, circuit, LIGHT, HEAT)
    tables = join(roof_of(rig.panels, even_light(rig.panels, LIGHT, HEAT)), circuit)
    some = tables.peaks[1][2] > 0.01
    assert ours.peaks[1][2] == pytest.approx(tables.peaks[1][2], rel=1e-9, abs=1e-4)
    assert ours.peaks[1][0][some] == pytest.approx(tables.peaks[1][0][some], rel=1e-6)
    volts = RNG.uniform(0.0, 1.0, len(LIGHT)) * ours.v_oc
    there = refine(tables, volts, np.zeros(len(LIGHT), bool))[1]
    assert ours.point(volts, np.zeros(len(LIGHT), bool))[1] == pytest.approx(there, rel=1e-6, abs=1e-7)
    # a table's open-circuit volts are read between its points; those of a leaky panel err by 0.1 %, in dull light more
    bright = LIGHT > 20
    assert ours.v_oc[bright] == pytest.approx(tables.v_oc[bright], rel=2e-3)


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("panel", [SOUND, LEAKY], ids=["sound", "leaky"])
def test_amps_at_any_volts_are_found_by_halving_too(panel, wiring):
    rig = four(panel, wiring)
    ours = even_array(rig.panels, rig.circuits[0], LIGHT, HEAT)
    volts = RNG.uniform(0.0, 1.0, len(LIGHT)) * ours.v_oc
    low, high = np.zeros(len(LIGHT)), ours.v_oc / (ours.series * ours.cells.count[:, 0])
    for _ in range(80):
        middle = 0.5 * (low + high)
        above = ours._expanded(middle)[0].voltage > volts
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    assert ours.amps_at(volts) == pytest.approx(ours._expanded(low)[0].current, rel=1e-9, abs=1e-9)
    assert (ours.amps_at(1.01 * ours.v_oc) == 0).all()


@pytest.mark.parametrize("share", [0.999999, 0.7, 0.05])
def test_a_clipped_point_gives_just_the_watts_wanted_above_the_best_volts(share):
    rig = four(SOUND, "2s2p")
    ours = even_array(rig.panels, rig.circuits[0], LIGHT, HEAT)
    best, _, power = ours.peaks[1]
    volts, amps = ours.backed_off(best, ours.v_oc, share * power)
    assert ours.amps_at(volts) * volts == pytest.approx(share * power, rel=1e-8)
    assert volts * amps == pytest.approx(share * power, rel=1e-12)
    assert ((volts > best) & (volts < ours.v_oc)).all()


def kind_of(rig, request) -> type:
    return type(lit_panels(rig.panels, request).source(0, rig.circuits[0]))


def test_only_panels_alike_in_light_and_strings_are_worked_out_so():
    rig, noon = four(SOUND, "2s2p"), Snapshot(light=700, temp_cell=30)
    assert kind_of(rig, noon) is EvenArray
    assert kind_of(rig, replace(noon, shade=(Shade(panel=2, substring=0, lit=0.5),))) is PVArray
    unlike = replace(rig, panels=(*rig.panels[:3], replace(SOUND, i_mp=0.98 * SOUND.i_mp)))
    assert kind_of(unlike, noon) is PVArray
    [circuit] = rig.circuits
    uneven = replace(rig, circuits=(replace(circuit, wiring=Wiring(strings=((0, 1, 2), (3,)))),))
    assert kind_of(uneven, noon) is PVArray
    even = even_light(rig.panels, 700.0, 30.0)
    assert kind_of(rig, even) is EvenArray
    hotter = replace(even, temp_cell=even.temp_cell + np.array([[0.0, 0.0, 0.0, 1.0]]))
    brighter = Conditions((*even.light[:3], 1.001 * even.light[3]), even.temp_cell)
    assert kind_of(rig, hotter) is kind_of(rig, brighter) is PVArray
    # one panel of them is shaded as a whole: alike within, not among each other
    assert kind_of(rig, replace(noon, shade=(Shade(panel=2, lit=0.5),))) is PVArray


def test_a_circuit_is_even_whatever_lies_on_the_panels_of_another():
    rig = tiny_rig((SOUND,) * 4, (0, 1))
    shaded = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=3, substring=0, lit=0.5),))
    assert kind_of(rig, shaded) is EvenArray


def test_darkness_gives_nothing():
    rig = four(SOUND, "4s")
    dark = even_array(rig.panels, rig.circuits[0], np.array([0.0, 500.0]), np.array([10.0, 25.0]))
    assert dark.v_oc[0] == dark.peaks[1][2][0] == 0.0
    assert dark.peaks[1][2][1] > 100
