"""Trips over several places: the same as the places walked apart, and verdicts that were walked themselves."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import pandas as pd
import pytest
from crowding import crowded
from foreign_rigs import FOREIGN, foreign

from vanpower import Days, Load, Rig, Source, Stop, example, read_chart, remake, save_chart, simulate, walk_trip
from vanpower.checks.registry import refusal
from vanpower.cli import main
from vanpower.figures.trip import TripChart
from vanpower.files.resources import data_folder
from vanpower.files.stops import read_stops, trips
from vanpower.rig import dates_of
from vanpower.sharing.recipe import recipe_from_json, recipe_to_json
from vanpower.studies.trips import _carries, _driving, _larger, _less_use, _plugged_in, _warmed
from vanpower.weather.days import find_day
from vanpower.weather.planes import plane_light
from vanpower.weather.sun import clear_sky

COAST = Stop(name="coast", weather="miami", from_day="11-02", to_day="11-04")
HILLS = Stop(name="hills", weather="greensboro", from_day="11-05", to_day="11-08", heading_deg=90.0)
NORTH = Stop(name="north", weather="sand-point", from_day="11-09", to_day="11-12")
PLACES = (COAST, HILLS, NORTH)
BELT = Source(name="belt", kind="alternator", i_charge_max=30.0)


def van(**battery: float) -> Rig:
    return example("bookmobile").with_battery(**battery)


def test_a_trip_is_the_places_walked_apart_where_the_battery_starts_alike():
    rig = van(temp_heated=15.0)
    trip = walk_trip(rig, PLACES, changes=False)
    start = 70.0
    for stop, (_, leg) in zip(PLACES, trip.legs, strict=True):
        days = Days(weather=stop.weather, day=f"{stop.from_day}..{stop.to_day}", heading_deg=stop.heading_deg)
        apart = simulate({"2p": rig.with_battery(soc_start_pct=start)}, days).outcomes["2p"]
        rows = leg.outcomes["2p"].rows
        # alike but for what the battery's stage and the controllers were the evening before
        assert float(rows.p_used.sum()) == pytest.approx(float(apart.rows.p_used.sum()), rel=0.002)
        assert float(rows.p_served.sum()) == pytest.approx(float(apart.rows.p_served.sum()), rel=0.002)
        assert float(rows.soc[-1]) == pytest.approx(float(apart.rows.soc[-1]), abs=0.002)
        start = 100.0 * float(rows.soc[-1])
    assert [day.stop for day in trip.days] == ["coast"] * 3 + ["hills"] * 4 + ["north"] * 4
    assert sum(day.used_wh for day in trip.days) == pytest.approx(sum(leg.used_wh("2p") for _, leg in trip.legs))


def test_energy_of_a_trip_closes_over_all_its_stops():
    rig = van().changed(sources=(BELT, replace(BELT, name="campsite", kind="shore")))
    stops = (replace(COAST, drive_h=3.0), replace(HILLS, shore=True), replace(NORTH, drive_h=2.0, drive_daily_h=0.5))
    trip = walk_trip(rig, stops, changes=False)
    outcomes = [leg.outcomes["2p"] for _, leg in trip.legs]
    taken = sum(day.used_wh + day.fed_wh for day in trip.days)
    lost = sum(float(one.rows.p_lost.sum()) for one in outcomes)
    store = outcomes[0].store
    stored = store.energy_wh(float(outcomes[-1].rows.soc[-1])) - store.energy_wh(store.soc_start)
    assert taken - sum(day.served_wh for day in trip.days) - lost == pytest.approx(stored, abs=0.005 * taken)
    # driven on the first day of the coast, shore in the hills alone, both in the north
    fed = {name: [round(leg.fed_wh("2p")[name]) > 0 for _, leg in trip.legs] for name in ("belt", "campsite")}
    assert fed == {"belt": [True, False, True], "campsite": [False, True, False]}


def test_driving_brings_amps_times_hours():
    # 30 A for 2 h at 12.8 to 13.7 V into a battery that is not full: 768 to 822 Wh
    rig = van(soc_start_pct=25.0, temp_heated=15.0).with_source(BELT).changed(loads=())
    trip = walk_trip(rig, (replace(NORTH, drive_h=2.0),), changes=False)
    assert 768 < trip.fed_wh["belt"] < 822
    assert trip.days[1].fed_wh == 0.0


@pytest.mark.parametrize("shade_pct", [0.0, 40.0, 100.0])
def test_shade_leaves_its_share_of_the_light(shade_pct):
    rig = van(soc_start_pct=20.0, temp_heated=15.0).changed(loads=())
    sunny, shaded = (
        sum(day.sun_wh for day in walk_trip(rig, (replace(COAST, shade_pct=share),), changes=False).days)
        for share in (0.0, shade_pct)
    )
    # 15 % of the light is left in shade; the controller's own draw and dull light take more of so little
    left = 1.0 - shade_pct / 100.0 * 0.85
    assert (0.80 if shade_pct < 50 else 0.60) * left <= shaded / sunny <= left + 1e-9


def test_a_van_that_turns_daily_stands_in_four_ways():
    tilted = example("bookmobile").with_panels(tilt_deg=30.0)
    stop = replace(HILLS, from_day="11-05", to_day="11-09", turns_daily=True, heading_deg=0.0)
    trip = walk_trip(tilted, (stop,), changes=False)
    assert [leg.request.heading_deg for _, leg in trip.legs] == [0.0, 90.0, 180.0, 270.0, 0.0]


def test_panels_tilted_at_a_stop_face_the_noon_sun_whichever_way_the_nose_points():
    rig = van(soc_start_pct=20.0, temp_heated=15.0).changed(loads=())
    by_hand = {heading: replace(NORTH, tilt_deg=60.0, heading_deg=heading) for heading in (0.0, 200.0)}
    brought = [sum(d.sun_wh for d in walk_trip(rig, (s,), changes=False).days) for s in by_hand.values()]
    assert brought[0] == pytest.approx(brought[1], rel=1e-6)
    flat = sum(day.sun_wh for day in walk_trip(rig, (NORTH,), changes=False).days)
    assert brought[0] > 1.2 * flat  # a low November sun at 55 degrees north
    trip = walk_trip(rig, (by_hand[0.0],), changes=False)
    assert "Lay tilted panels flat before driving off and before wind" in trip.verdict.caution


def test_panels_turned_after_the_sun_have_the_morning_of_one_plane_and_the_afternoon_of_another():
    day = find_day("greensboro", "06-10")
    steep = example("bookmobile").panels[0].changed(tilt_deg=50.0)
    turned, east, west = (
        plane_light(day, steep.changed(azimuth_deg=faces, turn_deg=more))
        for faces, more in ((180.0, 60.0), (120.0, 0.0), (240.0, 0.0))
    )
    # by hand: the two planes that it is turned to, each while the sun is on its side
    hours = day.table.index.hour.to_numpy()
    assert (turned[hours < 11] == east[hours < 11]).all()
    assert (turned[hours > 14] == west[hours > 14]).all()
    fixed = plane_light(day, steep).sum()
    assert turned.sum() > 1.1 * fixed
    # south of the equator panels face north, and the morning is on their right
    south = plane_light(day, steep.changed(azimuth_deg=0.0, turn_deg=60.0))
    assert (south[hours < 11] == plane_light(day, steep.changed(azimuth_deg=60.0))[hours < 11]).all()


def test_panels_turned_at_a_stop_bring_more_and_say_what_wind_and_daylight_do():
    rig = van(soc_start_pct=20.0, temp_heated=15.0).changed(loads=())
    stop = replace(COAST, tilt_deg=45.0)
    still, turned = (walk_trip(rig, (replace(stop, turn_deg=more),), changes=False) for more in (0.0, 45.0))
    assert sum(day.sun_wh for day in turned.days) > 1.05 * sum(day.sun_wh for day in still.days)
    assert "a gust lifts a tilted panel like a sail" in turned.verdict.caution
    assert "Weigh a panel down" in turned.verdict.caution
    assert "Weigh a panel down" not in still.verdict.caution
    assert "turned by hand twice" in turned.verdict.basis
    with pytest.raises(ValueError, match="turn_deg is 45 degrees; it needs tilt_deg beside it"):
        replace(COAST, turn_deg=45.0)
    # a day of a rig that has such panels says so too
    day = simulate({"2p": rig.with_panels(tilt_deg=45.0, turn_deg=45.0)}, Days(weather="miami", day="bright"))
    assert "Weigh a panel down" in day.verdict.caution
    assert "turned by hand twice" in day.verdict.basis


def test_a_trip_over_new_year_goes_on():
    stop = replace(COAST, from_day="12-30", to_day="01-02")
    trip = walk_trip(van(), (stop,), changes=False)
    assert [day.said for day in trip.days] == ["30 Dec", "31 Dec", "1 Jan", "2 Jan"]
    assert len(trip.legs) == 2
    ends = [float(leg.outcomes["2p"].rows.soc[-1]) for _, leg in trip.legs]
    assert trip.legs[1][1].outcomes["2p"].store.soc_start == ends[0]


@pytest.fixture(scope="module")
def short():
    """A trip that falls short, in a van that has an alternator's charger."""
    return walk_trip(van(temp_heated=5.0).with_source(BELT), PLACES)


