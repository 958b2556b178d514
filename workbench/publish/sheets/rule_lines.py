"""The rule that a coach gave to a set group, as a line of a sheet: the loads it leads to, on the plates of the room."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from workbench.answers.rule_under_way import RuleUnderWay
from workbench.gym.equipment import LoadTable
from workbench.prescription.adjust import Adjust
from workbench.present.words import put_on_said

__all__ = ["rule_line"]


def rule_line(rule: Adjust, sets: int, planned_kg: float, body_kg: float, table: LoadTable) -> str:
    """Say what to do after each set of a group.

    Parameters
    ----------
    rule : Adjust
    sets : int, [sets]
        Of the group in this week: more changes than these leave room for are not listed.
    planned_kg, body_kg : float, [kg]
        Load of the group, and the part of it that is the body.
    table : LoadTable
    """

    def loads(*, missed: bool) -> str:
        steps = [planned_kg, *_steps(rule, sets, planned_kg, body_kg, table, missed=missed)]
        said = [put_on_said(kg, body_kg, table.unit, table.hands) for before, kg in pairwise(steps) if kg != before]
        return ", then ".join(said)

    down, up = loads(missed=True) if rule.lower else "", loads(missed=False) if rule.increase else ""
    end = "" if rule.end_after is None else "once" if rule.end_after == 1 else f"in {rule.end_after} of them"
    parts = (
        f"missed a rep: {down}" if down else "",
        f"{rule.increase_from:g} or more left: {up}" if up else "",
        f"missed a rep {end}: end them" if end else "",
    )
    said = "; ".join(part for part in parts if part)
    return f"After each of these sets, {said}" if said else ""


def _steps(
    rule: Adjust, sets: int, planned_kg: float, body_kg: float, table: LoadTable, *, missed: bool
) -> Iterator[float]:
    """Give the loads after one, two and more sets that all missed a rep, or all were easy."""
    state = RuleUnderWay(rule)
    for _ in range(sets - 1):
        state.factor = float(rule.factor_after(state.factor, missed, np.nan if missed else np.inf))
        yield state.allowed(planned_kg, body_kg, table, most_down=0.0)[1]
