"""Mends: what is tried and in which order, worked by hand, and that the mend found is the smallest that is enough."""

import pytest

from tests.hand_made import hall, lifter_of
from workbench.answers.block_check import FirstBreak, check_block
from workbench.answers.mend import candidates, mends
from workbench.prescription.block import Block, SetGroup
from workbench.prescription.edit import Where, change, group_at
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

DRAWS, SEED = 200, 6


@pytest.fixture(scope="module")
def room():
    return hall()


def group(**keys):
    return {"count": 4, "reps": 8, "rest_s": 90, **keys}


def block_of(*groups, weeks=2, exercise="bench press"):
    slot = {"exercise": exercise, "sets": list(groups), "ramp": False}
    return validate({"name": "b", "weeks": weeks, "sessions": [{"name": "s", "exercises": [slot]}]}, Block)


def broken_at(group_number=1, drop=0):
    return FirstBreak(1, "s", 1, "bench press", 1, group_number, "1", drop, 0.5)


def left_by(block, where, what):
    """The group as a change leaves it; None where no block may have that."""
    try:
        return group_at(change(block, where, **what), where)
    except InputError:
        return None


def tried(block, kind, *, broken=None):
    """Changes of a kind that are tried: their words, and the group as each leaves it."""
    broken = broken or broken_at()
    changes = dict(candidates(broken, block))[kind]
    return [(words, left_by(block, broken.where, what)) for words, what in changes]


def test_the_smallest_change_comes_first_and_the_largest_is_not_endless():
    block = block_of(group(percent=70))
    rests = [new.rest_s - 90 for _, new in tried(block, "rest")]
    assert rests == list(range(15, 301, 15))
    assert tried(block, "rest")[1][0] == "30 s more rest after each set"
    loads = [new.percent for _, new in tried(block, "load")]
    assert loads == [70 - points for points in range(1, 21)]
    assert [words for words, _ in tried(block, "load")][:2] == [
        "1 point of percent lighter every week",
        "2 points of percent lighter every week",
    ]
    # Eight reps can lose seven; the eighth step has no rep left and is no change.
    assert [None if new is None else new.reps for _, new in tried(block, "reps")] == [
        *((reps, reps) for reps in range(7, 0, -1)),
        None,
    ]
    assert [words for words, _ in tried(block, "reps")][:2] == ["1 rep fewer in each set", "2 reps fewer in each set"]
    assert [kind for kind, _ in candidates(broken_at(), block)] == ["rest", "load", "reps"]


def test_loads_written_out_by_week_move_with_the_first():
    block = block_of(group(percent=70, progression={"rule": "by week", "load": [70, 75.5], "reps": [8, 6]}))
    words, lighter = tried(block, "load")[2]
    assert words == "3 points of percent lighter every week"
    assert (lighter.percent, lighter.progression.load) == (67, [67, 72.5])
    fewer = tried(block, "reps")[1][1]
    assert (fewer.reps, fewer.progression.reps) == ((6, 6), [6, 4])
    assert fewer.progression.load == [70, 75.5]
    light = block_of(group(percent=30, progression={"rule": "by week", "load": [30, 12]}))
    steps = [new for _, new in tried(light, "load")]
    assert steps[10].progression.load == [19, 1]
    assert steps[11] is None  # nothing is left of 12 %


def test_the_top_of_a_ladder_of_reps_moves_with_its_foot():
    ladder = {"rule": "reps then load", "reps_to": 10, "step": 2.5}
    (fewer,) = [new for words, new in tried(block_of(group(percent=70, progression=ladder)), "reps") if words[0] == "2"]
    assert (fewer.reps, fewer.progression.reps_to, fewer.progression.step) == ((6, 6), 8, 2.5)


def test_every_way_to_give_a_load_has_lighter_ones():
    kg = tried(block_of(group(kg=80)), "load")
    assert kg[0][0] == "1 % lighter (kg)"
    assert [kg[0][1].kg, kg[9][1].kg] == pytest.approx([79.2, 72.0])
    lb = tried(block_of(group(lb=200)), "load")
    assert lb[4][0] == "5 % lighter (lb)"
    assert lb[4][1].lb == pytest.approx(190)
    parts = block_of(group(percent=70), group(part_of_group=1, part=0.85))
    part = tried(parts, "load", broken=broken_at(2))
    assert part[0][0] == "0.83 in place of 0.85 of group 1"
    assert part[0][1].part == pytest.approx(0.83)
    reserve = tried(block_of(group(reps_in_reserve=2)), "load")
    assert [(words, new.reps_in_reserve) for words, new in reserve] == [
        ("1 more rep in reserve", 3),
        ("2 more reps in reserve", 4),
        ("3 more reps in reserve", 5),
        ("4 more reps in reserve", 6),
    ]


def test_a_drop_is_mended_by_the_reps_after_it_alone():
    block = block_of(group(percent=70, drops={"sizes": [20], "reps": [4, 6]}))
    ((kind, changes),) = candidates(broken_at(drop=1), block)
    made = [(words, left_by(block, Where(1, 1, 1), what)) for words, what in changes]
    assert kind == "reps"
    assert made[0][0] == "1 rep fewer after each drop"
    assert [None if new is None else new.drops.reps for _, new in made[:4]] == [(3, 5), (2, 4), (1, 3), None]
    assert made[0][1].reps == (8, 8)


