"""Two orders of a session on the same days: against the scalar simulation with every set's own noise moved by hand."""

from dataclasses import replace

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from tests.scalar_oracle import simulate_slowly
from workbench.answers.orders import compare_orders, moved
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan

NAMES = ("bench press", "triceps pushdown", "overhead press")
#: Not its own reverse, so that places taken the wrong way round show.
ORDER = (3, 1, 2)
DRAWS, SEED = 20, 5
#: The fast form does the same operations in another order.
ROUNDING = 1e-9


@pytest.fixture(scope="module")
def block():
    def slot(name, sets, percent):
        rule = {"rule": "step", "step": 5}
        group = {"count": sets, "reps": 6, "percent": percent, "rest_s": 75, "progression": rule}
        return {"exercise": name, "sets": [group]}

    slots = [slot(name, sets, percent) for name, sets, percent in zip(NAMES, (2, 3, 1), (66, 64, 68), strict=True)]
    sessions = [{"name": "before", "exercises": slots[:1]}, {"name": "push", "exercises": slots}]
    return validate({"name": "b", "weeks": 2, "sessions": sessions}, Block)


def test_reps_gained_chances_and_minutes(block):
    who, room, week = lifter_of(dict.fromkeys(NAMES, 100)), hall(), 2
    found = compare_orders(block, who, room, "push", ORDER, week=week, draws=DRAWS, seed=SEED)
    alone = block.model_copy(update={"sessions": [block.sessions[1]]})
    slots = [block.sessions[1].exercises[place - 1] for place in ORDER]
    turned = alone.model_copy(update={"sessions": [alone.sessions[0].model_copy(update={"exercises": slots})]})
    plan_a, plan_b = make_plan(alone, who, room), make_plan(turned, who, room)
    draws_a = draw_for(plan_a, draws=DRAWS, seed=SEED)
    # Sets in order A: bench press 0, 1; pushdown 2, 3, 4; overhead press 5. In order B: 5, 0, 1, 2, 3, 4.
    draws_b = replace(
        draws_a,
        exercises=plan_b.exercises,
        log_one_rm=draws_a.log_one_rm[:, [2, 0, 1]],
        endurance=draws_a.endurance[:, [2, 0, 1]],
        set_noise=draws_a.set_noise[[5, 0, 1, 2, 3, 4]],
    )
    slow_a, slow_b = simulate_slowly(plan_a, draws_a), simulate_slowly(plan_b, draws_b)
    sets = dict(zip(NAMES, ([0, 1], [2, 3, 4], [5]), strict=True))
    in_b = {0: 1, 1: 2, 2: 3, 3: 4, 4: 5, 5: 0}
    assert found["exercise"].tolist() == [*NAMES, "whole session"]
    for row in found.iloc[:-1].to_dict("records"):
        mine = sets[row["exercise"]]
        a = np.array([[slow_a[0, at, draw, week - 1] for draw in range(DRAWS)] for at in mine])
        b = np.array([[slow_b[0, in_b[at], draw, week - 1] for draw in range(DRAWS)] for at in mine])
        gain = np.sort((b - a).mean(axis=0))
        # Quantiles of 20: at places 1.9, 9.5 and 17.1 counted from 0.
        expected = [0.1 * gain[1] + 0.9 * gain[2], (gain[9] + gain[10]) / 2, 0.9 * gain[17] + 0.1 * gain[18]]
        assert [row["reps_low"], row["reps"], row["reps_high"]] == pytest.approx(expected, abs=ROUNDING)
        assert row["chance_a"] == (a >= 6).all(axis=0).mean()
        assert row["chance_b"] == (b >= 6).all(axis=0).mean()
        assert row["place_a"] == NAMES.index(row["exercise"]) + 1
        assert row["place_b"] == ORDER.index(row["place_a"]) + 1
    whole = found.iloc[-1]
    for key, slow in (("chance_a", slow_a), ("chance_b", slow_b)):
        made = [all(slow[0, at, draw, week - 1] >= 6 for at in range(6)) for draw in range(DRAWS)]
        assert whole[key] == np.mean(made)
    assert whole["chance_a"] != whole["chance_b"]
    minutes = [float(plan.sessions[0].duration_s[week - 1]) / 60 for plan in (plan_a, plan_b)]
    assert [whole["minutes_a"], whole["minutes_b"]] == pytest.approx(minutes, abs=ROUNDING)


def test_only_the_named_session_is_reordered(block):
    turned = change(block, Where("push"), order=ORDER)
    assert [[slot.exercise for slot in one.exercises] for one in turned.sessions] == [
        ["bench press"],
        ["overhead press", "bench press", "triceps pushdown"],
    ]


def test_an_exercise_that_alternates_cannot_come_last(block):
    slots = list(block.sessions[1].exercises)
    slots[0] = slots[0].model_copy(update={"alternate_with_next": True})
    pair = block.model_copy(update={"sessions": [block.sessions[1].model_copy(update={"exercises": slots})]})
    with pytest.raises(InputError, match="put its partner after it"):
        change(pair, Where(1), order=(2, 3, 1))
    assert change(pair, Where(1), order=(3, 1, 2))


@pytest.mark.parametrize(
    ("place", "to", "order"), [(1, 3, (2, 3, 1, 4)), (4, 2, (1, 4, 2, 3)), (2, 1, (2, 1, 3, 4)), (3, 3, None)]
)
def test_moving_one_exercise(place, to, order):
    assert moved(4, place, to) == order
