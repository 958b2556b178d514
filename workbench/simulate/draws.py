"""Possible lifters and days: all that is random about a block, drawn before it is simulated.

A draw is one possible lifter (1RM, endurance, recovery, fatigue parameters) living through one possible run of days.
Draws are the leading axis, weeks the second. Two plans simulated on the same draws meet the same lifters and days.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Protocol

import numpy as np

from workbench.gym.catalogue import Catalogue
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY
from workbench.quantities import SEED, FloatArray
from workbench.reference.parameters import (
    SHARED_ENDURANCE,
    STATED_SHARE,
    endurance_prior,
    fatigue_draws,
    noise,
    recovery_prior,
)
from workbench.simulate.plan import Plan, PlannedSession

__all__ = ["CommonDays", "Days", "LifterDraws", "SeededDays", "draw_for", "draw_lifter"]


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

    @property
    def count(self) -> int:
        """Number of draws."""
        return int(self.recovery_rate.shape[0])

    def taken(self, rows: np.ndarray) -> LifterDraws:
        """Return some of the draws, by their index; one may come again."""
        return self._with(lambda values, axis: np.take(values[0], rows, axis), [self])

    @staticmethod
    def joined(parts: Sequence[LifterDraws]) -> LifterDraws:
        """Return the draws of several for the same exercises, sessions and sets, one after the other."""
        return parts[0]._with(np.concatenate, parts)

    def _with(self, put: Callable[..., Any], parts: Sequence[LifterDraws]) -> LifterDraws:
        """Put the arrays of several draws together, each along the axis that counts the draws."""
        axes = {"log_one_rm": 0, "endurance": 0, "recovery_rate": 0, "day": 1, "set_noise": 1}
        if self.carry is not None:
            axes["carry"] = 0
        kept = {name: put([getattr(part, name) for part in parts], axis) for name, axis in axes.items()}
        drawn = {
            name: put([getattr(part.fatigue, name) for part in parts], 0)
            for name in self.form.parameter_names
            if np.size(getattr(self.fatigue, name)) > 1
        }
        return replace(self, **kept, fatigue=replace(self.fatigue, **drawn))


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
    streams = rng.spawn(7)
    spread = noise()
    count = len(exercises)
    lifts = [lifter.lift(name) for name in exercises]
    priors = [endurance_prior((catalogue or lifter.catalogue).exercise(name).endurance_class) for name in exercises]
    sd = np.array([lift.uncertainty_percent / 100.0 for lift in lifts])
    log_one_rm = np.log([lift.one_rm for lift in lifts]) + sd * streams[0].standard_normal((draws, count))
    known = np.array([lift.endurance_on(curve) or np.nan for lift in lifts])
    median = np.where(np.isnan(known), [prior.median for prior in priors], known)
    between = np.array([prior.log_sd for prior in priors])
    log_sd = np.where(np.isnan(known), between, between * STATED_SHARE)
    shared = streams[1].standard_normal((draws, 1))
    own = streams[1].standard_normal((draws, count))
    mixed = np.sqrt(SHARED_ENDURANCE) * shared + np.sqrt(1.0 - SHARED_ENDURANCE) * own
    rate_median, rate_sd = recovery_prior(lifter.sex)
    if lifter.recovery_rate is not None:
        rate_median, rate_sd = lifter.recovery_rate, rate_sd * STATED_SHARE
    carried, carried_sd = 1.0, CARRY.log_sd
    if lifter.carry_over is not None:
        carried, carried_sd = lifter.carry_over, carried_sd * STATED_SHARE
    return LifterDraws(
        exercises=exercises,
        log_one_rm=log_one_rm,
        endurance=median * np.exp(log_sd * mixed),
        recovery_rate=rate_median * np.exp(rate_sd * streams[2].standard_normal(draws)),
        fatigue=fatigue_draws(draws, streams[3], form=form),
        form=form,
        day=spread.day_sd * _draws_inside(streams[4].standard_normal((sessions, weeks, draws))),
        set_noise=_draws_inside(_log_normal(spread.set_log_sd, streams[5], (sets, weeks, draws))),
        carry=carried * np.exp(carried_sd * streams[6].standard_normal((draws, 1))),
        curve=curve,
    )


def _log_normal(log_sd: float, rng: np.random.Generator, shape: tuple[int, ...]) -> FloatArray:
    """Factors about 1.

    Not in place: once an array of this size has been freed, the C library keeps the pages of the smaller ones that a
    simulation frees and takes again, where it would hand each back to the system; that is worth two fifths of the time.
    """
    factors = rng.standard_normal(shape)
    factors *= log_sd
    return np.exp(factors)


def _draws_inside(array: FloatArray) -> FloatArray:
    """Turn (n, weeks, draws) into (n, draws, weeks), leaving draws adjacent in memory: long inner loops are fast."""
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
