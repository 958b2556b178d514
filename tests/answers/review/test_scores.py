"""Proper scores, by hand."""

import math

import numpy as np
import pytest

from workbench.answers.review.scores import brier, crps, log_score, share_inside

#: Sums of a few numbers of size one.
ROUNDING = 1e-12


def test_crps_of_a_known_small_sample():
    # Draws 3, 5, 5, 9 and 6 reps done: distances 3, 1, 1, 3, mean 2. Distances among the draws, each pair twice of
    # sixteen: 3-5 twice, 3-9, 5-9 twice: 2 (2 + 2 + 6 + 0 + 4 + 4) / 16 = 2.25; 2 - 2.25 / 2 = 0.875.
    assert crps(np.array([5.0, 3.0, 9.0, 5.0]), 6.0) == pytest.approx(0.875, abs=ROUNDING)


def test_crps_is_the_area_between_forecast_and_what_happened():
    # Slow form: the squared distance of the distribution function from a step at the truth, summed over fine cells.
    rng = np.random.default_rng(3)
    draws, truth = rng.integers(0, 12, 40).astype(float), 7.0
    points = np.linspace(-1.0, 13.0, 14_001)
    below = (draws[:, np.newaxis] <= points).mean(axis=0)
    area = float(((below - (points >= truth)) ** 2).sum() * 0.001)
    # A cell of 0.001 at each of some dozen steps.
    assert float(crps(draws, truth)) == pytest.approx(area, abs=0.02)


def test_crps_of_a_number_is_its_distance_and_of_rows_that_of_each():
    assert crps(np.array([[4.0], [4.0]]), np.array([6.0, 1.0])).tolist() == [2.0, 3.0]


def test_brier_and_log_score_of_one_chance():
    # (0.7 - 1)^2 and 0.7^2; -ln 0.7 and -ln 0.3.
    assert brier(0.7, True) == pytest.approx(0.09, abs=ROUNDING)
    assert brier(0.7, False) == pytest.approx(0.49, abs=ROUNDING)
    assert log_score(0.7, True) == pytest.approx(-math.log(0.7), abs=ROUNDING)
    assert log_score(np.array([0.7]), np.array([False])) == pytest.approx(-math.log(0.3), abs=ROUNDING)


def test_a_whole_number_lies_inside_as_far_as_its_draws_do():
    # Ten draws: 4 once, 5 eight times, 9 once. The 4 takes up the lowest tenth: outside of the middle 80 %. The 5 takes
    # up 10 to 90 %, all inside 80 %, and of the middle half 50 of its 80 %. The 9 lies outside.
    draws = np.array([4.0, *[5.0] * 8, 9.0])
    assert share_inside(draws, 4.0, 0.8) == pytest.approx(0.0, abs=ROUNDING)
    assert share_inside(draws, 5.0, 0.8) == pytest.approx(1.0, abs=ROUNDING)
    assert share_inside(draws, 5.0, 0.5) == pytest.approx(50.0 / 80.0, abs=ROUNDING)
    assert share_inside(draws, 9.0, 0.8) == pytest.approx(0.0, abs=ROUNDING)
    # A number between draws is a point of the forecast: 7 has nine draws of ten below, the edge of 80 %.
    assert share_inside(draws, 7.0, 0.81) == 1.0
    assert share_inside(draws, 7.0, 0.79) == 0.0


def test_right_forecasts_of_whole_numbers_hold_what_they_say():
    # Three values with 20, 50 and 30 %: the truth comes as often. In the mean exactly 80 % lie in the 80 % band, which
    # as a range of whole numbers would hold them all.
    draws = np.array([1.0] * 2 + [2.0] * 5 + [3.0] * 3)
    mean = sum(chance * share_inside(draws, value, 0.8) for value, chance in ((1.0, 0.2), (2.0, 0.5), (3.0, 0.3)))
    assert mean == pytest.approx(0.8, abs=ROUNDING)
