"""Every study of the library has its command: used panels, wrong hills, string mates, places, made skies, sweeps."""

from __future__ import annotations

import io
import re
import sys

import pandas as pd
import pytest

from vanpower import (
    Days,
    MadeSky,
    PanelReadings,
    Parked,
    Place,
    Shade,
    Snapshot,
    check_used_panel,
    compare,
    example,
    sweep,
)
from vanpower.cli import main
from vanpower.cli.options import weather_of
from vanpower.sharing.recipe_line import recipe_in
from vanpower.studies.restarts import restart_test, two_hills
from vanpower.studies.roof import string_mates
from vanpower.weather.days import find_day

HALF_SHADED = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))


def answer(capsys, words: str, code: int = 0) -> str:
    """What a command prints, with its exit code."""
    assert main(words.split()) == code
    return " ".join(capsys.readouterr().out.split())


def slip(capsys, words: str) -> str:
    """The one line that a slip is told in."""
    assert main(words.split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    return err


# vanpower used


def test_used_panel_is_judged_by_the_readings_that_were_typed(capsys):
    out = answer(
        capsys, "used bookmobile --light 900 --temp 40 --voc 21.3 --dull-light 40 --dull-temp 15 --dull-voc 12", 1
    )
    readings = PanelReadings(light=900, temp_cell=40, v_oc=21.3, light_dull=40, temp_dull=15, v_oc_dull=12)
    test = check_used_panel(example("bookmobile").panels[0], readings)
    assert " ".join(f"{test.verdict}".split()) in out
    assert "NO Is thin 110 W sound? Leaky." in out


def test_used_panel_is_sound_only_where_every_test_was_made(capsys):
    sunny = "used bookmobile --panel P2 --light 900 --temp 40 --isc 5.65 --voc 21.2 --covered 5.6 5.6"
    assert "CHECK Is thin 110 W sound? Pass so far." in answer(capsys, sunny, 1)
    whole = f"{sunny} --dull-light 40 --dull-temp 15 --dull-voc 20.3"
    assert "YES Is thin 110 W sound? Pass." in answer(capsys, whole, 0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--light 900 --temp 40", "no reading was given; add --isc and --voc"),
        ("--light 900 --temp 40 --covered 5.6", "add --isc"),
        ("--light 90 --temp 40 --voc 20", "--light is 90; a value from 200 to 1500 W/m²"),
        ("--light 900 --temp 140 --voc 20", "--temp is 140 °C"),
        ("--light 900 --temp 40 --voc 20 --dull-voc 20", "--dull-voc is 20 V; volts in dull light and --dull-light"),
        ("--light 900 --temp 40 --voc 20 --dull-light 40", "--dull-voc"),
        ("--light 900 --temp 40 --voc 20 --panel P3", "--panel is 'P3'; the rig has P1 to P2"),
        ("--light 900 --temp 40 --isc 5 --covered 5 5 5", "--covered has 3 readings"),
        ("--light 900 --temp 40 --isc 5600", "--isc is 5600 A"),
    ],
)  # fmt: skip
def test_readings_that_make_no_sense_are_told_by_the_words_typed(capsys, words, said):
    assert said in slip(capsys, f"used bookmobile {words}")


# vanpower hill


def test_restart_by_hand_convicts_a_tracker(capsys):
    out = answer(capsys, "hill bookmobile --wiring 2s --before 39 35 --after 27 107", 1)
    assert "YES Is the tracker on the wrong hill?" in out
    # 107 / 35 = 3.06
    assert "for the light 3.1 times as much as before the restart" in out
    assert answer(capsys, "hill bookmobile --wiring 2s --before 27 107 --after 27 108").count("NO Is the tracker") == 1


def test_volts_alone_never_say_no_where_a_string_has_several_hills(capsys):
    # with two groups of four in the dark the better hill lies lower than the volts of the whole string
    for volts in (20, 27, 33, 36, 41):
        out = answer(capsys, f"hill bookmobile --wiring 2s --before {volts} 35", 1)
        assert "CHECK Is the tracker on the wrong hill?" in out
        assert "The restart test" in out


def test_light_tells_whether_anything_is_missing(capsys):
    # two panels of 110 W in 700 W/m² give some 144 W at 40 °C by their label: 220 W x 0.7 less heat
    few, all_of_it = (
        "hill bookmobile --wiring 2s --before 36 35 --light 700",
        "hill bookmobile --wiring 2s --before 36 140 --light 700",
    )
    assert "something shades it" in answer(capsys, few, 1)
    assert "NO Is the tracker on the wrong hill?" in answer(capsys, all_of_it, 0)


