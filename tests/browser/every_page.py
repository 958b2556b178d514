"""Every page of the app on the invented gym, at three widths, light and dark, as pictures: what is to be looked at.

``python -m tests.browser.every_page --out DIR [--axe axe.min.js] [--pages Check Today]``. Prints where a page is wider
than its screen, where words are cut, which controls are too small for a thumb, and with axe what that finds. Beside the
pictures lie each page as a screen reader reads it out, in text, and the sheets and the rationale that were committed on
the way, printed on A4 and Letter.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlsplit

from playwright.sync_api import Page

from tests.browser.demo_app import demo_app
from tests.browser.hands import Mouse
from workbench.panels.app import PAGES

__all__ = ["LOOKS", "WIDTHS", "come_to_rest", "faults", "states_of", "take_look"]

#: Laptop, tablet held upright, phone; in CSS px.
WIDTHS: Final = (1280, 820, 390)
LOOKS: Final = ("light", "dark")
#: Least side of what a thumb presses on a phone, px; WCAG 2.2 asks for 24 at least and, for comfort, for 44.
THUMB_PX: Final = 40

#: Height of a screen, px.
HEIGHT: Final = 900
#: The app scrolls in a box of its page.
_HEIGHT = "() => document.querySelector('#rendered_cells').scrollHeight"

# A figure takes width and colours of its page a little later than the page has them.
_STILL = """async () => {
  const paper = getComputedStyle(document.querySelector(".workbench-place")).backgroundColor;
  const now = () => {
    const drawn = [...document.querySelectorAll(".workbench-figure .main-svg:first-child")]
      .filter((svg) => svg.clientWidth);
    const late = drawn.some((svg) => getComputedStyle(svg).backgroundColor !== paper);
    const { scrollHeight } = document.querySelector("#rendered_cells");
    return late ? null : [scrollHeight, ...drawn.map((svg) => svg.clientWidth)].join();
  };
  for (let before = null, frames = 0, all = 0; frames < 12; all += 1) {
    if (all > 3000) throw Error("the page never comes to rest");
    await new Promise(requestAnimationFrame);
    const found = now();
    frames = found !== null && found === before ? frames + 1 : 0;
    before = found;
  }
}"""

_FAULTS = """(thumb) => {
  const found = [];
  const shown = (node) => node.getClientRects().length && getComputedStyle(node).visibility !== "hidden";
  const said = (node) => (node.getAttribute("aria-label") || node.labels?.[0]?.textContent || node.textContent ||
    node.title || node.tagName).trim().slice(0, 60);
  const all = document.querySelector("#rendered_cells");
  if (all.scrollWidth > all.clientWidth) found.push(`the page is ${all.scrollWidth} px wide`);
  const words = ".workbench-app :is(label, button, h1, h2, h3, p, li, th, td, select:not([multiple]))";
  for (const node of document.querySelectorAll(words)) {
    if (!shown(node) || !node.textContent.trim()) continue;
    const look = getComputedStyle(node);
    if (look.overflowX !== "visible" && node.scrollWidth > node.clientWidth + 1) found.push(`cut: ${said(node)}`);
  }
  const stops = ".workbench-app :is(button, select, input:not([type=hidden]), textarea, summary, .noUi-handle)";
  if (innerWidth < 600) for (const node of document.querySelectorAll(stops)) {
    const target = node.matches("[type=radio], [type=checkbox]") ? node.closest("label") ?? node : node;
    const box = target.getBoundingClientRect();
    const least = node.matches(".noUi-handle") ? 24 : thumb; // its line can be pressed, too
    if (shown(node) && Math.round(Math.min(box.width, box.height)) < least)
      found.push(`small, ${Math.round(box.width)} x ${Math.round(box.height)} px: ${said(node)}`);
  }
  for (const node of document.querySelectorAll(".workbench-app .noUi-handle"))
    if (shown(node) && !node.getAttribute("aria-valuetext")) found.push(`a slider says no value: ${said(node)}`);
  return [...new Set(found)];
}"""
#: In what a screen reader reads out: a slider, and its value once more behind it.
_TWICE = re.compile(r'- slider "(.*)".*\n *- text: "?\d')


def _offered(hands: Mouse, label: str) -> list[str]:
    names = hands.main.get_by_label(label, exact=True).locator("visible=true").locator("option").all_inner_texts()
    return [name.replace("\xa0", " ") for name in names]


def _check(hands: Mouse) -> None:
    hands.press("find what would mend it")
    hands.press("not known, or luck?")
    hands.type("sets, typed", "2")
    hands.press("Keep as a new block")


def _commit(hands: Mouse) -> None:
    hands.type("reason", "Two weeks of more work before the lighter week.")
    hands.type("decided by", "A coach")
    for other in _offered(hands, "instead of"):
        hands.choose("instead of", other)
        hands.type(f"why not {other}", "too long for the hall's hours")
    hands.type("starts on", "5 Jan 2026")
    for button in ("Commit", "Write the reasons", "Hand out the sheets"):
        hands.press(button)


def _today(hands: Mouse) -> None:
    for part in hands.main.locator(".today summary").all():
        part.click()


#: What is done on a page before a second picture of it, by its key.
_WORK: Final[dict[str, Callable[[Mouse], None]]] = {
    "check": _check,
    "compare": lambda hands: hands.choose("blocks", *_offered(hands, "blocks")),
    "team": lambda hands: hands.press("Check the roster"),
    "decide": lambda hands: hands.press("Find"),
    "commit": _commit,
    "today": _today,
    "review": lambda hands: hands.press("Go through the logs"),
    "gym": lambda hands: hands.press("Read all logs"),
}


def states_of(hands: Mouse, key: str, title: str) -> Iterator[str]:
    """Go to a page, and bring it into each of its states: as it opens, every section of its editor, answered."""
    hands.go(title)
    yield key
    sections = hands.main.locator(".workbench-sections button >> visible=true").all_inner_texts()
    for section in sections[1:]:
        hands.show(section)
        yield f"{key}_{section.strip().replace(' ', '_')}"
    if key in _WORK:
        _WORK[key](hands)
        yield f"{key}_answered"


def come_to_rest(page: Page) -> None:
    """Wait until figures have the width and the colours of their page."""
    page.evaluate(_STILL)


def take_look(page: Page, width: int, look: str) -> None:
    """Show the whole page at a width, light or dark, and wait until its figures have followed."""
    page.emulate_media(color_scheme=look)  # type: ignore[arg-type]
    page.set_viewport_size({"width": width, "height": HEIGHT})
    page.wait_for_selector(f"body[data-jp-theme-light={json.dumps(str(look == 'light').lower())}]")
    come_to_rest(page)
    page.set_viewport_size({"width": width, "height": max(HEIGHT, page.evaluate(_HEIGHT))})
    come_to_rest(page)


def faults(page: Page) -> list[str]:
    """Return what is wider than the screen, cut, on a phone too small for a thumb, or not said once by a reader."""
    twice = [f"said twice: {name}" for name in _TWICE.findall(page.get_by_role("main").aria_snapshot())]
    return [*page.evaluate(_FAULTS, THUMB_PX), *twice]


def _scan(page: Page, axe: str) -> list[str]:
    """Return what axe finds, the worst first."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(axe)
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")["violations"]
    order = ["critical", "serious", "moderate", "minor"]
    lines = []
    for rule in sorted(found, key=lambda rule: order.index(rule["impact"])):
        node: dict[str, Any] = rule["nodes"][0]
        why = node["any"][0]["message"] if node["any"] else rule["help"]
        lines.append(f"axe, {rule['impact']}: {rule['id']} x {len(rule['nodes'])}: {why} {node['html'][:200]}")
    return lines


