"""Days of weather: typical years, tilted light against pvlib called directly, and files that people get wrong."""

from __future__ import annotations

from dataclasses import replace
from itertools import count, product
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from conftest import PANEL
from outside import facts

from vanpower.weather import planes
from vanpower.weather.days import find_day
from vanpower.weather.planes import ESTIMATED_PCT, cell_temperature, lagged, plane_light
from vanpower.weather.series import WeatherSeries
from vanpower.weather.typical_years import TYPICAL_YEARS, typical_year

PUBLISHED = facts("cell_temperature.json")
KING = next(model for model in PUBLISHED["parameters"] if model["model"].startswith("King"))
GOOD = """\
# written by hand
time,ghi,temp_air,wind_speed
2026-06-01 10:00,500,20.5,2
2026-06-01 10:30,640,21,1
2026-06-01 11:00,-2,21.5,0
"""


# Typical years


@pytest.mark.parametrize(("name", "latitude"), [("sand-point", 55.3), ("greensboro", 36.1), ("miami", 25.8)])
def test_typical_year_is_read_whole_with_its_place(name, latitude):
    year = typical_year(name)
    table = year.table
    assert len(table) == 8760
    assert year.position[0] == pytest.approx(latitude, abs=0.1)
    assert "typical year" in year.place
    assert -40 < table["temp_air"].min() < table["temp_air"].max() < 45
    assert table["wind_speed"].max() < 40
    assert not table[["ghi", "dni", "dhi", "temp_air", "wind_speed"]].isna().any().any()


@pytest.mark.parametrize("name", TYPICAL_YEARS)
def test_typical_year_has_the_energy_of_the_file_and_its_sun_at_noon(name):
    path = pvlib.__path__[0] + f"/data/{TYPICAL_YEARS[name]}"
    if path.endswith(".tm2"):
        # TMY2 manual, NREL/SP-463-7668, table 3-2: global light stands in columns 18 to 21
        raw = sum(int(line[17:21]) for line in Path(path).read_text(encoding="ascii").splitlines()[1:])
    else:
        raw = pd.read_csv(path, skiprows=1)["GHI (W/m^2)"].sum()
    year = typical_year(name)
    table, position = year.table, year.position
    assert table["ghi"].sum() == raw
    # over a year the light is centred on noon by the sun, clouds in the afternoon or morning shift it by minutes;
    # a file whose times were read as the wrong end of the hour would be an hour off
    middle = np.average(table.index.hour + 0.5, weights=table["ghi"])
    offset = table.index[0].utcoffset().total_seconds() / 3600
    assert middle == pytest.approx(12 + offset - position[1] / 15, abs=0.1)


@pytest.mark.parametrize("name", TYPICAL_YEARS)
def test_dull_median_and_bright_are_the_5th_50th_and_95th_of_100_days(name):
    dull, median, bright = (find_day(name, day) for day in ("dull", "median", "bright"))
    assert dull.energy_wh_m2 < 0.5 * median.energy_wh_m2 < 0.5 * bright.energy_wh_m2
    table = typical_year(name).table
    days = table["ghi"].groupby(table.index.date).sum()
    for day, share in ((dull, 0.05), (median, 0.5), (bright, 0.95)):
        assert (days < day.energy_wh_m2).mean() == pytest.approx(share, abs=0.003)


def test_day_is_found_by_month_and_day():
    found = find_day("sand-point", "12-21")
    assert {(stamp.month, stamp.day) for stamp in found.table.index} == {(12, 21)}
    assert (len(found.table), found.step_h) == (24, 1.0)
    assert found.title.startswith("Sand Point (typical year), 21 Dec,")


@pytest.mark.parametrize(
    ("day", "meant"),
    [
        ("march", "whole month; did you mean 'dullest march', 'median march' or 'all march'"),
        ("6-1", "did you mean 06-01 or 01-06"),
        ("29.2.", "did you mean 02-29"),
        ("2019/12/21", "did you mean 12-21"),
        ("21 Dec", "did you mean 12-21"),
    ],
)
def test_day_in_another_form_is_told_what_was_likely_meant(day, meant):
    with pytest.raises(ValueError, match=meant):
        find_day("sand-point", day)


