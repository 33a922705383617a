"""One number, one caveat, one answer: tables, sentences, charts and commands say the same of the same request.

What is held here is arithmetic (parts add up to their sum as both are printed) and agreement between outputs that are
made in different places; no number comes from elsewhere.
"""

from __future__ import annotations

import re
from copy import copy
from dataclasses import replace

import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.checks.caveats import short_of, short_word
from vanpower.checks.fuses import can_be_fused
from vanpower.checks.glance import subject
from vanpower.checks.registry import burning, check, refusal
from vanpower.cli import main
from vanpower.figures.comparison import comparison_figure
from vanpower.figures.names import finding
from vanpower.figures.run import run_figure
from vanpower.files.examples import examples
from vanpower.files.rig_files import example, rig_to_toml
from vanpower.results.numbers import apart, difference, known, known_in, more_than, watt_hours
from vanpower.results.verdict import LINE
from vanpower.rig import Battery, Cable, Climate, Controller, Days, Parked, Rig, Snapshot
from vanpower.sharing.saving import forum_answer
from vanpower.simulation.ladder import GAINS, STEPS, Ladder
from vanpower.simulation.run import simulate
from vanpower.studies.comparison import Comparison, Outcome, compare
from vanpower.studies.ranking import rank_wirings
from vanpower.studies.roof import FixtureCosts, fixture_costs
from vanpower.studies.shortlist import shortlist

amounts = st.floats(0.0, 2e6, allow_nan=False)
UNLIKE = replace(PANEL, name="60 cells", v_oc=37.3, v_mp=30.9, i_sc=9.0, i_mp=8.5, cells_in_series=60, substrings=3)
HALF_CUT = replace(UNLIKE, name="half-cut", branches=2)
SWITCH = Controller(name="plain switch", v_pv_max=60.0, i_charge_max=40.0, tracker="direct")
NOON = Snapshot(light=800.0, temp_cell=45.0)


def at_volts(rig: Rig, nominal: int) -> Rig:
    """The rig on a battery of so many volts, lithium iron phosphate at rest and in absorption."""
    scale = nominal / 12
    battery = Battery(name=f"{nominal} V", v_nominal=nominal, v_now=13.3 * scale, v_absorption=14.2 * scale)
    return replace(rig, battery=battery)


def on(rig: Rig, controller: Controller) -> Rig:
    """The rig with another controller on its first circuit."""
    return replace(rig, circuits=(replace(rig.circuits[0], controller=controller), *rig.circuits[1:]))


def foreign() -> dict[str, Rig]:
    """Rigs unlike those of the kit."""
    four, eight = (tiny_rig((PANEL,) * n, tuple(range(n))) for n in (4, 8))
    tall = Controller(name="250 V 60 A", v_pv_max=250.0, i_charge_max=60.0)
    hot = replace(at_volts(on(eight, tall), 48), climate=Climate(temp_coldest=-5.0, temp_cell_hottest=75.0))
    return {
        "one panel": tiny_rig((PANEL,), (0,)),
        "24 panels": on(tiny_rig((PANEL,) * 24, tuple(range(24))), tall),
        "48 V, hot": hot,
        "24 V": at_volts(four, 24),
        "plain switch": on(four, SWITCH),
        "half-cut": on(tiny_rig((HALF_CUT,) * 3, (0, 1, 2)), tall),
        "unlike": tiny_rig((PANEL, PANEL, UNLIKE), (0,), (1,), (2,)),
        "no fuse named": tiny_rig((replace(PANEL, i_max_fuse=None),) * 3, (0,), (1,), (2,)),
        "fused": tiny_rig((replace(PANEL, i_max_fuse=15.0),) * 3, (0,), (1,), (2,)),
        "no cable": replace(four, circuits=(replace(four.circuits[0], cable=Cable()),)),
    }


RIGS = {name: example(name) for name in examples()} | foreign()


# How much more


