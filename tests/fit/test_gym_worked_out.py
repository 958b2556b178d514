"""A gym's numbers step by step, each against a form of its own: by hand, by finite steps, by sums over lifters."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
import scipy
from scipy.stats import norm

from tests.fit.test_gym_prior import USUAL, by_chance, evidence_slowly, known, published
from workbench.fit.gym_member import Behind
from workbench.fit.gym_prior import GymFit, Gyms, _curvature, _Evidence, _middle, fit_gym
from workbench.lifter.belief import TENTH
from workbench.quantities import InputError

#: Of numbers said to four digits, half of the last one.
DIGITS = 5e-4
#: Places of the numbers of a gym, before one for each class of exercise.
PLACES = ("endurance", "times", "rate", "rate_sd", "women", "tie", "reserve", "reserve_sd")
NUMBERS = len(PLACES)


def size():
    return NUMBERS + len(published().classes)


# The numbers of a gym, from sds of what is believed of gyms


def test_numbers_of_a_gym_are_so_many_sds_from_the_published_ones():
    """Half of what gyms differ by is alike in all classes, half their own; half of the bias is the gym's."""
    p, z = published(), np.random.default_rng(1).standard_normal(size())
    found = Gyms.of(z, p)
    for at, own in enumerate(z[NUMBERS:]):
        both = math.sqrt(0.5) * z[0] + math.sqrt(0.5) * own
        assert found.middle[at] == pytest.approx(p.middle[at] + p.between_gyms[at] * both)
    assert found.times == pytest.approx(math.exp(0.3 * z[1] - 0.09))
    assert found.rate == pytest.approx(p.rate + p.rate_between_gyms * z[2])
    assert found.rate_sd == pytest.approx(p.rate_between_lifters * math.exp(0.3 * z[3] - 0.09))
    assert found.women == pytest.approx(p.women_between_gyms * z[4])
    assert found.tie == pytest.approx(math.tanh(p.tie + p.tie_sd * z[5]))
    assert found.reserve == pytest.approx(p.reserve_sd * math.sqrt(0.5) * z[6])
    assert found.reserve_sd == pytest.approx(p.reserve_sd * math.sqrt(0.5) * math.exp(0.3 * z[7] - 0.09))


def test_several_gyms_are_each_as_one():
    z = np.random.default_rng(2).standard_normal((3, size()))
    together = Gyms.of(z, published())
    for row, each in enumerate(z):
        one = Gyms.of(each, published())
        for name, value in vars(one).items():
            np.testing.assert_allclose(vars(together)[name][row], value, rtol=1e-12)


def test_gyms_of_which_nothing_is_known_differ_from_lifter_to_lifter_as_is_published():
    """The mean square of a spread is the published one, and gyms and their lifters share out the published bias."""
    p = published()
    nodes, weights = np.polynomial.hermite_e.hermegauss(20)
    weights = weights / weights.sum()
    for place, name, square in ((1, "times", 1.0), (3, "rate_sd", p.rate_between_lifters**2), (7, "reserve_sd", 0.245)):
        z = np.zeros((nodes.size, size()))
        z[:, place] = nodes
        assert weights @ getattr(Gyms.of(z, p), name) ** 2 == pytest.approx(square)
    z = np.zeros((nodes.size, size()))
    z[:, 6] = nodes
    assert weights @ Gyms.of(z, p).reserve ** 2 == pytest.approx(0.7**2 - 0.245)


# The evidence


@functools.cache
def some_members():
    rng = np.random.default_rng(3)
    classes = (("squat", "arm curl", "hinge"), ("hinge",), ("hinge", "squat"), ("squat", "squat"))
    return [by_chance(rng, names, 6, rng.random(6)) for names in classes]


