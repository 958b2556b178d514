"""What a log taught as it is written into a lifter file: units, digits, ends of intervals, what goes away."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit.learned_draws import LearnedDraws
from workbench.fit.lifter_file import _as_written, _correlations, _factor, _kept, _learned_lift
from workbench.gym.catalogue import built_in
from workbench.lifter import FromSet, Lift, Lifter
from workbench.lifter.belief import ALL, TENTH
from workbench.lifter.file import BEND, CARRIED, RECOVERY, SHARED
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import CURVES
from workbench.reference.toml_files import validate

TODAY = datetime.date(2026, 2, 3)
BEFORE = datetime.date(2025, 12, 1)
LEARNED = SimpleNamespace(exercises=("back squat",), today=TODAY, lifter=SimpleNamespace(catalogue=built_in()))
#: Ends a fifth below and a quarter above the middle.
ENDS = np.array([0.8, 1.0, 1.25])


def written(before: Lift | None, middle: float = 100.0, exercise: str = "back squat", endurance: float = 0.03):
    return _learned_lift(LEARNED, exercise, middle * ENDS, endurance * ENDS, before)


@pytest.mark.parametrize(
    ("before", "key", "one_rm"),
    [
        # 100 kg are 220.46 lb, 110.23 in each hand.
        (Lift(one_rm_lb=200.0), "one_rm_lb", 220.5),
        (Lift(one_rm_lb=100.0, each_hand=True), "one_rm_lb", 110.2),
        (Lift(from_set=FromSet(lb=185.0, reps=5)), "one_rm_lb", 220.5),
        (Lift(one_rm_kg=90.0), "one_rm_kg", 100.0),
        (Lift(from_set=FromSet(kg=85.0, reps=5)), "one_rm_kg", 100.0),
        (None, "one_rm_kg", 100.0),
        # Loads go by a number that is 8 % below what could be lifted: it stays so.
        (Lift(one_rm_kg=85.0, known_from="kept low on purpose", kept_low_percent=8.0), "one_rm_kg", 92.0),
    ],
)
def test_a_1rm_is_written_in_the_unit_and_the_way_of_the_file(before, key, one_rm):
    found = written(before)
    assert {name: found[name] for name in found if name.startswith("one_rm") and name != "one_rm_interval"} == {
        key: one_rm
    }
    assert found["one_rm_interval"] == pytest.approx([0.8 * one_rm, 1.25 * one_rm], rel=5e-4)  # four digits
    assert found["known_from"] == ("kept low on purpose" if before and before.kept_low_percent else "the log")
    # The set it came from is no longer where it comes from; what is written can be read.
    assert "from_set" not in found
    Lift.model_validate(found)


@pytest.mark.parametrize(
    ("middle", "one_rm"), [(100.04, 100.0), (100.06, 100.1), (20.04, 20.0), (19.94, 19.94), (7.126, 7.13)]
)
def test_a_1rm_is_written_to_a_tenth_and_a_light_one_to_a_hundredth(middle, one_rm):
    assert written(None, middle)["one_rm_kg"] == one_rm


@pytest.mark.parametrize(
    ("endurance", "expected"),
    [(0.031236, 0.0312), (0.001, 0.003), (0.00312, 0.0031), (0.29, 0.29), (0.5, 0.3)],
)
def test_an_endurance_is_written_within_what_a_lifter_file_may_hold(endurance, expected):
    """From 0.003 to 0.3 a rep, as the reader of lifter files takes it, to four places; the ends move along."""
    found = written(Lift(one_rm_kg=90.0, reps_at={"percent": 80, "reps": 8}), endurance=endurance)
    assert found["endurance"] == expected
    assert found["endurance_interval"] == pytest.approx([0.8 * expected, 1.25 * expected], rel=5e-4)
    assert "reps_at" not in found


@pytest.mark.parametrize(("median", "written"), [(0.1, 0.2), (0.21, 0.21), (1.2371, 1.24), (4.9, 4.9), (7.0, 5.0)])
def test_a_factor_is_written_within_what_a_lifter_file_may_hold(median, written):
    """From a fifth to five times the usual, as the reader of lifter files takes them."""
    found = _factor("recovery_rate", "recovery_interval", median * np.array([0.9, 1.0, 1.2]))
    assert found["recovery_rate"] == written
    assert found["recovery_interval"] == pytest.approx([0.9 * written, 1.2 * written], rel=1e-3)  # four digits


def test_only_what_was_lifted_is_known_of_today():
    """An exercise that moved along with others keeps the day it was tested; a stated width gives way to the log's."""
    before = Lift(one_rm_kg=90.0, tested=BEFORE, uncertainty_percent=5.0, note="belt")
    lifted, moved = (written(before, exercise=name) for name in ("back squat", "bench press"))
    assert (lifted["tested"], moved["tested"]) == (TODAY, BEFORE)
    for found in (lifted, moved):
        assert "uncertainty_percent" not in found
        assert found["note"] == "belt"


