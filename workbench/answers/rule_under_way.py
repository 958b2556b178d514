"""The rule of a set group in a session that is under way: what the sets done of the group leave allowed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from workbench.gym.equipment import LoadTable
from workbench.gym.equipment.loads import RoundingMode
from workbench.prescription.adjust import Adjust
from workbench.simulate.plan import PlannedSession, PlannedSet

__all__ = ["RuleUnderWay", "rules_under_way"]

#: Parts of the plan's load that differ by less are the same.
_SAME: Final = 1e-9


@dataclass
class RuleUnderWay:
    """One set group's rule, and how its sets done so far stand to it.

    Attributes
    ----------
    rule : Adjust
    factor : float, [1]
        Part of the plan's load that the rule gives the next set.
    misses : int, [sets]
        Sets with a missed rep.
    left_out : int, [sets]
        Sets still to come that the rule ends.
    """

    rule: Adjust
    factor: float = 1.0
    misses: int = 0
    left_out: int = 0

    @property
    def ended(self) -> bool:
        """Whether no further set of the group is to be done."""
        return bool(self.rule.ended(self.misses))

    def take(self, planned: PlannedSet, at: int, reps: int, reserve: float | None) -> None:
        """Take in a set that was done, in the week ``at``; drops show nothing."""
        if planned.drop or not planned.prescribed[at]:
            return
        missed = reps < planned.reps_low[at]
        # Felt against the most reps asked for, as when it is simulated.
        felt = np.nan if reserve is None else reps + reserve - float(planned.reps_high[at])
        self.misses += int(missed)
        self.factor = float(self.rule.factor_after(self.factor, missed, felt))

    def allowed(self, planned_kg: float, body_kg: float, table: LoadTable, *, most_down: float) -> tuple[float, float]:
        """Return the lightest and the heaviest load allowed for the next set, on the room's plates, body included [kg].

        ``most_down`` bounds the lightest where the rule lowers nothing itself.
        """

        def on_plates(factor: float, mode: RoundingMode = "not_above") -> float:
            if abs(factor - 1.0) < _SAME:
                return planned_kg
            put_on = float(table.round_kg(factor * planned_kg - body_kg, mode)) + body_kg
            return put_on if put_on > 0.0 else planned_kg  # nothing so light: as planned

        heaviest = on_plates(self.factor)
        lightest = on_plates(self.rule.lowest / 100.0) if self.rule.lower else on_plates(1.0 - most_down, "not_below")
        return min(lightest, heaviest), heaviest


def rules_under_way(session: PlannedSession) -> dict[tuple[int, int], RuleUnderWay]:
    """Return the rules of a session's set groups, by slot and group, before the first set."""
    return {
        (slot_number, group_number): RuleUnderWay(group.adjust)
        for slot_number, slot in enumerate(session.of.exercises, start=1)
        for group_number, group in enumerate(slot.sets, start=1)
        if group.adjust is not None
    }