@pytest.mark.parametrize("unusual", [USUAL, (0.0, 2.5), (0.4, 1.7)])
def test_the_log_evidence_is_complete_but_for_factors_of_the_normal_distribution(unusual):
    """Of m exercises, m + 2 times ln(2 pi) / 2 are left out, and m times ln(2) / 2 of their own halves of variance."""
    rng, (chance, times) = np.random.default_rng(4), unusual
    evidence = _Evidence(some_members(), published(), unusual)
    z = rng.standard_normal(evidence.used.size)
    gym = Gyms.of(evidence.full(z), published())
    total = 0.0
    for member in some_members():
        usual, far = evidence_slowly(member, gym, 1.0), evidence_slowly(member, gym, times)
        total += math.log((1.0 - chance) * usual + chance * far)
        count = len(member.classes)
        total += 0.5 * (count + 2) * math.log(2.0 * math.pi) - 0.5 * count * math.log(2.0)
    assert evidence(z)[0] == pytest.approx(0.5 * z @ z - total, rel=1e-10)


def test_numbers_that_no_log_speaks_of_are_left_out():
    p = published()
    men = [known(("squat", "hinge"), [-3.5, -3.6], 0.1)]
    evidence = _Evidence(men, p, USUAL)
    places = sorted(NUMBERS + p.classes.index(name) for name in ("squat", "hinge"))
    assert evidence.used.tolist() == [0, 1, 2, 3, 5, 6, 7, *places]
    full = evidence.full(np.arange(1.0, 10.0))
    assert full[evidence.used].tolist() == list(range(1, 10))
    assert full.shape == (size(),)
    assert np.count_nonzero(full) == 9
    women = [known(("squat",), [-3.5], 0.1, woman=True)]
    assert _Evidence(women, p, USUAL).used.tolist() == [*range(NUMBERS), NUMBERS + p.classes.index("squat")]


# The likeliest, the curvature and the middle


#: A valley that bends as ``A`` and is not even: a cubic along ``ALONG``.
A = np.array([[3.0, 1.0, 0.5], [1.0, 2.0, -0.4], [0.5, -0.4, 1.5]])
ALONG = np.array([0.6, -0.3, 0.8])


def valley(skew):
    def value_and_slope(z):
        along = ALONG @ z
        return 0.5 * z @ A @ z + skew / 6.0 * along**3, A @ z + 0.5 * skew * along**2 * ALONG

    return value_and_slope


def test_the_curvature_is_that_of_the_valley():
    z = np.array([0.3, -0.2, 0.5])
    assert _curvature(valley(0.7), z) == pytest.approx(A + 0.7 * (ALONG @ z) * np.outer(ALONG, ALONG), abs=1e-8)


@pytest.mark.parametrize("skew", [0.5, -0.4])
def test_the_middle_lies_where_there_is_more_room(skew):
    """The trace of covariance and curvature rises by skew times a'Ca along a; half of that, through C."""
    covariance = np.linalg.inv(A)
    likeliest = np.array([0.1, 0.2, -0.1])
    expected = likeliest - 0.5 * covariance @ ALONG * skew * (ALONG @ covariance @ ALONG)
    assert _middle(valley(skew), likeliest, covariance) == pytest.approx(expected, abs=1e-9)


def test_the_middle_is_the_mean_of_what_is_possible_to_first_order():
    """Density exp(-z^2 / 2 - skew z^3 / 6), by a sum over points: the error is of the third power of the skew."""
    z = np.linspace(-5.0, 5.0, 4001)
    for skew in (0.02, 0.05):
        weights = np.exp(-0.5 * z**2 - skew / 6.0 * z**3)
        mean = weights @ z / weights.sum()

        def line(at, skew=skew):
            return np.nan, at + 0.5 * skew * at**2

        (found,) = _middle(line, np.zeros(1), np.eye(1))
        assert found == pytest.approx(mean, abs=2.0 * skew**3)
        assert abs(mean) > 20 * 2.0 * skew**3


def test_the_middle_is_never_more_than_an_sd_away():
    """Twenty times as skew the step would be of several sds: its direction stays, the longest part of it is one sd."""
    covariance, likeliest = np.linalg.inv(A), np.zeros(3)
    way = -0.5 * covariance @ ALONG * (ALONG @ covariance @ ALONG)
    sds = np.sqrt(np.diag(covariance))
    longest = np.max(np.abs(way) / sds)
    for skew, length in ((0.9 / longest, 0.9), (1.1 / longest, 1.0), (20.0 / longest, 1.0)):
        moved = _middle(valley(skew), likeliest, covariance)
        assert np.max(np.abs(moved) / sds) == pytest.approx(length)
        assert moved / np.linalg.norm(moved) == pytest.approx(way / np.linalg.norm(way))


