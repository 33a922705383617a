"""Weather files of the known forms, and logs with gaps, odd clocks, odd steps and other people's columns."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from conftest import PANEL

from vanpower.rig import Days, Place, WeatherLog, WeatherRows
from vanpower.weather import sun_paths
from vanpower.weather.days import day_of, find_day
from vanpower.weather.logs import own_file
from vanpower.weather.planes import plane_light
from vanpower.weather.series import WeatherSeries, mended
from vanpower.weather.sun import sin_elevation, sun_at
from vanpower.weather.sun_paths import TWILIGHT, held_against_sun, path_of, risen, uncovered

REFERENCE = Path(__file__).parent / "reference"
numbers = count()


@pytest.fixture
def written(tmp_path):
    """Writes a text and gives its path; days are kept by path, so each file has its own name."""

    def write(text: str, ending: str = ".csv") -> str:
        path = tmp_path / f"file{next(numbers)}{ending}"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def hourly(days: int, start: str = "2019-06-01", **changed: str) -> str:
    """A log of whole days by the hour, 100 W/m² more each day; rows by time may be changed, or dropped with ''."""
    times = pd.date_range(start, periods=24 * days, freq="h")
    lines = []
    for k, time in enumerate(times):
        stamp = f"{time:%Y-%m-%d %H:%M}"
        row = changed.get(stamp, f"{stamp},{100 * (1 + k // 24) if 6 <= time.hour < 18 else 0},15")
        lines += [row] if row else []
    return "time,ghi,temp_air\n" + "\n".join(lines) + "\n"


# Forms of other people


def epw(rows: int, **changed: float) -> str:
    """An EPW file by the public description of its columns: eight lines of head, 35 columns, hour 1 to 24."""
    head = ["LOCATION,Somewhere,-,NOR,made,000000,60.40,5.30,1.0,12.0"]
    head += [f"{word},0" for word in ("DESIGN CONDITIONS", "TYPICAL/EXTREME PERIODS", "GROUND TEMPERATURES")]
    head += ["HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,made", "COMMENTS 2,made"]
    head += ["DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    lines = []
    for k, time in enumerate(pd.date_range("1999-01-01", periods=rows, freq="h")):
        light = 200 if 9 <= time.hour < 15 else 0
        values = {6: 3.5, 13: light, 14: 50 if light else 0, 15: light - 20 if light else 0, 21: 4.0}
        cells = [time.year, time.month, time.day, time.hour + 1, 0, "?9", *[0] * 29]
        for column, value in values.items():
            cells[column] = value
        if k == 12 and "missing" in changed:
            cells[13] = 9999
        lines.append(",".join(map(str, cells)))
    return "\n".join([*head, *lines]) + "\n"


def test_epw_is_told_by_its_content_and_dated_at_the_start_of_the_hour(written):
    day = find_day(written(epw(48), ".csv"), "01-02")
    assert day.position == (60.4, 5.3)
    assert day.altitude_m == 12.0
    assert day.table.index[0].isoformat() == "2001-01-02T00:00:00+01:00"
    assert day.table["ghi"].iloc[9] == 200
    assert day.energy_wh_m2 == 1200
    assert plane_light(day, replace(PANEL, tilt_deg=30.0)).max() > 200


def test_value_that_epw_calls_missing_is_a_gap_and_not_light(written):
    path = written(epw(72, missing=1), ".epw")
    with pytest.raises(ValueError, match="2001-01-01: no ghi at 12:00; gaps are not filled in"):
        find_day(path, "01-01")
    assert "left out for gaps: 2001-01-01, no ghi at 12:00" in find_day(path, "dull").notes


def pvgis_series(slope: str = "0") -> str:
    """An hourly series as the public service writes it."""
    head = ["Latitude (decimal degrees):\t45.000", "Longitude (decimal degrees):\t8.000", "Elevation (m):\t100"]
    head += ["Radiation database:\tmade", "", "", f"Slope: {slope} deg. ", "Azimuth: 0 deg. ", ""]
    head += ["time,Gb(i),Gd(i),Gr(i),H_sun,T2m,WS10m,Int"]
    lines = []
    for time in pd.date_range("2019-06-21", "2020-06-21 23:00", freq="h")[[*range(24), *range(-24, 0)]]:
        beam = 400.0 if 5 <= time.hour <= 17 else 0.0
        lines.append(f"{time:%Y%m%d:%H}10,{beam},100.0,0.0,30.0,20.0,2.0,0.0")
    return "\n".join([*head, *lines, "", "Gb(i): Beam", ""]) + "\n"


def test_pvgis_series_is_read_in_the_time_of_its_place_and_asks_which_year(written):
    path = written(pvgis_series())
    with pytest.raises(ValueError, match=r"2 times; say which year, 2019-06-21 \(2019, 2020\)"):
        find_day(path, "06-21")
    day = find_day(path, "2019-06-21")
    assert day.table.index[0].isoformat() == "2019-06-21T01:00:00+01:00"
    assert day.table["ghi"].max() == 500
    assert "UTC+1" in day.notes[0]


def test_pvgis_series_of_a_tilted_plane_is_refused(written):
    with pytest.raises(ValueError, match="plane of 35 degrees; fetch it again with slope 0"):
        find_day(written(pvgis_series("35")), "2019-06-21")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("pvgis_tilted_series.csv", "its light is that of a plane of 30 degrees; fetch it again with slope 0"),
        ("pvgis_tracking_series.json", "its light is that of a plane that follows the sun; fetch it again fixed"),
    ],
)
def test_recorded_series_for_other_planes_are_refused(name, said):
    # 553 Wh/m² on 1 January: the tracker's light was taken for that on the flat
    with pytest.raises(ValueError, match=said):
        find_day(str(REFERENCE / name), "all")


def test_pvgis_series_that_names_no_plane_is_refused(written):
    lines = [line for line in pvgis_series().splitlines() if not line.startswith("Slope")]
    with pytest.raises(ValueError, match="of a plane that it does not name; fetch it again with slope 0"):
        find_day(written("\n".join(lines) + "\n"), "2019-06-21")


def test_nsrdb_series_is_read_in_the_time_of_its_head():
    # two days of tests/data/test_read_psm4.csv of pvlib-python; 15 June by hand: half the sum of the GHI of its 48 rows
    path = REFERENCE / "nsrdb_series.csv"
    rows = pd.read_csv(path, skiprows=2)
    day = find_day(str(path), "06-15")
    assert (day.position, day.altitude_m) == ((40.53, -108.54), 2168.0)
    assert day.table.index[0].isoformat() == "2023-06-15T00:00:00-07:00"
    assert day.energy_wh_m2 == rows[rows["Day"] == 15]["GHI"].sum() / 2
    noon = rows[(rows["Day"] == 15) & (rows["Hour"] == 12) & (rows["Minute"] == 30)].iloc[0]
    read = day.table.loc["2023-06-15 12:30"]
    assert read[["dni", "dhi", "wind_speed"]].tolist() == noon[["DNI", "DHI", "Wind Speed"]].tolist()


def test_nsrdb_typical_year_in_full_hours_is_dated_at_their_start(written):
    head, held = (REFERENCE / "nsrdb_series.csv").read_text().splitlines()[:3], []
    for month, year in ((1, 2020), (2, 2005)):
        for hour in range(24):
            cells = ["0"] * len(head[2].split(","))
            cells[:5] = [str(year), str(month), "15", str(hour), "30"]
            held.append(",".join(cells))
    day = find_day(written("\n".join([*head, *held]) + "\n"), "02-15")
    assert (len(day.table), day.table.index[0].isoformat()) == (24, "2001-02-15T00:00:00-07:00")
    with pytest.raises(ValueError, match="looks like an NSRDB file but cannot be read as one"):
        find_day(written("\n".join(head) + "\n"), "02-15")


def test_pvgis_typical_year_in_json_is_dated_in_one_year(written):
    times = [f"{year}{month:02}15:{hour:02}00" for month, year in ((1, 2011), (2, 2007)) for hour in range(24)]
    row = {
        "T2m": 5.0,
        "RH": 80,
        "G(h)": 100.0,
        "Gb(n)": 50.0,
        "Gd(h)": 60.0,
        "IR(h)": 300,
        "WS10m": 2.0,
        "WD10m": 0,
        "SP": 1,
    }
    place = {"latitude": 47.0, "longitude": 15.0, "elevation": 350.0}
    document = {
        "inputs": {"location": place}, "meta": {"inputs": {}},
        "outputs": {"months_selected": [], "tmy_hourly": [{"time(UTC)": time, **row} for time in times]},
    }  # fmt: skip
    day = find_day(written(json.dumps(document), ".json"), "02-15")
    assert (len(day.table), day.table.index[0].year, day.position) == (23, 2001, (47.0, 15.0))


def test_pvgis_typical_year_in_csv_as_the_service_writes_it():
    # 2 January in tests/reference/pvgis_typical_year.csv; 107 + 244 + 336 + 379 + 364 + 309 + 204 + 21 Wh/m²
    day = find_day(str(REFERENCE / "pvgis_typical_year.csv"), "01-02")
    assert (day.position, day.altitude_m) == ((45.0, 8.0), 250.0)
    assert day.table.index[0].isoformat() == "2001-01-02T00:00:00+01:00"
    assert day.energy_wh_m2 == 1964
    assert day.table["ghi"].idxmax().hour == 12
    assert day.table["temp_air"].iloc[[0, 12, 14]].tolist() == [0.88, 10.98, 12.06]
    assert day.table["dni"].iloc[9] == 441.62
    assert day.table["dhi"].iloc[9] == 45.0


def test_two_forms_of_one_typical_year_of_pvgis_are_the_same_day():
    # the same rows as the service wrote them in both forms; by its own zone the EPW file would be an hour early
    days = [find_day(str(REFERENCE / f"pvgis_typical_year.{form}"), "01-02") for form in ("csv", "epw")]
    csv, epw = (day.table.drop(columns="wind_speed") for day in days)
    assert epw.index.tz.utcoffset(None) == csv.index.tz.utcoffset(None)
    pd.testing.assert_frame_equal(epw[csv.columns], csv, check_freq=False, check_names=False, check_index_type=False)
    assert days[1].energy_wh_m2 == 1964
    assert (days[1].position, days[1].altitude_m) == ((45.0, 8.0), 250.0)
    assert "UTC" in days[1].notes[0]


def test_file_that_only_begins_like_a_known_form_is_told_so(written):
    with pytest.raises(ValueError, match="looks like an EPW file but cannot be read as one"):
        find_day(written("LOCATION,nowhere\nno rows\n", ".epw"), "dull")


# Words for days


def test_dullest_median_and_brightest_december_day_are_the_ends_and_the_middle():
    table = find_day("greensboro", "all").table
    december = table[table.index.month == 12]["ghi"]
    days = december.groupby(december.index.date).sum()
    found = [find_day("greensboro", f"{word} december").energy_wh_m2 for word in ("dullest", "median", "brightest")]
    assert found == [days.min(), days.median(), days.max()]
    assert (
        find_day("greensboro", "dullest 12").energy_wh_m2
        == days.min()
        == find_day("greensboro", "dullest dec").energy_wh_m2
    )


def test_winter_over_new_year_stands_in_its_order():
    winter = find_day("sand-point", "november..february")
    assert winter.days == 30 + 31 + 31 + 28
    assert winter.table.index.is_monotonic_increasing
    assert winter.table.index[-1] - winter.table.index[0] == pd.Timedelta(days=120) - pd.Timedelta(hours=1)


@pytest.mark.parametrize("day", ["dullest smarch", "ju..sept", "13..2"])
def test_month_that_is_none_is_told(day):
    with pytest.raises(ValueError, match="is no month; write one such as december, dec or 12"):
        find_day("sand-point", day)


def test_measured_day_is_found_by_its_name():
    named, dated = find_day("graz-2017-07-01", "only"), find_day("graz", "07-01")
    assert named.title == dated.title == "Graz (measured), 1 Jul, 6036 Wh/m² on the flat"
    assert named.step_h == pytest.approx(1 / 60)
    assert "CC BY-SA 4.0" in named.notes[0]
    with pytest.raises(ValueError, match="one of 01-11, 04-27, 06-19"):
        find_day("graz", "07-02")


# Gaps, clocks, steps


def test_day_with_missing_rows_is_left_out_and_said_but_refused_when_asked_for(written):
    path = written(hourly(4, **{"2019-06-02 11:00": "", "2019-06-02 12:00": ""}))
    everything = find_day(path, "all")
    assert everything.days == 3
    assert everything.notes == ("left out for gaps: 2019-06-02, no rows from 10:00 to 13:00",)
    assert find_day(path, "dullest").energy_wh_m2 == 1200
    with pytest.raises(ValueError, match="2019-06-02: no rows from 10:00 to 13:00; gaps are not filled in"):
        find_day(path, "06-02")


def test_empty_cell_is_a_gap_and_a_log_that_breaks_off_is_one(written):
    path = written(hourly(4, **{"2019-06-01 11:00": "2019-06-01 11:00,,15"}) + "")
    assert "2019-06-01, no ghi at 11:00" in find_day(path, "all").notes[0]
    cut = "\n".join(hourly(4).splitlines()[:-14]) + "\n"
    assert "2019-06-04, the log breaks off on it" in find_day(written(cut), "all").notes[0]


def test_log_of_many_years_asks_which(written):
    path = written(hourly(2, "2018-06-01") + hourly(2).partition("\n")[2])
    with pytest.raises(
        ValueError, match=r"06-01' is in this weather 2 times; say which year, 2018-06-01 \(2018, 2019\)"
    ):
        find_day(path, "06-01")
    assert find_day(path, "2019-06-02").energy_wh_m2 == 2400


def test_leap_day_of_a_log_is_a_day_like_any_other(written):
    assert find_day(written(hourly(3, "2020-02-28")), "02-29").energy_wh_m2 == 2400


def test_wavering_steps_are_averaged_to_a_round_one_with_their_energy_and_a_note(written):
    rng = np.random.default_rng(5)
    seconds = np.cumsum(rng.uniform(7, 13, 2000))
    times = pd.Timestamp("2026-06-01 10:00") + pd.to_timedelta(seconds, unit="s")
    light = 500 + 400 * np.sin(seconds / 700)
    text = "time,ghi,temp_air\n" + "".join(f"{t.isoformat()},{g:.2f},20\n" for t, g in zip(times, light, strict=True))
    day = find_day(written(text), "only")
    assert day.step_h == pytest.approx(10 / 3600)
    truth = np.sum(light[:-1] * np.diff(seconds)) / 3600
    assert day.energy_wh_m2 == pytest.approx(truth, rel=0.002)
    assert "s apart were averaged to 10 s" in day.notes[0]


def test_steps_under_a_minute_are_taken_as_they_are(written):
    rows = "".join(f"2026-06-01 10:{k // 6:02}:{10 * (k % 6):02},600,20\n" for k in range(360))
    day = find_day(written("time,ghi,temp_air\n" + rows), "only")
    lacking = "the log runs from 10:00 to 11:00 only, with 600 W/m² at an end, so daylight is left out"
    assert (day.step_h, day.notes) == (pytest.approx(1 / 360), (lacking,))
    assert day.energy_wh_m2 == pytest.approx(600)


def test_clock_put_back_is_followed_by_its_offsets_or_by_its_name(written):
    local = ["2026-10-25 01:00", "2026-10-25 01:30", "2026-10-25 02:00", "2026-10-25 02:30", "2026-10-25 02:00",
             "2026-10-25 02:30", "2026-10-25 03:00", "2026-10-25 03:30"]  # fmt: skip
    offsets = ["+02:00"] * 4 + ["+01:00"] * 4
    head = "time,ghi,temp_air\n"
    behind = find_day(written(head + "".join(f"{t}{o},100,5\n" for t, o in zip(local, offsets, strict=True))), "only")
    named = find_day(written("# time_zone: Europe/Oslo\n" + head + "".join(f"{t},100,5\n" for t in local)), "only")
    assert behind.step_h == named.step_h == 0.5
    assert behind.energy_wh_m2 == named.energy_wh_m2 == 400
    assert "clock changes" in behind.notes[0]


FORMS = (
    "{day}T10:00:00{ahead}", "{day} 10:00{ahead}", "{day} 10:00:00.0 {ahead}", "{day} 10:00:00,0{ahead}",
    "{plain}T1000{ahead}", "{plain}T100000{ahead}", "{day}T10{ahead}", "{day}T1000{ahead}", "{day}t10:00{ahead}",
)  # fmt: skip
# a time as ISO 8601-1:2019 has it, extended and basic, and as loggers mix them


@pytest.mark.parametrize("ahead", ["Z", "+02", "+0200", "+02:00", "-03:30", "-0330", "+14", "-00"])
@pytest.mark.parametrize("form", FORMS)
def test_time_with_any_offset_of_iso_8601_is_that_moment(written, form, ahead):
    # the other reader is Python's own datetime.fromisoformat
    rows = [form.format(day=f"2026-05-{day}", plain=f"202605{day}", ahead=ahead) for day in (30, 31)]
    times = own_file(
        WeatherLog(path=written("time;ghi;temp_air\n" + "".join(f"{t};500;20\n" for t in rows)))
    ).table.index
    assert list(times) == [datetime.fromisoformat(text.replace(" ", "T", 1).replace(" ", "")) for text in rows]
    assert (times[0].day, times[0].hour) == (30, 10), "the clock of the file is kept"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-05-31 10:00+2", "'2026-05-31 10:00+2' is not a time"),
        ("2026-05-31 10:00 CEST", "is not a time like"),
        ("2026-05-31 10:00+02:00[Europe/Oslo]", "is not a time like"),
        ("2026-05-31 10:00+25:00", "'+25:00' is no offset from UTC; clocks lie up to 14 hours from it"),
        ("2026-05-31 10:00+02:75", "'+02:75' is no offset"),
        ("2026-05-31 10:00 pm", "is not a time like"),
        ("202605311000", "is not a time like"),
        ("2026-05", "is not a time like"),
    ],
)
def test_time_that_is_half_understood_is_refused(written, text, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        find_day(written(f"time,ghi,temp_air\n{text},500,20\n"), "only")


def test_kept_rows_read_the_same_offsets():
    rows = dict(place="x", seconds=(0, 3600), step_h=1.0, ghi=(1.0, 2.0), temp_air=(9.0, 9.0), wind_speed=(1.0, 1.0))
    times = [WeatherRows(start=f"2026-06-01T10:00{ahead}", **rows).table().index[0] for ahead in ("+02", "+0200")]
    assert {time.utcoffset().total_seconds() for time in times} == {7200.0}
    with pytest.raises(ValueError, match="is not a time"):
        WeatherRows(start="2026-06-01T10:00 CEST", **rows)


# Missing minutes


def minutes_of(day: WeatherSeries) -> pd.DataFrame:
    """Light and air of measured minutes."""
    return day.table[["ghi", "temp_air", "wind_speed"]]


@pytest.mark.parametrize("date", ["01-11", "04-27", "06-19", "07-01", "07-27", "10-24", "11-06"])
def test_missing_minutes_cost_no_more_than_is_said(date):
    # three gaps of five minutes, at every tenth minute of measured days: what was left out is known
    whole = find_day("graz", date)
    table = minutes_of(whole)
    for first in range(40, 460, 20):
        lost = [first + part * 460 + k for part in range(3) for k in range(5)]
        again, told = mended(replace(whole, table=table.drop(table.index[lost])))
        (found,) = told.values()
        assert found.minutes == 15.0
        assert abs(again.energy_wh_m2 - whole.energy_wh_m2) <= found.bound_wh_m2 + 1e-9
        assert again.table.index.equals(table.index)


def test_one_missing_minute_no_longer_refuses_a_day_and_is_told(written):
    table = minutes_of(find_day("graz", "07-01"))
    rows = [f"{time:%Y-%m-%d %H:%M},{row.ghi:.0f},{row.temp_air:.1f}" for time, row in table.iterrows()]
    said = {}
    for name, lines in {
        "whole": rows,
        "one": rows[:700] + rows[701:],
        "empty": [*rows[:700], f"{table.index[700]:%Y-%m-%d %H:%M},,", *rows[701:]],
    }.items():
        day = find_day(written("time,ghi,temp_air\n" + "\n".join(lines) + "\n"), "only")
        said[name] = (len(day.table), *day.notes)
    assert said["whole"] == (1440,)
    assert said["one"] == said["empty"]
    (count, note) = said["one"]
    assert count == 1440
    assert re.fullmatch(
        r"1 missing minute led in lines between their neighbours: at most [\d.]+ Wh/m² or 0\.\d+ % of the light off",
        note,
    )


@pytest.mark.parametrize(
    "lost", [range(700, 706), [*range(300, 305), *range(500, 505), *range(700, 705), 900], range(700, 760)]
)
def test_more_missing_minutes_refuse_a_day_and_say_how_many_may(written, lost):
    table = minutes_of(find_day("graz", "07-01"))
    table = table.drop(table.index[list(lost)])
    rows = [f"{time:%Y-%m-%d %H:%M},{row.ghi:.0f},{row.temp_air:.1f}" for time, row in table.iterrows()]
    with pytest.raises(ValueError, match="single ones of up to 5 minutes are, 15 minutes a day at most"):
        find_day(written("time,ghi,temp_air\n" + "\n".join(rows) + "\n"), "only")


# Light held against the sun


def as_log(
    day: WeatherSeries, written, zone: str = "", position: tuple[float, float] | None = None, later_h: float = 0.0
) -> str:
    """A day of the kit as somebody's own log, perhaps with another place or clock named."""
    latitude, longitude = position or day.position
    local = day.table.index.tz_convert(zone) if zone else day.table.index
    times = (local + pd.Timedelta(hours=later_h)).tz_localize(None)
    head = f"# latitude_deg: {latitude}\n# longitude_deg: {longitude}\n# time_zone: {zone or 'UTC'}\n"
    rows = "".join(
        f"{time:%Y-%m-%d %H:%M},{ghi:.0f},{air:.1f}\n"
        for time, ghi, air in zip(times, day.table["ghi"], day.table["temp_air"], strict=True)
    )
    return written(f"{head}time,ghi,temp_air\n{rows}")


