"""If-then lines: bounds by property over invented gyms, and every branch beside brute force on the days it is about."""

from dataclasses import replace

import numpy as np
import pytest

from tests.answers.invented_blocks import invented_gym
from tests.hand_made import hall, lifter_of
from workbench.answers.if_then import if_then
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.prescription.edit import change
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import simulate

LIMIT = 0.8


def gym(number: int) -> tuple[Block, Lifter, Room]:
    block, lifter, room = invented_gym(number)
    room = validate(room, Room) if isinstance(room, dict) else room
    return validate(block, Block), validate(lifter, Lifter), room


def bench(percent: float, *, count: int = 5, rest_s: float = 90) -> Block:
    sets = [{"count": count, "reps": 6, "percent": percent, "rest_s": rest_s}]
    slots = [{"exercise": "bench press", "ramp": False, "sets": sets}]
    return validate({"name": "b", "weeks": 1, "sessions": [{"name": "one", "exercises": slots}]}, Block)


def with_load(plan: Plan, slot: int, group: int, after: int, load_kg: float) -> Plan:
    """Return the plan with another load in the sets of a group after one of its sets."""
    session = plan.sessions[0]
    sets = tuple(
        replace(one, load_kg=np.array([load_kg]))
        if (one.slot, one.group) == (slot, group) and one.number > after and not one.drop
        else one
        for one in session.sets
    )
    return replace(plan, sessions=(replace(session, sets=sets),))


def after_a_miss(block: Block, lifter: Lifter, room: Room) -> int:
    """Brute force: days on which the looked-at set missed its last rep and all sets before were made.

    On those days the sets still to come, as many as the line keeps, have the limit at its load.
    """
    looked = 0
    plan = make_plan(block, lifter, room)
    for branch in if_then(block, lifter, room, limit=LIMIT, draws=4000):
        if branch.seen != "missed a rep":
            continue
        draws = draw_for(plan, draws=60_000, seed=5)
        changed = with_load(plan, branch.slot, branch.group, branch.after, branch.load_kg)
        outcome = simulate(changed, draws).sessions[0]
        sets = [one for one in outcome if one.planned.slot == branch.slot and not one.planned.drop]
        place = next(at for at, one in enumerate(sets) if one.planned.number == branch.after)
        before = [one for one in outcome if one.planned.end_s[0] < sets[place].planned.start_s[0]]
        kept = np.logical_and.reduce([one.made[:, 0] for one in before])
        kept &= np.floor(sets[place].available[:, 0]) == sets[place].planned.reps_low[0] - 1
        if kept.sum() < 300:
            continue
        coming = [float(one.made[kept, 0].mean()) for one in sets[place + 1 :] if one.planned.group == branch.group]
        # Three standard errors of at least 300 days, and what the scatter of the sets before leaves in their fatigue.
        assert min(coming[: branch.sets], default=1.0) >= LIMIT - 3.0 * np.sqrt(LIMIT * (1 - LIMIT) / kept.sum()) - 0.03
        looked += 1
    return looked


def test_after_a_miss_by_brute_force():
    looked = [
        after_a_miss(bench(percent, rest_s=rest), lifter_of({"bench press": 100.0}), hall())
        for percent, rest in ((75, 120), (80, 180))
    ]
    assert sum(looked) == 2


def test_lines_only_where_something_changes():
    easy = if_then(bench(45, rest_s=240), lifter_of({"bench press": 100.0}), hall())
    assert easy == [] or any(branch.changes for branch in easy)
    hard = if_then(bench(77.5), lifter_of({"bench press": 100.0}), hall())
    assert [branch.seen for branch in hard] == ["two or more left", "none left", "missed a rep"]
    loads = [branch.load_kg for branch in hard]
    assert loads == sorted(loads, reverse=True)
    assert loads[0] > loads[2]
    assert {branch.after for branch in hard} == {2}


def test_two_sets_have_no_line():
    assert if_then(bench(80, count=2), lifter_of({"bench press": 100.0}), hall()) == []


