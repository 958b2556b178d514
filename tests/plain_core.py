"""The compiled core as plain Python: the same functions run number by number, for cases of a few draws."""

from __future__ import annotations

import functools
import importlib
from types import FunctionType, ModuleType


@functools.cache
def plain(module: ModuleType) -> ModuleType:
    """Return a compiled module whose functions, and those that they call, are the plain ones that were written."""
    copy = ModuleType(module.__name__)
    space = vars(copy)
    space.update(vars(module))
    for name, value in vars(module).items():
        written = getattr(value, "py_func", value)
        if isinstance(written, FunctionType):
            home = importlib.import_module(written.__module__)
            if home is module:
                space[name] = FunctionType(written.__code__, space)
            elif written is not value:
                space[name] = getattr(plain(home), name)
    return copy
