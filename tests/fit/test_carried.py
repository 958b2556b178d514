"""Sets that follow another exercise: read with what it left in the muscles, and what a log says of that."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from tests.simulated_logs import BETWEEN_S, TIRING, Body, TrueLifter, both_hands, simulated_log
from workbench.answers.learned import learned_draws
from workbench.fit import carried, fit_log
from workbench.fit.carried import CARRY_POINTS, CarryOver, Likeliest, given_by_others, shares_muscles
from workbench.fit.evidence_sets import read_sets
from workbench.fit.learned import Learned
from workbench.fit.lifter_file import updated_lifter, write_lifter
from workbench.fit.marginals import LogNormal, Marginal
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.sharing import CARRY, NO_CARRY, SharedFatigue
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_lifter

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: Two ways of the same sums differ by rounding only.
ROUNDING = 1e-12
DAY_0 = datetime.date(2026, 1, 5)
#: (exercise, load kg, reps, outcome, rest s): pulldowns, curls, pulldowns and curls in turns, a leg press.
SESSION = [
    ("lat pulldown", 70.0, 9, "failed", np.nan),
    ("lat pulldown", 70.0, 6, "completed", 120.0),
    ("dumbbell curl", 30.0, 8, "completed", 150.0),
    ("dumbbell curl", 30.0, 7, "failed", 90.0),
    ("lat pulldown", 60.0, 8, "completed", 60.0),
    ("dumbbell curl", 25.0, 8, "completed", 60.0),
    ("leg press", 150.0, 8, "completed", 180.0),
]
LIKELIEST = {
    "lat pulldown": Likeliest(np.log(95.0), 0.026),
    "dumbbell curl": Likeliest(np.log(40.0), 0.03),
    "leg press": Likeliest(np.log(220.0), 0.017),
}


def rows(session=SESSION):
    names = ("exercise", "load_kg", "reps", "outcome", "rest_s")
    table = pd.DataFrame([dict(zip(names, one, strict=True)) for one in session])
    return table.assign(date=pd.Timestamp(DAY_0), lifter="Invented", reps_in_reserve=np.nan)


def lifter(names, **more):
    lifts = {
        name: {"one_rm_kg": float(np.exp(LIKELIEST[name].log_one_rm).round(1)), **both_hands(name)} for name in names
    }
    return validate({"name": "Invented", "sex": "male", "lifts": lifts, **more}, Lifter)


def pulls_then_curls(seed, *, carry_over=1.0, sessions=16):
    """Return the log of one who always curls after pulldowns, three hard sets of each, and the endurance in curls."""
    rng = np.random.default_rng([5, seed])
    truth = TrueLifter(
        {name: LIKELIEST[name].log_one_rm for name in ("lat pulldown", "dumbbell curl")},
        {"lat pulldown": 0.024, "dumbbell curl": 0.03},
        1.0,
        carry_over=carry_over,
    )

    def hard(day, believed, rng):
        load = believed * rng.uniform(0.6, 0.78)
        for _ in range(3):
            day.do(load, 120)

    return simulated_log(rng, lifter(truth.endurance), truth, sessions=sessions, how=hard)


def test_what_others_left_against_plain_steps():
    """Set by set as the simulation's oracle takes it, one day and one recovery rate at a time.

    The first two days have the same exercises in the same order, the third begins with curls.
    """
    lighter = [(name, 0.95 * load, reps - 1, outcome, 1.5 * rest) for name, load, reps, outcome, rest in SESSION]
    days = [SESSION, lighter, SESSION[2:]]
    dated = [rows(day).assign(date=pd.Timestamp(DAY_0) + pd.Timedelta(days=n)) for n, day in enumerate(days)]
    used = read_sets(pd.concat(dated, ignore_index=True))
    log_rate = np.log([0.5, 1.0, 2.5])
    likeliest = [LIKELIEST[lift.exercise] for lift in used.lifts]
    given = given_by_others(used, likeliest, log_rate, CARRY.times(1.3), DEFAULT_FORM, TIRING)
    found = {
        one.row: got
        for lift, sets in zip(used.lifts, given, strict=True)
        for one, got in zip(lift.sets, sets, strict=True)
    }
    for column, rate in enumerate(np.exp(log_rate)):
        row = 0
        for day in days:
            body = Body(rate, 1.3, TIRING, DEFAULT_FORM)
            for name, load, reps, outcome, rest in day:
                state = body.before(name, BETWEEN_S if np.isnan(rest) else rest)
                assert found[row][:, column] == pytest.approx(np.array(body.got, dtype=float), abs=ROUNDING), row
                headroom = LIKELIEST[name].log_one_rm - np.log(load)
                fresh = 1.0 + headroom / LIKELIEST[name].endurance
                wanted = np.inf if outcome == "failed" else reps
                _, after = DEFAULT_FORM.work(state, headroom, fresh, wanted, parameters=TIRING)
                body.after(name, after, reps)
                row += 1
    # The curls got something from the pulldowns, both ways in turn; the leg press nothing from either.
    assert [not found[number].any() for number in range(7)] == [True, True, False, False, False, False, True]
    assert shares_muscles(used) == (True, True, False)


def test_only_who_gives_or_takes_is_gone_through(monkeypatch):
    """The leg press between pulldowns and curls costs no work."""
    asked = []

    class Watched(SharedFatigue):
        def before(self, lane, start_s):
            asked.append(lane)
            return super().before(lane, start_s)

    monkeypatch.setattr(carried, "SharedFatigue", Watched)
    used = read_sets(rows([SESSION[0], SESSION[-1], SESSION[2]]))
    likeliest = [LIKELIEST[lift.exercise] for lift in used.lifts]
    given_by_others(used, likeliest, np.zeros(1), CARRY, DEFAULT_FORM, TIRING)
    names = [lift.exercise for lift in used.lifts]
    assert [names[lane] for lane in asked] == ["lat pulldown", "dumbbell curl"]


def test_exercises_that_share_no_muscle_are_read_as_if_alone():
    session = [one for one in SESSION if one[0] != "dumbbell curl"]
    who = lifter(("lat pulldown", "leg press"))
    with_it, without = (fit_log(rows(session), who, carry=carry).summary() for carry in (CARRY, NO_CARRY))
    pd.testing.assert_frame_equal(with_it, without)
    assert "carry-over" not in set(with_it["quantity"])


@pytest.mark.slow
def test_who_always_curls_after_pulling_is_not_taken_for_less_enduring():
    """Read alone, tired curls look like curls of one whose strength falls fast with each rep."""
    off = {"together": [], "alone": []}
    for seed in range(24):
        log = pulls_then_curls(seed, sessions=6)
        for name, carry in (("together", CARRY), ("alone", NO_CARRY)):
            found = fit_log(log, lifter(("lat pulldown", "dumbbell curl")), carry=carry)
            off[name].append(found.endurance("dumbbell curl").mean - np.log(0.03))
    together, alone = np.mean(off["together"]), np.mean(off["alone"])
    spread = np.std(np.subtract(off["alone"], off["together"])) / 24**0.5
    assert alone - together > 4 * spread
    assert abs(together) < abs(alone)


@pytest.mark.slow
def test_a_log_says_who_is_tired_more_by_other_exercises():
    """Two and a half times the carry-over pulls the factor up, less than half pulls it down; it grows surer."""
    medians = {}
    for true in (0.4, 1.0, 2.5):
        found = [
            fit_log(pulls_then_curls(seed, carry_over=true), lifter(("lat pulldown", "dumbbell curl"))).carry_over
            for seed in range(3)
        ]
        medians[true] = np.mean([one.median for one in found])
        assert all(one.learned.sd < one.prior.log_sd for one in found)
        # Every curl began with something left: three hard sets in each of 16 sessions.
        assert {one.sets for one in found} == {16 * 3}
    assert medians[0.4] < 0.85 < medians[1.0] < 1.2 < medians[2.5]


def test_normal_evidence_by_hand():
    """Evidence as sharp as the prior, one prior sd above: half-way, narrower by root two; lines keep slopes."""
    z, narrow = np.array(CARRY_POINTS), 0.001  # so narrow that factor and logarithm are the same
    middles = [np.array([0.1, -0.2, 0.3]) * np.exp(narrow * one) for one in z]
    found = CarryOver.weighed(LogNormal(0.0, narrow), -0.5 * (z - 1.0) ** 2, middles, 1)
    assert found.learned.mean == pytest.approx(0.5 * narrow, rel=0.002)
    assert found.learned.sd == pytest.approx(narrow / 2**0.5, rel=0.002)
    assert found.with_lifts == pytest.approx(np.array([[0.1, -0.2]]), rel=1e-9)
    assert found.with_rate == pytest.approx(0.3, rel=1e-9)


def by_hand(prior, values):
    """Points of the factor, fine and far out, and their shares: the parabola through three points times the prior."""
    logs = prior.log_mean + prior.log_sd * np.linspace(-6.0, 6.0, 20001)
    factors = np.exp(prior.log_mean + prior.log_sd * np.array([-1.5, 0.0, 1.5]))
    total = np.zeros(logs.size)
    for at, value in enumerate(values):  # Lagrange's form
        others = np.delete(factors, at)
        total += value * np.prod([(np.exp(logs) - one) / (factors[at] - one) for one in others], axis=0)
    weights = np.exp(total - total.max()) * norm.pdf(logs, prior.log_mean, prior.log_sd)
    return factors, logs, weights / weights.sum()


@pytest.mark.parametrize("values", [(-2.0, 0.0, -0.5), (1.0, 0.5, -2.5), (-703.0, -700.0, -699.5)])
def test_evidence_is_a_parabola_of_the_factor_itself_and_not_of_its_logarithm(values):
    """A wide prior about 1.4, where the two differ by far."""
    prior = LogNormal(np.log(1.4), 0.5)
    factors, logs, share = by_hand(prior, values)
    middles = [np.array([0.2, 0.1, -0.3, 0.0, 0.4]) * one for one in factors]
    found = CarryOver.weighed(prior, values, middles, 7)
    mean = share @ logs
    assert found.learned.mean == pytest.approx(mean, abs=2e-3)
    assert found.learned.sd == pytest.approx(np.sqrt(share @ (logs - mean) ** 2), rel=5e-3)
    middle = share @ np.exp(logs)
    assert found.sd == pytest.approx(np.sqrt(share @ (np.exp(logs) - middle) ** 2), rel=0.01)
    assert found.median == pytest.approx(np.exp(np.interp(0.5, np.cumsum(share), logs)), rel=2e-3)
    # What moves with the factor is a line from the lowest to the highest.
    assert found.with_lifts == pytest.approx(np.array([[0.2, 0.1], [-0.3, 0.0]]))
    assert found.with_rate == pytest.approx(0.4)
    assert (found.prior, found.sets) == (prior, 7)


@pytest.mark.parametrize("deep", [1.0, 0.2])
def test_a_cup_counts_as_the_straight_line_through_its_points(deep):
    """The line of least squares through three factors, by its normal equations."""
    prior, values = LogNormal(0.0, 0.3), deep * np.array([0.5, 0.0, 0.7])
    factors, logs, _ = by_hand(prior, values)
    off = factors - factors.mean()
    weights = np.exp(off @ values / (off @ off) * np.exp(logs)) * norm.pdf(logs, 0.0, 0.3)
    share = weights / weights.sum()
    found = CarryOver.weighed(prior, values, [np.zeros(3)] * 3, 1)
    assert found.learned.mean == pytest.approx(share @ logs, abs=1e-3)
    assert found.learned.sd == pytest.approx(np.sqrt(share @ logs**2 - (share @ logs) ** 2), rel=5e-3)


def used_of(*days):
    """Return a log of days of single sets in this order, as a fit uses it."""
    table = [rows([(name, 20.0, 5, "completed", 90.0) for name in day]) for day in days]
    dated = [one.assign(date=pd.Timestamp(DAY_0) + pd.Timedelta(days=n)) for n, one in enumerate(table)]
    return read_sets(pd.concat(dated, ignore_index=True))


@pytest.mark.parametrize(
    ("days", "tired"),
    [
        ([("lat pulldown", "dumbbell curl")], {"dumbbell curl"}),
        ([("dumbbell curl", "lat pulldown")], {"lat pulldown"}),
        ([("lat pulldown", "dumbbell curl", "lat pulldown")], {"lat pulldown", "dumbbell curl"}),
        # Not from day to day, from itself, or from what shares no muscle.
        ([("lat pulldown",), ("dumbbell curl",)], set()),
        ([("lat pulldown", "lat pulldown")], set()),
        ([("leg press", "dumbbell curl", "leg press")], set()),
        # One such day is enough, and something between makes no difference.
        ([("dumbbell curl",), ("lat pulldown", "leg press", "dumbbell curl"), ("leg press",)], {"dumbbell curl"}),
    ],
)
def test_who_follows_an_exercise_that_shares_a_muscle_on_the_same_day(days, tired):
    used = used_of(*days)
    found = dict(zip((lift.exercise for lift in used.lifts), shares_muscles(used), strict=True))
    assert {name for name, is_tired in found.items() if is_tired} == tired
    likeliest = [LIKELIEST[lift.exercise] for lift in used.lifts]
    given = given_by_others(used, likeliest, np.zeros(1), CARRY, DEFAULT_FORM, TIRING)
    assert {lift.exercise for lift, got in zip(used.lifts, given, strict=True) if got.any()} == tired


def test_evidence_that_bends_the_wrong_way_says_no_more_than_a_straight_line():
    """Three points by accident on a cup: a slope, but never a posterior wider than the prior."""
    found = CarryOver.weighed(LogNormal(0.0, 0.3), [0.5, 0.0, 0.7], [np.zeros(3)] * 3, 1)
    assert found.learned.sd < 0.31
    assert 0.0 < found.learned.mean < 0.1


def test_the_learned_factor_goes_into_the_file_and_into_the_draws(tmp_path):
    log = pulls_then_curls(1, carry_over=2.5)
    learned = fit_log(log, lifter(("lat pulldown", "dumbbell curl")))
    written = read_lifter(write_lifter(learned, tmp_path / "after.toml"))
    assert written.carry_over == pytest.approx(learned.carry_over.median, abs=0.006)  # two digits are written
    assert updated_lifter(learned).carry_over == written.carry_over
    names = ("lat pulldown", "dumbbell curl")
    size = {"weeks": 1, "sessions": 1, "sets": 1, "draws": 4000}
    before = draw_lifter(lifter(names), names, **size, rng=np.random.default_rng(1)).carry
    after = draw_lifter(written, names, **size, rng=np.random.default_rng(1)).carry
    assert np.median(before) == pytest.approx(1.0, abs=0.02)
    assert np.median(after) == pytest.approx(written.carry_over, rel=0.02)
    assert np.log(after).std() < np.log(before).std()
    drawn = learned.draws(4000, np.random.default_rng(2))
    assert np.median(drawn.carry_over) == pytest.approx(learned.carry_over.median, rel=0.02)
    # Who takes the curls for tired by the pulldowns takes them for more enduring: the two move together.
    assert np.corrcoef(np.log(drawn.carry_over), np.log(drawn.endurance[:, 1]))[0, 1] < -0.1


def test_draws_for_a_plan_carry_what_was_learned(demo_plan_and_lifter):
    plan, who = demo_plan_and_lifter
    learned = fit_log(pulls_then_curls(1, carry_over=2.5), who)
    drawn = learned_draws(learned, plan, draws=2000, seed=3)
    assert np.median(drawn.carry) == pytest.approx(learned.carry_over.median, rel=0.03)


@pytest.fixture(scope="module")
def demo_plan_and_lifter():
    from workbench.gym.equipment import read_room
    from workbench.prescription.block import Block
    from workbench.reference.sources import data_path
    from workbench.simulate.plan import make_plan

    who = lifter(("lat pulldown", "dumbbell curl"))
    slots = [{"exercise": name, "sets": [{"count": 2, "reps": 5, "percent": 70, "rest_s": 120}]} for name in who.lifts]
    content = {"name": "short", "weeks": 1, "sessions": [{"name": "day 1", "exercises": slots}]}
    room = read_room(data_path("demo") / "rooms" / "boathouse_hall.toml")
    return make_plan(validate(content, Block), who, room), who


def test_what_the_carry_over_may_be_widens_what_moves_with_it():
    """Factors 0.8 and 1.2, equally likely, have an sd of 0.2; what moves by half as much scatters by 0.1."""
    learned = Marginal(np.log([0.8, 1.2]), np.array([0.5, 0.5]))
    carry_over = CarryOver(LogNormal(0.0, 0.3), learned, 4, np.array([[0.5, -0.25], [0.0, 1.0]]), 0.1)
    fitted = SimpleNamespace(carry_over=carry_over)
    found = [[Learned._with_carry_over(fitted, exercise, column) for column in (0, 1)] for exercise in (0, 1)]
    np.testing.assert_allclose(found, [[0.1, 0.05], [0.0, 0.2]], atol=ROUNDING)
