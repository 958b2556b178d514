"""Which test set would teach most: the expected shrinkage of an answer's uncertainty, over all outcomes it could have.

A test set is worth what its outcome would tell. For every possible lifter and every outcome, the chance of the outcome
is known; weighing the lifters by it gives the uncertainty left after that outcome, and the average over outcomes the
uncertainty to expect. Nothing is simulated: the sums run over the draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

import numpy as np
import pandas as pd

from workbench.answers.learned import week_chances
from workbench.answers.load_search import FAST
from workbench.fit import Learned, LearnedDraws
from workbench.fit.evidence_sets import LoggedSet
from workbench.fit.likelihood import failures, probability
from workbench.fit.settings import FitSettings
from workbench.gym.catalogue import Exercise
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import FatigueForm, run_sets
from workbench.models.load_reps import Curve
from workbench.present.answer import Answer
from workbench.present.words import say_load
from workbench.quantities import SEED, FloatArray, InputError, Unit
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan

__all__ = ["FromFile", "NextTest", "SetToTest", "possible_tests", "rank_tests", "suggest_test"]

#: Loads that are offered, as shares of the median 1RM; the cap where maxima are not to be tested, and where they are.
_SHARES = (0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9)
CAP, CAP_WHERE_TESTED = 0.85, 0.9
#: A set that may well end below this many reps is as good as a maximum.
_FEWEST_REPS = 3
#: Longer sets say little and are hardly studied.
_MOST_REPS = 20
_RESTS_S = (60.0, 120.0, 180.0)
_OUTCOMES = 40
_DAYS = 7


@dataclass(frozen=True)
class Reads:
    """What a set is read with: a fit's assumptions, fatigue form and curve."""

    form: FatigueForm
    curve: Curve
    parameters: Any
    settings: FitSettings


@dataclass(frozen=True)
class FromFile:
    """A lifter of whom the file speaks and no log: stands where tests are ranked for what a log taught.

    Attributes
    ----------
    lifter : Lifter
    exercises : tuple of str
        Those that can be tested.
    fit : Reads
    """

    lifter: Lifter
    exercises: tuple[str, ...]
    fit: Reads

    @classmethod
    def of(cls, plan: Plan, draws: LifterDraws) -> FromFile:
        """Return the lifter of a plan, to be tested as simulated on some draws."""
        reads = Reads(draws.form, draws.curve, draws.fatigue, FitSettings(curve=draws.curve))
        return cls(plan.lifter, plan.exercises, reads)


#: A lifter with or without a log, and possible lifters of either.
Believed = Learned | FromFile
AnyDraws = LearnedDraws | LifterDraws


@dataclass(frozen=True)
class SetToTest:
    """One set to test with, fresh, or two with a rest between.

    Attributes
    ----------
    exercise : str
    load_kg : float
    how : {"to failure", "stop at one in reserve"}
    second_after_s : float or None
        Rest before a second set at the same load, ended the same way, s; None for one set.
    """

    exercise: str
    load_kg: float
    how: Literal["to failure", "stop at one in reserve"] = "to failure"
    second_after_s: float | None = None

    def __str__(self) -> str:
        """Return the test in words."""
        return self.said()

    def said(self, unit: Unit = "kg", hands: int = 1) -> str:
        """Return the test in words, its load as people speak of it."""
        text = f"{self.exercise}, {say_load(self.load_kg, unit, hands=hands)}, {self.how}"
        return text if self.second_after_s is None else f"{text}, again after {self.second_after_s:.0f} s"


