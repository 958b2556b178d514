"""Milliseconds from the key that says "set done" to the new text of today's page, and of the processor behind it.

Sets are typed as they are offered, with random misses and reserves, in the sessions of the demo's first weeks. How busy
the machine is stands beside it: on a busy one the wall clock says little, the processor time of the kernel more.
"""

from __future__ import annotations

import argparse
import os
import random
from pathlib import Path
from typing import Any

import numpy as np

from tests.browser.demo_app import demo_app, go_to
from tests.browser.test_app import kernel_of

#: Presses Enter on the button, and waits until the page shows another set and has painted it.
PRESS = """() => new Promise((done) => {
  const page = document.querySelector('.today'), entry = page.dataset.entry, root = page.parentElement.parentElement;
  const start = performance.now();
  new MutationObserver((_, watch) => {
    const now = document.querySelector('.today');
    if (!now || now.dataset.entry === entry) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - start)));
  }).observe(root, { childList: true, subtree: true });
  page.querySelector('button.main').click();
})"""


CHANGED = "before => document.querySelector('.today').dataset.session !== before"


def processor_ms(process: int) -> float:
    """Processor time that a process has used so far, [ms]."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return 1000.0 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def said(name: str, values: list[float]) -> str:
    return f"{name}: p50 {np.quantile(values, 0.5):.0f}, p95 {np.quantile(values, 0.95):.0f}, most {max(values):.0f} ms"


def go_on(page: Any) -> None:
    """Choose the next session, of the next week after the last one of a week."""
    before = page.locator(".today").get_attribute("data-session")
    session, week = (page.get_by_label(label, exact=True) for label in ("session", "week"))
    at, last = session.evaluate("one => [one.selectedIndex, one.options.length - 1]")
    if at == last:
        week.select_option(index=week.evaluate("one => one.selectedIndex") + 1)
        page.wait_for_function(CHANGED, arg=before)
        before = page.locator(".today").get_attribute("data-session")
    session.select_option(index=0 if at == last else at + 1)
    page.wait_for_function(CHANGED, arg=before)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=60)
    wanted, rng = parser.parse_args().sets, random.Random(1)
    wall: list[float] = []
    processor: list[float] = []
    with demo_app() as page:
        go_to(page, "Today")
        page.wait_for_selector(".today form.set")
        kernel = kernel_of(page)
        page.locator(".workbench-today .jupyter-widget-Collapse-header").click()
        while len(wall) < wanted:
            if not page.locator(".today form.set").count():
                go_on(page)
            failed = page.locator(".today input[name=failed]")
            failed.set_checked(rng.random() < 0.15)
            if not failed.is_checked():
                page.locator(f".today input[name=reserve][value='{rng.choice(['', '1', '2', '3', '4+'])}']").check()
            page.wait_for_selector(".today button.main:enabled")
            used = processor_ms(kernel)
            wall.append(page.evaluate(PRESS))
            processor.append(processor_ms(kernel) - used)
    print(f"{len(wall)} sets, load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(said("from the key to the new text", wall))
    print(said("processor time of the kernel", processor))


if __name__ == "__main__":
    main()
