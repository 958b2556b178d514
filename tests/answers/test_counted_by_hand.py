"""Tables and measures of a block whose reps are written down: every expected number is counted with a pencil.

The reps stand in `tests.hand_made.AVAILABLE`. Quantiles of four numbers a <= b <= c <= d: 10 % lies at a + 0.3 (b - a),
the median at (b + c) / 2, 90 % at c + 0.7 (d - c).
"""

import csv

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of, outcome_by_hand
from workbench.answers.block_check import check_block
from workbench.answers.block_tables import first_break, set_table, week_table
from workbench.answers.decide.terms import plan_quantity, quantity, weakest_set
from workbench.answers.outcomes import MEASURES, Measured, Response
from workbench.answers.volume import volume_question
from workbench.models.volume import CountRules
from workbench.prescription.block import Block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: Sums and differences of a few decimals.
ROUNDING = 1e-9


@pytest.fixture(scope="module")
def outcome():
    return outcome_by_hand()


@pytest.fixture(scope="module")
def measured(outcome):
    return Measured(outcome, Response(np.full(4, 0.01), np.full(4, 0.2)))


def close(values):
    return pytest.approx(values, abs=ROUNDING, nan_ok=True)


def test_the_room_has_the_loads_that_the_count_rests_on(outcome):
    loads = [[one.load_kg.tolist() for one in session.sets] for session in outcome.plan.sessions]
    assert loads == [[[60, 60], [60, 60], [20, 20], [12, 12]], [[100, 100], [40, 40]]]


def test_the_set_table(outcome):
    table = set_table(outcome)
    order = list(zip(table["week"], table["session"], table["exercise"], table["set"], strict=True))
    first = [
        (1, "one", "bench press", "1"),
        (1, "one", "bench press", "2"),
        (1, "one", "dumbbell curl", "1"),
        (1, "one", "dumbbell curl", "1, drop 1"),
        (1, "two", "back squat", "1"),
        (1, "two", "leg extension", "1"),
    ]
    # The second bench press is not done in week 2.
    assert order == [*first, *((2, *row[1:]) for row in first if row[3] != "2")]
    assert table["percent"].tolist() == close([60, 60, 50, 30, 80, 80, 60, 50, 30, 80, 80])
    none = np.nan  # a set to failure has no chance and no reserve
    assert table["chance"].tolist() == close([1, 0.75, 1, 1, none, 0.5, 0.75, 1, 0.75, none, 1])
    # Bench press, set 1, week 1: 5, 6.5, 7, 9.9 reps: 5.45, 6.75, 9.03. Leg extension: 7.5, 7.9, 13, 17.
    assert table.loc[0, ["reserve_low", "reserve", "reserve_high"]].tolist() == close([0.45, 1.75, 4.03])
    assert table.loc[0, ["reps_p10", "reps_p50", "reps_p90"]].tolist() == [5, 6, 9]
    assert table.loc[5, ["reserve_low", "reserve", "reserve_high"]].tolist() == close([7.62 - 8, 10.45 - 8, 15.8 - 8])
    assert table.loc[5, ["reps_low", "reps_high"]].tolist() == [8, 12]
    assert table.loc[4, ["reserve_low", "reserve", "reserve_high"]].isna().all()
    # Back squat 3.2, 4.7, 5, 6: 3.65, 4.85, 5.7.
    assert table.loc[4, ["reps_p10", "reps_p50", "reps_p90"]].tolist() == [3, 4, 5]
    assert table["rest_s"].tolist() == [0, 60, 0, 10, 0, 0, 0, 0, 10, 0, 0]


def test_the_week_table(outcome):
    table = week_table(outcome)
    assert table["session"].tolist() == ["one", "two", "whole week"] * 2
    # Lifter 2 misses the second bench press, 1 and 2 the leg extension;
    # in week 2 lifter 4 misses the bench press and the drop.
    assert table["chance"].tolist() == close([0.75, 0.5, 0.5, 0.75, 1, 0.75])
    assert outcome.chance_of_block() == 0.25
    # Fewest in reserve, week 1: session one 0, -0.8, 0.5, 2; session two -0.5, -0.1, 5, 9; the week has the smaller.
    # Week 2: 0, 0, 3, -0.5 and 4, 4, 8, 8.5.
    assert table["reserve_low"].tolist() == close([-0.56, -0.38, -0.71, -0.35, 4, -0.35])
    assert table["reserve"].tolist() == close([0.25, 2.45, 0, 0, 6, 0])
    assert table["reserve_high"].tolist() == close([1.55, 7.8, 1.55, 2.1, 8.35, 2.1])
    minutes = table["minutes"].to_numpy()
    assert minutes[2] == close(minutes[0] + minutes[1])
    # The set left out in week 2 takes five reps of 3 s and the rest of 60 s before it.
    assert minutes[0] - minutes[3] == close(75 / 60)


