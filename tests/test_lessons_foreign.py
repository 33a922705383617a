"""Every lesson serves any van: its instrument says of eight foreign rigs what the command line says, word for word.

A page's two first cells are run as they stand, one's own van is chosen by its button, and what the page says is looked
for in what the command prints of the same file. Where a page needs what a file has not, it says so and shows the way.
Nothing that a page says stands on it twice, and of its example's van it never speaks as of the reader's.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("ipywidgets", reason="pages need the extra 'notebooks'")

from browsing import FOLDER
from foreign_rigs import FOREIGN, SMALL, SPOTS, roofed
from said_once import outputs, says_once

from vanpower.cli import main
from vanpower.figures.roof import clock
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example, read_rig, rig_to_toml
from vanpower.watching.practice import DAYS, FIRST, LATITUDE, LONGITUDE, STAY_DAYS, practice
from vanpower.watching.telling import Watched
from vanpower.widgets import Chooser

LOG, OWN_LOG = data_folder() / "logs" / "apple-barn.csv", "my-log.csv"
COMMANDS: dict[str, tuple[str, ...]] = {
    "01": ("compare", "VAN", "--light", "200", "--temp", "5"),
    "02": ("check", "VAN"),
    "03": ("compare", "VAN", "--light", "700", "--temp", "30", "--shade", "P1.1=0.2"),
    "04": ("day", "VAN", "--day", "bright"),
    "05": ("year", "VAN"),
    "07": ("check", "VAN"),
    "08": ("trial", OWN_LOG, "--rig", "VAN", "--wirings", "OWN", "OWN"),
    "09": ("answer", "VAN", "--light", "250", "--temp", "14"),
    "11": ("fault", "VAN", "--volts", "17", "--amps", "3.5", "--light", "620", "--circuit", "1"),
    "12": ("trip", "three-coasts", "--rig", "VAN", "--quick"),
}
# what is typed for the question that a page opens with
NO_AH = FOREIGN["tilted"].replace(", capacity_ah = 100", "")
# a battery of nobody knows how many amp-hours
MOVED: dict[str, tuple[dict[str, Any], tuple[str, ...]]] = {
    "01": ({"light": 60, "temp_cell": 20}, ("compare", "VAN", "--light", "60", "--temp", "20")),
    "02": ({"temp_coldest": -25}, ("check", "VAN", "--coldest", "-25")),
    "03": (
        {"lit_pct": 50, "light": 300},
        ("compare", "VAN", "--light", "300", "--temp", "30", "--shade", "P1.1=0.5"),
    ),
    "04": ({"day": "dull", "soc": 40}, ("day", "VAN", "--day", "dull", "--charge", "40")),
    "05": ({"where": "miami"}, ("year", "VAN", "--weather", "miami")),
    "06": (
        {"hour": 14, "date": "21 Jun", "heading": 90, "clearness": 50},
        ("roof", "VAN", "--date", "06-21", "--hour", "14", "--heading", "90", "--clearness", "0.5"),
    ),
    "07": ({"temp_coldest": -25}, ("check", "VAN", "--coldest", "-25")),
    "08": ({"gamma": -0.3}, (*COMMANDS["08"], "--gamma", "-0.3")),
    "09": ({"light": 600, "temp_cell": 40}, ("answer", "VAN", "--light", "600", "--temp", "40")),
    "11": (
        {"amps": 1, "volts": 20, "light": 300},
        ("fault", "VAN", "--volts", "20", "--amps", "1", "--light", "300", "--circuit", "1"),
    ),
    "12": ({"shade_pct": 50}, ("trip", "in-shade.toml", "--rig", "VAN", "--quick")),
}
# what is moved on a page, some of it to the word of a list, and what is typed for the same; page 10 is held apart
FANS = 'loads = [{ name = "fans", p_load = 40 }]\nclimate'
# something that may fall short
SHADE_PCT = re.compile(r"^shade_pct.*\n", re.MULTILINE)
ROOF = ("roof", "VAN", "--date", "03-21", "--hour", "9.5")
# of page 06, which needs a roof
WATCH = ("watch", "days.csv", "--rig", "VAN", "--stays", "stays.csv")
# of page 10, whose days are written into a file as a controller would have kept them
STAYS = "from,latitude,longitude\n" + "".join(
    f"{day},{LATITUDE},{LONGITUDE}\n" for day in (FIRST + np.arange(0, DAYS, STAY_DAYS)).astype(str)
)
# the moves of those days


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str], Any]:
    """Open a lesson's instrument with somebody's file as one's own van."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Chooser, "was_mine", False)
    monkeypatch.setenv("VANPOWER_VAN", str(tmp_path / "my-van.toml"))

    def opened(number: str, text: str) -> Any:
        (tmp_path / "my-van.toml").write_text(text, encoding="utf-8")
        (tmp_path / OWN_LOG).write_bytes(LOG.read_bytes())
        live = instrument(number)
        live.chooser.buttons.index = 0
        assert not any("your van" in words.lower() for words in outputs(live))
        says_once(live)
        live.chooser.buttons.index = 1
        return live

    return opened


