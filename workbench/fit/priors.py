"""Where a fit starts: the lifter file where it speaks, published spread where it is silent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal
from workbench.fit.settings import FitSettings
from workbench.models.sharing import CARRY
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import SHARED_ENDURANCE, STATED_SHARE, endurance_prior, recovery_prior

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.lifter import Lifter

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
    published = endurance_prior(lifter.catalogue.exercise(log.exercise).endurance_class)
    endurance = LogNormal(float(np.log(published.median)), published.log_sd)
    try:
        lift = lifter.lift(log.exercise)
    except InputError:
        strengths = [
            np.log(logged.load_kg)
            + settings.curve.headroom_for(max(logged.reps, 1) + np.nan_to_num(logged.reserve), published.median)
            for session in log.sessions
            for logged in session.sets
        ]
        guess = OneRMPrior(float(np.quantile(strengths, 0.9)), settings.unknown_log_sd)
        return LiftPrior(guess, endurance, guessed=True)
    # A 1RM stated as exact is taken as good to half a percent: no bar is loaded more finely.
    one_rm = OneRMPrior(float(np.log(lift.one_rm)), max(lift.uncertainty_percent / 100.0, 0.005), lift.tested)
    known = lift.endurance_on(settings.curve)
    return LiftPrior(one_rm, _stated(known, endurance), guessed=False)


def _stated(value: float | None, unstated: LogNormal) -> LogNormal:
    """Return what is believed where the lifter file states a value; without one, what is believed anyway."""
    return unstated if value is None else LogNormal(float(np.log(value)), unstated.log_sd * STATED_SHARE)


def rate_prior(lifter: Lifter) -> LogNormal:
    """Return the prior of the recovery rate."""
    median, log_sd = recovery_prior(lifter.sex)
    return _stated(lifter.recovery_rate, LogNormal(float(np.log(median)), log_sd))


def carry_prior(lifter: Lifter) -> LogNormal:
    """Return the prior of how much exercises take from each other, as a factor on the usual carry-over."""
    return _stated(lifter.carry_over, LogNormal(0.0, CARRY.log_sd))


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
