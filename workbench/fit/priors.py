"""Where a fit starts: the lifter file where it speaks, published spread where it is silent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal
from workbench.fit.settings import FitSettings
from workbench.models.sharing import CARRY
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import SHARED_ENDURANCE, STATED_SHARE, endurance_prior, recovery_prior
from workbench.reference.sources import read_rows

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.lifter import Lifter

__all__ = ["LiftPrior", "carry_prior", "gain_sd", "lift_prior", "rate_prior", "shared_nodes"]

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
    unusual = (settings.unusual_chance, settings.unusual_times)
    endurance = LogNormal(float(np.log(published.median)), published.log_sd, (unusual,))
    try:
        lift = lifter.lift(log.exercise)
    except InputError:
        strengths = [
            np.log(logged.load_kg)
            + settings.curve.headroom_for(max(logged.reps, 1) + np.nan_to_num(logged.reserve), published.median)
            for session in log.sessions
            for logged in session.sets
        ]
        log_mean, log_sd = float(np.quantile(strengths, 0.9)), settings.unknown_log_sd
        guess = OneRMPrior(log_mean, log_sd, _wrong(log_sd, settings))
        return LiftPrior(guess, endurance, guessed=True)
    # A 1RM stated as exact is taken as good to half a percent: no bar is loaded more finely.
    log_sd = max(lift.uncertainty_percent / 100.0, 0.005)
    doubted = (3.0 * settings.unusual_chance, settings.unusual_times)
    one_rm = OneRMPrior(float(np.log(lift.one_rm)), log_sd, (doubted, *_wrong(log_sd, settings)), lift.tested)
    known = lift.endurance_on(settings.curve)
    return LiftPrior(one_rm, _stated(known, endurance), guessed=False)


def _wrong(log_sd: float, settings: FitSettings) -> tuple[tuple[float, float]]:
    """Return the tail of a 1RM in a file that is plainly wrong."""
    return ((settings.wrong_file_chance, max(settings.wrong_file_log_sd / log_sd, 1.0)),)


def _stated(value: float | None, unstated: LogNormal) -> LogNormal:
    """Return what is believed where the lifter file states a value; without one, what is believed anyway."""
    if value is None:
        return unstated
    return replace(unstated, log_mean=float(np.log(value)), log_sd=unstated.log_sd * STATED_SHARE)


def rate_prior(lifter: Lifter, settings: FitSettings | None = None) -> LogNormal:
    """Return the prior of the recovery rate."""
    settings = settings or FitSettings()
    median, log_sd = recovery_prior(lifter.sex)
    tails = ((settings.unusual_chance, settings.unusual_times),)
    return _stated(lifter.recovery_rate, LogNormal(float(np.log(median)), log_sd, tails))


def gain_sd(lifter: Lifter, settings: FitSettings) -> float:
    """Return the spread of the steady gain of a 1RM about none, natural log in a week.

    The published gain and the range about it, four in five lifters, both count as spread: what was not seen in the log
    is not promised. Where the years of training are not known, one to three are taken.
    """
    if settings.gain_sd is not None:
        return settings.gain_sd
    years = 2.0 if lifter.training_years is None else lifter.training_years
    rows = read_rows("evidence", "gain_rates.csv")
    row = next(row for row in rows if float(row["years_from"]) <= years < float(row["years_to"]) or row is rows[-1])
    return float(np.hypot(float(row["percent_per_week"]), (float(row["high"]) - float(row["low"])) / 2.563)) / 100.0


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
