"""Loads that follow what the sets before have shown, by the rule a coach gave a set group: on every draw its own."""

from __future__ import annotations

import numpy as np

from workbench.gym.equipment import LoadTable
from workbench.models.stated_reserve import statement_bias
from workbench.prescription.adjust import Adjust
from workbench.quantities import FloatArray
from workbench.simulate.plan import PlannedSet

__all__ = ["Adjusted"]

#: Loads closer than this part are as planned.
_SAME = 1e-9


class Adjusted:
    """One set group under its rule, set by set.

    What a lifter feels to be left is off by the published bias; its scatter is left aside (assumed). The clock stays
    the plan's: what follows a set that is left out begins when it was planned (assumed).
    """

    def __init__(self, rule: Adjust, table: LoadTable, shape: tuple[int, int]) -> None:
        self.rule, self.table = rule, table
        self.factor: FloatArray = np.ones(shape)
        self.of_set = self.factor  # that of the set done last, which its drops follow
        self.misses = np.zeros(shape, dtype=int)

    @property
    def done(self) -> np.ndarray:
        """Whether the next set is still done, shape (draws, weeks), bool."""
        return ~self.rule.ended(self.misses)

    def load_kg(self, planned: PlannedSet) -> FloatArray:
        """Load of the next set or drop, on the plates of the room and never above what the rule allows, [kg]."""
        if not planned.drop:
            self.of_set = self.factor
        wanted = self.of_set * planned.load_kg
        put_on = self.table.round_kg(wanted - planned.body_kg, "not_above") + planned.body_kg
        as_planned = (np.abs(self.of_set - 1.0) < _SAME) | ~(put_on > 0.0)  # nothing so light: as planned
        return np.asarray(np.where(as_planned, planned.load_kg, put_on))

    def after(self, planned: PlannedSet, available: FloatArray) -> None:
        """Take in how a set ended on every draw; drops and sets to failure show nothing."""
        if planned.drop:
            return
        counted = planned.prescribed & self.done
        missed = (available < planned.reps_low) & counted
        self.misses = self.misses + missed
        felt = available - 0.5 - planned.reps_high - statement_bias(available)
        self.factor = self.rule.factor_after(self.factor, missed, np.where(counted, felt, np.nan))