def test_restart_from_nothing_is_told_without_a_share(capsys):
    out = answer(capsys, "hill bookmobile --wiring 2s --before 39 0 --after 27 107", 1)
    assert "inf" not in out
    assert "39.0 V and 0 W before, 27.0 V and 107 W after. This tracker" in out


def test_log_with_panel_volts_is_looked_through_for_jumps(capsys, tmp_path):
    rows = ["0,35,500,39", "1,36,510,39", "2,108,520,27", "3,109,520,27", "4,107,510,27", "5,106,500,27"]
    (tmp_path / "van.csv").write_text("\n".join(["minutes,watts,light,panelvolts", *rows]), encoding="utf-8")
    assert "At 2 min it jumps from 39 to 27 V" in answer(
        capsys, f"hill bookmobile --wiring 2s --log {tmp_path / 'van.csv'}", 1
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "give --before with panel volts and watts, or --log"),
        ("--before 39 35 --log x.csv", "one of the two"),
        ("--before 39000 35", "panel volts is 39000 V"),
        ("--before 39 35 --light 500 600", "--light has 2 values for 1 readings"),
        ("--before 39 35 --after 27 90 --light 500", "one value for two readings"),
        ("--before 39 35 --circuit 2", "two small panels has one controller"),
        ("--before 39 35 --wiring all", "a tracker has one wiring"),
        ("--wiring 2s --before 39 35 --light 700 --shade P1/1=0.2", "is not half-cut"),
    ],
)
def test_hills_are_asked_for_in_words_that_make_sense(capsys, words, said):
    assert said in slip(capsys, f"hill bookmobile {words}")


# The restart test in every comparison with two hills


def test_two_hills_are_those_of_plain_arithmetic():
    # 2s of two panels with two groups each, one group of four in a fifth of the light. With it bypassed, three of four
    # groups of 9.25 V less a diode's 0.5 V: some 27 V at 700 W/m² x 5.92 A = 4.1 A; all four carry a fifth of the amps
    (found,) = two_hills(compare(example("bookmobile").wirings(), HALF_SHADED))
    assert found.wiring == "2s"
    assert found.v_best == pytest.approx(0.75 * 2 * 18.5 - 0.5, rel=0.06)
    assert found.p_best / found.v_best == pytest.approx(0.7 * 5.92, rel=0.03)
    assert found.p_other / found.v_other == pytest.approx(0.2 * 0.7 * 5.92, rel=0.08)


def test_restart_test_stands_in_compare_answer_and_roof_and_only_where_there_are_two_hills(capsys):
    said = " ".join(restart_test(compare(example("bookmobile").wirings(), HALF_SHADED)).split())
    for command in ("compare", "answer"):
        words = f"{command} bookmobile --light 700 --temp 30"
        assert said in answer(capsys, f"{words} --shade P1.1=0.2")
        assert "Two hills" not in answer(capsys, words)
    assert re.search(r"Two hills of power: 3s at \d\d:\d\d: ", answer(capsys, "roof goat-cheese-van --date 06-21"))


def test_readings_at_the_two_hills_are_what_the_restart_test_convicts(capsys):
    (found,) = two_hills(compare(example("bookmobile").wirings(), HALF_SHADED))
    typed = f"--before {found.v_other:.1f} {found.p_other:.1f} --after {found.v_best:.1f} {found.p_best:.1f}"
    assert "YES Is the tracker" in answer(capsys, f"hill bookmobile --wiring 2s {typed}", 1)


def test_restart_test_of_a_year_looks_at_its_brightest_part():
    shade = (Shade(panel=0, substring=0, lit=0.3),)
    (found,) = two_hills(compare({"2s": example("bookmobile").wired("2s")}, Days(day="all", shade=shade)))
    assert re.fullmatch(r"\d\d-\d\d \d\d:\d\d", found.time)


# String mates, places, made skies


def test_mates_of_compare_and_roof_are_those_of_the_library(capsys):
    mates = string_mates(example("puppet-stage"), Snapshot(light=800, temp_cell=25))
    out = answer(capsys, "compare puppet-stage --light 800 --mates")
    assert " ".join(mates.text().split()) in out
    assert "P1+P3 | P2+P4" in out
    roof = answer(capsys, "roof goat-cheese-van --date 06-21 --hour 9 --mates")
    there = string_mates(example("goat-cheese-van"), Parked(latitude_deg=50, day="06-21", hour=9, step_min=15))
    assert " ".join(there.text().split()) in roof


