"""How what was not expected is read, from expectations written down by hand."""

import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.answers import surprises
from workbench.answers.surprises import find_surprises
from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LoggedSet
from workbench.fit.expected import _could_be, _Spread, _tail
from workbench.fit.likelihood import says_at_most
from workbench.gym.catalogue import built_in

DAY = datetime.date(2026, 1, 5)
DRIFT = 0.02


def a_set(tail=0.001, *, better=False, load=60.0, reps=5, at_other=None, day=0, exercise="back squat"):
    logged = SimpleNamespace(row=0, load_kg=load, reps=reps, ending="made")
    date = DAY + datetime.timedelta(days=day)
    return SimpleNamespace(
        exercise=exercise,
        date=date,
        number=1,
        logged=logged,
        reps=(6.0, 8.0, 10.0),
        tail=tail,
        better=better,
        at_other=at_other or {},
    )


def a_day(z=0.0, *, day=0, usual=100.0, effect=0.0, exercise="back squat"):
    date = DAY + datetime.timedelta(days=day)
    return SimpleNamespace(exercise=exercise, date=date, effect=effect, z=z, usual=(0.9 * usual, usual, 1.1 * usual))


@pytest.fixture
def found(monkeypatch):
    learned = SimpleNamespace(
        fit=SimpleNamespace(settings=SimpleNamespace(drift_sd=DRIFT)), lifter=SimpleNamespace(catalogue=built_in())
    )

    def answer(sets, days, **more):
        monkeypatch.setattr(surprises, "expectations", lambda _: (sets, days))
        return find_surprises(learned, **more)

    return answer


def reading(answer):
    return answer.sets["reading"].iloc[0]


def test_the_level_is_shared_out_over_all_sets(found):
    sets = [a_set(0.3), a_set(0.049), a_set(0.051), a_set(0.6)]
    answer = found(sets, [a_day()], level=0.2)
    # 0.2 over four sets: below 0.05.
    assert answer.sets["tail"].tolist() == [0.049, 0.051, 0.3, 0.6]
    assert answer.sets["surprising"].tolist() == [True, False, False, False]
    assert answer.sets["reading"].tolist()[1:] == ["", "", ""]
    assert len(answer.found) == 1


def test_a_log_of_one_set_has_the_whole_level(found):
    assert found([a_set(0.15)], [a_day()], level=0.2).sets["surprising"].tolist() == [True]
    assert found([a_set(0.25)], [a_day()], level=0.2).sets["surprising"].tolist() == [False]


def test_pounds_and_kilograms_taken_for_each_other(found):
    # 60 written as kilograms would have been 27.2 kg if it was 60 lb; written as pounds, 60 kg would be 132.3.
    pounds = a_set(at_other={(60 * 0.45359237, 5): 0.5, (60.0, 15): 0.5})
    assert reading(found([pounds], [a_day()])) == "unit mix-up (60 lb noted as kilograms)"
    kilograms = a_set(load=60 * 0.45359237, at_other={(60.0, 5): 0.5})
    assert reading(found([kilograms], [a_day()])) == "unit mix-up (60 kg noted as pounds)"


def test_the_nearest_slips_of_the_pen_come_first_and_only_usual_ones(found):
    slips = {(600.0, 5): 0.5, (60.0, 6): 0.5, (70.0, 5): 0.5, (60.0, 50): 0.045}
    # One rep more is ln(7 / 6) = 0.15 away, 70 for 60 kg ln(7 / 6) = 0.15 too; 600 is far; 0.045 is not usual enough.
    one = reading(found([a_set(at_other=slips)], [a_day()]))
    assert one == "typing error (6 reps in place of 5 or 70 kg in place of 60 kg)"
    assert reading(found([a_set(at_other={(60.0, 50): 0.045})], [a_day()])) == "a set cut short or gone wrong"
    assert "typing error" in reading(found([a_set(at_other={(60.0, 50): 0.055})], [a_day()]))
    # Usual means ten times as usual as what was written, too: 0.3 is not, of 0.04.
    assert "typing" not in reading(found([a_set(0.04, at_other={(60.0, 50): 0.3})], [a_day()], level=0.2))


@pytest.mark.parametrize(
    ("better", "z", "expected"),
    [
        (True, 2.1, "a good day"),
        (False, -2.1, "a bad day"),
        (True, 1.9, "a set better than usual"),
        (False, 2.1, "a set cut short or gone wrong"),
        (True, -2.1, "a set better than usual"),
    ],
)
def test_a_day_explains_what_goes_its_way(better, z, expected, found):
    answer = found([a_set(better=better)], [a_day(z)])
    assert reading(answer) == expected
    assert answer.sets["direction"].iloc[0] == ("more" if better else "fewer")


