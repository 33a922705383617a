"""Odd inputs hunted with a seed, none of them in `bad_input.md`: each ends in an answer or a plain sentence."""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import sys
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import pytest

from vanpower import example, rig_to_toml
from vanpower.cli import main
from vanpower.files.resources import data_folder
from vanpower.rig import printable

SEED, COUNT = 20261129, int(os.environ.get("VANPOWER_HUNT", "400"))
# what is drawn, and how many; more by hand
MOST_LINES = 6
# of a message
RIG = rig_to_toml(example("goat-cheese-van"))
LOG = (data_folder() / "logs" / "apple-barn.csv").read_text(encoding="utf-8")
LIST = (data_folder() / "shortlist.csv").read_text(encoding="utf-8")
WEATHER = "# latitude_deg: 60\n# longitude_deg: 5\n# time_zone: Europe/Oslo\ntime,ghi,temp_air\n" + "".join(
    f"2026-06-01 {h:02}:00,{40 * h},20\n" for h in range(4, 22)
)
ODD_WORDS = """
nan -nan inf -inf 1e400 -1e400 1e-400 0x10 1_000 １２ ٣ -0 +5 5. .5 --5 1e3 1E3 5e e5 ½ ² ∞ true None null [] {} '' ""
=1 %d $HOME ~ * .. / \\ C:\\van /dev/null /dev/full /proc/self/environ http://x.y ß İ ﬁ ı -1 0 1 2 366 12-32 00-00 0-0
02-30 2026-02-29 0001-01-01 9999-12-31 -1-1 12-21.. ..12-21 dullest only november.. february..january rows:0 graz-
graz-2017 P1 P0.0x0=0 P1= P1=. P1=1e5 P1.1x1=0.5 p2=1 P1=0.5,P2=0.5 2s2p2s s p 1s0p 0p 00002s 99999999999999999999s
2S 2s+1p [[1,2]] [[1]] [[0]] [1,2] all apart ALL IEC iec power= =power power=watts 9:00-9:20 month\u00a0first
"""
ODD = [
    *ODD_WORDS.split(),
    "",
    " ",
    "all all",
    "dull dull",
    "2 s",
    "US ",
    "dull\u00a0",
    "2\u20442",
    "2p 9:00-9:20, 2s 9:30-9:50",
]
ODD += ["2p 9:00-9:20, 2s 9:30-9:50", "a" * 300, "9" * 400, "-" + "9" * 400, "1" + "0" * 30]
# words that are no use in most places
OPTIONS = {
    "check": "--wiring --coldest --rules --list --day --weather",
    "compare": "--light --temp --day --weather --heading --shade --wiring --apart --chart --sure",
    "day": "--day --weather --wiring --load --charge --heading --shade --chart --csv",
    "roof": "--date --hour --latitude --heading --clearness --temp --wiring --turn --chart",
    "sheet": "--out --wiring --coldest --rules --weather --commission --light --light-within --temp --phone --filled",
    "shortlist": "--weather --day --wiring --rewire",
    "answer": "--light --temp --day --weather --heading --shade --wiring --chart --markdown",
    "trial": "--rig --columns --blocks --dates --before --gamma --matters --spare-isc --clear-sky --chart",
    "used": "--panel --light --temp --isc --voc --covered --dull-light --dull-temp --dull-voc --buy --price --new",
    "change": "--for --price --weather --day --wiring",
    "fault": "--volts --amps --watts --battery --light --light-within --temp --stage --then --circuit",
    "hill": "--before --after --light --log --wiring --temp --shade --circuit",
    "sweep": "--wiring --light --temp --day --weather --shade --controllers",
    "remake": "--out",
    "rig": "--out",
}
ALONE = ("--list", "--apart", "--sure", "--rewire", "--markdown", "--settings", "--commission", "--phone", "--buy")
# options without a value
NEEDED = {
    "sheet": ["--out", "out.pdf"],
    "sweep": ["--out", "out.csv", "--light", "100"],
    "used": ["--light", "800", "--temp", "40"],
    "fault": ["--volts", "20"],
    "hill": ["--before", "20", "100", "--after", "30", "120"],
}
# what a command does not do without
FIRST = {"trial": "log.csv", "remake": "post.txt", "roof": "goat-cheese-van"}
BYTES = [
    b"\x00",
    b"\xff",
    b"\xc3",
    b"\xe2\x80\xae",
    b"\r",
    b"\n",
    b"\n\n",
    b"\xef\xbb\xbf",
    b"\t",
    b'"""',
    b"[[panels]]\n",
]
BYTES += [b"\xf0\x9f\x98\x80", b"1" * 50, b"count = 24\n", b"+99:99", b"true", b"9999", b"0001", b"nan", b"inf"]
BYTES += [bytes([letter]) for letter in b";,\"'#[]{}=\\-.9eTZ "]
# what is put into files in place of some of their bytes


