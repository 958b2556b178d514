"""Take the README's pictures of the app, on the invented gym: ``python -m tests.browser.gallery``."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

from tests.browser.demo_app import demo_app, go_to
from tests.browser.every_page import come_to_rest

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
    go_to(page, title)
    page.wait_for_selector(f"h1 >> text={title}")
    page.wait_for_selector("text=One moment", state="detached")
    page.wait_for_selector(there)
    page.wait_for_selector(".workbench-busy", state="detached")
    come_to_rest(page)
    page.screenshot(path=PICTURES / f"{name}.png")


def main() -> None:
    """Write every picture anew."""
    PICTURES.mkdir(exist_ok=True)
    with demo_app() as page:
        for wanted in WANTED:
            take(page, *wanted)


if __name__ == "__main__":
    main()
