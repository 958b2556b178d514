"""What if one set group were changed? The block check again, on the same simulated lifters and days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from workbench.answers.block_check import BlockCheck, draw_for, set_table, summarised
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.edit import Where, change
from workbench.quantities import SEED
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import LifterDraws, Outcome, SessionOutcome, simulate

if TYPE_CHECKING:
    from workbench.gym.catalogue import Catalogue
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["Changes", "WhatIf", "with_changes"]


#: What is changed in each set group: keywords of `workbench.prescription.edit.change` and their values.
Changes = Mapping[Where, Mapping[str, float]]


def with_changes(block: Block, changes: Changes, catalogue: Catalogue | None = None) -> Block:
    """Return the block with the changes made; a change in one session leaves its repeats as they were."""
    for where, what in changes.items():
        block = change(block, where, exercises=catalogue, **what)
    return block


class WhatIf:
    """One lifter, room and block, checked again and again with changes on the same simulated lifters and days.

    Equal, to the digit, to `check_block` of the changed block with the same draws and seed; faster, because the random
    numbers are drawn once, and sessions without a change are taken over from the last check.

    Parameters
    ----------
    block, lifter, room
        As for `check_block`.
    draws, seed : int
        As for `check_block`.
    form, curve : FatigueForm, Curve
    """

    def __init__(
        self,
        block: Block,
        lifter: Lifter,
        room: Room,
        *,
        draws: int = 2000,
        seed: int = SEED,
        form: FatigueForm = DEFAULT_FORM,
        curve: Curve = DEFAULT_CURVE,
    ) -> None:
        self.block, self.lifter, self.room = block, lifter, room
        self.draws, self.seed = draws, seed
        self.form, self.curve = form, curve
        self._drawn: dict[tuple[object, ...], LifterDraws] = {}
        self._last: Outcome | None = None
        self._tables: dict[int, tuple[SessionOutcome, pd.DataFrame]] = {}

    def check(self, changes: Changes | None = None, *, limit: float | None = None) -> BlockCheck:
        """Check the block with the changes made.

        Parameters
        ----------
        changes : mapping of Where to mapping of str to float
        limit : float
            As for `check_block`.

        Returns
        -------
        BlockCheck

        Raises
        ------
        InputError
            As for `check_block`.
        """
        block = with_changes(self.block, changes or {}, self.room.catalogue)
        last = self._last
        plan = make_plan(
            block, self.lifter, self.room, form=self.form, curve=self.curve, like=None if last is None else last.plan
        )
        outcome = self._last = simulate(plan, self._draws(plan), like=last)
        return summarised(outcome, self._set_table(outcome), limit=limit, form=self.form, curve=self.curve)

    def _draws(self, plan: Plan) -> LifterDraws:
        shape = (plan.exercises, plan.weeks, len(plan.sessions), plan.set_count)
        if shape not in self._drawn:
            self._drawn = {shape: draw_for(plan, draws=self.draws, seed=self.seed, form=self.form, curve=self.curve)}
        return self._drawn[shape]

    def _set_table(self, outcome: Outcome) -> pd.DataFrame:
        """As `set_table`, working out anew only the sessions that came out otherwise than the last time."""
        tables = []
        for index, (session, sets) in enumerate(outcome):
            known = self._tables.get(index)
            if known is None or not _came_out_alike(known[0], sets):
                alone = Outcome(replace(outcome.plan, sessions=(session,)), (sets,))
                known = self._tables[index] = (sets, set_table(alone).assign(session_number=index + 1))
            tables.append(known[1])
        together = pd.concat(tables, ignore_index=True)
        return together.sort_values(["week", "session_number"], kind="stable", ignore_index=True)


def _came_out_alike(one: SessionOutcome, other: SessionOutcome) -> bool:
    if one is other:
        return True
    return len(one) == len(other) and all(
        np.array_equal(a.available, b.available)
        and (a.planned.exercise, a.planned.label) == (b.planned.exercise, b.planned.label)
        and all(
            np.array_equal(getattr(a.planned, name), getattr(b.planned, name))
            for name in ("load_kg", "reps_low", "reps_high", "rest_s", "active")
        )
        for a, b in zip(one, other, strict=True)
    )
