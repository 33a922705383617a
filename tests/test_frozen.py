"""What the package says, held to what it said when it was frozen: numbers, charts, printed words.

None of it is an outside reference: it only shows that a change which should change nothing has changed nothing.
`python tests/test_frozen.py` writes all three files anew; with a name (numbers, charts, printed) one of them.
"""

from __future__ import annotations

import datetime
import difflib
import json
import math
import sys
from pathlib import Path

import frozen
import ink
import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure

matplotlib.use("Agg")

import matplotlib.pyplot as plt

FOLDER = Path(__file__).parent / "reference" / "frozen"
NUMBERS, CHARTS, PRINTED = FOLDER / "numbers.json", FOLDER / "charts.txt", FOLDER / "printed.txt"
ALIKE, ALIKE_TRIAL = 1e-9, 2e-6
# share, of 1 for smaller numbers, by which a number may differ. With the processor's wide instructions switched off,
# which changes last digits of every exponential, 1,175 numbers moved by 4e-14 at most, and those of a trial by 4e-7,
# since its interval is read off a weighed curve
LOOSE = {"trial": ALIKE_TRIAL}
DIGITS = 13
# written, so that the same numbers give the same file on machines that differ in the last digit
USUAL = (frozen.TWO, frozen.UNLIKE, frozen.ROOF)
# examples whose charts are drawn in every run; the others nightly, 20 s of processor time
COMMAND = "$ "
# begins a command in the file of printed words
PRINTED_WITH = (3, 11)
# Python whose argparse laid out the frozen help; others break its lines otherwise
SHOWN_LINES = 30
# of a difference


# What is there now


def numbers_now(about: str) -> dict[str, float]:
    """Every number about something that is a number."""
    return {
        name: float(f"{value:.{DIGITS}g}") for name, value in frozen.NUMBERS[about]().items() if math.isfinite(value)
    }


def chart_now(name: str) -> str:
    """What is drawn on one chart."""
    line = ink.ink(frozen.DRAWN[name]())
    plt.close("all")
    return line


def printed_now(kind: str) -> str:
    """What the commands of a kind print."""
    return "\n".join(f"{COMMAND}{command}\n{text}" for command, text in frozen.said(frozen.PRINTED[kind]))


# What was frozen


def charts_frozen() -> dict[str, str]:
    """Lines of charts by their names."""
    lines = CHARTS.read_text(encoding="utf-8").splitlines()
    return {name: line for name, line in (line.split(" | ", 1) for line in lines)}


def printed_frozen(kind: str) -> str:
    """What the commands of a kind printed."""
    whole = PRINTED.read_text(encoding="utf-8")
    return whole.partition(f"=== {kind}\n\n")[2].partition("\n=== ")[0]


# Held together


@pytest.fixture(scope="module")
def numbers_frozen() -> dict[str, dict[str, float]]:
    return json.loads(NUMBERS.read_text(encoding="utf-8"))


def test_everything_frozen_is_still_asked(numbers_frozen):
    assert list(numbers_frozen) == list(frozen.NUMBERS)
    assert list(charts_frozen()) == list(frozen.DRAWN)
    heads = [line for line in PRINTED.read_text(encoding="utf-8").splitlines() if line.startswith("=== ")]
    assert heads == [f"=== {kind}" for kind in frozen.PRINTED]


def apart(then: dict[str, float], now: dict[str, float], share: float) -> dict[str, tuple[float | None, float | None]]:
    """Numbers that differ by more than a share of themselves, or of 1, or are there only once; then and now."""
    return {
        name: (then.get(name), now.get(name))
        for name in then | now
        if name not in then or name not in now or not math.isclose(then[name], now[name], rel_tol=share, abs_tol=share)
    }


@pytest.mark.parametrize("about", frozen.NUMBERS)
def test_numbers_are_what_they_were(about, numbers_frozen):
    different = apart(numbers_frozen[about], numbers_now(about), LOOSE.get(about, ALIKE))
    assert not different, f"{len(different)} of {len(numbers_frozen[about])} differ (then, now): {different}"


@pytest.mark.parametrize(
    "name",
    [
        name if name.rpartition(" ")[2] in USUAL else pytest.param(name, marks=pytest.mark.nightly)
        for name in frozen.DRAWN
    ],
)
def test_chart_draws_what_it_drew(name):
    different = ink.unlike(charts_frozen()[name], chart_now(name))
    assert not different, "\n".join([name, *different])