@given(amounts, amounts)
def test_no_gain_is_told_in_more_percent_than_somebody_can_picture(one, two):
    most, other = max(one, two), min(one, two)
    said = more_than(most, other, "2p")
    if percent := re.match(r"(\d+) %", said):
        assert int(percent[1]) <= 200
        assert most == pytest.approx(other * (1 + int(percent[1]) / 100), rel=0.01)
    if other < 0.005 * most and most >= 0.1:
        assert said == f"against {watt_hours(other)} from 2p"


def test_a_day_beside_a_wiring_that_sleeps_names_both_amounts_and_why():
    # one panel of 22 V never wakes a controller on 24 V, which takes 26.6 V and its start margin
    rig = at_volts(tiny_rig((PANEL, PANEL), (0, 1)), 24)
    rig = replace(rig, battery=replace(rig.battery, capacity_ah=100.0, soc_start_pct=30.0))
    run = simulate(on(rig, replace(rig.circuits[0].controller, i_pv_sc_max=None)).wirings(), Days(day="bright"))
    assert run.used_wh("2p") == 0.0
    sentence = run.verdict.sentence
    assert "against 0 Wh from 2p: open-circuit volts do not reach" in sentence
    assert not re.search(r"\d{4,} %", sentence)


def test_light_in_which_nothing_arrives_has_no_share_and_no_best():
    dark = Snapshot(light=0.0, temp_cell=20.0)
    rig = example("bookmobile")
    found = rank_wirings(rig, dark)
    assert found.verdict.sentence.startswith("Nothing arrives from any of them")
    assert (found.verdict.answer, found.verdict.margin) == ("no", 0.0)
    assert "%" not in found.text()
    costs = FixtureCosts({"3s": 0.0}, {"3s": 0.0}, {"flue": {"3s": 0.0}}, "W", "at night")
    assert costs.verdict.sentence.startswith("Nothing arrives in this light")


# A wiring in a list, and the checks of that wiring


def of_the_wiring(rig: Rig) -> set[str]:
    """What the checks of a rig say no to, as far as its wiring decides it."""
    rest = {"Cold charging", "Charge current", "Charge settings", "Labels", "Missing", "Touch"}
    return {subject(verdict).partition(",")[0] for verdict in check(rig) if verdict.answer == "no"} - rest


@pytest.mark.parametrize("name", RIGS)
def test_what_the_list_says_of_a_wiring_is_what_the_checks_say(name):
    rig = RIGS[name]
    found = rank_wirings(rig, NOON)
    for one in found.ranked:
        told = {verdict.question.partition(":")[0] for verdict in one.buy_first}
        told |= {"Hot floor"} if "hot roof" in one.short else set()
        told |= {"Plain switch"} if "plain switch" in one.short else set()
        said_no = of_the_wiring(one.rig)
        # a fuse that is only advised is told as well
        assert told - {"String fuse"} == said_no - {"String fuse"}, one.name
        assert "String fuse" in told or "String fuse" not in said_no, one.name
    for one in found.refused:
        assert one.refused.question.partition(":")[0] in of_the_wiring(one.rig), one.name


@pytest.mark.parametrize("name", RIGS)
def test_whatever_is_first_says_in_its_own_line_what_the_checks_say_no_to(name):
    rig = RIGS[name]
    answer = compare(rig.wirings(), NOON)
    rows = dict(zip(answer.ranking, answer.text().splitlines()[1:], strict=True))
    for wiring, line in rows.items():
        no = {subject(v).partition(",")[0] for v in check(answer.outcomes[wiring].rig) if v.answer == "no"}
        falls = no & {"Start", "Hot floor", "Plain switch"}
        marked = any(word in line for word in ("no wake", "hot: no", "wastes", "  no ", "asleep"))
        assert marked or not falls, line
        out = refusal(answer.outcomes[wiring].rig) is not None
        assert out == ("  no  " in line), line
    best = answer.outcomes[answer.ranking[0]]
    if best.refused is None and best.energy_wh > 0 and of_the_wiring(best.rig) & {"Hot floor", "Plain switch"}:
        first, _, then = answer.verdict.sentence.partition(". ")
        assert first.endswith(", but does not work for this van") or "(does not work)" in first
        assert short_of(best.rig) in then


