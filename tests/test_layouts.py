"""Every chart in its two layouts: words apart and inside, axes that fit, letters for a phone and for a page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest
from crowding import crowded
from matplotlib.axes import Axes
from matplotlib.colors import to_hex

from vanpower import (
    Days,
    Parked,
    Snapshot,
    Source,
    analyse_trial,
    compare,
    example,
    panel_curve,
    read_log,
    shade_map,
    simulate,
    walk_trip,
    watch,
)
from vanpower.figures.as_read import AsRead, AsReadChart
from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.ceiling import CeilingChart, plot_ceiling
from vanpower.figures.comparison import ComparisonChart, plot_comparison
from vanpower.figures.day import DayChart, plot_day
from vanpower.figures.ladder import LadderChart, plot_ladder
from vanpower.figures.months import MonthsChart, plot_months
from vanpower.figures.panel import plot_panel
from vanpower.figures.placing import places
from vanpower.figures.power import PowerChart, plot_power
from vanpower.figures.roof import plot_roof_day, plot_shade_map
from vanpower.figures.run import RunChart, plot_run
from vanpower.figures.style import ROLES, SERIES, WIRING_STYLES, Chart
from vanpower.figures.trial import TrialChart, plot_trial
from vanpower.figures.trip import TripChart, plot_trip
from vanpower.figures.watching import plot_watch
from vanpower.files.resources import data_folder
from vanpower.files.stops import read_stops
from vanpower.sharing.registry import CHARTS
from vanpower.sharing.saving import draw, recipe_for
from vanpower.studies.comparison import Comparison

LEAST = 9.5
# [pixel] of the smallest letters where a phone shows 388 pixels and the narrowest page 640; no source
LOWEST, HIGHEST = 1.1, 1.2
# an axis over what is highest on it, as the design has it


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


@cache
def moment(name: str, light: float) -> Comparison:
    return compare(example(name).wirings(), Snapshot(light=light, temp_cell=20))


@cache
def day(name: str, which: str) -> Comparison:
    return compare(example(name).wirings(), Days(day=which))


@cache
def run(which: str) -> Any:
    return simulate(example("bookmobile").wirings(), Days(day=which))


@cache
def trial() -> Any:
    return analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv"))


@cache
def watched() -> Any:
    logs = data_folder() / "logs"
    return watch(logs / "lending-round.csv", example("bookmobile"), stays=logs / "lending-round-stays.csv")


@cache
def trip(*sources: Source) -> Any:
    return walk_trip(example("bookmobile").changed(sources=sources), read_stops("three-coasts"), changes=False)


@cache
def parked() -> Comparison:
    return compare(example("goat-cheese-van").wirings(), Parked(latitude_deg=50, day="03-21", step_min=30))


@cache
def shadows() -> Any:
    return shade_map(example("goat-cheese-van").wirings())


def panel(light: float) -> Any:
    return panel_curve(example("bookmobile").panels[0], light=light, temp_cell=15)


DRAWN: dict[str, Callable[[bool], Axes]] = {
    **{
        f"{kind} of {name} in {light:g}": (
            lambda phone, make=make, name=name, light=light: make(moment(name, light), phone=phone)
        )
        for kind, make in (("power", plot_power), ("bars", plot_comparison))
        for name in ("bookmobile", "puppet-stage", "dentist-bus", "hay-cart", "seed-swap")
        for light in (50.0, 900.0)
    },
    "bars of two circuits": lambda phone: plot_comparison(moment("kiln-bus", 300.0), phone=phone),
    **{
        f"{which} day of {name}": lambda phone, name=name, which=which: plot_day(day(name, which), phone=phone)
        for name in ("bookmobile", "puppet-stage", "kiln-bus")
        for which in ("dull", "bright")
    },
    **{
        f"ceiling of {wired} of {name}": (
            lambda phone, name=name, wired=wired: plot_ceiling(example(name).wired(wired), phone=phone)
        )
        for name, wired in (("bookmobile", "2p"), ("bookmobile", "2s"), ("puppet-stage", "4s"), ("dentist-bus", "3s"))
    },
    "run": lambda phone: plot_run(run("dull"), phone=phone),
    "months": lambda phone: plot_months(run("dull"), phone=phone),
    "ladder": lambda phone: plot_ladder(run("dull"), phone=phone),
    "trial": lambda phone: plot_trial(trial(), phone=phone),
    "watch": lambda phone: plot_watch(watched(), phone=phone),
    "roof day": lambda phone: plot_roof_day(parked(), phone=phone),
    "shade map": lambda phone: plot_shade_map(shadows(), phone=phone),
    "dull panel": lambda phone: plot_panel(panel(60.0), phone=phone),
    "bright panel": lambda phone: plot_panel(panel(900.0), phone=phone),
}
# every kind of chart, dull and bright, of unlike rigs


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("name", DRAWN)
def test_words_of_no_chart_lie_over_each_other_or_leave_the_drawing(name: str, phone: bool) -> None:
    assert crowded(DRAWN[name](phone)) == []


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("name", DRAWN)
def test_letters_are_large_enough_and_a_page_is_wider_than_a_phone(name: str, phone: bool) -> None:
    ax = DRAWN[name](phone)
    figure = ax.get_figure(root=True)
    assert figure is not None
    wide = figure.get_figwidth()
    texts = [text for text in figure.findobj(plt.Text) if text.get_visible() and text.get_text().strip()]
    smallest = min(text.get_fontsize() for text in texts)
    assert (wide <= 5.5) if phone else (wide >= 8.9)
    assert smallest / (72 * wide) * (388 if phone else 640) >= LEAST


ORANGE = {"limit", "ceiling"}


@pytest.mark.parametrize("name", DRAWN)
def test_orange_is_on_charts_of_the_ceiling_alone(name: str) -> None:
    ax = DRAWN[name](True)
    figure = ax.get_figure(root=True)
    assert figure is not None
    axes = [*figure.axes, *(inner for one in figure.axes for inner in one.child_axes)]
    lines = [to_hex(line.get_color()).upper() for one in axes for line in one.lines if len(line.get_xdata())]
    faces = [to_hex(patch.get_facecolor()).upper() for one in axes for patch in one.patches if patch.get_visible()]
    named = name.split()[0]
    assert (ROLES["limit"] in lines) == (named in ("power", "ceiling"))
    if named not in ("power", "ceiling", "bars"):
        assert ROLES["limit"] not in faces


def test_one_colour_is_one_wiring_on_every_chart() -> None:
    names = {"2s": WIRING_STYLES[0], "2p": WIRING_STYLES[1]}
    power, bars, hours, ladder = PowerChart(), ComparisonChart(), DayChart(), LadderChart()
    power.update(moment("bookmobile", 900.0))
    bars.update(moment("bookmobile", 900.0))
    hours.update(day("bookmobile", "bright"))
    ladder.update(run("dull"))
    for name, look in names.items():
        assert power.lines[name].get_color() == look.colour
        assert to_hex(bars.bars[name, "battery"].get_facecolor()).upper() == look.colour
        assert hours.names[name].words.get_color() == look.colour
        shown = {to_hex(bar.get_facecolor()).upper() for bar in ladder.ax.patches if bar.get_label() == name}
        assert shown == {look.colour}
        months, watts = MonthsChart(wiring=name), RunChart(wiring=name)
        for chart in (months, watts):
            chart.update(run("dull"))
        assert to_hex(months.taken[0].get_facecolor()).upper() == look.colour
        assert to_hex(watts.taken.get_facecolor()).upper() == look.colour
    tried = TrialChart()
    tried.update(trial())
    assert {after: look.colour for after, look in tried.looks.items()} == {
        False: names["2p"].colour, True: names["2s"].colour
    }  # fmt: skip
    ceiling = CeilingChart()
    ceiling.update(example("bookmobile").wired("2s"))
    assert ceiling.string.get_color() == SERIES.colour


@pytest.mark.parametrize("which", ["dull", "bright"])
def test_axes_of_days_months_and_ceilings_end_a_little_above_what_is_highest(which: str) -> None:
    ax = plot_day(day("bookmobile", which))
    highest = max(
        float((o.band()[1] if day("bookmobile", which).dull else o.p_battery).max())
        for o in day("bookmobile", which).outcomes.values()
    )
    assert LOWEST <= ax.get_ylim()[1] / highest <= HIGHEST + 1e-9
    chart = MonthsChart()
    chart.update(run(which))
    month = run(which).budget(run(which).ranking[0]).months[0]
    tallest = max(month.bright_wh, month.load_wh, month.could_wh)
    assert LOWEST <= chart.ax.get_ylim()[1] / tallest <= HIGHEST + 1e-9
    for wired, rig in example("puppet-stage").wirings().items():
        cold = CeilingChart()
        cold.update(rig)
        top = max(80.0, float(cold.spot.get_ydata()[0]))
        assert LOWEST <= cold.ax.get_ylim()[1] / top <= HIGHEST, wired


MAKERS = [
    PowerChart,
    ComparisonChart,
    DayChart,
    CeilingChart,
    MonthsChart,
    RunChart,
    LadderChart,
    TrialChart,
]


@pytest.mark.parametrize("make", MAKERS)
def test_every_chart_has_a_twin_in_the_other_layout(make: Any) -> None:
    told = {"wiring": "2p"} if make in (MonthsChart, RunChart) else {}
    twin = make(**told).laid_out(phone=False)
    assert type(twin) is make
    assert not twin.phone
    assert {name: twin.options.get(name) for name in told} == told


SAVED = {"power", "comparison", "day", "ceiling", "charge", "months", "ladder", "trial", "answer", "run", "sheet"}


@pytest.mark.parametrize("kind", sorted(SAVED))
def test_saved_pictures_have_the_layout_of_a_page(kind: str) -> None:
    assert kind in CHARTS
    subject = {
        "ceiling": example("bookmobile"),
        "sheet": example("bookmobile"),
        "trial": trial(),
        "day": day("bookmobile", "dull"),
    }.get(kind)
    if kind in ("charge", "months", "ladder", "run"):
        subject = run("dull")
    figure = draw(recipe_for(kind, subject or moment("bookmobile", 500.0))).figure
    assert figure.get_figwidth() >= (8.2 if kind == "sheet" else 8.9)


@pytest.mark.parametrize("phone", [True, False])
def test_moved_charts_of_days_and_bars_are_the_still_ones(phone: bool) -> None:
    for make, first, then in (
        (ComparisonChart, moment("bookmobile", 50.0), moment("bookmobile", 900.0)),
        (DayChart, day("bookmobile", "dull"), day("bookmobile", "bright")),
    ):
        moved, still = make(phone=phone), make(phone=phone)
        moved.update(first)
        moved.update(then)
        still.update(then)
        for chart in (moved, still):
            chart.figure.draw_without_rendering()
            chart.settle()
        told = [
            [(text.get_text(), text.get_position()) for text in chart.ax.texts if text.get_text()]
            for chart in (moved, still)
        ]
        assert told[0] == told[1]
        assert moved.ax.get_ylim() == still.ax.get_ylim()


def test_an_answer_with_two_lights_keeps_its_names_apart() -> None:
    rig = example("puppet-stage").with_controller(i_pv_sc_max=50.0, circuit=0)
    lights = [compare(rig.wirings(), Snapshot(light=light, temp_cell=15)) for light in (60.0, 900.0)]
    assert crowded(draw(recipe_for("answer", lights)).figure.axes[0]) == []


def test_a_title_that_is_broken_keeps_numbers_with_their_units() -> None:
    # "largest loss: weaker than label, 19" stood over a lone "%"
    for phone in (True, False):
        for words in range(1, 60):
            lines = Chart(phone=phone)._in_lines(f"{'a ' * words}largest loss: weaker than label, 19 % or 180 Wh", 16)
            assert not any(line[0] in "%W" for line in lines)
            assert "\N{NO-BREAK SPACE}" not in "".join(lines)


@pytest.mark.parametrize("phone", [True, False])
def test_a_number_at_a_line_is_not_struck_out_by_the_ceiling(phone: bool) -> None:
    # four of the old panels have 95.4 V at 30 °C, so their number stood behind the post of 100 V
    chart = CeilingChart(phone=phone)
    chart.update(example("seed-swap"))
    chart.figure.canvas.draw()
    (four,) = [text for text in chart.ax.texts if text.get_text() == "4"]
    box, ceiling = four.get_window_extent(), chart.ax.transData.transform((0, 100.0))[1]
    assert not box.y0 - 3 < ceiling < box.y1 + 3


@pytest.mark.parametrize(
    ("name", "wired", "volts", "there"), [("seed-swap", "3p", 100.0, False), ("puppet-stage", "4s", 95.0, True)]
)
def test_names_at_the_ceiling_are_of_what_is_drawn_and_no_legend_repeats_them(
    name: str, wired: str, volts: float, there: bool
) -> None:
    chart = CeilingChart()
    chart.update(example(name).wired(wired).with_controller(v_pv_max=volts))
    said = words_at(chart.ax)
    assert ("just safe" in said) == there == bool(len(chart.safe.get_xdata()))
    assert {"coldest dawn", "US factor table", "under 5 % left"} <= {*said}
    # a string above its ceiling is named there as well; the band below the ceiling never
    nearly = chart.names["under 5 % left"].words
    assert nearly.get_position()[1] < volts


@pytest.mark.parametrize(("wired", "look"), [("4s", 0), ("4p", 1), ("2s2p", 2)])
def test_the_string_under_the_ceiling_has_the_colour_of_its_wiring_and_nothing_else_has_one(
    wired: str, look: int
) -> None:
    # one panel of three in parallel was blue, as panels in series are, and the table of factors black and dashed
    chart = CeilingChart()
    chart.update(example("puppet-stage").wired(wired))
    own = WIRING_STYLES[look]
    assert (chart.string.get_color(), chart.spot.get_marker()) == (own.colour, own.marker)
    assert chart.table.get_linestyle() == "-"
    others = {to_hex(part).upper() for part in (chart.table.get_color(), chart.thin.get_edgecolor())}
    assert not others & {*(one.colour for one in WIRING_STYLES), ROLES["limit"]}


def words_at(ax: Axes) -> list[str]:
    """Bold words among the curves of an Axes, which has no legend."""
    assert ax.get_legend() is None
    return [text.get_text() for text in ax.texts if text.get_visible() and text.get_weight() == "bold"]


@pytest.mark.parametrize("phone", [True, False])
def test_names_of_trials_watched_vans_and_trips_stand_at_what_they_name_and_only_where_it_is_drawn(phone: bool) -> None:
    raw, ratio = plot_trial(trial(), phone=phone).child_axes
    assert words_at(raw) == ["2p", "2s", "not bulk"]
    assert words_at(ratio) == ["2p = 100", "2s, 95 % hatched"]
    bulk = replace(trial().log, stage=np.full(len(trial().log), "bulk"))
    assert words_at(plot_trial(analyse_trial(bulk), phone=phone).child_axes[0]) == ["2p", "2s"]
    _, energy, _, causes = plot_watch(watched(), phone=phone).child_axes
    assert words_at(energy) == ["first sure"]
    # dirt stays below the 15 of 100 from which a cause is drawn
    assert words_at(causes) == ["panel without output"]
    assert words_at(plot_trip(trip(), phone=phone)) == ["loads", "from the sun", "cut"]
    belt = Source(name="belt", kind="alternator", i_charge_max=30.0)
    assert words_at(plot_trip(trip(belt), phone=phone)) == ["loads", "from the sun", "other sources", "cut"]


def test_a_name_beside_its_mark_stays_there_when_its_axes_become_wider() -> None:
    # names are put before a figure is laid out, and the page's axes grow by a fifth then
    figure = plt.figure(figsize=(9, 4))
    ax = figure.add_axes((0.125, 0.1, 0.775, 0.8))
    ax.set(xlim=(0, 100), ylim=(0, 100))
    name = named_at(ax, "panel without output", "black")
    wall = np.column_stack([np.full(99, 50.0), np.arange(1.0, 100.0)])
    settle(ax, [name], np.array([[49.0, 95.0]]), wall)
    ax.set_position((0.06, 0.1, 0.92, 0.8))
    figure.canvas.draw()
    box, mark = name.words.get_window_extent(), ax.transData.transform((49.0, 95.0))
    # 7 points of a gap at 100 dots an inch, a fifth wider
    assert 0 < max(box.x0 - mark[0], mark[0] - box.x1) < 12


def test_a_chart_of_a_reading_says_what_was_read_and_what_a_sound_array_gives() -> None:
    # 17 V times 3.5 A is 59.5 W; the title told the sound array's watts alone
    chart = AsReadChart()
    chart.update(AsRead(compare({"2p": example("bookmobile")}, Snapshot(light=620, temp_cell=41)), 17.0, 3.5))
    top = max(chart.tops["2p"].get_ydata())
    assert chart.title == f"59.5 W read where a sound array gives up to {top:.0f} W"


@pytest.mark.parametrize("phone", [True, False])
def test_stops_of_a_trip_are_called_by_their_whole_names(phone: bool) -> None:
    chart = TripChart(phone=phone)
    chart.update(trip())
    said = [text.get_text().replace("\n", " ") for text in chart.ax.texts]
    # behind them stand the names of bars and lines
    stops = [stop.name for stop in read_stops("three-coasts")]
    assert said[: len(stops)] == stops
    assert crowded(chart.ax) == []


def test_a_name_keeps_off_an_upright_line_where_there_is_room() -> None:
    size, mark, wall = np.array([[60.0, 16.0]]), np.array([[130.0, 100.0]]), 125.0
    (spot,) = places(size, mark, np.empty((0, 2)), room=(0, 0, 400, 130), walls=[wall])
    assert not spot.middle[0] - 30 < wall < spot.middle[0] + 30


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("which", ["dull", "bright"])
def test_areas_and_loads_of_a_run_are_named_where_they_are_and_only_those_that_are_there(
    which: str, phone: bool
) -> None:
    # a legend named refused watts on a dull day, when every watt is taken
    chart = RunChart(phone=phone)
    chart.update(run(which))
    chart.figure.draw_without_rendering()
    rows = run(which).outcomes[run(which).ranking[0]].rows
    said = words_at(chart.right)
    assert ("offered and refused" in said) == bool((rows.p_offered - rows.p_used).max() > 5.0)
    assert {"taken", "loads fed"} <= {*said}
    assert chart.ax.get_legend() is None
    assert crowded(chart.ax) == []


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("light", [60.0, 900.0])
def test_curves_of_one_panel_are_named_and_have_the_colour_of_no_wiring(light: float, phone: bool) -> None:
    ax = plot_panel(panel(light), phone=phone)
    beside = next(one for one in ax.figure.axes if one is not ax)
    assert ax.get_legend() is None
    assert {*words_at(beside)} == {"amps", "watts, by label", *(["measured panels"] if light < 100 else [])}
    drawn = {to_hex(line.get_color()).upper() for line in (*ax.lines, *beside.lines)}
    assert not drawn & {one.colour for one in WIRING_STYLES}
    # "102 W at 19.2" stood over a lone "V"
    assert not any(line[0] in "VW" for line in ax.get_title(loc="left").split("\n"))


def test_blocks_of_a_trial_stand_on_a_ground_that_is_no_wirings_and_no_window() -> None:
    chart = TrialChart()
    chart.update(trial())
    grounds = {to_hex(block.get_facecolor()).upper() for block in chart.blocks}
    assert len(grounds) == 1
    assert not grounds & {ROLES["window"], *(one.colour for one in WIRING_STYLES)}


@pytest.mark.parametrize(("name", "ends"), [("bookmobile", "plain"), ("hay-cart", "post")])
def test_lines_across_the_chart_end_before_the_words_of_the_ceiling(name: str, ends: str) -> None:
    chart = PowerChart(phone=False)
    chart.update(moment(name, 900.0))
    words = chart.ax.transData.inverted().transform(chart.ceiling_words.get_window_extent())[:, 0]
    reach = float(np.nanmax(chart.grid.get_xdata())) * chart.ax.get_xlim()[1]
    assert reach == pytest.approx(getattr(chart._frame, ends))
    assert reach < words.min()
