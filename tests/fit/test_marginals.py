"""Distributions on even points against those of the library, and against limits worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit.marginals import LogNormal, Marginal, Normal, gaussian_kernel, moments, refine

#: Sums of a few numbers of size one.
ROUNDING = 1e-12
#: Points half an sd apart, out to six sds.
POINTS = np.linspace(-6.0, 6.0, 25)
#: A log density drawn through such points is off by less.
GRID = 1e-3


def test_tails_take_their_share_and_lie_so_many_times_as_far_out():
    """One in twenty lies twice, one in fifty five times as far out: as the sum of three normal densities."""
    wide = LogNormal(1.0, 0.2, ((0.05, 2.0), (0.02, 5.0)))
    x = np.linspace(-1.0, 3.0, 9)
    parts = np.stack([share * norm.pdf(x, 1.0, sd) for share, sd in ((0.93, 0.2), (0.05, 0.4), (0.02, 1.0))])
    np.testing.assert_allclose(wide.weights(x), parts.sum(axis=0) * np.sqrt(2.0 * np.pi), rtol=ROUNDING)
    # The normal distribution with the same slope of the log density: precision times distance is that slope.
    slope = (parts / np.array([[0.2], [0.4], [1.0]]) ** 2).sum(axis=0) / parts.sum(axis=0)
    np.testing.assert_allclose(wide.precision(x), slope, rtol=ROUNDING)
    moved = wide.weights(x, np.full(9, 1.5), 0.1)
    again = [share * norm.pdf(x, 1.5, sd) for share, sd in ((0.93, 0.1), (0.05, 0.2), (0.02, 0.5))]
    np.testing.assert_allclose(moved, np.sum(again, axis=0) * np.sqrt(2.0 * np.pi), rtol=ROUNDING)


def test_a_mean_moves_with_each_of_the_others():
    """Half of what the first is above 0.1, less twice what the second is above -1: 2 + 0.5 * 0.2 - 2 * 3."""
    prior = LogNormal(2.0, 0.5, moves=((0.5, 0.1), (-2.0, -1.0)), left_sd=0.3)
    mean, sd = prior.given(np.array([0.3]), np.array([2.0]))
    assert mean == pytest.approx([-3.9])
    assert sd == 0.3
    # One that moves with nothing has its mean, and no such sd.
    mean, sd = LogNormal(2.0, 0.5).given()
    assert mean == 2.0
    assert np.isnan(sd)


@pytest.mark.parametrize("sd", [0.0, 0.1, 0.59, 0.6, 0.61, 1.0, 2.0])
def test_a_kernel_keeps_all_that_there_is_and_spreads_it_by_its_sd(sd):
    """Amid many points, a step of 2 apart, the rows' variance is that of the sd, also where it is below a step."""
    points = 2.0 * np.arange(41)
    kernel = gaussian_kernel(points, 2.0 * sd)
    np.testing.assert_allclose(kernel.sum(axis=1), 1.0, rtol=ROUNDING)
    mean, variance = moments(points, kernel[20])
    assert mean == pytest.approx(40.0)
    # A bell on whole steps has less variance by 8 pi^2 sd^2 e^(-2 pi^2 sd^2) of it (Poisson's sum, its first term).
    less = 8.0 * np.pi**2 * sd**2 * np.exp(-2.0 * np.pi**2 * sd**2) if sd >= 0.6 else 0.0
    assert variance == pytest.approx((2.0 * sd) ** 2 * (1.0 - less), rel=1e-4, abs=ROUNDING)
    # Near the edge nothing leaks out and nothing comes from outside.
    assert (kernel >= 0.0).all()
    assert kernel[0, 0] >= kernel[20, 20]


def test_moments_by_hand():
    """Weights 1, 1 and 2 at 0, 2 and 5: mean 3, variance (9 + 1 + 2 * 4) / 4."""
    assert moments(np.array([0.0, 2.0, 5.0]), np.array([1.0, 1.0, 2.0])) == pytest.approx((3.0, 4.5))


