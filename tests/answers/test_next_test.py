"""The next test set: the promised shrinkage is kept, and the advice beats a random choice and the heaviest set.

The full run, 60 lifters: ``python -m tests.answers.test_next_test 60``.
"""

from __future__ import annotations

import datetime
import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from tests.simulated_logs import Day, invented_lifter, simulated_log
from workbench.answers.next_test import SetToTest, _available, possible_tests, rank_tests
from workbench.fit import fit_log
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

EXERCISE = "back squat"


def easy(day, believed, rng):
    """Two sets far from failure: little is known afterwards."""
    for _ in range(2):
        day.do(round(believed * 0.65 / 2.5) * 2.5, 150, reps=5)


def fourth_set(draws, load):
    """Return the answer asked for: reps in a fourth set to failure, 90 s after three sets of six."""
    lane = draws.exercises.index(EXERCISE)
    headroom = draws.log_one_rm[:, lane] - np.log(load)
    fresh = np.maximum(1 + headroom / draws.endurance[:, lane], 0)
    state = DEFAULT_FORM.fresh(headroom.shape)
    for _ in range(3):
        _, state = DEFAULT_FORM.work(state, headroom, fresh, 6.0)
        state = DEFAULT_FORM.rest(state, 90.0, draws.recovery_rate)
    return DEFAULT_FORM.work(state, headroom, fresh)[0]


def done(test, truth, date, seed):
    """Do a test with the true lifter; every test of a lifter meets the same day and the same luck."""
    rng = np.random.default_rng(seed)
    today = 0.02 * rng.standard_normal()
    day = Day(rng, truth, test.exercise, date, truth.log_one_rm[test.exercise] + today)
    day.do(test.load_kg, 0)
    if test.second_after_s is not None:
        day.do(test.load_kg, test.second_after_s)
    return pd.DataFrame(day.rows)


def one_lifter(seed):
    """Return the sd of the answer before, and after the advised, a random and the heaviest test; and the promise."""
    rng = np.random.default_rng([21, seed])
    lifter, truth = invented_lifter(rng, [EXERCISE])
    log = simulated_log(rng, lifter, truth, sessions=3, how=easy)
    learned = fit_log(log, lifter)
    draws = learned.draws(500, np.random.default_rng(seed))
    load = 0.7 * lifter.lift(EXERCISE).one_rm
    tests = possible_tests(learned, draws)
    if not tests:
        return None
    choice = rank_tests(learned, draws, fourth_set(draws, load), tests)
    heaviest = max((test for test in tests if test.second_after_s is None), key=lambda test: test.load_kg)
    date = log["date"].max().date() + datetime.timedelta(days=3)
    left = []
    for test in (choice.best, tests[int(rng.integers(len(tests)))], heaviest):
        after = fit_log(pd.concat([log, done(test, truth, date, seed)], ignore_index=True), lifter)
        again = after.draws(2000, np.random.default_rng(seed))
        left.append(fourth_set(again, load).std())
    return (fourth_set(draws, load).std(), *left, choice.table["sd_after"].iloc[0])


def many(count):
    found = [one for one in map(one_lifter, range(count)) if one is not None]
    return np.array(found)


@pytest.mark.slow
def test_the_advice_beats_a_random_and_the_heaviest_set():
    before, advised, at_random, heaviest, promised = many(16).T
    assert advised.mean() < at_random.mean()
    assert advised.mean() < heaviest.mean()
    assert advised.mean() < before.mean()
    # The promise is an average over outcomes; over 16 lifters it is kept to a third.
    assert advised.mean() == pytest.approx(promised.mean(), rel=0.33)


@pytest.fixture(scope="module")
def learned():
    rng = np.random.default_rng(3)
    lifter, truth = invented_lifter(rng, [EXERCISE, "bench press"])
    return fit_log(simulated_log(rng, lifter, truth, sessions=3, how=easy), lifter)


@pytest.fixture(scope="module")
def draws(learned):
    return learned.draws(400, np.random.default_rng(1))


def test_a_test_in_words():
    assert str(SetToTest(EXERCISE, 82.5)) == "back squat, 82.5 kg, to failure"
    assert str(SetToTest(EXERCISE, 82.5, "stop at one in reserve", 90.0)) == (
        "back squat, 82.5 kg, stop at one in reserve, again after 90 s"
    )


