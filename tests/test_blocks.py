"""Text to paste into a forum: verdict first, cautions inside, and a recipe that survives what boards do to text."""

from __future__ import annotations

import re
import textwrap
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower.files.rig_files import example
from vanpower.rig import Days, Rig, Snapshot, Wiring
from vanpower.sharing.forum import LONGEST_PASTED, WIDTH
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.recipe_line import recipe_in, recipe_line
from vanpower.sharing.saving import forum_answer, recipe_for
from vanpower.studies.comparison import Comparison, compare


def compared(rig: Rig, *requests: Snapshot | Days) -> list[Comparison]:
    return [compare(rig.wirings(), request) for request in requests]


@pytest.fixture(scope="module")
def dull() -> list[Comparison]:
    """Two panels in dull light."""
    return compared(example("bookmobile"), Snapshot(light=120, temp_cell=9))


@pytest.fixture(scope="module")
def recipe(dull: list[Comparison]) -> ChartRecipe:
    return recipe_in(forum_answer(dull), "post")


@pytest.mark.parametrize("markdown", [False, True])
def test_first_words_are_the_verdict_and_every_part_is_there(dull, markdown):
    text = forum_answer(dull, markdown=markdown)
    said = dull[0].verdict
    plain = " ".join(text.replace("**", "").split())
    assert plain.startswith(said.sentence)
    assert f"Rests on: {said.basis}." in plain
    assert dull[0].text(WIDTH) in text
    assert "At 120 W/m² and cells at 9 °C" in text
    for caution in ("anels are live in daylight", "DC arc", "not charged below 0 °C", "not a permit"):
        assert caution in plain


def test_assumptions_are_the_labels_of_the_rig(dull):
    plain = " ".join(forum_answer(dull).split())
    rig = example("bookmobile")
    panel, circuit = rig.panels[0], rig.circuits[0]
    assert f"2 x {panel.name}: open {panel.v_oc:g} V, short {panel.i_sc:g} A" in plain
    assert f"up to {circuit.controller.v_pv_max:g} V in" in plain
    assert f"{circuit.cable.length_m:g} m one way of {circuit.cable.section_mm2:g} mm²" in plain
    assert f"Coldest dawn {rig.climate.temp_coldest:g} °C" in plain


def test_lead_battery_and_mild_winter_bring_no_word_on_frost():
    rig = example("bookmobile")
    mild = replace(rig, climate=replace(rig.climate, temp_coldest=4.0))
    assert "below 0 °C" not in forum_answer(compared(mild, Snapshot(light=500, temp_cell=25)))


def test_forbidden_wiring_and_its_caution_are_in_the_block():
    text = " ".join(forum_answer(compared(example("puppet-stage"), Snapshot(light=500, temp_cell=25))).split())
    assert "4s is out:" in text
    assert "Over-voltage can destroy a controller at once" in text


def test_what_burns_or_falls_short_in_a_wiring_that_is_allowed_stands_among_the_cautions():
    rig = example("seed-swap")
    thin = replace(rig.circuits[0], cable=replace(rig.circuits[0].cable, section_mm2=1.5))
    text = " ".join(forum_answer(compared(replace(rig, circuits=(thin,)), Snapshot(light=500, temp_cell=25))).split())
    cautions = text.partition("Caution:")[2]
    for word in (
        "3p, string fuse: Needed",
        "3p, reverse current: The string of P1 and of P2 decides: up to 17.3 A",
        "3p, cable current: ",
        "Buy 4 mm²",
    ):
        assert word in cautions
    assert "3s, " not in cautions, "nothing burns in series"


def test_three_strings_whose_label_gives_no_fuse_are_told_to_ask_and_two_are_not():
    for count, told in ((3, True), (2, False)):
        rig = example("bookmobile")
        panels = (replace(rig.panels[0], i_max_fuse=None),) * count
        beside = replace(rig.circuits[0], wiring=Wiring(strings=tuple((p,) for p in range(count))))
        answer = compare({"beside": replace(rig, panels=panels, circuits=(beside,))}, Snapshot(light=500, temp_cell=25))
        assert ("beside, string fuse: A label gives no largest" in forum_answer(answer)) == told


def test_a_wiring_that_a_hot_roof_starves_is_told_so_in_dull_light_as_well():
    rig = example("puppet-stage")
    low = replace(rig.panels[0], v_oc=18.0, v_mp=15.0, cells_in_series=30)
    text = " ".join(forum_answer(compared(replace(rig, panels=(low,) * 4), Snapshot(light=120, temp_cell=9))).split())
    assert "2s2p, hot floor: On a hot roof " in text
    assert "4p, " not in text, "it delivers nothing"


