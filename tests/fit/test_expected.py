"""What was to be expected of a set and of a day, on a few points by hand."""

from __future__ import annotations

import datetime
import itertools
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LoggedSession, LoggedSet
from workbench.fit.expected import _could_be, _day, _sets, _Spread, _swapped, _tail
from workbench.fit.likelihood import Course, Grid, SetReader
from workbench.models.fatigue import DEFAULT_FORM, sequence
from workbench.models.stated_reserve import statement_bias, statement_sd

DAY = datetime.date(2026, 1, 5)
POINTS = np.array([0.0, 1.0, 2.0])


@pytest.mark.parametrize(
    ("after", "effect", "z"),
    [
        # Before: mean 1, variance 1/2. After: mean 7/4, variance 3/16; 5/16 was explained.
        ([0.0, 1.0, 3.0], 0.75, 0.75 / 0.3125**0.5),
        ([3.0, 1.0, 0.0], -0.75, -0.75 / 0.3125**0.5),
        # Wider than before: a fifth of the variance counts as explained, 1/10.
        ([1.0, 0.0, 3.0], 0.5, 0.5 / 0.1**0.5),
        ([2.0, 4.0, 2.0], 0.0, 0.0),
    ],
)
def test_a_day_lies_so_many_sds_from_what_all_others_let_expect(after, effect, z):
    found = _day("back squat", DAY, POINTS, np.array([1.0, 2.0, 1.0]), np.array([1.0, 2.0, 1.0]), np.array(after))
    assert (found.effect, found.z) == pytest.approx((effect, z))
    assert (found.exercise, found.date) == ("back squat", DAY)


def test_the_effect_of_a_day_is_against_the_usual_and_its_quantiles_are_in_kilograms():
    """Usual weights 3, 1, 1: mean 3/5; up to the points lie 3/5, 4/5 and all of it, so that the median is the first."""
    found = _day("back squat", DAY, POINTS, np.array([3.0, 1.0, 1.0]), np.array([1.0, 2.0, 1.0]), np.array([0.0, 1, 3]))
    assert found.effect == pytest.approx(1.75 - 0.6)
    assert found.usual == pytest.approx((1.0, 1.0, np.exp(1.5)))


def test_chances_of_reps_are_summed_over_what_was_available():
    """A quarter has 4, three quarters 12: ten reps are there in all of the 12 but those 3.6 sds of a set below."""
    spread = _Spread(np.log([4.0, 12.0]), np.array([0.25, 0.75]), 0.05)
    expected = 0.25 * norm.cdf(np.log(0.4) / 0.05) + 0.75 * norm.cdf(np.log(1.2) / 0.05)
    assert spread.at_least(10.0) == pytest.approx(expected)
    assert spread.at_least(0.0) == spread.at_least(-1.0) == 1.0


def test_expected_reps_are_laid_out_in_bins():
    """Half a reader's weight on 10 reps, half on 6, one point of no weight; bins are 0.014 wide in logs."""
    logs, weights = np.log([[10.0, 6.0, 40.0]]), np.array([[0.5, 0.5, 0.0]])
    spread = _Spread.of(logs, weights, 0.02)
    assert spread.weights.sum() == pytest.approx(1.0)
    assert np.exp(spread.weights @ spread.log_reps) == pytest.approx(60.0**0.5, rel=0.01)
    low, _, high = spread.quantiles()
    # A tenth of all is a fifth of the half on 6, 0.84 sds below; 200 points in logs are 0.03 apart.
    assert low == pytest.approx(6.0 * np.exp(-0.8416 * 0.02), rel=0.02)
    assert high == pytest.approx(10.0 * np.exp(0.8416 * 0.02), rel=0.02)


