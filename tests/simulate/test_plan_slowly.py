"""A block worked out, compared in every field with a plain loop over weeks, and its loads from reserve by hand."""

import dataclasses

import numpy as np
import pytest

from tests.plan_oracle import SessionSlowly
from tests.simulate.test_plan import BISECTED, WHO, block, group, slot
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import ExerciseSlot
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan
from workbench.simulate.plan.planned import PlannedSet, RampSet, SetUp

ROOM = validate(
    {
        "name": "room",
        "unit": "kg",
        "plates": [{"mass": mass, "pairs": 2} for mass in (20, 10, 5, 2.5, 1.25)],
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20},
            {"name": "sled", "kind": "plate_machine", "empty": 0, "plates": [{"mass": 10, "pairs": 12}]},
            {"name": "belt", "kind": "bodyweight", "plates": [{"mass": 1.25, "pairs": 2}, {"mass": 5, "pairs": 4}]},
            {"name": "stack", "kind": "stack", "unit": "lb", "first": 1, "step": 10, "count": 20},
            {"name": "dumbbells", "kind": "dumbbells", "first": 2, "step": 2, "last": 40},
        ],
    },
    Room,
)
DUMBBELLS = "dumbbell bench press"
LIFTS = {
    "back squat": {"one_rm_kg": 140, "endurance": 0.031},
    "barbell bench pull": {"one_rm_kg": 83, "endurance": 0.027},
    "leg press": {"one_rm_kg": 210, "endurance": 0.022},
    "pull-up": {"one_rm_kg": 113, "endurance": 0.035},
    "lat pulldown": {"one_rm_kg": 81, "endurance": 0.029},
    DUMBBELLS: {"one_rm_kg": 71, "each_hand": False, "endurance": 0.033},
}
LIFTER = {"name": "X", "sex": "male", "body_mass_kg": 79.5, "recovery_rate": 0.8, "carry_over": 1.3, "lifts": LIFTS}


def by_week(load, **keys):
    return {"rule": "by week", "load": load, **keys}


STEP = {"rule": "step", "step": 2.5, "reps_step": 1}
#: Sessions in which every way to give a load, and every rule of the weeks, meets every other.
SESSIONS = {
    "reserve, in turn with the body, to failure with drops": [
        slot("back squat", group([5, 8], 150, reps_in_reserve=2, count=3), alternate_with_next=True, ramp=True),
        slot("pull-up", group(6, 90, percent=88, count=2, progression=STEP), ramp=True, alternate_with_next=True),
        slot(
            "barbell bench pull",
            group(4, 200, percent=91, count=2, drops={"sizes": [20, 25], "change_s": 9}),
            group("failure", 45, part_of_group=1, part=0.7, drops={"sizes": [30], "change_s": 9, "reps": 4}),
            ramp=True,
        ),
        slot("back squat", group(5, 100, reps_in_reserve=1, count=2, seconds_per_rep=6)),
    ],
    "weeks that leave sets out": [
        slot(
            "leg press",
            group(5, 60, percent=60, progression=by_week([60, 5, 70, 62], sets=[1, 0, 2, 0], reps=[5, 6, 7, 8])),
            group(8, 75, reps_in_reserve=3, progression=by_week([3, 2, 1, 0], sets=[1, 0, 1, 1])),
            ramp=True,
        ),
        slot("lat pulldown", group("failure", 50, lb=90, count=2, seconds_per_rep=2), alternate_with_next=True),
        slot(DUMBBELLS, group([6, 9], 40, kg=22.6, each_hand=True, count=4), ramp=True),
        slot("lat pulldown", group(3, 10, lb=12), group(3, 10, part_of_group=1, part=0.1), ramp=True),
        slot(DUMBBELLS, group([6, 9], 40, kg=45, each_hand=False)),
    ],
    "nothing that hangs on fatigue": [
        slot("back squat", group(3, 180, percent=62.3, progression=STEP, count=5), ramp=True),
        slot("leg press", group(5, 60, kg=95, progression=by_week([95, 100, 2, 2], sets=[2, 2, 0, 0])), ramp=True),
        slot("back squat", group(10, 90, percent=45, seconds_per_rep=3)),
        slot(DUMBBELLS, group(8, 55, lb=31, each_hand=True)),
    ],
}
LIGHTER = [{"week": 2, "load": 0.85, "sets": 0.5}, {"week": 4, "load": 0.7, "sets": 0.05}]


def plan_of(*slots, lifter=None, room=ROOM, **keys):
    return make_plan(block(*slots, **keys), validate(LIFTER, Lifter) if lifter is None else lifter, room)


def assert_rows(found, expected, kind):
    assert len(found) == len(expected)
    compared = {field.name for field in dataclasses.fields(kind)} - {"lane"}
    for one, row in zip(found, expected, strict=True):
        assert set(row) == compared
        for name, value in row.items():
            where = f"{row['exercise']} {row.get('number', '')}.{row.get('drop', '')}: {name}"
            if isinstance(value, str) or value is None:
                assert getattr(one, name) == value, where
            else:
                assert getattr(one, name) == pytest.approx(np.asarray(value, dtype=float), abs=BISECTED), where


@pytest.mark.parametrize("slots", SESSIONS.values(), ids=SESSIONS.keys())
@pytest.mark.parametrize("lighter", [[], LIGHTER], ids=["weeks alike", "lighter weeks"])
def test_a_session_is_that_of_the_plain_loop(slots, lighter):
    plan = plan_of(*slots, weeks=4, lighter_weeks=lighter)
    (session,) = plan.sessions
    slowly = SessionSlowly(plan.block, plan.lifter, ROOM, session.of)
    assert_rows(session.set_ups, slowly.set_ups, SetUp)
    assert_rows(session.ramps, slowly.ramps, RampSet)
    assert_rows(session.sets, slowly.sets, PlannedSet)
    assert [plan.exercises[one.lane] for one in session.sets] == [one["exercise"] for one in slowly.sets]
    assert session.duration_s == pytest.approx(slowly.now, abs=BISECTED)
