"""How long pages take, and how large they are: python tests/benchmarks/page_times.py [--drag] [lessons].

A page is live when its picture has followed a key. The command is `vanpower` with a browser that opens the moment the
server answers; a click goes from the start page to a lesson. Memory is what the kernel of a tab has for itself that has
shown one page alone, and its fair share of what it has in common with others. With --drag it times pointers alone: a
mouse that drags a slider's handle, and a finger that drags a picture's. Judges nothing.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from itertools import chain, pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from browsing import AT_REST, FLAGS, FOLDER, environment, opened
from test_pages import FIRST_BOXES, LINK, RATING, WHOLE, click, fill, process_of_the_oldest_page
from test_touch import PLACES, finger

from vanpower.cli.notebooks import FIRST_NOTEBOOK, server_command

RUNS = 3
# of each lesson
OLD = "document.querySelectorAll('.noUi-handle').forEach(handle => handle.dataset.old = 1)"
NEW = """() => [...document.querySelectorAll('.vp-live .noUi-handle:not([data-old])')]
  .find(one => one.getClientRects().length)"""
# looked for at every frame: a wait for a selector looks twice a second after its first third
WATCH = """handle => {
  window.followed = 0;
  const picture = one => one.closest?.('svg, img') || one.querySelector?.('svg, img');
  new MutationObserver(seen => { if (seen.some(one => picture(one.target))) window.followed = performance.now(); })
    .observe(handle.closest('.vp-live'), { subtree: true, childList: true, attributeFilter: ['src'] });
}"""
HEADINGS = ("words", "control", "live", "whole")
KEYS = 24
# presses of which the wait for a picture is taken, there and back again
PACE_S = 1 / 6
# [s] between two presses of somebody who looks at what they do; no source
ENDED_S = 3.0
# [s] in which the kernel of a page that was left has ended and another waits
ANSWERED = "done => moves.length > done"
ZIGZAG = (*range(1, 9), *range(7, -8, -1), *range(-8, 1))
# places of a drag, in steps from where it began: to one side, to the other, and back
SLIDER_STEPS, PICTURE_PX = 40, 4
# a step is this part of a slider's length, and on a picture so many pixels
SLIDER, TOUCHED = ".vp-live .noUi-handle:visible", ".vanpower-handle[role=slider]:visible"
DRAG_HEADINGS = (
    "| pointer to picture, median / p95, ms (moves that changed it) | mouse on a slider: at once | six a second "
    "| finger on the picture: at once | six a second |"
)
DRAGGED = """node => addEventListener('pointermove', event => { if (event.buttons) timed(event, node); }, true)"""
USE = "node => node.handle.use"


def main(words: list[str]) -> None:
    """Print two tables, or that of drags."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("lessons", nargs="*")
    asked.add_argument("--drag", action="store_true")
    told = asked.parse_args(words)
    (time_drags if told.drag else time_pages)(told.lessons)


