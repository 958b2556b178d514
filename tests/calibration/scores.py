"""What a forecast is worth: where the truth lies in it, and what it says beyond the rules of thumb."""

from __future__ import annotations

import numpy as np

from workbench.answers.review.scores import brier, crps

__all__ = ["brier", "cluster_mean", "crps", "inside", "rank"]


def rank(draws: np.ndarray, truth: float, rng: np.random.Generator) -> float:
    """Where the truth lies in the draws, 0 to 1: uniform where they are right, of whole numbers too.

    Among draws equal to the truth, anywhere.
    """
    below, equal = float((draws < truth).mean()), float((draws == truth).mean())
    return below + rng.random() * equal


def inside(ranks: np.ndarray, share: float) -> np.ndarray:
    """Whether ranks lie in the middle interval of a share.

    >>> inside(np.array([0.05, 0.5, 0.95]), 0.8).tolist()
    [False, True, False]
    """
    return np.abs(ranks - 0.5) <= 0.5 * share


def cluster_mean(values: np.ndarray, of: np.ndarray) -> tuple[float, float]:
    """Mean, and its standard error where values of one lifter go together.

    Parameters
    ----------
    values : array, shape (values,)
    of : array, shape (values,)
        The lifter of each.

    >>> cluster_mean(np.array([1.0, 1.0, 0.0, 0.0]), np.array([1, 1, 2, 2]))
    (0.5, 0.5)
    """
    mean = float(values.mean())
    off = np.array([float((values[of == lifter] - mean).sum()) for lifter in np.unique(of)])
    count = off.size
    return mean, float(np.sqrt((off**2).sum() * count / max(count - 1, 1)) / values.size)
