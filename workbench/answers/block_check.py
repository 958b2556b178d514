"""Will every rep of this block be made? Chance, reps in reserve, the first set that breaks, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from workbench.answers.exchange import left_out
from workbench.answers.opening import headline, how_sure, where_it_breaks
from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, STUDIED_LOAD_FRACTIONS, Curve, studied
from workbench.prescription.block import WHOLE_WEEK, Block
from workbench.prescription.edit import Where, change
from workbench.present.answer import Answer
from workbench.present.words import in_words
from workbench.quantities import SEED, FloatArray
from workbench.simulate.draws import SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, changed, interval_by_week, run_block

__all__ = [
    "BlockCheck",
    "FirstBreak",
    "check_block",
    "check_of",
    "first_break",
    "set_table",
    "week_table",
    "with_changes",
]

#: What is changed in each set group: keywords of `workbench.prescription.edit.change` and their values.
Changes = Mapping[Where, Mapping[str, float]]


@dataclass(frozen=True)
class FirstBreak:
    """The first set, in order of weeks and sessions, whose reps are less likely to be made than the coach accepts."""

    week: int
    session: str
    session_number: int
    exercise: str
    slot: int
    group: int
    label: str
    drop: int
    chance: float

    @property
    def where(self) -> Where:
        """Place of the set's group in the block."""
        return Where(self.session_number, self.slot, self.group)

    def __str__(self) -> str:
        """Return the set's place and chance in words."""
        return (
            f"week {self.week}, {self.session}, {self.exercise}, set {self.label}: "
            f"{in_words(self.chance)} chance that all reps are made"
        )


