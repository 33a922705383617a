"""A page whose server goes away, is started anew at the same address, or no longer answers, in a real browser."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from browsing import FOLDER, ROOT, TOKEN, free_port, opened, served

pytest.importorskip("nbconvert", reason="pages need the extra 'notebooks'")

from test_pages import ALONE, BAR_ALONE, CONTROLS, SHADE, go, move

from vanpower.cli.notebooks import server_command

COVER = ".vp-cover"
AWAY = "The program that serves this page does not answer. Start it again, or wait: this goes away by itself."
ASLEEP = "This page went to sleep. Tap to wake it; your settings are kept."
ANEW = "The program that served this page was started anew. Open the page from the address that it gave."
SOON = {"ASK_MS = 5000": "ASK_MS = 100", "ANSWER_MS = 20000": "ANSWER_MS = 100"}
# how often the script asks and how long it waits for an answer, and what a test has time for
TOLD = (
    '<script id=jupyter-config-data type=application/json>{"baseUrl": "/", "kernelId": "k"}</script><div id=bar></div>'
)


@contextmanager
def serving(folder: Path, port: int, token: str) -> Iterator[str]:
    """Pages at a port, let in by a token."""
    if not os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.importorskip("voila", reason="pages need the extra 'notebooks'")
    command = [word.replace(f"token={TOKEN}", f"token={token}") for word in (*server_command(FOLDER), *ALONE)]
    with served(command, "/login", folder, port) as address:
        yield address


def covered(tab: Any, words: str) -> None:
    """Wait until a page says so above everything else."""
    tab.locator(COVER, has_text=words).wait_for()


def look(tab: Any) -> None:
    """Let a page look for its server now, as when a network is back."""
    tab.evaluate("dispatchEvent(new Event('online'))")


def test_a_page_says_that_its_server_has_gone_and_wakes_with_its_settings_once_it_was_started_anew(
    browser: Any, tmp_path: Path
) -> None:
    port = free_port()
    with opened(browser) as tab:
        with serving(tmp_path, port, TOKEN) as address:
            go(tab, address, SHADE)
            settings = move(tab)
        look(tab)
        covered(tab, AWAY)
        assert tab.evaluate(CONTROLS) == settings
        with serving(tmp_path, port, "another"):
            look(tab)
            covered(tab, ASLEEP)
            tab.click(COVER)
            tab.wait_for_function(f"wanted => `${{({CONTROLS})()}}` === `${{wanted}}`", arg=settings)
            assert tab.query_selector(COVER) is None
            move(tab)
            tab.goto("about:blank")


@pytest.fixture
def told(browser: Any) -> Iterator[tuple[Any, dict[str, Any]]]:
    """The script of a page without its page, which asks often, and what it is answered: `code`, or nothing for None."""
    script = (ROOT / "vanpower/pages/bar.js").read_text(encoding="utf-8")
    assert all(usual in script for usual in SOON)
    for usual, soon in SOON.items():
        script = script.replace(usual, soon)
    answer: dict[str, Any] = {"code": 200}

    def answered(route: Any) -> None:
        if "/api/kernels/" not in route.request.url:
            route.fulfill(content_type="text/html", body=TOLD)
        elif answer["code"]:
            route.fulfill(status=answer["code"], json={})

    with opened(browser) as tab:
        tab.route("**/*", answered)
        tab.goto(f"http://van.invalid/voila/render/{SHADE}")
        tab.evaluate(BAR_ALONE, script)
        yield tab, answer


def test_a_page_whose_server_no_longer_answers_says_so_until_it_does(told: tuple[Any, dict[str, Any]]) -> None:
    tab, answer = told
    for code in (None, 500):
        answer["code"] = 200
        tab.locator(COVER).wait_for(state="detached")
        answer["code"] = code
        covered(tab, AWAY)
    assert tab.evaluate("document.activeElement.className") == COVER.removeprefix(".")


@pytest.mark.parametrize(("code", "words"), [(None, AWAY), (403, ANEW)], ids=["silent", "refuses"])
def test_a_tap_does_not_leave_a_page_for_a_server_that_is_not_there_or_asks_for_a_password(
    code: int | None, words: str, told: tuple[Any, dict[str, Any]]
) -> None:
    # for a class every start has another token; its form for that is nothing that a pupil can fill in
    tab, answer = told
    answer["code"] = code
    covered(tab, words)
    tab.evaluate("window.same = true")
    tab.click(COVER)
    # who opens the new address in another tab has let this one in as well
    answer["code"] = 404
    covered(tab, ASLEEP)
    assert tab.evaluate("window.same")
    tab.click(COVER)
    tab.wait_for_function("() => !window.same")