def test_what_is_said_to_carry_a_trip_was_walked_and_half_a_step_less_does_not(short):
    assert short.verdict.answer == "no"
    assert short.verdict.margin == pytest.approx(-short.cut_wh)
    said = {change.what for change in short.changes}
    hours = next(float(re.match(r"drive ([\d.]+) h a day", one)[1]) for one in said if one.startswith("drive"))
    assert _carries(short.rig, [_driving(stop, hours) for stop in PLACES])
    assert not _carries(short.rig, [_driving(stop, hours - 0.5) for stop in PLACES])
    watts, there = next(
        map(float, re.match(r"(\d+) W more on the roof \(it has (\d+) W", one).groups()) for one in said if " W " in one
    )
    assert _carries(_larger(short.rig, 1.0 + watts / there), PLACES)
    assert f"The least change that carries it: {short.changes[0].what}." in short.verdict.sentence
    assert [change.effort for change in short.changes] == sorted(change.effort for change in short.changes)


def test_days_that_fall_short_are_named_with_their_watt_hours(short):
    worst = max(short.short, key=lambda day: day.cut_wh)
    assert f"{len(short.short)} of 11 days fall" in short.verdict.sentence
    assert f"{worst.said} at {worst.stop}" in short.verdict.sentence
    # what is not served is what is cut, day by day, and the table adds up to it
    table = short.table().to_pandas()
    assert table["cut Wh"].sum() == pytest.approx(short.cut_wh)
    assert (table["loads Wh"] - table["cut Wh"]).sum() == pytest.approx(sum(day.served_wh for day in short.days))


