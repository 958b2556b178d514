"""What is not known, and what is luck: where a block is least sure, where that comes from, which test settles most.

Chances and bands of a block hold two things: that this lifter's 1RM, endurance and recovery are not known, which a test
can change, and the luck of day and set, which nothing can.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.next_test import FromFile, NextTest, possible_tests, rank_tests
from workbench.answers.spread import PLACE, Spread, spread_of
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED, FloatArray
from workbench.simulate.draws import LifterDraws, SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, run_block, run_session
from workbench.simulate.sources import LUCK, SOURCES, exchanged

__all__ = ["Target", "Unsure", "answer_by_lifter", "least_sure", "settling_test", "unsure_of", "what_is_unsure"]

#: A chance known to within this much, sd between possible lifters, leaves nothing to settle.
_SETTLED: Final = 0.02
#: Possible lifters that a test is judged on, and runs of days that each lives through.
_LIFTERS, _DAYS = 600, 20
#: A share of the spread that is worth a word.
_WORTH_SAYING: Final = 0.1


@dataclass(frozen=True)
class Target:
    """One set of the block whose forecast a test is to narrow.

    Attributes
    ----------
    place : int
        Row of `Spread.places`.
    week, session_number : int
        From 1.
    exercise : str
    index : int
        Of the set in its session, from 0.
    of : {"chance", "reps"}
        The chance that all its reps are made, or the reps that it has (a set to failure).
    """

    place: int
    week: int
    session_number: int
    exercise: str
    index: int
    of: str


@dataclass(frozen=True, repr=False)
class Unsure(Answer):
    """The answer to "what is not known, and what is luck?".

    Attributes
    ----------
    plan : Plan
    places : DataFrame
        One row a set and week, then a week and session, a week, and the block: level ("set", "session", "week",
        "block"), week, session_number, session, slot, exercise, group, set, drop; chance, chance_tired, chance_tireless
        [1] (that all reps are made, of this lifter, and of the easily tired and the tireless one among those that the
        file leaves possible); reps, reps_p10, reps_p90, reps_tired, reps_tireless [reps] (that a set has; the fewest in
        reserve of a session, week or block); sd_chance [1] and sd_reps [reps] (between the possible lifters).
    shares : DataFrame
        One row a place, quantity and source: level, week, session_number, session, slot, exercise, group, set, drop; of
        ("chance" that all reps are made, or "reps": those that a set has, the fewest in reserve of a session, week or
        block); source ("1RM", "endurance", "recovery", "fatigue constants", "day", "set"); share [1] (of the variance;
        the six add up to 1); alone [1] (what the source does by itself), total [1] (with all that it does together
        with others). NaN where nothing varies.
    together : DataFrame
        One row a place, quantity and pair of sources: the same first columns; source, with_source, share [1] (of the
        variance that the two cause together, beyond what each does alone).
    least_sure : Target or None
        The set of which least is known; None for a block without sets that can be told apart.
    test : NextTest or None
        Safe tests, the one that would narrow the answer of that set most first; None where no safe one is left.
    draws : int, [1]
        Simulated lifters and runs of days.
    """

    plan: Plan
    places: pd.DataFrame
    shares: pd.DataFrame
    together: pd.DataFrame
    least_sure: Target | None
    test: NextTest | None
    draws: int

    @property
    def notes(self) -> tuple[str, ...]:
        """How sure the shares are, and how the test is kept safe."""
        points = 100.0 / np.sqrt(self.draws)
        sure = f"Shares of the spread are good to about {points:.0f} points, with {self.draws:,} simulated lifters"
        return (sure, *(() if self.test is None else self.test.notes))

    def sentences(self) -> list[str]:
        """Say where least is known, why, what lifters at either end would do there, and what would settle it."""
        if self.least_sure is None:
            return ["Nothing here is unsure: the block has no set of which one lifter would make more than another."]
        return [self.where(), self.why(), self.ends(), self.settles()]

    def where(self) -> str:
        """Say in a sentence which set is least sure."""
        row = self._row
        place = f"week {row['week']}, {row['session']}, {row['exercise']}, set {row['set']}"
        reps = f"{row['reps']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f}) are there to be had"
        return f"Least sure is {place}: {reps}{_chance(row['chance'])}."

    def why(self) -> str:
        """Say in a sentence how much of that is not known, how much is luck, and what of the lifter it comes from."""
        assert self.least_sure is not None
        shares = self.shares_at(self.least_sure.place, self.least_sure.of)
        luck = float(shares[list(LUCK)].sum())
        unknown = shares.drop(list(LUCK)).sort_values(ascending=False)
        named = [f"{name} {percent_said(value)}" for name, value in unknown.items() if value >= _WORTH_SAYING]
        of = f" ({', '.join(named)})" if named else ""
        return (
            f"Of what is unsure there, {percent_said(1.0 - luck)} is that the lifter is not known better{of}; "
            f"{percent_said(luck)} is the luck of the day and the set."
        )

    def ends(self) -> str:
        """Say in a sentence what an easily tired and a tireless lifter of this file would do there."""
        row = self._row
        tired, tireless = (
            f"{row[f'reps_{end}']:.0f} reps{_chance(row[f'chance_{end}'])}" for end in ("tired", "tireless")
        )
        return f"The one in ten who tires most easily would have {tired}; the one in ten who tires least {tireless}."

    def settles(self) -> str:
        """Say in a sentence which safe test would settle most, and how much of it."""
        if self.test is None:
            return "No safe test that would tell more is left; the log of the first weeks will."
        best, row = self.test.best, self.test.table.iloc[0]
        exercise = self.plan.catalogue.exercise(best.exercise)
        loads = self.plan.room.loads_for(exercise)
        reps = f"about {row['reps']:.0f} reps, {row['reps_low']:.0f} to {row['reps_high']:.0f}"
        taken = percent_said(float(row["shrinks"]))
        said = best.said(loads.unit, loads.hands)
        return f"What would settle most: {said}, fresh ({reps}). It takes away {taken} of what is not known there."

    @property
    def _row(self) -> dict[Any, Any]:
        assert self.least_sure is not None
        return self.places.iloc[self.least_sure.place].to_dict()

    def shares_at(self, place: int, of: str = "chance") -> pd.Series:
        """Return the shares of one row of ``places`` by source; of the "chance" or of the "reps"."""
        rows = self.shares.iloc[2 * len(SOURCES) * place :][: 2 * len(SOURCES)]
        rows = rows[rows["of"] == of]
        return pd.Series(rows["share"].to_numpy(), index=rows["source"].to_numpy())


def _chance(chance: float) -> str:
    return "" if np.isnan(chance) else f", with a chance of {in_words(chance)} that all are made"


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def what_is_unsure(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> Unsure:
    """Split every chance and band of a block into what is not known of the lifter and what is luck.

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
        The same seed gives the same digits, and the same lifters and days as those of `check`.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, its name, or a plain function ``reps(load_fraction, endurance)``.

    Returns
    -------
    Unsure
        Shares [1] of the variance by source, what lifters at either end would do [reps, 1], and the safe test that
        would narrow the least sure set most.

    Raises
    ------
    InputError
        A lift or a load that is missing.

    Notes
    -----
    The spreads that are split come from the lifter file, and where it is silent from ``data/parameters.csv`` and
    ``data/fitted/``, each number with its source key and grade. Shares by exchanging one source at a time between two
    halves of the draws (Saltelli 2002, doi 10.1016/S0010-4655(02)00280-1).
    """
    return unsure_of(run_block(block, lifter, room, SeededDays(draws, seed), form=form, curve=curve))


def unsure_of(outcome: Outcome) -> Unsure:
    """Split the spread of a simulated block; see `what_is_unsure`."""
    spread = spread_of(outcome)
    target = least_sure(outcome.plan, spread)
    test = None if target is None else settling_test(outcome, target)
    shares, together = _tables(spread)
    assert outcome.draws is not None
    return Unsure(outcome.plan, spread.places, shares, together, target, test, outcome.draws.count)


def _tables(spread: Spread) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Shares, and pairs, with a row for each place."""
    names, kinds = list(SOURCES), (("chance", spread.chance), ("reps", spread.reps))
    keys, count = spread.places[list(PLACE)], len(spread.places)

    def repeated(times: int) -> pd.DataFrame:
        return keys.iloc[np.repeat(np.arange(count), times)].reset_index(drop=True)

    def by_place(arrays: list[FloatArray]) -> FloatArray:
        return np.stack([array.T for array in arrays], axis=1).ravel()

    shares = repeated(2 * len(names)).assign(
        of=np.tile(np.repeat([of for of, _ in kinds], len(names)), count),
        source=np.tile(names, 2 * count),
        **{name: by_place([getattr(of, name) for _, of in kinds]) for name in ("share", "alone", "total")},
    )
    first, second = np.triu_indices(len(names), 1)
    together = repeated(2 * first.size).assign(
        of=np.tile(np.repeat([of for of, _ in kinds], first.size), count),
        source=np.tile(np.array(names)[first], 2 * count),
        with_source=np.tile(np.array(names)[second], 2 * count),
        share=by_place([of.pairs[first, second] for _, of in kinds]),
    )
    return shares, together


