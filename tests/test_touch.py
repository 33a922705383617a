"""Pictures that are touched, in Chromium: by mouse, by finger and by keys, and what was let go is what stands.

The pages are those that a class gets. The picture's own script is tried with a model of the test's, whose answers wait.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browsing import FOLDER, TOKEN, opened, screenshots, served
from crowding import crowded
from foreign_rigs import SPOTS, roofed

from vanpower import Fixture, Parked, compare, example, fixture_costs
from vanpower.cli import classroom
from vanpower.figures.ceiling import CeilingChart
from vanpower.figures.fragments import moving_svg, still_svg
from vanpower.figures.handles import in_picture
from vanpower.figures.panels_drawing import InShade, PanelsChart, ShadeChart
from vanpower.figures.roof import sun_on_roof
from vanpower.figures.roof_plan import OnRoof, RoofDayChart, RoofPlan, roof_day
from vanpower.figures.style import FONT
from vanpower.figures.touchable import touchable
from vanpower.files.examples import examples
from vanpower.files.rig_tables import rig_of
from vanpower.results.numbers import known
from vanpower.rig import Shares, Snapshot
from vanpower.rig.moved import Moved
from vanpower.widgets.any_van import parked, ways

SHADE, ROOF, RATING = "03-shade-by-hand", "06-what-does-my-roof-box-cost", "02-is-this-rating-enough"
PLACES = {
    "desk": {"viewport": {"width": 1280, "height": 1000}},
    "phone": {"viewport": {"width": 420, "height": 870}, "has_touch": True, "is_mobile": True},
}
SCRIPT = (Path(__file__).parent.parent / "vanpower" / "widgets" / "picture.js").read_text(encoding="utf-8")
STEPS = 12
# moves of a drag
FINGER_PX = 44
# WCAG 2.2, target size (enhanced): 44 by 44 CSS pixels
SETTLED = """() => new Promise(done => {
  const text = () => document.querySelector('.vanpower-part').innerHTML;
  const busy = () => document.querySelector('.vanpower-picture[aria-busy=true]');
  const look = (before, same) => same > 3 ? done(true)
    : setTimeout(() => look(text(), text() === before && !busy() ? same + 1 : 0), 100);
  look('', 0);
})"""
# no touch waits for its answer, and the picture stays the same
LAID_OUT = """() => {
  const wide = document.querySelector('.vanpower-part').viewBox.baseVal.width;
  return innerWidth < 560 ? wide < 450 : wide > 450;
}"""
# [pt] between the widths of a chart for phones and of one for pages
MODEL = """([script, traits]) => {
  const on = {};
  window.traits = traits;
  window.sent = [];
  window.model = {
    get: name => traits[name],
    set: (name, value) => { traits[name] = value; },
    save_changes: () => { if (traits.touched) sent.push(traits.touched); delete traits.touched; },
    on: (name, call) => { (on[name] ||= []).push(call); },
    off: () => {},
  };
  window.told = values => {
    Object.assign(traits, values);
    Object.keys(values).forEach(name => (on[`change:${name}`] || []).forEach(call => call()));
  };
  const module = URL.createObjectURL(new Blob([script], {type: 'text/javascript'}));
  return import(module).then(one => { one.default.render({model, el: document.body}); });
}"""
# a picture whose answers the test gives


@pytest.fixture(scope="module")
def pages(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the pages as `vanpower class` serves them."""
    if not os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.importorskip("voila", reason="class mode needs the extra 'class'")
    folder = tmp_path_factory.mktemp("touch")
    command = classroom.class_command(FOLDER, f"{SHADE}.ipynb", port="PORT", token=TOKEN)
    with served(command, "/", folder) as address:
        yield address


def go(page: Any, address: str, name: str, first: str) -> None:
    """Open a lesson, and wait for its first handle and until it has the layout that suits the page."""
    page.goto(f"{address}/voila/render/{name}.ipynb?token={TOKEN}")
    page.wait_for_selector(f"[data-key='{first}']")
    page.wait_for_function(LAID_OUT)
    page.evaluate(SETTLED)


