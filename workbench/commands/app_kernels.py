"""The server's kernels: that of the app's page starts with the server; a page is given none that has not answered."""

from __future__ import annotations

import asyncio
import queue
import time
import uuid
from contextlib import suppress
from typing import Any, Final

from jupyter_core.utils import ensure_async
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import ApiPath
from tornado.ioloop import IOLoop
from tornado.web import HTTPError

from workbench.reference.gym_folder import OWN_FOLDER

__all__ = ["AppKernels"]

#: What the app's page begins with; imported while the browser is still opening.
_IMPORTS: Final = "import workbench.panels.app, workbench.panels.start"
#: A kernel on a busy computer with a slow disk answers sooner than this; longer nobody looks at an empty page.
_PATIENCE_S: Final = 60.0
#: How long to wait for one answer, before it is asked again whether the kernel still lives.
_ASK_AGAIN_S: Final = 1.0
#: A page that is not back after so long is closed or was loaded anew: its kernel holds some hundred megabytes.
_AWAY_S: Final = 60.0
#: A kernel dies at birth where another program has just taken one of its ports: the next one has others.
_TRIES: Final = 3


class AppKernels(AsyncMappingKernelManager):
    """Kernels as the server has them, and one that waits for the app's first page; a reload starts its own.

    Those of the app's pages end when nobody is left to look at them; a notebook's stays as JupyterLab has it.
    """

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)  # type: ignore[no-untyped-call]  # the server's has no types
        self._waiting: asyncio.Task[str] | None = None
        self._of_pages: set[str] = set()
        IOLoop.current().add_callback(self._begin)

    def _begin(self) -> None:
        self._waiting = asyncio.create_task(self._start_answering(path=ApiPath(OWN_FOLDER)))

    async def _start_answering(self, **how: Any) -> str:
        """Return the name of a new kernel that has answered, and that imports by itself what the page begins with."""
        limit = time.monotonic() + _PATIENCE_S
        for _ in range(_TRIES):
            name = str(await super().start_kernel(**how))
            if await self._answers(name, limit):
                return name
            self.log.warning("Kernel %s did not answer", name)
            if name in self:
                await self.shutdown_kernel(name, now=True)  # type: ignore[no-untyped-call]  # the server's has no types
        raise HTTPError(503, reason="No kernel answered")

    async def _answers(self, name: str, limit: float) -> bool:
        """Whether a kernel says that it is there; if so, it is given the imports, and none waits for those."""
        kernel = self.get_kernel(name)
        client = kernel.client()
        # Two clients of one name get each other's answers: the page's would wait for ever for those that came here.
        client.session.session = str(uuid.uuid4())
        client.start_channels(iopub=False, stdin=False, hb=False, control=False)
        try:
            while time.monotonic() < limit and await ensure_async(kernel.is_alive()):
                client.kernel_info()
                with suppress(queue.Empty):
                    await client.get_shell_msg(timeout=_ASK_AGAIN_S)  # type: ignore[misc]  # such a client is asynchronous
                    client.execute(_IMPORTS, silent=True, store_history=False)
                    return True
            return False
        finally:
            client.stop_channels()

    async def start_kernel(self, **how: Any) -> str:  # type: ignore[override]  # as the server calls it
        """Return a kernel that has started: to the app's first page the one that waits, to all others a new one."""
        if how.get("kernel_id") is not None or how.get("path") != OWN_FOLDER:
            return str(await super().start_kernel(**how))
        name = await self._for_page(**how)
        self._of_pages.add(name)
        return name

    async def _for_page(self, **how: Any) -> str:
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            try:
                name = await waiting
                if name in self and await ensure_async(self.get_kernel(name).is_alive()):
                    return name
            except Exception:  # it is only sooner there than another
                self.log.exception("The app's kernel did not start ahead")
        return await self._start_answering(**how)

    def notify_disconnect(self, kernel_id: str) -> None:
        """Notice that a page has gone; its kernel ends if none comes back to it."""
        super().notify_disconnect(kernel_id)  # type: ignore[no-untyped-call]  # the server's has no types
        if kernel_id in self._of_pages:
            IOLoop.current().call_later(_AWAY_S, self._end_where_left, kernel_id)

    async def _end_where_left(self, kernel_id: str) -> None:
        if kernel_id not in self or self._kernel_connections.get(kernel_id):
            return
        if getattr(self.get_kernel(kernel_id), "execution_state", "") == "busy":  # what it writes shall be whole
            IOLoop.current().call_later(_AWAY_S, self._end_where_left, kernel_id)
            return
        self._of_pages.discard(kernel_id)
        await self.shutdown_kernel(kernel_id)  # type: ignore[no-untyped-call]  # the server's has no types
