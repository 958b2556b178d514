"""What a lifter says to the numbers of a gym who trained other exercises before."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit import FitSettings
from workbench.fit.gym_member import Behind, Member, log_prior_of, member_of
from workbench.fit.learned_draws import LearnedDraws
from workbench.fit.marginals import LogNormal
from workbench.fit.priors import endurance_before, rate_prior
from workbench.lifter import Lifter
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.reference.toml_files import validate

DRAWS = 4000


def test_what_the_file_keeps_of_an_exercise_that_is_not_in_the_log_is_taken_along():
    """A press taught by an earlier log: its endurance is 0.05, 80 % between 0.04 and 0.0625, an sd of 0.1741."""
    press = {
        "one_rm_kg": 80.0,
        "one_rm_interval": [76.0, 84.0],
        "endurance": 0.05,
        "endurance_interval": [0.04, 0.0625],
    }
    together = {"quantities": ["bench press, 1RM", "bench press, endurance"], "correlations": [[0.0]]}
    lifts = {"back squat": {"one_rm_kg": 100.0}, "bench press": press, "barbell row": {"one_rm_kg": 70.0}}
    learned_days = {"bench press": {"2026-01-05": "5 sets, 0123456789ab"}}
    lifter = validate({"name": "A", "lifts": lifts, "together": together, "learned": learned_days}, Lifter)
    squat, rate, bias = np.full((DRAWS, 1), 0.03), np.ones(DRAWS), np.zeros(DRAWS)
    zero = np.zeros((DRAWS, 1))
    drawn = LearnedDraws(("back squat",), zero + 4.6, squat, rate, np.zeros(DRAWS), rate, zero, bias)
    fit = SimpleNamespace(
        settings=FitSettings(),
        curve=DEFAULT_CURVE,
        log=SimpleNamespace(set_count=7, sets=[SimpleNamespace(ending="failed")]),
    )
    learned = SimpleNamespace(fit=fit, lifter=lifter, exercises=("back squat",), draws=lambda count, rng: drawn)
    found = member_of(learned, draws=DRAWS, rng=np.random.default_rng(1))
    # The row, of which no log told, says nothing.
    assert found.classes == ("squat", "horizontal press")
    assert found.log_endurance.shape == (DRAWS, 2)
    assert found.log_endurance[:, 0] == pytest.approx(np.log(0.03))
    # 4,000 draws know a mean to a sixtieth of an sd, an sd to a ninetieth; three times that.
    assert found.log_endurance[:, 1].mean() == pytest.approx(np.log(0.05), abs=0.05 * 0.1741)
    assert found.log_endurance[:, 1].std() == pytest.approx(0.1741, rel=0.035)
    assert (found.sets, found.states_reserve, found.is_woman) == (12, False, False)


# Density in the prior

TAILS = ((0.05, 2.5),)
WITH_TAILS = (LogNormal(-3.5, 0.4, TAILS), LogNormal(-3.2, 0.3, TAILS), LogNormal(0.1, 0.5, TAILS))
ALONE = tuple(LogNormal(one.log_mean, one.log_sd) for one in WITH_TAILS)
#: Endurance moves with the shared part and with recovery, recovery with the shared part.
TIED = (
    replace(WITH_TAILS[0], moves=((0.3, 0.0), (-0.2, 0.1)), left_sd=0.25),
    WITH_TAILS[1],
    replace(WITH_TAILS[2], moves=((-0.25, 0.0),), left_sd=0.45),
)


def density(off, sd, tails):
    """Of the usual part and its tails."""
    usual = (1.0 - sum(chance for chance, _ in tails)) * norm.pdf(off, 0.0, sd)
    return usual + sum(chance * norm.pdf(off, 0.0, times * sd) for chance, times in tails)


def slowly(lifts, rate, log_endurance, log_rate):
    """Log density, by a sum over 2,001 even points of the part that all exercises share."""
    z = np.linspace(-8.0, 8.0, 2001)
    centre, sd = rate.log_mean, rate.log_sd
    for slope, middle in rate.moves:
        centre, sd = centre + slope * (z - middle), rate.left_sd
    found = norm.pdf(z) * density(log_rate - centre, sd, rate.tails)
    for lift, value in zip(lifts, log_endurance, strict=True):
        centre, sd = lift.log_mean + lift.log_sd * np.sqrt(0.5) * z, lift.log_sd * np.sqrt(0.5)
        if lift.moves:
            (of_shared, middle), (of_rate, usual) = lift.moves
            centre = lift.log_mean + of_shared * (z - middle) + of_rate * (log_rate - usual)
            sd = lift.left_sd
        found = found * density(value - centre, sd, lift.tails)
    return np.log(found.sum() * 16.0 / 2000.0)


@pytest.mark.parametrize("priors", [ALONE, WITH_TAILS, TIED], ids=["alone", "with tails", "tied"])
def test_the_density_of_draws_is_a_sum_over_what_all_exercises_share(priors):
    rng, (*lifts, rate) = np.random.default_rng(1), priors
    log_endurance = np.array([-3.5, -3.2]) + 0.3 * rng.standard_normal((6, 2))
    log_rate = 0.1 + 0.4 * rng.standard_normal(6)
    found = log_prior_of(lifts, rate, log_endurance, log_rate)
    # A factor of root 2 pi is left out of each of three normal densities.
    expected = [
        slowly(lifts, rate, *one) + 1.5 * np.log(2.0 * np.pi) for one in zip(log_endurance, log_rate, strict=True)
    ]
    # Fifteen nodes carry bells of this width to a few in ten thousand.
    assert found == pytest.approx(np.array(expected), abs=5e-4)
    assert log_prior_of([], rate, np.zeros((6, 0)), log_rate) == pytest.approx(
        [slowly([], rate, [], one) + 0.5 * np.log(2.0 * np.pi) for one in log_rate], abs=5e-4
    )


# What a lifter says


def learned_by(lifter, endings=("failed",), sets=7, settings=None):
    """Return a squat fitted from a prior of its own, of whom five draws are possible."""
    rng = np.random.default_rng(2)
    one = np.ones(5)
    drawn = LearnedDraws(
        ("back squat",),
        4.6 + 0.1 * rng.standard_normal((5, 1)),
        np.exp(-3.5 + 0.3 * rng.standard_normal((5, 1))),
        np.exp(0.4 * rng.standard_normal(5)),
        rng.standard_normal(5),
        one,
        np.zeros((5, 1)),
        0.7 * rng.standard_normal(5),
    )
    fit = SimpleNamespace(
        settings=settings or FitSettings(),
        lifts=[SimpleNamespace(prior=SimpleNamespace(endurance=WITH_TAILS[0]))],
        rate=WITH_TAILS[2],
        log=SimpleNamespace(set_count=sets, sets=[SimpleNamespace(ending=ending) for ending in endings]),
    )
    return SimpleNamespace(fit=fit, lifter=lifter, exercises=("back squat",), draws=lambda count, rng: drawn), drawn


def squatter(**more):
    lifts = {"back squat": {"one_rm_kg": 100.0}, "barbell row": {"one_rm_kg": 70.0}}
    return validate({"name": "A", "lifts": lifts, **more}, Lifter)


RESERVE = {"lifters": 9, "start": [0.3, 1.0, 1.7], "middle": [0.9, 1.0, 1.1], "spread": [0.1, 0.2, 0.3]}
GYM = {
    "lifters": 9,
    "sets": 900,
    "tie": 0.0,
    "endurance": {},
    "recovery": {**RESERVE, "start": [0.8, 1.0, 1.25]},
    "stated_reserve": RESERVE,
}


@pytest.mark.parametrize(
    ("lifter", "settings", "mean", "sd"),
    [
        (squatter(), FitSettings(), 0.0, 0.7),
        (squatter(), FitSettings(reserve_bias_sd=1.1), 0.0, 1.1),
        (squatter(), FitSettings(reserve_bias_sd=0.0), 0.0, 1e-6),
        # 1.4 reps from one end to the other are 2 x 1.2816 sds.
        (squatter(gym=GYM), FitSettings(), 1.0, 1.4 / 2.5631),
    ],
)
def test_draws_come_with_their_density_where_the_fit_began(lifter, settings, mean, sd):
    learned, drawn = learned_by(lifter, settings=settings)
    found = member_of(learned, draws=5, rng=np.random.default_rng(1))
    assert found.classes == ("squat",)
    np.testing.assert_array_equal(found.log_endurance, np.log(drawn.endurance))
    np.testing.assert_array_equal(found.log_rate, np.log(drawn.recovery_rate))
    np.testing.assert_array_equal(found.reserve_bias, drawn.reserve_bias)
    expected = log_prior_of([WITH_TAILS[0]], WITH_TAILS[2], found.log_endurance, found.log_rate)
    expected = expected + norm.logpdf(drawn.reserve_bias, mean, sd) + 0.5 * np.log(2.0 * np.pi)
    assert found.log_prior == pytest.approx(expected, rel=1e-4)


def test_whom_an_earlier_log_taught_began_where_nothing_was_known():
    taught = {"quantities": ["back squat, endurance", "recovery rate"], "correlations": [[0.3]]}
    squat = {"one_rm_kg": 100.0, "endurance": 0.04, "endurance_interval": [0.03, 0.05]}
    lifter = squatter(
        lifts={"back squat": squat}, together=taught, recovery_rate=1.5, recovery_interval=[1.2, 1.8], sex="male"
    )
    learned, _ = learned_by(lifter)
    found = member_of(learned, draws=5, rng=np.random.default_rng(1))
    unknown = validate({"name": "A", "lifts": {}, "sex": "male"}, Lifter)
    lifts, rate = [endurance_before(unknown, "back squat", FitSettings())], rate_prior(unknown)
    expected = log_prior_of(lifts, rate, found.log_endurance, found.log_rate)
    expected = expected + norm.logpdf(found.reserve_bias, 0.0, 0.7) + 0.5 * np.log(2.0 * np.pi)
    assert found.log_prior == pytest.approx(expected)


@pytest.mark.parametrize(
    ("endings", "states"),
    [(("failed", "completed"), False), (("completed", "stated"), True), (("felt",), True), ((), False)],
)
def test_who_states_reserves_is_told_by_any_set(endings, states):
    learned, _ = learned_by(squatter(sex="female"), endings, sets=3)
    found = member_of(learned, draws=5, rng=np.random.default_rng(1))
    assert (found.states_reserve, found.is_woman, found.sets) == (states, True, 3)


def test_behind_a_gym_everybody_counts_once_in_each_class():
    empty = np.zeros((1, 1))
    one = Member(("squat",), empty, np.zeros(1), np.zeros(1), np.zeros(1), is_woman=False, sets=3, states_reserve=False)
    others = [
        replace(one, classes=("squat", "squat", "hinge"), is_woman=True, sets=40),
        replace(one, classes=("hinge",), is_woman=True, sets=500, states_reserve=True),
    ]
    found = Behind.of(iter([one, *others]))
    assert (found.lifters, found.women, found.sets, found.stating_reserves) == (3, 2, 543, 1)
    assert found.by_class == {"squat": 2, "hinge": 2}
