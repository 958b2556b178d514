"""Importance sampling against a posterior that is known in closed form."""

import numpy as np
import pytest

from workbench.evidence import sampling
from workbench.evidence.sets import FatigueFit
from workbench.models.fatigue import EFFORT


def sampled(monkeypatch, covariance, log_density, sizes=(400, 400, 600, 800)):
    class Known:
        def __init__(self, *_):
            pass

        def log_posterior(self, theta):
            return log_density(theta)

    monkeypatch.setattr(sampling, "Likelihood", Known)
    size = len(covariance)
    # The start is off by one sd and half as wide: it has to be learned.
    fit = FatigueFit(EFFORT, np.sqrt(np.diag(covariance)), 0.25 * covariance, 0.0)
    return sampling.posterior(fit, [], sizes=sizes), size


def test_mean_and_covariance_of_a_normal_posterior(monkeypatch):
    covariance = np.array([[1.0, 0.8, 0.0], [0.8, 1.0, 0.0], [0.0, 0.0, 0.04]])
    inverse = np.linalg.inv(covariance)
    (thetas, effective), _ = sampled(monkeypatch, covariance, lambda theta: -0.5 * theta @ inverse @ theta)
    assert effective > 800
    # 800 independent draws: a mean is known to 0.035 sd, a variance to 5 %; four standard errors.
    assert thetas.mean(axis=0) / np.sqrt(np.diag(covariance)) == pytest.approx(np.zeros(3), abs=0.15)
    assert np.cov(thetas.T) == pytest.approx(covariance, abs=0.2)
    assert np.var(thetas[:, 2]) == pytest.approx(0.04, rel=0.2)


def test_rounds_are_repeated_until_the_draws_are_worth_enough(monkeypatch):
    # Rounds of 100 cannot be worth 500 independent draws before the sixth.
    (thetas, effective), _ = sampled(monkeypatch, np.eye(3), lambda theta: -0.5 * theta @ theta, sizes=(100,))
    assert len(thetas) >= 600
    assert effective >= 500
