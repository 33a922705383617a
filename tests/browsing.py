"""What tests in a real browser share: servers of notebooks, and what is looked at in a page."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "notebooks"
REFERENCE = FOLDER / "reference.ipynb"
# words alone, written out of docstrings
NOTEBOOKS = sorted(path for path in FOLDER.rglob("*.ipynb") if ".ipynb_checkpoints" not in path.parts)
NOTEBOOKS.remove(REFERENCE)
DOWN = "button:has-text('Guesses are down')"
# shows what answers a teacher's page
TOKEN = "t"
# the servers listen on 127.0.0.1 only and live as long as their tests
WAIT_MS = 60_000
REST_MS = 150
# after which a picture tells how wide it is; a page that is left before says in its console that it could not
PICTURE_ON_A_PHONE = 316
# [pixels] that a page of 420 leaves a picture at least; a test in the browser holds it
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "notebook-extension/tracker": {"windowingMode": "none"},
}
# no news box over a corner; every cell is in the page, so that all of them are looked at
HELPERS = """
window.cellOf = node => node.closest('.vp-live') || node.closest('.jp-Cell') || document.body;
window.imagesOf = node => {
  const all = [...cellOf(node).querySelectorAll('.jp-OutputArea img, img.widget-image')];
  const large = all.filter(i => i.naturalWidth > 200);
  return large.filter(i => i.parentNode === large.at(-1).parentNode);
};
window.liveOf = node => [...cellOf(node).querySelectorAll('.vanpower-picture')].at(-1);
window.pictureOf = node => {
  const live = liveOf(node)?.querySelector('.vanpower-part > g');
  return live ? live.innerHTML.replace(/(v\\w+-)?p[0-9a-f]{10}/g, '') : imagesOf(node).map(i => i.src).join(' ');
};
window.verdictOf = node => [...cellOf(node).querySelectorAll('[role=status]')].map(p => p.textContent).join(' ');
window.unsaid = node =>
  [...cellOf(node).querySelectorAll('[role=status]')].some(p => getComputedStyle(p).visibility === 'hidden');
