"""What a published rep-max equation is: its shape, its coefficients, and where it stops being valid.

The rule of validity, the same for every equation: **NaN outside the stated range unless ``extrapolate=True``.** Even
then it is NaN where the equation has no meaning (a load of zero or less, a curve past its turning point), and for a
quantity that the equation does not hold: one for five reps says nothing about six.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workbench.quantities import FloatArray, Grade, InputError

__all__ = ["Cubic", "Decaying", "Equation", "Falling", "Power", "Regression", "Rising", "Shape"]

#: So that a range's own ends, reached through an inverse, still count as inside.
_ROUNDING: Final = 1e-9


class Shape(Protocol):
    """An equation between load, reps and 1RM, solved for each of the three. Masses in kg."""

    @property
    def holds_load(self) -> bool:
        """Whether the load is in the equation."""

    @property
    def holds_reps(self) -> bool:
        """Whether the reps are in the equation."""

    @property
    def proportional(self) -> bool:
        """Whether twice the load at the same reps means twice the 1RM."""

    def one_rm(self, load: FloatArray, reps: FloatArray) -> FloatArray:
        """1RM from a set."""

    def load(self, one_rm: FloatArray, reps: FloatArray) -> FloatArray:
        """Load from 1RM and reps."""

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""


class _Proportional(ABC):
    """Shapes in which the share of 1RM depends on the reps alone."""

    holds_load = True
    holds_reps = True
    proportional = True

    @abstractmethod
    def fraction(self, reps: FloatArray) -> FloatArray: ...

    def one_rm(self, load: FloatArray, reps: FloatArray) -> FloatArray:
        return load / self.fraction(reps)

    def load(self, one_rm: FloatArray, reps: FloatArray) -> FloatArray:
        return one_rm * self.fraction(reps)


@dataclass(frozen=True)
class Rising(_Proportional):
    """``1RM = load * (a + b * reps)``."""

    a: float
    b: float

    def fraction(self, reps: FloatArray) -> FloatArray:
        """Share of 1RM."""
        return 1.0 / (self.a + self.b * reps)

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""
        return (one_rm / load - self.a) / self.b


@dataclass(frozen=True)
class Falling(_Proportional):
    """``1RM = load / (a - b * reps)``; no meaning from ``a / b`` reps on."""

    a: float
    b: float

    def fraction(self, reps: FloatArray) -> FloatArray:
        """Share of 1RM."""
        return self.a - self.b * reps

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""
        return (self.a - load / one_rm) / self.b


@dataclass(frozen=True)
class Decaying(_Proportional):
    """``1RM = load / (a + b * exp(-c * reps))``; no number of reps at or below the share ``a``."""

    a: float
    b: float
    c: float

    def fraction(self, reps: FloatArray) -> FloatArray:
        """Share of 1RM."""
        return self.a + self.b * np.exp(-self.c * reps)

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""
        return np.log(self.b / (load / one_rm - self.a)) / self.c


@dataclass(frozen=True)
class Power(_Proportional):
    """``1RM = load * reps ** a``."""

    a: float

    def fraction(self, reps: FloatArray) -> FloatArray:
        """Share of 1RM."""
        return reps**-self.a

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""
        return (one_rm / load) ** (1.0 / self.a)


@dataclass(frozen=True)
class Cubic(_Proportional):
    """``1RM = load * (a + b * reps + c * reps**2 - d * reps**3)``; no meaning past the turning point."""

    a: float
    b: float
    c: float
    d: float

    @property
    def turning_point(self) -> float:
        """Reps from which the equation would lower the 1RM with each further rep."""
        return float((self.c + np.sqrt(self.c**2 + 3.0 * self.d * self.b)) / (3.0 * self.d))

    def fraction(self, reps: FloatArray) -> FloatArray:
        """Share of 1RM."""
        multiple = self.a + reps * (self.b + reps * (self.c - reps * self.d))
        return 1.0 / np.where(reps <= self.turning_point, multiple, np.nan)

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM, by halving the interval from 0 to the turning point."""
        x = np.asarray(load / one_rm)
        low, high = np.zeros_like(x), np.full_like(x, self.turning_point)
        inside = (x <= self.fraction(low)) & (x >= self.fraction(high))
        for _ in range(60):  # 24 reps halved 60 times: far below the last digit
            middle = 0.5 * (low + high)
            more = self.fraction(middle) > x
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        return np.where(inside, 0.5 * (low + high), np.nan)


