"""A first guess of the 1RM of an exercise, and of a 1RM from a set that stopped short of failure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.answers.load_search import LOW_END, LoadSearch, search_for_load
from workbench.gym.catalogue import built_in
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import InputError
from workbench.reference.parameters import endurance_prior
from workbench.reference.sources import read_rows

if TYPE_CHECKING:
    from workbench.gym.catalogue import Exercise
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["OneRmGuess", "guess_one_rm", "one_rm_from_set"]


@dataclass(frozen=True)
class OneRmGuess:
    """What can be said of a lifter's 1RM in an exercise.

    Attributes
    ----------
    exercise : str
    one_rm_kg, low_kg, high_kg : float
        NaN where nothing is known.
    basis : str
        "own 1RM" (from the lifter file), "load ratio" (from another exercise) or "find the load".
    source, grade, note : str
    search : LoadSearch or None
        How to find the load; None where the lifter's own 1RM is known.
    """

    exercise: str
    one_rm_kg: float
    low_kg: float
    high_kg: float
    basis: str
    source: str
    grade: str
    note: str
    search: LoadSearch | None

    @property
    def protocol(self) -> tuple[str, ...]:
        """How to find the load, step by step; empty where the lifter's own 1RM is known."""
        return self.search.lines if self.search is not None else ()


def guess_one_rm(lifter: Lifter, room: Room, exercise: Exercise, *, instead_of: Exercise | None = None) -> OneRmGuess:
    """First guess of a lifter's 1RM: own, else by a published ratio to an exercise whose 1RM is known, else none.

    Of several ratios, one from the exercise that is exchanged comes first, then the narrowest.

    Returns
    -------
    OneRmGuess
    """
    try:
        lift = lifter.lift(exercise.name)
    except InputError:
        pass
    else:
        spread = LOW_END * lift.uncertainty_percent / 100.0
        low, high = (lift.one_rm * (1.0 + sign * spread) for sign in (-1.0, 1.0))
        return OneRmGuess(exercise.name, lift.one_rm, low, high, "own 1RM", "lifter file", "", "", None)
    found: list[tuple[bool, float, tuple[float, float, float], dict[str, str]]] = []
    for row in _ratios():
        ratio, low, high = (float(row[key]) for key in ("ratio", "low", "high"))
        if row["to"] == exercise.name:
            other, numbers = row["from"], (ratio, low, high)
        elif row["from"] == exercise.name:
            other, numbers = row["to"], (1.0 / ratio, 1.0 / high, 1.0 / low)
        else:
            continue
        try:
            known = lifter.lift(other).one_rm
        except InputError:
            continue
        from_wanted = instead_of is not None and other == instead_of.name
        kg = (known * numbers[0], known * numbers[1], known * numbers[2])
        found.append((not from_wanted, numbers[2] / numbers[1], kg, {**row, "other": other}))
    if not found:
        search = search_for_load(lifter, room, exercise)
        return OneRmGuess(exercise.name, np.nan, np.nan, np.nan, "find the load", "", "", "no ratio is known", search)
    _, _, (middle, low, high), row = min(found, key=lambda item: item[:2])
    # For the search the known 1RM, too, may lie at the low end of what is believed of it.
    lowest = low * (1.0 - LOW_END * lifter.lift(row["other"]).uncertainty_percent / 100.0)
    return OneRmGuess(
        exercise=exercise.name,
        one_rm_kg=middle,
        low_kg=low,
        high_kg=high,
        basis="load ratio",
        source=row["source"],
        grade=row["grade"],
        note=f"from {row['other']}; {row['note']}",
        search=search_for_load(lifter, room, exercise, lowest),
    )


@cache
def _ratios() -> tuple[dict[str, str], ...]:
    return tuple(read_rows("evidence", "load_ratios.csv"))


def one_rm_from_set(exercise: str, load_kg: float, reps: float, reps_in_reserve: float) -> float:
    """1RM by the workbench's curve from a set that was stopped short of failure, kg.

    The curve is read at ``reps + reserve``, with the median endurance k of the exercise's class.

    Raises
    ------
    InputError
        Unknown exercise, or numbers that are no set.
    """
    if not (load_kg > 0 and reps >= 1 and reps_in_reserve >= 0):
        raise InputError(None, "set", "is no set", "give a load above 0 kg, at least 1 rep and 0 or more in reserve")
    k = endurance_prior(built_in().exercise(exercise).endurance_class).median
    return float(load_kg * np.exp(DEFAULT_CURVE.headroom_for(reps + reps_in_reserve, k)))
