"""What a simulation costs, counted and not timed: each set of a block is worked out once, whatever the block's size."""

import dataclasses

import pytest

from tests.hand_made import hall, lifter_of
from workbench.models.fatigue import DEFAULT_FORM
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

NAMES = ("back squat", "bench press", "leg press", "barbell row", "dumbbell curl")


@pytest.mark.parametrize(("sessions", "slots", "groups"), [(1, 1, 1), (3, 1, 5), (5, 5, 5)])
def test_every_set_is_worked_out_once_for_all_weeks_and_draws(sessions, slots, groups):
    worked = []

    def counted(*values, **more):
        worked.append(1)
        return DEFAULT_FORM.work(*values, **more)

    content = [
        {
            "name": f"day {day}",
            "exercises": [
                {"exercise": name, "sets": [{"reps": 5, "percent": 60, "rest_s": 90}] * groups}
                for name in NAMES[:slots]
            ],
        }
        for day in range(sessions)
    ]
    block = validate({"name": "b", "weeks": 12, "sessions": content}, Block)
    plan = make_plan(block, lifter_of(dict.fromkeys(NAMES, 100)), hall())
    drawn = draw_for(plan, draws=30, seed=1)
    simulate(plan, dataclasses.replace(drawn, form=dataclasses.replace(DEFAULT_FORM, work=counted)))
    assert len(worked) == plan.set_count == sessions * slots * groups
