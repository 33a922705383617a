"""Where the answers of a trial turn: edges of the charge stages, suspects one by one, the weights of the noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from conftest import PANEL, tiny_rig
from outside import facts

from vanpower import Shade
from vanpower.rig import Rig
from vanpower.trials import analysis
from vanpower.trials.analysis import analyse_trial
from vanpower.trials.light_sources import clear_light
from vanpower.trials.logs import Log, read_log
from vanpower.trials.model_comparison import Hypothesis, ModelComparison, compare_with_model, moments_of, watts
from vanpower.trials.posterior import (
    HASTE,
    MEMORY_LIKELY,
    MEMORY_MIN,
    REMEMBERED,
    REMEMBERED_LIKELY,
    Posterior,
    design,
    mixtures,
    weighed,
)
from vanpower.trials.rounding import rounded
from vanpower.trials.sensor_plane import with_planes
from vanpower.trials.stages import stages
from vanpower.weather.sun import clear_sky

ROWS = 40
RIG = tiny_rig((PANEL, PANEL), (0,), (1,))


def log_of(power: np.ndarray, volts: np.ndarray | float, light: np.ndarray | float, **more: np.ndarray) -> Log:
    """Forty rows, a reading every two minutes, in four blocks of A and B."""
    none = np.full(ROWS, np.nan)
    columns = {"temp": none, "i_battery": none, "v_array": none, "i_spare": none} | more
    return Log(
        name="made", minutes=np.arange(ROWS) * 2.0, wiring=np.repeat(["A", "B", "A", "B"], ROWS // 4), before="A",
        power=power * np.ones(ROWS), v_battery=volts * np.ones(ROWS), light=light * np.ones(ROWS),
        stage=np.full(ROWS, "", dtype="U1"), **columns,
    )  # fmt: skip


# Stages


@pytest.mark.parametrize(("at_top", "told"), [(5, False), (6, True)])
def test_ceiling_takes_six_rows(at_top, told):
    # amps rise by 3 % a row, so that none but the held ones lie within 2 % of the most; the light goes on rising
    light = 300.0 * 1.03 ** np.arange(ROWS)
    power = np.minimum(0.2 * light, 0.2 * light[ROWS - at_top])
    found = stages(log_of(power, np.nan, light))
    assert (found == "clipped").tolist() == [told and k >= ROWS - at_top for k in range(ROWS)]


@pytest.mark.parametrize(("rise", "told"), [(1.06, False), (1.14, True)])
def test_amps_that_stand_still_are_a_ceiling_only_where_the_light_moves(rise, told):
    light = np.concatenate([np.linspace(300, 500, 30), np.linspace(500, 500 * rise, 10)])
    power = np.concatenate([0.2 * light[:30], np.full(10, 110.0)])
    assert ("clipped" in stages(log_of(power, np.nan, light))) == told


@pytest.mark.parametrize(("near", "told"), [(2, True), (5, False)])
def test_rows_that_thin_out_below_the_top_are_no_ceiling(near, told):
    # twelve rows at the top ask for no more than four in the band below it
    light = np.linspace(400, 800, ROWS)
    power = np.concatenate([np.linspace(60, 90, ROWS - 12 - near), np.full(near, 98.5), np.full(12, 100.0)])
    assert ("clipped" in stages(log_of(power, np.nan, light))) == told


def test_known_limit_of_amps_counts_from_99_percent_of_it():
    volts, light = 13.0, np.linspace(400, 800, ROWS)
    amps = np.linspace(9.0, 10.5, ROWS)
    found = stages(log_of(amps * volts, volts, light), i_charge_max=10.0)
    assert ((found == "clipped") == (amps >= 9.9)).all()
    # a meter of amps goes before watts over volts
    read = stages(log_of(amps * volts, volts, light, i_battery=0.9 * amps), i_charge_max=10.0)
    assert set(read) == {"bulk"}


@pytest.mark.parametrize(
    ("held", "told"), [(13.85, False), (13.95, True), (27.7, False), (27.9, True), (55.4, False), (55.8, True)]
)
def test_held_volts_are_absorption_from_what_a_battery_is_charged_at(held, told):
    # from 13.9 V of a 12 V block up, the same of 24 and 48 V
    volts = np.concatenate([np.linspace(0.93, 0.98, 25) * held, np.full(15, held)])
    power = 100.0 * np.concatenate([np.ones(25), np.linspace(1.0, 0.5, 15)])
    assert ("absorption" in stages(log_of(power, volts, 500.0))) == told


@pytest.mark.parametrize(("rows", "told"), [(4, False), (5, True)])
def test_plateau_takes_five_rows(rows, told):
    volts = np.concatenate([np.linspace(13.2, 14.0, ROWS - rows), np.full(rows, 14.4)])
    power = np.concatenate([np.full(ROWS - rows, 100.0), np.full(rows, 70.0)])
    assert ("absorption" in stages(log_of(power, volts, 500.0))) == told


@pytest.mark.parametrize(("share", "told"), [(0.97, False), (0.93, True)])
def test_held_volts_are_absorption_only_where_the_power_stays_behind_the_light(share, told):
    volts = np.concatenate([np.linspace(13.2, 14.0, 25), np.full(15, 14.4)])
    light = np.linspace(400, 800, ROWS)
    power = 0.2 * light * np.concatenate([np.ones(25), np.full(15, share)])
    assert ("absorption" in stages(log_of(power, volts, light))) == told


@pytest.mark.parametrize(("spread", "stage"), [(1.05, "bulk"), (1.2, "absorption")])
def test_volts_that_never_move_are_held_where_the_light_does(spread, stage):
    light = np.linspace(500, 500 * spread, ROWS)
    assert set(stages(log_of(100.0, 14.4, light))) == {stage}


@pytest.mark.parametrize(("share", "stage"), [(0.81, "bulk"), (0.79, "float")])
def test_what_follows_absorption_is_float_below_four_fifths_of_what_came_before(share, stage):
    volts = np.concatenate([np.linspace(13.2, 14.0, 20), np.full(10, 14.4), np.full(10, 13.5)])
    power = 100.0 * np.concatenate([np.ones(20), np.linspace(0.9, 0.7, 10), np.full(10, share)])
    found = stages(log_of(power, volts, 500.0))
    assert set(found[:20]) == {"bulk"}
    assert set(found[20:30]) == {"absorption"}
    assert set(found[30:]) == {stage}


@pytest.mark.parametrize(("share", "starting"), [(0.975, 0), (0.965, 1)])
def test_tracker_is_starting_below_97_percent_of_its_blocks_other_rows(share, starting):
    power = np.full(ROWS, 123.456)
    power[10] *= share
    found = stages(log_of(power + 1e-3 * np.arange(ROWS) % 0.007, 13.2, 500.0))
    assert np.flatnonzero(found == "starting").tolist() == [10] * starting


@pytest.mark.parametrize(("high", "low", "asleep"), [(100.0, 1.9, True), (100.0, 2.1, False), (400.0, 3.9, True)])
def test_controller_sleeps_below_two_watts_or_a_hundredth_of_the_high_power(high, low, asleep):
    power = np.concatenate([np.full(5, low), np.full(35, high)])
    light = np.concatenate([np.full(5, 500 * low / high), np.full(35, 500.0)])
    assert set(stages(log_of(power, 13.2, light))[:5]) == {"asleep" if asleep else "bulk"}


def test_bulk_row_without_light_or_temperature_is_not_read_where_others_have_them():
    light, temp = np.linspace(400, 800, ROWS), np.full(ROWS, 30.0)
    power = 0.2 * light
    light[3], temp[7] = 0.0, np.nan
    found = stages(log_of(power, 13.2, light, temp=temp))
    assert np.flatnonzero(found == "not read").tolist() == [3, 7]
    assert set(stages(log_of(power, 13.2, np.nan))) == {"bulk"}


# What is said and taken


def in_blocks(*watts: float) -> Log:
    """Blocks of six rows in steady light, A and B in turn, ten minutes apart, each with its watts."""
    rows = [
        f"{16 * block + 2 * row} {'AB'[block % 2]} {power * (1 + 1e-4 * (-1) ** row):.3f} 600 30"
        for block, power in enumerate(watts)
        for row in range(6)
    ]
    return read_log("\n".join(["minutes wiring watts light temp", *rows]))


@pytest.mark.parametrize(("apart", "words"), [(0.9, "agree within 0.9 %"), (1.1, "lie apart by 1.1 %")])
def test_blocks_of_one_wiring_agree_within_a_hundredth(apart, words):
    said = analyse_trial(in_blocks(100.0, 110.0, 100.0 * (1 + apart / 100))).verdict.sentence
    assert f"The blocks of A {words}" in said


@pytest.mark.parametrize(("blocks", "drift"), [(3, "straight"), (4, "straight"), (5, "curved"), (6, "curved")])
def test_drift_may_bend_from_five_blocks_on(blocks, drift):
    # a parabola and an effect through four blocks' means leave nothing to tell the noise by
    level = 100.0 - 0.5 * (np.arange(blocks) - (blocks - 1) / 2) ** 2
    trial = analyse_trial(in_blocks(*(level * np.where(np.arange(blocks) % 2, 1.05, 1.0))))
    assert f"a {drift} drift over the trial" in trial.verdict.basis
    if drift == "curved":
        # of five blocks a straight line would leave (8 / 3 - 1) x 0.5 = 0.8 W of it in the gain
        assert trial.gain == pytest.approx(0.05, abs=4e-3)


def test_heat_guessed_from_the_light_and_its_width_are_those_of_published_roofs():
    # Ross's K m²/W of seven ways to mount a panel, 0.0200 to 0.0563, as pvlib tabulates them
    roofs = next(one for one in facts("cell_temperature.json")["parameters"] if one["model"].startswith("Ross"))
    kelvin = 1000 * np.array(list(roofs["k_K_m2_W"].values()))
    assert pytest.approx(kelvin.mean(), abs=2) == analysis.HEAT_OF_LIGHT
    assert pytest.approx(kelvin.std(ddof=1), abs=0.5) == analysis.HEAT_UNSURE


@pytest.mark.parametrize(("lowest", "refused"), [(21.0, False), (19.0, True)])
def test_computed_light_is_taken_from_20_watts_up(lowest, refused):
    # a clear morning at 47 °N, 15 °E, from the minute on at which pvlib's clear sky has so many W/m²
    minutes = pd.date_range("2026-06-21 02:30", periods=120, freq="1min", tz="UTC")
    ghi = clear_sky(minutes, (47.0, 15.0))["ghi"].to_numpy()
    first = minutes[int(np.argmax(ghi >= lowest))]
    rows = [f"{first + pd.Timedelta(minutes=6 * k):%Y-%m-%d %H:%M}; {'AABBAA'[k]}; 100" for k in range(6)]
    log = read_log("\n".join(["time; wiring; watts", *rows]))
    if refused:
        with pytest.raises(ValueError, match="the sun is down or very low"):
            clear_light(log, latitude=47.0, longitude=15.0, utc_h=0.0)
    else:
        assert clear_light(log, latitude=47.0, longitude=15.0, utc_h=0.0).light[0] == pytest.approx(lowest, abs=1.5)


@pytest.mark.parametrize(("degrees", "guesses"), [(24.5, 2), (25.5, 3)])
def test_level_sensor_is_taken_for_granted_only_with_the_sun_over_25_degrees(degrees, guesses):
    # Haurwitz, Journal of Meteorology 2 (1945) 154: a clear sky with the sun so high
    sine = np.sin(np.radians(degrees))
    light = 1098 * sine * np.exp(-0.059 / sine) * (1 + 1e-3 * np.linspace(-1, 1, 16))
    causes, scales = with_planes(np.zeros((16, 0)), np.arange(16.0) * 2, light)
    assert causes.shape == (16, 2)
    # of the likeliest width, the next and the farthest; low sun leaves the first out
    assert np.degrees(scales[:, 0]) == pytest.approx([0.7, 4.0, 20.0][-guesses:])


@pytest.mark.parametrize(("share", "counts"), [(0.9e-3, False), (1.1e-3, True)])
def test_step_of_a_meter_counts_from_a_thousandth_of_its_readings(share, counts):
    after = np.repeat([False, True], 5)
    found = rounded(100.0 * share, np.full(10, 100.0), after)
    assert found.shape == (10, 2 * counts)
    if counts:
        # evenly within its step: a standard deviation of step / √12
        assert found[0].tolist() == pytest.approx([share / np.sqrt(12), 0.0])


# Suspects


def pair(change=lambda rig: rig) -> tuple[Rig, Rig]:
    """The rig in parallel and in series, changed."""
    return change(RIG.wired("2p")), change(RIG.wired("2s"))


def made(old: Rig, new: Rig, **how) -> Log:
    """The log of a trial of two rigs on a steady morning, A-B-A, as the model has it with a little noise."""
    rng = np.random.default_rng(6)
    minutes = np.concatenate([np.arange(0, 20, 2.0) + start for start in (0, 25, 50)])
    after = np.repeat([False, True, False], 10)
    light = 600 + 2.5 * minutes
    temp = 15 + 0.03 * light
    power = np.where(after, watts(new, light, temp, **how), watts(old, light, temp, **how))
    none = np.full(30, np.nan)
    return Log(
        name="made", minutes=minutes, wiring=np.where(after, "2s", "2p"), before="2p", light=light, temp=temp,
        power=power * np.exp(0.002 * rng.standard_normal(30)), stage=np.full(30, "bulk"),
        v_battery=none, i_battery=none, v_array=none, i_spare=none,
    )  # fmt: skip


def full(rig: Rig) -> Rig:
    """The battery at 14.4 V."""
    return replace(rig, battery=replace(rig.battery, v_now=14.4))


def climbing(rig: Rig) -> Rig:
    """A tracker that keeps the first hill."""
    circuit = rig.circuits[0]
    return replace(rig, circuits=(replace(circuit, controller=replace(circuit.controller, tracker="climb")),))


def test_shaded_group_is_the_first_suspect_where_one_was_shaded():
    log = made(*pair(), shade=(Shade(panel=0, substring=0, lit=0.5),))
    found = compare_with_model(analyse_trial(log), *pair())
    assert not found.agrees
    assert found.fitting[0].name == "a group of cells in 50 % light"
    assert "short-circuit amps alone" in found.verdict.sentence


def test_wrong_hill_is_the_first_suspect_where_a_tracker_climbs_under_shade():
    log = made(*pair(climbing), shade=(Shade(panel=0, substring=0, lit=0.2),))
    found = compare_with_model(analyse_trial(log), *pair())
    assert found.fitting[0].name == "that, 20 %, and a tracker on the wrong hill"
    assert "let the controller start anew" in found.verdict.sentence


def test_suspects_are_six_and_the_one_that_fits_best_is_first():
    found = compare_with_model(analyse_trial(made(*pair())), *pair())
    assert len(found.suspects) == 6
    assert [one.off for one in found.suspects] == sorted(one.off for one in found.suspects)
    named = " ".join(one.name for one in found.suspects)
    for word in ("leaky panel", "times the resistance", "ceiling at", "battery at", "group of cells", "wrong hill"):
        assert word in named


def test_band_is_the_root_of_the_squares_of_what_moves_the_gain_to_either_side():
    trial = analyse_trial(made(*pair()))
    light, temp = moments_of(trial)

    def gain(change=lambda rig: rig, light=light, temp=temp, **how) -> float:
        old, new = (watts(rig, light, temp, **how).sum() for rig in pair(change))
        return new / old - 1

    def panel(**changes):
        return lambda rig: replace(rig, panels=(replace(PANEL, **changes), PANEL))

    def cable(times):
        return lambda rig: replace(rig, circuits=(replace(rig.circuits[0], cable=_longer(rig, times)),))

    volts = lambda rig: replace(rig, battery=replace(rig.battery, v_now=rig.battery.v_now + 0.3))  # noqa: E731
    # labels 3 %, 200 ohm across one panel, half as long again or a third shorter, 5 % light, 5 K, 0.3 V, panel side
    moved = np.array([
        gain(panel(i_sc=1.03 * PANEL.i_sc, i_mp=1.03 * PANEL.i_mp)),
        gain(panel(i_sc=0.97 * PANEL.i_sc, i_mp=0.97 * PANEL.i_mp)),
        gain(panel(r_leak=200.0)), gain(cable(1.5)), gain(cable(1 / 1.5)), gain(light=1.05 * light),
        gain(temp=temp + 5), gain(volts), gain(at_panels=True),
    ]) - gain()  # fmt: skip
    found = compare_with_model(trial, *pair())
    assert found.gain == pytest.approx(gain())
    assert found.high - found.gain == pytest.approx(np.sqrt((moved[moved > 0] ** 2).sum()))
    assert found.gain - found.low == pytest.approx(np.sqrt((moved[moved < 0] ** 2).sum()))


def _longer(rig: Rig, times: float):
    cable = rig.circuits[0].cable
    return replace(cable, length_m=times * cable.length_m)


def test_distance_is_in_standard_deviations_of_measured_and_expected_together():
    trial = analyse_trial(made(*pair()))
    found = ModelComparison(trial, gain=trial.gain - 0.04, low=trial.gain - 0.06, high=trial.gain - 0.01, suspects=())
    mine = 0.5 * (trial.high - trial.low)
    assert found.off == pytest.approx(0.04 / (np.hypot(0.03, mine) / 1.96))
    assert found.agrees == (found.off <= 1.96)


def test_suspect_fits_only_where_it_is_clearly_better_than_none():
    trial = analyse_trial(made(*pair()))
    suspects = tuple(Hypothesis(f"{off}", gain=0.0, off=off, measure="look") for off in (1.0, 1.9, 2.0))
    mine = 0.5 * (trial.high - trial.low)

    def fitting(off: float) -> list[str]:
        """Suspects that fit where the rig of the file lies so many widths off, its own band next to nothing."""
        gain = trial.gain - off * np.hypot(1e-4, mine) / 1.96
        found = ModelComparison(trial, gain, gain, gain, suspects)
        assert found.off == pytest.approx(off)
        return [one.name for one in found.fitting]

    # within 1.96 widths, and by half a width nearer than without
    assert fitting(2.3) == ["1.0"]
    assert fitting(2.5) == ["1.0", "1.9"]
    assert fitting(1.4) == []


def test_model_is_asked_about_sixteen_rows_from_first_to_last():
    trial = analyse_trial(made(*pair()))
    light, temp = moments_of(trial)
    assert len(light) == len(temp) == 16
    assert (light[0], light[-1]) == (trial.used.light[0], trial.used.light[-1])
    assert np.ptp(np.diff(np.searchsorted(trial.used.light, light))) <= 1
    guessed = analyse_trial(replace(made(*pair()), temp=np.full(30, np.nan)))
    light, temp = moments_of(guessed)
    # open panels 35 K over the air at 1000 W/m², air at 20 °C
    assert temp == pytest.approx(20 + 0.035 * light)


# Weights


def test_mixtures_of_noise_are_believed_as_said_before_any_row_is_seen():
    grid, prior = mixtures()
    assert prior.sum() == pytest.approx(1.0)
    for share, likely in zip(REMEMBERED, REMEMBERED_LIKELY, strict=True):
        for fast in HASTE:
            of = (grid[:, 1] == share) & (grid[:, 2] == fast)
            # how long is remembered matters only where anything is
            assert of.sum() == (len(MEMORY_MIN) if share else 1)
            assert prior[of].sum() == pytest.approx(likely / len(HASTE))
            if share:
                assert prior[of] == pytest.approx(likely / len(HASTE) * np.array(MEMORY_LIKELY))


def test_rows_that_agree_to_the_last_digit_are_no_surer_than_the_digit():
    minutes, after = 5 * np.arange(20.0), np.repeat([0.0, 1.0, 0.0, 1.0], 5)
    terms = design(minutes, after, 1)
    belief = weighed(0.02 * after, terms, minutes, np.zeros(20), np.zeros((20, 1)))
    # a meter's last digit, 0.02 %
    assert belief.weight @ belief.spread == pytest.approx(2e-4, rel=0.2)
    assert belief.quantile(0.5) == pytest.approx(0.02, abs=1e-6)
    assert belief.quantile(0.975) > 0.02 + 1e-4


@pytest.mark.parametrize("chance", [0.001, 0.025, 0.5, 0.975, 0.999])
def test_quantile_is_where_so_much_lies_below(chance):
    middle, width = np.array([0.0, 0.5]), np.array([0.01, 0.02])
    belief = Posterior(np.array([0.7, 0.3]), middle, width, np.zeros((2, 3)), np.ones(2), np.zeros(2, int))
    assert belief.below(belief.quantile(chance)) == pytest.approx(chance, abs=1e-6)


def test_drift_terms_are_powers_of_time_around_its_mean_and_the_effect_stands_first():
    terms = design(np.array([0.0, 10.0, 20.0]), np.array([0, 1, 0]), 2)
    assert terms.tolist() == [[0, 1, -0.5, 0.25], [1, 1, 0, 0], [0, 1, 0.5, 0.25]]
