"""What limits an exercise besides its muscles, and what an exchange keeps at the load that reaches them."""

from __future__ import annotations

import pytest

from tests.answers.search_bounds import EXERCISES, table
from workbench.answers.exchange import Exclusions, exchange_question
from workbench.answers.exchange_session import exchange_session
from workbench.gym import catalogue
from workbench.gym.catalogue import kept_part, limiters, reach_of
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path

ROUNDING = 1e-9
DEMO = data_path("demo")
#: As a coach or physiotherapist would have them: what gives out first.
FIRST_TO_GIVE_OUT = {
    "goblet squat": "held in the arms",
    "kettlebell goblet squat": "held in the arms",
    "overhead squat": "held overhead",
    "front squat": "held on the shoulders",
    "dumbbell squat": "grip",
    "dumbbell Romanian deadlift": "grip",
    "one-leg Romanian deadlift": "balance",
    "lunge": "balance",
    "step-up": "balance",
    "split squat": "grip",
    "farmer carry": "grip",
    "one-arm carry": "grip",
    "overhead carry": "held overhead",
    "hanging leg raise": "grip",
    "good morning": "the lower back",
    "barbell row": "the lower back",
    "bodyweight squat": "body mass",
    "push-up": "body mass",
    "band row": "a band's pull",
    "cable chest press": "balance",
    "back squat": "",
    "leg press": "",
    "bench press": "",
    "pull-up": "",
    "belt squat": "",
}


@pytest.mark.parametrize(("name", "limit"), FIRST_TO_GIVE_OUT.items())
def test_what_gives_out_first(name, limit):
    assert catalogue.exercise(name).limited_by == limit


def test_limit_and_reach_go_together_in_every_row_and_every_limit_is_used():
    assert {row["limited_by"] for row in EXERCISES.values()} == {"", *limiters()}
    for name, row in EXERCISES.items():
        assert 0 < float(row["reach"]) <= 1, name
        assert (float(row["reach"]) < 1) == bool(row["limited_by"]), name
    for row in table("limiters.csv"):
        assert set(row["spares"].split(";")) - {""} <= set(catalogue.MUSCLES)


def test_nothing_held_in_the_hands_or_on_one_leg_passes_as_unlimited_work_for_the_legs():
    """Dumbbells and kettlebells in squats, hinges and lunges are held by somebody; one leg has to balance."""
    for one in catalogue.exercises().values():
        held = one.implement in ("dumbbells", "dumbbell", "kettlebell")
        if held and one.movement_pattern in ("squat", "hinge", "lunge", "carry"):
            assert one.limited_by, one.name
        if one.movement_pattern == "lunge" or "load hanging from the hands" in one.joint_positions:
            assert one.limited_by or one.equipment == ("trap bar",), one.name


def test_a_goblet_squat_keeps_two_fifths_of_a_squat_by_hand():
    """Quadriceps, glutes 1, adductors, spinal erectors 0.5 in both: 3.0. Two fifths of the load reach each: 1.2 of 3.0.

    A front squat: upper back 0.5 more; quadriceps, glutes 0.85, adductors 0.425, the erectors hold it: 0.5. 2.625 of
    3.5.
    """
    squat, goblet = catalogue.exercise("back squat"), catalogue.exercise("goblet squat")
    assert kept_part(squat, goblet) == pytest.approx(0.4, abs=ROUNDING)
    assert kept_part(squat, catalogue.exercise("front squat")) == pytest.approx(0.75, abs=ROUNDING)
    # The other way round a bar gives the legs all that a goblet squat gave; another goblet squat too.
    assert kept_part(goblet, squat) == pytest.approx(1.0, abs=ROUNDING)
    assert kept_part(goblet, catalogue.exercise("kettlebell goblet squat")) == pytest.approx(1.0, abs=ROUNDING)
    # What holds the load gets all of it.
    dumbbells = catalogue.exercise("dumbbell squat")
    assert (reach_of(dumbbells, "forearms"), reach_of(dumbbells, "quadriceps")) == (1.0, 0.5)


def test_the_answer_says_it_in_words_and_ranks_by_what_is_kept():
    # In the small room a leg press on a stack keeps 0.83; the goblet squat, of the same movement and muscles, 0.4.
    lifter, room = read_lifter(DEMO / "lifters" / "cato_venn.toml"), read_room(DEMO / "rooms" / "quay_room.toml")
    rows = exchange_question(lifter, room, "back squat", most=50).table.set_index("exercise")
    assert rows.index[0] == "seated leg press"
    assert rows.loc["goblet squat", "shared"] == pytest.approx(0.4, abs=ROUNDING)
    assert rows.loc["goblet squat", "limit"] == (
        "What the arms can hold limits it: less load for quadriceps and glutes than from the back squat."
    )
    assert rows.loc["seated leg press", "limit"] == ""
    # And in the search: not from the lightest dumbbell of 5 lb, but from one that a squatter of 95 kg can use.
    loads = exchange_question(lifter, room, "back squat", most=50).loads["goblet squat"].search.loads_kg
    assert loads[0] > 6.5


def test_a_session_with_a_limited_exchange_says_what_the_legs_lose():
    lifter, room = read_lifter(DEMO / "lifters" / "emre_sandoval.toml"), read_room(DEMO / "rooms" / "quay_room.toml")
    out = Exclusions.of(lifter, exercises=["back squat"], implements=["stack", "machine plates", "barbell"])
    found = exchange_session(read_block(DEMO / "block.toml"), lifter, room, 1, leave_out=out)
    limited = found.changes[found.changes["limit"].fillna("") != ""]
    assert len(limited)
    for row in limited.to_dict("records"):
        assert f"{row['instead']}: {row['limit']}" in found.missing


def own(tmp_path, lines: str):
    path = tmp_path / "own.toml"
    path.write_text(
        '[[exercises]]\nname = "sandbag squat"\nmovement_pattern = "squat"\nimplement = "dumbbell"\n'
        f"muscles = {{ quadriceps = 1, glutes = 1 }}\n{lines}\n"
    )
    return catalogue.catalogue_for(exercises=path).own


def test_own_exercises_have_a_limit_too(tmp_path):
    (one,) = own(tmp_path, 'limited_by = "held in the arms"\nreach = 0.5')
    assert (one.limited_by, one.reach) == ("held in the arms", 0.5)
    assert own(tmp_path, "")[0].reach == 1.0
    for wrong, said in (
        ("reach = 0.5", "go together"),
        ('limited_by = "grip"', "go together"),
        ('limited_by = "gripp"\nreach = 0.5', "use one of: grip"),
        ('limited_by = "grip"\nreach = 0', "reach"),
    ):
        with pytest.raises(InputError, match=said):
            own(tmp_path, wrong)