def test_two_in_series_on_48_v_are_not_advised_over_a_wiring_that_also_suits_a_hot_roof():
    # at 75 °C, 50 K above the label, some -0.4 %/K leave 0.8 x 18 V = 14.4 V of a panel: 58 V of four in series, just
    # the 56.8 V of absorption and a volt; two in series 29 V never do
    found = rank_wirings(RIGS["48 V, hot"], NOON)
    assert [one.name for one in found.ranked] == ["4s2p", "8s"]
    assert "2s4p" in [one.name for one in found.refused]


@pytest.mark.parametrize(("name", "short"), [("cider-press", "3p"), ("24 panels", "24p"), ("plain switch", "2s2p")])
def test_wirings_that_do_not_suit_the_battery_stand_behind_all_that_do(name, short):
    unfit = [one.name for one in rank_wirings(RIGS[name], NOON).ranked if one.short]
    assert unfit == [short]
    assert [one.name for one in rank_wirings(RIGS[name], NOON).ranked][-1] == short


def test_sentence_names_a_wiring_that_brings_more_now_and_is_not_fit():
    low = replace(PANEL, v_oc=20.4, v_mp=16.4)
    rig = at_volts(tiny_rig((low,) * 6, (0, 1, 2), (3, 4, 5)), 24)
    rig = replace(on(rig, Controller(name="any", v_pv_max=250.0, i_charge_max=60.0, loss_ratio_pct=8.0)),
                  climate=Climate(temp_coldest=-5.0, temp_cell_hottest=80.0))  # fmt: skip
    found = rank_wirings(rig, Snapshot(light=300.0, temp_cell=5.0))
    short = [one for one in found.ranked if one.short]
    best = found.ranked[0]
    assert short
    assert not best.short
    ahead = [one for one in short if one.energy > best.energy]
    assert ahead
    for one in ahead:
        assert f"{one.name} delivers {known_in(one.energy, 'W')}, but {one.short}" in found.verdict.sentence


@pytest.mark.parametrize("name", RIGS)
def test_lines_of_the_list_are_no_wider_than_a_page(name, tmp_path, capsys):
    file = tmp_path / "rig.toml"
    file.write_text(rig_to_toml(RIGS[name]), encoding="utf-8")
    main(["check", str(file), "--list"])
    out = capsys.readouterr().out
    title = out.splitlines()[0]
    long = [line for line in out.splitlines() if len(line) > LINE and line != title]
    assert not long


def test_a_run_marks_in_its_table_what_falls_short_and_what_is_out():
    rig = RIGS["48 V, hot"]
    rig = replace(rig, battery=replace(rig.battery, capacity_ah=100.0))
    run = simulate(rig.wirings(), Days(day="dull"))
    lines = {line.split()[0]: line for line in run.text().splitlines()[1:]}
    for name in run.ranking:
        no = {subject(v).partition(",")[0] for v in check(run.outcomes[name].rig) if v.answer == "no"}
        mark = (
            "no wake"
            if "Start" in no
            else "hot: no"
            if "Hot floor" in no
            else "parts"
            if burning(run.outcomes[name].rig)
            else "%"
        )
        assert lines[name].endswith("NOT ALLOWED" if refusal(run.outcomes[name].rig) else mark)
        assert (f"{name} does not work for this van" in run.verdict.sentence) == bool(no & {"Start", "Hot floor"})


# Caveats


def caveats_of(comparison: Comparison) -> list[str]:
    """What a comparison rests on, besides battery volts and the name and watts of its best."""
    basis = comparison.verdict.basis.split("; ")
    return [re.sub(r"(?<=: ).* may deliver .* Wh, and the others move with it", "", part) for part in basis[1:]]


