"""The one safe test that would settle most of what is not known of one set of a block."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import pandas as pd

from workbench.answers.next_test import FromFile, NextTest, possible_tests, rank_tests
from workbench.present.words import percent_said
from workbench.quantities import FloatArray
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, run_session
from workbench.simulate.sources import LUCK, exchanged

__all__ = ["SETTLED", "Target", "answer_by_lifter", "settles_said", "settling_test", "target_at"]

#: Possible lifters that a test is judged on, and runs of days that each lives through.
_LIFTERS, _DAYS = 1200, 12
#: A chance known to within this much, sd between possible lifters, leaves nothing to settle.
SETTLED: Final = 0.02
_GENTLE: Final = "stop at one in reserve"


@dataclass(frozen=True)
class Target:
    """One set of the block whose forecast a test is to narrow.

    Attributes
    ----------
    week, session_number : int
        From 1.
    exercise : str
    index : int
        Of the set in its session, from 0.
    of : {"chance", "reps"}
        The chance that all its reps are made, or the reps that it has.
    """

    week: int
    session_number: int
    exercise: str
    index: int
    of: Literal["chance", "reps"]


def target_at(
    plan: Plan, week: int, session_number: int, slot: int, label: str, of: Literal["chance", "reps"] = "chance"
) -> Target:
    """Return the set at a place of a block, as `workbench.answers.block_tables.set_table` names it.

    Of a set whose reps are not to be made, the reps are meant.
    """
    sets = plan.sessions[session_number - 1].sets
    index = next(at for at, one in enumerate(sets) if (one.slot, one.label) == (slot, label))
    meant = of if sets[index].prescribed[week - 1] else "reps"
    return Target(week, session_number, sets[index].exercise, index, meant)


def settling_test(outcome: Outcome, target: Target) -> NextTest | None:
    """Rank safe tests by how much they are expected to narrow the answer of one set; None where none is safe.

    Tested is the set's own exercise; where that cannot be tested, those of the block that share most muscles with it.
    Sets to failure, and the most telling of them stopped with one rep in reserve as well.
    """
    plan, draws = outcome.plan, outcome.draws
    assert draws is not None
    lifters = exchanged(draws, (), np.arange(min(_LIFTERS, draws.count)))
    file = FromFile.of(plan, lifters)
    lane = plan.exercises.index(target.exercise)
    order = [target.exercise, *(plan.exercises[other] for other in np.argsort(-plan.overlap[lane], kind="stable"))]
    for name in dict.fromkeys(order):
        tests = possible_tests(file, lifters, exercises=(name,), room=plan.room)
        if tests:
            values = answer_by_lifter(plan, draws, target, lifters.count)
            if target.of == "chance" and values.std() <= SETTLED:
                return settling_test(outcome, replace(target, of="reps"))
            said = f"{target.of} of that set"
            ranked = rank_tests(file, lifters, values, tests, answer_name=said)
            gentle = rank_tests(file, lifters, values, [replace(ranked.best, how=_GENTLE)], answer_name=said)
            table = pd.concat([ranked.table, gentle.table], ignore_index=True)
            table = table.sort_values("shrinks", ascending=False, kind="stable")
            every = (*ranked.tests, *gentle.tests)
            return NextTest(table.reset_index(drop=True), tuple(every[at] for at in table.index), said)
    return None


def answer_by_lifter(plan: Plan, draws: LifterDraws, target: Target, lifters: int) -> FloatArray:
    """Chance, or expected reps, of one set for each of the first so many lifters, over many runs of days.

    Returns
    -------
    array, shape (lifters,), [1] or [reps]
    """
    number, week = target.session_number - 1, target.week - 1
    session = plan.sessions[number]
    upto = replace(session, sets=session.sets[: target.index + 1])
    shorter = replace(plan, sessions=(*plan.sessions[:number], upto, *plan.sessions[number + 1 :]))
    total = np.zeros(lifters)
    for run in range(_DAYS):
        others = (np.arange(lifters) + run * draws.count // _DAYS) % draws.count
        last = run_session(shorter, exchanged(draws, LUCK, others), number)[target.index]
        values = last.made if target.of == "chance" else last.available
        total += np.broadcast_to(values, (lifters, plan.weeks))[:, week]
    return total / _DAYS


def settles_said(plan: Plan, test: NextTest) -> str:
    """Say the best test, what to expect of it, and how much of what is not known it takes away."""
    best, row = test.best, test.table.iloc[0]
    loads = plan.room.loads_for(plan.catalogue.exercise(best.exercise))
    reps = f"about {row['reps']:.0f} reps, {row['reps_low']:.0f} to {row['reps_high']:.0f}"
    gentle = test.table.loc[[one.how == _GENTLE for one in test.tests], "shrinks"]
    stopped = "" if gentle.empty or best.how == _GENTLE else f" ({_taken(gentle.iloc[0])} if stopped with one rep left)"
    return (
        f"{best.said(loads.unit, loads.hands)}, fresh, with spotters or safety arms ({reps}); it takes away "
        f"{_taken(row['shrinks'])} of what is not known there{stopped}"
    )


def _taken(share: float) -> str:
    return percent_said(max(float(share), 0.0))
