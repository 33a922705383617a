"""Class mode: a notebook as a page without code, on this machine unless asked otherwise, usable on a phone."""

from __future__ import annotations

import http.client
import os
import re
import socket
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlparse
from uuid import uuid4

import pytest
from browsing import (
    AT_REST,
    CUT_OFF,
    DOWN,
    FOLDER,
    OVERLAPPING,
    REST_MS,
    TOKEN,
    WAIT_MS,
    guessed,
    hosts,
    opened,
    screenshots,
    served,
)

from vanpower.cli import classroom, main, serving

LESSON = "03-shade-by-hand.ipynb"
ROOF = "teach/06-what-does-my-roof-box-cost.ipynb"
# the lesson itself draws one picture, its plan
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
PARTS = ".vanpower-part"
SHOWN = "document.querySelector('.vanpower-part')?.clientWidth > 200"


def test_a_lesson_is_found_by_number_name_or_ending() -> None:
    for text in ("3", "03", "03-shade", LESSON):
        assert classroom.lesson_named(text, FOLDER) == LESSON


def test_a_lesson_that_is_none_is_refused_with_those_there_are(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(ValueError, match=r"'99' is none of ours: 00-start, "):
        classroom.lesson_named("99", FOLDER)
    with pytest.raises(ValueError, match=r"'shade' is none of ours: 03-shade-by-hand"):
        classroom.lesson_named("shade", FOLDER)


def test_only_this_machine_is_served_unless_the_network_is_asked_for() -> None:
    assert "--Voila.ip=127.0.0.1" in classroom.class_command(FOLDER, LESSON, port=1, token="t")
    assert "--Voila.ip=0.0.0.0" in classroom.class_command(FOLDER, LESSON, port=1, token="t", network=True)


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, str]]:
    """Environments of the servers that would be started."""
    environments: list[dict[str, str]] = []

    def serve(command: list[str], env: dict[str, str], port: int, listening: Callable[[], None]) -> int:
        environments.append(env)
        listening()
        return 0

    monkeypatch.setattr(serving, "serve", serve)
    monkeypatch.setattr(serving, "need_data", lambda folders: None)
    monkeypatch.setattr(classroom, "own_addresses", lambda: ["192.0.2.7"])
    return environments


def test_the_address_is_printed_with_a_new_token_and_the_danger_with_the_network(
    started: list[dict[str, str]], capsys: pytest.CaptureFixture
) -> None:
    tokens = set()
    for words in (["class", "03", "--no-browser"], ["class", "03", "--network", "--no-browser"]):
        assert main(words) == 0
        said = capsys.readouterr().out
        tokens |= set(re.findall(r"token=(\S{12})$", said, re.MULTILINE))
        assert ("could run programs on this machine" in said) == ("--network" in words)
    assert len(tokens) == 2


def test_the_address_in_the_network_stands_there_as_a_code_for_phones(
    started: list[dict[str, str]], capsys: pytest.CaptureFixture
) -> None:
    """A code of version v has 17 + 4 v modules a side and a quiet zone of four around it (ISO/IEC 18004, 6.3)."""
    segno = pytest.importorskip("segno", reason="the code needs the extra 'class'")
    assert main(["class", "03", "--network", "--no-browser"]) == 0
    said = capsys.readouterr().out
    side = 17 + 4 * int(segno.make(re.search(r"http://192\.0\.2\.7\S+", said)[0], error="m").version) + 2 * 4
    code = [line for line in said.splitlines() if re.search("[\u2580-\u2588]", line)]
    assert len(code) == pytest.approx(side / 2, abs=1)  # two rows of modules a line
    assert main(["class", "03", "--no-browser"]) == 0
    assert not re.search("[\u2580-\u2588]", capsys.readouterr().out)


def test_big_letters_are_handed_to_the_pages(started: list[dict[str, str]]) -> None:
    assert main(["class", "03", "--big", "--no-browser"]) == main(["class", "03", "--no-browser"]) == 0
    assert [env.get("VANPOWER_BIG") for env in started] == ["1", None]


