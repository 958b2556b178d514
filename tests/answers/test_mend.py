"""Mends: what is tried and in which order, worked by hand; the mend found is the smallest that is enough."""

import dataclasses

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from workbench.answers.block_check import check_block
from workbench.answers.block_tables import FirstBreak
from workbench.answers.mend import Mend, mends
from workbench.answers.small_changes import MOST_POINTS, beyond_small, clashes, small_changes
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change, group_at
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan

DRAWS, SEED = 400, 6
#: A lifter of whom 1RM, endurance and recovery are known.
KNOWN = lifter_of(
    {"bench press": 100, "overhead press": 60},
    each={"endurance": 0.035, "uncertainty_percent": 2},
    recovery_rate=1.0,
)


@pytest.fixture(scope="module")
def room():
    return hall()


def group(**keys):
    return {"count": 4, "reps": 8, "rest_s": 90, **keys}


def block_of(*groups, weeks=2, exercise="bench press", important=False, **keys):
    slot = {"exercise": exercise, "sets": list(groups), "ramp": False, "important": important}
    return validate({"name": "b", "weeks": weeks, "sessions": [{"name": "s", "exercises": [slot]}], **keys}, Block)


def broken_at(group_number=1, drop=0):
    return FirstBreak(1, "s", 1, "bench press", 1, group_number, "1", drop, 0.5)


def left_by(block, where, what):
    """The group as a change leaves it; None where no block may have that."""
    try:
        return group_at(change(block, where, **what), where)
    except InputError:
        return None


def tried(block, kind, *, broken=None, weak=()):
    """Changes of a kind that are tried: their words, and the group as each leaves it; the weeks ``weak`` are weak."""
    broken = broken or broken_at()
    plan = make_plan(block, lifter_of({"bench press": 100}), hall())
    weeks = np.isin(np.arange(1, block.weeks + 1), weak)
    return [
        (one.words, left_by(block, broken.where, one.what)) for one in small_changes(plan, broken, weeks).get(kind, [])
    ]


def test_the_smallest_change_comes_first_and_the_largest_is_small():
    block = block_of(group(percent=70))
    assert [new.rest_s - 90 for _, new in tried(block, "rest")] == [15, 30, 45, 60]
    assert tried(block, "rest")[1][0] == "30 s more rest after each set (120 s)"
    assert [new.percent for _, new in tried(block, "load")] == [69, 68, 67, 66, 65]
    assert [words for words, _ in tried(block, "load")][:2] == [
        "1 point lighter every week (69 % in place of 70 % in week 1)",
        "2 points lighter every week (68 % in place of 70 % in week 1)",
    ]
    ((words, fewer),) = tried(block, "reps")
    assert (words, fewer.reps, fewer.count) == ("1 rep fewer in each set", (7, 7), 4)
    ((words, fewer),) = tried(block, "sets")
    assert (words, fewer.reps, fewer.count) == ("1 set fewer (3 in place of 4)", (8, 8), 3)
    # Of three a third goes at most; of two reps, or sets, one would be half.
    assert [[new.reps for _, new in tried(block_of(group(percent=70, reps=n)), "reps")] for n in (2, 3)] == [
        [],
        [(2, 2)],
    ]
    assert [[new.count for _, new in tried(block_of(group(percent=70, count=n)), "sets")] for n in (2, 3)] == [[], [2]]


def test_a_climb_is_slowed_to_half_of_it_at_most():
    """From 70 % by 2.5 points: 2, 1.5; the next step of half a point, 1, would be less than half of 2.5."""
    climbing = block_of(group(percent=70, progression={"rule": "step", "step": 2.5}), weeks=4)
    assert [(new.percent, new.progression.step) for _, new in tried(climbing, "climb")] == [(70, 2), (70, 1.5)]
    assert tried(climbing, "climb")[0][0] == "climb by 2 points a week in place of 2.5"
    wave = {"rule": "wave", "length": 2, "step": 5, "rise": 2.5}
    steps = [new.progression for _, new in tried(block_of(group(percent=70, progression=wave), weeks=4), "climb")]
    assert [(one.step, one.rise) for one in steps] == [(4.5, 2.5), (4, 2.5), (3.5, 2.5), (3, 2.5), (2.5, 2.5)]
    in_kg = block_of(group(kg=60, progression={"rule": "step", "step": 2}), weeks=4)
    assert [(words, new.progression.step) for words, new in tried(in_kg, "climb")] == [
        ("climb by 1.5 kg a week in place of 2", 1.5),
        ("climb by 1 kg a week in place of 2", 1),
    ]
    for rule in (
        {"rule": "step", "step": 0},
        {"rule": "step", "step": -2},
        {"rule": "by week", "load": [70, 75]},
        None,
    ):
        assert tried(block_of(group(percent=70, progression=rule)), "climb") == []


