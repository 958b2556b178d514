"""Which of these schemes? Any number of blocks met by the same simulated lifters on the same days.

The difference of two schemes is taken draw by draw, so that what both meet alike (a strong lifter, a bad day) cancels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from workbench.answers.outcomes import Measured, draw_response, known_measure
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.present.answer import Answer
from workbench.present.words import amount
from workbench.quantities import KG_PER_LB, SEED, FloatArray, InputError
from workbench.simulate.plan import Plan, PlannedSession, make_plan
from workbench.simulate.run import LifterDraws, Outcome, draw_lifter, simulate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.gym.equipment.loads import Unit
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["DEFAULT_MEASURES", "CommonDays", "Comparison", "compare_blocks", "compare_independently", "paired_draws"]

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
#: 80 % interval of what happens to one lifter in one run of the block, and the median.
_INTERVAL = (0.1, 0.5, 0.9)
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
        By scheme, then outcome: array of shape (draws,), [the outcome's unit].
    plans : mapping of str to Plan
    outcomes : mapping of str to Outcome
    draws : int, [1]
        Simulated runs.
    seed : int, [1]
    """

    schemes: pd.DataFrame
    pairs: pd.DataFrame
    values: Mapping[str, Mapping[str, FloatArray]]
    plans: Mapping[str, Plan]
    outcomes: Mapping[str, Outcome]
    draws: int
    seed: int

    @property
    def notes(self) -> tuple[str, ...]:
        """Outcomes that rest on assumed numbers."""
        assumed = self.schemes.loc[self.schemes["grade"] == "assumed", "label"].unique()
        return (f"assumed: {', '.join(assumed)}",) if len(assumed) else ()

    def sentences(self) -> list[str]:
        """Say how the schemes were met, and how they stand in the first outcome."""
        rows = self.ordered(self.schemes["outcome"].iloc[0])
        means = [
            f"{row['scheme']} {amount(row['mean'])} ({amount(row['p10'])} to {amount(row['p90'])})"
            for row in rows.to_dict("records")
        ]
        return [
            f"{self.draws:,} simulated runs, the same lifters and days for every scheme. Bands: middle 80 %.",
            f"{rows['label'].iloc[0]} [{rows['unit'].iloc[0]}]: {', '.join(means)}.",
        ]

    def ordered(self, outcome: str, *, highest_first: bool | None = None) -> pd.DataFrame:
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
        descending = known_measure(outcome).better >= 0 if highest_first is None else highest_first
        return rows.sort_values("mean", ascending=not descending, kind="stable", ignore_index=True)


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
    plans = _plans(blocks, lifter, room, outcomes, form, curve)
    paired = paired_draws(list(plans.values()), draws=draws, seed=seed, form=form, curve=curve)
    simulated = {name: simulate(plan, one) for (name, plan), one in zip(plans.items(), paired, strict=True)}
    response = draw_response(draws, _response_rng(seed), training_years=lifter.training_years)
    values: dict[str, dict[str, FloatArray]] = {}
    for name, one in simulated.items():
        measured = Measured(one, response)
        values[name] = {key: measured.value(key) for key in outcomes}
    return _comparison(values, plans, simulated, draws, seed)


def compare_independently(
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
    """Compare schemes on lifters and days of their own: for showing what common days are worth, not for deciding."""
    plans = _plans(blocks, lifter, room, outcomes, form, curve)
    values: dict[str, dict[str, FloatArray]] = {}
    simulated: dict[str, Outcome] = {}
    for number, (name, plan) in enumerate(plans.items()):
        own = int(np.random.SeedSequence((seed, number + 1)).generate_state(1)[0])
        simulated[name] = simulate(plan, paired_draws([plan], draws=draws, seed=own, form=form, curve=curve)[0])
        response = draw_response(draws, _response_rng(own), training_years=lifter.training_years)
        measured = Measured(simulated[name], response)
        values[name] = {key: measured.value(key) for key in outcomes}
    return _comparison(values, plans, simulated, draws, seed)


def _plans(
    blocks: Mapping[str, Block], lifter: Lifter, room: Room, outcomes: Sequence[str], form: FatigueForm, curve: Curve
) -> dict[str, Plan]:
    if not blocks:
        raise InputError(None, "schemes", "there is none to compare", "give at least one block")
    for key in outcomes:
        known_measure(key)
    plans: dict[str, Plan] = {}
    for name, block in blocks.items():
        try:
            plans[name] = make_plan(block, lifter, room, form=form, curve=curve)
        except InputError as error:
            raise InputError(error.file, f"scheme {name}: {error.place}", error.problem, error.remedy) from None
    return plans


def _response_rng(seed: int) -> np.random.Generator:
    # A stream of its own, so that the answer to training does not share digits with the days.
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(7,)))


