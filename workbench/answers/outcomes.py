"""What a simulated block comes to: one number a draw for each thing that a coach weighs schemes by.

Two blocks simulated on the same draws give numbers that can be subtracted draw by draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import chain, pairwise
from typing import Final

import numpy as np

from workbench.answers.volume import judged_sets
from workbench.gym.catalogue import MUSCLES
from workbench.lifter import Lifter
from workbench.models.volume import RULES
from workbench.quantities import FloatArray, Grade, InputError
from workbench.reference.sources import read_rows
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome
from workbench.simulate.set_outcome import SetOutcome

__all__ = [
    "MEASURES",
    "Measure",
    "Measured",
    "Response",
    "draw_response",
    "known_measure",
    "muscle_share",
    "response_for",
]


@dataclass(frozen=True)
class Measure:
    """One thing to weigh schemes by.

    Attributes
    ----------
    key, label, unit : str
    better : int
        1 where more is better for its own sake, -1 where less is, 0 where it is a matter of choice.
    meaning : str
    grade : str
        The weakest link it rests on.
    """

    key: str
    label: str
    unit: str
    better: int
    meaning: str
    grade: Grade = "derived"


#: The outcomes, in the order of tables. "hard_sets:MUSCLE" stands for any muscle of the catalogue.
MEASURES: Final[dict[str, Measure]] = {
    one.key: one
    for one in (
        Measure("all_reps", "all reps made", "1", 1, "1 where every prescribed rep of the block is made, else 0"),
        Measure("completed_reps", "completed reps", "reps", 1, "reps done in the whole block"),
        Measure("missed_reps", "missed reps", "reps", -1, "prescribed reps of the block that are tried and not made"),
        Measure("lowest_reserve", "lowest reps in reserve", "reps", 1, "fewest reps in reserve of any prescribed set"),
        Measure(
            "first_miss_week",
            "week of first miss",
            "week",
            1,
            "first week with a missed rep; after the last if none",
        ),
        Measure(
            "hard_sets",
            "hard sets a week",
            "sets/week",
            0,
            f"sets that end with at most {RULES.hard_reserve:g} reps in reserve, mean of the weeks",
            "assumed",
        ),
        Measure("tonnage", "tonnage", "kg", 0, "load times reps done, whole block"),
        Measure("intensity", "mean intensity", "% of 1RM", 0, "mean load of the reps done, of the believed 1RM"),
        Measure("minutes", "minutes a week", "min/week", -1, "duration of all sessions of a week, mean of the weeks"),
        Measure(
            "strength_change",
            "predicted strength change",
            "%",
            1,
            "1RM at the end of the block against its start, mean of the exercises; a rough prior, see draw_response",
            "assumed",
        ),
    )
}

_HARD: Final = "hard_sets:"
#: Measures that are sums over sets: what is counted of a session, and what each of it counts for.
_COUNTED: Final = {
    "completed_reps": ("done_in_all", None),
    "missed_reps": ("missed_in_all", None),
    "tonnage": ("done_in_all", "load_kg"),
}


def known_measure(key: str) -> Measure:
    """Return the measure behind a key; InputError with the known keys where there is none.

    >>> known_measure("tonnage").unit
    'kg'
    >>> known_measure("hard_sets:biceps").label
    'hard sets a week, biceps'
    """
    if key in MEASURES:
        return MEASURES[key]
    if key.startswith(_HARD):
        muscle = key.removeprefix(_HARD)
        if muscle in MUSCLES:
            return Measure(
                key,
                f"hard sets a week, {muscle}",
                "sets/week",
                0,
                f"hard sets of {muscle}: direct ones count 1, indirect ones by their share; mean of the weeks",
                "assumed",
            )
        known = ", ".join(MUSCLES)
        raise InputError(None, "outcome", f"no muscle is called {muscle!r}", f"use one of: {known}")
    known = ", ".join([*MEASURES, f"{_HARD}MUSCLE"])
    raise InputError(None, "outcome", f"{key!r} is not known", f"use one of: {known}")


#: Gain with 10 or more against 5 or fewer weekly sets of an exercise: effect size 0.18 (0.06 to 0.30) about a mean
#: of 0.915.
_SETS_LOW, _SETS_HIGH = 5.0, 10.0
_DOSE_MEAN, _DOSE_SD, _DOSE_BASE = 0.18, 0.061, 0.915
#: The table of gains gives a range that spans nearly all lifters: four standard deviations (assumed).
_RANGE_IN_SD: Final = 4.0


@dataclass(frozen=True)
class Response:
    """How a drawn lifter answers training: gain a week at a middle dose, and what more weekly sets add.

    Attributes
    ----------
    gain_per_week : array, shape (draws,), [1/week]
    dose : array, shape (draws,), [1]
        Relative difference of the gain between 10 and 5 weekly sets of an exercise.
    """

    gain_per_week: FloatArray
    dose: FloatArray


def draw_response(draws: int, rng: np.random.Generator, *, training_years: float | None = None) -> Response:
    """Draw how lifters answer training, from published rates and the published effect of weekly sets.

    A rough prior, for comparing schemes only: it knows weekly sets of an exercise (studied from about 5 to 10 and held
    level outside), not load, order or nearness to failure. Sources: latella_2020, latella_2024, ahtiainen_2016,
    ralston_2017; grade assumed. Gains by years of training: ``data/evidence/gain_rates.csv``.

    Parameters
    ----------
    draws : int
    rng : numpy.random.Generator
    training_years : float, [years]
        2 where not given.
    """
    years = 2.0 if training_years is None else training_years
    rows = read_rows("evidence", "gain_rates.csv")
    row = next((one for one in rows if years < float(one["years_to"])), rows[-1])
    middle, low, high = (float(row[key]) / 100.0 for key in ("percent_per_week", "low", "high"))
    first, second = rng.spawn(2)
    return Response(
        gain_per_week=middle + (high - low) / _RANGE_IN_SD * first.standard_normal(draws),
        dose=(_DOSE_MEAN + _DOSE_SD * second.standard_normal(draws)) / _DOSE_BASE,
    )


def response_for(lifter: Lifter, draws: int, seed: int) -> Response:
    """Draw how a lifter answers training; from a stream of its own, that shares no digits with the days."""
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(7,)))
    return draw_response(draws, rng, training_years=lifter.training_years)


class Measured:
    """The measures of one simulated block, each worked out when asked for.

    Parameters
    ----------
    outcome : Outcome
    response : Response, optional
        Needed for "strength_change" only.
    """

    def __init__(self, outcome: Outcome, response: Response | None = None) -> None:
        self.outcome, self.response = outcome, response
        self.weeks = outcome.plan.weeks
        self.count = outcome.sessions[0][0].available.shape[0]  # of draws

    def value(self, key: str) -> FloatArray:
        """Return one number a draw, shape (draws,); see `MEASURES`."""
        known_measure(key)
        if key.startswith(_HARD):
            return self._hard_sets(key.removeprefix(_HARD))
        return np.asarray(getattr(self, f"_{key}")(), dtype=np.float64)

    def mean(self, key: str) -> float:
        """Return the mean of a measure over the draws; reps are counted set by set, where no rule changed a set."""
        sessions = self.outcome.sessions
        if key == "all_reps":
            return self.outcome.chance_of_block()
        if key in _COUNTED and all(one.worked is not None for one in sessions):
            counts, weight = _COUNTED[key]
            totals = (getattr(sets, counts) for sets in sessions)
            planned = [one.planned for one in chain.from_iterable(sessions)]
            amounts = 1.0 if weight is None else np.stack([getattr(one, weight) for one in planned])
            return float(np.sum(np.concatenate(list(totals)) * amounts) / self.count)
        return float(np.mean(self.value(key)))

    @cached_property
    def _sets(self) -> list[tuple[SetOutcome, FloatArray]]:
        """Every set with the reps done, shape (draws, weeks)."""
        return [(one, one.reps_done) for one in chain.from_iterable(self.outcome.sessions)]

    def _all_reps(self) -> FloatArray:
        return np.asarray(self.outcome.made_by_session.all(axis=(0, 2)), dtype=np.float64)

    def _completed_reps(self) -> FloatArray:
        return _total([done.sum(axis=1) for _, done in self._sets])

    def _missed_reps(self) -> FloatArray:
        return np.asarray(self.outcome.missed.sum(axis=1))

    def _first_miss_week(self) -> FloatArray:
        missed = self.outcome.missed > 0
        return np.where(missed.any(axis=1), missed.argmax(axis=1) + 1, self.weeks + 1)

    def _lowest_reserve(self) -> FloatArray:
        lowest = np.min([sets.lowest_reserve.min(axis=1) for sets in self.outcome.sessions], axis=0)
        return np.where(np.isfinite(lowest), lowest, np.nan)

    def _hard_sets(self, muscle: str | None = None) -> FloatArray:
        total = np.zeros(self.count)
        for one, weight in chain.from_iterable(judged_sets(sets) for sets in self.outcome.sessions):
            share = 1.0 if muscle is None else muscle_share(self.outcome.plan, one.planned.exercise, muscle)
            if share:
                total += weight * share * one.ends_within(RULES.hard_reserve).mean(axis=1)
        return total

    def _tonnage(self) -> FloatArray:
        return _total([_each_draw(done, one.lifted_kg) for one, done in self._sets])

    def _intensity(self) -> FloatArray:
        lifted = _total([_each_draw(done, one.lifted_fraction) for one, done in self._sets])
        reps = self._completed_reps()
        return np.asarray(100.0 * np.divide(lifted, reps, out=np.full(self.count, np.nan), where=reps > 0))

    def _minutes(self) -> FloatArray:
        week = sum(float(np.mean(session.duration_s)) for session in self.outcome.plan.sessions)
        spared = np.zeros(self.count)  # a set that a rule leaves out spares its reps and the rest before it
        for before, one in chain.from_iterable(map(pairwise, self.outcome.sessions)):
            if one.left_out.any():
                spared += one.left_out @ (one.planned.end_s - before.planned.end_s) / self.weeks
        return (week - spared) / 60.0

    def _strength_change(self) -> FloatArray:
        if self.response is None:
            raise ValueError("strength_change needs a response; see draw_response")
        sets_a_week = np.zeros((len(self.outcome.plan.exercises), self.weeks))
        for one, _ in self._sets:
            if not one.planned.drop:
                sets_a_week[one.planned.lane] += one.planned.active - one.left_out.mean(axis=0)
        place = np.clip((sets_a_week - _SETS_LOW) / (_SETS_HIGH - _SETS_LOW), 0.0, 1.0) - 0.5
        place = np.where(sets_a_week > 0, place, np.nan)
        trained = (sets_a_week > 0).mean()
        dose = 1.0 + self.response.dose * float(np.nanmean(place))
        return np.asarray(100.0 * np.expm1(self.response.gain_per_week * dose * self.weeks * trained))


def muscle_share(plan: Plan, exercise: str, muscle: str) -> float:
    """Return the share of a muscle in an exercise of a plan; 0 where it has none."""
    parts = plan.catalogue.exercise(exercise).muscles
    return next((part.share for part in parts if part.muscle == muscle), 0.0)


def _each_draw(reps: FloatArray, amounts: FloatArray) -> FloatArray:
    """Sum reps, shape (draws, weeks), times an amount of each week, shape (weeks,) or (draws, weeks)."""
    return reps @ amounts if amounts.ndim == 1 else np.einsum("dw,dw->d", reps, amounts)


def _total(parts: list[FloatArray]) -> FloatArray:
    return np.asarray(np.sum(parts, axis=0), dtype=np.float64)
