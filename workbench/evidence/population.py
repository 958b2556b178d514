"""What a fatigue form predicts for published rows: a small population of lifters doing each run of sets.

Published means hide lifters who differ. Where reps are capped the difference matters: those who always reach the cap
hide the losses of those who do not. So each run is done by the same fixed set of lifters who differ in endurance,
recovery, day and set, and the mean is taken over whole reps.

A lifter with a capacity of 7.6 completes 7, and capacity itself scatters from set to set. So the reps expected of one
lifter are the sum, over the reps up to the cap, of the chance that each is made; without a cap, half a rep below the
capacity. A load that someone tested as a repetition maximum or 1RM is the last one made: the true maximum lies up to
one step of load above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from scipy import special, stats

from workbench.evidence.curves import HALF_REP
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm, run_sets
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import FloatArray
from workbench.reference.parameters import endurance_prior, noise, recovery_prior

__all__ = [
    "LEGS",
    "LOAD_STEP",
    "Lifters",
    "Run",
    "Runs",
    "expected_reps",
    "lifter_recovery_spread",
    "lifters",
    "needs_endurance",
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


@dataclass(frozen=True)
class Lifters:
    """Standard scores of a fixed population (``step`` from 0 to 1), each of shape (lifters,)."""

    endurance: FloatArray
    recovery: FloatArray
    day: FloatArray
    step: FloatArray


def lifters(count: int = 12, seed: int = 20) -> Lifters:
    """Spread ``count`` lifters evenly over the standard scores (scrambled Sobol points, seeded)."""
    points = stats.qmc.Sobol(4, rng=np.random.default_rng(seed)).random(2 ** int(np.ceil(np.log2(count))))
    points = np.clip(points[:count], 1e-3, 1.0 - 1e-3)
    scores = special.ndtri(points[:, :3].T)
    endurance, recovery, day = (score - score.mean() for score in scores)
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
    recovery_sd: float | None = None,
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
    recovery_sd : float, optional
        Log sd of recovery between lifters; the fitted one if left out.

    Returns
    -------
    array, shape (sets, runs, nodes, lifters), [reps]
    """
    spread = recovery_prior().log_sd_between_lifters if recovery_sd is None else recovery_sd
    rate = np.exp(log_recovery[:, :, None] + spread * people.recovery)
    own = runs.endurance_sd[:, None, None] * people.endurance
    prior = np.exp(runs.log_endurance[:, None, None] + (runs.group_sd[:, None] * endurance_score)[:, :, None] + own)
    known_load = ~np.isnan(runs.headroom)[:, None, None]
    known_first = ~np.isnan(runs.first)[:, None, None]
    day = noise().day_sd * people.day
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
    sets = ((rest, headroom + runs.lighter[:, index, None, None], wanted) for index in range(_MOST_SETS))
    return np.stack(list(run_sets(sets, endurance, rate, form=form, parameters=parameters)))


def row_values(runs: Runs, capacity: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what each row would have reported, and the scale of its misfit.

    Parameters
    ----------
    runs
    capacity : array, shape (sets, runs, nodes, lifters)

    Returns
    -------
    value, scale : arrays, shape (rows, nodes)
        In the unit of the row. ``scale`` is what a relative misfit is relative to.
    """
    whole = expected_reps(capacity, runs.cap[None, :, None, None]).mean(axis=-1)
    values, scales = [], []
    for row, which, reference in zip(runs.rows, runs.of_row, runs.reference, strict=True):
        reps = whole[:, which].mean(axis=1)
        told, last = reps[row.set_from - 1 : row.set_to], reps[row.set_to - 1]
        scale = None
        if row.family == "submaximal":
            value = _made(capacity[row.set_to - 1, which[0]], row.reps_wanted)
            scale = np.ones_like(value)
        elif row.family == "ratio of totals":
            value = told.sum(axis=0) / np.maximum(whole[row.set_from - 1 : row.set_to, reference].sum(axis=0), 0.1)
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
    return np.array(values), np.array(scales)


def expected_reps(capacity: FloatArray, cap: FloatArray) -> FloatArray:
    """Whole reps expected of lifters of a given capacity who stop at ``cap``.

    Parameters
    ----------
    capacity : array, [reps]
    cap : array that broadcasts, [reps]; infinite where sets go to failure

    Returns
    -------
    array, broadcast shape, [reps]

    >>> expected_reps(np.array([7.6, 20.0, 0.2]), np.array([np.inf, 10.0, np.inf])).round(2).tolist()
    [7.1, 10.0, 0.0]
    """
    capacity, cap = np.broadcast_arrays(capacity, cap)
    reps = np.array(np.maximum(capacity - HALF_REP, 0.0))
    capped = np.isfinite(cap)
    if capped.any():
        some, most = capacity[capped], cap[capped]
        scatter = np.maximum(noise().set_log_sd * some, _LEAST_SCATTER)
        total = np.zeros_like(some)
        for rep in range(1, int(most.max()) + 1):
            total += np.where(rep <= most, special.ndtr((some - rep) / scatter), 0.0)
        reps[capped] = total
    return reps


def _made(capacity: FloatArray, wanted: float) -> FloatArray:
    """Share of lifters whose capacity reaches ``wanted``, smooth by the scatter of single sets; shape (nodes,)."""
    with np.errstate(divide="ignore"):
        score = np.log(np.maximum(capacity, 1e-6) / wanted) / noise().set_log_sd
    return np.asarray(special.ndtr(score).mean(axis=-1))


def lifter_recovery_spread(
    rows: Sequence[SetRow], form: FatigueForm, parameters: Any, values: dict[str, float]
) -> float:
    """Log sd of recovery between the lifters of a group, at which the sds of later sets are as published.

    Each row with a printed sd of reps votes with its number of people; the log ratio of the two sds is kept least.
    """
    families = {"set reps", "total", "capped total"}
    telling = [row for row in rows if row.family in families and row.sd > 1.0]
    runs, people = Runs(telling), lifters(64)
    mean = np.log(values["female"]) * runs.female + np.log(values["legs"]) * runs.legs
    published = np.array([row.sd for row in telling])
    weight = np.array([row.n for row in telling])
    misses = []
    options = np.linspace(0.1, 1.5, 29)
    for option in options:
        capacity = run_reps(runs, people, form, parameters, mean[:, None], np.zeros(1), recovery_sd=float(option))
        whole = expected_reps(capacity, runs.cap[None, :, None, None])
        sds = []
        for row, which in zip(telling, runs.of_row, strict=True):
            reps = whole[row.set_from - 1 : row.set_to, which, 0].mean(axis=1)
            scatter = noise().set_log_sd * reps.mean(axis=-1)
            sds.append(np.sqrt(reps.sum(axis=0).var() + np.sum(scatter**2)))
        misses.append(np.average(np.log(np.array(sds) / published) ** 2, weights=weight))
    return float(options[int(np.argmin(misses))])