def test_the_first_break_is_the_first_in_time_and_not_the_least_likely(outcome):
    sets = set_table(outcome)
    found = first_break(sets, 0.8)
    assert (found.week, found.session, found.session_number, found.slot, found.group) == (1, "one", 1, 1, 1)
    assert (found.exercise, found.label, found.drop, found.chance) == ("bench press", "2", 0, 0.75)
    at_the_limit = first_break(sets, 0.75)
    assert (at_the_limit.exercise, at_the_limit.chance) == ("leg extension", 0.5)
    assert first_break(sets, 0.5) is None


def test_the_weakest_set_is_the_least_likely_and_not_the_first(outcome, measured):
    chance, place = weakest_set(measured)
    assert chance == 0.5
    assert place == "week 1, two, leg extension, set 1: 50 %"
    assert quantity("set_chance", measured) == 0.5
    assert quantity("set_chance:bench press", measured) == 0.75
    # To failure there is nothing to miss, and what the block does not hold is not missed.
    assert quantity("set_chance:back squat", measured) == 1
    assert quantity("set_chance:leg press", measured) == 1


# Reps done. Lifter 1: bench press 5 + 5 in week 1 and 5 in week 2, curl 8 + 8, drop 5 + 5, squat 3 + 2, extension
# 7 + 12.
MEASURED = {
    "completed_reps": [65, 65, 72, 71],
    "missed_reps": [1, 2, 0, 2],
    "first_miss_week": [1, 1, 3, 2],
    "all_reps": [0, 0, 1, 0],
    "lowest_reserve": [-0.5, -0.8, 0.5, -0.5],
    # Bench press 60, curl 20, drop 12, squat 100, extension 40 kg: 15, 16, 10, 5 and 19 reps of lifter 1, and so on.
    "tonnage": [2600, 2640, 3000, 3028],
    # By fractions 0.6, 0.5, 0.3, 0.8, 0.8: lifter 1 has 9 + 8 + 3 + 4 + 15.2 of 65 reps.
    "intensity": [100 * 39.2 / 65, 100 * 39.4 / 65, 100 * 44.8 / 72, 100 * 44.7 / 71],
    # At most four reps left. A set with a drop is judged by the drop; a set not done is not counted. Sets of both weeks
    # over two: lifter 1 has 2 + 1 bench presses, 2 drops, 2 squats, 2 extensions, of which lifter 4 has 1 + 0, 2, 2, 0.
    "hard_sets": [4.5, 4.5, 4.0, 2.5],
    "hard_sets:quadriceps": [2.0, 2.0, 2.0, 1.0],
    "hard_sets:triceps": [0.75, 0.75, 0.75, 0.25],
    # All exercises have under five sets a week, half a dose below the middle: ln(1RM) gains 0.01 (1 - 0.1) a week.
    "strength_change": [100 * np.expm1(0.018)] * 4,
}


@pytest.mark.parametrize("key", MEASURED)
def test_measures(measured, key):
    assert measured.value(key).tolist() == close(MEASURED[key])


def test_minutes_a_week(outcome, measured):
    # Set up 75 + 2 x 5 reps of 3 s + rest 60 s, curl and drop, and session two, by the table of weeks.
    weeks = week_table(outcome)
    whole = weeks.loc[weeks["session"] == "whole week", "minutes"]
    assert measured.value("minutes").tolist() == close([(whole.iloc[0] + whole.iloc[1]) / 2] * 4)
    assert set(MEASURED) | {"minutes"} >= set(MEASURES)


def test_the_dose_counts_the_weeks_that_are_trained():
    """Ten sets, none, and five twice: doses 0.5, -0.5, -0.5 about the middle in three of four exercise-weeks."""

    def slot(name, sets, **more):
        rule = {"rule": "by week", "load": [30, 30], "sets": sets}
        return {"exercise": name, "sets": [{"reps": 3, "kg": 30, "rest_s": 60, "progression": rule, **more}]}

    # A drop is no set of its own.
    slots = [slot("bench press", [10, 0]), slot("back squat", [5, 5], drops={"sizes": [20], "reps": 2})]
    block = validate({"name": "b", "weeks": 2, "sessions": [{"name": "s", "exercises": slots}]}, Block)
    plan = make_plan(block, lifter_of({"bench press": 100, "back squat": 100}), hall())
    measured = Measured(simulate(plan, draw_for(plan, draws=2, seed=1)), Response(np.full(2, 0.01), np.full(2, 0.6)))
    dose = 1 + 0.6 * (0.5 - 0.5 - 0.5) / 3
    assert measured.value("strength_change").tolist() == close([100 * np.expm1(0.01 * 2 * dose * 3 / 4)] * 2)