def test_reps_of_a_load_that_nobody_could_move_are_as_good_as_none():
    spread = _Spread.of(np.array([-np.inf, -20.0]), np.array([0.5, 0.5]), 0.05)
    assert np.exp(spread.weights @ spread.log_reps) == pytest.approx(0.05, rel=0.01)
    assert spread.at_least(1.0) < 1e-9
    # Beside others they keep their share: half of all make five.
    both = _Spread.of(np.array([-np.inf, np.log(10.0)]), np.array([0.5, 0.5]), 0.05)
    assert both.at_least(5.0) == pytest.approx(0.5)
    assert both.log_reps[0] == pytest.approx(np.log(0.05), abs=0.01)
    assert both.weights[[0, -1]] == pytest.approx([0.5, 0.5])


def test_quantiles_are_those_of_a_sum_of_normals():
    """One, four and nine reps as likely as each other, scattered by a fifth: where the sum of three reaches a level."""
    logs = np.log([1.0, 4.0, 9.0])
    found = _Spread.of(logs, np.ones(3), 0.2).quantiles()
    for level, value in zip((0.1, 0.5, 0.9), found, strict=True):
        assert np.mean(norm.cdf((np.log(value) - logs) / 0.2)) == pytest.approx(level, abs=0.01)


@pytest.mark.parametrize(
    ("reps", "ending", "tail", "better"),
    [
        # Ten are there, with a scatter of 0.1. Eight failed: fewer than nine are as improbable as -1.05 sds.
        (8, "failed", 2.0 * norm.cdf(np.log(0.9) / 0.1), False),
        (12, "failed", 2.0 * norm.cdf(np.log(10 / 12) / 0.1), True),
        # 11 are not there in all but 17 %, 10 are in 50 %: twice the smaller side would be more than all.
        (10, "failed", 1.0, True),
        (12, "completed", norm.cdf(np.log(10 / 12) / 0.1), True),
        (5, "completed", 1.0, True),
        (0, "failed", 2.0 * norm.cdf(np.log(0.1) / 0.1), False),
    ],
)
def test_how_far_out_a_set_is(reps, ending, tail, better):
    spread = _Spread(np.log([10.0]), np.array([1.0]), 0.1)
    found, was_better = _tail(LoggedSet(0, 80.0, reps, ending, np.nan, 0.0), spread, None)
    assert found == pytest.approx(tail, abs=1e-9)
    assert was_better == better


def said(logged, logs, weights, sd, reserve):
    """What is at least as far out as a stated reserve: over those who could do the reps, bin by bin."""
    fewer = more = able = 0.0
    for log_available, weight in zip(logs, weights, strict=True):
        share = weight * norm.cdf((log_available - np.log(logged.reps)) / sd)
        middles = []
        for available in (np.exp(log_available), np.exp(log_available) * (1.0 + sd)):
            left = max(available - 0.5 - logged.reps, 0.0)
            middles.append(left - statement_bias(available, parameters=reserve))
        left = max(np.exp(log_available) - 0.5 - logged.reps, 0.0)
        width = np.hypot(statement_sd(left, np.exp(log_available), parameters=reserve), middles[1] - middles[0])
        fewer += share * norm.cdf((logged.reserve + 0.5 - middles[0]) / width)
        # Nobody says less than none.
        more += share * (1.0 if logged.reserve < 0.5 else norm.sf((logged.reserve - 0.5 - middles[0]) / width))
        able += share
    return fewer / able, more / able, able


@pytest.mark.parametrize(
    ("available", "weights", "sd"),
    [((3.0, 6.0, 10.0), (0.2, 0.3, 0.5), 0.12), ((3.0, 6.0, 20.0), (0.0, 0.05, 0.95), 0.12), ((10.0,), (1.0,), 0.4)],
)
@pytest.mark.parametrize(("reps", "left"), [*itertools.product((1, 4, 9, 13, 18), (0.0, 0.4, 0.5, 1.0, 3.0, 6.0))])
def test_a_stated_reserve_is_held_against_those_who_could_do_the_reps(reps, left, available, weights, sd):
    logs, weights = np.log(available), np.array(weights)
    settings, logged = FitSettings(), LoggedSet(0, 80.0, reps, "stated", left, 0.0)
    fewer, more, able = said(logged, logs, weights, sd, settings.reserve)
    tail = min(2.0 * fewer, 2.0 * more, 1.0)
    expected = (able, True) if able < tail else (tail, more < fewer)
    assert _tail(logged, _Spread(logs, weights, sd), SimpleNamespace(settings=settings)) == pytest.approx(expected)


