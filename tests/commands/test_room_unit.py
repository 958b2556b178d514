"""In a room of pounds every door speaks of pounds; numbers in kilograms and pounds are the same mass."""

import re

import pandas as pd
import pytest

from workbench.__main__ import main
from workbench.answers.block_check import check_block
from workbench.answers.compare import compare_blocks
from workbench.answers.decide import Knob, Limit, decide
from workbench.answers.drop import room_loads
from workbench.answers.volume import volume_question
from workbench.figures.volume import block_chart
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.quantities import KG_PER_LB
from workbench.reference.toml_files import validate

ROOM = {
    "name": "pounds",
    "unit": "lb",
    "plates": [{"mass": mass, "pairs": 6} for mass in (45, 25, 10, 5, 2.5)],
    "equipment": [
        {"name": "bar", "kind": "barbell", "bar": 45},
        {"name": "dumbbells", "kind": "dumbbells", "first": 5, "last": 60, "step": 5},
    ],
}
WHO = {"name": "A", "lifts": {"back squat": {"one_rm_lb": 400}, "dumbbell curl": {"one_rm_lb": 50, "each_hand": True}}}
ROOM_TOML = """
name = "pounds"
unit = "lb"
plates = [{ mass = 45, pairs = 6 }, { mass = 10, pairs = 6 }, { mass = 2.5, pairs = 6 }]
[[equipment]]
name = "bar"
kind = "barbell"
bar = 45
[[equipment]]
name = "dumbbells"
kind = "dumbbells"
first = 5
last = 60
step = 5
"""
WHO_TOML = """
name = "A"
[lifts."back squat"]
one_rm_lb = 400
[lifts."bench press"]
one_rm_lb = 250
"""
BLOCK_TOML = """
name = "b"
weeks = 1
[[sessions]]
name = "one"
[[sessions.exercises]]
exercise = "back squat"
ramp = false
[[sessions.exercises.sets]]
count = 2
reps = 5
lb = 225
rest_s = 120
"""


def block(**limits):
    groups = [{"count": 2, "reps": 5, "lb": 225, "rest_s": 120}]
    session = {"name": "one", "exercises": [{"exercise": "back squat", "ramp": False, "sets": groups}]}
    return validate({"name": "b", "weeks": 1, "sessions": [session], "limits": limits}, Block)


@pytest.fixture
def room():
    return validate(ROOM, Room)


@pytest.fixture
def who():
    return validate(WHO, Lifter)


@pytest.fixture
def files(tmp_path):
    for name, text in (("room", ROOM_TOML), ("who", WHO_TOML), ("block", BLOCK_TOML)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return [str(tmp_path / f"{name}.toml") for name in ("block", "who", "room")]


def test_check_and_its_views_print_no_kilogram(files, capsys):
    the_block, the_lifter, the_room = files
    for view in (["--sets"], ["--session", "1"], ["--zones"]):
        main(["check", the_block, "--lifter", the_lifter, "--room", the_room, "--draws", "20", "--seed", "1", *view])
        printed = capsys.readouterr().out
        assert re.search(r"\d lb\b", printed)
        assert not re.search(r"\d kg\b", printed)
    # Two sets of five reps with 225 lb: 2 x 5 x 225 = 2,250 lb.
    assert "2,250 lb" in printed


def test_exchanges_are_said_in_pounds(files, capsys):
    _, the_lifter, the_room = files
    main(["exercises", "exchange", "bench press", "--lifter", the_lifter, "--room", the_room])
    printed = capsys.readouterr().out
    assert re.search(r"1RM about (2 x )?\d+ lb", printed)
    assert not re.search(r"\d kg\b", printed)


def test_tonnage_is_in_the_unit_of_the_room(room, who):
    """Two sets of five reps with 225 lb, every rep made (225 of 400 lb): 2 x 5 x 225 = 2,250 lb."""
    check = check_block(block(), who, room, draws=50, seed=1)
    answer = volume_question(check.outcome)
    assert answer.unit == "lb"
    assert answer.weeks["tonnage_kg"].tolist() == pytest.approx([2250 * KG_PER_LB])
    figure = block_chart(answer.weeks, unit=answer.unit)
    (drawn,) = [trace for trace in figure.data if trace.name == "tonnage, lb"]
    assert list(drawn.y) == pytest.approx([2250])

    found = compare_blocks({"a": block(), "b": block()}, who, room, outcomes=["tonnage"], draws=50, seed=1)
    assert set(found.schemes["unit"]) == set(found.pairs["unit"]) == {"lb"}
    assert found.schemes["mean"].tolist() == pytest.approx([2250, 2250])

    chosen = decide(
        block(),
        who,
        room,
        [Knob("sets", (1.0, 2.0, 3.0))],
        limits=[Limit("tonnage", at_most=2300)],
        demand="tonnage",
        draws=50,
        seed=1,
    )
    assert chosen.demand_label == "tonnage, lb"
    assert chosen.demand == pytest.approx(2250)  # three sets are 3,375 lb, above the limit; two are below it


def test_loads_to_choose_from_are_said_by_one_hand(room, who):
    # 1RM of 50 lb in each hand: from 40 % on, 20 lb in each is the first, 40 % of 50.
    words, kg = room_loads(room, who, "dumbbell curl")[0]
    assert words == "2 x 20 lb (40 %)"
    assert kg == pytest.approx(40 * KG_PER_LB)


def minutes_of(limit, who, room):
    return check_block(block(session_minutes=limit), who, room, draws=20, seed=1)


def test_a_session_a_little_over_its_time_is_noted(room, who):
    """Set up 90 s, ten reps of 4 s, one rest of 120 s: 250 s, 4.17 minutes."""
    assert any("the block allows 4" in note for note in minutes_of(4.1, who, room).notes)
    assert any("about 4 minutes" in note for note in minutes_of(4.1, who, room).notes)
    assert not any("the block allows" in note for note in minutes_of(4.2, who, room).notes)


@pytest.mark.parametrize(("pounds", "noted"), [(405, True), (400, False)])
def test_a_set_just_over_the_maximum_is_noted(room, who, pounds, noted):
    """405 lb are 101 % of 400 lb; 400 lb are the maximum itself."""
    groups = [{"count": 1, "reps": 1, "lb": pounds, "rest_s": 120}]
    session = {"name": "one", "exercises": [{"exercise": "back squat", "ramp": False, "sets": groups}]}
    heavy = validate({"name": "b", "weeks": 1, "sessions": [session]}, Block)
    notes = check_block(heavy, who, room, draws=20, seed=1).notes
    assert any("101 % of 1RM in week 1" in note for note in notes) == noted
    assert any("more than the lifter's maximum" in note for note in notes) == noted


def test_numbers_in_a_table_of_the_check_stay_kilograms_under_their_name(room, who):
    sets = check_block(block(), who, room, draws=20, seed=1).sets
    assert isinstance(sets, pd.DataFrame)
    assert sets["load_kg"].tolist() == pytest.approx([225 * KG_PER_LB] * 2)
    assert set(sets["unit"]) == {"lb"}
