"""Charts: what they show is what the engine says, their labels and findings read, and updating draws what fits."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import matplotlib
import numpy as np
import pytest

matplotlib.use("Agg")

import matplotlib.pyplot as plt
from matplotlib.axes import Axes
from matplotlib.patches import StepPatch

from vanpower import Climate, Days, Parked, Shade, Snapshot, compare, example
from vanpower.checks.volts import cold_ceiling
from vanpower.components.low_light import dull_middle
from vanpower.engine.maxima import maxima
from vanpower.figures.ceiling import CeilingChart, plot_ceiling
from vanpower.figures.comparison import ComparisonChart, comparison_figure, plot_comparison
from vanpower.figures.day import DayChart, plot_day
from vanpower.figures.names import finding
from vanpower.figures.power import AXIS_WORDS, PowerChart, plot_power
from vanpower.figures.roof import RoofPairChart
from vanpower.figures.style import LOSS_STYLES, MIXED
from vanpower.model.light import array_of
from vanpower.model.losses import LOSSES
from vanpower.results.numbers import watt_hours
from vanpower.rig import Rig
from vanpower.studies.comparison import Comparison

SHADED = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


@pytest.fixture(scope="module")
def rig() -> Rig:
    return example("bookmobile")


@pytest.fixture(scope="module")
def shaded(rig: Rig) -> Comparison:
    return compare(rig.wirings(), SHADED)


@pytest.fixture(scope="module")
def frosty() -> Comparison:
    """Four panels; in one string they pass the ceiling in frost, in parallel they do not wake the controller."""
    stage = example("puppet-stage")
    controller = replace(stage.circuits[0].controller, i_pv_sc_max=50.0)
    stage = replace(stage, circuits=(replace(stage.circuits[0], controller=controller),))
    return compare(stage.wirings(), Snapshot(light=800, temp_cell=25))


def rated(v_pv_max: float) -> Rig:
    """Four panels of 23.1 V and -0.29 %/K in one string on a controller with this ceiling."""
    stage = example("puppet-stage").wired("4s")
    controller = replace(stage.circuits[0].controller, v_pv_max=v_pv_max)
    return replace(stage, circuits=(replace(stage.circuits[0], controller=controller),))


def words(ax: Axes) -> str:
    """All text on an Axes and in its legend."""
    legend = ax.get_legend()
    texts = [*ax.texts, *(legend.get_texts() if legend else [])]
    return "\n".join([ax.get_title(loc="left"), *(text.get_text() for text in texts)])


def test_a_marker_stands_on_every_hill_the_engine_finds(shaded: Comparison) -> None:
    chart = PowerChart()
    chart.update(shaded)
    for name, outcome in shaded.outcomes.items():
        found = maxima(array_of(outcome.rig, SHADED).curves)
        assert len(found.voltage[0]) == 2
        assert np.allclose(chart.tops[name].get_xdata(), found.voltage[0], equal_nan=True)
        typical = dull_middle(outcome.rig.panels, SHADED.light)
        assert np.allclose(chart.tops[name].get_ydata(), typical * found.power[0], equal_nan=True)


def test_the_drawn_curve_passes_through_its_hilltops_and_ends_at_open_circuit(shaded: Comparison) -> None:
    chart = PowerChart()
    chart.update(shaded)
    for name, line in chart.lines.items():
        volts, watts = (np.asarray(data) for data in line.get_data())
        assert watts.max() == pytest.approx(np.nanmax(chart.tops[name].get_ydata()), rel=1e-3)
        assert volts[-1] == pytest.approx(shaded.outcomes[name].operations[0].v_oc[0], rel=1e-3)
        assert watts[-1] == pytest.approx(0, abs=0.01 * watts.max())


def test_the_controller_sits_on_the_higher_hill_inside_its_window(shaded: Comparison, rig: Rig) -> None:
    chart = PowerChart()
    chart.update(shaded)
    least = rig.battery.v_now + rig.circuits[0].controller.v_hold_margin
    outside = 0
    for name, spot in chart.spots.items():
        tops = maxima(array_of(shaded.outcomes[name].rig, SHADED).curves)
        inside = tops.voltage[0] >= least
        outside += int((~inside).sum())
        higher = np.nanargmax(np.where(inside, tops.power[0], np.nan))
        where, watts = float(spot.get_xdata()[0]), float(spot.get_ydata()[0])
        assert (where, watts) == pytest.approx((tops.voltage[0, higher], tops.power[0, higher]), rel=1e-2)
    assert outside == 1, "in parallel the lower hill lies below the battery"


@pytest.mark.parametrize("light", [0, 20, 400])
def test_axes_that_are_held_stay_where_they_are(rig: Rig, light: float) -> None:
    chart = PowerChart(p_top=250, v_top=90)
    chart.update(compare(rig.wirings(), Snapshot(light=1000, temp_cell=15)))
    limits, frame = (chart.ax.get_xlim(), chart.ax.get_ylim()), chart.frame
    shade = tuple(Shade(panel=panel, lit=0.0) for panel in (0, 1)) if not light else ()
    chart.update(compare(rig.wirings(), Snapshot(light=light or 500, temp_cell=30, shade=shade)))
    assert (chart.ax.get_xlim(), chart.ax.get_ylim()) == limits
    assert chart.frame == frame
    assert limits[0] == (0, 90)
    assert "ceiling 80 V" in words(chart.ax)


def test_held_axes_grow_for_a_curve_that_needs_more(frosty: Comparison) -> None:
    chart = PowerChart(p_top=100, v_top=40)
    chart.update(frosty)
    for line in chart.lines.values():
        assert chart.ax.get_xlim()[1] >= line.get_xdata().max()
        assert chart.ax.get_ylim()[1] >= line.get_ydata().max()


def test_an_update_leaves_no_trace_of_the_light_before(rig: Rig) -> None:
    told_twice, told_once = PowerChart(), PowerChart()
    told_twice.update(compare(rig.wirings(), Snapshot(light=20, temp_cell=0)))
    for chart in (told_twice, told_once):
        chart.update(compare(rig.wirings(), Snapshot(light=900, temp_cell=40)))
    assert told_twice.title == told_once.title
    assert told_twice.ax.get_ylim() == told_once.ax.get_ylim()
    assert list(told_twice.ax.get_yticks()) == list(told_once.ax.get_yticks())
    assert len(told_twice.ax.get_yticks()) >= 3
    assert len(told_twice.ax.get_children()) == len(told_once.ax.get_children())


def test_titles_say_the_finding(rig: Rig, shaded: Comparison, frosty: Comparison) -> None:
    even = compare(rig.wirings(), Snapshot(light=500, temp_cell=25))
    assert finding(even).startswith("No difference: ")
    assert finding(shaded).startswith("2s is ahead: 2s ")
    assert "4p asleep" in finding(frosty)
    assert finding(frosty).endswith("(4s not allowed)")
    assert plot_power(shaded).get_title(loc="left") == finding(shaded)


@pytest.mark.parametrize("coldest", [-17.0, -16.6, -3.3, 2.4])
def test_pictures_and_verdict_say_the_same_volts_over_the_ceiling(coldest: float) -> None:
    stage = example("puppet-stage").wired("4s")
    cold = replace(stage, climate=replace(stage.climate, temp_coldest=coldest))
    refused = cold_ceiling(cold, cold.circuits[0])
    over = re.search(r"([\d.]+ V) over the ceiling", refused.sentence).group(1)
    bars = ComparisonChart()
    bars.update(compare({"4s": cold}, Snapshot(light=500, temp_cell=25)))
    lines = CeilingChart()
    lines.update(cold)
    assert f"{over} over" in bars.words["4s"].get_text()
    assert lines.title.endswith(f"{over} over the ceiling")


def test_comparison_says_losses_in_words_and_names_what_is_not_allowed(frosty: Comparison) -> None:
    chart = ComparisonChart()
    chart.update(frosty)
    assert "NOT ALLOWED" in chart.words["4s"].get_text()
    assert "over its ceiling in frost" in chart.words["4s"].get_text()
    assert "would damage the controller" in chart.words["4s"].get_text()
    assert chart.bars["4s", "battery"].get_hatch()
    # another wiring's hatch, which tells it in grey
    assert chart.bars["2s2p", "battery"].get_hatch() == MIXED.hatch
    assert "lost: start" in chart.words["4p"].get_text()
    assert "start: asleep" in words(chart.ax)
    assert "W into the battery" in chart.words["2s2p"].get_text()


def test_too_many_amps_at_the_input_are_not_allowed_in_a_chart_either(rig: Rig) -> None:
    controller = replace(rig.circuits[0].controller, i_pv_sc_max=10.0)
    narrow = replace(rig, circuits=(replace(rig.circuits[0], controller=controller),))
    comparison = compare(narrow.wirings(), Snapshot(light=500, temp_cell=25))
    chart = ComparisonChart()
    chart.update(comparison)
    # 1.25 x 2 x 6.25 A are 5.625 A too many; what is over a limit is rounded up, as in the verdict
    assert "NOT ALLOWED, 5.7 A over the input's amps" in chart.words["2p"].get_text()
    assert "into the battery" in chart.words["2s"].get_text()
    assert chart.title.endswith("(2p not allowed)")


def test_every_loss_has_a_colour_and_a_hatch_of_its_own() -> None:
    assert set(LOSS_STYLES) == set(LOSSES)
    assert len(set(LOSS_STYLES.values())) == len(LOSSES)


def test_bars_and_losses_add_up_to_what_the_panels_could_give(rig: Rig) -> None:
    comparison = compare(rig.wirings(), Days(day="dull"))
    chart = ComparisonChart()
    chart.update(comparison)
    for name, outcome in comparison.outcomes.items():
        total = sum(bar.get_width() for (wiring, _), bar in chart.bars.items() if wiring == name)
        assert total == pytest.approx(outcome.p_panels.sum() * outcome.step_h, rel=0.01)
        assert chart.bars[name, "battery"].get_width() == pytest.approx(outcome.energy_wh)
    assert plot_comparison(comparison).get_xlabel() == "Energy of the day (Wh)"


@pytest.mark.parametrize(("coldest", "says"), [(-17.0, "over the ceiling"), (18.0, "left, which is thin")])
def test_ceiling_chart_puts_the_cold_volts_against_the_ceiling(coldest: float, says: str) -> None:
    rig = replace(rated(95.0), climate=Climate(temp_coldest=coldest))
    chart = CeilingChart()
    chart.update(rig)
    margin = cold_ceiling(rig, rig.circuits[0]).margin
    assert chart.spot.get_ydata()[0] == pytest.approx(95.0 - margin)
    assert set(chart.ceiling.get_ydata()) == {95.0}
    assert says in chart.title
    assert "ceiling\n95 V" in words(chart.ax)
    assert chart.ax.get_xlabel() == "Cell temperature at dawn (°C)"


def test_ceiling_chart_crosses_the_ceiling_where_the_label_says() -> None:
    chart = CeilingChart()
    chart.update(rated(95.0))
    assert chart.safe.get_xdata()[0] == pytest.approx(25 - (95.0 / 92.4 - 1) / 0.0029, abs=0.01)
    assert chart.ax.get_ylabel() == "Open-circuit voltage (V)"


def test_ceiling_chart_draws_other_numbers_in_series_of_equal_panels_only() -> None:
    chart = CeilingChart()
    chart.update(rated(95.0))
    # 23.1 V each: one, two, three in series besides the four that are meant
    assert {"1", "2", "3", "4 in series"} <= {text.get_text() for text in chart.ax.texts}
    chart.update(example("seed-swap").wired("3s"))
    assert [text.get_text() for text in chart.ax.texts if text.get_text().isdigit()] == []
    assert "3 in series" in words(chart.ax)


def test_day_chart_says_how_long_each_wiring_sleeps(rig: Rig) -> None:
    tired = replace(
        rig,
        panels=tuple(replace(panel, v_oc=20.6, v_mp=17.0) for panel in rig.panels),
        battery=replace(rig.battery, v_now=14.4),
    )
    ax = plot_day(compare(tired.wirings(), Days(day="dull")))
    assert "2s: awake all day" in words(ax)
    assert "2p: asleep 2 h of daylight" in words(ax)
    assert ax.get_ylabel() == "Into the battery (W)"


def test_day_chart_says_what_is_not_allowed(rig: Rig) -> None:
    stage = example("puppet-stage")
    ax = plot_day(compare(stage.wirings(), Days(day="dull")))
    assert "4s: not allowed" in words(ax)
    assert "4s: awake" not in words(ax)
    assert any("Yellow" in axes.get_ylabel() for axes in ax.get_figure().axes)


@pytest.mark.parametrize("request_", [Snapshot(light=500, temp_cell=30), Days(day="dull")])
def test_circuits_on_two_controllers_get_bars_alone_in_a_moment(request_: Any) -> None:
    split = compare(example("kiln-bus").wirings(), request_)
    single = compare(example("bookmobile").wirings(), request_)
    fig = comparison_figure([split, single])
    day = isinstance(request_, Days)
    bars = [ax for ax in fig.axes if ax.get_xlabel() in ("Power (W)", "Energy of the day (Wh)")]
    assert len(bars) == 2
    assert [ax.get_xlabel() for ax in fig.axes].count(AXIS_WORDS[True]) == (0 if day else 1)


@pytest.mark.parametrize("apart", [False, True])
def test_no_words_are_struck_through_by_the_axis(apart: bool) -> None:
    comparison = compare(example("puppet-stage").wirings(apart=apart), Snapshot(light=500, temp_cell=30))
    fig = comparison_figure([comparison])
    for ax in (plot_comparison(comparison), fig.axes[1]):
        ax.get_figure().canvas.draw()
        axis = ax.get_window_extent().y0
        assert all(text.get_window_extent().y0 > axis for text in ax.texts)


def test_day_chart_of_half_minutes_has_even_steps_and_the_energy_of_the_study(tmp_path: Any) -> None:
    path = tmp_path / "minutes.csv"
    rows = [f"2026-06-01 12:{k // 2:02}:{30 * (k % 2):02},{500 + 20 * k},20" for k in range(12)]
    path.write_text("\n".join(["time,ghi,temp_air", *rows]))
    comparison = compare({"it": rated(120.0)}, Days(weather=str(path), day="only"))
    ax = plot_day(comparison)
    steps = [patch for patch in ax.patches if isinstance(patch, StepPatch)]
    assert np.diff(steps[0].get_data().edges) == pytest.approx(1 / 120)
    assert f"it {watt_hours(comparison.outcomes['it'].energy_wh)}" in [text.get_text() for text in ax.texts]


@pytest.mark.parametrize("chart", [PowerChart, DayChart])
def test_a_chart_that_cannot_show_something_says_which_can(chart: Any, rig: Rig) -> None:
    apart = {"apart": rig.wirings(apart=True)["apart"]}
    with pytest.raises(ValueError, match="plot_"):
        chart().update(compare(apart, Snapshot(light=500, temp_cell=25)))


def test_charts_draw_on_the_axes_they_are_given(shaded: Comparison, rig: Rig) -> None:
    _, (left, right) = plt.subplots(1, 2)
    assert plot_power(shaded, ax=left) is left
    assert plot_ceiling(rig, ax=right) is right


def test_nothing_is_cut_off_at_the_edge_of_a_chart(shaded: Comparison, frosty: Comparison, rig: Rig) -> None:
    day = compare(rig.wirings(), Days(day="dull"))
    for ax in (plot_power(shaded), plot_comparison(frosty), plot_comparison(day), plot_ceiling(rig), plot_day(day)):
        figure = ax.get_figure()
        figure.canvas.draw()
        box = figure.get_tightbbox()
        assert box.x0 >= -0.02
        assert box.y0 >= -0.02
        assert box.x1 <= figure.get_figwidth() + 0.02
        assert box.y1 <= figure.get_figheight() + 0.02


@pytest.mark.parametrize("back_m", [1.85, 1.95, 2.05, 2.1])
def test_names_on_the_roof_stand_apart(back_m: float) -> None:
    van = example("goat-cheese-van")
    plan = van.roof.with_fixture("aerial", left_m=1.4, back_m=back_m)
    chart = RoofPairChart()
    chart.update(compare({"3s": replace(van, roof=plan)}, Parked(latitude_deg=50, day="06-21", hour=12)))
    chart.figure.canvas.draw()
    boxes = {word.get_text(): word.get_window_extent() for word in chart.roof.words if word.get_text()}
    assert {"aerial", "vent lid", "roof box", "flue", "P1", "P2"} <= set(boxes)
    clash = [(one, other) for one in boxes for other in boxes if one < other and boxes[one].overlaps(boxes[other])]
    assert clash == []


def test_importing_the_package_draws_nothing_in() -> None:
    heavy = "{'matplotlib', 'ipywidgets', 'pandas', 'pvlib', 'scipy'}"
    code = f"import sys, vanpower; print(sorted({heavy} & set(sys.modules)))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