def test_a_marginal_of_a_normal_on_coarse_points():
    found = Marginal(0.1 * POINTS + 3.0, 7.0 * norm.pdf(POINTS))
    assert (found.mean, found.sd) == pytest.approx((3.0, 0.1), abs=1e-6)
    levels = np.array([0.01, 0.1, 0.5, 0.9, 0.99])
    np.testing.assert_allclose(found.log_quantile(levels), 3.0 + 0.1 * norm.ppf(levels), atol=0.1 * GRID * 10)
    np.testing.assert_allclose(found.quantile(levels), np.exp(3.0 + 0.1 * norm.ppf(levels)), rtol=0.1 * GRID * 10)
    for score in (-2.3, -1.0, 0.0, 0.4, 1.9):
        assert found.below(3.0 + 0.1 * score) == pytest.approx(norm.cdf(score), abs=GRID)
    assert (found.below(-9.0), found.below(9.0)) == (0.0, 1.0)


def test_a_marginal_that_leans_one_way():
    """Even weights from 0 to 1: quantiles are the levels; weights that rise as a line cannot be below the middle."""
    points = np.linspace(0.0, 1.0, 11)
    np.testing.assert_allclose(Marginal(points, np.ones(11)).log_quantile([0.0, 0.3, 1.0]), [0.0, 0.3, 1.0], atol=1e-9)
    # e^(3x) up to 1: below x lies (e^(3x) - 1) / (e^3 - 1); the log is a line, which is drawn exactly.
    rising = Marginal(points, np.exp(3.0 * points))
    assert rising.below(0.7) == pytest.approx(np.expm1(2.1) / np.expm1(3.0), abs=GRID)
    assert rising.log_quantile(0.5) == pytest.approx(np.log1p(0.5 * np.expm1(3.0)) / 3.0, abs=GRID)


@pytest.mark.parametrize("scale", [1e-40, 1e40])
def test_only_the_shape_of_the_weights_counts(scale):
    found = Marginal(POINTS, scale * norm.pdf(POINTS))
    assert found.log_quantile(0.9) == pytest.approx(norm.ppf(0.9), abs=10 * GRID)
    assert (found.mean, found.sd) == pytest.approx((0.0, 1.0), abs=1e-6)


def test_points_without_weight_are_as_good_as_none():
    found = Marginal(np.linspace(0.0, 1.0, 11), np.array([0, 0, 0, 0, 1.0, 1.0, 1.0, 0, 0, 0, 0]))
    assert found.log_quantile(0.5) == pytest.approx(0.5, abs=ROUNDING)
    assert found.below(0.3) == pytest.approx(0.0, abs=1e-6)
    assert found.below(0.7) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("sd", [0.02, 0.1, 0.3])
def test_a_normal_scatter_adds_in_squares(sd):
    found = Marginal(0.1 * POINTS, norm.pdf(POINTS)).widened(sd)
    assert found.weights.sum() == pytest.approx(norm.pdf(POINTS).sum(), rel=1e-9)
    assert (found.mean, found.sd) == pytest.approx((0.0, np.hypot(0.1, sd)), abs=1e-5)
    assert found.log_points[1] - found.log_points[0] == pytest.approx(0.05)
    # Four sds of the scatter are room enough on either side, up to the next step.
    assert 0.6 + 4.0 * sd - 1e-9 <= found.log_points[-1] < 0.6 + 4.0 * sd + 0.05
    assert found.log_points[0] == pytest.approx(-found.log_points[-1])


def test_no_scatter_leaves_a_marginal_as_it_is():
    found = Marginal(POINTS, norm.pdf(POINTS))
    assert found.widened(0.0) is found


def test_finer_points_of_a_parabola_lie_on_it():
    """Four points for each, ends kept, along the axis that is asked for."""
    coarse = np.linspace(-2.0, 2.0, 5)
    logs = np.stack([-(coarse**2), 1.0 - 0.5 * coarse**2])
    fine, found = refine(coarse, logs, 1, 4)
    np.testing.assert_allclose(fine, np.linspace(-2.0, 2.0, 17))
    np.testing.assert_allclose(found, np.stack([-(fine**2), 1.0 - 0.5 * fine**2]), atol=ROUNDING)
    np.testing.assert_allclose(refine(coarse, logs.T, 0, 4)[1], found.T, atol=ROUNDING)


def test_quantiles_of_a_normal_of_the_quantity_itself():
    np.testing.assert_allclose(Normal(-1.0, 3.0).quantile([0.1, 0.5, 0.975]), norm.ppf([0.1, 0.5, 0.975], -1.0, 3.0))
