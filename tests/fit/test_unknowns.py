"""What no grid of a fit holds: rests that are not logged, gains, how reserves are stated, constants, departures."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.fit.test_agreement import short_log
from tests.fit.test_learning import DAY_0, lifter, rows
from workbench.fit import FitSettings, fit_log, learning, read_sets
from workbench.fit.evidence_sets import LoggedSession, LoggedSet
from workbench.fit.lift_days import LiftDays
from workbench.fit.likelihood import Course, Grid, SetReader, probability_in_log
from workbench.fit.marginals import LogNormal
from workbench.fit.newton import _bent, _Newton, likeliest_unknowns
from workbench.fit.places import Believed, Point
from workbench.fit.priors import gain_sd, lift_prior, rate_prior
from workbench.fit.range import Range
from workbench.fit.rests import RestSpread
from workbench.fit.sets_together import Kind, SetsTogether
from workbench.fit.unknowns import Elsewhere, Unknowns, constants_of
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.models.sharing import CARRY
from workbench.reference.parameters import fatigue_draws, fatigue_typical

#: Two ways of the same sums differ by rounding only.
ROUNDING = 1e-12


def reader(**more):
    grid = Grid(np.log([0.8, 1.2]), np.log([0.02, 0.03]), np.linspace(np.log(90), np.log(110), 5))
    return SetReader(grid, DEFAULT_FORM, DEFAULT_FORM.parameters, FitSettings(), **more)


def two_sets(rest_s, unsure, load=80.0):
    return LoggedSession(
        DAY_0,
        (LoggedSet(0, load, 8, "failed", np.nan, 0.0), LoggedSet(1, load, 5, "failed", np.nan, rest_s, unsure=unsure)),
    )


# Rests


def test_a_rest_that_is_not_logged_is_summed_over_three_lengths():
    """Gauss and Hermite by hand: 2/3 at the usual rest, 1/6 each at root three sds above and below."""
    found, log = reader().session(two_sets(120.0, RestSpread(0.2, 0.3)))
    parts = []
    for z, share in ((-(3**0.5), 1 / 6), (0.0, 2 / 3), (3**0.5, 1 / 6)):
        part, part_log = reader().session(two_sets(120.0 * np.exp(0.3 * z), RestSpread()))
        parts.append(share * part * np.exp(part_log))
    assert found * np.exp(log) == pytest.approx(sum(parts), rel=ROUNDING)


def test_the_usual_rest_moves_all_rests_that_are_not_logged():
    moved, _ = reader(course=Course(usual_rest=-1.5)).session(two_sets(120.0, RestSpread(0.2, 0.0)))
    shorter, _ = reader().session(two_sets(120.0 * np.exp(-0.3), RestSpread()))
    assert moved == pytest.approx(shorter, rel=ROUNDING)


def test_without_any_logged_rest_the_usual_is_that_of_the_settings():
    used = read_sets(rows(*[(0, 80.0, 5, "completed", np.nan, np.nan)] * 2))
    one = used.lifts[0].sessions[0].sets[1]
    assert one.rest_s == pytest.approx(150.0)
    assert one.unsure.usual == pytest.approx(0.35)
    assert one.unsure.day == pytest.approx(0.3)
    # 1.2816 times root of 0.35^2 + 0.3^2, 0.461, is 0.591: a factor of 1.805.
    assert used.rests_said == "1 rests are not in the log; about 150 s are taken, 83 to 271 s allowed for."


def test_logged_rests_say_what_is_usual_by_hand():
    """Two days of 100 s, none on the third: logs 4.605 against 5.011 of the settings.

    Nothing scatters from day to day: 0.3 counts as three days, so root of 3 * 0.09 / 5 = 0.2324. All exercises:
    weights 2 / 0.054 = 37.04 and 1 / 0.1225 = 8.163; mean 4.6783, sd 0.1487. This exercise: prior variance
    0.02212 + 0.09, weight 8.919; mean 4.6193, 101.4 s, sd 0.1475.
    """
    logged = [(day, 80.0, 5, "completed", np.nan, rest) for day in (0, 7) for rest in (np.nan, 100.0)]
    used = read_sets(rows(*logged, *[(14, 80.0, 5, "completed", np.nan, np.nan)] * 2))
    one = used.lifts[0].sessions[2].sets[1]
    assert one.rest_s == pytest.approx(101.4, abs=0.1)
    assert one.unsure.day == pytest.approx(0.2324, abs=1e-4)
    assert one.unsure.usual == pytest.approx(0.1475, abs=1e-4)
    assert used.lifts[0].sessions[1].sets[1].unsure == RestSpread()


def test_recovery_is_less_sure_where_rests_are_not_logged():
    sets = [(7 * week, 75.0, reps, "failed", np.nan, 120.0) for week in range(4) for reps in (9, 6, 5)]
    log = rows(*sets)
    sure = fit_log(log, lifter()).recovery_rate.sd
    unsure = fit_log(log.assign(rest_s=np.nan), lifter()).recovery_rate.sd
    # The usual rest alone is known to 0.35, and recovery counts against it: nearly one to one.
    assert np.hypot(sure, 0.25) < unsure


# Gains


def test_sets_before_the_last_were_done_with_less_strength():
    """Two weeks at 1 % a week: 80 kg then are 80 e^0.02 kg with the strength of the grid."""
    until = DAY_0 + datetime.timedelta(weeks=2)
    course = Course(gain=0.01, until=until)
    assert course.behind(DAY_0) == pytest.approx(-0.02)
    moved, _ = reader(course=course).session(two_sets(120.0, RestSpread()))
    heavier, _ = reader().session(two_sets(120.0, RestSpread(), 80.0 * np.exp(0.02)))
    assert moved == pytest.approx(heavier, rel=1e-9)
    # A 1RM of long before the log gains nothing until it begins; one tested a week in, a week's less.
    assert course.since(DAY_0 - datetime.timedelta(weeks=30), DAY_0) == pytest.approx(0.02)
    assert course.since(DAY_0 + datetime.timedelta(weeks=1), DAY_0) == pytest.approx(0.01)
    assert course.since(until, DAY_0) == 0.0


@pytest.mark.parametrize(
    ("years", "sd"),
    [
        (2.0, 0.00559),  # 0.4 % a week, 0 to 1 % for four in five: root of 0.4^2 + (1 / 2.563)^2
        (None, 0.00559),
        (10.0, 0.00338),  # 0.2 %, -0.1 to 0.6 %: root of 0.2^2 + 0.2731^2
        (0.5, 0.01269),  # 1 %, 0.3 to 2.3 %: root of 1 + 0.7803^2
    ],
)
def test_spread_of_gains_by_years_of_training(years, sd):
    who = lifter().model_copy(update={"training_years": years})
    assert gain_sd(who, FitSettings()) == pytest.approx(sd, abs=1e-5)
    assert gain_sd(who, FitSettings(gain_sd=0.002)) == 0.002


def test_a_log_that_climbs_speaks_of_a_gain_and_one_that_falls_of_a_loss():
    def gain(per_week):
        loads = [80.0 * (1.0 + per_week) ** week for week in range(9)]
        sets = [(7 * week, load, 8, "failed", np.nan, np.nan) for week, load in enumerate(loads)]
        return fit_log(rows(*sets), lifter()).gain("bench press")

    up, level, down = gain(0.015), gain(0.0), gain(-0.015)
    assert down.mean < -0.004 < level.mean < 0.004 < up.mean
    # Shrunk towards none, never beyond what is seen.
    assert up.mean < 0.015
    assert up.sd < 0.8 * 0.00559


# Stated reserves


def test_who_always_leaves_more_than_is_said_is_found_out():
    """Nine reps fail; six with two said to be left leaves one to two more than the two said."""

    def bias(said):
        sets = [(7 * week, 80.0, 9, "failed", np.nan, np.nan) for week in range(6)]
        sets += [(7 * week + 3, 80.0, 5, "stopped", said, np.nan) for week in range(6)]
        learned = fit_log(rows(*sets), lifter())
        table = learned.summary().set_index("quantity")
        assert table.loc["reserve bias", "p50"] == pytest.approx(learned.reserve_bias.mean)
        return learned.reserve_bias

    modest, fair, bold = bias(2.0), bias(4.0), bias(6.0)
    assert bold.mean < fair.mean < modest.mean
    assert modest.mean > 0.5 > -0.3 > bold.mean
    assert modest.sd < 0.7


# Constants and departures


def test_constants_at_the_middle_are_the_typical_ones_and_scatter_as_the_draws():
    spread = constants_of(DEFAULT_FORM)
    typical = fatigue_typical(DEFAULT_FORM)
    z = np.random.default_rng(1).standard_normal((4000, spread.middle.size))
    drawn, published = spread.parameters(z), fatigue_draws(4000, np.random.default_rng(2))
    for name in DEFAULT_FORM.parameter_names:
        assert float(getattr(spread.parameters(np.zeros(spread.middle.size)), name)) == pytest.approx(
            getattr(typical, name), rel=1e-9
        )
        # Clipped at the farthest published draw; a log sd of 4,000 draws is known to about 1 %.
        ours, theirs = (np.log(np.ravel(getattr(one, name))).std() for one in (drawn, published))
        assert ours == pytest.approx(theirs, rel=0.12), name


def test_given_constants_are_exact_and_all_others_widen():
    sets = [(7 * week, 75.0, reps, "failed", np.nan, 90.0) for week in range(5) for reps in (9, 6, 5)]
    exact = fit_log(rows(*sets), lifter(), parameters=fatigue_typical(DEFAULT_FORM))
    open_ended = fit_log(rows(*sets), lifter())
    assert exact.fit.unknowns.constants is None
    assert exact.draws(10, np.random.default_rng(1)).tiring is None
    assert open_ended.recovery_rate.sd > exact.recovery_rate.sd
    tiring = open_ended.draws(500, np.random.default_rng(1)).tiring
    assert tiring.depletion_gain.shape == (500, 1)
    assert tiring.depletion_gain.std() > 0.0


def one_lift(mean, sds, other=None):
    """What later sets have more moves the 1RM by 2 a step, a bend by -1 and the endurance by 0.5."""
    return Unknowns(
        names=("later", "bend"),
        prior_sd=np.ones(2),
        mean=np.array(mean),
        covariance=np.diag(np.square(sds)),
        with_lifts=np.array([[[2.0, -1.0], [0.0, 0.5]]]),
        with_rate=np.array([1.0, 0.25]),
        constants=None,
        other=other,
    )


def test_what_later_sets_have_more_counts_from_none_and_is_in_no_draw_and_a_bend_from_its_mean():
    """Moves (2, -1), sds 0.3 and 0.1, the first found at 0.2 off: root of 0.6^2 + 0.1^2 + 0.4^2."""
    one = one_lift([0.2, 3.0], [0.3, 0.1])
    assert one.of_lift(0, 0) == pytest.approx((0.0, 0.53**0.5), abs=ROUNDING)
    assert one.held == pytest.approx([0.0, 3.0])
    values, lifts, rate = one.draws(20_000, np.random.default_rng(1))
    assert np.all(values[:, 0] == 0.0)
    bend = values[:, 1]
    # 20,000 draws know a mean to 0.007 and an sd to 0.005 of the sd.
    assert (bend.mean(), bend.std()) == pytest.approx((3.0, 0.1), abs=0.004)
    assert lifts[:, 0] == pytest.approx(np.column_stack([3.0 - bend, 0.5 * (bend - 3.0)]), abs=ROUNDING)
    assert rate == pytest.approx(0.25 * (bend - 3.0), abs=ROUNDING)


def test_a_lifter_lies_in_one_of_two_places_by_hand():
    """A quarter lie at a bend of 7, 0.2 above in log 1RM and 0.4 above in log endurance."""
    there = one_lift([0.0, 7.0], [0.0, 0.2])
    one = one_lift([0.0, 3.0], [0.0, 0.1], Elsewhere(0.25, there, np.array([[0.2, 0.4]]), 0.1))
    # 3 + 4 / 4; three quarters of 0.1^2 and one of 0.2^2, 0.0175, and 4^2 times 3/16.
    assert one.learned("bend").mean == pytest.approx(4.0)
    assert one.learned("bend").sd == pytest.approx(3.0175**0.5)
    # Each step of the bend moves the 1RM by -1 and the rate by 1/4; 3/16 of 0.2^2 and 0.1^2 are 0.0075 and 0.001875.
    assert one.of_lift(0, 0) == pytest.approx((0.05, 0.025**0.5))
    assert one.of_lift(0, 1) == pytest.approx((0.1, (0.0175 / 4 + 0.03) ** 0.5))
    assert one.of_rate() == pytest.approx((0.025, (0.0175 / 16 + 0.001875) ** 0.5))
    values, lifts, rate = one.draws(20_000, np.random.default_rng(1))
    far = values[:, 1] > 5.0
    # A quarter of 20,000 scatters by 0.003; means of either by 0.003 at most.
    assert far.mean() == pytest.approx(0.25, abs=0.01)
    for some, bend, off in ((~far, 3.0, (0.0, 0.0, 0.0)), (far, 7.0, (0.2, 0.4, 0.1))):
        assert lifts[some, 0, 0] == pytest.approx(off[0] - (values[some, 1] - bend), abs=ROUNDING)
        assert lifts[some, 0, 1] == pytest.approx(off[1] + 0.5 * (values[some, 1] - bend), abs=ROUNDING)
        assert rate[some] == pytest.approx(off[2] + 0.25 * (values[some, 1] - bend), abs=ROUNDING)
        assert values[some, 1].mean() == pytest.approx(bend, abs=0.015)


def sets_on(curve):
    """Single sets to failure at 62 to 90 % of 100 kg, twice a week."""
    loads = [62.0, 66.0, 70.0, 74.0, 78.0, 82.0, 86.0, 90.0] * 2
    reps = [int(curve(load / 100.0)) for load in loads]
    return rows(
        *((4 * day, load, n, "failed", np.nan, np.nan) for day, (load, n) in enumerate(zip(loads, reps, strict=True)))
    )


def power_law(x):
    """1.5 reps at 95 %, 2.3 at 90, 10 at 75 and 59.5 at 60 %; the exponential of 10 at 75 % has 2.6, 4.3 and 17."""
    return x**-8.0


def exponential(x):
    return 1.0 - np.log(x) / 0.032


def bands(log, bent=True, **settings):
    """80 % bands of fresh reps of possible lifters at 60, 75 and 90 kg."""
    learned = fit_log(log, lifter(uncertainty=5.0), settings=FitSettings(**settings))
    drawn = learned.draws(4000, np.random.default_rng(1))
    headroom = drawn.log_one_rm - np.log([60.0, 75.0, 90.0])
    curve = DEFAULT_CURVE.bent(drawn.bend[:, None] if bent else None)
    return np.quantile(curve.fresh_reps(headroom, drawn.endurance), [0.1, 0.9], axis=0).T


def test_a_log_on_another_curve_leads_to_lifters_on_it():
    log = sets_on(power_law)
    truth = [power_law(x) for x in (0.6, 0.75, 0.9)]
    assert all(low < reps < high for (low, high), reps in zip(bands(log), truth, strict=True))
    # The same lifters by the curve that they do not follow are off at both ends; who knows no other curve, at one.
    unbent = bands(log, bent=False)
    assert unbent[2, 0] > truth[2]
    for wrong in (unbent, bands(log, bend_sd=0.0), bands(log, other_curve_chance=0.0)):
        assert wrong[0, 1] < truth[0]


def test_a_log_on_the_curve_leads_to_lifters_on_it():
    log = sets_on(exponential)
    found = bands(log)
    assert all(low < exponential(x) < high for (low, high), x in zip(found, (0.6, 0.75, 0.9), strict=True))
    learned = fit_log(log, lifter(uncertainty=5.0))
    bend = learned.fit.unknowns.learned("bend")
    assert abs(bend.mean) < 0.5
    assert learned.fit.unknowns.other is None or learned.fit.unknowns.other.chance < 0.03
    # What the bend may be costs at most half as much again of what is known of reps amid the sets done.
    assert np.diff(found[1]) < 1.5 * np.diff(bands(log, bend_sd=0.0)[1])


def test_a_log_that_says_nothing_of_its_curve_leaves_the_chances_as_they_were():
    """One set: reps at 75 % are the same whatever the bend."""
    other = fit_log(rows((0, 75.0, 10, "failed", np.nan, np.nan)), lifter(uncertainty=1.0)).fit.unknowns.other
    # One in ten before. With a bend the day, which scatters by 3 %, moves the reps more: a little less sure of them.
    assert other.chance == pytest.approx(0.1, abs=0.02)
    # The prior of another curve: 5, with an sd of 3.
    bend = other.unknowns.learned("bend")
    assert (bend.mean, bend.sd) == pytest.approx((5.0, 3.0), abs=0.3)


# Tails and ranges


def test_tails_by_hand():
    """Three sds out: 0.97 e^-4.5 + 0.03 / 2.5 e^-0.72 = 0.010776 + 0.005841, over the 0.982 of the middle."""
    believed = LogNormal(0.0, 1.0, ((0.03, 2.5),))
    at = believed.weights(np.array([0.0, 3.0, -3.0]))
    assert at[1] / at[0] == pytest.approx(0.016617 / 0.982, rel=1e-4)
    assert at[1] == at[2]
    points = np.linspace(-25, 25, 20_001)
    assert believed.weights(points).sum() * 0.0025 / np.sqrt(2 * np.pi) == pytest.approx(1.0, abs=1e-6)


# Slope and bend of a set


@pytest.mark.parametrize("ending", ["failed", "completed", "stated", "felt"])
def test_slope_and_bend_of_sets_one_by_one(ending):
    """Differences of the log probability over 0.7 sds of a set's scatter and half a rep of bias, a set at a time.

    What bends upwards in some direction counts as straight there: no eigenvalue below 0.
    """
    settings = FitSettings()
    reps, reserve = [8, 8, 8, 5, 5], [2.0, 2.0, 1.0, 3.0, 2.0] if ending in ("stated", "felt") else [np.nan] * 5
    available = np.array([10.0, 8.2, 14.0, 8.0, 30.0])
    sets = [LoggedSet(at, 80.0, reps[at], ending, reserve[at], 0.0) for at in range(5)]
    kind = Kind.of([(0, at, one) for at, one in enumerate(sets)])
    bias = settings.reserve.bias_at_turn
    moved = np.array([0.0, -0.5, 0.5])[:, None, None]
    biased = replace(settings, reserve=replace(settings.reserve, bias_at_turn=bias + moved))
    slope, bend = _bent(kind, np.log(available), biased)
    h, any_cup = 0.7 * settings.set_log_sd, False
    for at, one in enumerate(sets):

        def log_chance(i, j, one=one, at=at):
            usual = replace(settings, reserve=replace(settings.reserve, bias_at_turn=bias + 0.5 * j))
            log_available = np.array([np.log(available[at]) + i * h])
            return float(np.log(probability_in_log(one, log_available, usual.set_log_sd, usual))[0])

        f = {(i, j): log_chance(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)}
        expected = [(f[1, 0] - f[-1, 0]) / (2 * h), f[0, 1] - f[0, -1]]
        assert slope[at] == pytest.approx(expected, rel=1e-6, abs=1e-9)
        cross = -(f[1, 1] - f[-1, 1] - f[1, -1] + f[-1, -1]) / (4 * h * 0.5)
        both = np.array(
            [
                [-(f[1, 0] - 2 * f[0, 0] + f[-1, 0]) / h**2, cross],
                [cross, -(f[0, 1] - 2 * f[0, 0] + f[0, -1]) / 0.5**2],
            ]
        )
        size, vectors = np.linalg.eigh(both)
        any_cup |= size[0] < 0.0
        # Differences of logs of some ten digits, over the squares of their steps.
        np.testing.assert_allclose(bend[at], (vectors * np.maximum(size, 0.0)) @ vectors.T, rtol=1e-6, atol=1e-6)
    assert any_cup == (ending != "completed")


@pytest.mark.parametrize(
    ("weights", "low", "high"),
    [
        ([0.0, 0.5, 1.0, 0.5, 0.002], -1.0, 1.0),
        ([0.0, 0.1, 0.5, 1.0, 0.4], -1.0, 2.0),
        ([0.9, 1.0, 0.5, 0.1, 0.0], -2.0, 1.0),
        ([1.0, 1.0, 1.0, 1.0, 1.0], -2.0, 2.0),
    ],
)
def test_a_range_that_is_leaned_on_reaches_half_its_width_farther(weights, low, high):
    one = Range(0.0, 1.0)
    assert one.widen(np.array(weights)) == ((low, high) != (-1.0, 1.0))
    assert (one.centre - one.half, one.centre + one.half) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("centre", "half", "low", "high"),
    [(0.5, 1.0, -0.5, 1.0), (-3.0, 2.5, -1.0, -0.5), (0.1, 0.2, -0.1, 0.3), (0.0, 9.0, -1.0, 1.0)],
)
def test_a_range_is_kept_inside_another(centre, half, low, high):
    one = Range(0.0, 1.0)
    one.within(centre, half)
    assert (one.centre - one.half, one.centre + one.half) == pytest.approx((low, high))


def test_a_range_moves_and_never_grows_by_that():
    for half, left in ((0.3, 0.3), (3.0, 1.0)):
        one = Range(0.0, 1.0)
        one.about(2.0, half)
        assert (one.centre, one.half) == (2.0, left)


def test_a_range_narrows_to_four_sds_where_its_points_tell_the_sd():
    """Ten either side of 0; a bell about 0.5 with an sd of 1 is told by points 1 apart: -3.5 to 4.5."""
    one, points = Range(0.0, 10.0), np.linspace(-10.0, 10.0, 21)
    assert one.narrow(points, np.exp(-0.5 * (points - 0.5) ** 2))
    assert (one.centre - one.half, one.centre + one.half) == pytest.approx((-3.5, 4.5), abs=1e-6)
    # All on one point tells no sd: one step to either side. A tenth as much on the next, an sd of 0.2875 about 3.0909,
    # too few for points 1 apart: four sds and a step, at most two steps.
    for next_to_it, low, high in ((1e-12, 2.0, 4.0), (0.1, 1.0909, 5.0909)):
        one = Range(0.0, 10.0)
        assert not one.narrow(points, np.select([points == 3.0, points == 4.0], [1.0, next_to_it], 1e-12))
        assert (one.centre - one.half, one.centre + one.half) == pytest.approx((low, high), abs=0.001)
    # One that leans on an edge reaches farther instead.
    one = Range(0.0, 10.0)
    assert not one.narrow(points, np.exp(points))
    assert (one.centre, one.half) == (5.0, 15.0)


def test_points_of_a_range_lie_no_farther_apart_than_wanted_up_to_twice_as_many():
    """From -1 to 1: five points are 0.5 apart; 0.3 wants eight; 0.1 would want 21, and gets nine."""
    for apart, count in ((np.inf, 5), (0.5, 5), (0.3, 8), (0.1, 9)):
        np.testing.assert_allclose(Range(0.0, 1.0).points(5, apart), np.linspace(-1.0, 1.0, count))


def test_a_lifter_far_from_all_others_is_found():
    """Reps that fall by 0.06 in log-strength each, 2.3 times the usual: no posterior leans on an edge of its grid."""
    sets = [
        (7 * week, round(100.0 * np.exp(-0.06 * reps), 1), reps, "failed", np.nan, np.nan)
        for week in range(4)
        for reps in (2, 4, 6)
    ]
    log = rows(*sets).assign(rest_s=1200.0)
    learned = fit_log(log, lifter(uncertainty=2.0))
    low, _, high = learned.endurance("bench press").quantile([0.1, 0.5, 0.9])
    assert low < 0.06 < high
    for weights in (learned.fit.joint.rate, learned.fit.joint.lifts[0].sum(axis=0)):
        assert max(weights[0], weights[-1]) < 0.011 * weights.max()


def test_what_no_grid_holds_is_found_from_wherever_one_starts(monkeypatch):
    """Steps that go back and forth would end on either side, half a prior sd apart, and nowhere near the middle."""
    asked = []

    def ask(used, given, log_rate, point, believed):
        asked.append((used, given, log_rate, point, believed))
        return likeliest_unknowns(*asked[-1])

    monkeypatch.setattr(learning, "likeliest_unknowns", ask)
    fit_log(*short_log(0), settings=FitSettings(other_curve_chance=0.0))
    used, given, log_rate, point, believed = asked[0]
    elsewhere = Point(point.log_one_rm + 0.03, point.log_endurance - 0.2, point.log_rate + 0.3)
    found = [likeliest_unknowns(used, given, log_rate, start, believed) for start in (point, elsewhere)]
    (first, at), (second, at_other) = found
    # Each ends where a step is below 0.05 prior sds.
    assert np.abs((first.mean - second.mean) / first.prior_sd).max() < 0.1
    off = at.at.log_endurance - at_other.at.log_endurance
    assert np.abs(off / [prior.endurance.log_sd for prior in believed.priors]).max() < 0.1


def test_days_of_an_exercise_are_solved_for_as_by_one_large_matrix():
    """Strengths and rests of all days and the global unknowns together, as Newton's method has it in every book."""
    log, who = short_log(1)
    log["rest_s"] = np.nan
    used, log_rate, settings = read_sets(log), np.array([-0.5, 0.5]), FitSettings()
    priors = [lift_prior(who, lift, settings) for lift in used.lifts]
    rate = rate_prior(who, settings)
    at = Point(np.array([prior.one_rm.log_mean for prior in priors]), np.full(len(priors), -3.5), 0.1)
    believed = Believed(priors, rate, 0.01, DEFAULT_FORM, None, settings, used.lifts[0].sessions[-1].date)
    given = tuple(np.zeros((lift.set_count, 3, 2)) for lift in used.lifts)
    newton = _Newton(SetsTogether(used, given, log_rate, DEFAULT_FORM), at, believed)
    newton.step()  # so that nothing stands where it is expected
    bend, slope = newton.of_days()
    local, size, count = newton.local[1], newton.size, newton.lifts
    days, gain = local.columns.size, size - count + 1
    # Rows of a set's day: strength, rests, own endurance, then the recovery rate and all else but the gains.
    whole, pull = np.zeros((2 * days + 1 + size, 2 * days + 1 + size)), np.zeros(2 * days + 1 + size)
    for day in range(days):
        takes = np.zeros((bend.shape[1], len(pull)))
        takes[[0, 1], [day, days + 1 + day]] = 1.0
        takes[0, 2 * days + 1 + gain] = local.weeks[day]
        spoken = [1, *range(count, size - count)]
        takes[range(2, bend.shape[1]), [2 * days + 1 + of for of in spoken]] = 1.0
        whole += takes.T @ bend[local.columns[day]] @ takes
        pull += takes.T @ slope[local.columns[day]]
    covariance = days_before(used.lifts[1], priors[1], settings, at.log_one_rm[1])
    precision = np.linalg.inv(covariance)
    whole[: days + 1, : days + 1] += precision
    whole[days + 1 : 2 * days + 1, days + 1 : 2 * days + 1] += np.eye(days)
    pull[: days + 1] -= precision @ (local.at[: days + 1] - local.expected)
    pull[days + 1 : 2 * days + 1] -= local.at[days + 1 :]
    inner, outer = slice(None, 2 * days + 1), slice(2 * days + 1, None)
    through = np.linalg.solve(whole[inner, inner], whole[inner, outer])
    kept = np.linalg.solve(whole[inner, inner], pull[inner])
    assert np.abs(bend[local.columns][:, 0, 1]).max() > 0.1, "strength and rests of a day speak of each other"
    before = newton.narrowed
    found = newton.of_exercise(1, bend, slope)
    narrowed = np.linalg.slogdet(whole[inner, inner])[1] - np.linalg.slogdet(precision)[1]
    assert newton.narrowed - before == pytest.approx(narrowed, rel=1e-7)
    expected = (
        whole[outer, outer] - whole[outer, inner] @ through,
        pull[outer] - whole[outer, inner] @ kept,
        through,
        kept,
    )
    for mine, theirs in zip(found, expected, strict=True):
        # Matrices whose largest and smallest eigenvalues are some 1e6 apart.
        assert mine == pytest.approx(theirs, rel=1e-7, abs=1e-9 * np.abs(theirs).max())
    off, rests = local.at[:days] - local.expected, local.at[days + 1 :]
    far = off @ np.linalg.solve(covariance[:days, :days], off) + rests @ rests
    assert local.unlikely() == pytest.approx(far, rel=1e-7)