@pytest.mark.parametrize("kind", frozen.PRINTED)
def test_commands_print_what_they_printed(kind):
    if kind == "help" and sys.version_info[:2] != PRINTED_WITH:
        pytest.skip("help is laid out otherwise by the argparse of another Python")
    then, now = printed_frozen(kind).splitlines(), printed_now(kind).splitlines()
    lines = list(difflib.unified_diff(then, now, "frozen", "now", lineterm="", n=1))
    assert then == now, "\n".join(lines[:SHOWN_LINES])


# A freeze that would let a change through


def test_a_number_moved_by_a_billionth_or_gone_or_new_is_told():
    then = {"watts": 200.0, "margin": 0.0, "gone": 1.0}
    assert not apart(then, then | {"watts": 200.0 + 1e-8}, ALIKE)
    moved = {"watts": 200.0 + 4e-7, "margin": 2e-9, "new": 1.0}
    assert list(apart(then, moved, ALIKE)) == ["watts", "margin", "gone", "new"]


def drawn(middle: float = 2.0, colour: str = "C0", word: str = "a word", bar: float = 3.0) -> Figure:
    """A small chart."""
    figure = Figure(figsize=(4, 3))
    ax = figure.subplots()
    ax.set(xlim=(0, 3), ylim=(-1, 5), title=word)
    ax.plot([0, 1, 2], [1, middle, -1], color=colour)
    ax.bar([1], [bar], color="C1")
    ax.scatter([1, 2], [bar, 2])
    return figure


@pytest.mark.parametrize(
    ("other", "parts"),
    [
        ({}, []),
        ({"middle": 2.0 + 1e-12}, []),
        ({"middle": 2.00001}, ["lines"]),
        ({"colour": "C2"}, ["colours"]),
        ({"word": "another word"}, ["words"]),
        ({"word": "a\nword"}, []),
        ({"bar": 3.00001}, ["patches", "collections"]),
    ],
    ids=str,
)
def test_a_chart_tells_what_moved_and_no_last_digit_or_broken_line(other, parts):
    told = ink.unlike(ink.ink(drawn()), ink.ink(drawn(**other)))
    assert [part.split()[0] for part in told] == parts


def test_the_day_on_which_a_chart_is_drawn_is_not_frozen():
    day = datetime.date.today().isoformat()
    assert not ink.unlike(ink.ink(drawn(word="drawn today")), ink.ink(drawn(word=f"drawn {day}")))


def test_words_that_changed_are_told_and_the_others_are_not():
    (told,) = ink.unlike(ink.ink(drawn()), ink.ink(drawn(word="another")))
    assert told == "words 1: ['a word'], now words 1: ['another']"


def test_numbers_that_change_places_or_sign_change_their_sum():
    assert ink.weighed([np.array([1.0, 2.0])]) != pytest.approx(ink.weighed([np.array([2.0, 1.0])]), rel=1e-3)
    assert ink.weighed([[1.0, -2.0]]) != pytest.approx(ink.weighed([[1.0, 2.0]]), rel=1e-3)


def test_a_refusal_is_printed_with_its_code_and_leaves_no_file_here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    asked = ["vanpower rig bookmobile --out mine.toml", "vanpower check other.toml"]
    (_, made), (_, refused) = frozen.said(asked)
    assert made.endswith("(ends with 0)\n")
    assert refused.startswith("vanpower: There is no file other.toml")
    assert refused.endswith("(ends with 2)\n")
    assert list(tmp_path.iterdir()) == []


# Written anew


def write_numbers() -> None:
    now = {about: numbers_now(about) for about in frozen.NUMBERS}
    NUMBERS.write_text(json.dumps(now, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def write_charts() -> None:
    lines = [f"{name} | {chart_now(name)}\n" for name in frozen.DRAWN]
    CHARTS.write_text("".join(lines), encoding="utf-8")


def write_printed() -> None:
    pages = [f"=== {kind}\n\n{printed_now(kind)}" for kind in frozen.PRINTED]
    PRINTED.write_text("\n".join(pages), encoding="utf-8")


WRITERS = {"numbers": write_numbers, "charts": write_charts, "printed": write_printed}

if __name__ == "__main__":
    for name in sys.argv[1:] or WRITERS:
        WRITERS[name]()
        print(f"{FOLDER.name}: {name} written")