def test_one_in_reserve_is_one_to_two_reps_short_of_failure():
    """At 100 kg for 1RMs of 100 exp(0.27) and 100 kg, k 0.03: 10 reps less the middle of 1 to 2, and never below 1."""
    wanted = []

    def work(state, headroom, fresh, reps=np.inf, *, parameters):
        wanted.append(np.broadcast_to(reps, fresh.shape)[:, 0].tolist())
        return fresh, state

    form = SimpleNamespace(fresh=lambda _: (), work=work, rest=lambda state, *_, **__: state, parameters=None)
    learned = SimpleNamespace(fit=SimpleNamespace(form=form, curve=DEFAULT_CURVE, parameters=None))
    log_one_rm = np.log(100.0) + np.array([[0.27], [0.0]])
    draws = SimpleNamespace(
        exercises=(EXERCISE,),
        log_one_rm=log_one_rm,
        endurance=np.full((2, 1), 0.03),
        recovery_rate=np.ones(2),
        bend=None,
    )
    _available(SetToTest(EXERCISE, 100.0, "stop at one in reserve", 90.0), learned, draws, np.zeros(1))
    assert wanted == [pytest.approx([8.5, 1.0]), [np.inf, np.inf]]


def test_the_expected_shrinkage_of_a_normal_answer_by_hand(learned, draws):
    """Endurance known exactly, one set to failure: the log 1RM is measured with the scatter of day and set.

    With reps r at headroom S, one rep is k in log strength; a set's scatter is 7 % of r, its rounding a uniform rep.
    """
    k, count = 0.03, 4000
    prior_sd = 0.05
    levels = (np.arange(count) + 0.5) / count
    known = replace(
        draws,
        exercises=(EXERCISE,),
        log_one_rm=(np.log(100) + prior_sd * norm.ppf(levels))[:, None],
        endurance=np.full((count, 1), k),
        recovery_rate=np.ones(count),
        shared=np.zeros(count),
        bend=np.zeros(count),
    )
    tests = [one for one in possible_tests(learned, known, exercises=(EXERCISE,)) if one.second_after_s is None]
    test = next(one for one in tests if one.load_kg == 75.0)
    found = rank_tests(learned, known, known.log_one_rm[:, 0], [test]).table.iloc[0]
    settings = learned.fit.settings
    reps = 1 + np.log(100 / 75) / k
    noise_sd = np.sqrt(settings.day_sd**2 + (k * reps * settings.set_log_sd) ** 2 + k**2 / 12)
    expected = prior_sd * noise_sd / np.hypot(prior_sd, noise_sd)
    assert found["sd_now"] == pytest.approx(prior_sd, rel=0.01)
    assert found["sd_after"] == pytest.approx(expected, rel=0.06)


def test_every_test_is_safe(learned, draws):
    for test in possible_tests(learned, draws):
        one_rm = np.exp(np.median(draws.log_one_rm[:, draws.exercises.index(test.exercise)]))
        assert test.load_kg <= 0.85 * one_rm * 1.0001
        table = rank_tests(learned, draws, draws.recovery_rate, [test]).table
        assert table["reps_low"].iloc[0] >= 3


def hundred(draws, *, sd, endurance, count=4000, middle=100.0):
    """A lifter whose 1RM lies about 100 kg, log-normal, and who tires by so much with each rep."""
    levels = (np.arange(count) + 0.5) / count
    return replace(
        draws,
        exercises=(EXERCISE,),
        log_one_rm=(np.log(middle) + sd * norm.ppf(levels))[:, None],
        endurance=np.full((count, 1), endurance),
        recovery_rate=np.ones(count),
        shared=np.zeros(count),
        bend=np.zeros(count),
    )


def offered(learned, draws, **asked):
    return sorted({test.load_kg for test in possible_tests(learned, draws, exercises=(EXERCISE,), **asked)})


def test_a_set_that_one_in_ten_would_end_below_three_reps_is_not_offered(learned, draws):
    """Reps are 1 + ln(1RM / load) / k. One in ten has less of the log 1RM by 1.2816 sd, of 1RM and day together.

    sd 0.08 and day 0.02: 0.0825, times 1.2816 is 0.1057. Three reps at k = 0.05 want ln(1RM / load) of at least 0.1,
    so ln(100 / load) of 0.2057: at most 81.4 kg. At 85 kg even the middle one has 4 reps, and one in ten but 2.
    """
    assert learned.fit.settings.day_sd == pytest.approx(0.02, abs=1e-12)
    assert offered(learned, hundred(draws, sd=0.08, endurance=0.05)) == [60, 65, 70, 75, 80]
    # Hardly known, 0.16: 0.2067; ln(100 / load) of 0.3067, at most 73.6 kg. Well known, 0: 0.0256, at most 88.2 kg.
    assert offered(learned, hundred(draws, sd=0.16, endurance=0.05)) == [60, 65, 70]
    assert offered(learned, hundred(draws, sd=0.0, endurance=0.05)) == [60, 65, 70, 75, 80, 85]
    # Who tires by 0.12 a rep: 0.24 + 0.0256, at most 76.7 kg.
    assert offered(learned, hundred(draws, sd=0.0, endurance=0.12)) == [60, 65, 70, 75]


