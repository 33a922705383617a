"""Files made to hang a reader or eat memory: each is refused within two seconds of processor time and 200 MB.

Python's start and what a command loads are counted once for each door, in a process of its own; the other files have a
child of a process that has loaded everything, and half of the time.
"""

from __future__ import annotations

import contextlib
import io
import os
import resource
import signal
import subprocess
import sys
import traceback
import zlib
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from test_pictures import chunk

from vanpower.cli import main
from vanpower.sharing import picture_reading as pictures
from vanpower.trials.logs import read_log

SECONDS, BYTES = 2.0, 200_000_000
# what refusing a file may take, with the start
REFUSAL = 1.5
# [s] of it, without the start and what is loaded, which take half a second
BAD_INPUT, FAILED = 2, 70
# exit code of the command line, and that of a child in which something else went wrong
HEAD = b"time,ghi,temp_air\n2026-06-01 10:00,500,20\n2026-06-01 11:00,600,20\n"
MANY = 1_000_000


def in_bounds(work: Callable[[], object], folder: Path) -> tuple[int, str]:
    """Exit code and messages of what is done in a child whose processor time and memory end at the bounds."""
    told = folder / "told.txt"
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException), told.open("w", encoding="utf-8", errors="replace") as said:
            code = FAILED
            try:
                _bound()
                with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
                    code = int(work() or 0)
            except SystemExit as stop:
                code = int(stop.code or 0)
            except BaseException:
                traceback.print_exc(file=said)
            said.flush()
            os._exit(code)
        os._exit(FAILED)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), told.read_text(encoding="utf-8")


def _bound() -> None:
    """Let this process take the bounds beyond what it has taken, and no more."""
    held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (held + BYTES, held + BYTES))
    signal.setitimer(signal.ITIMER_PROF, REFUSAL)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


@pytest.fixture(scope="module", autouse=True)
def warm(tmp_path_factory) -> Iterator[None]:
    """Everything loaded and used once, so that a child pays for its file alone."""
    folder = tmp_path_factory.mktemp("warm")
    (folder / "log.csv").write_bytes(HEAD)
    with contextlib.chdir(folder), contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        main(["compare", "bookmobile", "--day", "log.csv"])
        main(["compare", "bookmobile", "--wiring", "2s", "--day", "dull"])
        main(["shortlist", "bookmobile", "--day", "dull"])
        main(["trial", "log.csv"])
        main(["remake", "log.csv"])
    return


# What is made


def many_rows(count: int) -> bytes:
    """Rows of weather, a minute apart."""
    minutes = (datetime(2026, 1, 1) + timedelta(minutes=k) for k in range(count))
    return b"".join(f"{minute:%Y-%m-%d %H:%M},500,20\n".encode() for minute in minutes)


def packed_pieces(count: int, size: int, keyword: bytes = b"Recipe") -> bytes:
    """A PNG with many packed texts, each of so many letters."""
    piece = chunk(b"zTXt", keyword + b"\0\0" + zlib.compress(b"a" * size, 9))
    return pictures.PNG_BEGINS + piece * count + chunk(b"IEND", b"")


def toml(value: bytes) -> bytes:
    return b'name = "x"\nsource = "y"\n' + value


