"""Take the README's pictures of the app, on the invented gym: ``python -m tests.browser.gallery``."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from workbench.commands.notebook_server import open_app, running_lab
from workbench.reference.gym_folder import GymFolder

PICTURES = Path(__file__).with_name("gallery")
#: Name of the picture, page, what must be there, width and height in px, light or dark.
WANTED = (
    ("check", "Check", ".heatmaplayer", 1280, 900, "light"),
    ("session_dark", "Session", ".barlayer", 1280, 760, "dark"),
    ("block", "Block", ".heatmaplayer", 1280, 900, "light"),
    ("today_phone", "Today", ".today", 390, 780, "light"),
)


def take(page: Page, name: str, title: str, there: str, width: int, height: int, look: str) -> None:
    """Go to a page of the app, wait until it has answered, and keep what is seen."""
    page.emulate_media(color_scheme=look)
    page.set_viewport_size({"width": width, "height": height})
    page.get_by_role("button", name=title, exact=True).first.click()
    page.wait_for_selector(there, timeout=60_000)
    page.wait_for_selector(".workbench-busy", state="detached")
    page.wait_for_timeout(1500)  # figures take the new width
    page.screenshot(path=PICTURES / f"{name}.png")


def main() -> None:
    """Write every picture anew."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        open_app(Path(folder) / "gym")
        GymFolder(f"{folder}/gym").add_demo()
        with running_lab(Path(folder) / "gym") as lab:
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            page = browser.new_page()
            page.goto(lab.app_address)
            page.get_by_role("button", name="Check", exact=True).first.wait_for(timeout=60_000)
            for wanted in WANTED:
                take(page, *wanted)
            browser.close()


if __name__ == "__main__":
    main()
