"""Fit of a fatigue form to published runs of sets, with random effects between groups, and its left-out predictions.

Each group of people (a sample of a study) has its own log recovery rate, drawn from a common spread; women's mean may
differ. Each row misses by a share of its own besides sampling. The group's rate, and its endurance where no first set
is given, are integrated out on fixed nodes. Priors are weak: a form's own starting values within a factor of about two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from typing import Any, Final

import numpy as np
from scipy import optimize

from workbench.evidence.population import Runs, lifters, needs_endurance, row_values, run_reps
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm
from workbench.quantities import FloatArray

__all__ = [
    "HYPER",
    "FatigueFit",
    "LeftOut",
    "coordinates",
    "fit_form",
    "left_out_form",
    "parameters_at",
    "posterior",
    "predict_rows",
]

#: What is fitted besides the form's own parameters, the first two in logs: spread of log recovery
#: between groups, misfit of a row, what women's and the legs' log recovery add.
HYPER: Final = ("group_sd", "misfit", "female", "legs")
_HYPER_START: Final = (np.log(0.4), np.log(0.06), 0.3, 0.0)
_START_LOG_SD: Final = 1.0
#: Strength itself returns with a half-time under 15 s (sahlin_1989), so its time constant is held closer.
_HELD_LOG_SD: Final = {"strength_tau_s": 0.4}
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


class _Likelihood:
    """How probable published rows are, for any coordinates of a form and of `HYPER`."""

    def __init__(self, form: FatigueForm, rows: Sequence[SetRow]) -> None:
        self.form, self.rows, self.people = form, list(rows), lifters()
        needs = np.array([needs_endurance(row) for row in rows], dtype=bool)
        # Rows that need the endurance of their group, and those that do not: their numbers, and their runs.
        self.parts = [
            (wanted, index, Runs([self.rows[number] for number in index]))
            for wanted in (False, True)
            if (index := np.flatnonzero(needs == wanted)).size
        ]
        self.observed = np.array([row.value for row in rows])
        self.errors = _standard_errors(rows)
        self.pooled = np.sqrt([row.groups for row in rows])
        names = np.array([f"{row.source}|{row.group}" for row in rows])
        self.member = (names == np.unique(names)[:, None]).astype(np.float64)
        self.recovery, self.endurance, self.log_weight = _grid()
        self.start = np.concatenate([coordinates(form.parameters), _HYPER_START])
        self.size = self.start.size - len(HYPER)
        self.prior_sd = np.array([_HELD_LOG_SD.get(name, _START_LOG_SD) for name in form.parameter_names])

    def predicted(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Value and misfit scale of each row at each node, shape (rows, nodes)."""
        log_sd, _, female, legs = theta[self.size :]
        values = np.empty((2, len(self.rows), self.log_weight.size))
        for needs_endurance_too, index, runs in self.parts:
            spread = runs.group_spread(float(np.exp(log_sd)))
            mean = female * runs.female + legs * runs.legs
            log_recovery = mean[:, None] + spread[:, None] * self.recovery
            score, repeats = np.zeros_like(self.recovery), _ENDURANCE_NODES
            if needs_endurance_too:
                log_recovery = np.repeat(log_recovery, _ENDURANCE_NODES, axis=1)
                score, repeats = np.tile(self.endurance, _RECOVERY_NODES), 1
            capacity = run_reps(runs, self.people, self.form, parameters_at(self.form, theta), log_recovery, score)
            values[:, index] = np.repeat(np.array(row_values(runs, capacity)), repeats, axis=2)
        # The misfits of the many studies behind a pooled row average out.
        return values[0], values[1] / self.pooled[:, None]

    def misfit_variance(self, theta: FloatArray, scale: FloatArray) -> FloatArray:
        """Variance of what each row misses by besides sampling, shape (rows, nodes)."""
        return np.asarray((np.exp(theta[self.size + 1]) * scale) ** 2)

    def log_posterior(self, theta: FloatArray) -> float:
        """Log of prior times likelihood, up to a constant."""
        if np.any(np.abs(theta - self.start) > 6.0):
            return -np.inf
        value, scale = self.predicted(theta)
        variance = self.errors[:, None] ** 2 + self.misfit_variance(theta, scale)
        each = -0.5 * ((self.observed[:, None] - value) ** 2 / variance + np.log(variance))
        nodes = self.member @ each + self.log_weight
        top = nodes.max(axis=1)
        likelihood = float(np.sum(top + np.log(np.exp(nodes - top[:, None]).sum(axis=1))))
        own = (theta[: self.size] - self.start[: self.size]) / self.prior_sd
        spread, misfit, female, legs = theta[self.size :]
        prior = -0.5 * float(own @ own)
        # Half-normal spreads (0.5 and 0.15) with the Jacobian of the log; differences normal.
        prior += -0.5 * (np.exp(spread) / 0.5) ** 2 + spread - 0.5 * (np.exp(misfit) / 0.15) ** 2 + misfit
        prior += -0.5 * ((female - 0.3) / 0.5) ** 2 - 0.5 * (legs / 0.5) ** 2
        return likelihood + prior if np.isfinite(likelihood) else -np.inf


