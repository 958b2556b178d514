"""What a fit starts from where files, gyms and earlier logs speak: tails, gains and what goes together, by hand."""

from __future__ import annotations

import csv
import datetime
from dataclasses import replace

import numpy as np
import pytest

from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet
from workbench.fit.priors import Kept, endurance_before, gain_sd, lift_prior, rate_prior, shared_nodes
from workbench.lifter import Lifter
from workbench.lifter.belief import TENTH
from workbench.lifter.file import CARRIED, RECOVERY, SHARED
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DAY = datetime.date(2026, 1, 5)
SETTINGS = FitSettings(unusual_chance=0.04, unusual_times=3.0, wrong_file_chance=0.015, wrong_file_log_sd=0.3)


def interval(middle, sd):
    return [float(middle * np.exp(side * TENTH * sd)) for side in (-1, 1)]


def lifter(lift=None, **more):
    lifts = {} if lift is None else {"bench press": lift}
    return validate({"name": "Invented", "lifts": lifts, **more}, Lifter)


def log_of(*sets, exercise="bench press"):
    """Build a session of sets: load, reps, ending, reserve."""
    made = [LoggedSet(n, load, reps, ending, reserve, 0.0) for n, (load, reps, ending, reserve) in enumerate(sets)]
    return LiftLog(exercise, (LoggedSession(DAY, tuple(made)),))


ONE = log_of((60.0, 5, "completed", np.nan))


# Tails


@pytest.mark.parametrize(
    ("percent", "times"),
    [(5.0, 0.3 / 0.05), (0.2, 0.3 / 0.005), (30.0, 1.0), (25.0, 1.2)],
)
def test_a_file_may_be_wrong_and_a_lifter_unusual(percent, times):
    """Out of date or plainly wrong: 30 % off, never less than the file itself allows for; doubts thrice as often."""
    found = lift_prior(lifter({"one_rm_kg": 100.0, "uncertainty_percent": percent}), ONE, SETTINGS)
    assert found.one_rm.tails == ((pytest.approx(0.12), 3.0), (0.015, pytest.approx(times)))
    assert not found.guessed
    assert found.endurance.tails == ((0.04, 3.0),)
    assert rate_prior(lifter(), SETTINGS).tails == ((0.04, 3.0),)


def test_the_1rm_holds_on_the_day_of_its_test():
    found = lift_prior(
        lifter({"one_rm_kg": 100.0, "tested": datetime.date(2025, 11, 1), "uncertainty_percent": 4.0}), ONE, SETTINGS
    )
    assert found.one_rm.date == datetime.date(2025, 11, 1)
    assert (found.one_rm.log_mean, found.one_rm.log_sd) == pytest.approx((np.log(100.0), 0.04))
    assert found.one_rm.moves == ()


def test_a_first_guess_is_that_of_the_best_tenth_of_the_sets():
    """Eleven sets of one rep with 50 to 60 kg: nine in ten lie below 59; its spread is that of a guess, 15 %."""
    sets = [(50.0 + more, 1, "completed", np.nan) for more in range(11)]
    found = lift_prior(lifter(), log_of(*sets), replace(SETTINGS, unknown_log_sd=0.12))
    assert found.guessed
    assert found.one_rm.log_mean == pytest.approx(np.log(59.0))
    assert found.one_rm.log_sd == 0.12
    assert found.one_rm.tails == ((0.015, pytest.approx(2.5)),)
    assert found.one_rm.date is None
    # Where what is no number is the same as itself.
    np.testing.assert_equal(vars(found.endurance), vars(endurance_before(lifter(), "bench press", SETTINGS)))


# Gains


@pytest.mark.parametrize(
    ("years", "row"), [(0.0, 0), (0.99, 0), (1.0, 1), (2.9, 1), (None, 1), (3.0, 2), (79.0, 2), (80.0, 2)]
)
def test_the_spread_of_a_gain_is_what_was_published_for_these_years_and_the_range_about_it(years, row):
    """The ends of the range hold four in five: twice 1.2816 sds apart. Percent in a week, as a natural log."""
    with data_path("evidence", "gain_rates.csv").open(encoding="utf-8", newline="") as handle:
        published = list(csv.DictReader(handle))[row]
    gain, low, high = (float(published[name]) for name in ("percent_per_week", "low", "high"))
    expected = (gain**2 + ((high - low) / (2.0 * TENTH)) ** 2) ** 0.5 / 100.0
    more = {} if years is None else {"training_years": years}
    assert gain_sd(lifter(**more), FitSettings()) == pytest.approx(expected, rel=1e-3)
    assert gain_sd(lifter(**more), FitSettings(gain_sd=0.0123)) == 0.0123
    assert gain_sd(lifter(**more), FitSettings(gain_sd=0.0)) == 0.0


# What is kept of an earlier log


def kept_lifter(together=True, **more):
    """Return one whose press and recovery an earlier log taught: sds 0.03, 0.15 and 0.2, tied at 0.5, -0.4 and 0.3."""
    press = {
        "one_rm_kg": 100.0,
        "one_rm_interval": interval(100.0, 0.03),
        "endurance": 0.035,
        "endurance_interval": interval(0.035, 0.15),
    }
    content = {"recovery_rate": 1.3, "recovery_interval": interval(1.3, 0.2)}
    if together:
        content["together"] = {
            "quantities": ["bench press, 1RM", "bench press, endurance", "recovery rate", "shared endurance"],
            "correlations": [[0.5], [-0.4, 0.3], [0.1, 0.6, 0.25]],
            "others": {"shared endurance": [0.4 - TENTH * 0.8, 0.4, 0.4 + TENTH * 0.8]},
        }
    return lifter(press, **content, **more)


