"""Files of strangers open no other file and run nothing; notebooks are served to this machine alone, with a token."""

from __future__ import annotations

import ast
import json
import os
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest
import test_charts
import test_pictures
from browsing import environment, served

import vanpower
from vanpower.cli import main
from vanpower.cli.notebooks import NOTEBOOK, server_command
from vanpower.files.resources import data_folder

HOME = Path(vanpower.__file__).parent
UNPACKERS = {"pickle", "marshal", "shelve", "dill", "joblib", "yaml", "ctypes", "runpy", "code"}
RUNNERS = {"eval", "exec", "compile", "__import__", "system", "popen", "execfile", "read_pickle", "literal_eval"}
STARTERS = {"serving.py", "warm.py"}
# what starts a server for the command line, and the process from which its kernels are forked
RUNS_CELLS = HOME / "pages" / "cells.py"
# a page's kernel, which runs the cells of its own notebook, of some in a thread beside moves
TRIMS = "book.py"
# a page's kernel, which asks the C library for malloc_trim, without a word from outside
MODULES = sorted(HOME.rglob("*.py"))
RIG = (data_folder() / "rigs" / "bookmobile.toml").read_text(encoding="utf-8")
LIST = (data_folder() / "shortlist.csv").read_text(encoding="utf-8")
LOG = (data_folder() / "logs" / "apple-barn.csv").read_text(encoding="utf-8")
WEATHER = "time,ghi,temp_air,SECRET\n" + "".join(f"2026-06-01 {h:02}:00,{40 * h},20,SECRET\n" for h in range(6, 18))


def imported(tree: ast.AST) -> set[str]:
    """Top-level modules that a source imports."""
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    return {name.split(".")[0] for name in names}