def test_the_cap_holds_where_reps_would_allow_more(learned, draws):
    """Enduring, k = 0.02, and well known: at 90 kg there are 1 + (0.1054 - 0.0256) / 0.02 = 4.99 reps in nine of ten.

    Sets above 20 reps in the middle say little: 1 + ln(100 / load) / 0.02 is 26 at 60 kg, 22 at 65 kg and 18 at 70 kg.
    """
    known = hundred(draws, sd=0.0, endurance=0.02)
    assert offered(learned, known) == [70, 75, 80, 85]
    assert offered(learned, known, cap=0.75) == [70, 75]
    tested = validate({**learned.lifter.model_dump(exclude_none=True), "test_maximum": True}, Lifter)
    other = replace(learned, fit=replace(learned.fit, lifter=tested))
    assert offered(other, known) == [70, 75, 80, 85, 90]
    with pytest.raises(InputError, match=r"use 0\.4 to 0\.9"):
        possible_tests(other, known, cap=0.95)


def test_a_load_between_two_of_the_room_is_the_lighter_one(learned, draws):
    # 85 % of 103 kg is 87.55: 87.5 where nothing is said of the room, and 80 on a bar without it. 80 % is 82.4: 80.
    known = hundred(draws, sd=0.0, endurance=0.04, middle=103.0)
    assert offered(learned, known)[-2:] == [80.0, 87.5]
    room = validate(
        {
            "name": "Invented",
            "unit": "kg",
            "plates": [{"mass": 5, "pairs": 4}, {"mass": 20, "pairs": 2}],
            "equipment": [{"name": "bar", "kind": "barbell", "bar": 20}],
        },
        Room,
    )
    # 61.8, 66.95, 72.1, 77.25, 82.4 and 87.55 kg on a bar that goes up by 10.
    assert offered(learned, known, room=room) == [60.0, 70.0, 80.0]


def test_a_cap_near_the_maximum_is_refused(learned, draws):
    with pytest.raises(InputError, match=r"out of range; use 0\.4 to 0\.85"):
        possible_tests(learned, draws, cap=0.95)


def test_what_the_lifter_avoids_is_not_tested(learned, draws):
    content = learned.lifter.model_dump(exclude_none=True)
    avoiding = validate({**content, "avoid_exercises": [EXERCISE]}, Lifter)
    other = replace(learned, fit=replace(learned.fit, lifter=avoiding))
    assert {test.exercise for test in possible_tests(other, draws)} == {"bench press"}
    assert {test.exercise for test in possible_tests(learned, draws)} == {EXERCISE, "bench press"}


def test_a_set_with_a_second_teaches_more_of_recovery_than_one_alone(learned, draws):
    tests = possible_tests(learned, draws, exercises=(EXERCISE,))
    table = rank_tests(learned, draws, np.log(draws.recovery_rate), tests).table
    assert np.isfinite(table["second_after_s"].iloc[0])
    alone = table[table["second_after_s"].isna()]
    assert table["shrinks"].iloc[0] > alone["shrinks"].max()
    assert (table["shrinks"] > -1e-9).all()


@pytest.mark.parametrize(
    ("answer", "tests", "message"), [(np.zeros(3), None, "has shape"), (None, [], "no safe test set")]
)
def test_what_cannot_be_ranked_is_explained(learned, draws, answer, tests, message):
    answer = draws.recovery_rate if answer is None else answer
    tests = possible_tests(learned, draws)[:1] if tests is None else tests
    with pytest.raises(InputError, match=message):
        rank_tests(learned, draws, answer, tests)


def main(count):
    """Print the full run."""
    found = many(count)
    print(f"{len(found)} lifters, mean sd of the reps in the fourth set:")
    for name, mean in zip(("before", "advised", "random", "heaviest", "promised"), found.mean(axis=0), strict=True):
        print(f"  {name:<10}{mean:.2f}")
    for name, other in (("random", found[:, 2]), ("heaviest", found[:, 3])):
        gain = other - found[:, 1]
        print(f"  advice against {name}: {gain.mean():.3f} +- {gain.std() / np.sqrt(len(gain)):.3f} reps")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