CORRELATIONS = np.array([[1.0, 0.5, -0.4, 0.1], [0.5, 1.0, 0.3, 0.6], [-0.4, 0.3, 1.0, 0.25], [0.1, 0.6, 0.25, 1.0]])
SDS = np.array([0.03, 0.15, 0.2, 1.0])
MEANS = np.array([np.log(100.0), np.log(0.035), np.log(1.3), 0.0])


def given(wanted, *others):
    """Slopes on others and the sd that is left, by the inverse of the covariance of them all."""
    at = [wanted, *others]
    precision = np.linalg.inv(CORRELATIONS[np.ix_(at, at)] * np.outer(SDS[at], SDS[at]))
    return -precision[0, 1:] / precision[0, 0], precision[0, 0] ** -0.5


def check(found, wanted, *others):
    slopes, left = given(wanted, *others)
    assert [slope for slope, _ in found.moves] == pytest.approx(slopes, rel=1e-6)
    assert [middle for _, middle in found.moves] == pytest.approx(MEANS[list(others)])
    assert found.left_sd == pytest.approx(left)


def test_what_an_earlier_log_taught_moves_with_what_it_was_taught_with():
    """1RM with recovery and endurance; endurance with the shared part, counted from its own mean, and recovery."""
    who = kept_lifter()
    press = lift_prior(who, ONE, SETTINGS)
    check(press.one_rm, 0, 2, 1)
    check(press.endurance, 1, 3, 2)
    check(rate_prior(who, SETTINGS), 2, 3)
    # A file that is wrong is so by 30 % whatever is left once others are known.
    assert press.one_rm.tails[1] == (0.015, pytest.approx(0.3 / given(0, 2, 1)[1]))
    alone = kept_lifter(together=False)
    for prior in (lift_prior(alone, ONE, SETTINGS).one_rm, endurance_before(alone, "bench press", SETTINGS)):
        assert prior.moves == ()
    assert rate_prior(alone).moves == ()


def test_what_is_left_is_never_finer_than_half_a_percent():
    """At a correlation of 0.9995 with recovery, of 3 % not even a thousandth would be left."""
    press = {"one_rm_kg": 100.0, "one_rm_interval": interval(100.0, 0.03)}
    together = {"quantities": ["bench press, 1RM", "recovery rate"], "correlations": [[0.9995]]}
    who = lifter(press, together=together, recovery_rate=1.0, recovery_interval=interval(1.0, 0.2))
    found = Kept.of(who, ("bench press",)).moves(("bench press", "1RM"), RECOVERY)
    assert found["left_sd"] == 0.005
    prior = lift_prior(who, ONE, SETTINGS)
    assert prior.one_rm.left_sd == 0.005
    assert prior.one_rm.tails[1] == (0.015, pytest.approx(60.0))


def test_an_exercise_that_no_log_taught_moves_with_what_all_share():
    """Half of the variance is shared, of which sd 0.8 and mean 0.4 are kept: root a half of each, in its own sds."""
    who = kept_lifter()
    belief = who.endurance_belief("back squat")
    kept = Kept.of(who, ("back squat", "bench press"))
    at = kept.names.index(("back squat", "endurance"))
    wide = np.sqrt(0.5 * 0.8**2 + 0.5)
    assert kept.mean[at] == pytest.approx(belief.mean + belief.sd * np.sqrt(0.5) * 0.4)
    sds = np.sqrt(np.diag(kept.covariance))
    assert sds[at] == pytest.approx(belief.sd * wide)
    correlations = kept.covariance / np.outer(sds, sds)
    np.testing.assert_allclose(kept.covariance, kept.covariance.T)
    shared, tied = kept.names.index(SHARED), np.sqrt(0.5) * 0.8 / wide
    assert (sds[shared], kept.mean[shared]) == pytest.approx((1.0, 0.0))
    assert correlations[at, shared] == pytest.approx(tied)
    # With the others as far as the shared part goes with them.
    for name, with_shared in (
        (RECOVERY, 0.25),
        (("bench press", "1RM"), 0.1),
        (("bench press", "endurance"), 0.6),
        (CARRIED, 0.0),
    ):
        assert correlations[at, kept.names.index(name)] == pytest.approx(tied * with_shared, abs=1e-12)
    # The lifter file has no 1RM of it.
    assert ("back squat", "1RM") not in kept.names
    found = kept.moves(("back squat", "endurance"), SHARED)
    ((slope, middle),) = found["moves"]
    assert (slope, middle) == pytest.approx((belief.sd * np.sqrt(0.5) * 0.8, 0.0))
    assert found["left_sd"] == pytest.approx(belief.sd * np.sqrt(0.5))


def test_means_of_what_is_kept_are_those_of_the_beliefs():
    kept = Kept.of(kept_lifter(), ("bench press",), DEFAULT_CURVE)
    places = [
        kept.names.index(name) for name in (("bench press", "1RM"), ("bench press", "endurance"), RECOVERY, SHARED)
    ]
    assert kept.mean[places] == pytest.approx(MEANS)
    np.testing.assert_allclose(kept.covariance[np.ix_(places, places)], CORRELATIONS * np.outer(SDS, SDS), rtol=1e-9)


def test_nodes_of_the_shared_part_are_those_of_a_standard_normal():
    nodes, weights, shared, own = shared_nodes()
    # Moments of a normal up to the tenth: 1, 0, 1, 0, 3, 0, 15, 0, 105, 0, 945.
    for power, moment in enumerate((1, 0, 1, 0, 3, 0, 15, 0, 105, 0, 945)):
        assert weights @ nodes**power == pytest.approx(moment, abs=1e-9)
    assert (shared**2, own**2) == pytest.approx((0.5, 0.5))
