"""What a fatigue form predicts for published rows: a small population of lifters doing each run of sets.

Published means hide lifters who differ. Where reps are capped the difference matters: those who always reach the cap
hide the losses of those who do not. So each run is done by the same fixed set of lifters who differ in endurance,
recovery, 1RM, day and set; mean and spread are taken over whole reps. Where a load is a percentage of 1RM, the 1RM is
known no better than a test on another day tells; where it was found as a repetition maximum, everyone can do it.

A lifter with a capacity of 7.6 completes 7, and capacity itself scatters from set to set. So the reps expected of one
lifter are the sum, over the reps up to the cap, of the chance that each is made; without a cap, half a rep below the
capacity. A load that someone tested as a repetition maximum or 1RM is the last one made: the true maximum lies up to
one step of load above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
import scipy
from scipy import special

from workbench.evidence.curves import HALF_REP, WHOLE_REPS
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm, run_sets
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import FloatArray, Numbers
from workbench.reference.parameters import endurance_prior, noise, one_rm_spread, recovery_prior

__all__ = [
    "LEGS",
    "LOAD_STEP",
    "SPREAD_FAMILIES",
    "Between",
    "Lifters",
    "Run",
    "Runs",
    "expected_reps",
    "lifters",
    "needs_endurance",
    "reps_moments",
    "row_values",
    "run_reps",
    "women_share",
]

#: Classes in which many muscles share the work of the legs, whose recovery may differ from the rest.
LEGS: Final = ("squat", "leg press", "hinge")
#: Step of load in a test of a maximum, as a share of the load (assumed).
LOAD_STEP: Final = 0.025
#: Log sd that unknown rests add to the recovery of a mean over many studies (assumed).
_UNKNOWN_RESTS: Final = 0.25
#: Scatter of a set's capacity, reps, however small the capacity.
_LEAST_SCATTER: Final = 0.15
_MOST_SETS: Final = 6
#: Step of the capacities at which capped reps are tabulated, reps.
_GRID_STEP: Final = 0.02
#: Families whose rows tell of the reps of one person, so that an sd is one between people.
SPREAD_FAMILIES: Final = ("set reps", "total", "capped total")


@dataclass(frozen=True)
class Between:
    """How recovery differs between the lifters of a group: ``ln rate = mean + log_sd (tie e + sqrt(1 - tie**2) z)``.

    With e the standard score of log endurance, and z one of its own.

    Attributes
    ----------
    log_sd : float or array, shape (draws,)
        Of the recovery rate.
    tie : float or array, shape (draws,)
        Correlation of log recovery with log endurance: above 0, who does many fresh reps loses more of them.
    """

    log_sd: Numbers
    tie: Numbers = 0.0

    def log_rate(self, people: Lifters) -> FloatArray:
        """Log recovery rate about the group's median, shape (lifters,) or (draws, lifters)."""
        log_sd, tie = (np.asarray(value, dtype=np.float64)[..., None] for value in (self.log_sd, self.tie))
        return np.asarray(log_sd * (tie * people.endurance + np.sqrt(1.0 - tie**2) * people.recovery))


@dataclass(frozen=True)
class Lifters:
    """Standard scores of a fixed population (``step`` from 0 to 1), each of shape (lifters,).

    ``day`` is the score of what is not known of strength: of the day, or of test and day together.
    """

    endurance: FloatArray
    recovery: FloatArray
    day: FloatArray
    step: FloatArray


def lifters(count: int = 32, seed: int = 2) -> Lifters:
    """Spread ``count`` lifters evenly over the standard scores (scrambled Sobol points, seeded)."""
    points = scipy.stats.qmc.Sobol(4, rng=np.random.default_rng(seed)).random(2 ** int(np.ceil(np.log2(count))))
    points = np.clip(points[:count], 1e-3, 1.0 - 1e-3)
    scores = special.ndtri(points[:, :3])
    endurance, recovery, day = ((scores - scores.mean(axis=0)) / scores.std(axis=0)).T
    return Lifters(endurance, recovery, day, points[:, 3])


