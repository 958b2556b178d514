"""Exercises by name, alias, muscle or movement, and whether this lifter can do them in this room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from workbench.answers.exchange import Exclusions, piece_for
from workbench.gym.catalogue import Exercise
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.present.answer import Answer

__all__ = ["FoundExercises", "find_exercises"]


@dataclass(frozen=True, repr=False)
class FoundExercises(Answer):
    """What was found.

    Attributes
    ----------
    possible : tuple of Exercise
        Best first.
    others : mapping of str to str
        What was found too, and why it is not done here.
    """

    possible: tuple[Exercise, ...]
    others: Mapping[str, str]

    @property
    def notes(self) -> tuple[str, ...]:
        """Say why others are not there."""
        return tuple(f"{name}: {reason}" for name, reason in self.others.items())

    def sentences(self) -> list[str]:
        """Say how many there are, and where there is none what would help."""
        if self.possible:
            here = f"{len(self.possible)} found"
            return [f"{here}; {len(self.others)} more cannot be done here." if self.others else f"{here}."]
        if self.others:
            return [f"None can be done here, of {len(self.others)} found. Look at the reasons, or exchange the room."]
        return ["Nothing is called that. Try a muscle or a movement, or make it an own exercise of the gym."]


def find_exercises(
    room: Room, lifter: Lifter | None = None, text: str = "", *, muscle: str = "", movement: str = ""
) -> FoundExercises:
    """Search the room's catalogue by a name, an alias, a muscle or a movement.

    Parameters
    ----------
    room : Room
        What it cannot load is among the others.
    lifter : Lifter, optional
        What the lifter should not do is among the others.
    text : str
        Searched for as `Catalogue.search` does; all where it is empty.
    muscle : str
        Only what trains this muscle directly.
    movement : str
        Only this movement.

    Returns
    -------
    FoundExercises
    """
    out = Exclusions.of(lifter)
    possible: list[Exercise] = []
    others: dict[str, str] = {}
    for one in room.catalogue.search(text):
        if (muscle and muscle not in one.direct_muscles) or (movement and movement != one.movement_pattern):
            continue
        reason = out.reason(one) or piece_for(room, one)[1]
        if reason:
            others[one.name] = reason
        else:
            possible.append(one)
    return FoundExercises(tuple(possible), others)
