"""Many invented gyms without logs: what lifters say is their truth with an error of known size.

With logs, which take their time: ``python -m tests.fit.gym_simulated``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from tests.calibration.people import parameter
from tests.fit.gym_people import CLASSES, drawn_gym
from tests.fit.gym_simulated import numbers_against_truth
from workbench.fit.gym_member import Member
from workbench.fit.gym_prior import fit_gym
from workbench.fit.gym_published import Published
from workbench.reference.parameters import endurance_prior, recovery_of_lifter

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: Errors of a month's log: of log endurance, of the log recovery rate, of the bias of stated reserves.
ERRORS = (0.12, 0.3, 0.5)
GYMS, NEW, DRAWS = 40, 20, 300


def lifter_of(gym, rng):
    """Draw classes of two exercises, log endurance, log recovery rate and bias of a lifter."""
    classes = [str(name) for name in rng.choice(CLASSES, 2, replace=False)]
    common, own, other, free, bias = rng.standard_normal(5)
    spreads = gym.times * np.array([parameter("endurance", name)["spread"] for name in classes])
    middles = np.array([gym.middle[name] for name in classes])
    log_endurance = middles + spreads * math.sqrt(0.5) * (common + np.array([own, other]))
    log_rate = gym.rate + gym.rate_sd * (gym.tie * common + math.sqrt(1 - gym.tie**2) * free)
    return classes, log_endurance, log_rate, gym.reserve + gym.reserve_sd * bias


def member_seen(truth, rng):
    """Return what such a log leaves possible: the truth seen with an error, and every value as likely beforehand."""
    classes = truth[0]
    seen = [
        value + error * rng.standard_normal(np.shape(value)) for value, error in zip(truth[1:], ERRORS, strict=True)
    ]
    draws = [
        one + error * rng.standard_normal((DRAWS, *np.shape(one))) for one, error in zip(seen, ERRORS, strict=True)
    ]
    return Member(tuple(classes), *draws, np.zeros(DRAWS), is_woman=False, sets=1, states_reserve=True)


def log_score(truth, prior):
    """Log density of a new lifter's first endurance and recovery rate, in a gym's numbers or the published ones."""
    classes, log_endurance, log_rate, _ = truth
    published, recovery = endurance_prior(classes[0]), recovery_of_lifter("male")
    usual, rate = (published.median, published.log_sd), (recovery.median, recovery.log_sd)
    if prior is not None:
        usual, rate = prior.endurance_of(classes[0]), prior.recovery_of("male")
    both = ((log_endurance[0], usual), (log_rate, rate))
    return sum(norm.logpdf(value, math.log(median), log_sd) for value, (median, log_sd) in both)


@pytest.mark.slow
@pytest.mark.parametrize("count", [3, 30])
def test_the_truth_of_a_gym_is_found_and_a_new_lifter_is_better_foretold(count):
    published, ranks, better = Published.of(), {}, []
    for number in range(GYMS):
        rng = np.random.default_rng([17, count, number])
        gym = drawn_gym(rng)
        fit = fit_gym([member_seen(lifter_of(gym, rng), rng) for _ in range(count)], published=published)
        for name, rank, _ in numbers_against_truth(fit, gym):
            ranks.setdefault(name, []).append((number, 0.1 < rank < 0.9))
        new = [lifter_of(gym, rng) for _ in range(NEW)]
        better.append(np.mean([log_score(one, fit.prior) - log_score(one, None) for one in new]))
    for name, found in ranks.items():
        if name == "tie":  # the published middle in every gym, where 80 % intervals hold more than 80 %
            continue
        by_gym = [np.mean([inside for gym, inside in found if gym == number]) for number in range(GYMS)]
        # Three standard errors over gyms, and 4 % for draws from a curvature in place of the whole.
        margin = 3.0 * float(np.std(by_gym)) / math.sqrt(GYMS) + 0.04
        assert abs(np.mean(by_gym) - 0.8) < margin, (name, np.mean(by_gym))
    # Never worse on average, by more than two standard errors over gyms.
    se = np.std(better) / math.sqrt(GYMS)
    assert np.mean(better) > 2.0 * se, (np.mean(better), se)


if __name__ == "__main__":
    for lifters in (3, 30):
        test_the_truth_of_a_gym_is_found_and_a_new_lifter_is_better_foretold(lifters)
