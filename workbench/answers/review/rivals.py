"""The simple rules that a coach would use instead, and a student's own model, on the same sets as the workbench.

A rule gives one number a set. So that it can be scored as fairly as a forecast with bands, it is given the spread of
its own errors so far, and its word that a set is made counts as often as it has been right.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from workbench.models.published import epley_1985
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import endurance_prior

if TYPE_CHECKING:
    from workbench.answers.review.forecasts import Known
    from workbench.lifter import Lifter

__all__ = ["SIMPLE_RULES", "Model", "Rule", "Said", "last_time", "percent_table", "rep_max_equation", "same_as_first"]

#: Of the sets done before and those of a day: reps of each set of the day, or draws of them; None where it cannot say.
Model = Callable[[pd.DataFrame, pd.DataFrame], Sequence[Any]]
#: What came of a day, which no forecast may see.
_OUTCOME: Final = ["reps", "failed", "reserve", "end_s", "row", "too_early"]
#: Reps of later sets to failure over those of the first, means of 29 studies (nuzzo_2024_sets).
_FALL: Final = (1.0, 0.70, 0.55, 0.50, 0.45, 0.45)
#: Errors that a rule is given before it has any of its own, reps; and how many of five words were right (assumed).
_FIRST_ERRORS: Final = (-2.0, -1.0, 0.0, 1.0, 2.0)
_FIRST_WORDS: Final = {True: (4.0, 5.0), False: (1.0, 5.0)}
#: Loads this near, natural log, are the same load to a coach.
_SAME_LOAD: Final = 0.025
_FORTNIGHT: Final = 14


@dataclass(frozen=True)
class Said:
    """A forecast of one set: draws of its reps, and the chance that it is made where that does not follow from them."""

    reps: FloatArray
    chance: float | None = None


def percent_table(history: pd.DataFrame, day: pd.DataFrame) -> list[float | None]:
    """Reps at that percent of the file's 1RM by the group's curve; later sets to failure by the mean fall."""
    return [
        None
        if np.isnan(one["one_rm_kg"])
        else max(1.0 + float(np.log(one["one_rm_kg"] / one["load_kg"])) / one["usual_endurance"], 0.0) * _fall(one)
        for one in day.to_dict("records")
    ]


def rep_max_equation(history: pd.DataFrame, day: pd.DataFrame) -> list[float | None]:
    """Reps by a published equation (epley_1985), 1RM the best of the last fortnight; the same fall from set to set."""
    before = {name: history[history["exercise"] == name] for name in day["exercise"].unique()}
    best = {name: _best_one_rm(of_lift) for name, of_lift in before.items() if len(of_lift)}
    found: list[float | None] = []
    for one, by_table in zip(day.to_dict("records"), percent_table(history, day), strict=True):
        if one["exercise"] not in best:
            found.append(by_table)
            continue
        reps = float(epley_1985.reps_for(one["load_kg"], best[one["exercise"]], extrapolate=True))
        found.append(float(np.nan_to_num(max(reps, 0.0))) * _fall(one))  # none above the 1RM
    return found


def last_time(history: pd.DataFrame, day: pd.DataFrame) -> list[float | None]:
    """Reps of the same set last time at this load, or the nearest; by the percent table where there was none."""
    return _as_last_time(history, day, lambda one: one["set"])


def same_as_first(history: pd.DataFrame, day: pd.DataFrame) -> list[float | None]:
    """Reps of the first set last time at this load, carried flat through all sets."""
    return _as_last_time(history, day, lambda one: 1)


#: By the name under which a review lists them.
SIMPLE_RULES: Final[Mapping[str, Model]] = {
    "same as the first set": same_as_first,
    "last time at this load": last_time,
    "percent table": percent_table,
    "rep-max equation": rep_max_equation,
}


def _as_last_time(history: pd.DataFrame, day: pd.DataFrame, number: Callable[[Any], int]) -> list[float | None]:
    before = {name: _ended(history[history["exercise"] == name]) for name in day["exercise"].unique()}
    found: list[float | None] = []
    for one, by_table in zip(day.to_dict("records"), percent_table(history, day), strict=True):
        loads, days, numbers, reps = before[one["exercise"]]
        if not loads.size:
            found.append(by_table)
            continue
        apart = np.abs(np.log(loads / one["load_kg"]))
        alike = apart <= max(_SAME_LOAD, float(apart.min()) + 1e-9)
        last = np.flatnonzero(alike & (days == days[alike].max()))
        found.append(float(reps[last[np.abs(numbers[last] - number(one)).argmin()]]))
    return found


def _ended(of_lift: pd.DataFrame) -> tuple[FloatArray, ...]:
    """Return load, day, number and possible reps of the sets whose end is known; of all where it is of none.

    A set simply completed says little.
    """
    known = of_lift[of_lift["failed"] | of_lift["reserve"].notna()]
    sets = known if len(known) else of_lift
    days = pd.to_datetime(sets["date"]).astype("int64")
    return tuple(np.asarray(one, dtype=np.float64) for one in (sets["load_kg"], days, sets["set"], _could(sets)))


def _best_one_rm(of_lift: pd.DataFrame) -> float:
    """Return the best 1RM by the equation, of the sets of the last fortnight."""
    days = pd.to_datetime(of_lift["date"])
    recent = of_lift[days >= days.max() - pd.Timedelta(days=_FORTNIGHT)]
    return float(np.max(epley_1985(recent["load_kg"], _could(recent), extrapolate=True)))


def _could(sets: pd.DataFrame) -> pd.Series:
    """Reps that could have been made: those done, and those stated to be left."""
    return sets["reps"].astype(float) + sets["reserve"].astype(float).fillna(0.0)


def _fall(one: Any) -> float:
    """Return what a set has of the first one's reps: the published fall is that of sets to failure, no others."""
    return _FALL[min(one["set"], len(_FALL)) - 1] if np.isinf(one["high"]) else 1.0


