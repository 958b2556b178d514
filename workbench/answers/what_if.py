"""What if one set group were changed? The block check again, on the same simulated lifters and days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from workbench.answers.block_check import BlockCheck, draw_for, first_break, set_table, week_table
from workbench.answers.mend import change_group
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.prescription.progression import Step
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import LifterDraws, Outcome, SessionOutcome, simulate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block, SetGroup

__all__ = [
    "GroupChange",
    "GroupValues",
    "Place",
    "WhatIf",
    "apply_changes",
    "change_between",
    "group_at",
    "group_values",
    "places",
]


class Place(NamedTuple):
    """Where a set group stands: session counted from 0, exercise in the session and group in it counted from 1."""

    session_index: int
    slot: int
    group: int


@dataclass(frozen=True)
class GroupValues:
    """What can be changed of a set group; None where the group has no such value to change.

    Attributes
    ----------
    way : str
        How the load is given: "percent" (of 1RM), "reps_in_reserve", "part" (of an earlier group), "kg" or "lb".
    load : float
        The first week's, in that unit.
    step : float or None
        Change of the load a week (or each time the reps start over), same unit.
    sets, reps : int or None
        Number of sets; lowest reps.
    rest_s : float
        Rest after each set, s.
    """

    way: str
    load: float
    step: float | None
    sets: int | None
    reps: int | None
    rest_s: float


@dataclass(frozen=True)
class GroupChange:
    """New values of a set group, in the units of `GroupValues`; None leaves a value as the block has it."""

    load: float | None = None
    step: float | None = None
    sets: int | None = None
    reps: int | None = None
    rest_s: float | None = None

    def apply(self, group: SetGroup) -> SetGroup:
        """Return the group with the new values; loads and reps of every week move with those of the first."""
        old = group_values(group)
        update: dict[str, object] = {}
        if self.load is not None:
            update[old.way] = self.load
        if self.sets is not None:
            update["count"] = self.sets
        if self.rest_s is not None:
            update["rest_s"] = self.rest_s
        more_reps = 0
        if self.reps is not None and old.reps is not None:
            more_reps = self.reps - old.reps
            update["reps"] = (self.reps, group.reps[1] + more_reps)
        progression = self._progression(group, more_reps)
        if progression is not None:
            update["progression"] = progression
        return group.model_copy(update=update)

    def _progression(self, group: SetGroup, more_reps: int) -> object:
        old = group.progression
        if old is None:
            return Step(rule="step", step=self.step) if self.step else None
        update: dict[str, object] = {}
        if old.rule == "by week":
            if self.load is not None:
                update["load"] = [load + self.load - old.load[0] for load in old.load]
            if more_reps and old.reps is not None:
                update["reps"] = [reps + more_reps for reps in old.reps]
        elif self.step is not None:
            update["step"] = self.step
        if old.rule == "reps then load":
            update["reps_to"] = old.reps_to + more_reps
        return old.model_copy(update=update)


def group_values(group: SetGroup) -> GroupValues:
    """Return what can be changed of a group, with its present values."""
    ways = ("percent", "reps_in_reserve", "part", "kg", "lb")
    way = next(way for way in ways if getattr(group, way) is not None)
    progression = group.progression
    by_week = progression is not None and progression.rule == "by week"
    load, step = float(getattr(group, way)), 0.0
    reps, sets = group.reps[0], group.count
    if progression is not None and progression.rule == "by week":
        load = progression.load[0]
        reps = progression.reps[0] if progression.reps is not None else reps
    elif progression is not None:
        step = progression.step
    fixed_step = by_week or way == "part" or (way == "reps_in_reserve" and progression is None)
    return GroupValues(
        way=way,
        load=load,
        step=None if fixed_step else step,
        sets=None if by_week and progression.sets is not None else sets,  # type: ignore[union-attr]
        reps=None if group.to_failure else reps,
        rest_s=group.rest_s,
    )


def places(block: Block) -> list[Place]:
    """Return the place of every set group, in order."""
    return [
        Place(index, slot_number, group_number)
        for index, session in enumerate(block.expanded_sessions())
        for slot_number, slot in enumerate(session.exercises, start=1)
        for group_number, _ in enumerate(slot.sets, start=1)
    ]


def group_at(block: Block, place: Place) -> SetGroup:
    """Return the set group at a place."""
    session = block.expanded_sessions()[place.session_index]
    return session.exercises[place.slot - 1].sets[place.group - 1]


def change_between(old: SetGroup, new: SetGroup) -> GroupChange | None:
    """Return the change that turns one group into another, or None where it is not of values that can be changed."""
    before, after = group_values(old), group_values(new)
    if before.way != after.way:
        return None
    names = ("load", "step", "sets", "reps", "rest_s")
    values = {name: getattr(after, name) for name in names if getattr(after, name) != getattr(before, name)}
    change = GroupChange(**values)
    return change if change.apply(old) == new else None


def apply_changes(block: Block, changes: Mapping[Place, GroupChange]) -> Block:
    """Return the block with the changes made; a change in one session leaves its repeats as they were."""
    for place, change in changes.items():
        block = change_group(block, *place, change.apply) or block
    return block


class WhatIf:
    """One lifter, room and block, checked again and again with changes on the same simulated lifters and days.

    Equal, to the digit, to `check_block` of the changed block with the same draws and seed; faster, because the random
    numbers are drawn once, and sessions without a change are taken over from the last check.

    Parameters
    ----------
    block, lifter, room
        As for `check_block`.
    draws, seed : int
        As for `check_block`.
    form : FatigueForm
    """

    def __init__(
        self,
        block: Block,
        lifter: Lifter,
        room: Room,
        *,
        draws: int = 2000,
        seed: int = 1,
        form: FatigueForm = DEFAULT_FORM,
    ) -> None:
        self.block, self.lifter, self.room = block, lifter, room
        self.draws, self.seed, self.form = draws, seed, form
        self._drawn: dict[tuple[object, ...], LifterDraws] = {}
        self._last: Outcome | None = None
        self._tables: dict[int, tuple[SessionOutcome, pd.DataFrame]] = {}

    def check(self, changes: Mapping[Place, GroupChange] | None = None, *, limit: float | None = None) -> BlockCheck:
        """Check the block with the changes made.

        Parameters
        ----------
        changes : mapping of Place to GroupChange
        limit : float
            As for `check_block`.

        Returns
        -------
        BlockCheck

        Raises
        ------
        InputError
            As for `check_block`.
        """
        block = apply_changes(self.block, changes or {})
        last = self._last
        plan = make_plan(block, self.lifter, self.room, form=self.form, like=None if last is None else last.plan)
        outcome = self._last = simulate(plan, self._draws(plan), like=last)
        accepted = block.limits.chance_of_reps if limit is None else limit
        sets = self._set_table(outcome)
        return BlockCheck(
            plan=plan,
            outcome=outcome,
            sets=sets,
            weeks=week_table(outcome),
            chance_of_block=outcome.chance_of_block(),
            limit=accepted,
            first_break=first_break(sets, accepted),
            form=self.form,
        )

    def _draws(self, plan: Plan) -> LifterDraws:
        shape = (plan.exercises, plan.weeks, len(plan.sessions), plan.set_count)
        if shape not in self._drawn:
            self._drawn = {shape: draw_for(plan, draws=self.draws, seed=self.seed, form=self.form)}
        return self._drawn[shape]

    def _set_table(self, outcome: Outcome) -> pd.DataFrame:
        """As `set_table`, working out anew only the sessions that came out otherwise than the last time."""
        tables = []
        for index, (session, sets) in enumerate(outcome):
            known = self._tables.get(index)
            if known is None or not _came_out_alike(known[0], sets):
                alone = Outcome(replace(outcome.plan, sessions=(session,)), (sets,))
                known = self._tables[index] = (sets, set_table(alone).assign(session_index=index))
            tables.append(known[1])
        together = pd.concat(tables, ignore_index=True)
        return together.sort_values(["week", "session_index"], kind="stable", ignore_index=True)


def _came_out_alike(one: SessionOutcome, other: SessionOutcome) -> bool:
    if one is other:
        return True
    return len(one) == len(other) and all(
        np.array_equal(a.available, b.available)
        and (a.planned.exercise, a.planned.label) == (b.planned.exercise, b.planned.label)
        and all(
            np.array_equal(getattr(a.planned, name), getattr(b.planned, name))
            for name in ("load_kg", "reps_low", "reps_high", "rest_s", "active")
        )
        for a, b in zip(one, other, strict=True)
    )
