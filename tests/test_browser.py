"""Real JupyterLab in a real browser: every notebook runs, every slider moves by keyboard, the picture follows."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
TOKEN = "t"
# the server listens on 127.0.0.1 only and lives as long as these tests
WAIT_MS = 60_000
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
QUIET = {"@jupyterlab/apputils-extension": {"notification": {"fetchNews": "false", "checkForUpdates": False}}}
PICTURE = ".jp-OutputArea img"
READY = """() => {
  const session = window.jupyterapp?.shell?.currentWidget?.sessionContext;
  const kernel = session?.session?.kernel;
  return session?.isReady && kernel?.connectionStatus === 'connected' && kernel?.status === 'idle';
}"""
LAST_PICTURE = """() => {
  const wide = [...document.querySelectorAll('.jp-OutputArea img')].filter(img => img.naturalWidth > 200);
  return wide.length ? wide[wide.length - 1].src : '';
}"""
RUNNING = "() => [...document.querySelectorAll('.jp-InputPrompt')].some(p => p.textContent.includes('*'))"
STARTED = "() => [...document.querySelectorAll('.jp-InputPrompt')].some(p => /\\[[*0-9]/.test(p.textContent))"


def missing() -> str:
    """What these tests need and do not find; empty where all is there."""
    try:
        import jupyterlab  # noqa: F401
        import playwright.sync_api  # noqa: F401
    except ImportError as problem:
        return f"no module {problem.name}"
    return "" if shutil.which("chromium") else "no chromium on the path"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    reason = missing()
    if reason and os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.fail(f"VANPOWER_REQUIRE_TOOLS is set and there is {reason}")
    if reason:
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), headless=True, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def lab(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a JupyterLab on a copy of the notebooks, without outputs, so that what shows was made here."""
    folder = tmp_path_factory.mktemp("lab")
    copy = folder / "notebooks"
    copy.mkdir()
    for path in NOTEBOOKS:
        (copy / path.name).write_text(without_outputs(path), encoding="utf-8")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1", f"--port={port}",
        "--ServerApp.port_retries=0", f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={copy}",
        "--LabApp.expose_app_in_browser=True", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    with (folder / "log.txt").open("w") as log:
        server = subprocess.Popen(command, env=environment(folder), stdout=log, stderr=log, start_new_session=True)
        try:
            address = f"http://127.0.0.1:{port}"
            wait_for(f"{address}/api?token={TOKEN}", server)
            yield address
        finally:
            os.killpg(server.pid, signal.SIGTERM)
            server.wait(20)


def environment(folder: Path) -> dict[str, str]:
    """Settings of its own, so that nothing of the person's is read or written."""
    settings = folder / "settings"
    for extension, files in QUIET.items():
        for name, content in files.items():
            path = settings / extension / f"{name}.jupyterlab-settings"
            path.parent.mkdir(parents=True)
            path.write_text(json.dumps(content))
    own = {"JUPYTERLAB_SETTINGS_DIR": settings}
    for name in ("JUPYTERLAB_WORKSPACES_DIR", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR"):
        own[name] = folder / name.lower()
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    return os.environ | {name: str(value) for name, value in own.items()} | {"PYTHONPATH": path, "MPLBACKEND": ""}


def without_outputs(path: Path) -> str:
    notebook = json.loads(path.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell |= {"outputs": [], "execution_count": None}
    return json.dumps(notebook)


def wait_for(address: str, server: subprocess.Popen) -> None:
    for _ in range(240):
        assert server.poll() is None, "JupyterLab ended before it answered"
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    raise TimeoutError("JupyterLab did not answer within a minute")


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.problems = []
    page.on("pageerror", lambda problem: page.problems.append(str(problem)))
    yield page
    context.close()


def run_all(page: Any, address: str, name: str) -> None:
    """Open a notebook, wait for its kernel, run every cell and wait until the slider is there."""
    page.goto(f"{address}/doc/tree/{name}?token={TOKEN}&reset")
    page.wait_for_function(READY)
    for _ in range(20):
        page.evaluate("void jupyterapp.commands.execute('notebook:run-all-cells')")
        page.wait_for_timeout(500)
        if page.evaluate(STARTED):
            break
    page.wait_for_selector(".noUi-handle", state="attached")
    page.wait_for_function(f"() => !({RUNNING})()")


def move(page: Any, handle: Any) -> float:
    """One step by keyboard, to the side where there is room; milliseconds until the picture is another one."""
    before = page.evaluate(LAST_PICTURE)
    handle.scroll_into_view_if_needed()
    low, high, now = (float(handle.get_attribute(f"aria-value{what}")) for what in ("min", "max", "now"))
    handle.focus()
    started = time.perf_counter()
    handle.press("PageDown" if now - low > high - now else "PageUp")
    page.wait_for_function(f"before => ({LAST_PICTURE})() !== before", arg=before, polling="raf")
    return 1000 * (time.perf_counter() - started)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_slider_moves_the_picture(path: Path, lab: str, page: Any, tmp_path: Path) -> None:
    run_all(page, lab, path.name)
    handles = page.query_selector_all(".noUi-handle")
    boxes = page.query_selector_all(".jp-OutputArea input[type=number]")
    assert handles
    assert len(boxes) == len(handles)
    for handle, box in zip(handles, boxes, strict=True):
        number = box.input_value()
        took = move(page, handle)
        print(f"{path.stem}: {took:.0f} ms from key to picture")
        assert box.input_value() != number
    page.wait_for_timeout(300)
    assert "Traceback" not in page.content()
    assert not page.query_selector("[role=alert]")
    assert page.problems == []
    for width in (1280, 420):
        keep_screenshots(page, handles[0], folder(tmp_path), path.stem, width)


def folder(tmp_path: Path) -> Path:
    """Where screenshots go: the folder named by VANPOWER_SCREENSHOTS, or the test's own."""
    chosen = Path(os.environ.get("VANPOWER_SCREENSHOTS") or tmp_path)
    chosen.mkdir(parents=True, exist_ok=True)
    return chosen


def keep_screenshots(page: Any, handle: Any, where: Path, stem: str, width: int) -> None:
    """The slider with its chart, at this width; nothing may stick out sideways."""
    page.set_viewport_size({"width": width, "height": 1000})
    page.wait_for_timeout(400)
    handle.scroll_into_view_if_needed()
    page.evaluate("() => document.querySelectorAll('.jp-OutputArea img').forEach(img => img.decode?.())")
    page.screenshot(path=where / f"{stem}-{width}.png")
    too_wide = "() => [...document.querySelectorAll('.jp-OutputArea img')].some(i => i.width > innerWidth)"
    assert not page.evaluate(too_wide)
