"""The guides: short walks through the app, step by step, each step with the page that it is done on."""

from __future__ import annotations

import csv
import re
from functools import cache
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import ipywidgets as widgets

from workbench.panels.frame import NameControls, show_only

if TYPE_CHECKING:
    from workbench.panels.app import App

__all__ = ["NAMED", "GuideStep", "GuidesPage", "guides"]

#: What a step names as it stands on its page: a button, a control, a heading.
NAMED: Final = re.compile(r"\*\*(.+?)\*\*")


class GuideStep(NamedTuple):
    """The key of a page, empty where the step is done elsewhere, and what to do there; names stand between **."""

    page: str
    text: str


@cache
def guides() -> dict[str, tuple[GuideStep, ...]]:
    """Return the steps of each guide by its name, as ``guides.csv`` has them."""
    text = Path(__file__).with_name("guides.csv").read_text(encoding="utf-8")
    found: dict[str, tuple[GuideStep, ...]] = {}
    for row in csv.DictReader(text.splitlines()):
        found[row["guide"]] = (*found.get(row["guide"], ()), GuideStep(row["page"], row["text"]))
    return found


class GuidesPage:
    """A guide to choose, and its steps, each with a button that goes to its page.

    Parameters
    ----------
    app : App
        Whose pages the buttons go to.

    Attributes
    ----------
    root : ipywidgets.VBox
    guide : ipywidgets.ToggleButtons
    """

    def __init__(self, app: App) -> None:
        self.guide = widgets.ToggleButtons(options=list(guides()), description="walk")
        self._walks = {name: _walk(app, steps) for name, steps in guides().items()}
        self._place = widgets.VBox(list(self._walks.values()))
        names = NameControls()
        names.add_class("workbench-name-controls")
        self.root = widgets.VBox([names, self.guide, self._place])
        self.root.add_class("workbench-guides")
        self.guide.observe(lambda _change: self._show(), "value")
        self._show()

    def _show(self) -> None:
        show_only(self._place, [self._walks[self.guide.value]])


def _walk(app: App, steps: tuple[GuideStep, ...]) -> widgets.VBox:
    lines = []
    for number, step in enumerate(steps, start=1):
        text = NAMED.sub(r"<b>\1</b>", escape(step.text))
        title = app.title_of(step.page) if step.page else ""
        button = app.link(step.page, f"{number}. {title}") if title else widgets.HTML(f"{number}.")
        line = widgets.Box([button, widgets.HTML(text)])
        line.add_class("workbench-guide-step")
        lines.append(line)
    return widgets.VBox(lines)
