"""One's own van on disk: saved whole, taken back step by step, and nothing written by hand is ever lost."""

from __future__ import annotations

import os
import stat
import sys

import pytest

from vanpower import cli, example, examples, read_my_van, rig_to_toml
from vanpower.files import my_van as module
from vanpower.files.my_van import my_van_path, my_van_stamp, my_van_steps, redo_my_van, save_my_van, undo_my_van

VAN = example("bookmobile")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """A working folder of its own for every test."""
    monkeypatch.delenv("VANPOWER_VAN", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def named(name):
    return VAN.changed(name=name)


def test_file_lies_in_the_working_folder_unless_the_environment_says_otherwise(folder, monkeypatch):
    assert my_van_path() == folder / "my-van.toml"
    monkeypatch.setenv("VANPOWER_VAN", str(folder / "other.toml"))
    assert my_van_path() == folder / "other.toml"
    monkeypatch.setenv("VANPOWER_VAN", "")
    assert my_van_path() == folder / "my-van.toml"


def test_environment_that_names_another_kind_of_file_is_refused(folder, monkeypatch):
    monkeypatch.setenv("VANPOWER_VAN", str(folder / "letters.txt"))
    with pytest.raises(ValueError, match=r"VANPOWER_VAN is 'letters.txt'; the file of your van ends in .toml"):
        read_my_van()


def test_no_file_is_no_van_and_a_wrong_one_is_told_as_read_rig_tells_it(folder):
    assert read_my_van() is None
    assert my_van_stamp() == ""
    (folder / "my-van.toml").write_text(rig_to_toml(VAN).replace("v_oc = 22.3", "v_oc = 12.3"))
    with pytest.raises(ValueError, match=r"my-van.toml, line 11, panels 1 and 2: v_mp is 18.5 V; it must lie below"):
        read_my_van()


@pytest.mark.parametrize("name", examples())
def test_every_example_comes_back_as_it_was_saved(name):
    save_my_van(example(name))
    assert read_my_van() == example(name)


def test_stamp_changes_with_the_file_and_comes_back_with_it():
    save_my_van(named("one"))
    first = my_van_stamp()
    save_my_van(named("two"))
    assert my_van_stamp() != first
    undo_my_van()
    assert my_van_stamp() == first


def test_saves_are_taken_back_one_by_one_to_no_file_and_come_again(folder):
    for name in ("one", "two", "three"):
        save_my_van(named(name))
    assert [undo_my_van().name, undo_my_van().name] == ["two", "one"]
    assert undo_my_van() is None
    assert not (folder / "my-van.toml").exists()
    with pytest.raises(ValueError, match="no step before this one"):
        undo_my_van()
    assert [redo_my_van().name for _ in range(3)] == ["one", "two", "three"]
    with pytest.raises(ValueError, match="Nothing was taken back"):
        redo_my_van()


def test_letters_of_one_number_are_one_step():
    save_my_van(named("one"))
    for name in ("t", "tw", "two"):
        save_my_van(named(name), same_step=name != "t")
    assert my_van_steps() == (2, 0)
    assert undo_my_van().name == "one"


def test_the_same_van_saved_again_is_no_step():
    save_my_van(VAN)
    save_my_van(VAN)
    assert my_van_steps() == (1, 0)


@pytest.mark.parametrize("hand", ["# mine\n", "name = 'caf\xe9'\n".encode("latin-1").decode("latin-1"), "no toml ["])
@pytest.mark.parametrize("same_step", [False, True])
def test_what_was_written_by_hand_comes_back_to_the_byte(folder, hand, same_step):
    save_my_van(named("one"))
    held = hand.encode("latin-1")
    (folder / "my-van.toml").write_bytes(held)
    save_my_van(named("two"), same_step=same_step)
    with pytest.raises(ValueError, match=r"my-van\.toml"):
        undo_my_van()
    assert (folder / "my-van.toml").read_bytes() == held


def test_what_was_written_by_hand_outlives_any_number_of_saves(folder, monkeypatch):
    monkeypatch.setattr(module, "MOST_STEPS", 3)
    by_hand = f"# a note of mine\n{rig_to_toml(named('hand'))}"
    (folder / "my-van.toml").write_text(by_hand)
    for number in range(9):
        save_my_van(named(f"save {number}"))
    assert my_van_steps() == (4, 0)
    for _ in range(4):
        undo_my_van()
    assert (folder / "my-van.toml").read_text() == by_hand


def test_what_was_written_by_hand_after_a_step_back_is_kept_by_the_next_save(folder):
    save_my_van(named("one"))
    save_my_van(named("two"))
    by_hand = rig_to_toml(named("hand"))
    (folder / "my-van.toml").write_text(by_hand)
    undo_my_van()
    save_my_van(named("three"))
    seen = []
    while my_van_steps()[0]:
        van = undo_my_van()
        seen.append(van and van.name)
    assert "hand" in seen


def test_steps_of_somebody_elses_making_are_passed_over(folder):
    save_my_van(named("one"))
    for held in (b"", b"[]", b'{"wrote": 1, "before": [{"text": 5}], "after": []}', b"\xff", b'{"before": 3}'):
        (folder / ".my-van.toml.steps").write_bytes(held)
        assert my_van_steps() == (0, 0)
        save_my_van(named(f"after {held!r}"))
        assert my_van_steps() == (1, 0)


def test_a_save_that_fails_leaves_file_and_steps_of_use(folder, monkeypatch):
    save_my_van(named("one"))
    save_my_van(named("two"))
    real = module.written

    def full(path):
        if path.name == "my-van.toml":
            raise ValueError("my-van.toml could not be written: No space left on device.")
        return real(path)

    monkeypatch.setattr(module, "written", full)
    with pytest.raises(ValueError, match="No space left"):
        save_my_van(named("three"))
    monkeypatch.undo()
    monkeypatch.chdir(folder)
    assert read_my_van().name == "two"
    assert undo_my_van().name == "one"
    assert sorted(path.name for path in folder.iterdir()) == [".my-van.toml.steps", "my-van.toml"]


@pytest.mark.skipif(sys.platform == "win32", reason="links take a permission there")
def test_a_link_stays_a_link_and_permissions_stay(folder):
    (folder / "vans").mkdir()
    real = folder / "vans" / "real.toml"
    real.write_text(rig_to_toml(named("one")))
    real.chmod(0o600)
    os.symlink(real, folder / "my-van.toml")
    save_my_van(named("two"))
    assert (folder / "my-van.toml").is_symlink()
    assert "two" in real.read_text()
    assert stat.S_IMODE(real.stat().st_mode) == 0o600


def test_the_word_my_van_stands_where_an_example_does(capsys):
    save_my_van(named("Mine"))
    answered = {}
    for word in ("my-van", "bookmobile"):
        cli.main(["check", word])
        answered[word] = capsys.readouterr().out
    assert answered["my-van"] == answered["bookmobile"].replace(VAN.name, "Mine")
    assert cli.main(["compare", "my-van", "--light", "80"]) == 0
    assert capsys.readouterr().out.startswith("Mine, ")


def test_no_van_yet_says_how_to_make_one(capsys):
    assert cli.main(["check", "my-van"]) == 2
    said = capsys.readouterr().err
    assert "There is no file" in said
    assert "my-van.toml yet; fill in the page My van" in said
