"""Exponential and logarithm for compiled loops, and how a function is compiled where numba is installed.

Written as series on the ranges that are left once powers of two are taken out, with no branch, so that the compiler
works several numbers at once; both are exact to the last digit or two (the logarithm of a sum of so many times its base
to as many times the last digit). Numba tells by the file of the function that was
asked for whether what it keeps is old: after a change here, touch those that import this.
"""

from __future__ import annotations

import importlib
import importlib.util
import math
from collections.abc import Callable
from typing import Any, Final, TypeVar, cast

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

numba: Any = importlib.import_module("numba") if importlib.util.find_spec("numba") else None
_Function = TypeVar("_Function", bound=Callable[..., Any])

__all__ = ["compiled", "compiled_counts", "exp_less_one", "exponential", "log_of_part", "near_one", "twice_artanh"]

_LN2: Final = 0.6931471805599453
#: ln 2 in two parts, the first with so few digits that its product with a whole number is exact.
_LN2_HIGH, _LN2_LOW = 0.693147180369123816490, 1.90821492927058770002e-10
#: Bits of 1.0 and of the exponent's last place, and of 2**52, whose last place is 1.
_ONE_BITS, _HALF_BITS = np.uint64(1023 << 52), np.uint64(1 << 51)
_PLACE, _MIRROR = np.uint64(52), np.uint64(2046)
_WHOLE_BITS, _WHOLE = np.uint64(0x4330000000000000), 4503599627370496.0 + 1023.0
#: Added to a number that leaves it no place below 1, and the whole number in its last bits: 1.5 times 2**52.
_NO_PARTS: Final = 6755399441055744.0


def shortened(coefficients: list[float], low: float, high: float, terms: int) -> tuple[float, ...]:
    """Return a polynomial of fewer terms that is nearly the same from ``low`` to ``high``, by Chebyshev's nodes."""
    near = Chebyshev.interpolate(Polynomial(coefficients), terms - 1, domain=[low, high])
    return tuple(near.convert(kind=Polynomial).coef.tolist())


#: ``(artanh(x) / x - 1) / x**2`` in powers of ``x**2``, to 1/5: within 2e-15 of it, of which the logarithm sees 1/25.
_ARTANH: Final = shortened([1.0 / (3.0 + 2.0 * power) for power in range(30)], 0.0, 0.04, 7)
#: ``(exp(x) - 1 - x) / x**2`` in powers of x, to ln(2) / 2 on both sides: within 1e-15 of it, of which the exponential
#: sees an eighth.
_HALF_LN2: Final = 0.5 * _LN2
_EXP: Final = shortened([1.0 / math.factorial(power + 2) for power in range(25)], -_HALF_LN2, _HALF_LN2, 10)


def compiled(function: _Function) -> _Function:
    """Compile a function of numbers and arrays, kept on disk for the next start where that can be written."""
    return _compiled(function, {"contract"})


def compiled_counts(function: _Function) -> _Function:
    """Compile a function that adds whole numbers up, which come to the same in any order, and so to be added faster."""
    return _compiled(function, {"contract", "reassoc", "nsz"})


def _compiled(function: _Function, fastmath: set[str]) -> _Function:
    if numba is None:
        return function
    settings: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": fastmath}
    try:
        return cast("_Function", numba.njit(cache=True, **settings)(function))
    except RuntimeError:  # no folder for what is kept
        return cast("_Function", numba.njit(**settings)(function))


@compiled
def near_one(more: float, base: float) -> tuple[float, float, float]:
    """Return what ``ln(1 + more / base)`` is twice the artanh of, over and under the line, and what is to be added.

    That is the logarithm of a power of two, without which the two are 2/3 to 3/2 apart, and the artanh that of a fifth
    at most.
    """
    whole = base + more
    power = (np.float64(whole).view(np.uint64) - np.float64(base).view(np.uint64) + _ONE_BITS + _HALF_BITS) >> _PLACE
    scale = np.uint64((_MIRROR - power) << _PLACE).view(np.float64)
    exponent = np.uint64(power | _WHOLE_BITS).view(np.float64) - _WHOLE
    return more + whole * (scale - 1.0), base + whole * scale, exponent * _LN2


@compiled
def twice_artanh(part: float, more: float) -> float:
    """Return ``2 artanh(part) + more``, for -1/5 to 1/5."""
    a, b, c, d, e, f, g = _ARTANH
    square, double = part * part, part + part
    series = a + square * (b + square * (c + square * (d + square * (e + square * (f + square * g)))))
    return more + (double + double * square * series)


@compiled
def log_of_part(more: float, base: float) -> float:
    """Return ``ln(1 + more / base)``, for a base and a sum that are above 0."""
    over, under, rest = near_one(more, base)
    return twice_artanh(over / under, rest)


@compiled
def power_and_rest(value: float) -> tuple[float, float]:
    """Return a power of two, and what the exponential of the rest of a value is above 1: at most ln(2) / 2 is left."""
    powers = np.float64(value * (1.0 / _LN2) + _NO_PARTS)
    exponent = powers - _NO_PARTS
    scale = np.uint64((powers.view(np.uint64) + np.uint64(1023)) << _PLACE).view(np.float64)
    x = (value - exponent * _LN2_HIGH) - exponent * _LN2_LOW
    a, b, c, d, e, f, g, h, i, j = _EXP
    series = a + x * (b + x * (c + x * (d + x * (e + x * (f + x * (g + x * (h + x * (i + x * j))))))))
    return scale, x + x * x * series


@compiled
def exponential(value: float) -> float:
    """Return ``exp(value)``, for -700 to 700."""
    scale, more = power_and_rest(value)
    return scale + scale * more


@compiled
def exp_less_one(value: float) -> float:
    """Return ``exp(value) - 1``, for -700 to 700."""
    scale, more = power_and_rest(value)
    return scale * more + (scale - 1.0)
