"""The lifter editor, driven as a person would: a lifter of whom little is known, and one whose shoulder is sore."""

from __future__ import annotations

import math

import numpy as np
import pytest

from workbench.answers.start_loads import start_loads
from workbench.gym.catalogue import joint_positions
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.panels.lifter_editor import LifterEditor
from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

LIFTERS = sorted(data_path("demo", "lifters").glob("*.toml"))


def new(name: str = "Ada Quill") -> LifterEditor:
    editor = LifterEditor()
    editor.name.typed.value = name
    return editor


def add(editor: LifterEditor, words: str, name: str) -> None:
    editor.finder.text.value = words
    editor.finder.found.value = name
    editor.add.click()
    assert editor.trouble.value == ""
    assert editor.lift.value == name


def test_a_name_is_enough_and_comes_first():
    editor = LifterEditor()
    assert "type a name" in editor.answer.value
    editor.years.typed.value = "3"
    assert "type the name first" in editor.years.problem
    editor.name.typed.value = "Ada  Quill"
    assert editor.value == validate({"name": "Ada Quill", "lifts": {}}, Lifter)
    assert "search for every load" in editor.answer.value


def test_one_lift_is_said_as_one():
    editor = new()
    add(editor, "bench", "bench press")
    editor.fields.remembered.typed.value = "70 kg, 5 reps, 2 left"
    assert "One lift of Ada Quill is known." in editor.answer.value


def test_what_is_typed_reaches_the_file(tmp_path):
    editor = new()
    editor.sex.choice.value = "female"
    editor.years.typed.value = "3,5 years"
    editor.mass.typed.value = "150 lb"
    add(editor, "bench", "bench press")
    editor.fields.origin.choice.value = "tested lately"
    editor.fields.one_rm.typed.value = "82,5"
    add(editor, "db curl", "dumbbell curl")
    editor.fields.remembered.typed.value = "2 x 12 kg, 10 reps, 2 left"
    add(editor, "deadlift", "deadlift")
    editor.fields.origin.choice.value = "a rough estimate"
    editor.fields.one_rm.typed.value = "225 lb"
    written = read_lifter(editor.save(tmp_path / "ada.toml"))
    assert written == validate(
        {
            "name": "Ada Quill",
            "sex": "female",
            "training_years": 3.5,
            "body_mass_kg": 68.0,  # 150 lb are 68.04 kg
            "lifts": {
                "bench press": {"one_rm_kg": 82.5, "known_from": "tested lately"},
                "dumbbell curl": {"from_set": {"kg": 12.0, "reps": 10, "reps_in_reserve": 2.0}, "each_hand": True},
                "deadlift": {"one_rm_lb": 225.0, "known_from": "a rough estimate"},
            },
        },
        Lifter,
    )
    assert "read as 68" in editor.mass.said.value


@pytest.mark.parametrize("path", LIFTERS, ids=lambda path: path.stem)
def test_a_lifter_that_is_opened_is_shown_and_stays_what_it_is(path, tmp_path):
    lifter = read_lifter(path)
    editor = LifterEditor(lifter)
    for name in lifter.lifts:
        editor.lift.value = name
        assert editor.fields.one_rm.typed.value or editor.fields.remembered.typed.value
    assert editor.value is lifter
    assert read_lifter(editor.save(tmp_path / "again.toml"), lifter.catalogue) == lifter


def test_a_remembered_set_says_more_than_its_load_and_less_than_a_test():
    editor = new()
    add(editor, "squat", "back squat")
    editor.fields.remembered.typed.value = "100 kg, 5 reps, 1 left"
    (row,) = editor.known.lifts.to_dict("records")
    assert row["low_kg"] < row["one_rm_kg"] < row["high_kg"]
    assert row["one_rm_kg"] > 100.0
    # Without reps left the set is read as one to failure: the careful side.
    editor.fields.remembered.typed.value = "100 kg, 5 reps"
    assert "0 left" in editor.fields.remembered.said.value
    assert editor.known.lifts["one_rm_kg"].iloc[0] < row["one_rm_kg"]


def test_a_number_kept_low_says_by_how_much():
    editor = new()
    add(editor, "bench", "bench press")
    editor.fields.origin.choice.value = "kept low on purpose"
    editor.fields.one_rm.typed.value = "90"
    editor.fields.kept_low.typed.value = "12,5 %"
    lift = editor.value.lifts["bench press"]
    assert (lift.one_rm_kg, lift.known_from, lift.kept_low_percent) == (90.0, "kept low on purpose", 12.5)
    # What could be lifted is more: 90 / 0.875.
    assert editor.known.lifts["one_rm_kg"].iloc[0] == pytest.approx(90 / 0.875, rel=1e-9)
    editor.fields.origin.choice.value = "tested lately"
    assert editor.value.lifts["bench press"].kept_low_percent is None


def test_a_number_typed_anew_is_no_test_where_the_file_says_of_none():
    content = {"name": "Ada", "lifts": {"bench press": {"one_rm_kg": 100.0}}}
    editor = LifterEditor(validate(content, Lifter))
    editor.fields.one_rm.typed.value = "105"
    lift = editor.value.lifts["bench press"]
    assert (lift.one_rm_kg, lift.known_from) == (105.0, None)


