"""Every line of the app that can be typed into: what is typed is taken as it stands, said, or refused."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets
import pytest

from workbench.panels.app import PAGES, App
from workbench.panels.controls import NumberControl, NumberRange
from workbench.panels.fields import Field
from workbench.panels.panel import Panel
from workbench.quantities import KG_PER_LB
from workbench.reference.gym_folder import GymFolder

pytestmark = pytest.mark.slow  # every page of the app is made

#: Lines of plain words: nothing in them is a number.
WORDS = {
    *("its path", "folder", "lifters in", "find an exercise", "reason", "decided by"),
    "own sets",  # read by `own_sets_table`, which has its own table of cases
}
#: What is typed, and the numbers that a person can mean by it; text that is no number means none.
TYPED: dict[str, set[float]] = {
    "12,5": {12.5},
    "7": {7.0, 420.0},  # minutes, where seconds are asked for and 7 of them would be no rest
    "70": {70.0},
    "150 lb": {150.0, 150.0 * KG_PER_LB, round(150.0 * KG_PER_LB, 1)},
    "1,250": {1.25, 1250.0},
    "1:30": {90.0},
    "2 min": {120.0, 2.0},
    "-5": {-5.0},
    "60 to 75": {60.0, 75.0},
    "": set(),
    "   ": set(),
    "abc": set(),
    "12abc": set(),
    "nan": set(),
    "9" * 400: set(),
    "1e3": {1000.0},
    "²": {2.0},
}
#: Reads as a name or note as well as anything else does.
_PLAIN_TEXT = {"name", "its name", "name of the block", "name of the copy", "note", "note for the sheet"}
_PLAIN_TEXT |= {"what it is for (names of machines count)"}


@dataclass
class Line:
    """A line, and what it belongs to: a field of an editor, a slider with a line, or nothing."""

    page: str
    label: str
    text: widgets.Widget
    owner: Any

    @property
    def said(self) -> str:
        return re.sub(r"<[^>]*>", "", self.owner.said.value)


def lines_of(key: str, root: widgets.Widget) -> Iterator[Line]:
    def walk(part: widgets.Widget, above: list[widgets.Widget]) -> Iterator[Line]:
        if isinstance(part, widgets.Text | widgets.Textarea | widgets.Combobox):
            owner = next((one for one in reversed(above) if isinstance(one, Field | NumberControl | NumberRange)), None)
            yield Line(key, part.description or getattr(owner, "description", ""), part, owner)
        for child in getattr(part, "children", ()):
            yield from walk(child, [*above, part])

    return walk(root, [])


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The app on the demo's gym, every page made, where nothing is worked out after a change."""
    gym = GymFolder(tmp_path_factory.mktemp("fields") / "gym")
    gym.make()
    gym.add_demo()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Panel, "_ask", lambda _panel: None)
        patch.setattr(Panel, "take_steps", taking_only_what_prepares(Panel.take_steps))
        app = App(gym.path)
        for page in PAGES:
            app.go(page.key)
        yield app


def taking_only_what_prepares(take: Any) -> Any:
    """Return a way to take steps that fills the controls and works nothing out."""

    def steps(panel: Panel, *, at_once: bool = False) -> None:
        for step in panel._steps:
            step.due = step.due and step.prepares
        take(panel, at_once=at_once)

    return steps


def numbers_in(value: Any) -> set[float]:
    """Numbers that a field holds, of whatever it makes of them."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return set()
    if isinstance(value, int | float):
        return {float(value)}
    if hasattr(value, "value") and hasattr(value, "unit"):
        return {float(value.value)}
    try:
        return {number for part in value for number in numbers_in(part)}
    except TypeError:
        return {float(value)}


def plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def test_every_line_goes_through_a_reader_or_holds_words(app):
    lines = [line for page in PAGES for line in lines_of(page.key, app.pages[page.key].root)]
    assert len(lines) > 100
    assert {line.label for line in lines if line.owner is None} <= WORDS


def test_no_box_of_the_browser_reads_a_number_by_itself(app):
    readers = (widgets.FloatText, widgets.IntText, widgets.BoundedFloatText, widgets.BoundedIntText)

    def walk(part: widgets.Widget) -> Iterator[widgets.Widget]:
        yield part
        for child in getattr(part, "children", ()):
            yield from walk(child)

    found = [part for page in app.pages.values() for part in walk(page.root) if isinstance(part, readers)]
    assert found == []


@pytest.mark.parametrize("key", [page.key for page in PAGES])
def test_nothing_that_is_typed_becomes_another_number_in_silence(app, key):
    for line in lines_of(key, app.pages[key].root):
        if line.owner is None or line.label in _PLAIN_TEXT:
            continue
        for typed, meant in TYPED.items():
            before = line.owner.value
            line.text.value = "\u2060"  # so that the same text again is typed again
            line.text.value = typed
            after, where = line.owner.value, (line.page, line.label, typed[:20], line.said)
            if not typed.strip():
                # Blank is what there was, or nothing where that may be.
                assert after == before or after in (None, "", [], ()), where
                continue
            held = numbers_in(after)
            if after != before:
                assert held, where
                assert held <= meant | {number / 100.0 for number in meant}, where  # a percent may be held as a part
            assert line.said or plain(line.text.value) == plain(typed), where
            if not held & (meant | {number / 100.0 for number in meant}):
                assert line.said, where  # why it was not taken
