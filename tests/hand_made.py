"""A block, and what happened in it, small enough to count with a pencil: the oracle of everything that counts sets.

Four simulated lifters, two weeks. The reps that they have are written down, not simulated, so that every table that is
made of them can be worked out by hand.
"""

from __future__ import annotations

import numpy as np

from tests.simulated_logs import both_hands
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import Outcome, SessionOutcome
from workbench.simulate.set_outcome import SetOutcome

#: kg; the loads below are 60, 50 (30 after the drop), 80 and 80 % of them.
ONE_RM = {"bench press": 100, "dumbbell curl": 40, "back squat": 125, "leg extension": 50}

BLOCK = {
    "name": "by hand",
    "weeks": 2,
    "sessions": [
        {
            "name": "one",
            "day": 1,
            "exercises": [
                {
                    "exercise": "bench press",
                    "ramp": False,
                    "sets": [
                        {
                            "count": 2,
                            "reps": 5,
                            "kg": 60,
                            "rest_s": 60,
                            # The second set is not done in week 2.
                            "progression": {"rule": "by week", "load": [60, 60], "sets": [2, 1]},
                        }
                    ],
                },
                {
                    "exercise": "dumbbell curl",
                    "ramp": False,
                    "sets": [
                        {
                            "reps": 8,
                            "kg": 20,
                            "each_hand": False,
                            "rest_s": 60,
                            "drops": {"sizes": [40], "reps": 5, "change_s": 10},
                        }
                    ],
                },
            ],
        },
        {
            "name": "two",
            "day": 4,
            "exercises": [
                {"exercise": "back squat", "ramp": False, "sets": [{"reps": "failure", "kg": 100, "rest_s": 60}]},
                {"exercise": "leg extension", "ramp": False, "sets": [{"reps": [8, 12], "kg": 40, "rest_s": 60}]},
            ],
        },
    ],
}

#: Reps that each of the four has, by session and set, then week: what a table is to be counted from.
AVAILABLE = (
    (
        ([5.0, 6.5, 7.0, 9.9], [8.0, 8.0, 8.0, 4.9]),  # bench press, set 1: five wanted
        ([5.5, 4.2, 5.5, 20.0], [0.0, 0.0, 30.0, 30.0]),  # set 2; not done in week 2, whatever stands here
        ([8.0, 9.0, 10.0, 11.0], [12.0, 12.0, 12.0, 12.0]),  # dumbbell curl: eight wanted
        ([5.0, 5.0, 6.0, 7.0], [5.0, 5.0, 30.0, 4.5]),  # its drop: five wanted
    ),
    (
        ([3.2, 4.7, 5.0, 6.0], [2.0, 2.0, 2.0, 2.0]),  # back squat, to failure
        ([7.5, 7.9, 13.0, 17.0], [12.0, 12.0, 16.0, 16.5]),  # leg extension: eight wanted, twelve at most
    ),
)


def hall():
    """Return the demonstration's larger room."""
    return read_room(data_path("demo", "rooms", "boathouse_hall.toml"))


def lifter_of(one_rm: dict[str, float], each: dict[str, object] | None = None, **more: object) -> Lifter:
    """Return an invented lifter with these 1RMs, kg; ``each`` holds for every lift, the rest for the lifter."""
    lifts = {name: {"one_rm_kg": kg, **both_hands(name), **(each or {})} for name, kg in one_rm.items()}
    return validate({"name": "Invented", "lifts": lifts, **more}, Lifter)


def outcome_by_hand() -> Outcome:
    """Return the outcome written down above."""
    plan = make_plan(validate(BLOCK, Block), lifter_of(ONE_RM), hall())
    sessions = tuple(
        SessionOutcome(tuple(SetOutcome(one, np.array(weeks).T) for one, weeks in zip(session.sets, reps, strict=True)))
        for session, reps in zip(plan.sessions, AVAILABLE, strict=True)
    )
    return Outcome(plan, sessions)


def certain_draws(plan: Plan, drawn: LifterDraws) -> LifterDraws:
    """Return draws without chance: every lifter as believed, with an endurance of 0.03 and no day or set like another.

    A fresh set then has ``1 + ln(1RM / load) / 0.03`` reps.
    """
    count, lanes = drawn.count, len(plan.exercises)
    one_rm = [plan.lifter.lift(name).one_rm for name in plan.exercises]
    return LifterDraws(
        exercises=plan.exercises,
        log_one_rm=np.tile(np.log(one_rm), (count, 1)),
        endurance=np.full((count, lanes), 0.03),
        recovery_rate=np.ones(count),
        fatigue=drawn.fatigue,
        form=drawn.form,
        day=np.zeros((len(plan.sessions), count, plan.weeks)),
        set_noise=np.ones((plan.set_count, count, plan.weeks)),
    )