def test_a_change_stays_in_its_session_slot_and_group():
    content = {
        "name": "b",
        "weeks": 1,
        "sessions": [
            {
                "name": "a",
                "exercises": [
                    {"exercise": "bench press", "sets": [group(percent=70), group(percent=60)]},
                    {"exercise": "back squat", "sets": [group(percent=70), group(percent=60)]},
                ],
            },
            {"name": "again", "repeat_of": "a", "percent_change": -5},
        ],
    }
    block = validate(content, Block)
    changed = change(block, Where("again", "back squat", 2), rest_s=200.0)
    rests = [[[one.rest_s for one in slot.sets] for slot in session.exercises] for session in changed.sessions]
    assert rests == [[[90, 90], [90, 90]], [[90, 90], [90, 200]]]
    assert changed.sessions[1].exercises[0].sets[0].percent == 65
    assert changed.sessions[0] == block.sessions[0]


def test_the_mend_found_is_the_smallest_that_is_enough(room):
    """One exercise alone: the mend and a check of the changed block meet the same days, to the digit."""
    who = lifter_of({"bench press": 100})
    check = check_block(block_of(group(percent=70)), who, room, draws=DRAWS, seed=SEED, limit=0.7)
    found = {one.kind: one for one in mends(check, draws=DRAWS, seed=SEED)}
    assert set(found) == {"rest", "load", "reps"}
    for kind, mend in found.items():
        words = [words for words, _ in tried(check.plan.block, kind)]
        groups = [new for _, new in tried(check.plan.block, kind)]
        at = words.index(mend.change)
        assert mend.block.sessions[0].exercises[0].sets[0] == groups[at]
        chances = [lowest(new, who, room) for new in groups[: at + 1]]
        assert mend.chance == chances[-1] >= 0.7
        assert all(chance < 0.7 for chance in chances[:-1])
    assert any(words_at(check, one) > 0 for one in found.values())  # the first is not always enough


def words_at(check, mend):
    return [words for words, _ in tried(check.plan.block, mend.kind)].index(mend.change)


def lowest(new: SetGroup, who, room):
    block = block_of(new.model_dump(exclude_none=True) | {"reps": int(new.reps[0])})
    return check_block(block, who, room, draws=DRAWS, seed=SEED).sets["chance"].min()


def test_a_block_that_keeps_its_limit_has_no_mend(room):
    check = check_block(block_of(group(percent=30)), lifter_of({"bench press": 100}), room, draws=20, seed=1)
    assert check.first_break is None
    assert mends(check, draws=20, seed=1) == []


def test_only_the_sets_of_the_group_are_judged(room):
    """A second group that is beyond reach is not what a mend of the first is held against."""
    hopeless = group(percent=110, count=1)
    check = check_block(
        block_of(group(percent=72), hopeless), lifter_of({"bench press": 100}), room, draws=DRAWS, seed=SEED, limit=0.7
    )
    assert check.first_break.group == 1
    assert {one.kind for one in mends(check, draws=DRAWS, seed=SEED)} == {"rest", "load", "reps"}


def test_a_set_and_its_drop_are_mended_apart(room):
    """Six reps after a drop of 5 % are out of reach; the set before it is not held against that."""
    drops = {"sizes": [5], "reps": 6, "change_s": 5}
    block = block_of(group(percent=86, count=1, drops=drops), weeks=1)
    check = check_block(block, lifter_of({"bench press": 100}), room, draws=DRAWS, seed=SEED, limit=0.7)
    assert check.first_break.drop == 0
    fewer = next(one for one in mends(check, draws=DRAWS, seed=SEED) if one.kind == "reps")
    again = check_block(fewer.block, lifter_of({"bench press": 100}), room, draws=DRAWS, seed=SEED, limit=0.7)
    assert fewer.chance == again.sets.loc[again.sets["drop"] == 0, "chance"].min()
    assert again.first_break.drop == 1


@pytest.mark.parametrize(("at", "alternate"), [(2, False), (1, True), (2, True)])
def test_what_comes_before_and_between_is_part_of_what_must_be_mended(at, alternate, room):
    """Two presses: the mend meets what the first takes from the second, and what either takes where they alternate."""
    easy, hard = group(percent=40, reps=5), group(percent=74)
    slots = [
        {"exercise": name, "sets": [hard if place == at else easy], "ramp": False}
        for place, name in enumerate(("bench press", "overhead press"), start=1)
    ]
    slots[0]["alternate_with_next"] = alternate
    block = validate({"name": "b", "weeks": 2, "sessions": [{"name": "s", "exercises": slots}]}, Block)
    who = lifter_of({"bench press": 100, "overhead press": 60})
    check = check_block(block, who, room, draws=DRAWS, seed=SEED, limit=0.7)
    assert check.first_break.slot == at
    found = mends(check, draws=DRAWS, seed=SEED)
    assert found
    for mend in found:
        again = check_block(mend.block, who, room, draws=DRAWS, seed=SEED).sets
        # The session ends here, so that the mend has simulated all of it, on the same days.
        assert mend.chance == again.loc[again["slot"] == at, "chance"].min() >= 0.7
