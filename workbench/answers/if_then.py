"""If-then for paper: the loads that today's form would ask for after the first sets of each group, in advance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from workbench.answers.days_that_fit import Pools, rest_of_day
from workbench.answers.session import one_session
from workbench.answers.session_under_way import Choice, Day, SetDone
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.words import put_on_said
from workbench.quantities import SEED
from workbench.simulate.plan import Plan, PlannedSession, PlannedSet, make_plan

__all__ = ["Branch", "branches_of", "if_then"]

#: What may be seen at the last of the first sets: in words, and reps in reserve as stated; none where a rep is missed.
_SEEN: Final = (("two or more left", 2.0), ("none left", 0.0), ("missed a rep", None))
#: Possible days drawn at a time: a line on paper is rounded to a plate.
POOL: Final = 2000
#: After so many sets of a group one knows.
_AFTER: Final = 2


@dataclass(frozen=True)
class Branch:
    """One line of a sheet's if-then: what was seen after some sets of a group, and what then.

    Attributes
    ----------
    exercise : str
    slot, group, after : int
        Place of the set group, and the number of the set, within the exercise, after which to look.
    seen : str
        "two or more left", "none left" or "missed a rep".
    load_kg, planned_kg : float, [kg]
        Load of the sets of the group still to come, and the plan's.
    sets, planned_sets : int
        How many of them still keep the limit with that load, and how many the plan has.
    load_said : str
        The load as it is put on.
    """

    exercise: str
    slot: int
    group: int
    after: int
    seen: str
    load_kg: float
    planned_kg: float
    sets: int
    planned_sets: int
    load_said: str

    @property
    def changes(self) -> bool:
        """Whether anything is done otherwise than planned."""
        return self.sets < self.planned_sets or self.load_kg != self.planned_kg

    @property
    def said(self) -> str:
        """The line in words, the sets numbered as in the plan."""
        return f"{self.seen} after set {self.after}: {self.instead(self.after)}"

    def instead(self, after: int) -> str:
        """Return what to do then, in words, where the set looked at has this number."""
        fewer = self.planned_sets - self.sets
        if not self.changes:
            return "go on"
        if not self.sets:
            return "end the sets of this load here"
        less = {0: "", 1: ", one set fewer"}.get(fewer, f", {fewer} sets fewer")
        return f"{self.load_said} from set {after + 1}{less}"


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def if_then(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    session: str | int = 1,
    week: int = 1,
    limit: float | None = None,
    most_down: float = 0.3,
    draws: int = 1000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> list[Branch]:
    """Work out in advance what to do after the first sets of each group that is to be made.

    Parameters
    ----------
    block, lifter, room
    session : str or int
        Name, or number from 1.
    week : int, [1]
        From 1.
    limit : float, [1], 0 to 1
        Chance wanted for every set; the block's own, or 0.85, where not given.
    most_down : float, [1], 0 to 1
        How far a load may go below the plan's; never above it, but where a rule of the set group (``adjust``) lets it.
    draws : int, [1]
    seed : int
    form, curve : FatigueForm, Curve

    Returns
    -------
    list of Branch
        Three for each group in which something would change; none for the others. All sets before are taken as made.

    Raises
    ------
    InputError
        As for `workbench.answers.today.today_question`.
    """
    alone, at = one_session(block, session, week)
    plan = make_plan(alone, lifter, room, form=form, curve=curve)
    pools, choice = (
        Pools(plan, seed, size=POOL),
        Choice(block.limits.chance_of_reps if limit is None else limit, 0.0, most_down),
    )
    return branches_of(plan, 0, at, choice, pools, draws)


def branches_of(plan: Plan, session: int, at: int, choice: Choice, pools: Pools, draws: int) -> list[Branch]:
    """Return the branches of one session and week of a plan, both counted from 0, as `if_then` does."""
    found: list[Branch] = []
    for sets in _groups(plan.sessions[session], at):
        group = _Group(plan, session, at, sets)
        branches = [_branch(group, seen, choice, pools, draws) for seen in _SEEN]
        if any(branch.changes for branch in branches):
            found += branches
    return found


@dataclass(frozen=True)
class _Group:
    """The sets of one group in one session and week of a plan, both counted from 0."""

    plan: Plan
    session: int
    at: int
    sets: list[PlannedSet]

    @property
    def look(self) -> PlannedSet:
        """The set after which to look."""
        return self.sets[_AFTER - 1]

    def day_after(self, reserve: float | None) -> Day:
        """Return the session after all sets before are made as planned, and the one looked at with a reserve stated.

        Without one it is one rep short of the fewest that count as made. Of what is to come only the group's sets are
        left.
        """
        done = []
        for one in self.plan.sessions[self.session].sets:
            if one.active[self.at]:
                high = one.reps_high[self.at]
                reps = int(high) if np.isfinite(high) else max(int(one.reps_low[self.at]), 1)
                done.append(SetDone(one.exercise, float(one.load_kg[self.at]) - one.body_kg, reps))
                if one is self.look:
                    break
        *before, last = done
        if reserve is None:
            ended = replace(last, reps=int(self.look.reps_low[self.at]) - 1, failed=True)
        else:
            ended = replace(last, reserve=reserve)
        day = Day(self.plan, self.at, [*before, ended], session=self.session)
        day.to_come = [step for step in day.to_come if any(step[0] is one for one in self.sets)]
        return day


def _groups(session: PlannedSession, at: int) -> list[list[PlannedSet]]:
    """Set groups of a week with reps to be made and enough sets to look after the first ones; drops left aside."""
    groups: dict[tuple[int, int], list[PlannedSet]] = {}
    for one in session.sets:
        if one.active[at] and not one.drop:
            groups.setdefault((one.slot, one.group), []).append(one)
    return [sets for sets in groups.values() if len(sets) > _AFTER and np.isfinite(sets[0].reps_high[at])]


def _branch(group: _Group, seen: tuple[str, float | None], choice: Choice, pools: Pools, draws: int) -> Branch:
    word, reserve = seen
    look, planned_kg = group.look, float(group.sets[_AFTER].load_kg[group.at])
    rest = rest_of_day(group.day_after(reserve), pools, choice, draws).as_today
    kept = next((number for number, one in enumerate(rest) if one.chance < choice.limit), len(rest))
    load_kg = rest[0].load_kg if rest else planned_kg  # a rule may end the group here
    said = put_on_said(load_kg, look.body_kg, look.unit, look.hands)
    coming = len(group.sets) - _AFTER
    return Branch(look.exercise, look.slot, look.group, look.number, word, load_kg, planned_kg, kept, coming, said)