def days_before(lift, prior, settings, log_one_rm):
    """Covariance of the strengths of all days and of the usual 1RM on the last, before any set: steps in common."""
    dates = [session.date for session in lift.sessions]
    since = np.array([(date - (prior.one_rm.date or dates[0])).days / 7.0 for date in [*dates, dates[-1]]])
    common = np.where(np.outer(since, since) > 0.0, np.minimum.outer(np.abs(since), np.abs(since)), 0.0)
    covariance = 1.0 / float(prior.one_rm.precision(log_one_rm)) + settings.drift_sd**2 * common
    return covariance + np.diag([*[settings.day_sd**2] * len(dates), 0.0])


def test_days_between_which_a_1rm_was_tested_walk_both_ways_from_it():
    """Where the 1RM of the file held between the sessions, days on either side of it know of each other through it."""
    log, who = short_log(1)
    used, settings = read_sets(log), FitSettings()
    lift = used.lifts[0]
    tested = lift.sessions[0].date + (lift.sessions[-1].date - lift.sessions[0].date) / 2
    prior = lift_prior(who, lift, settings)
    prior = replace(prior, one_rm=replace(prior.one_rm, date=tested))
    assert any(session.date < tested for session in lift.sessions)
    today = lift.sessions[-1].date
    believed = Believed([prior], rate_prior(who, settings), 0.01, DEFAULT_FORM, None, settings, today)
    given = tuple(np.zeros((one.set_count, 3, 2)) for one in used.lifts)
    sets = SetsTogether(used, given, np.array([-0.5, 0.5]), DEFAULT_FORM)
    days = LiftDays.of(sets, 0, believed, prior.one_rm.log_mean)
    covariance = days_before(lift, prior, settings, prior.one_rm.log_mean)
    count = len(covariance)
    bend = np.linspace(0.0, 2000.0, count - 1)  # a day of which no set speaks among them
    whole = np.linalg.inv(covariance) + np.diag([*bend, 0.0])
    solved, narrowed = days.solve(bend, np.eye(count))
    assert solved == pytest.approx(np.linalg.inv(whole), rel=1e-7)
    assert narrowed == pytest.approx(np.linalg.slogdet(np.eye(count) + covariance * [*bend, 0.0])[1], rel=1e-7)


