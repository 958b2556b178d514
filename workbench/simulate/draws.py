"""Possible lifters and days: all that is random about a block, drawn before it is simulated.

A draw is one possible lifter (1RM, endurance, recovery, fatigue parameters) living through one possible run of days.
Draws are the leading axis, weeks the second. Two plans simulated on the same draws meet the same lifters and days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Protocol

import numpy as np

from workbench.gym.catalogue import Catalogue
from workbench.lifter import Lifter
from workbench.lifter.belief import ALL, Quantity, joint_scores
from workbench.lifter.file import BEND, CARRIED, RECOVERY, SHARED
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.quantities import SEED, FloatArray
from workbench.reference.parameters import (
    DRIFT_SD,
    SHARED_ENDURANCE,
    fatigue_draws,
    noise,
)
from workbench.reference.tempo import slow_rep_prior
from workbench.simulate.plan import Plan, PlannedSession

__all__ = ["CommonDays", "Days", "LifterDraws", "SeededDays", "ahead", "draw_for", "draw_lifter", "lifts_given"]


@dataclass(frozen=True)
class LifterDraws:
    """Possible lifters and days.

    Attributes
    ----------
    exercises : tuple of str
    log_one_rm : array, shape (draws, exercises), [ln kg]
    endurance : array, shape (draws, exercises), [1/rep]
    recovery_rate : array, shape (draws,), [1]
    fatigue : parameter set of ``form``, fields of shape (draws, 1)
    form : FatigueForm
    day : array, shape (sessions, draws, weeks), [1]
        Log-strength of that day against the lifter's usual.
    set_noise : array, shape (sets, draws, weeks), [1]
        Factor on the reps of a fresh set, for each set of the week.
    carry : array, shape (draws, 1), [1], optional
        Factor on how strongly fatigue passes between exercises that share muscles.
    curve : Curve
        On which a fresh set of these lifters lies.
    slow_reps : array, shape (draws,), [1], optional
        Exponent of what reps slower than usual cost; see `workbench.models.tempo`.
    bend : array, shape (draws,), [1], optional
        By which a log has these lifters go otherwise than on the curve: see `bent_curve`.
    """

    exercises: tuple[str, ...]
    log_one_rm: FloatArray
    endurance: FloatArray
    recovery_rate: FloatArray
    fatigue: Any
    form: FatigueForm
    day: FloatArray
    set_noise: FloatArray
    carry: FloatArray | None = None
    curve: Curve = DEFAULT_CURVE
    slow_reps: FloatArray | None = None
    bend: FloatArray | None = None

    @property
    def count(self) -> int:
        """Number of draws."""
        return int(self.recovery_rate.shape[0])

    @property
    def bent_curve(self) -> Curve:
        """The curve of each draw, for headrooms of shape (draws, ...) with one more axis."""
        return self.curve if self.bend is None else self.curve.bent(self.bend[:, np.newaxis])

    def taken(self, rows: np.ndarray) -> LifterDraws:
        """Return some of the draws, by their index; one may come again."""
        return self._with(lambda values, axis: _picked(values[0], rows, axis), [self])

    @staticmethod
    def joined(parts: Sequence[LifterDraws]) -> LifterDraws:
        """Return the draws of several for the same exercises, sessions and sets, one after the other."""
        return parts[0]._with(np.concatenate, parts)

    def _with(self, put: Callable[..., Any], parts: Sequence[LifterDraws]) -> LifterDraws:
        """Put the arrays of several draws together, each along the axis that counts the draws."""
        axes = {"log_one_rm": 0, "endurance": 0, "recovery_rate": 0, "day": 1, "set_noise": 1}
        axes |= {name: 0 for name in ("carry", "slow_reps", "bend") if getattr(self, name) is not None}
        kept = {name: put([getattr(part, name) for part in parts], axis) for name, axis in axes.items()}
        drawn = {
            name: put([getattr(part.fatigue, name) for part in parts], 0)
            for name in self.form.parameter_names
            if np.size(getattr(self.fatigue, name)) > 1
        }
        return replace(self, **kept, fatigue=replace(self.fatigue, **drawn))


def _picked(values: FloatArray, rows: np.ndarray, axis: int) -> FloatArray:
    """Take some draws; those of an array with weeks behind them stay adjacent in memory."""
    # Chosen by index in brackets they would lie apart.
    return values[rows] if axis == 0 else _draws_inside(np.take(_draws_inside(values), rows, axis=2))


# More than seven parameters: what is drawn, and how, each by its own keyword.
def draw_lifter(
    lifter: Lifter,
    exercises: tuple[str, ...],
    *,
    weeks: int,
    sessions: int,
    sets: int,
    draws: int = 2000,
    rng: np.random.Generator,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    catalogue: Catalogue | None = None,
) -> LifterDraws:
    """Draw possible lifters from what the lifter file says, and from the published spread where it is silent.

    ``catalogue`` knows the exercises: the plan's; the lifter's where not given.

    Every quantity has a random stream of its own: one more set or session at the end changes no other digit.

    Raises
    ------
    InputError
        Where the lifter has no 1RM for an exercise.
    """
    streams = rng.spawn(9)
    spread = noise()
    count = len(exercises)
    one_rm = streams[0].standard_normal((draws, count))
    shared = streams[1].standard_normal((draws, 1))
    own = streams[1].standard_normal((draws, count))
    rate, carried = streams[2].standard_normal((draws, 1)), streams[6].standard_normal((draws, 1))
    beliefs = lifter.of_all
    rest = streams[7].standard_normal((draws, len(beliefs) - 3))
    scores = joint_scores(np.hstack([shared, rate, carried, rest]), lifter.correlations(list(beliefs)))
    of_all = {name: belief.at(score) for (name, belief), score in zip(beliefs.items(), scores.T, strict=True)}
    bend = None if lifter.bend(curve) is None else of_all[BEND]
    bent = curve.bent(bend)
    log_one_rm, log_endurance = lifts_given(lifter, exercises, of_all, one_rm, own, curve=bent, catalogue=catalogue)
    day = spread.day_sd * _draws_inside(streams[4].standard_normal((sessions, weeks, draws)))
    gain = of_all.get((ALL, "gain"))
    if gain is not None:
        day += ahead(0.01 * gain, weeks, rng=streams[7])  # in place: the draws stay where they lie
    return LifterDraws(
        exercises=exercises,
        log_one_rm=log_one_rm,
        endurance=np.exp(log_endurance),
        recovery_rate=np.exp(of_all[RECOVERY]),
        fatigue=lifter.tiring(form, of_all) or fatigue_draws(draws, streams[3], form=form),
        form=form,
        day=day,
        set_noise=_draws_inside(_log_normal(spread.set_log_sd, streams[5], (sets, weeks, draws))),
        carry=np.exp(of_all[CARRIED])[:, np.newaxis],
        curve=curve,
        slow_reps=slow_rep_prior().draw(streams[8].standard_normal(draws)),
        bend=bend,
    )


def ahead(gain: FloatArray, weeks: int, *, first_week: int = 1, rng: np.random.Generator) -> FloatArray:
    """Log-strength of the weeks ahead against the end of a log: what a 1RM drifts by, and what it gains.

    Parameters
    ----------
    gain : array, shape (draws,), [ln kg a week]
    weeks : int
        Weeks of the block, >= 1.
    first_week : int
        That which follows the log, from 1; none before it is moved.
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (draws, weeks), [1]
    """
    follows = np.arange(weeks) >= first_week - 1
    walk = DRIFT_SD * rng.standard_normal((gain.size, weeks))
    return np.asarray(np.cumsum(follows * (gain[:, np.newaxis] + walk), axis=1))


# More than seven parameters: what is drawn, and how, each by its own keyword.
def lifts_given(
    lifter: Lifter,
    exercises: Sequence[str],
    of_all: Mapping[Quantity, FloatArray],
    one_rm: FloatArray,
    own: FloatArray,
    *,
    curve: Curve = DEFAULT_CURVE,
    catalogue: Catalogue | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Draw 1RM and endurance of exercises where what the lifter has in all of them alike is drawn already.

    They go together as the lifter file says; an endurance of which it says nothing shares a part with all others.

    Parameters
    ----------
    lifter : Lifter
    exercises : sequence of str
    of_all : mapping of str to array, shape (draws,)
        Values of quantities of `Lifter.of_all`, on the scales of its beliefs.
    one_rm, own : array, shape (draws, exercises), [1]
        Independent standard normal scores, of the 1RM and of what each exercise has of its own in endurance.
    curve : Curve
        With the bend of each draw, where these have one.
    catalogue : Catalogue, optional

    Returns
    -------
    log_one_rm : array, shape (draws, exercises), [ln kg]
    log_endurance : array, shape (draws, exercises), [ln 1/rep]

    Raises
    ------
    InputError
        Where the lifter has no 1RM for an exercise.
    """
    count = len(exercises)
    names: list[Quantity] = [(name, kind) for kind in ("endurance", "1RM") for name in exercises]
    beliefs = lifter.of_all
    known = np.column_stack([beliefs[name].scores(values) for name, values in of_all.items()])
    scores = joint_scores(np.hstack([own, one_rm]), lifter.correlations([*of_all, *names]), known)
    log_one_rm, log_endurance = np.empty(own.shape), np.empty(own.shape)
    unbent = curve.bent(None)
    for lane, name in enumerate(exercises):
        lift, score = lifter.lift(name), scores[:, lane]
        if not lifter.goes_together((name, "endurance")):
            # An interval of its own holds already what is known of the part that all share.
            common = of_all[SHARED] if lift.endurance_interval is None else known[:, list(of_all).index(SHARED)]
            score = np.sqrt(SHARED_ENDURANCE) * common + np.sqrt(1.0 - SHARED_ENDURANCE) * score
        endurance = lifter.endurance_belief(name, unbent, catalogue)
        log_endurance[:, lane] = endurance.at(score)
        score = scores[:, count + lane]
        if lift.from_set is None:
            log_one_rm[:, lane] = lifter.one_rm_belief(name, unbent, catalogue).at(score)
            continue
        # What a set says of the 1RM is the more, the sooner the lifter tires.
        both = np.log(2.0) if lift.each_hand else 0.0
        log_one_rm[:, lane] = lift.from_set.log_one_rm(log_endurance[:, lane], curve) + both
        log_one_rm[:, lane] += lift.from_set.scatter(endurance.middle, curve) * score
    return log_one_rm, log_endurance


