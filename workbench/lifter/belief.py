"""What is believed of one quantity of a lifter, and how what is believed of several goes together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field, model_validator

from workbench.quantities import FloatArray
from workbench.reference.toml_files import Number, PlacedError, Strict

__all__ = [
    "ALL",
    "PLAIN",
    "TENTH",
    "Belief",
    "Quantity",
    "Together",
    "joint_scores",
    "lower_triangle",
    "off_scale",
    "on_scale",
]

#: Score of a standard normal distribution above which one in ten lies: both ends of an 80 % interval.
TENTH: Final = 1.2815515655446004
#: Mean of the positive half of a standard normal distribution, times a half: 1 / sqrt(2 pi).
_HALF_MEAN: Final = 0.3989422804014327
#: In place of the exercise, for what all exercises of a lifter have in common.
ALL: Final = "all"
#: Least part of the variance that is left of a quantity once all others are known: below it, what two of them say
#: together is a rounding error.
_LEAST_LEFT: Final = 1e-6

#: What ``others`` of a lifter file may be beside the parameters of a fatigue form; each may lie below 0.
PLAIN: Final = ("shared endurance", "stated reserve", "gain", "bend")
#: The end of the names of parameters that lie between 0 and 1.
_SHARE: Final = "_share"

Quantity = tuple[str, str]
"""An exercise, or `ALL`, and what is believed of it: "1RM", "endurance", "recovery rate", ..."""


@dataclass(frozen=True)
class Belief:
    """A quantity that may lie otherwise far above its middle than below.

    Attributes
    ----------
    middle : float
        Median, of the natural log of the quantity (of the quantity itself, where that may be negative).
    below, above : float, >= 0
        Standard deviation of the normal distribution whose lower, and upper, half this is.
    """

    middle: float
    below: float
    above: float

    @classmethod
    def normal(cls, middle: float, sd: float) -> Belief:
        """Return a belief that is the same on both sides."""
        return cls(middle, sd, sd)

    @classmethod
    def of_interval(cls, low: float, middle: float, high: float) -> Belief:
        """Return the belief with this median and this 80 % interval, all on its own scale.

        >>> Belief.of_interval(-TENTH, 0.0, 2 * TENTH)
        Belief(middle=0.0, below=1.0, above=2.0)
        """
        return cls(middle, (middle - low) / TENTH, (high - middle) / TENTH)

    def at(self, scores: FloatArray) -> FloatArray:
        """Return the value at standard normal scores, any shape.

        >>> Belief(0.0, 1.0, 2.0).at(np.array([-1.0, 0.0, 1.0])).tolist()
        [-1.0, 0.0, 2.0]
        """
        return np.asarray(self.middle + np.where(scores < 0.0, self.below, self.above) * scores)

    def scores(self, values: FloatArray) -> FloatArray:
        """Return the standard normal scores of values: `at` turned round.

        >>> Belief(0.0, 1.0, 2.0).scores(np.array([-1.0, 0.0, 2.0])).tolist()
        [-1.0, 0.0, 1.0]
        """
        off = np.asarray(values) - self.middle
        return np.asarray(off / np.where(off < 0.0, self.below, self.above))

    @property
    def mean(self) -> float:
        """Mean on the scale of ``middle``."""
        return self.middle + _HALF_MEAN * (self.above - self.below)

    @property
    def sd(self) -> float:
        """Standard deviation on the scale of ``middle``."""
        square = 0.5 * (self.below**2 + self.above**2) - (self.mean - self.middle) ** 2
        return float(np.sqrt(square))

    def shifted(self, standard: FloatArray) -> FloatArray:
        """Return values that lie so many sds from the mean.

        >>> Belief(1.0, 0.5, 0.5).shifted(np.array([-2.0, 0.0])).tolist()
        [0.0, 1.0]
        """
        return np.asarray(self.mean + self.sd * standard)

    def widened(self, sd: float) -> Belief:
        """Return the belief with an independent normal scatter added."""
        return replace(self, below=float(np.hypot(self.below, sd)), above=float(np.hypot(self.above, sd)))


_Three = Annotated[list[Annotated[Number, Field(ge=-100, le=1e6)]], Field(min_length=3, max_length=3)]


class Together(Strict):
    """All that a log taught at once: numbers that only a fit works out, and how all of them go together.

    Attributes
    ----------
    form : str
        The fatigue form whose parameters are among ``others``; empty where none are.
    others : dict of str to list of three float
        Low end, middle and high end of 80 % intervals: "shared endurance" (how much sooner this lifter tires in all
        exercises alike, in sds between lifters), "stated reserve" (reps left beyond what is usual for what is said,
        [reps]), "gain" (of the 1RMs, [% a week]), "bend" (how reps go otherwise than on the anchored exponential, [1];
        see `workbench.models.load_reps.Curve.bent`), and the parameters of ``form`` by their names, in their own units.
    quantities : list of str
        "back squat, 1RM", "back squat, endurance", "recovery rate", "carry-over", and names of ``others``.
    correlations : list of list of float, [1], -1 to 1
        Of their normal scores: a row for each quantity but the first, with all those before it.
    """

    form: str = Field(default="", max_length=80)
    others: dict[str, _Three] = Field(default={}, max_length=40)
    quantities: list[str] = Field(min_length=2, max_length=400)
    correlations: list[list[Annotated[Number, Field(gt=-1, lt=1)]]]

    @model_validator(mode="after")
    def _in_order(self) -> Together:
        for name, (low, middle, high) in self.others.items():
            bottom, top = (-100.0, 100.0) if name in PLAIN else (0.0, 1.0 if name.endswith(_SHARE) else 1e6)
            if not bottom < low < middle < high < top:
                raise PlacedError(
                    f"{low:g}, {middle:g}, {high:g} do not rise between {bottom:g} and {top:g}; give low end, middle "
                    "and high end, or remove the table together",
                    "others",
                    name,
                )
            if name not in PLAIN and not self.form:
                raise PlacedError(
                    f"is no quantity of a lifter; use {', '.join(PLAIN)}, or a parameter of the fatigue form that form "
                    "names",
                    "others",
                    name,
                )
        return self

    @model_validator(mode="after")
    def _can_hold(self) -> Together:
        count = len(self.quantities)
        if [len(row) for row in self.correlations] != list(range(1, count)):
            raise ValueError(
                f"correlations are no triangle for {count} quantities; give each quantity but the first a row with its "
                "correlation with every one before it, or remove the table together"
            )
        if len(set(self.quantities)) != count:
            raise ValueError("quantities names one twice; keep one, with its row of correlations")
        if float(np.linalg.eigvalsh(self.matrix()).min()) < _LEAST_LEFT:
            raise ValueError(
                "correlations cannot all hold at once; correct them, or remove the table together and each stands alone"
            )
        return self

    def belief(self, name: str) -> Belief:
        """Return what is believed of one of ``others``, on the scale of `on_scale`."""
        return Belief.of_interval(*(float(on_scale(name, value)) for value in self.others[name]))

    def matrix(self) -> FloatArray:
        """Return the correlations as a full matrix."""
        matrix = np.eye(len(self.quantities))
        for number, row in enumerate(self.correlations, start=1):
            matrix[number, :number] = matrix[:number, number] = row
        return matrix


def on_scale(name: str, values: ArrayLike) -> FloatArray:
    """Return values of one of the others on the scale of its `Belief`: as they are, logs, or log odds of shares."""
    values = np.asarray(values, dtype=np.float64)
    if name in PLAIN:
        return values
    return np.asarray(np.log(values / (1.0 - values)) if name.endswith(_SHARE) else np.log(values))


def off_scale(name: str, values: FloatArray) -> FloatArray:
    """Turn `on_scale` round.

    >>> [float(off_scale(name, on_scale(name, 0.25)).round(6)) for name in ("gain", "slow_share", "depletion_gain")]
    [0.25, 0.25, 0.25]
    """
    if name in PLAIN:
        return values
    return np.asarray(1.0 / (1.0 + np.exp(-values)) if name.endswith(_SHARE) else np.exp(values))


def lower_triangle(matrix: FloatArray, digits: int = 3) -> list[list[float]]:
    """Return the rows below the diagonal, rounded, drawn towards 0 as far as rounding asks to keep them possible."""
    drawn = matrix.copy()
    for _ in range(20):
        rounded = np.round(drawn, digits)
        np.fill_diagonal(rounded, 1.0)
        if np.linalg.eigvalsh(rounded).min() > 10.0 * _LEAST_LEFT:
            break
        drawn = 0.995 * drawn
    return [[float(value) for value in rounded[number, :number]] for number in range(1, len(rounded))]


def joint_scores(independent: FloatArray, correlations: FloatArray, known: FloatArray | None = None) -> FloatArray:
    """Turn independent standard normal scores into ones that go together.

    Parameters
    ----------
    independent : array, shape (draws, quantities), [1]
    correlations : array, shape (known + quantities, known + quantities), [1], -1 to 1
    known : array, shape (draws, known), [1], optional
        Scores, already going together, of those quantities that come first among the correlations.

    Returns
    -------
    array, shape (draws, quantities)
    """
    first = 0 if known is None else known.shape[1]
    factor = np.linalg.cholesky(correlations)
    found = independent @ factor[first:, first:].T
    if known is not None and first:
        found = found + np.linalg.solve(factor[:first, :first], known.T).T @ factor[first:, :first].T
    return np.asarray(found)
