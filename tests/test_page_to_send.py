"""A page to send: what each state says is what the command line says, whoever made the rig, and the page asks nobody.

Sizes are those promised to who attaches such a file: 150 kB with one control, 600 kB with two.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import math
import random
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from browsing import opened, screenshots
from test_odd_rigs import ODD

from vanpower import Days, Snapshot, compare, example, examples, read_chart, rig_to_toml, save_page, shade
from vanpower.cli import main
from vanpower.sharing.page import page_of
from vanpower.sharing.recipe import ChartRecipe, chart_recipe
from vanpower.sharing.recipe_line import recipe_line
from vanpower.sharing.saving import recipe_for, remake
from vanpower.sharing.states import WORDS, controls, counts_for, place, questions

ONE, TWO = 150_000, 600_000
# [bytes] promised of a page with one control and with two
FOREIGN = {
    "one panel": "one panel",
    "24 panels": "24 panels in 12 strings",
    "two circuits": "two controllers",
    "48 V": "48 V battery and one panel",
    "plain switch": "plain switch far below the panels",
    "half-cut": "half-cut with blocking diodes",
    "unlike panels": "unlike panels in series",
    "tilted": "upright, facing north",
}
# none of them has a roof
DULL = Snapshot(light=150, temp_cell=15)
SHADED = Snapshot(light=800, temp_cell=25, shade=shade("P1.1=0.2"))
EVIL = """</script><script>alert(1)</script> "quoted" 'once' <img src=x onerror=alert(2)> & $x^2$"""
PHONE = {"viewport": {"width": 420, "height": 870}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}


class Read(HTMLParser):
    """A page as a browser without scripts reads it: its tags with what they ask for, and its words by their place."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.words = ""
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts.append(data)
        elif self._inside != "style":
            self.words += f" {data}"


def states_in(text: str) -> dict[str, Any]:
    """What the page unpacks."""
    return json.loads(gzip.decompress(base64.b64decode(Read(text).scripts[0])))


def said(held: dict[str, Any], number: int) -> dict[str, Any]:
    """One state in words."""
    words = held["words"]
    _, _, finding, title, verdict, rows, assumed, cautions = held["states"][number]
    return {
        "finding": words[finding],
        "title": words[title],
        "verdict": words[verdict],
        "rows": [[words[cell] for cell in row] for row in rows],
        "lists": [words[number] for number in (*assumed, *cautions)],
    }


def page(folder: Path, *words: str) -> str:
    """The page that the command line writes."""
    path = folder / "answer.html"
    assert main(["answer", *words, "--page", str(path)]) == 0
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def light_page(tmp_path_factory) -> str:
    """The bookmobile in 60 lights, 137 W/m² asked for."""
    return page(tmp_path_factory.mktemp("light"), "bookmobile", "--light", "137", "--temp", "15")


@cache
def shaded_page() -> tuple[ChartRecipe, Any]:
    """Light and shade of the bookmobile, few of each."""
    recipe = chart_recipe("page", example("bookmobile").wirings(), SHADED, light=6, shade=6)
    return recipe, page_of(recipe).page


def squeezed(text: str) -> str:
    """A printed answer without its breaks."""
    return " ".join(text.split())


# The same words


@pytest.mark.parametrize("number", [0, 7, 44, 58])
def test_each_light_of_a_page_says_what_the_command_line_says_of_it(light_page, capsys, number):
    held = states_in(light_page)
    light = held["controls"][0][number].removesuffix(" W/m²")
    main(["answer", "bookmobile", "--light", light, "--temp", "15"])
    same_words(said(held, number), capsys.readouterr().out)


def same_words(state: dict[str, Any], printed: str) -> None:
    """A state and a printed answer say the same, letter for letter; a line of the terminal may break anywhere."""
    out, lists = bare(printed), [bare(text) for text in state["lists"]]
    assert out.startswith(bare(state["verdict"] + state["title"]))
    assert [row for row in state["rows"] if bare("".join(row)) not in out] == []
    body = out.partition("Assumed:-")[2].partition("Madewith")[0]
    assert body.replace("Caution:-", "-") == "-".join(lists)