def test_a_trip_that_is_carried_says_what_is_left_at_its_lowest():
    trip = walk_trip(van().changed(loads=(Load(name="lamp", p_load=5.0),)), (COAST,))
    assert trip.verdict.answer == "yes"
    store = trip.legs[0][1].outcomes["2p"].store
    lowest = min(float(leg.outcomes["2p"].rows.soc.min()) for _, leg in trip.legs)
    assert trip.reserve_wh == pytest.approx(store.energy_wh(lowest) - store.energy_wh(store.soc_flat))
    assert trip.changes == ()
    assert trip.moved == (4, 4)
    # where nobody looked for a change, nothing is said of any
    quick = walk_trip(van(), PLACES, changes=False)
    assert quick.changes is None
    assert "change" not in quick.verdict.sentence


def test_frost_that_stops_the_charge_is_told_and_warmth_is_a_change():
    strong = _larger(van().changed(loads=(Load(name="fan", p_load=12.0),)), 2.0).with_controller(i_pv_sc_max=60.0)
    trip = walk_trip(strong, (replace(NORTH, from_day="02-10", to_day="02-20"),))
    assert trip.verdict.answer == "no"
    assert trip.changes[0].what.startswith("keep the battery at 3 °C or above")
    assert "frost" in trip.verdict.caution


