"""Tables of a simulated block: a row for each set, for each session and week; and the first set that breaks."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from workbench.prescription.block import WHOLE_WEEK
from workbench.prescription.edit import Where
from workbench.present.words import in_words
from workbench.quantities import FloatArray
from workbench.simulate.run import Outcome, interval_by_week

__all__ = ["FirstBreak", "first_break", "set_table", "week_table"]


@dataclass(frozen=True)
class FirstBreak:
    """The first set, in order of weeks and sessions, whose reps are less likely to be made than the coach accepts."""

    week: int
    session: str
    session_number: int
    exercise: str
    slot: int
    group: int
    label: str
    drop: int
    chance: float

    @property
    def where(self) -> Where:
        """Place of the set's group in the block."""
        return Where(self.session_number, self.slot, self.group)

    def __str__(self) -> str:
        """Return the set's place and chance in words."""
        return (
            f"week {self.week}, {self.session}, {self.exercise}, set {self.label}: "
            f"{in_words(self.chance)} chance that all reps are made"
        )

    def below(self, limit: float) -> str:
        """Return the set's place and chance; the chance reads as below the limit where both are nearly the same too."""
        if in_words(self.chance) != in_words(limit):
            return str(self)
        return str(self).replace(
            f"{in_words(self.chance)} chance", f"{math.floor(1000 * self.chance) / 10:.1f} % chance"
        )


def set_table(outcome: Outcome) -> pd.DataFrame:
    """One row a week and set.

    Columns: week, session (name), session_number, slot, exercise, group, set (label), drop; load_kg [kg]; unit, hands,
    body_kg [kg] (how the load is spoken of, see `workbench.present.words.load_said`); percent [% of 1RM] (as believed);
    reps_low, reps_high [reps] (infinite: to failure); leaves [reps] (in reserve, where the set is given so, else NaN);
    rest_s [s] (since the last set of the exercise); chance [1] (that the set's reps are all made); missed [reps]
    (expected, of the lowest prescribed); reserve_low, reserve, reserve_high [reps] (10, 50, 90 % of reps in reserve
    after the lowest prescribed reps); reps_p10, reps_p50, reps_p90 [reps] (whole: those that there are, and of sets to
    failure or to a stated reserve those that will be done). Such a set is not to be made: chance, missed and reserve
    are NaN.
    """
    both = list(outcome)
    weeks = outcome.plan.weeks
    low, median, high = np.concatenate([sets.available_interval for _, sets in both], axis=1).reshape(3, -1)
    chance, missed = (
        np.concatenate([getattr(sets, name) for _, sets in both]).ravel() for name in ("chances", "expected_missed")
    )
    planned = [one.planned for _, sets in both for one in sets]
    reps_low, reps_high = (np.concatenate([getattr(one, end) for one in planned]) for end in ("reps_low", "reps_high"))
    leaves = np.concatenate([np.full(weeks, np.nan) if one.leaves is None else one.leaves for one in planned])
    to_be_made = np.isfinite(reps_high) & np.isnan(leaves)

    def each_week(values: Iterable[object]) -> Any:
        of_set = np.array(list(values))
        if of_set.dtype.kind != "U":
            return of_set.repeat(weeks)
        texts, places = np.unique(of_set, return_inverse=True)  # few: they are made into an array once
        return pd.Series(texts.tolist()).array.take(places.repeat(weeks))

    def reserve(reps: FloatArray) -> FloatArray:
        return np.where(to_be_made, reps - reps_low, np.nan)

    def whole(reps: FloatArray) -> FloatArray:
        ended = np.minimum(np.maximum(reps - leaves, np.minimum(reps, 1.0)), reps_high)
        return np.floor(np.where(np.isnan(leaves), reps, ended))

    columns = {
        "week": np.tile(np.arange(1, weeks + 1), len(planned)),
        "session": each_week(session.name for session, sets in both for _ in sets),
        "session_number": each_week(number for number, (_, sets) in enumerate(both, start=1) for _ in sets),
        "slot": each_week(one.slot for one in planned),
        "exercise": each_week(one.exercise for one in planned),
        "group": each_week(one.group for one in planned),
        "set": each_week(one.label for one in planned),
        "drop": each_week(one.drop for one in planned),
        "load_kg": np.concatenate([one.load_kg for one in planned]),
        "unit": each_week(one.unit for one in planned),
        "hands": each_week(one.hands for one in planned),
        "body_kg": each_week(one.body_kg for one in planned),
        "percent": 100.0 * np.concatenate([one.load_fraction for one in planned]),
        "reps_low": reps_low,
        "reps_high": reps_high,
        "leaves": leaves,
        "rest_s": np.concatenate([one.rest_s for one in planned]),
        "chance": np.where(to_be_made, chance, np.nan),
        "missed": np.where(to_be_made, missed, np.nan),
        "reserve_low": reserve(low),
        "reserve": reserve(median),
        "reserve_high": reserve(high),
        "reps_p10": whole(low),
        "reps_p50": whole(median),
        "reps_p90": whole(high),
    }
    number = np.array([one.number for one in planned]).repeat(weeks)
    first = np.lexsort([columns["drop"], number, *(columns[key] for key in ("slot", "session_number", "week"))])
    rows = first[np.concatenate([one.active for one in planned])[first]]
    return pd.DataFrame({name: values[rows] for name, values in columns.items()})


