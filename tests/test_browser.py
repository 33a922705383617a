"""Real JupyterLab in a real browser: every notebook runs, every slider moves by keyboard, picture and words follow.

Latency is reported, never judged: the time from a key to the new picture belongs to the machine.
"""

from __future__ import annotations

import json
import re
import shutil
import statistics
import time
import urllib.request
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

import pytest
from browsing import (
    AT_REST,
    CUT_OFF,
    FOLDER,
    NOTEBOOKS,
    OVERLAPPING,
    PICTURE_ON_A_PHONE,
    SAID_ANEW,
    TOKEN,
    WAIT_MS,
    guessed,
    hosts,
    opened,
    screenshots,
    served,
)
from conftest import SAID

from vanpower.cli.notebooks import FIRST_NOTEBOOK, NOTEBOOK, server_command

STORED, LESSON = "as-stored", "03-shade-by-hand.ipynb"
# folder of the notebooks with their outputs, beside those without
WIDTHS = (1280, 420)
# [pixels] a desk and a phone
LOOK_MS = 50
# [ms] between two looks for an answer; one at every frame makes the browser draw every frame, and the answer late
TALLEST = 16_000
# [pixels] that a screenshot can have
READY = """() => {
  const session = window.jupyterapp?.shell?.currentWidget?.sessionContext;
  const kernel = session?.session?.kernel;
  return session?.isReady && kernel?.connectionStatus === 'connected' && kernel?.status === 'idle';
}"""
ANSWERED = """([done, asked]) => moves.length > done || performance.now() - asked > 1500
  && jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === 'idle'"""
# another picture; or the kernel is done and the picture is the same, as it may be after a small step
RUNNING = "[...document.querySelectorAll('.jp-InputPrompt')].some(p => p.textContent.includes('*'))"
STARTED = "[...document.querySelectorAll('.jp-InputPrompt')].some(p => /\\[[*0-9]/.test(p.textContent))"
FRAMES = """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))))"""
PUT_AWAY = "for (const one of [...jupyterapp.shell.widgets('main')]) one.dispose()"
LAY_OPEN = "name => jupyterapp.commands.execute('docmanager:open', {path: name})"
# one notebook after the other in the same page, since Lab itself takes ten times as long to load
CHART_THERE = "[...document.querySelectorAll('.jp-OutputArea img')].some(i => i.naturalWidth > 200)"
LINKS = "() => document.querySelectorAll('.jp-MarkdownCell a[href]:not(.jp-InternalAnchorLink)').length"
STILL = """() => new Promise(done => {
  const high = () => document.querySelector('.jp-WindowedPanel-inner, .jp-Notebook').scrollHeight;
  const look = (before, same) => same > 3 ? done(true)
    : requestAnimationFrame(() => look(high(), high() === before ? same + 1 : 0));
  look(-1, 0);
})"""
# the page has kept its height for four frames: it is laid out
SMALLER = """least => [...document.querySelectorAll('.jp-OutputArea img')].filter(i => i.naturalWidth > 200)
  .filter(i => i.parentNode.querySelectorAll('img').length === 1)
  .filter(i => i.clientWidth < Math.min(least, i.naturalWidth) - 0.5)
  .map(i => `${i.clientWidth} of ${i.naturalWidth}`)"""
# whole pictures that a page shows smaller than a phone does elsewhere, and smaller than they are
COPIED_OTHERWISE = """() => [...document.querySelectorAll('.jp-OutputArea pre')]
  .filter(e => e.innerText.trimEnd() !== e.textContent.trimEnd()).map(e => e.innerText.slice(0, 60))"""
UNROLL = """() => {
  const scroller = document.querySelector('.jp-WindowedPanel-outer');
  scroller.scrollTop = 0;
  const above = scroller.getBoundingClientRect().top;
  return Math.ceil([...document.querySelectorAll('.jp-Cell')].at(-1).getBoundingClientRect().bottom + above);
}"""
# to the top; gives the height in which the page has room without scrolling


