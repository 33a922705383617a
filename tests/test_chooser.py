"""Whose van a page speaks of: the example's or one's own, controls that follow it, a guess made before the answer."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="choosers need the extra 'notebooks'")

from foreign_rigs import FOREIGN, foreign  # noqa: E402

from vanpower import Snapshot, compare, example  # noqa: E402
from vanpower.figures.power import PowerChart  # noqa: E402
from vanpower.rig import Rig  # noqa: E402
from vanpower.widgets import Chooser, choice, explore, guess, slider, whose_van  # noqa: E402

LIBRARY = example("bookmobile")


@pytest.fixture(autouse=True)
def van(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Where one's own van would be; the choice of the test before is forgotten."""
    path = tmp_path / "my-van.toml"
    monkeypatch.setenv("VANPOWER_VAN", str(path))
    monkeypatch.setattr(Chooser, "was_mine", False)
    yield path
    Chooser.was_mine = False


def answer(van: Rig, light: float, wiring: str, v_now: float) -> Any:
    now = van.wired(wiring).with_battery(v_now=v_now)
    return compare({wiring: now}, Snapshot(light=light, temp_cell=15))


def opened(needs: Any = None) -> Any:
    return explore(
        answer,
        PowerChart(),
        van=whose_van(LIBRARY, "library van", needs),
        light=slider("Light (W/m²)", 10, 1000, start=200),
        wiring=choice("Wiring", lambda van: list(van.wirings()), start=lambda van: van.circuits[0].wiring.name),
        v_now=slider(
            "Battery (V)", lambda van: van.battery.v_nominal, 14.6, start=lambda van: van.battery.v_now, step=0.1
        ),
    )


def choose(live: Any, index: int) -> None:
    live.chooser.buttons.index = index


def test_one_press_puts_ones_own_van_in_and_its_controls_follow(van: Path) -> None:
    van.write_text(FOREIGN["48 V"])
    live = opened()
    live.controls["light"].value = 500
    choose(live, 1)
    rig = foreign("48 V")
    assert live.failure == ""
    assert live.result.outcomes["3s2p"].rig == rig
    # what belongs to the van follows it, what was set for any van stays
    assert live.controls["wiring"].options == tuple((name, name) for name in rig.wirings())
    assert (live.controls["v_now"].value, live.controls["v_now"].max) == (52.8, 52.8)
    assert live.controls["light"].value == 500
    assert live.sentence.endswith(compare({"3s2p": rig}, Snapshot(light=500, temp_cell=15)).verdict.caution)
    choose(live, 0)
    assert live.result.outcomes["2p"].rig == LIBRARY


def test_the_box_beside_a_slider_follows_the_van_too(van: Path) -> None:
    van.write_text(FOREIGN["48 V"])
    live = opened()
    choose(live, 1)
    box, _ = live.rows["v_now"].children
    assert (box.value, box.max) == (52.8, 52.8)


def test_one_press_is_one_answer(van: Path) -> None:
    van.write_text(FOREIGN["48 V"])
    live = opened()
    asked: list[str] = []
    real = live.answer
    live.answer = lambda **given: asked.append(given["van"].name) or real(**given)
    choose(live, 1)
    assert asked == ["Film lorry, six at 48 V"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "There is no van of yours yet."),
        (FOREIGN["tilted"].replace("v_oc = 22.3", "v_oc = 12.3"), "Are the two swapped?"),
        (FOREIGN["tilted"], "This page needs a roof."),
    ],
)
def test_a_van_that_cannot_be_is_told_in_a_sentence_with_a_link_and_the_chart_is_said_to_be_the_examples(
    van: Path, text: str | None, said: str
) -> None:
    if text is not None:
        van.write_text(text)
    live = opened(lambda rig: "" if rig.roof else "a roof")
    choose(live, 1)
    assert live.failure == ""
    assert said in live.sentence
    assert 'href="my-van.ipynb"' in live.verdict_line.value
    assert "The chart still shows the library van." in live.verdict_line.value
    assert live.result.outcomes["2p"].rig == LIBRARY


def test_a_van_that_changed_is_offered_and_put_in_by_a_press_alone(van: Path) -> None:
    van.write_text(FOREIGN["48 V"])
    live = opened()
    choose(live, 1)
    shown = live.result
    van.write_text(FOREIGN["half-cut"])
    live.chooser.look()
    assert live.result is shown
    assert "has changed" in live.chooser.note.value
    assert live.chooser.use.layout.display == ""
    # a change that was undone is nothing to take
    van.write_text(FOREIGN["48 V"])
    live.chooser.look()
    assert foreign("48 V").name in live.chooser.note.value
    assert live.chooser.use.layout.display == "none"
    van.write_text(FOREIGN["half-cut"])
    live.chooser.look()
    live.chooser.use.click()
    assert live.result.outcomes["2s"].rig == foreign("half-cut")
    assert live.chooser.use.layout.display == "none"


def test_the_file_is_looked_at_by_itself_where_a_loop_runs(van: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setattr(sys.modules["vanpower.widgets.chooser"], "LOOK_S", 0.001)

    async def page() -> str:
        whose = whose_van(LIBRARY, "library van")
        whose.watch()
        van.write_text(FOREIGN["half-cut"])
        for _ in range(1000):
            await asyncio.sleep(0.001)
            if not whose.mine.lacks:
                break
        whose.close()
        return whose.mine.rig.name

    assert asyncio.run(page()) == "Camper, two half-cut panels"


def test_the_next_page_opens_with_ones_own_van_where_that_was_chosen_last(van: Path) -> None:
    van.write_text(FOREIGN["half-cut"])
    choose(opened(), 1)
    assert opened().result.outcomes["2s"].rig == foreign("half-cut")


def test_names_of_strangers_are_shown_and_not_run(van: Path) -> None:
    van.write_text(FOREIGN["half-cut"].replace("Camper, two", "<script>alert(1)</script>"))
    live = opened()
    choose(live, 1)
    assert "&lt;script&gt;" in live.chooser.note.value
    assert "<script" not in live.chooser.note.value + live.verdict_line.value


def test_a_list_of_one_is_not_shown(van: Path) -> None:
    van.write_text(FOREIGN["one panel"])
    live = opened()
    assert live.controls["wiring"].layout.display is None
    choose(live, 1)
    assert live.controls["wiring"].layout.display == "none"


def test_a_guess_moves_the_controls_and_is_held_against_the_answer() -> None:
    first = guess("how many watts?", at={"light": 80}, truth=lambda result: 16.0, unit="W")
    live = explore(
        lambda light: compare(LIBRARY.wirings(), Snapshot(light=light, temp_cell=15)),
        PowerChart(),
        light=slider("Light (W/m²)", 10, 1000, start=200),
        first=first,
    )
    first.button.click()
    assert live.controls["light"].value == 200, "nothing is given away without a guess"
    first.field.value = "15,0"
    first.button.click()
    assert live.controls["light"].value == 80
    assert first.said.value == "<p role='status'>You guessed 15 W; it is 16.0 W. Close.</p>"
    first.field.value = "many"
    first.button.click()
    assert "is not a number" in first.said.value


@pytest.mark.parametrize(("chosen", "said"), [("series", "and so it is"), ("alike", "it is series")])
def test_a_guess_in_words(chosen: str, said: str) -> None:
    asked = guess("which?", at={}, truth=lambda result: "series", words=("series", "parallel", "alike"))
    asked.field.value = chosen
    asked.compare(lambda at: None)
    assert said in asked.said.value
