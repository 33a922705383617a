"""The slider helper: it answers at every move, says what went wrong, and waits where an answer is slow."""

from __future__ import annotations

import asyncio
import base64
import doctest
import html
import io
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import PIL.Image
import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="sliders need the extra 'notebooks'")

from said_once import plain as words_of  # noqa: E402

from vanpower import (  # fmt: skip  # noqa: E402
    Days,
    Parked,
    Snapshot,
    analyse_trial,
    check,
    compare,
    example,
    read_log,
    simulate,
    widgets,
)
from vanpower.figures.ceiling import CeilingChart  # noqa: E402
from vanpower.figures.months import MonthsChart  # noqa: E402
from vanpower.figures.power import PowerChart  # noqa: E402
from vanpower.figures.roof import RoofPairChart  # noqa: E402
from vanpower.figures.trial import TrialChart  # noqa: E402
from vanpower.files.resources import data_folder  # noqa: E402
from vanpower.simulation import budget, run  # noqa: E402
from vanpower.simulation.run import Run  # noqa: E402
from vanpower.widgets import choice, explore, live_picture, rows, say, slider  # noqa: E402
from vanpower.widgets.live_picture import WIDGET  # noqa: E402
from vanpower.widgets.page import plain  # noqa: E402


class Shown:
    """Stands for the page: keeps what is displayed."""

    def __init__(self) -> None:
        self.things: list[Any] = []

    def display(self, thing: Any, **options: Any) -> Shown:
        self.things.append(thing)
        return self

    def update(self, thing: Any, **options: Any) -> None:
        self.things.append(thing)

    @property
    def latest(self) -> dict[str, Any]:
        """The latest picture or words; controls are left out."""
        return next(thing for thing in reversed(self.things) if isinstance(thing, dict))


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Shown:
    page = Shown()
    for part in (widgets.explorer, widgets.live_picture, widgets.page):
        monkeypatch.setattr(part, "display", page.display)
    return page


def answer(light: float) -> Any:
    if light > 900:
        raise ValueError("light above 900 W/m² is <refused>")
    return compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=20))


def test_a_move_brings_a_new_sentence_and_a_new_picture(shown: Shown) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    before, picture = live.sentence, live.picture.widget.moving
    live.controls["light"].value = 400
    assert live.sentence != before
    assert live.picture.widget.words == live.sentence
    assert live.picture.widget.moving != picture