@dataclass(frozen=True)
class Regression:
    """``1RM = constant + per_load * load + per_rep * reps + per_product * reps * load``, fitted to one sample.

    Not a share of 1RM: the percentage at given reps depends on how strong the lifter is. A product does not read well
    outside the sample; where ``per_rep + per_product * load`` is negative, more reps even mean a lower 1RM.
    """

    constant: float
    per_load: float = 0.0
    per_rep: float = 0.0
    per_product: float = 0.0
    proportional = False

    @property
    def holds_load(self) -> bool:
        """Whether the load is in the equation."""
        return self.per_load != 0.0 or self.per_product != 0.0

    @property
    def holds_reps(self) -> bool:
        """Whether the reps are in the equation."""
        return self.per_rep != 0.0 or self.per_product != 0.0

    def one_rm(self, load: FloatArray, reps: FloatArray) -> FloatArray:
        """1RM from a set."""
        return self.constant + self.per_load * load + self.per_rep * reps + self.per_product * reps * load

    def load(self, one_rm: FloatArray, reps: FloatArray) -> FloatArray:
        """Load from 1RM and reps."""
        return (one_rm - self.constant - self.per_rep * reps) / (self.per_load + self.per_product * reps)

    def reps(self, load: FloatArray, one_rm: FloatArray) -> FloatArray:
        """Reps from load and 1RM."""
        return (one_rm - self.constant - self.per_load * load) / (self.per_rep + self.per_product * load)


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
    grade : str
        How well the coefficients are known.
    population : str
        Exercise and people that it was made for, as far as known.
    shape : Shape
        The equation itself.
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
    grade: Grade
    population: str
    shape: Shape
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
        with np.errstate(all="ignore"):
            estimate = self.shape.one_rm(w, r)
            return self._answer(estimate, w, r, estimate, extrapolate)

    def load_for(self, one_rm: ArrayLike, reps: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Load, in kg, that a lifter with this 1RM, in kg, lifts ``reps`` times; NaN where not valid."""
        m, r = np.asarray(one_rm, dtype=np.float64), np.asarray(reps, dtype=np.float64)
        with np.errstate(all="ignore"):
            load = self.shape.load(m, r)
            return self._answer(load, load, r, m, extrapolate)

    def reps_for(self, load: ArrayLike, one_rm: ArrayLike, *, extrapolate: bool = False) -> FloatArray:
        """Reps to failure at a load, in kg, of a lifter with this 1RM, in kg; NaN where not valid. Not rounded."""
        w, m = np.asarray(load, dtype=np.float64), np.asarray(one_rm, dtype=np.float64)
        with np.errstate(all="ignore"):
            reps = self.shape.reps(w, m)
            return self._answer(reps, w, reps, m, extrapolate)

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
        """Reps to failure at a share of 1RM; NaN where not valid. Not rounded.

        Raises
        ------
        InputError
            For an equation whose share of 1RM depends on the 1RM itself.
        """
        self._need_proportional("reps_for")
        return self.reps_for(load_fraction, 1.0, extrapolate=extrapolate)

    def _need_proportional(self, instead: str) -> None:
        if not self.proportional:
            raise InputError(
                None,
                self.name,
                "its share of 1RM depends on the lifter's strength",
                f"use {instead} with the 1RM in kg",
            )

    def _answer(
        self, answer: FloatArray, load: FloatArray, reps: FloatArray, one_rm: FloatArray, extrapolate: bool
    ) -> FloatArray:
        meaningful = np.isfinite(answer) & (load > 0.0) & (reps >= 0.0) & (one_rm > 0.0)
        valid = meaningful & self._valid(load, reps, one_rm, extrapolate)
        return np.where(valid, answer, np.nan)

    def _valid(
        self, load: FloatArray, reps: FloatArray, one_rm: FloatArray, extrapolate: bool
    ) -> NDArray[np.bool_] | bool:
        valid: NDArray[np.bool_] | bool = True
        if not (extrapolate and self.shape.holds_reps):
            valid = (reps >= self.reps_low - _ROUNDING) & (reps <= self.reps_high + _ROUNDING)
        if self.fixed_load is not None and not (extrapolate and self.shape.holds_load):
            valid = valid & (np.abs(load - self.fixed_load) <= 1.0)
        if self.fixed_load_fraction is not None and not extrapolate:
            valid = valid & (np.abs(load / one_rm - self.fixed_load_fraction) <= 0.05 + _ROUNDING)
        return valid
