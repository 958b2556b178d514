"""Proper scores of forecasts that are draws: the forecaster does best who says what he believes."""

from __future__ import annotations

import numpy as np

from workbench.quantities import FloatArray, Numbers

__all__ = ["brier", "crps", "log_score", "share_inside"]


def crps(draws: FloatArray, observed: Numbers) -> FloatArray:
    """Continuous ranked probability score: how far a forecast lies from what happened, less its own spread.

    The mean distance of the draws from the truth, less half their mean distance from each other; of a single number its
    absolute error. Lower is better.

    Parameters
    ----------
    draws : array, shape (..., draws)
    observed : array, shape (...)
        In the unit of the draws.

    Returns
    -------
    array, shape (...), in the unit of the draws, >= 0

    Notes
    -----
    Equation 21 of Gneiting T, Raftery AE. 2007. J Am Stat Assoc 102:359-378, on the draws as they are.

    >>> crps(np.array([[3.0, 3.0], [0.0, 2.0]]), np.array([5.0, 1.0])).tolist()
    [2.0, 0.5]
    """
    ordered = np.sort(np.asarray(draws, dtype=np.float64), axis=-1)
    count = ordered.shape[-1]
    weights = (2.0 * np.arange(count) + 1.0 - count) / count**2
    away = np.abs(ordered - np.asarray(observed, dtype=np.float64)[..., np.newaxis]).mean(axis=-1)
    return np.asarray(away - ordered @ weights)


def brier(chance: Numbers, happened: Numbers) -> FloatArray:
    """Squared error of a chance, 0 to 1; lower is better.

    >>> round(float(brier(0.8, True)), 9), round(float(brier(0.8, False)), 9)
    (0.04, 0.64)
    """
    return np.asarray((np.asarray(chance, dtype=np.float64) - happened) ** 2)


def log_score(chance: Numbers, happened: Numbers) -> FloatArray:
    """Minus the natural log of the chance that was given to what happened, >= 0; lower is better.

    Parameters
    ----------
    chance : array, [1], above 0 and below 1
    happened : array, bool

    >>> round(float(log_score(0.5, True)), 4)
    0.6931
    """
    chance = np.asarray(chance, dtype=np.float64)
    return np.asarray(-np.log(np.where(happened, chance, 1.0 - chance)))


def share_inside(draws: FloatArray, observed: Numbers, share: float) -> FloatArray:
    """How much of an observed whole number lies inside the middle ``share`` of a forecast, 0 to 1.

    Reps are whole, and so are bands of them, which hold more than they say. Here a number takes up as much of the
    forecast as it has draws, and what counts is the part of that within the band: where forecasts are right, the mean
    is ``share``, of whole numbers too, and where all that ended early counts as "at least".

    Parameters
    ----------
    draws : array, shape (..., draws)
    observed : array, shape (...)
    share : float, [1], 0 to 1

    Returns
    -------
    array, shape (...), [1], 0 to 1

    Notes
    -----
    The uniform form of Czado C, Gneiting T, Held L. 2009. Biometrics 65:1254-1261, equation 2, over the band.

    >>> share_inside(np.array([4.0, 5.0, 5.0, 6.0]), 5.0, 0.8).tolist()
    1.0
    >>> share_inside(np.array([4.0, 5.0]), 9.0, 0.8).tolist()
    0.0
    """
    observed = np.asarray(observed, dtype=np.float64)[..., np.newaxis]
    below, up_to = (draws < observed).mean(axis=-1), (draws <= observed).mean(axis=-1)
    low, high = 0.5 * (1.0 - share), 0.5 * (1.0 + share)
    width = up_to - below
    part = np.clip(np.minimum(up_to, high) - np.maximum(below, low), 0.0, None)
    # A number that no draw has is a point of the forecast.
    as_point = (below > low) & (below < high)
    return np.asarray(np.where(width > 0.0, part / np.where(width > 0.0, width, 1.0), as_point))