def test_where_frost_stops_every_charger_driving_is_said_to_need_a_warm_battery():
    harbour = replace(NORTH, from_day="11-10", to_day="11-15")
    trip = walk_trip(van(soc_start_pct=85.0).with_source(BELT), (harbour,))
    said = next(change.what for change in trip.changes if change.what.startswith("drive"))
    hours = float(re.match(r"drive ([\d.]+) h a day and keep the battery at 3 °C or above", said)[1])
    driven = [_driving(stop, hours) for stop in trip.stops]
    assert not _carries(trip.rig, driven)
    assert _carries(trip.rig.with_battery(temp_heated=3.0), driven)


def test_more_watts_than_the_controller_bears_are_said_to_need_another():
    weak = van(temp_heated=10.0).changed(loads=(Load(name="fan", p_load=30.0),))
    trip = walk_trip(weak, (replace(COAST, to_day="11-08"),))
    more = next(change.what for change in trip.changes if " W more on the roof" in change.what)
    watts, there = map(float, re.match(r"(\d+) W more on the roof \(it has (\d+) W", more).groups())
    assert ("on a controller rated for them" in more) is (refusal(_larger(weak, 1.0 + watts / there)) is not None)


def test_a_wiring_that_is_not_allowed_carries_no_trip():
    trip = walk_trip(example("puppet-stage").wired("4s"), (COAST,), changes=False)
    assert trip.verdict.answer == "no"
    assert "Not as it is wired." in trip.verdict.sentence


@pytest.mark.parametrize("kind", FOREIGN)
def test_foreign_rigs_are_answered(kind):
    trip = walk_trip(foreign(kind), (replace(COAST, to_day="11-02"), replace(HILLS, from_day="11-03", to_day="11-03")))
    assert trip.verdict.answer in ("yes", "no", "close")
    assert "None" not in str(trip.verdict)
    assert "nan" not in str(trip.verdict)
    assert len(trip.days) == 2


def test_hours_driven_and_shore_without_a_charger_for_them_are_told():
    stop = replace(COAST, drive_h=3.0, drive_daily_h=0.5, shore=True)
    said = walk_trip(van(), (stop,), changes=False).verdict.sentence
    # three days: 3 h on the first, half an hour on each of two
    assert "It drives 4 h, and none of its chargers is fed by the alternator." in said
    assert "It is plugged in to shore, and no charger for it is among its other chargers." in said
    both = van().changed(sources=(BELT, replace(BELT, name="campsite", kind="shore")))
    assert "no charger" not in walk_trip(both, (stop,), changes=False).verdict.sentence


def test_a_van_without_loads_is_not_said_to_be_carried_on_other_dates():
    trip = walk_trip(van().changed(loads=()), (COAST,))
    assert trip.verdict.answer == "close"
    assert trip.verdict.sentence == "No loads are described, so nothing can fall short."
    idle = walk_trip(van().changed(loads=(Load(name="lamp", p_load=0.0),)), (COAST,))
    assert idle.verdict.sentence.startswith("The loads draw 0 W")


def test_a_roof_plan_left_by_tilted_panels_is_said():
    trip = walk_trip(example("goat-cheese-van"), (replace(COAST, tilt_deg=20.0),), changes=False)
    assert "shadows of what stands on the roof are left out" in trip.verdict.basis


def test_stops_with_a_gap_or_an_overlap_between_them_are_refused():
    with pytest.raises(ValueError, match=r"coast ends on 11-04, and hills begins on 11-06; .* Begin it on 11-05\."):
        dates_of((COAST, replace(HILLS, from_day="11-06")))
    with pytest.raises(ValueError, match="begins on 11-03"):
        dates_of((COAST, replace(HILLS, from_day="11-03")))
    with pytest.raises(ValueError, match="up to 366"):
        dates_of((replace(COAST, from_day="01-01", to_day="12-31"), replace(HILLS, from_day="01-01", to_day="06-30")))


