"""The power chart in both layouts: axes fit the light, the ceiling is a post, and names stand clear of each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest
from crowding import crowded
from matplotlib.colors import to_hex

from vanpower import Shade, Snapshot, Wiring, compare, example
from vanpower.figures.as_read import AsRead, AsReadChart
from vanpower.figures.comparison import comparison_figure
from vanpower.figures.fragments import moving_svg, still_svg
from vanpower.figures.power import AXIS_WORDS, LINTEL, PowerChart, plot_power
from vanpower.figures.style import MIXED, PARALLEL, RED_WORDS, ROLES, SERIES, fitted_top
from vanpower.rig import Rig

LOWEST, HIGHEST = 1.1, 1.2
# the axis of watts over the highest hill, as the design has it
NEAR = 0.8
# of the ceiling: within a fifth of it nothing is folded away, as the design has it


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


def many(number: int) -> Rig:
    """So many equal panels of 23.1 V on a controller for 600 V."""
    rig = example("puppet-stage")
    circuit = rig.circuits[0]
    controller = replace(circuit.controller, v_pv_max=600.0, i_pv_sc_max=None)
    string = Wiring(strings=(tuple(range(number)),))
    return replace(
        rig, panels=(rig.panels[0],) * number, circuits=(replace(circuit, controller=controller, wiring=string),)
    )


def capped(rig: Rig, v_pv_max: float) -> Rig:
    """The rig under another ceiling."""
    return rig.with_controller(v_pv_max=v_pv_max, circuit=0)


RIGS = {
    "two": example("bookmobile"),
    "three wirings": example("puppet-stage"),
    "48 V": example("dentist-bus"),
    "plain switch": example("hay-cart"),
    "one panel": many(1),
    "24 panels": many(24),
    "unlike panels": example("seed-swap"),
    "far ceiling": capped(example("bookmobile"), 250.0),
    "low ceiling": capped(example("bookmobile"), 30.0),
    "half of it": capped(example("bookmobile"), 50.0),
}
LIGHTS = (0.0, 12.0, 50.0, 200.0, 1000.0)


def wirings(rig: Rig) -> Mapping[str, Rig]:
    return {name: one for name, one in rig.wirings().items() if len(one.circuits) == 1}


def drawn(rig: Rig, light: float, *, phone: bool) -> PowerChart:
    chart = PowerChart(phone=phone)
    chart.update(compare(wirings(rig), Snapshot(light=light, temp_cell=15)))
    return chart


def highest(chart: PowerChart) -> float:
    """Watts of the highest thing that is drawn."""
    bands = [band.get_xy()[:, 1].max() for band in chart.bands.values()]
    return max(*bands, *(float(np.max(line.get_ydata())) for line in chart.lines.values()))


@pytest.mark.parametrize("light", LIGHTS[1:])
@pytest.mark.parametrize("name", RIGS)
def test_the_axis_of_watts_ends_a_little_above_the_highest_hill_of_this_light(name: str, light: float) -> None:
    chart = drawn(RIGS[name], light, phone=True)
    end = chart.ax.get_ylim()[1] * (1 - LINTEL)
    assert LOWEST <= end / highest(chart) <= HIGHEST + 1e-9
    assert len([tick for tick in chart.ax.get_yticks() if tick <= end]) >= 3


@pytest.mark.parametrize("value", np.geomspace(0.003, 9e4, 60))
def test_ends_of_axes_are_round_and_ten_to_twenty_percent_away(value: float) -> None:
    top = fitted_top(value)
    assert LOWEST <= top / value <= HIGHEST + 1e-9
    assert float(f"{top:.3g}") == pytest.approx(top)


@pytest.mark.parametrize("name", RIGS)
def test_nothing_is_folded_where_a_curve_comes_within_a_fifth_of_the_ceiling(name: str) -> None:
    chart = drawn(RIGS[name], 800.0, phone=False)
    ceiling = RIGS[name].circuits[0].controller.v_pv_max
    v_top = max(float(line.get_xdata().max()) for line in chart.lines.values())
    post = [line for line in chart.ax.lines if to_hex(line.get_color()).upper() == ROLES["limit"]]
    assert len(post) == 1
    stands = float(post[0].get_xdata()[0])
    if v_top >= NEAR * ceiling:
        assert stands == ceiling
    elif stands != ceiling:
        # folded: left of where it belongs, right of every curve, and the axis has its figure there
        assert v_top < stands < ceiling
    assert v_top <= chart.ax.get_xlim()[1]
    # no more than a third of the axis is empty, but for what the controller needs to wake
    wakes = chart._frame.wakes
    assert max(v_top, 1.25 * wakes) >= 0.66 * chart.ax.get_xlim()[1]
    labels = {label.get_text(): label for label in chart.ax.get_xticklabels()}
    assert labels[f"{ceiling:g}"].get_color() == RED_WORDS


def test_a_far_ceiling_no_longer_squeezes_the_curves() -> None:
    # 44 V of open circuit under 80 V and under 250 V took 55 and 45 % of the axis before
    for ceiling in (80.0, 250.0):
        chart = drawn(capped(example("bookmobile"), ceiling), 800.0, phone=False)
        assert float(chart.lines["2s"].get_xdata().max()) > 0.85 * chart.ax.get_xlim()[1]


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("name", RIGS)
def test_no_words_lie_over_each_other_or_leave_the_drawing(name: str, light: float, phone: bool) -> None:
    chart = drawn(RIGS[name], light, phone=phone)
    assert crowded(chart.ax) == []


@pytest.mark.parametrize("v_pv_max", [20.0, 25.0, 30.0, 36.0, 50.0, 56.0, 80.0, 95.0])
@pytest.mark.parametrize("phone", [True, False])
def test_words_stand_apart_under_any_ceiling(v_pv_max: float, phone: bool) -> None:
    for name in ("bookmobile", "puppet-stage"):
        assert crowded(drawn(capped(example(name), v_pv_max), 800.0, phone=phone).ax) == []


def test_the_lintel_says_what_volts_are_good_for() -> None:
    rig = example("bookmobile")
    controller, battery = rig.circuits[0].controller, rig.battery
    said = [text.get_text() for text in drawn(rig, 500.0, phone=False).ax.texts]
    floor, wakes = battery.v_now + controller.v_hold_margin, battery.v_now + controller.v_start_margin
    assert f"charges from {floor:.1f} V, wakes at {wakes:.1f} V" in said
    assert {"too low", "watts", f"ceiling {controller.v_pv_max:g} V"} <= set(said)
    assert {chart.ax.get_xlabel() for chart in map(lambda phone: PowerChart(phone=phone), (True, False))} == set(
        AXIS_WORDS.values()
    )


def test_names_give_watts_into_the_battery_a_range_in_dull_light_and_why_there_are_none() -> None:
    bright = compare(wirings(RIGS["two"]), Snapshot(light=800, temp_cell=25))
    chart = PowerChart()
    chart.update(bright)
    for name, outcome in bright.outcomes.items():
        assert chart.names[name].get_text() == f"{name} {outcome.p_battery[0]:.0f} W"
    dull = compare(wirings(RIGS["two"]), Snapshot(light=50, temp_cell=15))
    chart.update(dull)
    low, high = dull.outcomes["2s"].band()
    assert chart.names["2s"].get_text() == f"2s {low[0]:.1f} to {high[0]:.1f} W"
    stage = drawn(RIGS["three wirings"], 800.0, phone=True)
    assert stage.names["4s"].get_text() == "4s not allowed"
    bus = drawn(RIGS["48 V"], 800.0, phone=True)
    assert bus.names["3p"].get_text() == "3p asleep"


def test_wirings_have_their_colour_dash_and_marker_by_what_they_are() -> None:
    chart = drawn(RIGS["three wirings"], 500.0, phone=True)
    for name, look in {"4s": SERIES, "2s2p": MIXED, "4p": PARALLEL}.items():
        assert chart.lines[name].get_color() == chart.names[name].get_color() == look.colour
        assert chart.spots[name].get_marker() == look.marker


@pytest.mark.parametrize("phone", [True, False])
def test_a_moved_picture_is_the_still_picture(phone: bool) -> None:
    moved, still = PowerChart(phone=phone), PowerChart(phone=phone)
    for light in (1000.0, 20.0, 300.0):
        moved.update(compare(wirings(RIGS["two"]), Snapshot(light=light, temp_cell=40)))
        still_svg(moved.figure, moved.moving)
    still.update(compare(wirings(RIGS["two"]), Snapshot(light=300, temp_cell=40)))
    assert still_svg(moved.figure, moved.moving) == still_svg(still.figure, still.moving)
    assert moving_svg(moved.figure, moved.moving) == moving_svg(still.figure, still.moving)
    assert moved.frame == still.frame


def test_light_that_rises_redraws_nothing_that_stands_still() -> None:
    chart, frames = PowerChart(), set()
    for light in range(100, 500, 20):
        chart.update(compare(wirings(RIGS["two"]), Snapshot(light=float(light), temp_cell=15)))
        frames.add(chart.frame)
    assert len(frames) <= 3


def test_one_chart_can_be_laid_out_for_both_widths_and_keeps_what_it_was_told() -> None:
    chart = PowerChart(p_top=250, v_top=90)
    page = chart.laid_out(phone=False)
    assert (page.p_top, page.v_top, page.phone, chart.phone) == (250, 90, False, True)
    wide = [one.figure.get_figwidth() for one in (chart, page)]
    # letters of 11 points are at least 11 pixels on a phone's 388 and on a page's 640
    assert 11 / (72 * wide[0]) * 388 >= 11
    assert 11 / (72 * wide[1]) * 640 >= 10.8


def test_names_are_put_once_more_where_several_charts_share_a_figure() -> None:
    found = compare(wirings(RIGS["three wirings"]), Snapshot(light=50, temp_cell=15))
    assert crowded(comparison_figure([found, found]).axes[0]) == []


def test_a_shaded_panel_has_hollow_marks_on_the_hills_where_nothing_sits() -> None:
    shade = (Shade(panel=0, substring=0, lit=0.2),)
    ax = plot_power(compare(wirings(RIGS["two"]), Snapshot(light=700, temp_cell=30, shade=shade)), phone=False)
    hills = [line for line in ax.lines if line.get_marker() in ("o", "s") and len(line.get_xdata()) == 2]
    assert len(hills) == 2


def test_what_was_read_is_a_cross_at_its_volts_and_watts_and_an_arrow_beyond_the_axes():
    # 17 V times 3.5 A is 59.5 W
    sound = compare({"2p": example("bookmobile")}, Snapshot(light=620, temp_cell=41))
    for phone in (True, False):
        chart = AsReadChart(phone=phone)
        chart.update(AsRead(sound, 17.0, 3.5))
        assert chart.spots["read"].get_xydata().tolist() == [[17.0, 59.5]]
        assert chart.spots["read"].get_marker() == "X"
        chart.update(AsRead(sound, 17.0, 8.0))
        assert chart.ax.get_ylim()[1] > 136.0
        for v, i, marker in ((120.0, 1.0, ">"), (17.0, 40.0, "^"), (0.0, 0.0, "X")):
            chart.update(AsRead(sound, v, i))
            x, y = chart.spots["read"].get_xydata()[0]
            assert chart.spots["read"].get_marker() == marker
            assert 0 <= x <= chart.ax.get_xlim()[1]
            assert 0 <= y <= chart.ax.get_ylim()[1]
            assert chart.names["read"].get_text() == f"read: {v:g} V, {i:g} A"
