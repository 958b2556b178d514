"""The server's kernels: that of the app's page starts with the server, and is ready when the page asks for it."""

from __future__ import annotations

import asyncio
import queue
from contextlib import suppress
from typing import Any, Final

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import ApiPath
from tornado.ioloop import IOLoop

from workbench.reference.gym_folder import OWN_FOLDER

__all__ = ["AppKernels"]

#: What the app's page begins with; imported while the browser is still opening.
_IMPORTS: Final = "import workbench.panels.app, workbench.panels.start"
#: By then it is imported, or the kernel is gone.
_PATIENCE_S: Final = 60.0


class AppKernels(AsyncMappingKernelManager):
    """Kernels as the server has them, and one that waits for the app's first page; a reload starts its own."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)  # type: ignore[no-untyped-call]  # the server's has no types
        self._waiting: asyncio.Task[str] | None = None
        self._importing: asyncio.Task[None] | None = None
        IOLoop.current().add_callback(self._begin)

    def _begin(self) -> None:
        self._waiting = asyncio.create_task(self._start_ahead())

    async def _start_ahead(self) -> str:
        name = str(await super().start_kernel(path=ApiPath(OWN_FOLDER)))
        self._importing = asyncio.create_task(self._import(name))
        return name

    async def _import(self, name: str) -> None:
        """Have a kernel import what the page begins with; whoever asks for the kernel meanwhile waits for nothing."""
        client = self.get_kernel(name).client()
        client.start_channels(iopub=False, stdin=False, hb=False)
        try:
            client.execute(_IMPORTS, silent=True, store_history=False)
            with suppress(queue.Empty):
                await client.get_shell_msg(timeout=_PATIENCE_S)  # type: ignore[misc]  # such a client is asynchronous
        finally:
            client.stop_channels()

    async def start_kernel(self, **how: Any) -> str:  # type: ignore[override]  # as the server calls it
        """Return a kernel that has started: to the app's first page the one that waits, to all others a new one."""
        if self._waiting is not None and how.get("kernel_id") is None and how.get("path") == OWN_FOLDER:
            waiting, self._waiting = self._waiting, None
            try:
                name = await waiting
                if name in self:
                    return name
            except Exception:  # it is only sooner there than another
                self.log.exception("The app's kernel did not start ahead")
        return str(await super().start_kernel(**how))
