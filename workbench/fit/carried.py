"""What the other exercises of a session had left in a lifter's muscles when a set began.

An exercise is read on a grid of its own strength, endurance and recovery rate. What it got from the others hardly
depends on those, so the others stand in here as their likeliest selves, at every recovery rate of the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.fit.marginals import LogNormal, Marginal, moments
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import Carry, SharedFatigue
from workbench.quantities import FloatArray
from workbench.simulate.plan import overlap_of

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.fit.evidence_sets import LoggedSet, UsedLog
    from workbench.models.fatigue import FatigueForm

__all__ = ["CARRY_POINTS", "CarryOver", "GivenByOthers", "Likeliest", "given_by_others", "shares_muscles"]

GivenByOthers = tuple[FloatArray, ...]
"""For each exercise of a log, shape (sets, pools, rates): what others had left when each of its sets began."""

#: Where it is weighed how much exercises take from each other, in sds of its prior.
CARRY_POINTS: Final = (-1.5, 0.0, 1.5)
#: Half-width of the distribution in sds of the prior, and its number of points.
_REACH, _FINE = 4.0, 33


@dataclass(frozen=True)
class CarryOver:
    """What a log says of the carry-over between exercises, as a factor on the usual one.

    Attributes
    ----------
    prior : LogNormal
    learned : Marginal
        Of the natural log.
    sets : int
        Number of sets that began with something left by another exercise.
    with_lifts : array, shape (exercises, 2), [1]
        How far the natural logs of 1RM and endurance move with the factor.
    with_rate : float, [1]
        The same of the recovery rate.
    """

    prior: LogNormal
    learned: Marginal
    sets: int
    with_lifts: FloatArray
    with_rate: float

    @property
    def median(self) -> float:
        """The factor that the fit goes on with."""
        return float(self.learned.quantile(0.5))

    @property
    def sd(self) -> float:
        """Standard deviation of the factor."""
        _, variance = moments(np.exp(self.learned.log_points), self.learned.weights)
        return float(np.sqrt(variance))

    @classmethod
    def weighed(
        cls, prior: LogNormal, log_evidence: Sequence[float], middles: Sequence[FloatArray], sets: int
    ) -> CarryOver:
        """Weigh the carry-over by what was found at `CARRY_POINTS`.

        Parameters
        ----------
        prior : LogNormal
        log_evidence : sequence of float
            Natural log of the probability of the whole log. What others left is proportional to the factor, so that a
            parabola of the factor is put through it, and the prior to that.
        middles : sequence of array, shape (2 * exercises + 1,)
            Means of the natural logs of 1RM and endurance of each exercise, and of the recovery rate.
        sets : int
        """
        factors = np.exp(prior.log_mean + prior.log_sd * np.array(CARRY_POINTS))
        bend, slope, _ = np.polyfit(factors, log_evidence, 2)
        if bend > 0.0:  # an accident of three points, where the log says next to nothing
            bend, slope = 0.0, np.polyfit(factors, log_evidence, 1)[0]
        z = np.linspace(-_REACH, _REACH, _FINE)
        points = prior.log_mean + prior.log_sd * z
        fine = np.exp(points)
        log_weights = (bend * fine + slope) * fine - 0.5 * z**2
        learned = Marginal(points, np.exp(log_weights - log_weights.max()))
        moved = (middles[-1] - middles[0]) / (factors[-1] - factors[0])
        return cls(prior, learned, sets, moved[:-1].reshape(-1, 2), float(moved[-1]))


@dataclass(frozen=True)
class Likeliest:
    """The middle of what is believed of one exercise: log 1RM in ln kg, and endurance in 1/rep."""

    log_one_rm: float
    endurance: float


def shares_muscles(used: UsedLog) -> tuple[bool, ...]:
    """Whether an exercise ever follows another that shares a muscle with it on the same day, for each exercise."""
    overlap = overlap_of(tuple(lift.exercise for lift in used.lifts), used.catalogue)
    tired = [False] * len(used.lifts)
    for day in _days(used).values():
        before: set[int] = set()
        for lane, _, _, _ in day:
            tired[lane] |= any(other != lane and overlap[lane, other] > 0.0 for other in before)
            before.add(lane)
    return tuple(tired)


def given_by_others(
    used: UsedLog,
    likeliest: Sequence[Likeliest],
    log_rate: FloatArray,
    carry: Carry,
    form: FatigueForm,
    parameters: Any,
    curve: Curve = DEFAULT_CURVE,
) -> GivenByOthers:
    """Go through every day of a log set by set, with all exercises that share muscles.

    Parameters
    ----------
    used : UsedLog
    likeliest : sequence of Likeliest
        One for each exercise of the log.
    log_rate : array, shape (rates,)
        Natural log of the recovery rate.
    carry : Carry
    form, parameters : FatigueForm and its parameters
    curve : Curve

    Returns
    -------
    GivenByOthers
    """
    overlap = overlap_of(tuple(lift.exercise for lift in used.lifts), used.catalogue)
    rate = np.exp(log_rate)[:, np.newaxis]
    given = tuple(np.zeros((lift.set_count, form.pools, log_rate.size)) for lift in used.lifts)
    told = [(lift.told, np.array([logged.ending == "failed" for logged in lift.sets])) for lift in used.lifts]
    for lanes, places in _days_alike(used):
        # Who takes from whom: a row for each set that takes, a column for each that gives.
        taken = np.tril((overlap[np.ix_(lanes, lanes)] > 0.0) & (lanes[:, None] != lanes))
        gives, takes = taken.any(axis=0), taken.any(axis=1)
        together = {lane for lane, either in zip(lanes, gives | takes, strict=True) if either}
        shared = SharedFatigue(form, overlap, rate, parameters=parameters, carry=carry)
        for lane, sets, gave in zip(lanes, places, gives, strict=True):
            if lane not in together:
                continue
            log, failed = told[lane]
            state = shared.before(lane, log["start_s"][sets])
            got = shared.given()
            if got is not None:
                given[lane][sets] = np.stack([np.broadcast_to(pool, (rate.size, sets.size)).T for pool in got], axis=1)
            if gave:
                headroom = likeliest[lane].log_one_rm - np.log(log["load_kg"][sets])
                fresh = curve.fresh_reps(headroom, likeliest[lane].endurance)
                wanted = np.where(failed[sets], np.inf, log["reps"][sets])
                _, state = form.work(state, headroom, fresh, wanted, parameters=parameters)
            shared.after(lane, state, log["end_s"][sets])
    return given


def _days_alike(used: UsedLog) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Days whose sets are of the same exercises in the same order, worked together.

    Returns
    -------
    list of two arrays
        Number of the exercise of each set, shape (sets,), and places of these sets in the log of that exercise, shape
        (sets, days).
    """
    alike: dict[tuple[int, ...], list[list[int]]] = {}
    for day in _days(used).values():
        alike.setdefault(tuple(lane for lane, _, _, _ in day), []).append(
            [used.lifts[lane].first[session] + number for lane, session, number, _ in day]
        )
    return [(np.array(lanes), np.array(days).T) for lanes, days in alike.items()]


def _days(used: UsedLog) -> dict[datetime.date, list[tuple[int, int, int, LoggedSet]]]:
    """All sets of each day in order, with the numbers of their exercise, session and set."""
    days: dict[datetime.date, list[tuple[int, int, int, LoggedSet]]] = {}
    for lane, lift in enumerate(used.lifts):
        for number, session in enumerate(lift.sessions):
            day = days.setdefault(session.date, [])
            day.extend((lane, number, place, logged) for place, logged in enumerate(session.sets))
    for day in days.values():
        day.sort(key=lambda place: place[3].start_s)
    return days
