"""Sessions, set groups and the block itself are added, copied, moved and left out as a person would in the file."""

from __future__ import annotations

import pytest

from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where, change
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = data_path("demo", "block.toml")
TOP = {"reps": 3, "percent": 80.0, "rest_s": 180.0}
BACK_OFF = {"count": 2, "reps": 6, "part_of_group": 1, "part": 0.8, "rest_s": 120.0}
SINGLE = {"reps": 1, "percent": 90.0, "rest_s": 180.0}
OF_SINGLE = {"reps": 4, "part_of_group": 2, "part": 0.7, "rest_s": 90.0}


def block_of(*sessions: dict, weeks: int = 3, **keys: object) -> Block:
    return validate({"name": "Invented", "weeks": weeks, "sessions": list(sessions), **keys}, Block)


def session(name: str, *groups: dict, exercise: str = "back squat", **keys: object) -> dict:
    return {"name": name, "exercises": [{"exercise": exercise, "sets": list(groups or (TOP,))}], **keys}


def test_a_copied_session_is_what_a_repeat_in_the_file_writes_out() -> None:
    demo = read_block(DEMO)
    without = change(demo, Where("Friday, lighter pull"), leave_out_session=True)
    assert [one.name for one in without.sessions] == ["Monday, heavy pull", "Wednesday, legs and drops"]
    again = change(
        without,
        Where("Monday, heavy pull"),
        copy_session={"name": "Friday, lighter pull", "day": 5, "percent_change": -7.5, "reps_change": 1},
    )
    assert again.expanded_sessions() == demo.expanded_sessions()


def test_a_copy_is_its_own_and_stays_when_the_first_one_changes() -> None:
    block = change(block_of(session("Monday", day=1)), Where(1), copy_session={"name": "Thursday"})
    assert block.sessions[1] == validate(session("Thursday"), type(block.sessions[1]))
    assert block.sessions[1].day is None
    changed = change(block, Where("Monday"), percent=70)
    assert [one.exercises[0].sets[0].percent for one in changed.sessions] == [70.0, 80.0]


def test_sessions_are_added_moved_and_named() -> None:
    block = change(block_of(session("A")), add_session=session("B", exercise="bench press"))
    block = change(block, add_session=session("C", exercise="deadlift"))
    names = [one.name for one in change(block, Where("C"), session_to=1).sessions]
    assert names == ["C", "A", "B"]
    assert [one.name for one in change(block, Where(1), session_to=3).sessions] == ["B", "C", "A"]
    named = change(block, Where(2), session={"name": "Tuesday", "day": 2}).sessions[1]
    assert (named.name, named.day, named.exercises) == ("Tuesday", 2, block.sessions[1].exercises)


def test_a_set_group_takes_any_key_of_its_entry_and_loses_those_that_are_none() -> None:
    block = block_of(session("A", TOP | {"drops": {"sizes": [20.0]}}))
    entry = {"percent": None, "kg": 60.0, "reps": "failure", "drops": None, "count": 4}
    (group,) = change(block, Where(1, 1, 1), set_group=entry).sessions[0].exercises[0].sets
    assert (group.percent, group.kg, group.to_failure, group.drops, group.count) == (None, 60.0, True, None, 4)
    back = change(block, Where(1, 1, 1), set_group={"reps": [5, 8]})
    assert back.sessions[0].exercises[0].sets[0].reps == (5, 8)


def test_set_groups_come_last_and_a_part_keeps_the_group_it_is_of() -> None:
    block = change(block_of(session("A", TOP, SINGLE)), Where(1, 1), add_group=OF_SINGLE)
    assert [group.way for group in block.sessions[0].exercises[0].sets] == ["percent", "percent", "part"]
    # The first group goes: what was group 2 is now group 1, and the part is still of the single.
    kept = change(block, Where(1, 1, 1), leave_out_group=True).sessions[0].exercises[0].sets
    assert [(group.reps[0], group.part_of_group) for group in kept] == [(1, None), (4, 1)]
    with pytest.raises(InputError, match="takes a part of"):
        change(block, Where(1, 1, 2), leave_out_group=True)


