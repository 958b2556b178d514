"""Why a row is set aside."""

__all__ = ["AsideError"]


class AsideError(Exception):
    """The row is set aside: ``reason`` in plain words, ``question`` if it waits for an answer."""

    def __init__(self, reason: str, question: str = "") -> None:
        super().__init__(reason)
        self.reason = reason
        self.question = question
