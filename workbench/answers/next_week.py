"""Next week's loads: the rest of a block with the lifter that the log taught, and the smallest changes that mend it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from workbench.answers.block_check import FirstBreak, draw_for, first_break, set_table
from workbench.answers.learned_draws import learned_draws
from workbench.answers.mend import candidates
from workbench.fit.lifter_file import updated_lifter
from workbench.prescription.edit import change
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED, InputError
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import simulate

if TYPE_CHECKING:
    from workbench.fit import Learned
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["NextWeek", "Proposal", "next_week"]

_KEYS = ["week", "session_number", "session", "slot", "exercise", "group", "set", "drop"]


@dataclass(frozen=True)
class Proposal:
    """A change that would mend the first set that breaks. Proposed, never applied by itself.

    Attributes
    ----------
    kind : str
        "rest", "load" or "reps".
    change : str
        The change in words.
    chance : float
        Lowest chance then, among the group's sets of the remaining weeks, with the learned lifter.
    reason : str
        Why it is proposed.
    block : Block
        The block with the change.
    """

    kind: str
    change: str
    chance: float
    reason: str
    block: Block


@dataclass(frozen=True, repr=False)
class NextWeek(Answer):
    """The rest of a block before and after the log.

    Attributes
    ----------
    sets : DataFrame
        One row a set of the remaining weeks: week, session, exercise, group, set, reps_low, reps_high, load_kg (as
        planned with the file's 1RM), chance_before (with the file's lifter), chance_now (same loads, learned lifter),
        load_updated_kg and chance_updated (loads from the learned 1RM, learned lifter).
    weeks : DataFrame
        One row a remaining week: week, chance_before, chance_now, chance_updated (that all its reps are made).
    limit : float
        The coach's lowest accepted chance of a set.
    breaks : FirstBreak or None
        First set below the limit with the updated loads.
    proposals : tuple of Proposal
    plan : Plan
        The block with loads from the learned 1RM.
    learned : Learned
    """

    sets: pd.DataFrame
    weeks: pd.DataFrame
    limit: float
    breaks: FirstBreak | None
    proposals: tuple[Proposal, ...]
    plan: Plan
    learned: Learned

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know of the block and of the log."""
        return (*self.plan.warnings, *self.learned.notes)

    def sentences(self) -> list[str]:
        """Say what breaks first in the weeks to come, and what would mend it."""
        if self.breaks is None:
            return [f"Nothing to mend: every set of the coming weeks has at least the wanted {in_words(self.limit)}."]
        if not self.proposals:
            return [
                f"{self.breaks}. No single change of rest, load or reps within reach mends it; think the group over."
            ]
        mends = [f"{one.change} (lowest chance then {in_words(one.chance)})" for one in self.proposals]
        return [f"{self.proposals[0].reason}.", *mends]


