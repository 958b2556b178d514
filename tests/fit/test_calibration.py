"""Simulation-based calibration: lifters drawn from the prior, logs simulated in plain steps, the truth looked for.

Where the fit is right, the true value falls below any posterior quantile as often as that quantile says. The full run,
300 lifters: ``python -m tests.fit.test_calibration 300``.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest
from scipy.stats import binom, chi2

from tests.simulated_logs import invented_lifter, simulated_log
from workbench.fit import fit_log

pytestmark = pytest.mark.usefixtures("compiled_sets")

EXERCISES = ["back squat", "bench press", "barbell bench pull", "lat pulldown", "leg press"]
QUANTITIES = ("1RM", "endurance", "recovery rate", "carry-over")
#: A right fit is called wrong in one of 1,000 runs, for each of the checks.
ALPHA = 0.001


def one_lifter(seed):
    """Return where the truth lies in the posterior of each quantity: 0 at its bottom, 1 at its top."""
    rng = np.random.default_rng([7, seed])
    exercises = [str(name) for name in rng.choice(EXERCISES, size=int(rng.integers(1, 4)), replace=False)]
    lifter, truth = invented_lifter(rng, exercises)
    log = simulated_log(rng, lifter, truth, sessions=int(rng.integers(4, 17)))
    learned = fit_log(log, lifter)
    name = exercises[-1]  # the one that the others tire most
    return (
        learned.one_rm(name).below(truth.log_one_rm[name]),
        learned.endurance(name).below(np.log(truth.endurance[name])),
        learned.recovery_rate.below(np.log(truth.recovery_rate)),
        np.nan if learned.carry_over is None else learned.carry_over.learned.below(np.log(truth.carry_over)),
    )


def ranks(count):
    return np.array([one_lifter(seed) for seed in range(count)])


def chi_square(column, bins=10):
    """Chance of ranks at least as uneven, if they are uniform."""
    heights = np.histogram(column, bins, (0, 1))[0]
    expected = column.size / bins
    return float(chi2.sf(((heights - expected) ** 2 / expected).sum(), bins - 1))


@pytest.mark.slow
def test_true_values_are_spread_evenly_over_the_posterior():
    count = 80
    found = ranks(count)
    for name, with_gaps in zip(QUANTITIES, found.T, strict=True):
        # Not every log has exercises that share muscles.
        column = with_gaps[np.isfinite(with_gaps)]
        assert chi_square(column, bins=8) > ALPHA, name
        covered = int(((column > 0.1) & (column < 0.9)).sum())
        low, high = binom.ppf([ALPHA / 2, 1 - ALPHA / 2], column.size, 0.8)
        assert low <= covered <= high, f"{name}: {covered} of {column.size} in the 80 % interval"


def test_the_checks_can_fail():
    """Posteriors half as wide as they should be, or off by one sd, do not pass."""
    z = np.random.default_rng(1).standard_normal(300)
    from scipy.special import ndtr

    assert chi_square(ndtr(z)) > ALPHA
    assert chi_square(ndtr(2 * z)) < ALPHA
    assert chi_square(ndtr(z + 1)) < ALPHA


def main(count):
    """Print the full run."""
    found = ranks(count)
    for name, with_gaps in zip(QUANTITIES, found.T, strict=True):
        column = with_gaps[np.isfinite(with_gaps)]
        inside = ((column > 0.1) & (column < 0.9)).mean()
        heights = np.histogram(column, 10, (0, 1))[0].tolist()
        print(f"{name:<14} {column.size} lifters, in the 80 % interval {inside:.1%}, ", end="")
        print(f"chi-square p {chi_square(column):.2f}, ranks {heights}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
