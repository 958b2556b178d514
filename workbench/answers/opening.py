"""What a colleague would say first of a block: what is missed, where it breaks, how sure that is and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from workbench.answers.lifter_words import lifter_said
from workbench.present.tables import rows_of
from workbench.present.words import in_words, percent_said, reps_band

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_tables import FirstBreak
    from workbench.simulate.plan import Plan
    from workbench.simulate.run import Outcome

__all__ = ["headline", "how_sure", "where_it_breaks"]

#: Fewer missed reps than this, expected, are hardly one.
_HARDLY: Final = 0.5
#: An exercise is named among those that miss most with at least this part of the missed reps.
_PART_NAMED: Final = 0.2
_MOST_NAMED: Final = 2


def headline(plan: Plan, sets: pd.DataFrame, chance_of_block: float, *, left_out: float = 0.0) -> str:
    """Say how many of the prescribed reps will be missed, in how many of the sets that are meant to be made.

    Parameters
    ----------
    plan : Plan
    sets : DataFrame
        As `workbench.answers.block_tables.set_table` has it.
    chance_of_block : float, [1]
    left_out : float, [sets]
        Sets to be made that rules of the block will leave out, expected; they do not break.
    """
    who = f"{plan.block.name}, {plan.lifter.name}"
    made = sets[sets["chance"].notna()]
    if made.empty:
        return f"{who}: no set has prescribed reps, so none can be missed: each ends at failure or by reps in reserve."
    count = "the only set that is" if len(made) == 1 else f"the {len(made)} sets that are"
    chance = f"chance that none is missed: {in_words(chance_of_block)}"
    missed, short = made["missed"].sum(), (1.0 - made["chance"]).sum() - left_out
    if missed < _HARDLY:
        return f"{who}: hardly a rep will be missed in {count} meant to be made ({chance})."
    of_reps = f"about {missed:.0f} of {made['reps_low'].sum():.0f} reps will be missed"
    where = f"in {count}" if len(made) == 1 else f"in about {max(short, 1):.0f} of {count}"
    return f"{who}: {of_reps}, {where} meant to be made ({chance})."


def where_it_breaks(sets: pd.DataFrame, limit: float, broken: FirstBreak | None) -> str:
    """Say the first set below the limit, and the exercises that miss most; or the least likely set."""
    made = sets[sets["chance"].notna()]
    if made.empty:
        return ""
    if broken is None:
        return f"Every set has at least the wanted chance of {percent_said(limit)}."
    by_exercise = made.groupby("exercise", sort=False)["missed"].sum().sort_values(ascending=False, kind="stable")
    total = by_exercise.sum()
    named = by_exercise[(by_exercise >= _HARDLY) & (by_exercise >= _PART_NAMED * total)][:_MOST_NAMED]
    first = f"First under {percent_said(limit)}: {broken.below(limit)}."
    if named.empty:
        return first
    reps = " and ".join(f"{exercise} (about {missed:.0f})" for exercise, missed in named.items())
    by_week = made.groupby("week")["missed"].sum()
    week = f", most of all in week {by_week.idxmax()}" if by_week.max() > by_week.mean() + _HARDLY else ""
    return f"{first} Most missed reps: {reps}{week}."


def how_sure(outcome: Outcome, sets: pd.DataFrame) -> str:
    """Say the spread of the least likely set, and what is known of the lifter who does it."""
    made = sets[sets["chance"].notna()]
    if made.empty or outcome.draws is None:
        return ""
    row = _hardest(made)
    reps = reps_band(*(row[f"reps_p{percent}"] for percent in (10, 50, 90)))
    has = f"{_place(row)} ({in_words(row['chance'])}), asks for {row['reps_low']:.0f} reps and finds {reps}"
    known = lifter_said(outcome.plan, outcome.draws, row["exercise"])
    return f"How sure: the least likely set, {has}; {outcome.plan.lifter.name} there: {known}."


def _hardest(made: pd.DataFrame) -> dict[Any, Any]:
    return rows_of(made.sort_values("chance", kind="stable").iloc[:1])[0]


def _place(row: dict[Any, Any]) -> str:
    return f"week {row['week']}, {row['session']}, {row['exercise']}, set {row['set']}"
