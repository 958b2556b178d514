"""All exercises of a lifter together: they share the recovery rate, and a part of what sets endurance apart.

Given those two, the exercises are independent, so that sums over a grid combine them exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.priors import LiftPrior, LogNormal, shared_nodes

if TYPE_CHECKING:
    from workbench.fit.filtering import Filtered
    from workbench.fit.likelihood import Grid
    from workbench.quantities import FloatArray

__all__ = ["FittedLift", "Joint", "combine"]


@dataclass(frozen=True)
class FittedLift:
    """One exercise on its last grid.

    Attributes
    ----------
    exercise : str
    prior : LiftPrior
    grid : Grid
    filtered : Filtered
    """

    exercise: str
    prior: LiftPrior
    grid: Grid
    filtered: Filtered


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
    given_shared = []
    log_evidence = 0.0
    for lift in lifts:
        prior = lift.prior.endurance
        centres = prior.log_mean + prior.log_sd * shared_part * nodes[:, None]
        own = prior.weights(lift.grid.log_endurance, centres, prior.log_sd * own_part)
        largest = lift.filtered.log_evidence.max()
        evidence = np.exp(lift.filtered.log_evidence - largest)
        log_evidence += float(largest)
        weights = own[:, None, :] * evidence
        total = weights.sum(axis=2)
        shared = shared * total
        given_shared.append(weights / np.maximum(total, 1e-300)[:, :, None])
    log_evidence += float(np.log(shared.sum()))
    shared = shared / shared.sum()
    return Joint(
        log_rate=log_rate,
        shared=shared,
        given_shared=tuple(given_shared),
        lifts=tuple(np.asarray((shared[:, :, None] * weights).sum(axis=0)) for weights in given_shared),
        log_evidence=log_evidence,
    )
