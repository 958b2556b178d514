"""Which piece of a room an exercise is loaded on, and what the room says where there is none."""

import pickle

import numpy as np
import pytest

from workbench.gym import catalogue
from workbench.gym.equipment import IMPLEMENTS, Room, read_room
from workbench.quantities import InputError
from workbench.reference.sources import data_path


@pytest.fixture(scope="module")
def hall():
    return read_room(data_path("demo", "rooms", "boathouse_hall.toml"))


def test_the_first_piece_that_serves_is_taken_unless_another_is_named(hall):
    assert hall.loads("barbell").equipment == "long bar"
    assert hall.loads("barbell", "Short Bar ").equipment == "short bar"
    assert hall.loads("barbell").kg[0] == 20.0
    assert hall.loads("barbell", "short bar").kg[0] == 15.0


def test_one_rack_serves_pairs_and_single_dumbbells(hall):
    pair, single = hall.loads("dumbbells"), hall.loads("dumbbell")
    np.testing.assert_array_equal(pair.kg, 2.0 * single.kg)


def test_the_plates_of_a_room_can_be_held_one_at_a_time(hall):
    table = hall.loads_for(catalogue.exercise("plate front raise"))
    # Each mass of [[plates]] once, not what pairs of them add up to.
    assert table.kg.tolist() == [0.5, 1.25, 2.5, 5.0, 10.0, 15.0, 20.0, 25.0]
    assert (table.equipment, table.hands, table.describe(3)) == ("plates", 1, "5 kg: plate of 5")


def test_plates_to_hold_keep_their_unit_and_make_way_for_a_piece_of_their_name():
    bar = {"name": "bar", "kind": "barbell", "bar": 20}
    plates = [{"mass": 10, "pairs": 2}, {"mass": 25, "pairs": 1, "unit": "lb"}]
    room = Room.model_validate({"name": "r", "unit": "kg", "plates": plates, "equipment": [bar]})
    assert room.loads("plate").kg.tolist() == [10.0]
    assert room.loads("plate", "plates in lb").kg.tolist() == pytest.approx([25 * 0.45359237], rel=1e-12)
    listed = {"name": "Plates", "kind": "loose_plates", "masses": [2.5, 5]}
    room = Room.model_validate({"name": "r", "unit": "kg", "plates": plates, "equipment": [bar, listed]})
    assert room.loads("plate", "plates").kg.tolist() == [2.5, 5.0]


def test_single_dumbbells_do_not_serve_as_pairs():
    room = Room.model_validate(
        {
            "name": "r",
            "unit": "kg",
            "equipment": [{"name": "odd ones", "kind": "dumbbells", "masses": [10], "single": True}],
        }
    )
    assert room.loads("dumbbell").kg.tolist() == [10.0]
    with pytest.raises(InputError, match="nothing for the implement 'dumbbells'"):
        room.loads("dumbbells")


def test_a_missing_piece_says_file_and_what_there_is():
    path = data_path("demo", "rooms", "quay_room.toml")
    room = read_room(path)
    with pytest.raises(InputError) as caught:
        room.loads("barbell", "long bar")
    message = str(caught.value)
    assert message.startswith(str(path))
    assert "no piece named 'long bar'" in message
    assert "tower stack (stack)" in message
    with pytest.raises(InputError, match=r"nothing for the implement 'kettlebell'.*it has: dumbbells"):
        room.loads("kettlebell")
    with pytest.raises(InputError, match="'leg stack' is of kind stack"):
        room.loads("dumbbells", "leg stack")
    with pytest.raises(InputError, match="unknown implement 'rope'; use one of barbell"):
        room.loads("rope")


def test_tables_are_worked_out_once(hall):
    assert hall.loads("barbell") is hall.loads("barbell")


def test_a_room_travels_to_another_process(hall):
    for implement in IMPLEMENTS:
        here = hall.loads(implement)
        there = pickle.loads(pickle.dumps(hall)).loads(implement)
        assert there.exact == here.exact
        assert [there.describe(i) for i in range(len(there))] == [here.describe(i) for i in range(len(here))]


def test_the_schema_names_the_type_of_every_number():
    schema = Room.model_json_schema()["$defs"]
    assert schema["PlateStock"]["properties"]["mass"]["type"] == "number"
    assert schema["PlateStock"]["properties"]["pairs"]["type"] == "integer"
    assert schema["AddOn"]["properties"]["count"]["maximum"] == 8
    assert schema["Stack"]["properties"]["pulley_ratio"]["maximum"] == 4


@pytest.mark.parametrize("room_name", ["boathouse_hall", "quay_room"])
def test_demo_rooms_say_that_they_are_invented(room_name):
    room = read_room(data_path("demo", "rooms", f"{room_name}.toml"))
    assert room.note.strip().startswith("Invented")


def test_an_exercise_is_loaded_on_the_piece_that_names_its_machine():
    quay = read_room(data_path("demo", "rooms", "quay_room.toml"))
    expected = {
        "leg extension": "leg stack",
        "leg curl": "leg stack",
        "lat pulldown": "tower stack",
        "triceps pushdown": "two-handle stack",
        "dumbbell curl": "dumbbells",
    }
    assert {name: quay.loads_for(catalogue.exercise(name)).equipment for name in expected} == expected
    assert quay.loads_for(catalogue.exercise("leg extension"), "tower stack").equipment == "tower stack"
