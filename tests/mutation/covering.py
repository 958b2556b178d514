"""Which test runs which line: one run of the fast suite under coverage, kept until a file of the tree changes."""

from __future__ import annotations

import functools
import hashlib
import json
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

__all__ = ["PYTEST_OPTIONS", "Covering", "collect", "digest_of"]

#: The fast suite, without notebooks: what a mutant is tried with.
PYTEST_OPTIONS = (
    "--override-ini=addopts=--import-mode=importlib --doctest-modules",
    *("-p", "no:cacheprovider", "-p", "no:nbval", "-p", "no:xdist"),
    *("-W", "ignore:Module already imported:pytest.PytestAssertRewriteWarning"),  # loaded once, before the forks
    *("-q", "-m", "not slow and not browser"),
)


@dataclass(frozen=True)
class Covering:
    """For each file and line the tests that run it, and how long each test takes, in order of running."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]

    def tests(self, file: str, line: int, end_line: int, *, whole_file: bool) -> list[str]:
        """Tests that run any of the lines; with ``whole_file`` those that run anything in the file."""
        lines = self.lines.get(file, {})
        numbers = lines if whole_file else range(line, end_line + 1)
        found = {test for number in numbers for test in lines.get(number, ())}
        return [test for test in self.seconds if test in found]


def digest_of(root: Path) -> str:
    """SHA-256 of everything that decides which test runs which line."""
    sums = hashlib.sha256()
    for folder, pattern in (("workbench", "*.py"), ("tests", "*.py"), ("data", "*")):
        for path in sorted((root / folder).rglob(pattern)):
            if path.is_file() and not {"__pycache__", "mutation"} & set(path.parts):
                sums.update(path.relative_to(root).as_posix().encode() + path.read_bytes())
    return sums.hexdigest()


class _Contexts:
    """Names the running test to coverage; what a fixture shared by several tests runs counts for each of them."""

    def __init__(self, measured: Any) -> None:
        self.measured = measured
        self.fixtures: dict[str, list[str]] = {}
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails without any change tells nothing of a change."""
        if report.failed:
            self.failed.add(report.nodeid)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        _forget()
        self.measured.switch_context(item.nodeid)
        found = getattr(item, "_fixtureinfo", None)
        self.fixtures[item.nodeid] = [
            _fixture_key(one)
            for several in (found.name2fixturedefs.values() if found else ())
            for one in several
            if one.scope != "function"
        ]
        begin = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - begin
            self.measured.switch_context("")

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Iterator[None]:
        if fixturedef.scope == "function":
            return (yield)
        self.measured.switch_context(_fixture_key(fixturedef))
        try:
            return (yield)
        finally:
            self.measured.switch_context(
                request.node.nodeid if isinstance(request.node, pytest.Item) else self._current(request)
            )

    def _current(self, request: Any) -> str:
        return next(reversed(self.fixtures), "")


def _fixture_key(fixture: Any) -> str:
    return f"fixture {fixture.baseid} {fixture.argname}"


def _forget() -> None:
    """Empty every cache of the package and the tests, so that each test runs all that it stands on."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in {"workbench", "tests"} and module is not None:
            for value in list(vars(module).values()):
                if isinstance(value, functools._lru_cache_wrapper):
                    value.cache_clear()


def run_covered(root: Path, output: Path) -> None:
    """Run the suite under coverage, in a process that has not loaded the package, and write what was found."""
    import coverage

    measured = coverage.Coverage(data_file=None, source=[str(root / "workbench")], config_file=False)
    plugin = _Contexts(measured)
    measured.start()
    pytest.main([*PYTEST_OPTIONS, "tests", "workbench"], plugins=[plugin])
    measured.stop()
    data = measured.get_data()
    users: dict[str, list[str]] = defaultdict(list)
    seconds = {test: taken for test, taken in plugin.seconds.items() if test not in plugin.failed}
    for test in seconds:
        for key in (test, *plugin.fixtures[test]):
            users[key].append(test)
    lines: dict[str, dict[int, list[str]]] = {}
    for path in data.measured_files():
        file = Path(path).relative_to(root).as_posix()
        lines[file] = {
            line: sorted({test for context in contexts for test in users.get(context, ())})
            for line, contexts in data.contexts_by_lineno(path).items()
        }
    output.write_text(json.dumps({"lines": lines, "seconds": seconds, "failed": sorted(plugin.failed)}))


def collect(path: Path) -> Covering:
    """Read what `run_covered` wrote."""
    content = json.loads(path.read_text())
    lines = {file: {int(line): tests for line, tests in found.items()} for file, found in content["lines"].items()}
    return Covering(lines, content["seconds"])