def test_a_grouping_as_printed_and_as_a_rig_file_has_it_can_be_typed(capsys):
    main(["compare", "puppet-stage", "--wiring", "P1+P3 | P2+P4", "2s2p (P1+P4 | P2+P3)", "[[1,2],[3,4]]"])
    out = capsys.readouterr().out
    assert re.findall(r"^(P1\+.*?)  ", out, re.MULTILINE) == ["P1+P3 | P2+P4", "P1+P4 | P2+P3", "P1+P2 | P3+P4"]


@pytest.mark.parametrize(
    ("places", "said"),
    [
        ("coast=-3,pass=-22", "(-22 °C, pass is the coldest of 2 places"),
        # coldest first light of the typical year at Greensboro, less 11 K
        ("greensboro,pass=-22", "(-27.7 °C, greensboro is the coldest of 2 places"),
    ],
)
def test_the_coldest_of_several_places_counts(capsys, places, said):
    assert main(["check", "bookmobile", "--wiring", "2s", "--coldest", places]) in (0, 1)
    assert said in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("coast=-3,-22", "'-22' names no place"),
        ("coast=-3,coast=-22", "coast twice"),
        ("coast=cold", "'cold' is not a number"),
        ("coast=-300", "--coldest is -300 °C"),
        ("coast=-3,5", "'5' names no place"),
    ],
)
def test_places_are_told_in_words_that_make_sense(capsys, words, said):
    assert said in slip(capsys, f"check bookmobile --coldest {words}")


def test_made_sky_is_a_weather_of_every_day(capsys):
    typed = "broken:latitude=47,longitude=8,clock=Europe/Zurich,seed=3,temp=11,wind=2,step=5"
    place = Place(latitude_deg=47, longitude_deg=8, time_zone="Europe/Zurich")
    sky = MadeSky(kind="broken", place=place, seed=3, temp_air=11, wind_speed=2, step_min=5)
    assert weather_of(typed) == sky
    day = find_day(sky, "06-21")
    for command in ("compare bookmobile", "day bookmobile", "answer bookmobile"):
        assert day.title in answer(capsys, f"{command} --wiring 2s --day 06-21 --weather {typed}")
    # half a sine of 12 h with a peak of 1000 W/m²: 1000 x 12 x 2 / pi = 7639 Wh/m²
    assert "7639 Wh/m²" in answer(capsys, "compare bookmobile --wiring 2s --day 06-21 --weather half-sine")


def test_made_sky_goes_with_the_post(capsys):
    words = "answer bookmobile --wiring 2s --day 06-21 --weather clear:latitude=47,longitude=8"
    assert main(words.split()) == 0
    (request,) = recipe_in(capsys.readouterr().out, "the post").requests
    assert request.weather == weather_of("clear:latitude=47,longitude=8")


@pytest.mark.parametrize(
    ("sky", "said"),
    [
        ("broken", "a broken sky needs to know where: --weather broken:latitude=47,longitude=8"),
        ("clear:latitude=47", "a place has both latitude and longitude"),
        ("clear:lattitude=47,longitude=8", "did you mean latitude?"),
        ("clear:latitude=147,longitude=8", "--weather clear: latitude is 147"),
        ("overcast:latitude=47,longitude=8,clearness=20", "clearness is 20", ),
        ("clear:latitude=47,longitude=8,clock=CEST", "--weather clear: clock is 'CEST'"),
        ("broken:latitude=47,longitude=8,seed=2.5", "seed is '2.5'; write a number"),
        ("half-sine:peak", "'peak' is none of its words"),
    ],
)  # fmt: skip
def test_made_sky_that_makes_no_sense_is_told_by_its_words(capsys, sky, said):
    assert said in slip(capsys, f"compare bookmobile --wiring 2s --day 06-21 --weather {sky}")


def test_made_sky_has_no_year(capsys):
    assert "a made sky is that of one date" in slip(capsys, "year bookmobile --weather clear:latitude=47,longitude=8")


# Logs of some hours, of several days, of no year


def log_of(path, days: int, hours: range) -> str:
    """A log of days from 1 June on, at some hours of each."""
    stamps = [(day, hour) for day in range(1, days + 1) for hour in hours]
    rows = "".join(f"2026-06-{day:02} {hour:02}:00,{max(0, 800 - 130 * abs(12 - hour))},20\n" for day, hour in stamps)
    path.write_text(f"time,ghi,temp_air\n{rows}", encoding="utf-8")
    return str(path)


