"""Fit of a fatigue form to published runs of sets, with random effects between groups, and its left-out predictions.

Each group of people (a sample of a study) has its own log recovery rate, drawn from a common spread; women's mean may
differ. Each row misses by a share of its own besides sampling. The group's rate, and its endurance where no first set
is given, are integrated out on fixed nodes. Where a row prints the sd between people, it is fitted too: it tells how
much recovery differs between them. Priors are weak: a form's own starting values within a factor of about two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
from scipy import optimize

from workbench.evidence.population import (
    SPREAD_FAMILIES,
    Between,
    Lifters,
    Runs,
    lifters,
    needs_endurance,
    row_values,
    run_reps,
)
from workbench.evidence.read import SetRow
from workbench.models.fatigue import FatigueForm
from workbench.quantities import FloatArray

__all__ = ["HYPER", "FatigueFit", "LeftOut", "Likelihood", "fit_form", "left_out_form", "parameters_at", "predict_rows"]

#: What is fitted besides the form's own parameters, the first two in logs: spread of log recovery
#: between groups, misfit of a row, what women's and the legs' log recovery add, spread of log recovery between the
#: lifters of a group (in logs), and its correlation with log endurance (as its inverse hyperbolic tangent).
HYPER: Final = ("group_sd", "misfit", "female", "legs", "people_sd", "tie")
_HYPER_START: Final = (np.log(0.4), np.log(0.06), 0.2, 0.0, np.log(0.6), 0.3)
_START_LOG_SD: Final = 1.0
#: Strength itself returns with a half-time under 15 s (sahlin_1989), and a part of what is lost is still missing after
#: 10 to 15 min (hernandez_lougedo_2022), so these time constants are held closer.
_HELD_LOG_SD: Final = {"strength_tau_s": 0.4, "slow_tau_s": 0.5}
#: Standard error of a row that gives no sd, in the unit of its family.
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


def _forward(form: FatigueForm) -> FloatArray:
    """Unbounded coordinates of the form's starting values."""
    values = np.array([float(getattr(form.parameters, field.name)) for field in fields(form.parameters)])
    shares = np.array([_is_share(field.name) for field in fields(form.parameters)])
    return np.where(shares, np.log(values / np.where(shares, 1.0 - values, 1.0)), np.log(values))


def parameters_at(form: FatigueForm, theta: FloatArray) -> Any:
    """Parameter set at unbounded coordinates, shape (parameters,) or (parameters, draws)."""
    names = [field.name for field in fields(form.parameters)]
    values = [
        1.0 / (1.0 + np.exp(-value)) if _is_share(name) else np.exp(value)
        for name, value in zip(names, theta[: len(names)], strict=True)
    ]
    return type(form.parameters)(*values)


def standard_errors(rows: Sequence[SetRow]) -> FloatArray:
    """Return the sampling error of each row, in its own unit; the sd of an assumed row is its prior sd."""
    out = []
    for row in rows:
        default = _DEFAULT_SE[row.family]
        if row.family == "submaximal":
            own = float(np.hypot(np.sqrt(max(row.value * (1 - row.value), 0.05) / row.n), default))
        elif row.groups > 1:
            own = _BETWEEN_STUDIES / float(np.sqrt(row.groups))
        elif np.isnan(row.sd):
            own = default
        else:
            own = row.sd if row.grade == "assumed" else row.sd / np.sqrt(row.n)
            # A printed sd near nothing (everyone at the cap) does not make a mean exact.
            own = max(own, 0.1)
        out.append(own)
    return np.array(out)