def time_drags(lessons: list[str]) -> None:
    """Print how long a picture takes to follow a pointer."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        print(DRAG_HEADINGS + "\n|---|---|---|---|---|")
        with started(Path(folder)) as (pages, _):
            for name in lessons or lessons_there():
                told = [drags(browser, pages, name, place) for place in ("desk", "phone")]
                print(f"| {name} | " + " | ".join(chain(*told)) + " |", flush=True)
        browser.close()


def drags(browser: Any, pages: str, name: str, place: str) -> list[str]:
    """Drags of a mouse on a desk or a finger on a phone, each move once the picture before it stands, or at a pace."""
    with opened(browser, **PLACES[place]) as tab:
        tab.goto(f"{pages}/voila/render/{name}?token=t")
        tab.wait_for_function(WHOLE, arg=name)
        tab.evaluate(AT_REST)
        handle = tab.query_selector(SLIDER if place == "desk" else TOUCHED)
        told = ["-", "-"]
        if handle is not None:
            handle.evaluate(DRAGGED)
            told = [f"{said(waits)} ({len(waits)})" for waits in (drag(tab, handle, place, wait) for wait in WAYS)]
        tab.goto("about:blank")
    return told


def drag(tab: Any, handle: Any, place: str, wait: Callable[[Any, int], None]) -> list[float]:
    """From a move of the pointer to the first frame with another picture, in their order of length. [ms]"""
    handle.scroll_into_view_if_needed()
    area = handle.query_selector(".area") or handle
    box = area.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    right, down = way_of(handle, place)
    tab.evaluate("moves.length = 0")
    point(tab, place, "down", (x, y))
    for step in ZIGZAG:
        done = tab.evaluate("moves.length")
        point(tab, place, "move", (x + right * step, y + down * step))
        wait(tab, done)
    _once_answered(tab, done)
    point(tab, place, "up", (x, y))
    return sorted(tab.evaluate("moves"))


def way_of(handle: Any, place: str) -> tuple[float, float]:
    """A step of a drag, to the right and down. [pixel]"""
    if place == "desk":
        long = handle.evaluate("node => node.closest('.noUi-target').getBoundingClientRect().width")
        return long / SLIDER_STEPS, 0.0
    use = handle.evaluate(USE)
    return PICTURE_PX * (use != "up"), PICTURE_PX * (use != "along")


def point(tab: Any, place: str, what: str, at: tuple[float, float]) -> None:
    """Put down, move or lift a mouse or a finger."""
    if place == "phone":
        kinds = {"down": "touchStart", "move": "touchMove", "up": "touchEnd"}
        finger(tab, kinds[what], None if what == "up" else at)
        return
    tab.mouse.move(*at)
    if what != "move":
        getattr(tab.mouse, what)()


def lessons_there() -> list[str]:
    """Names of all lessons."""
    return sorted({path.name for path in FOLDER.glob("[01][0-9]-*.ipynb")} - {FIRST_NOTEBOOK})


def time_pages(lessons: list[str]) -> None:
    """Print how long pages take and how large they are."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        print("| from the command, s | " + " | ".join(HEADINGS) + " |\n|---|---|---|---|---|")
        names = lessons or lessons_there()
        with started(Path(folder)) as (pages, since):
            with opened(browser) as tab:
                tab.goto(f"{pages}/voila/render/{FIRST_NOTEBOOK}?token=t", wait_until="commit")
                print(row("start page", [times(tab, FIRST_NOTEBOOK, since)]))
                print(
                    f"| from the click, s, medians of {RUNS} | | | | | live at the first click | key to picture, "
                    "median / p95, ms: at once | six a second | of it a key: kernel at work / waiting for a core, ms |"
                )
                for name in names:
                    runs = [by_click(tab, name) for _ in range(RUNS)]
                    kernel = process_of_the_oldest_page(pages)
                    before = scheduled(kernel)
                    waits = f"{said(keys(tab, _once_answered))} | {said(keys(tab, _at_a_pace))}"
                    shares = [(now - then) / KEYS / 2 for now, then in zip(scheduled(kernel), before, strict=True)]
                    first = f"{runs[0][HEADINGS.index('live')]:.2f}"
                    print(row(name, runs), f"{first} | {waits} |", "{:.0f} / {:.0f} |".format(*shares), flush=True)
                tab.goto("about:blank")
            told = "{:.1f} s to the form, {:.1f} for {} boxes, {:.1f} back and to their verdict on page 02"
            print("own three panels:", told.format(*newcomer(browser, pages)))
            print("| memory of a page of its own, MB | own | shared fairly |\n|---|---|---|")
            for name in names:
                print(f"| {name} | {{:.0f}} | {{:.0f}} |".format(*alone(browser, pages, name)), flush=True)
        browser.close()


