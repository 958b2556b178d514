"""The room: a named set of equipment, read from TOML, that answers which loads an exercise can have."""

from __future__ import annotations

import difflib
from decimal import Decimal
from pathlib import Path
from typing import Final

from pydantic import Field, PrivateAttr, ValidationInfo, field_validator

from workbench.gym.catalogue import Catalogue, Exercise, NamesExercises, OwnFiles, built_in, catalogue_for
from workbench.gym.equipment.assembly import MAX_LOADS, assemble
from workbench.gym.equipment.loads import LoadTable
from workbench.gym.equipment.pieces import (
    Barbell,
    Dumbbells,
    Equipment,
    PlateMachine,
    PlateStock,
    Rack,
    StatedUnit,
    no_plate_twice,
)
from workbench.quantities import InputError, Unit
from workbench.reference.toml_files import read_model

__all__ = ["IMPLEMENTS", "Room", "read_room"]

#: The implements that exercises use, and the kinds of equipment that serve each.
IMPLEMENTS: Final[dict[str, tuple[str, ...]]] = {
    "barbell": ("barbell", "fixed_barbells"),
    "dumbbells": ("dumbbells",),
    "dumbbell": ("dumbbells",),
    "stack": ("stack",),
    "kettlebell": ("kettlebells",),
    "machine plates": ("plate_machine",),
    "plate": ("loose_plates",),
    "bodyweight": ("bodyweight",),
    "band": ("bands",),
}
#: Kinds of equipment that are machines, or stand for one.
_MACHINES: Final = ("stack", "plate_machine", "bodyweight")


