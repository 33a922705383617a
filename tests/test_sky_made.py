"""Skies made up: energy by hand, clouds against measured broken days, and steps made finer."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from vanpower.rig import MadeSky, Place
from vanpower.weather.days import find_day
from vanpower.weather.measured import GRAZ, GRAZ_M
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import clear_sky, sun_at
from vanpower.weather.upsample import finer

HERE = Place(latitude_deg=GRAZ[0], longitude_deg=GRAZ[1], altitude_m=GRAZ_M)
OSLO = Place(latitude_deg=59.9, longitude_deg=10.7, time_zone="Europe/Oslo")
JULY, JUNE_HAZE = "2017-07-01", 3.5
# the broken day that clouds are held against, and the turbidity with which the clear sky meets the clear June day


def made(kind: str, day: str, place: Place = HERE, **more: float) -> WeatherSeries:
    """A day of a sky made up."""
    return find_day(MadeSky(kind=kind, place=place, **more), day)


def jumps(day: WeatherSeries) -> dict[str, float]:
    """How a day's light jumps while the sun is higher than 10 degrees: W/m² a minute, shares of the clear sky."""
    middle = day.table.index + pd.Timedelta(seconds=30)
    clear = clear_sky(middle, GRAZ, GRAZ_M, JUNE_HAZE)["ghi"].to_numpy()
    up = sun_at(middle, GRAZ, GRAZ_M)["elevation"].to_numpy() > 10
    light = day.table["ghi"].to_numpy()
    ramp, share = np.abs(np.diff(light))[up[1:]], (light / np.maximum(clear, 1.0))[up]
    p95, p99 = np.percentile(ramp, [95, 99])
    return {
        "ramp 95 %": p95,
        "ramp 99 %": p99,
        "over 1.1": np.mean(share > 1.1),
        "most": share.max(),
        "mean": share.mean(),
    }


def test_june_clear_sky_meets_the_measured_clear_day():
    measured = find_day("graz", "2017-06-19")
    assert made("clear", "2017-06-19", turbidity=JUNE_HAZE).energy_wh_m2 == pytest.approx(
        measured.energy_wh_m2, rel=0.005
    )
    # the table's haze for June is thicker than that day's: 7 % less
    assert made("clear", "2017-06-19").energy_wh_m2 == pytest.approx(0.928 * measured.energy_wh_m2, rel=0.01)


def test_broken_skies_jump_like_the_measured_broken_july_day():
    # Graz, 1 July 2017: ramps of 270 and 459 W/m² a minute (95 and 99 %), 20 % of minutes over 1.1 x clear, most 1.37.
    # Medians of 20 seeds: 273, 466, 22 %, 1.36 x.
    measured = jumps(find_day("graz", JULY))
    many = [jumps(made("broken", JULY, seed=seed, turbidity=JUNE_HAZE)) for seed in range(1, 21)]
    middle = {name: float(np.median([one[name] for one in many])) for name in measured}
    assert middle["ramp 95 %"] == pytest.approx(measured["ramp 95 %"], rel=0.1)
    assert middle["ramp 99 %"] == pytest.approx(measured["ramp 99 %"], rel=0.1)
    assert middle["over 1.1"] == pytest.approx(measured["over 1.1"], abs=0.05)
    assert middle["most"] == pytest.approx(measured["most"], abs=0.05)
    assert middle["mean"] == pytest.approx(measured["mean"], abs=0.06)


def test_other_broken_days_lie_within_what_seeds_and_months_span():
    # 27 July was mostly grey (ramps 130, 255; 4 % over 1.1 x), 24 October mostly sunny (269, 369; 20 %)
    few, some = jumps(find_day("graz", "2017-07-27")), jumps(find_day("graz", "2017-10-24"))
    assert few["ramp 95 %"] < 150 < some["ramp 95 %"]
    assert few["over 1.1"] < 0.06


def test_same_seed_makes_the_same_clouds_and_another_makes_others():
    one, again, other = (made("broken", "06-21", seed=seed).table["ghi"].to_numpy() for seed in (3, 3, 4))
    assert one.tolist() == again.tolist()
    assert np.abs(one - other).max() > 200


@pytest.mark.parametrize("kind", ["clear", "overcast", "broken"])
def test_parts_of_the_light_add_up_on_the_flat(kind):
    day = made(kind, "06-21")
    up = np.sin(np.radians(sun_at(day.table.index + pd.Timedelta(seconds=30), GRAZ, GRAZ_M)["elevation"]))
    total = day.table["dni"].to_numpy() * np.maximum(up.to_numpy(), 0) + day.table["dhi"].to_numpy()
    assert total == pytest.approx(day.table["ghi"].to_numpy(), abs=1.0)
    assert (day.table >= -30).all().all()


