"""What is believed of one quantity of a lifter, and how what is believed of several goes together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np
from pydantic import Field, model_validator

from workbench.quantities import FloatArray
from workbench.reference.toml_files import Number, Strict

__all__ = ["ALL", "TENTH", "Belief", "Quantity", "Together", "joint_scores", "lower_triangle"]

#: Score of a standard normal distribution above which one in ten lies: both ends of an 80 % interval.
TENTH: Final = 1.2815515655446004
#: Mean of the positive half of a standard normal distribution, times a half: 1 / sqrt(2 pi).
_HALF_MEAN: Final = 0.3989422804014327
#: In place of the exercise, for what all exercises of a lifter have in common.
ALL: Final = "all"
#: Least part of the variance that is left of a quantity once all others are known: below it, what two of them say
#: together is a rounding error.
_LEAST_LEFT: Final = 1e-6

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

    def widened(self, sd: float) -> Belief:
        """Return the belief with an independent normal scatter added."""
        return replace(self, below=float(np.hypot(self.below, sd)), above=float(np.hypot(self.above, sd)))


class Together(Strict):
    """How what is believed of several quantities goes together.

    Attributes
    ----------
    quantities : list of str
        "back squat, 1RM", "back squat, endurance", "recovery rate", "carry-over", "shared endurance", ...
    correlations : list of list of float, [1], -1 to 1
        Of their normal scores: a row for each quantity but the first, with all those before it.
    """

    quantities: list[str] = Field(min_length=2, max_length=400)
    correlations: list[list[Annotated[Number, Field(gt=-1, lt=1)]]]

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

    def matrix(self) -> FloatArray:
        """Return the correlations as a full matrix."""
        matrix = np.eye(len(self.quantities))
        for number, row in enumerate(self.correlations, start=1):
            matrix[number, :number] = matrix[:number, number] = row
        return matrix


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