def print_what_is_handed_out(page: Page, out: Path) -> None:
    """Keep the sheets and the rationale that the page links to, and print them on A4 and Letter, as PDF."""
    for link in page.locator(".workbench-place a[href^='/files/']").all():
        # As the browser asks that follows the link: the server hands nothing to who says not where it comes from.
        answer = page.request.get(link.evaluate("(link) => link.href"), headers={"referer": page.url})
        assert answer.ok, answer.status_text
        file = out / Path(unquote(urlsplit(answer.url).path)).name
        file.write_bytes(answer.body())
        if file.suffix == ".html":
            assert page.context.browser is not None
            paper = page.context.browser.new_page()
            paper.goto(file.as_uri())
            paper.emulate_media(media="print")
            for name in ("A4", "Letter"):
                paper.pdf(path=out / f"{file.stem}_{name}.pdf", format=name, print_background=True)
            paper.close()


def main() -> None:
    """Take the pictures, and say what a machine can see."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--out", type=Path, required=True, help="folder for the pictures")
    parser.add_argument("--axe", type=Path, help="axe.min.js, not part of this package")
    parser.add_argument("--pages", nargs="*", help="titles of pages; all where left out")
    parser.add_argument("--widths", nargs="*", type=int, default=WIDTHS, help="px")
    parser.add_argument("--looks", nargs="*", choices=LOOKS, default=LOOKS)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    axe = asked.axe.read_text(encoding="utf-8") if asked.axe else ""
    told: set[tuple[str, int, str]] = set()
    with demo_app() as page:
        hands = Mouse(page)
        page.reload()
        page.wait_for_selector("h2 >> text=What is next")
        for one in PAGES:
            if asked.pages and one.title not in asked.pages:
                continue
            for state in states_of(hands, one.key, one.title):
                for width in asked.widths:
                    for look in asked.looks:
                        take_look(page, width, look)
                        page.screenshot(path=asked.out / f"{state}_{width}_{look}.png")
                        found = [*faults(page), *(_scan(page, axe) if axe else [])]
                        for line in found:
                            if (state.split("_")[0], width, line) not in told:
                                print(f"{state}, {width} px, {look}: {line}", flush=True)
                            told.add((state.split("_")[0], width, line))
                take_look(page, WIDTHS[0], LOOKS[0])
                (asked.out / f"{state}.txt").write_text(page.get_by_role("main").aria_snapshot(), encoding="utf-8")
                print_what_is_handed_out(page, asked.out)
        for line in hands.complaints:
            print(f"console: {line}")


if __name__ == "__main__":
    main()