def test_overcast_sky_is_the_share_asked_for_and_has_no_sun():
    clear, grey = made("clear", "12-21"), made("overcast", "12-21", clearness=0.15)
    assert grey.energy_wh_m2 == pytest.approx(0.15 * clear.energy_wh_m2)
    assert grey.table["dni"].sum() == 0


def test_half_sine_day_has_its_energy_by_hand():
    day = find_day(MadeSky(kind="half-sine", hours=12.0, peak=1000.0), "only")
    assert day.energy_wh_m2 == pytest.approx(2 / math.pi * 12 * 1000)
    assert day.table["ghi"].max() == pytest.approx(1000, abs=0.01)


def test_polar_night_is_dark_and_no_error():
    north = Place(latitude_deg=70.0, longitude_deg=20.0, time_zone="Europe/Oslo")
    assert made("clear", "12-21", north).energy_wh_m2 == 0
    assert made("broken", "12-21", north).energy_wh_m2 == 0
    assert made("clear", "06-21", north).table["ghi"].min() > 10, "the sun stays 3 degrees up"


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-21", 24)])
def test_days_on_which_clocks_change_are_shorter_or_longer_and_keep_their_light(day, hours):
    local, steady = (
        made("clear", day, OSLO, step_min=10.0),
        made("clear", day, Place(latitude_deg=59.9, longitude_deg=10.7)),
    )
    assert len(local.table) == hours * 6
    assert local.energy_wh_m2 == pytest.approx(steady.energy_wh_m2, rel=0.001)


def test_leap_day_is_made_in_a_leap_year():
    assert made("clear", "02-29").table.index[0].year == 2024
    with pytest.raises(ValueError, match="no date"):
        made("clear", "2025-02-29")


@pytest.mark.parametrize("day", ["dull", "november..february", "13-01"])
def test_made_sky_asks_for_a_date(day):
    with pytest.raises(ValueError, match="needs one such as 12-21"):
        made("clear", day)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"kind": "cloudy"}, 'between clouds "broken"'),
        ({"kind": "clear"}, "needs to know where"),
        ({"kind": "overcast", "place": HERE, "clearness": 20}, "percent"),
        ({"kind": "half-sine", "step_min": 7.0}, "divide evenly"),
    ],
)
def test_sky_that_cannot_be_made_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        MadeSky(**wrong)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"latitude_deg": 105.0, "longitude_deg": 40.0}, "swapped"),
        ({"latitude_deg": 40.0, "longitude_deg": 200.0}, "West is negative"),
        ({"latitude_deg": 40.0, "longitude_deg": 20.0, "time_zone": "Summer"}, "Europe/Oslo"),
    ],
)
def test_place_that_is_nowhere_is_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        Place(**wrong)


# Finer steps


@pytest.mark.parametrize("name", ["sand-point", "greensboro"])
def test_finer_steps_keep_the_energy_of_every_hour_and_say_what_they_hide(name):
    day = find_day(name, "bright")
    fine = finer(day, 1 / 6)
    for column in ("ghi", "dni"):
        hours = fine.table[column].to_numpy().reshape(-1, 6).mean(axis=1)
        assert hours == pytest.approx(day.table[column].to_numpy(), abs=1e-9)
    assert len(fine.table) == 144
    assert "hides cloud edges" in fine.notes[-1]
    assert fine.table["temp_air"].mean() == pytest.approx(day.table["temp_air"].mean(), abs=0.1)


def test_hours_of_a_clear_day_made_finer_are_nearly_the_clear_minutes():
    place = Place(latitude_deg=50.0, longitude_deg=0.0)
    minutes = made("clear", "06-21", place, step_min=10.0)
    hours = minutes.table.resample("1h").mean()
    coarse = WeatherSeries(hours, "hours", 1.0, minutes.position)
    back = finer(coarse, 1 / 6).table["ghi"].to_numpy()
    held = np.repeat(hours["ghi"].to_numpy(), 6)
    truth = minutes.table["ghi"].to_numpy()
    assert np.abs(back - truth).max() < 4.0
    assert np.abs(held - truth).max() > 60.0


def test_finer_steps_that_do_not_fit_are_refused():
    day = find_day("sand-point", "dull")
    with pytest.raises(ValueError, match="whole number"):
        finer(day, 0.7)
    with pytest.raises(ValueError, match="no place"):
        finer(find_day(MadeSky(kind="half-sine", step_min=60.0), "only"), 0.5)
