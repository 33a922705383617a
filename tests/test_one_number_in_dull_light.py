"""In dull light one number stands in sentences, tables, bars, months, lists and files: the middle of measured panels.

That outputs agree is held by arithmetic; that the number is the right one by modules measured at NREL and Sandia
(Marion et al., NREL/TP-5200-61610, 2014, and a Sandia matrix; see `reference/lowlight_modules.json`).
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import matplotlib.pyplot as plt
import numpy as np
import pytest
from conftest import PANEL, tiny_rig
from test_dull import KNOWN, label, matrix
from test_said_alike import RIGS

from vanpower.components.controllers import BEST, CLIPPED, OWN_DRAW, Operation, weakened
from vanpower.components.low_light import BRIGHT_ENOUGH, MIDDLE, best_watts, dull_middle, with_leak
from vanpower.figures.comparison import comparison_figure, plot_comparison
from vanpower.figures.day import plot_day
from vanpower.figures.ladder import ladder_finding
from vanpower.figures.months import plot_months
from vanpower.figures.names import finding
from vanpower.figures.power import plot_power
from vanpower.figures.run import plot_run
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.model.losses import LOSSES, WEAK
from vanpower.results.numbers import known, known_in, watt_hours
from vanpower.rig import Controller, Days, Load, Rig, Shade, Snapshot
from vanpower.sharing.of_comparisons import numbers_of
from vanpower.sharing.saving import forum_answer
from vanpower.simulation.run import Run, simulate
from vanpower.studies.comparison import Comparison, compare
from vanpower.studies.ranking import rank_wirings
from vanpower.studies.shortlist import shortlist
from vanpower.studies.sweeps import sweep
from vanpower.studies.uncertainty import UNKNOWNS, how_sure

LIGHTS = [50.0, 100.0, 200.0, 250.0]
DAYS = ["dull", "dull november", "median"]


def read(rig: Rig) -> Rig:
    """The rig with every panel read in dull light."""
    return replace(rig, panels=tuple(replace(with_leak(p, "old"), read_by="watts") for p in rig.panels))


def wired(rig: Rig) -> dict[str, Rig]:
    """The rig as it is wired."""
    return {rig.circuits[0].wiring.name: rig}


# One number


def one_number(answer: Comparison) -> None:
    """The best of a comparison, wherever a person reads it."""
    best = answer.ranking[0]
    outcome, unit = answer.outcomes[best], answer.unit
    said = known_in(outcome.energy_wh, unit)
    if outcome.refused is not None or outcome.energy_wh < 1.0:
        return
    first = answer.verdict.sentence.partition(". ")[0]
    alone = rf"{re.escape(best)} delivers (about )?{re.escape(said)}\b"
    assert re.search(rf"{alone}|: (about )?{re.escape(said)} in {re.escape(best)}\b", first)
    row = answer.text().splitlines()[1]
    assert row.startswith(best)
    assert row.removeprefix(best).split()[0] == known(outcome.energy_wh)
    assert answer.table().to_pandas().loc[best, unit] == outcome.energy_wh
    assert f"{best} {said}" in finding(answer)
    assert numbers_of([answer])[best] == f"{outcome.energy_wh:.1f} {unit}"
    low, high = outcome.band_wh
    assert low <= outcome.energy_wh <= high


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("name", RIGS)
def test_sentence_table_title_and_recipe_give_a_dull_moment_one_number(name, light):
    answer = compare(wired(RIGS[name]), Snapshot(light=light, temp_cell=10.0))
    one_number(answer)
    for outcome in answer.outcomes.values():
        lost = sum(outcome.lost_wh(loss) for loss in LOSSES)
        assert float(outcome.p_panels.sum()) == pytest.approx(outcome.energy_wh + lost, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("name", examples())
def test_sentence_table_title_and_recipe_give_a_day_one_number(name, day):
    answer = compare(wired(example(name)), Days(day=day))
    one_number(answer)
    outcome = answer.outcomes[answer.ranking[0]]
    lost = sum(outcome.lost_wh(loss) for loss in LOSSES)
    assert float(outcome.p_panels.sum()) * outcome.step_h == pytest.approx(outcome.energy_wh + lost, rel=1e-9)


@pytest.mark.parametrize("asked", [Snapshot(light=100.0, temp_cell=10.0), Days(day="dull")])
def test_bars_curves_list_shortlist_sweep_and_forum_text_have_the_number_of_the_sentence(asked):
    rig = example("bookmobile")
    answer = compare(rig.wirings(), asked)
    best = answer.ranking[0]
    brings, unit = answer.outcomes[best].energy_wh, answer.unit
    said = known_in(brings, unit)
    assert f": about {said} in {best}" in answer.verdict.sentence.partition(". ")[0]
    assert f"{known(brings)} {unit}" in rank_wirings(rig, asked).text()
    assert f"{best} delivers most, about {said} (" in rank_wirings(rig, asked).verdict.sentence
    bars = plot_comparison(answer)
    lines = [text.get_text().splitlines()[0].partition(" (")[0] for text in bars.texts if text.get_text()]
    assert f"{said} into the battery" in lines
    assert brings in [pytest.approx(bar.get_width()) for bar in bars.patches]
    assert any(WEAK in text.get_text() for text in bars.get_legend().get_texts())
    assert sweep({best: answer.outcomes[best].rig}, {"asked": asked}).rows[0]["Wh"] == pytest.approx(brings)
    told = forum_answer([answer])
    assert f": about {said} in {best}" in " ".join(told.split())
    assert re.search(rf"^{best} +{re.escape(known(brings))} ", told, re.MULTILINE)
    comparison_figure([answer])
    if isinstance(asked, Days):
        assert f"{best} {said}" in plot_day(answer).get_title(loc="left")
        offers = shortlist(rig, [rig.circuits[0].controller], asked)
        assert f"it delivers {said} a day" in offers.verdict.sentence
        assert offers.table().to_pandas().loc[offers.now.name, "Wh a day"] == pytest.approx(brings)
    plt.close("all")


def test_curve_of_a_dull_moment_peaks_where_the_bars_begin():
    # panels as strong as their labels' curve would peak 12 % higher
    rig = example("bookmobile")
    answer = compare({"2p": rig}, Snapshot(light=100.0, temp_cell=10.0))
    outcome = answer.outcomes["2p"]
    top = max(float(line.get_ydata().max()) for line in plot_power(answer).lines if len(line.get_ydata()) > 50)
    assert top == pytest.approx(float(outcome.operations[0].p_best[0]), rel=1e-4)
    assert top < 0.95 * float(outcome.by_label[0].p_best[0])
    plt.close("all")


def one_number_of_days(run: Run) -> None:
    """The best of a run, wherever a person reads it."""
    best = run.ranking[0]
    used, said = run.used_wh(best), watt_hours(run.used_wh(best))
    assert re.search(rf"{re.escape(best)} delivers (about )?{re.escape(said)}\b", run.verdict.sentence)
    assert run.text().splitlines()[1].removeprefix(best).split()[0] == known(used)
    assert run.table().to_pandas().loc[best, "used Wh"] == used
    assert run.ladder().table().to_pandas()[best]["= to loads and battery"] == round(used, 1)
    assert abs(run.ladder().slack(best)) < 1e-6 * max(used, 1.0)
    assert float(run.table("days", best).to_pandas()["used Wh"].sum()) == pytest.approx(used)
    assert float(run.table("moments", best).to_pandas()["used W"].sum()) * run.step_h == pytest.approx(used)
    months = run.budget(best).months
    assert sum(month.used_wh * month.days for month in months) == pytest.approx(used)
    assert plot_run(run).get_title(loc="left").replace("\n", " ").startswith(f"{best}: {said} ")
    share = 100 * used / run.ladder().steps[best]["label"]
    assert ladder_finding(run).startswith(f"{best}: {share:.0f} % of the label's watt-hours arrive")
    heights = [bar.get_height() for bars in plot_months(run).containers[:2] for bar in bars]
    assert months[0].used_wh in [pytest.approx(height) for height in heights]
    assert float(run.outcomes[best].rows.soc[-1]) >= 0.0
    plt.close("all")


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("name", examples())
def test_sentence_table_ladder_months_and_files_give_days_one_number(name, day):
    rig = example(name)
    rig = replace(rig, battery=replace(rig.battery, capacity_ah=rig.battery.capacity_ah or 200.0))
    one_number_of_days(simulate(wired(rig), Days(day=day)))


def test_battery_is_filled_by_what_is_reported():
    """49.3 Wh are told and charge the battery; the label's 61.3 Wh would leave it 1 % fuller."""
    rig = replace(example("bookmobile"), loads=(Load(name="fridge", p_load=20.0),))
    run = simulate({"2p": rig}, Days(day="dull"))
    outcome = run.outcomes["2p"]
    drawn = float(outcome.rows.p_served.sum() - outcome.rows.p_used.sum() + outcome.rows.p_lost.sum()) * run.step_h
    assert outcome.stored_wh == pytest.approx(-drawn, rel=0.02)
    assert (round(run.used_wh("2p"), 1), round(run.label_wh("2p"), 1)) == (49.3, 61.3)


