"""Where a 1RM comes from says how sure it is: widths by hand, from the shipped tables and the words of the file."""

import csv
import datetime
import math
import tomllib

import numpy as np
import pytest

from workbench.lifter import Lifter
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text, validate
from workbench.simulate.draws import draw_lifter

DRAWS = 100_000
#: Six standard errors of a mean, in spreads, and of a spread of so many normal numbers.
OF_A_MEAN, OF_A_SPREAD = 6 / math.sqrt(DRAWS), 6 / math.sqrt(2 * DRAWS)
#: Drift of a 1RM, natural log, in a week (assumed, as the guide says): it grows with the root of the weeks.
DRIFT = 0.01


def table(name, *keys):
    with data_path(name).open(encoding="utf-8", newline="") as handle:
        return {tuple(row[key] for key in keys): row for row in csv.DictReader(handle)}


ROWS = table("parameters.csv", "quantity", "group")
DAY = float(ROWS["day_strength_sd", "all"]["value"])
SET = float(ROWS["set_reps_sd", "all"]["value"])


def width_of_a_test(training):
    """What a test leaves open: what a percentage in a study goes wrong by, without the day."""
    return math.sqrt(float(ROWS["one_rm_log_sd", training]["value"]) ** 2 - DAY**2)


def lifter(lift, **more):
    return validate({"name": "X", "lifts": {"back squat": lift}, **more}, Lifter)


def drawn(who, exercises=("back squat",)):
    return draw_lifter(who, exercises, weeks=1, sessions=1, sets=1, draws=DRAWS, rng=np.random.default_rng(20_260_302))


def spread(lift, **more):
    return lifter(lift, **more).one_rm_belief("back squat").sd


@pytest.mark.parametrize(
    ("years", "training"),
    [(0.0, "untrained"), (1.9, "untrained"), (2.0, "trained"), (30.0, "trained"), (None, "mixed")],
)
def test_a_test_is_as_good_as_people_of_that_training_test(years, training):
    more = {} if years is None else {"training_years": years}
    lift = {"one_rm_kg": 100, "known_from": "tested lately", "tested": "2026-01-05"}
    found = spread_of_dated(lift, **more)
    assert found == pytest.approx(width_of_a_test(training), rel=1e-9)


def spread_of_dated(lift, **more):
    import datetime

    return spread({**lift, "tested": datetime.date.fromisoformat(lift["tested"])}, **more)


def test_a_test_without_a_date_has_drifted_for_weeks_or_for_a_year():
    assert spread({"one_rm_kg": 100, "known_from": "tested lately"}) == pytest.approx(
        math.hypot(width_of_a_test("mixed"), DRIFT * math.sqrt(3)), rel=1e-9
    )
    assert spread({"one_rm_kg": 100, "known_from": "tested last year"}) == pytest.approx(
        math.hypot(width_of_a_test("mixed"), DRIFT * math.sqrt(52)), rel=1e-9
    )


def test_an_old_test_is_less_sure_than_a_new_one_in_the_same_file():
    """36 weeks: six drifts. What is stated in percent holds as it stands."""
    old, new = datetime.date(2025, 5, 5), datetime.date(2026, 1, 12)
    assert (new - old).days == 36 * 7
    lifts = {
        "back squat": {"one_rm_kg": 100, "known_from": "tested lately", "tested": old},
        "bench press": {"one_rm_kg": 80, "known_from": "tested lately", "tested": new},
        "deadlift": {"one_rm_kg": 120, "uncertainty_percent": 3, "tested": old},
    }
    who = validate({"name": "X", "lifts": lifts}, Lifter)
    assert who.as_of == new
    assert who.one_rm_belief("bench press").sd == pytest.approx(width_of_a_test("mixed"), rel=1e-9)
    assert who.one_rm_belief("back squat").sd == pytest.approx(
        math.hypot(width_of_a_test("mixed"), 6 * DRIFT), rel=1e-9
    )
    # For the day of the test itself, as a fit asks, which lets it drift from there.
    assert who.one_rm_belief("back squat", on=old).sd == pytest.approx(width_of_a_test("mixed"), rel=1e-9)
    assert who.one_rm_belief("deadlift").sd == pytest.approx(0.03, rel=1e-9)


@pytest.mark.parametrize("known_from", ["a rough estimate", "a ratio to another lift"])
def test_a_guess_is_as_wide_as_the_table_says(known_from):
    row = table("one_rm_origins.csv", "known_from")[known_from,]
    assert row["grade"] == "assumed"
    assert spread({"one_rm_kg": 100, "known_from": known_from}) == pytest.approx(float(row["log_sd"]), rel=1e-9)
    # The file's own word comes first.
    assert spread({"one_rm_kg": 100, "known_from": known_from, "uncertainty_percent": 2}) == pytest.approx(0.02)