def _log_normal(log_sd: float, rng: np.random.Generator, shape: tuple[int, ...]) -> FloatArray:
    """Factors about 1.

    Not in place: once an array of this size has been freed, the C library keeps the pages of the smaller ones that a
    simulation frees and takes again, where it would hand each back to the system; that is worth two fifths of the time.
    """
    factors = rng.standard_normal(shape)
    factors *= log_sd
    return np.exp(factors)


def _draws_inside(array: FloatArray) -> FloatArray:
    """Turn (n, weeks, draws) into (n, draws, weeks), leaving draws adjacent in memory: long inner loops are fast.

    And back.
    """
    return array.transpose(0, 2, 1)


def draw_for(plan: Plan, *, draws: int = 2000, seed: int = SEED) -> LifterDraws:
    """Draw the plan's lifter for this plan; the same seed gives the same draws."""
    return _drawn([plan], plan.exercises, draws, seed, sessions=len(plan.sessions), sets=plan.set_count)


def _drawn(
    plans: Sequence[Plan], exercises: tuple[str, ...], draws: int, seed: int, *, sessions: int, sets: int
) -> LifterDraws:
    first = plans[0]
    return draw_lifter(
        first.lifter,
        exercises,
        weeks=max(plan.weeks for plan in plans),
        sessions=sessions,
        sets=sets,
        draws=draws,
        rng=np.random.default_rng(seed),
        form=first.form,
        curve=first.curve,
        catalogue=first.catalogue,
    )


