"""From weights on even points to quantiles and draws."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import scipy
from scipy.special import ndtri

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from workbench.quantities import FloatArray

__all__ = ["LEVELS", "LogNormal", "Marginal", "Normal", "gaussian_kernel", "moments", "refine"]

#: Levels of the median and of the 80 % interval.
LEVELS = (0.1, 0.5, 0.9)
#: Below this many steps of the grid, a normal distribution is put on the neighbouring points only.
_NARROW = 0.6
#: Fine points for each coarse one.
_FINER = 12
#: Weights this far below the largest, in logs, are as good as none.
_DEEPEST = 60.0


@dataclass(frozen=True)
class LogNormal:
    """A log-normal distribution: mean and sd of the natural log, and how often a value lies how many times as far out.

    >>> LogNormal(0.0, 0.1, ((0.03, 2.5),)).precision(np.array([0.0, 0.4])).round(1).tolist()
    [99.0, 23.5]
    """

    log_mean: float
    log_sd: float
    tails: tuple[tuple[float, float], ...] = ()
    #: Where others are known: how far the mean moves with each, and the middle of each; and the sd that is then left.
    moves: tuple[tuple[float, float], ...] = field(default=(), kw_only=True)
    left_sd: float = field(default=np.nan, kw_only=True)

    def given(self, *others: FloatArray) -> tuple[FloatArray, float]:
        """Return mean and sd where others have these values, which broadcast; in the order of ``moves``.

        >>> mean, sd = LogNormal(1.0, 0.5, moves=((2.0, 0.1),), left_sd=0.3).given(np.array([0.1, 0.2]))
        >>> mean.round(6).tolist(), sd
        ([1.0, 1.2], 0.3)
        """
        moved = sum(slope * (other - middle) for (slope, middle), other in zip(self.moves, others, strict=True))
        return np.asarray(self.log_mean + moved), self.left_sd

    def weights(self, log_points: FloatArray, mean: FloatArray | None = None, sd: float | None = None) -> FloatArray:
        """Weights of even points, proportional to the density; ``mean`` and ``sd`` override the own ones."""
        centre = self.log_mean if mean is None else mean
        return np.asarray(sum(part for part, _ in self._parts(log_points - centre, self.log_sd if sd is None else sd)))

    def precision(self, log_points: FloatArray) -> FloatArray:
        """Return one over the variance of the normal distribution that leads from a point back to the mean."""
        parts = self._parts(log_points - self.log_mean, self.log_sd)
        total = np.sum([part for part, _ in parts], axis=0)
        return np.asarray(np.sum([part / sd**2 for part, sd in parts], axis=0) / np.maximum(total, 1e-300))

    def _parts(self, off: FloatArray, log_sd: float) -> list[tuple[FloatArray, float]]:
        """Weights and sd of the usual part and of each tail."""
        usual = 1.0 - sum(chance for chance, _ in self.tails)
        sds = [(usual, log_sd), *((chance, times * log_sd) for chance, times in self.tails)]
        return [(share / sd * np.exp(-0.5 * (off / sd) ** 2), sd) for share, sd in sds]


@dataclass(frozen=True)
class Normal:
    """A normal distribution of a quantity itself."""

    mean: float
    sd: float

    def quantile(self, levels: ArrayLike) -> FloatArray:
        """Quantiles.

        >>> Normal(1.0, 2.0).quantile([0.1, 0.5]).round(2).tolist()
        [-1.56, 1.0]
        """
        return np.asarray(self.mean + self.sd * ndtri(np.asarray(levels, dtype=np.float64)))


def gaussian_kernel(points: FloatArray, sd: float) -> FloatArray:
    """Matrix that spreads probability on even points by a normal distribution; each row sums to 1.

    An sd much below the distance of the points cannot be drawn as a bell curve: the neighbours then get what keeps
    the variance right.

    >>> gaussian_kernel(np.array([0.0, 1.0, 2.0]), 0.2).round(2).tolist()
    [[0.98, 0.02, 0.0], [0.02, 0.96, 0.02], [0.0, 0.02, 0.98]]
    """
    step = float(points[1] - points[0])
    if sd < _NARROW * step:
        neighbour = np.full(points.size - 1, 0.5 * (sd / step) ** 2)
        spread = np.diag(neighbour, 1) + np.diag(neighbour, -1)
        return np.asarray(spread + np.diag(1.0 - spread.sum(axis=1)))
    kernel = np.exp(-0.5 * ((points[:, None] - points[None, :]) / sd) ** 2)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))


def moments(points: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Mean and variance of points with weights."""
    share = weights / weights.sum()
    mean = float(share @ points)
    return mean, float(share @ (points - mean) ** 2)


