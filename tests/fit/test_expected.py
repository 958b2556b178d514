"""What was to be expected of a set and of a day, on a few points by hand."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit.evidence_sets import LoggedSet
from workbench.fit.expected import _day, _Spread, _swapped, _tail

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


def test_neighbouring_digits_are_swapped_where_that_is_another_number():
    assert _swapped("130") == ["310", "103"]
    assert _swapped("12.5") == ["21.5"]
    assert _swapped("55") == _swapped("7") == []
    assert _swapped("10") == ["01"]
    assert _swapped("00") == []