def middle(page: Any, key: str) -> tuple[float, float]:
    """Where a handle is in the window."""
    area = page.locator(f"[data-key='{key}'] .area")
    area.scroll_into_view_if_needed()
    box = area.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Any, place: str, key: str, right: float, down: float) -> str:
    """Take a handle, move it, wait with it and let it go, by mouse or finger; gives how it stands then.

    What is shown while it is held, with the handle under the finger, is what stands after it is let go.
    """
    x, y = middle(page, key)
    way = [(x + right * k / STEPS, y + down * k / STEPS) for k in range(1, STEPS + 1)]
    if place == "desk":
        page.mouse.move(x, y)
        page.mouse.down()
        for at in way:
            page.mouse.move(*at)
    else:
        finger(page, "touchStart", (x, y))
        for at in way:
            finger(page, "touchMove", at)
    page.evaluate(SETTLED)
    # without a scroll, which would move the picture under the finger
    box = page.locator(f"[data-key='{key}'] .area").bounding_box()
    held, there = said(page, key), (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.up() if place == "desk" else finger(page, "touchEnd", None)
    page.evaluate(SETTLED)
    if right == 0:
        assert there[1] == pytest.approx(way[-1][1], abs=3)
    elif key != "sun":
        assert there[0] == pytest.approx(way[-1][0], abs=3)
    assert said(page, key) == held
    return held


def finger(page: Any, kind: str, at: tuple[float, float] | None) -> None:
    """A touch event as a touch screen makes it."""
    if not hasattr(page, "screen"):
        page.screen = page.context.new_cdp_session(page)
    points = [] if at is None else [{"x": at[0], "y": at[1]}]
    page.screen.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def tap(page: Any, place: str, key: str) -> None:
    at = middle(page, key)
    page.mouse.click(*at) if place == "desk" else page.touchscreen.tap(*at)
    page.evaluate(SETTLED)


def drawn_words(page: Any) -> str:
    """What stands in the picture."""
    return " | ".join(page.locator(".vanpower-part text").all_text_contents())


def hill(words: str) -> float:
    """Watts that the name of the curve of two panels in series gives."""
    return float(re.search(r"\| 2s ([\d.]+) W", words)[1])


def said(page: Any, key: str, name: str = "aria-valuetext") -> str:
    return page.locator(f"[data-key='{key}']").get_attribute(name)


def number(words: str) -> float:
    return float(re.search(r"-?[\d.]+", words)[0])


@pytest.mark.parametrize("place", PLACES)
def test_a_shadows_edge_ends_where_it_was_let_go_and_a_tap_shades_a_group(
    place: str, pages: str, browser: Any, tmp_path: Path
) -> None:
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, SHADE, "edge 1")
        tap(page, place, "group 0.0")
        clear = drawn_words(page)
        tap(page, place, "group 0.0")
        # the current takes the diode of the group that a finger shaded, and the hill of two in series falls: three
        # groups of four are left, less half a volt of 37 that the diode takes
        assert "diode" not in clear
        assert re.search(r"[\d.]+ A take the diode|diode [\d.]+ A", drawn_words(page))
        assert 0.72 < hill(drawn_words(page)) / hill(clear) < 0.75
        before = page.locator(".vanpower-part").first.inner_html()
        page.screenshot(path=screenshots(tmp_path) / f"touch-shade-{place}.png")
        top = middle(page, "group 1.0")[1]
        height = middle(page, "group 1.1")[1] - top
        down = top + height - middle(page, "edge 1")[1]
        # to the middle of the second of two groups: three quarters of the panel
        assert number(drag(page, place, "edge 1", 0, down)) == pytest.approx(75, abs=3)
        assert page.locator(".vanpower-part").first.inner_html() != before
        page.screenshot(path=screenshots(tmp_path) / f"touch-shade-{place}-dragged.png")
        assert said(page, "group 0.1", "aria-pressed") == "false"
        tap(page, place, "group 0.1")
        assert said(page, "group 0.1", "aria-pressed") == "true"
        tap(page, place, "group 0.1")
        assert said(page, "group 0.1", "aria-pressed") == "false"
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert page.problems == []