def bare(text: str) -> str:
    """A text without blanks."""
    return "".join(text.split())


def test_states_of_light_and_shade_say_what_the_command_line_says_of_them(tmp_path, capsys):
    held = states_in(page(tmp_path, "puppet-stage", "--light", "800", "--shade", "P1.1=0.2", "--wiring", "4p", "2s2p"))
    lights, shades = held["controls"]
    for light, lit in random.Random(4).sample([(k, n) for k in range(len(lights)) for n in range(len(shades))], 4):
        capsys.readouterr()
        share = float(shades[lit].removesuffix(" %")) / 100
        main(["answer", "puppet-stage", "--light", lights[light].removesuffix(" W/m²"), "--shade", f"P1.1={share:g}",
              "--wiring", "4p", "2s2p"])  # fmt: skip
        same_words(said(held, place([len(lights), len(shades)], [light, lit])), capsys.readouterr().out)


def test_the_kinds_of_day_beside_the_one_asked_for_say_what_the_command_line_says(tmp_path, capsys):
    held = states_in(page(tmp_path, "bookmobile", "--day", "dull"))
    assert [label.partition(":")[0] for label in held["controls"][0]] == [
        "dullest", "dull", "median", "bright", "brightest"]  # fmt: skip
    for number, day in ((1, "dull"), (4, "brightest")):
        capsys.readouterr()
        main(["answer", "bookmobile", "--day", day])
        same_words(said(held, number), capsys.readouterr().out)


def test_other_volts_of_the_battery_say_what_the_command_line_says_of_a_file_with_them(tmp_path, capsys):
    held = states_in(page(tmp_path, "hay-cart", "--light", "900", "--temp", "60", "--move", "volts"))
    number = held["controls"][0].index("14.4 V")
    asked = tmp_path / "asked.toml"
    asked.write_text(rig_to_toml(example("hay-cart").with_battery(v_now=14.4)), encoding="utf-8")
    capsys.readouterr()
    main(["answer", str(asked), "--light", "900", "--temp", "60"])
    same_words(said(held, number), capsys.readouterr().out)


def test_a_wiring_that_is_refused_is_refused_in_every_state(tmp_path):
    """2s stands at 2 x 22.3 V x (1 + 0.0031 x 36) = 49.6 V at -11 °C, over a ceiling of 45 V; 2p at half of it."""
    rig = example("bookmobile")
    circuit = replace(rig.circuits[0], controller=replace(rig.circuits[0].controller, v_pv_max=45.0))
    rigs = replace(rig, circuits=(circuit,)).wirings()
    recipe = save_page(tmp_path / "answer.html", compare(rigs, DULL), "volts")
    held = states_in((tmp_path / "answer.html").read_text(encoding="utf-8"))
    for number in range(len(held["states"])):
        state = said(held, number)
        assert "2s is out: " in state["verdict"]
        assert [row[3] for row in state["rows"] if row[0] == "2s"] == ["no"]
    assert re.fullmatch(r"2s [\d.]+ W \(not allowed\), 2p [\d.]+ W", recipe.numbers["13.3 V"])


def test_dull_light_is_told_as_a_range_and_bright_light_as_a_number(light_page):
    """Panels measured at 100 W/m² gave 80 to 95 % of their labels: one number alone would be surer than that."""
    held = states_in(light_page)
    dull, bright = said(held, 30)["verdict"], said(held, -1)["verdict"]
    assert re.match(r"No difference within 3 %: about [\d.]+ W in 2[sp]", dull)
    assert re.search(r" Measured panels differ in dull light: [\d.]+ to [\d.]+ W in 2[sp]", dull)
    assert re.match(r"No difference within 3 %: [\d.]+ W in 2[sp], [\d.]+ W in 2[sp]\. Choose", bright)


# What is asked for stands there first