def test_the_fit_stands_about_the_likeliest_with_the_curvature_there():
    """The middle less the likeliest is the step of first order; the covariance the inverse of the curvature."""
    members = some_members()
    fit, evidence = fit_gym(members), _Evidence(members, published(), USUAL)
    used = evidence.used
    found = scipy.optimize.root(lambda z: evidence(z)[1], np.zeros(used.size), tol=1e-10)
    assert found.success
    covariance = np.linalg.inv(scipy.optimize.approx_fprime(found.x, lambda z: evidence(z)[1], 1e-6))
    # The fit stops where no slope is above 1e-3.
    np.testing.assert_allclose(fit.covariance[np.ix_(used, used)], covariance, atol=3e-3)
    np.testing.assert_allclose(fit.z[used], _middle(evidence, found.x, covariance), atol=5e-3)
    # What no log speaks of is as believed, and goes with nothing.
    rest = np.setdiff1d(np.arange(size()), used)
    assert not fit.z[rest].any()
    np.testing.assert_array_equal(fit.covariance[rest], np.eye(size())[rest])


def test_nobody_says_nothing_of_a_gym():
    with pytest.raises(InputError, match="has no lifter with a log that can be used"):
        fit_gym([])


# What is kept


def counted(*classes, women=0, stating=True):
    """Return how many stand behind, a lifter for each tuple of classes."""
    return Behind.of(
        known(names, [0.0] * len(names), 0.0, woman=number < women, states=stating)
        for number, names in enumerate(classes)
    )


def made(behind, covariance, z=None):
    return GymFit([], behind, published(), np.zeros(size()) if z is None else z, covariance)


@functools.cache
def some_fit():
    """Return a gym whose numbers lie off the published ones and go together."""
    rng = np.random.default_rng(5)
    root = 0.3 * np.eye(size()) + 0.08 * rng.standard_normal((size(), size()))
    behind = counted(("squat", "hinge"), ("squat",), ("arm curl", "squat", "squat"), women=1)
    return made(behind, root @ root.T, 0.4 * rng.standard_normal(size()))


def test_possible_gyms_scatter_about_the_middle_as_the_covariance_says():
    p, fit = published(), some_fit()
    gyms = fit.gyms
    # Numbers that are straight lines of z: the rate, women, the bias, and (of its inverse) spreads and the tie.
    lines = {
        "rate": (gyms.rate - p.rate) / p.rate_between_gyms,
        "women": gyms.women / p.women_between_gyms,
        "reserve": gyms.reserve / (0.7 * math.sqrt(0.5)),
        "times": np.log(gyms.times) / 0.3 + 0.3,
        "rate_sd": np.log(gyms.rate_sd / p.rate_between_lifters) / 0.3 + 0.3,
        "tie": (np.arctanh(gyms.tie) - p.tie) / p.tie_sd,
    }
    at = [PLACES.index(name) for name in lines]
    values = np.stack(list(lines.values()))
    np.testing.assert_allclose(values.mean(axis=1), fit.z[at], atol=1e-9)
    expected = fit.covariance[np.ix_(at, at)]
    # 4,000 draws know a covariance to a sixtieth of the product of the sds; three and a half times that.
    sds = np.sqrt(np.diag(expected))
    assert np.max(np.abs(np.cov(values) - expected) / np.outer(sds, sds)) < 3.5 / math.sqrt(4000)


