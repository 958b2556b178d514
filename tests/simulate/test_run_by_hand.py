"""What a simulated block comes to, and which of it may be taken over, by hand; rules of the coach among other sets."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from tests.simulate.test_outcomes_one_by_one import DRAWS, SETS, WEEKS, told
from tests.simulate.test_plan import ROOM, WHO, block, group, slot
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import InputError
from workbench.reference.tempo import slow_rep_prior
from workbench.simulate import fused
from workbench.simulate.draws import LifterDraws, SeededDays, draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import (
    Outcome,
    SessionOutcome,
    _exercises_alike,
    changed,
    fresh_set,
    run_block,
    run_session,
    simulate,
)

RULE = {"end_after": 1}


def plan_of(*slots, **keys):
    return make_plan(block(*slots, **keys), WHO, ROOM)


# ---- what a block comes to -------------------------------------------------------------------------------------------


def test_a_block_is_what_its_sessions_are_together():
    names = list(SETS)
    by_session = [names[:2], names[3:5], names[5:]]
    outcome = Outcome(
        SimpleNamespace(sessions=("one", "two", "three")),
        tuple(SessionOutcome(tuple(SETS[name] for name in of_session)) for of_session in by_session),
    )
    made = np.array(
        [
            [[all(told(SETS[name], d, w)[2] for name in of) for w in range(WEEKS)] for d in range(DRAWS)]
            for of in by_session
        ]
    )
    assert np.array_equal(outcome.made_by_session, made)
    assert outcome.chance_by_session() == pytest.approx(made.sum(axis=1) / DRAWS, abs=1e-12)
    assert outcome.chance_by_week() == pytest.approx(made.all(axis=0).sum(axis=0) / DRAWS, abs=1e-12)
    every = [all(made[s, d, w] for s in range(3) for w in range(WEEKS)) for d in range(DRAWS)]
    assert outcome.chance_of_block() == pytest.approx(sum(every) / DRAWS, abs=1e-12)
    for draw in range(DRAWS):
        for week in range(WEEKS):
            missed = sum(told(SETS[name], draw, week)[3] for of in by_session for name in of)
            assert outcome.missed[draw, week] == missed
    assert list(outcome) == list(zip(("one", "two", "three"), outcome.sessions, strict=True))


def test_what_is_shown_of_an_outcome_holds_no_draws():
    outcome = run_block(block(slot("back squat", group(percent=70))), WHO, ROOM, SeededDays(10, 1))
    assert "log_one_rm" not in repr(outcome)
    assert "SeededDays" not in repr(outcome)
    for name in ("finished", "intervals"):
        assert name not in repr(outcome.sessions[0])


# ---- which draws fit, and what they meet -----------------------------------------------------------------------------


def test_draws_hold_the_exercises_and_at_least_the_sets_of_the_plan():
    plan, more = (plan_of(slot("back squat", group(percent=70, count=count))) for count in (2, 3))
    enough = simulate(plan, draw_for(plan, draws=8, seed=1)).sessions[0]
    plenty = simulate(plan, draw_for(more, draws=8, seed=1)).sessions[0]
    assert len(enough) == len(plenty) == 2
    with pytest.raises(ValueError, match="another plan"):
        simulate(more, draw_for(plan, draws=8, seed=1))
    other = plan_of(slot("leg press", group(percent=70, count=3)))
    with pytest.raises(ValueError, match="another plan"):
        simulate(plan, draw_for(other, draws=8, seed=1))


@pytest.mark.parametrize("slow_reps", [None, np.array([0.2, 0.5, 0.9])])
@pytest.mark.parametrize("slower", [0.0, math.log(2.0)])
def test_a_fresh_set_by_hand(slow_reps, slower):
    """Reps are 1 + headroom / k; reps twice as slow make k larger by 2 to the lifter's own power, or the usual one."""
    log_one_rm, k = (
        np.log([[90.0, 100.0], [95.0, 110.0], [99.0, 120.0]]),
        np.array([[0.05, 0.02], [0.06, 0.03], [0.07, 0.04]]),
    )
    draws = LifterDraws(
        ("a", "b"), log_one_rm, k, np.ones(3), None, None, np.zeros((1, 3, 2)), np.ones((1, 3, 2)), slow_reps=slow_reps
    )
    assert draws.curve is DEFAULT_CURVE
    day, load = np.array([[0.01, -0.02]] * 3), np.array([70.0, 80.0])
    headroom, reps = fresh_set(draws, 1, day, load, slower)
    for draw in range(3):
        power = slow_rep_prior().mean if slow_reps is None else slow_reps[draw]
        for week in range(2):
            spare = log_one_rm[draw, 1] + day[draw, week] - math.log(load[week])
            assert headroom[draw, week] == pytest.approx(spare, abs=1e-12)
            expected = 1 + spare / (k[draw, 1] * (2.0**power if slower else 1.0))
            assert reps[draw, week] == pytest.approx(expected, rel=1e-12)


