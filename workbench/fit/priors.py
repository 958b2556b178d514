"""Where a fit starts: the lifter file where it speaks, published spread where it is silent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal
from workbench.fit.settings import FitSettings
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import SHARED_ENDURANCE, endurance_prior

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.lifter import Lifter
    from workbench.lifter.belief import Belief

__all__ = ["LiftPrior", "carry_prior", "lift_prior", "rate_prior", "shared_nodes"]

#: Points for the endurance that a lifter's exercises have in common.
_NODES = 15


@dataclass(frozen=True)
class LiftPrior:
    """What is believed of one exercise before the log.

    Attributes
    ----------
    one_rm : OneRMPrior
    endurance : LogNormal
    guessed : bool
        Whether the lifter file does not name the exercise, so that the 1RM is a first guess from the log itself.
    """

    one_rm: OneRMPrior
    endurance: LogNormal
    guessed: bool


def lift_prior(lifter: Lifter, log: LiftLog, settings: FitSettings) -> LiftPrior:
    """Return the prior of one exercise."""
    endurance = _normal(lifter.endurance_belief(log.exercise, settings.curve))
    try:
        lift = lifter.lift(log.exercise)
    except InputError:
        published = endurance_prior(lifter.catalogue.exercise(log.exercise).endurance_class)
        strengths = [
            np.log(logged.load_kg)
            + settings.curve.headroom_for(max(logged.reps, 1) + np.nan_to_num(logged.reserve), published.median)
            for session in log.sessions
            for logged in session.sets
        ]
        guess = OneRMPrior(float(np.quantile(strengths, 0.9)), settings.unknown_log_sd)
        return LiftPrior(guess, endurance, guessed=True)
    # As it was on the day of the test: the fit lets it drift from there.
    believed = lifter.one_rm_belief(log.exercise, settings.curve, on=lift.tested)
    # A 1RM stated as exact is taken as good to half a percent: no bar is loaded more finely.
    one_rm = OneRMPrior(believed.mean, max(believed.sd, 0.005), lift.tested)
    return LiftPrior(one_rm, endurance, guessed=False)


def _normal(belief: Belief) -> LogNormal:
    """Return a belief as the normal distribution of its mean and sd."""
    return LogNormal(belief.mean, belief.sd)


def rate_prior(lifter: Lifter) -> LogNormal:
    """Return the prior of the recovery rate."""
    return _normal(lifter.recovery_belief())


def carry_prior(lifter: Lifter) -> LogNormal:
    """Return the prior of how much exercises take from each other, as a factor on the usual carry-over."""
    return _normal(lifter.carry_belief())


def shared_nodes() -> tuple[FloatArray, FloatArray, float, float]:
    """Nodes and weights of the shared part of log endurance, and the shares of shared and own sd.

    Returns
    -------
    nodes, weights : array, shape (nodes,)
        Of a standard normal distribution.
    shared, own : float
        Parts of the log sd that all exercises have in common and that each has of its own.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return nodes, weights / weights.sum(), float(np.sqrt(SHARED_ENDURANCE)), float(np.sqrt(1.0 - SHARED_ENDURANCE))