def test_a_wider_look_takes_over_what_did_not_change(monkeypatch):
    """Where one exercise reaches farther only that one is fitted again, or one that it tires; all come out the same."""
    log, who = short_log(2)  # two exercises that share muscles
    alone = log.assign(exercise="leg press", date=log["date"] + pd.Timedelta(days=1))
    fitted = []
    real = learning._Reading.fit

    def fit(self, number, grid, given, **how):
        fitted.append(number)
        return real(self, number, grid, given, **how)

    monkeypatch.setattr(learning._Reading, "fit", fit)
    used = read_sets(pd.concat([log, alone], ignore_index=True))
    settings = FitSettings()
    today = used.lifts[-1].sessions[-1].date
    searches = [learning._start(lift, lift_prior(who, lift, settings), settings, today) for lift in used.lifts]
    rate = rate_prior(who, settings)
    ranges = Range(rate.log_mean, 3.0 * rate.log_sd)
    looking = learning._Reading(used, searches, ranges, rate, today, DEFAULT_FORM, None, settings)
    before = looking.run(learning._SEARCH, CARRY)
    assert fitted == [0, 1, 2]
    looking.run(learning._SEARCH, CARRY, before)
    assert fitted == [0, 1, 2]
    searches[0].endurance.half *= 1.5
    after = looking.run(learning._SEARCH, CARRY, before)
    assert fitted == [0, 1, 2, 0]
    searches[0].log_endurance += 0.1
    after = looking.run(learning._SEARCH, CARRY, after)
    assert fitted[4:] == [1], "what the other gives has changed"
    again = looking.run(learning._SEARCH, CARRY)
    assert np.array_equal(after.joint.shared, again.joint.shared)
    assert after.lifts[2] is before.lifts[2]
