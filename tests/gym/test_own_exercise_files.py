"""A coach's own exercise file adds to the catalogue, replaces nothing, and says what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.gym import catalogue
from workbench.quantities import InputError
from workbench.reference.sources import sources

BAD_FILES = Path(__file__).parents[1] / "bad_files" / "own_exercises"
ALL = list(catalogue.exercises().values())


OWN = """
[[exercises]]
name = "sled push"
movement_pattern = "lunge"
implement = "machine plates"
sides = "one-sided"
equipment = ["sled"]
range_of_motion = "twenty steps"
joint_positions = ["deep knee flexion"]
setup_s = 60
change_load_s = 15
seconds_per_rep = 1.5
muscles = { calves = 0.5, quadriceps = 1, glutes = 1 }
aliases = ["sled", "sledge push"]

[[exercises]]
name = "row"
movement_pattern = "horizontal pull"
implement = "stack"
endurance_class = "horizontal pull"
muscles = { latissimus = 1 }
"""


def test_an_own_file_makes_another_catalogue_and_leaves_the_built_in_one(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text(OWN, encoding="utf-8")
    wider = catalogue.catalogue_for(exercises=path)
    assert wider.with_own(wider.own) is wider
    sled = wider.exercise("Sled")
    assert sled.name == "sled push"
    assert sled.direct_muscles == ("quadriceps", "glutes")
    assert [(part.muscle, part.share, part.grade) for part in sled.muscles][-1] == ("calves", 0.5, "assumed")
    assert {part.source for part in sled.muscles} <= set(sources())
    # The word that may mean several exercises now has one that the coach named so.
    assert wider.exercise("rows").implement == "stack"
    names, muscles, shares = wider.muscle_shares
    assert names == (*(one.name for one in ALL), "sled push", "row")
    assert shares[names.index("sled push"), muscles.index("calves")] == 0.5
    assert list(catalogue.exercises().values()) == ALL
    assert "sled push" not in catalogue.exercises()
    with pytest.raises(InputError, match="several"):
        catalogue.exercise("rows")


def test_an_own_exercise_never_takes_the_place_of_another():
    squat = catalogue.exercise("back squat")
    with pytest.raises(InputError, match="already means back squat"):
        catalogue.built_in().with_own([squat])
    assert catalogue.exercise("squat") is squat


#: file: (place, part of the problem, part of the remedy)
FAULTS = {
    "alias_taken": ("exercise sled push", "'RDL' already means Romanian deadlift", "another name or alias"),
    "body_mass_on_machine": ("exercises.1.body_mass_share", "does not go with machine plates", "bodyweight"),
    "empty": ("", "is empty", "example"),
    "name_taken": ("exercise Back Squats", "already means back squat", "another name or alias"),
    "negative_time": ("exercises.1.setup_s", "-5 does not fit", "greater than or equal to 0"),
    "no_direct_muscle": ("exercises.1.muscles", "no muscle is trained directly", "the share 1"),
    "no_table": ("exercises", "is missing", "add this key"),
    "no_word_in_name": ("exercise - - -", "holds no word", "another name"),
    "not_toml": ("", "is not valid TOML", "correct that line"),
    "same_name_twice": ("exercise sled push", "'sled push' already means sled push", "another name"),
    "true_for_number": ("exercises.1.seconds_per_rep", "true does not fit", "give a number"),
    "typo_key": ("exercises.1.setup_sec", "unknown key", "check its spelling"),
    "unknown_implement": ("exercises.1.implement", "'sled' does not fit", "'machine plates'"),
    "unknown_muscle": ("exercises.1.muscles.quads.[key]", "'quads' does not fit", "'quadriceps'"),
    "unknown_position": ("exercises.1.joint_positions", "is no known joint position", "deep knee flexion"),
}


def test_every_bad_file_has_its_fault_listed():
    assert {path.stem for path in BAD_FILES.glob("*.toml")} == set(FAULTS)


@pytest.mark.parametrize("name", FAULTS)
def test_a_bad_own_file_ends_in_one_clear_line(name):
    path = BAD_FILES / f"{name}.toml"
    place, problem, remedy = FAULTS[name]
    with pytest.raises(InputError) as caught:
        catalogue.catalogue_for(exercises=path)
    assert caught.value.file == str(path)
    assert caught.value.place == place
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy
    assert "\n" not in str(caught.value)