def next_week(
    learned: Learned,
    block: Block,
    room: Room,
    *,
    week: int = 1,
    draws: int = 2000,
    seed: int = SEED,
) -> NextWeek:
    """Check the remaining weeks of a block again with what the log taught.

    Parameters
    ----------
    learned : Learned
    block, room
        The block under way and the room.
    week : int
        First remaining week, from 1.
    draws, seed : int
        As for `workbench.answers.block_check.check_block`.

    Returns
    -------
    NextWeek

    Raises
    ------
    InputError
        A week that the block does not have; an exercise with a 1RM neither in the lifter file nor in the log.
    """
    if not 1 <= week <= block.weeks:
        raise InputError(None, "week", f"{week} is not a week of the block", f"use 1 to {block.weeks}")
    form, curve = learned.fit.form, learned.fit.curve
    updated = updated_lifter(learned)
    before = make_plan(block, _with_all_lifts(learned.lifter, updated), room, form=form, curve=curve)
    after = make_plan(block, updated, room, form=form, curve=curve)
    own = learned_draws(learned, after, draws=draws, seed=seed)
    outcomes = {
        "before": simulate(before, draw_for(before, draws=draws, seed=seed, form=form, curve=curve)),
        "now": simulate(before, own),
        "updated": simulate(after, own),
    }
    tables = {name: set_table(outcome) for name, outcome in outcomes.items()}
    remaining = {name: table[table["week"] >= week] for name, table in tables.items()}
    sets = remaining["before"][[*_KEYS, "reps_low", "reps_high", "load_kg", "unit", "hands", "body_kg"]].copy()
    for name, table in remaining.items():
        sets[f"chance_{name}"] = table["chance"].to_numpy()
    sets["load_updated_kg"] = remaining["updated"]["load_kg"].to_numpy()
    limit = block.limits.chance_of_reps
    broken = first_break(remaining["updated"], limit)
    proposals: tuple[Proposal, ...] = ()
    if broken is not None:
        proposals = _proposals(after, broken, limit, learned, room, week, min(draws, 1000), seed)
    weeks = pd.DataFrame({"week": np.arange(week, block.weeks + 1)})
    for name, outcome in outcomes.items():
        weeks[f"chance_{name}"] = outcome.chance_by_week()[week - 1 :]
    return NextWeek(sets.reset_index(drop=True), weeks, limit, broken, proposals, after, learned)


def _with_all_lifts(lifter: Lifter, updated: Lifter) -> Lifter:
    """Return the file's lifter, with those exercises that only the log knows."""
    return lifter.model_copy(update={"lifts": {**updated.lifts, **lifter.lifts}})


def _proposals(
    plan: Plan, broken: FirstBreak, limit: float, learned: Learned, room: Room, week: int, draws: int, seed: int
) -> tuple[Proposal, ...]:
    reason = _reason(broken, limit, learned)
    found = []
    for kind, changes in candidates(broken, plan.block):
        for words, what in changes:
            try:
                block = change(plan.block, broken.where, exercises=plan.catalogue, **what)
                chance = _lowest_chance(block, plan.lifter, broken, learned, room, week, draws, seed)
            except InputError:  # no block can have that value
                continue
            if chance >= limit:
                found.append(Proposal(kind, words, chance, reason, block))
                break
    return tuple(found)


def _lowest_chance(
    block: Block,
    lifter: Lifter,
    broken: FirstBreak,
    learned: Learned,
    room: Room,
    week: int,
    draws: int,
    seed: int,
) -> float:
    """Lowest chance among the group's sets in the remaining weeks, simulating nothing but its exercise."""
    session = block.expanded_sessions()[broken.session_number - 1]
    alone = session.model_copy(update={"exercises": [session.exercises[broken.slot - 1]]})
    plan = make_plan(
        block.model_copy(update={"sessions": [alone]}), lifter, room, form=learned.fit.form, curve=learned.fit.curve
    )
    table = set_table(simulate(plan, learned_draws(learned, plan, draws=draws, seed=seed)))
    group = table[
        (table["week"] >= week) & (table["group"] == broken.group) & ((table["drop"] > 0) == (broken.drop > 0))
    ]
    return float(group["chance"].min())


def _reason(broken: FirstBreak, limit: float, learned: Learned) -> str:
    """Say which set breaks, and what the log changed about its exercise."""
    text = f"{broken}, under the limit of {percent_said(limit)}"
    changes = []
    for row in learned.summary().to_dict("records"):
        if row["exercise"] not in (broken.exercise, "all"):
            continue
        change = row["p50"] / row["prior_p50"] - 1.0
        # Endurance counts the strength lost with each rep: more of it means fewer reps.
        word = f"{row['quantity']} {percent_said(change, signed=True)}"
        if row["quantity"] == "endurance":
            word = f"strength lost per rep {percent_said(change, signed=True)}"
        if abs(change) >= 0.01:
            changes.append(word)
    if changes:
        text += f"; the log changed: {', '.join(changes)}"
    elif broken.exercise not in learned.exercises:
        text += "; the log holds no set of this exercise to learn from"
    return text
