"""What an exercise of a block hangs on, whatever its sets: found once for all plans of a lifter in a room."""

from __future__ import annotations

from dataclasses import dataclass

from workbench.gym.catalogue import Exercise
from workbench.gym.equipment import LoadTable
from workbench.quantities import InputError
from workbench.simulate.plan.planned import Plan

__all__ = ["Station", "station_of"]


@dataclass(frozen=True)
class Station:
    """What of an exercise hangs on the lifter and the room alone; ``body_kg`` as `PlannedSet` has it."""

    one_rm: float
    endurance: float
    table: LoadTable
    body_kg: float
    warnings: tuple[str, ...]


def station_of(plan: Plan, exercise: Exercise, piece: str | None) -> Station:
    """Find what an exercise hangs on; ``piece`` of equipment as `workbench.gym.equipment.Room.loads_for` takes it.

    Raises
    ------
    InputError
        The lifter or the room lacks something that the exercise needs.
    """
    lifter, room, share = plan.lifter, plan.room, exercise.body_mass_share
    lift = lifter.lift(exercise.name)
    endurance = lift.endurance_on(plan.curve)
    if endurance is None:
        endurance = lifter.usual_endurance(exercise.endurance_class)[0]
    table = room.loads_for(exercise, piece)
    if share and lifter.body_mass_kg is None:
        problem = f"has no body mass, which {exercise.name} is done against"
        raise InputError(None, f"lifter {lifter.name}", problem, "add body_mass_kg")
    missing = room.lacks(exercise) if room.fixtures is not None else []
    warnings = tuple(f"{exercise.name}: needs {item}; the room file names none" for item in missing)
    body_kg = float(share * (lifter.body_mass_kg or 0.0))
    return Station(lift.one_rm, endurance, table, body_kg, warnings)