def test_reps_that_nobody_does_are_more_than_expected_whatever_is_said_of_them():
    """Fifty times the four that are there: beyond the smallest number that can be written."""
    logged = LoggedSet(0, 80.0, 200, "stated", 2.0, 0.0)
    spread = _Spread(np.log([4.0]), np.array([1.0]), 0.07)
    assert _tail(logged, spread, SimpleNamespace(settings=FitSettings())) == (0.0, True)


# Sets of a session, and what else could have been meant

LB = 0.45359237


@pytest.mark.parametrize(
    ("load", "reps", "loads", "counts"),
    [
        (60.0, 12, [10.0, 20.0, 40.0, 50.0, 70.0, 80.0, 100.0, 110.0, 6.0], [21, 22, 2]),
        # No load of none and no set of none.
        (50.0, 10, [10.0, 30.0, 40.0, 60.0, 70.0, 90.0, 100.0, 5.0], [1, 20]),
        (10.0, 11, [20.0, 30.0, 50.0, 60.0, 1.0], [21, 1]),
        (40.5, 9, [0.5, 20.5, 30.5, 50.5, 60.5, 80.5, 90.5, 4.5], [19]),
        (127.5, 9, [77.5, 87.5, 107.5, 117.5, 137.5, 147.5, 167.5, 177.5, 217.5, 172.5], [19]),
    ],
)
def test_what_could_have_been_meant(load, reps, loads, counts):
    """The other unit either way, a digit more or less, plates, swapped digits; reps swapped or ten off."""
    other = [load * LB, load / LB, 10.0 * load, load / 10.0, *loads]
    found = _could_be(LoggedSet(0, load, reps, "failed", np.nan, 0.0))
    assert [one for one, same in found if same == reps] == pytest.approx(other)
    assert [one for same, one in found if same == load] == counts
    assert len(found) == len(other) + len(counts)


def strong_by(reader, logged, strengths, before):
    """Log reps available at each strength of the day, as `sequence` takes the sets so far."""
    found = []
    for strength in strengths:
        fractions = [one.load_kg / strength for one in (*before, logged)]
        rests = [one.rest_s for one in (*before, logged)]
        wanted = [np.inf if one.ending == "failed" else one.reps for one in (*before, logged)]
        found.append(sequence(fractions, rests, 0.03, reps_wanted=wanted)[-1])
    with np.errstate(divide="ignore"):
        return np.log(found)


def some_session(reps):
    """Return a session three weeks before the grid's, at 1 % a week, a reader of nine strengths, and their weights."""
    day, until = DAY, DAY + datetime.timedelta(weeks=3)
    grid = Grid(np.zeros(1), np.log([0.03]), np.log(100.0) + np.linspace(-0.08, 0.08, 9))
    course = Course(gain=0.01, until=until)
    settings = FitSettings(set_log_sd=0.1, mistake_chance=0.01)
    reader = SetReader(grid, DEFAULT_FORM, DEFAULT_FORM.parameters, settings, course=course)
    sets = [LoggedSet(n, 80.0, one, "failed", np.nan, 150.0 * n) for n, one in enumerate(reps)]
    return LoggedSession(day, tuple(sets)), reader, np.exp(-0.5 * np.linspace(-2.0, 2.0, 9) ** 2)


def of_failed(logs, reps, sd):
    """Probability of failing after these reps."""
    more = norm.cdf((logs - np.log(reps + 1)) / sd)
    return (norm.cdf((logs - np.log(reps)) / sd) if reps else 1.0) - more