@contextlib.contextmanager
def started(folder: Path) -> Iterator[tuple[str, float]]:
    """The server's address once it answers, and when the command was given."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = [*server_command(FOLDER), "--no-browser", f"--port={port}", "--IdentityProvider.token=t"]
    since = time.perf_counter()
    with (folder / "log.txt").open("w") as log:
        server = subprocess.Popen(words, env=environment(folder), stdout=log, stderr=log, start_new_session=True)
    try:
        while True:
            with (
                contextlib.suppress(OSError),
                urllib.request.urlopen(f"http://127.0.0.1:{port}/api?token=t", timeout=5),
            ):
                yield f"http://127.0.0.1:{port}", since
                return
            time.sleep(0.02)
        yield f"http://127.0.0.1:{port}", since
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait()


def by_click(tab: Any, name: str) -> list[float]:
    """Go to the start page, then to a lesson."""
    click(tab, FIRST_NOTEBOOK)
    tab.wait_for_function(LINK, arg=name)
    tab.evaluate(OLD)
    since = time.perf_counter()
    tab.evaluate(f"name => ({LINK})(name).click()", name)
    return times(tab, name, since)


def times(tab: Any, name: str, since: float) -> list[float]:
    """Seconds to the first words, the first control, its picture moved by a key, and all of the page."""
    found = []

    def note() -> None:
        found.append(time.perf_counter() - since)

    tab.wait_for_function("() => document.querySelector('h1')")
    note()
    handle = tab.wait_for_function(NEW).as_element()
    note()
    handle.evaluate(WATCH)
    handle.focus()
    handle.press(way_free(handle)[0])
    tab.wait_for_function("window.followed")
    note()
    tab.wait_for_function(WHOLE, arg=name)
    note()
    return found


def way_free(handle: Any) -> tuple[str, str]:
    """The arrow key that moves a slider away from where it is, and the one back."""
    right, left = "ArrowRight", "ArrowLeft"
    at_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
    return (left, right) if at_end else (right, left)


def keys(tab: Any, wait: Callable[[Any, int], None]) -> list[float]:
    """From a key on the first slider to the first frame with another picture, in their order of length. [ms]"""
    handle = tab.wait_for_selector(".vp-live .noUi-handle:visible")
    handle.focus()
    out, back = way_free(handle)
    tab.evaluate("moves.length = 0")
    for press in range(KEYS):
        done = tab.evaluate("moves.length")
        handle.press(out if press < KEYS / 2 else back)
        wait(tab, done)
    _once_answered(tab, done)
    return sorted(tab.evaluate("moves"))


def _once_answered(tab: Any, done: int) -> None:
    """Until a key's picture is there; a key may leave the picture as it was."""
    with contextlib.suppress(Exception):
        tab.wait_for_function(ANSWERED, arg=done, timeout=1500)


def _at_a_pace(tab: Any, done: int) -> None:
    """As long as a person lets pass, whether a picture has come or not."""
    time.sleep(PACE_S)


WAYS = (_once_answered, _at_a_pace)


def scheduled(process: int) -> tuple[float, float]:
    """How long a process has run, and has been ready and waited for a core, as Linux tells it. [ms]"""
    run, waited, _ = Path(f"/proc/{process}/schedstat").read_text().split()
    return int(run) / 1e6, int(waited) / 1e6


def said(waits: list[float]) -> str:
    """Median and the twentieth part from above."""
    return f"{statistics.median(waits):.0f} / {waits[int(0.95 * len(waits))]:.0f}" if waits else "-"


def newcomer(browser: Any, pages: str) -> tuple[float, float, int, float]:
    """Seconds to the form of one's own van, for its first boxes, how many these are, and to the verdict of page 02."""
    with opened(browser) as tab:
        tab.goto(f"{pages}/voila/render/{FIRST_NOTEBOOK}?token=t")
        tab.wait_for_function(WHOLE, arg=FIRST_NOTEBOOK)
        marks = [time.perf_counter()]
        click(tab, "my-van.ipynb")
        marks.append(time.perf_counter())
        for key, text in FIRST_BOXES.items():
            fill(tab, key, text)
        marks.append(time.perf_counter())
        click(tab, FIRST_NOTEBOOK)
        click(tab, RATING)
        tab.wait_for_selector(".vanpower-chooser .mod-active:text-is('My van')")
        marks.append(time.perf_counter())
        tab.goto("about:blank")
    to_form, typing, to_verdict = (after - before for before, after in pairwise(marks))
    return to_form, typing, len(FIRST_BOXES), to_verdict


def alone(browser: Any, pages: str, name: str) -> tuple[float, float]:
    """Memory of a page in a tab of its own, once all of it is shown and at rest. [MB]"""
    time.sleep(ENDED_S)
    with opened(browser) as tab:
        tab.goto(f"{pages}/voila/render/{name}?token=t")
        tab.wait_for_function(WHOLE, arg=name)
        time.sleep(ENDED_S)
        found = memory(process_of_the_oldest_page(pages))
        tab.goto("about:blank")
    return found


def memory(process: int) -> tuple[float, float]:
    """What a process has for itself, and its fair share of all it has. [MB]"""
    lines = [line.split() for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()[1:]]
    kilobytes = {name: int(number) for name, number, _ in lines}
    own = sum(number for name, number in kilobytes.items() if name.startswith("Private_"))
    return own / 1000, kilobytes["Pss:"] / 1000


def row(name: str, runs: list[list[float]]) -> str:
    """A line of the table."""
    return f"| {name} | " + " | ".join(f"{statistics.median(column):.2f}" for column in zip(*runs, strict=True)) + " |"


if __name__ == "__main__":
    main(sys.argv[1:])
