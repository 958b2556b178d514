"""Days that fit a session: weighted where many do, moved where few do, against a posterior that is known."""

from __future__ import annotations

import numpy as np
import pytest

import workbench
from workbench.answers.days_that_fit import Pools, _days_that_fit, _Numbers, _systematic, _weights, effective
from workbench.answers.session import one_session
from workbench.answers.session_under_way import Choice, Day, Read, SetDone
from workbench.answers.today import OpenSession
from workbench.reference.parameters import noise
from workbench.reference.sources import data_path
from workbench.simulate.plan import make_plan

ROOM = workbench.read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
LIFTER = workbench.read_lifter(data_path("demo", "lifters", "emre_sandoval.toml"), exercises=ROOM.catalogue)
BLOCK = workbench.read_block(data_path("demo", "block.toml"))
PULL = "barbell bench pull"
COUNT = 2000


@pytest.fixture(scope="module")
def plan():
    return make_plan(one_session(BLOCK, 1, 1)[0], LIFTER, ROOM)


class Measured:
    """Stands for a day: all that was done of it is a measurement of the day's strength, with normal error."""

    def __init__(self, value, sd):
        self.value, self.sd = value, sd

    def read(self, draws, before=None):
        logs = -0.5 * ((draws.day[0, :, 0] - self.value) / self.sd) ** 2
        return Read((), logs, np.zeros(draws.count), None)


@pytest.mark.parametrize("odd", [0.5, 3.0, 5.0])
def test_days_are_drawn_from_those_that_fit_however_odd_what_was_done(plan, odd):
    # The day's strength is normal about 0 with sd t. Measured as odd * t with error 0.3 t it is normal about
    # odd * t / (1 + 0.3**2) with sd 0.3 t / sqrt(1 + 0.3**2).
    t = noise().day_sd
    middle, sd = odd * t / 1.09, 0.3 * t / np.sqrt(1.09)
    pools = Pools(plan, 1, size=1000)
    day = Measured(odd * t, 0.3 * t)
    logs = pools.read(day)
    found = _days_that_fit(day, pools, logs, COUNT, np.random.default_rng(1)).day[0, :, 0]
    # Draws moved some ten times are worth a tenth of themselves at least: standard errors of 0.07 and 0.05 sd.
    assert found.mean() == pytest.approx(middle, abs=0.25 * sd)
    assert found.std() == pytest.approx(sd, rel=0.2)
    weighted = pools.taken(_systematic(_weights(logs), COUNT, np.random.default_rng(1))).day[0, :, 0]
    if odd == 5.0:  # weights alone hang on the few most extreme draws, and stop short
        assert effective(_weights(logs)) < 20
        assert weighted.mean() < middle - sd
    if odd == 0.5:  # enough of them fit: none is moved
        assert np.array_equal(found, weighted)


def test_what_was_not_measured_stays_as_likely_as_it_was(plan):
    t = noise().day_sd
    pools = Pools(plan, 1, size=1000)
    day = Measured(5.0 * t, 0.3 * t)
    logs = pools.read(day)
    found = _days_that_fit(day, pools, logs, COUNT, np.random.default_rng(1))
    for name in ("log_one_rm", "endurance"):
        before, after = (
            np.log(one.endurance[:, 0]) if name == "endurance" else one.log_one_rm[:, 0]
            for one in (pools.taken(np.arange(8000)), found)
        )
        # The few draws that all others come from forget where they were step by step; alone they would be off by an sd.
        assert after.mean() == pytest.approx(before.mean(), abs=0.35 * before.std())
        assert after.std() == pytest.approx(before.std(), rel=0.2)


def test_moved_numbers_are_as_likely_as_before_and_go_with_where_they_were():
    rng = np.random.default_rng(1)
    numbers = _Numbers.of(100_000, [rng.standard_normal((100_000, 1)), rng.integers(0, 10, 100_000)])
    moved = numbers.moved(0.6, rng)
    before, after = numbers.given[0][:, 0], moved.given[0][:, 0]
    # Standard errors of some 0.003; the correlation is sqrt(1 - 0.6**2) = 0.8.
    assert after.mean() == pytest.approx(0.0, abs=0.015)
    assert after.std() == pytest.approx(1.0, abs=0.015)
    assert np.corrcoef(before, after)[0, 1] == pytest.approx(0.8, abs=0.01)
    # 0.6**2 of the rows are drawn anew, nine in ten of these another row.
    assert np.mean(numbers.given[1] != moved.given[1]) == pytest.approx(0.36 * 0.9, abs=0.01)
    assert np.bincount(moved.given[1]) / 100_000 == pytest.approx(np.full(10, 0.1), abs=0.005)


def test_the_same_numbers_are_the_same_days(plan):
    pools = Pools(plan, 3, size=50)
    drawn, numbers = pools._pool(0)
    again = pools.again(numbers)
    rows = np.array([4, 4, 30])
    some = pools.again(numbers.taken(rows))
    for name in ("log_one_rm", "endurance", "recovery_rate", "carry", "slow_reps"):
        assert np.array_equal(getattr(again, name), getattr(drawn, name))
        assert np.array_equal(getattr(some, name), getattr(drawn, name)[rows])
    assert np.array_equal(some.day, drawn.taken(rows).day)
    tau = [getattr(one.fatigue, "depletion_tau_s", None) for one in (again, drawn)]
    assert np.array_equal(*tau)


def test_a_session_asked_about_set_after_set_says_what_it_says_when_asked_once():
    done = [SetDone(PULL, 58.5, 6, reserve=3.0), SetDone(PULL, 58.5, 6, True), SetDone("back squat", 98.5, 3)]
    choice = Choice(0.85, 0.0, 0.3)
    session = OpenSession(BLOCK, LIFTER, ROOM, choice=choice, draws=100)
    for count in (0, 1, 3, 2, 3):  # with sets taken back
        answer = session.after(done[:count])
        fresh = OpenSession(BLOCK, LIFTER, ROOM, choice=choice, draws=100).after(done[:count])
        assert answer.sets.equals(fresh.sets)
        assert answer.effective_draws == fresh.effective_draws


def test_what_was_read_is_gone_on_with_only_where_it_is_the_same(plan):
    draws, _ = Pools(plan, 3, size=200)._pool(0)
    first, other = SetDone(PULL, 58.5, 6, reserve=2.0), SetDone(PULL, 58.5, 5, True)
    read = Day(plan, 0, [first]).read(draws)
    for done in ([first, other], [other], [other, first], []):
        day = Day(plan, 0, done)
        from_there, whole = day.read(draws, read), day.read(draws)
        assert np.array_equal(from_there.log_probability, whole.log_probability)
        assert np.array_equal(from_there.mistaken, whole.mistaken)


def test_the_time_left_is_that_of_the_sets_to_come(plan):
    session = OpenSession(BLOCK, LIFTER, ROOM, choice=Choice(0.85, 0.0, 0.3), draws=10)
    sets = plan.sessions[0].sets
    assert session.seconds_left([]) == pytest.approx(float(sets[-1].end_s[0]), abs=1e-9)
    # One set less, done as planned; and all of the last exercise, which is one set.
    after_one = session.seconds_left([SetDone(PULL, 58.5, 6)])
    assert after_one == pytest.approx(float(sets[-1].end_s[0] - sets[0].end_s[0]), abs=1e-9)
    assert session.seconds_left([], ["lat pulldown"]) == pytest.approx(float(sets[-2].end_s[0]), abs=1e-9)
