"""What would mend a set that breaks: the smallest change of its rest, load or reps that meets the coach's limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbench.answers.block_check import BlockCheck, FirstBreak
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change, group_at
from workbench.present.words import percent_said
from workbench.quantities import SEED, InputError
from workbench.simulate.draws import Days, SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, changed

__all__ = ["Mend", "candidates", "mends", "smallest_changes"]

_RESTS_S = tuple(range(15, 301, 15))
_PERCENTS = tuple(np.arange(-1.0, -20.5, -1.0))
_PARTS = tuple(np.arange(-0.02, -0.32, -0.02))
_REPS = tuple(range(-1, -9, -1))


@dataclass(frozen=True)
class Mend:
    """One change that brings a set group up to the limit in every week.

    Attributes
    ----------
    kind : str
        "rest", "load" or "reps".
    change : str
        The change in words, with its unit.
    chance : float
        Lowest chance, after the change, among the group's sets over all weeks.
    block : Block
        The block with the change made. Proposed, never applied by itself.
    where, what : Where, dict
        The change itself, as `workbench.prescription.edit.change` takes it.
    """

    kind: str
    change: str
    chance: float
    block: Block
    where: Where
    what: dict[str, float]


def mends(check: BlockCheck, *, draws: int = 1000, seed: int = SEED) -> list[Mend]:
    """Smallest single changes of rest, load and reps that bring the first breaking set's group up to the limit.

    Parameters
    ----------
    check : BlockCheck
    draws, seed : int
        As for `check_block`; give the same seed.

    Returns
    -------
    list of Mend
        At most one of each kind, in the order rest, load, reps; empty where nothing breaks or no single change mends.
    """
    if check.first_break is None:
        return []
    return smallest_changes(check.plan, check.first_break, check.limit, SeededDays(draws, seed))


def smallest_changes(plan: Plan, broken: FirstBreak, limit: float, days: Days, *, first_week: int = 1) -> list[Mend]:
    """Return the smallest change of each kind that brings a group up to a limit on some days; weeks from 1."""
    found: list[Mend] = []
    outcome = Outcome(plan, (), days=days)
    for kind, changes in candidates(broken, plan.block):
        for words, what in changes:
            try:
                block = change(plan.block, broken.where, exercises=plan.catalogue, **what)
                outcome = changed(outcome, _up_to(block, broken))
            except InputError:  # no block can have that value
                continue
            chance = _lowest_chance(outcome, broken, first_week)
            if chance >= limit:
                found.append(Mend(kind, words, chance, block, broken.where, what))
                break
    return found


def candidates(broken: FirstBreak, block: Block) -> list[tuple[str, list[tuple[str, dict[str, float]]]]]:
    """Return the changes that are tried for a breaking set: kind, then words and change, the smallest change first."""
    if broken.drop:
        return [("reps", [(f"{_fewer(step)} after each drop", {"drop_reps_by": step}) for step in _REPS])]
    group = group_at(block, broken.where)
    loads: list[tuple[str, float]]
    if group.way == "percent":
        loads = [(f"{_points(step)} of percent lighter every week", step) for step in _PERCENTS]
    elif group.way == "part":
        part = group.load_in_week_one
        loads = [(f"{part + step:.2f} in place of {part:.2f} of group {group.part_of_group}", step) for step in _PARTS]
    elif group.way == "reps_in_reserve":
        words = ("1 more rep in reserve", *(f"{step} more reps in reserve" for step in (2, 3, 4)))
        loads = [(text, float(step)) for step, text in enumerate(words, start=1)]
    else:
        first = group.load_in_week_one
        loads = [(f"{percent_said(-step / 100)} lighter ({group.way})", step / 100 * first) for step in _PERCENTS]
    return [
        ("rest", [(f"{step} s more rest after each set", {"rest_by": step}) for step in _RESTS_S]),
        ("load", [(text, {"load_by": step}) for text, step in loads]),
        ("reps", [(f"{_fewer(step)} in each set", {"reps_by": step}) for step in _REPS]),
    ]


def _fewer(step: int) -> str:
    return "1 rep fewer" if step == -1 else f"{-step} reps fewer"


def _points(step: float) -> str:
    return "1 point" if step == -1 else f"{-step:g} points"


def _up_to(block: Block, broken: FirstBreak) -> Block:
    """Return the block with the breaking set's session alone, up to its exercise and those that alternate with it."""
    session = block.expanded_sessions()[broken.session_number - 1]
    last = broken.slot
    while session.exercises[last - 1].alternate_with_next:
        last += 1
    session = session.model_copy(update={"exercises": session.exercises[:last]})
    return block.model_copy(update={"sessions": [session]})


def _lowest_chance(outcome: Outcome, broken: FirstBreak, first_week: int) -> float:
    """Lowest chance among the sets of the breaking one's group."""
    chances = [
        one.made.mean(axis=0)[first_week - 1 :][one.planned.active[first_week - 1 :]]
        for one in outcome.sessions[0]
        if (one.planned.slot, one.planned.group) == (broken.slot, broken.group)
        and bool(one.planned.drop) == bool(broken.drop)
    ]
    return float(np.concatenate(chances).min())
