"""Edit a room: plates by pairs, bars, dumbbells, stacks and machines, what else is there, and the loads that follow."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import Any, ClassVar, Final

import ipywidgets as widgets

from workbench.answers.room_loads import RoomLoads, can_be_done, room_loads
from workbench.figures.loads import loads_figure
from workbench.gym.catalogue import Catalogue, built_in
from workbench.gym.equipment import Room
from workbench.gym.equipment.pieces import Equipment
from workbench.log.typed import typed_mass, typed_name
from workbench.panels.editor import Editor
from workbench.panels.fields import Choice, Field, Tick, button
from workbench.panels.find_exercise import ExerciseFinder
from workbench.panels.frame import empty, fields, heading, live, refresh, row, wide
from workbench.panels.piece_fields import NEW_PIECES, PieceFields, exact, typed_pairs
from workbench.quantities import InputError, Unit
from workbench.reference.toml_files import validate

__all__ = ["RoomEditor"]

#: Plates that most rooms have some of.
_USUAL_PLATES: Final[dict[Unit, tuple[float, ...]]] = {
    "kg": (25, 20, 15, 10, 5, 2.5, 1.25, 0.5),
    "lb": (55, 45, 35, 25, 10, 5, 2.5, 1.25),
}
Plate = tuple[Decimal, Unit]


class RoomEditor(Editor[Room]):
    """Edits a room, and shows which loads an exercise can get in it.

    Parameters
    ----------
    room : Room, optional
        To change; without one the first piece of equipment begins it.
    catalogue : Catalogue, optional
        Exercises that are done in a new room; the built-in ones where not given.

    Attributes
    ----------
    name, note : Field
    unit : Choice
    plates : dict of (Decimal, str) to Field
        How many pairs there are of each plate, by its mass and unit.
    other_plate : Field
        Mass of a plate that the list does not have yet.
    piece : ipywidgets.Select
        Its value is the place of a piece, from 0.
    fields : PieceFields
    new : dict of str to Button
        One for each kind of equipment.
    leave_out : ipywidgets.Button
    fixtures : dict of str to Tick
    listed : Tick
        Whether what else is there is listed at all.
    finder : ExerciseFinder
        Whose loads are shown.
    loads : RoomLoads or None
    """

    kept: ClassVar[tuple[str, ...]] = ("loads",)
    loads: RoomLoads | None

    def __init__(self, room: Room | None = None, *, catalogue: Catalogue | None = None) -> None:
        super().__init__(room)
        self._catalogue = catalogue or built_in()
        self._filling = False
        self._draft: dict[str, Any] = {"name": "New room", "unit": "kg", "plates": [], "fixtures": []}
        self._make_fields()
        self.said, self.picture = wide(widgets.HTML()), live()
        self.said.add_class("workbench-wraps")
        listed = widgets.VBox([self.piece])
        listed.add_class("workbench-field")
        plates = [heading("Pairs of plates"), self._plate_box, self.other_plate, self._add_plate]
        self.arrange_sections(
            {
                "Room and plates": [fields(wide(self.name), self.unit, wide(self.note)), *plates],
                "Equipment": [listed, self.fields.box, row(self.leave_out), heading("Add"), row(*self.new.values())],
                "What else is there": [self.listed, self._fixture_box],
            },
            [self.said, self.picture, self.finder],
        )
        self.step(self._forecast)
        self.step(self._draw, self.finder.found, after=self._forecast)
        self.fill()
        self.take_steps(at_once=True)

    def _make_fields(self) -> None:
        self.name = Field("its name", typed_name, lambda text: self._set(name=text))
        self.unit = Choice("labels are in", [("kg", "kg"), ("lb", "lb")], self._take_unit)
        self.note = Field("note", str, lambda text: self._set(note=text or ""), needed=False, lines=True)
        self.plates: dict[Plate, Field] = {}
        self._plate_box = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))
        self.other_plate = Field(
            "another plate, mass of one", lambda text: typed_mass(text, self._unit, 0.001), example="12.5 or 25 lb"
        )
        self._add_plate = button("Add this plate", self.attempt(self._list_plate))
        self.piece = widgets.Select(
            options=[], rows=7, description="what there is", layout=widgets.Layout(width="100%", height="auto")
        )
        self.piece.observe(self._choose, "value")
        self.fields = PieceFields(self._change_piece)
        self.leave_out = button("Leave this piece out", self.attempt(self._leave_out))
        self.new = {words: button(words, self.attempt(partial(self._add, words))) for words, _, _ in NEW_PIECES}
        self.listed = Tick("list it: what is not ticked is not there", self._take_listed)
        self.fixtures = {
            name: Tick(name, partial(self._take_fixture, name)) for name in sorted(self._catalogue.equipment)
        }
        self._fixture_box = widgets.Box(
            list(self.fixtures.values()),
            layout=widgets.Layout(display="grid", grid_template_columns="repeat(auto-fill, minmax(160px, 1fr))"),
        )
        self.finder = ExerciseFinder()

    def lacking(self) -> str:
        """Say what begins a room."""
        return "type the pairs of plates, then add the first piece under Equipment"

    @property
    def content(self) -> dict[str, Any]:
        """What the file holds, or will hold once there is a piece of equipment."""
        if self.value is None:
            return {**self._draft, "equipment": []}
        return {key: getattr(self.value, key) for key in Room.model_fields}

    @property
    def _unit(self) -> Unit:
        unit: Unit = self.content["unit"]
        return unit

    def _set(self, **entry: Any) -> None:
        """Go on with other values of the room; without a piece of equipment they wait for the first."""
        content = {**self.content, **entry}
        if not content["equipment"]:
            self._draft = {key: value for key, value in content.items() if key != "equipment"}
            self.fill()
            return
        room = validate(content, Room, context=self._catalogue if self.value is None else self.value.catalogue)
        room.check_loads()
        self.edit(room)

    def fill(self) -> None:
        """Show the room in the fields, and which loads it has."""
        content = self.content
        self.name.put(content["name"])
        self.unit.put(content["unit"])
        self.note.put(content.get("note") or None)
        self._put_plates()
        self._put_pieces(content["equipment"])
        fixtures = content["fixtures"]
        self.listed.put(fixtures is not None)
        self._fixture_box.layout.display = "none" if fixtures is None else "grid"
        for name, tick in self.fixtures.items():
            tick.put(name in (fixtures or ()))
        self.again(self._forecast)

    def _take_unit(self, unit: Unit) -> None:
        """Take another unit for the room; what is there keeps the one that its labels have."""
        before, content = self._unit, self.content
        plates = [_in_unit(plate, before) for plate in content["plates"]]
        self._set(unit=unit, plates=plates, equipment=[_in_unit(piece, before) for piece in content["equipment"]])

    def _put_plates(self) -> None:
        stock = self._stock()
        usual = [(exact(mass), self._unit) for mass in _USUAL_PLATES[self._unit]]
        wanted = sorted({*usual, *stock}, key=lambda plate: (plate[1] != self._unit, -plate[0]))
        if wanted != list(self.plates):
            self.plates = {
                plate: Field(
                    f"{plate[0].normalize():f} {plate[1]}",
                    typed_pairs,
                    partial(self._take_pairs, plate),
                    needed=False,
                    example="0",
                    width="84px",
                )
                for plate in wanted
            }
            self._plate_box.children = list(self.plates.values())
        for plate, field in self.plates.items():
            field.put(stock.get(plate) or None)

    def _stock(self) -> dict[Plate, int]:
        """How many pairs there are of each plate; 0 of one that was listed to be filled in."""
        found: dict[Plate, int] = dict.fromkeys(self._waiting_plates, 0)
        for plate in self.content["plates"]:
            entry = plate if isinstance(plate, dict) else plate.model_dump()
            found[Decimal(entry["mass"]), entry.get("unit") or self._unit] = entry["pairs"]
        return found

    _waiting_plates: tuple[Plate, ...] = ()

    def _list_plate(self) -> None:
        if self.other_plate.value is None:
            raise InputError(None, "another plate", "is blank", "type the mass of one")
        mass = self.other_plate.value
        self._waiting_plates = (*self._waiting_plates, (exact(mass.value), mass.unit))
        self.other_plate.put(None)
        self._put_plates()

    def _take_pairs(self, plate: Plate, pairs: int | None) -> None:
        stock = {**self._stock(), plate: pairs or 0}
        listed = [
            {"mass": mass, "pairs": number, **({} if unit == self._unit else {"unit": unit})}
            for (mass, unit), number in sorted(stock.items(), reverse=True)
            if number
        ]
        self._set(plates=listed)

    def _put_pieces(self, pieces: list[Equipment]) -> None:
        chosen = self.piece.value or 0
        self._filling = True
        try:
            self.piece.options = [(f"{piece.name} ({_words(piece)})", at) for at, piece in enumerate(pieces)]
            self.piece.value = min(chosen, len(pieces) - 1) if pieces else None
        finally:
            self._filling = False
        self._put_piece()

    def _put_piece(self) -> None:
        pieces, at = self.content["equipment"], self.piece.value
        self.fields.put(None if at is None else pieces[at], self._unit)
        self.leave_out.layout.display = "none" if at is None else None

    def _choose(self, _change: object) -> None:
        if not self._filling:
            self._put_piece()

    def _change_piece(self, entry: Any) -> None:
        pieces = list(self.content["equipment"])
        piece = pieces[self.piece.value]
        pieces[self.piece.value] = {**{key: getattr(piece, key) for key in type(piece).model_fields}, **entry}
        self._set(equipment=pieces)

    def _add(self, words: str) -> None:
        """Add a piece of a kind, under a name that no other has."""
        entry = next((kg, lb) for name, kg, lb in NEW_PIECES if name == words)[self._unit == "lb"]
        content = self.content
        if entry["kind"] in ("barbell", "plate_machine") and not content["plates"]:
            raise InputError(None, words, "there are no plates for it", "say first how many pairs of plates there are")
        taken = {piece.name.casefold() for piece in content["equipment"]}
        name = next(name for at in range(1, 300) if (name := f"{words} {at}" if at > 1 else words) not in taken)
        self._set(equipment=[*content["equipment"], {"name": name, **entry}])
        self.piece.value = len(content["equipment"])

    def _leave_out(self) -> None:
        pieces = list(self.content["equipment"])
        if len(pieces) == 1:
            raise InputError(None, pieces[0].name, "is the only piece", "add another one first")
        del pieces[self.piece.value]
        self._set(equipment=pieces)

    def _take_listed(self, ticked: bool) -> None:
        self._set(fixtures=[] if ticked else None)

    def _take_fixture(self, name: str, ticked: bool) -> None:
        others = [one for one in self.content["fixtures"] or [] if one != name]
        self._set(fixtures=sorted([*others, name]) if ticked else others)

    # What follows from it.

    def _forecast(self) -> None:
        if self.value is None:
            self.blank(f"There is no equipment yet: {self.lacking()}.")
            return
        self.finder.look_in(self.value, None)
        more = "What is there is ticked under What else is there; what gives the load is added under Equipment."
        self.put(self.answer, [*can_be_done(self.value), more])

    def _draw(self) -> None:
        if self.value is None or self.finder.chosen is None:
            return
        try:
            self.loads = room_loads(self.value, self.finder.chosen)
        except InputError as error:
            self.loads = None
            self.put(self.said, [f"{error.place}: {error.problem}; {error.remedy}."])
            empty(self.picture, "")
            return
        self.put(self.said, self.loads.sentences())
        refresh(
            self.picture,
            loads_figure(self.loads.loads, exercise=self.loads.exercise, unit=self.loads.unit, hands=self.loads.hands),
        )


def _in_unit(item: Any, unit: Unit) -> dict[str, Any]:
    """Return the entry of a plate or piece that states its unit."""
    entry = dict(item) if isinstance(item, dict) else {key: getattr(item, key) for key in type(item).model_fields}
    return {**entry, "unit": entry.get("unit") or unit}


def _words(piece: Equipment) -> str:
    return next(words for words, entry, _ in NEW_PIECES if entry["kind"] == piece.kind)
