"""The simulation: equal to the plain loop, reproducible, and monotone in load and rest for prescribed reps."""

import itertools

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.load_reps import reps_to_failure
from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where, change, group_at
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: The fast form does the same few hundred operations in another order.
ROUNDING = 1e-12
DEMO = data_path("demo")
LIFTERS = sorted(path.stem for path in (DEMO / "lifters").glob("*.toml"))


@pytest.fixture(scope="module")
def hall():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def block():
    return read_block(DEMO / "block.toml")


def lifter(name="emre_sandoval"):
    return read_lifter(DEMO / "lifters" / f"{name}.toml")


def one_exercise(percent=70.0, rest=90.0, reps=6, count=5, **more):
    group = {"count": count, "reps": reps, "percent": percent, "rest_s": rest, **more}
    slot = {"exercise": "barbell bench pull", "sets": [group]}
    return validate({"name": "one", "weeks": 3, "sessions": [{"name": "only", "exercises": [slot]}]}, Block)


def test_equal_to_the_plain_loop(block, hall):
    plan = make_plan(block, lifter(), hall)
    draws = draw_for(plan, draws=12, seed=3)
    slow = simulate_slowly(plan, draws)
    outcome = simulate(plan, draws)
    compared = 0
    for s, sets in enumerate(outcome.sessions):
        for i, one in enumerate(sets):
            for (session, index, draw, week), reps in slow.items():
                if (session, index) == (s, i):
                    assert one.available[draw, week] == pytest.approx(reps, abs=ROUNDING, rel=ROUNDING)
                    compared += 1
    assert compared == 12 * plan.weeks * plan.set_count


def test_the_same_seed_gives_the_same_digits(block, hall):
    one, two, other = (check_block(block, lifter(), hall, draws=200, seed=seed) for seed in (5, 5, 6))
    assert one.sets.equals(two.sets)
    assert one.chance_of_block == two.chance_of_block
    assert not one.sets.equals(other.sets)


def test_a_first_set_is_the_curve_of_each_draw(hall):
    plan = make_plan(one_exercise(), lifter(), hall)
    draws = draw_for(plan, draws=50, seed=1)
    first = simulate(plan, draws).sessions[0][0]
    strength = np.exp(draws.log_one_rm[:, :1] + draws.day[0])
    by_curve = reps_to_failure(first.planned.load_kg / strength, draws.endurance) * draws.set_noise[0]
    fresh = 1e-9
    assert first.available == pytest.approx(by_curve, abs=fresh)


@pytest.mark.parametrize("name", LIFTERS)
def test_raising_a_percent_never_raises_the_chance(name, hall):
    chances = [
        simulate_chance(one_exercise(percent=percent), lifter(name), hall)
        for percent in (60, 65, 70, 72.5, 75, 80, 90, 105)
    ]
    assert all(np.all(heavier <= lighter) for lighter, heavier in itertools.pairwise(chances))
    assert chances[0].sum() > chances[-1].sum()


@pytest.mark.parametrize("name", LIFTERS)
def test_cutting_a_rest_never_raises_the_chance(name, hall):
    chances = [
        simulate_chance(one_exercise(rest=rest), lifter(name), hall) for rest in (300, 180, 120, 90, 60, 30, 10, 0)
    ]
    assert all(np.all(shorter <= longer) for longer, shorter in itertools.pairwise(chances))
    assert chances[0].sum() > chances[-1].sum()


def simulate_chance(block, who, room):
    plan = make_plan(block, who, room)
    return simulate(plan, draw_for(plan, draws=400, seed=2)).chance_by_session()


@pytest.mark.parametrize("slot_group", [(0, 1, 1), (0, 2, 1), (1, 1, 1), (1, 2, 1)])
def test_in_the_demonstration_block_too(block, hall, slot_group):
    session, slot, group = slot_group
    # The load of a set given by reps in reserve answers to what went before it; here all loads are held.
    block = change(block, Where(1, 3, 1), load_as={"percent": 75.0})
    before = simulate_chance(block, lifter(), hall)
    where = Where(session + 1, slot, group)
    harder = change(block, where, load_by=5)
    shorter = change(block, where, rest_s=group_at(block, where).rest_s / 3)
    for changed in (harder, shorter):
        after = simulate_chance(changed, lifter(), hall)
        assert np.all(after <= before)
        assert after[session].sum() < before[session].sum()


def test_chances_of_week_and_block_are_joint(block, hall):
    plan = make_plan(block, lifter(), hall)
    outcome = simulate(plan, draw_for(plan, draws=300, seed=4))
    made = np.stack([one.made for sets in outcome.sessions for one in sets])
    assert outcome.chance_by_week() == pytest.approx(made.all(axis=0).mean(axis=0))
    assert outcome.chance_of_block() == pytest.approx(made.all(axis=(0, 2)).mean())
    assert outcome.chance_of_block() <= outcome.chance_by_week().min()


def test_a_certain_lifter_far_below_failure_makes_everything(hall):
    # 30 % of 1RM for 3 reps: at k <= 0.08 at least 1 + ln(1/0.3)/0.08 = 16 reps are there when fresh.
    easy = one_exercise(percent=30, reps=3, rest=180)
    assert check_block(easy, lifter(), hall, draws=500, seed=1).chance_of_block == 1.0


def test_over_the_maximum_nothing_is_made(hall):
    # 120 % of the 1RM, known to 4 %, with a day spread under 5 %: nearly three standard deviations out of reach.
    heavy = one_exercise(percent=120, reps=1, count=2)
    check = check_block(heavy, lifter(), hall, draws=1000, seed=1)
    nearly_never = 0.01
    assert check.chance_of_block < nearly_never
    assert check.first_break is not None
    assert (check.first_break.week, check.first_break.label) == (1, "1")


def test_a_mend_really_mends(block, hall):
    for limit in np.arange(0.85, 0.2, -0.05):  # until a small change is enough
        check = check_block(block, lifter(), hall, draws=500, seed=1, limit=limit)
        found = mends(check, draws=500, seed=1).found
        if found:
            break
    assert found
    for mend in found:
        assert mend.chance >= check.limit
        again = check_block(mend.block, lifter(), hall, draws=500, seed=1)
        where = check.first_break
        rows = again.sets[
            (again.sets["session_number"] == where.session_number)
            & (again.sets["slot"] == where.slot)
            & (again.sets["group"] == where.group)
        ]
        assert rows["chance"].min() == mend.chance


def test_draws_of_another_plan_are_refused(block, hall):
    plan = make_plan(block, lifter(), hall)
    other = make_plan(one_exercise(), lifter(), hall)
    with pytest.raises(ValueError, match="another plan"):
        simulate(plan, draw_for(other, draws=10, seed=1))


def test_a_missing_lift_is_named(block, hall):
    who = Lifter.model_validate({"name": "X", "lifts": {"back squat": {"one_rm_kg": 100}}})
    with pytest.raises(ValueError, match="has no 1RM for barbell bench pull"):
        make_plan(block, who, hall)
