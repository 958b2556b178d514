"""Are volume and intensity sensible? Weekly sets for each muscle, hard sets, tonnage, lifts, zones and time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from workbench.gym.catalogue import MUSCLES, Exercise
from workbench.gym.equipment.loads import Unit
from workbench.models.volume import (
    RULES,
    CountRules,
    direct_sets,
    fractional_sets,
    lifts_by_zone,
    mean_intensity,
    tonnage,
)
from workbench.present.answer import Answer
from workbench.present.words import mass_in
from workbench.quantities import FloatArray
from workbench.reference.sources import read_rows
from workbench.simulate.run import INTERVAL, Outcome, SessionOutcome
from workbench.simulate.set_outcome import SetOutcome

__all__ = ["VolumeAnswer", "judged_sets", "studied_ranges", "studied_weekly_sets", "volume_question"]

#: The studied range that muscles are shown beside: topic and measure of its row.
_RANGE = ("weekly sets", "muscle growth: moderate")


@dataclass(frozen=True, repr=False)
class VolumeAnswer(Answer):
    """The answer to "are volume and intensity sensible?".

    Attributes
    ----------
    muscles : DataFrame
        One row a week and muscle that any set counts for: week, muscle; direct, fractional [sets/week]; hard_low,
        hard, hard_high [sets/week] (fractional sets that end near enough to failure, 10, 50, 90 % over the simulated
        days); range_low, range_high [sets/week] (studied); beside ("below", "within" or "above" the studied range, by
        fractional sets); assumed_share [1] (part of the fractional sets whose muscle share is assumed).
    weeks : DataFrame
        One row a week: week; sets, hard_low, hard, hard_high [sets/week]; lifts [reps]; tonnage_kg [kg];
        intensity_percent [% of 1RM] (mean over lifts); minutes [min].
    zones : DataFrame
        One row a week and zone: week, zone; lifts [reps].
    sessions : DataFrame
        One row a week and session: week, session; sets [sets]; lifts [reps]; tonnage_kg [kg]; minutes [min].
    rules : CountRules
    unit : {"kg", "lb"}
        The room's, in which tonnage is said.
    """

    muscles: pd.DataFrame
    weeks: pd.DataFrame
    zones: pd.DataFrame
    sessions: pd.DataFrame
    rules: CountRules
    unit: Unit = "kg"

    @property
    def notes(self) -> tuple[str, ...]:
        """What the counts rest on."""
        low, high = self.muscles[["range_low", "range_high"]].iloc[0]
        return (
            f"{low:g} to {high:g} sets a week is a studied range, no promise; shares of muscles are mostly assumed",
            f"Hard: at most {self.rules.hard_reserve:g} reps in reserve (assumed)",
        )

    def sentences(self) -> list[str]:
        """Say the totals of the first and the last week, and which muscles lie outside the studied range."""
        ends = self.weeks.iloc[sorted({0, len(self.weeks) - 1})].to_dict("records")
        lines = [
            f"Week {row['week']}: {row['sets']:.0f} sets, about {row['hard']:.0f} of them hard, {row['lifts']:.0f} "
            f"lifts, {mass_in(row['tonnage_kg'], self.unit):,.0f} {self.unit}, {row['minutes']:.0f} min."
            for row in ends
        ]
        first = self.muscles[self.muscles["week"] == 1]
        for beside in ("below", "above"):
            names = first.loc[first["beside"] == beside, "muscle"]
            if len(names):
                lines.append(f"{beside.capitalize()} the studied range in week 1: {', '.join(names)}.")
        return lines


def studied_ranges() -> pd.DataFrame:
    """Return the published ranges and dose-responses, with source and grade; one row each."""
    table = pd.DataFrame(read_rows("evidence", "volume_ranges.csv"))
    numbers = ["low", "high", "value", "ci_low", "ci_high"]
    table[numbers] = table[numbers].apply(pd.to_numeric)
    return table


@cache
def studied_weekly_sets() -> tuple[float, float]:
    """Return the low and high end of the studied range of weekly sets that muscles are shown beside, [sets/week]."""
    ranges = studied_ranges()
    row = ranges[(ranges["topic"] == _RANGE[0]) & (ranges["measure"] == _RANGE[1])].iloc[0]
    return float(row["low"]), float(row["high"])


def volume_question(outcome: Outcome, *, rules: CountRules = RULES) -> VolumeAnswer:
    """Count the volume and intensity of a simulated block.

    A lift is a rep that is done: what was prescribed, or as many as the simulated lifter has. Ramp sets are counted in
    time only. Load of moves against body mass includes the part of the body that is moved.

    Parameters
    ----------
    outcome : Outcome
        From `workbench.simulate.run.simulate`.
    rules : CountRules
        What counts as a set and as a hard one.

    Returns
    -------
    VolumeAnswer
    """
    plan = outcome.plan
    counted = [_count(sets, len(plan.exercises), plan.weeks, rules) for sets in outcome.sessions]
    sets = np.sum([one.sets for one in counted], axis=0)
    hard = np.sum([one.hard for one in counted], axis=0)
    fractions, reps, loads = (
        np.concatenate([getattr(one, part) for one in counted], axis=-1) for part in ("fraction", "reps", "load_kg")
    )
    week = np.arange(1, plan.weeks + 1)
    hard_low, hard_median, hard_high = np.quantile(hard.sum(axis=-1), INTERVAL, axis=0)
    weeks = pd.DataFrame(
        {
            "week": week,
            "sets": sets.sum(axis=-1),
            "hard_low": hard_low,
            "hard": hard_median,
            "hard_high": hard_high,
            "lifts": reps.sum(axis=-1),
            "tonnage_kg": tonnage(loads, reps),
            "intensity_percent": 100.0 * mean_intensity(fractions, reps),
            "minutes": np.sum([session.duration_s for session in plan.sessions], axis=0) / 60.0,
        }
    )
    by_zone = lifts_by_zone(fractions, reps, rules.zone_edges)
    zones = pd.DataFrame(
        {
            "week": np.repeat(week, len(rules.zone_names)),
            "zone": [*rules.zone_names] * plan.weeks,
            "lifts": by_zone.ravel(),
        }
    )
    of_sessions = [
        pd.DataFrame(
            {
                "week": week,
                "session": session.name,
                "sets": one.sets.sum(axis=-1),
                "lifts": one.reps.sum(axis=-1),
                "tonnage_kg": tonnage(one.load_kg, one.reps),
                "minutes": session.duration_s / 60.0,
            }
        )
        for session, one in zip(plan.sessions, counted, strict=True)
    ]
    muscles = _muscle_table(sets, hard, [plan.catalogue.exercise(name) for name in plan.exercises])
    return VolumeAnswer(muscles, weeks, zones, pd.concat(of_sessions, ignore_index=True), rules, plan.unit)


@dataclass(frozen=True)
class _Counted:
    """One session: sets (weeks, exercises), hard (draws, weeks, exercises); the rest (weeks, sets and drops)."""

    sets: FloatArray
    hard: FloatArray
    reps: FloatArray
    load_kg: FloatArray
    fraction: FloatArray


def _count(sets: SessionOutcome, lanes: int, weeks: int, rules: CountRules) -> _Counted:
    count = np.zeros((weeks, lanes))
    judged = {id(one): weight for one, weight in judged_sets(sets, rules)}
    # Hard sets of each weight: whole numbers, draws beside each other in memory as in the simulation.
    ends = {weight: np.zeros((lanes, weeks, sets.draws), dtype=np.uint16) for weight in set(judged.values())}
    reps, loads, fractions = [], [], []
    for one in sets:
        planned = one.planned
        reps.append(np.where(planned.active, _median_reps(one), 0.0))
        loads.append(_middle(one.lifted_kg))
        fractions.append(_middle(one.lifted_fraction))
        adds = rules.each_drop if planned.drop else 1.0
        done = planned.active if one.done is None else planned.active - one.left_out.mean(axis=0)
        count[:, planned.lane] += adds * done
        if id(one) in judged:
            ends[judged[id(one)]][planned.lane] += one.ends_within(rules.hard_reserve).T
    hard = np.sum([weight * number for weight, number in ends.items()], axis=0)
    return _Counted(count, hard.T, np.stack(reps, axis=-1), np.stack(loads, axis=-1), np.stack(fractions, axis=-1))


def _middle(values: FloatArray) -> FloatArray:
    """Median of each week, of values as planned, shape (weeks,), or of each draw, shape (draws, weeks)."""
    return values if values.ndim == 1 else np.asarray(np.median(values, axis=0))


def judged_sets(sets: SessionOutcome, rules: CountRules = RULES) -> Iterator[tuple[SetOutcome, float]]:
    """Give the sets of a session that can count as hard, and what each then counts for.

    Where drops count for nothing by themselves, a set with drops is judged by where the last of them ends.
    """
    for number, one in enumerate(sets):
        drop, followed = one.planned.drop, number + 1 < len(sets) and sets[number + 1].planned.drop
        if rules.each_drop or not followed:
            yield one, rules.each_drop if drop and rules.each_drop else 1.0


def _median_reps(one: SetOutcome) -> FloatArray:
    """Median reps done in each week; where more than half of the draws make all reps, that is all of them."""
    draws, weeks = one.available.shape
    reps = np.broadcast_to(one.planned.reps_high, (weeks,)).astype(np.float64)
    made = np.array([np.count_nonzero(week) for week in (one.available >= reps).T])
    short = 2 * made <= draws
    if np.any(short):
        reps[short] = np.median(np.minimum(np.floor(one.available[:, short]), reps[short]), axis=0)
    return reps


def _muscle_table(sets: FloatArray, hard: FloatArray, exercises: Sequence[Exercise]) -> pd.DataFrame:
    trained = {part.muscle for exercise in exercises for part in exercise.muscles if part.share}
    muscles = [muscle for muscle in MUSCLES if muscle in trained]
    shares, assumed = np.zeros((2, len(exercises), len(muscles)))
    for number, exercise in enumerate(exercises):
        for part in exercise.muscles:
            if part.share:
                shares[number, muscles.index(part.muscle)] = part.share
                assumed[number, muscles.index(part.muscle)] = part.share if part.grade == "assumed" else 0.0
    fractional = fractional_sets(sets, shares)
    hard_low, hard_median, hard_high = np.quantile(fractional_sets(hard, shares), INTERVAL, axis=0)
    low, high = studied_weekly_sets()
    return pd.DataFrame(
        {
            "week": np.repeat(np.arange(1, sets.shape[0] + 1), len(muscles)),
            "muscle": muscles * sets.shape[0],
            "direct": direct_sets(sets, shares).ravel(),
            "fractional": fractional.ravel(),
            "hard_low": hard_low.ravel(),
            "hard": hard_median.ravel(),
            "hard_high": hard_high.ravel(),
            "range_low": low,
            "range_high": high,
            "beside": np.select([fractional < low, fractional > high], ["below", "above"], "within").ravel(),
            "assumed_share": np.divide(
                fractional_sets(sets, assumed), fractional, out=np.zeros_like(fractional), where=fractional > 0
            ).ravel(),
        }
    )
