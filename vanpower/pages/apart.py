"""What stands below a page's controls is worked out by a process of its own, so that no move waits for it.

It is forked from the page's kernel once the controls are there, has all that the cells above have made, and tells what
the cells below show; what it has loaded and kept goes with it. Linux alone; elsewhere the kernel does it between two
moves. Left out: names that these cells set, which the kernel never learns.
"""

from __future__ import annotations

import asyncio
import ctypes
import gc
import json
import os
import signal
import socket
from collections.abc import Iterator
from typing import Any, NoReturn

import comm

MODEST = 5
# steps of niceness: who moves a control goes before who waits for the page's end; no source
PR_SET_PDEATHSIG = 1
# asks Linux to end a process with the one it was forked from, prctl(2)
LONGEST_LINE, AT_ONCE = 2**26, 2**16
# [B] of a step, where a chart is some 200 kB; taken from the line at a time; no source
Told = dict[str, Any]
# what a cell shows, or that it is not for another process


class Here:
    """Steps that are worked out when they are asked for, by who asks.

    Examples
    --------
    >>> asyncio.run(Here(iter([{"cell": 3}])).told())
    {'cell': 3}
    """

    def __init__(self, steps: Iterator[Told]) -> None:
        self.steps = steps

    async def told(self) -> Told | None:
        """The next step; None behind the last one."""
        return next(self.steps, None)

    def end(self) -> None:
        """Nothing runs meanwhile."""


class Apart:
    """Steps that are worked out by a process of its own and told as JSON.

    Raises
    ------
    EOFError
        Where the process ends before its last step.
    """

    def __init__(self, steps: Iterator[Told]) -> None:
        self.ours, theirs = socket.socketpair()
        self.reader: asyncio.StreamReader | None = None
        parent, self.pid = os.getpid(), os.fork()
        if self.pid == 0:
            _tell(steps, theirs, parent)
        theirs.close()

    async def told(self) -> Told | None:
        """The next step; None behind the last one, and when it has been ended."""
        if not self.pid:
            return None
        if self.reader is None:
            # at once: a page that goes on later cancels who waits here, and may not lose the line by it
            self.reader = asyncio.StreamReader(limit=LONGEST_LINE)
            asyncio.get_running_loop().add_reader(self.ours, self._hear, self.reader)
        line = await self.reader.readline()
        if not line:
            raise EOFError
        step: Told | None = json.loads(line)
        return step

    def _hear(self, reader: asyncio.StreamReader) -> None:
        """Take what has come in."""
        if heard := self.ours.recv(AT_ONCE):
            reader.feed_data(heard)
        else:
            reader.feed_eof()
            asyncio.get_running_loop().remove_reader(self.ours)

    def end(self) -> None:
        """End the process, whether it is done or not."""
        if self.pid:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            self.pid = 0
            if self.reader is not None:
                asyncio.get_running_loop().remove_reader(self.ours)
            self.ours.close()


def _tell(steps: Iterator[Told], line: socket.socket, parent: int) -> NoReturn:
    """Tell every step, then nothing; never comes back, nor stays behind when its kernel has gone."""
    try:
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
        gc.freeze()  # what both share stays shared
        os.nice(MODEST)
        comm.create_comm = comm.DummyComm  # a control made here is nobody's
        with line.makefile("w") as told:
            while os.getppid() == parent:
                step = next(steps, None)
                told.write(_said(step) + "\n")
                told.flush()
                if step is None:
                    break
    finally:
        os._exit(0)


def _said(step: Told | None) -> str:
    """A step as a line of JSON; of one with controls, which cannot be told, only of which cell.

    Examples
    --------
    >>> _said({"cell": 3, "parts": [[object(), []]]})
    '{"cell": 3}'
    """
    try:
        return json.dumps(step)
    except TypeError:
        return json.dumps({"cell": (step or {})["cell"]})