def least_sure(plan: Plan, spread: Spread) -> Target | None:
    """Return the set of which least is known.

    It is the set whose chance differs most between the lifters that the file leaves possible; where no chance differs
    by more than a few points, the set, first of those to failure, whose expected reps do.
    """
    sets = spread.places[spread.places["level"] == "set"]
    of = "chance"
    by = sets["sd_chance"].where(sets["sd_chance"] > _SETTLED)
    if not by.notna().any():
        of, free = "reps", sets["chance"].isna()
        by = sets["sd_reps"].where(free) if free.any() else sets["sd_reps"]
    if not by.notna().any():
        return None
    place = int(np.nanargmax(by.to_numpy()))
    row = sets.iloc[place]
    number = int(row["session_number"])
    wanted = (row["slot"], row["set"], row["drop"])
    planned = plan.sessions[number - 1].sets
    index = next(at for at, one in enumerate(planned) if (one.slot, one.label, one.drop) == wanted)
    return Target(place, int(row["week"]), number, str(row["exercise"]), index, of)


def settling_test(outcome: Outcome, target: Target) -> NextTest | None:
    """Rank safe tests by how much they are expected to narrow the answer of one set; None where none is safe.

    Tested is the set's own exercise; where that cannot be tested, those of the block that share most muscles with it.
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
            said = "chance of that set" if target.of == "chance" else "reps of that set"
            return rank_tests(file, lifters, values, tests, answer_name=said)
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
