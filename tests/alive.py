"""How many of some things are in memory: what grows with a roster is found by counting, not by megabytes."""

from __future__ import annotations

import weakref
from typing import Any

import pytest

from workbench.reference.shelf import Shelf

__all__ = ["Alive"]


class Alive:
    """Counts those of the things seen that are still there, and how many there were at most."""

    def __init__(self) -> None:
        self.most = 0
        self._refs: list[weakref.ref[Any]] = []

    def seen(self, thing: Any) -> Any:
        """Take note of a thing, and give it back."""
        self._refs = [ref for ref in self._refs if ref() is not None]
        self._refs.append(weakref.ref(thing))
        self.most = max(self.most, len(self._refs))
        return thing

    def watch(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """See each thing that any shelf gives out."""
        take = Shelf.__getitem__

        def taken(shelf: Shelf[Any], at: Any) -> Any:
            return take(shelf, at) if isinstance(at, slice) else self.seen(take(shelf, at))

        monkeypatch.setattr(Shelf, "__getitem__", taken)