window.moves = [];
window.drawn = 0;
window.timed = (event, node) => {
  const before = pictureOf(node);
  window.waiting?.abort();
  window.waiting = new AbortController();
  const signal = waiting.signal;
  const look = () => {
    const picture = pictureOf(node);
    if (!picture || picture === before) return;
    const done = () => { if (!signal.aborted) { moves.push(performance.now() - event.timeStamp); waiting.abort(); } };
    requestAnimationFrame(() => setTimeout(done));
  };
  const watcher = new MutationObserver(look);
  watcher.observe(liveOf(node) || cellOf(node), {subtree: true, childList: true});
  signal.addEventListener('abort', () => watcher.disconnect());
};
document.addEventListener('keydown', event => {
  if (event.target.classList.contains('noUi-handle')) timed(event, event.target);
}, true);
window.count = node => {
  const latest = () => pictureOf(node);
  let last = latest();
  window.drawn = 0;
  window.counter?.disconnect();
  window.counter = new MutationObserver(() => {
    const now = latest();
    if (now && now !== last) { last = now; window.drawn += 1; }
  });
  counter.observe(liveOf(node) || cellOf(node), {subtree: true, childList: true});
};
"""
SAID_ANEW = """([node, words, since]) => !verdictOf(node).includes('Working') && !unsaid(node)
  && (verdictOf(node) !== words || performance.now() - since > 150)"""
# other words, which come behind their picture; or none have come, as may be after a small step
# a picture is live, as SVG, or stored; moves holds the milliseconds from a key, or what else is `timed`, to the first
# frame with another picture in the page; a key that leaves the picture as it was has none, and nothing looks at it in
# between, which would take time from it; drawn counts pictures since `count`
AT_REST = """() => new Promise(done => {
  let last = null, since = 0;
  const look = () => {
    const now = [...document.querySelectorAll('.vanpower-part > g')].map(g => g.innerHTML).join();
    if (now !== last) [last, since] = [now, performance.now()];
    if (performance.now() - since > 1000) done(); else setTimeout(look, 100);
  };
  look();
})"""
# a picture is first drawn for a phone, and once more when the page has told how wide it is
CUT_OFF = """() => {
  const kinds = '.jp-RenderedMarkdown, .jp-OutputArea-output, .jp-RenderedHTMLCommon table, .jp-OutputArea pre, '
    + '.widget-label, .widget-html-content, .widget-dropdown select, .widget-text input, .jp-OutputArea img';
  const seen = [...document.querySelectorAll(kinds)].filter(e => e.getClientRects().length);
  const says = e => `${e.className || e.tagName}: ${(e.textContent || e.alt || '').trim().slice(0, 60)}`;
  const sticksOut = e => e.getBoundingClientRect().right > innerWidth + 1;
  return seen.filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth || sticksOut(e)
    || e.matches('input') && e.clientWidth < 40).map(says);
}"""
OVERLAPPING = """() => {
  const kinds = '[role=status], [role=alert], .jp-OutputArea input, .jp-OutputArea select, .widget-label, '
    + '.noUi-connects, .jp-OutputArea img, .vanpower-part, .jp-RenderedMarkdown';
  const unfolded = [...document.querySelectorAll(kinds)].filter(e => e.checkVisibility());
  const seen = unfolded.map(e => [e, e.getBoundingClientRect()])
    .filter(([e, r]) => r.width > 0 && r.height > 0);
  const clash = ([a, r], [b, s]) => !a.contains(b) && !b.contains(a)
    && Math.min(r.right, s.right) - Math.max(r.left, s.left) > 1
    && Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top) > 1;
  const says = e => `${e.className || e.tagName} ${(e.textContent || '').trim().slice(0, 40)}`;
  return seen.flatMap((one, k) => seen.slice(k + 1).filter(other => clash(one, other))
    .map(other => `${says(one[0])} over ${says(other[0])}`));
}"""


def missing(*modules: str) -> str:
    """What a test needs and does not find; empty where all is there."""
    for module in ("playwright.sync_api", *modules):
        try:
            __import__(module)
        except ImportError as problem:
            return f"no module {problem.name}"
    return "" if shutil.which("chromium") else "no chromium on the path"


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextlib.contextmanager
def served(command: Sequence[str], answers: str, folder: Path, port: int | None = None) -> Iterator[str]:
    """Run a server with settings of its own, on a free port or this one; gives its address once the path `answers`."""
    port = port or free_port()
    words = [word.replace("PORT", str(port)) for word in command]
    with (folder / "log.txt").open("w") as log:
        server = subprocess.Popen(words, env=environment(folder), stdout=log, stderr=log, start_new_session=True)
        try:
            address = f"http://127.0.0.1:{port}"
            _wait_for(f"{address}{answers}", server, folder / "log.txt")
            yield address
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGTERM)
            server.wait(20)


def environment(folder: Path) -> dict[str, str]:
    """Settings of its own, so that nothing of the person's is read or written."""
    settings = folder / "settings"
    for name, content in SETTINGS.items():
        path = settings / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(content))
    own = {"JUPYTERLAB_SETTINGS_DIR": settings}
    for name in ("JUPYTERLAB_WORKSPACES_DIR", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR"):
        own[name] = folder / name.lower()
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    return os.environ | {name: str(value) for name, value in own.items()} | {"PYTHONPATH": path, "MPLBACKEND": ""}


def _wait_for(address: str, server: subprocess.Popen, log: Path) -> None:
    for _ in range(480):
        assert server.poll() is None, f"the server ended before it answered: {log.read_text()[-2000:]}"
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    raise TimeoutError("the server did not answer within two minutes")


def guessed(page: Any) -> None:
    """Say that the guesses of a class are down, where a page waits for them."""
    for button in page.query_selector_all(f"{DOWN}:visible"):
        button.click()
        page.wait_for_selector(".vanpower-part[viewBox]:visible")
        page.wait_for_timeout(2 * REST_MS)


@contextlib.contextmanager
def opened(browser: Any, **screen: Any) -> Iterator[Any]:
    """A page that keeps every error of its scripts and console in `problems`, and in `asked` whatever it asked for."""
    context = browser.new_context(**{"viewport": {"width": 1280, "height": 1000}} | screen)
    page = context.new_page()
    page.asked = []
    context.on("request", lambda request: page.asked.append(request.url))
    page.on("websocket", lambda socket: page.asked.append(socket.url))
    page.set_default_timeout(WAIT_MS)
    page.add_init_script(HELPERS)
    page.problems = []
    page.on("pageerror", lambda problem: page.problems.append(str(problem)))
    page.on("console", lambda said: said.type == "error" and page.problems.append(f"console: {said.text}"))
    try:
        yield page
    finally:
        context.close()


def hosts(page: Any) -> set[str]:
    """Whom a page has asked for anything, as host and port; what a browser has of its own asks nobody."""
    asked = map(urlparse, page.asked)
    return {address.netloc for address in asked if address.scheme not in ("data", "blob", "about")}


def screenshots(tmp_path: Path) -> Path:
    """Where screenshots go: the folder named by VANPOWER_SCREENSHOTS, or the test's own."""
    chosen = Path(os.environ.get("VANPOWER_SCREENSHOTS") or tmp_path)
    chosen.mkdir(parents=True, exist_ok=True)
    return chosen