@dataclass(frozen=True)
class Marginal:
    """Distribution of a natural log, as weights on even points.

    Attributes
    ----------
    log_points, weights : array, shape (points,)
    """

    log_points: FloatArray
    weights: FloatArray

    @property
    def mean(self) -> float:
        """Mean of the natural log."""
        return float(self.weights @ self.log_points / self.weights.sum())

    @property
    def sd(self) -> float:
        """Standard deviation of the natural log."""
        return float(np.sqrt(self.weights @ (self.log_points - self.mean) ** 2 / self.weights.sum()))

    def log_quantile(self, levels: ArrayLike) -> FloatArray:
        """Quantiles of the natural log, the log density drawn smoothly through the points.

        >>> points = np.linspace(-4, 4, 9)
        >>> Marginal(points, np.exp(-0.5 * points**2)).log_quantile([0.1, 0.5]).round(2).tolist()
        [-1.28, 0.0]
        """
        points, cumulative = self._cumulative
        return np.asarray(np.interp(np.asarray(levels, dtype=np.float64), cumulative, points))

    def quantile(self, levels: ArrayLike) -> FloatArray:
        """Quantiles of the quantity itself."""
        return np.exp(self.log_quantile(levels))

    def below(self, log_value: float) -> float:
        """Return the probability that the natural log is below a value."""
        points, cumulative = self._cumulative
        return float(np.interp(log_value, points, cumulative))

    def widened(self, log_sd: float) -> Marginal:
        """Return the distribution with a normal scatter of the natural log added.

        >>> points = np.linspace(-4, 4, 33)
        >>> round(Marginal(points, np.exp(-0.5 * points**2)).widened(0.75).sd, 2)
        1.25
        """
        step = float(self.log_points[1] - self.log_points[0])
        more = int(np.ceil(4.0 * log_sd / step))
        points = np.linspace(
            self.log_points[0] - more * step, self.log_points[-1] + more * step, self.log_points.size + 2 * more
        )
        return Marginal(points, np.pad(self.weights, more) @ gaussian_kernel(points, log_sd)) if more else self

    @property
    def _cumulative(self) -> tuple[FloatArray, FloatArray]:
        fine, log_density = refine(self.log_points, _floored(self.weights), 0, _FINER)
        density = np.exp(log_density)
        total = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
        return fine, total / total[-1]


def _floored(weights: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        logs = np.log(weights / weights.max())
    return np.asarray(np.maximum(logs, -_DEEPEST))


def refine(points: FloatArray, log_values: FloatArray, axis: int, times: int) -> tuple[FloatArray, FloatArray]:
    """Draw smooth lines through logs on even points and read them on finer points.

    Akima's lines: exact for bell shapes, and a cliff beside them makes no waves.

    Parameters
    ----------
    points : array, shape (n,)
    log_values : array, n along ``axis``
    axis : int
    times : int
        Fine points for each coarse one.

    Returns
    -------
    points, log_values
        On ``times * (n - 1) + 1`` points.
    """
    fine = np.linspace(points[0], points[-1], times * (points.size - 1) + 1)
    return fine, np.asarray(scipy.interpolate.Akima1DInterpolator(points, log_values, axis=axis)(fine))
