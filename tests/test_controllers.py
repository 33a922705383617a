"""Where controllers sit on curves made here and on hills of another solver, and that no watt goes missing."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from adapters import joined
from dense_reference import passing_shade, random_array, solve
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.components.controllers import (
    ASLEEP,
    BEST,
    CEILING,
    CLIPPED,
    DARK,
    HELD,
    INSIDE_HILL,
    LOWER_HILL,
    OWN_DRAW,
    TIED,
    WINDOW,
    Operation,
    operate,
)
from vanpower.engine.array import PVArray
from vanpower.engine.curves import Curves, Diode, bypassed, current_at, in_series, open_circuit_voltage
from vanpower.rig import Controller

V_BATTERY = 13.0
FREE = Controller(name="free", v_pv_max=100.0, i_charge_max=500.0, p_own=0.0, loss_fixed_pct=0.0, loss_ratio_pct=0.0)
REAL = replace(FREE, name="real", p_own=1.5, loss_fixed_pct=3.0, loss_ratio_pct=0.5)
BYPASS = Diode(1e-6, 0.05)
V_FOLD, R_SHUNT = 0.5, 200.0


def section(i_sc: np.ndarray, v_oc: float = 10.0) -> Curves:
    """An ideal diode beside a light current and a shunt, with a bypass diode; one row a light current."""
    volts = np.linspace(-0.9, v_oc + 1.5, 500)
    i_0 = np.reshape(i_sc, (-1, 1)) / np.expm1(v_oc / V_FOLD)
    amps = np.reshape(i_sc, (-1, 1)) - i_0 * np.expm1(volts / V_FOLD) - volts / R_SHUNT
    steepness = -i_0 / V_FOLD * np.exp(volts / V_FOLD) - 1 / R_SHUNT
    across = np.broadcast_to(volts, amps.shape)
    return bypassed(Curves(amps[:, ::-1], across[:, ::-1], 1 / steepness[:, ::-1]), BYPASS)


def two_sections(first: list[float], second: list[float]) -> Curves:
    """Two sections of 10 V in series; the weaker one is bypassed above its current."""
    return in_series([section(np.array(first)), section(np.array(second))])


def best_on_a_grid(curves: Curves, low: float, high: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """Volts and watts of the best of 60001 samples from low to high."""
    volts = np.linspace(low, high, 60001)
    watts = np.stack([volts * current_at(curves.rows(slice(k, k + 1)), volts[None])[0][0] for k in _rows(curves)])
    top = np.argmax(watts, axis=1)
    return volts[top], watts[_rows(curves), top]


def _rows(curves: Curves) -> np.ndarray:
    return np.arange(len(curves.current))


def operated(curves: Curves, controller: Controller, v_battery: float | np.ndarray, **words: bool) -> Operation:
    """Where a controller sits on a curve of which nothing else is known."""
    return operate(PVArray.of_curve(curves), controller, v_battery, **words)


def codes(operation: Operation) -> list[int]:
    """What held it, as numbers."""
    return operation.held_by.tolist()


# Trackers


@pytest.mark.parametrize("second", [0.5, 2.0, 3.5, 4.5, 4.9, 5.0])
def test_sweep_sits_on_the_best_hill_of_its_window(second):
    curves = two_sections([5.0], [second])
    found = operated(curves, FREE, 6.0)
    volts, watts = best_on_a_grid(curves, 7.0)
    assert codes(found) == [BEST]
    assert found.p_array == pytest.approx(watts, rel=1e-6)
    assert found.v_array == pytest.approx(volts, abs=0.01)


def test_sweep_takes_the_lower_hill_where_the_best_one_lies_below_its_window():
    curves = two_sections([5.0], [2.0])
    wide, narrow = (operated(curves, FREE, v_battery) for v_battery in (5.0, V_BATTERY))
    assert wide.v_array[0] < 9 < 15 < narrow.v_array[0]
    assert narrow.p_array == pytest.approx(best_on_a_grid(curves, 14.0)[1], rel=1e-6)
    assert narrow.p_best == pytest.approx(wide.p_array)


def test_sweep_prefers_the_edge_of_its_window_to_a_poor_hill_inside():
    curves = two_sections([5.0], [0.3])
    found = operated(curves, FREE, 8.0)
    assert codes(found) == [WINDOW]
    assert found.v_array == pytest.approx([9.0])
    assert found.p_array == pytest.approx(best_on_a_grid(curves, 9.0)[1], rel=1e-9)


def test_climb_stays_on_the_first_hill_from_the_open_circuit_side():
    curves = two_sections([5.0, 5.0], [1.5, 4.5])
    found = operated(curves, replace(FREE, tracker="climb"), 5.0)
    assert codes(found) == [LOWER_HILL, BEST]
    assert found.p_array == pytest.approx(best_on_a_grid(curves, 11.0)[1], rel=1e-6)
    assert found.p_array[0] < 0.9 * found.p_best[0]


def test_climb_is_stopped_by_the_lower_edge_of_its_window():
    curves = two_sections([5.0], [5.0])
    found = operated(curves, replace(FREE, tracker="climb", v_start_margin=2.0), 16.8)
    assert codes(found) == [WINDOW]
    assert found.v_array == pytest.approx([17.8])


@pytest.mark.parametrize("v_battery", [11.0, 13.0, 15.0])
def test_plain_switch_is_tied_to_the_battery_volts(v_battery):
    curves = two_sections([5.0], [5.0])
    found = operated(curves, replace(FREE, tracker="direct"), v_battery)
    assert codes(found) == [TIED]
    assert found.v_array == pytest.approx([v_battery])
    assert found.p_battery == pytest.approx(v_battery * current_at(curves, np.array([[v_battery]]))[0][0])


def test_plain_switch_loses_nothing_in_conversion_and_needs_no_start_margin():
    curves = two_sections([5.0, 5.0], [5.0, 5.0])
    switch = replace(REAL, tracker="direct", p_own=0.0)
    found = operated(curves, switch, np.array([19.0, 20.5]))
    assert found.p_converter.tolist() == [0.0, 0.0]
    assert found.p_battery[0] == found.p_array[0] > 0
    assert codes(found) == [TIED, ASLEEP]


def test_lower_edge_of_the_window_is_the_battery_plus_the_hold_margin():
    # the best point of two full sections lies at 17.3 V, the edges above it
    curves = two_sections([5.0, 5.0], [5.0, 5.0])
    found = operated(curves, replace(FREE, v_hold_margin=1.5, v_start_margin=1.5), np.array([16.5, 17.5]))
    assert codes(found) == [WINDOW, WINDOW]
    assert found.v_array == pytest.approx([18.0, 19.0])
    expected = best_on_a_grid(curves.rows(slice(0, 1)), 18.0)[1], best_on_a_grid(curves.rows(slice(1, 2)), 19.0)[1]
    assert found.p_array == pytest.approx(np.concatenate(expected), rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.3, 8.0), st.floats(0.0, 1.0), st.floats(4.0, 16.0), st.sampled_from(["sweep", "climb", "direct"]))
def test_no_tracker_beats_the_best_hill(i_sc, shaded, v_battery, tracker):
    curves = two_sections([i_sc], [i_sc * shaded])
    found = operated(curves, replace(FREE, tracker=tracker, v_start_margin=1.0), v_battery)
    assert found.p_array[0] <= found.p_best[0]
    assert found.p_best == pytest.approx(best_on_a_grid(curves, 0.1)[1], rel=1e-5)


# Waking and sleeping


def awake(volts: list[float], **words: bool) -> list[bool]:
    """Whether a controller with start margin 5 V and hold margin 1 V charges a 13 V battery, moment by moment."""
    amps = np.full(len(volts), 4.0)
    each = [section(amps[k : k + 1], v / 2) for k, v in enumerate(volts)]
    one = [in_series([curve, curve]) for curve in each]
    curves = Curves(*(np.concatenate([getattr(c, f.name) for c in one]) for f in fields(Curves)))
    found = operated(curves, FREE, V_BATTERY, **words)
    assert found.v_oc == pytest.approx(volts, abs=0.05)
    return [code not in (ASLEEP, DARK) for code in codes(found)]


def test_controller_wakes_above_the_start_margin_and_holds_above_the_hold_margin():
    volts = [17.0, 17.9, 18.2, 17.0, 14.3, 13.7, 15.0, 17.5, 18.2]
    assert awake(volts) == [False, False, True, True, True, False, False, False, True]


def test_controller_that_was_awake_before_the_first_moment_stays_so_until_it_falls_asleep():
    assert awake([15.0, 17.0, 13.5, 15.0], awake=True) == [True, True, False, False]
    assert awake([15.0, 17.0, 13.5, 15.0]) == [False, False, False, False]


def test_asleep_gives_nothing_and_shows_open_circuit():
    curves = two_sections([5.0], [5.0])
    found = operated(curves, REAL, 16.0)
    assert codes(found) == [ASLEEP]
    assert (found.p_array[0], found.p_battery[0], found.p_own[0], found.i_array[0]) == (0.0, 0.0, 0.0, 0.0)
    assert found.v_array == pytest.approx(open_circuit_voltage(curves))
    assert found.p_best[0] > 80


def test_dark_roof_is_zero_watts_and_no_error():
    flat = Curves(np.array([[0.0, 1.0]]), np.array([[0.0, -1.0]]), np.array([[-1.0, -1.0]]))
    for tracker in ("sweep", "climb", "direct"):
        found = operated(flat, replace(REAL, tracker=tracker), V_BATTERY)
        assert codes(found) == [DARK]
        assert (found.p_battery[0], found.p_own[0], found.p_best[0], found.v_array[0]) == (0.0, 0.0, 0.0, 0.0)


def test_array_over_the_ceiling_that_has_not_woken_is_remembered_as_asleep():
    # 15 V pass a ceiling of 14 V, and the start margin asks for 18 V
    low = replace(FREE, v_pv_max=14.5)
    found = operated(in_series([section(np.array([0.02, 5.0]), 7.5)] * 2), low, V_BATTERY)
    assert codes(found)[1] == CEILING
    assert found.awake.tolist() == [False, False]


# Limits and losses


def test_array_over_the_ceiling_brings_nothing_even_when_it_would_be_clipped():
    curves = two_sections([5.0, 5.0], [5.0, 5.0])
    tight = [replace(REAL, v_pv_max=v, i_charge_max=0.5) for v in (19.5, 20.5)]
    over, under = (operated(curves, controller, 10.0) for controller in tight)
    assert (codes(over), codes(under)) == ([CEILING] * 2, [CLIPPED] * 2)
    assert over.p_battery.tolist() == over.p_clipped.tolist() == [0.0, 0.0]


def test_charge_limit_leaves_the_rest_on_the_roof():
    curves = two_sections([5.0], [5.0])
    free = operated(curves, REAL, 12.0)
    found = operated(curves, replace(REAL, i_charge_max=2.0), 12.0)
    assert codes(found) == [CLIPPED]
    assert found.p_battery == pytest.approx([24.0], rel=1e-12)
    assert found.p_clipped == pytest.approx(free.p_battery - 24.0)


def test_clipped_array_backs_off_towards_open_circuit_on_its_curve():
    curves = two_sections([5.0], [5.0])
    found = operated(curves, replace(FREE, i_charge_max=2.0), 12.0)
    v, i = found.v_array[0], found.i_array[0]
    assert operated(curves, FREE, 12.0).v_array[0] < v < found.v_oc[0]
    assert v * i == pytest.approx(24.0, rel=1e-9)
    assert current_at(curves, np.array([[v]]))[0][0, 0] == pytest.approx(i, rel=1e-6)


@pytest.mark.parametrize("watts", [3.0, 12.0, 24.0, 30.0, 32.0, 34.0, 36.0])
def test_clipped_array_with_a_lower_hill_on_its_way_is_on_its_curve_too(watts):
    # 36.6 W at 7.9 V, and a hill of some 32 W at 18 V
    curves = two_sections([5.0], [1.9])
    found = operated(curves, replace(FREE, i_charge_max=watts / 6.0), 6.0)
    assert codes(found) == [CLIPPED]
    assert found.v_array * found.i_array == pytest.approx([watts], rel=1e-12)
    assert current_at(curves, found.v_array[:, None])[0][:, 0] == pytest.approx(found.i_array, rel=1e-9)


def test_clipped_moment_backs_off_though_its_neighbour_is_not_clipped():
    both = operated(two_sections([5.0, 1.0], [5.0, 1.0]), replace(FREE, i_charge_max=2.0), 12.0)
    assert codes(both) == [CLIPPED, BEST]
    assert both.v_array * both.i_array == pytest.approx([24.0, both.p_battery[1]], rel=1e-9)


def test_moment_of_a_fraction_of_a_watt_is_found_beside_a_bright_one_with_two_hills():
    # 0.09 A, half of it in the shunts; the bright moment has one hill more, so the dull one's list of hills has a gap
    both, alone = (operated(two_sections(*amps), FREE, 12.0) for amps in (([5.0, 0.09], [2.0, 0.09]), ([0.09], [0.09])))
    assert codes(both)[1] == codes(alone)[0] == BEST
    assert both.v_array[1] == pytest.approx(alone.v_array[0], rel=1e-6)
    assert both.v_array[1] < both.v_oc[1] - 1.0
    assert 0.1 < both.p_battery[1] < 1.0
    assert both.v_array[1] * both.i_array[1] == pytest.approx(both.p_battery[1])


def test_plain_switch_sits_on_the_battery_volts_though_the_best_point_is_next_door():
    curves = two_sections([5.0], [5.0])
    v_best = operated(curves, FREE, 12.0).v_array[0]
    for v_battery in (0.997 * v_best, 1.003 * v_best):
        found = operated(curves, replace(FREE, tracker="direct"), v_battery)
        assert (codes(found), found.v_array[0]) == ([TIED], v_battery)


@settings(deadline=None, max_examples=80)
@given(
    st.floats(0.01, 8.0), st.floats(0.0, 1.0), st.floats(4.0, 17.0), st.floats(0.5, 12.0), st.floats(0.0, 20.0),
    st.sampled_from(["sweep", "climb", "direct"]),
)  # fmt: skip
def test_every_watt_is_booked_once(i_sc, shaded, v_battery, limit, own, tracker):
    controller = replace(REAL, i_charge_max=limit, p_own=own, tracker=tracker, v_start_margin=1.0)
    found = operated(two_sections([i_sc], [i_sc * shaded]), controller, v_battery)
    parts = found.p_battery + found.p_converter + found.p_own + found.p_clipped
    assert parts == pytest.approx(found.p_array, rel=1e-13, abs=1e-12)
    booked = np.array([found.p_battery, found.p_converter, found.p_own, found.p_clipped])
    assert booked.min() >= 0
    assert found.p_battery[0] <= limit * v_battery


def test_conversion_costs_its_share_and_more_the_further_it_steps_down():
    found = operated(two_sections([5.0], [5.0]), replace(REAL, p_own=0.0), 8.0)
    ratio = found.v_array / 8.0
    assert ratio[0] > 2
    assert found.p_battery / found.p_array == pytest.approx(1 - 0.03 - 0.005 * (ratio - 1), rel=1e-12)


def test_own_draw_is_taken_from_what_is_left_after_conversion():
    curves = two_sections([5.0], [5.0])
    thirsty = operated(curves, REAL, 8.0)
    frugal = operated(curves, replace(REAL, p_own=0.0), 8.0)
    assert frugal.p_battery - thirsty.p_battery == pytest.approx([1.5])


def test_own_draw_above_all_there_is_leaves_zero_and_says_so():
    found = operated(two_sections([0.05], [0.05]), replace(REAL, p_own=2.0), 8.0)
    assert codes(found) == [OWN_DRAW]
    assert found.p_battery.tolist() == [0.0]
    assert found.p_own + found.p_converter == pytest.approx(found.p_array)


def test_words_say_what_held_it_moment_by_moment():
    found = operated(two_sections([5.0, 5.0], [5.0, 5.0]), FREE, np.array([16.0, 8.0]))
    assert found.words == [HELD[ASLEEP], HELD[BEST]]
    assert "start margin" in found.words[0]
    assert len(set(HELD)) == len(HELD) == 10


def test_best_hill_inside_the_window_is_told_from_the_best_of_all():
    # hills near 10 V x 9 A and 20 V x 3 A; a battery of 14 V shuts the first one out
    found = operated(two_sections([9.0], [3.0]), replace(FREE, v_start_margin=2.0, v_hold_margin=1.0), 14.0)
    assert codes(found) == [INSIDE_HILL]
    assert found.v_array[0] > 15.0
    assert found.p_best[0] > found.p_array[0] + 10.0
    assert "a higher one lies below battery volts" in found.words[0]


def test_moments_do_not_depend_on_their_neighbours_while_awake():
    firsts, seconds = [5.0, 1.0, 4.0, 0.2], [5.0, 0.7, 1.0, 0.2]
    together = operated(two_sections(firsts, seconds), REAL, 8.0)
    alone = [operated(two_sections([a], [b]), REAL, 8.0) for a, b in zip(firsts, seconds, strict=True)]
    for field in fields(Operation):
        expected = np.concatenate([getattr(one, field.name) for one in alone])
        assert getattr(together, field.name) == pytest.approx(expected, rel=1e-9), field.name


# Hills that a solver of another make works out, cell by cell; it knows no tracker and nothing of the package

WIDE = replace(FREE, name="any battery", v_pv_max=1500.0, v_start_margin=0.0, v_hold_margin=0.0)
SHADED = ("two_level", "many_levels", "half_cut", "unlike_strings", "leaky")


@pytest.mark.parametrize("kind", SHADED)
def test_sweep_brings_the_best_hill_of_another_solver_and_climb_its_rightmost(kind):
    for seed in range(2):
        array = random_array(np.random.default_rng([seed, SHADED.index(kind)]), kind)
        hills = solve(array)
        sweep, climb = (operate(joined(array), replace(WIDE, tracker=t), 2.0) for t in ("sweep", "climb"))
        right = hills.peaks[-1]
        assert sweep.p_array[0] == pytest.approx(hills.best.p, rel=1e-5)
        assert (climb.v_array[0], climb.p_array[0]) == pytest.approx((right.v, right.p), rel=1e-3)
        assert (codes(climb) == [BEST]) == (right.p > 0.999 * hills.best.p)


def test_one_shade_passing_moves_the_sweep_once_and_the_climb_never():
    # two of three sections near 20 V, until the shaded one has about two thirds of the sun; then all three near 33 V
    passing = [joined(array) for array in passing_shade((0.2, 0.4, 0.55, 0.7, 0.9))]
    sweeps = [operate(array, WIDE, 8.0) for array in passing]
    climbs = [operate(array, replace(WIDE, tracker="climb"), 8.0) for array in passing]
    assert [float(s.v_array[0]) for s in sweeps] == pytest.approx([20.2] * 3 + [32.8, 31.6], abs=0.1)
    assert [code for c in climbs for code in codes(c)] == [LOWER_HILL] * 3 + [BEST] * 2