REQUESTS = {
    "dull": Days(day="dull"),
    "median": Days(day="median"),
    "measured minutes": Days(weather="graz", day="11-06"),
}


def broken_log(tmp_path, name: str = "log.csv") -> Days:
    """Three days of light by the hour at a place; a part of the second is missing, the steps waver on the third."""
    lines = ["# latitude_deg: 50", "# longitude_deg: 8", "# time_zone: Etc/GMT-1", "time,ghi,temp_air"]
    for day in (1, 2, 3):
        for hour in range(24):
            if day == 2 and 9 < hour < 14:
                continue
            light = max(0.0, 160.0 * np.sin(np.pi * (hour - 5) / 14)) if 5 < hour < 19 else 0.0
            late = 2 if day == 3 and hour % 5 == 0 else 0
            lines.append(f"2026-06-0{day} {hour:02d}:{late:02d},{light:.0f},14")
    path = tmp_path / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return Days(weather=str(path), day="all")


def everything_said(rigs: dict[str, Rig], request: Days) -> dict[str, str]:
    """What each output prints of one request."""
    answer, run = compare(rigs, request), simulate(rigs, request)
    picture = run_figure(run)
    rig = next(iter(rigs.values()))
    return {
        "day": str(run.verdict),
        "answer": forum_answer([answer]),
        "markdown answer": forum_answer([answer], markdown=True).replace("\\", ""),
        "chart of a run": picture.get_supxlabel(),
        "list": str(rank_wirings(rig, request).verdict),
        "shortlist": str(shortlist(rig, (rig.circuits[0].controller,), request).verdict),
    }


def tilted() -> Rig:
    """Two panels of which one is tilted, with labels that say nothing of heat."""
    bare = replace(PANEL, beta_voc_pct_per_k=None, gamma_pmp_pct_per_k=None, alpha_isc_pct_per_k=None)
    rig = tiny_rig((bare, replace(bare, name="tilted", tilt_deg=30.0)), (0, 1))
    return replace(rig, battery=replace(rig.battery, capacity_ah=100.0))


@pytest.mark.parametrize("which", ["dull", "median", "measured minutes", "log with a gap"])
def test_every_caveat_of_a_comparison_stands_in_every_other_answer(which, tmp_path):
    request = broken_log(tmp_path) if which == "log with a gap" else REQUESTS[which]
    rigs = tilted().wirings()
    caveats = caveats_of(compare(rigs, request))
    assert len(caveats) >= 2
    if which == "log with a gap":
        assert any("2026-06-02" in note or "left out" in note for note in caveats)
        assert any("estimated" in note for note in caveats)
    for output, said in everything_said(rigs, request).items():
        plain = "".join(said.split())
        for note in caveats:
            assert all("".join(part.split()) in plain for part in re.split(r"(?<=:) ", note)), (output, note)


def test_a_picture_of_several_days_rests_on_what_each_of_them_rests_on():
    rigs = example("bookmobile").wirings()
    days = [compare(rigs, Days(day=day)) for day in ("bright", "dull")]
    foot = " ".join(comparison_figure(days).get_supxlabel().split()).lower()
    for day in days:
        assert all(part.lower() in foot for part in day.verdict.basis.split("; "))
    assert foot.count("hourly means hide cloud edges") == 1
    assert foot.index(days[1].title.lower()) < foot.index("labels say little of dull light")


def test_dull_band_of_a_day_is_that_of_the_comparison_where_the_battery_takes_all():
    rig = replace(example("puppet-stage"), battery=replace(example("puppet-stage").battery, soc_start_pct=40.0))
    answer, run = compare({"2s2p": rig}, Days(day="dull")), simulate({"2s2p": rig}, Days(day="dull"))
    assert run.band_wh("2s2p") == pytest.approx(answer.outcomes["2s2p"].band_wh, rel=0.01)
    low, high = run.band_wh("2s2p")
    assert low < run.used_wh("2s2p") <= high
    assert f"may deliver {known(low)} to {known(high)} Wh" in run.verdict.basis


