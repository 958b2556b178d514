"""The canonical TOML: whatever was read reads back the same, and hostile text stays text."""

import datetime
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.prescription.block import Block, read_block
from workbench.prescription.schemes import SCHEMES, exercise_block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text, validate

DEMO = data_path("demo")


def again(model, kind, catalogue=None):
    return validate(tomllib.loads(toml_text(model)), kind, context=catalogue)


def test_the_demonstration_files_come_back():
    block = read_block(DEMO / "block.toml")
    assert again(block, Block) == block
    for path in (DEMO / "lifters").glob("*.toml"):
        lifter = read_lifter(path)
        assert again(lifter, Lifter, lifter.catalogue) == lifter
    for path in (DEMO / "rooms").glob("*.toml"):
        room = read_room(path)
        assert again(room, Room) == room


def test_a_date_is_written_as_one():
    lifts = {"back squat": {"one_rm_kg": 100, "tested": datetime.date(2026, 2, 3)}}
    lifter = validate({"name": "Invented", "lifts": lifts}, Lifter)
    assert "tested = 2026-02-03\n" in toml_text(lifter)
    assert again(lifter, Lifter) == lifter


@pytest.mark.parametrize("label", SCHEMES)
def test_every_scheme_comes_back(label):
    block = exercise_block("back squat", SCHEMES[label](weeks=5), weeks=5)
    assert again(block, Block) == block
    assert toml_text(again(block, Block)) == toml_text(block)


#: No control characters, ends of lines that nobody sees, or turns of the direction of writing; notes may have lines.
LETTERS = st.characters(
    exclude_categories=("Cc", "Cs", "Zl", "Zp"),
    exclude_characters="\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
)


@given(name=st.text(LETTERS, min_size=1, max_size=80), note=st.text(LETTERS | st.sampled_from("\n\t"), max_size=200))
def test_any_text_comes_back(name, note):
    block = exercise_block("back squat", SCHEMES["wave"](), weeks=2).model_copy(update={"name": name, "note": note})
    assert again(block, Block) == block
