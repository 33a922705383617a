"""A process that has imported what pages use, and from which their kernels are forked: ready in a tenth of the time.

It is asked by a line of JSON, a kernel's words and environment, and answers with the number of the new process. It ends
when whoever started it is gone, and its kernels end with it. Linux alone: elsewhere a process with libraries of the
system loaded may not survive being forked.

Left out: a change of the package after it has started; a server started anew sees it.
"""

from __future__ import annotations

import asyncio
import gc
import json
import os
import random
import signal
import socket
import subprocess
import sys
from contextlib import suppress
from types import TracebackType
from typing import Any, ClassVar

CAN_FORK = sys.platform == "linux"
# other systems start their kernels anew
GRAMMAR = "rfc3987_syntax"
# takes 1.7 s to build; what checks settings files and notebooks by it does without it as well
DRAWN_BY = "agg"
# what pages draw with; set before matplotlib is imported, since another would take figures away before they are shown
ONE_HEAP = "MALLOC_ARENA_MAX"
# environment of the C library of Linux: threads of a page, of which one runs at a time, share one heap; each else keeps
# what it has freed, 11 of 114 MB of page 10


class WarmProcess:
    """The process, seen from the server that asks it for kernels."""

    def __init__(self) -> None:
        self.lock: asyncio.Lock | None = None
        self.streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self.process: subprocess.Popen | None = None

    def __enter__(self) -> WarmProcess:
        """Start it; it imports while its starter does other things."""
        if CAN_FORK:
            self.ours, theirs = socket.socketpair()
            with theirs:
                words = [sys.executable, "-m", "vanpower.pages.warm", str(theirs.fileno())]
                env = os.environ | {"MPLBACKEND": DRAWN_BY, ONE_HEAP: "1"}
                self.process = subprocess.Popen(words, env=env, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL)
        return self

    def __exit__(self, kind: type | None, problem: BaseException | None, trace: TracebackType | None) -> None:
        """End it."""
        if self.process is not None:
            self.ours.close()
            self.process.terminate()
            self.process.wait()

    async def fork(self, words: list[str], env: dict[str, str]) -> int:
        """Start a kernel with these words and this environment; gives the number of its process."""
        if self.streams is None:
            self.lock = asyncio.Lock()
            self.streams = await asyncio.open_connection(sock=self.ours)
        reader, writer = self.streams
        assert self.lock is not None
        async with self.lock:
            writer.write(json.dumps({"words": words, "env": env}).encode() + b"\n")
            await writer.drain()
            return int(await reader.readline())


def main(descriptor: int) -> None:
    """Import, then fork a kernel for every line that comes in, until there is nobody left to ask."""
    _import_what_pages_use()
    gc.freeze()  # what is there already is never looked at again, so that processes go on sharing it
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # kernels that have ended leave nothing behind
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C goes to the server, which ends this one
    with socket.socket(fileno=descriptor) as line, line.makefile("rw") as asked:
        for before, order in enumerate(asked):
            if before == 1:
                _import_what_one_page_uses()
            told = json.loads(order)
            number = os.fork()
            if number == 0:
                line.close()
                _become_kernel(**told)
            asked.write(f"{number}\n")
            asked.flush()


def _import_what_pages_use() -> None:
    """Load it, draw a chart and ask for a day: letters and weather are found, first calls are made.

    What is loaded here is the memory of all pages together; what a page loads for itself is its own: 55 MB for the sun,
    8 for a debugger, which pages do without.
    """
    for name in ("debugpy", GRAMMAR):
        sys.modules[name] = None  # type: ignore[assignment]
    import sqlite3  # noqa: F401

    import anywidget  # noqa: F401
    import ipykernel.debugger
    import ipykernel.kernelapp  # noqa: F401
    import IPython.core.debugger  # noqa: F401
    import pandas  # noqa: F401

    from vanpower import sharing, trials, widgets  # noqa: F401
    from vanpower.figures.fragments import still_svg
    from vanpower.figures.power import PowerChart
    from vanpower.files.rig_files import example
    from vanpower.pages import book  # noqa: F401
    from vanpower.rig import Days, Snapshot
    from vanpower.studies.comparison import compare

    chart, rigs = PowerChart(), example("bookmobile").wirings()
    chart.update(compare(rigs, Snapshot(light=200, temp_cell=15)))
    still_svg(chart.figure)
    compare(rigs, Days())


def _import_what_one_page_uses() -> None:
    """Load statistics, 27 MB and 0.3 s of processor time: the first page opens so much sooner without them."""
    from vanpower.files.rig_files import example
    from vanpower.rig import Snapshot
    from vanpower.studies.uncertainty import how_sure

    how_sure(example("bookmobile").wirings(), Snapshot(light=200, temp_cell=15), samples=2)
    gc.freeze()


def _become_kernel(words: list[str], env: dict[str, str]) -> None:
    """Be a kernel, with a group of processes, signals and random numbers of its own; never comes back."""
    import numpy as np
    from ipykernel.kernelapp import IPKernelApp

    os.setsid()
    for number in (signal.SIGCHLD, signal.SIGINT):
        signal.signal(number, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ.clear()
    os.environ.update(env, MPLBACKEND=DRAWN_BY)
    random.seed()
    np.random.seed()  # noqa: NPY002
    try:
        words += [f"--IPKernelApp.parent_handle={os.getppid()}", "--log-level=ERROR"]
        IPKernelApp.launch_instance(words, kernel_class=page_kernel())
    finally:
        os._exit(0)


def page_kernel() -> Any:
    """A class of kernels that keep no list of the files of all modules, which is for a debugger.

    A look at a module writes to its count of references, and so copies memory that all kernels have in common: 12 MB.
    """
    from ipykernel import ipkernel

    class PageKernel(ipkernel.IPythonKernel):  # type: ignore[misc]
        def __init__(self, **words: Any) -> None:
            ipkernel.sys = _NothingLoaded()  # type: ignore[assignment]
            try:
                super().__init__(**words)
            finally:
                ipkernel.sys = sys

    return PageKernel


class _NothingLoaded:
    """Looks like `sys` of a program that has loaded no modules."""

    modules: ClassVar[dict[str, Any]] = {}

    def __getattr__(self, name: str) -> Any:
        return getattr(sys, name)


def forked(number: int) -> Any:
    """A process that is nobody's child here, with what is asked of one by whoever looks after kernels."""
    return _Forked(number)


class _Forked:
    """Looks like `subprocess.Popen`: whether a process runs is found by sending it nothing."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int) -> None:
        self.pid = pid

    def poll(self) -> int | None:
        """Nothing while it runs, else 0."""
        try:
            os.kill(self.pid, 0)
        except OSError:
            return 0
        return None

    def wait(self) -> int:
        """Its code, which nobody knows; asked for when it has ended."""
        return 0

    def send_signal(self, number: int) -> None:
        """Tell it something, if it is still there."""
        with suppress(ProcessLookupError):
            os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)


if __name__ == "__main__":
    main(int(sys.argv[1]))