# The right number


def test_mean_of_measured_modules_is_met_in_every_light_and_by_labels_alone_is_not():
    found: dict[float, list[tuple[float, float]]] = {}
    for name in KNOWN:
        table, panel = matrix(name), label(name)
        at25 = (table["temperature"] == 25) & (table["irradiance"] <= 1000)
        light, measured = table["irradiance"][at25], table["p_mp"][at25]
        by_label = best_watts(panel, light, 25.0)
        for at, share, real in zip(light, dull_middle([panel], light), measured / by_label, strict=True):
            found.setdefault(float(at), []).append((share / real - 1, 1 / real - 1))
    assert {100.0, 200.0, 400.0, 600.0, 800.0, 1000.0} <= set(found)
    means = {at: np.mean(errors, axis=0) for at, errors in found.items()}
    assert all(abs(ours) < 0.015 for ours, _ in means.values())
    assert means[100.0][1] > 0.12
    assert means[200.0][1] > 0.07


@pytest.mark.parametrize("light", [100.0, 200.0])
def test_watts_that_arrive_are_those_of_the_middle_panel_through_the_same_controller(light):
    """By hand: the converter takes its share of the middle panel's watts, and the own draw stays what it is."""
    rig = tiny_rig((PANEL,), (0,))
    arrives = compare({"1s": rig}, Snapshot(light=light, temp_cell=25.0)).outcomes["1s"]
    ideality, leak = MIDDLE
    middle = replace(PANEL, ideality=ideality, r_leak=PANEL.v_mp / PANEL.i_mp / leak)
    share = float((best_watts(middle, light, 25.0) / best_watts(PANEL, light, 25.0))[0])
    own = rig.circuits[0].controller.p_own
    assert share < 0.95
    assert arrives.energy_wh == pytest.approx(share * (arrives.label_wh + own) - own, rel=1e-3)
    assert arrives.lost_wh(WEAK) == pytest.approx((1 - share) * float(best_watts(PANEL, light, 25.0)[0]), rel=1e-3)


