"""The curve of reps before the log: 1RM and endurance are not known apart from each other, and each by itself."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from workbench.answers.learned import learned_curve
from workbench.fit.filtering import OneRMPrior
from workbench.fit.marginals import LogNormal, Marginal
from workbench.fit.priors import LiftPrior
from workbench.models.load_reps import DEFAULT_CURVE

#: Three sds of the share of 20,000 draws that lie below a quantile of 10 or 90 %: 3 sqrt(0.1 x 0.9 / 20,000).
SHARE = 0.0064
DRAWS = 20_000


@pytest.fixture(scope="module")
def table():
    prior = LiftPrior(OneRMPrior(np.log(100.0), 0.1), LogNormal(np.log(0.03), 0.4), guessed=False)
    points = np.log(100.0) + np.linspace(-0.04, 0.04, 9)
    one_rm = Marginal(points, np.exp(-0.5 * np.linspace(-4, 4, 9) ** 2))

    def draws(count, rng):
        known = np.full((count, 1), np.log(100.0))
        return SimpleNamespace(log_one_rm=known, endurance=np.full((count, 1), 0.03), bend=None)

    learned = SimpleNamespace(
        exercises=("back squat",),
        fit=SimpleNamespace(lifts=[SimpleNamespace(prior=prior)], curve=DEFAULT_CURVE),
        one_rm=lambda _: one_rm,
        lifter=SimpleNamespace(bend=lambda _: None),
    )
    learned.draws = draws
    return learned_curve(learned, "back squat", draws=DRAWS, seed=2)


def test_the_curve_runs_from_half_of_the_1rm_to_all_of_it(table):
    assert table["percent"].iloc[[0, -1]].tolist() == pytest.approx([50.0, 100.0])
    assert table["load_kg"].iloc[[0, -1]].tolist() == pytest.approx([50.0, 100.0], rel=1e-6)


def test_the_band_before_the_log_is_that_of_two_independent_normals(table):
    """The chance of fewer than r reps at 80 %: the mean over endurances of that of a 1RM, by the trapezoidal rule."""
    row = table.iloc[24]
    assert row["percent"] == pytest.approx(80.0)
    z = np.linspace(-6, 6, 2001)
    endurance = 0.03 * np.exp(0.4 * z)
    for level in (0.1, 0.9):
        # r reps take a log 1RM of ln 80 + k (r - 1), and the log 1RM is normal about ln 100 with sd 0.1.
        highest = np.log(0.8) + endurance * (row[f"before_p{100 * level:.0f}"] - 1.0)
        below = np.trapezoid(norm.cdf(highest / 0.1) * norm.pdf(z), z)
        assert below == pytest.approx(level, abs=SHARE)
    # Without a doubt left: 1 + ln(1 / 0.8) / 0.03.
    assert row["after_p10"] == pytest.approx(8.438, abs=0.001)
