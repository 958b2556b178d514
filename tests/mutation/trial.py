"""Try one mutant: a child process that loads the package with the change made and runs the tests that cover it."""

from __future__ import annotations

import importlib
import importlib.machinery
import importlib.util
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import pytest

from tests.mutation.covering import PYTEST_OPTIONS
from tests.mutation.operators import Mutant

__all__ = ["fork", "is_compiled", "is_plain", "run_mutant", "warm_up"]

#: Loaded once before the forks; nothing of the package itself may be among them.
_LIBRARIES = (
    "numpy", "pandas", "scipy.optimize", "scipy.stats", "scipy.special", "scipy.interpolate", "scipy.linalg",
    "pydantic", "openpyxl", "plotly.graph_objects", "plotly.offline", "plotly.io", "plotly.subplots", "ipywidgets",
    "anywidget", "hypothesis", "hypothesis.strategies", "nbformat", "IPython", "xml.dom", "email", "http.server",
    "concurrent.futures", "multiprocessing",
)  # fmt: skip
_MEMORY = 8 << 30
#: What compiling everything anew takes of the processor.
_COMPILING_S = 60.0


def is_compiled(text: str) -> bool:
    """Whether functions of a module's text are compiled: then coverage sees none of their lines run."""
    return "@compiled" in text


def is_plain(test: str) -> bool:
    """Whether a test runs functions that are compiled as the plain Python that was written."""
    return "[plain" in test


def warm_up() -> None:
    """Load the libraries that the package and its tests use."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in _LIBRARIES:
            importlib.import_module(name)
    loaded = [name for name in sys.modules if name.partition(".")[0] == "workbench"]
    if loaded:
        raise RuntimeError(f"{loaded} are loaded already; a change in them would not be seen")


def fork(work: Callable[[], int], output: Path) -> int:
    """Start ``work`` in a child with its output in a file; return the child's process number."""

    def work_alone() -> int:
        os.setsid()
        handle = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
        os.dup2(handle, 1)
        os.dup2(handle, 2)
        return work()

    return _child(work_alone)


def _child(work: Callable[[], int]) -> int:
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        code = work()
    except BaseException:  # noqa: BLE001 - the child must end here whatever happens
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


class _MutatedLoader(importlib.machinery.SourceFileLoader):
    """Compiles changed text in place of the file's."""

    text = ""

    def get_code(self, fullname: str) -> CodeType:
        """Return the changed module's code; nothing of it is cached on disk."""
        return compile(self.text, self.path, "exec", dont_inherit=True)


class _Finder:
    """Finds the one changed module before anyone else does."""

    def __init__(self, name: str, path: Path, text: str) -> None:
        self.name = name
        self.path = path
        self.text = text

    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> Any:
        """Find the changed module only."""
        if name != self.name:
            return None
        loader = _MutatedLoader(name, str(self.path))
        loader.text = self.text
        folder = [str(self.path.parent)] if self.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(name, self.path, loader=loader, submodule_search_locations=folder)


class _Selection:
    """Keeps the chosen tests, file by file in the chosen order, so that shared fixtures are made once."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.rank = {test: at for at, test in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Drop the others and sort."""
        items[:] = sorted((item for item in items if item.nodeid in self.rank), key=lambda item: self.rank[item.nodeid])


def run_mutant(root: Path, mutant: Mutant, tests: Sequence[str], limit_s: float) -> int:
    """Run in a child: the tests with the change made; pytest's exit code (0: nothing noticed it).

    Where the changed module is compiled, first come the tests that run it plain, with nothing compiled, in a child of
    their own; only what they do not notice is worth compiling anew.
    """
    if not is_compiled((root / mutant.file).read_text(encoding="utf-8")):
        return _run(root, mutant, tests, limit_s)
    plain = [test for test in tests if is_plain(test)]
    others = [test for test in tests if not is_plain(test)]
    if plain:
        child = _child(lambda: _run(root, mutant, plain, limit_s, {"NUMBA_DISABLE_JIT": "1"}))
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        if code or not others:
            return code if code >= 0 else 1  # ended by a limit: that was noticed
    with tempfile.TemporaryDirectory(prefix="compiled-") as folder:
        # What is kept of a compiled function is told apart by its file, which does not change.
        return _run(root, mutant, others, limit_s + _COMPILING_S, {"NUMBA_CACHE_DIR": folder})


def _run(
    root: Path, mutant: Mutant, tests: Sequence[str], limit_s: float, environment: Mapping[str, str] | None = None
) -> int:
    os.chdir(root)
    os.environ["CI"] = "1"  # the same examples of hypothesis every time
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    os.environ.update(environment or {})
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    files = list(dict.fromkeys(test.partition("::")[0] for test in tests))
    with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
        try:
            changed = _load_changed(root, mutant)
        except Exception:  # noqa: BLE001 - whatever the change makes the import raise, everybody would notice it
            traceback.print_exc()
            return 2
        options = [*PYTEST_OPTIONS, "-x", "--no-header", "--tb=line", f"--basetemp={folder}/tests", *files]
        begin = time.monotonic()
        code = int(pytest.main(options, plugins=[_Selection(tests)]))
        print(f"exit code {code} after {time.monotonic() - begin:.1f} s")
        if sys.modules[changed.__name__] is not changed:
            raise RuntimeError(f"{changed.__name__} was loaded again: the tests did not see the change")
        return code


def _load_changed(root: Path, mutant: Mutant) -> ModuleType:
    """Load the changed module now: pytest finds modules in its own way, past the finder, if it is the first to ask."""
    path = root / mutant.file
    parts = Path(mutant.file).with_suffix("").parts
    name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
    sys.meta_path.insert(0, _Finder(name, path, mutant.applied(path.read_text(encoding="utf-8"))))
    return importlib.import_module(name)
