"""The answers of the demonstration stay what they were, to the digit; see `tests.demo_answers` for how to move them."""

import json
import math

import pytest

from tests.demo_answers import KEPT, NAMES, answer, differences


@pytest.fixture(scope="module")
def kept():
    return json.loads(KEPT.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", NAMES)
def test_no_answer_moves_unmeant(name, kept):
    moved = list(differences(kept[name], answer(name)))
    assert moved == [], f"{len(moved)} moved; if that was meant: python -m tests.demo_answers"


def test_every_kept_answer_is_asked_for(kept):
    assert set(kept) == set(NAMES)


@pytest.mark.parametrize(
    ("before", "after", "found"),
    [
        ({"a": [1, {"b": 2.0}]}, {"a": [1, {"b": 2.0 * (1 + 1e-8)}]}, ["a[1].b: 2.0 -> 2.00000002"]),
        ({"a": 2.0}, {"a": 2.0 * (1 + 1e-10)}, []),
        ({"a": 1}, {"a": 1, "b": 2}, ["b: new"]),
        ({"a": 1, "b": 2}, {"a": 1}, ["b: gone"]),
        ([1, 2], [1], [": 2 entries -> 1"]),
        ({"a": math.nan}, {"a": math.nan}, []),
        ({"a": math.nan}, {"a": 0.0}, ["a: nan -> 0.0"]),
        ({"a": None}, {"a": 0}, ["a: None -> 0"]),
        ({"a": True}, {"a": 1}, ["a: True -> 1"]),
        ({"a": "yes"}, {"a": "no"}, ["a: 'yes' -> 'no'"]),
    ],
)
def test_what_counts_as_moved(before, after, found):
    assert list(differences(before, after)) == found