RIGS = {
    "letters without an end": lambda: b"a" * 900_000,
    "words without an end in a table": lambda: b"panels = [{" + b"a" * 900_000,
    "header of blanks": lambda: b"[" + b" " * 900_000,
    "header of points and blanks": lambda: b"[" + b". " * 450_000,
    "key of blanks": lambda: b"a" + b" " * 900_000,
    "digits then blanks": lambda: b"a = 1" + b" " * 900_000 + b"x",
    "equals without an end": lambda: b"=" * 900_000,
    "commas without an end": lambda: b"a = {" + b"," * 900_000,
    "commas and words": lambda: b"a = {" + b",a" * 450_000,
    "key of many parts": lambda: b"a" + b".a" * 400_000 + b" = 1",
    "keys of many parts": lambda: (b"a" + b".a" * 1_000 + b" = 1\n") * 400,
    "table of many parts": lambda: b"[a" + b".a" * 400_000 + b"]",
    "brackets": lambda: b"a = " + b"[" * 900_000,
    "braces": lambda: b"a = " + b"{a=" * 300_000,
    "lines of a letter": lambda: b"a\n" * 450_000,
    "comments": lambda: toml(b"#\n" * 450_000),
    "keys": lambda: toml(b"".join(b"k%d=1\n" % k for k in range(80_000))),
    "list": lambda: toml(b"panels = [" + b"1," * 450_000 + b"]"),
    "tables": lambda: toml(b"[[panels]]\n" * 80_000),
    "text without an end": lambda: toml(b'panels = "' + b"x" * 900_000 + b'"'),
    "blanks in a number": lambda: toml(b'[battery]\nname = "b"\nv_now = "' + b" " * 900_000 + b'x"\n'),
    "number in words": lambda: toml(b'[battery]\nname = "b"\nv_now = "' + b"1" * 900_000 + b'x"\n'),
    "digits": lambda: b"a = " + b"1" * 900_000,
    "watts of 180,000 hours": lambda: toml(b'[[loads]]\nname = "a"\np_hourly = [' + b'"a",' * 180_000 + b"]"),
    "backslashes": lambda: b'a = "' + b"\\" * 900_001,
    "quotes": lambda: b'"' * 900_000,
    "minus signs": lambda: "−".encode() * 300_000,
    "key without an end": lambda: toml(b"k" * 900_000 + b" = 1"),
}
WEATHER = {
    "commas in the first line": lambda: b"," * 3 * MANY + b"\n" + b"1," * 10,
    "commas": lambda: b"time,ghi,temp_air\n" + b"," * 20 * MANY,
    "names without an end": lambda: b"a" * 40 * MANY,
    "lines of a letter": lambda: b"a\n" * 9_500_000,
    "lines of nothing": lambda: b"\n" * 50 * MANY,
    "comments": lambda: b"# a\n" * 12 * MANY,
    "comment of blanks": lambda: b"# ghi:" + b" " * 900_000 + b"x\n" + HEAD,
    "comment of blanks and no end": lambda: b"# ghi: x" + b" " * 900_000 + b"x " * 9 + b"\n" + HEAD,
    "comment of words": lambda: b"# " + b"a" * 5 * MANY + b"\n" + HEAD,
    "comments of blanks": lambda: (b"# ghi" + b" " * 3000 + b"\n") * 5000 + HEAD + b"soon,1,1\n",
    "quote without an end": lambda: HEAD + b'"' + b"a\n" * 9 * MANY,
    "quotes": lambda: HEAD + b'"' * 9 * MANY,
    "rows without an end": lambda: HEAD + b"2026-06-01 12:00,700," + b"2" * 20 * MANY,
    "little pictures": lambda: b"time,ghi,temp_air\n" + "😀".encode() * 10 * MANY,
    "many columns": lambda: b",".join(b"c%d" % k for k in range(200_000)) + b"\n" + HEAD,
    "rows of unlike length": lambda: HEAD + b"1\n1,2,3,4,5,6\n" * MANY,
    "UTF-16": lambda: b"\xff\xfe" + b"a\0,\0\n\0" * 6 * MANY,
    "UTF-16 of wide letters": lambda: b"\xff\xfe" + "日\n".encode("utf-16-le") * 9 * MANY,
    "a wide letter in many lines": lambda: (
        HEAD + b"# a remark of some letters, now and then\n" * 900_000 + "😀".encode()
    ),
    "a bad value behind many rows": lambda: HEAD.split(b"\n", 1)[0] + b"\n" + many_rows(500_000) + b"soon,9,9\n",
    "words for light behind many rows": lambda: (
        HEAD.split(b"\n", 1)[0] + b"\n" + many_rows(500_000) + b"2030-01-01,x,9\n"
    ),
}
JSON = {
    "50 MB of JSON": lambda: b'{"inputs": [' + b"[]," * 16 * MANY + b"0]}",
    "lists": lambda: b'{"inputs": [' + b"[]," * 5 * MANY + b"0]}",
    "tables": lambda: b'{"inputs": [' + b'{"a":0},' * 2 * MANY + b"0]}",
    "brackets": lambda: b'{"inputs": ' + b"[" * 5 * MANY,
    "tables in tables": lambda: b'{"inputs": ' + b'{"a":' * MANY,
    "digits": lambda: b'{"inputs": ' + b"1" * 5 * MANY + b"}",
    "slopes": lambda: (
        b'{"inputs": {"location": {"latitude": 1, "longitude": 1}}, "outputs": {"hourly": [{"time": "20070101:0011", '
        b'"G(i)": 1.0, "T2m": 1.0, "WS10m": 1.0}]}, "x": "' + b"slope" * MANY + b'"}'
    ),
    "one long text": lambda: b'{"inputs": "' + b"x" * 50 * MANY + b'"}',
}
YEARS = {
    "year.epw": b"LOCATION,Moor,X,NOR,made,012345,60.40,5.30,1.0,50.0\n",
    "year.csv": b"Latitude (decimal degrees): 60.400\nLongitude (decimal degrees): 5.300\nElevation (m): 50\n",
    "tmy.csv": b'"Station"\nDate (MM/DD/YYYY),a\n',
    "year.tm2": b" 12839 MIAMI FL -5 N 25 48 W 80 16 2\n",
}
BEHIND = {
    "lines": lambda: b"1\n" * 20 * MANY,
    "commas": lambda: b"," * 30 * MANY,
    "a line": lambda: b"1" * 50 * MANY,
    "rows": lambda: b"1,2,3,4,5,6\n" * 3 * MANY,
}
HOURS = b"1999,1,1,1,60,A7," + b"1," * 28 + b"1\n"
LONG_YEAR = b"LOCATION,Moor,X,NOR,made,012345,60.40,5.30,1.0,50.0\n" + b"a\n" * 7 + HOURS * 190_000
LOGS = {
    "lines of a letter": lambda: b"a\n" * 9_500_000,
    "commas in the first line": lambda: b"," * 3 * MANY,
    "commas": lambda: b"minutes,wiring,power\n" + b"," * 15 * MANY,
    "letters": lambda: b"a" * 19 * MANY,
    "blanks": lambda: b"a b\n" + b"a " * 9 * MANY,
    "quotes": lambda: b'"' * 19 * MANY,
    "quote without an end": lambda: b'minutes,wiring,power\n"' + b"a\n" * 9 * MANY,
    "line separators": lambda: "\u2028".encode() * 6 * MANY,
    "form feeds": lambda: b"a\f" * 9 * MANY,
    "little pictures": lambda: b"a,b\n" + "😀".encode() * 4_500_000,
    "many rows of many cells": lambda: (b",".join([b"1"] * 79) + b"\n") * 120_000,
    "UTF-16": lambda: b"\xff\xfe" + b"a\0\n\0" * 4_500_000,
    "cell of 131,073 letters": lambda: b"minutes,wiring,power\n1,2p," + b"1" * 131_073 + b"\n",
    "a swap in every row": lambda: (
        b"minutes,wiring,power\n" + b"".join(b"%d,%d,1\n" % (k, k % 2) for k in range(9_000))
    ),
}
LISTS = {
    "commas in the first line": lambda: b"," * 900_000 + b"\nx",
    "lines": lambda: b"a\n" * 450_000,
    "cell of 131,073 letters": lambda: b"name,v_pv_max,i_charge_max\n" + b"x" * 131_073 + b",50,10\n",
    "names": lambda: b",".join(b"c%d" % k for k in range(100_000)) + b"\n1\n",
    "quotes": lambda: b"name,v_pv_max,i_charge_max\n" + b'"' * 900_001,
    "a name without an end": lambda: b"n" * 900_000 + b"\n1\n",
}
LINE = b"vanpower-recipe v1 id 00000000 = "
PICTURES = {
    "packed texts": lambda: packed_pieces(19_990, 390_000),
    "packed texts by other names": lambda: packed_pieces(19_990, 390_000, b"Comment"),
    "packed texts, one too large": lambda: packed_pieces(1, 400_000_000),
    "pieces of nothing": lambda: pictures.PNG_BEGINS + chunk(b"teST", b"") * 19_998 + chunk(b"IEND", b""),
    "beginnings": lambda: LINE * 800_000,
    "beginnings and letters": lambda: (LINE + b"A" * 5000) * 5000,
    "recipe of letters": lambda: LINE + b"A" * 25 * MANY,
    "letters": lambda: b"a" * 29 * MANY,
    "little pictures": lambda: "😀".encode() * 7 * MANY,
    "little pictures and a beginning": lambda: "😀".encode() * 3_500_000 + LINE + "😀".encode() * 3_500_000,
    "signs of quoting": lambda: LINE + b"&gt;" * 7 * MANY,
    "SVG without an end": lambda: b"<svg>" + b"a" * 29 * MANY,
}


