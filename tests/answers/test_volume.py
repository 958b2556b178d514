"""Volume and intensity: sums that a hand count can check, and the rules for hard sets and drops."""

from itertools import pairwise

import numpy as np
import pytest

from tests.simulated_logs import both_hands
from workbench.answers.volume import studied_ranges, volume_question
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter
from workbench.models.volume import CountRules
from workbench.prescription.block import Block
from workbench.reference.sources import data_path, sources
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: Sums of a few whole numbers and halves.
ROUNDING = 1e-9

# Three sessions, all loads given in kg and light enough to be certain. By hand:
#
# Push:  bench press        3 x 5 x 60 kg    15 lifts   900 kg   chest 3 direct; triceps, front shoulder 3 x 1/2
#        triceps pushdown   2 x 10 x 20 kg   20 lifts   400 kg   triceps 2 direct
# Pull:  seated cable row   4 x 8 x 50 kg    32 lifts  1600 kg   upper back, latissimus 4 direct;
#                                                                biceps, rear shoulder, forearms 4 x 1/2
#        dumbbell curl      2 x 8 x 20 kg    16 lifts   320 kg   biceps 2 direct; forearms 2 x 1/2
#          each with a drop of 40 % to 12 kg, 5 reps: 10 lifts 120 kg (no further set unless drops count)
# Legs:  back squat         3 x 5 x 100 kg   15 lifts  1500 kg   quadriceps, glutes 3 direct;
#                                                                adductors, spinal erectors 3 x 1/2
#        leg extension      3 x 12 x 40 kg   36 lifts  1440 kg   quadriceps 3 direct
#
# Sets: 5 + 6 + 6 = 17. Lifts: 35 + 58 + 51 = 144. Tonnage: 1300 + 2040 + 2940 = 6280 kg.
FRACTIONAL = {
    "chest": 3.0,
    "triceps": 1.5 + 2.0,
    "front shoulder": 1.5,
    "upper back": 4.0,
    "latissimus": 4.0,
    "biceps": 2.0 + 2.0,
    "rear shoulder": 2.0,
    "forearms": 2.0 + 1.0,
    "quadriceps": 3.0 + 3.0,
    "glutes": 3.0,
    "adductors": 1.5,
    "spinal erectors": 1.5,
}
DIRECT = {"chest": 3, "triceps": 2, "upper back": 4, "latissimus": 4, "biceps": 2, "quadriceps": 6, "glutes": 3}


def group(count, reps, kg, **more):
    return {"count": count, "reps": reps, "kg": kg, "rest_s": 60, **more}


def slot(exercise, *groups):
    return {"exercise": exercise, "sets": list(groups), "ramp": False}


SESSIONS = [
    {
        "name": "push",
        "exercises": [slot("bench press", group(3, 5, 60)), slot("triceps pushdown", group(2, 10, 20))],
    },
    {
        "name": "pull",
        "exercises": [
            slot("seated cable row", group(4, 8, 50)),
            slot("dumbbell curl", group(2, 8, 20, each_hand=False, drops={"sizes": [40], "reps": 5, "change_s": 10})),
        ],
    },
    {
        "name": "legs",
        "exercises": [slot("back squat", group(3, 5, 100)), slot("leg extension", group(3, 12, 40))],
    },
]


@pytest.fixture(scope="module")
def outcome():
    names = [one["exercise"] for session in SESSIONS for one in session["exercises"]]
    # 1RMs of 400 kg: the heaviest load here is a quarter of it, so every rep is certain.
    strong = Lifter.model_validate(
        {"name": "Invented", "lifts": {name: {"one_rm_kg": 400, **both_hands(name)} for name in names}}
    )
    block = validate({"name": "count", "weeks": 2, "sessions": SESSIONS}, Block)
    plan = make_plan(block, strong, read_room(data_path("demo", "rooms", "boathouse_hall.toml")))
    return simulate(plan, draw_for(plan, draws=200, seed=1))


def by_muscle(answer, column, week=1):
    rows = answer.muscles[answer.muscles["week"] == week]
    return dict(zip(rows["muscle"], rows[column], strict=True))


def test_sets_of_each_muscle_add_up_to_the_hand_count(outcome):
    answer = volume_question(outcome)
    assert by_muscle(answer, "fractional") == pytest.approx(FRACTIONAL, abs=ROUNDING)
    direct = {muscle: float(DIRECT.get(muscle, 0)) for muscle in FRACTIONAL}
    assert by_muscle(answer, "direct") == pytest.approx(direct, abs=ROUNDING)
    assert by_muscle(answer, "fractional", week=2) == pytest.approx(FRACTIONAL, abs=ROUNDING)