def test_the_weak_weeks_alone_are_made_lighter_and_all_else_is_written_out_as_it_was():
    """Four weeks of 70, 72.5, 75 and, lighter, nine tenths of 77.5; sets 4, 4, 4 and half of them. Week 3 is weak."""
    rule = {"rule": "step", "step": 2.5}
    lighter = [{"week": 4, "load": 0.9, "sets": 0.5}]
    block = block_of(group(percent=70, progression=rule), weeks=4, lighter_weeks=lighter)
    changes = tried(block, "week", weak=[3])
    assert len(changes) == MOST_POINTS
    words, new = changes[1]
    assert words == "week 3 alone 2 points lighter"
    assert new.progression.load == [70, 72.5, 73, 69.75]
    assert new.progression.sets == [4, 4, 4, 2]
    assert (new.progression.reps, new.reps) == (None, (8, 8))
    assert tried(block, "week", weak=[2, 3])[0][0] == "weeks 2 and 3 alone 1 point lighter"
    assert tried(block, "week", weak=[1, 2, 3]) == []  # more than half of the weeks are weak: not by themselves
    assert tried(block, "week") == []
    ladder = {"rule": "reps then load", "reps_to": 10, "step": 5}
    written = tried(block_of(group(percent=70, progression=ladder), weeks=4), "week", weak=[4])[0][1].progression
    assert (written.load, written.reps, written.sets) == ([70, 70, 70, 74], [8, 9, 10, 8], None)


def test_weeks_written_out_as_they_were_are_the_weeks_before():
    rule = {"rule": "step", "step": 2.5}
    lighter = [{"week": 4, "load": 0.9, "sets": 0.5}]
    block = block_of(group(percent=70, progression=rule), weeks=4, lighter_weeks=lighter)
    loads = {"load": [70, 72.5, 75, 69.75], "sets": [4, 4, 4, 2]}
    plans = [
        make_plan(one, lifter_of({"bench press": 100}), hall())
        for one in (block, change(block, Where(1, 1, 1), by_week=loads))
    ]
    for one, other in zip(*(plan.sessions[0].sets for plan in plans), strict=True):
        assert one.active.tolist() == other.active.tolist()
        assert one.load_kg[one.active].tolist() == other.load_kg[one.active].tolist()


def test_loads_written_out_by_week_move_with_the_first():
    block = block_of(group(percent=70, progression={"rule": "by week", "load": [70, 75.5], "reps": [8, 6]}))
    _, lighter = tried(block, "load")[2]
    assert (lighter.percent, lighter.progression.load) == (67, [67, 72.5])
    fewer = tried(block, "reps")[0][1]
    assert (fewer.reps, fewer.progression.reps) == ((7, 7), [7, 5])
    assert fewer.progression.load == [70, 75.5]
    light = block_of(group(percent=30, progression={"rule": "by week", "load": [30, 4]}))
    steps = [new for _, new in tried(light, "load")]
    assert steps[2].progression.load == [27, 1]
    assert steps[3] is None  # nothing is left of 4 %


def test_the_top_of_a_ladder_of_reps_moves_with_its_foot():
    ladder = {"rule": "reps then load", "reps_to": 10, "step": 2.5}
    ((_, fewer),) = tried(block_of(group(percent=70, progression=ladder)), "reps")
    assert (fewer.reps, fewer.progression.reps_to, fewer.progression.step) == ((7, 7), 9, 2.5)


def test_every_way_to_give_a_load_has_lighter_ones():
    kg = tried(block_of(group(kg=80)), "load")
    assert kg[0][0] == "1 % lighter every week (kg)"
    assert [new.kg for _, new in kg] == pytest.approx([79.2, 78.4, 77.6, 76.8, 76.0])
    lb = tried(block_of(group(lb=200)), "load")
    assert lb[4][0] == "5 % lighter every week (lb)"
    assert lb[4][1].lb == pytest.approx(190)
    parts = block_of(group(percent=70), group(part_of_group=1, part=0.85))
    part = tried(parts, "load", broken=broken_at(2))
    assert part[1][0] == "83 % in place of 85 % of group 1"
    assert [new.part for _, new in part] == pytest.approx([0.84, 0.83, 0.82, 0.81, 0.80])


