"""Names that are loaded when first used, so that importing a package costs next to nothing."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from typing import Any

__all__ = ["loaded_when_used"]


def loaded_when_used(module: str, where: dict[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a module whose names lie in others: each is loaded when first used, once."""

    def load(name: str) -> Any:
        if name not in where:
            raise AttributeError(f"module {module!r} has no attribute {name!r}")
        value = getattr(importlib.import_module(where[name]), name)
        setattr(sys.modules[module], name, value)
        return value

    return load
