"""Exercises are found by name, muscle and movement, and what cannot be done says why; loads of a room, by hand."""

from __future__ import annotations

import pytest

from workbench.answers.find_exercise import find_exercises
from workbench.answers.room_loads import can_be_done, room_loads
from workbench.gym.equipment import Room, read_room
from workbench.lifter import read_lifter
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

HALL = read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
EMRE = read_lifter(data_path("demo", "lifters", "emre_sandoval.toml"))
SMALL = validate(
    {
        "name": "Two things",
        "unit": "kg",
        "fixtures": [],
        "plates": [{"mass": 10, "pairs": 1}],
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20},
            {"name": "pairs", "kind": "dumbbells", "masses": [10, 12, 16]},
        ],
    },
    Room,
)


def test_every_exercise_is_found_once_as_possible_or_with_a_reason():
    found = find_exercises(HALL, EMRE)
    names = [one.name for one in found.possible]
    assert len(names) == len(set(names))
    assert not set(names) & set(found.others)
    assert {*names, *found.others} == set(HALL.catalogue.exercises)
    assert all(found.others.values())


def test_muscle_and_movement_narrow_what_is_found():
    found = find_exercises(HALL, EMRE, "dumbbell", muscle="biceps", movement="elbow flexion")
    assert {"dumbbell curl", "hammer curl"} <= {one.name for one in found.possible}
    assert all("biceps" in one.direct_muscles for one in found.possible)
    assert not find_exercises(HALL, EMRE, "dumbbell", muscle="biceps", movement="squat").possible


def test_a_sore_shoulder_and_a_missing_machine_are_reasons():
    sore = EMRE.model_copy(update={"avoid_positions": ["overhead"]})
    assert "joint position left out: overhead" in find_exercises(HALL, sore, "lat pulldown").others["lat pulldown"]
    found = find_exercises(SMALL, None, "squat")
    assert found.others["back squat"] == "the room names no rack"
    assert found.others["Smith machine squat"] == "the room names no Smith machine"
    assert {"dumbbell squat", "goblet squat"} <= {one.name for one in found.possible}


def test_the_loads_of_a_room_by_hand():
    pair = room_loads(SMALL, "dumbbell curl")
    assert pair.loads["load_kg"].tolist() == [20.0, 24.0, 32.0]
    assert pair.loads["shown"].tolist() == [10.0, 12.0, 16.0]
    # 24 / 20 and 32 / 24: a fifth and a third heavier.
    assert pair.loads["step_percent"].tolist()[:2] == pytest.approx([20.0, 100 / 3], rel=1e-12)
    assert pair.loads["step_percent"].isna().tolist() == [False, False, True]
    assert pair.sentences()[0] == "dumbbell curl on the pairs: 3 loads, 10 to 16 kg in each hand."
    assert "after 12 kg (33 %)" in pair.sentences()[1]
    bar = room_loads(SMALL, "deadlift")
    assert bar.loads["said"].tolist() == ["20 kg: 20 bar", "40 kg: 20 bar, per side 10"]
    with pytest.raises(InputError, match="the room names no rack"):
        room_loads(SMALL, "back squat")


def test_how_much_can_be_done_is_counted():
    lines = can_be_done(SMALL)
    found = find_exercises(SMALL)
    assert lines[0] == f"{len(found.possible)} of {len(SMALL.catalogue.exercises)} exercises can be done here."
    counts = [int(line.removeprefix("Not done (").partition(")")[0]) for line in lines[1:]]
    assert counts == sorted(counts, reverse=True)
