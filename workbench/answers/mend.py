"""What would mend a set that breaks: the smallest change of its rest, load or reps that meets the coach's limit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.answers.block_check import BlockCheck, FirstBreak, draw_for
from workbench.prescription.block import Block, SetGroup
from workbench.quantities import InputError
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room

__all__ = ["Mend", "candidates", "change_group", "mends"]

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
    """

    kind: str
    change: str
    chance: float
    block: Block


def change_group(
    block: Block, session_index: int, slot: int, group: int, change: Callable[[SetGroup], SetGroup | None]
) -> Block | None:
    """Return the block with one set group changed, or None where ``change`` gives none.

    Repeats of sessions are written out, so that the change stays in its session. ``slot`` and ``group`` count from 1.
    """
    sessions = block.expanded_sessions()
    session = sessions[session_index]
    old = session.exercises[slot - 1]
    new_group = change(old.sets[group - 1])
    if new_group is None:
        return None
    sets = [new_group if number == group else one for number, one in enumerate(old.sets, start=1)]
    slots = [
        old.model_copy(update={"sets": sets}) if number == slot else one
        for number, one in enumerate(session.exercises, start=1)
    ]
    sessions[session_index] = session.model_copy(update={"exercises": slots})
    return block.model_copy(update={"sessions": sessions})


def mends(check: BlockCheck, room: Room, *, draws: int = 1000, seed: int | None = None) -> list[Mend]:
    """Smallest single changes of rest, load and reps that bring the first breaking set's group up to the limit.

    Parameters
    ----------
    check : BlockCheck
    room : Room
    draws, seed : int
        As for `check_block`; give the same seed.

    Returns
    -------
    list of Mend
        At most one of each kind, in the order rest, load, reps; empty where nothing breaks or no single change mends.
    """
    broken = check.first_break
    if broken is None:
        return []
    found: list[Mend] = []
    for kind, changes in candidates(broken, check.plan.block):
        for words, change in changes:
            changed = change_group(check.plan.block, broken.session_index, broken.slot, broken.group, change)
            if changed is None:
                continue
            try:
                chance = _lowest_chance(check, changed, broken, room, draws, seed)
            except InputError:  # a week would ask for what no set may have, or for a load of nothing
                continue
            if chance >= check.limit:
                found.append(Mend(kind, words, chance, changed))
                break
    return found


def candidates(
    broken: FirstBreak, block: Block
) -> list[tuple[str, Iterable[tuple[str, Callable[[SetGroup], SetGroup | None]]]]]:
    """Return the changes that are tried for a breaking set: kind, then words and change, the smallest change first."""
    slot = block.expanded_sessions()[broken.session_index].exercises[broken.slot - 1]
    group = slot.sets[broken.group - 1]
    if broken.drop:
        return [("reps", [(f"{_fewer(step)} after each drop", _fewer_drop_reps(step)) for step in _REPS])]
    loads: list[tuple[str, Callable[[SetGroup], SetGroup | None]]] = []
    if group.percent is not None:
        loads = [(f"{_points(step)} of percent lighter every week", _lighter("percent", step)) for step in _PERCENTS]
    elif group.part is not None:
        loads = [
            (
                f"{group.part + step:.2f} in place of {group.part:.2f} of group {group.part_of_group}",
                _lighter("part", step),
            )
            for step in _PARTS
        ]
    elif group.reps_in_reserve is not None:
        words = ("1 more rep in reserve", *(f"{step} more reps in reserve" for step in (2, 3, 4)))
        loads = [(text, _lighter("reps_in_reserve", step)) for step, text in enumerate(words, start=1)]
    else:
        key = "kg" if group.kg is not None else "lb"
        loads = [
            (f"{-step / 100:.0%} lighter ({key})", _lighter(key, step / 100 * getattr(group, key)))
            for step in _PERCENTS
        ]
    return [
        ("rest", [(f"{step} s more rest after each set", _longer_rest(step)) for step in _RESTS_S]),
        ("load", loads),
        ("reps", [(f"{_fewer(step)} in each set", _fewer_reps(step)) for step in _REPS]),
    ]


def _fewer(step: int) -> str:
    return "1 rep fewer" if step == -1 else f"{-step} reps fewer"


def _points(step: float) -> str:
    return "1 point" if step == -1 else f"{-step:g} points"


def _longer_rest(step: int) -> Callable[[SetGroup], SetGroup | None]:
    return lambda group: group.model_copy(update={"rest_s": group.rest_s + step})


def _lighter(key: str, step: float) -> Callable[[SetGroup], SetGroup | None]:
    def change(group: SetGroup) -> SetGroup | None:
        value = getattr(group, key) + step
        if value <= 0:
            return None
        update: dict[str, object] = {key: value}
        progression = group.progression
        if progression is not None and progression.rule == "by week":
            moved = [load + step for load in progression.load]
            if min(moved) <= 0:
                return None
            update["progression"] = progression.model_copy(update={"load": moved})
        return group.model_copy(update=update)

    return change


def _fewer_reps(step: int) -> Callable[[SetGroup], SetGroup | None]:
    def change(group: SetGroup) -> SetGroup | None:
        low, high = group.reps
        if low + step < 1:
            return None
        update: dict[str, object] = {"reps": (low + step, high + step)}
        progression = group.progression
        if progression is not None and progression.rule == "by week" and progression.reps is not None:
            update["progression"] = progression.model_copy(
                update={"reps": [max(reps + step, 1) for reps in progression.reps]}
            )
        elif progression is not None and progression.rule == "reps then load":
            update["progression"] = progression.model_copy(update={"reps_to": progression.reps_to + step})
        return group.model_copy(update=update)

    return change


def _fewer_drop_reps(step: int) -> Callable[[SetGroup], SetGroup | None]:
    def change(group: SetGroup) -> SetGroup | None:
        drops = group.drops
        if drops is None or drops.reps[0] + step < 1:
            return None
        reps = (drops.reps[0] + step, drops.reps[1] + step)
        return group.model_copy(update={"drops": drops.model_copy(update={"reps": reps})})

    return change


def _lowest_chance(
    check: BlockCheck, changed: Block, broken: FirstBreak, room: Room, draws: int, seed: int | None
) -> float:
    """Lowest chance over all weeks among the group's sets, simulating its session up to its exercise and no more.

    Exercises whose sets alternate with it belong to it.
    """
    session = changed.expanded_sessions()[broken.session_index]
    last = broken.slot
    while session.exercises[last - 1].alternate_with_next:
        last += 1
    before = session.exercises[:last]
    small = changed.model_copy(update={"sessions": [session.model_copy(update={"exercises": before})]})
    plan = make_plan(small, check.plan.lifter, room, form=check.form)
    outcome = simulate(plan, draw_for(plan, draws=draws, seed=seed, form=check.form))
    chances = [
        one.made.mean(axis=0)[one.planned.active]
        for one in outcome.sessions[0]
        if (one.planned.slot, one.planned.group) == (broken.slot, broken.group)
        and bool(one.planned.drop) == bool(broken.drop)
    ]
    return float(min(chance.min() for chance in chances))
