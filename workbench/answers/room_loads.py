"""The loads of a room that are of use to one lifter in one exercise, and a chain of drops on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from workbench.present.words import say_load
from workbench.quantities import InputError

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["chain_loads", "room_loads"]

#: Percents this close are the same: pounds turned into kilograms carry the rounding of floating point.
_SAME: Final = 1e-9


def room_loads(
    room: Room, lifter: Lifter, exercise: str, *, low_percent: float = 40.0, high_percent: float = 100.0
) -> list[tuple[str, float]]:
    """Return the room's loads between two percents of the believed 1RM, lightest first.

    Returns
    -------
    list of (str, float)
        The load in words, in the unit of the equipment and with its percent of 1RM in brackets, and in kg.

    Raises
    ------
    InputError
        Unknown exercise, no 1RM for it, nothing in the room to load it with, or no load in that range.
    """
    known = room.catalogue.exercise(exercise)
    table = room.loads_for(known)
    one_rm = lifter.lift(known.name).one_rm
    found = [
        (f"{table.say(index)} ({100 * kg / one_rm:.0f} %)", float(kg))
        for index, kg in enumerate(table.kg)
        if low_percent - _SAME <= 100 * kg / one_rm <= high_percent + _SAME
    ]
    if not found:
        raise InputError(
            None,
            f"room {room.name}",
            f"{table.equipment} has no load from {low_percent:.0f} to {high_percent:.0f} % of "
            f"{say_load(one_rm, table.unit, hands=table.hands, digits=1)}",
            "choose another exercise or room",
        )
    return found


def chain_loads(room: Room, exercise: str, load_kg: float, drops_percent: Sequence[float]) -> list[float]:
    """Return the loads of a set and its drops, each drop taken off the load before it, rounded to the room.

    Rounding happens once for each load, last, so that its error does not grow along the chain.

    Parameters
    ----------
    room, exercise
    load_kg : float
        Of the first set, [kg], > 0.
    drops_percent : sequence of float
        Taken off each time, [percent], 0 to below 100.

    Returns
    -------
    list of float
        [kg], the first set's load first.
    """
    table = room.loads_for(room.catalogue.exercise(exercise))
    loads = [load_kg]
    for drop in drops_percent:
        loads.append(loads[-1] * (1.0 - drop / 100.0))
    return [float(load) for load in table.round_kg(loads)]
