"""Charts of runs and the words and files of the command line for days and years."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from conftest import PANEL, tiny_rig
from matplotlib.patches import Rectangle

from vanpower import Days, Load, Rig, simulate
from vanpower.checks.charging import charge_settings
from vanpower.cli import main, year
from vanpower.figures.ladder import LadderChart, rungs_of
from vanpower.figures.months import MonthsChart, plot_months
from vanpower.figures.run import RunChart, run_figure
from vanpower.simulation.run import Run

DAY = Days(weather="greensboro", day="median")


def loaded(rig: Rig, p_load: float = 30.0, **battery: object) -> Rig:
    battery = {"capacity_ah": 100.0, **battery}
    return replace(rig, battery=replace(rig.battery, **battery), loads=(Load(name="fridge", p_load=p_load),))


@pytest.fixture(scope="module")
def day() -> Run:
    return simulate(loaded(tiny_rig((PANEL,) * 2, (0, 1))).wirings(), DAY)


# charts


def test_bars_of_a_ladder_go_down_without_a_gap_and_end_at_what_arrived(day):
    chart = LadderChart()
    chart.update(day)
    bars = [patch for patch in chart.ax.patches if isinstance(patch, Rectangle) and patch.get_label() == "2s"]
    rungs = rungs_of(day)
    assert len(bars) == len(rungs)
    level = bars[0].get_width()
    for bar, (_, _, sign) in zip(bars[1:-1], rungs[1:-1], strict=True):
        left, right = bar.get_x(), bar.get_x() + bar.get_width()
        assert level == pytest.approx(left if sign > 0 else right)
        level = right if sign > 0 else left
    # rungs too small to draw are left out, and no more than a tenth of a percent of them
    assert bars[-1].get_width() == pytest.approx(level, abs=0.1)


def test_ladder_chart_leaves_out_what_is_not_allowed_and_says_so():
    rig = loaded(tiny_rig((PANEL,) * 2, (0, 1)))
    circuit = rig.circuits[0]
    low = replace(rig, circuits=(replace(circuit, controller=replace(circuit.controller, v_pv_max=40.0)),))
    chart = LadderChart()
    chart.update(simulate(low.wirings(), DAY))
    assert "2s not allowed" in chart.title.replace("\n", " ")
    assert {patch.get_label() for patch in chart.ax.patches} == {"2p"}


def test_run_chart_shows_the_charge_from_its_start_to_the_end_of_the_day(day):
    chart = RunChart(wiring="2p")
    chart.update(day)
    charge = chart.right.lines[0].get_ydata()
    assert charge[0] == 70.0
    assert charge[-1] == pytest.approx(100 * day.outcomes["2p"].rows.soc[-1])
    assert chart.title.startswith("2p: ")


def test_charts_drawn_twice_hold_one_picture(day):
    for chart in (LadderChart(), RunChart(), MonthsChart()):
        counts = []
        for _ in range(3):
            chart.update(day)
            legend = chart.ax.get_legend()
            counts.append((len(chart.ax.patches), len(chart.ax.lines), len(legend.texts) if legend else 0))
        assert counts[0] == counts[1] == counts[2]


def test_months_chart_without_loads_says_so():
    rig = replace(loaded(tiny_rig((PANEL,), (0,))), loads=())
    ax = plot_months(simulate({"1s": rig}, DAY))
    assert "no loads are described" in ax.get_title(loc="left")


def test_run_figure_takes_the_days_for_one_month_and_the_months_for_more(day):
    left = run_figure(day).axes[0]
    assert left.get_ylabel().startswith("Watts")
    whole = simulate({"2s": next(iter(day.outcomes.values())).rig}, Days(day="all")).between("01-25", "02-05")
    assert run_figure(whole).axes[0].get_ylabel().startswith("Watt-hours a day")


# days out of a run


def test_days_out_of_a_run_begin_with_the_charge_that_was_left():
    rig = loaded(tiny_rig((PANEL,) * 2, (0, 1)))
    whole = simulate({"2s": rig}, Days(weather="greensboro", day="all"))
    week = whole.between("03-01", "03-07")
    assert len(week.dates) == 7
    before = whole.table("moments", "2s").to_pandas().loc["2001-02-28", "charge %"].iloc[-1]
    assert 100 * week.outcomes["2s"].store.soc_start == pytest.approx(before, abs=0.06)
    assert abs(week.ladder().slack("2s")) < 1e-9 * week.ladder().steps["2s"]["label"]
    with pytest.raises(ValueError, match="write month-day, 01-01 to 12-31"):
        whole.between("March", "April")


# charge settings


@pytest.mark.parametrize(
    ("chemistry", "v_nominal", "v_absorption", "v_float", "answer"),
    [
        ("lithium iron phosphate", 12, 14.2, 13.5, "yes"),
        ("lithium iron phosphate", 24, 28.0, 27.0, "yes"),  # common practice
        ("lithium iron phosphate", 12, 14.4, 13.8, "close"),
        ("lithium iron phosphate", 12, 14.8, 13.5, "no"),
        ("lead-acid", 12, 14.4, 13.65, "yes"),
        ("lead-acid", 12, 13.8, 13.6, "close"),
        ("lead-acid", 12, 15.3, 13.6, "no"),
    ],
)
def test_charge_settings_are_held_against_the_chemistry(chemistry, v_nominal, v_absorption, v_float, answer):
    rig = tiny_rig((PANEL,), (0,))
    battery = replace(
        rig.battery, chemistry=chemistry, v_nominal=v_nominal, v_now=13.0 * v_nominal / 12,
        v_absorption=v_absorption, v_float=v_float,
    )  # fmt: skip
    verdict = charge_settings(replace(rig, battery=battery))
    assert verdict.answer == answer
    assert (verdict.margin < 0) == (answer != "yes")


def test_charge_settings_without_a_float_take_the_usual_one_and_say_so():
    verdict = charge_settings(tiny_rig((PANEL,), (0,)))
    assert "13.5 V" in verdict.sentence
    assert "since none is given" in verdict.basis


# the command line


def test_day_prints_the_verdict_first_then_wirings_and_ladder(capsys):
    assert main(["day", "bookmobile", "--day", "dull", "--wiring", "all"]) == 0
    said = capsys.readouterr().out
    order = [said.index(words) for words in ("Does it carry", "wiring  used Wh", "label watts in this light")]
    assert order == sorted(order)


def test_day_takes_a_load_and_a_charge_in_place_of_the_rigs(capsys):
    assert main(["day", "puppet-stage", "--load", "20", "--charge", "55"]) == 0
    said = capsys.readouterr().out
    assert "480 Wh a day" in " ".join(said.split())
    assert "charge goes from 55 to" in " ".join(said.split())


def test_day_writes_every_moment_of_every_wiring(capsys, tmp_path):
    path = tmp_path / "day.csv"
    assert main(["day", "bookmobile", "--wiring", "all", "--csv", str(path)]) == 0
    table = pd.read_csv(path, comment="#")
    assert len(table) == 2 * 24
    assert set(table["wiring"]) == {"2s", "2p"}
    assert list(tmp_path.iterdir()) == [path]


def test_year_writes_every_day_and_prints_months(capsys, tmp_path):
    path, chart = tmp_path / "year.csv", tmp_path / "year.png"
    assert main(["year", "bookmobile", "--weather", "greensboro", "--csv", str(path), "--chart", str(chart)]) == 0
    said = capsys.readouterr().out
    assert "\nDec " in said
    assert "carries 408 Wh a day" in " ".join(said.split())
    assert len(pd.read_csv(path, comment="#")) == 365
    assert chart.stat().st_size > 10_000


def test_year_stopped_by_hand_prints_whole_days_and_ends_with_130(capsys, monkeypatch):
    def impatient(groups):
        yield next(iter(groups))
        raise KeyboardInterrupt

    monkeypatch.setattr(year, "bar", lambda what: impatient)
    monkeypatch.setattr("vanpower.simulation.run.CHUNK_EVEN", 1200)
    assert main(["year", "bookmobile"]) == 130
    said = " ".join(capsys.readouterr().out.split())
    assert "Stopped after 50 days; what is here is whole" in said
    assert "carries Jan" in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--csv", "table.txt"], "ends in .txt; write .csv"),
        (["--csv", "nowhere/table.csv"], "folder 'nowhere' is not there"),
        (["--charge", "170"], "--charge is 170 %"),
        (["--load", "-5"], "--load is -5 W"),
        (["--day", "13-40"], "day '13-40' is not in this weather"),
    ],
)
def test_day_refuses_bad_words_in_one_message(capsys, words, told):
    assert main(["day", "bookmobile", *words]) == 2
    caught = capsys.readouterr()
    assert told in caught.err
    assert caught.err.count("\n") == 1
    assert caught.out == ""


def test_table_is_never_written_over_somebody_elses_file(capsys, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("a,b\n1,2\n")
    assert main(["day", "bookmobile", "--csv", str(path)]) == 2
    assert path.read_text() == "a,b\n1,2\n"


def test_rig_without_capacity_is_told_what_to_write(capsys, tmp_path):
    from vanpower import example, rig_to_toml

    rig = example("bookmobile")
    path = tmp_path / "rig.toml"
    path.write_text(rig_to_toml(replace(rig, battery=replace(rig.battery, capacity_ah=None))), encoding="utf-8")
    assert main(["day", str(path)]) == 2
    assert "capacity_ah of lithium-12v-100ah is not given" in capsys.readouterr().err