def test_a_drop_is_mended_by_what_follows_its_set_alone():
    block = block_of(group(percent=70, drops={"sizes": [20, 15], "reps": [4, 6]}))
    ((words, fewer),) = tried(block, "reps", broken=broken_at(drop=1))
    assert (words, fewer.drops.reps, fewer.reps) == ("1 rep fewer after each drop", (3, 5), (8, 8))
    larger = tried(block, "drop", broken=broken_at(drop=1))
    assert [new.drops.sizes for _, new in larger] == [[21, 16], [22, 17], [23, 18], [24, 19], [25, 20]]
    assert larger[4][0] == "drops of 25 and 20 % in place of 20 and 15 %"
    assert {kind for kind in ("rest", "load", "sets") if tried(block, kind, broken=broken_at(drop=1))} == set()


def test_what_it_would_take_begins_where_small_changes_end():
    block = block_of(group(percent=70))
    loads, reps = ([one.what for one in changes] for changes in beyond_small(block, broken_at()))
    assert [one["load_by"] for one in loads] == [-7.5, -10, -12.5, -15, -17.5, -20]
    assert [one["reps_by"] for one in reps] == [-2, -3, -4]  # half of eight


def test_two_of_one_kind_are_never_taken_together():
    """The load twice, or sets and reps, would be one change that is not small."""
    kinds = ("rest", "climb", "week", "load", "reps", "sets")
    together = {(a, b) for a in kinds for b in kinds if a < b and not clashes(a, b)}
    assert together == {
        *(("climb", other) for other in ("reps", "rest", "sets")),
        *(("load", other) for other in ("reps", "rest", "sets")),
        *(("reps", other) for other in ("rest", "week")),
        *(("rest", other) for other in ("sets", "week")),
        ("sets", "week"),
    }


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


FIRST_GROUP = Where(1, 1, 1)


def chances_of(block, who, room, *, seed=SEED, slot=1, group_number=1, drop=0):
    """Chances of the sets of a group, or of its drops."""
    sets = check_block(block, who, room, draws=DRAWS, seed=seed).sets
    return sets.loc[
        (sets["slot"] == slot) & (sets["group"] == group_number) & ((sets["drop"] > 0) == bool(drop)), "chance"
    ]


def limit_met_by(block, who, room, where=FIRST_GROUP, **what):
    """A limit that a change is just enough for, on both runs of days, with two standard errors to spare."""
    changed = change(block, where, **what)
    lowest = min(
        chances_of(changed, who, room, seed=seed, slot=where.exercise, group_number=where.group).min()
        for seed in (SEED, SEED + 1)
    )
    return lowest - 2 * np.sqrt(lowest * (1 - lowest) / DRAWS)


def found_in(block, who, room, limit):
    check = check_block(block, who, room, draws=DRAWS, seed=SEED, limit=limit)
    return check, mends(check, draws=DRAWS, seed=SEED)


def margin(limit):
    """One standard error of a chance from so many draws."""
    return np.sqrt(limit * (1 - limit) / DRAWS)


def work(outcome):
    """Load times whole reps done, mean of the draws, in the only group of the only session."""
    return sum(
        float((np.minimum(np.floor(reps), one.planned.reps_high[week])).mean() * one.planned.load_kg[week])
        for one in outcome.sessions[0]
        for week, reps in enumerate(one.available.T)
        if one.planned.active[week]
    )


CLIMBING = {"rule": "step", "step": 2.5}