class Days(Protocol):
    """Lifters and days that plans are simulated on; plans that differ in nothing drawn are handed the very same."""

    def of(self, plan: Plan) -> LifterDraws:
        """Return what a plan meets."""


class SeededDays:
    """Days that every plan draws for itself from one seed, by `draw_for` or in another way."""

    def __init__(self, draws: int = 2000, seed: int = SEED, *, draw: Callable[..., LifterDraws] | None = None) -> None:
        self._draw = partial(draw or draw_for, draws=draws, seed=seed)
        self._last: tuple[object, LifterDraws] | None = None

    def of(self, plan: Plan) -> LifterDraws:
        """Return what a plan meets."""
        layout = (plan.terms, len(plan.sessions), plan.set_count)
        if self._last is None or self._last[0] != layout:
            self._last = (layout, self._draw(plan))
        return self._last[1]


class CommonDays:
    """Lifters and days that several plans of one lifter share.

    A lifter's 1RM and endurance follow the exercise, a day's strength follows the session (its weekday where all
    plans state one, else its place in the week) and the week, and a set's scatter follows the session, the exercise
    and the number of the set: whatever two plans share, they meet alike. Where all plans hold the exercises and
    sessions of the first, that one meets the lifters and days of `draw_for`.

    Parameters
    ----------
    plans : sequence of Plan
        All for the same lifter; together they hold every session, exercise and set that will be asked for.
    draws, seed : int
    """

    def __init__(self, plans: Sequence[Plan], *, draws: int = 2000, seed: int = SEED) -> None:
        self._weekdays = _weekdays(plans)
        exercises = tuple(dict.fromkeys(name for plan in plans for name in plan.exercises))
        first, *others = [self._keys(plan) for plan in plans]
        # Those of the first plan as they come, the rest in an order that does not depend on that of the plans.
        rest = sorted({key for keys in others for key in keys} - set(first))
        self._rows = {key: row for row, key in enumerate((*first, *rest))}
        sessions = 1 + max(row for plan in plans for row in self._session_rows(plan))
        self._shared = _drawn(plans, exercises, draws, seed, sessions=sessions, sets=len(self._rows))
        self._last: tuple[object, LifterDraws] | None = None

    def of(self, plan: Plan) -> LifterDraws:
        """Return the part of the draws that a plan meets; KeyError for a set that none of the first plans holds."""
        sessions, keys = self._session_rows(plan), self._keys(plan)
        layout = (plan.exercises, plan.weeks, sessions, keys)
        if self._last is None or self._last[0] != layout:
            shared = self._shared
            columns = [shared.exercises.index(name) for name in plan.exercises]
            drawn = replace(
                shared,
                exercises=plan.exercises,
                log_one_rm=shared.log_one_rm[:, columns],
                endurance=shared.endurance[:, columns],
                day=_rows(shared.day, sessions, plan.weeks),
                set_noise=_rows(shared.set_noise, [self._rows[key] for key in keys], plan.weeks),
            )
            self._last = (layout, drawn)
        return self._last[1]

    def _session_rows(self, plan: Plan) -> list[int]:
        if self._weekdays:
            return [self._weekdays.index(session.day) for session in plan.sessions if session.day is not None]
        return list(range(len(plan.sessions)))

    def _keys(self, plan: Plan) -> list[tuple[int, str, int, int, int]]:
        rows = self._session_rows(plan)
        return [key for session, row in zip(plan.sessions, rows, strict=True) for key in _set_keys(session, row)]


def _weekdays(plans: Sequence[Plan]) -> list[int]:
    """Return the weekdays of the sessions, where every session of every plan has one of its own; else nothing."""
    days = [[session.day for session in plan.sessions] for plan in plans]
    if all(None not in of_plan and len(set(of_plan)) == len(of_plan) for of_plan in days):
        return sorted({day for of_plan in days for day in of_plan if day is not None})
    return []


def _rows(array: FloatArray, chosen: list[int], weeks: int) -> FloatArray:
    # Taken with the draws innermost, as they lie in memory, and turned back: the simulation is fast on those.
    return array.transpose(0, 2, 1)[chosen, :weeks].transpose(0, 2, 1)


def _set_keys(session: PlannedSession, row: int) -> list[tuple[int, str, int, int, int]]:
    turns: dict[str, list[int]] = {}
    keys = []
    for one in session.sets:
        slots = turns.setdefault(one.exercise, [])
        if one.slot not in slots:
            slots.append(one.slot)
        keys.append((row, one.exercise, slots.index(one.slot), one.number, one.drop))
    return keys
