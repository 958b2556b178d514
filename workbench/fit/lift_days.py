"""The days of one exercise, in a normal approximation of all that a log says.

Each day has a strength of its own about the usual 1RM, which walks from one date to the next: a chain, so that solving
for all days costs each of them once.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.places import Believed
    from workbench.fit.sets_together import SetsTogether
    from workbench.quantities import FloatArray

__all__ = ["LiftDays"]

#: Days and weeks that are taken as exact still differ, by so much that rounding stays small beside it.
_LEAST_SD: Final = 1e-5


@dataclass
class LiftDays:
    """Days of one exercise: their strengths less what was gained, the usual 1RM today, and the length of their rests.

    ``weeks``: of each day since the 1RM of the file held or the log began. ``at``: all three, the rests in sds, each
    day's alone. The usual 1RM walks from one date to the next, which ``chain`` has: its precision, above the
    diagonal and on it. ``nodes``: the dates of the days, and today, in there.
    """

    columns: NDArray[np.intp]
    weeks: FloatArray
    expected: float
    chain: FloatArray
    nodes: NDArray[np.intp]
    day_sd: float
    at: FloatArray

    @classmethod
    def of(cls, sets: SetsTogether, number: int, believed: Believed, log_one_rm: float) -> LiftDays:
        """Return the days of one exercise, all at one strength."""
        prior, settings, today = believed.priors[number], believed.settings, believed.today
        columns = np.flatnonzero(sets.lift == number)
        dates = [sets.dates[column] for column in columns]
        first, last = dates[0], dates[-1]
        known_on = min(prior.one_rm.date or first, today)
        base = min(max(known_on, first), last)
        weeks = np.array([(date - base).days / 7.0 for date in dates])
        nodes = sorted({*dates, known_on, today})
        gaps = np.array([(late - early).days / 7.0 for early, late in itertools.pairwise(nodes)])
        steps = 1.0 / (max(settings.drift_sd, _LEAST_SD) ** 2 * gaps)
        chain = np.zeros((2, len(nodes)))
        chain[0, 1:] = -steps
        chain[1, :-1] += steps
        chain[1, 1:] += steps
        chain[1, nodes.index(known_on)] += float(prior.one_rm.precision(np.array(log_one_rm)))
        at = np.zeros(2 * len(dates) + 1)
        at[: len(dates) + 1] = log_one_rm
        places = np.array([nodes.index(date) for date in [*dates, today]])
        day_sd = max(settings.day_sd, _LEAST_SD)
        return cls(columns, weeks, prior.one_rm.log_mean, chain, places, day_sd, at)

    def seen(self, bend: FloatArray) -> tuple[FloatArray, float]:
        """Return the root of the chain's precision once each day bends by so much, and its log determinant."""
        chain = self.chain.copy()
        chain[1, self.nodes[:-1]] += bend
        root = cholesky_banded(chain)
        return root, 2.0 * float(np.log(root[1]).sum())

    def solve(self, bend: FloatArray, asked: FloatArray) -> tuple[FloatArray, float]:
        """Solve for strengths and the usual 1RM today, where the days bend by so much beside what is believed.

        Parameters
        ----------
        bend : array, shape (days,)
        asked : array, shape (days + 1, columns)

        Returns
        -------
        solved : array, shape (days + 1, columns)
        narrowed : float
            Log determinant of all, over that of what is believed.
        """
        variance, days = self.day_sd**2, self.nodes[:-1]
        times = 1.0 + variance * bend
        root, log_determinant = self.seen(bend / times)
        of_nodes = np.zeros((self.chain.shape[1], asked.shape[1]))
        of_nodes[days] = asked[:-1] / times[:, None]
        of_nodes[self.nodes[-1]] += asked[-1]
        usual = cho_solve_banded((root, False), of_nodes)
        strengths = (variance * asked[:-1] + usual[days]) / times[:, None]
        narrowed = float(np.log(times).sum()) + log_determinant - self.seen(np.zeros_like(bend))[1]
        return np.concatenate([strengths, usual[self.nodes[-1:]]]), narrowed

    def unlikely(self) -> float:
        """Return how far the strengths and the rests lie from what is believed, in squares of sds."""
        strengths, rests = self.at[: self.columns.size] - self.expected, self.at[self.columns.size + 1 :]
        root, _ = self.seen(np.full(strengths.size, self.day_sd**-2))
        of_nodes = np.zeros(self.chain.shape[1])
        of_nodes[self.nodes[:-1]] = strengths * self.day_sd**-2
        usual = cho_solve_banded((root, False), of_nodes)[self.nodes[:-1]]
        return float(strengths @ (strengths - usual)) * self.day_sd**-2 + float(rests @ rests)
