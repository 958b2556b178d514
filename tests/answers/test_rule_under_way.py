"""A rule in a session under way allows what it does when the block is simulated: same loads, same end."""

import random

import numpy as np
import pytest

from tests.answers.invented_blocks import LIFTS, ROOMS
from workbench.answers.rule_under_way import rules_under_way
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.adjusting import Adjusted
from workbench.simulate.plan import make_plan

RULES = [
    {"lower": 7.5},
    {"lower": 20, "lowest": 55},
    {"lower": 5, "lowest": 97, "end_after": 3},
    {"end_after": 1},
    {"lower": 10, "increase": 5, "increase_from": 2, "highest": 110, "end_after": 4},
]


@pytest.mark.parametrize("rule", RULES, ids=str)
@pytest.mark.parametrize("unit", ["kg", "lb"])
@pytest.mark.parametrize("exercise", ["bench press", "dumbbell curl", "pull-up", "lat pulldown"])
def test_a_rule_allows_what_it_is_simulated_with(exercise, unit, rule):
    """Sets made and missed at random, with far more or far less left than any statement could be off by."""
    group = {"count": 6, "reps": [5, 7], "percent": 85, "rest_s": 60, "adjust": rule}
    slots = [{"exercise": exercise, "ramp": False, "sets": [group]}]
    block = validate({"name": "b", "weeks": 1, "sessions": [{"name": "one", "exercises": slots}]}, Block)
    lift = {"one_rm_kg": LIFTS[exercise][0], **({"each_hand": False} if exercise == "dumbbell curl" else {})}
    who = validate({"name": "A", "body_mass_kg": 78, "lifts": {exercise: lift}}, Lifter)
    plan = make_plan(block, who, validate(ROOMS[unit], Room))
    table = plan.room.loads_for(plan.catalogue.exercise(exercise))
    rng = random.Random(5)
    for _ in range(20):
        (session,) = plan.sessions
        simulated = Adjusted(block.sessions[0].exercises[0].sets[0].adjust, table, (1, 1))
        rule_today = rules_under_way(session)[1, 1]
        for one in session.sets:
            assert rule_today.ended != simulated.done.item()
            planned_kg = float(one.load_kg[0])
            least, most = rule_today.allowed(planned_kg, one.body_kg, table, most_down=0.3)
            assert most == pytest.approx(simulated.load_kg(one).item(), abs=1e-9)
            assert least <= most
            if rule_today.ended:
                break
            # Reps to failure; what is left after the most reps asked for is either hardly any or plenty.
            reps, left = rng.choice([(3, 0), (4, 0), (5, 0), (7, 0), (7, 9)])
            simulated.after(one, np.array([[reps + left + 0.5]]))
            rule_today.take(one, 0, reps, None if reps < 7 else float(left))
