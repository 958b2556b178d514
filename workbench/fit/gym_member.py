"""What a lifter's log says to the numbers of a gym: draws, and how probable the lifter's own prior made them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.special import logsumexp

from workbench.fit.lifter_file import others_given
from workbench.fit.priors import endurance_before, rate_prior, shared_nodes

if TYPE_CHECKING:
    from workbench.fit.learned import Learned
    from workbench.fit.marginals import LogNormal
    from workbench.quantities import FloatArray

__all__ = ["Behind", "Member", "log_prior_of", "member_of"]

#: What is taken as exact still has some spread.
_LEAST_SD: Final = 1e-6


@dataclass(frozen=True)
class Member:
    """What the log of one lifter leaves possible; without name, dates or sets.

    Attributes
    ----------
    classes : tuple of str
        Classes of the exercises.
    log_endurance : array, shape (draws, exercises), [ln 1/rep]
    log_rate : array, shape (draws,), [1]
        Natural log of the recovery rate.
    reserve_bias : array, shape (draws,), [reps]
        Reps left beyond what is usual for what is said.
    log_prior : array, shape (draws,)
        Natural log of the density of these draws in the prior that the lifter was fitted from.
    is_woman : bool
    sets : int
    states_reserve : bool
        Whether the log states reps in reserve.
    """

    classes: tuple[str, ...]
    log_endurance: FloatArray
    log_rate: FloatArray
    reserve_bias: FloatArray
    log_prior: FloatArray
    is_woman: bool
    sets: int
    states_reserve: bool


@dataclass(frozen=True)
class Behind:
    """How many stand behind the numbers of a gym.

    Attributes
    ----------
    lifters, women, sets : int
    stating_reserves : int
        Lifters whose logs state reps in reserve.
    by_class : Counter of str
        Lifters who train any exercise of a class.
    """

    lifters: int
    women: int
    sets: int
    stating_reserves: int
    by_class: Counter[str]

    @classmethod
    def of(cls, members: Iterable[Member]) -> Behind:
        """Count."""
        lifters = women = sets = stating_reserves = 0
        by_class = Counter[str]()
        for member in members:
            lifters += 1
            women += member.is_woman
            sets += member.sets
            stating_reserves += member.states_reserve
            by_class.update(set(member.classes))
        return cls(lifters, women, sets, stating_reserves, by_class)


def member_of(learned: Learned, *, draws: int, rng: np.random.Generator) -> Member:
    """Return what a lifter's log says to the numbers of the gym.

    Parameters
    ----------
    learned : Learned
        A lifter whom an earlier log taught takes along what the lifter file keeps of it.
    draws : int
    rng : numpy.random.Generator
    """
    fit, lifter = learned.fit, learned.lifter
    drawn = learned.draws(draws, rng)
    known = lifter.catalogue.exercise
    kept = tuple(name for name in (known(text).name for text in lifter.lifts) if name not in learned.exercises)
    kept = tuple(name for name in kept if lifter.goes_together((name, "endurance")))
    log_endurance = np.log(drawn.endurance)
    if kept:
        log_endurance = np.hstack([log_endurance, others_given(learned, drawn, kept, rng)[1]])
    exercises = (*learned.exercises, *kept)
    if lifter.together is None:
        of_lifts, rate = [lift.prior.endurance for lift in fit.lifts], fit.rate
    else:  # it was an earlier log that began where nothing was known
        of_lifts = [endurance_before(lifter.untaught, name, fit.settings) for name in exercises]
        rate = rate_prior(lifter.untaught, fit.settings)
    bias_mean, bias_sd = lifter.usual_reserve_bias or (0.0, max(fit.settings.reserve_bias_sd, _LEAST_SD))
    log_rate = np.log(drawn.recovery_rate)
    log_prior = log_prior_of(of_lifts, rate, log_endurance, log_rate)
    log_prior = log_prior - 0.5 * ((drawn.reserve_bias - bias_mean) / bias_sd) ** 2 - np.log(bias_sd)
    return Member(
        classes=tuple(known(name).endurance_class for name in exercises),
        log_endurance=log_endurance,
        log_rate=log_rate,
        reserve_bias=drawn.reserve_bias,
        log_prior=log_prior,
        is_woman=lifter.sex == "female",
        sets=fit.log.set_count + lifter.learned_sets,
        states_reserve=any(logged.ending in ("stated", "felt") for logged in fit.log.sets),
    )


def log_prior_of(
    of_lifts: Sequence[LogNormal], rate: LogNormal, log_endurance: FloatArray, log_rate: FloatArray
) -> FloatArray:
    """Log density of draws in the prior that a fit began with, but for a factor: as `workbench.fit.joint.combine`."""
    nodes, weights, shared, own = shared_nodes()
    at = nodes[:, None]
    total = np.log(weights)[:, None] + np.log(rate.weights(log_rate, *(rate.given(at) if rate.moves else ())))
    for prior, values in zip(of_lifts, log_endurance.T, strict=True):
        centres, sd = prior.log_mean + prior.log_sd * shared * at, prior.log_sd * own
        if prior.moves:
            centres, sd = prior.given(at, log_rate)
        total = total + np.log(prior.weights(values, centres, sd))
    return np.asarray(logsumexp(total, axis=0))
