"""Sets side by side: how a log is laid out, and what others had left at rates between and beyond those known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.fit.dense_newton import LOG_RATE, PRESS, SQUAT, USED, given_by_others
from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LoggedSet
from workbench.fit.sets_together import Kind, SetsTogether
from workbench.models.fatigue import DEFAULT_FORM

#: The same sums in another order.
ROUNDING = 1e-12


@pytest.fixture(scope="module")
def together():
    return SetsTogether(USED, given_by_others(), LOG_RATE, DEFAULT_FORM)


def test_sessions_stand_side_by_side_and_are_filled_up(together):
    sessions = [*PRESS.sessions, *SQUAT.sessions]
    assert together.lift.tolist() == [0, 0, 0, 1, 1]
    assert together.dates == [one.date for one in sessions]
    assert together.log_load.shape == (3, 5)
    for column, one in enumerate(sessions):
        for row in range(3):
            logged = one.sets[row] if row < len(one.sets) else None
            told = [
                table[row, column] for table in (together.rest, together.wanted, together.usual_sd, together.day_sd)
            ]
            load = np.log((logged or one.sets[0]).load_kg)  # a load that can be lifted, of no reps
            assert together.log_load[row, column] == load
            if logged is None:
                assert told == [0.0] * 4
            else:
                reps = np.inf if logged.ending == "failed" else logged.reps
                assert told == [logged.rest_s, reps, logged.unsure.usual, logged.unsure.day]


def test_every_set_is_of_one_kind(together):
    sessions = [*PRESS.sessions, *SQUAT.sessions]
    seen = []
    for kind in together.kinds:
        for row, column, reps, reserve in zip(*kind.at, *kind.several, strict=True):
            logged = sessions[column].sets[row]
            assert logged.ending == kind.logged.ending
            assert reps == logged.reps
            np.testing.assert_equal(reserve, logged.reserve)
            seen.append((row, column))
    assert sorted(seen) == sorted((row, column) for column, one in enumerate(sessions) for row in range(len(one.sets)))
    assert kind.logged is sessions[kind.at[1][0]].sets[kind.at[0][0]]


def test_sets_of_a_kind_keep_their_places():
    sets = [LoggedSet(0, 80.0, 5, "stated", 2.0, 0.0), LoggedSet(1, 80.0, 7, "stated", 3.0, 0.0)]
    kind = Kind.of([(0, 4, sets[0]), (2, 1, sets[1])])
    assert kind.logged is sets[0]
    assert [part.tolist() for part in (*kind.at, *kind.several)] == [[0, 2], [4, 1], [5, 7], [2.0, 3.0]]


def test_what_others_had_left_lies_between_the_rates_known_and_ends_with_them(together):
    """A straight line from rate to rate. Beyond the last it stays, but for a thousandth of the way back."""
    at = np.array([-2.0, -0.9, -0.5, -0.3, 0.0, 0.29, 0.899, 0.9, 5.0])
    found = together.from_others(at[:, None])
    sets = np.concatenate(given_by_others())
    column, first = 0, 0
    for one in (*PRESS.sessions, *SQUAT.sessions):
        for row in range(3):
            for pool in range(3):
                left = sets[first + row, pool] if row < len(one.sets) else np.zeros(4)
                expected = np.interp(at, LOG_RATE, left)
                got = found[row][pool][:, column]
                np.testing.assert_allclose(got[:7], expected[:7], rtol=ROUNDING, atol=ROUNDING)
                np.testing.assert_allclose(got[7:], expected[7:], rtol=2e-3, atol=ROUNDING)
        column, first = column + 1, first + len(one.sets)


def test_where_nobody_left_anything_there_is_nothing_to_add():
    alone = SetsTogether(USED, given_by_others(none=True), LOG_RATE, DEFAULT_FORM)
    assert alone.from_others(np.zeros((3, 1))) is None


def test_no_set_says_how_far_below_none_its_reps_were(together):
    """Loads far over the 1RM: a twentieth of a rep is available, in a later set times what these have more."""
    points = np.zeros((2, 1))
    none = dict.fromkeys(("usual_rest", "day_rest", "bend"), points)
    found = together.log_available(
        np.full((2, 5), np.log(20.0)),
        np.full((2, 5), -3.5),
        points,
        DEFAULT_FORM.parameters,
        later=np.array([[0.0], [0.3]]),
        settings=FitSettings(),
        **none,
    )
    np.testing.assert_allclose(found[0], np.log(0.05), rtol=ROUNDING)
    np.testing.assert_allclose(found[1], np.log(0.05) + np.array([0.0, 0.3, 0.3])[:, None] * np.ones(5), rtol=ROUNDING)
