"""Draws from the posterior of a fatigue form, and how many independent draws they are worth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import scipy

from workbench.evidence.read import SetRow
from workbench.evidence.sets import FatigueFit, Likelihood
from workbench.quantities import FloatArray

__all__ = ["posterior"]

#: Degrees of freedom of the proposals, and effective draws that a proposal is learned from.
_T_FREEDOM: Final = 6
_ENOUGH_TO_LEARN: Final = 100
#: Independent draws that are wanted in the end, and rounds after which no more is tried.
_WANTED: Final = 500
_MOST_ROUNDS: Final = 15


def posterior(
    fit: FatigueFit,
    rows: Sequence[SetRow],
    *,
    sizes: Sequence[int] = (300, 400, 600, 800, 1000),
    seed: int = 7,
) -> tuple[FloatArray, float]:
    """Draw from the posterior by importance sampling about the mode, the proposal learned from round to round.

    Proposals are Student t (heavy tails: no part of the posterior is out of reach) with the mean and covariance of what
    is known by then. In the end every draw of every round counts, against the mixture of all proposals.

    Parameters
    ----------
    fit : FatigueFit
    rows : list of SetRow
    sizes : sequence of int
        Proposals of each round; the last is repeated while the draws are worth too few independent ones.
    seed : int

    Returns
    -------
    thetas : array, shape (proposals, parameters + 6)
        Equally weighted, in random order: a likely proposal comes more than once.
    effective : float
        How many independent draws they are worth, (sum of weights)**2 / sum of weights**2.
    """
    target = Likelihood(fit.form, rows)
    rng = np.random.default_rng(seed)
    centre, spread = fit.theta, fit.covariance
    proposals: list[Any] = []
    thetas, heights = np.empty((0, centre.size)), np.empty(0)
    drawn_sizes: list[int] = []
    weight = np.ones(1)
    while len(drawn_sizes) < len(sizes) or (_effective(weight) < _WANTED and len(drawn_sizes) < _MOST_ROUNDS):
        drawn_sizes.append(sizes[min(len(drawn_sizes), len(sizes) - 1)])
        proposals.append(scipy.stats.multivariate_t(centre, spread, df=_T_FREEDOM, seed=rng))
        drawn = proposals[-1].rvs(drawn_sizes[-1])
        thetas = np.vstack([thetas, drawn])
        heights = np.append(heights, [target.log_posterior(theta) for theta in drawn])
        shares = np.log(np.array(drawn_sizes) / heights.size)
        density = [share + proposal.logpdf(thetas) for share, proposal in zip(shares, proposals, strict=True)]
        log_weight = heights - np.logaddexp.reduce(density, axis=0)
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        learned = _evened(weight)
        centre = learned @ thetas
        spread = (learned[:, None] * (thetas - centre)).T @ (thetas - centre) + 1e-6 * np.eye(centre.size)
    even = (np.arange(weight.size) + rng.random()) / weight.size
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), even), weight.size - 1)
    return thetas[rng.permutation(chosen)], _effective(weight)


def _effective(weight: FloatArray) -> float:
    return float(1.0 / np.sum(weight**2))


def _evened(weight: FloatArray) -> FloatArray:
    """Weights to a power at which enough draws count: a few heavy ones would shrink a proposal onto themselves."""
    power, learned = 1.0, weight
    while _effective(learned) < _ENOUGH_TO_LEARN and power > 0.05:
        power *= 0.8
        learned = weight**power / np.sum(weight**power)
    return learned