@pytest.mark.parametrize("package", ["voila", "segno"])
def test_without_a_package_that_it_needs_the_install_is_said(
    package: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    monkeypatch.setattr(classroom, "find_spec", lambda name: None if name == package else name)
    assert main(["class", "03"]) == 2
    assert "pip install 'vanpower[class]'" in capsys.readouterr().err


def test_a_taken_port_gives_way_and_an_impossible_one_is_refused() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert classroom.free_port(taken.getsockname()[1]) != taken.getsockname()[1]
    with pytest.raises(ValueError, match="--port is 80;"):
        classroom.free_port(80)


@pytest.fixture(scope="module")
def pages(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the pages as `vanpower class` serves them."""
    if not os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.importorskip("voila", reason="class mode needs the extra 'class'")
    folder = tmp_path_factory.mktemp("class")
    command = classroom.class_command(FOLDER, LESSON, port="PORT", token=TOKEN)
    with served(command, "/", folder) as address:
        yield address


@pytest.fixture(scope="module")
def network(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address that `vanpower class --network` prints, with the token that it made."""
    folder = tmp_path_factory.mktemp("network")
    command = [sys.executable, "-m", "vanpower", "class", "3", "--network", "--no-browser", "--port=PORT"]
    with served(command, "/", folder):
        yield waited_for(folder / "log.txt", r"This machine: (\S+)")


def waited_for(path: Path, pattern: str) -> str:
    """What a pattern finds in a file that is being written."""
    for _ in range(WAIT_MS // 100):
        if found := re.search(pattern, path.read_text(encoding="utf-8")):
            return found[1]
        time.sleep(0.1)
    raise TimeoutError(f"no {pattern} in {path.read_text(encoding='utf-8')[-1000:]}")


REFUSED = [
    *(("GET", path) for path in (
        "/api", "/api/contents", "/api/contents/my-van.toml", f"/api/contents/{LESSON}", "/api/terminals",
        "/api/sessions", "/api/kernels", "/api/kernelspecs", "/api/status", "/terminals/1", "/lab", "/tree",
        f"/files/{LESSON}", f"/edit/{LESSON}", f"/notebooks/{LESSON}", f"/doc/tree/{LESSON}", f"/voila/files/{LESSON}",
        "/voila/files/..%2FREADME.md",
    )),
    *(("POST", path) for path in ("/api/kernels", "/api/sessions", "/api/terminals", "/api/contents", "/api/shutdown")),
    ("PUT", "/api/contents/new.txt"), ("DELETE", f"/api/contents/{LESSON}"),
]  # fmt: skip
# what a server of notebooks has beside pages
RUN_IN_KERNEL = """code => new Promise((done, fail) => {
  const config = JSON.parse(document.getElementById('jupyter-config-data').textContent);
  const told = new WebSocket(`ws://${location.host}${config.baseUrl}api/kernels/${config.kernelId}/channels`);
  const date = new Date().toISOString();
  const say = (type, content) => told.send(JSON.stringify({
    header: { msg_id: type, msg_type: type, session: 's', username: 'u', version: '5.3', date },
    parent_header: {}, metadata: {}, content, channel: 'shell', buffers: [],
  }));
  const heard = [];
  told.onerror = fail;
  told.onopen = () => {
    say('execute_request', { code, silent: false, store_history: false, user_expressions: {}, allow_stdin: false });
    say('comm_info_request', {});
  };
  told.onmessage = event => {
    const { parent_header, msg_type } = JSON.parse(event.data);
    if (parent_header.msg_id) heard.push(`${parent_header.msg_id}: ${msg_type}`);
    if (msg_type === 'comm_info_reply') { told.close(); done(heard); }
  };
})"""
# a program is sent to the kernel of a page, and behind it a question that pages ask; gives what was answered to which


@pytest.mark.parametrize("how", ["this machine", "network"])
def test_pages_for_a_class_are_pages_and_nothing_else(
    how: str, pages: str, browser: Any, request: pytest.FixtureRequest
) -> None:
    here = f"{pages}/voila/render/{LESSON}?token={TOKEN}"
    page = here if how == "this machine" else request.getfixturevalue("network")
    assert {words: code for words in REFUSED if (code := code_of(page, *words)) not in (403, 404, 405)} == {}
    with opened(browser) as tab:
        tab.goto(page)
        tab.wait_for_function(f"() => {SHOWN}")
        assert tab.query_selector(".vp-live .noUi-handle:visible")
        # nothing is asked of anybody outside
        assert hosts(tab) == {urlparse(page).netloc}
        heard = tab.evaluate(RUN_IN_KERNEL, "1 + 1")
        assert "comm_info_request: comm_info_reply" in heard
        assert [one for one in heard if one.startswith("execute_request")] == []
        assert tab.problems == []


def test_a_page_that_was_let_in_by_another_start_is_told_so_and_one_without_a_kernel_that_it_slept(pages: str) -> None:
    # what a page makes of these: tests/test_gone.py
    page = f"{pages}/voila/render/{LESSON}?token="
    asked = ("GET", f"/api/kernels/{uuid4()}")
    assert [code_of(page + token, *asked) for token in ("of-another-start", TOKEN)] == [403, 404]


def code_of(page: str, method: str, path: str) -> int:
    """The code with which a server answers somebody who has the token of a page."""
    address = urlparse(page)
    token = parse_qs(address.query)["token"][0]
    asking = http.client.HTTPConnection(address.netloc, timeout=WAIT_MS / 1000)
    asking.request(method, path, "{}" if method != "GET" else None, {"Authorization": f"token {token}"})
    code = asking.getresponse().status
    asking.close()
    return code


def test_nobody_comes_in_without_the_token(pages: str) -> None:
    with urllib.request.urlopen(f"{pages}/voila/render/{LESSON}") as answer:
        assert "/login" in answer.url


def test_a_finger_on_a_phone_moves_the_shade_and_the_verdict_follows(pages: str, browser: Any, tmp_path: Path) -> None:
    with opened(browser, **PHONE) as page:
        page.goto(f"{pages}/voila/render/{LESSON}?token={TOKEN}")
        page.wait_for_function(f"() => {SHOWN}")
        handle = page.wait_for_selector(".vp-live .noUi-handle:visible")
        before = handle.evaluate("node => [pictureOf(node), verdictOf(node)]")
        track = handle.evaluate_handle("node => node.closest('.noUi-target')").as_element()
        track.scroll_into_view_if_needed()
        box = track.bounding_box()
        page.touchscreen.tap(box["x"] + 0.9 * box["width"], box["y"] + box["height"] / 2)
        page.wait_for_function("([node, old]) => pictureOf(node) !== old", arg=[handle, before[0]])
        page.wait_for_function("([node, old]) => verdictOf(node) !== old", arg=[handle, before[1]])
        page.screenshot(path=screenshots(tmp_path) / "class-390-slider.png")
        page.screenshot(path=screenshots(tmp_path) / "class-390.png", full_page=True)
        assert page.query_selector(".jp-InputArea-editor, .jp-CodeMirrorEditor") is None, "code is shown"
        assert page.evaluate(CUT_OFF) == []
        assert page.evaluate(OVERLAPPING) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert "Traceback" not in page.content()


@pytest.mark.parametrize("place", ["desk", "phone"])
def test_roof_and_curves_are_beside_each_other_on_a_desk_and_one_under_the_other_on_a_phone(
    place: str, pages: str, browser: Any, tmp_path: Path
) -> None:
    with opened(browser, **(PHONE if place == "phone" else {})) as page:
        page.goto(f"{pages}/voila/render/{ROOF}?token={TOKEN}")
        page.wait_for_selector(PARTS, state="attached")
        guessed(page)
        page.query_selector(PARTS).scroll_into_view_if_needed()
        roof, curves = (part.bounding_box() for part in page.query_selector_all(f"{PARTS}:visible")[:2])
        page.screenshot(path=screenshots(tmp_path) / f"class-roof-{place}.png")
        assert (curves["x"] >= roof["x"] + roof["width"] - 1) == (place == "desk")
        assert (curves["y"] >= roof["y"] + roof["height"] - 1) == (place == "phone")
        assert page.evaluate(CUT_OFF) == []


def test_big_letters_make_no_picture_smaller_and_a_slider_is_seen(pages: str, browser: Any) -> None:
    """Contrast of what is dragged, 3 : 1 at least: WCAG 2.1, 1.4.11; its relative luminance of sRGB."""
    with opened(browser, viewport={"width": 1280, "height": 800}) as page:
        page.goto(f"{pages}/voila/render/{LESSON}?token={TOKEN}")
        page.wait_for_function(SHOWN)
        page.evaluate(AT_REST)
        usual = page.evaluate(LARGE)
        page.evaluate("document.documentElement.classList.add('vp-big')")
        page.wait_for_timeout(2 * REST_MS)
        big = page.evaluate(LARGE)
        assert big["picture"] >= usual["picture"]
        assert big["letters"] >= 22 > usual["letters"]
        assert big["chosen"] == big["letters"]
        assert big["found"] > usual["found"] >= 32
        # words at handles were of 14 pixels however large the picture
        assert min(big["verbs"]) >= big["words"] - 0.1 > 18
        assert all(1.05 / (luminance(rgb) + 0.05) >= 3.0 for rgb in (big["rail"], big["handle"]))


LARGE = """() => {
  const style = found => getComputedStyle(document.querySelector(found));
  const part = document.querySelector('.vanpower-part');
  return {picture: document.querySelector('.vanpower-picture').clientWidth,
    letters: parseFloat(style('#rendered_cells').fontSize),
    found: parseFloat(style('.vp-live [role=status] p').fontSize),
    words: 11 * part.getBoundingClientRect().width / part.viewBox.baseVal.width,
    verbs: [...part.querySelectorAll('.verb')].filter(one => one.textContent)
      .map(one => parseFloat(getComputedStyle(one).fontSize)), rail: style('.noUi-connects').backgroundColor,
    handle: style('.noUi-handle').borderTopColor,
    chosen: parseFloat(style('.vanpower-chooser .widget-toggle-button').fontSize)};
}"""


def luminance(rgb: str) -> float:
    """Of a colour as a browser tells it: rgb(138, 148, 157)."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", rgb)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_columns_of_a_table_stand_under_each_other(pages: str, browser: Any) -> None:
    """All letters are as wide as each other: so many letters, so wide a line."""
    wide = """pre => ['iiii', 'WWWW', '0000'].map(letters => {
      const probe = pre.appendChild(document.createElement('span'));
      probe.textContent = letters;
      return probe.getBoundingClientRect().width;
    })"""
    with opened(browser) as page:
        page.goto(f"{pages}/voila/render/teach/04-a-day-and-its-ladder.ipynb?token={TOKEN}")
        page.wait_for_selector(DOWN)
        guessed(page)
        page.wait_for_selector(".jp-OutputArea pre")
        widths = [pre.evaluate(wide) for pre in page.query_selector_all(".jp-OutputArea pre")]
        assert len(widths) == 2
        assert [min(three) for three in widths] == pytest.approx([max(three) for three in widths])
