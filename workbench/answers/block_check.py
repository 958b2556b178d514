"""Will every rep of this block be made? Chance, reps in reserve, the first set that breaks, and what would mend it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import pandas as pd

from workbench.answers.block_tables import FirstBreak, first_break, set_table, week_table
from workbench.answers.exchange import left_out_of_plan
from workbench.answers.group_rules import RulesEffect, rules_effect
from workbench.answers.lifter_known import unlikely_said
from workbench.answers.opening import headline, how_sure, where_it_breaks
from workbench.answers.start_loads import ratio_notes
from workbench.evidence.predict import STUDIED_RESTS_S, STUDIED_SETS
from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, STUDIED_LOAD_FRACTIONS, Curve, studied
from workbench.models.tempo import STUDIED_SECONDS
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.present.answer import Answer
from workbench.present.tables import rows_of
from workbench.quantities import SEED
from workbench.simulate.draws import SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, changed, run_block

__all__ = ["BlockCheck", "check_block", "check_of", "with_changes"]

#: What is changed in each set group: keywords of `workbench.prescription.edit.change` and their values.
Changes = Mapping[Where, Mapping[str, float]]


@dataclass(frozen=True, repr=False)
class BlockCheck(Answer):
    """The answer to "will every rep be made?".

    Attributes
    ----------
    plan, outcome : Plan, Outcome
    sets : DataFrame
        One row a week and set; columns and units: see `set_table` in `workbench.answers.block_tables`.
    weeks : DataFrame
        One row a week and session; columns and units: see `week_table` in `workbench.answers.block_tables`.
    chance_of_block : float, [1]
        Chance that all reps of the block are made.
    limit : float, [1]
        The coach's lowest acceptable chance for a set.
    first_break : FirstBreak or None
    """

    plan: Plan
    outcome: Outcome
    sets: pd.DataFrame
    weeks: pd.DataFrame
    chance_of_block: float
    limit: float
    first_break: FirstBreak | None

    @property
    def form(self) -> FatigueForm:
        """The fatigue form that it was simulated with."""
        return self.plan.form

    def changed(self, block: Block, *, limit: float | None = None) -> BlockCheck:
        """Check a changed block for the same lifter and room, on the same days.

        Equal, to the digit, to `check_block` of the block; faster, as sessions that are equal are taken over.

        Parameters
        ----------
        block : Block
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
        return check_of(changed(self.outcome, block), limit)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a coach should know before acting on the plan, a sentence each."""
        return (
            *self.plan.warnings,
            *left_out_of_plan(self.plan),
            *_of_gym(self.plan),
            *ratio_notes(self.plan),
            *unlikely_said(self.plan.lifter),
            *_heavy(self.sets),
            *_over_time(self.plan),
            *_same_load(self.plan),
            *_beyond(self.sets),
            *_beyond_runs(self.sets),
            *_tempo(self.plan),
        )

    @cached_property
    def rules(self) -> RulesEffect | None:
        """How often the rules of set groups bite, what they cost and save; None where the block has none."""
        return rules_effect(self.outcome)

    @property
    def headline(self) -> str:
        """How many prescribed reps will be missed, in how many of the sets that are meant to be made."""
        left_out = 0.0 if self.rules is None else self.rules.sets_left_out
        return headline(self.plan, self.sets, self.chance_of_block, left_out=left_out)

    def sentences(self) -> list[str]:
        """Say what is missed, where it breaks first, how sure that is and why, and what rules come to."""
        where = where_it_breaks(self.sets, self.limit, self.first_break)
        rules = [] if self.rules is None else self.rules.sentences()
        return [line for line in (self.headline, where, how_sure(self.outcome, self.sets), *rules) if line]


def _of_gym(plan: Plan) -> list[str]:
    """Whose numbers stand for what is not known of the lifter, where these are not the published ones."""
    lifter = plan.lifter
    if lifter.gym is None or lifter.together is not None:
        return []
    return [f"endurance and recovery, as far as the lifter file says nothing, are those of {lifter.gym.said}"]


def _heavy(sets: pd.DataFrame) -> list[str]:
    """Exercises with sets heavier than the believed maximum."""
    over = sets[sets["percent"] > 100.0 + 1e-9]
    if over.empty:
        return []
    heaviest = over.loc[over.groupby("exercise", sort=False)["percent"].idxmax()]
    return [
        f"{row['exercise']}: {row['percent']:.0f} % of 1RM in week {row['week']}, more than the lifter's maximum"
        for row in rows_of(heaviest)
    ]


def _over_time(plan: Plan) -> list[str]:
    """Sessions longer than the block allows."""
    limit = plan.block.limits.session_minutes
    longest = [(session.name, float(np.max(session.duration_s)) / 60.0) for session in plan.sessions]
    return [
        f"{name}: about {minutes:.0f} minutes, the block allows {limit:g}"
        for name, minutes in longest
        if limit is not None and minutes > limit
    ]


def _same_load(plan: Plan) -> list[str]:
    """Exercises with a drop to the load that the set before it had."""
    found: dict[str, None] = {}
    for session in plan.sessions:
        for before, one in pairwise(session.sets):
            if one.drop and one.slot == before.slot and np.any((one.load_kg >= before.load_kg) & one.active):
                why = "too small for the steps of the room, or no lighter load"
                found.setdefault(f"{session.name}, {one.exercise}: a drop takes nothing off ({why})")
    return list(found)


def _beyond(sets: pd.DataFrame) -> list[str]:
    """Exercises with loads at which few sets were studied."""
    names = dict.fromkeys(sets.loc[~studied(sets["percent"] / 100.0), "exercise"])
    low, high = (100.0 * share for share in STUDIED_LOAD_FRACTIONS)
    if not names:
        return []
    return [f"below {low:.0f} or above {high:.0f} % of 1RM few sets were studied: extrapolated for {', '.join(names)}"]


def _beyond_runs(sets: pd.DataFrame) -> list[str]:
    """Exercises with rests between sets, or more sets in a session, than were studied."""
    low, high = STUDIED_RESTS_S
    work, week_of = sets[sets["drop"] == 0], ["week", "session_number"]
    later = work[work.duplicated([*week_of, "slot"])]
    many = work.groupby([*week_of, "exercise"]).cumcount() >= STUDIED_SETS
    found = {
        f"rests under {low:.0f} or over {high:.0f} s": later[~later["rest_s"].between(low, high)],
        f"more than {STUDIED_SETS} sets of an exercise in a session": work[many],
    }
    return [
        f"{what} were not studied: extrapolated for {', '.join(rows['exercise'].unique())}"
        for what, rows in found.items()
        if len(rows)
    ]


def _tempo(plan: Plan) -> list[str]:
    """Exercises done at another tempo than usual, and what is known of that."""
    found: dict[str, None] = {}
    for session in plan.sessions:
        for one in session.sets:
            usual = plan.catalogue.exercise(one.exercise).seconds_per_rep
            at = f"{one.exercise}: {one.seconds_per_rep:g} s a rep"
            if one.slowness:
                beyond = f"; above {STUDIED_SECONDS:.0f} s a rep extrapolated, fewer are likely"
                more = beyond if one.seconds_per_rep > STUDIED_SECONDS else ""
                found[
                    f"{at} leave fewer reps than the usual {usual:g} s; how many fewer differs between studies{more}"
                ] = None
            elif one.seconds_per_rep < usual:
                found[f"{at} are faster than the usual {usual:g} s; no more reps are counted on for it"] = None
    return list(found)


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def check_block(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    draws: int = 2000,
    seed: int = SEED,
    limit: float | None = None,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> BlockCheck:
    """Simulate a block for one lifter in one room and summarise it.

    Parameters
    ----------
    block : Block
        As read by `read_block`.
    lifter : Lifter
        As read by `read_lifter`.
    room : Room
        As read by `read_room`.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits; `workbench.quantities.SEED` where not given, as everywhere.
    limit : float, [1], 0 to 1
        Lowest acceptable chance that a set's reps are all made; the block's own limit where not given.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, its name, or a plain function ``reps(load_fraction, endurance)``.

    Returns
    -------
    BlockCheck
        Of every week and set the load [kg], the chance [1] that all reps are made, and the reps in reserve [reps].

    Raises
    ------
    InputError
        A lift or a load that is missing.

    Notes
    -----
    Numbers from ``data/parameters.csv`` and ``data/fitted/``, each with its source key and grade; the equations and
    their sources stand with the form (`workbench.models.fatigue`) and the curve (`workbench.models.load_reps`).
    """
    return check_of(run_block(block, lifter, room, SeededDays(draws, seed), form=form, curve=curve), limit)


def check_of(outcome: Outcome, limit: float | None = None) -> BlockCheck:
    """Summarise a simulated block; ``limit`` as for `check_block`."""
    accepted = outcome.plan.block.limits.chance_of_reps if limit is None else limit
    sets = set_table(outcome)
    return BlockCheck(
        plan=outcome.plan,
        outcome=outcome,
        sets=sets,
        weeks=week_table(outcome),
        chance_of_block=outcome.chance_of_block(),
        limit=accepted,
        first_break=first_break(sets, accepted),
    )


def with_changes(block: Block, changes: Changes, catalogue: Catalogue | None = None) -> Block:
    """Return the block with the changes made; a change in one session leaves its repeats as they were."""
    for where, what in changes.items():
        block = change(block, where, exercises=catalogue, **what)
    return block