def paired_draws(
    plans: Sequence[Plan],
    *,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> list[LifterDraws]:
    """Draw lifters and days once for several plans of one lifter, and hand each plan its part; see `CommonDays`.

    Parameters
    ----------
    plans : sequence of Plan
        All for the same lifter.
    draws, seed : int
    form, curve : FatigueForm, Curve

    Returns
    -------
    list of LifterDraws
        One for each plan, in order.
    """
    days = CommonDays(plans, draws=draws, seed=seed, form=form, curve=curve)
    return [days.of(plan) for plan in plans]


class CommonDays:
    """Lifters and days that several plans of one lifter share.

    A lifter's 1RM and endurance follow the exercise, a day's strength follows the session (its weekday where all
    plans state one, else its place in the week) and the week, and a set's scatter follows the session, the exercise
    and the number of the set: whatever two plans share, they meet alike. Where all plans hold the exercises and
    sessions of the first, that one meets the lifters and days of `workbench.answers.block_check.draw_for`.

    Parameters
    ----------
    plans : sequence of Plan
        All for the same lifter; together they hold every session, exercise and set that will be asked for.
    draws, seed : int
    form, curve : FatigueForm, Curve
    """

    def __init__(
        self,
        plans: Sequence[Plan],
        *,
        draws: int = 2000,
        seed: int = SEED,
        form: FatigueForm = DEFAULT_FORM,
        curve: Curve = DEFAULT_CURVE,
    ) -> None:
        self._weekdays = _weekdays(plans)
        exercises = tuple(dict.fromkeys(name for plan in plans for name in plan.exercises))
        first, *others = [self._keys(plan) for plan in plans]
        # Those of the first plan as they come, the rest in an order that does not depend on that of the plans.
        rest = sorted({key for keys in others for key in keys} - set(first))
        self._rows = {key: row for row, key in enumerate((*first, *rest))}
        self._shared = draw_lifter(
            plans[0].lifter,
            exercises,
            weeks=max(plan.weeks for plan in plans),
            sessions=1 + max(row for plan in plans for row in self._session_rows(plan)),
            sets=len(self._rows),
            draws=draws,
            rng=np.random.default_rng(seed),
            form=form,
            curve=curve,
            catalogue=plans[0].catalogue,
        )

    def of(self, plan: Plan) -> LifterDraws:
        """Return the part of the draws that a plan meets; KeyError for a set that none of the first plans holds."""
        shared = self._shared
        columns = [shared.exercises.index(name) for name in plan.exercises]
        return replace(
            shared,
            exercises=plan.exercises,
            log_one_rm=shared.log_one_rm[:, columns],
            endurance=shared.endurance[:, columns],
            day=_rows(shared.day, self._session_rows(plan), plan.weeks),
            set_noise=_rows(shared.set_noise, [self._rows[key] for key in self._keys(plan)], plan.weeks),
        )

    def _session_rows(self, plan: Plan) -> list[int]:
        if self._weekdays:
            return [self._weekdays.index(session.day) for session in plan.sessions if session.day is not None]
        return list(range(len(plan.sessions)))

    def _keys(self, plan: Plan) -> list[tuple[int, str, int, int, int]]:
        rows = self._session_rows(plan)
        return [key for session, row in zip(plan.sessions, rows, strict=True) for key in _set_keys(session, row)]


def _weekdays(plans: Sequence[Plan]) -> list[int]:
    """Return the weekdays of the sessions, where every session of every plan has one of its own; else nothing."""
    days = [[session.day for session in plan.sessions] for plan in plans]
    if all(None not in of_plan and len(set(of_plan)) == len(of_plan) for of_plan in days):
        return sorted({day for of_plan in days for day in of_plan if day is not None})
    return []


def _rows(array: FloatArray, chosen: list[int], weeks: int) -> FloatArray:
    # Taken with the draws innermost, as they lie in memory, and turned back: the simulation is fast on those.
    return array.transpose(0, 2, 1)[chosen, :weeks].transpose(0, 2, 1)


def _set_keys(session: PlannedSession, row: int) -> list[tuple[int, str, int, int, int]]:
    turns: dict[str, list[int]] = {}
    keys = []
    for one in session.sets:
        slots = turns.setdefault(one.exercise, [])
        if one.slot not in slots:
            slots.append(one.slot)
        keys.append((row, one.exercise, slots.index(one.slot), one.number, one.drop))
    return keys


def _comparison(
    values: Mapping[str, Mapping[str, FloatArray]],
    plans: Mapping[str, Plan],
    simulated: Mapping[str, Outcome],
    draws: int,
    seed: int,
) -> Comparison:
    names = list(values)
    unit = plans[names[0]].unit
    shown = {name: {key: _in_unit(key, one, unit) for key, one in values[name].items()} for name in names}
    scheme_rows = [
        (name, key, *_named(key, unit), float(np.mean(sample)), *_quantiles(sample), known_measure(key).grade)
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
        plans=plans,
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


def _quantiles(sample: FloatArray) -> tuple[float, float, float]:
    low, middle, high = np.quantile(sample, _INTERVAL)
    return float(low), float(middle), float(high)


def _pair(key: str, a: str, b: str, first: FloatArray, second: FloatArray, unit: Unit) -> tuple[object, ...]:
    difference = first - second
    mean = float(np.mean(difference))
    error = _Z95 * float(np.std(difference, ddof=1)) / np.sqrt(difference.size)
    low, _, high = _quantiles(difference)
    higher, lower = difference > _SAME, difference < -_SAME
    chances = (float(np.mean(higher)), float(np.mean(lower)), float(np.mean(~higher & ~lower)))
    return (key, *_named(key, unit), a, b, mean, mean - error, mean + error, low, high, *chances)
