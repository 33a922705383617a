"""What is made of what, counted by hand; and arrays that share it, or are met together, give what each gives alone."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from vanpower import Cable, Shade, Snapshot, example
from vanpower.engine.array import PVArray, best_power, hilltops, seek_peaks
from vanpower.engine.curves import Curves, current_at, in_parallel, in_series, voltage_at
from vanpower.engine.topology import apart, counted, through, wired
from vanpower.model.light import array_of

SHADE = (Shade(panel=1, substring=0, cells=4, lit=0.3),)
DIM = Snapshot(light=300.0, temp_cell=20.0, shade=SHADE)
BRIGHT = Snapshot(light=900.0, temp_cell=45.0, shade=SHADE)


def van(wiring: str, length_m: float = 0.0, *, blocking: bool = False):
    """Four panels of 23.1 V in a wiring."""
    rig = example("puppet-stage").wired(wiring)
    [circuit] = rig.circuits
    return replace(
        rig, circuits=(replace(circuit, cable=Cable(length_m=length_m, section_mm2=6.0), blocking_diodes=blocking),)
    )


def test_groups_count_what_a_hand_counts():
    # three strings: panels 0, 0 and 1; panel 1; panels 1 and 0. Panel 0 has substrings a a, panel 1 a b
    strings, panels = counted(((0, 0, 1), (1,), (1, 0))), counted(((0, 0), (0, 1)))
    assert through(strings, panels).counts == (((0, 5), (1, 1)), ((0, 1), (1, 1)), ((0, 3), (1, 1)))
    assert strings.first.tolist() == [0, 2, 3]
    assert strings.group.tolist() == [0, 0, 1, 2, 2]
    assert strings.times.ravel().tolist() == [2.0, 1.0, 1.0, 1.0, 1.0]
    assert apart(strings, strings).counts[3:] == (((5, 2), (6, 1)), ((7, 1),), ((8, 1), (9, 1)))


def test_an_array_holds_nothing_that_it_has_no_part_of():
    # of three panels the last two, of which one is half-cut with chains 3 and 4 in each substring
    substrings, panels = counted(((0,), (1,), (2,), (3, 4), (4, 4))), counted(((0, 0), (1, 2), (3, 4)))
    topology, (chains, groups, own) = wired(substrings, panels, ((2,), (1,), (2,)))
    assert (chains, groups, own) == ((3, 4, 1, 2), (3, 4, 1, 2), (2, 1))
    assert topology.array.counts == (((0, 2), (1, 1)),)
    assert topology.branches.counts == (((0, 1), (1, 1)), ((1, 2),), ((2, 1),), ((3, 1),))


@pytest.mark.parametrize("wiring", ["4s", "4p", "2s2p"])
def test_light_and_cable_that_move_meet_the_same_topology(wiring):
    before = array_of(van(wiring), DIM)
    for rig, light in ((van(wiring), BRIGHT), (van(wiring, 12.0), DIM)):
        assert array_of(rig, light).topology is before.topology
    assert before.rows(np.array([0])).topology is before.topology


@pytest.mark.parametrize("wiring", ["4s", "4p", "2s2p", "2s2p (P1+P3 | P2+P4)"])
@pytest.mark.parametrize("blocking", [False, True])
def test_a_closer_look_at_the_best_point_keeps_its_watts(wiring, blocking):
    array = array_of(van(wiring, 5.0, blocking=blocking), BRIGHT)
    volts, watts = best_power(array)
    again = array.refined_at(volts).refined_at(volts)
    # by its parabolas, and by the table alone
    assert again.solve(volts, np.array([True]))[2] == pytest.approx(watts, rel=1e-9)
    assert volts * current_at(again.curves, volts[:, None])[0][:, 0] == pytest.approx(watts, rel=1e-6)


def test_arrays_of_several_roofs_met_together_give_what_each_gives_alone():
    rigs = [van("4s", 5.0), van("2s2p", blocking=True), van("4p", 2.0), example("seed-swap"), example("bookmobile")]
    every = [array_of(rig, BRIGHT) for rig in rigs]
    alone = [best_power(array.rows(np.array([0])))[1][0] for array in every]
    together = [array.rows(np.array([0])) for array in every]
    seek_peaks([*together, together[0]])
    assert [best_power(array)[1][0] for array in together] == pytest.approx(alone, rel=4e-6)


def test_a_bare_curve_is_an_array_of_which_the_table_is_all_there_is():
    # 20 V behind 2 ohm give most at half their volts: 10 V, 5 A
    source = Curves(np.array([[0.0, 10.0]]), np.array([[20.0, 0.0]]), np.full((1, 2), -2.0))
    bare = PVArray.of_curve(source)
    assert [float(part[0]) for part in bare.peaks[1]] == pytest.approx([10.0, 5.0, 50.0])
    assert hilltops(bare).power[0] == pytest.approx([50.0])
    assert bare.rows(np.array([0])).each_string == []


@pytest.mark.parametrize("times", [1, 2, 5])
def test_a_curve_counted_so_often_is_that_curve_so_often(times):
    source = Curves(np.array([[0.0, 4.0, 10.0]]), np.array([[20.0, 14.0, 0.0]]), np.array([[-1.0, -2.0, -2.5]]))
    other = Curves(np.array([[0.0, 7.0]]), np.array([[9.0, 2.0]]), np.full((1, 2), -1.0))
    amps = np.linspace(0.0, 7.0, 15)[None]
    for join in (in_series, in_parallel):
        told, spelt = join([source, other], [times, 1]), join([source] * times + [other])
        assert voltage_at(told, amps)[0] == pytest.approx(voltage_at(spelt, amps)[0], rel=1e-9, abs=1e-9)


def test_an_array_knows_neither_circuit_nor_controller():
    names = {field.name for field in fields(PVArray)}
    assert not names & {"circuit", "controller", "rig", "panels", "wiring"}