def test_days_in_order_and_what_they_may_mean(found):
    # Two weeks on, the usual 1RM moved by more than the drift of two weeks, 0.02 sqrt(2) = 2.8 %, or by less.
    days = [
        a_day(0.0, day=0),
        a_day(2.5, day=14, usual=104.0, effect=0.05),
        a_day(2.5, day=28, usual=106.5),
        a_day(-2.5, day=42, usual=101.0),
        a_day(-2.5, day=56, usual=101.0),
        a_day(2.5, day=60, exercise="bench press"),
    ]
    table = found([a_set()], days).days
    assert table["reading"].tolist() == [
        "",
        "a real change: later sessions agree",
        "a good day",
        "a real change: later sessions agree",
        "a bad day, or a real change: the next session will tell",
        "a good day, or a real change: the next session will tell",
    ]
    row = table.iloc[1]
    assert row["day_kg"] == pytest.approx(104 * np.exp(0.05))
    assert row["effect_percent"] == pytest.approx(100 * (np.exp(0.05) - 1))
    # Beyond 2.5 standard deviations on either side lie 1.24 %.
    assert row["tail"] == pytest.approx(0.0124, abs=5e-5)


def test_a_row_has_the_interval_and_the_median_of_its_set(found):
    row = found([a_set()], [a_day()]).sets.iloc[0]
    assert row[["expected_low", "expected", "expected_high"]].tolist() == [6.0, 8.0, 10.0]


def test_who_could_not_have_done_the_reps_does_not_say_what_was_left():
    """Four or twelve reps available, equally likely; five were done, so it was twelve: "none left" is far out."""
    settings = FitSettings()
    spread = _Spread(np.log([4.0, 12.0]), np.array([0.5, 0.5]), 0.05)
    none_left = LoggedSet(0, 60.0, 5, "stated", 0.0, 0.0)
    tail, better = _tail(none_left, spread, SimpleNamespace(settings=settings))
    # ln(5 / 4) is 4.5 sds of a set, so that of the 4 only 4 in a million remain.
    of_twelve = float(says_at_most(0.5, 5, np.array([12.0]), np.array([0.05]), settings.reserve)[0])
    assert of_twelve < 0.05
    assert not better
    assert tail == pytest.approx(2.0 * of_twelve, abs=1e-5)


def test_what_could_have_been_meant_by_25_kg_for_12_reps():
    """Pounds for kilograms and the reverse, a digit, a plate or pair of plates, swapped digits, ten reps."""
    found = _could_be(LoggedSet(0, 25.0, 12, "failed", np.nan, 0.0))
    loads = sorted(round(load, 4) for load, reps in found if reps == 12)
    # Less 50 and 40 is no load; 52 is 25 swapped.
    assert loads == [2.5, 5.0, 11.3398, 15.0, 35.0, 45.0, 52.0, 55.1156, 65.0, 75.0, 250.0]
    assert sorted(reps for load, reps in found if load == 25.0) == [2, 21, 22]


def test_what_is_stated_is_as_usual_in_the_middle_and_far_out_on_either_side():
    """Ten reps available, five done: a whole number left is in the middle of what is said, two sides of it overlap."""
    spread = _Spread(np.log([10.0]), np.array([1.0]), 0.05)
    reader = SimpleNamespace(settings=FitSettings())
    stated = [_tail(LoggedSet(0, 60.0, 5, "stated", float(left), 0.0), spread, reader) for left in (*range(9), 15, 20)]
    # A whole number counts to both sides: where the median falls, each side holds more than half.
    assert max(tail for tail, _ in stated) == 1.0
    # Fifteen and twenty left of five that are left: far out, and better than expected.
    assert stated[-2][0] < 0.05
    assert stated[-1][0] < 0.001
    assert stated[-1][1]
    assert not stated[0][1]


@pytest.mark.parametrize(("usual", "reading_of_first"), [(95.0, "a real change"), (99.0, "a good day")])
def test_what_moves_by_more_than_its_drift_only_counts_over_the_time_between(usual, reading_of_first, found):
    # Sixteen weeks drift by 0.02 * 4 = 8 %: from 95 to 104 is ln(104 / 95) = 9.1 % and so more; from 99, 4.9 %, less.
    days = [a_day(0.0, usual=usual), a_day(2.5, day=16 * 7, usual=104.0), a_day(0.0, day=16 * 7 + 3, usual=104.0)]
    assert found([a_set()], days).days["reading"].iloc[1].startswith(reading_of_first)