def test_a_part_of_an_earlier_group_than_the_one_that_goes_stays() -> None:
    block = block_of(session("A", TOP, SINGLE, BACK_OFF))
    kept = change(block, Where(1, 1, 2), leave_out_group=True).sessions[0].exercises[0].sets
    assert [(group.reps[0], group.part_of_group) for group in kept] == [(3, None), (6, 1)]


def test_more_weeks_go_on_as_the_last_and_fewer_lose_the_last() -> None:
    by_week = {"rule": "by week", "load": [70.0, 75.0, 80.0], "reps": [5, 4, 3], "sets": [3, 3, 2]}
    lighter = [{"week": 2, "load": 0.9, "sets": 0.5}, {"week": 3}]
    block = block_of(session("A", TOP | {"progression": by_week}), lighter_weeks=lighter)
    longer = change(block, of_block={"weeks": 5})
    rule = longer.sessions[0].exercises[0].sets[0].progression
    assert (rule.load, rule.reps, rule.sets) == ([70, 75, 80, 80, 80], [5, 4, 3, 3, 3], [3, 3, 2, 2, 2])
    assert [week.week for week in longer.lighter_weeks] == [2, 3]
    shorter = change(block, of_block={"weeks": 2})
    rule = shorter.sessions[0].exercises[0].sets[0].progression
    assert (rule.load, rule.reps, rule.sets) == ([70, 75], [5, 4], [3, 3])
    assert [week.week for week in shorter.lighter_weeks] == [2]


def test_the_block_takes_the_keys_of_its_file_and_slots_theirs() -> None:
    block = block_of(session("A"), session("B"))
    block = change(block, of_block={"name": "Spring", "limits": {"chance_of_reps": 0.7, "session_minutes": 60}})
    assert (block.name, block.limits.chance_of_reps, block.limits.session_minutes) == ("Spring", 0.7, 60)
    assert change(block, Where("B"), slot={"ramp": False}).sessions[1].exercises[0].ramp is False
    assert change(block, Where("B"), slot={"ramp": False}).sessions[0].exercises[0].ramp is True


@pytest.mark.parametrize(
    ("where", "what", "said"),
    [
        (Where(), {"copy_session": {"name": "C"}}, "is of one session"),
        (Where(1), {"copy_session": {"name": "B"}}, "two sessions are named 'B'"),
        (Where(), {"leave_out_session": True}, "is of one session"),
        (Where(1), {"session_to": 3}, "3 is no place; use 1 to 2"),
        (Where(1), {"session_to": 0}, "0 is no place"),
        (Where(1), {"session": {"exercises": []}}, "has no key 'exercises'"),
        (Where(), {"of_block": {"sessions": []}}, "has no key 'sessions'"),
        (Where(), {"of_block": {"weeks": 0}}, "0 does not fit"),
        (Where(1, 1), {"slot": {"exercise": "deadlift"}}, "has no key 'exercise'"),
        (Where(1, 1, 1), {"set_group": {"load": 60}}, "has no key 'load'"),
        (Where(1, 1, 1), {"set_group": {"kg": 60.0}}, "the load is given as percent and kg"),
        (Where(1, 1, 1), {"leave_out_group": True}, "is the only set group"),
        (Where(1, 1, 3), {"leave_out_group": True}, "finds nothing to change"),
    ],
)
def test_what_cannot_be_is_said(where: Where, what: dict, said: str) -> None:
    with pytest.raises(InputError) as caught:
        change(block_of(session("A"), session("B")), where, **what)
    assert said in str(caught.value)


def test_the_only_session_stays() -> None:
    with pytest.raises(InputError, match="add another session first"):
        change(block_of(session("A")), Where(1), leave_out_session=True)
