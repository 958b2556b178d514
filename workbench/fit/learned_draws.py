"""Possible lifters after a log, and how they are drawn from grids."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.joint import FittedLift
    from workbench.quantities import FloatArray

__all__ = ["LearnedDraws", "draw_strength", "inside", "pick"]


@dataclass(frozen=True)
class LearnedDraws:
    """Possible lifters after the log.

    Attributes
    ----------
    exercises : tuple of str
    log_one_rm : array, shape (draws, exercises), [ln kg]
        The usual 1RM at the fit's date.
    endurance : array, shape (draws, exercises), [1/rep]
    recovery_rate : array, shape (draws,), [1]
    shared : array, shape (draws,), [1]
        The part of endurance that all exercises have in common, in sds of the spread between lifters.
    carry_over : array, shape (draws,), [1]
        Factor on how strongly fatigue passes between exercises that share muscles.
    gain : array, shape (draws, exercises), [1/week]
        Natural log of what the 1RM gains in a week.
    reserve_bias : array, shape (draws,), [reps]
        Reps left beyond what is usual for what is said.
    bend : array, shape (draws,), [1], or None
        Of the lifter's curve: see `workbench.models.load_reps.Curve.bent`.
    tiring : parameter set of the fit's form, fields of shape (draws, 1), or None
        None where the fit was given one set of parameters.
    """

    exercises: tuple[str, ...]
    log_one_rm: FloatArray
    endurance: FloatArray
    recovery_rate: FloatArray
    shared: FloatArray
    carry_over: FloatArray
    gain: FloatArray
    reserve_bias: FloatArray
    bend: FloatArray | None = None
    tiring: Any = None

    def rows(self, chosen: NDArray[np.intp]) -> LearnedDraws:
        """Return some of the draws, or some of them several times."""
        of_each: Any = {name: v[chosen] for name, v in vars(self).items() if isinstance(v, np.ndarray)}
        tiring = self.tiring and replace(self.tiring, **{name: v[chosen] for name, v in vars(self.tiring).items()})
        return replace(self, **of_each, tiring=tiring)


def inside(points: FloatArray, count: int, rng: np.random.Generator) -> FloatArray:
    """Place draws evenly inside the cells of their points."""
    return np.asarray((points[1] - points[0]) * (rng.random(count) - 0.5))


def pick(weights: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Pick one column a row, with the row's weights."""
    cumulative = np.cumsum(weights, axis=1)
    return np.asarray((cumulative < rng.random((weights.shape[0], 1)) * cumulative[:, -1:]).sum(axis=1))


def draw_strength(lift: FittedLift, log_rate: FloatArray, log_k: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Draw the log 1RM given recovery rate and endurance: their mean and sd read between the points of the grid."""
    grid, today = lift.grid, lift.filtered.today
    mean = today @ grid.log_strength
    sd = np.sqrt(np.maximum(today @ grid.log_strength**2 - mean**2, 1e-12))
    row = np.abs(grid.log_rate[:, None] - log_rate).argmin(axis=0)
    column = np.abs(grid.log_endurance[:, None] - log_k).argmin(axis=0)
    picked = pick(today[row, column], rng)
    strength = grid.log_strength[picked] + inside(grid.log_strength, log_k.size, rng)
    standard = (strength - mean[row, column]) / np.hypot(sd[row, column], grid.strength_step * 12**-0.5)
    at_mean = scipy.interpolate.RectBivariateSpline(grid.log_rate, grid.log_endurance, mean)
    at_sd = scipy.interpolate.RectBivariateSpline(grid.log_rate, grid.log_endurance, np.log(sd))
    return np.asarray(at_mean.ev(log_rate, log_k) + np.exp(at_sd.ev(log_rate, log_k)) * standard)
