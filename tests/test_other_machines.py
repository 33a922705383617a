"""Other machines: the same numbers in another language, offline, without a home and from folders with odd names."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import skip_or_fail

from vanpower.files.resources import data_folder

LOG = data_folder() / "logs" / "apple-barn.csv"
COMMANDS = (
    "check van.toml",
    "compare van.toml --light 300 --shade P1.1=0.2 --chart chart.png",
    "day van.toml --day week.csv --load 5 --csv table.csv",
    "sheet van.toml --out page.pdf",
    "trial log.csv",
    "answer van.toml --day dull --weather greensboro",
    "remake chart.png --out again.png",
)
# run one after another in a folder of its own
RUN = """
import json, sys
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
LOCKED, WALLS = {locked!r}, {walls!r}
def watch(event, words):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.bind"):
        raise ConnectionError("there is no network here: " + event)
    if event == "open" and WALLS and isinstance(words[0], str):
        for_writing = isinstance(words[1], str) and set(words[1]) & set("wax+") or (words[2] or 0) & 3
        if for_writing and any(str(Path(words[0]).absolute()).startswith(wall) for wall in LOCKED):
            raise OSError(30, "Read-only file system", words[0])
sys.addaudithook(watch)
from vanpower import compare, example, Days
from vanpower.cli import main
said = []
for words in {commands!r}:
    with redirect_stdout(StringIO()) as out:
        said.append([main(words.split()), out.getvalue()])
found = compare(example("puppet-stage").wirings(), Days(day="median")).outcomes
numbers = {{name: repr(one.energy_wh) for name, one in found.items()}}
json.dump([said, numbers], open("said.json", "w", encoding="utf-8"))
"""
TURKISH = "tr_TR.UTF-8"


def said_in(folder: Path, *, walls: bool = False, **environment: str) -> list:
    """Exit codes, answers and numbers of the commands in a fresh process, warnings being errors."""
    folder.mkdir(exist_ok=True)
    shutil.copy(data_folder() / "rigs" / "bookmobile.toml", folder / "van.toml")
    shutil.copy(LOG, folder / "log.csv")
    rows = (f"2026-03-01 {hour:02}:00,{max(0, 500 - 80 * abs(hour - 12))},9\n" for hour in range(24))
    (folder / "week.csv").write_text("time,ghi,temp_air\n" + "".join(rows), encoding="utf-8")
    locked = [str(data_folder()), str(Path(sys.modules["vanpower"].__file__).parent), str(Path.home())]
    code = RUN.format(locked=locked, walls=walls, commands=COMMANDS)
    own = {
        key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON", "MPL", "XDG"))
    }
    command = [sys.executable, "-W", "error", "-c", code]
    run = subprocess.run(command, cwd=folder, env=own | environment, capture_output=True, text=True, encoding="utf-8")
    assert run.returncode == 0, run.stderr[-2000:]
    return json.loads((folder / "said.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def ordinary(tmp_path_factory) -> list:
    """What is said on this machine as it is, without a network."""
    found = said_in(tmp_path_factory.mktemp("ordinary"))
    assert [code for code, _ in found[0]] == [1, 0, 0, 0, 0, 0, 0]
    assert "All" in found[0][-1][1]
    return found


def test_language_c_gives_the_same(ordinary, tmp_path):
    assert said_in(tmp_path, LC_ALL="C") == ordinary


@pytest.fixture(scope="module")
def turkish(tmp_path_factory) -> str:
    """A folder with the Turkish locale in it."""
    folder = tmp_path_factory.mktemp("locale")
    made = shutil.which("localedef") and subprocess.run(
        ["localedef", "-i", "tr_TR", "-f", "UTF-8", str(folder / TURKISH)], capture_output=True, check=False
    )
    if not made or made.returncode:
        skip_or_fail("no Turkish locale to be made here; install the package locales")
    return str(folder)


def test_turkish_with_its_decimal_commas_and_dotted_letters_gives_the_same(ordinary, turkish, tmp_path):
    assert said_in(tmp_path, LC_ALL=TURKISH, LOCPATH=turkish) == ordinary


def test_folder_with_blanks_and_umlauts_gives_the_same(ordinary, tmp_path):
    assert said_in(tmp_path / "Süd Dach, çatı 屋根") == ordinary


def test_read_only_package_and_home_and_no_cache_give_the_same(ordinary, tmp_path):
    assert said_in(tmp_path, walls=True, HOME="/proc/none", PYTHONDONTWRITEBYTECODE="1") == ordinary


def test_home_that_cannot_be_written_is_not_talked_about(tmp_path):
    own = {key: value for key, value in os.environ.items() if not key.startswith(("MPL", "XDG"))}
    command = [sys.executable, "-m", "vanpower", "compare", "bookmobile", "--light", "300", "--chart", "chart.png"]
    run = subprocess.run(command, cwd=tmp_path, env=own | {"HOME": "/proc/none"}, capture_output=True, text=True)
    assert (run.returncode, run.stderr) == (0, "")
    assert (tmp_path / "chart.png").exists()


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "iso-8859-9", "cp437"])
def test_screen_that_lacks_letters_gets_plainer_ones(encoding, ordinary, tmp_path):
    plain = {"\N{MINUS SIGN}": "-", "²": "2", "°": "deg "}
    lacking = {ord(letter): other for letter, other in plain.items() if not letter.encode(encoding, "ignore")}
    assert lacking
    shutil.copy(LOG, tmp_path / "log.csv")
    command = [sys.executable, "-W", "error", "-m", "vanpower", "trial", "log.csv"]
    own = os.environ | {"PYTHONIOENCODING": encoding}
    run = subprocess.run(command, cwd=tmp_path, env=own, capture_output=True, text=True, encoding=encoding)
    whole = ordinary[0][COMMANDS.index("trial log.csv")][1]
    assert (run.returncode, run.stderr, run.stdout) == (0, "", whole.translate(lacking))
    assert whole.translate(lacking) != whole
