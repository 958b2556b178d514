"""The room editor, driven as a person would: what it writes loads every exercise as the file of the demo does."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from workbench.gym.equipment import Room, read_room
from workbench.panels.room_editor import RoomEditor
from workbench.quantities import InputError
from workbench.reference.sources import data_path

ROOMS = sorted(data_path("demo", "rooms").glob("*.toml"))


def typed(editor: RoomEditor, **what: str) -> None:
    for name, text in what.items():
        field = getattr(editor.fields, name)
        field.typed.value = text
        assert not field.problem, field.problem


def add(editor: RoomEditor, kind: str, **what: str) -> None:
    editor.new[kind].click()
    assert editor.trouble.value == ""
    typed(editor, **what)


def build_the_hall(editor: RoomEditor) -> None:
    editor.name.typed.value = "Boathouse hall"
    for mass, pairs in (("25", 3), ("20", 4), ("15", 2), ("10", 3), ("5", 2), ("2.5", 2), ("1.25", 2), ("0.5", 1)):
        editor.plates[Decimal(mass), "kg"].typed.value = f"{pairs} pairs"
    add(editor, "bar for plates", name="long bar", bar="20 kg", collars="5", heaviest="300")
    add(editor, "bar for plates", name="short bar", bar="15", heaviest="180")
    add(
        *(editor, "weight stack or cable"),
        name="cable stack",
        masses="5 to 100 in 5s",
        add_ons="1,25; 2,5",
        note="Pulldown, seated row, curl and pushdown.",
    )
    add(editor, "machine for plates", name="leg press", empty="47", heaviest="350")
    add(editor, "dumbbells", name="dumbbell rack", masses="4 to 32 in 2s, without 26")
    add(editor, "kettlebells", name="kettlebells", masses="8; 12; 16; 20; 24; 32")
    add(editor, "bar or station for body weight", name="pull-up bar", belt="1", heaviest="60")
    editor.fields.belt_plates.box.value = True
    add(editor, "bands", name="bands", masses="5, 10, 20, 30")
    for name in ("rack", "bench", "incline bench", "high bench", "box", "step", "exercise ball"):
        editor.fixtures[name].box.value = True


def alike(ours: Room, theirs: Room) -> None:
    """Assert that every exercise gets the same loads, made of the same plates, in both rooms."""
    for one in theirs.catalogue.exercises.values():
        assert ours.lacks(one) == theirs.lacks(one), one.name
        try:
            expected = theirs.loads_for(one)
        except InputError:
            with pytest.raises(InputError):
                ours.loads_for(one)
            continue
        found = ours.loads_for(one)
        np.testing.assert_array_equal(found.kg, expected.kg)
        assert [found.describe(at) for at in range(0, len(found), 7)] == [
            expected.describe(at) for at in range(0, len(expected), 7)
        ]


def test_the_hall_is_built_from_nothing_and_its_file_reads_back(tmp_path):
    editor = RoomEditor()
    assert "add the first piece" in editor.answer.value
    build_the_hall(editor)
    assert "ticked under What else is there" in editor.answer.value
    path = editor.save(tmp_path / "hall.toml")
    alike(read_room(path), read_room(ROOMS[0]))


@pytest.mark.parametrize("path", ROOMS, ids=lambda path: path.stem)
def test_a_room_that_is_opened_is_shown_and_stays_what_it_is(path, tmp_path):
    room = read_room(path)
    editor = RoomEditor(room)
    editor.fill()
    assert editor.value is room
    for at in range(len(room.equipment)):
        editor.piece.value = at
        assert editor.fields.name.typed.value == room.equipment[at].name
    assert editor.value is room
    alike(read_room(editor.save(tmp_path / "again.toml")), room)


def test_what_is_typed_is_kept_exactly_and_shown_as_steps():
    editor = RoomEditor(read_room(ROOMS[0]))
    editor.piece.value = 4
    assert editor.fields.masses.typed.value == "4 to 32 in 2s, without 26"
    typed(editor, masses="2,5 to 10 in 2,5s")
    assert editor.value.equipment[4].steps() == [Decimal(mass) for mass in ("2.5", "5", "7.5", "10")]
    editor.undo.click()
    assert editor.fields.masses.typed.value == "4 to 32 in 2s, without 26"


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("bar", "45 lb", "type it in kg"),
        ("bar", "0", "out of range"),
        ("bar", "", "blank"),
        ("bar", "400", "max_load is less than the bar"),
        ("heaviest", "x", "not a mass"),
        ("name", "SHORT bar", "both named"),
    ],
)
def test_what_cannot_be_is_said_at_the_field(field, text, said):
    editor = RoomEditor(read_room(ROOMS[0]))
    one = getattr(editor.fields, field)
    one.typed.value = text or "20,5"
    if not text:
        one.typed.value = ""
    before = editor.value
    assert said in one.problem
    assert editor.value is before


def test_another_unit_leaves_every_mass_what_it_is():
    room = read_room(ROOMS[0])
    editor = RoomEditor(room)
    editor.unit.choice.value = "lb"
    assert editor.value.unit == "lb"
    for implement in ("barbell", "dumbbells", "stack", "machine plates"):
        np.testing.assert_array_equal(editor.value.loads(implement).kg, room.loads(implement).kg)
    # A plate that comes now is one of the room's unit.
    editor.plates[Decimal(45), "lb"].typed.value = "2"
    assert [(plate.mass, plate.unit) for plate in editor.value.plates if plate.unit is None] == [(Decimal(45), None)]


def test_a_plate_that_is_not_in_the_list_is_added_in_its_unit():
    editor = RoomEditor(read_room(ROOMS[0]))
    editor.other_plate.typed.value = "25 lb"
    editor._add_plate.click()
    editor.plates[Decimal(25), "lb"].typed.value = "1"
    assert [(plate.mass, plate.pairs) for plate in editor.value.plates if plate.unit == "lb"] == [(Decimal(25), 1)]
    editor.plates[Decimal(25), "lb"].typed.value = ""
    assert editor.value == read_room(ROOMS[0]).model_copy(update={"plates": editor.value.plates})
    assert all(plate.unit != "lb" for plate in editor.value.plates)


def test_a_bar_without_plates_says_what_comes_first():
    editor = RoomEditor()
    editor.new["bar for plates"].click()
    assert "say first how many pairs" in editor.trouble.value
    assert editor.value is None
    editor.new["kettlebells"].click()
    assert editor.trouble.value == ""
    editor.leave_out.click()
    assert "only piece" in editor.trouble.value


def test_the_loads_of_an_exercise_are_drawn_and_said():
    editor = RoomEditor(read_room(ROOMS[0]))
    editor.finder.text.value = "dumbbell curl"
    # 4 to 32 kg in 2s without 26: 14 pairs.
    assert "14 loads, 4 to 32 kg in each hand" in editor.said.value
    assert list(editor.loads.loads["shown"])[:3] == [4.0, 6.0, 8.0]
    # From 4 to 6 kg: half as much again.
    assert editor.loads.loads["step_percent"].iloc[0] == 50.0
    editor.finder.text.value = "hack squat"
    assert "names no hack squat machine" in editor.said.value
    assert editor.loads is None


def test_a_note_keeps_its_lines_and_one_that_is_too_long_is_refused():
    editor = RoomEditor(read_room(ROOMS[0]))
    editor.note.typed.value = "First line.\nSecond line, which stays."
    assert editor.value.note == "First line.\nSecond line, which stays."
    editor.note.typed.value = "x" * 2001
    assert editor.note.problem
    assert editor.value.note == "First line.\nSecond line, which stays."
