"""What a kernel says comes to its page at once: the socket holds no small message back."""

from __future__ import annotations

import importlib
import socket
import subprocess
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.websocket import KernelWebsocketHandler
from tornado.iostream import IOStream

from workbench.commands.notebook_server import APP_PAGE, running_lab

OPTION = "--ServerApp.kernel_websocket_connection_class="


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the words that would start the server; none is."""
    words: list[str] = []

    def start(command: list[str], **_how: Any) -> None:
        words.extend(command)
        raise InterruptedError

    monkeypatch.setattr(subprocess, "Popen", start)
    return words


@pytest.mark.parametrize("page", ["", APP_PAGE], ids=["notebooks", "app"])
def test_the_connection_that_the_server_is_given_sends_every_message_at_once(
    page: str, tmp_path: Path, command: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InterruptedError), running_lab(tmp_path, page=page):
        pass
    (named,) = (word.removeprefix(OPTION) for word in command if word.startswith(OPTION))
    module, _, name = named.rpartition(".")
    kind = getattr(importlib.import_module(module), name)
    assert issubclass(kind, ZMQChannelsWebsocketConnection)

    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda _messages: "connected")
    with socket.create_server(("127.0.0.1", 0)) as server, socket.create_connection(server.getsockname()) as end:
        messages = kind.__new__(kind)
        messages.websocket_handler = KernelWebsocketHandler.__new__(KernelWebsocketHandler)
        messages.websocket_handler.ws_connection = SimpleNamespace(set_nodelay=IOStream(end).set_nodelay)
        assert not end.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
        assert messages.connect() == "connected"
        assert end.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
