"""Two places where a lifter may lie, by the usual curve or by another: from where they are sought, how they weigh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.fit.dense_newton import LOG_RATE, POINT, USED, believed, given_by_others
from workbench.fit.newton import _more_probable, _Newton, likeliest_unknowns
from workbench.fit.places import Likely, Point
from workbench.fit.priors import Kept
from workbench.fit.sets_together import SetsTogether
from workbench.fit.unknowns import Unknowns
from workbench.lifter.file import BEND, RECOVERY

#: The same sums in another order.
ROUNDING = 1e-9


def search(what, given, point, **how):
    """Return one search that has ended, and what it found."""
    one = _Newton(SetsTogether(USED, given, LOG_RATE, what.form), point, what, **how)
    return one, one.solve()


@pytest.mark.parametrize("chance", [0.1, 0.9])
def test_another_curve_is_sought_half_the_way_back_and_weighed_by_its_evidence(chance):
    what, given = believed(other_curve_chance=chance), given_by_others()
    usual, found = search(what, given, POINT, other_curve=False)
    near = usual.likely(found, 0.0).at
    middle = np.array([prior.endurance.log_mean for prior in what.priors])
    half = Point(near.log_one_rm, (near.log_endurance + middle) / 2, (near.log_rate + 0.1) / 2)
    other, there = search(what, given, half, other_curve=True)
    odds = np.exp(other.log_evidence(what) - usual.log_evidence(what)) * chance / (1.0 - chance)
    of_other = odds / (1.0 + odds)
    places = [(usual.likely(found, found.held), found), (other.likely(there, there.held), there)]
    assert 0.01 < of_other < 0.99
    assert (of_other > 0.5) == (chance > 0.5), "each of the two is once the more probable"
    if of_other > 0.5:
        places, of_other = places[::-1], 1.0 - of_other
    unknowns, likely = likeliest_unknowns(USED, given, LOG_RATE, POINT, what)
    (here, first), (elsewhere, second) = places
    np.testing.assert_allclose(unknowns.mean, first.mean, rtol=ROUNDING, atol=ROUNDING)
    np.testing.assert_allclose(likely.at.log_one_rm, here.at.log_one_rm, rtol=ROUNDING)
    assert unknowns.other.chance == pytest.approx(of_other, rel=1e-6)
    np.testing.assert_allclose(unknowns.other.unknowns.mean, second.mean, rtol=ROUNDING, atol=ROUNDING)
    off = np.column_stack([elsewhere.at.log_one_rm, elsewhere.at.log_endurance])
    off -= np.column_stack([here.at.log_one_rm, here.at.log_endurance])
    np.testing.assert_allclose(unknowns.other.lifts, off, atol=1e-8)
    assert unknowns.other.rate == pytest.approx(elsewhere.at.log_rate - here.at.log_rate, abs=1e-8)


def keeps(*more):
    """Return what an earlier log left possible: endurances and recovery as they are believed, and more."""
    names = (("bench press", "endurance"), ("back squat", "endurance"), RECOVERY, *more)
    mean = np.array([np.log(0.031), np.log(0.027), 0.1, *[0.0] * len(more)])
    return Kept(names, mean, np.diag([0.25**2, 0.3**2, 0.4**2, *[0.25] * len(more)]))


@pytest.mark.parametrize(
    ("settings", "kept", "sought"),
    [
        ({}, None, True),
        ({"other_curve_chance": 0.0}, None, False),
        ({"bend_sd": 0.0}, None, False),
        ({}, keeps(), True),
        ({}, keeps(BEND), False),
    ],
)
def test_another_curve_is_sought_where_it_has_a_chance_and_no_earlier_log_told_the_curve(settings, kept, sought):
    what, given = replace(believed(**settings), kept=kept), given_by_others()
    unknowns, likely = likeliest_unknowns(USED, given, LOG_RATE, POINT, what)
    assert (unknowns.other is not None) == sought
    if not sought:
        one, found = search(what, given, POINT, other_curve=False)
        np.testing.assert_array_equal(unknowns.mean, found.mean)
        np.testing.assert_array_equal(likely.at.log_one_rm, one.likely(found, found.held).at.log_one_rm)


def place(log_one_rm, log_endurance, log_rate):
    """A place, and unknowns that tell it apart."""
    likely = Likely(Point(np.array([log_one_rm]), np.array([log_endurance]), log_rate), np.ones(1), 1.0)
    empty = np.zeros(0)
    return Unknowns((), empty, np.array([log_rate]), empty, empty, empty, None), likely


def test_of_two_places_the_less_probable_stands_beside_the_other_by_hand():
    """A second place with a log 1RM 0.2 higher, a log endurance 0.5 lower and a log rate 0.3 higher."""
    first, second = place(4.5, -3.5, 0.0), place(4.7, -4.0, 0.3)
    for chance, here, sign in ((0.3, first, 1.0), (0.7, second, -1.0)):
        unknowns, likely = _more_probable(first, second, chance)
        assert likely is here[1]
        assert unknowns.mean == here[0].mean
        assert unknowns.other.chance == pytest.approx(0.3)
        np.testing.assert_allclose(unknowns.other.lifts, [[0.2 * sign, -0.5 * sign]])
        assert unknowns.other.rate == pytest.approx(0.3 * sign)
        assert unknowns.other.unknowns is (second if here is first else first)[0]
    # As probable as each other: the usual curve stands.
    assert _more_probable(first, second, 0.5)[1] is first[1]


@pytest.mark.parametrize(("chance", "stands"), [(0.0099, False), (0.01, True), (0.99, True), (0.9901, False)])
def test_what_is_less_probable_than_one_in_a_hundred_is_left_out(chance, stands):
    first, second = place(4.5, -3.5, 0.0), place(4.7, -4.0, 0.3)
    unknowns, likely = _more_probable(first, second, chance)
    assert (unknowns.other is not None) == stands
    assert likely is (second if chance > 0.5 else first)[1]