@pytest.mark.parametrize("day", ["02-30", "13-01", "Dull", "31/31", "march 40", "9" * 5000])
def test_day_that_is_not_there_is_told_what_is(day):
    with pytest.raises(ValueError, match="write dull, median, bright or month-day, 01-01 to 12-31"):
        find_day("sand-point", day)


@pytest.mark.parametrize(
    ("name", "hint"), [("sandpoint", "did you mean 'sand-point'"), ("mars", "known: sand-point, gr")]
)
def test_weather_that_is_not_known_is_told_the_near_one_or_all(name, hint):
    with pytest.raises(ValueError, match=hint):
        find_day(name, "dull")


# Light on a plane


def test_flat_panel_takes_the_horizontal_light_as_it_is():
    day = find_day("greensboro", "median")
    assert plane_light(day, PANEL).tolist() == day.table["ghi"].tolist()


@pytest.mark.parametrize(("tilt", "azimuth"), [(20.0, 180.0), (45.0, 90.0), (90.0, 300.0)])
@pytest.mark.parametrize("name", TYPICAL_YEARS)
def test_tilted_light_is_what_pvlib_gives_with_the_sun_at_half_past(name, tilt, azimuth):
    day = find_day(name, "bright")
    table, (latitude, longitude) = day.table, day.position
    sun = pvlib.solarposition.get_solarposition(table.index + pd.Timedelta("30min"), latitude, longitude)
    towards = pvlib.irradiance.aoi_projection(tilt, azimuth, sun["apparent_zenith"], sun["azimuth"]).to_numpy()
    cosine = np.cos(np.radians(tilt))
    beam = table["dni"].to_numpy() * np.maximum(towards, 0.0)
    extra = pvlib.irradiance.get_extra_radiation(table.index.day_of_year.to_numpy())
    around = table["dni"].to_numpy() / extra
    up = np.maximum(np.cos(np.radians(sun["apparent_zenith"].to_numpy())), 0.01745)
    circle = around * np.maximum(towards, 0.0) / up + (1 - around) * (1 + cosine) / 2
    expected = beam + table["dhi"].to_numpy() * circle + table["ghi"].to_numpy() * 0.25 * (1 - cosine) / 2
    low = sun["apparent_zenith"].to_numpy() > 87.0
    expected[low] = table["ghi"].to_numpy()[low] * ((1 + cosine) / 2 + 0.25 * (1 - cosine) / 2)
    found = plane_light(day, replace(PANEL, tilt_deg=tilt, azimuth_deg=azimuth))
    # Hay and Davies (1980), written out; the height of the place bends light a little less: 1e-5 of it
    assert found == pytest.approx(expected, rel=1e-4, abs=0.02)
    assert found.max() > 100


def test_south_slope_gathers_more_than_flat_in_winter_and_the_north_slope_less():
    day = find_day("greensboro", "12-21")
    flat, south, north = (
        plane_light(day, replace(PANEL, tilt_deg=tilt, azimuth_deg=azimuth)).sum()
        for tilt, azimuth in ((0.0, 180.0), (40.0, 180.0), (40.0, 0.0))
    )
    assert north < flat < south


# Heat of the cells


def one_moment(light: float, temp_air: float, wind: float) -> WeatherSeries:
    """A day of a single moment."""
    table = pd.DataFrame({"ghi": [light], "temp_air": [temp_air], "wind_speed": [wind]})
    return WeatherSeries(table, "nowhere", 1.0, None)


def cells(mount: str, light: float, temp_air: float, wind: float) -> float:
    """Cell temperature of a panel in one moment."""
    day = one_moment(light, temp_air, wind)
    return float(cell_temperature(day, replace(PANEL, mount=mount), np.array([light]))[0])


@pytest.mark.parametrize("case", [e for e in PUBLISHED["examples"] if e["model"] == "King open rack glass/glass"])
def test_king_examples_come_out_with_their_mounting(case, monkeypatch):
    # King et al., SAND2004-3535, as in pvlib's tests; none of our three mounts is glass on glass in the open
    monkeypatch.setitem(planes.MOUNTS, "open", "open_rack_glass_glass")
    assert cells("open", case["E"], case["Ta"], case["v"]) == pytest.approx(case["Tc"], abs=1e-3)