def take_and_let_go_over_a_panel(page: Any, place: str) -> None:
    """Drag the roof box onto the panel behind it."""
    # away from the line of links that stays over a page
    page.locator("[data-key='roof box'] .area").evaluate("one => one.scrollIntoView({block: 'center'})")
    x, y = middle(page, "roof box")
    box = page.locator("[data-key='P3'] .area").bounding_box()
    on = box["y"] + box["height"] / 2
    if place == "desk":
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, (y + on) / 2)
        page.mouse.move(x, on)
        page.mouse.up()
    else:
        finger(page, "touchStart", (x, y))
        finger(page, "touchMove", (x, (y + on) / 2))
        finger(page, "touchMove", (x, on))
        finger(page, "touchEnd", None)
    page.evaluate(SETTLED)


@pytest.mark.parametrize("place", PLACES)
def test_sun_hour_and_box_end_where_they_were_let_go(place: str, pages: str, browser: Any, tmp_path: Path) -> None:
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, ROOF, "sun")
        hour = page.locator(".widget-vbox:has(.noUi-handle) input").first
        assert float(hour.input_value()) == number(said(page, "sun")) == 9.5
        later = number(drag(page, place, "sun", -40, 30))
        assert later > 9.5
        assert float(hour.input_value()) == number(said(page, "hour")) == later
        assert number(drag(page, place, "hour", 60, 0)) == number(said(page, "sun")) > later
        assert float(hour.input_value()) == number(said(page, "sun"))
        page.screenshot(path=screenshots(tmp_path) / f"touch-roof-{place}.png")
        lies = number(said(page, "roof box").partition(",")[2])
        assert number(drag(page, place, "roof box", 0, -12).partition(",")[2]) > lies
        for thing in ("P1", "flue"):
            lies = number(said(page, thing).partition(",")[2])
            assert number(drag(page, place, thing, 0, -10).partition(",")[2]) > lies
        assert page.problems == []


@pytest.mark.parametrize("place", PLACES)
def test_what_may_not_lie_there_stays_where_it_was_and_why_is_said(place: str, pages: str, browser: Any) -> None:
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, ROOF, "sun")
        take_and_let_go_over_a_panel(page, place)
        assert " inside P" in page.locator("[role=alert]").first.text_content()
        # the last place at which it may lie, above the panel's upper edge
        assert number(said(page, "roof box").partition(",")[2]) >= 2.15 + 0.67


@pytest.mark.parametrize("place", PLACES)
def test_words_that_say_why_not_leave_the_picture_under_the_finger(place: str, pages: str, browser: Any) -> None:
    # at noon with the sun moved before, the words are longer than a move of the box: they took the plan from under the
    # finger, the box went to the roof's front edge, and nothing was said
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, ROOF, "sun")
        drag(page, place, "sun", -40, 30)
        drag(page, place, "hour", 60, 0)
        lay = said(page, "roof box")
        take_and_let_go_over_a_panel(page, place)
        assert " inside P" in page.locator("[role=alert]").first.text_content()
        assert said(page, "roof box") == lay
        assert page.problems == []


@pytest.mark.parametrize("place", PLACES)
def test_the_cold_morning_ends_where_it_was_let_go(place: str, pages: str, browser: Any) -> None:
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, RATING, "temp_coldest")
        before = number(said(page, "temp_coldest"))
        after = number(drag(page, place, "temp_coldest", 40, 0))
        assert after > before + 2
        assert float(page.locator(".widget-vbox:has(.noUi-handle) input").first.input_value()) == after


def test_keys_move_a_handle_and_tap_a_group(pages: str, browser: Any) -> None:
    with opened(browser, **PLACES["desk"]) as page:
        go(page, pages, SHADE, "edge 1")
        page.locator("[data-key='edge 1']").focus()
        before = number(said(page, "edge 1"))
        for _ in range(3):
            page.keyboard.press("ArrowDown")
            page.evaluate(SETTLED)
        assert number(said(page, "edge 1")) > before
        page.locator("[data-key='group 0.1']").focus()
        page.keyboard.press("Enter")
        page.evaluate(SETTLED)
        assert said(page, "group 0.1", "aria-pressed") == "true"