class Run(NamedTuple):
    """What one group does in one run of sets: the columns of `workbench.evidence.read.SetRow`, with a single rest.

    Runs of equal values are the same run: of two tuples, unlike two NaN, that which is unknown in both counts as equal.
    """

    group: str
    sex: str
    endurance_class: str
    load_fractions: tuple[float, ...] | None
    rep_max: float
    load_cut: float
    first_set: float
    rest_s: float
    cap: float
    reps_wanted: float
    groups: float
    training: str

    @classmethod
    def of(cls, row: SetRow, rest_s: float) -> Run:
        """Return the run of a row with one of its rests."""
        same = {name: getattr(row, name) for name in cls._fields if name not in {"group", "rest_s"}}
        return cls(group=f"{row.source}|{row.group}", rest_s=rest_s, **same)

    @property
    def fractions(self) -> list[float]:
        """Load of each set over 1RM, the last known one going on; NaN where none is known."""
        known = self.load_fractions or (np.nan,)
        return [*known, *[known[-1]] * _MOST_SETS][:_MOST_SETS]


class Runs:
    """The distinct runs of sets behind a list of rows, as arrays with the runs leading."""

    def __init__(self, rows: Sequence[SetRow]) -> None:
        self.rows = tuple(rows)
        numbers: dict[Run, int] = {}

        def number(row: SetRow, rest_s: float) -> int:
            return numbers.setdefault(Run.of(row, rest_s), len(numbers))

        self.of_row = [[number(row, rest) for rest in row.rests_s] for row in rows]
        rests = [row.reference_rest_s for row in rows]
        self.reference = [None if np.isnan(rest) else number(row, rest) for row, rest in zip(rows, rests, strict=True)]
        runs = list(numbers)
        self.count = len(runs)
        fractions = np.array([run.fractions for run in runs])
        kept = np.array([[1.0 - run.load_cut] * (_MOST_SETS - 1) for run in runs])
        kept = np.cumprod(np.column_stack([np.ones(self.count), kept]), 1)
        first = np.where(np.isnan(fractions[:, 0]), 1.0, fractions[:, 0])
        # Log of the first load over the load of each set, and headroom of the first load where 1RM is known.
        self.lighter = np.log(first[:, None]) - np.log(np.where(np.isnan(fractions), 1.0, fractions) * kept)
        self.headroom = -np.log(fractions[:, 0])
        self.first = np.array([run.rep_max if np.isnan(run.first_set) else run.first_set for run in runs])
        self.rest = np.array([run.rest_s for run in runs])
        self.cap = np.array([run.cap for run in runs])
        self.wanted = np.array([min(run.cap, run.reps_wanted) for run in runs])
        self.groups = np.array([run.groups for run in runs])
        self.sets = max(row.set_to for row in rows)
        self.one_rm_sd = np.array([one_rm_spread(run.training) for run in runs])
        self.legs = np.array([float(run.endurance_class in LEGS) for run in runs])
        self.female = np.array([women_share(run.sex) for run in runs])
        priors = [endurance_prior(run.endurance_class) for run in runs]
        self.log_endurance = np.log([prior.median for prior in priors])
        self.endurance_sd = np.array([prior.log_sd_between_lifters for prior in priors])
        self.group_sd = np.array([np.hypot(prior.log_sd_between_groups, prior.log_sd_of_median) for prior in priors])

    def group_spread(self, group_sd: float) -> FloatArray:
        """Log sd of the recovery behind each run, shape (runs,): that of one group, or of a mean over many."""
        pooled = np.sqrt(group_sd**2 / self.groups + _UNKNOWN_RESTS**2)
        return np.where(self.groups > 1, pooled, group_sd)


def women_share(sex: str | None) -> float:
    """Return the share of women in a group; 0.34 where not stated, as over 269 studies (nuzzo_2024_reps)."""
    known = {"female": 1.0, "f": 1.0, "women": 1.0, "male": 0.0, "m": 0.0, "men": 0.0}
    return known.get(str(sex).lower(), 0.34)


def needs_endurance(row: SetRow) -> bool:
    """Whether the group's endurance matters to a row beyond what its first set tells."""
    return row.load_cut > 0.0 or (np.isnan(row.first_set) and row.load_fractions is not None)