def test_the_state_asked_for_stands_in_plain_html_with_its_drawing(light_page):
    text = light_page
    held, read = states_in(text), Read(text)
    number = held["controls"][0].index("137 W/m²")
    state, words = said(held, number), squeezed(read.words)
    for part in (state["finding"], state["title"], state["verdict"], *state["lists"]):
        assert squeezed(part) in words
    still, moving = held["states"][number][:2]
    assert held["movings"][moving] in text
    assert held["stills"][still].rpartition("</svg>")[0] in text
    roles = [attributes.get("role") for _, attributes in read.tags]
    assert roles.count("status") == 1
    assert "to move it, open it in a browser that runs its script" in words


@pytest.mark.parametrize("light", [0.0, 2.5, 149.7, 1750.0])
def test_what_was_asked_is_a_state_whatever_it_was(light):
    moment = Snapshot(light=light, temp_cell=15)
    (control,) = controls({"2p": example("bookmobile")}, [moment], {"light": 60})
    assert control.labels[control.start] == f"{light:g} W/m²"
    values = [float(label.removesuffix(" W/m²")) for label in control.labels]
    assert values == sorted(set(values))


def test_shade_moves_from_none_to_all_and_unlike_notes_move_together():
    rigs = {"3p": example("puppet-stage")}
    for notes, first, last in (
        (shade("P1=0.3"), {0.0}, {1.0}),
        (shade("P1=0.2", "P3=0.6"), {1.0}, {0.2, 0.6}),
    ):
        moment = Snapshot(light=800, temp_cell=25, shade=notes)
        moved = controls(rigs, [moment], {"shade": 11})
        asked = [request for _, request in questions(rigs, [moment], moved)]
        assert {note.lit for note in asked[0].shade} == first
        assert {note.lit for note in asked[-1].shade} == last
        assert asked[moved[0].start].shade == notes


def test_states_are_numbered_with_the_last_control_running_fastest():
    rigs = {"2p": example("bookmobile")}
    moved = controls(rigs, [SHADED], {"light": 5, "shade": 6})
    counts = [len(control.labels) for control in moved]
    asked = questions(rigs, [SHADED], moved)
    assert len(asked) == math.prod(counts)
    number = place(counts, [3, 1])
    assert (asked[number][1].light, asked[number][1].shade[0].lit) == (
        float(moved[0].labels[3].removesuffix(" W/m²")),
        float(moved[1].labels[1].removesuffix(" %")) / 100,
    )


# Made again


