"""Dumbbells are spoken of by one hand wherever a person reads or types; what could be either is asked about."""

import pytest

from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.log import ReadOptions, read_log, write_canonical
from workbench.panels.block import BlockPanel
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan

RACK = {
    "name": "rack",
    "unit": "kg",
    "equipment": [{"name": "dumbbells", "kind": "dumbbells", "first": 2, "last": 40, "step": 2}],
}


def lifter(exercise, **lift):
    return validate({"name": "A", "lifts": {exercise: lift}}, Lifter)


def block(exercise, **group):
    sets = [{"count": 1, "reps": 8, "rest_s": 60, **group}]
    session = {"name": "one", "exercises": [{"exercise": exercise, "ramp": False, "sets": sets}]}
    return validate({"name": "b", "weeks": 1, "sessions": [session]}, Block)


def test_a_maximum_of_two_dumbbells_says_whose_it_is():
    # 18 in each hand are 36 kg in all; 36 in both hands are the same.
    assert lifter("dumbbell curl", one_rm_kg=18, each_hand=True).lifts["dumbbell curl"].one_rm == 36
    assert lifter("dumbbell curl", one_rm_kg=36, each_hand=False).lifts["dumbbell curl"].one_rm == 36
    with pytest.raises(InputError, match=r"one dumbbell or both.*each_hand = true"):
        lifter("dumbbell curl", one_rm_kg=18)
    with pytest.raises(InputError, match="one dumbbell or both"):
        lifter("DB curl", one_rm_lb=40)


@pytest.mark.parametrize("exercise", ["goblet squat", "one-arm dumbbell row", "back squat"])
def test_where_one_hand_is_all_there_is_nothing_to_ask(exercise):
    assert lifter(exercise, one_rm_kg=30).lifts[exercise].one_rm == 30
    with pytest.raises(InputError, match="not done with two dumbbells"):
        lifter(exercise, one_rm_kg=30, each_hand=True)


def test_a_load_of_a_block_says_whose_it_is():
    who, room = lifter("dumbbell curl", one_rm_kg=25, each_hand=True), validate(RACK, Room)
    for group in ({"kg": 18, "each_hand": True}, {"kg": 36, "each_hand": False}):
        (one,) = make_plan(block("dumbbell curl", **group), who, room).sessions[0].sets
        assert one.load_kg.tolist() == [36.0]
        assert (one.hands, one.unit) == (2, "kg")
    with pytest.raises(InputError, match="one dumbbell or both"):
        block("dumbbell curl", kg=18)
    with pytest.raises(InputError, match="remove each_hand"):
        block("dumbbell curl", percent=70, each_hand=True)
    with pytest.raises(InputError, match="remove each_hand"):
        block("goblet squat", kg=18, each_hand=True)


def test_the_slider_of_a_load_says_whose_it_is(tmp_path):
    text = """
name = "b"
weeks = 1
[[sessions]]
name = "one"
[[sessions.exercises]]
exercise = "dumbbell curl"
[[sessions.exercises.sets]]
reps = 8
kg = 8
each_hand = true
rest_s = 60
"""
    (tmp_path / "b.toml").write_text(text, encoding="utf-8")
    panel = BlockPanel(draws=20)
    panel.controls.block.choice.value = None
    panel.controls.block.path.value = str(tmp_path / "b.toml")
    assert panel.trouble.value == ""
    assert panel.controls.load.description == "load in week 1, kg in each hand"
    assert panel.controls.load.value == 8
    assert "8 × 2 x 8 kg" in panel.set_rows.value
    panel.controls.load.value = 10
    assert panel.check.sets["load_kg"].tolist() == [20.0]


def read(tmp_path, text, **options):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    return read_log(path, options=ReadOptions(**options))


ROWS = "2026-01-05,dumbbell curl,18,8\n2026-01-05,DB row,20,8\n2026-01-05,back squat,100,5\n"


def test_a_log_is_asked_once_whose_loads_of_two_dumbbells_are(tmp_path):
    text = "date,exercise,load kg,reps\n" + ROWS
    asked = read(tmp_path, text)
    assert [question.about for question in asked.questions] == ["dumbbells"]
    assert "2 rows wait" in asked.questions[0].problem
    assert asked.so_far["load_kg"].tolist() == [100.0]
    assert len(asked.quarantine) == 2  # they wait, none is lost
    one = read(tmp_path, text, dumbbells="one_hand")
    assert one.questions == ()
    assert one.rows["load_kg"].tolist() == [36.0, 40.0, 100.0]
    assert read(tmp_path, text, dumbbells="both").rows["load_kg"].tolist() == [18.0, 20.0, 100.0]


@pytest.mark.parametrize(
    ("heading", "loads"),
    [
        ("load per hand (kg)", [36.0, 40.0, 100.0]),
        ("Weight each dumbbell kg", [36.0, 40.0, 100.0]),
        ("Load done (kg; one hand of two dumbbells)", [36.0, 40.0, 100.0]),
        ("load kg both dumbbells", [18.0, 20.0, 100.0]),
    ],
)
def test_a_heading_that_says_it_is_believed(tmp_path, heading, loads):
    reading = read(tmp_path, f"date,exercise,{heading},reps\n" + ROWS)
    assert reading.questions == ()
    assert reading.rows["load_kg"].tolist() == loads


def test_a_cell_that_says_it_is_believed_and_counts_once(tmp_path):
    text = "date,exercise,load kg,reps\n2026-01-05,dumbbell curl,2x18,8\n2026-01-05,dumbbell curl,18 each,8\n"
    for answer in (None, "one_hand", "both"):
        reading = read(tmp_path, text, dumbbells=answer)
        assert reading.questions == ()
        assert reading.rows["load_kg"].tolist() == [36.0, 36.0]


def test_the_one_dumbbell_of_a_hand_is_not_doubled(tmp_path):
    text = "date,exercise,load kg,reps\n2026-01-05,one-arm dumbbell row,30 per hand,8\n"
    assert read(tmp_path, text).rows["load_kg"].tolist() == [30.0]


def test_a_canonical_log_holds_the_sum_and_asks_nothing(tmp_path):
    first = read(tmp_path, "date,exercise,load kg,reps\n" + ROWS, dumbbells="one_hand")
    write_canonical(first, tmp_path / "canonical.csv")
    again = read_log(tmp_path / "canonical.csv")
    assert again.questions == ()
    assert again.rows["load_kg"].tolist() == [36.0, 40.0, 100.0]