def test_the_mend_found_is_the_smallest_that_is_enough(room):
    """A mend has the chance that a check of the changed block shows; the next smaller one is not enough somewhere."""
    block = block_of(group(percent=66, progression=CLIMBING), weeks=3)
    limit = limit_met_by(block, KNOWN, room, load_by=-4)
    check, mending = found_in(block, KNOWN, room, limit)
    assert "load" in {mend.kind for mend in mending.found}
    for mend in mending.found:
        again = check_block(mend.block, KNOWN, room, draws=DRAWS, seed=SEED)
        assert mend.chance == again.sets["chance"].min() >= limit + margin(limit)
        assert mend.block == change(block, mend.where, **mend.what)
        assert mend.kept == pytest.approx(work(again.outcome) / work(check.outcome))
        minutes = [float(np.max(each.plan.sessions[0].duration_s)) / 60 for each in (check, again)]
        assert mend.minutes == pytest.approx(minutes[1] - minutes[0])
    weak = check.sets[check.sets["chance"] < limit]["week"].unique()
    smaller = [what for mend in mending.found if "+" not in mend.kind for what in whats_before(block, mend, weak)]
    assert smaller, "the first is always enough: the case tests nothing"
    for what in smaller:
        changed = change(block, Where(1, 1, 1), **what)
        assert min(chances_of(changed, KNOWN, room, seed=seed).min() for seed in (SEED, SEED + 1)) < limit + margin(
            limit
        )
    kept = [round(min(mend.kept, 1.0) / 0.005) for mend in mending.found]
    assert kept == sorted(kept, reverse=True)


def whats_before(block, mend, weak):
    """The smaller changes of a mend's kind."""
    plan = make_plan(block, KNOWN, hall())
    changes = small_changes(plan, broken_at(), np.isin(np.arange(1, block.weeks + 1), weak))[mend.kind]
    return [one.what for one in changes[: [one.words for one in changes].index(mend.change)]]


def test_a_mend_says_how_much_work_gets_done():
    fewer = Mend("reps", "1 rep fewer in each set", 0.9, 1.0, 0.0, block_of(group(percent=70)), Where(1, 1, 1), {})
    assert str(fewer) == "1 rep fewer in each set (least likely set then 90 %; as much work gets done)"
    less = dataclasses.replace(fewer, kept=0.84, minutes=2.0)
    assert str(less).endswith("(least likely set then 90 %; keeps 84 % of the work, 2 min longer)")


def test_a_pair_is_two_small_changes_of_which_neither_is_enough(room):
    block = block_of(group(percent=70))
    limit = limit_met_by(block, KNOWN, room, load_by=-5, rest_by=60)
    _, mending = found_in(block, KNOWN, room, limit)
    pairs = [mend for mend in mending.found if "+" in mend.kind]
    assert 1 <= len(pairs) <= 2
    for mend in pairs:
        assert len(mend.what) == 2
        for kind, value in mend.what.items():
            alone = change(block, mend.where, **{kind: value})
            chances = [chances_of(alone, KNOWN, room, seed=seed).min() for seed in (SEED, SEED + 1)]
            assert min(chances) < limit + margin(limit)


def test_no_mend_lowers_what_is_marked_as_most_important(room):
    plain, marked = (block_of(group(percent=66), important=important) for important in (False, True))
    limit = min(limit_met_by(plain, KNOWN, room, load_by=-5), limit_met_by(plain, KNOWN, room, rest_by=60))
    _, free = found_in(plain, KNOWN, room, limit)
    assert {mend.kind for mend in free.found} > {"rest"}
    _, held = found_in(marked, KNOWN, room, limit)
    assert {mend.kind for mend in held.found} == {"rest"}
    _, nothing = found_in(block_of(group(percent=85), important=True), KNOWN, room, limit)
    assert nothing.found == ()
    assert "marked as most important" in nothing.sentences()[0]
    assert "it would take" not in nothing.sentences()[0]


def test_a_longer_rest_that_makes_the_session_too_long_is_no_mend(room):
    block = block_of(group(percent=66))
    minutes = float(np.max(make_plan(block, KNOWN, room).sessions[0].duration_s)) / 60
    limit = min(limit_met_by(block, KNOWN, room, load_by=-5), limit_met_by(block, KNOWN, room, rest_by=60))
    _, free = found_in(block, KNOWN, room, limit)
    assert any("rest" in mend.kind for mend in free.found)
    tight = block.model_copy(update={"limits": block.limits.model_copy(update={"session_minutes": minutes})})
    _, held = found_in(tight, KNOWN, room, limit)
    assert held.found
    assert "rest" not in {mend.kind for mend in held.found}
    assert all(mend.minutes <= 0 for mend in held.found)  # a longer rest only where a set fewer makes up for it


