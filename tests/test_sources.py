"""Other sources than the sun, loads that live, and mains loads: against plain arithmetic and published laws."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from foreign_rigs import FOREIGN, foreign

from vanpower import (
    Days,
    Load,
    Source,
    check,
    example,
    read_chart,
    read_rig,
    remake,
    rig_to_toml,
    save_chart,
    simulate,
)
from vanpower.checks.settings_card import settings_card
from vanpower.cli import main
from vanpower.files.rig_tables import rig_of
from vanpower.rig import Inverter, Rig, months_in, weekdays_in
from vanpower.simulation.needs import Clock, Going, asked_for, feeds_of, fridge_share

DULL = Days(weather="sand-point", day="dullest december")
FORTNIGHT = Days(weather="greensboro", day="07-01..07-14")
BELT = Source(name="belt", kind="alternator", i_charge_max=25.0, from_h=9.0, to_h=10.5)
SHORE = Source(name="campsite", kind="shore", i_charge_max=12.0, every_days=3)
PETROL = Source(name="petrol", kind="generator", p_charge_max=150.0, from_h=18.0, to_h=19.0, days="sun")
MAST = Source(name="mast", kind="wind", p_hourly=tuple(float(5 + hour % 4) for hour in range(24)))
ALL = (BELT, SHORE, PETROL, MAST)
LIVING = (
    Load(name="fridge", p_load=22.0, temp_inside=5.0),
    Load(name="lamps", p_load=15.0, from_h=18.0, to_h=23.0, months="october..march"),
    Load(name="oven", p_load=700.0, from_h=12.0, to_h=12.5, days="sun", mains=True),
    Load(name="camera", p_load=6.0, runs="driving"),
    Load(name="fan", p_load=4.0, runs="parked"),
)
UNIT = Inverter(name="unit", p_own=6.0, efficiency_pct=88.0)


def lively(rig: Rig) -> Rig:
    return rig.changed(sources=ALL, loads=LIVING, inverter=UNIT)


def hours_of(date: str, temp_air: float = 20.0, days: int = 1) -> Clock:
    first = np.datetime64(date, "h")
    return Clock.of(first + np.arange(24 * days), np.full(24 * days, temp_air), 1.0)


def closes(run, name: str) -> None:
    """Watt-hours in are watt-hours served, stored and lost, of sun and other sources together."""
    outcome = run.outcomes[name]
    rows = outcome.rows
    used, fed, served, lost = (
        float(w.sum()) * run.step_h for w in (rows.p_used, rows.p_fed, rows.p_served, rows.p_lost)
    )
    assert used + fed - served - lost == pytest.approx(outcome.stored_wh, abs=0.005 * (used + fed))
    assert outcome.p_each.sum() * run.step_h == pytest.approx(fed, rel=1e-9, abs=1e-9)
    assert sum(run.fed_wh(name).values()) == pytest.approx(fed)


def test_a_year_with_all_sources_closes_to_half_a_percent():
    rig = lively(example("bookmobile"))
    run = simulate({"2p": rig}, Days(weather="greensboro", day="all"))
    closes(run, "2p")
    assert set(run.fed_wh("2p")) == {"belt", "campsite", "petrol", "mast"}
    assert min(run.fed_wh("2p").values()) > 0
    # months and days tell the same watt-hours as the whole
    months = run.budget("2p").months
    assert sum(month.fed_wh * month.days for month in months) == pytest.approx(sum(run.fed_wh("2p").values()))
    assert run.table("days", "2p").to_pandas()["others Wh"].sum() == pytest.approx(sum(run.fed_wh("2p").values()))


@pytest.mark.parametrize("kind", FOREIGN)
def test_foreign_rigs_close_with_all_sources_and_say_who_fed(kind):
    rig = lively(foreign(kind))
    run = simulate({"it": rig}, FORTNIGHT)
    closes(run, "it")
    assert ("Besides the sun: belt" in run.verdict.sentence) is run.allowed("it")
    assert all(name in run.ladder().text() for name in ("+ belt", "+ mast", "= from sun and others"))


def test_an_alternator_brings_its_amps_times_the_battery_volts_times_the_hours():
    # 20 A for 2 h into an empty 100 Ah block between 12.8 and 13.6 V (lithium iron phosphate, 3.2 to 3.4 V a cell):
    # 512 to 544 Wh; the sun of the dullest day adds next to nothing
    rig = example("bookmobile").changed(loads=()).with_battery(soc_start_pct=30.0, temp_heated=10.0)
    fed = simulate(
        {"it": rig.with_source(Source(name="belt", kind="alternator", i_charge_max=20.0, from_h=8.0, to_h=10.0))}, DULL
    )
    assert 512 < fed.fed_wh("it")["belt"] < 544
    # 40 Ah of 100 are then in it, less the coulombic share
    assert 100 * float(fed.outcomes["it"].rows.soc[-1]) == pytest.approx(70.0, abs=2.5)


def test_amps_of_all_chargers_together_are_held_to_what_the_battery_accepts():
    rig = example("bookmobile").changed(loads=()).with_battery(soc_start_pct=20.0, temp_heated=10.0, i_accept_max=30.0)
    strong = rig.changed(sources=(
        Source(name="belt", kind="alternator", i_charge_max=40.0, from_h=0.0, to_h=1.0),
        Source(name="campsite", kind="shore", i_charge_max=20.0, from_h=0.0, to_h=1.0),
    ))  # fmt: skip
    run = simulate({"it": strong}, DULL)
    rows = run.outcomes["it"].rows
    # 30 A x 1 h of 100 Ah
    assert rows.soc[0] - 0.2 == pytest.approx(0.30 * 0.9962, abs=0.002)
    fed = run.fed_wh("it")
    # what is not taken is left by both in the same proportion, 40 to 20 A
    assert fed["belt"] / fed["campsite"] == pytest.approx(2.0, rel=1e-6)


def test_no_source_charges_a_locked_lithium_battery_but_loads_are_fed():
    cold = example("bookmobile").with_battery(soc_start_pct=50.0).changed(loads=(Load(name="fan", p_load=40.0),))
    shore = Source(name="campsite", kind="shore", i_charge_max=30.0)
    run = simulate({"it": cold.with_source(shore)}, Days(weather="sand-point", day="01-28"))
    rows = run.outcomes["it"].rows
    assert float(rows.temp_battery.max()) < 0.0
    assert float(rows.soc[-1]) <= 0.5 + 1e-9
    # 40 W for 24 h are 960 Wh, of which the sun brings a part
    assert run.fed_wh("it")["campsite"] + run.used_wh("it") == pytest.approx(24 * 40.0, rel=1e-6)
    assert run.verdict.answer == "yes"


def test_a_rig_without_sources_is_walked_as_before():
    plain = simulate({"2p": example("bookmobile")}, FORTNIGHT)
    none = simulate(
        {"2p": example("bookmobile").with_source(replace(BELT, months="january", i_charge_max=0.1))}, FORTNIGHT
    )
    for field in ("p_used", "p_served", "soc", "v_battery"):
        one, other = (getattr(run.outcomes["2p"].rows, field) for run in (plain, none))
        assert np.array_equal(one, other)
    assert "others" not in plain.text()


def test_fridge_follows_the_air_by_the_law_of_the_energy_label():
    # Commission Delegated Regulation (EU) 2019/2016, table 4: r_c = (T_a - T_c) / 20 with T_a = 24 °C; its values for
    # pantry, wine, fresh food, 2-star and 4-star compartments (fresh food +4 °C follows from the formula)
    published = {17.0: 0.35, 12.0: 0.60, 4.0: 1.00, -12.0: 1.80, -18.0: 2.10}
    for inside, r_c in published.items():
        # what a fridge takes in 24 °C, of what it takes 20 K above its inside
        assert float(fridge_share(np.array([24.0]), inside, inside + 20.0)[0]) == pytest.approx(r_c)


def test_loads_go_by_weekday_season_driving_and_air():
    # 21 June 2026 is a Sunday, by any calendar
    sunday, monday = hours_of("2026-06-21"), hours_of("2026-06-22")
    oven = Load(name="oven", p_load=100.0, days="sat, sun")
    assert [float(asked_for((oven,), None, day).sum()) for day in (sunday, monday)] == [2400.0, 0.0]
    heater = Load(name="heater", p_load=10.0, months="november..march")
    winter = hours_of("2026-01-05")
    assert [float(asked_for((heater,), None, day).sum()) for day in (sunday, winter)] == [0.0, 240.0]
    fridge = Load(name="fridge", p_load=20.0, temp_inside=5.0, temp_rated=25.0)
    at = [float(asked_for((fridge,), None, hours_of("2026-06-21", air))[0]) for air in (0.0, 15.0, 25.0, 35.0)]
    assert at == [0.0, 10.0, 20.0, 30.0]
    driving = Going(drive_h=(3.0,), drive_from_h=10.0, shore=False, day=0).told(sunday, sunday.date[0])
    camera, fan = Load(name="camera", p_load=6.0, runs="driving"), Load(name="fan", p_load=4.0, runs="parked")
    assert float(asked_for((camera,), None, driving).sum()) == 18.0
    assert float(asked_for((fan,), None, driving).sum()) == 4.0 * 21


def test_mains_loads_pay_for_the_inverter():
    # 700 W for half an hour at 88 % are 397.7 Wh, and 6 W all day 144 Wh
    day = hours_of("2026-06-21")
    oven = LIVING[2]
    assert float(asked_for((oven,), UNIT, day).sum()) == pytest.approx(350.0 / 0.88 + 144.0)
    # switched off between uses it draws in the one hour that the oven runs
    off = replace(UNIT, always_on=False)
    assert float(asked_for((oven,), off, day).sum()) == pytest.approx(350.0 / 0.88 + 6.0)
    with pytest.raises(ValueError, match=r"oven runs on mains volts; add an inverter"):
        example("bookmobile").with_load(oven)
    with pytest.raises(ValueError, match="oven takes 700 W, and unit gives 500 W"):
        example("bookmobile").changed(loads=(oven,), inverter=replace(UNIT, p_out_max=500.0))


def test_sources_run_by_hours_weekdays_months_and_every_so_many_days():
    week = hours_of("2026-06-15", days=7)  # a Monday
    rig = example("bookmobile").changed(sources=(BELT, SHORE, PETROL, MAST))
    belt, shore, petrol, mast = feeds_of(rig, week)
    # 9:00 to 10:30 is one whole hour and half of the next
    assert np.array(belt.amps)[8:12].tolist() == [0.0, 25.0, 12.5, 0.0]
    # on the last of every three days
    assert np.array(shore.amps).reshape(7, 24).max(axis=1).tolist() == [0, 0, 12, 0, 0, 12, 0]
    assert np.array(petrol.watts).reshape(7, 24).max(axis=1).tolist() == [0, 0, 0, 0, 0, 0, 150]
    assert np.array(mast.watts)[:4].tolist() == [5.0, 6.0, 7.0, 8.0]


def test_an_alternator_without_hours_charges_only_while_stops_drive():
    belt = replace(BELT, from_h=None, to_h=None)
    day = hours_of("2026-06-21")
    rig = example("bookmobile").with_source(belt)
    assert max(feeds_of(rig, day)[0].amps) == 0.0
    going = Going(drive_h=(2.0,), drive_from_h=23.0, shore=False, day=0)  # till midnight at the latest: from 22
    assert np.nonzero(feeds_of(rig, going.told(day, day.date[0]))[0].amps)[0].tolist() == [22, 23]


@pytest.mark.parametrize(
    ("text", "days"),
    [("", range(7)), ("sat, sun", (5, 6)), ("mon..fri", range(5)), ("Friday to Monday", (4, 5, 6, 0)), ("tue", (1,))],
)
def test_weekdays_as_people_write_them(text, days):
    assert weekdays_in(text) == frozenset(days)
    assert weekdays_in("weekend") is None
    assert months_in("november..february") == {10, 11, 0, 1}
    assert months_in("dec") == {11}


def test_sources_and_inverter_are_written_to_files_and_read_back(tmp_path):
    rig = lively(example("goat-cheese-van"))
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(rig), encoding="utf-8")
    assert read_rig(path) == rig
    # a rig without them has no such tables in its file
    assert not any(word in rig_to_toml(example("bookmobile")) for word in ("[[sources]]", "[inverter]"))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('sources = [{ name = "belt", kind = "b2b", i_charge_max = 30 }]', 'starter battery is "alternator"'),
        (
            'sources = [{ name = "belt", kind = "alternator" }]',
            "i_charge_max is missing; write i_charge_max, p_charge_max or 24 values",
        ),
        ('sources = [{ name = "a", kind = "shore", i_charge_max = 9, from_h = 8 }]', "from_h and to_h go together"),
        ('sources = [{ name = "a", kind = "wind", p_hourly = [5, 6] }]', "it is a list of 24 watts"),
        ('sources = [{ name = "a", kind = "shore", i_charge_max = 9, months = "winter" }]', "months make sense"),
        ("inverter = { p_own = 8, efficiency_pct = 0.9 }", "90 % is 90"),
        ('loads = [{ name = "x", p_load = 5, runs = "drive" }]', 'While the van drives is "driving"'),
        ('loads = [{ name = "x", p_load = 5, temp_inside = 5, temp_rated = 77 }]', "Is this Fahrenheit?"),
    ],
)
def test_slips_of_sources_and_living_loads_are_told(line, said):
    text = FOREIGN["one panel"].replace("[[circuits]]", f"{line}\n\n[[circuits]]", 1)
    with pytest.raises(ValueError, match=r"van\.toml, line") as refused:
        rig_of(text, "van.toml")
    assert said in str(refused.value)


def test_the_check_of_the_batterys_current_counts_other_chargers_that_run_together():
    # 100 Ah of lithium iron phosphate take 50 A (0.5 x Ah); the sun's 20 A and a belt's 40 A are 60 A
    rig = example("bookmobile")
    assert check(rig)["charge current"].answer == "yes"
    belt, shore = replace(BELT, i_charge_max=40.0), replace(SHORE, i_charge_max=15.0)
    both = check(rig.changed(sources=(belt, shore)))["charge current"]
    assert both.answer == "no"
    assert "belt up to 40 A more at the same time" in both.sentence
    assert "Set the limits of controllers and other chargers lower." in both.sentence
    # at a cloud's edge 20 A, and 15 A of shore: 35 of 50 A; shore and belt never add to each other
    assert check(rig.with_source(shore))["charge current"].margin == pytest.approx(50.0 - 20.0 - 15.0)
    # 600 W into 12.9 V are more than 46 A: a generator told in watts counts as well
    petrol = replace(PETROL, p_charge_max=600.0)
    assert check(rig.with_source(petrol))["charge current"].answer == "no"


@pytest.mark.parametrize("kind", FOREIGN)
def test_checks_of_foreign_rigs_take_other_sources(kind):
    assert "None" not in str(check(foreign(kind).changed(sources=ALL))["charge current"])


def test_weeks_tell_the_same_watt_hours_as_months_and_days():
    run = simulate({"2p": example("bookmobile").with_source(BELT)}, Days(weather="greensboro", day="all"))
    weeks, months = run.weeks("2p").months, run.budget("2p").months
    for what in ("could_wh", "used_wh", "fed_wh", "load_wh", "served_wh"):
        whole = [sum(getattr(one, what) * one.days for one in spans) for spans in (weeks, months)]
        assert whole[0] == pytest.approx(whole[1])
    assert (len(weeks), sum(week.days for week in weeks)) == (52, 365)
    # by hand: the first week of April is days 91 to 97 of 365, the fourteenth
    offered = run.table("days", "2p").to_pandas()["sun Wh"].to_numpy()
    assert weeks[13].could_wh == pytest.approx(offered[91:98].mean())


def test_a_year_says_its_weeks_when_asked(capsys):
    assert main(["year", "bookmobile", "--weather", "greensboro", "--weeks"]) == 0
    said = capsys.readouterr().out
    carried = re.search(r"(\d+) of 52 weeks carry the loads", said)
    strip = next(line for line in said.splitlines() if line.startswith("Jan ") and "Feb" in line)
    assert strip.count("#") == int(carried[1])
    assert strip.count("#") + strip.count("-") == 52


def test_other_chargers_of_a_file_are_to_be_set_alike_whoever_says_it():
    rig = example("bookmobile").changed(sources=(BELT, SHORE))
    assert "Set the other chargers alike (belt, campsite)." in check(rig)["charge settings"].sentence
    assert "belt, campsite" in settings_card(rig).text()
    # a note in the battery's own words goes first, as before
    noted = rig.with_battery(other_chargers="mains charger, 14.6 V")
    assert "Set the other chargers alike (mains charger, 14.6 V)." in check(noted)["charge settings"].sentence


def test_a_run_with_other_sources_is_made_again_from_its_picture(tmp_path):
    run = simulate({"2p": lively(example("bookmobile"))}, Days(weather="greensboro", day="dull"))
    saved = save_chart(tmp_path / "run.png", "run", run)
    again = remake(read_chart(tmp_path / "run.png"))
    assert again.recipe == saved
    assert again.differences == ()


def test_an_alternator_without_hours_is_told_why_it_gave_nothing_on_a_day():
    belt = replace(BELT, from_h=None, to_h=None)
    said = simulate({"2p": example("bookmobile").with_source(belt)}, DULL).verdict.sentence
    assert "belt 0 Wh" in said
    assert "belt has no hours: a day says nothing of driving. Say from when to when it runs, or ask for a trip." in said
    with_hours = simulate({"2p": example("bookmobile").with_battery(temp_heated=5.0).with_source(BELT)}, DULL)
    assert "has no hours" not in with_hours.verdict.sentence
