"""What several test files share: the browser, and hypothesis' settings."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any
from urllib.parse import urlsplit

import hypothesis
import numpy as np
import pytest

from tests.plain_core import plain

# The check of international addresses in schemas, which no notebook here has: making it takes a third of the time in
# which all tests are found.
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]

# No clock: machines that run tests are shared, and speed has its own benchmark. In CI the same examples every
# time, so that a change is judged by what it changed; at the desk new ones, which are the ones that find things.
hypothesis.settings.register_profile(
    "workbench",
    deadline=None,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
    derandomize="CI" in os.environ,
)
hypothesis.settings.load_profile("workbench")

# What tests compare must not hang on when compiled sets have been loaded; those that need them load them.
os.environ.setdefault("WORKBENCH_FUSED", "0")

# No test knows which gym its user has opened last, or changes that.
os.environ["WORKBENCH_HOME"] = tempfile.mkdtemp(prefix="workbench-home-")


def pytest_configure(config: pytest.Config) -> None:
    """Hand files to processes in the order of collection, not those with the most tests first."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of long tests first: at the end of a run of several processes, none works on alone for minutes."""
    marks = ("slow", "browser")
    long = {item.path for item in items if item.path.suffix == ".ipynb" or any(map(item.get_closest_marker, marks))}
    items.sort(key=lambda item: item.path not in long)


def pytest_collection_finish() -> None:
    """Leave out of every later search for garbage what stays: the modules and eight thousand tests."""
    gc.collect()
    gc.freeze()


_CHROMIUM_OPTIONS = [
    "--no-sandbox",  # CI runs as root, where Chromium's sandbox does not start
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
#: What a browser is waited for, at most: a computer that runs several tests at once may be slow.
BROWSER_PATIENCE_MS = 240_000
_LOCAL_SCHEMES = {"data", "blob", "about", "chrome", "devtools"}


@pytest.fixture(scope="session", autouse=True)
def _no_waiting_for_the_disk() -> Iterator[None]:
    """Leave it to the system when to write to the disk: thousands of files are, and nobody pulls the plug."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        yield


@pytest.fixture(scope="module")
def compiled_sets() -> Iterator[None]:
    """Simulate and read logs compiled in a file, where numba is there: what it holds hangs on no last digit."""
    from workbench.fit import reading
    from workbench.simulate import fused

    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("WORKBENCH_FUSED", raising=False)
        for module in (fused, reading):
            patch.setattr(module, "_compiled", None)  # and again afterwards
        reading.load()
        yield


@pytest.fixture(scope="module", params=["plain", "compiled"])
def core(request: pytest.FixtureRequest) -> Iterator[Callable[[ModuleType], ModuleType]]:
    """Give a module of the compiled core: as plain Python, where a change of it is seen at once, and compiled."""
    if request.param == "compiled":
        pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
        yield lambda module: module
        return
    with np.errstate(over="ignore"):  # differences of bits go round
        yield plain


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of a Chromium that is installed on this computer; without one the test is skipped."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return found
    pytest.skip("no Chromium on the PATH: install the system's chromium package to run browser tests")


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Any]:
    """One headless browser for the tests of a file; none keeps anything for the next, for each opens a window anew."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install '.[test]'")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=_CHROMIUM_OPTIONS)
        yield browser
        browser.close()


@contextmanager
def _window(browser: Any) -> Iterator[Any]:
    """Page of a fresh window; fails in the end if anything asked for an address outside this computer."""
    asked: list[str] = []
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(BROWSER_PATIENCE_MS)
    context.on("request", lambda request: asked.append(request.url))
    try:
        yield context.new_page()
    finally:
        context.close()
    outside = [
        url for url in asked if urlsplit(url).scheme not in _LOCAL_SCHEMES and urlsplit(url).hostname != "127.0.0.1"
    ]
    assert outside == [], "requests left this computer"


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """Page of a fresh window; the test fails if anything asked for an address outside this computer."""
    with _window(browser) as page:
        yield page


@pytest.fixture(scope="module")
def lasting_page(browser: Any) -> Iterator[Any]:
    """A page as `page` is, one for all tests of a file: for what is drawn anew and keeps nothing."""
    with _window(browser) as page:
        yield page
