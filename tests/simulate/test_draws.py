"""The lifters and days that are drawn: medians and spreads against the shipped tables and the lifter file."""

import csv
import math

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from workbench.lifter import Lifter
from workbench.models.sharing import CARRY
from workbench.prescription.block import Block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import CommonDays, draw_lifter
from workbench.simulate.plan import make_plan

DRAWS = 100_000
#: Six standard errors of the spread of so many normal numbers: 1 / sqrt(2 n) each. A spread wrong by 10 % is out.
OF_A_SPREAD = 6 / math.sqrt(2 * DRAWS)
#: The same for the mean of n numbers, in spreads.
OF_A_MEAN = 6 / math.sqrt(DRAWS)
#: Of a spread between lifters, what is left where the lifter file states the value (assumed, as the guide says).
STATED = 0.4
#: Spread of how strongly exercises take from each other, natural log (assumed).
CARRIED = 0.3


def table_row(quantity, group):
    with data_path("parameters.csv").open(encoding="utf-8", newline="") as handle:
        return next(row for row in csv.DictReader(handle) if (row["quantity"], row["group"]) == (quantity, group))


def drawn(lifts=None, **keys):
    lifts = lifts or {"back squat": {"one_rm_kg": 100}}
    who = validate({"name": "X", "lifts": lifts, **keys}, Lifter)
    rng = np.random.default_rng(20_260_301)
    return draw_lifter(who, tuple(lifts), weeks=1, sessions=1, sets=1, draws=DRAWS, rng=rng)


def assert_log_normal(values, median, log_sd):
    logs = np.log(np.ravel(values))
    assert logs.std() == pytest.approx(log_sd, rel=OF_A_SPREAD)
    assert logs.mean() == pytest.approx(math.log(median), abs=OF_A_MEAN * log_sd)


@pytest.mark.parametrize("percent", [2.5, 5.0, 12.0])
def test_the_maximum_is_as_uncertain_as_the_file_says(percent):
    lift = {"one_rm_kg": 140, "uncertainty_percent": percent}
    assert_log_normal(np.exp(drawn({"back squat": lift}).log_one_rm), 140, percent / 100)


def test_endurance_of_a_lifter_not_tested_spreads_as_lifters_and_groups_do():
    row = table_row("endurance", "squat")
    spread = math.sqrt(float(row["spread"]) ** 2 + float(row["group_spread"]) ** 2 + float(row["uncertainty"]) ** 2)
    assert_log_normal(drawn().endurance, float(row["value"]), spread)


def test_stated_endurance_is_taken_and_spreads_less():
    row = table_row("endurance", "squat")
    spread = math.sqrt(float(row["spread"]) ** 2 + float(row["group_spread"]) ** 2 + float(row["uncertainty"]) ** 2)
    lift = {"one_rm_kg": 100, "endurance": 0.05}
    assert_log_normal(drawn({"back squat": lift}).endurance, 0.05, STATED * spread)
    # Ten reps at 80 %: ln(1 / 0.8) over nine further reps.
    lift = {"one_rm_kg": 100, "reps_at": {"percent": 80, "reps": 10}}
    assert_log_normal(drawn({"back squat": lift}).endurance, math.log(1 / 0.8) / 9, STATED * spread)


def test_half_of_what_sets_lifters_apart_in_endurance_goes_with_all_exercises():
    endurance = np.log(drawn({name: {"one_rm_kg": 100} for name in ("back squat", "bench press")}).endurance)
    assert np.corrcoef(endurance.T)[0, 1] == pytest.approx(0.5, abs=OF_A_MEAN)


def recovery_spread(sex):
    """Spread of a lifter's log recovery rate; a woman's is wider by half of what some studies found for women."""
    usual, women = table_row("recovery_rate", "all"), table_row("recovery_rate", "female")
    off = 0.5 * math.log(float(women["value"])) if sex == "female" else 0.0
    return math.hypot(float(usual["spread"]), float(usual["group_spread"]), off)


