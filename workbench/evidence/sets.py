"""Fit of a fatigue form to published runs of sets, with random effects between groups, and its left-out predictions.

Each group of people (a sample of a study) has its own log recovery rate, drawn from a common spread; women's mean may
differ. Each row misses by a share of its own besides sampling. The group's rate, and its endurance where no first set
is given, are integrated out on fixed nodes. Where a row prints the sd between people, it is fitted too: it tells how
much recovery differs between them. Priors are weak: a form's own starting values within a factor of about two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from typing import Any, Final

import numpy as np
import scipy

from workbench.evidence.population import (
    SPREAD_FAMILIES,
    Between,
    Runs,
    lifters,
    needs_endurance,
    row_values,
    run_reps,
)
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm
from workbench.quantities import FloatArray

__all__ = [
    "HYPER",
    "FatigueFit",
    "LeftOut",
    "Likelihood",
    "coordinates",
    "fit_form",
    "left_out_form",
    "parameters_at",
    "predict_rows",
]

#: What is fitted besides the form's own parameters, the first two in logs: spread of log recovery
#: between groups, misfit of a row, what women's and the legs' log recovery add, spread of log recovery between the
#: lifters of a group (in logs), and its correlation with log endurance (as its inverse hyperbolic tangent).
HYPER: Final = ("group_sd", "misfit", "female", "legs", "people_sd", "tie")
_HYPER_START: Final = (np.log(0.4), np.log(0.06), 0.2, 0.0, np.log(0.6), 0.3)
_START_LOG_SD: Final = 1.0
#: Strength itself returns with a half-time under 15 s (sahlin_1989), and a part of what is lost is still missing after
#: 10 to 15 min (hernandez_lougedo_2022), so these time constants are held closer.
_HELD_LOG_SD: Final = {"strength_tau_s": 0.4, "slow_tau_s": 0.5}
#: Standard error of a row that gives no sd, in the unit of its family (assumed).
_DEFAULT_SE: Final = {
    "set reps": 0.5,
    "total": 1.0,
    "capped total": 1.0,
    "percent of set 1": 3.5,
    "ratio of totals": 0.05,
    "load cut": 0.6,
    "submaximal": 0.12,
    "drop": 2.5,
}
#: Standard deviation between studies of the percent of set 1, points (assumed).
_BETWEEN_STUDIES: Final = 12.0
#: How far women's log recovery may differ from men's, either way: one laboratory found much, others nothing
#: (sexes_2013).
_SEX_LOG_SD: Final = 0.4
#: Log misfit of a published sd between people besides sampling (assumed), and what is added to both sds before they
#: are compared, so that a group in which everyone reaches the cap does not count beyond measure, reps.
_SPREAD_MISFIT: Final = 0.25
_SPREAD_FLOOR: Final = 0.3
#: Of the search for a mode, from anywhere and from a fit nearby.
_OPTIONS: Final = {"maxiter": 120, "ftol": 1e-7, "eps": 1e-4}
_NEARBY_OPTIONS: Final = {"maxiter": 30, "ftol": 1e-5, "eps": 1e-3}
_RECOVERY_NODES: Final = 15
_WIDEST_SCORE: Final = 2.8
_ENDURANCE_NODES: Final = 3


def _grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scores of recovery and of endurance, and log weights of their pairs, recovery leading."""
    x = np.linspace(-_WIDEST_SCORE, _WIDEST_SCORE, _RECOVERY_NODES)
    y, wy = np.polynomial.hermite_e.hermegauss(_ENDURANCE_NODES)
    weight = np.outer(np.exp(-0.5 * x**2), wy)
    return x, y, np.log(weight / weight.sum()).ravel()


def _is_share(name: str) -> bool:
    return name.endswith("_share")


def coordinates(parameters: Any) -> FloatArray:
    """Unbounded coordinates of a parameter set, the parameters leading: the logs, of shares the log odds."""
    values = {field.name: np.asarray(getattr(parameters, field.name), dtype=np.float64) for field in fields(parameters)}
    return np.array([np.log(value / (1.0 - value) if _is_share(name) else value) for name, value in values.items()])


