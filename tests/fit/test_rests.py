"""Usual rests from few or many days by hand, and the clock of a day."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

from workbench.fit import FitSettings
from workbench.fit.rests import LOGGED, Clock, RestSpread, usual_rests
from workbench.gym.catalogue import built_in

#: The same few sums.
ROUNDING = 1e-10
SETTINGS = FitSettings(unknown_rest_s=160.0, usual_rest_log_sd=0.4, rest_log_sd=0.25)


def usual(*sets, **columns):
    """Usual rests from (day, exercise, rest)."""
    rows = pd.DataFrame(sets, columns=["day", "exercise", "rest_s"], index=range(7, 7 + len(sets)))
    dates = rows["day"].map(lambda day: datetime.date(2026, 1, 5) + datetime.timedelta(days=day))
    return usual_rests(rows.drop(columns="day").assign(**columns), dates, built_in(), SETTINGS)


def weighed(mean, sd, logs, day_sd):
    """Mean and sd of a normal mean before, and so many values that each scatter by ``day_sd``."""
    precision = sd**-2 + len(logs) * day_sd**-2
    return (mean * sd**-2 + sum(logs) * day_sd**-2) / precision, precision**-0.5


def test_usual_rests_of_two_exercises_by_hand():
    """Squats: 90 and 160 s on one day, 80 s on the next; presses: 240 s. One day counts once, whatever its sets."""
    found = usual(
        (0, "back squat", 900.0),  # the first of a day rests from nothing
        (0, "back squat", 90.0),
        (0, "back squat", 160.0),
        (0, "bench press", 30.0),
        (0, "bench press", 240.0),
        (3, "back squat", np.nan),
        (3, "back squat", 80.0),
        (3, "back squat", np.nan),
        (3, "barbell row", np.nan),
        (3, "barbell row", 0.0),  # no rest at all tells no usual one
    )
    squats = [np.log(90.0 * 160.0) / 2, np.log(80.0)]
    press = [np.log(240.0)]
    middle = sum(squats) / 2
    # What is taken for usual counts as three days beside the three of the log.
    day_sd = np.sqrt((3 * 0.25**2 + sum((log - middle) ** 2 for log in squats)) / (3 + 3))
    mean, sd = weighed(np.log(160.0), 0.4, squats + press, day_sd)
    assert set(found) == {"back squat", "bench press", built_in().exercise("barbell row").name}
    for name, logs in (("back squat", squats), ("bench press", press), (built_in().exercise("barbell row").name, [])):
        middle, wide = weighed(mean, np.hypot(sd, 0.25), logs, day_sd)
        rest, spread = found[name]
        assert rest == pytest.approx(np.exp(middle), rel=ROUNDING)
        assert (spread.usual, spread.day) == pytest.approx((wide, day_sd), rel=ROUNDING)


@pytest.mark.parametrize("rest", [np.nan, 0.0, -20.0])
def test_where_no_rest_is_told_the_settings_stand(rest):
    found = usual((0, "back squat", 100.0), (0, "back squat", rest), (2, "back squat", 100.0))
    (told, spread) = found["back squat"]
    assert told == pytest.approx(160.0, rel=ROUNDING)
    assert (spread.usual, spread.day) == pytest.approx((0.4, 0.25), rel=ROUNDING)


def test_a_log_without_a_column_of_rests_tells_none():
    rows = pd.DataFrame({"exercise": ["back squat"] * 2})
    dates = pd.Series([datetime.date(2026, 1, 5)] * 2)
    assert usual_rests(rows, dates, built_in(), SETTINGS)["back squat"][0] == pytest.approx(160.0)


def test_other_names_of_an_exercise_count_with_it_and_what_nobody_knows_counts_together():
    alias = next(iter(built_in().exercise("back squat").aliases))
    assert alias != "back squat"
    found = usual((0, alias, np.nan), (0, "back squat", 100.0), (0, "a pose", np.nan), (0, "another", 100.0))
    one = usual((0, "back squat", np.nan), (0, "back squat", 100.0), (0, "a pose", np.nan), (0, "a pose", 100.0))
    assert set(found) == {"back squat", ""}
    assert found == one


# The clock


def test_the_clock_of_a_day_by_hand():
    """Squats of 20 s, presses of 30 s: what is told moves on by what was told, all else by what is usual."""
    spread = RestSpread(0.2, 0.3)
    clock = Clock(150.0, {"squat": (120.0, spread), "press": (90.0, spread)})

    def lift(exercise, rest, seconds):
        started = clock.start(exercise, rest)
        clock.end(exercise, seconds)
        return started

    assert lift("squat", None, 20.0) == (0.0, LOGGED)
    assert clock.now == 20.0, "nothing goes before the first set"
    assert lift("squat", 100.0, 20.0) == (100.0, LOGGED)
    assert lift("squat", np.nan, 20.0) == (120.0, spread)
    assert clock.now == 280.0
    # A first press rests from no press, and takes place an unknown rest later; the next from its own.
    assert lift("press", None, 30.0) == (0.0, LOGGED)
    assert clock.now == 460.0
    assert lift("press", -5.0, 30.0) == (0.0, LOGGED)
    assert lift("press", None, 30.0) == (90.0, spread)
    assert clock.now == 610.0
    # Since the end of the last squat at 280: 330 s of presses, and 60 s.
    assert lift("squat", 60.0, 20.0) == (390.0, LOGGED)
    assert lift("press", pd.NA, 30.0) == (80.0 + 90.0, spread)


def test_a_rest_that_is_in_the_log_is_known():
    assert (LOGGED.usual, LOGGED.day) == (0.0, 0.0)


def test_a_first_set_may_come_late():
    clock = Clock(150.0, {})
    assert clock.start("squat", 45.0) == (0.0, LOGGED)
    assert clock.now == 45.0