@pytest.mark.parametrize("place", PLACES)
def test_a_guess_is_drawn_and_compared(place: str, pages: str, browser: Any, tmp_path: Path) -> None:
    with opened(browser, **PLACES[place]) as page:
        go(page, pages, SHADE, "guess 1")
        drag(page, place, "guess 1", 0, -30)
        guessed = number(said(page, "guess 1"))
        page.screenshot(path=screenshots(tmp_path) / f"touch-guess-{place}.png")
        page.get_by_role("button", name="Compare").last.click()
        page.wait_for_function("() => document.body.textContent.includes('You guessed')")
        assert f"You guessed {guessed:g} W; it is 68.4 W." in page.locator("body").text_content()


# The script alone


@pytest.fixture
def alone(browser: Any) -> Iterator[Any]:
    """An empty page that a finger can touch."""
    with opened(browser, **PLACES["phone"]) as page:
        page.set_content("<meta name='viewport' content='width=device-width'><body style='margin:0'></body>")
        yield page


def traits(chart: Any, values: dict[str, Any]) -> dict[str, Any]:
    """What a page is told of a chart."""
    return {
        "still": still_svg(chart.figure, chart.moving), "moving": moving_svg(chart.figure, chart.moving),
        "handles": [handle.as_sent() for handle in chart.handles(values)], "words": "<script>bad()</script>", "cut": 0,
        "top": 0, "breaks": 620, "narrow": 560, "tallest": 78, "letters": FONT, "waits": False, "answered": 0,
        "wide": 0,
    }  # fmt: skip


def shaded(name: str = "110 W") -> ShadeChart:
    chart = ShadeChart()
    chart.update(in_shade(name))
    return chart


def in_shade(name: str = "110 W") -> InShade:
    """Two panels of that name in series, one group of the first in shade."""
    rig = example("bookmobile")
    rig = rig.changed(panels=tuple(panel.changed(name=name) for panel in rig.panels))
    light = Snapshot(light=700, temp_cell=30, shade=Shares(((1.0,),)).notes(rig.panels, 0.2))
    return InShade(compare(rig.wirings(), light), "2s", Shares(((1.0,),)))


def test_one_touch_is_in_flight_and_the_last_place_is_sent(alone: Any) -> None:
    alone.evaluate(MODEL, [SCRIPT, traits(shaded(), {"shape": Shares(((1.0,),))})])
    x, y = middle(alone, "edge 1")
    finger(alone, "touchStart", (x, y))
    for k in range(1, 21):
        finger(alone, "touchMove", (x, y + 2 * k))
    finger(alone, "touchEnd", None)
    sent = alone.evaluate("sent")
    assert len(sent) == 1, "a second touch is sent before the first is answered"
    alone.evaluate("told({answered: 1})")
    last = alone.evaluate("sent")[-1]
    assert last["done"]
    pixel = alone.evaluate(
        "document.querySelector('svg').viewBox.baseVal.width / document.querySelector('svg').clientWidth"
    )
    start = next(one for one in json.loads(alone.evaluate("JSON.stringify(traits.handles)")) if one["key"] == "edge 1")
    assert last["y"] == pytest.approx(start["y"] + 40 * pixel, abs=1.5 * pixel)
    alone.evaluate("told({answered: 2})")
    assert len(alone.evaluate("sent")) == 2, "more is sent than was asked for"


def test_handles_are_a_finger_wide_and_the_page_scrolls_beside_what_is_dragged(alone: Any) -> None:
    alone.evaluate(MODEL, [SCRIPT, traits(shaded(), {"shape": Shares()})])
    found = alone.evaluate("""() => [...document.querySelectorAll('.vanpower-handle')].map(one => {
      const box = one.querySelector('.area').getBoundingClientRect();
      return [one.dataset.key, getComputedStyle(one).touchAction, box.width, box.height, one.getAttribute('role'),
        one.getAttribute('aria-label'), one.tabIndex];
    })""")
    assert len(found) == 6
    for key, action, wide, high, role, label, tab in found:
        drags = key.startswith("edge")
        assert action == ("none" if drags else "manipulation")
        assert role == ("slider" if drags else "button")
        assert round(min(wide, high), 2) >= (
            FINGER_PX if drags else 24
        )  # a group is a row of cells; WCAG 2.2 AA has 24
        assert label
        assert tab == 0
    assert alone.evaluate("getComputedStyle(document.querySelector('svg')).touchAction") == "auto"


