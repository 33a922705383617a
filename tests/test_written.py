"""Nothing is lost to what a command writes: hand edits, links, names of others, and two writers at once."""

from __future__ import annotations

import hashlib
import os
import stat
import subprocess
import sys
import threading
from pathlib import Path

import PIL.Image
import pytest

from vanpower.cli import main
from vanpower.files.atomic import is_sealed, sealed, written
from vanpower.sharing.picture_reading import read_chart

CHART = "compare hay-cart --wiring 1s --chart {}"
KINDS = {name: CHART.format(name) for name in ("out.png", "out.svg", "out.pdf")} | {
    "out.csv": "day bookmobile --csv out.csv"
}
# what is written, and the words that write it
BY_KIND = pytest.mark.parametrize("name", KINDS)


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(name: str, capsys) -> str:
    """What is said of a file that is not written over."""
    capsys.readouterr()
    assert main(KINDS[name].split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    return err


@BY_KIND
def test_file_changed_by_hand_stays(name, folder, capsys):
    assert main(KINDS[name].split()) == 0
    path = folder / name
    with path.open("rb") as file:
        assert is_sealed(file)
    held = path.read_bytes()
    for edited in (
        held.replace(b"1", b"7", 1),
        held + b"\nseen by me\n",
        held[: len(held) // 2] + held[len(held) // 2 + 9 :],
    ):
        path.write_bytes(edited)
        assert f"{name} was changed since this kit wrote it" in refused(name, capsys)
        assert path.read_bytes() == edited
    path.write_bytes(held)
    assert main(KINDS[name].split()) == 0


def test_hand_edit_of_a_table_stays_and_its_numbers_are_read_as_before(folder, capsys):
    main(KINDS["out.csv"].split())
    lines = (folder / "out.csv").read_text(encoding="utf-8").split("\n")
    lines[5] += ",my note"
    (folder / "out.csv").write_text("\n".join(lines), encoding="utf-8")
    assert "choose another name" in refused("out.csv", capsys)
    assert ",my note" in (folder / "out.csv").read_text(encoding="utf-8")


def test_table_of_an_older_kit_stays(folder, capsys):
    (folder / "out.csv").write_text("# vanpower 0.1.0: days\nWh\n1\n")
    assert "is of an older version" in refused("out.csv", capsys)


def test_seal_is_plain_to_the_reader_of_pictures(folder):
    """A PNG's chunk as ISO/IEC 15948 has it: another reader finds the text, and the recipe is still found."""
    main(KINDS["out.png"].split())
    with PIL.Image.open("out.png") as picture:
        picture.load()
        text = picture.text
    body = (folder / "out.png").read_bytes()[:-45]
    assert text["Seal"] == hashlib.sha256(body).hexdigest()[:16]
    assert read_chart("out.png").kind == "answer"


def test_seal_of_a_table_is_the_fingerprint_of_the_rest():
    held = sealed(b"# vanpower 1.0: a\nWh\n")
    assert (
        held
        == b"# vanpower 1.0: a; seal "
        + hashlib.sha256(b"# vanpower 1.0: a\nWh\n").hexdigest()[:16].encode()
        + b"\nWh\n"
    )


@BY_KIND
def test_files_of_likely_temporary_names_stay(name, folder):
    names = [
        f".{name}.part{Path(name).suffix}",
        f".{name}.part",
        f"{name}.part",
        f"{name}.new",
        f"{name}.tmp",
        f"{name}~",
    ]
    for other in names:
        (folder / other).write_text("mine")
    assert main(KINDS[name].split()) == 0
    assert [(folder / other).read_text() for other in names] == ["mine"] * len(names)
    assert sorted(path.name for path in folder.iterdir()) == sorted([name, *names])


@BY_KIND
def test_planted_link_of_a_temporary_name_is_not_followed(name, folder):
    victim = folder / "victim"
    victim.write_text("mine")
    (folder / f".{name}.part{Path(name).suffix}").symlink_to(victim)
    assert main(KINDS[name].split()) == 0
    assert victim.read_text() == "mine"


@BY_KIND
def test_link_stays_a_link_and_the_file_behind_it_is_written(name, folder):
    attic = folder / "attic"
    attic.mkdir()
    real = attic / f"real{Path(name).suffix}"
    assert main(KINDS[name].split()) == 0
    (folder / name).rename(real)
    (folder / name).symlink_to(real)
    before = real.stat().st_ino
    assert main(KINDS[name].split()) == 0
    assert (folder / name).is_symlink()
    assert real.stat().st_ino != before
    assert [path.name for path in attic.iterdir()] == [real.name]


@BY_KIND
def test_link_that_leads_nowhere_is_refused(name, folder, capsys):
    (folder / name).symlink_to(folder / "nowhere")
    assert "is a link that leads nowhere; choose another name." in refused(name, capsys)
    assert not (folder / "nowhere").exists()


@BY_KIND
def test_link_to_a_file_of_somebody_else_is_refused(name, folder, capsys):
    (folder / "letter").write_text("Dear aunt")
    (folder / name).symlink_to(folder / "letter")
    assert "of this kit; choose another name." in refused(name, capsys)
    assert (folder / "letter").read_text() == "Dear aunt"


@BY_KIND
def test_pipe_is_refused_at_once(name, folder, capsys):
    os.mkfifo(name)
    assert f"{name} is no ordinary file; choose another name." in refused(name, capsys)
    assert stat.S_ISFIFO(os.stat(name).st_mode)


def test_rig_file_is_never_written_over(folder, capsys):
    words = ["rig", "bookmobile", "--out", "a.toml"]
    assert main(words) == 0
    for make in (lambda: None, lambda: (os.unlink("a.toml"), os.mkfifo("a.toml"))):
        make()
        assert main(words) == 2
        assert "a.toml is there already and stays as it is" in capsys.readouterr().err


@BY_KIND
def test_permissions_are_kept(name, folder):
    umask = os.umask(0o022)
    try:
        assert main(KINDS[name].split()) == 0
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o644
        (folder / name).chmod(0o600)
        assert main(KINDS[name].split()) == 0
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    finally:
        os.umask(umask)


def test_folder_that_may_not_be_written_is_told(folder, capsys):
    """Root may write into every folder but those that Linux makes up; others are kept out by permissions."""
    locked = Path("/sys/kernel") if os.getuid() == 0 else folder / "locked"
    if locked.parent == folder:
        locked.mkdir(mode=0o555)
    before = set(locked.iterdir())
    assert main(f"rig bookmobile --out {locked}/a.toml".split()) == 2
    assert capsys.readouterr().err == "vanpower: a.toml could not be written: Permission denied.\n"
    assert set(locked.iterdir()) == before


def test_two_writers_at_once_do_not_mix(folder):
    """Each writes a letter 100,000 times, piece by piece; the file is all of one letter, whoever was last."""
    program = (
        "import sys; from pathlib import Path; from vanpower.files.atomic import written\n"
        "for _ in range(40):\n"
        "    with written(Path('out.csv')) as file:\n"
        "        for _ in range(20):\n"
        "            file.write(sys.argv[1].encode() * 5000); file.flush()\n"
    )
    writers = [subprocess.Popen([sys.executable, "-c", program, letter]) for letter in "ab"]
    seen = set()
    while any(writer.poll() is None for writer in writers):
        if (folder / "out.csv").exists():
            held = (folder / "out.csv").read_bytes()
            seen.add((len(held), frozenset(held)))
    assert [writer.wait() for writer in writers] == [0, 0]
    assert seen <= {(100_000, frozenset(b"a")), (100_000, frozenset(b"b"))}
    assert [path.name for path in folder.iterdir()] == ["out.csv"]


def test_failure_half_way_leaves_nothing(folder):
    def fail() -> None:
        with written(folder / "out.csv") as file:
            file.write(b"half")
            raise RuntimeError

    (folder / "out.csv").write_text("before")
    with pytest.raises(RuntimeError):
        fail()
    assert [(path.name, path.read_text()) for path in folder.iterdir()] == [("out.csv", "before")]


def test_name_of_the_longest_length_is_written(folder):
    name = "x" * 251 + ".png"
    assert main(["compare", "hay-cart", "--wiring", "1s", "--chart", name]) == 0
    assert [path.name for path in folder.iterdir()] == [name]


def test_threads_that_write_at_once_leave_whole_files(folder):
    def write(letter: bytes) -> None:
        for _ in range(30):
            with written(folder / "out.csv") as file:
                file.write(letter * 9000)

    threads = [threading.Thread(target=write, args=(letter,)) for letter in (b"a", b"b", b"c")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set((folder / "out.csv").read_bytes())) == 1
    assert [path.name for path in folder.iterdir()] == ["out.csv"]


SWEEP = ["sweep", "bookmobile", "--light", "100", "--out", "sweep.csv"]


def test_table_of_a_sweep_keeps_to_ordinary_files(folder, capsys):
    for make in (lambda: os.mkfifo("sweep.csv"), lambda: os.symlink("nowhere.csv", "sweep.csv")):
        make()
        assert main(SWEEP) == 2
        assert "sweep.csv is no ordinary file" in capsys.readouterr().err
        os.unlink("sweep.csv")
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("note", [b",my note", b',"', b',"' + b"x" * 200_000 + b'"'])
def test_table_of_a_sweep_with_a_note_in_it_stays(note, folder, capsys):
    assert main(SWEEP) == 0
    noted = (folder / "sweep.csv").read_bytes().rstrip(b"\n") + note + b"\n"
    (folder / "sweep.csv").write_bytes(noted)
    assert main(SWEEP) == 2
    assert "was it changed by hand?" in capsys.readouterr().err
    assert (folder / "sweep.csv").read_bytes() == noted


def test_table_of_a_sweep_through_a_link_is_written_behind_it(folder):
    assert main(SWEEP) == 0
    (folder / "sweep.csv").rename(folder / "real.csv")
    (folder / "sweep.csv").symlink_to("real.csv")
    assert main([*SWEEP, "--wiring", "2s"]) == 0
    assert (folder / "sweep.csv").is_symlink()
    assert len((folder / "real.csv").read_text(encoding="utf-8").splitlines()) == 3