def test_costs_on_a_roof_rest_on_what_a_comparison_rests_on():
    rig = example("goat-cheese-van")
    nine = Parked(latitude_deg=47, day="06-21", hour=9)
    answer = compare({"3s": rig}, nine)
    assert answer.notes
    assert all(note in fixture_costs({"3s": rig}, nine).verdict.basis for note in answer.notes)


def test_charge_that_nobody_entered_is_not_called_entered():
    rig = example("bookmobile")
    told = simulate({"2p": rig}, Days(day="dull")).verdict.basis
    assert "as entered" not in told
    assert "70 %, which is taken where the file does not say (soc_start_pct)" in told
    typed = replace(rig, battery=replace(rig.battery, soc_start_pct=64.0))
    assert "64 % as entered" in simulate({"2p": typed}, Days(day="dull")).verdict.basis


# One rounding


def an_outcome(energy: float) -> Outcome:
    """What one rig delivered, with that many watts."""
    plain = compare({"2s": example("bookmobile")}, Snapshot(light=800.0, temp_cell=25.0)).outcomes["2s"]
    operation = replace(plain.operations[0], p_battery=np.array([energy]), held_by=plain.operations[0].held_by)
    model = copy(plain.model)
    vars(model)["operations"] = (operation,)
    return replace(plain, model=model)


def shown(text: str) -> float:
    """An amount as printed, in W or Wh."""
    number, _, unit = text.partition(" ")
    return float(number) * (1000.0 if unit == "kWh" else 1.0)


@given(amounts)
def test_an_amount_is_rounded_once_and_to_tenths_below_a_hundred(amount):
    said = known(amount)
    place = 1 if amount < 99.95 else 0 if amount < 9999.5 else 4 - len(str(round(amount)))
    assert float(said) == pytest.approx(amount, abs=0.5000001 * 10.0**-place)
    assert ("." in said) == (place == 1 and said != "0")


@settings(max_examples=200)
@given(amounts, amounts)
def test_table_sentence_and_chart_print_the_same_number(one, two):
    most, other = max(one, two), min(one, two)
    outcomes = {"2s": an_outcome(most), "2p": an_outcome(other)}
    answer = Comparison(outcomes, Snapshot(light=800.0, temp_cell=25.0), "here", ())
    cells = {line.split()[0]: line.split()[1] for line in answer.text().splitlines()[1:]}
    assert cells == {"2s": known(most), "2p": known(other)}
    if most >= 0.5:
        first = answer.verdict.sentence.partition(". ")[0]
        assert first.startswith(f"2s delivers {known(most)} W") or f"{known(most)} W in 2s" in first
        assert f"2s {known(most)} W" in finding(answer)
    behind = re.search(r"2p delivers (\S+) W less", answer.verdict.sentence)
    if behind:
        coarse = 0.05 if "." in cells["2s"] else 0.5 if most < 9999.5 else 0.5 * 10.0 ** (len(str(round(most))) - 4)
        assert float(cells["2s"]) - float(behind[1]) == pytest.approx(float(cells["2p"]), abs=coarse + 1e-6)


@given(amounts, amounts)
def test_a_difference_is_no_finer_than_what_it_is_between(one, two):
    most, other = max(one, two), min(one, two)
    digits = min(len(known(x).partition(".")[2]) if known(x) != "0" else 1 for x in (most, other))
    assert len(apart(most, other).partition(".")[2]) <= digits
    assert shown(difference(most, other, "W")) == float(apart(most, other))


