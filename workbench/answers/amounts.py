"""How masses that no plates make are said: two dumbbells by what is in one hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.present.words import say_load

if TYPE_CHECKING:
    from workbench.gym.equipment.loads import Unit

__all__ = ["mass_said"]


def mass_said(kg: float, unit: Unit, *, hands: int = 1, digits: int = 1) -> str:
    """Return a mass that no plates make, such as a 1RM, in the room's unit; of two dumbbells by one hand.

    >>> mass_said(40.0, "kg", hands=2), mass_said(100.0, "lb", digits=0)
    ('2 x 20.0 kg', '220 lb')
    """
    return say_load(kg, unit, hands=hands, digits=digits)