@pytest.fixture(scope="module")
def lab(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a JupyterLab, started as the README's command does, on a copy of the notebooks.

    They have no outputs there, so that what shows was made here; a folder beside them has them as stored.
    """
    folder = tmp_path_factory.mktemp("lab")
    copy = folder / "notebooks"
    shutil.copytree(FOLDER, copy, ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    shutil.copytree(copy, copy / STORED)
    for path in NOTEBOOKS:
        (copy / path.relative_to(FOLDER)).write_text(without_outputs(path), encoding="utf-8")
    command = [
        *server_command(copy, NOTEBOOK), "--no-browser", "--port=PORT", "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={TOKEN}", "--LabApp.expose_app_in_browser=True",
    ]  # fmt: skip
    with served(command, f"/api?token={TOKEN}", folder) as address:
        yield address


@pytest.fixture(scope="module")
def desk(lab: str, browser: Any) -> Iterator[Any]:
    """JupyterLab in one page for one notebook after the other."""
    with opened(browser) as page:
        page.goto(f"{lab}/doc/tree/{FIRST_NOTEBOOK}?token={TOKEN}&reset")
        page.wait_for_function(READY)
        yield page


def lay_open(page: Any, lab: str, name: str, width: int = WIDTHS[0]) -> None:
    """A notebook alone in a page of JupyterLab, with a new kernel; those of others are ended: one runs at a time."""
    page.evaluate(PUT_AWAY)
    shut_kernels(lab)
    page.evaluate(FRAMES)
    page.problems.clear()  # what notebooks say that are put away
    page.set_viewport_size({"width": width, "height": 1000})
    page.evaluate(f"async name => {{ await ({LAY_OPEN})(name); moves.length = 0; }}", name)
    page.wait_for_function(READY)


@pytest.fixture(scope="module")
def waits(request: pytest.FixtureRequest) -> Iterator[dict[str, list[float]]]:
    """Milliseconds from a key to the picture, by notebook; the run ends by saying their median and 95th of 100."""
    started = time.perf_counter()
    waits: dict[str, list[float]] = {}
    yield waits
    everything = [wait for each in waits.values() for wait in each]
    if len(everything) > 1:
        said = request.config.stash[SAID]
        said.append(f"pages and sliders in a browser took {time.perf_counter() - started:.0f} s")
        said += [
            f"key to picture: {told(each)}  {name}" for name, each in {**waits, "all notebooks": everything}.items()
        ]


def told(waits: list[float]) -> str:
    return f"median {statistics.median(waits):4.0f} ms, p95 {ninety_fifth(waits):4.0f} ms, {len(waits):3} moves"


def ninety_fifth(waits: list[float]) -> float:
    return statistics.quantiles(waits, n=20, method="inclusive")[-1] if len(waits) > 1 else waits[0]


def without_outputs(path: Path) -> str:
    notebook = json.loads(path.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell |= {"outputs": [], "execution_count": None}
    return json.dumps(notebook)


def run_all(page: Any) -> None:
    """Run every cell and wait until the last one is done."""
    for _ in range(20):
        page.evaluate("void jupyterapp.commands.execute('notebook:run-all-cells')")
        with suppress(timeout_error()):
            page.wait_for_function(f"() => {STARTED}", timeout=2000)
            break
    page.wait_for_function(f"() => !{RUNNING}", timeout=4 * WAIT_MS)


def timeout_error() -> type[Exception]:
    """What a wait in the browser ends with; looked up late, since the browser's package may be absent."""
    from playwright.sync_api import TimeoutError

    return TimeoutError


def shut_kernels(address: str) -> None:
    """End every kernel, so that one runs at a time."""
    with urllib.request.urlopen(f"{address}/api/sessions?token={TOKEN}") as answer:
        sessions = json.load(answer)
    for session in sessions:
        gone = urllib.request.Request(f"{address}/api/sessions/{session['id']}?token={TOKEN}", method="DELETE")
        urllib.request.urlopen(gone).close()


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.relative_to(FOLDER).with_suffix("").as_posix())
def test_every_slider_goes_to_both_ends_and_back_and_picture_and_words_follow(
    path: Path, lab: str, desk: Any, waits: dict[str, list[float]], tmp_path: Path, record_property: Any
) -> None:
    name = path.relative_to(FOLDER).as_posix()
    lay_open(desk, lab, name)
    run_all(desk)
    guessed(desk)
    desk.evaluate(AT_REST)
    for handle in filter(lambda one: one.is_visible(), desk.query_selector_all(".noUi-handle")):
        there_and_back(desk, handle)
    assert desk.query_selector(".jp-OutputArea img, .vanpower-part"), "a page without a picture"
    for width in WIDTHS:
        look(desk, screenshots(tmp_path) / f"{name.replace('/', '-').removesuffix('.ipynb')}-{width}.png", width)
    assert desk.query_selector("[data-mime-type='application/vnd.jupyter.stderr'], .jp-RenderedError") is None
    assert desk.query_selector("[role=alert]:not(:empty)") is None
    assert desk.problems == []
    if measured := desk.evaluate("moves"):
        waits[name] = measured
        record_property("key to picture", told(measured))


