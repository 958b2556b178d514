"""The fields of one piece of equipment: what is asked of each kind, and what a new one begins with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Final

import ipywidgets as widgets

from workbench.gym.equipment.pieces import Equipment, Ladder, PlateLoaded, Stack
from workbench.log.typed import (
    masses_said,
    typed_list,
    typed_mass,
    typed_masses,
    typed_name,
    typed_number,
    typed_whole,
)
from workbench.panels.fields import Choice, Field, Tick
from workbench.panels.frame import fields, quiet, show_only
from workbench.quantities import InputError, Unit

__all__ = ["NEW_PIECES", "PieceFields", "exact", "typed_pairs"]

Change = Callable[[Mapping[str, Any]], None]

#: What can be added: words, and what it begins with, in kg and in lb.
NEW_PIECES: Final[tuple[tuple[str, dict[str, Any], dict[str, Any]], ...]] = (
    ("bar for plates", {"kind": "barbell", "bar": 20}, {"kind": "barbell", "bar": 45}),
    ("dumbbells", {"kind": "dumbbells", "masses": [4, 6, 8, 10]}, {"kind": "dumbbells", "masses": [10, 15, 20, 25]}),
    ("weight stack or cable", {"kind": "stack", "masses": [5, 10, 15]}, {"kind": "stack", "masses": [10, 20, 30]}),
    ("machine for plates", {"kind": "plate_machine", "empty": 0}, {"kind": "plate_machine", "empty": 0}),
    ("bar or station for body weight", {"kind": "bodyweight"}, {"kind": "bodyweight"}),
    ("kettlebells", {"kind": "kettlebells", "masses": [8, 12, 16]}, {"kind": "kettlebells", "masses": [18, 26, 35]}),
    ("bars of fixed weight", {"kind": "fixed_barbells", "masses": [10]}, {"kind": "fixed_barbells", "masses": [20]}),
    ("bands", {"kind": "bands", "masses": [5, 10]}, {"kind": "bands", "masses": [10, 20]}),
    ("plates to hold", {"kind": "loose_plates", "masses": [5]}, {"kind": "loose_plates", "masses": [10]}),
)
_UNITS: Final = (("as the room", None), ("kg", "kg"), ("lb", "lb"))
_MASSES_LABELS: Final = {
    "stack": "positions of the pin",
    "dumbbells": "masses, of one dumbbell",
    "bands": "nominal pulls",
}


def exact(value: float) -> Decimal:
    """Return a number as the decimal that was typed."""
    return Decimal(repr(round(value, 9)))


def _shown(value: Any) -> str:
    return f"{Decimal(value).normalize():f}"


class PieceFields:
    """Fields that show one piece of equipment, and hand on what is changed in it.

    Parameters
    ----------
    change : callable
        Takes keys of the piece's file entry with their new values; raises InputError where the room cannot have them.

    Attributes
    ----------
    name, note, bar, collars, empty, belt, heaviest, masses, add_ons, ratio : Field
    unit, pegs : Choice
    single, combine, belt_plates : Tick
    box : ipywidgets.Box
    """

    def __init__(self, change: Change) -> None:
        self._change = change
        self._unit: Unit = "kg"
        self.name = Field("its name", typed_name, lambda text: self._set(name=text))
        self.note = Field(
            "what it is for (names of machines count)",
            lambda text: typed_name(text, 400),
            lambda text: self._set(note=text or ""),
            needed=False,
            example="pulldown, leg curl machine …",
        )
        self.unit = Choice("its labels are in", _UNITS, lambda unit: self._set(unit=unit))
        self.bar = self._of_mass("the empty bar", "bar")
        self.collars = self._of_mass("the pair of collars", "collars", low=0.0)
        self.empty = self._of_mass("the empty machine", "empty", low=0.0)
        self.belt = self._of_mass("the belt or vest itself", "belt", low=0.0)
        self.heaviest = self._of_mass("most that it may carry in all", "max_load", needed=False, example="any")
        self.masses = Field("masses", typed_masses, self._take_masses, show=masses_said)
        self.add_ons = Field(
            "small masses on top",
            lambda text: typed_list(text, 0.1, 100),
            self._take_add_ons,
            show=lambda values: "; ".join(f"{value:g}" for value in values),
            needed=False,
            example="none; 1.25; 2.5",
        )
        self.ratio = Field(
            "load at the handle for each kg on the stack",
            lambda text: typed_number(text, 0.1, 4, example="1 or 0.5"),
            lambda value: self._set(pulley_ratio=exact(value)),
            show=_shown,
        )
        self.pegs = Choice(
            "plates go on", [("both sides alike", 2), ("one peg", 1)], lambda value: self._set(pegs=value)
        )
        self.single = Tick("there is only one of each", lambda ticked: self._set(single=ticked))
        self.combine = Tick("several small masses at once", lambda ticked: self._set(combine=ticked))
        self.belt_plates = Tick(
            "the room's plates can hang from the belt", lambda ticked: self._set(belt_uses_room=ticked)
        )
        self._own_plates = quiet("It has plates of its own, which stay as its file says.")
        self.box = fields(
            *(self.name, self.bar, self.empty, self.belt, self.masses, self.single, self.add_ons, self.combine),
            *(self.ratio, self.collars, self.pegs, self.belt_plates, self.heaviest, self._own_plates, self.unit),
            self.note,
        )

    def put(self, piece: Equipment | None, unit: Unit) -> None:
        """Show a piece of a room of this unit; nothing without one."""
        if piece is None:
            show_only(self.box, ())
            return
        self._unit = piece.unit or unit
        self.name.put(piece.name)
        self.note.put(piece.note or None)
        self.unit.put(piece.unit)
        for key, field in self._by_key().items():
            if hasattr(piece, key):
                field.put(getattr(piece, key))
        if isinstance(piece, Ladder):
            self.masses.label = f"{_MASSES_LABELS.get(piece.kind, 'masses')}, {self._unit}"
            self.masses.put(piece.steps())
        if isinstance(piece, Stack):
            self.add_ons.put([float(item.mass) for item in piece.add_ons for _ in range(item.count)] or None)
        own = [self._own_plates] if isinstance(piece, PlateLoaded) and piece.plates else []
        show_only(self.box, [self.name, *self._of_kind(piece.kind), *own, self.unit, self.note])

    def _by_key(self) -> dict[str, Any]:
        return {
            "bar": self.bar,
            "collars": self.collars,
            "empty": self.empty,
            "belt": self.belt,
            "max_load": self.heaviest,
            "pegs": self.pegs,
            "pulley_ratio": self.ratio,
            "single": self.single,
            "combine": self.combine,
            "belt_uses_room": self.belt_plates,
        }

    def _of_kind(self, kind: str) -> list[widgets.Widget]:
        fields: dict[str, list[widgets.Widget]] = {
            "barbell": [self.bar, self.collars, self.heaviest],
            "plate_machine": [self.empty, self.pegs, self.heaviest],
            "bodyweight": [self.belt, self.belt_plates, self.heaviest],
            "dumbbells": [self.masses, self.single],
            "stack": [self.masses, self.add_ons, self.combine, self.ratio],
        }
        return fields.get(kind, [self.masses])

    def _of_mass(self, label: str, key: str, *, low: float = 0.001, **more: Any) -> Field:
        def read(text: str) -> Decimal:
            mass = typed_mass(text, self._unit, low, {"kg": 2000.0, "lb": 2000.0})
            if mass.unit != self._unit:
                raise InputError(None, repr(text), f"is in {mass.unit}", f"type it in {self._unit}, as its labels are")
            return exact(mass.value)

        def show(value: Any) -> str:
            return f"{_shown(value)} {self._unit}"

        return Field(label, read, lambda value: self._set(**{key: value}), show=show, **more)

    def _set(self, **entry: Any) -> None:
        self._change(entry)

    def _take_masses(self, masses: list[Decimal]) -> None:
        self._set(masses=masses, first=None, step=None, last=None, count=None)

    def _take_add_ons(self, values: list[float] | None) -> None:
        counted = {value: (values or []).count(value) for value in values or []}
        self._set(add_ons=[{"mass": exact(mass), "count": count} for mass, count in counted.items()])


def typed_pairs(text: str) -> int:
    """Return how many pairs of a plate there are."""
    return typed_whole(text, 0, 40, unit="pairs", example="4")