@pytest.mark.parametrize("mount", planes.MOUNTS)
@pytest.mark.parametrize(("light", "temp_air", "wind"), [(1000.0, 25.0, 1.0), (120.0, -8.0, 6.0), (0.0, 3.0, 0.0)])
def test_cells_are_as_hot_as_the_formula_of_king_says(mount, light, temp_air, wind):
    a, b, further = KING["sets"][planes.MOUNTS[mount]]
    expected = temp_air + light * np.exp(a + b * wind) + further * light / 1000
    assert cells(mount, light, temp_air, wind) == pytest.approx(expected, abs=1e-9)


def test_mounts_have_the_heat_worked_out_apart_from_the_package():
    expected = PUBLISHED["own_values_1000W_25C"]["King, v=1"]
    for mount, name in planes.MOUNTS.items():
        assert cells(mount, 1000.0, 25.0, 1.0) == pytest.approx(expected[name], abs=1e-3)


def test_glued_panel_is_hottest_and_wind_cools():
    hot = [cells(mount, 1000.0, 25.0, 1.0) for mount in ("open", "gap", "glued")]
    assert hot == sorted(hot)
    assert cells("gap", 1000.0, 25.0, 8.0) < cells("gap", 1000.0, 25.0, 1.0) - 10


# A person's own file

numbers = count()


@pytest.fixture
def written(tmp_path):
    """Writes a text as a CSV file and gives its path; days are kept by path, so each file has its own name."""

    def write(text: str) -> str:
        path = tmp_path / f"log{next(numbers)}.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def test_own_file_is_read_with_its_step_and_slightly_negative_light_is_none(written):
    day = find_day(written(GOOD), "only")
    assert day.step_h == 0.5
    assert day.table["ghi"].tolist() == [500.0, 640.0, 0.0]
    assert day.table["temp_air"].tolist() == [20.5, 21.0, 21.5]
    assert day.energy_wh_m2 == pytest.approx(570.0)
    assert "1 Jun, 570 Wh/m²" in day.title


def test_own_file_without_wind_has_a_light_one(written):
    lines = [line.rsplit(",", 1)[0] if "," in line else line for line in GOOD.splitlines()]
    assert find_day(written("\n".join(lines)), "only").table["wind_speed"].tolist() == [1.0] * 3


def test_own_file_in_local_time_with_offset_and_spaces_is_read(written):
    text = "time, ghi, temp_air\n2026-06-01T10:00+02:00, 500, 20\n2026-06-01T11:00+02:00, 600, 21\n"
    assert find_day(written(text), "only").step_h == 1.0


def test_minute_log_has_a_step_of_a_minute(written):
    rows = "\n".join(f"2026-06-01 10:{m:02},{500 + m},20" for m in range(60))
    day = find_day(written(f"time,ghi,temp_air\n{rows}\n"), "only")
    assert day.step_h == pytest.approx(1 / 60)
    assert day.energy_wh_m2 == pytest.approx(529.5)


def rows(*each: str, header: str = "time,ghi,temp_air") -> str:
    """A file of one header and some rows; a row that is only a time gets light and heat."""
    return "\n".join([header, *(row if "," in row or ";" in row else f"{row},500,20" for row in each)]) + "\n"