def test_lights_that_rest_on_unlike_things_are_told_apart():
    texts = [
        " ".join(forum_answer(compared(example("bookmobile"), *days)).split())
        for days in ([Days(day="dull"), Days(day="bright")], [Days(day="dull")])
    ]
    assert "Dec, 303 Wh/m² on the flat, rests on: battery held" in texts[0]
    assert texts[0].count("rests on: ") == 2
    assert texts[1].count("Rests on: ") == 1


def test_panels_are_called_live_once_even_where_a_verdict_says_so_too():
    text = " ".join(forum_answer(compared(example("seed-swap"), Snapshot(light=500, temp_cell=25))).split())
    assert text.count("anels are live in daylight") == 1


def test_several_days_are_named_before_their_verdicts():
    days = compared(example("bookmobile"), Days(day="dull"), Days(day="bright"))
    text = forum_answer(days, markdown=True)
    first, second = [line for line in text.split("\n") if line.startswith("**")][:2]
    assert first.startswith("**Sand Point")
    assert first.split(":")[0] != second.split(":")[0]
    assert len(recipe_in(text, "post").requests) == 2


def test_plain_lines_fit_a_box_on_a_board(dull):
    lines = forum_answer(dull).split("\n")
    assert [line for line in lines if len(line) > WIDTH] == []


# What boards and mail do to text


def quoted(text: str) -> str:
    return "\n".join(f"> > {line}" for line in text.split("\n"))


DONE_TO_TEXT = {
    "nothing": lambda text: text,
    "quoted": quoted,
    "wrapped short": lambda text: "\n".join(textwrap.fill(line, 31) for line in text.split("\n")),
    "quoted and wrapped": lambda text: "\n".join(textwrap.wrap(quoted(text), 47)),
    "one line": lambda text: " ".join(text.split()),
    "no blanks": lambda text: re.sub(r"\s", "", text),
    "Windows": lambda text: text.replace("\n", "\r\n"),
    "HTML": lambda text: (
        quoted(text).replace(">", "&gt;").replace("\n", "<br>\n").replace("<br>", "\N{NO-BREAK SPACE}")
    ),
    "soft hyphens": lambda text: re.sub(r"(\w{20})", "\\1\N{SOFT HYPHEN}", text),
    "indented": lambda text: textwrap.indent(text, "\t    "),
    "table": lambda text: "\n".join(f"| {line} |" for line in text.split("\n")),
    "words before and after": lambda text: f"Hello = all,\n{text}\nthat = end of it. vanpower-recipe v1",
}


@pytest.mark.parametrize("markdown", [False, True])
@pytest.mark.parametrize("done", DONE_TO_TEXT)
def test_recipe_survives_what_boards_do_to_text(dull, recipe, done, markdown):
    assert recipe_in(DONE_TO_TEXT[done](forum_answer(dull, markdown=markdown)), "post") == recipe


def test_recipe_is_the_one_of_the_picture(dull, recipe):
    assert recipe.question == recipe_for("answer", dull).question
    assert recipe.numbers["2s"] == f"{dull[0].outcomes['2s'].energy_wh:.1f} W"


@settings(max_examples=200, deadline=None)
@given(at=st.integers(40, 1500), letter=st.sampled_from("AZaz09+/"))
def test_one_wrong_letter_is_noticed(recipe, at, letter):
    line = recipe_line(recipe)
    at = min(at, len(line) - 8)
    if line[at] != letter:
        with pytest.raises(ValueError, match=r"^post: its recipe (is damaged|does not match its id|is cut)"):
            recipe_in(line[:at] + letter + line[at + 1 :], "post")


def test_cut_text_is_told_to_be_copied_whole(recipe):
    with pytest.raises(ValueError, match="copy everything from vanpower-recipe to the word end"):
        recipe_in(recipe_line(recipe)[:500], "post")


def test_recipe_too_long_to_paste_is_left_to_the_picture(tmp_path):
    path = tmp_path / "minutes.csv"
    rows = [f"2026-06-01 {k // 60:02}:{k % 60:02},{100 + k * 7919 % 611},{20 + k % 13 / 10}" for k in range(1440)]
    path.write_text("\n".join(["time,ghi,temp_air", *rows]), encoding="utf-8")
    rig = example("bookmobile")
    text = forum_answer([compare({"as it is": rig}, Days(weather=str(path), day="only"))])
    assert "too long to paste" in text
    assert len(text) < LONGEST_PASTED


def test_names_of_strangers_steer_neither_terminal_nor_markdown():
    rig = replace(example("bookmobile"), name="*van* <script> `x` $y$")
    block = compared(rig, Snapshot(light=500, temp_cell=25))
    for markdown in (False, True):
        text = forum_answer(block, markdown=markdown)
        assert all(line.isprintable() for line in text.split("\n"))
    assert r"\*van\* \<script\> \`x\`" in forum_answer(block, markdown=True)
