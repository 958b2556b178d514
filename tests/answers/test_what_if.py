"""A block checked again with a change: the same digits as a check from nothing, whatever was checked before."""

import numpy as np
import pandas as pd
import pytest

from tests.hand_made import hall, lifter_of
from workbench.answers.block_check import check_block, with_changes
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where, change
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate import fused
from workbench.simulate.draws import CommonDays, SeededDays, draw_for
from workbench.simulate.plan import make_plan, plan_changed
from workbench.simulate.run import Outcome, changed, run_block, simulate

DEMO = data_path("demo")
DRAWS, SEED = 60, 5
#: One after the other, as a coach moves sliders: a load, a rest, a set more (all later sets meet other scatter), a set
#: less elsewhere, two at once, and back to the block as it was.
STEPS = (
    {},
    {Where(1, 1, 1): {"load": 70.0}},
    {Where(1, 1, 1): {"load": 70.0, "rest_s": 60.0}},
    {Where(1, 1, 1): {"sets": 6}},
    {Where(2, 2, 1): {"sets": 2}},
    {Where(1, 1, 1): {"load": 70.0}, Where(3, 1, 1): {"reps": 4}},
    {},
)


@pytest.fixture(scope="module")
def demo():
    block = read_block(DEMO / "block.toml")
    lifter = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
    return block, lifter, read_room(DEMO / "rooms" / "boathouse_hall.toml")


def assert_the_same(outcome, scratch):
    """The same plan and the same reps in every draw, to the last digit."""
    assert outcome.plan.warnings == scratch.plan.warnings
    assert [one.name for one in outcome.plan.sessions] == [one.name for one in scratch.plan.sessions]
    for (session, sets), (other, others) in zip(outcome, scratch, strict=True):
        assert session.day == other.day
        np.testing.assert_array_equal(session.duration_s, other.duration_s)
        for a, b in zip(sets, others, strict=True):
            for name in ("lane", "slot", "group", "label", "load_kg", "reps_low", "reps_high", "rest_s", "start_s"):
                np.testing.assert_array_equal(getattr(a.planned, name), getattr(b.planned, name))
            np.testing.assert_array_equal(a.available, b.available)


def test_every_step_gives_the_digits_of_a_check_from_nothing(demo):
    block, lifter, room = demo
    check, seen = check_block(block, lifter, room, draws=DRAWS, seed=SEED), []
    for changes in STEPS:
        asked = with_changes(block, changes)
        check = check.changed(asked)
        scratch = check_block(asked, lifter, room, draws=DRAWS, seed=SEED)
        pd.testing.assert_frame_equal(check.sets, scratch.sets, check_exact=True)
        pd.testing.assert_frame_equal(check.weeks, scratch.weeks, check_exact=True)
        assert check.chance_of_block == scratch.chance_of_block
        assert check.first_break == scratch.first_break
        assert check.notes == scratch.notes
        seen.append(check.chance_of_block)
    assert seen[0] == seen[-1]
    assert len(set(seen)) > 3  # the steps do change the block


def random_change(block, rng):
    """Return the block with one thing changed, from a rest to the weeks."""
    number = int(rng.integers(len(block.sessions))) + 1
    exercises = len(block.expanded_sessions()[number - 1].exercises)
    slot = int(rng.integers(exercises)) + 1
    what = {
        "rest_s": float(rng.integers(2, 20) * 15),
        "sets": int(rng.integers(1, 6)),
        "reps": int(rng.integers(2, 9)),
        "load_by": float(rng.integers(-4, 4)),
        "order": tuple(int(one) + 1 for one in rng.permutation(exercises)),
        "remove": True,
    }
    kind = str(rng.choice([*what, "days", "weeks", "lighter"]))
    if kind == "days":  # the same sessions in another order
        order = rng.permutation(len(block.sessions))
        return block.model_copy(update={"sessions": [block.expanded_sessions()[at] for at in order]})
    if kind == "weeks":
        return block.model_copy(update={"weeks": block.weeks + int(rng.integers(2))})
    if kind == "lighter":
        return change(block, lighter_load=float(rng.choice([0.8, 0.9])))
    where = Where(number) if kind == "order" else Where(number, slot) if kind == "remove" else Where(number, slot, 1)
    return change(block, where, **{kind: what[kind]})