IDLE = ("Battery warmer than the air (K)",)
# what changes nothing where a page begins: no frost locks the battery on a bright day in May


def there_and_back(page: Any, handle: Any) -> None:
    """One slider by keyboard: some steps, both ends, and its first number typed, which delivers the first picture."""
    label, start = slider_label(handle), seen(page, handle)
    number = reading(handle)  # what a screen reader hears ends after one decimal
    low = number == float(handle.get_attribute("aria-valuemin"))
    handle.evaluate("node => count(node)")
    before = page.evaluate("moves.length")
    for key in ["ArrowRight", "ArrowLeft"] if low else ["ArrowLeft", "ArrowRight"]:
        press(page, handle, key)
    ends = [press(page, handle, key) for key in ("Home", "End")]
    assert page.evaluate("drawn") <= page.evaluate("moves.length") - before, f"{label}: more pictures than keys"
    assert label in IDLE or ends[0][0] != ends[1][0], f"{label}: the same picture at both ends"
    assert label in IDLE or len({words for _, words in (start, *ends)}) > 1, f"{label}: the same words at both ends"
    box = handle.evaluate_handle("node => node.closest('.widget-vbox').querySelector('input')").as_element()
    box.fill(f"{number:g}")
    box.press("Enter")
    page.wait_for_function("([node, picture]) => pictureOf(node) === picture", arg=[handle, start[0]])


def reading(handle: Any) -> float:
    """The number in the box beside a slider."""
    return float(handle.evaluate("node => node.closest('.widget-vbox').querySelector('input').value"))


def slider_label(handle: Any) -> str:
    return handle.evaluate("node => node.closest('.widget-vbox').querySelector('.widget-label').textContent")


def seen(page: Any, handle: Any) -> tuple[str, str]:
    """Picture and words of the slider's cell."""
    return tuple(handle.evaluate("node => [pictureOf(node), verdictOf(node)]"))


def press(page: Any, handle: Any, key: str) -> tuple[str, str]:
    """Press a key on a slider and wait for the answer, where the number moves; gives picture and words."""
    number = reading(handle)
    before, asked = seen(page, handle), page.evaluate("[moves.length, performance.now()]")
    handle.focus()
    handle.press(key)
    if reading(handle) == number:
        return before
    page.wait_for_function(ANSWERED, arg=asked, polling=LOOK_MS)
    # words follow their picture, where they change
    here = [handle, before[1], page.evaluate("performance.now()")]
    page.wait_for_function(SAID_ANEW, arg=here)
    return seen(page, handle)


def look(page: Any, picture: Path, width: int) -> None:
    """The whole page at this width, kept as a picture; nothing may be cut off or lie over something else."""
    page.set_viewport_size({"width": width, "height": 1000})
    page.evaluate(STILL)
    page.set_viewport_size({"width": width, "height": min(page.evaluate(UNROLL), TALLEST)})
    page.evaluate(STILL)
    page.evaluate(UNROLL)
    page.screenshot(path=picture)
    assert page.evaluate(SMALLER, PICTURE_ON_A_PHONE) == [], f"smaller pictures than elsewhere at {width} pixels"
    assert page.evaluate(COPIED_OTHERWISE) == [], f"lines that break are copied as several at {width} pixels"
    assert page.evaluate(CUT_OFF) == [], f"cut off at {width} pixels"
    assert page.evaluate(OVERLAPPING) == [], f"overlapping at {width} pixels"