class Room(NamesExercises):
    """Where the lifters train.

    Attributes
    ----------
    name, note : str
    unit : {"kg", "lb"}
        Of the room, and of every piece that does not state its own.
    plates : list of PlateStock
        Pairs that every piece without plates of its own uses.
    fixtures : list of str or None
        What exercises need besides the load: racks, benches, boxes. Where they are stated the list is complete, and
        what it does not name is not there; without them the coach is asked to check.
    equipment : list of pieces
    catalogue : Catalogue
        Knows the exercises that are done here.
    """

    name: str = Field(min_length=1, max_length=80)
    note: str = Field(default="", max_length=2000)
    unit: StatedUnit
    plates: list[PlateStock] = Field(default=[], max_length=30)
    fixtures: list[str] | None = Field(default=None, max_length=100)
    equipment: list[Equipment] = Field(min_length=1, max_length=200)

    _plates_once = field_validator("plates")(no_plate_twice)
    _file: Path | None = PrivateAttr(default=None)
    _tables: dict[tuple[str, bool], LoadTable] = PrivateAttr(default_factory=dict)

    @field_validator("fixtures")
    @classmethod
    def _known_fixtures(cls, names: list[str] | None, info: ValidationInfo) -> list[str] | None:
        known = sorted((info.context if isinstance(info.context, Catalogue) else built_in()).equipment)
        as_listed = {item.casefold(): item for item in known}
        for name in names or ():
            if name.strip().casefold() not in as_listed:
                close = difflib.get_close_matches(name.casefold(), known, n=3) or known
                raise ValueError(f"no exercise needs {name!r}; use one of: {', '.join(close)}, or leave it out")
        return None if names is None else [as_listed[name.strip().casefold()] for name in names]

    @field_validator("equipment")
    @classmethod
    def _can_be_used(cls, pieces: list[Equipment], info: ValidationInfo) -> list[Equipment]:
        seen: dict[str, int] = {}
        for number, piece in enumerate(pieces, start=1):
            key = piece.name.strip().casefold()
            if key in seen:
                raise ValueError(f"pieces {seen[key]} and {number} are both named {piece.name!r}; rename one")
            seen[key] = number
            if isinstance(piece, Barbell | PlateMachine) and not (piece.plates or info.data.get("plates", True)):
                raise ValueError(f"piece {number} ({piece.name}) has no plates; add [[plates]] with mass and pairs")
        return pieces

    def lacks(self, exercise: Exercise) -> list[str]:
        """Of what an exercise needs besides its load, what the room file does not name.

        A machine is named by the words of one piece that loads the exercise, and of its note; anything by a fixture or
        by a piece of that name.
        """
        named = {name.casefold() for name in [*(self.fixtures or ()), *(item.name for item in self.equipment)]}
        machines = [item for item in self._serving(exercise.implement) if item.kind in _MACHINES]
        return [
            item
            for item in exercise.equipment
            if item.casefold() not in named and not any(self._speaks_of(piece, item) for piece in machines)
        ]

    def loads_for(self, exercise: Exercise, piece: str | None = None) -> LoadTable:
        """Return the loads that an exercise can have here: on the piece of that name, else on the one that fits best.

        Of several pieces that serve its implement, that is the first that names what else the exercise needs, such as
        a stack whose note says leg curl machine; without any, the first in the file. InputError as `loads`.
        """
        if piece is None:
            if not self.can_load(exercise):
                raise self._missing(f"has nothing to load {exercise.name} with", "exchange it, or add what is there")
            serving = self._serving(exercise.implement)
            fitting = (one for one in serving if any(self._speaks_of(one, item) for item in exercise.equipment))
            piece = next((one.name for one in fitting), None)
        return self.loads(exercise.implement, piece)

    def can_load(self, exercise: Exercise) -> bool:
        """Whether there is anything here that loads an exercise."""
        return bool(self._serving(exercise.implement))

    def loads(self, implement: str, piece: str | None = None) -> LoadTable:
        """Return the loads that what is done with an implement can have here.

        ``implement`` is a key of `IMPLEMENTS`: ``dumbbells`` is a pair whose loads add up, ``dumbbell`` one of the same
        rack. Without the name of a ``piece``, the first in the file that serves it is used. InputError where the room
        has no such piece, or the piece is of another kind; says what there is.
        """
        if implement not in IMPLEMENTS:
            known = ", ".join(IMPLEMENTS)
            raise InputError(None, "implement", f"unknown implement {implement!r}", f"use one of {known}")
        serving = self._serving(implement)
        if piece is None and not serving:
            raise self._missing(f"has nothing for the implement {implement!r}", "add a piece or change the exercise")
        chosen = serving[0] if piece is None else self._named(piece)
        if chosen not in serving:
            raise self._missing(
                f"its piece {chosen.name!r} is of kind {chosen.kind}, the exercise uses the implement {implement!r}",
                "name a piece that fits",
            )
        return self._table(chosen, one_hand=implement == "dumbbell")

    def check_loads(self) -> None:
        """Work out every load now, not in the middle of a plan; InputError where there are too many."""
        loads = 0
        for piece in self.equipment:
            loads += len(self._table(piece))
            if loads > MAX_LOADS:
                raise InputError(
                    self._file,
                    "equipment",
                    f"the pieces up to {piece.name!r} make more than {MAX_LOADS:,} different loads",
                    "list fewer pieces or fewer odd plates, or give max_load",
                )

    def _plates_to_hold(self) -> list[Rack]:
        """Return the plates of the bars as what they are when held by themselves."""
        by_unit: dict[Unit, list[Decimal]] = {}
        for plate in self.plates:
            by_unit.setdefault(plate.unit or self.unit, []).append(plate.mass)
        names = {unit: "plates" if unit == self.unit else f"plates in {unit}" for unit in by_unit}
        taken = {piece.name.strip().casefold() for piece in self.equipment}
        return [
            Rack(name=names[unit], kind="loose_plates", unit=unit, masses=masses)
            for unit, masses in by_unit.items()
            if names[unit] not in taken
        ]

    def _named(self, name: str) -> Equipment:
        found = [
            piece
            for piece in [*self.equipment, *self._plates_to_hold()]
            if piece.name.strip().casefold() == name.strip().casefold()
        ]
        if not found:
            raise self._missing(f"has no piece named {name!r}", "name one of these or add it")
        return found[0]

    def _serving(self, implement: str) -> list[Equipment]:
        return [
            piece
            for piece in [*self.equipment, *(self._plates_to_hold() if implement == "plate" else ())]
            if piece.kind in IMPLEMENTS[implement]
            and not (implement == "dumbbells" and isinstance(piece, Dumbbells) and piece.single)
        ]

    def _table(self, piece: Equipment, *, one_hand: bool = False) -> LoadTable:
        key = (piece.name, one_hand)
        if key not in self._tables:
            used = piece.model_copy(update={"single": True}) if one_hand else piece
            try:
                self._tables[key] = assemble(used, unit=self.unit, plates=self.plates)
            except InputError as error:
                raise InputError(self._file, error.place, error.problem, error.remedy) from None
        return self._tables[key]

    def _speaks_of(self, piece: Equipment, needed: str) -> bool:
        """Whether the name and the note of a piece hold all words of what is needed, and not as part of another."""
        text, needed = f"{piece.name} {piece.note}".casefold(), needed.casefold()
        for other in map(str.casefold, self.catalogue.equipment):
            if needed != other and needed in other:  # a leg curl machine is no curl machine
                text = text.replace(other, " ")
        return all(word in text for word in needed.split())

    def _missing(self, problem: str, remedy: str) -> InputError:
        there = ", ".join(f"{item.name} ({item.kind})" for item in self.equipment)
        return InputError(self._file, f"room {self.name}", problem, f"{remedy}; it has: {there}")


def read_room(path: str | Path, exercises: Catalogue | OwnFiles | None = None) -> Room:
    """Read a room from TOML.

    Parameters
    ----------
    path : str or Path
    exercises : Catalogue, or path or paths of own exercise files, optional
        What is done there besides the built-in exercises. In a gym's folder (``GYM/rooms/x.toml``) the files of
        ``GYM/exercises/`` are found by themselves.

    Returns
    -------
    Room
        Its loads in the units of the file [kg or lb]; `Room.loads_for` gives those of an exercise [kg].

    Raises
    ------
    InputError
        With file, place and remedy if the file cannot be used.
    """
    room = read_model(path, Room, catalogue_for(path, exercises))
    room._file = Path(path)
    room.check_loads()
    return room