def test_panels_that_were_read_and_full_sun_have_no_such_loss():
    rig = example("bookmobile")
    for one, light in ((read(rig), 60.0), (read(rig), 300.0), (rig, BRIGHT_ENOUGH), (rig, 1000.0)):
        for outcome in compare(one.wirings(), Snapshot(light=light, temp_cell=15.0)).outcomes.values():
            assert outcome.lost_wh(WEAK) == 0.0
            assert outcome.energy_wh == outcome.label_wh
    run = simulate({"2p": read(rig)}, Days(day="dull"))
    assert run.ladder().steps["2p"][WEAK] == 0.0
    assert run.label_wh("2p") == pytest.approx(run.used_wh("2p"))


def test_one_panel_read_and_one_not_lose_half_of_what_two_unread_ones_do():
    both = tiny_rig((PANEL, PANEL), (0,), (1,))
    half = replace(both, panels=(PANEL, replace(PANEL, read_by="watts", ideality=1.2)))
    dim = Snapshot(light=100.0, temp_cell=15.0)
    shares = [
        outcome.lost_wh(WEAK) / float(outcome.p_panels.sum())
        for rig in (both, half)
        for outcome in compare({"2p": rig}, dim).outcomes.values()
    ]
    assert shares[1] == pytest.approx(shares[0] / 2, rel=0.01)


