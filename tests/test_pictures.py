"""Recipes inside pictures: found again, and pictures of strangers read without running, opening or unpacking much."""

from __future__ import annotations

import base64
import json
import os
import random
import re
import struct
import subprocess
import sys
import time
import tracemalloc
import zlib
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure
from PIL import Image

from vanpower.figures.style import MADE_BY
from vanpower.files.rig_files import example
from vanpower.rig import Snapshot
from vanpower.sharing import picture_reading as home
from vanpower.sharing import picture_writing
from vanpower.sharing.picture_reading import read_chart
from vanpower.sharing.picture_writing import write_picture
from vanpower.sharing.recipe import LARGEST_RECIPE, chart_recipe, recipe_to_json, short_id
from vanpower.sharing.recipe_line import recipe_line

RECIPE = replace(
    chart_recipe("power", example("hay-cart").wirings(), Snapshot(light=640, temp_cell=31.5), p_top=250),
    numbers={"1s": "105.4 W"},
)
TEXT, LINE = recipe_to_json(RECIPE), recipe_line(RECIPE)
PROC_STATUS = Path("/proc/self/status")
FILES_FUZZED = int(os.environ.get("VANPOWER_FUZZ", "10000"))
# spoilt files in an ordinary run


def chunk(kind: bytes, data: bytes) -> bytes:
    """A piece of a PNG, with its check sum."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(*pieces: bytes, end: bytes = chunk(b"IEND", b"")) -> bytes:
    """The smallest PNG with these pieces in it."""
    size = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    pixels = chunk(b"IDAT", zlib.compress(b"\x00\x00"))
    return b"".join([home.PNG_BEGINS, chunk(b"IHDR", size), *pieces, pixels, end])


def with_line(line: str) -> bytes:
    """A whole PNG with this line as its recipe."""
    return png(chunk(b"tEXt", b"Recipe\x00" + line.encode()))


def line_of(text: str) -> str:
    """A text packed as recipes are, whatever it says."""
    packed = base64.b64encode(zlib.compress(text.encode(), 9)).decode().rstrip("=")
    return f"vanpower-recipe v1 id {short_id(text)} = {packed} = end"


@pytest.fixture
def told(tmp_path):
    """What reading bytes as a file is told."""

    def read(held: bytes, name: str = "chart.png") -> str:
        path = tmp_path / name
        path.write_bytes(held)
        with pytest.raises(ValueError, match=r"^chart\.") as error:
            read_chart(path)
        message = str(error.value)
        assert message.isprintable()
        assert len(message) < 300
        return message

    return read


@pytest.mark.parametrize("ending", [".png", ".svg", ".PNG", ".SVG"])
def test_recipe_written_into_a_picture_is_read_back(tmp_path, ending):
    path = tmp_path / f"chart of Jürgen{ending}"
    write_picture(Figure(), path, recipe=LINE)
    assert read_chart(path) == RECIPE


@pytest.mark.parametrize("ending", [".png", ".svg"])
def test_picture_is_the_same_to_the_byte_when_written_again(tmp_path, ending):
    paths = [tmp_path / f"{name}{ending}" for name in "ab"]
    for path in paths:
        write_picture(Figure(), path, recipe=LINE, foot="vanpower")
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_other_programs_find_the_recipe_where_the_png_standard_puts_text(tmp_path):
    write_picture(Figure(), tmp_path / "chart.png", recipe=LINE)
    with Image.open(tmp_path / "chart.png") as picture:
        assert picture.text[home.RECIPE_KEY] == LINE


def test_foot_is_there_only_while_the_picture_is_written(tmp_path):
    fig = Figure(layout="constrained")
    fig.supxlabel("below")
    write_picture(fig, tmp_path / "chart.svg", recipe=LINE, foot="recipe 0123abcd")
    assert fig.get_supxlabel() == "below"
    assert "recipe 0123abcd" in (tmp_path / "chart.svg").read_text(encoding="utf-8")


def test_foot_says_once_who_made_it_though_the_line_above_was_wrapped_between_name_and_version():
    fig = Figure(layout="constrained")
    fig.supxlabel(f"A model, not a permit. {MADE_BY.replace(' ', chr(10))}")
    with picture_writing._footed(fig, f"{MADE_BY}, recipe 0123abcd"):
        assert fig.get_supxlabel() == f"A model, not a permit.\n{MADE_BY}, recipe 0123abcd"


@pytest.mark.parametrize(
    "piece",
    [
        chunk(b"tEXt", b"Recipe\x00" + LINE.encode()),
        chunk(b"zTXt", b"Recipe\x00\x00" + zlib.compress(LINE.encode())),
        chunk(b"iTXt", b"Recipe\x00\x00\x00en\x00Rezept\x00" + LINE.encode()),
        chunk(b"iTXt", b"Recipe\x00\x01\x00\x00\x00" + zlib.compress(LINE.encode())),
        chunk(b"tEXt", b"Comment\x00none") + chunk(b"vpAg", b"x") + chunk(b"tEXt", b"Recipe\x00" + LINE.encode()),
    ],
    ids=["plain", "packed", "international", "international packed", "among others"],
)
def test_every_kind_of_text_a_png_may_hold_is_read(tmp_path, piece):
    (tmp_path / "chart.png").write_bytes(png(piece))
    assert read_chart(tmp_path / "chart.png") == RECIPE


BOMB = zlib.compress(b" " * 50_000_000, 9)
HOSTILE = {
    "no recipe": (png(), "Most boards strip it"),
    "other text": (png(chunk(b"tEXt", b"Comment\x00" + LINE.encode())), "holds no recipe"),
    "text without key": (png(chunk(b"tEXt", b"Recipe")), "holds no recipe"),
    "empty": (b"", "is empty"),
    "first bytes only": (home.PNG_BEGINS[:5], "cut off after 5 bytes"),
    "signature only": (home.PNG_BEGINS, "cut off after 8 bytes"),
    "cut in the recipe": (with_line(LINE)[:300], "cut off or damaged at byte 33"),
    "cut at the end": (with_line(LINE)[:-6], "cut off"),
    "without end": (png(end=b""), "cut off"),
    "a piece of 4 GB": (png(b"\xff\xff\xff\xfftEXtRecipe"), "cut off or damaged at byte 33"),
    "wrong check sum": (png(chunk(b"tEXt", b"Recipe\x00x")[:-1] + b"!"), "a check sum is wrong"),
    "pieces without a name": (png(struct.pack(">I", 0) + b"\x00\x01\x02\x03" + b"1234"), "damaged at byte 33"),
    "a million pieces": (png(chunk(b"tEXt", b"a\x00") * 30_000), "more than 20000 pieces"),
    "packed bomb": (png(chunk(b"zTXt", b"Recipe\x00\x00" + BOMB)), "unpacks to more"),
    "international bomb": (png(chunk(b"iTXt", b"Recipe\x00\x01\x00\x00\x00" + BOMB)), "unpacks to more"),
    "packed nonsense": (png(chunk(b"zTXt", b"Recipe\x00\x00nonsense")), "is damaged"),
    "text too long": (png(chunk(b"tEXt", b"Recipe\x00" + b"A" * 500_000)), "more than a chart's"),
    "bomb in the line": (with_line(line_of(" " * 5_000_000)), "unpacks to more than"),
    "line cut": (with_line(LINE[:-5]), "cut off or too long"),
    "other id": (with_line(LINE.replace(RECIPE.id, "0" * 8)), "does not match its id"),
    "other form": (with_line(LINE.replace("v1", "v7")), "has the form v7"),
    "a JPEG": (b"\xff\xd8\xff\xe0" + b"\x00" * 50, "is a JPEG"),
    "a PDF": (b"%PDF-1.7", "is a PDF"),
    "a ZIP": (b"PK\x03\x04....", "is a ZIP archive"),
    "another kind": (bytes(range(256)), "no picture of this kit and no text"),
    "SVG without": (b"<?xml version='1.0'?><svg></svg>", "Most boards strip it"),
    "SVG cut": (b"<?xml version='1.0'?><svg><g>", "is cut off after 29 bytes"),
    "SVG that asks for files": (
        b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg><desc>&x;</desc></svg>', "holds no recipe"),
    "SVG of laughs": (b'<!DOCTYPE s [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><svg>&b;</svg>', "holds no recipe"),
    "page of text": ("Grüße vom Platz".encode(), "look for the line that begins vanpower-recipe"),
}  # fmt: skip


@pytest.mark.parametrize("kind", HOSTILE)
def test_picture_that_is_none_of_ours_is_refused_in_a_line(told, kind):
    held, words = HOSTILE[kind]
    assert words in told(held)


def test_picture_larger_than_any_chart_is_not_read(told, monkeypatch):
    monkeypatch.setattr(home, "LARGEST_PICTURE", 1000)
    assert "is larger than" in told(png() + b"\x00" * 1001)


def test_lines_of_many_recipes_take_the_first(tmp_path):
    other = recipe_line(replace(RECIPE, kind="comparison"))
    (tmp_path / "chart.txt").write_text(f"{LINE}\nand\n{other}", encoding="utf-8")
    assert read_chart(tmp_path / "chart.txt") == RECIPE


# Thousands of spoilt files


def spoilt_bytes(good: bytes, dice: random.Random) -> bytes:
    """Bytes with some changed, left out, doubled or put in."""
    held = bytearray(good)
    for _ in range(dice.choice([1, 1, 2, 5])):
        at, length = dice.randrange(len(held)), dice.choice([1, 1, 2, 4, 60])
        new = dice.choice([dice.randbytes(length), held[at : at + length] * 2, b"", b"9" * length, b'[{"' * length])
        held[at : at + length] = new
        held = held or bytearray(b"x")
    return bytes(held)


VALUES = [None, True, -1, 0, 10**9, 1e11, "", "x" * 99, [], {}, [[]], "../van.toml", "/etc/passwd", "__import__('os')"]


def spoilt_data(value: Any, dice: random.Random) -> Any:
    """Plain data with one value somewhere inside replaced, left out or put in twice."""
    if isinstance(value, dict | list) and value and dice.random() < 0.9:
        keys = list(value) if isinstance(value, dict) else list(range(len(value)))
        key, copy = dice.choice(keys), value.copy()
        if dice.random() < 0.15:
            del copy[key]
        else:
            copy[key] = spoilt_data(value[key], dice)
        return copy
    return dice.choice(VALUES)


def spoilt_file(dice: random.Random) -> bytes:
    """One of four kinds of spoilt file: a picture, a line, and JSON or data correctly packed in a whole picture."""
    kind = dice.randrange(4)
    if kind == 0:
        return spoilt_bytes(with_line(LINE), dice)
    if kind == 1:
        return spoilt_bytes(LINE.encode(), dice)
    data = spoilt_bytes(TEXT.encode(), dice) if kind == 2 else json.dumps(spoilt_data(json.loads(TEXT), dice)).encode()
    line = line_of(data.decode("latin-1").encode("ascii", "replace").decode())
    return with_line(line)


class Watch:
    """Notes what Python is asked to run or open."""

    def __init__(self) -> None:
        self.on, self.seen = False, set[str]()
        sys.addaudithook(self.note)

    def note(self, event: str, words: tuple) -> None:
        if self.on and event in ("exec", "compile", "import", "os.system", "subprocess.Popen", "socket.connect"):
            self.seen.add(event)
        elif self.on and event == "open":
            self.seen.add(f"open {words[0]}")


def fuzzed(number: int) -> dict[str, Any]:
    """What so many spoilt files did: how they were taken, what Python was asked, the slowest [s], memory [bytes]."""
    watch, dice = Watch(), random.Random(20_261)
    outcomes, slowest = Counter[str](), 0.0
    home.chart_in(with_line(LINE), "chart.png")
    before = resident("VmRSS")
    for _ in range(number):
        held = spoilt_file(dice)
        start = time.process_time()
        outcomes[outcome(held, watch)] += 1
        slowest = max(slowest, time.process_time() - start)
    memory = resident("VmHWM") - before
    return {"outcomes": outcomes, "seen": sorted(watch.seen), "slowest": slowest, "memory": memory}


def resident(line: str) -> int:
    """Memory of this process: now (VmRSS) or at most so far (VmHWM); `getrusage` counts in what started it. [bytes]"""
    found = re.search(rf"^{line}:\s+(\d+) kB", PROC_STATUS.read_text(), re.MULTILINE)
    assert found
    return 1024 * int(found[1])


def test_thousands_of_spoilt_files_run_and_open_nothing_keep_nobody_waiting_and_take_little_memory():
    if not PROC_STATUS.exists():
        pytest.skip("the memory of a process is read from /proc")
    # a process of its own: what other tests took before would hide what is taken here
    words = [sys.executable, __file__, str(FILES_FUZZED)]
    done = json.loads(subprocess.run(words, capture_output=True, text=True, check=True).stdout)
    assert done["seen"] == []
    assert done["slowest"] < 1.0
    assert done["memory"] < 100e6
    assert set(done["outcomes"]) == {"read", "refused"}
    assert sum(done["outcomes"].values()) == FILES_FUZZED
    assert min(done["outcomes"].values()) > FILES_FUZZED / 50


def outcome(held: bytes, watch: Watch) -> str:
    """Whether a file is a recipe or is refused with a plain line; anything else is a failure."""
    watch.on = True
    try:
        home.chart_in(held, "chart.png")
        return "read"
    except ValueError as refused:
        plain = str(refused).startswith("chart.png") and str(refused).isprintable()
        return "refused" if plain else f"refused badly: {refused}"
    finally:
        watch.on = False


@pytest.mark.parametrize("kind", ["packed bomb", "bomb in the line", "text too long", "a million pieces"])
def test_largest_hostile_pictures_take_little_memory(kind):
    held = HOSTILE[kind][0]
    tracemalloc.start()
    with pytest.raises(ValueError, match=r"chart\.png"):
        home.chart_in(held, "chart.png")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 20e6


MANY_LISTS = "[" + "[]," * (LARGEST_RECIPE // 3 - 2) + "0]"
MANY_KEYS = '{"numbers":{' + ",".join(f'"{k}":""' for k in range(40_000)) + "}}"


@pytest.mark.parametrize("text", [MANY_LISTS, MANY_KEYS], ids=["lists", "keys"])
def test_largest_text_of_small_pieces_takes_little_memory(text):
    held = with_line(line_of(text))
    tracemalloc.start()
    with pytest.raises(ValueError, match=r"chart\.png"):
        home.chart_in(held, "chart.png")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 100e6


if __name__ == "__main__":
    print(json.dumps(fuzzed(int(sys.argv[1]))))