def instrument(number: str) -> Any:
    """What stands first on a lesson's page, alive."""
    path = next(FOLDER.glob(f"{number}-*.ipynb"))
    names: dict[str, Any] = {"__name__": path.stem}
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if {"setup", "explore"} & set(cell["metadata"].get("tags", [])):
            exec(compile("".join(cell["source"]), f"{path.stem}, {cell['id']}", "exec"), names)
    return names["live"]


def printed(words: tuple[str, ...], van: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What a command says, in one line."""
    capsys.readouterr()
    stands_for = {"VAN": str(van), "OWN": read_rig(van).circuits[0].wiring.name}
    assert main([stands_for.get(word, word) for word in words]) in (0, 1)
    return unbroken(capsys.readouterr().out)


def unbroken(words: str) -> str:
    """Words in one line, with those whole that a terminal breaks at a hyphen."""
    return " ".join(words.split()).replace("- ", "-")


@pytest.mark.parametrize("kind", FOREIGN)
@pytest.mark.parametrize("number", COMMANDS)
def test_a_page_says_of_a_foreign_van_what_the_command_line_says(
    number: str, kind: str, opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    live = opened(number, FOREIGN[kind])
    assert live.chooser.value.lacks == ""
    said = printed(COMMANDS[number], tmp_path / "my-van.toml", capsys)
    says_the_same(live, said, asked=COMMANDS[number][0] != "answer")
    says_once(live)


def says_the_same(live: Any, said: str, *, asked: bool = True) -> None:
    """Every answer of a page stands in what a command said; a post leaves out what was asked."""
    assert live.failure == ""
    assert live.verdicts
    for verdict in live.verdicts:
        head = f"{verdict.word} {verdict.question}" * asked
        for words in (head, verdict.sentence, verdict.caution):
            assert unbroken(words) in said


@pytest.mark.parametrize("kind", ["simple", "two circuits", "unlike"])
@pytest.mark.parametrize("number", MOVED)
def test_a_page_that_was_moved_says_what_the_command_line_says_of_the_same(
    number: str, kind: str, opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    moves, words = MOVED[number]
    text = rig_to_toml(example("bookmobile")) if kind == "simple" else FOREIGN[kind].replace("climate", FANS, 1)
    live = opened(number, roofed("half-cut" if kind == "simple" else kind) if number == "06" else text)
    before = live.verdicts
    for name, value in moves.items():
        control = live.controls[name]
        control.value = dict(control.options)[value] if isinstance(value, str) else value
    stops = (data_folder() / "trips" / "three-coasts.toml").read_text(encoding="utf-8")
    shaded = SHADE_PCT.sub("", stops).replace("[[stops]]", "[[stops]]\nshade_pct = 50")
    (tmp_path / "in-shade.toml").write_text(shaded, encoding="utf-8")
    said = printed(words, tmp_path / "my-van.toml", capsys)
    if number == "06":
        says_of_the_roof(live, words, tmp_path / "my-van.toml", capsys)
    else:
        says_the_same(live, said, asked=words[0] != "answer")
    assert live.verdicts != before or (number, kind) == ("12", "unlike")
    # what must not be joined carries no trip, in shade or out of it


@pytest.mark.parametrize("kind", [kind for kind in FOREIGN if kind != "tilted"])
def test_the_roof_page_says_what_the_command_line_says(
    kind: str, opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    live = opened("06", roofed(kind))
    assert live.chooser.value.lacks == ""
    says_of_the_roof(live, ROOF, tmp_path / "my-van.toml", capsys)
    says_once(live)
    if kind in SPOTS:
        goes_to_both_ends(live)


def says_of_the_roof(live: Any, words: tuple[str, ...], van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What a page says of a day's costs and of an hour stands in what a command says of that day, and of that hour."""
    assert live.failure == ""
    (verdict,) = live.verdicts
    hour = words.index("--hour")
    day = printed(words[:hour] + words[hour + 2 :], van, capsys)
    head, at, now = verdict.sentence.rpartition(f" At {clock(live.controls['hour'].value)}: ")
    assert unbroken(now if at else verdict.sentence) in printed(words, van, capsys)
    assert unbroken(verdict.caution) in printed(words, van, capsys)
    assert (head != "") == any(outcome.refused is None for outcome in live.result.day.outcomes.values())
    if head:
        assert f"{verdict.word} {verdict.question}" in day
        assert unbroken(head) in day


def test_tilted_panels_on_a_roof_are_refused_in_the_same_words_by_page_and_command(
    opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    live = opened("06", roofed("tilted"))
    assert live.failure == ""
    assert main([str(tmp_path / "my-van.toml") if word == "VAN" else word for word in ROOF]) == 2
    refused = capsys.readouterr().err.strip().partition("line 12: ")[2]
    assert "a panel with a place on the roof lies flat" in refused
    assert refused in live.sentence
    assert 'href="my-van.ipynb"' in live.verdict_line.value


@pytest.mark.parametrize("kind", FOREIGN)
def test_the_page_of_watching_says_what_the_command_line_says_of_the_same_days(
    kind: str, opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    live = opened("10", FOREIGN[kind])
    assert live.chooser.value.lacks == ""
    for fault in ["nothing", live.controls["kind"].value]:
        live.controls["kind"].value = fault
        (tmp_path / "days.csv").write_text(as_kept(live.result.first, practice(live.chooser.value.rig).first))
        (tmp_path / "stays.csv").write_text(STAYS)
        says_the_same(live, printed(WATCH, tmp_path / "my-van.toml", capsys))
        says_once(live)
        assert (live.verdicts[0].answer == "no") == (fault != "nothing")


def as_kept(part: Watched, sound: Watched) -> str:
    """The days that a page shows as a controller's file has them: those of the sound van, less what the fault took."""
    days, before, history = part.days, sound.days, sound.history
    energy, high = (
        np.nan_to_num(now / was, nan=1.0) for now, was in ((days.share, before.share), (days.top, before.top))
    )
    # without its only panel a controller never wakes
    awake = days.top > 0
    columns = {
        "date": history.dates,
        "wh": history.energy_wh * energy,
        "max power": history.p_high * high,
        "max panel volts": days.volts,
        "bulk": (history.bulk_min - np.nan_to_num(before.awake - days.awake)) * awake,
        "absorption": history.absorption_min * awake,
        "float": history.float_min * awake,
    }
    rows = [",".join(map(str, row)) for row in zip(*columns.values(), strict=True)]
    return "\n".join([",".join(columns), *rows])


@pytest.mark.parametrize("kind", FOREIGN)
def test_the_roof_page_tells_a_van_without_a_roof_what_it_needs_and_where_that_is_typed(kind: str, opened: Any) -> None:
    live = opened("06", FOREIGN[kind])
    assert live.failure == ""
    assert (live.sentence == "This page needs the roof with its panels and what stands on it.") == (kind != "tilted")
    assert 'href="my-van.ipynb"' in live.verdict_line.value


def test_the_roof_page_sends_a_van_whose_panels_are_tilted_where_they_are_served_in_the_words_of_the_command(
    opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "my-van.toml"
    portable = FOREIGN["tilted"].replace("tilt_deg = 30", "tilt_deg = 30, turn_deg = 45")
    for text in (FOREIGN["tilted"], portable):
        live = opened("06", text)
        assert live.sentence.startswith("This page needs panels that lie flat on a roof, and all of these are tilted")
        (link,) = re.findall(r'href="(03[^"]*)"', live.verdict_line.value)
        assert (FOLDER / link).exists()
        assert main(["roof", str(path)]) == 2
        said = capsys.readouterr().err.strip()
        assert said.endswith(f": this needs {live.sentence.removeprefix('This page needs ')}")
        assert "[roof]" not in said
        # and there it is answered
        assert "vanpower compare with --shade P1=0.3." in said
        assert main(["compare", str(path), "--shade", "P1=0.3"]) == 0
    # one that lies flat beside them may have a roof
    some = text.replace("panels = [{ count = 2, ", f'panels = [{{ count = 1, name = "flat", {SMALL} }}, {{ count = 1, ')
    assert opened("06", some).sentence == "This page needs the roof with its panels and what stands on it."


def test_commands_refuse_a_van_for_what_its_page_asks_for(
    opened: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "my-van.toml"
    for number, text, words, reason in (
        ("06", FOREIGN["half-cut"], ROOF, ("the roof", "has no roof")),
        ("04", NO_AH, COMMANDS["04"], ("the amp-hours of the battery", "Battery.capacity_ah")),
        ("05", NO_AH, COMMANDS["05"], ("the amp-hours of the battery", "Battery.capacity_ah")),
        ("12", NO_AH, COMMANDS["12"], ("the amp-hours of the battery", "Battery.capacity_ah")),
    ):
        live = opened(number, text)
        assert live.sentence.startswith(f"This page needs {reason[0]}")
        assert 'href="my-van.ipynb"' in live.verdict_line.value
        assert main([str(path) if word == "VAN" else word for word in words]) == 2
        assert reason[1] in capsys.readouterr().err


def test_the_page_of_trials_asks_for_a_log_of_ones_own(opened: Any, tmp_path: Path) -> None:
    live = opened("08", FOREIGN["tilted"])
    live.chooser.buttons.index = 0
    example = live.sentence
    (tmp_path / OWN_LOG).unlink()
    live.chooser.buttons.index = 1
    assert live.failure == ""
    assert live.sentence == "This page needs a log of your van, saved as my-log.csv beside my-van.toml."
    assert "2s against 2p: +2.5 %" in example


@pytest.mark.parametrize("number", ["04", "05"])
def test_a_page_of_days_tells_a_van_without_amp_hours_what_it_needs(number: str, opened: Any) -> None:
    live = opened(number, NO_AH)
    assert live.failure == ""
    assert live.sentence == "This page needs the amp-hours of the battery."


@pytest.mark.parametrize("kind", FOREIGN)
@pytest.mark.parametrize("number", COMMANDS)
def test_every_control_serves_a_foreign_van_to_both_ends(number: str, kind: str, opened: Any) -> None:
    goes_to_both_ends(opened(number, FOREIGN[kind]))


def goes_to_both_ends(live: Any) -> None:
    """Move every control to its ends, or through its list."""
    for name, control in live.controls.items():
        if control is live.chooser:
            continue
        start = control.value
        ends = [value for _, value in control.options] if hasattr(control, "options") else [control.min, control.max]
        for end in ends:
            control.value = end
            assert live.failure == "", f"{name} at {end}"
        control.value = start


@pytest.mark.parametrize("number", COMMANDS)
def test_each_controller_of_several_can_be_asked_about(number: str, opened: Any) -> None:
    live = opened(number, FOREIGN["two circuits"])
    first = live.sentence
    assert live.chooser.which in live.chooser.line.children
    assert live.chooser.which.label.endswith(", 3s")
    live.chooser.which.index = 1
    assert live.failure == ""
    assert live.chooser.value.rig.circuits[0].wiring.name == "1s"
    assert live.sentence != first or number in ("08",)
