"""From a key on a control to the redrawn figure: milliseconds, processor time of the kernel, bytes to the page.

``python -m tests.browser.slider_speed``; and pictures a second while a slider is dragged. On a busy machine the wall
clock says little: its load stands beside it, and the processor time and the bytes say more.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from playwright.sync_api import Page

from tests.browser.demo_app import demo_app, go_to
from tests.browser.test_app import kernel_of
from tests.browser.today_speed import processor_ms

#: Pages, and the label of a slider of each; or of a line, with what is typed into it in turn.
CONTROLS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("One lift", "load of the room", ()),
    ("Check", "load in week 1, % of 1RM", ()),
    ("Drops", "reps wanted after the drop", ()),
    ("Session", "week", ()),
    ("Block", "load in week 1, % of 1RM", ("71", "72.5")),
)
#: Does something to a control, and waits until a figure of the page is drawn anew and painted; null where none is.
PRESS = """([control, press]) => new Promise((done) => {
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
  control.focus();
  if (press.startsWith('Arrow')) {
    control.dispatchEvent(new KeyboardEvent('keydown', { key: press, bubbles: true, cancelable: true }));
  } else {
    control.value = press;
    control.dispatchEvent(new Event('change', { bubbles: true }));
  }
})"""
#: Resolves when a panel has shown all that it had to say.
AT_REST = "() => !document.querySelector('.workbench-busy')"
COUNT = """() => {
  window.pictures = 0;
  for (const one of document.querySelectorAll('.workbench-figure')) {
    if (one.data) { one.on('plotly_afterplot', () => { window.pictures += 1; }); break; }
  }
}"""


@dataclass
class Presses:
    """What presses took, one by one [ms], and together of the kernel's processor [ms] and to the page [bytes]."""

    wall: list[float | None] = field(default_factory=list)
    processor: float = 0.0
    received: int = 0

    def __str__(self) -> str:
        seen = [one for one in self.wall if one is not None]
        at = ", ".join(f"p{100 * q:.0f} {np.quantile(seen, q):.0f}" for q in (0.5, 0.95)) if seen else "none"
        count = len(self.wall)
        return (
            f"{at} ms, {count - len(seen)} of {count} not redrawn; kernel {self.processor / count:.0f} ms and "
            f"{self.received / count / 1000:.0f} kB a redraw"
        )


def control_of(page: Page, label: str, typed: tuple[str, ...]) -> Any:
    """Find a control by its label, and show it."""
    slider = page.get_by_role("slider", name=label, exact=True).first
    if not typed:
        slider.wait_for()
    groups = page.get_by_label("set group to change", exact=True).locator("visible=true")
    if groups.count():
        groups.select_option(index=0)  # whose loads have no grid so coarse that a step of the slider changes nothing
    if not typed:
        return slider
    page.get_by_role("button", name="Exercises and sets", exact=True).click()
    return page.get_by_label(label, exact=True).locator("visible=true").first


def presses(page: Page, control: Any, keys: tuple[str, ...], wanted: int, pause_ms: float) -> Presses:
    """Press keys, or type texts, in turn, so that every one changes the value; the first two are not counted.

    Each a pause after the panel is at rest: without one the browser still draws tables when the next press comes.
    """
    found, handle, kernel = Presses(), control.element_handle(), kernel_of(page)
    sockets = page.context.new_cdp_session(page)
    sockets.send("Network.enable")
    arrived: list[int] = []
    # Bytes come as base64, of four letters for three of them.
    sockets.on("Network.webSocketFrameReceived", lambda of: arrived.append(3 * len(of["response"]["payloadData"]) // 4))
    for at in range(-2, wanted):
        page.wait_for_function(AT_REST)
        page.wait_for_timeout(pause_ms)
        used, before = processor_ms(kernel), len(arrived)
        took = page.evaluate(PRESS, [handle, keys[at % 2]])
        page.wait_for_function(AT_REST)
        if at >= 0:
            found.wall.append(took)
            found.processor += processor_ms(kernel) - used
            found.received += sum(arrived[before:])
    return found


def pictures_in_a_drag(page: Page, control: Any, seconds: float = 4.0) -> float:
    """Return how many pictures of the first figure there are in a second of dragging, every move to another value."""
    box = control.bounding_box()
    track = control.locator("xpath=ancestor::*[contains(@class, 'noUi-base')]").bounding_box()
    low, high = (float(control.get_attribute(f"aria-value{end}")) for end in ("min", "max"))
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    left, right = track["x"], track["x"] + track["width"]
    stride = max(4.0, (right - left) / (high - low))
    page.evaluate(COUNT)
    page.mouse.move(x, y)
    page.mouse.down()
    start = page.evaluate("performance.now()")
    for _ in range(int(seconds / 0.04)):
        if not left <= x + stride <= right:
            stride = -stride
        x += stride
        page.mouse.move(x, y)
        page.wait_for_timeout(40)
    took = (page.evaluate("performance.now()") - start) / 1000
    pictures = page.evaluate("window.pictures") / took
    page.mouse.up()
    return float(pictures)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--presses", type=int, default=40)
    parser.add_argument("--pause", type=float, default=0.0, help="between presses, ms; a hand takes some 250")
    parser.add_argument("--pages", nargs="*", default=[title for title, *_ in CONTROLS])
    chosen = parser.parse_args()
    with demo_app() as page:
        for title, label, typed in CONTROLS:
            if title not in chosen.pages:
                continue
            go_to(page, title)
            page.wait_for_selector(".workbench-figure .main-svg")
            control = control_of(page, label, typed)
            page.wait_for_timeout(3000)  # the rest of the page
            found = presses(page, control, typed or ("ArrowRight", "ArrowLeft"), chosen.presses, chosen.pause)
            drag = "" if typed else f"; {pictures_in_a_drag(page, control):.1f} pictures a second in a drag"
            print(f"{title}, {label}: {found}{drag}", flush=True)
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
