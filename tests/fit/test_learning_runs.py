"""What a fit hands to its parts and takes from them: a run over all exercises, the weighing of the carry-over, and what
no grid holds.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from tests.fit.test_learning_steps import SETTINGS, day, lift_of, lifter_of, reading_of, rows, search_of
from workbench.fit import learning
from workbench.fit.carried import CARRY_POINTS, Likeliest
from workbench.fit.learning import _Counts, fit_log
from workbench.fit.likelihood import Course
from workbench.fit.marginals import LogNormal
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.sharing import CARRY
from workbench.reference.parameters import fatigue_typical

COUNTS = _Counts(5, 7, 1.0, 0.25)


@pytest.fixture
def parts(monkeypatch):
    """The parts of a run, each of which writes down what it was handed."""
    told = SimpleNamespace(given=[], fitted=[], combined=[], left=[np.zeros((2, 3, 5)), np.full((1, 3, 5), 0.2)])

    def given_by_others(*handed):
        told.given.append(handed)
        return tuple(told.left)

    def fit_lift(reader, log, prior, given, today, *, day_by_day):
        told.fitted.append((reader, log, prior, given, today, day_by_day))
        return SimpleNamespace(grid=reader.grid, number=len(told.fitted), filtered=lift_of().filtered)

    def combine(lifts, rate, log_rate):
        told.combined.append((list(lifts), rate, log_rate))
        return SimpleNamespace(log_rate=log_rate, log_evidence=10.0 * len(told.combined))

    for name, part in (("given_by_others", given_by_others), ("fit_lift", fit_lift), ("combine", combine)):
        monkeypatch.setattr(learning, name, part)
    return told


def two():
    searches = [search_of(), search_of(strength=(4.2, 0.5), endurance=(-3.0, 0.5))]
    searches[1].log_one_rm, searches[1].log_endurance, searches[1].course = 4.3, -3.1, Course(0.01, day(14))
    return reading_of(*searches), searches


def test_a_run_fits_every_exercise_on_its_grid_at_the_same_rates(parts):
    reading, searches = two()
    reading.rest_nodes = 3
    found = reading.run(COUNTS, CARRY, day_by_day=True)
    # Five rates would lie 0.3 apart, which is less than half: twice the 0.25 of endurance.
    log_rate = np.linspace(-0.6, 0.6, 5)
    ((used, likeliest, rates, carry, form, parameters, curve),) = parts.given
    assert used is reading.used
    assert likeliest == [Likeliest(4.6, pytest.approx(np.exp(-3.5))), Likeliest(4.3, pytest.approx(np.exp(-3.1)))]
    assert rates == pytest.approx(log_rate)
    assert (carry, form, parameters, curve) == (CARRY, DEFAULT_FORM, fatigue_typical(), SETTINGS.curve)
    for (reader, log, prior, given, today, by_day), search, left in zip(
        parts.fitted, searches, parts.left, strict=True
    ):
        grid = search.grid(log_rate, COUNTS, SETTINGS)
        assert reader.grid.same_as(grid)
        assert (reader.form, reader.parameters, reader.settings) == (DEFAULT_FORM, fatigue_typical(), SETTINGS)
        assert (reader.course, reader.rest_nodes) == (search.course, 3)
        assert log is search.log
        assert prior is search.prior
        assert given is left
        assert (today, by_day) == (day(20), True)
    ((lifts, rate, rates),) = parts.combined
    assert [lift.number for lift in lifts] == [lift.number for lift in found.lifts] == [1, 2]
    assert (rate, found.joint.log_evidence) == (reading.rate, 10.0)
    assert rates == pytest.approx(log_rate)
    assert found.given == tuple(parts.left)


def test_a_run_takes_over_what_has_not_changed(parts):
    """The grid and what others had left; where either is another, the exercise is fitted again."""
    reading, searches = two()
    first = reading.run(COUNTS, CARRY)
    assert [fitted[-1] for fitted in parts.fitted] == [False, False]
    again = reading.run(COUNTS, CARRY, first)
    assert again.lifts == first.lifts
    searches[0].strength.centre += 0.01
    moved = reading.run(COUNTS, CARRY, first)
    assert [lift.number for lift in moved.lifts] == [3, 2]
    parts.left[1] = parts.left[1] + 1e-9
    other = reading.run(COUNTS, CARRY, moved)
    assert [lift.number for lift in other.lifts] == [3, 4]
    reading.rates.half = 0.5
    assert [lift.number for lift in reading.run(COUNTS, CARRY, other).lifts] == [5, 6]


def test_parameters_and_a_bend_are_read_with_where_there_are_some(parts):
    reading, _ = two()
    reading.parameters, reading.bend = "own", 0.5
    reading.run(COUNTS, CARRY)
    assert parts.given[0][5] == parts.fitted[0][0].parameters == "own"
    bent, headroom = SETTINGS.curve.bent(0.5), np.array([0.3])
    assert parts.given[0][6].fresh_reps(headroom, 0.03) == pytest.approx(bent.fresh_reps(headroom, 0.03))


def test_the_carry_over_is_weighed_with_those_exercises_read_anew_that_are_tired(parts, monkeypatch):
    """At three factors; in the middle all stands as it was read, and so does the exercise that others do not tire."""
    reading, _ = two()
    lifts = tuple(
        SimpleNamespace(grid=lift.grid, number=0, filtered=lift_of().filtered)
        for lift in reading.run(COUNTS, CARRY).lifts
    )
    parts.fitted.clear()
    parts.combined.clear()
    weighed = []
    monkeypatch.setattr(learning.CarryOver, "weighed", lambda *handed: weighed.append(handed) or "carry-over")
    monkeypatch.setattr(
        learning, "_middles", lambda changed, joint: ([lift.number for lift in changed], joint.log_evidence)
    )
    usual, joint = LogNormal(0.1, 0.3), SimpleNamespace(log_rate="rates")
    left = (np.zeros((2, 3, 5)), np.full((4, 3, 5), 0.2))
    left[1][2] = 0.0
    left[1][3, :, 1:] = 0.0
    assert reading.weigh(lifts, joint, left, usual, (False, True)) == "carry-over"
    for (reader, log, _, given, _, by_day), z in zip(parts.fitted, (-1.5, 1.5), strict=True):
        assert reader.grid is lifts[1].grid
        assert log is reading.searches[1].log
        assert given == pytest.approx(np.exp(0.3 * z) * left[1], rel=1e-12)
        assert not by_day
    assert [([lift.number for lift in of], rate, at) for of, rate, at in parts.combined] == [
        (numbers, reading.rate, "rates") for numbers in ([0, 1], [0, 0], [0, 2])
    ]
    # Of six sets three began with something left.
    middles = [([0, 1], 10.0), ([0, 0], 20.0), ([0, 2], 30.0)]
    assert weighed == [(usual, [10.0, 20.0, 30.0], middles, 3)]
    assert CARRY_POINTS == (-1.5, 0.0, 1.5)


def test_what_no_grid_holds_moves_where_the_lifter_is_looked_for(monkeypatch):
    reading, searches = two()
    handed = []
    held = np.array([0.7, 0.002, -0.003, 0.4, 0.25])
    places = {"reserve": [0], "gain": [1, 2], "usual rest": [3], "bend": [4]}
    unknowns = SimpleNamespace(held=held, of=lambda name: np.array(places[name]))
    likely = SimpleNamespace(
        at=SimpleNamespace(log_rate=0.2, log_one_rm=np.array([4.7, 4.25]), log_endurance=np.array([-3.4, -3.2])),
        rate_sd=0.05,
        endurance_sd=np.array([0.04, 0.5]),
    )

    def likeliest_unknowns(*parts):
        handed.append(parts)
        return unknowns, likely

    monkeypatch.setattr(learning, "likeliest_unknowns", likeliest_unknowns)
    monkeypatch.setattr(learning.Kept, "of", lambda *parts: ("kept", *parts))
    monkeypatch.setattr(learning, "gain_sd", lambda *parts: ("gain", *parts))
    assert reading.hold("given", "rates", "lifter") is unknowns
    ((used, given, rates, point, believed),) = handed
    assert (used, given, rates) == (reading.used, "given", "rates")
    assert (point.log_one_rm.tolist(), point.log_endurance.tolist(), point.log_rate) == ([4.6, 4.3], [-3.5, -3.1], 0.0)
    told = list(vars(believed).values()) if hasattr(believed, "__dict__") else list(believed)
    assert told[0] == [search.prior for search in searches]
    assert told[1:] == [
        *(reading.rate, ("gain", "lifter", SETTINGS), DEFAULT_FORM, None, SETTINGS, day(20)),
        ("kept", "lifter", ["back squat", "back squat"], SETTINGS.curve),
    ]
    assert reading.settings.reserve.bias_at_turn == pytest.approx(SETTINGS.reserve.bias_at_turn + 0.7)
    assert reading.bend == 0.25
    # Five sds of what is likely, and no farther than before.
    assert (reading.rates.centre, reading.rates.half) == (0.2, pytest.approx(0.25))
    first, second = searches
    assert (first.endurance.centre, first.endurance.half) == (-3.4, pytest.approx(0.2))
    assert (second.endurance.centre, second.endurance.half) == (-3.2, 0.5)
    assert [search.course for search in searches] == [
        Course(0.002, day(14), 0.4, 0.25),
        Course(-0.003, day(14), 0.4, 0.25),
    ]
    assert [search.log_one_rm for search in searches] == [4.7, 4.25]
    assert [search.log_endurance for search in searches] == [-3.4, -3.2]
    assert [search.strength.centre for search in searches] == pytest.approx([4.7, 4.15])
    assert [search.strength.half for search in searches] == [0.4, 0.5]


def test_a_lifter_of_a_gym_is_read_with_what_the_gym_leaves_in_reserve(monkeypatch):
    monkeypatch.setattr(learning._Reading, "fitted", lambda self, lifter, carry: self.settings)
    assert fit_log(rows(0), lifter_of()).fit == SETTINGS
    monkeypatch.setattr(Lifter, "usual_reserve_bias", property(lambda lifter: (0.4, 0.9)))
    found = fit_log(rows(0), lifter_of()).fit
    assert (found.reserve_bias_mean, found.reserve_bias_sd) == (0.4, 0.9)


def test_without_an_exercise_there_is_nothing_that_no_grid_holds():
    assert reading_of().hold("given", "rates", "lifter") is None
