"""An example's van is nobody's: "your van" is said of the file my-van alone, on pages (`opened` in
`test_lessons_foreign.py` looks at all twelve lessons' examples), by commands, and in every word that the kit has.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import vanpower
from vanpower.cli import main
from vanpower.files.examples import examples

OF_THE_READER = {
    "files/my_van.py": "the file of your van",
    "widgets/any_van.py": "a log of your van, saved as ",
    "widgets/chooser.py": "The file of your van",
}
# where the words stand, and how: each of these is said where the reader's own file is meant


def spoken(path: Path) -> list[str]:
    """Words of a module that may be said: every text but its docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body and isinstance(node.body[0], ast.Expr)
    }  # fmt: skip
    texts = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str))
    return [node.value for node in texts if id(node) not in docs]


def test_your_van_is_said_of_the_readers_own_file_alone():
    folder = Path(vanpower.__file__).parent
    said = {
        (path.relative_to(folder).as_posix(), words)
        for path in folder.rglob("*.py")
        for words in spoken(path)
        if "your van" in words.lower() and "Your van is typed here." not in words and words != "Your van: "
    }
    assert {place for place, _ in said} == set(OF_THE_READER)
    assert all(OF_THE_READER[place] in words for place, words in said)


@pytest.mark.parametrize("words", [("check",), ("compare",), ("answer",), ("rig",)], ids=" ".join)
def test_no_command_calls_an_example_your_van(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    for name in examples():
        assert main([*words, name]) in (0, 1)
        assert "your van" not in " ".join(capsys.readouterr().out.lower().split())