@dataclass(frozen=True)
class FatigueFit:
    """A fatigue form fitted to published runs of sets.

    Attributes
    ----------
    form : FatigueForm
    theta : array, shape (parameters + 4,)
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
        values = [*own, *np.exp(self.theta[own.size :])]
        return {name: float(value) for name, value in zip(self.names, values, strict=True)}


def fit_form(
    form: FatigueForm, rows: Sequence[SetRow], *, start: FloatArray | None = None, curvature: bool = True
) -> FatigueFit:
    """Fit a fatigue form by its posterior mode.

    Parameters
    ----------
    form : FatigueForm
        Every field of its parameter set is fitted: positive, or between 0 and 1 where its name ends in ``_share``.
    rows : list of SetRow
    start : array, optional
        Coordinates to start from.
    curvature : bool
        Whether to work out the covariance at the mode.
    """
    target = _Likelihood(form, rows)

    def objective(theta: FloatArray) -> float:
        value = target.log_posterior(theta)
        return 1e6 if not np.isfinite(value) else -value

    begin = target.start if start is None else start
    best = optimize.minimize(objective, begin, method="L-BFGS-B", options={"maxiter": 120, "ftol": 1e-7, "eps": 1e-4})
    if start is None:
        few = {"maxiter": 3, "xtol": 1e-2, "ftol": 1e-4}
        further = optimize.minimize(objective, best.x, method="Powell", options=few)
        best = min((best, further), key=lambda result: float(result.fun))
    covariance = _covariance(objective, best.x) if curvature else np.eye(best.x.size) * 0.01
    return FatigueFit(form, np.asarray(best.x), covariance, -float(best.fun))


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


def posterior(fit: FatigueFit, rows: Sequence[SetRow], *, steps: int, seed: int) -> FloatArray:
    """Draw from the posterior by adaptive random-walk Metropolis from the mode; shape (steps // 4, parameters + 4).

    A quarter is burnt; of the rest every third step is kept.
    """
    target = _Likelihood(fit.form, rows)
    rng = np.random.default_rng(seed)
    size = fit.theta.size
    factor = np.linalg.cholesky(fit.covariance + 1e-9 * np.eye(size))
    scale = 2.0 / np.sqrt(size)
    now, height = fit.theta, fit.log_posterior
    kept = []
    burn = steps // 4
    accepted = 0
    for index in range(steps):
        proposal = now + scale * factor @ rng.standard_normal(size)
        level = target.log_posterior(proposal)
        if np.log(rng.random()) < level - height:
            now, height = proposal, level
            accepted += 1
        if index < burn and index % 50 == 49:
            scale *= np.exp(accepted / 50 - 0.25)
            accepted = 0
        if index >= burn and (index - burn) % 3 == 0:
            kept.append(now)
    return np.array(kept)


@dataclass(frozen=True)
class LeftOut:
    """Predictions of rows from fits without their study, each array of shape (rows,)."""

    mean: FloatArray
    sd: FloatArray
    low: FloatArray
    high: FloatArray


def predict_rows(form: FatigueForm, thetas: FloatArray, rows: Sequence[SetRow]) -> LeftOut:
    """Predict study means of unseen groups: parameters, group, misfit and sampling all uncertain; 80 % interval.

    Parameters
    ----------
    form : FatigueForm
    thetas : array, shape (draws, parameters + 4)
    rows : list of SetRow
    """
    target = _Likelihood(form, rows)
    rng = np.random.default_rng(3)
    sampling = np.where([row.grade == "assumed" for row in rows], 0.0, target.errors**2)[:, None]
    samples, means, weights = [], [], np.exp(target.log_weight)
    for theta in thetas:
        value, scale = target.predicted(theta)
        variance = sampling + target.misfit_variance(theta, scale)
        pick = rng.choice(weights.size, 40, p=weights)
        samples.append(value[:, pick] + np.sqrt(variance[:, pick]) * rng.standard_normal((len(rows), 40)))
        means.append(value @ weights)
    every = np.concatenate(samples, axis=1)
    for index, row in enumerate(rows):
        top = row.cap * row.set_to if row.family == "capped total" else np.inf
        every[index] = np.clip(every[index], 0.0, 1.0 if row.family == "submaximal" else top)
    low, high = np.quantile(every, [0.1, 0.9], axis=1)
    return LeftOut(np.mean(means, axis=0), every.std(axis=1), low, high)


def left_out_form(form: FatigueForm, rows: Sequence[SetRow], full: FatigueFit, *, draws: int = 12) -> LeftOut:
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
    out = LeftOut(*(np.full(len(rows), np.nan) for _ in range(4)))
    for fold in sorted({row.fold for row in rows}):
        held = [index for index, row in enumerate(rows) if row.fold == fold]
        rest = [row for row in rows if row.fold != fold]
        fit = fit_form(form, rest, start=full.theta, curvature=False)
        # The curvature of the full fit stands in for that of each: one study more or less changes it little.
        rng = np.random.default_rng(11)
        thetas = rng.multivariate_normal(fit.theta, full.covariance, draws, method="cholesky")
        predicted = predict_rows(form, thetas, [rows[index] for index in held])
        for name in ("mean", "sd", "low", "high"):
            getattr(out, name)[held] = getattr(predicted, name)
    return out