def after(start: bytes, rest: Callable[[], bytes]) -> bytes:
    """What stands behind the beginning of a file of a known form."""
    return start + rest()


CASES = {
    **{f"rig, {name}": ("van.toml", held, "check van.toml") for name, held in RIGS.items()},
    **{f"weather, {name}": ("log.csv", held, "compare bookmobile --day log.csv") for name, held in WEATHER.items()},
    **{f"JSON, {name}": ("log.json", held, "compare bookmobile --day log.json") for name, held in JSON.items()},
    **{f"{file}, {name}": (file, partial(after, start, held), f"compare bookmobile --weather {file} --day dull")
       for file, start in YEARS.items() for name, held in BEHIND.items()},
    "year of 190,000 hours": ("year.epw", lambda: LONG_YEAR, "compare bookmobile --weather year.epw --day dull"),
    **{f"log, {name}": ("log.csv", held, "trial log.csv") for name, held in LOGS.items()},
    **{f"list, {name}": ("list.csv", held, "shortlist hay-cart list.csv --day dull") for name, held in LISTS.items()},
    **{f"picture, {name}": ("out.png", held, "remake out.png") for name, held in PICTURES.items()},
}  # fmt: skip
# a file, what it holds, and the words it is given to


@pytest.mark.skipif(sys.platform != "linux", reason="bounds of a process are those of Linux")
@pytest.mark.parametrize("name", CASES)
def test_file_is_refused_within_the_bounds(name, tmp_path, monkeypatch):
    file, made, words = CASES[name]
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    (folder / file).write_bytes(made())
    code, said = in_bounds(lambda: main(words.split()), tmp_path)
    assert code == BAD_INPUT, said[-2000:]
    assert said.startswith("vanpower: ")
    assert max(map(len, said.splitlines())) < 1000
    assert [path.name for path in folder.iterdir()] == [file]


