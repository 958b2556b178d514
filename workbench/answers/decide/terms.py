"""What a coach can change in a block, one knob at a time, and the limits that a plan has to keep."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from workbench.answers.outcomes import Measured, known_measure, muscle_share
from workbench.gym.catalogue import Catalogue, built_in
from workbench.gym.equipment.loads import Unit
from workbench.models.volume import RULES
from workbench.prescription.block import Block
from workbench.prescription.edit import EVERYWHERE, Where, change
from workbench.present.words import amount, in_words, mass_in, percent_said
from workbench.quantities import InputError
from workbench.simulate.plan import Plan

__all__ = [
    "KNOBS",
    "Knob",
    "Limit",
    "apply_settings",
    "check_quantity",
    "knob_of",
    "label_of",
    "limit_of",
    "limits_of",
    "of_chance",
    "of_plan",
    "plan_quantity",
    "quantity",
    "weakest_set",
]

#: The knobs of a set group: the change they make, how a value is shown, and whether values are whole numbers.
_GROUP_KNOBS: Final[dict[str, tuple[str, str, bool]]] = {
    "percent": ("percent", "start at {:g} %", False),
    "step": ("step", "{:+g} a week", False),
    "reps": ("reps", "{:g} reps", True),
    "sets": ("sets", "{:g} sets", True),
    "rest": ("rest_s", "rest {:g} s", False),
    "drop": ("drop", "drops of {:g} %", False),
}
_LIGHTER: Final = "lighter week"
#: Kinds of knob. "lighter week" is the part of the load in the block's lighter weeks; in its last week if it has none.
KNOBS: Final = (*_GROUP_KNOBS, _LIGHTER)
_OF_PLAN: Final = {
    "set_chance": "chance of the least likely set",
    "session_minutes": "longest session, min",
    "heaviest_percent": "heaviest set, % of 1RM",
}
_FRACTIONAL: Final = "fractional_sets:"
_CHANCE: Final = "set_chance:"


@dataclass(frozen=True)
class Knob:
    """One thing to change, and the values it may take.

    Attributes
    ----------
    kind : str
        One of `KNOBS`.
    values : tuple of float
        In percent of 1RM, points a week, reps, sets, seconds, percent taken off, or part of the load.
    exercise, session : str, optional
        Change only this exercise's sets, or only this session; all otherwise.
    group : int, optional
        Change only this set group of the exercise, from 1; all that can be changed otherwise.
    """

    kind: str
    values: tuple[float, ...]
    exercise: str | None = None
    session: str | None = None
    group: int | None = None

    def __post_init__(self) -> None:
        """Refuse an unknown kind, no values, or values that are not in order and different."""
        if self.kind not in KNOBS:
            raise InputError(None, "knob", f"{self.kind!r} is not one", f"use one of: {', '.join(KNOBS)}")
        if not self.values:
            raise InputError(None, f"knob {self.kind}", "has no values", "give at least one")
        if list(self.values) != sorted(set(self.values)):
            raise InputError(None, f"knob {self.kind}", "values do not rise", "give each once, lowest first")
        if self.kind in _GROUP_KNOBS and _GROUP_KNOBS[self.kind][2] and any(one != int(one) for one in self.values):
            raise InputError(None, f"knob {self.kind}", "values are not whole", "give whole numbers")

    def shown(self, value: float) -> str:
        """Return a value in words."""
        lighter = self.kind == _LIGHTER
        text = f"lighter week at {percent_said(value)}" if lighter else _GROUP_KNOBS[self.kind][1].format(value)
        where = self.exercise or self.session
        group = f" {self.group}" if self.group is not None else ""
        return f"{where}{group}: {text}" if where or group else text


def knob_of(text: str, *, place: str = "knob") -> Knob:
    """Read a knob as it is typed: kind=first:last:step or kind=value,value, then perhaps " of EXERCISE".

    >>> knob_of("rest=90,120 of back squat").values
    (90.0, 120.0)
    """
    kind, sign, rest = text.partition("=")
    values, _, exercise = rest.partition(" of ")
    try:
        if not sign:
            raise ValueError
        if ":" in values:
            first, last, step = (float(part) for part in values.split(":"))
            if not step > 0 or (last - first) / step > 10_000:
                raise ValueError
            numbers = tuple(first + step * at for at in range(int((last - first) / step + 1e-9) + 1))
        else:
            numbers = tuple(float(part) for part in values.split(","))
    except ValueError:
        remedy = "write it as percent=60:80:2.5 or rest=90,120,180"
        raise InputError(None, place, f"{text!r} cannot be read", remedy) from None
    return Knob(kind.strip(), numbers, exercise=exercise.strip() or None)


def apply_settings(
    block: Block, knobs: Sequence[Knob], settings: Sequence[float], catalogue: Catalogue | None = None
) -> Block:
    """Return the block with every knob at its value, checked as if it had been read from a file.

    Raises
    ------
    InputError
        A knob that finds nothing to change, or a value that the block cannot have.
    """
    where, what = EVERYWHERE, dict[str, float]()  # what neighbouring knobs turn at one place is changed at once
    for knob, value in zip(knobs, settings, strict=True):
        lighter = knob.kind == _LIGHTER
        place = EVERYWHERE if lighter else Where(knob.session, knob.exercise, knob.group)
        keyword = "lighter_load" if lighter else _GROUP_KNOBS[knob.kind][0]
        if what and (place != where or keyword in what):
            block, what = change(block, where, exercises=catalogue, **what), {}
        where, what[keyword] = place, value
    return change(block, where, exercises=catalogue, **what)


@dataclass(frozen=True)
class Limit:
    """What the coach will accept.

    Attributes
    ----------
    quantity : str
        "set_chance" (chance of the least likely set), "set_chance:EXERCISE" (of the least likely set of one exercise;
        1 where the block has none), "session_minutes" (of the longest session), "heaviest_percent",
        "fractional_sets:MUSCLE" (in the fullest week), or a key of `workbench.answers.outcomes.MEASURES`, whose mean
        over the simulated runs is taken ("all_reps" is the chance that all reps of the block are made).
    at_least, at_most : float, optional
        Exactly one of them.
    """

    quantity: str
    at_least: float | None = None
    at_most: float | None = None

    def __post_init__(self) -> None:
        """Refuse an unknown quantity, and anything but one bound."""
        check_quantity(self.quantity)
        if (self.at_least is None) == (self.at_most is None):
            raise InputError(None, f"limit {self.quantity}", "needs one bound", "give at_least or at_most, not both")

    @property
    def bound(self) -> float:
        """The bound itself."""
        return float(self.at_least if self.at_least is not None else self.at_most or 0.0)

    def shortfall(self, value: float) -> float:
        """How far a value is on the wrong side, as part of the bound; 0 where the limit is kept."""
        wrong = self.bound - value if self.at_least is not None else value - self.bound
        if np.isnan(value):
            return 0.0
        return max(wrong, 0.0) / max(abs(self.bound), 1e-9)

    def __str__(self) -> str:
        """Return the limit in words."""
        side = "at least" if self.at_least is not None else "at most"
        return f"{label_of(self.quantity)} {side} {self.said(self.bound)}"

    def said(self, value: float) -> str:
        """Return a value of its quantity; one that breaks the limit never reads as the bound.

        >>> Limit("set_chance", at_least=0.85).said(0.847), Limit("session_minutes", at_most=60).said(66.2)
        ('84.7 %', '66')
        """
        if np.isnan(value):
            return "none"
        said = self._rounded(value)
        if self.shortfall(value) > 0 and said == self._rounded(self.bound):
            return f"{math.floor(1000 * value) / 10:.1f} %" if _is_chance(self.quantity) else amount(value)
        return said

    def _rounded(self, value: float) -> str:
        if _is_chance(self.quantity):
            return percent_said(value) if value == self.bound else in_words(value)
        if self.quantity == "session_minutes":
            return f"{value:.0f}"
        return f"{value:g}" if value == self.bound else amount(value)


def limit_of(text: str, *, place: str = "limit") -> Limit:
    """Read a limit as it is typed: quantity>=value or quantity<=value.

    >>> limit_of("session_minutes<=60").at_most
    60.0
    """
    for sign, side in ((">=", "at_least"), ("<=", "at_most")):
        key, found, value = text.partition(sign)
        if found:
            try:
                return Limit(key.strip(), **{side: float(value)})
            except InputError:
                raise
            except ValueError:
                break
    raise InputError(None, place, f"{text!r} cannot be read", "write it as all_reps>=0.8 or session_minutes<=60")


def check_quantity(key: str, exercises: Catalogue | None = None) -> None:
    """Raise InputError where no quantity has that key; an exercise in it is looked up where a catalogue is given."""
    if key.startswith(_FRACTIONAL):
        known_measure(f"hard_sets:{key.removeprefix(_FRACTIONAL)}")
    elif key.startswith(_CHANCE):
        if exercises is not None:
            exercises.exercise(key.removeprefix(_CHANCE))
    elif key not in _OF_PLAN:
        try:
            known_measure(key)
        except InputError as error:
            more = ", ".join([*_OF_PLAN, f"{_CHANCE}EXERCISE", f"{_FRACTIONAL}MUSCLE"])
            raise InputError(None, error.place, error.problem, f"{error.remedy}, {more}") from None


def label_of(key: str, unit: Unit | None = None) -> str:
    """Return a quantity in words, with its unit."""
    if key.startswith(_FRACTIONAL):
        return f"fractional sets of {key.removeprefix(_FRACTIONAL)} in the fullest week"
    if key.startswith(_CHANCE):
        name = key.removeprefix(_CHANCE)
        name = built_in().exercise(name).name if built_in().knows(name) else name
        return f"chance of the least likely set of {name}"
    if key in _OF_PLAN:
        return _OF_PLAN[key]
    if key == "all_reps":
        return "chance that all reps of the block are made"
    measure = known_measure(key)
    if measure.unit == "kg":  # masses are in the room's unit
        return f"{measure.label}, {unit}" if unit else measure.label
    return f"{measure.label}, {measure.unit}"


def limits_of(block: Block) -> tuple[Limit, ...]:
    """Return the limits that the block itself states."""
    limits = [Limit("set_chance", at_least=block.limits.chance_of_reps)]
    if block.limits.session_minutes is not None:
        limits.append(Limit("session_minutes", at_most=block.limits.session_minutes))
    return tuple(limits)


def _is_chance(key: str) -> bool:
    return key.startswith(_CHANCE) or key in {"all_reps", "set_chance"}


def of_chance(key: str) -> bool:
    """Whether a quantity says how likely it is that reps are made, or by how much they are."""
    return key.startswith(_CHANCE) or key in {
        "all_reps",
        "set_chance",
        "missed_reps",
        "lowest_reserve",
        "first_miss_week",
    }


def of_plan(key: str) -> bool:
    """Whether a quantity is told by the plan alone, without simulating anybody."""
    return key in {"session_minutes", "heaviest_percent"} or key.startswith(_FRACTIONAL)


def plan_quantity(key: str, plan: Plan) -> float:
    """Return a quantity for which `of_plan` holds."""
    if key == "session_minutes":
        return max(float(np.max(session.duration_s)) for session in plan.sessions) / 60.0
    if key == "heaviest_percent":
        sets = [one for session in plan.sessions for one in session.sets if one.active.any()]
        return 100.0 * max(float(one.load_fraction[one.active].max()) for one in sets)
    return _fractional(plan, key.removeprefix(_FRACTIONAL))


def quantity(key: str, measured: Measured) -> float:
    """Return one quantity of a simulated plan."""
    if of_plan(key):
        return plan_quantity(key, measured.outcome.plan)
    if key == "set_chance":
        return weakest_set(measured)[0]
    if key.startswith(_CHANCE):
        return weakest_set(measured, measured.outcome.plan.catalogue.exercise(key.removeprefix(_CHANCE)).name)[0]
    value = measured.mean(key)
    return mass_in(value, measured.outcome.plan.unit) if known_measure(key).unit == "kg" else value


def _fractional(plan: Plan, muscle: str) -> float:
    shares = [muscle_share(plan, exercise, muscle) for exercise in plan.exercises]
    weeks = np.zeros(plan.weeks)
    for session in plan.sessions:
        for one in session.sets:
            if shares[one.lane]:
                weeks += shares[one.lane] * one.active * (RULES.each_drop if one.drop else 1.0)
    return float(weeks.max())


def weakest_set(measured: Measured, exercise: str | None = None) -> tuple[float, str]:
    """Return the chance of the least likely set with prescribed reps, of one exercise or of all, and both in words."""
    lowest, place = math.inf, "no set has prescribed reps"
    for session, sets in measured.outcome:
        for one, made in zip(sets, sets.chances, strict=True):
            counted = one.planned.prescribed
            if not counted.any() or exercise not in (None, one.planned.exercise):
                continue
            chances = np.where(counted, made, 1.0)
            week = int(np.argmin(chances))
            if chances[week] < lowest:
                lowest = float(chances[week])
                set_name = f"{one.planned.exercise}, set {one.planned.label}"
                place = f"week {week + 1}, {session.name}, {set_name}: {in_words(lowest)}"
    return min(lowest, 1.0), place