def test_a_lift_that_says_nothing_is_known_to_four_percent():
    assert spread({"one_rm_kg": 100}) == pytest.approx(0.04)
    assert spread({"one_rm_kg": 100, "uncertainty_percent": 0}) == 0.0


def test_a_number_kept_low_gives_light_loads_and_honest_forecasts():
    """90 kg, kept 10 % low: loads in percent go by 90 kg, forecasts by 100 kg."""
    lift = {"one_rm_kg": 90, "known_from": "kept low on purpose", "kept_low_percent": 10}
    who = lifter(lift)
    assert who.lift("back squat").one_rm == 90
    width = float(table("one_rm_origins.csv", "known_from")["kept low on purpose",]["log_sd"])
    logs = drawn(who).log_one_rm[:, 0]
    assert logs.mean() == pytest.approx(math.log(100), abs=OF_A_MEAN * width)
    assert logs.std() == pytest.approx(width, rel=OF_A_SPREAD)


# A set


def test_one_rep_that_was_all_is_the_maximum_of_that_day():
    """A single takes no endurance: the 1RM is its load, less sure by the day alone."""
    who = lifter({"from_set": {"kg": 140, "reps": 1}})
    assert who.lift("back squat").one_rm == pytest.approx(140, rel=1e-9)
    logs = drawn(who).log_one_rm[:, 0]
    assert logs.mean() == pytest.approx(math.log(140), abs=OF_A_MEAN * DAY)
    # The set scatters too: by 7 % of one rep, each worth the endurance.
    one_rep = SET * float(ROWS["endurance", "squat"]["value"])
    assert logs.std() == pytest.approx(math.hypot(DAY, one_rep), rel=2 * OF_A_SPREAD)


def test_of_ten_reps_the_maximum_hangs_on_endurance():
    """100 kg ten times and no more: nine reps of endurance above 100 kg. Who tires sooner is the stronger."""
    k = 0.03
    who = lifter({"from_set": {"kg": 100, "reps": 10}, "endurance": k})
    assert who.lift("back squat").one_rm == pytest.approx(100 * math.exp(9 * k), rel=1e-9)
    draws = drawn(who)
    reps_left = (draws.log_one_rm[:, 0] - math.log(100)) / draws.endurance[:, 0] + 1
    # At the load of the set ten reps come out again, whatever the endurance: give or take the set and the day.
    day_in_reps = DAY / k
    assert np.median(reps_left) == pytest.approx(10, abs=0.05)
    assert reps_left.std() == pytest.approx(math.hypot(10 * SET, day_in_reps), rel=0.05)
    assert np.corrcoef(draws.log_one_rm[:, 0], np.log(draws.endurance[:, 0]))[0, 1] > 0.7
    # And the width that other questions ask for is that of the draws.
    assert who.one_rm_belief("back squat").sd == pytest.approx(draws.log_one_rm.std(), rel=0.03)


def test_reps_in_reserve_count_as_they_are_usually_left():
    """Eight with two said to be left: ten, and 0.2 more as people say it (0.32 at twelve reps, 0.06 less a rep)."""
    k = 0.03
    who = lifter({"from_set": {"kg": 100, "reps": 8, "reps_in_reserve": 2}, "endurance": k})
    assert who.lift("back squat").one_rm == pytest.approx(100 * math.exp((9 + 0.2) * k), rel=1e-9)
    failed = lifter({"from_set": {"kg": 100, "reps": 10}, "endurance": k})
    assert who.one_rm_belief("back squat").sd > failed.one_rm_belief("back squat").sd


def test_a_set_of_one_hand_and_one_in_pounds():
    pounds = lifter({"from_set": {"lb": 100, "reps": 1}})
    assert pounds.lift("back squat").one_rm == pytest.approx(45.359237, rel=1e-9)
    curls = validate(
        {"name": "X", "lifts": {"dumbbell curl": {"from_set": {"kg": 20, "reps": 1}, "each_hand": True}}}, Lifter
    )
    assert curls.lift("dumbbell curl").one_rm == pytest.approx(40, rel=1e-9)
    assert np.median(drawn(curls, ("dumbbell curl",)).log_one_rm) == pytest.approx(math.log(40), abs=0.001)


def test_what_is_written_reads_back():
    lift = {"from_set": {"kg": 100, "reps": 8, "reps_in_reserve": 2}}
    who = lifter(lift, training_years=3)
    assert validate(tomllib.loads(toml_text(who)), Lifter) == who