def test_log_of_five_hours_is_no_day_with_battery_and_loads(capsys, tmp_path):
    hours = log_of(tmp_path / "hours.csv", 1, range(10, 15))
    said = slip(capsys, f"day bookmobile --day {hours}")
    assert "hours: the log runs from 10:00 to 15:00 only, with 540 W/m² at an end" in said
    assert "compare takes these hours as they are" in said
    assert "the log runs from 10:00 to 15:00 only" in slip(capsys, f"shortlist bookmobile --weather {hours}")
    assert "the log runs from 10:00 to 15:00 only" in answer(capsys, f"compare bookmobile --day {hours}")
    answer(capsys, f"day bookmobile --day {log_of(tmp_path / 'whole.csv', 1, range(24))}")


def test_several_days_behind_day_are_sent_to_weather(capsys, tmp_path):
    week = log_of(tmp_path / "week.csv", 7, range(24))
    said = slip(capsys, f"compare bookmobile --day {week}")
    assert "week.csv: this weather holds 7 days; say which, 06-01 to 06-07" in said
    assert f"Write: --weather {week} --day median" in said
    answer(capsys, f"compare bookmobile --weather {week} --day median")


def test_scattered_days_are_no_year(capsys, tmp_path):
    # seven measured days of 2017 in seven months would be told as months that carry the loads
    said = slip(capsys, "year bookmobile --weather graz")
    assert "Graz (measured) holds 7 days in 6 of 12 months, scattered over 300 days, and that is no year" in said
    assert "--weather graz --day all" in said
    week = log_of(tmp_path / "week.csv", 7, range(24))
    out = answer(capsys, f"year bookmobile --weather {week}")
    assert out.startswith(
        "MIND: week holds 7 days in 1 of 12 months. That is no year, and nothing is said of the rest."
    )


# vanpower sweep


def test_sweep_writes_the_table_of_the_library_and_goes_on_where_it_was(capsys, tmp_path):
    path, own = tmp_path / "sweep.csv", tmp_path / "own.csv"
    words = f"sweep bookmobile --wiring all --light 80 800 --day dull --out {path}"
    out = answer(capsys, words)
    rigs = {f"bookmobile {name}": rig for name, rig in example("bookmobile").wirings().items()}
    lights = {f"{light} W/m2": Snapshot(light=light, temp_cell=25) for light in (80, 800)}
    sweep(rigs, lights | {"sand-point dull": Days(day="dull")}, path=own)
    pd.testing.assert_frame_equal(pd.read_csv(path), pd.read_csv(own))
    best = compare(example("bookmobile").wirings(), lights["800 W/m2"])
    watts = best.outcomes[best.ranking[0]].energy_wh
    assert f"800 W/m2: bookmobile {best.ranking[0]} delivers most of 2 allowed, {watts:.0f} W" in out
    assert "6 rows in" in out
    before = path.read_bytes()
    assert answer(capsys, words) == out
    assert path.read_bytes() == before


def test_sweep_of_a_list_of_controllers_has_a_row_for_each(capsys, tmp_path):
    answer(capsys, f"sweep bookmobile --wiring 2s --light 800 --controllers --out {tmp_path / 's.csv'}")
    table = pd.read_csv(tmp_path / "s.csv")
    assert len(table) == table["controller"].nunique() > 4


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--out s.csv", "add --light 80 800 for moments, or --day dull bright"),
        ("--light 80 --out s.txt", "ends in .txt; write .csv"),
        ("--light 80 --out attic/s.csv", "make it first"),
        ("--light 80 --weather miami --out s.csv", "add --day dull"),
        ("bookmobile --light 80 --out s.csv", "named twice"),
        ("--day gloomy --out s.csv", "is not one; write dull"),
    ],
)
def test_sweep_is_asked_for_in_words_that_make_sense(capsys, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    assert said in slip(capsys, f"sweep bookmobile {words}")
    assert list(tmp_path.iterdir()) == []


def test_sweep_says_which_rows_were_not_worked_out(capsys, tmp_path):
    out = answer(capsys, f"sweep bookmobile --light 80 --shade P3=0.2 --out {tmp_path / 's.csv'}", 1)
    assert "1 were not worked out; the first: shade note P3: there are 2 panels" in out


# vanpower trial -


def test_trial_is_typed_at_the_terminal(capsys, monkeypatch):
    rows = "minutes wiring watts light\n0 2p 100 500\n5 2p 104 520\n20 2s 111 540\n25 2s 114 560\n"
    rows += "40 2p 116 580\n45 2p 120 600\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(rows))
    assert "typed rows: A-B-A, A is 2p and B is 2s" in answer(capsys, "trial -")
    monkeypatch.setattr(sys, "stdin", io.StringIO(" \n"))
    assert "no row was typed" in slip(capsys, "trial -")
    monkeypatch.setattr(sys, "stdin", None)
    assert "nothing can be typed here" in slip(capsys, "trial -")