@pytest.mark.parametrize("weather", ["sand-point", "greensboro", "miami", "graz"])
def test_no_real_day_is_taken_for_light_of_another_place_or_clock(weather):
    # typical years of NREL and measured minutes of Graz: 1102 days, each by itself and all together
    day = find_day(weather, "all")
    assert held_against_sun(day) is day
    up, dates = risen(day), day.table.index.date
    assert day.table["ghi"].to_numpy()[up <= 0].max() <= TWILIGHT
    for date in np.unique(dates)[::9]:
        assert path_of(replace(day, table=day.table[dates == date])).fits, date


@pytest.mark.parametrize("date", ["01-11", "04-27", "06-19", "07-01", "11-06"])
def test_wrong_place_or_clock_of_a_measured_day_is_told(written, date):
    day = find_day("graz", date)
    north, east = day.position
    assert find_day(as_log(day, written), "only").energy_wh_m2 == pytest.approx(day.energy_wh_m2, rel=0.01)
    with pytest.raises(ValueError, match=r"with the sun down\. Likely: the sign of the longitude"):
        find_day(as_log(day, written, position=(north, -east)), "only")
    half = replace(day, table=day.table.assign(ghi=np.roll(day.table["ghi"].to_numpy(), len(day.table) // 2)))
    with pytest.raises(ValueError, match=r"with the sun down\. Likely: the clock is 12 hours off"):
        find_day(as_log(half, written), "only")


def test_more_light_than_the_sun_sends_is_refused_and_the_brightest_real_day_is_not(written):
    """At most 0.78 of 1361 W/m² times the sine of the sun's height comes in a day there; 1.5 times that is 1.17."""
    day = find_day("miami", "brightest")
    zone = "Etc/GMT+5"
    assert find_day(as_log(day, written, zone), "only").energy_wh_m2 == pytest.approx(day.energy_wh_m2, rel=0.01)
    much = replace(day, table=day.table.assign(ghi=1.5 * day.table["ghi"]))
    with pytest.raises(ValueError, match=r"the sun sends \d+ Wh/m² to the top of the air"):
        find_day(as_log(much, written, zone), "only")


def test_two_slips_that_the_light_cannot_tell_apart_are_both_told(written):
    """16 degrees of longitude are 64 minutes of sun, as good as an hour of daylight saving."""
    day = find_day("graz", "06-19")
    north, _ = day.position
    moved = replace(day, table=day.table.set_axis(day.table.index - pd.Timedelta(minutes=30)))
    with pytest.raises(ValueError, match=r"Likely: .*; or ") as told:
        find_day(as_log(moved, written, position=(north, -8.0)), "only")
    assert "the sign of the longitude" in str(told.value)


def test_log_in_utc_that_names_a_local_clock_is_told(written):
    day = find_day("greensboro", "06-21")
    with pytest.raises(ValueError, match="Likely: times are UTC, and the file takes them for local ones"):
        find_day(as_log(day, written, "America/New_York", later_h=4.0), "all")


def test_an_hour_of_daylight_saving_over_a_month_is_a_loud_note(written):
    month = find_day("greensboro", "all march")
    assert find_day(as_log(month, written, "Etc/GMT+5"), "median").notes == ()
    (note,) = find_day(as_log(month, written, "Etc/GMT+5", later_h=1.0), "dull march").notes or ("",)
    assert note.startswith("MIND: the light comes 1.") or "sun down" in note


@pytest.mark.parametrize(
    ("zone", "hours"), [("UTC+1", 1), ("UTC+01:00", 1), ("GMT-5", -5), ("utc+0530", 5.5), ("UTC +2", 2)]
)
def test_clock_that_stays_ahead_of_utc_may_be_written_as_such(written, zone, hours):
    head = f"# latitude_deg: 50\n# longitude_deg: {15 * hours}\n# time_zone: {zone}\n"
    day = find_day(written(head + hourly(1)), "only")
    assert day.table.index[0].utcoffset() == timedelta(hours=hours)


def test_clock_that_is_none_is_not_blamed_on_daylight_saving(written):
    with pytest.raises(ValueError, match=r"time_zone 'UTC\+1:00:00' is not known; write one like Europe/Oslo, UTC, or"):
        find_day(written("# latitude_deg: 50\n# longitude_deg: 5\n# time_zone: UTC+1:00:00\n" + hourly(1)), "only")


def test_light_in_kilowatts_is_asked_about(written):
    rows = "".join(f"2026-06-01 {hour:02}:00,{max(0, 6 - abs(12 - hour)) / 6:.2f},20\n" for hour in range(24))
    with pytest.raises(ValueError, match=r"brightest light is 1 W/m²\. Are these kW/m²\? Multiply the column by 1000"):
        find_day(written("time,ghi,temp_air\n" + rows), "only")
    dark = re.sub(r",[01]\.\d\d,", ",0.04,", rows)
    assert find_day(written("time,ghi,temp_air\n" + dark), "only").energy_wh_m2 == pytest.approx(24 * 0.04)


def test_log_of_some_hours_says_so(written):
    whole = find_day("graz", "06-19")
    # sun up from 03:00 to 18:57 UTC at Graz; between 10:00 and 15:00 it rises over 47 % of the day's sum of sines
    hours = replace(whole, table=whole.table.between_time("10:00", "14:59"))
    (note,) = [note for note in find_day(as_log(hours, written), "only").notes if "daylight" in note]
    assert note == "the log runs from 10:00 to 15:00 only; 53 % of the daylight is left out"
    assert not [note for note in find_day(as_log(whole, written), "only").notes if "daylight" in note]


# Other people's columns

NAMED = """\
# latitude_deg: 60.4
# longitude_deg: 5.3
# time_zone: Europe/Oslo
# ghi: Global
# temp_air: Luft
"""


def test_log_names_its_columns_place_and_clock_in_its_head(written):
    rows = "".join(f"2026-06-21 {hour}:00;{hour * 60},5;12,5\n" for hour in range(10, 16))
    day = find_day(written(f"{NAMED}time;Global;Luft\n{rows}"), "only")
    assert day.table["ghi"].tolist()[:2] == [600.5, 660.5], "decimal commas between semicolons are read"
    assert day.position == (60.4, 5.3)
    assert plane_light(day, replace(PANEL, tilt_deg=40.0)).max() > 900


def test_log_may_be_named_in_the_request(written):
    path = written("Zeit,G,T\n2026-06-21 10:00,500,20\n2026-06-21 11:00,600,20\n")
    columns = {"time": "Zeit", "ghi": "G", "temp_air": "T"}
    log = WeatherLog(path=path, columns=columns, place=Place(latitude_deg=60, longitude_deg=5, time_zone="Europe/Oslo"))
    assert find_day(log, "only").energy_wh_m2 == 1100
    assert hash(Days(weather=log, day="only")) == hash(Days(weather=replace(log), day="only"))
    with pytest.raises(ValueError, match="to the left are time, ghi, dni"):
        WeatherLog(path=path, columns={"light": "G"})
    with pytest.raises(ValueError, match=r"no column 'H' for ghi\. It has Zeit, G, T"):
        find_day(replace(log, columns=(("ghi", "H"),)), "only")


def test_changed_file_is_read_again(written):
    path = written(hourly(1))
    before = find_day(path, "only").energy_wh_m2
    Path(path).write_text(hourly(1).replace(",100,", ",300,"), encoding="utf-8")
    assert find_day(path, "only").energy_wh_m2 == 3 * before


def test_outlook_may_ask_for_finer_steps():
    fine = day_of(Days(weather="sand-point", day="bright", step_min=10.0))
    assert fine.step_h == pytest.approx(1 / 6)
    assert fine.energy_wh_m2 == pytest.approx(find_day("sand-point", "bright").energy_wh_m2)


def test_a_day_with_rows_round_the_clock_leaves_nothing_out_and_one_question_to_the_sun_is_as_good_as_six(monkeypatch):
    # plain arithmetic: 24 rows of an hour are a day; the sun's mean over an hour is that of its six middles
    day = find_day("sand-point", "06-21")
    one_by_one = [
        sin_elevation(sun_at(day.table.index + pd.Timedelta(minutes=10 * k + 5), day.position, day.altitude_m))
        for k in range(6)
    ]
    assert risen(day) == pytest.approx(np.mean(one_by_one, axis=0), abs=1e-12)
    monkeypatch.setattr(sun_paths, "sun_at", lambda *_: pytest.fail("the sun was asked"))
    assert uncovered(day) == ""
    with pytest.raises(pytest.fail.Exception):
        uncovered(replace(day, table=day.table.iloc[1:]))
