"""Files that commands write: whole or not at all, on a full disk too, and never over a file of somebody else's."""

from __future__ import annotations

import contextlib
import csv
import errno
import resource
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
from test_sweeps import REQUESTS, RIGS

from vanpower import sweep
from vanpower.cli import main, year
from vanpower.files.resources import data_folder
from vanpower.simulation import run as runs
from vanpower.studies import sweeps

ROOM = 1500
# [bytes] of a file in a disk that is all but full: less than any chart or table takes
LOG = str(data_folder() / "logs" / "apple-barn.csv")
WRITERS = {
    "compare": ("compare hay-cart --chart out.png", "out.png"),
    "compare, svg": ("compare hay-cart --chart out.svg", "out.svg"),
    "compare, pdf": ("compare hay-cart --chart out.pdf", "out.pdf"),
    "answer": ("answer hay-cart --chart out.png", "out.png"),
    "answer, page": ("answer hay-cart --move volts --page out.html", "out.html"),
    "roof": ("roof goat-cheese-van --hour 10 --chart out.png", "out.png"),
    "sheet": ("sheet bookmobile --out out.pdf", "out.pdf"),
    "trial": (f"trial {LOG} --chart out.png", "out.png"),
    "day, chart": ("day bookmobile --chart out.png", "out.png"),
    "day, table": ("day bookmobile --csv out.csv", "out.csv"),
    "year, table": ("year bookmobile --weather week.csv --wiring all --csv out.csv", "out.csv"),
    "year, chart": ("year bookmobile --weather week.csv --chart out.png", "out.png"),
    "remake": ("remake given.png --out out.png", "out.png"),
    "remake, in this folder": ("remake given.png", "remade-*.png"),
}
# words, and what they write
BY_NAME = pytest.mark.parametrize("name", WRITERS)


@pytest.fixture
def folder(tmp_path, monkeypatch, given) -> Path:
    """A folder to work in, with a chart and a week of weather in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "given.png").write_bytes(given)
    time = pd.date_range("2026-03-01", periods=24 * 7, freq="1h")
    light = [max(0, 500 - 80 * abs(hour - 12)) for hour in time.hour]
    pd.DataFrame({"time": time, "ghi": light, "temp_air": 9.0}).to_csv("week.csv", index=False)
    return tmp_path


@pytest.fixture(scope="module")
def given(tmp_path_factory) -> bytes:
    """A chart with its recipe."""
    path = tmp_path_factory.mktemp("given") / "given.png"
    main(["compare", "hay-cart", "--wiring", "1s", "--chart", str(path)])
    return path.read_bytes()


@contextlib.contextmanager
def hardly_room() -> Iterator[None]:
    """No file may grow beyond `ROOM`, as on a disk that is full."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def written(folder: Path, pattern: str) -> list[Path]:
    """What lies there under the name of what a command writes."""
    return sorted(folder.glob(pattern))


@BY_NAME
def test_full_disk_is_told_and_leaves_what_was_there(name, folder, capsys):
    words, pattern = WRITERS[name]
    before = set(folder.iterdir())
    assert main(words.split()) == 0
    [path] = written(folder, pattern)
    first = path.read_bytes()
    assert len(first) > ROOM
    capsys.readouterr()
    with hardly_room():
        assert main(words.split()) == 2
    told = capsys.readouterr().err
    assert told == f"vanpower: {path.name} could not be written: File too large.\n"
    assert path.read_bytes() == first
    assert set(folder.iterdir()) - before == {path}
    path.unlink()
    with hardly_room():
        assert main(words.split()) == 2
    assert set(folder.iterdir()) == before


@BY_NAME
def test_file_of_somebody_else_is_not_written_over(name, folder, capsys):
    words, pattern = WRITERS[name]
    if "*" in pattern:
        assert main(words.split()) == 0
        [path] = written(folder, pattern)
        capsys.readouterr()
    else:
        path = folder / pattern
    path.write_bytes(b"sea and sand")
    assert main(words.split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"{path.name} is there already and is no" in err
    assert path.read_bytes() == b"sea and sand"


@BY_NAME
def test_own_file_is_written_anew(name, folder):
    words, pattern = WRITERS[name]
    assert main(words.split()) == main(words.split()) == 0
    assert len(written(folder, pattern)) == 1


def test_no_space_left_is_said_in_those_words(folder, capsys, monkeypatch):
    def full(self: Path, target: Path) -> Path:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    for words in ("compare hay-cart --chart out.png", "day bookmobile --csv out.csv"):
        assert main(words.split()) == 2
        assert "could not be written: No space left on device." in capsys.readouterr().err
    assert written(folder, "*out*") == []


def test_year_stopped_by_hand_writes_the_days_that_are_done(folder, capsys, monkeypatch):
    def impatient(groups):
        for number, group in enumerate(groups):
            if number == 3:
                raise KeyboardInterrupt
            yield group

    monkeypatch.setattr(runs, "CHUNK_EVEN", 24)
    monkeypatch.setattr(year, "bar", lambda what: impatient)
    assert main(["year", "bookmobile", "--weather", "week.csv", "--csv", "out.csv"]) == 130
    assert "Stopped after 3 days" in " ".join(capsys.readouterr().out.split())
    with (folder / "out.csv").open(encoding="utf-8") as file:
        about, *rows = csv.reader(file)
    assert about[0].startswith("# vanpower")
    assert [row[1] for row in rows[1:]] == ["2026-03-01", "2026-03-02", "2026-03-03"]


def test_sweep_on_a_full_disk_keeps_its_rows_and_goes_on_with_them(folder, monkeypatch):
    file, asked, work = folder / "sweep.csv", [], sweeps.outcome
    monkeypatch.setattr(sweeps, "outcome", lambda rig, request: asked.append(rig) or work(rig, request))
    requests = {f"{name} {k}": request for k in range(3) for name, request in REQUESTS.items()}
    whole = sweep(RIGS, requests).table().to_pandas()
    asked.clear()
    with hardly_room(), pytest.raises(OSError, match="File too large"):
        sweep(RIGS, requests, path=file)
    kept = len(file.read_text(encoding="utf-8").splitlines()) - 2
    assert kept > 0
    asked.clear()
    pd.testing.assert_frame_equal(sweep(RIGS, requests, path=file).table().to_pandas(), whole, rtol=1e-12)
    assert len(asked) == len(whole) - kept
    assert {path.name for path in folder.iterdir()} == {"given.png", "week.csv", "sweep.csv"}