def words_drawn(draw: random.Random) -> tuple[list[str], dict[str, bytes]]:
    """A command with odd values behind its options."""
    command = draw.choice(list(OPTIONS))
    words = [command, FIRST.get(command, draw.choice(["bookmobile", "hay-cart", "puppet-stage"]))]
    options = OPTIONS[command].split()
    for option in draw.sample(options, draw.choice([1, 1, 2]) if len(options) > 1 else 1):
        words += [option] if option in ALONE else [option, *draw.sample(ODD, draw.choice([1, 1, 1, 2]))]
    if command in NEEDED and not set(NEEDED[command][::2]) & set(words):
        words += NEEDED[command]
    return words, {"log.csv": LOG.encode(), "post.txt": b"vanpower-recipe"}


HELD = {"van.toml": RIG, "log.csv": LOG, "list.csv": LIST, "sun.csv": WEATHER}
READERS = [
    ("van.toml", "check van.toml"),
    ("van.toml", "check van.toml --list"),
    ("van.toml", "rig van.toml"),
    ("van.toml", "compare van.toml --wiring 3s"),
    ("van.toml", "answer van.toml --wiring 3p"),
    ("van.toml", "sheet van.toml --out out.svg"),
    ("van.toml", "roof van.toml --hour 10 --wiring 3s"),
    ("van.toml", "day van.toml --csv out.csv"),
    ("log.csv", "trial log.csv"),
    ("log.csv", "trial log.csv --chart out.png"),
    ("list.csv", "shortlist bookmobile list.csv --day dull"),
    ("sun.csv", "compare bookmobile --wiring 2s --day sun.csv --chart out.png"),
    ("sun.csv", "day bookmobile --day sun.csv"),
    ("sun.csv", "check bookmobile --coldest sun.csv"),
]
# good files, and commands that read them


def files_drawn(draw: random.Random) -> tuple[list[str], dict[str, bytes]]:
    """A good file with some of its bytes spoilt, and a command that reads it."""
    name, command = draw.choice(READERS)
    held = HELD[name]
    spoilt = held.encode()
    for _ in range(draw.choice([1, 1, 2, 5])):
        at = draw.randrange(len(spoilt))
        spoilt = spoilt[:at] + draw.choice([b"", *BYTES]) + spoilt[at + draw.choice([0, 1, 1, 5, 60]) :]
    return command.split(), {name: spoilt}


Drawn = Callable[[random.Random], tuple[list[str], dict[str, bytes]]]
HUNTS: dict[str, Drawn] = {"words": words_drawn, "files": files_drawn}


@pytest.mark.parametrize("number", range(COUNT))
@pytest.mark.parametrize("hunt", HUNTS)
def test_odd_input_ends_in_an_answer_or_a_plain_sentence(hunt, number, tmp_path, monkeypatch):
    words, files = HUNTS[hunt](random.Random(f"{SEED} {hunt} {number}"))
    monkeypatch.chdir(tmp_path)
    for name, held in files.items():
        Path(name).write_bytes(held)
    code, out, err = said(words)
    asked = " ".join(words)
    assert code in (0, 1, 2), asked
    assert all(line == printable(line) for text in (out, err) for line in text.split("\n")), asked
    assert not re.search(r"Traceback|Errno|0x[0-9a-f]{6}|tokenizing|codec| line \d+ of file", err), err
    if code == 2:
        left = {path.name for path in tmp_path.iterdir()} - set(files)
        assert (out, left) == ("", set()), asked
        assert err.startswith(("vanpower: ", "usage: ")), err
        assert len(err.splitlines()) <= MOST_LINES, err
        assert max(map(len, err.splitlines())) < 1000, err


def said(words: list[str]) -> tuple[int, str, str]:
    """Exit code, answer and message."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
        try:
            code = main(words)
        except SystemExit as stop:
            code = int(stop.code or 0)
    plt.close("all")
    return code, out.getvalue(), err.getvalue()


@contextlib.contextmanager
def closed(stream: str) -> Iterator[None]:
    """A process that was started with one of its streams closed, as `vanpower remake - <&-` starts it."""
    before = getattr(sys, stream)
    setattr(sys, stream, None)
    try:
        yield
    finally:
        setattr(sys, stream, before)


def test_remake_of_what_is_piped_in_says_that_nothing_is(capsys):
    with closed("stdin"):
        assert main(["remake", "-"]) == 2
    assert capsys.readouterr().err.startswith("vanpower: Nothing is piped in; name a file")


WORKS = ["check bookmobile", "compare bookmobile", "check gone.toml", "shortlist bookmobile --day dull",
         "day bookmobile", "rig bookmobile", "answer bookmobile --chart a.png"]  # fmt: skip


@pytest.mark.parametrize("stream", ["stdout", "stderr", "stdin"])
@pytest.mark.parametrize("words", WORKS)
def test_command_with_a_closed_stream_does_its_work(stream, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with closed(stream):
        assert main(words.split()) in (0, 1, 2)
