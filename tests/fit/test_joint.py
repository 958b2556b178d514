"""Exercises put together against normal distributions, of which all is known in closed form."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit.joint import combine
from workbench.fit.marginals import LogNormal

#: Sums over 15 nodes of the shared part and points a quarter of an sd apart: good to far less than this, in sds.
GRID = 2e-3
#: What exercises share of the variance of log endurance.
SHARED = 0.5
RATE_SD, SQUAT_SD, PRESS_SD = 0.6, 0.3, 0.4
LOG_RATE = np.linspace(-5.0, 5.0, 41) * RATE_SD + 0.2


def lift(middle, sd, told=None, told_sd=np.inf, **moves):
    """An exercise of which the log tells a log endurance with a normal error, whatever the recovery rate."""
    points = middle + sd * np.linspace(-5.0, 5.0, 41)
    evidence = np.zeros(41) if told is None else -0.5 * ((points - told) / told_sd) ** 2
    return SimpleNamespace(
        prior=SimpleNamespace(endurance=LogNormal(middle, sd, **moves)),
        grid=SimpleNamespace(log_endurance=points),
        filtered=SimpleNamespace(log_evidence=np.tile(evidence, (41, 1))),
    )


def means(joint, *lifts):
    """Mean of the shared part, the log rate, and the log endurance of each exercise."""
    nodes = np.polynomial.hermite_e.hermegauss(15)[0]
    of_lifts = [weights.sum(axis=0) @ one.grid.log_endurance for weights, one in zip(joint.lifts, lifts, strict=True)]
    return np.array([joint.shared.sum(axis=1) @ nodes, joint.rate @ joint.log_rate, *of_lifts])


def test_what_one_exercise_tells_of_all_others_and_of_recovery():
    """A squat told at 1.5 sds above its middle, with an error of half an sd.

    Of the vector (shared, rate, squat, press), standard normal but for their sds, a squat goes by root one half with
    what is shared, and by so much more with the others as these do. The conditional mean of normal distributions is
    covariance with the squat over its variance and the error's, times how far it was told.
    """
    tie = 0.7  # of the rate with what is shared
    rate = LogNormal(0.2, RATE_SD, moves=((tie * RATE_SD, 0.0),), left_sd=RATE_SD * np.sqrt(1.0 - tie**2))
    squat = lift(-3.5, SQUAT_SD, told=-3.5 + 1.5 * SQUAT_SD, told_sd=0.5 * SQUAT_SD)
    press = lift(-3.6, PRESS_SD)
    found = combine([squat, press], rate, LOG_RATE)
    with_squat = np.array([np.sqrt(SHARED), tie * np.sqrt(SHARED) * RATE_SD, SQUAT_SD, SHARED * PRESS_SD])
    expected = np.array([0.0, 0.2, -3.5, -3.6]) + with_squat * 1.5 / 1.25
    np.testing.assert_allclose(means(found, squat, press), expected, atol=GRID)
    np.testing.assert_allclose([found.shared.sum(), *(w.sum() for w in found.lifts)], 1.0)
    # An exercise of which nothing is told goes by the shared part alone, whatever the rate.
    at_nodes = found.given_shared[1] @ press.grid.log_endurance
    nodes = np.polynomial.hermite_e.hermegauss(15)[0]
    amid = np.abs(nodes) < 3.0
    expected = -3.6 + np.sqrt(SHARED) * PRESS_SD * nodes[amid]
    np.testing.assert_allclose(at_nodes[amid], np.tile(expected[:, None], 41), atol=GRID)


def test_endurance_that_goes_with_the_rate_of_its_own():
    """What a file keeps: endurance moves by 0.3 for each of shared and by -0.5 for each of the log rate about 0.2."""
    rate = LogNormal(0.2, RATE_SD)
    press = lift(-3.6, PRESS_SD, moves=((0.3, 0.0), (-0.5, 0.2)), left_sd=0.1)
    found = combine([press], rate, LOG_RATE)
    np.testing.assert_allclose(means(found, press), [0.0, 0.2, -3.6], atol=GRID)
    spread = press.grid.log_endurance + 3.6
    variance = found.lifts[0].sum(axis=0) @ spread**2
    assert variance == pytest.approx(0.3**2 + (0.5 * RATE_SD) ** 2 + 0.1**2, rel=0.01)
    together = (found.lifts[0] @ spread) @ (LOG_RATE - 0.2)
    assert together == pytest.approx(-0.5 * RATE_SD**2, rel=0.01)


@pytest.mark.parametrize("kept", [False, True])
def test_all_that_is_possible_added_up_point_by_point(kept):
    """Every shared part, rate and endurance of two exercises, one by one; also where a file kept what moves."""
    tied = {"moves": ((0.3 * RATE_SD, 0.0),), "left_sd": 0.9 * RATE_SD} if kept else {}
    moves = {"moves": ((0.2, 0.0), (-0.3, 0.2)), "left_sd": 0.2} if kept else {}
    rate = LogNormal(0.2, RATE_SD, ((0.03, 2.5),), **tied)
    lifts = [lift(-3.5, SQUAT_SD, -3.3, 0.2, **moves), lift(-3.6, PRESS_SD, -3.9, 0.3, **moves)]
    for number, one in enumerate(lifts):  # and the rate counts too
        one.filtered.log_evidence = one.filtered.log_evidence - 30.0 + 0.3 * (1 + number) * LOG_RATE[:, None]
    found = combine(lifts, rate, LOG_RATE)
    nodes, shares = np.polynomial.hermite_e.hermegauss(15)
    shares = shares / shares.sum()
    chance, given = np.zeros((15, 41)), np.zeros((2, 15, 41, 41))
    for node, at in np.ndindex(15, 41):
        point = LOG_RATE[at : at + 1]
        of_rate = rate.weights(point, 0.2 + 0.3 * RATE_SD * nodes[node], 0.9 * RATE_SD) if kept else rate.weights(point)
        chance[node, at] = shares[node] * of_rate[0]
        for number, one in enumerate(lifts):
            middle, sd = one.prior.endurance.log_mean, one.prior.endurance.log_sd
            middle, sd = middle + np.sqrt(SHARED) * sd * nodes[node], np.sqrt(1.0 - SHARED) * sd
            if kept:
                middle, sd = one.prior.endurance.log_mean + 0.2 * nodes[node] - 0.3 * (LOG_RATE[at] - 0.2), 0.2
            believed = LogNormal(middle, sd).weights(one.grid.log_endurance)
            given[number, node, at] = believed * np.exp(one.filtered.log_evidence[at])
            chance[node, at] *= given[number, node, at].sum()
    assert found.log_evidence == pytest.approx(np.log(chance.sum()), rel=1e-10)
    np.testing.assert_allclose(found.shared, chance / chance.sum(), rtol=1e-9, atol=1e-200)
    given /= given.sum(axis=-1, keepdims=True)
    for number in range(2):
        np.testing.assert_allclose(found.given_shared[number], given[number], rtol=1e-9, atol=1e-200)
        both = np.einsum("nr,nre->re", chance / chance.sum(), given[number])
        np.testing.assert_allclose(found.lifts[number], both, rtol=1e-9, atol=1e-200)
    np.testing.assert_allclose(found.rate, chance.sum(axis=0) / chance.sum(), rtol=1e-9)


def test_logs_of_evidence_count_up_to_a_factor_which_is_kept():
    squat = lift(-3.5, SQUAT_SD, told=-3.4, told_sd=0.2)
    lower = lift(-3.5, SQUAT_SD, told=-3.4, told_sd=0.2)
    lower.filtered.log_evidence = lower.filtered.log_evidence - 1000.0
    usual, found = (combine([one], LogNormal(0.2, RATE_SD), LOG_RATE) for one in (squat, lower))
    np.testing.assert_allclose(found.shared, usual.shared, atol=1e-12)
    assert found.log_evidence == pytest.approx(usual.log_evidence - 1000.0, abs=1e-9)


def test_a_log_that_tells_much_more_than_numbers_can_hold():
    """Points whose probabilities differ by e^1400 from each other: the farthest are as good as none."""
    sure = lift(-3.5, SQUAT_SD, told=-3.4, told_sd=0.03)
    assert np.ptp(sure.filtered.log_evidence) > 1400.0
    found = combine([sure], LogNormal(0.2, RATE_SD), LOG_RATE)
    assert found.lifts[0].sum() == pytest.approx(1.0)
    # The point next to what was told, 0.025 below it, and the one 0.05 above: -3.425 and -3.35.
    assert found.lifts[0].sum(axis=0) @ sure.grid.log_endurance == pytest.approx(-3.41, abs=0.02)