@dataclass
class Rule:
    """A rule or a student's model as a forecaster.

    Attributes
    ----------
    name : str
    model : callable
        ``model(history, day)``: both are tables as `workbench.answers.review.sets_done` makes them, the day without its
        outcome, with ``one_rm_kg`` (of the lifter file, none where it has none) and ``usual_endurance`` [1/rep] of the
        class of exercise. It returns reps for each set of the day, or an array of draws of them.
    """

    name: str
    model: Model
    _known: Known | None = field(default=None, repr=False)
    _waiting: dict[Any, float] = field(default_factory=dict, repr=False)
    _errors: list[float] = field(default_factory=lambda: list(_FIRST_ERRORS), repr=False)
    _words: dict[bool, tuple[float, float]] = field(default_factory=lambda: dict(_FIRST_WORDS), repr=False)

    def learn(self, known: Known) -> None:
        """Take what is known, and see how the forecasts so far came out."""
        self._known = known
        for at in [at for at in self._waiting if at in known.sets.index]:
            number, one = self._waiting.pop(at), known.sets.loc[at]
            if np.isinf(one["high"]):
                self._errors += [float(one["reps"]) - number] if one["failed"] else []
            elif one["failed"] or one["reps"] >= one["low"]:
                word = bool(number >= one["low"])
                right, count = self._words[word]
                self._words[word] = right + float(one["reps"] >= one["low"]), count + 1.0

    def forecast(self, day: pd.DataFrame) -> list[Said | None]:
        """Forecast the sets of a day."""
        assert self._known is not None
        told = with_what_is_usual(day.drop(columns=_OUTCOME, errors="ignore"), self._known.lifter)
        numbers = list(self.model(self._known.sets.copy(), told))
        if len(numbers) != len(day):
            problem = f"gives {len(numbers)} forecasts for {len(day)} sets"
            raise InputError(None, f"model {self.name}", problem, "return one for each row of the day, or None")
        return [self._said(at, number, low) for at, number, low in zip(day.index, numbers, day["low"], strict=True)]

    def _said(self, at: Any, number: Any, low: float) -> Said | None:
        values = np.atleast_1d(np.asarray(np.nan if number is None else number, dtype=np.float64)).ravel()
        if not np.isfinite(values).all():
            return None
        if values.size > 1:
            return Said(np.maximum(values, 0.0))
        whole = float(np.round(values[0]))
        self._waiting[at] = whole
        right, count = self._words[bool(whole >= low)]
        return Said(np.maximum(whole + np.array(self._errors), 0.0), right / count)


def with_what_is_usual(day: pd.DataFrame, lifter: Lifter) -> pd.DataFrame:
    """Put beside each set what the lifter file and the group say of its exercise."""
    names = day["exercise"].unique()
    one_rm = {name: float(lifter.lift(name).one_rm) if lifter.knows(name) else np.nan for name in names}
    usual = {name: endurance_prior(lifter.catalogue.exercise(name).endurance_class).median for name in names}
    return day.assign(one_rm_kg=day["exercise"].map(one_rm), usual_endurance=day["exercise"].map(usual))