def test_the_set_without_a_finite_number_of_reps_is_named():
    asked = block(slot("back squat", group(percent=70, count=2)), slot("leg press", group(percent=70, count=2)))
    plan = make_plan(asked, WHO, ROOM)
    draws = draw_for(plan, draws=20, seed=1)
    draws.log_one_rm[7, 1] = np.nan
    with pytest.raises(InputError, match="Monday, leg press, set 1: no number of reps can be told"):
        simulate(plan, draws)


# ---- one session, watched --------------------------------------------------------------------------------------------


def test_a_session_that_is_watched_is_the_same_and_shows_its_fatigue_after_every_set():
    friday = {
        "name": "Friday",
        "exercises": [slot("leg press", group(8, percent=75, count=2)), slot("back squat", group(5, percent=80))],
    }
    plan = plan_of(slot("back squat", group(5, percent=70, count=3)), sessions=[friday])
    draws = draw_for(plan, draws=12, seed=3)
    seen = []
    watched = run_session(plan, draws, 1, lambda index, shared: seen.append((index, sorted(shared.own(1e4)))))
    lanes = plan.exercises.index("back squat"), plan.exercises.index("leg press")
    assert seen == [(0, [lanes[1]]), (1, [lanes[1]]), (2, sorted(lanes))]
    for one, other in ((watched, run_session(plan, draws, 1)), (watched, simulate(plan, draws).sessions[1])):
        assert len(one) == len(other) == 3
        for a, b in zip(one, other, strict=True):
            assert a.available == pytest.approx(b.available, rel=1e-9, abs=1e-9)


# ---- rules of the coach among other sets -----------------------------------------------------------------------------


def test_a_rule_holds_for_its_group_and_no_other():
    """Of two exercises with two groups each, the last group has a rule; until it begins no digit moves."""
    first = slot("back squat", group(5, percent=75, count=2), group(6, percent=70))
    plain, ruled = (
        plan_of(first, slot("leg press", group(5, percent=75, count=2), group(8, percent=84, count=3, **rule)))
        for rule in ({}, {"adjust": RULE})
    )
    draws = draw_for(plain, draws=60, seed=2)
    without, sets = simulate(plain, draws).sessions[0], simulate(ruled, draws).sessions[0]
    for one, other in zip(without.sets[:5], sets.sets[:5], strict=True):
        assert (other.load_kg, other.done) == (None, None)
        assert other.available == pytest.approx(one.available, rel=1e-9, abs=1e-9)
    # The first miss ends the group: what was not made is followed by nothing, with no reps.
    going = np.ones((60, 3), dtype=bool)
    for one in sets.sets[5:]:
        assert np.array_equal(one.done, going)
        assert (one.available[~going] == 0.0).all()
        assert np.array_equal(one.load_kg, np.broadcast_to(one.planned.load_kg, (60, 3)))
        going = going & (one.available >= one.planned.reps_low)
    assert 0 < going.mean() < 1
    assert sets.planned is None


def test_what_a_rule_left_out_tires_nobody():
    """After a first set that was missed four are left out: of its fatigue is left what those minutes leave of it."""
    hard = {"percent": 100, "rest_s": 30, "seconds_per_rep": 0.5}
    ruled = plan_of(slot("back squat", group(6, count=5, adjust=RULE, **hard)), weeks=1)
    draws = draw_for(ruled, draws=80, seed=6)
    sets, seen = simulate(ruled, draws).sessions[0], {}
    first, last = sets[0].planned, sets[4].planned

    def watch(index, shared):
        seen[index] = [shared.own(at)[0] for at in (first.end_s + 4 * 30, last.end_s)]

    run_session(ruled, draws, 0, watch)
    ended = ~sets[1].done[:, 0]
    assert ended.all()
    for most, least, found in zip(*seen[0], seen[4][1], strict=True):
        assert (found <= most * (1 + 1e-9)).all()
        assert (found >= least * (1 - 1e-9)).all()


# ---- what need not be worked again -----------------------------------------------------------------------------------


def session_of(*sets):
    return SimpleNamespace(sets=sets)