def called(tree: ast.AST) -> set[str]:
    """Plain names of the functions that a source calls; re.compile is told apart by its owner."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            function = node.func
            harmless = isinstance(function, ast.Attribute) and ast.unparse(function.value) == "re"
            found |= set() if harmless else {ast.unparse(function).rpartition(".")[2]}
            found |= {"system" for word in node.keywords if word.arg == "shell"}
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOME)))
def test_no_module_evaluates_or_unpickles_and_few_start_programs(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert imported(tree) & UNPACKERS == ({"ctypes"} if path.name == TRIMS else set())
    assert called(tree) & RUNNERS == ({"exec"} if path == RUNS_CELLS else set())
    assert "subprocess" not in imported(tree) or path.name in STARTERS


class Watch:
    """Notes which files are opened and what else is asked for."""

    def __init__(self) -> None:
        self.on, self.opened, self.other = False, set[str](), set[str]()
        sys.addaudithook(self.note)

    def note(self, event: str, words: tuple) -> None:
        if self.on and event == "open" and isinstance(words[0], str):
            self.opened.add(os.path.realpath(words[0]))
        elif self.on and event in ("os.system", "subprocess.Popen", "socket.connect", "pickle.find_class"):
            self.other.add(event)


@pytest.fixture(scope="module")
def watch(tmp_path_factory) -> Watch:
    """One watch for all, since Python lets go of none; set after packages are loaded, one of which starts uname."""
    main(["compare", "hay-cart", "--day", "dull", "--chart", str(tmp_path_factory.mktemp("first") / "first.png")])
    return Watch()


def post(secret: str) -> str:
    """A recipe that asks for a path as its weather."""
    asked = [{"day": {"weather": secret, "day": "only"}}]
    return test_pictures.line_of(json.dumps(test_charts.document() | {"requests": asked}))


def with_names(secret: str) -> str:
    """A recipe whose rig bears a path as its name."""
    return test_pictures.line_of(json.dumps(test_charts.document()).replace("Bookmobile, two small panels", secret))


DOORS = {
    "rig": ("van.toml", lambda secret: RIG.replace("Bookmobile, two small panels", secret), "check van.toml", 1),
    "weather": ("log.csv", lambda secret: WEATHER.replace("SECRET", secret),
                "compare bookmobile --wiring 2s --day log.csv --chart out.png", 0),
    "clock of a weather": ("log.csv", lambda secret: f"# latitude_deg: 5\n# longitude_deg: 5\n# time_zone: {secret}\n"
                           + WEATHER, "compare bookmobile --day log.csv", 2),
    "column of a weather": ("log.csv", lambda secret: f"# ghi: {secret}\n{WEATHER}", "compare bookmobile --day log.csv",
                            2),
    "shortlist": ("list.csv", lambda secret: LIST.replace("small 60 V 10 A", secret),
                  "shortlist bookmobile list.csv --day dull", 0),
    "trial": ("log.csv", lambda secret: LOG.replace("2p", secret), "trial log.csv --chart out.png", 0),
    "recipe that asks for a file": ("post.txt", post, "remake post.txt", 2),
    "recipe that bears a path": ("post.txt", with_names, "remake post.txt", 1),
}  # fmt: skip
# the file of a stranger, what stands in it, the words it is given to, and the exit code


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("spelling", ["secret.csv", "../secret/secret.csv", "/absolute", "$(cat secret.csv)"])
def test_path_inside_a_file_is_never_opened(door, spelling, watch, tmp_path, monkeypatch, capsys):
    name, made, words, code = DOORS[door]
    folder = tmp_path / "secret"
    folder.mkdir()
    monkeypatch.chdir(folder)
    secret = folder / "secret.csv"
    secret.write_text(WEATHER, encoding="utf-8")
    (folder / name).write_text(made(spelling.replace("/absolute", str(secret))), encoding="utf-8")
    watch.opened, watch.other, watch.on = set(), set(), True
    try:
        assert main(words.split()) == code, capsys.readouterr().err
    finally:
        watch.on = False
    assert os.path.realpath(folder / name) in watch.opened
    assert os.path.realpath(secret) not in watch.opened
    assert watch.other == set()


def status(address: str) -> int:
    """What a server answers."""
    try:
        with urllib.request.urlopen(address) as answer:
            return 200 if "login" not in answer.url else 302
    except urllib.error.HTTPError as refused:
        return refused.code


def test_notebooks_are_served_to_this_machine_alone_and_not_without_the_token(tmp_path):
    pytest.importorskip("jupyterlab", reason="needs jupyterlab; install vanpower[notebooks]")
    notebooks = tmp_path / "notebooks"
    notebooks.mkdir()
    (notebooks / "mine.txt").write_text("mine")
    command = [*server_command(notebooks, NOTEBOOK), "--no-browser", "--port=PORT", "--ServerApp.port_retries=0"]
    assert environment(tmp_path).get("JUPYTER_TOKEN") is None
    with served(command, "/login", tmp_path) as address:
        port = int(address.rpartition(":")[2])
        assert listening_on(port) == {"127.0.0.1"}
        assert status(f"{address}/api/contents/mine.txt") == 403
        assert status(f"{address}/api/contents/mine.txt?token=guessed") == 403
        assert status(f"{address}/api/kernels") == 403
        assert status(f"{address}/lab") == 302
        token = (tmp_path / "log.txt").read_text(encoding="utf-8").partition("?token=")[2].split()[0]
        assert len(token) >= 32
        assert status(f"{address}/api/contents/mine.txt?token={token}") == 200


def listening_on(port: int) -> set[str]:
    """Addresses of this machine on which somebody listens at a port, as Linux tells them."""
    found = set()
    for table in ("tcp", "tcp6"):
        for line in Path(f"/proc/net/{table}").read_text(encoding="utf-8").splitlines()[1:]:
            where, state = line.split()[1], line.split()[3]
            host, at = where.split(":")
            if state == "0A" and int(at, 16) == port:
                found.add(".".join(str(byte) for byte in reversed(bytes.fromhex(host))) if table == "tcp" else host)
    return found
