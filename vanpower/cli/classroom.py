"""`vanpower class`: a notebook as a live page without its code, for a class and its phones.

The server runs pages and nothing else: through it come no files and no terminals. A page has a van of its own, a copy
of this machine's, so that nobody in the room changes what stands here.
"""

from __future__ import annotations

import argparse
import sys
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from vanpower.cli import serving
from vanpower.cli.addresses import EVERYWHERE, HERE, address, free_port
from vanpower.cli.notebooks import FIRST_NOTEBOOK, NEEDED, notebooks_folder, with_van
from vanpower.cli.options import FORM

PORT = 8866
# where the page is served if nothing else is; the usual port of pages made of notebooks
BIG = "VANPOWER_BIG"
# environment of kernels: letters as large as the last row of a room needs
MORE = """\
Every visitor gets a kernel of about 0.1 GB, which ends when the page is closed, or ten minutes after a phone has
fallen asleep.

try:
  vanpower class 03 --big             # on this machine, for the projector
  vanpower class teach/03 --network   # also on the phones in the room
"""
WARNING = """\
Whoever has the address can move the sliders, and somebody who knows how could run programs on this machine with it.
Give it to your class alone, and end it when the lesson does. Each phone takes some 0.1 GB of this machine's memory.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower class`."""
    about = "a notebook as a page without code, for a class and its phones"
    page = commands.add_parser("class", help=about, epilog=MORE, formatter_class=FORM)
    page.usage, page.description = "vanpower class [LESSON] [options]", f"{about[0].upper()}{about[1:]}."
    page.add_argument(
        "lesson", nargs="?", default=FIRST_NOTEBOOK, metavar="LESSON", help="a notebook or its number, such as 03"
    )
    page.add_argument("--network", action="store_true", help="let phones and machines in your network in")
    page.add_argument("--big", action="store_true", help="larger letters, for a projector and the last row")
    page.add_argument("--port", type=int, default=PORT, metavar="N", help=f"port to serve on ({PORT})")
    page.add_argument("--no-browser", action="store_true", help="only print the address")
    page.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Serve the page until it is interrupted."""
    import secrets

    if any(find_spec(name) is None for name in (*NEEDED, "segno")):
        raise ValueError("class mode needs some packages more; install with: pip install 'vanpower[class]'")
    serving.need_data(serving.data_folders())
    folder = notebooks_folder()
    lesson = lesson_named(asked.lesson, folder)
    port, token = free_port(asked.port), secrets.token_urlsafe(9)
    command = class_command(folder, lesson, port=port, token=token, network=asked.network)
    larger = {BIG: "1"} if asked.big else {}
    print("Starting ...", flush=True)
    return serving.serve(command, with_van() | larger, port, partial(_tell, asked, port, lesson, token))


def _tell(asked: argparse.Namespace, port: int, lesson: str, token: str) -> None:
    """Print where the page is, and open it here."""
    import webbrowser

    for host in [HERE, *own_addresses()] if asked.network else [HERE]:
        print(f"{'This machine' if host == HERE else 'Your network'}: {address(host, port, lesson, token)}")
        if host != HERE:
            show_code(address(host, port, lesson, token))
    print(f"\n{WARNING if asked.network else ''}End with Ctrl+C.", flush=True)
    if not asked.no_browser:
        webbrowser.open(address(HERE, port, lesson, token))


def class_command(folder: Path, lesson: str, *, port: int | str, token: str, network: bool = False) -> list[str]:
    """The server of pages on a folder of notebooks: without code, with a token, and a lesson that is ready."""
    return [
        sys.executable, "-m", "vanpower.pages", "class", str(folder), lesson, "--no-browser",
        f"--Voila.ip={EVERYWHERE if network else HERE}", f"--Voila.port={port}", "--Voila.port_retries=0",
        f"--token={token}", "--Voila.log_level=ERROR",
    ]  # fmt: skip


def show_code(page: str) -> None:
    """Print an address as a picture that a phone reads."""
    import segno

    segno.make(page, error="m").terminal(compact=True)


def lesson_named(text: str, folder: Path) -> str:
    """The notebook meant by a name, a number, or either in the folder 'teach'."""
    paths = [path.relative_to(folder).with_suffix("") for path in folder.rglob("*.ipynb")]
    names = sorted(path.as_posix() for path in paths if not path.parent.name.startswith("."))
    place, slash, name = text.removesuffix(".ipynb").rpartition("/")
    wanted = f"{place}{slash}{name.zfill(2) if name.isdigit() else name}"
    found = [known for known in names if known.startswith(wanted)]
    if wanted in names or len(found) == 1:
        return f"{wanted if wanted in names else found[0]}.ipynb"
    near = found or [known for known in names if name in known] or names
    raise ValueError(f"lesson {text!r} {'fits several' if found else 'is none'} of ours: {', '.join(near)}.")


def own_addresses() -> list[str]:
    """This machine's address in its network, as phones there would reach it; empty without a network."""
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address set aside for documents (RFC 5737); nothing is sent to it
            own = probe.getsockname()[0]
        except OSError:
            return []
    return [] if own.startswith("127.") else [own]