def run_reps(
    runs: Runs,
    people: Lifters,
    form: FatigueForm,
    parameters: Any,
    log_recovery: FloatArray,
    endurance_score: FloatArray,
    between: Between | None = None,
) -> FloatArray:
    """Capacity of every lifter in every set of every run.

    Parameters
    ----------
    runs, people
    form, parameters
        Each parameter a float.
    log_recovery : array, shape (runs, nodes)
        Log recovery rate of the group's median lifter.
    endurance_score : array, shape (nodes,)
        Standard score of the group's endurance, used where its first set is unknown.
    between : Between, optional
        How recovery differs between the lifters of a group; as fitted if left out.

    Returns
    -------
    array, shape (sets, runs, nodes, lifters), [reps]
    """
    if between is None:
        between = Between(recovery_prior().log_sd_between_lifters, recovery_prior().tie)
    rate = np.exp(log_recovery[:, :, None] + between.log_rate(people))
    own = runs.endurance_sd[:, None, None] * people.endurance
    prior = np.exp(runs.log_endurance[:, None, None] + (runs.group_sd[:, None] * endurance_score)[:, :, None] + own)
    known_load = ~np.isnan(runs.headroom)[:, None, None]
    known_first = ~np.isnan(runs.first)[:, None, None]
    # A percentage of 1RM is known as the 1RM is; a load that each one found by trying, but for the day.
    day = np.where(known_load, runs.one_rm_sd[:, None, None], noise().day_sd) * people.day
    # Beyond the first rep: the group's mean where its first set is known.
    beyond = np.where(known_first, runs.first[:, None, None] - 1.0 + HALF_REP, 0.0)
    headroom_known = np.where(known_load, runs.headroom[:, None, None], 0.0)
    spread_out = np.exp(-own) / np.mean(np.exp(-own), axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_first = DEFAULT_CURVE.spent(headroom_known) / (beyond * spread_out)
    endurance = np.where(known_load & known_first & (headroom_known > 0.0), from_first, prior)
    # A load set as each lifter's own repetition maximum: everyone has the same reps, whatever the endurance.
    tested = ~known_load & np.isfinite(runs.wanted)[:, None, None]
    reps = 1.0 + np.where(tested, beyond - HALF_REP, beyond)
    headroom = np.where(known_load, headroom_known, DEFAULT_CURVE.headroom_for(reps, endurance))
    single = known_load & (headroom_known <= 1e-9)
    headroom = headroom + np.where(tested | single, LOAD_STEP * people.step, day)
    shape = np.broadcast_shapes(rate.shape, endurance.shape)
    rest, wanted = runs.rest[:, None, None], np.broadcast_to(runs.wanted[:, None, None], shape)
    sets = ((rest, headroom + runs.lighter[:, index, None, None], wanted) for index in range(runs.sets))
    return np.stack(list(run_sets(sets, endurance, rate, form=form, parameters=parameters)))


def row_values(runs: Runs, capacity: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what each row would have reported, the scale of its misfit, and the sd between people.

    Parameters
    ----------
    runs
    capacity : array, shape (sets, runs, nodes, lifters)

    Returns
    -------
    value, scale, sd : arrays, shape (rows, nodes)
        In the unit of the row. ``scale`` is what a relative misfit is relative to. ``sd`` is NaN where the family tells
        of no reps of one person.
    """
    mean, variance = reps_moments(capacity, runs.cap[None, :, None, None])
    whole = mean.mean(axis=-1)
    values, scales, sds = [], [], []
    for row, which, reference in zip(runs.rows, runs.of_row, runs.reference, strict=True):
        sets = slice(row.set_from - 1, row.set_to)
        reps = whole[:, which].mean(axis=1)
        told, last = reps[sets], reps[row.set_to - 1]
        scale = None
        if row.family == "submaximal":
            value = _made(capacity[row.set_to - 1, which[0]], row.reps_wanted)
            scale = np.ones_like(value)
        elif row.family == "ratio of totals":
            value = told.sum(axis=0) / np.maximum(whole[sets, reference].sum(axis=0), 0.1)
        elif row.family == "percent of set 1":
            value = 100.0 * last / reps[0]
        elif row.family == "load cut":
            # Whether the mean counts the first set is not stated: halfway between both readings.
            value = 0.5 * (told.mean(axis=0) + told[1:].mean(axis=0))
        elif row.family in {"total", "capped total"}:
            value = told.sum(axis=0)
            if np.isfinite(row.cap):
                scale = np.minimum(value, np.maximum(row.cap * row.set_to - value, 0.5))
        else:
            value = last
        values.append(value)
        scales.append(value if scale is None else scale)
        if row.family in SPREAD_FAMILIES:
            people = mean[sets, which].mean(axis=1).sum(axis=0).var(axis=-1)
            sds.append(np.sqrt(people + variance[sets, which].mean(axis=1).sum(axis=0).mean(axis=-1)))
        else:
            sds.append(np.full_like(value, np.nan))
    return np.array(values), np.array(scales), np.array(sds)


def reps_moments(capacity: FloatArray, cap: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and variance, over sets, of the whole reps of lifters of a given capacity who stop at ``cap``.

    Parameters
    ----------
    capacity : array, [reps]
    cap : array that broadcasts, [reps]; infinite where sets go to failure

    Returns
    -------
    mean, variance : arrays, broadcast shape, [reps] and [reps**2]

    >>> mean, variance = reps_moments(np.array([7.6, 20.0, 0.2]), np.array([np.inf, 10.0, np.inf]))
    >>> mean.round(2).tolist(), variance.round(2).tolist()
    ([7.1, 10.0, 0.0], [0.37, 0.0, 0.11])
    """
    capacity, cap = np.broadcast_arrays(capacity, cap)
    mean = np.array(np.maximum(capacity - HALF_REP, 0.0))
    variance = np.array(_scatter(capacity) ** 2 + WHOLE_REPS)
    for most in np.unique(cap[np.isfinite(cap)]):
        capped = cap == most
        table = _capped_moments(float(most), noise().set_log_sd)
        place = np.clip(capacity[capped] / _GRID_STEP, 0.0, table.shape[1] - 1.001)
        below = place.astype(np.intp)
        share = place - below
        mean[capped], variance[capped] = table[:, below] * (1.0 - share) + table[:, below + 1] * share
    return mean, variance


def expected_reps(capacity: FloatArray, cap: FloatArray) -> FloatArray:
    """Whole reps expected of lifters of a given capacity who stop at ``cap``: the mean of `reps_moments`.

    >>> expected_reps(np.array([7.6, 20.0, 0.2]), np.array([np.inf, 10.0, np.inf])).round(2).tolist()
    [7.1, 10.0, 0.0]
    """
    return reps_moments(capacity, cap)[0]


def _scatter(capacity: FloatArray) -> FloatArray:
    """Sd of the capacity of single sets, reps."""
    return np.asarray(np.maximum(noise().set_log_sd * capacity, _LEAST_SCATTER))


@cache
def _capped_moments(cap: float, set_log_sd: float) -> FloatArray:
    """Mean and variance of whole reps up to ``cap``, shape (2, capacities): sums over the chance of each rep."""
    # Beyond five sd above the cap every set reaches it.
    grid = np.arange(0.0, cap / max(1.0 - 5.0 * set_log_sd, 0.1) + 2.0, _GRID_STEP)
    rep = np.arange(1, int(cap) + 1)[:, None]
    chance = special.ndtr((grid - rep) / np.maximum(set_log_sd * grid, _LEAST_SCATTER))
    mean = chance.sum(axis=0)
    return np.stack([mean, np.maximum(((2 * rep - 1) * chance).sum(axis=0) - mean**2, 0.0)])


def _made(capacity: FloatArray, wanted: float) -> FloatArray:
    """Share of lifters whose capacity reaches ``wanted``, smooth by the scatter of single sets; shape (nodes,)."""
    with np.errstate(divide="ignore"):
        score = np.log(np.maximum(capacity, 1e-6) / wanted) / noise().set_log_sd
    return np.asarray(special.ndtr(score).mean(axis=-1))
