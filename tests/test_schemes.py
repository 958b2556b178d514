"""The library of schemes, week by week as a coach would write it out."""

import pytest

from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.prescription.schemes import (
    SCHEMES,
    constant_step,
    drop_set_finish,
    exercise_block,
    reps_then_load,
    top_set_with_back_offs,
    undulating,
    wave,
)
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

WEEKS = 4


def written_out(group, weeks=WEEKS):
    """Load and reps of every week."""
    load, low, high = group.progression.weekly(group.percent, group.reps, weeks)
    assert (low == high).all() or group.to_failure
    return load.tolist(), low.tolist()


def test_constant_step():
    (group,) = constant_step(percent=70, step=2.5, sets=4, reps=6, rest_s=120).sets
    assert written_out(group) == ([70, 72.5, 75, 77.5], [6, 6, 6, 6])
    assert (group.count, group.rest_s) == (4, 120)


def test_wave():
    (group,) = wave(percent=70, step=2.5, sets=4, reps=6, rest_s=120).sets
    # Two weeks up by twice the step, then again a step higher: as much in all as a step a week.
    assert written_out(group) == ([70, 75, 72.5, 77.5], [6, 6, 6, 6])
    (longer,) = wave(percent=70, step=2, length=3, rise=5).sets
    assert written_out(longer)[0] == [70, 74, 78, 75]
    assert (group.count, group.rest_s) == (4, 120)


def test_undulating():
    (group,) = undulating(percent=70, step=2.5, sets=4, reps=6, rest_s=120, weeks=WEEKS).sets
    assert written_out(group) == ([70, 77.5, 72.5, 80], [6, 4, 6, 4])
    assert (group.count, group.rest_s) == (4, 120)
    (few,) = undulating(reps=2, weeks=2).sets
    assert written_out(few, 2)[1] == [2, 1]  # never below one rep


def test_reps_then_load():
    (group,) = reps_then_load(percent=70, step=2.5, sets=4, reps=6, rest_s=120).sets
    assert written_out(group) == ([70, 70, 70, 75], [6, 7, 8, 6])
    assert (group.count, group.rest_s) == (4, 120)


def test_top_set_with_back_offs():
    top, back = top_set_with_back_offs(percent=70, step=2.5, sets=4, reps=6, rest_s=120).sets
    assert written_out(top) == ([77.5, 80, 82.5, 85], [4, 4, 4, 4])
    assert (top.count, top.rest_s) == (1, 180)
    assert (back.count, back.reps, back.part, back.part_of_group, back.rest_s) == (3, (6, 6), 0.87, 1, 120)
    assert top_set_with_back_offs(rest_s=240).sets[0].rest_s == 240


def test_drop_set_finish():
    straight, last = drop_set_finish(percent=70, step=2.5, sets=4, reps=6, rest_s=120, drop=25, drops=3).sets
    assert written_out(straight) == ([70, 72.5, 75, 77.5], [6, 6, 6, 6])
    assert (straight.count, straight.rest_s, straight.drops) == (3, 120, None)
    assert written_out(last)[0] == [70, 72.5, 75, 77.5]
    assert (last.count, last.to_failure, last.drops.sizes, last.rest_s) == (1, True, [25, 25, 25], 120)


@pytest.mark.parametrize("label", SCHEMES)
def test_every_scheme_is_called_by_its_label_and_says_its_sets_and_loads(label):
    scheme = SCHEMES[label](percent=66, sets=4)
    assert scheme.label == label
    first = scheme.sets[0]
    assert f"{first.percent:g} %" in scheme.meaning or label in ("wave", "reps then load")
    assert f"{first.count}" in scheme.meaning


def test_a_block_of_one_exercise_on_its_days():
    block = exercise_block("squats", constant_step(), weeks=3, days=(2, 6))
    assert (block.weeks, block.name) == (3, "back squat, constant step")
    assert [(one.name, one.day) for one in block.sessions] == [("day 2", 2), ("day 6", 6)]
    assert exercise_block("back squat", constant_step(), name="Mine").name == "Mine"


def test_a_scheme_replaces_the_sets_of_one_exercise_where_it_is_asked_to():
    plain = [{"reps": 9, "percent": 50, "rest_s": 60}]
    slots = [{"exercise": name, "sets": plain} for name in ("back squat", "bench press")]
    sessions = [{"name": name, "exercises": slots} for name in ("a", "b")]
    block = validate({"name": "b", "weeks": 3, "sessions": sessions}, Block)

    def reps(changed):
        return [[slot.sets[0].reps[0] for slot in one.exercises] for one in changed.sessions]

    assert reps(change(block, Where(exercise="bench press"), set_groups=constant_step().sets)) == [[9, 5], [9, 5]]
    assert reps(change(block, Where("b", "bench press"), set_groups=constant_step().sets)) == [[9, 9], [9, 5]]
    with pytest.raises(InputError, match=r"no session 'c'; use one of: 1 a; 2 b"):
        change(block, Where("c", "bench press"), set_groups=constant_step().sets)
    with pytest.raises(InputError, match="4 values of load for 3 weeks"):
        change(block, Where(exercise="bench press"), set_groups=undulating(weeks=4).sets)
