"""Reps to failure of a fresh set at a share of the one-repetition maximum (1RM), and rival shapes of that curve.

The workbench's own curve is the anchored exponential ``x = exp(-k (r - 1))``: every rep costs the same log-strength
``k``, and one rep can be done at the 1RM. Among linear, exponential and critical-load regressions fitted to each
lifter's own sets, an exponential with two parameters (here: the 1RM and ``k``) described 30 lifters best at 70, 80 and
90 % of 1RM in the pin press (mitter2023, doi 10.1080/17461391.2022.2089915).

Reps are real numbers and are never rounded here: 7.6 means that seven reps are made with a little to spare and the
eighth fails. Whole reps are the business of whoever shows or simulates a set.

A rival shape is a `Curve`: two functions and a frozen parameter set. Whatever simulates, fits or predicts takes one as
``curve=``; an entry in `CURVES` lets it be found by name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workbench.models.fatigue_form import at_least
from workbench.models.load_reps_rivals import (
    AsymptoticExponential,
    CriticalLoad,
    PowerLaw,
    asymptotic_load_fraction,
    asymptotic_reps,
    critical_load_fraction,
    critical_load_reps,
    power_law_load_fraction,
    power_law_reps,
)
from workbench.quantities import FloatArray, InputError, positive

__all__ = [
    "AGREED_HEADROOM",
    "CURVES",
    "DEFAULT_CURVE",
    "MOST_REPS",
    "NO_BEND",
    "SLOPE_STEP",
    "STUDIED_LOAD_FRACTIONS",
    "Curve",
    "Exponential",
    "endurance_from_set",
    "exponential_load_fraction",
    "exponential_reps",
    "load_fraction_for",
    "reps_to_failure",
    "studied",
]

#: Most sets to failure on record were done between these shares of 1RM; outside, every curve is an extrapolation.
STUDIED_LOAD_FRACTIONS: Final = (0.60, 0.95)

#: Where a curve sets no limit, as below its floor, a simulated set still ends: no study has longer ones (assumed).
MOST_REPS: Final = 1000.0

#: Share of 1RM at which every curve gives a lifter of the same endurance the same reps: amid the studied loads.
_AGREED: Final = 0.75
#: The headroom there: what a bend leaves as it is.
AGREED_HEADROOM: Final = float(-np.log(_AGREED))

#: A bend as small as this is none: it moves no digit that is shown.
NO_BEND: Final = 1e-9

#: Headroom from side to side of which a slope is taken, ln 1: far below a plate, far above the last digits.
SLOPE_STEP: Final = 1e-4

#: So that 57 kg of 95 kg counts as 60 %, whatever the last binary digit says.
_ROUNDING: Final = 1e-9


def studied(load_fraction: ArrayLike) -> NDArray[np.bool_]:
    """Whether a load lies in the studied range, 60 to 95 % of 1RM, ends included.

    Parameters
    ----------
    load_fraction : array, any shape, [1]

    Returns
    -------
    bool array, same shape; False where the load is NaN

    >>> studied([0.5, 0.6, 0.95, 1.0]).tolist()
    [False, True, True, False]
    """
    x = np.asarray(load_fraction, dtype=np.float64)
    low, high = STUDIED_LOAD_FRACTIONS
    return np.asarray((x >= low - _ROUNDING) & (x <= high + _ROUNDING))


def reps_to_failure(load_fraction: ArrayLike, endurance: ArrayLike) -> FloatArray:
    """Reps completed by a fresh lifter before the first that fails: ``r = 1 + ln(1 / x) / k``.

    Parameters
    ----------
    load_fraction : array, any shape, [1], >= 0
        Load over today's 1RM, x. Studied from 0.60 to 0.95 (see `studied`); extrapolated outside.
    endurance : array that broadcasts with ``load_fraction``, [1/rep], > 0
        k, log-strength lost with each rep; lower is more enduring.

    Returns
    -------
    array, broadcast shape, [reps], >= 0
        Not rounded. 1 at the 1RM; below 1 over it (the lift fails), falling to 0 at exp(k) and staying there.
        Infinite at no load; NaN where the load is negative or NaN.

    Raises
    ------
    InputError
        Where ``endurance`` is zero or negative.

    >>> reps_to_failure([1.0, 0.8, 0.6], 0.035).round(2).tolist()
    [1.0, 7.38, 15.6]
    """
    x = np.asarray(load_fraction, dtype=np.float64)
    k = positive("endurance", endurance)
    with np.errstate(divide="ignore", invalid="ignore"):
        reps = np.asarray(np.log(x) * (-1.0 / k))
    reps += 1.0  # in place: the arrays are large where a whole block is simulated
    return np.maximum(reps, 0.0, out=reps)


def load_fraction_for(reps: ArrayLike, endurance: ArrayLike) -> FloatArray:
    """Share of 1RM at which a fresh lifter fails after ``reps``: ``x = exp(-k (r - 1))``.

    The inverse of `reps_to_failure`, from 0 reps up.

    Parameters
    ----------
    reps : array, any shape, [reps], >= 0
    endurance : array that broadcasts with ``reps``, [1/rep], > 0

    Returns
    -------
    array, broadcast shape, [1]; over 1 for less than one rep

    Raises
    ------
    InputError
        Where ``endurance`` is zero or negative.

    >>> round(float(load_fraction_for(10, 0.035)), 4)
    0.7298
    """
    return np.exp(-positive("endurance", endurance) * (np.asarray(reps, dtype=np.float64) - 1.0))


def endurance_from_set(load_fraction: ArrayLike, reps: ArrayLike) -> FloatArray:
    """Endurance k behind a fresh set to failure at a known share of 1RM: ``k = ln(1 / x) / (r - 1)``.

    Parameters
    ----------
    load_fraction : array, any shape, [1], 0 < x < 1
    reps : array that broadcasts, [reps], > 1

    Returns
    -------
    array, broadcast shape, [1/rep]
        NaN where the set says nothing about endurance (a single), or contradicts the 1RM (two reps at or over it).

    >>> endurance_from_set([0.8, 0.8, 1.0], [7, 1, 2]).round(4).tolist()
    [0.0372, nan, nan]
    """
    x, r = np.broadcast_arrays(np.asarray(load_fraction, dtype=np.float64), np.asarray(reps, dtype=np.float64))
    telling = (x > 0.0) & (x < 1.0) & (r > 1.0)
    k = np.full(x.shape, np.nan)
    k[telling] = -np.log(x[telling]) / (r[telling] - 1.0)
    return k


@dataclass(frozen=True)
class Exponential:
    """Parameter of the anchored exponential: ``endurance``, k, 1/rep, > 0."""

    endurance: ArrayLike

    def __post_init__(self) -> None:
        """Refuse values without meaning."""
        positive("endurance", self.endurance)


def exponential_reps(load_fraction: ArrayLike, *, parameters: Exponential) -> FloatArray:
    """Reps to failure on the anchored exponential; see `reps_to_failure`."""
    return reps_to_failure(load_fraction, parameters.endurance)


def exponential_load_fraction(reps: ArrayLike, *, parameters: Exponential) -> FloatArray:
    """Share of 1RM on the anchored exponential; see `load_fraction_for`."""
    return load_fraction_for(reps, parameters.endurance)


@dataclass(frozen=True)
class Curve:
    """A shape of the load-reps curve, ready to be fitted, compared and simulated.

    For a lifter, the reps beyond the first go as 1 / k, the lifter's endurance: on the anchored exponential they are
    S / k, with the headroom S = ln(1RM / load). Any other shape, with its parameters at ``start``, is stretched to
    agree with that at 75 % of 1RM, so that what is known of k holds for it too.

    Attributes
    ----------
    name : str
        Shown in tables and legends.
    reps : callable
        ``reps(load_fraction, *, parameters)``: reps to failure.
    load_fraction : callable
        ``load_fraction(reps, *, parameters)``: its inverse. One rep must give 1.
    start : frozen dataclass
        Parameters at which a fit begins; its fields, in order, are the parameters.
    bounds : mapping of parameter name to (low, high)
        Open interval in which a fit may look for each parameter.
    bend : array that broadcasts with headrooms, [1], optional
        How lifters' reps go otherwise than on the shape: see `bent`.

    >>> curve = CURVES["exponential"]
    >>> float(curve.reps(1.0, parameters=curve.start))
    1.0
    """

    name: str
    reps: Callable[..., FloatArray]
    load_fraction: Callable[..., FloatArray]
    start: Any
    bounds: Mapping[str, tuple[float, float]]
    bend: ArrayLike | None = field(default=None, compare=False)  # arrays are not equal or not: element by element

    def __repr__(self) -> str:
        """Return the name: all else would fill a screen wherever a signature shows its default."""
        return f"<Curve {self.name}>"

    def __post_init__(self) -> None:
        """Refuse bounds that do not belong to the parameters."""
        if set(self.bounds) != set(self.parameter_names):
            raise InputError(
                None, f"curve {self.name}", f"bounds for {sorted(self.bounds)}", f"give {list(self.parameter_names)}"
            )

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        return tuple(field.name for field in fields(self.start))

    def parameters(self, values: Sequence[ArrayLike]) -> Any:
        """Build the parameter set from one value, or one array of draws, per parameter."""
        return type(self.start)(*values)

    @property
    def _exponential(self) -> bool:
        return self.reps is exponential_reps

    @cached_property
    def _scale(self) -> float:
        """Endurance at which the shape needs no stretching."""
        reps = float(self.reps(_AGREED, parameters=self.start))
        if not 1.0 < reps < np.inf:
            raise InputError(
                None,
                f"curve {self.name}",
                f"gives {reps:g} reps at {100 * _AGREED:.0f} % of 1RM",
                "make it give more than one",
            )
        return float(-np.log(_AGREED) / (reps - 1.0))

    def bent(self, bend: ArrayLike | None) -> Curve:
        """Return the curve for lifters whose reps go otherwise than on it.

        Where the curve spends u (`spent`), theirs spends (exp(b u) - 1) / b, stretched to be the same at 75 % of 1RM
        whatever b is: powers of the load after Box and Cox (1964, doi 10.1111/j.2517-6161.1964.tb00553.x). Above 0
        there are more reps with lighter loads and fewer with heavier ones. On the anchored exponential, 0 is the
        curve itself, 8 the power law of `CURVES`, -1 a straight line of reps and load. Nothing bends over the 1RM.

        Parameters
        ----------
        bend : array that broadcasts with headrooms, [1], or None
            b; None where nobody departs from the curve.

        >>> bent = CURVES["exponential"].bent(8.0)
        >>> bent.fresh_reps(-np.log([0.6, 0.75, 0.9]), 0.032).round(2).tolist()
        [59.55, 9.99, 2.32]
        """
        return self if bend is self.bend else replace(self, bend=bend)

    def spent(self, headroom: ArrayLike) -> FloatArray:
        """Reps beyond the first times the endurance, for a headroom; both [1], the same on the anchored exponential."""
        headroom = np.asarray(headroom, dtype=np.float64)
        spent = headroom
        if not self._exponential:
            spent = self._scale * (np.asarray(self.reps(np.exp(-headroom), parameters=self.start)) - 1.0)
        return spent if self.bend is None else _bent(spent, self.bend)

    def fresh_reps(self, headroom: ArrayLike, endurance: ArrayLike) -> FloatArray:
        """Reps to failure of a fresh set.

        Parameters
        ----------
        headroom : array, any shape, [1]
            S = ln(1RM / load); below 0 over the 1RM.
        endurance : array that broadcasts, [1/rep], > 0
            k of the lifter.

        Returns
        -------
        array, broadcast shape, [reps], >= 0, real-valued
            At most `MOST_REPS` on any curve but the anchored exponential, which has no floor, and with a bend.

        >>> CURVES["exponential"].fresh_reps([0.35, 0.0], 0.035).round(9).tolist()
        [11.0, 1.0]
        """
        reps = at_least(np.asarray(1.0 + self.spent(headroom) / np.asarray(endurance, dtype=np.float64)), 0.0)
        return reps if self._exponential and self.bend is None else np.asarray(np.minimum(reps, MOST_REPS))

    def headroom_for(self, reps: ArrayLike, endurance: ArrayLike) -> FloatArray:
        """Headroom at which a fresh set fails after ``reps``: the inverse of `fresh_reps`, broadcast shape, [1].

        Infinite where a bend below 0 gives fewer reps with any load.

        >>> round(float(CURVES["exponential"].headroom_for(11.0, 0.035)), 9)
        0.35
        """
        spent = (np.asarray(reps, dtype=np.float64) - 1.0) * np.asarray(endurance, dtype=np.float64)
        if self.bend is not None:
            spent = _straightened(spent, self.bend)
        if self._exponential:
            return np.asarray(spent)
        return -np.log(self.load_fraction(1.0 + spent / self._scale, parameters=self.start))

    def reps_per_headroom(self, headroom: FloatArray, endurance: FloatArray) -> FloatArray:
        """How fast `fresh_reps` grows with the headroom, broadcast shape, [reps]; 0 where nothing limits the reps."""
        if self._exponential and self.bend is None:
            return 1.0 / endurance
        above, below = (self.fresh_reps(headroom + side, endurance) for side in (SLOPE_STEP, -SLOPE_STEP))
        return (above - below) / (2.0 * SLOPE_STEP)

    def endurance_from(self, load_fraction: ArrayLike, reps: ArrayLike) -> FloatArray:
        """Endurance behind a fresh set to failure on this curve; NaN where it tells none; see `endurance_from_set`."""
        x = load_fraction if self._exponential and self.bend is None else np.exp(-self.spent(-np.log(load_fraction)))
        return endurance_from_set(x, reps)


def _bent(spent: FloatArray, bend: ArrayLike) -> FloatArray:
    """Return what a bend makes of `Curve.spent`."""
    b, bends = _bend_of(spent, bend)
    more = np.expm1(b * np.maximum(spent, 0.0)) * (AGREED_HEADROOM / np.expm1(b * AGREED_HEADROOM))
    return np.where(bends, more, spent)


def _straightened(spent: FloatArray, bend: ArrayLike) -> FloatArray:
    """Return what `_bent` made so much of: its inverse."""
    b, bends = _bend_of(spent, bend)
    share = np.maximum(spent, 0.0) * (np.expm1(b * AGREED_HEADROOM) / AGREED_HEADROOM)
    with np.errstate(divide="ignore"):
        less = np.log1p(np.maximum(share, -1.0)) / b
    return np.where(bends, less, spent)


def _bend_of(spent: FloatArray, bend: ArrayLike) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return a bend that can be divided by, and where it bends anything."""
    b = np.asarray(bend, dtype=np.float64)
    some = np.abs(b) > NO_BEND
    return np.where(some, b, 1.0), some & (spent > 0.0)


#: Starting values all give about 75 % of 1RM at ten reps, a rule of thumb (assumed); a fit moves on from there.
CURVES: dict[str, Curve] = {
    "exponential": Curve(
        "anchored exponential",
        exponential_reps,
        exponential_load_fraction,
        Exponential(endurance=0.032),
        {"endurance": (0.002, 0.5)},
    ),
    "asymptotic": Curve(
        "exponential that levels off",
        asymptotic_reps,
        asymptotic_load_fraction,
        AsymptoticExponential(floor=0.4, rate=0.06),
        {"floor": (0.0, 0.95), "rate": (0.002, 1.0)},
    ),
    "power": Curve(
        "power law", power_law_reps, power_law_load_fraction, PowerLaw(exponent=0.125), {"exponent": (0.005, 1.0)}
    ),
    "critical_load": Curve(
        "critical load",
        critical_load_reps,
        critical_load_fraction,
        CriticalLoad(critical_load=0.4, half_reps=12.6),
        {"critical_load": (0.0, 0.95), "half_reps": (0.2, 200.0)},
    ),
}

#: The curve that describes lifters' own sets best, and on which the endurance of each class of exercise was fitted.
DEFAULT_CURVE: Final = CURVES["exponential"]
