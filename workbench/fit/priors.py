"""Where a fit starts: the lifter file where it speaks, published spread where it is silent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal
from workbench.fit.settings import FitSettings
from workbench.lifter.file import CARRIED, RECOVERY
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import SHARED_ENDURANCE, endurance_prior
from workbench.reference.sources import read_rows

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.lifter import Lifter
    from workbench.lifter.belief import Belief

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
    endurance = _with_tails(lifter.endurance_belief(log.exercise, settings.curve), settings)
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
        log_mean, log_sd = float(np.quantile(strengths, 0.9)), settings.unknown_log_sd
        guess = OneRMPrior(log_mean, log_sd, _wrong(log_sd, settings))
        return LiftPrior(guess, endurance, guessed=True)
    # As it was on the day of the test: the fit lets it drift from there.
    believed = lifter.one_rm_belief(log.exercise, settings.curve, on=lift.tested)
    # A 1RM stated as exact is taken as good to half a percent: no bar is loaded more finely.
    log_sd = max(believed.sd, 0.005)
    tails = (_unusual(settings), *_wrong(log_sd, settings))
    return LiftPrior(OneRMPrior(believed.mean, log_sd, tails, lift.tested), endurance, guessed=False)


def _unusual(settings: FitSettings) -> tuple[float, float]:
    return settings.unusual_chance, settings.unusual_times


def _wrong(log_sd: float, settings: FitSettings) -> tuple[tuple[float, float]]:
    """Return the tail of a 1RM in a file that is plainly wrong."""
    return ((settings.wrong_file_chance, max(settings.wrong_file_log_sd / log_sd, 1.0)),)


def _with_tails(belief: Belief, settings: FitSettings) -> LogNormal:
    """Return what is believed as a normal distribution of its mean and sd, with the tails of unusual lifters."""
    return LogNormal(belief.mean, belief.sd, (_unusual(settings),))


def rate_prior(lifter: Lifter, settings: FitSettings | None = None) -> LogNormal:
    """Return the prior of the recovery rate."""
    return _with_tails(lifter.of_all[RECOVERY], settings or FitSettings())


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
    belief = lifter.of_all[CARRIED]
    return LogNormal(belief.mean, belief.sd)


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
