"""Chances of sets and of whole sessions, one number at a time with nothing but the normal distribution."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet
from workbench.fit.likelihood import (
    Course,
    Grid,
    SetReader,
    kind_of,
    mistake_probability,
    probability,
    probability_in_log,
    rest_lengths,
    says_at_most,
)
from workbench.fit.rests import LOGGED, RestSpread
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.models.stated_reserve import StatedReserve

#: The same sums in another order.
ROUNDING = 1e-10
DAY_0 = datetime.date(2026, 1, 5)
#: Bias and scatter that differ in every number from the usual ones.
STATED = StatedReserve(0.5, 10.0, 0.1, 0.4, 18.0, 0.6, 0.25, 7.0, 4.0)
SETTINGS = FitSettings(set_log_sd=0.08, mistake_chance=0.01, reserve=STATED)
LARGEST = 10.0


def one_set(reps, ending, reserve=np.nan, *, load=80.0, rest=0.0, unsure=LOGGED):
    return LoggedSet(0, load, reps, ending, reserve, rest, unsure=unsure)


def felt(reps, available, log_sd):
    """Mean and sd of the reps felt to be left by the numbers of STATED: half a rep less than is left, less the bias."""

    def bias(length):
        beyond = min(length, 18.0) - 10.0
        return 0.5 + (0.4 if beyond > 0.0 else 0.1) * beyond

    def expected(length):
        return max(length - 0.5 - reps, 0.0) - bias(length)

    left = min(max(available - 0.5 - reps, 0.0), 4.0)
    sd = (0.6 + 0.25 * left) * min(max(available, 3.5), 18.0) / 7.0
    return expected(available), np.hypot(sd, expected(available * (1.0 + log_sd)) - expected(available))


def below(limit, reps, available, log_sd):
    mean, sd = felt(reps, available, log_sd)
    return norm.cdf((limit - mean) / sd)


def by_hand(logged, available, log_sd):
    """Chance of one set with one number of reps available."""
    n, said = logged.reps, logged.reserve
    made = norm.cdf(np.log(available / n) / log_sd) if n else 1.0
    if logged.ending == "completed":
        return made
    if logged.ending == "failed":
        return made - norm.cdf(np.log(available / (n + 1)) / log_sd)
    if logged.ending == "felt":
        first = below(said + 0.5, n - 1, available, log_sd) if n > 1 else 0.0
        return made * max(below(said + 0.5, n, available, log_sd) - first, 0.0)
    if said >= LARGEST:
        return made * (1.0 - below(said - 0.5, n, available, log_sd))
    least = below(said - 0.5, n, available, log_sd) if said >= 0.5 else 0.0
    return made * (below(said + 0.5, n, available, log_sd) - least)


SETS = [
    *(one_set(reps, ending) for reps in (0, 1, 2, 8) for ending in ("failed", "completed") if reps or ending[0] == "f"),
    *(one_set(reps, "stated", said) for reps in (1, 6) for said in (0.0, 0.4, 0.5, 2.0, 9.9, 10.0, 12.0)),
    *(one_set(reps, "felt", said) for reps in (1, 2, 6) for said in (0.0, 1.0, 3.0)),
]
AVAILABLE = [0.4, 1.0, 1.6, 3.0, 5.9, 6.4, 7.2, 9.0, 11.0, 16.0, 24.0]


@pytest.mark.parametrize("logged", SETS, ids=lambda one: f"{one.reps} {one.ending} {one.reserve:g}")
def test_the_chance_of_a_set_by_hand(logged):
    for log_sd in (0.08, 0.3):
        expected = [by_hand(logged, available, log_sd) for available in AVAILABLE]
        found = probability(logged, np.log(AVAILABLE), log_sd, SETTINGS)
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-13)
        # Scatter may differ from point to point.
        each = probability(logged, np.log(AVAILABLE), np.full(len(AVAILABLE), log_sd), SETTINGS)
        np.testing.assert_array_equal(each, found)


def test_sets_of_a_kind_together_as_each_by_itself():
    """Sets that differ in reps and reserves alone, and by nothing that changes the steps."""
    together = {}
    for logged in SETS:
        together.setdefault(kind_of(logged), []).append(logged)
    assert len(together) == 5 + 2 * 3 + 2 * 2, "of each ending: reps of 0, 1, more; none said, some, as good as all"
    for kind in together.values():
        several = np.array([[one.reps for one in kind], [one.reserve for one in kind]]).reshape(2, -1, 1)
        found = probability_in_log(kind[0], np.log(AVAILABLE), 0.08, SETTINGS, tuple(several))
        each = [probability_in_log(one, np.log(AVAILABLE), 0.08, SETTINGS) for one in kind]
        # Nothing of how many were done or said is in the chance of a rep made by all of a kind.
        np.testing.assert_allclose(np.broadcast_to(found, np.shape(each)), each, rtol=ROUNDING)


@pytest.mark.parametrize(
    ("logged", "mistaken"),
    [
        (one_set(5, "failed"), 1 / 30),
        (one_set(5, "completed"), 1 / 2),
        (one_set(5, "stated", 2.0), 1 / 20),
        (one_set(5, "felt", 2.0), 1 / 30),
    ],
)
def test_one_row_in_a_hundred_is_a_mistake_of_even_chances(logged, mistaken):
    """Over thirty reps; over yes and no; over both and ten reps in reserve."""
    assert mistake_probability(logged, SETTINGS) == pytest.approx(0.01 * mistaken, rel=ROUNDING)
    found = probability_in_log(logged, np.log(AVAILABLE), 0.08, SETTINGS)
    expected = [0.99 * by_hand(logged, available, 0.08) + 0.01 * mistaken for available in AVAILABLE]
    np.testing.assert_allclose(found, expected, rtol=1e-9)


def test_what_is_felt_to_be_left_by_hand():
    found = says_at_most(1.5, 6, np.array(AVAILABLE), 0.08, STATED)
    np.testing.assert_allclose(found, [below(1.5, 6, available, 0.08) for available in AVAILABLE], rtol=ROUNDING)


# Grids and courses


def test_a_grid_knows_its_shape_and_its_points():
    one = Grid(np.zeros(2), np.zeros(3), np.array([4.0, 4.1, 4.2, 4.3]))
    assert one.shape == (2, 3, 4)
    assert one.strength_step == pytest.approx(0.1)
    assert one.same_as(replace(one, log_rate=np.zeros(2)))
    for other in ({"log_rate": np.ones(2)}, {"log_endurance": np.zeros(4)}, {"log_strength": np.zeros(4)}):
        assert not one.same_as(replace(one, **other))


def test_a_course_that_ends_nowhere_gains_nothing():
    assert Course(gain=0.01).behind(DAY_0) == 0.0
    assert Course(gain=0.01).since(DAY_0, DAY_0) == 0.0
    usual = Course(until=DAY_0 + datetime.timedelta(days=70))
    assert (usual.behind(DAY_0), usual.usual_rest, usual.bend) == (0.0, 0.0, 0.0)
    ends = Course(gain=0.014, until=DAY_0 + datetime.timedelta(days=10))
    assert ends.behind(DAY_0 + datetime.timedelta(days=5)) == pytest.approx(-0.01)
    assert ends.since(None, DAY_0 + datetime.timedelta(days=5)) == pytest.approx(0.01)
    assert ends.since(DAY_0 + datetime.timedelta(days=12), DAY_0) == 0.0


def test_lengths_of_rests_have_the_moments_of_a_normal_distribution():
    """Gauss and Hermite: with n points up to the power 2 n - 1; 1, 0, 1, 0, 3, 0, 15."""
    z, shares = rest_lengths(4)
    np.testing.assert_allclose([shares @ z**power for power in range(8)], [1, 0, 1, 0, 3, 0, 15, 0], atol=1e-12)


# Sessions on a grid

GRID = Grid(np.log([0.7, 1.4]), np.log([0.025, 0.035]), np.log([84.0, 90.0, 96.4, 103.3]))
UNSURE = RestSpread(0.3, 0.25)
SESSION = LoggedSession(
    DAY_0,
    (
        one_set(6, "failed"),
        one_set(4, "completed", rest=100.0, unsure=UNSURE),
        one_set(4, "stated", 1.0, rest=120.0, load=77.5),
        one_set(2, "felt", 2.0, rest=140.0, load=85.0, unsure=UNSURE),
    ),
)
COURSE = Course(gain=0.008, until=DAY_0 + datetime.timedelta(days=14), usual_rest=0.6, bend=0.7)
#: What others had left before each set, by pool, at the slower and the faster rate.
GIVEN = np.array([0.0, 0.06, 0.0, 0.04])[:, None, None] * np.array([[0.2, 0.1], [1.0, 0.7], [0.3, 0.3]])


def departure(session, number, logged):
    return 0.02 * number - 0.01 * logged.reps


def on_one_point(rate, endurance, strength, rested, given, departs=True):
    """Chances of the sets at one point and one length of rests, with the states before them."""
    curve, step = DEFAULT_CURVE.bent(0.7), GRID.strength_step
    p, state = DEFAULT_FORM.parameters, DEFAULT_FORM.fresh(())
    chances, states = [], []
    for number, logged in enumerate(SESSION.sets):
        if number:
            longer = np.exp(logged.unsure.usual * 0.6 + logged.unsure.day * rested)
            state = DEFAULT_FORM.rest(state, logged.rest_s * longer, rate, parameters=p)
        left = given[number]
        before = tuple(a + b for a, b in zip(state, left, strict=True))
        headroom = strength - 0.016 - np.log(logged.load_kg)  # two weeks at 0.8 %
        fresh = float(curve.fresh_reps(headroom, endurance))
        wanted = np.inf if logged.ending == "failed" else logged.reps
        available, after = DEFAULT_FORM.work(before, headroom, fresh, wanted, parameters=p)
        state = tuple(a - b for a, b in zip(after, left, strict=True))
        ways = curve.fresh_reps(headroom + np.array([-1e-5, 1e-5]), endurance)
        cell = step / np.sqrt(12.0) * float(ways[1] - ways[0]) / 2e-5 / max(fresh, 0.5)
        reps = float(available) * np.exp(departure(SESSION, number, logged) if departs else 0.0)
        chance = by_hand(logged, reps, max(0.08, cell)) if reps > 0.0 else 0.0
        mistaken = {"failed": 1 / 30, "completed": 0.5, "stated": 0.05, "felt": 1 / 30}[logged.ending]
        chances.append(0.99 * chance + 0.01 * mistaken)
        states.append(before)
    return chances, states


def reader(**more):
    fields = {"departure": departure, "course": COURSE} | more
    return SetReader(GRID, DEFAULT_FORM, DEFAULT_FORM.parameters, SETTINGS, **fields)


@pytest.mark.parametrize("given", [None, GIVEN], ids=["alone", "after others"])
@pytest.mark.parametrize("departs", [True, False])
def test_a_session_point_by_point(given, departs):
    one = reader() if departs else reader(departure=None)
    found, log_factor = one.session(SESSION, given)
    left, expected = np.zeros((4, 3, 2)) if given is None else given, np.zeros(GRID.shape)
    for at in np.ndindex(*GRID.shape):
        rate, endurance, strength = (values[of] for values, of in zip(vars(GRID).values(), at, strict=True))
        for z, share in ((-np.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (np.sqrt(3.0), 1 / 6)):
            chances, _ = on_one_point(np.exp(rate), np.exp(endurance), strength, z, left[:, :, at[0]], departs)
            expected[at] += share * np.prod(chances)
    assert found.shape == GRID.shape
    np.testing.assert_allclose(found * np.exp(log_factor), expected, rtol=1e-6)
    assert 0.1 < found.max() <= 1.0, "what is left beside the factor is near one at the best point"


def test_states_before_each_set_are_those_point_by_point():
    """Endurances and strengths lie flat on the last axis; before the first set all points are alike."""
    for number, (logged, before, _, _) in enumerate(reader().states(SESSION, GIVEN, 0.8)):
        assert logged is SESSION.sets[number]
        for at in np.ndindex(*GRID.shape):
            rate, endurance, strength = (values[of] for values, of in zip(vars(GRID).values(), at, strict=True))
            _, states = on_one_point(np.exp(rate), np.exp(endurance), strength, 0.8, GIVEN[:, :, at[0]])
            for pool, expected in zip(before, states[number], strict=True):
                full = np.broadcast_to(pool, (2, 8)).reshape(GRID.shape)
                assert full[at] == pytest.approx(float(expected), rel=ROUNDING, abs=1e-13)


def test_a_session_with_all_its_rests_is_read_once(monkeypatch):
    asked = []
    monkeypatch.setattr(SetReader, "_at_rests", lambda self, session, given, z: asked.append(z) or (np.ones(8), 0.0))
    logged = LoggedSession(DAY_0, (one_set(5, "failed"), one_set(4, "failed", rest=90.0)))
    reader().session(logged)
    assert asked == [0.0]
    reader(rest_nodes=5).session(SESSION)
    np.testing.assert_allclose(asked[1:], np.polynomial.hermite_e.hermegauss(5)[0], atol=1e-12)


def test_what_others_had_left_must_be_of_the_forms_pools():
    with pytest.raises(ValueError, match="zip"):
        reader().session(SESSION, GIVEN[:, :2])


def test_departures_of_a_log_in_the_order_of_its_sets():
    log = LiftLog("bench press", (SESSION, SESSION))
    np.testing.assert_allclose(reader().departures(log), [-0.06, -0.02, 0.0, 0.04] * 2, atol=1e-15)
    np.testing.assert_array_equal(reader(departure=None).departures(log), np.zeros(8))