class Likelihood:
    """Prior and likelihood of a form's coordinates, from published rows."""

    def __init__(self, form: FatigueForm, rows: Sequence[SetRow], people: Lifters) -> None:
        self.form = form
        self.rows = list(rows)
        needs = np.array([needs_endurance(row) for row in rows], dtype=bool)
        # Runs of as many sets, and on as many nodes, are worked together.
        kinds = list(zip(needs.tolist(), [row.set_to for row in rows], strict=True))
        self.parts = [
            (np.array(index), Runs([self.rows[one] for one in index]))
            for kind in sorted(set(kinds))
            if (index := [one for one, its in enumerate(kinds) if its == kind])
        ]
        self.needs = needs
        self.people = people
        self.observed = np.array([row.value for row in rows])
        self.errors = standard_errors(rows)
        telling = [row.family in SPREAD_FAMILIES and row.grade != "assumed" and row.sd > 0.0 for row in rows]
        self.telling = np.flatnonzero(telling)
        self.log_sd = np.log(np.hypot([self.rows[one].sd for one in self.telling], _SPREAD_FLOOR))
        people_in = np.array([max(self.rows[one].n, 4.0) for one in self.telling])
        self.log_sd_error = np.hypot(np.sqrt(0.5 / (people_in - 1.0)), _SPREAD_MISFIT)
        self.pooled = np.sqrt([row.groups for row in rows])
        groups = sorted({f"{row.source}|{row.group}" for row in rows})
        self.member = np.array(
            [[f"{row.source}|{row.group}" == name for row in rows] for name in groups], dtype=np.float64
        )
        self.recovery, self.endurance, self.log_weight = _grid()
        self.start = np.concatenate([_forward(form), _HYPER_START])
        self.size = self.start.size - len(HYPER)
        names = [field.name for field in fields(form.parameters)]
        self.prior_sd = np.array([_HELD_LOG_SD.get(name, _START_LOG_SD) for name in names])

    def predicted(self, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Value, misfit scale and sd between people of each row at each node, shape (rows, nodes)."""
        log_sd, _, female, legs, people_sd, tie = theta[self.size :]
        between = Between(float(np.exp(people_sd)), float(np.tanh(tie)))
        values = np.empty((3, len(self.rows), self.log_weight.size))
        for index, runs in self.parts:
            spread = runs.group_spread(float(np.exp(log_sd)))
            mean = female * runs.female + legs * runs.legs
            log_recovery = mean[:, None] + spread[:, None] * self.recovery
            score = np.zeros_like(self.recovery)
            repeats = _ENDURANCE_NODES
            if self.needs[index[0]]:
                log_recovery = np.repeat(log_recovery, _ENDURANCE_NODES, axis=1)
                score = np.tile(self.endurance, _RECOVERY_NODES)
                repeats = 1
            capacity = run_reps(
                runs, self.people, self.form, parameters_at(self.form, theta), log_recovery, score, between
            )
            values[:, index] = np.repeat(np.array(row_values(runs, capacity)), repeats, axis=2)
        # The misfits of the many studies behind a pooled row average out.
        return values[0], values[1] / self.pooled[:, None], values[2]

    def log_posterior(self, theta: FloatArray) -> float:
        """Log of prior times likelihood, up to a constant."""
        if np.any(np.abs(theta - self.start) > 6.0):
            return -np.inf
        value, scale, sd = self.predicted(theta)
        variance = self.errors[:, None] ** 2 + (np.exp(theta[self.size + 1]) * scale) ** 2
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
        Mode in unbounded coordinates; the last six as `HYPER`.
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
        return (*(field.name for field in fields(self.form.parameters)), *HYPER)

    @property
    def values(self) -> dict[str, float]:
        """Parameters at the mode, in their own units."""
        size = self.theta.size - len(HYPER)
        own = parameters_at(self.form, self.theta)
        named = {field.name: float(getattr(own, field.name)) for field in fields(own)}
        hyper = {name: float(np.exp(value)) for name, value in zip(HYPER, self.theta[size:], strict=True)}
        return named | hyper | {"tie": float(np.tanh(self.theta[-1]))}

    def draws(self, n: int, rng: np.random.Generator) -> FloatArray:
        """Coordinates drawn from the normal approximation, shape (n, parameters + 6)."""
        return rng.multivariate_normal(self.theta, self.covariance, n, method="cholesky")


def fit_form(
    form: FatigueForm,
    rows: Sequence[SetRow],
    *,
    start: FatigueFit | None = None,
    people: Lifters | None = None,
    curvature: bool = True,
) -> FatigueFit:
    """Fit a fatigue form by its posterior mode.

    Parameters
    ----------
    form : FatigueForm
        Every field of its parameter set is fitted: positive, or between 0 and 1 where its name ends in ``_share``.
    rows : list of SetRow
    start : FatigueFit, optional
        A fit to nearly the same rows, covariance included, to start from.
    people : Lifters, optional
    curvature : bool
        Whether to work out the covariance at the mode.
    """
    target = Likelihood(form, rows, lifters() if people is None else people)

    def objective(theta: FloatArray) -> float:
        value = target.log_posterior(theta)
        return 1e6 if not np.isfinite(value) else -value

    if start is None:
        best = optimize.minimize(objective, target.start, method="L-BFGS-B", options=_OPTIONS)
        again = optimize.minimize(
            objective, best.x, method="Powell", options={"maxiter": 3, "xtol": 1e-2, "ftol": 1e-4}
        )
        best = min((best, again), key=lambda result: float(result.fun))
        mode, least = np.asarray(best.x), float(best.fun)
    else:
        # From a fit nearby: in coordinates in which its posterior is round, few steps are needed.
        factor = np.linalg.cholesky(start.covariance + 1e-9 * np.eye(start.theta.size))
        best = optimize.minimize(
            lambda z: objective(start.theta + factor @ z),
            np.zeros(start.theta.size),
            method="L-BFGS-B",
            options=_NEARBY_OPTIONS,
        )
        mode, least = start.theta + factor @ best.x, float(best.fun)
    covariance = _covariance(objective, mode) if curvature else np.eye(mode.size) * 0.01
    return FatigueFit(form, mode, covariance, -least)


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


def predict_rows(
    form: FatigueForm, thetas: FloatArray, rows: Sequence[SetRow], *, seed: int = 3, people: Lifters | None = None
) -> LeftOut:
    """Predict study means of unseen groups: parameters, group, misfit and sampling all uncertain; 80 % interval.

    Parameters
    ----------
    form : FatigueForm
    thetas : array, shape (draws, parameters + 6)
    rows : list of SetRow
    """
    target = Likelihood(form, rows, lifters() if people is None else people)
    rng = np.random.default_rng(seed)
    samples, means, people_sds, weights = [], [], [], np.exp(target.log_weight)
    for theta in thetas:
        value, scale, sd = target.predicted(theta)
        variance = target.errors[:, None] ** 2 + (np.exp(theta[target.size + 1]) * scale) ** 2
        assumed = np.array([row.grade == "assumed" for row in rows])[:, None]
        variance = np.where(assumed, (np.exp(theta[target.size + 1]) * scale) ** 2, variance)
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
    out = LeftOut(*(np.full(len(rows), np.nan) for _ in range(5)))
    for fold in sorted({row.fold for row in rows}):
        held = [index for index, row in enumerate(rows) if row.fold == fold]
        rest = [row for row in rows if row.fold != fold]
        fit = fit_form(form, rest, start=full, curvature=False)
        # The curvature of the full fit stands in for that of each: one study more or less changes it little.
        thetas = replace(fit, covariance=full.covariance).draws(draws, np.random.default_rng(11))
        predicted = predict_rows(form, thetas, [rows[index] for index in held])
        for name in ("mean", "sd", "low", "high", "person_sd"):
            getattr(out, name)[held] = getattr(predicted, name)
    return out