def test_only_an_exercise_with_two_new_to_the_file_is_written_by_one_hand():
    """60 kg on a bar is 60 kg; 60 kg in two dumbbells, new to the file, is 30 in each hand; a file keeps its way."""
    learned = SimpleNamespace(
        exercises=("back squat", "dumbbell curl"),
        today=datetime.date(2026, 2, 3),
        lifter=SimpleNamespace(catalogue=built_in()),
    )
    one_rm, endurance = np.array([57.0, 60.0, 63.0]), np.array([0.028, 0.03, 0.032])
    both = Lift(one_rm_kg=50.0)
    cases = (("back squat", None), ("dumbbell curl", None), ("dumbbell curl", both))
    found = [_learned_lift(learned, exercise, one_rm, endurance, before) for exercise, before in cases]
    assert [lift["one_rm_kg"] for lift in found] == [60.0, 30.0, 60.0]
    assert [lift["one_rm_interval"] for lift in found] == [[57.0, 63.0], [28.5, 31.5], [57.0, 63.0]]
    assert [lift.get("each_hand", False) for lift in found] == [False, True, False]


def test_what_says_nothing_is_not_written():
    lift = Lift(one_rm_kg=90.0, each_hand=False, note="")
    assert _as_written(lift) == {"one_rm_kg": 90.0, "each_hand": False}


# What is kept of possible lifters


def median_of(value: float):
    return SimpleNamespace(quantile=lambda level: value if level == 0.5 else np.nan, median=value)


#: Logs whose 10 %, 50 % and 90 % quantiles are -0.2, 0 and 0.2: 1001 even steps.
EVEN = np.linspace(-0.25, 0.25, 1001)
FACTORS = np.exp([-0.2, 0.0, 0.2])


def kept(before: Lifter, carry_over=None, curve="exponential", **drawn):
    """What is kept of a squat of 101 kg, endurance 0.031 and recovery 1.1 whose draws lie about 100, 0.03 and 1."""
    learned = SimpleNamespace(
        lifter=before,
        one_rm=lambda name: median_of(101.0),
        endurance=lambda name: median_of(0.031),
        recovery_rate=median_of(1.1),
        carry_over=carry_over,
        fit=SimpleNamespace(curve=CURVES[curve]),
    )
    values = {
        "shared": EVEN,
        "carry_over": 0.9 * np.exp(EVEN),
        "gain": np.column_stack([0.01 * EVEN]),
        "reserve_bias": 0.5 + EVEN,
        **drawn,
    }
    lifted = (np.log(100.0) + EVEN[:, None], 0.03 * np.exp(EVEN[:, None]), np.exp(EVEN))
    return _kept(learned, LearnedDraws(("back squat",), *lifted, **values))


@pytest.fixture(scope="module")
def untaught():
    return validate({"name": "A", "lifts": {"back squat": {"one_rm_kg": 100}}}, Lifter)


