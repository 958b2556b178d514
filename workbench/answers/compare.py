"""Which of these schemes? Any number of blocks met by the same simulated lifters on the same days.

The difference of two schemes is taken draw by draw, so that what both meet alike (a strong lifter, a bad day) cancels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
import pandas as pd

from workbench.answers.outcomes import Measured, known_measure, response_for
from workbench.answers.start_loads import ratio_notes
from workbench.gym.equipment import Room
from workbench.gym.equipment.loads import Unit
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import outcome_named, outcome_said
from workbench.quantities import KG_PER_LB, SEED, FloatArray, InputError
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import Plan, make_plan, plan_changed
from workbench.simulate.run import INTERVAL, Outcome, simulate

__all__ = ["DEFAULT_MEASURES", "Comparison", "compare_blocks", "compare_independently"]

DEFAULT_MEASURES: Final = (
    "all_reps",
    "completed_reps",
    "missed_reps",
    "lowest_reserve",
    "first_miss_week",
    "hard_sets",
    "tonnage",
    "intensity",
    "minutes",
    "strength_change",
)
#: Half-width of a 95 % interval in standard errors.
_Z95 = 1.959964
#: Differences smaller than this are the rounding of sums in another order, not a difference.
_SAME = 1e-9


@dataclass(frozen=True, repr=False)
class Comparison(Answer):
    """The answer to "which of these schemes?".

    Attributes
    ----------
    schemes : DataFrame
        One row a scheme and outcome: scheme, outcome (key), label, unit; mean, p10, p50, p90 [the row's unit] (of the
        simulated runs); grade.
    pairs : DataFrame
        One row a pair and outcome: outcome, label, unit, a, b; difference [the row's unit] (mean of a minus b);
        mean_low, mean_high [the row's unit] (95 % interval of that mean, the simulation's own error); p10, p90 [the
        row's unit] (80 % interval of the difference on the same days); chance_a, chance_b, chance_same [1] (that a,
        b or neither has the higher value).
    values : mapping
        By scheme, then outcome: array of shape (draws,).
    outcomes : mapping of str to Outcome
    draws : int, [1]
        Simulated runs.
    seed : int, [1]
    """

    schemes: pd.DataFrame
    pairs: pd.DataFrame
    values: Mapping[str, Mapping[str, FloatArray]]
    outcomes: Mapping[str, Outcome]
    draws: int
    seed: int

    @property
    def notes(self) -> tuple[str, ...]:
        """1RMs that nobody has seen, and outcomes that rest on assumed numbers."""
        assumed = self.schemes.loc[self.schemes["grade"] == "assumed", "label"].unique()
        return (*self.by_ratio, *((f"assumed: {', '.join(assumed)}",) if len(assumed) else ()))

    @property
    def by_ratio(self) -> tuple[str, ...]:
        """Say which 1RMs follow from another lift."""
        notes = (note for outcome in self.outcomes.values() for note in ratio_notes(outcome.plan))
        return tuple(dict.fromkeys(notes))

    def sentences(self) -> list[str]:
        """Say how the schemes were met, and how they stand in the first outcome."""
        rows = self.ordered(self.schemes["outcome"].iloc[0])
        means = [f"{row['scheme']} {outcome_said(row)}" for row in rows.to_dict("records")]
        return [
            f"{self.draws:,} simulated runs, the same lifters and days for every scheme. Bands: middle 80 %.",
            f"{outcome_named(rows.iloc[0].to_dict())}: {', '.join(means)}.",
        ]

    def ordered(self, outcome: str) -> pd.DataFrame:
        """Rows of ``schemes`` for one outcome, best first; where neither end is better, the highest first.

        Raises
        ------
        InputError
            Where the outcome was not worked out.
        """
        rows = self.schemes[self.schemes["outcome"] == outcome]
        if rows.empty:
            known = ", ".join(dict.fromkeys(self.schemes["outcome"]))
            raise InputError(None, "outcome", f"{outcome!r} was not worked out", f"use one of: {known}")
        best_is_least = known_measure(outcome).better < 0
        return rows.sort_values("mean", ascending=best_is_least, kind="stable", ignore_index=True)


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def compare_blocks(
    blocks: Mapping[str, Block],
    lifter: Lifter,
    room: Room,
    *,
    outcomes: Sequence[str] = DEFAULT_MEASURES,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> Comparison:
    """Compare schemes on the same simulated lifters and days.

    Parameters
    ----------
    blocks : mapping of str to Block
        One or more schemes by the name to show. They may differ in anything: sets, exercises, sessions, weeks.
    lifter : Lifter
    room : Room
    outcomes : sequence of str
        Keys of `workbench.answers.outcomes.MEASURES`, or "hard_sets:MUSCLE".
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.

    Returns
    -------
    Comparison
        Each outcome in its own unit, with the middle 80 % of the runs and of the differences on the same days.

    Raises
    ------
    InputError
        No scheme, an unknown outcome, or a block that does not suit the lifter or the room.

    Notes
    -----
    Numbers from ``data/parameters.csv`` and ``data/fitted/``, each with its source key and grade; the equations and
    their sources stand with the form (`workbench.models.fatigue`) and the curve (`workbench.models.load_reps`).
    """
    plans = _plans(blocks, lifter, room, outcomes, form=form, curve=curve)
    simulated, values = _measured(plans, outcomes, draws, seed)
    return _comparison(values, simulated, draws, seed)


def compare_independently(
    blocks: Mapping[str, Block],
    lifter: Lifter,
    room: Room,
    *,
    outcomes: Sequence[str] = DEFAULT_MEASURES,
    draws: int = 2000,
    seed: int = SEED,
) -> Comparison:
    """Compare schemes on lifters and days of their own: for showing what common days are worth, not for deciding."""
    plans = _plans(blocks, lifter, room, outcomes)
    simulated: dict[str, Outcome] = {}
    values: dict[str, dict[str, FloatArray]] = {}
    for number, (name, plan) in enumerate(plans.items(), start=1):
        seed_of_scheme = int(np.random.SeedSequence((seed, number)).generate_state(1)[0])
        outcome, value = _measured({name: plan}, outcomes, draws, seed_of_scheme)
        simulated, values = simulated | outcome, values | value
    return _comparison(values, simulated, draws, seed)


def _measured(
    plans: Mapping[str, Plan], outcomes: Sequence[str], draws: int, seed: int
) -> tuple[dict[str, Outcome], dict[str, dict[str, FloatArray]]]:
    """Simulate plans on the same lifters and days, and take the measures of each."""
    days = CommonDays(list(plans.values()), draws=draws, seed=seed)
    response = response_for(next(iter(plans.values())).lifter, draws, seed)
    simulated: dict[str, Outcome] = {}
    values: dict[str, dict[str, FloatArray]] = {}
    before: Outcome | None = None
    for name, plan in plans.items():
        simulated[name] = before = simulate(plan, days.of(plan), before=before)
        measured = Measured(before, response)
        values[name] = {key: measured.value(key) for key in outcomes}
    return simulated, values


def _plans(
    blocks: Mapping[str, Block],
    lifter: Lifter,
    room: Room,
    outcomes: Sequence[str],
    *,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> dict[str, Plan]:
    if not blocks:
        raise InputError(None, "schemes", "there is none to compare", "give at least one block")
    for key in outcomes:
        known_measure(key)
    plans: dict[str, Plan] = {}
    before: Plan | None = None
    for name, block in blocks.items():
        try:
            before = (
                make_plan(block, lifter, room, form=form, curve=curve)
                if before is None
                else plan_changed(before, block)
            )
        except InputError as error:
            raise InputError(error.file, f"scheme {name}: {error.place}", error.problem, error.remedy) from None
        plans[name] = before
    return plans


def _comparison(
    values: Mapping[str, Mapping[str, FloatArray]],
    simulated: Mapping[str, Outcome],
    draws: int,
    seed: int,
) -> Comparison:
    names = list(values)
    unit = simulated[names[0]].plan.unit
    shown = {name: {key: _in_unit(key, sample, unit) for key, sample in values[name].items()} for name in names}
    scheme_rows = [
        (
            name,
            key,
            *_named(key, unit),
            float(np.mean(sample)),
            *np.quantile(sample, INTERVAL),
            known_measure(key).grade,
        )
        for name in names
        for key, sample in shown[name].items()
    ]
    pair_rows = [
        _pair(key, a, b, shown[a][key], shown[b][key], unit) for a, b in combinations(names, 2) for key in shown[a]
    ]
    return Comparison(
        schemes=pd.DataFrame(
            scheme_rows, columns=["scheme", "outcome", "label", "unit", "mean", "p10", "p50", "p90", "grade"]
        ),
        pairs=pd.DataFrame(
            pair_rows,
            columns=[
                *("outcome", "label", "unit", "a", "b", "difference", "mean_low", "mean_high", "p10", "p90"),
                *("chance_a", "chance_b", "chance_same"),
            ],
        ),
        values=values,
        outcomes=simulated,
        draws=draws,
        seed=seed,
    )


def _named(key: str, unit: Unit) -> tuple[str, str]:
    measure = known_measure(key)
    return measure.label, unit if measure.unit == "kg" else measure.unit


def _in_unit(key: str, sample: FloatArray, unit: Unit) -> FloatArray:
    """Masses in the room's unit; every other sample as it is."""
    return sample / KG_PER_LB if known_measure(key).unit == "kg" and unit == "lb" else sample


def _pair(key: str, a: str, b: str, first: FloatArray, second: FloatArray, unit: Unit) -> tuple[object, ...]:
    difference = first - second
    mean = float(np.mean(difference))
    error = _Z95 * float(np.std(difference, ddof=1)) / np.sqrt(difference.size)
    low, _, high = np.quantile(difference, INTERVAL)
    higher, lower = difference > _SAME, difference < -_SAME
    chances = (float(np.mean(higher)), float(np.mean(lower)), float(np.mean(~higher & ~lower)))
    return (key, *_named(key, unit), a, b, mean, mean - error, mean + error, low, high, *chances)
