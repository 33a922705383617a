"""One point of a curve with its slope and bend: right against differences, and sums of them right against circuits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import wrightomega

from vanpower.engine import chain_tables
from vanpower.engine.cells import (
    DEEPEST,
    FAR,
    FRONT_CONTACT,
    NO_AVALANCHE,
    Avalanche,
    Cell,
    CellChains,
    chain_quadratic,
    chain_voltage,
    chains,
    max_power,
    wright_omega,
)
from vanpower.engine.chain_tables import junctions_at, tabulate
from vanpower.engine.curves import Diode, open_circuit_voltage
from vanpower.engine.operating_point import Net, net_of
from vanpower.engine.quadratics import Quadratic, one_after_another, side_by_side
from vanpower.engine.topology import counted, wired


def chain(*levels: tuple[float, int]) -> CellChains:
    """Cells of so many amps of light current each, the weakest first."""
    i_light, count = (np.array([values], float) for values in zip(*levels, strict=True))
    one = [np.array([[value]]) for value in (2e-10, 0.028, 0.005)]
    return CellChains(i_light, 40.0 / i_light, count, *one)


@pytest.mark.parametrize("u", [-9.0, -2.0, 0.3, 0.55, 0.62])
@pytest.mark.parametrize("avalanche", [FRONT_CONTACT, NO_AVALANCHE, Avalanche(exponent=3.7)])
def test_slope_and_bend_of_a_chain_are_those_of_differences(u, avalanche):
    cells = chain((3.0, 1), (7.0, 11), (9.0, 6))
    touch, rate = chain_quadratic(cells, np.array([u]), avalanche)
    step = 1e-4
    current, voltage, slope = (a[0] for a in chain_voltage(cells, u + step * np.array([[1.0, 0.0, -1.0]]), avalanche))
    assert (touch.current[0], touch.voltage[0]) == pytest.approx((current[1], voltage[1]), rel=1e-12)
    assert touch.slope[0] == pytest.approx((voltage[2] - voltage[0]) / (current[2] - current[0]), rel=1e-4)
    assert touch.bend[0] == pytest.approx((slope[2] - slope[0]) / (current[2] - current[0]), rel=2e-3)
    assert rate[0] == pytest.approx((voltage[0] - voltage[2]) / (2 * step), rel=1e-4)


@pytest.mark.parametrize("exponent", [2.5, 3.0, 3.7])
def test_avalanche_is_that_of_bishop_whatever_its_exponent(exponent):
    # Bishop, Solar Cells 25 (1988): the shunt's amps times 1 + share (1 - V/Vbr)^-m; at half of -18 V 1 + 0.002 x 2^m
    assert Avalanche(exponent=exponent).factor(np.array([-9.0]))[0] == pytest.approx(1.0 + 0.002 * 2.0**exponent)


@pytest.mark.parametrize("leak", [1e-4, 0.1, 0.9, 3.0])
@pytest.mark.parametrize("dimmed", [1.0, 0.01])
def test_most_watts_of_equal_cells_are_the_most_on_a_dense_curve(leak, dimmed):
    # a leak of more amps than the cells have makes the curve a straight line
    sound = chain((7.0 * dimmed, 18))
    leaky = replace(sound, r_shunt=np.array([[0.6 / (7.0 * dimmed * leak)]]))
    current, voltage, _ = chain_voltage(leaky, np.linspace(0.0, 0.7, 200_001)[None, :], FRONT_CONTACT)
    assert max_power(leaky)[0] == pytest.approx((current * voltage).max(), rel=1e-9)


def test_most_watts_in_the_dark_are_none():
    assert max_power(replace(chain((7.0, 18)), i_light=np.zeros((1, 1))))[0] == 0.0


def test_two_resistances_add_up_in_series_and_side_by_side():
    # 10 V behind 3 ohm, there twice, and 4 V behind 6 ohm
    parts = Quadratic(*(np.array(values)[:, None] for values in ((2.0, 2.0), (10.0, 4.0), (-3.0, -6.0), (0.0, 0.0))))
    both = one_after_another(parts, np.array([[2.0], [1.0]]), np.array([0]))
    assert (both.current[0, 0], both.voltage[0, 0], both.slope[0, 0]) == (2.0, 24.0, -12.0)
    # 16 V behind 3 ohm and 16 V behind 6 ohm are 16 V behind 2 ohm
    volts = np.array([10.0])
    beside = side_by_side(volts, *(lead.sum(axis=0) for lead in parts.leads_at(volts)))
    assert (beside.current[0], beside.slope[0]) == pytest.approx((3.0, -2.0))


def test_strings_of_unlike_length_keep_to_themselves():
    points = ((2.0, 2.0, 5.0), (10.0, 4.0, 7.0), (-3.0, -6.0, -1.0))
    parts = Quadratic(*(np.array(values)[:, None] for values in points), np.zeros((3, 1)))
    strings = one_after_another(parts, np.ones((3, 1)), np.array([0, 2]))
    assert strings.current[:, 0].tolist() == [2.0, 5.0]
    assert strings.voltage[:, 0].tolist() == [14.0, 7.0]
    assert strings.slope[:, 0].tolist() == [-9.0, -1.0]


def test_best_point_of_a_battery_behind_a_resistance_is_at_half_its_volts():
    # the theorem of the greatest power: 16 V behind 3 ohm give most at 8 V
    off = Quadratic(*(np.array([value]) for value in (0.5, 14.5, -3.0, 0.0)))
    assert off.hilltop()[0] == pytest.approx(8.0 / 3.0)
    assert off.behind(1.0).hilltop()[0] == pytest.approx(2.0)


def test_parabola_is_the_same_over_amps_and_over_volts():
    touch = Quadratic(*(np.array([value]) for value in (5.0, 18.0, -1.2, -0.8)))
    away = touch.at_current(np.array([5.001]))
    current, lead, _ = touch.leads_at(away.voltage)
    assert current[0] == pytest.approx(5.001, abs=1e-8)
    assert 1.0 / lead[0] == pytest.approx(away.slope[0], rel=1e-5)


SHADED = Quadratic(*(np.full((2, 1), value) for value in (3.0, -0.45, -0.8, -0.3)))
BYPASS = Diode(1e-6, 0.035)


def net(*often: int, branches: int = 1, bypass: Diode | None = None, blocking: Diode | None = None) -> Net:
    """One string of parts that are there so many times."""
    substrings = counted(tuple(tuple(range(branches * k, branches * (k + 1))) for k in range(len(often))))
    panel = counted((tuple(k for k, times in enumerate(often) for _ in range(times)),))
    return net_of([wired(substrings, panel, ((0,),))[0]], [bypass] * len(often), blocking, [0.0], FRONT_CONTACT)


@pytest.mark.parametrize("volts", [-0.5, -0.45, -0.3, 0.2])
def test_slope_and_bend_of_a_substring_with_its_diode_are_those_of_differences(volts):
    step, halves = 1e-4, net(1, branches=2, bypass=BYPASS)
    around = [np.array([[v]]) for v in (volts - step, volts, volts + step)]
    before, there, after = (halves.part_quadratics(SHADED, v).leads_at(v) for v in around)
    diode = 1e-6 * np.expm1(-volts / 0.035)
    assert there[0][0, 0] == pytest.approx(2 * SHADED.leads_at(around[1])[0][0, 0] + diode, rel=1e-12)
    assert there[1][0, 0] == pytest.approx((after[0] - before[0])[0, 0] / (2 * step), rel=1e-5)
    assert there[2][0, 0] == pytest.approx((after[1] - before[1])[0, 0] / (2 * step), rel=1e-4)


def test_slope_and_bend_of_a_string_behind_its_blocking_diode_are_those_of_differences():
    step, string = 1e-4, net(2, 1, blocking=Diode(1e-6, 0.05))
    parts = Quadratic(*(np.array(values)[:, None] for values in ((3.0, 3.1), (18.0, 9.0), (-0.8, -0.5), (-0.3, -0.1))))
    before, there, after = (string.string_quadratics(parts, np.array([[3.0 + k * step]])) for k in (-1, 0, 1))
    # 2 x 18 V and 9 V a tenth of an amp further back, less the drop of an ideal-law diode
    assert there.voltage[0, 0] == pytest.approx(36.0 + 9.0495 - 0.05 * np.log1p(3.0 / 1e-6))
    assert there.slope[0, 0] == pytest.approx((after.voltage - before.voltage)[0, 0] / (2 * step), rel=1e-6)
    # the parabola of a part keeps its bend, so only the diode's changes
    assert there.bend[0, 0] == pytest.approx((after.slope - before.slope)[0, 0] / (2 * step), rel=1e-5)


def test_blocking_diode_lets_nothing_back():
    part, back = Quadratic(*(np.array([[value]]) for value in (0.1, 21.0, -0.8, -0.3))), np.array([[-0.5]])
    blocked = net(1, blocking=Diode(1e-6, 0.05)).string_quadratics(part, back)
    current, lead, turn = (a[0, 0] for a in blocked.leads_at(blocked.voltage))
    assert (current, turn) == (0.0, 0.0)
    assert -1e-9 < lead < 0
    assert net(1).string_quadratics(part, back).current[0, 0] == -0.5


def test_table_of_a_branch_tells_where_its_junction_is():
    sets = [chain((3.0, 1), (7.0, 11), (9.0, 6)), chain((8.0, 18))]
    for cells, branch in zip(sets, tabulate(sets, 10.0, BYPASS, FRONT_CONTACT)[0], strict=True):
        for volts in (-0.4, 2.0, 8.0, 10.5):
            junction = junctions_at([branch], branch.cells, np.array([[volts]]))[0]
            assert chain_quadratic(cells, junction, FRONT_CONTACT)[0].voltage[0] == pytest.approx(volts, abs=0.01)
            near = branch.points_near(np.array([volts]))
            ends = chain_voltage(cells, near, FRONT_CONTACT)[1][0, [0, -1]]
            assert ends[0] >= volts >= ends[1]
            assert np.all(np.diff(near) < 0)


NEAR_ZERO = np.geomspace(1e-9, FAR, 4000, endpoint=False)
CLOSE = np.concatenate([np.linspace(DEEPEST, FAR, 40_000, endpoint=False), -NEAR_ZERO, NEAR_ZERO])
FAR_OUT = np.concatenate([np.linspace(FAR, 100.0, 40_001), np.geomspace(100.0, 1e12, 4000)])
# a cell of 20 A with a leak of 1 gigaohm is at 8e11


@pytest.mark.parametrize("z", [CLOSE, FAR_OUT], ids=["close", "far"])
@pytest.mark.parametrize("company", ["alone", "few of the other kind", "more of the other kind"])
def test_wright_omega_agrees_with_scipy_wherever_cells_go(z, company):
    # what is close is worked out with what is far, or apart from it, by how many there are of each
    other = {CLOSE[0]: FAR_OUT, FAR_OUT[0]: CLOSE}[z[0]]
    among = {
        "alone": z,
        "few of the other kind": np.append(z, other[:3]),
        "more of the other kind": np.append(z, np.tile(other, 2)),
    }
    np.testing.assert_allclose(wright_omega(among[company])[: len(z)], wrightomega(z), rtol=3e-9)


def test_wright_omega_is_next_to_nothing_below_what_is_held():
    # w = e^z there (1e-300 at the deepest), and no more than that counts
    assert 0.0 < wright_omega(np.array([-1e6]))[0] < 1e-299
    assert wrightomega(-1e6) == 0.0


def test_chains_with_equal_sums_stay_apart(monkeypatch):
    # every chain has the same sum where nothing weighs
    one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    lit = np.array([[200.0, 800.0], [400.0, 600.0], [200.0, 800.0]])
    monkeypatch.setattr(chain_tables, "_weights", np.zeros)
    [table], _ = tabulate([chains(one, lit, np.full(3, 25.0))], 6.3, BYPASS, FRONT_CONTACT)
    for row, light in enumerate(lit):
        [alone], _ = tabulate([chains(one, light[None], np.array([25.0]))], 6.3, BYPASS, FRONT_CONTACT)
        np.testing.assert_allclose(open_circuit_voltage(table.table)[row], open_circuit_voltage(alone.table)[0])
