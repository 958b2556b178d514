"""Where a quantity is looked for: even points, and how a range moves, narrows and widens, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit.range import REACH, Range


@pytest.mark.parametrize(
    ("apart", "count"),
    [
        (1.0, 5),  # half a unit apart already
        (0.5, 5),  # just so far
        (0.49, 6),  # 2 / 0.49 = 4.1 steps: five of them
        (0.4, 6),  # five steps just so far
        (0.26, 9),  # eight steps
        (0.01, 9),  # never more than twice as many steps
    ],
)
def test_points_are_as_many_as_asked_and_up_to_twice_as_many_where_they_lie_far_apart(apart, count):
    np.testing.assert_allclose(Range(3.0, 1.0).points(5, apart), np.linspace(2.0, 4.0, count))


def test_a_range_moves_in_about_its_weights_by_four_sds():
    """A bell of sd 0.5 at 0.7, points 0.25 apart: sums over even points know mean and sd to many digits."""
    found, points = Range(0.0, 5.0), np.linspace(-5.0, 5.0, 41)
    assert found.narrow(points, 7.0 * norm.pdf(points, 0.7, 0.5))
    assert (found.centre, found.half) == pytest.approx((0.7, 2.0), abs=1e-6)
    assert REACH == 4.0


def test_a_range_that_is_cut_by_its_old_end_moves_its_centre():
    """Mean 3 and sd 0.9: 4 sds would reach from -0.6 to 6.6, of which the range ends at 5 at first."""
    found, points = Range(0.0, 5.0), np.linspace(-5.0, 5.0, 41)
    weights = np.where(points == 5.0, 0.0, norm.pdf(points, 3.0, 0.7))
    assert found.narrow(points, weights)
    share = weights / weights.sum()
    mean = share @ points
    sd = np.sqrt(share @ (points - mean) ** 2)
    low, high = mean - 4.0 * sd, 5.0
    assert (found.centre, found.half) == pytest.approx((0.5 * (low + high), 0.5 * (high - low)))


@pytest.mark.parametrize(
    ("spread", "close_enough", "half"),
    [
        # Weights s, 1 - 2 s, s at points 1 apart have a variance of 2 s. Two sds make a step at 1/8.
        (0.126, True, 4.0 * 0.252**0.5),
        (0.124, False, 2.0),  # 4 sds and a step would be 2.99: no more than two steps
        (0.02, False, 4.0 * 0.04**0.5 + 1.0),
        (0.0, False, 1.0),
    ],
)
def test_coarse_points_say_where_and_not_how_wide(spread, close_enough, half):
    points = np.arange(-6.0, 7.0)
    weights = np.zeros(13)
    weights[7:10] = spread, 1.0 - 2.0 * spread, spread
    found = Range(0.0, 6.0)
    assert found.narrow(points, weights) == close_enough
    assert (found.centre, found.half) == pytest.approx((2.0, half))


@pytest.mark.parametrize(
    ("edges", "centre", "half"),
    [
        # An edge of 1.2 % of the largest leans: a quarter more room on that side for each half-width.
        ((0.012, 0.0), 9.0, 3.0),
        ((0.0, 0.012), 11.0, 3.0),
        ((0.012, 0.012), 10.0, 4.0),
        ((0.0105, 0.0105), 10.0, 2.0),
    ],
)
def test_a_range_widens_where_its_weights_lean_on_an_edge(edges, centre, half):
    """By half of the half-width on that side: the other end stays where it was."""
    weights = 5.0 * np.array([edges[0], 0.3, 1.0, 0.3, edges[1]])
    for found in (Range(10.0, 2.0), Range(10.0, 2.0)):
        assert found.widen(weights) == (half > 2.0)
        assert (found.centre, found.half) == pytest.approx((centre, half))
    found = Range(10.0, 2.0)
    narrowed = found.narrow(np.linspace(8.0, 12.0, 5), weights)
    # While it leans it only widens, and is not trusted.
    assert narrowed == (half == 2.0)
    assert half == 2.0 or (found.centre, found.half) == pytest.approx((centre, half))


def test_about_moves_and_never_widens():
    found = Range(0.0, 2.0)
    found.about(1.0, 3.0)
    assert (found.centre, found.half) == (1.0, 2.0)
    found.about(-1.0, 0.5)
    assert (found.centre, found.half) == (-1.0, 0.5)


@pytest.mark.parametrize(
    ("centre", "half", "expected"),
    [(0.0, 5.0, (0.0, 2.0)), (1.0, 0.5, (1.0, 0.5)), (1.5, 1.0, (1.25, 0.75)), (-1.5, 1.0, (-1.25, 0.75))],
)
def test_within_keeps_what_both_hold(centre, half, expected):
    found = Range(0.0, 2.0)
    found.within(centre, half)
    assert (found.centre, found.half) == expected
