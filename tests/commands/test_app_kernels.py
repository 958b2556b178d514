"""Kernels that start late or die at birth: the app's page comes all the same, or it is said that it does not."""

from __future__ import annotations

import asyncio
import http.client
import os
import sys
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.web import HTTPError

from workbench.commands import app_kernels
from workbench.commands.app_kernels import AppKernels
from workbench.commands.notebook_server import APP_PAGE, open_app, running_lab
from workbench.reference.gym_folder import OWN_FOLDER

#: Far above the start of a kernel on a busy computer, and below what a kernel is waited for that never answers.
LIMIT_S = 45

#: A Python whose first kernel dies, as where another program has taken its port, or none does; each starts late.
LATE = """#!/bin/sh
case "$*" in *ipykernel_launcher*)
  for file; do :; done
  [ -e {first} ] || echo "$file" > {first}
  [ "$(cat {first})" = "$file" ] && {what}
  sleep 4 ;;
esac
exec {python} "$@"
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="the late kernel is a shell's script")
@pytest.mark.parametrize("what", [":", "exit 1"], ids=["late", "dies at birth"])
def test_the_apps_page_comes_whole_though_its_kernel_is_late_or_dies_at_birth(
    what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    late = tmp_path / "python"
    late.write_text(LATE.format(first=tmp_path / "first", what=what, python=sys.executable), encoding="utf-8")
    late.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(late))
    open_app(tmp_path / "gym")
    with (
        running_lab(tmp_path / "gym", page=APP_PAGE) as lab,
        closing(http.client.HTTPConnection("127.0.0.1", lab.port, timeout=LIMIT_S)) as connection,
    ):
        connection.request("GET", f"/voila/render/{APP_PAGE}", headers={"Authorization": f"token {lab.token}"})
        answer = connection.getresponse()
        page = b""
        while part := answer.read1():
            page += part
            # Sent every ten seconds for as long as the kernel has not answered.
            assert page.count(b"<script>window.voila_heartbeat()") < LIMIT_S / 10, "the page does not end"
    assert answer.status == http.client.OK
    assert page.rstrip().endswith(b"</html>")
    assert b"application/vnd.jupyter.widget-view+json" in page


def test_where_no_kernel_answers_the_page_is_told_so_and_none_is_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    live: set[str] = set()
    started = iter(["a", "b", "c", "d"])

    async def start(_kernels: AppKernels, **_how: Any) -> str:
        live.add(name := next(started))
        return name

    async def shut_down(_kernels: AppKernels, name: str, *, now: bool) -> None:
        live.remove(name)

    async def answers(_kernels: AppKernels, name: str, limit: float) -> bool:
        if name == "b":  # as one that dies by itself, and is struck off the list
            live.remove(name)
        return False

    monkeypatch.setattr(AsyncMappingKernelManager, "start_kernel", start)
    monkeypatch.setattr(AppKernels, "__contains__", lambda _kernels, name: name in live)
    monkeypatch.setattr(AppKernels, "shutdown_kernel", shut_down)
    monkeypatch.setattr(AppKernels, "_answers", answers)

    async def ask_for_page() -> None:
        await AppKernels().start_kernel(path=OWN_FOLDER)

    with pytest.raises(HTTPError) as caught:
        asyncio.run(ask_for_page())
    assert caught.value.status_code == http.client.SERVICE_UNAVAILABLE
    assert live == set()
    assert next(started) == "d"  # three were tried


@pytest.mark.parametrize("state", ["idle", "busy"])
def test_the_kernel_of_a_page_that_is_gone_ends_and_no_other(state: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app_kernels, "_AWAY_S", 0.02)
    kernel = SimpleNamespace(execution_state=state)
    live = {"left", "back", "notebook"}

    async def shut_down(_kernels: AppKernels, name: str) -> None:
        assert kernel.execution_state == "idle", "it was at work"
        live.remove(name)

    monkeypatch.setattr(AppKernels, "_begin", lambda _kernels: None)
    monkeypatch.setattr(AppKernels, "__contains__", lambda _kernels, name: name in live)
    monkeypatch.setattr(AppKernels, "get_kernel", lambda _kernels, _name: kernel)
    monkeypatch.setattr(AppKernels, "shutdown_kernel", shut_down)

    async def pages_come_and_go() -> None:
        kernels = AppKernels()
        kernels._of_pages = {"left", "back"}
        kernels._kernel_connections = dict.fromkeys(live, 1)
        for name in sorted(live):
            kernels.notify_disconnect(name)
        kernels.notify_connect("back")
        if state == "busy":
            await asyncio.sleep(0.1)
            assert live == {"left", "back", "notebook"}
            kernel.execution_state = "idle"
        while "left" in live:
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.05)

    asyncio.run(asyncio.wait_for(pages_come_and_go(), LIMIT_S))
    assert live == {"back", "notebook"}
