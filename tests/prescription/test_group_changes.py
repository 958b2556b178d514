"""What a slider or a mend does to a set group, value by value, worked by hand."""

import pytest

from workbench.prescription.block import Block, SetGroup
from workbench.prescription.edit import Where, change, group_at
from workbench.prescription.group_changes import differences, values_of
from workbench.reference.toml_files import validate


def group(**keys):
    return validate({"count": 4, "reps": 8, "rest_s": 90, **keys}, SetGroup)


def changed(old, **what):
    """The group after a change of the block that holds it alone."""
    weeks = 2
    first = [] if old.part is None else [group(percent=70)]
    slot = {"exercise": "bench press", "sets": [*first, old]}
    block = validate({"name": "b", "weeks": weeks, "sessions": [{"name": "s", "exercises": [slot]}]}, Block)
    where = Where("s", "bench press", len(first) + 1)
    return group_at(change(block, where, **what), where)


STEP = {"rule": "step", "step": 2.5}
WAVE = {"rule": "wave", "length": 2, "step": 5, "rise": 2.5}
LADDER = {"rule": "reps then load", "reps_to": 10, "step": 4}
BY_WEEK = {"rule": "by week", "load": [72, 75], "reps": [6, 5], "sets": [3, 2]}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({"percent": 70}, ("percent", 70, 0, 4, 8, 90)),
        ({"percent": 70, "progression": STEP}, ("percent", 70, 2.5, 4, 8, 90)),
        ({"percent": 70, "progression": WAVE}, ("percent", 70, 5, 4, 8, 90)),
        ({"percent": 70, "progression": LADDER}, ("percent", 70, 4, 4, 8, 90)),
        # The first week's own load and reps; steps and sets are written out, so there is none to turn.
        ({"percent": 70, "progression": BY_WEEK}, ("percent", 72, None, None, 6, 90)),
        ({"percent": 70, "progression": {"rule": "by week", "load": [72, 75]}}, ("percent", 72, None, 4, 8, 90)),
        ({"reps_in_reserve": 2}, ("reps_in_reserve", 2, None, 4, 8, 90)),
        ({"part": 0.85, "part_of_group": 1}, ("part", 0.85, None, 4, 8, 90)),
        ({"kg": 80, "reps": "failure"}, ("kg", 80, 0, 4, None, 90)),
        ({"lb": 150, "reps": [8, 12]}, ("lb", 150, 0, 4, 8, 90)),
    ],
)
def test_what_can_be_changed_of_a_group(keys, expected):
    found = values_of(group(**keys))
    assert (found.way, found.load, found.step, found.sets, found.reps, found.rest_s) == expected


def test_values_written_out_by_week_move_with_the_first_weeks():
    moved = changed(group(percent=70, progression=BY_WEEK), load=70, reps=8)
    # From 72 to 70 and from six reps to eight: two points less and two reps more in both weeks.
    assert (moved.percent, moved.progression.load, moved.progression.reps) == (70, [70, 73], [8, 7])
    assert moved.progression.sets == [3, 2]


def test_a_range_keeps_its_width_and_a_ladder_its_height():
    assert changed(group(percent=70, reps=[8, 12]), reps=6).reps == (6, 10)
    climbing = changed(group(percent=70, progression=LADDER), reps=6, step=3)
    assert (climbing.reps, climbing.progression.reps_to, climbing.progression.step) == ((6, 6), 8, 3)


def test_a_step_comes_where_there_was_none_and_a_rule_stays_what_it_is():
    stepped = changed(group(percent=70), step=1.5)
    assert (stepped.progression.rule, stepped.progression.step) == ("step", 1.5)
    assert changed(group(percent=70), step=0).progression is None
    waved = changed(group(percent=70, progression=WAVE), step=4).progression
    assert (waved.rule, waved.step, waved.rise, waved.length) == ("wave", 4, 2.5, 2)


def test_each_value_goes_where_it_belongs_and_no_other_moves():
    old = group(kg=80)
    new = changed(old, load=75, sets=3, rest_s=120)
    assert (new.kg, new.count, new.rest_s, new.reps) == (75, 3, 120, (8, 8))
    assert changed(old) == old


def test_the_differences_of_two_groups_make_one_of_the_other():
    old = group(percent=70, progression=BY_WEEK)
    new = changed(old, load=68, rest_s=120)
    assert differences(values_of(old), values_of(new)) == {"load": 68, "rest_s": 120}
    assert differences(values_of(old), values_of(old)) == {}