def test_volume_of_the_weeks(outcome):
    answer = volume_question(outcome)
    assert answer.weeks["sets"].tolist() == [5, 4]
    # Week 1, medians of what is done: 5 + 5 bench presses, 8 curls, 5 after the drop, (4 + 5) / 2 squats and
    # (7 + 12) / 2 extensions (two of four make all twelve); week 2: 5 + 8 + 5 + 2 + 12.
    assert answer.weeks["lifts"].tolist() == close([37, 32])
    assert answer.weeks["tonnage_kg"].tolist() == close([1650, 1200])
    by_load = [10 * 0.6 + 8 * 0.5 + 5 * 0.3 + 14 * 0.8, 5 * 0.6 + 8 * 0.5 + 5 * 0.3 + 14 * 0.8]
    assert answer.weeks["intensity_percent"].tolist() == close([100 * by_load[0] / 37, 100 * by_load[1] / 32])
    # Hard sets of the four: 5, 5, 5, 2 in week 1, 4, 4, 3, 3 in week 2.
    assert answer.weeks["hard_low"].tolist() == close([2.9, 3])
    assert answer.weeks["hard"].tolist() == close([5, 3.5])
    assert answer.weeks["hard_high"].tolist() == close([5, 4])
    # Zones from below 60 to 90 % and above.
    assert answer.zones["lifts"].tolist() == close([13, 10, 0, 14, 0, 13, 5, 0, 14, 0])
    assert answer.sessions["sets"].tolist() == [3, 2, 2, 2]
    assert answer.sessions["lifts"].tolist() == close([23, 18, 14, 14])


def test_volume_of_the_muscles(outcome):
    table = volume_question(outcome).muscles.set_index(["muscle", "week"])
    assert table.loc[("quadriceps", 1), ["direct", "fractional"]].tolist() == [2, 2]
    # Hard for the quadriceps: 2, 2, 2, 1.
    assert table.loc[("quadriceps", 1), ["hard_low", "hard", "hard_high"]].tolist() == close([1.3, 2, 2])
    assert table.loc[("triceps", 1), ["direct", "fractional"]].tolist() == [0, 1]
    assert table.loc[("triceps", 2), "fractional"] == 0.5


def test_the_part_of_the_sets_whose_share_is_assumed(outcome):
    """Week 1 by data/muscle_shares.csv: two bench presses and one set each of curl, squat and extension."""
    sets = {"bench press": 2, "dumbbell curl": 1, "back squat": 1, "leg extension": 1}
    every, assumed = {}, {}
    with data_path("muscle_shares.csv").open(encoding="utf-8") as handle:
        for row in csv.DictReader(handle):
            counted = sets.get(row["exercise"], 0) * float(row["share"])
            every[row["muscle"]] = every.get(row["muscle"], 0) + counted
            guessed = counted * (row["grade"] == "assumed")
            assumed[row["muscle"]] = assumed.get(row["muscle"], 0) + guessed
    table = volume_question(outcome).muscles
    table = table[table["week"] == 1]
    expected = [assumed[muscle] / every[muscle] for muscle in table["muscle"]]
    assert table["assumed_share"].tolist() == close(expected)
    assert table["fractional"].tolist() == close([every[muscle] for muscle in table["muscle"]])
    assert 0 < sum(expected) < len(expected)


def test_drops_counted_as_parts_of_sets_are_judged_one_by_one(outcome):
    answer = volume_question(outcome, rules=CountRules(each_drop=0.5))
    assert answer.weeks["sets"].tolist() == [5.5, 4.5]
    # The curl itself (8 to 11 reps of eight; 12 in week 2) is hard for all, the drop counts half: 5.5, 5.5, 5.5, 2.5.
    assert answer.weeks["hard_low"].iloc[0] == close(2.5 + 0.3 * 3)
    assert answer.weeks["hard"].iloc[0] == close(5.5)


def test_quantities_of_the_plan(outcome):
    assert plan_quantity("heaviest_percent", outcome.plan) == close(80)
    # Fullest week: two bench presses are one set for the triceps, one in week 2.
    assert plan_quantity("fractional_sets:triceps", outcome.plan) == 1
    assert plan_quantity("fractional_sets:biceps", outcome.plan) == 1
    longest = max(float(seconds) for session in outcome.plan.sessions for seconds in session.duration_s)
    assert plan_quantity("session_minutes", outcome.plan) == close(longest / 60)


def test_a_muscle_stands_below_within_or_above_the_studied_range():
    """By weekly sets of one exercise at, under and over the ends of the range as published."""
    with data_path("evidence", "volume_ranges.csv").open(encoding="utf-8") as handle:
        row = next(
            one
            for one in csv.DictReader(handle)
            if (one["topic"], one["measure"]) == ("weekly sets", "muscle growth: moderate")
        )
    low, high = int(row["low"]), int(row["high"])
    wanted = {low - 1: "below", low: "within", high: "within", high + 1: "above"}
    for sets, words in wanted.items():
        groups = [{"count": 20, "reps": 3, "kg": 30, "rest_s": 30}] * (sets // 20)
        groups += [{"count": sets % 20, "reps": 3, "kg": 30, "rest_s": 30}] if sets % 20 else []
        session = {"name": "s", "exercises": [{"exercise": "leg extension", "sets": groups}]}
        check = check_block(
            validate({"name": "b", "weeks": 1, "sessions": [session]}, Block),
            lifter_of({"leg extension": 100}),
            hall(),
            draws=10,
            seed=1,
        )
        table = volume_question(check.outcome).muscles.set_index("muscle")
        assert table.loc["quadriceps", "fractional"] == sets
        assert table.loc["quadriceps", "beside"] == words
