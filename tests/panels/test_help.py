"""Every sentence of help belongs to a control, and says more than the label."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from workbench.panels import frame
from workbench.panels.app import App


def everything(widget: Any) -> Iterator[Any]:
    yield widget
    for child in getattr(widget, "children", ()):
        yield from everything(child)


@pytest.fixture(scope="module")
def labels(every_page: App) -> set[str]:
    shown = [part for made in every_page.pages.values() for part in everything(made.root)]
    return {part.description for part in shown if getattr(part, "description", "")}


def test_help_uses_one_word_for_warm_up_sets_and_tells_a_piece_of_the_room_from_an_order() -> None:
    said = frame.help_sentences()
    assert not any("ramp" in sentence for sentence in said.values())
    assert "room" in said["done on"]


@pytest.mark.slow  # opens every page of the app
def test_every_sentence_belongs_to_a_control_of_the_app(labels: set[str]) -> None:
    assert set(frame.help_sentences()) - labels == set()


@pytest.mark.slow  # opens every page of the app
def test_numbers_that_change_the_answer_are_explained(labels: set[str]) -> None:
    asked = {label for label in labels if label.endswith((", %", ", s", "% of 1RM", ", min", "% at least", "a week"))}
    assert len(asked) > 12
    plain = {"days a week", "body mass, kg"}
    of_search = {label for label in asked if label.endswith("from and to")}
    assert asked - plain - of_search - set(frame.help_sentences()) == set()


def test_sentences_are_sentences_and_labels_stand_once() -> None:
    with Path(frame.__file__).with_name("help.csv").open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert len({row["label"] for row in rows}) == len(rows) > 60
    for row in rows:
        assert row["sentence"].endswith(".")
        assert 3 <= len(row["sentence"].split()) <= 30
        assert row["sentence"].casefold().rstrip(".") != row["label"].casefold()


def test_a_line_above_controls_is_a_heading_to_a_screen_reader():
    assert frame.heading("How sure?").value == '<b role="heading" aria-level="2">How sure?</b>'