def test_the_start_page_shows_a_chart_at_once_and_fits_desk_and_phone(
    lab: str, browser: Any, record_property: Any, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    with opened(browser) as page:
        started = time.perf_counter()
        page.goto(f"{lab}/doc/tree/{STORED}/{FIRST_NOTEBOOK}?token={TOKEN}&reset")
        page.wait_for_function(f"() => {CHART_THERE}")
        wait = f"{time.perf_counter() - started:.1f} s from opening to the first chart"
        record_property("first chart", wait)
        request.config.stash[SAID].append(wait)
        page.wait_for_function(LINKS)
        for width in WIDTHS:
            look(page, screenshots(tmp_path) / f"start-as-stored-{width}.png", width)
    shut_kernels(lab)


@pytest.mark.parametrize(
    ("purpose", "wanted"),
    [
        ("teach it", "teach/01-series-in-dull-light.ipynb"),
        ("answer somebody", "09-answer-a-forum-question.ipynb"),
        ("see what shade does", "03-shade-by-hand.ipynb"),
        ("order the right parts", "02-is-this-rating-enough.ipynb"),
    ],
)
def test_one_click_on_the_start_page_leads_to_what_one_came_for_and_one_back(
    lab: str, desk: Any, purpose: str, wanted: str
) -> None:
    arrived = "name => jupyterapp.shell.currentWidget?.context?.path.endsWith(name)"
    lay_open(desk, lab, f"{STORED}/{FIRST_NOTEBOOK}", WIDTHS[1])
    desk.wait_for_function(LINKS)
    desk.locator(f".jp-MarkdownCell tr:has-text('{purpose}') a").first.click()
    desk.wait_for_function(arrived, arg=f"{STORED}/{wanted}")
    desk.locator(".jp-MarkdownCell a:visible:text-is('All pages')").click()
    desk.wait_for_function(arrived, arg=f"{STORED}/{FIRST_NOTEBOOK}")


def test_jupyterlab_asks_nothing_of_the_outside(lab: str, browser: Any) -> None:
    # as it is for somebody who never answered whether it may fetch news
    with opened(browser) as page:
        page.route(re.compile("/lab/api/settings"), without_answers)
        page.goto(f"{lab}/doc/tree/{STORED}/{LESSON}?token={TOKEN}&reset")
        page.wait_for_function(READY)
        run_all(page)
        page.wait_for_selector(".vanpower-part")
        page.locator("[data-id='filebrowser']:visible").click()
        page.wait_for_selector(".jp-DirListing-item:visible")
        assert page.query_selector(".Toastify__toast") is None, "a question about news"
        assert len(page.asked) > 20
        assert hosts(page) == {urlparse(lab).netloc}
        assert page.problems == []
    shut_kernels(lab)


def without_answers(route: Any) -> None:
    """Settings as they are, but for those of news and newer versions, which nobody has chosen."""
    answer = route.fetch()
    told = answer.json()
    for one in told.get("settings", [told]):
        if one.get("id") == "@jupyterlab/apputils-extension:notification":
            one |= {"raw": "{}", "settings": {}}
    route.fulfill(response=answer, json=told)


def test_the_folder_at_the_edge_of_a_page_lists_the_files(lab: str, browser: Any) -> None:
    with opened(browser, viewport={"width": WIDTHS[1], "height": 1000}) as page:
        page.goto(f"{lab}/?token={TOKEN}")
        page.wait_for_function(LINKS)
        page.locator("[data-id='filebrowser']:visible").click()
        page.wait_for_selector(f".jp-DirListing-item:visible:has-text('{FIRST_NOTEBOOK}')")
        assert f"/doc/tree/{FIRST_NOTEBOOK}" in page.url