def test_a_number_typed_anew_loses_the_width_that_the_old_one_had():
    old = {"one_rm_kg": 100.0, "one_rm_interval": [95.0, 106.0], "known_from": "the log", "tested": None}
    content = {"name": "Ada", "lifts": {"bench press": {key: value for key, value in old.items() if value}}}
    editor = LifterEditor(validate(content, Lifter))
    editor.fields.one_rm.typed.value = "105"
    lift = editor.value.lifts["bench press"]
    assert (lift.one_rm_kg, lift.one_rm_interval, lift.known_from) == (105.0, None, "tested lately")


@pytest.mark.parametrize(
    ("origin", "field", "typed", "said"),
    [
        ("tested lately", "one_rm", "heavy", "not a mass"),
        ("tested lately", "one_rm", "-80", "out of range"),
        ("tested lately", "one_rm", "1,250", "could be"),
        ("a set", "remembered", "24 kg", "type it as 24 kg, 12 reps, 2 left"),
        ("a set", "remembered", "24 kg, 30 reps", "say little of a 1RM"),
        ("a set", "remembered", "24 kg, 5 reps, 8 left", "use 0 to 5"),
    ],
)
def test_what_cannot_be_taken_is_said_at_the_field(origin, field, typed, said):
    editor = new()
    add(editor, "bench", "bench press")
    editor.fields.origin.choice.value = origin
    line = getattr(editor.fields, field)
    line.typed.value = typed
    assert said in line.problem
    assert editor.value.lifts == {}


def test_a_sore_shoulder_is_ticked_and_what_is_fine_is_not():
    editor = new()
    editor.joints["shoulder"].box.value = True
    of_shoulder = [name for name, position in joint_positions().items() if position.joint == "shoulder"]
    assert editor.value.avoid_positions == of_shoulder
    editor.positions["hang from straight arms"].box.value = False
    assert editor.value.avoid_positions == [name for name in of_shoulder if name != "hang from straight arms"]
    assert "physiotherapist" in editor.notes.value
    assert "left out" in editor.answer.value
    editor.joints["shoulder"].box.value = False
    assert editor.value.avoid_positions == []


def test_exercises_are_left_out_by_name_and_allowed_again():
    editor = new()
    editor.finder_out.text.value = "good mornings"
    editor.avoid.click()
    assert editor.value.avoid_exercises == ["good morning"]
    editor.avoided.value = "good morning"
    editor.allow.click()
    assert editor.value.avoid_exercises == []


def test_lifts_are_left_out_and_undo_brings_them_back():
    lifter = read_lifter(LIFTERS[0])
    editor = LifterEditor(lifter)
    name = next(iter(lifter.lifts))
    editor.lift.value = name
    editor.leave_out.click()
    assert name not in editor.value.lifts
    editor.undo.click()
    assert editor.value == lifter


def test_a_block_works_with_one_lift_known_by_ratio_with_the_others_to_find():
    room = read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
    block = read_block(data_path("demo", "block.toml"))
    editor = new()
    editor.mass.typed.value = "70"
    nothing = start_loads(block, editor.value, room)
    assert nothing.block is None
    assert set(nothing.to_find) == {slot.exercise for one in block.expanded_sessions() for slot in one.exercises}
    assert all(guess.protocol for guess in nothing.to_find.values())
    add(editor, "bench", "bench press")
    editor.fields.origin.choice.value = "tested lately"
    editor.fields.one_rm.typed.value = "80"
    add(editor, "leg press", "leg press")
    editor.fields.remembered.typed.value = "120 kg, 10 reps, 2 left"
    some = start_loads(block, editor.value, room)
    # A leg press is known, a curl with a bar would follow from the bench press: the rest is searched for.
    assert [slot.exercise for one in some.block.sessions for slot in one.exercises] == ["leg press"]
    assert "leg press" not in some.to_find
    assert any("no forecast" in note for note in some.notes)


def test_a_ratio_gives_a_start_with_a_wide_interval():
    room = read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
    editor = new()
    add(editor, "bench", "bench press")
    editor.fields.origin.choice.value = "tested lately"
    editor.fields.one_rm.typed.value = "80"
    sets = [{"count": 3, "reps": 8, "percent": 60.0, "rest_s": 120.0}]
    session = {"name": "A", "exercises": [{"exercise": "barbell curl", "sets": sets}]}
    block = validate({"name": "Curls", "weeks": 2, "sessions": [session]}, Block)
    found = start_loads(block, editor.value, room)
    # 0.46 of the bench press (wong_2013): 36.8 kg.
    assert found.lifter.lifts["barbell curl"].one_rm_kg == pytest.approx(0.46 * 80, rel=1e-9)
    belief = found.lifter.one_rm_belief("barbell curl")
    assert min(belief.below, belief.above) >= 0.15 - 1e-12
    assert math.isclose(float(np.exp(belief.middle)), 36.8, rel_tol=1e-9)
    assert found.block == block
    assert found.forecast_place(Where(1, 1, 1)) == Where(1, 1, 1)


def test_a_list_says_what_nothing_means():
    editor = new()
    assert editor.sex.choice.label == "not said"
    editor.sex.choice.value = "male"
    editor.sex.choice.index = 0
    assert editor.value.sex is None
    assert editor.sex.choice.label == "not said"
