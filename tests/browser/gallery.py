"""Take the README's pictures of the app, on the invented gym: ``python -m tests.browser.gallery``."""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Page

import workbench as wb
from tests.browser.demo_app import demo_app, go_to
from tests.browser.every_page import come_to_rest
from workbench.publish.commit import Alternative, Decision, commit_block
from workbench.publish.rationale import write_rationale
from workbench.reference.sources import data_path

PICTURES = Path(__file__).with_name("gallery")
#: Name of the picture, page, what must be there, width and height in px, light or dark.
WANTED = (
    ("check", "Check", ".heatmaplayer", 1280, 900, "light"),
    ("session_dark", "Session", ".barlayer", 1280, 760, "dark"),
    ("block", "Block", ".heatmaplayer", 1280, 900, "light"),
    ("guides", "Guides", ".workbench-guide-step", 1280, 620, "light"),
    ("today_phone", "Today", ".today", 390, 780, "light"),
)


def take(page: Page, name: str, title: str, there: str, width: int, height: int, look: str) -> None:
    """Go to a page of the app, wait until it has answered, and keep what is seen."""
    page.emulate_media(color_scheme=look)
    page.set_viewport_size({"width": width, "height": height})
    go_to(page, title)
    page.wait_for_selector(f"h1 >> text={title}")
    page.wait_for_selector("text=One moment", state="detached")
    page.wait_for_selector(f"{there} >> visible=true", timeout=60_000)
    page.wait_for_selector(".workbench-busy", state="detached")
    come_to_rest(page)
    page.screenshot(path=PICTURES / f"{name}.png")


def take_rationale(page: Page) -> None:
    """Commit the block of the invented gym, and keep what is seen first of the page that says why."""
    demo = data_path("demo")
    block = wb.read_block(demo / "block.toml")
    longer = wb.change(block, wb.Where("Monday, heavy pull", 1), rest_s=150)
    others = (
        Alternative("Longer rests on Monday", longer, "A minute more between pulls does not fit into the hall's hour."),
    )
    decision = Decision("Strong pulls before the spring races; the last week is light.", "C. Oach", others)
    lifter, room = (
        wb.read_lifter(demo / "lifters" / "emre_sandoval.toml"),
        wb.read_room(demo / "rooms" / "boathouse_hall.toml"),
    )
    with tempfile.TemporaryDirectory() as folder:
        committed = commit_block(block, [lifter], room, decision, folder=Path(folder) / "committed")
        written = write_rationale(committed.path, Path(folder) / "rationale.html")
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": 820, "height": 1080})
        page.goto(written.as_uri())
        page.screenshot(path=PICTURES / "rationale.png")


def main() -> None:
    """Write every picture anew."""
    PICTURES.mkdir(exist_ok=True)
    with demo_app() as page:
        for wanted in WANTED:
            take(page, *wanted)
        take_rationale(page)


if __name__ == "__main__":
    main()
