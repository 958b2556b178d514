"""The fields of one lift: a 1RM with where it comes from, or any set that is remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from workbench.gym.catalogue import Exercise
from workbench.lifter import Lift
from workbench.log.typed import Mass, RememberedSet, typed_mass, typed_percent, typed_set
from workbench.panels.fields import Choice, Field
from workbench.panels.frame import fields, quiet, show_only, wide
from workbench.quantities import InputError, Unit

__all__ = ["ORIGINS", "LiftFields"]

_SET = "a set"
#: Where a 1RM comes from, in words; each as a lifter file has it.
ORIGINS: Final = (
    ("a set that is remembered", _SET),
    ("a test in the last weeks", "tested lately"),
    ("a test about a year ago", "tested last year"),
    ("a rough estimate", "a rough estimate"),
    ("a number kept low on purpose", "kept low on purpose"),
)
#: What a file may hold too, shown where it does.
_OTHERS: Final = {
    "the log": "learned from the log",
    "a ratio to another lift": "a ratio to another lift",
    None: "a 1RM; the file does not say from where",
}
_MOST_REPS, _MOST_LEFT = 20, 5.0
#: What a file says of the width of a 1RM: gone where the number is typed anew.
_WIDTHS: Final = ("uncertainty_percent", "one_rm_interval")
_USUAL_KEPT_LOW: Final = 10.0


def _mass(mass: Mass) -> str:
    return f"{mass.value:.10g} {mass.unit}"


def _set_said(found: RememberedSet) -> str:
    return f"{_mass(found.load)}, {found.reps} reps, {found.reserve or 0.0:g} left"


class LiftFields:
    """Fields that show what is known of a lift, and hand on what is changed.

    Parameters
    ----------
    change : callable
        Takes the whole entry of the lift in a lifter file; raises InputError where it cannot be.

    Attributes
    ----------
    origin : Choice
    one_rm, remembered, kept_low : Field
        The 1RM, or the set it is worked out from; by how much the number is kept low, %.
    box : ipywidgets.Box
    """

    def __init__(self, change: Callable[[Mapping[str, Any]], None]) -> None:
        self._change = change
        self._lift: Lift | None = None
        self._each_hand: bool | None = None
        self._unit: Unit = "kg"
        self.origin = Choice("what is known of it", ORIGINS, self._take_origin)
        self.one_rm = Field("1RM", self._read_one_rm, self._take_one_rm, show=_mass, example="102.5 kg")
        self.remembered = Field(
            "load, reps done, reps left",
            self._read_set,
            self._take_set,
            show=_set_said,
            example="24 kg, 12 reps, 2 left",
        )
        self.kept_low = Field(
            "kept low by about, %",
            lambda text: typed_percent(text, 1, 30),
            self._take_kept_low,
            show=lambda value: f"{value:g}",
        )
        self.meaning = wide(quiet())
        self.box = fields(wide(self.origin), wide(self.one_rm), wide(self.remembered), self.kept_low, self.meaning)

    def put(self, exercise: Exercise | None, lift: Lift | None, unit: Unit, body_kg: float | None) -> None:
        """Show a lift of an exercise; without one, what is asked for. Nothing without an exercise."""
        self._lift = lift
        if exercise is None:
            show_only(self.box, ())
            return
        self._each_hand = None if exercise.hands == 1 else True if lift is None else lift.each_hand
        self._unit = unit if lift is None else "lb" if lift.in_pounds else "kg"
        hand = {None: "", True: " in one hand", False: " in both hands together"}[self._each_hand]
        self.one_rm.label, self.remembered.label = f"1RM{hand}", f"load{hand}, reps done, reps left"
        known = _SET if lift is None or lift.from_set is not None else lift.known_from
        more = [] if known in [value for _, value in ORIGINS] else [(_OTHERS[known], known)]
        self.origin.put(known, [*ORIGINS, *more])
        self.one_rm.put(None if lift is None or lift.from_set is not None else _own_mass(lift))
        self.remembered.put(None if lift is None or lift.from_set is None else _own_set(lift))
        self.kept_low.put(None if lift is None else lift.kept_low_percent)
        self.meaning.value = _what_counts(exercise, body_kg)
        self._show(known)

    def _show(self, origin: str | None) -> None:
        number = [self.remembered] if origin == _SET else [self.one_rm]
        kept = [self.kept_low] if origin == "kept low on purpose" and self._lift is not None else []
        show_only(self.box, [self.origin, *number, *kept, self.meaning])

    def _read_one_rm(self, text: str) -> Mass:
        return typed_mass(text, self._unit, 0.1, each_hand=self._each_hand is True)

    def _read_set(self, text: str) -> RememberedSet:
        found = typed_set(text, self._unit, each_hand=self._each_hand is True)
        if found.reps > _MOST_REPS:
            remedy = f"type a heavier set, of at most {_MOST_REPS} reps"
            raise InputError(None, repr(text), f"{found.reps} reps say little of a 1RM", remedy)
        # Reps left that nobody remembers are taken as none: the careful reading.
        return found._replace(reserve=found.reserve or 0.0)

    def _take_origin(self, origin: str | None) -> None:
        """Take where the number comes from; a set or a 1RM that is not there yet is asked for."""
        lift = self._lift
        if lift is not None and lift.from_set is None and origin != _SET:
            self._change({**self._entry(lift), **_of_origin(origin, lift)})
        self._show(origin)

    def _take_one_rm(self, mass: Mass) -> None:
        origin = self.origin.chosen
        origin = "tested lately" if origin in (_SET, "the log") else origin
        entry = {} if self._lift is None else self._entry(self._lift)
        for gone in ("one_rm_kg", "one_rm_lb", "from_set"):
            entry.pop(gone, None)
        entry |= {f"one_rm_{mass.unit}": mass.value, **_of_origin(origin, self._lift)}
        self._change(entry)

    def _take_set(self, found: RememberedSet) -> None:
        entry = {} if self._lift is None else self._entry(self._lift)
        for gone in ("one_rm_kg", "one_rm_lb", "known_from", "kept_low_percent", "tested"):
            entry.pop(gone, None)
        of_set = {found.load.unit: found.load.value, "reps": found.reps, "reps_in_reserve": found.reserve}
        self._change({**entry, "from_set": of_set})

    def _take_kept_low(self, percent: float) -> None:
        assert self._lift is not None
        self._change({**self._entry(self._lift), "kept_low_percent": percent})

    def _entry(self, lift: Lift) -> dict[str, Any]:
        """Return the lift's entry in a file without the width that its number had."""
        entry = lift.model_dump(exclude_none=True, exclude_defaults=True, exclude=set(_WIDTHS))
        return {**entry, "each_hand": self._each_hand} if self._each_hand is not None else entry

    @property
    def new_entry(self) -> dict[str, Any]:
        """What the entry of a lift that is new begins with."""
        return {} if self._each_hand is None else {"each_hand": self._each_hand}


def _of_origin(origin: str | None, lift: Lift | None) -> dict[str, Any]:
    """Return the keys that say where a 1RM comes from."""
    kept = None if lift is None else lift.kept_low_percent
    low = (kept or _USUAL_KEPT_LOW) if origin == "kept low on purpose" else None
    return {"known_from": origin, "kept_low_percent": low}


def _own_mass(lift: Lift) -> Mass:
    return Mass(lift.one_rm_lb, "lb") if lift.one_rm_lb is not None else Mass(lift.one_rm_kg or 0.0, "kg")


def _own_set(lift: Lift) -> RememberedSet:
    found = lift.from_set
    assert found is not None
    mass = Mass(found.lb, "lb") if found.lb is not None else Mass(found.kg or 0.0, "kg")
    return RememberedSet(mass, found.reps, found.reps_in_reserve)


def _what_counts(exercise: Exercise, body_kg: float | None) -> str:
    """Say what the number holds, where that is not plain."""
    if exercise.implement != "bodyweight":
        return ""
    part = f"{100 * exercise.body_mass_share:.0f} % of body mass"
    kg = "" if body_kg is None else f" (here {exercise.body_mass_share * body_kg:.0f} kg)"
    return f"Against body mass: the number is {part}{kg} and what is added together."
