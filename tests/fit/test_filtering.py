"""A log run through time on a grid against the sum over every way that a usual 1RM can have gone."""

from __future__ import annotations

import datetime
import math

import numpy as np
import pytest

from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet
from workbench.fit.filtering import OneRMPrior, filter_sessions
from workbench.fit.joint import fit_lift
from workbench.fit.likelihood import Course, Grid, SetReader
from workbench.fit.marginals import LogNormal, gaussian_kernel
from workbench.fit.priors import LiftPrior
from workbench.models.fatigue import DEFAULT_FORM

DAY_0 = datetime.date(2026, 1, 5)
SETTINGS = FitSettings(day_sd=0.03, drift_sd=0.012)
TAILS = ((0.06, 2.5),)


def on(day):
    return DAY_0 + datetime.timedelta(days=day)


POINTS = np.log(100.0) + 0.02 * np.arange(-3, 4)
GRID = Grid(np.array([-0.2, 0.3]), np.array([-3.6, -3.4, -3.2]), POINTS)


def along(values, *axes, count):
    """Lay values out along some axes of a table of so many."""
    shape = np.ones(count, dtype=int)
    shape[list(axes)] = POINTS.size
    return values.reshape(shape)


def every_way(likelihoods, dates, prior, today):
    """All ways that the usual 1RM can have gone from date to date: a table with an axis for each, and plain sums.

    Returns the log evidence, what the usual 1RM is today, at each session from all sessions, and the strength of its
    day from all others.
    """
    known = min(prior.date or dates[0], today)
    nodes = sorted({*dates, known, today})
    count, day = len(nodes), gaussian_kernel(POINTS, SETTINGS.day_sd)
    evidence, at_end, usual, of_day = np.zeros((2, 3)), np.zeros(GRID.shape), *np.zeros((2, len(dates), *GRID.shape))
    for row in np.ndindex(2, 3):
        others = prior.given(GRID.log_rate[row[0]], GRID.log_endurance[row[1]]) if prior.moves else ()
        path = along(prior.weights(POINTS, *others), nodes.index(known), count=count)
        for at in range(1, count):
            weeks = (nodes[at] - nodes[at - 1]).days / 7.0
            path = path * along(gaussian_kernel(POINTS, SETTINGS.drift_sd * np.sqrt(weeks)), at - 1, at, count=count)
        # Chance of each session by its usual 1RM.
        places = [nodes.index(date) for date in dates]
        seen = [along(day @ of[row], at, count=count) for of, at in zip(likelihoods, places, strict=True)]
        whole = path * math.prod(seen)
        evidence[row], at_end[row] = whole.sum(), whole.sum(axis=tuple(range(count - 1)))
        for number, at in enumerate(places):
            rest = tuple(axis for axis in range(count) if axis != at)
            usual[number][row] = whole.sum(axis=rest)
            without = path * math.prod(seen[:number] + seen[number + 1 :])
            of_day[number][row] = without.sum(axis=rest) @ day
    return np.log(evidence), *(part / part.sum(axis=-1, keepdims=True) for part in (at_end, usual, of_day))


MOVES = {"moves": ((0.05, 0.1), (-0.03, -3.4)), "left_sd": 0.03}


@pytest.mark.parametrize("moves", [{}, MOVES], ids=["alone", "with rate and endurance"])
@pytest.mark.parametrize(
    ("tested", "today"), [(None, 20), (None, 31), (-9, 20), (3, 20), (5, 27), (20, 20), (26, 31), (50, 27)]
)
def test_a_log_run_through_time_is_the_sum_over_every_way_it_can_have_gone(tested, today, moves):
    dates = [on(3), on(7), on(20)]
    prior = OneRMPrior(np.log(101.0), 0.04, TAILS, None if tested is None else on(tested), **moves)
    likelihoods = np.random.default_rng(2).random((3, *GRID.shape)) ** 3
    expected = every_way(likelihoods, dates, prior, on(today))
    found = filter_sessions(GRID, likelihoods, dates, prior, SETTINGS, today=on(today), backward=True)
    mine = found.log_evidence, found.today, found.usual, found.day_before
    for ours, theirs in zip(mine, expected, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-9)
    forward = filter_sessions(GRID, likelihoods, dates, prior, SETTINGS, today=on(today))
    np.testing.assert_array_equal(forward.today, found.today)
    assert forward.usual is None
    assert forward.day_before is None