@dataclass(frozen=True, repr=False)
class NextTest(Answer):
    """Test sets, the most telling first.

    Attributes
    ----------
    table : DataFrame
        One row a test: exercise, load_kg, percent (of the median 1RM), how, second_after_s, reps_low, reps, reps_high
        (10, 50, 90 % of the reps available in the first set), sd_now and sd_after (of the answer), shrinks (share of
        the sd that the test is expected to take away, 0 to 1).
    tests : tuple of SetToTest
        In the order of the table.
    answer : str
        Name of the answer.
    """

    table: pd.DataFrame
    tests: tuple[SetToTest, ...]
    answer: str

    @property
    def notes(self) -> tuple[str, ...]:
        """How a test is kept safe."""
        return ("With spotters or safety arms; ended before form breaks.",)

    def sentences(self) -> list[str]:
        """Say which test would teach most, and how much."""
        row = self.table.iloc[0]
        reps = f"about {row['reps']:.0f} reps ({row['reps_low']:.0f} to {row['reps_high']:.0f})"
        shrinks = f"would shrink from {row['sd_now']:.2g} to about {row['sd_after']:.2g}"
        return [
            f"A test set that would teach most of the {self.answer}: {self.best}",
            f"{reps}; the uncertainty (sd) {shrinks}.",
        ]

    @property
    def best(self) -> SetToTest:
        """The test that would teach most."""
        return self.tests[0]


def possible_tests(
    learned: Believed,
    draws: AnyDraws,
    *,
    exercises: Sequence[str] = (),
    room: Room | None = None,
    cap: float | None = None,
    to_failure: bool = True,
) -> list[SetToTest]:
    """List practicable and safe test sets.

    Parameters
    ----------
    learned : Learned or FromFile
    draws : LearnedDraws or LifterDraws
        From ``learned.draws``; of a lifter from a file, those of its plan.
    exercises : sequence of str
        All of the log where not given. Exercises that the lifter avoids, those against body mass, and fast lifts, which
        are done while the bar stays fast, are left out.
    room : Room, optional
        Loads are rounded down to what it has.
    cap : float, optional
        Highest load as a share of the median 1RM; 0.85, or 0.9 for a lifter whose maxima may be tested. A higher one is
        refused: no test here is a true maximum.
    to_failure : bool
        Whether sets to failure are offered; otherwise only sets stopped at one rep in reserve.

    Returns
    -------
    list of SetToTest
        Only sets of which at least three reps are expected in nine of ten cases, and at most 20.

    Raises
    ------
    InputError
        An exercise that is not in the log, or a cap that is too high.
    """
    highest = CAP_WHERE_TESTED if learned.lifter.test_maximum else CAP
    cap = highest if cap is None else cap
    if not 0.4 <= cap <= highest:
        raise InputError(None, "cap", f"{cap:g} of 1RM is out of range", f"use 0.4 to {highest:g} for this lifter")
    catalogue = learned.lifter.catalogue
    avoided = {catalogue.exercise(name).name for name in learned.lifter.avoid_exercises}
    found: list[SetToTest] = []
    for name in exercises or learned.exercises:
        exercise = catalogue.exercise(name)
        if exercise.name not in draws.exercises:
            raise InputError(
                None, "exercises", f"{name} is not in the log", f"use one of: {', '.join(draws.exercises)}"
            )
        if (
            exercise.body_mass_share
            or exercise.movement_pattern == FAST
            or exercise.name in avoided
            or set(exercise.joint_positions) & set(learned.lifter.avoid_positions)
        ):
            continue
        one_rm = _median_one_rm(draws, exercise.name)
        loads = sorted({_rounded(share * one_rm, room, exercise) for share in _SHARES if share <= cap + 1e-9})
        for load in loads:
            if not 0.0 < load <= cap * one_rm * (1.0 + 1e-9):
                continue
            test = SetToTest(exercise.name, load, "to failure" if to_failure else "stop at one in reserve")
            low, middle, _ = _reps(test, learned, draws)
            if low < _FEWEST_REPS or middle > _MOST_REPS:
                continue
            found.append(test)
            found.extend(replace(test, second_after_s=rest) for rest in _RESTS_S)
    return found


def _rounded(load: float, room: Room | None, exercise: Exercise) -> float:
    if room is None:
        return float(np.floor(load / 2.5) * 2.5)
    kg = np.asarray(room.loads_for(exercise).kg)
    below = kg[kg <= load + 1e-9]
    return float(below[-1]) if below.size else 0.0