WRONG = {
    "missing column": (
        rows("2026-06-01 10:00,500", header="time,ghi"),
        ["no column recognised as temp_air", "has time, ghi."],
    ),
    "semicolons with a point and a comma": (
        rows("2026-06-01 10:00;1.005,1;2,0", header="time;ghi;temp_air"),
        ["line 2, column 'ghi': '1.005,1' is no number", "the sign between thousands"],
    ),
    "decimal commas": (
        rows("2026-06-01 10:00,500,5,20,1", "2026-06-01 11:00,600,2,20,5"),
        ["Decimal commas need another"],
    ),
    "one decimal comma": (rows("2026-06-01 10:00,500,5,20", "2026-06-01 11:00,600,2,20"), ["Decimal commas need"]),
    "quoted comma": (
        rows('2026-06-01 10:00,"1,050",20.5', "2026-06-01 11:00"),
        ["line 2, column 'ghi': '1,050' may be thousands or decimals"],
    ),
    "unsorted": (rows("2026-06-01 11:00", "2026-06-01 10:00"), ["times must rise", "Sort the rows"]),
    "twice": (rows("2026-06-01 10:00", "2026-06-01 10:00"), ["each once"]),
    "no light": (
        rows("2026-06-01 10:00", "2026-06-01 11:00,,20"),
        ["line 3, column 'ghi': nothing", "gaps are not filled in"],
    ),
    "no heat": (
        rows("2026-06-01 10:00,500,NaN", "2026-06-01 11:00"),
        ["line 2, column 'temp_air': nothing", "-60 to 60 °C"],
    ),
    "no time": (rows("2026-06-01 10:00", ",500,20", "2026-06-01 12:00"), ["line 3, column 'time': nothing"]),
    "missing row": (
        rows("2026-06-01 10:00", "2026-06-01 11:00", "2026-06-01 13:00"),
        ["2026-06-01: no rows from 11:00 to 13:00", "gaps are not filled in"],
    ),
    "noon only": (rows("2026-06-01 12:00", "2026-06-02 12:00"), ["24 h apart", "under 12 h"]),
    "one row": (rows("2026-06-01 12:00"), ["1 rows", "at least two"]),
    "header only": (rows(), ["0 rows"]),
    "empty": ("", ["it is empty"]),
    "bad time": (
        rows("2026-06-01 10:00", "2026-06-01 eleven"),
        ["line 3, column 'time': '2026-06-01 eleven'", "2026-05-31"],
    ),
    "clock times": (
        rows("10:00", "11:00"),
        ["line 2, column 'time': '10:00' is a clock time without its day", "# date:"],
    ),
    "hours": (rows("10", "11"), ["line 2, column 'time': '10'"]),
    "clocks put back": (
        rows("2026-10-25 02:00", "2026-10-25 02:30", "2026-10-25 02:00"),
        ["line 4", "each once", "if the clock was set back", "# time_zone"],
    ),
    "clocks put forward": (
        "# time_zone: Europe/Oslo\n" + rows("2026-03-29 01:30", "2026-03-29 02:30"),
        ["Europe/Oslo does not show all of these times", "+01:00"],
    ),
    "clock not known": ("# time_zone: Oslo\n" + rows("2026-03-29 01:30"), ["'Oslo' is not known", "Europe/Oslo"]),
    "place in half": ("# latitude_deg: 60\n# longitude_deg: 10,7\n" + rows("2026-03-29 01:30"), ["as plain numbers"]),
    "place without clock": (
        "# latitude_deg: 60\n# longitude_deg: 10.7\n" + rows("2026-03-29 01:30"),
        ["local times and a place", "say which clock", "# time_zone"],
    ),
    "place off the globe": (
        "# latitude_deg: 100\n# longitude_deg: 10.7\n" + rows("2026-03-29 01:30"),
        ["Place.latitude_deg is 100", "swapped"],
    ),
    "column not there": ("# ghi: Pyranometer\n" + rows("2026-06-01 10:00"), ["no column 'Pyranometer'"]),
    "lux": (
        rows("2026-06-01 10:00,50000,20", "2026-06-01 11:00"),
        ["line 2, column 'ghi': '50000'", "-20 to 1800 W/m²"],
    ),
    "fahrenheit": (rows("2026-06-01 10:00,500,68", "2026-06-01 11:00"), ["line 2, column 'temp_air': '68'", "60 °C"]),
    "wind gap": (
        rows("2026-06-01 10:00,500,20,1", "2026-06-01 11:00,500,20,", header="time,ghi,temp_air,wind_speed"),
        ["line 3, column 'wind_speed': nothing"],
    ),
}


@pytest.mark.parametrize("slip", WRONG)
def test_file_that_people_get_wrong_is_told_where_and_what_would_do(written, slip):
    text, words = WRONG[slip]
    with pytest.raises(ValueError, match="log") as error:
        find_day(written(text), "only")
    assert [word for word in words if word not in str(error.value)] == []
    assert "np." not in str(error.value)


def test_files_that_are_no_text_or_not_there_are_one_plain_error(tmp_path):
    (tmp_path / "photo.csv").write_bytes(b"\xff\xd8\x00\x01")
    (tmp_path / "folder.csv").mkdir()
    for name in ("photo.csv", "folder.csv", "none.csv"):
        with pytest.raises(ValueError, match=f"{name} cannot be read as a weather file"):
            find_day(str(tmp_path / name), "only")


