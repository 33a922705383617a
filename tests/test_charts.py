"""Recipes of charts: any rig comes back, and data of strangers is refused quickly unless it is a recipe."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_recipes import lines, rigs

from vanpower.engine import cells
from vanpower.files.rig_files import example
from vanpower.rig import Days, Fixture, MadeSky, Parked, Place, Rig, Shade, Snapshot, WeatherLog, Wiring
from vanpower.sharing import recipe as home
from vanpower.sharing.recipe import ChartRecipe, chart_recipe, recipe_from_json, recipe_to_json
from vanpower.studies.comparison import compare
from vanpower.weather.days import find_day
from vanpower.weather.row_conversion import day_in, rows_of

MOMENT = Snapshot(light=640, temp_cell=31.5, shade=(Shade(panel=0, substring=1, lit=0.2),))
LOG = "time,ghi,temp_air\n" + "".join(f"2026-06-01 {hour}:00,{100 * hour - 500},20.25\n" for hour in range(10, 15))


def document() -> dict[str, Any]:
    """A good recipe as plain data, to be spoilt."""
    recipe = chart_recipe("power", example("bookmobile").wirings(), MOMENT, Days(day="bright"), p_top=250)
    return json.loads(recipe_to_json(replace(recipe, numbers={"2s": "105.4 W"})))


def told(data: Any) -> str:
    """What a recipe that is none is told."""
    text = data if isinstance(data, str) else json.dumps(data)
    with pytest.raises(ValueError, match=r"^post\.txt: its recipe cannot be used: ") as error:
        recipe_from_json(text, "post.txt")
    return str(error.value).removeprefix("post.txt: its recipe cannot be used: ")


@settings(max_examples=60, deadline=None)
@given(
    first=rigs(),
    second=rigs(),
    light=st.floats(0, 1800),
    names=st.lists(lines(20), min_size=2, max_size=2, unique=True),
)
def test_any_rig_comes_back_as_it_was(first: Rig, second: Rig, light: float, names: list[str]):
    recipe = chart_recipe("answer", dict(zip(names, (first, second), strict=True)), Snapshot(light=light, temp_cell=9))
    back = recipe_from_json(recipe_to_json(recipe), "post.txt")
    assert back == recipe
    assert list(back.rigs.values()) == [first, second]
    assert back.id == recipe.id


def test_order_of_the_rigs_is_kept_and_a_change_changes_the_id():
    rig = example("puppet-stage")
    one, other = rig, replace(rig, climate=replace(rig.climate, temp_coldest=-17.5))
    recipes = [chart_recipe("ceiling", {"rig": each}) for each in (one, one, other)]
    assert recipes[0].id == recipes[1].id != recipes[2].id
    assert list(chart_recipe("answer", {"b": one, "a": other}, MOMENT).rigs) == ["b", "a"]


def test_wirings_of_one_rig_are_written_as_what_differs():
    tables = document()["rigs"]
    assert set(tables["2s"]) == {each.name for each in fields(Rig)}
    assert set(tables["2p"]) == {"circuits"}


def test_day_of_a_file_goes_along_as_rows_and_the_file_may_be_gone(tmp_path):
    path = tmp_path / "tuesday.csv"
    path.write_text(LOG, encoding="utf-8")
    there = find_day(str(path), "only")
    recipe = chart_recipe("day", {"rig": example("bookmobile")}, Days(weather=str(path), day="only"))
    text = recipe_to_json(recipe)
    path.unlink()
    back = recipe_from_json(text, "post.txt")
    assert str(tmp_path) not in text
    again = find_day(back.requests[0].weather, "only")
    assert again.title == there.title
    assert again.table.to_dict("list") == there.table.to_dict("list")
    assert list(again.table.index) == list(there.table.index)


def test_day_that_is_too_long_to_carry_is_told(tmp_path):
    path = tmp_path / "days.csv"
    rows = [f"2026-06-{1 + k // 1440:02} {k % 1440 // 60:02}:{k % 60:02},100,20" for k in range(2 * 1440)]
    path.write_text("\n".join(["time,ghi,temp_air", *rows]), encoding="utf-8")
    with pytest.raises(ValueError, match="a day has 2880 rows; up to 1500 can go with a chart"):
        chart_recipe("day", {"rig": example("bookmobile")}, Days(weather=str(path), day="all"))


def test_typical_year_goes_by_name():
    recipe = chart_recipe("day", {"rig": example("bookmobile")}, Days(weather="greensboro", day="12-21"))
    assert "days" not in json.loads(recipe_to_json(recipe))
    assert recipe.requests[0].weather == "greensboro"


@pytest.mark.parametrize(
    "weather", ["graz-2017-07-01", MadeSky(kind="overcast", place=Place(latitude_deg=60, longitude_deg=5))]
)
def test_weather_by_name_or_made_up_goes_along_as_it_was_asked_for(weather):
    asked = Days(weather=weather, day="only" if weather == "graz-2017-07-01" else "06-01", heading_deg=90)
    recipe = chart_recipe("day", {"rig": example("bookmobile")}, asked)
    assert recipe_from_json(recipe_to_json(recipe), "post.txt").requests == (asked,)
    assert "days" not in json.loads(recipe_to_json(recipe))


def test_log_with_names_place_and_clock_goes_along_without_its_path(tmp_path):
    path = tmp_path / "tuesday.csv"
    clock = "# latitude_deg: 60.4\n# longitude_deg: 5.3\n# altitude_m: 120\n# time_zone: Europe/Oslo\n"
    path.write_text(clock + LOG.replace("ghi", "Global"), encoding="utf-8")
    log = WeatherLog(path=str(path), columns={"ghi": "Global"})
    there = find_day(log, "only").noted("by hand")
    text = recipe_to_json(chart_recipe("day", {"rig": example("bookmobile")}, Days(weather=log, day="only")))
    again = day_in(rows_of(there))
    assert str(tmp_path) not in text
    assert (again.position, again.altitude_m, again.notes) == ((60.4, 5.3), 120.0, there.notes)
    assert there.notes[-1] == "by hand"
    assert list(again.table.index) == list(there.table.index)


def test_day_on_which_clocks_go_back_stays_one_day(tmp_path):
    path = tmp_path / "october.csv"
    hours = [0, 1, 2, 2, *range(3, 24)]
    rows = "".join(f"2026-10-25 {hour:02}:00,{max(0, 40 - 10 * abs(12 - hour))},9\n" for hour in hours)
    path.write_text("# time_zone: Europe/Oslo\n# latitude_deg: 60\n# longitude_deg: 5\ntime,ghi,temp_air\n" + rows)
    there = find_day(str(path), "only")
    again = day_in(rows_of(there))
    assert (again.days, again.title) == (1, there.title)
    assert list(again.table.index) == list(there.table.index)


def trial_rows(**fields: Any) -> Any:
    """A recipe of a trial with something spoilt."""
    wiring = ["2p"] * 3 + ["2s"] * 3 + ["2p"] * 3
    rows = {"name": "log.csv", "before": "2p", "minutes": list(range(9)), "wiring": wiring, "power": [100.0] * 9}
    return {"form": 1, "kind": "trial", "rigs": {}, "requests": [{"trial": rows | fields}]}


def test_trial_goes_along_without_a_rig():
    recipe = recipe_from_json(json.dumps(trial_rows(light=[500.0] * 8 + [None])), "post.txt")
    assert recipe.rigs == {}
    assert recipe.requests[0].light[-1] is None
    assert recipe_from_json(recipe_to_json(recipe), "post.txt") == recipe


# What strangers send: how the good recipe is spoilt, and words of the answer


def spoilt(*place: str | int, value: Any) -> Any:
    """The good recipe with one value replaced."""
    whole = inner = document()
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    return whole


def day(**fields: Any) -> Any:
    """The good recipe with rows of weather."""
    rows = {"place": "moor", "start": "2026-06-01T10:00", "seconds": [0, 3600], "step_h": 1.0,
            "ghi": [1.0, 2.0], "temp_air": [9.0, 9.0], "wind_speed": [1.0, 1.0]}  # fmt: skip
    return spoilt("days", value=[rows | fields])


def weather(name: Any, *, day: str = "only", times: int = 1) -> Any:
    """The good recipe asking for days of this weather."""
    return spoilt("requests", value=[{"day": {"weather": name, "day": day}}] * times)


def panels_from(k: int) -> list[dict[str, Any]]:
    """Twenty panels of unlike labels."""
    return [document()["rigs"]["2s"]["panels"][0] | {"name": f"{k} {n}"} for n in range(20)]


HOSTILE = {
    "no JSON": ("{", "is no JSON"),
    "nothing": ("", "is no JSON"),
    "a list": ("[]", "it is no recipe"),
    "text": ('"x"', "it is no recipe"),
    "without kind": ({"form": 1, "rigs": {}}, "kind: it is missing"),
    "newer form": (spoilt("form", value=2), "a newer kit made it; update vanpower"),
    "form 0": (spoilt("form", value=0), "form is 0; 1 makes sense"),
    "form true": (spoilt("form", value=True), "form: true makes no sense"),
    "unknown key": (spoilt("run", value="rm"), "run: this key is not known"),
    "unknown key in a panel": (spoilt("rigs", "2s", "panels", 0, "import", value="os"), "panels, 0, import"),
    "kind is a number": (spoilt("kind", value=7), "kind: 7 makes no sense"),
    "no rigs": (spoilt("rigs", value={}), "holds no rig"),
    "rig is text": (spoilt("rigs", "2s", value="../van.toml"), "makes no sense here"),
    "rig without panels": (spoilt("rigs", "2s", "panels", value=[]), "panels is ()"),
    "text for volts": (spoilt("rigs", "2s", "panels", 0, "v_oc", value="22.3"), 'v_oc: "22.3" makes no sense'),
    "huge volts": (spoilt("rigs", "2s", "panels", 0, "v_oc", value=1e9), "v_oc is 1000000000 V"),
    "no ladder so long": (spoilt("rigs", "2s", "panels", 0, "v_oc", value=1e300), "a number beyond 1e+12"),
    "a billion cells": (spoilt("rigs", "2s", "panels", 0, "cells_in_series", value=10**9), "cells_in_series is"),
    "integer of 5000 digits": ('{"form": ' + "9" * 5000 + "}", "is no JSON"),
    "NaN": ('{"form": NaN}', "NaN, which is no number"),
    "infinite": ('{"form": -Infinity}', "-Infinity, which is no number"),
    "1e999": ('{"form": 1e999}', "a number beyond"),
    "key twice": ('{"form": 1, "form": 1}', "says a key twice"),
    "deep lists": ("[" * 100_000, "nest deeper"),
    "deep tables": ('{"a":' * 50_000 + "1" + "}" * 50_000, "nest deeper"),
    "quotes without end": ('"' + '\\"' * 150_000, "is no JSON"),
    "half a letter": (spoilt("kind", value="\ud800"), "is broken"),
    "long text": (spoilt("rigs", "2s", "name", value="x" * 5000), "longer than 4000 letters"),
    "long name": (spoilt("rigs", "x" * 300, value={}), "has 300 letters"),
    "too large": (" " * 500_000, "larger than 400 kB"),
    "a thousand rigs": (spoilt("rigs", value={str(k): {} for k in range(1000)}), "1000 rigs"),
    "a field of panels": (spoilt("rigs", "2s", "panels", value=document()["rigs"]["2s"]["panels"] * 20), "40 panels"),
    "many requests": (spoilt("requests", value=document()["requests"] * 9), "18 requests"),
    "many numbers": (spoilt("numbers", value={str(k): "1" for k in range(5000)}), "5000 numbers"),
    "numbers as numbers": (spoilt("numbers", value={"2s": 105.4}), "numbers, 2s: 105.4 makes no sense"),
    "unknown request": (spoilt("requests", value=[{"file": {"path": "/etc/passwd"}}]), "it is a moment or day"),
    "two in one": (spoilt("requests", value=[{"moment": {}, "day": {}}]), "request 1 is none"),
    "path for weather": (weather("/etc/passwd"), "No file is opened"),
    "own file for weather": (weather("log.csv"), "No file is opened"),
    "address for weather": (weather("https://x.y/z.csv"), "No file is opened"),
    "path of a log for weather": (weather({"path": "/etc/passwd"}), "No file is opened"),
    "measured day beyond its name": (weather("graz-../../etc"), "No file is opened"),
    "a sky beyond the sun": (weather({"kind": "half-sine", "peak": 9e9}), "makes no sense"),
    "a sky of a million steps": (weather({"kind": "half-sine", "step_min": 1e-9}), "step_min"),
    "a clock out of the house": (day(start="2026-06-01T10:00+00:00", time_zone="../../etc/passwd"), "not known"),
    "a mountain too high": (day(altitude_m=1e6), "up to 9000 m"),
    "a thousand notes on a day": (day(notes=["x"] * 1000), "up to 12 notes"),
    "trial of six hundred days": (trial_rows(minutes=list(range(2000))), "a log has 2000 rows"),
    "trial whose times fall": (trial_rows(minutes=[0, 1, 1, *range(3, 9)]), "minutes of a log must rise"),
    "trial of unlike columns": (trial_rows(power=[100.0]), "9 times and 1 values of power"),
    "trial of one wiring": (trial_rows(wiring=["2p"] * 9), "has two wirings"),
    "trial without watts": (trial_rows(power=[None] * 9), "no watts in any row"),
    "trial with a path": (trial_rows(path="/etc/passwd"), "this key is not known"),
    "trial of no time": (trial_rows(start="at tea"), "which is not a time"),
    "trial of endless words": (trial_rows(before="x" * 99), "more than 60 letters"),
    "kept by somebody else": (weather("rows:0123456789abcdef"), "No file is opened"),
    "negative light": (spoilt("requests", value=[{"moment": {"light": -5, "temp_cell": 9}}]), "from 0 to 1800 W/m²"),
    "years of work": (weather("greensboro", day="all", times=12), "moments x rigs; up to 150000"),
    "a picture of many metres": (
        spoilt("rigs", value={str(k): document()["rigs"]["2s"] for k in range(100)}), "2 lights are 200 rows"),
    "a thousand notes of shade": (
        spoilt("requests", 0, "moment", "shade", value=[{"panel": 0, "lit": 0.5}] * 1000), "1000 notes of shade"),
    "a hundred unlike panels": (
        spoilt("rigs", value={str(k): document()["rigs"]["2s"] | {"panels": panels_from(k)} for k in range(5)}),
        "it holds 100 unlike panels"),
    "a million values": ("[" + "1," * 100_000 + "1]", "more than 60000 values"),
    "times that fall": (day(seconds=[0, -60]), "begin at 0 and rise"),
    "times beyond a year": (day(seconds=[0, 10**9]), "rise within a year"),
    "one row": (day(seconds=[0]), "weather has 1 rows"),
    "too many rows": (
        day(seconds=list(range(1501)), **{name: [9.0] * 1501 for name in ("ghi", "temp_air", "wind_speed")}),
        "a day has 1501 rows; up to 1500 can go with a chart"),
    "columns of unlike length": (day(ghi=[1.0]), "2 times and 1 values of ghi"),
    "light of a star": (day(ghi=[1.0, 1e6]), "ghi is 1e+06"),
    "no time": (day(start="tomorrow at tea"), "which is not a time"),
    "a time out of range": (day(start="9999999-01-01"), "which is not a time"),
    "no step": (day(step_h=0.0), "stand for 0 h"),
    "off the globe": (day(position=[91.0, 0.0]), "latitudes end at 90"),
}  # fmt: skip


def heavy(change: Any, asked: Any, *, rigs: int = 1, panels: int = 24, fixtures: int = 0) -> dict[str, Any]:
    """A recipe of so many rigs of changed panels, and of a roof full of boxes."""
    panel = replace(example("goat-cheese-van").panels[0], **change)
    rig = example("goat-cheese-van")
    spots = rig.roof.spots[:panels]
    wide = 0.9 / max(fixtures, 1)
    boxes = [
        Fixture(name=f"{k}", kind="box", left_m=0.05 + wide * k, back_m=0.1, wide_m=wide / 2, long_m=0.1, high_m=0.4,
                under_m=0.2) for k in range(fixtures)
    ]  # fmt: skip
    roof = replace(rig.roof, spots=spots, fixtures=tuple(boxes)) if fixtures else None
    circuit = replace(rig.circuits[0], wiring=Wiring(strings=tuple((k,) for k in range(panels))))
    made = replace(rig, panels=(panel,) * panels, circuits=(circuit,), roof=roof)
    table = json.loads(recipe_to_json(ChartRecipe(kind="answer", rigs={"0": made})))["rigs"]["0"]
    return {"form": 1, "kind": "answer", "rigs": {str(k): {} if k else table for k in range(rigs)}, "requests": [asked]}


EVALUATED = 400
# points of the table of a chain, and of the one without shade beside it
YEAR = {"day": {"weather": "greensboro", "day": "all"}}
GROUPS = {"cells_in_series": 72, "substrings": 36, "v_oc": 48.0, "v_mp": 39.0, "branches": 1}
MUCH = {
    "a year of a field of cells": (heavy({}, YEAR), "million cells x moments; up to 6 million"),
    "a day of half minutes of many rigs": (
        heavy({}, {"day": {"weather": "greensboro", "day": "06-21", "step_min": 0.5}}, rigs=100, panels=1),
        "288000 moments x rigs; up to 150000"),
    "a day of minutes under a full roof": (
        heavy({}, {"parked": {"latitude_deg": 50.0, "day": "06-21", "step_min": 1.0}}, rigs=20, panels=3, fixtures=40),
        "million curves of cells"),
    "many rigs of groups of two cells": (
        heavy(GROUPS, {"day": {"weather": "greensboro", "day": "06-21"}}, rigs=60), "million curves of cells"),
}  # fmt: skip


@pytest.mark.parametrize("kind", MUCH)
def test_too_much_work_is_refused_by_what_is_too_much(kind):
    data, words = MUCH[kind]
    message = told(data)
    assert words in message
    assert "Ask for fewer" in message
    assert len(message) < 300


ENDS = {
    "rigs": (1, 12, 160),
    "panels": (1, 24),
    "notes": (0, 24, 300),
    "requests": (1, 12),
    "groups": ((36, 2), (60, 3), (200, 1), (200, 100)),
    "request": (
        {"moment": {"light": 700.0, "temp_cell": 30.0}},
        {"day": {"weather": "greensboro", "day": "06-21"}},
        {"day": {"weather": "greensboro", "day": "06-21", "step_min": 0.5}},
        YEAR,
    ),
}
# what a recipe may have most of, by hand from one end to the other; cells of a panel and its groups


@settings(max_examples=60, deadline=None)
@given(ends=st.fixed_dictionaries({name: st.sampled_from(values) for name, values in ENDS.items()}))
def test_largest_recipes_are_refused_by_name_or_within_the_work_of_an_ordinary_chart(ends):
    series, groups = ends["groups"]
    change = {"cells_in_series": series, "substrings": groups, "v_oc": 0.6 * series, "v_mp": 0.48 * series}
    word, fields = next(iter(ends["request"].items()))
    notes = [{"panel": k % ends["panels"], "substring": 0, "lit": 0.5, "cells": 1} for k in range(ends["notes"])]
    data = heavy(change | {"branches": 1}, {}, rigs=ends["rigs"], panels=ends["panels"])
    data["requests"] = [{word: fields | {"shade": notes}}] * ends["requests"]
    try:
        recipe_from_json(json.dumps(data), "post.txt")
    except ValueError as problem:
        refused = str(problem)
    else:
        refused = ""
    if refused:
        assert re.search(r"a picture has up to|up to \d\S*( million)? make sense", refused)
        return
    hours = {"all": 366 * 24}.get(fields.get("day", ""), 24)
    moments = 1 if word == "moment" else round(hours * 60 / fields.get("step_min", 60.0))
    rows = ends["rigs"] * ends["requests"]
    assert rows <= 160
    assert moments * rows <= 150_000
    assert moments * series * ends["panels"] <= 6e6
    assert moments * rows * groups * ends["panels"] <= 8e5


@pytest.mark.parametrize("shape", ["noted", "roofed"])
def test_curves_by_which_work_is_bounded_bound_the_cells_that_are_evaluated(monkeypatch, shape):
    rig = example("goat-cheese-van")
    if shape != "roofed":
        rig = replace(rig, roof=replace(rig.roof, fixtures=()))
    notes = tuple(Shade(panel=k % 3, substring=k // 3, lit=0.2 + 0.1 * k, cells=1 + k) for k in range(6))
    asked = Parked(latitude_deg=50.0, day="03-21", step_min=30.0, shade=notes if shape == "noted" else ())
    counted, omega = [], cells.wright_omega

    def counting(z: Any) -> Any:
        counted.append(z.size)
        return omega(z)

    monkeypatch.setattr(cells, "wright_omega", counting)
    compare({"rig": rig}, asked)
    assert 0 < sum(counted) <= EVALUATED * 48 * home.curves_in(rig, asked)


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_no_recipe_is_refused_in_a_line(kind):
    data, words = HOSTILE[kind]
    message = told(data)
    assert words in message
    assert len(message) < 300
    assert message.isprintable()


def test_good_recipe_behind_the_hostile_ones_is_good():
    recipe = recipe_from_json(json.dumps(document()), "post.txt")
    assert recipe.requests == (MOMENT, Days(day="bright"))
    assert recipe.options == {"p_top": 250}
    assert recipe.numbers == {"2s": "105.4 W"}
    assert recipe.versions["vanpower"]


def test_recipe_of_an_older_kit_takes_defaults_for_what_it_does_not_say():
    old = document()
    for panel in old["rigs"]["2s"]["panels"]:
        del panel["mount"], panel["tilt_deg"]
    assert recipe_from_json(json.dumps(old), "post.txt").rigs["2s"].panels[0].tilt_deg == 0.0


def test_numbers_of_numpy_are_written_plainly():
    recipe = ChartRecipe(kind="power", rigs={}, options={"p_top": np.float64(3.5), "n": np.int64(4)})
    assert json.loads(recipe_to_json(recipe))["options"] == {"p_top": 3.5, "n": 4}
    with pytest.raises(ValueError, match="cannot go into a recipe"):
        recipe_to_json(replace(recipe, options={"p_top": object()}))


def test_chart_of_a_day_is_drawn_again_however_many_days_were_asked_for_since(tmp_path):
    # a registry of 64 days lost the first of them: "weather 'rows:...' is not known"
    path, rigs = tmp_path / "day.csv", {"2s": example("bookmobile")}
    recipes = []
    for number in range(70):
        path.write_text(LOG.replace("20.25", f"{20 + number / 10:.1f}"), encoding="utf-8")
        recipes.append(chart_recipe("answer", rigs, Days(weather=str(path), day="only")))
    path.unlink()
    (request,) = recipes[0].requests
    assert compare(rigs, request).outcomes["2s"].energy_wh > 0
    assert find_day(request.weather, "only").table["temp_air"].iloc[0] == 20.0
    assert recipe_from_json(recipe_to_json(recipes[0]), "post.txt") == recipes[0]
    assert len({recipe.requests[0] for recipe in recipes}) == 70


def test_bounds_leave_room_for_the_largest_chart_of_the_kit():
    rig = example("puppet-stage")
    panels = tuple(replace(rig.panels[0], name=f"kind {k}", v_oc=22 + 0.01 * k) for k in range(6))
    circuit = replace(rig.circuits[0], wiring=Wiring(strings=(tuple(range(6)),)))
    all_ways = replace(rig, panels=panels, circuits=(circuit,)).wirings(apart=True)
    assert len(all_ways) > 25
    assert len(recipe_to_json(chart_recipe("answer", all_ways, MOMENT))) < home.LARGEST_RECIPE / 4


def test_a_chart_that_is_asked_for_no_layout_takes_that_of_the_page_it_is_shown_in(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from matplotlib.figure import Figure

    from vanpower.figures.kinds import Shown

    found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    phone = found.plot("power").figure.get_size_inches()[0]
    monkeypatch.setattr(Shown, "phone", False)
    page = found.plot("power").figure.get_size_inches()[0]
    assert phone <= 5.5 < 8.9 <= page
    assert found.plot("power", phone=True).figure.get_size_inches()[0] == phone
    # somebody's own axes are no page
    words = "volts at the array; the names: watts into the battery"
    assert found.plot("power", ax=Figure().subplots()).get_xlabel() == words