def test_where_nothing_small_helps_the_answer_says_why(room):
    """A lifter who is known is asked too much; of one who is not, nobody knows, and a test is named."""
    block = block_of(group(percent=80))
    _, mending = found_in(block, KNOWN, room, limit_met_by(block, KNOWN, room, load_by=-15))
    assert (mending.found, mending.tired, mending.tireless) == ((), None, None)
    assert not mending.unknown
    assert "it would take" in mending.sentences()[0]
    assert mending.test not in mending.sentences()[0]
    # Of a lifter who is not known, the limit may lie between what an easily tired and a tireless one have.
    _, asked = found_in(block_of(group(percent=72)), lifter_of({"bench press": 100}), room, 0.99)
    assert asked.tired < asked.tireless
    nothing = dataclasses.replace(asked, found=(), limit=asked.tireless)
    assert nothing.unknown
    assert "not known" in nothing.sentences()[0]
    assert nothing.sentences()[0].endswith(nothing.test)
    assert not dataclasses.replace(nothing, limit=asked.tireless + 0.01).unknown


def test_a_block_that_keeps_its_limit_has_no_mend(room):
    check = check_block(block_of(group(percent=30)), lifter_of({"bench press": 100}), room, draws=20, seed=1)
    assert check.first_break is None
    found = mends(check, draws=20, seed=1)
    assert (found.found, found.broken, found.sentences()) == ((), None, ["Nothing needs to change."])


def test_only_the_sets_of_the_group_are_judged(room):
    """A second group that is beyond reach is not what a mend of the first is held against."""
    hopeless = group(percent=110, count=1)
    block = block_of(group(percent=66), hopeless)
    check, mending = found_in(block, KNOWN, room, limit_met_by(block, KNOWN, room, load_by=-4))
    assert check.first_break.group == 1
    assert "load" in {one.kind for one in mending.found}


def test_a_set_and_its_drop_are_mended_apart(room):
    """Six reps after a drop of 5 % are out of reach; the set before it is not held against that."""
    drops = {"sizes": [5], "reps": 6, "change_s": 5}
    block = block_of(group(percent=78, count=1, drops=drops), weeks=1)
    check, mending = found_in(block, KNOWN, room, limit_met_by(block, KNOWN, room, load_by=-4))
    assert check.first_break.drop == 0
    lighter = next(one for one in mending.found if one.kind == "load")
    again = check_block(lighter.block, KNOWN, room, draws=DRAWS, seed=SEED, limit=check.limit)
    assert lighter.chance == again.sets.loc[again.sets["drop"] == 0, "chance"].min()
    assert again.first_break.drop == 1


def test_a_drop_that_is_too_small_is_made_larger(room):
    drops = {"sizes": [12], "reps": 4, "change_s": 5}
    block = block_of(group(percent=75, count=1, reps=7, drops=drops), weeks=1)
    changed = change(block, Where(1, 1, 1), drop=[16])
    limit = min(chances_of(changed, KNOWN, room, seed=seed, drop=1).min() for seed in (SEED, SEED + 1)) - 0.04
    check, mending = found_in(block, KNOWN, room, limit)
    assert check.first_break.drop == 1
    larger = next(one for one in mending.found if one.kind == "drop")
    assert 12 < larger.what["drop"][0] <= 16
    assert larger.chance == chances_of(larger.block, KNOWN, room, drop=1).min() >= limit


@pytest.mark.parametrize(("at", "alternate"), [(2, False), (1, True), (2, True)])
def test_what_comes_before_and_between_is_part_of_what_must_be_mended(at, alternate, room):
    """Two presses: the mend meets what the first takes from the second, and what either takes where they alternate."""
    easy, hard = group(percent=40, reps=5), group(percent=64)
    slots = [
        {"exercise": name, "sets": [hard if place == at else easy], "ramp": False}
        for place, name in enumerate(("bench press", "overhead press"), start=1)
    ]
    slots[0]["alternate_with_next"] = alternate
    block = validate({"name": "b", "weeks": 2, "sessions": [{"name": "s", "exercises": slots}]}, Block)
    limit = limit_met_by(block, KNOWN, room, Where(1, at, 1), load_by=-4)
    check, mending = found_in(block, KNOWN, room, limit)
    assert check.first_break.slot == at
    assert mending.found
    for mend in mending.found:
        # The session ends here, so that the mend has simulated all of it, on the same days.
        assert mend.chance == chances_of(mend.block, KNOWN, room, slot=at).min() >= limit
