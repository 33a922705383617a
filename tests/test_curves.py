"""The algebra of curves against differences and circuits one can work out on paper."""

from __future__ import annotations

import numpy as np
import pytest

from vanpower.engine.array import PVArray
from vanpower.engine.curves import (
    Curves,
    current_at,
    current_of_each,
    in_parallel,
    in_series,
    voltage_at,
    voltage_of_each,
)
from vanpower.engine.maxima import best, maxima, refine

AMPS = np.array([0.0, 0.7, 1.9, 2.4, 4.1, 5.0])
ARCH = Curves(AMPS[None], (20.0 - 0.3 * AMPS - 0.12 * AMPS**3)[None], (-0.3 - 0.36 * AMPS**2)[None])
# a falling cubic, which cubics between exact points and slopes meet exactly
STEP = Curves(*(np.array([row]) for row in (
    [0.0, 1.9, 2.0, 2.1, 4.8, 5.0], [21.0, 20.0, 15.0, 10.5, 9.5, 0.0], [-0.4, -0.6, -60.0, -0.4, -0.5, -60.0]
)))  # fmt: skip
# two hills: about 20 V and 1.9 A, about 9.5 V and 4.8 A


def both_ways(function, curves: Curves, where: np.ndarray) -> list[np.ndarray]:
    """Value and slope, asked for all places at once and one by one, which go different ways."""
    at_once = np.stack(function(curves, where[None]))[:, 0]
    one_by_one = np.stack([np.stack(function(curves, np.array([[x]])))[:, 0, 0] for x in where], axis=1)
    return [at_once, one_by_one]


def test_cubic_through_exact_points_is_met_exactly_with_its_slope():
    amps = np.linspace(0.0, 5.0, 41)
    for volts, slope in both_ways(voltage_at, ARCH, amps):
        np.testing.assert_allclose(volts, 20.0 - 0.3 * amps - 0.12 * amps**3, rtol=1e-12)
        np.testing.assert_allclose(slope, -0.3 - 0.36 * amps**2, rtol=1e-9)


def test_slope_of_amps_over_volts_is_that_of_differences():
    volts, step = np.linspace(0.5, 19.9, 37), 1e-6
    for found, low, high in zip(*(both_ways(current_at, ARCH, volts + d) for d in (0.0, -step, step)), strict=True):
        np.testing.assert_allclose(found[1], (high[0] - low[0]) / (2 * step), rtol=1e-5)


def test_curve_goes_on_straight_beyond_its_ends():
    for volts, slope in both_ways(voltage_at, ARCH, np.array([-1.0, -0.5, 5.5, 6.0, 5.2, -0.1, 7.0, 8.0])):
        np.testing.assert_allclose(slope, [-0.3, -0.3, -9.3, -9.3, -9.3, -0.3, -9.3, -9.3], rtol=1e-12)
        np.testing.assert_allclose(volts[[0, 3]], [20.3, 3.5 - 9.3], rtol=1e-12)


def falling(points: int, seed: int) -> Curves:
    """Falling curves of three rows, of which the last points of the second and third are repeated."""
    rng = np.random.default_rng(seed)
    amps = np.cumsum(rng.uniform(0.1, 1.0, (3, points)), axis=1) - 0.5
    for row, repeats in ((1, 2), (2, points - 4)):
        amps[row, -repeats:] = amps[row, -repeats - 1]
    volts, steep, bend = rng.uniform(20.0, 40.0), rng.uniform(0.2, 1.0), rng.uniform(0.01, 0.2)
    return Curves(amps, volts - steep * amps - bend * amps**3, -steep - 3.0 * bend * amps**2)


@pytest.mark.parametrize("number", [2, 3, 5])
def test_points_of_curves_in_series_lie_at_the_sum_of_their_volts(number):
    curves = [falling(6 + k, seed=k) for k in range(number)]
    whole = in_series(curves, [2] + [1] * (number - 1))
    parts = np.stack([voltage_at(curve, whole.current) for curve in [*curves, curves[0]]])
    np.testing.assert_allclose([whole.voltage, whole.slope], parts.sum(axis=0), rtol=1e-9)
    assert np.all(np.diff(whole.current, axis=1) >= 0)
    for row in range(3):
        # every point is kept once, and a repeated last point takes no room that the longest row does not need
        own = np.unique(np.concatenate([curve.current[row] for curve in curves]))
        np.testing.assert_array_equal(np.unique(whole.current[row]), own)
    assert whole.current.shape[1] == sum(6 + k for k in range(number))