@pytest.mark.parametrize("seed", range(8))
def test_whatever_changes_the_digits_are_those_from_nothing(demo, seed):
    """Ten random changes one after the other, each taken over from the last; both ways of drawing days."""
    block, lifter, room = demo
    rng = np.random.default_rng(seed)
    days = SeededDays(DRAWS, seed)
    outcome, made = run_block(block, lifter, room, days), 0
    for _ in range(10):
        try:
            asked = random_change(block, rng)
            scratch = run_block(asked, lifter, room, SeededDays(DRAWS, seed))
        except InputError:  # no block can have that
            continue
        block, outcome, made = asked, changed(outcome, asked), made + 1
        assert_the_same(outcome, scratch)
        common = CommonDays([outcome.plan, scratch.plan], draws=DRAWS, seed=seed)
        both = simulate(scratch.plan, common.of(scratch.plan), before=simulate(outcome.plan, common.of(outcome.plan)))
        assert_the_same(both, simulate(scratch.plan, common.of(scratch.plan)))
    assert made > 3


#: Squats and leg presses share muscles, pulldowns and curls too; nothing passes between the first two and the last two.
SHARING = ("back squat", "leg press", "lat pulldown", "dumbbell curl")


def one_session(alternate=False, **of_group):
    """Return a block of one session of the four, two sets each, the middle two alternating where asked for."""
    group = {"count": 2, "reps": 6, "percent": 75, "rest_s": 90.0, "progression": {"rule": "step", "step": 2.0}}
    slots = [{"exercise": name, "ramp": False, "sets": [group | of_group]} for name in SHARING]
    slots[1]["alternate_with_next"] = alternate
    return validate({"name": "b", "weeks": 2, "sessions": [{"name": "one", "exercises": slots}]}, Block)


@pytest.fixture
def compiled(monkeypatch):
    """Compiled sets, which take single exercises over."""
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    from workbench.simulate import fused_sets

    monkeypatch.setattr(fused, "_compiled", fused_sets)


def changed_twice(block, first, second):
    """Check a block after two changes; what is known of single exercises begins with the first."""
    # More draws than are worked together.
    check = check_block(block, lifter_of(dict.fromkeys(SHARING, 100)), hall(), draws=300, seed=SEED)
    check = check.changed(change(block, first[0], **first[1]))
    asked = change(block, second[0], **second[1])
    after = check.changed(asked)
    scratch = check_block(asked, check.plan.lifter, check.plan.room, draws=300, seed=SEED)
    assert_the_same(after.outcome, scratch.outcome)
    pd.testing.assert_frame_equal(after.sets, scratch.sets, check_exact=True)
    pd.testing.assert_frame_equal(after.weeks, scratch.weeks, check_exact=True)
    sets = after.plan.sessions[0].sets
    return {sets[number].exercise for number in after.outcome.sessions[0].intervals}


@pytest.mark.parametrize(
    ("place", "what", "kept"),
    [
        # A load moves what shares its muscles and comes after, and no clock; a rest moves the clock of all that comes.
        (1, {"load": 71.0}, {"lat pulldown", "dumbbell curl"}),
        (2, {"load": 71.0}, {"back squat", "lat pulldown", "dumbbell curl"}),
        (3, {"load": 71.0}, {"back squat", "leg press"}),
        (4, {"load": 71.0}, {"back squat", "leg press", "lat pulldown"}),
        (3, {"rest_s": 40.0}, {"back squat", "leg press"}),
        (1, {"rest_s": 40.0}, set()),
        (1, {"sets": 3}, set()),  # every set meets other scatter
    ],
)
def test_exercises_that_come_to_the_same_are_taken_over_and_no_others(compiled, place, what, kept):
    where = Where(1, place, 1)
    assert changed_twice(one_session(), (where, {"load": 73.0}), (where, what)) == kept