def planned(lane, start=0.0):
    return SimpleNamespace(lane=lane, start_s=np.array([start, start + 1]))


A, A2, B, B2, C = planned(0), planned(0, 60.0), planned(1, 200.0), planned(1, 260.0), planned(2, 400.0)
SHARE_ALL = np.ones((3, 3))
#: The third exercise shares no muscle with the first.
APART = np.array([[1.0, 0.5, 0.0], [0.5, 1.0, 0.5], [0.0, 0.5, 1.0]])


@pytest.mark.parametrize(
    ("old", "new", "overlap", "alike"),
    [
        ((A, A2, B, B2, C), (A, A2, B, B2, C), SHARE_ALL, {0, 1, 2}),
        # The second set of the first is another: whatever shares its muscles comes out otherwise.
        ((A, A2, B, B2, C), (A, planned(0, 60.0), B, B2, C), SHARE_ALL, set()),
        ((A, A2, B, B2, C), (A, planned(0, 60.0), B, B2, C), np.eye(3), {1, 2}),
        # The third gets from the first what it gets through the second: nothing of its own, but of what it made of it.
        ((A, A2, C), (A, planned(0, 60.0), C), APART, {2}),
        ((A, A2, B, B2, C), (A, planned(0, 60.0), B, B2, C), APART, set()),
        ((A, A2, B, B2, C), (A, A2, planned(1, 200.0), B2, C), SHARE_ALL, {0}),
        ((A, A2, B, B2, C), (A, A2, B, planned(1, 260.0), C), SHARE_ALL, {0}),
        ((A, A2, B, B2, C), (A, A2, B, B2, planned(2, 400.0)), SHARE_ALL, {0, 1}),
        # From where the clock differs on, nothing is alike.
        ((A, B, C), (A, planned(1, 201.0), C), np.eye(3), {0}),
        ((A, B, C), (planned(0, 1.0), B, C), np.eye(3), set()),
        # Other sets, or another order.
        ((A, B, C), (A, B), SHARE_ALL, set()),
        ((A, B, C), (A, C, B), SHARE_ALL, set()),
        # An exercise whose sets do not follow one another has been left and come back to.
        ((A, B, A2, C), (A, B, A2, C), np.eye(3), {1, 2}),
        ((A, B, A2, C), (A, B, A2, C), SHARE_ALL, set()),
    ],
)
def test_which_exercises_come_to_what_they_came_to_before(old, new, overlap, alike):
    assert _exercises_alike(session_of(*old), session_of(*new), overlap) == alike


@pytest.mark.parametrize("by", ["a rule", "arrays"])
def test_what_was_not_worked_in_one_pass_is_worked_again_whole(monkeypatch, by):
    """Under a rule, or before the compiled sets were there, nothing of single exercises was kept."""
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    from workbench.simulate import fused_sets

    last = slot("lat pulldown", group(6, percent=70, count=2))
    first = plan_of(slot("back squat", group(6, percent=75, **({"adjust": RULE} if by == "a rule" else {}))), last)
    second = plan_of(slot("back squat", group(6, percent=77)), last)
    draws = draw_for(second, draws=30, seed=2)
    monkeypatch.setattr(fused, "_compiled", None)
    before = simulate(first, draws)
    monkeypatch.setattr(fused, "_compiled", fused_sets)
    after, scratch = simulate(second, draws, before=before), simulate(second, draws)
    for one, other in zip(after.sessions[0], scratch.sessions[0], strict=True):
        assert np.array_equal(one.available, other.available)


def test_a_session_that_is_added_or_left_out_at_the_end_changes_no_other():
    friday = {"name": "Friday", "exercises": [slot("back squat", group(6, percent=77))]}
    monday = slot("back squat", group(6, percent=75, count=2))
    short, long = plan_of(monday), plan_of(monday, sessions=[friday])
    draws = draw_for(long, draws=30, seed=2)
    one, two = simulate(short, draws), simulate(long, draws)
    assert simulate(long, draws, before=one).sessions[0] is one.sessions[0]
    assert simulate(short, draws, before=two).sessions == (two.sessions[0],)


def test_a_changed_block_goes_on_with_its_days():
    asked = block(slot("back squat", group(percent=70, count=2)))
    days = SeededDays(10, 1)
    outcome = run_block(asked, WHO, ROOM, days)
    again = changed(outcome, block(slot("back squat", group(percent=72, count=2))))
    assert (outcome.days, again.days, again.draws) == (days, days, days.of(again.plan))
    with pytest.raises(ValueError, match="on which days"):
        changed(simulate(outcome.plan, outcome.draws), asked)
