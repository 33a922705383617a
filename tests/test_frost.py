"""Frost from end to end: a measured battery in an own file, its way into a picture, and a warmed locker in print."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, replace

import numpy as np
import pandas as pd
import pytest
from conftest import PANEL, tiny_rig

from vanpower.checks.battery import cold_charging
from vanpower.cli import main
from vanpower.files.rig_files import rig_to_toml
from vanpower.rig import Days, Load, Place, Rig, Snapshot, WeatherLog
from vanpower.sharing.recipe import chart_recipe, recipe_from_json, recipe_to_json
from vanpower.sharing.saving import draw, forum_answer
from vanpower.simulation.harvests import harvest_said, measured_harvest
from vanpower.simulation.run import simulate
from vanpower.studies.comparison import compare
from vanpower.studies.ranking import rank_wirings
from vanpower.studies.shortlist import shortlist
from vanpower.weather.days import find_day
from vanpower.weather.row_conversion import rows_of
from vanpower.weather.upsample import finer

HEAT = [round(8.0 - hour, 1) for hour in range(24)]


def own_file(tmp_path, *, column: str = "temp_battery", heat: list[float] | None = None) -> str:
    """A day of eight bright hours at -8 °C with a battery that cools down all day."""
    time = pd.date_range("2026-01-15", periods=24, freq="1h")
    light = [*[0] * 8, *[500] * 8, *[0] * 8]
    table = pd.DataFrame({"time": time, "ghi": light, "temp_air": -8.0, "wind_speed": 1.0, column: heat or HEAT})
    table.to_csv(tmp_path / "own.csv", index=False)
    return str(tmp_path / "own.csv")


def van(**controller: object) -> Rig:
    """Two panels in series, 100 Ah and a fridge."""
    rig = tiny_rig((PANEL,) * 2, (0, 1))
    circuit = replace(rig.circuits[0], controller=replace(rig.circuits[0].controller, **controller))
    battery = replace(rig.battery, capacity_ah=100.0, soc_start_pct=40.0)
    return replace(rig, battery=battery, circuits=(circuit,), loads=(Load(name="fridge", p_load=20.0),))


def test_heat_of_the_battery_is_read_from_an_own_file_by_any_name(tmp_path):
    assert list(find_day(own_file(tmp_path), "only").table["temp_battery"]) == HEAT
    named = WeatherLog(path=own_file(tmp_path, column="Bank °C"), columns={"temp_battery": "Bank °C"})
    assert list(find_day(named, "only").table["temp_battery"]) == HEAT


def test_heat_of_the_battery_in_fahrenheit_or_missing_is_refused(tmp_path):
    with pytest.raises(ValueError, match=r"'temp_battery': '68.0'; from -40 to 60 °C makes sense. Is this Fahrenheit"):
        find_day(own_file(tmp_path, heat=[68.0] * 24), "only")
    with pytest.raises(ValueError, match="line 5, column 'temp_battery': nothing"):
        find_day(own_file(tmp_path, heat=[1.0, 1.0, 1.0, np.nan, *[1.0] * 20]), "only")


def test_heat_of_the_battery_is_led_in_lines_where_rows_are_made_finer(tmp_path):
    day = replace(find_day(own_file(tmp_path), "only"), position=(47.0, 15.0))
    day = replace(day, table=day.table.tz_localize("Etc/GMT-1"))
    half_hours = finer(day, 0.5).table["temp_battery"]
    assert list(half_hours[1:5]) == [7.75, 7.25, 6.75, 6.25]


def test_picture_of_a_day_carries_the_heat_of_the_battery_along(tmp_path):
    request = Days(weather=own_file(tmp_path), day="only")
    recipe = chart_recipe("run", {"2s": van()}, request)
    (tmp_path / "own.csv").unlink()
    again = draw(recipe_from_json(recipe_to_json(recipe), "a picture"))
    assert "is as cold as was measured (temp_battery)" in " ".join(again.words.split())


def test_rows_without_it_keep_the_name_that_older_pictures_know():
    rows = rows_of(find_day("sand-point", "dull"))
    told = {key: value for key, value in asdict(rows).items() if key != "temp_battery"}
    old = hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]
    assert rows.temp_battery is None
    assert rows.name == f"rows:{old}"
    assert replace(rows, temp_battery=rows.temp_air).name != rows.name


NEWER = ("cells", "temp_heated", "temp_hottest", "temp_cold_cutoff", "temp_cold_release", "cold_feeds_loads")


@pytest.mark.parametrize("kind", ["lithium iron phosphate", "lead-acid"])
def test_recipe_from_before_kinds_and_cutoffs_is_still_read(kind):
    rig = replace(van(), battery=replace(van().battery, chemistry=kind))
    recipe = chart_recipe("run", {"2s": rig}, Days(day="dull"))
    old = json.loads(recipe_to_json(recipe))
    for part in (old["rigs"]["2s"]["battery"], old["rigs"]["2s"]["circuits"][0]["controller"]):
        for key in NEWER:
            part.pop(key, None)
    read = recipe_from_json(json.dumps(old), "an old picture")
    assert dict(read.rigs)["2s"] == rig


def printed(capsys, *words: str) -> str:
    """What a command prints, its lines joined."""
    assert main(list(words)) == 0
    return " ".join(capsys.readouterr().out.split())


def test_day_says_what_a_warm_locker_would_bring_where_frost_cost_something(tmp_path, capsys):
    path, file = tmp_path / "van.toml", own_file(tmp_path, heat=[-8.0] * 24)
    path.write_text(rig_to_toml(van(cold_cutoff=True)), encoding="utf-8")
    said = printed(capsys, "day", str(path), "--day", file)
    assert "The same with the battery kept at 3 °C or above: 2s delivers" in said
    assert "What warms the locker is not counted" in said
    assert "kept at 12 °C or above" in printed(capsys, "day", str(path), "--day", file, "--warm-locker", "12")
    warm = printed(capsys, "day", str(path), "--day", own_file(tmp_path, heat=[9.0] * 24))
    assert "The same with" not in warm


def test_warm_locker_in_fahrenheit_is_refused(tmp_path, capsys):
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(van()), encoding="utf-8")
    assert main(["day", str(path), "--day", "dull", "--warm-locker", "41"]) == 2
    out, said = capsys.readouterr()
    assert out == ""
    assert "--warm-locker is 41 °C" in said
    assert "Fahrenheit" in said


@pytest.mark.parametrize(
    ("controller", "answer", "words"),
    [
        ({"cold_cutoff": True}, "yes", "to stop below 0 °C and to charge again from 3 °C on, as usual"),
        ({"cold_cutoff": True, "temp_cold_cutoff": 5.0}, "yes", "to stop below 5 °C and to charge again from 8 °C on"),
        ({"cold_cutoff": True, "temp_cold_cutoff": -5.0}, "no", "a controller does not stop charging in frost"),
        ({"cold_cutoff": True, "cold_feeds_loads": False}, "yes", "100 V 30 A then feeds no loads either."),
        ({}, "close", "is not known to stop"),
    ],
)
def test_cold_charging_names_where_the_controller_stops_and_begins_again(controller, answer, words):
    """Lithium is not charged below 0 °C (cell handling guide, a battery manual), so -5 °C is too late."""
    found = cold_charging(van(**controller))
    assert found.answer == answer
    assert words in f"{found.sentence} {found.basis}"


@pytest.mark.parametrize(("column", "step_h"), [("p_harvest", 1.0), ("harvest_wh", 1.0), ("harvest_wh", 0.5)])
def test_harvest_as_measured_stands_beside_the_modelled_one(tmp_path, column, step_h):
    """60 W for eight hours are 480 Wh, written as 60 W or as 60 Wh an hour, or 30 Wh a half hour."""
    per_day = round(24 / step_h)
    time = pd.date_range("2026-05-15", periods=per_day, freq=f"{60 * step_h:g}min")
    bright = (time.hour >= 8) & (time.hour < 16)
    table = pd.DataFrame({"time": time, "ghi": 500.0 * bright, "temp_air": 15.0})
    table[column] = 60.0 * bright * (step_h if column == "harvest_wh" else 1.0)
    table.to_csv(tmp_path / "own.csv", index=False)
    run = simulate({"2s": van()}, Days(weather=str(tmp_path / "own.csv"), day="only"))
    assert measured_harvest(run) == pytest.approx(480.0)
    said = harvest_said(run, "2s")
    more = 100 * (run.used_wh("2s") / 480.0 - 1)
    assert said.startswith("Harvested as measured (p_harvest): 480 Wh; 2s as modelled: ")
    assert f", {more:.0f} % more." in said


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "0 Wh; 2s as modelled"), (0.98, "alike within 3 %."), (0.96, "4 % more. Shade"), (1.1, "9 % less. Shade")],
)
def test_harvest_as_measured_is_called_alike_within_three_percent_and_nothing_has_no_share(tmp_path, share, words):
    """1 / 0.96 is 4 % more, 1 / 1.1 is 9 % less."""
    time = pd.date_range("2026-05-15", periods=24, freq="1h")
    table = pd.DataFrame({"time": time, "ghi": 500.0 * ((time.hour >= 8) & (time.hour < 16)), "temp_air": 15.0})
    own = tmp_path / "own.csv"
    request = Days(weather=str(own), day="only")
    table.to_csv(own, index=False)
    modelled = simulate({"2s": van()}, request).used_wh("2s")
    table.assign(p_harvest=share * modelled / 24).to_csv(own, index=False)
    said = harvest_said(simulate({"2s": van()}, request), "2s")
    assert words in said
    assert ("%" in said) == (share > 0)


def test_harvest_that_only_rises_is_a_counter_and_refused(tmp_path):
    own_file(tmp_path, column="harvest_wh", heat=[10.0 * hour for hour in range(24)])
    with pytest.raises(ValueError, match="it only rises, as a counter does"):
        find_day(str(tmp_path / "own.csv"), "only")


def test_harvest_is_printed_after_the_ladder(tmp_path, capsys):
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(van()), encoding="utf-8")
    said = printed(capsys, "day", str(path), "--day", own_file(tmp_path, column="p_harvest", heat=[20.0] * 24))
    assert said.index("= to loads and battery") < said.index(
        "Harvested as measured (p_harvest): 480 Wh; 2s as modelled:"
    )


def test_place_of_a_log_is_kept_beside_the_heat_of_the_battery(tmp_path):
    # in the south, where January sends 4000 Wh/m²
    place = Place(latitude_deg=-30.0, longitude_deg=15.0, time_zone="Etc/GMT-1")
    day = find_day(WeatherLog(path=own_file(tmp_path), place=place), "only")
    assert day.position == (-30.0, 15.0)
    assert rows_of(day).temp_battery == tuple(HEAT)


def cold_file(tmp_path, temp_air: float) -> str:
    """A day of eight bright hours in the same air."""
    table = pd.DataFrame({"time": pd.date_range("2026-01-15", periods=24, freq="1h")})
    table = table.assign(ghi=[*[0] * 8, *[500] * 8, *[0] * 8], temp_air=temp_air)
    table.to_csv(tmp_path / "cold.csv", index=False)
    return str(tmp_path / "cold.csv")


@pytest.mark.parametrize(
    ("temp_air", "battery", "said"),
    [
        (-8.0, {}, True),
        (-8.0, {"temp_heated": 5.0}, False),
        (-8.0, {"temp_offset": 8.5}, False),
        (-1.0, {"temp_lockout": -5.0}, False),
        (1.0, {}, False),
        (-8.0, {"chemistry": "AGM"}, False),
        (-8.0, {"capacity_ah": None}, True),
    ],
)
def test_comparison_says_that_it_leaves_frost_out(temp_air, battery, said, tmp_path):
    """Whether is plain arithmetic: air and offset, or a heated place, beside the mark below which charging stops."""
    rig = van()
    rig = replace(rig, battery=replace(rig.battery, **battery))
    request = Days(weather=cold_file(tmp_path, temp_air), day="only")
    found = compare({"2s": rig}, request)
    words = f"which is not counted here though the air falls to {temp_air:.0f} °C"
    assert (words in found.verdict.basis) is said
    assert (words in rank_wirings(rig, request).verdict.basis) is said
    assert (words in forum_answer([found])) is said


def test_comparison_and_walk_name_frost_in_the_same_words(tmp_path):
    rig, request = van(cold_cutoff=True), Days(weather=cold_file(tmp_path, -8.0), day="only")
    walked, compared = simulate({"2s": rig}, request).verdict.basis, compare({"2s": rig}, request).verdict.basis
    for words in (
        "the battery lies as cold as the air (temp_offset) and takes nothing below 0 °C until it is at 3 °C again",
        "the cold cut-off of ",
    ):
        assert words in walked
        assert words in compared


def test_comparison_of_a_moment_speaks_of_frost_where_its_cells_are_as_cold():
    said = "which is not counted here though its cells are -3 °C"
    assert said in compare({"2s": van()}, Snapshot(light=100, temp_cell=-3)).verdict.basis
    assert "not counted" not in compare({"2s": van()}, Snapshot(light=100, temp_cell=25)).verdict.basis


def test_list_of_controllers_says_that_it_leaves_frost_out(tmp_path):
    offers = [van().circuits[0].controller]
    said = "which is not counted here though the air falls to -8 °C"
    found = shortlist(van(), offers, Days(weather=cold_file(tmp_path, -8.0), day="only"))
    assert said in found.verdict.basis


def test_few_hours_of_a_log_are_no_day_in_the_library_as_on_the_command_line(tmp_path, capsys):
    """Light of 500 W/m² at both ends: the day begins before the log and goes on behind it."""
    path = tmp_path / "few.csv"
    time = pd.date_range("2026-06-15 10:00", periods=5, freq="1h")
    pd.DataFrame({"time": time, "ghi": 500.0, "temp_air": 18.0}).to_csv(path, index=False)
    request = Days(weather=str(path), day="only")
    with pytest.raises(ValueError, match=r"10:00 to 15:00 only.*needs all of it") as refused:
        simulate({"2s": van()}, request)
    with pytest.raises(ValueError, match="needs all of it"):
        shortlist(van(), [van().circuits[0].controller], request)
    assert main(["day", "bookmobile", "--day", str(path)]) == 2
    assert str(refused.value) in capsys.readouterr().err
    assert compare({"2s": van()}, request).outcomes["2s"].energy_wh > 0


def test_loads_of_nothing_are_told_from_none(capsys):
    assert "The loads draw 0 W, so a full battery takes no more" in printed(capsys, "day", "bookmobile", "--load", "0")
    without = simulate({"2s": replace(van(), loads=())}, Days(day="dull")).verdict.sentence
    assert "No loads are described" in without
