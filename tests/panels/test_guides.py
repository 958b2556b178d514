"""The guides name only what stands in the app: each page, each button, control and heading, on the page where it is."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pytest

from workbench.panels.app import PAGES, App
from workbench.panels.frame import parts_of
from workbench.panels.guides import NAMED, GuidesPage, guides
from workbench.reference.sources import notebooks_path

STEPS = [(name, step) for name, steps in guides().items() for step in steps]


def labels(root: Any) -> set[str]:
    """Everything that a page calls something: what can be pressed or changed, tabs, headings, parts that open."""
    found: set[str] = set()
    for part in parts_of(root):
        found.add(getattr(part, "description", ""))
        found.update(getattr(part, "titles", ()))
        if isinstance(part, widgets.ToggleButtons):
            found.update(map(str, part.options))
        elif isinstance(part, widgets.HTML):
            found.update(unescape(text).strip() for text in re.split(r"<[^>]*>", part.value))
        for name in ("form", "html", "value"):
            text = getattr(part, name, "")
            if isinstance(text, str) and "<button" in text:
                found.update(unescape(one).strip() for one in re.split(r"<[^>]*>", text))
    return found


@pytest.mark.slow  # opens every page of the app
def test_every_name_in_a_guide_stands_on_its_page(every_page: App) -> None:
    for key in {step.page for _, step in STEPS if step.page}:
        there = labels(every_page.pages[key].root)
        named = {name for _, step in STEPS if step.page == key for name in NAMED.findall(step.text)}
        assert named - there == set(), key


def test_what_is_done_elsewhere_is_there_too() -> None:
    (elsewhere,) = [step.text for _, step in STEPS if not step.page]
    numbers = re.findall(r"\b\d\d\b", elsewhere)
    assert numbers == ["07", "08", "10"]
    assert set(numbers) <= {path.name[:2] for path in notebooks_path().glob("*.ipynb")}


def test_a_guide_is_a_short_walk_and_the_first_one_takes_two_minutes() -> None:
    assert all(5 <= len(steps) <= 8 for steps in guides().values())
    tour, *_ = guides().values()
    # Half of two minutes is for reading, at 200 words a minute; the other half for looking and pressing.
    assert sum(len(step.text.split()) for step in tour) <= 200


def test_a_step_goes_to_its_page_and_the_walk_is_there_on_coming_back(tmp_path: Path) -> None:
    app = App(tmp_path)
    app.go("guides")
    page = app.pages["guides"]
    assert isinstance(page, GuidesPage)
    titles = {one.key: one.title for one in PAGES}
    for name, steps in guides().items():
        page.guide.value = name
        (walk,) = [walk for walk in page._place.children if walk.layout.display != "none"]
        assert [line.children[0].description for line in walk.children if line.children[0].description] == [
            f"{number}. {titles[step.page]}" for number, step in enumerate(steps, start=1) if step.page
        ]
    page.guide.value = "Coach"
    page._walks["Coach"].children[0].children[0].click()
    assert app.pages["lifter"].root in list(parts_of(app.root))
    app.go("guides")
    assert page.root in list(parts_of(app.root))
    assert page.guide.value == "Coach"
