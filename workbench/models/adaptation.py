"""From week to week: session load, strength gain, and the impulse-response model with its warning.

None of this decides anything: gains differ more between lifters than between plans, and no cut-off of session load is
supported by evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray, within

__all__ = [
    "IMPULSE_RESPONSE",
    "ImpulseResponse",
    "gained",
    "impulse_response",
    "monotony",
    "session_load",
    "strain",
]


def session_load(session_rpe: ArrayLike, minutes: ArrayLike) -> FloatArray:
    """Session load, rating of the whole session times its duration: ``load = rating minutes``.

    Parameters
    ----------
    session_rpe : array, [1], 0 to 10
        Category-ratio rating of the session as a whole, given about half an hour after it.
    minutes : array, [min], >= 0

    Returns
    -------
    array, [rating times min]

    References
    ----------
    foster_1998, doi 10.1097/00005768-199807000-00023: session rating times duration.

    Raises
    ------
    InputError
        Outside the ranges.

    >>> float(session_load(7, 60))
    420.0
    """
    rating = within("session_rpe", session_rpe, 0.0, 10.0)
    return np.asarray(rating * within("minutes", minutes, 0.0, 1440.0, "min"))


def monotony(daily_load: ArrayLike) -> FloatArray:
    """Monotony of a week, mean daily load over its standard deviation: ``monotony = mean / sd``.

    foster_1998, doi 10.1097/00005768-199807000-00023.

    Parameters
    ----------
    daily_load : array, shape (..., days), >= 0
        Every day of the week; 0 on a day without training.

    Returns
    -------
    array, shape (...), [1]
        NaN where every day is the same, where it is not defined. The standard deviation is that of a sample (over
        days - 1). There is no cut-off: illness followed thresholds of each person's own.

    Examples
    --------
    Loads 0 and 300 on alternate days of six: mean 150, standard deviation sqrt(6 * 150**2 / 5) = 164.3.

    >>> float(monotony([0, 300, 0, 300, 0, 300]).round(4))
    0.9129
    """
    load = np.asarray(daily_load, dtype=np.float64)
    spread = np.std(load, axis=-1, ddof=1) if load.shape[-1] > 1 else np.zeros(load.shape[:-1])
    varies = np.ptp(load, axis=-1) > 0
    return np.asarray(np.mean(load, axis=-1) / np.where(varies, spread, np.nan))


def strain(daily_load: ArrayLike) -> FloatArray:
    """Strain of a week, its load times its monotony: ``strain = sum monotony``; arguments as `monotony`.

    foster_1998, doi 10.1097/00005768-199807000-00023.

    >>> float(strain([0, 300, 0, 300, 0, 300]).round(1))
    821.6
    """
    load = np.asarray(daily_load, dtype=np.float64)
    return np.asarray(np.sum(load, axis=-1) * monotony(load))


def gained(one_rm: ArrayLike, percent_per_week: ArrayLike, weeks: ArrayLike) -> FloatArray:
    """1RM after some weeks of even gain, compounding: ``1RM = 1RM_0 (1 + percent / 100) ** weeks``.

    Parameters
    ----------
    one_rm : array, [kg], > 0
    percent_per_week : array, [%]
        For a prior by years of training see ``data/evidence/gain_rates.csv``.
    weeks : array, [weeks], >= 0

    >>> float(gained(100, 1, 2).round(2))
    102.01
    """
    rate = np.asarray(percent_per_week, dtype=np.float64) / 100.0
    return np.asarray(np.asarray(one_rm, dtype=np.float64) * (1.0 + rate) ** np.asarray(weeks, dtype=np.float64))


@dataclass(frozen=True)
class ImpulseResponse:
    """Parameters of the two-component impulse-response model. Weakly identified: for research only.

    Fitted values depend on where the fit starts, pairs of them are so correlated that they cannot be told apart
    (hellard_2006, doi 10.1080/02640410500244697), published time constants of the two components overlap (4 to 51 and 4
    to 74 days, vermeire_2022, doi 10.1123/ijspp.2021-0494), the fatigue term added nothing to prediction in two
    cross-validated data sets (marchal_2025, doi 10.1038/s41598-025-88153-7), and there is no set of values for
    resistance training beyond single athletes. Generic constants are advised against (vermeire_2022).

    Attributes
    ----------
    baseline : float
        Performance without training, in its own unit.
    fitness_gain, fatigue_gain : float
        k1, k2, per unit of daily load.
    fitness_tau_days, fatigue_tau_days : float
        Means of nine elite swimmers, 95 % intervals 17 to 59 and 6 to 32 days (hellard_2006).
    """

    baseline: float = 100.0
    fitness_gain: float = 1.0
    fatigue_gain: float = 2.0
    fitness_tau_days: float = 38.0
    fatigue_tau_days: float = 19.0


IMPULSE_RESPONSE: Final = ImpulseResponse()


def impulse_response(daily_load: ArrayLike, *, parameters: ImpulseResponse = IMPULSE_RESPONSE) -> FloatArray:
    """Model performance on each day, before that day's training. Weakly identified: see `ImpulseResponse`.

    ``p(n) = p0 + k1 sum_{i<n} w(i) exp(-(n-i)/tau1) - k2 sum_{i<n} w(i) exp(-(n-i)/tau2)``
    (imbach_2022, doi 10.1186/s40798-022-00426-x).

    Parameters
    ----------
    daily_load : array, shape (..., days), >= 0
    parameters : ImpulseResponse

    Returns
    -------
    array, shape (..., days), in the unit of the baseline

    >>> impulse_response([1.0, 0.0, 0.0]).round(3).tolist()
    [100.0, 99.077, 99.149]
    """
    p = parameters
    load = np.asarray(daily_load, dtype=np.float64)
    fitness, fatigue = np.zeros(load.shape[:-1]), np.zeros(load.shape[:-1])
    keep, lose = np.exp(-1.0 / p.fitness_tau_days), np.exp(-1.0 / p.fatigue_tau_days)
    days = []
    for day in range(load.shape[-1]):
        days.append(p.baseline + p.fitness_gain * fitness - p.fatigue_gain * fatigue)
        fitness = (fitness + load[..., day]) * keep
        fatigue = (fatigue + load[..., day]) * lose
    return np.stack(days, axis=-1)
