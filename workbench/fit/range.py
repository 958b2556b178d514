"""Where a quantity is looked for, while grids narrow down on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from workbench.fit.marginals import moments
from workbench.quantities import FloatArray

__all__ = ["REACH", "Range"]

#: Half-width of a grid in sds.
REACH: Final = 4.0
#: Points farther apart than this many posterior sds say where the posterior lies, not how wide it is. At 2, sums
#: over even points are good to about one in a hundred for anything bell-shaped.
_COARSE: Final = 2.0
#: A range whose edge is more probable than this, of its most probable point, may end too early: 3 sds of a bell.
_LEANS: Final = 0.011


@dataclass
class Range:
    """Where a quantity is looked for: centre and half-width."""

    centre: float
    half: float

    def points(self, count: int, apart: float) -> FloatArray:
        """Even points, ``count`` or more: up to twice as many, where they would lie farther apart than ``apart``."""
        count = min(max(count, int(np.ceil(2.0 * self.half / apart)) + 1), 2 * count - 1)
        return np.linspace(self.centre - self.half, self.centre + self.half, count)

    def narrow(self, points: FloatArray, weights: FloatArray) -> bool:
        """Move to where the weights lie; return whether the points were close enough to trust that."""
        if self.widen(weights):
            return False
        mean, variance = moments(points, weights)
        sd, step = float(np.sqrt(variance)), float(points[1] - points[0])
        coarse = step > _COARSE * sd
        # Where the points are coarse, the weights peak unseen between them, but hardly two points away.
        self.within(mean, min(REACH * sd + step, 2.0 * step) if coarse else REACH * sd)
        return not coarse

    def widen(self, weights: FloatArray) -> bool:
        """Reach farther where the weights lean on an edge; return whether they do."""
        low, high = weights[[0, -1]] > _LEANS * weights.max()
        self.centre += 0.5 * self.half * (float(high) - float(low))
        self.half *= 1.0 + 0.5 * (float(high) + float(low))
        return bool(low or high)

    def about(self, centre: float, half: float) -> None:
        """Move to a centre, and look no farther than ``half`` from it."""
        self.centre, self.half = centre, min(self.half, half)

    def within(self, centre: float, half: float) -> None:
        """Keep the part inside ``centre`` plus or minus ``half``."""
        low, high = max(self.centre - self.half, centre - half), min(self.centre + self.half, centre + half)
        self.centre, self.half = 0.5 * (low + high), 0.5 * (high - low)
