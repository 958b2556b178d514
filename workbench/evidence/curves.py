"""Fit of the load-reps curve to published group means, with random effects, and its left-out scores.

A curve is a `workbench.models.load_reps.Curve`. Its **last** parameter is the lifter's own; every study, group and
class of exercise gets its own value of it. Any other parameter is a shape that all share.

Published means count whole reps. A lifter whose capacity is 7.6 completes 7, so the capacity behind a mean is taken as
half a rep more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy import linalg

from workbench.evidence.read import LoadReps
from workbench.models.load_reps import Curve
from workbench.quantities import FloatArray

__all__ = ["HALF_REP", "WHOLE_REPS", "CurveFit", "bisected", "fit_curve", "left_out_curve"]

#: Capacity minus completed reps, on average.
HALF_REP: Final = 0.5
#: Variance that counting whole reps adds, reps**2: that of an even spread over one rep.
WHOLE_REPS: Final = 1.0 / 12.0
#: Coefficient of variation between people where a paper gives none (assumed).
_USUAL_CV: Final = 0.3
#: Extra log sd of a recalled table: it counts, but weakly (assumed).
_RECALLED_LOG_SD: Final = 0.15
#: Log sd of a value that counts as settled.
_SETTLED: Final = 1e-3
_BISECTIONS: Final = 60


@dataclass(frozen=True)
class CurveFit:
    """A fitted curve.

    Attributes
    ----------
    curve : Curve
    shape : tuple of float
        Shared parameters (all but the last).
    mean : float
        Log of the lifter parameter, over all classes.
    spreads : dict of str to float
        Log sd between classes, between studies, between groups of a study, and residual.
    classes : dict of str to (float, float)
        Log value and its standard error, by class of exercise.
    log_likelihood : float
        Of the published means, in reps.
    """

    curve: Curve
    shape: tuple[float, ...]
    mean: float
    spreads: dict[str, float]
    classes: dict[str, tuple[float, float]]
    log_likelihood: float

    def class_value(self, endurance_class: str) -> tuple[float, float]:
        """Log value and standard error of a class; the pooled one, with the spread between classes, if unseen."""
        if endurance_class in self.classes:
            return self.classes[endurance_class]
        return self.mean, float(np.hypot(self.spreads["class"], self.spreads["mean_se"]))

    def reps(self, load_fraction: FloatArray, endurance_class: list[str]) -> FloatArray:
        """Whole reps expected of a group of each class at each load, shape (rows,)."""
        value = np.exp([self.class_value(name)[0] for name in endurance_class])
        capacity = self.curve.reps(load_fraction, parameters=self.curve.parameters([*self.shape, value]))
        return np.asarray(np.maximum(capacity - HALF_REP, 0.0))


def _own_value(curve: Curve, shape: tuple[float, ...], x: FloatArray, capacity: FloatArray) -> FloatArray:
    """Log of the lifter parameter at which the curve gives ``capacity`` reps at ``x``, by bisection."""
    low, high = (np.full(x.shape, np.log(max(bound, 1e-6))) for bound in curve.bounds[curve.parameter_names[-1]])

    def reps(value: FloatArray) -> FloatArray:
        return curve.reps(x, parameters=curve.parameters([*shape, np.exp(value)]))

    falling = reps(low) > reps(high)
    return bisected(lambda value: (reps(value) > capacity) == falling, low, high, _BISECTIONS)


def bisected(above: Callable[[FloatArray], Any], low: FloatArray, high: FloatArray, halvings: int) -> FloatArray:
    """Where ``above`` turns from True to False between ``low`` and ``high``, element by element, by halving."""
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        up = above(middle)
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    return np.asarray(0.5 * (low + high))


def _sampling(rows: LoadReps) -> FloatArray:
    """Log sd of each mean (about reps beyond the first) that follows from the number of people."""
    beyond = np.maximum(rows.reps_mean - 1.0 + HALF_REP, 0.5)
    cv = np.where(np.isnan(rows.reps_sd), _USUAL_CV, rows.reps_sd / beyond)
    extra = np.where(rows.grade == "recalled", _RECALLED_LOG_SD, 0.0)
    return np.asarray(np.hypot(cv / np.sqrt(rows.n), extra))


def _alike(labels: NDArray[np.str_]) -> FloatArray:
    """1 where two rows have the same label, else 0; shape (rows, rows)."""
    return np.asarray(labels[:, None] == labels, dtype=np.float64)


class _Mixed:
    """Gaussian random-effects model of one log value per row: classes, studies, groups, residual.

    ``known`` are log values that are settled, by class ("other" is the mean over classes): they come after the rows,
    belong to no study, and tell how far each study lies off.
    """

    def __init__(self, rows: LoadReps, known: Mapping[str, float]) -> None:
        group = np.array([f"{a}|{b}|{c}" for a, b, c in zip(rows.fold, rows.source, rows.endurance_class, strict=True)])
        self.classes = np.array([*rows.endurance_class, *known])
        self.same_class = _alike(self.classes) * (self.classes != "other")
        none = (0, len(known))
        self.same_study, self.same_group = (np.pad(_alike(labels), none) for labels in (rows.fold, group))
        self.sampling = np.append(_sampling(rows) ** 2, np.full(len(known), _SETTLED**2))
        self.single = np.append(np.ones(rows.size), np.zeros(len(known)))
        self.known = np.array(list(known.values()), dtype=np.float64)

    def covariance(self, spreads: FloatArray) -> FloatArray:
        classes, studies, groups, residual = spreads**2
        shared = classes * self.same_class + studies * self.same_study + groups * self.same_group
        return np.asarray(shared + np.diag(self.sampling + residual * self.single))

    def log_likelihood(self, y: FloatArray, spreads: FloatArray) -> tuple[float, float, float, Any]:
        """Restricted log-likelihood, mean, its standard error and the Cholesky factor."""
        factor = linalg.cho_factor(self.covariance(spreads), lower=True)
        ones = np.ones_like(y)
        weight = linalg.cho_solve(factor, ones)
        information = float(ones @ weight)
        mean = float(y @ weight) / information
        rest = y - mean
        value = -0.5 * float(rest @ linalg.cho_solve(factor, rest)) - float(np.sum(np.log(np.diag(factor[0]))))
        return value - 0.5 * np.log(information), mean, information**-0.5, factor


def fit_curve(curve: Curve, rows: LoadReps, known: Mapping[str, float] | None = None) -> CurveFit:
    """Fit a curve to published means by restricted maximum likelihood.

    ``known`` is the log of the lifter parameter of classes settled elsewhere; "other" is the mean over classes.
    """
    mixed = _Mixed(rows, known or {})
    capacity = rows.reps_mean + HALF_REP
    names = curve.parameter_names
    low, high = np.array([curve.bounds[name] for name in names[:-1]]).reshape(-1, 2).T
    start_shape = np.array([float(getattr(curve.start, name)) for name in names[:-1]])

    def unpack(theta: FloatArray) -> tuple[tuple[float, ...], FloatArray]:
        shape = low + (high - low) / (1.0 + np.exp(-theta[: low.size]))
        return tuple(shape), np.exp(theta[low.size :])

    @lru_cache(maxsize=1)  # a curve without a shape has but one
    def with_jacobian(shape: tuple[float, ...]) -> tuple[FloatArray, float]:
        step = 1e-3 * capacity
        both = np.concatenate([capacity, capacity + step])
        there, beyond = np.split(_own_value(curve, shape, np.tile(rows.load_fraction, 2), both), 2)
        slope = (beyond - there) / step
        return there, float(np.sum(np.log(np.maximum(np.abs(slope), 1e-12))))

    def objective(theta: FloatArray) -> float:
        shape, spreads = unpack(theta)
        y, jacobian = with_jacobian(shape)
        # A weak pull (half-normal, sd 0.5) keeps a spread finite where the data say little of it.
        penalty = 0.5 * float(np.sum((spreads / 0.5) ** 2)) + 0.02 * float(np.sum(theta[: low.size] ** 2))
        return penalty - mixed.log_likelihood(np.append(y, mixed.known), spreads)[0] - jacobian

    start = np.concatenate([np.log((start_shape - low) / (high - start_shape)), np.log([0.2, 0.15, 0.1, 0.1])])
    enough = {"maxiter": 800, "xatol": 1e-3, "fatol": 1e-4}
    best = scipy.optimize.minimize(objective, start, method="Nelder-Mead", options=enough)
    shape, spreads = unpack(best.x)
    y = np.append(with_jacobian(shape)[0], mixed.known)
    _, mean, mean_se, factor = mixed.log_likelihood(y, spreads)
    classes = {}
    for name in np.unique(mixed.classes[mixed.classes != "other"]):
        covariance = spreads[0] ** 2 * mixed.same_class[mixed.classes == name][0]
        weight = linalg.cho_solve(factor, covariance)
        left = spreads[0] ** 2 - float(covariance @ weight) + ((1.0 - float(weight.sum())) * mean_se) ** 2
        classes[str(name)] = (mean + float(weight @ (y - mean)), float(np.sqrt(max(left, 1e-9))))
    labels = ("class", "study", "group", "residual")
    named = dict(zip(labels, (float(value) for value in spreads), strict=True)) | {"mean_se": mean_se}
    return CurveFit(curve, shape, mean, named, classes, -float(best.fun))


def left_out_curve(curve: Curve, rows: LoadReps) -> tuple[FloatArray, FloatArray]:
    """Predict every row from a fit without its study.

    Returns
    -------
    predicted, log_sd : arrays, shape (rows,)
        Expected whole reps, and the log sd about reps beyond the first: class, study, group, residual and sampling.
    """
    predicted = np.full(rows.size, np.nan)
    log_sd = np.full(rows.size, np.nan)
    sampling = _sampling(rows)
    for fold in np.unique(rows.fold):
        out = rows.fold == fold
        fit = fit_curve(curve, rows.where(~out))
        names = [str(name) for name in rows.endurance_class[out]]
        predicted[out] = fit.reps(rows.load_fraction[out], names)
        of_class = np.array([fit.class_value(name)[1] for name in names])
        spreads = fit.spreads["study"] ** 2 + fit.spreads["group"] ** 2 + fit.spreads["residual"] ** 2
        log_sd[out] = np.sqrt(of_class**2 + spreads + sampling[out] ** 2)
    return predicted, log_sd
