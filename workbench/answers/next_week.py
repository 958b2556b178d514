"""Next week's loads: the rest of a block with the lifter that the log taught, and the smallest changes that mend it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

from workbench.answers.block_tables import FirstBreak, first_break, set_table
from workbench.answers.exchange import left_out_of_plan
from workbench.answers.learned import learned_draws
from workbench.answers.mend import Mend, Mending, mends_of
from workbench.answers.start_loads import ratio_notes, with_ratios
from workbench.fit import Learned
from workbench.fit.lifter_file import updated_lifter
from workbench.gym.equipment import Room
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED, InputError
from workbench.simulate.draws import SeededDays, draw_for
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import simulate

__all__ = ["NextWeek", "next_week"]

_KEYS = ["week", "session_number", "session", "slot", "exercise", "group", "set", "drop"]


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
    reason : str
        Why something is to be mended: the set that breaks, and what the log changed about its exercise; else empty.
    mending : Mending or None
        What would mend it; proposed, never applied by itself.
    plan : Plan
        The block with loads from the learned 1RM.
    learned : Learned
    """

    sets: pd.DataFrame
    weeks: pd.DataFrame
    limit: float
    breaks: FirstBreak | None
    reason: str
    mending: Mending | None
    plan: Plan
    learned: Learned

    @property
    def proposals(self) -> tuple[Mend, ...]:
        """The mends, in the order of the training that they keep."""
        return () if self.mending is None else self.mending.found

    @property
    def left_out(self) -> tuple[str, ...]:
        """What is in the block though the lifter file leaves it out, each with the reason."""
        return left_out_of_plan(self.plan)

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know of the block and of the log."""
        return (*self.plan.warnings, *self.left_out, *ratio_notes(self.plan), *self.learned.notes)

    def sentences(self) -> list[str]:
        """Say what breaks first in the weeks to come, and what would mend it."""
        if self.mending is None:
            return [f"Nothing to mend: every set of the coming weeks has at least the wanted {in_words(self.limit)}."]
        return [f"{self.reason}.", *self.mending.sentences()]


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
    taught = updated_lifter(learned)
    updated = with_ratios(taught, room, block)
    by_ratio = {name: lift for name, lift in updated.lifts.items() if name not in taught.lifts}
    if by_ratio:
        # What neither file nor log knows is drawn as what the file knows is.
        wider = learned.lifter.model_copy(update={"lifts": {**learned.lifter.lifts, **by_ratio}})
        learned = replace(learned, fit=replace(learned.fit, lifter=wider))
    # The file's lifter, with those exercises that only the log knows.
    as_filed = learned.lifter.model_copy(update={"lifts": {**updated.lifts, **learned.lifter.lifts}})
    before, after = (
        make_plan(block, lifter, room, form=learned.fit.form, curve=learned.fit.curve) for lifter in (as_filed, updated)
    )
    draw = partial(learned_draws, learned, first_week=week)
    days = SeededDays(draws, seed, draw=draw)
    drawn = days.of(after)
    outcomes = {
        "before": simulate(before, draw_for(before, draws=draws, seed=seed)),
        "now": simulate(before, drawn),
        "updated": replace(simulate(after, drawn), days=days),
    }
    tables = {name: set_table(outcome) for name, outcome in outcomes.items()}
    remaining = {name: table[table["week"] >= week] for name, table in tables.items()}
    sets = remaining["before"][[*_KEYS, "reps_low", "reps_high", "load_kg", "unit", "hands", "body_kg"]].copy()
    for name, table in remaining.items():
        sets[f"chance_{name}"] = table["chance"].to_numpy()
    sets["load_updated_kg"] = remaining["updated"]["load_kg"].to_numpy()
    weeks = pd.DataFrame({"week": np.arange(week, block.weeks + 1)})
    for name, outcome in outcomes.items():
        weeks[f"chance_{name}"] = outcome.chance_by_week()[week - 1 :]
    limit = block.limits.chance_of_reps
    broken = first_break(remaining["updated"], limit)
    reason, mending = "", None
    if broken is not None:
        reason = _reason(broken, limit, learned)
        other_days = SeededDays(min(draws, 1000), seed + 1, draw=draw)
        mending = mends_of(outcomes["updated"], broken, limit, other_days, first_week=week)
    return NextWeek(sets.reset_index(drop=True), weeks, limit, broken, reason, mending, after, learned)


def _reason(broken: FirstBreak, limit: float, learned: Learned) -> str:
    """Say which set breaks, and what the log changed about its exercise."""
    text = f"{broken.below(limit)}, under the limit of {percent_said(limit)}"
    changes = []
    for row in learned.summary().to_dict("records"):
        if row["exercise"] not in (broken.exercise, "all") or row["quantity"] in ("gain", "reserve bias"):
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
