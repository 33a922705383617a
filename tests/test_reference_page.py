"""The page of public names: out of the docstrings of today, with every name, and examples that can be copied whole."""

from __future__ import annotations

import re

import nbformat
import pytest
from publish_reference import GROUPS, REFERENCE, entry, example_of, reference

import vanpower

NAMES = [name for names in GROUPS.values() for name in names.split()]
STORED = nbformat.read(REFERENCE, as_version=4)


def test_every_public_name_stands_in_one_group():
    assert sorted(NAMES) == dir(vanpower)


def test_the_page_is_made_of_the_docstrings_of_today():
    fresh = reference()
    assert [cell.source for cell in STORED.cells] == [cell.source for cell in fresh.cells]
    assert REFERENCE.read_text(encoding="utf-8") == nbformat.writes(fresh) + "\n"
    # else: python tests/publish_reference.py


@pytest.mark.parametrize("name", NAMES)
def test_a_name_has_its_call_its_words_and_an_example_that_runs_by_itself(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    call, code = re.findall(r"```python\n(.*?)\n```", entry(name), flags=re.DOTALL)
    assert call.startswith(f"{name}(")
    assert re.search(r"^# ", code, flags=re.MULTILINE)
    raised = [example.exc_msg for example in example_of(name, getattr(vanpower, name)).examples if example.exc_msg]
    if not raised:
        exec(compile(code, name, "exec"), {})
        return
    with pytest.raises(ValueError, match=re.escape(raised[0].partition(": ")[2].split("\n")[0][:40])):
        exec(compile(code, name, "exec"), {})


def test_every_parameter_of_a_function_stands_in_the_page():
    by_hand = entry("compare")
    assert "- `rigs`, mapping of str to Rig: By name" in by_hand
    assert "**Returns**" in by_hand
    assert "**Raises**" in by_hand
    assert "# {'2s': 40, '2p': 40}" in by_hand