@pytest.fixture(scope="module")
def taught():
    """One whose file tells how carry-over and recovery go together."""
    together = {"quantities": ["recovery rate", "carry-over"], "correlations": [[0.3]]}
    factors = {
        "recovery_rate": 1.0,
        "recovery_interval": [0.8, 1.2],
        "carry_over": 1.0,
        "carry_over_interval": [0.8, 1.2],
    }
    return validate({"name": "A", "lifts": {"back squat": {"one_rm_kg": 100}}, "together": together, **factors}, Lifter)


def test_middles_are_those_of_the_grids_and_ends_as_far_off_as_those_of_the_draws(untaught):
    found, columns = kept(untaught)
    np.testing.assert_allclose(found["back squat", "1RM"], 101.0 * FACTORS)
    np.testing.assert_allclose(found["back squat", "endurance"], 0.031 * FACTORS)
    np.testing.assert_allclose(found[RECOVERY], 1.1 * FACTORS)
    assert CARRIED not in found  # neither the log nor the file spoke of it
    # Of even draws from -a to a the sd is a / sqrt(3); of 1001 it is a thousandth more.
    np.testing.assert_allclose(found[SHARED], 0.25 / np.sqrt(3) * TENTH * np.array([-1, 0, 1]), rtol=2e-3, atol=1e-12)
    np.testing.assert_allclose(found[ALL, "stated reserve"], [0.3, 0.5, 0.7])
    np.testing.assert_allclose(found[ALL, "gain"], [-0.2, 0.0, 0.2], atol=1e-12)  # % a week
    assert columns.shape == (1001, len(found))


def test_a_carry_over_of_which_only_the_file_tells_keeps_the_middle_of_its_draws(taught, untaught):
    np.testing.assert_allclose(kept(untaught, median_of(1.3))[0][CARRIED], 1.3 * FACTORS)
    np.testing.assert_allclose(kept(taught)[0][CARRIED], 0.9 * FACTORS)
    np.testing.assert_allclose(kept(taught, median_of(1.3))[0][CARRIED], 1.3 * FACTORS)


def test_a_bend_is_kept_of_the_usual_curve_only(untaught):
    np.testing.assert_allclose(kept(untaught, bend=EVEN)[0][BEND], [-0.2, 0.0, 0.2], atol=1e-12)
    assert BEND not in kept(untaught, curve="power", bend=EVEN)[0]


def test_what_was_taken_as_exact_is_not_kept(untaught):
    assert BEND not in kept(untaught, bend=np.full(1001, 0.3))[0]
    assert (ALL, "stated reserve") not in kept(untaught, reserve_bias=np.full(1001, 0.3))[0]


def test_parameters_of_a_form_are_kept_in_their_own_units(untaught):
    """A share by its log odds, a time by its log: quantiles go along with either."""
    share = {name: 0.3 for name in DEFAULT_FORM.parameter_names if name.endswith("_share")}
    parameters = {name: np.full((1001, 1), value) for name, value in vars(DEFAULT_FORM.parameters).items()}
    name = next(iter(share))
    parameters[name] = 1.0 / (1.0 + np.exp(-EVEN[:, None]))
    parameters["strength_tau_s"] = 20.0 * np.exp(EVEN[:, None])
    found, _ = kept(untaught, tiring=type(DEFAULT_FORM.parameters)(**parameters))
    np.testing.assert_allclose(found[ALL, name], 1.0 / (1.0 + np.exp([0.2, 0.0, -0.2])))
    np.testing.assert_allclose(found[ALL, "strength_tau_s"], 20.0 * FACTORS)


def test_correlations_are_those_of_the_ranks_whatever_the_scale():
    """Of three draws the scores are -a, 0 and a: 1, 2, 3 and 2, 1, 3 have a squared in common, of two each."""
    columns = np.array([[1.0, 20.0, -1.0], [2.0, 10.0, -8.0], [3.0, 1e9, -27.0]])
    expected = [[1.0, 0.5, -1.0], [0.5, 1.0, -0.5], [-1.0, -0.5, 1.0]]
    np.testing.assert_allclose(_correlations(columns), expected, atol=1e-12)
