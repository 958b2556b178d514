"""What happened in one set over all draws."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate.plan import PlannedSet

__all__ = ["SetOutcome"]


@dataclass(frozen=True)
class SetOutcome:
    """What happened in one set over all draws.

    Attributes
    ----------
    planned : PlannedSet
    available : array, shape (draws, weeks), [reps]
        Reps that could be made, real-valued; whole reps are its floor.
    load_kg : array, shape (draws, weeks), [kg], optional
        Where a rule of the block changes the load from draw to draw.
    done : array, shape (draws, weeks), bool, optional
        Whether the set is done, where a rule may end its group; ``available`` is 0 where it is not.
    """

    planned: PlannedSet
    available: FloatArray
    load_kg: FloatArray | None = None
    done: np.ndarray | None = None

    @cached_property
    def made(self) -> np.ndarray:
        """Whether all reps of the set were made, shape (draws, weeks), bool; where none are prescribed, always."""
        made = self.available >= self.planned.reps_low
        prescribed = self.planned.prescribed
        return np.asarray(made if prescribed.all() else made | ~prescribed)

    @cached_property
    def missed(self) -> FloatArray:
        """Prescribed reps that were tried and not made, shape (draws, weeks), [reps].

        Missing the top of a range is none, and a set that a rule leaves out misses none.
        """
        missed = np.zeros_like(self.available)
        draw, week, short = self.misses
        missed[draw, week] = short
        return missed

    @property
    def misses(self) -> tuple[np.ndarray, np.ndarray, FloatArray]:
        """Draw and week, from 0, of every set in which reps are missed, week by week, and how many: few draws fail."""
        week, draw = np.nonzero(self.failed.T)
        return draw, week, self.planned.reps_low[week] - np.floor(self.available[draw, week])

    @property
    def judged(self) -> np.ndarray:
        """Whether there were reps to be made, and they were tried, shape (weeks,) or (draws, weeks), bool."""
        prescribed = self.planned.prescribed
        return prescribed if self.done is None else np.asarray(prescribed & self.done)

    @property
    def failed(self) -> np.ndarray:
        """Whether reps of the set were tried and not made, shape (draws, weeks), bool."""
        return np.asarray(~self.made & self.judged)

    @property
    def left_out(self) -> np.ndarray:
        """Whether a rule of the block left the set out, shape (draws, weeks), bool, or (1, 1) where there is none."""
        return np.zeros((1, 1), dtype=bool) if self.done is None else np.asarray(~self.done & self.planned.active)

    @property
    def lifted_kg(self) -> FloatArray:
        """The load of each draw, shape (weeks,) as planned, or (draws, weeks) where a rule may change it, [kg]."""
        return self.planned.load_kg if self.load_kg is None else self.load_kg

    @property
    def lifted_fraction(self) -> FloatArray:
        """The same over the believed 1RM, [1]."""
        planned = self.planned
        return planned.load_fraction if self.load_kg is None else planned.load_fraction * self.load_kg / planned.load_kg

    @property
    def reps_done(self) -> FloatArray:
        """Whole reps done, shape (draws, weeks), [reps]."""
        done = np.floor(self.available)
        np.minimum(done, self.planned.reps_high, out=done)
        return np.asarray(done if self.planned.active.all() else done * self.planned.active)

    def ends_within(self, reps: float) -> np.ndarray:
        """Whether the set ends with at most so many reps in reserve, shape (draws, weeks), bool.

        A set to failure and one that breaks off end with none; a set that is not done in a week does not end.
        """
        ends = (self.available <= self.planned.reps_high + reps) & self.planned.active
        return np.asarray(ends if self.done is None else ends & self.done)
