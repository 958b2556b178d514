"""A load to start from where the 1RM of an exercise is not known, and how to find the load safely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from workbench import catalogue
from workbench.parameters import endurance_prior
from workbench.quantities import InputError
from workbench.sources import read_rows

if TYPE_CHECKING:
    from workbench.catalogue import Exercise
    from workbench.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["OneRmGuess", "find_the_load", "guess_one_rm", "one_rm_from_set"]

#: Reps of each set on the way to the load, and the reserve at which the search ends; a trade habit (assumed).
_SEARCH_REPS: Final = 6
#: The same for fast lifts, which are done while the bar stays fast.
_FAST: Final = "explosive pull"
_FAST_REPS: Final = 3
_SEARCH_RESERVE: Final = 3
#: First load of the search, as a part of the lowest believed 1RM, and how much heavier each set gets (assumed).
_SEARCH_FROM: Final = 0.45
_SEARCH_STEP: Final = 0.33
_MOST_STEPS: Final = 6


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
    protocol : tuple of str
        How to find the load, step by step; empty where the lifter's own 1RM is known.
    """

    exercise: str
    one_rm_kg: float
    low_kg: float
    high_kg: float
    basis: str
    source: str
    grade: str
    note: str
    protocol: tuple[str, ...]


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
        spread = 1.28 * lift.uncertainty_percent / 100.0
        low, high = (lift.one_rm * (1.0 + sign * spread) for sign in (-1.0, 1.0))
        return OneRmGuess(exercise.name, lift.one_rm, low, high, "own 1RM", "lifter file", "", "", ())
    found: list[tuple[bool, float, tuple[float, float, float], dict[str, str]]] = []
    for row in read_rows("evidence", "load_ratios.csv"):
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
        steps = find_the_load(room, exercise, None)
        return OneRmGuess(exercise.name, np.nan, np.nan, np.nan, "find the load", "", "", "no ratio is known", steps)
    _, _, (middle, low, high), row = min(found, key=lambda item: item[:2])
    return OneRmGuess(
        exercise=exercise.name,
        one_rm_kg=middle,
        low_kg=low,
        high_kg=high,
        basis="load ratio",
        source=row["source"],
        grade=row["grade"],
        note=f"from {row['other']}; {row['note']}",
        protocol=find_the_load(room, exercise, low),
    )


def find_the_load(room: Room, exercise: Exercise, lowest_one_rm_kg: float | None) -> tuple[str, ...]:
    """How to find a working load without a maximal lift, in loads that the room has.

    Parameters
    ----------
    room : Room
    exercise : Exercise
    lowest_one_rm_kg : float or None
        Low end of what the 1RM may be; None where nothing is known: the search then starts at the lightest load.

    Returns
    -------
    tuple of str
        One line a step.
    """
    table = room.loads_for(exercise)
    start = 0.0 if lowest_one_rm_kg is None else _SEARCH_FROM * lowest_one_rm_kg
    index = int(table.round(start, "not_above"))
    index = index if index < len(table) else 0
    climb = [index]
    while len(climb) < _MOST_STEPS and climb[-1] + 1 < len(table):
        # The first steps from a light load are small in kg; at least one load up each time.
        climb.append(max(climb[-1] + 1, int(table.round(float(table.kg[climb[-1]]) * (1.0 + _SEARCH_STEP), "nearest"))))
    first = table.describe(climb[0])
    then = ", ".join(f"{table.in_unit[one]:g}" for one in climb[1:] if one < len(table))
    up = (
        f"Rest 2 minutes. While a set feels easy, go up by about a third ({then} {table.unit}); "
        f"by a tenth once no more than about {2 * _SEARCH_RESERVE} reps were left."
        if then
        else "There is no heavier load here."
    )
    stop = (
        f"Stop at the first set that leaves about {_SEARCH_RESERVE} reps, at any pain, or when form goes. "
        "No set to failure, no maximal lift."
    )
    log = "Write the last set into the log with its reps in reserve: it gives a 1RM to about 10 %, and the next loads."
    reps = _FAST_REPS if exercise.movement_pattern == _FAST else _SEARCH_REPS
    return (f"Learn the movement, then {reps} reps with {first}.", up, stop, log)


def one_rm_from_set(exercise: str, load_kg: float, reps: float, reps_in_reserve: float) -> float:
    """1RM by the workbench's curve from a set that was stopped short of failure, kg.

    ``one_rm = load exp(k (reps + reserve - 1))`` with the median endurance k of the exercise's class.

    Raises
    ------
    InputError
        Unknown exercise, or numbers that are no set.
    """
    if not (load_kg > 0 and reps >= 1 and reps_in_reserve >= 0):
        raise InputError(None, "set", "is no set", "give a load above 0 kg, at least 1 rep and 0 or more in reserve")
    k = endurance_prior(catalogue.exercise(exercise).endurance_class).median
    return float(load_kg * np.exp(k * (reps + reps_in_reserve - 1.0)))
