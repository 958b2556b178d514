"""The search for a load stays below what the least able of the possible can lift, and says so where it cannot begin."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.answers.search_bounds import BARE, check_all, demo_lifters, random_lifters, rooms, searches
from tests.simulated_logs import both_hands
from workbench.answers.load_search import _ladder, guess_one_rm, search_for_load
from workbench.gym import catalogue
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

ROUNDING = 1e-9
#: Values worked by hand below carry four digits.
BY_HAND = 2e-3
#: Random lifters of the fast and of the whole run.
FEW, MANY = 4, 500


def person(lifts: dict[str, float], **more: object) -> Lifter:
    written = {name: {"one_rm_kg": kg, **both_hands(name)} for name, kg in lifts.items()}
    return validate({"name": "Invented", "lifts": written, **more}, Lifter)


@pytest.fixture(scope="module")
def hall() -> Room:
    return read_room(data_path("demo", "rooms", "boathouse_hall.toml"))


@pytest.fixture(scope="module")
def bare() -> Room:
    return validate(BARE, Room)


def test_no_step_lies_above_its_bound_for_some_lifters():
    found, none = check_all([*demo_lifters()[:1], *random_lifters(FEW)], rooms())
    # Five lifters, three rooms, some hundred exercises each: neither kind may be nearly empty.
    assert found.total() > 300
    assert len(none) > 150


@pytest.mark.slow
def test_no_step_lies_above_its_bound_for_all_demo_lifters_and_500_others():
    found, none = check_all([*demo_lifters(), *random_lifters(MANY)], rooms())
    assert found.total() > 50_000
    assert len(none) > 10_000


def test_a_search_from_a_ratio_worked_by_hand(hall):
    """Incline bench press of a lifter with 62.5 kg on the flat bench, known to 4 %.

    Ratio 0.87 (0.75 to 0.98): about 54 kg (47 to 61). Low end of both: 62.5 (1 - 1.28 x 0.04) 0.75 = 44.48 kg.
    Endurance of the horizontal press 0.02898, log sd sqrt(0.234^2 + 0.194^2 + 0.067^2) = 0.3113; one in ten tires
    faster than 0.02898 exp(1.28 x 0.3113) = 0.04316. Six reps with three left are a 9RM: 44.48 exp(-8 x 0.04316) =
    31.49 kg.
    """
    search = guess_one_rm(person({"bench press": 62.5}), hall, catalogue.exercise("incline bench press")).search
    assert search.low_one_rm_kg == pytest.approx(44.48, rel=BY_HAND)
    assert search.bound_kg == pytest.approx(31.49, rel=BY_HAND)
    assert max(search.loads_kg) <= 31.49
    # Well below at first: under two thirds of the bound, where the bars have such a load (they begin at 15 kg).
    assert search.loads_kg[0] <= 0.65 * 31.49
    # The low end of the belief decides, not the middle or the high one: 9RMs of 54 and 61 kg are 38 and 43 kg.
    assert search.basis == "believed 1RM"
    assert "31" in search.lines[1]


def test_far_steps_are_a_third_and_near_ones_a_tenth():
    """A stack in steps of 1 kg: the first load 0.6 of the bound, a third up to 0.75, then a tenth."""
    room = validate(
        {"name": "R", "unit": "kg", "equipment": [{"name": "s", "kind": "stack", "first": 1, "step": 1, "last": 200}]},
        Room,
    )
    # Seated cable row: k 0.03198, log sd sqrt(0.276^2 + 0.194^2 + 0.2^2) = 0.3922; k exp(1.28 x 0.3922) = 0.05283, 8 of
    # it 0.4227. A low end of 157 kg gives 102.88 kg. First 0.6 of it, 61; then 3/4 of it, 77; then tenths to the top.
    row = catalogue.exercise("seated cable row")
    found = search_for_load(person({"back squat": 100}), room, row, 157.0)
    assert found.bound_kg == pytest.approx(102.88, rel=BY_HAND)
    assert found.loads_kg == (61.0, 77.0, 84.0, 92.0, 101.0, 102.0)
    # Nothing is believed of a row here: 0.45 of body mass, half of the above, gives 51.44 kg, in tenths from 30 kg on.
    unproven = search_for_load(person({"back squat": 100}, body_mass_kg=78.5 / 0.45, training_years=5), room, row)
    assert unproven.basis == "body mass"
    assert unproven.bound_kg == pytest.approx(51.44, rel=BY_HAND)
    assert unproven.loads_kg == (30.0, 33.0, 36.0, 39.0, 42.0, 46.0, 50.0)


def test_fast_lifts_are_searched_in_short_sets(hall):
    lifter = person({"clean pull": 120}, body_mass_kg=90, training_years=4)
    assert search_for_load(lifter, hall, catalogue.exercise("power clean")).reps == 3
    assert search_for_load(lifter, hall, catalogue.exercise("front squat")).reps == 6


def test_shared_muscles_give_the_bound_by_hand(hall):
    """A goblet squat for a squat of 100 kg, exact: the same movement; the arms hold 0.4 of what the legs could take.

    Kept: quadriceps and glutes 0.4 each, adductors and spinal erectors 0.2 each, of 3.0: 0.4. Low end 100 x 0.4 x 0.6 =
    24 kg. Squat: k 0.02196 exp(1.28 sqrt(0.284^2 + 0.194^2 + 0.091^2)) = 0.02196 exp(0.4554) = 0.03463; 24 exp(-0.2770)
    = 18.2 kg.
    """
    lifter = validate(
        {"name": "Invented", "lifts": {"back squat": {"one_rm_kg": 100, "uncertainty_percent": 0}}}, Lifter
    )
    search = guess_one_rm(lifter, hall, catalogue.exercise("goblet squat")).search
    assert search.low_one_rm_kg == pytest.approx(24.0, rel=ROUNDING)
    assert search.bound_kg == pytest.approx(18.2, rel=BY_HAND)
    # 0.6 of 18.2 is 10.9: the rack has 10 and then 12, a fifth more. It says so, and does not jump.
    assert search.loads_kg == (10.0,)
    said = next(line for line in search.lines if "nothing between" in line)
    assert "10 kg and 12 kg" in said
    assert "20 %" in said


def test_a_machine_says_less_of_a_free_lift(hall):
    """Leg press 260 kg, exact: kept 2.5 of 3.0, same movement 0.6, machine to free 0.5: 260 x 0.8333 x 0.3 = 65 kg."""
    lifter = validate(
        {"name": "Invented", "lifts": {"leg press": {"one_rm_kg": 260, "uncertainty_percent": 0}}}, Lifter
    )
    search = guess_one_rm(lifter, hall, catalogue.exercise("back squat")).search
    assert search.low_one_rm_kg == pytest.approx(65.0, rel=ROUNDING)
    # A well-known 1RM counts for more than a hardly known one.
    unsure = validate(
        {"name": "Invented", "lifts": {"leg press": {"one_rm_kg": 260, "uncertainty_percent": 20}}}, Lifter
    )
    other = guess_one_rm(unsure, hall, catalogue.exercise("back squat")).search
    assert other.low_one_rm_kg == pytest.approx(65.0 * (1 - 1.28 * 0.2), rel=ROUNDING)


def test_years_of_training_and_one_side_change_what_body_mass_says(hall):
    curl = catalogue.exercise("concentration curl")  # one side; 0.15 and 0.22 of body mass
    for years, share in ((None, 0.15), (1.9, 0.15), (2, 0.22)):
        lifter = person({"leg press": 100}, body_mass_kg=80, training_years=years) if years else None
        lifter = lifter or person({"leg press": 100}, body_mass_kg=80)
        assert search_for_load(lifter, hall, curl).low_one_rm_kg == pytest.approx(80 * share / 2, rel=ROUNDING)


def test_with_nothing_known_no_load_is_named_and_a_remembered_set_is_asked_for(hall):
    search = guess_one_rm(person({"leg curl": 40}), hall, catalogue.exercise("bench press")).search
    assert search.loads_kg == ()
    assert math.isnan(search.bound_kg)
    said = " ".join(search.lines)
    assert "any set the lifter remembers" in said
    assert "has no body mass" in said


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("push-up", "easier form"),
        ("pull-up", "easier form"),
        ("band row", "grows with the stretch"),
        ("leg press calf raise", "the lightest load, 47 kg (leg press), is too heavy to begin with"),
    ],
)
def test_where_no_safe_search_exists_it_says_what_to_do_instead(hall, name, said):
    search = guess_one_rm(person({"back squat": 100}, body_mass_kg=60), hall, catalogue.exercise(name)).search
    assert not search.safe
    assert said in " ".join(search.lines)


def test_a_sled_that_weighs_nothing_is_never_a_set_with_zero(bare):
    lifter = person({"back squat": 150}, body_mass_kg=90, training_years=5)
    search = guess_one_rm(lifter, bare, catalogue.exercise("leg press")).search
    assert search.safe
    assert min(search.loads_kg) > 0


def test_a_lighter_bar_is_taken_where_the_usual_one_is_too_heavy(hall):
    # Overhead press, 80 kg, trained: 0.32 x 80 = 25.6 kg.
    # k 0.02757 exp(1.28 sqrt(0.269^2 + 0.194^2 + 0.241^2)) = 0.0466,
    # 25.6 exp(-0.3728) = 17.63 kg: the long bar of 20 is too heavy, the short one of 15 is not.
    lifter = person({"leg curl": 40}, body_mass_kg=80, training_years=3)
    search = guess_one_rm(lifter, hall, catalogue.exercise("overhead press")).search
    assert search.bound_kg == pytest.approx(17.63, rel=BY_HAND)
    assert search.loads_kg == (15.0, 16.0, 17.5)
    assert "short bar" in search.lines[0]
    # A lift with a bar of its own takes no other.
    alone = hall.model_copy(update={"equipment": hall.equipment[:1], "fixtures": None})
    for room in (hall, alone):
        pull = search_for_load(person({"deadlift": 60}, body_mass_kg=60), room, catalogue.exercise("trap-bar deadlift"))
        assert "short bar" not in " ".join(pull.lines)


def test_a_pair_of_dumbbells_is_spoken_of_by_one_hand(hall):
    # Dumbbell bench press at a bench of 100: low end 100 x 0.949 x 0.71 = 67.4 kg both, 9RM 47.7 both, 23.9 each.
    search = guess_one_rm(person({"bench press": 100}), hall, catalogue.exercise("dumbbell bench press")).search
    assert max(search.loads_kg) <= 47.7
    assert "2 x 14 kg" in search.lines[0]
    assert "23.8 kg" in search.lines[1] or "23.9 kg" in search.lines[1]


def test_an_own_1rm_needs_no_search(hall):
    guess = guess_one_rm(person({"bench press": 100}), hall, catalogue.exercise("bench press"))
    assert guess.search is None
    assert guess.protocol == ()
    # 1.28 times 4 %: one in ten lies beyond on either side.
    assert guess.low_kg == pytest.approx(94.88, rel=ROUNDING)
    assert guess.high_kg == pytest.approx(105.12, rel=ROUNDING)


def test_the_narrowest_ratio_counts_and_that_of_the_exchanged_exercise_comes_first(hall):
    # Seated barbell press: 0.77 (0.62 to 0.92) of the bench press, 0.83 (0.68 to 0.97) of the incline one;
    # 0.92 / 0.62 = 1.48 is wider than 0.97 / 0.68 = 1.43.
    lifter = person({"bench press": 100, "incline bench press": 90})
    press = catalogue.exercise("seated barbell press")
    assert guess_one_rm(lifter, hall, press).one_rm_kg == pytest.approx(90 * 0.83, rel=ROUNDING)
    exchanged = guess_one_rm(lifter, hall, press, instead_of=catalogue.exercise("bench press"))
    assert exchanged.one_rm_kg == pytest.approx(77, rel=ROUNDING)
    # Read the other way round, the ends change places: 83 / 0.97 and 83 / 0.71.
    back = guess_one_rm(person({"dumbbell bench press": 83}), hall, catalogue.exercise("bench press"))
    assert (back.low_kg, back.high_kg) == pytest.approx((83 / 0.97, 83 / 0.71), rel=ROUNDING)


def test_every_search_ends_in_stop_and_log(hall):
    for search in searches(person({"back squat": 100}, body_mass_kg=80), hall):
        if search.safe:
            assert "No set to failure, no maximal lift." in search.lines[-2]
            assert "log" in search.lines[-1]


@pytest.mark.parametrize(
    ("loads", "climb"),
    [
        # Light is up to 24 kg. From 20 kg a tenth leads on to 21.5, from there nowhere: never 21.5 alone.
        ((20.0, 21.5, 26.0, 33.0), (20.0, 21.5)),
        # No light load leads on (15 to 20 is a third): the first of all that does, 30, then 32 and 35 in tenths.
        ((15.0, 20.0, 25.0, 30.0, 32.0, 35.0), (30.0, 32.0, 35.0)),
        # Nothing leads anywhere: the heaviest light load alone.
        ((15.0, 20.0, 25.0, 35.0), (20.0,)),
    ],
)
def test_tenths_begin_where_they_lead_on(loads, climb):
    assert _ladder(np.array(loads), 40.0, 0.1) == climb