@pytest.mark.parametrize(
    ("typed", "wrong", "said"),
    [
        ('from_day = "11-02"', 'from_day = "2 Nov"', "Did you mean 11-02?"),
        ("shade_pct = 30", "shade_pct = 300", "a value from 0 to 100"),
        ('weather = "miami"', 'weather = "tampa"', "weather 'tampa' is not known"),
        ("drive_h = 4 ", "drive_h = 240 ", "Are these minutes?"),
        ('name = "hills on the way"', 'name = "hills"\nnights = 3', "No key nights; there are name, weather"),
        ('to_day = "11-09"', 'to_day = "11-08"', "Begin it on 11-09"),
        ("[[stops]]", "[[stop]]", "a trip has [[stops]] alone"),
        ("heading_deg = 90", "faces_deg = 90", "it needs tilt_deg beside it"),
    ],
)
def test_slips_in_a_file_of_stops_are_told(tmp_path, capsys, typed, wrong, said):
    text = (data_folder() / "trips" / "three-coasts.toml").read_text(encoding="utf-8")
    assert typed in text
    path = tmp_path / "trip.toml"
    path.write_text(text.replace(typed, wrong, 1 if typed != "[[stops]]" else -1), encoding="utf-8")
    assert main(["trip", str(path), "--rig", "bookmobile"]) == 2
    assert said in capsys.readouterr().err


def test_a_weather_file_beside_the_trip_is_found(tmp_path):
    hours = [
        f"2026-06-{day:02d} {hour:02d}:00,{max(0, 600 - 90 * abs(12 - hour))},18"
        for day in (1, 2)
        for hour in range(24)
    ]
    (tmp_path / "glen.csv").write_text("\n".join(["time,ghi,temp_air", *hours]) + "\n")
    (tmp_path / "trip.toml").write_text(
        '[[stops]]\nname = "glen"\nweather = "glen.csv"\nfrom_day = "06-01"\nto_day = "06-02"\n'
    )
    trip = walk_trip(van(), read_stops(tmp_path / "trip.toml"))
    assert len(trip.days) == 2
    assert trip.moved == (0, 0)  # a log of some days has no other dates


def test_a_day_that_the_weather_lacks_is_told():
    with pytest.raises(ValueError, match=r"07-01 to 07-09: 2 of 9 days are there|is not in this weather"):
        walk_trip(van(), (replace(COAST, weather="graz", from_day="07-01", to_day="07-09"),), changes=False)


def test_the_command_prints_verdict_and_days(capsys, tmp_path):
    table = tmp_path / "days.csv"
    assert main(["trip", "three-coasts", "--rig", "bookmobile", "--load", "8", "--csv", str(table)]) in (0, 1)
    said = capsys.readouterr().out
    assert "Does Bookmobile, two small panels carry this trip" in said
    assert sum(line.startswith(("2 Nov ", "15 Nov ")) for line in said.splitlines()) == 2
    assert len(table.read_text().splitlines()) == 16
    assert trips() == ("three-coasts",)


@pytest.mark.parametrize("phone", [True, False])
def test_words_of_the_chart_stand_apart_whatever_a_stop_is_called(short, phone):
    names = ["the lake behind the seven hills", "W" * 60, "x"]
    named = replace(short, stops=tuple(stop.changed(name=name) for stop, name in zip(PLACES, names, strict=True)))
    for trip in (short, named, walk_trip(van(), (replace(COAST, to_day="11-02"),), changes=False)):
        figure = trip.plot(phone=phone).get_figure(root=True)
        assert crowded(figure.axes[0]) == []
        plt.close(figure)


def test_a_chart_that_is_told_another_trip_shows_that_one(short):
    chart = TripChart()
    chart.update(short)
    bars, words = len(chart.ax.patches), [text.get_text() for text in chart.ax.texts]
    chart.update(walk_trip(short.rig, PLACES[:2], changes=False))
    chart.update(short)
    assert (len(chart.ax.patches), [text.get_text() for text in chart.ax.texts]) == (bars, words)
    # the fourth of a bar's five corners stands on its top, the first at its foot
    (bars,) = (patch for patch in chart.ax.patches if patch.get_label() == "cut")
    corners = bars.get_path().vertices.reshape(-1, 5, 2)
    cut = float((corners[:, 3, 1] - corners[:, 0, 1]).sum())
    assert cut == pytest.approx(short.cut_wh)


def test_a_trip_is_made_again_from_its_picture_with_all_it_printed(tmp_path, short):
    saved = save_chart(tmp_path / "trip.png", "trip", short)
    again = remake(read_chart(tmp_path / "trip.png"))
    assert again.recipe == saved
    assert again.differences == ()
    assert again.numbers["days short"] == f"{len(short.short)} of 11"
    assert again.numbers["change 1"] == short.changes[0].what
    # what the picture says of a day is what the table says of it
    worst = max(short.days, key=lambda day: day.cut_wh)
    assert f"{worst.cut_wh:.1f} Wh cut" in again.numbers[f"day {short.days.index(worst) + 1}, {worst.said}"]


