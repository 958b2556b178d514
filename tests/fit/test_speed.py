"""The log that fits are timed on, and the work beside which they are timed."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit import speed
from workbench.fit.speed import irreducible_work, refit_case
from workbench.gym.catalogue import built_in
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.reference.parameters import endurance_prior, noise


@pytest.fixture(scope="module")
def case():
    return refit_case()


def fresh_and_last(exercise, load):
    """Reps available in the second and the fifth set of a lifter of 100 kg, five reps in each before the last."""
    headroom = np.log(100.0 / load)
    per_rep = endurance_prior(built_in().exercise(exercise).endurance_class).median
    fresh, state, found = DEFAULT_CURVE.fresh_reps(headroom, per_rep), DEFAULT_FORM.fresh(()), []
    for number in range(5):
        if number:
            state = DEFAULT_FORM.rest(state, 180.0)
        available, state = DEFAULT_FORM.work(state, headroom, fresh, 5.0)
        found.append(float(available))
    return found[1], found[-1]


def test_three_hundred_sets_of_five_exercises_on_twelve_days(case):
    rows, lifter = case
    days = [datetime.date(2026, 1, 5) + datetime.timedelta(days=3 * number) for number in range(12)]
    assert [one.date() for one in rows["date"]] == [day for day in days for _ in range(25)]
    names = ["back squat", "bench press", "barbell bench pull", "lat pulldown", "leg press"]
    assert rows["exercise"].tolist() == [name for name in names for _ in range(5)] * 12
    assert len(refit_case(2)[0]) == 50
    for name in names:
        lift = lifter.lift(name)
        assert (lift.one_rm, lift.uncertainty_percent) == (100.0, 4.0)


def test_five_reps_four_times_and_a_last_set_to_failure(case):
    rows, _ = case
    assert rows["outcome"].tolist() == [*["completed"] * 4, "failed"] * 60
    assert (rows["rest_s"] == 180.0).all()
    assert (rows["reps"][rows["outcome"] == "completed"] == 5).all()
    sets = rows["load_kg"].to_numpy().reshape(60, 5)
    assert np.all(sets == sets[:, :1])
    assert sorted(set(sets[:, 0])) == [70.0, 72.5, 75.0, 77.5, 80.0]


def test_reps_and_reserves_are_those_of_a_usual_lifter(case):
    rows, _ = case
    reserves = rows["reps_in_reserve"].to_numpy().reshape(60, 5)
    last, expected = rows["reps"].to_numpy().reshape(60, 5)[:, 4], []
    assert np.isnan(reserves[:, [0, 2, 3, 4]]).all()
    for number, (name, load) in enumerate(zip(rows["exercise"][::5], rows["load_kg"][::5], strict=True)):
        second, available = fresh_and_last(name, load)
        # Whole reps left after five: half a rep less than is left.
        assert reserves[number, 1] == round(second - 5.5)
        expected.append(available)
    off = np.log((last + 0.5) / expected)
    # Whole reps of 5 to 13 add up to some 6 % to the scatter of a set; 60 know a mean to an eighth of that.
    assert abs(off.mean()) < 0.03
    assert 0.8 * noise().set_log_sd < off.std() < 2.0 * noise().set_log_sd
    assert last.min() >= 1
    assert np.nanmin(reserves) >= 0.0


def test_the_least_work_is_a_root_a_logarithm_and_two_chances_a_set_and_point(monkeypatch):
    calls = []
    lifts = [
        SimpleNamespace(grid=SimpleNamespace(shape=(2, 3, 4))),
        SimpleNamespace(grid=SimpleNamespace(shape=(5, 6, 7))),
    ]
    logs = [SimpleNamespace(set_count=3), SimpleNamespace(set_count=2)]
    learned = SimpleNamespace(fit=SimpleNamespace(log=SimpleNamespace(lifts=logs), lifts=lifts))
    numpy = SimpleNamespace(linspace=np.linspace, prod=np.prod)
    numpy.sqrt = lambda numbers: calls.append(("root", numbers.size))
    numpy.log = lambda numbers: calls.append(("logarithm", numbers.size))
    monkeypatch.setattr(speed, "np", numpy)
    monkeypatch.setattr(speed, "ndtr", lambda numbers: calls.append(("chance", numbers.size)))
    irreducible_work(learned)
    for points, sets in ((24, 3), (210, 2)):
        assert [calls.count((kind, points)) for kind in ("root", "logarithm", "chance")] == [sets, sets, 2 * sets]
    assert len(calls) == 4 * 5