def test_several_days_want_to_be_told_which(written):
    days = [f"2026-06-0{day} {hour}:00,{100 * day},20" for day in (1, 2, 3) for hour in (10, 11, 12)]
    path = written(rows(*days))
    with pytest.raises(ValueError, match="holds 3 days; say which, 06-01 to 06-03, or dull"):
        find_day(path, "only")
    assert find_day(path, "06-02").energy_wh_m2 == 600.0
    assert [find_day(path, day).energy_wh_m2 for day in ("dull", "median", "bright")] == [300.0, 600.0, 900.0]


def test_tilted_panel_needs_more_than_a_log_of_flat_light(written):
    day = find_day(written(GOOD), "only")
    with pytest.raises(ValueError, match=r"is tilted by 30 degrees.*lay it flat"):
        plane_light(day, replace(PANEL, tilt_deg=30.0))


def test_all_is_every_row_of_the_weather():
    whole = find_day("sand-point", "all")
    assert (whole.days, len(whole.table)) == (365, 8760)
    daily = whole.energy_wh_m2 / 365e3
    assert whole.title == f"Sand Point (typical year), 365 days, {daily:.1f} kWh/m² a day on the flat"


@pytest.mark.parametrize(("wind", "minutes"), [(0.0, 7.02), (3.0, 5.48)])
def test_panel_follows_a_step_of_heat_within_minutes_and_sooner_in_wind(wind, minutes):
    # Prilliman et al. 2020, eq. 8 and Table II, summed by hand for 11.1 kg/m²
    rate = 0.0046 + 0.00046 * wind - 0.00023 * 11.1 - 1.6e-5 * wind * 11.1
    weights = np.exp(-rate * 60 * np.arange(1, 21))
    followed = np.cumsum(weights) / weights.sum()
    assert np.interp(0.632, followed, np.arange(1, 21)) == pytest.approx(minutes, abs=0.01)
    times = pd.date_range("2026-06-21 10:00", periods=120, freq="min")
    day = WeatherSeries(
        pd.DataFrame({"ghi": 0.0, "temp_air": 20.0, "wind_speed": wind}, index=times), "made", 1 / 60, None
    )
    step = np.where(np.arange(120) >= 60, 80.0, 20.0)
    assert lagged(day, step)[61:81] == pytest.approx(20 + 60 * followed)
    assert lagged(day, step)[81:] == pytest.approx(80.0)


def test_heat_of_one_date_is_none_of_the_next_and_hours_stay_as_they_are():
    times = pd.date_range("2026-06-21 23:50", periods=20, freq="min")
    minutes = WeatherSeries(
        pd.DataFrame({"ghi": 0.0, "temp_air": 20.0, "wind_speed": 1.0}, index=times), "made", 1 / 60, None
    )
    over_night = np.repeat([60.0, 20.0], 10)
    assert lagged(minutes, over_night) == pytest.approx(over_night)
    hours = find_day("sand-point", "bright")
    heat = np.linspace(0, 60, len(hours.table))
    assert lagged(hours, heat) is heat


def test_estimate_from_the_total_errs_as_much_as_is_said():
    # seven days measured at Graz with their direct and diffuse light: the same planes with and without the split
    off = {}
    for date in ("01-11", "04-27", "06-19", "07-01", "07-27", "10-24", "11-06"):
        day = find_day("graz", date)
        total = replace(day, table=day.table[["ghi", "temp_air", "wind_speed"]])
        for tilt, azimuth in product((10.0, 30.0, 45.0, 60.0, 75.0, 90.0), (90.0, 180.0, 270.0)):
            panel = replace(PANEL, tilt_deg=tilt, azimuth_deg=azimuth)
            off[date, tilt, azimuth] = 100 * (plane_light(total, panel).sum() / plane_light(day, panel).sum() - 1)
    for (steepest, (low, high)), flattest in zip(ESTIMATED_PCT, (0.0, 30.0), strict=True):
        these = [error for (_, tilt, _), error in off.items() if flattest < tilt <= steepest]
        assert low == pytest.approx(min(these), abs=0.5)
        assert high == pytest.approx(max(these), abs=0.5)
    others = [error for (date, *_), error in off.items() if date != "01-11"]
    assert (min(others), max(others)) == (pytest.approx(-11, abs=0.5), pytest.approx(3, abs=0.6))