def test_lifts_sets_and_tonnage_add_up_to_the_hand_count(outcome):
    first = volume_question(outcome).weeks.iloc[0]
    assert first["sets"] == 17
    assert first["lifts"] == 144
    assert first["tonnage_kg"] == pytest.approx(6280, abs=ROUNDING)


def test_sessions_add_up_to_the_week(outcome):
    answer = volume_question(outcome)
    for column in ("sets", "lifts", "tonnage_kg", "minutes"):
        sums = answer.sessions.groupby("week")[column].sum()
        assert sums.tolist() == pytest.approx(answer.weeks[column].tolist(), abs=ROUNDING)
    assert answer.zones.groupby("week")["lifts"].sum().tolist() == answer.weeks["lifts"].tolist()


def test_duration_adds_up_to_a_hand_count(outcome):
    # By the times in data/exercises.csv. Bench press: 75 s to set up, 3 sets of 5 reps of 3 s, two rests of 60 s.
    # Pushdown: 25 s to set up, 2 sets of 10 reps of 3 s, one rest of 60 s.
    by_hand = (75 + 3 * 5 * 3 + 2 * 60) + (25 + 2 * 10 * 3 + 60)
    sessions = volume_question(outcome).sessions
    push = sessions[(sessions["session"] == "push") & (sessions["week"] == 1)].iloc[0]
    assert push["minutes"] == pytest.approx(by_hand / 60, abs=ROUNDING)


def test_mean_intensity_by_hand(outcome):
    # Tonnage over lifts over the 1RM of 400 kg that every exercise has: 6280 / 144 / 400 = 10.903 %.
    first = volume_question(outcome).weeks.iloc[0]
    assert first["intensity_percent"] == pytest.approx(100 * 6280 / 144 / 400, abs=1e-6)


def test_a_drop_set_counts_as_the_rule_says(outcome):
    # Two sets of curls with one drop each: 2 sets by default; with each drop worth half a set, 2 + 2 x 1/2 = 3.
    half = volume_question(outcome, rules=CountRules(each_drop=0.5))
    expected = FRACTIONAL | {"biceps": 2.0 + 3.0, "forearms": 2.0 + 1.5}
    assert by_muscle(half, "fractional") == pytest.approx(expected, abs=ROUNDING)
    assert half.weeks["sets"].iloc[0] == 18


def test_no_set_far_from_failure_is_hard_and_every_set_is_where_the_rule_lets_it(outcome):
    assert (volume_question(outcome).weeks["hard_high"] == 0).all()
    every = volume_question(outcome, rules=CountRules(hard_reserve=np.inf))
    assert (every.weeks["hard"] == every.weeks["sets"]).all()
    assert by_muscle(every, "hard") == pytest.approx(FRACTIONAL, abs=ROUNDING)


def test_a_set_to_failure_is_always_hard():
    sessions = [{"name": "a", "exercises": [slot("bench press", group(3, "failure", 60))]}]
    block = validate({"name": "f", "weeks": 1, "sessions": sessions}, Block)
    who = Lifter.model_validate({"name": "Invented", "lifts": {"bench press": {"one_rm_kg": 90}}})
    plan = make_plan(block, who, read_room(data_path("demo", "rooms", "boathouse_hall.toml")))
    outcome = simulate(plan, draw_for(plan, draws=100, seed=1))
    for reserve in (0.0, 1.0):
        weeks = volume_question(outcome, rules=CountRules(hard_reserve=reserve)).weeks
        assert weeks["hard_low"].tolist() == [3.0]


def test_hard_sets_rise_with_the_chosen_reserve(outcome):
    hard = [
        volume_question(outcome, rules=CountRules(hard_reserve=reserve)).weeks["hard"].sum()
        for reserve in (0, 5, 15, 60)
    ]
    assert all(a <= b for a, b in pairwise(hard))


def test_every_studied_range_has_a_known_source_and_a_grade():
    table = studied_ranges()
    assert set(table["source"]) <= set(sources())
    assert set(table["grade"]) <= {"published", "derived", "recalled", "assumed"}
    assert not table[table["topic"] == "weekly sets"][["low"]].isna().to_numpy().any()
