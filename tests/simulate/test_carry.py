"""Carry-over inside the simulation: off switch, monotone joint chances, equality with the plain loop."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.scalar_oracle import simulate_slowly
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.models.sharing import NO_CARRY
from workbench.prescription.block import Block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

DEMO = data_path("demo")
HALL = read_room(DEMO / "rooms" / "boathouse_hall.toml")
WHO = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
#: All share muscles: a pull, a pulldown and a curl.
PULLS = ("barbell bench pull", "lat pulldown", "dumbbell curl")
ROUNDING = 1e-12


def block_of(percents, rests, reps=(6, 8, 10), *, alternate=False, weeks=2):
    slots = [
        {
            "exercise": name,
            "ramp": False,  # ramp sets take time, and time is rest: the loads alone are compared here
            "alternate_with_next": alternate and number < len(PULLS) - 1,
            "sets": [{"count": 3, "reps": reps[number], "percent": percents[number], "rest_s": rests[number]}],
        }
        for number, name in enumerate(PULLS)
    ]
    return validate({"name": "pulls", "weeks": weeks, "sessions": [{"name": "only", "exercises": slots}]}, Block)


def chance(block, carry=None):
    plan = make_plan(block, WHO, HALL)
    if carry is not None:
        plan = replace(plan, carry=carry)
    return simulate(plan, draw_for(plan, draws=150, seed=3)).chance_by_session()


percent = st.floats(45, 80)
rest = st.floats(20, 240)


@settings(max_examples=25)
@given(
    percents=st.tuples(percent, percent, percent),
    rests=st.tuples(rest, rest, rest),
    which=st.integers(0, 2),
    more=st.floats(1, 15),
    less=st.floats(0.2, 0.9),
    alternate=st.booleans(),
)
def test_the_joint_chance_never_rises_with_load_and_never_falls_with_rest(
    percents, rests, which, more, less, alternate
):
    before = chance(block_of(percents, rests, alternate=alternate))
    heavier = [value + more if number == which else value for number, value in enumerate(percents)]
    shorter = [value * less if number == which else value for number, value in enumerate(rests)]
    assert np.all(chance(block_of(heavier, rests, alternate=alternate)) <= before)
    assert np.all(chance(block_of(percents, shorter, alternate=alternate)) <= before)


def test_carry_never_raises_a_chance_and_lowers_that_of_pulls_in_a_row():
    block = block_of((70, 70, 65), (90, 90, 60))
    with_carry, without = chance(block), chance(block, NO_CARRY)
    assert np.all(with_carry <= without)
    assert with_carry.sum() < without.sum()


@pytest.mark.parametrize("alternate", [False, True])
def test_equal_to_the_plain_loop_in_a_row_and_alternating(alternate):
    plan = make_plan(block_of((70, 70, 65), (90, 60, 45), alternate=alternate), WHO, HALL)
    draws = draw_for(plan, draws=8, seed=1)
    slow = simulate_slowly(plan, draws)
    sets = simulate(plan, draws).sessions[0]
    assert len(slow) == 8 * plan.weeks * len(sets)
    for (_, index, draw, week), reps in slow.items():
        assert sets[index].available[draw, week] == pytest.approx(reps, abs=ROUNDING, rel=ROUNDING)
