"""What do the rules of the set groups come to? How often they bite, what they cost and what they save.

A block with its rules beside the same block without them, for the same lifters on the same days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.outcomes import Measured, known_measure
from workbench.prescription.block import Block
from workbench.prescription.edit import change
from workbench.present.answer import records
from workbench.present.words import amount, in_words, percent_said
from workbench.quantities import FloatArray
from workbench.simulate.plan import plan_changed
from workbench.simulate.run import INTERVAL, Outcome, simulate
from workbench.simulate.set_outcome import SetOutcome

__all__ = ["RulesEffect", "has_rules", "rules_effect", "with_and_without", "without_rules"]

#: What is saved and what it costs, as `workbench.answers.outcomes.MEASURES` has them.
_MEASURES: Final = ("missed_reps", "completed_reps", "tonnage", "intensity", "minutes")
#: Loads that differ by less are the same, kg.
_SAME_KG: Final = 1e-6
#: Differences that are said as none: in sets or reps, minutes, % of 1RM.
_HARDLY: Final = 0.05


@dataclass(frozen=True)
class RulesEffect:
    """How often the rules of a block bite, and what the block comes to with and without them.

    Attributes
    ----------
    groups : int
        Set groups that have a rule.
    sessions : float, [1]
        Share of the sessions with such a group in which a rule changes something.
    sets : float, [1]
        Share of the sets and drops under a rule that it changes: the sum of the next three.
    lighter, heavier, left_out : float, [1]
        Shares of those sets and drops that are done lighter or heavier than planned, or not done.
    sets_left_out : float, [sets]
        Sets and drops of the block with reps to be made that are not done, expected.
    table : DataFrame
        One row a measure: measure, label, unit; with_rules, without [its unit] (means of the simulated runs);
        difference, p10, p90 [its unit] (with minus without, on the same days: mean, and middle 80 %).
    """

    groups: int
    sessions: float
    sets: float
    lighter: float
    heavier: float
    left_out: float
    sets_left_out: float
    table: pd.DataFrame

    def sentences(self) -> list[str]:
        """Say how often the rules bite, then what they save and cost."""
        of = "the rule of a set group bites" if self.groups == 1 else f"the rules of {self.groups} set groups bite"
        kinds = {"lighter": self.lighter, "heavier": self.heavier, "left out": self.left_out}
        how = ", ".join(f"{in_words(share)} {kind}" for kind, share in kinds.items() if share)
        if not how:
            return [f"Rules: {of} on none of the simulated days."]
        often = f"Rules: {of} in {in_words(self.sessions)} of the sessions that have one"
        return [f"{often}; of the sets under a rule are {how}.", self._against()]

    def _against(self) -> str:
        rows = {row["measure"]: row for row in self.table.to_dict("records")}
        saved = ", ".join(
            f"{amount(row['with_rules'])} {word} in place of {amount(row['without'])}"
            for key, word in (("missed_reps", "reps missed"), ("failed_sets", "failed sets"))
            for row in [rows[key]]
        )
        reps, work = rows["completed_reps"], rows["tonnage"]
        share = (
            round(work["difference"] / work["without"], 2) + 0.0 if work["without"] else 0.0
        )  # no minus before a zero
        load, minutes = rows["intensity"], rows["minutes"]
        cost = [
            f"{amount(reps['difference'], signed=True)} reps done",
            f"{percent_said(share, signed=True)} of load times reps",
            f"mean load {load['with_rules']:.1f} in place of {load['without']:.1f} % of 1RM",
        ]
        if abs(minutes["difference"]) > _HARDLY:
            cost.append(f"{amount(minutes['difference'], signed=True)} minutes a week")
        return f"Against the same block without rules, on the same days: {saved}; {', '.join(cost)}."

    def to_dict(self) -> dict[str, Any]:
        """Return it ready for JSON."""
        shares = ("groups", "sessions", "sets", "lighter", "heavier", "left_out", "sets_left_out")
        return {
            **{name: getattr(self, name) for name in shares},
            "sentences": self.sentences(),
            "measures": records(self.table),
        }


def has_rules(block: Block) -> bool:
    """Whether any set group of the block has a rule."""
    return _count_rules(block) > 0


def _count_rules(block: Block) -> int:
    sessions = block.expanded_sessions()
    return sum(group.adjust is not None for one in sessions for slot in one.exercises for group in slot.sets)


def without_rules(block: Block) -> Block:
    """Return the block with no rule in any set group."""
    return change(block, set_group={"adjust": None})


def with_and_without(blocks: Mapping[str, Block]) -> dict[str, Block]:
    """Return blocks by name, each that has rules followed by the same block without them."""
    both: dict[str, Block] = {}
    for name, block in blocks.items():
        both[name] = block
        if has_rules(block):
            both[f"{name}, without its rules"] = without_rules(block)
    return both


def rules_effect(outcome: Outcome) -> RulesEffect | None:
    """Compare a simulated block with itself without rules, on the same draws; None where it has no rule.

    Parameters
    ----------
    outcome : Outcome
        With the draws that it was simulated on. Sessions without a rule are taken over.
    """
    block = outcome.plan.block
    if not has_rules(block):
        return None
    if outcome.draws is None:
        raise ValueError("the outcome does not say on which draws it was simulated; see simulate")
    bare = simulate(plan_changed(outcome.plan, without_rules(block)), outcome.draws, before=outcome)
    ruled = [[one for one in sets if one.load_kg is not None] for _, sets in outcome]
    kinds = [_kinds(sets, outcome.plan.weeks) for sets in ruled if sets]
    under = sum(float(np.sum([one.planned.active for one in sets])) for sets in ruled if sets)
    lighter, heavier, left_out = (float(sum(one[at].mean(axis=0).sum() for one in kinds)) for at in range(3))
    weeks_with = [np.any([one.planned.active for one in sets], axis=0) for sets in ruled if sets]
    bites = [(one.sum(axis=0) > 0).mean(axis=0) for one in kinds]
    return RulesEffect(
        groups=_count_rules(block),
        sessions=float(np.sum(bites) / np.sum(weeks_with)),
        sets=(lighter + heavier + left_out) / under,
        lighter=lighter / under,
        heavier=heavier / under,
        left_out=left_out / under,
        sets_left_out=sum(
            float((one.left_out & one.planned.prescribed).mean(axis=0).sum()) for sets in ruled for one in sets
        ),
        table=_beside(outcome, bare),
    )


def _kinds(sets: list[SetOutcome], weeks: int) -> FloatArray:
    """Count the sets of a session that are lighter, heavier, left out; shape (3, draws, weeks)."""
    counts = np.zeros((3, sets[0].available.shape[0], weeks))
    for one in sets:
        done = one.planned.active & ~one.left_out
        counts[0] += done & (one.lifted_kg < one.planned.load_kg - _SAME_KG)
        counts[1] += done & (one.lifted_kg > one.planned.load_kg + _SAME_KG)
        counts[2] += one.left_out
    return counts


def _beside(with_rules: Outcome, without: Outcome) -> pd.DataFrame:
    both = [Measured(one) for one in (with_rules, without)]
    values = {
        "failed_sets": ("failed sets", "sets", [_failed_sets(one) for one in (with_rules, without)]),
        **{
            key: (known_measure(key).label, known_measure(key).unit, [one.value(key) for one in both])
            for key in _MEASURES
        },
    }
    rows = []
    for key, (label, unit, (first, second)) in values.items():
        difference = first - second
        low, _, high = np.quantile(difference, INTERVAL)
        rows.append((key, label, unit, first.mean(), second.mean(), difference.mean(), low, high))
    columns = ["measure", "label", "unit", "with_rules", "without", "difference", "p10", "p90"]
    return pd.DataFrame(rows, columns=columns)


def _failed_sets(outcome: Outcome) -> FloatArray:
    """Count the sets and drops whose reps are tried and not all made, shape (draws,)."""
    return np.asarray(np.sum([one.failed.sum(axis=1) for _, sets in outcome for one in sets], axis=0), dtype=np.float64)
