"""Kernels of pages are ready before a page asks for one, end when their page has gone, and are never started twice.

A page that asks gets a kernel that waits, and another is made ready a little later. JupyterLab's notebooks get kernels
of their own kind, started when they ask, and keep them as long as they wish.
"""

from __future__ import annotations

import asyncio
import os
from collections import deque
from datetime import UTC, datetime
from functools import partial
from typing import Any, ClassVar
from uuid import uuid4

from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.ioloop import IOLoop

from vanpower.pages.warm import CAN_FORK, DRAWN_BY, WarmProcess, forked

POOL = 1
# kernels that wait for a page, some 40 MB each
REFILL_S, WATCH_S = 3.0, 1.0
# [s] after which a kernel that was taken is followed by another, when its page needs the processor no longer; and how
# often we look whether those of open pages live; no source
OF_A_PAGE = "VOILA_REQUEST_URL"
# environment by which a page is known from a notebook that asks for a kernel
PREPARED = (
    "--IPKernelApp.exec_lines=from tornado.ioloop import IOLoop; from vanpower.pages import book; "
    "IOLoop.current().add_callback(book.prepare, {root!r}, {name!r})"
)
# what a kernel does before anything else, once its loop runs: it opens the page that most ask for first


class WarmKernels(AsyncMappingKernelManager):  # type: ignore[misc]
    """Hands out kernels that are ready."""

    warm: ClassVar[WarmProcess | None] = None
    first: ClassVar[tuple[str, str]] = ("", "")
    # folder of the notebooks, and the page that is opened first

    def __init__(self, **words: Any) -> None:
        super().__init__(**words)
        self.waiting: deque[str] = deque()
        self.coming: dict[str, asyncio.Future[Any]] = {}
        self.of_pages: set[str] = set()
        self.ending: set[str] = set()
        IOLoop.current().add_callback(self._fill)
        IOLoop.current().add_callback(self._watch)

    async def _async_start_kernel(self, *, kernel_id: str | None = None, path: Any = None, **words: Any) -> str:
        """A kernel: for a page one that waits or is coming, for a notebook of JupyterLab one of its own."""
        if OF_A_PAGE not in (words.get("env") or {}):
            return await super()._async_start_kernel(kernel_id=kernel_id, path=path, **words)
        number = await self._one_that_lives()
        self.coming[number].add_done_callback(partial(self._taken, number))
        return number

    start_kernel = _async_start_kernel  # type: ignore[assignment]

    async def _one_that_lives(self) -> str:
        """A kernel that waits or is coming, or a new one; those that have ended while they waited are left out."""
        while self.waiting:
            number = self.waiting.popleft()
            started = self.coming[number]
            if not started.done() or await started.result().is_alive():
                return number
            del self.coming[number]
            await self.shutdown_kernel(number, now=True)
        return self._one_more()

    def get_kernel(self, kernel_id: str) -> Any:
        """A kernel; of one that is still coming, what is to be awaited for it."""
        if kernel_id in self.coming and kernel_id not in self:
            return self.coming[kernel_id]
        return super().get_kernel(kernel_id)

    def pre_start_kernel(self, kernel_name: str | None, kwargs: Any) -> Any:
        """Prepare a start; a page's kernel is forked where that can be, and not started again once it has ended."""
        for_a_page = kwargs.pop("for_a_page", False)
        manager, name, kernel_id = super().pre_start_kernel(kernel_name, kwargs)
        # a list of kernels has a date for each, and fails where one that starts has none
        manager.last_activity = datetime.now(UTC)  # type: ignore[attr-defined]
        if for_a_page:
            manager.autorestart = False
            root, page = self.first
            kwargs["extra_arguments"] = [PREPARED.format(root=root, name=page)]
            if CAN_FORK and self.warm is not None:
                spec = manager.kernel_spec
                manager.provisioner = Forked(kernel_id=kernel_id, kernel_spec=spec, parent=manager, warm=self.warm)
        return manager, name, kernel_id

    async def _async_shutdown_kernel(self, kernel_id: str, now: Any = False, restart: Any = False) -> None:
        """End a kernel; a page says goodbye more than once, since not every browser says it every way."""
        if kernel_id in self and kernel_id not in self.ending:
            self.ending.add(kernel_id)
            try:
                await super()._async_shutdown_kernel(kernel_id, now=now or kernel_id in self.of_pages, restart=restart)
            finally:
                self.ending.discard(kernel_id)

    shutdown_kernel = _async_shutdown_kernel  # type: ignore[assignment]

    async def cull_kernel_if_idle(self, kernel_id: str) -> None:
        """End a page's kernel that nobody has asked for long; those that wait and those of JupyterLab stay."""
        if kernel_id in self.of_pages:
            await super().cull_kernel_if_idle(kernel_id)

    def _one_more(self) -> str:
        """Start a kernel for a page; gives its number at once."""
        number, env = str(uuid4()), os.environ | {"MPLBACKEND": DRAWN_BY}
        self.coming[number] = asyncio.ensure_future(self._started(number, env))
        return number

    async def _started(self, number: str, env: dict[str, str]) -> Any:
        """The kernel of this number, once it is there."""
        await super()._async_start_kernel(kernel_id=number, kernel_name="python3", for_a_page=True, env=env)
        return self._kernels[number]

    def _taken(self, number: str, _: Any) -> None:
        """A page has its kernel: it is like all others now, and another is made ready a little later."""
        del self.coming[number]
        self.of_pages.add(number)
        asyncio.get_running_loop().call_later(REFILL_S, self._fill)

    def _fill(self) -> None:
        """Have as many wait as there should."""
        while len(self.waiting) < POOL:
            self.waiting.append(self._one_more())

    async def _watch(self) -> None:
        """Forget kernels of pages that have ended by themselves, so that their pages are told."""
        while True:
            await asyncio.sleep(WATCH_S)
            self.of_pages &= set(self._kernels)
            for kernel_id in list(self.of_pages):
                if not await self._kernels[kernel_id].is_alive():
                    self.of_pages.discard(kernel_id)
                    await self.shutdown_kernel(kernel_id, now=True)


class Prompt(ZMQChannelsWebsocketConnection):  # type: ignore[misc]
    """Sends what a kernel says to its page at once.

    Else a system holds a small message back until the one before it is acknowledged (RFC 896), and the one before a
    picture says that the kernel works.
    """

    def connect(self) -> Any:
        """Begin to pass messages on."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()


class Forked(LocalProvisioner):  # type: ignore[misc]
    """Starts a kernel by asking the warm process for it."""

    def __init__(self, *, warm: WarmProcess, **words: Any) -> None:
        super().__init__(**words)
        self.warm = warm

    async def launch_kernel(self, cmd: list[str], **words: Any) -> Any:
        """Have it forked; its words are those behind the name of the program."""
        self.pid = self.pgid = await self.warm.fork(cmd[cmd.index("-f") :], words["env"])
        self.process = forked(self.pid)
        self.cwd = words.get("cwd", os.getcwd())
        return self.connection_info