def test_a_move_over_a_year_walks_it_once_and_judges_it_once(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    # the verdict of every year was worked out twice, since its kind was looked at with its words, and its months four
    # times
    asked: list[str] = []
    judged, monthly = Run.verdict.fget, budget.budget_of
    monkeypatch.setattr(Run, "verdict", property(lambda run: asked.append("verdict") or judged(run)))
    monkeypatch.setattr(run, "budget_of", lambda *given: asked.append("months") or monthly(*given))

    def year(loads_pct: float) -> Run:
        asked.append("walk")
        van = example("bookmobile")
        loads = tuple(load.changed(p_load=load.p_load * loads_pct / 100) for load in van.loads)
        return simulate({"it": van.changed(loads=loads)}, Days(weather="sand-point", day="all"))

    live = explore(year, "months", loads_pct=slider("Loads (% of now)", 20, 200, start=100, step=10))
    asked.clear()
    live.controls["loads_pct"].value = 150
    assert sorted(asked) == ["months", "verdict", "walk"]


def test_what_is_shown_is_live_and_carries_the_picture_that_a_stored_page_keeps(shown: Shown) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    bundle = shown.latest
    assert bundle[WIDGET]["model_id"] == live.picture.widget.model_id
    assert bundle["text/plain"] == live.sentence
    assert np.array_equal(pixels_of(base64.b64decode(bundle["image/png"])), pixels_of(live.picture.png()))


def test_a_chart_named_is_the_chart_made_and_holds_its_axes_as_told(shown: Shown) -> None:
    named = explore(answer, "power", p_top=250, v_top=90, light=slider("Light (W/m²)", 10, 1000, start=200))
    made = explore(answer, PowerChart(p_top=250, v_top=90), light=slider("Light (W/m²)", 10, 1000, start=200))
    assert named.failure == made.failure == ""
    assert list(named.controls) == ["light"]
    assert named.sentence == made.sentence
    assert np.array_equal(pixels_of(named.picture.png()), pixels_of(made.picture.png()))


def test_checks_under_a_slider_are_the_ceiling_and_every_verdict(shown: Shown) -> None:
    def checked(coldest: float) -> Any:
        return check(example("puppet-stage").with_climate(temp_coldest=coldest), only=("cold ceiling", "start"))

    live = explore(checked, "ceiling", coldest=slider("Coldest (°C)", -40, 10, start=-17))
    assert live.failure == ""
    assert live.chart.title == "2 in series: 51.9 V at −17 °C, 28.1 V left"
    assert live.details.value.count("<p role") == 1, "the worst says why above the picture"


def test_what_is_no_control_and_nothing_a_chart_knows_is_refused(shown: Shown) -> None:
    with pytest.raises(ValueError, match="chart 'power' cannot be told 'light'; it can be told p_top and v_top"):
        explore(answer, "power", light=200)
    with pytest.raises(ValueError, match="p_top is 250, no control; a chart that is made already"):
        explore(answer, PowerChart(), p_top=250)
    with pytest.raises(ValueError, match="chart 'pover' is not known; did you mean power"):
        explore(answer, "pover", light=slider("Light (W/m²)", 10, 1000, start=200))
    with pytest.raises(ValueError, match="chart 'sheet' does not move under a slider; comparison, power"):
        explore(answer, "sheet", light=slider("Light (W/m²)", 10, 1000, start=200))
    live = explore(answer, "charge", light=slider("Light (W/m²)", 10, 1000, start=200))
    assert "chart 'charge' shows a Run, and this is a Comparison" in live.failure


def test_a_failure_is_said_as_an_alert_and_cleared_by_the_next_good_move(shown: Shown) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    live.controls["light"].value = 950
    assert "role='alert'" in live.failure_line.value
    assert "&lt;refused&gt;" in live.failure_line.value
    assert live.verdict_line.value == ""
    live.controls["light"].value = 300
    assert live.failure == live.failure_line.value == ""
    assert live.verdict_line.value


def test_a_move_is_answered_once_and_a_box_that_tells_late_sets_nothing_back(shown: Shown) -> None:
    asked: list[float] = []

    def asking(light: float) -> Any:
        asked.append(light)
        return answer(light)

    live = explore(asking, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    box = shown.things[0].children[-1].children[0].children[0]
    asked.clear()
    box.value = 300
    live.controls["light"].value = 300
    live.controls["light"].value = 310
    box.value = 310
    box.value = 300
    assert asked == [300, 310]
    assert live.controls["light"].value == live.values["light"] == 310


def test_a_picture_that_cannot_be_drawn_is_said_as_well(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    monkeypatch.setattr(widgets.live_picture, "moving_svg", lambda figure, moving: 1 / 0)
    live.controls["light"].value = 300
    assert "role='alert'" in live.failure_line.value


def test_slow_answers_wait_until_the_slider_is_let_go(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(light: float) -> Any:
        time.sleep(0.06)
        return answer(light)

    monkeypatch.setattr(widgets.explorer, "SLOW_S", 0.05)
    live = explore(slow, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    assert live.slow
    assert live.controls["light"].continuous_update is False


def test_roof_and_curves_are_two_parts_of_one_picture(shown: Shown) -> None:
    rig = example("goat-cheese-van")

    def at(hour: float) -> Any:
        return compare({"3s": rig}, Parked(latitude_deg=50, day="03-21", hour=hour))

    live = explore(at, RoofPairChart(), hour=slider("Hour", 5, 19, start=9.5, step=0.25))
    stored = [base64.b64decode(part) for part in re.findall(r"base64,([^\"]+)", shown.latest["text/html"])]
    whole = pixels_of(live.picture.png())
    assert len(stored) == 2
    assert np.array_equal(np.hstack([pixels_of(part) for part in stored]), whole)
    assert live.picture.widget.cut == pytest.approx(live.picture.cut / whole.shape[1], abs=1e-3)
    live.controls["hour"].value = 12
    whole = pixels_of(live.picture.png())
    gap = whole[:, live.picture.cut - 2 : live.picture.cut + 2]
    assert np.all(gap == gap[0, 0]), "the cut goes through something drawn"


def test_several_verdicts_take_one_line_above_the_picture_and_their_reasons_stand_below(shown: Shown) -> None:
    def checked(light: float) -> Any:
        stage = example("puppet-stage").wired("4s")
        return stage, check(stage)[:3]

    live = explore(checked, CeilingChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    assert live.verdict_line.value.count("<p") == 2, "the worst, and below what else there is of it and of the others"
    large, below = map(words_of, re.findall(r"<p[^>]*>(.*?)</p>", live.verdict_line.value))
    assert re.fullmatch(r"No: 4 in series reach [\d.]+ V at -17 °C, [\d.]+ V over the ceiling\.", large)
    assert below.endswith("Input current YES · String fuse YES.")
    assert live.details.value.count("<p") == 2, "of the others"
    assert shown.things[-1].children[-1] is live.details


def test_controls_stand_in_a_row_that_wraps(shown: Shown) -> None:
    explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 900, start=200))
    row = shown.things[0].children[-1]
    assert row.layout.flex_flow == "row wrap"


def test_said_words_break_between_words(shown: Shown) -> None:
    verdict = answer(500).verdict
    say("At <noon>:", verdict)
    said = shown.things[-1]
    assert " ".join(said["text/plain"].split()).endswith(f"{verdict.sentence} {verdict.caution}")
    assert max(map(len, said["text/plain"].splitlines())) <= 76
    assert "At &lt;noon&gt;:" in said["text/html"]


def test_rows_of_a_table_stay_whole_and_are_escaped(shown: Shown) -> None:
    rows("wiring   W <dc>\n2s      43")
    said = shown.things[-1]
    assert said["text/plain"] == "wiring   W <dc>\n2s      43"
    assert "white-space:pre" in said["text/html"]
    assert "wiring   W &lt;dc&gt;\n2s      43</pre>" in said["text/html"]


def test_a_long_row_breaks_under_its_last_column_and_a_note_between_words(shown: Shown) -> None:
    why = "a fuse must be over 13 A here, and none of that size is sold"
    text = f"3p  222 W  allowed\n3s  193 W  {why}\n{'x' * 60}\n(W: at\nnoon)"
    rows(text)
    said = shown.things[-1]
    assert said["text/plain"] == text
    table, note = said["text/html"].split("</pre>")
    lines = table[table.index("'>3p") + 2 :].split("\n")
    assert lines[0] == "3p  222 W  allowed"
    assert "padding-left:11ch; text-indent:-11ch" in lines[1]
    assert lines[1].endswith(f">3s  193 W  {why}</span>")
    assert "padding-left:4ch" in lines[2]
    assert "(W: at noon)</p>" in note


def test_letters_of_a_table_shrink_with_the_page_to_a_least_size(shown: Shown) -> None:
    for wide, size in ((40, "4.13cqw"), (56, "2.95cqw"), (100, "1.65cqw"), (400, "1.65cqw")):
        rows("x" * wide)
        assert f"font-size:max(8.5px, min(1em, {size}))" in shown.latest["text/html"]


@pytest.mark.parametrize("step", [1, 0.5])
def test_a_move_is_not_sent_back_to_the_page_that_made_it(shown: Shown, step: float, monkeypatch: Any) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 900, start=200, step=step))
    box, control, _ = shown.things[0].children[-1].children[0].children
    for widget in (box, control):
        sent: list[Any] = []
        monkeypatch.setattr(widget, "_send", lambda message, buffers=None, sent=sent: sent.append(message))
        widget.set_state({"value": 300})
        assert (widget.value, sent) == (300, [])
        assert live.values["light"] == (200 if widget is box else 300)
    assert "300" in str(live.values["light"])


def test_whole_numbers_stay_whole_and_a_list_shows_its_first_word() -> None:
    assert isinstance(slider("Panels", 1, 6, start=4), ipywidgets.IntSlider)
    assert slider("Battery (V)", 12, 14.6, start=13.3, step=0.1).value == pytest.approx(13.3)
    panel = choice("Panel P1", {"sound": None, "leaks": 30.0})
    assert (panel.label, panel.value) == ("sound", None)
    assert choice("Shade", ["part", "all"], start="all").value == "all"


def roofs(light: float) -> Any:
    rig, parked = example("goat-cheese-van"), Parked(latitude_deg=50, day="03-21", hour=9.5, heading_deg=light / 10)
    if light < 500:
        # another panel lies across, and the box stands elsewhere
        rig = replace(rig, roof=rig.roof.with_fixture("roof box", back_m=3.64).with_placement(2, across=False))
    return compare({"3s": rig}, parked)


def months(light: float) -> Any:
    rig = example("bookmobile")
    whole = simulate({"2p": replace(rig, battery=replace(rig.battery, capacity_ah=light))})
    return whole if light < 500 else whole.between("03-01", "08-31")


def trials(light: float) -> Any:
    log = read_log(data_folder() / "logs" / "apple-barn.csv")
    return analyse_trial(log.rows(log.minutes <= 60 + light / 30), gamma_pmp_pct_per_k=-light / 2000)


@pytest.mark.parametrize(
    ("answered", "chart"),
    [(answer, PowerChart), (roofs, RoofPairChart), (months, MonthsChart), (trials, TrialChart)],
    ids=["power", "roof", "months", "trial"],
)
def test_the_live_picture_is_the_still_one(shown: Shown, answered: Any, chart: Any) -> None:
    live = explore(answered, chart(), light=slider("Light (W/m²)", 10, 1000, start=20))
    for light in (800, 790, 300, 20):
        live.controls["light"].value = light
        still = explore(answered, chart(), light=slider("Light (W/m²)", 10, 1000, start=light))
        assert live.failure == ""
        for part in ("still", "moving", "words"):
            here, anew = (nameless(getattr(each.picture.widget, part)) for each in (live, still))
            assert here == anew, (light, part)


def nameless(svg: str) -> str:
    """Without the names of clip paths, which are numbered anew in every drawing."""
    return re.sub(r"(?<=[\"#])p[0-9a-f]{10}", "", svg)


def test_a_still_part_that_comes_back_is_kept_and_looks_as_if_drawn_anew(
    shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(widgets.live_picture, "MOST_FRAMES", 2)
    # fewer answers than still parts are told apart, so that a part is asked for once more
    monkeypatch.setattr(widgets.kept, "MOST", 2)
    wirings = [example("puppet-stage").wired(grouping) for grouping in ("4p", "2s2p", "4s")]

    def checked(number: int) -> Any:
        return wirings[number], check(wirings[number])[0]

    live = explore(checked, CeilingChart(), number=slider("Wiring", 0, 2, start=2))
    drawn: list[int] = []
    draw = widgets.live_picture.still_svg

    def drawing(figure: Any, moving: Any) -> str:
        drawn.append(live.controls["number"].value)
        return draw(figure, moving)

    monkeypatch.setattr(widgets.live_picture, "still_svg", drawing)
    for number in (1, 2, 1, 0, 1, 2):
        live.controls["number"].value = number
        assert live.failure == ""
        assert live.picture.widget.still == draw(live.picture.figure, live.chart.moving)
        assert len(live.picture.stills) <= 2
    # the third takes the place of the first, which is drawn again when it comes back
    assert drawn == [1, 0, 2]


def pixels_of(png: bytes) -> np.ndarray:
    return np.asarray(PIL.Image.open(io.BytesIO(png))).astype(int)


def test_a_picture_file_holds_every_pixel() -> None:
    pixels = np.random.default_rng(1).integers(0, 256, (7, 5, 4)).astype(np.uint8)
    assert np.array_equal(pixels_of(widgets.live_picture.png_of(pixels)), pixels)


def test_words_that_change_their_text_place_or_colour_are_drawn_anew(shown: Shown) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    words, seen = live.chart.names["2s"], [live.picture.shown("", {})["moving"]]
    for change in ({"text": "other"}, {"position": (40.0, 30.0)}, {"color": "red"}, {"visible": False}):
        words.set(**change)
        seen.append(live.picture.shown("", {})["moving"])
    assert len(set(seen)) == 5


@pytest.mark.parametrize("name", ["explore", "slider", "choice", "say", "rows"])
def test_what_a_notebook_calls_has_an_example_that_runs(name: str) -> None:
    example = doctest.DocTestFinder().find(getattr(widgets, name), name)[0]
    assert example.examples
    assert not [line for line in example.examples if line.options.get(doctest.SKIP)]


def test_the_style_of_what_was_found_is_whole(shown: Shown) -> None:
    live = explore(answer, PowerChart(), light=slider("Light (W/m²)", 10, 1000, start=200))
    styles = re.findall(r"<p style='([^']*)'>", live.verdict_line.value)
    assert styles[0].endswith("Georgia, serif)"), "a quotation mark inside ends it early, and the letters stay small"


@pytest.mark.parametrize(("wide", "phone"), [(388, True), (1200, False)])
def test_a_chart_is_drawn_once_where_the_width_of_the_page_is_known(
    wide: int, phone: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a page on a desk was drawn for a phone first, and laid out anew once it had told its width
    drawn = []
    lay_out = live_picture.LivePicture._lay_out
    monkeypatch.setattr(live_picture.Page, "wide", wide)
    monkeypatch.setattr(live_picture.LivePicture, "_lay_out", lambda self: (drawn.append(1), lay_out(self)))
    live = explore(lambda light: compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15)),
                   "power", light=slider("Light", 10, 1000, start=200))  # fmt: skip
    live.picture.widget.wide = wide - 3
    assert live.chart.phone is phone
    assert len(drawn) == 1
    live.picture.widget.wide = 1588 - wide
    assert live.chart.phone is not phone
    assert len(drawn) == 2


class HasMore:
    """An answer that has something left to work out."""

    def __init__(self, comparison: Any) -> None:
        self.comparison, self.steps = comparison, 0
        self.verdict = comparison.verdict

    def rest(self) -> Iterator[None]:
        for _ in range(2 - self.steps):
            self.steps += 1
            yield


class ShowsSteps(PowerChart):
    """Notes how much of an answer was worked out whenever it was told."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[int] = []

    def update(self, result: HasMore) -> None:
        super().update(result.comparison)
        self.told.append(result.steps)


def explored_with_more() -> Any:
    return explore(lambda light: HasMore(compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15))),
                   ShowsSteps(), light=slider("Light", 10, 1000, start=200))  # fmt: skip


def test_what_is_left_of_an_answer_is_shown_at_once_where_nothing_runs_the_page() -> None:
    live = explored_with_more()
    assert (live.chart.told[0], live.chart.told[-1]) == (0, 2)


def test_minute_by_minute_a_trial_seldom_needs_another_still_part() -> None:
    # it was drawn anew at every minute, 47 of 75 ms, since the blocks end with the log and the axis ended with them
    log, chart, ends = read_log(data_folder() / "logs" / "apple-barn.csv"), TrialChart(), set()
    for minute in range(62, 76):
        chart.update(analyse_trial(log.rows(log.minutes <= minute)))
        ends.add(chart.raw.get_xlim())
        last = log.minutes[log.minutes <= minute][-1]
        assert chart.blocks[-1].get_x() + chart.blocks[-1].get_width() == last <= chart.raw.get_xlim()[1]
    assert len(ends) == 1
    assert {*chart.blocks} <= {*chart.moving}


def test_words_that_take_long_come_behind_their_picture_and_none_but_its_own_stand_beside_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # a fault's odds take 150 ms of 170, and the picture of page 11 stood still for them
    monkeypatch.setenv(live_picture.LIVE_PAGE, "1")
    worked_out, seen = [], []

    def answer(light: float) -> Any:
        found = compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15))
        return found, lambda: worked_out.append(light) or found.verdict

    async def moved() -> Any:
        live = explore(answer, "power", light=slider("Light", 10, 1000, start=200))
        live.picture.widget.observe(lambda _: seen.append((*worked_out,)), names="moving")
        said = [live.verdict_line.value]
        for light in (300, 400):
            live.controls["light"].value = light
            assert (live.verdict_line.layout.visibility, live.sentence, live.verdicts) == ("hidden", "", ())
        await asyncio.sleep(0.4)
        return live, [*said, live.verdict_line.value]

    live, (before, after) = asyncio.run(moved())
    assert seen == [(200,), (200,)]
    assert worked_out == [200, 400]
    assert live.verdict_line.layout.visibility is None
    assert before != after
    assert live.sentence == live.picture.widget.words == plain(live.result.verdict)


def test_on_a_live_page_a_finding_is_said_once_and_the_chart_takes_the_room_of_its_title(
    shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pictured() -> tuple[Any, str]:
        live = explore(answer, "power", light=slider("Light", 10, 1000, start=200))
        return live, live.picture.widget.still + live.picture.widget.moving

    stored, with_title = pictured()
    monkeypatch.setenv(live_picture.LIVE_PAGE, "1")
    live, without = pictured()
    said = live.chart.title.partition(";")[0]
    assert said in with_title
    assert said not in without
    # a screen reader and whoever saves the chart are told all of it
    assert live.chart.title == stored.chart.title
    assert stored.picture.widget.top == 0.0
    assert 0.06 < live.picture.widget.top < 0.2


@pytest.mark.parametrize(("chart", "made"), [("ladder", simulate), ("months", simulate), ("ceiling", None)])
def test_a_finding_that_no_verdict_says_stands_on_a_live_page_as_well(
    chart: str, made: Any, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(live_picture.LIVE_PAGE, "1")
    rig = example("bookmobile")
    live = explore(
        lambda start: simulate(rig.wirings(), Days(day="dull")) if made else check(rig), chart, start=choice("", [1, 2])
    )
    first = live.chart.title.split("\n")[0]
    assert first in html.unescape(live.picture.widget.moving)
    assert live.picture.widget.top == 0.0


def test_on_a_live_page_what_is_left_follows_a_move_and_is_dropped_by_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(live_picture.LIVE_PAGE, "1")

    async def moved() -> Any:
        live = explored_with_more()
        assert live.chart.told[-1] == 0
        live.controls["light"].value = 300
        live.controls["light"].value = 400
        first = live.chart.told.copy()
        await asyncio.sleep(0.6)
        return live, first

    live, first = asyncio.run(moved())
    assert max(first) == 0
    # one drawing more, of the last answer alone
    assert live.chart.told == [*first, 2]
    assert live.controls["light"].value == 400


def test_a_move_is_answered_while_words_of_the_one_before_are_worked_out(shown: Shown) -> None:
    # an answer whose words took 150 ms stood in the way of the next key on page 11
    begun, go, told = threading.Event(), threading.Event(), []

    def slow(light: float) -> Any:
        found = answer(light)

        def words() -> Any:
            begun.set()
            go.wait(20)
            told.append(light)
            return found.verdict

        return found, words

    async def moved() -> Any:
        go.set()
        live = explore(slow, "power", light=slider("Light (W/m²)", 10, 1000, start=200))
        go.clear()
        begun.clear()
        # how often the first is worked out depends on how long it takes
        told.clear()
        live.controls["light"].value = 300
        assert await asyncio.to_thread(begun.wait, 20)
        live.controls["light"].value = 400
        live.controls["light"].value = 500
        picture = live.picture.widget.moving
        go.set()
        await asyncio.sleep(0.6)
        return live, picture

    live, picture = asyncio.run(moved())
    assert told == [300, 500]
    assert live.picture.widget.moving == picture
    assert live.sentence == plain(answer(500).verdict)