@pytest.mark.parametrize("reps", [(7, 4, 4), (7, 1, 4), (16, 4, 3)])
def test_each_set_is_held_against_the_strengths_that_the_others_leave(reps):
    """A set's own probability, one mistake in a hundred spread over thirty reps, is taken out of the weights."""
    session, reader, after = some_session(reps)
    # Three weeks at 1 % before the grid's date, strength was 3 % less.
    strengths = np.exp(reader.grid.log_strength - 0.03)
    found = list(_sets("back squat", session, reader.states(session), reader, after[None, :]))
    assert [one.number for one in found] == [1, 2, 3]
    assert {(one.exercise, one.date) for one in found} == {("back squat", DAY)}
    far = 0
    for place, one in enumerate(found):
        assert one.logged is session.sets[place]
        before = session.sets[:place]
        logs = strong_by(reader, one.logged, strengths, before)
        without = after / (0.99 * of_failed(logs, one.logged.reps, 0.1) + 0.01 / 30.0)
        without = without / without.sum()

        def tail(logs, reps, without=without):
            fewer = without @ (1.0 - norm.cdf((logs - np.log(reps + 1)) / 0.1))
            return min(2.0 * min(fewer, without @ norm.cdf((logs - np.log(reps)) / 0.1)), 1.0)

        expected = tail(logs, one.logged.reps)
        # A bin is 0.014 wide, 0.14 sds of a set: no strength moves by more than half of that.
        assert norm.isf(one.tail / 2.0) == pytest.approx(norm.isf(expected / 2.0), abs=0.07)
        for level, value in zip((0.1, 0.5, 0.9), one.reps, strict=True):
            assert without @ norm.cdf((np.log(value) - logs) / 0.1) == pytest.approx(level, abs=0.02)
        assert bool(one.at_other) == (expected < 0.02)
        far += bool(one.at_other)
        for load, count in ((one.logged.load_kg + 10.0, one.logged.reps), (80.0, one.logged.reps + 10)):
            if one.at_other:
                changed = LoggedSet(0, load, count, "failed", np.nan, one.logged.rest_s)
                other_logs = strong_by(reader, changed, strengths, before)
                found_far, far_out = (norm.isf(t / 2.0) for t in (one.at_other[load, count], tail(other_logs, count)))
                assert found_far == pytest.approx(far_out, abs=0.07)
    assert (far > 0) == (reps != (7, 4, 4))


@pytest.mark.parametrize(("tail", "looked_at"), [(0.0185, True), (0.0205, False)])
def test_what_else_was_meant_is_asked_of_sets_that_less_than_one_in_fifty_reach(tail, looked_at):
    """20 reps made where 1 + ln(100 / 80) / 0.03 = 8.44 are there: so far out that this share reaches them."""
    available = 1.0 + np.log(1.25) / 0.03
    settings = FitSettings(set_log_sd=float(np.log(20.0 / available) / norm.isf(tail)))
    grid = Grid(np.zeros(1), np.log([0.03]), np.log(100.0) + np.array([-0.01, 0.0, 0.01]))
    reader = SetReader(grid, DEFAULT_FORM, DEFAULT_FORM.parameters, settings)
    session = LoggedSession(DAY, (LoggedSet(0, 80.0, 20, "completed", np.nan, 0.0),))
    (found,) = _sets("back squat", session, reader.states(session), reader, np.array([[0.0, 1.0, 0.0]]))
    assert found.tail == pytest.approx(tail, rel=0.05)  # bins move it by up to so much
    assert bool(found.at_other) == looked_at


def test_neighbouring_digits_are_swapped_where_that_is_another_number():
    assert _swapped("130") == ["310", "103"]
    assert _swapped("12.5") == ["21.5"]
    assert _swapped("110") == ["101"]
    assert _swapped("2.50") == ["2.05"]
    assert _swapped("55") == _swapped("7") == []
    assert _swapped("10") == ["01"]
    assert _swapped("00") == []