def test_sessions_that_nothing_explains_have_no_evidence_and_no_weights():
    """An endurance at which no strength can have done what was logged: no chance, no weight, no warning."""
    likelihoods = np.random.default_rng(2).random((2, *GRID.shape))
    likelihoods[1, 0, 2] = 0.0
    prior = OneRMPrior(np.log(101.0), 0.04)
    found = filter_sessions(GRID, likelihoods, [on(3), on(7)], prior, SETTINGS, today=on(9), backward=True)
    assert found.log_evidence[0, 2] == -np.inf
    assert np.isfinite(found.log_evidence).sum() == 5
    assert np.all(found.today[0, 2] == 0.0)
    assert np.all(found.usual[:, 0, 2] == 0.0)
    np.testing.assert_allclose(found.today.sum(axis=-1).ravel(), [1, 1, 0, 1, 1, 1], atol=1e-12)


def test_many_sessions_keep_their_evidence_as_a_logarithm():
    """Of 900 equal chances of 0.1 the product is less than the smallest number; the evidence is the sum of logs."""
    dates = [on(day) for day in range(900)]
    prior = OneRMPrior(np.log(100.0), 0.04)
    found = filter_sessions(
        GRID, np.full((900, *GRID.shape), 0.1), dates, prior, SETTINGS, today=dates[-1], backward=True
    )
    alone = prior.weights(POINTS)
    np.testing.assert_allclose(found.log_evidence, 900 * np.log(0.1) + np.log(alone.sum()), rtol=1e-10)
    # All that came later says nothing of the first day.
    np.testing.assert_allclose(found.usual[0, 1, 2], alone / alone.sum(), rtol=1e-9)
    np.testing.assert_allclose(found.usual.sum(axis=-1), 1.0, rtol=1e-9)


@pytest.mark.parametrize("day_by_day", [False, True])
def test_an_exercise_fitted_on_a_grid_is_read_and_run_through_time(day_by_day):
    """Two sessions a week apart; a 1RM tested before holds at the first, and the grid stands a week's gain later."""
    later = LoggedSet(1, 84.0, 3, "completed", np.nan, 90.0)
    sessions = tuple(
        LoggedSession(on(day), (LoggedSet(0, load, 6, "failed", np.nan, 0.0), later))
        for day, load in ((0, 82.0), (7, 84.0))
    )
    log, course = LiftLog("bench press", sessions), Course(gain=0.01, until=on(7))
    prior = LiftPrior(OneRMPrior(np.log(100.0), 0.04, (), on(-7)), LogNormal(np.log(0.033), 0.3), guessed=False)
    reader = SetReader(GRID, DEFAULT_FORM, DEFAULT_FORM.parameters, SETTINGS, course=course)
    given = 0.02 * np.ones((4, 3, 2))
    found = fit_lift(reader, log, prior, given, on(14), **({"day_by_day": True} if day_by_day else {}))
    read = [reader.session(one, given[at : at + 2]) for one, at in zip(sessions, (0, 2), strict=True)]
    moved = OneRMPrior(np.log(100.0) + 0.01, 0.04, (), on(-7))
    chances = np.array([part * np.exp(log_factor) for part, log_factor in read])
    log_evidence, today, usual, of_day = every_way(chances, [on(0), on(7)], moved, on(14))
    np.testing.assert_allclose(found.filtered.log_evidence, log_evidence, rtol=1e-9)
    np.testing.assert_allclose(found.filtered.today, today, rtol=1e-8)
    assert (found.filtered.usual is not None) == day_by_day
    if day_by_day:
        np.testing.assert_allclose(found.filtered.usual, usual, rtol=1e-8)
        np.testing.assert_allclose(found.filtered.day_before, of_day, rtol=1e-8)
    np.testing.assert_equal(vars(found.believed), vars(moved))  # where what is no number is the same as itself
    assert (found.exercise, found.prior, found.grid, found.course) == ("bench press", prior, GRID, course)