def test_lines_in_words():
    for branch in if_then(bench(77.5), lifter_of({"bench press": 100.0}), hall()):
        assert branch.said.startswith(f"{branch.seen} after set 2: ")
        if not branch.changes:
            assert branch.said.endswith("go on")
        elif branch.sets:
            assert f"{branch.load_kg:g} kg from set 3" in branch.said
            assert ("fewer" in branch.said) == (branch.sets < branch.planned_sets)


@pytest.mark.parametrize("number", [8, 13])
def test_no_load_that_the_room_lacks_or_above_the_plan(number):
    """Over weeks and sessions of invented gyms, in both units."""
    block, lifter, room = gym(number)
    found = 0
    for session in range(1, len(block.sessions) + 1):
        for week in range(1, block.weeks + 1):
            plan = make_plan(block, lifter, room)
            for branch in if_then(block, lifter, room, session=session, week=week, limit=0.85, draws=300):
                slot = plan.sessions[session - 1].of.exercises[branch.slot - 1]
                table = room.loads_for(room.catalogue.exercise(slot.exercise), slot.equipment)
                body = next(one.body_kg for one in plan.sessions[session - 1].sets if one.slot == branch.slot)
                assert branch.load_kg <= branch.planned_kg + 1e-9
                assert np.abs(table.kg + body - branch.load_kg).min() < 1e-6
                assert 0 <= branch.sets <= branch.planned_sets
                found += 1
    assert found


@pytest.mark.parametrize(
    ("rule", "loads", "sets"),
    [
        # 77.5 kg; 10 % off is 69.75, on plates 68.5, and the lowest is 90 %.
        ({"lower": 10, "lowest": 90}, {"missed a rep": 68.5}, {}),
        # One miss ends the group, and the plan's load stands where none is missed.
        ({"end_after": 1}, {}, {"missed a rep": 0}),
        # 1 % more after a set with two left is 78.3, on plates 77.5.
        ({"increase": 1, "increase_from": 2}, {}, {}),
    ],
    ids=str,
)
def test_a_rule_bounds_the_lines(rule, loads, sets):
    block = bench(77.5)
    ruled = change(block, set_group={"adjust": rule})
    found = {branch.seen: branch for branch in if_then(ruled, lifter_of({"bench press": 100.0}), hall())}
    plain = {branch.seen: branch for branch in if_then(block, lifter_of({"bench press": 100.0}), hall())}
    for seen, branch in found.items():
        assert branch.load_kg == loads.get(seen, branch.load_kg)
        assert branch.sets == sets.get(seen, branch.sets)
        assert branch.load_kg <= branch.planned_kg
    if "end_after" in rule:
        assert found["missed a rep"].said == "missed a rep after set 2: end the sets of this load here"
        assert found["none left"] == plain["none left"]


def test_upward_only_as_the_rule_allows():
    """60 kg, ten percent on after an easy set: 66; without the rule never above 60."""
    easy = change(bench(60, rest_s=240), set_group={"adjust": {"increase": 10, "increase_from": 2, "highest": 110}})
    found = {branch.seen: branch.load_kg for branch in if_then(easy, lifter_of({"bench press": 100.0}), hall())}
    assert found["two or more left"] == 66.0
    assert max(found["none left"], found["missed a rep"]) <= 60.0


def test_a_miss_is_below_the_fewest_reps_of_a_range():
    """Six to eight: missed means five, as for a set of six, whatever the most are."""
    range_of, six = (change(bench(75), set_group={"reps": reps}) for reps in ((6, 8), (6, 6)))
    found, plain = (
        next(
            branch
            for branch in if_then(one, lifter_of({"bench press": 100.0}), hall())
            if branch.seen == "missed a rep"
        )
        for one in (range_of, six)
    )
    assert found.load_kg <= plain.load_kg + 1e-9 or found.sets <= plain.sets


def test_thirty_sheets_by_brute_force():
    lifter, room = lifter_of({"bench press": 100.0}), hall()
    looked = sum(
        after_a_miss(bench(percent, count=count, rest_s=rest), lifter, room)
        for percent in (70, 72.5, 75, 77.5, 80)
        for count in (3, 5)
        for rest in (90, 120, 180)
    )
    assert looked >= 20
