"""Tables of a simulated block: a row for each set, for each session and week; and the first set that breaks."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.prescription.block import WHOLE_WEEK
from workbench.prescription.edit import Where
from workbench.present.words import in_words
from workbench.quantities import FloatArray
from workbench.simulate.plan import SetArrays, SetPlace, SetPlaces
from workbench.simulate.run import Outcome, interval_by_week

__all__ = ["FirstBreak", "first_break", "set_table", "week_table"]

_SET_COLUMNS: Final = (
    *("week", "session", "session_number", "slot", "exercise", "group", "set", "drop"),
    *("load_kg", "unit", "hands", "body_kg", "percent", "reps_low", "reps_high", "leaves", "rest_s"),
    *("chance", "missed", "reserve_low", "reserve", "reserve_high", "reps_p10", "reps_p50", "reps_p90"),
)


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
    planned = SetArrays(*map(np.concatenate, zip(*(session.arrays for session, _ in both), strict=True)))
    low, median, high = np.concatenate([sets.available_interval for _, sets in both], axis=1)
    chance, missed = (
        np.concatenate([getattr(sets, name) for _, sets in both]) for name in ("chances", "expected_missed")
    )
    to_be_made, leaves = planned.to_be_made, planned.leaves

    def reserve(reps: FloatArray) -> FloatArray:
        return np.where(to_be_made, reps - planned.reps_low, np.nan)

    def whole(reps: FloatArray) -> FloatArray:
        ended = np.minimum(np.maximum(reps - leaves, np.minimum(reps, 1.0)), planned.reps_high)
        return np.floor(np.where(np.isnan(leaves), reps, ended))

    numbers = {
        "load_kg": planned.load_kg,
        "percent": 100.0 * planned.load_fraction,
        "reps_low": planned.reps_low,
        "reps_high": planned.reps_high,
        "leaves": leaves,
        "rest_s": planned.rest_s,
        "chance": np.where(to_be_made, chance, np.nan),
        "missed": np.where(to_be_made, missed, np.nan),
        "reserve_low": reserve(low),
        "reserve": reserve(median),
        "reserve_high": reserve(high),
        "reps_p10": whole(low),
        "reps_p50": whole(median),
        "reps_p90": whole(high),
    }
    rows, places = _places(outcome.plan.weeks, tuple((one.name, one.places) for one in outcome.plan.sessions))
    columns = places | {name: values.ravel()[rows] for name, values in numbers.items()}
    return pd.DataFrame({name: columns[name] for name in _SET_COLUMNS})


@lru_cache(maxsize=16)
def _places(weeks: int, sessions: tuple[tuple[str, SetPlaces], ...]) -> tuple[np.ndarray, dict[str, Any]]:
    """Order of the rows of a set table, and its columns that say where a set stands and what it is.

    A slider leaves them as they are. The order is that of the weeks, sessions, exercises and sets, of those done.
    """
    sets = [(name, number, one) for number, (name, of) in enumerate(sessions, start=1) for one in of.sets]
    by_place = [(number, one.slot, one.number, one.drop) for _, number, one in sets]
    order = np.array(sorted(range(len(sets)), key=by_place.__getitem__))
    active = np.concatenate([np.frombuffer(of.active, dtype=bool).reshape(-1, weeks) for _, of in sessions])
    week, at = np.nonzero(active[order].T)
    at = order[at]

    def of_sets(values: Iterable[object]) -> Any:
        array = np.array(list(values))
        if array.dtype.kind != "U":
            return array[at]
        texts, places = np.unique(array, return_inverse=True)  # few: they are made into an array once
        return pd.Series(texts.tolist()).array.take(places[at])

    columns = {name: of_sets(getattr(one, name) for _, _, one in sets) for name in SetPlace._fields if name != "number"}
    columns |= {"week": week + 1, "session": of_sets(name for name, _, _ in sets)}
    columns |= {"session_number": of_sets(number for _, number, _ in sets), "set": columns.pop("label")}
    return at * weeks + week, columns


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
    below = np.flatnonzero(sets["chance"].to_numpy() < limit)
    if not below.size:
        return None
    row = {name: sets[name].array[below[0]] for name in (*_SET_COLUMNS[:8], "chance")}
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
