"""Messages of a kernel to its page, each sent at once."""

from __future__ import annotations

from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection

__all__ = ["PromptMessages"]


class PromptMessages(ZMQChannelsWebsocketConnection):
    """A page's connection to its kernel that holds no message back.

    Otherwise a small message waits until the receipt of the one before has come (Nagle's algorithm), which the page's
    side sends up to 40 ms late: longer than a picture takes to be worked out.
    """

    def connect(self) -> Any:
        """Connect page and kernel."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