def week_table(outcome: Outcome) -> pd.DataFrame:
    """One row a week and session, then one row a week for the whole week.

    Columns: week, session ("whole week" for the week); chance [1] (that all its reps are made); missed [reps]
    (expected); reserve_low, reserve, reserve_high [reps] (10, 50, 90 % of the fewest reps in reserve among its sets
    with prescribed reps); minutes [min]. Where no set has prescribed reps, all but the minutes are NaN.
    """
    plan, chances = outcome.plan, outcome.chance_by_session()
    of_session = [
        np.stack([chance, sets.expected_missed.sum(axis=0), *sets.reserve_interval, session.duration_s / 60.0])
        for (session, sets), chance in zip(outcome, chances, strict=True)
    ]
    lowest = interval_by_week(np.minimum.reduce([sets.lowest_reserve for sets in outcome.sessions]))
    missed, seconds = np.sum([[rows[1], 60.0 * rows[-1]] for rows in of_session], axis=0)
    rows = np.stack([*of_session, np.stack([outcome.chance_by_week(), missed, *lowest, seconds / 60.0])])
    names = [*(session.name for session in plan.sessions), WHOLE_WEEK]
    values = rows.transpose(1, 2, 0).reshape(len(rows[0]), -1)
    chance, missed, low, median, high, minutes = np.where(np.isinf(values), np.nan, values)
    nothing = np.isnan(median)  # to be made
    columns = {
        "week": np.repeat(np.arange(1, plan.weeks + 1), len(names)),
        "session": names * plan.weeks,
        "chance": np.where(nothing, np.nan, chance),
        "missed": np.where(nothing, np.nan, missed),
        "reserve_low": low,
        "reserve": median,
        "reserve_high": high,
        "minutes": minutes,
    }
    return pd.DataFrame(columns)


def first_break(sets: pd.DataFrame, limit: float) -> FirstBreak | None:
    """Return the first set whose chance lies under ``limit``, in order of weeks, sessions and sets."""
    below = sets[sets["chance"] < limit]
    if below.empty:
        return None
    row = below.iloc[0]
    return FirstBreak(
        week=int(row["week"]),
        session=str(row["session"]),
        session_number=int(row["session_number"]),
        exercise=str(row["exercise"]),
        slot=int(row["slot"]),
        group=int(row["group"]),
        label=str(row["set"]),
        drop=int(row["drop"]),
        chance=float(row["chance"]),
    )
