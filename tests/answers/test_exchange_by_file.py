"""What an exchange may offer, judged by the files as they are written and by nothing of the code that filters.

The joint positions stand in ``data/exercises.csv``, what a room has in its file; both are read here with the csv and
toml modules alone.
"""

import csv
import tomllib

import pytest

from workbench.answers.exchange import Exclusions, exchange_question
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.reference.sources import data_path

#: Kind of a piece of equipment, by what an exercise is loaded with.
KINDS = {
    "barbell": {"barbell", "fixed_barbells"},
    "dumbbell": {"dumbbells"},
    "dumbbells": {"dumbbells"},
    "kettlebell": {"kettlebells"},
    "stack": {"stack"},
    "machine plates": {"plate_machine"},
    "plate": {"loose_plates"},
    "bodyweight": {"bodyweight"},
    "band": {"bands"},
}
#: Exercise, and a position left out with which something is left to offer in both rooms or in the hall alone.
CASES = [
    ("lat pulldown", "overhead", ("boathouse_hall", "quay_room")),
    ("bench press", "deep shoulder extension", ("boathouse_hall", "quay_room")),
    ("back squat", "deep knee flexion", ("boathouse_hall", "quay_room")),
    ("Romanian deadlift", "trunk bent forward under load", ("boathouse_hall", "quay_room")),
]


def rows_of(name):
    with data_path(name).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.mark.parametrize(
    ("exercise", "position", "room_name"),
    [(name, position, room) for name, position, rooms in CASES for room in rooms],
)
def test_nothing_that_is_left_out_is_offered(exercise, position, room_name):
    by_file = {row["name"]: row for row in rows_of("exercises.csv")}
    direct = {name: set() for name in by_file}
    for row in rows_of("muscle_shares.csv"):
        if float(row["share"]) == 1:
            direct[row["exercise"]].add(row["muscle"])
    path = data_path("demo", "rooms", f"{room_name}.toml")
    with path.open("rb") as handle:
        content = tomllib.load(handle)
    kinds = {piece["kind"] for piece in content["equipment"]} | ({"loose_plates"} if "plates" in content else set())
    lifter = read_lifter(data_path("demo", "lifters", "emre_sandoval.toml"))
    out = Exclusions.of(lifter, positions=[position])
    offered = exchange_question(lifter, read_room(path), exercise, leave_out=out, most=100).table["exercise"].tolist()
    assert offered, "nothing is offered: the case tests nothing"
    for name in offered:
        row = by_file[name]
        assert position not in row["joint_positions"].split(";"), name
        assert KINDS[row["implement"]] & kinds, name
        assert direct[name] & direct[exercise], name
    assert exercise not in offered
    # The filter is at work: without it there is more.
    more = exchange_question(lifter, read_room(path), exercise, leave_out=Exclusions.of(lifter), most=100).table
    assert any(position in by_file[name]["joint_positions"].split(";") for name in more["exercise"])
