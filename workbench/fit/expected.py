"""What the fit expected of each set, from all the other sets; what it expected of each day, from all the other days."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from workbench.fit.filtering import filter_sessions
from workbench.fit.likelihood import SetReader, says_at_most
from workbench.fit.marginals import LEVELS, moments
from workbench.fit.reading import read_lift
from workbench.quantities import KG_PER_LB

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LoggedSession, LoggedSet
    from workbench.fit.learned import Learned
    from workbench.models.fatigue import State
    from workbench.quantities import FloatArray

__all__ = ["ExpectedDay", "ExpectedSet", "expectations"]

_BINS = 400
#: What counts as no rep at all, natural log.
_NONE = float(np.log(0.05))
#: Tails below this are looked at for what else could have been meant.
_FAR_OUT = 0.02
#: Least share of the variance that a day is taken to have explained.
_LITTLE = 0.2


@dataclass(frozen=True)
class ExpectedSet:
    """One set against what all others of the log let expect of it.

    Attributes
    ----------
    exercise : str
    date : datetime.date
    number : int
        Place among the day's sets of the exercise, from 1.
    logged : LoggedSet
    reps : tuple of float
        10, 50 and 90 % quantiles of the reps available, real-valued, [reps].
    tail : float
        Probability of something at least as far out, 0 to 1; small is surprising.
    better : bool
        Whether more was done, or felt, than expected.
    at_other : dict of (float, int) to float
        The same probability if load and reps had been others.
    """

    exercise: str
    date: datetime.date
    number: int
    logged: LoggedSet
    reps: tuple[float, float, float]
    tail: float
    better: bool
    at_other: dict[tuple[float, int], float]


@dataclass(frozen=True)
class ExpectedDay:
    """One day of one exercise against all other days.

    Attributes
    ----------
    exercise, date
    effect : float
        Strength of the day against the usual, natural log.
    z : float
        How far the day lies from what all other days let expect, in sds.
    usual : tuple of float
        10, 50 and 90 % quantiles of the usual 1RM at that date, kg, from the whole log.
    """

    exercise: str
    date: datetime.date
    effect: float
    z: float
    usual: tuple[float, float, float]


def expectations(learned: Learned) -> tuple[list[ExpectedSet], list[ExpectedDay]]:
    """Hold every set and every day against all others; both lists in order of exercise and date.

    For sets far out it is worked out too what the same set would be at other loads and reps that a slip of the pen or
    another unit could have turned into those written.
    """
    sets: list[ExpectedSet] = []
    days: list[ExpectedDay] = []
    fit = learned.fit
    for log, lift, weights, given in zip(fit.log.lifts, fit.lifts, fit.joint.lifts, fit.given, strict=True):
        reader = SetReader(lift.grid, fit.form, fit.parameters, fit.settings, course=lift.course)
        likelihoods, _ = read_lift(reader, log, given)
        dates = [session.date for session in log.sessions]
        filtered = filter_sessions(
            lift.grid, likelihoods, dates, lift.believed, fit.settings, today=fit.today, backward=True
        )
        assert filtered.usual is not None
        assert filtered.day_before is not None
        for index, (session, at) in enumerate(zip(log.sessions, log.places, strict=True)):
            before = filtered.day_before[index]
            after = before * likelihoods[index]
            after = after / np.maximum(after.sum(axis=2, keepdims=True), 1e-300) * weights[:, :, None]
            usual = np.tensordot(weights, filtered.usual[index], 2)
            day = np.tensordot(weights, before, 2)
            then = lift.grid.log_strength + lift.course.behind(session.date)
            days.append(_day(log.exercise, session.date, then, usual, day, after.sum(axis=(0, 1))))
            states = reader.states(session, given[at])
            sets.extend(_sets(log.exercise, session, states, reader, after.reshape(after.shape[0], -1)))
    return sets, days


def _day(
    exercise: str, date: datetime.date, points: FloatArray, usual: FloatArray, before: FloatArray, after: FloatArray
) -> ExpectedDay:
    (mean_before, var_before), (mean_after, var_after) = moments(points, before), moments(points, after)
    # By how much data move a normal distribution has this variance; a day that says little never counts as far out.
    z = (mean_after - mean_before) / np.sqrt(max(var_before - var_after, _LITTLE * var_before))
    cumulative = np.cumsum(usual) / usual.sum()
    levels = np.interp(LEVELS, cumulative, points)
    low, middle, high = (float(value) for value in np.exp(levels))
    return ExpectedDay(exercise, date, mean_after - moments(points, usual)[0], float(z), (low, middle, high))


def _sets(
    exercise: str,
    session: LoggedSession,
    states: Iterator[tuple[LoggedSet, State, FloatArray, FloatArray]],
    reader: SetReader,
    after: FloatArray,
) -> Iterator[ExpectedSet]:
    for number, (logged, state, log_available, log_sd) in enumerate(states, start=1):
        without = after / reader.of(logged, log_available, log_sd)
        spread = _Spread.of(log_available, without, reader.settings.set_log_sd)
        tail, better = _tail(logged, spread, reader)
        at_other = {}
        if tail < _FAR_OUT:
            for load, reps in _could_be(logged):
                other = replace(logged, load_kg=load, reps=reps)
                other_spread = _Spread.of(
                    reader.work(other, state, reader.course.behind(session.date))[0],
                    without,
                    reader.settings.set_log_sd,
                )
                at_other[load, reps] = _tail(other, other_spread, reader)[0]
        yield ExpectedSet(exercise, session.date, number, logged, spread.quantiles(), tail, better, at_other)


@dataclass(frozen=True)
class _Spread:
    """Expected log reps available, as weights of bins, and the scatter of a set about them."""

    log_reps: FloatArray
    weights: FloatArray
    log_sd: float

    @classmethod
    def of(cls, log_available: FloatArray, weights: FloatArray, log_sd: float) -> _Spread:
        values = np.broadcast_to(np.maximum(log_available, _NONE), weights.shape).ravel()
        edges = np.linspace(_NONE, max(float(values.max()), 1.0), _BINS + 1)
        heights, _ = np.histogram(values, edges, weights=weights.ravel())
        return cls(0.5 * (edges[1:] + edges[:-1]), heights / heights.sum(), log_sd)

    def at_least(self, reps: float) -> float:
        if reps <= 0:
            return 1.0
        return float(self.weights @ ndtr((self.log_reps - np.log(reps)) / self.log_sd))

    def quantiles(self) -> tuple[float, float, float]:
        fine = np.exp(np.linspace(self.log_reps[0], self.log_reps[-1] + 3 * self.log_sd, 200))
        below = 1.0 - ndtr((self.log_reps[:, None] - np.log(fine)) / self.log_sd).T @ self.weights
        low, middle, high = (float(value) for value in np.interp(LEVELS, below, fine))
        return low, middle, high


def _tail(logged: LoggedSet, spread: _Spread, reader: SetReader) -> tuple[float, bool]:
    reached = spread.at_least(logged.reps)
    if logged.ending == "completed":
        return reached, True
    if logged.ending == "failed":
        fewer, more = 1.0 - spread.at_least(logged.reps + 1), reached
        return min(2.0 * min(fewer, more), 1.0), more < fewer
    available = np.exp(spread.log_reps)
    inside = spread.weights * ndtr((spread.log_reps - np.log(logged.reps)) / spread.log_sd)
    if not inside.any():  # nobody does so many, whatever is said of them
        return 0.0, True
    inside = inside / inside.sum()

    def says(limit: float) -> float:
        log_sd = np.full_like(available, spread.log_sd)
        return float(inside @ says_at_most(limit, logged.reps, available, log_sd, reader.settings.reserve))

    fewer, more = says(logged.reserve + 0.5), 1.0 - (says(logged.reserve - 0.5) if logged.reserve >= 0.5 else 0.0)
    tail = min(2.0 * min(fewer, more), 1.0)
    return (reached, True) if reached < tail else (tail, more < fewer)


def _could_be(logged: LoggedSet) -> list[tuple[float, int]]:
    """List loads and reps that could have been meant: the other unit, a digit more or swapped, a plate, other reps."""
    load, reps = logged.load_kg, logged.reps
    loads = [load * KG_PER_LB, load / KG_PER_LB, load * 10, load / 10]
    loads += [load + step for step in (-50, -40, -20, -10, 10, 20, 40, 50) if load + step > 0]
    loads += [float(swapped) for swapped in _swapped(f"{load:g}")]
    counts = [int(swapped) for swapped in _swapped(str(reps))] + [reps + 10]
    counts += [reps - 10] if reps > 10 else []
    return [(other, reps) for other in loads] + [(load, other) for other in counts]


def _swapped(text: str) -> list[str]:
    """Swap neighbouring digits: ``"130"`` gives 310 and 103."""
    return [
        text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        for at in range(len(text) - 1)
        if text[at].isdigit() and text[at + 1].isdigit() and text[at] != text[at + 1]
    ]