def test_a_recipe_of_a_trip_opens_no_file_and_mixes_with_nothing_else(tmp_path, short):
    saved = json.loads(recipe_to_json(save_chart(tmp_path / "trip.png", "trip", short)))
    for change, said in (
        ({"requests": [{"stop": {**saved["requests"][0]["stop"], "weather": "/etc/passwd"}}]}, "No file is opened"),
        ({"kind": "run"}, "stops belong to the chart of a trip"),
        ({"requests": [*saved["requests"], {"day": {"weather": "miami", "day": "dull"}}]}, "stops belong to the chart"),
        ({"requests": saved["requests"] * 5}, "up to 12 make sense"),
    ):
        with pytest.raises(ValueError, match=said):
            recipe_from_json(json.dumps({**saved, **change}), "a post")


def test_a_trip_by_a_file_of_ones_own_says_why_its_chart_carries_no_recipe(tmp_path, capsys):
    hours = [
        f"2026-06-{day:02d} {hour:02d}:00,{max(0, 90 * (6 - abs(12 - hour)))},18"
        for day in (1, 2)
        for hour in range(24)
    ]
    (tmp_path / "glen.csv").write_text("\n".join(["time,ghi,temp_air", *hours]) + "\n")
    stops = '[[stops]]\nname = "glen"\nweather = "glen.csv"\nfrom_day = "06-01"\nto_day = "06-02"\n'
    (tmp_path / "trip.toml").write_text(stops)
    picture = tmp_path / "trip.png"
    assert main(["trip", str(tmp_path / "trip.toml"), "--rig", "bookmobile", "--quick", "--chart", str(picture)]) in (
        0,
        1,
    )
    assert (
        "glen has a weather file of your own, and stops go by name; send both files along." in capsys.readouterr().out
    )
    assert picture.exists()


HARD = (
    Stop(name="coast", weather="miami", from_day="12-01", to_day="12-02"),
    Stop(name="north", weather="sand-point", from_day="12-03", to_day="12-08", drive_h=2.0),
)
# a December by the harbour, where nearly every van falls short


@pytest.mark.parametrize("cold", [False, True], ids=["as it is", "cold battery"])
@pytest.mark.parametrize(
    "kind", ["twenty-four", "two circuits", "48 V", "plain switch", "half-cut", "unlike", "tilted"]
)
def test_every_foreign_rig_that_falls_short_is_told_which_days_by_how_much_and_what_would_carry_it(kind, cold):
    rig = foreign(kind)
    most = 0.5 * (rig.battery.capacity_ah or 100.0) * rig.battery.v_nominal / 24
    rig = rig.changed(loads=(Load(name="fan and heater", p_load=round(most, 1)),))
    rig = rig.with_battery(temp_offset=-8.0) if cold else rig
    trip = walk_trip(rig, HARD, changes=False)
    trip = replace(trip, changes=tuple(_some_changes(trip)))
    said = trip.verdict.sentence
    assert trip.short
    if refusal(rig) is not None:
        assert said.startswith("Not as it is wired.")
        return
    # the days by name and the watt-hours, and they are those of the table
    assert f"{len(trip.short)} of 8 days fall" in said
    assert all(day.said in said for day in trip.short[:4])
    worst = max(trip.short, key=lambda day: day.cut_wh)
    assert f"most is cut on {worst.said} at {worst.stop}" in said
    table = trip.table().to_pandas()
    assert (table["cut Wh"] > 1.0).sum() == len(trip.short)
    # the least change first, or that none of those tried is enough
    told = f"The least change that carries it: {trip.changes[0].what}." if trip.changes else "No single change of those"
    assert told in said
    if cold and any(float(leg.outcomes[rig.wiring_name].rows.temp_battery.min()) < 0 for _, leg in trip.legs):
        assert "frost" in trip.verdict.caution


