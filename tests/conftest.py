"""Tiny rigs with round numbers, for any test that needs one."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import long_tests
import pytest
from browsing import FLAGS, missing
from hypothesis import settings

from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Panel, Rig, Wiring

settings.register_profile("ci", derandomize=True, deadline=None)
settings.register_profile("home", deadline=None)
# in CI the same examples in every run, so that a change is judged by what it changed; at home they are drawn anew
settings.load_profile("ci" if os.environ.get("CI") else "home")


SAID = pytest.StashKey[list[str]]()
# lines that tests leave for the end of the run
BEFORE = pytest.StashKey[float]()
# processor time when a test began [s]
TOOK = "processor time"
# name of what it took, in its last report
PLACES = pytest.StashKey[dict[str, bool]]()
# every test that was found, and whether it is marked as long
EVERYTHING = "not nightly"
# what .ci/run asks for, and a person who names files


def pytest_configure(config: pytest.Config) -> None:
    """Nothing is said yet; a file that is asked for by name runs with its long tests."""
    config.stash[SAID], config.stash[PLACES] = [], {}
    words = config.invocation_params.args
    by_name = config.args_source is pytest.Config.ArgsSource.ARGS
    files = by_name and all(Path(name.partition("::")[0]).is_file() for name in config.args)
    if files and not any(word.startswith("-m") for word in words):
        config.option.markexpr = EVERYTHING


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark as long what long_tests.txt lists and whatever opens a browser."""
    listed = frozenset(long_tests.listed())
    for item in items:
        if long_tests.names_of(item.nodeid) & listed or "browser" in getattr(item, "fixturenames", ()):
            item.add_marker("long")
        config.stash[PLACES][item.nodeid] = item.get_closest_marker("long") is not None


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Note the time before a test; a kernel gives its own to the cell before it ends, so cells are left out."""
    if not (item.config.stash[PLACES][item.nodeid] or ".ipynb::" in item.nodeid):
        item.stash[BEFORE] = processor_time()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo) -> None:
    """Write the processor time that a test took into its last report, which comes from whatever process ran it."""
    if call.when == "teardown" and BEFORE in item.stash:
        item.user_properties.append((TOOK, processor_time() - item.stash[BEFORE]))


def took(terminalreporter: Any) -> dict[str, float]:
    """Processor time of every test that is not marked as long, its children's with it. [s]"""
    done = [report for reports in terminalreporter.stats.values() for report in reports]
    times = [(report.nodeid, dict(getattr(report, "user_properties", ()))) for report in done]
    return {name: found[TOOK] for name, found in times if TOOK in found}


def processor_time() -> float:
    """Of this process and of those it started that have ended. [s]"""
    return sum(os.times()[:4])


def cells_in(terminalreporter: Any) -> list[str]:
    """How long it took to run the cells of notebooks and hold them against their outputs, starts of kernels with it."""
    done = [report for reports in terminalreporter.stats.values() for report in reports]
    cells = [report for report in done if hasattr(report, "stop") and ".ipynb::" in report.nodeid]
    if not cells:
        return []
    took = max(report.stop for report in cells) - min(report.start for report in cells)
    notebooks = len({report.nodeid.partition("::")[0] for report in cells})
    return [f"{len(cells)} cells of {notebooks} notebooks held against their outputs in {took:.0f} s"]


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """What tests had to say; after benchmarks, rows for the table in tests/benchmarks/README.md."""
    for line in config.stash[SAID] + cells_in(terminalreporter) + long_tests.unmarked(took(terminalreporter)):
        terminalreporter.write_line(line)
    if config.getoption("benchmark_enable") or config.getoption("markexpr") == "nightly":
        import speed_table

        for line in speed_table.lines():
            terminalreporter.write_line(line)


PANEL = Panel(name="100 W", v_oc=22.0, i_sc=6.0, v_mp=18.0, i_mp=5.6, cells_in_series=36, substrings=2)


def tiny_rig(panels: tuple[Panel, ...], *strings: tuple[int, ...]) -> Rig:
    """Panels on a 12 V battery, a 100 V controller and 5 m of 4 mm²."""
    circuit = Circuit(
        wiring=Wiring(strings=strings),
        controller=Controller(name="100 V 30 A", v_pv_max=100.0, i_charge_max=30.0),
        cable=Cable(length_m=5.0, section_mm2=4.0),
    )
    return Rig(
        name=f"tiny rig of {len(panels)}",
        source="round numbers for tests",
        panels=panels,
        battery=Battery(name="12 V", v_nominal=12, v_now=13.0, v_absorption=14.0),
        climate=Climate(temp_coldest=-10.0),
        circuits=(circuit,),
    )


@pytest.fixture
def one_panel() -> Rig:
    """One panel of 22 V, 6 A."""
    return tiny_rig((PANEL,), (0,))


@pytest.fixture
def four_panels() -> Rig:
    """Four of them as 2s2p."""
    return tiny_rig((PANEL,) * 4, (0, 1), (2, 3))


def skip_or_fail(reason: str) -> NoReturn:
    """A test whose tool is missing is skipped, or fails where all tools are required."""
    if os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.fail(f"VANPOWER_REQUIRE_TOOLS is set and there is {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A real chromium; without one the test is skipped, or fails where all tools are required."""
    if reason := missing("jupyterlab"):
        skip_or_fail(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), headless=True, args=FLAGS)
        yield chromium
        chromium.close()
