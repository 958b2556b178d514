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
from typing import Any, Final

import numpy as np
from scipy import special, stats

from workbench.evidence.curves import HALF_REP
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm
from workbench.parameters import endurance_prior, noise, one_rm_spread, recovery_prior
from workbench.quantities import FloatArray, Numbers

__all__ = [
    "LEGS",
    "LOAD_STEP",
    "SPREAD_FAMILIES",
    "Between",
    "Lifters",
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
    """How recovery differs between the lifters of a group.

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
    points = stats.qmc.Sobol(4, rng=np.random.default_rng(seed)).random(2 ** int(np.ceil(np.log2(count))))
    points = np.clip(points[:count], 1e-3, 1.0 - 1e-3)
    scores = special.ndtri(points[:, :3])
    scores = (scores - scores.mean(axis=0)) / scores.std(axis=0)
    return Lifters(scores[:, 0], scores[:, 1], scores[:, 2], points[:, 3])


class Runs:
    """The distinct runs of sets behind a list of rows, as arrays with the runs leading."""

    def group_spread(self, group_sd: float) -> FloatArray:
        """Log sd of the recovery behind each run, shape (runs,): that of one group, or of a mean over many."""
        pooled = np.sqrt(group_sd**2 / self.groups + _UNKNOWN_RESTS**2)
        return np.where(self.groups > 1, pooled, group_sd)

    def __init__(self, rows: Sequence[SetRow]) -> None:
        self.rows = tuple(rows)
        specs: dict[tuple[Any, ...], int] = {}
        self.of_row: list[list[int]] = []
        self.reference: list[int | None] = []
        for row in self.rows:
            self.of_row.append([specs.setdefault(_spec(row, rest), len(specs)) for rest in row.rests_s])
            self.reference.append(
                None
                if np.isnan(row.reference_rest_s)
                else specs.setdefault(_spec(row, row.reference_rest_s), len(specs))
            )
        keys = list(specs)
        self.count = len(keys)
        self.group = [key[0] for key in keys]
        self.sex = [key[1] for key in keys]
        self.classes = [key[2] for key in keys]
        fractions = np.full((self.count, _MOST_SETS), np.nan)
        for index, key in enumerate(keys):
            known = key[3]
            if known is not None:
                loads = [*known, *[known[-1]] * _MOST_SETS][:_MOST_SETS]
                fractions[index] = loads
        kept = np.cumprod(
            np.column_stack([np.ones(self.count), np.tile([[1 - k[5]] for k in keys], _MOST_SETS - 1)]), 1
        )
        first = np.where(np.isnan(fractions[:, 0]), 1.0, fractions[:, 0])
        # Log of the first load over the load of each set, and headroom of the first load where 1RM is known.
        self.lighter = np.log(first[:, None]) - np.log(np.where(np.isnan(fractions), 1.0, fractions) * kept)
        self.headroom = -np.log(fractions[:, 0])
        self.first = np.array([key[6] if not np.isnan(key[6]) else key[4] for key in keys])
        self.rest = np.array([key[7] for key in keys])
        self.cap = np.array([key[8] for key in keys])
        self.wanted = np.array([min(key[8], key[9]) for key in keys])
        self.groups = np.array([key[10] for key in keys])
        self.sets = max(row.set_to for row in self.rows)
        self.one_rm_sd = np.array([one_rm_spread(key[11]) for key in keys])
        self.legs = np.array([1.0 if name in LEGS else 0.0 for name in self.classes])
        self.female = np.array([women_share(sex) for sex in self.sex])
        priors = [endurance_prior(name) for name in self.classes]
        self.log_endurance = np.log([prior.median for prior in priors])
        self.endurance_sd = np.array([prior.log_sd_between_lifters for prior in priors])
        self.group_sd = np.array([np.hypot(prior.log_sd_between_groups, prior.log_sd_of_median) for prior in priors])


def women_share(sex: str | None) -> float:
    """Return the share of women in a group; 0.34 where not stated, as over 269 studies (nuzzo_2024_reps)."""
    known = {"female": 1.0, "f": 1.0, "women": 1.0, "male": 0.0, "m": 0.0, "men": 0.0}
    return known.get(str(sex).lower(), 0.34)


def needs_endurance(row: SetRow) -> bool:
    """Whether the group's endurance matters to a row beyond what its first set tells."""
    return row.load_cut > 0.0 or (np.isnan(row.first_set) and row.load_fractions is not None)


def _spec(row: SetRow, rest: float) -> tuple[Any, ...]:
    return (
        f"{row.source}|{row.group}",
        row.sex,
        row.endurance_class,
        row.load_fractions,
        row.rep_max,
        row.load_cut,
        row.first_set,
        rest,
        row.cap,
        row.reps_wanted,
        row.groups,
        row.training,
    )


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
    scatter = noise()
    if between is None:
        between = Between(recovery_prior().log_sd_between_lifters, recovery_prior().tie)
    rate = np.exp(log_recovery[:, :, None] + between.log_rate(people))
    own = runs.endurance_sd[:, None, None] * people.endurance
    prior = np.exp(runs.log_endurance[:, None, None] + (runs.group_sd[:, None] * endurance_score)[:, :, None] + own)
    known_load = ~np.isnan(runs.headroom)[:, None, None]
    known_first = ~np.isnan(runs.first)[:, None, None]
    # A percentage of 1RM is known as the 1RM is; a load that each one found by trying, but for the day.
    day = np.where(known_load, runs.one_rm_sd[:, None, None], scatter.day_sd) * people.day
    # Beyond the first rep: the group's mean where its first set is known.
    beyond = np.where(known_first, runs.first[:, None, None] - 1.0 + HALF_REP, 0.0)
    headroom_known = np.where(known_load, runs.headroom[:, None, None], 0.0)
    spread_out = np.exp(-own) / np.mean(np.exp(-own), axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_first = headroom_known / (beyond * spread_out)
    endurance = np.where(known_load & known_first & (headroom_known > 0.0), from_first, prior)
    # A load set as each lifter's own repetition maximum: everyone has the same reps, whatever the endurance.
    tested = ~known_load & np.isfinite(runs.wanted)[:, None, None]
    headroom = np.where(known_load, headroom_known, endurance * np.where(tested, beyond - HALF_REP, beyond))
    single = known_load & (headroom_known <= 1e-9)
    headroom = headroom + np.where(tested | single, LOAD_STEP * people.step, 0.0) + np.where(tested | single, 0.0, day)
    shape = np.broadcast_shapes(rate.shape, endurance.shape)
    state = form.fresh(shape)
    rest = runs.rest[:, None, None]
    wanted = np.broadcast_to(runs.wanted[:, None, None], shape)
    out = []
    for index in range(runs.sets):
        if index:
            state = form.rest(state, rest, rate, parameters=parameters)
        room = headroom + runs.lighter[:, index, None, None]
        fresh = np.maximum(1.0 + room / endurance, 0.0)
        available, state = form.work(state, room, fresh, wanted, parameters=parameters)
        out.append(np.broadcast_to(available, shape))
    return np.stack(out)


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
    for index, row in enumerate(runs.rows):
        which = runs.of_row[index]
        sets = slice(row.set_from - 1, row.set_to)
        reps = whole[:, which].mean(axis=1)
        scale = None
        if row.family == "submaximal":
            value = _made(capacity[row.set_to - 1, which[0]], row.reps_wanted)
            scale = np.ones_like(value)
        elif row.family == "ratio of totals":
            reference = runs.reference[index]
            value = reps[sets].sum(axis=0) / np.maximum(whole[sets, reference].sum(axis=0), 0.1)
        elif row.family == "percent of set 1":
            value = 100.0 * reps[row.set_to - 1] / reps[0]
        elif row.family == "load cut":
            # Whether the mean counts the first set is not stated: halfway between both readings.
            value = 0.5 * (reps[sets].mean(axis=0) + reps[row.set_from : row.set_to].mean(axis=0))
        elif row.family in {"total", "capped total"}:
            value = reps[sets].sum(axis=0)
            scale = value if np.isinf(row.cap) else np.minimum(value, np.maximum(row.cap * row.set_to - value, 0.5))
        else:
            value = reps[row.set_to - 1]
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
    variance = np.array(_scatter(capacity) ** 2 + 1.0 / 12.0)
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
