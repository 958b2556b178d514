"""What a published rep-max equation is: its shape, its coefficients, and where it stops being valid.

The rule of validity, the same for every equation: **NaN outside the stated range unless ``extrapolate=True``.** Even
then it is NaN where the equation has no meaning (a load of zero or less, a curve past its turning point), and for a
quantity that the equation does not hold: one for five reps says nothing about six.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray, Grade, InputError

__all__ = ["Equation", "Shape", "cubic", "decaying", "falling", "power", "regression", "rising"]

#: So that a range's own ends, reached through an inverse, still count as inside.
_ROUNDING: Final = 1e-9

Solved = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True)
class Shape:
    """An equation between load, reps and 1RM, solved for each of the three. Masses in kg.

    Attributes
    ----------
    one_rm, load, reps : callable
        1RM from load and reps; load from 1RM and reps; reps from load and 1RM.
    holds_load, holds_reps : bool
        Whether the load, and whether the reps, are in the equation.
    proportional : bool
        Whether twice the load at the same reps means twice the 1RM.
    turning_point : float
        [reps] From which the equation would lower the 1RM with each further rep: it has no meaning there.
    """

    one_rm: Solved
    load: Solved
    reps: Solved
    holds_load: bool = True
    holds_reps: bool = True
    proportional: bool = True
    turning_point: float = inf


def _by_share(fraction: Callable[[FloatArray], FloatArray], reps: Solved, turning_point: float = inf) -> Shape:
    """Shape in which the share of 1RM depends on the reps alone."""
    return Shape(
        one_rm=lambda load, reps: load / fraction(reps),
        load=lambda one_rm, reps: one_rm * fraction(reps),
        reps=reps,
        turning_point=turning_point,
    )


def rising(a: float, b: float) -> Shape:
    """``1RM = load * (a + b * reps)``."""
    return _by_share(lambda reps: 1.0 / (a + b * reps), lambda load, one_rm: (one_rm / load - a) / b)


def falling(a: float, b: float) -> Shape:
    """``1RM = load / (a - b * reps)``; no meaning from ``a / b`` reps on."""
    return _by_share(lambda reps: a - b * reps, lambda load, one_rm: (a - load / one_rm) / b)


def decaying(a: float, b: float, c: float) -> Shape:
    """``1RM = load / (a + b * exp(-c * reps))``; no number of reps at or below the share ``a``."""
    return _by_share(lambda reps: a + b * np.exp(-c * reps), lambda load, one_rm: np.log(b / (load / one_rm - a)) / c)


def power(a: float) -> Shape:
    """``1RM = load * reps ** a``."""
    return _by_share(lambda reps: reps**-a, lambda load, one_rm: (one_rm / load) ** (1.0 / a))


def cubic(a: float, b: float, c: float, d: float) -> Shape:
    """``1RM = load * (a + b * reps + c * reps**2 - d * reps**3)``; no meaning past the turning point."""
    turning_point = float((c + np.sqrt(c**2 + 3.0 * d * b)) / (3.0 * d))

    def fraction(reps: FloatArray) -> FloatArray:
        multiple = a + reps * (b + reps * (c - reps * d))
        return 1.0 / np.where(reps <= turning_point, multiple, np.nan)

    def reps_at(load: FloatArray, one_rm: FloatArray) -> FloatArray:
        x = np.asarray(load / one_rm)
        low, high = np.zeros_like(x), np.full_like(x, turning_point)
        inside = (x <= fraction(low)) & (x >= fraction(high))
        for _ in range(60):  # 24 reps halved 60 times: far below the last digit
            middle = 0.5 * (low + high)
            more = fraction(middle) > x
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        return np.where(inside, 0.5 * (low + high), np.nan)

    return _by_share(fraction, reps_at, turning_point)


def regression(constant: float, *, per_load: float = 0.0, per_rep: float = 0.0, per_product: float = 0.0) -> Shape:
    """``1RM = constant + per_load * load + per_rep * reps + per_product * reps * load``, fitted to one sample.

    Not a share of 1RM: the percentage at given reps depends on how strong the lifter is. A product does not read well
    outside the sample; where ``per_rep + per_product * load`` is negative, more reps even mean a lower 1RM.
    """
    return Shape(
        one_rm=lambda load, reps: constant + per_load * load + per_rep * reps + per_product * reps * load,
        load=lambda one_rm, reps: (one_rm - constant - per_rep * reps) / (per_load + per_product * reps),
        reps=lambda load, one_rm: (one_rm - constant - per_load * load) / (per_rep + per_product * load),
        holds_load=per_load != 0.0 or per_product != 0.0,
        holds_reps=per_rep != 0.0 or per_product != 0.0,
        proportional=False,
    )


@dataclass(frozen=True)
class Equation:
    """A published rep-max equation. Call it with load and reps to get the 1RM.

    Attributes
    ----------
    name : str
        Author and year, as the registry spells it.
    label : str
        Author and year, for legends.
    source : str
        Key into ``data/sources.csv``.
    shape : Shape
        The equation itself.
    grade : str
        How well the coefficients are known.
    population : str
        Exercise and people that it was made for, as far as known.
    reps_low, reps_high : float
        Valid reps, ends included; ``reps_high`` is infinite where validity is a matter of the load instead.
    validity_grade : str
        How well the range of validity is known. ``assumed``: the source states none that we know of, 1 to 10 is taken.
    fixed_load : float or None
        Load in kg that the test must be done with (to 1 kg).
    fixed_load_fraction : float or None
        Share of 1RM that the test must be done with (to 0.05, assumed).

    Notes
    -----
    What each equation reports of its error, and remarks, stand in ``data/equations.csv``. Some are not anchored: one
    rep with the 1RM does not give the 1RM back. That is kept as published; see `anchored`.
    """

    name: str
    label: str
    source: str
    shape: Shape
    grade: Grade
    population: str = "general"
    reps_low: float = 1.0
    reps_high: float = 10.0
    validity_grade: Grade = "assumed"
    fixed_load: float | None = None
    fixed_load_fraction: float | None = None

    @property
    def proportional(self) -> bool:
        """Whether the share of 1RM depends on the reps alone."""
        return self.shape.proportional

    @property
    def anchored(self) -> bool:
        """Whether one rep with a load means a 1RM of that load."""
        return self.proportional and bool(abs(self.load_fraction(1.0, extrapolate=True) - 1.0) < _ROUNDING)

    @np.errstate(all="ignore")
    def __call__(self, load: ArrayLike, reps: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """1RM from a set to failure.

        Parameters
        ----------
        load : array, any shape, [kg], > 0
        reps : array that broadcasts, [reps]
        extrapolate : bool
            Answer outside the range of validity too, where the equation still has a meaning.

        Returns
        -------
        array, broadcast shape, [kg]; NaN where not valid
        """
        w, r = np.asarray(load, dtype=np.float64), np.asarray(reps, dtype=np.float64)
        one_rm = self.shape.one_rm(w, r)
        return self._where_valid(one_rm, w, r, one_rm, extrapolate)

    @np.errstate(all="ignore")
    def load_for(self, one_rm: ArrayLike, reps: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Load, in kg, that a lifter with this 1RM, in kg, lifts ``reps`` times; NaN where not valid."""
        m, r = np.asarray(one_rm, dtype=np.float64), np.asarray(reps, dtype=np.float64)
        load = self.shape.load(m, r)
        return self._where_valid(load, load, r, m, extrapolate)

    @np.errstate(all="ignore")
    def reps_for(self, load: ArrayLike, one_rm: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Reps to failure at a load, in kg, of a lifter with this 1RM, in kg; NaN where not valid. Not rounded."""
        w, m = np.asarray(load, dtype=np.float64), np.asarray(one_rm, dtype=np.float64)
        reps = self.shape.reps(w, m)
        return self._where_valid(reps, w, reps, m, extrapolate)

    def load_fraction(self, reps: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Share of 1RM at ``reps``; NaN where not valid.

        Raises
        ------
        InputError
            For an equation whose share of 1RM depends on the 1RM itself.
        """
        self._need_proportional("load_for")
        return self.load_for(1.0, reps, extrapolate=extrapolate)

    def reps_to_failure(self, load_fraction: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Reps to failure at a share of 1RM; NaN where not valid. Not rounded; raises as `load_fraction`."""
        self._need_proportional("reps_for")
        return self.reps_for(load_fraction, 1.0, extrapolate=extrapolate)

    def _need_proportional(self, instead: str) -> None:
        if not self.proportional:
            problem = "its share of 1RM depends on the lifter's strength"
            raise InputError(None, self.name, problem, f"use {instead} with the 1RM in kg")

    def _where_valid(
        self, answer: FloatArray, load: FloatArray, reps: FloatArray, one_rm: FloatArray, extrapolate: bool
    ) -> FloatArray:
        valid = np.isfinite(answer) & (load > 0.0) & (reps >= 0.0) & (one_rm > 0.0)
        if not (extrapolate and self.shape.holds_reps):
            valid = valid & (reps >= self.reps_low - _ROUNDING) & (reps <= self.reps_high + _ROUNDING)
        if self.fixed_load is not None and not (extrapolate and self.shape.holds_load):
            valid = valid & (np.abs(load - self.fixed_load) <= 1.0)
        if self.fixed_load_fraction is not None and not extrapolate:
            valid = valid & (np.abs(load / one_rm - self.fixed_load_fraction) <= 0.05 + _ROUNDING)
        return np.where(valid, answer, np.nan)
