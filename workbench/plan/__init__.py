"""A block worked out for one lifter in one room: the load, reps, rest and clock of every set of every week."""

from workbench.plan.planned import Plan, PlannedSession, PlannedSet, RampSet, SetUp
from workbench.plan.working_out import make_plan, overlap_of

__all__ = ["Plan", "PlannedSession", "PlannedSet", "RampSet", "SetUp", "make_plan", "overlap_of"]
