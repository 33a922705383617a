"""The list of long tests: every line names a test, no file loses all of its tests to it, what is missing is said."""

from __future__ import annotations

import long_tests
import pytest
from conftest import PLACES

TESTS = {
    "a.py::one": False,
    "a.py::two[1]": True,
    "a.py::two[2 b]": False,
    "b.ipynb::Cell 0": True,
    "c.py::three": True,
}


def test_every_line_names_a_test(pytestconfig: pytest.Config) -> None:
    if any("::" in name for name in pytestconfig.args):
        pytest.skip("single tests were asked for")
    assert long_tests.nowhere(long_tests.listed(), pytestconfig.stash[PLACES]) == []


def test_every_file_keeps_a_short_test(pytestconfig: pytest.Config) -> None:
    if any("::" in name for name in pytestconfig.args):
        pytest.skip("single tests were asked for")
    assert long_tests.without_a_short_one(long_tests.listed(), pytestconfig.stash[PLACES]) == []


def test_no_line_stands_twice() -> None:
    lines = long_tests.listed()
    assert sorted(set(lines)) == sorted(lines)
    files = {line for line in lines if "::" not in line}
    assert [line for line in lines if "::" in line and line.partition("::")[0] in files] == []


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("a.py", True), ("a.py::one", True), ("a.py::two", True), ("a.py::two[2 b]", True), ("b.ipynb", True),
        ("a.py::tw", False), ("a.py::two[3]", False), ("a.py::one[1]", False), ("a.py::three", False),
    ],
)  # fmt: skip
def test_line_that_names_no_test_is_found(line: str, found: bool) -> None:
    assert long_tests.nowhere([line], TESTS) == ([] if found else [line])


def test_files_that_a_run_does_not_have_are_not_looked_at() -> None:
    assert long_tests.nowhere(["d.py", "d.py::one"], TESTS) == []


def test_file_without_a_short_test_is_found_unless_it_is_listed_whole() -> None:
    assert long_tests.without_a_short_one(["a.py::two[1]", "b.ipynb", "c.py::three"], TESTS) == ["c.py"]


def test_the_end_of_a_run_names_what_takes_long_and_is_not_listed() -> None:
    assert long_tests.unmarked({"a.py::one": 1.4, "a.py::two": 1.6, "b.py::one": 12.0}) == [
        "not in long_tests.txt and took 12.0 s of processor time: b.py::one",
        "not in long_tests.txt and took 1.6 s of processor time: a.py::two",
    ]
