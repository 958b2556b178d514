"""A first guess of a 1RM, and the safe search for a load never lifted: from below, to what the least able can lift.

The top is what the reps searched with, and the reserve they leave, would take at the low end of the 1RM and with little
endurance. Where no 1RM is believed, its low end follows from exercises that share muscles, or from body mass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np

from workbench.gym.catalogue import Exercise, kept_part
from workbench.gym.equipment import IMPLEMENTS, LoadTable, Room
from workbench.gym.equipment.loads import SAME_LOAD_KG
from workbench.lifter import Lifter
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.present.words import mass_in
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import endurance_prior
from workbench.reference.sources import read_rows

__all__ = [
    "FAST",
    "MACHINES",
    "LoadSearch",
    "OneRmGuess",
    "guess_one_rm",
    "low_one_rm",
    "search_for_load",
    "share_of_body_mass",
]

#: Standard deviations from the middle to the low end of a belief: one in ten lies lower.
LOW_END: Final = 1.28
#: Reps of each set on the way to the load, and the reserve at which the search ends; a trade habit (assumed).
_REPS: Final = 6
#: The same for fast lifts, which are done while the bar stays fast.
FAST: Final = "explosive pull"
_FAST_REPS: Final = 3
_RESERVE: Final = 3
#: Reps to go up to where there is no load in between (assumed).
_MORE_REPS: Final = 12
#: First load of the search as a part of its top, and the part from which on it is near the end (assumed).
_FROM: Final = 0.6
_NEAR: Final = 0.75
#: Steps while far from the end, where a 1RM is believed, and else (assumed).
_FAR_STEP: Final = 1.0 / 3.0
_STEP: Final = 0.1
_MOST_SETS: Final = 7
#: A step of exactly a tenth may come out a trifle larger in floating point.
_ROUNDING: Final = 1e-9
#: The load moves on rails, a lever or a cable.
MACHINES: Final = ("stack", "machine plates")
_STOP: Final = (
    f"Stop at the first set that leaves about {_RESERVE} reps, at any pain, or when form goes. "
    "No set to failure, no maximal lift."
)
_LOG: Final = (
    "Write the last set into the log with its reps in reserve: the next loads follow from it, the better the fewer "
    "reps were left."
)


@dataclass(frozen=True)
class LoadSearch:
    """How to find a working load without a maximal lift.

    Attributes
    ----------
    exercise : str
    reps : int
        Of each set.
    loads_kg : tuple of float, [kg]
        One set each, rising; as the room counts them (both dumbbells). Empty where no safe search exists.
    bound_kg : float, [kg]
        No load lies above it; NaN where no safe top is known.
    low_one_rm_kg : float, [kg]
        The 1RM that the bound stands on; NaN where there is none.
    basis : str
        "believed 1RM", "shared muscles", "body mass" or "" where nothing is known.
    lines : tuple of str
        What to do, one line a step; what to do instead where no safe search exists.
    """

    exercise: str
    reps: int
    loads_kg: tuple[float, ...]
    bound_kg: float
    low_one_rm_kg: float
    basis: str
    lines: tuple[str, ...]

    @property
    def safe(self) -> bool:
        """Whether there is a load to begin with."""
        return bool(self.loads_kg)


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


def guess_one_rm(
    lifter: Lifter,
    room: Room,
    exercise: Exercise,
    *,
    instead_of: Exercise | None = None,
    curve: Curve = DEFAULT_CURVE,
) -> OneRmGuess:
    """First guess of a lifter's 1RM: own, else by a published ratio to an exercise whose 1RM is known, else none.

    ``1RM = ratio 1RM_known``, between the low and the high end of the ratio.

    Of several ratios, one from the exercise that is exchanged comes first, then the narrowest. ``curve`` says how heavy
    the reps of a search for the load are.

    Returns
    -------
    OneRmGuess
    """
    try:
        lift = lifter.lift(exercise.name)
    except InputError:
        pass
    else:
        spread = LOW_END * lifter.one_rm_belief(exercise.name, curve).sd
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
        search = search_for_load(lifter, room, exercise, curve=curve)
        return OneRmGuess(exercise.name, np.nan, np.nan, np.nan, "find the load", "", "", "no ratio is known", search)
    _, _, (middle, low, high), row = min(found, key=lambda item: item[:2])
    # For the search the known 1RM, too, may lie at the low end of what is believed of it.
    lowest = low * (1.0 - LOW_END * lifter.one_rm_belief(row["other"], curve).sd)
    return OneRmGuess(
        exercise=exercise.name,
        one_rm_kg=middle,
        low_kg=low,
        high_kg=high,
        basis="load ratio",
        source=row["source"],
        grade=row["grade"],
        note=f"from {row['other']}; {row['note']}",
        search=search_for_load(lifter, room, exercise, lowest, curve=curve),
    )


def search_for_load(
    lifter: Lifter,
    room: Room,
    exercise: Exercise,
    lowest_one_rm_kg: float | None = None,
    *,
    curve: Curve = DEFAULT_CURVE,
) -> LoadSearch:
    """Find the loads of a safe search in what the room has.

    Parameters
    ----------
    lifter, room, exercise
    lowest_one_rm_kg : float, optional
        Low end of the 1RM where one is believed. Otherwise it follows from what the lifter is known to lift, or from
        body mass, and no step is more than a tenth.
    curve : Curve
        How heavy the reps of the search are.

    Returns
    -------
    LoadSearch

    Raises
    ------
    InputError
        Where the room has nothing to load the exercise with.
    """
    reps = _FAST_REPS if exercise.movement_pattern == FAST else _REPS
    tables = _tables(room, exercise)
    nothing = LoadSearch(exercise.name, reps, (), np.nan, np.nan, "", ())
    if exercise.implement in ("bodyweight", "band"):
        words = _body_mass_lines if exercise.implement == "bodyweight" else _band_lines
        return replace(nothing, lines=words(reps))
    if lowest_one_rm_kg is None:
        low, basis, origin = low_one_rm(lifter, exercise)
    else:
        low, basis, origin = lowest_one_rm_kg, "believed 1RM", "the low end of what is believed"
    if not basis:
        return replace(nothing, lines=_unknown_lines(lifter, exercise))
    bound = low * _cautious_fraction(lifter, exercise, reps, curve)
    far_step = _FAR_STEP if basis == "believed 1RM" else _STEP
    # The piece on which the search comes furthest; of equals the usual one.
    loads, table = max(((_ladder(one.kg, bound, far_step), one) for one in tables), key=lambda item: item[0][-1:])
    table = table if loads else min(tables, key=lambda one: float(one.kg[0]))
    why = (
        f"the 1RM may be as low as {_shown(table, low)} ({origin}), and {reps} reps with {_RESERVE} left are then at "
        f"most {_shown(table, bound)}"
    )
    lines = _lines(table, loads, bound, reps, why) if loads else _too_heavy_lines(table, why)
    return LoadSearch(exercise.name, reps, loads, bound, low, basis, lines)


def low_one_rm(lifter: Lifter, exercise: Exercise) -> tuple[float, str, str]:
    """Low end of a 1RM of which no ratio is known: from exercises that share muscles, else from body mass.

    Each known lift gives its own low end, times the part of its muscle shares that the exercise keeps, times a cautious
    factor of ``data/load_search.csv``; the highest of these counts, as each is a low end for itself.

    Returns
    -------
    low : float, [kg]
        NaN where nothing is known.
    basis : {"shared muscles", "body mass", ""}
    origin : str
        In words.
    """
    found: list[tuple[float, str, str]] = []
    one_sided = exercise.sides == "one-sided"
    for name, lift in lifter.lifts.items():
        known = lifter.catalogue.exercise(name)
        same = known.movement_pattern == exercise.movement_pattern
        factor = _factor("known_lift", "same movement" if same else "another movement")
        if known.implement in MACHINES and exercise.implement not in MACHINES:
            factor *= _factor("known_lift", "machine to free")
        if one_sided and known.sides == "two-sided":
            factor *= _factor("known_lift", "one side")
        low = lift.one_rm * (1.0 - LOW_END * lifter.one_rm_belief(name).sd)
        found.append(
            (factor * low * kept_part(known, exercise), "shared muscles", f"a cautious guess from the {known.name}")
        )
    if lifter.body_mass_kg is not None:
        share = share_of_body_mass(exercise, lifter.training or "untrained")
        found.append((share * lifter.body_mass_kg, "body mass", "a cautious guess from body mass"))
    best = max(found, key=lambda item: item[0], default=(0.0, "", ""))
    return best if best[0] > 0 else (np.nan, "", "")


def share_of_body_mass(exercise: Exercise, training: str) -> float:
    """Low end of a 1RM as a share of body mass, [1], of adults who are "trained" or "untrained"."""
    one_sided = exercise.sides == "one-sided"
    share = _factor(training, exercise.movement_pattern) * exercise.reach
    return share * (_factor("known_lift", "one side") if one_sided else 1.0)


@cache
def _ratios() -> tuple[dict[str, str], ...]:
    return tuple(read_rows("evidence", "load_ratios.csv"))


@cache
def _factors() -> dict[tuple[str, str], float]:
    return {(row["quantity"], row["group"]): float(row["value"]) for row in read_rows("load_search.csv")}


def _factor(quantity: str, group: str) -> float:
    return _factors()[quantity, group]


def _cautious_fraction(lifter: Lifter, exercise: Exercise, reps: int, curve: Curve) -> float:
    """Part of the 1RM that the reps and their reserve take, for the one in ten who tires the most with each rep.

    A gym's own numbers and the bend of the lifter's curve may lower it, and never raise it.
    """
    prior = endurance_prior(exercise.endurance_class)
    usual = [(prior.median, prior.log_sd), lifter.usual_endurance(exercise.endurance_class)]
    k = max(median * np.exp(LOW_END * log_sd) for median, log_sd in usual)
    bent = curve.bent(lifter.bend(curve))
    return float(np.exp(-max(one.headroom_for(reps + _RESERVE, k) for one in (curve, bent))))


def _tables(room: Room, exercise: Exercise) -> list[LoadTable]:
    """Return the loads of the piece that fits the exercise, then of the plain bars that would do as well."""
    usual = room.loads_for(exercise)
    if exercise.implement != "barbell" or any(item.endswith("bar") for item in exercise.equipment):
        return [usual]
    special = {item for one in room.catalogue.exercises.values() for item in one.equipment if item.endswith("bar")}
    bars = [piece.name for piece in room.equipment if piece.kind in IMPLEMENTS["barbell"]]
    plain = [name for name in bars if not any(item in name.casefold() for item in special)]
    return [usual, *(room.loads_for(exercise, name) for name in plain if name != usual.equipment)]


def _ladder(kg: FloatArray, bound: float, far_step: float) -> tuple[float, ...]:
    """Return the loads of the search: none above the bound, far steps only up to where the end is near, then tenths."""
    loads = kg[(kg > 0.0) & (kg <= bound)]
    if not loads.size:
        return ()
    light = loads[loads <= _FROM * bound]
    leads_on = np.append(np.diff(loads) <= _STEP * loads[:-1] * (1.0 + _ROUNDING), False) & (loads <= _NEAR * bound)
    if far_step <= _STEP and leads_on.any():
        # Where a tenth leads nowhere from a light load, such as an empty bar, the next from which it does.
        light = light[leads_on[: light.size]] if leads_on[: light.size].any() else loads[leads_on][:1]
    climb = [float(light[-1] if light.size else loads[0])]
    while len(climb) < _MOST_SETS:
        here = climb[-1] * (1.0 + _ROUNDING)
        far = (loads <= here * (1.0 + far_step)) & (loads <= _NEAR * bound)
        steps = loads[(loads > here) & (far | (loads <= here * (1.0 + _STEP)))]
        if not steps.size:
            break
        climb.append(float(steps[-1]))
    return tuple(climb)


def _lines(table: LoadTable, loads: tuple[float, ...], bound: float, reps: int, why: str) -> tuple[str, ...]:
    names = [_shown(table, load) for load in loads]
    first = names[0] if table.hands == 2 else table.describe(int(table.round(loads[0])))
    lines = [f"Learn the movement, then {reps} reps with {first} ({table.equipment})."]
    if len(loads) > 1:
        lines.append(
            f"Rest 2 to 3 minutes. While a set leaves more than {_RESERVE} reps, go up one load at a time: "
            f"{', '.join(names[1:])}. Not above {names[-1]} today, however easy it feels: {why}."
        )
    else:
        lines.append(f"No heavier load today, however easy it feels: {why}.")
    above = table.kg[table.kg > loads[-1]]
    if above.size and above[0] <= bound and above[0] > loads[-1] * (1.0 + _STEP + _ROUNDING):
        lines.append(
            f"There is nothing between {names[-1]} and {_shown(table, float(above[0]))} here ({table.equipment}), and "
            f"a step of {100 * (above[0] / loads[-1] - 1):.0f} % is too large for a load not yet known. "
            f"If {names[-1]} is easy, do more reps with it, up to {_MORE_REPS}."
        )
    return (*lines, _STOP, _LOG)


def _too_heavy_lines(table: LoadTable, why: str) -> tuple[str, ...]:
    lightest = _shown(table, float(np.min(table.kg, where=table.kg > 0.0, initial=table.kg[-1])))
    return (
        f"No safe search here: the lightest load, {lightest} ({table.equipment}), is too heavy to begin with; {why}.",
        "Take a lighter implement or machine for the same muscles first; its sets, in the log, show when this is due.",
    )


def _body_mass_lines(reps: int) -> tuple[str, ...]:
    return (
        "No search for a load here: against body mass there is no lighter load to begin with.",
        f"Begin with an easier form (hands higher, a band that helps, lowering only): {reps} reps leaving {_RESERVE}.",
        f"Add load only once {_MORE_REPS} reps of the full movement leave {_RESERVE}, and then the smallest there is.",
        _STOP,
    )


def _band_lines(reps: int) -> tuple[str, ...]:
    return (
        "No search for a load here: the pull of a band is a label and grows with the stretch.",
        f"Begin with the lightest band, {reps} reps; the next one only once {_MORE_REPS} slow reps leave {_RESERVE}.",
        _STOP,
    )


def _unknown_lines(lifter: Lifter, exercise: Exercise) -> tuple[str, ...]:
    return (
        f"No safe search here: {lifter.name} has no body mass and no lift that shares the muscles of {exercise.name}.",
        "Ask for any set the lifter remembers, of this or a similar exercise, or enter the body mass.",
        "Until then no more than learning the movement, without load or with the lightest there is.",
    )


def _shown(table: LoadTable, kg: float) -> str:
    """Return a mass in the unit of the equipment: a load as it is labelled, any other mass rounded down."""
    value = mass_in(kg, table.unit) / table.hands
    finest = 1000 if np.abs(table.kg - kg).min() <= SAME_LOAD_KG else 10
    value = np.floor(value * finest + SAME_LOAD_KG) / finest
    return f"{'2 x ' if table.hands == 2 else ''}{value:g} {table.unit}"
