"""The app on a copy of the invented gym, open in a browser, for the scripts that measure it or take its picture."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from workbench.commands.notebook_server import open_app, running_lab
from workbench.reference.gym_folder import GymFolder

__all__ = ["demo_app", "go_to"]


@contextmanager
def demo_app(width: int = 1280, height: int = 900) -> Iterator[Page]:
    """Return a page that shows the app's start page, filled, while the ``with`` block lasts."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        open_app(Path(folder) / "gym")
        GymFolder(f"{folder}/gym").add_demo()
        with running_lab(Path(folder) / "gym") as lab:
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": width, "height": height})
            page.set_default_timeout(120_000)
            page.goto(lab.app_address)
            page.wait_for_selector("h2 >> text=What is next")
            yield page
            browser.close()


def go_to(page: Page, title: str) -> None:
    """Go to a page of the app by its place in the list of pages, which on a phone is opened first."""
    if (pages := page.locator(".workbench-pages")).is_visible() and pages.get_attribute("aria-expanded") == "false":
        pages.click()
    page.locator(".workbench-steps").get_by_role("button", name=title, exact=True).click()