def test_sets_that_alternate_are_worked_again(compiled):
    block = one_session(alternate=True)
    where = Where(1, 1, 1)
    assert changed_twice(block, (where, {"load": 73.0}), (where, {"load": 71.0})) == set()
    last = Where(1, 4, 1)
    assert changed_twice(block, (last, {"load": 73.0}), (last, {"load": 71.0})) == {"back squat"}


def test_nothing_of_other_days_lifters_or_rooms_is_taken_over(compiled):
    block, where = one_session(), Where(1, 1, 1)
    check = check_block(block, lifter_of(dict.fromkeys(SHARING, 100)), hall(), draws=60, seed=SEED)
    check = check.changed(change(block, where, load=73.0))
    plan = make_plan(change(block, where, load=71.0), lifter_of(dict.fromkeys(SHARING, 90)), hall())
    for other, seed in ((check.plan, 9), (plan, SEED)):
        draws = draw_for(other, draws=60, seed=seed)
        assert_the_same(simulate(other, draws, before=check.outcome), simulate(other, draws))
        assert not simulate(other, draws, before=check.outcome).sessions[0].intervals


def taken_over(after, before):
    return [one.sets is two.sets for one, two in zip(after.sessions, before.sessions, strict=True)]


def test_sessions_without_a_change_are_taken_over_and_no_others(demo):
    block, lifter, room = demo
    plan = make_plan(block, lifter, room)
    draws = draw_for(plan, draws=DRAWS, seed=SEED)
    before = simulate(plan, draws)
    other = plan_changed(plan, change(block, Where(2, 1, 1), rest_s=200.0))
    assert taken_over(other, plan) == [True, False, True]
    assert taken_over(simulate(other, draws, before=before), before) == [True, False, True]
    # Other draws, or a set more in an earlier session, and nothing may be taken over.
    assert not any(taken_over(simulate(other, draw_for(plan, draws=DRAWS, seed=9), before=before), before))
    longer = plan_changed(plan, change(block, Where(1, 1, 1), sets=7))
    more = draw_for(longer, draws=DRAWS, seed=SEED)
    first = simulate(plan, more)
    assert not any(taken_over(simulate(longer, more, before=first), first))
    assert_the_same(simulate(longer, more, before=first), simulate(longer, more))


def test_another_lifter_or_another_length_is_worked_out_anew(demo):
    block, lifter, room = demo
    outcome = run_block(block, lifter, room, SeededDays(DRAWS, SEED))
    longer = block.model_copy(update={"weeks": block.weeks + 1})
    assert not any(taken_over(changed(outcome, longer), outcome))
    stronger = make_plan(block, lifter.model_copy(update={"recovery_rate": 2.0}), room)
    assert not any(taken_over(simulate(stronger, outcome.draws, before=outcome), outcome))


def test_sessions_alike_are_planned_once_and_keep_their_names(demo):
    block, lifter, room = demo
    first, second = block.expanded_sessions()[:2]
    twice = block.model_copy(
        update={"sessions": [first, second, first.model_copy(update={"name": "again", "day": None})]}
    )
    plan = make_plan(twice, lifter, room)
    assert plan.sessions[0].sets is plan.sessions[2].sets
    assert (plan.sessions[2].name, plan.sessions[2].day) == ("again", None)
    # What a set meets does not follow from the plan: the second time it is another day.
    outcome = simulate(plan, draw_for(plan, draws=DRAWS, seed=SEED))
    assert not np.array_equal(outcome.sessions[0][0].available, outcome.sessions[2][0].available)


def test_an_outcome_without_days_cannot_be_changed(demo):
    block, lifter, room = demo
    with pytest.raises(ValueError, match="days"):
        changed(Outcome(make_plan(block, lifter, room), ()), block)