def test_a_page_is_made_again_as_a_page_and_an_edited_number_is_noticed(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page(tmp_path, "bookmobile", "--light", "150", "--temp", "15", "--move", "volts")
    capsys.readouterr()
    assert main(["remake", "answer.html", "--out", "again.html"]) == 0
    printed = capsys.readouterr().out
    assert "numbers are the same to the last printed digit" in printed
    assert Path("again.html").read_bytes() == Path("answer.html").read_bytes()
    assert main(["remake", "answer.html"]) == 0
    assert [path.suffix for path in tmp_path.glob("remade-*")] == [".html"]
    recipe = read_chart("answer.html")
    edited = replace(recipe, numbers={**recipe.numbers, "13.3 V": "2s 99.9 W, 2p 99.9 W"})
    Path("edited.txt").write_text(recipe_line(edited))
    assert main(["remake", "edited.txt", "--out", "edited.html"]) == 1
    assert "13.3 V: 2s 99.9 W, 2p 99.9 W then, 2s" in capsys.readouterr().out


def test_every_state_is_among_the_numbers_that_are_compared():
    recipe, shown = shaded_page()
    numbers = page_of(recipe).numbers
    places = [f"{light}, {lit}" for light in shown.controls[0].labels for lit in shown.controls[1].labels]
    assert [name for name in places if name not in numbers] == []
    assert remake(replace(recipe, numbers=numbers)).differences == ()


def test_a_page_from_a_stranger_that_asks_for_too_much_is_refused_before_work():
    rigs = example("bookmobile").wirings()
    for options, told in (
        ({"light": 60, "volts": 60}, "up to 400 states"),
        ({"light": 61}, "up to 400 states"),
        ({"light": True}, "2 to 60 values"),
        ({"light": "many"}, "2 to 60 values"),
        ({"heat": 5}, "none of them"),
        ({"shade": 5}, "none was"),
        ({"day": 5}, "where several were asked for"),
        ({"light": 5, "volts": 5, "shade": 5}, "one thing or two"),
    ):
        with pytest.raises(ValueError, match=told):
            page_of(chart_recipe("page", rigs, SHADED if len(options) == 3 else DULL, **options))
    with pytest.raises(ValueError, match="light of one moment"):
        page_of(chart_recipe("page", rigs, Days(day="12-21"), light=5))
    with pytest.raises(ValueError, match="one moment, or days"):
        page_of(chart_recipe("page", rigs, DULL, SHADED))


# Names, requests, files


def evil_page(tmp_path: Path) -> str:
    """A page of a rig, a panel, a controller and wirings whose names try to be more than names."""
    rig = example("bookmobile")
    panels = tuple(replace(panel, name=EVIL[:80]) for panel in rig.panels)
    rig = replace(rig, name=EVIL, source=EVIL, panels=panels)
    rigs = {f"{name} {EVIL}": one for name, one in rig.wirings().items()}
    recipe = replace(recipe_for("page", compare(rigs, DULL)), options={"light": 5})
    save_page(tmp_path / "evil.html", compare(rigs, DULL), "volts")
    assert read_chart(tmp_path / "evil.html").rigs == recipe.rigs
    return (tmp_path / "evil.html").read_text(encoding="utf-8")


def test_names_that_try_to_be_more_stay_letters(tmp_path):
    text = evil_page(tmp_path)
    read = Read(text)
    assert [tag for tag, _ in read.tags if tag in ("script", "img", "iframe", "object", "form", "a")] == ["script"] * 2
    assert not any(name.startswith("on") for _, attributes in read.tags for name in attributes)
    assert squeezed(EVIL) in squeezed(read.words)
    held = states_in(text)
    for drawing in (*held["stills"], *held["movings"], *held["hatches"]):
        assert "<img" not in drawing
        assert "<script" not in drawing


def test_letters_that_turn_or_break_a_line_come_into_no_page(tmp_path):
    """A right-to-left override (U+202E) would turn what stands behind it, 12.5 A into A 5.21."""
    rig = example("bookmobile").wired("2p")
    with pytest.raises(ValueError, match="breaks its line or steers a screen"):
        save_page(tmp_path / "a.html", compare({"a\u202eb": rig}, DULL), "volts")
    with pytest.raises(ValueError, match="name"):
        replace(rig, name="my\nvan\u202e")
    assert list(tmp_path.iterdir()) == []


def test_the_page_asks_for_nothing_and_runs_its_own_script_alone(light_page):
    """Content Security Policy Level 3, 6.1.3 default-src and 2.3.1 hash sources (sha256 of the script's letters)."""
    text, read = light_page, Read(light_page)
    policy = next(a["content"] for tag, a in read.tags if a.get("http-equiv") == "Content-Security-Policy")
    own = base64.b64encode(hashlib.sha256(read.scripts[-1].encode()).digest()).decode()
    assert policy.split("; ")[:2] == ["default-src 'none'", f"script-src 'sha256-{own}'"]
    asked = [a[name] for _, a in read.tags for name in ("src", "href", "srcset", "data", "action") if a.get(name)]
    assert [address for address in asked if address != "data:,"] == []
    assert [a for a in re.findall(r"https?://[^\s\"'<)]+", text) if not a.startswith("http://www.w3.org/")] == []
    assert "@import" not in text
    assert len(read.scripts) == 2


def test_a_page_goes_over_one_of_the_kit_and_never_over_anothers(tmp_path, capsys):
    path = tmp_path / "answer.html"
    words = ["answer", "bookmobile", "--move", "volts", "--page", str(path)]
    assert main(words) == main(words) == 0
    for held in (path.read_bytes().replace(b"W/m", b"W/M", 1), b"<html>my own page</html>"):
        path.write_bytes(held)
        assert main(words) == 2
        assert path.read_bytes() == held
    assert [one.name for one in tmp_path.iterdir()] == ["answer.html"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--page", "a.pdf"], "page 'a.pdf' ends in .pdf; write .html."),
        (["--move", "light"], "add --page answer.html"),
        (["--page", "a.html", "--move", "shade"], "name the cells, such as P1=0.2"),
        (["--page", "a.html", "--move", "light", "light"], "one thing or two different ones"),
        (["--page", "a.html", "--move", "day"], "where several were asked for"),
        (["--page", "a.html", "--day", "dull", "--move", "light"], "move the day"),
        (["--page", "gone/a.html"], "make it first"),
    ],
)
def test_what_no_page_can_move_is_told_before_any_work(tmp_path, monkeypatch, capsys, words, told):
    monkeypatch.chdir(tmp_path)
    assert main(["answer", "bookmobile", *words]) == 2
    problem = capsys.readouterr()
    assert told in problem.err
    assert problem.out == ""
    assert list(tmp_path.iterdir()) == []