def rank_tests(
    learned: Believed,
    draws: AnyDraws,
    answer: FloatArray,
    tests: Sequence[SetToTest],
    *,
    answer_name: str = "answer",
) -> NextTest:
    """Rank test sets by how much they are expected to shrink the uncertainty of an answer.

    Parameters
    ----------
    learned : Learned or FromFile
    draws : LearnedDraws or LifterDraws
    answer : array, shape (draws,)
        The answer for every draw: the 1RM, the reps at a load, the chance of finishing a week.
    tests : sequence of SetToTest
    answer_name : str

    Returns
    -------
    NextTest

    Raises
    ------
    InputError
        No test, or an answer that does not fit the draws.
    """
    values = np.asarray(answer, dtype=np.float64)
    if values.shape != draws.recovery_rate.shape:
        raise InputError(
            None, "answer", f"has shape {values.shape}", f"give one value for each of {draws.recovery_rate.size} draws"
        )
    if not tests:
        raise InputError(None, "tests", "no safe test set is left", "choose another exercise or a lower load")
    sd_now = float(values.std())
    firsts: dict[SetToTest, _First] = {}
    rows = []
    for test in tests:
        alone = replace(test, second_after_s=None)
        first = firsts.get(alone) or firsts.setdefault(alone, _first(alone, learned, draws))
        chances = _chances(test, learned, draws, first)
        weight = chances.sum(axis=0)
        kept = weight > 1e-9 * weight.sum()
        chances, weight = chances[:, kept], weight[kept]
        mean = values @ chances / weight
        left = np.maximum((values**2) @ chances / weight - mean**2, 0.0)
        sd_after = float(np.sqrt((left * weight).sum() / weight.sum()))
        rows.append(
            {
                "exercise": test.exercise,
                "load_kg": test.load_kg,
                "percent": 100.0 * test.load_kg / _median_one_rm(draws, test.exercise),
                "how": test.how,
                "second_after_s": test.second_after_s,
                **dict(zip(("reps_low", "reps", "reps_high"), first.reps, strict=True)),
                "sd_now": sd_now,
                "sd_after": sd_after,
                "shrinks": 1.0 - sd_after / sd_now if sd_now > 0 else 0.0,
            }
        )
    table = pd.DataFrame(rows).sort_values("shrinks", ascending=False, kind="stable")
    ordered = tuple(tests[number] for number in table.index)
    return NextTest(table.reset_index(drop=True), ordered, answer_name)


def suggest_test(
    learned: Learned,
    *,
    room: Room | None = None,
    plan: Plan | None = None,
    week: int = 1,
    draws: int = 600,
    seed: int = SEED,
) -> NextTest | None:
    """Rank safe test sets for the answer that matters; None where none is left.

    With a plan, the answer is the chance that all reps of its week ``week`` are made, and every exercise of the log and
    the plan can be tested. Without, it is the 1RM that is least known.
    """
    drawn = learned.draws(draws, np.random.default_rng(seed))
    if plan is not None:
        names = [name for name in drawn.exercises if name in plan.exercises]
        tests = possible_tests(learned, drawn, exercises=names, room=room) if names else []
        answer = week_chances(learned, plan, drawn, week=week, seed=seed)
        words = f"chance of all reps of week {week}"
    elif not drawn.exercises:
        return None
    else:
        lane = int(np.argmax(drawn.log_one_rm.std(axis=0)))
        name = drawn.exercises[lane]
        tests = possible_tests(learned, drawn, exercises=(name,), room=room)
        answer, words = np.exp(drawn.log_one_rm[:, lane]), f"1RM of {name}, kg"
    return rank_tests(learned, drawn, answer, tests, answer_name=words) if tests else None


def _median_one_rm(draws: AnyDraws, exercise: str) -> float:
    return float(np.exp(np.median(draws.log_one_rm[:, draws.exercises.index(exercise)])))