@pytest.mark.parametrize("light", [*LIGHTS, 450.0])
@pytest.mark.parametrize("name", RIGS)
def test_wirings_stand_in_the_order_in_which_labels_put_them(name, light):
    shade = (Shade(panel=0, substring=0, lit=0.3),)
    for asked in (Snapshot(light=light, temp_cell=10.0), Snapshot(light=light, temp_cell=10.0, shade=shade)):
        answer = compare(RIGS[name].wirings(shade=asked.shade), asked)
        allowed = [answer.outcomes[one] for one in answer.ranking if answer.outcomes[one].refused is None]
        for first, second in pairwise(allowed):
            # the own draw does not shrink with the panels, so wirings within a hundredth of a watt may change places
            assert first.label_wh > second.label_wh - 0.01


def test_sureness_of_a_lead_is_asked_of_the_same_watts():
    rig = example("bookmobile")
    dim = Snapshot(light=100.0, temp_cell=10.0)
    answer = compare(rig.wirings(), dim)
    first, second = (answer.outcomes[name].energy_wh for name in answer.ranking)
    cable = next(unknown for unknown in UNKNOWNS if unknown.name == "cable length")
    found = how_sure(rig.wirings(), dim, samples=4, unknowns=(replace(cable, low=1.0, high=1.0 + 1e-9),))
    assert np.median(found.leads) == pytest.approx((first - second) / first, rel=1e-6)


# Limits and own draw


def operation(p: float, own: float, limit: float) -> Operation:
    """A controller with so many watts behind its converter, its own draw and what the battery side may take."""
    battery = min(p - own, limit)
    one = {name: np.array([0.0]) for name in Operation.__dataclass_fields__}
    held = CLIPPED if battery < p - own else BEST
    return Operation(**one | {
        "p_own": np.array([own]), "p_battery": np.array([battery]), "p_clipped": np.array([p - own - battery]),
        "held_by": np.array([held]), "placed_by": np.array([BEST]),
    })  # fmt: skip


@pytest.mark.parametrize(
    ("watts", "share", "battery", "clipped", "held"),
    [
        (100.0, 0.9, 60.0, 28.0, CLIPPED),  # 90 W less 2 W: still over the limit of 60 W
        (65.0, 0.9, 56.5, 0.0, BEST),  # 58.5 W less 2 W: no longer over it
        (50.0, 0.9, 43.0, 0.0, BEST),
        (2.1, 0.9, 0.0, 0.0, OWN_DRAW),  # 1.89 W do not feed the own draw of 2 W
    ],
)
def test_current_limit_and_own_draw_have_their_say_after_the_panels(watts, share, battery, clipped, held):
    now = weakened(operation(watts, 2.0, 60.0), np.array([share]))
    assert now.p_battery[0] == pytest.approx(battery, abs=1e-9)
    assert now.p_clipped[0] == pytest.approx(clipped, abs=1e-9)
    assert now.held_by[0] == held


def test_a_roof_too_large_for_its_controller_still_fills_it_in_dull_light():
    small = Controller(name="500 V 5 A", v_pv_max=500.0, i_charge_max=5.0)
    rig = tiny_rig((PANEL,) * 12, tuple(range(12)))
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=small),))
    clipped = compare({"12s": rig}, Snapshot(light=200.0, temp_cell=10.0)).outcomes["12s"]
    assert clipped.energy_wh == pytest.approx(5.0 * rig.battery.v_now)
    assert clipped.energy_wh == clipped.label_wh
    assert clipped.lost_wh(WEAK) > 1.0
