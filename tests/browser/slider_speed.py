"""Milliseconds from a key on a slider to the redrawn figure, and pictures a second while a slider is dragged.

``python -m tests.browser.slider_speed``; on a busy machine the wall clock says little, so its load stands beside it.
"""

from __future__ import annotations

import argparse
import os

import numpy as np
from playwright.sync_api import Page

from tests.browser.demo_app import demo_app, go_to

#: Pages, and the label of a slider of each.
SLIDERS = (
    ("One lift", "load of the room"),
    ("Check", "load in week 1, % of 1RM"),
    ("Drops", "reps wanted after the drop"),
    ("Session", "week"),
)
#: Presses the arrow key on the slider's handle, and waits until a figure of the page is drawn anew and painted.
PRESS = """([handle, key]) => new Promise((done) => {
  const plots = [...document.querySelectorAll('.workbench-figure')].filter((one) => one.data);
  const start = performance.now();
  let over = false;
  const drawn = () => {
    if (over) return;
    over = true;
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - start)));
  };
  for (const one of plots) one.once('plotly_afterplot', drawn);
  setTimeout(() => { if (!over) { over = true; done(null); } }, 5000);
  handle.focus();
  handle.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
})"""
COUNT = """() => {
  window.pictures = 0;
  for (const one of document.querySelectorAll('.workbench-figure')) {
    if (one.data) { one.on('plotly_afterplot', () => { window.pictures += 1; }); break; }
  }
}"""


def presses(page: Page, label: str, wanted: int) -> list[float | None]:
    """Press right and left in turn, so that every press changes the value."""
    handle = page.get_by_role("slider", name=label, exact=True).first.element_handle()
    return [page.evaluate(PRESS, [handle, ("ArrowRight", "ArrowLeft")[at % 2]]) for at in range(wanted)]


def pictures_in_a_drag(page: Page, label: str, seconds: float = 4.0) -> float:
    """Return how many pictures of the first figure there are in a second of dragging."""
    box = page.get_by_role("slider", name=label, exact=True).first.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.evaluate(COUNT)
    page.mouse.move(x, y)
    page.mouse.down()
    steps = int(seconds / 0.04)
    start = page.evaluate("performance.now()")
    for at in range(steps):
        page.mouse.move(x - 60 + abs(at % 60 - 30) * 4, y)
        page.wait_for_timeout(40)
    took = (page.evaluate("performance.now()") - start) / 1000
    found = page.evaluate("window.pictures") / took
    page.mouse.up()
    return float(found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--presses", type=int, default=40)
    wanted = parser.parse_args().presses
    with demo_app() as page:
        for title, label in SLIDERS:
            go_to(page, title)
            page.wait_for_selector(".workbench-figure .main-svg")
            page.wait_for_timeout(3000)  # the rest of the page
            took = presses(page, label, wanted)
            seen = [one for one in took if one is not None]
            at = ", ".join(f"p{100 * q:.0f} {np.quantile(seen, q):.0f}" for q in (0.5, 0.95)) if seen else "none"
            dragged = pictures_in_a_drag(page, label)
            print(
                f"{title}, {label}: {at} ms, {len(took) - len(seen)} of {wanted} not redrawn; "
                f"{dragged:.1f} pictures a second in a drag",
                flush=True,
            )
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