def _day_nodes(learned: Believed) -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.hermite_e.hermegauss(_DAYS)
    return learned.fit.settings.day_sd * nodes, weights / weights.sum()


def _available(test: SetToTest, learned: Believed, draws: AnyDraws, days: FloatArray) -> list[FloatArray]:
    """Reps available in each set of the test, each of shape (draws, days)."""
    lane, bend = draws.exercises.index(test.exercise), draws.bend
    curve = learned.fit.curve.bent(None if bend is None else bend[:, None])
    headroom = draws.log_one_rm[:, lane, None] + days - np.log(test.load_kg)
    endurance = draws.endurance[:, lane, None]
    wanted: FloatArray | float = np.inf
    if test.how != "to failure":
        wanted = np.maximum(curve.fresh_reps(headroom, endurance) - 1.5, 1.0)
    sets = [(0.0, headroom, wanted)]
    if test.second_after_s is not None:
        sets.append((test.second_after_s, headroom, np.inf))
    settings = {"form": learned.fit.form, "curve": curve, "parameters": learned.fit.parameters}
    return list(run_sets(sets, endurance, draws.recovery_rate[:, None], **settings))


class _First(NamedTuple):
    """What the first set of a test comes to, with or without a second.

    ``chances`` as of `_outcomes`; ``reps``: 10, 50 and 90 % of the reps available.
    """

    chances: FloatArray
    reps: tuple[float, float, float]


def _first(test: SetToTest, learned: Believed, draws: AnyDraws) -> _First:
    days, _ = _day_nodes(learned)
    (available,) = _available(test, learned, draws, days)
    return _First(_outcomes(test, available, learned, _OUTCOMES), _reps(test, learned, draws))


def _outcomes(test: SetToTest, available: FloatArray, learned: Believed, most: int) -> FloatArray:
    """Chance of every outcome of one set, at most so many, shape (draws, days, outcomes)."""
    settings = learned.fit.settings
    log_available, log_sd = np.log(np.maximum(available, 1e-6)), settings.set_log_sd
    if test.how == "to failure":
        return failures(most, log_available, log_sd)
    felt = [LoggedSet(None, test.load_kg, reps, "felt", 1.0, 0.0) for reps in range(1, _OUTCOMES)[:most]]
    return np.stack([probability(one, log_available, log_sd, settings) for one in felt], axis=-1)


def _chances(test: SetToTest, learned: Believed, draws: AnyDraws, first: _First) -> FloatArray:
    """Chance of every outcome for every draw, shape (draws, outcomes); two sets have all pairs of outcomes."""
    days, weights = _day_nodes(learned)
    if test.second_after_s is None:
        return _with_the_rest(np.einsum("idy,d->iy", first.chances, weights))
    # Close pairs of outcomes say the same; half the second set's resolution keeps the table small.
    available = _available(test, learned, draws, days)[1]
    second = _outcomes(test, available, learned, _OUTCOMES // 2)
    pairs = np.einsum("idy,idz,d->iyz", first.chances, second, weights, optimize=True)
    return _with_the_rest(pairs.reshape(pairs.shape[0], -1))


def _with_the_rest(chances: FloatArray) -> FloatArray:
    """Add one outcome for all that are not listed, so that the chances of every draw sum to one."""
    return np.hstack([chances, np.maximum(1.0 - chances.sum(axis=1, keepdims=True), 0.0)])


def _reps(test: SetToTest, learned: Believed, draws: AnyDraws) -> tuple[float, float, float]:
    days, weights = _day_nodes(learned)
    first = _available(test, learned, draws, days)[0]
    order = np.argsort(first, axis=None)
    cumulative = np.cumsum(np.broadcast_to(weights, first.shape).ravel()[order])
    values = np.interp((0.1, 0.5, 0.9), cumulative / cumulative[-1], first.ravel()[order])
    low, middle, high = (float(np.floor(value)) for value in values)
    return low, middle, high
