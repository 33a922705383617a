"""A page works the next step out before it is asked for, and keeps the last ones: it never shows another state for it.

The measure of every picture is an instrument that keeps nothing and looks nowhere ahead, moved in the same way.
"""

from __future__ import annotations

import asyncio
import random
import re
from typing import Any

import pytest

pytest.importorskip("ipywidgets", reason="pages need the extra 'notebooks'")

import ipywidgets
from test_lessons_foreign import instrument

from vanpower import Snapshot, compare, example
from vanpower.widgets import Chooser, explore, guess, slider
from vanpower.widgets.controls import nearest
from vanpower.widgets.live_picture import LIVE_PAGE

MOVES = 10
# of each page
GONE_S = 0.01
# [s] in which an answer has left its kernel, and the next step is begun
CLIP = re.compile(r"\bp[0-9a-f]{10}\b")
# name of a clip path, which is made of where it lies in memory


@pytest.fixture(autouse=True)
def _on_a_page(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(LIVE_PAGE, "1")
    monkeypatch.setattr(Chooser, "was_mine", False)


class Counted:
    """Which light was asked for, in its order."""

    def __init__(self) -> None:
        self.asked: list[float] = []

    def __call__(self, light: float) -> Any:
        self.asked.append(light)
        if light > 900:
            raise ValueError("light lies above 900 W/m²")
        return compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15))


def counted(*moves: float) -> tuple[Counted, Any]:
    """An instrument whose light was moved to these places, with time for it between them."""
    answer = Counted()

    async def moved() -> Any:
        live = explore(answer, "power", light=slider("Light (W/m²)", 10, 1000, start=200, step=10))
        answer.asked.clear()
        for light in moves:
            live.controls["light"].value = light
            await asyncio.sleep(GONE_S)
        return live

    return answer, asyncio.run(moved())


def test_the_step_after_a_step_is_worked_out_before_it_is_asked_for() -> None:
    # before, 210 and 220 were asked for when they were moved to, and a key waited for the whole answer
    answer, live = counted(210, 220)
    assert answer.asked == [210, 220, 230]
    assert live.result.request.light == 220


def test_the_way_back_is_not_worked_out_again() -> None:
    answer, _ = counted(210, 220, 210, 220)
    assert answer.asked == [210, 220, 230, 200]


def test_after_a_leap_and_at_an_end_nothing_is_worked_out_ahead() -> None:
    assert counted(500)[0].asked == [500]
    assert counted(990, 1000)[0].asked == [990, 1000]


def test_a_chart_that_is_asked_for_shows_the_answer_and_not_what_was_worked_out_ahead() -> None:
    _, live = counted(210, 220)
    title = live.chart.title
    live.settle({"light": 500})
    live.settle({"light": 220})
    assert title == live.chart.title
    assert live.picture.shown(live.sentence, {}) == live.latest.shown | {"words": live.sentence}


def test_a_step_that_fails_says_so_when_it_is_made_and_not_before() -> None:
    answer, live = counted(890, 900)
    assert (answer.asked[-1], live.failure) == (910, "")
    _, live = counted(890, 900, 910)
    assert live.failure == "ValueError: light lies above 900 W/m²"


def test_a_guess_that_moves_its_mark_makes_what_was_kept_old() -> None:
    async def moved() -> list[Any]:
        mark = guess("how many watts?", unit="W", drawn=True, truth=lambda found: 100)
        live = explore(Counted(), "power", light=slider("Light", 10, 1000, start=200, step=10), first=mark)
        seen = []
        for light, words in ((210, ""), (220, ""), (220, "40"), (210, "40"), (200, "40")):
            live.controls["light"].value, mark.field.value = light, words
            await asyncio.sleep(GONE_S)
            seen.append([handle["now"] for handle in live.picture.widget.handles])
        return seen

    assert asyncio.run(moved()) == [["none yet"]] * 2 + [["40 W"]] * 3


def moves_of(live: Any, rng: random.Random) -> list[tuple[str, Any]]:
    """A walk of the controls: mostly steps the same way, some back, some leaps, and choices from lists."""
    kinds = ipywidgets.IntSlider | ipywidgets.FloatSlider
    sliders = {name: one for name, one in live.controls.items() if isinstance(one, kinds)}
    lists = {name: one for name, one in live.controls.items() if isinstance(one, ipywidgets.Dropdown)}
    name, way, at = next(iter(sliders)), 1, {name: one.value for name, one in sliders.items()}
    found = []
    for _ in range(MOVES):
        kind = rng.random()
        if kind < 0.1 and lists:
            chosen = rng.choice([*lists])
            found.append((chosen, rng.choice(lists[chosen].options)[1]))
            continue
        if kind < 0.3:
            name = rng.choice([*sliders])
        if kind < 0.5:
            way = -way
        one = sliders[name]
        leap = rng.uniform(one.min, one.max) if kind > 0.9 else at[name] + way * one.step
        at[name] = nearest(one, leap)
        found.append((name, at[name]))
    return found


def shown_by(live: Any) -> dict[str, Any]:
    """What stands in the page."""
    widget = live.picture.widget
    return {
        "moving": CLIP.sub("p", widget.moving), "still": CLIP.sub("p", widget.still), "handles": widget.handles,
        "words": widget.words, "verdict": live.verdict_line.value, "reasons": live.details.value,
    }  # fmt: skip


@pytest.mark.parametrize("number", ["01", "02", "03", "04", "06", "07", "08", "09", "11"])
def test_every_picture_is_the_one_asked_for_whatever_was_kept_or_worked_out_ahead(number: str) -> None:
    async def walked() -> int:
        live, plain = instrument(number), instrument(number)
        plain.kept.of, plain._look_ahead = (lambda values: None), (lambda: None)
        spared, rng = 0, random.Random(int(number))
        for name, value in moves_of(live, rng):
            spared += live.kept.of(live.values | {name: value}) is not None
            for one in (live, plain):
                one.controls[name].value = value
            mine, other = shown_by(live), shown_by(plain)
            # words that take long come later, or are kept with their picture
            said = mine.keys() - ({"words", "verdict"} if plain.latest.late else set())
            assert {what: mine[what] for what in said} == {what: other[what] for what in said}
            if rng.random() < 0.8:
                await asyncio.sleep(GONE_S)
        return spared

    assert asyncio.run(walked()) > 0