STARTED = """
import signal, sys, time
signal.setitimer(signal.ITIMER_PROF, {seconds} - time.process_time())
from vanpower.cli import main
code = main(sys.argv[1:])
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(int(peak.split()[1]) * 1024, *({heavy!r} & sys.modules.keys()))
sys.exit(code)
"""
HEAVY = {"matplotlib", "pvlib", "scipy"}
# what takes long to load and no refusal needs, but that of a year, which pvlib reads
DOORS = (
    "rig, digits", "weather, comments of blanks", "JSON, slopes", "JSON, digits", "JSON, tables",
    "year of 190,000 hours", "log, many rows of many cells", "log, a swap in every row", "list, lines",
    "picture, signs of quoting", "picture, packed texts",
)  # fmt: skip
# the dearest files of each door


@pytest.mark.skipif(sys.platform != "linux", reason="bounds of a process are those of Linux")
@pytest.mark.parametrize("name", DOORS)
def test_start_of_python_is_within_the_bounds_as_well(name, tmp_path):
    file, made, words = CASES[name]
    (tmp_path / file).write_bytes(made())
    code = STARTED.format(seconds=SECONDS, heavy=HEAVY)
    done = subprocess.run([sys.executable, "-c", code, *words.split()], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == BAD_INPUT, done.stderr[-2000:]
    peak, *loaded = done.stdout.split()
    assert int(peak) < BYTES
    assert not loaded or name in ("JSON, slopes", "JSON, digits")


def test_bounds_bite(tmp_path):
    """What takes more than the bounds does not end well in the child."""
    assert in_bounds(lambda: len(bytes(3 * BYTES)), tmp_path)[0] == FAILED
    assert in_bounds(forever, tmp_path)[0] < 0


def forever() -> None:
    while True:
        pass


def test_log_within_all_limits_is_read(tmp_path):
    """The limits leave room for what people have: a day of seconds with ten columns."""
    rows = "".join(
        f"{k / 60:.4f},{'2s' if 30_000 < k < 60_000 else '2p'},100,500,30,13,5,20,1,x\n" for k in range(86_400)
    )
    (tmp_path / "log.csv").write_text(f"minutes,wiring,power,light,temp,vbat,ibat,varray,x,y\n{rows}")
    assert len(read_log(tmp_path / "log.csv")) == 86_400