@settings(max_examples=300)
@given(st.dictionaries(st.sampled_from([*GAINS, *STEPS]), st.floats(0.0, 500.0), min_size=3), st.floats(0.01, 3000.0))
def test_every_printed_ladder_adds_up_as_it_is_printed(parts, used):
    steps = dict.fromkeys((*GAINS, *STEPS), 0.0) | parts | {"used": used}
    label = used + sum(steps[loss] for loss in STEPS) - sum(steps[gain] for gain in GAINS)
    ladder = Ladder({"2p": steps | {"label": label}})
    if label < 1.0:
        return
    cells = [line[25:].split()[0] for line in ladder.text().splitlines()[1:]]
    assert sum(map(float, cells[:-1])) == pytest.approx(float(cells[-1]), abs=1e-6)
    column = ladder.table().to_pandas()["2p"]
    assert column.iloc[:-1].sum() == pytest.approx(column.iloc[-1], abs=1e-6)


@given(st.floats(0.0, 5000.0), st.floats(0.0, 1.0))
def test_what_everything_on_a_roof_costs_and_what_is_left_make_up_the_bare_roof(clear, share):
    full = clear * share
    costs = FixtureCosts({"3s": clear}, {"3s": full}, {"flue": {"3s": clear - full}}, "Wh", "today")
    bare, *_, together, left = (float(line.split()[-1]) for line in costs.text().splitlines()[1:])
    coarse = 0.5 if bare >= 100 > left else 0.05
    assert bare - together == pytest.approx(left, abs=coarse + 1e-6)
    if clear >= 0.1:
        assert f"everything together costs {difference(clear, full, 'Wh')}" in costs.verdict.sentence


def test_list_and_comparison_and_run_print_the_watts_of_a_moment_alike():
    rig = example("puppet-stage").wired("2s2p")
    answer, listed = compare(rig.wirings(), NOON), rank_wirings(rig, NOON)
    energy = answer.outcomes["2s2p"].energy_wh
    assert listed.text().split()[1] == answer.text().splitlines()[1].split()[1] == known(energy)
    assert f"2s2p delivers most, {known(energy)} W" in listed.verdict.sentence
    assert can_be_fused(rig, rig.circuits[0])


# What burns


@pytest.mark.parametrize("name", RIGS)
def test_watts_of_a_wiring_are_never_told_without_what_burns_in_it(name, tmp_path, capsys):
    """IEC 62548: strings that need a fuse may not be joined without; `compare`, the forum text and `check` say so."""
    rig = RIGS[name]
    found = compare(rig.wirings(), Snapshot(light=800.0, temp_cell=25.0))
    post = " ".join(forum_answer(found).replace("\n  ", " ").split())
    path = tmp_path / "rig.toml"
    path.write_text(rig_to_toml(rig), encoding="utf-8")
    assert main(["compare", str(path), "--temp", "25"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for wiring, outcome in found.outcomes.items():
        if outcome.refused is None and outcome.energy_wh > 0:
            for verdict in burning(outcome.rig):
                said = f"{wiring}, {verdict.question.partition(':')[0].lower()}: {' '.join(verdict.sentence.split())}"
                assert said in told
                assert said in post
                assert found.table().to_pandas().loc[wiring, "allowed"] in ("asleep", short_word(outcome.rig))
                assert short_word(outcome.rig).partition(",")[0] == "parts"


def test_wiring_without_a_fuse_that_it_needs_is_not_told_a_plain_yes():
    # (3 - 1) strings, 13.8 A into a label of 10 A (IEC 62548): two fuses first
    found = compare(example("seed-swap").wirings(), Snapshot(light=800.0, temp_cell=25.0))
    assert found.table().to_pandas().loc["3p", "allowed"] == "parts"
    assert found.table().to_pandas().loc["3s", "allowed"] == "yes"
    # 10.4 A a string wants over 15.6 A, the label allows 15 A: no legal fuse
    panel = replace(PANEL, i_sc=10.4, i_mp=9.8, i_max_fuse=15.0)
    barred = compare(tiny_rig((panel,) * 3, (0,), (1,), (2,)).wirings(), Snapshot(light=800.0, temp_cell=25.0))
    assert barred.table().to_pandas().loc["3p", "allowed"] == "no"
    assert not [one for one in rank_wirings(example("seed-swap"), NOON).refused if one.name == "3p"]
