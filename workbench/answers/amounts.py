"""How masses are said where the catalogue must be asked: two dumbbells by what is in one hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.gym import catalogue
from workbench.present.words import say_load

if TYPE_CHECKING:
    from workbench.gym.equipment.loads import Unit

__all__ = ["mass_said"]


def mass_said(kg: float, unit: Unit, *, exercise: str | None = None, digits: int = 1) -> str:
    """Return a mass that no plates make, such as a 1RM, in the room's unit; of an exercise: as its loads are said.

    >>> mass_said(40.0, "kg", exercise="dumbbell curl"), mass_said(100.0, "lb", digits=0)
    ('2 x 20.0 kg', '220 lb')
    """
    return say_load(kg, unit, hands=1 if exercise is None else catalogue.hands_of(exercise), digits=digits)