def test_a_lifter_to_come_differs_by_the_lifters_of_a_gym_and_by_what_is_not_known_of_it():
    """Mean and total variance over possible gyms, lifter by lifter; ends one in ten below and above."""
    p, fit = published(), some_fit()
    gyms, prior = fit.gyms, fit.prior
    cases = [
        (prior.recovery, 2, gyms.rate, gyms.rate_sd, np.exp),
        (prior.recovery_of_women, 1, gyms.rate + gyms.women, gyms.rate_sd, np.exp),
        (prior.stated_reserve, 3, gyms.reserve, gyms.reserve_sd, np.asarray),
    ]
    behind = {"squat": 3, "hinge": 1, "arm curl": 1}
    for at, name in enumerate(p.classes):
        sd = p.between_lifters[at] * gyms.times
        cases.append((prior.endurance[name], behind.get(name, 0), gyms.middle[:, at], sd, np.exp))
    for found, lifters, middle, sd, scale in cases:
        assert found.lifters == lifters
        mean = math.fsum(middle) / len(middle)
        of_middle = math.fsum((one - mean) ** 2 for one in middle) / len(middle)
        total = of_middle + math.fsum(one**2 for one in sd) / len(sd)
        for kept, width in ((found.start, math.sqrt(total)), (found.middle, math.sqrt(of_middle))):
            ends = [mean + width * norm.ppf(level) for level in (0.1, 0.5, 0.9)]
            assert kept == pytest.approx(list(scale(ends)), rel=DIGITS)
        ranked = sorted(sd)
        expected = [ranked[round(level * (len(ranked) - 1))] for level in (0.1, 0.5, 0.9)]
        assert found.spread == pytest.approx(expected, rel=2e-3)  # neighbours of 4,000 lie so close
    assert (prior.lifters, prior.sets) == (3, 30)


def test_a_spread_that_is_known_in_part_has_the_quantiles_of_its_logarithm():
    """Of ln times with mean 0.3 (0.5 - 0.3) and sd 0.3 x 0.4; alone, so that all else is as published."""
    z, covariance = np.zeros(size()), np.eye(size())
    z[1], covariance[1, 1] = 0.5, 0.16
    found = made(counted(("squat",)), covariance, z).prior
    p = published()
    at = p.classes.index("squat")
    # An end of 4,000 draws is known to 1.7 / root 4000 of an sd: of 0.12, 0.3 %; three times that.
    expected = [p.between_lifters[at] * math.exp(0.06 + 0.12 * one) for one in (-TENTH, 0.0, TENTH)]
    assert found.endurance["squat"].spread == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("stating", "there"), [(True, True), (False, False)])
def test_stated_reserves_are_kept_where_any_log_states_them(stating, there):
    prior = made(counted(("squat",), stating=stating), np.eye(size())).prior
    assert (prior.stated_reserve is not None) == there


def tie_of_class(fit, name):
    """Correlation of log rate and log endurance of lifters to come, over what an exercise shares: root a half."""
    gyms, at = fit.gyms, fit.published.classes.index(name)
    within = fit.published.between_lifters[at] * gyms.times
    together = np.cov(gyms.middle[:, at], gyms.rate, bias=True)[0, 1]
    together += np.mean(math.sqrt(0.5) * gyms.tie * within * gyms.rate_sd)
    variances = [np.var(gyms.middle[:, at]) + np.mean(within**2), np.var(gyms.rate) + np.mean(gyms.rate_sd**2)]
    return together / math.sqrt(math.prod(variances)) / math.sqrt(0.5)


def test_the_tie_is_that_of_lifters_to_come_each_class_as_often_as_it_is_trained():
    fit = some_fit()
    ties = {name: tie_of_class(fit, name) for name in ("squat", "hinge", "arm curl")}
    assert max(ties.values()) - min(ties.values()) > 0.02
    expected = (3 * ties["squat"] + ties["hinge"] + ties["arm curl"]) / 5
    assert fit.prior.tie == pytest.approx(expected, abs=5.1e-4)  # three places


@pytest.mark.parametrize(("z", "tie"), [(40.0, 0.95), (-40.0, -0.95)])
def test_a_tie_is_no_closer_than_can_be_told_from_one(z, tie):
    place = np.zeros(size())
    place[5] = z
    assert made(counted(("squat",)), 1e-4 * np.eye(size()), place).prior.tie == tie