def test_who_tires_sooner_recovers_faster_as_in_studies():
    """Of one exercise the published correlation, less what does not lie between the lifters of a group."""
    row, squat = table_row("recovery_rate", "all"), table_row("endurance", "squat")
    of_recovery = float(row["spread"]) / math.hypot(float(row["spread"]), float(row["group_spread"]))
    of_endurance = float(squat["spread"]) / math.hypot(
        float(squat["spread"]), float(squat["group_spread"]), float(squat["uncertainty"])
    )
    wanted = float(table_row("recovery_endurance_tie", "all")["value"]) * of_recovery * of_endurance
    draws = drawn()
    found = np.corrcoef(np.log(draws.endurance[:, 0]), np.log(draws.recovery_rate))[0, 1]
    # One part of the spread, 0.77, stands for all classes: that of the squat is 0.79.
    assert found == pytest.approx(wanted, abs=0.02)
    stated = drawn(recovery_rate=1.2)
    found = np.corrcoef(np.log(stated.endurance[:, 0]), np.log(stated.recovery_rate))[0, 1]
    assert found == pytest.approx(0.0, abs=OF_A_MEAN)


@pytest.mark.parametrize("sex", ["male", "female", None])
def test_recovery_is_average_and_spreads_as_lifters_and_groups_do(sex):
    keys = {} if sex is None else {"sex": sex}
    assert_log_normal(drawn(**keys).recovery_rate, 1.0, recovery_spread(sex))


def test_a_stated_recovery_rate_is_taken_and_spreads_less():
    assert_log_normal(drawn(sex="female", recovery_rate=0.7).recovery_rate, 0.7, STATED * recovery_spread("female"))


def test_carry_over_is_the_usual_unless_stated():
    assert CARRY.log_sd == CARRIED
    assert_log_normal(drawn().carry, 1.0, CARRIED)
    assert_log_normal(drawn(carry_over=1.6).carry, 1.6, STATED * CARRIED)


def test_days_and_sets_scatter_as_the_table_says():
    draws = drawn()
    day, one_set = (float(table_row(name, "all")["value"]) for name in ("day_strength_sd", "set_reps_sd"))
    assert_log_normal(np.exp(draws.day), 1.0, day)
    assert_log_normal(draws.set_noise, 1.0, one_set)


# Days that several plans share


def plan_of(*sessions, weeks=2):
    """A plan of sessions, each its weekday (or None) and the exercises in it, two sets of each."""
    content = [
        {
            "name": f"session {number}",
            **({} if day is None else {"day": day}),
            "exercises": [
                {"exercise": name, "ramp": False, "sets": [{"count": 2, "reps": 5, "percent": 70, "rest_s": 120}]}
                for name in names
            ],
        }
        for number, (day, *names) in enumerate(sessions)
    ]
    block = validate({"name": "b", "weeks": weeks, "sessions": content}, Block)
    return make_plan(block, lifter_of({"back squat": 100, "bench press": 80}), hall())


def test_what_two_plans_share_they_meet_alike():
    """Strength follows the weekday, a set its weekday, exercise and number."""
    first = plan_of((1, "back squat", "bench press"), (4, "back squat"))
    second = plan_of((4, "back squat"), (6, "bench press"), weeks=1)
    days = CommonDays([first, second], draws=10, seed=1)
    of_first, of_second = days.of(first), days.of(second)
    assert of_second.exercises == ("back squat", "bench press")
    np.testing.assert_array_equal(of_second.log_one_rm, of_first.log_one_rm)
    np.testing.assert_array_equal(of_second.endurance, of_first.endurance)
    assert of_second.day.shape == (2, 10, 1)
    np.testing.assert_array_equal(of_second.day[0], of_first.day[1][:, :1])
    assert not np.isin(of_second.day[1], of_first.day).any()
    # Squats of day 4 are the fifth and sixth set of the first plan; presses of day 6 are nobody else's.
    np.testing.assert_array_equal(of_second.set_noise[:2], of_first.set_noise[4:, :, :1])
    assert not np.isin(of_second.set_noise[2:], of_first.set_noise).any()


def test_sessions_without_a_weekday_are_known_by_their_place():
    first, second = plan_of((None, "back squat"), (4, "bench press")), plan_of((4, "back squat"))
    days = CommonDays([first, second], draws=10, seed=1)
    np.testing.assert_array_equal(days.of(second).day, days.of(first).day[:1])
    np.testing.assert_array_equal(days.of(second).set_noise, days.of(first).set_noise[:2])


def test_a_plan_that_was_not_foreseen_meets_no_days():
    days = CommonDays([plan_of((1, "back squat"), (4, "bench press"))], draws=10, seed=1)
    for more in (
        plan_of((1, "back squat"), (None, "bench press")),
        plan_of((2, "back squat")),
        plan_of((1, "bench press")),
    ):
        with pytest.raises((KeyError, ValueError)):
            days.of(more)
