"""Which tests take long, so that `pytest` alone stays near four minutes; `pytest -m "not nightly"` runs them too.

long_tests.txt lists them: a file, a test, or a test with one of its parameters, as pytest names them. A test belongs
there from about a second of processor time on; the others of its file stay in the short run.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

LIST = Path(__file__).with_name("long_tests.txt")
LONG = 1.5
# [s] of processor time from which the end of a run names a test that is not listed; no source


def listed() -> list[str]:
    """Every line of the list that is neither empty nor a remark."""
    lines = (line.strip() for line in LIST.read_text(encoding="utf-8").splitlines())
    return [line for line in lines if line and not line.startswith("#")]


def names_of(test: str) -> set[str]:
    """By what a list may name a test: its file, itself whatever its parameters, itself with them."""
    return {test.partition("::")[0], test.partition("[")[0], test}


def nowhere(lines: Iterable[str], tests: Iterable[str]) -> list[str]:
    """Lines that name none of the tests of a run, of files that the run has."""
    tests = list(tests)
    known = set().union(*map(names_of, tests))
    files = {test.partition("::")[0] for test in tests}
    return [line for line in lines if line not in known and line.partition("::")[0] in files]


def without_a_short_one(lines: Iterable[str], tests: Mapping[str, bool]) -> list[str]:
    """Files all of whose tests are long although only some were to be; `tests` says of each whether it is long."""
    some = {line.partition("::")[0] for line in lines if "::" in line}
    short = {test.partition("::")[0] for test, long in tests.items() if not long}
    return sorted(some & {test.partition("::")[0] for test in tests} - short)


def unmarked(took: Mapping[str, float]) -> list[str]:
    """What the end of a run says of tests that take long and are not listed, the longest first."""
    slow = sorted(((time, test) for test, time in took.items() if time > LONG), reverse=True)
    return [f"not in {LIST.name} and took {time:.1f} s of processor time: {test}" for time, test in slow]
