"""A block worked out for one lifter in one room: the load, reps, rest and clock of every set of every week."""

from workbench.simulate.plan.planned import (
    Plan,
    PlannedSession,
    PlannedSet,
    RampSet,
    SetArrays,
    SetPlace,
    SetPlaces,
    SetUp,
    overlap_of,
)
from workbench.simulate.plan.working_out import make_plan, plan_changed

__all__ = [
    "Plan",
    "PlannedSession",
    "PlannedSet",
    "RampSet",
    "SetArrays",
    "SetPlace",
    "SetPlaces",
    "SetUp",
    "make_plan",
    "overlap_of",
    "plan_changed",
]