# Every rig


def rig_named(name: str) -> Any:
    """An example, or one of the foreign rigs."""
    return ODD[FOREIGN[name]].rig if name in FOREIGN else example(name)


def weighed(*usual: str) -> list[Any]:
    """Every rig, of which all but some are weighed nightly: a page has hundreds of states."""
    every = [*examples(), *FOREIGN]
    return [name if name in usual else pytest.param(name, marks=pytest.mark.nightly) for name in every]


@pytest.mark.parametrize("name", weighed("bookmobile", "kiln-bus", "24 panels", "two circuits"))
def test_every_rig_gets_a_page_of_its_light_within_the_promised_size(tmp_path, name):
    rigs = rig_named(name).wirings()
    recipe = save_page(tmp_path / "answer.html", compare(rigs, DULL))
    assert (tmp_path / "answer.html").stat().st_size <= ONE
    assert list(recipe.options) == ["light"]
    held = states_in((tmp_path / "answer.html").read_text(encoding="utf-8"))
    assert len(held["states"]) >= 40
    assert all(len(said(held, number)["rows"]) == len(rigs) for number in range(len(held["states"])))


@pytest.mark.parametrize("name", weighed("bookmobile"))
def test_every_rig_gets_a_page_of_light_and_shade_within_the_promised_size(tmp_path, name):
    rigs = rig_named(name).wirings(shade=SHADED.shade)
    save_page(tmp_path / "answer.html", compare(rigs, SHADED))
    assert (tmp_path / "answer.html").stat().st_size <= TWO


@pytest.mark.parametrize("name", weighed("bookmobile"))
def test_days_with_shade_fit_the_promised_size(tmp_path, name):
    rigs = rig_named(name).wirings(shade=SHADED.shade)
    days = compare(rigs, Days(weather="greensboro", day="dull", shade=SHADED.shade))
    recipe = save_page(tmp_path / "answer.html", days)
    assert list(recipe.options) == ["day", "shade"]
    assert (tmp_path / "answer.html").stat().st_size <= TWO


def test_many_wirings_have_fewer_states_and_two_have_as_many_as_a_finger_tells_apart():
    two, eight = example("bookmobile").wirings(), ODD[FOREIGN["24 panels"]].rig.wirings()
    assert counts_for(["light"], two, [DULL]) == {"light": 60}
    assert counts_for(["light", "shade"], two, [SHADED]) == {"light": 19, "shade": 21}
    assert counts_for(["light"], eight, [DULL]) == {"light": 45}
    assert set(WORDS) == {"light", "day", "shade", "volts"}


# In a browser, from a file, with no network


