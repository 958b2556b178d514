"""Days of one exercise against the covariance of a random walk."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit import FitSettings
from workbench.fit.filtering import OneRMPrior
from workbench.fit.lift_days import LiftDays

#: The same sums in another order; of matrices some 1e4 wide.
ROUNDING = 1e-7
DAY_0 = datetime.date(2026, 1, 5)


def on(day):
    return DAY_0 + datetime.timedelta(days=day)


#: Sessions of two exercises, of which the second is looked at: days 3, 7 and 20.
SETS = SimpleNamespace(lift=np.array([0, 1, 0, 1, 1]), dates=[on(day) for day in (0, 3, 5, 7, 20)])
SETTINGS = FitSettings(day_sd=0.03, drift_sd=0.012)
TAILS = ((0.06, 2.5),)
LOG_ONE_RM = np.log(107.0)

#: Day on which the 1RM was tested, today; weeks of gain at each session; days of walk from the test to each and today.
TESTED = [
    (None, 20, (0, 4, 17), (0, 4, 17, 17)),
    (None, 30, (0, 4, 17), (0, 4, 17, 27)),
    (-11, 30, (0, 4, 17), (14, 18, 31, 41)),
    (3, 20, (0, 4, 17), (0, 4, 17, 17)),
    (5, 21, (-2, 2, 15), (-2, 2, 15, 16)),
    (20, 24, (-17, -13, 0), (-17, -13, 0, 4)),
    (23, 30, (-17, -13, 0), (-20, -16, -3, 7)),
    (99, 30, (-17, -13, 0), (-27, -23, -10, 0)),
]


def days_of(tested, today, settings=SETTINGS):
    prior = OneRMPrior(np.log(100.0), 0.04, TAILS, None if tested is None else on(tested))
    other = SimpleNamespace(one_rm=OneRMPrior(0.0, 1.0))
    believed = SimpleNamespace(priors=[other, SimpleNamespace(one_rm=prior)], settings=settings, today=on(today))
    return LiftDays.of(SETS, 1, believed, LOG_ONE_RM), prior


def walked(walk, prior, settings=SETTINGS):
    """Covariance of the strengths of the days and the usual 1RM today: what is common to two walks from the test."""
    count = len(walk)
    found = np.full((count, count), 1.0 / float(prior.precision(np.array(LOG_ONE_RM))))
    for i, j in itertools.product(range(count), repeat=2):
        if walk[i] * walk[j] > 0:
            found[i, j] += settings.drift_sd**2 * min(abs(walk[i]), abs(walk[j])) / 7.0
        if i == j < count - 1:
            found[i, j] += settings.day_sd**2
    return found


@pytest.mark.parametrize(("tested", "today", "gained", "walk"), TESTED)
def test_days_know_of_each_other_as_by_a_random_walk_from_the_test(tested, today, gained, walk):
    days, prior = days_of(tested, today)
    assert days.columns.tolist() == [1, 3, 4]
    np.testing.assert_allclose(days.weeks, np.array(gained) / 7.0, atol=1e-12)
    assert days.expected == np.log(100.0)
    np.testing.assert_array_equal(days.at, [LOG_ONE_RM] * 4 + [0.0] * 3)
    covariance = walked(walk, prior)
    bend = np.array([900.0, 0.0, 2500.0])  # a day of which no set speaks among them
    asked = np.random.default_rng(1).standard_normal((4, 3))
    solved, narrowed = days.solve(bend, asked)
    # Without an inverse: (C^-1 + D)^-1 = (I + C D)^-1 C.
    spread = np.linalg.solve(np.eye(4) + covariance * [*bend, 0.0], covariance)
    np.testing.assert_allclose(solved, spread @ asked, rtol=ROUNDING, atol=1e-12)
    assert narrowed == pytest.approx(np.linalg.slogdet(np.eye(4) + covariance * [*bend, 0.0])[1], rel=ROUNDING)


@pytest.mark.parametrize(("tested", "today", "gained", "walk"), TESTED)
def test_how_unlikely_days_are(tested, today, gained, walk):
    """Strengths off by their covariance, rests by themselves; the 1RM today is in no session."""
    days, prior = days_of(tested, today)
    off, rests = np.array([0.05, -0.02, 0.03]), np.array([0.4, -1.0, 0.2])
    days.at = np.concatenate([np.log(100.0) + off, [77.0], rests])
    expected = off @ np.linalg.solve(walked(walk, prior)[:3, :3], off) + 0.16 + 1.0 + 0.04
    assert days.unlikely() == pytest.approx(expected, rel=ROUNDING)


def test_days_and_weeks_taken_as_exact_differ_by_a_hundred_thousandth():
    settings = replace(SETTINGS, day_sd=0.0, drift_sd=0.0)
    days, prior = days_of(5, 21, settings)
    covariance = walked((-2, 2, 15, 16), prior, replace(SETTINGS, day_sd=1e-5, drift_sd=1e-5))
    solved, _ = days.solve(np.array([900.0, 0.0, 2500.0]), np.eye(4))
    spread = np.linalg.solve(np.eye(4) + covariance * [900.0, 0.0, 2500.0, 0.0], covariance)
    np.testing.assert_allclose(solved, spread, rtol=1e-4)
    # Each day is as good as the same, and yet one of its own: of a day, and of the walk of 2 days and of one.
    alone = days.solve(np.zeros(3), np.eye(4))[0]
    assert alone[0, 0] - alone[0, 3] == pytest.approx(1e-10 * (1.0 + 2.0 / 7.0), rel=0.02)
    assert alone[2, 2] - alone[3, 2] == pytest.approx(1e-10, rel=0.02)
    assert alone[3, 3] - alone[2, 3] == pytest.approx(1e-10 / 7.0, rel=0.02)