@pytest.mark.parametrize("name", ["<script>window.bad = 1</script>", "</text><script>window.bad = 1</script>"])
def test_names_like_tags_are_letters(name: str, alone: Any) -> None:
    rig = example("goat-cheese-van")
    rig = rig.changed(panels=tuple(panel.changed(name=name) for panel in rig.panels))
    box = Fixture(name=name, kind="box", wide_m=0.3, long_m=0.3, high_m=0.2, left_m=1.2, back_m=3.87)
    rigs = {name: rig.with_fixture(box)}
    nine = Parked(latitude_deg=50, day="03-21", hour=9.5)
    roof = RoofDayChart()
    roof.update(OnRoof(compare(rigs, nine), roof_day(rigs, nine)))
    for chart, values in ((shaded(name), {"shape": Shares()}), (roof, {"hour": 9.5, "places": Moved()})):
        shown = traits(chart, values)
        assert "<script" not in shown["still"] + shown["moving"]
        alone.evaluate(MODEL, [SCRIPT, shown])
        assert alone.evaluate("document.querySelectorAll('script').length") == 0
        assert alone.evaluate("window.bad") is None
    assert any(name in handle["label"] for handle in shown["handles"])


# Drawings


@lru_cache(maxsize=4)
def roof_with_costs(name: str) -> tuple[OnRoof, OnRoof]:
    """A roof at half past nine as it is while something is dragged, and with its day and all costs."""
    van = example(name) if name in examples() else rig_of(roofed(name), "van.toml")
    nine = Parked(latitude_deg=50, day="03-21", hour=9.5, step_min=30)
    found = parked(ways(van), nine)
    assert len(list(found.rest())) > 0 or found.costs is not None
    return OnRoof(found.moment, None), found


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("name", ["goat-cheese-van", *SPOTS])
def test_each_thing_on_the_plan_carries_what_the_ranking_says_it_costs(name: str, phone: bool) -> None:
    dragged, found = roof_with_costs(name)
    rigs = {wiring: outcome.rig for wiring, outcome in found.day.outcomes.items()}
    told = fixture_costs(rigs, found.day.request)
    chart = RoofDayChart(phone=phone)
    chart.update(found)
    said = [label.get_text() for label in chart.roof.labels if label.get_text()]
    below = chart.roof.caption.get_text().split("\n")[2:]
    shown = {words.split("\n")[0]: words.split("\n")[1] for words in said}
    shown |= {words.rpartition(" / ")[0].rpartition(" ")[0] or words.rpartition(" ")[0]: words for words in below}
    assert set(shown) == set(told.alone)
    for thing, lost in told.alone.items():
        two = list(lost) if len(lost) <= 2 else [told.best]
        assert shown[thing].endswith(" / ".join(known(lost[wiring]) for wiring in two))
    dearest = max(told.alone, key=lambda thing: told.alone[thing][told.best])
    assert dearest == told.dearest()
    assert crowded(chart.roof.ax) == []
    chart.update(dragged)
    assert {label.get_text() for label in chart.roof.labels} - {""} == {words.split("\n")[0] for words in said}
    assert chart.roof.caption.get_text() == ""


def test_the_ring_has_the_sun_where_the_sky_has_it() -> None:
    rigs = {"3s": example("goat-cheese-van")}
    for hour, heading in ((9.5, 0), (14.0, 120), (7.25, 300)):
        moment = Parked(latitude_deg=50, day="03-21", hour=hour, heading_deg=heading)
        plan = RoofPlan()
        plan.update(compare(rigs, moment))
        sun = sun_on_roof(plan.plan, moment)
        x, y = np.subtract(plan._on_ring(hour), plan.middle)
        off = np.degrees(np.arctan2(x, y) - np.arctan2(sun[0], sun[1]))
        assert (off + 180) % 360 - 180 == pytest.approx(0, abs=0.6)
        assert plan._hour_at(*plan._on_ring(hour)) == pytest.approx(hour, abs=0.06)


