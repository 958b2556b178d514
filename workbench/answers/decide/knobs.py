"""What a coach can change in a block, one knob at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from workbench.gym.catalogue import Catalogue
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.present.words import percent_said
from workbench.quantities import InputError

__all__ = ["KNOBS", "Knob", "apply_settings", "knob_of"]


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
    for knob, value in zip(knobs, settings, strict=True):
        if knob.kind == _LIGHTER:
            block = change(block, lighter_load=value)
        else:
            where = Where(knob.session, knob.exercise, knob.group)
            block = change(block, where, exercises=catalogue, **{_GROUP_KNOBS[knob.kind][0]: value})
    return block
