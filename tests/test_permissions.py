"""Files that may not be read and places that may not be written: one line, exit code 2, nothing left behind."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from vanpower.cli import main
from vanpower.files.resources import data_folder

WEATHER = "time,ghi,temp_air\n" + "".join(
    f"2026-06-01 {h:02}:00,{max(800 - 16 * (h - 11.5) ** 2, 0)},20\n" for h in range(24)
)
READ = {
    "rig": ("van.toml", "check van.toml"),
    "weather": ("week.csv", "compare bookmobile --day week.csv"),
    "weather of frost": ("week.csv", "check bookmobile --coldest week.csv"),
    "log": ("log.csv", "trial log.csv"),
    "shortlist": ("list.csv", "shortlist bookmobile list.csv"),
    "picture": ("old.png", "remake old.png"),
    "text": ("post.txt", "remake post.txt"),
}
# the file that may not be read, and the words it is given to
WRITTEN = {
    "chart": ("out.png", "compare bookmobile --light 300 --chart out.png"),
    "drawing": ("out.svg", "compare bookmobile --light 300 --chart out.svg"),
    "chart of a day": ("out.png", "day bookmobile --day week.csv --load 5 --chart out.png"),
    "table of a day": ("out.csv", "day bookmobile --day week.csv --load 5 --csv out.csv"),
    "page": ("out.pdf", "sheet bookmobile --out out.pdf"),
    "chart of a trial": ("out.png", "trial log.csv --chart out.png"),
    "chart of an answer": ("out.png", "answer bookmobile --light 300 --chart out.png"),
    "chart drawn again": ("out.png", "remake mine.png --out out.png"),
}
# the file that may not be written, and the words that write it


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """A folder with one file of each kind."""
    monkeypatch.chdir(tmp_path)
    data = data_folder()
    shutil.copy(data / "rigs" / "bookmobile.toml", "van.toml")
    shutil.copy(data / "logs" / "apple-barn.csv", "log.csv")
    shutil.copy(data / "shortlist.csv", "list.csv")
    Path("week.csv").write_text(WEATHER, encoding="utf-8")
    Path("old.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    Path("post.txt").write_text("vanpower-recipe", encoding="utf-8")
    return tmp_path


def shut(monkeypatch, name: str, mode: str) -> list[str]:
    """Let the system refuse to open files of a name for reading or writing, also to a superuser; gives the refused.

    A file is written under a name that nobody can guess, and takes its own when it is whole.
    """
    refused: list[str] = []
    real = open

    def opened(file, how="r", *args, **more):
        named = name in Path(str(file)).name or (mode == "w" and Path(str(file)).suffix == ".part")
        if named and (set(how) & set("wax+") != set()) == (mode == "w"):
            refused.append(str(file))
            raise PermissionError(13, "Permission denied", str(file))
        return real(file, how, *args, **more)

    monkeypatch.setattr("io.open", opened)
    monkeypatch.setattr("builtins.open", opened)
    return refused


@pytest.mark.parametrize("kind", READ)
def test_file_that_may_not_be_read_is_named_in_one_line(kind, folder, monkeypatch, capsys):
    name, words = READ[kind]
    refused = shut(monkeypatch, name, "r")
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert refused
    assert said.count("\n") == 1
    assert name in said
    assert "permissions keep you out" in said


@pytest.mark.parametrize("kind", WRITTEN)
def test_place_that_may_not_be_written_is_named_in_one_line_and_nothing_stays(kind, folder, monkeypatch, capsys):
    name, words = WRITTEN[kind]
    if "mine.png" in words:
        assert main(["compare", "bookmobile", "--light", "300", "--chart", "mine.png"]) == 0
    before = sorted(path.name for path in folder.iterdir())
    capsys.readouterr()
    refused = shut(monkeypatch, name, "w")
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert refused
    assert said.count("\n") == 1
    assert f"{name} could not be written: Permission denied" in said
    assert sorted(path.name for path in folder.iterdir()) == before