def test_a_sun_at_noon_stands_in_the_south_by_plain_geometry() -> None:
    # on 13 June the equation of time is nought (Meeus 1998, chapter 28: zeros near 15 April, 13 June, 1 September, 25
    # December), so at noon by the mean sun it is due south at 50 degrees north; with the nose to the east that is right
    noon = Parked(latitude_deg=50, day="06-13", hour=12, heading_deg=90)
    plan = RoofPlan()
    plan.update(compare({"3s": example("goat-cheese-van")}, noon))
    x, y = np.subtract(plan._on_ring(12.0), plan.middle)
    assert x == pytest.approx(plan.radius, rel=1e-3)
    assert y == pytest.approx(0.0, abs=0.02 * plan.radius)


def test_what_is_tapped_is_shaded_and_what_is_dragged_covers_as_much_as_it_reached() -> None:
    chart, panels = shaded(), example("bookmobile").panels
    found = chart.touched("group 1.1", (0, 0), {"shape": Shares()})["shape"]
    assert found.of(1, panels[1]) == (0.0, 1.0)
    assert chart.touched("group 1.1", (0, 0), {"shape": found})["shape"].of(1, panels[1]) == (0.0, 0.0)
    first = next(box for plan in chart.panels.plans for box in plan.boxes if box.panel == 0)
    top, bottom = first.group(1)
    edge = chart.touched("edge 0", (0, (top + bottom) / 2), {"shape": Shares()})["shape"]
    assert edge.of(0, panels[0]) == (1.0, 0.5)
    # a group of 18 cells in two rows: the first row of nine lies in shade
    assert [note.place for note in edge.notes(panels, 0.2)] == ["P1.1", "P1.2x9"]


def test_cells_under_the_edge_get_what_is_left_of_their_light() -> None:
    panels = example("bookmobile").panels
    from vanpower.model.conditions import lit_cells

    # three quarters of the group: the first row whole, 0.2; of the second row half, 1 - 0.5 x (1 - 0.2) = 0.6
    lit = lit_cells(panels[0], 0, Shares(((0.75,),)).notes(panels, 0.2))[0, 0]
    assert lit[:9] == pytest.approx([0.2] * 9)
    assert lit[9:] == pytest.approx([0.6] * 9)


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize("wiring", ["4s", "2s2p", "4p"])
def test_every_panel_lies_in_the_drawing_and_none_over_another(wiring: str, phone: bool) -> None:
    rig = example("puppet-stage").wired(wiring)
    chart = PanelsChart(phone=phone)
    chart.update(InShade(compare({wiring: rig}, Snapshot(light=700, temp_cell=30))))
    boxes = [(one.x, one.y, one.x + one.wide, one.y + one.high) for plan in chart.plans for one in plan.boxes]
    assert len(boxes) == 4
    assert all(left > 0 and top > 0 and right < chart.wide and low < chart.high for left, top, right, low in boxes)
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


@pytest.mark.parametrize("phone", [True, False])
def test_words_on_flat_hills_below_the_panels_stand_apart(phone: bool) -> None:
    # "watts" stood on the topmost figure of the axis
    chart = shaded().laid_out(phone=phone)
    chart.update(in_shade())
    assert crowded(chart.power.ax) == []


@pytest.mark.parametrize("phone", [True, False])
@pytest.mark.parametrize(("name", "wiring"), [("seed-swap", "3p"), ("bookmobile", "2p"), ("puppet-stage", "4s")])
def test_the_cold_mornings_handle_sits_where_no_words_stand_beside_its_line(
    name: str, wiring: str, phone: bool
) -> None:
    # of one panel in series the dawn is named low on the chart, where the handle and its words were as well
    chart = CeilingChart(phone=phone)
    chart.update(example(name).wired(wiring))
    (handle,) = touchable(chart).handles({"temp_coldest": example(name).climate.temp_coldest})
    named = chart.spot_words
    words = in_picture(chart.ax, *named.get_position())
    # [pt] a line of 14 pixels and one of 11 points, each half above and half below its middle
    assert abs(words[1] - handle.y) > 15
