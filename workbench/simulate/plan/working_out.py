"""A block worked out for one lifter in one room: the load, reps, rest and clock of every set of every week.

Loads follow the believed 1RM, or, where reps in reserve are asked for, the reps that a median lifter like this one
would have at that point of the session. Rounding to loads that the room has happens once, here, last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, zip_longest

import numpy as np

from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY, Carry, SharedFatigue
from workbench.prescription.block import Block, Session
from workbench.reference.parameters import fatigue_typical
from workbench.simulate.plan.clock import Clock
from workbench.simulate.plan.planned import Plan, PlannedChain, PlannedSession, PlannedSet
from workbench.simulate.plan.slot_planner import SlotPlanner

__all__ = ["make_plan", "plan_changed"]


def make_plan(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    carry: Carry = CARRY,
) -> Plan:
    """Work out every set of a block for one lifter in one room.

    Parameters
    ----------
    block, lifter, room
    form, curve : FatigueForm, Curve
        Decide the loads of sets that are given by reps in reserve, and how the plan is simulated.
    carry : Carry
        How strongly fatigue passes between exercises that share muscles.

    Raises
    ------
    InputError
        Where the lifter has no 1RM for an exercise, or the room nothing to load it with.
    """
    exercises = _exercises_of(block, room)
    return _with_sessions(Plan(block, lifter, room, exercises, (), form, curve, carry))


def plan_changed(before: Plan, block: Block) -> Plan:
    """Work out a changed block as another plan was, taking over the sessions that are equal.

    Equal to `make_plan` of the block, to the digit.

    Raises
    ------
    InputError
        As for `make_plan`.
    """
    plan = replace(before, block=block, exercises=_exercises_of(block, before.room), sessions=())
    plan.stations.update(before.stations)
    return _with_sessions(plan, before.sessions if plan.terms == before.terms else ())


def _exercises_of(block: Block, room: Room) -> tuple[str, ...]:
    written = (slot.exercise for session in block.expanded_sessions() for slot in session.exercises)
    return tuple(dict.fromkeys(room.catalogue.exercise(name).name for name in written))


def _with_sessions(plan: Plan, known: Sequence[PlannedSession] = ()) -> Plan:
    """Work out the sessions of the plan's block; of those alike, here or among the known, one stands for all."""
    planned: list[PlannedSession] = []
    by_name = {one.name: one for one in known}
    for session in plan.block.expanded_sessions():
        before = by_name.get(session.name)
        found = chain([] if before is None else [before], known, planned)
        alike = next((one for one in found if one.of.exercises == session.exercises), None)
        if alike is None:
            planned.append(_plan_session(session, plan, before))
        else:
            planned.append(alike if alike.of == session else replace(alike, of=session))
    done = replace(plan, sessions=tuple(planned))
    done.stations.update(plan.stations)
    return done


def _plan_session(session: Session, plan: Plan, before: PlannedSession | None) -> PlannedSession:
    """Work out a session, taking over from the same one before what is written and begins as it did there."""
    lifter, weeks = plan.lifter, plan.block.weeks
    rate = lifter.recovery_rate or lifter.usual_recovery[0]
    carry = plan.carry if lifter.carry_over is None else plan.carry.times(lifter.carry_over)
    tiring = lifter.tiring(plan.form) or fatigue_typical(plan.form)
    fatigue = SharedFatigue(plan.form, plan.overlap, rate, parameters=tiring, carry=carry)
    clock = Clock(np.zeros(weeks), fatigue, plan.curve.bent(lifter.bend(plan.curve)), _tires(session))
    slots = dict(enumerate(session.exercises, start=1))
    written = [{number: slots[number] for number in numbers} for numbers in _chains(session)]
    known = [one for one in (() if before is None else before.chains) if one.slots in written]
    # Those of all that is new before its first set is worked out: what an exercise lacks is said first.
    new = set(slots) - {number for one in known for number in one.slots}
    planners = {number: SlotPlanner(plan, session, number, clock) for number in sorted(new)}
    chains: list[PlannedChain] = []
    for alternating in written:
        begins = clock.reached().value
        one = next((one for one in known if one.slots == alternating and one.begins == begins), None)
        if one is None:
            planners |= {
                number: SlotPlanner(plan, session, number, clock) for number in alternating if number not in planners
            }
            one = _plan_chain([planners[number] for number in alternating], clock)
        clock.go_on_from(one.ends)
        chains.append(one)
    sets, ramps, set_ups, warnings = (
        tuple(chain.from_iterable(getattr(one, name) for one in chains))
        for name in ("sets", "ramps", "set_ups", "warnings")
    )
    return PlannedSession(session, sets, ramps, clock.now, set_ups, warnings, tuple(chains))


def _chains(session: Session) -> list[list[int]]:
    """Numbers of the exercises done by themselves, and of those whose sets alternate, in order."""
    chains: list[list[int]] = [[]]
    for number, slot in enumerate(session.exercises, start=1):
        chains[-1].append(number)
        if not slot.alternate_with_next:
            chains.append([])
    return chains[:-1]


def _plan_chain(planners: Sequence[SlotPlanner], clock: Clock) -> PlannedChain:
    begins, sets = clock.reached().value, list[PlannedSet]()
    clock.rest_s = 0.0  # between exercises stands the setting up, not a rest
    set_ups = tuple(planner.set_up() for planner in planners)
    # All before the first working set, so that no ramp comes between sets that alternate.
    for planner in planners:
        planner.ramp_up()
    for turns in zip_longest(*(planner.plan() for planner in planners), fillvalue=[]):
        sets.extend(chain(*turns))
    ramps = tuple(ramp for planner in planners for ramp in planner.ramps)
    warnings = tuple(text for planner in planners for text in planner.warnings)
    slots = {planner.slot_number: planner.slot for planner in planners}
    return PlannedChain(slots, begins, clock.reached(), tuple(sets), ramps, set_ups, warnings)


def _tires(session: Session) -> bool:
    groups = [group for slot in session.exercises for group in slot.sets]
    return any(
        group.reps_in_reserve is not None
        or np.isinf(group.reps[1])
        or (group.drops is not None and np.isinf(group.drops.reps[1]))
        for group in groups
    )