@dataclass(frozen=True, repr=False)
class BlockCheck(Answer):
    """The answer to "will every rep be made?".

    Attributes
    ----------
    plan, outcome : Plan, Outcome
    sets : DataFrame
        One row a week and set; see `set_table`.
    weeks : DataFrame
        One row a week and session; see `week_table`.
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
            *_left_out(self.plan),
            *_heavy(self.sets),
            *_over_time(self.plan),
            *_same_load(self.plan),
            *_beyond(self.sets),
        )

    @property
    def headline(self) -> str:
        """How many prescribed reps will be missed, in how many of the sets that are meant to be made."""
        return headline(self.plan, self.sets, self.chance_of_block)

    def sentences(self) -> list[str]:
        """Say what is missed, where it breaks first, how sure that is and why."""
        where = where_it_breaks(self.sets, self.limit, self.first_break)
        return [line for line in (self.headline, where, how_sure(self.outcome, self.sets)) if line]


def _left_out(plan: Plan) -> list[str]:
    """Exercises that the lifter file leaves out."""
    found = left_out(plan.lifter, [plan.catalogue.exercise(name) for name in plan.exercises])
    return [f"{name}: the lifter file leaves it out ({reason})" for name, reason in found]


def _heavy(sets: pd.DataFrame) -> list[str]:
    """Exercises with sets heavier than the believed maximum."""
    heaviest = sets.loc[sets[sets["percent"] > 100.0 + 1e-9].groupby("exercise", sort=False)["percent"].idxmax()]
    return [
        f"{row['exercise']}: {row['percent']:.0f} % of 1RM in week {row['week']}, more than the lifter's maximum"
        for row in heaviest.to_dict("records")
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


def set_table(outcome: Outcome) -> pd.DataFrame:
    """One row a week and set.

    Columns: week, session (name), session_number, slot, exercise, group, set (label), drop; load_kg [kg]; unit, hands,
    body_kg [kg] (how the load is spoken of, see `workbench.present.words.load_said`); percent [% of 1RM] (as believed);
    reps_low, reps_high [reps] (infinite: to failure); leaves [reps] (in reserve, where the set is given so, else NaN);
    rest_s [s] (since the last set of the exercise); chance [1] (that the set's reps are all made); missed [reps]
    (expected, of the lowest prescribed); reserve_low, reserve, reserve_high [reps] (10, 50, 90 % of reps in reserve
    after the lowest prescribed reps); reps_p10, reps_p50, reps_p90 [reps] (whole: those that there are, and of sets to
    failure or to a stated reserve those that will be done). Such a set is not to be made: chance, missed and reserve
    are NaN.
    """
    both = list(outcome)
    weeks = outcome.plan.weeks
    low, median, high = np.concatenate([sets.available_interval for _, sets in both], axis=1).reshape(3, -1)
    chance, missed = (
        np.concatenate([getattr(sets, name) for _, sets in both]).ravel() for name in ("chances", "expected_missed")
    )
    planned = [one.planned for _, sets in both for one in sets]
    reps_low, reps_high = (np.concatenate([getattr(one, end) for one in planned]) for end in ("reps_low", "reps_high"))
    leaves = np.concatenate([np.full(weeks, np.nan) if one.leaves is None else one.leaves for one in planned])
    to_be_made = np.isfinite(reps_high) & np.isnan(leaves)

    def each_week(values: Iterable[object]) -> Any:
        return pd.Series(list(values)).array.repeat(weeks)  # texts are made into an array once a set

    def reserve(reps: FloatArray) -> FloatArray:
        return np.where(to_be_made, reps - reps_low, np.nan)

    def whole(reps: FloatArray) -> FloatArray:
        ended = np.minimum(np.maximum(reps - leaves, np.minimum(reps, 1.0)), reps_high)
        return np.floor(np.where(np.isnan(leaves), reps, ended))

    table = pd.DataFrame(
        {
            "week": np.tile(np.arange(1, weeks + 1), len(planned)),
            "session": each_week(session.name for session, sets in both for _ in sets),
            "session_number": each_week(number for number, (_, sets) in enumerate(both, start=1) for _ in sets),
            "slot": each_week(one.slot for one in planned),
            "exercise": each_week(one.exercise for one in planned),
            "group": each_week(one.group for one in planned),
            "number": each_week(one.number for one in planned),
            "set": each_week(one.label for one in planned),
            "drop": each_week(one.drop for one in planned),
            "load_kg": np.concatenate([one.load_kg for one in planned]),
            "unit": each_week(one.unit for one in planned),
            "hands": each_week(one.hands for one in planned),
            "body_kg": each_week(one.body_kg for one in planned),
            "percent": 100.0 * np.concatenate([one.load_fraction for one in planned]),
            "reps_low": reps_low,
            "reps_high": reps_high,
            "leaves": leaves,
            "rest_s": np.concatenate([one.rest_s for one in planned]),
            "chance": np.where(to_be_made, chance, np.nan),
            "missed": np.where(to_be_made, missed, np.nan),
            "reserve_low": reserve(low),
            "reserve": reserve(median),
            "reserve_high": reserve(high),
            "reps_p10": whole(low),
            "reps_p50": whole(median),
            "reps_p90": whole(high),
        }
    )
    table = table[np.concatenate([one.active for one in planned])]
    order = ["week", "session_number", "slot", "number", "drop"]
    return table.sort_values(order, kind="stable", ignore_index=True).drop(columns="number")


def week_table(outcome: Outcome) -> pd.DataFrame:
    """One row a week and session, then one row a week for the whole week.

    Columns: week, session ("whole week" for the week); chance [1] (that all its reps are made); missed [reps]
    (expected); reserve_low, reserve, reserve_high [reps] (10, 50, 90 % of the fewest reps in reserve among its sets
    with prescribed reps); minutes [min]. Where no set has prescribed reps, all but the minutes are NaN.
    """
    plan, chances = outcome.plan, outcome.chance_by_session()
    of_session = [
        np.stack([chance, sets.expected_missed.sum(axis=0), *sets.reserve_interval, session.duration_s / 60.0])
        for (session, sets), chance in zip(outcome, chances, strict=True)
    ]
    lowest = interval_by_week(np.minimum.reduce([sets.lowest_reserve for sets in outcome.sessions]))
    missed, seconds = np.sum([[rows[1], 60.0 * rows[-1]] for rows in of_session], axis=0)
    rows = np.stack([*of_session, np.stack([outcome.chance_by_week(), missed, *lowest, seconds / 60.0])])
    names = [*(session.name for session in plan.sessions), WHOLE_WEEK]
    columns = ["chance", "missed", "reserve_low", "reserve", "reserve_high", "minutes"]
    table = pd.DataFrame(rows.transpose(2, 0, 1).reshape(-1, len(columns)), columns=columns)
    table = table.replace([np.inf, -np.inf], np.nan)
    table.loc[table["reserve"].isna(), ["chance", "missed"]] = np.nan  # nothing to be made
    table.insert(0, "week", np.repeat(np.arange(1, plan.weeks + 1), len(names)))
    table.insert(1, "session", names * plan.weeks)
    return table


def first_break(sets: pd.DataFrame, limit: float) -> FirstBreak | None:
    """Return the first set whose chance lies under ``limit``, in order of weeks, sessions and sets."""
    below = sets[sets["chance"] < limit]
    if below.empty:
        return None
    row = below.iloc[0]
    return FirstBreak(
        week=int(row["week"]),
        session=str(row["session"]),
        session_number=int(row["session_number"]),
        exercise=str(row["exercise"]),
        slot=int(row["slot"]),
        group=int(row["group"]),
        label=str(row["set"]),
        drop=int(row["drop"]),
        chance=float(row["chance"]),
    )