def parameters_at(form: FatigueForm, theta: FloatArray) -> Any:
    """Parameter set at unbounded coordinates, shape (parameters,) or (parameters, draws): inverse of `coordinates`."""
    names = form.parameter_names
    values = [
        1.0 / (1.0 + np.exp(-value)) if _is_share(name) else np.exp(value)
        for name, value in zip(names, theta[: len(names)], strict=True)
    ]
    return type(form.parameters)(*values)


def _standard_errors(rows: Sequence[SetRow]) -> FloatArray:
    """Return the sampling error of each row, in its own unit; the sd of an assumed row is its prior sd."""

    def error(row: SetRow) -> float:
        default = _DEFAULT_SE[row.family]
        if row.family == "submaximal":
            return float(np.hypot(np.sqrt(max(row.value * (1 - row.value), 0.05) / row.n), default))
        if row.groups > 1:
            return _BETWEEN_STUDIES / float(np.sqrt(row.groups))
        if np.isnan(row.sd):
            return default
        # A printed sd near nothing (everyone at the cap) does not make a mean exact.
        return max(row.sd if row.grade == "assumed" else row.sd / np.sqrt(row.n), 0.1)

    return np.array([error(row) for row in rows])


class Likelihood:
    """How probable published rows are, for any coordinates of a form and of `HYPER`."""

    def __init__(self, form: FatigueForm, rows: Sequence[SetRow]) -> None:
        self.form, self.rows, self.people = form, list(rows), lifters()
        needs = np.array([needs_endurance(row) for row in rows], dtype=bool)
        sets = np.array([row.set_to for row in rows])
        # Rows that need the endurance of their group, and those that do not, by how many sets are done: whether they
        # need it, their numbers, and their runs.
        self.parts = [
            (wanted, index, Runs([self.rows[number] for number in index]))
            for wanted in (False, True)
            for count in np.unique(sets)
            if (index := np.flatnonzero((needs == wanted) & (sets == count))).size
        ]
        self.observed = np.array([row.value for row in rows])
        self.errors = _standard_errors(rows)
        telling = [row.family in SPREAD_FAMILIES and row.grade != "assumed" and row.sd > 0.0 for row in rows]
        self.telling = np.flatnonzero(telling)
        sds, people = np.array([(self.rows[i].sd, max(self.rows[i].n, 4.0)) for i in self.telling]).reshape(-1, 2).T
        self.log_sd = np.log(np.hypot(sds, _SPREAD_FLOOR))
        names = np.array([f"{row.source}|{row.group}" for row in rows])
        self.member = (names == np.unique(names)[:, None]).astype(np.float64)
        # The sds of one group are of the same people: together they tell as much as one.
        of_group = self.member[:, self.telling].sum(axis=1) @ self.member[:, self.telling]
        self.log_sd_error = np.hypot(np.sqrt(0.5 / (people - 1.0)), _SPREAD_MISFIT) * np.sqrt(of_group)
        self.pooled = np.sqrt([row.groups for row in rows])
        self.recovery, self.endurance, self.log_weight = _grid()
        self.start = np.concatenate([coordinates(form.parameters), _HYPER_START])
        self.size = self.start.size - len(HYPER)
        self.prior_sd = np.array([_HELD_LOG_SD.get(name, _START_LOG_SD) for name in form.parameter_names])

    def predicted(self, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Value, misfit scale and sd between people of each row at each node, shape (rows, nodes)."""
        log_sd, _, female, legs, people_sd, tie = theta[self.size :]
        between, parameters = Between(float(np.exp(people_sd)), float(np.tanh(tie))), parameters_at(self.form, theta)
        values = np.empty((3, len(self.rows), self.log_weight.size))
        for needs_endurance_too, index, runs in self.parts:
            spread = runs.group_spread(float(np.exp(log_sd)))
            mean = female * runs.female + legs * runs.legs
            log_recovery = mean[:, None] + spread[:, None] * self.recovery
            score, repeats = np.zeros_like(self.recovery), _ENDURANCE_NODES
            if needs_endurance_too:
                log_recovery = np.repeat(log_recovery, _ENDURANCE_NODES, axis=1)
                score, repeats = np.tile(self.endurance, _RECOVERY_NODES), 1
            capacity = run_reps(runs, self.people, self.form, parameters, log_recovery, score, between)
            values[:, index] = np.repeat(np.array(row_values(runs, capacity)), repeats, axis=2)
        # The misfits of the many studies behind a pooled row average out.
        return values[0], values[1] / self.pooled[:, None], values[2]

    def misfit_variance(self, theta: FloatArray, scale: FloatArray) -> FloatArray:
        """Variance of what each row misses by besides sampling, shape (rows, nodes)."""
        return np.asarray((np.exp(theta[self.size + 1]) * scale) ** 2)

    def log_posterior(self, theta: FloatArray) -> float:
        """Log of prior times likelihood, up to a constant."""
        if np.any(np.abs(theta - self.start) > 6.0):
            return -np.inf
        value, scale, sd = self.predicted(theta)
        variance = self.errors[:, None] ** 2 + self.misfit_variance(theta, scale)
        each = -0.5 * ((self.observed[:, None] - value) ** 2 / variance + np.log(variance))
        off = np.log(np.hypot(sd[self.telling], _SPREAD_FLOOR)) - self.log_sd[:, None]
        each[self.telling] -= 0.5 * (off / self.log_sd_error[:, None]) ** 2
        nodes = self.member @ each + self.log_weight
        top = nodes.max(axis=1)
        likelihood = float(np.sum(top + np.log(np.exp(nodes - top[:, None]).sum(axis=1))))
        return likelihood + self._log_prior(theta) if np.isfinite(likelihood) else -np.inf

    def _log_prior(self, theta: FloatArray) -> float:
        own = (theta[: self.size] - self.start[: self.size]) / self.prior_sd
        spread, misfit, female, legs, people_sd, tie = theta[self.size :]
        prior = -0.5 * float(own @ own)
        # Half-normal spreads (0.5, 0.15 and 0.7) with the Jacobian of the log; differences and the tie normal.
        prior += -0.5 * (np.exp(spread) / 0.5) ** 2 + spread - 0.5 * (np.exp(misfit) / 0.15) ** 2 + misfit
        prior += -0.5 * (np.exp(people_sd) / 0.7) ** 2 + people_sd - 0.5 * (tie / 0.8) ** 2
        return float(prior - 0.5 * (female / _SEX_LOG_SD) ** 2 - 0.5 * (legs / 0.5) ** 2)


@dataclass(frozen=True)
class FatigueFit:
    """A fatigue form fitted to published runs of sets.

    Attributes
    ----------
    form : FatigueForm
    theta : array, shape (parameters + 6,)
        Mode in unbounded coordinates; the last as `HYPER`.
    covariance : array
        Of a normal approximation at the mode.
    log_posterior : float
    """

    form: FatigueForm
    theta: FloatArray
    covariance: FloatArray
    log_posterior: float

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the coordinates."""
        return (*self.form.parameter_names, *HYPER)

    @property
    def values(self) -> dict[str, float]:
        """Parameters at the mode, in their own units."""
        own = np.array(astuple(parameters_at(self.form, self.theta)))
        values = [*own, *np.exp(self.theta[own.size : -1]), np.tanh(self.theta[-1])]
        return {name: float(value) for name, value in zip(self.names, values, strict=True)}


def fit_form(
    form: FatigueForm, rows: Sequence[SetRow], *, start: FatigueFit | None = None, curvature: bool = True
) -> FatigueFit:
    """Fit a fatigue form by its posterior mode.

    Parameters
    ----------
    form : FatigueForm
        Every field of its parameter set is fitted: positive, or between 0 and 1 where its name ends in ``_share``.
    rows : list of SetRow
    start : FatigueFit, optional
        A fit to nearly the same rows, covariance included, to start from.
    curvature : bool
        Whether to work out the covariance at the mode.
    """
    target = Likelihood(form, rows)

    def objective(theta: FloatArray) -> float:
        value = target.log_posterior(theta)
        return 1e6 if not np.isfinite(value) else -value

    if start is None:
        best = scipy.optimize.minimize(objective, target.start, method="L-BFGS-B", options=_OPTIONS)
        few = {"maxiter": 3, "xtol": 1e-2, "ftol": 1e-4}
        further = scipy.optimize.minimize(objective, best.x, method="Powell", options=few)
        best = min((best, further), key=lambda result: float(result.fun))
        mode = np.asarray(best.x)
    else:
        # From a fit nearby: in coordinates in which its posterior is round, few steps are needed.
        size, centre = target.start.size, start.theta
        round_to_own = np.linalg.cholesky(start.covariance + 1e-9 * np.eye(size))
        best = scipy.optimize.minimize(
            lambda z: objective(centre + round_to_own @ z), np.zeros(size), method="L-BFGS-B", options=_NEARBY_OPTIONS
        )
        mode = centre + round_to_own @ best.x
    covariance = _covariance(objective, mode) if curvature else np.eye(mode.size) * 0.01
    return FatigueFit(form, mode, covariance, -float(best.fun))


def _covariance(objective: Any, at: FloatArray, step: float = 0.02) -> FloatArray:
    """Inverse Hessian by differences; directions the data hardly bend are held to the prior's width."""
    size = at.size
    centre = objective(at)
    shift = np.eye(size) * step
    plus = np.array([objective(at + s) for s in shift])
    minus = np.array([objective(at - s) for s in shift])
    hessian = np.diag((plus + minus - 2.0 * centre) / step**2)
    for i in range(size):
        for j in range(i):
            both = objective(at + shift[i] + shift[j]) - plus[i] - plus[j] + centre
            hessian[i, j] = hessian[j, i] = both / step**2
    values, vectors = np.linalg.eigh(hessian)
    return np.asarray(vectors @ np.diag(1.0 / np.maximum(values, 1.0 / _START_LOG_SD**2)) @ vectors.T)


@dataclass(frozen=True)
class LeftOut:
    """Predictions of rows from fits without their study, each array of shape (rows,).

    ``mean``, ``sd``, ``low`` and ``high`` are of a study's mean; ``person_sd`` is the spread between the people of one
    study, NaN where the row tells of no reps of one person.
    """

    mean: FloatArray
    sd: FloatArray
    low: FloatArray
    high: FloatArray
    person_sd: FloatArray


def predict_rows(form: FatigueForm, thetas: FloatArray, rows: Sequence[SetRow]) -> LeftOut:
    """Predict study means of unseen groups: parameters, group, misfit and sampling all uncertain; 80 % interval.

    Parameters
    ----------
    form : FatigueForm
    thetas : array, shape (draws, parameters + 6)
    rows : list of SetRow
    """
    target = Likelihood(form, rows)
    rng = np.random.default_rng(3)
    sampling = np.where([row.grade == "assumed" for row in rows], 0.0, target.errors**2)[:, None]
    samples, means, people_sds, weights = [], [], [], np.exp(target.log_weight)
    for theta in thetas:
        value, scale, sd = target.predicted(theta)
        variance = sampling + target.misfit_variance(theta, scale)
        pick = rng.choice(weights.size, 40, p=weights)
        samples.append(value[:, pick] + np.sqrt(variance[:, pick]) * rng.standard_normal((len(rows), 40)))
        means.append(value @ weights)
        people_sds.append(sd @ weights)
    every = np.concatenate(samples, axis=1)
    for index, row in enumerate(rows):
        top = row.cap * row.set_to if row.family == "capped total" else np.inf
        every[index] = np.clip(every[index], 0.0, 1.0 if row.family == "submaximal" else top)
    low, high = np.quantile(every, [0.1, 0.9], axis=1)
    return LeftOut(np.mean(means, axis=0), every.std(axis=1), low, high, np.mean(people_sds, axis=0))


def left_out_form(form: FatigueForm, rows: Sequence[SetRow], full: FatigueFit, *, draws: int = 24) -> LeftOut:
    """Predict each row from a fit without its study.

    Parameters
    ----------
    form : FatigueForm
    rows : list of SetRow
    full : FatigueFit
        Fit of all rows, from whose mode each of the others starts.
    draws : int
        Parameter draws (normal approximation) per prediction.
    """
    out = LeftOut(*(np.full(len(rows), np.nan) for _ in fields(LeftOut)))
    for fold in sorted({row.fold for row in rows}):
        held = [index for index, row in enumerate(rows) if row.fold == fold]
        rest = [row for row in rows if row.fold != fold]
        fit = fit_form(form, rest, start=full, curvature=False)
        # The curvature of the full fit stands in for that of each: one study more or less changes it little.
        rng = np.random.default_rng(11)
        thetas = rng.multivariate_normal(fit.theta, full.covariance, draws, method="cholesky")
        predicted = predict_rows(form, thetas, [rows[index] for index in held])
        for field in fields(LeftOut):
            getattr(out, field.name)[held] = getattr(predicted, field.name)
    return out
