"""The loads that an exercise can get in a room, and which exercises can be done there at all."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pandas as pd

from workbench.answers.find_exercise import find_exercises
from workbench.gym.equipment import Room
from workbench.present.answer import Answer
from workbench.present.words import mass_in
from workbench.quantities import InputError, Unit

__all__ = ["RoomLoads", "can_be_done", "room_loads"]

#: Steps of more than this, %, are said: a lifter who is ready for more cannot take it (assumed).
_LARGE = 10.0


@dataclass(frozen=True, repr=False)
class RoomLoads(Answer):
    """The loads of one exercise.

    Attributes
    ----------
    exercise, piece : str
        Piece of equipment on which it is done.
    unit : {"kg", "lb"}
    hands : int, [1]
        In how many hands the load is.
    loads : DataFrame
        Rising, one row a load: load_kg [kg] (of both dumbbells); shown [unit] (of one hand); said (with the plates, pin
        or dumbbells that make it); step_percent [%] (to the next one; NaN for the last).
    """

    exercise: str
    piece: str
    unit: Unit
    hands: int
    loads: pd.DataFrame

    def sentences(self) -> list[str]:
        """Say how many loads there are, from where to where, and where the step is large."""
        first, last = self.loads.iloc[0], self.loads.iloc[-1]
        hand = " in each hand" if self.hands == 2 else ""
        ends = f"{first['shown']:g} to {last['shown']:g} {self.unit}{hand}"
        lines = [f"{self.exercise} on the {self.piece}: {len(self.loads)} loads, {ends}."]
        large = self.loads[self.loads["step_percent"] > _LARGE]
        if len(large):
            row = large.iloc[-1]
            lines.append(
                f"The last step of more than {_LARGE:g} % is that after {row['shown']:g} {self.unit} "
                f"({row['step_percent']:.0f} %): there, add reps before load."
            )
        return lines


def room_loads(room: Room, exercise: str) -> RoomLoads:
    """Return the loads that an exercise can have in a room.

    Raises
    ------
    InputError
        An exercise that nobody knows, or that the room has nothing to load with.
    """
    one = room.catalogue.exercise(exercise)
    lacking = room.lacks(one) if room.fixtures is not None else []
    if lacking:
        remedy = "tick it where it is there, or name it in the note of its machine"
        raise InputError(None, one.name, f"the room names no {lacking[0]}", remedy)
    table = room.loads_for(one)
    step = np.full(len(table), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        step[:-1] = 100.0 * np.diff(table.kg) / table.kg[:-1]
    loads = pd.DataFrame(
        {
            "load_kg": table.kg,
            "shown": [round(mass_in(float(kg), table.unit) / table.hands, 3) for kg in table.kg],
            "said": [table.describe(index) for index in range(len(table))],
            "step_percent": np.where(np.isfinite(step), step, np.nan),
        }
    )
    return RoomLoads(one.name, table.equipment, table.unit, table.hands, loads)


def can_be_done(room: Room) -> list[str]:
    """Say how many exercises can be done in a room, and what the others lack, most often lacking first."""
    found = find_exercises(room)
    lines = [f"{len(found.possible)} of {len(found.possible) + len(found.others)} exercises can be done here."]
    reasons = Counter(found.others.values())
    return [*lines, *(f"Not done ({count}): {reason}." for reason, count in reasons.most_common(6))]
