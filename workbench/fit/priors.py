"""Where a fit starts: the lifter file where it speaks, published spread where it is silent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal
from workbench.fit.settings import FitSettings
from workbench.lifter.belief import Quantity
from workbench.lifter.file import CARRIED, RECOVERY, SHARED
from workbench.models.load_reps import DEFAULT_CURVE, STUDIED_LOAD_FRACTIONS, Curve
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import SHARED_ENDURANCE
from workbench.reference.sources import read_rows

if TYPE_CHECKING:
    from workbench.fit.evidence_sets import LiftLog
    from workbench.lifter import Lifter
    from workbench.lifter.belief import Belief

__all__ = [
    "Kept",
    "LiftPrior",
    "carry_prior",
    "endurance_before",
    "gain_sd",
    "lift_prior",
    "rate_prior",
    "shared_nodes",
]

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
    kept = Kept.of(lifter, (log.exercise,), settings.curve)
    endurance = endurance_before(lifter, log.exercise, settings)
    try:
        lift = lifter.lift(log.exercise)
    except InputError:
        per_rep, _ = lifter.usual_endurance(lifter.catalogue.exercise(log.exercise).endurance_class)
        curve = settings.curve.bent(lifter.bend(settings.curve))
        strengths, _ = rough_strengths(log, per_rep, curve)
        log_mean, log_sd = float(np.quantile(strengths, 0.9)), settings.unknown_log_sd
        guess = OneRMPrior(log_mean, log_sd, _wrong(log_sd, settings))
        return LiftPrior(guess, endurance, guessed=True)
    # As it was on the day of the test: the fit lets it drift from there.
    believed = lifter.one_rm_belief(log.exercise, settings.curve, on=lift.tested)
    # A 1RM stated as exact is taken as good to half a percent: no bar is loaded more finely.
    log_sd = max(believed.sd, 0.005)
    moves = {} if kept is None else kept.moves((log.exercise, "1RM"), RECOVERY, (log.exercise, "endurance"))
    doubted = (3.0 * settings.unusual_chance, settings.unusual_times)
    tails = (doubted, *_wrong(max(moves.get("left_sd", log_sd), 0.005), settings))
    return LiftPrior(OneRMPrior(believed.mean, log_sd, tails, lift.tested, **moves), endurance, guessed=False)


def rough_strengths(log: LiftLog, per_rep: float, curve: Curve) -> tuple[FloatArray, FloatArray]:
    """Rough log strengths that sets speak of, [ln kg]: all, and those whose end or reserve is known.

    A set of more reps than were studied counts as one at the lightest studied load: beyond, curves differ by far.
    """
    lightest, _ = STUDIED_LOAD_FRACTIONS
    reps = log.told["reps"] + np.nan_to_num(log.told["reserve"])
    rough = np.log(log.told["load_kg"]) + np.minimum(curve.headroom_for(reps, per_rep), -np.log(lightest))
    return rough, rough[np.array([logged.ending != "completed" for logged in log.sets])]


def endurance_before(lifter: Lifter, exercise: str, settings: FitSettings) -> LogNormal:
    """Return the prior of the endurance of one exercise."""
    usual = _with_tails(lifter.endurance_belief(exercise, settings.curve), settings)
    kept = Kept.of(lifter, (exercise,), settings.curve)
    return usual if kept is None else replace(usual, **kept.moves((exercise, "endurance"), SHARED, RECOVERY))


@dataclass(frozen=True)
class Kept:
    """What an earlier log left possible, or lifters of a gym are like: a normal distribution of all that goes together.

    Attributes
    ----------
    names : tuple of Quantity
    mean : array, shape (quantities,)
        On the scales of the lifter's beliefs; the shared part of endurance in sds from its own mean.
    covariance : array, shape (quantities, quantities)
    """

    names: tuple[Quantity, ...]
    mean: FloatArray
    covariance: FloatArray

    @classmethod
    def of(cls, lifter: Lifter, exercises: Sequence[str], curve: Curve = DEFAULT_CURVE) -> Kept | None:
        """Return what a lifter file keeps of some exercises and of all alike; None where no log or gym did."""
        if lifter.together is None and lifter.gym is None:
            return None
        beliefs = dict(lifter.of_all)
        for exercise in exercises:
            beliefs[exercise, "endurance"] = lifter.endurance_belief(exercise, curve)
            if lifter.knows(exercise):
                beliefs[exercise, "1RM"] = lifter.one_rm_belief(exercise, curve, on=lifter.lift(exercise).tested)
        names = tuple(beliefs)
        correlations = lifter.correlations(names)
        shared = names.index(SHARED)
        sds, means = (np.array([getattr(belief, part) for belief in beliefs.values()]) for part in ("sd", "mean"))
        for number, name in enumerate(names):
            if name[1] == "endurance" and not lifter.goes_together(name):
                # No log taught it: it moves with what is kept of the part that all share.
                common = float(np.sqrt(SHARED_ENDURANCE)) * np.array([means[shared], sds[shared]])
                means[number] += sds[number] * common[0]
                wider = float(np.hypot(common[1], np.sqrt(1.0 - SHARED_ENDURANCE)))
                sds[number] *= wider
                correlations[number] = correlations[:, number] = common[1] / wider * correlations[shared]
                correlations[number, number] = 1.0
        sds[shared], means[shared] = 1.0, 0.0
        return cls(names, means, correlations * np.outer(sds, sds))

    def moves(self, wanted: Quantity, *others: Quantity) -> dict[str, Any]:
        """Return how one quantity moves with others, as fields of a `LogNormal`."""
        at, given = self.names.index(wanted), [self.names.index(other) for other in others]
        cross = self.covariance[at, given]
        slopes = np.linalg.solve(self.covariance[np.ix_(given, given)], cross)
        # No grid is finer than half a percent.
        left = max(float(np.sqrt(max(self.covariance[at, at] - slopes @ cross, 0.0))), 0.005)
        middles = zip(slopes, self.mean[given], strict=True)
        return {"moves": tuple((float(slope), float(middle)) for slope, middle in middles), "left_sd": left}


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
    usual, kept = _with_tails(lifter.of_all[RECOVERY], settings or FitSettings()), Kept.of(lifter, ())
    return usual if kept is None else replace(usual, **kept.moves(RECOVERY, SHARED))


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
