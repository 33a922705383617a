"""Working points held against what an array can give, an outside solver, and the same moment by itself."""

from __future__ import annotations

from dataclasses import replace

import dense_reference as dense
import numpy as np
import pytest
from adapters import cell_at
from random_rigs import CABLES, Trial, random_trial

from vanpower.components.cables.resistance import resistance
from vanpower.components.controllers import Operation, operate
from vanpower.components.panel_cells import BLOCKING, bypass_diode
from vanpower.engine.array import PVArray
from vanpower.engine.curves import open_circuit_voltage, short_circuit_current
from vanpower.engine.maxima import P_NONE
from vanpower.model.arrays import join, roof_of
from vanpower.model.conditions import Conditions, conditions_of
from vanpower.rig import Cable, Circuit, Controller, Days, MadeSky, Panel, Place, Wiring

SEEDS = range(36)
# random rigs of the ordinary run; of 60 with 40 moments each, nine were wrong while parts that ran away counted as met
MOMENTS = 12
BRACKET = 0.05
# share of the short-circuit amps by which a table may be beside the curve; 3 % at 1 W/m², by the outside solver
EXACT = 2e-5
# share of the power against the outside solver, as in test_engine.py
ALONE = 4e-6
# share of the power by which a moment among others may differ from itself alone, twice what a last round may change;
# its tables reach as far as the brightest moment needs and so lie a little apart
TABLE = 0.02
# share of the power for hills so flat that the table and not the closer look picks them, and in light of few W/m²
DULL = 30.0
# [W/m²] below that


def operated(trial: Trial, light: Conditions, circuit: Circuit, rows: slice = slice(None)) -> tuple[PVArray, Operation]:
    """The array and where its controller sits."""
    array = join(roof_of(trial.panels, light), circuit)
    return array, operate(array, circuit.controller, trial.v_battery[rows], awake=True)


def cell_by_cell(panels: tuple[Panel, ...], circuit: Circuit, light: Conditions, moment: int) -> dense.Array:
    """One moment for the outside solver."""

    def groups(number: int) -> list[dense.Substring]:
        panel, heat = panels[number], float(light.temp_cell[moment, number])
        diode = bypass_diode(panel)
        bypass = None if diode is None else (float(diode.i_0), diode.v_fold)
        field = light.light[number][moment]
        return [
            dense.Substring(
                tuple(tuple(cell_at(panel, float(lit), heat) for lit in branch) for branch in group), bypass
            )
            for group in field
        ]

    blocking = (float(BLOCKING.i_0), BLOCKING.v_fold) if circuit.blocking_diodes else None
    strings = (
        dense.String(tuple(part for panel in string for part in groups(panel)), blocking)
        for string in circuit.wiring.strings
    )
    return dense.Array(tuple(strings), resistance(circuit.cable))


def amps_at(curve: dense.ArrayCurve, volts: float) -> float:
    """Amps of the outside solver at these volts: its path from short to open circuit, halved."""
    path = curve.scan()
    place = int(np.clip(np.searchsorted(curve.point(path)[0], volts), 1, len(path) - 1))
    low, high = path[place - 1], path[place]
    for _ in range(60):
        middle = 0.5 * (low + high)
        v, amps = (float(part[0]) for part in curve.point(np.array([middle])))
        low, high = (middle, high) if v < volts else (low, middle)
    return amps


LABEL = Panel(
    name="170 W", v_oc=22.4, v_mp=18.6, i_sc=9.75, i_mp=9.14, cells_in_series=36, substrings=2,
    beta_voc_pct_per_k=-0.3, gamma_pmp_pct_per_k=-0.4, alpha_isc_pct_per_k=0.05,
)  # fmt: skip
SWITCH = Controller(name="switch", v_pv_max=150.0, i_charge_max=500.0, tracker="direct")


