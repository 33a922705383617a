"""Which diodes conduct where the controller sits: held against two circuit solvers, cell by cell, and plain sums."""

from __future__ import annotations

import dense_reference as reference
import numpy as np
import pytest
from adapters import cell_by_cell
from circuit_simulator import metered, needs_ngspice
from random_rigs import random_trial

from vanpower import Circuit, Controller, Rig, Shade, Snapshot, Wiring, example
from vanpower.model.current_way import LEAST_SHARE, NO_AMPS, PanelWay, panel_ways
from vanpower.model.rig_in_light import RigModel

ARRAYS = 20
TOLERANCE = 2e-3
# share of the largest current by which amps may differ: tables err by a per mille (`vanpower.engine`), the solvers not
SIMULATED = (3, 7, 15)
# of them those with diodes that conduct for which the simulator finds a start
NEAR = 0.3
# a diode whose amps lie so near the threshold that they may be on either side of it is not counted


def shaded_rig(seed: int) -> tuple[Rig, Snapshot]:
    """Random panels in random strings, each with some groups in shade of random depth."""
    rng = np.random.default_rng([seed, 1703])
    trial = random_trial(seed, 1)
    notes = []
    for number, panel in enumerate(trial.panels):
        for group in range(panel.substrings):
            if rng.random() < 0.5:
                cells = [None, 1, panel.cells_in_series // panel.substrings // 2][int(rng.integers(3))]
                notes.append(Shade(panel=number, substring=group, cells=cells, lit=float(rng.uniform(0.0, 0.7))))
    circuit = Circuit(
        wiring=Wiring(strings=trial.strings), blocking_diodes=trial.blocking,
        controller=Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0),
    )  # fmt: skip
    rig = example("bookmobile").changed(panels=trial.panels, circuits=(circuit,), roof=None)
    return rig, Snapshot(light=float(rng.uniform(300, 1000)), temp_cell=float(rng.uniform(-5, 60)), shade=tuple(notes))


def dense_ways(array: reference.Array, v_terminal: float, i_terminal: float) -> list[tuple[float, list[float]]]:
    """Amps of each string and of each of its diodes by the dense solver, at the array's terminals."""
    i_limit = 1.2 * sum(reference._largest_current(string) for string in array.strings)
    junction = np.array([v_terminal + array.r_cable * i_terminal])
    found = []
    for string in array.strings:
        curve = reference.StringCurve(string, i_limit)
        amps = curve.current(junction)[0]
        volts = [reference.substring_curve(part, i_limit).voltage(amps)[0] for part in string.substrings]
        diodes = [
            0.0 if part.diode is None else max(float(reference.diode_current(-v, *part.diode)[0][0]), 0.0)
            for part, v in zip(string.substrings, volts, strict=True)
        ]
        found.append((float(amps[0]), diodes))
    return found


@pytest.mark.parametrize("seed", range(ARRAYS))
def test_amps_of_strings_and_diodes_are_those_of_the_dense_solver(seed: int) -> None:
    rig, light = shaded_rig(seed)
    model = RigModel(rig, light)
    circuit = rig.circuits[0]
    sits = model.by_label[0]
    array = cell_by_cell(rig.panels, circuit, light)
    dense = dense_ways(array, float(sits.v_array[0]), float(sits.i_array[0]))
    hold(rig, panel_ways(model)[0], dense, float(sits.i_array[0] / model.operations[0].i_array[0]))


def hold(rig: Rig, said: tuple[PanelWay, ...], outside: list[tuple[float, list[float]]], share: float) -> None:
    """Amps as the solver has them, and the same diodes conducting."""
    ours = iter(said)
    most = max(abs(amps) for amps, _ in outside)
    for string, (amps, diodes) in zip(rig.circuits[0].wiring.strings, outside, strict=True):
        left = iter(diodes)
        for panel in string:
            way = next(ours)
            theirs = [next(left) for _ in range(rig.panels[panel].substrings)]
            assert way.panel == panel
            assert share * way.i_panel == pytest.approx(amps, abs=TOLERANCE * most)
            assert np.array(way.i_diodes) * share == pytest.approx(theirs, abs=TOLERANCE * most)
            least = max(LEAST_SHARE * amps, NO_AMPS)
            for diode, conducts in zip(theirs, way.conducting, strict=True):
                assert conducts == (diode > least) or abs(diode / least - 1) < NEAR


@needs_ngspice
@pytest.mark.parametrize("seed", SIMULATED)
def test_amps_of_strings_and_diodes_are_those_of_a_circuit_simulator(seed: int) -> None:
    rig, light = shaded_rig(seed)
    model = RigModel(rig, light)
    sits = model.by_label[0]
    simulated = metered(cell_by_cell(rig.panels, rig.circuits[0], light), float(sits.v_array[0]))
    hold(rig, panel_ways(model)[0], simulated, float(sits.i_array[0] / model.operations[0].i_array[0]))


def test_among_the_arrays_are_diodes_that_conduct_and_diodes_that_do_not() -> None:
    ways = [way for seed in range(ARRAYS) for way in panel_ways(RigModel(*shaded_rig(seed)))[0]]
    conducting = [diode for way in ways for diode in way.conducting]
    assert sum(conducting) > 20
    assert conducting.count(False) > 20


def test_series_takes_the_diode_of_the_shaded_group_and_parallel_cannot() -> None:
    # 2p: with one diode conducting P1 has one group of 18 cells, some 9 V, and the controller needs 13.3 V + 1 V
    half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    said = {}
    for wiring in ("2s", "2p"):
        [ways] = panel_ways(RigModel(example("bookmobile").wired(wiring), half))
        said[wiring] = [way.conducting for way in ways]
    assert said == {"2s": [(True, False), (False, False)], "2p": [(False, False), (False, False)]}


def test_the_amps_of_parallel_strings_add_up_to_what_the_controller_takes() -> None:
    half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    model = RigModel(example("bookmobile").wired("2p"), half)
    assert sum(way.i_panel for way in panel_ways(model)[0]) == pytest.approx(
        float(model.operations[0].i_array[0]), rel=1e-5
    )


def test_at_night_nothing_flows_and_no_diode_conducts() -> None:
    for light in (0.0, 0.5):
        [ways] = panel_ways(RigModel(example("bookmobile"), Snapshot(light=light, temp_cell=5)))
        assert all(abs(way.i_panel) < NO_AMPS and not any(way.conducting) for way in ways)