@pytest.mark.parametrize("number", [2, 3, 5])
def test_points_of_curves_in_parallel_lie_at_the_sum_of_their_amps(number):
    curves = [falling(6 + k, seed=k) for k in range(number)]
    whole = in_parallel(curves)
    parts = np.stack([current_at(curve, whole.voltage) for curve in curves]).sum(axis=0)
    np.testing.assert_allclose([whole.current, 1.0 / whole.slope], parts, rtol=1e-9)
    assert np.all(np.diff(whole.voltage, axis=1) <= 0)


def test_rows_whose_last_points_are_all_repeated_make_short_curves():
    curves = [falling(9, seed).rows(np.array([1, 2])) for seed in (3, 4)]
    assert in_series(curves).current.shape == (2, 7 + 7)
    assert in_parallel(curves).current.shape == (2, 7 + 7)


def test_places_on_several_curves_are_those_on_each():
    curves = [falling(6 + k, seed=k) for k in range(3)]
    amps, volts = np.linspace(-1.0, 6.0, 9).reshape(3, 3), np.linspace(-5.0, 31.0, 9).reshape(3, 3)
    each = [voltage_at(c, i[:, None])[0][:, 0] for c, i in zip(curves, amps, strict=True)]
    np.testing.assert_array_equal(voltage_of_each(curves, amps), each)
    each = [current_at(c, v[:, None])[0][:, 0] for c, v in zip(curves, volts, strict=True)]
    np.testing.assert_array_equal(current_of_each(curves, volts), each)


def test_hill_of_a_battery_behind_a_resistance_is_at_half_its_volts():
    # the theorem of the greatest power: 16 V behind 3 ohm give most at 8 V
    amps = np.array([[0.0, 1.0, 4.0, 5.4]])
    top = maxima(Curves(amps, 16.0 - 3.0 * amps, np.full(amps.shape, -3.0)))
    # Newton's first step on a straight line lands on the hilltop itself and has to stay there
    assert top.power[0] == pytest.approx([64.0 / 3.0], rel=1e-12)
    assert (top.voltage[0, 0], top.current[0, 0]) == pytest.approx((8.0, 8.0 / 3.0), rel=1e-12)


def test_hill_between_two_points_is_where_power_neither_rises_nor_falls():
    # d/dI of 20 I - 0.3 I² - 0.12 I⁴ is zero
    (amps,) = (root.real for root in np.roots([-0.48, 0.0, -0.6, 20.0]) if abs(root.imag) < 1e-9 and root.real > 0)
    assert maxima(ARCH).current[0] == pytest.approx([amps], rel=1e-9)


@pytest.mark.parametrize(
    ("volts", "slopes", "side"),
    [((6.849, 6.566), (-1.896, -1.760), 1), ((6.849, 6.542), (-1.860, -1.700), 0)],
    ids=["valley first", "hill first"],
)
def test_hill_is_found_where_a_valley_lies_between_the_same_two_points(volts, slopes, side):
    amps = np.array([3.657, 3.822])
    two = Curves(amps[None], np.array([volts]), np.array([slopes]))
    watts, rise = amps * volts, volts + amps * slopes
    # at both ends power falls although it has risen between them, or the reverse
    assert np.all(rise < 0) if side else np.all(rise > 0)
    assert (watts[1] > watts[0]) == bool(side)
    found = maxima(two).current[0]
    between = np.linspace(*amps, 20_001)
    dense = between * voltage_at(two, between[None])[0][0]
    places = [k for k in range(1, 20_000) if dense[k - 1] < dense[k] > dense[k + 1]]
    assert found == pytest.approx(between[places], abs=1e-5)


def test_hill_next_to_the_volts_is_the_one_meant_and_without_one_nearby_the_volts_stay():
    top = maxima(STEP)
    assert top.voltage.shape == (1, 2)
    for volts, number in ((1.01 * top.voltage[0, 0], 0), (0.99 * top.voltage[0, 1], 1)):
        v, i, p = refine(PVArray.of_curve(STEP), np.array([volts]), np.array([True]))
        # between points, amps over volts run on another cubic than volts over amps
        assert (v[0], p[0]) == pytest.approx((top.voltage[0, number], v[0] * i[0]))
        assert i[0] == pytest.approx(top.current[0, number], rel=0.01)
    for volts, on_hill in ((14.0, True), (top.voltage[0, 0] * 1.01, False)):
        assert refine(PVArray.of_curve(STEP), np.array([volts]), np.array([on_hill]))[0][0] == volts
    assert best(top)[0][0] == top.voltage[0, 1]