def test_on_a_telephone_without_a_network_every_state_is_there_for_finger_key_and_button(tmp_path, browser):
    text = page(tmp_path, "bookmobile", "--light", "150", "--temp", "15", "--shade", "P1.1=0.2")
    held = states_in(text)
    with opened(browser, offline=True, **PHONE) as shown:
        asked: list[str] = []
        shown.on("request", lambda request: asked.append(request.url))
        shown.goto((tmp_path / "answer.html").as_uri())
        shown.wait_for_selector("body[data-state]")
        print(f"ready after {shown.evaluate('performance.now()'):.0f} ms")
        assert_shows(shown, held, int(shown.evaluate("document.body.dataset.state")))
        box = shown.locator("#control0").bounding_box()
        shown.touchscreen.tap(box["x"] + box["width"] - 20, box["y"] + box["height"] / 2)
        shown.locator("#control1").focus()
        shown.keyboard.press("End")
        shown.locator("#less1").tap()
        lights, shades = map(len, held["controls"])
        value = int(shown.locator("#control0").input_value())
        assert value > lights - 4
        assert_shows(shown, held, place([lights, shades], [value, shades - 2]))
        assert shown.locator("#control1").get_attribute("aria-valuetext") == held["controls"][1][-2]
        for number in range(lights):
            shown.locator("#control0").fill(str(number))
        assert_shows(shown, held, place([lights, shades], [lights - 1, shades - 2]))
        assert shown.evaluate("document.documentElement.scrollWidth") <= 420
        assert small(shown) == []
        shown.screenshot(path=screenshots(tmp_path) / "page-to-send-420.png", full_page=True)
        assert [address for address in asked if not address.startswith(("file:", "data:"))] == []
        assert shown.problems == []


def assert_shows(shown: Any, held: dict[str, Any], number: int) -> None:
    """The browser shows this state: words, table, and the moving part of its drawing."""
    state = said(held, number)
    assert shown.locator("#find").text_content() == state["finding"]
    status = shown.locator("[role=status]").text_content()
    assert squeezed(status) == squeezed(f"{state['title']} {state['verdict']}")
    rows = [row.locator("th, td").all_text_contents() for row in shown.locator("#rows tr").all()]
    assert rows == state["rows"]
    assert shown.locator("#assumed li, #cautions li").count() == len(state["lists"])
    drawn = " ".join(shown.locator("#moving text").all_text_contents())
    wanted = " ".join(re.findall(r"<text[^>]*>([^<]*)<", held["movings"][held["states"][number][1]]))
    assert squeezed(drawn) == squeezed(wanted) != ""


def small(shown: Any) -> list[str]:
    """What a finger is to touch and is under 44 pixels (WCAG 2.1, success criterion 2.5.5)."""
    return shown.evaluate(
        """() => [...document.querySelectorAll('button, input, summary')].filter(node => {
            const box = node.getBoundingClientRect();
            return box.width < 44 || box.height < 44;
        }).map(node => node.id || node.tagName)"""
    )


def test_names_that_try_to_be_more_run_nothing_in_a_browser(tmp_path, browser):
    evil_page(tmp_path)
    with opened(browser, offline=True, **PHONE) as shown:
        talked: list[str] = []
        shown.on("dialog", lambda dialog: (talked.append(dialog.message), dialog.dismiss()))
        shown.goto((tmp_path / "evil.html").as_uri())
        shown.wait_for_selector("body[data-state]")
        shown.locator("#more0").tap()
        assert talked == []
        assert shown.locator("img").count() == 0
        assert shown.evaluate("document.documentElement.scrollWidth") <= 420
        assert shown.problems == []


@pytest.mark.parametrize("how", ["no script", "no unpacking"])
def test_a_browser_that_cannot_shows_the_state_asked_for_and_says_so(tmp_path, browser, how):
    held = states_in(page(tmp_path, "bookmobile", "--light", "150", "--temp", "15", "--move", "volts"))
    number = held["controls"][0].index("13.3 V")
    with opened(browser, offline=True, java_script_enabled=how != "no script", **PHONE) as shown:
        shown.add_init_script("delete window.DecompressionStream")
        shown.goto((tmp_path / "answer.html").as_uri())
        assert shown.get_by_text("to move it, open it in" if how == "no script" else "older than 2023").is_visible()
        assert_shows(shown, held, number)
        assert not shown.locator("#controls").is_visible()
        shown.screenshot(path=screenshots(tmp_path) / "page-without.png")
