"""All exercises of a lifter together: they share the recovery rate, and a part of what sets endurance apart.

Given those two, the exercises are independent, so that sums over a grid combine them exactly.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.fit.filtering import Filtered, OneRMPrior, filter_sessions
from workbench.fit.likelihood import Course
from workbench.fit.marginals import LogNormal
from workbench.fit.priors import LiftPrior, shared_nodes
from workbench.fit.reading import read_lift

if TYPE_CHECKING:
    from workbench.fit.carried import CarryOver, GivenByOthers
    from workbench.fit.evidence_sets import LiftLog, UsedLog
    from workbench.fit.likelihood import Grid, SetReader
    from workbench.fit.settings import FitSettings
    from workbench.fit.unknowns import Unknowns
    from workbench.lifter import Lifter
    from workbench.models.fatigue import FatigueForm
    from workbench.models.load_reps import Curve
    from workbench.quantities import FloatArray

__all__ = ["Fit", "FittedLift", "Joint", "combine", "fit_lift"]


@dataclass(frozen=True)
class FittedLift:
    """One exercise on its last grid.

    Attributes
    ----------
    exercise, prior, grid, filtered
    course : Course
        What its sets were read with.
    believed : OneRMPrior
        The prior of the 1RM, as it stands at the strength of the grid.
    """

    exercise: str
    prior: LiftPrior
    grid: Grid
    filtered: Filtered
    course: Course
    believed: OneRMPrior


def fit_lift(
    reader: SetReader,
    log: LiftLog,
    prior: LiftPrior,
    given: FloatArray,
    today: datetime.date,
    *,
    day_by_day: bool = False,
) -> FittedLift:
    """Fit one exercise on the grid of a reader, each day by all others too where asked for.

    ``given`` of its sets, as `workbench.fit.carried` has it.
    """
    likelihoods, log_factor = read_lift(reader, log, given)
    gained = reader.course.since(prior.one_rm.date, log.sessions[0].date)
    believed = replace(prior.one_rm, log_mean=prior.one_rm.log_mean + gained)
    filtered = filter_sessions(
        reader.grid,
        likelihoods,
        [session.date for session in log.sessions],
        believed,
        reader.settings,
        today=today,
        backward=day_by_day,
    )
    filtered = replace(filtered, log_evidence=filtered.log_evidence + log_factor)
    return FittedLift(log.exercise, prior, reader.grid, filtered, reader.course, believed)


@dataclass(frozen=True)
class Joint:
    """Posterior weights of the grid.

    Attributes
    ----------
    log_rate : array, shape (rates,)
        Points of the natural log of the recovery rate, the same for all exercises.
    shared : array, shape (nodes, rates)
        Probability of the shared part of endurance and of the recovery rate; sums to 1.
    given_shared : tuple of array, shape (nodes, rates, endurances)
        For each exercise, probability of its endurance given both; sums to 1 over the last axis.
    lifts : tuple of array, shape (rates, endurances)
        For each exercise, probability of recovery rate and endurance; sums to 1.
    log_evidence : float
        Natural log of the probability of the whole log, up to a constant of the grids.
    """

    log_rate: FloatArray
    shared: FloatArray
    given_shared: tuple[FloatArray, ...]
    lifts: tuple[FloatArray, ...]
    log_evidence: float

    @property
    def rate(self) -> FloatArray:
        """Probability of each recovery rate, shape (rates,)."""
        return np.asarray(self.shared.sum(axis=0))


@dataclass(frozen=True)
class Fit:
    """A fitted log.

    Attributes
    ----------
    lifter : Lifter
        As it was before the log.
    log : UsedLog
    today : datetime.date
        When the 1RMs hold.
    lifts : tuple of FittedLift
    joint : Joint
    rate : LogNormal
        Prior of the recovery rate.
    form, parameters : FatigueForm and its parameters
        Through which sets later in a session were read.
    settings : FitSettings
    given : GivenByOthers
        What other exercises had left when each set began, at the rates of the joint grid.
    carry_over : CarryOver or None
        How much exercises take from each other; None where no exercise followed another that shares its muscles.
    unknowns : Unknowns or None
        What else is not known; ``settings.reserve`` and the course of each lift are at its likeliest. None without
        sets.
    """

    lifter: Lifter
    log: UsedLog
    today: datetime.date
    lifts: tuple[FittedLift, ...]
    joint: Joint
    rate: LogNormal
    form: FatigueForm
    parameters: Any
    settings: FitSettings
    given: GivenByOthers
    carry_over: CarryOver | None
    unknowns: Unknowns | None = None

    @property
    def curve(self) -> Curve:
        """On which fresh sets were read."""
        return self.settings.curve


def combine(lifts: list[FittedLift], rate: LogNormal, log_rate: FloatArray) -> Joint:
    """Combine the exercises with the prior.

    Parameters
    ----------
    lifts : list of FittedLift
    rate : LogNormal
        Prior of the recovery rate.
    log_rate : array, shape (rates,)
        Points that all the exercises were fitted on.
    """
    nodes, node_weights, shared_part, own_part = shared_nodes()
    shared = node_weights[:, None] * rate.weights(log_rate)
    if rate.moves:
        mean, sd = rate.given(nodes[:, None])
        shared = node_weights[:, None] * rate.weights(log_rate, mean, sd)
    given_shared = []
    log_evidence = 0.0
    for lift in lifts:
        prior = lift.prior.endurance
        centres, own_sd = prior.log_mean + prior.log_sd * shared_part * nodes[:, None], prior.log_sd * own_part
        if prior.moves:
            centres, own_sd = prior.given(nodes[:, None], log_rate)
        own = prior.weights(lift.grid.log_endurance, centres[:, :, None], own_sd)
        largest = lift.filtered.log_evidence.max()
        evidence = np.exp(lift.filtered.log_evidence - largest)
        log_evidence += float(largest)
        weights = own * evidence
        total = weights.sum(axis=2)
        shared = shared * total
        given_shared.append(weights / np.maximum(total, np.finfo(np.float64).tiny)[:, :, None])
    log_evidence += float(np.log(shared.sum()))
    shared = shared / shared.sum()
    return Joint(
        log_rate=log_rate,
        shared=shared,
        given_shared=tuple(given_shared),
        lifts=tuple(np.asarray((shared[:, :, None] * weights).sum(axis=0)) for weights in given_shared),
        log_evidence=log_evidence,
    )
