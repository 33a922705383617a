"""`vanpower` alone opens the pages in a browser, live and without code; `vanpower lab` the same files in JupyterLab."""

from __future__ import annotations

import argparse
import os
import sys
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from vanpower.cli import serving
from vanpower.cli.addresses import HERE, PAGE, address, free_port
from vanpower.cli.options import FORM
from vanpower.files.my_van import WHERE, my_van_path

FIRST_NOTEBOOK = "00-start.ipynb"
NOTEBOOK = "/doc/tree/"
# where the server shows a notebook with its code
PORT = 8888
# where the pages are if nothing else is; the usual port of JupyterLab
TOKEN = "JUPYTER_TOKEN"
# environment by which the server is told what lets a browser in
NEEDED = ("jupyterlab", "voila", "anywidget")
# packages of the extra `notebooks` that serve and move pages


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower lab`."""
    about = "the pages as notebooks in JupyterLab, with their code"
    lab = commands.add_parser("lab", help=about, formatter_class=FORM)
    lab.usage, lab.description = "vanpower lab [options]", f"{about[0].upper()}{about[1:]}, to read and to change."
    lab.add_argument("--no-browser", action="store_true", help="only print the address")
    lab.set_defaults(run=open_lab)


def open_pages(asked: argparse.Namespace) -> int:
    """Open the start page, live, on this machine only and with its token."""
    return _serve(PAGE, asked.no_browser, "The pages")


def open_lab(asked: argparse.Namespace) -> int:
    """Open the start page as a notebook."""
    return _serve(NOTEBOOK, asked.no_browser, "JupyterLab and the pages")


def _serve(where: str, no_browser: bool, what: str) -> int:
    """Serve until interrupted."""
    import secrets

    if missing := [name for name in NEEDED if find_spec(name) is None]:
        raise ValueError(f"{missing[0]} is not installed; install with: pip install 'vanpower[notebooks]'")
    serving.need_data(serving.data_folders())
    port, token = free_port(PORT), secrets.token_urlsafe()
    command = [*server_command(notebooks_folder(), where), f"--port={port}", *["--no-browser"] * no_browser]
    said = f"{what}, on this machine alone:\n{address(HERE, port, FIRST_NOTEBOOK, token, where)}\nEnd with Ctrl+C."
    print("Starting ...", flush=True)
    # by the environment, which no other user of this machine can read, as words of a command can be
    return serving.serve(command, with_van() | {TOKEN: token}, port, partial(print, said, flush=True))


def server_command(folder: Path, where: str = PAGE) -> list[str]:
    """The server of pages and of JupyterLab on a folder of notebooks, for this machine only."""
    command = [sys.executable, "-m", "vanpower.pages", "lab", str(folder), FIRST_NOTEBOOK, "--ip=127.0.0.1",
               f"--LabApp.default_url={where}{FIRST_NOTEBOOK}", "--log-level=ERROR"]  # fmt: skip
    return command + (["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else [])


def with_van() -> dict[str, str]:
    """This environment, with the reader's van where `vanpower` was started, unless it says another."""
    return os.environ | {WHERE: str(my_van_path())}


def notebooks_folder() -> Path:
    """The notebooks: beside the package where it is worked on, else a copy here that one may edit."""
    beside = Path(__file__).resolve().parents[2] / "notebooks"
    if (beside / FIRST_NOTEBOOK).exists():
        return beside
    own = Path.cwd() / "vanpower-notebooks"
    if not own.exists():
        import shutil

        shutil.copytree(Path(__file__).resolve().parents[1] / "notebooks", own)
    return own
