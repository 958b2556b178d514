"""Room files with something wrong in them end in one clear line: file, place, remedy."""

from pathlib import Path

import pytest

from workbench.gym.equipment import read_room
from workbench.quantities import InputError

FOLDER = Path(__file__).parents[1] / "bad_files" / "rooms"
#: file: (place, part of the problem, part of the remedy)
FAULTS = {
    "wrong_type": ("equipment.1.barbell.bar", "'20 kg' is not a number", "without quotes"),
    "unknown_unit": ("unit", "unknown unit of mass 'stone'", 'use "kg" or "lb"'),
    "typo_key": ("equipment.1.barbell.colars", "unknown key", "check its spelling"),
    "negative_mass": ("plates.1.mass", "-10 is out of range", "give 0 to 2000"),
    "zero_pairs": ("plates.2.pairs", "0 is out of range", "leave out what is not there"),
    "half_a_pair": ("plates.1.pairs", "1.5 is not a whole number", "count what is there"),
    "empty": ("", "is empty", "complete example"),
    "not_a_number": ("plates.1.mass", "nan is not a mass", "give a number"),
    "infinite": ("equipment.1.stack.last", "inf is not a mass", "give a number"),
    "duplicate_plate": ("plates", "entries 1 and 3 are both plates of 10", "list each mass once"),
    "duplicate_plate_with_unit": ("plates", "entries 1 and 3 are both plates of 20", "list each mass once"),
    "missing_kind": ("equipment.1", "kind is missing", "barbell, plate_machine, dumbbells"),
    "unknown_kind": ("equipment.1", "unknown kind 'barbel'", "use one of barbell"),
    "no_plates": ("equipment", "piece 1 (bar) has no plates", "add [[plates]]"),
    "no_equipment": ("equipment", "[] does not fit", "at least 1 item"),
    "same_name_twice": ("equipment", "pieces 1 and 2 are both named 'rack'", "rename one"),
    "uneven_steps": ("equipment.1.stack", "steps of 5 from 5 do not reach 52", "mend last"),
    "both_ways": ("equipment.1.dumbbells", "given twice", "give masses, or first and step"),
    "too_fine": ("equipment.1.dumbbells.masses.2", "too many decimals", "at most 3"),
    "not_toml": ("", "is not valid TOML", "correct that line"),
    "missing_unit": ("unit", "is missing", "add this key"),
    "rating_below_bar": ("equipment.1.barbell", "max_load is less than the bar", "heaviest total"),
    "unknown_fixture": ("fixtures", "no exercise needs 'inclined bench'", "use one of: incline bench"),
    "too_many_loads": ("bar", "more than 100,000 different loads", "give max_load"),
}


def _one_clear_line(path, place, problem, remedy):
    with pytest.raises(InputError) as caught:
        read_room(path)
    error = caught.value
    assert error.file == str(path)
    assert error.place == place
    assert problem in error.problem
    assert remedy in error.remedy
    message = str(error)
    assert message.startswith(str(path))
    assert "\n" not in message
    # A person reads it in one go: the path apart, two lines of a terminal at most.
    assert len(message) - len(str(path)) <= 240


@pytest.mark.parametrize("name", FAULTS)
def test_each_bad_file_says_what_is_wrong_where_and_what_would_be_right(name):
    _one_clear_line(FOLDER / f"{name}.toml", *FAULTS[name])


def test_every_bad_file_is_tried():
    assert sorted(path.stem for path in FOLDER.iterdir()) == sorted(FAULTS)


def test_a_binary_file(tmp_path):
    path = tmp_path / "photo.toml"
    path.write_bytes(b"name = \x89PNG\r\n\x1a\n\x00\xff")
    _one_clear_line(path, "byte 7", "is not UTF-8 text", "save it as UTF-8")


def test_a_room_of_too_many_loads_is_refused_by_a_bound_for_all_pieces_together(tmp_path):
    # Plates of 0.25, 0.5, ... 7.5 kg, forty pairs each: a bar can have thousands of loads, two hundred bars too many.
    plates = "".join(f"[[plates]]\nmass = {0.25 * number}\npairs = 40\n" for number in range(1, 31))
    bars = "".join(
        f'[[equipment]]\nname = "bar {number}"\nkind = "barbell"\nbar = {60 - 0.25 * number}\n' for number in range(200)
    )
    path = tmp_path / "warehouse.toml"
    path.write_text(f'name = "warehouse"\nunit = "kg"\n{plates}{bars}', encoding="utf-8")
    _one_clear_line(path, "equipment", "make more than 100,000 different loads", "fewer pieces")


def test_a_huge_file(tmp_path):
    path = tmp_path / "huge.toml"
    path.write_text("# filler\n" * 120_000, encoding="utf-8")
    assert path.stat().st_size > 1_000_000
    _one_clear_line(path, "", "has more than 1,000,000 bytes", "at most 1,000,000")


@pytest.mark.parametrize(
    "text",
    ["equipment = " + "[" * 20_000 + "]" * 20_000, "equipment = " + "{a=" * 20_000 + "1" + "}" * 20_000],
    ids=["lists", "tables"],
)
def test_a_deeply_nested_file(tmp_path, text):
    path = tmp_path / "bomb.toml"
    path.write_text(text, encoding="utf-8")
    _one_clear_line(path, "", "is nested too deeply", "at most 30 levels")


def test_a_file_that_is_not_there_and_a_folder(tmp_path):
    _one_clear_line(tmp_path / "none.toml", "", "cannot be read", "check the name")
    _one_clear_line(tmp_path, "", "is a folder", "give a file")
