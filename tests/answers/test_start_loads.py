"""What a block begins with where 1RMs are missing: by ratio, by a search from below, and the rest forecast as ever."""

from __future__ import annotations

import pytest

from workbench.answers.block_check import check_block
from workbench.answers.load_search import guess_one_rm
from workbench.answers.start_loads import start_loads
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

HALL = read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
BLOCK = read_block(data_path("demo", "block.toml"))
EMRE = read_lifter(data_path("demo", "lifters", "emre_sandoval.toml"))


def knowing(*names: str, **more: object) -> Lifter:
    """Emre, of whom only these lifts are known."""
    return EMRE.model_copy(update={"lifts": {name: EMRE.lifts[name] for name in names}, **more})


def test_with_every_1rm_known_nothing_is_changed():
    found = start_loads(BLOCK, EMRE, HALL)
    assert found.block is BLOCK
    assert found.lifter.lifts == EMRE.lifts
    assert (dict(found.by_ratio), dict(found.to_find), found.notes) == ({}, {}, ())
    assert found.forecast_place(Where(2, 3, 1)) == Where(2, 3, 1)


def test_what_is_still_to_be_found_leaves_the_forecast_and_keeps_its_search():
    # Of Monday's three exercises the first and third are known, of Wednesday's four none.
    found = start_loads(BLOCK, knowing("barbell bench pull", "lat pulldown"), HALL)
    names = {session.name: [slot.exercise for slot in session.exercises] for session in found.block.sessions}
    assert names == {
        "Monday, heavy pull": ["barbell bench pull", "lat pulldown"],
        "Friday, lighter pull": ["barbell bench pull", "lat pulldown"],
    }
    assert set(found.to_find) == {"back squat", "Romanian deadlift", "leg press", "seated cable row", "dumbbell curl"}
    squat = HALL.catalogue.exercise("back squat")
    assert found.to_find["back squat"].protocol == guess_one_rm(found.lifter, HALL, squat).protocol
    for line in found.to_find["back squat"].protocol:
        assert f"back squat: {line}" in found.sentences()
    assert "back squat: no 1RM is known, so no forecast; find the load first" in found.notes
    # The third exercise of Monday is the second that is forecast; Friday is the second session.
    assert found.forecast_place(Where(1, 3, 1)) == Where(1, 2, 1)
    assert found.forecast_place(Where(3, 1, 1)) == Where(2, 1, 1)
    assert found.forecast_place(Where(1, 2, 2)) is None
    assert found.forecast_place(Where(2, 1, 1)) is None
    assert len(check_block(found.block, found.lifter, HALL, draws=20).sets)


def test_nothing_known_leaves_no_forecast_but_a_search_for_every_exercise():
    nobody = EMRE.model_copy(update={"lifts": {}})
    found = start_loads(BLOCK, nobody, HALL)
    assert found.block is None
    assert found.forecast_place(Where(1, 1, 1)) is None
    exercises = {slot.exercise for session in BLOCK.expanded_sessions() for slot in session.exercises}
    assert set(found.to_find) == exercises
    assert all(any(line.startswith(f"{name}: ") for line in found.sentences()) for name in exercises)


def test_a_ratio_to_a_known_lift_gives_a_wide_start():
    sets = [{"count": 3, "reps": 8, "percent": 60.0, "rest_s": 120.0}]
    session = {"name": "A", "exercises": [{"exercise": "barbell curl", "sets": sets}]}
    block = validate({"name": "Curls", "weeks": 2, "sessions": [session]}, Block)
    found = start_loads(block, knowing("bench press"), HALL)
    # 0.46 of a bench press of 85 kg (wong_2013, in data/evidence/load_ratios.csv).
    assert found.lifter.lifts["barbell curl"].one_rm == pytest.approx(0.46 * 85, rel=1e-9)
    assert found.block is block
    assert "barbell curl: no 1RM in the lifter file; taken as about 39 kg" in found.notes[0]
    assert "from bench press" in found.notes[0]


def test_what_the_room_cannot_load_is_refused():
    sets = [{"count": 3, "reps": 8, "percent": 60.0, "rest_s": 120.0}]
    session = {"name": "A", "exercises": [{"exercise": "hack squat of nobody", "sets": sets}]}
    block = validate({"name": "None", "weeks": 2, "sessions": [session]}, Block)
    with pytest.raises(InputError, match="unknown exercise"):
        start_loads(block, EMRE, HALL)


def test_a_check_says_whose_1rm_nobody_has_seen():
    sets = [{"count": 3, "reps": 8, "percent": 60.0, "rest_s": 120.0}]
    slots = [{"exercise": name, "sets": sets} for name in ("bench press", "barbell curl")]
    block = validate({"name": "Two", "weeks": 2, "sessions": [{"name": "A", "exercises": slots}]}, Block)
    check = check_block(block, start_loads(block, knowing("bench press"), HALL).lifter, HALL, draws=20)
    assert [note for note in check.notes if "by a ratio to another lift" in note] == [
        "barbell curl: no 1RM of its own; taken as about 39 kg by a ratio to another lift: begin below it"
    ]
