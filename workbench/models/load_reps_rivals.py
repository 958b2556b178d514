"""Rival shapes of the load-reps curve, each one function each way and a frozen parameter set.

`workbench.models.load_reps` says what a curve is and lists them, `CURVES`. Like the workbench's own, all give one rep
at the 1RM. They stand here for comparison, none with a source of its own; critical-load regressions described 30
lifters less well than an exponential (mitter2023, doi 10.1080/17461391.2022.2089915).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray, InputError, positive

__all__ = [
    "AsymptoticExponential",
    "CriticalLoad",
    "PowerLaw",
    "asymptotic_load_fraction",
    "asymptotic_reps",
    "critical_load_fraction",
    "critical_load_reps",
    "power_law_load_fraction",
    "power_law_reps",
]


def _load_fraction(value: ArrayLike) -> FloatArray:
    x = np.asarray(value, dtype=np.float64)
    return np.where(x >= 0.0, x, np.nan)


def _share(name: str, value: ArrayLike) -> None:
    array = np.asarray(value, dtype=np.float64)
    if np.any((array < 0.0) | (array >= 1.0)):
        raise InputError(None, name, "is out of range", "use a share of 1RM from 0 to below 1")


@dataclass(frozen=True)
class AsymptoticExponential:
    """Parameters of the exponential that levels off.

    Attributes
    ----------
    floor : array, [1], 0 <= a < 1; a, the share of 1RM at or below which the curve sets no limit to the reps.
    rate : array, [1/rep], > 0; b, how fast the part above the floor falls.
    """

    floor: ArrayLike
    rate: ArrayLike

    def __post_init__(self) -> None:
        """Refuse values without meaning."""
        _share("floor", self.floor)
        positive("rate", self.rate)


@dataclass(frozen=True)
class PowerLaw:
    """Parameter of the power law: ``exponent``, b, > 0."""

    exponent: ArrayLike

    def __post_init__(self) -> None:
        """Refuse values without meaning."""
        positive("exponent", self.exponent)


@dataclass(frozen=True)
class CriticalLoad:
    """Parameters of the hyperbola.

    Attributes
    ----------
    critical_load : array, [1], 0 <= c < 1
        Share of 1RM at or below which the curve sets no limit to the reps.
    half_reps : array, [reps], > 0
        h, reps beyond the first that halve what is above it.
    """

    critical_load: ArrayLike
    half_reps: ArrayLike

    def __post_init__(self) -> None:
        """Refuse values without meaning."""
        _share("critical_load", self.critical_load)
        positive("half_reps", self.half_reps)


def asymptotic_reps(load_fraction: ArrayLike, *, parameters: AsymptoticExponential) -> FloatArray:
    """Reps to failure on the exponential that levels off: ``r = 1 + ln((1 - a) / (x - a)) / b``.

    Otherwise as `reps_to_failure`, to which a floor of 0 leads back. Infinite at or below the floor.
    """
    x = _load_fraction(load_fraction)
    a, b = np.asarray(parameters.floor, dtype=np.float64), np.asarray(parameters.rate, dtype=np.float64)
    above = np.maximum(x - a, 0.0)
    with np.errstate(divide="ignore"):
        return np.maximum(1.0 - np.log(above / (1.0 - a)) / b, 0.0)


def asymptotic_load_fraction(reps: ArrayLike, *, parameters: AsymptoticExponential) -> FloatArray:
    """Share of 1RM on the exponential that levels off: ``x = a + (1 - a) exp(-b (r - 1))``."""
    a = np.asarray(parameters.floor, dtype=np.float64)
    return a + (1.0 - a) * np.exp(-np.asarray(parameters.rate) * (np.asarray(reps, dtype=np.float64) - 1.0))


def power_law_reps(load_fraction: ArrayLike, *, parameters: PowerLaw) -> FloatArray:
    """Reps to failure on the power law: ``r = x ** (-1 / b)``.

    Otherwise as `reps_to_failure`, but never 0 however heavy the load.
    """
    x = _load_fraction(load_fraction)
    b: FloatArray = np.asarray(parameters.exponent, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.power(x, -1.0 / b)


def power_law_load_fraction(reps: ArrayLike, *, parameters: PowerLaw) -> FloatArray:
    """Share of 1RM on the power law: ``x = r ** (-b)``; infinite at 0 reps."""
    b: FloatArray = np.asarray(parameters.exponent, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.power(np.asarray(reps, dtype=np.float64), -b)


def critical_load_reps(load_fraction: ArrayLike, *, parameters: CriticalLoad) -> FloatArray:
    """Reps to failure on the hyperbola: ``r = 1 + h ((1 - c) / (x - c) - 1)``.

    Otherwise as `reps_to_failure`. Infinite at or below the critical load. With h of 1 it is the plain critical-load
    relation, (x - c) r constant.
    """
    x = _load_fraction(load_fraction)
    c, h = np.asarray(parameters.critical_load, dtype=np.float64), np.asarray(parameters.half_reps, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.maximum(1.0 + h * ((1.0 - c) / np.maximum(x - c, 0.0) - 1.0), 0.0)


def critical_load_fraction(reps: ArrayLike, *, parameters: CriticalLoad) -> FloatArray:
    """Share of 1RM on the hyperbola: ``x = c + (1 - c) / (1 + (r - 1) / h)``.

    NaN at or below ``r = 1 - h``, where the hyperbola has no branch.
    """
    c = np.asarray(parameters.critical_load, dtype=np.float64)
    spread = 1.0 + (np.asarray(reps, dtype=np.float64) - 1.0) / np.asarray(parameters.half_reps, dtype=np.float64)
    return c + (1.0 - c) / np.where(spread > 0.0, spread, np.nan)