def _some_changes(trip):
    """The kinds of change that take the fewest walks, sorted as all are."""
    found = [change for kind in (_warmed, _plugged_in, _less_use) for change in kind(trip)]
    return sorted(found, key=lambda change: change.effort)


def log_of(path, first: str, days: int, latitude: float, zone: str = "UTC") -> str:
    """Hours of a clear sky somewhere, in a file of one's own."""
    hours = pd.date_range(first, periods=24 * days, freq="h", tz=zone)
    sky = clear_sky(hours.tz_convert("UTC") + pd.Timedelta(minutes=30), (latitude, 0.0))
    rows = pd.DataFrame({"time": hours.map(lambda hour: hour.isoformat()), "ghi": sky["ghi"].to_numpy().round(1)})
    head = f"# latitude_deg: {latitude}\n# longitude_deg: 0\n"
    path.write_text(head + rows.assign(temp_air=5.0, wind_speed=1.0).to_csv(index=False))
    return str(path)


def test_a_trip_through_the_polar_night_brings_nothing_and_no_panel_is_said_to_help(tmp_path):
    night = log_of(tmp_path / "night.csv", "2026-12-18", 6, 72.0)
    stop = Stop(name="cape", weather=night, from_day="12-18", to_day="12-23")
    trip = walk_trip(van(temp_heated=10.0), (stop,))
    assert sum(day.used_wh for day in trip.days) == 0.0
    # 70 % of 100 Ah less 20 % are 50 Ah, some 655 Wh: good for one day of 408 Wh, and short on four or five
    assert 4 <= len(trip.short) <= 5
    assert not any("W more" in change.what or "wire it" in change.what for change in trip.changes)


def test_south_of_the_equator_tilted_panels_face_north(tmp_path):
    june = log_of(tmp_path / "south.csv", "2026-06-20", 3, -35.0)
    stop = Stop(name="bay", weather=june, from_day="06-20", to_day="06-22", tilt_deg=50.0)
    rig = van(soc_start_pct=20.0).changed(loads=())
    by_itself, north, south = (
        sum(day.sun_wh for day in walk_trip(rig, (one,), changes=False).days)
        for one in (stop, replace(stop, faces_deg=0.0), replace(stop, faces_deg=180.0))
    )
    assert by_itself == north > 2 * south


def test_a_file_of_two_years_is_walked_over_new_year_and_over_a_leap_day(tmp_path):
    winter = log_of(tmp_path / "winter.csv", "2023-12-28", 10, 45.0)
    trip = walk_trip(van(), (Stop(name="hut", weather=winter, from_day="12-30", to_day="01-02"),), changes=False)
    assert [day.said for day in trip.days] == ["30 Dec", "31 Dec", "1 Jan", "2 Jan"]
    leap = log_of(tmp_path / "leap.csv", "2024-02-26", 6, 45.0)
    rig = van().with_source(BELT)
    stop = Stop(name="hut", weather=leap, from_day="02-27", to_day="03-01", drive_daily_h=1.0)
    trip = walk_trip(rig, (stop,), changes=False)
    # the year of a trip has no leap day, a measured one has it: it is walked as the day that it is
    assert [day.said for day in trip.days] == ["27 Feb", "28 Feb", "29 Feb", "1 Mar"]
    assert [round(day.fed_wh) > 100 for day in trip.days] == [False, True, True, True], trip.text()


@pytest.mark.parametrize(("first", "turned"), [("2026-03-27", "29 Mar"), ("2026-10-23", "25 Oct")])
def test_a_log_whose_clock_is_put_forward_or_back_is_walked_day_by_day(first, turned, tmp_path):
    spring = log_of(tmp_path / "clock.csv", first, 5, 47.0, "Europe/Zurich")
    month = first[5:7]
    stop = Stop(name="lake", weather=spring, from_day=first[5:], to_day=f"{month}-{int(first[-2:]) + 3}")
    trip = walk_trip(van(soc_start_pct=20.0).changed(loads=()), (stop,), changes=False)
    assert len(trip.days) == 4
    offered = {day.said: day.sun_wh for day in trip.days}
    others = [watt_hours for said, watt_hours in offered.items() if said != turned]
    # a clear day is like its neighbours, whatever the clock does
    assert offered[turned] == pytest.approx(sum(others) / len(others), rel=0.03)