@pytest.mark.parametrize(("day", "volts", "moment"), [("06-01", 14.3, 84), ("06-01", 14.4, 123)])
def test_three_panels_on_a_plain_switch_give_the_amps_of_the_outside_solver(day, volts, moment):
    # two of three tilted: at battery volts one panel of the string is nearly bypassed, and its parabola ran away
    panels = (LABEL, *(replace(LABEL, tilt_deg=10.0),) * 2)
    circuit = Circuit(wiring=Wiring(strings=((0, 1, 2),)), controller=SWITCH, cable=Cable(length_m=0.0))
    sky = MadeSky(
        kind="clear", place=Place(latitude_deg=25.8, longitude_deg=-80.2), temp_air=22.0, clearness=1.0, step_min=10.0
    )
    light = conditions_of(panels, Days(weather=sky, day=day))
    array = join(roof_of(panels, light), circuit)
    found = operate(array, SWITCH, volts)
    truth = amps_at(dense.ArrayCurve(cell_by_cell(panels, circuit, light, moment)), volts)
    assert truth == pytest.approx(6.1, abs=0.1), "0.33 A and 0.22 A were booked"
    assert found.i_array[moment] == pytest.approx(truth, rel=EXACT)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_working_point_lies_off_its_curve(seed):
    trial = random_trial(seed, MOMENTS)
    for circuit in trial.circuits():
        array, found = operated(trial, trial.light, circuit)
        on = found.p_array > 0
        i_sc, v_oc = short_circuit_current(array.curves), open_circuit_voltage(array.curves)
        assert (found.p_best <= i_sc * v_oc).all()
        assert (found.p_array <= found.p_best * (1 + ALONE) + P_NONE).all()
        low, high = neighbours(array, found.v_array)
        slack = BRACKET * i_sc + 1e-5
        assert ((found.i_array >= low - slack) & (found.i_array <= high + slack))[on].all()


def neighbours(array: PVArray, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Amps of the points of its table on either side of the volts: a falling curve lies between."""
    amps, falling = array.curves.current, array.curves.voltage
    right = np.clip((falling > volts[:, None]).sum(axis=1), 1, falling.shape[1] - 1)
    rows = np.arange(len(volts))
    # points before the first have its amps, those beyond the last their slope
    beyond = volts < falling[:, -1]
    return np.where(right == 1, 0.0, amps[rows, right - 1]), np.where(beyond, np.inf, amps[rows, right])


@pytest.mark.parametrize("seed", SEEDS[::3])
def test_a_moment_among_others_gives_what_it_gives_alone(seed):
    trial = random_trial(seed, MOMENTS)
    circuits = list(trial.circuits())[seed % 3 :: 4]
    together = [operated(trial, trial.light, circuit)[1] for circuit in circuits]
    for moment in range(0, MOMENTS, 2):
        rows = slice(moment, moment + 1)
        light = trial.light.moments(rows)
        within = ALONE if light.brightest[0] > DULL else TABLE
        for circuit, among in zip(circuits, together, strict=True):
            alone = operated(trial, light, circuit, rows)[1]
            assert among.p_best[moment] == pytest.approx(alone.p_best[0], rel=within, abs=4 * P_NONE)
            if circuit.controller.tracker != "climb" and among.awake[moment]:
                assert among.p_array[moment] == pytest.approx(alone.p_array[0], rel=within, abs=4 * P_NONE)


@pytest.mark.parametrize("seed", SEEDS[::6])
@pytest.mark.parametrize("length", CABLES)
def test_battery_volts_give_the_amps_of_the_outside_solver(seed, length):
    trial = random_trial(seed, MOMENTS)
    circuit = next(c for c in trial.circuits() if (c.cable.length_m, c.controller.tracker) == (length, "direct"))
    found = operated(trial, trial.light, circuit)[1]
    for moment in np.flatnonzero(found.p_array > 0)[:2]:
        array = cell_by_cell(trial.panels, circuit, trial.light, int(moment))
        truth = amps_at(dense.ArrayCurve(array), float(found.v_array[moment]))
        assert found.i_array[moment] == pytest.approx(truth, rel=EXACT, abs=1e-7)
